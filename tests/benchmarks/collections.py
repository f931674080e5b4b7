"""Collections of many maps: how good and how fast the quick answer is, and how long the proof takes.

Half of the maps, the most for half of the tiles; plain maps, and maps with features. A seed makes one collection.
"""

from __future__ import annotations

import argparse
import time
from contextlib import suppress
from random import Random
from typing import NamedTuple

import numpy as np

from tilegen import make_plan
from tilegen.errors import InputError
from tilegen.making.collection import needs_of, with_plain
from tilegen.plans.collection import Demand, StandIns, cheapest, most_worth, quick_cheapest, quick_most
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import make_kit
from tilegen.plans.several import share_kit
from tilegen.plans.shelf import Shelf, take_stock

_COLUMNS, _ROWS = 12, 9
_SIZES = ((1, 3), (3, 1), (1, 4), (4, 1), (2, 2), (2, 3), (3, 2), (3, 3), (4, 3))
_WAYS = ("open", "doorway", "doorway", "saddle")
_FEATURES = ("pillar", "well", "pit", "dais")


class Row(NamedTuple):
    """Of one question: seconds and how far the quick answer is off, seconds of the proof and the gap it leaves.

    Seconds are the processor's: one thread does it all, so on an idle machine as many pass.
    """

    maps: int
    sort: str
    seed: int
    types: int
    question: str
    quick_seconds: float
    quick_off: float
    seconds: float
    gap: float


def random_map(seed: int, *, features: bool) -> Drawing:
    """Rooms of up to 4 x 4 squares, each beside an earlier one, one way between any two neighbours."""
    rng = Random(seed)
    rooms = np.full((_ROWS, _COLUMNS), ".")
    for number in range(rng.randint(3, 10)):
        for _ in range(40):
            width, height = rng.choice(_SIZES)
            left, top = rng.randint(0, _COLUMNS - width), rng.randint(0, _ROWS - height)
            around = rooms[max(top - 1, 0) : top + height + 1, max(left - 1, 0) : left + width + 1]
            if (rooms[top : top + height, left : left + width] == ".").all() and (not number or (around != ".").any()):
                rooms[top : top + height, left : left + width] = chr(65 + number)
                break
    cells = np.argwhere(rooms != ".").tolist()
    borders: dict[tuple[str, ...], list[dict[str, object]]] = {}
    for row, column in cells:
        for side, r, c in (("east", row, column + 1), ("south", row + 1, column)):
            if r < _ROWS and c < _COLUMNS and rooms[r, c] not in (".", rooms[row, column]):
                way = {"cell": [column + 1, row + 1], "side": side, "kind": rng.choice(_WAYS)}
                borders.setdefault(tuple(sorted((str(rooms[row, column]), str(rooms[r, c])))), []).append(way)
    tables = {
        "name": f"map {seed}",
        "drawing": "\n".join("".join(row) for row in rooms.tolist()),
        "way": [rng.choice(found) for found in borders.values()],
    }
    placed: list[dict[str, object]] = []
    for row, column in rng.sample(cells, len(cells) // 8) if features else []:
        feature = {"kind": rng.choice(_FEATURES), "cell": [column + 1, row + 1]}
        # Some don't fit beside a post.
        with suppress(InputError):
            make_plan(**tables, feature=[feature])
            placed.append(feature)
    return make_plan(**tables, feature=placed)


def demand_of(maps: int, seed: int, *, features: bool) -> Demand:
    """A collection of so many maps, nothing owned, every tile and piece at one."""
    shared = share_kit([make_kit(random_map(1000 * seed + n, features=features)) for n in range(maps)])
    counts = [*(t.counts for t in shared.types), *(p.counts for p in shared.pieces)]
    lacks = np.array(counts, np.int64).T
    return Demand(lacks, np.ones(lacks.shape[1], np.int64), np.ones(maps, np.int64))


def measure(maps: int, seed: int, *, features: bool, prove: bool = True) -> list[Row]:
    """The two questions of one collection."""
    demand = demand_of(maps, seed, features=features)
    found = []
    half, budget = maps // 2, demand.cost(demand.make(demand.worth > 0)) // 2
    for question in ("half of the maps", "half of the tiles"):
        start = time.process_time()
        fewest = question == "half of the maps"
        quick = quick_cheapest(demand, half) if fewest else quick_most(demand, budget)
        between = time.process_time()
        if not prove:
            found.append(Row(maps, "", seed, lacking(demand), question, between - start, 0.0, 0.0, 0.0))
            continue
        exact = cheapest(demand, half) if fewest else most_worth(demand, budget)
        seconds = time.process_time() - between
        value = (demand.cost(quick), exact.cost) if fewest else (demand.reached(quick), exact.worth)
        gap = abs(value[1] - exact.bound) / exact.bound
        off = abs(value[0] - value[1]) / value[1]
        sort = "features" if features else "plain"
        found.append(Row(maps, sort, seed, lacking(demand), question, between - start, off, seconds, gap))
    return found


def with_stand_ins(maps: int, seed: int, price: float) -> Row:
    """Half of the maps of one collection with features, where plain tiles may stand in; every tile at a hundred."""
    kits = [make_kit(random_map(1000 * seed + n, features=True)) for n in range(maps)]
    stocks = [take_stock(kit, Shelf(), kits) for kit in kits]
    things, _, needs, by = with_plain(*needs_of(share_kit(kits), stocks), Shelf())
    costs = np.full(len(things), 100, np.int64)
    fees = np.round(costs * price).astype(np.int64) * (by >= 0)
    start = time.process_time()
    _, choice = StandIns(needs, costs, fees, by, np.ones(maps, np.int64)).best(least=maps // 2)
    gap = (choice.cost - choice.bound) / choice.cost
    question = f"half of the maps, stand-ins at {price:g}"
    return Row(maps, "features", seed, len(things), question, 0.0, 0.0, time.process_time() - start, gap)


def lacking(demand: Demand) -> int:
    """How many types are needed at all."""
    return int((demand.lacks.max(axis=0) > 0).sum())


def main() -> None:
    """`python -m tests.benchmarks.collections [--maps 100 300] [--seeds 3] [--features | --stand-ins 0.2]`."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--maps", type=int, nargs="+", default=[100, 300])
    words.add_argument("--seeds", type=int, default=3)
    words.add_argument("--features", action="store_true")
    words.add_argument("--stand-ins", type=float, metavar="PRICE", help="only that question, with no quick answer")
    asked = words.parse_args()
    print("| maps | | seed | types | question | quick, s | quick is off | proof, s | gap left |")
    print("|---|---|---|---|---|---|---|---|---|")
    for maps in asked.maps:
        for seed in range(asked.seeds):
            if asked.stand_ins is None:
                found = measure(maps, seed, features=asked.features)
            else:
                found = [with_stand_ins(maps, seed, asked.stand_ins)]
            for row in found:
                numbers = f"{row.quick_seconds:.2f} | {row.quick_off:.1%} | {row.seconds:.1f} | {row.gap:.1%}"
                print(
                    f"| {row.maps} | {row.sort} | {row.seed} | {row.types} | {row.question} | {numbers} |", flush=True
                )


if __name__ == "__main__":
    main()
