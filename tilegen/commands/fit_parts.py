"""What `tilegen fit` was asked and what it worked out."""

from __future__ import annotations

from dataclasses import dataclass

from tilegen.fit.figures import Figure
from tilegen.fit.finder import FoundGrid, TradeOff
from tilegen.fit.loops import Loop, Play, Rows
from tilegen.making.plan import OpenPlan


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command's words ask for, lengths as text."""

    figures: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()
    largest_tile: str | None = None
    tile_error: str = "0.3 mm"
    reference: tuple[str, str] | None = None


@dataclass(frozen=True)
class OnPlan:
    """The numbers of a plan."""

    plan: OpenPlan
    figures: tuple[Figure, ...]
    rows: Rows
    loop: Loop | None
    play: Play


@dataclass(frozen=True)
class Search:
    """The grid that was looked for, and the trade-off round it."""

    found: FoundGrid
    rows: tuple[TradeOff, ...]
    wall: float
