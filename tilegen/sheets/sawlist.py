"""The saw list as rows to print and as CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tilegen.csvtext import csv_bytes
from tilegen.sheets.fence import Fence
from tilegen.sheets.saw import SawLine, SawList

HEADER = (
    "step", "setting", "fence_mm", "expect_mm", "edge_on_fence", "in", "passes", "pieces", "out", "from_each",
    "offcuts", "note", "done", "minutes",
)  # fmt: skip
Row = tuple[str, ...]


def saw_head(saw: SawList) -> list[tuple[str, str]]:
    """What stands above the list, as name and value."""
    sheets = ", ".join(f"{count} of {w:g} x {h:g} mm" for (w, h), count in _sheets(saw).items())
    return [
        ("sheets", sheets),
        ("kerf k", f"{saw.fence.kerf:g} mm"),
        ("fence zero c0", f"{saw.fence.zero:g} mm; the fence is set to size - c0"),
        ("passes", str(saw.passes) if saw.at_one_go == saw.passes else _stacked(saw)),
        ("fence settings", str(saw.settings)),
        ("metres of cut", f"{saw.metres:.1f}"),
        *([("minutes, about", f"{saw.minutes:.0f}")] if any(saw.fence.seconds) else []),
    ]


def _stacked(saw: SawList) -> str:
    return f"{saw.at_one_go}, {saw.fence.together} strips cross-cut on each other ({saw.passes} one by one)"


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
        rows.append(_row(line, len(rows) + 1, left, saw.fence))
    for part, what in saw.after:
        rows.append((str(len(rows) + 1), "by hand", "", "", "", part, "", "", part, "", "", what, "[ ]", ""))
    return rows


def saw_csv(saw: SawList) -> bytes:
    """The rows under their header, then the head of the list as rows without a step."""
    blank = [""] * len(HEADER)
    head = [["", name, *blank[2:8], value, *blank[9:]] for name, value in saw_head(saw)]
    return csv_bytes([HEADER, *saw_rows(saw), *head])


def _reference(saw: SawList) -> Iterator[Row]:
    """A factory edge is no datum: two cuts at a right angle make one of each sheet."""
    if not saw.fence.trim or not saw.starts:
        return
    names = _names([(start.name, 1) for start in saw.starts])
    count = str(len(saw.starts))
    for step, (edge, where) in enumerate((("A", "lower"), ("B", "left")), 1):
        do = f"reference cut: take {saw.fence.trim:g} mm off the {where} edge and mark it {edge}"
        do += ", square to A" if edge == "B" else ""
        yield (str(step), "reference", "", "", "", names, count, count, names, "", "", do, "[ ]", "")


def _row(line: SawLine, step: int, offcuts: list[str], fence: Fence) -> Row:
    outs: dict[str, int] = {}
    for part in line.steps:
        for name, number in part.outs:
            outs[name] = outs.get(name, 0) + number * part.pieces
    note = "; ".join(line.notes) if line.setting else "no cut: what is left measures just this"
    fewer = line.at_one_go(fence.together)
    if fewer < line.passes:
        note = "; ".join(filter(None, [note, f"{fence.together} strips on each other: {fewer} passes"]))
    return (
        str(step),
        line.setting,
        _mm(line.fence) if line.setting else "",
        _mm(line.size),
        line.edges,
        _names([(part.source, part.pieces) for part in line.steps]),
        str(line.passes),
        str(line.pieces),
        _names(list(outs.items())),
        "; ".join(f"{part.source}: {_names(part.outs)}" for part in line.steps) if len(line.steps) > 1 else "",
        "; ".join(offcuts),
        note,
        "[ ]",
        f"{line.minutes(fence):.1f}" if any(fence.seconds) else "",
    )


def _names(counted: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{number} x {name}" if number > 1 else name for name, number in counted)


def _mm(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _sheets(saw: SawList) -> dict[tuple[float, float], int]:
    found: dict[tuple[float, float], int] = {}
    for start in saw.starts:
        found[start.size] = found.get(start.size, 0) + 1
    return found
