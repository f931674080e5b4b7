"""Walls, posts and what goes with them, corner by corner: sums by hand for shapes that are not the same all round."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.geometry import turn_right
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.description import curves
from tilegen.tiles.dressing import Ground
from tilegen.tiles.pinches import weak_point
from tilegen.tiles.plate import Opening
from tilegen.tiles.seats import connector_marks, seating_of
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, RegionShape, WallRun, single_cell
from tilegen.tiles.tile import make_plates, make_tile, maker_of
from tilegen.tiles.walls import Joints, printed_band, stock_band

GRID = Grid(floor=Floor(lines=False))
P, W, HALF = 31.75, 6.35, 0.15


# --- cells ---


def walls(sides, corners, skin=0.0, turns=0):
    """The walls of one cell by side, cut from stock 4 mm thick."""
    shape = single_cell(Cell(tuple(WALL if k in sides else OPEN for k in range(4))), (2, 2)).turns[turns]
    band, joints = stock_band(GRID, 4.0), Joints(corners, skin=skin)
    return {p.name: p for p in make_plates(shape, GRID, band, joints) if p.role == "wall"}


def test_a_lap_takes_all_but_a_skin_of_a_walls_end():
    """A wall of 63.2 mm less what is set back, 4 mm thick, less 4 x 3 at each lap, where a skin of 1 mm is left."""
    for level in [True, False]:
        for sides in [(0, 1), (0, 3), (0, 1, 3)]:
            made = walls(sides, "rabbet", 1.0, turns=0 if level else 1)
            wall = made["wall north"] if level else made["wall east"]
            laps, back = len(sides) - 1, W - 4.0
            # Level walls go first; an upright one stops behind their skins.
            length = 2 * P - (back if level else back + 1.0) * laps - HALF * (2 - laps)
            assert wall.foot.is_valid
            assert wall.foot.area == pytest.approx(length * 4.0 - (12.0 * laps if level else 0.0))
            # The skin is the outer one: on its outer face the wall is as long as ever.
            assert wall.length == pytest.approx(length)


def test_mitred_ends_slant():
    low, high, deep = W - 4.0, 2 * P - (W - 4.0), 2 * P - W
    foot = walls((0, 1, 3), "mitre")["wall north"].foot
    assert foot.symmetric_difference(Polygon([(low, high), (high, high), (deep, deep), (W, deep)])).area < 1e-9


def test_a_post_in_a_block_stands_between_the_seam_and_the_line_inside():
    """A corner between an outside edge and a line inside: half the play off the one, none off the other."""
    cells = tuple((place, Cell(posts=(place == (0, 0), place == (1, 0), False, False))) for place in ((0, 0), (1, 0)))
    tile = make_tile("t", CellShape((1.0, 1.0), (1.0,), cells), GRID)
    posts = {p.name: p.foot.bounds for p in tile.plates if p.role == "post"}
    assert posts["post north-east 1,1"] == pytest.approx((P - W, P - W, P, P - HALF))
    assert posts["post south-east 2,1"] == pytest.approx((2 * P - W, HALF, 2 * P - HALF, W))
    # Its outer face is the seam's, walked clockwise.
    edges = {p.name: p.edge for p in tile.plates if p.role == "post"}
    assert edges["post north-east 1,1"] == (pytest.approx((P - W, P - HALF)), pytest.approx((P, P - HALF)))
    assert edges["post south-east 2,1"] == (pytest.approx((2 * P - HALF, HALF)), pytest.approx((2 * P - W, HALF)))


# --- outlines ---


def test_a_doorway_is_measured_from_its_edges_first_point():
    """20 mm from the point that the edge begins at, whichever way the outline is given."""
    for joints in [None, Joints()]:
        for order in [1, -1]:
            points = ((0.0, 0.0), (0.0, 50.0), (80.0, 50.0), (80.0, 0.0))[::order]
            number = points.index((0.0, 50.0)) + 1 if order == 1 else points.index((80.0, 50.0)) + 1
            x = 20.0 if order == 1 else 60.0
            shape = OutlineShape(points, (number,), ((number, Opening(20.0, 10.0, 20.0)),))
            tile = maker_of(shape, GRID, printed_band(GRID), *([joints] if joints else []))
            (wall,) = tile.standing()
            assert wall.opening_foot(wall.openings[0]).bounds == pytest.approx((x - 5, 50 - W, x + 5, 50 - HALF))


def test_chords_that_turn_by_less_than_20_degrees_are_a_curve():
    """Small chords, so that only their turn decides: 19.9 degrees, not 20.1 degrees."""
    for turn, curved in ((19.9, True), (20.1, False)):
        points, heading = [(0.0, 0.0)], 90.0
        for _ in range(4):
            x, y = points[-1]
            points.append((x + 0.4 * math.cos(math.radians(heading)), y + 0.4 * math.sin(math.radians(heading))))
            heading -= turn
        points += [(9.0, 2.0), (9.0, -9.0), (0.0, -9.0)]

        def edge(number, points=points):
            return points[number - 1], points[number % len(points)]

        order = range(1, len(points) + 1)
        assert curves(order, edge, {1, 2, 3, 4}) == ([[1, 2, 3, 4]] if curved else [])


# --- pieces of a room ---


def half_room(openings=()):
    """A piece of 40 by 30 mm at the southern wall of a room, which runs on to the east and west."""
    run = WallRun(((100.0, 0.0), (-100.0, 0.0)), openings, (math.pi / 2, math.pi / 2))
    return RegionShape(box(0, 0, 40, 30), (run,))


def test_a_piece_of_a_room_has_as_many_sides_as_corners():
    sides = half_room().outer_sides(GRID.pitch)
    assert {tuple(sorted(side)) for side in sides} == {
        ((0.0, 0.0), (0.0, 30.0)),
        ((0.0, 30.0), (40.0, 30.0)),
        ((40.0, 0.0), (40.0, 30.0)),
        ((0.0, 0.0), (40.0, 0.0)),
    }
    # Walked clockwise.
    assert all((b[0] - a[0]) * (15 - a[1]) - (b[1] - a[1]) * (20 - a[0]) < 0 for a, b in sides)


def test_a_way_in_a_pieces_wall_lies_where_it_does_in_the_rooms():
    """Stations count along the room's wall from its start, 60 mm east of the piece's."""
    look = Opening(0.0, 0.0, 25.0, "round")
    tile = maker_of(half_room(((70.0, 85.0, look), (20.0, 40.0, look))), GRID, printed_band(GRID))
    (wall,) = tile.standing()
    assert wall.foot.bounds == pytest.approx((HALF, HALF, 40 - HALF, W), abs=1e-4)
    (way,) = wall.openings
    assert (way.width, way.height, way.head) == (pytest.approx(15.0), 25.0, "round")
    assert wall.opening_foot(way).bounds == pytest.approx((100 - 85, HALF, 100 - 70, W), abs=1e-4)


@pytest.mark.parametrize(("start", "end", "width"), [(64.0, 80.0, 16.0), (62.0, 80.0, None), (80.0, 98.0, None)])
def test_a_jamb_too_slight_goes_with_its_way(start, end, width):
    """The piece's wall is between 60.15 and 99.85 mm along the room's; half a wall, 3.175 mm, is the least jamb."""
    tile = maker_of(half_room(((start, end, Opening(0.0, 0.0, 25.0)),)), GRID, printed_band(GRID))
    (wall,) = tile.standing()
    (way,) = wall.openings
    if width is not None:
        assert way.width == pytest.approx(width)
        return
    left, right = way.centre - way.width / 2, way.centre + way.width / 2
    # It runs off the wall's end by more than the wall is thick; its other side stays.
    if start < 63:
        assert left < -W
        assert right == pytest.approx(end - 60.15, abs=1e-4)
    else:
        assert right > 39.7 + W
        assert left == pytest.approx(start - 60.15, abs=1e-4)


def test_a_piece_narrower_than_the_play_is_refused():
    narrow = replace(half_room(), piece=box(0, 0, 40, 0.2))
    with pytest.raises(InputError, match=r"a piece of floor is narrower than the gap between tiles"):
        maker_of(narrow, GRID, printed_band(GRID))
    neck = shapely.union_all([box(0, 0, 40, 30), box(40, 10, 60, 10.2), box(60, 0, 90, 30)])
    with pytest.raises(InputError, match=r"the gap between tiles, 0\.3 mm"):
        maker_of(replace(half_room(), piece=neck), GRID, printed_band(GRID))


# --- connectors, ids, grounds ---


def test_a_tile_without_a_whole_module_has_no_connectors():
    grid = replace(GRID, connectors=Connectors(kind="keys"))
    shape = OutlineShape(((0.0, 0.0), (0.0, 20.0), (20.0, 20.0), (20.0, 0.0)))
    foot = box(0.15, 0.15, 19.85, 19.85)
    assert connector_marks(shape, grid, foot) == ()
    seating = seating_of(shape, grid, foot)
    assert (seating.seats, seating.bare, seating.struck) == ((), (0, 1, 2, 3), ())


@pytest.mark.parametrize(("kind", "struck"), [("keys", ()), ("magnets", ()), ("pegs", (0, 2))])
def test_only_pegs_strike_a_side_that_has_no_modules(kind, struck):
    """1.5 by 2 spaces: nothing on the sides of 1.5; a neighbour's pegs would stand against them, pockets would not."""
    grid = replace(GRID, connectors=Connectors(kind=kind))
    tile = make_tile("t", single_cell(Cell(), (1.5, 2.0)), grid)
    seating = seating_of(tile.shape, grid, tile.base.foot)
    assert (seating.bare, seating.struck) == ((0, 2), struck)
    assert sorted({seat.side for seat in seating.seats}) == [1, 3]


def test_a_ground_lies_as_the_tile_does_unless_told():
    points = shapely.get_coordinates(box(1, 2, 5, 7))
    assert (Ground().to_pattern(points) == points).all()
    assert (Ground().to_tile(points) == points).all()
    # A quarter turn clockwise takes (x, y) to (y, -x); then it is moved.
    assert Ground(1, 10.0, 20.0).to_pattern(points).tolist() == [[10 + y, 20 - x] for x, y in points.tolist()]
    for turns in range(4):
        there = Ground(turns, 10.0, 20.0)
        assert there.to_tile(there.to_pattern(points)) == pytest.approx(points)
    assert OPEN.carries != WALL.carries


def test_walls_of_a_piece_are_numbered_from_one():
    """Two walls of a room's corner."""
    east = WallRun(((0.0, 0.0), (0.0, 200.0)), (), (math.pi / 2, math.pi / 2))
    south = WallRun(((200.0, 0.0), (0.0, 0.0)), (), (math.pi / 2, math.pi / 2))
    tile = maker_of(RegionShape(box(0, 0, 40, 30), (south, east)), GRID, printed_band(GRID))
    plates = list(tile.standing())
    assert [p.name for p in plates] == ["wall 1", "wall 2"]
    # Of 39.7 by 29.7 mm all but 33.5 by 23.5: from the walls' faces to the seams.
    assert sum(p.foot.area for p in plates) == pytest.approx(39.7 * 29.7 - 33.5 * 23.5, abs=1e-3)


def test_a_bent_wall_of_a_piece_lies_on_its_room():
    """A round room of 60 mm: a quarter of it, the run longer on both sides; a way 10 mm wide in the quarter's middle."""
    ring = [(60 * math.cos(math.radians(a)), 60 * math.sin(math.radians(a))) for a in range(0, 360, 6)]
    path = tuple((60 * math.cos(math.radians(a)), 60 * math.sin(math.radians(a))) for a in range(120, -37, -6))
    long = 120 * math.sin(math.radians(3))
    middle = 12.5 * long
    look = Opening(0.0, 0.0, 25.0)
    shape = RegionShape(
        box(0, 0, 70, 70).intersection(Polygon(ring)),
        (WallRun(path, ((middle - 5, middle + 5, look),)),),
    )
    (wall,) = maker_of(shape, GRID, printed_band(GRID)).standing()
    assert wall.name == "bent wall 1"
    assert wall.bend.thickness == pytest.approx(W - HALF)
    # 0.15 mm inside the room's line, from the north side of the piece round to its east.
    first, last = wall.bend.outer[0], wall.bend.outer[-1]
    assert first[0] == pytest.approx(HALF, abs=0.01)
    assert last[1] == pytest.approx(HALF, abs=0.01)
    assert first[1] > last[1]
    face = Polygon(ring).buffer(-HALF, join_style="mitre").exterior
    assert max(face.distance(shapely.Point(p)) for p in wall.bend.outer) < 1e-3
    # The way's middle lies 12.5 facets of 6 degrees on from 120: at 45 degrees.
    (way,) = wall.openings
    x, y = wall.opening_foot(way).centroid.coords[0]
    assert math.degrees(math.atan2(y, x)) == pytest.approx(45.0, abs=0.3)
    assert way.width == pytest.approx(10.0, rel=1e-3)


def test_a_weak_point_lies_between_the_two_largest_parts():
    parts = shapely.union_all([box(0, 0, 1, 1), box(10, 0, 40, 30), box(42, 0, 60, 30)])
    assert weak_point(box(0, 0, 60, 30), parts)[0] == pytest.approx(41.0)
    assert weak_point(box(0, 0, 60, 30), Polygon()) == (30.0, 15.0)


@pytest.mark.parametrize("kind", ["pegs", "keys"])
def test_a_side_whose_pockets_find_no_room_is_struck_by_pegs_only(kind):
    """A strip of 2 spaces by 4 mm: whole modules along it, but no room for a pocket's depth and a web."""
    grid = replace(GRID, connectors=Connectors(kind=kind))
    shape = OutlineShape(((0.0, 0.0), (0.0, 4.0), (2 * P, 4.0), (2 * P, 0.0)))
    seating = seating_of(shape, grid, box(HALF, HALF, 2 * P - HALF, 4 - HALF))
    assert not seating.whole
    # Edge 4 alone is on a line of the grid from end to end.
    assert 3 in seating.bare
    assert (3 in seating.struck) == (kind == "pegs")


@pytest.mark.parametrize("slant_first", [False, True])
def test_a_wall_between_a_right_and_an_obtuse_corner(slant_first):
    """40 mm: whole at the right angle, whose corner is its own; cut along the bisector, at 22.5 degrees, at the other."""
    corners = [(0.0, 0.0), (0.0, 40.0), (30.0, 70.0), (100.0, 70.0), (100.0, 0.0)]
    if slant_first:
        corners = [(x, 70.0 - y) for x, y in reversed(corners)]
    room, sides = Polygon(corners), list(pairwise([*corners, corners[0]]))
    turns = [turn_right(a, b, d) for (a, b), (_, d) in zip(sides, [*sides[1:], sides[0]], strict=True)]
    runs = tuple(WallRun(side, (), (turns[k - 1], turns[k])) for k, side in enumerate(sides))
    tile = maker_of(RegionShape(room, runs), GRID, printed_band(GRID))
    wall = list(tile.standing())[3 if slant_first else 0]
    # It begins at the rim at its right angle, or ends at the other wall's inner face.
    lost = (W - HALF) ** 2 if slant_first else 0.0
    by_hand = (W - HALF) * (40 - HALF) - math.tan(math.radians(22.5)) * (W**2 - HALF**2) / 2 - lost
    assert wall.foot.area == pytest.approx(by_hand, abs=1e-3)


def test_a_tile_has_a_line_wherever_two_spaces_meet():
    for spaces, lines in [((2, 1), 1), ((1, 2), 1), ((1, 1), 0), ((3, 2), 3)]:
        tile = make_tile("t", single_cell(Cell(), spaces), Grid())
        assert [len(mark.centres) for mark in tile.base.marks] == ([lines] if lines else [])
