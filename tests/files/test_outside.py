"""Solids against what others say of them: Euler and Poincare, admesh, a slicer, STL against 3MF."""

import io
import math
import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
import trimesh
from shapely.geometry import Polygon, box

from tests.unit.test_gauge_print import admesh_counts
from tests.unit.test_solids import TILES, read_3mf
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_printer
from tilegen.files.toml import find, shipped
from tilegen.geometry import direction_of
from tilegen.making.things import print_meshes
from tilegen.model.grid import Grid, Over, SetChoices
from tilegen.solids.build import build_mesh
from tilegen.solids.formats import Item
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.solids.gauge import gauge_pieces, lay_on_bed
from tilegen.solids.printing import as_printed
from tilegen.solids.processes import estimate_part
from tilegen.tiles.lettering import underside_mark
from tilegen.tiles.plate import Plate

FDM = read_printer("fdm-220")
PIECES = {piece.name: piece.plates for piece in gauge_pieces(FDM)}
STYLES = sorted(path.stem for path in shipped("styles").glob("*.toml"))
NAMED = {name: tile for name, tile in TILES.items() if tile.plates[0].role == "base"}


def carved_plates(name, style):
    return read_profile(find(name, "profiles"), Over(tables={"surface": {"style": style}})).plates


def engraved_mesh(name):
    tile = NAMED[name]
    return as_printed("t", tile.plates, FDM, [underside_mark(tile.name, tile.id, tile.plates)])[0]


MAKERS = {
    **{name: lambda name=name: build_mesh("t", TILES[name].plates) for name in TILES},
    **{
        f"named {name}": lambda name=name: engraved_mesh(name)
        for name in ("corner", "custom-outline", "lamp-cellars/half-end")
    },
    **{f"gauge {name}": lambda name=name: build_mesh("t", PIECES[name]) for name in PIECES},
    **{
        f"{name} in {style}": lambda name=name, style=style: build_mesh("t", carved_plates(name, style))
        for style in STYLES
        for name in ("corner", "door", "custom-outline")
    },
}


@cache
def solid(name):
    return MAKERS[name]()


def ways_through(tile):
    """Doorways that go through a wall standing on a base and have a strip over them; those back to back are one."""
    feet = []
    for plate in tile.plates:
        if plate.edge is None or plate.bottom <= 0:
            continue
        (x, y), (dx, dy) = plate.edge[0], direction_of(plate.edge)
        for opening in plate.openings:
            if opening.height < plate.height:
                ends = opening.centre - opening.width / 2, opening.centre + opening.width / 2
                places = [(s, d) for s in ends for d in (-0.01, plate.thickness + 0.01)]
                feet.append(
                    shapely.convex_hull(
                        shapely.MultiPoint([(x + dx * s + dy * d, y + dy * s - dx * d) for s, d in places])
                    )
                )
    joined = shapely.union_all(feet)
    return len(getattr(joined, "geoms", [joined])) if feet else 0


def test_euler_characteristic_counts_the_doorways():
    """V - E + F = 2 - 2g (Poincare's formula, MathWorld), with g counted from the openings of the plates."""
    for name in list(TILES):
        mesh = trimesh.load(io.BytesIO(stl_bytes(solid(name))), file_type="stl")
        assert mesh.euler_number == 2 - 2 * ways_through(TILES[name])


def test_the_count_of_doorways_can_fail():
    assert {ways_through(tile) for tile in TILES.values()} == {0, 1}
    door = trimesh.load(io.BytesIO(stl_bytes(solid("door"))), file_type="stl")
    assert door.euler_number != 2


def drilled_box():
    """25.4 x 25.4 x 10 mm with a hole of a 64-gon on a circle of radius 3 mm."""
    centre = 12.7
    ring = [(centre + 3 * math.cos(math.tau * k / 64), centre + 3 * math.sin(math.tau * k / 64)) for k in range(64)]
    return build_mesh("drilled", [Plate("b", "base", Polygon(box(0, 0, 25.4, 25.4).exterior, [ring]), 0.0, 10.0)])


def test_a_drilled_box_has_the_volume_that_others_give(tmp_path):
    """6169.310636 mm3 by hand, 10 (25.4^2 - 32 r^2 sin(2 pi / 64)); admesh in float32 on another tool's STL: .310547."""
    mesh = drilled_box()
    assert mesh.volume == pytest.approx(6169.310636, abs=1e-6)
    assert mesh.volume == pytest.approx(10 * (25.4**2 - 32 * 9 * math.sin(math.tau / 64)), abs=1e-9)
    content = stl_bytes(mesh)
    read = trimesh.load(io.BytesIO(content), file_type="stl")
    assert read.volume == pytest.approx(6169.310636, abs=1e-3)
    assert read.euler_number == 0
    if shutil.which("admesh"):
        path = tmp_path / "drilled.stl"
        path.write_bytes(content)
        text = subprocess.run(["admesh", path], capture_output=True, text=True, errors="replace", check=True).stdout
        assert float(re.search(r"Volume +: *([\d.]+)", text)[1]) == pytest.approx(6169.3105, abs=2e-3)


@pytest.mark.skipif(shutil.which("admesh") is None, reason="admesh is not installed")
def test_admesh_repairs_nothing_on_any_kind_of_solid(tmp_path):
    path = tmp_path / "t.stl"
    for name, mesh in ((name, solid(name)) for name in MAKERS):
        path.write_bytes(stl_bytes(mesh))
        counts = admesh_counts(path)
        assert counts.pop("Number of parts") == 1, name
        assert len(counts) > 8
        # What direction a sliver has is a matter of the last bit: products of sides are rounded to 6e-8, and a normal
        # counts as another one from 1e-3 on.
        a, b, c = np.swapaxes(mesh.vertices[mesh.triangles], 0, 1)
        longest = np.max([np.linalg.norm(v, axis=1) for v in (b - a, c - b, a - c)], axis=0)
        slivers = int((np.linalg.norm(np.cross(b - a, c - a), axis=1) < 1e-4 * longest**2).sum())
        assert counts.pop("Normals fixed") <= slivers, name
        assert not any(counts.values()), (name, counts)


@pytest.mark.skipif(shutil.which("admesh") is None, reason="admesh is not installed")
def test_admesh_does_find_a_planted_fault(tmp_path):
    content = bytearray(stl_bytes(solid("floor")))
    content[80:84] = (int.from_bytes(content[80:84], "little") - 1).to_bytes(4, "little")
    path = tmp_path / "hole.stl"
    path.write_bytes(content[:-50])
    assert any(value for name, value in admesh_counts(path).items() if name != "Number of parts")


def test_stl_and_3mf_are_the_same_mesh():
    """Read back by trimesh and by lib3mf: the same triangles in the same order, to the last bit of a float32."""
    names = ["floor", "door", "custom-outline", "named corner", "gauge fit-plate"]
    meshes = [solid(name).__class__(name, *_parts(solid(name))) for name in names]
    content = threemf_bytes(meshes, [Item(name, 0.0, 0.0) for name in names])
    objects = read_3mf(content).GetMeshObjects()
    while objects.MoveNext():
        found = objects.GetCurrentMeshObject()
        mesh = next(m for m in meshes if m.name == found.GetName())
        points = np.array([list(v.Coordinates) for v in found.GetVertices()], np.float32)
        faces = np.array([list(t.Indices) for t in found.GetTriangleIndices()])
        stl = trimesh.load(io.BytesIO(stl_bytes(mesh)), file_type="stl", process=False)
        apart = np.abs(points[faces].astype(float) - stl.triangles)
        assert apart.max() <= np.spacing(np.float32(points.max())), mesh.name


def _parts(mesh):
    return mesh.vertices, mesh.triangles, mesh.volume


# A general slicer's own judgement

slicer = pytest.mark.skipif(shutil.which("slic3r") is None, reason="slic3r is not installed")
SETTINGS = {
    "nozzle-diameter": FDM.filament.nozzle,
    "layer-height": FDM.layers.height,
    "first-layer-height": FDM.layers.first,
    "perimeters": FDM.filament.rounds,
    "top-solid-layers": FDM.filament.top,
    "bottom-solid-layers": FDM.filament.bottom,
    "fill-density": f"{FDM.filament.infill:.0%}",
    "filament-diameter": FDM.filament.diameter,
    "skirts": 0,
    **{f"{kind}extrusion-width": FDM.filament.line for kind in ("", "first-layer-", "perimeter-", "infill-")},
}


@slicer
def test_a_slicer_finds_every_solid_manifold_and_repairs_none(tmp_path):
    paths = []
    for number, mesh in enumerate(map(solid, MAKERS)):
        paths.append(tmp_path / f"{number}.stl")
        paths[-1].write_bytes(stl_bytes(mesh))
    told = subprocess.run(["slic3r", "--info", *paths], capture_output=True, text=True, check=True).stdout
    assert told.count("manifold = yes") == len(MAKERS)
    assert told.count("number_of_parts =  1") == len(MAKERS)
    # What it says of a file that it had to mend.
    assert not re.search("needed_repair|degenerate_facets|edges_fixed|facets_|backwards_edges", told)
    bed = tmp_path / "bed.3mf"
    pieces = [build_mesh(name, plates) for name, plates in PIECES.items()]
    bed.write_bytes(threemf_bytes(pieces, lay_on_bed([(mesh, 1) for mesh in pieces], FDM)))
    read = subprocess.run(["slic3r", "--info", bed], capture_output=True, text=True, check=True).stdout
    assert read.count("manifold = yes") == len(PIECES)
    volumes = [float(text) for text in re.findall(r"volume = ([\d.]+)", told)]
    assert volumes == pytest.approx([solid(name).volume for name in MAKERS], rel=1e-5)


@slicer
@pytest.mark.parametrize(
    "name",
    ["door", "named corner", "gauge bar-y"],
)
def test_a_slicer_comes_to_the_filament_of_the_estimate(name, tmp_path):
    """Slic3r 1.3 with the printer file's figures, against shell + infill of the rest: within the stated +-30 %."""
    path, gcode = tmp_path / "t.stl", tmp_path / "t.gcode"
    path.write_bytes(stl_bytes(solid(name)))
    options = [word for key, value in SETTINGS.items() for word in (f"--{key}", str(value))]
    told = subprocess.run(["slic3r", *options, "-o", gcode, path], capture_output=True, text=True, check=True)
    length = float(re.search(r"Filament required: ([\d.]+)mm", told.stdout)[1])
    assert "repair" not in (told.stdout + told.stderr).lower()
    found = estimate_part(solid(name), FDM)
    assert found.amount * 1000 == pytest.approx(length, rel=0.3)
    grams = length * math.pi * (FDM.filament.diameter / 2) ** 2 / 1000 * FDM.filament.density
    assert found.grams == pytest.approx(grams, rel=0.3)
    layers = {float(z) for z in re.findall(r"^G1 Z([\d.]+)", gcode.read_text(), re.MULTILINE)}
    assert found.layers == pytest.approx(len(layers), abs=2)


@slicer
@pytest.mark.parametrize("style", ["dressed", "timber"])
def test_a_slicer_comes_to_the_grams_of_carved_tiles(style, tmp_path):
    """Within a tenth: joints and bumps are small beside walls of whole lines."""
    path = tmp_path / "t.stl"
    path.write_bytes(stl_bytes(solid(f"corner in {style}")))
    options = [word for key, value in SETTINGS.items() for word in (f"--{key}", str(value))]
    told = subprocess.run(
        ["slic3r", *options, "-o", path.with_suffix(".gcode"), path], capture_output=True, text=True, check=True
    )
    assert "repair" not in (told.stdout + told.stderr).lower()
    length = float(re.search(r"Filament required: ([\d.]+)mm", told.stdout)[1])
    grams = length * math.pi * (FDM.filament.diameter / 2) ** 2 / 1000 * FDM.filament.density
    assert estimate_part(solid(f"corner in {style}"), FDM).grams == pytest.approx(grams, rel=0.1)


# Every move at the speed of the printer's file, which has one for all of them.
SPEEDS = dict.fromkeys(
    (
        f"{kind}-speed"
        for kind in [
            "perimeter",
            "small-perimeter",
            "external-perimeter",
            "infill",
            "solid-infill",
            "top-solid-infill",
            "bridge",
            "gap-fill",
            "first-layer",
        ]
    ),
    FDM.filament.speed,
)


def hours_of(gcode: str) -> float:
    """How long the moves of a slicer's program take at the speeds it gives them; what speeding up takes left out."""
    place, speed, seconds = dict.fromkeys("XYZE", 0.0), 1.0, 0.0
    for line in gcode.splitlines():
        word, *values = line.partition(";")[0].split() or [""]
        given = {value[0]: float(value[1:]) for value in values if value[0] in "XYZEF"}
        speed = given.pop("F", speed)
        if word == "G1":
            moved = math.dist(*([at.get(axis, place[axis]) for axis in "XYZ"] for at in (place, given)))
            seconds += (moved or abs(given.get("E", place["E"]) - place["E"])) / speed * 60
        if word in ("G1", "G92"):
            place |= given
    return seconds / 3600


@slicer
def test_a_hollow_base_takes_a_slicer_a_quarter_fewer_hours(tmp_path):
    """A floor tile, by Slic3r's own moves; our estimate falls with its metres."""
    hours, metres, estimates = [], [], []
    for base in ("full", "hollow"):
        tile = replace(TILES["floor"], grid=replace(Grid(), set=SetChoices(base=base)))
        mesh = print_meshes([(tile, 1)], FDM)[0][0]
        path, gcode = tmp_path / f"{base}.stl", tmp_path / f"{base}.gcode"
        path.write_bytes(stl_bytes(mesh))
        options = [word for key, value in {**SETTINGS, **SPEEDS}.items() for word in (f"--{key}", str(value))]
        told = subprocess.run(["slic3r", *options, "-o", gcode, path], capture_output=True, text=True, check=True)
        assert "repair" not in (told.stdout + told.stderr).lower()
        hours.append(hours_of(gcode.read_text()))
        metres.append(float(re.search(r"Filament required: ([\d.]+)mm", told.stdout)[1]) / 1000)
        estimates.append(estimate_part(mesh, FDM))
    assert hours[1] < 0.75 * hours[0]
    assert [found.amount for found in estimates] == pytest.approx(metres, rel=0.1)
    assert estimates[1].hours < 0.75 * estimates[0].hours
