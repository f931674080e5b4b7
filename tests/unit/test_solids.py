"""Solids, judged in the file that was written, by readers that are not ours."""

import io
import shutil
import subprocess
import zipfile

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plans import furnished, plan
from tilegen.files.plans import read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.toml import find, shipped
from tilegen.model.grid import DoorwaySize, Floor, Grid
from tilegen.plans.kit import make_kit
from tilegen.solids.beds import Printer, set_out, set_out_all
from tilegen.solids.build import SolidError, build_mesh, build_solid, is_closed
from tilegen.solids.formats import SOLID_FORMATS, Item, Scene
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.tiles.loose import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

PRINTER = Printer(name="p", title="printer", bed=(220.0, 220.0), height=250.0, margin=5.0, spacing=3.0)
PROFILES = sorted(p.stem for p in shipped("profiles").glob("*.toml"))


def shipped_tiles():
    for name in PROFILES:
        yield name, read_profile(find(name, "profiles"))
    for name in ("bell-foundry", "lamp-cellars"):
        kit = make_kit(read_plan(find(name, "plans")))
        yield from ((f"{name}/{t.name}", t.tile) for t in kit.types)
        yield from ((f"{name}/{p.name}", p.piece) for p in kit.pieces)


TILES = dict(shipped_tiles())


def edges_of(triangles):
    """Directed edges of triangles given by vertex index."""
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def check_stl(content, tile):
    """Every rule of the STL text: sizes, header, edges twice and opposite, normals, octant, volume."""
    count = int.from_bytes(content[80:84], "little")
    # 80 B header, uint32 n, n x 50 B (PolyU Industrial Centre, "STL binary format").
    assert len(content) == 84 + 50 * count
    assert not content.startswith(b"solid")
    raw = np.frombuffer(content, np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")]), offset=84)
    corners = raw["v"].astype(float)
    # fabbers.com/tech/STL_Format after 3D Systems, StereoLithography Interface Specification, 1989:
    # corners counter-clockwise seen from outside, agreeing with the normal; all in the positive octant.
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (np.einsum("ij,ij->i", normals, raw["n"]) > 0).all(), "a degenerate triangle or a normal that disagrees"
    assert corners.min() == 0.0
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    directed = edges_of(index.reshape(-1, 3))
    forward = {tuple(e) for e in directed.tolist()}
    assert len(forward) == len(directed), "an edge used twice in one direction"
    assert forward == {(b, a) for a, b in forward}, "an edge without its opposite"
    # Loaded without repair, then welded on purpose.
    mesh = trimesh.load(io.BytesIO(content), file_type="stl", process=False)
    mesh.merge_vertices()
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(tile.volume, rel=1e-6)
    assert len(mesh.split(only_watertight=False)) == 1
    return mesh


def test_every_shipped_tile_is_one_closed_solid_of_the_right_volume():
    for name in list(TILES):
        tile = TILES[name]
        mesh = build_mesh("t", tile.plates)
        assert mesh.volume == pytest.approx(tile.volume, rel=1e-9)
        check_stl(stl_bytes(mesh), tile)


@pytest.mark.parametrize(
    "row", [row for row in SOLID_FORMATS.values() if row.holds == "tile"], ids=lambda row: row.word
)
@pytest.mark.parametrize("name", ["corner", "door", "custom-outline", "bell-foundry/saddle-door"])
def test_every_format_of_tiles_holds_the_same_closed_solid(name, row):
    """Read by trimesh without repair, then welded by position; OBJ counts its vertices from 1 and knows no unit."""
    made = build_mesh(name, TILES[name].plates)
    content = row.writer.write(Scene([made]))
    mesh = trimesh.load(io.BytesIO(content), file_type=row.word, process=False, force="mesh")
    mesh.merge_vertices()
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(TILES[name].volume, rel=1e-6)
    assert mesh.bounds.ravel() == pytest.approx([0, 0, 0, *made.size], abs=1e-4)


def test_a_file_that_rounds_vertices_together_is_not_closed():
    mesh = build_mesh("t", TILES["floor"].plates)
    assert all(is_closed(row.writer.kept(mesh), mesh.triangles) for row in SOLID_FORMATS.values())
    flat = mesh.vertices * (1.0, 1.0, 0.0)
    assert not is_closed(flat, mesh.triangles)
    assert not is_closed(mesh.vertices, mesh.triangles[1:])
    assert not is_closed(mesh.vertices, mesh.triangles[:, ::-1])


def test_an_obj_with_several_meshes_counts_on():
    meshes = [build_mesh(name, TILES[name].plates) for name in ("floor", "corner")]
    lines = SOLID_FORMATS["obj"].writer.write(Scene(meshes)).decode().splitlines()
    faces = [int(n) for line in lines if line.startswith("f ") for n in line.split()[1:]]
    assert (min(faces), max(faces)) == (1, sum(len(mesh.vertices) for mesh in meshes))
    assert [line for line in lines if line.startswith("o ")] == ["o floor", "o corner"]


def test_euler_characteristic():
    """V - E + F = 2 - 2g (Poincare's formula): 0 for a bare tile, 1 for each doorway."""
    door = Side("doorway", make_opening(63.5, Grid()))
    for sides, genus in [
        ((OPEN,) * 4, 0),
        ((WALL,) * 4, 0),
        ((door, OPEN, OPEN, OPEN), 1),
        ((door, WALL, door, OPEN), 2),
    ]:
        tile = make_tile("t", single_cell(Cell(sides), (2, 2)), Grid())
        mesh = check_stl(stl_bytes(build_mesh("t", tile.plates)), tile)
        assert mesh.euler_number == 2 - 2 * genus


def test_an_open_topped_doorway_is_no_handle():
    grid = Grid(doorway=DoorwaySize(height=38.1))
    door = Side("doorway", make_opening(63.5, grid))
    tile = make_tile("t", single_cell(Cell((door, OPEN, OPEN, OPEN)), (2, 2)), grid)
    assert check_stl(stl_bytes(build_mesh("t", tile.plates)), tile).euler_number == 2


def test_a_round_head_takes_out_what_its_polygon_does():
    grid = Grid(doorway=DoorwaySize(head="round"))
    door = Side("doorway", make_opening(63.5, grid))
    tile = make_tile("t", single_cell(Cell((door, OPEN, OPEN, OPEN)), (2, 2)), grid)
    check_stl(stl_bytes(build_mesh("t", tile.plates)), tile)
    exact = 27.94 * (30.48 - 27.94 / 2) + np.pi * (27.94 / 2) ** 2 / 2
    assert door.opening.region().area == pytest.approx(exact, rel=3e-3)


@pytest.mark.parametrize(
    "name",
    [
        "door",
        "custom-outline",
    ],
)
@pytest.mark.skipif(shutil.which("admesh") is None, reason="admesh is not installed")
def test_admesh_finds_nothing_to_repair(name, tmp_path):
    path = tmp_path / "t.stl"
    path.write_bytes(stl_bytes(build_mesh("t", TILES[name].plates)))
    text = subprocess.run(["admesh", str(path)], capture_output=True, text=True, errors="replace", check=True).stdout
    # admesh repairs by default: the first column of numbers is before that.
    for line in (
        "Facets with 1 disconnected edge",
        "Facets with 2 disconnected edges",
        "Facets with 3 disconnected edges",
        "Total disconnected facets",
    ):
        found = next(row for row in text.splitlines() if row.startswith(line))
        assert found.split(":")[1].split()[0] == "0", text
    for line in (
        "Degenerate facets",
        "Edges fixed",
        "Facets removed",
        "Facets added",
        "Facets reversed",
        "Backwards edges",
        "Normals fixed",
    ):
        assert f"{line}" in text
        after = text.split(line)[1].split(":")[1].split()[0]
        assert after == "0", f"{line}: {after}"


@settings(max_examples=20, deadline=None)
@given(
    furnished(),
    st.sampled_from(
        [
            Grid(),
            Grid(wall_thickness=4.7625, joint_play=0.0),
            Grid(pitch=25.4, wall_thickness=3.0, joint_play=0.2),
            Grid(floor=Floor(groove_width=2.0, groove_depth=1.1)),
        ]
    ),
    st.sampled_from(["10 ft", "5 ft"]),
)
def test_every_tile_of_any_plan_is_closed(made, grid, scale):
    rows, ways, walls = made
    for t in make_kit(plan(rows, ways, walls, grid=grid, scale=scale)).types:
        mesh = build_mesh(t.name, t.tile.plates)
        assert mesh.volume == pytest.approx(t.tile.volume, rel=1e-9)
        check_stl(stl_bytes(mesh), t.tile)


def test_plates_touch_but_never_overlap():
    for name, tile in TILES.items():
        standing = [p for p in tile.plates if p.edge is not None and p.role != "door"]
        for i, a in enumerate(standing):
            for b in standing[i + 1 :]:
                assert a.foot.intersection(b.foot).area < 1e-6, (name, a.name, b.name)


def read_3mf(content):
    import lib3mf

    wrapper = lib3mf.get_wrapper() if hasattr(lib3mf, "get_wrapper") else lib3mf.Wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(bytearray(content))
    assert reader.GetWarningCount() == 0
    return model


def test_3mf_by_lib3mf():
    """3MF Core Specification, sections 3.4 and 4.1: unit, edges shared by two, orientation; read in strict mode."""
    import lib3mf

    names = ["floor", "corner", "door", "custom-outline"]
    meshes = [build_mesh(name, TILES[name].plates) for name in names]
    items = set_out_all([(m, 2) for m in meshes], 3.0)
    model = read_3mf(threemf_bytes(meshes, items))
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects = model.GetMeshObjects()
    found = {}
    while objects.MoveNext():
        mesh = objects.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented()
        assert mesh.IsValid()
        found[mesh.GetName()] = mesh.GetTriangleCount()
    assert found == {m.name: len(m.triangles) for m in meshes}
    built = model.GetBuildItems()
    assert built.Count() == 8


def test_3mf_by_trimesh_has_the_volume():
    mesh = build_mesh("door", TILES["door"].plates)
    scene = trimesh.load_scene(
        io.BytesIO(threemf_bytes([mesh], [Item("door", 5, 5), Item("door", 100, 5, True)])),
        file_type="3mf",
        process=False,
    )
    assert scene.units in ("millimeter", "mm")
    assert sum(g.volume for g in scene.dump()) == pytest.approx(2 * TILES["door"].volume, rel=1e-6)
    assert scene.bounds[0].tolist() == pytest.approx([5, 5, 0])


def test_3mf_package_parts():
    """Content types and start part as Appendix C of the core specification has them."""
    mesh = build_mesh("floor", TILES["floor"].plates)
    content = threemf_bytes([mesh], [Item("floor", 0, 0)])
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        assert package.namelist()[0] == "[Content_Types].xml"
        assert b"application/vnd.ms-package.3dmanufacturing-3dmodel+xml" in package.read("[Content_Types].xml")
        assert b'unit="millimeter"' in package.read("3D/3dmodel.model")
    assert content == threemf_bytes([mesh], [Item("floor", 0, 0)])


def boxes(meshes, items):
    by_name = {m.name: m for m in meshes}
    for item in items:
        x, y, _ = by_name[item.name].size
        width, depth = (y, x) if item.turns % 2 else (x, y)
        yield item.x, item.y, item.x + width, item.y + depth


def test_beds_hold_every_copy_apart_and_inside():
    meshes = [build_mesh(name, tile.plates) for name, tile in TILES.items() if "/" in name]
    copies = [(mesh, 1 + i % 5) for i, mesh in enumerate(meshes)]
    beds = set_out(copies, PRINTER)
    placed = [item.name for bed in beds for item in bed]
    assert sorted(placed) == sorted(m.name for m, n in copies for _ in range(n))
    for bed in beds:
        found = list(boxes(meshes, bed))
        for i, (a, b, c, d) in enumerate(found):
            assert min(a, b) >= 5 - 1e-9
            assert max(c, d) <= 215 + 1e-9
            for e, f, g, h in found[:i]:
                assert a >= g + 3 - 1e-9 or e >= c + 3 - 1e-9 or b >= h + 3 - 1e-9 or f >= d + 3 - 1e-9


def test_equal_squares_fill_the_plain_lattice():
    mesh = build_mesh("floor", TILES["floor"].plates)
    across = int((220 - 10 + 3) // (63.2 + 3))
    assert len(set_out([(mesh, across * across * 2)], PRINTER)) == 2
    assert len(set_out([(mesh, across * across * 2 + 1)], PRINTER)) == 3


def test_a_part_larger_than_the_bed_is_refused():
    mesh = build_mesh("custom", TILES["custom-outline"].plates)
    with pytest.raises(Exception, match="part custom is 158"):
        set_out([(mesh, 1)], Printer(name="small", title="small printer", bed=(100.0, 100.0), height=50.0))


def test_plates_that_do_not_touch_are_refused():
    """A planted fault: two bodies where one is meant."""
    tile = TILES["floor"]
    far = make_saddle_door("s", Grid(), 63.5, make_opening(63.5, Grid()))
    moved = [p.__class__(p.name, p.role, p.foot, 100.0, 120.0, p.edge) for p in far.plates]
    where = (
        r"two: found 2 bodies, .* a loose part of .* at \(.*\) mm from the lower south-west corner, at .*; .* Change "
    )
    with pytest.raises(SolidError, match=where):
        build_solid("two", [*tile.plates, *moved])


def test_equal_input_gives_equal_bytes():
    for tile in (TILES["door"], TILES["custom-outline"]):
        first = stl_bytes(build_mesh("t", tile.plates))
        assert stl_bytes(build_mesh("t", tile.plates)) == first


CORNERS = [(0.0, 0.0), (80.0, -10.0), (120.0, 60.0), (60.0, 50.0), (10.0, 90.0)]


def test_outlines_either_way_round():
    for points in [CORNERS, CORNERS[::-1]]:
        for walls in [(1,), (2, 3), (1, 3, 5)]:
            tile = make_tile("t", OutlineShape(tuple(points), walls), Grid())
            mesh = build_mesh("t", tile.plates)
            assert mesh.volume == pytest.approx(tile.volume, rel=1e-9)
            check_stl(stl_bytes(mesh), tile)
            for wall in tile.plates[1:]:
                assert wall.thickness == pytest.approx(6.2, abs=2e-3)
