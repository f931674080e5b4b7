"""Pages of paper: text that runs down a page, tables, bars to check the printer by; lengths in mm, y down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tilegen.lengths import Units, in_units
from tilegen.model.words import PAPERS, Paper
from tilegen.pictures.canvas import Canvas, Shape, moved, pdf_of, polyline, printed_width, rectangle

MARGIN = 11.0
INK, QUIET, RULE = "#151515", "#666666", "#151515"
# Text sizes in mm: titles, headings, text, small; 1 pt is 0.353 mm, and nothing is under 8 pt.
TITLE, HEADING, TEXT, SMALL = 7.0, 4.4, 3.35, 2.85
LEADING = 1.32
_FOOT = 9.0
# Of the bars that a printer is checked by.
BAR_MM = 100.0


def wrapped_text(words: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """Text in lines of at most `width` mm, as the PDF's fonts run; a longer word stays whole."""
    lines: list[str] = []
    for word in words.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and printed_width(joined, size, bold=bold) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


@dataclass
class Booklet:
    """Pages of one size, written from the top down.

    title: of the whole, at the foot of each page. units: what lengths in its words are shown in. y: how far down the
    last page is full.
    """

    title: str
    paper: Paper = "A4"
    units: Units = "mm"
    pages: list[Canvas] = field(default_factory=list)
    y: float = 0.0

    @property
    def page(self) -> Canvas:
        """The last one."""
        return self.pages[-1]

    @property
    def width(self) -> float:
        """Between the margins."""
        return PAPERS[self.paper][0] - 2 * MARGIN

    @property
    def bottom(self) -> float:
        """Where a page's text ends."""
        return PAPERS[self.paper][1] - MARGIN - _FOOT

    @property
    def room(self) -> float:
        """What is left of the page."""
        return self.bottom - self.y

    def turn(self) -> Canvas:
        """A new page."""
        width, height = PAPERS[self.paper]
        self.pages.append(Canvas(width, height, self.title))
        self.y = MARGIN
        return self.page

    def keep(self, height: float) -> bool:
        """Turn the page if there is less room than this; whether it was turned."""
        if self.room < height:
            self.turn()
            return True
        return False

    def heading(self, words: str, beside: str = "", *, size: float = TITLE) -> None:
        """A title, with a smaller line beside or under it."""
        beside = in_units(beside, self.units)
        self.y += size
        self.page.text(MARGIN, self.y, words, size, bold=True, colour=INK)
        beside, end = in_units(beside, self.units), MARGIN + printed_width(words, size, bold=True) + 6.0
        self.y += 0.35 * size
        if beside and end + printed_width(beside, TEXT) <= MARGIN + self.width:
            self.page.text(end, self.y - 0.35 * size, beside, TEXT, colour=INK)
        elif beside:
            self.paragraph(beside)

    def rule(self) -> None:
        """A line across."""
        self.y += 1.5
        self.page.line([polyline((MARGIN, self.y), (MARGIN + self.width, self.y))], RULE, 0.4)
        self.y += 1.5

    def paragraph(
        self, words: str, *, size: float = TEXT, left: float = MARGIN, width: float | None = None, bold: bool = False
    ) -> None:
        """Text from here on down, over as many lines as it takes."""
        words = in_units(words, self.units)
        for line in wrapped_text(words, size, self.width if width is None else width, bold=bold):
            self.keep(size * LEADING)
            self.y += size * LEADING
            self.page.text(left, self.y, line, size, colour=INK, bold=bold)

    def items(self, numbered: Sequence[str], *, left: float = MARGIN, width: float | None = None) -> None:
        """Steps with their numbers."""
        for number, words in enumerate(numbered, 1):
            self.keep(TEXT * LEADING)
            self.page.text(left, self.y + TEXT * LEADING, str(number), TEXT, bold=True, colour=INK)
            self.paragraph(words, left=left + 5.5, width=(self.width if width is None else width) - 5.5)
            self.y += 0.4

    def pairs(self, rows: Sequence[tuple[str, str]], *, left: float, width: float) -> None:
        """Names on the left and values on the right, one pair per line."""
        for name, given in rows:
            value = in_units(given, self.units)
            wide = width - printed_width(value, TEXT, bold=True) - 2.0
            lines = wrapped_text(in_units(name, self.units), TEXT, wide)
            for number, line in enumerate(lines):
                self.y += TEXT * LEADING
                self.page.text(left, self.y, line, TEXT, colour=INK)
                if number == 0:
                    self.page.text(left + width, self.y, value, TEXT, "end", bold=True, colour=INK)
            self.y += 0.5

    def table(self, titles: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float]) -> None:
        """A table over the whole width. shares: of the columns in it."""
        edges = [MARGIN]
        for share in shares:
            edges.append(edges[-1] + share * self.width)

        def row(cells: Sequence[str], *, bold: bool) -> None:
            lines = [
                wrapped_text(in_units(cell, self.units), SMALL, (b - a) - 1.5, bold=bold)
                for cell, a, b in zip(cells, edges, edges[1:], strict=False)
            ]
            height = max(map(len, lines), default=1) * SMALL * LEADING + 1.6
            if self.keep(height) and not bold:
                row(titles, bold=True)
            for found, x in zip(lines, edges, strict=False):
                for number, line in enumerate(found, 1):
                    y = self.y + 0.2 + number * SMALL * LEADING
                    self.page.text(x, y, line, SMALL, bold=bold, colour=INK)
            self.y += height
            self.page.line([polyline((MARGIN, self.y), (MARGIN + self.width, self.y))], QUIET, 0.15)

        row(titles, bold=True)
        for cells in rows:
            row(cells, bold=False)

    def place(self, shapes: Sequence[Shape], x: float, y: float, scale: float = 1.0) -> None:
        """Shapes of another picture, their (0, 0) at (x, y)."""
        self.page.shapes += [moved(shape, x, y, scale) for shape in shapes]

    def pdf(self) -> bytes:
        """The whole, its pages numbered."""
        for number, page in enumerate(self.pages, 1):
            page.text(MARGIN, page.height - MARGIN + 2.0, self.title, SMALL, colour=QUIET)
            words = f"page {number} of {len(self.pages)}"
            page.text(page.width - MARGIN, page.height - MARGIN + 2.0, words, SMALL, "end", colour=QUIET)
        return pdf_of(self.pages, self.title)


def bars(canvas: Canvas, x: float, y: float, *, upright: bool = False) -> None:
    """A bar whose outside measures 100 mm, in ten fields, with its length beside it; (x, y): its least corner."""
    line, deep = 0.25, 2.2
    whole = (BAR_MM, deep) if not upright else (deep, BAR_MM)
    step = BAR_MM / 10
    fields = [
        rectangle(x, y + n * step, x + deep, y + (n + 1) * step)
        if upright
        else rectangle(x + n * step, y, x + (n + 1) * step, y + deep)
        for n in range(0, 10, 2)
    ]
    canvas.area(fields, INK)
    # The stroke lies inside, so that the outside of the line is exactly the length.
    half = line / 2
    canvas.area([rectangle(x + half, y + half, x + whole[0] - half, y + whole[1] - half)], "", stroke=INK, width=line)
    if upright:
        canvas.text(x - 1.2, y + BAR_MM, "100 mm", TEXT, "start", -90.0, bold=True, colour=INK)
    else:
        canvas.text(x, y + deep + TEXT, "100 mm: measure this bar on the print", TEXT, bold=True, colour=INK)
