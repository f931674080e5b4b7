"""The saw list as pages to take to the bench."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from tilegen.lengths import Units, in_units, show_length
from tilegen.sheets.pages import Frame
from tilegen.sheets.pdfwords import Words, printable
from tilegen.sheets.saw import SawList
from tilegen.sheets.sawlist import HEADER, saw_head, saw_rows

_TEXT = ParagraphStyle("cell", fontName="Helvetica", fontSize=7.5, leading=9, wordWrap="LTR")
_BOLD = ParagraphStyle("head", parent=_TEXT, fontName="Helvetica-Bold")
# Columns: what the rows of the list are printed under, their keys, and shares of the page's width.
_COLUMNS = (
    ("step", ("step",), 0.045),
    ("setting", ("setting",), 0.09),
    ("set fence, mm", ("fence_mm",), 0.075),
    ("expect, mm", ("expect_mm",), 0.075),
    ("edge on fence", ("edge_on_fence",), 0.06),
    ("pieces that go in", ("in",), 0.135),
    ("passes", ("passes",), 0.07),
    ("pieces", ("pieces",), 0.07),
    ("min", ("minutes",), 0.05),
    ("what comes out of each; offcuts; notes", ("from_each", "offcuts", "note"), 0.27),
    ("done", ("done",), 0.055),
)
_HOW = (
    "One setting of the fence serves all sheets: make every cut of a line before you move the fence, so that parts "
    "that must match are all alike. Edge A is the lower edge of each sheet and piece as drawn, edge B the left one; "
    "lay the named edge on the fence. Measure the first piece of each setting against 'expect'. R: a rip, C: a "
    "cross-cut. Set the fence only with the wire switched off or the blade away."
)


def saw_pages(canvas: Canvas, saw: SawList, frame: Frame, units: Units = "mm") -> None:
    """Head and table, on as many pages as they need. units: of its lengths; settings keep their names."""
    words = Words(canvas, frame, units)
    words.title("Saw list")
    words.paragraph("; ".join(f"{name}: {value}" for name, value in saw_head(saw)) + ".")
    words.paragraph(_HOW)
    rows = [[Paragraph(title.replace(", mm", f", {units}"), _BOLD) for title, *_ in _COLUMNS]]
    for row in saw_rows(saw):
        cells = dict(zip(HEADER, row, strict=True))
        cells["from_each"] = cells["from_each"] or cells["out"]
        for key in ("fence_mm", "expect_mm"):
            cells[key] = cells[key] and show_length(float(cells[key]), units).removesuffix(f" {units}")
        for key in ("offcuts", "note"):
            cells[key] = in_units(cells[key], units)
        texts = ("<br/>".join(_escaped(cells[k]) for k in keys if cells[k]) for _, keys, _ in _COLUMNS)
        rows.append([Paragraph(text, _TEXT) for text in texts])
    table = Table(rows, colWidths=[frame.width * mm * share for *_, share in _COLUMNS], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.3, "#8c8c8c"),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ]
        )
    )
    _draw(canvas, table, frame, words.y)


def _draw(canvas: Canvas, table: Table, frame: Frame, top: float) -> None:
    """A table from the top down, over as many pages as it takes."""
    left: list[Flowable] = [table]
    while left:
        room = (top - frame.bottom) * mm
        first, *rest = left[0].split(frame.width * mm, room) or [left[0]]
        _, height = first.wrapOn(canvas, frame.width * mm, room)
        first.drawOn(canvas, frame.left * mm, top * mm - height)
        canvas.showPage()
        left, top = rest, frame.paper_height - 18


def _escaped(text: str) -> str:
    return printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
