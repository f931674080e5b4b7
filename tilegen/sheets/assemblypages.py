"""Pages that show how each type goes together: a numbered picture from above beside its steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from tilegen.geometry import corners_of, rings_of
from tilegen.lengths import Units, in_units
from tilegen.sheets.assembly import Assembly
from tilegen.sheets.pages import Frame
from tilegen.sheets.pdfwords import Words, printable

_PICTURE, _CARD, _GAP = 34.0, 88.0, 6.0
_INK, _FLOOR, _WALL, _WAY = "#151515", "#f2efe6", "#b9bfc4", "#ffffff"
_TEXT, _LEADING = 8.0, 3.6
_HOW = (
    "Each picture shows a tile from above, its own north at the top; the numbers give the order. First the base, then "
    "the outer walls round the tile, each against the one before, then inner walls, the long ones first, then posts. "
    "Glue walls by their inner faces: these stand where the grid puts them."
)


def assembly_pages(
    canvas: Canvas, assemblies: Sequence[Assembly], numbers: Mapping[str, str], frame: Frame, units: Units = "mm"
) -> None:
    """As many pages as the cards need, in columns, read row by row."""
    words = Words(canvas, frame, units)
    words.title("How each tile goes together")
    words.paragraph(_HOW)
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
    for line in simpleSplit(printable(head), "Helvetica-Bold", _TEXT, width):
        yield "Helvetica-Bold", line
    yield "Courier", made.id
    for step in made.steps:
        for line in simpleSplit(printable(f"{step.number}  {in_units(step.words, units)}"), "Helvetica", _TEXT, width):
            yield "Helvetica", line


def _card(canvas: Canvas, made: Assembly, lines: Sequence[tuple[str, str]], x: float, top: float) -> None:
    _picture(canvas, made, x, top)
    y = top - _LEADING
    canvas.setFillColor(_INK)
    for font, line in lines:
        canvas.setFont(font, _TEXT)
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
