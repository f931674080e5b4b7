"""Setting out rectangles so that every cut can run from edge to edge: free rectangles, each split by one cut."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from tilegen.geometry import ROUNDING_MM
from tilegen.sheets.cuttree import Leaf, Slab, Slice, Tree
from tilegen.sheets.rects import Area, Item, Order, Ways

Split = Literal["rows", "columns", "short", "long", "less", "more"]
Fit = Literal["first", "area", "short", "long"]


class Recipe(NamedTuple):
    """One way to fill sheets: the order of the items, how they may lie, which free rectangle, how it is split.

    rows, columns: strips first, then across, then along again, as a fence cuts them; the other splits look at what is
    left beside and above the part: cut so that the shorter side runs through, the longer one, or the lesser or greater
    rest is left whole.
    """

    order: Order
    ways: Ways
    fit: Fit
    split: Split


class Filled(NamedTuple):
    """A tree for each sheet, and how many of each item found no place."""

    trees: list[Tree]
    left: list[int]


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


def fill(items: Sequence[Item], area: Area, recipe: Recipe, most: int | None = None) -> Filled:
    """Sheets filled by a recipe, at most so many; area.spacing is the kerf between two parts."""
    filler = _Filler(items, area, recipe, most)
    left = [0] * len(items)
    for index, number in recipe.order:
        left[index] += filler.add(index, number)
    trees = [root.tree for root in filler.roots]
    return Filled([tree for tree in trees if tree is not None], left)


class _Filler:
    def __init__(self, items: Sequence[Item], area: Area, recipe: Recipe, most: int | None) -> None:
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
