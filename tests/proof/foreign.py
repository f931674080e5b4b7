"""Readers that are not ours, one function each: what they find wrong with a file."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import tomllib
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

Reader = Callable[[Path], list[str]]


def by_trimesh(path: Path) -> list[str]:
    """Every body closed, oriented, of positive volume; an STL, which has no bodies, welded by position."""
    import trimesh

    scene = trimesh.load_scene(path, process=False)
    found = [] if scene.geometry else ["no bodies"]
    for name, mesh in scene.geometry.items():
        if path.suffix == ".stl":
            mesh.merge_vertices(digits_vertex=12)
        if not (mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0):
            found.append(f"{name}: not closed or not oriented")
    return found


def by_lib3mf(path: Path) -> list[str]:
    """Strict reading without warnings; every mesh manifold and oriented; unit millimetre."""
    import lib3mf

    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf" if path.suffix == ".3mf" else "stl")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    found = [str(reader.GetWarning(n)) for n in range(reader.GetWarningCount())]
    if model.GetUnit() != lib3mf.ModelUnit.MilliMeter:
        found.append(f"unit {model.GetUnit()}")
    meshes, bodies = model.GetMeshObjects(), 0
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        bodies += 1
        if path.suffix == ".3mf" and not mesh.IsManifoldAndOriented():
            found.append(f"{mesh.GetName()}: not manifold and oriented")
    return found if bodies else [*found, "no meshes"]


def by_admesh(path: Path) -> list[str]:
    """No edge to mend, no facet to turn, remove or add, no hole."""
    done = subprocess.run(
        ["admesh", "--exact", "--normal-directions", path], capture_output=True, text=True, check=False
    )
    figures = {
        key.strip(): int(value) for key, value in re.findall(r"^\s*([A-Z][A-Za-z ]+?)\s*:\s*(\d+)", done.stdout, re.M)
    }
    bad = ("Degenerate facets", "Edges fixed", "Facets removed", "Facets added", "Facets reversed", "Backwards edges")
    found = [f"{key}: {figures[key]}" for key in bad if figures.get(key)]
    if done.returncode or "Number of facets" not in figures:
        found.append(f"not read: {done.stderr.strip()[:100]}")
    disconnected = [
        line.strip() for line in done.stdout.splitlines() if "disconnected" in line and not line.rstrip().endswith(" 0")
    ]
    # After the exact check (second figure of the line) nothing may be open.
    return [*found, *(line for line in disconnected if int((re.findall(r"\d+", line.split(":")[1]) or ["0"])[-1]))]


def by_ezdxf(path: Path) -> list[str]:
    """The auditor's errors and fixes."""
    import ezdxf.filemanagement

    audit = ezdxf.filemanagement.readfile(path).audit()
    return [str(entry.message) for entry in (*audit.errors, *audit.fixes)]


def by_gdal(path: Path) -> list[str]:
    """Drawings: every entity is read and its shape valid, cuts are closed. Pictures: pixels are there."""
    import pyogrio
    import shapely

    warnings.simplefilter("ignore")
    _, _, shapes, columns = pyogrio.raw.read(path, columns=["Layer"])
    lines = shapely.from_wkb(shapes)
    found = [] if len(lines) else ["no entities"]
    for layer, line in zip(columns[0], lines, strict=True):
        if layer in {"CUT_INNER", "CUT_OUTER"} and line.geom_type == "LineString" and not line.is_closed:
            found.append(f"{layer}: open")
        if line is None or line.is_empty or not line.is_valid:
            found.append(f"{layer}: empty or not valid")
    return found


def by_rsvg(path: Path) -> list[str]:
    """Drawn without a word of complaint, and not a blank picture."""
    done = subprocess.run(
        ["rsvg-convert", "--width", "400", "--keep-aspect-ratio", path], capture_output=True, check=False
    )
    if done.returncode or done.stderr:
        return [done.stderr.decode(errors="replace").strip()[:150] or f"exit {done.returncode}"]
    return _blank(done.stdout)


def _blank(png: bytes) -> list[str]:
    from PIL import Image

    with Image.open(io.BytesIO(png)) as picture:
        picture.load()
        colours = picture.convert("RGBA").getcolors(1 << 20)
    return ["a blank picture"] if colours is not None and len(colours) < 2 else []


def by_poppler(path: Path) -> list[str]:
    """Read without a complaint, pages drawn, letters found, every font inside the file or one of the 14."""
    found = []
    for words in (["pdfinfo", path], ["pdftocairo", "-svg", "-f", "1", "-l", "1", path, "-"], ["pdftoppm", "-r", "20", path], ["pdftotext", path, "-"]):  # fmt: skip
        done = subprocess.run([str(word) for word in words], capture_output=True, check=False)
        if done.returncode or done.stderr:
            found.append(f"{words[0]}: {done.stderr.decode(errors='replace').strip()[:150]}")
        elif words[0] == "pdftotext" and not done.stdout.strip():
            found.append("no letters")
    return found


def by_pillow(path: Path) -> list[str]:
    """A whole picture with something on it."""
    return _blank(path.read_bytes())


def by_json(path: Path) -> list[str]:
    """JSON as the standard has it: no NaN."""
    json.loads(path.read_text(encoding="utf-8"), parse_constant=lambda word: (_ for _ in ()).throw(ValueError(word)))
    return []


def by_csv(path: Path) -> list[str]:
    """Every row as long as the head."""
    with path.open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream, strict=True))
    return [f"row {n}: {len(row)} cells" for n, row in enumerate(rows, 1) if row and len(row) != len(rows[0])]


def by_lxml(path: Path) -> list[str]:
    """A page that the HTML parser reads without an error."""
    from lxml import etree

    parser = etree.HTMLParser(recover=True)
    etree.parse(path, parser)
    # The parser knows HTML 4 only: elements that came later are no findings.
    return [e.message for e in parser.error_log if "Tag" not in e.message or "invalid" not in e.message]


def by_pypdf(path: Path) -> list[str]:
    """Read strictly; every page has a size and its contents are understood."""
    from pypdf import PdfReader

    pages = PdfReader(path, strict=True).pages
    found = [] if pages else ["no pages"]
    return found + [f"page {n}: empty" for n, page in enumerate(pages, 1) if not page.extract_text().strip()]


def by_svgelements(path: Path) -> list[str]:
    """Every shape is read, and lies on the picture with a millimetre to spare."""
    from svgelements import SVG, Shape

    picture = SVG.parse(path)
    shapes = [element for element in picture.elements() if isinstance(element, Shape)]
    boxes = [box for box in (shape.bbox() for shape in shapes) if box is not None]
    # A wire comes in from outside of the sheet, at most 6 mm from it.
    slack = 6.0 * 96 / 25.4 if 'id="WIRE"' in path.read_text(encoding="utf-8") else 4.0
    far = [
        box for box in boxes
        if min(box[:2]) < -slack or box[2] > picture.width + slack or box[3] > picture.height + slack
    ]  # fmt: skip
    return ([] if shapes else ["no shapes"]) + [f"off the picture: {box}" for box in far[:3]]


def by_xml(path: Path) -> list[str]:
    """Well-formed, each id once."""
    from lxml import etree

    ids = Counter(etree.parse(path, etree.XMLParser(resolve_entities=False)).xpath("//@id"))
    return [f"id {name} stands {number} times" for name, number in ids.items() if number > 1]


def by_zip(path: Path) -> list[str]:
    """The archive's checksums are right, its parts well-formed."""
    from lxml import etree

    with zipfile.ZipFile(path) as archive:
        bad = archive.testzip()
        for name in archive.namelist():
            if name.endswith((".model", ".rels", ".xml")):
                etree.fromstring(archive.read(name), etree.XMLParser(resolve_entities=False, huge_tree=True))
    return [f"{bad}: checksum"] if bad else []


def by_gdal_table(path: Path) -> list[str]:
    """As many records as rows under the head."""
    import pyogrio

    warnings.simplefilter("ignore")
    with path.open(newline="", encoding="utf-8") as stream:
        rows = sum(1 for row in csv.reader(stream) if row) - 1
    records = pyogrio.read_info(path, force_feature_count=True)["features"]
    return [] if records == rows else [f"{records} records for {rows} rows"]


def by_gdal_picture(path: Path) -> list[str]:
    """Read to the last pixel."""
    done = subprocess.run(["gdalinfo", "-checksum", path], capture_output=True, text=True, check=False)
    return [] if "Checksum=" in done.stdout and not done.returncode else [done.stderr.strip()[:150]]


def by_tomllib(path: Path) -> list[str]:
    """TOML as the standard library has it."""
    return [] if tomllib.loads(path.read_text(encoding="utf-8")) else ["no tables"]


READERS: dict[str, dict[str, Reader]] = {
    "stl": {"trimesh": by_trimesh, "lib3mf": by_lib3mf, "admesh": by_admesh},
    "3mf": {"trimesh": by_trimesh, "lib3mf": by_lib3mf, "zipfile, lxml": by_zip},
    "dxf": {"ezdxf auditor": by_ezdxf, "GDAL": by_gdal},
    "svg": {"rsvg": by_rsvg, "svgelements": by_svgelements, "lxml": by_xml},
    "pdf": {"poppler": by_poppler, "pypdf": by_pypdf},
    "png": {"Pillow": by_pillow, "GDAL": by_gdal_picture},
    "json": {"json": by_json},
    "csv": {"csv": by_csv, "GDAL": by_gdal_table},
    "html": {"lxml": by_lxml},
    "toml": {"tomllib": by_tomllib},
}
