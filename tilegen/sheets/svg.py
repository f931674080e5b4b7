"""Sheets as SVG in millimetres: one group a layer, in cutting order."""

from __future__ import annotations

from itertools import groupby
from xml.sax.saxutils import escape

from tilegen.sheets.drawing import Layer, SheetDrawing, Stroke
from tilegen.sheets.style import STYLES


def svg_bytes(drawing: SheetDrawing) -> bytes:
    """The file's content; one user unit is 1 mm, y runs down."""
    width, height = (_number(side) for side in drawing.size)
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        f"<title>{escape(drawing.name)}</title>",
        f"<desc>{escape(drawing.title)}; kerf compensated: {drawing.kerf_words}</desc>",
    ]
    for layer, strokes in groupby(drawing.strokes, key=lambda stroke: stroke.layer):
        lines.append(_group(layer))
        lines += [f'<path d="{_path(stroke, drawing.size[1])}"/>' for stroke in strokes]
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines).encode()


def _group(layer: Layer) -> str:
    style = STYLES[layer]
    dash = f' stroke-dasharray="{" ".join(_number(d) for d in style.dash)}"' if style.dash else ""
    return f'<g id="{layer}" fill="none" stroke="{style.colour}" stroke-width="{_number(style.width)}"{dash}>'


def _path(stroke: Stroke, height: float) -> str:
    points = "L".join(f"{_number(x)} {_number(height - y)}" for x, y in stroke.points.tolist())
    return f"M{points}Z" if stroke.closed else f"M{points}"


def _number(value: float) -> str:
    """A tenth of a micrometre is finer than any machine; no exponent, no '-0'."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
