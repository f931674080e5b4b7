"""Raised floors: the stones stand out by what they say, the joints are the plain base, walls are as they were."""

import io
from dataclasses import replace

import numpy as np
import pytest
import shapely
import trimesh

from tests.unit.test_surfaces import (
    DOOR,
    GRID,
    LOOKS,
    check,
    plan_kit,
    random_shape,
    surfaced,
)
from tilegen.errors import InputError
from tilegen.files.stock import read_printer
from tilegen.files.toml import find, read_model
from tilegen.making.things import relief_notes
from tilegen.model.connectors import Connectors
from tilegen.model.materials import MaterialFile
from tilegen.model.surface import FLOOR_PATTERNS
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.printing import snapped
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, single_cell
from tilegen.tiles.tile import make_tile

SIX_SIDED = OutlineShape(((0, 0), (50, -12), (95, 20), (88, 70), (40, 92), (-8, 55)), (2, 3))
CORNER = single_cell(Cell((DOOR, OPEN, OPEN, WALL), (False, True, False, False)), (2, 2))


def filled(region):
    """The parts of a region without their holes."""
    return [shapely.Polygon(part.exterior) for part in shapely.get_parts(region)]


def raised(floor, walls="none", **more):
    return surfaced(floor, walls, relief="raised", **more)


@pytest.mark.parametrize(("floor", "walls"), LOOKS)
def test_random_tiles_are_closed_and_of_the_volume_said(floor, walls):
    random = np.random.Generator(np.random.PCG64(7 + FLOOR_PATTERNS.index(floor)))
    for shape in (random_shape(random), SIX_SIDED):
        tile = make_tile("t", shape, raised(floor, walls, seed=int(random.integers(99))))
        mesh = check(tile)
        (mark,) = tile.base.marks
        assert mark.depth == -0.6
        plain = tile.base.foot.area * GRID.base_depth
        assert tile.base.volume == pytest.approx(plain + 0.6 * mark.region.area, abs=1e-9)
        least, highest = mesh.vertices.min(axis=0)[2], mesh.vertices.max(axis=0)[2]
        walled = len(tile.plates) > 1
        assert highest - least == pytest.approx(GRID.base_depth + (GRID.wall_height if walled else 0.6), abs=1e-9)


def test_the_written_file_has_the_stones_on_top():
    """Cut through the file just above the base: what is found there is the stones, and above them nothing."""
    for floor in FLOOR_PATTERNS[1:]:
        tile = make_tile("t", single_cell(Cell(), (2, 2)), raised(floor))
        read = trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", tile.plates))), file_type="stl")
        (mark,) = tile.base.marks
        cut = trimesh.intersections.mesh_plane(read, (0, 0, 1), (0, 0, GRID.base_depth + 0.3))[:, :, :2]
        found = shapely.polygonize(shapely.linestrings(cut.round(4)))
        assert shapely.union_all(found).area == pytest.approx(shapely.union_all(filled(mark.region)).area, rel=1e-4)
        assert len(found.geoms) == sum(1 + len(p.interiors) for p in shapely.get_parts(mark.region))
        assert read.extents[2] == pytest.approx(GRID.base_depth + 0.6, abs=1e-5)


def test_stones_are_where_sunk_ones_are():
    for floor, walls in LOOKS:
        sunk, stood = (make_tile("t", CORNER, surfaced(floor, walls, relief=r)) for r in ("sunk", "raised"))
        (joints,), (stones,) = sunk.base.marks, stood.base.marks
        assert joints.region.intersection(stones.region).area < 0.01
        # Only what is too narrow to print is neither; joints and stones fill the face.
        left = stones.face.difference(shapely.union_all([joints.region, stones.region]))
        assert left.area < 0.01 * stones.face.area
        walls_ = shapely.union_all([p.foot for p in stood.plates[1:]])
        assert stones.region.distance(walls_) >= GRID.surface.margin - 0.002
        assert stones.region.distance(stood.base.foot.exterior) >= GRID.surface.margin - 0.002
        narrow = stones.region.difference(stones.region.buffer(-0.28).buffer(0.42, join_style="mitre"))
        assert narrow.area < 0.3
        # Walls are the same plates, marks and all, so that halls stay as wide.
        assert [(p.foot, [m.depth for m in p.marks]) for p in sunk.plates[1:]] == [
            (p.foot, [m.depth for m in p.marks]) for p in stood.plates[1:]
        ]
        assert all(m.depth > 0 for p in stood.plates[1:] for m in p.marks)
        assert sunk.id != stood.id


@pytest.mark.parametrize(("floor", "walls"), LOOKS[::3])
def test_quarter_turns_are_one_type(floor, walls):
    tiles = [make_tile("t", turn, raised(floor, walls)) for turn in CORNER.turns]
    assert len({tile.id for tile in tiles}) == 1
    assert len({round(tile.volume, 6) for tile in tiles}) == 1
    check(tiles[1])


def test_stones_run_out_to_the_seams(tmp_path):
    """A continuous floor: stones that a seam cuts end on both tiles' edges, and every tile is closed."""
    _, kit = plan_kit(tmp_path, "cobbles", continuous=True, lines=True, rooms='relief = "raised"')
    for t in kit.types[:3]:
        check(t.tile)
    _, free = plan_kit(tmp_path, "cobbles", continuous=True, lines=False, rooms='relief = "raised"')
    reaching = [t for t in free.types if t.tile.base.marks[0].region.distance(t.tile.base.foot.exterior) == 0.0]
    assert len(reaching) >= 8
    for t in reaching[:4]:
        check(t.tile)


def test_with_magnets_below():
    grid = replace(raised("cobbles"), connectors=Connectors(kind="magnets", magnet_place="below"))
    tile = make_tile("t", single_cell(Cell(), (2, 2)), grid)
    assert {m.on for m in tile.base.marks} == {"under", "top"}
    check(tile)


def test_on_whole_layers():
    printer = read_printer("fdm-220, snap_heights=true")
    tile = make_tile("t", CORNER, raised("planks", groove_depth=0.65))
    base, *_ = snapped(tile.plates, printer.layers)
    (mark,) = base.marks
    assert mark.depth < 0
    assert (-mark.depth / printer.layers.height) == pytest.approx(round(-mark.depth / printer.layers.height))


def test_sheets_score_the_same_lines():
    material = read_model(find("foam", "materials"), MaterialFile)

    def scores(relief):
        tile = make_tile("t", CORNER, surfaced("flagstones", "ashlar", relief=relief))
        return [part.flat.scores for part in list_parts([(tile, 1)], material).parts]

    assert scores("raised") == scores("sunk")
    assert any(scores("raised"))


def test_what_it_takes_is_said():
    (note,) = relief_notes([(make_tile("t", CORNER, raised("planks")), 1)])
    assert "0.6 mm" in note.words
    assert "doorways are that much lower" in note.words
    assert not relief_notes([(make_tile("t", CORNER, surfaced("planks")), 1)])
    assert not relief_notes([(make_tile("t", CORNER, raised("none", "brick")), 1)])


def test_a_hinged_leaf_would_catch():
    make_opening(GRID.tile_side, surfaced("planks"), leaf="hinged")
    with pytest.raises(InputError, match="a hinged leaf can't turn over a floor"):
        make_opening(GRID.tile_side, raised("planks"), leaf="hinged")
