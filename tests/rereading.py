"""Written files as other programs have them: what trimesh, lib3mf, ezdxf, svgelements, pypdf and poppler find.

Nothing here comes from the tool. Lengths are mm.
"""

from __future__ import annotations

import csv
import io
import math
import shutil
import subprocess
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import trimesh
from ezdxf import path as ezpath
from pypdf import PdfReader
from svgelements import SVG, Group
from svgelements import Path as SvgPath

CHORD_MM = 0.001


@dataclass
class Solid:
    """A closed body: its volume, size, and the area of what lies on the table."""

    volume: float
    size: tuple[float, float, float]
    underside: float


def read_stl(content: bytes) -> Solid:
    """Loaded without repair, then welded by position.

    Raises:
        AssertionError: it is not one closed, outward body in the positive octant.
    """
    mesh = trimesh.load(io.BytesIO(content), file_type="stl", process=False)
    mesh.merge_vertices(digits_vertex=12)
    assert mesh.is_watertight, "the STL is open"
    assert mesh.is_winding_consistent, "the STL is not oriented"
    assert mesh.volume > 0, "the STL is inside out"
    assert mesh.body_count == 1, f"the STL has {mesh.body_count} bodies"
    low, high = mesh.bounds
    assert np.abs(low).max() == 0.0, f"the STL's least corner is {low}"
    flat = (mesh.triangles[:, :, 2] == 0).all(axis=1)
    return Solid(float(mesh.volume), tuple(high.tolist()), float(mesh.area_faces[flat].sum()))


@dataclass
class Packed:
    """What lies on a bed: copies by name, and the box of each (x0, y0, z0, x1, y1, z1), by the item's transform."""

    copies: Counter = field(default_factory=Counter)
    volumes: dict[str, float] = field(default_factory=dict)
    boxes: list[tuple[str, np.ndarray]] = field(default_factory=list)


def winding_number(triangles: np.ndarray, point: np.ndarray) -> float:
    """How often a surface (n, 3, 3) winds around a point: 1 inside, 0 outside.

    From the solid angles (Van Oosterom and Strackee, "The solid angle of a plane triangle", 1983; Jacobson, Kavan and
    Sorkine-Hornung, "Robust inside-outside segmentation using generalized winding numbers", 2013).
    """
    a, b, c = (triangles[:, k] - point for k in range(3))
    x, y, z = (np.sqrt((side**2).sum(axis=1)) for side in (a, b, c))
    over = (a * np.cross(b, c)).sum(axis=1)
    under = x * y * z + (a * b).sum(axis=1) * z + (b * c).sum(axis=1) * x + (c * a).sum(axis=1) * y
    return float(np.arctan2(over, under).sum() / (2 * np.pi))


def read_3mf(content: bytes) -> Packed:
    """By lib3mf in strict mode.

    Raises:
        AssertionError: a warning, another unit, a mesh that is not manifold and oriented.
    """
    import lib3mf

    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(bytearray(content))
    assert reader.GetWarningCount() == 0, reader.GetWarning(0)
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    found = Packed()
    points, meshes = {}, model.GetMeshObjects()
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented(), f"{mesh.GetName()}: not manifold and oriented"
        corners = np.array([tuple(v.Coordinates) for v in mesh.GetVertices()], dtype=float)
        faces = np.array([tuple(t.Indices) for t in mesh.GetTriangleIndices()])
        a, b, c = (corners[faces[:, k]] for k in range(3))
        # The divergence theorem: the sum of signed tetrahedra.
        found.volumes[mesh.GetName()] = float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)
        points[mesh.GetResourceID()] = (mesh.GetName(), corners)
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        name, corners = points[item.GetObjectResource().GetResourceID()]
        move = np.array([list(row) for row in item.GetObjectTransform().Fields])
        placed = corners @ move[:3] + move[3]
        found.copies[name] += 1
        found.boxes.append((name, np.concatenate([placed.min(axis=0), placed.max(axis=0)])))
    return found


@dataclass
class Lines:
    """The paths of a sheet by layer: (n, 2) corners, a closed one repeats its first; its size, if the file says it."""

    size: tuple[float, float] = (0.0, 0.0)
    paths: dict[str, list[np.ndarray]] = field(default_factory=dict)

    def length(self, *layers: str) -> float:
        return sum(float(np.hypot(*np.diff(p, axis=0).T).sum()) for layer in layers for p in self.paths.get(layer, []))

    def closed(self, *layers: str) -> list[np.ndarray]:
        return [p for layer in layers for p in self.paths.get(layer, []) if np.allclose(p[0], p[-1], atol=1e-6)]


def read_dxf(content: bytes) -> Lines:
    """By ezdxf, arcs flattened finely.

    Raises:
        AssertionError: the auditor finds something; the unit is not the millimetre.
    """
    document = ezdxf.filemanagement.read(io.StringIO(content.decode()))
    audit = document.audit()
    assert not audit.errors, audit.errors[0].message
    assert not audit.fixes, audit.fixes[0].message
    assert document.units == 4, f"$INSUNITS {document.units}"
    found = Lines()
    for entity in document.modelspace():
        points = np.array([(v.x, v.y) for v in ezpath.make_path(entity).flattening(CHORD_MM)])
        found.paths.setdefault(entity.dxf.layer, []).append(points)
    return found


def read_svg(content: bytes) -> Lines:
    """By svgelements: a group a layer, arcs flattened finely; y up as in the DXF."""
    picture = SVG.parse(io.BytesIO(content))
    width, height = (picture.values["attributes"][side] for side in ("width", "height"))
    assert width[-2:] == height[-2:] == "mm", "the SVG's size has another unit"
    found = Lines((float(width[:-2]), float(height[:-2])))
    pixel = found.size[0] / float(picture.width)
    for group in picture:
        if not isinstance(group, Group):
            continue
        # An id stands once in a file: a layer that comes again has a number behind its name.
        layer = str(group.id).split("-")[0]
        for path in group:
            if isinstance(path, SvgPath):
                points = np.array([(x * pixel, found.size[1] - y * pixel) for x, y in _svg_points(path)])
                found.paths.setdefault(layer, []).append(points)
    return found


def _svg_points(path: SvgPath) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    for segment in path.segments():
        kind = type(segment).__name__
        if kind == "Arc":
            steps = max(
                2, math.ceil(abs(segment.sweep) / (2 * math.acos(max(0.0, 1 - CHORD_MM / max(segment.rx, 0.01)))))
            )
            points += [tuple(segment.point(n / steps)) for n in range(1, steps + 1)]
        elif segment.end is not None:
            points.append((segment.end.x, segment.end.y))
    return points


def page_sizes(content: bytes) -> list[tuple[float, float]]:
    """Of a PDF's pages, by pypdf, in mm; poppler, where it is installed, must have them too."""
    pages = PdfReader(io.BytesIO(content)).pages
    sizes = [(float(p.mediabox.width) * 25.4 / 72, float(p.mediabox.height) * 25.4 / 72) for p in pages]
    if shutil.which("pdfinfo"):
        told = subprocess.run(["pdfinfo", "-"], input=content, capture_output=True, check=True)
        assert not told.stderr, told.stderr
        assert f"Pages:           {len(sizes)}".encode() in told.stdout
    return sizes


def page_words(content: bytes) -> str:
    """All letters of a PDF, by pypdf, without blanks."""
    return "".join("".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages)


def rows(path: Path) -> list[dict[str, str]]:
    """Of a CSV file, by its head."""
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream, strict=True))


def step_lengths(points: np.ndarray) -> list[float]:
    """Of the steps of a path."""
    return [math.dist(a, b) for a, b in pairwise(points.tolist())]
