"""Points of outlines where geometry says they are; cells of 60 mm, x to the east, y to the south."""

from __future__ import annotations

import math

import pytest
import shapely

from tilegen.errors import InputError
from tilegen.geometry import CHORD_MM, chord_angle
from tilegen.plans.shapes import Arc, Circle, Corners, DrawnShape, Hall, polygon_of

CELL = 60.0
SQUARE = ((1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0))


def made(outline):
    return polygon_of(DrawnShape("A", outline, "[[shape]] 1"), CELL)


def refused(words, outline):
    with pytest.raises(InputError) as caught:
        made(outline)
    assert words in caught.value.message
    assert caught.value.place == "[[shape]] 1"


def on(polygon, *points):
    """Whether all these points, in cells, are corners of it."""
    corners = shapely.MultiPoint(polygon.exterior.coords)
    return all(corners.distance(shapely.Point(x * CELL, y * CELL)) < 1e-6 for x, y in points)


@pytest.mark.parametrize("radius", [0.7, 1.0, 2.3, 3.1])
def test_a_circle_has_corners_at_every_eighth(radius):
    slant = radius / math.sqrt(2)
    found = made(Circle((4, 5), radius))
    assert on(found, (4 + radius, 5), (4 - radius, 5), (4, 5 + radius), (4, 5 - radius))
    assert on(found, *((4 + a * slant, 5 + b * slant) for a in (1, -1) for b in (1, -1)))


@pytest.mark.parametrize("radius", [2.0, 3.5])
def test_a_circle_has_no_more_corners_than_its_chords_need(radius):
    """2 pi over the angle whose chord leaves the arc by the error, and at most eight more."""
    needed = 2 * math.pi / (2 * math.acos(1 - CHORD_MM / (radius * CELL)))
    assert needed <= len(made(Circle((4, 4), radius)).exterior.coords) - 1 < needed + 8
    assert chord_angle(radius * CELL) == pytest.approx(2 * math.pi / needed)


@pytest.mark.parametrize(
    "start, end, first, last",
    [(0, 90, (0, -1), (1, 0)), (90, 180, (1, 0), (0, 1)), (180, 270, (0, 1), (-1, 0)), (270, 360, (-1, 0), (0, -1))],
)
def test_a_curved_hall_goes_clockwise_from_one_bearing_to_the_other(start, end, first, last):
    found = made(Arc((4, 5), 2.0, 1.0, start, end))
    assert on(found, *((4 + r * x, 5 + r * y) for r in (1.5, 2.5) for x, y in (first, last)))
    middle = math.radians((start + end) / 2)
    assert found.contains(shapely.Point((4 + 2 * math.sin(middle)) * CELL, (5 - 2 * math.cos(middle)) * CELL))


def test_a_curved_hall_has_the_area_of_its_ring_sector():
    for start, sweep in [(200, 100), (350, 40), (300, 90), (-30, 61), (10, 350)]:
        found = made(Arc((4, 4), 2.0, 1.0, start, start + sweep))
        exact = math.radians(sweep) / 2 * (150**2 - 90**2)
        assert found.area == pytest.approx(exact, abs=math.radians(sweep) * 150 * CHORD_MM)
        # Its own middle lies on the bearing half way.
        half = math.radians(start + sweep / 2)
        east, south = found.centroid.x - 240, found.centroid.y - 240
        away = math.hypot(east, south)
        assert away * math.cos(math.atan2(east, -south) - half) == pytest.approx(away)


def test_facets_of_a_curved_hall_lie_alike_in_every_quarter():
    """A quarter turned by 90 degrees has the same corners: 45 degrees on from any bearing too."""
    one = made(Arc((0, 0), 2.0, 1.0, 0, 90))
    other = made(Arc((0, 0), 2.0, 1.0, 90, 180))
    turned = sorted((round(-y, 6) + 0.0, round(x, 6) + 0.0) for x, y in one.exterior.coords)
    there = sorted((round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in other.exterior.coords)
    assert {*turned} == {*there}
    assert on(one, (2.5 * math.sqrt(0.5), -2.5 * math.sqrt(0.5)))


def test_a_straight_hall_lies_about_the_line_between_its_ends():
    slanting = made(Hall((1, 1), (4, 5), 1.0))
    # 3-4-5: across it (4/5, -3/5), half a cell each way.
    assert on(slanting, (1.4, 0.7), (0.6, 1.3), (4.4, 4.7), (3.6, 5.3))
    assert slanting.area == pytest.approx(5 * CELL**2)


def test_bows_go_outwards_and_negative_ones_inwards():
    """Area of a circle's segment of chord c and height h: r^2 / 2 (t - sin t), r = (c^2 / 4 + h^2) / 2 h, t = 4 atan(2 h / c)."""
    for bow in [0.25, -0.25, 0.005, -0.005]:
        h = abs(bow) * CELL
        radius, angle = (CELL**2 / 4 + h * h) / (2 * h), 4 * math.atan(2 * h / CELL)
        segment = math.copysign(radius**2 / 2 * (angle - math.sin(angle)), bow)
        for corners in (SQUARE, SQUARE[::-1]):
            for side in range(4):
                bows = tuple(bow if n == side else 0.0 for n in range(4))
                assert made(Corners(corners, bows)).area == pytest.approx(CELL**2 + segment, abs=70 * CHORD_MM)
                assert (made(Corners(corners, bows)).area > CELL**2) == (bow > 0)


def test_as_many_corners_as_anybody_writes():
    def ring(many):
        turns = [2 * math.pi * k / many for k in range(many)]
        return Corners(tuple((4 + 3 * math.cos(t), 4 + 3 * math.sin(t)) for t in turns), (0.0,) * many)

    assert len(made(ring(2000)).exterior.coords) == 2001
    refused("2001 corners", ring(2001))
    refused("2 corners", Corners(((0, 0), (1, 1)), (0.0,) * 2))


def test_limits_from_both_sides():
    for least, less, words in [
        (Circle((4, 4), 0.13), Circle((4, 4), 0.12), "squares of floor"),
        (Hall((1, 1), (1.5, 1), 0.11), Hall((1, 1), (2, 1), 0.09), "narrower"),
        (Hall((1, 1), (1.101, 1), 1.0), Hall((1, 1), (1.099, 1), 1.0), "at [1, 1] is only 0.099 cells long"),
        (Arc((4, 4), 0.5, 1.0, 0, 90), Arc((4, 4), 0.499, 1.0, 0, 90), "radius"),
        (Arc((4, 4), 2.0, 1.0, 5, 365), Arc((4, 4), 2.0, 1.0, 5, 366), "since it goes clockwise, but by at most 360"),
        (Arc((4, 4), 2.0, 1.0, 50, 60), Arc((4, 4), 2.0, 1.0, 60, 50), "since it goes clockwise, but by at most 360"),
        (Corners(SQUARE, (0.5, 0, 0, 0)), Corners(SQUARE, (0.501, 0, 0, 0)), "bends by 0.501 cells"),
        (Corners(SQUARE, (-0.4, 0, 0, 0)), Corners(SQUARE, (-0.501, 0, 0, 0)), "bends by 0.501 cells"),
    ]:
        assert made(least).is_valid
        refused(words, less)
