"""Features on the table: who stands where, who sees what, against the rules of README.md written a second time."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from shapely.geometry import box

from tests.kits.test_features import feature, furnished, furnished_plans, kit_of, make
from tests.kits.test_sight import meets, slow_wall_lines
from tests.oracle import DEPTH, HIGH, PITCH, WALL
from tilegen.fit.figures import figures_on
from tilegen.fit.floor import blocks_of, level_floor, spaces_of
from tilegen.plans.features import RoomHeights
from tilegen.plans.layout import lay
from tilegen.plans.sight import in_sight, visible_from

P, W = PITCH, WALL


def stands(drawing, base):
    (figure,) = figures_on(drawing, [base])
    return {(c + 1, r + 1) for r, c in np.argwhere(figure.standing).tolist()}, figure


# --- fit ---


def test_a_pillar_takes_floor():
    """A pillar in the middle of a 10 ft room takes the inner corner of all four spaces."""
    free, _ = stands(furnished(["A"]), 25.4)
    with_pillar, _ = stands(furnished(["A"], [feature("pillar", (1, 1))]), 25.4)
    assert len(free) == 4
    assert with_pillar == set()
    # By hand: 25.4 x 25.4 less a square of 6.35 in one corner: r (1 + sqrt 1/2) = (25.4 - 6.35) sqrt 2 / ... = 22.3182.
    most = 2 * (25.4 - 6.35) * (2 - 2**0.5)
    assert len(stands(furnished(["A"], [feature("pillar", (1, 1))]), most - 1e-3)[0]) == 4
    assert not stands(furnished(["A"], [feature("pillar", (1, 1))]), most + 1e-3)[0]


@pytest.mark.parametrize("kind, size", [("pit", None), ("well", (50.8, 50.8))])
def test_a_hollow_can_not_be_stood_on_nor_walked_over(kind, size):
    drawing = furnished(["AAA"], [feature(kind, (2, 1), size=size)], ways={(1, 1, "west"): "doorway"})
    where, figure = stands(drawing, 25.4)
    assert where == {(c, r) for c in (1, 2, 5, 6) for r in (1, 2)}
    # One room of one letter: the far side is a part that is not cut off by a wall, so the room counts as got to.
    assert not figure.rooms_unreached


def test_beyond_a_pit_is_another_matter_than_beyond_a_stair():
    ways = {(1, 1, "west"): "doorway", (1, 1, "east"): "open", (2, 1, "east"): "open"}
    pit = furnished(["ABC"], [feature("pit", (2, 1))], ways=ways)
    assert stands(pit, 25.4)[1].rooms_unreached == ("B", "C")
    stair = furnished(["ABC"], [feature("stair", (2, 1), side="east")], {"C": RoomHeights(None, 12.7)}, ways=ways)
    where, figure = stands(stair, 25.4)
    assert figure.rooms_unreached == ()
    # Treads of 31.75 mm: as deep as the base, so it stands on them.
    assert where == {(c, r) for c in range(1, 7) for r in (1, 2)}
    steep = furnished(
        ["ABC"], [feature("stair", (2, 1), side="east", steps=4)], {"C": RoomHeights(None, 12.7)}, ways=ways
    )
    where, figure = stands(steep, 25.4)
    assert where == {(c, r) for c in (1, 2, 5, 6) for r in (1, 2)}
    assert figure.rooms_unreached == ()


@pytest.mark.parametrize("down", [False, True])
def test_a_room_nobody_stands_in_is_no_bridge_between_its_doorways(down):
    """Doorways lead from A into a pit and from the pit into C: whoever can't stand in it does not come to C."""
    rows, pit = (["A", "B", "C"], (1, 2)) if down else (["ABC"], (2, 1))
    side, way_in = ("south", "north") if down else ("east", "west")
    ways = {(1, 1, way_in): "doorway", (1, 1, side): "doorway", (*pit, side): "doorway"}
    assert stands(furnished(rows, ways=ways), 15.0)[1].rooms_unreached == ()
    assert stands(furnished(rows, [feature("pit", pit)], ways=ways), 15.0)[1].rooms_unreached == ("B", "C")
    # The same with both rooms on one side of it.
    rows, pits = (["AB", "CB"], [(2, 1), (2, 2)]) if down else (["AC", "BB"], [(1, 2), (2, 2)])
    beyond, side = ((1, 2), "east") if down else ((2, 1), "south")
    ways = {(1, 1, way_in): "doorway", (1, 1, side): "doorway", (*beyond, side): "doorway"}
    assert stands(furnished(rows, ways=ways), 15.0)[1].rooms_unreached == ()
    both = [feature("pit", at) for at in pits]
    assert stands(furnished(rows, both, ways=ways), 15.0)[1].rooms_unreached == ("B", "C")


def test_nobody_stands_half_on_a_dais():
    on_lines = furnished(["AA"], [feature("dais", (1, 1), at=(1.5, 1.0), size=(31.75, 63.5 - 12.7))])
    assert len(stands(on_lines, 25.4)[0]) == 8
    off_lines = furnished(["AA"], [feature("dais", (1, 1), at=(1.0, 1.0), size=(31.75, 63.5 - 12.7))])
    assert stands(off_lines, 25.4)[0] == {(3, 1), (3, 2), (4, 1), (4, 2)}


def test_a_large_figure_does_not_stand_over_a_step_but_gets_past():
    ways = {(1, 1, "west"): "open", (1, 1, "east"): "open"}
    flat = furnished(["AB"], ways=ways)
    step = furnished(["AB"], heights={"B": RoomHeights(None, 6.35)}, ways=ways)
    assert stands(flat, 50.8)[0] == {(1, 1), (2, 1), (3, 1)}
    where, figure = stands(step, 50.8)
    assert where == {(1, 1), (3, 1)}
    assert figure.rooms_unreached == ()


@settings(max_examples=5, deadline=None)
@given(furnished_plans())
def test_who_stands_where_agrees_with_the_rule(case):
    oracle, scale, things, floors, _ = case
    spaces = 2 if scale == "10 ft" else 1
    drawing = make(*case)
    levels = {}
    taken = [shapely.box(*b) for c, r in cells(oracle) for b in oracle.standing(c, r, spaces)]
    taken += [shapely.box(*oracle.box_of(t, spaces)) for t in things if t.kind in ("pit", "pillar")]
    for c, r in cells(oracle):
        side = spaces * PITCH
        levels.setdefault(floors[oracle.room(c, r)], []).append(
            shapely.box((c - 1) * side, (r - 1) * side, c * side, r * side)
        )
    levels = {height: shapely.union_all(parts) for height, parts in levels.items()}
    for thing in things:
        for area, top in steps_of(oracle, thing, spaces):
            height = floors[oracle.room(thing.column, thing.row)] + top
            levels = {z: region.difference(area) for z, region in levels.items()}
            levels[height] = shapely.union_all([levels.get(height, shapely.Polygon()), area])
    taken = shapely.union_all(taken)
    for base in (8.0, 19.5, 24.0, 47.0):
        (figure,) = figures_on(drawing, [base]) if figure_fits(drawing, base) else (None,)
        if figure is None:
            continue
        n = figure.spaces_across
        for row, column in np.argwhere(figure.blocks).tolist():
            block = shapely.box(column * PITCH, row * PITCH, (column + n) * PITCH, (row + n) * PITCH)
            best = max(largest(region.intersection(block).difference(taken)) for region in levels.values())
            if abs(best - base) > 0.01:
                assert figure.standing[row, column] == (best > base), (base, row, column, best)


def figure_fits(drawing, base):
    return max(drawing.rooms.shape) * drawing.cell_spaces >= max(1, int(base / 25.4 + 0.5))


def largest(region):
    """The diameter of the largest disc in a region, to 0.004 mm: shapely's, not ours."""
    return max(
        (
            2 * shapely.maximum_inscribed_circle(p, tolerance=0.002).length
            for p in shapely.get_parts(region).tolist()
            if p.area > 1
        ),
        default=0.0,
    )


def steps_of(oracle, thing, spaces):
    """(area, height above the floor) of what can be stood on."""
    if thing.kind == "dais":
        yield shapely.box(*oracle.box_of(thing, spaces)), thing.height
    if thing.kind == "stair":
        west, north, east, south = oracle.box_of(thing, spaces)
        yield shapely.box(west, north, east, south), thing.height / 2
        half = {
            "north": (west, north, east, (north + south) / 2),
            "south": (west, (north + south) / 2, east, south),
            "east": ((west + east) / 2, north, east, south),
            "west": (west, north, (west + east) / 2, south),
        }[thing.side]
        yield shapely.box(*half), thing.height


def cells(oracle):
    return [
        (c, r) for c, r in product(range(1, oracle.width + 1), range(1, oracle.height + 1)) if oracle.room(c, r) != "."
    ]


# --- sight ---


def test_low_walls_do_not_stop_sight_and_high_ones_do():
    rows = ["AB"]
    usual = furnished(rows)
    # 3/4 of a pitch: 23.8125 mm, above the lower floor.
    for heights, seen in (
        ({"A": RoomHeights(12.7), "B": RoomHeights(23.8125)}, 2),
        ({"A": RoomHeights(12.7), "B": RoomHeights(23.9)}, 1),
        ({"A": RoomHeights(12.7)}, 1),
        ({"A": RoomHeights(12.7), "B": RoomHeights(12.7, 11.1)}, 2),
        ({"A": RoomHeights(12.7), "B": RoomHeights(12.7, 11.2)}, 1),
    ):
        drawing = furnished(rows, heights=heights)
        assert visible_from(drawing, (1, 1)).sum() == seen, heights
    assert visible_from(usual, (1, 1)).sum() == 1


def test_solid_ground_and_saddles_stop_sight_whatever_their_height():
    low = {letter: RoomHeights(12.7) for letter in "AB"}
    assert visible_from(furnished(["A.B"], heights=low), (1, 1)).sum() == 1
    assert visible_from(furnished(["AB"], heights=low, ways={(1, 1, "east"): "saddle"}), (1, 1)).sum() == 1


def test_a_pillar_as_wide_as_a_space_stops_sight():
    """At 5 ft a pillar that fills its square: lines that meet its corner stop there. A slimmer or a low one does not."""
    rows = ["AAA", "AAA", "AAA"]

    def seen(**given):
        pillars = [feature("pillar", (2, r), **given) for r in (2,)]
        return visible_from(furnished(rows, pillars, scale="5 ft"), (1, 2))

    assert seen(size=(PITCH, PITCH)).tolist() == [[True, False, False]] * 3
    assert seen(size=(PITCH - 0.6, PITCH - 0.6)).all()
    assert seen(size=(PITCH, PITCH), height=20.0).all()


def test_a_pillar_on_one_space_of_a_10_ft_square():
    rows = ["AAA", "AAA", "AAA"]
    size = (PITCH, PITCH)
    on = furnished(rows, [feature("pillar", (2, 2), at=(0.5, 0.5), size=size)])
    # The tile itself is in sight by its other three spaces; so is the one right beyond it.
    assert visible_from(on, (1, 2)).all()
    # Two of them close the way straight on, and steeper lines meet their corners.
    two = [feature("pillar", (2, r), at=(0.5, y), size=size) for r, y in ((2, 0.5), (2, 1.5))]
    assert visible_from(furnished(rows, two), (1, 2))[1].tolist() == [True, False, False]
    whole = furnished(rows, [feature("pillar", (2, 2), at=(1.0, 1.0), size=(2 * PITCH, 2 * PITCH))])
    assert visible_from(whole, (1, 2))[1].tolist() == [True, False, False]
    # Not on the lattice of the spaces it covers none of them whole, so sight goes past it.
    off = furnished(rows, [feature("pillar", (2, 2), at=(1.0, 1.0), size=(1.5 * PITCH, 1.5 * PITCH))])
    assert visible_from(off, (1, 2)).all()


def looked_over(drawing, oracle, floors, lows, spaces, things):
    """The wall lines that stop sight, from the words: ends in half spaces."""
    side = 2 * spaces
    kept = []
    for x0, y0, x1, y1 in slow_wall_lines(drawing, doors_open=False).tolist():
        if x0 == x1:
            one, other = (x0 // side, y0 // side + 1), (x0 // side + 1, y0 // side + 1)
        else:
            one, other = (x0 // side + 1, y0 // side), (x0 // side + 1, y0 // side + 1)
        rooms = [oracle.room(*cell) for cell in (one, other)]
        if "." not in rooms:
            tops = [floors[room] + (HIGH if lows[room] is None else lows[room]) for room in rooms]
            if max(tops) - min(floors[room] for room in rooms) <= 0.75 * PITCH + 1e-6:
                continue
        kept.append((x0, y0, x1, y1))
    for thing in things:
        if thing.kind == "pillar" and thing.height > 0.75 * PITCH and thing.size == (PITCH, PITCH):
            x, y = 2 * (thing.column - 1), 2 * (thing.row - 1)
            kept += [(x, y, x + 2, y), (x, y + 2, x + 2, y + 2), (x, y, x, y + 2), (x + 2, y, x + 2, y + 2)]
    return np.array(kept, np.int64).reshape(-1, 4)


@settings(max_examples=10, deadline=None)
@given(furnished_plans())
def test_sight_agrees_with_the_rule(case):
    oracle, scale, things, floors, lows = case
    if scale == "5 ft":
        # Pillars that fill their square, where no wall or post stands on it.
        for t in things:
            if t.kind == "pillar" and not oracle.standing(t.column, t.row, 1):
                t.at, t.size, t.height = (0.5, 0.5), (PITCH, PITCH), 30.0
    spaces = 2 if scale == "10 ft" else 1
    drawing, kit = kit_of(case)
    if kit is None:
        return
    laid = lay(drawing, kit)
    lines = looked_over(drawing, oracle, floors, lows, spaces, things)
    centres = [
        (int(laid.tile_of[r, c]), (2 * (c * spaces + i) + 1, 2 * (r * spaces + j) + 1))
        for r, c in np.argwhere(laid.tile_of >= 0)
        for i, j in product(range(spaces), repeat=2)
    ]
    sees = np.eye(len(laid.type_of), dtype=bool)
    for n, (a, p) in enumerate(centres):
        for b, q in centres[n + 1 :]:
            if not sees[a, b] and (not len(lines) or not meets(p, q, lines)):
                sees[a, b] = sees[b, a] = True
    most = tuple(int(sees[:, laid.type_of == t].sum(axis=1).max()) for t in range(len(kit.types)))
    assert in_sight(drawing, kit).most == most


def test_the_measures_of_the_oracle_are_the_grids():
    from tilegen.model.grid import Grid

    grid = Grid()
    assert (grid.pitch, grid.wall_thickness, grid.base_depth, grid.wall_height) == (PITCH, WALL, DEPTH, HIGH)


def test_the_flat_part_of_a_block():
    """By hand, y to the south: a corner space with a pillar, one on two floors, one half on a dais."""
    beside = box(W, W, P, P)
    pillar = levels_on(furnished(["A"], [feature("pillar", (1, 1))]))
    assert pillar.flat_floor(0, 0, 1).equals(beside.difference(box(P - W, P - W, P, P)))
    # The dais takes 3 mm along the west: the level beside it has the larger disc.
    on = feature("dais", (2, 1), at=(1.5 / P, 1.0), size=(3.0, 63.5 - 2 * W))
    assert levels_on(furnished(["AAA"], [on])).flat_floor(0, 2, 1).area == pytest.approx((P - 3.0) * (P - W))
    step = levels_on(furnished(["AB"], heights={"B": RoomHeights(None, 6.35)}, ways={(1, 1, "east"): "open"}))
    two = step.flat_floor(0, 1, 2)
    assert two.area == pytest.approx(P * (2 * P - 2 * W))
    assert step.flat_floor(0, 1, 1).area == pytest.approx(P * (P - W))


def levels_on(drawing):
    return level_floor(spaces_of(drawing))


@settings(max_examples=8, deadline=None)
@given(furnished_plans())
def test_the_flat_part_holds_the_largest_disc(case):
    drawing = make(*case)
    levels, spaces = levels_on(drawing), spaces_of(drawing)
    for across in (1, 2) if levels is not None else ():
        for row, column in levels.special(blocks_of(spaces, across), across).tolist()[:6]:
            flat, past = levels.discs(row, column, across)
            assert flat <= past + 1e-9
            if flat > 1:
                part = levels.flat_floor(row, column, across)
                assert abs(largest(part) - flat) < 0.01
