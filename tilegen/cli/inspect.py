"""`tilegen inspect`: what is in a file."""

from __future__ import annotations

import errno
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import typer

from tilegen.cli.common import print_json
from tilegen.cli.telling import say
from tilegen.errors import InputError, either, refused
from tilegen.files.outlines import INSUNITS, check_blocks, not_svg
from tilegen.files.threemf import UNITS, Package, read_3mf
from tilegen.files.xmltree import read_tree_file
from tilegen.lengths import Units, counted, show_length

if TYPE_CHECKING:
    import trimesh


LARGEST_BYTES = 1024**3
_SVG_UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "": 25.4 / 96}


def inspect_file(path: Path) -> dict[str, Any]:
    """Findings on one file; `ok` is False where something that should be closed is not.

    Raises:
        InputError: not a file, of no known kind, or not readable as what its name says.
    """
    readers: dict[str, Callable[[Path], dict[str, Any]]] = {
        ".stl": _stl,
        ".obj": _stl,
        ".3mf": _3mf,
        ".dxf": _dxf,
        ".svg": _svg,
    }
    if not path.is_file():
        raise refused(OSError(errno.EISDIR if path.is_dir() else errno.ENOENT, ""), path)
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise InputError(
            "this kind of file can't be inspected", cure=f"Use a file that ends in {either([*readers])}", file=str(path)
        )
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(
            f"the file has {path.stat().st_size / 2**30:.1f} GiB; the most is {LARGEST_BYTES // 2**30} GiB",
            cure="Check that it is the right file",
            file=str(path),
        )
    try:
        findings = reader(path)
    except InputError as error:
        raise error.located(file=str(path)) from None
    except Exception as error:  # readers of other people's files fail in every possible way
        if isinstance(error, OSError) and error.errno:
            raise refused(error, path) from None
        kind = path.suffix[1:].upper()
        raise InputError(
            f"the file is broken, or not {kind}", cure=f"Save it again as {kind}", file=str(path)
        ) from None
    return {"path": str(path), "kind": path.suffix[1:].lower(), **findings}


_NO_BODY, _HAS_SOLID = (
    "there are no triangles in it",
    "Check that a solid was saved, not a drawing or a cloud of points",
)


def _stl(path: Path) -> dict[str, Any]:
    """Bodies welded by position, which is all that an STL can say; an OBJ says no more here."""
    import trimesh

    scene = trimesh.load_scene(path, process=False)
    bodies = [
        {"name": str(name), **_body(geometry, 1.0, weld=True), "copies": 1}
        for name, geometry in sorted(scene.geometry.items())
        if isinstance(geometry, trimesh.Trimesh) and len(geometry.faces)
    ]
    if not bodies:
        raise InputError(_NO_BODY, cure=_HAS_SOLID)
    low, high = scene.bounds
    return {
        **_all(bodies),
        "volume_mm3": math.fsum(body["volume_mm3"] for body in bodies),
        "size_mm": [float(v) for v in high - low],
        "units": "none in the file, taken as mm",
        "bodies": bodies,
    }


def _3mf(path: Path) -> dict[str, Any]:
    """Each body as its file has it, once, and how many copies of it there are."""
    package = read_3mf(path)
    factor = UNITS[package.unit]
    bodies = _bodies(package, factor)
    if not bodies:
        raise InputError(_NO_BODY, cure=_HAS_SOLID)
    if not package.places:
        raise InputError("none of its bodies is to be built", cure="Place them on the bed and save it again")
    volumes = []
    for place in package.places:
        body = bodies[id(place.body)]
        body["copies"] += 1
        volumes.append(body["volume_mm3"] * abs(np.linalg.det(place.matrix[:3, :3])))
    low, high = package.bounds()
    in_order = sorted(bodies.values(), key=lambda body: str(body["name"]))
    return {
        **_all(in_order),
        "volume_mm3": math.fsum(volumes),
        "size_mm": [float(v) * factor for v in high - low],
        "units": package.unit,
        "bodies": in_order,
    }


def _bodies(package: Package, factor: float) -> dict[int, dict[str, Any]]:
    """Findings on each object that is a body, by its identity; each with a name of its own."""
    import trimesh
    import trimesh.util

    bodies: dict[int, dict[str, Any]] = {}
    taken: dict[str | None, int] = {}
    names: set[str] = set()
    for one in package.objects:
        name = trimesh.util.unique_name(one.name or one.number, names, taken)
        names.add(name)
        if len(one.triangles):
            mesh = trimesh.Trimesh(one.vertices, one.triangles, process=False)
            bodies[id(one)] = {"name": name, **_body(mesh, factor, weld=False), "copies": 0}
    return bodies


def _all(bodies: list[dict[str, Any]]) -> dict[str, bool]:
    closed = all(body["closed"] for body in bodies)
    return {"ok": closed, "closed": closed, "manifold": all(body["manifold"] for body in bodies)}


def _body(geometry: trimesh.Trimesh, factor: float, *, weld: bool) -> dict[str, Any]:
    """One body; weld: by position, which is all that an STL can say. factor: mm in one of its units."""
    mesh = geometry.copy()
    if weld:
        mesh.merge_vertices(digits_vertex=12)
    closed = bool(mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0)
    return {
        "triangles": len(mesh.faces),
        "closed": closed,
        "manifold": bool(mesh.is_watertight),
        "oriented": bool(mesh.is_winding_consistent and mesh.volume > 0),
        "volume_mm3": float(mesh.volume) * factor**3,
        "size_mm": [float(v) * factor for v in mesh.extents],
        "genus": (2 - int(mesh.euler_number)) // 2 if closed else None,
    }


def _dxf(path: Path) -> dict[str, Any]:
    import ezdxf
    import ezdxf.bbox
    import ezdxf.filemanagement

    from tilegen.sheets.audit import audit_document
    from tilegen.sheets.sheetfile import is_sheet

    document = ezdxf.filemanagement.readfile(path)
    check_blocks(document)
    findings = [str(entry.message) for entry in document.audit().errors]
    space = document.modelspace()
    undeclared = sorted({e.dxf.layer for e in space if e.dxf.layer not in document.layers})
    number = int(document.header.get("$INSUNITS", 0))
    units, factor = INSUNITS.get(number, ("none in the file, taken as mm", 1.0))
    sheet = audit_document(document) if is_sheet(document) else []
    open_cuts = sum(finding.number == 6 for finding in sheet)
    box = ezdxf.bbox.extents(space, fast=True)
    size = [float(v) * factor for v in (box.size.x, box.size.y)] if box.has_data else [0.0, 0.0]
    layers: dict[str, int] = {}
    for entity in space:
        layers[entity.dxf.layer] = layers.get(entity.dxf.layer, 0) + 1
    return {
        "ok": not findings and not undeclared and not sheet,
        "closed": not open_cuts,
        "size_mm": size,
        "units": units,
        "layers": dict(sorted(layers.items())),
        "open_cuts": open_cuts,
        "undeclared_layers": undeclared,
        "kerf_compensated": dict(document.header.custom_vars.properties).get("kerf compensated", "not said"),
        "findings": [*findings, *map(str, sheet)],
    }


def _svg(path: Path) -> dict[str, Any]:
    root = read_tree_file(path, "SVG")
    if root.tag != "svg":
        raise not_svg(root)
    width, units = _svg_length(root.get("width", ""))
    height, _ = _svg_length(root.get("height", ""))
    view = [float(v) for v in re.split(r"[\s,]+", root.get("viewBox", "").strip()) if v]
    true_size = (
        len(view) == 4 and math.isclose(view[2], width, rel_tol=1e-6) and math.isclose(view[3], height, rel_tol=1e-6)
    )
    shapes: dict[str, int] = {}
    for element in root.iter():
        shapes[element.tag] = shapes.get(element.tag, 0) + 1
    # On a sheet only what is cut must be closed: letters and scores are open lines.
    cuts = [g for g in root.iter("g") if g.get("id", "").startswith("CUT_")]
    drawn = [e for g in cuts or [root] for e in g.iter()]
    paths = [e.get("d", "") for e in drawn if e.tag == "path"]
    lines = [e for e in drawn if e.tag in ("polyline", "line")]
    return {
        "ok": width > 0 and height > 0,
        "closed": all(d.strip().lower().endswith("z") for d in paths) and not (cuts and lines),
        "size_mm": [width, height],
        "units": units,
        "one_user_unit_is_1_mm": true_size,
        "elements": dict(sorted(shapes.items())),
    }


def _svg_length(text: str) -> tuple[float, str]:
    match = re.fullmatch(r"\s*([\d.]+(?:e[-+]?\d+)?)\s*([a-z]*)\s*", text)
    if match is None or match[2] not in _SVG_UNITS:
        return 0.0, "none"
    return float(match[1]) * _SVG_UNITS[match[2]], match[2] or "px"


def run_inspect(files: list[Path], *, units: Units, as_json: bool, quiet: bool) -> None:
    """Inspect each file; exit 1 if one of them is not what it should be."""
    findings = [inspect_file(path) for path in files]
    if as_json:
        print_json({"files": findings})
    elif not quiet:
        for finding in findings:
            say(_line(finding, units))
    if not all(finding["ok"] for finding in findings):
        raise typer.Exit(1)


def _line(finding: dict[str, Any], units: Units) -> str:
    size = " x ".join(show_length(v, units) for v in finding["size_mm"])
    parts = [f"{finding['path']}: {'fine' if finding['ok'] else 'NOT FINE'}", size, f"units: {finding['units']}"]
    parts.append("closed" if finding["closed"] else "not closed")
    if "manifold" in finding:
        parts += ["manifold" if finding["manifold"] else "not manifold", f"volume {finding['volume_mm3']:.3f} mm3"]
        parts.append(counted(len(finding["bodies"]), "body"))
    parts += [f"layer {name}: {count}" for name, count in finding.get("layers", {}).items()]
    parts += [str(text) for text in finding.get("findings", [])]
    parts += [f"undeclared layer {name}" for name in finding.get("undeclared_layers", [])]
    return "; ".join(parts)
