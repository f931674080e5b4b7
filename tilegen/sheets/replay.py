"""Makes every cut of a saw list on rectangles, knowing nothing of how the list came about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum

from tilegen.geometry import EQUAL_MM
from tilegen.sheets.nesting.guillotine import Size
from tilegen.sheets.saw import SawList, SawStep


@dataclass
class Replay:
    """What came out, areas in mm2. parts: of each name, their sizes. rests: everything else, by source."""

    stock: float
    parts: dict[str, list[Size]]
    rests: dict[str, list[Size]]
    trims: float
    kerf: float
    passes: int
    metres: float

    @property
    def balance(self) -> float:
        """Parts + kerf + trims + rests - stock: 0."""
        pieces = [size for sizes in (*self.parts.values(), *self.rests.values()) for size in sizes]
        return fsum(w * h for w, h in pieces) + self.kerf + self.trims - self.stock


def replay(saw: SawList, wanted: Mapping[str, tuple[Size, int]]) -> Replay:
    """Cut the stock by the list. wanted: nominal size of each part and how many there must be.

    A piece is a rectangle and each pass cuts it right across, so a list that can be followed cuts edge to edge.

    Raises:
        ValueError: a piece that isn't there or is too small, a part of a wrong size or number, areas that don't add
            up; a fault of the program.
    """
    bench = _Bench(saw, set(wanted))
    for line in saw.lines:
        if bool(line.passes) != bool(line.setting) or abs(line.fence + saw.fence.zero - line.size) > EQUAL_MM:
            raise ValueError(f"setting {line.setting} cuts nothing or is set wrong")
        before = bench.passes
        for step in line.steps:
            bench.follow(step, line.size)
        if bench.passes - before != line.passes:
            raise ValueError(f"setting {line.setting}: {bench.passes - before} passes, {line.passes} listed")
    done = bench.result()
    _check_parts(saw, done, wanted)
    wrong = {
        "areas": abs(done.balance) > EQUAL_MM * max(1.0, done.stock),
        "passes": done.passes != saw.passes,
        "metres": abs(done.metres - saw.metres) > EQUAL_MM,
    }
    if any(wrong.values()):
        raise ValueError(f"{', '.join(what for what, off in wrong.items() if off)} of the whole list don't add up")
    for offcut in saw.offcuts:
        found = [size for size in done.rests.get(offcut.source, []) if _same(size, offcut.size)]
        if len(found) < offcut.pieces:
            raise ValueError(f"offcut {offcut.name} is not there")
    return done


class _Bench:
    """Every piece that lies on the bench, by name."""

    def __init__(self, saw: SawList, parts: set[str]) -> None:
        self.kerf_width, trim = saw.fence.kerf, saw.fence.trim
        self.part_names = parts
        self.pieces: dict[str, list[list[float]]] = {}
        self.stock = self.trims = self.kerf = self.metres = 0.0
        self.passes = 0
        for start in saw.starts:
            width, height = start.size
            for _ in range(start.copies):
                self.stock += width * height
                self.pieces.setdefault(start.name, []).append([width - trim, height - trim])
                if trim:
                    self.passes += 2
                    self.metres += (width + height - trim) / 1000
                    self.trims += width * height - (width - trim) * (height - trim)

    def follow(self, step: SawStep, size: float) -> None:
        sources = self.pieces.get(step.source, [])
        if len(sources) != step.pieces:
            raise ValueError(f"{len(sources)} pieces of {step.source}, {step.pieces} listed")
        for source in sources:
            for out, number in step.outs:
                for _ in range(number):
                    self._cut(source, step, size, out)
        self.pieces[step.source] = [source for source in sources if min(source) > EQUAL_MM]

    def _cut(self, source: list[float], step: SawStep, size: float, out: str) -> None:
        """One pass right across; where the source is just as wide as the piece it is the piece, and no pass is made."""
        axis, across = step.axis, source[1 - step.axis]
        if source[axis] < size - EQUAL_MM or across <= EQUAL_MM:
            raise ValueError(f"{step.source} is too small for {size} mm")
        piece = list(source)
        piece[axis] = size
        self.pieces.setdefault(out, []).append(piece)
        if source[axis] > size + EQUAL_MM:
            gone = min(self.kerf_width, source[axis] - size)
            self.kerf += gone * across
            self.passes += 1
            self.metres += across / 1000
            source[axis] -= size + gone
        else:
            source[axis] = 0.0

    def result(self) -> Replay:
        parts: dict[str, list[Size]] = {}
        rests: dict[str, list[Size]] = {}
        for name, pieces in self.pieces.items():
            kept = parts if name in self.part_names else rests
            kept[name] = [(w, h) for w, h in pieces]
        return Replay(self.stock, parts, rests, self.trims, self.kerf, self.passes, self.metres)


def _check_parts(saw: SawList, done: Replay, wanted: Mapping[str, tuple[Size, int]]) -> None:
    allowed = saw.fence.tolerance + EQUAL_MM
    counts = Counter({name: len(sizes) for name, sizes in done.parts.items()})
    for name, (nominal, number) in wanted.items():
        if counts[name] != number:
            raise ValueError(f"{counts[name]} pieces of {name}, {number} wanted")
        for size in done.parts.get(name, []):
            if not _same(size, saw.sizes[name]):
                raise ValueError(f"{name} comes out as {size}, the list says {saw.sizes[name]}")
            if any(abs(a - b) > allowed for a, b in zip(sorted(size), sorted(nominal), strict=True)):
                raise ValueError(f"{name} comes out as {size}, wanted {nominal}")


def _same(a: Size, b: Size) -> bool:
    return all(abs(x - y) <= EQUAL_MM for x, y in zip(sorted(a), sorted(b), strict=True))
