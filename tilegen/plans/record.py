"""The kit as the JSON that other programs read. Places are written in bulk: a plan may have a million tiles."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import numpy as np

from tilegen.messages import messages_record
from tilegen.model.grid import Grid, SetChoices
from tilegen.plans.kit import Kit, TileType, corners
from tilegen.plans.to_decide import plan_messages
from tilegen.tiles.names import features_record

_PLACES = '"@places"'
# Of places in millimetres: to a tenth of a micrometre.
_DIGITS = 4


def grid_record(grid: Grid) -> dict[str, Any]:
    """The grid's measures, lengths in keys that end in _mm."""
    measures = asdict(grid)
    floor, doorway, door, connectors = (measures.pop(table) for table in ("floor", "doorway", "door", "connectors"))
    made_up = measures.pop("set")
    # The styles' names say it.
    del measures["surface"]["stone"], measures["surface"]["stones"]
    door["clearance"], connectors["magnet_allowance"] = grid.door.gap, grid.connectors.allowance
    record: dict[str, Any] = {
        **_in_mm(measures, plain=("spaces",)),
        "floor": _in_mm(floor, plain=("lines",)),
        "doorway": _in_mm(doorway, plain=("head",)),
        "door": _in_mm(door, plain=("leaf", "style", "shims")),
    }
    if grid.set != SetChoices():
        record["set"] = made_up
    if grid.connectors.holds:
        plain = ("kind", "every", "magnet_place")
        field = connectors.pop("surface_field")
        record["connectors"] = {**_in_mm(connectors, plain=plain), "surface_field_kg": field}
    return record


def _in_mm(measures: dict[str, Any], plain: tuple[str, ...]) -> dict[str, Any]:
    return {key if key in plain else f"{key}_mm": value for key, value in measures.items()}


def tile_record(kind: TileType, more: dict[str, Any]) -> dict[str, Any]:
    """One type, its places left out (a mark stands for them)."""
    shape = kind.tile.shape
    west, south, *_ = kind.tile.base.foot.bounds
    return {
        "name": kind.name,
        "id": kind.tile.id,
        "count": kind.count,
        "edges": list(shape.edges),
        "posts": list(shape.posts),
        **features_record(shape, (west, south)),
        **more,
        "places": "@places",
    }


def kit_head(kit: Kit, more: dict[str, dict[str, Any]] | None = None, totals: dict[str, int] | None = None) -> Any:  # noqa: ANN401
    """The kit's document with marks where the places go; more: further keys by tile id."""
    return {
        "plan": kit.plan,
        "grid": grid_record(kit.grid),
        "tiles": [tile_record(t, (more or {}).get(t.tile.id, {})) for t in kit.types],
        "pieces": [
            {
                "name": p.name,
                "id": p.piece.id,
                "count": p.count,
                "places": [{"cell": list(place.cell), "side": place.side} for place in p.places],
            }
            for p in kit.pieces
        ],
        "totals": {"tiles": kit.tiles, "types": len(kit.types), **(totals or {})},
        "messages": messages_record(plan_messages(kit.drawing)) if kit.drawing is not None else [],
    }


def kit_json(
    kit: Kit, more: dict[str, dict[str, Any]] | None = None, totals: dict[str, int] | None = None
) -> Iterator[str]:
    """The kit's JSON in pieces, in memory little more than one type's places at a time."""
    return fill_places(json.dumps(kit_head(kit, more, totals), indent=1), kit)


def fill_places(text: str, kit: Kit) -> Iterator[str]:
    """Put the places where the marks of `kit_head` stand in a document's text."""
    pieces = text.split(_PLACES)
    yield pieces[0]
    if kit.drawing is None:
        raise ValueError(f"a kit without its drawing: {kit.plan!r}")
    for kind, box, rest in zip(kit.types, corners(kit, kit.drawing), pieces[1:], strict=True):
        yield "["
        yield ", ".join(
            f'{{"cell": [{c}, {r}], "quarter_turns": {t}, "west_mm": {x}, "north_mm": {y}}}'
            for (c, r, t), (x, y) in zip(kind.places.tolist(), np.round(box, _DIGITS).tolist(), strict=True)
        )
        yield "]"
        yield rest
