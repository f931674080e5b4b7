"""The contract's worked example, computed outside this project."""

import json

import pytest

from tests.plans import PLAIN_FLOOR, WORKED, WORKED_WAYS, plan
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.plans.record import kit_json
from tilegen.solids.build import build_mesh
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

DOORWAY = Side("doorway", make_opening(63.5, Grid()))
NO_POSTS = (False,) * 4
OPPOSITE_POST = (False, True, False, False)


def test_volumes():
    for sides, posts, base, standing in [
        ((OPEN, OPEN, OPEN, OPEN), NO_POSTS, 25363.424, 0.0),
        ((WALL, OPEN, OPEN, OPEN), NO_POSTS, 25363.424, 14929.104),
        ((WALL, OPEN, OPEN, WALL), NO_POSTS, 25363.424, 28393.644),
        ((WALL, OPEN, OPEN, WALL), OPPOSITE_POST, 25363.424, 29858.208),
        ((OPEN, WALL, OPEN, WALL), NO_POSTS, 25363.424, 29858.208),
        ((WALL, WALL, OPEN, WALL), NO_POSTS, 25363.424, 41858.184),
        ((WALL, WALL, WALL, WALL), NO_POSTS, 25363.424, 53858.160),
        ((DOORWAY, OPEN, OPEN, OPEN), NO_POSTS, 25363.424, 9649.115),
    ]:
        tile = make_tile("t", single_cell(Cell(sides, posts), (2, 2)), PLAIN_FLOOR)
        assert tile.base.volume == pytest.approx(base, abs=1e-9)
        assert sum(p.volume for p in tile.plates[1:]) == pytest.approx(standing, abs=5e-4)
        assert tile.volume == pytest.approx(build_mesh("t", tile.plates).volume, abs=1e-9 * tile.volume)


def test_plates_are_as_long_as_the_page_says():
    tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), PLAIN_FLOOR)
    assert tile.base.foot.bounds == pytest.approx((0.15, 0.15, 63.35, 63.35))
    north, west = tile.plates[1:]
    assert (north.length, north.thickness, north.height) == pytest.approx((63.2, 6.2, 38.1))
    assert west.length == pytest.approx(57.0)


def test_the_plan():
    document = json.loads("".join(kit_json(make_kit(plan(WORKED, WORKED_WAYS)))))
    found = {
        (tuple(t["edges"]), tuple(t["posts"])): (t["count"], sorted(map(tuple, (p["cell"] for p in t["places"]))))
        for t in document["tiles"]
    }
    o, w, d = "open", "wall", "doorway"
    assert found == {
        ((o, o, w, w), ()): (5, [(1, 1), (1, 2), (3, 1), (5, 2), (5, 3)]),
        ((o, o, o, w), ()): (2, [(2, 1), (2, 2)]),
        ((d, w, o, o), ()): (2, [(3, 2), (4, 2)]),
        ((o, w, o, w), ()): (2, [(2, 3), (3, 3)]),
        ((o, w, w, w), ()): (1, [(1, 3)]),
        ((o, o, o, w), ("north-east",)): (1, [(4, 3)]),
    }
    assert document["totals"] == {"tiles": 13, "types": 6}
    assert [(p["name"], p["count"], p["places"]) for p in document["pieces"]] == [
        ("saddle-door", 1, [{"cell": [3, 3], "side": "east"}])
    ]
    assert document["grid"]["pitch_mm"] == 31.75
    assert document["grid"]["spaces"] == 2
    assert document["grid"]["wall_thickness_mm"] == 6.35
