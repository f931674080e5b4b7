"""Beds: how few, nothing overlapping, the 3MF as its specification wants it, and what it all takes."""

import csv
import io
import json
import math
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
import zipfile
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from tests.calling import call
from tests.unit.test_solids import TILES, read_3mf
from tilegen.files.stock import read_printer
from tilegen.solids.beds import (
    lattice,
    make_job,
    pack,
    set_out,
)
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.processes import estimate_part, flow_of, gap_of, laid_down, layers_of, surfaces, together
from tilegen.tiles.plate import Plate
from tilegen.tiles.safety import is_small_part

FDM, RESIN = read_printer("fdm-220"), read_printer("resin-190")
# Sides of grid tiles of 1 to 4 half tiles, and a saddle piece, mm.
GRID_SIZES = [(63.2, 63.2), (63.2, 31.45), (31.45, 31.45), (94.95, 63.2), (94.95, 94.95), (126.7, 63.2), (50.2, 12.7)]


def block(name, x, y, z):
    return build_mesh(name, [Plate("b", "base", box(0, 0, x, y), 0, z)])


def placed(items, meshes):
    sizes = {m.name: m.size for m in meshes}
    for item in items:
        x, y, _ = sizes[item.name]
        width, depth = (y, x) if item.turns % 2 else (x, y)
        yield item.x, item.y, item.x + width, item.y + depth


def check_beds(beds, copies, printer):
    """Every copy once, apart by the gap, off the edge by margin and brim."""
    assert Counter(i.name for bed in beds for i in bed) == Counter({m.name: n for m, n in copies if n})
    edge = printer.margin + printer.brim
    for bed in beds:
        found = list(placed(bed, [m for m, _ in copies]))
        for i, (a, b, c, d) in enumerate(found):
            assert min(a, b) >= edge - 1e-6
            assert c <= printer.bed[0] - edge + 1e-6
            assert d <= printer.bed[1] - edge + 1e-6
            for e, f, g, h in found[:i]:
                assert max(a - g, e - c, b - h, f - d) >= gap_of(printer) - 1e-6


def test_equal_squares_on_the_beds_of_the_plain_lattice():
    """floor((B - 2m + g) / (P + g)) each way; common practice for a lattice, derived."""
    for count in [10, 300]:
        for side in [
            31.45,
            63.2,
        ]:
            for word in ["fdm-220", "fdm-220, spacing=1 mm, margin=0 mm"]:
                printer = read_printer(word)
                m, g = printer.margin + printer.brim, gap_of(printer)
                each = math.prod(math.floor((b - 2 * m + g) / (side + g) + 1e-9) for b in printer.bed)
                copies = [(block("t", side, side, 6.35), count)]
                beds = set_out(copies, printer)
                assert len(beds) <= math.ceil(count / each)
                check_beds(beds, copies, printer)


def test_a_brim_widens_the_gap():
    assert gap_of(read_printer("fdm-220, brim=4 mm")) == 9.0
    assert gap_of(read_printer("fdm-220")) == 3.0
    assert gap_of(read_printer("fdm-220, spacing=0 mm")) == 1.0
    assert gap_of(read_printer("resin-190, spacing=2 mm")) == 2.0


mixed = st.lists(
    st.tuples(st.sampled_from(GRID_SIZES), st.integers(1, 60)), min_size=1, max_size=6, unique_by=lambda k: k[0]
)


@settings(max_examples=20, deadline=None)
@given(mixed)
def test_mixed_kits_take_a_bed_more_than_lattices_by_area_at_most(kit):
    copies = [(block(f"{w}x{d}", w, d, 5 + i), n) for i, ((w, d), n) in enumerate(kit)]
    beds = set_out(copies, FDM)
    check_beds(beds, copies, FDM)
    room = tuple(side + gap_of(FDM) for side in FDM.room)
    shares = sum(n / lattice((w + gap_of(FDM), d + gap_of(FDM)), room) for (w, d), n in kit)
    assert len(beds) <= math.ceil(shares - 1e-9) + 1


def test_kits_of_all_sizes_take_a_bed_more_than_their_area_at_most():
    for seed in range(2):
        chance = np.random.default_rng(seed)
        sizes = [(float(w), float(d)) for w, d in chance.uniform(20, 80, (60, 2))]
        boxes = pack(sizes, [1] * 60, (213.0, 213.0))
        area = sum(w * d for w, d in sizes) / 213.0**2
        assert len(boxes) <= math.ceil(area) + 1
        assert sorted(s.kind for b in boxes for s in b) == list(range(60))


def test_the_highest_parts_come_together():
    low, high = block("low", 60, 60, 6), block("high", 60, 60, 44)
    beds = set_out([(low, 10), (high, 9)], FDM)
    assert [sorted({i.name for i in bed}) for bed in beds] == [["high"], ["low"], ["low"]]


def test_long_parts_lie_either_way():
    beds = set_out([(block("long", 180, 20, 5), 4), (block("tall", 20, 180, 5), 5)], FDM)
    assert len(beds) == 1
    check_beds(beds, [(block("long", 180, 20, 5), 4), (block("tall", 20, 180, 5), 5)], FDM)


# 3MF

NS = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


def bell_foundry_job(printer=FDM):
    things = {name: tile for name, tile in TILES.items() if name.startswith("bell-foundry/")}
    copies = [(build_mesh(name.split("/")[1], tile.plates), 1 + n % 4) for n, (name, tile) in enumerate(things.items())]
    return copies, make_job(copies, printer)


def test_every_bed_by_the_3mf_core_specification(tmp_path):
    """3MF Core Specification 1.4.0, 3.3 to 4.1: unit, object ids and names, vertex indices distinct, each edge shared by
    exactly two triangles in opposite order, positive volume in the positive octant, items that don't overlap."""
    done = call("solid", "bell-foundry", "-o", tmp_path, "--json")
    document = json.loads(done.stdout)
    counts = Counter()
    for bed in document["printing"]["beds"]:
        content = (tmp_path / "bell-foundry" / "solids" / f"{bed['name']}.3mf").read_bytes()
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            model = ET.fromstring(package.read("3D/3dmodel.model"))
        assert model.get("unit") == "millimeter"
        objects = {o.get("id"): o for o in model.iter(f"{NS}object")}
        names = [o.get("name") for o in objects.values()]
        assert len(set(names)) == len(names) == len(objects)
        assert all(re.fullmatch("[A-Z0-9]{7}", o.get("partnumber")) for o in objects.values())
        shapes = {}
        for number, found in objects.items():
            points = np.array([[float(v.get(k)) for k in "xyz"] for v in found.iter(f"{NS}vertex")])
            corners = np.array([[int(t.get(k)) for k in ("v1", "v2", "v3")] for t in found.iter(f"{NS}triangle")])
            assert (corners[:, 0] != corners[:, 1]).all()
            assert (corners[:, 1] != corners[:, 2]).all()
            assert (corners[:, 2] != corners[:, 0]).all()
            edges = Counter(
                map(tuple, np.concatenate([corners[:, [a, b]] for a, b in ((0, 1), (1, 2), (2, 0))]).tolist())
            )
            assert set(edges.values()) == {1}
            assert all((b, a) in edges for a, b in edges)
            a, b, c = (points[corners[:, k]] for k in range(3))
            assert np.einsum("ij,ij->", a, np.cross(b, c)) > 0
            assert (np.linalg.norm(np.cross(b - a, c - a), axis=1) > 0).all()
            shapes[number] = points
        areas = []
        for item in model.iter(f"{NS}item"):
            m = np.array([float(v) for v in item.get("transform").split()]).reshape(4, 3)
            assert np.linalg.det(m[:3]) == pytest.approx(1.0)
            moved = shapes[item.get("objectid")] @ m[:3] + m[3]
            assert moved.min() >= 0
            assert moved[:, 2].min() == 0
            areas.append(box(*moved[:, :2].min(axis=0), *moved[:, :2].max(axis=0)))
            counts[objects[item.get("objectid")].get("name")] += 1
        assert all(p.distance(q) >= 3 - 1e-6 for i, p in enumerate(areas) for q in areas[:i])
    kit = json.loads(call("kit", "bell-foundry", "--json").stdout)
    assert counts == {t["name"]: t["count"] for t in kit["tiles"] + kit["pieces"]}


def test_every_bed_by_lib3mf(tmp_path):
    import lib3mf

    call(
        "solid",
        "lamp-cellars",
        "-o",
        tmp_path,
        "--printer",
        "fdm-220, bottom_chamfer=0.4, snap_heights=true",
        "--quiet",
    )
    beds = sorted(tmp_path.glob("lamp-cellars/solids/*.3mf"))
    assert len(beds) > 1
    for path in beds:
        model = read_3mf(path.read_bytes())
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        objects = model.GetMeshObjects()
        while objects.MoveNext():
            mesh = objects.GetCurrentMeshObject()
            assert mesh.IsManifoldAndOriented()
            assert mesh.IsValid()
            assert mesh.GetName()
            assert mesh.GetPartNumber()


# Estimates


def example():
    """A base of 50 x 50 x 8 mm with a wall of 50 x 6 x 25."""
    edge = ((0, 50), (50, 50))
    return build_mesh(
        "x", [Plate("b", "base", box(0, 0, 50, 50), 0, 8), Plate("w", "wall", box(0, 44, 50, 50), 8, 33, edge)]
    )


def test_material_of_a_filament_print():
    """Shell of 3 lines, 5 and 4 skins, 15 % infill: 27.5 cm3 come to 13.0 cm3, 16.1 g, 5.4 m (derived by hand).

    PLA 1.24 g/cm3 (common practice, no source); 1.75 mm filament is 2.405 cm3 a metre.
    """
    mesh = example()
    assert mesh.volume == pytest.approx(27500)
    assert surfaces(mesh) == pytest.approx((4400, 2500, 2500))
    assert laid_down(27500, 4400, 2500, 2500, FDM) == pytest.approx(12999)
    found = estimate_part(mesh, FDM)
    assert (round(found.material / 1000, 1), round(found.grams, 1), round(found.amount, 1)) == (13.0, 16.1, 5.4)
    assert found.material / found.amount == pytest.approx(2405, abs=1)


def test_hours_of_a_filament_print():
    """0.6 x 0.45 x 0.2 x 60 = 3.24 mm3/s, 1.1 h for 13.0 cm3, and the layers' own time (common practice, no source)."""
    assert flow_of(FDM) == pytest.approx(3.24)
    assert round(12999 / 3.24 / 3600, 1) == 1.1
    found = estimate_part(example(), FDM)
    assert found.layers == 165
    assert found.hours == pytest.approx((12999 / 3.24 + 165 * 2) / 3600)
    low, high = found.record()["hours_between"]
    assert (low, high) == pytest.approx((found.hours * 0.7, found.hours * 1.3), abs=0.005)
    whole = read_printer("fdm-220, filament.layer_time=0")
    assert round(estimate_part(example(), whole).hours, 1) == 1.1


def test_small_prints_are_all_shell():
    thin = block("t", 2, 2, 2)
    assert estimate_part(thin, FDM).material == pytest.approx(8.0)
    full = read_printer("fdm-220, filament.infill=1.0")
    assert estimate_part(block("t", 25.4, 25.4, 10), full).material == pytest.approx(6451.6)


def test_layers():
    """A 10 mm block in layers of 0.2 has 50 (prusa-slicer, CuraEngine and Slic3r agree)."""
    assert layers_of(10.0, FDM) == 50
    assert layers_of(10.0, read_printer("fdm-220, layers.first=0.3")) == 50
    assert layers_of(0.1, FDM) == 1


def test_a_bed_takes_the_layers_of_its_highest_part_once():
    low, high = estimate_part(block("l", 20, 20, 5), FDM), estimate_part(block("h", 20, 20, 20), FDM)
    bed = together([(low, 3), (high, 1)], FDM)
    assert bed.material == pytest.approx(3 * low.material + high.material)
    assert bed.hours == pytest.approx((bed.material / 3.24 + 100 * 2) / 3600)


def test_resin_by_the_layer_whatever_stands_on_the_plate():
    """Layers x (exposure + lift), independent of the number; volume x 1.1 and 15 % for supports (common practice)."""
    part = block("t", 20, 20, 10)
    one = estimate_part(part, RESIN)
    assert one.amount == pytest.approx(4.0 * 1.25)
    assert one.layers == 200
    assert one.hours == pytest.approx((200 * (2.5 + 6) + 5 * 27.5) / 3600)
    assert together([(one, 9)], RESIN).hours == one.hours
    assert together([(one, 9)], RESIN).amount == pytest.approx(9 * one.amount)


@pytest.mark.skipif(shutil.which("prusa-slicer") is None, reason="prusa-slicer is not installed")
@pytest.mark.parametrize("name", ["floor", "door", "custom-outline"])
def test_a_slicer_repairs_nothing_and_comes_to_the_same_within_the_band(name, tmp_path):
    """prusa-slicer with the printer file's settings: filament and time within +-30 %."""
    mesh = build_mesh(name, TILES[name].plates)
    path, gcode = tmp_path / "t.stl", tmp_path / "t.gcode"
    path.write_bytes(stl_bytes(mesh))
    told = subprocess.run(["prusa-slicer", "--info", path], capture_output=True, text=True, check=True).stdout
    assert "manifold = yes" in told
    assert not re.search("open_edges|facets_reversed|edges_fixed|degenerate_facets", told)
    f, layers = FDM.filament, FDM.layers
    settings = {
        "layer-height": layers.height,
        "first-layer-height": layers.first,
        "perimeters": f.rounds,
        "top-solid-layers": f.top,
        "bottom-solid-layers": f.bottom,
        "fill-density": f"{f.infill:.0%}",
        "nozzle-diameter": f.nozzle,
        "extrusion-width": f.line,
        "filament-diameter": f.diameter,
        "filament-density": f.density,
        "skirts": 0,
        "bed-shape": "0x0,220x0,220x220,0x220",
        **{f"{kind}-speed": f.speed for kind in ("perimeter", "external-perimeter", "infill", "solid-infill")},
        "top-solid-infill-speed": f.speed,
    }
    options = [word for key, value in settings.items() for word in (f"--{key}", str(value))]
    command = ["prusa-slicer", "--export-gcode", *options, "-o", gcode, path]
    subprocess.run(command, capture_output=True, text=True, check=True)
    text = gcode.read_text()
    found = estimate_part(mesh, FDM)
    assert found.grams == pytest.approx(float(re.search(r"filament used \[g\] = ([\d.]+)", text)[1]), rel=0.3)
    time = re.search(r"printing time \(normal mode\) = (?:(\d+)h )?(\d+)m", text)
    hours = int(time[1] or 0) + int(time[2]) / 60
    assert 0.7 * found.hours <= hours <= 1.3 * found.hours


# Small parts


def test_the_small_parts_cylinder():
    """16 CFR 1501.4: 31.7 mm wide, 25.4 to 57.1 mm deep; a ball of 31.7 mm just goes in, a long rod stands out."""
    assert is_small_part((20, 20, 20))
    assert is_small_part((57, 5, 5))
    assert not is_small_part((58, 5, 5))
    assert not is_small_part((63.2, 63.2, 6.35))
    assert not is_small_part((31.8, 31.8, 2))
    assert is_small_part((22.4, 22.4, 57.1))
    assert not is_small_part((22.5, 22.5, 57.2))


# What a user gets


def rows_of(path):
    return list(csv.reader(path.read_text().splitlines()))


@pytest.mark.parametrize("printer", ["fdm-220", "resin-190"])
def test_what_a_build_says_of_printing(printer, small, tmp_path):
    done = call("build", small, "-o", tmp_path, "--json", "--printer", printer)
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    printing, folder = document["printing"], tmp_path / "small"
    files = {f["path"].split("/")[-1] for f in document["files"]}
    assert {f"{bed['name']}.3mf" for bed in printing["beds"]} == {f for f in files if f.startswith("bed-")}
    for key in ("grams", "hours", "metres" if printer == "fdm-220" else "resin_ml"):
        assert sum(bed[key] for bed in printing["beds"]) == pytest.approx(printing[key], rel=1e-2)
        assert all(solid["estimate"][key] > 0 for solid in document["solids"])
    assert "+-30%" in printing["formula"]
    assert sum(bed["parts"] for bed in printing["beds"]) == sum(
        t["count"] for t in document["kit"]["tiles"] + document["kit"]["pieces"]
    )
    beds = rows_of(folder / "solids" / "beds.csv")
    assert beds[-1][:2] == ["all", "together"]
    assert float(beds[-1][4]) == pytest.approx(printing["grams"], abs=0.1)
    buy = {row[1]: row[2] for row in rows_of(folder / "shopping.csv") if row[0] == "printing"}
    if printer == "fdm-220":
        assert int(buy["filament"]) == math.ceil(printing["grams"] * 1.05)
        assert int(buy["filament spools"]) == math.ceil(printing["grams"] * 1.05 / 1000)
    else:
        assert int(buy["resin"]) == math.ceil(printing["resin_ml"])
        assert int(buy["isopropyl alcohol"]) >= 500
    page = (folder / "report.html").read_text()
    if printer == "fdm-220":
        # (6.2 - 0.45) / (0.45 - 0.2 (1 - pi / 4)) + 1 = 15.125; 0.45 + 14 x 0.40708 = 6.149
        wall = printing["walls"][0]
        assert wall == pytest.approx(
            {"thickness_mm": 6.2, "lines": 15.125, "whole_lines": 15, "whole_mm": 6.149}, abs=6e-3
        )
        assert "6.2 mm is 15.1 lines, 15 whole ones are 6.15 mm" in page
    assert "+-30%" in page
    assert all(f"{bed['name']}.3mf" in page for bed in printing["beds"])


def test_solid_tells_what_each_tile_takes(tmp_path):
    lines = call("solid", "corner", "-o", tmp_path).stdout
    assert re.search(r"about 2\.\d hours \(1\.\d to 3\.\d\), 34 g, 11\.\d m", lines)
    lines = call("solid", "corner", "-o", tmp_path, "--printer", "resin-190").stdout
    assert re.search(r"about \d+\.\d hours .*, \d+(\.\d)? ml", lines)


def test_equal_kits_give_equal_beds():
    copies, job = bell_foundry_job()
    again = make_job(copies, FDM)
    assert job.beds == again.beds
    assert isinstance(copies[0][0], Mesh)
