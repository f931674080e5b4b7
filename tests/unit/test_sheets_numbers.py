"""Where numbers lie in written files: never on a face that is seen; steps, parts list and sheets agree."""

import csv
import io
import re
from collections import Counter

import pytest
import shapely
from ezdxf.filemanagement import read
from shapely.geometry import LineString, Polygon

from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.model.surface import Surface
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.tiles.loose import leaves_of, make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid(surface=Surface(floor="flagstones", walls="brick"))
PAIRS = [
    ("mdf", "laser"),
    ("foam", "hand-knife"),
    ("card", "laser"),
    ("foam-core", "hand-knife"),
]


def kit():
    """A room with a doorway that slides shut, one with a wall that lifts out, a saddle door, and the leaves."""
    counts = []
    for name, leaf, style in (("gate", "sliding", "portcullis"), ("secret", "lift-out", "planks")):
        way = Side("doorway", make_opening(GRID.tile_side, GRID, leaf=leaf, style=style))
        tile = make_tile(name, single_cell(Cell((way, WALL, OPEN, WALL)), (2, 2)), GRID)
        counts += [(tile, 2), *((piece, 2 * number) for piece, number in leaves_of(tile))]
    opening = make_opening(GRID.tile_side, GRID)
    return [*counts, (make_saddle_door("saddle-door", GRID, GRID.tile_side, opening), 1)]


@pytest.mark.parametrize("material, machine", PAIRS, ids=[" by ".join(pair) for pair in PAIRS])
def test_numbers_lie_on_no_face_that_is_seen(material, machine):
    made = make_sheets(kit(), read_material(material), read_machine(machine))
    files = sheet_files(made)
    rows = list(csv.DictReader(io.StringIO(files[f"{material}-parts.csv"].decode())))
    cores = {core.number: core.count for core in made.cores}
    wanted = {row["part"]: int(row["quantity"]) for row in rows if row["part"] not in cores}
    assert Counter(made.parts[p.item].number for s in made.sheets for _ in range(s.copies) for p in s.layout) == wanted
    said = " ".join(step for assembly in made.assemblies for step in assembly.steps)
    assert set(re.findall(r"\b[A-Z]\d*[A-Z]?\b", said)) == set(wanted) | set(cores)
    for sheet in made.sheets:
        space = read(io.StringIO(files[f"{sheet.name}.dxf"].decode())).modelspace()
        paths = [(e.dxf.layer, e.get_points("xy")) for e in space.query("LWPOLYLINE")]
        cut = [Polygon(points) for layer, points in paths if layer == "CUT_OUTER"]
        holes = shapely.union_all([Polygon(points) for layer, points in paths if layer == "CUT_INNER"])
        marks = shapely.union_all([LineString(points) for layer, points in paths if layer == "ENGRAVE"])
        assert len(cut) == len(sheet.layout)
        for placed in sheet.layout:
            part = made.parts[placed.item]
            if not part.flat.shown or part.flat.words or part.flat.covered:
                continue
            assert made.labels[part.id] in ("waste", "back")
            # The outline of the same area that holds the middle of where it was put.
            here = shapely.Point(placed.x + 3.0, placed.y + 3.0)
            outline = min(cut, key=lambda p, here=here: (p.distance(here), p.area))
            assert not outline.difference(holes).buffer(-0.1).intersects(marks)
