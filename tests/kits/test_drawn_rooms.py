"""Rooms drawn off the grid as polygons: areas by closed formulas, chords as few as their error allows, what is refused.

Area of a circular segment: r^2 / 2 (angle - sin angle); radius of an arc from its chord c and height h:
c^2 / (8 h) + h / 2 (Wikipedia, "Circular segment").
"""

import math

import numpy as np
import pytest
import shapely

from tilegen.errors import InputError
from tilegen.geometry import CHORD_MM
from tilegen.plans.shapes import MOST_CORNERS, Arc, Circle, Corners, DrawnShape, Hall, polygon_of

CELL = 63.5
SQUARE = ((1, 1), (5, 1), (5, 5), (1, 5))


def polygon(outline, cell=CELL):
    return polygon_of(DrawnShape("A", outline, "[[shape]] 1"), cell)


def points_of(outline, cell=CELL):
    (ring,) = outline.rings(cell)
    return np.array(ring)


def segment(chord, height):
    """Area between a chord and its arc."""
    radius = chord**2 / (8 * height) + height / 2
    angle = 2 * math.acos((radius - height) / radius)
    return radius**2 / 2 * (angle - math.sin(angle))


def leaves(radius, angle):
    """How far a chord of so many radians leaves its arc."""
    return radius * (1 - math.cos(angle / 2))


def test_a_bow_adds_a_circular_segment_or_takes_it_away():
    for bow in [-0.9, -0.01, 0.01, 0.4, 1.2, 2.0]:
        for turned in [False, True]:
            corners = SQUARE[::-1] if turned else SQUARE
            # The side along the top: from (1, 1) to (5, 1), or back.
            side = 2 if turned else 0
            made = polygon(Corners(corners, tuple(bow if k == side else 0.0 for k in range(4))))
            exact = 16 * CELL**2 + math.copysign(segment(4 * CELL, abs(bow) * CELL), bow)
            # Chords lie inside of their arc, by no more than the error all along.
            arc = math.pi * 4 * CELL
            assert 0 <= math.copysign(1, bow) * (exact - made.area) < arc * CHORD_MM
            top = made.bounds[1]
            assert top == pytest.approx((1 - max(bow, 0)) * CELL, abs=CHORD_MM)


def test_a_bow_has_as_few_chords_as_its_error_allows():
    for bow in [0.05, 0.3, 1.0, 2.0]:
        points = points_of(Corners(SQUARE, (bow, 0.0, 0.0, 0.0)))
        chain = np.array([p for p in points if p[1] <= CELL + 1e-9])
        height, chord = bow * CELL, 4 * CELL
        radius = chord**2 / (8 * height) + height / 2
        distances = np.hypot(*(chain - (3 * CELL, (1 - bow) * CELL + radius)).T)
        assert distances == pytest.approx(np.full(len(chain), radius), abs=1e-6)
        angle, chords = 2 * math.acos((radius - height) / radius), len(chain) - 1
        assert leaves(radius, angle / chords) <= CHORD_MM < leaves(radius, angle / (chords - 1))


def test_a_bow_that_nobody_could_see_is_straight():
    """A quarter of the chords' error, 0.005 mm."""
    assert len(points_of(Corners(SQUARE, (0.004, 0.0, 0.0, 0.0)), 1.0)) == 4
    assert len(points_of(Corners(SQUARE, (-0.006, 0.0, 0.0, 0.0)), 1.0)) == 5


def test_a_bow_up_to_a_half_circle():
    polygon(Corners(SQUARE, (2.0, 0.0, 0.0, 0.0)))
    with pytest.raises(
        InputError, match=r"the side from \[1, 1\] to \[5, 1\] bends by 2.01 cells.* at most 2, half the side's length"
    ):
        polygon(Corners(SQUARE, (2.01, 0.0, 0.0, 0.0)))
    with pytest.raises(InputError, match=r"bends by 2\.01 cells"):
        polygon(Corners(SQUARE, (-2.01, 0.0, 0.0, 0.0)))


def test_a_circle_is_alike_in_its_eighths_and_has_no_more_chords_than_that_takes():
    for radius in [0.3, 1.0, 2.5, 7.0]:
        points = points_of(Circle((0.0, 0.0), radius))
        r, chords = radius * CELL, len(points)
        assert np.hypot(*points.T) == pytest.approx(np.full(chords, r), abs=1e-9)
        assert chords % 8 == 0
        assert leaves(r, 2 * math.pi / chords) <= CHORD_MM
        assert chords == 8 or leaves(r, 2 * math.pi / (chords - 8)) > CHORD_MM
        whole = set(map(tuple, (points.round(9) + 0.0).tolist()))
        assert len(whole) == chords
        for x, y in whole:
            assert {(-y + 0.0, x), (x, -y + 0.0), (y, x)} <= whole
        assert polygon(Circle((3.0, 4.0), radius)).centroid.coords[0] == pytest.approx((3 * CELL, 4 * CELL))


def on_circle(centre, radius, bearing, cell=CELL):
    """Clockwise from north, y down."""
    b = math.radians(bearing)
    return (centre[0] + radius * math.sin(b)) * cell, (centre[1] - radius * math.cos(b)) * cell


def test_a_curved_hall_lies_between_two_bearings():
    for start, end in [(0, 90), (30, 150), (350, 370), (-45, 10), (200, 559), (10.5, 22)]:
        hall = Arc((6.0, 7.0), 2.5, 1.0, start, end)
        made = polygon(hall)
        exact = math.radians(end - start) / 2 * (3.0**2 - 2.0**2) * CELL**2
        assert made.area == pytest.approx(exact, abs=math.radians(end - start) * 5 * CELL * CHORD_MM)
        corners = {(round(x, 6), round(y, 6)) for x, y in points_of(hall)}
        for radius in (2.0, 3.0):
            for bearing in (start, end):
                x, y = on_circle((6.0, 7.0), radius, bearing)
                assert (round(x, 6), round(y, 6)) in corners
        middle = shapely.Point(on_circle((6.0, 7.0), 2.5, (start + end) / 2))
        assert made.contains(middle)


def test_facets_of_a_curved_hall():
    """None leaves the arc by more than the error, none is a tenth as long as the others, and quarters are alike."""
    for radius, start, end in [(2.5, 0.0, 90.0), (2.5, 1.0, 88.0), (0.8, 33.0, 200.0), (9.0, 89.9, 91.0)]:
        points = points_of(Arc((0.0, 0.0), radius, 0.5, start, end))
        for r in (radius - 0.25, radius + 0.25):
            ring = np.array([p for p in points if abs(math.hypot(*p) - r * CELL) < 1e-6])
            bearings = np.sort(np.degrees(np.unwrap(np.arctan2(ring[:, 0], -ring[:, 1]))))
            assert bearings[-1] - bearings[0] == pytest.approx(end - start)
            steps = np.radians(np.diff(bearings))
            # A facet that swallowed one much shorter than itself is a tenth longer.
            assert leaves(r * CELL, steps.max()) <= CHORD_MM
            assert len(steps) < 3 or steps.min() > 0.09 * steps.max()
            inner = bearings[1:-1]
            if len(inner) > 1:
                step = np.diff(inner).min()
                assert 90 / step == pytest.approx(2 * round(45 / step), abs=1e-6)
                assert inner / step == pytest.approx(np.round(inner / step), abs=1e-6)


def test_turned_curved_halls_are_alike():
    first = points_of(Arc((0.0, 0.0), 2.5, 1.0, 20.0, 80.0))
    for k in (1, 2, 3):
        turned = points_of(Arc((0.0, 0.0), 2.5, 1.0, 20.0 + 90 * k, 80.0 + 90 * k))
        first_turned = first
        for _ in range(k):
            first_turned = first_turned @ np.array([[0, 1], [-1, 0]])
        assert turned == pytest.approx(first_turned, abs=1e-9)


def test_a_curved_hall_all_the_way_round():
    ring = polygon(Arc((4, 4), 2.5, 1.0, 15.0, 375.0))
    assert len(ring.interiors) == 1
    assert ring.area == pytest.approx(math.pi * (9 - 4) * CELL**2, abs=2 * math.pi * 5 * CELL * CHORD_MM)
    # As wide as its circle: no hole is left, and a part of it comes to a point in the middle.
    disc = polygon(Arc((4, 4), 0.5, 1.0, 0.0, 360.0))
    assert not disc.interiors
    assert disc.area == pytest.approx(math.pi * CELL**2, rel=1e-3)
    slice_ = Arc((4, 4), 0.5, 1.0, 0.0, 90.0)
    assert polygon(slice_).area == pytest.approx(math.pi / 4 * CELL**2, rel=1e-3)
    assert points_of(slice_).tolist().count([4 * CELL, 4 * CELL]) == 1


def test_a_slanting_hall_of_three_four_five():
    """Along (3, 4) / 5; half its width of 2.5 to each side of that is (1, -0.75)."""
    corners = points_of(Hall((2, 2), (5, 6), 2.5), 1.0)
    assert {tuple(p) for p in corners.round(9).tolist()} == {(3, 1.25), (6, 5.25), (4, 6.75), (1, 2.75)}
    assert polygon(Hall((2, 2), (5, 6), 2.5), 1.0).area == pytest.approx(12.5)


def regular(number, radius=4.0):
    return tuple(
        (5 + radius * math.cos(2 * math.pi * k / number), 5 + radius * math.sin(2 * math.pi * k / number))
        for k in range(number)
    )


def test_how_many_corners_a_room_may_have():
    assert len(points_of(Corners(regular(MOST_CORNERS), (0.0,) * MOST_CORNERS))) == MOST_CORNERS == 2000
    with pytest.raises(InputError, match=r"2001 corners\. Give 3 to 2000"):
        polygon(Corners(regular(2001), (0.0,) * 2001))
    assert polygon(Corners(regular(3), (0.0,) * 3)).area == pytest.approx(12 * math.sqrt(3) * CELL**2)


def test_slips_of_the_pen_are_refused_and_what_is_just_large_enough_is_not():
    for fits, refused, words in [
        (Circle((3, 3), 0.1272), Circle((3, 3), 0.125), r"the outline at \[3, 3[^]]*\] covers less than 0.05 squares"),
        (Hall((1, 2), (6, 2), 0.101), Hall((1, 2), (6, 2), 0.099), "narrower than 0.1 squares everywhere"),
        (
            Hall((1, 2), (1.101, 2), 1.0),
            Hall((1, 2), (1.099, 2), 1.0),
            r"the hall at \[1, 2\] is only 0.099 cells long",
        ),
        (
            Arc((5, 5), 0.5, 1.0, 0, 90),
            Arc((5, 5), 0.499, 1.0, 0, 90),
            "a radius of at least 0.5, and this one has 0.499",
        ),
        (Arc((5, 5), 2.0, 1.0, 0, 360), Arc((5, 5), 2.0, 1.0, 0, 360.1), "from 0 to 360.1 degrees"),
        (Arc((5, 5), 2.0, 1.0, 90, 100), Arc((5, 5), 2.0, 1.0, 90, 90), "from 90 to 90 degrees"),
        (Arc((5, 5), 2.0, 1.0, 90, 100), Arc((5, 5), 2.0, 1.0, 90, 80), "from 90 to 80 degrees"),
        (Circle((3, 3), 1), Circle((3, 3), 0.0), "the radius is 0 squares"),
        (Hall((1, 2), (6, 2), 1), Hall((1, 2), (6, 2), -1.0), "the width is -1 squares"),
        (Arc((5, 5), 2.0, 1.0, 0, 90), Arc((5, 5), 2.0, 0.0, 0, 90), "the width is 0 squares"),
        (
            Corners(((0, 0), (4, 0), (4, 4), (0, 0.002)), (0.0,) * 4),
            Corners(((0, 0), (4, 0), (4, 4), (0, 0.0005)), (0.0,) * 4),
            r"corners 4 and 1 are the same point, \[0, 0\]",
        ),
        (
            Corners(((0, 0), (4, 0), (4, 4), (1, 4)), (0.0,) * 4),
            Corners(((0, 0), (4, 0), (1, 3), (4, 3)), (0.0,) * 4),
            r"crosses or touches itself near \[2.29, 1.71\]",
        ),
    ]:
        assert polygon(fits).is_valid
        with pytest.raises(InputError, match=words) as caught:
            polygon(refused)
        assert "[[shape]] 1" in str(caught.value)
