"""Rectangles set out so that every cut can run from edge to edge, and the cuts as a tree.

A rectangle is cut into slices from one edge on, each slice is cut the other way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import fsum
from typing import Literal, NamedTuple

import numpy as np

from tilegen.geometry import EQUAL_MM, ROUNDING_MM
from tilegen.sheets.nesting.layout import Order, Placed, Rectangle, SheetArea, Turns


class Leaf(NamedTuple):
    """A part: which item, whether turned by 90 degrees; it fills its rectangle."""

    item: int
    turned: bool


class Slice(NamedTuple):
    """What lies between the reference edge and one cut; size: at a right angle to the cut, mm."""

    size: float
    content: Slab | Leaf


class Slab(NamedTuple):
    """A rectangle cut edge to edge, a slice at a time; axis 0: sizes run along x and cuts along y, 1: the other way.

    rest: how what is left behind the last cut is used; None: an offcut or waste.
    """

    axis: int
    slices: tuple[Slice, ...]
    rest: Slab | Leaf | None = None


Tree = Slab | Leaf
Size = tuple[float, float]


class Rect(NamedTuple):
    """Where something lies, mm: least corner and size."""

    x: float
    y: float
    width: float
    height: float


def finished(tree: Tree, region: Size, kerf: float, size_of: Callable[[Leaf], Size]) -> Tree:
    """A tree with every cut that its parts need to come out exact, and none that cuts nothing off.

    region: the real rectangle, mm; slices come in descending size, since wide stock is the stiffest.

    Raises:
        ValueError: a part does not fit at its place in the tree; a fault of the program.
    """
    if isinstance(tree, Leaf):
        wanted = size_of(tree)
        for axis in (1, 0):
            if region[axis] < wanted[axis] - EQUAL_MM:
                raise ValueError(f"part {tree.item} does not fit its place")
            if region[axis] > wanted[axis] + EQUAL_MM:
                inside = with_side(region, axis, wanted[axis])
                return Slab(axis, (Slice(wanted[axis], finished(tree, inside, kerf, size_of)),))
        return tree
    axis = tree.axis
    slices = sorted(tree.slices, key=lambda s: -s.size)
    left = region[axis] - fsum(s.size for s in slices) - kerf * len(slices)
    if len(slices) == 1 and left + kerf <= EQUAL_MM:
        return finished(slices[0].content, with_side(region, axis, slices[0].size), kerf, size_of)
    done = [Slice(s.size, finished(s.content, with_side(region, axis, s.size), kerf, size_of)) for s in slices]
    rest = finished(tree.rest, with_side(region, axis, left), kerf, size_of) if tree.rest is not None else None
    if isinstance(rest, Leaf):
        # What is left over is just the part: it comes out of the last cut, like a slice.
        done, rest = sorted([*done, Slice(left, rest)], key=lambda s: -s.size), None
    return Slab(axis, tuple(done), rest)


def resized(tree: Tree, size: Callable[[float], float]) -> Tree:
    """The same tree with other sizes of its slices."""
    if isinstance(tree, Leaf):
        return tree
    slices = tuple(Slice(size(s.size), resized(s.content, size)) for s in tree.slices)
    return Slab(tree.axis, slices, None if tree.rest is None else resized(tree.rest, size))


def laid(tree: Tree | None, place: Rect, kerf: float) -> Iterator[Placed | Rect]:
    """Where each part of a finished tree lies, and each rectangle that is left over."""
    if tree is None:
        if place.width > EQUAL_MM and place.height > EQUAL_MM:
            yield place
        return
    if isinstance(tree, Leaf):
        yield Placed(tree.item, place.x, place.y, tree.turned)
        return
    for size, content in tree.slices:
        yield from laid(content, _near(place, tree.axis, size), kerf)
        place = _far(place, tree.axis, size + kerf)
    yield from laid(tree.rest, place, kerf)


class EdgeCut(NamedTuple):
    """One cut: how deep in the tree (rips 1, cross-cuts 2, ...), the size it makes, its length, mm."""

    stage: int
    size: float
    length: float


def cuts(tree: Tree | None, region: Size, kerf: float, stage: int = 1) -> Iterator[EdgeCut]:
    """Every cut of a finished tree."""
    if not isinstance(tree, Slab):
        return
    for size, content in tree.slices:
        if region[tree.axis] > size + EQUAL_MM:
            yield EdgeCut(stage, size, region[1 - tree.axis])
        yield from cuts(content, with_side(region, tree.axis, size), kerf, stage + 1)
        region = with_side(region, tree.axis, region[tree.axis] - size - kerf)
    yield from cuts(tree.rest, region, kerf, stage + 1)


def with_side(size: Size, axis: int, value: float) -> Size:
    """A size with another length along one axis."""
    return (value, size[1]) if axis == 0 else (size[0], value)


def _near(place: Rect, axis: int, size: float) -> Rect:
    return place._replace(width=size) if axis == 0 else place._replace(height=size)


def _far(place: Rect, axis: int, gone: float) -> Rect:
    if axis == 0:
        return place._replace(x=place.x + gone, width=place.width - gone)
    return place._replace(y=place.y + gone, height=place.height - gone)


# Filling sheets: free rectangles, each split by one cut

Split = Literal["rows", "columns", "short", "long", "less", "more"]
Fit = Literal["first", "area", "short", "long"]


class Recipe(NamedTuple):
    """One way to fill sheets: the order of the items, how they may lie, which free rectangle, how it is split.

    rows, columns: strips first, then across, then along again, as a fence cuts them; the other splits look at what is
    left beside and above the part: cut so that the shorter side runs through, the longer one, or the lesser or greater
    rest is left whole.
    """

    order: Order
    ways: Turns
    fit: Fit
    split: Split


class _Node:
    """A rectangle while it is being cut."""

    __slots__ = ("axis", "far", "leaf", "near", "size")

    def __init__(self) -> None:
        self.axis, self.size = -1, 0.0
        self.near: _Node | None = None
        self.far: _Node | None = None
        self.leaf: Leaf | None = None

    def cut(self, axis: int, size: float) -> tuple[_Node, _Node]:
        """Both sides of a cut."""
        self.axis, self.size, self.near, self.far = axis, size, _Node(), _Node()
        return self.near, self.far

    @property
    def tree(self) -> Tree | None:
        """What was made of it; None: nothing."""
        if self.axis < 0:
            return self.leaf
        node, slices = self, []
        while node.axis == self.axis:
            if node.near is None or node.far is None:
                raise ValueError("a cut without two sides")
            content = node.near.tree
            if content is None:
                raise ValueError("a slice with nothing in it")
            slices.append(Slice(node.size, content))
            node = node.far
        return Slab(self.axis, tuple(slices), node.tree)


class _Free:
    """Free rectangles of all sheets in arrays, so that one look finds the best."""

    def __init__(self) -> None:
        self.number = 0
        self.width, self.height, self.sheet = np.empty(64), np.empty(64), np.empty(64)
        self.nodes: list[tuple[_Node, int]] = []

    def add(self, width: float, height: float, sheet: int, node: _Node, level: int) -> None:
        if self.number == len(self.width):
            self.width, self.height, self.sheet = (
                np.concatenate([a, a]) for a in (self.width, self.height, self.sheet)
            )
        at = self.number
        self.width[at], self.height[at], self.sheet[at] = width, height, sheet
        self.nodes.append((node, level))
        self.number += 1

    def take(self, at: int) -> tuple[float, float, int, _Node, int]:
        """Remove one; the last takes its place."""
        node, level = self.nodes[at]
        found = float(self.width[at]), float(self.height[at]), int(self.sheet[at]), node, level
        self.number -= 1
        last = self.nodes.pop()
        if at < self.number:
            self.nodes[at] = last
            for array in (self.width, self.height, self.sheet):
                array[at] = array[self.number]
        return found

    def best(self, width: float, height: float, fit: Fit) -> tuple[float, int] | None:
        """The score and the number of the rectangle that suits best; less is better."""
        wide, high = self.width[: self.number] - width, self.height[: self.number] - height
        fits = np.flatnonzero((wide >= -ROUNDING_MM) & (high >= -ROUNDING_MM))
        if not len(fits):
            return None
        wide, high = wide[fits], high[fits]
        if fit == "first":
            # The narrowest rectangle of the first sheet that has room: strips before what is still uncut.
            score = self.sheet[fits] * 1e9 + (self.width[fits] * self.height[fits])
        elif fit == "area":
            score = self.width[fits] * self.height[fits]
        elif fit == "short":
            score = np.minimum(wide, high) + 1e-6 * np.maximum(wide, high)
        else:
            score = np.maximum(wide, high) + 1e-6 * np.minimum(wide, high)
        at = int(score.argmin())
        return float(score[at]), int(fits[at])


def fill(
    items: Sequence[Rectangle], area: SheetArea, recipe: Recipe, most: int | None = None
) -> tuple[list[Tree], list[int]]:
    """A tree for each sheet filled by a recipe, at most so many, and how many of each rectangle found no place.

    area.spacing is the kerf between two parts.
    """
    filler = _Filler(items, area, recipe, most)
    left = [0] * len(items)
    for index, number in recipe.order:
        left[index] += filler.add(index, number)
    trees = [root.tree for root in filler.roots]
    return [tree for tree in trees if tree is not None], left


class _Filler:
    def __init__(self, items: Sequence[Rectangle], area: SheetArea, recipe: Recipe, most: int | None) -> None:
        self.items, self.recipe, self.most = items, recipe, most
        self.usable, self.kerf = area.usable, area.spacing
        self.free = _Free()
        self.roots: list[_Node] = []
        self.least = min((min(i.width, i.height) for i in items if i.number), default=0.0)

    def add(self, index: int, left: int) -> int:
        """Place so many pieces of an item; how many found no room."""
        item, ways = self.items[index], self.recipe.ways[index]
        sizes = [(turned, *((item.height, item.width) if turned else (item.width, item.height))) for turned in ways]
        while left:
            found = [(self.free.best(w, h, self.recipe.fit), turned, w, h) for turned, w, h in sizes]
            possible = [(best, turned, w, h) for best, turned, w, h in found if best is not None]
            if not possible:
                if not ways or len(self.roots) == self.most:
                    return left
                self.roots.append(_Node())
                self._keep(*self.usable, len(self.roots) - 1, self.roots[-1], 0)
                continue
            (_, at), turned, width, height = min(possible)
            left -= self._place(at, Leaf(index, turned), (width, height), left)
        return 0

    def _place(self, at: int, leaf: Leaf, size: tuple[float, float], left: int) -> int:
        """Cut a slice off a free rectangle and fill it with as many pieces side by side as the recipe wants."""
        *room, sheet, node, level = self.free.take(at)
        axis = self._axis((room[0], room[1]), size, level)
        across = 1 - axis
        staged = self.recipe.split in ("rows", "columns")
        fitting = int((room[across] + self.kerf + ROUNDING_MM) // (size[across] + self.kerf))
        number = min(left, fitting) if staged else 1
        part, beyond = node.cut(axis, size[axis])
        rest = [0.0, 0.0]
        rest[axis], rest[across] = room[axis] - size[axis] - self.kerf, room[across]
        self._keep(rest[0], rest[1], sheet, beyond, level)
        along = room[across]
        for _ in range(number):
            near, part = part.cut(across, size[across])
            near.leaf = leaf
            along -= size[across] + self.kerf
        rest[axis], rest[across] = size[axis], along
        self._keep(rest[0], rest[1], sheet, part, level + 1)
        return number

    def _keep(self, width: float, height: float, sheet: int, node: _Node, level: int) -> None:
        if min(width, height) >= self.least - ROUNDING_MM:
            self.free.add(width, height, sheet, node, level)

    def _axis(self, room: tuple[float, float], size: tuple[float, float], level: int) -> int:
        """Which way the slice is cut off: 1 leaves the rest above whole, 0 the rest beside."""
        split = self.recipe.split
        if split in ("rows", "columns"):
            return (level + (split == "rows")) % 2
        wide, high = room[0] - size[0], room[1] - size[1]
        if split == "short":
            return int(wide <= high)
        if split == "long":
            return int(wide > high)
        beside, above = wide * room[1], high * room[0]
        return int((above >= beside) == (split == "more"))
