"""Odd parts: packed by outline where the extra is there, as boxes elsewhere."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

import tilegen.sheets.nesting.odd
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.model.grid import Grid
from tilegen.model.materials import SheetStock
from tilegen.sheets.make import make_sheets
from tilegen.sheets.nesting.layout import Placed, SheetArea
from tilegen.sheets.nesting.odd import OddShape, check_odd, is_odd, nest_odd, placed_outlines, used_length
from tilegen.sheets.sheetset import SheetSet
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, single_cell
from tilegen.tiles.tile import Tile, make_tile

DATA = Path(__file__).parents[1] / "data" / "nesting"
CARD, LASER = read_material("greyboard"), read_machine("laser")
# Densities of the best layouts known to the sparrow repository (see tests/data/nesting): what lies closer overlaps.
RECORDS = {"fu": 0.9240, "jakobs1": 0.8925, "shirts": 0.9092}


def shape(name: str, points: np.ndarray, number: int) -> OddShape:
    def outer(turned: bool, half: bool) -> np.ndarray:
        placed = np.stack([points[:, 1].max() - points[:, 1], points[:, 0]], axis=1) if turned else points
        return placed.max(axis=0) - placed if half else placed

    return OddShape(name, outer, number)


def instance(name: str) -> tuple[list[OddShape], float, bool]:
    found = json.loads((DATA / f"{name}.json").read_text())
    shapes = []
    for item in found["items"]:
        points = 10 * np.array(item["shape"]["data"], dtype=float)[:-1]
        shapes.append(shape(str(item["id"]), points - points.min(axis=0), item["demand"]))
    return shapes, 10 * found["strip_height"], 90.0 in found["items"][0]["allowed_orientations"]


# ESICUP instances fu, jakobs1, shirts as carried by github.com/JeroenGar/sparrow, data/input (MIT).
@pytest.mark.parametrize("name", [pytest.param("fu", marks=pytest.mark.thorough), "jakobs1", "shirts"])
def test_published_sets_lie_close_but_not_closer_than_the_record(name: str) -> None:
    pytest.importorskip("spyrrow")
    shapes, height, may_turn = instance(name)
    area = SheetArea(3000.0, height, 0, 0, may_turn=may_turn)
    (layout,), left = nest_odd(shapes, area)
    assert not any(left)
    outlines = list(placed_outlines(shapes, layout))
    total = sum(outline.area for outline in outlines)
    density = total / (used_length(shapes, layout, area) * height)
    assert 0.70 < density <= RECORDS[name]
    # No overlap by a library's reckoning, and every part is there.
    assert len(outlines) == sum(s.number for s in shapes)
    assert total - shapely.union_all(outlines).area < 1e-3


def cave(seed: int) -> Tile:
    random = np.random.default_rng(seed)
    radii = random.uniform(25, 55, 9)
    points = tuple(
        (round(60 + r * math.cos(-a), 3), round(60 + r * math.sin(-a), 3))
        for r, a in zip(radii, np.linspace(0, 2 * math.pi, 9, endpoint=False), strict=True)
    )
    hole = ((55.0, 55.0), (65.0, 55.0), (65.0, 65.0), (55.0, 65.0))
    return make_tile(f"cave-{seed}", OutlineShape(points, (), (), (hole,) if seed == 0 else ()), Grid())


def made() -> SheetSet:
    tiles = [(cave(seed), 4) for seed in range(4)]
    wall = make_tile("wall", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2)), Grid())
    return make_sheets([*tiles, (wall, 6)], CARD, LASER)


def checked(found: SheetSet) -> None:
    """Every part once, the spacing kept between what is cut, nothing over the margin, holes inside their parts."""
    counts = [0] * len(found.parts)
    for sheet in found.sheets:
        for placed in sheet.layout:
            counts[placed.item] += sheet.copies
        cut = [Polygon(s.points) for s in sheet.drawing.strokes if s.layer == "CUT_OUTER"]
        width, height = sheet.drawing.size
        margin = LASER.margin - 1e-6
        assert all(box(margin, margin, width - margin, height - margin).covers(outline) for outline in cut)
        near = shapely.STRtree(cut).query(cut, predicate="dwithin", distance=LASER.spacing - 1e-6)
        assert (near[0] == near[1]).all()
        finished = [Polygon(s.points) for s in sheet.nominal.strokes if s.layer == "CUT_OUTER"]
        holes = [Polygon(s.points) for s in sheet.nominal.strokes if s.layer == "CUT_INNER"]
        assert all(sum(outline.contains(hole) for outline in finished) == 1 for hole in holes)
    assert counts == [part.count for part in found.parts]


def test_odd_parts_lie_closer_with_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tilegen.sheets.nesting.odd, "can_nest_odd", lambda: False)
    boxes = made()
    checked(boxes)
    assert any("tilegen[nest]" in note.words for note in boxes.notes)
    monkeypatch.undo()
    pytest.importorskip("spyrrow")
    closely = made()
    checked(closely)
    assert not any("tilegen[nest]" in note.words for note in closely.notes)
    assert len(closely.sheets) <= len(boxes.sheets)
    assert [sheet.layout for sheet in made().sheets] == [sheet.layout for sheet in closely.sheets]


def test_holes_move_with_their_part() -> None:
    found = made()
    holed = next(n for n, part in enumerate(found.parts) if part.outline.interiors)
    part = found.parts[holed].outline
    for sheet in found.sheets:
        finished = [Polygon(s.points) for s in sheet.nominal.strokes if s.layer == "CUT_OUTER"]
        for s in sheet.nominal.strokes:
            if s.layer == "CUT_INNER":
                hole = Polygon(s.points)
                outline = next(outline for outline in finished if outline.contains(hole))
                # As far from the outline's corners as in the part.
                wanted = sorted(
                    Polygon(part.interiors[0]).centroid.distance(shapely.Point(p)) for p in part.exterior.coords
                )
                lies = sorted(hole.centroid.distance(shapely.Point(p)) for p in outline.exterior.coords)
                assert sum(wanted[1:-1]) == pytest.approx(sum(lies[1:-1]), rel=0.05)


def test_grain_leaves_only_half_turns() -> None:
    pytest.importorskip("spyrrow")
    points = np.array([(0.0, 0.0), (60.0, 0.0), (0.0, 90.0)])
    area = SheetArea(300, 200, 5, 2, may_turn=False)
    layouts, left = nest_odd([shape("t", points, 12)], area)
    assert not any(left)
    assert not any(p.turned for layout in layouts for p in layout)
    assert any(p.half for layout in layouts for p in layout)
    alike = SheetArea(300, 200, 5, 2, alike=True)
    layouts, _ = nest_odd([shape("t", points, 4)], alike)
    assert len({(p.turned, p.half) for layout in layouts for p in layout}) == 1


def test_the_check_finds_planted_faults() -> None:
    points = np.array([(0.0, 0.0), (60.0, 0.0), (0.0, 60.0)])
    shapes = [shape("t", points, 2)]
    area = SheetArea(300, 200, 5, 2)
    check_odd(shapes, area, [(Placed(0, 5, 5, False), Placed(0, 7, 7, False, True))])
    near = [(Placed(0, 5, 5, False), Placed(0, 6, 6, False, True))]
    with pytest.raises(ValueError, match="too near"):
        check_odd(shapes, area, near)
    with pytest.raises(ValueError, match="margin"):
        check_odd(shapes, area, [(Placed(0, 4, 5, False),)])
    with pytest.raises(ValueError, match="grain"):
        check_odd(shapes, SheetArea(300, 200, 5, 2, may_turn=False), [(Placed(0, 5, 5, True),)])


def test_what_is_odd() -> None:
    assert not is_odd(box(0, 0, 50, 20))
    assert not is_odd(box(0, 0, 63, 38).difference(box(20, -1, 45, 30)))
    assert is_odd(Polygon([(0, 0), (50, 0), (0, 50)]))


def test_small_stock_is_not_overrun() -> None:
    stock = CARD.model_copy(update={"sheet": SheetStock(size=(300.0, 200.0), count=30)})
    found = make_sheets([(cave(1), 6)], stock, LASER)
    checked(found)


def test_very_many_odd_parts_lie_in_their_boxes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Packing hundreds of nets takes minutes: they get their boxes, and a note says so."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: True)
    monkeypatch.setattr("tilegen.sheets.nesting.odd.MOST_PACKED", 0)
    tile = read_profile(find("corner", "profiles"))
    made = make_sheets([(tile, 3)], read_material("card"), read_machine("laser"))
    assert any("the rectangle around them" in note.words for note in made.notes)
