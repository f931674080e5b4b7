"""Floors of several levels: the largest disc that lies flat in a block, by hand and against shapely.

Spaces of 30 mm, walls of 6 mm: a cell of 10 ft walled in on all sides has 48 x 48 mm free, from 6 to 54.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.plans import plan, wanted
from tilegen.fit.floor import LevelFloor, blocks_of, level_floor, spaces_of
from tilegen.model.grid import Grid
from tilegen.plans.features import PlanFeature, RoomHeights, furnish

GRID = Grid(pitch=30.0, wall_thickness=6.0)
FREE = box(6, 6, 54, 54)


def thing(kind, bounds, cell=(1, 1), **more):
    """A feature by its bounds in mm from its cell's north-west corner."""
    west, north, east, south = bounds
    at = ((west + east) / 60, (north + south) / 60)
    return PlanFeature(wanted(kind, at, (east - west, south - north), **more), cell, cell)


def floors(rows, things=(), heights=None, **more) -> LevelFloor:
    found = level_floor(spaces_of(furnish(plan(rows, grid=GRID, **more), things, heights)))
    assert found is not None
    return found


def special(found, across=1):
    return [tuple(spot) for spot in found.special(blocks_of(found.spaces, across), across).tolist()]


def corner_disc(free):
    """Of a disc that touches both walls of a corner and the corner of a square that leaves `free` mm between.

    Centre (r, r) from the walls' corner, r from (free, free): r = free sqrt 2 / (1 + sqrt 2) = free (2 - sqrt 2).
    """
    return 2 * free * (2 - math.sqrt(2))


def test_a_plain_plan_has_no_levels():
    assert level_floor(spaces_of(plan(["A"], grid=GRID))) is None


# --- which blocks are looked at ---


def test_the_spaces_that_a_feature_lies_in():
    for bounds, spaces in [
        ((20, 20, 40, 40), [(0, 0), (0, 1), (1, 0), (1, 1)]),
        ((10, 10, 30, 30), [(0, 0)]),
        ((30, 30, 50, 50), [(1, 1)]),
        ((30, 10, 50, 30), [(0, 1)]),
        ((10, 29, 30, 50), [(0, 0), (1, 0)]),
        ((29, 10, 50, 30), [(0, 0), (0, 1)]),
        ((10, 10, 31, 30), [(0, 0), (0, 1)]),
    ]:
        assert special(floors(["A"], [thing("pit", bounds)])) == spaces


def test_a_feature_in_another_cell_is_found_there():
    found = floors(["..A", "AAA"], [thing("pit", (10, 10, 30, 30), (2, 2))])
    assert special(found) == [(2, 2)]
    # Blocks of two spaces each way that have that space in them: of the row above there is no floor.
    assert special(found, 2) == [(2, 1), (2, 2)]


def test_blocks_over_two_floors_are_looked_at():
    found = floors(["AB"], (), {"B": RoomHeights(None, 5.0)}, ways={(1, 1, "east"): "open"})
    assert special(found) == []
    # Only the block over the line between the rooms, from the second space on.
    assert special(found, 2) == [(0, 1)]


# --- the largest disc ---


def test_beside_a_pit_a_figure_stands_and_walks_in_the_frame_around_it():
    found = floors(["A"], [thing("pit", (20, 20, 40, 40))])
    assert found.discs(0, 0, 2) == (pytest.approx(corner_disc(14)), pytest.approx(corner_disc(14)))
    # In one space: free from 6 to 30, less the pit's corner at 20.
    assert found.discs(0, 0, 1)[0] == pytest.approx(corner_disc(14))


def test_a_pillar_is_in_the_way_as_a_pit_is_and_a_round_one_takes_its_square():
    square = floors(["A"], [thing("pillar", (20, 20, 40, 40))])
    turned = floors(["A"], [thing("pillar", (20, 20, 40, 40), round=True)])
    assert square.discs(0, 0, 2) == turned.discs(0, 0, 2)
    assert square.discs(0, 0, 2)[1] == pytest.approx(corner_disc(14))


@pytest.mark.parametrize("bounds, flat", [((20, 20, 40, 40), 20.0), ((25, 25, 35, 35), corner_disc(19))])
def test_a_figure_stands_on_a_dais_or_beside_it_and_walks_over_both(bounds, flat):
    found = floors(["A"], [thing("dais", bounds, height=5.0)])
    assert found.discs(0, 0, 2) == (pytest.approx(flat), pytest.approx(48))


def test_on_a_stair_a_figure_stands_where_the_tread_is_deep_enough():
    """Over the whole floor, two treads of 24 mm: nothing else is left."""
    found = floors(["A"], [thing("stair", (6, 6, 54, 54), side="north", height=10.0, steps=2)])
    assert found.discs(0, 0, 2) == (pytest.approx(24), pytest.approx(48))
    three = floors(["A"], [thing("stair", (6, 6, 54, 54), side="east", height=10.0, steps=3)])
    assert three.discs(0, 0, 2) == (pytest.approx(16), pytest.approx(48))


def test_a_pit_all_over_leaves_nothing():
    found = floors(["A"], [PlanFeature(wanted("pit"), (1, 1), (1, 1))])
    assert found.discs(0, 0, 2) == (0.0, 0.0)


def test_inside_a_pit_there_is_no_place_at_all():
    found = floors(["AA", "AA"], [PlanFeature(wanted("pit"), (1, 1), (2, 2))])
    assert found.discs(1, 1, 1) == (0.0, 0.0)
    assert found.discs(1, 1, 2) == (0.0, 0.0)


def test_over_an_open_way_between_two_floors_a_figure_stands_on_one_of_them():
    found = floors(["AB"], (), {"B": RoomHeights(None, 5.0)}, ways={(1, 1, "east"): "open"})
    # From 30 to 90 along the hall: 30 mm of either floor; 48 across.
    assert found.discs(0, 1, 2) == (pytest.approx(30), pytest.approx(48))


def test_a_dais_as_high_as_the_floor_beyond_is_one_level_with_it():
    """A at 5 mm, on it a dais of 6 up to the way; B at 11: 40 mm of one level, 48 across."""
    heights = {"A": RoomHeights(None, 5.0), "B": RoomHeights(None, 11.0)}
    ways = {(1, 1, "east"): "open"}
    dais = thing("dais", (50, 6, 60, 54), height=6.0)
    assert floors(["AB"], [dais], heights, ways=ways).discs(0, 1, 2)[0] == pytest.approx(40)
    lower = thing("dais", (50, 6, 60, 54), height=5.0)
    assert floors(["AB"], [lower], heights, ways=ways).discs(0, 1, 2)[0] == pytest.approx(30)


def test_the_same_wherever_the_cell_lies():
    here = floors(["A"], [thing("pit", (10, 12, 24, 36))])
    there = floors(["...", "..A", "..."], [thing("pit", (10, 12, 24, 36), (3, 2))])
    assert there.discs(2, 4, 2) == here.discs(0, 0, 2)
    assert there.discs(3, 4, 1) == here.discs(1, 0, 1)
    assert there.flat_floor(2, 4, 2).equals(here.flat_floor(0, 0, 2))


# --- the floor on which it stands ---


def test_the_flat_floor_is_the_level_of_the_largest_disc():
    on = floors(["A"], [thing("dais", (20, 20, 40, 40), height=5.0)])
    assert on.flat_floor(0, 0, 2).equals(box(20, 20, 40, 40))
    beside = floors(["A"], [thing("dais", (25, 25, 35, 35), height=5.0)])
    assert beside.flat_floor(0, 0, 2).equals(FREE.difference(box(25, 25, 35, 35)))
    around = floors(["A"], [thing("pit", (20, 20, 40, 40))])
    assert around.flat_floor(0, 0, 2).equals(FREE.difference(box(20, 20, 40, 40)))


def test_a_feature_over_the_edge_of_a_block_counts_as_far_as_the_block_goes():
    for bounds, gone in [
        # About the corner where four cells of a hall meet, in mm from there; each side of the block in turn.
        ((-40, -20, -10, 20), (0, 10, 20, 50)),
        ((10, -20, 40, 20), (40, 10, 60, 50)),
        ((-20, -40, 20, -10), (10, 0, 50, 20)),
        ((-20, 10, 20, 40), (10, 40, 50, 60)),
    ]:
        for kind in ["pit", "dais"]:
            at = ((bounds[0] + bounds[2] + 120) / 60, (bounds[1] + bounds[3] + 120) / 60)
            size = (bounds[2] - bounds[0], bounds[3] - bounds[1])
            feature = PlanFeature(wanted(kind, at, size), (1, 1), (2, 2))
            found = floors(["AAA", "AAA", "AAA"], [feature])
            assert found.flat_floor(1, 1, 2).equals(box(0, 0, 60, 60).difference(box(*gone)))
            # Two spaces further each way the block is bare, and has no walls.
            assert floors(["AAAA"] * 4, [feature]).flat_floor(5, 5, 2).equals(box(0, 0, 60, 60))


def test_on_a_large_dais_the_floor_beside_it_is_none_of_it():
    """In a hall of 180 x 180 mm, block from (30, 30): the dais begins 10 mm in from its west and north sides."""
    feature = PlanFeature(wanted("dais", (85 / 30, 85 / 30), (90.0, 90.0)), (1, 1), (3, 3))
    found = floors(["AAA"] * 3, [feature])
    assert found.flat_floor(1, 1, 2).equals(box(10, 10, 60, 60))
    assert found.discs(1, 1, 2) == (pytest.approx(50), pytest.approx(60))


def test_on_two_floors_it_is_the_one_with_more_room():
    """Two thirds of a block of three spaces at 5 ft: B, walled to the east."""
    found = floors(["ABB"] * 3, (), {"B": RoomHeights(None, 5.0)}, scale="5 ft", ways=open_row(3))
    assert found.flat_floor(0, 0, 3).equals(box(30, 6, 84, 84))
    assert found.discs(0, 0, 3) == (pytest.approx(54), pytest.approx(78))


def open_row(rows):
    return {(1, r, "east"): "open" for r in range(1, rows + 1)}


# --- against shapely ---


def made_up(seed):
    """Up to four features in a walled cell, each in a quarter of its own."""
    rnd = random.Random(seed)
    things = []
    for west, north in rnd.sample([(6, 6), (31, 6), (6, 31), (31, 31)], rnd.randint(1, 4)):
        x, y = west + rnd.choice([0, 1, 4, 7]), north + rnd.choice([0, 1, 4, 7])
        bounds = (x, y, x + rnd.choice([6, 9, 13]), y + rnd.choice([6, 9, 13]))
        things.append((rnd.choice(["pit", "pillar", "dais", "dais"]), bounds, rnd.choice([4.0, 8.0])))
    return things


def test_blocks_agree_with_the_largest_inscribed_circle():
    for seed in range(8):
        things = made_up(seed)
        given = [thing(k, b, **({} if k == "pit" else {"height": h})) for k, b, h in things]
        found = floors(["A"], given)
        on = {h: [box(*b) for k, b, level in things if k == "dais" and level == h] for h in (4.0, 8.0)}
        lost = shapely.union_all([box(*b) for k, b, _ in things if k in ("pit", "pillar")])
        ground = FREE.difference(shapely.union_all([*(box(*b) for _, b, _ in things)]))
        for row, column, across in ((0, 0, 2), (0, 1, 1), (1, 0, 1)):
            block = box(column * 30, row * 30, (column + across) * 30, (row + across) * 30)
            levels = [ground, *(shapely.union_all(boxes) for boxes in on.values())]
            flat, past = found.discs(row, column, across)
            assert flat == pytest.approx(max(inscribed(level.intersection(block)) for level in levels), abs=2e-3)
            assert past == pytest.approx(inscribed(FREE.difference(lost).intersection(block)), abs=2e-3)


def inscribed(region):
    parts = [part for part in shapely.get_parts(region).tolist() if part.area > 1e-9]
    lines = shapely.maximum_inscribed_circle(np.array(parts, object), tolerance=1e-3)
    return max(2 * shapely.length(lines), default=0.0)
