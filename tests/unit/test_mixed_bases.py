"""Bases cut from sheets with printed walls on pegs: what was written goes together in 3D, counts agree."""

import io
import json
import tomllib
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely
import shapely.affinity
import trimesh
from hypothesis import HealthCheck, Phase, given, settings
from manifold3d import Manifold, Mesh64
from shapely.geometry import Polygon

from tests.calling import call
from tests.rereading import read_dxf, rows
from tests.strategies import dressed_tables, outline_tables, profile_tables
from tests.unit.test_hollow_bases import extruded
from tilegen.errors import InputError
from tilegen.files.plans import plan_of
from tilegen.files.profiles import profile_of
from tilegen.files.stock import read_material, read_printer
from tilegen.making.things import print_meshes
from tilegen.model.grid import SetChoices
from tilegen.plans.kit import make_kit
from tilegen.sheets.parts import list_parts
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.tile import Tile
from tilegen.tiles.uprights import holed, printed_things, uprights_of

FDM = read_printer("fdm-220")
FOAM = read_material("foam")


def mixed(tile: Tile) -> Tile:
    return replace(tile, grid=replace(tile.grid, set=SetChoices(base="sheet")))


def stood_up(content: bytes, piece) -> Manifold:
    """A printed piece as it is read, turned back onto its pegs, where it stands on the plan; its feet at z = 0."""
    read = trimesh.load(io.BytesIO(content), file_type="stl")
    assert read.is_watertight
    assert read.body_count == 1
    low, high = min(plate.bottom for plate in piece.plates), max(plate.top for plate in piece.plates)
    west, south, _, north = shapely.union_all([plate.foot for plate in piece.plates]).bounds
    points = np.array(read.vertices, np.float64)
    # Half a turn about a line from west to east.
    points = (
        points * (1.0, -1.0, -1.0) + np.array((west, north, high)) if low < 0 else points + np.array((west, south, 0))
    )
    return Manifold(Mesh64(points, np.asarray(read.faces, np.uint64)))


def cut_base(content: bytes) -> Polygon:
    """The one base on a sheet, its holes in it, from the sheet's own corner."""
    rings = [Polygon(points) for points in read_dxf(content).closed("CUT_OUTER", "CUT_INNER")]
    outer = max(rings, key=lambda ring: ring.area)
    return outer.difference(shapely.union_all([ring for ring in rings if ring is not outer]))


def placed_like(found: Polygon, wanted: Polygon) -> Polygon:
    """A part in that of its turns, of either face, in which it lies as wanted."""
    placings = []
    for turn, side in product(range(4), (1.0, -1.0)):
        moved = shapely.affinity.rotate(shapely.affinity.scale(found, side, 1.0, origin=(0, 0)), 90 * turn, (0, 0))
        shift = np.subtract(wanted.bounds[:2], moved.bounds[:2])
        placings.append(shapely.affinity.translate(moved, *shift))
    return min(placings, key=lambda placing: placing.symmetric_difference(wanted).area)


@pytest.mark.parametrize(
    "text",
    [
        'size = [2, 2]\nwalls = ["north", "west"]',
        'size = [2, 2]\nwalls = ["north", "south"]',
        'size = [1, 1]\nwalls = ["east"]',
        'size = [2, 2]\nwalls = ["north"]\n[[opening]]\nwall = "north"\nkind = "doorway"',
        "outline = [[0,0],[4,0],[4,3.5],[1,3]]\nwalls = [1, 2]",
    ],
)
def test_what_was_written_goes_together(tmp_path, text):
    """Walls of the STL, set onto the base of the DXF: nothing strikes, pegs have the play of the grid."""
    (tmp_path / "t.toml").write_text(f'name = "t"\n[set]\nbase = "sheet"\n[tile]\n{text}\n')
    done = call("tile", tmp_path / "t.toml", "--nominal", "-o", tmp_path / "out", "--json")
    assert done.returncode == 0, done.stderr
    tile = mixed(profile_of({"name": "t", **_tables(text)}))
    base = placed_like(cut_base((tmp_path / "out" / "t" / "sheets" / "foam-01.dxf").read_bytes()), holed(tile)[0].foot)
    assert base.symmetric_difference(holed(tile)[0].foot).area < 0.01
    thick, gap = FOAM.real_thickness, tile.grid.door.gap
    sheet = extruded(base, -thick, 0.0)
    solids = json.loads(done.stdout)["solids"]
    pieces = [piece for piece, _ in uprights_of(tile)]
    assert [solid["name"] for solid in solids] == [piece.name for piece in pieces]
    for piece in pieces:
        walls = stood_up((tmp_path / "out" / "t" / "solids" / f"{piece.name}.stl").read_bytes(), piece)
        assert (walls ^ sheet).volume() < 0.01
        # A hair less play than drawn, and pegs strike the holes' sides.
        pegs = walls.trim_by_plane((0.0, 0.0, -1.0), 0.01)
        assert pegs.volume() > 0
        assert pegs.bounding_box()[2] > -thick
        moved = [(pegs.translate((dx, dy, 0.0)) ^ sheet).volume() for dx, dy in _around(gap - 0.02)]
        assert max(moved) < 0.01
        assert all((pegs.translate((dx, dy, 0.0)) ^ sheet).volume() > 0.01 for dx, dy in _around(gap + 0.05))
        # Above the base it is what the tile has there, within what single precision keeps.
        standing = [plate for plate in tile.plates if plate.role in ("wall", "post")]
        feet = shapely.union_all([p.foot for p in standing]) if len(pieces) == 1 and len(tile.plates) < 3 else None
        cut = shapely.union_all([Polygon(ring) for ring in walls.slice(tile.grid.wall_height - 1.0).to_polygons()])
        assert shapely.union_all([p.foot for p in standing]).buffer(0.1).covers(cut)
        assert feet is None or cut.buffer(0.1).covers(feet)


def _around(far: float):
    return [(far, 0.0), (-far, 0.0), (0.0, far), (0.0, -far)]


def _tables(text: str) -> dict:
    return tomllib.loads(f"[tile]\n{text}")


@pytest.mark.parametrize(("tables", "number"), [(dressed_tables(), 12), (profile_tables(), 8), (outline_tables(), 8)])
def test_whatever_a_tile_is_its_walls_print_and_its_base_has_their_holes(tables, number):
    made = 0

    @settings(max_examples=number, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tables)
    def one(tables):
        nonlocal made
        try:
            tile = mixed(profile_of(tables))
            things = printed_things([(tile, 2)])
            meshes, _ = print_meshes(things, FDM)
            listed = list_parts([(tile, 2)], FOAM)
        except InputError:
            return
        made += 1
        standing = [plate for plate in tile.plates if plate.role in ("wall", "post")]
        assert sum(count for _, count in things) % 2 == 0
        assert bool(things) == bool(standing)
        assert not any(part.role in ("wall", "post") for part in listed.parts)
        for mesh in meshes:
            read = trimesh.load(io.BytesIO(stl_bytes(mesh)), file_type="stl")
            assert read.is_watertight
            assert read.body_count == 1
        holes = shapely.union_all([p.foot for p in tile.plates if p.role == "base"]).difference(
            shapely.union_all([p.foot for p in holed(tile) if p.role == "base"])
        )
        for piece, _ in uprights_of(tile):
            for peg in (plate.foot for plate in piece.plates if plate.bottom < 0):
                assert holes.buffer(-tile.grid.door.gap + 1e-3).covers(peg.buffer(-2e-3))

    one()
    # Which tiles are drawn depends on the modules that are loaded: hypothesis takes numbers from them.
    assert made >= 1


def test_a_mixed_kit_is_one(tmp_path):
    """Each tile's base is cut as often as the kit has it, its walls are printed as often; loose pieces once."""
    done = call("build", "bell-foundry", "--base", "sheet", "-o", tmp_path, "--json", "--only", "corner")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    (kit,) = [tile for tile in said["kit"]["tiles"] if tile["name"] == "corner"]
    assert [solid["name"] for solid in said["solids"]] == ["corner-walls"]
    assert sum(sheet["parts"] for sheet in said["sheets"]) == kit["count"]
    beds = [row for row in rows(tmp_path / "bell-foundry" / "solids" / "beds.csv") if row["part"] == "corner-walls"]
    assert sum(int(row["count"]) for row in beds) == kit["count"]


def test_card_folded_and_thin_bases_are_refused_with_a_cure():
    tile = mixed(profile_of({"name": "t", "tile": {"size": [2, 2], "walls": ["north"]}}))
    with pytest.raises(InputError, match=r"can't take the pegs.*Choose other sheets"):
        list_parts([(tile, 1)], read_material("card"))
    thin = mixed(profile_of({"name": "t", "grid": {"base_depth": 2.0}, "tile": {"size": [2, 2], "walls": ["north"]}}))
    with pytest.raises(InputError, match=r"too thin for them. Make them thicker"):
        printed_things([(thin, 1)])


def test_walls_that_a_doorway_cuts_in_two_are_refused_with_a_cure():
    tables = {"opening": [{"wall": "north", "kind": "doorway", "height": "1.5 in"}]}
    tile = mixed(profile_of({"name": "t", "tile": {"size": [2, 2], "walls": ["north"]}, **tables}))
    with pytest.raises(InputError, match=r"in two.*Make the doorway lower"):
        printed_things([(tile, 1)])


def test_bases_have_the_sockets_of_loose_posts_and_the_holes_of_hinge_pins(tmp_path):
    """Read from the DXF: round holes as wide as a post's peg, or a pin, with its play."""
    (tmp_path / "post.toml").write_text(
        'name = "post"\n[set]\nbase = "sheet"\nposts = "loose"\n[tile]\nsize = [2, 2]\nwalls = ["north"]\n'
    )
    (tmp_path / "hinge.toml").write_text(
        'name = "hinge"\n[set]\nbase = "sheet"\n[tile]\nsize = [2, 2]\nwalls = ["north"]\n'
        '[[opening]]\nwall = "north"\nkind = "doorway"\nleaf = "hinged"\n'
    )
    peg = 3.0 + 2 * 0.2
    for name, wanted in (("post", [peg] * 4), ("hinge", [2.0 + 0.35] + [peg] * 2)):
        done = call("sheet", tmp_path / f"{name}.toml", "--nominal", "-o", tmp_path / "out")
        assert done.returncode == 0, done.stderr
        assert "This is half of the kit: its walls, posts and loose pieces are printed." in done.stderr + done.stdout
        (sheet,) = (tmp_path / "out" / name / "sheets").glob("*.dxf")
        holes = [Polygon(ring) for ring in read_dxf(sheet.read_bytes()).closed("CUT_INNER")]
        widths = sorted(hole.bounds[2] - hole.bounds[0] for hole in holes)
        assert widths == pytest.approx(wanted, abs=0.05)
        assert "its bases are cut from sheets. Make them with tilegen sheet." in (
            call("solid", tmp_path / f"{name}.toml", "-o", tmp_path / "s").stderr
        )


def test_the_order_of_work_is_that_of_a_mixed_kit(tmp_path):
    (tmp_path / "p.toml").write_text('name = "P"\ndrawing = "A A"\n[set]\nbase = "sheet"\n')
    assert call("build", tmp_path / "p.toml", "-o", tmp_path).returncode == 0
    report = (tmp_path / "p" / "report.html").read_text()
    order = [
        "Measure the stock",
        "then the holes",
        "Drill or punch the round holes",
        "press their pegs, dry, into its base",
        "Glue the printed walls into their bases",
    ]
    places = [report.index(words) for words in order]
    assert places == sorted(places)
    assert "Glue the walls: outer walls first" not in report


def test_pegs_of_a_curved_wall_stand_at_its_inner_face():
    """As far in from the edge as those of a straight one, less what facets take: no strip that breaks out."""
    drawing = "B . . .\n. . . .\n. . . ."
    tables = {
        "name": "P",
        "drawing": drawing,
        "shape": [{"room": "A", "circle": {"centre": [2.5, 1.5], "radius": 1.4}}],
    }
    kit = make_kit(plan_of({**tables, "set": {"base": "sheet"}}, "p.toml"))
    curved = [kind.tile for kind in kit.types if any(plate.bend for plate in kind.tile.plates)]
    assert curved
    for tile in curved:
        base = max((plate.foot for plate in holed(tile) if plate.role == "base"), key=lambda foot: foot.area)
        assert base.interiors
        gaps = [base.exterior.distance(hole) for hole in base.interiors]
        assert min(gaps) > 6.35 - 3.4 - 0.15 - 0.25
