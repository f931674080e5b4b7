"""Connectors in board: layers cut out, slots for magnets, what a machine can't hold, the jig."""

import pytest
import shapely
from shapely.geometry import Polygon, box

from tests.unit.test_connectors import PLAIN, grid_with
from tilegen.files.stock import read_machine, read_material
from tilegen.making.things import position_notes
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files
from tilegen.sheets.templates import jig_drawing
from tilegen.tiles.loose import make_key
from tilegen.tiles.tile import make_tile


def test_slots_for_magnets_are_cut_out_of_board():
    grid = grid_with("slots", magnet_diameter=3.0)
    made = make_sheets([(make_tile("t", PLAIN, grid), 1)], read_material("greyboard"), read_machine("laser"))
    assert audit_sheets(made, sheet_files(made)) == []
    slotted = [part for part in made.parts if part.outline.interiors]
    # 3.1 mm deep: two layers of 2 mm, sixteen slots of 3.2 x 2.2 each.
    assert [(part.count, len(part.outline.interiors)) for part in slotted] == [(2, 16)]
    assert Polygon(slotted[0].outline.interiors[0]).area == pytest.approx(3.2 * 2.2)


@pytest.mark.parametrize("kind", ["keys", "pegs"])
def test_layers_are_cut_out(kind):
    """Bases of three layers of board: those below the floor carry the connectors, the floor is plain."""
    grid = grid_with(kind)
    tile = make_tile("t", PLAIN, grid)
    things = [(tile, 1)] if kind == "pegs" else [(tile, 1), (make_key(grid), 3)]
    made = make_sheets(things, read_material("greyboard"), read_machine("laser"))
    assert audit_sheets(made, sheet_files(made)) == []
    bases = [part for part in made.parts if part.role == "base"]
    plain = [part for part in bases if part.outline.equals(box(*part.outline.bounds))]
    cut = [part for part in bases if part not in plain]
    assert sum(part.count for part in bases) == 3
    assert sum(part.count for part in cut) == (1 if kind == "keys" else 2)
    region = shapely.union_all([m.region for m in tile.base.marks if m.on == "under"])
    area = tile.base.foot.area - region.area
    if kind == "pegs":
        area += 8 * (4 * 3 - 0.5 * 0.5)
    assert cut[0].outline.area == pytest.approx(area, abs=1e-6)
    if kind == "keys":
        assert sum(part.count for part in made.parts if part.role == "key") == 3


def test_foam_of_one_layer_says_what_to_do():
    made = make_sheets(
        [(make_tile("t", PLAIN, grid_with("keys")), 1)], read_material("foam"), read_machine("hand-knife")
    )
    assert any("Hollow them out 3.3 mm deep" in note.words for note in made.notes)
    made = make_sheets(
        [(make_tile("t", PLAIN, grid_with("magnets")), 1)], read_material("foam"), read_machine("hand-knife")
    )
    assert any("bore a hole 4.2 mm wide and 2.3 mm deep" in note.words for note in made.notes)


def test_a_machine_less_exact_than_the_pockets_is_told():
    tile = make_tile("t", PLAIN, grid_with("keys"))
    (message,) = position_notes([(tile, 1)], "knife", 0.3)
    assert (message.level, message.cure) == ("decide", "Set position_error = 0.3 under [connectors].")
    assert position_notes([(tile, 1)], "printer", 0.2) == []


@pytest.mark.parametrize("choice", ["magnets", "slots", "keys"])
def test_the_jig_lies_on_the_tile(choice):
    """Folded back along its crease the jig's holes are the pockets of every side."""
    grid = grid_with(choice)
    drawing = jig_drawing(grid)
    crease = next(s for s in drawing.strokes if s.layer == "CREASE").points
    (x0, fold), (x1, _) = crease
    assert x1 - x0 == pytest.approx(grid.tile_side - grid.joint_play)
    holes = [Polygon(s.points) for s in drawing.strokes if s.layer == "CUT_INNER"]
    base = make_tile("t", PLAIN, grid).base
    half = grid.half_play
    if choice == "magnets":
        # The north side, seen from outside: left is east.
        mark = next(m for m in base.marks if m.on == "rim" and m.edge[0][1] == m.edge[1][1] > 10)
        wanted = {
            (round(grid.tile_side - half - (mark.edge[0][0] + g.centroid.x), 3), round(g.centroid.y, 3))
            for g in mark.region.geoms
        }
        found = {(round(h.centroid.x - x0, 3), round(h.centroid.y - fold, 3)) for h in holes}
        assert found == wanted
    else:
        mark = next(m for m in base.marks if m.on == "under")
        north = [g for g in mark.region.geoms if g.centroid.y > grid.tile_side - 8]
        wanted = shapely.union_all(
            [
                Polygon([(grid.tile_side - half - x, -(grid.tile_side - half - y)) for x, y in g.exterior.coords])
                for g in north
            ]
        )
        found = shapely.union_all([shapely.affinity.translate(h, -x0, -fold) for h in holes])
        # Pockets that open towards the rim stop half a millimetre short of the crease.
        assert found.symmetric_difference(wanted).area <= 0.5 * sum(g.bounds[2] - g.bounds[0] for g in north)
        assert wanted.covers(found.buffer(-1e-6))
