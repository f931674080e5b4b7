"""Card that a home printer draws the parts on: sheets are pages, with what a printer leaves blank."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdf
import pytest
from ezdxf.filemanagement import read
from PIL import Image
from shapely.geometry import Polygon, box

from tilegen.files.stock import read_machine
from tilegen.making.asked import Tools
from tilegen.making.workshop import open_workshop
from tilegen.model.grid import Grid
from tilegen.model.words import PAPERS, Paper
from tilegen.pictures.sheet_pages import BAR_ROOM_MM, bar_beside, page_files
from tilegen.sheets.make import make_sheet_sets, sheet_files
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import Tile, make_tile

# ISO 216 and ANSI/ASME Y14.1, from published tables.
SIZES: dict[Paper, tuple[float, float]] = {"A4": (210, 297), "A3": (297, 420), "Letter": (215.9, 279.4)}


@pytest.mark.parametrize("n", range(5))
def test_every_a_size_is_half_of_the_one_before_and_a_square_metre_in_all(n: int) -> None:
    """ISO 216: A0 is a square metre of 1 to sqrt 2, each size half of the one before, rounded to whole millimetres."""
    sides = (1000 * 2 ** (-1 / 4 - n / 2), 1000 * 2 ** (1 / 4 - n / 2))
    assert PAPERS[f"A{n}"] == pytest.approx([int(side + 0.2) for side in sides])  # type: ignore[index]


def tile(walls: int) -> Tile:
    return make_tile("t", single_cell(Cell((WALL,) * walls + (OPEN,) * (4 - walls)), (2, 2)), Grid())


@pytest.mark.parametrize(("paper", "machine"), list(zip(SIZES, ["hand-knife", "laser", "drag-knife"], strict=True)))
def test_parts_lie_within_what_the_printer_reaches(paper: Paper, machine: str) -> None:
    workshop = open_workshop(Tools(materials=("thin-card",), print_on=paper, machine=machine))
    (made,) = make_sheet_sets([(tile(0), 2), (tile(2), 5)], workshop.stocks[0], workshop.machine)
    assert made.printed == paper
    files = sheet_files(made)
    for sheet in made.sheets:
        assert sheet.drawing.size == pytest.approx(SIZES[paper], abs=1e-9)
        document = read(io.StringIO(files[f"{sheet.name}.dxf"].decode()))
        points = [
            p for line in document.modelspace().query('LWPOLYLINE[layer=="CUT_OUTER"]') for p in line.get_points()
        ]
        width, height = SIZES[paper]
        # What a printer leaves blank: 5 mm (common practice, no source); a cut may lie half its width beyond a part.
        assert min(min(p[0], width - p[0], p[1], height - p[1]) for p in points) >= 5 - made.kerf / 2 - 1e-6


def test_six_skins_of_a_tile_lie_on_a_page() -> None:
    # Derived: a skin is its tile and 31 mm, so 2 x 3 of 95 mm lie on the 200 x 287 mm that a printer reaches.
    workshop = open_workshop(Tools(materials=("thin-card",), print_on="A4"))
    (made,) = make_sheet_sets([(tile(0), 12)], workshop.stocks[0], workshop.machine)
    assert made.count == 2
    assert made.new_sheets == {(210.0, 297.0): 2}


def test_of_several_materials_only_thin_card_is_printed_on() -> None:
    workshop = open_workshop(Tools(materials=("base = foam, walls = greyboard, skin = thin-card",), print_on="A4"))
    sets = make_sheet_sets([(tile(2), 1)], workshop.stocks[0], workshop.machine)
    assert [s.printed for s in sets] == [None, None, "A4"]
    assert sets[0].sheets[0].drawing.size == (600.0, 300.0)
    assert sets[0].machine == read_machine("hand-knife")


def test_all_pages_are_of_the_paper_that_is_printed_on() -> None:
    assert Tools().pages == "A4"
    assert Tools(print_on="Letter").pages == "Letter"
    assert Tools(print_on="Letter", paper="A3").pages == "A3"


def test_a_page_for_each_sheet_with_a_bar_where_there_is_room(tmp_path: Path) -> None:
    workshop = open_workshop(Tools(materials=("thin-card",), print_on="A4"))
    (made,) = make_sheet_sets([(tile(0), 14), (tile(2), 1)], workshop.stocks[0], workshop.machine)
    content = page_files(made)["thin-card.pdf"]
    reader = pypdf.PdfReader(io.BytesIO(content))
    assert len(reader.pages) == made.count
    assert all(
        [float(side) for side in page.mediabox[2:]] == pytest.approx([595.276, 841.89], abs=0.01)
        for page in reader.pages
    )
    assert all("100 mm" in page.extract_text() for page in reader.pages)
    for number, sheet in enumerate(each for each in made.sheets for _ in range(each.copies)):
        place = bar_beside(sheet.nominal)
        assert place is not None
        wide, high = (BAR_ROOM_MM, 100.0) if place.upright else (100.0, BAR_ROOM_MM)
        here = box(place.x, place.y, place.x + wide, place.y + high)
        assert box(5, 5, 205, 292).buffer(1e-6).covers(here)
        cut = [Polygon(stroke.points) for stroke in sheet.nominal.strokes if stroke.layer == "CUT_OUTER"]
        assert not any(part.intersects(here) for part in cut)
        if shutil.which("pdftoppm"):
            assert measured(content, number + 1, here.bounds, tmp_path) == pytest.approx(100.0, abs=0.1)


def measured(content: bytes, page: int, bounds: tuple[float, ...], folder: Path) -> float:
    """The length of what is black in a box of a page, mm, by poppler at 300 dpi: a bar's ends lie in its first third."""
    path = folder / "p.pdf"
    path.write_bytes(content)
    subprocess.run(["pdftoppm", "-r", "300", "-gray", "-f", str(page), "-l", str(page), path, folder / "p"], check=True)
    (picture,) = folder.glob("p-*.pgm")
    with Image.open(picture) as opened:
        dark = np.asarray(opened) < 160
    picture.unlink()
    (west, south, east, north), dot = bounds, 25.4 / 300
    upright = north - south > east - west
    # A millimetre more at both ends; of the other side only what the words leave free.
    x0, x1, y0, y1 = (west + 2.6, east, south - 1, north + 1) if upright else (west - 1, east + 1, south, south + 1.6)
    height = dark.shape[0] * dot
    rows, columns = (
        slice(round((height - y1) / dot), round((height - y0) / dot)),
        slice(round(x0 / dot), round(x1 / dot)),
    )
    along = np.flatnonzero(dark[rows, columns].any(axis=1 if upright else 0))
    # The end strokes are drawn about the ends: half their width more on each side.
    return float((along[-1] - along[0] + 1) * dot - 0.2)
