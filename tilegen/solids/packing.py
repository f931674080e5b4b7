"""Rectangles set out in as few equal boxes as can be found, sides parallel, quarter turns allowed.

Each box is filled by keeping all largest free rectangles (the maximal-rectangles way of packing) and putting the
next size that fits where a rule likes it best. A few orders and rules are tried for all boxes, and many for each box
at a time, of which the fullest is kept; the fewest boxes win, then the first. No clock: equal input, equal boxes.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import fsum

from tilegen.geometry import EQUAL_MM

Free = tuple[float, float, float, float]
Score = tuple[float, ...]
Rule = Callable[[Free, float, float], Score]
# How many shuffled orders are tried for a box, how far they stray from largest first, and for how many sizes at most.
_SHUFFLES, _STRAY, _MANY = 12, 0.35, 400


@dataclass(frozen=True, slots=True)
class Slot:
    """Where one rectangle lies. kind: its number among the sizes; x, y: its least corner; turned: a quarter turn."""

    kind: int
    x: float
    y: float
    turned: bool


def _low(free: Free, _width: float, _depth: float) -> Score:
    return free[1], free[0]


def _snug(free: Free, width: float, depth: float) -> Score:
    spare = free[2] - free[0] - width, free[3] - free[1] - depth
    return min(spare), max(spare), free[1], free[0]


RULES: tuple[Rule, ...] = (_low, _snug)


def pack(sizes: Sequence[tuple[float, float]], counts: Sequence[int], box: tuple[float, float]) -> list[list[Slot]]:
    """Boxes of (width, depth) with so many rectangles of each size in them.

    Raises:
        ValueError: a size that fits no box either way.
    """
    for width, depth in sizes:
        if not any(_fits(box, w, d) for w, d in ((width, depth), (depth, width))):
            raise ValueError(f"{width:g} x {depth:g} does not fit {box[0]:g} x {box[1]:g}")
    plain = [(order, rule) for order in _orders(sizes) for rule in RULES]
    tries = [[one] for one in plain]
    if 1 < len(sizes) <= _MANY:
        tries.append(plain + [(order, rule) for order in _shuffled(sizes) for rule in RULES])
    return min((_fill_all(sizes, counts, box, ways) for ways in tries), key=len, default=[])


def lattice(size: tuple[float, float], box: tuple[float, float]) -> int:
    """How many equal rectangles a plain lattice holds, all lying the better one of the two ways."""
    return max(
        int((box[0] + EQUAL_MM) // width) * int((box[1] + EQUAL_MM) // depth) for width, depth in (size, size[::-1])
    )


def _fits(box: tuple[float, float], width: float, depth: float) -> bool:
    return width <= box[0] + EQUAL_MM and depth <= box[1] + EQUAL_MM


def _orders(sizes: Sequence[tuple[float, float]]) -> list[list[int]]:
    """Which size goes in first: by area, by long side, by short side."""
    numbers = range(len(sizes))
    keys: tuple[Callable[[tuple[float, float]], Score], ...] = (
        lambda s: (s[0] * s[1], max(s)),
        lambda s: (max(s), min(s)),
        lambda s: (min(s), max(s)),
    )
    orders = [sorted(numbers, key=lambda n, key=key: (*(-v for v in key(sizes[n])), n)) for key in keys]  # type: ignore[misc]
    return [order for i, order in enumerate(orders) if order not in orders[:i]]


def _shuffled(sizes: Sequence[tuple[float, float]]) -> list[list[int]]:
    """Orders about from the largest area to the least."""
    chance = random.Random(len(sizes))
    orders = []
    for _ in range(_SHUFFLES):
        weights = [w * d * (1 + _STRAY * (chance.random() - 0.5) * 2) for w, d in sizes]
        orders.append(sorted(range(len(sizes)), key=lambda n, weights=weights: -weights[n]))  # type: ignore[misc]
    return orders


def _fill_all(
    sizes: Sequence[tuple[float, float]],
    counts: Sequence[int],
    box: tuple[float, float],
    ways: Sequence[tuple[list[int], Rule]],
) -> list[list[Slot]]:
    """Box after box, each the fullest of those that the ways (an order and a rule) give."""
    left = list(counts)
    boxes: list[list[Slot]] = []
    while any(left):
        filled = max(
            (_fill(sizes, left, box, order, rule) for order, rule in ways),
            key=lambda slots: fsum(sizes[slot.kind][0] * sizes[slot.kind][1] for slot in slots),
        )
        used = [sum(slot.kind == kind for slot in filled) for kind in range(len(sizes))]
        # The same filling comes out again for as long as there is enough of everything in it.
        times = min(left[kind] // n for kind, n in enumerate(used) if n)
        boxes += [filled] * times
        left = [have - times * n for have, n in zip(left, used, strict=True)]
    return boxes


def _fill(
    sizes: Sequence[tuple[float, float]], counts: Sequence[int], box: tuple[float, float], order: list[int], rule: Rule
) -> list[Slot]:
    left = list(counts)
    free: list[Free] = [(0.0, 0.0, *box)]
    slots: list[Slot] = []
    for kind in order:
        while left[kind]:
            place = _best_place(free, sizes[kind], rule)
            if place is None:
                break
            x, y, turned = place
            width, depth = sizes[kind][::-1] if turned else sizes[kind]
            slots.append(Slot(kind, x, y, turned))
            free = _less(free, (x, y, x + width, y + depth))
            left[kind] -= 1
    return slots


def _best_place(free: list[Free], size: tuple[float, float], rule: Rule) -> tuple[float, float, bool] | None:
    best: tuple[Score, bool, float, float] | None = None
    for turned in (False, True) if size[0] != size[1] else (False,):
        width, depth = size[::-1] if turned else size
        for room in free:
            if _fits((room[2] - room[0], room[3] - room[1]), width, depth):
                here = rule(room, width, depth), turned, room[0], room[1]
                best = here if best is None else min(best, here)
    return None if best is None else (best[2], best[3], best[1])


def _less(free: list[Free], used: Free) -> list[Free]:
    """All largest free rectangles once another rectangle is taken."""
    left, low, right, high = used
    cut: list[Free] = []
    for a, b, c, d in free:
        if left >= c - EQUAL_MM or right <= a + EQUAL_MM or low >= d - EQUAL_MM or high <= b + EQUAL_MM:
            cut.append((a, b, c, d))
            continue
        pieces = ((a, b, left, d), (right, b, c, d), (a, b, c, low), (a, high, c, d))
        cut += [(p, q, r, s) for p, q, r, s in pieces if r - p > EQUAL_MM and s - q > EQUAL_MM]
    unique = list(dict.fromkeys(cut))
    return [f for f in unique if not any(f != other and _inside(f, other) for other in unique)]


def _inside(f: Free, other: Free) -> bool:
    return other[0] <= f[0] and other[1] <= f[1] and other[2] >= f[2] and other[3] >= f[3]
