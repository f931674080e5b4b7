"""The auditor of sheets: fine sheets pass, and every finding is found where its fault is planted."""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path

import ezdxf
import ezdxf.filemanagement
import numpy as np
import pytest
from shapely.geometry import Polygon, box

from tests.calling import call
from tilegen.cli.inspect import inspect_file
from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Grid
from tilegen.model.machines import MachineFile
from tilegen.sheets.audit import Expected, _assigned, audit_document
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files
from tilegen.sheets.sheetfile import FINDINGS, read_sheet
from tilegen.sheets.sheetset import SheetSet
from tilegen.tiles.loose import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()


def kit() -> list[tuple[object, int]]:
    round_head = make_opening(GRID.tile_side, GRID, head="round", width=22.0, height=24.0)
    pointed = make_opening(GRID.tile_side, GRID, head="pointed", width=22.0, height=24.0)
    points = ((0.0, 0.0), (0.0, 100.0), (110.0, 100.0), (150.0, 40.0), (150.0, 0.0))
    hole = ((40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0))
    return [
        (make_tile("corner", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), GRID), 3),
        (
            make_tile(
                "door",
                single_cell(Cell((Side("doorway", round_head), OPEN, Side("doorway", pointed), OPEN)), (2, 2)),
                GRID,
            ),
            2,
        ),
        (make_tile("odd", OutlineShape(points, (1, 3), (), (hole,)), GRID), 1),
        (make_saddle_door("saddle-door", GRID, GRID.tile_side, round_head), 1),
    ]


def with_rules(machine: str, **rules: object) -> MachineFile:
    found = read_machine(machine)
    return found.model_copy(update={"paths": found.paths.model_copy(update=rules)})


def made(material: str, machine: MachineFile, *, compensate: bool = True) -> SheetSet:
    return make_sheets(kit(), read_material(material), machine, compensate=compensate)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "material, machine",
    [
        ("greyboard", with_rules("laser")),
        ("greyboard", with_rules("laser", arcs=False)),
        ("greyboard", with_rules("laser", tab_width=0.4, tab_recess=0.0)),
        ("greyboard", with_rules("laser", common_lines=True)),
        ("greyboard", with_rules("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.1, 0.2)}})),
        ("greyboard", with_rules("drag-knife", swivel=True, overcut=1.0)),
        ("foam", with_rules("hand-knife")),
        ("foam", with_rules("cnc-hot-wire")),
    ],
    ids=lambda value: value if isinstance(value, str) else value.name,
)
def test_our_own_sheets_pass(material: str, machine: MachineFile) -> None:
    sheets = made(material, machine)
    assert audit_sheets(sheets, sheet_files(sheets)) == []


def test_nominal_sheets_pass_and_say_so() -> None:
    sheets = made("greyboard", with_rules("laser"), compensate=False)
    files = sheet_files(sheets)
    assert audit_sheets(sheets, files) == []
    assert read_sheet(document_of(files["greyboard-01.dxf"])).kerf == (0.0, 0.0)
    assert b"kerf compensated: no, nominal" in files["greyboard-01.svg"]


def document_of(content: bytes) -> ezdxf.document.Drawing:
    return ezdxf.filemanagement.read(io.StringIO(content.decode()))


def test_nominal_outlines_cut_with_a_kerf_are_found() -> None:
    """What the sweep is for: a kerf that nobody allowed for, allowed for twice, or one way only."""
    sheets = made("greyboard", with_rules("laser"), compensate=False)
    files = sheet_files(sheets)
    for said, codes in (
        ("no, nominal", set()),
        ("yes, k = 0.15 mm", {14}),
        ("yes, k = 0 mm in x, 0.15 mm in y", {14}),
    ):
        document = document_of(files["greyboard-01.dxf"])
        document.header.custom_vars.replace("kerf compensated", said)
        counts = Counter(placed.item for placed in sheets.sheets[0].layout)
        wanted = [Expected(p.id, p.outline, counts[n], 0.06) for n, p in enumerate(sheets.parts) if counts[n]]
        exact = [w._replace(slack=0.0) for w in wanted if len(w.outline.exterior.coords) < 12]
        assert {finding.number for finding in audit_document(document, exact)} == codes


# A small sheet of two parts, one of them with a hole and a score, to plant faults in. Kerf 0.2 mm, allowed for.
PARTS = [
    Expected("A", Polygon(box(0, 0, 50, 40).exterior, [box(10, 10, 20, 20).exterior.coords]), 1),
    Expected("B", box(0, 0, 30, 20), 1),
]


class Sheet:
    """Layers of polylines, and the document made of them."""

    def __init__(self) -> None:
        self.lines: list[tuple[str, list[tuple[float, float]], bool]] = [
            ("ENGRAVE", [(30, 15), (34, 18), (38, 15)], False),
            ("SCORE", [(35, 12), (35, 48)], False),
            ("CUT_INNER", corners(20.1, 20.1, 29.9, 29.9), True),
            ("CUT_OUTER", corners(9.9, 9.9, 60.1, 50.1), True),
            ("CUT_OUTER", corners(69.9, 9.9, 100.1, 30.1), True),
            ("GUIDE", corners(0, 0, 200, 150), True),
        ]
        self.document = ezdxf.filemanagement.new("R2010", units=4)
        for layer in ("ENGRAVE", "SCORE", "CREASE", "CUT_INNER", "CUT_OUTER", "WIRE", "GUIDE"):
            self.document.layers.add(layer)
        self.document.header.custom_vars.append("kerf compensated", "yes, k = 0.2 mm")
        self.space = self.document.modelspace()

    def findings(self, expected: list[Expected] | None = None) -> list[str]:
        for layer, points, closed in self.lines:
            self.space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})
        return [finding.number for finding in audit_document(self.document, expected)]


def corners(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def test_a_fine_sheet_has_no_findings() -> None:
    assert Sheet().findings() == []
    assert Sheet().findings(PARTS) == []


def outer(sheet: Sheet, *points: tuple[float, float], closed: bool = True, at: int = 5) -> None:
    sheet.lines.insert(at, ("CUT_OUTER", list(points), closed))


def changed(number: int, **to: object) -> Callable[[Sheet], None]:
    def change(sheet: Sheet) -> None:
        layer, points, closed = sheet.lines[number]
        sheet.lines[number] = (
            str(to.get("layer", layer)),
            to.get("points", points),  # type: ignore[assignment]
            bool(to.get("closed", closed)),
        )

    return change


def wired(*ends: tuple[float, float]) -> Callable[[Sheet], None]:
    def change(sheet: Sheet) -> None:
        sheet.lines = [line for line in sheet.lines if line[0] == "GUIDE"]
        sheet.lines.insert(
            0,
            (
                "WIRE",
                [*ends[:1], (69.9, 9.9), (100.1, 9.9), (100.1, 30.1), (69.9, 30.1), (69.9, 9.9), *ends[1:]],
                False,
            ),
        )

    return change


# Two squares on a neck that is narrower than the cut.
NECK = [(69.9, 9.9), (80, 9.9), (80, 19.95), (90, 19.95), (90, 9.9), (100.1, 9.9)]
NECK += [(x, 40 - y) for x, y in reversed(NECK)]

PLANTED: list[tuple[str, Callable[[Sheet], object]]] = [
    (1, lambda s: s.document.header.__setitem__("$INSUNITS", 1)),
    (2, lambda s: s.document.layers.remove("SCORE")),
    (3, lambda s: (s.document.layers.add("NOTES"), changed(1, layer="NOTES")(s))),
    (4, lambda s: s.space.add_text("B-K7DH", dxfattribs={"layer": "ENGRAVE"})),
    (5, lambda s: s.space.add_spline([(80, 20), (85, 25), (90, 20)], dxfattribs={"layer": "ENGRAVE"})),
    (6, changed(4, closed=False)),
    (7, changed(1, points=[(35, 12), (35, 12)])),
    (7, changed(4, points=[(69.9, 9.9), (69.9, 9.9), (100.1, 9.9), (100.1, 30.1), (69.9, 30.1)])),
    (8, changed(4, points=[(69.9, 9.9), (100.1, 30.1), (100.1, 9.9), (69.9, 30.1)])),
    (8, changed(4, points=corners(55, 20, 85, 45))),
    (9, lambda s: outer(s, *corners(69.9, 9.9, 100.1, 30.1))),
    (9, changed(1, points=[(60.1, 12), (60.1, 48)])),
    (9, lambda s: s.lines.insert(2, ("SCORE", [(35, 20), (35, 40)], False))),
    (10, changed(4, points=corners(60.6, 9.9, 90.8, 30.1))),
    (10, changed(4, points=corners(69.9, 9.9, 100.1, 10.4))),
    (11, changed(4, points=corners(180, 9.9, 210.2, 30.1))),
    (12, changed(2, layer="CUT_OUTER")),
    (12, lambda s: outer(s, *corners(35, 35, 45, 45), at=2)),
    (12, changed(4, layer="CUT_INNER")),
    (13, changed(4, points=NECK)),
    (14, changed(4, points=corners(70, 10, 100, 30))),
    (14, changed(4, points=corners(69.9, 9.9, 100.1, 30.0))),
    (14, changed(2, points=corners(20, 20, 30, 30))),
    (14, changed(4, points=corners(69.9, 9.9, 100.1, 40.1))),
    (15, changed(1, points=[(35, 12), (35, 55)])),
    (15, changed(1, points=[(110, 110), (120, 120)])),
    (15, changed(1, points=[(22, 22), (28, 28)])),
    (15, changed(0, points=[(55, 45), (65, 45)])),
    (16, lambda s: s.lines.insert(0, s.lines.pop(3))),
    (16, lambda s: s.lines.insert(2, s.lines.pop(3))),
    (17, wired((50, 9.9), (69.9, -2))),
    (17, lambda s: (wired((-2, 9.9), (69.9, -2))(s), s.lines.insert(1, ("WIRE", [(-2, 80), (210, 80)], False)))),
    (18, lambda s: s.document.header.custom_vars.clear()),
]


@pytest.mark.parametrize("points", [[(110, 110), (120, 120)], [(22, 22), (28, 28)]], ids=["beside", "in a hole"])
def test_numbers_may_stand_in_the_waste(points: list[tuple[float, float]]) -> None:
    sheet = Sheet()
    changed(0, points=points)(sheet)
    assert 15 not in sheet.findings(PARTS)


def test_parts_may_reach_from_edge_to_edge_of_a_sheet() -> None:
    sheet = Sheet()
    changed(4, points=corners(70, 0, 100, 150))(sheet)
    assert 13 not in sheet.findings(PARTS)


def test_planted_faults_are_found() -> None:
    for code, plant in PLANTED:
        sheet = Sheet()
        plant(sheet)
        expected = PARTS[1:] if code == 17 else PARTS
        assert code in sheet.findings(expected)


def test_a_fault_is_planted_for_every_finding() -> None:
    assert {code for code, _ in PLANTED} == set(FINDINGS)


def test_a_wire_through_a_part_is_found() -> None:
    sheet = Sheet()
    wired((-2, 20), (69.9, -2))(sheet)
    assert sheet.findings(PARTS[1:]) == []
    sheet = Sheet()
    wired((-2, 20), (80, 20), (80, 160))(sheet)
    assert 14 in sheet.findings(PARTS[1:])


def test_a_mirrored_part_does_not_pass_for_its_original() -> None:
    part = Polygon([(0, 0), (30, 0), (30, 10), (10, 20), (0, 20)])
    sheet = Sheet()
    sheet.document.header.custom_vars.replace("kerf compensated", "no, nominal")
    mirrored = [(100 - x, 10 + y) for x, y in list(part.exterior.coords)[:-1]]
    sheet.lines = [("CUT_OUTER", mirrored, True), sheet.lines[-1]]
    assert sheet.findings([Expected("C", part, 1)]) == [14]
    turned = [(100 - x, 40 - y) for x, y in list(part.exterior.coords)[:-1]]
    sheet = Sheet()
    sheet.document.header.custom_vars.replace("kerf compensated", "no, nominal")
    sheet.lines = [("CUT_OUTER", turned, True), sheet.lines[-1]]
    assert sheet.findings([Expected("C", part, 1)]) == []


# A bulge is the tangent of a quarter of the angle (Autodesk, GetBulge method): a square of 25.4 mm with a half circle on
# one side has an area of 25.4^2 + pi 12.7^2 / 2 = 898.5137 mm2 and an outline of 3 x 25.4 + pi 12.7 = 116.0982 mm.
def test_bulges_are_read_as_arcs() -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    points = [(0, 0, 0), (25.4, 0, 1), (25.4, 25.4, 0), (0, 25.4, 0)]
    document.modelspace().add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "CUT_OUTER"})
    (path,) = read_sheet(document).paths
    region = Polygon(path.points)
    assert region.area == pytest.approx(898.5137, rel=1e-3)
    assert region.length == pytest.approx(116.0982, rel=1e-3)
    assert np.array(region.bounds) == pytest.approx([0, 0, 38.1, 25.4], abs=0.01)


def test_inspect_runs_the_auditor(tmp_path: Path) -> None:
    fine, faulty = Sheet(), Sheet()
    changed(4, closed=False)(faulty)
    for name, sheet in (("fine", fine), ("faulty", faulty)):
        sheet.findings()
        sheet.document.saveas(tmp_path / f"{name}.dxf")
    assert call("inspect", tmp_path / "fine.dxf").returncode == 0
    result = call("inspect", tmp_path / "faulty.dxf", "--json")
    assert result.returncode == 1
    (found,) = json.loads(result.stdout)["files"]
    assert found["closed"] is False
    assert any(text.startswith("finding 6: an open cut") for text in found["findings"])


def test_a_drawing_that_is_no_sheet_is_not_judged_as_one(tmp_path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=1)
    document.modelspace().add_line((0, 0), (1, 1))
    document.modelspace().add_text("a note")
    document.saveas(tmp_path / "note.dxf")
    assert inspect_file(tmp_path / "note.dxf")["ok"]


@cache
def random_kit(seed: int) -> list[tuple[object, int]]:
    """Star-shaped outlines with sharp corners and notches, and cells with doorways of any size."""
    random = np.random.default_rng(seed)
    things: list[tuple[object, int]] = []
    while len(things) < 3:
        corners_ = int(random.integers(4, 9))
        turn, reach = np.sort(random.uniform(0, 2 * np.pi, corners_))[::-1], random.uniform(30, 90, corners_)
        xy = np.round(100 + np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1), 3).tolist()
        try:
            shape = OutlineShape(tuple((x, y) for x, y in xy), (int(random.integers(corners_)),), (), ())
            tile = make_tile(f"odd-{len(things)}", shape, GRID)
            make_sheets([(tile, 1)], read_material("greyboard"), read_machine("hand-knife"))
        except InputError:
            continue
        things.append((tile, int(random.integers(1, 4))))
    for number in range(2):
        head = ("flat", "round", "pointed")[random.integers(3)]
        width, height = float(random.uniform(8, 30)), float(random.uniform(22, 36))
        side = Side("doorway", make_opening(GRID.tile_side, GRID, head=head, width=width, height=height))
        cell = Cell((side, WALL, OPEN, OPEN) if number else (OPEN, side, OPEN, WALL))
        things.append((make_tile(f"cell-{number}", single_cell(cell, (2, 2)), GRID), int(random.integers(1, 6))))
    return things


@pytest.mark.parametrize(
    "seed, material, machine",
    [
        (2, "greyboard", with_rules("laser", tab_width=0.4)),
        (3, "greyboard", with_rules("laser", common_lines=True)),
        (3, "greyboard", with_rules("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.02, 0.13)}})),
        (2, "greyboard", with_rules("drag-knife", swivel=True, overcut=1.0)),
        (3, "foam", with_rules("hand-knife")),
    ],
    ids=["tabs", "common lines", "uneven kerf", "trailing blade", "hand knife"],
)
def test_sheets_of_random_shapes_pass(seed: int, material: str, machine: MachineFile) -> None:
    sheets = make_sheets(random_kit(seed), read_material(material), machine)  # type: ignore[arg-type]
    assert audit_sheets(sheets, sheet_files(sheets)) == []


def test_the_table_of_findings_is_documented() -> None:
    text = (Path(__file__).parents[2] / "docs/inspect.md").read_text()
    assert all(f"| {code} | {words} |" in text for code, words in FINDINGS.items())


def test_a_piece_that_passes_for_two_parts_goes_where_it_is_wanted() -> None:
    """Near-equal strips: the first takes no piece that only the second could do with (König: a largest matching)."""
    pairs = [(0, 0), (0, 1), (1, 0), (2, 1), (3, 1)]
    assert _assigned([*pairs, (1, 1)], 4, [2, 2]) == [2, 2]
    assert _assigned(pairs, 4, [1, 3]) == [1, 3]
    assert _assigned(pairs, 4, [3, 1]) == [2, 1]
