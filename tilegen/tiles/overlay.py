"""Overlays of slanting regions, sound where edges nearly lie on each other.

On floating coordinates GEOS (3.14) may lose a whole polygon without a word where two edges run within rounding of each
other; noded on a grid, however fine, it does not. The grid here is a picometre.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.tiles.plate import polygons_of

_GRID_MM = 1e-9


def common(first: BaseGeometry, second: BaseGeometry) -> Polygon | MultiPolygon:
    """What two regions share."""
    return polygons_of(shapely.intersection(first, second, grid_size=_GRID_MM))


def less(first: BaseGeometry, second: BaseGeometry) -> Polygon | MultiPolygon:
    """The first region without the second."""
    return polygons_of(shapely.difference(first, second, grid_size=_GRID_MM))


def joined(regions: Sequence[Polygon], grid: float, reach: float) -> BaseGeometry:
    """Regions that meet along lines as one.

    grid: on which they are joined, mm. reach: corners this near to each other, or to another region's edge, are
    meant to lie on each other.
    """
    try:
        whole = shapely.union_all(regions, grid_size=grid)
    except shapely.errors.GEOSException:
        whole = None
    if isinstance(whole, Polygon) and shapely.minimum_clearance(whole) > reach:
        return whole
    # They fell apart, or keep a crack no wider than rounding.
    return shapely.union_all(_welded(regions, reach), grid_size=grid)


def _welded(regions: Sequence[Polygon], reach: float) -> list[Polygon]:
    """Regions whose common edges have the same corners, bit for bit."""
    every = np.unique(shapely.get_coordinates(regions), axis=0)
    tree = shapely.STRtree([shapely.Point(corner) for corner in every])

    def near(line: BaseGeometry) -> npt.NDArray[np.intp]:
        return np.sort(tree.query(line, predicate="dwithin", distance=reach))

    def own(point: npt.NDArray[np.float64]) -> int:
        """The first of the corners that are one with a point."""
        return int(near(shapely.Point(point))[0])

    def ring(points: npt.NDArray[np.float64]) -> list[npt.NDArray[np.float64]]:
        made: list[int] = []
        for a, b in pairwise(points):
            between = near(shapely.LineString([a, b]))
            along = (every[between] - a) @ (b - a)
            made += [own(every[i]) for i in between[np.argsort(along, kind="stable")]]
        return [every[i] for i, before in zip(made, [made[-1], *made], strict=False) if i != before]

    return [
        Polygon(ring(shapely.get_coordinates(r.exterior)), [ring(shapely.get_coordinates(h)) for h in r.interiors])
        for r in regions
    ]
