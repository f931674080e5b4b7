"""Rooms off the grid as laid: where their tiles lie, what stays an ordinary tile, walls near a piece, sight, the route."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from tests.kits.test_odd_floor import SLANTED, slow_sight
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.model.grid import Grid
from tilegen.plans import off_grid_tiles
from tilegen.plans.drafting import draw
from tilegen.plans.kit import Turn, corners, make_kit, make_pieces, placed
from tilegen.plans.layout import lay
from tilegen.plans.off_grid_tiles import FloorPiece, _Cutter, _near, cut_pieces
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.route import make_route
from tilegen.plans.shapes import Circle, Corners, DrawnShape
from tilegen.plans.sight import OffGridView, in_sight
from tilegen.plans.ways import ExtraWall, Way
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import WallRun


def plan(rows, shapes=(), *, scale="10 ft", ways=(), walls=(), wall_ways=()):
    return draw(
        name="t",
        scale=scale,
        grid=Grid(),
        rooms=read_drawing("\n".join(rows)),
        titles={},
        shapes=[DrawnShape(room, shape) for room, shape in shapes],
        ways=list(ways),
        walls=list(walls),
        wall_ways=[WallWay(room, at, kind, Opening(0.0, 40.0, 30.0), fixed=True) for room, at, kind in wall_ways],
    )


# A cave with a slanting corner in each of its four corners, so that turned tiles are of one type.
CUT = Corners(((2, 1), (5, 1), (6, 2), (6, 5), (5, 6), (2, 6), (1, 5), (1, 2)), (0.0,) * 8)


def cells_of(column, row, many, cell):
    """A square of so many cells a side, y to the south."""
    return box(column * cell, row * cell, (column + many) * cell, (row + many) * cell)


@pytest.mark.parametrize("scale, block", [("10 ft", 1), ("5 ft", 2)])
@pytest.mark.parametrize("outline", [CUT, Circle((3.2, 3.9), 3.1)])
def test_odd_tiles_lie_where_their_places_say_and_cover_the_floor(outline, scale, block):
    drawing = plan(["......."] * 7, [("A", outline)], scale=scale)
    kit = make_kit(drawing)
    half, cell = drawing.grid.half_play, drawing.cell_side
    assert kit.block == block
    floors = []
    for kind in kit.types:
        if not len(kind.lies):
            continue
        order = [(row, column, turns) for column, row, turns in kind.off_grid.tolist()]
        assert order == sorted(order)
        for (column, row, turns), (x, y) in zip(kind.off_grid.tolist(), kind.lies.tolist(), strict=True):
            floor = Turn(turns, x, y).geometry(kind.tile.base.foot)
            floors.append(floor)
            # The square of the lattice that its place is in holds most of it; a place names a cell of the drawing.
            west = column - 1 - (column - 1 - kit.lattice[0]) % block
            north = row - 1 - (row - 1 - kit.lattice[1]) % block
            assert (column, row) == (max(west, 0) + 1, max(north, 0) + 1)
            beside = {
                (c, r): floor.intersection(cells_of(west + c * block, north + r * block, block, cell)).area
                for c, r in product((-1, 0, 1), repeat=2)
            }
            assert beside[0, 0] > max(beside.values()) - 0.01
    region = shapely.transform(drawing.off_grid.regions[ord("A")], lambda points: points * (1.0, -1.0))
    odd = kit.cut.cells
    squares = [cells_of(c, r, 1, cell) for r, c in np.argwhere(odd).tolist()]
    wanted = region.intersection(shapely.union_all(squares))
    union = shapely.union_all(floors)
    assert union.area == pytest.approx(sum(f.area for f in floors), abs=1e-3)
    # Within half the play of every seam, and nowhere outside.
    assert union.difference(wanted.buffer(0.01)).area < 0.01
    assert wanted.difference(union.buffer(half * 1.5 + 0.05, join_style="mitre")).area < 0.5


def test_a_piece_that_no_tile_can_be_made_of_is_named_with_its_place(monkeypatch):
    def refuse(*_):
        raise InputError("a wall that is too thin")

    monkeypatch.setattr(off_grid_tiles, "make_tile", refuse)
    with pytest.raises(InputError, match=r'room "A" at \(1\.\d+, 1\.\d+\).*a wall that is too thin'):
        make_kit(plan(["......."] * 7, [("A", CUT)]))


def test_a_whole_cell_with_a_post_beside_an_odd_one_stays_an_ordinary_tile():
    """Two walls that meet in a corner of a cell that carries neither leave it a post; its other neighbour is slanting."""
    for turn in range(4):
        # Cell (2, 2), from 0, has a post in its north-west corner: the lines left of (2, 1) and above (1, 2) are walls.
        # Beside it, at (3, 3), the room's corner is cut off.
        corners = np.array([(1, 1), (4, 1), (4, 3.4), (3.4, 4), (1, 4)], float)
        walls = np.array([((2, 1), (-1, 0)), ((1, 2), (0, -1))], float)
        for _ in range(turn):
            corners = np.stack([5 - corners[:, 1], corners[:, 0]], axis=1)
            walls = np.array([((4 - c[1], c[0]), (-d[1], d[0])) for c, d in walls], float)
        names = {(0, -1): "north", (1, 0): "east", (0, 1): "south", (-1, 0): "west"}
        extra = [ExtraWall((int(c[0]) + 1, int(c[1]) + 1), names[int(d[0]), int(d[1])]) for c, d in walls]
        outline = Corners(tuple(map(tuple, corners.tolist())), (0.0,) * 5)
        drawing = plan(["....."] * 5, [("A", outline)], walls=extra)
        cut = cut_pieces(drawing, drawing.off_grid, (0, 0), 1)
        at = [(3, 3), (1, 3), (1, 1), (3, 1)][turn]
        assert np.argwhere(cut.cells).tolist() == [[at[1], at[0]]]


def test_a_wall_near_a_piece_at_both_its_ends_gives_two_stretches():
    """Three sides of a square, open below: near both feet, not near the top; a ring that starts there gives one."""
    path = ((0.0, 0.0), (0.0, 10.0), (0.0, 60.0), (40.0, 60.0), (40.0, 10.0), (40.0, 0.0))
    run = WallRun(path, ((2.0, 5.0, None), (20.0, 30.0, None), (153.0, 156.0, None)), (90.0, -90.0))
    floor = box(0, -5, 40, 3)
    first, last = _near(run, floor, 6.0)
    assert first.path == path[:2]
    assert last.path == path[4:]
    # Where a stretch ends on a straight side the wall goes on straight.
    assert (first.turns, last.turns) == ((90.0, 0.0), (0.0, -90.0))
    assert [o[:2] for o in first.openings] == [(2.0, 5.0)]
    # 10 + 50 + 40 + 50 = 150 to where the second one starts.
    assert [o[:2] for o in last.openings] == [(3.0, 6.0)]
    assert list(_near(run, box(100, 100, 101, 101), 6.0)) == []
    assert list(_near(run, box(-5, -5, 50, 70), 6.0)) == [run]
    ring = WallRun((*path, path[0]), ((195.0, 199.0, None), (-1.0, 4.0, None)), (None, None))
    (joined,) = _near(ring, floor, 6.0)
    assert joined.path == (path[4], path[5], path[0], path[1])
    assert joined.turns == (0.0, 0.0)
    # The ring is 200 round; it starts 150 on, where its second opening wraps round to 199.
    assert sorted(o[:2] for o in joined.openings) == [(45.0, 49.0), (49.0, 54.0)]


def test_of_equal_seams_the_first_clockwise_from_the_end_of_the_wall_wins():
    """A sliver in the middle of a room's north wall, between two squares: clockwise, its east side comes first."""
    drawing = plan(["....."] * 4, [("A", Corners(((1, 1), (4, 1), (4, 3), (1, 3)), (0.0,) * 4))])
    cutter = _Cutter(drawing, drawing.off_grid, (0, 0), 1)
    cell = drawing.cell_side

    def piece(west, north, east, south):
        return FloorPiece(ord("A"), box(west * cell, -south * cell, east * cell, -north * cell))

    left, right = piece(1, 1, 2, 2), piece(3, 1, 4, 2)
    sliver = piece(2, 1, 3, 2)
    # Walked clockwise the wall along the north ends at the north-east corner.
    assert cutter._first_clockwise(sliver, [left, right]) is right
    assert cutter._first_clockwise(sliver, [right, left]) is right
    below = piece(2, 2, 3, 3)
    assert cutter._first_clockwise(sliver, [left, below]) is below
    # Along the south wall it ends at the south-west corner.
    low = piece(2, 2, 3, 3)
    west, east = piece(1, 2, 2, 3), piece(3, 2, 4, 3)
    assert cutter._first_clockwise(low, [east, west]) is west
    # In the corner of two walls the first side without one follows the second of them.
    corner = piece(3, 1, 4, 2)
    assert cutter._first_clockwise(corner, [piece(2, 1, 3, 2), piece(3, 2, 4, 3)]).floor.bounds[1] == -3 * cell


def test_ways_out_into_solid_ground_join_no_rooms_off_the_grid():
    """Two rooms with a slanting corner, one open to the east, the other to the south: a line leads through both gaps."""
    low = Corners(((0, 3), (3, 3), (3, 7), (1, 7), (0, 6)), (0.0,) * 5)
    high = Corners(((4, 0), (6, 0), (7, 1), (7, 3), (4, 3)), (0.0,) * 5)
    open_ways = [Way((3, 6), "east", "open"), Way((6, 3), "south", "open"), Way((5, 3), "south", "open")]
    drawing = plan(["......."] * 7, [("A", low), ("B", high)], ways=open_ways)
    kit = make_kit(drawing)
    sees, laid = slow_sight(drawing, kit, doors_open=False)
    rooms = [set(laid.tile_of[drawing.rooms == ord(letter)].tolist()) for letter in "AB"]
    assert not sees[np.ix_(sorted(rooms[0]), sorted(rooms[1]))].any()
    assert in_sight(drawing, kit).most_tiles == sees.sum(axis=1).max() == max(map(len, rooms))


def test_the_points_of_every_tile_lie_on_its_own_cells():
    """Also where it has no space's centre: then one point of its first cell that is on its room's floor."""
    for outline, spread in ((Circle((2, 2), 0.55), {1}), (CUT, {1, 2, 3, 4})):
        drawing = plan(["......."] * 7, [("A", outline)], scale="5 ft")
        kit = make_kit(drawing)
        laid = lay(drawing, kit)
        view = OffGridView(drawing, laid, doors_open=False)
        region = drawing.off_grid.regions[ord("A")]
        assert all(region.contains(Point(p)) for p in view.points)
        cells = np.floor(view.points / drawing.cell_side * (1, -1)).astype(int)
        assert (laid.tile_of[cells[:, 1], cells[:, 0]] == view.owner).all()
        times = Counter(view.owner.tolist())
        assert set(times) == set(range(len(laid.type_of)))
        assert set(times.values()) <= spread


def test_a_way_in_a_slanting_wall_leads_to_the_nearest_part_of_a_room_in_two():
    """Room B is a triangle beside A's slanting wall, and two cells elsewhere: the way leads to the triangle."""
    shapes = [("A", SLANTED["A"]), ("B", SLANTED["B"])]
    rows = ["B......B"] + ["........"] * 4 + ["B......B"]
    drawing = plan(rows, shapes, ways=[Way((2, 2), "west", "doorway")], wall_ways=[("A", (4, 3.02), "open")])
    stops = make_route(drawing, make_kit(drawing))
    reached = [(stop.room, stop.first_cell, stop.steps) for stop in stops if stop.steps is not None]
    assert [(room, steps) for room, _, steps in reached] == [("A", 0), ("B", 1)]
    assert stops[1].cells > 4
    assert [stop.cells for stop in stops[2:]] == [1] * 4


def test_a_hall_with_one_room_on_both_its_sides_leads_from_the_one_part_to_the_other():
    """A slanting hall parts room B in two; it has a way in each of its long walls, three quarters of a cell apart."""
    shapes = [
        ("A", Corners(((3, 0), (4.2, 0), (3.8, 4), (2.6, 4)), (0.0,) * 4)),
        ("B", Corners(((0, 0), (3, 0), (2.6, 4), (0, 4)), (0.0,) * 4)),
        ("B", Corners(((4.2, 0), (7, 0), (7, 4), (3.8, 4)), (0.0,) * 4)),
    ]
    way_in = Way((1, 1), "west", "doorway")
    for at, expected in (
        ([(2.8, 2), (4.0, 2)], [("B", 0), ("A", 1), ("B", 2)]),
        ([(2.8, 2)], [("B", 0), ("A", 1), ("B", None)]),
        ([(4.0, 2)], [("B", 0), ("A", None), ("B", None)]),
    ):
        drawing = plan(["......."] * 4, shapes, ways=[way_in], wall_ways=[("A", spot, "open") for spot in at])
        stops = make_route(drawing, make_kit(drawing))
        assert [(stop.room, stop.steps) for stop in stops] == expected
        assert stops[0].first_cell == (1, 1)


@pytest.mark.parametrize("outline", [Circle((2, 2), 0.55), CUT, Circle((3.2, 3.9), 3.1)])
def test_every_tile_is_on_the_list_of_its_own_room(outline):
    """Beside an ordinary room; a tile that no cell is the most of lies in its room all the same."""
    rows = ["......."] * 7 + ["BBBBBBB"]
    drawing = plan(rows, [("A", outline)], scale="5 ft")
    kit = make_kit(drawing)
    stops = {stop.room: Counter({key: count for _, key, count in stop.tiles}) for stop in make_route(drawing, kit)}
    total = Counter({t.tile.id: t.count for t in kit.types})
    assert stops["A"] + stops["B"] == total
    pieces = Counter(chr(piece.room) for piece in kit.cut.pieces)
    off = [t.tile.id for t in kit.types if len(t.lies)]
    for room in "AB":
        assert sum(stops[room][key] for key in off) == pieces[room]


def test_a_tile_that_no_cell_is_the_most_of_goes_with_its_room():
    """A slanting wall between two rooms leaves both with tiles on cells that are mostly the other's."""
    west, east = (
        Corners(((1, 1), (4.7, 1), (2.7, 5), (1, 5)), (0.0,) * 4),
        Corners(((4.7, 1), (7, 1), (7, 5), (2.7, 5)), (0.0,) * 4),
    )
    drawing = plan(["........"] * 6, [("A", west), ("B", east)], ways=[Way((2, 2), "west", "doorway")])
    kit = make_kit(drawing)
    pieces = Counter(chr(piece.room) for piece in kit.cut.pieces)
    off = {t.tile.id for t in kit.types if len(t.lies)}
    for stop in make_route(drawing, kit):
        assert sum(count for _, key, count in stop.tiles if key in off) == pieces[stop.room] == 4
    # Each has its cell in its own room, where it is seen from.
    laid = lay(drawing, kit)
    own = Counter(
        chr(drawing.rooms[r - 1, c - 1])
        for (c, r), n in zip(laid.first_cells, laid.type_of, strict=True)
        if len(kit.types[n].lies)
    )
    assert own == pieces


@pytest.mark.parametrize("leaf", ["sliding", "lift-out", "hinged"])
def test_a_way_written_from_either_side_has_the_same_leaves_in_the_same_tiles(leaf):
    """At 5 ft, with walls at both ends of the line in one of the two cells only: both openings are as wide as its own."""

    def leaves(cell, side, rows):
        way = replace(Way(cell, side, "doorway"), leaf=leaf)
        drawing = plan(rows, ways=[way], scale="5 ft")
        return {(w.cell, w.side): p.piece for p in make_pieces(drawing) for w in p.places}

    for here, there, rows in (
        (((1, 2), "east"), ((2, 2), "west"), [".B", "AB", ".B"]),
        (((2, 1), "south"), ((2, 2), "north"), [".A.", "BBB"]),
    ):
        one, other = leaves(*here, rows), leaves(*there, rows)
        assert len(one) == len(other) == (2 if leaf == "lift-out" else 1)
        if leaf == "lift-out":
            assert {place: piece.id for place, piece in one.items()} == {place: p.id for place, p in other.items()}
            assert one[here].volume == pytest.approx(one[there].volume)


def test_a_piece_that_comes_out_as_an_ordinary_tile_is_of_its_type():
    """Beside the round part of room A one of its squares is cut as a piece, and is a corner like others."""
    drawing = plan(["......", "..B...", "..BAA.", "...AA.", "......", "......"], [("A", Circle((2.284, 4.0), 0.75))])
    kit = make_kit(drawing)
    assert len({t.tile.id for t in kit.types}) == len(kit.types)
    both = next(t for t in kit.types if len(t.on_grid) and len(t.off_grid))
    assert both.name == "corner"
    assert both.count == len(both.on_grid) + len(both.lies)
    feet = [turn.geometry(t.tile.base.foot) for t, turn in placed(kit, drawing)]
    assert sum(foot.area for foot in feet) == pytest.approx(shapely.union_all(feet).area, abs=1e-6)
    boxes = np.concatenate(list(corners(kit, drawing)))
    least = [
        shapely.total_bounds([turn.geometry(p.foot) for p in t.tile.plates])[:2] for t, turn in placed(kit, drawing)
    ]
    assert boxes == pytest.approx(np.array(least), abs=1e-9)
    assert sorted(np.bincount(lay(drawing, kit).type_of).tolist()) == sorted(t.count for t in kit.types)
