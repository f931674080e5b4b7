"""Sheets as SVG in millimetres: one group a layer, in cutting order."""

from __future__ import annotations

from collections import Counter
from itertools import groupby
from xml.sax.saxutils import escape

from tilegen.sheets.drawing import LAYERS, ArcSpan, Layer, SheetDrawing, Stroke, curve


def write(drawing: SheetDrawing) -> bytes:
    """The file's content; one user unit is 1 mm, y runs down."""
    width, height = (_number(side) for side in drawing.size)
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    about = [f"kerf compensated: {drawing.kerf.words}", *(f"{name}: {value}" for name, value in drawing.remarks)]
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        f"<title>{escape(drawing.name)}</title>",
        f"<desc>{escape('; '.join((drawing.title, *about)))}</desc>",
    ]
    times: Counter[Layer] = Counter()
    for (layer, written), strokes in groupby(drawing.strokes, key=lambda s: (s.layer, s.is_written)):
        times[layer] += 1
        # An id stands once in a file; a layer comes a second time where cuts lie inside of cuts.
        lines.append(_group(layer, f"{layer}-{times[layer]}" if times[layer] > 1 else layer, solid=written))
        lines += [f'<path d="{_path(stroke, drawing.size[1])}"/>' for stroke in strokes]
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines).encode()


def _group(layer: Layer, name: str, *, solid: bool) -> str:
    style = LAYERS[layer]
    dash = f' stroke-dasharray="{" ".join(_number(d) for d in style.dash)}"' if style.dash and not solid else ""
    return f'<g id="{name}" fill="none" stroke="{style.colour}" stroke-width="{_number(style.width)}"{dash}>'


def _path(stroke: Stroke, height: float) -> str:
    if not stroke.arcs:
        text = "L".join(f"{_number(x)} {_number(height - y)}" for x, y in stroke.points.tolist())
        return f"M{text}Z" if stroke.closed else f"M{text}"
    size = len(stroke.points)
    ends = {arc.first % size: arc for arc in stroke.arcs}
    inside = {i % size for arc in stroke.arcs for i in range(arc.first + 1, arc.last)}
    points = [f"{_number(x)} {_number(height - y)}" for x, y in stroke.points.tolist()]
    text, came = f"M{points[0]}", ends.get(0)
    for i in (i for i in range(1, size) if i not in inside):
        text += f"{_step(stroke, came)}{points[i]}"
        came = ends.get(i)
    if came is not None:
        text += f"{_step(stroke, came)}{points[0]}"
    return f"{text}Z" if stroke.closed else text


def _step(stroke: Stroke, arc: ArcSpan | None) -> str:
    """The command that leads to the next corner; y runs down, so what turns left turns the other way here."""
    if arc is None:
        return "L"
    bulge, radius = curve(stroke.points, arc)
    return f"A{_number(radius)} {_number(radius)} 0 {int(abs(bulge) > 1)} {int(bulge < 0)} "


def _number(value: float) -> str:
    """A tenth of a micrometre is finer than any machine; no exponent, no '-0'."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
