"""Who stands where: the largest disc against a general library's, worked figures, and who gets where."""

from __future__ import annotations

from itertools import product

import networkx as nx
import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.kits.test_fit_plans import drawn, make_plan, mirrored, random_parts, random_plan, turned, worked_plan
from tilegen.errors import InputError
from tilegen.fit.discs import largest_disc
from tilegen.fit.figures import FEET_OF_SIZE, base_of_size, figures_on, figures_record, reach_record, spaces_across
from tilegen.fit.floor import blocks_of, spaces_of
from tilegen.fit.stops import necks_of
from tilegen.model.grid import Grid
from tilegen.plans.route import find_areas
from tilegen.plans.ways import ExtraWall, Way

P, W = 31.75, 6.35


def disc_of(strips, posts, pitch=P, wall=W):
    return largest_disc(
        np.atleast_2d(np.array(strips, np.uint8)), np.atleast_2d(np.array(posts, np.uint8)), pitch, wall
    )


def free_floor(strips, posts, pitch, wall):
    """A block's floor less strips and posts, made with shapely from the words of the contract."""
    taken = []
    for (r, c), bits in np.ndenumerate(strips):
        x0, y0, x1, y1 = c * pitch, r * pitch, (c + 1) * pitch, (r + 1) * pitch
        sides = (
            box(x0, y0, x1, y0 + wall),
            box(x1 - wall, y0, x1, y1),
            box(x0, y1 - wall, x1, y1),
            box(x0, y0, x0 + wall, y1),
        )
        taken += [sides[k] for k in range(4) if bits >> k & 1]
        xs, ys = (x1 - wall, x1 - wall, x0, x0), (y0, y1 - wall, y1 - wall, y0)
        taken += [box(xs[k], ys[k], xs[k] + wall, ys[k] + wall) for k in range(4) if posts[r, c] >> k & 1]
    side = len(strips) * pitch
    return box(0, 0, side, side).difference(shapely.union_all(taken))


# --- worked figures ---


def test_worked_discs_of_one_space():
    assert disc_of(0, 0) == pytest.approx(31.75, abs=1e-9)
    assert disc_of(1, 0) == pytest.approx(25.4, abs=1e-9)
    assert disc_of(0b0011, 0) == pytest.approx(25.4, abs=1e-9)
    assert disc_of(0b0101, 0) == pytest.approx(19.05, abs=1e-9)
    # (pitch - wall)(2 - sqrt 2) x 2
    assert disc_of(0, 1) == pytest.approx((31.75 - 6.35) * (2 - 2**0.5) * 2, abs=1e-9)
    assert disc_of(0, 1) == pytest.approx(29.758, abs=1e-3)


def test_four_posts_leave_the_circle_through_their_corners():
    # By symmetry the disc is centred and touches the four inner corners: sqrt 2 (pitch - 2 wall), if that is less.
    assert disc_of(0, 15) == pytest.approx(2**0.5 * (P - 2 * W), abs=1e-9)
    assert disc_of(0, 15, 30.0, 2.0) == pytest.approx(30.0, abs=1e-9)


def test_a_wall_and_two_posts_opposite_leave_the_full_width():
    # Between wall and far side the disc slides along; the posts leave it a stretch that no corner of lines marks.
    assert disc_of(8, 0b0011, 10.0, 1.5) == pytest.approx(8.5, abs=1e-9)


def test_an_inch_stands_on_every_space_of_any_plan_at_10_ft():
    for seed in range(5):
        (figure,) = figures_on(random_plan(seed), [25.4])
        assert figure.stands == figure.positions
        assert figure.blocked.tolist() == []


def test_two_inches_stand_along_a_10_ft_hall_and_no_more():
    hall = make_plan("AAAAAA")
    fits, larger = figures_on(hall, [50.8, 50.8 + 1e-4])
    assert (fits.positions, fits.stands) == (11, 11)
    assert (larger.positions, larger.stands) == (11, 0)
    assert larger.blocked.tolist() == [[c, 1] for c in range(1, 12)]
    assert figures_on(hall, [50.8 + 5e-7])[0].stands == 11


def test_a_one_space_hall_keeps_three_quarters_of_an_inch():
    hall = make_plan("AAAA", scale="5 ft")
    fits, larger = figures_on(hall, [19.05, 19.06])
    assert (fits.stands, larger.stands) == (4, 0)


def test_30_mm_stands_on_open_spaces_and_not_beside_a_post():
    # Cell 1, 1 of the room A has a post in its north-west corner: the room's walls go on from there on both sides.
    plan = make_plan(".AAA\nAAAA\nAAAA\nAAAA")
    (figure,) = figures_on(plan, [30.0])
    standing = {(c + 1, r + 1) for r, c in np.argwhere(figure.standing)}
    assert (3, 3) not in standing
    assert {(4, 4), (5, 4), (4, 5)} <= standing
    assert figures_on(plan, [29.7579])[0].standing[2, 2]


def test_the_record_is_the_contracts():
    record = figures_record(figures_on(worked_plan(), [25.4, 50.8]))
    assert record == [
        {"base_mm": 25.4, "spaces_across": 1, "positions": 52, "stands": 52, "blocked": []},
        {"base_mm": 50.8, "spaces_across": 2, "positions": 29, "stands": 29, "blocked": []},
    ]


# --- against a general library and by sampling ---


def test_every_pattern_of_one_space_agrees_with_the_largest_inscribed_circle():
    # shapely.maximum_inscribed_circle (GEOS) searches to a tolerance; ours is in closed form.
    # Every pattern of strips, and of posts, is among them.
    for strips, posts in ((strips, (5 * strips + n) % 16) for strips, n in product(range(16), range(4))):
        floor = free_floor(np.array([[strips]]), np.array([[posts]]), 10.0, 2.5)
        theirs = 2 * shapely.maximum_inscribed_circle(floor, tolerance=1e-4).length
        assert disc_of(strips, posts, 10.0, 2.5) == pytest.approx(theirs, abs=4e-4), (strips, posts)


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_blocks_of_random_plans_agree_with_the_largest_inscribed_circle(scale):
    checked = 0
    for seed in range(16):
        spaces = spaces_of(random_plan(seed, scale=scale))
        for n in (2, 3):
            for r, c in np.argwhere(blocks_of(spaces, n))[::6]:
                here = np.s_[r : r + n, c : c + n]
                strips, posts = spaces.strips[here], spaces.posts[here]
                theirs = 2 * shapely.maximum_inscribed_circle(free_floor(strips, posts, P, W), tolerance=1e-3).length
                assert largest_disc(strips, posts, P, W) == pytest.approx(theirs, abs=4e-3), (seed, n, r, c)
                checked += 1
    assert checked > 20


def test_a_sampled_search_finds_no_larger_disc_and_comes_near():
    """Points thrown at a block's floor, the best of them thrown at again ever closer: the farthest from all that stands."""
    rng = np.random.default_rng(11)
    for number in range(40):
        n = int(rng.integers(1, 4))
        strips, posts = np.zeros((2, n, n), np.uint8)
        strips[0] |= rng.choice(np.array([0, 1], np.uint8))
        strips[:, 0] |= rng.choice(np.array([0, 8], np.uint8))
        posts[tuple(rng.choice([0, -1], 2))] = 1 << rng.integers(0, 4)
        floor, side, around = free_floor(strips, posts, P, W), n * P, n * P
        best, centre = 0.0, np.array([side, side]) / 2
        for _ in range(24):
            points = centre + rng.uniform(-around, around, (300, 2))
            inside = points[shapely.contains_xy(floor, *points.T)]
            far = shapely.distance(shapely.boundary(floor), shapely.points(inside))
            if len(far) and far.max() > best:
                best, centre = float(far.max()), inside[far.argmax()]
            around *= 0.75
        ours = largest_disc(strips, posts, P, W)
        assert 2 * best <= ours + 1e-9, number
        assert 2 * best >= ours - 0.2, number


def test_made_up_blocks_agree_with_the_largest_inscribed_circle():
    # Strips and posts thrown at a block's rim, more of them than any map has: all kinds of three features meet.
    rng = np.random.default_rng(3)
    for number in range(60):
        n = int(rng.integers(1, 4))
        rim = np.zeros((n, n), np.uint8)
        rim[0] |= 1
        rim[:, -1] |= 2
        rim[-1] |= 4
        rim[:, 0] |= 8
        strips = rim & rng.choice(16, (n, n), p=[0.7] + [0.02] * 15).astype(np.uint8)
        corners = (rim | rim >> 1 | rim << 3) & 15
        posts = corners & rng.integers(0, 16, (n, n)).astype(np.uint8)
        wall = float(rng.choice([2.0, 4.9]))
        theirs = 2 * shapely.maximum_inscribed_circle(free_floor(strips, posts, 10.0, wall), tolerance=1e-4).length
        assert largest_disc(strips, posts, 10.0, wall) == pytest.approx(theirs, abs=5e-4), number


def slow_figure(drawing, base):
    """Positions and standing ones from the contract's words, space by space and line by line."""
    k, n = drawing.cell_spaces, max(1, int(np.floor(base / 25.4 + 0.5)))
    rows, columns = (m * k for m in drawing.rooms.shape)
    spaces = spaces_of(drawing)
    stands = [kind.facts.stands for kind in drawing.kinds]
    positions, standing = set(), set()
    for r, c in product(range(rows - n + 1), range(columns - n + 1)):
        inside = [(y, x) for y in range(r, r + n) for x in range(c, c + n)]
        if any(not drawing.rooms[y // k, x // k] for y, x in inside):
            continue
        lines = [drawing.down[y // k, x // k] for y in range(r, r + n) for x in range(c + 1, c + n) if x % k == 0]
        lines += [drawing.across[y // k, x // k] for y in range(r + 1, r + n) for x in range(c, c + n) if y % k == 0]
        if any(stands[line] for line in lines):
            continue
        positions.add((c + 1, r + 1))
        floor = free_floor(spaces.strips[r : r + n, c : c + n], spaces.posts[r : r + n, c : c + n], P, W)
        if 2 * shapely.maximum_inscribed_circle(floor, tolerance=1e-3).length + 1e-2 >= base:
            standing.add((c + 1, r + 1))
    return positions, standing


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
@pytest.mark.parametrize("base", [19.0, 30.5, 60.0])
def test_positions_agree_with_the_words_of_the_contract(scale, base):
    for seed in range(4):
        drawing = random_plan(seed + 70, scale=scale, most=5)
        if spaces_across(base) > max(spaces_of(drawing).shape):
            continue
        positions, standing = slow_figure(drawing, base)
        (figure,) = figures_on(drawing, [base])
        assert figure.positions == len(positions)
        blocked = {tuple(place) for place in figure.blocked.tolist()}
        assert blocked == positions - standing, seed


@pytest.mark.parametrize("change", [turned, mirrored])
@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_turning_or_mirroring_the_map_changes_no_number(change, scale):
    for seed in range(5):
        parts = random_parts(np.random.default_rng(seed + 10))
        before, after = drawn(parts, scale=scale), drawn(change(*parts), scale=scale)
        for base in (19.05, 28.0, 30.0, 50.8):
            if spaces_across(base) > max(spaces_of(before).shape):
                continue
            (one,), (other,) = figures_on(before, [base]), figures_on(after, [base])
            assert (one.positions, one.stands) == (other.positions, other.stands)
            if one.from_ways_in:
                assert one.rooms_unreached == other.rooms_unreached


# --- who gets where ---


def rooms_missed(plan, base):
    return figures_on(plan, [base])[0].rooms_unreached


def test_a_doorway_lets_through_what_is_at_most_as_wide():
    ways = [Way((1, 1), "west", "open"), Way((3, 1), "east", "doorway", width=20.0)]
    plan = make_plan("AAABB\nAAABB", ways=ways, titles={"B": "Drying loft"})
    assert rooms_missed(plan, 20.0) == ()
    assert rooms_missed(plan, 20.01) == ("B",)
    (figure,) = figures_on(plan, [50.8])
    assert figure.stands == figure.positions
    assert reach_record((figure,))[0]["unreached"] == [
        {"room": "B", "title": "Drying loft", "first_cell": [4, 1], "cells": 4}
    ]


def test_a_base_that_does_not_stand_beside_a_wall_does_not_get_through_a_doorway():
    # 25.4 mm is left beside a wall: a step ends where the figure stands, however wide the opening is.
    ways = [Way((1, 1), "west", "open"), Way((3, 1), "east", "doorway")]
    plan = make_plan("AAABB\nAAABB", ways=ways)
    assert rooms_missed(plan, 25.4) == ()
    assert rooms_missed(plan, 25.5) == ("B",)


def test_an_open_way_lets_every_figure_through_and_a_saddle_what_fits():
    entry = Way((1, 1), "west", "open")
    assert rooms_missed(make_plan("AB", ways=[entry, Way((1, 1), "east", "open")]), 50.8) == ()
    saddle = make_plan("AB", ways=[entry, Way((1, 1), "east", "saddle")])
    assert rooms_missed(saddle, 25.4) == ()
    assert rooms_missed(saddle, 50.8) == ("B",)


def test_a_figure_that_gets_in_nowhere_gets_to_no_room():
    plan = make_plan("AB", ways=[Way((1, 1), "west", "doorway"), Way((1, 1), "east", "open")])
    assert rooms_missed(plan, 25.4) == ()
    assert rooms_missed(plan, 50.8) == ("A", "B")


def test_without_a_way_in_the_largest_part_counts():
    (figure,) = figures_on(make_plan("AABBB"), [25.4])
    assert not figure.from_ways_in
    assert figure.rooms_unreached == ("A",)
    assert [(part.first_cell, part.cells) for part in figure.unreached] == [((1, 1), 2)]


def test_parts_of_one_letter_are_told_apart():
    plan = make_plan("AABAA", ways=[Way((1, 1), "west", "open")])
    (figure,) = figures_on(plan, [25.4])
    assert [(part.room, part.first_cell) for part in figure.unreached] == [("B", (3, 1)), ("A", (4, 1))]


def test_a_wall_without_a_way_stops_a_figure_inside_one_room():
    plan = make_plan("AAAA", scale="5 ft", walls=[ExtraWall((2, 1), "east")], ways=[Way((1, 1), "west", "open")])
    (figure,) = figures_on(plan, [19.0])
    assert [part.first_cell for part in figure.unreached] == [(3, 1)]


def test_a_neck_is_named_with_what_it_keeps():
    """One square of 63.5 mm keeps 50.8 mm between its walls; the halls before and behind it are wider."""
    for rows, base, places in [
        (["AAA.AAA.AAA", "AAAAAAAAAAA", "AAA.AAA.AAA"], 76.2, [(3.5, 1.5), (7.5, 1.5)]),
        (["AAAA...AAAA", "AAAAAAAAAAA", "AAAA...AAAA"], 55.0, [(5.5, 1.5)]),
    ]:
        plan = make_plan("\n".join(rows))
        spaces = spaces_of(plan)
        (figure,) = figures_on(plan, [base], spaces)
        necks = necks_of(figure, spaces, find_areas(plan))
        assert [(neck.room, neck.at, neck.clear) for neck in necks] == [
            ("A", at, pytest.approx(2 * P - 2 * W)) for at in places
        ]


# --- sizes and bad input ---


def test_sizes_of_the_system_reference_document():
    # SRD 5.1, "Creature Size" (CC-BY-4.0): 2.5, 5, 5, 10, 15, 20 ft; at 1 in for 5 ft (common practice, no source).
    expected = {"tiny": 12.7, "small": 25.4, "medium": 25.4, "large": 50.8, "huge": 76.2, "gargantuan": 101.6}
    assert {name: pytest.approx(base_of_size(name)) for name in FEET_OF_SIZE} == expected
    assert [spaces_across(base) for base in expected.values()] == [1, 1, 1, 2, 3, 4]
    with pytest.raises(InputError, match='Did you mean "large"'):
        base_of_size("larg")


def test_bases_that_are_none_are_refused():
    for base in [0.0, -5.0, float("nan"), float("inf")]:
        with pytest.raises(InputError, match=r"a base can't be .* across. Use more than 0 mm"):
            figures_on(worked_plan(), [base])


def test_a_figure_larger_than_the_map_is_refused():
    with pytest.raises(
        InputError, match=r"a base 279.4 mm across covers 11 spaces, and the map is only 10 spaces long"
    ):
        figures_on(worked_plan(), [25.4 * 11])
    assert figures_on(worked_plan(), [25.4 * 7])[0].positions == 0


def test_walls_of_other_grids():
    grid = Grid(pitch=40.0, wall_thickness=10.0)
    fits, larger = figures_on(make_plan("AAA", grid=grid), [60.0, 60.1])
    assert fits.stands == fits.positions
    assert larger.stands == 0


def width_made(drawing, way, kind):
    """Of a way in the middle of its cell's side: half a wall stays as a jamb on each side, clear of the walls beside it."""
    width, (rows, columns) = kind.opening.width, drawing.rooms.shape
    column, row = way.cell[0] - 1, way.cell[1] - 1
    dc, dr = {"north": (0, -1), "east": (1, 0), "south": (0, 1), "west": (-1, 0)}[way.side]
    for c, r in ((column, row), (column + dc, row + dr)) if kind.name == "doorway" else ():
        if not (0 <= r < rows and 0 <= c < columns and drawing.rooms[r, c]):
            continue
        beside = drawing.across[r : r + 2, c] if dc else drawing.down[r, c : c + 2]
        carried = any(drawing.kinds[line].name in ("wall", "doorway") for line in beside)
        width = min(width, drawing.cell_side - 2 * W * carried - W)
    return width


def slow_unreached(drawing, base):
    """First cells of the areas a figure can't get to: a graph of its steps and of what doors join, line by line."""
    k, (figure,) = drawing.cell_spaces, figures_on(drawing, [base])
    n, rooms = figure.spaces_across, drawing.rooms
    rows, columns = rooms.shape
    graph = nx.Graph()
    graph.add_nodes_from(map(tuple, np.argwhere(figure.standing).tolist()))
    for r, c in list(graph):
        for dr, dc in ((1, 0), (0, 1)):
            if (r + dr, c + dc) not in graph:
                continue
            # A base of one space steps over a line only where nothing stands on it.
            at = (r + dr, c + dc)
            line = (drawing.across if dr else drawing.down)[at[0] // k, at[1] // k] if at[not dr] % k == 0 else 0
            if n > 1 or not drawing.kinds[line].facts.stands:
                graph.add_edge((r, c), at)
    entries, has_ways_in = set(), False
    for way in drawing.ways:
        column, row = way.cell[0] - 1, way.cell[1] - 1
        upright, low = way.side in ("east", "west"), way.side in ("north", "west")
        # The line between the way's cell and the one beyond, in spaces; positions whose block touches the cell's side.
        line = ((column if upright else row) + (not low)) * k
        along = (row if upright else column) * k
        reach = [[], []]
        for far, first in enumerate((line - n, line)):
            for step in range(along - n + 1, along + k):
                at = (step, first) if upright else (first, step)
                if at in graph:
                    reach[far].append(at)
        kind = drawing.kinds[
            (drawing.down if upright else drawing.across)[row + (way.side == "south"), column + (way.side == "east")]
        ]
        wide = kind.opening is None or width_made(drawing, way, kind) + 1e-6 >= base
        c, r = column + {"east": 1, "west": -1}.get(way.side, 0), row + {"south": 1, "north": -1}.get(way.side, 0)
        outside = not (0 <= r < rows and 0 <= c < columns and rooms[r, c])
        has_ways_in |= outside
        if outside and wide:
            entries |= {*reach[0], *reach[1]}
        elif wide and kind.opening is not None:
            graph.add_edges_from(product(*reach))
    parts = list(nx.connected_components(graph))
    if has_ways_in:
        got_to = set().union(*(part for part in parts if part & entries))
    else:
        got_to = max(parts, key=lambda part: (len(part), [-v for v in min(part)]), default=set())
    covered = {((r + y) // k, (c + x) // k) for r, c in got_to for y in range(n) for x in range(n)}
    areas = find_areas(drawing)
    missed = [
        first
        for number, first in enumerate(areas.firsts)
        if not covered & set(map(tuple, np.argwhere(areas.of == number).tolist()))
    ]
    return missed, figure


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
@pytest.mark.parametrize("base", [19.0, 25.4, 50.0])
def test_who_gets_where_agrees_with_a_graph_of_steps(scale, base):
    found = 0
    for seed in range(8):
        drawing = random_plan(seed + 300, scale=scale, most=6)
        if spaces_across(base) > max(spaces_of(drawing).shape):
            continue
        missed, figure = slow_unreached(drawing, base)
        assert [part.first_cell for part in figure.unreached] == missed, seed
        found += len(missed)
    assert found


def test_the_smallest_and_the_largest_disc_of_any_block():
    """A 5 ft room of 3 x 3: a space in the open takes its pitch, one beside a wall a wall's thickness less."""
    (figure,) = figures_on(make_plan("AAA\nAAA\nAAA", scale="5 ft"), [25.4])
    assert (figure.least, figure.most) == (pytest.approx(P - W), pytest.approx(P))
    (none,) = figures_on(make_plan("AB", scale="5 ft"), [50.8])
    assert (none.positions, none.least, none.most) == (0, 0.0, 0.0)
