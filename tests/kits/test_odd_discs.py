"""The floor off the grid taken by itself: discs in blocks, who goes where in a room, ways through outlines."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.kits.test_odd_floor import SLANTED, drawn
from tilegen.fit.discs import _roots, known_disc, largest_disc
from tilegen.fit.figures import figures_on
from tilegen.fit.floor import OffGridFloor, OutlineWay, off_grid_floor, spaces_of
from tilegen.model.grid import Grid

A, B, C = ord("A"), ord("B"), ord("C")
PITCH = 10.0


def floor_of(rooms, free, doors=(), wall=1.0):
    rooms = np.array(rooms, np.uint32)
    return OffGridFloor(rooms != 0, rooms != 0, rooms, free, free, PITCH, wall, tuple(doors))


def test_the_largest_part_of_a_block_counts():
    """Strips 3 and 5 wide on one space: a disc of 5; on a space with nothing left there is none."""
    free = {A: shapely.union_all([box(20, -10, 23, 0), box(25, -10, 30, 0)])}
    odd = floor_of([[A, A, A]], free)
    assert odd.largest_disc(0, 2, 1) == pytest.approx(5.0, abs=1e-6)
    assert odd.largest_disc(0, 0, 1) == 0


def test_what_is_left_of_a_block_lies_where_the_block_does():
    odd = floor_of([[A] * 4] * 4, {A: box(0, -40, 40, 0).difference(box(0, -40, 22, 0)).difference(box(0, -13, 40, 0))})
    # The third column from 22 on, the second row from 13 down.
    assert odd.room_left(1, 2, 1).equals(box(22, -20, 30, -13))
    assert odd.room_left(1, 2, 2).equals(box(22, -30, 40, -13))
    assert odd.room_left(0, 0, 1).is_empty
    whole = floor_of([[A] * 4] * 4, {A: box(0, -40, 40, 0)})
    assert whole.room_left(1, 2, 1).equals(box(20, -20, 30, -10))
    assert whole.room_left(2, 0, 2).equals(box(0, -40, 20, -20))
    # A room that has no walls of its own keeps the whole block.
    assert floor_of([[B]], {A: box(0, -10, 10, 0)}).room_left(0, 0, 1).equals(box(0, -10, 10, 0))


def test_a_narrow_door_does_not_close_the_doors_after_it():
    rooms = [[A, B, C]]
    free = {code: box(n * 10 + 1, -9, n * 10 + 9, -1) for n, code in enumerate((A, B, C))}
    narrow, wide = OutlineWay((10.0, -5.0), 3.0, (A, B)), OutlineWay((20.0, -5.0), 6.0, (B, C))
    out = OutlineWay((30.0, -5.0), 6.0, (C,))
    odd = floor_of(rooms, free, [narrow, wide, out])
    labels = np.array([[1, 2, 3]], np.int64)
    assert odd.links(labels, 5.0, 1) == ([(2, 3)], [3])
    assert odd.links(labels, 3.0, 1) == ([(1, 2), (2, 3)], [3])
    # As wide as the door goes through, a little wider does not.
    assert odd.links(labels, 6.0, 1) == ([(2, 3)], [3])
    assert odd.links(labels, 6.001, 1) == ([], [])


def test_positions_of_a_room_are_joined_where_a_disc_goes_from_one_to_the_other():
    """Two spaces of a room that is as narrow as 4 in between, in the same part for a disc of 3, in two for one of 5."""
    free = {A: shapely.union_all([box(1, -9, 9, -1), box(9, -7, 21, -3), box(21, -9, 29, -1)])}
    odd = floor_of([[A, A, A]], free)
    labels = np.array([[1, 0, 2]], np.int64)
    assert odd.links(labels, 3.0, 1) == ([(1, 2)], [])
    assert odd.links(labels, 5.0, 1) == ([], [])


@pytest.mark.parametrize("at", [0.6, 9.4])
def test_a_base_in_the_corner_of_its_block_belongs_to_its_part(at):
    """A disc of 1 in the far corner of a space, 4.3 mm off its middle both ways: hardly any could be further."""
    corner = box(at - 0.6, -at - 0.6, at + 0.6, -at + 0.6)
    far = box(14.0, -6.0, 16.0, -4.0)
    odd = floor_of([[A, A]], {A: shapely.union_all([corner, far])})
    found = odd._parts(A, np.array([[1, 2]], np.int64), 1.0, 1)
    assert sorted(members for _, members in found) == [[1], [2]]


def test_nobody_stands_on_a_space_that_is_cut():
    """A base of 1 mm stands on the spaces that are whole floor of one room, and on no other, however much there is."""
    drawing = drawn(SLANTED, (8, 6))
    regions = drawing.off_grid.regions
    (figure,) = figures_on(drawing, [1.0])
    p = drawing.grid.pitch
    whole = {
        (r, c)
        for r, c in itertools.product(range(12), range(16))
        if any(
            region.covers(box(c * p, -(r + 1) * p, (c + 1) * p, -r * p).buffer(-1e-6)) for region in regions.values()
        )
    }
    assert set(map(tuple, np.argwhere(figure.standing).tolist())) == whole
    assert set(map(tuple, np.argwhere(spaces_of(drawing).floor).tolist())) == whole
    cut = off_grid_floor(drawing).spaces & ~off_grid_floor(drawing).whole
    assert cut.any()


# --- discs on the grid ---


def test_a_disc_is_worked_out_once_for_all_turns_and_mirror_images():
    """Of 256 spaces with strips and posts 51 are different: Burnside's count for the square, worked by hand below.

    W. Burnside, Theory of Groups of Finite Order, 1897: the mean number of spaces that a turn or mirror leaves alone.
    Four sides and four corners: 2^8 as they are; quarter turns 2^2 each; a half turn 2^4; mirrors 2^5 each.
    """
    grid, known = Grid(), {}
    for strips, posts in itertools.product(range(16), range(16)):
        one, other = np.array([[strips]], np.uint8), np.array([[posts]], np.uint8)
        found = known_disc(one, other, grid, known)
        assert found == pytest.approx(largest_disc(one, other, grid.pitch, grid.wall_thickness), abs=1e-9)
    assert len(known) == (2**8 + 2 * 2**2 + 2**4 + 4 * 2**5) / 8 == 51


def test_roots_agree_with_a_general_library():
    random = np.random.default_rng(1)
    for a, b, c in random.normal(0, 100, (200, 3)).tolist():
        expected = [float(x.real) for x in np.roots([a, b, c]) if abs(x.imag) < 1e-9]
        assert sorted(_roots(a, b, c)) == pytest.approx(sorted(expected), rel=1e-9)
    assert _roots(0.0, 4.0, 2.0) == [-0.5]
    assert _roots(0.0, 1.0, 2.0) == [-2.0]


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_a_double_root_that_rounding_pushes_off_the_axis_is_one(scale):
    """(x + scale)^2, its last term a few units of the last place too large; a thousandth too large there is none."""
    assert _roots(1.0, 2 * scale, scale**2 * (1 + 1e-13)) == pytest.approx([-scale, -scale], rel=1e-6)
    assert _roots(1.0, 2 * scale, scale**2 * 1.001) == []


def test_the_largest_disc_of_any_polygon_touches_three_sides():
    """A right triangle 3, 4, 5: the incircle's radius is (3 + 4 - 5) / 2 (Euclid, Elements IV.4)."""
    odd = floor_of([[A] * 3] * 3, {A: shapely.Polygon([(0, 0), (30, 0), (0, -40)])})
    assert odd.largest_disc(0, 0, 4) == pytest.approx(20.0, abs=1e-6)
    assert math.isclose(floor_of([[A]], {A: box(0, -10, 10, 0)}).largest_disc(0, 0, 1), 10.0, abs_tol=1e-6)
