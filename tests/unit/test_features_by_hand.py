"""What stands on floors, by hand: beside a notch, touching in a corner, climbing every way, round."""

import math
from dataclasses import replace

import pytest
import shapely
import shapely.affinity
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.blocks import Block, Extra
from tilegen.tiles.floor import ROUND_CORNERS, check_corners, drum
from tilegen.tiles.names import feature_words, features_record
from tilegen.tiles.plate import Plate
from tilegen.tiles.shape import Cell, CellShape, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid(floor=Floor(lines=False))
P, HALF = 31.75, 0.15


def test_what_is_on_a_cell_beside_a_notch_stays_on_the_tile():
    """Three cells of four: at the corner they leave, the play takes a square of 0.15 mm off the middle one."""
    for missing in [(0, 0), (1, 0), (0, 1), (1, 1)]:
        dais = Block("dais", -P / 2, -P / 2, P / 2, P / 2, 0.0, 5.0)
        opposite = (1 - missing[0], 1 - missing[1])
        cells = tuple(
            ((c, r), Cell(extra=Extra((dais,) if (c, r) == opposite else ())))
            for r in range(2)
            for c in range(2)
            if (c, r) != missing
        )
        tile = make_tile("t", CellShape((1.0, 1.0), (1.0, 1.0), cells), GRID)
        (plate,) = (p for p in tile.plates if p.role == "dais")
        assert tile.base.foot.covers(plate.foot)
        # Two of its sides are seams, two lie inside: 31.6 mm each way, less the notch.
        assert plate.foot.area == pytest.approx((P - HALF) ** 2 - HALF**2)
        # Five corners outwards, one inwards.
        assert tile.base.foot.area == pytest.approx(3 * P**2 - 8 * P * HALF + (5 - 1) * HALF**2)


def test_boxes_that_touch_in_a_corner_are_refused_wherever_it_is():
    for swap in [False, True]:
        for dx, dy in [(1, 1), (1, -1), (-1, 1), (-1, -1)]:
            boxes = [
                box(min(0, 10 * sx), min(0, 10 * sy), max(0, 10 * sx), max(0, 10 * sy))
                for sx, sy in ((dx, dy), (-dx, -dy))
            ]
            plates = [Plate("p", "dais", b, 0.0, 5.0) for b in (boxes[::-1] if swap else boxes)]
            with pytest.raises(InputError, match=r"only at a corner, \(0, 0\) mm"):
                check_corners(plates)
            # One over the other, or a hair apart, they may.
            check_corners([plates[0], replace(plates[1], bottom=5.0, top=9.0)])
            check_corners(
                [plates[0], replace(plates[1], foot=shapely.affinity.translate(plates[1].foot, -0.01 * dx, 0))]
            )


def test_a_corner_within_a_ring_of_boxes_is_found():
    """A frame whose hole touches its outside in one point, the last of its ring or not."""
    frame = box(0, 0, 30, 30).difference(Polygon([(10, 10), (20, 10), (30, 20), (10, 20)]))
    coords = list(frame.exterior.coords)[:-1]
    for k in range(len(coords)):
        turned = Polygon(coords[k:] + coords[:k], [ring.coords for ring in frame.interiors])
        with pytest.raises(InputError, match="touch only at a corner"):
            check_corners([Plate("a", "base", turned, 0.0, 5.0), Plate("b", "dais", box(40, 0, 50, 9), 0.0, 5.0)])


def test_the_steps_of_a_stair_are_one_thing():
    """Three blocks, each less deep than the one it stands on, whichever way they climb."""
    for climbs in ["north", "east", "south", "west"]:
        steps = []
        for n in range(3):
            west, south, east, north = -10.0, -10.0, 10.0, 10.0
            if climbs == "north":
                south += 5.0 * n
            elif climbs == "south":
                north -= 5.0 * n
            elif climbs == "east":
                west += 5.0 * n
            else:
                east -= 5.0 * n
            steps.append(Block("stair", west, south, east, north, 4.0 * n, 4.0 * n + 4.0))
        # Beside it another one of one step.
        other = Block("stair", 10.0, -10.0, 14.0, 10.0, 0.0, 4.0)
        shape = single_cell(Cell(extra=Extra((*steps, other))), (2, 2))
        found = sorted(features_record(shape)["features"], key=lambda f: f["steps"])
        assert [(f["steps"], f["from_mm"], f["to_mm"]) for f in found] == [(1, 0.0, 4.0), (3, 0.0, 12.0)]
        assert found[1]["box_mm"] == [-10.0, -10.0, 10.0, 10.0]


def test_a_block_over_the_edge_of_another_is_no_step_of_it():
    low = Block("stair", -10.0, -10.0, 10.0, 10.0, 0.0, 4.0)
    for west, south, east, north in ((-11, -9, 9, 9), (-9, -11, 9, 9), (-9, -9, 11, 9), (-9, -9, 9, 11)):
        over = Block("stair", west, south, east, north, 4.0, 8.0)
        shape = single_cell(Cell(extra=Extra((low, over))), (2, 2))
        assert [f["steps"] for f in features_record(shape)["features"]] == [1, 1]
    assert feature_words(single_cell(Cell(), (2, 2))) == []


def test_a_drum_has_48_corners_on_its_circle_to_a_micrometre():
    corners = shapely.get_coordinates(drum((7.5, 8.5), 6.5))[:-1] - (7.5, 8.5)
    assert len(corners) == ROUND_CORNERS == 48
    angles = sorted(math.degrees(math.atan2(y, x)) % 360 for x, y in corners)
    assert angles == pytest.approx([3.75 + 7.5 * n for n in range(48)], abs=0.01)
    assert [math.hypot(x, y) for x, y in corners] == pytest.approx([6.5] * 48, abs=0.00075)
