"""Cores of foam or board that skins of card are folded round: a true-size template, what to buy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from shapely.geometry import LinearRing

from tilegen.sheets.drawing import CHECK_SIDE_MM, LAYERS, Layer, SheetDrawing, Stroke
from tilegen.sheets.kerf import Kerf
from tilegen.sheets.pages import OVERLAP_MM, Frame
from tilegen.sheets.parts import Part
from tilegen.tiles.font import text_size, text_strokes

_GAP_MM, _WORDS_MM = 6.0, 3.0


def cores_drawing(cores: Sequence[Part], frame: Frame) -> SheetDrawing:
    """Every core once, true size, in rows that no page parts unless a core is larger than a page."""
    step = frame.height - OVERLAP_MM
    strokes: list[Stroke] = []
    x = top = _GAP_MM
    row = 0.0
    wide = frame.width
    # The first of a row is its deepest.
    for core in sorted(cores, key=_depth, reverse=True):
        west, south, east, north = core.outline.bounds
        text = _said(core)
        width, height = max(east - west, text_size(text, _WORDS_MM)[0]), north - south + _WORDS_MM + _GAP_MM / 2
        if x > _GAP_MM and x + width + _GAP_MM > frame.width:
            x, top, row = _GAP_MM, top + row + _GAP_MM, 0.0
        page = math.floor(top / step)
        if x == _GAP_MM and top + height > page * step + frame.height and height + _GAP_MM <= step:
            top = (page + 1) * step + OVERLAP_MM
        shift = np.array((x - west, -top - north))
        outlines: tuple[tuple[Layer, LinearRing], ...] = (
            ("CUT_OUTER", core.outline.exterior),
            *(("CUT_INNER", hole) for hole in core.outline.interiors),
        )
        strokes += [Stroke(layer, np.array(ring.coords)[:-1] + shift) for layer, ring in outlines]
        below = np.array((x, -top - height))
        strokes += [Stroke("ENGRAVE", points + below) for points in text_strokes(text, _WORDS_MM)]
        x, row, wide = x + width + _GAP_MM, max(row, height), max(wide, width + 2 * _GAP_MM)
    size = wide, max(top + row + _GAP_MM, CHECK_SIDE_MM)
    moved = [Stroke(s.layer, s.points + np.array((0.0, size[1]))) for s in strokes]
    edge = Stroke("GUIDE", np.array([(0, 0), (size[0], 0), size, (0, size[1])], float))
    ordered = [stroke for layer in LAYERS for stroke in (*moved, edge) if stroke.layer == layer]
    return SheetDrawing("cores", "cores of foam or board", size, Kerf.of(0.0), tuple(ordered))


def core_words(cores: Sequence[Part]) -> list[str]:
    """What to do with the template."""
    return [
        "Print at 100 %, no fit to page, and measure the two bars on a page: 100 mm each.",
        "Cut each outline from foam or board as often as the words under it say, as thick as they say, in one sheet or "
        "in layers glued together.",
        "Cut square, on the line: glue and card fill the rest of the tile.",
        *(f"{core.count} x {core.id}, {core.thickness:g} mm thick." for core in cores),
    ]


def core_rows(cores: Sequence[Part]) -> Iterator[list[object]]:
    """Rows of the shopping list, one for each thickness."""
    for thickness in sorted({core.thickness for core in cores}, reverse=True):
        alike = [core for core in cores if core.thickness == thickness]
        area = math.fsum(core.outline.area * core.count for core in alike) / 1e6
        note = f"{area:.2f} m2 without waste; outlines in the PDF of cores; thinner sheets in layers do"
        yield ["cutting", f"core: foam or board, {thickness:g} mm", sum(c.count for c in alike), "pieces", note]


def _depth(core: Part) -> float:
    _, south, _, north = core.outline.bounds
    return round(float(north - south), 3)


def _said(core: Part) -> str:
    return f"{core.count} X {core.id} - {core.thickness:g} MM"
