"""Layers of a base that nobody sees: drawn in a little, and with holes for dowels that line them up."""

from __future__ import annotations

import math

from shapely.geometry import Point, Polygon

from tilegen.model.materials import StackTable

# What a dowel's hole is wider than the dowel, and how many layers are worth lining up (common practice, no source).
DOWEL_PLAY_MM = 0.1
LEAST_LAYERS = 3
_ROUND = 32
# A hole keeps this many of its own widths from every edge.
_CLEAR = 2.0


def hidden_foot(foot: Polygon, stack: StackTable, layers: int) -> Polygon:
    """The outline of a layer below the top one: inset all round, with two holes for dowels in stacks of three or more.

    So neither glue that is squeezed out nor a sheet that slips makes the edge that meets the next tile.
    layers: of the whole stack.
    """
    drawn = foot.buffer(-stack.inset, join_style="mitre") if stack.inset else foot
    if not isinstance(drawn, Polygon) or drawn.is_empty:
        drawn = foot
    if not stack.dowel or layers < LEAST_LAYERS:
        return drawn
    radius = (stack.dowel + DOWEL_PLAY_MM) / 2 / math.cos(math.pi / _ROUND)
    west, south, east, north = drawn.bounds
    places = [Point(west + share * (east - west), south + share * (north - south)) for share in (0.3, 0.7)]
    room = drawn.buffer(-_CLEAR * stack.dowel)
    holes = [_hole(place, radius) for place in places if room.covers(place)]
    return Polygon(drawn.exterior, [*drawn.interiors, *holes]) if len(holes) == len(places) else drawn


def _hole(centre: Point, radius: float) -> list[tuple[float, float]]:
    turns = [2 * math.pi * n / _ROUND for n in range(_ROUND)]
    return [(centre.x + radius * math.cos(a), centre.y + radius * math.sin(a)) for a in turns]
