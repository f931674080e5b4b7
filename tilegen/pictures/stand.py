"""What pictures of figures share: a block's free floor, a place for a disc in it, circles and crosses."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.fit.floor import Bools, Bytes, OffGridFloor, Spaces
from tilegen.geometry import EQUAL_MM, Points
from tilegen.pictures.canvas import polyline

# Places tried on either axis where no simple one will do.
_TRIED = 33
_CORNERS_OF_CIRCLE = 72


def free_floor(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> BaseGeometry:
    """A block's floor less strips and posts, mm from its north-west corner, y to the south; (n, n) spaces."""
    rows, columns = strips.shape
    taken = []
    for row in range(rows):
        for column in range(columns):
            west, north = column * pitch, row * pitch
            east, south = west + pitch, north + pitch
            bars = (
                (west, north, east, north + wall),
                (east - wall, north, east, south),
                (west, south - wall, east, south),
                (west, north, west + wall, south),
            )
            corners = (
                (east - wall, north, east, north + wall),
                (east - wall, south - wall, east, south),
                (west, south - wall, west + wall, south),
                (west, north, west + wall, north + wall),
            )
            taken += [bars[k] for k in range(4) if strips[row, column] >> k & 1]
            taken += [corners[k] for k in range(4) if posts[row, column] >> k & 1]
    boxes = [shapely.box(*bounds) for bounds in taken]
    return shapely.box(0, 0, columns * pitch, rows * pitch).difference(shapely.union_all(boxes))


def place_disc(free: BaseGeometry, middle: tuple[float, float], diameter: float, wall: float) -> tuple[float, float]:
    """Where a disc stands on a free floor, as near as it can to the middle; if nowhere, where it comes nearest."""
    r = diameter / 2
    west, north, east, south = free.bounds
    xs, ys = (
        np.unique([m, (a + b) / 2, a + r, b - r, a + wall + r, b - wall - r, *np.linspace(a, b, _TRIED)])
        for m, a, b in ((middle[0], west, east), (middle[1], north, south))
    )
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    points = shapely.points(x, y)
    room = np.where(shapely.covers(free, points), shapely.distance(free.boundary, points), 0.0)
    away = np.hypot(x - middle[0], y - middle[1])
    fits = room >= r - EQUAL_MM
    best = int(np.argmin(np.where(fits, away, math.inf)) if fits.any() else np.argmax(room))
    return float(x[best]), float(y[best])


def clear_region(spaces: Spaces, chosen: Bools, corner: tuple[float, float]) -> BaseGeometry:
    """The floor of chosen spaces less strips and posts; corner: the drawing's north-west corner on the page."""
    pitch, wall = spaces.drawing.grid.pitch, spaces.drawing.grid.wall_thickness
    row, column = np.nonzero(chosen)
    north, east, south, west = ((spaces.strips[row, column] >> side & 1) * wall for side in range(4))
    x, y = corner[0] + column * pitch, corner[1] + row * pitch
    floor = shapely.union_all(shapely.box(x + west, y + north, x + pitch - east, y + pitch - south))
    posts = []
    for bit, (south_end, east_end) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
        has = (spaces.posts[row, column] >> bit & 1).astype(bool)
        left, top = x[has] + east_end * (pitch - wall), y[has] + south_end * (pitch - wall)
        posts.append(shapely.box(left, top, left + wall, top + wall))
    clear = floor.difference(shapely.union_all(np.concatenate(posts)))
    return clear if spaces.off_grid is None else _clear_off_grid(spaces.off_grid, chosen, clear, corner)


def _clear_off_grid(
    off_grid: OffGridFloor, chosen: Bools, clear: BaseGeometry, corner: tuple[float, float]
) -> BaseGeometry:
    """The same where cells off the grid are cut to what is floor there, less its walls."""
    p = off_grid.pitch
    row, column = np.nonzero(off_grid.spaces)
    x, y = corner[0] + column * p, corner[1] + row * p
    cells = shapely.box(x, y, x + p, y + p)
    free = shapely.transform(shapely.union_all(list(off_grid.free.values())), lambda q: q * (1.0, -1.0) + corner)
    inside = shapely.union_all(cells[chosen[row, column]]).intersection(free)
    return clear.difference(shapely.union_all(cells)).union(inside)


def circle(x: float, y: float, radius: float) -> Points:
    """A closed ring of points around a centre."""
    turn = np.linspace(0.0, 2 * math.pi, _CORNERS_OF_CIRCLE + 1)
    ring: npt.NDArray[np.float64] = np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)
    return ring


def cross(x: float, y: float, arm: float) -> list[Points]:
    """Two lines across a point, each reaching `arm` from it along both axes."""
    return [polyline((x - arm, y - arm), (x + arm, y + arm)), polyline((x - arm, y + arm), (x + arm, y - arm))]
