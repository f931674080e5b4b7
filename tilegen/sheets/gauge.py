"""Test pieces that show the kerf, the fit of slots, the scale and the folds of the user's own machine and stock."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tilegen.errors import InputError, nearest
from tilegen.geometry import Points
from tilegen.lengths import parse_length, show_length, show_number
from tilegen.model.machines import MachineFile
from tilegen.model.materials import LEAST_FIT, MOST_FIT, MaterialFile
from tilegen.sheets.constructions.grooved import groove_width
from tilegen.sheets.drawing import CHECK_SIDE_MM, Kerf, SheetDrawing, Stroke, layered, rectangle, written
from tilegen.sheets.toolpaths import CUT_PROCESSES
from tilegen.tiles.lettering import text_size

# The pieces' nominal sizes, mm.
COMB_WIDTH, COMB_BLOCKS = 100.0, 10
BAR_LENGTH = 100.0
FENCE_SETTINGS = (20.0, 50.0)
FOLD_LENGTH = 50.0
WIDEST_KERF = 10.0
# How far a caliper across soft board may err, mm (common practice, no source).
FOLD_ERROR = 0.3

NAMES = {
    "thickness": "the sheet, with a caliper, at several places",
    "comb-x": f"the {COMB_BLOCKS} blocks of the comb along x, pushed together",
    "comb-y": f"the {COMB_BLOCKS} blocks of the comb along y, pushed together",
    "bar-x": "the bar along x",
    "bar-y": "the bar along y",
    "slot": "the drawn width of the slot that takes the sheet's edge as you like it",
    "strip-20": "the strip cut with the fence at 20 mm",
    "strip-50": "the strip cut with the fence at 50 mm",
    "fold": "outside to outside over the two folds of the strip, drawn 50 mm apart",
}


@dataclass(frozen=True, slots=True)
class Figures:
    """What is calculated from readings, mm; None where nothing was read.

    thickness: mean of the sheet. kerf: along x and along y, the full width. scale: how long the machine makes what
    is drawn 1 long, along x and along y (the bars' kerf is allowed for). slot_fit: what a slot is wider than
    the sheet. fence_zero: by how much a piece is longer than the fence's scale shows. hinge: depth of a fold's hinge
    line below the outer face, as a share of the sheet, or of the skin that a groove leaves.
    """

    thickness: float | None = None
    kerf: tuple[float, float] | None = None
    scale: tuple[float, float] | None = None
    slot_fit: float | None = None
    fence_zero: float | None = None
    hinge: float | None = None


def parse_readings(
    words: Sequence[str], names: Iterable[str] = NAMES, *, above: float = 0.0
) -> dict[str, tuple[float, ...]]:
    """Readings as typed: NAME=LENGTH, several lengths parted by commas; in mm by name.

    names: those that are known. above: what every length must exceed, mm.

    Raises:
        InputError: an unknown name (offers the nearest), no length, a length that is not above `above`.
    """
    known = list(names)
    found: dict[str, tuple[float, ...]] = {}
    for word in words:
        name, equals, text = word.partition("=")
        name = name.strip().lower()
        if not equals or name not in known:
            raise InputError(
                f'there is no reading called "{name}"' if equals else f'"{word}" does not give a length',
                cure=nearest(name, known) if equals else "Write NAME=LENGTH, for example " + f"{known[0]}=6.1",
                place="--record",
            )
        try:
            lengths = tuple(parse_length(part.strip()) for part in text.split(","))
        except InputError as error:
            raise error.located(place=f"--record {name}") from None
        if not all(length > above for length in lengths):
            raise InputError(
                f"a reading must be more than {show_length(above)}", cure="Measure again", place=f"--record {name}"
            )
        found[name] = found.get(name, ()) + lengths
    return found


def figures_of(readings: Mapping[str, tuple[float, ...]], thickness: float, skin: float = 0.0) -> Figures:
    """The figures calculated from readings; several readings of one piece count by their mean.

    thickness: of the sheet where it was not read, mm. skin: what the strip's grooves leave, mm; 0 for creases.

    Raises:
        InputError: a reading that can't be right.
    """
    mean = {name: math.fsum(values) / len(values) for name, values in readings.items()}
    sheet = mean.get("thickness", thickness)
    bars = [mean[name] / BAR_LENGTH for name in ("bar-x", "bar-y") if name in mean]
    for scale in bars:
        if not 0.9 < scale < 1.1:
            raise InputError(
                f"a bar that is drawn {BAR_LENGTH:g} mm long can't measure {show_length(scale * BAR_LENGTH)}",
                cure="Measure it again, in mm",
                place="--record bar",
            )
    fit = mean["slot"] - sheet if "slot" in mean else None
    if fit is not None and not LEAST_FIT <= fit <= MOST_FIT:
        likely = f"{show_number(max(0.0, sheet + LEAST_FIT))} to {show_length(sheet + MOST_FIT)} is possible with it"
        raise InputError(
            f"a slot {show_length(mean['slot'])} wide does not go with a sheet of {show_length(sheet)}",
            cure=f"The numbers beside the slots are hundredths of a millimetre: write 3.15 for 315. {likely}",
            place="--record slot",
        )
    combs = [kerf_of_comb(mean[name], name) for name in ("comb-x", "comb-y") if name in mean]
    return Figures(
        thickness=mean.get("thickness"),
        kerf=(combs[0], combs[-1]) if combs else None,
        scale=(bars[0], bars[-1]) if bars else None,
        slot_fit=fit,
        fence_zero=fence_zero_of([(s, mean[f"strip-{s:g}"]) for s in FENCE_SETTINGS if f"strip-{s:g}" in mean]),
        hinge=hinge_of(mean["fold"], skin or sheet) if "fold" in mean else None,
    )


def kerf_of_comb(pushed: float, name: str = "comb") -> float:
    """The kerf k = (W - pushed together) / N: each of the N blocks loses half a cut on each side (common practice).

    >>> round(kerf_of_comb(98.5), 3)
    0.15

    Raises:
        InputError: longer than drawn, or more kerf than any tool makes.
    """
    kerf = (COMB_WIDTH - pushed) / COMB_BLOCKS
    if not -1e-9 <= kerf <= WIDEST_KERF / 2:
        least = COMB_WIDTH - COMB_BLOCKS * WIDEST_KERF / 2
        raise InputError(
            f"the blocks of the comb can't be {show_length(pushed)} wide together",
            cure=f"Push all blocks together and measure them: {show_number(least)} to {show_length(COMB_WIDTH)} is "
            "possible",
            place=f"--record {name}",
        )
    return max(0.0, kerf)


def fence_zero_of(pairs: Sequence[tuple[float, float]]) -> float | None:
    """c0 = mean of (measured - set); the fence is then set to S = size - c0 (derived).

    >>> fence_zero_of([(20.0, 19.6), (50.0, 49.6)])
    -0.4
    """
    if not pairs:
        return None
    return round(math.fsum(measured - setting for setting, measured in pairs) / len(pairs), 9)


def hinge_of(outside: float, bends: float) -> float:
    """From L = h + 2 a b: a = (L - h) / (2 b), for two folds h apart (derived).

    bends: thickness of what bends, mm: the sheet at a crease, the skin that a groove leaves.

    >>> round(hinge_of(50.5, 0.5), 3), round(hinge_of(50.3, 0.3), 3)
    (0.5, 0.5)

    Raises:
        InputError: a hinge outside of what bends, by more than a reading can err.
    """
    least, most = FOLD_LENGTH, FOLD_LENGTH + 2 * bends
    if not least - FOLD_ERROR <= outside <= most + FOLD_ERROR:
        raise InputError(
            f"the folded strip can't measure {show_length(outside)}",
            cure="Fold it until both corners are square and the sides of its grooves touch, and measure again: "
            f"{show_number(least)} to {show_length(most)} is possible",
            place="--record fold",
        )
    return min(1.0, max(0.0, (outside - FOLD_LENGTH) / (2 * bends)))


GAP = 4.0
MARGIN = 10.0
BLOCK_DEPTH = 20.0
BAR_DEPTH = 15.0
SLOT_DEPTH = 15.0
# Slots from 0.2 mm under to 0.4 mm over the sheet's thickness (common practice, no source).
SLOT_STEPS = (-0.2, -0.15, -0.1, -0.05, 0.0, 0.05, 0.1, 0.2, 0.3, 0.4)
TEXT_HEIGHT = 3.0
SIZE = (250.0, 200.0)
_THICKEST_GROOVED = 12.0


def gauge_drawing(material: MaterialFile, machine: MachineFile, kerf: tuple[float, float]) -> SheetDrawing:
    """All test pieces on one sheet, in cutting order.

    The combs are drawn without any allowance for the kerf, since they measure it; bars and slots with it.
    """
    strokes = [*_combs(), *_bars(kerf), *_slots(material.real_thickness, kerf), *_fold(material)]
    guides = [Stroke("GUIDE", rectangle(0, 0, *size)) for size in (SIZE, (CHECK_SIDE_MM, CHECK_SIDE_MM))]
    title = f"test pieces of {material.title}, {material.real_thickness:g} mm thick, for {machine.title}"
    return SheetDrawing(f"{material.name}-gauge", title, SIZE, Kerf.of(kerf), layered((*strokes, *guides)))


def _combs() -> Iterator[Stroke]:
    """Blocks that measure the comb's width together, less one kerf each."""
    block = COMB_WIDTH / COMB_BLOCKS
    for n in range(COMB_BLOCKS):
        at = MARGIN + n * (block + GAP)
        yield Stroke("CUT_OUTER", rectangle(at, MARGIN, block, BLOCK_DEPTH))
        yield from written("X", at + 2, MARGIN + 3, TEXT_HEIGHT)
        yield Stroke("CUT_OUTER", rectangle(MARGIN, MARGIN + BLOCK_DEPTH + GAP + n * (block + GAP), BLOCK_DEPTH, block))
        yield from written("Y", MARGIN + 2, MARGIN + BLOCK_DEPTH + GAP + n * (block + GAP) + 3, TEXT_HEIGHT)


def _bars(kerf: tuple[float, float]) -> Iterator[Stroke]:
    x, y = MARGIN + BLOCK_DEPTH + 2 * GAP, MARGIN + BLOCK_DEPTH + 2 * GAP
    yield Stroke("CUT_OUTER", _grown(rectangle(x, y, BAR_LENGTH, BAR_DEPTH), kerf))
    yield from written("BAR-X 100", x + 4, y + 5, TEXT_HEIGHT)
    x += BAR_LENGTH + 2 * GAP
    yield Stroke("CUT_OUTER", _grown(rectangle(x, y, BAR_DEPTH, BAR_LENGTH), kerf))
    yield from written("B-Y", x + 2, y + 5, TEXT_HEIGHT)


def _grown(box: Points, kerf: tuple[float, float], sign: float = 1.0) -> Points:
    """A box with half the kerf more (or less) on every side."""
    middle = box.mean(axis=0)
    grown: Points = box + np.sign(box - middle) * np.array(kerf) * (sign / 2)
    return grown


def _slots(thickness: float, kerf: tuple[float, float]) -> Iterator[Stroke]:
    """A plate with slots of rising width, each with its width in hundredths of a millimetre beside it."""
    left, bottom = MARGIN + BLOCK_DEPTH + 2 * GAP, MARGIN + BLOCK_DEPTH + BAR_DEPTH + 4 * GAP
    pitch = max(thickness + 7.0, 10.0)
    width = pitch * ((len(SLOT_STEPS) + 1) // 2) + 4.0
    yield Stroke("CUT_OUTER", _grown(rectangle(left, bottom, width, 2 * SLOT_DEPTH + 20.0), kerf))
    for n, step in enumerate(SLOT_STEPS):
        size = max(0.2, thickness + step)
        x = left + 4.0 + (n // 2) * pitch
        y = bottom + 8.0 + (n % 2) * (SLOT_DEPTH + 8.0)
        yield Stroke("CUT_INNER", _grown(rectangle(x, y, size, SLOT_DEPTH), kerf, -1.0))
        yield from written(f"{round(size * 100)}", x - 1.0, y - TEXT_HEIGHT - 2.0, TEXT_HEIGHT)


def _fold(material: MaterialFile) -> Iterator[Stroke]:
    """A strip with two creases, or two V-grooves if the stock is folded in these, to fold to a right angle each."""
    t, skin = material.real_thickness, material.groove_skin
    half = groove_width(t, material.folding.hinge * skin, math.pi / 2) / 2 if skin else 0.0
    if not _folds(material):
        return
    left, bottom = MARGIN + BLOCK_DEPTH + 2 * GAP, SIZE[1] - MARGIN - BLOCK_DEPTH
    flap = 20.0 + half
    yield Stroke("CUT_OUTER", rectangle(left, bottom, FOLD_LENGTH + 2 * flap, BLOCK_DEPTH))
    for fold in (left + flap, left + flap + FOLD_LENGTH):
        for x in dict.fromkeys((fold - half, fold + half)):
            yield Stroke("CREASE", np.array([(x, bottom), (x, bottom + BLOCK_DEPTH)]))
        if text_size("V90", TEXT_HEIGHT)[0] + 1 < 2 * half:
            yield from written("V90", fold - text_size("V90", TEXT_HEIGHT)[0] / 2, bottom + 8.0, TEXT_HEIGHT)
    yield from written("FOLD 50", left + flap + half + 3.0, bottom + 8.0, TEXT_HEIGHT)


def _folds(material: MaterialFile) -> bool:
    """Whether there is a strip to fold: between two grooves there must be room for its name."""
    return not material.groove_skin or material.real_thickness <= _THICKEST_GROOVED


def _fold_step(skin: float) -> str:
    """What to do with the strip; skin: what its grooves leave, 0 for creases."""
    first, share = "Fold the strip at both creases", "(2 t) of the thickness t under the outer face"
    if skin:
        first = (
            f"Cut out both V-grooves of the strip down to the far paper ({skin:g} mm) and fold until their sides meet"
        )
        share = f"{2 * skin:g} of the paper's thickness under its outer face"
    return f"{first}. Measure outside to outside: fold=... The hinge lies (reading - {FOLD_LENGTH:g}) / {share}."


def gauge_steps(material: MaterialFile, machine: MachineFile, record: str) -> list[str]:
    """What to do with the pieces, and which reading goes by which name. record: the command that keeps readings."""
    likely = ",".join(f"{material.thickness * share:.3g}" for share in (0.98, 1, 1.02))
    steps = [
        f"Measure the sheet with a caliper at several places: {record} thickness={likely}",
        "Cut the sheet of test pieces as you would cut tiles.",
        f"Push the {COMB_BLOCKS} blocks marked X together and measure them along x, those marked Y along y: "
        f"comb-x=..., comb-y=... The kerf is ({COMB_WIDTH:g} - reading) / {COMB_BLOCKS}.",
        "Measure the two bars: bar-x=..., bar-y=... They tell whether the machine draws to scale.",
        "Try the edge of the sheet in the slots; the number beside each is its width in hundredths of a millimetre: "
        "slot=... is the width that fits as you like it.",
    ]
    if _folds(material):
        steps.append(_fold_step(material.groove_skin))
    if CUT_PROCESSES[machine.process].fence:
        steps.append(
            "Fence: cut one strip with the fence at 20 mm and one at 50 mm: strip-20=..., strip-50=... After that the "
            "fence is set to the size wanted less c0, the mean of (measured - set)."
        )
    return steps
