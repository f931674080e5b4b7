"""Edge-to-edge cuts as a tree: a rectangle is cut into slices from one edge on, each slice is cut the other way."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import fsum
from typing import NamedTuple

from tilegen.geometry import EQUAL_MM
from tilegen.sheets.rects import Placement


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
        ValueError: a part does not fit where the tree says; a fault of the program.
    """
    if isinstance(tree, Leaf):
        wanted = size_of(tree)
        for axis in (1, 0):
            if region[axis] < wanted[axis] - EQUAL_MM:
                raise ValueError(f"part {tree.item} does not fit its place")
            if region[axis] > wanted[axis] + EQUAL_MM:
                inside = _with(region, axis, wanted[axis])
                return Slab(axis, (Slice(wanted[axis], finished(tree, inside, kerf, size_of)),))
        return tree
    axis = tree.axis
    slices = sorted(tree.slices, key=lambda s: -s.size)
    left = region[axis] - fsum(s.size for s in slices) - kerf * len(slices)
    if len(slices) == 1 and left + kerf <= EQUAL_MM:
        return finished(slices[0].content, _with(region, axis, slices[0].size), kerf, size_of)
    done = [Slice(s.size, finished(s.content, _with(region, axis, s.size), kerf, size_of)) for s in slices]
    rest = finished(tree.rest, _with(region, axis, left), kerf, size_of) if tree.rest is not None else None
    return Slab(axis, tuple(done), rest)


def resized(tree: Tree, size: Callable[[float], float]) -> Tree:
    """The same tree with other sizes of its slices."""
    if isinstance(tree, Leaf):
        return tree
    slices = tuple(Slice(size(s.size), resized(s.content, size)) for s in tree.slices)
    return Slab(tree.axis, slices, None if tree.rest is None else resized(tree.rest, size))


def laid(tree: Tree | None, place: Rect, kerf: float) -> Iterator[Placement | Rect]:
    """Where each part of a finished tree lies, and each rectangle that is left over."""
    if tree is None:
        if place.width > EQUAL_MM and place.height > EQUAL_MM:
            yield place
        return
    if isinstance(tree, Leaf):
        yield Placement(tree.item, place.x, place.y, tree.turned)
        return
    for size, content in tree.slices:
        yield from laid(content, _near(place, tree.axis, size), kerf)
        place = _far(place, tree.axis, size + kerf)
    yield from laid(tree.rest, place, kerf)


class Cut(NamedTuple):
    """One cut: how deep in the tree (rips 1, cross-cuts 2, ...), the size it makes, its length, mm."""

    stage: int
    size: float
    length: float


def cuts(tree: Tree | None, region: Size, kerf: float, stage: int = 1) -> Iterator[Cut]:
    """Every cut of a finished tree."""
    if not isinstance(tree, Slab):
        return
    for size, content in tree.slices:
        if region[tree.axis] > size + EQUAL_MM:
            yield Cut(stage, size, region[1 - tree.axis])
        yield from cuts(content, _with(region, tree.axis, size), kerf, stage + 1)
        region = _with(region, tree.axis, region[tree.axis] - size - kerf)
    yield from cuts(tree.rest, region, kerf, stage + 1)


def _with(size: Size, axis: int, value: float) -> Size:
    return (value, size[1]) if axis == 0 else (size[0], value)


def _near(place: Rect, axis: int, size: float) -> Rect:
    return place._replace(width=size) if axis == 0 else place._replace(height=size)


def _far(place: Rect, axis: int, gone: float) -> Rect:
    if axis == 0:
        return place._replace(x=place.x + gone, width=place.width - gone)
    return place._replace(y=place.y + gone, height=place.height - gone)
