"""Ids: one for a tile however it is described or turned, another for every other tile; never from its name or its corners."""

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from tilegen.files.plans import read_plan
from tilegen.files.styles import read_style
from tilegen.files.toml import shipped
from tilegen.model.grid import Floor, Grid
from tilegen.model.surface import Surface
from tilegen.plans.kit import make_kit
from tilegen.tiles.blocks import Block, Extra
from tilegen.tiles.identity import parts_of_tile, poses_of, short_id
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, Side, single_cell

PLAIN = Grid(floor=Floor(lines=False))
SIDE = PLAIN.tile_side
SQUARE = ((0.0, 0.0), (0.0, SIDE), (SIDE, SIDE), (SIDE, 0.0))


def id_of(shape, grid=PLAIN):
    """Worked out without making anything."""
    return short_id(poses_of(parts_of_tile(shape, grid)))


def turned(shape, matrix=((0.0, -1.0), (1.0, 0.0)), shift=(0.0, 0.0)):
    """An outline turned by a quarter, or moved."""
    points = (np.array(shape.points) @ np.array(matrix) + shift).tolist()
    return replace(shape, points=tuple(map(tuple, points)))


def renumbered(shape, by):
    """The same outline from another of its corners."""
    count = len(shape.points)
    numbers = {n + 1: (n - by) % count + 1 for n in range(count)}
    return OutlineShape(
        shape.points[by:] + shape.points[:by],
        tuple(sorted(numbers[n] for n in shape.walls)),
        tuple((numbers[n], opening) for n, opening in shape.openings),
    )


def walked_back(shape):
    """The same outline in the other sense; edge n from point n to the next is then edge count - n."""
    count = len(shape.points)
    ends = (*shape.points, shape.points[0])
    lengths = [float(np.hypot(*np.subtract(a, b))) for a, b in pairwise(ends)]
    back = {n: (count - n - 1) % count + 1 for n in range(1, count + 1)}
    openings = tuple((back[n], replace(o, centre=lengths[n - 1] - o.centre)) for n, o in shape.openings)
    return OutlineShape(shape.points[::-1], tuple(sorted(back[n] for n in shape.walls)), openings)


@st.composite
def outlines(draw):
    """A star of 3 to 9 corners to a tenth of a millimetre, some edges walled, one of them with a way through it."""
    count = draw(st.integers(3, 9))
    radii = [draw(st.floats(30, 90)) for _ in range(count)]
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) + draw(st.floats(0, 1))
    points = tuple(
        (round(float(r * np.cos(a)), 1), round(float(r * np.sin(a)), 1)) for r, a in zip(radii, angles, strict=True)
    )
    walls = tuple(n for n in range(1, count + 1) if draw(st.booleans()))
    openings = ()
    if walls and draw(st.booleans()):
        a, b = points[walls[0] - 1], points[walls[0] % count]
        length = float(np.hypot(*np.subtract(a, b)))
        if length > 30:
            openings = ((walls[0], make_opening(length, PLAIN, width=length / 4, centre=length * 0.4)),)
    return OutlineShape(points, walls, openings)


@settings(max_examples=25, deadline=None)
@given(outlines(), st.integers(0, 8), st.integers(0, 3))
def test_an_outline_keeps_its_id_turned_renumbered_and_walked_the_other_way(shape, by, turns):
    wanted = id_of(shape)
    other = renumbered(shape, by % len(shape.points))
    for _ in range(turns):
        other = turned(other)
    assert id_of(other) == id_of(walked_back(other)) == id_of(turned(other, np.eye(2), (12.5, -40.0))) == wanted


def test_a_square_drawn_as_an_outline_is_the_square_tile():
    for carried in sorted({*product((OPEN, WALL), repeat=4)}, key=repr):
        outline = OutlineShape(
            SQUARE, tuple(k + 1 for k, side in enumerate((*carried[3:], *carried[:3])) if side is WALL)
        )
        assert id_of(outline) == id_of(single_cell(Cell(carried), (2, 2)))
        # A corner in the middle of a side changes nothing.
        middle = OutlineShape(((0.0, 0.0), (0.0, SIDE / 2), *SQUARE[1:]), (1, 2))
        assert id_of(middle) == id_of(single_cell(Cell((OPEN, OPEN, OPEN, WALL)), (2, 2)))


def test_doorways_and_cells_side_by_side_are_what_an_outline_says_too():
    way = make_opening(SIDE, PLAIN, centre=25.0)
    cell = single_cell(Cell((Side("doorway", way), OPEN, OPEN, WALL)), (2, 2))
    assert id_of(OutlineShape(SQUARE, (1, 2), ((2, way),))) == id_of(cell)
    two = CellShape(
        (1.0, 1.0), (2.0,), (((0, 0), Cell((WALL, OPEN, OPEN, WALL))), ((1, 0), Cell((WALL, OPEN, OPEN, OPEN))))
    )
    assert id_of(two) == id_of(single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)))


SIDES = st.sampled_from([OPEN, OPEN, WALL, Side("doorway", make_opening(SIDE, PLAIN))])
BLOCKS = st.sampled_from([Block("dais", -9.0, -9.0, 9.0, 5.0, 0.0, 6.0), Block("pit", -9.0, -9.0, 9.0, 9.0, -3.0, 0.0)])


@st.composite
def cells(draw):
    sides = tuple(draw(SIDES) for _ in range(4))
    posts = tuple(draw(st.booleans()) and not sides[k].carries and not sides[k - 3].carries for k in range(4))
    blocks = (draw(BLOCKS),) if draw(st.booleans()) else ()
    return single_cell(Cell(sides, posts, Extra(blocks, draw(st.sampled_from([0.0, 0.0, 12.7])))), (2, 2))


@settings(max_examples=20, deadline=None)
@given(st.lists(cells(), min_size=12, max_size=12))
def test_cells_share_an_id_only_if_they_are_turns_of_one_another(shapes):
    found = defaultdict(set)
    for shape in shapes:
        ids = {id_of(turn) for turn in shape.turns}
        assert len(ids) == 1
        found[ids.pop()].add(shape.own_pose())
    assert all(len(poses) == 1 for poses in found.values())


def test_every_measure_that_is_seen_counts():
    for other in [
        Grid(pitch=30.0),
        Grid(wall_thickness=6.0),
        Grid(wall_height=38.0),
        Grid(base_depth=6.0),
        Grid(joint_play=0.2),
        Grid(floor=Floor(groove_width=0.9)),
        Grid(floor=Floor(lines=False)),
    ]:
        shape = single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2))
        assert id_of(shape, other) != id_of(shape, Grid())
    carved = [
        Surface(style="dressed", stone=read_style("dressed")),
        Surface(style="brick", stone=read_style("brick")),
        *(Surface(style="dressed", stone=read_style("dressed"), detail=detail) for detail in ("coarse", "fine")),
        Surface(style="dressed", stone=read_style("dressed"), seed=2),
    ]
    shape = single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2))
    assert len({id_of(shape, Grid(surface=surface)) for surface in [Surface(), *carved]}) == 6


def test_a_measure_that_shows_nowhere_does_not_count():
    floor = single_cell(Cell(), (2, 2))
    assert id_of(floor, Grid(wall_height=20.0)) == id_of(floor, Grid(wall_thickness=5.0)) == id_of(floor, Grid())


def test_no_two_tiles_of_the_shipped_plans_share_an_id():
    """One id, one geometry: volume, and the areas and heights of its plates; within a kit one type for each id."""
    found = defaultdict(set)
    for path in sorted(shipped("plans").glob("*.toml")):
        kit = make_kit(read_plan(path))
        assert len({kind.tile.id for kind in kit.types}) == len(kit.types)
        for kind in kit.types:
            feet = sorted(
                (p.role, round(p.bottom, 3), round(p.top, 3), round(p.foot.area, 1)) for p in kind.tile.plates
            )
            found[kind.tile.id].add((round(kind.tile.volume, 0), tuple(feet), Polygon(kind.tile.base.foot).is_valid))
    assert all(len(looks) == 1 for looks in found.values())
