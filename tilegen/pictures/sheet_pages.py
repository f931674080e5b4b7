"""Whole sheets as pages in true size: a map of the pages, then every sheet; sheets that are pages of a home printer."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import NamedTuple, get_args

import numpy as np
import shapely
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import Polygon

from tilegen.files.stock import BEFORE_ALL, cautions_of
from tilegen.lengths import Units, in_units
from tilegen.model.materials import BLANK_EDGE_MM
from tilegen.model.words import PAPERS, Paper
from tilegen.pictures.canvas import new_pdf
from tilegen.pictures.paper import BAR_MM
from tilegen.sheets.drawing import LAYERS, SheetDrawing
from tilegen.sheets.labels import Place
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


def page_files(
    sheet_set: SheetSet, *, paper: Paper = "A4", units: Units = "mm", whole: bool = False
) -> dict[str, bytes]:
    """The pages of a set by the name of their file: sheets that are pages themselves, or whole sheets if asked for.

    units: what their words speak in.

    Raises:
        ValueError: another paper or unit.
    """
    if paper not in PAPERS or units not in get_args(Units):
        raise ValueError(
            f"paper {paper!r}, units {units!r}: expected {', '.join(PAPERS)}; {', '.join(get_args(Units))}"
        )
    name = f"{sheet_set.material.name}.pdf"
    if sheet_set.material.printed is not None:
        return {name: printed_pdf(sheet_set)}
    return {name: pdf_bytes(sheet_set, paper, units)} if whole else {}


def pdf_bytes(sheet_set: SheetSet, paper: Paper, units: Units) -> bytes:
    """The file's content; the outlines are those of the finished parts, kerf left out. units: of its words."""
    size = PAPERS[paper][0] * mm, PAPERS[paper][1] * mm
    frame = Frame(size[0] / mm, size[1] / mm)
    content = io.BytesIO()
    canvas = new_pdf(content, f"Sheets to cut: {sheet_set.material.name}", size)
    tilings = [tile_pages(sheet.nominal, frame) for sheet in sheet_set.sheets]
    for tiling in tilings:
        _define(canvas, turned(tiling.drawing) if tiling.turned else tiling.drawing)
    _first_pages(canvas, sheet_set, tilings, frame, units)
    for tiling in tilings:
        for row, column in tiling.pages:
            _page(canvas, tiling, row, column, frame)
    canvas.save()
    return content.getvalue()


def drawing_pdf(drawing: SheetDrawing, title: str, words: Sequence[str], paper: Paper) -> bytes:
    """One drawing, true size, after a page that describes it; the file's content."""
    frame = Frame(*PAPERS[paper])
    content = io.BytesIO()
    canvas = new_pdf(content, title, (frame.paper_width * mm, frame.paper_height * mm))
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


def printed_pdf(sheet_set: SheetSet) -> bytes:
    """Sheets that are pages of a printer's paper: one page for each copy, the parts on it in true size.

    Nothing else is on it but a bar to measure, where the parts leave room: what is printed stays on the tiles.
    """
    content = io.BytesIO()
    canvas = new_pdf(content, f"Sheets to print on {sheet_set.material.name}")
    for sheet in sheet_set.sheets:
        parts = replace(sheet.nominal, strokes=tuple(s for s in sheet.nominal.strokes if LAYERS[s.layer].made))
        bar = bar_beside(parts)
        _define(canvas, parts)
        for _ in range(sheet.copies):
            canvas.setPageSize((sheet.nominal.size[0] * mm, sheet.nominal.size[1] * mm))
            canvas.doForm(sheet.name)
            if bar:
                _small_bar(canvas, bar)
            canvas.showPage()
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


def _small_bar(canvas: Canvas, place: BarPlace) -> None:
    """A bar in its place on a page."""
    canvas.saveState()
    canvas.translate(place.x * mm, place.y * mm)
    if place.upright:
        canvas.translate(BAR_ROOM_MM * mm, 0)
        canvas.rotate(90)
    _pen(canvas, _BLACK, 0.2)
    for x0, y0, x1, y1 in ((0, 1, BAR_MM, 1), (0, 0, 0, 2), (BAR_MM, 0, BAR_MM, 2)):
        canvas.line(x0 * mm, y0 * mm, x1 * mm, y1 * mm)
    canvas.setFont("Helvetica", 7)
    canvas.setFillColor(_BLACK)
    canvas.drawString(1 * mm, 1.8 * mm, "100 mm: measure this before you print the rest")
    canvas.restoreState()


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
    for caution in dict.fromkeys((*cautions_of(material, machine, loose=loose), BEFORE_ALL)):
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


# How a sheet is spread over pages, and where a bar has room

OVERLAP_MM = 10.0
# Printers leave 5 to 10 mm of an edge blank (common practice, no source); the bars and the title need room besides.
_LEFT, _BOTTOM, _RIGHT, _TOP = 18.0, 18.0, 10.0, 15.0


# How much room a bar beside parts takes across, with its words; how far it stays from them; where it is tried.
BAR_ROOM_MM = 4.5
_BAR_CLEAR_MM, _BAR_STEP_MM = 1.0, 2.0


class BarPlace(NamedTuple):
    """The least corner of a bar with its words on a page, mm. upright: it stands."""

    x: float
    y: float
    upright: bool


def bar_beside(drawing: SheetDrawing) -> BarPlace | None:
    """Where a page with parts has room for a bar that the printer reaches; None: nowhere."""
    (width, height), edge = drawing.size, BLANK_EDGE_MM
    parts = [Polygon(stroke.points) for stroke in drawing.strokes if stroke.layer == "CUT_OUTER"]
    taken = shapely.union_all(parts).buffer(_BAR_CLEAR_MM)
    shapely.prepare(taken)
    for upright in (False, True):
        wide, high = (BAR_ROOM_MM, BAR_MM) if upright else (BAR_MM, BAR_ROOM_MM)
        xs, ys = (
            np.unique([*np.arange(edge, most, _BAR_STEP_MM), most])
            for most in (width - edge - wide, height - edge - high)
        )
        x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
        free = ~shapely.intersects(taken, shapely.box(x, y, x + wide, y + high))
        if free.any():
            first = int(np.argmax(free))
            return BarPlace(float(x[first]), float(y[first]), upright)
    return None


@dataclass(frozen=True, slots=True)
class Frame:
    """A page in mm and, inside it, the window that shows a piece of the sheet."""

    paper_width: float
    paper_height: float
    left: float = _LEFT
    bottom: float = _BOTTOM

    @property
    def width(self) -> float:
        """Of the window."""
        return self.paper_width - _LEFT - _RIGHT

    @property
    def height(self) -> float:
        """Of the window."""
        return self.paper_height - _BOTTOM - _TOP


@dataclass(frozen=True, eq=False, slots=True)
class Tiling:
    """A sheet on pages; rows from the top, columns from the left, both from 0. pages: those that show something."""

    drawing: SheetDrawing
    turned: bool
    frame: Frame
    rows: int
    columns: int
    pages: tuple[tuple[int, int], ...]

    @property
    def size(self) -> tuple[float, float]:
        """Of the sheet as it lies on the pages."""
        width, height = self.drawing.size
        return (height, width) if self.turned else (width, height)

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """The point of the sheet in the lower left corner of a page's window."""
        # From the sheet's top down, so that what the last row has to spare stays blank at its bottom.
        step = self.frame.height - OVERLAP_MM
        return column * (self.frame.width - OVERLAP_MM), self.size[1] - self.frame.height - row * step

    def window(self, row: int, column: int) -> tuple[float, float, float, float]:
        """What a page shows of the sheet: least and greatest x and y."""
        x, y = self.corner(row, column)
        return x, max(y, 0.0), min(x + self.frame.width, self.size[0]), y + self.frame.height

    def crosses(self, row: int, column: int) -> Iterator[tuple[float, float]]:
        """Where a page's crosses stand on the sheet: in the middle of what it shares with its neighbours."""
        x, y = self.corner(row, column)
        half = OVERLAP_MM / 2
        for right in (False, True):
            for upper in (False, True):
                beside = column + (1 if right else -1)
                above = row + (-1 if upper else 1)
                if 0 <= beside < self.columns or 0 <= above < self.rows:
                    yield (
                        x + (self.frame.width - half if right else half),
                        y + (self.frame.height - half if upper else half),
                    )


def tile_pages(drawing: SheetDrawing, frame: Frame) -> Tiling:
    """The way to lay a sheet on pages, straight or turned by 90 degrees, that takes fewer of them."""
    straight, across = _tiling(drawing, frame, turned_left=False), _tiling(drawing, frame, turned_left=True)
    return across if len(across.pages) < len(straight.pages) else straight


def turned(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing turned to the left by 90 degrees."""
    width, height = drawing.size
    strokes = tuple(
        replace(s, points=np.stack([height - s.points[:, 1], s.points[:, 0]], axis=1)) for s in drawing.strokes
    )
    return replace(drawing, size=(height, width), strokes=strokes)


def _tiling(drawing: SheetDrawing, frame: Frame, *, turned_left: bool) -> Tiling:
    width, height = drawing.size[::-1] if turned_left else drawing.size
    columns, rows = _count(width, frame.width), _count(height, frame.height)
    empty = Tiling(drawing, turned_left, frame, rows, columns, ())
    bounds = drawing.bounds[[LAYERS[stroke.layer].made for stroke in drawing.strokes]]
    if turned_left:
        west, south, east, north = bounds.T
        bounds = np.stack([drawing.size[1] - north, west, drawing.size[1] - south, east], axis=1)
    pages = []
    for row in range(rows):
        for column in range(columns):
            x0, y0, x1, y1 = empty.window(row, column)
            meets = (bounds[:, 0] <= x1) & (bounds[:, 2] >= x0) & (bounds[:, 1] <= y1) & (bounds[:, 3] >= y0)
            if meets.any():
                pages.append((row, column))
    return replace(empty, pages=tuple(pages))


def _count(side: float, window: float) -> int:
    return max(1, math.ceil((side - OVERLAP_MM) / (window - OVERLAP_MM) - 1e-9))
