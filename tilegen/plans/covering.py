"""Which places to lay: a quick choice, then the solver's, with a bound beside it."""

from __future__ import annotations

import numpy as np
from scipy import optimize, sparse

from tilegen.plans.pieceplaces import LITTLE, Places, Stock

# Beyond so many places the exact search is left to the quick one, which then has only the weaker bound beside it.
MOST_PLACES = 30_000
_NODES = 200


def choose(places: Places, stock: Stock | None) -> tuple[list[int], int]:
    """The places to lay, in their order, and a bound on the number of pieces."""
    quick = _greedy(places)
    largest = max(len(kind.cells) for kind in places.kinds)
    bound = -(-places.squares // largest)
    if len(places.found) > MOST_PLACES:
        return quick, bound
    exact, least = _fewest(places) if stock is None else (_least_material(places, stock), bound)
    if exact is None:
        return quick, max(bound, least)
    worth = len if stock is None else stock.new_material
    return (exact if worth(exact) <= worth(quick) + 1e-9 else quick), max(bound, least)


def _fewest(places: Places) -> tuple[list[int] | None, int]:
    """The fewest pieces that the solver finds in so many nodes, and its bound."""
    count = len(places.found)
    solved = optimize.milp(
        np.ones(count),
        constraints=optimize.LinearConstraint(places.matrix(), 1, 1),
        integrality=np.ones(count, np.int64),
        bounds=optimize.Bounds(0, 1),
        options={"node_limit": _NODES},
    )
    bound = solved.mip_dual_bound
    found = None if solved.x is None else np.flatnonzero(np.round(solved.x)).tolist()
    return found, 0 if bound is None or not np.isfinite(bound) else int(np.ceil(bound - 1e-6))


def _least_material(places: Places, stock: Stock) -> list[int] | None:
    """The least new material: beside the places there is one unknown a type, how many of it must be made."""
    count, types = len(places.found), len(stock.volumes)
    uses = sparse.csc_array((np.ones(count), (stock.type_of, np.arange(count))), shape=(types, count))
    nothing = sparse.csc_array((places.squares, types))
    rows = [sparse.hstack([places.matrix(), nothing]), sparse.hstack([uses, -sparse.eye_array(types)])]
    low = np.concatenate([np.ones(places.squares), np.full(types, -np.inf)])
    high = np.concatenate([np.ones(places.squares), stock.owned])
    solved = optimize.milp(
        np.concatenate([np.full(count, LITTLE), stock.volumes]),
        constraints=optimize.LinearConstraint(sparse.csc_array(sparse.vstack(rows)), low, high),
        integrality=np.concatenate([np.ones(count, np.int64), np.zeros(types, np.int64)]),
        bounds=optimize.Bounds(0, np.concatenate([np.ones(count), np.full(types, np.inf)])),
        options={"node_limit": _NODES},
    )
    return None if solved.x is None else np.flatnonzero(np.round(solved.x[:count])).tolist()


def _greedy(places: Places) -> list[int]:
    """The largest pieces first, each where it still fits, in reading order."""
    sizes = [len(kind.cells) for kind, _, _ in places.found]
    ranked = sorted(range(len(sizes)), key=lambda p: (-sizes[p], places.found[p][2], places.found[p][1], p))
    free = places.floor.copy()
    chosen = []
    for place in ranked:
        cells = places.cells(place)
        if all(free[r, c] for c, r in cells):
            chosen.append(place)
            for c, r in cells:
                free[r, c] = False
    return sorted(chosen)
