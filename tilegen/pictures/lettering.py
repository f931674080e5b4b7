"""Text in pictures: what may stand in it, how wide it runs, and the fonts that draw it."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from PIL import ImageFont

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
