"""cut.pdf of the shipped plans, read with pypdf and poppler as somebody's printer does.

Sizes of pages: A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ASME Y14.1, size A); a point is 1/72 in (ISO 32000-1,
8.3.2): all three from secondary sources, the standards themselves were not read.
"""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import numpy as np
import pypdf
import pytest
from PIL import Image

from tests.calling import call
from tilegen.files.plans import read_plan
from tilegen.files.toml import find

POINT, DPI = 25.4 / 72, 300
MM = DPI / 25.4
SIZES = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
# The reading of a dark edge: a pixel is 0.085 mm wide.
BAR, OUTLINE = 0.1, 0.15
LEAST_POINTS = 8.0

needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")


class Word(NamedTuple):
    """A word on a page: the box that its letters take, mm from the page's upper left corner."""

    text: str
    west: float
    north: float
    east: float
    south: float


class Pages(NamedTuple):
    """A file of pages, with the text of each."""

    path: Path
    texts: list[str]

    def of(self, words: str) -> list[int]:
        """The numbers of the pages that have these words, from 1 on."""
        return [number for number, text in enumerate(self.texts, 1) if words in text]


@pytest.fixture(scope="module")
def foundry(demonstration) -> Pages:  # type: ignore[no-untyped-def]
    return read(demonstration.folder / "cut.pdf")


@pytest.fixture(scope="module")
def letter(tmp_path_factory: pytest.TempPathFactory) -> Pages:
    folder = tmp_path_factory.mktemp("letter")
    assert call("sheet", "corner", "--paper", "Letter", "--units", "in", "-o", folder).returncode == 0
    return read(folder / "corner/cut.pdf")


def read(path: Path) -> Pages:
    return Pages(path, [page.extract_text() for page in pypdf.PdfReader(path).pages])


def rendered(pages: Pages, number: int, folder: Path) -> np.ndarray:  # type: ignore[type-arg]
    """What is dark of a page, in rows from the top."""
    one = ["-f", str(number), "-l", str(number), "-singlefile"]
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", *one, pages.path, folder / "page"], check=True)
    dark: np.ndarray = np.array(Image.open(folder / "page.pgm")) < 128  # type: ignore[type-arg]
    return dark


def words_of(pages: Pages, folder: Path) -> list[list[Word]]:
    """The words of each page with their boxes, as poppler's pdftotext gives them in points."""
    subprocess.run(["pdftotext", "-bbox", pages.path, folder / "words.html"], check=True)
    text = re.sub(r"<!DOCTYPE[^>]*>", "", (folder / "words.html").read_text())
    space = "{http://www.w3.org/1999/xhtml}"
    return [
        [
            Word(word.text or "", *(float(word.get(key) or 0) * POINT for key in ("xMin", "yMin", "xMax", "yMax")))
            for word in page.iter(f"{space}word")
        ]
        for page in ElementTree.fromstring(text).iter(f"{space}page")
    ]


def runs(row: np.ndarray) -> list[tuple[int, int]]:  # type: ignore[type-arg]
    """Where dark pixels follow one another: first, and one beyond the last."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


class Bar(NamedTuple):
    """A bar to measure the print by: where it begins along it and across it, and how long it is, mm."""

    along: float
    across: float
    length: float


def bars(dark: np.ndarray) -> list[Bar]:  # type: ignore[type-arg]
    """Lines of about 100 mm in which fields of 10 mm are black, by turns, for the two millimetres beside them."""
    found: list[Bar] = []
    for line, row in enumerate(dark):
        for start, end in runs(row):
            if abs((end - start) / MM - 100) > 2 or (found and line / MM - found[-1].across < 3):
                continue
            middle = dark[min(line + round(1.1 * MM), len(dark) - 1), start:end]
            fields = [middle[round(f * (end - start)) :][: round(0.02 * (end - start))].mean() for f in TENTHS]
            if all((share > 0.9) == (n % 2 == 0) for n, share in enumerate(fields)):
                found.append(Bar(start / MM, line / MM, (end - start) / MM))
    return found


# The middle of each of a bar's ten fields.
TENTHS = np.arange(10) / 10 + 0.04


def test_pages_have_the_size_of_the_paper(foundry: Pages, letter: Pages) -> None:
    for pages, paper in ((foundry, "A4"), (letter, "Letter")):
        for page in pypdf.PdfReader(pages.path).pages:
            size = float(page.mediabox.width) * POINT, float(page.mediabox.height) * POINT
            assert size == pytest.approx(SIZES[paper], abs=0.1)


def test_the_five_kinds_of_pages_come_in_order(foundry: Pages) -> None:
    heads = ("69 tiles of 19 types", "Templates in true size", "Cut with knife and ruler", "Each picture is a tile")
    assert [foundry.of(head)[0] for head in heads] == sorted(foundry.of(head)[0] for head in heads)
    assert foundry.of(heads[0]) == [1]
    assert all(text.rstrip().endswith(f"page {n} of {len(foundry.texts)}") for n, text in enumerate(foundry.texts, 1))


def test_few_pages(foundry: Pages) -> None:
    """Foam, knife and ruler: what the bell foundry takes was 29 pages when whole sheets were printed."""
    assert len(foundry.texts) <= 6


@needs_poppler
def test_bars_measure_100_mm_both_ways(foundry: Pages, letter: Pages, tmp_path: Path) -> None:
    for pages in (foundry, letter):
        for number in pages.of("Templates in true size"):
            dark = rendered(pages, number, tmp_path)
            for turned in (dark, dark.T):
                (bar,) = bars(turned)
                assert bar.length == pytest.approx(100, abs=BAR)


@needs_poppler
def test_templates_are_true_size_on_the_page(foundry: Pages, tmp_path: Path) -> None:
    """The base, 63.2 x 63.2 mm, and the longest wall, 63.2 x 38.1 mm, whichever way it lies."""
    (first, *_) = foundry.of("Templates in true size")
    dark = rendered(foundry, first, tmp_path)
    page = words_of(foundry, tmp_path)[first - 1]
    for number, size in (("B", (63.2, 63.2)), ("W1", (63.2, 38.1))):
        # Its number stands below its lower left corner, large: its lower edge is the first long line above that.
        word = next(w for w in page if w.text == number and w.south - w.north > 3.5)
        left = round((word.west + 8.0) * MM)
        lower = next(y for y in range(round(word.north * MM), 0, -1) if dark[y, left : left + round(20 * MM)].all())
        west, east = next((a, b) for a, b in runs(dark[lower]) if a <= left < b)
        # Upwards along its left edge, a little inside of it where the line still is.
        column = dark[: lower + 1, west : west + 2].any(axis=1)
        north = next(a for a, b in runs(column) if b == lower + 1)
        # The line, a quarter of a millimetre wide, has its middle on the edge.
        found = sorted(((east - west) / MM - 0.25, (lower + 1 - north) / MM - 0.25), reverse=True)
        assert found == pytest.approx(size, abs=OUTLINE)


@needs_poppler
def test_bars_lie_clear_of_all_parts(foundry: Pages, tmp_path: Path) -> None:
    """No other line comes within a millimetre of a bar, but for the words that say what it is."""
    for number in foundry.of("Templates in true size"):
        dark = rendered(foundry, number, tmp_path)
        for turned in (dark, dark.T):
            (bar,) = bars(turned)
            top, west, east = (round(v * MM) for v in (bar.across, bar.along, bar.along + bar.length))
            above = turned[top - round(1.0 * MM) : top - 2, west : east + 1]
            assert not above.any()


@needs_poppler
def test_nothing_leaves_the_page_or_its_margins(foundry: Pages, letter: Pages, tmp_path: Path) -> None:
    """Home printers leave about 5 mm blank at each edge (common practice, no source)."""
    for pages in (foundry, letter):
        for number in range(1, len(pages.texts) + 1):
            dark = rendered(pages, number, tmp_path)
            rim = round(5 * MM)
            assert not dark[:rim].any()
            assert not dark[-rim:].any()
            assert not dark[:, :rim].any()
            assert not dark[:, -rim:].any()


@needs_poppler
def test_words_do_not_cover_one_another(foundry: Pages, letter: Pages, tmp_path: Path) -> None:
    for pages in (foundry, letter):
        for page in words_of(pages, tmp_path):
            for a, b in itertools.combinations(page, 2):
                wide, high = min(a.east, b.east) - max(a.west, b.west), min(a.south, b.south) - max(a.north, b.north)
                if wide > 0 and high > 0:
                    least = min((w.east - w.west) * (w.south - w.north) for w in (a, b))
                    assert wide * high <= 0.2 * least, (a, b)


@needs_poppler
def test_running_text_is_large_enough_to_read(foundry: Pages, letter: Pages, tmp_path: Path) -> None:
    """Words of more than six letters; numbers in narrow feet of pictures and titles in narrow rooms may be smaller.

    The box of a word is as high as Helvetica's ascender and descender together: 0.718 + 0.207 of its size (Adobe's
    metrics of the font, from memory), whichever way it runs.
    """
    for pages in (foundry, letter):
        titles = " ".join(read_plan(find("bell-foundry", "plans")).titles.values()).split()
        found = [word for page in words_of(pages, tmp_path) for word in page]
        words = [word for word in found if len(word.text) > 6 and word.text not in titles]
        sizes = {w.text: min(w.east - w.west, w.south - w.north) / 0.925 / POINT for w in words}
        assert len(sizes) > 20
        assert {text: size for text, size in sizes.items() if size < LEAST_POINTS} == {}


def test_equal_input_gives_equal_bytes(letter: Pages, tmp_path: Path) -> None:
    assert call("sheet", "corner", "--paper", "Letter", "--units", "in", "-o", tmp_path).returncode == 0
    assert (tmp_path / "corner/cut.pdf").read_bytes() == letter.path.read_bytes()


def test_a_cave_takes_few_pages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many odd outlines: about one page of templates for each eight of them, however close they lie on the sheets."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)
    done = call("sheet", "gull-light", "-o", tmp_path)
    assert done.returncode == 0, done.stderr
    assert len(read(tmp_path / "gull-light/cut.pdf").texts) <= 16
