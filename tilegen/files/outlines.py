"""An outline drawn elsewhere: DXF or SVG to rings in millimetres, with a description of what was read."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient
from shapely.validation import explain_validity

from tilegen.errors import InputError, nearest, refused
from tilegen.files.xmltree import Element, read_tree_file
from tilegen.geometry import CHORD_MM, SNAP_MM, Point, Points, chord_angle
from tilegen.lengths import MM_PER_INCH, show_number, show_spot

if TYPE_CHECKING:
    from ezdxf.document import Drawing


# Ends nearer than this are one point; a curve's chords are no further from it than the second.
JOIN_MM = 0.02
FURTHEST_MM = 1e6
MOST_PIECES = 20_000
MOST_POINTS = 100_000
Unit = tuple[str, float]
# $INSUNITS, from the DXF Reference (HEADER variables); the length of one in mm.
INSUNITS: dict[int, Unit] = {1: ("in", 25.4), 2: ("ft", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0)}
# What blocks may come to, and how deep they may lie in each other: far more than a kit has (no source).
_MOST_EXPANDED, _DEEPEST = 200_000, 32
_OUTLINE_ONLY = "Keep only the outline of the tile in the drawing"
_EXPLODE = "Explode the blocks that are needed and purge the others"
_DRAWN = ("LWPOLYLINE", "POLYLINE", "LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE")
# What may lie in a drawing beside its lines.
_IGNORED = ("TEXT", "MTEXT", "DIMENSION", "LEADER", "POINT", "HATCH", "IMAGE", "VIEWPORT", "ATTDEF")
_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_MOST_ELEMENTS = 50_000
# CSS Values and Units, absolute lengths; px and bare numbers say nothing of a drawing's true size.
_PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "Q": 0.25}
_KEPT = (
    {"d", "transform", "points"}
    | {"x", "y", "width", "height", "rx", "ry", "cx", "cy", "r", "x1", "y1", "x2", "y2"}
)  # fmt: skip
LARGEST_DRAWING = 8 * 1024 * 1024
_UNITS = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": float(MM_PER_INCH),
    "ft": 12 * float(MM_PER_INCH),
}


@dataclass(frozen=True)
class Rings:
    """An outline, counter-clockwise from its southernmost (then westernmost) corner, and its holes; mm, from (0, 0)."""

    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True)
class Drawn:
    """An outline from a drawing; said: file, unit, corners and chord error in one sentence."""

    rings: Rings
    said: str


def read_outline(path: Path, unit: str | None = None) -> Drawn:
    """The outline in a drawing, moved so that its south-west corner is the origin.

    unit: of a drawing that does not say which (for SVG: of one user unit).

    Raises:
        InputError: not readable, too large, without units, or no single closed outline; with coordinates.
    """
    if unit is not None and unit not in _UNITS:
        raise InputError(f'"{unit}" is not a unit that drawings have', cure=nearest(unit, _UNITS), place="--unit")
    readers = {".dxf": read_dxf, ".svg": read_svg}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise InputError(
            "this is not a drawing that can be read", cure="Use a file that ends in .dxf or .svg", file=str(path)
        )
    if not path.is_file():
        raise InputError("there is no such drawing", cure="Put it in the same folder as the profile", file=str(path))
    if path.stat().st_size > LARGEST_DRAWING:
        raise InputError(
            f"the drawing has {path.stat().st_size / 2**20:.0f} MiB; the most is {LARGEST_DRAWING // 2**20} MiB",
            cure=_OUTLINE_ONLY,
            file=str(path),
        )
    try:
        pieces, read_in = reader(path, None if unit is None else (unit, _UNITS[unit]))
        rings = rings_of(pieces)
    except InputError as error:
        raise error.located(file=str(path)) from None
    holes = f", {len(rings.holes)} holes" if len(rings.holes) > 1 else ", 1 hole" if rings.holes else ""
    said = (
        f"{path.name}: an outline of {len(rings.points)} edges{holes}, read in {read_in}; curves are chords within "
        f"{CHORD_MM:g} mm; edge 1 begins at the southernmost corner, counter-clockwise"
    )
    return Drawn(rings, said)


def rings_of(pieces: Sequence[Points]) -> Rings:
    """One outline with holes from open and closed lines, (n, 2) each, in mm.

    Raises:
        InputError: nothing closed, a gap, a branch, lines that cross, several outlines, an island; with coordinates.
    """
    if not pieces:
        raise InputError("the drawing has no lines", cure="Draw the outline as one closed line")
    if len(pieces) > MOST_PIECES or sum(map(len, pieces)) > MOST_POINTS:
        raise InputError(
            f"the drawing has more than {MOST_PIECES:,} lines or {MOST_POINTS:,} points", cure=_OUTLINE_ONLY
        )
    bad = next((p for p in pieces if not np.isfinite(p).all() or np.abs(p).max(initial=0.0) > FURTHEST_MM), None)
    if bad is not None:
        raise InputError("a line reaches further than 1 km", cure="Check the unit of the drawing")
    closed = [p for p in pieces if len(p) > 2 and math.dist(p[0], p[-1]) <= JOIN_MM]
    loose = [p for p in pieces if not (len(p) > 2 and math.dist(p[0], p[-1]) <= JOIN_MM) and _extent(p) > JOIN_MM]
    rings = [ring for ring in map(_cleaned, [*closed, *_joined(loose)]) if len(ring) >= 3]
    if not rings:
        raise InputError("no line is closed", cure="Draw the outline as one closed line")
    outer, holes = _nested([_valid(ring) for ring in rings])
    west, south = outer.bounds[:2]
    return Rings(_numbered(outer, west, south), tuple(_numbered(hole, west, south) for hole in holes))


def crossing(polygon: Polygon) -> str:
    """The place where a polygon that is not valid crosses or touches itself."""
    where = re.search(r"\[(\S+) (\S+)\]", explain_validity(polygon))
    return show_spot(float(where[1]), float(where[2])) if where else "some place"


def _extent(piece: Points) -> float:
    return float(np.ptp(piece, axis=0).max()) if len(piece) else 0.0


def _joined(pieces: list[Points]) -> list[Points]:
    """Rings from open lines; end 2k is the start of piece k, end 2k + 1 its end."""
    if not pieces:
        return []
    ends = np.array([end for piece in pieces for end in (piece[0], piece[-1])])
    partner = _partners(ends)
    rings, used = [], [False] * len(pieces)
    for first in range(len(pieces)):
        walk, piece, backwards = [], first, False
        while not used[piece]:
            used[piece] = True
            walk.append(pieces[piece][::-1] if backwards else pieces[piece])
            arrival = partner[2 * piece + (0 if backwards else 1)]
            piece, backwards = arrival // 2, arrival % 2 == 1
        if walk:
            rings.append(np.concatenate(walk))
    return rings


def _partners(ends: Points) -> list[int]:
    """The one other end that each end meets."""
    from scipy.spatial import KDTree  # noqa: PLC0415 - takes long to load, and few outlines come in pieces

    tree = KDTree(ends)
    partners: list[list[int]] = [[] for _ in ends]
    for a, b in sorted(tree.query_pairs(JOIN_MM)):
        partners[a].append(b)
        partners[b].append(a)
    for end, others in enumerate(partners):
        if len(others) > 1:
            raise InputError(
                f"{len(others) + 1} lines meet at {show_spot(*ends[end])}, where only two can",
                cure="Remove lines that lie on one another, and those that are not part of the outline",
            )
    lonely = [end for end, others in enumerate(partners) if not others]
    if lonely:
        other = min(lonely[1:], key=lambda end: math.dist(ends[end], ends[lonely[0]]))
        gap = math.dist(ends[other], ends[lonely[0]])
        raise InputError(
            f"the outline is open: there is a gap of {show_number(gap, 3)} mm between "
            f"{show_spot(*ends[lonely[0]])} and {show_spot(*ends[other])}",
            cure="Join the two ends in the drawing",
        )
    return [others[0] for others in partners]


def _cleaned(ring: Points) -> Points:
    """A ring without its closing point and without points on top of the one before."""
    kept: list[int] = []
    for index in range(len(ring)):
        if not kept or math.dist(ring[kept[-1]], ring[index]) > SNAP_MM:
            kept.append(index)
    while len(kept) > 1 and math.dist(ring[kept[0]], ring[kept[-1]]) <= JOIN_MM:
        kept.pop()
    return ring[kept]


def _valid(ring: Points) -> Polygon:
    polygon = Polygon(ring)
    if not polygon.is_valid:
        raise InputError(f"a line crosses or touches itself at {crossing(polygon)}", cure="Mend it in the drawing")
    return orient(polygon)


def _nested(rings: list[Polygon]) -> tuple[Polygon, list[Polygon]]:
    """The one outer ring and the holes directly in it."""
    rings = sorted(rings, key=lambda ring: (-ring.area, ring.bounds))
    outer, holes = rings[0], rings[1:]
    for number, ring in enumerate(holes):
        for other in (outer, *holes[:number]):
            crossing = ring.exterior.intersection(other.exterior)
            if not crossing.is_empty:
                point = shapely.get_coordinates(crossing)[0]
                raise InputError(
                    f"two lines cross or touch at {show_spot(*point)}", cure="Move them apart in the drawing"
                )
        inside = ring.representative_point()
        if not outer.contains(inside):
            raise InputError(
                f"there is a second outline at {show_spot(*inside.coords[0])}",
                cure="Keep one outline with its holes per drawing",
            )
        if any(other.contains(inside) for other in holes[:number]):
            raise InputError(
                f"there is an island in a hole at {show_spot(*inside.coords[0])}", cure="Remove it from the drawing"
            )
    return outer, holes


def _numbered(ring: Polygon, west: float, south: float) -> tuple[Point, ...]:
    points = [(x - west, y - south) for x, y in ring.exterior.coords[:-1]]
    first = min(range(len(points)), key=lambda i: (round(points[i][1], 6), round(points[i][0], 6)))
    return tuple(points[first:] + points[:first])


def read_dxf(path: Path, unit: Unit | None) -> tuple[list[Points], str]:
    """Lines in mm and the unit they were read in.

    unit: for a file that has none.

    Raises:
        InputError: not a DXF, no unit or another one, an entity that is no line.
    """
    import ezdxf  # noqa: PLC0415 - slow to import, needed for drawings only
    import ezdxf.filemanagement  # noqa: PLC0415

    try:
        document = ezdxf.filemanagement.readfile(path)
    except Exception as error:
        if isinstance(error, OSError) and error.errno:
            raise refused(error, path) from None
        raise InputError("the DXF can't be read", cure="Save it again as DXF from your drawing program") from None
    name, factor = _dxf_unit(document, unit)
    pieces: list[Points] = []
    for entity in document.modelspace():
        if _hidden(document, entity) or entity.dxftype() in _IGNORED:
            continue
        pieces.append(_points(entity, CHORD_MM / factor) * factor)
        if len(pieces) > MOST_PIECES:
            raise InputError(f"the drawing has more than {MOST_PIECES:,} lines", cure=_OUTLINE_ONLY)
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
            raise InputError(f'the block "{name}" inserts itself', cure=_EXPLODE)
        if len(above) >= _DEEPEST:
            raise InputError(f"blocks are nested more than {_DEEPEST} deep", cure=_EXPLODE)
        if name not in document.blocks:
            return 1
        if key not in made:
            made[key] = count(document.blocks[name], (*above, key))
        times = max(1, abs(entity.dxf.row_count)) * max(1, abs(entity.dxf.column_count)) if insert else 1
        return 1 + times * max(1, made[key])

    if count(document.modelspace(), ()) > _MOST_EXPANDED:
        raise InputError(f"the blocks of the drawing would make more than {_MOST_EXPANDED:,} lines", cure=_EXPLODE)


def _has_block(entity: Any) -> bool:  # noqa: ANN401
    """Whether an entity that is no insert draws a block: dimensions and tables do."""
    return bool(entity.dxf.is_supported("geometry"))


def _dxf_unit(document: Drawing, unit: Unit | None) -> Unit:
    number = int(document.header.get("$INSUNITS", 0))
    said = INSUNITS.get(number)
    if said is None and unit is None:
        wrong = "the drawing states no unit" if number == 0 else "the drawing's unit is not one of mm, cm, m, in and ft"
        raise InputError(f"{wrong} ($INSUNITS is {number})", cure="Add --unit mm, or the unit it was drawn in")
    if said is not None and unit is not None and said[0] != unit[0]:
        raise InputError(
            f"the drawing itself says that it is in {said[0]}, not in {unit[0]}",
            cure="Leave out --unit",
            place="--unit",
        )
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
            f"the {kind} on the layer {_layer(entity)} can't be part of an outline",
            cure="Explode it, or put it on a layer that is switched off",
        )
    parts = [_flat_entity(part, error) for part in _parts(entity)]
    return _one_after_the_other(parts)


def _parts(entity: Any) -> Iterator[Any]:  # noqa: ANN401
    """A polyline's lines and arcs; anything else is its own only part."""
    if entity.dxftype() in ("LWPOLYLINE", "POLYLINE"):
        yield from entity.virtual_entities()
    else:
        yield entity


def _flat_entity(entity: Any, error: float) -> Points:  # noqa: ANN401
    """Points on a line, arc or curve, its chords within an error in the drawing's own unit."""
    kind = entity.dxftype()
    _check_reach(entity, error)
    if kind == "LINE":
        points = [entity.dxf.start, entity.dxf.end]
    elif kind in ("ARC", "CIRCLE"):
        radius = entity.dxf.radius
        if radius <= 0:
            raise InputError(
                f"the arc at ({show_number(entity.dxf.center.x, 3)}, {show_number(entity.dxf.center.y, 3)}) has the "
                f"radius {radius:g}",
                cure="Remove it from the drawing",
            )
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
            f"the {entity.dxftype()} on the layer {_layer(entity)} reaches further than 1 km",
            cure="Check the unit of the drawing",
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


def read_svg(path: Path, unit: Unit | None) -> tuple[list[Points], str]:
    """Lines in mm, y to the north, and the unit they were read in.

    unit: of one user unit, for a file whose width and height do not say.

    Raises:
        InputError: not an SVG, entities, no unit or another one, copies, something svgelements can't read.
    """
    root = _tree(path)
    name, factor = _svg_unit(root, unit)
    pieces: list[Points] = []
    try:
        for piece in _pieces(_plain(root), CHORD_MM / factor):
            pieces.append(piece * (factor, -factor))
            if len(pieces) > MOST_PIECES:
                raise InputError(f"the drawing has more than {MOST_PIECES:,} lines", cure=_OUTLINE_ONLY)
    except (ArithmeticError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        raise InputError("a shape of the drawing can't be read", cure="Turn all shapes into plain paths") from None
    return pieces, name


def _tree(path: Path) -> Element:
    """The root element; entities are refused, not unfolded."""
    root = read_tree_file(path, "SVG")
    if root.tag != "svg":
        raise not_svg(root)
    return root


def not_svg(root: Element) -> InputError:
    """XML of another kind."""
    return InputError(f"this is no SVG: it begins with <{root.tag}>", cure="Save the drawing as plain SVG")


def _svg_unit(root: Element, unit: Unit | None) -> Unit:
    """What one user unit is: width and height over viewBox."""
    (width, words), (height, other) = (_length(root.get(key, "")) for key in ("width", "height"))
    view = [float(v) for v in re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", root.get("viewBox", ""))]
    if words not in _PHYSICAL or other not in _PHYSICAL:
        if unit is None:
            raise InputError(
                "the drawing does not state its width and height in mm, cm, in or pt",
                cure="Add the unit that you drew in, as in --unit mm",
            )
        return unit
    if min(width, height) <= 0:
        raise InputError(
            f"the drawing is {width:g} {words} wide and {height:g} {other} high", cure="Set its page to a real size"
        )
    if len(view) != 4 or min(view[2:]) <= 0:
        # Without a viewBox a user unit is a CSS pixel, 1/96 in.
        view = [0.0, 0.0, width * _PHYSICAL[words] * 96 / 25.4, height * _PHYSICAL[other] * 96 / 25.4]
    across, down = width * _PHYSICAL[words] / view[2], height * _PHYSICAL[other] / view[3]
    if not math.isclose(across, down, rel_tol=1e-3):
        raise InputError(
            f"the drawing is stretched: one unit is {across:g} mm wide but {down:g} mm high",
            cure="Set the page to its real size in your drawing program, or make width, height and viewBox agree at "
            "the top of the file",
        )
    if unit is not None and not math.isclose(across, unit[1], rel_tol=1e-3):
        raise InputError(
            f"the drawing itself says that one unit is {across:g} mm, not {unit[1]:g} mm",
            cure="Leave out --unit",
            place="--unit",
        )
    return (f"{words} ({across:.6g} mm a user unit)", across)


def _length(text: str) -> tuple[float, str]:
    match = re.fullmatch(r"\s*(\d+\.?\d*|\.\d+)(?:[eE]([-+]?\d{1,2}))?\s*([a-zA-Z%]*)\s*", text)
    if match is None:
        return 0.0, ""
    return float(match[1]) * 10.0 ** int(match[2] or 0), match[3]


def _plain(root: Element) -> bytes:
    """The visible shapes and groups alone, in user units, as a file for svgelements."""
    count = 0
    plain = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
    stack = [(child, plain) for child in reversed(root.children())]
    while stack:
        element, parent = stack.pop()
        if _invisible(element):
            continue
        name = element.tag
        if name in ("use", "svg"):
            raise InputError(
                f"<{name}> can't be part of an outline",
                cure="Unlink copies and turn all shapes into plain paths",
                place=f"line {element.line}",
            )
        if name not in (*_SHAPES, "g", "a"):
            continue
        count += 1
        if count > _MOST_ELEMENTS:
            raise InputError(f"the drawing has more than {_MOST_ELEMENTS:,} shapes", cure=_OUTLINE_ONLY)
        kept = {k: v for k, v in element.attrib.items() if k in _KEPT}
        copied = ElementTree.SubElement(parent, "g" if name == "a" else name, kept)
        stack += [(child, copied) for child in reversed(element.children())]
    return ElementTree.tostring(plain)


def _invisible(element: Element) -> bool:
    style = element.get("style", "").replace(" ", "")
    return element.get("display") == "none" or "display:none" in style or element.get("visibility") == "hidden"


def _pieces(content: bytes, error: float) -> Iterator[Points]:
    import svgelements  # noqa: PLC0415

    drawing = svgelements.SVG.parse(io.BytesIO(content), reify=True)
    for shape in drawing.elements():
        if not isinstance(shape, svgelements.Shape):
            continue
        for part in svgelements.Path(shape).as_subpaths():
            yield from _flat_path(svgelements.Path(part), error)


def _flat_path(path: Any, error: float) -> Iterator[Points]:  # noqa: ANN401
    """A subpath as a line, its chords within an error in user units."""
    import svgelements  # noqa: PLC0415

    line: list[tuple[float, float]] = []
    for segment in path:
        if isinstance(segment, svgelements.Move):
            if len(line) > 1:
                yield np.array(line)
            line = [(segment.end.x, segment.end.y)]
            continue
        if segment.end is None:
            continue
        steps = _chords(segment, error)
        line += [(p.x, p.y) for p in (segment.point(i / steps) for i in range(1, steps + 1))]
    if len(line) > 1:
        yield np.array(line)


def _chords(segment: Any, error: float) -> int:  # noqa: ANN401
    """How many chords keep within an error of a segment.

    Arcs by their sagitta, r (1 - cos(t / 2)) for chords of an angle t; Bezier curves of degree d by the bound
    d (d - 1) / 8 times the greatest second difference of the control points, over the chords squared.
    """
    import svgelements  # noqa: PLC0415

    if isinstance(segment, svgelements.Arc):
        radius = max(segment.rx, segment.ry)
        turn = chord_angle(radius, error) if radius > 0 else math.pi
        return max(1, min(10_000, math.ceil(abs(float(segment.sweep)) / turn)))
    if isinstance(segment, svgelements.QuadraticBezier):
        control = [segment.start, segment.control, segment.end]
    elif isinstance(segment, svgelements.CubicBezier):
        control = [segment.start, segment.control1, segment.control2, segment.end]
    else:
        return 1
    degree = len(control) - 1
    points = np.array([(p.x, p.y) for p in control])
    bend = float(np.hypot(*np.diff(points, 2, axis=0).T).max())
    return max(1, min(10_000, math.ceil(math.sqrt(degree * (degree - 1) / 8 * bend / error))))
