"""What stands on a floor, part by part: corners that touch, drums, names, and where blocks meet walls."""

import math
from itertools import pairwise

import pytest
from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.geometry import polygons_of
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.blocks import Block, Extra, in_order
from tilegen.tiles.floor import ROUND_CORNERS, check_corners, drum
from tilegen.tiles.plate import Plate
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid(floor=Floor(lines=False))
CENTRE = GRID.pitch


def block(name, foot, bottom=0.0, top=10.0):
    return Plate(name, "dais", box(*foot), bottom, top)


def touching():
    """Pairs of boxes that meet at (10, 10), in both diagonals and both orders."""
    pairs = [((0, 0, 10, 10), (10, 10, 15, 18)), ((10, 3, 12, 10), (4, 10, 10, 11))]
    return [*pairs, *(pair[::-1] for pair in pairs)]


def test_parts_that_touch_along_an_upright_edge_are_refused_with_the_place():
    for heights in [(0.0, 10.0), (4.0, 12.0), (-5.0, 2.0)]:
        for first, second in touching():
            with pytest.raises(InputError, match=r"touch only at a corner, \(10, 10\) mm") as error:
                check_corners([block("a", first), block("b", second, *heights)])
            assert "move it" in error.value.cure


def test_parts_that_touch_at_different_heights_share_a_side_or_stand_apart_are_made():
    here = block("a", (0, 0, 10, 10))
    check_corners([here, block("b", (10, 10, 15, 15), 10.0, 20.0)])
    check_corners([here, block("b", (10, 5, 15, 15))])
    check_corners([here, block("b", (10.1, 10.1, 15, 15))])
    check_corners([here])
    # A third one fills the gap.
    check_corners([here, block("b", (10, 10, 15, 15)), block("c", (10, 0, 15, 10))])


def test_a_ring_that_touches_itself_inside_is_refused():
    frame = [
        block(n, foot)
        for n, foot in zip("abcd", [(0, 0, 30, 5), (0, 25, 30, 30), (0, 5, 5, 25), (25, 5, 30, 25)], strict=True)
    ]
    check_corners(frame)
    with pytest.raises(InputError, match=r"\(12, 12\)"):
        check_corners([*frame, block("e", (5, 5, 12, 12)), block("f", (12, 12, 25, 25))])


@pytest.mark.parametrize("radius", [3.0, 7.7, 20.0])
def test_a_drum_is_a_regular_polygon_on_the_micrometre_grid(radius):
    shape = drum((100.0, 50.0), radius)
    corners = [(x - 100, y - 50) for x, y in shape.exterior.coords]
    assert len(corners) - 1 == ROUND_CORNERS == 48
    for x, y in corners:
        assert math.hypot(x, y) == pytest.approx(radius, abs=0.8e-3)
    for a, b in pairwise(corners):
        assert math.dist(a, b) == pytest.approx(2 * radius * math.sin(math.pi / 48), abs=1.5e-3)
    # A side faces each of the four sides, and quarter turns change nothing.
    rounded = {(round(x, 6), round(y, 6)) for x, y in corners}
    assert rounded == {(round(y, 6), round(-x, 6)) for x, y in rounded}
    assert max(x for x, _ in corners) == pytest.approx(radius * math.cos(math.pi / 48), abs=0.6e-3)


def plates_of(*blocks, sides=(OPEN, OPEN, OPEN, OPEN)):
    return make_tile("t", single_cell(Cell(sides, extra=Extra(in_order(blocks))), (2.0, 2.0)), GRID).plates


def test_names_count_each_kind_and_heights_are_over_the_floor():
    plates = plates_of(
        Block("pillar", -20, -20, -10, -10, 0, 30),
        Block("pillar", 10, 10, 20, 20, 0, 30),
        Block("dais", -20, 10, -10, 20, 0, 5),
        Block("stair", 10, -20, 20, -10, 0, 4),
    )
    found = {p.name: p for p in plates[1:]}
    assert sorted(found) == ["dais 1", "pillar 1", "pillar 2", "stair 1"]
    depth = GRID.base_depth
    heights = {"dais": 5, "pillar": 30, "stair": 4}
    for name, plate in found.items():
        kind = name.split()[0]
        assert (plate.role, plate.bottom, plate.top) == (kind, depth, depth + heights[kind])
        # Only what stands upright has an outer face: the south side of a square pillar, walked to the west.
        west, south, east, _ = plate.foot.bounds
        assert plate.edge == (((east, south), (west, south)) if kind == "pillar" else None)


def test_a_drum_and_a_pillar_cut_by_a_wall_have_their_faces():
    (_, round_) = plates_of(Block("pillar", -5, -5, 5, 5, 0, 30, round=True))
    assert (round_.role, round_.edge) == ("pillar", None)
    # Half under the northern wall: what is left is a box still.
    inner = 2 * GRID.pitch - GRID.wall_thickness
    plates = plates_of(
        Block("pillar", -5, inner - CENTRE - 4, 5, inner - CENTRE + 4, 0, 30), sides=(WALL, OPEN, OPEN, OPEN)
    )
    pillar = next(p for p in plates if p.role == "pillar")
    assert pillar.foot.bounds == pytest.approx((CENTRE - 5, inner - 4, CENTRE + 5, inner))
    assert pillar.edge == ((CENTRE + 5, inner - 4), (CENTRE - 5, inner - 4))


def test_a_side_within_a_micrometre_of_a_wall_is_on_it():
    for off, snapped in [(0.0009, True), (-0.0009, True), (0.003, False), (-0.003, False)]:
        inner = 2 * GRID.pitch - GRID.wall_thickness
        plates = plates_of(Block("dais", -5, -5, 5, inner - CENTRE + off, 0, 5), sides=(WALL, OPEN, OPEN, OPEN))
        dais = next(p for p in plates if p.role == "dais")
        # Past the wall's face it is cut off; short of it by more than a micrometre a gap stays.
        wanted = inner if snapped or off > 0 else inner + off
        assert dais.foot.bounds[3] == pytest.approx(wanted, abs=1e-9)


def test_a_pit_deeper_than_the_base_is_refused():
    depth = GRID.base_depth
    plates = plates_of(Block("pit", -5, -5, 5, 5, 0.01 - depth, 0))
    assert [(p.bottom, p.top) for p in plates] == [(0.0, pytest.approx(0.01)), (pytest.approx(0.01), depth)]
    assert plates[0].foot.area - plates[1].foot.area == pytest.approx(100)
    for deep in (depth, depth + 1):
        with pytest.raises(InputError, match=f"a pit {deep:g} mm deep leaves no floor in a base of {depth:g} mm"):
            plates_of(Block("pit", -5, -5, 5, 5, -deep, 0))


def test_parts_are_its_areas():
    both = box(0, 0, 1, 1).union(box(2, 0, 3, 1))
    assert sorted(part.area for part in polygons_of(both)) == [1, 1]
    assert polygons_of(box(0, 0, 1, 1).intersection(box(1, 0, 2, 1))) == []
