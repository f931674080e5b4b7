"""Plates laid flat: lengths at corners, layers, open-topped doorways, counts and ids."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.model.grid import Floor, Grid
from tilegen.model.materials import MaterialFile
from tilegen.model.surface import Surface
from tilegen.pictures.template_pages import templates_of
from tilegen.sheets.constructions import construction_of
from tilegen.sheets.constructions.stacks import stack_up
from tilegen.sheets.flat import at_origin, joined, own_pose
from tilegen.sheets.make import make_sheet_sets
from tilegen.sheets.parts import Part, list_parts
from tilegen.tiles.loose import make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import Tile, make_tile

GRID = Grid()
FOAM, CARD = read_material("foam"), read_material("greyboard")


def tile(*walls: str, grid: Grid = GRID, size: tuple[float, float] = (2, 2), name: str = "t") -> Tile:
    sides = tuple(WALL if side in walls else OPEN for side in ("north", "east", "south", "west"))
    return make_tile(name, single_cell(Cell(sides), size), grid)


def doorway_tile(grid: Grid = GRID, **given: float) -> Tile:
    opening = make_opening(grid.tile_side, grid, **given)
    return make_tile("door", single_cell(Cell((Side("doorway", opening), OPEN, OPEN, OPEN)), (2, 2)), grid)


def material(base: MaterialFile = FOAM, **given: object) -> MaterialFile:
    return base.model_copy(update=given)


def walls_of(parts: tuple[Part, ...]) -> Counter[float]:
    """Lengths along the wall, by number; the other side is the wall's height."""
    found: Counter[float] = Counter()
    for part in parts:
        if part.role == "wall":
            long, short = part.size
            found[round(long if round(short, 6) == 38.1 else short, 6)] += part.count
    return found


# Corner lengths worked out by hand from the rule of the pinwheel butt joint (each strip runs through at one end
# and butts at the other), L - t and W - t: 45 x 4 for 50 x 50 and 95, 95, 45, 45 for 100 x 50 with 5 mm stock.
@pytest.mark.parametrize("size, lengths", [((2, 2), {45.0: 4}), ((4, 2), {95.0: 2, 45.0: 2})], ids=["50x50", "100x50"])
def test_pinwheel_butt_joints_give_exact_outer_dimensions(size: tuple[float, float], lengths: dict[float, int]) -> None:
    grid = Grid(pitch=25, wall_thickness=5, joint_play=0, base_depth=5)
    closed = tile("north", "east", "south", "west", grid=grid, size=size)
    parts = list_parts([(closed, 1)], material(thickness=5.0)).parts
    assert dict(walls_of(parts)) == lengths


def test_butt_joint_of_two_walls() -> None:
    # Stock as thick as the printed wall (6.2): the joint is the printed one, 63.2 and 63.2 - 6.2.
    parts = list_parts([(tile("north", "west"), 1)], material(thickness=6.2)).parts
    assert dict(walls_of(parts)) == {63.2: 1, 57.0: 1}
    # Thinner stock, 6.0: the outer face moves in by 0.2, the inner face stays: 63.0 and still 57.0.
    parts = list_parts([(tile("north", "west"), 1)], FOAM).parts
    assert dict(walls_of(parts)) == {63.0: 1, 57.0: 1}


def test_walls_of_stock_stand_where_their_lengths_say() -> None:
    # The strips, stood on the plan, fill the ring between the inner faces and the outer faces exactly.
    grid = Grid(joint_play=0.3)
    thickness = 4.5
    construction = construction_of(grid, material(thickness=thickness))
    assert construction.band.inner == grid.wall_thickness
    closed = tile("north", "east", "south", "west", grid=grid)
    parts = list_parts([(closed, 1)], material(thickness=thickness)).parts
    outer = 63.5 - 2 * (6.35 - thickness)
    assert sum(walls_of(parts).elements()) * thickness == pytest.approx(outer**2 - 50.8**2)


# Layering, glue line 0.05: 7 mm of 2 mm stock is 3 sheets, 6.10 (-0.90), nearer than 4 sheets, 8.15 (+1.15).
def test_stack() -> None:
    for target, sheet, glue, layers, thickness in [
        (7.0, 2.0, 0.05, 3, 6.10),
        (8.0, 5.0, 0.0, 2, 10.0),
        (6.35, 6.0, 0.0, 1, 6.0),
        (1.0, 6.0, 0.0, 1, 6.0),
    ]:
        stack = stack_up(target, sheet, glue)
        assert stack.layers == layers
        assert stack.thickness == pytest.approx(thickness)
        assert stack.residual == pytest.approx(thickness - target)
        others = [abs(n * sheet + (n - 1) * glue - target) for n in range(1, 12)]
        assert abs(stack.residual) == pytest.approx(min(others))


def test_stack_of_far_too_thin_stock_is_refused() -> None:
    with pytest.raises(InputError, match="thicker stock"):
        stack_up(100.0, 0.1, 0.0)


def test_measured_thickness_rules() -> None:
    stock = material(measured=5.8)
    assert construction_of(GRID, stock).wall.thickness == 5.8
    assert {part.thickness for part in list_parts([(tile("north"), 1)], stock).parts} == {5.8}


def test_thick_stock_loses_floor_and_says_how_much() -> None:
    # 8 mm in place of 6.35: outer face at half the play, 0.15, so the inner face stands at 8.15: 1.80 of floor lost.
    listed = list_parts([(tile("north", "south"), 1)], material(thickness=8.0))
    assert listed.constructions[0].floor_lost == pytest.approx(1.80)
    assert any(
        "thicker than the wall" in note.words and "1.8 mm" in note.words and "47.2 mm" in note.words
        for note in listed.notes
    )
    assert not any("thicker than the wall" in note.words for note in list_parts([(tile("north"), 1)], FOAM).notes)


def test_stock_that_leaves_no_floor_is_refused() -> None:
    with pytest.raises(InputError, match="Use stock thinner than 20 mm"):
        list_parts([(tile("north"), 1)], material(thickness=20.0))


def test_layers_and_scores() -> None:
    parts = list_parts([(tile("north"), 2)], CARD).parts
    bases = [part for part in parts if part.role == "base"]
    scored = [part for part in bases if part.flat.scores]
    assert sum(part.count for part in bases) == 3 * 2
    assert sum(part.count for part in scored) == 2
    assert sum(part.count for part in parts if part.role == "wall") == 3 * 2
    # Two space lines from edge to edge: the one that ends at a wall runs on under it, so all such bases are one part.
    lengths = sorted(shapely.LineString(score).length for score in scored[0].flat.scores)
    assert lengths == pytest.approx([63.2, 63.2])
    walls = [("north",), ("north", "south"), ("west", "north", "east"), ()]
    assert len({p.id for p in list_parts([(tile(*w), 1) for w in walls], FOAM).parts if p.role == "base"}) == 1


def test_no_lines_no_scores() -> None:
    plain = Grid(floor=Floor(lines=False))
    assert not any(part.flat.scores for part in list_parts([(tile("north", grid=plain), 1)], FOAM).parts)


def test_doorway_is_open_topped_where_the_lintel_is_too_thin() -> None:
    # The default doorway leaves 38.1 - 30.48 = 7.62 mm; foam wants 12, card 4.
    foam = list_parts([(doorway_tile(), 1)], FOAM)
    strips = [part for part in foam.parts if part.role == "wall"]
    assert sum(part.count for part in strips) == 2
    assert sum(part.outline.area * part.count for part in strips) == pytest.approx((63.2 - 27.94) * 38.1)
    assert any("open at the top" in note.words and "7.62" in note.words for note in foam.notes)
    card = list_parts([(doorway_tile(), 1)], CARD)
    (wall,) = (part for part in card.parts if part.role == "wall")
    assert wall.outline.area == pytest.approx(63.2 * 38.1 - 27.94 * 30.48)
    assert not any("open at the top" in note.words for note in card.notes)


def test_round_head_is_kept_where_there_is_room() -> None:
    made = doorway_tile(width=20.0, height=22.0, head="round")  # type: ignore[arg-type]
    (wall,) = (part for part in list_parts([(made, 1)], FOAM).parts if part.role == "wall")
    assert len(wall.outline.exterior.coords) > 20


def test_saddle_door_keeps_its_lintel_and_says_so() -> None:
    door = make_saddle_door("saddle-door", GRID, GRID.tile_side, make_opening(GRID.tile_side, GRID))
    listed = list_parts([(door, 3)], FOAM)
    (leaf,) = listed.parts
    assert (leaf.role, leaf.count) == ("door", 6)
    length = 63.5 - 2 * (6.35 + 0.3)
    assert leaf.outline.area == pytest.approx(length * 38.1 - 27.94 * 30.48)
    assert any("strip over its doorway" in note.words and "7.62" in note.words for note in listed.notes)


@pytest.mark.parametrize("thickness, layers", [(5.0, 1), (3.0, 1), (2.5, 2)])
def test_a_saddle_door_that_would_tip_gets_feet(thickness: float, layers: int) -> None:
    """38.1 tan 15 = 10.209 mm: two leaves of one layer of 5 mm lack 0.104 on each side, which one layer is enough for."""
    door = make_saddle_door("saddle-door", GRID, GRID.tile_side, make_opening(GRID.tile_side, GRID))
    core = read_material("foam-core")
    listed = list_parts([(door, 3)], core.model_copy(update={"thickness": thickness}))
    (built,) = listed.built
    feet = [part for part in listed.parts if part.name == "door foot"]
    deep = 2 * built.construction.wall.thickness
    lacks = (38.1 * math.tan(math.radians(15)) - deep) / 2
    (foot,) = feet
    leg = (63.5 - 2 * (built.construction.band.inner + 0.3) - 27.94) / 2
    assert foot.count == 3 * 4 * layers
    assert sorted(foot.size) == pytest.approx(sorted((leg, 10.0)))
    assert layers * thickness >= lacks > (layers - 1) * thickness
    # The whole piece, as built, is deep enough.
    _, south, _, north = shapely.union_all([plate.foot for plate in built.plates]).bounds
    assert north - south >= 38.1 * math.tan(math.radians(15)) - 1e-9


def test_a_saddle_door_that_stands_gets_no_feet() -> None:
    door = make_saddle_door("saddle-door", GRID, GRID.tile_side, make_opening(GRID.tile_side, GRID))
    assert {part.name for part in list_parts([(door, 1)], FOAM).parts} == {"door leaf with an opening"}


def test_saddle_door_fits_between_posts_of_thick_stock() -> None:
    door = make_saddle_door("saddle-door", GRID, GRID.tile_side, make_opening(GRID.tile_side, GRID))
    (leaf,) = list_parts([(door, 1)], material(thickness=8.0)).parts
    assert max(leaf.size) == pytest.approx(63.5 - 2 * (0.15 + 8.0 + 0.3))


def test_off_centre_doorway_is_drawn_from_outside() -> None:
    # In a north wall 20 mm from the west end the opening is on the right when seen from the north.
    grid = replace(GRID, joint_play=0.0)
    opening = Opening(20.0, 10.0, 20.0)
    made = make_tile("d", single_cell(Cell((Side("doorway", opening), OPEN, OPEN, OPEN)), (2, 2)), grid)
    (wall,) = (p for p in list_parts([(made, 1)], material(thickness=6.35)).parts if p.role == "wall")
    expected = box(0, 0, 63.5, 38.1).difference(box(63.5 - 25, 0, 63.5 - 15, 20))
    mirrored = box(0, 0, 63.5, 38.1).difference(box(15, 0, 25, 20))
    assert own_pose(at_origin(expected))[1] == wall.flat.description
    assert own_pose(at_origin(mirrored))[1] != wall.flat.description


def test_alike_parts_are_one_with_all_its_uses() -> None:
    listed = list_parts([(tile("north", name="a"), 2), (tile("north", "south", name="b"), 3)], FOAM)
    (wall,) = (part for part in listed.parts if part.role == "wall")
    assert wall.count == 2 + 6
    assert sum(use.count for use in wall.uses) == wall.count
    assert {use.tile_name for use in wall.uses} == {"a", "b"}


def test_ids_do_not_depend_on_the_company_a_part_keeps() -> None:
    alone = {p.id for p in list_parts([(tile("north"), 1)], FOAM).parts}
    together = [p.id for p in list_parts([(tile("west", "south"), 5), (tile("north"), 1)], FOAM).parts]
    assert alone <= set(together)
    assert len(together) == len(set(together))


def test_a_turned_part_is_the_same_a_mirrored_one_is_not() -> None:
    ell = Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 20), (0, 20)])
    turned = shapely.transform(ell, lambda p: p[:, ::-1] * (-1, 1) + (500, -70))
    mirrored = shapely.transform(ell, lambda p: p * (-1, 1))
    assert own_pose(at_origin(ell))[1] == own_pose(at_origin(turned))[1]
    assert own_pose(at_origin(ell))[1] != own_pose(at_origin(mirrored))[1]


def test_parts_keep_exact_coordinates() -> None:
    (base,) = (p for p in list_parts([(tile(), 1)], FOAM).parts if p.role == "base")
    assert base.outline.bounds == pytest.approx((0, 0, 63.2, 63.2), abs=1e-12)


def test_scores_that_meet_are_one_stroke() -> None:
    pieces = [
        ((0.0, 5.0), (10.0, 5.0)),
        ((20.0, 5.0), (10.0, 5.0)),
        ((30.0, 5.0), (40.0, 5.0)),
        ((10.0, 0.0), (10.0, 5.0)),
    ]
    assert sorted(joined(pieces)) == [((0.0, 5.0), (20.0, 5.0)), ((10.0, 0.0), (10.0, 5.0)), ((30.0, 5.0), (40.0, 5.0))]


def test_bevels_at_odd_corners_are_told() -> None:
    # An equilateral triangle with one wall: its ends follow the other edges, 30 degrees off square.
    side = 200.0
    points = ((0.0, 0.0), (side / 2, side * 3**0.5 / 2), (side, 0.0))
    made = make_tile("triangle", OutlineShape(points, (1,)), GRID)
    (wall,) = (part for part in list_parts([(made, 1)], FOAM).parts if part.role == "wall")
    assert wall.notes[0].count("30.0 deg, the outer face longer") == 2
    assert list_parts([(tile("north", "west"), 1)], FOAM).parts[1].notes == ()


def test_scored_walls_are_bevelled_after_sawing_too() -> None:
    """A pattern on the walls puts another remark before the bevels; a person at the saw and the templates have both."""
    side = 200.0
    points = ((0.0, 0.0), (side / 2, side * 3**0.5 / 2), (side, 0.0))
    made = make_tile("triangle", OutlineShape(points, (1, 2)), replace(GRID, surface=Surface(walls="timber")))
    (sheets,) = make_sheet_sets([(made, 1)], FOAM, read_machine("hand-knife"))
    scored = {part.number for part in sheets.parts if part.role == "wall" and part.flat.scores}
    assert sheets.saw is not None
    assert scored <= {after.part for after in sheets.saw.after if "bevel after gluing" in after.words}
    assert scored
    (words,) = (ways[0].words for ways in templates_of([sheets]) if ways[0].number == "W1")
    assert sum("bevel" in line for line in words) == 1


def test_narrow_strips_are_named() -> None:
    listed = list_parts([(doorway_tile(width=44.0), 1)], material(least_strip=15.0))
    assert any(re.search(r"narrower than 15 mm .*: handle W", note.words) for note in listed.notes)
