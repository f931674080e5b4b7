"""How many shapes a map takes with each choice of posts and doorways: bars for the report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tilegen.lengths import counted
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, rectangle, text_width
from tilegen.pictures.map_page import QUIET
from tilegen.pictures.tile_view import INK

_WIDTH, _HEAD, _ROW, _BAR = 220.0, 22.0, 9.0, 5.6
_MARGIN, _TEXT = 4.0, 4.2
_TILES, _PIECES = "#565c63", "#ffffff"


class Bar(NamedTuple):
    """One choice. kinds, tiles: of tiles; shapes, pieces: of loose pieces. chosen: whether it is this kit's."""

    posts: str
    doorways: str
    kinds: int
    shapes: int
    tiles: int
    pieces: int
    chosen: bool


def choices_canvas(bars: Sequence[Bar]) -> Canvas:
    """A bar for each choice: kinds of tile filled, shapes of loose pieces hatched; this kit's in bold."""
    canvas = Canvas(_WIDTH, _HEAD + _ROW * len(bars) + 2.0, "Shapes to make, by how posts and doorways are made")
    canvas.description = "; ".join(f"{_name(bar)}: {_shapes(bar)}, {_pieces(bar)}" for bar in bars) + "."
    # Room for the words on both sides, in bold, and for a number at a bar's end.
    left = 2 * _MARGIN + max(_wide(_name(bar)) for bar in bars)
    room = _WIDTH - left - 2 * _MARGIN - max(_wide(_pieces(bar)) for bar in bars) - _wide("0000")
    one = room / max(bar.kinds + bar.shapes for bar in bars)
    canvas.text(_MARGIN, 8.0, "How many different shapes there are to make", 6.0, bold=True, colour=INK)
    key = 15.0
    for x, words, hatched in ((_MARGIN, "kinds of tile", False), (44.0, "kinds of loose piece", True)):
        _bar(canvas, x, key - 3.2, 6.0, 3.6, hatched=hatched)
        canvas.text(x + 8.0, key, words, _TEXT, colour=QUIET)
    for number, bar in enumerate(bars):
        top = _HEAD + number * _ROW
        base = top + _BAR / 2 + CAP_HEIGHT * _TEXT / 2
        wide, more = bar.kinds * one, bar.shapes * one
        canvas.text(_MARGIN, base, _name(bar), _TEXT, bold=bar.chosen)
        _bar(canvas, left, top, wide, _BAR, hatched=False)
        if more:
            _bar(canvas, left + wide, top, more, _BAR, hatched=True)
        canvas.text(left + wide + more + 2.0, base, str(bar.kinds + bar.shapes), _TEXT, bold=True)
        canvas.text(_WIDTH - _MARGIN, base, _pieces(bar), _TEXT, "end", bold=bar.chosen)
    return canvas


def _wide(words: str) -> float:
    return 1.15 * text_width(words, _TEXT)


def _bar(canvas: Canvas, x: float, y: float, width: float, height: float, *, hatched: bool) -> None:
    outline = [rectangle(x, y, x + width, y + height)]
    hatch = Hatch(INK, 1.4, 0.3) if hatched else None
    canvas.area(outline, _PIECES if hatched else _TILES, stroke=INK, width=0.3, hatch=hatch)


def _name(bar: Bar) -> str:
    posts = "no posts" if bar.posts == "none" else f"posts {bar.posts}"
    return f"{posts}, doorways {bar.doorways}"


def _shapes(bar: Bar) -> str:
    return f"{counted(bar.kinds, 'kind')} of tile and {counted(bar.shapes, 'kind')} of loose piece"


def _pieces(bar: Bar) -> str:
    return f"{counted(bar.tiles, 'tile')}, {counted(bar.pieces, 'loose piece')}"
