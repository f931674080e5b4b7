"""The saw list: which cuts to make, in which order, one fence setting for all of one size; which offcuts are left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from typing import NamedTuple

from tilegen.files.writing import csv_bytes
from tilegen.geometry import EQUAL_MM
from tilegen.sheets.nesting.guillotine import Leaf, Size, Slab, Tree, finished, resized, with_side


class Fence(NamedTuple):
    """How sizes become settings. kerf: full width of the cut. trim: taken off each sheet's two reference edges.

    zero: by how much a cut piece is longer than the scale shows (c0, from a test cut). tolerance: sizes that differ by
    less are cut on one setting. least_offcut: what is worth keeping; all in mm. together: strips that are cross-cut at
    one go, on each other. seconds: of work for a pass and for a metre of it.
    """

    kerf: float
    trim: float
    zero: float = 0.0
    tolerance: float = 0.0
    least_offcut: Size = (60.0, 200.0)
    together: int = 1
    seconds: tuple[float, float] = (0.0, 0.0)


def fence_settings(sizes: Sequence[float], tolerance: float) -> dict[float, float]:
    """The size that each size is cut to: sizes less than the tolerance apart become the smallest of them.

    The smallest, so that no tile comes out larger than its place. Common practice, no source.

    >>> fence_settings([50.0, 63.0, 63.2], 0.3)
    {50.0: 50.0, 63.0: 63.0, 63.2: 63.0}
    """
    found: dict[float, float] = {}
    first = None
    for size in sorted(set(sizes)):
        if first is None or size - first >= max(tolerance, EQUAL_MM):
            first = size
        found[size] = first
    return found


# The edge that lies on the fence: sizes up the sheet are measured from its lower edge, sizes along it from its left.
EDGES = ("B", "A")
_SLED_MM, _SLED_SHARE, _FLOPPY_MM = 80.0, 1.5, 10.0


class Start(NamedTuple):
    """A piece of stock before the first cut and the tree of its cuts. copies: how many are cut just like it."""

    name: str
    size: Size
    tree: Tree
    copies: int = 1


class SawStep(NamedTuple):
    """What is done to all pieces of one name at one setting: from each, so many pieces of each name, in this order."""

    source: str
    pieces: int
    axis: int
    outs: tuple[tuple[str, int], ...]
    passes: int


class Offcut(NamedTuple):
    """What is left of a source and worth keeping, mm."""

    name: str
    source: str
    size: Size
    pieces: int


@dataclass(frozen=True, slots=True)
class SawLine:
    """One setting of the fence. fence: what the scale is set to; size: what a piece then measures, mm.

    setting: its name; empty where nothing is cut, as what is left is a piece of just that size.
    """

    setting: str
    stage: int
    size: float
    fence: float
    steps: tuple[SawStep, ...]
    metres: float
    shortest: float

    @property
    def passes(self) -> int:
        """Cuts on this setting."""
        return sum(step.passes for step in self.steps)

    @property
    def pieces(self) -> int:
        """Pieces of this size that it gives."""
        return sum(step.pieces * sum(n for _, n in step.outs) for step in self.steps)

    def at_one_go(self, together: int) -> int:
        """Passes where so many strips are cross-cut on each other; rips are made sheet by sheet."""
        if self.stage == 1:
            return self.passes
        return sum(-(-step.pieces // together) * (step.passes // step.pieces) for step in self.steps)

    def minutes(self, fence: Fence) -> float:
        """Of work for this setting."""
        shares = self.at_one_go(fence.together) / self.passes if self.passes else 0.0
        return shares * (self.passes * fence.seconds[0] + self.metres * fence.seconds[1]) / 60

    @property
    def edges(self) -> str:
        """The letters of the edges that lie on the fence."""
        return " or ".join(sorted({EDGES[step.axis] for step in self.steps}))

    @property
    def notes(self) -> tuple[str, ...]:
        """Common practice, no source: a short edge on a fence tips, a thin strip bends."""
        notes = []
        if self.shortest < max(_SLED_MM, _SLED_SHARE * self.size):
            notes.append(f"as little as {self.shortest:.0f} mm on the fence: use a sled")
        if self.size < _FLOPPY_MM:
            notes.append("thin: follow with a push block of the same width")
        return tuple(notes)


class HandStep(NamedTuple):
    """What is still to be done to a part by hand. along_drawing: it is cut out of its rectangle, else bevelled."""

    part: str
    words: str
    along_drawing: bool


@dataclass(frozen=True)
class SawList:
    """All cuts, in order. Parts bear their ids, sheets their names, pieces in between S1, S2, ...

    sizes: of each part as it is cut, mm. merged: sizes that share another's setting. without: settings if none did.
    after: what is still to be done by hand: bevels, then doorways and slanting edges.
    """

    fence: Fence
    starts: tuple[Start, ...]
    lines: tuple[SawLine, ...]
    offcuts: tuple[Offcut, ...]
    sizes: Mapping[str, Size]
    merged: tuple[tuple[float, float], ...]
    without: int
    after: tuple[HandStep, ...] = ()

    @property
    def settings(self) -> int:
        """How often the fence is set: once for each size of each stage."""
        return sum(bool(line.setting) for line in self.lines)

    @property
    def passes(self) -> int:
        """All cuts, two reference cuts a sheet among them."""
        return sum(line.passes for line in self.lines) + self._reference_passes

    @property
    def metres(self) -> float:
        """Of all cuts."""
        return self._reference + fsum(line.metres for line in self.lines)

    @property
    def _reference(self) -> float:
        each = (s.copies * (s.size[0] + s.size[1] - self.fence.trim) for s in self.starts)
        return fsum(each) / 1000 if self.fence.trim else 0.0

    @property
    def _reference_passes(self) -> int:
        return 2 * sum(start.copies for start in self.starts) if self.fence.trim else 0

    @property
    def at_one_go(self) -> int:
        """All passes, strips cross-cut in stacks where the fence allows it."""
        return self.passes - sum(line.passes - line.at_one_go(self.fence.together) for line in self.lines)

    @property
    def minutes(self) -> float:
        """Of work at the fence or the ruler, what is done by hand after left out."""
        reference = (self._reference_passes * self.fence.seconds[0] + self._reference * self.fence.seconds[1]) / 60
        return reference + fsum(line.minutes(self.fence) for line in self.lines)


def saw_list(starts: Sequence[Start], parts: Mapping[int, tuple[str, Size]], fence: Fence) -> SawList:
    """The list for sheets whose trees are known. parts: id and size of each item that a tree names."""
    used = sorted({leaf.item for start in starts for leaf in _leaves(start.tree)})
    nominal = {item: parts[item] for item in used}
    settled = fence_settings([side for _, size in nominal.values() for side in size], fence.tolerance)
    while tight := {size for start in starts for size in _tight(start.tree, start.size, settled, fence.kerf)}:
        settled |= {size: size for size in tight}
    sizes = {item: (settled[w], settled[h]) for item, (_, (w, h)) in nominal.items()}
    plain = _Sawing(nominal, {item: size for item, (_, size) in nominal.items()}, fence)
    sawing = _Sawing(nominal, sizes, fence)
    merged = tuple((size, cut) for size, cut in settled.items() if size != cut)
    without = sum(bool(line.setting) for line in plain.lines(starts))
    trees = [resized(start.tree, lambda size: settled.get(size, size)) for start in starts]
    lines = sawing.lines([start._replace(tree=tree) for start, tree in zip(starts, trees, strict=True)])
    return SawList(
        fence,
        tuple(starts),
        tuple(lines),
        tuple(sawing.offcuts),
        {nominal[item][0]: size for item, size in sizes.items()},
        merged,
        without,
    )


def _tight(tree: Tree, size: Size, settled: Mapping[float, float], kerf: float) -> Iterator[float]:
    """Sizes that can't be cut to a smaller one, since what is cut out of such a strip would not fit any more."""
    if isinstance(tree, Leaf):
        return
    extent = size[tree.axis]
    inside = fsum(settled.get(s.size, s.size) for s in tree.slices) + kerf * (len(tree.slices) - 1)
    if settled.get(extent, extent) < min(inside, extent) - EQUAL_MM:
        yield extent
    for part in tree.slices:
        yield from _tight(part.content, with_side(size, tree.axis, part.size), settled, kerf)


@dataclass
class _Piece:
    """All pieces of one name: how they are cut, what they measure."""

    name: str
    tree: Tree | None
    size: Size
    number: int


@dataclass
class _Sawing:
    parts: Mapping[int, tuple[str, Size]]
    sizes: Mapping[int, Size]
    fence: Fence
    offcuts: list[Offcut] = field(default_factory=list)
    strips: int = 0

    def lines(self, starts: Sequence[Start]) -> list[SawLine]:
        """Stage by stage; within a stage the widest first, on all sheets, so that stock stays wide and stiff."""
        trim = self.fence.trim
        now = []
        for start in starts:
            region = (start.size[0] - trim, start.size[1] - trim)
            tree = finished(start.tree, region, self.fence.kerf, self._size)
            now.append(_Piece(start.name, tree, region, start.copies))
        lines: list[SawLine] = []
        stage = 1
        while now:
            made: dict[float, list[tuple[SawStep, float, float]]] = {}
            then: dict[tuple[object, ...], _Piece] = {}
            for piece in now:
                for size, step, metres, shortest in self._chain(piece, then):
                    made.setdefault(size, []).append((step, metres, shortest))
            for size in sorted(made, reverse=True):
                steps = [step for step, _, _ in made[size]]
                name = _setting(stage, size) if any(step.passes for step in steps) else ""
                metres, least = fsum(m for _, m, _ in made[size]), min(s for _, _, s in made[size])
                lines.append(SawLine(name, stage, size, size - self.fence.zero, tuple(steps), metres, least))
            now, stage = list(then.values()), stage + 1
        return lines

    def _size(self, leaf: Leaf) -> Size:
        width, height = self.sizes[leaf.item]
        return (height, width) if leaf.turned else (width, height)

    def _chain(
        self, piece: _Piece, then: dict[tuple[object, ...], _Piece]
    ) -> Iterator[tuple[float, SawStep, float, float]]:
        """Size, step, metres and length of each group of equal slices; what comes out of them waits in `then`."""
        tree, kerf = piece.tree, self.fence.kerf
        if not isinstance(tree, Slab):
            self._leave(piece)
            return
        axis, across, left = tree.axis, piece.size[1 - tree.axis], piece.size[tree.axis]
        by_size: dict[float, Counter[Tree]] = {}
        for size, content in tree.slices:
            by_size.setdefault(size, Counter())[content] += 1
        for size, contents in by_size.items():
            region = (size, across) if axis == 0 else (across, size)
            outs = tuple((self._name(c, region, n * piece.number, then), n) for c, n in contents.items())
            passes = 0
            for _ in range(contents.total()):
                passes += left > size + EQUAL_MM
                left -= size + kerf
            step = SawStep(piece.name, piece.number, axis, outs, passes * piece.number)
            yield size, step, step.passes * across / 1000, across
        if left > EQUAL_MM:
            rest = _Piece(piece.name, tree.rest, (left, across) if axis == 0 else (across, left), piece.number)
            if tree.rest is None:
                self._leave(rest)
            else:
                then[piece.name, "rest"] = rest

    def _name(self, content: Tree, region: Size, number: int, then: dict[tuple[object, ...], _Piece]) -> str:
        """What comes out of a cut: a part by its id, or pieces that are cut alike by one name."""
        if isinstance(content, Leaf):
            return self.parts[content.item][0]
        key = (content, round(region[0], 6), round(region[1], 6))
        if key not in then:
            self.strips += 1
            then[key] = _Piece(f"S{self.strips}", content, region, 0)
        then[key].number += number
        return then[key].name

    def _leave(self, piece: _Piece) -> None:
        """Keep what is large enough to be of use."""
        short, long = sorted(self.fence.least_offcut)
        if min(piece.size) >= short and max(piece.size) >= long:
            self.offcuts.append(Offcut(f"O{len(self.offcuts) + 1}", piece.name, piece.size, piece.number))


def _setting(stage: int, size: float) -> str:
    """R: a rip, C: a cross-cut; what is cut a third time and more says which time it is."""
    return f"{'CR'[stage % 2]}{size:.2f}".rstrip("0").rstrip(".") + (f"/{stage}" if stage > 2 else "")


def _leaves(tree: Tree | None) -> Iterator[Leaf]:
    if isinstance(tree, Leaf):
        yield tree
    elif tree is not None:
        for part in tree.slices:
            yield from _leaves(part.content)
        yield from _leaves(tree.rest)


# As rows to print, and as CSV.

HEADER = (
    "step", "setting", "fence_mm", "expect_mm", "edge_on_fence", "in", "passes", "pieces", "out", "from_each",
    "offcuts", "note", "done", "minutes",
)  # fmt: skip
# What stands under each word of the header, where anything does.
Row = dict[str, str]


def saw_head(saw: SawList) -> list[tuple[str, str]]:
    """What stands above the list, as name and value."""
    stacked = f"{saw.at_one_go}, {saw.fence.together} strips cross-cut on each other ({saw.passes} one by one)"
    sizes: Counter[Size] = Counter()
    for start in saw.starts:
        sizes[start.size] += start.copies
    sheets = ", ".join(f"{count} of {w:g} x {h:g} mm" for (w, h), count in sizes.items())
    return [
        ("sheets", sheets),
        ("kerf k", f"{saw.fence.kerf:g} mm"),
        ("fence zero c0", f"{saw.fence.zero:g} mm; the fence is set to size - c0"),
        ("passes", str(saw.passes) if saw.at_one_go == saw.passes else stacked),
        ("fence settings", str(saw.settings)),
        ("metres of cut", f"{saw.metres:.1f}"),
        *([("minutes, about", f"{saw.minutes:.0f}")] if any(saw.fence.seconds) else []),
    ]


def saw_rows(saw: SawList) -> list[Row]:
    """One row a step, in order, under HEADER: reference cuts, then rips and cross-cuts, each setting once."""
    rows = list(_reference(saw))
    offcuts: dict[str, list[str]] = {}
    for cut in saw.offcuts:
        times = f"{cut.pieces} x " if cut.pieces > 1 else ""
        offcuts.setdefault(cut.source, []).append(f"{times}{cut.name} {cut.size[0]:.1f} x {cut.size[1]:.1f} mm")
    last = {step.source: number for number, line in enumerate(saw.lines) for step in line.steps}
    for number, line in enumerate(saw.lines):
        left = [text for source, words in offcuts.items() if last.get(source) == number for text in words]
        rows.append(_row(line, left, saw.fence))
    for after in saw.after:
        rows.append({"setting": "by hand", "in": after.part, "out": after.part, "note": after.words})
    return [{"step": str(step), "done": "[ ]", **row} for step, row in enumerate(rows, 1)]


def saw_csv(saw: SawList) -> bytes:
    """The rows under their header, then the head of the list as rows without a step."""
    rows = [*saw_rows(saw), *({"setting": name, "out": value} for name, value in saw_head(saw))]
    return csv_bytes([HEADER, *([row.get(key, "") for key in HEADER] for row in rows)])


def _reference(saw: SawList) -> Iterator[Row]:
    """A factory edge is no datum: two cuts at a right angle make one of each sheet."""
    if not saw.fence.trim or not saw.starts:
        return
    names = _names([(start.name, start.copies) for start in saw.starts])
    count = str(sum(start.copies for start in saw.starts))
    for edge, where in (("A", "lower"), ("B", "left")):
        do = f"reference cut: take {saw.fence.trim:g} mm off the {where} edge and mark it {edge}"
        do += ", square to A" if edge == "B" else ""
        yield {"setting": "reference", "in": names, "passes": count, "pieces": count, "out": names, "note": do}


def _row(line: SawLine, offcuts: list[str], fence: Fence) -> Row:
    outs: dict[str, int] = {}
    for part in line.steps:
        for name, number in part.outs:
            outs[name] = outs.get(name, 0) + number * part.pieces
    note = "; ".join(line.notes) if line.setting else "no cut: what is left measures just this"
    fewer = line.at_one_go(fence.together)
    if fewer < line.passes:
        note = "; ".join(filter(None, [note, f"{fence.together} strips on each other: {fewer} passes"]))
    return {
        "setting": line.setting,
        "fence_mm": _mm(line.fence) if line.setting else "",
        "expect_mm": _mm(line.size),
        "edge_on_fence": line.edges,
        "in": _names([(part.source, part.pieces) for part in line.steps]),
        "passes": str(line.passes),
        "pieces": str(line.pieces),
        "out": _names(list(outs.items())),
        "from_each": "; ".join(_from_each(line)),
        "offcuts": "; ".join(offcuts),
        "note": note,
        "minutes": f"{line.minutes(fence):.1f}" if any(fence.seconds) else "",
    }


def _from_each(line: SawLine) -> Iterator[str]:
    """What comes out of one piece of each source, where that is not all that comes out."""
    for step in line.steps:
        if len(line.steps) > 1 or step.pieces > 1:
            edge = f" on {EDGES[step.axis]}" if len(line.edges) > 1 else ""
            yield f"{step.source}{edge}: {_names(step.outs)}"


def _names(counted: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{number} x {name}" if number > 1 else name for name, number in counted)


def _mm(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
