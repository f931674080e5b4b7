"""Lists for people and spreadsheets: the kit, and what to buy for it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence

from tilegen.plans.kit import Kit
from tilegen.plans.route import Stop
from tilegen.tiles.shape import CellShape

# Density of polylactide filament, g/cm3 (shop practice; the spool's label rules).
_GRAMS_PER_CM3 = 1.24
# One spare sheet in ten (common practice, no source).
_SPARE_SHARE = 10


def csv_bytes(rows: Iterable[Sequence[object]]) -> bytes:
    """Rows as CSV with the line ends of RFC 4180."""
    buffer = io.StringIO()
    csv.writer(buffer).writerows([_safe(value) for value in row] for row in rows)
    return buffer.getvalue().encode()


def _safe(value: object) -> object:
    """A text that a spreadsheet won't take for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@") else value


def kit_csv(kit: Kit) -> bytes:
    """One row a tile type, then one a piece."""
    rows: list[list[object]] = [["name", "id", "count", "north", "east", "south", "west", "posts"]]
    for t in kit.types:
        shape = t.tile.shape
        edges = [edge or "mixed" for edge in shape.edges] if isinstance(shape, CellShape) else [""] * 4
        posts = " ".join(shape.posts) if isinstance(shape, CellShape) else ""
        rows.append([t.name, t.tile.id, t.count, *edges, posts])
    rows += [[p.name, p.piece.id, p.count, "", "", "", "", ""] for p in kit.pieces]
    return csv_bytes(rows)


def rooms_csv(stops: Sequence[Stop]) -> bytes:
    """The lay-out list: rooms in the order the party meets them, one row a tile type to have ready."""
    rows: list[list[object]] = [["stop", "room", "title", "came_from", "steps", "count", "tile", "id"]]
    for number, stop in enumerate(stops, 1):
        head = [number, stop.room, stop.title, stop.came_from or "", "" if stop.steps is None else stop.steps]
        rows += [[*head, count, name, key] for name, key, count in (*stop.tiles, *stop.pieces)]
    return csv_bytes(rows)


def shopping_csv(
    *, solid_volume: float, sheets: Sequence[tuple[str, tuple[float, float], int]], glue: Sequence[str]
) -> bytes:
    """What to buy for either way.

    solid_volume: of the whole kit in mm3. sheets: (material, size in mm, number). glue: what sticks the materials.
    """
    rows: list[list[object]] = [["for", "item", "quantity", "unit", "note"]]
    cm3 = solid_volume / 1000
    note = f"{cm3:.0f} cm3 printed full; less with a sparse infill, more with brims and failures"
    rows.append(["printing", "filament", math.ceil(cm3 * _GRAMS_PER_CM3), "g", note])
    for material, (width, depth), count in sheets:
        spare = math.ceil(count / _SPARE_SHARE)
        note = f"{count} needed and {spare} spare; measure their thickness before you cut"
        rows.append(["cutting", f"{material}, {width:g} x {depth:g} mm", count + spare, "sheets", note])
    rows += [["cutting", line, 1, "", "see the report"] for line in glue]
    return csv_bytes(rows)
