"""Walls too short to stand by themselves, and what another wall cuts off one, go to a wall beside them."""

from __future__ import annotations

from collections.abc import Collection

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import polygons_of


def gathered(feet: dict[int, BaseGeometry], opened: Collection[int], least: float) -> dict[int, BaseGeometry]:
    """The feet of printed walls, each in one piece where that is possible; walls that vanish are left out.

    feet: by number, on the plan, each of any number of pieces. opened: numbers that have an opening: they stay as they
    are. least: a wall's area, mm2. Together they cover what they did.
    """
    kept: dict[int, BaseGeometry] = {}
    loose: list[Polygon] = []
    for number, foot in feet.items():
        pieces = sorted(polygons_of(foot), key=lambda piece: -piece.area)
        if number in opened or (len(pieces) == 1 and pieces[0].area > least):
            kept[number] = foot
            continue
        if pieces and pieces[0].area > least:
            kept[number] = pieces.pop(0)
        loose += pieces
    lone = [piece for piece in loose if not _joined(piece, kept, opened)]
    # Once more: the wall that it goes to may have come by another piece only now.
    lone = [piece for piece in lone if not _joined(piece, kept, opened)]
    # What touches no wall stays with its own: too small it is dropped, else refused.
    for number, foot in feet.items():
        own = [piece for piece in lone if shapely.covers(foot, piece.representative_point())]
        if own:
            kept[number] = shapely.union_all([kept.get(number, Polygon()), *own])
    return kept


def _joined(piece: Polygon, kept: dict[int, BaseGeometry], opened: Collection[int]) -> bool:
    """Give a piece to the wall that it shares most of its boundary with; whether there is one."""
    touching = [number for number, foot in kept.items() if number not in opened and foot.intersects(piece)]
    shared = {number: piece.boundary.intersection(kept[number].boundary).length for number in touching}
    for number in sorted(shared, key=lambda n: -shared[n]):
        together = shapely.coverage_union_all([kept[number], piece])
        if shared[number] > 0 and isinstance(together, Polygon) and together.is_valid:
            kept[number] = together
            return True
    return False
