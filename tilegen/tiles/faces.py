"""The faces that a footprint falls into along the lines of walls, and walls of one piece from them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, faces_of, polygons_of
from tilegen.tiles.pinches import weak_point


class Faces:
    """The faces that a footprint falls into along the lines of some regions, on the micrometre grid."""

    def __init__(self, footprint: Polygon, regions: Sequence[BaseGeometry]) -> None:
        self.faces, self.points = faces_of(footprint, [region.boundary for region in regions], SNAP_MM)
        self.free = np.ones(len(self.faces), bool)
        whole = shapely.coverage_union_all(self.faces)
        if not isinstance(whole, Polygon):
            x, y = weak_point(footprint, whole)
            raise InputError(
                f"a footprint that falls apart near ({x:.3f}, {y:.3f}) mm", expected="one piece", place="[tile] outline"
            )
        self.whole = whole

    def owned(self, regions: Sequence[BaseGeometry]) -> list[BaseGeometry]:
        """The part of the footprint that each region takes; the first one that covers a face has it."""
        parts = []
        for region in regions:
            mine = self.free & shapely.contains(region, self.points)
            self.free &= ~mine
            parts.append(shapely.coverage_union_all(self.faces[mine]))
        return parts

    def others(self) -> BaseGeometry:
        """What no region has taken."""
        return shapely.coverage_union_all(self.faces[self.free])

    def within(self, region: BaseGeometry) -> BaseGeometry:
        """Of what nobody has taken, the part that lies in a region."""
        return shapely.coverage_union_all(self.faces[self.free & shapely.contains(region, self.points)])


def one_piece(foot: BaseGeometry, number: int, least: float) -> Polygon:
    """The foot of a wall, crumbs left by snapping (smaller than least, in mm2) dropped.

    Raises:
        InputError: nothing, or more than one piece, is left.
    """
    pieces = polygons_of(foot, least)
    if len(pieces) != 1:
        raise InputError(
            f"a wall on edge {number} that falls into pieces or vanishes",
            expected="an edge long enough for its wall",
            place="[tile] walls",
        )
    return pieces[0]
