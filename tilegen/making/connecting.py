"""What connectors add to a run: loose keys, a jig, the polarity sheet, things to buy, cautions and notes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.words import Paper
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.layout import count_seams
from tilegen.sheets.formats import drawing_files
from tilegen.tiles.connectors.keys import key_size
from tilegen.tiles.connectors.kind import kind_of, pockets_of
from tilegen.tiles.loose import Piece, SeamKey, Things, make_key, piece_cautions
from tilegen.tiles.safety import flux_index, is_small_part
from tilegen.tiles.seats import bare_words, magnets_of, seating_of
from tilegen.tiles.tile import Tile

# Magnets get lost, and keys more so (common practice, no source).
_MAGNET_SPARES, _KEY_SPARES = 0.05, 0.1


def with_keys(things: Things, seams: int) -> Things:
    """The things to make and, where tiles are held by keys, a key for each seam and some to spare; none for no seam."""
    grid = grid_of(things)
    if grid is None or not kind_of(grid).loose or not seams:
        return things
    return [*things, (make_key(grid), seams + _spare(seams, _KEY_SPARES))]


def grid_of(things: Things) -> Grid | None:
    """The grid of the tiles to be made; None if there are none."""
    return next((thing.grid for thing, _ in things if isinstance(thing, Tile)), None)


def _spare(count: int, share: float) -> int:
    return math.ceil(count * share - 1e-9)


def connector_totals(kit: Kit, drawing: Drawing) -> dict[str, int]:
    """What a kit's totals say besides: magnets, pegs or keys; nothing without connectors."""
    kind = kind_of(kit.grid)
    if not kit.grid.connectors.holds:
        return {}
    if kind.loose:
        return {kind.word: count_seams(kit, drawing)}
    if kind.magnetic:
        return {"magnets": _magnets([(t.tile, t.count) for t in kit.types])}
    return {kind.word: sum(_seats(t.tile) * t.count for t in kit.types)}


def _seats(tile: Tile) -> int:
    return len(seating_of(tile.shape, tile.grid, tile.base.foot).whole)


def connector_record(things: Things) -> dict[str, Any]:
    """The JSON of a run's connectors; empty without any."""
    grid = grid_of(things)
    if grid is None or not grid.connectors.holds:
        return {}
    made, kind = grid.connectors, kind_of(grid)
    record: dict[str, Any] = {"kind": kind.word}
    if kind.magnetic:
        count = _magnets(things)
        record |= {"magnets": count, "spare": _spare(count, _MAGNET_SPARES)}
        record |= {"size_mm": [made.magnet_diameter, made.magnet_thickness]}
        record |= {"left_from_outside": "N"} if kind.poles else {}
        if made.surface_field is not None:
            record["flux_index_kg2mm2"] = flux_index(made.surface_field, made.magnet_diameter)
    elif kind.loose:
        made_keys = sum(count for thing, count in things if isinstance(thing, SeamKey))
        # n = s + ceil(s / 10) keys are made for s seams, so s = floor(10 n / 11).
        record |= {"keys": made_keys * 10 // 11, "spare": made_keys - made_keys * 10 // 11}
        record |= {"small_part": is_small_part(key_size(grid))}
    else:
        record |= {kind.word: sum(_seats(thing) * count for thing, count in things if isinstance(thing, Tile))}
    return {"connectors": record}


def _magnets(things: Things) -> int:
    return sum(magnets_of(t.shape, t.grid, t.base.foot) * count for t, count in things if isinstance(t, Tile))


def shopping_rows(things: Things, seams: int) -> list[list[object]]:
    """Rows of the shopping list. seams: places where two tiles meet."""
    grid = grid_of(things)
    if grid is None:
        return []
    made = grid.connectors
    if kind_of(grid).magnetic:
        count = _magnets(things)
        spare = _spare(count, _MAGNET_SPARES)
        item = f"disc magnets, {made.magnet_diameter:g} x {made.magnet_thickness:g} mm"
        note = f"{count} needed and {spare} spare; keep from children: swallowed magnets are an emergency"
        return [["connecting", item, count + spare, "", note]]
    if kind_of(grid).loose and seams:
        spare = _spare(seams, _KEY_SPARES)
        note = f"{seams} seams and {spare} spare, printed or cut with the tiles; small parts, not for children under 3"
        return [["connecting", "seam keys", seams + spare, "", note]]
    return []


def connector_notes(things: Things) -> list[Message]:
    """Notes on single tiles, and on how to lay them."""
    grid = grid_of(things)
    if grid is None:
        return []
    tiles = [thing for thing, _ in things if isinstance(thing, Tile)]
    about = [(tile, bare_words(tile.shape, tile.grid, tile.base.foot)) for tile in tiles]
    notes = [Message("note", f"{tile.name} ({tile.id}): {words}.") for tile, words in about if words]
    if kind_of(grid).stands_out:
        words = "Pegs stand out on all sides, so no tile can be let down between two others."
        notes.append(Message("note", f"{words} Push the tiles of a row together first, then row against row."))
    return notes


def connector_items(things: Things, seams: int) -> list[tuple[str, int]]:
    """Magnets or keys by name and number, those to spare included."""
    return [(str(row[1]), int(str(row[2]))) for row in shopping_rows(things, seams)]


def connector_files(things: Things, paper: Paper) -> dict[str, bytes]:
    """A picture of a seam; for magnets and keys a jig; for magnets the polarity sheet."""
    grid = grid_of(things)
    if grid is None or not pockets_of(grid):
        return {}
    kind = kind_of(grid)
    # The writers' libraries take a third of a second to load: only those who write need them.
    from tilegen.pictures.connector_view import polarity_canvas, seam_canvas  # noqa: PLC0415
    from tilegen.pictures.sheet_pages import drawing_pdf  # noqa: PLC0415
    from tilegen.sheets.templates import jig_drawing, jig_steps  # noqa: PLC0415

    files = {"connectors/seam.svg": seam_canvas(grid).svg().encode()}
    if kind.stands_out:
        return files
    jig = jig_drawing(grid)
    files |= drawing_files(jig, "connectors/jig")
    title = f"Jig for {kind.word}"
    files["connectors/jig.pdf"] = drawing_pdf(jig, title, (*jig_steps(grid), *kind.cautions(grid)), paper)
    if kind.poles:
        canvas = polarity_canvas(grid)
        files |= {"connectors/polarity.svg": canvas.svg().encode(), "connectors/polarity.png": canvas.png()}
    return files


def cautions_for(things: Things) -> Sequence[str]:
    """The cautions for the connectors of a run, and for loose pieces that are small parts."""
    grid = grid_of(things)
    pieces = [thing for thing, _ in things if isinstance(thing, Piece) and not isinstance(thing, SeamKey)]
    without = grid is None or (kind_of(grid).loose and not any(isinstance(thing, SeamKey) for thing, _ in things))
    return (*(() if grid is None or without else kind_of(grid).cautions(grid)), *piece_cautions(pieces))
