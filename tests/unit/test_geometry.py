"""Plane geometry against shapely's and ezdxf's own: turns, areas, arcs, offsets, overlays."""

from __future__ import annotations

import math

import ezdxf.math
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from tilegen.geometry import (
    CHORD_MM,
    arc_points,
    circle_through,
    corners_of,
    difference,
    from_edge,
    intersection,
    lines_of,
    offset_path,
    opened,
    oriented_rings,
    polygonal,
    polygons_of,
    quarter_turned,
    signed_area,
    straightened,
    turn_right,
    turns_of,
    welded,
    without_collinear,
)

COORDINATE = st.integers(-2000, 2000).map(lambda n: n / 20)
POINT = st.tuples(COORDINATE, COORDINATE)
L_SHAPE = Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)])


@st.composite
def stars(draw: st.DrawFn) -> Polygon:
    """A ring round (0, 0), as jagged as can be."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.integers(20, 400), min_size=count, max_size=count))
    return Polygon(
        [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, np.arange(count) * math.tau / count, strict=True)]
    )


@given(stars())
def test_a_ring_turns_once_round_and_has_the_area_that_shapely_gives(star):
    ring = np.array(corners_of(star.exterior))
    assert math.fsum(turns_of(ring)) == pytest.approx(math.tau)
    assert math.fsum(turns_of(ring[::-1])) == pytest.approx(-math.tau)
    assert signed_area(ring) == pytest.approx(star.area)
    assert signed_area(ring[::-1]) == pytest.approx(-star.area)


@given(POINT, POINT, POINT)
def test_turns_to_the_right_and_places_beside_an_edge(a, b, c):
    if math.dist(a, b) < 0.1 or math.dist(b, c) < 0.1:
        return
    beside = from_edge((a, b), 1.0, 0.5)
    # Right round is as far to the left as to the right.
    assert math.remainder(turn_right(a, b, c) + turns_of(np.array([a, b, c]))[1], math.tau) == pytest.approx(
        0, abs=1e-9
    )
    assert LineString([a, b]).distance(shapely.Point(beside)) >= 0.5 - 1e-9
    assert 0 < turn_right(a, from_edge((a, b), 0.5), beside) < math.pi / 2


def test_four_quarter_turns_are_none_to_the_bit():
    points = np.array([(0.1, 0.7), (-31.75, 6.35)])
    turned = points
    for _ in range(4):
        turned = quarter_turned(turned)
    assert (turned == points).all()
    assert quarter_turned(np.array([(2.0, 1.0)])).tolist() == [[1.0, -2.0]], "clockwise: east goes to the south"


@given(POINT, POINT, st.floats(0.02, 4.0), st.sampled_from([1, -1]))
def test_arcs_lie_on_the_circle_that_a_bulge_means_in_dxf(a, b, bulge, sign):
    """Source: the bulge of DXF, the tangent of a quarter of the arc's angle, as ezdxf reads it."""
    chord = math.dist(a, b)
    if chord < 1:
        return
    points = np.array(arc_points(a, b, sign * bulge * chord / 2))
    centre, _, _, radius = ezdxf.math.bulge_to_arc(a, b, sign * bulge)
    assert np.hypot(*(points - (centre.x, centre.y)).T) == pytest.approx(radius, rel=1e-6)
    middles = (points[1:] + points[:-1]) / 2
    assert radius - np.hypot(*(middles - (centre.x, centre.y)).T).min() <= CHORD_MM + 1e-6
    # The whole angle is 4 atan(bulge); to the right of the chord if the bulge is positive.
    assert len(points) > 2
    assert math.copysign(1, turn_right(a, tuple(points[1]), b)) == -sign
    found, size = circle_through(points[0], points[len(points) // 2], points[-1])
    assert size == pytest.approx(radius, rel=1e-5)
    assert found == pytest.approx((centre.x, centre.y), abs=1e-4 * radius)


def test_a_path_moves_to_its_right_as_shapelys_curve_does():
    path = [(0.0, 0.0), (0.0, 10.0), (8.0, 16.0), (20.0, 16.0)]
    ours = LineString(offset_path(path, 1.5))
    assert ours.hausdorff_distance(LineString(path).offset_curve(-1.5, join_style="mitre")) < 1e-9


@given(stars(), stars())
def test_two_regions_fall_into_what_they_share_and_the_rest(one, other):
    assert intersection(one, other).area + difference(one, other).area == pytest.approx(one.area, rel=1e-6)


def test_only_areas_and_lines_are_kept():
    both = shapely.GeometryCollection(
        [box(0, 0, 1, 1), LineString([(3, 0), (4, 0)]), shapely.Point(9, 9), box(5, 5, 7, 7)]
    )
    assert [part.area for part in polygons_of(both, 1.0)] == [4.0]
    assert polygonal(both) == MultiPolygon([box(0, 0, 1, 1), box(5, 5, 7, 7)])
    assert [line.length for line in lines_of(both)] == [1.0]
    assert polygonal(shapely.Point(0, 0)).is_empty


def test_rings_are_walked_with_the_inside_on_the_left():
    outer, hole = oriented_rings(Polygon(box(0, 0, 9, 9).exterior, [box(2, 2, 3, 3).exterior]))
    assert signed_area(outer) == 81
    assert signed_area(hole) == -1


def test_corners_on_straight_sides_go():
    corners = [*L_SHAPE.exterior.coords[:1], (3, 0), *L_SHAPE.exterior.coords[1:-1]]
    assert len(without_collinear(Polygon(corners)).exterior.coords) == 7
    near = [*corners[:1], (3, 1e-3), *corners[2:]]
    assert len(without_collinear(Polygon(near)).exterior.coords) == 8
    assert straightened(Polygon(near)).equals(L_SHAPE)
    with pytest.raises(ValueError, match="falls apart"):
        straightened(MultiPolygon([box(0, 0, 1, 1), box(2, 2, 3, 3)]))


def test_an_opening_takes_what_is_too_narrow():
    comb = L_SHAPE.union(box(6, 0.5, 9, 0.9))
    assert opened(comb, 0.5).equals(L_SHAPE)


def test_regions_that_meet_but_for_rounding_are_welded():
    a, middle, b = (0.6, 0.3), (3.82, 3.66), (5.2, 5.1)
    left = Polygon([a, b, (0, 9)])
    # Two regions on its other side, a third of a micrometre off at the corner that all share.
    off = middle[0] + 3e-7, middle[1]
    right = [Polygon([a, off, (9, 0)]), Polygon([off, b, (9, 0)])]
    grid, reach = 1e-7, 1e-6
    assert shapely.minimum_clearance(shapely.union_all([left, *right], grid_size=grid)) < reach, "they keep a crack"
    whole = welded([left, *right], grid, reach)
    assert isinstance(whole, Polygon)
    assert shapely.minimum_clearance(whole) > 1
    assert whole.area == pytest.approx(left.area + right[0].area + right[1].area, abs=1e-5)
