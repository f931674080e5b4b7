"""The grid: facts of the trade (common practice, no source) and measures that no tile can be made with."""

import math
from dataclasses import replace

import pytest

from tilegen.errors import InputError
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile
from tilegen.tiles.walls import printed_band, stock_band

IN = 25.4


def clear(sides, spaces):
    """The free floor of a tile, from its plates: west, south, east, north inner faces."""
    tile = make_tile("t", single_cell(Cell(sides), spaces), Grid(joint_play=0.0))
    free = tile.base.foot
    for plate in tile.plates[1:]:
        free = free.difference(plate.foot)
    west, south, east, north = free.bounds
    return east - west, north - south


def test_facts_of_the_trade():
    """1.25 in less a wall leaves 1 in, in a corner too; halls keep 2.0 in and 0.75 in; the tile is 2.5 in."""
    assert clear((WALL, OPEN, OPEN, OPEN), (1, 1))[1] == pytest.approx(1.0 * IN)
    assert clear((WALL, OPEN, OPEN, WALL), (1, 1)) == pytest.approx((1.0 * IN, 1.0 * IN))
    assert clear((OPEN, WALL, OPEN, WALL), (2, 2))[0] == pytest.approx(2.0 * IN)
    assert clear((OPEN, WALL, OPEN, WALL), (1, 1))[0] == pytest.approx(0.75 * IN)
    assert Grid().tile_side == 2.5 * IN
    assert Grid().hall_clear == pytest.approx(2.0 * IN)


@pytest.mark.parametrize("play", [0.0, 0.3, 1.0])
def test_play_comes_off_the_outside_only(play):
    grid = Grid(joint_play=play)
    tile = make_tile("t", single_cell(Cell((OPEN, WALL, OPEN, WALL)), (2, 2)), grid)
    west, south, east, north = tile.base.foot.bounds
    assert (west, south, east, north) == pytest.approx((play / 2, play / 2, 63.5 - play / 2, 63.5 - play / 2))
    free = tile.base.foot.difference(tile.plates[1].foot).difference(tile.plates[2].foot)
    assert free.bounds[2] - free.bounds[0] == pytest.approx(50.8)


def test_stock_of_another_thickness_moves_the_outer_face():
    grid = Grid()
    assert printed_band(grid).thickness == pytest.approx(6.2)
    thin = stock_band(grid, 5.0)
    assert (thin.inner, thin.outer) == pytest.approx((6.35, 1.35))
    thick = stock_band(grid, 8.0)
    assert (thick.inner, thick.outer) == pytest.approx((8.15, 0.15))


def test_impossible_measures_are_refused():
    for measures in [
        {"wall_thickness": 16.0},
        {"wall_thickness": 15.875},
        {"wall_thickness": 0.0},
        {"wall_thickness": -1.0},
        {"joint_play": 6.35},
        {"joint_play": 7.0},
        {"joint_play": -0.1},
        {"joint_play": math.nan},
        {"pitch": math.nan},
        {"pitch": math.inf},
        {"pitch": 0.0},
        {"pitch": 1e12},
        {"wall_height": 0.0},
        {"base_depth": -1.0},
        {"spaces": 0},
        {"spaces": 1000},
        {"floor": Floor(groove_depth=6.35)},
        {"floor": Floor(groove_depth=0.0)},
        {"floor": Floor(groove_width=20.0)},
    ]:
        with pytest.raises(InputError) as caught:
            replace(Grid(), **measures).check()
        assert (
            next(iter(measures)).split(".")[0][:5] in str(caught.value)
            or "groove" in str(caught.value)
            or "play" in str(caught.value)
        )
        assert caught.value.cure


def test_the_default_grid_is_possible():
    Grid().check()
    Grid(joint_play=0.0).check()
    Grid(floor=Floor(lines=False, groove_depth=99.0)).check()
