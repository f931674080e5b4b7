"""Which stock to cut up: offcuts on hand first, the smallest that will do, then new sheets of the sizes there are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import NamedTuple

from tilegen.errors import AnswerIsNo
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import counted, rounded_down, show_length, show_number
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.sheets.nesting.guillotine import Tree
from tilegen.sheets.nesting.layout import Layout, Rectangle, SheetArea, area_left
from tilegen.sheets.nesting.rectangles import Stocked, check_sizes, left_over, set_out


@dataclass(frozen=True, slots=True)
class Blank:
    """A size of stock, mm; count: pieces on hand, None: as many as wanted; name: of an offcut, empty for sheets.

    sheet, pieces: if it is a piece of a sheet, that sheet's size and how many such pieces it gives.
    """

    width: float
    height: float
    count: int | None = None
    price: float | None = None
    name: str = ""
    sheet: tuple[float, float] | None = None
    pieces: int = 1

    @property
    def bought(self) -> tuple[float, float]:
        """The size of what is bought, mm."""
        return self.sheet or (self.width, self.height)


@dataclass(frozen=True, slots=True)
class Rules:
    """How parts may lie on any piece of stock; see SheetArea.

    edge_to_edge: spacing is the kerf, margin the trim. strips: each sheet is cut into strips first, then these across.
    page: the stock is pages for a printer.
    """

    margin: float
    spacing: float
    may_turn: bool = True
    alike: bool = False
    edge_to_edge: bool = False
    page: bool = False
    strips: bool = False
    far: float | None = None

    def area(self, blank: Blank) -> SheetArea:
        """A piece of stock to set out on."""
        return SheetArea(
            blank.width, blank.height, self.margin, self.spacing, self.may_turn, alike=self.alike, far=self.far
        )


class FilledSheet(NamedTuple):
    """One piece of stock with what lies on it. tree: how it is cut, where every cut runs edge to edge.

    copies: how many pieces are cut just like it.
    """

    blank: Blank
    layout: Layout
    tree: Tree | None
    name: str = ""
    copies: int = 1

    @property
    def size(self) -> tuple[float, float]:
        """Of the piece, mm."""
        return self.blank.width, self.blank.height


def each_once(filled: Sequence[FilledSheet]) -> list[FilledSheet]:
    """Sheets that are cut alike as one with a number of copies; an offcut stays by itself."""
    found: dict[tuple[object, ...], FilledSheet] = {}
    for on in filled:
        key = (on.blank, tuple(sorted(on.layout)))
        found[key] = found[key]._replace(copies=found[key].copies + on.copies) if key in found else on
    return list(found.values())


def blanks_of(material: MaterialFile, machine: MachineFile, sizes: Sequence[tuple[float, float]]) -> list[Blank]:
    """The stock a material's file lists: offcuts, then sheets; cut down to what the machine takes.

    sizes: of the boxes of the parts, mm: pieces are as large as these ask for, where the work area allows it.
    """
    offcuts = [Blank(*offcut.size, count=1, price=0.0, name=offcut.name) for offcut in material.offcut]
    whole = [*offcuts, *(Blank(*s.size, count=s.count, price=s.price) for s in material.sizes)]
    area = machine.work_area
    if area is None:
        return whole
    ways = [area] if material.grain else [area, area[::-1]]
    rules = Rules(machine.margin, 0.0, may_turn=not material.grain)
    return [_cut_down(blank, ways, [Rectangle("", *size, 1) for size in sizes], rules) for blank in whole]


def _cut_down(blank: Blank, ways: Sequence[tuple[float, float]], items: Sequence[Rectangle], rules: Rules) -> Blank:
    """A piece of stock as it is, or the equal pieces it is cut into so that each lies within one of the areas.

    Those win that hold the most parts, then those that leave the least over, then the fewest.
    """
    if any(blank.width <= width + ROUNDING_MM and blank.height <= height + ROUNDING_MM for width, height in ways):
        return blank
    found = [
        replace(blank, width=width, height=height, sheet=blank.bought, pieces=across * up)
        for most in ways
        for width, across in _shares(blank.width, most[0])
        for height, up in _shares(blank.height, most[1])
    ]

    def rank(piece: Blank) -> tuple[int, float, int]:
        area = rules.area(piece)
        return sum(not area.ways(item) for item in items), -piece.width * piece.height * piece.pieces, piece.pieces

    best = min(found, key=rank)
    return replace(
        best,
        count=None if blank.count is None else blank.count * best.pieces,
        price=None if blank.price is None else blank.price / best.pieces,
    )


def _shares(side: float, most: float) -> Iterator[tuple[float, int]]:
    """Ways to cut a side into lengths of at most so much, mm, and how many: equal ones, or full ones and a rest."""
    equal = math.ceil(side / most - ROUNDING_MM)
    yield side / equal, equal
    if side > most:
        yield most, int(side / most + ROUNDING_MM)


def cut_down_words(filled: Iterable[FilledSheet], machine: MachineFile) -> Iterator[str]:
    """Into which pieces sheets are cut first, so that the machine takes them; a sentence for each size of sheet."""
    for blank in dict.fromkeys(on.blank for on in filled if on.blank.sheet):
        most = _size_words(*machine.work_area or blank.bought)
        piece = _size_words(rounded_down(blank.width, 1), rounded_down(blank.height, 1))
        what = f"offcut {blank.name}" if blank.name else f"each sheet of {_size_words(*blank.bought)}"
        into = f"{counted(blank.pieces, 'piece')} of {piece}"
        yield f"The {machine.title} takes at most {most}: first cut {what} into {into}."


def _size_words(width: float, height: float) -> str:
    return f"{show_number(width)} x {show_length(height)}"


def nest_on_stock(items: Sequence[Rectangle], blanks: Sequence[Blank], rules: Rules) -> tuple[FilledSheet, ...]:
    """Every rectangle on a piece of stock.

    The cheapest sheets win: by their prices if all have one, else by their area.

    Raises:
        InputError: a rectangle is larger than what the margins leave of any piece.
        AnswerIsNo: there is not enough stock; the message names what is left over.
    """
    what: Stocked = "piece" if any(blank.sheet for blank in blanks) else "page" if rules.page else "sheet"
    check_sizes(items, [rules.area(blank) for blank in blanks], what)
    offcuts = sorted((b for b in blanks if b.name), key=lambda b: (b.width * b.height, b.name))
    sheets = [b for b in blanks if not b.name]
    plan = _Plan((), tuple(item.number for item in items))
    for offcut in offcuts:
        plan = _further(plan, items, offcut, rules)
    priced = all(b.price is not None for b in sheets)
    plans = [_with_last_cheaper(p, items, sheets, rules) for p in _plans(plan, items, sheets, rules)] or [plan]
    best = min(plans, key=lambda p: (area_left(items, p.left), fsum(_cost(on.blank, priced=priced) for on in p.laid)))
    if any(best.left):
        on_hand = ", ".join(f"{b.count // b.pieces} of {_size_words(*b.bought)}" for b in blanks if b.count is not None)
        raise AnswerIsNo(
            f"there is too little stock, {on_hand}: no room for {left_over(items, best.left)}. Get more, and "
            "change count in the material's file"
        )
    return best.laid


class _Plan(NamedTuple):
    laid: tuple[FilledSheet, ...]
    left: tuple[int, ...]


def _plans(start: _Plan, items: Sequence[Rectangle], sheets: Sequence[Blank], rules: Rules) -> Iterator[_Plan]:
    """One for each size of sheet to begin with; where it runs out, the others follow, the largest first."""
    for first in sheets:
        others = sorted((b for b in sheets if b is not first), key=lambda b: -b.width * b.height)
        plan = start
        for blank in (first, *others):
            plan = _further(plan, items, blank, rules)
        yield plan


def _further(plan: _Plan, items: Sequence[Rectangle], blank: Blank, rules: Rules) -> _Plan:
    """A plan with as much as possible of what is left set out on one size."""
    if not any(plan.left) or blank.count == 0:
        return plan
    wanted = [item._replace(number=number) for item, number in zip(items, plan.left, strict=True)]
    area = rules.area(blank)
    if not any(item.number and area.ways(item) for item in wanted):
        return plan
    outcome = set_out(wanted, area, blank.count, edge_to_edge=rules.edge_to_edge, strips=rules.strips)
    trees: Sequence[Tree | None] = outcome.trees or [None] * len(outcome.layouts)
    laid = tuple(FilledSheet(blank, *on) for on in zip(outcome.layouts, trees, strict=True))
    return _Plan((*plan.laid, *laid), outcome.left)


def _with_last_cheaper(plan: _Plan, items: Sequence[Rectangle], sheets: Sequence[Blank], rules: Rules) -> _Plan:
    """The plan with the parts of its last sheet on a cheaper one, if one takes them all."""
    if not plan.laid or plan.laid[-1].blank.name or len(sheets) < 2:
        return plan
    priced = all(b.price is not None for b in sheets)
    *before, last = plan.laid
    numbers = [sum(p.item == n for p in last.layout) for n in range(len(items))]
    alone = _Plan((), tuple(numbers))
    for blank in sorted(sheets, key=lambda b: _cost(b, priced=priced)):
        used = sum(on.blank == blank for on in before)
        if _cost(blank, priced=priced) >= _cost(last.blank, priced=priced):
            return plan
        if blank.count is None or used < blank.count:
            tried = _further(alone, items, replace(blank, count=1), rules)
            if not any(tried.left):
                return _Plan((*before, tried.laid[0]._replace(blank=blank)), plan.left)
    return plan


def _cost(blank: Blank, *, priced: bool) -> float:
    if blank.name:
        return 0.0
    return blank.price or 0.0 if priced else blank.bought[0] * blank.bought[1] / blank.pieces
