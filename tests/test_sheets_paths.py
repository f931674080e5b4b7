"""Paths of each machine: kerf in x and y, order, hot wire, trailing blade, tabs, shared lines, ruler, arcs."""

from __future__ import annotations

import csv
import io
import math
import re
import shutil
import subprocess
from pathlib import Path

import ezdxf
import ezdxf.filemanagement
import numpy as np
import pyogrio
import pytest
import shapely
from PIL import Image
from shapely.geometry import LineString, Polygon, box

from tests.test_sheets_audit import kit, made, with_rules
from tilegen.errors import InputError
from tilegen.reading.machine_models import MachineFile, PathRules
from tilegen.reading.stock import read_machine, read_material
from tilegen.sheets.arcs import curve, find_arcs
from tilegen.sheets.blade import overcut, pivot_path
from tilegen.sheets.drawing import CUTS, SheetDrawing, Stroke
from tilegen.sheets.kerf import Kerf, compensated
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.order import in_cutting_order, shortest_travel, travel
from tilegen.sheets.rulers import rulers
from tilegen.sheets.tabs import tab_places, with_tabs
from tilegen.sheets.trails import fewest_lifts, without_doubles
from tilegen.sheets.wire import LEAD_MM, as_one_line

RULES = PathRules()


def drawing(*strokes: Stroke, size: tuple[float, float] = (300.0, 200.0), kerf: float = 0.0) -> SheetDrawing:
    return SheetDrawing("s", "s", size, Kerf.of(kerf), strokes)


def ring(shape: Polygon) -> np.ndarray:  # type: ignore[type-arg]
    return np.array(shape.exterior.coords)[:-1]


# Derived by geometry: stretch until the tool is round, offset by half, stretch back.
def test_a_kerf_that_differs_in_x_and_y() -> None:
    part = Polygon(box(0, 0, 50, 50).exterior, [box(10, 10, 20, 20).exterior.coords])
    path = compensated(part, (0.1, 0.2), "P")
    assert path.bounds == pytest.approx((-0.05, -0.1, 50.05, 50.1))
    assert Polygon(path.interiors[0]).bounds == pytest.approx((10.05, 10.1, 19.95, 19.9))
    assert compensated(part, (0.2, 0.2), "P").equals(compensated(part, 0.2, "P"))
    assert compensated(part, (0.0, 0.2), "P").bounds == pytest.approx((0, -0.1, 50, 50.1), abs=1e-3)


# A slot is as wide as the stock it takes plus its fit; its path is narrower by the kerf: 3.05 + 0 - 0.15 = 2.90.
def test_a_slots_path_is_narrower_by_the_kerf_both_ways() -> None:
    thickness, fit, kerf = 3.05, 0.0, 0.15
    slot = box(10, 10, 10 + thickness + fit, 30)
    path = compensated(Polygon(box(0, 0, 50, 50).exterior, [slot.exterior.coords]), kerf, "P")
    west, south, east, north = Polygon(path.interiors[0]).bounds
    assert east - west == pytest.approx(2.90)
    assert north - south == pytest.approx(20 - 0.15)


def test_every_vanished_feature_is_named() -> None:
    holes = [box(5, 5, 5.4, 10), box(20, 20, 20.5, 30), box(30, 30, 40, 40)]
    part = Polygon(box(0, 0, 50, 50).exterior, [h.exterior.coords for h in holes]).difference(box(45, -1, 45.3, 10))
    with pytest.raises(InputError) as caught:
        compensated(part, 0.6, "X-1")
    text = caught.value.message
    assert text.count("hole or notch near") == 3
    assert "0.40 x 5.00 mm" in text
    assert "0.50 x 10.00 mm" in text


def spike(degrees: float, length: float = 30.0) -> list[tuple[float, float]]:
    half = math.radians(degrees / 2)
    return [(0.0, 0.0), (length, length * math.tan(half)), (length, -length * math.tan(half))]


# A mitre of limit 2 reaches twice the offset beyond a corner; a sharper one is cut off there, outside of the part.
@pytest.mark.parametrize("degrees", [8.0, 20.0, 59.0, 61.0, 90.0])
def test_sharp_corners_are_cut_off_beyond_the_part(degrees: float) -> None:
    part, kerf = Polygon(spike(degrees)), 1.0
    path = compensated(part, kerf, "P")
    assert path.covers(part)
    # The whole cut stays outside of the part, and half a kerf from it except near corners.
    assert path.exterior.distance(part) == pytest.approx(kerf / 2)
    assert max(shapely.Point(p).distance(part) for p in path.exterior.coords) <= 1.2 * kerf
    tip = -min(x for x, _ in path.exterior.coords)
    sharp = kerf / 2 / math.sin(math.radians(degrees / 2))
    assert tip == pytest.approx(sharp if sharp <= kerf else tip)
    assert kerf / 2 < tip <= kerf + 1e-6


# A sharp notch stays open, whatever is lost in its very end; so is a right-angled one that a round tool leaves full.
@pytest.mark.parametrize("kerf", [0.2, (0.2, 0.3), (0.0, 0.2)])
@pytest.mark.parametrize("degrees", [30.0, 90.0, 150.0])
def test_a_notch_that_is_wide_enough_is_not_refused(degrees: float, kerf: float) -> None:
    notch = Polygon([(25 + x, y) for x, y in spike(degrees, 40.0)])
    part = box(0, -30, 50, 30).difference(notch)
    path = compensated(part, kerf, "P")
    assert path.area > part.area


@pytest.mark.parametrize("width, refused", [(0.59, True), (0.61, False)])
def test_a_slit_is_refused_where_the_cut_is_wider(width: float, refused: bool) -> None:
    part = box(0, 0, 50, 50).difference(box(20, 20, 20 + width, 60))
    if not refused:
        assert compensated(part, 0.6, "P").area > part.area
        return
    with pytest.raises(InputError, match=r"that a cut 0\.6 mm wide closes") as caught:
        compensated(part, 0.6, "P")
    assert "wider than 0.6 mm" in str(caught.value)
    with pytest.raises(InputError, match=r"a cut 0\.6 x 0\.7 mm wide closes"):
        compensated(part, (0.6, 0.7), "P")


# A small slit counts as well: of half the kerf squared only what a round tool leaves in a corner is forgiven (1 - pi / 4).
def test_a_short_slit_is_named_too() -> None:
    part = box(0, 0, 50, 50).difference(box(20, 49.0, 20.5, 60))
    with pytest.raises(InputError, match=r"near \(20\.2\d, 49\.\d\d\)"):
        compensated(part, 1.0, "P")


def test_what_is_said_of_a_kerf() -> None:
    assert Kerf.of(0.0).words == "no, nominal"
    assert Kerf.of(0.2).words == "yes, k = 0.2 mm"
    assert Kerf.of((0.1, 0.2)).words == "yes, k = 0.1 mm in x, 0.2 mm in y"
    assert (Kerf.of((0.1, 0.2)).turned, Kerf.of((0.1, 0.2)).widest) == (Kerf(0.2, 0.1), 0.2)


def test_kerf_of_a_machine_file(tmp_path: Path) -> None:
    text = (Path(__file__).parents[1] / "machines" / "laser.toml").read_text()
    file = tmp_path / "mine.toml"
    file.write_text(
        text.replace('kerf = "0.15 mm"', 'kerf = "0.15 mm"\nkerf_y = "0.17 mm"').replace(
            'greyboard = "0.15 mm" ', 'greyboard = ["0.1 mm", "0.2 mm"] '
        )
    )
    machine = read_machine(file)
    assert machine.kerf_pair(read_material("greyboard")) == (0.1, 0.2)
    assert machine.kerf_pair(read_material("foam")) == (0.15, 0.17)
    assert machine.kerf_in(read_material("greyboard")) == 0.2
    for bad in ('["0.1 mm"]', '["0.1 mm", "20 mm"]', '"-1 mm"', '["a", "b"]'):
        file.write_text(text.replace('greyboard = "0.15 mm" ', f"greyboard = {bad} "))
        with pytest.raises(InputError):
            read_machine(file)


def test_a_turned_part_gets_its_kerf_turned() -> None:
    machine = read_machine("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.1, 0.4)}})
    many = [(thing, 7 * count) for thing, count in kit()]  # type: ignore[attr-defined]
    sheets = make_sheets(many, read_material("greyboard"), machine)
    assert sheets.sheets[0].drawing.kerf_words == "yes, k = 0.1 mm in x, 0.4 mm in y"
    assert {placed.turned for sheet in sheets.sheets for placed in sheet.layout} == {False, True}
    for sheet in sheets.sheets:
        cut = {s.part: s.points for s in sheet.drawing.strokes if s.layer == "CUT_OUTER"}
        nominal = {s.part: s.points for s in sheet.nominal.strokes if s.layer == "CUT_OUTER"}
        for part, points in cut.items():
            if len(points) == 4:
                assert np.ptp(points, axis=0) - np.ptp(nominal[part], axis=0) == pytest.approx([0.1, 0.4])


# The textbook problem of a plotter: a connected net with 2k odd crossings takes k trails; a grid of m x n squares has
# 2 (m + n - 2) of them (Euler; "Chapter 6 Graph Theory", a textbook's plotting problem).
@pytest.mark.parametrize("m, n, trails", [(1, 1, 1), (2, 2, 2), (3, 3, 4), (4, 4, 6), (2, 5, 5), (8, 8, 14)])
def test_fewest_lifts_on_a_grid_of_scores(m: int, n: int, trails: int) -> None:
    lines = [np.array([(0, y), (m, y)], float) for y in range(n + 1)]
    lines += [np.array([(x, 0), (x, n)], float) for x in range(m + 1)]
    found = fewest_lifts(lines)
    assert len(found) == trails == max(1, m + n - 2)
    # All of the net, no piece of it twice.
    drawn = [LineString(points) for points in found]
    assert sum(line.length for line in drawn) == pytest.approx(m * (n + 1) + n * (m + 1))
    assert (
        shapely.union_all(drawn).symmetric_difference(shapely.union_all([LineString(x) for x in lines])).length < 1e-9
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
    assert any("slit" in note for note in sheets.notes)
    document = ezdxf.filemanagement.read(io.StringIO(sheet_files(sheets)["foam-01.dxf"].decode()))
    assert len(document.modelspace().query('*[layer=="WIRE"]')) == 1
    assert not document.modelspace().query('*[layer=="CUT_OUTER"]')


# Derived by geometry from the rule of gis-tec.com ("offset"): past the corner, round it, on.
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


def test_overcut() -> None:
    # gis-tec.com: an edge at 45 degrees needs the thickness, one at 60 degrees 0.58 of it.
    assert overcut(math.radians(45), 2.0) == pytest.approx(2.0)
    assert overcut(math.radians(60), 1.0) == pytest.approx(0.58, abs=0.005)


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
        (with_rules("laser", tab_width=0.4, swivel=True), "tab_width with swivel"),
        (with_rules("laser", shape="one line", common_lines=True), "one line"),
        (uneven, "one kerf for both ways"),
        (read_machine("laser").model_copy(update={"spacing": 0.5}), "0.5 mm between two cuts"),
    ]
    for machine, words in cases:
        with pytest.raises(InputError, match=words):
            made("greyboard", machine)


def test_ruler_lines_join_edges_of_many_parts() -> None:
    strokes = [Stroke("CUT_OUTER", ring(box(x, 10, x + 40, 50)), part=n) for n, x in enumerate((10.0, 60.0, 110.0))]
    strokes.append(Stroke("CUT_OUTER", ring(box(55, 60, 105, 90)), part=3))
    strokes.append(Stroke("CUT_OUTER", ring(box(10, 70, 50, 90)), part=4))
    strokes.append(Stroke("CUT_OUTER", ring(box(110, 70, 150, 90)), part=5))
    found = {(r.along, round(r.at, 3)): r for r in rulers(drawing(*strokes))}
    assert found["x", 10].strokes == ((10, 150),)
    assert found["x", 10].edges == 3
    assert found["y", 10].strokes == ((10, 90),)
    # A part lies on this line between the two others: the knife is lifted over it.
    assert found["x", 70].strokes == ((10, 50), (110, 150))


def test_ticks_stand_on_both_edges_of_the_sheet() -> None:
    sheets = made("foam", read_machine("hand-knife"))
    (sheet, *_) = sheets.sheets
    width, height = sheets.material.sizes[0].size
    rows = list(csv.DictReader(io.StringIO(sheet_files(sheets)["foam-rulers.csv"].decode())))
    ticks = [s.points for s in sheet.drawing.strokes if s.layer == "GUIDE" and not s.closed and len(s.points) == 2]
    here = [row for row in rows if row["sheet"] == sheet.name]
    assert len(ticks) == 2 * len(here)
    for row in here:
        axis, far = (0, height) if row["lies_along"] == "y" else (1, width)
        mine = [
            t for t in ticks if np.abs(t[:, axis] - float(row["at_mm"])).max() < 0.006 and np.ptp(t[:, axis]) < 1e-9
        ]
        assert {0.0, far} <= {float(v) for t in mine for v in t[:, 1 - axis]}
    # Every straight cut along an axis lies on one of the lines.
    lines = {(row["lies_along"], float(row["at_mm"])) for row in here}
    for stroke in (s for s in sheet.nominal.strokes if s.layer in CUTS):
        for a, b in zip(stroke.points, np.roll(stroke.points, -1, axis=0), strict=True):
            for axis, along in ((0, "y"), (1, "x")):
                if abs(a[axis] - b[axis]) < 1e-9:
                    assert any(along == way and abs(at - a[axis]) < 0.03 for way, at in lines)


def test_ruler_placements_are_fewer_than_edges() -> None:
    rows = [r for s in made("foam", read_machine("hand-knife")).sheets for r in rulers(s.nominal)]
    assert len(rows) < sum(r.edges for r in rows) / 1.5


def half_round(chords: int) -> np.ndarray:  # type: ignore[type-arg]
    turn = np.linspace(-math.pi / 2, math.pi / 2, chords + 1)
    arc = np.stack([25.4 + 12.7 * np.cos(turn), 12.7 + 12.7 * np.sin(turn)], axis=1)
    return np.vstack([[(0.0, 0.0)], arc, [(0.0, 25.4)]])


# Autodesk, GetBulge method: a half circle has a bulge of 1, a quarter 0.414214, a sixth 0.267949.
def test_arcs_are_found_again() -> None:
    (arc,) = find_arcs(half_round(32))
    found = curve(half_round(32), arc)
    assert (found.bulge, found.radius) == (pytest.approx(1.0), pytest.approx(12.7))
    for start in (5, 20, 33):
        (moved,) = Stroke("CUT_OUTER", half_round(32), (arc,)).from_corner(0).arcs
        rolled = find_arcs(np.roll(half_round(32), -start, axis=0))
        assert len(rolled) == 1
        assert curve(np.roll(half_round(32), -start, axis=0), rolled[0]) == pytest.approx(found)
        assert moved == arc
    backwards = half_round(32)[::-1]
    assert curve(backwards, find_arcs(backwards)[0]).bulge == pytest.approx(-1.0)
    turn = np.linspace(0, math.tau, 65)[:-1]
    circle = 10 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    assert [curve(circle, a).bulge for a in find_arcs(circle)] == pytest.approx([1.0, 1.0])
    for degrees, bulge in ((90, 0.414214), (60, 0.267949)):
        part = np.radians(np.linspace(0, degrees, 17))
        slice_ = np.vstack([[(0.0, 0.0)], 12 * np.stack([np.cos(part), np.sin(part)], axis=1)])
        assert curve(slice_, find_arcs(slice_)[0]).bulge == pytest.approx(bulge, abs=1e-6)


def test_polygons_stay_polygons() -> None:
    for corners in (4, 6, 8, 16, 24):
        turn = np.linspace(0, math.tau, corners + 1)[:-1]
        assert find_arcs(40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)) == ()


# Area 898.5137, length 116.0982 by formula; readers come within 1e-3 of it, GDAL by chords.
def test_a_half_round_square_by_gdal(tmp_path: Path) -> None:
    from tilegen.sheets.dxf import dxf_bytes

    points = half_round(32)
    file = tmp_path / "half.dxf"
    file.write_bytes(dxf_bytes(drawing(Stroke("CUT_OUTER", points, find_arcs(points)))))
    (entity,) = ezdxf.readfile(file).modelspace()
    assert [p[4] for p in entity.get_points()] == pytest.approx([0, 1, 0, 0])
    _, _, shapes, _ = pyogrio.raw.read(file)
    (shape,) = shapely.from_wkb(shapes)
    assert shapely.polygonize([shape]).area == pytest.approx(898.5137, rel=1e-3)
    assert shape.length == pytest.approx(116.0982, rel=1e-3)


@pytest.mark.parametrize("arcs", [True, False])
def test_round_doors_in_dxf_and_svg(arcs: bool, tmp_path: Path) -> None:
    sheets = made("greyboard", with_rules("laser", arcs=arcs), compensate=False)
    files = sheet_files(sheets)
    area = 0.0
    for sheet in sheets.sheets:
        file = tmp_path / "sheet.dxf"
        file.write_bytes(files[f"{sheet.name}.dxf"])
        bulges = [p[4] for e in ezdxf.readfile(file).modelspace() for p in e.get_points()]
        assert any(bulges) == arcs
        _, _, shapes, (layers,) = pyogrio.raw.read(file, columns=["Layer"])
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True):
            sign = {"CUT_OUTER": 1, "CUT_INNER": -1}.get(layer, 0)
            area += sign * shapely.polygonize([shape]).area if sign else 0.0
    # GDAL sees the same area as the parts have.
    assert area == pytest.approx(sum(p.outline.area * p.count for p in sheets.parts), rel=1e-3)
    svg = files["greyboard-01.svg"].decode()
    found = re.findall(r"A(\S+) (\S+) 0 (\d) (\d) ", svg)
    assert bool(found) == arcs
    assert all(rx == ry == "11" for rx, ry, _, _ in found)


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")
def test_arcs_look_like_their_segments(tmp_path: Path) -> None:
    pictures = []
    for arcs in (True, False):
        sheets = made("greyboard", with_rules("laser", arcs=arcs))
        # The way of the tool may differ, the lines may not.
        source = tmp_path / "sheet.svg"
        source.write_bytes(sheet_files(sheets)["greyboard-01.svg"])
        command = ["rsvg-convert", "-w", "1500", "--background-color", "white", "-o", tmp_path / "sheet.png", source]
        subprocess.run(command, check=True)
        pictures.append(np.array(Image.open(tmp_path / "sheet.png").convert("L")).astype(int))
    assert (pictures[0] < 200).sum() > 5000
    assert (np.abs(pictures[0] - pictures[1]) > 100).sum() < 20


def test_operations_are_listed_in_file_order() -> None:
    sheets = made("greyboard", read_machine("laser"))
    text = sheet_files(sheets)["greyboard-operations.csv"].decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    first = [row for row in rows if row["sheet"] == "greyboard-01"]
    assert [row["layer"] for row in first] == ["ENGRAVE", "SCORE", "CUT_INNER", "CUT_OUTER"]
    assert [row["step"] for row in first] == ["1", "2", "3", "4"]
    drawn = sheets.sheets[0].drawing
    assert float(first[3]["length_mm"]) == pytest.approx(drawn.length("CUT_OUTER"), abs=0.1)
    made_ = [s for s in drawn.strokes if s.layer != "GUIDE"]
    assert sum(float(row["travel_mm"]) for row in first) == pytest.approx(travel(made_), abs=0.3)
    assert first[3]["kerf_compensated"] == "yes, k = 0.15 mm"
    # Vector files carry no power or speed, and neither does this list.
    assert not re.search(r"\b(power|speed|temperature|watt)", text, re.IGNORECASE)
