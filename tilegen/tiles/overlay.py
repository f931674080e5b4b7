"""Overlays of slanting regions, sound where edges nearly lie on each other.

On floating coordinates GEOS (3.14) may lose a whole polygon without a word where two edges run within rounding of each
other; noded on a grid, however fine, it does not. The grid here is a picometre.
"""

from __future__ import annotations

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
