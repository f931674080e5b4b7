"""One feature on its floor: boxes reckoned by hand, and each limit from both sides."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from tests.plans import wanted
from tilegen.errors import InputError
from tilegen.model.grid import Grid
from tilegen.plans.furnishing import FreeFloor, Spot, blocks_on, check_apart

# Two cells of 60 x 50 mm beside one another in the second row; walls of 6 mm to the north, and at both ends.
GRID = Grid(pitch=30.0, wall_thickness=6.0, wall_height=38.0, base_depth=5.0)
CLEAR = {(1, 1): (66.0, 56.0, 120.0, 100.0), (2, 1): (120.0, 56.0, 174.0, 100.0)}
STANDING = {
    (1, 1): [box(60, 50, 120, 56), box(60, 50, 66, 100)],
    (2, 1): [box(120, 50, 180, 56), box(174, 50, 180, 100)],
}
GROUND = FreeFloor(GRID, (60.0, 50.0, 180.0, 100.0), CLEAR, STANDING, (60.0, 50.0))
ALONE = FreeFloor(GRID, (60.0, 50.0, 120.0, 100.0), {(1, 1): CLEAR[1, 1]}, {(1, 1): STANDING[1, 1]}, (60.0, 50.0))


def made(ground=ALONE, rise=None, **given):
    return dict(blocks_on(wanted(**given), ground, rise=rise))


def boxes(spot):
    return [(b.west, b.south, b.east, b.north, b.bottom, b.top) for b in spot.blocks]


def refused(words, ground=ALONE, rise=None, **given):
    with pytest.raises(InputError) as caught:
        made(ground, rise, **given)
    assert words in caught.value.message


# --- where the blocks are ---


def test_a_pillar_without_measures_is_two_walls_thick_in_the_middle():
    ((cell, spot),) = made(kind="pillar").items()
    assert (cell, spot.area.bounds) == ((1, 1), (84, 69, 96, 81))
    assert boxes(spot) == [(-6, -6, 6, 6, 0, 38)]


def test_at_is_in_spaces_from_the_north_west_corner_of_the_cells():
    spot = made(kind="pillar", at=(0.5, 1.25), size=(8.0, 4.0), height=7.0)[1, 1]
    # West edge 60 + 15 - 4, north edge 50 + 37.5 - 2; the cell's centre is (90, 75), y turned to the north.
    assert spot.area.bounds == (71, 85.5, 79, 89.5)
    assert boxes(spot) == [(-19, -14.5, -11, -10.5, 0, 7)]


def test_without_size_a_dais_fills_the_floor_between_the_walls_of_all_its_cells():
    found = made(GROUND, kind="dais")
    assert {cell: spot.area.bounds for cell, spot in found.items()} == CLEAR
    assert boxes(found[1, 1]) == [(-24, -25, 30, 19, 0, 6.35)]
    assert boxes(found[2, 1]) == [(-30, -25, 24, 19, 0, 6.35)]


def test_with_a_size_a_feature_is_shared_out_at_the_line_between_cells():
    found = made(GROUND, kind="dais", at=(2.1, 1.0), size=(16.0, 20.0))
    # Around x = 60 + 63 = 123: from 115 to 131, y from 70 to 90.
    assert {cell: spot.area.bounds for cell, spot in found.items()} == {
        (1, 1): (115, 70, 120, 90),
        (2, 1): (120, 70, 131, 90),
    }
    assert boxes(found[1, 1]) == [(25, -15, 30, 5, 0, 6.35)]
    assert boxes(found[2, 1]) == [(-30, -15, -19, 5, 0, 6.35)]


def test_a_feature_up_to_the_line_between_cells_is_on_one_of_them():
    assert list(made(GROUND, kind="dais", at=(1.5, 1.0), size=(30.0, 20.0))) == [(1, 1)]
    assert list(made(GROUND, kind="pillar", at=(1.5, 1.0), size=(30.0, 20.0))) == [(1, 1)]


def test_each_step_of_a_stair_begins_a_tread_further_on():
    """24 x 36 mm about the centre, three steps up to 9 mm: treads of 12 or 8 mm, 3 mm high each."""
    for side, boxes_by_step in [
        ("north", [(-12, -18, 12, 18), (-12, -6, 12, 18), (-12, 6, 12, 18)]),
        ("south", [(-12, -18, 12, 18), (-12, -18, 12, 6), (-12, -18, 12, -6)]),
        ("east", [(-12, -18, 12, 18), (-4, -18, 12, 18), (4, -18, 12, 18)]),
        ("west", [(-12, -18, 12, 18), (-12, -18, 4, 18), (-12, -18, -4, 18)]),
    ]:
        spot = made(kind="stair", side=side, at=(1.0, 25 / 30), size=(24.0, 36.0), height=9.0, steps=3)[1, 1]
        assert boxes(spot) == [(*at, 3.0 * n, 3.0 * n + 3) for n, at in enumerate(boxes_by_step)]


def test_a_stair_over_two_cells_has_each_step_where_it_lies():
    found = made(GROUND, kind="stair", side="east", at=(2.0, 1.0), size=(40.0, 20.0), height=20.0, steps=4)
    # Treads of 10 mm from x = 100: two begin on the first cell, and all four lie on the second one.
    assert [b[:4] for b in boxes(found[1, 1])] == [(10, -15, 30, 5), (20, -15, 30, 5)]
    assert [b[0] for b in boxes(found[2, 1])] == [-30, -30, -30, -20]
    assert [b[4:] for b in boxes(found[2, 1])] == [(0, 5), (5, 10), (10, 15), (15, 20)]


def test_a_stair_without_steps_has_as_many_as_are_usual():
    """A quarter of an inch a step, rounded (common practice, no source), and at least one."""
    for rise, steps in [(2.0, 1), (6.35, 1), (9.0, 1), (10.0, 2), (12.7, 2), (19.0, 3)]:
        spot = made(kind="stair", side="north", at=(1.0, 25 / 30), size=(24.0, 36.0), rise=rise)[1, 1]
        assert len(spot.blocks) == steps
        assert max(b.top for b in spot.blocks) == rise


def test_a_pit_goes_down_as_far_as_its_floor_allows():
    """A base of 5 mm less a floor of 1.2 mm (common practice, no source)."""
    assert boxes(made(kind="pit")[1, 1])[0][4:] == (-3.8, 0)
    assert boxes(made(kind="pit", height=3.8)[1, 1])[0][4:] == (-3.8, 0)
    assert boxes(made(kind="pit", height=0.5)[1, 1])[0][4:] == (-0.5, 0)
    refused("a pit can't be 3.81 mm deep in a base of 5 mm. Use at most 3.8 mm", kind="pit", height=3.81)
    refused("a pit can't be 0 mm deep", kind="pit", height=0.0)
    slight = FreeFloor(Grid(pitch=30.0, wall_thickness=6.0, base_depth=2.0), *list(vars(ALONE).values())[1:])
    assert boxes(made(slight, kind="pit")[1, 1])[0][4:] == (-0.8, 0)
    thin = FreeFloor(Grid(pitch=30.0, wall_thickness=6.0, base_depth=1.2), *list(vars(ALONE).values())[1:])
    refused("a base of 1.2 mm is too thin for a pit", thin, kind="pit")


def test_places_are_kept_to_a_nanometre():
    """So that what is the same up to a quarter turn is so to the last bit."""
    spot = made(kind="stair", side="east", at=(1.0, 0.9), size=(20 / 3, 10 / 3), height=1 / 3, steps=2)[1, 1]
    # The middle is (90, 77): 2 mm south of the cell's.
    assert boxes(spot) == [
        (-3.333333, -3.666667, 3.333333, -0.333333, 0, 0.166667),
        (0, -3.666667, 3.333333, -0.333333, 0.166667, 0.333333),
    ]


def test_cells_one_under_the_other_share_a_feature_in_the_same_way():
    """The second cell is walled in to the south and to the east."""
    clear = {(0, 0): (6.0, 6.0, 60.0, 50.0), (0, 1): (0.0, 50.0, 54.0, 94.0)}
    column = FreeFloor(GRID, (0.0, 0.0, 60.0, 100.0), clear, {cell: [] for cell in clear}, (60.0, 50.0))
    assert [s.area.bounds for s in made(column, kind="dais").values()] == list(clear.values())
    found = made(column, kind="dais", at=(1.0, 1.75), size=(20.0, 10.0))
    assert [s.area.bounds for s in found.values()] == [(20, 47.5, 40, 50), (20, 50, 40, 57.5)]
    refused("only 1.5 mm of this feature lies on cell [1, 2]", column, kind="dais", at=(1.0, 1.6), size=(20.0, 7.0))
    refused("only 1.5 mm of this feature lies on cell [1, 1]", column, kind="dais", at=(1.0, 52 / 30), size=(20.0, 7.0))
    assert list(made(column, kind="dais", at=(1.0, 1.5), size=(20.0, 10.0))) == [(0, 0)]


# --- limits, from both sides ---


def test_a_part_on_a_cell_measures_two_millimetres_or_more():
    assert (2, 1) in made(GROUND, kind="dais", at=(1.9, 1.0), size=(10.0, 10.0))
    refused("only 1.9 mm of this feature lies on cell [3, 2]", GROUND, kind="dais", at=(1.9, 1.0), size=(9.8, 10.0))
    refused("only 1.9 mm of this feature lies on cell [2, 2]", GROUND, kind="dais", at=(2.1, 1.0), size=(9.8, 10.0))


def test_sizes_have_limits_both_ways():
    assert made(kind="dais", at=(1.0, 1.0), size=(2.0, 2.0))
    refused("a dais can't be 1.9 mm across", kind="dais", at=(1.0, 1.0), size=(1.9, 9.0))
    refused("a dais can't be 1.9 mm across", kind="dais", at=(1.0, 1.0), size=(9.0, 1.9))
    refused("a dais can't be 10001 mm across", kind="dais", at=(1.0, 1.0), size=(10001.0, 9.0))
    refused("beyond its squares", kind="dais", at=(1.0, 1.0), size=(10000.0, 9.0))


def test_heights_have_limits():
    assert boxes(made(kind="pillar", height=1000.0)[1, 1])[0][4:] == (0, 1000)
    assert boxes(made(kind="pillar", height=0.5)[1, 1])[0][4:] == (0, 0.5)
    refused("1000.1 mm high", kind="pillar", height=1000.1)
    refused("0 mm high", kind="pillar", height=0.0)
    refused("a stair needs the key height", kind="stair", side="north")


def test_a_feature_beyond_any_side_of_its_cells_is_refused_with_how_far():
    for at, over in [((0.2, 1.0), 4), ((1.8, 1.0), 4), ((1.0, 0.2), 4), ((1.0, 47 / 30), 7)]:
        refused(f"reaches {over} mm beyond its squares", kind="dais", at=at, size=(20.0, 20.0))


def test_a_feature_may_end_just_where_its_cells_do():
    assert made(kind="dais", at=(1.5, 25 / 30 + 0.5), size=(30.0, 20.0))[1, 1].area.bounds == (90, 80, 120, 100)


def test_a_feature_under_a_wall_says_how_far_and_beside_one_is_taken():
    refused(
        "this feature reaches 2 mm under a wall or post of cell [2, 2]", kind="dais", at=(0.3, 1.0), size=(10.0, 10.0)
    )
    refused(
        "this feature reaches 3 mm under a wall or post of cell [2, 2]", kind="dais", at=(1.0, 0.2), size=(20.0, 6.0)
    )
    assert made(kind="dais", at=(11 / 30, 1.0), size=(10.0, 10.0))[1, 1].area.bounds[0] == 66


def test_measures_in_few_digits_lie_on_the_walls_they_nearly_meet():
    # 66 mm is 0.3666... of two spaces of 30 mm: three digits are 0.02 mm under the wall's face, or 0.01 mm off it.
    for at in (11 / 30 - 0.0007, 11 / 30 + 0.0003):
        spot = made(kind="stair", side="north", at=(at, 1.0), size=(10.0, 10.0), height=5.0)[1, 1]
        assert (spot.area.bounds[0], round(spot.area.bounds[2], 1)) == (66, 76)
    round_one = made(kind="pillar", round=True, at=(11 / 30 - 0.0007, 11 / 30 - 0.0003), size=(10.0, 10.0))[1, 1]
    assert round_one.area.bounds == pytest.approx((66, 56, 76, 66), abs=1e-9)
    refused("0.06 mm under a wall", kind="dais", at=(11 / 30 - 0.002, 1.0), size=(10.0, 10.0))
    over = made(kind="dais", at=(1.501, 25 / 30 + 0.501), size=(30.0, 20.0))[1, 1]
    assert over.area.bounds[2:] == (120, 100)


def test_treads_and_steps_have_limits():
    assert made(kind="stair", side="east", at=(1.0, 1.0), size=(3.0, 20.0), height=5.0, steps=1)
    wide = {"kind": "stair", "side": "east", "at": (1.0, 1.0), "height": 20.0}
    assert len(made(**wide, size=(30.0, 20.0), steps=10)[1, 1].blocks) == 10
    refused("10 steps would be only 2.9 mm deep", **wide, size=(29.0, 20.0), steps=10)
    refused("a stair can't have 0 steps", **wide, size=(30.0, 20.0), steps=0)
    hall = FreeFloor(GRID, (0.0, 50.0, 180.0, 100.0), {(0, 1): (0, 50, 180, 100)}, {(0, 1): []}, (180.0, 50.0))
    long = {"kind": "stair", "side": "east", "at": (3.0, 25 / 30), "height": 40.0, "size": (160.0, 20.0)}
    assert len(made(hall, **long, steps=40)[0, 1].blocks) == 40
    refused("a stair can't have 41 steps", hall, **long, steps=41)


def test_a_stair_fills_the_floor_of_its_cells_too():
    found = made(GROUND, kind="stair", side="south", height=8.0, steps=2)
    # 44 mm from wall to edge: treads of 22 mm.
    assert boxes(found[1, 1]) == [(-24, -25, 30, 19, 0, 4), (-24, -25, 30, -3, 4, 8)]


def test_words_that_do_not_go_together_are_refused():
    for given, words in [
        ({"kind": "stair"}, "a stair needs the key side"),
        ({"kind": "dais", "side": "north"}, "side does not go with a dais"),
        ({"kind": "dais", "steps": 2}, "steps does not go with a dais"),
        ({"kind": "dais", "round": True}, "round does not go with a dais"),
        ({"kind": "dais", "at": (1.0, 1.0)}, "at is given without size"),
        ({"kind": "pillar", "round": True, "size": (9.0, 9.1)}, "a round pillar can't be 9 x 9.1 mm"),
        ({"kind": "pillar", "round": True, "size": (9.1, 9.0)}, "a round pillar can't be 9.1 x 9 mm"),
    ]:
        refused(words, **given)


def test_a_round_pillar_may_have_one_size_given_twice():
    (block,) = made(kind="pillar", round=True, size=(9.0, 9.0))[1, 1].blocks
    assert block.round


def test_a_size_without_at_lies_in_the_middle_of_its_cells():
    assert made(kind="dais", size=(20.0, 10.0))[1, 1].area.bounds == (80, 70, 100, 80)


def test_a_pillar_over_a_seam_is_refused():
    refused("this pillar lies over a line between squares", GROUND, kind="pillar", at=(2.0, 1.0), size=(10.0, 10.0))


def test_what_slanting_walls_leave_of_a_feature_that_fills_the_floor_is_no_sliver():
    """Free is a floor of 44 mm, and from it on a strip beside a slanting wall."""
    for width, taken in ((2.5, True), (1.5, False)):
        free = box(66, 56, 110, 100).union(box(110, 56, 120, 56 + width))
        ground = replace(ALONE, floors={(1, 1): free}, clear={(1, 1): free.bounds})
        steps = {"kind": "stair", "side": "east", "steps": 6, "height": 12.0}
        if taken:
            assert made(ground, **steps)[1, 1].blocks
        else:
            refused("this feature would be less than 2 mm wide beside a wall of cell [2, 2]", ground, **steps)


# --- apart from one another ---


def apart(*areas, standing=()):
    spots = [(Spot(box(*area), ()), wanted("dais", place=f"place {n}")) for n, area in enumerate(areas, 1)]
    check_apart(spots, standing)


TRIANGLE = Polygon([(10, 10), (20, 10), (20, 20)])


def test_things_that_share_a_side_or_stand_half_a_millimetre_off_are_apart():
    for areas, standing in [
        ([(0, 0, 10, 10), (10, 0, 20, 10)], []),
        ([(0, 0, 10, 10), (10, 8.9, 20, 19)], []),
        ([(0, 0, 10, 10), (10.5, 0, 20, 10)], []),
        ([(0, 0, 10, 10), (10.4, 10.4, 20, 20)], []),
        ([(0, 0, 10, 10)], [box(10, 0, 20, 10)]),
        ([(0, 0, 10, 10)], [box(10.5, 0, 20, 10)]),
        ([(0, 0, 10, 10), (20, 0, 30, 10), (40, 0, 50, 10)], [box(60, 0, 70, 10)]),
    ]:
        apart(*areas, standing=standing)


def test_things_too_near_one_another_are_refused_at_the_later_one():
    for areas, standing, words, place in [
        ([(0, 0, 10, 10), (9, 0, 20, 10)], [], "this dais lies over the dais of place 1", 2),
        ([(0, 0, 10, 10), (10.4, 0, 20, 10)], [], "this dais is only 0.4 mm from the dais of place 1", 2),
        ([(0, 0, 10, 10), (10.3, 10.3, 20, 20)], [], "this dais is only 0.42 mm from the dais of place 1", 2),
        ([(0, 0, 10, 10), (10, 10, 20, 20)], [], "this dais touches the dais of place 1 only at a corner", 2),
        ([(0, 0, 10, 10), (10, 9.1, 20, 20)], [], "this dais touches the dais of place 1 only at a corner", 2),
        (
            [(0, 0, 10, 10), (29.8, 0, 40, 10), (10, 0, 29.5, 10)],
            [],
            "this dais is only 0.3 mm from the dais of place 2",
            3,
        ),
        ([(0, 0, 10, 10)], [box(10.4, 0, 20, 10)], "this dais is only 0.4 mm from a wall or post", 1),
        ([(0, 0, 10, 10)], [TRIANGLE], "this dais touches a wall or post only at a corner", 1),
        ([(0, 0, 10, 10), (30, 0, 40, 10), (5, 5, 8, 8)], [], "this dais lies over the dais of place 1", 3),
        ([(0, 0, 10, 10), (30, 0, 40, 10), (38, 5, 50, 8)], [], "this dais lies over the dais of place 2", 3),
    ]:
        with pytest.raises(InputError) as caught:
            apart(*areas, standing=standing)
        assert words in caught.value.message
        assert caught.value.place == f"place {place}"
