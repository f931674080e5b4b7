"""A print job: parts set out on beds, and what each part, each bed and the whole kit takes."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Any

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM
from tilegen.lengths import show_number
from tilegen.model.printers import PrinterFile
from tilegen.solids.build import Mesh
from tilegen.solids.formats import Item
from tilegen.solids.processes import Estimate, estimate_part, gap_of, in_turn, process_of, together

# Rectangles set out in as few equal boxes as can be found, sides parallel, quarter turns allowed.

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


Printer = PrinterFile


def set_out(copies: Sequence[tuple[Mesh, int]], printer: PrinterFile) -> list[list[Item]]:
    """Each copy on a bed, as few beds as are found; a list of items a bed.

    Parts keep the printer's gap from each other, and its margin and brim from the bed's edge. Of parts that cover the
    same room the highest come first: a bed takes as long as its highest part.

    copies: meshes with the number wanted of each.

    Raises:
        InputError: a part larger than the bed.
        ValueError: fewer than none wanted of a part.
    """
    if any(count < 0 for _, count in copies):
        raise ValueError("fewer than none wanted of a part")
    for mesh, count in copies:
        if count:
            _check(mesh, printer)
    classes = _classes(copies)
    gap, edge = gap_of(printer), printer.margin + printer.brim
    sizes = [(long + gap, short + gap) for long, short in classes]
    box = printer.room[0] + gap, printer.room[1] + gap
    queues = [iter(parts) for parts in classes.values()]
    counts = [len(parts) for parts in classes.values()]
    return [[_item(next(queues[slot.kind]), slot, edge) for slot in slots] for slots in pack(sizes, counts, box)]


def _classes(copies: Sequence[tuple[Mesh, int]]) -> dict[tuple[float, float], list[Mesh]]:
    """Every copy by the (long, short) sides of the room it covers, the highest first."""
    found: dict[tuple[float, float], list[Mesh]] = {}
    for mesh, count in sorted(copies, key=lambda copy: (-round(copy[0].size[2], 6), copy[0].name)):
        x, y, _ = mesh.size
        key = math.ceil(max(x, y) / EQUAL_MM - 0.5) * EQUAL_MM, math.ceil(min(x, y) / EQUAL_MM - 0.5) * EQUAL_MM
        found.setdefault(key, []).extend([mesh] * count)
    return {key: parts for key, parts in found.items() if parts}


def _item(mesh: Mesh, slot: Slot, edge: float) -> Item:
    x, y, _ = mesh.size
    turned = abs(x - y) > EQUAL_MM and slot.turned == (x > y)
    return Item(mesh.name, edge + slot.x, edge + slot.y, int(turned))


def _size(*sides: float) -> str:
    return f"{' x '.join(show_number(side, 1) for side in sides)} mm"


def _check(mesh: Mesh, printer: PrinterFile) -> None:
    (x, y, z), (width, depth) = mesh.size, printer.room
    lies = any(a <= width + EQUAL_MM and b <= depth + EQUAL_MM for a, b in ((x, y), (y, x)))
    if not lies or z > printer.height + EQUAL_MM:
        raise InputError(
            f"part {mesh.name} is {_size(x, y, z)}, and printer {printer.name} has room for "
            f"{_size(width, depth, printer.height)}",
            cure="Choose a larger printer with --printer, or make the tile smaller",
        )


def set_out_all(copies: Sequence[tuple[Mesh, int]], spacing: float) -> list[Item]:
    """The whole kit on one plane, a near-square block of equal places: to look at, or for a slicer to arrange."""
    total = sum(count for _, count in copies)
    if not total:
        return []
    pitch = max(max(mesh.size[:2]) for mesh, _ in copies) + spacing
    across = math.ceil(math.sqrt(total))
    names = [mesh.name for mesh, count in copies for _ in range(count)]
    return [Item(name, (n % across) * pitch, (n // across) * pitch) for n, name in enumerate(names)]


# A print job: parts on beds, with what each part, each bed and the whole kit takes.


@dataclass(frozen=True)
class Bed:
    """One bed. used: share of its room that parts cover; height: of the highest part, mm."""

    name: str
    items: tuple[Item, ...]
    used: float
    height: float
    estimate: Estimate

    @property
    def counts(self) -> dict[str, int]:
        """How many of each part."""
        return dict(Counter(item.name for item in self.items))

    def record(self) -> dict[str, Any]:
        """For the JSON."""
        return {
            "name": self.name,
            "parts": len(self.items),
            "counts": self.counts,
            "used": round(self.used, 4),
            "height_mm": self.height,
            **self.estimate.record(),
        }


@dataclass(frozen=True)
class PrintJob:
    """All of a kit. parts: what one copy of each takes by itself; walls: their thicknesses in lines."""

    printer: PrinterFile
    beds: tuple[Bed, ...]
    parts: Mapping[str, Estimate]
    whole: Estimate
    walls: tuple[Mapping[str, float], ...]

    @property
    def formula(self) -> str:
        """How the figures come about, in words."""
        words = process_of(self.printer).formula(self.printer)
        own = f" Hours x {self.printer.pace:.2f}, as timed." if self.printer.pace != 1 else ""
        return f"{words}{own} +-{self.printer.spread:.0%}: an estimate; go by what your slicer says."

    def record(self) -> dict[str, Any]:
        """For the JSON: the printer, each bed, the whole, and how that was calculated."""
        return {
            "printer": self.printer.name,
            "process": self.printer.process,
            "beds": [bed.record() for bed in self.beds],
            **self.whole.record(),
            "formula": self.formula,
            **({"walls": [dict(wall) for wall in self.walls]} if self.walls else {}),
        }


def make_job(
    copies: Sequence[tuple[Mesh, int]], printer: PrinterFile, walls: Sequence[Mapping[str, float]] = ()
) -> PrintJob:
    """Parts, with the number wanted of each, set out and estimated; walls: reported with it.

    Raises:
        InputError: a part larger than the bed.
    """
    parts = {mesh.name: estimate_part(mesh, printer) for mesh, _ in copies}
    meshes = {mesh.name: mesh for mesh, _ in copies}
    beds = []
    for number, items in enumerate(set_out(copies, printer), 1):
        counts = Counter(item.name for item in items)
        covered = fsum(meshes[name].size[0] * meshes[name].size[1] * n for name, n in counts.items())
        beds.append(
            Bed(
                f"bed-{number:02d}",
                tuple(items),
                covered / (printer.room[0] * printer.room[1]),
                max(meshes[name].size[2] for name in counts),
                together([(parts[name], n) for name, n in counts.items()], printer),
            )
        )
    return PrintJob(printer, tuple(beds), parts, in_turn([bed.estimate for bed in beds], printer), tuple(walls))
