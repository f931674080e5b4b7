"""Pictures of what fits: checked by geometry that the drawing asks for, and by pixels."""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from lxml import etree
from PIL import Image

from tests.plans import PLAIN_FLOOR, WORKED, WORKED_WAYS, furnished, plan
from tilegen.errors import InputError
from tilegen.fit.bases import figures_on
from tilegen.fit.finder import trade_off
from tilegen.fit.placements import NAMES, Placement, best_laying, laying_on, placements_on, worst_gap
from tilegen.fit.spaces import spaces_of
from tilegen.pictures.canvas import Area, Canvas, Discs, Hatch, Line, Text, rectangle
from tilegen.pictures.fit_view import fit_canvas
from tilegen.pictures.page import space_lines
from tilegen.pictures.piece_view import LaidPiece
from tilegen.pictures.placements_view import placements_canvas
from tilegen.pictures.plan_view import INK, ground_plan
from tilegen.pictures.sight_view import sight_canvas, tiles_in_sight
from tilegen.pictures.stand import circle, free_floor, place_disc
from tilegen.pictures.tight import tight_places
from tilegen.pictures.tradeoff_view import round_ticks, tradeoff_canvas
from tilegen.pictures.window import choose_window
from tilegen.plans.kit import make_kit
from tilegen.plans.laid import lay
from tilegen.plans.placing import placed
from tilegen.plans.sight import visible_from
from tilegen.reading.plans import read_plan

PLANS = Path(__file__).resolve().parents[1] / "plans"
PITCH, WALL = 31.75, 6.35
REFERENCE_SIDE, REFERENCE_WALL = 50.8, 12.7


@pytest.fixture(scope="module")
def demo():
    found = {}
    for name in ("bell-foundry", "lamp-cellars"):
        drawing = read_plan(PLANS / f"{name}.toml")
        found[name] = drawing, make_kit(drawing)
    return found


def worked():
    drawing = plan(WORKED, WORKED_WAYS)
    return drawing, make_kit(drawing)


def pixels(canvas, per_mm):
    return np.array(Image.open(io.BytesIO(canvas.png(per_mm))).convert("L")).astype(int)


def shapes(canvas, kind):
    return [shape for shape in canvas.shapes if isinstance(shape, kind)]


def words(canvas):
    return [text.words for text in shapes(canvas, Text)]


def region(area):
    return shapely.union_all([shapely.Polygon(rings[0], rings[1:]) for rings in area.polygons])


def hatched(canvas, look):
    """The hatch of this look that lies on the map: the first, since the key comes later."""
    return next((region(a) for a in shapes(canvas, Area) if a.hatch and a.hatch.look == look and not a.fill), None)


def corner_of(canvas, drawing):
    """The drawing's north-west corner on the page: where the first floor starts."""
    seam = next(a for a in shapes(canvas, Area) if a.fill == "#8b8f94")
    west, north, *_ = region(seam).bounds
    row, column = (int(n.min()) for n in np.nonzero(drawing.rooms))
    return np.array([west - column * drawing.cell_side, north - row * drawing.cell_side])


def walls_on_table(drawing, kit):
    found = []
    for tile_type, turn in placed(kit, drawing):
        own = ground_plan(tile_type.tile).placed(turn)
        found += [shapely.Polygon(rings[0], rings[1:]) for rings in (*own.standing, *own.ways)]
    return shapely.union_all(found)


# --- what a canvas can draw ------------------------------------------------------------------------------------


def test_discs_have_their_outline_inside_their_radius():
    canvas = Canvas(40, 40, "discs")
    canvas.discs(np.array([[20.0, 20.0]]), 10.0, "#ffffff", stroke="#000000", width=2.0)
    found = pixels(canvas, 4.0)
    ink = (found < 128).sum() / 16
    assert ink == pytest.approx(math.pi * (10**2 - 8**2), rel=0.05)
    assert found[80, 80] == 255
    root = etree.fromstring(canvas.svg().encode())
    widths = [float(p.get("stroke-width")) for p in root.iter("{http://www.w3.org/2000/svg}path")]
    assert widths == [20.0, 16.0]


@pytest.mark.parametrize("look, step", [("rising", (1, -1)), ("falling", (1, 1))])
def test_a_hatch_runs_the_way_it_says(look, step):
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 1.0, look))
    found = pixels(canvas, 4.0)[20:140, 20:140]
    dx, dy = step
    along = np.abs(found - np.roll(found, (dy * 8, dx * 8), (0, 1)))[10:-10, 10:-10].mean()
    across = np.abs(found - np.roll(found, (-dy * 8, dx * 8), (0, 1)))[10:-10, 10:-10].mean()
    assert along < 3 < 30 < across


def test_crossed_and_dotted_hatches_cover_what_they_should():
    canvas = Canvas(90, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 1.0, "crossed"))
    canvas.area([rectangle(50, 0, 90, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 2.0, "dotted"))
    found = 1 - pixels(canvas, 4.0) / 255
    assert found[10:150, 10:150].mean() == pytest.approx(1 - 0.8**2, abs=0.03)
    assert found[10:150, 210:350].mean() == pytest.approx(math.pi / 25, abs=0.02)


def test_a_hatch_without_a_fill_leaves_what_is_below():
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#808080")
    canvas.area([rectangle(0, 0, 40, 40)], "", hatch=Hatch("#000000", 10.0, 1.0))
    found = pixels(canvas, 4.0)
    assert Counter(found.ravel().tolist()).most_common(1)[0][0] == 128
    assert (found < 30).any()


def test_dashes_go_on_around_a_circle():
    ink = []
    for dash in (0.0, 4.0):
        canvas = Canvas(60, 60, "dashes")
        canvas.line([circle(30, 30, 20)], "#000000", 1.0, dash=dash)
        ink.append((pixels(canvas, 4.0) < 128).sum())
    # Each stroke of 4 mm takes in several of the circle's short sides: dashed side by side they would be full.
    assert ink[1] / ink[0] == pytest.approx(0.5, abs=0.04)


# --- who stands where ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bell-foundry", "lamp-cellars"])
@pytest.mark.parametrize("base", [25.4, 30.0])
def test_every_base_is_drawn_where_it_stands_clear_of_walls_and_posts(demo, name, base):
    drawing, kit = demo[name]
    (figure,) = figures_on(drawing, [base])
    canvas = fit_canvas(drawing, kit, figure)
    drawn = shapes(canvas, Discs)[0]
    assert drawn.radius == base / 2
    assert len(drawn.centres) == figure.stands > 0
    centres = drawn.centres - corner_of(canvas, drawing)
    # Doors take a wall's floor on both sides, as walls do: the pieces' own feet lie within.
    walls = walls_on_table(drawing, kit)
    assert shapely.distance(walls, shapely.points(centres)).min() >= base / 2 - 1e-5
    # Each stays in its own space.
    column, row = np.floor(centres / PITCH).astype(int).T
    assert figure.standing[row, column].all()
    assert (
        np.abs(centres / PITCH - np.floor(centres / PITCH) - 0.5).max(axis=1) * PITCH <= PITCH / 2 - base / 2 + 1e-6
    ).all()


def test_a_disc_that_only_just_fits_finds_its_place():
    strips, posts = np.zeros((1, 1), np.uint8), np.array([[1]], np.uint8)  # a post to the north-east
    free = free_floor(strips, posts, PITCH, WALL)
    assert free.area == pytest.approx(PITCH**2 - WALL**2)
    largest = (PITCH - WALL) * (2 - math.sqrt(2)) * 2
    x, y = place_disc(free, (PITCH / 2, PITCH / 2), largest, WALL)
    assert (x, y) == (pytest.approx(largest / 2), pytest.approx(PITCH - largest / 2))
    assert place_disc(free, (PITCH / 2, PITCH / 2), 20.0, WALL) == (PITCH / 2, PITCH / 2)


def test_tight_places_are_joined_counted_and_measured():
    drawing, _ = worked()
    (figure,) = figures_on(drawing, [30.0])
    labels, places = tight_places(spaces_of(drawing), figure)
    assert [(p.letter, p.first, p.spaces) for p in places] == [("a", (0, 0), 16), ("b", (2, 6), 12), ("c", (4, 0), 12)]
    assert [p.largest for p in places] == [pytest.approx(25.4)] * 3
    assert (labels > 0).sum() == 40
    assert all(labels[p.at] == n for n, p in enumerate(places, 1))


def test_a_narrow_hall_says_how_much_it_takes():
    drawing = plan(["AAB", "AA."], {(2, 1, "east"): "open"}, scale="5 ft")
    (figure,) = figures_on(drawing, [25.4])
    _, (place,) = tight_places(spaces_of(drawing), figure)
    # Walls to the north, south and east of the one space: 31.75 - 2 x 6.35 between them.
    assert (place.first, place.spaces, place.largest) == ((0, 2), 1, pytest.approx(19.05))
    canvas = fit_canvas(drawing, make_kit(drawing), figure, units="in")
    assert any("takes bases up to 0.75 in" in text for text in words(canvas))
    assert "a" in words(canvas)


def test_blocked_blocks_are_crossed_and_their_spaces_hatched():
    # With walls of 8 mm a hall keeps 47.5 mm: 2 in stands in the middle of the room only.
    drawing = plan(["AAA", "AAA", "AAA"], grid=replace(PLAIN_FLOOR, wall_thickness=8.0))
    kit = make_kit(drawing)
    (figure,) = figures_on(drawing, [58.0])
    assert (figure.positions, figure.stands) == (25, 9)
    canvas = fit_canvas(drawing, kit, figure)
    marks = next(d for d in shapes(canvas, Discs) if len(d.centres) == 9)
    corner = corner_of(canvas, drawing)
    assert np.allclose(np.unique(marks.centres[:, 0] - corner[0]), [2 * PITCH, 3 * PITCH, 4 * PITCH])
    crosses = [line for line in shapes(canvas, Line) if line.stroke == INK and len(line.lines) == 2 * 16]
    assert len(crosses) == 1
    # Only the outermost ring of spaces belongs to no standing block: 36 - 16, less the walls on it.
    side = 6 * PITCH
    assert hatched(canvas, "rising").area == pytest.approx((side - 16) ** 2 - (4 * PITCH) ** 2, rel=1e-6)
    assert hatched(canvas, "dotted") is None


def test_spaces_in_no_block_are_dotted():
    drawing = plan(["AAB", "AA."], {(2, 1, "east"): "open"}, scale="5 ft")
    (figure,) = figures_on(drawing, [50.8])
    canvas = fit_canvas(drawing, make_kit(drawing), figure)
    found = hatched(canvas, "dotted")
    # The hall's one space less its three walls.
    assert found.area == pytest.approx((PITCH - WALL) * (PITCH - 2 * WALL))
    assert any("no 2 x 2 spaces" in text for text in words(canvas))


def test_rooms_out_of_reach_are_hatched_and_named():
    drawing, kit = worked()
    drawing = replace(drawing, titles={"C": "Brine run"})
    (figure,) = figures_on(drawing, [30.0])
    canvas = fit_canvas(drawing, kit, figure)
    corner = corner_of(canvas, drawing)
    out = shapely.transform(hatched(canvas, "falling"), lambda p: p - corner)
    side = drawing.cell_side
    rooms_b_and_c = shapely.union_all(
        [shapely.box(3 * side, side, 5 * side, 3 * side), shapely.box(0, 2 * side, 3 * side, 3 * side)]
    )
    assert rooms_b_and_c.covers(out)
    assert out.area == pytest.approx(rooms_b_and_c.difference(walls_on_table(drawing, kit).buffer(0.2)).area, rel=0.06)
    assert {"Room B", "Brine run"} <= set(words(canvas))


def test_the_heading_says_base_positions_and_stands():
    drawing, kit = worked()
    (figure,) = figures_on(drawing, [30.0])
    assert any(
        w.startswith("Base 30 mm, one space: stands in 12 of 52 positions")
        for w in words(fit_canvas(drawing, kit, figure))
    )
    with pytest.raises(ValueError, match="not of this drawing"):
        fit_canvas(plan(["A"]), make_kit(plan(["A"])), figure)


def test_hatched_spaces_are_darker_in_grey():
    drawing, kit = worked()
    (figure,) = figures_on(drawing, [30.0])
    canvas = fit_canvas(drawing, kit, figure)
    corner = corner_of(canvas, drawing)
    found = pixels(canvas, 4.0)

    def mean(x0, y0, x1, y1):
        (a, b), (c, d) = ((np.array(p) + corner) * 4 for p in ((x0, y0), (x1, y1)))
        return found[int(b) : int(d), int(a) : int(c)].mean()

    tight, free = mean(PITCH, 8, 2 * PITCH, 30), mean(PITCH, PITCH, 2 * PITCH, 2 * PITCH)
    assert free - tight > 25


def test_space_lines_stop_at_walls():
    drawing = plan(["A"])
    lines = space_lines(spaces_of(drawing))
    assert sum(float(np.hypot(*(b - a))) for a, b in lines) == pytest.approx(2 * (2 * PITCH - 2 * WALL))


# --- the best laying -------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(furnished())
def test_the_best_laying_keeps_the_contracts_conditions(made):
    drawing = plan(*made)
    kit = make_kit(drawing)
    laying, z = laying_on(drawing, kit, 25.4), worst_gap(drawing, kit, 25.4)
    assert laying.gap == pytest.approx(z, abs=1e-6)
    tile_of = lay(drawing, kit).tile_of
    stands = np.array([kind.name != "nothing" for kind in drawing.kinds])
    for (r, c), i in np.ndenumerate(tile_of):
        for dr, dc, along, across in ((0, 1, laying.x, laying.y), (1, 0, laying.y, laying.x)):
            if i < 0 or r + dr >= tile_of.shape[0] or c + dc >= tile_of.shape[1] or tile_of[r + dr, c + dc] < 0:
                continue
            j = tile_of[r + dr, c + dc]
            line = (drawing.down if dc else drawing.across)[r + dr, c + dc]
            gap = along[j] - along[i] - (25.4 if stands[line] else 0.0)
            assert -1e-4 <= gap <= z + 1e-4
            assert across[i] == across[j]


def test_a_plan_that_closes_is_pushed_by_its_walls_only():
    # A row of three rooms: nothing ties them, so each wall pushes by its two thicknesses and no gap is left.
    laying = best_laying(np.array([[0, 1, 2]], np.int32), np.array([[True, True]]), np.zeros((0, 3), bool), 25.4)
    assert laying.gap == 0.0
    assert laying.x.tolist() == [0.0, 25.4, 50.8]
    assert laying.y.tolist() == [0.0, 0.0, 0.0]


# --- the four ways ---------------------------------------------------------------------------------------------


def planted():
    """Two halls that share a wall and open into a third room, far off in a plan of rooms that share none."""
    rows = [["."] * 24 for _ in range(20)]
    for r in range(0, 20, 4):
        for c in range(0, 24, 4):
            rows[r][c] = rows[r][c + 1] = "A"
    for r, c, room in [(9, 14, "B"), (9, 15, "B"), (10, 14, "C"), (10, 15, "C"), (9, 16, "D"), (10, 16, "D")]:
        rows[r][c] = room
    ways = {(16, 10, "east"): "open", (16, 11, "east"): "open"}
    return plan(["".join(row) for row in rows], ways)


def test_the_window_shows_the_halls_that_share_a_wall():
    drawing = planted()
    window = choose_window(drawing, make_kit(drawing))
    rows, columns = window.shape
    assert rows <= 3
    assert columns <= 4
    assert window.left <= 14
    assert window.left + columns > 16
    assert window.top <= 9
    assert window.top + rows > 10
    assert window.laying(25.4).gap == pytest.approx(25.4)


def test_a_window_at_5_ft_cuts_no_tile(demo):
    drawing, kit = demo["lamp-cellars"]
    window = choose_window(drawing, kit)
    rows, columns = window.shape
    tile_of = lay(drawing, kit).tile_of
    here = tile_of[window.top : window.top + rows, window.left : window.left + columns]
    outside = tile_of.copy()
    outside[window.top : window.top + rows, window.left : window.left + columns] = -1
    assert rows <= 6
    assert columns <= 8
    assert not set(here[here >= 0].tolist()) & set(outside[outside >= 0].tolist())


def pieces():
    drawing, kit = worked()
    window = choose_window(drawing, kit)
    placements = placements_on(drawing, kit)
    as_drawn = {p.name: LaidPiece(window, p) for p in placements}
    pushed = {p.name: LaidPiece(window, p, window.laying(25.4)) for p in placements if p.name.startswith("out")}
    return as_drawn, pushed


def test_walls_beside_tiles_clash_on_the_area_of_the_contract():
    as_drawn, _ = pieces()
    for name in ("outboard", "outboard-half-step"):
        clashing = [bar.box for bar in as_drawn[name].bars if bar.clash]
        # The window holds every wall that two tiles share: ten sides.
        assert sum(box.area for box in clashing) == pytest.approx(10 * REFERENCE_SIDE * REFERENCE_WALL)
    for name in ("inset", "on-square"):
        piece = as_drawn[name]
        assert not any(bar.clash for bar in piece.bars)
        floor = shapely.union_all(piece.tiles).buffer(1e-9)
        assert all(floor.covers(bar.box) for bar in piece.bars)


def test_pushed_tiles_clear_each_others_walls_and_leave_the_gap():
    _, pushed = pieces()
    for piece in pushed.values():
        standing = [bar.box for bar in piece.bars]
        floors = shapely.union_all(piece.tiles)
        assert floors.area == pytest.approx(sum(tile.area for tile in piece.tiles))
        assert max(box.intersection(floors).area for box in standing) < 1e-3
        gaps = piece.gaps()
        widths = [g.box.bounds[2] - g.box.bounds[0] if g.level else g.box.bounds[3] - g.box.bounds[1] for g in gaps]
        assert widths == [pytest.approx(25.4, abs=1e-4)]
        assert shapely.union_all([*standing, floors]).intersection(gaps[0].box).area < 1e-3


def test_the_large_base_stands_where_the_contract_says():
    as_drawn, pushed = pieces()
    stands = {name: piece.stand(50.8) for name, piece in (as_drawn | pushed).items()}
    assert {name: stand.stands for name, stand in stands.items()} == {
        "inset": True,
        "on-square": False,
        "outboard": True,
        "outboard-half-step": True,
    }
    inset = as_drawn["inset"]
    walls = shapely.union_all([bar.box for bar in inset.bars] + inset.posts)
    assert walls.distance(shapely.Point(stands["inset"].x, stands["inset"].y)) >= 25.4 - 1e-6


def test_printed_squares_are_whole_or_shifted_by_half():
    as_drawn, _ = pieces()
    for name, offset in (("outboard", 0.0), ("outboard-half-step", 12.7)):
        at = {round(float(line[0, 0]), 6) for line in as_drawn[name].lines() if line[0, 0] == line[1, 0]}
        assert {round((x - offset) / 25.4, 6) % 1 for x in at} == {0.0}


def test_the_page_has_four_captions_with_the_numbers_of_the_whole_map():
    drawing, kit = worked()
    found = words(placements_canvas(drawing, kit, placements_on(drawing, kit)))
    assert {"Inset", "On the squares", "Outboard", "Outboard, half a step"} <= set(found)
    assert found.count("Whole map: walls clash on 6451.6 sq mm; worst gap 25.4 mm") == 2
    assert found.count("Whole map: no wall clashes; no gap: it closes") == 2
    assert sum("hall keeps 50.8 mm clear" in text for text in found) == 3
    assert "25.4 mm" in found  # the crack's own width


def test_polygons_of_one_area_never_cover_each_other(demo):
    """Where they do, the even-odd rule leaves holes in the SVG."""
    for drawing, kit in demo.values():
        for area in shapes(placements_canvas(drawing, kit, placements_on(drawing, kit)), Area):
            polygons = [shapely.Polygon(rings[0], rings[1:]) for rings in area.polygons]
            assert sum(p.area for p in polygons) == pytest.approx(shapely.union_all(polygons).area, rel=1e-6)


def test_a_plan_without_a_shared_wall_is_drawn_too():
    drawing = plan(["A"])
    kit = make_kit(drawing)
    found = words(placements_canvas(drawing, kit, placements_on(drawing, kit)))
    assert "Pushed apart until the walls fit: it closes" in found
    tiny = plan(["AB"], scale="5 ft")
    assert placements_canvas(tiny, make_kit(tiny), placements_on(tiny, make_kit(tiny))).png(1.0)


def test_placement_names_are_all_drawn():
    drawing, kit = worked()
    window = choose_window(drawing, kit)
    for name in NAMES:
        assert LaidPiece(window, Placement(name, 25.4, 12.7, 0.0, 0.0, 0.0)).bars


# --- the trade-off ---------------------------------------------------------------------------------------------


def place_of(canvas, tick, *, level):
    """Where an axis has a tick, from its number: (x of it) or (y of its middle)."""
    texts = [t for t in shapes(canvas, Text) if t.words == tick and t.anchor == ("middle" if level else "end")]
    assert len(texts) == 1
    return texts[0].x if level else texts[0].y - 0.72 * texts[0].size / 2


def test_lines_and_dots_lie_where_the_axes_say():
    canvas = tradeoff_canvas(trade_off([25.4, 50.8], WALL), [25.4, 50.8], WALL, pitch=PITCH, units="in")
    dots = np.concatenate([d.centres for d in shapes(canvas, Discs)])
    assert dots[:, 0] == pytest.approx([place_of(canvas, "1.25", level=True)] * 3)
    # A one-space hall keeps 0.75 in, a corner 1 in, a two-space hall 2 in.
    y = [place_of(canvas, tick, level=False) for tick in ("0", "1", "2")]
    per_inch = y[0] - y[1]
    assert y[1] - y[2] == pytest.approx(per_inch)
    assert sorted((y[0] - dots[:, 1]) / per_inch) == pytest.approx([0.75, 1.0, 2.0])
    levels = [line for line in shapes(canvas, Line) if line.stroke == "#8a5a12"]
    assert sorted((y[0] - line.lines[0][0, 1]) / per_inch for line in levels) == pytest.approx([1.0, 2.0])
    curves = [line for line in shapes(canvas, Line) if line.width == 0.9 and line.stroke == INK]
    assert len({line.dash for line in curves}) == 3
    slopes = [np.polyfit(line.lines[0][:, 0], line.lines[0][:, 1], 1)[0] for line in curves]
    assert slopes[0] == pytest.approx(2 * slopes[1])
    assert slopes[1] == pytest.approx(slopes[2])


def test_names_at_the_line_ends_never_stand_on_each_other():
    wanted = [25.0, 25.4, 28.5, 30.0, 32.0, 40.0, 50.0]
    canvas = tradeoff_canvas(trade_off(wanted, WALL), wanted, WALL)
    names = [t for t in shapes(canvas, Text) if t.words.startswith("wanted") or t.words.endswith(("hall", "corner"))]
    assert len(names) == 10
    heights = sorted(t.y for t in names)
    assert min(np.diff(heights)) >= names[0].size
    assert "this grid" not in " ".join(words(canvas))


def test_a_line_starts_where_it_leaves_nought():
    rows = trade_off([30.0], 15.0)
    canvas = tradeoff_canvas(rows, [30.0], 15.0)
    dotted = next(line for line in shapes(canvas, Line) if line.dash == 1.6)
    # Before a pitch of two walls a one-space hall keeps nothing: not drawn below the axis.
    assert dotted.lines[0][0, 1] <= place_of(canvas, "0", level=False) + 1e-6
    with pytest.raises(ValueError, match="two"):
        tradeoff_canvas(rows[:1], [30.0], 15.0)


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("span", [(0.0, 7.3), (25.4, 50.8), (0.0, 152.4), (3.0, 1000.0)])
def test_ticks_are_few_and_within(units, span):
    ticks = round_ticks(*span, units)
    assert 2 <= len(ticks) <= 9
    assert span[0] - 1e-9 <= ticks[0] < ticks[-1] <= span[1] + 1e-9
    assert np.diff(ticks) == pytest.approx([ticks[1] - ticks[0]] * (len(ticks) - 1))


# --- sight -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("doors_open", [False, True])
def test_what_is_out_of_sight_is_hatched(doors_open):
    drawing, kit = worked()
    seen = visible_from(drawing, (2, 2), kit, doors_open=doors_open)
    canvas = sight_canvas(drawing, kit, seen, (2, 2), doors_open=doors_open)
    corner = corner_of(canvas, drawing)
    found = shapely.transform(hatched(canvas, "rising"), lambda p: p - corner)
    for (row, column), shown in np.ndenumerate(seen):
        middle = shapely.Point((column + 0.5) * 63.5, (row + 0.5) * 63.5)
        assert found.covers(middle) == (bool(drawing.rooms[row, column]) and not shown)
    assert any(("doors open" if doors_open else "doors shut") in text for text in words(canvas))


def test_tiles_in_sight_are_counted_by_type(demo):
    drawing, kit = demo["lamp-cellars"]
    seen = visible_from(drawing, (6, 9), kit, doors_open=True)
    counts = tiles_in_sight(drawing, kit, seen)
    tile_of = lay(drawing, kit).tile_of
    assert sum(counts) == len(set(tile_of[seen].tolist()))
    canvas = sight_canvas(drawing, kit, seen, (6, 9), doors_open=True)
    listed = [int(m[1]) for text in words(canvas) if (m := re.match(r"(\d+) in sight, id", text))]
    assert listed == [count for count in counts if count]


def test_here_stands_in_the_viewers_cell():
    drawing, kit = worked()
    canvas = sight_canvas(drawing, kit, visible_from(drawing, (5, 3), kit), (5, 3))
    corner = corner_of(canvas, drawing)
    (dot,) = shapes(canvas, Discs)
    (here,) = [text for text in shapes(canvas, Text) if text.words == "here"]
    for x, y in (dot.centres[0], (here.x, here.y)):
        assert tuple(((np.array([x, y]) - corner) // 63.5).astype(int)) == (4, 2)
    everything = np.ones(drawing.rooms.shape, bool)
    assert hatched(sight_canvas(drawing, kit, everything, (5, 3)), "rising") is None


@pytest.mark.parametrize("cell", [(4, 1), (0, 1), (6, 1)])
def test_no_sight_from_solid_ground(cell):
    drawing, kit = worked()
    with pytest.raises(InputError, match="cell"):
        sight_canvas(drawing, kit, np.ones((3, 5), bool), cell)
    with pytest.raises(ValueError, match="not of this drawing"):
        sight_canvas(drawing, kit, np.ones((3, 4), bool), (1, 1))


# --- all of them -----------------------------------------------------------------------------------------------


def test_equal_input_gives_equal_bytes_and_readable_svg(demo):
    drawing, kit = demo["lamp-cellars"]

    def made():
        (figure,) = figures_on(drawing, [25.4])
        yield fit_canvas(drawing, kit, figure)
        yield placements_canvas(drawing, kit, placements_on(drawing, kit), units="in")
        yield tradeoff_canvas(trade_off([30.0], WALL), [30.0], WALL, pitch=PITCH)
        yield sight_canvas(drawing, kit, visible_from(drawing, (6, 9), kit), (6, 9))

    for one, other in zip(made(), made(), strict=True):
        assert one.svg() == other.svg()
        assert one.png() == other.png()
        root = etree.fromstring(one.svg().encode())
        assert root.find("{http://www.w3.org/2000/svg}title").text
        assert root.find("{http://www.w3.org/2000/svg}desc").text


@settings(max_examples=25, deadline=None)
@given(furnished())
def test_any_small_plan_is_drawn(made):
    drawing = plan(*made)
    kit = make_kit(drawing)
    (figure,) = figures_on(drawing, [30.0])
    row, column = np.argwhere(drawing.rooms)[0].tolist()
    cell = (column + 1, row + 1)
    for canvas in (
        fit_canvas(drawing, kit, figure),
        sight_canvas(drawing, kit, visible_from(drawing, cell, kit), cell),
        placements_canvas(drawing, kit, placements_on(drawing, kit)),
    ):
        assert canvas.png(0.2)
        assert 0 < canvas.height < 100 * canvas.width
