"""A piece of wall that lifts out: it stands in the grooves of a sliding leaf and looks like the wall."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry import MultiPolygon, Polygon, box

from tilegen.errors import InputError, KeyRef, Said
from tilegen.geometry import SNAP_MM, polygonal, polygons_of
from tilegen.model.grid import Grid
from tilegen.model.surface import OF_STYLE
from tilegen.tiles.dressing import wall_marks
from tilegen.tiles.leaves import sliding
from tilegen.tiles.leaves.kind import LeafFace, one
from tilegen.tiles.plate import Mark, Opening

# What a nozzle of 0.4 mm draws at least (common practice, no source).
_LEAST_WEB_MM = 0.4
_FAR_MM = 1000.0


def _check(opening: Opening, grid: Grid, jamb: float) -> None:
    if not opening.level:
        raise InputError(
            f"a lift-out leaf needs a flat head, and this one is {opening.head}",
            cure=Said("Use {}", KeyRef("head", "flat")),
        )
    sliding.KIND.check(opening, grid, jamb)


def _solid(opening: Opening, grid: Grid) -> tuple[Polygon, float, tuple[Mark, ...]]:
    """With a tongue on each side and a nick for a fingernail under its top."""
    door, wall = grid.door, grid.wall_thickness - grid.half_play
    half, tongue = opening.width / 2 - door.gap, opening.width / 2 + door.groove_depth - door.gap
    body = box(-half, -wall / 2, half, wall / 2)
    tongues = box(-tongue, -door.thickness / 2, tongue, door.thickness / 2)
    nick = box(half - 4.0, grid.wall_height - 5.0, half + 4.0, grid.wall_height - 2.5)
    edge = ((half, -wall / 2), (-half, -wall / 2))
    mark = Mark((), nick, nick, min(1.0, wall / 6), "rim", edge)
    back = ((-half, wall / 2), (half, wall / 2))
    # In a carved set it has the joints of the style.
    carved = grid.surface.stone is not None and grid.surface.walls == "none"
    shown = replace(grid, surface=replace(grid.surface, walls=OF_STYLE)) if carved else grid
    seen = tuple(replace(m, on="rim", edge=back) for m in _face(opening, shown)[1])
    return one(shapely.union_all([body, tongues])), grid.wall_height, (mark, *seen)


def _face(opening: Opening, grid: Grid, _bar: float = 0.0) -> LeafFace:
    """As high as the wall, with its surface, along it and up from its foot.

    Its courses are those of the wall beside it; no margin is left plain at its sides, where the wall goes on.
    """
    width, margin = opening.width - 2 * grid.door.gap, grid.surface.margin
    whole = box(0.0, 0.0, width, grid.wall_height)
    if grid.surface.walls == "none":
        return whole, ()
    marks = wall_marks(grid, box(0.0, margin, width, grid.wall_height - margin), 0.0, grid.surface.seed)
    return whole, tuple(replace(mark, region=_out_to_sides(mark.region, width)) for mark in marks)


def _out_to_sides(joints: Polygon | MultiPolygon, width: float) -> Polygon | MultiPolygon:
    """Joints that run out where they would leave a web at a side of the face that no printer draws."""
    webs = []
    for side in (box(0.0, 0.0, _LEAST_WEB_MM, _FAR_MM), box(width - _LEAST_WEB_MM, 0.0, width, _FAR_MM)):
        west, _, east, _ = side.bounds
        near = polygons_of(joints.intersection(side))
        webs += [box(west, part.bounds[1], east, part.bounds[3]) for part in near]
    return polygonal(shapely.union_all([joints, *webs], grid_size=SNAP_MM))


KIND = replace(
    sliding.KIND,
    of_wall=True,
    lies=False,
    solid=_solid,
    face=_face,
    check=_check,
    seam_mark=None,
)
