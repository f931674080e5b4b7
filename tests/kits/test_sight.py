"""Sight: the fast way against the definition tried line by line, and what is known of sight in general."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from tests.kits.test_fit_plans import drawn, make_plan, mirrored, random_parts, random_plan, turned, worked_plan
from tilegen.errors import InputError
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay
from tilegen.plans.sight import in_sight, visible_from
from tilegen.plans.ways import ExtraWall, Way


def slow_wall_lines(drawing, doors_open):
    """Every wall line as its two ends, in half spaces; from the words of the contract, cell by cell."""
    rows, columns = drawing.rooms.shape
    side = 2 * drawing.cell_spaces

    def room(r, c):
        return drawing.rooms[r, c] if 0 <= r < rows and 0 <= c < columns else 0

    def stops(code, one, other):
        if (one == 0) != (other == 0):
            return True
        name = drawing.kinds[code].name
        return name == "wall" or (name in ("doorway", "saddle") and not doors_open)

    lines = []
    for r, c in product(range(rows + 1), range(columns)):
        if stops(drawing.across[r, c], room(r - 1, c), room(r, c)):
            lines.append((c * side, r * side, (c + 1) * side, r * side))
    for r, c in product(range(rows), range(columns + 1)):
        if stops(drawing.down[r, c], room(r, c - 1), room(r, c)):
            lines.append((c * side, r * side, c * side, (r + 1) * side))
    return np.array(lines, np.int64)


def meets(p, q, lines):
    """Whether the closed segment p q shares a point with any of the closed lines: by orientation signs."""

    def orient(ax, ay, bx, by, cx, cy):
        return np.sign((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))

    ax, ay, bx, by = lines.T
    # Touching counts: no strict separation by either line's own side, and no separation of the bounding boxes.
    across = orient(*p, *q, ax, ay) * orient(*p, *q, bx, by) <= 0
    along = orient(ax, ay, bx, by, *p) * orient(ax, ay, bx, by, *q) <= 0
    boxes = (
        (np.maximum(ax, bx) >= min(p[0], q[0]))
        & (np.minimum(ax, bx) <= max(p[0], q[0]))
        & (np.maximum(ay, by) >= min(p[1], q[1]))
        & (np.minimum(ay, by) <= max(p[1], q[1]))
    )
    return bool((across & along & boxes).any())


def slow_sight(drawing, kit, doors_open):
    """(tiles, tiles): who sees whom, from every pair of centres."""
    lines, laid, k = slow_wall_lines(drawing, doors_open), lay(drawing, kit), drawing.cell_spaces
    centres = [
        (int(laid.tile_of[r, c]), (2 * (c * k + i) + 1, 2 * (r * k + j) + 1))
        for r, c in np.argwhere(laid.tile_of >= 0)
        for i, j in product(range(k), repeat=2)
    ]
    sees = np.eye(len(laid.type_of), dtype=bool)
    for n, (a, p) in enumerate(centres):
        for b, q in centres[n + 1 :]:
            if not sees[a, b] and not meets(p, q, lines):
                sees[a, b] = sees[b, a] = True
    return sees, laid


def most_by_type(sees, laid, types):
    return tuple(int(sees[:, laid.type_of == t].sum(axis=1).max()) for t in range(types))


@pytest.mark.parametrize("doors_open", [False, True])
@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_agrees_with_every_line_tried(scale, doors_open):
    for seed in range(8):
        drawing = random_plan(seed, scale=scale, most=6 if scale == "10 ft" else 8)
        kit = make_kit(drawing)
        sees, laid = slow_sight(drawing, kit, doors_open)
        result = in_sight(drawing, kit, doors_open=doors_open)
        assert result.most == most_by_type(sees, laid, len(kit.types)), seed
        assert result.most_tiles == sees.sum(axis=1).max(), seed
        assert result.mean_tiles == pytest.approx(sees.sum(axis=1).mean()), seed
        for kind, most, place in zip(range(len(kit.types)), result.most, result.where, strict=True):
            counts = sees[:, laid.type_of == kind].sum(axis=1)
            # Of equals the first in reading order.
            assert place == tuple(laid.first_cells[int(np.argmax(counts))]), seed
            assert counts.max() == most, seed


@pytest.mark.parametrize("spaces", [1, 3])
def test_agrees_with_every_line_tried_at_other_spaces(spaces):
    for seed in range(5):
        drawing = random_plan(seed + 500, most=5, grid=Grid(spaces=spaces))
        kit = make_kit(drawing)
        sees, laid = slow_sight(drawing, kit, True)
        assert in_sight(drawing, kit, doors_open=True).most == most_by_type(sees, laid, len(kit.types)), seed


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_view_from_a_cell_is_a_row_of_the_whole(scale):
    for seed in range(4):
        drawing = random_plan(seed + 900, scale=scale)
        kit = make_kit(drawing)
        sees, laid = slow_sight(drawing, kit, True)
        for r, c in np.argwhere(laid.tile_of >= 0)[::5]:
            shown = visible_from(drawing, (int(c) + 1, int(r) + 1), kit, doors_open=True)
            expected = (laid.tile_of >= 0) & sees[laid.tile_of[r, c]][laid.tile_of]
            assert (shown == expected).all(), (seed, r, c)


def test_worked_example():
    drawing = worked_plan()
    kit = make_kit(drawing)
    result = in_sight(drawing, kit)
    by_cell = {}
    for kind, most in zip(kit.types, result.most, strict=True):
        for column, row, _ in kind.places.tolist():
            by_cell[column, row] = most
    expected = {
        3: [(1, 1), (3, 1), (1, 2), (5, 2), (5, 3)],
        2: [(2, 1), (2, 2), (2, 3), (3, 3)],
        1: [(3, 2), (4, 2), (1, 3), (4, 3)],
    }
    assert by_cell == {cell: most for most, cells in expected.items() for cell in cells}
    assert sorted(result.most) == [1, 1, 1, 2, 2, 3]
    assert result.tiles == 10


def test_agrees_with_the_visibility_polygons_of_a_general_library():
    """CGAL's, exact; walls as strips a hair wide. `python -m tests.proof.sight 300` compares more and shows each graze."""
    pytest.importorskip("pysfcgal")
    from tests.proof.sight import compared

    found = [compared(seed, most=5) for seed in range(16)]
    assert sum(one.pairs for one in found) > 500
    assert [one.differ for one in found if one.differ] == []
    assert any(one.graze for one in found), "plans where a line touches the end of a wall are among them"


def test_sight_is_symmetric():
    # A sees B if and only if B sees A: the common property of symmetric shadow casting.
    for seed in range(10):
        drawing = random_plan(seed + 300, most=9)
        cells = [(int(c) + 1, int(r) + 1) for r, c in np.argwhere(drawing.rooms != 0)]
        views = {cell: visible_from(drawing, cell, doors_open=True) for cell in cells}
        for a, b in product(cells, repeat=2):
            assert views[a][b[1] - 1, b[0] - 1] == views[b][a[1] - 1, a[0] - 1]


@pytest.mark.parametrize("change", [turned, mirrored])
@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_turning_or_mirroring_the_map_changes_nothing(change, scale):
    for seed in range(5):
        parts = random_parts(np.random.default_rng(seed + 50), most=9)
        if scale == "5 ft":
            # Even sides: the lattice of blocks that is best stays so.
            parts = (np.kron(parts[0], np.ones((2, 2), np.uint32)), (), ())
        before, after = drawn(parts, scale=scale), drawn(change(*parts), scale=scale)
        for doors_open in (False, True):
            first = in_sight(before, make_kit(before), doors_open=doors_open)
            second = in_sight(after, make_kit(after), doors_open=doors_open)
            assert first.mean_tiles == pytest.approx(second.mean_tiles)
            assert first.most_tiles == second.most_tiles
            if change is turned:
                assert sorted(first.most) == sorted(second.most)


def test_a_convex_room_sees_all_of_itself_and_nothing_else():
    drawing = make_plan("AAAAABB\nAAAAABB\nAAAAABB")
    kit = make_kit(drawing)
    result = in_sight(drawing, kit)
    assert result.most_tiles == 15
    assert result.mean_tiles == pytest.approx((15 * 15 + 6 * 6) / 21)
    assert visible_from(drawing, (6, 2)).sum() == 6


def test_a_full_row_of_wall_leaves_both_halves_blind():
    walls = [ExtraWall((c, 2), "south") for c in range(1, 6)]
    drawing = make_plan("AAAAA\nAAAAA\nAAAAA\nAAAAA", walls=walls)
    assert (visible_from(drawing, (3, 1)) == (np.arange(4) < 2)[:, None]).all()


def test_a_line_that_touches_the_end_of_a_wall_is_stopped():
    # At 5 ft the centre of [1, 1] sees that of [2, 2] only past their common corner, where a wall ends.
    free = make_plan("AA\nAA", scale="5 ft")
    ended = make_plan("AA\nAA", scale="5 ft", walls=[ExtraWall((2, 1), "south")])
    assert visible_from(free, (1, 1)).sum() == 4
    assert not visible_from(ended, (1, 1))[1, 1]
    assert visible_from(ended, (1, 1)).sum() == 3


def test_open_doors_free_the_whole_line_but_not_solid_ground():
    shut = make_plan("AB", ways=[Way((1, 1), "east", "doorway")])
    assert visible_from(shut, (1, 1)).sum() == 1
    assert visible_from(shut, (1, 1), doors_open=True).sum() == 2
    outside = make_plan("A.A", ways=[Way((1, 1), "east", "doorway"), Way((3, 1), "west", "doorway")])
    assert visible_from(outside, (1, 1), doors_open=True).sum() == 1


def test_guards_of_orthogonal_rooms_stay_within_the_art_gallery_bound():
    # floor(n / 4) guards see an orthogonal room of n corners: Kahn, Klawe, Kleitman 1983, doi 10.1137/0604020.
    # Sight from centres to centres is easier to guard than every point, so the least number stays within it.
    plans = {
        "A....\nA....\nAAAAA": 6,
        "AAAAA\n..A..\n..A..": 8,
        "A.A.A\nAAAAA": 12,
        ".A.\nAAA\n.A.": 12,
    }
    for text, corners in plans.items():
        drawing = make_plan(text)
        cells = [(int(c) + 1, int(r) + 1) for r, c in np.argwhere(drawing.rooms != 0)]
        views = [visible_from(drawing, cell)[drawing.rooms != 0] for cell in cells]
        bound = corners // 4
        guarded = any(np.logical_or.reduce(chosen).all() for chosen in product(views, repeat=bound))
        assert guarded, text


def test_a_view_from_no_room_is_refused():
    for cell in [(0, 1), (6, 1), (1, 4), (4, 1)]:
        with pytest.raises(InputError, match=r"outside the drawing|solid ground"):
            visible_from(worked_plan(), cell)
