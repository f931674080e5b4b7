"""What is written in a plan, for the page: rooms, shapes, ways and features with where they lie, in cells."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from pydantic import ValidationError
from scipy import ndimage
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.desk.document import outline_of, rows_of, usual_looks
from tilegen.errors import TilegenError
from tilegen.files.features import plan_features
from tilegen.files.grids import make_grid
from tilegen.files.tables import FORMS, PlanFeatureTable, PlanFile
from tilegen.geometry import polygon_rings
from tilegen.lengths import parse_length
from tilegen.model.grid import Grid
from tilegen.plans.furnishing import bounds_of
from tilegen.tiles.features import FEATURE_KEYS, FEATURES
from tilegen.tiles.shape import SIDES, STEPS

Box = tuple[float, float, float, float]
_DIGITS = 3


def written(data: Mapping[str, Any]) -> dict[str, Any]:
    """All that a plan's tables say, as the page keeps it; of a plan that can't be built too.

    data: checked against `PlanFile`, whatever it means.
    """
    scale = str(data.get("scale", "10 ft"))
    grid, spaces = _grid_of(data), 1
    if scale == "10 ft":
        spaces = grid.spaces
    rows = rows_of(data)
    shapes = [_shape(table) for table in _tables(data, "shape")]
    measures = {key: _text(value) for key, value in data.get("grid", {}).items()}
    return {
        "name": str(data.get("name", "")),
        "scale": scale,
        "cell_mm": spaces * grid.pitch,
        "spaces": spaces,
        "rows": rows,
        "letters": _letters(data, rows, shapes),
        "shapes": [record for record, _ in shapes],
        "ways": _ways(data, grid, spaces, shapes),
        "walls": [{"cell": list(t["cell"]), "side": t["side"]} for t in _tables(data, "wall")],
        "features": [_feature(table, grid, spaces) for table in _tables(data, "feature")],
        "stamps": {
            word: {"across": kind.usual_size(grid) / (spaces * grid.pitch), "round": kind.round}
            for word, kind in FEATURES.items()
            if kind.usual_size is not None
        },
        "measures": measures,
        "choices": {key: str(value) for key, value in data.get("set", {}).items()},
        "surface": dict(data.get("surface", {})),
        "connector": dict(data.get("connectors", {})),
        "empty": not shapes and set("".join(rows)) <= {"."},
    }


def changes(old: Any, new: Any) -> dict[str, Any] | None:  # noqa: ANN401 - any plain value
    """What makes one plain value another; None: they are equal.

    {"=": value}; of tables {"+": {key: change}, "-": [keys]}; of lists {"from", "drop", "put"}.
    """
    if old is new or old == new:
        return None
    if isinstance(old, dict) and isinstance(new, dict):
        put = {key: changes(old.get(key), value) for key, value in new.items() if key not in old or old[key] != value}
        put |= {key: {"=": None} for key, change in put.items() if change is None}
        return {"+": put, "-": [key for key in old if key not in new]}
    if isinstance(old, list) and isinstance(new, list):
        least = min(len(old), len(new))
        first = next((k for k in range(least) if old[k] is not new[k] and old[k] != new[k]), least)
        after = next((k for k in range(least - first) if old[-1 - k] != new[-1 - k]), least - first)
        return {"from": first, "drop": len(old) - first - after, "put": new[first : len(new) - after]}
    return {"=": new}


def _grid_of(data: Mapping[str, Any]) -> Grid:
    """The plan's grid; the usual one if no tile can be made with its own."""
    try:
        said = {key: data[key] for key in ("grid", "doorway", "door") if key in data}
        return make_grid(PlanFile.model_validate({"name": "-", "drawing": "A", **said}), "")
    except (TilegenError, ValidationError, ValueError):
        return Grid()


def _tables(data: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    found = data.get(name)
    return [table for table in found if isinstance(table, dict)] if isinstance(found, list) else []


def _text(value: object) -> str:
    return f"{value:g} mm" if isinstance(value, float | int) and not isinstance(value, bool) else str(value)


def _letters(
    data: Mapping[str, Any], rows: Sequence[str], shapes: Sequence[tuple[dict[str, Any], Polygon | None]]
) -> dict[str, Any]:
    """Every room with its words, box, and the middle of where it has most room."""
    codes = np.array([np.frombuffer(row.encode("utf-32-le"), np.uint32) for row in rows])
    codes[codes == ord(".")] = 0
    found: dict[str, Any] = {}
    known, numbers = np.unique(codes, return_inverse=True)
    numbers = numbers.reshape(codes.shape) + (known[0] != 0)
    boxes = ndimage.find_objects(numbers)
    for number, code in enumerate(known[known != 0].tolist(), 1):
        at = boxes[number - 1]
        inside = numbers[at] == number
        cells, x, y = _middle(inside.tobytes(), inside.shape)
        west, north, (height, width) = at[1].start, at[0].start, inside.shape
        found[chr(code)] = {"cells": cells, "box": [west, north, width, height], "centre": [west + x, north + y]}
    for record, outline in shapes:
        if outline is not None:
            letter = record["room"]
            found[letter] = _with_shape(found.get(letter), outline)
    titles, heights = data.get("rooms", {}), data.get("heights", {})
    surface = data.get("surface", {})
    for letter, room in found.items():
        high = heights.get(letter, {})
        room |= {
            "title": str(titles.get(letter, "")),
            "wall": _text(high["wall"]) if "wall" in high else "",
            "floor": _text(high["floor"]) if "floor" in high else "",
            "style": str(surface.get("styles", {}).get(letter, "")),
            "pattern": str(surface.get("rooms", {}).get(letter, "")),
        }
    return found


@lru_cache(maxsize=4000)
def _middle(mask: bytes, shape: tuple[int, int]) -> tuple[int, float, float]:
    """How many cells a room has, and the middle of those that are furthest from any border (from its box's corner)."""
    inside = np.frombuffer(mask, np.bool_).reshape(shape)
    depth = ndimage.distance_transform_cdt(np.pad(inside, 1), "chessboard")[1:-1, 1:-1]
    deepest = np.argwhere(depth == depth.max())
    middle = deepest.mean(axis=0)
    off = ((deepest - middle) ** 2).sum(axis=1)
    nearest = deepest[off <= off.min() + 1e-9]
    # Several may be as near; those beside the first are one place.
    row, column = nearest[np.abs(nearest - nearest[0]).max(axis=1) <= 1].mean(axis=0).tolist()
    return int(inside.sum()), column + 0.5, row + 0.5


def _with_shape(room: dict[str, Any] | None, outline: Polygon) -> dict[str, Any]:
    """A room with one more shape."""
    west, north, east, south = outline.bounds
    inside = outline.representative_point() if not outline.contains(outline.centroid) else outline.centroid
    own = {"cells": 0, "box": [west, north, east - west, south - north], "centre": [inside.x, inside.y]}
    if room is None:
        return {key: _rounded(value) for key, value in own.items()}
    x, y, width, height = room["box"]
    west, north, east, south = min(x, west), min(y, north), max(x + width, east), max(y + height, south)
    centre = own["centre"] if outline.area > room["cells"] else room["centre"]
    return {"cells": room["cells"], "box": _rounded([west, north, east - west, south - north]), "centre": centre}


def _rounded(value: Any) -> Any:  # noqa: ANN401 - a number or a list of them
    return [_rounded(v) for v in value] if isinstance(value, list | tuple) else round(float(value), _DIGITS) + 0.0


def path_of(outline: Polygon) -> str:
    """An outline as SVG path data."""
    rings = [ring for part in polygon_rings(outline) for ring in part]
    return "".join("M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in ring.tolist()) + "Z" for ring in rings)


def _shape(table: dict[str, Any]) -> tuple[dict[str, Any], Polygon | None]:
    form = next((key for key in FORMS if key in table), "")
    record = {"room": str(table.get("room", "")), "form": form, "values": table.get(form)}
    outline = _outline(repr(sorted(table.items())), table)
    if outline is None:
        return {**record, "path": "", "at": None, "box": None}, None
    west, north, east, south = outline.bounds
    inside = outline.representative_point()
    at, box = _rounded([inside.x, inside.y]), _rounded([west, north, east - west, south - north])
    return {**record, "path": path_of(outline), "at": at, "box": box}, outline


_OUTLINES: dict[str, Polygon | None] = {}


def _outline(key: str, table: dict[str, Any]) -> Polygon | None:
    if len(_OUTLINES) > 2000:
        _OUTLINES.clear()
    if key not in _OUTLINES:
        _OUTLINES[key] = outline_of(table)
    return _OUTLINES[key]


# Records of ways by cell and side, by the identity of their tables, which are kept with them, and of the measures.
_WAYS: dict[tuple[int, int], tuple[dict[str, Any], dict[str, Any]]] = {}


def _ways(
    data: Mapping[str, Any], grid: Grid, spaces: int, shapes: Sequence[tuple[dict[str, Any], Polygon | None]]
) -> list[dict[str, Any]]:
    if len(_WAYS) > 40_000:
        _WAYS.clear()
    usual = usual_looks(data)
    measures = hash((grid, spaces, *usual.values()))
    found = []
    for table in _tables(data, "way"):
        known = _WAYS.get((id(table), measures))
        if known is None or "cell" not in table:
            known = table, _way(table, usual, grid, spaces, shapes)
            _WAYS[id(table), measures] = known
        found.append(known[1])
    return found


def _way(
    table: dict[str, Any],
    usual: Mapping[str, str],
    grid: Grid,
    spaces: int,
    shapes: Sequence[tuple[dict[str, Any], Polygon | None]],
) -> dict[str, Any]:
    """A way with its middle, its wall's direction and how wide it is drawn."""
    words = {key: _text(table.get(key, usual.get(key, ""))) for key in ("leaf", "head", "style", "width", "height")}
    record: dict[str, Any] = {"kind": str(table["kind"]), **words}
    cell = spaces * grid.pitch
    width = _length(table.get("width"), grid.doorway.width) / cell
    if "cell" in table and "side" in table:
        column, row = table["cell"]
        side = SIDES.index(str(table["side"]))
        dx, dy = STEPS[side]
        spot, along = [column - 0.5 + dx / 2, row - 0.5 + dy / 2], [float(side % 2 == 0), float(side % 2 == 1)]
        if isinstance(table.get("at"), int | float):
            moved = float(table["at"]) / spaces - 0.5
            spot = [spot[0] + along[0] * moved, spot[1] + along[1] * moved]
        record |= {"cell": [column, row], "side": table["side"]}
        if "at" in table:
            record["at"] = table["at"]
        whole = table["kind"] == "open"
        return {**record, "spot": _rounded(spot), "along": along, "span": 1.0 if whole else round(min(width, 1.0), 3)}
    at = [float(v) for v in table["at"]]
    room = str(table["room"])
    walls = [outline.boundary for shape, outline in shapes if outline is not None and shape["room"] == room]
    return {**record, "room": room, "at": at, **_on_wall(walls, at), "span": round(width, 3)}


def _on_wall(walls: Sequence[BaseGeometry], at: Sequence[float]) -> dict[str, Any]:
    """The point of a wall nearest to another one, and the wall's direction there."""
    point = Point(at)
    wall = min(walls, key=point.distance, default=None)
    if wall is None:
        return {"spot": list(at), "along": [1.0, 0.0]}
    here = wall.project(point)
    step = min(0.01, wall.length / 4)
    a, b = wall.interpolate(max(here - step, 0.0)), wall.interpolate(min(here + step, wall.length))
    length = math.dist((a.x, a.y), (b.x, b.y)) or 1.0
    spot = wall.interpolate(here)
    return {"spot": _rounded([spot.x, spot.y]), "along": _rounded([(b.x - a.x) / length, (b.y - a.y) / length])}


def _length(value: object, usual: float) -> float:
    if value is None:
        return usual
    try:
        return parse_length(value)
    except TilegenError:
        return usual


@lru_cache(maxsize=4000)
def _feature_box(key: str, grid: Grid, spaces: int) -> Box | None:
    """Where a feature lies within its cells, in cells from the first one's corner; None: not known."""
    table = _FEATURES[key]
    (west, north), (east, south) = table["cell"], table.get("to", table["cell"])
    side = spaces * grid.pitch
    whole = (0.0, 0.0, (east - west + 1) * side, (south - north + 1) * side)
    try:
        (found,) = plan_features([PlanFeatureTable.model_validate(table)])
        bounds = whole if found.wanted.fills else bounds_of(found.wanted, grid, whole)
    except (TilegenError, ValidationError, ValueError):
        return None
    return bounds[0] / side, bounds[1] / side, bounds[2] / side, bounds[3] / side


_FEATURES: dict[str, dict[str, Any]] = {}


def _feature(table: dict[str, Any], grid: Grid, spaces: int) -> dict[str, Any]:
    cell, to = list(table["cell"]), list(table["to"]) if "to" in table else None
    key = repr(sorted(table.items()))
    if len(_FEATURES) > 4000:
        _FEATURES.clear()
        _feature_box.cache_clear()
    _FEATURES[key] = table
    box = _feature_box(key, grid, spaces)
    last = to or cell
    west, north, east, south = box or (0.0, 0.0, last[0] - cell[0] + 1, last[1] - cell[1] + 1)
    size = table.get("size", [])
    return {
        "kind": str(table["kind"]),
        "cell": cell,
        "to": to,
        "at": [float(v) for v in table["at"]] if "at" in table else None,
        "size": [_text(v) for v in (size if isinstance(size, list) else [size])],
        "values": {k: v for k, v in table.items() if k in FEATURE_KEYS and k not in ("at", "size")},
        "box": _rounded([cell[0] - 1 + west, cell[1] - 1 + north, east - west, south - north]),
        "front": str(table.get("side", "")),
    }
