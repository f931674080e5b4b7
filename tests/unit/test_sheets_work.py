"""Glue by weight, minutes of work and passes of strips cut on each other."""

import csv
import io
from pathlib import Path

import pytest

from tests.calling import call
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.files.writing import csv_bytes
from tilegen.model.grid import Grid
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.saw import Fence, SawLine, SawStep
from tilegen.sheets.sheetset import Gluing
from tilegen.tiles.shape import WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
ROOM = make_tile("room", single_cell(Cell((WALL, WALL, WALL, WALL)), (2, 2)), GRID)
FOAM, KNIFE, WIRE = read_material("foam"), read_machine("hand-knife"), read_machine("hot-wire")


# Face bonds of 150 to 200 g/m2, beads of 3 to 5 g/m (from memory, not verified): the shipped figures lie between.
def test_glue_by_area_and_length():
    assert Gluing(2.0, 10.0, 3).grams(FOAM) == pytest.approx(2 * 175 + 10 * 4)
    assert 150 <= FOAM.gluing.face <= 200
    assert 3 <= FOAM.gluing.bead <= 5
    own = FOAM.model_copy(update={"gluing": FOAM.gluing.model_copy(update={"face": 100.0, "bead": 0.0})})
    assert Gluing(2.0, 10.0, 3).grams(own) == 200


def test_what_there_is_to_glue_in_a_room():
    """By hand: two layers of 3 mm under 6.35, four walls of two layers in pinwheel."""
    thin = FOAM.model_copy(update={"thickness": 3.0})
    made = make_sheets([(ROOM, 5)], thin, KNIFE)
    assert [c.base.layers for c in made.constructions] == [2]
    # Walls stand back from the edge: their inner faces lie 6.35 from the line, whatever they measure.
    wall = 63.5 - 2 * (6.35 - 6.0) - 6.0
    faces = 5 * (63.2**2 + 4 * wall * 38.1) / 1e6
    assert made.gluing.faces == pytest.approx(faces, rel=1e-9)
    assert made.gluing.beads == pytest.approx(5 * 4 * (wall + 38.1) / 1e3)
    assert made.gluing.joints == 5 * (1 + 4 * 2)


def test_minutes_by_the_figures_of_the_files():
    """Common practice, no source: t = cuts x 20 s + metres by strokes + joints x 60 s."""
    made = make_sheets([(ROOM, 5)], FOAM, KNIFE)
    saw = made.saw
    assert saw is not None
    strokes = FOAM.process["hand-knife"].strokes
    cutting = saw.passes * 20 + saw.metres * strokes * 10
    assert saw.minutes == pytest.approx(cutting / 60)
    assert made.minutes == pytest.approx((cutting + made.count * 60 + made.gluing.joints * 60) / 60)
    # A laser cuts by itself: what is left is laying sheets in, and glue.
    by_laser = make_sheets([(ROOM, 5)], read_material("mdf"), read_machine("laser"))
    assert by_laser.minutes == pytest.approx((by_laser.count * 120 + by_laser.gluing.joints * 60) / 60)


def test_strips_cut_on_each_other():
    """Passes / j, rounded up for each kind of strip; rips stay sheet by sheet (common practice, no source)."""
    steps = (SawStep("S1", 5, 0, (("A", 4),), 20), SawStep("S2", 1, 0, (("A", 3),), 3))
    line = SawLine("C50", 2, 50.0, 50.0, steps, 1.0, 50.0)
    assert [line.at_one_go(j) for j in (1, 2, 3, 5)] == [23, 15, 11, 7]
    assert SawLine("R50", 1, 50.0, 50.0, steps, 1.0, 50.0).at_one_go(5) == 23
    assert line.minutes(Fence(1.0, 5.0, together=2, seconds=(20.0, 0.0))) == pytest.approx(15 * 20 / 60)


def test_the_saw_list_says_minutes_and_pieces_and_what_stacking_saves():
    stacked = WIRE.model_copy(update={"stack_height": 24.0})
    made = make_sheets([(ROOM, 40)], FOAM, stacked)
    assert made.saw is not None
    assert made.saw.fence.together == 4
    assert made.saw.at_one_go < made.saw.passes
    rows = list(csv.DictReader(io.StringIO(sheet_files(made)["foam-saw.csv"].decode())))
    steps = [row for row in rows if row["setting"].startswith(("R", "C"))]
    assert all(row["pieces"] and row["minutes"] for row in steps)
    assert sum(int(row["passes"]) for row in rows if row["step"] and row["passes"]) == made.saw.passes
    (head,) = (row for row in rows if row["setting"] == "passes")
    assert head["out"].startswith(f"{made.saw.at_one_go}, 4 strips")
    notes = [row["note"] for row in steps if "strips on each other" in row["note"]]
    assert notes
    single = make_sheets([(ROOM, 40)], FOAM, WIRE)
    assert single.saw is not None
    assert single.saw.at_one_go == single.saw.passes == made.saw.passes


def test_shopping_weighs_glue_and_reckons_hours(demonstration, small, tmp_path):
    rows = list(csv.DictReader((demonstration.folder / "shopping.csv").read_text().splitlines()))
    (glue,) = (row for row in rows if "glue" in row["item"])
    assert glue["unit"] == "g"
    assert 20 < int(glue["quantity"]) < 500
    (work,) = (row for row in rows if "work by hand" in row["item"])
    assert 1 < float(work["quantity"]) < 40
    assert "24 hours to dry" in work["note"]
    own = tmp_path / "own.toml"
    own.write_text(find("foam", "materials").read_text().replace("bead = 4", "bead = 40"))
    grams = []
    for material in ("foam", own):
        folder = tmp_path / Path(material).stem
        assert call("build", small, "--material", material, "-o", folder, "-q").returncode == 0
        rows = csv.DictReader((folder / "small/shopping.csv").read_text().splitlines())
        grams += [int(row["quantity"]) for row in rows if "glue" in row["item"]]
    assert grams[1] > 5 * grams[0] > 0


def test_lists_have_the_line_ends_of_rfc_4180(demonstration):
    assert csv_bytes([("a", 1), ("=b", "c,d")]) == b'a,1\r\n\'=b,"c,d"\r\n'
    lists = [f["path"] for f in demonstration.said["files"] if f["kind"] == "csv"]
    assert len(lists) >= 6
    for path in lists:
        content = Path(path).read_bytes()
        assert content.count(b"\n") == content.count(b"\r\n") > 0
