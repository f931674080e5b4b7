"""How many types there are, against counts known from outside."""

import itertools

import pytest

from tilegen.grid import Grid
from tilegen.tiles.names import name_of
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, four_turns, quarter_turns, single_cell
from tilegen.tiles.tile import make_tile

DOORWAY = Side("doorway", make_opening(63.5, Grid()))


def all_shapes(kinds, *, posts):
    """Every square with these kinds of side, and a post or none wherever both sides at a corner are open."""
    for sides in itertools.product(kinds, repeat=4):
        free = [k for k in range(4) if posts and not sides[k].carries and not sides[(k + 1) % 4].carries]
        for chosen in itertools.product((False, True), repeat=len(free)):
            carried = dict(zip(free, chosen, strict=True))
            yield single_cell(Cell(sides, tuple(carried.get(k, False) for k in range(4))), (2, 2))


def burnside(n):
    """Squares with n kinds of edge, up to quarter turns (Burnside's lemma; OEIS A006528)."""
    return (n**4 + n**2 + 2 * n) // 4


@pytest.mark.parametrize("kinds, number", [((OPEN, WALL), 6), ((OPEN, WALL, DOORWAY), 24)])
def test_edges_alone_follow_burnside(kinds, number):
    assert burnside(len(kinds)) == number
    assert len({s.own_pose() for s in all_shapes(kinds, posts=False)}) == number


@pytest.mark.parametrize("kinds, turned, up_to_turns", [((OPEN, WALL), 47, 15), ((OPEN, WALL, DOORWAY), None, 39)])
def test_with_posts(kinds, turned, up_to_turns):
    """The steering numbers of the issue: 47 without turning, 15 up to quarter turns, 39 with doorways."""
    shapes = list(all_shapes(kinds, posts=True))
    assert turned is None or len(set(shapes)) == turned
    assert len({s.own_pose() for s in shapes}) == up_to_turns


def test_identity_is_geometry_up_to_quarter_turns():
    shapes = list(all_shapes((OPEN, WALL, DOORWAY), posts=True))
    ids = {shape: make_tile("t", shape, Grid()).id for shape in shapes}
    by_own = {}
    for shape, found in ids.items():
        by_own.setdefault(shape.own_pose(), set()).add(found)
    assert all(len(found) == 1 for found in by_own.values())
    assert len(set(ids.values())) == 39


@pytest.mark.parametrize("wall", [6.35, 4.7625, 1.5875, 5.0, 3.175])
def test_identity_survives_measures_between_two_micrometres(wall):
    """3/16 in is 4762.5 micrometres: rounding must fall the same way in every turn."""
    grid = Grid(wall_thickness=wall)
    shape = single_cell(Cell((WALL, DOORWAY, OPEN, OPEN)), (2, 2))
    assert len({make_tile("t", turn, grid).id for turn in four_turns(shape)}) == 1


def test_identity_does_not_depend_on_the_name():
    shape = single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2))
    assert make_tile("a", shape, Grid()).id == make_tile("b", shape, Grid()).id
    assert make_tile("a", shape, Grid()).id != make_tile("a", shape, Grid(wall_height=25.4)).id


def test_mirror_images_are_two_types():
    left = single_cell(Cell((DOORWAY, WALL, OPEN, OPEN)), (2, 2))
    right = single_cell(Cell((WALL, DOORWAY, OPEN, OPEN)), (2, 2))
    assert left.own_pose() != right.own_pose()
    assert make_tile("t", left, Grid()).id != make_tile("t", right, Grid()).id


def test_each_type_has_a_name_of_its_own():
    own = {s.own_pose() for s in all_shapes((OPEN, WALL, DOORWAY), posts=True)}
    names = {name_of(s) for s in own}
    assert len(names) == 39
    assert {"floor", "one-wall", "corner", "corridor", "end", "closed"} <= names


def test_quarter_turns_finds_the_smallest():
    own = single_cell(Cell((WALL, OPEN, WALL, OPEN)), (2, 2)).own_pose()
    assert quarter_turns(own, own) == 0
    assert quarter_turns(own, own.turned()) == 1
    assert quarter_turns(own, own.turned().turned()) == 0
    with pytest.raises(ValueError):
        quarter_turns(own, single_cell(Cell(), (2, 2)))
