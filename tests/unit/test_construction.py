"""Stacked, grooved and folded: parts put back together give the tile, and their drawings are clean."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
import shapely.affinity
import shapely.ops
from shapely.geometry import LineString

from tests.footprints import box_height, fold_up, foot_of, outside_of_skin, panels_of, same
from tilegen.files.plans import read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find, shipped
from tilegen.making.things import things_of
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.constructions.nets import Net
from tilegen.sheets.flat import own_pose, plate_names, word_box
from tilegen.sheets.footprints import narrow_places
from tilegen.sheets.make import make_sheets
from tilegen.sheets.partpaths import PartPaths
from tilegen.sheets.parts import least_feature, list_parts
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, single_cell
from tilegen.tiles.tile import Tile, make_plates, make_tile
from tilegen.tiles.walls import printed_band

GRID = Grid()
FOAM, CORE, CARD = read_material("foam"), read_material("foam-core"), read_material("card")
CORNERS = ("butt", "pinwheel", "mitre", "rabbet")


@pytest.fixture(autouse=True)
def plain_nests(monkeypatch):
    """How close odd outlines can be packed is tested elsewhere, and takes long."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)


def shipped_tiles():
    made = [read_profile(path) for path in sorted(shipped("profiles").glob("*.toml"))]
    made += [thing for thing, _ in things_of(make_kit(read_plan(find("lamp-cellars", "plans"))))]
    made += [closed((2, 2)), closed((4, 2)), hexagon()]
    return {f"{thing.name} {thing.id}": thing for thing in made if isinstance(thing, Tile)}


def closed(size, grid=GRID):
    return make_tile("closed", single_cell(Cell((WALL,) * 4), size), grid)


def hexagon():
    points = tuple(
        (100 + 90 * math.cos(math.radians(-60 * k)), 100 + 90 * math.sin(math.radians(-60 * k))) for k in range(6)
    )
    return make_tile("hexagon", OutlineShape(points, (1, 2, 3, 5)), GRID)


TILES = shipped_tiles()
# For what takes long: every fifth, and the outlines.
FEW = [tile for n, tile in enumerate(TILES.values()) if n % 5 == 0 or not tile.on_grid]


def laid_flat(tile, material, ways):
    return list(construction_of(tile.grid, material, ways).lay(tile).flats)


def tolerance(tile):
    """Grid tiles are exact; odd outlines lie on a grid of a micrometre."""
    return 1e-6 if tile.on_grid else 4e-3


def check_rebuilt(tile, material, ways, allowed=0.0):
    laid = laid_flat(tile, material, ways)
    standing = [foot_of(part, material) for part in laid if part.pose is not None]
    printed = make_plates(tile.shape, tile.grid, printed_band(tile.grid))
    walls = shapely.union_all([plate.foot for plate in printed[1:]])
    built = shapely.union_all(standing)
    assert same(built, walls, max(tolerance(tile), allowed)), ways
    # They touch but don't overlap.
    overlapping = sum(foot.area for foot in standing) - built.area
    assert overlapping == pytest.approx(0, abs=len(standing) * tolerance(tile) * 100), ways
    return laid, printed[0].foot


# Stock exactly as thick as a printed wall: then the parts must fill what the printed walls fill, and leave the same floor.
# A printed wall inside a tile is thicker than one at its edge by half the play, which one stock can't be: such tiles
# are tried without play, and all others both ways.
def with_and_without_play(tile):
    bare = make_tile(tile.name, tile.shape, replace(tile.grid, joint_play=0.0))
    plain = not tile.on_grid or len(tile.shape.cells) == 1
    return [(bare, 6.35), *([(tile, 6.2)] if plain else [])]


def test_stacked_parts_make_the_tile():
    for name in TILES:
        for corners, (tile, thickness) in product(CORNERS, with_and_without_play(TILES[name])):
            stock = CORE.model_copy(update={"thickness": thickness, "least_lintel": 0.0})
            laid, footprint = check_rebuilt(tile, stock, ConstructionChoice("stacked", corners))
            west, south, _, _ = footprint.bounds
            for part in laid:
                if part.role == "base":
                    moved = shapely.affinity.translate(part.flat.outline, west, south)
                    assert same(moved, footprint, tolerance(tile)), corners


def test_stacked_layers_make_the_tile():
    for name in TILES:
        # 6.2 mm from three layers of 2 mm and two lines of glue.
        for tile, thickness in with_and_without_play(TILES[name]):
            given = {"thickness": (thickness - 0.2) / 3, "glue_line": 0.1, "least_lintel": 0.0}
            check_rebuilt(tile, CORE.model_copy(update=given), ConstructionChoice("stacked", "pinwheel"))


def test_grooved_parts_make_the_tile():
    for name in TILES:
        for tile, thickness in with_and_without_play(TILES[name]):
            stock = CORE.model_copy(update={"thickness": thickness, "least_lintel": 0.0})
            check_rebuilt(tile, stock, ConstructionChoice("grooved"))


def crossing(one, other):
    """Where the outer faces of two panels cross."""
    (a, b), (c, d) = ((panel(0.0), panel(1.0) - panel(0.0)) for panel in (one, other))
    return a + b * ((c - a).conjugate() * d).imag / (b.conjugate() * d).imag


def test_a_folded_run_has_its_outside_size():
    """Turned about lines in the skin, the outer faces cross in the corners of the tile's walls."""
    for thickness in [5.0, 6.2]:
        for hinge in [0.0, 1.0]:
            folding = CORE.folding.model_copy(update={"hinge": hinge})
            stock = CORE.model_copy(update={"thickness": thickness, "folding": folding, "least_lintel": 0.0})
            for tile in (closed((2, 2)), closed((4, 2)), hexagon(), *(t for t in TILES.values() if t.name == "corner")):
                flat = construction_of(tile.grid, stock, ConstructionChoice("grooved")).lay(tile)
                runs = [laid for laid in flat.flats if laid.pose and laid.pose.folds]
                walls = {plate.name: plate.length for plate in flat.plates if plate.role == "wall"}
                assert runs
                for laid in runs:
                    panels, length = fold_up(laid, hinge * stock.skin), laid.flat.outline.bounds[2]
                    corners = [crossing(*pair) for pair in pairwise(panels)]
                    if laid.pose.folds[0][0] < 1e-6:
                        closing = crossing(panels[-1], panels[0])
                        corners = [closing, *corners, closing]
                        # Its bevelled ends meet: skin to skin, and all the way in.
                        for depth in (stock.skin, thickness):
                            reach = (depth - stock.skin) * math.tan(laid.pose.folds[0][1] / 2)
                            assert abs(panels[-1](length - reach, depth) - panels[0](reach, depth)) < 0.05
                    else:
                        corners = [panels[0](0.0), *corners, panels[-1](length)]
                    outside = [abs(b - a) for a, b in pairwise(corners)]
                    assert outside == pytest.approx([walls[name] for name in plate_names(laid.plate)], abs=0.05)


def test_a_folded_ring_is_as_large_as_its_tile():
    """Board as thick as the wall: the outer faces stand over the edges of the tile's base."""
    stock = CORE.model_copy(update={"thickness": GRID.wall_thickness - GRID.half_play})
    (run,) = [laid for laid in laid_flat(closed((2, 2)), stock, ConstructionChoice("grooved")) if laid.pose]
    panels = fold_up(run, 0.15)
    corners = np.array([crossing(*pair) for pair in pairwise((*panels, panels[0]))])
    west, south, east, north = closed((2, 2)).base.foot.bounds
    assert np.ptp(corners.real) == pytest.approx(east - west, abs=0.05)
    assert np.ptp(corners.imag) == pytest.approx(north - south, abs=0.05)


@pytest.mark.parametrize("hinge", [0.0, 1.0])
def test_grooved_parts_make_the_tile_wherever_the_hinge_lies(hinge):
    stock = CORE.model_copy(update={"thickness": 6.2, "folding": CORE.folding.model_copy(update={"hinge": hinge})})
    for name in ("corner", "closed", "hexagon"):
        check_rebuilt(next(tile for tile in TILES.values() if tile.name == name), stock, ConstructionChoice("grooved"))


@pytest.mark.parametrize("tile", FEW, ids=lambda tile: tile.name)
def test_folded_parts_make_the_tile(tile):
    # Where the play takes a square out of a reflex corner, the box beside it ends square, half the play short.
    notched = tile.on_grid and len(tile.plates[0].foot.exterior.coords) > 5
    for corners in ("butt", "pinwheel", "mitre"):
        laid, footprint = check_rebuilt(tile, CARD, ConstructionChoice("folded", corners), 0.16 if notched else 0.0)
        west, south, _, _ = footprint.bounds
        outside = shapely.transform(footprint, lambda p, at=(west, south): p - at)
        skins = [part for part in laid if part.form == "folded skin"]
        assert len(skins) == 1, corners
        strips = sum(part.flat.outline.bounds[2] for part in laid if part.form == "edge strip")
        if not strips:
            assert same(outside_of_skin(skins[0], CARD), outside, max(tolerance(tile), 2e-6)), corners
        for part in laid:
            if part.form == "folded box":
                assert box_height(part, CARD) == pytest.approx(tile.grid.wall_height, abs=1e-6), corners
                # The long tab along the underside, with its number.
                assert {"1", "1'"} <= {word.text for word in part.flat.words}, corners


def test_inner_faces_of_thinner_stock_stand_where_the_grid_puts_them():
    for kind, corners in [*(("stacked", c) for c in CORNERS), ("grooved", None)]:
        for thickness in [3.0, 5.0]:
            stock = CORE.model_copy(update={"thickness": thickness, "least_lintel": 0.0})
            for sides in ((WALL, OPEN, OPEN, WALL), (WALL, WALL, OPEN, WALL), (WALL,) * 4, (OPEN, WALL, OPEN, WALL)):
                tile = make_tile("t", single_cell(Cell(sides), (2, 2)), GRID)
                base, *plates = make_plates(tile.shape, GRID, printed_band(GRID))
                printed = shapely.union_all([plate.foot for plate in plates])
                floor = base.foot.difference(printed)
                built = shapely.union_all(
                    [
                        foot_of(part, stock)
                        for part in laid_flat(tile, stock, ConstructionChoice(kind, corners))
                        if part.pose
                    ]
                )
                assert built.difference(printed).area < 1e-6
                met = floor.boundary.intersection(printed.boundary).length
                assert floor.boundary.intersection(built.boundary.buffer(1e-6)).length == pytest.approx(met, abs=1e-4)


def test_the_checker_sees_a_wall_of_the_wrong_length():
    stock = CORE.model_copy(update={"thickness": 6.2})
    tile = TILES[next(name for name in TILES if name.startswith("corner"))]
    (wall, *_) = [part for part in laid_flat(tile, stock, ConstructionChoice("stacked", "butt")) if part.pose]
    foot = foot_of(wall, stock)
    assert same(foot, foot, 1e-6)
    assert not same(foot, shapely.affinity.scale(foot, xfact=1.0002), 1e-6)


@pytest.mark.parametrize(
    "material, ways",
    [
        (FOAM, ConstructionChoice()),
        (CORE, ConstructionChoice()),
        (CORE, ConstructionChoice("stacked", "rabbet")),
        (CARD, ConstructionChoice(None, "mitre")),
    ],
    ids=["foam", "grooved", "lapped", "folded mitred"],
)
def test_every_part_is_the_one_that_was_laid(material, ways):
    """Parts that are listed are those that the proofs above looked at, up to quarter turns, and as many."""
    made = list_parts([(tile, 2) for tile in FEW], material, ways)
    listed = (*made.parts, *made.cores)
    expected = Counter()
    for tile in FEW:
        for laid in laid_flat(tile, material, ways):
            expected[laid.role, own_pose(laid.flat)[1]] += 2 * laid.layers
    assert Counter({(p.role, p.flat.description): p.count for p in listed}) == expected


@pytest.mark.parametrize(
    "material, machine, ways",
    [
        ("foam-core", "hand-knife", ConstructionChoice()),
        ("card", "hand-knife", ConstructionChoice()),
    ],
)
def test_drawings_are_clean(material, machine, ways):
    """Marks stay inside the part; creases meet no cut but at their ends; words are clear of creases and of each other."""
    made = make_sheets([(tile, 1) for tile in FEW], read_material(material), read_machine(machine), ways)
    # A jamb of 3 mm beside an open-topped 5 ft doorway is too narrow for its number; all else carries one.
    assert all(part.size[1] < 3.5 for part in made.parts if part.id in made.unlabelled)
    for part in made.parts:
        outline = part.flat.outline
        assert outline.is_valid
        creases = [LineString(crease) for crease in part.flat.creases]
        for crease in creases:
            assert outline.buffer(1e-6).covers(crease)
            middle = shapely.ops.substring(crease, 0.01, crease.length - 0.01)
            assert not middle.intersects(outline.boundary)
        boxes = [word_box(word) for word in part.flat.words]
        for number, box in enumerate(boxes):
            assert outline.covers(box)
            assert not any(box.intersects(crease) for crease in creases)
            assert not any(box.intersects(other) for other in boxes[:number])
        drawn = PartPaths.of(part, made.kerf)
        assert drawn.number.strokes or part.size[1] < 3.5


def test_pairs_of_numbers_come_together():
    for tile in FEW:
        for laid in laid_flat(tile, CARD, ConstructionChoice()):
            words = {word.text for word in laid.flat.words}
            assert {word for word in words if not word.endswith("'")} == {w[:-1] for w in words if w.endswith("'")}


def test_creases_fold_the_box_shut():
    """Four panels round a box, the last one short by a thickness and the tuck; end flaps fit between top and underside."""
    (box,) = [
        part
        for part in laid_flat(TILES[next(n for n in TILES if n.startswith("one-wall"))], CARD, ConstructionChoice())
        if part.pose
    ]
    t = 0.5
    heights = sorted({round(a[1], 6) for a, b in box.flat.creases if abs(a[1] - b[1]) < 1e-9})
    assert heights == pytest.approx(
        [37.85, 37.85 + 5.7, 37.85 + 5.7 + 37.6, 37.85 + 5.7 + 37.6 + 6.2 - t - 2 * 0.25 - 0.3]
    )
    upright = sorted(a[0] for a, b in box.flat.creases if abs(a[0] - b[0]) < 1e-9)
    # From end flap to end flap: the length less two hinges, and the flaps as deep as the wall less a thickness.
    assert upright[2] - upright[1] == pytest.approx(63.2 - 2 * 0.25)
    assert upright[1] - upright[0] == pytest.approx(6.2 - t - 2 * 0.25)


def test_tabs_slant_at_42_to_45_degrees():
    # Common practice, no source: 45 degrees in a corner of 90, less a little so that two tabs stay apart.
    assert 42 <= CARD.folding.tab_angle <= 45
    (box,) = [
        part
        for part in laid_flat(TILES[next(n for n in TILES if n.startswith("one-wall"))], CARD, ConstructionChoice())
        if part.pose
    ]
    long_tab = max((p for p in panels_of(box.flat)), key=lambda p: p.representative_point().y)
    xs = sorted(x for x, _ in long_tab.exterior.coords[:-1])
    assert math.degrees(math.atan2(6.0, xs[1] - xs[0])) == pytest.approx(CARD.folding.tab_angle)


def test_jambs_are_lined_where_there_is_room():
    door = TILES[next(n for n in TILES if n.startswith("door "))]
    (box,) = [part for part in laid_flat(door, CARD, ConstructionChoice()) if part.pose]
    # Beside the doorway: a fold a hinge's depth behind the jamb, and one a wall less a thickness further.
    upright = sorted({round(a[0], 4) for a, b in box.flat.creases if abs(a[0] - b[0]) < 1e-9 and max(a[1], b[1]) < 31})
    assert len(upright) == 4
    assert upright[3] - upright[0] == pytest.approx(27.94 + 2 * 0.25)
    assert upright[1] - upright[0] == pytest.approx(6.2 - 0.5 - 2 * 0.25)


def test_the_printed_tile_stays_as_it_is():
    before = {tile.id: tile.volume for tile in FEW}
    make_sheets([(tile, 1) for tile in FEW], CARD, read_machine("laser"), ConstructionChoice("folded", "mitre"))
    assert {tile.id: make_tile(tile.name, tile.shape, tile.grid).volume for tile in FEW} == before


def test_a_crease_ends_where_it_begins_to_run_along_an_edge():
    for degrees in range(3, 180, 8):
        card = shapely.box(0, -20, 75, 20) - shapely.box(0, 0, 5, 20) - shapely.box(70, 0, 75, 20)
        turned, crease = (
            shapely.affinity.rotate(shape, degrees, (0, 0)) for shape in (card, LineString([(0, 0), (75, 0)]))
        )
        flat = Net([turned], creases=[tuple(crease.coords)]).flat()
        assert math.fsum(math.dist(*line) for line in flat.creases) == pytest.approx(65, abs=0.1)


POINTED = """
name = "p"
drawing = '''
......
......
......
......
......
......
'''
[[shape]]
room = "A"
"""


@pytest.mark.parametrize(
    "shape, words",
    [
        (
            "arc = {centre = [3, 3], radius = 1.63, width = 1.27, from = 92, to = 233}",
            "a tip of the floor under 1.5 mm",
        ),
        (
            "polygon = [[5.05, 2.99], [3.51, 4.2], [1.93, 4.31], [0.94, 3.4], [2.15, 1.4], [3.98, 1.31]]",
            "too thin for a cap",
        ),
    ],
)
def test_what_is_too_thin_to_cut_is_left_off_and_said(shape, words, tmp_path):
    (path := tmp_path / "p.toml").write_text(POINTED + shape)
    parts = list_parts(things_of(make_kit(read_plan(path))), CARD).parts
    least = least_feature(CARD, read_machine("hand-knife"))
    assert not [part.id for part in parts if any(narrow_places(part.outline, least))]
    assert any(words in note for part in parts for note in part.notes)
