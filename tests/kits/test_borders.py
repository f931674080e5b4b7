"""The border of a room: runs of wall, what is open, ways in them; every figure reckoned by hand.

Cells of 60 mm, walls of 6 mm. A run is walked with the room on its right; map coordinates, y to the north.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.model.grid import Grid
from tilegen.plans.drafting import draw
from tilegen.plans.drawing import Drawing
from tilegen.plans.off_grid_walls import Border
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import cell_box
from tilegen.plans.ways import Way
from tilegen.tiles.plate import Opening

GRID = Grid(pitch=30.0, wall_thickness=6.0)
RIGHT = pytest.approx(math.pi / 2)
LEFT = pytest.approx(-math.pi / 2)


def drawn(rows, ways=()) -> Drawing:
    return draw(name="t", scale="10 ft", grid=GRID, rooms=read_drawing("\n".join(rows)), titles={}, ways=ways)


def floor_of(drawing, letter="A"):
    return shapely.union_all([cell_box(c, r, 60.0) for r, c in np.argwhere(drawing.rooms == ord(letter)).tolist()])


def border(rows, ways=(), letter="A", region=None, wall_ways=()):
    drawing = drawn(rows, ways)
    floor = floor_of(drawing, letter) if region is None else region
    located = tuple(w if w.spot else replace(w, spot=nearest_on(floor, w.at)) for w in wall_ways)
    return Border(replace(drawing, wall_ways=located), floor, letter)


def nearest_on(floor, at):
    """The point of a room's outline nearest to one in cells."""
    return shapely.shortest_line(floor.boundary, shapely.Point(at[0] * 60, -at[1] * 60)).coords[0]


def way(cell, side, kind, **more):
    return Way(cell, side, kind, **more)


def spans(run):
    return [(first, last) for first, last, _ in run.openings]


def runs(made):
    """By path, started anywhere: {(first point, last point): turns}."""
    assert all(len(run.path) == 2 for run in made.runs)
    return {run.path: run.turns for run in made.runs}


# --- runs of wall ---


def test_a_room_of_one_cell_has_four_walls_walked_clockwise():
    made = border(["A"])
    assert runs(made) == {
        ((0, 0), (60, 0)): (RIGHT, RIGHT),
        ((60, 0), (60, -60)): (RIGHT, RIGHT),
        ((60, -60), (0, -60)): (RIGHT, RIGHT),
        ((0, -60), (0, 0)): (RIGHT, RIGHT),
    }
    assert made.filled.equals(box(0, -60, 60, 0))


def test_a_wall_along_several_cells_is_one():
    assert runs(border(["AAA", "AAA"])).keys() == {
        ((0, 0), (180, 0)),
        ((180, 0), (180, -120)),
        ((180, -120), (0, -120)),
        ((0, -120), (0, 0)),
    }


def test_an_inward_corner_turns_left():
    made = runs(border(["AA", "A."]))
    assert made[(120, -60), (60, -60)] == (RIGHT, LEFT)
    assert made[(60, -60), (60, -120)] == (LEFT, RIGHT)


def test_a_hole_is_walked_the_other_way_round():
    """Solid ground in the middle of 3 x 3 cells: with the room on the right its walls go round to the left."""
    made = runs(border(["AAA", "A.A", "AAA"]))
    inner = {
        ((60, -60), (60, -120)),
        ((60, -120), (120, -120)),
        ((120, -120), (120, -60)),
        ((120, -60), (60, -60)),
    }
    assert len(made) == 8
    assert all(made[path] == (LEFT, LEFT) for path in inner)


def test_an_opening_parts_a_wall_and_no_turn_follows_there():
    made = border(["AAA"], [way((2, 1), "north", "open")])
    found = runs(made)
    assert found[(0, 0), (60, 0)] == (RIGHT, None)
    assert found[(120, 0), (180, 0)] == (None, RIGHT)
    assert len(found) == 5


def test_two_open_sides_at_a_corner_leave_two_walls_that_end_in_the_open():
    found = runs(border(["A"], [way((1, 1), "north", "open"), way((1, 1), "east", "open")]))
    assert found == {((60, -60), (0, -60)): (None, RIGHT), ((0, -60), (0, 0)): (RIGHT, None)}


def test_all_sides_open_is_no_wall():
    sides = ("north", "east", "south", "west")
    made = border(["A"], [way((1, 1), side, "open") for side in sides])
    assert made.runs == ()


def polygon(corners, radius=50.0, middle=(90.0, -90.0)):
    """A regular polygon; no side of it lies on a line between cells."""
    turns = [2 * math.pi * k / corners + 0.1 for k in range(corners)]
    return Polygon([(middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t)) for t in turns])


@pytest.mark.parametrize("corners, walls", [(17, 17), (19, 1), (48, 1)])
def test_a_wall_is_bent_while_it_turns_by_at_most_20_degrees(corners, walls):
    """The corners of a regular polygon turn by 360 degrees / n: 21.2 of 17, 18.9 of 19."""
    made = border(["AAA", "AAA", "AAA"], region=polygon(corners))
    assert len(made.runs) == walls
    if walls == 1:
        assert made.runs[0].path[0] == made.runs[0].path[-1]
        assert (len(made.runs[0].path), made.runs[0].turns) == (corners + 1, (None, None))
    else:
        assert {len(run.path) for run in made.runs} == {2}
        assert made.runs[0].turns == (pytest.approx(2 * math.pi / corners),) * 2


def test_a_bent_wall_between_straight_ones_is_one_from_corner_to_corner():
    """A half circle to the north on a square's walls: the arc meets the straight walls smoothly."""
    arc = [(30 + 25 * math.cos(math.pi * k / 20), -30 + 25 * math.sin(math.pi * k / 20)) for k in range(21)]
    made = border(["A"], region=Polygon([*arc, (5, -55), (55, -55)]))
    (bent,) = [run for run in made.runs if len(run.path) > 2]
    (flat,) = [run for run in made.runs if len(run.path) == 2]
    assert flat.path == ((55, -55), (5, -55))
    assert (bent.path[0], bent.path[-1], len(bent.path)) == ((5, -55), (55, -55), 23)
    assert (bent.turns, flat.turns) == ((RIGHT, RIGHT), (RIGHT, RIGHT))


def test_a_corner_on_a_straight_side_is_none():
    region = Polygon([(5, -5), (20, -5), (55, -5), (55, -55), (5, -55)])
    assert ((5, -5), (55, -5)) in runs(border(["A"], region=region))


# --- lines between cells and lines beside them ---


def test_only_whole_lines_between_cells_are_what_the_drawing_says():
    """Three rooms' width of floor from 30 to 150: of its north side, parts of two lines are walls, the whole one is open."""
    ways = [way((c, 1), "north", "open") for c in (1, 2, 3)]
    found = runs(border(["AAA"], ways, region=box(30, -50, 150, 0)))
    assert found[(30, 0), (60, 0)] == (RIGHT, None)
    assert found[(120, 0), (150, 0)] == (None, RIGHT)
    # The south side lies on no line between cells.
    assert ((150, -50), (30, -50)) in found


def test_a_side_beside_a_line_between_cells_is_a_wall():
    ways = [way((1, 1), side, "open") for side in ("north", "west")]
    found = runs(border(["A"], ways, region=box(0.001, -60, 60, -0.001)))
    assert ((0.001, -0.001), (60, -0.001)) in found
    assert ((0.001, -60), (0.001, -0.001)) in found


def test_an_open_line_lies_where_the_drawing_has_it():
    for side, gone in [
        ("north", ((60, 0), (120, 0))),
        ("south", ((120, -180), (60, -180))),
        ("west", ((0, -120), (0, -60))),
        ("east", ((180, -60), (180, -120))),
    ]:
        cell = {"north": (2, 1), "south": (2, 3), "west": (1, 2), "east": (3, 2)}[side]
        found = border(["AAA"] * 3, [way(cell, side, "open")])
        assert len(found.runs) == 5
        walls = shapely.union_all([shapely.LineString(run.path) for run in found.runs])
        missing = box(0, -180, 180, 0).boundary.difference(walls)
        assert missing.equals(shapely.LineString(gone))


def test_a_corner_on_a_straight_side_parts_no_line_between_cells():
    region = Polygon([(0, 0), (90, 0), (180, 0), (180, -60), (0, -60)])
    made = border(["AAA"], [way((2, 1), "north", "open")], region=region)
    assert {((0, 0), (60, 0)), ((120, 0), (180, 0))} < runs(made).keys()
    assert made.filled.equals(shapely.union(box(0, -60, 180, 0), box(54, 0, 126, 24)))


# --- floor behind what carries no wall ---


def test_behind_an_open_line_floor_goes_on_past_the_walls_beside_it():
    """Four walls deep, and one wall's thickness further at each end where a wall follows."""
    made = border(["AAA"], [way((2, 1), "north", "open")])
    assert made.filled.equals(shapely.union(box(0, -60, 180, 0), box(54, 0, 126, 24)))


def test_the_floor_added_lies_outside_on_every_side():
    for side, more in [
        ("east", (60, -66, 84, 6)),
        ("south", (-6, -84, 66, -60)),
        ("west", (-24, -66, 0, 6)),
        ("north", (-6, 0, 66, 24)),
    ]:
        made = border(["A"], [way((1, 1), side, "open")])
        assert made.filled.equals(shapely.union(box(0, -60, 60, 0), box(*more)))


def test_two_open_lines_in_a_row_reach_over_only_their_outer_ends():
    made = border(["AAA"], [way((c, 1), "north", "open") for c in (1, 2)])
    assert made.filled.equals(shapely.union(box(0, -60, 180, 0), box(-6, 0, 126, 24)))


def test_round_a_corner_open_on_both_sides_a_post_stays():
    made = border(["A"], [way((1, 1), side, "open") for side in ("north", "east")])
    wanted = [box(0, -60, 60, 0), box(-6, 0, 60, 24), box(60, -66, 84, 0)]
    assert made.filled.equals(shapely.union_all(wanted))
    assert made.filled.intersection(box(60, 0, 66, 6)).area == 0


@pytest.mark.parametrize("letter, more", [("A", (60, -84, 120, -60)), ("B", (60, -60, 120, -36))])
def test_behind_a_saddle_floor_goes_on_just_as_wide_as_the_line(letter, more):
    """The door piece stands between two posts, which take nothing beyond the line's own ends."""
    rows = ["AAA", "BBB"]
    made = border(rows, [way((2, 1), "south", "saddle")], letter)
    assert made.filled.equals(shapely.union(floor_of(drawn(rows), letter), box(*more)))
    assert len(made.runs) == 5


def test_a_doorway_is_a_wall():
    made = border(["AB"], [way((1, 1), "east", "doorway")])
    assert made.filled.equals(box(0, -60, 60, 0))
    assert len(made.runs) == 4


# --- doorways and ways through outlines ---


def test_a_doorway_lies_where_its_line_says():
    for cell, side, at, path, middle in [
        # `at` is in spaces of 30 mm from the line's west or north end.
        ((2, 1), "north", 0.7, ((0, 0), (180, 0)), 60 + 21),
        ((2, 3), "south", 0.7, ((180, -180), (0, -180)), 180 - 81),
        ((3, 2), "east", 0.7, ((180, 0), (180, -180)), 60 + 21),
        ((1, 2), "west", 0.7, ((0, -180), (0, 0)), 180 - 81),
    ]:
        made = border(["AAA"] * 3, [way(cell, side, "doorway", at=at, width=12.0)])
        found = {run.path: spans(run) for run in made.runs}
        assert found.pop(path) == [(pytest.approx(middle - 6), pytest.approx(middle + 6))]
        assert not any(found.values())


def test_openings_of_a_wall_stand_in_the_order_of_their_stations():
    doors = [way((c, 1), "north", "doorway", width=10.0) for c in (3, 1, 2)]
    made = border(["AAA"], doors)
    (north,) = [run for run in made.runs if run.path == ((0, 0), (180, 0))]
    assert spans(north) == [(25, 35), (85, 95), (145, 155)]
    assert {opening.width for _, _, opening in north.openings} == {10}


def through(at, width=12.0, room="A", *, fixed=False, spot=None, head="flat"):
    return WallWay(room, at, "doorway", Opening(0.0, width, 20.0, head), fixed, spot, "[[way]] 1")


INSIDE = box(5, -55, 55, -5)  # walls 50 mm long, on no line between cells


def opened(*ways, region=INSIDE, rows=("A",), letter="A"):
    made = border(list(rows), region=region, wall_ways=ways, letter=letter)
    return {run.path: [tuple(map(pytest.approx, span)) for span in spans(run)] for run in made.runs if run.openings}


def test_a_way_goes_through_the_nearest_wall_at_the_nearest_point():
    # (0.5, 0.2) of a cell is (30, -12): 7 mm from the north wall, 25 mm along it.
    assert opened(through((0.5, 0.2))) == {((5, -5), (55, -5)): [(19, 31)]}
    # (54, -40) is nearest to the east wall, 35 mm along.
    assert opened(through((0.9, 40 / 60))) == {((55, -5), (55, -55)): [(29, 41)]}


def test_a_way_goes_where_it_is_known_to():
    assert opened(through((0.5, 0.2), spot=(30.0, -55.0))) == {((55, -55), (5, -55)): [(19, 31)]}


def test_a_way_near_a_corner_shrinks_to_what_leaves_half_a_wall_of_jamb():
    """Station 16 of a wall 50 mm long: 10 mm to the next wall's inner face; 2 x 10 less two jambs of 3: 14."""
    assert opened(through((21 / 60, 0.1), width=40.0)) == {((5, -5), (55, -5)): [(9, 23)]}
    # From the other end it is the same.
    assert opened(through((39 / 60, 0.1), width=40.0)) == {((5, -5), (55, -5)): [(27, 41)]}


def test_where_the_wall_turns_outwards_nothing_is_lost_at_its_end():
    """The inner corner of an L at (30, -30): from it 20 mm of wall to the next corner, with 14 clear."""
    region = Polygon([(5, -5), (50, -5), (50, -30), (30, -30), (30, -55), (5, -55)])
    # Walls run from (50, -30) to (30, -30) and on to (30, -55). Station 13 of the first: 7 mm to both clear ends.
    assert opened(through((37 / 60, 0.5), width=40.0), region=region) == {((50, -30), (30, -30)): [(9, 17)]}
    # Station 12 of the second, which begins at the inner corner: 12 mm to it, 7 to the other end's clear one.
    assert opened(through((0.5, 42 / 60), width=40.0), region=region) == {((30, -30), (30, -55)): [(8, 16)]}


def test_half_a_corner_counts_as_a_whole_one_does():
    """Turns of 45 degrees: to the right, where the next wall's thickness is lost, and to the left, where none is."""
    rows = ("AAA",) * 3
    cut = Polygon([(40, -40), (120, -40), (140, -60), (140, -140), (40, -140)])
    # Station 65 of 80: 9 mm to the clear end; 2 x 9 less 6 is 12.
    assert opened(through((105 / 60, 0.6), width=40.0), region=cut, rows=rows) == {((40, -40), (120, -40)): [(59, 71)]}
    # The south wall steps up at x = 110 and slopes down from x = 80: nothing is lost of the 30 mm between.
    bump = [(40, -40), (140, -40), (140, -140), (110, -140), (110, -120), (80, -120), (60, -140), (40, -140)]
    found = opened(through((95 / 60, 2.0), width=40.0), region=Polygon(bump), rows=rows)
    assert found == {((110, -120), (80, -120)): [(3, 27)]}


def test_where_a_wall_ends_in_the_open_nothing_is_lost_either():
    """Station 10 of a wall of 60 mm whose start is open: 10 mm to it; 2 x 10 less 6 is 14."""
    made = border(["AA"], [way((1, 1), "north", "open")], wall_ways=[through((70 / 60, 0.0), width=40.0)])
    assert [spans(run) for run in made.runs if run.openings] == [[(3, 17)]]


def refused(words, *ways, **more):
    with pytest.raises(InputError) as caught:
        opened(*ways, **more)
    assert words in caught.value.message
    assert caught.value.place == "[[way]] 1"


def test_a_width_that_was_asked_for_does_not_shrink():
    assert opened(through((21 / 60, 0.1), width=14.0, fixed=True)) == {((5, -5), (55, -5)): [(9, 23)]}
    refused(
        "is 14.1 mm wide, but the wall at [0.35, 0.08] has room for only 14 mm. Use a width of 14 mm or less",
        through((21 / 60, 0.1), width=14.1, fixed=True),
    )


def test_a_way_narrower_than_a_wall_that_must_shrink_is_refused():
    """One at station 12 has 6 mm, a wall's thickness; at station 11.9 it has 5.8."""
    assert opened(through((17 / 60, 0.1), width=40.0)) == {((5, -5), (55, -5)): [(9, 15)]}
    refused(
        "is 40 mm wide, but the wall at [0.28, 0.08] has room for only 5.8 mm. Move it away",
        through((16.9 / 60, 0.1), width=40.0),
    )
    refused("has room for only 0 mm. Move it away", through((12 / 60, 0.1), width=40.0))
    # A narrower one needs no more than itself.
    assert opened(through((16.9 / 60, 0.1), width=5.0)) == {((5, -5), (55, -5)): [(9.4, 14.4)]}
    refused("the opening is 5 mm wide, but", through((16.4 / 60, 0.1), width=5.0))


def test_a_way_where_the_room_is_open_is_refused():
    with pytest.raises(InputError, match=r'room "A" has no wall at \[0\.5, 0\]'):
        _ = border(["A"], [way((1, 1), "north", "open")], wall_ways=[through((0.5, 0.0))]).runs
    open_all = [way((1, 1), side, "open") for side in ("north", "east", "south", "west")]
    with pytest.raises(InputError, match="has no wall"):
        _ = border(["A"], open_all, wall_ways=[through((0.5, 0.0))]).runs


def test_round_heads_only_in_straight_walls():
    assert opened(through((0.5, 0.1), head="round")) == {((5, -5), (55, -5)): [(19, 31)]}
    disc = polygon(48, 25.0, (30.0, -30.0))
    refused("a round head needs a straight wall, and the wall at [", through((0.5, 0.1), head="round"), region=disc)
    ((path, ((first, last),)),) = opened(through((0.5, 0.1)), region=disc).items()
    assert last.expected - first.expected == pytest.approx(12)
    assert (
        shapely.LineString(path).interpolate((first.expected + last.expected) / 2).distance(shapely.Point(30, -5)) < 0.1
    )


def test_a_wall_with_one_bend_is_a_curve():
    """Two facets that meet at 18 degrees."""
    region = Polygon([(40, -40), (90, -32), (140, -40), (140, -140), (40, -140)])
    refused(
        "a round head needs a straight wall, and the wall at [",
        through((1.0, 0.6), head="round"),
        region=region,
        rows=("AAA",) * 3,
    )
    assert list(opened(through((1.0, 0.6)), region=region, rows=("AAA",) * 3)) == [((40, -40), (90, -32), (140, -40))]


def test_a_wall_all_round_has_room_for_a_way_where_it_begins():
    disc = polygon(48, 25.0, (30.0, -30.0))
    start = border(["A"], region=disc).runs[0].path[0]
    assert list(opened(through((0.5, 0.5), spot=start), region=disc).values()) == [[(-6, 6)]]
    # The whole length: 48 sides of 2 r sin(180 / 48 degrees).
    length = 48 * 2 * 25 * math.sin(math.pi / 48)
    refused(
        f"room for only {math.floor(length * 100) / 100:g} mm",
        through((0.5, 0.5), 200.0, spot=start, fixed=True),
        region=disc,
    )


def test_a_way_lies_on_a_wall_to_a_tenth_of_a_millimetre():
    assert opened(through((0.5, 0.0), spot=(30.0, -4.91))) == {((5, -5), (55, -5)): [(19, 31)]}
    refused("has no wall", through((0.5, 0.0), spot=(30.0, -4.89)))


def test_a_way_of_another_room_is_this_ones_too_where_its_wall_stands_behind():
    """At the point of this room's own wall; another room's way with nothing behind it is none of this one's."""
    shared = replace(through((0.5, 0.0), room="B", spot=(30.0, 0.0)), beyond=("A", (30.0, -5.0)))
    assert opened(shared) == {((5, -5), (55, -5)): [(19, 31)]}
    assert opened(replace(shared, beyond=None)) == {}
    assert opened(replace(shared, beyond=("C", (30.0, -5.0)))) == {}


def test_an_open_way_needs_no_jamb_beside_the_wall_round_a_corner():
    """Of a wall 50 mm long between two corners 38 are clear: an open way takes them all, a doorway leaves 3 each side."""
    for kind, wide in (("open", 38.0), ("doorway", 32.0)):
        assert opened(replace(through((0.5, 0.1), width=60.0), kind=kind)) == {
            ((5, -5), (55, -5)): [(25 - wide / 2, 25 + wide / 2)]
        }
