"""Lines of an SVG drawing, with svgelements: paths and basic shapes, their transforms applied."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from tilegen.errors import InputError
from tilegen.geometry import CHORD_MM, Points, chord_angle
from tilegen.reading.rings import MOST_PIECES
from tilegen.reading.xmltree import Element, read_tree_file

Unit = tuple[str, float]
_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_MOST_ELEMENTS = 50_000
# CSS Values and Units, absolute lengths; px and bare numbers say nothing of a drawing's true size.
_PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "Q": 0.25}
_KEPT = (
    {"d", "transform", "points"}
    | {"x", "y", "width", "height", "rx", "ry", "cx", "cy", "r", "x1", "y1", "x2", "y2"}
)  # fmt: skip


def read_svg(path: Path, unit: Unit | None) -> tuple[list[Points], str]:
    """Lines in mm, y to the north, and the unit they were read in.

    unit: of one user unit, for a file whose width and height do not say.

    Raises:
        InputError: not an SVG, entities, no unit or another one, copies, something svgelements can't read.
    """
    root = _tree(path)
    name, factor = _unit(root, unit)
    pieces: list[Points] = []
    try:
        for piece in _pieces(_plain(root), CHORD_MM / factor):
            pieces.append(piece * (factor, -factor))
            if len(pieces) > MOST_PIECES:
                raise InputError("more lines than an outline has", expected=f"at most {MOST_PIECES}")
    except (ArithmeticError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        told = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError(f"a shape that can't be read ({told})", expected="paths and basic shapes") from None
    return pieces, name


def _tree(path: Path) -> Element:
    """The root element; entities are refused, not unfolded."""
    root = read_tree_file(path, "SVG")
    if root.tag != "svg":
        raise InputError(f"a root element <{root.tag}>", expected="<svg>")
    return root


def _unit(root: Element, unit: Unit | None) -> Unit:
    """What one user unit is: width and height over viewBox."""
    (width, words), (height, other) = (_length(root.get(key, "")) for key in ("width", "height"))
    view = [float(v) for v in re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", root.get("viewBox", ""))]
    if words not in _PHYSICAL or other not in _PHYSICAL:
        if unit is None:
            raise InputError(
                "a drawing without units (width and height in mm, cm, in, pt)",
                expected="the size it is meant to have",
                cure="say what one user unit is: --unit mm",
            )
        return unit
    if min(width, height) <= 0:
        raise InputError(f"a drawing {width:g} {words} wide and {height:g} {other} high", expected="a size above 0")
    if len(view) != 4 or min(view[2:]) <= 0:
        # Without a viewBox a user unit is a CSS pixel, 1/96 in.
        view = [0.0, 0.0, width * _PHYSICAL[words] * 96 / 25.4, height * _PHYSICAL[other] * 96 / 25.4]
    across, down = width * _PHYSICAL[words] / view[2], height * _PHYSICAL[other] / view[3]
    if not math.isclose(across, down, rel_tol=1e-3):
        raise InputError(
            f"a drawing that is stretched: {across:g} mm a unit across, {down:g} mm down", expected="the same both ways"
        )
    if unit is not None and not math.isclose(across, unit[1], rel_tol=1e-3):
        raise InputError(f"user units of {across:g} mm", expected=f"{unit[1]:g} mm, or no --unit", place="--unit")
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
            raise InputError(f"a <{name}> in line {element.line}", expected="plain shapes", cure="unlink copies")
        if name not in (*_SHAPES, "g", "a"):
            continue
        count += 1
        if count > _MOST_ELEMENTS:
            raise InputError("a very large drawing", expected=f"at most {_MOST_ELEMENTS} shapes")
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
            yield from _flat(svgelements.Path(part), error)


def _flat(path: Any, error: float) -> Iterator[Points]:  # noqa: ANN401
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
