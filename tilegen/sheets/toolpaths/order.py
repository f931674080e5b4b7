"""The order of strokes: marks before cuts, the deepest nested cut first, little travel; few pen lifts within marks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.geometry import EQUAL_MM, SNAP_MM, Points, lines_of, turn_right
from tilegen.sheets.drawing import CUTS, MARKS, SheetDrawing, Stroke

# Corners of a closed stroke that are tried as its start; more of them gain nothing that a machine would notice.
_MOST_STARTS = 12
# Rounds of improvement: enough to stop by itself on an ordinary sheet, bounded on a huge one.
_MOST_ROUNDS = 30
_WORK = 15_000
_WINDOW = 300
# A place in whole micrometres.
Node = tuple[int, int]
_UM = 1000


def in_cutting_order(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with its strokes in the order in which they are made; guides come last.

    Engrave, score and crease go before the cuts (common practice, no source), cuts inside of cuts
    before those around them.
    """
    marks = [s for s in drawing.made if s.layer not in CUTS]
    cuts = [s for s in drawing.strokes if s.layer in CUTS]
    ranked = [[s for s in marks if s.layer == layer] for layer in MARKS]
    ranked += _by_depth(cuts)
    ranked.append([s for s in marks if s.layer == "WIRE"])
    at = np.zeros(2)
    ordered: list[Stroke] = []
    for rank in ranked:
        found = shortest_travel(rank, at)
        ordered += found
        if found:
            at = _exit(found[-1])
    return replace(drawing, strokes=(*ordered, *drawing.guides))


def travel(strokes: Sequence[Stroke], start: Points | None = None) -> float:
    """How far the tool goes between strokes, mm, from a start (the origin)."""
    at = np.zeros(2) if start is None else start
    total = 0.0
    for stroke in strokes:
        total += float(np.hypot(*(stroke.points[0] - at)))
        at = _exit(stroke)
    return total


def _exit(stroke: Stroke) -> Points:
    end: Points = stroke.points[0] if stroke.closed else stroke.points[-1]
    return end


def _by_depth(cuts: Sequence[Stroke]) -> list[list[Stroke]]:
    """Cuts in ranks: by how many outlines lie around them, most first; among these holes before outlines."""
    loops = [shapely.Polygon(s.points) for s in cuts if s.closed]
    depth = np.zeros(len(cuts), dtype=int)
    if loops:
        points = shapely.points(np.array([s.points[0] for s in cuts]))
        inside, outside = shapely.STRtree(loops).query(points, predicate="within")
        own = np.flatnonzero([s.closed for s in cuts])
        np.add.at(depth, inside[own[outside] != inside], 1)
    keys = [(-int(d), CUTS.index(s.layer)) for d, s in zip(depth, cuts, strict=True)]
    order = sorted(range(len(cuts)), key=lambda i: (keys[i], i))
    return [[cuts[i] for i in rank] for _, rank in groupby(order, key=lambda i: keys[i])]


def shortest_travel(strokes: Sequence[Stroke], start: Points) -> list[Stroke]:
    """Strokes of one rank in an order with little travel: nearest first, then 2-opt, then the best start of each.

    The strokes of one part's number stay together. The same every time; rounds are bounded.
    """
    units = list(_units(strokes))
    if not units:
        return []
    tour = _two_opt(_nearest_first(units, start), start)
    made = [_reversed(units[i]) if back else units[i] for i, back in zip(tour.order, tour.back, strict=True)]
    return list(_started(made, tour.ins, start))


class _Tour(NamedTuple):
    """Units in an order: which, where each is entered and left, whether it is walked backwards."""

    order: npt.NDArray[np.int_]
    ins: Points
    outs: Points
    back: npt.NDArray[np.bool_]


def _units(strokes: Sequence[Stroke]) -> Iterator[list[Stroke]]:
    for (part, closed, layer), found in groupby(strokes, key=lambda s: (s.part, s.closed, s.layer)):
        if closed or part < 0 or layer != "ENGRAVE":
            yield from ([stroke] for stroke in found)
        else:
            yield list(found)


def _reversed(unit: list[Stroke]) -> list[Stroke]:
    if unit[0].closed:
        return unit
    return [replace(stroke, points=stroke.points[::-1]) for stroke in reversed(unit)]


def _starts(stroke: Stroke) -> npt.NDArray[np.int_]:
    """Corners at which a closed stroke may begin: not inside of an arc."""
    size = len(stroke.points)
    free = np.ones(size, dtype=bool)
    for arc in stroke.arcs:
        free[np.arange(arc.first + 1, arc.last) % size] = False
    found = np.flatnonzero(free)
    return found[:: max(1, -(-len(found) // _MOST_STARTS))] if len(found) > _MOST_STARTS else found


def _nearest_first(units: Sequence[list[Stroke]], start: Points) -> _Tour:
    """An order by the nearest next entry."""
    entries, exits = [], []
    for unit in units:
        first, last = unit[0], unit[-1]
        ins = first.points[_starts(first)] if first.closed else np.array([first.points[0], last.points[-1]])
        entries.append(ins)
        exits.append(ins if first.closed else ins[::-1])
    offsets = np.concatenate([[0], np.cumsum([len(ins) for ins in entries])])
    owners = np.repeat(np.arange(len(units)), np.diff(offsets))
    ins, outs = np.vstack(entries), np.vstack(exits)
    x, y = ins[:, 0].copy(), ins[:, 1].copy()
    chosen = np.empty(len(units), dtype=int)
    at = start
    for place in range(len(units)):
        best = int(np.argmin((x - at[0]) ** 2 + (y - at[1]) ** 2))
        chosen[place] = best
        at = outs[best]
        x[offsets[owners[best]] : offsets[owners[best] + 1]] = np.inf
    order = owners[chosen]
    back = np.array([not units[i][0].closed for i in order]) & (chosen != offsets[order])
    return _Tour(order, ins[chosen], outs[chosen], back)


def _two_opt(tour: _Tour, start: Points) -> _Tour:
    """Turn runs of the order round, each of no more units than the window, as long as that shortens the way."""
    order, ins, outs, back = tour.order.copy(), tour.ins.copy(), tour.outs.copy(), tour.back.copy()
    size = len(order)
    for _ in range(max(2, min(_MOST_ROUNDS, _WORK // size))):
        better = False
        for i in range(size - 1):
            came = outs[i - 1] if i else start
            ends, after = outs[i + 1 : i + 1 + _WINDOW], ins[i + 2 : i + 2 + _WINDOW]
            change = _lengths(came - ends) - _lengths(came - ins[i])
            change[: len(after)] += _lengths(ins[i] - after) - _lengths(ends[: len(after)] - after)
            best = int(np.argmin(change))
            if change[best] < -EQUAL_MM:
                run = slice(i, i + best + 2)
                ins[run], outs[run] = outs[run][::-1].copy(), ins[run][::-1].copy()
                order[run], back[run] = order[run][::-1].copy(), ~back[run][::-1]
                better = True
        if not better:
            break
    return _Tour(order, ins, outs, back)


def _lengths(steps: Points) -> Points:
    found: Points = np.hypot(steps[..., 0], steps[..., 1])
    return found


def _started(units: Sequence[list[Stroke]], entries: Points, start: Points) -> Iterator[Stroke]:
    """Each closed stroke begun at the corner that costs the least way from the one before to the one after."""
    at = start
    for place, unit in enumerate(units):
        if not unit[0].closed:
            yield from unit
            at = _exit(unit[-1])
            continue
        (stroke,) = unit
        choices = _starts(stroke)
        corners = stroke.points[choices]
        cost = np.hypot(*(corners - at).T)
        if place + 1 < len(units):
            cost = cost + np.hypot(*(corners - entries[place + 1]).T)
        chosen = stroke.from_corner(int(choices[int(np.argmin(cost))]))
        yield chosen
        at = _exit(chosen)


# Pen lifts


def fewest_lifts(lines: Sequence[Points]) -> list[Points]:
    """Straight lines, (2, 2) each, as the fewest paths that cover each of them once.

    A connected net with 2 k > 0 odd vertices needs k paths, one without any a single round trip (the
    textbook problem of a plotter's pen lifts; Euler). Where the lines as they are need no more, they stay.
    """
    if len(lines) < 2:
        return list(lines)
    net = shapely.union_all(shapely.linestrings(np.array(lines, dtype=float)))
    paths: list[Points] = []
    for edges in _connected([shapely.get_coordinates(line) for line in lines_of(net, SNAP_MM)]):
        paths += _paths(edges)
    return paths if len(paths) < len(lines) else list(lines)


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


def _paths(pieces: list[Points]) -> list[Points]:
    """One connected net as paths: a round trip over the net with its odd nodes joined in pairs, cut at those joins."""
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
    # Begin after a join, so that no path is split by where the tour happens to start.
    first = next((i + 1 for i, (edge, _) in enumerate(tour) if edge >= real), 0)
    paths: list[list[Points]] = [[]]
    for edge, node in tour[first:] + tour[:first]:
        if edge >= real:
            paths.append([])
        else:
            paths[-1].append(pieces[edge] if _key(pieces[edge][0]) == node else pieces[edge][::-1])
    return [_simplified(np.vstack([t[0], *(p[1:] for p in t[1:])])) for t in paths if t]


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
