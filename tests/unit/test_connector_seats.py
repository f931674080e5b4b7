"""Where edges carry connectors: which seats have room, which sides stay bare, what a neighbour's pegs would strike."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.model.connectors import Connectors
from tilegen.model.grid import Floor, Grid
from tilegen.model.surface import Surface
from tilegen.tiles.connectors.kind import module_of, pockets_of
from tilegen.tiles.connectors.magnets import magnet_height
from tilegen.tiles.seats import bare_words, connector_marks, flat_region, magnets_of, seating_of
from tilegen.tiles.shape import Cell, CellShape, OutlineShape, single_cell

KINDS = ("magnets", "pegs", "keys")


def grid_of(kind, **more):
    return Grid(connectors=Connectors(kind=kind, **more))


def square(spaces, grid):
    """A tile of so many spaces each way, and its footprint."""
    side = spaces * grid.pitch
    return single_cell(Cell(), (spaces, spaces)), box(0, 0, side, side).buffer(-grid.half_play, join_style="mitre")


def outline(points, grid):
    shape = OutlineShape(tuple((float(x), float(y)) for x, y in points))
    return shape, Polygon(points).buffer(-grid.half_play, join_style="mitre")


@pytest.mark.parametrize("kind", KINDS)
def test_seats_stand_in_the_middles_of_the_modules(kind):
    grid = grid_of(kind)
    seating = seating_of(*order(square(2.0, grid), grid))
    pitch, half = grid.pitch, grid.half_play
    near, far = half, 2 * pitch - half
    wanted = [(x, far) for x in (pitch / 2, 1.5 * pitch)] + [(far, y) for y in (1.5 * pitch, pitch / 2)]
    wanted += [(x, near) for x in (1.5 * pitch, pitch / 2)] + [(near, y) for y in (pitch / 2, 1.5 * pitch)]
    assert [seat.centre for seat in seating.seats] == [pytest.approx(point) for point in wanted]
    assert [seat.side for seat in seating.seats] == [0, 0, 1, 1, 2, 2, 3, 3]
    assert (seating.bare, seating.struck, seating.whole) == ((), (), seating.seats)


def order(made, grid):
    shape, foot = made
    return shape, grid, foot


@pytest.mark.parametrize("kind", KINDS)
def test_a_tile_of_no_whole_modules_carries_none(kind):
    grid = grid_of(kind)
    shape, foot = square(0.7, grid)
    assert connector_marks(shape, grid, foot) == ()
    seating = seating_of(shape, grid, foot)
    assert (seating.seats, seating.bare) == ((), (0, 1, 2, 3))
    # Only pegs stand out, so only they strike a side that makes no room for them.
    assert seating.struck == ((0, 1, 2, 3) if kind == "pegs" else ())
    assert magnets_of(shape, grid, foot) == 0
    words = bare_words(shape, grid, foot)
    assert words.startswith(f"no {kind}, or not all along, on north, east, south, west (")
    assert words.endswith("would strike north, east, south, west") == (kind == "pegs")


def test_without_connectors_there_is_nothing_to_say():
    shape, foot = square(0.7, Grid())
    assert (connector_marks(shape, Grid(), foot), bare_words(shape, Grid(), foot)) == ((), "")
    assert magnets_of(*order(square(2.0, Grid()), Grid())) == 0


@pytest.mark.parametrize("kind", KINDS)
def test_only_sides_on_the_grids_lines_carry_them(kind):
    """An outline's first side lies on a line, whole modules long; the others off every line, aslant or too short."""
    grid = grid_of(kind)
    p = grid.pitch
    shape, foot = outline(
        [(0, 0), (2 * p, 0), (2.5 * p, p), (2.5 * p, 1.5 * p), (0.4 * p, 1.5 * p), (0.4 * p, p), (0, p)], grid
    )
    seating = seating_of(shape, grid, foot)
    assert [seat.side for seat in seating.whole] == [0, 0, 6]
    # Given counter-clockwise it is walked the other way: from east to west.
    assert [seat.centre[0] for seat in seating.whole][:2] == [pytest.approx(p / 2), pytest.approx(1.5 * p)]
    assert seating.struck == ()


def test_an_outlines_modules_count_from_the_grids_own_lines():
    """A side of 2.5 spaces that begins off a line has just the whole spaces between the lines."""
    for upright in [False, True]:
        for begins in [0.0, 0.25, 0.5, 1.0]:
            grid = grid_of("pegs")
            p = grid.pitch
            corners = [(begins * p, 0), ((begins + 2.5) * p, 0), ((begins + 2.5) * p, 1.3 * p), (begins * p, 1.3 * p)]
            if upright:
                corners = [(y, x) for x, y in corners]
            shape, foot = outline(corners, grid)
            seats = [seat for seat in seating_of(shape, grid, foot).seats if seat.side == 0]
            along = [seat.centre[1 if upright else 0] / p for seat in seats if not seat.part]
            whole = [n + 0.5 for n in range(5) if n >= begins and n + 1 <= begins + 2.5]
            assert sorted(along) == [pytest.approx(n, abs=1e-4) for n in whole]
            parts = [seat.centre[1 if upright else 0] / p for seat in seats if seat.part]
            # Of the parts only what makes room for a neighbour's pegs, where it lies on the side with its web.
            web, half = grid.connectors.web, grid.half_play
            room = []
            for n in range(5):
                socket = next(pocket for pocket in pockets_of(grid) if pocket.depth > 0)
                sign = 1 if seats[0].end > seats[0].start else -1
                low, high = sorted((n + 0.5) * p + sign * a for a in socket.span)
                fits = low - web >= begins * p + half and high + web <= (begins + 2.5) * p - half
                if n + 0.5 not in whole and fits:
                    room.append(n + 0.5)
            assert sorted(parts) == [pytest.approx(n, abs=1e-4) for n in room]


def test_pegs_strike_a_side_that_lost_a_socket():
    """A corner cut off leaves the first module of a side no room; what still lies on the tile would be struck."""
    grid = grid_of("pegs")
    p = grid.pitch
    shape, foot = outline([(0, 0), (3 * p, 0), (3 * p, 2 * p), (0.3 * p, 2 * p), (0, 1.7 * p)], grid)
    seating = seating_of(shape, grid, foot)
    assert {seat.side for seat in seating.whole} == {0, 1, 2, 4}
    assert set(seating.bare) >= {2, 3, 4}
    sides = {n: sum(seat.side == n for seat in seating.whole) for n in (0, 1, 2, 4)}
    assert sides == {0: 3, 1: 2, 2: 2, 4: 1}
    magnets = replace(grid, connectors=replace(grid.connectors, kind="magnets"))
    assert seating_of(shape, magnets, foot).struck == ()


@pytest.mark.parametrize("more, sides", [(-1e-4, [0, 1, 2, 3]), (0.0, [0, 1, 2, 3]), (1e-4, [0, 2])])
def test_pockets_of_two_sides_stay_a_web_apart(more, sides):
    """On a tile of one space keys of two sides come near each other at its corner; their distance by hand."""
    grid = grid_of("keys", key_length=17.0)
    clearance = grid.half_play + grid.connectors.position_error
    wide = grid.connectors.key_neck / 2 + (2 * clearance + 0.8) + clearance
    deep = 17.0 / 2 + clearance - grid.half_play
    # Along either side from the corner of the footprint to a pocket, less how deep the other one reaches.
    gap = grid.pitch / 2 - grid.half_play - wide - deep
    grid = grid_of("keys", key_length=17.0, web=math.sqrt(2) * gap + more)
    assert [seat.side for seat in seating_of(*order(square(1.0, grid), grid)).seats] == sides


def test_marks_lie_where_the_seats_are():
    for kind in KINDS:
        grid = grid_of(kind)
        shape, foot = square(2.0, grid)
        marks = connector_marks(shape, grid, foot)
        seats = seating_of(shape, grid, foot).seats
        pockets = pockets_of(grid)
        for on in ("under", "rim"):
            made = [pocket for pocket in pockets if pocket.on == on]
            volume = sum(mark.volume for mark in marks if mark.on == on)
            assert volume == pytest.approx(len(seats) * sum(p.outline.area * p.depth for p in made))
        rims = [mark for mark in marks if mark.on == "rim"]
        assert len(rims) == 4 * len({pocket.depth for pocket in pockets if pocket.on == "rim"})
        for mark in rims:
            strip = flat_region(mark)
            # A hole goes in from the rim, a peg out of it, each so deep and twice on a side of two modules.
            parts = shapely.get_parts(shapely.union_all(strip)).tolist()
            assert len(parts) == (4 if kind == "magnets" else 2)
            for part in parts:
                west, south, east, north = part.bounds
                assert abs(mark.depth) == pytest.approx(min(east - west, north - south), abs=1e-9) or mark.depth < -2
                assert part.intersection(foot).area == pytest.approx(part.area if mark.depth > 0 else 0.0, abs=1e-6)


def test_sides_of_a_block_of_cells_are_named_by_compass():
    """An L of three half tiles: its two inner sides face north and east as its outer ones do."""
    grid = grid_of("pegs")
    shape = CellShape((1.0, 0.7), (0.7, 1.0), (((0, 0), Cell()), ((0, 1), Cell()), ((1, 1), Cell())))
    foot = Polygon([(0, 0), (1.7, 0), (1.7, 1), (1, 1), (1, 1.7), (0, 1.7)])
    foot = shapely.transform(foot, lambda p: p * grid.pitch).buffer(-grid.half_play, join_style="mitre")
    assert module_of(grid) == grid.pitch
    words = bare_words(shape, grid, foot)
    assert "on north, east, south, west (" in words


def test_the_edges_of_an_outline_go_by_their_numbers():
    for degrees in range(0, 360, 15):
        grid = grid_of("keys")
        angle = math.radians(degrees)
        points = [(50 * math.cos(angle + k), 50 * math.sin(angle + k)) for k in (0.0, 2.0, 4.0)]
        words = bare_words(*order(outline(points, grid), grid))
        assert words.startswith("no keys, or not all along, on edge 1, edge 2, edge 3 (not whole modules of 31.75 mm")


def test_a_pocket_from_below_covers_the_plan_as_it_is():
    grid = grid_of("keys")
    (mark,) = connector_marks(*order(square(2.0, grid), grid))
    assert (mark.on, flat_region(mark)) == ("under", mark.region)


def test_side_magnets_sit_half_way_up_to_what_is_cut_into_the_floor():
    # A base of 6.35 mm: whole without lines, 5.75 mm under lines 0.6 mm deep, 5.35 under joints of 1 mm.
    plain = Grid(floor=Floor(lines=False))
    lined = Grid(floor=Floor(groove_depth=0.6))
    jointed = replace(plain, surface=Surface(floor="flagstones", groove_depth=1.0))
    raised = replace(jointed, surface=replace(jointed.surface, relief="raised"))
    heights = [magnet_height(grid) for grid in (plain, lined, jointed, raised)]
    assert heights == pytest.approx([3.175, 2.875, 2.675, 3.175])
