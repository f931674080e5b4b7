"""Doorways that differ in what nobody can see make one type, and a low wall beside a high one one body."""

import pytest

from tests.unit.test_solids import check_stl
from tilegen.files.plans import read_plan
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.blocks import Extra
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
SIDES = ("north", "east", "south", "west")


def plan(folder, drawing, ways, more=""):
    tables = "\n".join(f'[[way]]\nkind = "doorway"\n{way}' for way in ways)
    path = folder / "p.toml"
    path.write_text(f'name = "p"\nscale = "10 ft"\ndrawing = "{drawing}"\n{tables}\n{more}')
    return make_kit(read_plan(path))


def places(kind):
    return [tuple(place) for place in kind.places.tolist()]


def way(cell, side, *more):
    return f'cell = {cell}\nside = "{side}"\n' + "\n".join(more)


def test_doorways_that_a_low_wall_makes_alike_are_one_type(tmp_path):
    # Cut off by walls of 12 mm: 20 and 30 mm high, flat and round, and one as high as the wall.
    looks = (["height = 20"], ["height = 12.0"], ['head = "round"'], ["height = 30", 'head = "flat"'])
    ways = [way([2 * n + 1, 1], SIDES[n], *look) for n, look in enumerate(looks)]
    kit = plan(tmp_path, "A.A.A.A", ways, "[heights.A]\nwall = 12.0\n")
    (kind,) = kit.types
    assert kind.count == 4
    assert [(column, row) for column, row, _ in places(kind)] == [(1, 1), (3, 1), (5, 1), (7, 1)]
    # Each is turned from the one before by a quarter, whichever pose is the type's own.
    turns = [turn for *_, turn in places(kind)]
    assert [(turn - turns[0]) % 4 for turn in turns] == [0, 1, 2, 3]
    # Its own pose, turned so, has the doorway where the way was written.
    own = next(k for k, side in enumerate(kind.tile.shape.cells[0][1].sides) if side.opening)
    assert [(own + turn) % 4 for turn in turns] == [0, 1, 2, 3]


def test_a_type_that_is_the_same_after_half_a_turn_lies_turned_as_little_as_can_be(tmp_path):
    ways = [
        way([1, 1], "north", "height = 12.0"),
        way([1, 1], "south", "height = 12.0"),
        way([3, 1], "north"),
        way([3, 1], "south"),
        way([5, 1], "east", "height = 20"),
        way([5, 1], "west", "height = 30"),
    ]
    (kind,) = plan(tmp_path, "A.A.A", ways, "[heights.A]\nwall = 12.0\n").types
    turns = [turn for *_, turn in places(kind)]
    assert sorted(turns) in ([0, 0, 1], [0, 1, 1])
    assert turns[0] == turns[1] != turns[2]


def test_one_type_from_rooms_that_differ_goes_by_rows_again(tmp_path):
    ways = [
        way([1, 1], "north", "height = 12.0"),
        way([3, 1], "north", "height = 20"),
        way([5, 1], "north", "height = 12.0"),
    ]
    (kind,) = plan(tmp_path, "A.A.A", ways, "[heights.A]\nwall = 12.0\n").types
    assert [column for column, *_ in places(kind)] == [1, 3, 5]


def test_a_place_from_either_end_of_a_side_is_the_same(tmp_path):
    # 0.8 spaces from the north end of an east side is 1.2 from the east end of a north side, walked the other way.
    ways = [way([1, 1], "north", "at = 0.8"), way([3, 1], "south", "at = 1.2")]
    (kind,) = plan(tmp_path, "A.A", ways).types
    first, second = (turn for *_, turn in places(kind))
    assert (second - first) % 4 == 2


def test_no_head_is_told_apart_where_nothing_is_over_the_opening():
    def made(height, head):
        side = Side("doorway", make_opening(63.5, GRID, height=height, head=head))
        return make_tile("t", single_cell(Cell((side, WALL, OPEN, OPEN)), (2, 2)), GRID).id

    assert made(38.1, "round") == made(38.1, "flat")
    assert made(38.0, "round") != made(38.0, "flat")


def test_a_low_wall_back_to_back_with_a_high_one_is_one_closed_body():
    """Both with a doorway in one place; the room behind the high one may have a higher floor."""
    for width in [6.35, 5.0]:
        for raised in [0.0, 6.35, 10.0]:
            for low in [15.25, 6.35, 3 * 6.35]:
                east, west = (
                    Side("doorway", make_opening(31.75, GRID, width=width, centre=c)) for c in (12.7, 31.75 - 12.7)
                )
                cells = (
                    ((0, 0), Cell((WALL, east, WALL, WALL), extra=Extra(wall_height=low))),
                    ((1, 0), Cell((WALL, WALL, WALL, west), extra=Extra(floor=raised))),
                )
                tile = make_tile("t", CellShape((1.0, 1.0), (1.0,), cells), GRID)
                mesh = build_mesh("t", tile.plates)
                check_stl(stl_bytes(mesh), tile)
                # By hand: each room 31.75 less half the play wide, walled all round; the doorway is as high as its own wall
                # at most (30.48 mm is the grid's); the walls stand on their own room's floor.
                side, deep, wall = 31.75 - 0.15, 31.75 - 2 * 0.15, 6.35
                ring = side * deep - (31.75 - 2 * wall) ** 2
                assert ring == pytest.approx(side * deep - 19.05**2)
                passage = width * wall
                expected = (
                    side * deep * 6.35 * 2 + side * deep * raised
                    + ring * low - passage * min(30.48, low)
                    + ring * 38.1 - passage * 30.48
                )  # fmt: skip
                assert mesh.volume == pytest.approx(expected, rel=1e-9)
