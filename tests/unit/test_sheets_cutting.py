"""Kerf, nesting, numbers and the order of strokes."""

from __future__ import annotations

import io
import itertools
import math

import numpy as np
import pytest
import shapely
import shapely.affinity
from ezdxf.filemanagement import read
from shapely.geometry import LineString, Polygon, box

from tilegen.errors import AnswerIsNo, InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.model.materials import SheetStock
from tilegen.sheets import audit, partpaths
from tilegen.sheets.drawing import LAYERS, Kerf, SheetDrawing
from tilegen.sheets.flat import at_origin
from tilegen.sheets.labels import label_place
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.nesting.layout import Placed, Rectangle, SheetArea
from tilegen.sheets.nesting.rectangles import check_layouts, check_sizes, set_out
from tilegen.sheets.partpaths import PartPaths, compensated, draw_sheet
from tilegen.sheets.parts import Part
from tilegen.sheets.sheetset import SheetSet
from tilegen.tiles.lettering import text_size, text_strokes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import Tile, make_tile

GRID = Grid()
CARD, FOAM = read_material("greyboard"), read_material("foam")
LASER, KNIFE, WIRE = read_machine("laser"), read_machine("hand-knife"), read_machine("hot-wire")
CHARACTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-/.+ "


def corner() -> Tile:
    return make_tile("corner", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), GRID)


def door() -> Tile:
    side = Side("doorway", make_opening(GRID.tile_side, GRID))
    return make_tile("door", single_cell(Cell((side, OPEN, OPEN, OPEN)), (2, 2)), GRID)


def holed() -> Tile:
    points = ((0.0, 0.0), (0.0, 100.0), (150.0, 100.0), (150.0, 0.0))
    hole = ((40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0))
    return make_tile("holed", OutlineShape(points, (1,), (), (hole,)), GRID)


def closed_paths(drawing: SheetDrawing, layer: str) -> list[Polygon]:
    return [Polygon(stroke.points) for stroke in drawing.strokes if stroke.layer == layer and stroke.closed]


# Half the kerf on each side: a part of 50 x 50 with a hole of 10 x 10 and k = 0.2 is cut along 50.2 and 9.8.
def test_kerf_goes_out_on_outlines_and_in_on_holes() -> None:
    part = Polygon(box(0, 0, 50, 50).exterior, [box(20, 20, 30, 30).exterior.coords])
    path = compensated(part, 0.2, "P")
    assert np.ptp(np.array(path.exterior.coords), axis=0) == pytest.approx([50.2, 50.2])
    assert np.ptp(np.array(path.interiors[0].coords), axis=0) == pytest.approx([9.8, 9.8])


# A laser service's worked example (also derived: half a cut on each side): with k = 0.2 a drawn 2.0 x 4.0 comes out as a part of 1.8 x 3.8 and a hole of 2.2 x 4.2;
# to get 2.0 x 4.0 draw 2.2 x 4.2 for a part and 1.8 x 3.8 for a hole.
def test_kerf_example_from_a_laser_service() -> None:
    assert compensated(box(0, 0, 2, 4), 0.2, "P").bounds == pytest.approx((-0.1, -0.1, 2.1, 4.1))
    plate = Polygon(box(-10, -10, 20, 20).exterior, [box(0, 0, 2, 4).exterior.coords])
    assert Polygon(compensated(plate, 0.2, "P").interiors[0]).bounds == pytest.approx((0.1, 0.1, 1.9, 3.9))


def test_no_kerf_changes_nothing() -> None:
    part = box(0, 0, 50, 50)
    assert compensated(part, 0.0, "P") is part


@pytest.mark.parametrize(
    "part",
    [
        Polygon(box(0, 0, 50, 50).exterior, [box(20, 20, 20.5, 30).exterior.coords]),
        box(0, 0, 50, 50).difference(box(20, -1, 20.5, 30)),
    ],
    ids=["hole", "notch"],
)
def test_features_that_the_kerf_closes_are_refused(part: Polygon) -> None:
    with pytest.raises(InputError, match="holes or notches of part X-1 at"):
        compensated(part, 1.0, "X-1")
    compensated(part, 0.3, "X-1")


# What is left of a sheet when everything within half a kerf of a cut line is taken away (the tool is round).
def swept(made: SheetSet, number: int = 0) -> list[Polygon]:
    sheet = made.sheets[number]
    width, height = made.material.sizes[0].size
    lines = [
        LineString([*stroke.points, stroke.points[0]])
        for stroke in sheet.drawing.strokes
        if stroke.layer in ("CUT_INNER", "CUT_OUTER")
    ]
    gone = shapely.union_all(shapely.buffer(np.array(lines), made.kerf / 2, quad_segs=32))
    rest = box(0, 0, width, height).difference(gone)
    return list(rest.geoms)


@pytest.mark.parametrize("material, machine", [(CARD, LASER), (FOAM, WIRE)], ids=["laser", "hot wire"])
def test_what_falls_out_of_the_sheet_is_exactly_the_parts(material, machine) -> None:  # type: ignore[no-untyped-def]
    made = make_sheets([(corner(), 2), (door(), 1), (holed(), 1)], material, machine)
    assert len(made.sheets) == 1
    pieces = swept(made)
    sheet = made.sheets[0]
    # Round corners of the sweep leave a rest in inner corners: 0.414 of half a kerf.
    tolerance = (math.sqrt(2) - 1) * made.kerf / 2 + 1e-3
    wanted = closed_paths(sheet.nominal, "CUT_OUTER")
    holes = closed_paths(sheet.nominal, "CUT_INNER")
    assert len(wanted) == len(sheet.layout)
    for outline in wanted:
        inside = [hole for hole in holes if outline.contains(hole)]
        part = outline.difference(shapely.union_all(inside)) if inside else outline
        matches = [piece for piece in pieces if piece.hausdorff_distance(part) <= tolerance]
        assert len(matches) == 1
        # At most the same rest in each corner that the tool reaches from inside the angle: (1 - pi/4) (k/2)^2.
        reflex = 4 * len(inside) + len(outline.exterior.coords) - 5
        assert 0 <= matches[0].area - part.area + 0.01 < (1 - math.pi / 4) * (made.kerf / 2) ** 2 * reflex + 0.02
        pieces.remove(matches[0])
    # Only slugs from the holes and one skeleton stay.
    assert len(pieces) == len(holes) + 1
    assert len(holes) > 0


def test_cut_order_is_marks_then_holes_then_outlines_then_guides() -> None:
    made = make_sheets([(corner(), 2), (holed(), 2)], CARD, LASER)
    for sheet in made.sheets:
        ranks = [list(LAYERS).index(stroke.layer) for stroke in sheet.drawing.strokes]
        assert ranks == sorted(ranks)
        assert {"ENGRAVE", "SCORE", "CUT_OUTER", "GUIDE"} <= {stroke.layer for stroke in sheet.drawing.strokes}
    order = [s for sheet in made.sheets for s in sheet.drawing.strokes]
    holes = [(i, Polygon(s.points)) for i, s in enumerate(order) if s.layer == "CUT_INNER"]
    outlines = [(i, Polygon(s.points)) for i, s in enumerate(order) if s.layer == "CUT_OUTER"]
    assert len(holes) == 2 * 3
    for i, hole in holes:
        assert any(j > i and outline.contains(hole) for j, outline in outlines)


def test_guides_are_the_sheet_and_a_square_of_100_mm() -> None:
    (sheet,) = make_sheets([(corner(), 1)], CARD, LASER).sheets
    edge, square = closed_paths(sheet.drawing, "GUIDE")
    assert edge.equals(box(0, 0, 594, 420))
    assert square.area == pytest.approx(100**2)
    assert np.ptp(np.array(square.exterior.coords), axis=0) == pytest.approx([100, 100])
    assert not any(square.intersects(path) for path in closed_paths(sheet.drawing, "CUT_OUTER"))


def test_scores_lie_on_their_parts_and_carry_no_kerf() -> None:
    made = make_sheets([(corner(), 1)], CARD, LASER)
    (sheet,) = made.sheets
    scores = [LineString(s.points) for s in sheet.drawing.strokes if s.layer == "SCORE"]
    assert sorted(score.length for score in scores) == pytest.approx([63.2, 63.2])
    parts = closed_paths(sheet.nominal, "CUT_OUTER")
    assert all(any(part.buffer(1e-6).covers(score) for part in parts) for score in scores)


def test_numbers_lie_inside_their_parts_or_in_the_waste() -> None:
    made = make_sheets([(corner(), 2), (door(), 3)], CARD, LASER)
    assert made.unlabelled == ()
    for sheet in made.sheets:
        edges = shapely.union_all([part.exterior for part in closed_paths(sheet.nominal, "CUT_OUTER")])
        for stroke in sheet.drawing.strokes:
            if stroke.layer == "ENGRAVE":
                assert edges.distance(LineString(stroke.points)) >= 0.5 - 1e-6


def test_a_plain_strip_has_its_number_2_mm_from_the_edge() -> None:
    strokes = label_place(at_origin(box(0, 0, 63.2, 38.1)), "W-K7DH", None).strokes
    assert min(box(0, 0, 63.2, 38.1).exterior.distance(LineString(s)) for s in strokes) >= 2 - 1e-5


def test_a_part_too_small_for_its_number_goes_without() -> None:
    assert label_place(at_origin(box(0, 0, 6.0, 8.0)), "W-K7DH", None).strokes == ()
    assert label_place(at_origin(box(0, 0, 2.0, 50.0)), "W-K7DH", None).strokes == ()
    assert label_place(at_origin(box(0, 0, 6.0, 38.1)), "P-K7DH", None).strokes != ()


ROOM = (400.0, 300.0)


def test_a_face_that_is_seen_has_its_number_in_the_waste_beside_it() -> None:
    for size in [(50.0, 30.0), (30.0, 50.0), (6.0, 40.0), (8.0, 8.0)]:
        part = box(0, 0, *size)
        found = label_place(at_origin(part, shown=True), "W-K7DH", ROOM)
        lines = [LineString(s) for s in (*found.strokes, *found.leader)]
        assert found.place == "waste"
        # The line that points at it starts just off the cut; the number keeps further away.
        assert min(part.distance(line) for line in lines) == pytest.approx(0.5)
        assert min(part.distance(LineString(s)) for s in found.strokes) >= 2 - 1e-6


def test_where_a_wall_will_stand_a_number_is_hidden() -> None:
    part = at_origin(box(0, 0, 60, 60), (), [(0.0, 0.0, 6.0, 60.0)], shown=True)
    found = label_place(part, "B-K7DH", ROOM)
    assert found.place == "part"
    assert all(box(0, 0, 6, 60).covers(LineString(s)) for s in found.strokes)


def test_a_number_goes_into_the_doorway_that_is_cut_out() -> None:
    part = box(0, 0, 60, 38).difference(box(20, -1, 40, 25))
    found = label_place(at_origin(part, shown=True), "W-K7DH", None)
    assert found.place == "waste"
    assert all(box(20.9, 0.9, 39.1, 24.1).covers(LineString(s)) for s in found.strokes)


def test_without_waste_or_on_too_small_a_sheet_a_number_is_written_on_the_back() -> None:
    part = at_origin(box(0, 0, 60, 38), shown=True)
    assert label_place(part, "W-K7DH", None).place == "back"
    assert label_place(part, "W-K7DH", (61.0, 39.0)).place == "back"


def test_numbers_keep_off_scores() -> None:
    scores = tuple(((x, 0.0), (x, 30.0)) for x in (10.0, 20.0, 30.0, 40.0))
    strokes = label_place(at_origin(box(0, 0, 50, 30), scores), "B-K7DH", None).strokes
    lines = shapely.union_all([LineString(s) for s in scores])
    assert strokes
    assert all(not LineString(s).intersects(lines) for s in strokes)


def test_font_has_every_character_and_refuses_others() -> None:
    for character in CHARACTERS:
        strokes = text_strokes(character, 6.0)
        assert bool(strokes) == (character != " ")
        for stroke in strokes:
            assert len(stroke) >= 2
            assert (np.hypot(*np.diff(stroke, axis=0).T) > 0).all()
    with pytest.raises(InputError, match='no letter for "É"'):
        text_strokes("CAF\u00c9", 6.0)


def test_text_fits_its_box() -> None:
    for text in ("W-K7DH", "69MW", "Q"):
        width, height = text_size(text, 3.0)
        points = np.vstack(text_strokes(text, 3.0))
        assert points.min() >= -1e-9
        assert points[:, 0].max() <= width + 0.21
        assert points[:, 1].max() == pytest.approx(height)


def drawn(text: str, *, upside_down: bool = False) -> shapely.Geometry:
    strokes = text_strokes(text, 6.0)
    whole = shapely.union_all([LineString(s) for s in strokes])
    if upside_down:
        whole = shapely.transform(whole, lambda p: -p)
    west, south, _, _ = whole.bounds
    return shapely.transform(whole, lambda p: p - (west, south))


def test_no_two_characters_look_alike_even_upside_down() -> None:
    for a, b in itertools.permutations(CHARACTERS.strip(), 2):
        assert shapely.hausdorff_distance(drawn(a), drawn(b), densify=0.05) > 0.5, (a, b)
        assert shapely.hausdorff_distance(drawn(a), drawn(b, upside_down=True), densify=0.05) > 0.5, (a, b)


AREA = SheetArea(600, 300, 5, 2)


def kit(number: int) -> list[Rectangle]:
    """Parts of an ordinary kit: bases, walls of two lengths, posts."""
    shares = (0.25, 0.25, 0.3, 0.2)
    sizes = ((63.2, 63.2), (63.0, 38.1), (57.0, 38.1), (6.0, 38.1))
    return [
        Rectangle(f"p{i}", *size, max(1, round(number * share)))
        for i, (size, share) in enumerate(zip(sizes, shares, strict=True))
    ]


@pytest.mark.parametrize(
    "number",
    [
        1,
        60,
        400,
    ],
)
@pytest.mark.parametrize("may_turn", [True, False])
def test_sheets_are_well_filled(number: int, may_turn: bool) -> None:
    area = SheetArea(600, 300, 5, 2, may_turn=may_turn)
    items = kit(number)
    layouts = set_out(items, area).layouts
    bound = math.ceil(sum((i.width + 2) * (i.height + 2) * i.number for i in items) / (592 * 292))
    assert len(layouts) <= bound + 1
    assert layouts == set_out(items, area).layouts
    # Looked at with a library's eyes: inside the margins, the spacing kept.
    for layout in layouts:
        boxes = [box(p.x, p.y, p.x + items[p.item][1 + p.turned], p.y + items[p.item][2 - p.turned]) for p in layout]
        inside = box(5, 5, 595, 295).buffer(1e-6, join_style="mitre")
        assert all(inside.covers(b) for b in boxes)
        near = shapely.STRtree(boxes).query(boxes, predicate="dwithin", distance=2 - 1e-6)
        assert (near[0] == near[1]).all()


def test_random_rectangles_all_find_their_place() -> None:
    random = np.random.default_rng(4)
    for _ in range(12):
        sizes = random.uniform(3, 140, size=(random.integers(1, 25), 2))
        items = [Rectangle(f"r{i}", w, h, int(random.integers(1, 9))) for i, (w, h) in enumerate(sizes.tolist())]
        check_layouts(items, AREA, set_out(items, AREA).layouts)


def test_layouts_can_be_cut_edge_to_edge() -> None:
    # There is always a straight line across that meets no part, until each part lies alone.
    layout = set_out(kit(60), AREA, edge_to_edge=True).layouts[0]
    items = kit(60)
    boxes = [(p.x, p.y, p.x + items[p.item][1 + p.turned], p.y + items[p.item][2 - p.turned]) for p in layout]

    def guillotine(parts: list[tuple[float, float, float, float]]) -> bool:
        if len(parts) <= 1:
            return True
        for low, high in ((0, 2), (1, 3)):
            for cut in sorted({part[high] for part in parts}):
                first = [part for part in parts if part[high] <= cut + 1e-9]
                second = [part for part in parts if part[low] >= cut + 1e-9]
                if first and second and len(first) + len(second) == len(parts):
                    return guillotine(first) and guillotine(second)
        return False

    assert guillotine(boxes)


def test_check_finds_planted_faults() -> None:
    items = [Rectangle("a", 50.0, 20.0, 2)]
    good = ((Placed(0, 5, 5, False), Placed(0, 57, 5, False)),)
    check_layouts(items, AREA, good)
    for bad in (
        ((Placed(0, 5, 5, False), Placed(0, 56.9, 5, False)),),
        ((Placed(0, 5, 5, False), Placed(0, 546, 5, False)),),
        ((Placed(0, 5, 5, False),),),
        ((Placed(0, 5, 5, False), Placed(0, 57, 5, True)),) * 2,
    ):
        with pytest.raises(ValueError, match="part"):
            check_layouts(items, AREA, bad)
    with pytest.raises(ValueError, match="grain"):
        check_layouts(items, SheetArea(600, 300, 5, 2, may_turn=False), ((Placed(0, 5, 5, True),) * 2,))


def test_a_part_larger_than_the_sheet_is_named() -> None:
    with pytest.raises(InputError, match=r"part big, 600 x 100 mm, is larger"):
        check_sizes([Rectangle("big", 600, 100, 1)], [AREA])
    check_sizes([Rectangle("tall", 100, 580, 1)], [AREA])
    with pytest.raises(InputError, match="part tall"):
        check_sizes([Rectangle("tall", 100, 580, 1)], [SheetArea(600, 300, 5, 2, may_turn=False)])
    with pytest.raises(InputError, match=r"part B, 63.2 x 63.2 mm"):
        make_sheets([(corner(), 1)], FOAM.model_copy(update={"sheet": SheetStock(size=(60, 60))}), KNIFE)


# Common practice, no source: a strip is stiffer along the grain.
def test_with_a_grain_parts_lie_lengthwise_along_the_sheet_and_may_be_as_long() -> None:
    plywood = read_material("plywood").model_copy(update={"sheet": SheetStock(size=(600.0, 80.0))})
    long = make_tile("long", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (16, 2)), GRID)
    sheets = make_sheets([(long, 1), (corner(), 1), (door(), 2)], plywood, LASER)
    drawn = [read(io.StringIO(content.decode())) for name, content in sheet_files(sheets).items() if name[-3:] == "dxf"]
    cut = [
        Polygon(line.get_points("xy")) for each in drawn for line in each.modelspace().query("*[layer=='CUT_OUTER']")
    ]
    sides = [(east - west, north - south) for west, south, east, north in (part.bounds for part in cut)]
    assert len(sides) == sum(len(sheet.layout) for sheet in sheets.sheets)
    assert all(along > across - 0.01 for along, across in sides)
    assert max(along for along, _ in sides) == pytest.approx(16 * 31.75 - 0.3, abs=0.5)


def test_too_few_sheets_is_an_answer_of_no_with_what_is_left() -> None:
    stock = FOAM.model_copy(update={"sheet": SheetStock(size=(200, 100), count=1)})
    with pytest.raises(AnswerIsNo, match=r"1 of 200 x 100 mm: no room for \d+ x [BW]\d* and"):
        make_sheets([(corner(), 6)], stock, KNIFE)


def test_no_tiles_no_sheets() -> None:
    assert make_sheets([], FOAM, KNIFE).sheets == ()
    assert make_sheets([(corner(), 0)], FOAM, KNIFE).sheets == ()


def test_a_hole_for_a_hot_wire_is_told_of() -> None:
    def told(machine) -> bool:  # type: ignore[no-untyped-def]
        return any("slit" in note.words for note in make_sheets([(holed(), 1)], FOAM, machine).notes)

    assert told(WIRE)
    assert not told(KNIFE)
    assert not any("slit" in note.words for note in make_sheets([(corner(), 1)], FOAM, WIRE).notes)


def test_a_part_lies_where_it_was_placed() -> None:
    for nominal in [False, True]:
        for turned in [False, True]:
            for size in [(90.0, 40.0), (9.0, 40.0)]:
                width, height = size
                # A notch in one corner tells a turned part from a mirrored one.
                outline = box(0, 0, width, height).difference(box(0, height - 4, 2, height))
                part = Part(
                    "W-K7DH",
                    "wall",
                    at_origin(outline, [((width / 2, 1.0), (width / 2, 3.0))]),
                    2.0,
                    1,
                    (),
                    number="W1",
                )
                paths = PartPaths.of(part, 0.2)
                assert paths.number.strokes
                assert paths.number.upright == (width < height)
                frame = SheetDrawing("s", "s", (300.0, 200.0), Kerf.of(0.2))
                drawing = draw_sheet(frame, (Placed(0, 30.0, 50.0, turned),), [paths], nominal=nominal)
                (path,) = closed_paths(drawing, "CUT_OUTER")
                grown = 0.0 if nominal else 0.1
                long = (height, width) if turned else (width, height)
                assert path.bounds == pytest.approx(
                    (30.1 - grown, 50.1 - grown, 30.1 + long[0] + grown, 50.1 + long[1] + grown)
                )
                finished = path if nominal else path.buffer(-0.1, join_style="mitre")
                # The same part, turned by a library about its own middle, lies on the drawn one: turned, never mirrored.
                turns = (90, -90) if turned else (0,)
                wanted = [shapely.affinity.rotate(outline, angle, origin=(0, 0)) for angle in turns]
                moved = [shapely.transform(w, lambda p, w=w: p - w.bounds[:2] + (30.1, 50.1)) for w in wanted]
                assert min(m.symmetric_difference(finished).area for m in moved) < 1e-6
                marks = [LineString(s.points) for s in drawing.strokes if s.layer in ("ENGRAVE", "SCORE")]
                assert all(finished.covers(mark) for mark in marks)
                # A turned upright number reads along the sheet; one that read along it reads up or down.
                words = shapely.union_all(
                    [LineString(s.points) for s in drawing.strokes if s.layer == "ENGRAVE"]
                ).bounds
                assert (words[2] - words[0] > words[3] - words[1]) == (paths.number.upright == turned)


def test_a_corner_of_two_points_a_hair_apart_stays_a_corner() -> None:
    ring = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (10.0, 25.0), (10.0 - 1e-7, 25.0), (0.0, 20.0)])
    plain = partpaths._plain(ring)
    assert Polygon(plain).area == pytest.approx(450.0, abs=1e-5)
    assert len(plain) == 5


def test_a_notch_in_the_wrong_side_is_told_from_the_right_one() -> None:
    """All its corners lie on the outline of the other."""
    right = box(0, 0, 63, 38) - box(17.5, 0, 45.5, 30)
    wrong = box(0, 0, 63, 38) - box(17.5, 8, 45.5, 38)
    assert isinstance(right, Polygon)
    assert isinstance(wrong, Polygon)
    assert right.hausdorff_distance(wrong) < 1e-9
    assert audit._same(right, right, 0.07, 0.004, slits=False)
    assert not audit._same(wrong, right, 0.07, 0.004, slits=False)
