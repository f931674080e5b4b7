"""Shapes laid over a drawing of letters: rooms, whole cells and lines, worked out by hand. Cells of 60 mm."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.plans.shapes import Circle, Corners, DrawnShape, cell_box, survey

CELL = 60.0


def rectangle(west, north, east, south):
    return Corners(((west, north), (east, north), (east, south), (west, south)), (0.0,) * 4)


def surveyed(rows, *shapes):
    made = [DrawnShape(room, shape, f"[[shape]] {n}") for n, (room, shape) in enumerate(shapes, 1)]
    return survey(read_drawing("\n".join(rows)), made, CELL)


def letters(found):
    return ["".join(chr(code) if code else "." for code in row) for row in found.rooms.tolist()]


def marks(values):
    """Rows of an array as text: # where it is true or 1."""
    return ["".join(".#"[int(v)] for v in row) for row in values.tolist()]


def refused(words, rows, *shapes):
    with pytest.raises(InputError) as caught:
        surveyed(rows, *shapes)
    assert words in caught.value.message
    assert caught.value.place == f"[[shape]] {len(shapes)}"


def test_a_shape_of_one_cell_and_a_half():
    found = surveyed(["..."], ("A", rectangle(0, 0, 1.5, 1)))
    assert letters(found) == ["AA."]
    assert marks(found.off_grid.whole) == ["#.."]
    assert marks(found.off_grid.part) == [".#."]
    # Walls above and below both its cells, at its west end, and where its cells end; none between the two.
    assert marks(found.across) == ["##.", "##."]
    assert marks(found.down) == ["#.#."]
    # Along half of the second cell's north and south sides no floor lies.
    assert marks(found.off_grid.mixed_across) == [".#.", ".#."]
    assert marks(found.off_grid.mixed_down) == ["...."]


def test_the_same_upright():
    found = surveyed([".", ".", "."], ("A", rectangle(0, 0, 1, 1.5)))
    assert letters(found) == ["A", "A", "."]
    assert marks(found.off_grid.part) == [".", "#", "."]
    assert marks(found.down) == ["##", "##", ".."]
    assert marks(found.across) == ["#", ".", "#", "."]
    assert marks(found.off_grid.mixed_down) == ["..", "##", ".."]
    assert marks(found.off_grid.mixed_across) == ["."] * 4


def test_a_shape_away_from_the_corner_is_found_where_it_lies():
    """The half cell on the other side: the last row and column of a larger drawing."""
    found = surveyed(["....."] * 4, ("A", rectangle(3.5, 3, 5, 4)))
    assert letters(found) == [".....", ".....", ".....", "...AA"]
    assert marks(found.off_grid.whole) == [".....", ".....", ".....", "....#"]
    assert marks(found.off_grid.part) == [".....", ".....", ".....", "...#."]
    assert marks(found.across) == ["....."] * 3 + ["...##"] * 2
    assert marks(found.down) == ["......"] * 3 + ["...#.#"]
    assert marks(found.off_grid.mixed_across) == ["....."] * 3 + ["...#."] * 2


def test_a_triangle_over_half_of_two_cells():
    """x + y <= 2: one whole cell, two halves; the fourth cell of the square has none of it."""
    found = surveyed(["..."] * 3, ("A", Corners(((0, 0), (2, 0), (0, 2)), (0.0,) * 3)))
    assert letters(found) == ["AA.", "A..", "..."]
    assert marks(found.off_grid.whole) == ["#..", "...", "..."]
    assert marks(found.off_grid.part) == [".#.", "#..", "..."]
    assert marks(found.across) == ["##.", ".#.", "#..", "..."]
    assert marks(found.down) == ["#.#.", "##..", "...."]
    assert not found.off_grid.mixed_across.any()
    assert not found.off_grid.mixed_down.any()


def test_a_line_with_the_rooms_own_floor_along_half_of_it_is_open_there():
    """Two shapes of one room meet along half of a line: open, but only in part a border."""
    found = surveyed(["..", ".."], ("A", rectangle(0, 0, 2, 1)), ("A", rectangle(0, 1, 1.5, 2)))
    assert letters(found) == ["AA", "AA"]
    assert marks(found.across) == ["##", "..", "##"]
    assert marks(found.down) == ["#.#", "#.#"]
    assert marks(found.off_grid.mixed_across) == ["..", ".#", ".#"]
    assert marks(found.off_grid.mixed_down) == ["...", "..."]
    assert marks(found.off_grid.shut_across) == ["##", "..", "##"]
    assert marks(found.off_grid.shut_down) == ["#.#", "#.#"]


def test_another_room_along_half_of_a_line_is_a_wall():
    found = surveyed(["..", ".."], ("A", rectangle(0, 0, 2, 1)), ("B", rectangle(0, 1, 1.5, 2)))
    assert letters(found) == ["AA", "BB"]
    assert marks(found.across) == ["##", "##", "##"]
    assert marks(found.down) == ["#.#", "#.#"]
    assert marks(found.off_grid.mixed_across) == ["..", ".#", ".#"]


def test_letters_beside_half_a_cell_of_a_shape():
    """Room B of letters has no shape: its whole cell is a border all along, the half cell beside it is not."""
    found = surveyed(["..", "BB"], ("A", rectangle(0, 0, 1.5, 1)))
    assert letters(found) == ["AA", "BB"]
    assert marks(found.off_grid.whole) == ["#.", "##"]
    assert marks(found.across) == ["##", "##", "##"]
    assert marks(found.off_grid.mixed_across) == [".#", ".#", ".."]
    assert marks(found.down) == ["#.#", "#.#"]


def test_letters_of_the_shapes_room_are_joined_with_it():
    found = surveyed(["...", "A.."], ("A", rectangle(1, 1, 2.5, 2)))
    assert letters(found) == ["...", "AAA"]
    assert marks(found.down) == ["....", "#..#"]
    assert found.off_grid.regions[ord("A")].equals(box(0, -120, 150, -60))
    assert marks(found.off_grid.whole) == ["...", "##."]


def test_a_cell_is_the_rooms_that_has_most_of_it():
    two = ("A", rectangle(0, 0, 1.4, 1)), ("B", rectangle(1.4, 0, 2, 1))
    assert letters(surveyed([".."], *two)) == ["AB"]
    more = ("A", rectangle(0, 0, 1.6, 1)), ("B", rectangle(1.6, 0, 3, 1))
    assert letters(surveyed(["..."], *more)) == ["AAB"]
    assert marks(surveyed(["..."], *more).off_grid.part) == [".#."]


def test_less_than_a_fiftieth_of_a_cell_is_no_cell_of_the_room():
    found = surveyed([".."], ("A", rectangle(0, 0, 1.019, 1)))
    assert letters(found) == ["A."]
    assert marks(found.off_grid.part) == [".#"]
    # It has its walls all the same, and no line stands at the far side of that cell.
    assert marks(found.across) == ["##", "##"]
    assert marks(found.down) == ["#.."]
    assert letters(surveyed([".."], ("A", rectangle(0, 0, 1.021, 1)))) == ["AA"]
    upright = surveyed([".", "."], ("A", rectangle(0, 0, 1, 1.019)))
    assert marks(upright.down) == ["##", "##"]
    assert marks(upright.across) == ["#", ".", "."]


@pytest.mark.parametrize("along", [0.015, 0.0105])
def test_a_hundredth_of_a_line_is_open_too(along):
    """Two shapes of a room meet along one cell and a little of the next."""
    found = surveyed(["..", ".."], ("A", rectangle(0, 0, 2, 1)), ("A", rectangle(0, 1, 1 + along, 2)))
    assert marks(found.across)[1] == ".."
    assert marks(found.off_grid.mixed_across)[1] == ".#"
    less = surveyed(["..", ".."], ("A", rectangle(0, 0, 2, 1)), ("A", rectangle(0, 1, 1.009, 2)))
    assert marks(less.across)[1] == ".#"
    assert marks(less.off_grid.mixed_across)[1] == ".."


def test_parts_of_a_room_that_do_not_meet_have_a_wall_between_them():
    for rows, shapes, across, down in [
        # Two shapes that do not reach the line between them; one that does not reach the cell of letters beside it.
        ([".", "."], [(0, 0, 1, 0.7), (0, 1.3, 1, 2)], ["#", "#", "#"], ["##", "##"]),
        (["A", "."], [(0, 1.3, 1, 2)], ["#", "#", "#"], ["##", "##"]),
        ([".", "A"], [(0, 0, 1, 0.7)], ["#", "#", "#"], ["##", "##"]),
        ([".."], [(0, 0, 0.7, 1), (1.3, 0, 2, 1)], ["##", "##"], ["###"]),
        (["A."], [(1.3, 0, 2, 1)], ["##", "##"], ["###"]),
        ([".A"], [(0, 0, 0.7, 1)], ["##", "##"], ["###"]),
    ]:
        found = surveyed(rows, *(("A", rectangle(*bounds)) for bounds in shapes))
        assert (set("".join(letters(found))), marks(found.across), marks(found.down)) == ({"A"}, across, down)
        other = surveyed(
            ["Z" + "." * len(rows[0])] + ["." + row for row in rows],
            ("Z", rectangle(1, 0, 1.5, 1)),
            *(("A", rectangle(w + 1, n + 1, e + 1, s + 1)) for w, n, e, s in shapes),
        )
        # The same beside another room with a shape.
        assert marks(other.across[1:, 1:]) == across
        assert marks(other.down[1:, 1:]) == down


def test_cells_that_rounding_makes_a_little_smaller_are_whole():
    """Sides of 33.3 mm without end: unions are worked out on a grid of a nanometre."""
    shape = DrawnShape("A", rectangle(0, 0, 2, 1))
    found = survey(read_drawing("..\nA."), [shape], 100 / 3)
    assert marks(found.off_grid.whole) == ["##", "#."]
    assert not found.off_grid.part.any()
    assert (marks(found.across), marks(found.down)) == (["##", ".#", "#."], ["#.#", "##."])


def test_a_shape_of_cells_is_as_letters_are():
    found = surveyed(["...", "...", "..."], ("A", rectangle(1, 1, 3, 2)))
    assert letters(found) == ["...", ".AA", "..."]
    assert marks(found.off_grid.whole) == ["...", ".##", "..."]
    assert not found.off_grid.part.any()
    assert not found.off_grid.mixed_across.any()
    assert not found.off_grid.mixed_down.any()
    assert marks(found.across) == ["...", ".##", ".##", "..."]
    assert marks(found.down) == ["....", ".#.#", "...."]


@pytest.mark.parametrize("radius", [1.0, 1.3, 1.7])
def test_shares_of_a_circle(radius):
    """Every cell against shapely: whole, in part, or the room's by more than a fiftieth of it."""
    found = surveyed(["....."] * 5, ("A", Circle((2.5, 2.5), radius)))
    (region,) = found.off_grid.regions.values()
    cells = [[region.intersection(cell_box(c, r, CELL)).area / CELL**2 for c in range(5)] for r in range(5)]
    share = np.array(cells)
    assert (found.off_grid.whole == (share > 1 - 1e-9)).all()
    assert (found.off_grid.part == ((share > 1e-9) & (share < 1 - 1e-9))).all()
    assert ((found.rooms != 0) == (share >= 0.02)).all()


# --- what is refused ---


def test_a_shape_beyond_the_drawing_is_refused_on_every_side():
    for bounds, words in [
        (
            (-0.1, 0, 1, 1),
            "the shape lies partly outside the drawing: it goes from [-0.1, 0] to [1, 1], and the drawing from [0, 0] to [3, 2]",
        ),
        (
            (0, -0.1, 1, 1),
            "the shape lies partly outside the drawing: it goes from [0, -0.1] to [1, 1], and the drawing from [0, 0] to [3, 2]",
        ),
        (
            (1, 0, 3.1, 1),
            "the shape lies partly outside the drawing: it goes from [1, 0] to [3.1, 1], and the drawing from [0, 0] to [3, 2]",
        ),
        (
            (0, 1, 1, 2.1),
            "the shape lies partly outside the drawing: it goes from [0, 1] to [1, 2.1], and the drawing from [0, 0] to [3, 2]",
        ),
    ]:
        refused(words, ["...", "..."], ("A", rectangle(*bounds)))
        refused("and the drawing from [0, 0] to [3, 2]", ["...", "..."], ("A", rectangle(*bounds)))


def test_a_shape_as_large_as_the_drawing_is_taken():
    assert letters(surveyed(["...", "..."], ("A", rectangle(0, 0, 3, 2)))) == ["AAA", "AAA"]


def test_a_shape_over_another_rooms_cell_is_refused_wherever_it_is():
    for row, column in [(0, 0), (0, 4), (3, 0), (3, 4), (1, 2)]:
        rows = [["."] * 5 for _ in range(4)]
        rows[row][column] = "B"
        rows = ["".join(cells) for cells in rows]
        x, y = max(0.0, column - 0.5), max(0.0, row - 0.5)
        over = rectangle(x, y, min(5.0, x + 1.0), min(4.0, y + 1.0))
        refused(f'the shape lies over cell [{column + 1}, {row + 1}] of room "B"', rows, ("A", over))


def test_the_cell_most_of_which_is_covered_is_the_one_named():
    refused("cell [2, 1]", ["BBB"], ("A", rectangle(0.8, 0, 1.9, 1)))
    refused("cell [1, 1]", ["BBB"], ("A", rectangle(0.2, 0, 1.3, 1)))


def test_where_it_lies_over_another_is_said_in_cells():
    with pytest.raises(InputError, match=r'at \[1\.\d+, 0\.\d+\] the shape lies over the shape of room "A"') as caught:
        surveyed(["..."], ("A", rectangle(0, 0, 1.5, 1)), ("B", rectangle(1.3, 0, 3, 1)))
    assert caught.value.place == "[[shape]] 2"


def test_shapes_that_only_touch_are_taken():
    found = surveyed(["..."], ("A", rectangle(0, 0, 1.5, 1)), ("B", rectangle(1.5, 0, 3, 1)))
    assert letters(found)[0][0] + letters(found)[0][2] == "AB"
    assert letters(surveyed(["B..", "..."], ("A", rectangle(1, 0, 3, 1)))) == ["BAA", "..."]


def test_shapes_of_one_room_may_lie_over_one_another_and_over_its_cells():
    found = surveyed(["A..."], ("A", rectangle(0, 0, 2, 1)), ("A", rectangle(1, 0, 3, 1)))
    assert letters(found) == ["AAA."]
    assert found.off_grid.regions[ord("A")].area == pytest.approx(3 * CELL**2)


def test_a_shape_over_the_second_of_two_other_rooms_is_refused():
    three = ("A", rectangle(0, 0, 1, 1)), ("A", rectangle(1, 0, 2, 1)), ("B", rectangle(1.5, 0, 3, 1))
    refused('the shape lies over the shape of room "A"', ["..."], *three)
    later = ("A", rectangle(0, 0, 1, 1)), ("B", rectangle(1, 0, 2, 1)), ("A", rectangle(1.5, 0, 3, 1))
    refused('the shape lies over the shape of room "B"', ["..."], *later)


def test_cells_as_boxes():
    assert cell_box(1, 2, 10.0).bounds == (10, -30, 20, -20)
    assert cell_box(1, 2, 10.0, 3, 2).bounds == (10, -40, 40, -20)
