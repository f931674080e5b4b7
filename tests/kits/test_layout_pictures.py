"""The picture of the layout, and one tile from above: against the drawing, the files' own readers and pixels."""

from __future__ import annotations

import io
import random
import re
from collections import Counter

import numpy as np
import pytest
import shapely
from lxml import etree
from PIL import Image
from shapely.geometry import Point, box

from tests.laidout import CELLARS, LOOP, LOOP_WAYS, PLAIN, SVG, OnTheTable, pixels, plan
from tilegen.model.grid import Grid
from tilegen.pictures.canvas import Area, Text
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.map_page import QUIET
from tilegen.pictures.tile_view import ground_plan, plan_view_svg
from tilegen.plans.kit import make_kit
from tilegen.plans.ways import Way
from tilegen.tiles.loose import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile


@pytest.fixture(scope="module")
def loop():
    drawing = plan(LOOP, ways=LOOP_WAYS, titles={"A": "Brine & <hall>", "B": "Drying floor"}, grid=Grid())
    return drawing, make_kit(drawing)


def test_layout_names_every_type_and_numbers_every_tile(loop):
    drawing, kit = loop
    root = etree.fromstring(layout_canvas(drawing, kit).svg().encode())
    words = [t.text for t in root.iter(f"{SVG}text")]
    bold = Counter(t.text for t in root.iter(f"{SVG}text") if t.get("font-weight") == "bold")
    for number, tile_type in enumerate(kit.types, 1):
        assert bold[str(number)] == tile_type.count + 1  # on each tile, and in the legend
        assert f"{tile_type.count} needed" in words
        assert tile_type.name in words
    assert bold["S"] == 2
    assert not any(tile_type.tile.id in (word or "") for word in words for tile_type in kit.types)
    assert {"Brine & <hall>", "Drying floor", "Kiln yard"} <= set(words)
    assert root.find(f"{SVG}title").text
    assert "13 tiles of 6 types" in root.find(f"{SVG}desc").text


def frame(canvas):
    """Left and top of the drawing on the page: its outermost square lines."""
    points = np.concatenate(canvas.shapes[[type(s).__name__ for s in canvas.shapes].index("Polylines")].lines)
    return points.min(axis=0)


def test_layout_is_true_size_and_its_pixels_are_the_walls(loop):
    drawing, kit = loop
    canvas = layout_canvas(drawing, kit)
    left, top = frame(canvas)
    assert canvas.width >= left + 5 * 63.5
    per_mm = 4.0
    found = pixels(canvas.png(per_mm)).mean(axis=2)

    def tone(x, y):
        return found[int((top + y) * per_mm), int((left + x) * per_mm)]

    assert tone(3, 30) < 80
    assert tone(30, 3) < 80
    assert tone(3 * 63.5 - 3, 1.5 * 63.5) > 220
    assert tone(3 * 63.5 + 3, 1.5 * 63.5) > 220
    assert tone(3 * 63.5 - 3, 1.5 * 63.5 - 25) < 80  # its jamb
    assert tone(63.5, 58) < 200 < tone(60, 58)  # a seam between two open sides
    assert tone(2.5 * 63.5, 2 * 63.5 - 3) < 80  # the wall between A and C


def arrows_on(canvas):
    return [rings[0] for s in canvas.shapes if isinstance(s, Area) and s.fill == QUIET for rings in s.polygons]


def test_arrows_point_to_each_tiles_own_north():
    drawing = plan("A A\nA A")
    kit = make_kit(drawing)
    canvas = layout_canvas(drawing, kit)
    left, top = frame(canvas)
    arrows = arrows_on(canvas)
    assert len(arrows) == 4
    found = {}
    for arrow in arrows:
        low, high = arrow.min(axis=0), arrow.max(axis=0)
        tip = arrow[0] - (low + high) / 2
        cell = ((low + high) / 2 - (left, top)) // drawing.cell_side + 1
        found[tuple(cell.astype(int).tolist())] = tuple(np.sign(np.round(tip, 6)).astype(int).tolist())
    steps = ((0, -1), (1, 0), (0, 1), (-1, 0))
    assert found == {(c, r): steps[q] for c, r, q in kit.types[0].places.tolist()}


def test_a_tile_that_lies_any_way_round_has_no_arrow():
    drawing = plan("A", ways=[Way((1, 1), side, "open") for side in ("north", "east", "south", "west")])
    canvas = layout_canvas(drawing, make_kit(drawing))
    assert not arrows_on(canvas)


def test_numbers_and_titles_do_not_lie_on_walls_or_each_other(loop):
    drawing, kit = loop
    canvas = layout_canvas(drawing, kit)
    left, top = frame(canvas)
    standing = shapely.affinity.translate(OnTheTable(drawing, kit).standing, left, top)
    inside = box(left, top, left + 5 * 63.5, top + 3 * 63.5)
    boxes = []
    for s in canvas.shapes:
        if isinstance(s, Text) and s.anchor == "middle" and inside.contains(Point(s.x, s.y)):
            half = 0.3 * s.size * len(s.words)
            boxes.append(box(s.x - half, s.y - 0.7 * s.size, s.x + half, s.y))
    assert len(boxes) > 13
    assert all(not a.intersects(standing) for a in boxes)
    assert all(not a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_a_title_without_space_is_listed_and_covers_no_number():
    grid = Grid(pitch=25.4, spaces=1, wall_thickness=3.0)
    drawing = plan("A B B", titles={"A": "The narrow watching place", "B": "Den"}, grid=grid)
    words = [s.words for s in layout_canvas(drawing, make_kit(drawing)).shapes if isinstance(s, Text)]
    assert "Den" in words
    assert "Titles without space on the plan: The narrow watching place (column 1, row 1)." in " ".join(words)


def test_layout_of_blocks_and_both_units():
    drawing = plan(CELLARS, "5 ft", titles={"C": "A title that no room of this drawing could ever hold on one line"})
    kit = make_kit(drawing)
    mm, inch = layout_canvas(drawing, kit).svg(), layout_canvas(drawing, kit, units="in").svg()
    assert "100 mm on the table" in mm
    assert "4 in on the table" in inch
    assert "8.75 in x 6.25 in" in inch
    assert mm == layout_canvas(drawing, kit).svg()
    assert layout_canvas(drawing, kit).png() == layout_canvas(drawing, kit).png()


def test_a_large_plan_stays_within_its_pixels():
    random.seed(4)
    text = "\n".join("".join(random.choice("AB") for _ in range(50)) for _ in range(50))
    drawing = plan(text)
    image = Image.open(io.BytesIO(layout_canvas(drawing, make_kit(drawing)).png()))
    assert 3000 < max(image.size) <= 4001


# --- one tile from above ---------------------------------------------------------------------------------------


def test_plan_view_is_in_true_proportion_and_says_its_size():
    tile = make_tile("half", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2.0, 1.0)), Grid())
    root = etree.fromstring(plan_view_svg(tile).encode())
    assert {t.text for t in root.iter(f"{SVG}text")} == {"63.2 mm", "31.45 mm"}
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", root.find(f"{SVG}path").get("d"))]
    xs, ys = numbers[::2], numbers[1::2]
    assert (max(xs) - min(xs), max(ys) - min(ys)) == (pytest.approx(63.2), pytest.approx(31.45))
    inches = etree.fromstring(plan_view_svg(tile, units="in").encode())
    assert {t.text for t in inches.iter(f"{SVG}text")} == {"2.488 in", "1.238 in"}


def test_plan_view_shows_walls_as_far_as_they_stand():
    doorway = Side("doorway", make_opening(63.5, PLAIN))
    tile = make_tile("door", single_cell(Cell((doorway, OPEN, OPEN, WALL), (False, True, False, False)), (2, 2)), PLAIN)
    own = ground_plan(tile)
    area = sum(shapely.Polygon(rings[0], rings[1:]).area for rings in own.standing)
    # Two walls that share a corner, less the doorway, and a post (play off its two outer faces).
    assert area == pytest.approx(63.2 * 6.2 + (63.2 - 6.2) * 6.2 - 27.94 * 6.2 + 6.2 * 6.2)
    assert len(own.sills) == 1
    assert np.ptp(own.sills[0][:, 0]) == pytest.approx(27.94)
    assert own.sills[0][:, 1] == pytest.approx([63.5 - 6.35] * 2)
    # A circle that touches the walls, the free edges and the post.
    free = tile.base.foot.difference(shapely.union_all([p.foot for p in tile.plates[1:]]))
    assert free.covers(Point(own.label).buffer(own.reach - 0.01))
    assert own.reach > 25


def test_plan_view_numbers_the_edges_of_an_outline_and_takes_a_door_piece():
    shape = OutlineShape(((0, 0), (80, 0), (110, 40), (80, 80), (0, 80)), (1, 3), ((3, Opening(25, 20, 25)),))
    root = etree.fromstring(plan_view_svg(make_tile("apse", shape, Grid())).encode())
    assert [t.text for t in root.iter(f"{SVG}text") if t.get("font-weight")] == ["1", "2", "3", "4", "5"]
    door = make_saddle_door("saddle-door", PLAIN, 63.5, make_opening(63.5, PLAIN))
    words = {t.text for t in etree.fromstring(plan_view_svg(door).encode()).iter(f"{SVG}text")}
    assert words == {"50.2 mm", "12.7 mm"}
