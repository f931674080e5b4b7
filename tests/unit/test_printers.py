"""What a printer's file does to a solid: layers, chamfer, shrink, lines, holes. Judged in the file written."""

import io
import math
import shutil
import subprocess
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from tests.plans import furnished, plan
from tests.rereading import read_stl
from tests.unit.test_connectors import CHOICES
from tests.unit.test_solids import TILES, check_stl
from tilegen.errors import InputError
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_printer
from tilegen.files.toml import find
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Door, Grid
from tilegen.model.printers import ClearanceTable, LayersTable
from tilegen.plans.kit import make_kit
from tilegen.solids.build import build_mesh, build_solid, to_mesh
from tilegen.solids.checks import check_walls, wall_lines, width_of_lines
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.gauge import corners_for, hole
from tilegen.solids.printing import (
    as_printed,
    bed_region,
    chamfer_of,
    chamfered,
    layer_notes,
    plates_to_print,
    snap,
    snapped,
)
from tilegen.tiles.loose import leaves_of, make_leaf, make_saddle_door, make_shim
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

FDM, RESIN = read_printer("fdm-220"), read_printer("resin-190")
READY = read_printer("fdm-220, snap_heights=true, bottom_chamfer=0.4 mm")


# Layers


def test_whole_layers():
    """printparams.com: 5.1 mm in layers of 0.2 becomes 5.0 or 5.2; a 10 mm cube has 50 (prusa-slicer, Cura, Slic3r)."""
    layers = LayersTable()
    assert snap(5.1, layers) in (pytest.approx(5.0), pytest.approx(5.2))
    assert snap(10.0, layers) == pytest.approx(10.0)
    assert snap(6.35, layers) == pytest.approx(6.4)
    assert snap(6.35, LayersTable(first=0.3)) == pytest.approx(6.3)
    assert snap(0.05, layers) == pytest.approx(0.2)
    assert snap(0.0, layers) == 0.0


@given(st.floats(0.2, 300.0), st.floats(0.05, 0.4), st.floats(0.05, 0.4))
def test_a_height_moves_by_half_a_layer_at_most(height, layer, first):
    moved = snap(height, LayersTable(height=layer, first=first))
    assert abs(moved - height) <= max(layer / 2, first - height) + 1e-5
    count = (moved - first) / layer
    assert abs(count - round(count)) < 1e-6


@pytest.mark.parametrize("name", ["corner", "door", "custom-outline", "bell-foundry/saddle-door"])
def test_plain_solids_stay_as_drawn_and_snapped_ones_are_what_their_plates_say(name):
    plates = TILES[name].plates
    plain, _ = as_printed("t", plates, FDM)
    assert stl_bytes(plain) == stl_bytes(build_mesh("t", plates))
    on_layers = snapped(plates, READY.layers)
    mesh = build_mesh("t", on_layers)
    assert mesh.volume == pytest.approx(sum(p.volume for p in on_layers), rel=1e-9)
    heights = mesh.vertices[:, 2][mesh.triangles]
    level = heights[(heights == heights[:, :1]).all(axis=1), 0]
    for z in {round(v, 6) for v in level.tolist() if v > 0}:
        assert abs(z / 0.2 - round(z / 0.2)) < 1e-5, z
    written, _ = as_printed("t", plates, READY)
    taken = chamfer_of(bed_region(build_solid("t", on_layers)), 0.4).volume
    check_stl(stl_bytes(written), SimpleNamespace(volume=mesh.volume - taken))
    assert written.volume == pytest.approx(mesh.volume - taken, rel=1e-9)


def test_marks_on_faces_stay_on_their_snapped_plates():
    wall = Plate("w", "wall", box(0, 0, 40, 5), 0, 20.13, ((0, 5), (40, 5)))
    strip = box(2, 1, 38, 20.13)
    plates = [
        Plate("w", "wall", wall.foot, 0, 20.13, wall.edge, marks=(Mark((), strip, strip, 0.5, "inner"),)),
    ]
    moved = snapped(plates, FDM.layers)
    assert moved[0].marks[0].region.bounds[3] == pytest.approx(20.2)
    assert build_mesh("t", moved).volume == pytest.approx(moved[0].volume, rel=1e-9)


@pytest.mark.parametrize("leaf", ["sliding", "hinged", "lift-out"])
def test_leaves_and_their_grooves_on_whole_layers(leaf):
    side = Side("doorway", make_opening(63.5, Grid(), leaf=leaf))
    tile = make_tile("t", single_cell(Cell((side, OPEN, WALL, OPEN)), (2, 2)), Grid())
    pieces = [piece.plates for piece, _ in leaves_of(tile)]
    for plates in (tile.plates, *pieces):
        on_layers = snapped(plates, READY.layers)
        volume = sum(p.volume for p in on_layers)
        assert build_mesh("t", on_layers).volume == pytest.approx(volume, rel=1e-9)
        plain = build_solid("t", on_layers)
        taken = plain.volume() - chamfered(plain, 0.4, READY.walls.least).volume()
        written, _ = as_printed("t", plates, READY)
        check_stl(stl_bytes(written), SimpleNamespace(volume=volume - taken))


def test_heights_off_layers_are_told_and_whole_ones_are_not():
    tile = TILES["corner"]
    assert "floor 6.35 mm to 6.4 mm" in layer_notes(tile.plates, FDM)[0].words
    even = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2)), Grid(base_depth=6.0, wall_height=38.0))
    assert layer_notes(even.plates, FDM) == []
    assert "more than half a layer" in layer_notes([Plate("b", "base", box(0, 0, 9, 9), 0, 0.05)], FDM)[0].words


# Chamfer


def test_a_chamfer_takes_what_its_formula_says():
    """P c^2 / 2 - K c^3 / 3, against shapely's own offsets added up (Simpson's rule is exact for a parabola)."""
    for region, depth in [
        (box(0, 0, 63.2, 63.2), 0.4),
        (box(0, 0, 30, 30).difference(hole(6.2, (15, 15))).difference(hole(1.2, (5, 5))), 0.3),
        (box(0, 0, 40, 40).difference(box(10, 10, 60, 14)), 0.5),
        (shapely.union_all([box(0, 0, 10, 10), box(20, 0, 30, 10)]), 0.4),
        (Polygon([(0, 0), (60, 5), (70, 50), (30, 20), (5, 45)]), 0.4),
        (Point(0, 0).buffer(20, 64), 0.4),
    ]:
        parts = getattr(region, "geoms", [region])
        plates = [Plate(f"b{i}", "base", part, 0, 8) for i, part in enumerate(parts)]
        plates += [Plate("lid", "base", region.convex_hull, 4, 8)] if len(plates) > 1 else []
        solid = build_solid("t", plates)
        chamfer = chamfer_of(bed_region(solid), depth)
        assert chamfer.rings is not None
        removed = [
            region.area - region.buffer(-t, join_style="mitre", mitre_limit=20).area for t in (0, depth / 2, depth)
        ]
        assert chamfer.volume == pytest.approx(depth / 6 * (removed[0] + 4 * removed[1] + removed[2]), rel=1e-6)
        made = chamfered(solid, depth)
        assert solid.volume() - made.volume() == pytest.approx(chamfer.volume, abs=1e-9)
        assert read_stl(stl_bytes(to_mesh("t", made)))
        assert made.genus() == solid.genus()


def test_a_square_by_hand():
    """A frustum: c (A1 + A2 + sqrt(A1 A2)) / 3, the volume of a truncated pyramid."""
    base, c = 63.2, 0.4
    low = base - 2 * c
    frustum = c * (base**2 + low**2 + base * low) / 3
    assert chamfer_of(box(0, 0, base, base), c).volume == pytest.approx(base**2 * c - frustum, abs=1e-9)


def test_an_outline_bent_too_finely_gets_steps():
    rounded = box(0, 0, 30, 20).buffer(0.3, quad_segs=6)
    solid = build_solid("t", [Plate("b", "base", rounded, 0, 8)])
    chamfer = chamfer_of(bed_region(solid), 0.5)
    assert chamfer.rings is None
    made = chamfered(solid, 0.5)
    assert solid.volume() - made.volume() == pytest.approx(chamfer.volume, rel=1e-6)
    assert read_stl(stl_bytes(to_mesh("t", made)))


def test_pockets_that_open_at_the_bed_get_the_chamfer_too():
    pocket = hole(5.2, (20, 20))
    base = Plate("b", "base", box(0, 0, 40, 40), 0, 6, marks=(Mark((), pocket, pocket, 3.0, "under"),))
    solid = build_solid("t", [base])
    made = chamfered(solid, 0.4)
    around = box(10, 10, 30, 30)
    widened = [
        shapely.union_all([Polygon(r) for r in made.slice(z).to_polygons()[1:]]).intersection(around).area
        for z in (0.01, 0.39)
    ]
    flats = 5.2
    assert widened[0] > widened[1] > pocket.area
    assert math.sqrt(widened[0] / math.pi) * 2 == pytest.approx(flats + 2 * 0.39, abs=0.02)
    assert solid.volume() - made.volume() == pytest.approx(chamfer_of(bed_region(solid), 0.4).volume, abs=1e-9)


def test_too_narrow_for_its_chamfer():
    with pytest.raises(InputError, match="less than 1 mm wide at the bed"):
        as_printed("thin", [Plate("b", "base", box(0, 0, 40, 0.9), 0, 6)], read_printer("fdm-220, bottom_chamfer=0.5"))


def test_higher_than_what_it_goes_under():
    with pytest.raises(InputError, match=r"only 0\.4 mm high, too low for a chamfer of 0\.5 mm"):
        as_printed("flat", [Plate("b", "base", box(0, 0, 40, 40), 0, 0.4)], read_printer("fdm-220, bottom_chamfer=0.5"))


def test_workers_make_the_same():
    from concurrent.futures import ProcessPoolExecutor

    items = [("t", TILES[name].plates, READY) for name in ("corner", "door")]
    with ProcessPoolExecutor(1) as pool:
        others = list(pool.map(as_printed, *zip(*items, strict=True)))
    assert [stl_bytes(m) for m, _ in others] == [stl_bytes(as_printed(*item)[0]) for item in items]


@settings(max_examples=15, deadline=None)
@given(furnished(), st.sampled_from(["10 ft", "5 ft"]))
def test_every_tile_of_any_plan_prints_with_chamfer_on_whole_layers(made, scale):
    rows, ways, walls = made
    for t in make_kit(plan(rows, ways, walls, scale=scale)).types:
        mesh, _ = as_printed(t.name, t.tile.plates, READY)
        solid = build_solid("t", snapped(t.tile.plates, READY.layers))
        expected = solid.volume() - chamfer_of(bed_region(solid), 0.4).volume
        check_stl(stl_bytes(mesh), SimpleNamespace(volume=expected))


@pytest.mark.parametrize(
    "name",
    [
        "door",
        "custom-outline",
    ],
)
@pytest.mark.skipif(shutil.which("admesh") is None, reason="admesh is not installed")
def test_admesh_repairs_nothing_on_chamfered_solids(name, tmp_path):
    path = tmp_path / "t.stl"
    path.write_bytes(stl_bytes(as_printed("t", TILES[name].plates, READY)[0]))
    text = subprocess.run(["admesh", str(path)], capture_output=True, text=True, errors="replace", check=True).stdout
    for line in ("Total disconnected facets", "Degenerate facets", "Edges fixed", "Facets removed", "Facets added"):
        assert text.split(line)[1].split(":")[1].split()[0] == "0", text


# Shrink


def test_shrink_stretches_the_written_mesh_only():
    printer = read_printer("fdm-220, shrink.x=0.003, shrink.z=0.005")
    plain = build_mesh("t", TILES["door"].plates)
    written, _ = as_printed("t", TILES["door"].plates, printer)
    read = trimesh.load(io.BytesIO(stl_bytes(written)), file_type="stl")
    x, y, z = plain.size
    assert read.extents.tolist() == pytest.approx([x / 0.997, y, z / 0.995], rel=1e-6)
    # What comes off the bed: the drawing.
    assert (read.extents * [0.997, 1, 0.995]).tolist() == pytest.approx([x, y, z], rel=1e-6)
    assert read.volume == pytest.approx(TILES["door"].volume / 0.997 / 0.995, rel=1e-6)


# Lines and walls


def test_walls_of_whole_lines():
    """n lines of 0.45 mm in layers of 0.2: 0.86, 1.26, 1.67, 2.49 mm (formula from memory)."""
    assert [round(width_of_lines(n, 0.45, 0.2), 2) for n in (2, 3, 4, 6)] == [0.86, 1.26, 1.67, 2.49]
    found = wall_lines(1.5, FDM)
    assert (found.lines, round(found.thickness, 2)) == (4, 1.67)


def wall(thickness, height=10.0):
    return [Plate("w", "wall", box(0, 0, 40, thickness), 0, height, ((0, thickness), (40, thickness)))]


def test_least_walls():
    """Two lines of a 0.4 mm nozzle, 0.8 mm (printparams.com); resin 0.6 mm free (common practice, no source)."""
    assert (FDM.walls.least, RESIN.walls.least) == (0.8, 0.6)
    for printer, thin in ((FDM, 0.79), (RESIN, 0.59)):
        with pytest.raises(InputError, match=f"t has a wall {thin:g} mm thick"):
            check_walls([("t", wall(thin))], printer)
    assert "break when they are handled" in check_walls([("t", wall(1.2))], FDM)[0].words
    assert "wobble" in check_walls([("t", wall(2.08, 30.0))], FDM)[0].words
    assert "4 whole lines" in " ".join(m.words for m in check_walls([("t", wall(1.8, 10.0))], FDM))
    assert check_walls([("t", wall(width_of_lines(4, 0.45, 0.2)))], FDM) == []
    assert check_walls([("t", TILES["corner"].plates)], FDM) == []


def test_what_neighbours_leave_of_a_wall_in_a_corner_is_not_thin():
    tip = Plate("tip", "wall", Polygon([(38, 0), (40, 0), (40, 6)]), 0, 38, ((40, 6), (40, 0)))
    thick = Plate("w", "wall", Polygon([(0, 0), (38, 0), (40, 6), (0, 6)]), 0, 38, ((0, 6), (40, 6)))
    assert tip.thickness == 2.0
    alone = replace(tip, foot=Polygon([(39.5, 0), (40, 0), (40, 6)]))
    assert check_walls([("t", [thick, tip])], FDM) == []
    with pytest.raises(InputError, match=r"t has a wall 0\.5 mm thick"):
        check_walls([("t", [alone])], FDM)


# Holes


@given(st.floats(0.5, 60), st.floats(0, 0.5))
def test_a_pin_goes_into_a_hole(diameter, allowance):
    made = hole(diameter, (7, -3), allowance=allowance)
    centre, radius = Point(7, -3), (diameter + allowance) / 2
    assert made.exterior.distance(centre) == pytest.approx(radius, rel=1e-9)
    n = len(made.exterior.coords) - 1
    assert n == corners_for(radius) >= math.pi / math.acos(1 - 0.02 / radius) - 1e-6
    corner = LineString([centre, made.exterior.coords[0]]).length
    assert corner - radius <= 0.02 / (1 - 0.02 / radius) + 1e-9 or n == 8


def thin(solid, height, least):
    """What of a solid's section is thinner than `least`: its parts, and their area; how many parts there are in all."""
    section = shapely.Polygon()
    for ring in solid.slice(height).to_polygons():
        section = section.symmetric_difference(Polygon(ring).buffer(0) if len(ring) > 2 else Polygon())
    opened = section.buffer(0.001 - least / 2, join_style="mitre").buffer(least / 2, join_style="mitre")
    return len(shapely.get_parts(section)), section.difference(opened.buffer(0.001)).area


@pytest.mark.parametrize("depth", [0.4, 0.8])
@pytest.mark.parametrize("connectors", [*CHOICES.values(), Connectors()], ids=[*CHOICES, "none"])
@pytest.mark.parametrize("profile", ["corner", "custom-outline"])
def test_a_chamfer_leaves_no_fins(profile, connectors, depth):
    """A peg's foot widens as it rises, a magnet's skin is thin: no layer has more loose or thin parts than without."""
    read = read_profile(find(profile, "profiles"))
    tile = make_tile("t", read.shape, replace(read.grid, connectors=connectors))
    plain = build_solid("t", tile.plates)
    made = chamfered(plain, depth, 0.8)
    assert len(made.decompose()) == 1
    assert read_stl(stl_bytes(to_mesh("t", made)))
    assert made.volume() < plain.volume()
    for height in np.linspace(0.02, depth + 0.1, 4):
        before, after = (thin(solid, height, 0.8) for solid in (plain, made))
        assert after[0] <= before[0]
        assert after[1] <= before[1] + 0.01


# Fits and heights of this printer


@pytest.mark.parametrize("leaf", ["sliding", "lift-out", "hinged"])
def test_what_test_pieces_told_reaches_leaves(leaf):
    """A slip of 0.35 on each side: the groove is 0.3 wider than with 0.2, the leaf 0.3 narrower; the ids stay."""
    told = FDM.model_copy(update={"clearance": ClearanceTable(slip=0.35, measured=("slip",))})
    side = Side("doorway", make_opening(63.5, Grid(), leaf=leaf))
    tile = make_tile("t", single_cell(Cell((side, OPEN, OPEN, OPEN)), (2, 2)), Grid())
    ((piece, _),) = leaves_of(tile)
    assert plates_to_print(tile, FDM) is tile.plates
    assert plates_to_print(piece, FDM) is piece.plates
    (before,), (after,) = ([p.foot.bounds for p in plates_to_print(piece, printer)] for printer in (FDM, told))
    narrower = (before[2] - before[0]) - (after[2] - after[0])
    assert narrower == pytest.approx(
        0.3 if leaf != "hinged" else 0.15 + 0.15 / 4, abs=0.16 if leaf == "hinged" else 1e-9
    )
    slots = [[m.depth for m in plates_to_print(tile, p)[1].marks] for p in (FDM, told)]
    if leaf != "hinged":
        assert slots == [[pytest.approx(3.4)], [pytest.approx(3.7)]]
    build_mesh("t", plates_to_print(tile, told))
    # What the grid says of its own rules.
    own = make_tile("t", tile.shape, replace(Grid(), door=Door(clearance=0.2)))
    assert own.id == tile.id
    assert plates_to_print(own, told) is own.plates


@pytest.mark.parametrize("kind", ["pegs", "keys"])
def test_what_test_pieces_told_reaches_connectors(kind):
    """Play 0.3 and an error of 0.2 ask for 0.35 on each side; a slip of 0.5 rules over that, one of 0.3 does not."""
    grid = Grid(connectors=Connectors(kind=kind))
    tile = make_tile("t", single_cell(Cell(), (2, 2)), grid)
    for slip, clearance in ((0.3, 0.35), (0.5, 0.5)):
        told = FDM.model_copy(update={"clearance": ClearanceTable(slip=slip, loose=0.6, measured=("slip",))})
        meant = make_tile("t", tile.shape, replace(grid, connectors=Connectors(kind=kind, clearance=clearance)))
        assert plates_to_print(tile, told) == meant.plates


def test_a_magnets_pocket_gets_the_printers_hole_allowance():
    grid = Grid(connectors=Connectors(kind="magnets"))
    tile = make_tile("t", single_cell(Cell(), (2, 2)), grid)
    told = FDM.model_copy(update={"hole_allowance": 0.3, "clearance": ClearanceTable(measured=("hole",))})
    meant = make_tile("t", tile.shape, replace(grid, connectors=Connectors(kind="magnets", magnet_allowance=0.3)))
    assert plates_to_print(tile, told) == meant.plates != tile.plates


def test_a_wall_too_thin_for_what_the_printer_asks_is_refused():
    told = FDM.model_copy(update={"clearance": ClearanceTable(slip=1.0, loose=1.0, measured=("slip",))})
    side = Side("doorway", make_opening(63.5, Grid(), leaf="sliding"))
    tile = make_tile("t", single_cell(Cell((side, OPEN, OPEN, OPEN)), (2, 2)), Grid())
    with pytest.raises(
        InputError, match=r"printer fdm-220, t: a sliding leaf needs a wall .*, or thickness under \[door\] smaller"
    ):
        plates_to_print(tile, told)


@given(st.floats(2.5, 12.0), st.floats(20.0, 60.0), st.floats(0.05, 0.3), st.floats(0.05, 0.3))
@settings(max_examples=20, deadline=None)
def test_pieces_on_whole_layers_never_stand_proud(base, height, layer, first):
    """Leaves, saddle doors and shims are as high as the walls beside them come out, or lower by less than two layers."""
    grid = Grid(base_depth=base, wall_height=height)
    layers = LayersTable(height=layer, first=first)
    printer = FDM.model_copy(update={"snap_heights": True, "layers": layers})
    opening = make_opening(63.5, grid, height=0.8 * height, leaf="lift-out")
    tile = make_tile("t", single_cell(Cell((Side("doorway", opening), OPEN, OPEN, OPEN)), (2, 2)), grid)
    _, wall = snapped(tile.plates, layers)
    for piece in (
        make_leaf("l", grid, 63.5, opening),
        make_saddle_door("s", grid, 63.5, opening),
        make_shim("h", grid, 63.5, opening),
    ):
        high = max(plate.top for plate in snapped(plates_to_print(piece, printer), layers))
        assert wall.height - 2 * layer - first - 1e-6 <= high <= wall.height + 1e-6
