"""Where patterns lie: off what stands on the floor, a face of joints and not all of it, chance as published."""

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.unit.test_surfaces import GRID, surfaced
from tilegen.model.surface import FLOOR_PATTERNS, WALL_PATTERNS
from tilegen.tiles.blocks import Block, Extra
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, single_cell
from tilegen.tiles.surfaces.stones import chance, chances
from tilegen.tiles.tile import make_tile

# The first two numbers of splitmix64 from the state 0 (Vigna's reference implementation, prng.di.unimi.it/splitmix64.c,
# the values from memory).
FIRST, SECOND = 0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4


def mixed(state):
    """splitmix64's output function, written apart."""
    whole = 2**64
    state = (state ^ (state // 2**30)) * 0xBF58476D1CE4E5B9 % whole
    state = (state ^ (state // 2**27)) * 0x94D049BB133111EB % whole
    return state ^ (state // 2**31)


def test_chance_is_the_published_one():
    """A key of 0 makes one more step from the first state; a key that undoes the last number starts afresh."""
    assert mixed(0x9E3779B97F4A7C15) == FIRST
    assert chance(0) == (SECOND >> 11) / 2**53
    assert chance(0, SECOND) == (FIRST >> 11) / 2**53
    assert chance(-1) == chance(2**64 - 1)


def test_a_table_of_chance_is_the_published_one_too():
    """Numbers n + 1 steps from the state that chance gives, row by row."""
    start = int(chance(3, 4) * 2**53)
    expected = [(mixed((start + n + 1) * 0x9E3779B97F4A7C15 % 2**64) >> 11) / 2**53 for n in range(12)]
    assert chances((3, 4), (3, 4)).ravel().tolist() == expected


def test_a_pattern_keeps_off_what_stands_on_the_floor():
    """As it keeps off walls: 0.8 mm all round."""
    for kind in ["dais", "pillar", "stair"]:
        for floor in FLOOR_PATTERNS[1:]:
            block = Block(kind, -8.0, -6.0, 10.0, 12.0, 0.0, 6.0)
            tile = make_tile(
                "t", single_cell(Cell((WALL, OPEN, OPEN, OPEN), extra=Extra((block,))), (2, 2)), surfaced(floor)
            )
            (mark,) = (m for m in tile.base.marks if m.on == "top")
            standing = box(23.75, 25.75, 41.75, 43.75)
            assert mark.region.distance(standing) == pytest.approx(0.8, abs=0.05)
            assert mark.line.distance(standing) >= 0.8 - 1e-6


@pytest.mark.parametrize("walls", WALL_PATTERNS[1:])
def test_a_walls_face_is_what_is_seen_less_a_margin(walls):
    """One wall between two open sides: 63.2 mm long, 38.1 high, 0.8 kept plain all round; joints are the lesser part."""
    tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2)), surfaced("none", walls))
    ((mark,),) = (plate.marks for plate in tile.plates if plate.role == "wall")
    assert mark.face.equals(box(0.8, 0.8, 62.4, 37.3))
    assert mark.face.covers(mark.region)
    assert 0.05 * mark.face.area < mark.region.area < 0.4 * mark.face.area
    assert (mark.depth, mark.on) == (GRID.surface.groove_depth, "inner")
    # Every line is the middle of a groove, every groove has a line in it.
    assert mark.line.difference(mark.region.buffer(0.01)).length < 0.05 * mark.line.length
    joints = mark.region if walls == "brick" or walls == "ashlar" else _without_nails(mark)
    assert joints.difference(mark.line.buffer(0.42, cap_style="square")).area < 0.02 * joints.area


def _without_nails(mark):
    parts = shapely.get_parts(mark.region)
    return shapely.union_all([p for p in parts if p.area > 5.0])


@pytest.mark.parametrize("walls", WALL_PATTERNS[1:])
def test_walls_beside_one_another_hide_their_ends(walls):
    """A corner: the wall to the north runs through, so the one to the east is seen to its face, both less a margin."""
    tile = make_tile("t", single_cell(Cell((WALL, WALL, OPEN, OPEN)), (2, 2)), surfaced("none", walls))
    seen = {}
    for plate in tile.plates[1:]:
        for mark in plate.marks:
            (x, y), (dx, dy) = plate.edge[0], plate.direction
            low, high = mark.face.bounds[0], mark.face.bounds[2]
            ends = [(x + dx * s, y + dy * s) for s in (low, high)]
            seen[plate.name] = sorted(round(abs(dx) * a + abs(dy) * b, 2) for a, b in ends)
    # From 0.15 to the inner face at 57.15, less 0.8 at either end and the hundredth that its neighbour is looked for in.
    for found in seen.values():
        assert found == [pytest.approx(0.95), pytest.approx(57.15 - 0.8, abs=0.011)]


def test_space_lines_are_wider_joints():
    """Half as wide again as others, so that figures can count: no stone within 0.6 mm of the line, some just beside it."""
    for floor in FLOOR_PATTERNS[1:]:
        tile = make_tile("t", single_cell(Cell(), (2, 2)), surfaced(floor))
        (mark,) = (m for m in tile.base.marks if m.on == "top")
        stones = mark.face.difference(mark.region)
        for line in (box(31.75, 3, 31.75001, 60), box(3, 31.75, 60, 31.75001)):
            beside = line.buffer(0.59, cap_style="flat").intersection(mark.face)
            assert stones.intersection(beside).area < 0.02 * beside.area
            assert stones.distance(line) == pytest.approx(0.6, abs=0.01)


def test_tables_of_chance_are_even():
    assert np.histogram(chances((9,), (1000, 10)), bins=10, range=(0, 1))[0].min() > 900


def test_a_walls_face_is_what_no_feature_touches_less_a_margin():
    """A box 12 mm high against the north wall from x = 21.75 to 41.75: the wall is seen above it and beside it."""
    for kind in ["dais", "stair", "pillar"]:
        for walls in WALL_PATTERNS[1:]:
            block = Block(kind, -10.0, 15.0, 10.0, 25.4, 0.0, 12.0)
            tile = make_tile(
                "t", single_cell(Cell((WALL, OPEN, OPEN, OPEN), extra=Extra((block,))), (2, 2)), surfaced("none", walls)
            )
            ((mark,),) = (plate.marks for plate in tile.plates if plate.role == "wall")
            # Along the wall from 0.15; the hundredth is what a neighbour is looked for in.
            seen = box(0.8, 0.8, 62.4, 37.3).difference(box(21.6 - 0.8, 0.0, 41.6 + 0.8, 12.8))
            assert mark.face.symmetric_difference(seen).area < 2 * 0.011 * 12.8
            assert mark.face.covers(mark.region)


def test_both_floors_of_a_tile_carry_their_pattern():
    """Two spaces side by side, the eastern one 10 mm higher: flagstones on either, less a margin all round."""
    cells = (((0, 0), Cell((OPEN,) * 4)), ((1, 0), Cell((OPEN,) * 4, extra=Extra(floor=10.0))))
    tile = make_tile("t", CellShape((1.0, 1.0), (1.0,), cells), surfaced("flagstones"))
    faces = {plate.top: mark.face for plate in tile.plates for mark in plate.marks}
    for height, seen in ((0.0, box(0.95, 0.95, 30.95, 30.8)), (10.0, box(32.55, 0.95, 62.55, 30.8))):
        assert faces[GRID.base_depth + height].symmetric_difference(seen).area < 1e-6
