"""Where the tiles lie, and the pictures of it: checked against the drawing, the files' own readers and plain loops."""

from __future__ import annotations

import io
import math
import random
import re
from collections import Counter
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import Image
from shapely.geometry import Point, box

from tilegen.grid import Floor, Grid
from tilegen.pictures import solid_view
from tilegen.pictures.canvas import Area, Canvas, Hatch, Text, polyline, rectangle
from tilegen.pictures.layout import layout_canvas, layout_png, layout_svg
from tilegen.pictures.page import QUIET
from tilegen.pictures.plan_view import ground_plan, plan_view_svg
from tilegen.pictures.solid_view import open_corner, solid_png
from tilegen.plans.drawing import ExtraWall, Way, draw
from tilegen.plans.kit import make_kit
from tilegen.plans.lattices import LATTICES
from tilegen.plans.loose import PieceType
from tilegen.plans.placing import Turn, placed, placed_pieces
from tilegen.plans.posts import posts_of
from tilegen.reading.plans import read_drawing
from tilegen.tiles.doors import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

SVG = "{http://www.w3.org/2000/svg}"
PLAIN = Grid(floor=Floor(lines=False))
LOOP = """
A A A . .
A A A B B
C C C B B
"""
LOOP_WAYS = (Way((3, 2), "east", "doorway"), Way((3, 3), "east", "saddle"))
# Half tiles, a diagonal block, blocks of two rooms, and a room off every lattice.
CELLARS = """
. A A A . . B
A A A A . B .
A A C C C . B
. D C . C C .
D . C C C . E
"""
NARROW = 10.0


def plan(text, scale="10 ft", ways=(), walls=(), titles=None, grid=PLAIN, name="Kiln yard"):
    return draw(
        name=name, scale=scale, grid=grid, rooms=read_drawing(text), titles=titles or {}, ways=ways, walls=walls
    )


class OnTheTable:
    """All geometry of a kit, in place."""

    def __init__(self, drawing, kit):
        self.turns = list(placed(kit, drawing))
        self.floors, standing, ways = [], [], []
        for tile_type, turn in self.turns:
            own = ground_plan(tile_type.tile)
            self.floors.append(turn.geometry(tile_type.tile.base.foot))
            standing += [shapely.Polygon(rings[0], rings[1:]) for rings in own.placed(turn).standing]
            ways += [shapely.Polygon(rings[0], rings[1:]) for rings in own.placed(turn).ways]
        self.standing, self.ways = shapely.union_all(standing), shapely.union_all(ways)
        pieces = [(p, t) for p, t in placed_pieces(kit, drawing)]
        self.doors = [t.geometry(shapely.union_all([x.foot for x in p.piece.plates])) for p, t in pieces]
        door_ways = [shapely.Polygon(r[0]) for p, t in pieces for r in ground_plan(p.piece).placed(t).ways]
        self.door_ways = shapely.union_all(door_ways)


def check_placement(drawing, kit):
    table = OnTheTable(drawing, kit)
    check_floors(drawing, table)
    check_lines(drawing, table)
    check_posts(drawing, table)


def check_floors(drawing, table):
    side, half = drawing.cell_side, drawing.grid.half_play
    cells = [
        box(c * side, r * side, (c + 1) * side, (r + 1) * side) for r, c in zip(*np.nonzero(drawing.rooms), strict=True)
    ]
    floor = shapely.union_all(cells)
    union = shapely.union_all(table.floors)
    assert union.area == pytest.approx(sum(f.area for f in table.floors), abs=1e-6)  # none lies on another
    regrown = shapely.union_all([f.buffer(half, join_style="mitre") for f in table.floors])
    assert regrown.symmetric_difference(floor).area < 1e-6
    assert floor.area - union.area > 0


def sides_of_line(drawing, across, row, column):
    """(room index of the cell, unit step from the line into it) for the two cells beside a line."""
    before = (row - 1, column) if across else (row, column - 1)
    for (r, c), sign in ((before, -1), ((row, column), 1)):
        inside = 0 <= r < drawing.rooms.shape[0] and 0 <= c < drawing.rooms.shape[1] and drawing.rooms[r, c]
        yield bool(inside), sign


def check_lines(drawing, table):
    side, wall = drawing.cell_side, drawing.grid.wall_thickness
    for across, lines in ((True, drawing.across), (False, drawing.down)):
        for (row, column), kind_number in np.ndenumerate(lines):
            kind = drawing.kinds[int(kind_number)]
            for inside, sign in sides_of_line(drawing, across, row, column):
                if inside:
                    deep = sign * wall / 2
                    check_line(table, kind, side, wall, lambda s: at_line(across, row, column, side, s, deep))  # noqa: B023


def at_line(across, row, column, side, along, deep):
    x, y = column * side, row * side
    return Point(x + along, y + deep) if across else Point(x + deep, y + along)


def check_line(table, kind, side, wall, at):
    middle = at(side / 2)
    if kind.name == "wall":
        assert all(table.standing.covers(at(s * side)) for s in (0.05, 0.3, 0.5, 0.7, 0.95))
    elif kind.name == "doorway":
        o = kind.opening
        assert table.ways.covers(at(o.centre))
        assert not table.standing.covers(at(o.centre))
        for s in (o.centre - o.width / 2 + 0.01, o.centre + o.width / 2 - 0.01):
            assert table.ways.covers(at(s))
        for s in (o.centre - o.width / 2 - 0.01, o.centre + o.width / 2 + 0.01):
            assert table.standing.covers(at(s))
            assert not table.ways.covers(at(s))
    else:
        assert not table.standing.covers(middle)
        assert not table.ways.covers(middle)
        assert any(door.covers(middle) for door in table.doors) == (kind.name == "saddle")
    if kind.name == "saddle":
        o = kind.opening
        for edge in (-1, 1):
            assert table.door_ways.covers(at(o.centre + edge * (o.width / 2 - 0.01)))
            assert not table.door_ways.covers(at(o.centre + edge * (o.width / 2 + 0.01)))
        assert all(table.standing.covers(at(s)) for s in (wall / 2, side - wall / 2))  # its posts


def check_posts(drawing, table):
    side, half = drawing.cell_side, drawing.grid.wall_thickness / 2
    posts = posts_of(drawing)
    for (row, column), bits in np.ndenumerate(posts):
        for corner, (south, east) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
            x = (column + east) * side + (half if not east else -half)
            y = (row + south) * side + (half if not south else -half)
            if bits >> corner & 1:
                assert table.standing.covers(Point(x, y))


# --- placing ---------------------------------------------------------------------------------------------------


def test_the_worked_plan_lies_as_drawn():
    drawing = plan(LOOP, ways=LOOP_WAYS)
    kit = make_kit(drawing)
    check_placement(drawing, kit)
    assert sum(1 for _ in placed(kit, drawing)) == 13


def test_a_corner_is_turned_into_each_corner_of_a_room():
    drawing = plan("A A\nA A")
    kit = make_kit(drawing)
    side = drawing.cell_side
    # Own pose: walls to the south and west, so the corner of the walls is the frame's own (0, 0).
    assert kit.types[0].tile.shape.edges == ("open", "open", "wall", "wall")
    corners = {(turn.quarter_turns, turn.x, turn.y) for _, turn in placed(kit, drawing)}
    assert corners == {(0, 0.0, 2 * side), (1, 0.0, 0.0), (2, 2 * side, 0.0), (3, 2 * side, 2 * side)}


@pytest.mark.parametrize("turns", range(4))
def test_a_turn_is_exact_and_clockwise(turns):
    # Independently: a clockwise quarter turn takes (x, y), y to the north, to (y, -x); then y is flipped.
    own = np.array([(31.75, 6.35), (0.1, 63.35), (0.0, 0.0)])
    expected = own.copy()
    for _ in range(turns):
        expected = np.column_stack([expected[:, 1], -expected[:, 0]])
    expected = expected * (1, -1) + (100.0, 50.0)
    assert (Turn(turns, 100.0, 50.0).points(own) == expected).all()


@pytest.mark.parametrize("lattice", [None, *LATTICES])
def test_blocks_of_every_lattice_lie_where_their_cells_are(lattice):
    ways = (
        Way((3, 2), "south", "doorway", width=NARROW),
        Way((2, 3), "east", "saddle", width=NARROW),
        Way((1, 2), "west", "open"),
        Way((4, 2), "east", "doorway", width=NARROW),
    )
    drawing = plan(CELLARS, "5 ft", ways, [ExtraWall((2, 2), "south"), ExtraWall((4, 5), "west")])
    kit = make_kit(drawing, lattice)
    check_placement(drawing, kit)
    assert Counter(t.name for t, _ in placed(kit, drawing)) == {t.name: t.count for t in kit.types}


def test_diagonal_blocks_are_two_tiles_each_on_its_own_cell():
    # One pair alike, one pair of two types, one pair of one type turned differently.
    drawing = plan("A . B B . C\n. A . C C C\nD . . . E .\nD D D E . E", "5 ft", [Way((1, 1), "west", "open")])
    for lattice in LATTICES:
        kit = make_kit(drawing, lattice)
        check_placement(drawing, kit)


def test_doorways_off_centre_meet_through_the_wall():
    ways = (
        Way((1, 1), "east", "doorway", width=12.0, at=0.7),
        Way((2, 2), "west", "doorway", width=12.0, at=1.2),
        Way((1, 1), "south", "doorway", width=12.0, at=0.8),
        Way((2, 2), "north", "doorway", width=12.0, at=1.3),
    )
    drawing = plan("A B\nC D", ways=ways)
    check_placement(drawing, make_kit(drawing))


def test_doors_alike_up_to_a_half_turn_stand_the_right_way_round():
    ways = [
        Way((1, 1), "east", "saddle", width=12.0, at=0.8),
        Way((1, 2), "east", "saddle", width=12.0, at=1.2),
        Way((3, 1), "south", "saddle", width=12.0, at=0.8),
        Way((4, 1), "south", "saddle", width=12.0, at=1.2),
    ]
    drawing = plan("A B C C\nD E F F", ways=ways)
    kit = make_kit(drawing)
    assert sum(p.count for p in kit.pieces) == 4
    check_placement(drawing, kit)
    one = PieceType(kit.pieces[0].piece, tuple(way for p in kit.pieces for way in p.places))
    kit = replace(kit, pieces=(one,))
    assert Counter(t.quarter_turns for _, t in placed_pieces(kit, drawing)) == {0: 1, 1: 1, 2: 1, 3: 1}
    check_placement(drawing, kit)


def test_another_grid_lies_without_gaps_too():
    grid = Grid(pitch=25.4, spaces=3, wall_thickness=4.7625, joint_play=0.0)
    drawing = plan(LOOP, ways=LOOP_WAYS, grid=grid)
    table = OnTheTable(drawing, make_kit(drawing))
    assert shapely.union_all(table.floors).area == pytest.approx(13 * (3 * 25.4) ** 2)
    check_lines(drawing, table)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_small_plan_lies_as_drawn(data):
    columns, rows = data.draw(st.integers(1, 6)), data.draw(st.integers(1, 6))
    letters = data.draw(st.lists(st.sampled_from("..AB"), min_size=columns * rows, max_size=columns * rows))
    if set(letters) == {"."}:
        letters[0] = "A"
    text = "\n".join("".join(letters[r * columns : (r + 1) * columns]) for r in range(rows))
    scale = data.draw(st.sampled_from(["5 ft", "10 ft"]))
    bare = plan(text, scale)
    ways = []
    for row, column in np.argwhere(bare.rooms).tolist():
        for side, lines, at in (("north", bare.across, (row, column)), ("west", bare.down, (row, column))):
            kind = data.draw(st.sampled_from(["", "", "open", "doorway", "saddle"]))
            beyond = (row - 1, column) if side == "north" else (row, column - 1)
            solid = min(beyond) < 0 or not bare.rooms[beyond]
            if kind and lines[at] and not (kind == "saddle" and solid):
                width = None if kind == "open" else NARROW
                off = data.draw(st.sampled_from([None, 0.48]))
                centre = None if kind == "open" or off is None else off * bare.cell_spaces
                ways.append(Way((column + 1, row + 1), side, kind, width=width, at=centre))
    drawing = plan(text, scale, ways)
    lattice = data.draw(st.sampled_from([None, *LATTICES])) if scale == "5 ft" else None
    check_placement(drawing, make_kit(drawing, lattice))


def test_a_kit_of_another_plan_is_refused():
    drawing = plan("A .\n. A", "5 ft", [Way((1, 1), "west", "open")])
    kit = make_kit(drawing, (0, 0))
    with pytest.raises(ValueError, match="no tile like this"):
        list(placed(kit, plan("A .\n. A", "5 ft")))


# --- canvas ----------------------------------------------------------------------------------------------------


def pixels(png):
    return np.array(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)


def test_svg_is_in_millimetres_with_real_and_escaped_text():
    canvas = Canvas(120.0, 80.5, 'Kiln & "yard" <1>', "A \x07bell\x00 & more")
    canvas.text(10, 20, "Salt & <b>brine</b>\n\x01 hall", 5, "middle", 90, bold=True, halo="#ffffff")
    root = etree.fromstring(canvas.svg().encode())
    assert root.get("width") == "120mm"
    assert root.get("height") == "80.5mm"
    assert root.get("viewBox") == "0 0 120 80.5"
    assert root.find(f"{SVG}title").text == 'Kiln & "yard" <1>'
    assert root.find(f"{SVG}desc").text == "A \ufffdbell\ufffd & more"
    assert [t.text for t in root.iter(f"{SVG}text")] == ["Salt & <b>brine</b> \ufffd hall"]
    assert root.get("font-family") == "sans-serif"


def test_an_area_keeps_its_hole_in_both_files():
    outer, hole = rectangle(10, 10, 50, 50)[0], rectangle(20, 20, 40, 40)[0]
    canvas = Canvas(60, 60, "ring")
    canvas.area([(outer, hole)], "#aa0000")
    found = pixels(canvas.png(2.0))
    assert found.shape == (120, 120, 3)
    assert found[30, 30].tolist() == [170, 0, 0]
    assert found[60, 60].tolist() == [255, 255, 255]
    # 40 x 40 less 20 x 20 mm, at 4 pixels a mm2; the edges take up to half a pixel.
    assert (found[:, :, 1] < 128).sum() == pytest.approx(4 * 1200, rel=0.03)
    path = etree.fromstring(canvas.svg().encode()).find(f"{SVG}path")
    assert path.get("d").count("Z") == 2
    assert path.get("fill-rule") == "evenodd"


def test_a_hatch_shows_in_grey():
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(5, 5, 35, 35)], "#ffffff", hatch=Hatch("#000000", 4.0, 1.0))
    inside = pixels(canvas.png(4.0))[40:120, 40:120].mean()
    assert inside == pytest.approx(255 * (1 - 0.25), abs=12)  # lines 1 mm wide every 4 mm
    root = etree.fromstring(canvas.svg().encode())
    assert root.find(f"{SVG}defs/{SVG}pattern").get("id") in root.findall(f"{SVG}path")[-1].get("fill")


def test_lines_dashes_and_turned_text_land_where_they_should():
    canvas = Canvas(60, 60, "lines")
    canvas.line([polyline((10, 10), (50, 10))], "#000000", 1.0)
    canvas.line([polyline((10, 20), (50, 20))], "#000000", 1.0, dash=4.0)
    canvas.text(30, 45, "TURNED", 6, "middle", -90)
    dark = pixels(canvas.png(4.0)).sum(axis=2) < 380
    assert dark[38:42, 45:195].any(axis=0).all()
    assert 0.4 < dark[78:82, 40:200].any(axis=0).mean() < 0.6
    rows, columns = np.nonzero(dark[100:])
    assert np.ptp(rows) > 3 * np.ptp(columns)  # the words run upwards
    assert abs(columns.max() - 120) <= 2  # on a baseline at x = 30 mm


def test_png_knows_its_true_size_and_repeats_byte_for_byte():
    canvas = Canvas(100, 50, "size")
    canvas.text(5, 20, "Źródło – 10°", 8)
    first = canvas.png(3.0)
    assert first == canvas.png(3.0)
    image = Image.open(io.BytesIO(first))
    assert image.size == (300, 150)
    # PNG (ISO/IEC 15948), 11.3.5.3: pHYs counts pixels per metre.
    assert image.info["dpi"][0] == pytest.approx(3 * 25.4, abs=0.02)
    plain = Canvas(100, 50, "size")
    plain.text(5, 20, "Zrodlo - 10°", 8)
    assert first == plain.png(3.0)  # the bundled font has no such letters: accents are dropped, not boxed


# --- layout ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def loop():
    drawing = plan(LOOP, ways=LOOP_WAYS, titles={"A": "Brine & <hall>", "B": "Drying floor"}, grid=Grid())
    return drawing, make_kit(drawing)


def test_layout_names_every_type_and_numbers_every_tile(loop):
    drawing, kit = loop
    root = etree.fromstring(layout_svg(drawing, kit).encode())
    words = [t.text for t in root.iter(f"{SVG}text")]
    bold = Counter(t.text for t in root.iter(f"{SVG}text") if t.get("font-weight") == "bold")
    for number, tile_type in enumerate(kit.types, 1):
        assert bold[str(number)] == tile_type.count + 1  # on each tile, and in the legend
        assert f"{tile_type.count} needed, id {tile_type.tile.id}" in words
        assert tile_type.name in words
    assert bold["S"] == 2
    assert "1 needed, id " + kit.pieces[0].piece.id in words
    assert {"Brine & <hall>", "Drying floor", "Kiln yard"} <= set(words)
    assert root.find(f"{SVG}title").text
    assert "13 tiles of 6 types" in root.find(f"{SVG}desc").text


def frame(canvas):
    """Left and top of the drawing on the page: its outermost square lines."""
    points = np.concatenate(canvas.shapes[[type(s).__name__ for s in canvas.shapes].index("Line")].lines)
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
    mm, inch = layout_svg(drawing, kit), layout_svg(drawing, kit, units="in")
    assert "100 mm on the table" in mm
    assert "4 in on the table" in inch
    assert "8.75 in x 6.25 in" in inch
    assert mm == layout_svg(drawing, kit)
    assert layout_png(drawing, kit) == layout_png(drawing, kit)


def test_a_large_plan_stays_within_its_pixels():
    random.seed(4)
    text = "\n".join("".join(random.choice("AB") for _ in range(50)) for _ in range(50))
    drawing = plan(text)
    image = Image.open(io.BytesIO(layout_png(drawing, make_kit(drawing))))
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


# --- solids ----------------------------------------------------------------------------------------------------


def cuboid(x0, y0, z0, x1, y1, z1):
    return manifold3d.Manifold.cube((x1 - x0, y1 - y0, z1 - z0)).translate((x0, y0, z0))


def mesh_of(*solids):
    mesh = sum(solids, manifold3d.Manifold()).to_mesh64()
    return np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts)


def tile_solid(tile):
    """A tile's plates as blocks: good for those whose feet are upright rectangles."""
    blocks = []
    for plate in tile.plates:
        west, south, east, north = plate.foot.bounds
        blocks.append(cuboid(west, south, plate.bottom - 0.001, east, north, plate.top))
    return mesh_of(*blocks)


def test_a_tile_is_seen_and_repeats_byte_for_byte():
    tile = make_tile("corner", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), PLAIN)
    points, faces = tile_solid(tile)
    png = solid_png(points, faces, size=(320, 240))
    found = pixels(png)
    assert found.shape == (240, 320, 3)
    drawn = (found != solid_view.BACKGROUND).any(axis=2)
    assert 0.25 < drawn.mean() < 0.7
    assert not drawn[:8].any()
    assert not drawn[:, -8:].any()
    assert png == solid_png(points.astype(np.float32), faces.astype(np.uint32), size=(320, 240))
    tones = Counter(map(tuple, found[drawn].tolist())).most_common(3)
    assert len({sum(tone) // 60 for tone, _ in tones}) == 3  # floor and the two inner faces differ in grey too


GROUND_PLATE = cuboid(0, 0, 0, 80, 80, 4)
SCREEN = cuboid(10, 30, 4, 70, 34, 50)


def test_a_nearer_face_hides_a_farther_one():
    alone = solid_png(*mesh_of(GROUND_PLATE, SCREEN), eye="south-east")
    behind = solid_png(*mesh_of(GROUND_PLATE, SCREEN, cuboid(30, 40, 4, 38, 48, 12)), eye="south-east")
    before = solid_png(*mesh_of(GROUND_PLATE, SCREEN, cuboid(30, 10, 4, 38, 18, 12)), eye="south-east")
    assert alone == behind
    assert (pixels(before) != pixels(alone)).any(axis=2).sum() > 300
    from_behind = [
        solid_png(*mesh_of(GROUND_PLATE, SCREEN, *more), eye="north-west")
        for more in ([], [cuboid(30, 40, 4, 38, 48, 12)])
    ]
    assert from_behind[0] != from_behind[1]


def test_the_depth_buffer_agrees_with_plain_loops():
    rng = np.random.default_rng(7)
    points = rng.uniform(0, 40, (60, 3))
    faces = np.arange(60).reshape(20, 3)
    size = (64, 48)
    seen = solid_view._projected(points, faces, size)
    front, _ = solid_view._rasterised(seen, size)
    assert 5 < len(seen.corners) < 20
    wrong = 0
    for row in range(size[1]):
        for column in range(size[0]):
            p, best, nearest = np.array((column + 0.5, row + 0.5)), -1, -math.inf
            for number, (a, b, c) in enumerate(seen.corners):
                weights = np.linalg.solve(np.array([[*a, 1], [*b, 1], [*c, 1]]).T, np.array([*p, 1.0]))
                if (weights > 0).all():
                    depth = seen.plane[number] @ (*p, 1.0)
                    if depth > nearest:
                        best, nearest = number, depth
            wrong += best != front[row, column]
    assert wrong == 0


def test_depth_is_that_of_the_corners():
    points = np.array([(0, 0, 5), (9, 1, 0), (3, 8, 2.0)])
    seen = solid_view._projected(points, np.array([(0, 1, 2)]), (90, 80))
    scale = np.linalg.norm(seen.corners[0, 1] - seen.corners[0, 0]) / math.hypot(9, 1)
    depths = [float(seen.plane[0] @ (*corner, 1.0)) / scale for corner in seen.corners[0]]
    assert np.array(depths) - depths[0] == pytest.approx([0, -5, -3])


def test_sharp_edges_are_lines_and_smooth_ones_are_not():
    dark = solid_view.EDGE.astype(int) + 25
    ball = mesh_of(manifold3d.Manifold.sphere(20, 120))
    found = pixels(solid_png(*ball, size=(300, 300)))
    assert not (found[80:220, 80:220] < dark).all(axis=2).any()
    cube = pixels(solid_png(*mesh_of(cuboid(0, 0, 0, 20, 20, 20)), size=(300, 300)))
    assert (cube[80:220, 80:220] < 95).all(axis=2).sum() > 150  # the darkest of its faces is 114


def test_a_step_between_level_faces_is_a_line():
    # From above one corner the top of the low block is seen beside the top of the high one: same tone, so a line.
    steps = mesh_of(cuboid(0, 0, 0, 40, 40, 10), cuboid(0, 39.9, 0, 40, 80, 14))
    seen = solid_view._projected(steps[0] @ solid_view._axes("north-west").T, steps[1], (600, 600))
    front, depth = solid_view._rasterised(seen, (600, 600))
    lines = solid_view._edge_pixels(seen, front, depth)
    level = seen.normal @ solid_view._axes("north-west")[:, 2] > 0.99
    shown = np.where(front >= 0, level[front], False)
    above, below = shown[:-1] & shown[1:], front[:-1] != front[1:]
    depth = np.where(front >= 0, depth, 0.0)
    jump = above & below & (np.abs(depth[:-1] - depth[1:]) > 10)
    assert jump.sum() > 50
    assert (lines[:-1] & jump).sum() == jump.sum()


@pytest.mark.parametrize(
    "walls, corner",
    [
        ("NW", "south-east"),
        ("NE", "south-west"),
        ("SW", "north-east"),
        ("SE", "north-west"),
        ("N", "south-east"),
        ("W", "south-east"),
        ("E", "south-west"),
        ("S", "north-east"),
        ("", "south-east"),
        ("NESW", "south-east"),
    ],
)
def test_walls_show_their_inner_faces(walls, corner):
    sides = tuple(WALL if letter in walls else OPEN for letter in "NESW")
    assert open_corner(*tile_solid(make_tile("t", single_cell(Cell(sides), (2, 2)), PLAIN))) == corner


def test_a_mesh_of_many_triangles_and_nonsense():
    ball = manifold3d.Manifold.sphere(20, 450).to_mesh64()
    points, faces = np.array(ball.vert_properties)[:, :3], np.array(ball.tri_verts)
    assert len(faces) > 100_000
    found = pixels(solid_png(points, faces, size=(200, 200)))
    drawn = (found != solid_view.BACKGROUND).any(axis=2)
    radius = 100 * (1 - 2 * 0.07)
    assert drawn[20:180, 20:180].sum() == pytest.approx(math.pi * radius**2, rel=0.08)
    with pytest.raises(ValueError, match="expected"):
        solid_png(points, np.zeros((0, 3), int))
    with pytest.raises(ValueError, match="finite"):
        solid_png(points * math.nan, faces)
