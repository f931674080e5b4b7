"""Rectangles to set out and where they lie: the plain values that every way of nesting works with."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tilegen.geometry import ROUNDING_MM


class Rectangle(NamedTuple):
    """So many rectangles of one size, mm."""

    name: str
    width: float
    height: float
    number: int


class Placed(NamedTuple):
    """One part on a sheet: which item, where its box's least corner lies, whether turned by 90 degrees.

    half: turned by a further 180 degrees, which only outlines that are not rectangles need.
    """

    item: int
    x: float
    y: float
    turned: bool
    half: bool = False


Layout = tuple[Placed, ...]
# For each item the ways it may lie: not turned, turned.
Turns = tuple[tuple[bool, ...], ...]
# In which order pieces are placed: an item's number and how many of it, again and again.
Order = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class SheetArea:
    """A sheet to set out on, mm.

    may_turn: parts may lie turned by 90 degrees (stock without grain). alike: all pieces of a part lie the same way.
    far: what stays free along the two edges that nothing is measured from; None: the margin there too.
    """

    width: float
    height: float
    margin: float
    spacing: float
    may_turn: bool = True
    alike: bool = False
    far: float | None = None

    @property
    def usable(self) -> tuple[float, float]:
        """What the margins leave."""
        margins = self.margin + (self.margin if self.far is None else self.far)
        return self.width - margins, self.height - margins

    def takes(self, width: float, height: float) -> bool:
        """Whether the margins leave room for a rectangle as it lies."""
        wide, high = self.usable
        return width <= wide + ROUNDING_MM and height <= high + ROUNDING_MM

    def ways(self, item: Rectangle) -> tuple[bool, ...]:
        """How an item may lie here; none if it is too large."""
        straight = self.takes(item.width, item.height)
        turned = self.may_turn and item.width != item.height and self.takes(item.height, item.width)
        return (*((False,) if straight else ()), *((True,) if turned else ()))


def area_bound(items: Sequence[Rectangle], area: SheetArea) -> int:
    """No fewer sheets than this, whatever the layout: each rectangle takes its spacing along."""
    width, height = (side + area.spacing for side in area.usable)
    needed = math.fsum((i.width + area.spacing) * (i.height + area.spacing) * i.number for i in items)
    return math.ceil(needed / (width * height) - ROUNDING_MM)


def area_left(items: Sequence[Rectangle], left: Sequence[int]) -> float:
    """Of the rectangles that found no place, mm2. left: how many of each."""
    return math.fsum(n * i.width * i.height for i, n in zip(items, left, strict=True))


def orders(items: Sequence[Rectangle]) -> list[Order]:
    """Orders in which packing rarely fails badly: the largest first, by one measure or another."""
    keys: tuple[Callable[[Rectangle], tuple[float, float]], ...] = (
        lambda i: (i.width * i.height, max(i.width, i.height)),
        lambda i: (max(i.width, i.height), min(i.width, i.height)),
        lambda i: (min(i.width, i.height), max(i.width, i.height)),
        lambda i: (i.width + i.height, i.width * i.height),
        lambda i: (i.height, i.width),
        lambda i: (i.width, i.height),
        lambda i: (abs(i.width - i.height), i.width * i.height),
        lambda i: (max(i.width, i.height) / min(i.width, i.height), i.width * i.height),
    )
    numbers = range(len(items))
    found = [tuple(sorted(numbers, key=lambda n: (*(-v for v in key(items[n])), n))) for key in keys]
    return [tuple((n, items[n].number) for n in order if items[n].number) for order in dict.fromkeys(found)]


def urgent_first(order: Order, left: Sequence[int]) -> Order:
    """The same pieces, those that found no place last time first."""
    first = tuple((n, count) for n, count in enumerate(left) if count)
    after, rest = [], list(left)
    for n, number in order:
        gone = min(number, rest[n])
        rest[n] -= gone
        if number > gone:
            after.append((n, number - gone))
    return (*first, *after)
