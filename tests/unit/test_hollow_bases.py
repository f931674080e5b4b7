"""Bases hollow from below: closed, of the same outside, every pocket roofed, bridged and walled; lighter."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from shapely.geometry import LineString, box

from tests.calling import call
from tests.strategies import dressed_tables, outline_tables, profile_tables
from tilegen.errors import InputError
from tilegen.files.profiles import profile_of
from tilegen.files.stock import read_printer
from tilegen.geometry import oriented_rings, polygons_of
from tilegen.making.things import print_meshes
from tilegen.model.grid import SetChoices
from tilegen.solids.build import Mesh, SolidError, at, build_solid, prism
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.hollow import pockets_below
from tilegen.solids.printing import plates_to_print
from tilegen.solids.processes import estimate_part
from tilegen.tiles.tile import Tile

FDM = read_printer("fdm-220")
# A chamfer changes the outside only; heights on layers move the pockets' tops.
PRINTERS = ("fdm-220", "fdm-220, bottom_chamfer=0.4", "fdm-220, snap_heights=true", "resin-190")


def hollow(tile: Tile) -> Tile:
    return replace(tile, grid=replace(tile.grid, set=SetChoices(base="hollow")))


def made(tile: Tile, printer=FDM, *, underside: bool = False) -> Mesh:
    return print_meshes([(tile, 1)], printer, underside=underside)[0][0]


def as_read(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.load(io.BytesIO(stl_bytes(mesh)), file_type="stl")


def extruded(region, low: float, high: float) -> Manifold:
    rings = oriented_rings(region)
    flat = np.concatenate(rings)
    return prism(rings, at(flat, low), at(flat, high))


def outside(region, solid: Manifold, low: float, high: float) -> float:
    """How much of a region between two heights is not in a solid, mm3."""
    return (extruded(region, low, high) - solid).volume()


def tile_of(size=(2, 2), walls=(), **tables) -> Tile:
    return profile_of({"name": "t", "tile": {"size": list(size), "walls": list(walls)}, **tables})


# Which examples are drawn depends on what else is imported: outlines, few of which are large enough, had 2 or 3.
@pytest.mark.parametrize(
    ("tables", "number", "fewest"), [(dressed_tables(), 25, 3), (profile_tables(), 20, 3), (outline_tables(), 15, 1)]
)
def test_whatever_a_tile_is_its_pockets_leave_it_whole(tables, number, fewest):
    hollowed = 0

    @settings(max_examples=number, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tables, st.sampled_from(PRINTERS), st.booleans())
    def one(tables, word, underside):
        nonlocal hollowed
        printer = read_printer(word)
        try:
            tile = profile_of(tables)
            full = made(tile, printer, underside=underside)
        except (InputError, SolidError):
            return
        light, read = made(hollow(tile), printer, underside=underside), None
        assert light.size == pytest.approx(full.size, abs=1e-9)
        plates = plates_to_print(tile, printer)
        marks = pockets_below(plates, tile.grid, printer).marks
        if light.volume == full.volume:
            return
        hollowed += 1
        read = as_read(light)
        assert read.is_watertight
        assert read.is_winding_consistent
        assert read.body_count == 1
        # Nothing but a part of the base's inside is gone.
        assert full.volume > light.volume > 0
        assert estimate_part(light, printer).grams < estimate_part(full, printer).grams
        solid, least = build_solid("t", plates), printer.walls.least
        ways = 0.0, 90.0
        for mark in marks:
            high = mark.depth
            assert outside(mark.region, solid, 0.0, high + least - 1e-6) < 1e-3, "a floor over a pocket is thin"
            walls = mark.region.buffer(least / 2 - 1e-3, join_style="mitre")
            assert outside(walls, solid, 0.0, high) < 1e-3, "a wall round a pocket is thin"
            feet = [p.foot for p in plates if p.role != "base"]
            assert mark.region.intersection(shapely.union_all(feet)).area < 1e-6
            assert all(
                min(_longest(pocket, way) for way in ways) <= min(printer.walls.bridge, tile.grid.pitch) + 1e-3
                for pocket in polygons_of(mark.region)
            ), "a pocket is too wide to be bridged"

    one()
    assert hollowed >= fewest


def _longest(pocket, way: float) -> float:
    """The longest line in a pocket along x (0) or y (90)."""
    west, south, east, north = pocket.bounds
    if way:
        lines = [LineString([(x, south - 1), (x, north + 1)]) for x in np.linspace(west, east, 41)]
    else:
        lines = [LineString([(west - 1, y), (east + 1, y)]) for y in np.linspace(south, north, 41)]
    return max(part.length for line in lines for part in shapely.get_parts(pocket.intersection(line)))


# Roark's Formulas for Stress and Strain, 7th edition, table 11.4, case 1b: a rectangular plate on four simple supports,
# loaded over a small circle at its middle; beta and alpha by long over short side, Poisson's ratio 0.3 (from memory).
BETA = [(1.0, 0.435), (1.2, 0.650), (1.4, 0.789), (1.6, 0.875), (1.8, 0.927), (2.0, 0.958), (math.inf, 1.0)]
ALPHA = [(1.0, 0.1267), (1.2, 0.1478), (1.4, 0.1621), (1.6, 0.1715), (1.8, 0.1770), (2.0, 0.1805), (math.inf, 0.1851)]
# Printed PLA in the plane of its layers: 45 to 60 MPa in makers' data sheets, E 2.3 to 3.5 GPa; taken with care (from
# memory).
STRENGTH, STIFFNESS = 30.0, 2300.0


def stress_and_sag(sides: tuple[float, float], thick: float, load: float) -> tuple[float, float]:
    """MPa and mm, on the safe side: the next larger ratio in the tables, edges that give no moment."""
    short, long = sorted(sides)
    beta, alpha = (next(v for ratio, v in rows if long / short <= ratio) for rows in (BETA, ALPHA))
    # The load's radius is at least 0.325 t, however small the circle is.
    stress = 3 * load / (2 * math.pi * thick**2) * (1.3 * math.log(2 * short / (math.pi * 0.325 * thick)) + beta)
    return stress, alpha * load * short**2 / (STIFFNESS * thick**3)


def test_the_plate_formula_gives_a_plate_of_steel_its_known_sag():
    """Timoshenko, Theory of Plates and Shells, article 34: w = 0.01160 P a2 / D at the middle of a square."""
    rigidity = STIFFNESS * 2.0**3 / (12 * (1 - 0.3**2))
    assert stress_and_sag((100, 100), 2.0, 7.0)[1] == pytest.approx(0.01160 * 7.0 * 100**2 / rigidity, rel=1e-3)


@pytest.mark.parametrize("size", [(2, 2), (1, 1), (1, 2), (4, 4)])
@pytest.mark.parametrize("surface", [{}, {"floor": "flagstones"}])
def test_a_hollow_base_bears_5_newtons_anywhere_between_its_ribs(size, surface):
    tile = tile_of(size, surface=surface)
    plates = plates_to_print(tile, FDM)
    (mark,) = pockets_below(plates, tile.grid, FDM).marks
    joints = max((m.depth for m in plates[0].marks if m.on == "top"), default=0.0)
    roof = plates[0].height - mark.depth
    for pocket in polygons_of(mark.region):
        west, south, east, north = pocket.bounds
        # As thin everywhere as under a joint of the floor.
        assert stress_and_sag((east - west, north - south), roof - joints, 5.0)[0] < STRENGTH
        assert stress_and_sag((east - west, north - south), roof, 5.0)[1] < 0.2


def test_what_pockets_look_like():
    """A floor of 2 x 2 spaces: a rim, one rib under its middle line; the walls of a corner stand on solid ground."""
    tile = tile_of()
    (mark,) = pockets_below(tile.plates, tile.grid, FDM).marks
    sturdy, half = FDM.walls.sturdy, (63.2 - 3 * FDM.walls.sturdy) / 2
    assert mark.depth == pytest.approx(6.35 - 0.6 - 0.8)
    assert [p.area for p in polygons_of(mark.region)] == pytest.approx([half * (63.2 - 2 * sturdy)] * 2, abs=0.1)
    corner = tile_of(walls=("north", "west"))
    (mark,) = pockets_below(corner.plates, corner.grid, FDM).marks
    clear = box(0.15 + sturdy, 0.15 + sturdy, 63.35 - sturdy, 63.35 - sturdy).difference(box(0, 0, 6.35, 63.5))
    assert mark.region.difference(clear.difference(box(0, 57.15, 63.5, 63.5))).area < 0.1


def test_pockets_keep_clear_of_a_pit():
    tile = tile_of((2, 2), feature=[{"kind": "pit", "at": [0.5, 0.5], "size": "12 mm"}])
    (mark,) = pockets_below(tile.plates, tile.grid, FDM).marks
    assert mark.region.distance(box(15.875 - 6, 47.625 - 6, 15.875 + 6, 47.625 + 6)) >= FDM.walls.sturdy - 1e-6


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[grid]\nbase_depth = 2.0\n[tile]\nsize = [2, 2]", "Every base stays full: in bases 2 mm deep"),
        ("[tile]\nsize = [2, 2]", "a floor 1.4 mm thick over pockets up to 31.75 mm wide, rim and ribs 1.67 mm thick"),
    ],
)
def test_what_is_said_of_hollow_bases(tmp_path, text, said):
    (tmp_path / "t.toml").write_text(f'name = "t"\n{text}\n[set]\nbase = "hollow"\n')
    done = call("solid", tmp_path / "t.toml", "-o", tmp_path / "out", "--verbose")
    assert done.returncode == 0
    assert said in " ".join((done.stdout + done.stderr).split())


def test_an_id_is_that_of_the_same_tile_with_a_full_base():
    tile = tile_of(walls=("north",))
    assert hollow(tile).id == tile.id
