"""Lines to draw with few lifts of the tool, and none of them twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from tilegen.geometry import SNAP_MM, Points, lines_of, turn_right

Node = tuple[int, int]

_UM = 1000


def fewest_lifts(lines: Sequence[Points]) -> list[Points]:
    """Straight lines, (2, 2) each, as the fewest trails that cover each of them once.

    A connected net with 2 k > 0 ends or odd crossings needs k trails, one without any a single round trip (the
    textbook problem of a plotter's pen lifts; Euler). Where the lines as they are need no more, they stay.
    """
    if len(lines) < 2:
        return list(lines)
    net = shapely.union_all(shapely.linestrings(np.array(lines, dtype=float)))
    trails: list[Points] = []
    for edges in _connected([shapely.get_coordinates(line) for line in lines_of(net, SNAP_MM)]):
        trails += _trails(edges)
    return trails if len(trails) < len(lines) else list(lines)


def _key(point: Points) -> Node:
    return round(float(point[0]) * _UM), round(float(point[1]) * _UM)


def _connected(pieces: list[Points]) -> Iterator[list[Points]]:
    """The pieces of a net in groups that hang together."""
    at: dict[Node, list[int]] = defaultdict(list)
    for number, piece in enumerate(pieces):
        for end in (piece[0], piece[-1]):
            at[_key(end)].append(number)
    left = dict.fromkeys(range(len(pieces)))
    while left:
        group, waiting = [], [next(iter(left))]
        del left[waiting[0]]
        while waiting:
            number = waiting.pop()
            group.append(number)
            near = [n for end in (pieces[number][0], pieces[number][-1]) for n in at[_key(end)] if n in left]
            for n in dict.fromkeys(near):
                del left[n]
                waiting.append(n)
        yield [pieces[n] for n in sorted(group)]


def _trails(pieces: list[Points]) -> list[Points]:
    """One connected net as trails: a round trip over the net with its odd nodes joined in pairs, cut at those joins."""
    ends = [(_key(p[0]), _key(p[-1])) for p in pieces]
    degree: dict[Node, int] = defaultdict(int)
    for a, b in ends:
        degree[a] += 1
        degree[b] += 1
    odd = sorted(node for node, count in degree.items() if count % 2)
    joins = list(zip(odd[::2], odd[1::2], strict=True))
    ends += joins
    tour = _round_trip(ends, joins[0][1] if joins else ends[0][0])
    real = len(pieces)
    # Begin after a join, so that no trail is split by where the tour happens to start.
    first = next((i + 1 for i, (edge, _) in enumerate(tour) if edge >= real), 0)
    trails: list[list[Points]] = [[]]
    for edge, node in tour[first:] + tour[:first]:
        if edge >= real:
            trails.append([])
        else:
            trails[-1].append(pieces[edge] if _key(pieces[edge][0]) == node else pieces[edge][::-1])
    return [_simplified(np.vstack([t[0], *(p[1:] for p in t[1:])])) for t in trails if t]


def _round_trip(ends: list[tuple[Node, Node]], start: Node) -> list[tuple[int, Node]]:
    """Every edge once (Hierholzer), as (edge, node it is left from); straight on where that is possible."""
    at: dict[Node, dict[int, Node]] = defaultdict(dict)
    for number, (a, b) in enumerate(ends):
        at[a][number] = b
        at[b][number] = a
    path: list[tuple[int, Node, Node]] = []
    stack: list[tuple[int, Node, Node]] = [(-1, start, start)]
    while stack:
        _, came, node = stack[-1]
        if at[node]:
            following = min(at[node], key=lambda n: (round(abs(turn_right(came, node, at[node][n])), 6), n))
            other = at[node].pop(following)
            at[other].pop(following, None)
            stack.append((following, node, other))
        else:
            path.append(stack.pop())
    return [(edge, came) for edge, came, _ in reversed(path) if edge >= 0]


def _simplified(points: Points) -> Points:
    """Without corners that go straight on."""
    step = np.diff(points, axis=0)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    ahead = (step[:-1] * step[1:]).sum(axis=1) > 0
    size = np.hypot(*step[:-1].T) * np.hypot(*step[1:].T)
    kept: Points = points[np.concatenate([[True], ~((np.abs(cross) <= 1e-9 * size) & ahead), [True]])]
    return kept
