"""Kits against the rules written a second time, and against themselves turned, mirrored and doubled."""

import numpy as np
import pytest
from hypothesis import given, settings

from tests.oracle import Plain, mirrored
from tests.plans import by_id, counts, drawings, furnished, plan
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.fit.floor import way_widths
from tilegen.model.grid import DoorwaySize, Grid
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit
from tilegen.plans.ways import Way

TURN = {"north": "east", "east": "south", "south": "west", "west": "north"}


def turn_plan(rows, ways, walls):
    """A quarter turn clockwise."""
    height = len(rows)
    turned = ["".join(rows[height - 1 - c][r] for c in range(height)) for r in range(len(rows[0]))]

    def move(c, r, side):
        return height + 1 - r, c, TURN[side]

    return turned, {move(*k): v for k, v in ways.items()}, {move(*k) for k in walls}


def mirror_plan(rows, ways, walls):
    width = len(rows[0])
    swap = {"east": "west", "west": "east"}

    def move(c, r, side):
        return width + 1 - c, r, swap.get(side, side)

    return [row[::-1] for row in rows], {move(*k): v for k, v in ways.items()}, {move(*k) for k in walls}


@settings(max_examples=20, deadline=None)
@given(furnished())
def test_counts_agree_with_the_plain_rules(made):
    rows, ways, walls = made
    assert counts(make_kit(plan(rows, ways, walls))) == dict(Plain(rows, ways, walls).types())


@settings(max_examples=12, deadline=None)
@given(furnished())
def test_every_place_and_turn_gives_back_the_cell(made):
    rows, ways, walls = made
    plain = Plain(rows, ways, walls)
    from tests.oracle import turned

    for t in make_kit(plan(rows, ways, walls)).types:
        for column, row, turns in t.places.tolist():
            pose = (t.tile.shape.edges, t.tile.shape.posts)
            earlier = []
            for _ in range(turns):
                earlier.append(pose)
                pose = turned(*pose)
            assert pose == plain.cell(column, row)
            assert pose not in earlier, "a smaller turn would do"


@settings(max_examples=12, deadline=None)
@given(furnished())
def test_a_turned_plan_gives_the_same_kit(made):
    first = by_id(make_kit(plan(*made)))
    for _ in range(4):
        made = turn_plan(*made)
        assert by_id(make_kit(plan(*made))) == first


@settings(max_examples=12, deadline=None)
@given(furnished())
def test_a_mirrored_plan_gives_the_mirrored_kit(made):
    first = counts(make_kit(plan(*made)))
    other = counts(make_kit(plan(*mirror_plan(*made))))
    assert other == {mirrored(*key): number for key, number in first.items()}


@settings(max_examples=12, deadline=None)
@given(drawings())
def test_doubled_at_5_ft_it_is_the_same_kit(rows):
    doubled = ["".join(c * 2 for c in row) for row in rows for _ in range(2)]
    large, small = make_kit(plan(rows)), make_kit(plan(doubled, scale="5 ft"))
    assert by_id(small) == by_id(large)
    assert counts(small) == counts(large)
    assert {t.name for t in small.types} == {t.name for t in large.types}


@settings(max_examples=20, deadline=None)
@given(drawings())
def test_at_5_ft_a_turned_plan_needs_as_many_tiles(rows):
    kits = []
    made = (rows, {}, set())
    for _ in range(4):
        kits.append(make_kit(plan(made[0], scale="5 ft")))
        made = turn_plan(*made)
    assert len({k.tiles for k in kits}) == 1
    assert len({len(k.types) for k in kits}) == 1


def test_an_extra_wall_stands_on_both_tiles():
    kit = make_kit(plan(["AA"], walls={(1, 1, "east")}))
    assert [(t.name, t.count) for t in kit.types] == [("closed", 2)]


def test_a_post_fills_the_corner_between_two_walls():
    """Four rooms meet at a point; the open one of them would show a hole there."""
    kit = make_kit(plan(["AA", "AB"]))
    found = {tuple(p[:2]): t for t in kit.types for p in t.places.tolist()}
    # Cell 1,1: its east and south sides are open; the lines beyond, B's west and north walls, both carry.
    assert found[1, 1].name == "corner-with-post"


def test_two_rooms_in_one_block_are_one_tile_with_the_wall_inside():
    kit = make_kit(plan(["AB", "AB"], scale="5 ft"))
    assert kit.tiles == 1
    walls = [p for p in kit.types[0].tile.plates if p.role == "wall"]
    # Two cells 31.75 wide, each with its own strip along the shared line: two thicknesses.
    inner = [p for p in walls if 25 < p.foot.centroid.x < 38]
    assert sum(p.foot.area for p in inner) > 2 * 6.35 * 40


def test_a_footprint_that_falls_apart_is_two_tiles():
    kit = make_kit(plan(["A.", ".A"], scale="5 ft"))
    # On the plain lattice both lie in one block and touch at a corner only; any lattice needs two tiles.
    assert kit.tiles == 2
    assert [t.name for t in kit.types] == ["quarter-closed"]


def test_the_lattice_with_the_fewest_tiles_is_chosen():
    rows = [".....", ".AA..", ".AA..", "....."]
    kit = make_kit(plan(rows, scale="5 ft"))
    assert (kit.tiles, kit.lattice) == (1, (1, 1))
    assert [t.name for t in kit.types] == ["closed"]
    assert kit.types[0].places.tolist() == [[2, 2, 0]]


def test_a_tile_of_three_spaces_holds_together():
    kit = make_kit(plan(["AA", "A."], scale="5 ft"))
    assert [t.count for t in kit.types if "three" in t.name] == [1]


def openings(kit):
    """Widths of all doorways, by the cell they lie in (10 ft plans)."""
    return {
        tuple(place[:2]): sorted(o.width for p in t.tile.plates for o in p.openings)
        for t in kit.types
        for place in t.places.tolist()
    }


def test_a_default_doorway_leaves_half_a_wall_of_jamb_on_each_side_of_the_clear_part():
    """On the default grid a 10 ft side has room for 1.1 in whatever meets it; a wider default shrinks."""
    assert openings(make_kit(plan(["AB"], {(1, 1, "east"): "doorway"}))) == {(1, 1): [27.94], (2, 1): [27.94]}
    wide = Grid(doorway=DoorwaySize(width=60.0))
    # A has walls at both ends of its door's side, 63.5 - 2 x 6.35 - 2 x 3.175; B's room goes on to the south.
    found = openings(make_kit(plan(["AB", ".B"], {(1, 1, "east"): "doorway"}, grid=wide)))
    assert found[1, 1] == pytest.approx([44.45])
    assert found[2, 1] == pytest.approx([44.45])
    found = openings(make_kit(plan([".B", "AB", ".B"], {(1, 2, "east"): "doorway"}, grid=wide)))
    assert found[1, 2] == pytest.approx([44.45])
    # B's side alone has room for 57.15, but both sides of one doorway are as wide as the narrower.
    assert found[2, 2] == pytest.approx([44.45])


def test_a_base_goes_through_the_narrower_of_two_openings():
    wide = Grid(doorway=DoorwaySize(width=60.0))
    made = plan([".B", "AB", ".B"], {(1, 2, "east"): "doorway"}, grid=wide)
    across, down = way_widths(made)
    assert down[1, 1] == pytest.approx(44.45)
    assert np.isinf(across[1, 1])
    assert down[0, 1] == 0.0


def test_an_explicit_width_must_fit_both_cells():
    narrow = Way((1, 2), "east", "doorway", width=50.0, place="[[way]] 1")
    with pytest.raises(InputError, match=r"44\.45"):
        draw(name="t", scale="10 ft", grid=Grid(), rooms=read_drawing(".B\nAB\n.B"), titles={}, ways=[narrow])
