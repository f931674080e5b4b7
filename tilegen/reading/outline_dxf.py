"""Lines of a DXF drawing, with ezdxf: polylines with bulges, lines, arcs, circles, ellipses, splines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tilegen.errors import InputError
from tilegen.geometry import CHORD_MM, Points
from tilegen.reading.rings import FURTHEST_MM, MOST_PIECES

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Unit = tuple[str, float]
# $INSUNITS, from the DXF Reference (HEADER variables); the length of one in mm.
_INSUNITS: dict[int, Unit] = {1: ("in", 25.4), 2: ("ft", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0)}
# What blocks may come to, and how deep they may lie in each other: far more than a kit has (no source).
_MOST_EXPANDED, _DEEPEST = 200_000, 32
_EXPLODE = "explode the blocks that are needed and purge the others"
_DRAWN = ("LWPOLYLINE", "POLYLINE", "LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE")
# What may lie in a drawing beside its lines.
_IGNORED = ("TEXT", "MTEXT", "DIMENSION", "LEADER", "POINT", "HATCH", "IMAGE", "VIEWPORT", "ATTDEF")


def read_dxf(path: Path, unit: Unit | None) -> tuple[list[Points], str]:
    """Lines in mm and the unit they were read in.

    unit: for a file that says none.

    Raises:
        InputError: not a DXF, no unit or another one, an entity that is no line.
    """
    import ezdxf  # noqa: PLC0415 - slow to import, needed for drawings only
    import ezdxf.filemanagement  # noqa: PLC0415

    try:
        document = ezdxf.filemanagement.readfile(path)
    except Exception as error:
        told = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError(f"not readable ({told})", expected="a DXF drawing") from None
    name, factor = _unit(document, unit)
    pieces: list[Points] = []
    for entity in document.modelspace():
        if _hidden(document, entity) or entity.dxftype() in _IGNORED:
            continue
        pieces.append(_points(entity, CHORD_MM / factor) * factor)
        if len(pieces) > MOST_PIECES:
            raise InputError("more lines than an outline has", expected=f"at most {MOST_PIECES}")
    return pieces, name


def check_blocks(document: Drawing) -> None:
    """Refuse a drawing whose blocks would expand to more than any drawing of a tile has, before they are expanded.

    Raises:
        InputError: too many entities, blocks too deep in each other, or a block that inserts itself.
    """
    made: dict[str, int] = {}

    def count(entities: Iterable[Any], above: tuple[str, ...]) -> int:
        return sum(expanded(entity, above) for entity in entities)

    def expanded(entity: Any, above: tuple[str, ...]) -> int:  # noqa: ANN401
        insert = entity.dxftype() == "INSERT"
        name = str(entity.dxf.get("name" if insert else "geometry", "")) if insert or _has_block(entity) else ""
        key = name.lower()
        if key in above:
            raise InputError(f'a block "{name}" that inserts itself', expected="blocks that end", cure=_EXPLODE)
        if len(above) >= _DEEPEST:
            raise InputError(f"blocks more than {_DEEPEST} deep in each other", expected="fewer", cure=_EXPLODE)
        if name not in document.blocks:
            return 1
        if key not in made:
            made[key] = count(document.blocks[name], (*above, key))
        times = max(1, abs(entity.dxf.row_count)) * max(1, abs(entity.dxf.column_count)) if insert else 1
        return 1 + times * max(1, made[key])

    if count(document.modelspace(), ()) > _MOST_EXPANDED:
        raise InputError(
            f"blocks that would make more than {_MOST_EXPANDED} lines", expected="a drawing of tiles", cure=_EXPLODE
        )


def _has_block(entity: Any) -> bool:  # noqa: ANN401
    """Whether an entity that is no insert draws a block: dimensions and tables do."""
    return bool(entity.dxf.is_supported("geometry"))


def _unit(document: Drawing, unit: Unit | None) -> Unit:
    number = int(document.header.get("$INSUNITS", 0))
    said = _INSUNITS.get(number)
    if said is None and unit is None:
        found = "a drawing without units ($INSUNITS)" if number == 0 else f"units that no tile has ($INSUNITS {number})"
        raise InputError(found, expected="mm, cm, m, in or ft", cure="say it: --unit mm")
    if said is not None and unit is not None and said[0] != unit[0]:
        raise InputError(f"a drawing in {said[0]}", expected=f"one in {unit[0]}, or no --unit", place="--unit")
    return said or unit or ("mm", 1.0)


def _hidden(document: Drawing, entity: Any) -> bool:  # noqa: ANN401
    name = _layer(entity)
    layer = document.layers.get(name) if name in document.layers else None
    return bool(entity.dxf.is_supported("invisible") and entity.dxf.get("invisible", 0)) or (
        layer is not None and (layer.is_off() or layer.is_frozen())
    )


def _layer(entity: Any) -> str:  # noqa: ANN401
    """The layer of an entity; spoilt files carry some that have none."""
    return str(entity.dxf.layer) if entity.dxf.is_supported("layer") else "0"


def _points(entity: Any, error: float) -> Points:  # noqa: ANN401
    kind = entity.dxftype()
    if kind not in _DRAWN:
        raise InputError(
            f"a {kind} on the layer {_layer(entity)}",
            expected="lines, arcs, circles, ellipses, splines and polylines",
            cure="explode it, or put it on a layer that is switched off",
        )
    parts = [_flat(part, error) for part in _parts(entity)]
    return _one_after_the_other(parts)


def _parts(entity: Any) -> Iterator[Any]:  # noqa: ANN401
    """A polyline's lines and arcs; anything else is its own only part."""
    if entity.dxftype() in ("LWPOLYLINE", "POLYLINE"):
        yield from entity.virtual_entities()
    else:
        yield entity


def _flat(entity: Any, error: float) -> Points:  # noqa: ANN401
    """Points on a line, arc or curve, its chords within an error in the drawing's own unit."""
    kind = entity.dxftype()
    _check_reach(entity, error)
    if kind == "LINE":
        points = [entity.dxf.start, entity.dxf.end]
    elif kind in ("ARC", "CIRCLE"):
        radius = entity.dxf.radius
        if radius <= 0:
            raise InputError(f"an arc of radius {radius:g} at ({entity.dxf.center.x:.3f}, {entity.dxf.center.y:.3f})")
        points = list(entity.flattening(min(error, radius / 2)))
    else:
        points = list(entity.flattening(error, 8))
    return np.array([(point[0], point[1]) for point in points], dtype=np.float64).reshape(-1, 2)


def _check_reach(entity: Any, error: float) -> None:  # noqa: ANN401
    """Refuse what would be cut into more chords than any tile needs."""
    reach = {"ARC": "radius", "CIRCLE": "radius"}.get(entity.dxftype())
    if entity.dxftype() == "SPLINE":
        points = [*entity.control_points, *entity.fit_points]
        most = max((abs(float(v)) for point in points for v in point), default=0.0)
    elif entity.dxftype() == "ELLIPSE":
        most = float(entity.dxf.major_axis.magnitude)
    else:
        most = float(entity.dxf.get(reach)) if reach else 0.0
    if not most * CHORD_MM / error <= FURTHEST_MM:
        raise InputError(
            f"a {entity.dxftype()} that reaches over 1 km, on the layer {_layer(entity)}",
            expected="an outline of a tile",
        )


def _one_after_the_other(parts: list[Points]) -> Points:
    """The parts of one polyline as one line; arcs of clockwise bulges come the wrong way round."""
    parts = [part for part in parts if len(part)]
    if not parts:
        return np.zeros((0, 2))
    line = parts[0]
    if len(parts) > 1 and _apart(line[0], parts[1]) < _apart(line[-1], parts[1]):
        line = line[::-1]
    for part in parts[1:]:
        turned = part[::-1] if math.dist(line[-1], part[-1]) < math.dist(line[-1], part[0]) else part
        line = np.concatenate([line, turned[1:]])
    return line


def _apart(point: Points, part: Points) -> float:
    return min(math.dist(point, part[0]), math.dist(point, part[-1]))
