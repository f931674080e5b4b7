"""The order of strokes: turned runs never lengthen the way, none is left that would shorten it; starts of outlines."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tilegen.sheets.drawing import ArcSpan, Stroke
from tilegen.sheets.toolpaths import order
from tilegen.sheets.toolpaths.order import shortest_travel, travel

ORIGIN = np.zeros(2)


def scores(seed: int, number: int) -> list[Stroke]:
    places = np.random.default_rng(seed).uniform(0, 200, (number, 2, 2))
    return [Stroke("SCORE", points, part=n) for n, points in enumerate(places)]


def way(tour: list[tuple[np.ndarray, np.ndarray]], start: np.ndarray) -> float:
    """How far it is from each exit to the next entry."""
    total, at = 0.0, start
    for entry, leave in tour:
        total += float(np.hypot(*(entry - at)))
        at = leave
    return total


def test_no_run_is_left_that_is_better_the_other_way_round(monkeypatch) -> None:
    for seed in range(6):
        for window in [1, 3, 300]:
            monkeypatch.setattr(order, "_WINDOW", window)
            strokes, start = scores(seed, 14), np.array([30.0, 170.0])
            units = [[stroke] for stroke in strokes]
            first = order._nearest_first(units, start)
            found = order._two_opt(first, start)
            for tour in (first, found):
                assert sorted(tour.order.tolist()) == list(range(14))
                for unit, entry, leave, back in zip(tour.order, tour.ins, tour.outs, tour.back, strict=True):
                    ends = strokes[unit].points[::-1] if back else strokes[unit].points
                    assert (entry == ends[0]).all()
                    assert (leave == ends[-1]).all()
            tour = list(zip(found.ins, found.outs, strict=True))
            length = way(tour, start)
            assert length <= way(list(zip(first.ins, first.outs, strict=True)), start) + 1e-9
            for i in range(13):
                for j in range(i + 1, min(i + window, 13) + 1):
                    turned = [*tour[:i], *((b, a) for a, b in tour[i : j + 1][::-1]), *tour[j + 1 :]]
                    assert way(turned, start) > length - 1e-5


def test_the_first_tour_goes_to_the_nearest_end_each_time() -> None:
    strokes = scores(4, 12)
    tour = order._nearest_first([[s] for s in strokes], ORIGIN)
    at, left = ORIGIN, set(range(12))
    for unit, entry, leave in zip(tour.order.tolist(), tour.ins, tour.outs, strict=True):
        nearest = min(np.hypot(*(end - at)) for n in left for end in strokes[n].points)
        assert np.hypot(*(entry - at)) == pytest.approx(nearest)
        left.remove(unit)
        at = leave


def test_numbers_are_engraved_part_by_part_and_other_strokes_one_by_one() -> None:
    """Two strokes of part 7 in their order; three scores of part 7 are free."""
    number = [Stroke("ENGRAVE", np.array([(x, 10.0), (x, 20.0)]), part=7) for x in (50.0, 40.0)]
    found = shortest_travel(number, ORIGIN)
    # From the origin the end of the second is nearer: the number is written backwards, as a whole.
    assert [s.points.tolist() for s in found] == [[[40, 20], [40, 10]], [[50, 20], [50, 10]]]
    marks = [Stroke("SCORE", np.array([(x, 10.0), (x, 20.0)]), part=7) for x in (50.0, 10.0, 30.0)]
    assert [s.points[0, 0] for s in shortest_travel(marks, ORIGIN)] == [10, 30, 50]
    # Strokes of no part have nothing to stay with.
    loose = [Stroke("ENGRAVE", np.array([(x, 10.0), (x, 20.0)])) for x in (50.0, 10.0, 30.0)]
    assert [s.points[0, 0] for s in shortest_travel(loose, ORIGIN)] == [10, 30, 50]
    assert shortest_travel([], ORIGIN) == []


def square(x: float, y: float, side: float = 10.0, part: int = -1) -> Stroke:
    return Stroke("CUT_OUTER", np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)]), part=part)


def test_outlines_begin_at_the_corner_that_is_on_the_way() -> None:
    """From the left to a square, and on to a line above it: every corner is tried by hand."""
    outline, mark = square(100, 0), Stroke("CUT_OUTER", np.array([(100.0, 200.0), (100.0, 230.0)]), opened=True)
    found = shortest_travel([outline, mark], np.array([0.0, 10.0]))
    assert found[0].points[0].tolist() == [100, 10]
    corners = outline.points.tolist()
    costs = {tuple(c): np.hypot(c[0], c[1] - 10) + np.hypot(100 - c[0], 200 - c[1]) for c in corners}
    assert costs[100, 10] == min(costs.values())
    # The last one is left wherever it was entered: at the corner nearest to the stroke before.
    found = shortest_travel([mark, square(120, 240)], np.array([90.0, 150.0]))
    assert [s.points[0].tolist() for s in found] == [[100, 200], [120, 240]]


def test_an_outline_does_not_begin_inside_of_an_arc() -> None:
    """Five corners, of which the second to the fourth are an arc: its middle one is no start."""
    points = np.array([(0.0, 0.0), (10.0, 0.0), (13.0, 5.0), (10.0, 10.0), (0.0, 10.0)])
    assert order._starts(Stroke("CUT_OUTER", points, (ArcSpan(1, 3),))).tolist() == [0, 1, 3, 4]
    # One that runs over the last corner.
    assert order._starts(Stroke("CUT_OUTER", points, (ArcSpan(3, 6),))).tolist() == [1, 2, 3]
    # From (30, 5) the nearest corner is inside of the arc; of its two ends, alike far, the first is taken.
    (found,) = shortest_travel([Stroke("CUT_OUTER", points, (ArcSpan(1, 3),))], np.array([30.0, 5.0]))
    assert (found.points[0].tolist(), found.arcs) == ([10, 0], (ArcSpan(0, 2),))


def test_of_many_corners_at_most_twelve_are_tried() -> None:
    for number, tried in ((12, 12), (13, 7), (24, 12), (25, 9), (200, 12)):
        angles = np.linspace(0, 2 * np.pi, number, endpoint=False)
        stroke = Stroke("CUT_OUTER", np.stack([np.cos(angles), np.sin(angles)], axis=1))
        starts = order._starts(stroke)
        assert len(starts) == tried <= 12
        assert starts[0] == 0
        assert len({b - a for a, b in pairwise(starts.tolist())}) == 1


def test_travel_from_another_start() -> None:
    strokes = [Stroke("SCORE", np.array([(3.0, 4.0), (3.0, 10.0)])), square(9, 18)]
    assert travel(strokes) == pytest.approx(5 + 10)
    # A closed stroke is left where it was entered.
    assert travel(
        [*strokes, Stroke("SCORE", np.array([(9.0, 20.0), (0.0, 0.0)]))], np.array([3.0, 0.0])
    ) == pytest.approx(4 + 10 + 2)


def test_an_outline_begins_near_the_end_of_the_number_before_it() -> None:
    # The number's first stroke ends at (1, 0), its last one at (50, 0).
    number = [
        Stroke("ENGRAVE", np.array([[0.0, 0], [1, 0]]), part=0),
        Stroke("ENGRAVE", np.array([[2.0, 0], [50, 0]]), part=0),
    ]
    outline = Stroke("CUT_OUTER", np.array([[2.0, 5], [52, 5], [27, 30]]), part=0)
    found = shortest_travel([*number, outline], ORIGIN)
    assert [s.layer for s in found] == ["ENGRAVE", "ENGRAVE", "CUT_OUTER"]
    assert found[-1].points[0].tolist() == [52, 5]
