"""A set of sheets: drawings, parts, what the builder must know, work, glue, money; its lists but the saw's as CSV."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from math import fsum

from tilegen.files.writing import csv_bytes
from tilegen.lengths import counted, rounded_down
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.model.words import Paper, StockRole
from tilegen.sheets.assembly import Assembly
from tilegen.sheets.constructions.kind import Construction
from tilegen.sheets.drawing import LAYERS, Kerf, SheetDrawing, Stroke
from tilegen.sheets.labels import Place
from tilegen.sheets.nesting.layout import Layout
from tilegen.sheets.parts import BuiltTile, Part
from tilegen.sheets.saw import SawList
from tilegen.sheets.toolpaths.order import travel
from tilegen.tiles.loose import Piece, is_foot

_MM2_PER_M2, _MM_PER_M = 1e6, 1e3
_NUMBER: dict[Place, str] = {
    "part": "",
    "waste": "number in the waste beside it",
    "back": "write its number on the back",
    "none": "not labelled",
}
_PARTS = ("part", "id", "name", "quantity", "length_mm", "width_mm", "thickness_mm", "note", "tiles", "numbers")
_OPERATIONS = (
    "sheet", "copies", "step", "layer", "colour", "operation", "paths", "length_mm", "travel_mm", "kerf_compensated",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Gluing:
    """What is glued in a set.

    faces: m2 glued face to face; beads: m of glue lines; joints: how often glue is put on.
    """

    faces: float = 0.0
    beads: float = 0.0
    joints: int = 0

    def grams(self, material: MaterialFile) -> float:
        """Of glue: m2 times grams to the m2, and m times grams to the m."""
        return self.faces * material.gluing.face + self.beads * material.gluing.bead


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of stock: what lies on it, the drawing for the machine and the one for the hand (kerf left out).

    offcut: the name of the offcut it is; empty for a new sheet. copies: how many sheets are cut just like this one;
    layout, drawing and used are those of one of them. bought, pieces: the size of the sheet as it is bought, mm, and
    how many pieces like this one it is cut down into first.
    """

    name: str
    layout: Layout
    drawing: SheetDrawing
    nominal: SheetDrawing
    used: float
    offcut: str = ""
    copies: int = 1
    bought: tuple[float, float] = (0.0, 0.0)
    pieces: int = 1

    @property
    def words(self) -> str:
        """Its name, and how often it is cut where that is more than once."""
        return self.name if self.copies == 1 else f"{self.name} x {self.copies}"


@dataclass(frozen=True, eq=False)
class SheetSet:
    """The flat half of a kit. kerf: the wider one that outlines allow for, 0 if they are nominal; mm.

    labels: where each part's number is, by its id. saw: the list of cuts, where every cut runs edge to edge.
    assemblies: how each type is put together, of parts from all sets of the material; listed with the first of them.
    gluing, cores: of the whole material, listed with the first set too; cores are of another stock. numbers: what the
    types are called in the layout, by id, where there is one. purpose: which parts of a kit from several materials
    these are, in words; empty where all are of one material.
    """

    material: MaterialFile
    machine: MachineFile
    kerf: float
    sheets: tuple[Sheet, ...]
    parts: tuple[Part, ...]
    constructions: tuple[Construction, ...]
    notes: tuple[Message, ...]
    labels: Mapping[str, Place]
    saw: SawList | None
    assemblies: tuple[Assembly, ...] = ()
    numbers: Mapping[str, str] = field(default_factory=dict)
    gluing: Gluing = Gluing()
    cores: tuple[Part, ...] = ()
    purpose: str = ""

    @property
    def count(self) -> int:
        """How many sheets there are to cut, offcuts among them."""
        return sum(sheet.copies for sheet in self.sheets)

    @property
    def printed(self) -> Paper | None:
        """The paper whose pages the sheets are, where a home printer draws the parts on them."""
        return self.material.printed

    @property
    def unlabelled(self) -> tuple[str, ...]:
        """Numbers of parts too small to bear them."""
        return tuple(part.number for part in self.parts if self.labels.get(part.id) == "none")

    @property
    def kerf_words(self) -> str:
        """What the outlines in DXF and SVG allow for, as a sentence."""
        if not self.kerf:
            return "The DXF and SVG files make no allowance for kerf."
        kerf = Kerf.of(self.machine.kerf_pair(self.material)).words.removeprefix("yes, k = ")
        return f"The DXF and SVG files allow for a kerf of {kerf}: don't allow for it again in the machine's program."

    @property
    def minutes(self) -> float:
        """Of work by hand: cuts along a fence or a ruler, sheets laid in and cleared, joints; drying left out.

        t = cuts x s + metres x strokes x s + sheets x s + joints x s, the seconds from the stock files (the form of it:
        common practice, no source).
        """
        return self.cutting_minutes + self.gluing_minutes

    @property
    def cutting_minutes(self) -> float:
        """Of the cuts, and of laying sheets in and clearing them."""
        return (self.saw.minutes if self.saw else 0.0) + self.count * self.machine.work.sheet / 60

    @property
    def gluing_minutes(self) -> float:
        """Of the joints."""
        return self.gluing.joints * self.material.gluing.joint / 60

    @property
    def new_sheets(self) -> dict[tuple[float, float], int]:
        """How many sheets of which size, mm, to have at hand; offcuts left out."""
        cut: Counter[tuple[tuple[float, float], int]] = Counter()
        for sheet in self.sheets:
            cut[sheet.bought, sheet.pieces] += 0 if sheet.offcut else sheet.copies
        sizes: Counter[tuple[float, float]] = Counter()
        for (size, pieces), number in cut.items():
            sizes[size] += -(-number // pieces)
        return {size: number for size, number in sizes.items() if number}

    @property
    def price(self) -> float | None:
        """Of all new sheets, in the currency of the stock files; None where the price of one of them is not known."""
        prices = {stock.size: stock.price for stock in reversed(self.material.sizes)}
        found = [(prices.get(size), count) for size, count in self.new_sheets.items()]
        return None if any(price is None for price, _ in found) else sum(price * n for price, n in found if price)

    def cost_of_each(self, counts: Mapping[str, int]) -> dict[str, float] | None:
        """What one tile of each type costs, by id: its share of the price by the area of its parts, waste included.

        counts: tiles of each type. None where a price is not known.
        """
        total = self.price
        if total is None:
            return None
        areas: dict[str, float] = {}
        for part in self.parts:
            for use in part.uses:
                areas[use.tile] = areas.get(use.tile, 0.0) + part.outline.area * use.count
        whole = fsum(areas.values())
        return {tile: total * area / whole / counts[tile] for tile, area in areas.items()} if whole else {}

    @property
    def stock_words(self) -> str:
        """How many pieces of stock of which size, and into what they are cut first; offcuts by name."""
        cut = {each.bought: each for each in self.sheets if each.pieces > 1 and not each.offcut}
        words = []
        for (w, h), n in self.new_sheets.items():
            words.append(f"{counted(n, 'sheet')} of {w:g} x {h:g} mm")
            if (w, h) in cut:
                size = " x ".join(f"{rounded_down(side, 1):g}" for side in cut[w, h].drawing.size)
                words[-1] += f" ({'each ' if n > 1 else ''}cut first into {cut[w, h].pieces} pieces of {size} mm)"
        offcuts = dict.fromkeys(sheet.offcut for sheet in self.sheets if sheet.offcut)
        return " and ".join([*words, *(f"offcut {name}" for name in offcuts)])


def gluing(built: Sequence[BuiltTile], roles: Sequence[StockRole]) -> Gluing:
    """What there is to glue in all tiles and pieces with the glue of one material. roles: what this material is for.

    Layers face to face; standing plates by a bead along their foot and one up an end; a loose piece's leaves back to
    back.
    """
    found = [(each.count, _of_one(each, roles)) for each in built]
    faces, beads = fsum(n * one.faces for n, one in found), fsum(n * one.beads for n, one in found)
    return Gluing(faces, beads, sum(n * one.joints for n, one in found))


def _of_one(built: BuiltTile, roles: Sequence[StockRole]) -> Gluing:
    how, walls = built.construction, "walls" in roles
    # Of a wall's glued faces those on its skins are the skin's.
    layers = (how.wall.layers - 1 - how.skins if walls else 0) + (how.skins if "skin" in roles else 0)
    if isinstance(built.made, Piece):
        return _of_piece(built, layers, whole=walls)
    base, *others = built.plates
    standing = [plate for plate in others if plate.edge is not None]
    lying = [plate for plate in others if plate.edge is None and "base" in roles]
    below = how.base.layers - 1 if "base" in roles else 0
    faces = below * base.foot.area + layers * fsum(plate.face().area for plate in standing)
    # What lies on the floor is stacked of layers as thick as the base's, the lowest glued to what it lies on.
    sheet = how.base.sheets[0]
    stacked = [(plate.foot.area, max(1, round(plate.height / sheet))) for plate in lying]
    faces += fsum(area * count for area, count in stacked)
    beads = fsum(plate.length + plate.height for plate in standing if walls)
    joints = below + len(standing) * (int(walls) + layers) + sum(count for _, count in stacked)
    return Gluing(faces / _MM2_PER_M2, beads / _MM_PER_M, joints)


def _of_piece(built: BuiltTile, layers: int, *, whole: bool) -> Gluing:
    """A loose piece. layers: glued faces of one of its leaves. whole: what it is put together with counts too."""
    leaves, feet = [p for p in built.plates if not is_foot(p)], [p for p in built.plates if is_foot(p) and whole]
    area = fsum(plate.face().area for plate in leaves) * (0.5 * whole + layers)
    # A foot's layers are glued to the leg's face and to each other.
    sheet = built.construction.material.real_thickness
    bounds = [foot.foot.bounds for foot in feet]
    stuck = [max(1, round((north - south) / sheet)) for _, south, _, north in bounds]
    area += fsum((b[2] - b[0]) * foot.height * n for b, foot, n in zip(bounds, feet, stuck, strict=True))
    joints = int(whole) + layers * len(leaves) + sum(stuck)
    return Gluing(area / _MM2_PER_M2, 0.0, joints)


# Its lists


def parts_csv(sheet_set: SheetSet) -> bytes:
    """One row a part; its tiles as `id x pieces`, in alphabetical order."""
    rows: list[Sequence[object]] = [_PARTS]
    for part in (*sheet_set.parts, *sheet_set.cores):
        notes = [*part.notes, *filter(None, [_NUMBER[sheet_set.labels.get(part.id, "part")]])]
        length, width = (f"{side:.3f}" for side in part.size)
        thickness = f"{part.thickness:g}"
        rows.append([part.number, part.id, part.name, part.count, length, width, thickness, "; ".join(notes)])
        rows[-1] = [*rows[-1], *_tiles(part, sheet_set.numbers)]
    return csv_bytes(rows)


def _tiles(part: Part, numbers: Mapping[str, str]) -> tuple[str, str]:
    """The tiles by their ids, and once more by what they are called in the layout, where there is one."""
    counts: dict[str, int] = {}
    for use in part.uses:
        counts[use.tile] = counts.get(use.tile, 0) + use.count
    by_id = sorted(counts.items())
    known = [f"{numbers[tile]} x {count}" for tile, count in by_id if tile in numbers]
    return "; ".join(f"{tile} x {count}" for tile, count in by_id), "; ".join(known)


def operations_csv(sheet_set: SheetSet) -> bytes:
    """One row a run of paths on one layer, in the order of the file; no powers, speeds or temperatures.

    Sheets that are cut alike are listed once, with the number of copies.
    """
    return csv_bytes((_OPERATIONS, *(row for sheet in sheet_set.sheets for row in _steps(sheet))))


def _steps(sheet: Sheet) -> Iterator[tuple[object, ...]]:
    drawing = sheet.drawing
    before: list[Stroke] = []
    for step, (layer, found) in enumerate(groupby(drawing.made, key=lambda stroke: stroke.layer), 1):
        strokes = list(found)
        way = travel([*before, *strokes]) - travel(before)
        style = LAYERS[layer]
        kerf = drawing.kerf.words if style.cut else "does not apply"
        length = fsum(stroke.length for stroke in strokes)
        what = (layer, style.colour, style.meaning, len(strokes))
        yield sheet.name, sheet.copies, step, *what, f"{length:.1f}", f"{way:.1f}", kerf
        before = strokes[-1:]
