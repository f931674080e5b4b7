"""A sliding leaf: it drops from above into a groove in each jamb."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import KeyRef, Said
from tilegen.geometry import polygonal
from tilegen.model.grid import Grid
from tilegen.tiles.leaves.kind import BAR_MM, LEAST_SKIN_MM, RIM_MM, LeafFace, LeafKind, one, styled_face, too_small
from tilegen.tiles.plate import Mark, Opening, Plate

_GRIP_MM = 4.0
_REACH_MM = 1.0


def groove_width(grid: Grid) -> float:
    """Of the groove that a leaf stands in: the leaf and its clearance on both faces, mm."""
    return grid.door.thickness + 2 * grid.door.gap


def _check(opening: Opening, grid: Grid, jamb: float) -> None:
    need = grid.door.groove_depth + LEAST_SKIN_MM
    if jamb < need - 1e-9:
        cure = Said("Make the opening narrower, or {} smaller", KeyRef("groove_depth", table="door"))
        raise too_small(opening.leaf, "at least {} of wall beside it", need, jamb, cure)


def _marks(plate: Plate, wall: Plate, opening: Opening, grid: Grid) -> Iterator[Mark]:
    if plate is wall:
        width = groove_width(grid)
        yield _groove(plate, opening, grid, (plate.thickness - width) / 2, width)


def _groove(plate: Plate, opening: Opening, grid: Grid, start: float, width: float) -> Mark:
    """The slot that a leaf stands in, from the floor to the top, less the opening; start: from the outer face."""
    reach = opening.width / 2 + grid.door.groove_depth
    left, right = opening.centre - reach, opening.centre + reach
    top = plate.height if plate.is_open_topped(opening) else None
    region = polygonal(box(left, 0.0, right, plate.height).difference(opening.region(below=_REACH_MM, above=top)))
    cutter = box(left, -_REACH_MM, right, plate.height + _REACH_MM)
    return Mark((), region, region, width, "outer", start=start, cutter=cutter)


def _seam_mark(plate: Plate, opening: Opening, grid: Grid) -> Mark:
    """Half of that slot, in the inner face of one of the two plates of a saddle door."""
    return replace(_groove(plate, opening, grid, 0.0, groove_width(grid) / 2), on="inner")


def _solid(opening: Opening, grid: Grid) -> tuple[Polygon, float, tuple[Mark, ...]]:
    foot, lines = sliding_face(opening, grid)
    return foot, grid.door.thickness, lines


def sliding_face(opening: Opening, grid: Grid, bar: float = BAR_MM) -> LeafFace:
    """The face of a sliding leaf, as high as its wall and with a grip above it, and the lines on it.

    bar: the least width of its bars and of the rim around them, mm.
    """
    depth = grid.door.groove_depth
    width, height = opening.width + 2 * depth - 2 * grid.door.gap, grid.wall_height
    grip = box(width / 4, height, width * 3 / 4, height + _GRIP_MM)
    whole = shapely.union_all([box(0.0, 0.0, width, height), grip])
    rim = max(RIM_MM, bar)
    seen = depth + rim, rim, width - depth - rim, min(opening.height, height - rim) - rim
    return styled_face(one(whole), seen, height, opening, bar)


KIND = LeafKind(
    slides=True,
    lies=True,
    solid=_solid,
    face=sliding_face,
    least_wall=lambda grid: groove_width(grid) + 2 * LEAST_SKIN_MM,
    check=_check,
    marks=_marks,
    seam_mark=_seam_mark,
    cut=lambda grid: ("slot", (grid.door.groove_depth, groove_width(grid))),
)
