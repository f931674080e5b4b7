"""Lead-ins and perforations: options of a machine's paths, written, read back and audited."""

import io
import itertools
import math

import ezdxf
import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.model.machines import PathRules
from tilegen.sheets.audit import audit_document
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files
from tilegen.sheets.partpaths import PartPaths
from tilegen.sheets.parts import list_parts
from tilegen.sheets.toolpaths.outlines import dashes, lead_arc
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
DOOR = Side("doorway", Opening(31.75, 27.94, 22.0))
ROOM = make_tile("room", single_cell(Cell((DOOR, WALL, WALL, WALL)), (2, 2)), GRID)
RING = make_tile(
    "ring",
    OutlineShape(((0, 0), (80, 0), (80, 60), (0, 60)), holes=(((30, 20), (50, 20), (50, 40), (30, 40)),)),
    GRID,
)
LASER = read_machine("laser")


def machine(**rules):
    return LASER.model_copy(update={"paths": LASER.paths.model_copy(update=rules)})


def modelspace(files, name):
    return ezdxf.filemanagement.read(io.StringIO(files[name].decode()))


def test_the_arc_runs_into_the_edge_without_a_bend():
    for waste in [1.0, -1.0]:
        for length in [1.0, 1.5, 2.0]:
            corner, way = np.array((3.0, 4.0)), np.array((0.6, 0.8))
            arc = np.vstack([lead_arc(corner, way, waste, length), corner])
            assert LineString(arc).length == pytest.approx(length, rel=0.01)
            last = (arc[-1] - arc[-2]) / np.hypot(*(arc[-1] - arc[-2]))
            assert math.degrees(math.acos(min(1.0, float(last @ way)))) < 8
            side = np.array((-way[1], way[0])) * waste
            assert float((arc[0] - corner) @ side) > 0
            assert float((arc[0] - corner) @ way) < 0


def test_leads_lie_in_the_waste_and_the_parts_come_out_true():
    made = make_sheets([(ROOM, 6), (RING, 2)], read_material("mdf"), machine(lead_in=1.5, overcut=0.2))
    files = sheet_files(made)
    assert audit_sheets(made, files) == []
    document = modelspace(files, "mdf-01.dxf")
    assert dict(document.header.custom_vars.properties)["lead-ins"] == "1.5 mm on a quarter of a circle in the waste"
    plain = make_sheets([(ROOM, 6), (RING, 2)], read_material("mdf"), LASER)
    outlines = [s.points for s in plain.sheets[0].drawing.strokes if s.layer == "CUT_OUTER"]
    holes = [s.points for s in plain.sheets[0].drawing.strokes if s.layer == "CUT_INNER"]
    cuts = list(document.modelspace().query("LWPOLYLINE[layer=='CUT_OUTER' | layer=='CUT_INNER']"))
    assert len(cuts) == len(outlines) + len(holes)
    for cut in cuts:
        start = LineString([p[:2] for p in list(cut.get_points())[:2]])
        in_part = any(Polygon(o).covers(start) for o in outlines)
        in_hole = any(Polygon(h).contains(start) for h in holes)
        assert in_hole == (cut.dxf.layer == "CUT_INNER")
        assert in_part == in_hole
    assert any("arc of 1.5 mm in the waste" in note.words for note in made.notes)


def test_an_outline_without_room_goes_without():
    tight = machine(lead_in=10.0)
    made = make_sheets([(ROOM, 12)], read_material("mdf"), tight)
    (said,) = {dict(sheet.drawing.remarks)["lead-ins"] for sheet in made.sheets[:1]}
    assert "none on" in said
    assert audit_sheets(made, sheet_files(made)) == []


def test_the_auditor_sees_a_lead_that_enters_a_part():
    made = make_sheets([(ROOM, 2)], read_material("mdf"), machine(lead_in=1.5))
    document = modelspace(sheet_files(made), "mdf-01.dxf")
    cuts = list(document.modelspace().query("LWPOLYLINE[layer=='CUT_OUTER']"))
    assert audit_document(document) == []
    points = [tuple(p) for p in cuts[0].get_points()]
    inside = Polygon([p[:2] for p in points[6:]]).representative_point()
    cuts[0].set_points([(inside.x, inside.y, 0, 0, 0), *points[6:]])
    assert {finding.number for finding in audit_document(document)} >= {12}


def test_lead_ins_do_not_go_with_tabs_or_swivels():
    for other in ({"tab_width": 0.3}, {"swivel": True}, {"common_lines": True}, {"shape": "one line"}):
        with pytest.raises(InputError, match="lead_in"):
            make_sheets([(ROOM, 1)], read_material("mdf"), machine(lead_in=1.5, **other))


# Common practice, no source: 2 to 1 in card, none within 1 to 2 mm of an end.
def test_dashes():
    for length, number in [(30.0, 9), (10.0, 2), (5.0, 1), (2.0, 1)]:
        rules = PathRules(perforate=["CREASE"])
        found = [LineString(dash) for dash in dashes(LineString([(0, 0), (length, 0)]), rules)]
        assert len(found) == number
        low, high = found[0].bounds[0], length - found[-1].bounds[2]
        assert low == pytest.approx(high)
        assert min(low, high) >= (1.5 if length >= 5 else length / 3) - 1e-9
        if number > 1:
            assert all(dash.length == pytest.approx(2.0) for dash in found)
            gaps = [b.bounds[0] - a.bounds[2] for a, b in itertools.pairwise(found)]
            assert min(gaps) >= 1.0 - 1e-9
            assert max(gaps) - min(gaps) < 1e-9


def test_perforated_creases_are_written_as_dashes():
    card = read_material("card")
    plain = make_sheets([(ROOM, 1)], card, LASER)
    made = make_sheets([(ROOM, 1)], card, machine(perforate=["CREASE"]))
    files = sheet_files(made)
    assert audit_sheets(made, files) == []
    lengths = [sum(s.drawing.length("CREASE") for s in each.sheets) for each in (plain, made)]
    assert 0.5 < lengths[1] / lengths[0] < 0.7
    dash = modelspace(files, "card-01.dxf").modelspace().query("LWPOLYLINE[layer=='CREASE']")
    assert max(LineString([p[:2] for p in e.get_points()]).length for e in dash) <= 2.0 + 1e-9
    scores = [sum(s.drawing.length("SCORE") for s in each.sheets) for each in (plain, made)]
    assert scores[0] == scores[1]
    assert any("perforations" in note.words for note in made.notes)


def test_numbers_are_never_upside_down():
    """A part turned by half has its number where it was, written the other way up."""
    (part, *_) = list_parts([(ROOM, 1)], read_material("mdf")).parts
    paths = PartPaths.of(part, 0.15)
    strokes = len(paths.number.strokes)
    assert strokes
    straight, half = (paths.paths(nominal=False, turned=False, half=h)["ENGRAVE"][:strokes] for h in (False, True))
    moved = [a.points - b.points for a, b in zip(straight, half, strict=True)]
    assert np.ptp(np.vstack(moved), axis=0) == pytest.approx((0, 0), abs=1e-9)
    size = np.array(paths.size)
    low = np.vstack([t.points for t in straight]).min(axis=0)
    high = np.vstack([t.points for t in half]).max(axis=0)
    assert high == pytest.approx(size - low)
