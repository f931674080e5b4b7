"""Strips right across a sheet, each cut across: cutting stock with a bound, few different sheets, and a replay."""

from __future__ import annotations

import csv
import io
import itertools
import math
from collections import Counter

import ezdxf
import numpy as np
import pytest
from scipy.optimize import linprog
from shapely.geometry import Polygon

from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.making.things import things_of
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files, sheet_records
from tilegen.sheets.nesting.layout import Placed, Rectangle, SheetArea, area_bound
from tilegen.sheets.nesting.odd import OddShape, nest_beside
from tilegen.sheets.nesting.rectangles import set_out
from tilegen.sheets.nesting.stocking import Blank, Rules
from tilegen.sheets.nesting.strips import best_filling, in_strips, least_sheets
from tilegen.tiles.shape import WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile

KNIFE = read_machine("hand-knife")

# The paper mill of the encyclopedia's article "Cutting stock problem" (from memory): rolls of 5,600 mm, width and
# number. 73 rolls are the fewest, with 0.401 % of waste, and 10 patterns the fewest that do with 73.
MILL = {
    1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20,
    2000: 10, 2050: 12, 2100: 14, 2140: 16, 2150: 18, 2200: 20,
}  # fmt: skip
ROLL = SheetArea(5600, 1, 0, 0, may_turn=False)


def test_the_paper_mill_takes_73_rolls():
    assert 1 - sum(w * n for w, n in MILL.items()) / (73 * 5600) == pytest.approx(0.00401, abs=5e-6)
    items = [Rectangle(str(width), width, 1, number) for width, number in MILL.items()]
    found = in_strips(items, ROLL)
    assert found is not None
    assert (found.least, len(found.trees), sum(found.left)) == (73, 73, 0)
    assert least_sheets(items, ROLL, 74) == 73
    assert 10 <= len(set(found.trees)) <= 14
    made = Counter(s.content.item for tree in found.trees for strip in tree.slices for s in strip.content.slices)
    assert [made[n] for n in range(len(items))] == list(MILL.values())
    assert all(sum(s.size for s in strip.content.slices) <= 5600 for tree in found.trees for strip in tree.slices)


@pytest.mark.parametrize("seed", range(6))
def test_the_bound_is_that_of_every_pattern_there_is(seed):
    """Gilmore and Gomory generate patterns; with few sizes all can be written down (OR 9, 1961; from memory)."""
    random = np.random.default_rng(seed)
    lengths = sorted(random.choice(np.arange(11, 50), 5, replace=False).tolist())
    numbers = random.integers(3, 60, 5).tolist()
    every = [p for p in itertools.product(*(range(min(n, 100 // w) + 1) for w, n in zip(lengths, numbers, strict=True)))
             if any(p) and sum(w * n for w, n in zip(lengths, p, strict=True)) <= 100]  # fmt: skip
    value = linprog(np.ones(len(every)), A_ub=-np.array(every).T, b_ub=-np.array(numbers)).fun
    items = [Rectangle(str(w), w, 1, n) for w, n in zip(lengths, numbers, strict=True)]
    found = in_strips(items, SheetArea(100, 1, 0, 0, may_turn=False))
    assert found is not None
    assert found.least == math.ceil(value - 1e-6)
    # Rounding up the answer of the linear programme costs less than a roll for each size; mostly it costs none or one.
    assert found.least <= len(found.trees) <= found.least + 1
    assert not any(found.left)


@pytest.mark.parametrize("seed", range(20))
def test_the_best_filling_of_a_strip(seed):
    """The knapsack against all that there is to try."""
    random = np.random.default_rng(seed)
    lengths, values = random.integers(5, 40, 4).tolist(), random.random(4).round(3).tolist()
    most, room = random.integers(0, 5, 4).tolist(), int(random.integers(4, 90))
    tries = itertools.product(*(range(n + 1) for n in most))
    best = max(
        sum(v * n for v, n in zip(values, t, strict=True))
        for t in tries
        if sum(w * n for w, n in zip(lengths, t, strict=True)) <= room
    )
    found = best_filling(values, lengths, most, room)
    assert found.value == pytest.approx(best) == pytest.approx(found.limit)
    assert sum(w * n for w, n in zip(lengths, found.counts, strict=True)) <= room


def kit(seed):
    random = np.random.default_rng(seed)
    sides = random.choice([6.0, 12.7, 31.45, 38.1, 57.0, 63.0, 63.2], size=(random.integers(2, 8), 2))
    return [Rectangle(f"p{n}", float(w), float(h), int(random.integers(1, 90))) for n, (w, h) in enumerate(sides)]


@pytest.mark.parametrize("seed", range(4))
def test_never_more_sheets_than_without_strips(seed, capfd):
    items = kit(seed)
    plain = set_out(items, SheetArea(600, 300, 5, 0), edge_to_edge=True)
    area = SheetArea(600, 300, 5, 0, far=3.0)
    found = set_out(items, area, edge_to_edge=True, strips=True)
    assert area_bound(items, area) <= len(found.layouts) <= len(plain.layouts)
    assert found == set_out(items, area, edge_to_edge=True, strips=True)
    # The solver's own words would spoil what a command writes there.
    assert capfd.readouterr().out == ""


def followed(tree, corner, size):
    """Every part as its item and its rectangle, cut by hand: marks from two edges, strips first, then across."""
    if not hasattr(tree, "slices"):
        yield tree.item, tree.turned, (*corner, *size)
        return
    across = tree.axis
    mark = corner[across]
    for piece in [*tree.slices, None]:
        end = corner[across] + size[across]
        if piece is None:
            if tree.rest is None:
                return
            content, wide = tree.rest, end - mark
        else:
            content, wide = piece.content, piece.size
            assert mark + wide <= end + 1e-6, "a mark beyond the edge"
        place, part = list(corner), list(size)
        place[across], part[across] = mark, wide
        yield from followed(content, place, part)
        mark += wide


@pytest.mark.parametrize(
    ("plan", "material"),
    [("bell-foundry", "foam"), ("bell-foundry", "greyboard"), ("lamp-cellars", "greyboard"), ("hill-shrine", "foam")],
)
def test_marks_from_two_edges_give_every_part(plan, material, monkeypatch):
    """Shipped plans by knife and ruler: 5 mm trimmed off two edges, 3 mm left at the others."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)
    made = make_sheets(things_of(make_kit(read_plan(find(plan, "plans")))), read_material(material), KNIFE)
    assert made.saw is not None
    assert [s.copies for s in made.saw.starts] == [s.copies for s in made.sheets]
    found = Counter()
    for start, sheet in zip(made.saw.starts, made.sheets, strict=True):
        width, height = start.size
        assert start.tree.axis == 1, "strips run along the longer side"
        # A tree that ends in its parts: what they leave over is cut off by marks at their size.
        for item, turned, (x, y, wide, high) in followed(start.tree, (5.0, 5.0), (width - 5.0, height - 5.0)):
            west, south, east, north = made.parts[item].outline.bounds
            sides = (north - south, east - west) if turned else (east - west, north - south)
            assert wide >= sides[0] - 1e-6
            assert high >= sides[1] - 1e-6
            assert x + sides[0] <= width - 3 + 1e-6
            assert y + sides[1] <= height - 3 + 1e-6
            found[item] += start.copies
        places = [(p.item, round(p.x, 6), round(p.y, 6)) for p in sheet.layout]
        assert len(set(places)) == len(places)
    assert found == Counter({n: part.count for n, part in enumerate(made.parts)})
    if plan == "bell-foundry":
        # Two stages: every part fills its strip.
        strips = [strip.content for start in made.saw.starts for strip in start.tree.slices]
        assert all(not hasattr(piece.content, "slices") for strip in strips for piece in getattr(strip, "slices", ()))
        fewest = {"foam": 4, "greyboard": 8}[material]
        assert made.count == fewest
        assert any(f"fewer than {fewest} sheets; this one takes {fewest}" in note.words for note in made.notes)


ROOM = make_tile("room", single_cell(Cell((WALL, WALL, WALL, WALL)), (2, 2)), Grid())


@pytest.mark.parametrize("machine", ["hand-knife", "hot-wire", "laser"])
def test_sheets_that_are_alike_are_one_file_with_a_number(machine):
    material = read_material("greyboard" if machine == "laser" else "foam")
    made = make_sheets([(ROOM, 300)], material, read_machine(machine))
    assert made.count > 3 * len(made.sheets)
    parts = Counter(p.item for s in made.sheets for _ in range(s.copies) for p in s.layout)
    assert parts == Counter({n: part.count for n, part in enumerate(made.parts)})
    files, records = sheet_files(made), sheet_records(made)
    assert audit_sheets(made, files) == []
    assert len([name for name in files if name.endswith(".dxf")]) == len(records) == len(made.sheets)
    assert [sheet.name for sheet in made.sheets] == [f"{material.name}-{n:02d}" for n in range(1, len(records) + 1)]
    assert sum(record["copies"] for record in records) == made.count == sum(made.new_sheets.values())
    assert sum(r["copies"] * r["parts"] for r in records) == sum(part.count for part in made.parts)
    rows = list(csv.DictReader(io.StringIO(files[f"{material.name}-operations.csv"].decode())))
    assert {(row["sheet"], int(row["copies"])) for row in rows} == {(s.name, s.copies) for s in made.sheets}
    area = 0.0
    for sheet in made.sheets:
        document = ezdxf.read(io.StringIO(files[f"{sheet.name}.dxf"].decode()))
        if sheet.copies > 1:
            assert f"{sheet.copies} sheets are cut like this one" in str(document.header.custom_vars.properties)
            assert sheet.words == f"{sheet.name} x {sheet.copies}"
        outlines = [Polygon(e.get_points("xy")) for e in document.modelspace().query("LWPOLYLINE[layer=='CUT_OUTER']")]
        area += sheet.copies * sum(outline.area for outline in outlines)
    if made.saw is not None:
        assert sum(start.copies for start in made.saw.starts) == made.count
    if not made.kerf:
        assert area == pytest.approx(sum(p.outline.area * p.count for p in made.parts))


def test_odd_outlines_lie_free_where_that_takes_fewer_sheets(monkeypatch):
    """Eight right-angled triangles, of which two boxes fill a sheet: four sheets in boxes, two if they lie in pairs."""
    corners = np.array([(0.0, 0.0), (95.0, 0.0), (0.0, 95.0)])

    def outer(turned, half):
        points = corners[:, ::-1] * (-1, 1) if turned else corners
        points = -points if half else points
        return points - points.min(axis=0)

    pair = (Placed(0, 5, 5, turned=False), Placed(0, 8, 8, turned=False, half=True))
    four = (*pair, *(p._replace(x=p.x + 101) for p in pair))
    asked = []

    def packed(shapes, area, most=None):
        asked.append((shapes, area))
        return [four, four], [0, 0]

    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: True)
    monkeypatch.setattr("tilegen.sheets.nesting.odd.nest_odd", packed)
    items = [Rectangle("t", 95, 95, 8), Rectangle("w", 60, 20, 4)]
    shapes = [OddShape("t", outer, 8), OddShape("w", outer, 4)]
    rules = Rules(5, 0, edge_to_edge=True, strips=True, far=3)
    boxes = nest_beside(items, shapes, [], [Blank(215, 115)], rules, spacing=2)
    assert len(boxes) == 5
    assert asked == []
    laid = nest_beside(items, shapes, [0], [Blank(215, 115)], rules, spacing=2)
    # The library gets the triangles alone, with room for a knife between them and on all sides.
    ((wanted, area),) = asked
    assert [shape.number for shape in wanted] == [8, 0]
    assert (area.spacing, area.usable) == (2, (205, 105))
    assert [on.layout for on in laid[:2]] == [four, four]
    assert [on.tree is None for on in laid] == [True, True, False]
    assert [p.item for p in laid[2].layout] == [1] * 4
