"""The narrowest strip or neck: what a process can't make is refused, what it makes badly is named."""

import pytest
from shapely.geometry import Point, Polygon, box

from tests.calling import call
from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.sheets.footprints import narrow_places
from tilegen.sheets.make import make_sheets
from tilegen.sheets.parts import least_feature
from tilegen.tiles.shape import Cell, single_cell
from tilegen.tiles.tile import make_tile

BLOCK = box(0, 0, 40, 20)


def widths(outline, least=3.0):
    return [round(narrow.width, 2) for narrow in narrow_places(outline, least)]


# Shapes whose narrow places are drawn by hand (derived).
def test_narrow_places():
    for outline, expected in [
        (BLOCK, []),
        (box(0, 0, 40, 2), [2.0]),
        (box(0, 0, 40, 2.5).union(box(0, 0, 1.5, 20)), [1.5]),
        (BLOCK.union(box(40, 5, 60, 7.5)), [2.5]),
        (BLOCK.union(box(40, 5, 60, 8)), []),
        # A nub is as short as it is narrow: nothing that breaks.
        (BLOCK.union(box(40, 5, 41, 6)), []),
        # A neck breaks however short it is.
        (BLOCK.union(box(40, 5, 41, 7)).union(box(41, 0, 60, 20)), [2.0]),
        # A sharp corner is no strip.
        (Polygon([(0, 0), (60, 0), (60, 10)]), []),
        (BLOCK.difference(box(10, 2, 20, 10)), [2.0]),
        (BLOCK.difference(Point(20, 5).buffer(3.5)), [1.5]),
        (BLOCK.difference(Point(20, 10).buffer(5)), []),
    ]:
        assert widths(outline) == pytest.approx(expected, abs=0.02)


def test_the_place_is_in_the_neck():
    neck = BLOCK.union(box(40, 5, 50, 7)).union(box(50, 0, 60, 20))
    ((_, x, y),) = narrow_places(neck, 3.0)
    assert 40 <= x <= 50
    assert 5 <= y <= 7


# Wire: three kerfs and 3 mm cut well; laser: one thickness; knife: one and a half and 2 mm (common practice, no source).
def test_figures_of_the_shipped_machines():
    for name in ("hot-wire", "cnc-hot-wire"):
        machine = read_machine(name)
        assert (machine.good_feature.width, machine.good_feature.kerfs) == (3.0, 3.0)
    assert read_machine("laser").good_feature.thicknesses == 1
    for name in ("hand-knife", "drag-knife"):
        assert (read_machine(name).good_feature.width, read_machine(name).good_feature.thicknesses) == (2.0, 1.5)


def test_the_largest_rule_counts_and_the_material_has_the_last_word():
    foam, wire = read_material("foam"), read_machine("hot-wire")
    assert least_feature(foam, wire) == 2.5
    assert least_feature(foam, wire.model_copy(update={"kerf": 1.4})) == pytest.approx(3.5)
    said = foam.process["hot-wire"].model_copy(update={"least_feature": 1.0})
    assert least_feature(foam.model_copy(update={"process": {**foam.process, "hot-wire": said}}), wire) == 1.0


def test_parts_that_are_too_narrow_are_refused_by_name(tmp_path):
    text = '[tile]\nsize = [2, 2]\nwalls = ["north", "west"]\n[[opening]]\nwall = "north"\nwidth = "20 mm"\nat = '
    for at, code in ((1.4, 0), (1.615, 2)):
        path = tmp_path / "narrow.toml"
        path.write_text('name = "narrow"\n' + f"{text}{at}\n")
        done = call("sheet", path, "--wall", "4 mm", "--machine", "hot-wire", "-o", tmp_path / str(at))
        assert done.returncode == code, done.stderr
    assert "of narrow (2.07 mm)" in done.stderr
    assert "cuts from foam is 2.5 mm wide" in done.stderr
    assert "least_feature" in done.stderr
    assert not (tmp_path / "1.615").exists()


def test_what_is_made_badly_is_named():
    tile = make_tile("posts", single_cell(Cell(posts=(True, False, False, False)), (2, 2)), Grid())
    notes = make_sheets([(tile, 1)], read_material("foam"), read_machine("hand-knife")).notes
    assert any(note.words.startswith("Foam narrower than 9 mm") and "part P (6 mm)" in note.words for note in notes)
    with pytest.raises(InputError, match=r"P of posts \(6 mm\)"):
        knife = read_machine("hand-knife")
        wide = knife.least_feature.model_copy(update={"thicknesses": 1.5})
        make_sheets([(tile, 1)], read_material("foam"), knife.model_copy(update={"least_feature": wide}))
