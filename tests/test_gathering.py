"""Short walls and cut-off ends go to the wall beside them: areas and neighbours by plain rectangles."""

import pytest
import shapely
from shapely.geometry import MultiPolygon, Polygon

from tilegen.tiles.gathering import gathered


def box(*bounds):
    """With a corner every 2 mm: walls of one tile are noded where they meet."""
    return shapely.segmentize(shapely.box(*bounds), 2.0)


LONG = box(0, 0, 40, 6)
UPRIGHT = box(50, 0, 56, 40)


def covered(feet):
    return shapely.union_all(list(feet.values()))


def test_walls_in_one_piece_stay():
    feet = {1: LONG, 2: UPRIGHT}
    assert gathered(feet, (), 1.0) == feet


def test_a_piece_goes_to_the_wall_that_it_shares_more_boundary_with():
    """Between two walls: 6 mm of its boundary lie along the one, 10 mm along the other."""
    piece = box(40, 0, 50, 6)
    under = box(40, -8, 52, 0)
    found = gathered({1: LONG, 2: under, 3: piece}, (), least=70.0)
    assert sorted(found) == [1, 2]
    assert found[1].equals(LONG)
    assert found[2].equals(under.union(piece))


def test_an_end_cut_off_goes_to_its_neighbour_and_the_larger_piece_stays():
    end = box(56, 34, 60, 40)
    found = gathered({1: MultiPolygon([box(0, 0, 10, 6), end]), 2: UPRIGHT}, (), least=1.0)
    assert found[1].equals(box(0, 0, 10, 6))
    assert found[2].equals(UPRIGHT.union(end))


def test_a_wall_with_an_opening_takes_nothing_and_keeps_its_pieces():
    short = box(40, 0, 42, 6)
    both = MultiPolygon([box(60, 0, 70, 6), box(76, 0, 78, 6)])
    found = gathered({1: LONG, 2: short, 3: both}, (1, 3), least=30.0)
    assert found[1].equals(LONG)
    assert found[3].equals(both)
    # What touches no other wall stays with its own, however small.
    assert found[2].equals(short)


def test_pieces_in_a_row_find_their_wall_by_one_another():
    """The first touches only the second, which touches the wall: nothing is lost."""
    far, near = box(44, 0, 48, 6), box(40, 0, 44, 6)
    found = gathered({1: far, 2: near, 3: LONG}, (), least=30.0)
    assert sorted(found) == [3]
    assert found[3].equals(box(0, 0, 48, 6))


def test_pieces_that_touch_in_a_point_are_not_joined():
    corner = box(40, 6, 44, 10)
    found = gathered({1: LONG, 2: corner}, (), least=30.0)
    assert found[1].equals(LONG)
    assert found[2].equals(corner)


@pytest.mark.parametrize("least", [10.0, 24.0, 24.1, 200.0])
def test_nothing_is_lost_and_nothing_is_covered_twice(least):
    feet: dict[int, Polygon | MultiPolygon] = {
        1: LONG,
        2: box(40, 0, 44, 6),
        3: MultiPolygon([box(44, 0, 50, 6), box(56, 36, 60, 40)]),
        4: UPRIGHT,
        5: Polygon(),
    }
    found = gathered(feet, (), least)
    assert covered(found).equals(covered(feet))
    assert sum(foot.area for foot in found.values()) == pytest.approx(sum(foot.area for foot in feet.values()))
    assert (2 in found) == (least < 24.0)
