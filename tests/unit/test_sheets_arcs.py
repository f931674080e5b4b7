"""Arcs among short segments, found again; and the list of operations."""

from __future__ import annotations

import csv
import io
import math
import re
import shutil
import subprocess
from pathlib import Path

import ezdxf
import ezdxf.filemanagement
import numpy as np
import pyogrio
import pytest
import shapely
from PIL import Image

from tests.unit.test_sheets_audit import made, with_rules
from tests.unit.test_sheets_paths import drawing
from tilegen.files.stock import read_machine
from tilegen.sheets.drawing import Stroke, curve, find_arcs
from tilegen.sheets.make import sheet_files
from tilegen.sheets.toolpaths.order import travel


def half_round(chords: int) -> np.ndarray:  # type: ignore[type-arg]
    turn = np.linspace(-math.pi / 2, math.pi / 2, chords + 1)
    arc = np.stack([25.4 + 12.7 * np.cos(turn), 12.7 + 12.7 * np.sin(turn)], axis=1)
    return np.vstack([[(0.0, 0.0)], arc, [(0.0, 25.4)]])


# Autodesk, GetBulge method: a half circle has a bulge of 1, a quarter 0.414214, a sixth 0.267949.
def test_arcs_are_found_again() -> None:
    (arc,) = find_arcs(half_round(32))
    found = curve(half_round(32), arc)
    assert (found.bulge, found.radius) == (pytest.approx(1.0), pytest.approx(12.7))
    for start in (5, 20, 33):
        (moved,) = Stroke("CUT_OUTER", half_round(32), (arc,)).from_corner(0).arcs
        rolled = find_arcs(np.roll(half_round(32), -start, axis=0))
        assert len(rolled) == 1
        assert curve(np.roll(half_round(32), -start, axis=0), rolled[0]) == pytest.approx(found)
        assert moved == arc
    backwards = half_round(32)[::-1]
    assert curve(backwards, find_arcs(backwards)[0]).bulge == pytest.approx(-1.0)
    turn = np.linspace(0, math.tau, 65)[:-1]
    circle = 10 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    assert [curve(circle, a).bulge for a in find_arcs(circle)] == pytest.approx([1.0, 1.0])
    for degrees, bulge in ((90, 0.414214), (60, 0.267949)):
        part = np.radians(np.linspace(0, degrees, 17))
        slice_ = np.vstack([[(0.0, 0.0)], 12 * np.stack([np.cos(part), np.sin(part)], axis=1)])
        assert curve(slice_, find_arcs(slice_)[0]).bulge == pytest.approx(bulge, abs=1e-6)


def test_polygons_stay_polygons() -> None:
    for corners in (4, 6, 8, 16, 24):
        turn = np.linspace(0, math.tau, corners + 1)[:-1]
        assert find_arcs(40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)) == ()


# Area 898.5137, length 116.0982 by formula; readers come within 1e-3 of it, GDAL by chords.
def test_a_half_round_square_by_gdal(tmp_path: Path) -> None:
    from tilegen.sheets.formats.dxf import write

    points = half_round(32)
    file = tmp_path / "half.dxf"
    file.write_bytes(write(drawing(Stroke("CUT_OUTER", points, find_arcs(points)))))
    (entity,) = ezdxf.readfile(file).modelspace()
    assert [p[4] for p in entity.get_points()] == pytest.approx([0, 1, 0, 0])
    _, _, shapes, _ = pyogrio.raw.read(file)
    (shape,) = shapely.from_wkb(shapes)
    assert shapely.polygonize([shape]).area == pytest.approx(898.5137, rel=1e-3)
    assert shape.length == pytest.approx(116.0982, rel=1e-3)


@pytest.mark.parametrize("arcs", [True, False])
def test_round_doors_in_dxf_and_svg(arcs: bool, tmp_path: Path) -> None:
    sheets = made("greyboard", with_rules("laser", arcs=arcs), compensate=False)
    files = sheet_files(sheets)
    area, bulges = 0.0, []
    for sheet in sheets.sheets:
        file = tmp_path / "sheet.dxf"
        file.write_bytes(files[f"{sheet.name}.dxf"])
        bulges += [p[4] for e in ezdxf.readfile(file).modelspace() for p in e.get_points()]
        _, _, shapes, (layers,) = pyogrio.raw.read(file, columns=["Layer"])
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True):
            sign = {"CUT_OUTER": 1, "CUT_INNER": -1}.get(layer, 0)
            area += sheet.copies * sign * shapely.polygonize([shape]).area if sign else 0.0
    assert any(bulges) == arcs
    # GDAL sees the same area as the parts have.
    assert area == pytest.approx(sum(p.outline.area * p.count for p in sheets.parts), rel=1e-3)
    svg = files["greyboard-01.svg"].decode()
    found = re.findall(r"A(\S+) (\S+) 0 (\d) (\d) ", svg)
    assert bool(found) == arcs
    # Half of 22 mm, and three quarters of it.
    assert all(rx == ry and float(rx) in (11.0, pytest.approx(16.5, abs=0.01)) for rx, ry, _, _ in found)


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")
def test_arcs_look_like_their_segments(tmp_path: Path) -> None:
    pictures = []
    for arcs in (True, False):
        sheets = made("greyboard", with_rules("laser", arcs=arcs))
        # The way of the tool may differ, the lines may not.
        source = tmp_path / "sheet.svg"
        source.write_bytes(sheet_files(sheets)["greyboard-01.svg"])
        command = ["rsvg-convert", "-w", "1500", "--background-color", "white", "-o", tmp_path / "sheet.png", source]
        subprocess.run(command, check=True)
        pictures.append(np.array(Image.open(tmp_path / "sheet.png").convert("L")).astype(int))
    assert (pictures[0] < 200).sum() > 5000
    assert (np.abs(pictures[0] - pictures[1]) > 100).sum() < 20


def test_operations_are_listed_in_file_order() -> None:
    sheets = made("greyboard", read_machine("laser"))
    text = sheet_files(sheets)["greyboard-operations.csv"].decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    first = [row for row in rows if row["sheet"] == "greyboard-01"]
    assert [row["layer"] for row in first] == ["ENGRAVE", "SCORE", "CUT_INNER", "CUT_OUTER"]
    assert [row["step"] for row in first] == ["1", "2", "3", "4"]
    drawn = sheets.sheets[0].drawing
    assert float(first[3]["length_mm"]) == pytest.approx(drawn.length("CUT_OUTER"), abs=0.1)
    made_ = [s for s in drawn.strokes if s.layer != "GUIDE"]
    assert sum(float(row["travel_mm"]) for row in first) == pytest.approx(travel(made_), abs=0.3)
    assert first[3]["kerf_compensated"] == "yes, k = 0.15 mm"
    # Vector files carry no power or speed, and neither does this list.
    assert not re.search(r"\b(power|speed|temperature|watt)", text, re.IGNORECASE)
