"""Bases of sheets of several thicknesses: every layer lies on a sheet as thick as itself."""

import json

import ezdxf
import pytest
from shapely.geometry import Polygon

from tests.calling import call
from tilegen.errors import AnswerIsNo, InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import check, find
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile, of_thickness
from tilegen.pictures.sheet_pages import page_files
from tilegen.sheets.constructions.stacks import best_stack
from tilegen.sheets.make import audit_sheets, make_sheet_sets, sheet_files
from tilegen.tiles.shape import Cell, single_cell
from tilegen.tiles.tile import make_tile

FOAM, WIRE = read_material("foam"), read_machine("hot-wire")
GRID = Grid(base_depth=9.0)
TILE = make_tile("floor", single_cell(Cell(), (2, 2)), GRID)


def of(*others, **more):
    return FOAM.model_copy(update={"stack": FOAM.stack.model_copy(update={"thicknesses": list(others)}), **more})


# Derived: the worked stacks of tests/unit/test_construction_rules.py, with the sheet itself on top.
def test_best_stack_takes_others_only_where_they_come_nearer():
    assert best_stack(8.0, 3.0, (5.0,), 0.05).sheets == (3.0, 5.0)
    assert best_stack(8.0, 3.0, (5.0,), 0.05).thickness == pytest.approx(8.05)
    assert best_stack(6.0, 3.0, (2.0,), 0.0).sheets == (3.0, 3.0)
    assert best_stack(7.0, 6.0, (3.5,), 0.0).sheets == (3.5, 3.5)
    assert best_stack(40.0, 2.0, (3.0,), 0.0).layers == 20


def test_layers_lie_on_sheets_of_their_own_thickness():
    sets = make_sheet_sets([(TILE, 4)], of(3.0), WIRE)
    assert [(s.material.name, s.material.real_thickness) for s in sets] == [("foam", 6.0), ("foam-3mm", 3.0)]
    assert [sum(part.count for part in s.parts) for s in sets] == [4, 4]
    assert all(part.thickness == s.material.real_thickness for s in sets for part in s.parts)
    files = [sheet_files(s) for s in sets]
    assert not set(files[0]) & set(files[1])
    assert {"foam-3mm-01.dxf", "foam-3mm-01.svg", "foam-3mm-parts.csv", "foam-3mm-saw.csv"} <= set(files[1])
    assert "foam-3mm.pdf" in page_files(sets[1], whole=True)
    assert [audit_sheets(s, f) for s, f in zip(sets, files, strict=True)] == [[], []]
    # The volume on all sheets is that of the bases.
    volume = sum(p.outline.area * p.thickness * p.count for s in sets for p in s.parts)
    assert volume == pytest.approx(4 * TILE.base.foot.area * 9.0)


def test_the_written_files_hold_the_layers(small, tmp_path):
    """Areas of the closed outlines, read back by ezdxf."""
    path = tmp_path / "two.toml"
    path.write_text(find("foam", "materials").read_text().replace("[stack]", '[stack]\nthicknesses = ["3 mm"]'))
    done = call("build", small, "--depth", "9 mm", "--material", path, "-o", tmp_path, "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    records = {record["name"]: record for record in document["sheets"]}
    assert {(r["material"], r["thickness_mm"]) for r in records.values()} == {("foam", 6.0), ("foam", 3.0)}
    thin = [name for name, record in records.items() if record["thickness_mm"] == 3.0]
    areas = []
    for name in thin:
        model = ezdxf.readfile(tmp_path / "small/sheets" / f"{name}.dxf").modelspace()
        areas += [Polygon([p[:2] for p in e.get_points()]).area for e in model.query("LWPOLYLINE[layer=='CUT_OUTER']")]
    assert len(areas) == sum(records[name]["parts"] for name in thin) == document["kit"]["totals"]["tiles"]
    assert max(areas) == pytest.approx(63.2**2, abs=0.5)
    shopping = (tmp_path / "small/shopping.csv").read_text()
    assert "XPS foam sheet, 6 mm" in shopping
    assert "XPS foam sheet, 3 mm" in shopping
    page = (tmp_path / "small/report.html").read_text()
    assert "Cutting from XPS foam sheet, 3 mm" in page
    # A rerun without the second thickness takes its files away.
    assert call("build", small, "--depth", "9 mm", "-o", tmp_path, "-q").returncode == 0
    assert not list((tmp_path / "small/sheets").glob("foam-3mm*"))


def test_stock_of_one_thickness_is_not_used_for_another():
    sizes = {
        "sheet": {"size": [600, 300]},
        "stock": [{"size": [400, 200], "thickness": "3 mm", "count": 1, "price": 2.5}],
        "offcut": [{"name": "K1", "size": [100, 100], "thickness": 3}, {"name": "K2", "size": [90, 90]}],
    }
    data = {**FOAM.model_dump(exclude={"sheet", "stock", "offcut"}), **sizes, "stack": {"thicknesses": ["3 mm"]}}
    material = check(data, MaterialFile, "own.toml")
    thick, thin = (of_thickness(material, t) for t in (6.0, 3.0))
    assert [s.size for s in thick.sizes] == [(600, 300)]
    assert [o.name for o in thick.offcut] == ["K2"]
    assert [s.size for s in thin.sizes] == [(400, 200)]
    assert [o.name for o in thin.offcut] == ["K1"]
    (first, second) = make_sheet_sets([(TILE, 3)], material, WIRE)
    assert {s.drawing.size for s in first.sheets} <= {(600, 300), (90, 90)}
    assert {s.drawing.size for s in second.sheets} <= {(400, 200), (100, 100)}
    with pytest.raises(AnswerIsNo, match="there is too little stock"):
        make_sheet_sets([(TILE, 60)], material, WIRE)


def test_names_kerf_and_verdict_of_another_thickness():
    greyboard, laser = read_material("greyboard"), read_machine("laser")
    thin = of_thickness(greyboard, 1.5)
    assert (thin.name, thin.title) == ("greyboard-1-5mm", "greyboard, 1.5 mm")
    assert laser.kerf_in(thin) == laser.kerf_in(greyboard) == 0.15
    own = laser.model_copy(update={"kerf_by_material": {"greyboard": (0.15, 0.15), "greyboard-1-5mm": (0.1, 0.1)}})
    assert own.kerf_in(thin) == 0.1
    deep = make_tile("deep", single_cell(Cell(), (2, 2)), Grid(base_depth=31.0))
    # Thicker than a hand knife is good for: asked, as for the sheet itself.
    with pytest.raises(InputError, match="thick foam"):
        make_sheet_sets([(deep, 1)], of(25.0), read_machine("hand-knife"), accept="")


def test_stock_alone_is_enough():
    data = FOAM.model_dump(exclude={"sheet", "stock"})
    material = check({**data, "stock": [{"size": [400, 200]}, {"size": [600, 300]}]}, MaterialFile, "own.toml")
    assert [s.size for s in material.sizes] == [(400, 200), (600, 300)]
    with pytest.raises(InputError, match="no sheet of its own thickness"):
        check(data, MaterialFile, "own.toml")
    with pytest.raises(InputError) as caught:
        check({**data, "stock": [{"size": [400, -1]}]}, MaterialFile, "own.toml")
    assert "[[stock]] 1" in str(caught.value)
    assert "sheet" not in MaterialFile.model_json_schema()["required"]
