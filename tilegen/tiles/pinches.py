"""Where a region hangs together by a point, or by less than its walls need."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, polygonal
from tilegen.lengths import show_spot

# How far a groove stays off a corner that would be cut free in a point, each way.
_BRIDGE_MM = 0.2
_POINT = 0


def check_pinches(region: BaseGeometry, what: str) -> None:
    """Refuse a region that touches itself in a point: as a solid it would hang together by an edge without thickness.

    Raises:
        InputError: with the point.
    """
    pinches = _pinches(region)
    if len(pinches):
        x, y = pinches[0].tolist()
        raise InputError(
            f"{what} touch only in one point, {show_spot(x, y)}",
            cure="Move a corner there a little",
            place="[tile] outline",
        )


def _pinches(region: BaseGeometry) -> npt.NDArray[np.float64]:
    """The points, (n, 2), in which a region touches itself."""
    found = [np.zeros((0, 2))]
    for ring in shapely.get_rings(shapely.get_parts(region)).tolist():
        corners = np.round(shapely.get_coordinates(ring) / SNAP_MM)
        # Corners nearer than that are one.
        found.append(corners[1:][np.any(np.diff(corners, axis=0) != 0, axis=1)])
    places, counts = np.unique(np.concatenate(found), axis=0, return_counts=True)
    pinches: npt.NDArray[np.float64] = places[counts > 1] * SNAP_MM
    return pinches


def apart(whole: Polygon, grooved: BaseGeometry) -> BaseGeometry:
    """Grooves that stop short of where they would leave parts of the floor touching in a point.

    Beside a corner of the footprint, or where walls leave two grooves that meet in a point.
    """
    if not len(_pinches(grooved)) and not set(_places(grooved)) & set(_places(whole)):
        return grooved
    pinches = _pinches(whole.difference(grooved))
    if not len(pinches):
        return grooved
    return _less_bridges(grooved, pinches)


def unpinched(region: BaseGeometry, bridge: float = _BRIDGE_MM) -> BaseGeometry:
    """A region that touches itself in no point: what meets in one stops short of it by so much each way, mm."""
    pinches = _pinches(region)
    return _less_bridges(region, pinches, bridge) if len(pinches) else region


def touchless(region: BaseGeometry, face: BaseGeometry) -> BaseGeometry:
    """A region on a face that touches the face's edge in no single point: what would stops short of it."""
    met = shapely.get_parts(shapely.intersection(region.boundary, face.boundary))
    points = met[shapely.get_type_id(met) == _POINT]
    return _less_bridges(region, shapely.get_coordinates(points)) if len(points) else region


def _less_bridges(
    region: BaseGeometry, pinches: npt.NDArray[np.float64], bridge: float = _BRIDGE_MM
) -> Polygon | MultiPolygon:
    kept = shapely.union_all(shapely.buffer(shapely.points(pinches), bridge, cap_style="square"))
    return polygonal(shapely.difference(region, kept, grid_size=SNAP_MM))


def _places(region: BaseGeometry) -> list[tuple[int, int]]:
    """A region's corners in micrometres."""
    return list(map(tuple, np.round(shapely.get_coordinates(region) / SNAP_MM).astype(np.int64).tolist()))


def weak_point(nominal: Polygon, inset: BaseGeometry) -> Point:
    """Where an outline is too thin: between the two largest parts that its inset falls into."""
    parts = sorted(shapely.get_parts(inset).tolist(), key=lambda part: -part.area)
    if len(parts) < 2:
        point = nominal.representative_point()
        return point.x, point.y
    (x0, y0), (x1, y1) = shapely.get_coordinates(shapely.shortest_line(parts[0], parts[1])).tolist()
    return (x0 + x1) / 2, (y0 + y1) / 2
