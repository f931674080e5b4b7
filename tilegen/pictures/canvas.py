"""A small list of things to draw, in millimetres with y down, written as SVG and as PNG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from tilegen.geometry import Points
from tilegen.pictures.lettering import CAP_HEIGHT, clean, text_width
from tilegen.pictures.paint import paint
from tilegen.pictures.shapes import Anchor, Area, Discs, Hatch, Line, Rings, Shape, Text, polyline, rectangle

__all__ = [
    "CAP_HEIGHT",
    "Anchor",
    "Area",
    "Canvas",
    "Discs",
    "Hatch",
    "Line",
    "Points",
    "Rings",
    "Text",
    "clean",
    "polyline",
    "rectangle",
    "text_width",
]

# A PNG has so many pixels on its long side as a rule, and at most; per mm never more than the finest, and more
# than usual up to what is still readable.
USUAL_PIXELS, MOST_PIXELS = 2000, 4000
FINEST, READABLE = 4.0, 1.6


@dataclass
class Canvas:
    """A picture `width` x `height` mm. scale: what the SVG is shown at (its viewBox stays in mm of the thing drawn)."""

    width: float
    height: float
    title: str
    description: str = ""
    background: str = "#ffffff"
    scale: float = 1.0
    shapes: list[Shape] = field(default_factory=list)

    def area(
        self, polygons: Sequence[Rings], fill: str, *, hatch: Hatch | None = None, stroke: str = "", width: float = 0.0
    ) -> None:
        """Add filled polygons."""
        if polygons:
            self.shapes.append(Area(tuple(polygons), fill, hatch, stroke, width))

    def line(self, lines: Sequence[Points], stroke: str, width: float, *, dash: float = 0.0) -> None:
        """Add lines."""
        if lines:
            self.shapes.append(Line(tuple(lines), stroke, width, dash))

    def discs(self, centres: Points, radius: float, fill: str, *, stroke: str = "", width: float = 0.0) -> None:
        """Add discs about (n, 2) centres; with an outline, its outside is at the radius."""
        if len(centres):
            self.shapes.append(Discs(centres, radius, fill, stroke, width))

    def text(  # noqa: PLR0917 - a text is its place, its words and its size
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        anchor: Anchor = "start",
        turn: float = 0.0,
        *,
        colour: str = "#23272d",
        bold: bool = False,
        halo: str = "",
    ) -> None:
        """Add one line of text; what can't be printed in it is replaced."""
        words = clean(words)
        if words:
            self.shapes.append(Text(x, y, words, size, anchor, turn, colour, bold, halo))

    def svg(self) -> str:
        """The picture as an SVG document."""
        return _SvgWriter(self).document()

    def png(self, pixels_per_mm: float | None = None) -> bytes:
        """The picture as a PNG that knows its true size; as fine as its size asks for if nothing is said."""
        longest = max(self.width, self.height)
        usual = min(FINEST, max(USUAL_PIXELS / longest, min(READABLE, MOST_PIXELS / longest)))
        finest = usual if pixels_per_mm is None else pixels_per_mm
        return paint(self.shapes, (self.width, self.height), self.background or "#ffffff", finest)


class _SvgWriter:
    """Writes a canvas as SVG; one instance for one document."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.hatches: dict[Hatch, str] = {}

    def document(self) -> str:
        canvas = self.canvas
        body = [self._shape(shape) for shape in canvas.shapes]
        width, height = _n(canvas.width), _n(canvas.height)
        head = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(canvas.width * canvas.scale)}mm" '
            f'height="{_n(canvas.height * canvas.scale)}mm" viewBox="0 0 {width} {height}" role="img" '
            'font-family="sans-serif">',
            f"<title>{escape(clean(canvas.title))}</title>",
        ]
        if canvas.description:
            head.append(f"<desc>{escape(clean(canvas.description))}</desc>")
        if self.hatches:
            head += ["<defs>", *(_pattern(hatch, name) for hatch, name in self.hatches.items()), "</defs>"]
        if canvas.background:
            head.append(f'<rect width="{width}" height="{height}" fill="{canvas.background}"/>')
        return "\n".join([*head, *body, "</svg>", ""])

    def _shape(self, shape: Shape) -> str:
        if isinstance(shape, Area):
            return self._area(shape)
        if isinstance(shape, Discs):
            return _svg_discs(shape)
        return _svg_line(shape) if isinstance(shape, Line) else _svg_text(shape)

    def _area(self, area: Area) -> str:
        path = "".join(_path(ring) + "Z" for rings in area.polygons for ring in rings)
        stroke = f' stroke="{area.stroke}" stroke-width="{_n(area.width)}"' if area.stroke else ""
        drawn = f'<path d="{path}" fill="{area.fill or "none"}" fill-rule="evenodd"{stroke}/>'
        if area.hatch is None:
            return drawn
        # Named by what it looks like: several pictures in one page never mean two things by one name.
        look = f"{area.hatch.colour[1:]}-{_n(area.hatch.spacing)}-{_n(area.hatch.width)}"
        look += "" if area.hatch.look == "rising" else f"-{area.hatch.look}"
        name = self.hatches.setdefault(area.hatch, f"hatch-{look}".replace(".", "_"))
        return f'{drawn}\n<path d="{path}" fill="url(#{name})" fill-rule="evenodd"/>'


def _pattern(hatch: Hatch, name: str) -> str:
    spacing, turn = _n(hatch.spacing), -45 if hatch.look == "falling" else 45
    if hatch.look == "dotted":
        half = _n(hatch.spacing / 2)
        drawn = f'<circle cx="{half}" cy="{half}" r="{_n(hatch.width / 2)}" fill="{hatch.colour}"/>'
    else:
        # Half of a line on the tile's edge lies beyond it.
        path = f"M0 0V{spacing}" + (f"M0 0H{spacing}" if hatch.look == "crossed" else "")
        drawn = f'<path d="{path}" stroke="{hatch.colour}" stroke-width="{_n(hatch.width * 2)}"/>'
    return (
        f'<pattern id="{name}" width="{spacing}" height="{spacing}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({turn})">{drawn}</pattern>'
    )


def _svg_discs(discs: Discs) -> str:
    """Lines without length and with round ends are discs: short to write where there are many."""
    path = "".join(f"M{_n(x)} {_n(y)}h0" for x, y in discs.centres.tolist())
    layers = [(discs.stroke, discs.radius), (discs.fill, discs.radius - discs.width)] if discs.stroke else []
    return "\n".join(
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{_n(2 * radius)}" stroke-linecap="round"/>'
        for colour, radius in layers or [(discs.fill, discs.radius)]
    )


def _svg_line(line: Line) -> str:
    path = "".join(_path(points) for points in line.lines)
    dash = f' stroke-dasharray="{_n(line.dash)}"' if line.dash else ""
    return f'<path d="{path}" fill="none" stroke="{line.stroke}" stroke-width="{_n(line.width)}"{dash}/>'


def _svg_text(text: Text) -> str:
    x, y = _n(text.x), _n(text.y)
    more = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    if text.turn:
        more += f' transform="rotate({_n(text.turn)} {x} {y})"'
    if text.bold:
        more += ' font-weight="bold"'
    if text.halo:
        more += (
            f' stroke="{text.halo}" stroke-width="{_n(text.size * 0.3)}" stroke-linejoin="round" paint-order="stroke"'
        )
    return f'<text x="{x}" y="{y}" font-size="{_n(text.size)}" fill="{text.colour}"{more}>{escape(text.words)}</text>'


def _path(points: Points) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points.tolist())


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
