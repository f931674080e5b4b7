"""Card that a home printer draws the parts on: sheets are pages, with what a printer leaves blank."""

from __future__ import annotations

import io

import pytest
from ezdxf.filemanagement import read

from tilegen.files.stock import read_machine
from tilegen.making.asked import Tools
from tilegen.making.workshop import open_workshop
from tilegen.model.grid import Grid
from tilegen.model.words import Paper
from tilegen.sheets.make import make_sheet_sets, sheet_files
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import Tile, make_tile

# ISO 216 and ANSI/ASME Y14.1, from published tables.
SIZES: dict[Paper, tuple[float, float]] = {"A4": (210, 297), "A3": (297, 420), "Letter": (215.9, 279.4)}


def tile(walls: int) -> Tile:
    return make_tile("t", single_cell(Cell((WALL,) * walls + (OPEN,) * (4 - walls)), (2, 2)), Grid())


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("machine", ["hand-knife", "laser", "drag-knife"])
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
