"""The public Python API, as docs/python.md names it: each function with nothing, the smallest, the largest and wrong."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.contract import CASES, content
from tilegen.errors import InputError
from tilegen.fit.bases import figures_on
from tilegen.fit.finder import find_grid
from tilegen.fit.placements import placements_on
from tilegen.grid import Grid
from tilegen.jobs import write_files
from tilegen.pictures.layout import layout_svg
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.drawing import Way, draw
from tilegen.plans.kit import make_kit
from tilegen.plans.pieces import cover_floor, read_kinds
from tilegen.plans.record import kit_json
from tilegen.plans.shelf import Shelf, take_stock
from tilegen.plans.sight import in_sight, visible_from
from tilegen.reading.files import find
from tilegen.reading.plans import read_drawing, read_plan
from tilegen.reading.printers import read_printer
from tilegen.reading.profiles import read_profile
from tilegen.reading.stock import read_machine, read_material
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.solids.beds import set_out
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.stl import is_closed, stl_bytes
from tilegen.solids.threemf import Item, threemf_bytes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

ROOT = Path(__file__).resolve().parents[1]
REFUSED = "refused"
GRID = Grid()
PLAIN = Cell()
WALLED = Cell((WALL, WALL, WALL, WALL))
RING = tuple((40 + 30 * float(np.cos(a)), 40 + 30 * float(np.sin(a))) for a in np.linspace(0, 2 * np.pi, 97)[:-1])
FOAM, KNIFE, PRINTER = read_material("foam"), read_machine("hand-knife"), read_printer("fdm-220")


@cache
def plan(side):
    """A plan of rooms of 5 x 5 cells, as the commands' table has it; 1: a single cell; 0: ground alone."""
    from tests.contract import _square

    text = {0: ".", 1: "A"}.get(side) or _square(side).decode().split('"""')[1]
    return drawing(text)


def drawing(text, **more):
    words = {"name": "p", "scale": "10 ft", "grid": GRID, "titles": {}, "rooms": read_drawing(text), **more}
    return draw(**words)


@cache
def kit(side):
    return make_kit(plan(side))


def tile(cell=PLAIN, spaces=(2, 2), grid=GRID):
    return make_tile("t", single_cell(cell, spaces), grid)


@cache
def mesh(cell=PLAIN, spaces=(2, 2)):
    return build_mesh("t", tile(cell, spaces).plates)


def outline(*, walls=(), holes=(), points=RING):
    return make_tile("t", OutlineShape(tuple(points), walls=tuple(walls), holes=tuple(holes)), GRID)


@cache
def sheets(copies, cell=PLAIN):
    return make_sheets([(tile(cell), copies)] if copies else [], FOAM, KNIFE)


def written(name, text=None):
    Path(name).write_bytes(content(name) if text is None else text)
    return Path(name)


# A row: a call and what it must give (a test of the result, or REFUSED) for each of the four cases.
