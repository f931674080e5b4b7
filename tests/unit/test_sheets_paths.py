"""Paths of each machine: order, hot wire, trailing blade, tabs, shared lines."""

from __future__ import annotations

import io
import math

import ezdxf
import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from tests.unit.test_sheets_audit import made, with_rules
from tilegen.errors import InputError
from tilegen.files.stock import read_machine
from tilegen.model.machines import MachineFile, PathRules
from tilegen.sheets.drawing import CUTS, Kerf, SheetDrawing, Stroke
from tilegen.sheets.make import sheet_files
from tilegen.sheets.partpaths import off_creases, without_doubles
from tilegen.sheets.toolpaths.order import fewest_lifts, in_cutting_order, shortest_travel, travel
from tilegen.sheets.toolpaths.outlines import pivot_path, tab_places, with_tabs
from tilegen.sheets.toolpaths.wire import LEAD_MM, as_one_line

RULES = PathRules()


def drawing(*strokes: Stroke, size: tuple[float, float] = (300.0, 200.0), kerf: float = 0.0) -> SheetDrawing:
    return SheetDrawing("s", "s", size, Kerf.of(kerf), strokes)


def ring(shape: Polygon) -> np.ndarray:  # type: ignore[type-arg]
    return np.array(shape.exterior.coords)[:-1]


# The textbook problem of a plotter: a connected net with 2k odd crossings takes k trails; a grid of m x n squares has
# 2 (m + n - 2) of them (Euler; "Chapter 6 Graph Theory", a textbook's plotting problem).
def test_fewest_lifts_on_a_grid_of_scores() -> None:
    for m, n, trails in [(1, 1, 1), (2, 2, 2), (3, 3, 4), (4, 4, 6), (2, 5, 5), (8, 8, 14)]:
        lines = [np.array([(0, y), (m, y)], float) for y in range(n + 1)]
        lines += [np.array([(x, 0), (x, n)], float) for x in range(m + 1)]
        found = fewest_lifts(lines)
        assert len(found) == trails == max(1, m + n - 2)
        # All of the net, no piece of it twice.
        drawn = [LineString(points) for points in found]
        assert sum(line.length for line in drawn) == pytest.approx(m * (n + 1) + n * (m + 1))
        assert (
            shapely.union_all(drawn).symmetric_difference(shapely.union_all([LineString(x) for x in lines])).length
            < 1e-9
        )


def test_straight_scores_that_need_no_more_lifts_stay_straight() -> None:
    cross = [np.array([(0, 5), (10, 5)], float), np.array([(5, 0), (5, 10)], float)]
    assert fewest_lifts(cross) == cross


def test_a_score_along_a_cut_gives_way_to_it() -> None:
    outline = box(0, 0, 50, 40)
    inside = ((0.0, 20.0), (50.0, 20.0))
    assert without_doubles([inside, ((0.0, 0.0), (50.0, 0.0))], outline) == [inside]
    notched = outline.difference(box(20, 0, 50, 10))
    (rest,) = without_doubles([((0.0, 10.0), (50.0, 10.0))], notched)
    assert sorted(x for x, _ in rest) == pytest.approx([0, 20], abs=0.1)


def test_travel_is_short_repeatable_and_loses_nothing() -> None:
    random = np.random.default_rng(3)
    places = random.uniform(0, 500, (150, 2))
    closed = [Stroke("CUT_OUTER", ring(box(x, y, x + 4, y + 3)), part=n) for n, (x, y) in enumerate(places)]
    open_ones = [Stroke("SCORE", np.array([(x, y), (x + 6, y + 1)]), part=n) for n, (x, y) in enumerate(places)]
    for strokes in (closed, open_ones):
        found = shortest_travel(strokes, np.zeros(2))
        assert sorted(s.part for s in found) == list(range(150))
        again = shortest_travel(strokes, np.zeros(2))
        assert all(np.array_equal(a.points, b.points) for a, b in zip(found, again, strict=True))
        shapes = {s.part: LineString(s.points) if not s.closed else Polygon(s.points) for s in strokes}
        assert all((Polygon if s.closed else LineString)(s.points).equals(shapes[s.part]) for s in found)
        # A good tour of n random points is about 0.7124 sqrt(n A) long (Beardwood, Halton and Hammersley 1959; the
        # constant from memory, not verified); half as much again would be a poor one.
        assert travel(found) < 1.25 * 0.7124 * math.sqrt(150 * 500 * 500)
        assert travel(found) < travel(strokes) / 5
    # Some open strokes are made backwards, and a lone one from the end that is nearer.
    assert any(np.array_equal(s.points, open_ones[s.part].points[::-1]) for s in found)
    (lone,) = shortest_travel([Stroke("SCORE", np.array([(90.0, 9.0), (1.0, 1.0)]))], np.zeros(2))
    assert lone.points.tolist() == [[1, 1], [90, 9]]


def test_the_strokes_of_one_number_stay_together() -> None:
    drawn = made("greyboard", read_machine("laser")).sheets[0].drawing
    parts = [s.part for s in drawn.strokes if s.layer == "ENGRAVE"]
    runs = [part for n, part in enumerate(parts) if n == 0 or part != parts[n - 1]]
    assert len(runs) == len(set(runs))


def test_parallel_scores_are_made_to_and_fro() -> None:
    lines = [Stroke("SCORE", np.array([(0.0, y), (60.0, y)]), part=0) for y in range(0, 60, 10)]
    assert travel(shortest_travel(lines, np.zeros(2))) == pytest.approx(50)


def test_deepest_cuts_come_first() -> None:
    strokes = [
        Stroke("CUT_OUTER", ring(box(0, 0, 100, 100)), part=0),
        Stroke("CUT_INNER", ring(box(10, 10, 60, 60)), part=0),
        Stroke("CUT_OUTER", ring(box(15, 15, 55, 55)), part=1),
        Stroke("CUT_INNER", ring(box(20, 20, 30, 30)), part=1),
        Stroke("SCORE", np.array([(70.0, 10.0), (70.0, 90.0)]), part=0),
        Stroke("ENGRAVE", np.array([(80.0, 10.0), (80.0, 20.0)]), part=0),
        Stroke("GUIDE", ring(box(0, 0, 300, 200))),
    ]
    order = [(s.layer, s.part) for s in in_cutting_order(drawing(*strokes)).strokes]
    assert order == [
        ("ENGRAVE", 0),
        ("SCORE", 0),
        ("CUT_INNER", 1),
        ("CUT_OUTER", 1),
        ("CUT_INNER", 0),
        ("CUT_OUTER", 0),
        ("GUIDE", -1),
    ]


# Checks of a hot wire's line: exactly one, both ends outside of the stock, once round every outline, over each
# connector there and back, the first and the last once; nothing of it through a part but the slits to holes.
def test_a_hot_wires_line() -> None:
    shapes = [
        box(20, 20, 80, 60),
        box(90, 20, 150, 60),
        box(20, 70, 80, 110),
        Polygon([(100, 70), (160, 80), (120, 120)]),
    ]
    hole = box(40, 30, 60, 50)
    strokes = [Stroke("CUT_OUTER", ring(s), part=n) for n, s in enumerate(shapes)]
    strokes += [Stroke("CUT_INNER", ring(hole), part=0), Stroke("GUIDE", ring(box(0, 0, 300, 200)))]
    found = as_one_line(drawing(*strokes, kerf=1.0))
    (wire,) = [s for s in found.strokes if s.layer != "GUIDE"]
    assert wire.layer == "WIRE"
    assert not wire.closed
    for x, y in (wire.points[0], wire.points[-1]):
        assert min(x, y) == -LEAD_MM
    assert np.hypot(*np.diff(wire.points, axis=0).T).min() > 1e-6
    outlines = sum(s.exterior.length for s in (*shapes, hole))
    line = LineString(wire.points)
    links = shapely.union_all([line]).difference(shapely.union_all([s.exterior.buffer(1e-6) for s in (*shapes, hole)]))
    ends = [LineString(wire.points[:2]), LineString(wire.points[-2:])]
    between = links.length - sum(end.length for end in ends)
    assert line.length == pytest.approx(outlines + 2 * between + sum(end.length for end in ends), abs=0.01)
    parts = [shapes[0].difference(hole), *shapes[1:]]
    crossed = [links.intersection(part.buffer(-1e-3)).length for part in parts]
    assert crossed == pytest.approx([10, 0, 0, 0], abs=0.01)


def test_a_hot_wires_line_in_its_file() -> None:
    sheets = made("foam", read_machine("cnc-hot-wire"))
    assert any("slit" in note.words for note in sheets.notes)
    document = ezdxf.filemanagement.read(io.StringIO(sheet_files(sheets)["foam-01.dxf"].decode()))
    assert len(document.modelspace().query('*[layer=="WIRE"]')) == 1
    assert not document.modelspace().query('*[layer=="CUT_OUTER"]')


# Derived: past the corner, round it, on.
def test_a_trailing_blades_pivot() -> None:
    path = pivot_path(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]), RULES, closed=False)
    assert path[1] == pytest.approx([10.25, 0])
    swivel = path[1:-1]
    assert np.hypot(*(swivel - (10, 0)).T) == pytest.approx(np.full(len(swivel), 0.25))
    assert swivel[-1] == pytest.approx([10, 0.25])
    assert path[-1] == pytest.approx([10, 10.25])


def test_a_trailing_blade_cuts_the_outline() -> None:
    """The blade's tip, dragged behind the pivot in small steps, stays on the outline and closes it."""
    outline = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (25.0, 30.0), (20.0, 15.0), (0.0, 30.0)])
    rules = RULES.model_copy(update={"swivel": True, "overcut": 1.0})
    pivot = LineString(pivot_path(outline, rules, closed=True))
    tip, trace = np.array((0.0, 0.0)), []
    for point in shapely.get_coordinates(pivot.segmentize(0.02)):
        behind = tip - point
        tip = point + behind * (rules.blade_offset / np.hypot(*behind))
        trace.append(tip)
    cut = LineString(trace)
    edge = Polygon(outline).exterior
    assert cut.hausdorff_distance(edge) < 0.03
    assert np.hypot(*(trace[-1] - np.array((1.0, 0.0)))) < 0.03


# Common practice, no source: max(2, one for each 150 mm), none within 5 mm of a corner.
@pytest.mark.parametrize("shape, number", [(box(0, 0, 50, 40), 2), (box(0, 0, 200, 100), 4), (box(0, 0, 8, 60), 2)])
def test_tabs(shape: Polygon, number: int) -> None:
    places = tab_places(ring(shape), RULES)
    assert len(places) == number
    edge = shapely.LinearRing(ring(shape))
    corners = shapely.points(ring(shape))
    for place in places:
        point = edge.interpolate(place)
        assert min(shapely.distance(corners, point)) >= 5
    rules = RULES.model_copy(update={"tab_width": 0.4})
    found = with_tabs(drawing(Stroke("CUT_OUTER", ring(shape))), rules).strokes
    assert len(found) == number
    gaps = [float(np.hypot(*(a.points[-1] - b.points[0]))) for a, b in zip(found, found[1:] + found[:1], strict=True)]
    assert gaps == pytest.approx([0.4] * number)
    # In notches that lie inside of the outline, 0.3 mm deep, 3 mm long.
    lines = shapely.union_all([LineString(s.points) for s in found])
    assert shape.buffer(1e-9).covers(lines)
    assert shapely.hausdorff_distance(lines, edge) == pytest.approx(0.3, abs=0.02)
    on_edge = lines.intersection(edge.buffer(1e-6)).length
    assert on_edge == pytest.approx(edge.length - number * 3.0, abs=0.01)


def test_a_part_without_room_for_tabs_stays_whole() -> None:
    assert tab_places(ring(box(0, 0, 9, 9)), RULES) == []
    stroke = Stroke("CUT_OUTER", ring(box(0, 0, 9, 9)))
    rules = RULES.model_copy(update={"tab_width": 0.4})
    assert with_tabs(drawing(stroke), rules).strokes == (stroke,)


@pytest.mark.parametrize("wide, number", [(0.5, 0), (1.09, 0), (1.11, 2)])
def test_no_tabs_where_their_notches_would_meet(wide: float, number: int) -> None:
    # A notch of 0.3 mm from either side, with the least web of 0.5 mm between them.
    assert len(tab_places(ring(box(0, 0, 60, wide)), RULES)) == number
    assert RULES.tab_recess * 2 + RULES.least_web == pytest.approx(1.1)
    flush = RULES.model_copy(update={"tab_recess": 0.0})
    assert len(tab_places(ring(box(0, 0, 60, wide)), flush)) == 2


def test_tabs_keep_off_the_narrow_part_of_an_outline_and_off_holes() -> None:
    # 40 mm of it are a strip half a millimetre wide: only the broad end holds tabs.
    shape = box(0, 0, 30, 20).union(box(30, 0, 70, 0.5))
    places = tab_places(ring(shape), RULES)
    edge = shapely.LinearRing(ring(shape))
    assert len(places) == 2
    assert all(edge.interpolate(place).x <= 30 for place in places)
    # A hole a millimetre from the edge the tab would sit in the middle of.
    plate, hole = box(0, 0, 60, 8), box(20, 1.0, 40, 7.0)
    strokes = [Stroke("CUT_INNER", ring(hole)), Stroke("CUT_OUTER", ring(plate))]
    rules = RULES.model_copy(update={"tab_width": 0.4})
    beside = with_tabs(drawing(*strokes), rules).strokes[1:]
    alone = with_tabs(drawing(strokes[1]), rules).strokes
    assert len(beside) == len(alone) == 2
    middles = [
        [(a.points[-1] + b.points[0]) / 2 for a, b in zip(made, made[::-1], strict=True)] for made in (beside, alone)
    ]
    assert all(18 < x < 42 for x, _ in middles[1])
    assert not any(18 < x < 42 for x, _ in middles[0])


def test_common_lines_are_cut_once() -> None:
    plain, shared = made("greyboard", with_rules("laser")), made("greyboard", with_rules("laser", common_lines=True))
    lengths = [sum(sheet.drawing.length(*CUTS) for sheet in made_.sheets) for made_ in (plain, shared)]
    assert lengths[1] < 0.75 * lengths[0]
    for sheet in shared.sheets:
        lines = [LineString(s.points) for s in sheet.drawing.strokes if s.layer == "CUT_OUTER" and not s.closed]
        assert sum(line.length for line in lines) == pytest.approx(shapely.union_all(lines).length)


def test_rules_that_exclude_each_other_are_refused() -> None:
    uneven = read_machine("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.1, 0.2)}})
    uneven = uneven.model_copy(update={"paths": uneven.paths.model_copy(update={"common_lines": True})})
    cases: list[tuple[MachineFile, str]] = [
        (with_rules("laser", tab_width=0.4, swivel=True), "tab_width and swivel can't be used together"),
        (with_rules("laser", shape="one line", common_lines=True), "one line"),
        (uneven, "one kerf for both ways"),
        (read_machine("laser").model_copy(update={"spacing": 0.5}), "a spacing of 0.5 mm leaves too little"),
    ]
    for machine, words in cases:
        with pytest.raises(InputError, match=words):
            made("greyboard", machine)


def test_no_score_runs_along_a_crease() -> None:
    creases = [((0.0, 10.0), (50.0, 10.0))]
    crossing, along, off = ((20.0, 0.0), (20.0, 30.0)), ((5.0, 10.004), (60.0, 10.004)), ((0.0, 10.1), (50.0, 10.1))
    assert off_creases([crossing, off], creases) == [crossing, off]
    # Ten millimetres of it lie beyond the crease's end; a fiftieth is kept clear about it.
    ((start, end),) = off_creases([along], creases)
    assert start == pytest.approx((50.02, 10.004), abs=0.01)
    assert end == (60.0, 10.004)
    assert off_creases([], creases) == []


def test_lines_that_meet_but_for_rounding_leave_no_step_of_no_length():
    """Three sides of a field, the last one begun a picometre before the corner that the others share."""
    lines = [[(0, 0), (0, 10)], [(-1e-9, 10), (5, 10)], [(5, 10), (5, 0)], [(0, 5), (5, 5)]]
    for trail in fewest_lifts([np.array(line, dtype=float) for line in lines]):
        assert np.hypot(*np.diff(trail, axis=0).T).min() > 1e-6
