"""Shapes painted as pixels."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFont

from tilegen.geometry import Points
from tilegen.lengths import MM_PER_INCH
from tilegen.pictures.lettering import drawable, font_of
from tilegen.pictures.shapes import Area, Discs, Hatch, Line, Rings, Shape, Text

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
            elif isinstance(shape, Line):
                self._line(shape)
            elif isinstance(shape, Discs):
                self._discs(shape)
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
                self.draw.polygon(self._pixels(rings[0]), fill=area.fill)
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

    def _discs(self, discs: Discs) -> None:
        layers = [(discs.stroke, discs.radius), (discs.fill, discs.radius - discs.width)] if discs.stroke else []
        for colour, radius in layers or [(discs.fill, discs.radius)]:
            r = radius * self.scale - 0.5
            for x, y in (discs.centres * self.scale - 0.5).tolist():
                self.draw.ellipse((x - r, y - r, x + r, y + r), colour)

    def _line(self, line: Line) -> None:
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
