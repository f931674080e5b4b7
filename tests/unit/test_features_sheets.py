"""Features cut from sheets: layers whose volume is the tile's, stairs that meet the floor above, what can't be cut."""

from __future__ import annotations

import math

import pytest
import shapely

from tests.footprints import outside_of_skin, same
from tests.kits.test_features import feature, furnished, profile
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.model.grid import Floor, Grid
from tilegen.plans.features import RoomHeights
from tilegen.plans.kit import make_kit
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files
from tilegen.sheets.parts import list_parts

FOAM, GREY, CARD = (read_material(name) for name in ("foam", "greyboard", "card"))
# A fifth of the base's depth: every height below is a whole number of such layers.
THIN = FOAM.model_copy(update={"thickness": 1.27, "glue_line": 0.0, "least_lintel": 0.0})
WHOLE = Grid(joint_play=0.0, floor=Floor(lines=False))


def all_sorts():
    """A plan with one of everything, on a grid that sheets of 1.27 mm make exactly."""
    things = [
        feature("pillar", (1, 1)),
        feature("pillar", (2, 1), size=(12.7, 12.7), round=True, height=25.4),
        feature("dais", (3, 1), (4, 1), at=(2.0, 1.0), size=(60.0, 40.0)),
        feature("pit", (1, 2), height=5.08),
        feature("pit", (2, 2), at=(1.0, 1.0), size=(20.0, 30.0), height=2.54),
        feature("well", (3, 2), size=(25.4, 25.4), rim_height=7.62, height=2.54),
        feature("stair", (4, 2), side="east", at=(1.5, 1.0), size=(30.0, 40.0)),
    ]
    heights = {"B": RoomHeights(12.7, 12.7)}
    return furnished(["AAAAB", "AAAAB"], things, heights, grid=WHOLE, ways={(4, 2, "east"): "open"})


def test_the_layers_volume_is_the_tiles():
    for kind in make_kit(all_sorts()).types:
        parts = list_parts([(kind.tile, 1)], THIN).parts
        volume = sum(part.outline.area * part.thickness * part.count for part in parts)
        assert volume == pytest.approx(kind.tile.volume, rel=1e-9), kind.name


def test_each_feature_is_cut_and_has_a_letter_of_its_own():
    kit = make_kit(all_sorts())
    parts = list_parts([(t.tile, t.count) for t in kit.types], THIN).parts
    assert {part.role for part in parts} == {"base", "wall", "pillar", "dais", "stair", "well"}
    assert {part.id[0] for part in parts if part.role == "pillar"} == {"C"}
    # Strips side by side where these are fewer (12.7 / 1.27 = 10, not 30); discs one above the other (25.4 / 1.27 = 20).
    assert sorted(part.count for part in parts if part.role == "pillar") == [10, 20]


def test_a_stair_of_sheets_ends_at_the_floor_it_leads_to():
    for rise in [6.35, 12.7, 19.05, 25.0]:
        for material in [FOAM, GREY, FOAM.model_copy(update={"thickness": 3.1})]:
            ways = {(1, 1, "east"): "open"}
            drawing = furnished(
                ["AB"], [feature("stair", (1, 1), side="east")], {"B": RoomHeights(None, rise)}, ways=ways
            )
            layers = {}
            for kind in make_kit(drawing).types:
                laid = list(construction_of(kind.tile.grid, material).lay(kind.tile).flats)
                layers[kind.name] = {
                    role: sum(part.layers for part in laid if part.role == role) for role in ("base", "stair")
                }
            low = next(counts for name, counts in layers.items() if "stair" in name)
            high = next(counts for name, counts in layers.items() if "raised" in name)
            assert low["base"] + low["stair"] == high["base"]


def test_residual_and_shim_are_said(tmp_path):
    tile = profile(tmp_path, '[[feature]]\nkind = "dais"\nheight = "13 mm"\nat = [1, 1]\nsize = "20 mm"')
    notes = [note.words for note in list_parts([(tile, 1)], FOAM).notes]
    # 19.35 mm are three layers of 6, the base one of them: two for 13.
    assert (
        "Daises: 2 layers of 6 mm, glued to 12 mm, 1 mm less than planned. Level it with 3 layers of 0.3 mm card."
        in notes
    )


def test_walls_stand_on_the_upper_layers_of_the_base(tmp_path):
    tile = profile(tmp_path, '[[feature]]\nkind = "pit"\nat = [1, 1]\nsize = "20 mm"\ndepth = "3 mm"')
    (made,) = make_sheets([(tile, 1)], GREY, read_machine("laser")).assemblies
    parts = {part.uses[0].plate: part.number for part in list_parts([(tile, 1)], GREY).parts if part.role == "base"}
    assert "2 layers" in made.before
    assert made.steps[0] == f"Base: {parts['base']} on top, {parts['base']} below"
    # Then what of the base is above the pit's floor, on which the walls stand.
    assert [part.role for part in made.parts][:2] == ["base", "wall"]
    assert made.steps[1] == f"{parts['base 1 from 3.35 mm']} as drawn"


def test_a_pit_in_one_layer_goes_right_through(tmp_path):
    tile = profile(tmp_path, '[[feature]]\nkind = "pit"\nat = [1, 1]\nsize = "20 mm"')
    (base,) = [part for part in list_parts([(tile, 1)], FOAM).parts if part.role == "base"]
    assert base.outline.area == pytest.approx(63.2**2 - 400)
    assert any("goes right through" in note.words for note in list_parts([(tile, 1)], FOAM).notes)
    layers = {len(p.outline.interiors): p.count for p in list_parts([(tile, 1)], GREY).parts if p.role == "base"}
    assert layers == {0: 1, 1: 2}


@pytest.mark.parametrize("kind", ["pit", "well"])
def test_a_hollow_is_not_folded(kind, tmp_path):
    tile = profile(tmp_path, f'[[feature]]\nkind = "{kind}"')
    with pytest.raises(InputError, match=f"the {kind} in .* can't be folded"):
        list_parts([(tile, 1)], CARD)


@pytest.mark.parametrize(
    ("feature", "machine"),
    [('kind = "well"', "drag-knife"), ('kind = "pillar"\nround = true\nsize = "1.25 in"', "laser")],
)
def test_what_is_round_comes_out_true(feature, machine, tmp_path):
    made = make_sheets([(profile(tmp_path, f"[[feature]]\n{feature}"), 1)], GREY, read_machine(machine))
    assert audit_sheets(made, sheet_files(made)) == []


def test_daises_and_square_pillars_are_folded(tmp_path):
    tile = profile(
        tmp_path,
        '[[feature]]\nkind = "dais"\nat = [0.9, 0.9]\nsize = "20 mm"\n[[feature]]\nkind = "pillar"\nat = [1.6, 1.6]\n',
    )
    flats = list(construction_of(tile.grid, CARD).lay(tile).flats)
    laid = {part.role: part for part in flats if part.form != "core"}
    assert [part.role for part in flats if part.form == "core"] == ["base", "dais"]
    assert laid["dais"].form == "folded skin"
    assert laid["pillar"].form == "folded box"
    (dais,) = [plate for plate in tile.plates if plate.role == "dais"]
    west, south, _, _ = dais.foot.bounds
    assert same(outside_of_skin(laid["dais"], CARD), shapely.transform(dais.foot, lambda p: p - (west, south)), 1e-6)


@pytest.mark.parametrize(
    "name",
    [
        "foam",
        "mdf",
        "foam-core",
    ],
)
def test_the_demonstration_plan_is_cut_from_every_kind_of_stock(name):
    kit = make_kit(read_plan(find("hill-shrine", "plans")))
    made = list_parts([(t.tile, t.count) for t in kit.types], read_material(name))
    assert {"pillar", "dais", "stair"} <= {part.role for part in made.parts}
    assert all(part.outline.is_valid and part.outline.area > 0 for part in made.parts)


def test_round_pillars_of_thin_card_are_refused_with_a_cure(tmp_path):
    tile = profile(tmp_path, '[[feature]]\nkind = "pillar"\nsize = "20 mm"\nround = true')
    with pytest.raises(InputError, match="thicker stock"):
        list_parts([(tile, 1)], CARD, ConstructionChoice("stacked"))


def test_a_round_pillar_of_card_is_a_strip_rolled_round_two_discs():
    plan = furnished(["A"], [feature("pillar", (1, 1), size=(25.4, 25.4), round=True)], grid=WHOLE)
    parts = list_parts([(make_kit(plan).types[0].tile, 1)], CARD).parts
    strip, disc = (next(p for p in parts if p.role == "pillar" and p.form == form) for form in ("rolled strip", "cap"))
    # The middle of the card, half a millimetre thick, keeps its length: pi (d - t).
    assert sorted(strip.size) == pytest.approx(sorted((math.pi * (25.4 - 0.5), 38.1)), abs=0.01)
    assert (strip.count, disc.count) == (1, 2)
    assert disc.size == pytest.approx((24.4, 24.4), abs=0.1)
