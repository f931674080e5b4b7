"""Sheets as DXF R2010: declared layers, closed polylines, millimetres in the header, the same bytes every time."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager

from ezdxf import units
from ezdxf._options import options
from ezdxf.filemanagement import new

from tilegen.sheets.drawing import LAYERS, SheetDrawing, Stroke, curve


def write(drawing: SheetDrawing) -> bytes:
    """The file's content; entities stand in cutting order."""
    with _repeatable():
        document = new("R2010")
        document.units = units.MM
        document.header["$MEASUREMENT"] = 1
        document.header.custom_vars.append("kerf compensated", drawing.kerf.words)
        document.header.custom_vars.append("sheet", f"{drawing.name}: {drawing.title}")
        for name, value in drawing.remarks:
            document.header.custom_vars.append(name, value)
        width, height = drawing.size
        document.header["$EXTMIN"], document.header["$EXTMAX"] = (0, 0, 0), (width, height, 0)
        for layer, row in LAYERS.items():
            declared = document.layers.add(layer, color=row.aci)
            declared.description = row.meaning
            # What a plotter leaves out: the guides are for the eye.
            declared.dxf.plot = int(row.made)
        space = document.modelspace()
        for stroke in drawing.strokes:
            attributes = {"layer": stroke.layer}
            space.add_lwpolyline(_vertices(stroke), format="xyb", close=stroke.closed, dxfattribs=attributes)
        # The library would register these in the order of a set, which differs from process to process.
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)
        text = io.StringIO()
        document.write(text)
    return text.getvalue().encode(document.output_encoding)


def _vertices(stroke: Stroke) -> list[tuple[float, float, float]]:
    """Corners as (x, y, bulge): an arc is its two ends and the bulge of the first."""
    if not stroke.arcs:
        return [(x, y, 0.0) for x, y in stroke.points.tolist()]
    size = len(stroke.points)
    bulges = [0.0] * size
    inside: set[int] = set()
    for arc in stroke.arcs:
        bulges[arc.first % size] = curve(stroke.points, arc).bulge
        inside.update(i % size for i in range(arc.first + 1, arc.last))
    corners = enumerate(stroke.points.tolist())
    return [(x, y, bulges[i]) for i, (x, y) in corners if i not in inside]


@contextmanager
def _repeatable() -> Iterator[None]:
    """Fixed dates and ids in what is written inside; the library's switch is put back after."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
