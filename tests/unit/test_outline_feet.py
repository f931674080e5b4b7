"""Feet of walls on outlines against figures reckoned by hand: which wall takes a corner, how far one reaches on."""

import math
from dataclasses import astuple

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.model.grid import Floor, Grid
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import maker_of
from tilegen.tiles.walls import PRINTED_JOINTS, Joints, printed_band, stock_band

WALL, HALF = 4.0, 0.15
GRID = Grid(wall_thickness=WALL, joint_play=2 * HALF, floor=Floor(lines=False))
DEEP = WALL - HALF
WIDE, TALL = 60.0, 40.0
# Its corners counter-clockwise, from the south-west.
ROOM = ((0.0, 0.0), (WIDE, 0.0), (WIDE, TALL), (0.0, TALL))


def tile_of(points, walls, *, openings=(), joints=PRINTED_JOINTS, grid=GRID, band=None):
    shape = OutlineShape(tuple(points), tuple(walls), tuple(openings))
    return maker_of(shape, grid, band or printed_band(grid), joints)


def feet_of(points, walls, **more):
    plates = tile_of(points, walls, **more).standing()
    return {int(plate.name.split()[-1]): plate.foot for plate in plates if plate.role == "wall"}


def same(found, wanted):
    """The same region, to the micrometre that outlines are rounded to."""
    assert found.symmetric_difference(wanted).area <= 1.5e-3 * wanted.length


def regular(sides, length, turn=0.0):
    """Counter-clockwise, its first edge to the east."""
    points = [(0.0, 0.0)]
    for k in range(sides - 1):
        angle = turn + 2 * math.pi * k / sides
        points.append((points[-1][0] + length * math.cos(angle), points[-1][1] + length * math.sin(angle)))
    return points


def test_a_wall_takes_the_right_angled_corner_that_it_begins_at():
    for first in range(4):
        for clockwise in [False, True]:
            points = [*ROOM[first:], *ROOM[:first]]
            if clockwise:
                points.reverse()
            feet = feet_of(points, (1, 2, 3, 4))
            for number, foot in feet.items():
                (x0, y0), (x1, y1) = points[number - 1], points[number % 4]
                length = abs(x1 - x0) + abs(y1 - y0) - 2 * HALF - DEEP
                assert foot.area == pytest.approx(length * DEEP, abs=1e-3)
                assert sorted((foot.bounds[2] - foot.bounds[0], foot.bounds[3] - foot.bounds[1])) == pytest.approx(
                    [DEEP, length], abs=2e-3
                )
            clear = box(WALL, WALL, WIDE - WALL, TALL - WALL)
            same(shapely.union_all(list(feet.values())), box(HALF, HALF, WIDE - HALF, TALL - HALF).difference(clear))


def test_walls_of_sheets_at_right_angles():
    """Bevelled, each is a trapezium; in a pinwheel each runs through at one end and stops at the other."""
    for clockwise in [False, True]:
        for joint in ["mitre", "pinwheel"]:
            points = ROOM[::-1] if clockwise else ROOM
            feet = feet_of(points, (1, 2, 3, 4), joints=Joints(corners=joint))
            for number, foot in feet.items():
                (x0, y0), (x1, y1) = points[number - 1], points[number % 4]
                length = abs(x1 - x0) + abs(y1 - y0) - 2 * HALF
                assert foot.area == pytest.approx((length - DEEP) * DEEP, abs=1e-3)
                assert len(foot.simplify(1e-3).exterior.coords) - 1 == 4
                wide, high = foot.bounds[2] - foot.bounds[0], foot.bounds[3] - foot.bounds[1]
                assert max(wide, high) == pytest.approx(length if joint == "mitre" else length - DEEP, abs=2e-3)


def test_of_sheets_the_longest_wall_passes_first():
    """In butt joints the two long sides take all corners, whatever their numbers."""
    turned = [*ROOM[1:], ROOM[0]]
    for points, long in ((ROOM, (1, 3)), (turned, (2, 4)), ([(0, 0), (40, 0), (40, 40.004), (0, 40.004)], (2, 4))):
        feet = feet_of(points, (1, 2, 3, 4), joints=Joints(corners="butt"))
        for number, foot in feet.items():
            side = math.dist(points[number - 1], points[number % 4])
            length = side - 2 * HALF - (0 if number in long else 2 * DEEP)
            assert foot.area == pytest.approx(length * DEEP, abs=1e-3)


def test_the_only_wall_of_a_regular_outline_fills_the_wedges_beside_it():
    """To where its inner face meets the sides that carry none, but two thicknesses at most; at sharp corners it ends."""
    for sides in [3, 5, 6, 9]:
        length = 50.0
        points = regular(sides, length)
        (foot,) = feet_of(points, (1,)).values()
        turn = 2 * math.pi / sides
        inset = Polygon(points).buffer(-HALF, join_style="mitre")
        on = min(1 / math.tan(turn), 2.0) * WALL if turn < math.pi / 2 else 0.0
        same(foot, inset.intersection(box(-on, 0, length + on, WALL)))
        if sides == 6:
            # A trapezium that grows by 2 d cot(60 degrees) on its way in.
            outer = length - 2 * HALF * math.tan(math.pi / 6)
            assert foot.area == pytest.approx(DEEP * (outer + DEEP / math.tan(math.pi / 3)), abs=5e-4 * foot.length)


def test_a_wall_ends_at_a_corner_that_points_in():
    """Square to itself; where the next side carries a wall too a post stands between them."""
    points = [(0, 0), (WIDE, 0), (WIDE, TALL), (30, TALL), (30, 20), (0, 20)]
    (alone,) = feet_of(points, (5,)).values()
    same(alone, box(HALF, 20 - WALL, 30, 20 - HALF))
    *walls, post = tile_of(points, (4, 5)).standing()
    same(walls[0].foot, box(30 + HALF, 20, 30 + WALL, TALL - HALF))
    same(walls[1].foot, alone)
    same(post.foot, box(30, 20 - WALL, 30 + WALL, 20).difference(box(30, 20 - HALF, 30 + HALF, 20)))
    assert post.role == "post"


def test_a_strip_across_a_gap_is_no_wall():
    """A prong of 2 mm beside a gap of 1 mm: a wall of 4 mm would reach into what lies beyond."""
    points = [(0, 0), (30, 0), (30, -10), (50, -10), (50, 20), (0, 20), (0, 3), (30, 3), (30, 2), (0, 2)]
    (wall,) = tile_of(points, (1,)).standing()
    same(wall.foot, box(HALF, HALF, 30, 2 - HALF))


def test_openings_are_measured_from_the_first_point_as_given():
    for walls in [(1,), (1, 2, 3, 4)]:
        for clockwise in [False, True]:
            points = ((WIDE, 0.0), (0.0, 0.0), (0.0, TALL), (WIDE, TALL)) if clockwise else ROOM
            first = points[0][0]
            opening = Opening(20.0, 12.0, 25.0)
            plate = next(tile_of(points, walls, openings=[(1, opening)]).standing())
            (found,) = plate.openings
            assert (found.width, found.height) == (12.0, 25.0)
            middle = plate.edge[0][0] + plate.direction[0] * found.centre
            assert middle == pytest.approx(40.0 if first else 20.0)
            ends = [(HALF if len(walls) == 1 else WALL, HALF), (WIDE - HALF, HALF)]
            # Walked clockwise, whichever way the points were given; it ends at the next wall's inner face.
            assert list(plate.edge) == [pytest.approx(end, abs=1e-3) for end in reversed(ends)]


def test_a_ring_of_walls_is_mitred_at_odd_corners():
    """Trapezia: a regular polygon's side, moved in by d, loses 2 d tan(pi / n)."""
    for sides in [3, 5, 6, 8, 12]:
        length, lost = 70.0, 2 * math.tan(math.pi / sides)
        points = regular(sides, length, 0.2)
        tile, feet = tile_of(points, range(1, sides + 1)), feet_of(points, range(1, sides + 1))
        outer, inner = length - HALF * lost, length - WALL * lost
        assert sorted(feet) == list(range(1, sides + 1))
        for foot in feet.values():
            assert foot.area == pytest.approx((outer + inner) / 2 * DEEP, abs=5e-4 * foot.length)
        # A regular polygon's area: n a^2 / (4 tan(pi / n)).
        whole = tile.footprint.area
        assert whole == pytest.approx(sides * outer**2 / (2 * lost), rel=1e-4)
        seen = whole - math.fsum(foot.area for foot in feet.values())
        assert seen == pytest.approx(sides * inner**2 / (2 * lost), rel=1e-4)


def test_grooves_end_in_corners_of_the_walls_and_of_what_is_seen():
    """On slanting walls too: what touches shares its points, or the solid would not close."""
    grid = Grid(wall_thickness=WALL, joint_play=2 * HALF)
    hole = [
        (40 + 9 * math.cos(a), 40 + 9 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 7, endpoint=False).tolist()
    ]
    points = regular(5, 70.0, 0.3)
    low = min(x for x, _ in points), min(y for _, y in points)
    points = [(x - low[0], y - low[1]) for x, y in points]
    tile = maker_of(OutlineShape(tuple(points), (1, 2, 3, 4, 5), (), (tuple(hole),)), grid, printed_band(grid))
    (mark,), feet = tile.marks(), [plate.foot for plate in tile.standing()]
    corners = {tuple(p) for p in shapely.get_coordinates(mark.region).tolist()}
    seen = shapely.get_coordinates(mark.face)
    on_rim = [p for p in corners if mark.face.boundary.distance(shapely.Point(p)) < 1e-3]
    assert len(on_rim) > 20
    for point in on_rim:
        assert np.abs(seen - point).max(axis=1).min() < 1e-9, point
    clear = Polygon(mark.face.exterior)
    taken = shapely.get_coordinates(feet)
    on_walls = [p for p in on_rim if clear.exterior.distance(shapely.Point(p)) < 1e-3]
    assert 10 < len(on_walls) < len(on_rim)
    for point in on_walls:
        assert np.abs(taken - point).max(axis=1).min() < 1e-9, point
    base = shapely.get_coordinates([*tile.footprint.interiors])
    for point in set(on_rim) - set(on_walls):
        assert np.abs(base - point).max(axis=1).min() < 1e-9, point
    assert all(foot.is_valid for foot in feet)
    whole = math.fsum(foot.area for foot in feet) + mark.face.area
    assert whole == pytest.approx(tile.footprint.area, abs=1e-6)


def test_the_band_of_walls_cut_from_stock():
    grid = Grid(wall_thickness=6.0, joint_play=0.4)
    # Thinner than the wall, the inner face stays; thicker, it gives way, off half the play at the rim and whole inside.
    assert astuple(stock_band(grid, 1.5)) == pytest.approx((4.5, 6.0, 4.5, 6.0))
    assert astuple(stock_band(grid, 8.0)) == pytest.approx((0.2, 8.2, 0.0, 8.0))
    assert astuple(stock_band(grid, 6.0)) == pytest.approx((0.2, 6.2, 0.0, 6.0))


def test_walls_of_stock_stand_back_from_the_rim():
    band = stock_band(GRID, 1.5)
    (foot,) = feet_of(ROOM, (1,), joints=Joints(), band=band).values()
    same(foot, box(HALF, WALL - 1.5, WIDE - HALF, WALL))
