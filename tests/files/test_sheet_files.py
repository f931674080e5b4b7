"""What is written, read back with readers that aren't ours."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pyogrio
import pypdf
import pytest
import shapely
from PIL import Image
from shapely.geometry import Polygon

from tilegen.errors import InputError
from tilegen.files.stock import check_pair, read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.pictures.sheet_pages import page_files
from tilegen.sheets.drawing import LAYERS
from tilegen.sheets.make import make_sheets, sheet_files, sheet_records
from tilegen.sheets.sheetset import SheetSet
from tilegen.tiles.loose import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
MATERIALS = ("card", "cork", "eps", "eva", "foam", "foam-core", "greyboard", "mdf", "plywood", "pvc")
MACHINES = ("drag-knife", "hand-knife", "hot-wire", "laser")


def kit() -> list[tuple[object, int]]:
    side = Side("doorway", make_opening(GRID.tile_side, GRID))
    points = ((0.0, 0.0), (0.0, 100.0), (110.0, 100.0), (150.0, 40.0), (150.0, 0.0))
    hole = ((40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0))
    return [
        (make_tile("corner", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), GRID), 4),
        (make_tile("door", single_cell(Cell((side, OPEN, OPEN, OPEN)), (2, 2)), GRID), 2),
        (make_tile("odd", OutlineShape(points, (1, 3), (), (hole,)), GRID), 1),
        (make_saddle_door("saddle-door", GRID, GRID.tile_side, make_opening(GRID.tile_side, GRID)), 1),
    ]


def made(material: str, machine: str) -> SheetSet:
    return make_sheets(kit(), read_material(material), read_machine(machine))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def by_laser() -> SheetSet:
    return made("greyboard", "laser")


@pytest.fixture(scope="module")
def by_knife() -> SheetSet:
    return made("foam", "hand-knife")


def test_names_of_the_files(by_knife: SheetSet) -> None:
    files = sheet_files(by_knife)
    sheets = [f"foam-{n:02d}.{kind}" for n in range(1, len(by_knife.sheets) + 1) for kind in ("dxf", "svg")]
    lists = ["foam-parts.csv", "foam-operations.csv", "foam-saw.csv"]
    assert list(files) == [*sheets, *lists]
    # Whole sheets as pages, only for who asks.
    assert not page_files(by_knife)
    assert set(page_files(by_knife, whole=True)) == {"foam.pdf"}


def test_equal_input_gives_equal_bytes(by_laser: SheetSet) -> None:
    assert sheet_files(made("greyboard", "laser")) == sheet_files(by_laser)
    assert page_files(by_laser, paper="Letter", whole=True) == page_files(by_laser, paper="Letter", whole=True)


@pytest.mark.parametrize("before", [False, True])
def test_the_librarys_switch_is_put_back(before: bool, by_laser: SheetSet, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ezdxf.options, "write_fixed_meta_data_for_testing", before)
    sheet_files(by_laser)
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


def written(sheet_set: SheetSet, folder: Path, ending: str, number: int = 1) -> Path:
    name = f"{sheet_set.material.name}-{number:02d}.{ending}"
    path = folder / name
    path.write_bytes(sheet_files(sheet_set)[name])
    return path


def test_dxf_read_by_ezdxf(by_laser: SheetSet, tmp_path: Path) -> None:
    document = ezdxf.readfile(written(by_laser, tmp_path, "dxf"))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert document.dxfversion == "AC1024"  # R2010: Autodesk, DXF header variables
    # $INSUNITS 4 is millimetres (Autodesk help, INSUNITS); $MEASUREMENT 1 is metric (from memory, not verified).
    assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (4, 1)
    assert dict(document.header.custom_vars.properties)["kerf compensated"] == "yes, k = 0.15 mm"
    # An auditor lets undeclared layers pass, so they are looked for here.
    declared = {layer.dxf.name for layer in document.layers}
    assert set(LAYERS) <= declared
    entities = list(document.modelspace())
    assert {entity.dxftype() for entity in entities} == {"LWPOLYLINE"}
    assert {entity.dxf.layer for entity in entities} <= set(LAYERS) & declared
    closed = {entity.dxf.layer for entity in entities if entity.closed}
    assert closed == {"CUT_INNER", "CUT_OUTER", "GUIDE"}
    assert not any(entity.closed for entity in entities if entity.dxf.layer in ("ENGRAVE", "SCORE"))
    ranks = [list(LAYERS).index(entity.dxf.layer) for entity in entities]
    assert ranks == sorted(ranks)
    bounds = np.array([point[:2] for entity in entities for point in entity.get_points()])
    assert bounds.min(axis=0) == pytest.approx([0, 0])
    assert bounds.max(axis=0) == pytest.approx([594, 420])  # A2, ISO 216 (from published tables)


def test_dxf_says_when_it_is_nominal(by_knife: SheetSet, tmp_path: Path) -> None:
    document = ezdxf.readfile(written(by_knife, tmp_path, "dxf"))
    assert dict(document.header.custom_vars.properties)["kerf compensated"] == "no, nominal"


def test_dxf_read_by_gdal(by_knife: SheetSet, tmp_path: Path) -> None:
    # Without kerf the outlines less the holes measure what the parts measure.
    area = 0.0
    for number in range(1, len(by_knife.sheets) + 1):
        _, _, shapes, (layers,) = pyogrio.raw.read(written(by_knife, tmp_path, "dxf", number), columns=["Layer"])
        found = zip(shapely.from_wkb(shapes), layers, strict=True)
        areas = dict.fromkeys(LAYERS, 0.0)
        for geometry, layer in found:
            areas[layer] += shapely.polygonize([geometry]).area if geometry.is_closed else 0.0
        area += areas["CUT_OUTER"] - areas["CUT_INNER"]
    assert area == pytest.approx(sum(part.outline.area * part.count for part in by_knife.parts), abs=1e-3)


def test_svg_is_in_millimetres(by_laser: SheetSet) -> None:
    root = ElementTree.fromstring(sheet_files(by_laser)["greyboard-01.svg"])
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("594mm", "420mm", "0 0 594 420")
    space = "{http://www.w3.org/2000/svg}"
    groups = [group.get("id") for group in root.iter(f"{space}g")]
    assert groups == [layer for layer in LAYERS if layer in groups]
    assert {"ENGRAVE", "SCORE", "CUT_INNER", "CUT_OUTER", "GUIDE"} == set(groups)
    text = root.findtext(f"{space}desc") or ""
    assert "greyboard" in text
    assert "kerf compensated: yes, k = 0.15 mm" in text
    # It reads without colour: each layer that is not cut has a dash of its own, or is thinner than a cut.
    looks = [(g.get("stroke-dasharray"), g.get("stroke-width")) for g in root.iter(f"{space}g")]
    assert len(set(looks)) == len(looks)


def test_svg_and_dxf_draw_the_same(by_laser: SheetSet, tmp_path: Path) -> None:
    root = ElementTree.fromstring(sheet_files(by_laser)["greyboard-01.svg"])
    paths = [p.get("d") or "" for p in root.iter("{http://www.w3.org/2000/svg}path")]
    from_svg = [np.array(re.findall(r"-?[\d.]+", p), dtype=float).reshape(-1, 2) for p in paths]
    entities = list(ezdxf.readfile(written(by_laser, tmp_path, "dxf")).modelspace())
    assert len(entities) == len(from_svg)
    for entity, points in zip(entities, from_svg, strict=True):
        expected = np.array([p[:2] for p in entity.get_points()])
        assert points * (1, -1) + (0, 420) == pytest.approx(expected, abs=1e-4)


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")
def test_svg_size_by_another_program(by_laser: SheetSet, tmp_path: Path) -> None:
    # CSS: 96 px to the inch of 25.4 mm, 72 pt to the inch.
    pdf = tmp_path / "sheet.pdf"
    subprocess.run(["rsvg-convert", "-f", "pdf", "-o", pdf, written(by_laser, tmp_path, "svg")], check=True)
    page = pypdf.PdfReader(pdf).pages[0].mediabox
    assert [float(page.width), float(page.height)] == pytest.approx([594 * 72 / 25.4, 420 * 72 / 25.4], abs=0.5)


# A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ASME Y14.1, size A), a point 1/72 in (ISO 32000-1, 8.3.2): all three
# from secondary sources, the standards themselves were not read.
@pytest.mark.parametrize("paper, size", [("A4", (595.276, 841.890)), ("Letter", (612, 792))])
def test_pdf_pages(by_knife: SheetSet, paper: str, size: tuple[float, float]) -> None:
    reader = pypdf.PdfReader(io.BytesIO(page_files(by_knife, paper=paper, whole=True)["foam.pdf"]))  # type: ignore[arg-type]
    for page in reader.pages:
        assert [float(page.mediabox.width), float(page.mediabox.height)] == pytest.approx(size, abs=1e-3)
    first = " ".join((page.extract_text() or "") for page in reader.pages[:2]).replace("\n", " ")
    for words in (
        "Print at 100 %, no fit to page",
        "styrene",
        "safety data sheet",
        "cut open at the top",
        "strip over its doorway",
    ):
        assert words.lower() in first.lower()
    shown = [page.extract_text() for page in reader.pages if "100 mm: measure" in (page.extract_text() or "")]
    assert shown
    assert all(re.search(r"foam-\d\d: row \d of \d, column \d of \d", text) for text in shown)
    assert all("print at 100 %, no fit to page" in text for text in shown)


def _rendered(content: bytes, folder: Path, page: int) -> np.ndarray:  # type: ignore[type-arg]
    """A page as grey values at 254 dpi, that is 10 px to the mm."""
    source = folder / "sheets.pdf"
    source.write_bytes(content)
    subprocess.run(
        [
            "pdftoppm",
            "-r",
            "254",
            "-gray",
            "-png",
            "-singlefile",
            "-f",
            str(page),
            "-l",
            str(page),
            source,
            folder / "p",
        ],
        check=True,
    )
    return np.array(Image.open(folder / "p.png").convert("L"))


def _longest(dark: np.ndarray) -> int:  # type: ignore[type-arg]
    """The longest run of dark pixels in any row."""
    best = 0
    for row in dark:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
        if edges.size:
            best = max(best, int((edges[1::2] - edges[::2]).max()))
    return best


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_bars_measure_100_mm_on_the_page(by_knife: SheetSet, paper: str, tmp_path: Path) -> None:
    content = page_files(by_knife, paper=paper, whole=True)["foam.pdf"]  # type: ignore[arg-type]
    image = _rendered(content, tmp_path, len(pypdf.PdfReader(io.BytesIO(content)).pages))
    dark = image < 128
    margin = 150
    assert _longest(dark[-margin:]) == pytest.approx(1000, abs=6)
    assert _longest(dark.T[:margin]) == pytest.approx(1000, abs=6)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_parts_are_true_size_on_the_page(tmp_path: Path) -> None:
    # One floor tile of 63.2 x 63.2 mm, the least corner at the margin, on the page that shows it.
    floor = make_tile("floor", single_cell(Cell(), (2, 2)), Grid())
    foam = read_material("foam")
    content = page_files(make_sheets([(floor, 1)], foam, read_machine("hand-knife")), whole=True)["foam.pdf"]
    reader = pypdf.PdfReader(io.BytesIO(content))
    page = next(n for n, p in enumerate(reader.pages, 1) if "measure both" in p.extract_text())
    dark = _rendered(content, tmp_path, page) < 128
    inside = dark[200:-190, 190:-110]
    columns, rows = np.flatnonzero(inside.sum(axis=0) > 600), np.flatnonzero(inside.sum(axis=1) > 600)
    assert columns.max() - columns.min() == pytest.approx(632, abs=4)
    assert rows.max() - rows.min() == pytest.approx(632, abs=4)


def test_pdf_has_no_empty_pages(tmp_path: Path) -> None:
    floor = make_tile("floor", single_cell(Cell(), (2, 2)), Grid())
    content = page_files(make_sheets([(floor, 1)], read_material("foam"), read_machine("hand-knife")), whole=True)[
        "foam.pdf"
    ]
    texts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages]
    assert sum("measure both bars" in text for text in texts) == 1


def test_pdf_draws_finished_edges_when_the_machine_has_a_kerf(by_laser: SheetSet) -> None:
    for sheet in by_laser.sheets:
        areas = [
            sum(Polygon(s.points).area for s in drawing.strokes if s.layer == "CUT_OUTER")
            for drawing in (sheet.nominal, sheet.drawing)
        ]
        assert areas[0] < areas[1]
    content = page_files(by_laser, whole=True)["greyboard.pdf"]
    text = pypdf.PdfReader(io.BytesIO(content)).pages[0].extract_text().replace("\n", " ")
    assert "Solid lines are the edges of the finished parts, for cutting by hand" in text
    assert "The DXF and SVG files allow for a kerf of 0.15 mm" in text


def test_parts_list(by_knife: SheetSet) -> None:
    rows = list(csv.DictReader(io.StringIO(sheet_files(by_knife)["foam-parts.csv"].decode())))
    assert sum(int(row["quantity"]) for row in rows) == sum(
        sheet.copies * len(sheet.layout) for sheet in by_knife.sheets
    )
    assert len({row["id"] for row in rows}) == len({row["part"] for row in rows}) == len(rows)
    base = next(row for row in rows if row["id"].startswith("B-") and row["length_mm"] == "63.200")
    assert (base["width_mm"], base["thickness_mm"]) == ("63.200", "6")
    tiles = {thing.id for thing, _ in kit()}  # type: ignore[attr-defined]
    for row in rows:
        entries = [entry.split(" x ") for entry in row["tiles"].split("; ")]
        assert {tile for tile, _ in entries} <= tiles
        assert sum(int(count) for _, count in entries) == int(row["quantity"])


def test_records(by_laser: SheetSet) -> None:
    records = sheet_records(by_laser)
    assert [record["name"] for record in records] == [sheet.name for sheet in by_laser.sheets]
    for record in records:
        contract = {"name", "material", "size_mm", "kerf_mm", "parts", "used", "cut_mm", "score_mm"}
        assert set(record) == contract | {"thickness_mm", "copies", "pieces"}
        assert record["size_mm"] == [594, 420]
        assert record["kerf_mm"] == 0.15
        assert 0 < record["used"] < 1
    area = sum(part.outline.area * part.count for part in by_laser.parts)
    assert sum(record["copies"] * record["used"] for record in records) == pytest.approx(area / (594 * 420))
    # Each straight outline of 90 degree corners grows by four kerfs, a hole shrinks by as much; the odd base's oblique
    # corners a little less: within a millimetre over the whole set.
    nominal = sum(part.outline.length * part.count for part in by_laser.parts)
    growth = sum((1 - len(part.outline.interiors)) * part.count for part in by_laser.parts) * 4 * 0.15
    assert sum(record["copies"] * record["cut_mm"] for record in records) == pytest.approx(nominal + growth, abs=1.0)


def test_shipped_materials() -> None:
    for name in MATERIALS:
        material = read_material(name)
        assert material.name == name
        assert set(material.process) == set(MACHINES)
        assert any("safety data sheet" in caution for caution in material.cautions)


def test_shipped_machines() -> None:
    for name in MACHINES:
        machine = read_machine(name)
        assert machine.name == machine.process == name
        assert machine.cautions
        # The tool never advises on power, speed or temperature.
        words = " ".join(machine.cautions)
        assert not re.search(r"\d+ ?(W|%|mm/s|deg|°)", words)


# Polystyrene foam on a laser: prohibited at the universities of Illinois Chicago (fab.cada.uic.edu, "#1 material that
# causes laser fires") and Texas Austin (Prohibited Laser Cutter Materials).
def test_blocked_pair() -> None:
    foam, laser = read_material("foam"), read_machine("laser")
    for accepted in (None, "foam"):
        with pytest.raises(InputError, match=r"laser fires.*Use a hot wire or a hand knife") as caught:
            check_pair(foam, laser, accepted)
        assert caught.value.exit_code == 2
    with pytest.raises(InputError, match="laser fires"):
        make_sheets(kit(), foam, laser)  # type: ignore[arg-type]


def test_asked_pair() -> None:
    core, laser = read_material("foam-core"), read_machine("laser")
    for accepted in (None, "foam-core", "fire", "EVA data sheet"):
        with pytest.raises(InputError, match=r'some workshops cut it.*--accept "foam-core fire"'):
            check_pair(core, laser, accepted)
    check_pair(core, laser, "foam-core fire")
    check_pair(core, laser, "EVA data sheet, Foam-core fire")
    check_pair(read_material("greyboard"), read_machine("laser"))


def test_a_process_the_material_does_not_name_is_asked_about() -> None:
    foam = read_material("foam").model_copy(update={"process": {}})
    with pytest.raises(InputError, match="does not say"):
        check_pair(foam, read_machine("hand-knife"))


def test_faulty_material_files(tmp_path: Path) -> None:
    for line, message in [
        ('thickness = "0 mm"', "thickness"),
        ('thickness = "-2 mm"', "thickness"),
        ('sheet = { size = ["0 mm", "300 mm"] }', "sheet"),
        ('process = { laser = "maybe" }', "[process] laser"),
        ('process = { saw = "allow" }', "saw"),
        ('process = { laser = { verdict = "ask" } }', '"ask" needs a reason'),
        ('process = { laser = { verdict = "block", why = "fire" } }', "instead"),
        ('process = { laser = { verdict = "allow", up_to = "2 mm" } }', "only one of up_to and beyond is given"),
        ('measured = "0 mm"', "can't measure 0 mm"),
        ('measured = "30 mm"', "1.5 to 4.5 mm"),
        ('measured = "-3 mm"', "can't measure -3 mm"),
        ('skin = "3 mm"', "too thin for a skin"),
        ('construction = "woven"', "construction"),
        ('tickness = "2 mm"', "Did you mean"),
    ]:
        lines = {
            "name": 'name = "mine"',
            "title": 'title = "mine"',
            "thickness": 'thickness = "3 mm"',
            "least_lintel": "least_lintel = 6",
            "least_strip": "least_strip = 5",
            "sheet": 'sheet = { size = ["600 mm", "300 mm"] }',
        }
        path = tmp_path / "mine.toml"
        path.write_text("\n".join(lines.values()))
        assert read_material(path).real_thickness == 3
        lines[line.split(" ", maxsplit=1)[0]] = line
        path.write_text("\n".join(lines.values()))
        with pytest.raises(InputError, match=f"(?i){re.escape(message)}") as caught:
            read_material(path)
        assert str(path) in str(caught.value)


def test_kerf_by_material() -> None:
    machine = read_machine("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.2, 0.2)}})
    assert isinstance(machine, MachineFile)
    assert machine.kerf_in(read_material("greyboard")) == 0.2
    other = read_material("foam")
    assert isinstance(other, MaterialFile)
    assert machine.kerf_in(other) == 0.15
