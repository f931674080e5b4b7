"""The front door and what it stands on: each function with nothing, the smallest, the largest and wrong."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

import tilegen
from tests.contract import CASES, content, rooms
from tests.rereading import read_stl
from tilegen.errors import TilegenError
from tilegen.files.plans import read_drawing, read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_machine, read_material, read_printer
from tilegen.files.writing import write_files
from tilegen.fit.figures import figures_on
from tilegen.fit.finder import find_grid
from tilegen.fit.placements import placements_on
from tilegen.model.grid import Grid
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.sheet_pages import page_files
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit
from tilegen.plans.larger import cover_floor, read_kinds
from tilegen.plans.record import kit_json
from tilegen.plans.shelf import Shelf, take_stock
from tilegen.plans.sight import in_sight, visible_from
from tilegen.plans.ways import Way
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.solids.beds import set_out
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.formats import Item
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, single_cell
from tilegen.tiles.tile import make_tile

REFUSED = "refused"
GRID = Grid()
PLAIN = Cell()
WALLED = Cell((WALL, WALL, WALL, WALL))
RING = tuple((40 + 30 * float(np.cos(a)), 40 + 30 * float(np.sin(a))) for a in np.linspace(0, 2 * np.pi, 97)[:-1])
FOAM, KNIFE, PRINTER = read_material("foam"), read_machine("hand-knife"), read_printer("fdm-220")


@cache
def plan(side):
    """A plan of rooms of 5 x 5 cells, as the commands' table has it; 1: a single cell; 0: ground alone."""
    return drawing({0: ".", 1: "A"}.get(side) or rooms(side))


def drawing(text, **more):
    words = {"name": "p", "scale": "10 ft", "grid": GRID, "titles": {}, "rooms": read_drawing(text), **more}
    return draw(**words)


@cache
def kit(side):
    return make_kit(plan(side))


def tile(cell=PLAIN, spaces=(2, 2), grid=GRID):
    return make_tile("t", single_cell(cell, spaces), grid)


@cache
def mesh(cell=PLAIN, spaces=(2, 2)):
    return build_mesh("t", tile(cell, spaces).plates)


def outline(*, walls=(), holes=(), points=RING):
    return make_tile("t", OutlineShape(tuple(points), walls=tuple(walls), holes=tuple(holes)), GRID)


@cache
def sheets(copies, cell=PLAIN):
    return make_sheets([(tile(cell), copies)] if copies else [], FOAM, KNIFE)


def written(name):
    Path(name).write_bytes(content(name))
    return Path(name)


def rows():
    """Function -> for each case a call, and what it must give: REFUSED, or a test of the result."""
    other = Shelf({"closed": -1})
    flat = Mesh("t", np.zeros((0, 3)), np.zeros((0, 3), np.uint32), 0.0)
    lost = Mesh("t", np.full((3, 3), np.nan), np.array([[0, 1, 2]], np.uint32), 0.0)
    return {
        "Grid": (
            (lambda: Grid(pitch=0).check(), REFUSED),
            (lambda: Grid(pitch=12, wall_thickness=2, joint_play=0).check(), lambda r: r is None),
            (lambda: Grid(pitch=1000).check(), lambda r: r is None),
            (lambda: Grid(pitch=float("nan")).check(), REFUSED),
        ),
        "single_cell": (
            (lambda: tile(spaces=(0, 0)), REFUSED),
            (lambda: tile(spaces=(1, 1)), lambda r: len(r.plates) == 1),
            (lambda: tile(WALLED, (60, 60)), lambda r: r.volume > 60**2 * 31.45**2 * 6),
            (lambda: tile(spaces=(-1, 2)), REFUSED),
        ),
        "OutlineShape": (
            (lambda: outline(points=()), REFUSED),
            (lambda: outline(points=((0, 0), (40, 0), (0, 40))), lambda r: 4000 < r.volume < 5080),
            (lambda: outline(walls=range(1, 97)), lambda r: len(r.plates) > 1),
            (lambda: outline(points=((0, 0), (50, 50), (50, 0), (0, 50))), REFUSED),
        ),
        "a tile of a shape": (
            (lambda: outline(points=((0, 0), (9, 9))), REFUSED),
            (lambda: tile(PLAIN, (0.5, 0.5)), lambda r: r.id),
            (lambda: tile(Cell((WALL, OPEN, OPEN, OPEN)), (40, 2)), lambda r: r.id),
            (lambda: outline(walls=(97,)), REFUSED),
        ),
        "make_opening": (
            (lambda: make_opening(0, GRID), REFUSED),
            (lambda: make_opening(31.75, GRID), lambda r: 0 < r.width <= 31.75 - 6.35),
            (lambda: make_opening(63.5, GRID, width=57.15, height=38.1), lambda r: r.width == 57.15),
            (lambda: make_opening(63.5, GRID, head="oval"), REFUSED),
        ),
        "read_profile": (
            (lambda: read_profile(written("nothing.toml")), REFUSED),
            (lambda: read_profile(written("tile.toml")), lambda r: r.name == "t"),
            (lambda: read_profile(written("wide.toml")), lambda r: len(r.plates) > 3),
            (lambda: read_profile(Path("nowhere.toml")), REFUSED),
        ),
        "read_plan": (
            (lambda: read_plan(written("nothing.toml")), REFUSED),
            (lambda: read_plan(written("plan.toml")), lambda r: r.rooms.shape == (1, 1)),
            (lambda: read_plan(written("200.toml")), lambda r: r.rooms.shape == (200, 200)),
            (lambda: read_plan(written("rubbish.toml")), REFUSED),
        ),
        "draw": (
            (lambda: drawing("A", rooms=np.zeros((0, 0), np.uint32)), REFUSED),
            (lambda: drawing("A"), lambda r: r.rooms.shape == (1, 1)),
            (lambda: drawing(rooms(200)), lambda r: r.across.shape == (201, 200)),
            (lambda: drawing("A", ways=[Way((9, 9), "east", "open")]), REFUSED),
        ),
        "make_kit": (
            (lambda: make_kit(plan(0)), REFUSED),
            (lambda: kit(1), lambda r: r.tiles == 1),
            (lambda: make_kit(plan(200)), lambda r: r.tiles == np.count_nonzero(plan(200).rooms)),
            (lambda: make_kit(plan(1), (5, 5)), REFUSED),
        ),
        "kit_json": (
            (lambda: "".join(kit_json(make_kit(plan(0)))), REFUSED),
            (lambda: json.loads("".join(kit_json(kit(1)))), lambda r: r["totals"] == {"tiles": 1, "types": 1}),
            (lambda: json.loads("".join(kit_json(kit(200)))), lambda r: r["totals"]["tiles"] == kit(200).tiles),
            (lambda: json.loads("".join(kit_json(kit(1), {"of no tile": {"own": 1}}))), lambda r: "of no tile" not in str(r)),
        ),
        "cover_floor": (
            (lambda: cover_floor(plan(0), read_kinds("2x2")), REFUSED),
            (lambda: cover_floor(plan(1), ()), lambda r: r.pieces == 1),
            (lambda: cover_floor(plan(80), read_kinds("2x1, 2x2")), lambda r: r.least <= r.pieces < r.squares),
            (lambda: cover_floor(plan(1), read_kinds("9x9x9")), REFUSED),
        ),
        "in_sight": (
            (lambda: in_sight(plan(0), make_kit(plan(0))), REFUSED),
            (lambda: in_sight(plan(1), kit(1)), lambda r: r.most == (1,)),
            (lambda: in_sight(plan(200), kit(200)), lambda r: 25 <= r.most_tiles <= 50),
            (lambda: in_sight(plan(1), kit(200)), REFUSED),
        ),
        "visible_from": (
            (lambda: visible_from(plan(0), (1, 1)), REFUSED),
            (lambda: visible_from(plan(1), (1, 1)), lambda r: r.tolist() == [[True]]),
            (lambda: visible_from(plan(200), (1, 1)), lambda r: r.sum() == 25),
            (lambda: visible_from(plan(1), (0, 0)), REFUSED),
        ),
        "take_stock": (
            (lambda: take_stock(kit(1), Shelf()), lambda r: [s.own for s in r.tiles] == [0]),
            (lambda: take_stock(kit(1), Shelf({"closed": 1})), lambda r: [s.own for s in r.tiles] == [1]),
            (lambda: take_stock(kit(200), Shelf({t.name: 10**6 for t in kit(200).types})), lambda r: {s.own for s in r.tiles} == {10**6}),
            (lambda: take_stock(kit(1), other), REFUSED),
        ),
        "figures_on": (
            (lambda: figures_on(plan(1), []), lambda r: r == ()),
            (lambda: figures_on(plan(1), [25.4]), lambda r: r[0].stands == 4),
            (lambda: figures_on(plan(200), [25.4, 50.8, 101.6]), lambda r: r[0].stands > r[1].stands > r[2].stands > 0),
            (lambda: figures_on(plan(1), [0]), REFUSED),
        ),
        "placements_on": (
            (lambda: placements_on(plan(0), make_kit(plan(0))), REFUSED),
            (lambda: placements_on(plan(1), kit(1)), lambda r: [p.clash_area for p in r] == [0] * 4),
            (lambda: placements_on(plan(200), kit(200)), lambda r: len(r) == 4),
            (lambda: placements_on(plan(1), kit(200)), REFUSED),
        ),
        "find_grid": (
            (lambda: find_grid([], wall=6.35), REFUSED),
            (lambda: find_grid([25.4], wall=6.35), lambda r: r.done),
            (lambda: find_grid([float(n) for n in range(1, 400)], wall=6.35), lambda r: r.pitch > 25.4),
            (lambda: find_grid([-1], wall=6.35), REFUSED),
        ),
        "build_mesh": (
            (lambda: build_mesh("t", ()), REFUSED),
            (lambda: build_mesh("t", tile(PLAIN, (0.5, 0.5)).plates), lambda r: r.volume > 0),
            (lambda: build_mesh("t", tile(WALLED, (40, 40)).plates), lambda r: read_stl(stl_bytes(r))),
            (lambda: build_mesh("t", (replace(tile().base, foot=Polygon()),)), REFUSED),
        ),
        "stl_bytes": (
            (lambda: stl_bytes(flat), REFUSED),
            (lambda: stl_bytes(mesh(PLAIN, (0.5, 0.5))), read_stl),
            (lambda: stl_bytes(mesh(WALLED, (40, 40))), read_stl),
            (lambda: stl_bytes(lost), REFUSED),
        ),
        "set_out": (
            (lambda: set_out([], PRINTER), lambda r: r == []),
            (lambda: set_out([(mesh(), 1)], PRINTER), lambda r: len(r) == 1),
            (lambda: set_out([(mesh(), 5000)], PRINTER), lambda r: sum(map(len, r)) == 5000),
            (lambda: set_out([(mesh(), -1)], PRINTER), REFUSED),
        ),
        "threemf_bytes": (
            (lambda: threemf_bytes([], []), lambda r: r[:2] == b"PK"),
            (lambda: threemf_bytes([mesh()], [Item("t", 0, 0)]), lambda r: r[:2] == b"PK"),
            (lambda: threemf_bytes([mesh()], [Item("t", n * 80.0, 0) for n in range(5000)]), lambda r: len(r) > 10_000),
            (lambda: threemf_bytes([mesh()], [Item("of no mesh", 0, 0)]), REFUSED),
        ),
        "make_sheets": (
            (lambda: sheets(0), lambda r: r.sheets == ()),
            (lambda: sheets(1), lambda r: len(r.sheets) == 1),
            (lambda: sheets(300), lambda r: r.count >= 300 * 63.2**2 / (590 * 290)),
            (lambda: make_sheets([(tile(PLAIN, (40, 40)), 1)], FOAM, KNIFE), REFUSED),
        ),
        "sheet_files": (
            (lambda: sheet_files(sheets(0)), lambda r: not [name for name in r if name.endswith(".dxf")]),
            (lambda: sheet_files(sheets(1)), lambda r: {"foam-01.dxf", "foam-parts.csv"} <= set(r)),
            (lambda: sheet_files(sheets(300)), lambda r: len([n for n in r if n.endswith(".dxf")]) == len(sheets(300).sheets)),
            (lambda: page_files(sheets(1), paper="A9"), REFUSED),
        ),
        "layout_canvas": (
            (lambda: layout_canvas(plan(0), make_kit(plan(0))).svg(), REFUSED),
            (lambda: layout_canvas(plan(1), kit(1)).svg(), lambda r: r.rstrip().endswith("</svg>")),
            (lambda: layout_canvas(plan(40), kit(40)).svg(), lambda r: r.rstrip().endswith("</svg>")),
            (lambda: layout_canvas(plan(1), kit(1), units="parsecs").svg(), REFUSED),
        ),
        "solid_png": (
            (lambda: solid_png(np.zeros((0, 3)), np.zeros((0, 3), int)), REFUSED),
            (lambda: solid_png(np.eye(3), [[0, 1, 2]]), lambda r: r[1:4] == b"PNG"),
            (lambda: solid_png(mesh(WALLED, (12, 12)).vertices, mesh(WALLED, (12, 12)).triangles), lambda r: r[1:4] == b"PNG"),
            (lambda: solid_png(np.eye(3), [[0, 1, 7]]), REFUSED),
        ),
        "make_plan": (
            (tilegen.make_plan, REFUSED),
            (lambda: tilegen.make_plan(name="p", drawing="A"), lambda r: r.rooms.shape == (1, 1)),
            (lambda: tilegen.make_plan(name="p", drawing=rooms(200)), lambda r: r.rooms.shape == (200, 200)),
            (lambda: tilegen.make_plan(name="p", drawing="A", way=[{"kind": "door"}]), REFUSED),
        ),
        "make_tile": (
            (tilegen.make_tile, REFUSED),
            (lambda: tilegen.make_tile(name="t", tile={"size": [0.5, 0.5]}), lambda r: r.id),
            (lambda: tilegen.make_tile(name="t", tile={"size": [40, 2], "walls": ["north"]}), lambda r: r.id),
            (lambda: tilegen.make_tile(name="t", tile={"size": [2, 2], "walls": ["up"]}), REFUSED),
        ),
        "read_tile": (
            (lambda: tilegen.read_tile(written("nothing.toml")), REFUSED),
            (lambda: tilegen.read_tile(written("tile.toml")), lambda r: r.name == "t"),
            (lambda: tilegen.read_tile(written("wide.toml")), lambda r: len(r.plates) > 3),
            (lambda: tilegen.read_tile("nowhere"), REFUSED),
        ),
        "fit_figures": (
            (lambda: tilegen.fit_figures(plan(1)), lambda r: r == ()),
            (lambda: tilegen.fit_figures(plan(1), "1 in"), lambda r: r[0].stands == 4),
            (lambda: tilegen.fit_figures(plan(200), 25.4, "large"), lambda r: r[0].stands > r[1].stands > 0),
            (lambda: tilegen.fit_figures(plan(1), "enormous"), REFUSED),
        ),
        "make_solid": (
            (lambda: tilegen.make_solid(replace(tile(), plates=())), REFUSED),
            (lambda: tilegen.make_solid(tile(PLAIN, (0.5, 0.5))), lambda r: r.volume > 0),
            (lambda: tilegen.make_solid(tile(WALLED, (40, 40))), lambda r: read_stl(stl_bytes(r))),
            (lambda: tilegen.make_solid(replace(tile(), plates=(replace(tile().base, foot=Polygon()),))), REFUSED),
        ),
        "build": (
            (lambda: tilegen.build(plan(0), "out"), REFUSED),
            (lambda: tilegen.build(plan(1), "out"), lambda r: len(r.solids) == 1 and Path("out/report.html").is_file()),
            (lambda: tilegen.build(tile(WALLED), "out"), lambda r: r.sheets and r.cautions),
            (lambda: tilegen.build(plan(1), "out", tilegen.Tools(machine="axe")), REFUSED),
        ),
        "write_files": (
            (lambda: write_files(Path("out"), {}), lambda r: r == []),
            (lambda: write_files(Path("out"), {"a.csv": b""}), lambda r: Path("out/a.csv").read_bytes() == b""),
            (lambda: write_files(Path("out"), {f"{n}.csv": b"x" for n in range(500)}), lambda r: len([*Path("out").glob("*.csv")]) == 500),
            (lambda: write_files(Path("out"), {"../a.csv": b""}), REFUSED),
        ),
    }  # fmt: skip


ROWS = rows()


def test_every_function_of_the_front_door_has_a_row():
    named = {name for name in tilegen.__all__ if name[0].islower()}
    assert named <= set(ROWS), named - set(ROWS)


@pytest.mark.parametrize("function", ROWS)
def test_the_public_functions(function, tmp_path, monkeypatch):
    for case, (call, expected) in zip(CASES, ROWS[function], strict=True):
        folder = tmp_path / case
        folder.mkdir()
        monkeypatch.chdir(folder)
        if expected is REFUSED:
            with pytest.raises((TilegenError, ValueError)) as refusal:
                call()
            assert len(str(refusal.value)) > 10, case
            assert not [p for p in folder.rglob("*") if p.suffix not in {".toml"}], case
        else:
            assert expected(call()), case
