"""Ways: written by a cell's side or by a room and a point, they open every wall that stands there, equally wide."""

import io
import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from tilegen.plans.kit import make_kit
from tilegen.plans.record import kit_json
from tilegen.reading.plans import read_plan
from tilegen.solids.build import build_mesh
from tilegen.solids.stl import stl_bytes

CASES = Path(__file__).parent / "data" / "ways"


def plan_text(rows, *tables, scale="10 ft"):
    return f'name = "t"\nscale = "{scale}"\ndrawing = """\n' + "\n".join(rows) + '\n"""\n' + "\n".join(tables)


def written(tmp_path, *args, **more):
    path = tmp_path / "t.toml"
    path.write_text(plan_text(*args, **more))
    return read_plan(path)


def dungeon(kit):
    """All tiles as written, laid by the kit's own numbers: (tile, mesh); x to the east, y to the north."""
    record, found = json.loads("".join(kit_json(kit))), []
    for kind, tile in zip(kit.types, record["tiles"], strict=True):
        stl = trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", kind.tile.plates))), file_type="stl")
        for place in tile["places"]:
            mesh = stl.copy()
            x, y, z = mesh.vertices.T
            for _ in range(place["quarter_turns"]):
                x, y = y, -x
            # The least corner of the box goes to the west, its largest y to the north.
            x, y = x - x.min() + place["west_mm"], y - y.max() - place["north_mm"]
            mesh.vertices = np.column_stack([x, y, z])
            found.append((kind.tile, mesh))
    return found


def level(mesh, height):
    """The solid's cross section at a height."""
    lines = shapely.multilinestrings(list(trimesh.intersections.mesh_plane(mesh, [0, 0, 1], [0, 0, height])[:, :, :2]))
    rings = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(shapely.set_precision(lines, 1e-4)))))
    section = shapely.Polygon()
    for ring in rings:
        section = section.symmetric_difference(shapely.Polygon(ring.exterior))
    return section


def doorways(drawing):
    """Every way of a plan: the middle of its wall, the unit step through it, and its width; map coordinates."""
    side = drawing.cell_side
    for array, lines in (("across", drawing.across), ("down", drawing.down)):
        for row, column in np.argwhere(lines > 1).tolist():
            kind = drawing.kinds[lines[row, column]]
            if kind.name == "doorway" and not _stands_in(drawing, array, row, column):
                centre = kind.opening.centre
                spot = (
                    (column * side + centre, -row * side)
                    if array == "across"
                    else (column * side, -row * side - centre)
                )
                yield spot, (0, 1) if array == "across" else (1, 0), kind.opening
    for way in drawing.wall_ways:
        region = drawing.off_grid.regions.get(ord(way.room))
        if region is None:
            cells = np.argwhere(drawing.rooms == ord(way.room)).tolist()
            region = shapely.union_all(
                [shapely.box(c * side, -(r + 1) * side, (c + 1) * side, -r * side) for r, c in cells]
            )
        inside = region.intersection(shapely.Point(way.spot).buffer(side / 50)).centroid
        dx, dy = way.spot[0] - inside.x, way.spot[1] - inside.y
        yield way.spot, (dx / math.hypot(dx, dy), dy / math.hypot(dx, dy)), way.opening


def _stands_in(drawing, array, row, column):
    """Whether the line only stands for a way at a point where cells alone are looked at."""
    places = {way.place for way in drawing.wall_ways}
    for way in drawing.ways:
        c, r = way.cell
        line = {"north": ("across", r - 1, c - 1), "south": ("across", r, c - 1)}.get(way.side) or (
            ("down", r - 1, c - 1) if way.side == "west" else ("down", r - 1, c)
        )
        if line == (array, row, column) and way.place in places:
            return True
    return False


def blocked(drawing, kit):
    """The ways through which a ray at their mid-height meets a solid in the walls on either side."""
    solid = trimesh.util.concatenate([mesh for _, mesh in dungeon(kit)])
    wall, floor = drawing.grid.wall_thickness, drawing.grid.base_depth
    found = []
    for (x, y), (dx, dy), opening in doorways(drawing):
        cut = trimesh.intersections.mesh_plane(solid, [0, 0, 1], [0, 0, floor + opening.height / 2])
        faces = shapely.multilinestrings(list(cut[:, :, :2]))
        for share in (-0.3, 0.0, 0.3):
            a, b = x - dy * share * opening.width, y + dx * share * opening.width
            ray = shapely.LineString([(a + dx * far, b + dy * far) for far in (-1.2 * wall, 1.2 * wall)])
            if ray.intersects(faces):
                found.append((round(x, 2), round(y, 2), share))
    return found


@pytest.mark.parametrize("case", sorted(CASES.glob("*.toml")), ids=lambda p: p.stem)
def test_no_wall_stands_in_a_way(case):
    drawing = read_plan(case)
    kit = make_kit(drawing)
    assert list(doorways(drawing))
    assert blocked(drawing, kit) == []
