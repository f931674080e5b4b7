"""Setting out rectangles on sheets of one size: many ways are tried, the best is kept; the same every time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError, a_few
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import show_length, show_number
from tilegen.sheets.nesting.guillotine import (
    Fit,
    Leaf,
    Recipe,
    Rect,
    Size,
    Slab,
    Split,
    Tree,
    cuts,
    fill,
    finished,
    laid,
)
from tilegen.sheets.nesting.layout import (
    Layout,
    Order,
    Placed,
    Rectangle,
    SheetArea,
    Turns,
    area_bound,
    area_left,
    orders,
    urgent_first,
)
from tilegen.sheets.nesting.strips import in_strips

# Searches are bounded by pieces placed, not by time: so equal input gives equal sheets on any machine.
_PIECES_TRIED = 60_000
_ROUNDS = 12
# Sheets from which on it pays to look for layouts that repeat; a result within this of the area bound is good enough.
_REPEATED, _HOPELESS = 6, 1.05

FreeFit = Literal["short", "long", "area", "low"]
# Rows of least x, least y, greatest x, greatest y.
Boxes = npt.NDArray[np.float64]


class FreeRecipe(NamedTuple):
    """One way to fill sheets: the order of the items, how they may lie, and which free rectangle they take.

    short, long: where the shorter, longer rest beside the part is least; area: the smallest rectangle; low: where the
    part's top ends up lowest.
    """

    order: Order
    ways: Turns
    fit: FreeFit


@dataclass(frozen=True, slots=True)
class Nested:
    """Parts set out on sheets of one size, the fullest first. trees: where every cut runs edge to edge.

    left: how many of each item found no place on as many sheets as there may be.
    """

    layouts: tuple[Layout, ...]
    trees: tuple[Tree, ...]
    left: tuple[int, ...]
    rank: tuple[float, ...] = ()


def set_out(
    items: Sequence[Rectangle],
    area: SheetArea,
    most: int | None = None,
    *,
    edge_to_edge: bool = False,
    strips: bool = False,
) -> Nested:
    """As many of the rectangles as so many sheets take.

    Among layouts on equally many sheets those with the fewest different sheets win, then those with the largest
    remnant. edge_to_edge: every cut runs through, area.spacing is the kerf, and the fewest settings of a fence come
    before the remnant. strips: the fewest parts that need more than a strip and a cut across it come before all that.
    """
    packer = _Packer(items, area, most, edge_to_edge=edge_to_edge, strips=strips)
    if not packer.good_enough():
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

    def __init__(
        self, items: Sequence[Rectangle], area: SheetArea, most: int | None, *, edge_to_edge: bool, strips: bool
    ) -> None:
        self.items, self.area, self.most = items, area, most
        self.edge_to_edge, self.strips = edge_to_edge, strips
        self.pieces = sum(item.number for item in items)
        self.bound = area_bound(items, area)
        self.tried = 0
        self.best = Nested((), (), tuple(i.number for i in items), (float("inf"),))
        self.good: list[tuple[float, int, Recipe | FreeRecipe]] = []

    @property
    def _perfect(self) -> bool:
        return len(self.best.layouts) <= self.bound and not any(self.best.left)

    def good_enough(self) -> bool:
        """Lay everything in strips, of which many are the same; whether there is no more to be won.

        Where nobody marks strips this pays from a number of sheets on; a single sheet is soon filled.
        """
        if self.bound == 1 and self.strips:
            for recipe in self.recipes():
                if not isinstance(recipe, Recipe) or recipe.fit != "first":
                    break
                self.try_recipe(recipe)
                if self._perfect and self.best.rank[2] == 0:
                    return True
        if not self.strips and self.bound < _REPEATED:
            return False
        least = 0
        for trimmed in (False, True):
            found = in_strips(self.items, self.area, self.most, trimmed=trimmed)
            if found is not None:
                self._keep(Nested((), found.trees, found.left))
                least = found.least
            if self._perfect:
                return True
        # In strips fewer would not do, and the area of the parts leaves little hope of any other way.
        sheets = len(self.best.layouts)
        return self.strips and not any(self.best.left) and least == sheets <= _HOPELESS * self.bound

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

    def _fixed_ways(self) -> Iterator[Turns]:
        """Every item one way only: as it is, lying, standing; where it does not fit so, the way it fits."""
        seen = set()
        wishes: tuple[Callable[[Rectangle], bool], ...] = (
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
        strips = isinstance(recipe, Recipe) and recipe.fit == "first"
        return strips or (not self._perfect and self.tried < _PIECES_TRIED)

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

    def _fill(self, recipe: Recipe | FreeRecipe, most: int | None) -> Nested:
        if isinstance(recipe, FreeRecipe):
            layouts, left = _fill_freely(self.items, self.area, recipe, most)
            return Nested(tuple(layouts), (), tuple(left))
        trees, left = fill(self.items, self.area, recipe, most)
        return Nested((), tuple(trees), tuple(left))

    def _keep(self, outcome: Nested) -> None:
        """Keep it if it is better: all placed, fewer sheets, fewer different ones, fewer settings, a larger remnant."""
        sheets = max(len(outcome.trees), len(outcome.layouts))
        rough = (area_left(self.items, outcome.left), float(sheets))
        if rough > self.best.rank[:2]:
            return
        whole = self._ranked_trees(outcome, rough) if outcome.trees else self._ranked(outcome, rough)
        if not self.edge_to_edge:
            whole = replace(self._ranked(whole, rough), trees=())
        if whole.rank < self.best.rank:
            self.best = whole

    def _ranked_trees(self, outcome: Nested, rough: tuple[float, float]) -> Nested:
        region, kerf, margin = real_region(self.area), self.area.spacing, self.area.margin
        trees = [finished(tree, region, kerf, self._size) for tree in outcome.trees]
        everything = [list(laid(tree, Rect(margin, margin, *region), kerf)) for tree in trees]
        layouts = [tuple(p for p in on if isinstance(p, Placed)) for on in everything]
        order = self._fullest_first(layouts)
        made = [cut for tree in trees for cut in cuts(tree, region, kerf)]
        settings = {(cut.stage, round(cut.size, 6)) for cut in made}
        rests = [r.width * r.height for r in everything[order[-1]] if isinstance(r, Rect)] if order else []
        # What is no strip along the longer side, cut across, is more to mark.
        along = 1 if self.area.width >= self.area.height else 0
        upright = sum(isinstance(tree, Slab) and tree.axis != along for tree in trees)
        deep = float(self.strips and len(made) * upright + sum(cut.stage > 2 for cut in made))
        different = float(len({tuple(sorted(on)) for on in layouts}))
        rests_rank = (-max(rests, default=0.0), fsum(cut.length for cut in made))
        rank = (*rough, deep, different, float(len(settings)), *rests_rank)
        return Nested(tuple(layouts[n] for n in order), tuple(trees[n] for n in order), outcome.left, rank)

    def _ranked(self, outcome: Nested, rough: tuple[float, float]) -> Nested:
        order = self._fullest_first(outcome.layouts)
        layouts = tuple(outcome.layouts[n] for n in order)
        different = float(len({tuple(sorted(on)) for on in layouts}))
        remnant = -self._remnant(layouts[-1]) if layouts else 0.0
        return replace(outcome, layouts=layouts, rank=(*rough, different, remnant))

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


def real_region(area: SheetArea) -> Size:
    """What two reference cuts leave of a sheet: the far edges are still those of the factory."""
    return area.width - area.margin, area.height - area.margin


def check_layouts(items: Sequence[Rectangle], area: SheetArea, layouts: Sequence[Layout]) -> None:
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


def _check_sheet(items: Sequence[Rectangle], area: SheetArea, layout: Layout) -> None:
    low = np.array([(p.x, p.y) for p in layout])
    sizes = np.array([items[p.item][1:3][:: -1 if p.turned else 1] for p in layout])
    high = low + sizes
    tolerance = 1e-6
    if (low < area.margin - tolerance).any() or (high > area.margin + np.array(area.usable) + tolerance).any():
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


Stocked = Literal["sheet", "piece", "page"]
# What parts are set out on, in words, and what helps where it is too small.
_STOCKED: dict[Stocked, tuple[str, str]] = {
    "sheet": ("a sheet", "Use larger sheets, or a smaller tile"),
    "piece": ("a piece that the machine takes", "Use a machine with a larger work_area, or a smaller tile"),
    "page": ("a page", "Use larger paper, such as --print-on A3, or a smaller tile"),
}


def check_sizes(items: Sequence[Rectangle], areas: Sequence[SheetArea], what: Stocked = "sheet") -> None:
    """Each item fits one of the sheets at least. what: these are whole sheets, pieces of them, or pages of paper.

    Raises:
        InputError: names the first that does not.
    """
    largest = max(areas, key=lambda a: a.width * a.height)
    width, height = largest.usable
    words, cure = _STOCKED[what]
    for item in items:
        if item.number and not any(area.ways(item) for area in areas):
            raise InputError(
                f"part {item.name}, {show_number(item.width)} x {show_length(item.height)}, is larger than the "
                f"{show_number(max(width, 0))} x {show_length(max(height, 0))} that the margins leave of {words}",
                cure=cure,
            )


def left_over(items: Sequence[Rectangle], left: Sequence[int]) -> str:
    """What found no place, in words."""
    return a_few([f"{count} x {item.name}" for item, count in zip(items, left, strict=True) if count])


# Anywhere on a sheet, for machines that follow any line: greatest free rectangles


class _Filling:
    """The greatest free rectangles of one sheet: every free place lies in one of them."""

    def __init__(self, width: float, height: float, least: float) -> None:
        self.boxes: Boxes = np.array([[0.0, 0.0, width, height]])
        # Nothing wider or higher than this fits: a quick look before the long one.
        self.widest, self.highest = width, height
        self.placed: list[Placed] = []
        self.least = least

    def best(self, width: float, height: float, fit: FreeFit) -> tuple[float, float, int] | None:
        """The two scores and the number of the free rectangle that suits best; less is better."""
        if width > self.widest + ROUNDING_MM or height > self.highest + ROUNDING_MM:
            return None
        wide = self.boxes[:, 2] - self.boxes[:, 0] - width
        high = self.boxes[:, 3] - self.boxes[:, 1] - height
        fits = np.flatnonzero((wide >= -ROUNDING_MM) & (high >= -ROUNDING_MM))
        if not len(fits):
            return None
        first, second = _scores(self.boxes[fits], wide[fits], high[fits], height, fit)
        at = int(np.lexsort((second, first))[0])
        return float(first[at]), float(second[at]), int(fits[at])

    def take(self, x: float, y: float, width: float, height: float) -> None:
        """Cut a placed rectangle out of all free ones that it meets."""
        boxes = self.boxes
        right, top = x + width, y + height
        met = (
            (boxes[:, 0] < right - ROUNDING_MM)
            & (boxes[:, 2] > x + ROUNDING_MM)
            & (boxes[:, 1] < top - ROUNDING_MM)
            & (boxes[:, 3] > y + ROUNDING_MM)
        )
        hit = boxes[met]
        pieces = []
        for column, limit, keep in (
            (2, x, hit[:, 0] < x - ROUNDING_MM),
            (0, right, hit[:, 2] > right + ROUNDING_MM),
            (3, y, hit[:, 1] < y - ROUNDING_MM),
            (1, top, hit[:, 3] > top + ROUNDING_MM),
        ):
            piece = hit[keep].copy()
            piece[:, column] = limit
            pieces.append(piece)
        new = np.concatenate(pieces)
        # Slivers that nothing fits into only cost time.
        new = new[((new[:, 2:] - new[:, :2]) >= self.least - ROUNDING_MM).all(axis=1)]
        self.boxes = _greatest(boxes[~met], new)
        sides = self.boxes[:, 2:] - self.boxes[:, :2]
        self.widest, self.highest = sides.max(axis=0, initial=0.0).tolist()


def _scores(boxes: Boxes, wide: Boxes, high: Boxes, height: float, fit: FreeFit) -> tuple[Boxes, Boxes]:
    if fit == "short":
        return np.minimum(wide, high), np.maximum(wide, high)
    if fit == "long":
        return np.maximum(wide, high), np.minimum(wide, high)
    if fit == "area":
        area: Boxes = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
        return area, np.minimum(wide, high)
    return boxes[:, 1] + height, boxes[:, 0]


def _greatest(old: Boxes, new: Boxes) -> Boxes:
    """Old and new rectangles without those that lie inside another; the old ones are none of each other's."""
    everything = np.concatenate([old, new])
    if not len(new):
        return everything
    inside = (
        (new[:, None, 0] >= everything[None, :, 0] - ROUNDING_MM)
        & (new[:, None, 1] >= everything[None, :, 1] - ROUNDING_MM)
        & (new[:, None, 2] <= everything[None, :, 2] + ROUNDING_MM)
        & (new[:, None, 3] <= everything[None, :, 3] + ROUNDING_MM)
    )
    # Of two that are the same the first stays.
    rows = np.arange(len(new))
    same = inside[:, len(old) :] & inside[:, len(old) :].T
    inside[:, len(old) :] &= ~(same & (rows[None, :] >= rows[:, None]))
    return np.concatenate([old, new[~inside.any(axis=1)]])


def _fill_freely(
    items: Sequence[Rectangle], area: SheetArea, recipe: FreeRecipe, most: int | None
) -> tuple[list[Layout], list[int]]:
    """A layout for each sheet filled by a recipe, at most so many, and how many of each rectangle found no place.

    Each rectangle takes the spacing along at its right and top.
    """
    width, height = (side + area.spacing for side in area.usable)
    least = min((min(i.width, i.height) for i in items if i.number), default=0.0) + area.spacing
    sheets: list[_Filling] = []
    left = [0] * len(items)
    for index, number in recipe.order:
        item, ways = items[index], recipe.ways[index]
        sizes = [(turned, *((item.height, item.width) if turned else (item.width, item.height))) for turned in ways]
        # Nothing of this size fits there any more.
        full: set[int] = set()
        for placed in range(number):
            found = _find(sheets, full, sizes, area.spacing, recipe.fit)
            if found is None:
                if not ways or len(sheets) == most:
                    left[index] += number - placed
                    break
                sheets.append(_Filling(width, height, least))
                found = _find(sheets, full, sizes, area.spacing, recipe.fit)
            if found is None:
                raise ValueError("a part that fits no empty sheet")
            on, at, turned, w, h = found
            x, y = (float(v) for v in sheets[on].boxes[at, :2])
            sheets[on].take(x, y, w + area.spacing, h + area.spacing)
            sheets[on].placed.append(Placed(index, x + area.margin, y + area.margin, turned))
    return [tuple(sheet.placed) for sheet in sheets], left


def _find(
    sheets: Sequence[_Filling],
    full: set[int],
    sizes: Sequence[tuple[bool, float, float]],
    spacing: float,
    fit: FreeFit,
) -> tuple[int, int, bool, float, float] | None:
    """Sheet, free rectangle and way to lie that suit best, on the first sheet with room."""
    for number, sheet in enumerate(sheets):
        if number in full:
            continue
        scores = [(sheet.best(w + spacing, h + spacing, fit), turned, w, h) for turned, w, h in sizes]
        found = [(*score[:2], number, score[2], turned, w, h) for score, turned, w, h in scores if score is not None]
        if found:
            return min(found)[2:]
        full.add(number)
    return None
