"""A small list of things to draw, in millimetres with y down, written as SVG and as PNG."""

from __future__ import annotations

import io
import math
import re
import unicodedata
import zlib
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Literal
from xml.sax.saxutils import escape

import numpy as np
import shapely
from PIL import Image, ImageChops, ImageDraw, ImageFont
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Points
from tilegen.lengths import MM_PER_INCH

if TYPE_CHECKING:
    from reportlab.lib.colors import Color
    from reportlab.pdfgen.canvas import Canvas as Pages
    from reportlab.pdfgen.pathobject import PDFPathObject

# What a picture is made of: areas, lines, discs and text, in millimetres with y down.

# An outer ring and its holes, each (n, 2).
Rings = tuple[Points, ...]
Anchor = Literal["start", "middle", "end"]
Look = Literal["rising", "falling", "crossed", "dotted"]


@dataclass(frozen=True, slots=True)
class Hatch:
    """Lines at 45 degrees, or dots, over a fill. spacing: between lines or rows, in mm; width: of a line, of a dot.

    rising: from the lower left to the upper right; falling: the other way; crossed: both.
    """

    colour: str
    spacing: float
    width: float
    look: Look = "rising"


@dataclass(frozen=True, slots=True)
class Area:
    """Filled polygons that look alike, each with its holes, none over another.

    Without a fill the hatch lies over what is there.
    """

    polygons: tuple[Rings, ...]
    fill: str
    hatch: Hatch | None = None
    stroke: str = ""
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Polylines:
    """Lines that look alike. dash: length of the strokes and of the gaps in mm, 0 for a full line."""

    lines: tuple[Points, ...]
    stroke: str
    width: float
    dash: float = 0.0


@dataclass(frozen=True, slots=True)
class Discs:
    """Discs of one size, filled and outlined. centres: (n, 2); radius: to the outside of the outline, in mm."""

    centres: Points
    radius: float
    fill: str
    stroke: str = ""
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text. (x, y): on the baseline at the anchor; turn: clockwise degrees about it; halo: its backing."""

    x: float
    y: float
    words: str
    size: float
    anchor: Anchor
    turn: float
    colour: str
    bold: bool
    halo: str


@dataclass(frozen=True, slots=True)
class Photo:
    """An image that fills polygons, again and again from a corner on. (x, y): its upper left corner, mm.

    data: the bytes of its file. size: (width, height) of it once, mm. upside_down: turned by half.
    """

    polygons: tuple[Rings, ...]
    data: bytes
    x: float
    y: float
    size: tuple[float, float]
    upside_down: bool

    @property
    def region(self) -> BaseGeometry:
        """The polygons as one."""
        return shapely.union_all([Polygon(rings[0], rings[1:]) for rings in self.polygons])

    def places(self) -> list[tuple[float, float]]:
        """The upper left corners of the images that the polygons show parts of."""
        (west, north), (east, south) = (
            find([ring for rings in self.polygons for ring in rings[:1]]) for find in (_least, _most)
        )
        (width, height), (x, y) = self.size, (self.x, self.y)
        columns = range(math.floor((west - x) / width), math.ceil((east - x) / width))
        rows = range(math.floor((north - y) / height), math.ceil((south - y) / height))
        return [(x + column * width, y + row * height) for row in rows for column in columns]


def _least(rings: Sequence[Points]) -> list[float]:
    return list(np.concatenate(rings).min(axis=0).tolist())


def _most(rings: Sequence[Points]) -> list[float]:
    return list(np.concatenate(rings).max(axis=0).tolist())


Shape = Area | Polylines | Discs | Text | Photo


def moved(shape: Shape, x: float, y: float, scale: float = 1.0) -> Shape:
    """A shape of one picture in another: scaled about its (0, 0), which then lies at (x, y)."""
    if isinstance(shape, Area):
        polygons = tuple(tuple(ring * scale + (x, y) for ring in rings) for rings in shape.polygons)
        hatch = shape.hatch and replace(
            shape.hatch, spacing=shape.hatch.spacing * scale, width=shape.hatch.width * scale
        )
        return replace(shape, polygons=polygons, hatch=hatch, width=shape.width * scale)
    if isinstance(shape, Polylines):
        lines = tuple(line * scale + (x, y) for line in shape.lines)
        return replace(shape, lines=lines, width=shape.width * scale, dash=shape.dash * scale)
    if isinstance(shape, Discs):
        centres = shape.centres * scale + (x, y)
        return replace(shape, centres=centres, radius=shape.radius * scale, width=shape.width * scale)
    if isinstance(shape, Photo):
        polygons = tuple(tuple(ring * scale + (x, y) for ring in rings) for rings in shape.polygons)
        size = shape.size[0] * scale, shape.size[1] * scale
        return replace(shape, polygons=polygons, x=shape.x * scale + x, y=shape.y * scale + y, size=size)
    return replace(shape, x=shape.x * scale + x, y=shape.y * scale + y, size=shape.size * scale)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Rings:
    """An upright rectangle as rings."""
    return (np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], np.float64),)


def polyline(*points: tuple[float, float]) -> Points:
    """Points as an array."""
    return np.array(points, np.float64)


# Text in pictures: what may stand in it, how wide it runs, and the fonts that draw it.

# Capital letters reach this share of the text size above the baseline (common practice, no source).
CAP_HEIGHT = 0.72
# Fonts of other machines run wider than the bundled one by about this factor (measured on DejaVu Sans).
WIDEST_FONT = 1.16
_NOT_IN_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_SPELT_OUT = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D"}
    | {"þ": "th", "Þ": "Th", "ð": "d", "×": "x", "–": "-", "—": "-", "…": "...", "\u00a0": " "}
)
_FURTHER_FONTS = ("DejaVuSans.ttf", "NotoSans-Regular.ttf", "Arial Unicode.ttf", "arial.ttf")


def clean(words: str) -> str:
    """Text on one line, without characters that XML forbids."""
    return " ".join(_NOT_IN_XML.sub("\ufffd", words).split())


def text_width(words: str, size: float) -> float:
    """The width of a line of text in mm, in the widest of the usual fonts. size: in mm."""
    return WIDEST_FONT * size / 100 * _length(clean(words))


@lru_cache(maxsize=4096)
def _length(words: str) -> float:
    """The width of clean text at size 100."""
    return float(font_of(100).getlength(drawable(words)))


@lru_cache(maxsize=64)
def font_of(pixels: int, words: str = "") -> ImageFont.FreeTypeFont:
    """Pillow's own font, so that a machine without fonts draws too; another one only for letters it lacks."""
    bundled = ImageFont.load_default(pixels)
    if not isinstance(bundled, ImageFont.FreeTypeFont):
        raise ImportError("Pillow without FreeType can't draw text")  # noqa: TRY004 - it is the install that is wrong
    if _lacks(words):
        for name in _FURTHER_FONTS:
            try:
                return ImageFont.truetype(name, pixels)
            except OSError:
                continue
    return bundled


@lru_cache(maxsize=1024)
def drawable(words: str) -> str:
    """The text as the PNG shows it: accents dropped, which the bundled font lacks; the SVG keeps them."""
    if words.isascii():
        return words
    plain = unicodedata.normalize("NFKD", words.translate(_SPELT_OUT))
    stripped = "".join(c for c in plain if not unicodedata.combining(c))
    return stripped if not _lacks(stripped) else unicodedata.normalize("NFC", words)


def _lacks(words: str) -> bool:
    """Whether the bundled font draws its box for a missing letter somewhere in the text."""
    font = ImageFont.load_default(20)
    if words.isascii() or not isinstance(font, ImageFont.FreeTypeFont):
        return False
    box = bytes(font.getmask("\ufffe"))
    return any(bytes(font.getmask(c)) == box for c in sorted(set(words)) if not c.isascii())


# Shapes painted as pixels.

SUPERSAMPLING = 2


def paint(shapes: Sequence[Shape], size: tuple[float, float], background: str, pixels_per_mm: float) -> bytes:
    """A PNG of shapes on a page of `size` (width, height in mm) that knows its true size."""
    return _Painter(size, background, pixels_per_mm).png(shapes)


class _Painter:
    """Paints at twice its size and halves it; one instance for one picture."""

    def __init__(self, size: tuple[float, float], background: str, pixels_per_mm: float) -> None:
        self.pixels_per_mm = pixels_per_mm
        self.scale = pixels_per_mm * SUPERSAMPLING
        self.image = Image.new("RGB", (self._whole(size[0]), self._whole(size[1])), background)
        self.draw = ImageDraw.Draw(self.image)

    def png(self, shapes: Sequence[Shape]) -> bytes:
        for shape in shapes:
            if isinstance(shape, Area):
                self._area(shape)
            elif isinstance(shape, Polylines):
                self._line(shape)
            elif isinstance(shape, Discs):
                self._discs(shape)
            elif isinstance(shape, Photo):
                self._photo(shape)
            else:
                self._text(shape)
        small = self.image.reduce(SUPERSAMPLING)
        out = io.BytesIO()
        dots_per_inch = self.pixels_per_mm * float(MM_PER_INCH)
        small.save(out, "PNG", compress_level=3, dpi=(dots_per_inch, dots_per_inch))
        return out.getvalue()

    def _whole(self, mm: float) -> int:
        return max(math.ceil(mm * self.pixels_per_mm - 1e-6), 1) * SUPERSAMPLING

    def _pixels(self, points: Points) -> list[float]:
        # A pixel's centre lies half a pixel from its corner.
        flat: list[float] = (points * self.scale - 0.5).ravel().tolist()
        return flat

    def _stroke(self, width: float) -> int:
        return max(round(width * self.scale), 1)

    def _area(self, area: Area) -> None:
        for rings in area.polygons:
            if len(rings) == 1 and area.hatch is None:
                self.draw.polygon(self._pixels(rings[0]), fill=area.fill or None)
            else:
                self._masked(rings, area)
            if area.stroke:
                for ring in rings:
                    self._draw_line(_closed(ring), area.stroke, self._stroke(area.width))

    def _masked(self, rings: Rings, area: Area) -> None:
        """A polygon with holes or a hatch, through a mask of its bounding box."""
        low = np.floor(rings[0].min(axis=0) * self.scale).astype(int) - 1
        high = np.ceil(rings[0].max(axis=0) * self.scale).astype(int) + 2
        size = (int(high[0] - low[0]), int(high[1] - low[1]))
        mask = Image.new("L", size, 0)
        pen = ImageDraw.Draw(mask)
        for number, ring in enumerate(rings):
            moved = (ring * self.scale - 0.5 - low).ravel().tolist()
            pen.polygon(moved, fill=0 if number else 255)
        corner = (int(low[0]), int(low[1]))
        if area.fill:
            self.image.paste(area.fill, (*corner, corner[0] + size[0], corner[1] + size[1]), mask)
        if area.hatch is not None:
            lines = self._hatch(size, area.hatch, corner)
            self.image.paste(
                area.hatch.colour,
                (*corner, corner[0] + size[0], corner[1] + size[1]),
                ImageChops.multiply(mask, lines),
            )

    def _hatch(self, size: tuple[int, int], hatch: Hatch, low: tuple[int, int]) -> Image.Image:
        """A mask. Its lines are those of the whole picture, so that neighbouring areas go on alike."""
        if hatch.look == "dotted":
            return _dots(size, low, hatch.spacing * self.scale, hatch.width * self.scale / 2)
        mask = Image.new("L", size, 0)
        pen = ImageDraw.Draw(mask)
        step = hatch.spacing * self.scale * math.sqrt(2)
        width, height = size
        if hatch.look in ("rising", "crossed"):
            offset = -(low[0] + low[1] + height) % step  # x + y = n * step
            for n in range(-math.ceil(height / step) - 1, math.ceil(width / step) + 2):
                x = n * step + offset
                pen.line((x, height, x + height, 0), 255, self._stroke(hatch.width))
        if hatch.look in ("falling", "crossed"):
            offset = (low[1] - low[0]) % step  # x - y = n * step
            for n in range(-math.ceil(height / step) - 1, math.ceil(width / step) + 2):
                x = n * step + offset
                pen.line((x, 0, x + height, height), 255, self._stroke(hatch.width))
        return mask

    def _photo(self, photo: Photo) -> None:
        image = Image.open(io.BytesIO(photo.data)).convert("RGB")
        image = image.rotate(180) if photo.upside_down else image
        image = image.resize((self._whole(photo.size[0]), self._whole(photo.size[1])))
        mask = Image.new("L", self.image.size, 0)
        pen = ImageDraw.Draw(mask)
        for rings in photo.polygons:
            for number, ring in enumerate(rings):
                pen.polygon(self._pixels(ring), fill=0 if number else 255)
        whole = Image.new("RGB", self.image.size)
        for x, y in photo.places():
            whole.paste(image, (round(x * self.scale), round(y * self.scale)))
        self.image.paste(whole, (0, 0), mask)

    def _discs(self, discs: Discs) -> None:
        layers = [(discs.stroke, discs.radius), (discs.fill, discs.radius - discs.width)] if discs.stroke else []
        for colour, radius in layers or [(discs.fill, discs.radius)]:
            r = max(radius * self.scale - 0.5, 0.5)
            for x, y in (discs.centres * self.scale - 0.5).tolist():
                self.draw.ellipse((x - r, y - r, x + r, y + r), colour)

    def _line(self, line: Polylines) -> None:
        width = self._stroke(line.width)
        for points in line.lines:
            for part in _dashes(points, line.dash) if line.dash else [points]:
                self._draw_line(part, line.stroke, width)

    def _draw_line(self, points: Points, colour: str, width: int) -> None:
        # Joints only show on lines of some width, and take time.
        self.draw.line(self._pixels(points), colour, width, "curve" if len(points) > 2 and width > 2 else None)

    def _text(self, text: Text) -> None:
        words = drawable(text.words)
        font = font_of(max(round(text.size * self.scale), 4), words if not words.isascii() else "")
        outline = round(text.size * self.scale * 0.15) if text.halo else 0
        # The bundled font has one weight: a thin stroke in its own colour makes it bold.
        weight = max(round(text.size * self.scale * 0.026), 1) if text.bold else 0
        anchor = {"start": "ls", "middle": "ms", "end": "rs"}[text.anchor]
        place = (text.x * self.scale, text.y * self.scale)
        if text.turn % 360:
            self._turned_text(text, words, font)
            return
        if outline:
            self.draw.text(place, words, text.halo, font, anchor, stroke_width=outline, stroke_fill=text.halo)
        self.draw.text(place, words, text.colour, font, anchor, stroke_width=weight, stroke_fill=text.colour)

    def _turned_text(self, text: Text, words: str, font: ImageFont.FreeTypeFont) -> None:
        """Painted level in a mask whose centre is the text's place, then turned about it."""
        reach = math.ceil(float(font.getlength(words)) + 2 * font.size)
        mask = Image.new("L", (2 * reach, 2 * reach), 0)
        anchor = {"start": "ls", "middle": "ms", "end": "rs"}[text.anchor]
        ImageDraw.Draw(mask).text((reach, reach), words, 255, font, anchor)
        mask = mask.rotate(-text.turn, Image.Resampling.BICUBIC)
        corner = (round(text.x * self.scale) - reach, round(text.y * self.scale) - reach)
        self.image.paste(Image.new("RGB", mask.size, text.colour), corner, mask)


def _dots(size: tuple[int, int], low: tuple[int, int], spacing: float, radius: float) -> Image.Image:
    """A mask of dots on a square lattice turned by 45 degrees, row by row so that it takes little memory."""
    found = np.empty((size[1], size[0]), np.uint8)
    x = np.arange(size[0]) + 0.5 + low[0]
    for row in range(size[1]):
        y = row + 0.5 + low[1]
        # Distance from the middle of the lattice square, along both of its sides.
        along, across = (np.mod(part / math.sqrt(2), spacing) - spacing / 2 for part in (x + y, y - x))
        found[row] = np.where(along**2 + across**2 <= radius**2, 255, 0)
    return Image.fromarray(found)


def _closed(ring: Points) -> Points:
    return np.concatenate([ring, ring[:2]])


def _dashes(points: Points, dash: float) -> list[Points]:
    """The strokes of a dashed line, which go on around its corners."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    parts = []
    for n in range(math.ceil(along[-1] / (2 * dash))):
        start, end = 2 * n * dash, min((2 * n + 1) * dash, float(along[-1]))
        inside = along[(along > start) & (along < end)]
        at = np.concatenate([[start], inside, [end]])
        parts.append(np.stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])], axis=1))
    return parts


# Pages of canvases as one PDF, true size.

_POINTS_PER_MM = 72.0 / float(MM_PER_INCH)
_PLAIN_FONT, _BOLD_FONT = "Helvetica", "Helvetica-Bold"


@lru_cache(maxsize=8192)
def printed_width(words: str, size: float, *, bold: bool = False) -> float:
    """The width of a line of text in a PDF, in mm. size: in mm."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # noqa: PLC0415 - loads for those who write

    return float(stringWidth(_printable(words), _BOLD_FONT if bold else _PLAIN_FONT, size))


def new_pdf(content: io.BytesIO, title: str, size: tuple[float, float] | None = None) -> Pages:
    """An empty PDF without clock or random names. size: of its first page, in points."""
    from reportlab import rl_config  # noqa: PLC0415 - loads for those who write
    from reportlab.pdfgen.canvas import Canvas as Pages  # noqa: PLC0415

    # Packed bytes written out as letters would take a quarter more room, and longer.
    rl_config.useA85 = 0
    written = Pages(content, pagesize=size, invariant=1, pageCompression=1)
    written.setTitle(clean(title))
    written.setCreator("tilegen")
    return written


def pdf_of(pages: Sequence[Canvas], title: str) -> bytes:
    """A PDF of canvases, each a page of its own size in mm, without clock or random names."""
    content = io.BytesIO()
    written = new_pdf(content, title)
    for page in pages:
        written.setPageSize((page.width * _POINTS_PER_MM, page.height * _POINTS_PER_MM))
        # Millimetres with y down.
        written.transform(_POINTS_PER_MM, 0, 0, -_POINTS_PER_MM, 0, page.height * _POINTS_PER_MM)
        for shape in page.shapes:
            _pdf_shape(written, shape)
        written.showPage()
    written.save()
    return content.getvalue()


@lru_cache(maxsize=256)
def _ink(colour: str) -> Color:
    """A colour as a PDF takes it: reading one takes longer than drawing with it."""
    from reportlab.lib.colors import HexColor  # noqa: PLC0415 - loads for those who write

    return HexColor(colour)


def _printable(words: str) -> str:
    """Text in the characters that the PDF's own fonts have; others become question marks."""
    try:
        words.encode("cp1252")
    except UnicodeEncodeError:
        words = drawable(words)
    return words.encode("cp1252", "replace").decode("cp1252")


def _pdf_shape(page: Pages, shape: Shape) -> None:
    if isinstance(shape, Area):
        path = _pdf_path(page, [(ring, True) for rings in shape.polygons for ring in rings])
        page.setDash()
        if shape.stroke:
            page.setStrokeColor(_ink(shape.stroke))
            page.setLineWidth(shape.width)
        if shape.fill:
            page.setFillColor(_ink(shape.fill))
        page.drawPath(path, stroke=bool(shape.stroke), fill=bool(shape.fill), fillMode=0)
        if shape.hatch is not None:
            for rings in shape.polygons:
                _pdf_hatch(page, rings, shape.hatch)
    elif isinstance(shape, Polylines):
        page.setStrokeColor(_ink(shape.stroke))
        page.setLineWidth(shape.width)
        page.setDash([shape.dash, shape.dash] if shape.dash else [])
        page.drawPath(_pdf_path(page, [(line, False) for line in shape.lines]), stroke=1, fill=0)
    elif isinstance(shape, Discs) and not shape.stroke:
        # Lines without length and with round ends, as in SVG (ISO 32000-1, 8.5.3.2): short to write.
        page.setDash()
        page.setStrokeColor(_ink(shape.fill))
        page.setLineWidth(2 * shape.radius)
        page.setLineCap(1)
        page.drawPath(_pdf_path(page, [(np.repeat(spot[None], 2, axis=0), False) for spot in shape.centres]))
        page.setLineCap(0)
    elif isinstance(shape, Discs):
        page.setDash()
        page.setFillColor(_ink(shape.fill))
        page.setStrokeColor(_ink(shape.stroke))
        page.setLineWidth(shape.width)
        for x, y in shape.centres.tolist():
            page.circle(x, y, shape.radius - shape.width / 2, stroke=1, fill=1)
    elif isinstance(shape, Photo):
        _pdf_photo(page, shape)
    else:
        _pdf_text(page, shape)


def _pdf_path(page: Pages, lines: Sequence[tuple[Points, bool]]) -> PDFPathObject:
    path = page.beginPath()
    for points, closed in lines:
        (x, y), *rest = points.tolist()
        path.moveTo(x, y)
        for x, y in rest:
            path.lineTo(x, y)
        if closed:
            path.close()
    return path


def _pdf_hatch(page: Pages, rings: Rings, hatch: Hatch) -> None:
    """Lines or dots clipped to the polygon; they go on alike in neighbouring areas."""
    low, high = rings[0].min(axis=0), rings[0].max(axis=0)
    page.saveState()
    page.clipPath(_pdf_path(page, [(ring, True) for ring in rings]), stroke=0, fill=0, fillMode=0)
    page.setDash()
    page.setStrokeColor(_ink(hatch.colour))
    page.setFillColor(_ink(hatch.colour))
    page.setLineWidth(hatch.width)
    step, (x0, y0), (x1, y1) = hatch.spacing * math.sqrt(2), low.tolist(), high.tolist()
    if hatch.look in {"rising", "crossed"}:
        for n in range(math.floor((x0 + y0) / step), math.ceil((x1 + y1) / step) + 1):
            page.line(n * step - y0, y0, n * step - y1, y1)
    if hatch.look in {"falling", "crossed"}:
        for n in range(math.floor((x0 - y1) / step), math.ceil((x1 - y0) / step) + 1):
            page.line(n * step + y0, y0, n * step + y1, y1)
    if hatch.look == "dotted":
        for row in range(math.floor(y0 / hatch.spacing), math.ceil(y1 / hatch.spacing) + 1):
            for column in range(math.floor(x0 / hatch.spacing), math.ceil(x1 / hatch.spacing) + 1):
                page.circle(column * hatch.spacing, row * hatch.spacing, hatch.width / 2, stroke=0, fill=1)
    page.restoreState()


def _pdf_photo(page: Pages, photo: Photo) -> None:
    from reportlab.lib.utils import ImageReader  # noqa: PLC0415 - loads for those who write

    image = ImageReader(io.BytesIO(photo.data))
    page.saveState()
    rings = [(ring, True) for polygon in photo.polygons for ring in polygon]
    page.clipPath(_pdf_path(page, rings), stroke=0, fill=0, fillMode=0)
    width, height = photo.size
    for x, y in photo.places():
        page.saveState()
        # Here y runs down, in an image up.
        page.transform(*((-1, 0, 0, 1, x + width, y) if photo.upside_down else (1, 0, 0, -1, x, y + height)))
        page.drawImage(image, 0, 0, width, height)
        page.restoreState()
    page.restoreState()


def _pdf_text(page: Pages, text: Text) -> None:
    words = _printable(text.words)
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * printed_width(words, text.size, bold=text.bold)
    page.saveState()
    sine, cosine = math.sin(math.radians(text.turn)), math.cos(math.radians(text.turn))
    page.transform(cosine, sine, sine, -cosine, text.x, text.y)
    line = page.beginText(-shift, 0)
    line.setFont(_BOLD_FONT if text.bold else _PLAIN_FONT, text.size)
    if text.halo:
        # A box, not an outline of the letters: the words stand once in the file.
        page.setFillColor(_ink(text.halo))
        wide = printed_width(words, text.size, bold=text.bold) + 0.3 * text.size
        page.rect(-shift - 0.15 * text.size, -0.2 * text.size, wide, 1.1 * text.size, stroke=0, fill=1)
    page.setFillColor(_ink(text.colour))
    line.textOut(words)
    page.drawText(line)
    page.restoreState()


__all__ = [
    "CAP_HEIGHT",
    "Anchor",
    "Area",
    "Canvas",
    "Discs",
    "Hatch",
    "Photo",
    "Points",
    "Polylines",
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
            self.shapes.append(Polylines(tuple(lines), stroke, width, dash))

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
        """The picture as a PNG that knows its true size; its resolution follows its size if none is given."""
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
        if isinstance(shape, Photo):
            return self._photo(shape)
        return _svg_line(shape) if isinstance(shape, Polylines) else _svg_text(shape)

    def _photo(self, photo: Photo) -> str:
        path = "".join(_path(ring) + "Z" for rings in photo.polygons for ring in rings)
        name = f"clip-{zlib.crc32(path.encode()):08x}"
        kind = "png" if photo.data.startswith(b"\x89PNG") else "jpeg"
        link = f"data:image/{kind};base64,{b64encode(photo.data).decode()}"
        width, height = photo.size
        found = []
        for x, y in photo.places():
            turn = f' transform="rotate(180 {_n(x + width / 2)} {_n(y + height / 2)})"' if photo.upside_down else ""
            found.append(
                f'<image x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" '
                f'preserveAspectRatio="none" href="{link}"{turn}/>'
            )
        clip = f'<clipPath id="{name}"><path d="{path}" clip-rule="evenodd"/></clipPath>'
        return f'{clip}\n<g clip-path="url(#{name})">{"".join(found)}</g>'

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


def _svg_line(line: Polylines) -> str:
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
