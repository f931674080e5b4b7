"""Strips right across a sheet, each cut across into parts: the fewest sheets, then few different strips and sheets.

Cutting stock in two stages after P. C. Gilmore and R. E. Gomory (Operations Research 9 (1961) 849, 11 (1963) 863 and 13
(1965) 94; from memory). A linear programme chooses from strips and from stacks of strips; as long as another strip or
stack would lower it, that one is added, so its value is a bound. Whole numbers come from branch and bound, which is
bounded by nodes: equal input gives equal sheets.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from tilegen.geometry import EQUAL_MM
from tilegen.sheets.nesting.guillotine import Leaf, Slab, Slice, Tree
from tilegen.sheets.nesting.layout import Rectangle, SheetArea, area_bound
from tilegen.solver import Values, least_cost

# More sizes than this make other searches the better ones, and this one slow.
MOST_SIZES = 40
_ROUNDS, _STEPS, _NODES, _MOST_STACKS = 200, 2_000, (200, 5), 60
# Few kinds are wanted, not the fewest that can be proved.
_NEAR = 0.1
_LEAST_GAIN = 1e-7
# All counts are whole, so that rows may be this much short: sums that round down are no fault of a solution.
_SLACK = 0.25
# What a size more in a strip, a part more than wanted and a strip more weigh against a strip of another kind.
_MIXED, _SPARE, _STRIP = 0.5, 0.05, 1e-3
# A part lower than its strip must leave this much to cut off.
_LEAST_CUT_OFF_MM = 3.0

Counts = tuple[int, ...]
# How often each strip is cut, and each stack of strips: a number for each height.
Chosen = tuple[Mapping["Strip", int], Mapping[Counts, int]]


class Strip(NamedTuple):
    """So many parts of each size beside each other. height: which of the heights."""

    height: int
    parts: Counts


class InStrips(NamedTuple):
    """Sheets as trees, equal ones beside each other, how many of each rectangle found no place, and the bound."""

    trees: tuple[Tree, ...]
    left: tuple[int, ...]
    least: int


def in_strips(
    items: Sequence[Rectangle], area: SheetArea, most: int | None = None, *, trimmed: bool = False
) -> InStrips | None:
    """Rectangles on sheets cut into strips along their longer side; None: too many sizes, or no answer was found.

    trimmed: parts may be lower than their strip, which costs a third cut. least: no layout of that kind takes fewer
    sheets (the bound of Gilmore and Gomory).
    """
    wanted = [n for n, item in enumerate(items) if item.number]
    if not wanted or any(not area.ways(items[n]) for n in wanted):
        return None
    cutting = _generated(tuple((*items[n][1:3], items[n].number) for n in wanted), area, trimmed=trimmed)
    if cutting is None or cutting.chosen is None:
        return None
    sheets = _filled(cutting, [items[n].number for n in wanted], cutting.chosen)[:most]
    gone = Counter(wanted[n] for sheet in sheets for strip in sheet for n in strip.items)
    left = tuple(item.number - gone[n] for n, item in enumerate(items))
    return InStrips(tuple(_tree(sheet, items, wanted, area) for sheet in sheets), left, cutting.least)


def least_sheets(items: Sequence[Rectangle], area: SheetArea, found: int) -> int:
    """No layout in strips takes fewer sheets: by area, and where that says fewer than found by Gilmore and Gomory."""
    least = area_bound(items, area)
    if least < found:
        wanted = tuple((*item[1:3], item.number) for item in items if item.number)
        cutting = _generated(wanted, area, trimmed=True)
        least = max(least, cutting.least if cutting else 0)
    return least


class _Size(NamedTuple):
    """All items of one size: their numbers in the list of items."""

    items: tuple[int, ...]
    number: int
    # Along the strip and across it.
    ways: tuple[tuple[float, float], ...]


@lru_cache(maxsize=64)
def _generated(wanted: tuple[tuple[float, float, int], ...], area: SheetArea, *, trimmed: bool) -> _Cutting | None:
    """The linear programme with all columns that it needs. wanted: width, height and number of each item."""
    found: dict[tuple[float, float], list[int]] = {}
    for n, (width, height, _) in enumerate(wanted):
        sides = (width, height) if area.width >= area.height else (height, width)
        sides = (max(sides), min(sides)) if area.may_turn else sides
        found.setdefault((round(sides[0], 6), round(sides[1], 6)), []).append(n)
    if len(found) > MOST_SIZES:
        return None
    across, along = sorted(area.usable)
    sizes = []
    for (a, b), members in found.items():
        turns = ((a, b), (b, a)) if area.may_turn and a != b else ((a, b),)
        ways = tuple((s, h) for s, h in turns if s <= along + EQUAL_MM and h <= across + EQUAL_MM)
        # All pieces of a part alike: along the strip, where that fits.
        ways = ways[:1] if area.alike else ways
        sizes.append(_Size(tuple(members), sum(wanted[n][2] for n in members), ways))
    cutting = _Cutting(sizes, (along, across), area.spacing, trimmed=trimmed)
    cutting.generate()
    return cutting


class _Cutting:
    """Strips and stacks to choose from, and the linear programme that chooses."""

    def __init__(self, sizes: Sequence[_Size], sheet: tuple[float, float], kerf: float, *, trimmed: bool) -> None:
        self.sizes = sizes
        self.wanted = np.array([size.number for size in sizes], dtype=float)
        self.kerf = kerf
        # Every part and strip takes its kerf along.
        self.along, self.across = sheet[0] + kerf + EQUAL_MM, sheet[1] + kerf + EQUAL_MM
        self.heights = sorted({h for size in sizes for _, h in size.ways}, reverse=True)
        self.room = [h + kerf for h in self.heights]
        # For each height what fits a strip so high: size and length, the shortest way to lie.
        self.fitting: list[dict[int, float]] = []
        for height in self.heights:
            lengths = {}
            for n, size in enumerate(sizes):
                low = [s for s, h in size.ways if h == height or (trimmed and h <= height - _LEAST_CUT_OFF_MM)]
                if low:
                    lengths[n] = min(low) + kerf
            self.fitting.append(lengths)
        self.strips: dict[Strip, None] = {}
        self.stacks: dict[Counts, None] = {}
        self.bound = 0.0

    @property
    def least(self) -> int:
        """No fewer sheets than this."""
        return math.ceil(self.bound - 1e-6)

    def generate(self) -> None:
        """All strips of one size, then whatever lowers the number of sheets."""
        for at, fitting in enumerate(self.fitting):
            for n, length in fitting.items():
                full = int(self.along / length)
                # A strip that is full, and one of what full strips leave.
                for number in {min(full, self.sizes[n].number), self.sizes[n].number % full} - {0}:
                    self.strips[self._strip(at, {n: number})] = None
            self.stacks[self._stack({at: int(self.across / self.room[at])})] = None
        for _ in range(_ROUNDS):
            values, sheets = self._solve()
            strips, stacks = list(self._better_strips(values)), list(self._better_stacks(values))
            before = len(self.strips) + len(self.stacks)
            self.strips |= dict.fromkeys(strips)
            self.stacks |= dict.fromkeys(stacks)
            if len(self.strips) + len(self.stacks) == before:
                break
        self.bound = self._bound(values)
        self.basis = [n for n, number in enumerate(sheets) if number > _LEAST_GAIN]

    def _strip(self, height: int, parts: dict[int, int]) -> Strip:
        return Strip(height, tuple(parts.get(n, 0) for n in range(len(self.sizes))))

    def _stack(self, strips: dict[int, int]) -> Counts:
        return tuple(strips.get(n, 0) for n in range(len(self.heights)))

    def _rows(self) -> Values:
        """A row a size: parts made; a row a height: strips there is room for less strips cut."""
        rows = np.zeros((len(self.sizes) + len(self.heights), len(self.strips) + len(self.stacks)))
        for column, strip in enumerate(self.strips):
            rows[: len(self.sizes), column] = strip.parts
            rows[len(self.sizes) + strip.height, column] = -1
        for column, stack in enumerate(self.stacks, len(self.strips)):
            rows[len(self.sizes) :, column] = stack
        return rows

    def _solve(self) -> tuple[Values, Values]:
        """What each part and each strip is worth, in sheets, and how often each column is used."""
        from scipy.optimize import linprog  # noqa: PLC0415 - takes long to load

        rows, least = self._rows(), np.concatenate([self.wanted, np.zeros(len(self.heights))])
        cost = np.concatenate([np.zeros(len(self.strips)), np.ones(len(self.stacks))])
        found = linprog(cost, A_ub=-rows, b_ub=-least, method="highs-ds")
        return np.maximum(-np.asarray(found.ineqlin.marginals), 0.0), np.asarray(found.x)

    def _better_strips(self, values: Values) -> Iterator[Strip]:
        for at, fitting in enumerate(self.fitting):
            found = self._filling(fitting, values)
            if found.value > values[len(self.sizes) + at] + _LEAST_GAIN:
                yield self._strip(at, dict(zip(fitting, found.counts, strict=True)))

    def _filling(self, fitting: dict[int, float], values: Values) -> Filling:
        numbers = [self.sizes[n].number for n in fitting]
        return best_filling([float(values[n]) for n in fitting], list(fitting.values()), numbers, self.along)

    def _better_stacks(self, values: Values) -> Iterator[Counts]:
        found = self._best_stack(values[len(self.sizes) :])
        if found.value > 1 + _LEAST_GAIN:
            yield found.counts

    def _best_stack(self, worth: Values) -> Filling:
        numbers = [int(self.across / room) for room in self.room]
        return best_filling(worth.tolist(), self.room, numbers, self.across)

    def _bound(self, values: Values) -> float:
        """What the values of the parts add up to, made valid: no strip above its worth, no sheet above 1."""
        worth = values[len(self.sizes) :].copy()
        for at, fitting in enumerate(self.fitting):
            worth[at] = max(worth[at], self._filling(fitting, values).limit)
        return math.fsum(values[: len(self.sizes)] * self.wanted) / max(1.0, self._best_stack(worth).limit)

    @cached_property
    def chosen(self) -> Chosen | None:
        """How many strips and stacks of each kind: the fewest sheets, then the fewest kinds."""
        basis = [list(self.strips)[n] for n in self.basis if n < len(self.strips)]
        self._add_pairs()
        self._add_stacks()
        strips, stacks = list(self.strips), list(self.stacks)
        rows = self._rows()
        cost = np.concatenate([np.zeros(len(strips)), np.ones(len(stacks))])
        least = np.concatenate([self.wanted, np.zeros(len(self.heights))]) - _SLACK
        first = _whole(cost, rows, least, np.full(len(cost), np.inf), _NODES[0], near=0.999 / (self.least + 1))
        if first is None:
            return None
        sheets = round(float(cost @ first))
        # Few kinds: of strips of one size, of those that were used, and of those in the linear programme's answer.
        kept = [
            n
            for n in range(len(cost))
            if first[n] or (n < len(strips) and (sum(map(bool, strips[n].parts)) == 1 or strips[n] in basis))
        ]
        second = self._fewest_kinds(kept, rows[:, kept], cost[kept], least, sheets)
        if second is not None:
            first = np.zeros(len(cost))
            first[kept] = second
        used = {n: round(float(first[n])) for n in range(len(cost)) if first[n] > 0.5}
        return (
            {strips[n]: number for n, number in used.items() if n < len(strips)},
            {stacks[n - len(strips)]: number for n, number in used.items() if n >= len(strips)},
        )

    def _fewest_kinds(
        self, kept: Sequence[int], rows: Values, cost: Values, least: Values, sheets: int
    ) -> Values | None:
        """As many sheets as before with the fewest kinds of strips and stacks: each that is used costs."""
        number, strips = len(kept), list(self.strips)
        most, uses, each = np.full(number, float(sheets)), np.ones(number), np.zeros(number)
        for n, column in enumerate(kept):
            if column < len(strips):
                parts = np.array(strips[column].parts)
                some = parts > 0
                most[n] = np.ceil(self.wanted[some] / parts[some]).max()
                uses[n] += _MIXED * (some.sum() - 1)
                each[n] = _STRIP + _SPARE * parts.sum()
        nothing, alone = np.zeros_like(rows), np.eye(number)
        whole = np.block([[rows, nothing], [-alone, alone * most], [-cost[None, :], np.zeros((1, number))]])
        floor = np.concatenate([least, np.full(number, -_SLACK), [-sheets - _SLACK]])
        limits = np.concatenate([most, np.ones(number)])
        found = _whole(np.concatenate([each, uses]), whole, floor, limits, _NODES[1], near=_NEAR)
        return None if found is None else found[:number]

    def _add_pairs(self) -> None:
        """Strips of one size and what another adds to it."""
        for at, fitting in enumerate(self.fitting):
            for n, length in fitting.items():
                full = min(int(self.along / length), self.sizes[n].number)
                for number in {full, self.sizes[n].number % int(self.along / length)} - {0}:
                    rest = self.along - number * length
                    for other, beside in fitting.items():
                        more = min(int(rest / beside), self.sizes[other].number)
                        if other != n and more:
                            self.strips[self._strip(at, {n: number, other: more})] = None

    def _add_stacks(self) -> None:
        """Every stack that nothing more fits on, if these are few."""
        found: list[Counts] = []

        def add(at: int, left: float, counts: Counts) -> None:
            if len(found) > _MOST_STACKS:
                return
            if at == len(self.room):
                if left < self.room[-1]:
                    found.append(counts)
                return
            for number in range(int(left / self.room[at]), -1, -1):
                add(at + 1, left - number * self.room[at], (*counts, number))

        add(0, self.across, ())
        if len(found) <= _MOST_STACKS:
            self.stacks |= dict.fromkeys(found)


class Filling(NamedTuple):
    """The best found value and counts; limit: no filling is worth more."""

    value: float
    counts: Counts
    limit: float


def best_filling(values: Sequence[float], lengths: Sequence[float], most: Sequence[int], room: float) -> Filling:
    """The knapsack of one strip: how many of each, so that they fit and are worth most.

    Branch and bound by worth per length, which stops after so many steps; then the limit is that of parts that could be
    divided.

    >>> best_filling([5.0, 3.0], [6.0, 4.0], [9, 9], 14.0).counts
    (1, 2)
    """
    order = [n for n in range(len(values)) if values[n] > 0 and most[n] and lengths[n] <= room]
    order.sort(key=lambda n: (-values[n] / lengths[n], n))
    counts, best = [0] * len(values), [0] * len(values)
    value, steps = 0.0, 0

    def fill(at: int, left: float, worth: float) -> None:
        nonlocal value, steps, best
        steps += 1
        if worth > value + 1e-12:
            value, best = worth, counts.copy()
        if at == len(order) or steps > _STEPS or worth + values[order[at]] / lengths[order[at]] * left <= value + 1e-12:
            return
        n = order[at]
        for number in range(min(most[n], int(left / lengths[n])), -1, -1):
            counts[n] = number
            fill(at + 1, left - number * lengths[n], worth + number * values[n])
        counts[n] = 0

    fill(0, room, 0.0)
    return Filling(value, tuple(best), value if steps <= _STEPS else _divided(order, values, lengths, most, room))


def _divided(
    order: Sequence[int], values: Sequence[float], lengths: Sequence[float], most: Sequence[int], room: float
) -> float:
    """The knapsack's value where parts may be divided."""
    total = 0.0
    for n in order:
        number = min(float(most[n]), room / lengths[n])
        total += number * values[n]
        room -= number * lengths[n]
    return total


def _whole(cost: Values, rows: Values, least: Values, most: Values, nodes: int, *, near: float) -> Values | None:
    """Whole numbers of least cost found within so many nodes of branch and bound; None: none was found.

    near: the share of the cost that the best may be better.
    """
    from scipy.optimize import LinearConstraint  # noqa: PLC0415 - takes long to load
    from scipy.sparse import csr_matrix  # noqa: PLC0415

    constraint = LinearConstraint(csr_matrix(rows), least, np.inf)
    found = least_cost(cost, constraint, most, nodes=nodes, near=near).values
    return None if found is None else np.round(found)


# From counts to sheets


class _Laid(NamedTuple):
    """A strip as it is cut: the item and the length of each part; lengths have been rounded."""

    items: tuple[int, ...]
    lengths: tuple[float, ...]


def _filled(cutting: _Cutting, numbers: Sequence[int], chosen: Chosen) -> list[tuple[_Laid, ...]]:
    """Every sheet, those of which there are most first. numbers: of each item."""
    left = Counter(dict(enumerate(numbers)))
    groups = sorted(_dealt(cutting, chosen), key=lambda group: -group[1])
    return [sheet for strips, copies in groups for sheet in _with_items(cutting, strips, copies, left)]


def _without_spares(cutting: _Cutting, strips: Mapping[Strip, int]) -> Counter[Strip]:
    """The strips less the parts that are too many, which are taken out of as few strips as possible."""
    found = Counter(strips)
    changed: set[Strip] = set()
    for n, wanted in enumerate(cutting.wanted):
        spare = sum(strip.parts[n] * number for strip, number in found.items()) - round(float(wanted))
        while spare > 0:
            # One that was changed already, else one of the kind of which there are fewest.
            strip = min(
                (s for s, number in found.items() if s.parts[n] and number),
                key=lambda s: (s not in changed, found[s], -s.parts[n], s),
            )
            parts = list(strip.parts)
            parts[n] -= min(spare, strip.parts[n])
            spare -= strip.parts[n] - parts[n]
            found[strip] -= 1
            if any(parts):
                less = strip._replace(parts=tuple(parts))
                found[less] += 1
                changed.add(less)
    return +found


def _joined(cutting: _Cutting, strips: Counter[Strip]) -> Counter[Strip]:
    """Strips that are not full laid end to end, where as many of one kind as of the other are cut."""
    found: Counter[Strip] = Counter()

    def length(strip: Strip) -> float:
        lengths = cutting.fitting[strip.height]
        return math.fsum(number * lengths[n] for n, number in enumerate(strip.parts) if number)

    for strip, number in sorted(strips.items(), key=lambda s: (-length(s[0]), s[0])):
        like = (s for s in found if (s.height, found[s]) == (strip.height, number))
        beside = next((s for s in like if length(s) + length(strip) <= cutting.along), None)
        if beside is None:
            found[strip] += number
            continue
        del found[beside]
        found[strip._replace(parts=tuple(a + b for a, b in zip(beside.parts, strip.parts, strict=True)))] += number
    return found


def _dealt(cutting: _Cutting, chosen: Chosen) -> Iterator[tuple[list[Strip], int]]:
    """The strips of a sheet and how many sheets have just these: each time what lasts for most sheets."""
    left, stacks = _joined(cutting, _without_spares(cutting, chosen[0])), Counter(dict(chosen[1]))
    while left:
        stack, number = max(stacks.items(), key=lambda s: (s[1], s[0]))
        taken: Counter[Strip] = Counter()
        for height, slots in enumerate(stack):
            for _ in range(slots):
                more = [strip for strip in left if strip.height == height and left[strip] > taken[strip]]
                if more:
                    taken[max(more, key=lambda s: (left[s] // (taken[s] + 1), s in taken, s))] += 1
        copies = min([number, *(left[strip] // times for strip, times in taken.items())])
        if taken:
            yield sorted(taken.elements(), key=lambda s: (s.height, s.parts), reverse=True), copies
        left -= Counter({strip: times * copies for strip, times in taken.items()})
        stacks -= Counter({stack: copies})


def _with_items(
    cutting: _Cutting, strips: Sequence[Strip], copies: int, left: Counter[int]
) -> Iterator[tuple[_Laid, ...]]:
    """Equal sheets with items for their sizes: whole runs of one item, as far as these last for all copies.

    left: how many of each item there are still; what is taken is taken off.
    """

    def take(size: int, number: int) -> int:
        """The item of which there are fewest but so many; -1: there is none."""
        enough = [n for n in cutting.sizes[size].items if left[n] >= number]
        if not enough:
            return -1
        item = min(enough, key=lambda n: (left[n], n))
        left[item] -= number
        return item

    plain: list[list[tuple[float, int, int]]] = []
    for strip in strips:
        slots: list[tuple[float, int, int]] = []
        for size, number in enumerate(strip.parts):
            length = cutting.fitting[strip.height].get(size, 0.0) - cutting.kerf
            whole = take(size, number * copies) if number else -1
            slots += [(length, size, whole if whole >= 0 else take(size, copies)) for _ in range(number)]
        plain.append(sorted(slots, key=lambda slot: (-slot[0], slot[1])))
    for _ in range(copies):
        yield tuple(
            _Laid(
                tuple(item if item >= 0 else take(size, 1) for _, size, item in slots),
                tuple(length for length, _, _ in slots),
            )
            for slots in plain
        )


def _tree(sheet: Sequence[_Laid], items: Sequence[Rectangle], wanted: Sequence[int], area: SheetArea) -> Tree:
    """The cuts: along the longer side into strips, then across each strip. wanted: the number of each item."""
    axis = 1 if area.width >= area.height else 0
    slices = []
    for strip in sheet:
        parts, heights = [], []
        for n, length in zip(strip.items, strip.lengths, strict=True):
            item = items[wanted[n]]
            sides = (item.width, item.height) if axis == 1 else (item.height, item.width)
            turned = area.may_turn and abs(sides[0] - length) > EQUAL_MM
            along, across = sides[::-1] if turned else sides
            parts.append(Slice(along, Leaf(wanted[n], turned)))
            heights.append(across)
        slices.append(Slice(max(heights), Slab(1 - axis, tuple(parts))))
    return Slab(axis, tuple(slices))
