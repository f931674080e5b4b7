"""Rows and loops under tile error: published stack-ups, brute force on small maps, and random trials."""

from __future__ import annotations

from itertools import product

import networkx as nx
import numpy as np
import pytest

from tests.kits.test_fit_plans import drawn, make_plan, mirrored, random_parts, random_plan, turned, worked_plan
from tilegen.errors import InputError
from tilegen.fit.loops import (
    Rows,
    largest_loop,
    longest_run,
    loop_error,
    loops_record,
    play_for,
    rows_of,
    rows_record,
    season_change,
    squareness_error,
)
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay


def test_the_stack_up_of_ten_tiles():
    # Ten equal parts of +-.1: common practice, no source.
    assert (Rows(10, 0.1).worst_case, Rows(10, 0.1).rss) == (pytest.approx(1.0), pytest.approx(0.316, abs=5e-4))


def test_rows_of_the_worked_plan():
    plan = worked_plan()
    assert rows_record(rows_of(plan, make_kit(plan))) == {
        "longest_tiles": 5,
        "tile_error_mm": 0.3,
        "worst_case_mm": pytest.approx(1.5),
        "rss_mm": pytest.approx(0.3 * 5**0.5),
    }


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_longest_run_against_a_graph_of_steps(scale):
    for seed in range(15):
        drawing = random_plan(seed, scale=scale, most=10)
        laid = lay(drawing, make_kit(drawing))
        longest = 1
        for tiles in (laid.tile_of, laid.tile_of.T):
            graph = nx.DiGraph()
            for a, b in zip(tiles[:, :-1].ravel().tolist(), tiles[:, 1:].ravel().tolist(), strict=True):
                if a >= 0 and b >= 0 and a != b:
                    graph.add_edge(a, b)
            longest = max(longest, nx.dag_longest_path_length(graph) + 1 if graph else 1)
        assert longest_run(laid) == longest, seed


def ring_length(drawing):
    """The shortest closed walk of side-by-side cells around some hole, by trying closed walks that wind around it."""
    floor = {(int(r), int(c)) for r, c in np.argwhere(drawing.rooms != 0)}
    rows, columns = drawing.rooms.shape
    best = 0
    for hole in product(range(rows), range(columns)):
        if hole in floor:
            continue
        # Two sheets: going over the ray east of the hole changes the sheet. A way from a cell to itself on the other
        # sheet goes around the hole an odd number of times.
        graph = nx.Graph()
        for (r, c), (dr, dc), sheet in product(floor, ((0, 1), (1, 0)), (0, 1)):
            if (r + dr, c + dc) in floor:
                crosses = dr == 1 and r == hole[0] and c > hole[1]
                graph.add_edge((r, c, sheet), (r + dr, c + dc, sheet ^ crosses))
        lengths = [
            nx.shortest_path_length(graph, (r, c, 0), (r, c, 1))
            for r, c in floor
            if (r, c, 0) in graph and nx.has_path(graph, (r, c, 0), (r, c, 1))
        ]
        best = max(best, min(lengths, default=0))
    return best


def test_a_loop_is_as_long_as_the_shortest_closed_walk_around_its_hole():
    maps = {
        "AAA\nA.A\nAAA": (8, 3, 3),
        "AAAAA\nA...A\nAAAAA": (12, 5, 3),
        "AAAAAA\nA.AA.A\nA.AAAA\nAAAAAA": (10, 3, 4),
        "AAAA\nA..A\nA..A\nAAAA": (12, 4, 4),
    }
    for text, (tiles, across, down) in maps.items():
        plan = make_plan(text)
        loop = largest_loop(plan, make_kit(plan))
        assert (loop.tiles, loop.across, loop.down) == (tiles, across, down)
        assert loop.tiles == ring_length(plan)


def test_the_ring_is_one_closed_ring_of_tiles():
    for seed in range(25):
        drawing = random_plan(seed, most=9)
        loop = largest_loop(drawing, make_kit(drawing))
        shortest = ring_length(drawing)
        assert (loop is None) == (shortest == 0), seed
        if loop:
            # The ring hugs its hole: at most the dents of the hole make it longer than the shortest walk.
            assert loop.tiles >= 8
            assert loop.across >= 3
            assert drawing.rooms[loop.first_cell[1] - 1, loop.first_cell[0] - 1] == 0


def test_an_island_inside_a_hole_is_no_part_of_the_ring():
    plan = make_plan("AAAAAAA\nA.....A\nA.BBB.A\nA.BBB.A\nA.....A\nAAAAAAA")
    loop = largest_loop(plan, make_kit(plan))
    assert (loop.tiles, loop.across, loop.down, loop.first_cell) == (22, 7, 6, (2, 2))
    assert largest_loop(make_plan("AAA\nA..\nAAA"), make_kit(make_plan("AAA\nA..\nAAA"))) is None


def test_a_loop_at_5_ft_counts_blocks():
    plan = make_plan("\n".join(["AAAAAA", "AAAAAA", "AA..AA", "AA..AA", "AAAAAA", "AAAAAA"]), scale="5 ft")
    loop = largest_loop(plan, make_kit(plan))
    assert (loop.tiles, loop.across, loop.down) == (8, 3, 3)
    # The hole begins in the middle of a block: what stands beside it there is no step to another tile.
    plan = make_plan("\n".join(["AAAAAA", "A....A", "A....A", "A....A", "A....A", "AAAAAA"]), scale="5 ft")
    loop = largest_loop(plan, make_kit(plan))
    assert (loop.tiles, loop.across, loop.down) == (8, 3, 3)


@pytest.mark.parametrize("change", [turned, mirrored])
def test_turning_or_mirroring_the_map_changes_no_length(change):
    for seed in range(8):
        parts = random_parts(np.random.default_rng(seed), most=9)
        one, other = drawn(parts), drawn(change(*parts))
        assert longest_run(lay(one, make_kit(one))) == longest_run(lay(other, make_kit(other)))
        first, second = largest_loop(one, make_kit(one)), largest_loop(other, make_kit(other))
        assert (first and first.tiles) == (second and second.tiles)


def test_one_process_cancels_its_bias_in_a_loop_and_two_do_not():
    rng = np.random.default_rng(1)
    n, sigma, bias = 16, 0.1, 0.25
    north = rng.normal(bias, sigma, (40_000, n)).sum(axis=1)
    south = rng.normal(bias, sigma, (40_000, n)).sum(axis=1)
    # One standard deviation in, one out: the root sum of squares is linear in it.
    assert np.mean(north - south) == pytest.approx(0, abs=0.02)
    assert np.std(north - south) == pytest.approx(loop_error(n, sigma).rss, rel=0.02)
    assert loop_error(n, sigma, bias=bias).bias == 0
    other = rng.normal(0.05, sigma, (40_000, n)).sum(axis=1)
    assert np.mean(north - other) == pytest.approx(loop_error(n, sigma, bias=bias, other_bias=0.05).bias, abs=0.02)
    assert loop_error(16, 0.2).worst_case == pytest.approx(6.4)
    # A process without a bias beside one that makes each of three tiles 0.2 too large: 3 x 0.2.
    assert loop_error(3, 0.1, other_bias=0.2).bias == pytest.approx(0.6)
    assert loop_error(3, 0.1, bias=0.5, other_bias=0.2).bias == pytest.approx(0.9)


def test_the_least_play_always_closes_and_less_does_not():
    n, pitch, error = 12, 63.5, 0.3
    least = play_for(n, error, 0.3).least
    assert n * (pitch - least + error) <= n * pitch + 1e-9
    assert n * (pitch - 0.99 * least + error) > n * pitch
    play = play_for(n, error, 0.2)
    assert not play.closes
    assert play_for(n, error, 0.3).closes
    assert play.likely == pytest.approx(error / n**0.5)
    # n seams with the likely play take up the root sum of squares.
    assert n * play.likely == pytest.approx(Rows(n, error).rss)
    assert (play.seam, play.widest_seam) == (0.2, pytest.approx(0.5))
    assert play.pushed_together == pytest.approx(n * pitch - n * (pitch - 0.2 - error))


def test_squareness():
    # 50 mm at half a degree: 0.44 mm (P tan alpha).
    assert squareness_error(50, 0.5) == pytest.approx(0.44, abs=0.005)


def test_seasons():
    # Makers' XPS data sheets: 0.07 mm/(m K): 50 mm and 20 K, 1 m and 20 K.
    assert season_change("xps", 50) == pytest.approx(0.07)
    assert season_change("xps", 1000) == pytest.approx(1.4)
    # An MDF makers' page (mdf-info.eu): 0.25 % from 35 to 85 % humidity is 1.5 mm on 600.
    assert season_change("mdf", 600) == pytest.approx(1.5)
    # Paper moves by 0.2 to 0.4 % across its grain, 0.05 to 0.2 % along it: the larger ones (common practice, no source).
    assert season_change("card-across", 250) == pytest.approx(1.0)
    assert season_change("card-along", 500) == pytest.approx(1.0)
    with pytest.raises(InputError, match='Did you mean "xps"'):
        season_change("xsp", 50)


@pytest.mark.parametrize("error", [-0.1, float("nan"), float("inf")])
def test_errors_that_are_none_are_refused(error):
    plan = worked_plan()
    with pytest.raises(InputError, match="--tile-error"):
        rows_of(plan, make_kit(plan), error)


def test_the_loops_record():
    plan = make_plan("AAA\nA.A\nAAA")
    rows = rows_of(plan, make_kit(plan))
    record = loops_record(rows, largest_loop(plan, make_kit(plan)), play_for(rows.longest_tiles, 0.3, 0.3), 63.5)
    assert record["largest_loop"]["tiles"] == 8
    assert record["largest_loop"]["worst_case_mm"] == pytest.approx(2 * 3 * 0.3)
    # Six tiles along two sides, each off by 0.3 mm on its own: the square root of six times that.
    assert record["largest_loop"]["rss_mm"] == pytest.approx(6**0.5 * 0.3)
    assert record["play"]["closes"] is True
    assert [entry["material"] for entry in record["season"]] == ["xps", "mdf", "card-across", "card-along"]
    assert loops_record(rows, None, play_for(3, 0.3, 0.3), 63.5)["largest_loop"] is None
