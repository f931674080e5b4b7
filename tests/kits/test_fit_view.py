"""Pictures of who stands where: bases, tight places, blocked spaces, rooms out of reach."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.fitviews import PITCH, WALL, corner_of, demo, grey_pixels, hatched, shapes, walls_on_table, words, worked
from tests.plans import PLAIN_FLOOR, plan
from tilegen.fit.figures import figures_on
from tilegen.fit.floor import spaces_of
from tilegen.pictures.canvas import Discs, Polylines
from tilegen.pictures.fit_view import fit_canvas, tight_places
from tilegen.pictures.map_page import free_floor, place_disc, space_lines
from tilegen.pictures.tile_view import INK
from tilegen.plans.kit import make_kit


@pytest.mark.parametrize("name", ["lamp-cellars"])
@pytest.mark.parametrize("base", [25.4, 30.0])
def test_every_base_is_drawn_where_it_stands_clear_of_walls_and_posts(name, base):
    drawing, kit = demo(name)
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
    crosses = [line for line in shapes(canvas, Polylines) if line.stroke == INK and len(line.lines) == 2 * 16]
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
    found = grey_pixels(canvas, 4.0)

    def mean(x0, y0, x1, y1):
        (a, b), (c, d) = ((np.array(p) + corner) * 4 for p in ((x0, y0), (x1, y1)))
        return found[int(b) : int(d), int(a) : int(c)].mean()

    tight, free = mean(PITCH, 8, 2 * PITCH, 30), mean(PITCH, PITCH, 2 * PITCH, 2 * PITCH)
    assert free - tight > 25


def test_space_lines_stop_at_walls():
    drawing = plan(["A"])
    lines = space_lines(spaces_of(drawing))
    assert sum(float(np.hypot(*(b - a))) for a, b in lines) == pytest.approx(2 * (2 * PITCH - 2 * WALL))
