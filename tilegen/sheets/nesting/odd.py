"""Parts that are not rectangles, packed in strips by a library if it is installed; rectangles beside and after them."""

from __future__ import annotations

import importlib.util
import json
import math
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import AnswerIsNo
from tilegen.geometry import EQUAL_MM, ROUNDING_MM, Points
from tilegen.messages import Message
from tilegen.sheets.nesting.layout import Layout, Placed, Rectangle, SheetArea
from tilegen.sheets.nesting.stocking import Blank, FilledSheet, Rules, nest_on_stock

SEED = 1
# Rounds of the library's search: to see what goes well together, and to fill a sheet; so many and so many more a part.
_QUICK, _THOROUGH, _MOST = (100, 1), (120, 6), 600
# Past this share a round may take minutes and little is won: the search stops, and no sheet is hoped to be fuller.
# A few parts are tried out in no time, so that more may be hoped for.
_DENSE, _DENSE_FEW, _FEW = 0.83, 0.87, 24
# The library reckons in single precision: what it calls touching may overlap by this much.
_SAFETY_MM = 0.01
# A part whose convex hull fills less of its box than this is worth more than its box.
_ODD_SHARE = 0.9
# First try to fill a sheet better than the whole strip was filled, by so much, then less well, step by step.
_MORE, _STEP = 0.05, 0.02
# The name of the strip that the odd parts leave free on their last sheet.
_REST = "rest of the sheet with odd parts"
WITHOUT = Message(
    "note",
    "Parts that are no rectangles take the room of the rectangle around them. To pack them closer, install spyrrow: "
    "pip install 'tilegen[nest]'",
)
# Packing by outlines takes minutes for more parts than this (measured on folded card).
MOST_PACKED = 150
TOO_MANY = Message(
    "note",
    f"Parts that are no rectangles take the room of the rectangle around them: to pack more than {MOST_PACKED} of them "
    "closer would take minutes.",
)


class OddShape(NamedTuple):
    """So many parts of one outline. outer: its (n, 2) corners, least corner at the origin, for each way it may lie.

    Ways are (turned by 90 degrees, by a further 180).
    """

    name: str
    outer: Callable[[bool, bool], Points]
    number: int


def can_nest_odd() -> bool:
    """Whether the library of the extra `nest` is there."""
    return importlib.util.find_spec("spyrrow") is not None


def is_odd(outline: Polygon) -> bool:
    """Whether a part is far from a rectangle even with its notches filled: a cave's floor, not a doorway's wall."""
    west, south, east, north = outline.bounds
    return bool(outline.convex_hull.area < _ODD_SHARE * (east - west) * (north - south))


def nest_beside(
    items: Sequence[Rectangle],
    shapes: Sequence[OddShape],
    odd: Sequence[int],
    blanks: Sequence[Blank],
    rules: Rules,
    *,
    spacing: float,
) -> tuple[FilledSheet, ...]:
    """Everything in strips, or odd outlines on sheets of their own if that takes fewer sheets in all.

    odd: numbers of the parts that are not rectangles. spacing: between outlines that lie free, mm.

    Raises:
        InputError: a part larger than any piece of stock.
        AnswerIsNo: there is not enough stock either way.
    """  # fmt: skip
    number = sum(items[n].number for n in odd)
    if not 0 < number <= MOST_PACKED or not can_nest_odd():
        return nest_on_stock(items, blanks, rules)
    free = replace(rules, spacing=spacing, edge_to_edge=False, strips=False, far=None)
    try:
        boxes = nest_on_stock(items, blanks, rules)
    except AnswerIsNo:
        boxes = None
    if boxes is not None and _stock_used(boxes) <= _least_stock(items, shapes, odd, blanks):
        return boxes
    apart = _closely(items, shapes, odd, blanks, rules, free=free)
    if boxes is None and apart is None:
        return nest_on_stock(items, blanks, rules)
    if boxes is None or (apart is not None and _stock_used(apart) < _stock_used(boxes)):
        return apart or ()
    return boxes


def _least_stock(
    items: Sequence[Rectangle], shapes: Sequence[OddShape], odd: Sequence[int], blanks: Sequence[Blank]
) -> float:
    """Less than this is no use to hope for, mm2: odd outlines as close as can be, and the others, on whole sheets."""
    usual = next(b for b in blanks if not b.name)
    sheet = usual.width * usual.height
    outlines = fsum(Polygon(shapes[n].outer(False, False)).area * shapes[n].number for n in odd)
    others = fsum(i.width * i.height * i.number for n, i in enumerate(items) if n not in odd)
    return sheet * (math.ceil(outlines / (_DENSE_FEW * sheet)) + math.ceil(others / sheet))


def nest_mixed(
    items: Sequence[Rectangle], shapes: Sequence[OddShape], odd: Sequence[int], blanks: Sequence[Blank], rules: Rules
) -> tuple[tuple[FilledSheet, ...], tuple[Message, ...]]:
    """The better of two ways: every part as its box, or odd outlines packed as they are; with notes.

    odd: numbers of the parts that are not rectangles. Fewer sheets win, then the shorter used length of the last.

    Raises:
        InputError: a part larger than any piece of stock.
        AnswerIsNo: there is not enough stock either way.
    """
    if not odd or not can_nest_odd():
        return nest_on_stock(items, blanks, rules), (WITHOUT,) if odd else ()
    if sum(items[number].number for number in odd) > MOST_PACKED:
        return nest_on_stock(items, blanks, rules), (TOO_MANY,)
    try:
        boxes = nest_on_stock(items, blanks, rules)
    except AnswerIsNo:
        closely = _closely(items, shapes, odd, blanks, rules)
        if closely is None:
            raise
        return closely, ()
    closely = _closely(items, shapes, odd, blanks, rules)
    if closely is not None and _used(closely, shapes, rules) < _used(boxes, shapes, rules):
        return closely, ()
    return boxes, ()


def _closely(
    items: Sequence[Rectangle],
    shapes: Sequence[OddShape],
    odd: Sequence[int],
    blanks: Sequence[Blank],
    rules: Rules,
    *,
    free: Rules | None = None,
) -> tuple[FilledSheet, ...] | None:
    """Parts by their outlines on sheets of the usual size, rectangles in what they leave; None: not enough stock.

    free: the rules for these sheets where they differ; then no rectangle lies on them.
    """  # fmt: skip
    usual = next(b for b in blanks if not b.name)
    area = (free or rules).area(usual)
    if any(not area.ways(items[n]) for n in odd):
        return None
    only = [s if n in odd else s._replace(number=0) for n, s in enumerate(shapes)]
    layouts, left = nest_odd(only, area, usual.count)
    if any(left):
        return None
    laid = [FilledSheet(usual, layout, None) for layout in layouts]
    others = [item._replace(number=0) if n in odd else item for n, item in enumerate(items)]
    if not any(item.number for item in others):
        return tuple(laid)
    # The strip between the last odd part and the far margin, as a piece of stock with margins of its own.
    start = used_length(shapes, layouts[-1], area) + rules.spacing
    rest = Blank(usual.width - start, usual.height, 1, 0.0, _REST)
    stock = [replace(b, count=b.count - len(laid)) if b is usual and b.count is not None else b for b in blanks]
    if free is None and min(rules.area(rest).usable) > ROUNDING_MM:
        stock.append(rest)
    try:
        after = nest_on_stock(others, stock, rules)
    except AnswerIsNo:
        return None
    beside = [on for on in after if on.blank.name == _REST]
    for on in beside:
        moved = tuple(p._replace(x=p.x + start) for p in on.layout)
        laid[-1] = laid[-1]._replace(layout=(*laid[-1].layout, *moved))
    return (*laid, *(on for on in after if on.blank.name != _REST))


def _used(laid: Sequence[FilledSheet], shapes: Sequence[OddShape], rules: Rules) -> tuple[float, float]:
    """New sheets by area, and how far the last is used."""
    return _stock_used(laid), used_length(shapes, laid[-1].layout, rules.area(laid[-1].blank)) if laid else 0.0


def _stock_used(laid: Sequence[FilledSheet]) -> float:
    """The area of all new sheets, mm2."""
    return fsum(on.blank.width * on.blank.height for on in laid if not on.blank.name)


def nest_odd(shapes: Sequence[OddShape], area: SheetArea, most: int | None = None) -> tuple[list[Layout], list[int]]:
    """Sheets of one size, filled from the left, and how many of each shape found no place.

    The same every time: bounded by rounds of the library's search, not by time.

    Raises:
        ValueError: a layout fails its check.
    """
    nester = _Nester(shapes, area)
    left = [shape.number for shape in shapes]
    sheets: list[Layout] = []
    while any(left) and (most is None or len(sheets) < most):
        layout = nester.sheet(left)
        if not layout:
            # The library finds no place for some specks, whatever the strip.
            break
        sheets.append(layout)
        for placed in layout:
            left[placed.item] -= 1
    check_odd(shapes, area, sheets)
    return sheets, left


@dataclass(frozen=True, slots=True)
class _Way:
    turned: bool
    half: bool
    degrees: float
    low: tuple[float, float]


class _Nester:
    def __init__(self, shapes: Sequence[OddShape], area: SheetArea) -> None:
        self.shapes, self.area = shapes, area
        self.width, self.height = area.usable
        self.areas = [Polygon(shape.outer(False, False)).area for shape in shapes]
        self.ways = [_ways(shape, area) for shape in shapes]

    def sheet(self, left: Sequence[int]) -> Layout:
        """One sheet with as much on it as is found."""
        last = fsum(a * n for a, n in zip(self.areas, left, strict=True)) < self.width * self.height
        whole = self._strip(left, _THOROUGH if last else _QUICK)
        if whole is None:
            return ()
        length, placed = whole
        if length <= self.width + EQUAL_MM:
            return tuple(placed)
        # What stands at the start of the strip goes well together: try to fill the sheet with it.
        ordered = sorted(placed, key=lambda p: (self._right(p), p.item, p.y))
        best = tuple(p for p in ordered if self._right(p) <= self.area.margin + self.width + EQUAL_MM)
        share = fsum(self.areas[p.item] for p in placed) / (length * self.height)
        before: list[int] = []
        aim = min(share + _MORE, _densest(len(placed) * self.width / length))
        while True:
            wanted = aim * self.width * self.height
            aim -= _STEP
            chosen = [0] * len(left)
            total = 0.0
            for p in ordered:
                if total + self.areas[p.item] <= wanted:
                    total += self.areas[p.item]
                    chosen[p.item] += 1
            if total <= fsum(self.areas[p.item] for p in best):
                return best
            if chosen == before:
                continue
            before = chosen
            tried = self._strip(chosen, _THOROUGH, self.width)
            if tried is not None and tried[0] <= self.width + EQUAL_MM:
                return tuple(tried[1])

    def _right(self, placed: Placed) -> float:
        return placed.x + float(self.shapes[placed.item].outer(placed.turned, placed.half)[:, 0].max())

    def _strip(
        self, numbers: Sequence[int], effort: tuple[int, int], enough: float = 0.0
    ) -> tuple[float, list[Placed]] | None:
        """Length used and places of so many of each shape on a strip as high as the sheet; enough: short enough."""
        items = [
            {
                "id": n,
                "shape": self.shapes[n].outer(False, False).tolist(),
                "demand": number,
                "turns": [way.degrees for way in self.ways[n]],
            }
            for n, number in enumerate(numbers)
            if number
        ]
        dense = fsum(a * n for a, n in zip(self.areas, numbers, strict=True)) / (self.height * _densest(sum(numbers)))
        # The library keeps the gap along the strip's edges too.
        gap = self.area.spacing + _SAFETY_MM
        job = {"height": self.height + 2 * gap - _SAFETY_MM, "items": items, "gap": gap, "seed": SEED}
        answer = _run(
            {
                **job,
                "rounds": min(effort[0] + effort[1] * sum(numbers), _MOST),
                "enough": max(enough, dense) + 2 * gap - _SAFETY_MM,
            }
        )
        if answer is None:
            return None
        placed = [self._placed(int(n), turn, x, y) for n, turn, x, y in answer["placed"]]
        moved = self._settled(placed)
        return max(self._right(p) for p in moved) - self.area.margin, moved

    def _placed(self, item: int, degrees: float, x: float, y: float) -> Placed:
        way = min(self.ways[item], key=lambda w: abs((w.degrees - degrees + 180) % 360 - 180))
        return Placed(item, x + way.low[0], y + way.low[1], way.turned, way.half)

    def _settled(self, placed: Sequence[Placed]) -> list[Placed]:
        """Moved into the sheet's corner, all by the same length."""
        low = min(p.x for p in placed), min(p.y for p in placed)
        return [p._replace(x=p.x - low[0] + self.area.margin, y=p.y - low[1] + self.area.margin) for p in placed]


def _densest(parts: float) -> float:
    """The share of a sheet at which the search stops."""
    return _DENSE_FEW if parts <= _FEW else _DENSE


def _ways(shape: OddShape, area: SheetArea) -> list[_Way]:
    """How a part may lie, as the library's angles, which turn to the left about the origin."""
    turns: tuple[int, ...] = (0, 180) if not area.may_turn else (0, 90, 180, 270)
    if area.alike:
        turns = (0,)
    plain = shape.outer(False, False)
    found = []
    for degrees in turns:
        cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[degrees // 90]
        rotated = plain @ np.array([[cos, sin], [-sin, cos]])
        low = rotated.min(axis=0)
        size = rotated.max(axis=0) - low
        if not area.takes(*size.tolist()):
            continue
        turned = degrees in (90, 270)
        half = min((False, True), key=lambda h: float(np.abs(shape.outer(turned, h) - (rotated - low)).max()))
        found.append(_Way(turned, half, float(degrees), (float(low[0]), float(low[1]))))
    return found


def _run(job: dict[str, Any]) -> dict[str, Any] | None:
    """The solver in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "tilegen.sheets.nesting.strip_solver"],
        input=json.dumps(job),
        capture_output=True,
        text=True,
        check=True,
    )
    answer: dict[str, Any] | None = json.loads(done.stdout)
    return answer


def placed_outlines(shapes: Sequence[OddShape], layout: Layout) -> Iterator[Polygon]:
    """The outlines as they lie."""
    for p in layout:
        yield Polygon(shapes[p.item].outer(p.turned, p.half) + np.array((p.x, p.y)))


def used_length(shapes: Sequence[OddShape], layout: Layout, area: SheetArea) -> float:
    """How far from the left margin a sheet is used, mm."""
    return max((p.bounds[2] for p in placed_outlines(shapes, layout)), default=area.margin) - area.margin


def check_odd(shapes: Sequence[OddShape], area: SheetArea, layouts: Sequence[Layout]) -> None:
    """Spacing, margins, ways to lie: looked at with a geometry library's eyes.

    Raises:
        ValueError: a layout is wrong; a fault of the program.
    """
    margin = area.margin - EQUAL_MM
    inside = box(margin, margin, area.width - margin, area.height - margin)
    for layout in layouts:
        outlines = list(placed_outlines(shapes, layout))
        if any(p.turned and not area.may_turn for p in layout):
            raise ValueError("a part turned on stock with a grain")
        if not all(inside.covers(outline) for outline in outlines):
            raise ValueError("an odd part over the margin")
        first, second = shapely.STRtree(outlines).query(
            outlines, predicate="dwithin", distance=max(area.spacing - EQUAL_MM, 0.0)
        )
        for a, b in zip(first.tolist(), second.tolist(), strict=True):
            # With no spacing parts may touch; then their overlap must be nothing.
            if a < b and (area.spacing > 0 or outlines[a].intersection(outlines[b]).area > EQUAL_MM):
                raise ValueError("two odd parts too near each other")
