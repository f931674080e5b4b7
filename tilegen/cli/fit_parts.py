"""What `tilegen fit` was asked and what it worked out."""

from __future__ import annotations

from dataclasses import dataclass

from tilegen.fit.figures import Figure
from tilegen.fit.finder import FoundGrid, TradeOff
from tilegen.fit.loops import Loop, Play, Rows
from tilegen.making.plan import OpenPlan


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
