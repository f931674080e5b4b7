"""Lists for people and spreadsheets: the kit, and what to buy for it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from tilegen.files.writing import csv_bytes
from tilegen.lengths import rounded_down
from tilegen.model.machines import MachineFile
from tilegen.plans.kit import Kit
from tilegen.plans.route import Stop
from tilegen.sheets.sheetset import SheetSet
from tilegen.sheets.toolpaths import CUT_PROCESSES
from tilegen.solids.beds import PrintJob
from tilegen.solids.processes import process_of
from tilegen.tiles.leaves.kind import leaf_of
from tilegen.tiles.loose import LooseLeaf, Things
from tilegen.tiles.tile import Tile

# A usual storage box and the room between tiles in it, mm; metres of board that a blade lasts (common practice).
BOX_MM = (300.0, 200.0, 100.0)
STORAGE_GAP_MM = 2.0
BLADE_METRES = 10.0


def kit_csv(kit: Kit, numbers: Mapping[str, str], more: Iterable[tuple[str, int]] = ()) -> bytes:
    """One row a tile type, then one a piece, then other things by name and count.

    numbers: of the types in the layout, by id.
    """
    rows: list[list[object]] = [["name", "id", "count", "north", "east", "south", "west", "posts", "number"]]
    for t in kit.types:
        edges, posts = sides_of(t.tile)
        rows.append([t.name, t.tile.id, t.count, *edges, " ".join(posts), numbers[t.tile.id]])
    rows += [[p.name, p.piece.id, p.count, "", "", "", "", "", numbers[p.piece.id]] for p in kit.pieces]
    rows += [[name, "", count, "", "", "", "", "", ""] for name, count in more]
    return csv_bytes(rows)


def sides_of(tile: Tile) -> tuple[Sequence[str], Sequence[str]]:
    """What is on a tile's four sides, in words, and where it has posts; blank off the grid."""
    return [edge or ("mixed" if tile.on_grid else "") for edge in tile.shape.edges], tile.shape.posts


def rooms_csv(stops: Sequence[Stop], numbers: Mapping[str, str]) -> bytes:
    """The lay-out list: rooms in the order the party meets them, one row a tile type to have ready.

    numbers: of the types in the layout, by id.
    """
    rows: list[list[object]] = [["stop", "room", "title", "came_from", "steps", "count", "tile", "id", "number"]]
    for number, stop in enumerate(stops, 1):
        head = [number, stop.room, stop.title, stop.came_from or "", "" if stop.steps is None else stop.steps]
        rows += [[*head, count, name, key, numbers[key]] for name, key, count in (*stop.tiles, *stop.pieces)]
    return csv_bytes(rows)


def boxes_for(sizes: Sequence[tuple[tuple[float, float, float], int]]) -> tuple[int, int]:
    """How many boxes of the usual size (`BOX_MM`) store a set of (size, number), and how many fit in none.

    Flat in layers: a layer holds floor((L + g) / (x + g)) by floor((W + g) / (y + g)), a box floor(H / (z + g))
    layers (derived).

    >>> boxes_for([((50.0, 50.0, 33.0), 64)])
    (3, 0)
    """
    filled, left = 0.0, 0
    for (x, y, z), number in sizes:
        length, width, height = BOX_MM
        along, across = ((b + STORAGE_GAP_MM) // (a + STORAGE_GAP_MM) for b, a in ((length, x), (width, y)))
        held = along * across * (height // (z + STORAGE_GAP_MM))
        if held:
            filled += number / held
        else:
            left += number
    return math.ceil(filled - 1e-9), left


def costs_csv(rows: Iterable[tuple[str, str, str, int, float]], numbers: Mapping[str, str]) -> bytes:
    """(material, tile, id, how many, cost of one): what each type and the set cost."""
    found = list(rows)
    lines: list[list[object]] = [["material", "tile", "id", "count", "cost_each", "cost_all", "number"]]
    lines += [
        [m, name, key, count, f"{each:.2f}", f"{each * count:.2f}", numbers.get(key, "")]
        for m, name, key, count, each in found
    ]
    lines.append(
        ["all", "", "", sum(row[3] for row in found), "", f"{math.fsum(row[3] * row[4] for row in found):.2f}", ""]
    )
    return csv_bytes(lines)


def beds_csv(job: PrintJob) -> bytes:
    """One row a bed and part, then what each bed takes, and all of them."""
    amount = process_of(job.printer).amount
    rows: list[list[object]] = [["bed", "part", "count", "height_mm", "grams", amount, "hours"]]
    for bed in job.beds:
        rows += [[bed.name, name, count, "", "", "", ""] for name, count in bed.counts.items()]
    for name, found, parts, height in [
        *((bed.name, bed.estimate, len(bed.items), f"{bed.height:g}") for bed in job.beds),
        ("all", job.whole, sum(len(bed.items) for bed in job.beds), ""),
    ]:
        amounts = (f"{found.grams:.1f}", f"{found.amount:.2f}", f"{found.hours:.2f}")
        rows.append([name, "together", parts, height, *amounts])
    return csv_bytes(rows)


def printing_rows(job: PrintJob | None) -> list[list[object]]:
    """What to buy for printing."""
    if job is None or not job.beds:
        return []
    return [["printing", *row] for row in process_of(job.printer).buys(job.whole, len(job.beds), job.printer)]


def shopping_csv(
    *,
    job: PrintJob | None = None,
    sheets: Sequence[tuple[str, str, tuple[float, float], int]],
    glue: Sequence[tuple[str, float]],
    cut_metres: float = 0.0,
    boxes: tuple[int, int] = (0, 0),
    hours: Sequence[tuple[str, float, str, float]] = (),
    more: Sequence[Sequence[object]] = (),
) -> bytes:
    """What to buy for either way.

    job: what is printed. sheets: (material, for which parts, size in mm, number). glue: what sticks the materials, and
    grams of it. cut_metres: of knife cuts. boxes: to store the set, and what fits in none. hours: of work by hand in
    each material, how sure that is in words, and of drying after. more: further rows.
    """
    rows: list[list[object]] = [["for", "item", "quantity", "unit", "note"]]
    rows += printing_rows(job)
    rows += _cutting_rows(sheets, glue, cut_metres)
    rows += [list(row) for row in more]
    for material, work, sure, drying in hours:
        note = f"{sure}; and {drying:g} hours to dry"
        rows.append(["cutting", f"{material}: work by hand", f"{work:.1f}", "hours", note])
    if boxes[0]:
        size = " x ".join(f"{side:g}" for side in BOX_MM)
        note = "tiles flat, in layers" + (f"; {boxes[1]} fit in none of this size" if boxes[1] else "")
        rows.append(["storing", f"boxes, {size} mm inside", boxes[0], "", note])
    return csv_bytes(rows)


def wires_of(things: Things) -> list[tuple[float, float, int]]:
    """The wires that leaves of a print turn on: diameter and length in mm, and how many."""
    found: Counter[tuple[float, float]] = Counter()
    for thing, count in things:
        if isinstance(thing, LooseLeaf) and (length := leaf_of(thing.opening.leaf).wire(thing.grid)):
            found[thing.grid.door.pin, rounded_down(length)] += count
    return [(*wire, count) for wire, count in sorted(found.items())]


def wire_items(things: Things) -> list[tuple[str, int]]:
    """The wires of hinges by name, with the length to cut, and number."""
    return [(f"hinge wire, {pin:g} x {length:g} mm", count) for pin, length, count in wires_of(things)]


def wire_rows(things: Things) -> list[list[object]]:
    """Rows of the shopping list for the wires of hinges."""
    note = "cut one per hinged leaf to this length; shorten what stands out above the wall"
    return [["hinges", item, count, "pieces", note] for item, count in wire_items(things)]


def spare_sheets(count: int) -> int:
    """One in ten, begun tens too (common practice, no source)."""
    return math.ceil(count / 10)


def blade_metres(sets: Sequence[SheetSet], machine: MachineFile) -> float:
    """How far a blade that wears goes, m; 0 where none does."""
    if not CUT_PROCESSES[machine.process].blades:
        return 0.0
    return math.fsum(s.copies * s.drawing.length("CUT_INNER", "CUT_OUTER") for one in sets for s in one.sheets) / 1000


def cut_needs(sets: Sequence[SheetSet], machine: MachineFile) -> list[tuple[str, str]]:
    """What to have ready for cutting, as item and quantity in words."""
    rows: list[tuple[str, str]] = []
    for one in sets:
        for (width, depth), count in one.new_sheets.items():
            name = one.material.called
            thick = f"{one.material.real_thickness:g}"
            rows.append((f"{name} {width:g} x {depth:g} x {thick} mm", f"{count} + {spare_sheets(count)} spare"))
        rows += [(f"offcut {sheet.offcut}", "1") for sheet in one.sheets if sheet.offcut]
    if metres := blade_metres(sets, machine):
        rows.append(("blades", str(math.ceil(metres / BLADE_METRES))))
    if machine.guide == "ruler" and (longest := max((max(size) for one in sets for size in one.new_sheets), default=0)):
        rows.append(("steel ruler", f"{longest:g} mm"))
    for one in sets:
        if one.material.glue and one.gluing.joints:
            glue = one.material.glue.partition(",")[0]
            rows.append((glue, f"{math.ceil(one.gluing.grams(one.material))} g"))
    hours = math.fsum(one.minutes for one in sets) / 60
    if hours:
        rows += [("work by hand, about", f"{hours:.0f} h" if hours >= 1.5 else f"{hours * 60:.0f} min")]
    drying = max((one.material.gluing.drying for one in sets if one.gluing.joints), default=0.0)
    rows += [("to dry", f"{drying:g} h")] if drying else []
    parts = sum(part.count for one in sets for part in one.parts)
    return [*rows, ("parts", str(parts))]


def _cutting_rows(
    sheets: Sequence[tuple[str, str, tuple[float, float], int]], glue: Sequence[tuple[str, float]], metres: float
) -> Iterator[list[object]]:
    """What to buy for cutting: sheets with some to spare, glue, blades."""
    for material, purpose, (width, depth), count in sheets:
        spare = spare_sheets(count)
        needed = f"{count} needed and {spare} spare; measure their thickness before you cut"
        note = f"for {purpose}; {needed}" if purpose else needed
        yield ["cutting", f"{material}, {width:g} x {depth:g} mm", count + spare, "sheets", note]
    for line, grams in glue:
        yield ["cutting", line, math.ceil(grams), "g", "about; the figures are in the material's file"]
    if metres:
        note = f"{metres:.1f} m of cut, a fresh blade every {BLADE_METRES:g} m"
        yield ["cutting", "knife blades", math.ceil(metres / BLADE_METRES), "", note]
