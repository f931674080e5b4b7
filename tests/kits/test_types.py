"""How many types there are, against counts known from outside."""

import itertools

import pytest

from tilegen.files.profiles import read_profile
from tilegen.files.toml import find
from tilegen.model.grid import Grid
from tilegen.tiles.names import name_of
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, Side, single_cell
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


def test_identity_survives_measures_between_two_micrometres():
    """3/16 in is 4762.5 micrometres: rounding must fall the same way in every turn."""
    for wall in [6.35, 4.7625, 1.5875, 5.0, 3.175]:
        grid = Grid(wall_thickness=wall)
        shape = single_cell(Cell((WALL, DOORWAY, OPEN, OPEN)), (2, 2))
        assert len({make_tile("t", turn, grid).id for turn in shape.turns}) == 1


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


def test_a_turn_is_found_at_the_smallest_number():
    own = single_cell(Cell((WALL, OPEN, WALL, OPEN)), (2, 2)).own_pose()
    assert own.turns.index(own) == 0
    assert own.turns.index(own.turned()) == 1
    assert own.turns.index(own.turned().turned()) == 0
    with pytest.raises(ValueError):
        own.turns.index(single_cell(Cell(), (2, 2)))


def test_names_tell_left_from_right():
    """Said aloud as seen from the open side, facing the wall: left is left."""
    for sides, name in (
        ((WALL, OPEN, OPEN, OPEN), "one-wall"),
        ((DOORWAY, OPEN, OPEN, OPEN), "one-wall-with-doorway"),
        ((WALL, OPEN, WALL, OPEN), "corridor"),
        ((WALL, OPEN, DOORWAY, OPEN), "corridor-with-doorway"),
        ((DOORWAY, OPEN, DOORWAY, OPEN), "corridor-with-two-doorways"),
        # Looked at from the south-east, the west wall is on the left, the north wall on the right.
        ((WALL, OPEN, OPEN, DOORWAY), "corner-with-left-doorway"),
        ((DOORWAY, OPEN, OPEN, WALL), "corner-with-right-doorway"),
        ((DOORWAY, OPEN, OPEN, DOORWAY), "corner-with-two-doorways"),
        # From the open south: west is left, north is the back, east is right.
        ((WALL, WALL, OPEN, WALL), "end"),
        ((WALL, WALL, OPEN, DOORWAY), "end-with-left-doorway"),
        ((DOORWAY, WALL, OPEN, WALL), "end-with-back-doorway"),
        ((WALL, DOORWAY, OPEN, WALL), "end-with-right-doorway"),
        ((WALL, DOORWAY, OPEN, DOORWAY), "end-with-left-and-right-doorways"),
        ((DOORWAY, DOORWAY, OPEN, DOORWAY), "end-with-three-doorways"),
        ((DOORWAY, WALL, DOORWAY, WALL), "closed-with-facing-doorways"),
        ((DOORWAY, DOORWAY, WALL, WALL), "closed-with-two-doorways"),
        ((DOORWAY, DOORWAY, DOORWAY, DOORWAY), "closed-with-four-doorways"),
    ):
        for turn in single_cell(Cell(sides), (2, 2)).turns:
            assert name_of(turn.own_pose()) == name, (sides, name)


def test_names_of_posts():
    for sides, posts, name in (
        ((OPEN, OPEN, OPEN, OPEN), "ne", "floor-with-post"),
        ((OPEN, OPEN, OPEN, OPEN), "ne sw", "floor-with-facing-posts"),
        ((OPEN, OPEN, OPEN, OPEN), "ne se", "floor-with-two-posts"),
        ((OPEN, OPEN, OPEN, OPEN), "ne se sw nw", "floor-with-four-posts"),
        # Facing the wall in the north, east is on the right.
        ((WALL, OPEN, OPEN, OPEN), "se", "one-wall-with-right-post"),
        ((WALL, OPEN, OPEN, OPEN), "sw", "one-wall-with-left-post"),
        ((DOORWAY, OPEN, OPEN, OPEN), "se sw", "one-wall-with-doorway-and-two-posts"),
        ((WALL, OPEN, OPEN, WALL), "se", "corner-with-post"),
    ):
        carried = tuple(corner in posts.split() for corner in ("ne", "se", "sw", "nw"))
        for turn in single_cell(Cell(sides, carried), (2, 2)).turns:
            assert name_of(turn.own_pose()) == name, (sides, posts)


def test_names_of_parts_of_a_block():
    def block(cells, *, walls=()):
        places = [(c, r) for r in range(2) for c in range(2)][:cells]
        sides = {place: [OPEN] * 4 for place in places}
        for place, side in walls:
            sides[place][side] = WALL
        return CellShape((1.0, 1.0), (1.0, 1.0), tuple((place, Cell(tuple(sides[place]))) for place in places))

    inner = (((0, 0), 1), ((1, 0), 3))
    assert name_of(block(4)) == "floor"
    assert name_of(block(4, walls=inner)) == "mixed"
    # Each of the four lines between its cells counts, from whichever side it is carried.
    for wall in (((0, 0), 1), ((1, 0), 3), ((0, 0), 2), ((0, 1), 0), ((1, 1), 0), ((0, 1), 1)):
        assert name_of(block(4, walls=[wall])) == "mixed", wall
    assert name_of(block(4, walls=[((0, 0), 0), ((1, 0), 0)])) == "one-wall"
    assert name_of(block(3)).startswith("three-quarter-")
    assert name_of(single_cell(Cell((WALL,) * 4), (1, 1))) == "quarter-closed"


def test_ids_stay_what_they_are():
    """An id is engraved under printed tiles and written in shelf files: it must not change from version to version."""
    ids = {
        name: read_profile(find(name, "profiles")).id for name in ("floor", "one-wall", "corner", "corridor", "door")
    }
    assert ids == {
        "floor": "FPLEAPT",
        "one-wall": "PPLJ7YD",
        "corner": "FXFXLJD",
        "corridor": "LJAL43J",
        "door": "YPF7JDK",
    }
