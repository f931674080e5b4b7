"""What a tile cut out of a room off the grid is before it is made: its piece of floor, and the walls near it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Point, quarter_turned
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.plate import Opening

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


@dataclass(frozen=True, slots=True)
class OpenLine:
    """A straight part of a room's border that carries no wall, the room on its right.

    walled: whether a wall follows before its start and after its end, which is cut off square there.
    """

    start: Point
    end: Point
    walled: tuple[bool, bool]

    def behind(self, depth: float) -> Polygon:
        """Floor to add behind the line, so that none is taken off the room there when it moves in by a depth, mm.

        It reaches past an end where a wall follows by as much, or the end of that wall would be rounded into the
        opening; where another open line follows round a corner it does not, which leaves a post.
        """
        (x0, y0), (x1, y1) = self.start, self.end
        length = math.dist(self.start, self.end)
        dx, dy = (x1 - x0) / length * depth, (y1 - y0) / length * depth
        low = (x0 - dx, y0 - dy) if self.walled[0] else self.start
        high = (x1 + dx, y1 + dy) if self.walled[1] else self.end
        out = (-4 * dy, 4 * dx)
        return Polygon([low, high, (high[0] + out[0], high[1] + out[1]), (low[0] + out[0], low[1] + out[1])])


def filled(room: BaseGeometry, opens: Iterable[OpenLine], depth: float) -> BaseGeometry:
    """A room's floor with some more behind lines without a wall, for moving it in by a depth, mm."""
    behind = [line.behind(depth) for line in opens] if depth > 0 else []
    return shapely.union_all([room, *behind]) if behind else room


@dataclass(frozen=True)
class InnerWalls:
    """Walls on lines within a room: a straight run for each side of each, and posts where they end.

    posts: the point they stand at, mm, and which way they reach from it in x and y, 1 or -1.
    """

    runs: tuple[WallRun, ...] = ()
    posts: tuple[tuple[float, float, int, int], ...] = ()

    def covers(self, depth: float) -> list[BaseGeometry]:
        """What is nearer to the walls' lines than a depth, mm."""
        found: list[BaseGeometry] = [strip_beside(run, depth) for run in self.runs]
        for x, y, east, north in self.posts:
            xs, ys = sorted((x, x + east * depth)), sorted((y, y + north * depth))
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

    piece: nominal, seam to seam. runs: the room's walls near it. inner: those inside the room. extra: what is on its
    floor, placed from the middle of its square of the lattice, and how high that and its walls are. middle: where that
    middle is, from west and from south. opens: parts of the border near it that carry no wall.
    """

    piece: Polygon
    runs: tuple[WallRun, ...]
    inner: InnerWalls = InnerWalls()
    extra: Extra = PLAIN
    middle: float = 0.0
    opens: tuple[OpenLine, ...] = ()

    @property
    def furnished(self) -> bool:
        """Whether anything but walls and posts is on the tile, or its floor or walls have a height of their own."""
        return self.extra != PLAIN

    @property
    def sunk(self) -> list[str]:
        """The kinds of hollows in its floor, in alphabetical order."""
        return self.extra.sunk

    def turned(self, side: float) -> RegionShape:
        """A quarter turn clockwise about a square of the lattice with this side, mm."""

        def move(points: Floats) -> Floats:
            turned: Floats = quarter_turned(points) + np.array((0.0, side))
            return turned

        def spot(point: Point) -> Point:
            return point[1], side - point[0]

        runs = tuple(WallRun(tuple(map(spot, run.path)), run.openings, run.turns) for run in self.runs)
        inner = self.inner.moved(move)
        extra = self.extra.turned()
        piece = shapely.transform(self.piece, move)
        opens = tuple(OpenLine(spot(line.start), spot(line.end), line.walled) for line in self.opens)
        return RegionShape(piece, runs, inner, extra, self.middle, opens)
