"""Pieces of rooms off the grid: every foot, face, opening and post against figures reckoned by hand."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.pinches import touchless
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import InnerWalls, RegionShape, WallRun
from tilegen.tiles.tile import maker_of
from tilegen.tiles.walls import Joints, printed_band, stock_band

SIDE, WALL, HALF = 63.5, 6.35, 0.15
GRID = Grid(joint_play=2 * HALF, floor=Floor(lines=False))
DEEP = WALL - HALF
SQUARE = ((0.0, SIDE), (SIDE, SIDE), (SIDE, 0.0), (0.0, 0.0))


def right_turn(a, b, c):
    """How far a path turns right at b, by the angle of its two steps."""
    turn = math.atan2(b[1] - a[1], b[0] - a[0]) - math.atan2(c[1] - b[1], c[0] - b[0])
    return (turn + math.pi) % (2 * math.pi) - math.pi


def runs_round(corners, openings=()):
    """A wall on every side of a room, its corners walked clockwise. openings: by number of the wall."""
    count = len(corners)
    turns = [right_turn(corners[k - 1], corners[k], corners[(k + 1) % count]) for k in range(count)]
    return tuple(
        WallRun((corners[k], corners[(k + 1) % count]), dict(openings).get(k, ()), (turns[k], turns[(k + 1) % count]))
        for k in range(count)
    )


def plates_of(piece, runs, *, inner=None, grid=GRID, band=None):
    return list(
        maker_of(RegionShape(piece, tuple(runs), inner or InnerWalls()), grid, band or printed_band(grid)).standing()
    )


def room_of(corners, openings=()):
    return plates_of(Polygon(corners), runs_round(corners, openings))


def same(found, wanted):
    """The same region, to less than a sheet of paper is thick along all of its edge."""
    assert found.symmetric_difference(wanted).area < 1e-4 * wanted.length


def ends(edge):
    return [pytest.approx(point, abs=1e-4) for point in edge]


def test_in_a_square_room_each_wall_takes_the_corner_that_it_begins_at():
    plates = room_of(SQUARE)
    low, high = HALF, SIDE - HALF
    wanted = [
        (box(low, SIDE - WALL, SIDE - WALL, high), ((low, high), (SIDE - WALL, high))),
        (box(SIDE - WALL, WALL, high, high), ((high, high), (high, WALL))),
        (box(WALL, low, high, WALL), ((high, low), (WALL, low))),
        (box(low, low, WALL, SIDE - WALL), ((low, low), (low, SIDE - WALL))),
    ]
    assert [(p.name, p.role) for p in plates] == [(f"wall {n}", "wall") for n in (1, 2, 3, 4)]
    for plate, (foot, edge) in zip(plates, wanted, strict=True):
        same(plate.foot, foot)
        assert list(plate.edge) == ends(edge)
        assert (plate.bottom, plate.top) == (GRID.base_depth, GRID.base_depth + GRID.wall_height)
        assert (plate.openings, plate.bend) == ((), None)


def test_walls_of_a_regular_room_meet_on_its_bisectors():
    """Trapezia: the side of a regular polygon, moved in by d, loses 2 d tan(pi / n)."""
    for sides in [3, 5, 6, 8, 12]:
        length = 80.0
        out = length / 2 / math.sin(math.pi / sides)
        angles = [math.pi / 2 - 2 * math.pi * k / sides for k in range(sides)]
        plates = room_of([(out * math.cos(a), out * math.sin(a)) for a in angles])
        lost = 2 * math.tan(math.pi / sides)
        outer, inner = length - HALF * lost, length - WALL * lost
        for plate in plates:
            assert plate.foot.area == pytest.approx((outer + inner) / 2 * DEEP, abs=0.01)
            assert plate.length == pytest.approx(outer, abs=1e-3)
            assert len(plate.foot.simplify(1e-3).exterior.coords) - 1 == 4
        assert len(plates) == sides


def test_walls_stop_at_an_inner_corner_and_a_post_stands_between_them():
    """A room of three squares."""
    corners = [(0, 2 * SIDE), (SIDE, 2 * SIDE), (SIDE, SIDE), (2 * SIDE, SIDE), (2 * SIDE, 0), (0, 0)]
    plates = room_of([(float(x), float(y)) for x, y in corners])
    upright, level, post = plates[1], plates[2], plates[-1]
    same(upright.foot, box(SIDE - WALL, SIDE, SIDE - HALF, 2 * SIDE - HALF))
    same(level.foot, box(SIDE, SIDE - WALL, 2 * SIDE - WALL, SIDE - HALF))
    assert list(upright.edge) == ends([(SIDE - HALF, 2 * SIDE - HALF), (SIDE - HALF, SIDE)])
    assert list(level.edge) == ends([(SIDE, SIDE - HALF), (2 * SIDE - WALL, SIDE - HALF)])
    assert post.role == "post"
    # Less the nick that the play takes out of the base's corner.
    nick = box(SIDE - HALF, SIDE - HALF, SIDE, SIDE)
    same(post.foot, box(SIDE - WALL, SIDE - WALL, SIDE, SIDE).difference(nick))


def test_walls_are_the_base_less_the_room_moved_in_by_a_wall():
    """Whatever the corners: GEOS moves the whole outline, the walls are made one by one."""
    for corners in ["pinwheel", "butt", "mitre", "rabbet"]:
        for seed in range(16):
            random = np.random.default_rng(seed)
            count = int(random.integers(3, 9))
            turns = np.sort(
                random.uniform(0, 2 * math.pi, count) if seed % 3 else np.arange(count) * 2 * math.pi / count
            )[::-1]
            reach = random.uniform(60, 160, count) if seed % 2 else np.full(count, 100.0)
            ring = [(float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(reach, turns, strict=True)]
            room, inner = Polygon(ring), Polygon(ring).buffer(-WALL, join_style="mitre", mitre_limit=2.0)
            bends = [abs(right_turn(ring[k - 1], ring[k], ring[(k + 1) % count])) for k in range(count)]
            if max(bends) > math.radians(150) or not isinstance(inner, Polygon) or len(inner.exterior.coords) <= count:
                continue
            shape = RegionShape(room, runs_round(ring))
            plates = list(
                maker_of(shape, GRID, printed_band(GRID), Joints(corners, longest=False, skin=1.0)).standing()
            )
            base = room.buffer(-HALF, join_style="mitre", mitre_limit=5.0)
            missing = base.difference(inner).symmetric_difference(
                shapely.union_all([p.foot for p in plates], grid_size=1e-5)
            )
            assert missing.buffer(-0.01).area < 0.05
            assert math.fsum(p.foot.area for p in plates) == pytest.approx(base.difference(inner).area, abs=0.2)


def test_a_corner_that_other_tiles_make_stands_as_a_post():
    """The piece touches the room's inner corner in a point: what reaches in is a square of a wall's thickness."""
    away = [WallRun(((SIDE, 2 * SIDE), (SIDE, SIDE)), (), (math.pi / 2, -math.pi / 2))]
    away.append(WallRun(((SIDE, SIDE), (2 * SIDE, SIDE)), (), (-math.pi / 2, math.pi / 2)))
    (post,) = plates_of(box(0, 0, SIDE, SIDE), away)
    same(post.foot, box(SIDE - WALL, SIDE - WALL, SIDE - HALF, SIDE - HALF))
    assert (post.name, post.role) == ("post 1", "post")
    (x0, y0), (x1, y1) = post.edge
    assert post.length == pytest.approx(DEEP, abs=1e-3)
    # It stands to the right of its edge.
    along, spot = (x1 - x0, y1 - y0), post.foot.centroid
    assert along[1] * (spot.x - x0) - along[0] * (spot.y - y0) > 0


LOOK = Opening(0.0, 1.0, 20.0, "flat")


def opened(*spans, path=((0.0, SIDE), (SIDE, SIDE)), room=SQUARE):
    """The northern wall of a square room with openings from station to station of its line."""
    others = runs_round(room)[1:]
    run = WallRun(path, tuple((low, high, LOOK) for low, high in spans), (math.pi / 2, math.pi / 2))
    return plates_of(Polygon(SQUARE), [run, *others])[0]


def test_openings_are_measured_from_the_start_of_the_outer_face():
    plate = opened((40.0, 50.0), (15.0, 25.0))
    assert [(o.centre, o.width, o.height) for o in plate.openings] == [
        (pytest.approx(20 - HALF, abs=1e-4), pytest.approx(10), 20.0),
        (pytest.approx(45 - HALF, abs=1e-4), pytest.approx(10), 20.0),
    ]
    assert plate.bend is None


def test_of_a_wall_that_begins_in_another_tile_only_openings_here_count():
    room = ((-SIDE, SIDE), (2 * SIDE, SIDE), (2 * SIDE, 0.0), (-SIDE, 0.0))
    spans = (SIDE - 20, SIDE), (SIDE + 30, SIDE + 40), (2 * SIDE, 2 * SIDE + 20)
    plate = opened(*spans, path=((-SIDE, SIDE), (2 * SIDE, SIDE)), room=room)
    (opening,) = plate.openings
    assert (opening.centre, opening.width) == (pytest.approx(35 - HALF, abs=1e-4), pytest.approx(10))


def test_a_jamb_of_less_than_half_a_wall_goes_with_its_opening():
    for at_start in [True, False]:
        for jamb in [0.0, 3.1, 3.25]:
            # It begins at the rim of the base and ends at the next wall's inner face.
            low, high = (HALF + jamb, HALF + jamb + 20) if at_start else (SIDE - WALL - jamb - 20, SIDE - WALL - jamb)
            plate = opened((low, high))
            (opening,) = plate.openings
            near, far = opening.centre - opening.width / 2, opening.centre + opening.width / 2
            length = SIDE - WALL - HALF
            if not at_start:
                near, far = length - far, length - near
            assert far == pytest.approx(jamb + 20, abs=1e-3)
            assert near == pytest.approx(jamb if jamb > WALL / 2 else -3 * DEEP, abs=1e-3)
            # A wall that an opening runs off keeps its line and thickness for the neighbour's half of it.
            assert (plate.bend is None) == (jamb > WALL / 2)
            if plate.bend:
                assert (plate.bend.length, plate.bend.thickness) == (
                    pytest.approx(length, abs=1e-3),
                    pytest.approx(DEEP),
                )


def turret(count, degrees=10.0, step=20.0):
    """Corners of a chain of facets to the east that turns right by as much at each, level in its middle."""
    path = [(0.0, 0.0)]
    for k in range(count):
        angle = math.radians(((count - 1) / 2 - k) * degrees)
        path.append((path[-1][0] + step * math.cos(angle), path[-1][1] + step * math.sin(angle)))
    return path


@pytest.mark.parametrize("begins", [0.0, 30.0])
def test_a_wall_of_facets_is_one_bent_wall(begins):
    """Its face is its line moved in by half the play; stations are measured on the line, and scaled to the face.

    begins: how far into the wall the piece starts.
    """
    path = turret(5, 11.0)
    line, end = shapely.LineString(path), path[-1][0]
    west = line.interpolate(begins).x
    room = Polygon([(-50, path[0][1]), *path, (end + 50, path[-1][1]), (end + 50, -80), (-50, -80)])
    piece = box(west, -40, end, 60).intersection(room)
    left = -math.radians(22)
    run = WallRun(tuple(path), ((begins - 20, begins - 10, LOOK), (60.0, 70.0, LOOK)), (left, left))
    before = WallRun(((-50.0, path[0][1]), path[0]), (), (None, left))
    after = WallRun((path[-1], (end + 50, path[-1][1])), (), (left, None))
    plates = plates_of(piece, [run, before, after])
    plate = plates[0]
    assert (plate.name, plate.role) == ("bent wall 1", "wall")
    inset = piece.buffer(-HALF, join_style="mitre")
    same(shapely.union_all([p.foot for p in plates]), inset.difference(room.buffer(-WALL, join_style="mitre")))
    bend = plate.bend
    face = shapely.LineString(bend.outer)
    assert [line.distance(shapely.Point(p)) for p in bend.outer] == [pytest.approx(HALF, abs=1e-3)] * len(bend.outer)
    assert (bend.outer[0][0], bend.outer[-1][0]) == (
        pytest.approx(west + HALF, abs=2e-3),
        pytest.approx(end - HALF, abs=2e-3),
    )
    assert bend.thickness == pytest.approx(DEEP)
    assert plate.edge == (bend.outer[0], bend.outer[-1])
    (opening,) = plate.openings
    assert opening.width == pytest.approx(10)
    # Station 65 is in the facet that goes down by 11 degrees.
    wanted = line.interpolate(65.0)
    found = face.interpolate(opening.centre)
    assert (
        math.dist(
            (found.x, found.y),
            (wanted.x - HALF * math.sin(math.radians(11)), wanted.y - HALF * math.cos(math.radians(11))),
        )
        < 0.1
    )


def test_a_piece_thinner_than_the_play_is_refused():
    grid = Grid(joint_play=1.0)
    neck = shapely.union_all([box(0, 0, 20, 20), box(19, 10, 31, 10.9), box(30, 0, 50, 20)])
    for piece in (box(0, 0, 0.9, 30), neck):
        with pytest.raises(InputError, match="is narrower than the gap between tiles, 1 mm"):
            plates_of(piece, [], grid=grid)
    tile = maker_of(RegionShape(box(20, 20, 21.2, 30), ()), grid, printed_band(grid))
    same(tile.footprint, box(20.5, 20.5, 20.7, 29.5))


def test_space_lines_are_cut_where_no_wall_stands():
    """A cross: two lines as wide as they are deep grooves, from wall to wall, counted once where they cross."""
    grid = Grid(joint_play=2 * HALF)
    tile = maker_of(RegionShape(Polygon(SQUARE), runs_round(SQUARE)), grid, printed_band(grid))
    (mark,) = tile.marks()
    wide, clear = grid.floor.groove_width, SIDE - 2 * WALL
    middle = SIDE / 2
    cross = box(WALL, middle - wide / 2, SIDE - WALL, middle + wide / 2)
    same(mark.region, cross.union(box(middle - wide / 2, WALL, middle + wide / 2, SIDE - WALL)))
    assert mark.region.area == pytest.approx(2 * clear * wide - wide**2, abs=1e-3)
    same(mark.face, box(WALL, WALL, SIDE - WALL, SIDE - WALL))
    plain = maker_of(RegionShape(Polygon(SQUARE), runs_round(SQUARE)), GRID, printed_band(GRID))
    assert plain.marks() == ()
    same(plain.footprint, box(HALF, HALF, SIDE - HALF, SIDE - HALF))


# A wall across the middle of a hall of two squares, from its north to its south: a run for either side of its line.
HALL = box(-SIDE, 0, 3 * SIDE, SIDE)
ACROSS = InnerWalls((WallRun(((SIDE, 0.0), (SIDE, SIDE))), WallRun(((SIDE, SIDE), (SIDE, 0.0)))))


@pytest.mark.parametrize(("thickness", "outer"), [(None, 0.0), (3.0, WALL - 3.0)])
def test_a_wall_inside_a_piece_stands_on_both_sides_of_its_line(thickness, outer):
    """As printed from the line on; of stock its inner face stays where it is."""
    band = stock_band(GRID, thickness) if thickness else printed_band(GRID)
    east, west = plates_of(box(0, 0, 2 * SIDE, SIDE), [], inner=ACROSS, band=band)
    low, high = HALF, SIDE - HALF
    same(east.foot, box(SIDE + outer, low, SIDE + WALL, high))
    same(west.foot, box(SIDE - WALL, low, SIDE - outer, high))
    assert list(east.edge) == ends([(SIDE + outer, low), (SIDE + outer, high)])
    assert list(west.edge) == ends([(SIDE - outer, high), (SIDE - outer, low)])
    assert [(p.name, p.thickness) for p in (east, west)] == [
        ("wall 1", pytest.approx(WALL - outer)),
        ("wall 2", pytest.approx(WALL - outer)),
    ]


def test_a_wall_on_a_seam_leaves_room_for_the_play():
    (plate,) = plates_of(box(0, 0, SIDE, SIDE), [], inner=ACROSS)
    same(plate.foot, box(SIDE - WALL, HALF, SIDE - HALF, SIDE - HALF))
    assert list(plate.edge) == ends([(SIDE - HALF, SIDE - HALF), (SIDE - HALF, HALF)])


@pytest.mark.parametrize(("thickness", "outer"), [(None, HALF), (3.0, WALL - 3.0)])
def test_a_wall_inside_a_room_that_ends_beside_another_tile_has_its_post(thickness, outer):
    band = stock_band(GRID, thickness) if thickness else printed_band(GRID)
    inner = InnerWalls((), ((SIDE, SIDE, -1, -1),))
    (post,) = plates_of(box(0, 0, SIDE, SIDE), [], inner=inner, band=band)
    square = box(SIDE - WALL, SIDE - WALL, SIDE - HALF, SIDE - HALF)
    # Of stock its two outer faces stand back as the walls' do.
    same(post.foot, square.intersection(box(0, 0, SIDE - outer, SIDE - outer)))
    assert post.role == "post"


def test_walls_of_stock_stand_back_from_the_rim():
    band = stock_band(GRID, 3.0)
    plates = plates_of(Polygon(SQUARE), runs_round(SQUARE), band=band)
    back = WALL - 3.0
    ring = box(back, back, SIDE - back, SIDE - back).difference(box(WALL, WALL, SIDE - WALL, SIDE - WALL))
    same(shapely.union_all([plate.foot for plate in plates]), ring)
    assert math.fsum(plate.foot.area for plate in plates) == pytest.approx(ring.area, abs=1e-3)
    assert list(plates[0].edge) == ends([(back, SIDE - back), (SIDE - WALL, SIDE - back)])


def test_a_quarter_turn_turns_every_foot():
    shape = RegionShape(
        box(0, 0, SIDE, 40),
        runs_round(((-SIDE, 40.0), (SIDE, 40.0), (SIDE, 0.0), (-SIDE, 0.0))),
    )
    here = list(maker_of(shape, GRID, printed_band(GRID)).standing())
    there = list(maker_of(shape.turned(SIDE), GRID, printed_band(GRID)).standing())
    assert [plate.name for plate in here] == [plate.name for plate in there]
    for one, other in zip(here, there, strict=True):
        same(other.foot, shapely.transform(one.foot, lambda p: p[:, ::-1] * (1, -1) + (0, SIDE)))
        assert list(other.edge) == ends([(y, SIDE - x) for x, y in one.edge])


def test_what_touches_an_edge_in_a_point_stops_short_of_it():
    face = box(0, 0, 30, 30)
    tip = Polygon([(0, 15), (10, 10), (10, 20)])
    short = touchless(tip, face)
    assert short.distance(face.exterior) > 0
    assert 0 < tip.area - short.area < 0.1
    # Along a side it may lie, and apart from all.
    for region in (box(0, 10, 10, 20), box(5, 10, 10, 20)):
        assert touchless(region, face).equals(region)
