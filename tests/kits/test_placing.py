"""Where the tiles lie: every floor, wall, opening and post of a plan, against its drawing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from tests.laidout import CELLARS, LOOP, LOOP_WAYS, OnTheTable, plan
from tilegen.model.grid import Grid
from tilegen.plans.drawing import posts_of
from tilegen.plans.kit import PieceType, Turn, make_kit, placed, placed_pieces
from tilegen.plans.lattices import LATTICES
from tilegen.plans.ways import ExtraWall, Way

NARROW = 10.0


def check_placement(drawing, kit):
    table = OnTheTable(drawing, kit)
    check_floors(drawing, table)
    check_lines(drawing, table)
    check_posts(drawing, table)


def check_floors(drawing, table):
    side, half = drawing.cell_side, drawing.grid.half_play
    cells = [
        box(c * side, r * side, (c + 1) * side, (r + 1) * side) for r, c in zip(*np.nonzero(drawing.rooms), strict=True)
    ]
    floor = shapely.union_all(cells)
    union = shapely.union_all(table.floors)
    assert union.area == pytest.approx(sum(f.area for f in table.floors), abs=1e-6)  # none lies on another
    regrown = shapely.union_all([f.buffer(half, join_style="mitre") for f in table.floors])
    assert regrown.symmetric_difference(floor).area < 1e-6
    assert floor.area - union.area > 0


def sides_of_line(drawing, across, row, column):
    """(room index of the cell, unit step from the line into it) for the two cells beside a line."""
    before = (row - 1, column) if across else (row, column - 1)
    for (r, c), sign in ((before, -1), ((row, column), 1)):
        inside = 0 <= r < drawing.rooms.shape[0] and 0 <= c < drawing.rooms.shape[1] and drawing.rooms[r, c]
        yield bool(inside), sign


def check_lines(drawing, table):
    side, wall = drawing.cell_side, drawing.grid.wall_thickness
    for across, lines in ((True, drawing.across), (False, drawing.down)):
        for (row, column), kind_number in np.ndenumerate(lines):
            kind = drawing.kinds[int(kind_number)]
            for inside, sign in sides_of_line(drawing, across, row, column):
                if inside:
                    deep = sign * wall / 2
                    check_line(table, kind, side, wall, lambda s: at_line(across, row, column, side, s, deep))  # noqa: B023


def at_line(across, row, column, side, along, deep):
    x, y = column * side, row * side
    return Point(x + along, y + deep) if across else Point(x + deep, y + along)


def check_line(table, kind, side, wall, at):
    middle = at(side / 2)
    if kind.name == "wall":
        assert all(table.standing.covers(at(s * side)) for s in (0.05, 0.3, 0.5, 0.7, 0.95))
    elif kind.name == "doorway":
        o = kind.opening
        assert table.ways.covers(at(o.centre))
        assert not table.standing.covers(at(o.centre))
        for s in (o.centre - o.width / 2 + 0.01, o.centre + o.width / 2 - 0.01):
            assert table.ways.covers(at(s))
        for s in (o.centre - o.width / 2 - 0.01, o.centre + o.width / 2 + 0.01):
            assert table.standing.covers(at(s))
            assert not table.ways.covers(at(s))
    else:
        assert not table.standing.covers(middle)
        assert not table.ways.covers(middle)
        assert any(door.covers(middle) for door in table.doors) == (kind.name == "saddle")
    if kind.name == "saddle":
        o = kind.opening
        for edge in (-1, 1):
            assert table.door_ways.covers(at(o.centre + edge * (o.width / 2 - 0.01)))
            assert not table.door_ways.covers(at(o.centre + edge * (o.width / 2 + 0.01)))
        assert all(table.standing.covers(at(s)) for s in (wall / 2, side - wall / 2))  # its posts


def check_posts(drawing, table):
    side, half = drawing.cell_side, drawing.grid.wall_thickness / 2
    posts = posts_of(drawing)
    for (row, column), bits in np.ndenumerate(posts):
        for corner, (south, east) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
            x = (column + east) * side + (half if not east else -half)
            y = (row + south) * side + (half if not south else -half)
            if bits >> corner & 1:
                assert table.standing.covers(Point(x, y))


def test_the_worked_plan_lies_as_drawn():
    drawing = plan(LOOP, ways=LOOP_WAYS)
    kit = make_kit(drawing)
    check_placement(drawing, kit)
    assert sum(1 for _ in placed(kit, drawing)) == 13


def test_a_corner_is_turned_into_each_corner_of_a_room():
    drawing = plan("A A\nA A")
    kit = make_kit(drawing)
    side = drawing.cell_side
    # Own pose: walls to the south and west, so the corner of the walls is the frame's own (0, 0).
    assert kit.types[0].tile.shape.edges == ("open", "open", "wall", "wall")
    corners = {(turn.quarter_turns, turn.x, turn.y) for _, turn in placed(kit, drawing)}
    assert corners == {(0, 0.0, 2 * side), (1, 0.0, 0.0), (2, 2 * side, 0.0), (3, 2 * side, 2 * side)}


def test_a_turn_is_exact_and_clockwise():
    for turns in range(4):
        # Independently: a clockwise quarter turn takes (x, y), y to the north, to (y, -x); then y is flipped.
        own = np.array([(31.75, 6.35), (0.1, 63.35), (0.0, 0.0)])
        expected = own.copy()
        for _ in range(turns):
            expected = np.column_stack([expected[:, 1], -expected[:, 0]])
        expected = expected * (1, -1) + (100.0, 50.0)
        assert (Turn(turns, 100.0, 50.0).points(own) == expected).all()


def test_blocks_of_every_lattice_lie_where_their_cells_are():
    for lattice in [None, *LATTICES]:
        ways = (
            Way((3, 2), "south", "doorway", width=NARROW),
            Way((2, 3), "east", "saddle", width=NARROW),
            Way((1, 2), "west", "open"),
            Way((4, 2), "east", "doorway", width=NARROW),
        )
        drawing = plan(CELLARS, "5 ft", ways, [ExtraWall((2, 2), "south"), ExtraWall((4, 5), "west")])
        kit = make_kit(drawing, lattice)
        check_placement(drawing, kit)
        assert Counter(t.name for t, _ in placed(kit, drawing)) == {t.name: t.count for t in kit.types}


def test_diagonal_blocks_are_two_tiles_each_on_its_own_cell():
    # One pair alike, one pair of two types, one pair of one type turned differently.
    drawing = plan("A . B B . C\n. A . C C C\nD . . . E .\nD D D E . E", "5 ft", [Way((1, 1), "west", "open")])
    for lattice in LATTICES:
        kit = make_kit(drawing, lattice)
        check_placement(drawing, kit)


def test_doorways_off_centre_meet_through_the_wall():
    ways = (
        Way((1, 1), "east", "doorway", width=12.0, at=0.7),
        Way((2, 2), "west", "doorway", width=12.0, at=1.2),
        Way((1, 1), "south", "doorway", width=12.0, at=0.8),
        Way((2, 2), "north", "doorway", width=12.0, at=1.3),
    )
    drawing = plan("A B\nC D", ways=ways)
    check_placement(drawing, make_kit(drawing))


def test_doors_alike_up_to_a_half_turn_stand_the_right_way_round():
    ways = [
        Way((1, 1), "east", "saddle", width=12.0, at=0.8),
        Way((1, 2), "east", "saddle", width=12.0, at=1.2),
        Way((3, 1), "south", "saddle", width=12.0, at=0.8),
        Way((4, 1), "south", "saddle", width=12.0, at=1.2),
    ]
    drawing = plan("A B C C\nD E F F", ways=ways)
    kit = make_kit(drawing)
    assert sum(p.count for p in kit.pieces) == 4
    check_placement(drawing, kit)
    one = PieceType(kit.pieces[0].piece, tuple(way for p in kit.pieces for way in p.places))
    kit = replace(kit, pieces=(one,))
    assert Counter(t.quarter_turns for _, t in placed_pieces(kit, drawing)) == {0: 1, 1: 1, 2: 1, 3: 1}
    check_placement(drawing, kit)


def test_another_grid_lies_without_gaps_too():
    grid = Grid(pitch=25.4, spaces=3, wall_thickness=4.7625, joint_play=0.0)
    drawing = plan(LOOP, ways=LOOP_WAYS, grid=grid)
    table = OnTheTable(drawing, make_kit(drawing))
    assert shapely.union_all(table.floors).area == pytest.approx(13 * (3 * 25.4) ** 2)
    check_lines(drawing, table)


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_any_small_plan_lies_as_drawn(data):
    columns, rows = data.draw(st.integers(1, 6)), data.draw(st.integers(1, 6))
    letters = data.draw(st.lists(st.sampled_from("..AB"), min_size=columns * rows, max_size=columns * rows))
    if set(letters) == {"."}:
        letters[0] = "A"
    text = "\n".join("".join(letters[r * columns : (r + 1) * columns]) for r in range(rows))
    scale = data.draw(st.sampled_from(["5 ft", "10 ft"]))
    bare = plan(text, scale)
    ways = []
    for row, column in np.argwhere(bare.rooms).tolist():
        for side, lines, at in (("north", bare.across, (row, column)), ("west", bare.down, (row, column))):
            kind = data.draw(st.sampled_from(["", "", "open", "doorway", "saddle"]))
            beyond = (row - 1, column) if side == "north" else (row, column - 1)
            solid = min(beyond) < 0 or not bare.rooms[beyond]
            if kind and lines[at] and not (kind == "saddle" and solid):
                width = None if kind == "open" else NARROW
                off = data.draw(st.sampled_from([None, 0.48]))
                centre = None if kind == "open" or off is None else off * bare.cell_spaces
                ways.append(Way((column + 1, row + 1), side, kind, width=width, at=centre))
    drawing = plan(text, scale, ways)
    lattice = data.draw(st.sampled_from([None, *LATTICES])) if scale == "5 ft" else None
    check_placement(drawing, make_kit(drawing, lattice))


def test_a_kit_of_another_plan_is_refused():
    drawing = plan("A .\n. A", "5 ft", [Way((1, 1), "west", "open")])
    kit = make_kit(drawing, (0, 0))
    with pytest.raises(ValueError, match="no tile like this"):
        list(placed(kit, plan("A .\n. A", "5 ft")))
