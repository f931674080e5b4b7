"""Pictures of what fits: the trade-off of grids, what is in sight; every such picture twice alike and readable."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from lxml import etree

from tests.fitviews import PITCH, WALL, corner_of, demo, hatched, shapes, words, worked
from tests.plans import furnished, plan
from tilegen.errors import InputError
from tilegen.fit.figures import figures_on
from tilegen.fit.finder import trade_off
from tilegen.fit.placements import placements_on
from tilegen.pictures.canvas import Discs, Polylines, Text
from tilegen.pictures.fit_view import fit_canvas
from tilegen.pictures.placements_view import placements_canvas
from tilegen.pictures.sight_view import sight_canvas, tiles_in_sight
from tilegen.pictures.tile_view import INK
from tilegen.pictures.tradeoff_view import round_ticks, tradeoff_canvas
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay
from tilegen.plans.sight import visible_from

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
    levels = [line for line in shapes(canvas, Polylines) if line.stroke == "#8a5a12"]
    assert sorted((y[0] - line.lines[0][0, 1]) / per_inch for line in levels) == pytest.approx([1.0, 2.0])
    curves = [line for line in shapes(canvas, Polylines) if line.width == 0.9 and line.stroke == INK]
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
    dotted = next(line for line in shapes(canvas, Polylines) if line.dash == 1.6)
    # Before a pitch of two walls a one-space hall keeps nothing: not drawn below the axis.
    assert dotted.lines[0][0, 1] <= place_of(canvas, "0", level=False) + 1e-6
    with pytest.raises(ValueError, match="two"):
        tradeoff_canvas(rows[:1], [30.0], 15.0)


def test_ticks_are_few_and_within():
    for span in [(0.0, 7.3), (25.4, 50.8), (0.0, 152.4), (3.0, 1000.0)]:
        for units in ["mm", "in"]:
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


def test_tiles_in_sight_are_counted_by_type():
    drawing, kit = demo("lamp-cellars")
    seen = visible_from(drawing, (6, 9), kit, doors_open=True)
    counts = tiles_in_sight(drawing, kit, seen)
    tile_of = lay(drawing, kit).tile_of
    assert sum(counts) == len(set(tile_of[seen].tolist()))
    canvas = sight_canvas(drawing, kit, seen, (6, 9), doors_open=True)
    listed = [int(m[1]) for text in words(canvas) if (m := re.match(r"(\d+) in sight$", text))]
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
    with pytest.raises(InputError, match="square"):
        sight_canvas(drawing, kit, np.ones((3, 5), bool), cell)
    with pytest.raises(ValueError, match="not of this drawing"):
        sight_canvas(drawing, kit, np.ones((3, 4), bool), (1, 1))


# --- all of them -----------------------------------------------------------------------------------------------


def test_equal_input_gives_equal_bytes_and_readable_svg():
    drawing, kit = demo("lamp-cellars")

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


@settings(max_examples=5, deadline=None)
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
