"""What a tile cut out of a room off the grid is before it is made: its piece of floor, and the walls near it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.plate import Opening, Point

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class WallRun:
    """One straight or bent wall of a room, as far as it matters to a tile: from its line inwards, to the right.

    path: its corners on the line, mm. openings: (first, last station on the path, height, head) of each. turns: how
    far the room's outline turns right to the next wall before its start and after its end; None where none follows.
    """

    path: tuple[Point, ...]
    openings: tuple[tuple[float, float, Opening], ...] = ()
    turns: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True)
class InnerWalls:
    """Walls on lines within a room: a straight run for each side of each, and posts where they end.

    posts: the point they stand at, mm, and which way they reach from it in x and y, 1 or -1.
    """

    runs: tuple[WallRun, ...] = ()
    posts: tuple[tuple[float, float, int, int], ...] = ()

    def covers(self, depth: float, length: float | None = None) -> list[BaseGeometry]:
        """What is nearer to the walls' lines than a depth, mm. length: of the posts' sides, if they are longer."""
        found: list[BaseGeometry] = [strip_beside(run, depth) for run in self.runs]
        for x, y, east, north in self.posts:
            for dx, dy in {(depth, length or depth), (length or depth, depth)}:
                xs, ys = sorted((x, x + east * dx)), sorted((y, y + north * dy))
                found.append(box(xs[0], ys[0], xs[1], ys[1]))
        return found

    def moved(self, move: Callable[[Floats], Floats]) -> InnerWalls:
        """The same elsewhere; move turns by quarters at most."""

        def spot(x: float, y: float) -> Point:
            (there,) = move(np.array([(x, y)])).tolist()
            return there[0], there[1]

        runs = tuple(WallRun(tuple(spot(*p) for p in run.path), run.openings, run.turns) for run in self.runs)
        posts = []
        for x, y, east, north in self.posts:
            (x0, y0), (x1, y1) = spot(x, y), spot(x + east, y + north)
            posts.append((x0, y0, round(x1 - x0), round(y1 - y0)))
        return InnerWalls(runs, tuple(posts))


def strip_beside(run: WallRun, depth: float) -> Polygon:
    """What lies within a depth to the right of a straight wall's line, from end to end."""
    (x0, y0), (x1, y1) = run.path
    length = float(np.hypot(x1 - x0, y1 - y0))
    dx, dy = (y1 - y0) / length * depth, -(x1 - x0) / length * depth
    return Polygon([(x0, y0), (x1, y1), (x1 + dx, y1 + dy), (x0 + dx, y0 + dy)])


@dataclass(frozen=True)
class RegionShape:
    """A tile that is a piece of a room off the grid, in the tile's own frame, mm.

    piece: nominal, seam to seam. room: the room's floor around it, less nothing but what lies too far to matter, and
    filled up behind lines that carry no wall. runs: the walls near it. inner: those inside the room. extra: what is on
    its floor, placed from the middle of its square of the lattice, and how high that and its walls are. middle: where
    that middle is, from west and from south.
    """

    piece: Polygon
    room: BaseGeometry
    runs: tuple[WallRun, ...]
    inner: InnerWalls = InnerWalls()
    extra: Extra = PLAIN
    middle: float = 0.0

    @property
    def furnished(self) -> bool:
        """Whether anything but walls and posts is on the tile, or its floor or walls have a height of their own."""
        return self.extra != PLAIN

    @property
    def pitted(self) -> bool:
        """Whether the tile has a pit."""
        return any(block.kind == "pit" for block in self.extra.blocks)

    def turned(self, side: float) -> RegionShape:
        """A quarter turn clockwise about a square of the lattice with this side, mm."""

        def move(points: Floats) -> Floats:
            return np.stack([points[:, 1], side - points[:, 0]], axis=1)

        runs = tuple(WallRun(tuple((y, side - x) for x, y in run.path), run.openings, run.turns) for run in self.runs)
        inner = self.inner.moved(move)
        extra = self.extra.turned()
        piece, room = shapely.transform(self.piece, move), shapely.transform(self.room, move)
        return RegionShape(piece, room, runs, inner, extra, self.middle)
