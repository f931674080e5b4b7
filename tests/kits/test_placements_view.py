"""Pictures of the four ways to place a wall, and the laying that they show."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from tests.fitviews import demo, shapes, words, worked
from tests.plans import furnished, plan
from tilegen.fit.placements import NAMES, WallPlacement, best_laying, placements_on, worst_gap
from tilegen.pictures.canvas import Area
from tilegen.pictures.placements_view import LaidPiece, choose_window, placements_canvas
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay

REFERENCE_SIDE, REFERENCE_WALL = 50.8, 12.7


@settings(max_examples=20, deadline=None)
@given(furnished())
def test_the_best_laying_keeps_the_contracts_conditions(made):
    drawing = plan(*made)
    kit = make_kit(drawing)
    lines = drawing.stands[drawing.down[:, 1:-1]], drawing.stands[drawing.across[1:-1]]
    laying, z = best_laying(lay(drawing, kit).tile_of, *lines, 25.4), worst_gap(drawing, kit, 25.4)
    assert laying.gap == pytest.approx(z, abs=1e-6)
    tile_of = lay(drawing, kit).tile_of
    stands = np.array([kind.facts.stands for kind in drawing.kinds])
    for (r, c), i in np.ndenumerate(tile_of):
        for dr, dc, along, across in ((0, 1, laying.x, laying.y), (1, 0, laying.y, laying.x)):
            if i < 0 or r + dr >= tile_of.shape[0] or c + dc >= tile_of.shape[1] or tile_of[r + dr, c + dc] < 0:
                continue
            j = tile_of[r + dr, c + dc]
            line = (drawing.down if dc else drawing.across)[r + dr, c + dc]
            gap = along[j] - along[i] - (25.4 if stands[line] else 0.0)
            assert -1e-4 <= gap <= z + 1e-4
            assert across[i] == across[j]


def test_a_plan_that_closes_is_pushed_by_its_walls_only():
    # A row of three rooms: nothing ties them, so each wall pushes by its two thicknesses and no gap is left.
    laying = best_laying(np.array([[0, 1, 2]], np.int32), np.array([[True, True]]), np.zeros((0, 3), bool), 25.4)
    assert laying.gap == 0.0
    assert laying.x.tolist() == [0.0, 25.4, 50.8]
    assert laying.y.tolist() == [0.0, 0.0, 0.0]


def planted():
    """Two halls that share a wall and open into a third room, far off in a plan of rooms that share none."""
    rows = [["."] * 24 for _ in range(20)]
    for r in range(0, 20, 4):
        for c in range(0, 24, 4):
            rows[r][c] = rows[r][c + 1] = "A"
    for r, c, room in [(9, 14, "B"), (9, 15, "B"), (10, 14, "C"), (10, 15, "C"), (9, 16, "D"), (10, 16, "D")]:
        rows[r][c] = room
    ways = {(16, 10, "east"): "open", (16, 11, "east"): "open"}
    return plan(["".join(row) for row in rows], ways)


def test_the_window_shows_the_halls_that_share_a_wall():
    drawing = planted()
    window = choose_window(drawing, make_kit(drawing))
    rows, columns = window.shape
    assert rows <= 3
    assert columns <= 4
    assert window.left <= 14
    assert window.left + columns > 16
    assert window.top <= 9
    assert window.top + rows > 10
    assert window.laying(25.4).gap == pytest.approx(25.4)


def test_a_window_at_5_ft_cuts_no_tile():
    drawing, kit = demo("lamp-cellars")
    window = choose_window(drawing, kit)
    rows, columns = window.shape
    tile_of = lay(drawing, kit).tile_of
    here = tile_of[window.top : window.top + rows, window.left : window.left + columns]
    outside = tile_of.copy()
    outside[window.top : window.top + rows, window.left : window.left + columns] = -1
    assert rows <= 6
    assert columns <= 8
    assert not set(here[here >= 0].tolist()) & set(outside[outside >= 0].tolist())


def pieces():
    drawing, kit = worked()
    window = choose_window(drawing, kit)
    placements = placements_on(drawing, kit)
    as_drawn = {p.name: LaidPiece(window, p) for p in placements}
    pushed = {p.name: LaidPiece(window, p, window.laying(25.4)) for p in placements if p.name.startswith("out")}
    return as_drawn, pushed


def test_walls_beside_tiles_clash_on_the_area_of_the_contract():
    as_drawn, _ = pieces()
    for name in ("outboard", "outboard-half-step"):
        clashing = [bar.box for bar in as_drawn[name].bars if bar.clash]
        # The window holds every wall that two tiles share: ten sides.
        assert sum(box.area for box in clashing) == pytest.approx(10 * REFERENCE_SIDE * REFERENCE_WALL)
    for name in ("inset", "on-square"):
        piece = as_drawn[name]
        assert not any(bar.clash for bar in piece.bars)
        floor = shapely.union_all(piece.tiles).buffer(1e-9)
        assert all(floor.covers(bar.box) for bar in piece.bars)


def test_pushed_tiles_clear_each_others_walls_and_leave_the_gap():
    _, pushed = pieces()
    for piece in pushed.values():
        standing = [bar.box for bar in piece.bars]
        floors = shapely.union_all(piece.tiles)
        assert floors.area == pytest.approx(sum(tile.area for tile in piece.tiles))
        assert max(box.intersection(floors).area for box in standing) < 1e-3
        gaps = piece.gaps()
        widths = [g.box.bounds[2] - g.box.bounds[0] if g.level else g.box.bounds[3] - g.box.bounds[1] for g in gaps]
        assert widths == [pytest.approx(25.4, abs=1e-4)]
        assert shapely.union_all([*standing, floors]).intersection(gaps[0].box).area < 1e-3


def test_the_large_base_stands_where_the_contract_says():
    as_drawn, pushed = pieces()
    stands = {name: piece.stand(50.8) for name, piece in (as_drawn | pushed).items()}
    assert {name: stand.stands for name, stand in stands.items()} == {
        "inset": True,
        "on-square": False,
        "outboard": True,
        "outboard-half-step": True,
    }
    inset = as_drawn["inset"]
    walls = shapely.union_all([bar.box for bar in inset.bars] + inset.posts)
    assert walls.distance(shapely.Point(stands["inset"].x, stands["inset"].y)) >= 25.4 - 1e-6


def test_printed_squares_are_whole_or_shifted_by_half():
    as_drawn, _ = pieces()
    for name, offset in (("outboard", 0.0), ("outboard-half-step", 12.7)):
        at = {round(float(line[0, 0]), 6) for line in as_drawn[name].lines() if line[0, 0] == line[1, 0]}
        assert {round((x - offset) / 25.4, 6) % 1 for x in at} == {0.0}


def test_the_page_has_four_captions_with_the_numbers_of_the_whole_map():
    drawing, kit = worked()
    found = words(placements_canvas(drawing, kit, placements_on(drawing, kit)))
    assert {"Inset", "On the squares", "Outboard", "Outboard, half a step"} <= set(found)
    assert found.count("Whole map: walls clash on 6451.6 sq mm; worst gap 25.4 mm") == 2
    assert found.count("Whole map: no wall clashes; no gap: it closes") == 2
    assert sum("hall keeps 50.8 mm clear" in text for text in found) == 3
    assert "25.4 mm" in found  # the crack's own width


def test_polygons_of_one_area_never_cover_each_other():
    """Where they do, the even-odd rule leaves holes in the SVG."""
    for drawing, kit in (demo("bell-foundry"), demo("lamp-cellars")):
        for area in shapes(placements_canvas(drawing, kit, placements_on(drawing, kit)), Area):
            polygons = [shapely.Polygon(rings[0], rings[1:]) for rings in area.polygons]
            assert sum(p.area for p in polygons) == pytest.approx(shapely.union_all(polygons).area, rel=1e-6)


def test_a_plan_without_a_shared_wall_is_drawn_too():
    drawing = plan(["A"])
    kit = make_kit(drawing)
    found = words(placements_canvas(drawing, kit, placements_on(drawing, kit)))
    assert "Pushed apart until the walls fit: it closes" in found
    tiny = plan(["AB"], scale="5 ft")
    assert placements_canvas(tiny, make_kit(tiny), placements_on(tiny, make_kit(tiny))).png(1.0)


def test_placement_names_are_all_drawn():
    drawing, kit = worked()
    window = choose_window(drawing, kit)
    for name in NAMES:
        assert LaidPiece(window, WallPlacement(name, 25.4, 12.7, 0.0, 0.0, 0.0)).bars
