"""Which edges of an outline are the chords of one curve, and how a wall runs along them."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence

from tilegen.geometry import Point, turn_right
from tilegen.tiles.bend import MOST_TURN

Edge = Callable[[int], tuple[Point, Point]]

# Chords are no further from their curve than 0.02 mm; half of that more is allowed for rounding and for splines.
_CHORD_MM = 0.03
# An edge so many times as long as every chord beside it is straight.
_STRAIGHT = 1.5


def curves(order: Sequence[int], edge: Edge, walls: Collection[int]) -> list[list[int]]:
    """The walls that follow a curve, each as the numbers of its chords, two or more.

    order: all edges' numbers as they are walked clockwise. edge: a number's two points, walked so. walls: the numbers
    that may be part of a bent wall. A ring that is one curve all round comes as two halves.
    """
    count = len(order)
    turns = [turn_right(edge(order[k - 1])[0], *edge(order[k])) for k in range(count)]
    lengths = [math.dist(*edge(number)) for number in order]
    smooth = [
        order[k - 1] in walls
        and order[k] in walls
        and 0 < abs(turns[k]) <= MOST_TURN
        and min(lengths[k - 1], lengths[k]) * abs(turns[k]) / 8 <= _CHORD_MM
        for k in range(count)
    ]
    straight = [_is_straight(k, lengths, smooth) for k in range(count)]
    joined = [smooth[k] and not straight[k - 1] and not straight[k] for k in range(count)]
    # A curve ends where it begins to turn the other way.
    for k in range(count):
        if joined[k] and joined[k - 1] and turns[k] * turns[k - 1] < 0:
            joined[k] = False
    if all(joined):
        return [list(order[: count // 2]), list(order[count // 2 :])]
    runs: list[list[int]] = []
    first = joined.index(False)
    for k in (*range(first, count), *range(first)):
        if joined[k]:
            runs[-1].append(order[k])
        else:
            runs.append([order[k]])
    return [run for run in runs if len(run) > 1]


def _is_straight(k: int, lengths: Sequence[float], smooth: Sequence[bool]) -> bool:
    """Whether an edge is longer by far than every chord that it meets smoothly."""
    after = (k + 1) % len(lengths)
    beside = [lengths[n] for n, joined in ((k - 1, smooth[k]), (after, smooth[after])) if joined]
    return bool(beside) and lengths[k] > _STRAIGHT * max(beside)
