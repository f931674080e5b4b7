"""Words on the first pages of a PDF: headings, paragraphs, items and small pictures, from the top down."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from tilegen.lengths import Units, in_units
from tilegen.sheets.pages import Frame

_BLACK = "#151515"
_GAP_MM = 6.0


class Words:
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
        self.canvas.drawString(x * mm, (self.picture_top - 3.5) * mm, printable(caption))
        self.picture_x += width + _GAP_MM
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
        lines = simpleSplit(printable(in_units(text, self.units)), font, size, (self.width - indent) * mm)
        for number, line in enumerate(lines):
            self._room(leading)
            self.y -= leading
            self._font(font, size)
            if bullet and number == 0:
                self.canvas.drawString((self.left + 1) * mm, self.y * mm, "-")
            self.canvas.drawString((self.left + indent) * mm, self.y * mm, line)
        self.y -= after


def printable(text: str) -> str:
    """Text in the characters that the PDF's own fonts have; others become question marks."""
    return text.encode("cp1252", "replace").decode("cp1252")
