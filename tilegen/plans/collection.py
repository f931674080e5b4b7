"""A collection that grows: which maps a shelf lays, the cheapest new tiles for more of them, and what to make next.

Maps are laid one at a time, so a collection needs of each type the most that any of its maps needs. For the solver a
type is a stair of yes-or-no unknowns, a step for each number of it that some map needs; a map can be laid where all its
steps are taken. That keeps the linear programme close to the whole-number one, which one unknown per type would not
(derived; both are compared in the tests).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import LinearConstraint

from tilegen.solver import Solved, Values, least_cost

Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

# Nodes of branch and bound for one question.
NODES = 2_000
# Exchanges tried on a quick choice: so many by maps x maps x types, and no more than the second.
_EXCHANGES, _MOST_TRIES = 3e7, 12


@dataclass(frozen=True, eq=False)
class Demand:
    """What maps lack, and what that is worth; all whole numbers.

    lacks: (maps, types), how many of each beyond those owned. costs: (types), of one. worth: (maps).
    """

    lacks: Counts
    costs: Counts
    worth: Counts

    def make(self, maps: Flags) -> Counts:
        """How many of each type lay any one of these maps."""
        found: Counts = self.lacks[maps].max(axis=0, initial=0)
        return found

    def cost(self, make: Counts) -> int:
        """Of so many of each type."""
        return int(self.costs @ make)

    def laid(self, make: Counts) -> Flags:
        """Which maps can be laid with so many new ones of each type."""
        found: Flags = np.all(self.lacks <= make, axis=1)
        return found

    def reached(self, make: Counts) -> int:
        """What the maps are worth that can then be laid."""
        return int(self.worth[self.laid(make)].sum())

    @cached_property
    def stairs(self) -> tuple[tuple[Counts, Counts], ...]:
        """For each sort of type: (maps) how many steps each map needs, and (steps) what each step costs.

        Types that the maps need in the same order are one stair.
        """
        found: dict[bytes, tuple[Counts, Counts]] = {}
        for column, cost in zip(self.lacks.T, self.costs.tolist(), strict=True):
            values, heights = np.unique(np.append(column, 0), return_inverse=True)
            if len(values) == 1:
                continue
            each = np.diff(values) * cost
            key = heights.tobytes()
            found[key] = (heights[:-1], each + found[key][1] if key in found else each)
        return tuple(found.values())


@dataclass(frozen=True, eq=False)
class Choice:
    """Tiles to make: (types). laid: (maps), those that can then be laid, those of the shelf too.

    bound: no choice costs less; where the cost is limited, none is worth more. proven: no choice is better.
    """

    make: Counts
    laid: Flags
    cost: int
    worth: int
    bound: int
    proven: bool


def cheapest(demand: Demand, least: int, nodes: int = NODES) -> Choice:
    """The cheapest new tiles with which the maps that can be laid are worth at least so much.

    The quick choice stands where the solver finds none that is better in so many nodes.

    Raises:
        ValueError: all maps together are worth less.
    """
    make = quick_cheapest(demand, least)
    cost = demand.cost(make)
    if least >= demand.worth.sum():
        # All maps, and there is only one way.
        return Choice(make, demand.laid(make), cost, demand.reached(make), cost, proven=True)
    programme = _Programme(demand)
    found = programme.solved(programme.costs, programme.worth, least, np.inf, nodes)
    exact = programme.make(found)
    if demand.reached(exact) >= least and demand.cost(exact) < cost:
        make, cost = exact, demand.cost(exact)
    bound = min(cost, _whole(found.bound))
    return Choice(make, demand.laid(make), cost, demand.reached(make), bound, proven=bound == cost)


def most_worth(demand: Demand, most: int, nodes: int = NODES) -> Choice:
    """The new tiles for no more than a cost with which the maps that can be laid are worth most; of those the cheapest.

    The quick choice stands where the solver finds none that is better in so many nodes.
    """
    make = quick_most(demand, most)
    bound = total = int(demand.worth.sum())
    if demand.reached(make) < total:
        programme = _Programme(demand)
        found = programme.solved(-programme.worth, programme.costs, -np.inf, most, nodes)
        exact = programme.make(found)
        if demand.cost(exact) <= most and demand.reached(exact) > demand.reached(make):
            make = exact
        bound = _worth_bound(found, total)
    worth = demand.reached(make)
    bound = max(bound, worth)
    cheaper = cheapest(demand, worth, nodes)
    make = cheaper.make if cheaper.cost < demand.cost(make) else make
    worth = demand.reached(make)
    return Choice(make, demand.laid(make), demand.cost(make), worth, max(bound, worth), proven=worth >= bound)


def _whole(bound: float) -> int:
    """The least whole number that is not below a bound; the solver's are off by little."""
    return int(np.ceil(bound - 1e-5 - 1e-9 * abs(bound))) if np.isfinite(bound) else 0


def _worth_bound(found: Solved, total: int) -> int:
    """What maps are worth at most, where the solver's cost is their worth below nothing."""
    return min(total, -_whole(found.bound)) if np.isfinite(found.bound) else total


class _Programme:
    """The unknowns: the steps of all stairs, then the maps. A map needs its steps, a step the one below it."""

    def __init__(self, demand: Demand) -> None:
        self.demand, stairs = demand, demand.stairs
        self.steps = sum(len(each) for _, each in stairs)
        maps = len(demand.worth)
        above: list[int] = []
        below: list[int] = []
        first = 0
        for heights, each in stairs:
            above += range(first + 1, first + len(each))
            below += range(first, first + len(each) - 1)
            needing = np.flatnonzero(heights)
            above += (self.steps + needing).tolist()
            below += (first + heights[needing] - 1).tolist()
            first += len(each)
        rows = np.arange(len(above))
        size = (len(above), self.steps + maps)
        ones = np.ones(len(above))
        self.needs = sparse.csr_array((ones, (rows, above)), size) - sparse.csr_array((ones, (rows, below)), size)
        nothing = np.zeros(maps)
        self.costs: Values = np.concatenate([*(each for _, each in stairs), nothing]).astype(np.float64)
        self.worth: Values = np.concatenate([np.zeros(self.steps), demand.worth]).astype(np.float64)

    def solved(self, cost: Values, side: Values, low: float, high: float, nodes: int) -> Solved:
        """The least cost where the sum of `side` is from low to high. Maps follow from whole steps."""
        return _solved(self.needs, cost, side, (low, high), whole=self.steps, nodes=nodes)

    def make(self, found: Solved) -> Counts:
        """How many of each type a solution makes, by the maps all of whose steps it takes; none without a solution."""
        demand = self.demand
        if found.values is None:
            return np.zeros_like(demand.costs)
        maps: Flags = np.ones(len(demand.worth), np.bool_)
        first = 0
        for heights, each in demand.stairs:
            taken = np.append(True, found.values[first : first + len(each)] > 0.5)
            maps &= taken[heights]
            first += len(each)
        return demand.make(maps)


def _solved(
    needs: sparse.csr_array, cost: Values, side: Values, within: tuple[float, float], *, whole: int, nodes: int
) -> Solved:
    """The least cost of yes-or-no unknowns, the first `whole` of which are whole.

    needs: rows whose sums are at most 0. side, within: one more sum, and from where to where it may be.
    """
    count = needs.shape[0]
    rows = sparse.csr_array(sparse.vstack([needs, sparse.csr_array(side[None])]))
    lows, highs = np.full(count + 1, -np.inf), np.zeros(count + 1)
    lows[-1], highs[-1] = within
    return least_cost(cost, LinearConstraint(rows, lows, highs), 1, whole=np.arange(len(cost)) < whole, nodes=nodes)


@dataclass(frozen=True, eq=False)
class StandIns:
    """Types that others may stand in for, each place at a fee; all whole numbers.

    short: (maps, types), what maps need beyond those owned, below 0 where some are left. costs, fees: (types), of one,
    and of one place where another stands in. by: (types), the number of the other, -1 for none. worth: (maps).
    """

    short: Counts
    costs: Counts
    fees: Counts
    by: Counts
    worth: Counts

    def used(self, make: Counts) -> Counts:
        """In how many places of each map others stand in, by the type that is drawn there (maps, types)."""
        found: Counts = np.where(self.by >= 0, np.maximum(self.short - make, 0), 0)
        return found

    def demand(self, make: Counts) -> Demand:
        """What maps lack where others stand in for all beyond so many new ones of each type.

        Where there are fees, one more type for each map takes its.
        """
        used = self.used(make)
        lacks = self.short - used
        for kind in np.flatnonzero(self.by >= 0):
            lacks[:, self.by[kind]] += used[:, kind]
        lacks, costs = np.maximum(lacks, 0), self.costs
        if self.fees.any():
            lacks = np.hstack([lacks, np.diag(used @ self.fees)])
            costs = np.append(costs, np.ones_like(self.worth))
        return Demand(lacks, costs, self.worth)

    def best(self, *, least: int = 0, most: int | None = None, nodes: int = NODES) -> tuple[Counts, Choice]:
        """The cheapest tiles for maps worth so much, or the most worth for a cost, fees counted.

        With how many of each type there have to be before others stand in: see `demand`.

        Raises:
            ValueError: all maps together are worth less.
        """

        def exact(make: Counts) -> Choice:
            demand = self.demand(make)
            return cheapest(demand, least, nodes) if most is None else most_worth(demand, most, nodes)

        def rank(choice: Choice) -> int:
            return choice.cost if most is None else -choice.worth

        nothing = np.zeros_like(self.costs)
        if not self.fees.any() and not np.any((self.by >= 0) & (self.costs < self.costs[self.by])):
            # A stand-in never takes more than what it stands in for (derived).
            return nothing, exact(nothing)
        found, kept = self._solved(least, most, nodes)
        bound = _whole(found.bound) if most is None else -_worth_bound(found, int(self.worth.sum()))
        choice = exact(kept)
        # Where that is not proven, no tile with a stand-in may be better, or all of them.
        for other in (nothing, self.short.max(axis=0, initial=0)):
            if rank(choice) > bound and rank(tried := exact(other)) < rank(choice):
                kept, choice = other, tried
        bound = min(bound, rank(choice))
        return kept, replace(choice, bound=abs(bound), proven=bound == rank(choice))

    def _solved(self, least: int, most: int | None, nodes: int) -> tuple[Solved, Counts]:
        """Steps, maps and places together: what the solver finds, and how many it makes of each type.

        Unknowns: a step for each one of each type, then the maps, then the places where another may stand in.
        """
        maps = len(self.worth)
        places = np.maximum(self.short, 0)
        tops = np.maximum(self.demand(np.zeros_like(self.costs)).lacks[:, : len(self.costs)], places).max(axis=0)
        firsts = np.concatenate([[0], np.cumsum(tops)])
        steps = int(firsts[-1])
        rows: list[list[tuple[int, int]]] = []
        for first, count in zip(firsts.tolist(), tops.tolist(), strict=False):
            rows += [[(step + 1, 1), (step, -1)] for step in range(first, first + count - 1)]
        kinds: list[int] = []
        standing: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for number, kind in np.argwhere(places).tolist():
            for step in range(int(firsts[kind]), int(firsts[kind] + places[number, kind])):
                rows.append([(steps + number, 1), (step, -1)])
                if self.by[kind] >= 0:
                    place = steps + maps + len(kinds)
                    rows[-1].append((place, -1))
                    standing.setdefault((number, int(self.by[kind])), []).append((place, 1))
                    kinds.append(kind)
        for (number, kind), stands in standing.items():
            made = [(step, -1) for step in range(int(firsts[kind]), int(firsts[kind + 1]))]
            rows.append([*stands, *made, (steps + number, int(self.short[number, kind]))])
        cost = np.concatenate([np.repeat(self.costs, tops), np.zeros(maps), self.fees[kinds]]).astype(np.float64)
        worth = np.concatenate([np.zeros(steps), self.worth, np.zeros(len(kinds))])
        entries = [(row, column, value) for row, found in enumerate(rows) for column, value in found if value]
        at_rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
        needs = sparse.csr_array((np.array(values, np.float64), (at_rows, columns)), (len(rows), len(cost)))
        what, side, within = (cost, worth, (least, np.inf)) if most is None else (-worth, cost, (-np.inf, most))
        found = _solved(needs, what, side, within, whole=steps + maps, nodes=nodes)
        taken = np.zeros(steps) if found.values is None else np.round(found.values[:steps])
        make = [part.sum() for part in np.split(taken, firsts[1:-1])]
        return found, np.array(make, np.int64)


# The quick choice: the best of three greedy ones, each pruned from behind, then changed step by step.


def quick_cheapest(demand: Demand, least: int) -> Counts:
    """A cheap choice of new tiles with which the maps that can be laid are worth at least so much.

    Raises:
        ValueError: all maps together are worth less.
    """
    if demand.worth.sum() < least:
        raise ValueError(f"all maps together are worth {demand.worth.sum()}, not {least}")
    found = [np.ones(len(demand.worth), np.bool_)]
    for by_gain in (True, False):
        grown = _Grown(demand)
        while demand.worth[grown.laid].sum() < least:
            grown.add(grown.next(by_gain=by_gain))
        found.append(grown.laid)
    makes = [demand.make(_pruned(demand, maps, least=least)) for maps in found]
    return _exchanged(demand, min(makes, key=demand.cost), least=least)


def quick_most(demand: Demand, most: int) -> Counts:
    """A choice of new tiles for no more than a cost, with which maps worth much can be laid."""
    starts = [
        demand.laid(np.zeros_like(demand.costs)),
        _pruned(demand, np.ones(len(demand.worth), np.bool_), most=most),
    ]
    found = []
    for start in starts:
        for by_gain in (True, False):
            grown = _Grown(demand, start)
            while (new := grown.next(by_gain=by_gain, most=most)) is not None:
                grown.add(new)
            found.append(grown.make)
    best = max(found, key=lambda make: (demand.reached(make), -demand.cost(make)))
    return _exchanged(demand, best, most=most)


def _exchanged(demand: Demand, make: Counts, *, least: int = 0, most: int | None = None) -> Counts:
    """A choice without the highest step of one type, filled up with other maps, wherever that is better.

    The steps that save most for what they lose are tried, as many as the size of the question has time for.
    """

    def rank(choice: Counts) -> tuple[int, int]:
        return (demand.cost(choice), 0) if most is None else (-demand.reached(choice), demand.cost(choice))

    count, types = demand.lacks.shape
    tries = int(np.clip(_EXCHANGES / max(count * count * types, 1), 1, _MOST_TRIES))
    tried: set[tuple[int, int]] = set()
    while len(tried) < tries:
        laid = demand.laid(make)
        ratios = {
            kind: ratio
            for kind, ratio in enumerate(_tops(demand, laid).ratios().tolist())
            if make[kind] and (kind, int(make[kind])) not in tried
        }
        if not ratios:
            break
        kind = max(ratios, key=lambda each: ratios[each])
        tried.add((kind, int(make[kind])))
        open_ = demand.lacks[:, kind] < make[kind]
        part = Demand(demand.lacks[open_], demand.costs, demand.worth[open_])
        if part.worth.sum() < least:
            continue
        grown = _Grown(part, laid[open_])
        while most is not None or part.worth[grown.laid].sum() < least:
            new = grown.next(by_gain=True, most=most)
            if new is None:
                break
            grown.add(new)
        other = grown.make if most is not None else part.make(_pruned(part, grown.laid, least=least))
        if rank(other) < rank(make):
            make = other
    return make


class _Grown:
    """A collection while maps are added to it. make: of each type; laid: the maps that can be laid."""

    def __init__(self, demand: Demand, start: Flags | None = None) -> None:
        self.demand, lacks = demand, demand.lacks
        self.make: Counts = np.zeros_like(demand.costs) if start is None else demand.make(start)
        # Of how many types a map (row) lacks some that are not there when another map (column) has been added.
        there = np.maximum(lacks, self.make)
        missing = [np.count_nonzero(need > there, axis=1) for need in lacks]
        self._missing = np.array(missing, np.int32).reshape(len(lacks), len(lacks))
        self.laid = demand.laid(self.make)

    def next(self, *, by_gain: bool, most: int | None = None) -> int | None:
        """The map to add: the cheapest, or the one that costs least for what all that then can be laid is worth.

        most: of all new tiles; None if nothing more can be added for that.
        """
        demand = self.demand
        costs = np.maximum(demand.lacks - self.make, 0) @ demand.costs
        open_ = ~self.laid
        if most is not None:
            open_ &= costs <= most - demand.cost(self.make)
        if not open_.any():
            return None
        gains = (demand.worth * ~self.laid) @ (self._missing == 0)
        ratios = costs / np.maximum(gains, 1e-9) if by_gain else costs
        return int(np.lexsort((-gains, np.where(open_, ratios, np.inf)))[0])

    def add(self, new: int | None) -> None:
        """Make what a map lacks."""
        if new is None:
            raise ValueError("there is no map to add")
        self._grow(np.maximum(self.make, self.demand.lacks[new]))
        self.laid = self.demand.laid(self.make)

    def _grow(self, make: Counts) -> None:
        lacks = self.demand.lacks
        for kind in np.flatnonzero(make > self.make).tolist():
            column = lacks[:, kind]
            freed = (column > self.make[kind]) & (column <= make[kind])
            self._missing[freed] -= column[freed][:, None] > column
        self.make = make


def _pruned(demand: Demand, maps: Flags, *, least: int = 0, most: int | None = None) -> Flags:
    """Maps less those of the highest step of one type, again and again: where that saves most for what it loses.

    least: the maps that stay are worth so much. most: until they cost no more; without it as long as that goes.
    """
    maps = maps.copy()
    while maps.any() and (most is None or demand.cost(demand.make(maps)) > most):
        tops = _tops(demand, maps)
        may = tops.there & (int(demand.worth[maps].sum()) - tops.lost >= least)
        if not may.any():
            break
        gone = np.flatnonzero(maps)[tops.at[:, int(np.where(may, tops.ratios(), -1.0).argmax())]]
        maps[gone] = False
    return maps


class _Tops(NamedTuple):
    """The highest step of each type among some maps.

    at: (maps, types) which of them need it. there: (types) whether there is one. lost: what those maps are worth.
    saved: what goes when they go.
    """

    at: Flags
    there: Flags
    lost: Counts
    saved: Counts

    def ratios(self) -> Values:
        """What is saved for what is lost."""
        found: Values = self.saved / np.maximum(self.lost, 1e-9)
        return found


def _tops(demand: Demand, maps: Flags) -> _Tops:
    left = demand.lacks[maps]
    tops = left.max(axis=0, initial=0)
    at = (left == tops) & (tops > 0)
    below = np.where(at, 0, left).max(axis=0, initial=0)
    # Types (rows) whose top goes with that of another type (column): all maps that need it need the other too.
    bits = np.packbits(at, axis=0)
    goes = ~np.any(bits[:, :, None] & ~bits[:, None, :], axis=0)
    return _Tops(at, tops > 0, demand.worth[maps] @ at, (demand.costs * (tops - below)) @ goes)


@dataclass(frozen=True, eq=False)
class NextStep:
    """What to make next: (types), and the maps that can be laid for the first time then."""

    make: Counts
    maps: tuple[int, ...]


def steps(demand: Demand, maps: Flags) -> Iterator[NextStep]:
    """Of these maps the one that costs least next, again and again, until all of them can be laid."""
    grown = _Grown(Demand(demand.lacks[maps], demand.costs, demand.worth[maps]))
    laid = demand.laid(grown.make)
    while (new := grown.next(by_gain=False)) is not None:
        before, already = grown.make, laid
        grown.add(new)
        laid = demand.laid(grown.make)
        yield NextStep(grown.make - before, tuple(np.flatnonzero(laid & ~already).tolist()))
