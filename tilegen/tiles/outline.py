"""An outline with walls on some of its edges as the description of a tile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from shapely.geometry import Polygon

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, Segment, direction_of, offset_path
from tilegen.grid import Grid
from tilegen.tiles.facets import curves
from tilegen.tiles.piece import Description
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.walls import SQUARE, End, Post, Run, turn_between, turn_of


def outline_described(shape: OutlineShape, grid: Grid) -> Description:
    """The outline's edges as runs, those that follow a curve as one; posts where it points in."""
    levels = grid.base_depth, grid.base_depth + grid.wall_height
    edges = _Edges(shape)
    bent = {min(run): run for run in edges.curves()}
    chords = {number for run in bent.values() for number in run}
    runs, posts = [], []
    for number in sorted(shape.walls):
        if number in chords and number not in bent:
            continue
        group = bent.get(number, [number])
        path = edges.path(group)
        name = f"{'bent ' * (len(group) > 1)}wall {number}"
        ends = edges.end(group[0], start=True), edges.end(group[-1], start=False)
        runs.append(Run(path, True, levels, edges.openings(number), name, ends))
        at, following = ends[1], edges.beside(group[-1], start=False)
        way = runs[-1].direction(start=False)
        if at.walled and at.direction is not None and abs(turn_of(way, at.direction) + math.pi / 2) < SQUARE:
            posts.append(Post(path[-1], (way, at.direction), (False, False), levels, f"post {following}"))
    floor = Polygon(shape.points, shape.holes)
    # Drawings have long and slender parts: what is further apart than this stays so in single precision.
    return Description(floor, runs, posts, grid=SNAP_MM, what="an outline", place="[tile] outline")


def check_curves(shape: OutlineShape, depth: float) -> None:
    """Refuse a curve that a wall so deep can't be bent along, mm.

    Raises:
        InputError: where it is.
    """
    edges = _Edges(shape)
    for path in map(edges.path, edges.curves()):
        for (a, b), (c, d) in zip(pairwise(path), pairwise(offset_path(path, depth)), strict=True):
            if (d[0] - c[0]) * (b[0] - a[0]) + (d[1] - c[1]) * (b[1] - a[1]) <= 0:
                raise InputError(
                    f"a curve too tight for a wall along it, at ({(a[0] + b[0]) / 2:.3f}, {(a[1] + b[1]) / 2:.3f}) mm",
                    expected=f"a radius of more than {depth:g} mm",
                    cure="a larger radius, or a sharp corner",
                    place="[tile] walls",
                )


class _Edges:
    """The edges of an outline, walked with the inside on the right; numbers from 1."""

    def __init__(self, shape: OutlineShape) -> None:
        self.shape, self.count = shape, len(shape.points)
        # Walls stand to the right of each edge walked clockwise, whichever way the points were given.
        self.clockwise = not Polygon(shape.points).exterior.is_ccw
        numbers = range(1, self.count + 1)
        self.order: Sequence[int] = list(numbers) if self.clockwise else list(reversed(numbers))

    def edge(self, number: int) -> Segment:
        """An edge's two points."""
        first, second = self.shape.points[number - 1], self.shape.points[number % self.count]
        return (first, second) if self.clockwise else (second, first)

    def path(self, numbers: Sequence[int]) -> tuple[Point, ...]:
        """The corners of edges that follow one another."""
        return (self.edge(numbers[0])[0], *(self.edge(number)[1] for number in numbers))

    def curves(self) -> list[list[int]]:
        """The walls that follow a curve, as their chords; one with an opening is none."""
        opened = {number for number, _ in self.shape.openings}
        return curves(self.order, self.edge, set(self.shape.walls) - opened)

    def beside(self, number: int, *, start: bool) -> int:
        """The edge that meets this one at its start or end."""
        other = number + (-1 if start == self.clockwise else 1)
        return (other - 1) % self.count + 1

    def end(self, number: int, *, start: bool) -> End:
        """What is beside an edge: another wall, the tile's own edge where that cuts the wall, or nothing."""
        other = self.beside(number, start=start)
        way, beyond = direction_of(self.edge(number)), direction_of(self.edge(other))
        walled = other in self.shape.walls
        cuts = turn_between(way, beyond, start=start) > SQUARE
        return End(beyond, walled) if walled or cuts else End()

    def openings(self, number: int) -> tuple[Opening, ...]:
        """The openings of an edge, centred from its start."""
        a, b = self.edge(number)
        length = math.dist(a, b)
        found = (opening for edge, opening in self.shape.openings if edge == number)
        return tuple(replace(o, centre=o.centre if self.clockwise else length - o.centre) for o in found)
