"""Setting out rectangles on sheets of one size: many ways are tried, the best is kept; the same every time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import NamedTuple

import numpy as np

from tilegen.errors import AnswerIsNo, InputError
from tilegen.sheets.cuttree import Leaf, Rect, Size, Tree, cuts, finished, laid
from tilegen.sheets.free import Fit as FreeFit
from tilegen.sheets.free import FreeRecipe, fill_freely
from tilegen.sheets.guillotine import Fit, Recipe, Split, fill
from tilegen.sheets.rects import Area, Item, Layout, Placement, Ways, area_bound, orders, urgent_first

__all__ = ["Area", "Item", "Layout", "Outcome", "Placement", "Setting", "check_layouts", "nest", "set_out"]

# Searches are bounded by pieces placed, not by time: so equal input gives equal sheets on any machine.
_PIECES_TRIED = 60_000
_ROUNDS = 12


class Setting(NamedTuple):
    """What a fence or a ruler is set to: the stage of the cut (rips 1, cross-cuts 2, ...) and the size it makes."""

    stage: int
    size: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """Parts set out on sheets of one size, the fullest first. trees: where every cut runs edge to edge.

    left: how many of each item found no place on as many sheets as there may be.
    """

    layouts: tuple[Layout, ...]
    trees: tuple[Tree, ...]
    left: tuple[int, ...]
    rank: tuple[float, ...] = ()


def nest(
    items: Sequence[Item], area: Area, on_hand: int | None = None, *, edge_to_edge: bool = False
) -> tuple[Layout, ...]:
    """Every rectangle on a sheet, inside the margins and at least the spacing apart.

    Raises:
        InputError: a rectangle is larger than what a sheet's margins leave.
        AnswerIsNo: more sheets are needed than are on hand; says what is left over.
    """
    check_sizes(items, [area])
    outcome = set_out(items, area, on_hand, edge_to_edge=edge_to_edge)
    if any(outcome.left):
        raise AnswerIsNo(
            f"more sheets of {area.width:g} x {area.height:g} mm are needed than the {on_hand} on hand; "
            f"left over: {left_over(items, outcome.left)}"
        )
    return outcome.layouts


def set_out(items: Sequence[Item], area: Area, most: int | None = None, *, edge_to_edge: bool = False) -> Outcome:
    """As many of the rectangles as so many sheets take.

    edge_to_edge: every cut runs through, area.spacing is the kerf, and the fewest fence settings win among layouts of
    equally many sheets; else the largest remnant wins.
    """
    packer = _Packer(items, area, most, edge_to_edge=edge_to_edge)
    for recipe in packer.recipes():
        if not packer.try_recipe(recipe):
            break
    if most is None or packer.bound <= most:
        packer.fewer_sheets()
    outcome = packer.best
    placed = [i._replace(number=i.number - left) for i, left in zip(items, outcome.left, strict=True)]
    check_layouts(placed, area, outcome.layouts)
    return outcome


class _Packer:
    """Tries recipes and keeps the best outcome."""

    def __init__(self, items: Sequence[Item], area: Area, most: int | None, *, edge_to_edge: bool) -> None:
        self.items, self.area, self.most, self.edge_to_edge = items, area, most, edge_to_edge
        self.pieces = sum(item.number for item in items)
        self.bound = area_bound(items, area)
        self.tried = 0
        self.best = Outcome((), (), tuple(i.number for i in items), (float("inf"),))
        self.good: list[tuple[float, int, Recipe | FreeRecipe]] = []

    def recipes(self) -> Iterator[Recipe | FreeRecipe]:
        """Those that need few fence settings first, then those that fill sheets best."""
        found = orders(self.items)
        fixed = list(self._fixed_ways())
        ways = fixed if self.area.alike else [*fixed, tuple(self.area.ways(item) for item in self.items)]
        for way in ways:
            for order in found[:6]:
                yield Recipe(order, way, "first", "rows")
                yield Recipe(order, way, "first", "columns")
        splits: tuple[Split, ...] = ("short", "less", "long", "more", "rows", "columns")
        close: tuple[Fit, ...] = ("short", "area", "long")
        anywhere: tuple[FreeFit, ...] = ("short", "low", "long", "area")
        for way in reversed(ways):
            for order in found:
                yield from (Recipe(order, way, fit, split) for split in splits for fit in close)
                if not self.edge_to_edge:
                    yield from (FreeRecipe(order, way, fit) for fit in anywhere)

    def _fixed_ways(self) -> Iterator[Ways]:
        """Every item one way only: as it is, lying, standing; where it does not fit so, the way it fits."""
        seen = set()
        wishes: tuple[Callable[[Item], bool], ...] = (
            lambda _: False,
            lambda item: item.height > item.width,
            lambda item: item.width > item.height,
        )
        for wish in wishes:
            ways: list[tuple[bool, ...]] = []
            for item in self.items:
                fitting = self.area.ways(item)
                ways.append((wish(item),) if wish(item) in fitting else fitting[:1])
            if tuple(ways) not in seen:
                seen.add(tuple(ways))
                yield tuple(ways)

    def try_recipe(self, recipe: Recipe | FreeRecipe) -> bool:
        """Fill by a recipe; False: there is no more to be won, or enough was tried."""
        outcome = self._fill(recipe, self.most)
        self.good.append((sum(outcome.left), max(len(outcome.trees), len(outcome.layouts)), recipe))
        self._keep(outcome)
        self.tried += self._cost(recipe)
        perfect = len(self.best.layouts) <= self.bound and not any(self.best.left)
        strips = isinstance(recipe, Recipe) and recipe.fit == "first"
        return strips or (not perfect and self.tried < _PIECES_TRIED)

    def _cost(self, recipe: Recipe | FreeRecipe) -> int:
        """Pieces placed, and more where each costs more."""
        return self.pieces * (3 if isinstance(recipe, FreeRecipe) else 1)

    def fewer_sheets(self) -> None:
        """Try to do with a sheet less: the pieces that found no place come first in the next round."""
        self.good.sort(key=lambda g: g[:2])
        limit = 2 * _PIECES_TRIED
        while len(self.best.layouts) > self.bound or any(self.best.left):
            before = self.best
            target = len(self.best.layouts) - (0 if any(self.best.left) else 1)
            for *_, recipe in self.good[:8]:
                tried: Recipe | FreeRecipe = recipe
                for _ in range(_ROUNDS):
                    if self.tried > limit:
                        return
                    self.tried += self._cost(tried)
                    outcome = self._fill(tried, target)
                    self._keep(outcome)
                    if not any(outcome.left):
                        break
                    tried = tried._replace(order=urgent_first(tried.order, outcome.left))
                if self.best is not before and not any(self.best.left):
                    break
            if self.best is before or any(self.best.left):
                return

    def _fill(self, recipe: Recipe | FreeRecipe, most: int | None) -> Outcome:
        if isinstance(recipe, FreeRecipe):
            freely = fill_freely(self.items, self.area, recipe, most)
            return Outcome(tuple(freely.layouts), (), tuple(freely.left))
        filled = fill(self.items, self.area, recipe, most)
        return Outcome((), tuple(filled.trees), tuple(filled.left))

    def _keep(self, outcome: Outcome) -> None:
        """Keep it if it is better: all placed, fewer sheets, fewer settings, a larger remnant, less to cut."""
        sheets = max(len(outcome.trees), len(outcome.layouts))
        rough = (float(self._missing(outcome.left)), float(sheets))
        if rough > self.best.rank[:2]:
            return
        whole = self._ranked_trees(outcome, rough) if outcome.trees else self._ranked(outcome, rough)
        if not self.edge_to_edge:
            whole = replace(self._ranked(whole, rough), trees=())
        if whole.rank < self.best.rank:
            self.best = whole

    def _missing(self, left: Sequence[int]) -> float:
        return fsum(n * i.width * i.height for i, n in zip(self.items, left, strict=True))

    def _ranked_trees(self, outcome: Outcome, rough: tuple[float, float]) -> Outcome:
        region, kerf, margin = real_region(self.area), self.area.spacing, self.area.margin
        trees = [finished(tree, region, kerf, self._size) for tree in outcome.trees]
        everything = [list(laid(tree, Rect(margin, margin, *region), kerf)) for tree in trees]
        layouts = [tuple(p for p in on if isinstance(p, Placement)) for on in everything]
        order = self._fullest_first(layouts)
        made = [cut for tree in trees for cut in cuts(tree, region, kerf)]
        settings = {(cut.stage, round(cut.size, 6)) for cut in made}
        rests = [r.width * r.height for r in everything[order[-1]] if isinstance(r, Rect)] if order else []
        rank = (*rough, float(len(settings)), -max(rests, default=0.0), fsum(cut.length for cut in made))
        return Outcome(tuple(layouts[n] for n in order), tuple(trees[n] for n in order), outcome.left, rank)

    def _ranked(self, outcome: Outcome, rough: tuple[float, float]) -> Outcome:
        order = self._fullest_first(outcome.layouts)
        layouts = tuple(outcome.layouts[n] for n in order)
        return replace(outcome, layouts=layouts, rank=(*rough, -self._remnant(layouts[-1]) if layouts else 0.0))

    def _remnant(self, layout: Layout) -> float:
        """The larger of the two strips that lie free at one end of a sheet, mm2."""
        sizes = [self._size(Leaf(p.item, p.turned)) for p in layout]
        right = max(p.x + size[0] for p, size in zip(layout, sizes, strict=True))
        top = max(p.y + size[1] for p, size in zip(layout, sizes, strict=True))
        return max((self.area.width - right) * self.area.height, (self.area.height - top) * self.area.width)

    def _fullest_first(self, layouts: Sequence[Layout]) -> list[int]:
        used = [fsum(self.items[p.item].width * self.items[p.item].height for p in on) for on in layouts]
        return sorted(range(len(layouts)), key=lambda n: (-used[n], n))

    def _size(self, leaf: Leaf) -> Size:
        item = self.items[leaf.item]
        return (item.height, item.width) if leaf.turned else (item.width, item.height)


def real_region(area: Area) -> Size:
    """What two reference cuts leave of a sheet: the far edges are still those of the factory."""
    return area.width - area.margin, area.height - area.margin


def check_layouts(items: Sequence[Item], area: Area, layouts: Sequence[Layout]) -> None:
    """Look at a finished layout with other eyes: all there once, inside the margins, the spacing kept.

    Raises:
        ValueError: it is not so; a fault of the program.
    """
    counts = [0] * len(items)
    ways: dict[int, bool] = {}
    for layout in layouts:
        for placed in layout:
            counts[placed.item] += 1
            if placed.turned and not area.may_turn:
                raise ValueError(f"part {items[placed.item].name} turned on stock with a grain")
            if ways.setdefault(placed.item, placed.turned) != placed.turned and area.alike:
                raise ValueError(f"part {items[placed.item].name} lies two ways")
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


def check_sizes(items: Sequence[Item], areas: Sequence[Area]) -> None:
    """Each item fits one of the sheets at least.

    Raises:
        InputError: names the first that does not.
    """
    largest = max(areas, key=lambda a: a.width * a.height)
    width, height = largest.usable
    for item in items:
        if item.number and not any(area.ways(item) for area in areas):
            raise InputError(
                f"part {item.name} of {item.width:.2f} x {item.height:.2f} mm",
                expected=f"at most {max(width, 0):.2f} x {max(height, 0):.2f} mm, what the margins leave of a sheet of "
                f"{largest.width:g} x {largest.height:g}",
                cure="use larger sheets, or a smaller tile",
            )


def left_over(items: Sequence[Item], left: Sequence[int]) -> str:
    """What found no place, in words."""
    return ", ".join(f"{count} x {item.name}" for item, count in zip(items, left, strict=True) if count)
