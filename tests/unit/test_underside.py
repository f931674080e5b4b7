"""Names on the underside: read right from below, inside the footprint, off other pockets, volume exact."""

import io
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
import trimesh
from shapely.geometry import Point, box

from tests.calling import call
from tests.rereading import read_stl
from tests.unit.test_solids import TILES
from tilegen.errors import InputError
from tilegen.files.stock import read_printer
from tilegen.model.grid import Grid
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.printing import as_printed
from tilegen.tiles.identity import ALPHABET
from tilegen.tiles.lettering import (
    GROOVE_WIDTH,
    engraved,
    free_underside,
    reads_upside_down,
    underside_mark,
    words_size,
)
from tilegen.tiles.plate import Mark
from tilegen.tiles.shape import Cell, OutlineShape, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
FDM = read_printer("fdm-220")
NAMED = [name for name, tile in TILES.items() if tile.plates[0].role == "base"]


def outline(points):
    return make_tile("odd", OutlineShape(tuple((31.75 * x, 31.75 * y) for x, y in points), ()), GRID)


def below(mesh, z):
    """What is open of a solid's underside at height z, seen from below with north up, as trimesh cuts the file."""
    read = trimesh.load(io.BytesIO(stl_bytes(mesh)), file_type="stl")
    rings = read.section(plane_origin=(0, 0, z), plane_normal=(0, 0, 1)).discrete
    shape = shapely.Polygon()
    for ring in sorted((shapely.Polygon(ring[:, :2]) for ring in rings), key=lambda r: -r.area):
        shape = shape.symmetric_difference(ring)
    hull = shapely.union_all([shapely.Polygon(g.exterior) for g in getattr(shape, "geoms", [shape])])
    return shapely.affinity.scale(hull.difference(shape), -1, 1, origin=(0, 0))


def test_grooves_take_their_area_times_depth():
    for word in ["fdm-220", "fdm-220, bottom_chamfer=0.4"]:
        for name in NAMED[::6]:
            tile, printer = TILES[name], read_printer(word)
            mark = underside_mark(tile.name, tile.id, tile.plates, margin=printer.bottom_chamfer)
            bare, _ = as_printed("t", tile.plates, printer)
            mesh, _ = as_printed("t", tile.plates, printer, [mark])
            assert bare.volume - mesh.volume == pytest.approx(mark.region.area * 0.4, abs=1e-6)
            assert mark.depth == 0.4
            assert read_stl(stl_bytes(mesh))
            assert tile.base.foot.buffer(-1.0).contains(mark.region)
            # One groove of one line's width and a half everywhere, the letters of at least 4 mm.
            assert all(part.buffer(-0.29).area > 0 for part in getattr(mark.region, "geoms", [mark.region]))


def test_it_reads_from_below():
    """The grooves found in the written file, looked at from below, are the letters as they are drawn."""
    tile = TILES["floor"]
    mark = underside_mark(tile.name, tile.id, tile.plates)
    found = below(as_printed("t", tile.plates, FDM, [mark])[0], 0.2)
    parts = sorted(found.geoms, key=lambda g: -g.centroid.y)
    text = shapely.union_all([g for g in parts if g.centroid.y < parts[0].centroid.y - 5])
    drawn = engraved(["FLOOR", tile.id], (0, 0), height=6.0, bar=False)
    moved = shapely.affinity.translate(
        drawn, *(np.array(text.envelope.centroid.coords[0]) - drawn.envelope.centroid.coords[0])
    )
    assert text.symmetric_difference(moved).area < 0.01 * drawn.area
    mirrored = shapely.affinity.scale(moved, -1, 1)
    assert text.symmetric_difference(mirrored).area > 0.3 * drawn.area


def test_the_arrow_points_north():
    for name in ("corner", "custom-outline", "lamp-cellars/half-end"):
        tile = TILES[name]
        mark = underside_mark(tile.name, tile.id, tile.plates)
        arrow = max(mark.region.geoms, key=lambda g: (g.bounds[3], -abs(g.centroid.x)))
        west, south, east, north = arrow.bounds
        wide = [arrow.intersection(box(west, y, east, y + 0.1)) for y in (south + 0.5, north - 2.0)]
        # The shaft is one groove wide at its foot; the head spreads near the northern end.
        assert wide[0].bounds[2] - wide[0].bounds[0] == pytest.approx(GROOVE_WIDTH, abs=0.02)
        assert wide[1].bounds[2] - wide[1].bounds[0] > 3
        assert (west + east) / 2 == pytest.approx(wide[0].centroid.x, abs=0.02)


def test_other_pockets_are_left_alone():
    base = TILES["floor"].base
    slots = shapely.union_all([box(28, 2, 36, 20), box(28, 26, 36, 62), Point(15, 30).buffer(5)])
    rim = Mark((), box(0, 0, 63, 6), box(20, 0.5, 26, 5.5), 20.0, "rim", ((63.35, 0.15), (0.15, 0.15)))
    plate = replace(base, marks=(*base.marks, Mark((), base.foot, slots, 3.0, "under"), rim))
    side_pocket = box(63.35 - 26, 0.15, 63.35 - 20, 20.15)
    free = free_underside([plate])
    mark = underside_mark("floor", "ABCDEFG", [plate])
    for taken in (slots, side_pocket):
        assert mark.region.distance(taken) >= 1.0
        assert free.distance(taken) == pytest.approx(1.2, abs=0.05)
    # What stands out of a face takes nothing, nor a pocket high up in the rim.
    raised = replace(base, marks=(Mark((), base.foot, slots, -0.5, "under"),))
    high = replace(base, marks=(replace(rim, region=box(20, 3.0, 26, 5.5)),))
    for plate in (raised, high):
        assert free_underside([plate]).equals(base.foot.buffer(-1.2, join_style="mitre"))
    # Under a groove that leaves too little, nothing is engraved.
    deep = replace(base, marks=(Mark((), base.foot, box(0, 0, 64, 32), base.height - 1.0),))
    assert underside_mark("floor", "ABCDEFG", [deep]).region.bounds[1] > 32


def test_a_part_smaller_than_its_words_is_refused():
    small = make_tile("tiny", single_cell(Cell(), (1, 1)), Grid(pitch=25.4, wall_thickness=3.0))
    assert small.base.foot.bounds[2] > 25
    with pytest.raises(InputError, match="has no room for its id") as caught:
        underside_mark("tiny", small.id, small.plates)
    assert caught.value.exit_code == 2
    long = TILES["lamp-cellars/half-end"]
    name = "a-name-that-goes-on-and-on-without-an-end-in-sight-for-many-words"
    alone = underside_mark(name, long.id, long.plates)
    assert alone.region.area < underside_mark(long.name, long.id, long.plates).region.area
    with pytest.raises(InputError, match="labels have no letter for"):
        underside_mark("höhle", long.id, TILES["floor"].plates)


def test_odd_outlines_find_a_place():
    ring = outline([(0, 0), (2, 0), (2, 5), (6, 5), (6, 7), (0, 7)])
    mark = underside_mark("gallery", ring.id, ring.plates)
    assert ring.base.foot.buffer(-1.0).contains(mark.region)


def test_a_piece_that_stands_has_none():
    assert underside_mark("leaf", "ABCDEFG", [p for p in TILES["corner"].plates if p.edge is not None]) is None


@pytest.mark.parametrize("text", ["HHH8XX8", "NON", "SOS"])
def test_what_reads_upside_down_gets_a_bar(text):
    """Turned by half, the letters alone are letters again; with the bar they no longer lie on themselves."""
    assert reads_upside_down(text)
    bare, barred = (engraved([text], (0, 0), bar=bar) for bar in (False, True))
    assert barred.area > bare.area + 4.0
    _, up = words_size([text])
    assert barred.bounds[3] - barred.bounds[1] < up + 0.01


def test_ids_that_turn_over_are_few():
    """6, 9, M and W carry a bar of their own; ids have none of them, nor anything else that turns into another."""
    assert not set("69MW") & set(ALPHABET)
    assert not reads_upside_down("UHCHVRU")
    six, nine = (engraved([c], (0, 0), bar=False) for c in "69")
    turned = shapely.affinity.rotate(six, 180, origin=six.envelope.centroid)
    assert turned.symmetric_difference(nine).area > 0.3 * six.area


@pytest.mark.parametrize("command", ["solid", "tile"])
def test_the_option(command, tmp_path):
    words = [command, "corner", "-q", "-o"]
    assert call(*words, tmp_path / "plain").returncode == 0
    assert call(*words, tmp_path / "named", "--underside").returncode == 0
    plain, named = (
        trimesh.load(tmp_path / kind / "corner" / "solids" / "corner.stl").volume for kind in ("plain", "named")
    )
    tile = TILES["corner"]
    taken = underside_mark("corner", tile.id, tile.plates).region.area * 0.4
    assert plain - named == pytest.approx(taken, abs=0.02)


def test_a_tile_without_room_is_made_with_a_blank_underside(tmp_path):
    words = ["solid", "floor", "--pitch", "12 mm", "--wall", "2 mm", "--underside", "-o", str(tmp_path / "out"), "-v"]
    done = call(*words)
    assert done.returncode == 0
    assert "there by hand" in done.stdout
    assert (tmp_path / "out/floor/solids/floor.stl").exists()
