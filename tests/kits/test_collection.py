"""Which tiles to make next: choices against enumeration, another formulation and published knapsacks."""

from __future__ import annotations

from itertools import product
from random import Random

import numpy as np
import pytest

from tilegen.plans import collection
from tilegen.plans.collection import Demand, StandIns, cheapest, most_worth, quick_cheapest, quick_most, steps
from tilegen.solver import Solved


def random_demand(seed, maps=8, types=5, most=6):
    """Small numbers, so that many needs are equal and some nothing; now and then types that all maps need alike."""
    rng = Random(seed)
    n, t = rng.randint(1, maps), rng.randint(1, types)
    lacks = np.array([[max(0, rng.randint(-2, most)) for _ in range(t)] for _ in range(n)], np.int64)
    if t > 1 and rng.random() < 0.3:
        lacks[:, 0] = 2 * lacks[:, 1]
    costs = np.array([rng.choice([1, 1, rng.randint(1, 40)]) for _ in range(t)], np.int64)
    worth = np.array([rng.choice([1, 1, rng.randint(1, 9)]) for _ in range(n)], np.int64)
    return Demand(lacks, costs, worth)


def every_choice(demand):
    """(cost, worth) of every set of maps, those counted that can be laid besides."""
    for chosen in product([False, True], repeat=len(demand.worth)):
        make = np.array(
            [
                max((row[t] for row, c in zip(demand.lacks, chosen, strict=True) if c), default=0)
                for t in range(len(demand.costs))
            ]
        )
        worth = sum(int(w) for row, w in zip(demand.lacks, demand.worth, strict=True) if all(row <= make))
        yield int(sum(make * demand.costs)), worth


@pytest.mark.parametrize("seed", range(200))
def test_choices_are_as_good_as_the_best_of_all_sets_of_maps(seed):
    demand = random_demand(seed)
    known = list(every_choice(demand))
    rng = Random(seed)
    least = rng.randint(0, int(demand.worth.sum()))
    best = min(cost for cost, worth in known if worth >= least)
    found = cheapest(demand, least)
    assert (found.cost, found.bound, found.proven) == (best, best, True)
    assert found.worth >= least
    assert best <= demand.cost(quick_cheapest(demand, least))
    assert demand.reached(quick_cheapest(demand, least)) >= least
    most = rng.randint(0, demand.cost(demand.make(demand.worth > 0)))
    worth = max(worth for cost, worth in known if cost <= most)
    chosen = most_worth(demand, most)
    assert (chosen.worth, chosen.bound, chosen.proven) == (worth, worth, True)
    assert chosen.cost == min(cost for cost, w in known if w >= worth), "of those the cheapest"
    quick = quick_most(demand, most)
    assert demand.cost(quick) <= most
    assert demand.reached(quick) <= worth
    for made in (found, chosen):
        assert made.cost == demand.cost(made.make)
        assert [all(row <= made.make) for row in demand.lacks] == made.laid.tolist()


def random_stand_ins(seed):
    """Two of four types for which the first may stand in, some of it owned and left over."""
    rng = Random(seed)
    short = np.array([[rng.randint(-2, 3) for _ in range(4)] for _ in range(rng.randint(1, 4))], np.int64)
    costs = np.array([rng.choice([10, 10, rng.randint(1, 40)]) for _ in range(4)], np.int64)
    by = np.array([-1, 0, 0, -1])
    fees = np.where(by >= 0, np.round(costs * rng.choice([0, 0.1, 0.3, 0.8])).astype(int), 0)
    return StandIns(short, costs, fees, by, np.array([rng.choice([1, 2, 5]) for _ in short], np.int64))


def every_making(stand_ins):
    """(cost, worth) of every number of each type, with every set of the maps that are laid then."""
    by, kinds = stand_ins.by.tolist(), range(4)
    for make in product(range(10), *(range(4),) * 3):
        fees = []
        for need, worth in zip(stand_ins.short.tolist(), stand_ins.worth.tolist(), strict=True):
            used = [max(0, need[k] - make[k]) if by[k] >= 0 else 0 for k in kinds]
            if all(need[k] - used[k] + sum(used[j] for j in kinds if by[j] == k) <= make[k] for k in kinds):
                fees.append((sum(n * fee for n, fee in zip(used, stand_ins.fees.tolist(), strict=True)), worth))
        made = sum(n * cost for n, cost in zip(make, stand_ins.costs.tolist(), strict=True))
        for chosen in product([0, 1], repeat=len(fees)):
            pairs = list(zip(fees, chosen, strict=True))
            yield made + sum(fee for (fee, _), c in pairs if c), sum(worth for (_, worth), c in pairs if c)


@pytest.mark.parametrize("seed", range(16))
def test_stand_ins_with_a_price_are_as_good_as_the_best_of_all_numbers_made(seed):
    stand_ins, rng = random_stand_ins(seed), Random(seed)
    known = set(every_making(stand_ins))
    least = rng.randint(1, int(stand_ins.worth.sum()))
    kept, found = stand_ins.best(least=least)
    assert (found.cost, found.proven) == (min(cost for cost, worth in known if worth >= least), True)
    assert stand_ins.demand(kept).laid(found.make).tolist() == found.laid.tolist()
    most = rng.randint(0, max(cost for cost, _ in known) // 3)
    _, chosen = stand_ins.best(most=most)
    assert (chosen.worth, chosen.proven) == (max(worth for cost, worth in known if cost <= most), True)


def plainly(pulp, demand, least=None, most=None):
    """The least cost for so much worth, or the most worth for a cost, by CBC: one number of each type, y >= need x.

    CBC is the COIN-OR project's solver (J. Forrest, R. Lougee-Heimer), no relative of HiGHS.
    """
    maps, types = demand.lacks.shape
    model = pulp.LpProblem("collection", pulp.LpMinimize if most is None else pulp.LpMaximize)
    laid = [pulp.LpVariable(f"x{m}", cat="Binary") for m in range(maps)]
    make = [pulp.LpVariable(f"y{t}", 0, int(demand.lacks[:, t].max()), cat="Integer") for t in range(types)]
    for m, t in np.argwhere(demand.lacks).tolist():
        model += make[t] >= int(demand.lacks[m, t]) * laid[m]
    cost = pulp.lpSum(int(c) * y for c, y in zip(demand.costs, make, strict=True))
    worth = pulp.lpSum(int(w) * x for w, x in zip(demand.worth, laid, strict=True))
    model += cost if most is None else worth
    model += worth >= least if most is None else cost <= most
    assert pulp.LpStatus[model.solve(pulp.PULP_CBC_CMD(msg=False, threads=1))] == "Optimal"
    return round(pulp.value(model.objective))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("seed", range(24))
def test_another_solver_finds_the_same_in_another_formulation(seed):
    pulp = pytest.importorskip("pulp")
    demand = random_demand(1000 + seed, maps=16, types=8, most=9)
    least = int(demand.worth.sum()) * 2 // 3
    assert cheapest(demand, least).cost == plainly(pulp, demand, least=least)
    budget = demand.cost(demand.make(demand.worth > 0)) // 2
    assert most_worth(demand, budget).worth == plainly(pulp, demand, most=budget)


# Capacity, weights, profits and the greatest profit: problems 1 to 8 of J. Burkardt's collection KNAPSACK_01, of which
# 5 to 8 are from Kreher and Stinson, "Combinatorial Algorithms" (CRC Press 1999); numbers from memory.
KNAPSACKS = [
    (165, [23, 31, 29, 44, 53, 38, 63, 85, 89, 82], [92, 57, 49, 68, 60, 43, 67, 84, 87, 72], 309),
    (26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51),
    (190, [56, 59, 80, 64, 75, 17], [50, 50, 64, 46, 50, 5], 150),
    (50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107),
    (104, [25, 35, 45, 5, 25, 3, 2, 2], [350, 400, 450, 20, 70, 8, 5, 5], 900),
    (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735),
    (750, [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
     [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240], 1458),
    (6404180, [382745, 799601, 909247, 729069, 467902, 44328, 34610, 698150, 823460, 903959, 853665, 551830, 610856, 670702, 488960,
               951111, 323046, 446298, 931161, 31385, 496951, 264724, 224916, 169684],
     [825594, 1677009, 1676628, 1523970, 943972, 97426, 69666, 1296457, 1679693, 1902996, 1844992, 1049289, 1252836, 1319836, 953277,
      2067538, 675367, 853655, 1826027, 65731, 901489, 577243, 466257, 369261], 13549094),
]  # fmt: skip


@pytest.mark.parametrize("number", range(8))
def test_maps_without_a_tile_in_common_are_a_knapsack(number):
    """Each map needs one type of its own: by its cost, or by how many of it."""
    capacity, weights, profits, best = KNAPSACKS[number]
    each, profits = np.array(weights, np.int64), np.array(profits, np.int64)
    ones = np.ones_like(each)
    for demand in (Demand(np.diag(ones), each, profits), Demand(np.diag(each), ones, profits)):
        found = most_worth(demand, capacity)
        assert (found.worth, found.bound, found.proven) == (best, best, True)
        assert found.cost <= capacity


@pytest.mark.parametrize("seed", range(2))
def test_the_quick_answer_is_within_three_per_cent(seed):
    """Of the answer that is proven, for maps that need many tiles of a few types and few of many."""
    rng = np.random.default_rng(seed)
    need = np.outer(rng.uniform(0.25, 1.6, 60), np.sort(rng.lognormal(0.5, 1.0, 20)))
    lacks = np.where(rng.random(need.shape) < 0.25, 0, rng.poisson(need)).astype(np.int64)
    demand = Demand(lacks, np.ones(20, np.int64), np.ones(60, np.int64))
    exact = cheapest(demand, 30)
    assert exact.proven
    assert demand.cost(quick_cheapest(demand, 30)) <= 1.03 * exact.cost


def test_steps_make_the_cheapest_map_next_until_all_are_laid():
    for seed in range(60):
        demand = random_demand(seed)
        chosen = np.array([Random(seed).random() < 0.7 for _ in demand.worth])
        chosen |= demand.laid(np.zeros_like(demand.costs))
        chosen = demand.laid(demand.make(chosen))
        made, laid = np.zeros_like(demand.costs), demand.laid(np.zeros_like(demand.costs))
        for step in steps(demand, chosen):
            prices = [
                demand.cost(np.maximum(row - made, 0))
                for row, done, wanted in zip(demand.lacks, laid, chosen, strict=True)
                if wanted and not done
            ]
            assert demand.cost(step.make) == min(prices)
            made = made + step.make
            assert set(step.maps) == set(np.flatnonzero(demand.laid(made) & ~laid).tolist())
            assert step.maps
            laid = demand.laid(made)
        assert laid.tolist() == chosen.tolist()
        assert made.tolist() == demand.make(chosen).tolist()


def test_the_quick_choice_stands_with_what_is_proven_where_the_solver_finds_nothing(monkeypatch):
    demand = random_demand(5)
    least = int(demand.worth.sum()) - 1
    quick = quick_cheapest(demand, least)
    for bound, known in ((-np.inf, 0), (0.4, 1)):
        monkeypatch.setattr(collection, "least_cost", lambda *_, low=bound, **__: Solved(None, low))
        found = cheapest(demand, least)
        assert (found.make.tolist(), found.bound, found.proven) == (quick.tolist(), known, False)
    monkeypatch.setattr(collection, "least_cost", lambda *_, **__: Solved(None, -np.inf))
    chosen = most_worth(demand, 7)
    assert demand.reached(quick_most(demand, 7)) == chosen.worth < chosen.bound == demand.worth.sum()
    assert not chosen.proven


def test_a_collection_of_nothing_and_more_than_there_is():
    demand = Demand(np.zeros((2, 3), np.int64), np.ones(3, np.int64), np.ones(2, np.int64))
    assert cheapest(demand, 2).cost == 0
    assert most_worth(demand, 0).laid.all()
    assert not list(steps(demand, np.ones(2, bool)))
    with pytest.raises(ValueError, match="worth 2, not 3"):
        cheapest(demand, 3)
