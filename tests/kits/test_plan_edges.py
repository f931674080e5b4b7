"""What lies at the edge: of the map, of a post, of what a search looks at, of what a grid can be asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plans import plan, wanted
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.fit.finder import trade_off
from tilegen.fit.floor import spaces_of
from tilegen.fit.loops import play_for
from tilegen.fit.placements import placements_on
from tilegen.model.grid import Grid
from tilegen.model.surface import Surface
from tilegen.plans import larger
from tilegen.plans.drafting import draw
from tilegen.plans.features import PlanFeature, furnish
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.larger import Places, cover_floor, read_kinds
from tilegen.plans.shapes import Circle, DrawnShape


def test_beyond_the_edge_of_the_map_is_solid_ground():
    """However many rooms there are on the other side of the map."""
    for side in ["north", "east", "south", "west"]:
        cell = {"north": (2, 1), "east": (3, 2), "south": (2, 3), "west": (1, 2)}[side]
        with pytest.raises(InputError, match="a saddle needs a room on both sides, and here one side is solid ground"):
            plan(["AAA"] * 3, {(*cell, side): "saddle"})


def test_a_feature_may_not_stand_on_a_post():
    """Where two walls end at an inner corner a post of 6 mm stands in the cell between them."""
    for rows, cell, at in [
        (["AA", "A."], (1, 1), (58, 58)),
        (["AA", ".A"], (2, 1), (2, 58)),
        (["A.", "AA"], (1, 2), (58, 2)),
        ([".A", "AA"], (2, 2), (2, 2)),
    ]:
        drawing = plan(rows, grid=Grid(pitch=30.0, wall_thickness=6.0))
        inwards = [(v - 10 if v > 30 else v + 10) for v in at]

        def dais(spot, size=4.0, cell=cell):
            return PlanFeature(wanted("dais", (spot[0] / 30, spot[1] / 30), (size, size)), cell, cell)

        with pytest.raises(InputError, match="under a wall or post"):
            furnish(drawing, [dais(at)])
        assert furnish(drawing, [dais(inwards)]).extras is not None


# --- larger pieces, laid quickly ---


def laid(rows, kinds):
    places = Places(plan(rows), read_kinds(kinds))
    chosen, bound = larger.choose(places, None)
    return [sorted(places.cells(place)) for place in chosen], bound


@pytest.mark.parametrize("most", [0, 30_000])
def test_the_largest_pieces_first(most, monkeypatch):
    """With the search or without it: three squares and two."""
    monkeypatch.setattr(larger, "MOST_PLACES", most)
    found, bound = laid(["AAAAA"], "2x1, 3x1")
    assert sorted(map(len, found)) == [2, 3]
    assert sorted(cell for cells in found for cell in cells) == [(c, 0) for c in range(5)]
    assert bound == 2


def test_laid_quickly_equal_pieces_go_in_reading_order(monkeypatch):
    """Row by row, from west to east: across where there is room, else down."""
    monkeypatch.setattr(larger, "MOST_PLACES", 0)
    found, bound = laid(["AAA", "AAA"], "2x1")
    assert sorted(found) == [[(0, 0), (1, 0)], [(0, 1), (1, 1)], [(2, 0), (2, 1)]]
    assert bound == 3


def test_pieces_are_2_to_20_squares_long():
    assert len(read_kinds("20x1")[0].cells) == 20
    assert len(read_kinds("run-2")) == 2
    for word in ("21x1", "1x21", "0x2", "2x0", "run-1", "run-21", "bend"):
        with pytest.raises(InputError, match=f'there is no piece "{word}"') as caught:
            read_kinds(f"2x1, {word}")
        assert caught.value.place == "--pieces"


# --- figures ---


def test_a_hall_at_5_ft_is_two_spaces_wide():
    drawing = plan(["AA", "AA"], scale="5 ft", grid=Grid())
    assert [p.hall_clear for p in placements_on(drawing, make_kit(drawing))] == pytest.approx([50.8, 25.4, 50.8, 50.8])


def test_spaces_off_the_grid_have_neither_strips_nor_posts():
    drawing = draw(
        name="t",
        scale="10 ft",
        grid=Grid(),
        rooms=read_drawing("\n".join(["....."] * 5)),
        titles={},
        shapes=[DrawnShape("A", Circle((2.5, 2.5), 1.5))],
    )
    spaces = spaces_of(drawing)
    assert spaces.off_grid is not None
    assert spaces.off_grid.spaces.any()
    assert not spaces.posts[spaces.off_grid.spaces].any()
    assert not spaces.strips[spaces.off_grid.spaces].any()


def test_the_trade_off_begins_where_a_space_is_wider_than_two_walls():
    """Sixteenths of an inch from 25.4 mm; the first above 28 is 28.575."""
    assert trade_off([25.4], 14.0)[0].pitch == pytest.approx(28.575)
    rows = trade_off([], 6.35)
    assert (rows[0].pitch, rows[0].stand) == (25.4, 0)
    assert rows[-1].pitch == pytest.approx(50.8)


@pytest.mark.parametrize("error", [-0.1, float("nan"), float("inf")])
def test_play_for_an_error_that_is_none_is_refused(error):
    with pytest.raises(InputError, match="--tile-error: an error of"):
        play_for(4, error, 0.3)


@pytest.mark.parametrize("scale", ["", "10ft", "15 ft"])
def test_a_scale_is_one_of_two(scale):
    with pytest.raises(ValueError, match="10 ft, 5 ft"):
        plan(["A"], scale=scale)


def test_a_drawing_without_a_room_has_no_floor_to_cover():
    with pytest.raises(InputError, match="there is no room in the drawing"):
        cover_floor(plan(["..", ".."]), read_kinds("2x1"))


def test_a_piece_is_called_by_its_longer_side_first():
    """However it lies: a hall of two squares is one piece of 2x1."""
    for rows in (["AA"], ["A", "A"]):
        (only,) = cover_floor(plan(rows), read_kinds("2x1")).kit.types
        assert only.name.startswith("2x1-")


def circle_on(grid):
    """A circle of a cell and a half about the middle of five by five cells."""
    return draw(
        name="t",
        scale="10 ft",
        grid=grid,
        rooms=read_drawing("\n".join(["....."] * 5)),
        titles={},
        shapes=[DrawnShape("A", Circle((2.5, 2.5), 1.5))],
    )


@pytest.mark.parametrize("more", [{"continuous": True}, {"rooms": (("A", "planks"),)}])
def test_rooms_off_the_grid_take_one_floor_for_all_tiles(more):
    grid = Grid(surface=Surface(floor="flagstones", **more))
    with pytest.raises(InputError, match="rooms off the grid"):
        make_kit(circle_on(grid))


def test_a_tile_off_the_grid_without_its_lie_is_placed_nowhere():
    drawing = circle_on(Grid())
    kit = make_kit(drawing)
    with pytest.raises(ValueError, match="not made of cells"):
        list(placed(replace(kit, types=tuple(replace(kind, lies=np.zeros((0, 2))) for kind in kit.types)), drawing))
