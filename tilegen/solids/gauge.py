"""Printed test pieces that show play, fits, holes and scale of the user's own machine.

Every piece is plates, as a tile is: its volume is known from areas alone. What a piece is for is engraved on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import CHORD_MM, Point, chord_angle, polygonal
from tilegen.lengths import show_length, show_number
from tilegen.model.printers import ClearanceTable, PrinterFile
from tilegen.sheets.gauge import parse_readings
from tilegen.solids.build import Mesh
from tilegen.solids.formats import Item
from tilegen.solids.processes import gap_of
from tilegen.tiles.lettering import LETTER_HEIGHT, engraved, engraving
from tilegen.tiles.plate import Mark, Plate

# Round holes in prints: polygons that the hole's circle fits inside, and the allowance for what printing closes.


def corners_for(radius: float, error: float = CHORD_MM) -> int:
    """The corners a polygon needs to stay within `error` mm of a circle: n >= pi / acos(1 - error / r) (derived).

    >>> corners_for(3.1)
    28
    """
    if radius <= error:
        return 8
    return max(8, math.ceil(math.tau / chord_angle(radius, error) - 1e-9))


def hole(diameter: float, centre: Point = (0.0, 0.0), *, allowance: float = 0.0, error: float = CHORD_MM) -> Polygon:
    """A polygon round the circle of a hole: its flats touch the circle, so that a pin of that size goes in.

    diameter, allowance: mm; the allowance is on the diameter (`hole_allowance` of the printer).
    """
    radius = (diameter + allowance) / 2
    corners = corners_for(radius, error)
    outer = radius / math.cos(math.pi / corners)
    angles = (math.pi * (2 * k + 1) / corners for k in range(corners))
    return Polygon([(centre[0] + outer * math.cos(a), centre[1] + outer * math.sin(a)) for a in angles])


# What is tried, mm (common practice, no source): play of tile edges; total play of a slot; allowance on a pocket's
# diameter; clearance per side of peg and clip.
PLAYS = (0.1, 0.2, 0.3, 0.4)
SLOTS = (-0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4)
POCKETS = (0.0, 0.1, 0.2, 0.3, 0.4)
CLEARANCES = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35)
HOLES = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
BAR, SHORT = 100.0, 20.0
TONGUE, PEG, CLIP = 3.0, 5.0, (6.0, 3.0)
MAGNET, MAGNET_HEIGHT = 4.0, 2.0

THICK, THIN = 4.0, 3.0
_SPACE = 12.0
_TOOTH = 5.0
_RIM = 2.5
_EJECT = 2.0
_LINE = LETTER_HEIGHT + 1.6


@dataclass(frozen=True)
class GaugePiece:
    """A test piece: its plates, lying as they are printed, and what it is for. count: how many to print."""

    name: str
    plates: tuple[Plate, ...]
    use: str
    count: int = 1

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return math.fsum(plate.volume for plate in self.plates)


def value_text(value: float) -> str:
    """A value in mm as it is engraved: as short as it can be, and what is typed when it is recorded.

    >>> [value_text(v) for v in (-0.2, 0.0, 0.05, 0.3, 3.0)]
    ['-.2', '0', '.05', '.3', '3']
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return text.replace("0.", ".", 1) if abs(value) < 1 and text not in ("0", "-0") else text.replace("-0", "0")


def gauge_pieces(printer: PrinterFile, *, magnet: float = MAGNET) -> list[GaugePiece]:
    """All test pieces for a printer.

    magnet: diameter of what goes into the pockets, mm. Peg holes carry the printer's present hole allowance; nothing
    else is allowed for, and nothing is stretched against shrinkage: that is what the pieces find.

    Raises:
        InputError: a magnet that no pocket is made for.
    """
    if not 2.0 <= magnet <= 12.0:
        raise InputError(
            f"the test pieces have no pocket for a magnet of {show_length(magnet)}",
            cure="Use 2 to 12 mm",
            place="--magnet",
        )
    return [
        *_bars(),
        _fits(printer.hole_allowance),
        *_slots(),
        *_edges(),
        _ladder(),
        _pockets(magnet),
        _side_pockets(magnet),
        *_loose(),
    ]


def _lying(name: str, foot: BaseGeometry, height: float, words: Sequence[BaseGeometry], *sunk: Mark) -> Plate:
    """A plate on the bed with words in its top."""
    area = polygonal(foot)
    assert isinstance(area, Polygon), name
    marks = [*sunk]
    if words:
        text = polygonal(shapely.union_all(list(words)))
        marks.append(engraving(text, area))
    return Plate(name, "base", area, 0.0, height, marks=tuple(marks))


def _words(text: str, x: float, y: float, turn: float = 0.0) -> BaseGeometry:
    # Among numbers alone a plain ring reads better than the crossed zero, whose strokes run into one another.
    return engraved([text.replace("0", "O")], (x, y), turn=turn, bar=False)


def _bars() -> Iterator[GaugePiece]:
    """A bar along x and one along y, each with a short step: the two lengths part the scale from the lines' width."""
    for axis, turn in (("x", False), ("y", True)):
        step, wide = 4.0, 7.0
        points = [(0.0, 0.0), (BAR, 0.0), (BAR, wide), (SHORT, wide), (SHORT, wide + step), (0.0, wide + step)]
        foot = Polygon([(y, x) for x, y in points] if turn else points)
        text = f"{axis.upper()} {BAR:g}"
        words = _words(text, *((wide / 2, 55.0, 90.0) if turn else (55.0, wide / 2)))
        use = (
            f"Measure its whole length (bar-{axis}) and the short step at its end (step-{axis}), drawn {BAR:g} and "
            f"{SHORT:g} mm: the longer one less the shorter tells the scale along {axis}, free of the lines' width."
        )
        yield GaugePiece(f"bar-{axis}", (_lying("bar", foot, THIN, [words]),), use)


def _edges() -> Iterator[GaugePiece]:
    """Bays between two tile edges pulled back by half the play each, and a block with as much play for every bay."""
    deep, spine = 12.0, 6.5
    foot: BaseGeometry = box(0, 0, 0, 0)
    left, words, bays = _TOOTH, [], []
    for play in PLAYS:
        right = left + _SPACE + play
        bays.append(box(left, spine, right, spine + deep))
        words.append(_words(value_text(play), (left + right) / 2, spine / 2))
        left = right + _TOOTH
    foot = box(0, 0, left, spine + deep).difference(shapely.union_all(bays))
    use = (
        "Tile edges: each bay is the place between two tiles with that play, each block the tile between them. Put "
        "every block into the bay of its own number, as printed, not turned. The least play whose block drops in by "
        "its own weight is the reading: play=..."
    )
    yield GaugePiece("edge-bays", (_lying("bays", foot, THICK, words),), use)
    for play in PLAYS:
        side = _SPACE - play
        block = _lying("block", box(0, 0, side, deep + 3.0), THICK, [_words(value_text(play), side / 2, deep / 2 + 2)])
        yield GaugePiece(f"edge-block-{round(play * 100):02d}", (block,), "Goes into the bay of its number.")


def _slots() -> Iterator[GaugePiece]:
    """Slots from narrower to wider than a printed tongue."""
    pitch, deep, spine = 12.0, 10.0, 6.5
    words = [_words(value_text(f), (n + 0.5) * pitch, spine / 2) for n, f in enumerate(SLOTS)]
    slots = [
        box((n + 0.5) * pitch - (TONGUE + f) / 2, spine, (n + 0.5) * pitch + (TONGUE + f) / 2, spine + deep)
        for n, f in enumerate(SLOTS)
    ]
    foot = box(0, 0, pitch * len(SLOTS), spine + deep).difference(shapely.union_all(slots))
    use = (
        "Slots that are wider or narrower than the tongue by the number on them, both sides together. The least one "
        "that the tongue slides through without force is the reading: slot=..."
    )
    yield GaugePiece("slot-comb", (_lying("comb", foot, THIN, words),), use)
    grip = box(0, 0, 12.0, 7.0).union(box(6.0 - TONGUE / 2, 7.0, 6.0 + TONGUE / 2, 19.0))
    plate = _lying("tongue", grip, THIN, [_words(value_text(TONGUE), 6.0, 3.5)])
    yield GaugePiece("tongue", (plate,), f"Goes into the slots; drawn {TONGUE:g} mm thick.")


def _pockets(magnet: float) -> GaugePiece:
    """Blind round pockets, each with a hole through its floor to push a magnet out by."""
    pitch = max(magnet + POCKETS[-1] + 2.5, 9.5)
    depth = min(MAGNET_HEIGHT + 0.3, THICK - 1.2)
    y = _LINE + _RIM + magnet / 2
    foot: BaseGeometry = box(0, 0, pitch * len(POCKETS) + 2.0, y + magnet / 2 + _RIM)
    words, regions = [], []
    for n, allowance in enumerate(POCKETS):
        centre = (1.0 + (n + 0.5) * pitch, y)
        way_out = hole(min(_EJECT, magnet / 2), centre)
        foot = foot.difference(way_out)
        regions.append(hole(magnet, centre, allowance=allowance).difference(way_out))
        words.append(_words(value_text(allowance), centre[0], _LINE / 2 + 0.5))
    pockets = Mark((), foot, polygonal(shapely.union_all(regions)), depth)
    use = (
        f"Pockets for a round magnet or shank of {magnet:g} mm, wider by the number on them. The least one that takes "
        "it by hand is the reading: pocket=..."
    )
    return GaugePiece("pocket-comb", (_lying("comb", foot, THICK, words, pockets),), use)


def _side_pockets(magnet: float) -> GaugePiece:
    """The same pockets bored into an upright face, as magnets stand in the sides of tiles: their roofs sag."""
    pitch, skin = max(magnet + POCKETS[-1] + 2.5, 9.5), 1.4
    long, high = pitch * len(POCKETS) + 2.0, magnet + POCKETS[-1] + 2 * skin
    foot = box(0, 0, long, MAGNET_HEIGHT + 5.2)
    regions, words = [], []
    for n, allowance in enumerate(POCKETS):
        x = 1.0 + (n + 0.5) * pitch
        # Along the south side from its eastern end, the piece on the right.
        regions.append(hole(magnet, (long - x, high / 2), allowance=allowance))
        words.append(_words(value_text(allowance), x, _LINE / 2 + 0.6))
    edge = ((long, 0.0), (0.0, 0.0))
    pockets = Mark((), box(0, 0, long, high), MultiPolygon(regions), MAGNET_HEIGHT + 0.3, "rim", edge)
    use = (
        f"The same pockets in a side, as in the sides of tiles. The least one that takes the {magnet:g} mm magnet by "
        "hand: side-pocket=..."
    )
    return GaugePiece("side-pocket-comb", (_lying("comb", foot, high, words, pockets),), use)


def _fits(allowance: float) -> GaugePiece:
    """Square holes for a clip and round ones for a peg, with rising clearance per side."""
    pitch, rim = 12.5, _RIM
    rows = (_LINE + 0.5 + CLIP[1] / 2 + 0.5, _LINE + 0.5 + CLIP[1] + rim + PEG / 2 + 1.0)
    foot: BaseGeometry = box(0, 0, pitch * len(CLEARANCES) + 1.0, rows[1] + PEG / 2 + rim)
    words = []
    for n, free in enumerate(CLEARANCES):
        x = 0.5 + (n + 0.5) * pitch
        across, along = CLIP[0] / 2 + free, CLIP[1] / 2 + free
        foot = foot.difference(box(x - across, rows[0] - along, x + across, rows[0] + along))
        foot = foot.difference(hole(PEG, (x, rows[1]), allowance=allowance + 2 * free))
        words.append(_words(value_text(free), x, _LINE / 2))
    use = (
        "Holes for clip and peg with the number on them free on every side. With the clip: the one that takes it by "
        "force only (press=...), the one where it goes in by hand and stays (snug=...), the one where it slides "
        "(slip=...). With the peg: the least hole where it goes in by hand and stays (peg=...)."
    )
    return GaugePiece("fit-plate", (_lying("fits", foot, THIN, words),), use)


def _loose() -> Iterator[GaugePiece]:
    """Clip and peg, each standing on a grip of its own."""
    across, along, tall, tip = 10.0, 14.0, 5.0, 0.5
    middle = (across / 2, along - 4.5)
    for name, told in (("clip", f"{CLIP[0]:g} x {CLIP[1]:g} mm"), ("peg", f"{PEG:g} mm")):
        shapes = [_rectangle(CLIP, middle, s) if name == "clip" else _disc(PEG - 2 * s, middle) for s in (0.0, tip)]
        words = _words(told[0], middle[0], _LINE / 2 + 0.2)
        grip = _lying("grip", box(0, 0, across, along), THIN, [words])
        stem = Plate(name, "base", shapes[0], THIN, THIN + tall)
        end = Plate("tip", "base", shapes[1], stem.top, stem.top + 2 * tip)
        yield GaugePiece(name, (grip, stem, end), f"Goes into the fit plate; drawn {told} across.")


def _rectangle(sides: Point, centre: Point, less: float) -> Polygon:
    across, along = sides[0] / 2 - less, sides[1] / 2 - less
    return box(centre[0] - across, centre[1] - along, centre[0] + across, centre[1] + along)


def _disc(diameter: float, centre: Point) -> Polygon:
    """A peg: a polygon with its corners on the circle, so that it is nowhere wider than the diameter."""
    corners = 4 * math.ceil(diameter * 2)
    angles = (2 * math.pi * k / corners for k in range(corners))
    return Polygon([(centre[0] + diameter / 2 * math.cos(a), centre[1] + diameter / 2 * math.sin(a)) for a in angles])


def _ladder() -> GaugePiece:
    """Holes of whole diameters, with nothing allowed for."""
    gap, x = 3.0, _RIM
    y = _LINE + _RIM + HOLES[-1] / 2 - 1.0
    cut, words = [], []
    for diameter in HOLES:
        wide = max(diameter, 4.0)
        cut.append(hole(diameter, (x + wide / 2, y)))
        words.append(_words(value_text(diameter), x + wide / 2, _LINE / 2 + 0.3))
        x += wide + gap
    foot = box(0, 0, x - gap + _RIM, y + HOLES[-1] / 2 + _RIM).difference(shapely.union_all(cut))
    use = (
        "Holes of the diameters on them. Find the thickest drill shank or pin that goes through each, or measure "
        "with the inside jaws of a caliper: hole-5=..."
    )
    return GaugePiece("hole-ladder", (_lying("ladder", foot, THIN, words),), use)


def lay_on_bed(meshes: Sequence[tuple[Mesh, int]], printer: PrinterFile) -> list[Item]:
    """All pieces on one bed, none of them turned: x and y are what they measure.

    The bar along y stands at the left; the others lie in rows beside it, deepest first.

    Raises:
        InputError: a bed that is too small.
    """
    width, depth = printer.room
    start, gap = printer.margin + printer.brim, gap_of(printer)
    copies = sorted(((m, n) for m, n in meshes if m.name != "bar-y"), key=lambda copy: (-copy[0].size[1], copy[0].name))
    tall = next(m for m, _ in meshes if m.name == "bar-y")
    items = [Item(tall.name, start, start)]
    left = tall.size[0] + gap
    x, y, row = left, 0.0, 0.0
    for mesh, count in copies:
        for _ in range(count):
            if x > left and x + mesh.size[0] > width:
                x, y, row = left, y + row + gap, 0.0
            items.append(Item(mesh.name, start + x, start + y))
            _check_room(max(x + mesh.size[0], 0.0), max(y + mesh.size[1], tall.size[1]), (width, depth), printer)
            x += mesh.size[0] + gap
            row = max(row, mesh.size[1])
    return items


def _check_room(across: float, along: float, room: tuple[float, float], printer: PrinterFile) -> None:
    if across > room[0] + 1e-9 or along > room[1] + 1e-9:
        raise InputError(
            f"the test pieces need {across:.0f} x {along:.0f} mm, and printer {printer.name} has room for "
            f"{show_number(room[0])} x {show_length(room[1])}",
            cure="Use a larger printer",
            place="bed",
        )


# What the readings of printed test pieces mean: from what was measured to the figures of a printer file.

_HOLE_NAMES = {f"hole-{d:g}": d for d in HOLES}
# What a reading is, and the least and the most that a working printer can give, mm (common practice, no source).
_READINGS: dict[str, tuple[str, float, float]] = {
    "play": ("edge bays: the least play whose block drops in by its own weight", 0.0, 0.8),
    "slot": ("slot comb: the least number at which the tongue slides through without force", -0.3, 0.8),
    "pocket": ("pocket comb: the least number that takes the magnet by hand", 0.0, 0.8),
    "side-pocket": ("side pocket comb: the least number that takes the magnet by hand", 0.0, 0.8),
    "press": ("fit plate: the clip goes in by force only", 0.0, 0.5),
    "snug": ("fit plate: the clip goes in by hand and stays", 0.0, 0.6),
    "slip": ("fit plate: the clip slides", 0.0, 0.8),
    "peg": ("fit plate: the least number at which the peg goes in by hand and stays", 0.0, 0.6),
    "bar-x": (f"the bar along x, drawn {BAR:g} mm", 0.97 * BAR, 1.03 * BAR),
    "step-x": (f"the short step of the bar along x, drawn {SHORT:g} mm", SHORT - 1.0, SHORT + 1.0),
    "bar-y": (f"the bar along y, drawn {BAR:g} mm", 0.97 * BAR, 1.03 * BAR),
    "step-y": (f"the short step of the bar along y, drawn {SHORT:g} mm", SHORT - 1.0, SHORT + 1.0),
    **{name: (f"the hole drawn {d:g} mm across", d - 0.8, d + 0.4) for name, d in _HOLE_NAMES.items()},
}
NAMES: dict[str, str] = {name: words for name, (words, _, _) in _READINGS.items()}
_WIDEST_SHRINK = 0.03


@dataclass(frozen=True, slots=True)
class PrintFigures:
    """What is calculated from readings; None where nothing was read.

    size_error: the least play that works, mm. hole_allowance: on a hole's diameter, mm. press, snug, slip: clearance
    per side, mm. shrink_x, shrink_y: what a print is short of its drawing, as a share. over_x, over_y: what outside
    sizes come out too large by the lines' width, mm. pocket: what a magnet's pocket is wider than the magnet, mm.
    """

    size_error: float | None
    hole_allowance: float | None
    press: float | None
    snug: float | None
    slip: float | None
    shrink_x: float | None
    shrink_y: float | None
    over_x: float | None
    over_y: float | None
    pocket: float | None


def sane(name: str) -> tuple[float, float]:
    """The least and the most that a reading may be, mm."""
    _, least, most = _READINGS[name]
    return least, most


def parse_print_readings(words: Sequence[str]) -> dict[str, tuple[float, ...]]:
    """Readings as typed, in mm by name.

    Raises:
        InputError: an unknown name, no length, or a reading that no working printer gives.
    """
    found = parse_readings(words, NAMES, above=-math.inf)
    for name, values in found.items():
        least, most = sane(name)
        for value in values:
            if not least <= value <= most:
                raise InputError(
                    f"{show_length(value)} can't be right for this reading, {NAMES[name]}",
                    cure="Type the number that is engraved, or what the caliper shows, from "
                    f"{show_number(least)} to {show_length(most)}",
                    place=f"--record {name}",
                )
    return found


def print_figures(readings: Mapping[str, tuple[float, ...]], printer: PrinterFile) -> PrintFigures:
    """The figures calculated from readings; several readings of one piece count by their mean.

    printer: as it was when the pieces were made.

    Raises:
        InputError: fits out of their order, bars that contradict each other.
    """
    mean = {name: math.fsum(values) / len(values) for name, values in readings.items()}
    slips = [mean["slip"]] if "slip" in mean else []
    slips += [mean["slot"] / 2] if mean.get("slot", -1.0) > 0 else []
    shrink_x, over_x = _bar("x", mean)
    shrink_y, over_y = _bar("y", mean)
    press, snug, slip = mean.get("press"), mean.get("snug"), max(slips, default=None)
    _check_order(press, snug, slip)
    return PrintFigures(
        size_error=mean.get("play"),
        hole_allowance=_hole_allowance(mean, printer, snug),
        press=press,
        snug=snug,
        slip=slip,
        shrink_x=shrink_x,
        shrink_y=shrink_y,
        over_x=over_x,
        over_y=over_y,
        pocket=mean.get("side-pocket", mean.get("pocket")),
    )


def _bar(axis: str, mean: Mapping[str, float]) -> tuple[float | None, float | None]:
    """Shrink and what the lines add along one axis.

    Long = 100 s + e and short = 20 s + e give s = (long - short) / 80, e = long - 100 s (derived): the lines' width
    drops out of the scale. From the long one alone s = long / 100.
    """
    whole, step = mean.get(f"bar-{axis}"), mean.get(f"step-{axis}")
    if whole is None:
        if step is not None:
            raise InputError(
                f"step-{axis} needs bar-{axis} as well", cure="Measure both, and record them together", place="--record"
            )
        return None, None
    if step is None:
        return 1.0 - whole / BAR, None
    scale = (whole - step) / (BAR - SHORT)
    if abs(1.0 - scale) > _WIDEST_SHRINK:
        raise InputError(
            f"a bar of {show_length(whole)} and a step of {show_length(step)} don't go together",
            cure="Measure both again",
            place=f"--record bar-{axis}",
        )
    return 1.0 - scale, whole - BAR * scale


def _hole_allowance(mean: Mapping[str, float], printer: PrinterFile, snug: float | None) -> float | None:
    """What holes need on their diameter: the more of what the ladder is short of and what the pockets ask for.

    From the peg if neither was read: its holes are drawn d + a + 2 c with the printer's allowance a; the new one a'
    with the printer's clearance s makes the same hole: a' = a + 2 (c - s) (derived).
    """
    short = [diameter - mean[name] for name, diameter in _HOLE_NAMES.items() if name in mean]
    found = [math.fsum(short) / len(short)] if short else []
    found += [mean["pocket"]] if "pocket" in mean else []
    if not found and "peg" in mean:
        free = printer.clearance.snug if snug is None else snug
        found = [printer.hole_allowance + 2 * (mean["peg"] - free)]
    return max(0.0, *found) if found else None


def _check_order(press: float | None, snug: float | None, slip: float | None) -> None:
    given = [(name, v) for name, v in (("press", press), ("snug", snug), ("slip", slip)) if v is not None]
    for (tight, a), (wide, b) in pairwise(given):
        if a > b:
            raise InputError(
                f"{wide} ({show_length(b)}) must be at least as wide as {tight} ({show_length(a)})",
                cure="Try the clip again, from the narrow holes to the wide ones",
                place="--record",
            )


def printer_changes(figures: PrintFigures, clearance: ClearanceTable) -> dict[tuple[str, ...], Any]:
    """What to write into a printer file, by the place in it.

    clearance: the file's own; `loose`, which no piece measures, stays as much wider than `slip` as it was.
    """
    lengths = {
        ("size_error",): figures.size_error,
        ("hole_allowance",): figures.hole_allowance,
        ("clearance", "press"): figures.press,
        ("clearance", "snug"): figures.snug,
        ("clearance", "slip"): figures.slip,
    }
    if figures.slip is not None and figures.slip > clearance.loose:
        lengths["clearance", "loose"] = figures.slip + clearance.loose - clearance.slip
    changes: dict[tuple[str, ...], Any] = {
        place: f"{round(value, 3):g} mm" for place, value in lengths.items() if value is not None
    }
    told = {place[-1] for place in changes} & {"press", "snug", "slip", "hole_allowance"}
    if told:
        measured = {name.partition("_")[0] for name in told} | set(clearance.measured)
        changes["clearance", "measured"] = sorted(measured)
    for axis, share in (("x", figures.shrink_x), ("y", figures.shrink_y)):
        if share is not None:
            changes["shrink", axis] = round(share, 5) + 0.0
    return changes


def remarks(figures: PrintFigures) -> list[str]:
    """What the readings say beyond the file: sizes of lines, and what a grid file may take up."""
    told = []
    for axis, over in (("x", figures.over_x), ("y", figures.over_y)):
        if over is not None:
            word = "large" if over >= 0 else "small"
            told.append(f"outside sizes along {axis} come out {abs(over):.2f} mm too {word}, whatever their length")
    for value, words in (
        (figures.size_error, "[grid] joint_play of {} mm or more"),
        (figures.slip, "[door] and [connectors] clearance of {} mm"),
        (figures.pocket, "[connectors] magnet_allowance of {} mm"),
    ):
        if value is not None:
            told.append(f"for your grid file: {words.format(f'{round(value, 3):g}')}")
    return told
