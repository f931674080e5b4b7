"""Sheets as a true-size PDF for those who cut by hand.

Words, a map of the pages, the saw list, how each type goes together, then every sheet in pages.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from xml.sax.saxutils import escape

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from tilegen.files.stock import cautions_of
from tilegen.geometry import corners_of, rings_of
from tilegen.lengths import Units, in_units, show_length
from tilegen.model.words import Paper
from tilegen.sheets.assembly import Assembly
from tilegen.sheets.drawing import LAYERS, SheetDrawing
from tilegen.sheets.labels import Place
from tilegen.sheets.pages import BAR_MM, PAPERS, Frame, Tiling, tile_pages, turned
from tilegen.sheets.saw import HEADER, SawList, saw_head, saw_rows
from tilegen.sheets.sheetset import SheetSet

_GREY, _BLACK, _MAP_COLOUR = "#8c8c8c", "#151515", "#a8551b"
_MAP_WIDTH, _MAP_HEIGHT = 82.0, 62.0
_CROSS_MM, _PICTURE_GAP = 4.0, 6.0
# By where numbers are: what the builder does with the face that they stand on.
_NUMBERS: dict[Place, str] = {
    "part": (
        "A number on a part stands on a face that nobody will see: turn it outwards on a wall, down or under a wall on "
        "a base, to the glued side on a door leaf."
    ),
    "waste": (
        "A number in the waste belongs to the part that its line points at, or whose hole it lies in. Write it on the "
        "part's back when you take the part out."
    ),
    "back": (
        "A grey number is only a guide, since the face that lies up will be seen. Don't cut it; write it on the part's "
        "back in pencil."
    ),
    "none": "Too small for a number",
}
_FIRST = (
    "The machine maker's manual, the material's safety data sheet and local rules come before anything written here."
)


def pdf_bytes(sheet_set: SheetSet, paper: Paper = "A4", units: Units = "mm") -> bytes:
    """The file's content; the outlines are those of the finished parts, kerf left out. units: of its words."""
    size = PAPERS[paper][0] * mm, PAPERS[paper][1] * mm
    frame = Frame(size[0] / mm, size[1] / mm)
    content = io.BytesIO()
    canvas = Canvas(content, pagesize=size, invariant=1, pageCompression=1)
    canvas.setTitle(f"Sheets to cut: {sheet_set.material.name}")
    canvas.setCreator("tilegen")
    tilings = [tile_pages(sheet.nominal, frame) for sheet in sheet_set.sheets]
    for tiling in tilings:
        _define(canvas, turned(tiling.drawing) if tiling.turned else tiling.drawing)
    _first_pages(canvas, sheet_set, tilings, frame, units)
    if sheet_set.saw and sheet_set.saw.starts:
        _saw_pages(canvas, sheet_set.saw, frame, units)
    if sheet_set.assemblies:
        _assembly_pages(canvas, sheet_set.assemblies, sheet_set.numbers, frame, units)
    for tiling in tilings:
        for row, column in tiling.pages:
            _page(canvas, tiling, row, column, frame)
    canvas.save()
    return content.getvalue()


def drawing_pdf(drawing: SheetDrawing, title: str, words: Sequence[str], paper: Paper = "A4") -> bytes:
    """One drawing, true size, after a page that describes it; the file's content."""
    frame = Frame(*PAPERS[paper])
    content = io.BytesIO()
    canvas = Canvas(content, pagesize=(frame.paper_width * mm, frame.paper_height * mm), invariant=1)
    canvas.setTitle(title)
    canvas.setCreator("tilegen")
    tiling = tile_pages(drawing, frame)
    _define(canvas, turned(drawing) if tiling.turned else drawing)
    first = _Words(canvas, frame)
    first.title(title)
    for line in words:
        first.item(line)
    first.end()
    for row, column in tiling.pages:
        _page(canvas, tiling, row, column, frame)
    canvas.save()
    return content.getvalue()


class _Words:
    """Writes downwards and turns the page where there is no room left; lengths in mm."""

    def __init__(self, canvas: Canvas, frame: Frame, units: Units = "mm") -> None:
        """units: what lengths in the text are shown in."""
        self.canvas, self.frame, self.units = canvas, frame, units
        self.left, self.width = frame.left, frame.width
        self.y = self._top
        # Pictures stand side by side: where the next one starts, and how far down this row of them reaches.
        self.picture_x, self.picture_bottom, self.picture_top = 0.0, self._top, self._top

    @property
    def _top(self) -> float:
        return self.frame.paper_height - 18

    def title(self, text: str) -> None:
        """The name of the whole."""
        self._write(text, "Helvetica-Bold", 15, after=2.5)

    def heading(self, text: str, keep: float = 8.0) -> None:
        """Of a section; `keep` mm of what follows stay on its page."""
        self._room(8 + keep)
        self.y -= 2.5
        self._write(text, "Helvetica-Bold", 11, after=1)

    def paragraph(self, text: str) -> None:
        """Over the whole width."""
        self._write(text, "Helvetica", 9.5, after=2)

    def item(self, text: str) -> None:
        """One of a list."""
        self._write(text, "Helvetica", 9.5, after=0.8, indent=4, bullet=True)

    def sample(self, text: str, colour: str, width: float, dash: Sequence[float]) -> None:
        """A piece of line and what it means."""
        self._room(6)
        canvas = self.canvas
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(width * mm)
        canvas.setDash([length * mm for length in dash])
        canvas.line(self.left * mm, (self.y - 3) * mm, (self.left + 20) * mm, (self.y - 3) * mm)
        canvas.setDash()
        self._write(text, "Helvetica", 9.5, after=0.8, indent=24)

    def picture(self, width: float, height: float, caption: str) -> tuple[float, float]:
        """Room for a picture beside the last one or under it; its lower left corner."""
        if self.picture_x + width > self.width or self.picture_x == 0:
            self.y = min(self.y, self.picture_bottom)
            self._room(height + 10)
            self.picture_x, self.picture_top = 0.0, self.y
            self.picture_bottom = self.y
        x, y = self.left + self.picture_x, self.picture_top - 5 - height
        self._font("Helvetica", 8)
        self.canvas.drawString(x * mm, (self.picture_top - 3.5) * mm, _printable(caption))
        self.picture_x += width + _PICTURE_GAP
        self.picture_bottom = min(self.picture_bottom, y - 3)
        return x, y

    def end(self) -> None:
        """Turn the last page."""
        self.canvas.showPage()

    def _font(self, font: str, size: float) -> None:
        self.canvas.setFont(font, size)
        self.canvas.setFillColor(_BLACK)

    def _room(self, height: float) -> None:
        if self.y - height < self.frame.bottom:
            self.canvas.showPage()
            self.y = self.picture_bottom = self._top
            self.picture_x = 0.0

    def _write(
        self, text: str, font: str, size: float, *, after: float, indent: float = 0.0, bullet: bool = False
    ) -> None:
        leading = size * 1.25 / mm
        lines = simpleSplit(_printable(in_units(text, self.units)), font, size, (self.width - indent) * mm)
        for number, line in enumerate(lines):
            self._room(leading)
            self.y -= leading
            self._font(font, size)
            if bullet and number == 0:
                self.canvas.drawString((self.left + 1) * mm, self.y * mm, "-")
            self.canvas.drawString((self.left + indent) * mm, self.y * mm, line)
        self.y -= after


def _printable(text: str) -> str:
    """Text in the characters that the PDF's own fonts have; others become question marks."""
    return text.encode("cp1252", "replace").decode("cp1252")


def _define(canvas: Canvas, drawing: SheetDrawing) -> None:
    """A sheet as a form: written once, shown on every page that it covers."""
    width, height = drawing.size
    # A millimetre more all round, for the width of the lines along the edge.
    west, north, east = math.floor(-mm), math.ceil((height + 1) * mm), math.ceil((width + 1) * mm)
    canvas.beginForm(drawing.name, west, west, east, north)
    for (layer, written), strokes in groupby(drawing.strokes, key=lambda s: (s.layer, s.is_written)):
        style = LAYERS[layer]
        _pen(canvas, style.colour, style.width, () if written else style.dash)
        path = canvas.beginPath()
        for stroke in strokes:
            (x, y), *rest = (stroke.points * mm).tolist()
            path.moveTo(x, y)
            for x, y in rest:
                path.lineTo(x, y)
            if stroke.closed:
                path.close()
        canvas.drawPath(path, stroke=1, fill=0)
    canvas.endForm()


def _pen(canvas: Canvas, colour: str, width: float, dash: Sequence[float] = ()) -> None:
    canvas.setStrokeColor(colour)
    canvas.setLineWidth(width * mm)
    canvas.setDash([length * mm for length in dash])


def _page(canvas: Canvas, tiling: Tiling, row: int, column: int, frame: Frame) -> None:
    """One page of a sheet, true size, with what is needed to check and to join it."""
    x0, y0 = tiling.corner(row, column)
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(frame.left * mm, frame.bottom * mm, frame.width * mm, frame.height * mm)
    canvas.clipPath(window, stroke=0, fill=0)
    canvas.translate((frame.left - x0) * mm, (frame.bottom - y0) * mm)
    canvas.doForm(tiling.drawing.name)
    _crosses(canvas, tiling, row, column)
    canvas.restoreState()
    _pen(canvas, _GREY, 0.1)
    canvas.rect(frame.left * mm, frame.bottom * mm, frame.width * mm, frame.height * mm)
    _bars(canvas, frame)
    top = frame.paper_height - 11
    canvas.setFillColor(_BLACK)
    canvas.setFont("Helvetica-Bold", 10)
    place = f"row {row + 1} of {tiling.rows}, column {column + 1} of {tiling.columns}"
    canvas.drawString(frame.left * mm, top * mm, f"{tiling.drawing.name}: {place}")
    canvas.setFont("Helvetica", 8)
    canvas.drawRightString((frame.left + frame.width) * mm, top * mm, "print at 100 %, no fit to page")
    canvas.showPage()


def _crosses(canvas: Canvas, tiling: Tiling, row: int, column: int) -> None:
    """Crosses in the middle of the overlap: lay those of two pages on each other."""
    _pen(canvas, _BLACK, 0.15)
    for x, y in tiling.crosses(row, column):
        canvas.line((x - _CROSS_MM) * mm, y * mm, (x + _CROSS_MM) * mm, y * mm)
        canvas.line(x * mm, (y - _CROSS_MM) * mm, x * mm, (y + _CROSS_MM) * mm)


def _bars(canvas: Canvas, frame: Frame) -> None:
    """A bar of 100 mm each way, to check the printer by."""
    _pen(canvas, _BLACK, 0.25)
    canvas.setFillColor(_BLACK)
    canvas.setFont("Helvetica", 7)
    x, y = frame.left, frame.bottom - 6
    canvas.line(x * mm, y * mm, (x + BAR_MM) * mm, y * mm)
    for end in (x, x + BAR_MM):
        canvas.line(end * mm, (y - 1.5) * mm, end * mm, (y + 1.5) * mm)
    canvas.drawString((x + BAR_MM + 2) * mm, (y - 1) * mm, "100 mm: measure both bars before you cut")
    x, y = frame.left - 6, frame.bottom
    canvas.line(x * mm, y * mm, x * mm, (y + BAR_MM) * mm)
    for end in (y, y + BAR_MM):
        canvas.line((x - 1.5) * mm, end * mm, (x + 1.5) * mm, end * mm)
    canvas.saveState()
    canvas.translate((x + 1) * mm, (y + BAR_MM + 2) * mm)
    canvas.rotate(90)
    canvas.drawString(0, 0, "100 mm")
    canvas.restoreState()


def _first_pages(canvas: Canvas, sheet_set: SheetSet, tilings: Sequence[Tiling], frame: Frame, units: Units) -> None:
    words = _Words(canvas, frame, units)
    material, machine = sheet_set.material, sheet_set.machine
    pages = sum(len(tiling.pages) for tiling in tilings)
    words.title(f"Sheets to cut from {material.title}")
    words.paragraph(
        f"{sheet_set.stock_words or 'No sheets'}, "
        f"{material.real_thickness:g} mm thick, with {sum(p.count for p in sheet_set.parts)} parts, true size on "
        f"{pages} pages. Print at 100 %, no fit to page, and measure the two bars on a page: 100 mm each. Join the "
        "pages of a sheet by laying their crosses on each other; pages on which nothing lies are left out."
    )
    words.paragraph(_about_lines(sheet_set))
    words.heading("Before you cut")
    loose = any(part.role == "door" for part in sheet_set.parts)
    for caution in dict.fromkeys((*cautions_of(material, machine, loose=loose), _FIRST)):
        words.item(caution)
    words.heading("Lines")
    used = {stroke.layer for tiling in tilings for stroke in tiling.drawing.strokes}
    for layer in (layer for layer in LAYERS if layer in used):
        style = LAYERS[layer]
        words.sample(f"{layer}: {style.meaning}", style.colour, style.width, style.dash)
    words.heading("Build")
    if material.glue:
        words.item(f"Glue: {material.glue}.")
    for note in (*_numbers(sheet_set), *(message.words for message in sheet_set.notes)):
        words.item(note)
    words.heading("Map of the pages (row, column)", keep=_MAP_HEIGHT + 10)
    for tiling in tilings:
        _map(canvas, words, tiling)
    words.end()


def _about_lines(sheet_set: SheetSet) -> str:
    if sheet_set.kerf == 0:
        return "Solid lines are the edges of the finished parts: cut along them."
    return (
        f"Solid lines are the edges of the finished parts, for cutting by hand along the line. {sheet_set.kerf_words}"
    )


def _numbers(sheet_set: SheetSet) -> Iterator[str]:
    """Where the numbers of this set's parts are; parts without one by name."""
    there = set(sheet_set.labels.values())
    for place, words in _NUMBERS.items():
        if place in there:
            yield words if place != "none" else f"{words}: {', '.join(sheet_set.unlabelled)}."


def _map(canvas: Canvas, words: _Words, tiling: Tiling) -> None:
    """A small picture of a sheet with the pages that show it."""
    width, height = tiling.size
    scale = min(_MAP_WIDTH / width, _MAP_HEIGHT / height)
    x, y = words.picture(_MAP_WIDTH, height * scale, tiling.drawing.name)
    canvas.saveState()
    canvas.translate(x * mm, y * mm)
    canvas.scale(scale, scale)
    canvas.doForm(tiling.drawing.name)
    _pen(canvas, _MAP_COLOUR, 0.25 / scale)
    canvas.setFont("Helvetica-Bold", 9 / scale)
    for row, column in tiling.pages:
        x0, y0, x1, y1 = tiling.window(row, column)
        canvas.rect(x0 * mm, y0 * mm, (x1 - x0) * mm, (y1 - y0) * mm)
        centre = ((x0 + x1) / 2 * mm, (y0 + y1) / 2 * mm)
        canvas.setFillColor("#ffffff")
        canvas.circle(centre[0], centre[1] + 3 / scale, 10 / scale, stroke=0, fill=1)
        canvas.setFillColor(_MAP_COLOUR)
        canvas.drawCentredString(*centre, f"{row + 1}, {column + 1}")
    canvas.restoreState()


# The saw list as pages to take to the bench

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
_HOW_SAWN = (
    "One setting of the fence serves all sheets: make every cut of a line before you move the fence, so that parts "
    "that must match are all alike. Edge A is the lower edge of each sheet and piece as drawn, edge B the left one; "
    "lay the named edge on the fence. Measure the first piece of each setting against 'expect'. R: a rip, C: a "
    "cross-cut. Set the fence only with the wire switched off or the blade away."
)


def _saw_pages(canvas: Canvas, saw: SawList, frame: Frame, units: Units = "mm") -> None:
    """Head and table, on as many pages as they need. units: of its lengths; settings keep their names."""
    words = _Words(canvas, frame, units)
    words.title("Saw list")
    words.paragraph("; ".join(f"{name}: {value}" for name, value in saw_head(saw)) + ".")
    words.paragraph(_HOW_SAWN)
    rows = [[Paragraph(title.replace(", mm", f", {units}"), _BOLD) for title, *_ in _COLUMNS]]
    for row in saw_rows(saw):
        cells = dict.fromkeys(HEADER, "") | row
        cells["from_each"] = cells["from_each"] or cells["out"]
        for key in ("fence_mm", "expect_mm"):
            cells[key] = cells[key] and show_length(float(cells[key]), units).removesuffix(f" {units}")
        for key in ("offcuts", "note"):
            cells[key] = in_units(cells[key], units)
        texts = ("<br/>".join(escape(_printable(cells[k])) for k in keys if cells[k]) for _, keys, _ in _COLUMNS)
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


# How each type goes together: a numbered picture from above beside its steps

_PICTURE, _CARD, _GAP = 34.0, 88.0, 6.0
_INK, _FLOOR, _WALL, _WAY = "#151515", "#f2efe6", "#b9bfc4", "#ffffff"
_CARD_TEXT, _LEADING = 8.0, 3.6
_HOW_ASSEMBLED = (
    "Each picture shows a tile from above, its own north at the top; the numbers give the order. First the base, then "
    "the outer walls round the tile, each against the one before, then inner walls, the long ones first, then posts. "
    "Glue walls by their inner faces: these stand where the grid puts them."
)


def _assembly_pages(
    canvas: Canvas, assemblies: Sequence[Assembly], numbers: Mapping[str, str], frame: Frame, units: Units = "mm"
) -> None:
    """As many pages as the cards need, in columns, read row by row."""
    words = _Words(canvas, frame, units)
    words.title("How each tile goes together")
    words.paragraph(_HOW_ASSEMBLED)
    columns = max(1, int((frame.width + _GAP) // (_CARD + _GAP)))
    top = words.y - 3
    for start in range(0, len(assemblies), columns):
        row = assemblies[start : start + columns]
        texts = [list(_lines(made, numbers.get(made.id, ""), units)) for made in row]
        height = max(_PICTURE + 6, *(_LEADING * (len(lines) + 1.5) for lines in texts))
        if top - height < frame.bottom:
            canvas.showPage()
            top = frame.paper_height - 18
        for column, (made, lines) in enumerate(zip(row, texts, strict=True)):
            _card(canvas, made, lines, frame.left + column * (_CARD + _GAP), top)
        top -= height + 3
    canvas.showPage()


def _lines(made: Assembly, number: str, units: Units) -> Iterator[tuple[str, str]]:
    """The card's text as (font, line)."""
    width = (_CARD - _PICTURE - 3) * mm
    head = f"{number}  {made.name}" if number else made.name
    for line in simpleSplit(_printable(head), "Helvetica-Bold", _CARD_TEXT, width):
        yield "Helvetica-Bold", line
    yield "Courier", made.id
    for step in made.steps:
        for line in simpleSplit(
            _printable(f"{step.number}  {in_units(step.words, units)}"), "Helvetica", _CARD_TEXT, width
        ):
            yield "Helvetica", line


def _card(canvas: Canvas, made: Assembly, lines: Sequence[tuple[str, str]], x: float, top: float) -> None:
    _picture(canvas, made, x, top)
    y = top - _LEADING
    canvas.setFillColor(_INK)
    for font, line in lines:
        canvas.setFont(font, _CARD_TEXT)
        canvas.drawString((x + _PICTURE + 3) * mm, y * mm, line)
        y -= _LEADING


def _picture(canvas: Canvas, made: Assembly, x: float, top: float) -> None:
    """The plan in a square, its upper left corner at (x, top)."""
    west, south, east, north = made.outline.bounds
    scale = _PICTURE / max(east - west, north - south)

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return (x + (point[0] - west) * scale) * mm, (top - (north - point[1]) * scale) * mm

    canvas.setDash()
    canvas.setStrokeColor(_INK)
    canvas.setLineWidth(0.2 * mm)
    for polygon, colour in ((made.outline, _FLOOR), *((f, _WALL) for f in made.feet), *((w, _WAY) for w in made.ways)):
        canvas.setFillColor(colour)
        path = canvas.beginPath()
        for ring in map(corners_of, rings_of(polygon)):
            first, *rest = [at(point) for point in ring]
            path.moveTo(*first)
            for point in rest:
                path.lineTo(*point)
            path.close()
        canvas.drawPath(path, stroke=1, fill=1, fillMode=0)
    for step in made.steps:
        for spot in step.spots:
            px, py = at(spot)
            canvas.setFillColor("#ffffff")
            canvas.circle(px, py, 1.75 * mm, stroke=1, fill=1)
            canvas.setFillColor(_INK)
            canvas.setFont("Helvetica-Bold", 7)
            canvas.drawCentredString(px, py - 2.4, str(step.number))
