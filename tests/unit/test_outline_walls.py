"""Outlines with walls on many edges: openings, short walls, notches, and the same tile described twice."""

import io
import math
import random
from dataclasses import replace

import numpy as np
import pytest
import shapely
import trimesh
from shapely.geometry import Polygon

from tests.footprints import foot_of
from tilegen.files.toml import find, read_model
from tilegen.model.grid import Floor, Grid
from tilegen.model.materials import MaterialFile
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, single_cell
from tilegen.tiles.tile import make_tile


def test_many_walls_stand_on_their_base_with_their_openings(monkeypatch):
    shape = ringed_circle(60)
    ways = ((1, Opening(1.7, 1.5, 20.0)), (20, Opening(1.7, 1.5, 99.0)), (40, Opening(1.7, 2.0, 15.0, "round")))
    tile = make_tile("t", replace(shape, openings=ways), Grid(wall_thickness=4.0))
    mesh = build_mesh("t", tile.plates)
    # Feet on the micrometre grid are not quite as thick everywhere.
    assert mesh.volume == pytest.approx(tile.volume, rel=2e-6)
    with monkeypatch.context() as patch:
        patch.setattr("tilegen.solids.build._MANY_WALLS", 1000)
        # Points lie on a grid of ten nanometres.
        assert mesh.volume == pytest.approx(build_mesh("t", tile.plates).volume, rel=1e-8)
    assert trimesh.Trimesh(mesh.vertices, mesh.triangles).is_watertight
    # Above the floor there is nothing in a way's middle.
    (x, y), (dx, dy) = tile.plates[1].edge[0], tile.plates[1].direction
    west, south, *_ = tile.base.foot.bounds
    o = tile.plates[1].openings[0]
    middle = (x + dx * o.centre + dy * 2 - west, y + dy * o.centre - dx * 2 - south)
    heights = [tile.base.top - 0.1, tile.base.top + 0.1, tile.base.top + 21]
    assert [round(turns_about(mesh, (*middle, z)), 6) for z in heights] == [1, 0, 1]


def turns_about(mesh, point):
    """How often a mesh goes round a point: solid angles of its triangles (van Oosterom and Strackee 1983) over 4 pi."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles] - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    dots = [(v * w).sum(axis=1) for v, w in ((a, b), (b, c), (c, a))]
    above = (a * np.cross(b, c)).sum(axis=1)
    below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return float(2 * np.arctan2(above, below).sum() / (4 * math.pi))


def ringed_circle(corners):
    angles = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    points = tuple((float(40 + 38 * math.cos(a)), float(40 + 38 * math.sin(a))) for a in angles)
    return OutlineShape(points, tuple(range(1, corners + 1)))


def test_a_groove_keeps_off_a_corner_that_it_would_cut_free():
    # The floor's line lies below a notch whose tip touches the groove's upper side.
    grid = Grid(pitch=20.0, joint_play=0.0, floor=Floor(lines=True))
    tip = 20 + grid.floor.groove_width / 2
    shape = OutlineShape(((0, 0), (40, 0), (40, 38), (25, 38), (23, tip), (21, 38), (0, 38)))
    tile = make_tile("t", shape, grid)
    read = trimesh.load_mesh(io.BytesIO(stl_bytes(build_mesh("t", tile.plates))), file_type="stl")
    assert read.is_watertight
    assert read.volume == pytest.approx(tile.volume, rel=1e-5)


def test_walls_beside_a_short_one_fill_its_corner_in_print():
    shape = OutlineShape(((0, 0), (40, 0), (40, 30), (39.9, 30.1), (0, 30.1)), (1, 2, 3, 4, 5))
    grid = Grid(wall_thickness=4.0, floor=Floor(lines=False))
    tile = make_tile("t", shape, grid)
    clear = Polygon(shape.points).buffer(-4, join_style="mitre")
    standing = sum(plate.foot.area for plate in tile.plates[1:])
    assert standing == pytest.approx(tile.base.foot.area - clear.area, abs=0.01)


def test_a_wall_beside_a_notch_stays_on_its_edge():
    shape = OutlineShape(((0, 0), (60, 0), (60, 40), (31, 40), (31, 10), (30, 10), (30, 40), (0, 40)), (4,))
    wall = make_tile("t", shape, Grid(wall_thickness=4.0)).plates[1]
    assert wall.foot.bounds[0] > 30.9


CORNERS = ("butt", "pinwheel", "mitre", "rabbet")


def cut_from(shape, thickness, corners):
    """A tile's flat parts and plates from foam core of some thickness."""
    made = make_tile("t", shape, Grid())
    core = read_model(find("foam-core", "materials"), MaterialFile)
    stock = core.model_copy(update={"thickness": thickness, "skin": round(thickness * 0.15, 2)})
    laid = construction_of(Grid(), stock, ConstructionChoice("stacked", corners)).lay(made)
    return laid.flats, laid.plates, stock


@pytest.mark.parametrize("corners", CORNERS)
@pytest.mark.parametrize("thickness", [4.2, 7.1])
@pytest.mark.parametrize(
    "carries",
    [
        (0, 1, 1, 1),
        (1, 1, 1, 1),
    ],
)
def test_an_outline_round_a_tile_of_the_grid_gives_the_same_parts(corners, thickness, carries):
    """Two descriptions of one geometry: 2 x 3 spaces by their size, and the same as an outline begun anywhere."""
    west, north = 0.0, 3 * Grid().pitch
    east, south = 2 * Grid().pitch, 0.0
    ring = [(west, north), (east, north), (east, south), (west, south)]
    cell = Cell(tuple(WALL if wall else OPEN for wall in carries))

    def listed(shape):
        laid, _, _ = cut_from(shape, thickness, corners)
        sizes = [tuple(round(v, 2) for v in part.flat.outline.bounds[2:]) for part in laid]
        scores = [round(sum(math.dist(*line) for line in part.flat.scores), 2) for part in laid]
        notes = [(part.role, part.layers, part.note) for part in laid]
        return sorted(zip(notes, sizes, scores, strict=True))

    plain = listed(single_cell(cell, (2, 3)))
    for first in range(4):
        numbers = tuple((k - first) % 4 + 1 for k in range(4) if carries[k])
        assert listed(OutlineShape((*ring[first:], *ring[:first]), numbers)) == plain


def rectilinear(seed):
    """A few squares of 31.75 mm side by side: their outline begun anywhere, walls on most of its edges."""
    rng = random.Random(seed)
    squares = {(0, 0)}
    while len(squares) < 1 + seed % 5:
        (x, y), (dx, dy) = rng.choice(sorted(squares)), rng.choice([(1, 0), (0, 1), (-1, 0), (0, -1)])
        squares.add((x + dx, y + dy))
    side = Grid().pitch
    whole = shapely.union_all([shapely.box(x * side, y * side, (x + 1) * side, (y + 1) * side) for x, y in squares])
    ring = [(float(x), float(y)) for x, y in whole.simplify(0).normalize().exterior.coords[:-1]]
    walls = tuple(n for n in range(1, len(ring) + 1) if rng.random() < 0.75)
    return OutlineShape(tuple(ring), walls or (1,))


@pytest.mark.parametrize("corners", CORNERS)
@pytest.mark.parametrize("seed", range(4))
def test_strips_of_rectilinear_outlines_stand_on_the_tile_and_never_in_one_another(corners, seed):
    """Put back where they go, the flat strips lie within the base and share no floor, in stock of any thickness."""
    shape = rectilinear(seed)
    for thickness in (1.5, 7.1):
        laid, (base, *standing), stock = cut_from(shape, thickness, corners)
        strips = [foot_of(part, stock) for part in laid if part.role == "wall"]
        assert len(strips) == sum(plate.role == "wall" for plate in standing)
        on = base.foot.buffer(0.01, join_style="mitre")
        assert all(shapely.covers(on, strip) for strip in strips)
        overlap = math.fsum(strip.area for strip in strips) - shapely.union_all(strips).area
        assert overlap == pytest.approx(0.0, abs=0.05)
