"""Four ways to place a wall: worked figures, and the sparse programme against a dense one from the contract's words."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
import shapely
from scipy.optimize import linprog

from tests.kits.test_fit_plans import drawn, make_plan, mirrored, random_parts, random_plan, turned, worked_plan
from tilegen.fit.placements import (
    ConventionalGrid,
    cost_of,
    cost_record,
    largest_aligned,
    placements_on,
    placements_record,
    placements_without_plan,
    worst_gap,
)
from tilegen.model.grid import Grid
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay
from tilegen.plans.ways import Way

WALL = 12.7


def column(placements, name):
    return [getattr(p, name) for p in placements]


def test_worked_table():
    plan = worked_plan()
    found = placements_on(plan, make_kit(plan))
    assert column(found, "name") == ["inset", "on-square", "outboard", "outboard-half-step"]
    assert column(found, "hall_clear") == pytest.approx([50.8, 25.4, 50.8, 50.8], abs=1e-9)
    assert column(found, "largest_base") == pytest.approx([50.8, 25.4, 50.8, 50.8], abs=1e-9)
    assert column(found, "largest_aligned") == pytest.approx([50.8, 12.7, 50.8, 25.4], abs=1e-9)
    assert column(found, "clash_area") == pytest.approx([0, 0, 6451.6, 6451.6], abs=1e-6)
    assert column(found, "worst_gap") == pytest.approx([0, 0, 25.4, 25.4], abs=1e-6)
    assert list(placements_record(found)[0]) == [
        "name", "pitch_mm", "wall_thickness_mm", "hall_clear_mm", "largest_base_mm", "largest_aligned_mm",
        "clash_area_mm2", "worst_gap_mm",
    ]  # fmt: skip


def test_the_same_without_a_plan_and_what_it_costs():
    # Common practice, no source: 1 in spaces with 0.5 in walls.
    found = placements_without_plan(Grid())
    assert column(found, "largest_aligned") == pytest.approx([50.8, 12.7, 50.8, 25.4], abs=1e-9)
    assert column(found, "clash_area") == column(found, "worst_gap") == [0, 0, 0, 0]
    assert column(found, "pitch") == [31.75, 25.4, 25.4, 25.4]
    assert column(found, "wall_thickness") == [6.35, 12.7, 12.7, 12.7]
    cost = cost_of(Grid())
    assert cost.length_lost == pytest.approx(0.20)
    assert cost.area_lost == pytest.approx(0.36)
    assert list(cost_record(cost)) == ["length_lost", "area_lost"]


def test_another_reference_grid():
    plan = worked_plan()
    found = placements_on(plan, make_kit(plan), ConventionalGrid(pitch=30.0, wall_thickness=5.0))
    assert column(found, "hall_clear") == pytest.approx([50.8, 50, 60, 60])
    assert column(found, "clash_area") == pytest.approx([0, 0, 10 * 60 * 5, 10 * 60 * 5])
    assert column(found, "worst_gap") == pytest.approx([0, 0, 10, 10])


def slow_aligned(pitch, walls, whole):
    """The largest d of a fine scan that stands in some block of whole squares of a hall (walls: each side's reach)."""
    best = 0.0
    for d in np.arange(0.05, whole * pitch + 0.05, 0.05):
        n = max(1, int(np.floor(d / 25.4 + 0.5)))
        for first in range(whole - n + 1):
            low = max(first * pitch, walls)
            high = min((first + n) * pitch, whole * pitch - walls)
            if d <= min(high - low, n * pitch) + 1e-9:
                best = d
    return best


def test_the_largest_aligned_disc_against_a_scan():
    for whole in [1, 2, 3, 4]:
        for wall in [0.0, 3.0, 9.0]:
            for pitch in [20.0, 25.4, 31.75, 45.0, 60.0]:
                assert largest_aligned(pitch, wall, whole) == pytest.approx(slow_aligned(pitch, wall, whole), abs=0.051)


@pytest.mark.parametrize("spaces", [2, 3])
def test_the_widest_disc_of_a_drawn_hall_is_the_largest_inscribed_circle(spaces):
    """Of a hall three tiles long with its two walls drawn where each way puts them; shapely's search (GEOS)."""
    for found in placements_without_plan(Grid(spaces=spaces)):
        side = spaces * found.pitch
        wall = 0.0 if found.name.startswith("outboard") else found.wall_thickness
        standing = [shapely.box(0, low, 3 * side, high) for low, high in ((-20, wall), (side - wall, side + 20))]
        free = shapely.box(0, -10, 3 * side, side + 10).difference(shapely.union_all(standing))
        theirs = 2 * shapely.maximum_inscribed_circle(free, tolerance=1e-3).length
        assert found.hall_clear == found.largest_base == pytest.approx(theirs, abs=4e-3), found.name


def test_no_whole_square_no_aligned_disc():
    assert largest_aligned(25.4, 0.0, 0) == 0.0


# --- clash and gap ---


def neighbours(drawing, kit):
    """How many tiles there are; whether anything stands between them, by pairs side by side and one above the other."""
    tile_of = lay(drawing, kit).tile_of
    stands = [kind.facts.stands for kind in drawing.kinds]
    rows, columns = tile_of.shape

    def pairs(lines, dr, dc):
        found = {}
        for r, c in product(range(rows - dr), range(columns - dc)):
            i, j = int(tile_of[r, c]), int(tile_of[r + dr, c + dc])
            if i >= 0 and j >= 0 and i != j:
                found[i, j] = found.get((i, j), False) or stands[lines[r + dr, c + dc]]
        return found

    return int(tile_of.max()) + 1, pairs(drawing.down, 0, 1), pairs(drawing.across, 1, 0)


def slow_gap(drawing, kit):
    """The contract's programme, dense, with one unknown a tile, along x and along y."""
    tiles, beside, above = neighbours(drawing, kit)
    worst = 0.0
    for along, across in ((beside, above), (above, beside)):
        less, limits, equal = [], [], []
        for (i, j), carried in along.items():
            need = 2 * WALL if carried else 0.0
            row = np.zeros(tiles + 1)
            row[i], row[j] = 1, -1
            less.append(row)
            limits.append(-need)
            less.append(-row - np.eye(tiles + 1)[tiles])
            limits.append(need)
        for i, j in across:
            row = np.zeros(tiles + 1)
            row[i], row[j] = 1, -1
            equal.append(row)
        if not less:
            continue
        found = linprog(
            np.eye(tiles + 1)[tiles],
            A_ub=np.array(less),
            b_ub=limits,
            A_eq=np.array(equal) if equal else None,
            b_eq=np.zeros(len(equal)) if equal else None,
            bounds=[(None, None)] * tiles + [(0, None)],
            method="highs",
        )
        assert found.status == 0
        worst = max(worst, found.fun)
    return worst


def gap_by_cbc(pulp, drawing, kit):
    """The same as algebra, by CBC's simplex: the COIN-OR project's (J. Forrest, R. Lougee-Heimer), no relative of HiGHS."""
    tiles, beside, above = neighbours(drawing, kit)
    worst = 0.0
    for along, across in ((beside, above), (above, beside)):
        model = pulp.LpProblem("gap", pulp.LpMinimize)
        gap, x = pulp.LpVariable("gap", 0), [pulp.LpVariable(f"x{tile}") for tile in range(tiles)]
        model += gap
        for (i, j), carried in along.items():
            opened = x[j] - x[i] - (2 * WALL if carried else 0.0)
            model += opened >= 0
            model += opened <= gap
        for i, j in across:
            model += x[i] == x[j]
        assert pulp.LpStatus[model.solve(pulp.PULP_CBC_CMD(msg=False, threads=1))] == "Optimal"
        worst = max(worst, pulp.value(model.objective))
    return worst


def ringed_plan(seed, scale):
    """Halls around blocks of solid ground, with a few walls across them."""
    rng = np.random.default_rng(seed)
    rooms = np.full((9, 9), ord("A"), np.uint32)
    for _ in range(int(rng.integers(1, 5))):
        r, c = rng.integers(1, 6, 2)
        rooms[r : r + rng.integers(1, 4), c : c + rng.integers(1, 4)] = 0
    for _ in range(int(rng.integers(1, 3))):
        r, c = rng.integers(0, 9, 2)
        rooms[r, c] = ord("B") if rooms[r, c] else 0
    if scale == "5 ft":
        rooms = np.kron(rooms, np.ones((2, 2), np.uint32))
    return drawn((rooms, (), ()), scale=scale)


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_sparse_programme_agrees_with_the_dense_one(scale):
    values = set()
    plans = [random_plan(seed, scale=scale, most=7 if scale == "10 ft" else 12) for seed in range(8)]
    for drawing in plans + [ringed_plan(seed, scale) for seed in range(12)]:
        kit = make_kit(drawing)
        gap = worst_gap(drawing, kit, 2 * WALL)
        assert gap == pytest.approx(slow_gap(drawing, kit), abs=1e-6)
        values.add(round(gap, 6))
    assert len(values) > 2, "plans whose gap is shared out over several seams are among them"


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_another_solver_finds_the_same_gap():
    pulp = pytest.importorskip("pulp")
    values = set()
    for drawing in [random_plan(seed + 40, most=7) for seed in range(8)] + [
        ringed_plan(seed, "10 ft") for seed in range(12)
    ]:
        kit = make_kit(drawing)
        gap = worst_gap(drawing, kit, 2 * WALL)
        assert gap == pytest.approx(gap_by_cbc(pulp, drawing, kit), abs=1e-6)
        values.add(round(gap, 6))
    assert len(values) > 2


def test_a_gap_is_shared_out_over_the_seams_of_a_ring():
    # One wall on the ring: two open seams down the west side take up one double wall between them.
    plan = make_plan("AAAA\nA..B\nAABB")
    assert worst_gap(plan, make_kit(plan), 25.4) == pytest.approx(12.7)
    longer = make_plan("AAAAAA\nA....B\nA....B\nAAABBB")
    assert worst_gap(longer, make_kit(longer), 25.4) == pytest.approx(25.4 / 3)


def test_two_parallel_halls_that_open_into_one_room_crack_by_two_walls():
    # Common practice, no source: beside the tile, two halls can't share a wall and the room they enter cracks.
    ways = [Way((3, 1), "east", "open"), Way((3, 2), "east", "open")]
    plan = make_plan("AAAC\nBBBC", ways=ways)
    found = placements_on(plan, make_kit(plan))
    assert column(found, "worst_gap") == pytest.approx([0, 0, 25.4, 25.4])


def test_a_wall_that_parts_the_map_from_end_to_end_closes():
    plan = make_plan("AAA\nBBB")
    assert worst_gap(plan, make_kit(plan), 25.4) == 0.0


def test_clash_counts_sides_with_a_neighbour_only():
    # A doorway to solid ground and the outer walls have no neighbour tile; a shared line has two sides.
    plan = make_plan("AB", ways=[Way((1, 1), "west", "doorway"), Way((1, 1), "east", "saddle")])
    assert placements_on(plan, make_kit(plan))[2].clash_area == pytest.approx(2 * 50.8 * 12.7)
    opened = make_plan("AB", ways=[Way((1, 1), "east", "open")])
    assert placements_on(opened, make_kit(opened))[2].clash_area == 0


def test_at_5_ft_walls_inside_a_block_do_not_clash():
    inside = make_plan("AB\nAB", scale="5 ft")
    assert make_kit(inside).tiles == 1
    assert placements_on(inside, make_kit(inside))[2].clash_area == 0
    between = make_plan("AABB\nAABB", scale="5 ft")
    assert make_kit(between).tiles == 2
    assert placements_on(between, make_kit(between))[2].clash_area == pytest.approx(2 * 50.8 * 12.7)


@pytest.mark.parametrize("change", [turned, mirrored])
def test_turning_or_mirroring_the_map_changes_nothing(change):
    for seed in range(12):
        parts = random_parts(np.random.default_rng(seed))
        before, after = drawn(parts), drawn(change(*parts))
        one, other = placements_on(before, make_kit(before)), placements_on(after, make_kit(after))
        assert column(one, "clash_area") == pytest.approx(column(other, "clash_area"))
        assert column(one, "worst_gap") == pytest.approx(column(other, "worst_gap"), abs=1e-6)
