"""Setting out rectangles on sheets: strips across the sheet, then cross-cuts, as a straight-edge can cut them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tilegen.errors import AnswerIsNo, InputError

_EPS = 1e-9


class Item(NamedTuple):
    """So many rectangles of one size, mm, the kerf allowed for."""

    name: str
    width: float
    height: float
    number: int


class Placement(NamedTuple):
    """One rectangle on a sheet: which item, where its least corner lies, whether turned by 90 degrees."""

    item: int
    x: float
    y: float
    turned: bool


Layout = tuple[Placement, ...]


@dataclass(frozen=True, slots=True)
class Area:
    """A sheet to set out on, mm. may_turn: parts may lie turned by 90 degrees (stock without grain)."""

    width: float
    height: float
    margin: float
    spacing: float
    may_turn: bool = True

    @property
    def usable(self) -> tuple[float, float]:
        """What the margins leave."""
        return self.width - 2 * self.margin, self.height - 2 * self.margin


class _Kind(NamedTuple):
    """An item as it lies: turned or not, its sides along and across the strip."""

    item: int
    turned: bool
    width: float
    height: float


class _Run(NamedTuple):
    """Alike rectangles side by side in a strip, `high` of them on top of each other; u along the strip, v across it."""

    sheet: int
    kind: _Kind
    u: float
    v: float
    high: int
    number: int


@dataclass(slots=True)
class _Strip:
    sheet: int
    v: float
    height: float
    u: float = 0.0


def nest(items: Sequence[Item], area: Area, on_hand: int | None = None) -> tuple[Layout, ...]:
    """Every rectangle on a sheet, inside the margins and at least the spacing apart; the same every time.

    Raises:
        InputError: a rectangle is larger than what a sheet's margins leave.
        AnswerIsNo: more sheets are needed than are on hand; says what is left over.
    """
    _check_sizes(items, area)
    runs = _best(items, area)
    layouts = _expanded(runs, area, crosswise=runs.crosswise)
    check_layouts(items, area, layouts)
    if on_hand is not None and len(layouts) > on_hand:
        raise AnswerIsNo(
            f"{len(layouts)} sheets of {area.width:g} x {area.height:g} mm needed, {on_hand} on hand; "
            f"left over: {_left_over(items, layouts[on_hand:])}"
        )
    return layouts


class _Runs(NamedTuple):
    rank: tuple[float, ...]
    crosswise: bool
    runs: list[_Run]


def _best(items: Sequence[Item], area: Area) -> _Runs:
    """The best of a few ways to lay the parts and the strips, then of turning one kind of part at a time."""
    choices = [[False] * len(items)]
    if area.may_turn:
        choices += [[i.height > i.width for i in items], [i.width > i.height for i in items]]
    best = min((_filled(items, area, turns, cross) for turns in choices for cross in (False, True)), key=_rank)
    if not area.may_turn:
        return best
    turns = [False] * len(items)
    for run in best.runs:
        turns[run.kind.item] = run.kind.turned
    for index in range(len(items)):
        if best.rank[0] <= _area_bound(items, area) and len(items) > 12:
            break
        turns[index] = not turns[index]
        tried = _filled(items, area, turns, best.crosswise)
        if tried.rank < best.rank:
            best = tried
        else:
            turns[index] = not turns[index]
    return best


def _rank(runs: _Runs) -> tuple[float, ...]:
    return runs.rank


def _area_bound(items: Sequence[Item], area: Area) -> int:
    """No fewer sheets than this, whatever the layout: each rectangle takes its spacing along."""
    width, height = (side + area.spacing for side in area.usable)
    needed = sum((i.width + area.spacing) * (i.height + area.spacing) * i.number for i in items)
    return math.ceil(needed / (width * height) - _EPS)


def _filled(items: Sequence[Item], area: Area, turns: Sequence[bool], crosswise: bool) -> _Runs:
    """Strips filled with the tallest first; crosswise: the strips run up the sheet instead of across it."""
    along, across = area.usable[::-1] if crosswise else area.usable
    sized = []
    for index, item in enumerate(items):
        width, height = (item.width, item.height) if turns[index] == crosswise else (item.height, item.width)
        turned = turns[index]
        if width > along + _EPS or height > across + _EPS:
            if not area.may_turn:
                return _Runs((math.inf,), crosswise, [])
            width, height, turned = height, width, not turned
            if width > along + _EPS or height > across + _EPS:
                return _Runs((math.inf,), crosswise, [])
        sized.append((-height, -width, index, turned, item.number))
    filler = _Filler(along, across, area.spacing)
    for negative_height, negative_width, index, turned, count in sorted(sized):
        filler.add(_Kind(index, turned, -negative_width, -negative_height), count)
    return _Runs((*filler.rank, float(crosswise)), crosswise, filler.runs)


class _Filler:
    """Fills strips on one sheet after another."""

    def __init__(self, along: float, across: float, spacing: float) -> None:
        self.along, self.across, self.spacing = along, across, spacing
        self.strips: list[_Strip] = []
        self.tops: list[float] = []
        self.runs: list[_Run] = []

    @property
    def rank(self) -> tuple[float, float, float]:
        """Sheets; how far the last one is used; strips."""
        return len(self.tops), self.tops[-1] if self.tops else 0.0, len(self.strips)

    def add(self, kind: _Kind, left: int) -> None:
        for strip in self.strips:
            if strip.height + _EPS >= kind.height and strip.u + kind.width <= self.along + _EPS:
                left -= self._put(strip, kind, left)
                if left == 0:
                    return
        while left:
            left -= self._put(self._new_strip(kind.height), kind, left)

    def _put(self, strip: _Strip, kind: _Kind, left: int) -> int:
        """As many as the strip takes, at most what is left; how many that is."""
        high = int((strip.height + self.spacing + _EPS) // (kind.height + self.spacing))
        columns = int((self.along - strip.u + self.spacing + _EPS) // (kind.width + self.spacing))
        placed = min(left, columns * high)
        self.runs.append(_Run(strip.sheet, kind, strip.u, strip.v, high, placed))
        strip.u += math.ceil(placed / high) * (kind.width + self.spacing)
        return placed

    def _new_strip(self, height: float) -> _Strip:
        sheet = next((n for n, top in enumerate(self.tops) if top + height <= self.across + _EPS), len(self.tops))
        if sheet == len(self.tops):
            self.tops.append(0.0)
        strip = _Strip(sheet, self.tops[sheet], height)
        self.tops[sheet] += height + self.spacing
        self.strips.append(strip)
        return strip


def _expanded(runs: _Runs, area: Area, *, crosswise: bool) -> tuple[Layout, ...]:
    sheets: list[list[Placement]] = [[] for _ in range(1 + max((run.sheet for run in runs.runs), default=-1))]
    for run in runs.runs:
        for number in range(run.number):
            column, row = divmod(number, run.high)
            u = area.margin + run.u + column * (run.kind.width + area.spacing)
            v = area.margin + run.v + row * (run.kind.height + area.spacing)
            sheets[run.sheet].append(Placement(run.kind.item, *((v, u) if crosswise else (u, v)), run.kind.turned))
    return tuple(tuple(placed) for placed in sheets)


def check_layouts(items: Sequence[Item], area: Area, layouts: Sequence[Layout]) -> None:
    """Look at a finished layout with other eyes: all there once, inside the margins, the spacing kept.

    Raises:
        ValueError: it is not so; a fault of the program.
    """
    counts = [0] * len(items)
    for layout in layouts:
        for placed in layout:
            counts[placed.item] += 1
            if placed.turned and not area.may_turn:
                raise ValueError(f"part {items[placed.item].name} turned on stock with a grain")
        _check_sheet(items, area, layout)
    if counts != [item.number for item in items]:
        raise ValueError("parts lost or doubled in nesting")


def _check_sheet(items: Sequence[Item], area: Area, layout: Layout) -> None:
    low = np.array([(p.x, p.y) for p in layout])
    sizes = np.array([items[p.item][1:3][:: -1 if p.turned else 1] for p in layout])
    high = low + sizes
    tolerance = 1e-6
    if (low < area.margin - tolerance).any() or (
        high > np.array([area.width, area.height]) - area.margin + tolerance
    ).any():
        raise ValueError("a part over the margin")
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    for index in range(len(low) - 1):
        # Only parts that start before this one ends can be near it.
        until = int(np.searchsorted(low[:, 0], high[index, 0] + area.spacing - tolerance))
        near = slice(index + 1, until)
        gaps = np.maximum(low[near, 1] - high[index, 1], low[index, 1] - high[near, 1])
        if (gaps < area.spacing - tolerance).any():
            raise ValueError("two parts too near each other")


def _check_sizes(items: Sequence[Item], area: Area) -> None:
    width, height = area.usable
    for item in items:
        fits = item.width <= width + _EPS and item.height <= height + _EPS
        fits_turned = area.may_turn and item.height <= width + _EPS and item.width <= height + _EPS
        if not (fits or fits_turned):
            raise InputError(
                f"part {item.name} of {item.width:.2f} x {item.height:.2f} mm",
                expected=f"at most {max(width, 0):.2f} x {max(height, 0):.2f} mm, what the margins leave of a sheet of "
                f"{area.width:g} x {area.height:g}",
                cure="use larger sheets, or a smaller tile",
            )


def _left_over(items: Sequence[Item], layouts: Sequence[Layout]) -> str:
    counts: dict[int, int] = {}
    for layout in layouts:
        for placed in layout:
            counts[placed.item] = counts.get(placed.item, 0) + 1
    return ", ".join(f"{count} x {items[index].name}" for index, count in sorted(counts.items()))
