"""The largest disc in a polygon of any shape, to rounding."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from scipy import optimize
from shapely.geometry import Polygon

from tilegen.geometry import rings_of

Floats = npt.NDArray[np.float64]
# The first search stops here, mm; from there the disc is grown until it gains no more than the last figure.
_COARSE_MM, _FINE_MM = 1e-3, 1e-9
_ROUNDS = 40
# How far the centre may move in one round, mm, and so which edges can come to matter.
_STEP_MM = 0.5


def largest_disc_in(region: Polygon) -> float:
    """The diameter of the largest disc in a polygon, mm.

    The centre found by shapely's search is moved by small linear programmes: of every edge near it the distance is at
    least that from the line square to the shortest way there, so a step that raises the least of these is sure.
    """
    line = shapely.maximum_inscribed_circle(region, tolerance=_COARSE_MM)
    centre = np.array(line.coords[0])
    starts, ends = _edges(region)
    best = float(_nearest(centre, starts, ends)[1].min())
    for _ in range(_ROUNDS):
        moved = _step(centre, starts, ends, best)
        radius = float(_nearest(moved, starts, ends)[1].min())
        if radius <= best + _FINE_MM:
            return 2 * max(best, radius)
        centre, best = moved, radius
    return 2 * best


def _edges(region: Polygon) -> tuple[Floats, Floats]:
    rings = [shapely.get_coordinates(ring) for ring in rings_of(region)]
    return np.concatenate([r[:-1] for r in rings]), np.concatenate([r[1:] for r in rings])


def _nearest(centre: Floats, starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """The nearest point of each edge, and how far it is."""
    along = ends - starts
    share = ((centre - starts) * along).sum(axis=1) / (along**2).sum(axis=1)
    points = starts + along * share.clip(0, 1)[:, None]
    return points, np.hypot(*(centre - points).T)


def _step(centre: Floats, starts: Floats, ends: Floats, radius: float) -> Floats:
    """The centre moved to where the least of the linear distances is largest."""
    points, away = _nearest(centre, starts, ends)
    near = (away < radius + 2 * _STEP_MM) & (away > 0)
    ways = (centre - points[near]) / away[near][:, None]
    # u . (c + s - q) >= r, so r - u . s <= |c - q|; unknown are the step s and r.
    rows = np.column_stack([-ways, np.ones(len(ways))])
    bounds = [(-_STEP_MM, _STEP_MM), (-_STEP_MM, _STEP_MM), (0, None)]
    found = optimize.linprog([0.0, 0.0, -1.0], A_ub=rows, b_ub=away[near], bounds=bounds, method="highs-ds")
    if found.status != 0 or found.x is None:
        return centre
    moved: Floats = centre + found.x[:2]
    return moved
