"""Corners, hinges, grooves, creases and stacks by their rules; what of them is told or refused."""

from __future__ import annotations

import csv
import io
import math
import random
from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
import shapely.affinity
from shapely.geometry import Polygon, box

from tests.unit.test_construction import CARD, CORE, FOAM, GRID, TILES, closed, laid_flat
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.making.things import things_of
from tilegen.model.grid import Grid
from tilegen.pictures.canvas import Polylines
from tilegen.pictures.paper import MARGIN, Booklet
from tilegen.pictures.template_pages import template_pages, templates_of
from tilegen.plans.kit import make_kit
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.constructions.folded import crease_channel, wrapped_core
from tilegen.sheets.constructions.grooved import groove_width
from tilegen.sheets.constructions.kind import stable_foot
from tilegen.sheets.constructions.nets import fold_to_fold
from tilegen.sheets.constructions.stacks import Stack, mixed_stack, stack_up
from tilegen.sheets.flat import at_origin
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.parts import Part, list_parts
from tilegen.sheets.templates import core_rows
from tilegen.tiles.shape import Cell, OutlineShape, single_cell
from tilegen.tiles.tile import Tile, make_plates, make_tile
from tilegen.tiles.walls import printed_band, stock_band


# Corner lengths: derived by geometry from the kind of joint.
def test_corner_lengths():
    for corners, size, lengths in [
        ("butt", (2, 2), {50.0: 2, 40.0: 2}),
        ("pinwheel", (2, 2), {45.0: 4}),
        ("mitre", (2, 2), {50.0: 4}),
        ("rabbet", (2, 2), {50.0: 2, 49.4: 2}),
        ("pinwheel", (4, 2), {95.0: 2, 45.0: 2}),
        ("butt", (4, 2), {100.0: 2, 40.0: 2}),
        ("butt", (2, 4), {100.0: 2, 40.0: 2}),
    ]:
        grid = Grid(pitch=25, wall_thickness=5, joint_play=0, base_depth=5)
        stock = CORE.model_copy(update={"thickness": 5.0, "skin": 0.3})
        parts = list_parts([(closed(size, grid), 1)], stock, ConstructionChoice("stacked", corners)).parts
        found = Counter()
        for part in parts:
            if part.role == "wall":
                long, short = part.size
                found[round(long if abs(short - grid.wall_height) < 1e-9 else short, 6)] += part.count
        assert found == lengths
        if corners == "mitre":
            inner = {
                shift
                for laid in laid_flat(closed(size, grid), stock, ConstructionChoice("stacked", corners))
                if laid.pose
                for shift in laid.pose.bevels
            }
            assert {round(shift, 9) for shift in inner} == {5.0, -5.0}  # 50 on the long face, 40 on the short one


def test_the_longest_straight_run_passes():
    """Inside a tile of 2 x 2 cells: a wall 2 spaces long is not cut in two by one that only reaches it."""
    plan = read_plan(find("lamp-cellars", "plans"))
    for tile in (t for t, _ in things_of(make_kit(plan)) if isinstance(t, Tile)):
        stock = CORE.model_copy(update={"thickness": 6.2})
        longest = Counter(
            round(p.length, 3)
            for p in make_plates(
                tile.shape,
                GRID,
                stock_band(GRID, 6.2),
                construction_of(GRID, stock, ConstructionChoice("stacked", "pinwheel")).joints,
            )[1:]
        )
        printed = Counter(round(p.length, 3) for p in tile.plates[1:])
        assert sum(longest.values()) <= sum(printed.values())


# Hinge rule h = L - 2 a t, flap H - a t: derived. L = 50, H = 8, t = 0.5.
@pytest.mark.parametrize("hinge, between, flap", [(0.0, 50.0, 8.0), (0.5, 49.5, 7.75), (1.0, 49.0, 7.5)])
def test_hinge_rule(hinge, between, flap):
    assert fold_to_fold(50, 0.5, hinge) == pytest.approx(between)
    assert fold_to_fold(8, 0.5, hinge, folds=1) == pytest.approx(flap)


def test_wrapped_core():
    # Derived: X - 2 (t + g). X = 50, card 0.3, g 0.1.
    assert wrapped_core(50, 0.3, 0.1) == pytest.approx(49.2)


# V-groove 2 (t - p) tan(turn / 2): derived; with no skin left, 2 t at 90 degrees (10.0 for 5 mm) and 1.1547 t at 60.
def test_groove_width():
    for thickness, skin, turn, width in [
        (5, 0.3, 90, 9.4),
        (5, 0.3, 60, 5.43),
        (3, 0.3, 90, 5.4),
        (5, 0, 90, 10.0),
        (5, 0, 60, 5.774),
    ]:
        assert groove_width(thickness, skin, math.radians(turn)) == pytest.approx(width, abs=0.005)


@pytest.mark.parametrize("turn", [30, 45, 60, 90, 120])
@pytest.mark.parametrize(("thickness", "hinge"), [(3.0, 0.15), (5.0, 0.0), (5.0, 0.3), (10.0, 0.8)])
def test_a_groove_turned_about_its_hinge_just_closes(thickness, hinge, turn):
    """The sheet's two sides in section, one turned by shapely: they meet all along, and any further turn would jam."""
    half = groove_width(thickness, hinge, math.radians(turn)) / 2
    still = Polygon([(0, hinge), (-half, thickness), (-80, thickness), (-80, hinge)])
    moving = Polygon([(0, hinge), (half, thickness), (80, thickness), (80, hinge)])
    shut, jammed, open_ = (shapely.affinity.rotate(moving, turn + more, origin=(0, hinge)) for more in (0, 0.5, -0.5))
    face = shapely.LineString([(0, hinge), (-half, thickness)])
    assert still.intersection(shut).area < 1e-9
    assert face.hausdorff_distance(shapely.LineString(list(shut.exterior.coords)[:2])) < 1e-9
    assert still.intersection(jammed).area > 0.01
    assert shapely.Point(-half, thickness).distance(open_) > 0.01


def test_grooves_on_the_sheet():
    (run,) = [laid for laid in laid_flat(closed((2, 2)), CORE, ConstructionChoice()) if laid.pose]
    xs = sorted(a[0] for a, _ in run.flat.creases)
    # Outer faces 63.5 - 2 x 1.35 = 60.8 long, less 0.15 at a fold and 0.3 at an end; grooves of 9.7 about each of three
    # folds, bevels of 4.7 at each end.
    folds = [60.35, 60.35 + 60.5, 60.35 + 2 * 60.5]
    assert xs == pytest.approx([4.7, *(at + d for at in folds for d in (-4.85, 4.85)), 2 * (60.35 + 60.5) - 4.7])
    assert sum(word.text == "V90" for word in run.flat.words) == 5


# Crease channel: 2 t + rule wide, t deep (Condat, a paper maker, "Creasing"; read as an excerpt). The other published rule, 1.5 t
# + rule (CITO), makes it half a thickness narrower.
def test_crease_channel():
    assert crease_channel(0.5, 0.7) == (1.7, 0.5)
    width, _ = crease_channel(0.3, 0.7)
    assert width - (1.5 * 0.3 + 0.7) == pytest.approx(0.15)
    assert any("1.7 mm wide, 0.5 mm deep" in note.words for note in list_parts([(closed((2, 2)), 1)], CARD).notes)


# Derived: span of k modules = k P - u, notch k P + u. P = 50, u = 0.3.
def test_undersize():
    grid = Grid(pitch=25, wall_thickness=5, joint_play=0.3)
    one, two = (make_tile("t", single_cell(Cell(), size), grid).base.foot.bounds for size in ((2, 2), (4, 2)))
    assert one[2] - one[0] == pytest.approx(49.7)
    assert two[2] - two[0] == pytest.approx(99.7)
    four = make_tile("t", single_cell(Cell(), (8, 2)), grid).base.foot.bounds
    assert (four[2] - four[0]) - 4 * (one[2] - one[0]) == pytest.approx(0.9)
    ell = make_tile(
        "t", OutlineShape(((0, 0), (0, 100), (100, 100), (100, 75), (50, 75), (50, 25), (100, 25), (100, 0))), grid
    )
    ys = sorted({y for x, y in ell.base.foot.exterior.coords if x == pytest.approx(50 - 0.15)})
    assert ys[-1] - ys[0] == pytest.approx(50.3)


# Derived: wall 6, play 0.3. Stock flush with the tile's edge: both walls 12.3, one 6.0; printed: 12.0 and 5.85.
def test_seam():
    grid = Grid(wall_thickness=6, joint_play=0.3)
    stock, printed = stock_band(grid, 6.0), printed_band(grid)
    assert [2 * stock.inner, stock.thickness, 2 * stock.inner - stock.thickness] == pytest.approx([12.3, 6.0, 6.3])
    assert [2 * printed.inner, printed.thickness, 2 * printed.inner - printed.thickness] == pytest.approx(
        [12.0, 5.85, 6.15]
    )
    assert 2 * stock.inner + 0.3 == pytest.approx(12.6)


def test_foot_of_a_free_standing_piece():
    # Derived: b = h tan 15 degrees; h = 25 -> 6.7.
    assert stable_foot(25) == pytest.approx(6.7, abs=0.005)


# Derived: stacks with glue lines of 0.05.
def test_layering():
    assert mixed_stack(8, (3, 5), 0.05) == (5, 3)
    assert sum(mixed_stack(8, (3, 5), 0.05)) + 0.05 == pytest.approx(8.05)
    three = stack_up(7, 2, 0.05)
    assert (three.layers, three.thickness, three.residual) == (3, pytest.approx(6.10), pytest.approx(-0.90))
    four = Stack(4, 2, 0.05, 7)
    assert (four.thickness, four.residual) == (pytest.approx(8.15), pytest.approx(1.15))
    assert three.shims(0.3) == 3
    assert four.shims(0.3) == 0
    words = three.remedy(0.3)
    assert words == (
        " That is fine if all tiles are cut. Beside printed tiles glue 3 layers of 0.3 mm card under each cut one. The other choice is 4 layers of 2 mm, glued to 8.15 mm, 1.15 mm more than "
        "planned."
    )
    assert stack_up(12, 5, 0.05).residual == pytest.approx(-1.95)
    assert mixed_stack(6, (2, 3), 0.0) == (3, 3)


def test_steps_are_told():
    stock = FOAM.model_copy(
        update={"thickness": 2.0, "stack": FOAM.stack.model_copy(update={"spread": 0.3, "thicknesses": [7.0]})}
    )
    notes = " ".join(note.words for note in list_parts([(closed((2, 2)), 1)], stock).notes)
    assert "may differ by 0.9 mm in height." in notes
    assert "sheets of 7 mm would come no nearer to a base of 6.35 mm" in notes


def test_high_thin_walls_are_told():
    stock = CORE.model_copy(update={"thickness": 4.0})
    assert any(
        "may bend" in note.words
        for note in list_parts([(closed((2, 2)), 1)], stock, ConstructionChoice("grooved")).notes
    )
    assert not any("may bend" in note.words for note in list_parts([(closed((2, 2)), 1)], CORE).notes)


def test_constructions_that_do_not_go():
    with pytest.raises(InputError, match="no skin to fold on"):
        list_parts([(closed((2, 2)), 1)], FOAM, ConstructionChoice("grooved"))
    with pytest.raises(InputError, match="thinner card"):
        list_parts([(closed((2, 2)), 1)], FOAM, ConstructionChoice("folded"))


def test_hidden_layers_stand_back_and_carry_dowels():
    # Lower layers inset by 0.2 to 0.3; two holes of the dowel and 0.1 in stacks of three: common practice, no source.
    plain = read_material("greyboard")
    stock = plain.model_copy(update={"stack": plain.stack.model_copy(update={"inset": 0.25, "dowel": 3.0})})
    bases = [part for part in list_parts([(closed((2, 2)), 1)], stock).parts if part.role == "base"]
    top, below = sorted(bases, key=lambda part: part.count)
    assert (top.count, below.count) == (1, 2)
    assert top.size == pytest.approx((63.2, 63.2))
    assert below.size == pytest.approx((62.7, 62.7))
    # A regular 32-gon round a circle: n r^2 tan(pi / n) (plane geometry).
    exact = 32 * 1.55**2 * math.tan(math.pi / 32)
    assert [Polygon(hole).area for hole in below.outline.interiors] == pytest.approx([exact] * 2, abs=1e-6)
    usual = [part for part in list_parts([(closed((2, 2)), 1)], plain).parts if part.role == "base"]
    assert not any(part.outline.interiors for part in usual)


def test_cores_of_card_bases_by_hand():
    """63.2 less 2 x (0.5 + 0.1) = 62 square and 6.35 less as much = 5.15 thick; an L of 94.95 likewise, all round."""
    points = ((0, 95.25), (95.25, 95.25), (95.25, 63.5), (63.5, 63.5), (63.5, 0), (0, 0))
    ell = make_tile("ell", OutlineShape(points), GRID)
    listed = list_parts([(closed((2, 2)), 3), (ell, 2)], CARD)
    cores = {core.count: core for core in listed.cores}
    assert {core.thickness for core in listed.cores} == {5.15}
    assert cores[3].size == pytest.approx((62.0, 62.0))
    inner = ell.base.foot.buffer(-0.6, join_style="mitre")
    assert cores[2].outline.area == pytest.approx(inner.area)
    assert len(cores[2].outline.exterior.coords) == 7
    assert all(core.name == "base, core" for core in listed.cores)
    assert not any(part.thickness == 5.15 for part in listed.parts)
    assert not list_parts([(closed((2, 2)), 3)], CORE).cores


def test_a_core_fits_its_skin():
    """Everywhere a card and a line of glue from the outside, and no smaller than that."""
    for name in [name for n, (name, tile) in enumerate(TILES.items()) if tile.on_grid and n % 3 == 0]:
        tile = TILES[name]
        for laid in laid_flat(tile, CARD, ConstructionChoice("folded")):
            if laid.form == "core" and laid.role == "base":
                west, south, east, north = tile.base.foot.bounds
                assert laid.flat.outline.bounds[2] == pytest.approx(east - west - 1.2, abs=0.005)
                assert laid.flat.outline.bounds[3] == pytest.approx(north - south - 1.2, abs=0.005)
                lying = shapely.affinity.translate(laid.flat.outline, west + 0.6, south + 0.6)
                assert tile.base.foot.buffer(1e-4).covers(lying)
                assert tile.base.foot.exterior.distance(lying) > 0.6 - 0.005


def test_cores_are_listed_drawn_and_bought():
    set_of = make_sheets([(closed((2, 2)), 3), (closed((4, 2)), 2)], CARD, read_machine("hand-knife"))
    (square, long) = sorted(set_of.cores, key=lambda core: core.size[0])
    drawn = {one.number: one for one, *_ in templates_of([set_of])}
    assert (square.number, long.number) == ("F2", "F1")
    assert sorted(drawn["F2"].size) == pytest.approx([62.0, 62.0])
    assert sorted(drawn["F1"].size) == pytest.approx([62.0, 125.5])
    assert (drawn["F2"].count, drawn["F1"].count) == (3, 2)
    files = sheet_files(set_of)
    rows = list(csv.DictReader(io.StringIO(files["card-parts.csv"].decode())))
    assert {row["id"]: (row["quantity"], row["thickness_mm"]) for row in rows if row["name"] == "base, core"} == {
        square.id: ("3", "5.15"),
        long.id: ("2", "5.15"),
    }
    (row,) = core_rows(set_of.cores)
    assert row[1:4] == ["core: foam or board, 5.15 mm", 5, "pieces"]
    # 3 x 62 x 62 and 2 x 125.5 x 62.
    assert str(row[4]).startswith(f"{(3 * 62 * 62 + 2 * 126.7 * 62) / 1e6:.2f} m2")


def test_no_page_parts_outlines_that_are_smaller_than_it():
    """Each is whole on one page, within its margins and apart from all others."""
    set_of = make_sheets([(closed((2, 2)), 1)], FOAM, read_machine("hand-knife"))
    for seed in range(20):
        some = random.Random(seed)
        sides = [(some.uniform(3, 150), some.uniform(3, 200)) for _ in range(some.randint(1, 14))]
        parts = [
            Part(f"W-{n:04d}", "wall", at_origin(box(0, 0, *s)), 6.0, n, (), number=f"W{n}")
            for n, s in enumerate(sides, 1)
        ]
        book = Booklet("outlines")
        template_pages(book, [replace(set_of, parts=tuple(parts), assemblies=())])
        found = Counter()
        for page in book.pages:
            margins = box(MARGIN, MARGIN, page.width - MARGIN, page.height - MARGIN)
            rings = [line for shape in page.shapes if isinstance(shape, Polylines) for line in shape.lines]
            drawn = [Polygon(ring) for ring in rings if len(ring) == 5 and np.allclose(ring[0], ring[-1])]
            found.update(tuple(sorted(np.round(np.ptp(one.exterior.coords, axis=0), 6))) for one in drawn)
            assert all(margins.covers(one) for one in drawn)
            assert all(a.distance(b) > 2 for a, b in combinations(drawn, 2))
        assert found == Counter(tuple(sorted(np.round(side, 6))) for side in sides)
