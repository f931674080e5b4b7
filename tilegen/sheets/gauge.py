"""Test pieces that tell the kerf, the fit of slots, the scale and the folds of the user's own machine and stock."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tilegen.geometry import Points
from tilegen.reading.machine_models import MachineFile
from tilegen.reading.material_models import MaterialFile
from tilegen.sheets.drawing import Layer, SheetDrawing, Stroke
from tilegen.sheets.folds import groove_width
from tilegen.sheets.kerf import Kerf
from tilegen.sheets.readings import BAR_LENGTH, COMB_BLOCKS, COMB_WIDTH, FOLD_LENGTH
from tilegen.tiles.font import text_size, text_strokes

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
    order: tuple[Layer, ...] = ("ENGRAVE", "SCORE", "CREASE", "CUT_INNER", "CUT_OUTER")
    ordered = [stroke for layer in order for stroke in strokes if stroke.layer == layer]
    edge = Stroke("GUIDE", _box(0, 0, *SIZE))
    square = Stroke("GUIDE", _box(0, 0, 100, 100))
    title = f"test pieces of {material.title}, {material.real_thickness:g} mm thick, for {machine.title}"
    return SheetDrawing(f"{material.name}-gauge", title, SIZE, Kerf.of(kerf), (*ordered, edge, square))


def _box(x: float, y: float, width: float, height: float) -> Points:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], float)


def _words(text: str, x: float, y: float) -> Iterator[Stroke]:
    for points in text_strokes(text, TEXT_HEIGHT):
        yield Stroke("ENGRAVE", points + np.array((x, y)))


def _combs() -> Iterator[Stroke]:
    """Blocks that measure the comb's width together, less one kerf each."""
    block = COMB_WIDTH / COMB_BLOCKS
    for n in range(COMB_BLOCKS):
        at = MARGIN + n * (block + GAP)
        yield Stroke("CUT_OUTER", _box(at, MARGIN, block, BLOCK_DEPTH))
        yield from _words("X", at + 2, MARGIN + 3)
        yield Stroke("CUT_OUTER", _box(MARGIN, MARGIN + BLOCK_DEPTH + GAP + n * (block + GAP), BLOCK_DEPTH, block))
        yield from _words("Y", MARGIN + 2, MARGIN + BLOCK_DEPTH + GAP + n * (block + GAP) + 3)


def _bars(kerf: tuple[float, float]) -> Iterator[Stroke]:
    x, y = MARGIN + BLOCK_DEPTH + 2 * GAP, MARGIN + BLOCK_DEPTH + 2 * GAP
    yield Stroke("CUT_OUTER", _grown(_box(x, y, BAR_LENGTH, BAR_DEPTH), kerf))
    yield from _words("BAR-X 100", x + 4, y + 5)
    x += BAR_LENGTH + 2 * GAP
    yield Stroke("CUT_OUTER", _grown(_box(x, y, BAR_DEPTH, BAR_LENGTH), kerf))
    yield from _words("B-Y", x + 2, y + 5)


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
    yield Stroke("CUT_OUTER", _grown(_box(left, bottom, width, 2 * SLOT_DEPTH + 20.0), kerf))
    for n, step in enumerate(SLOT_STEPS):
        size = max(0.2, thickness + step)
        x = left + 4.0 + (n // 2) * pitch
        y = bottom + 8.0 + (n % 2) * (SLOT_DEPTH + 8.0)
        yield Stroke("CUT_INNER", _grown(_box(x, y, size, SLOT_DEPTH), kerf, -1.0))
        yield from _words(f"{round(size * 100)}", x - 1.0, y - TEXT_HEIGHT - 2.0)


def _fold(material: MaterialFile) -> Iterator[Stroke]:
    """A strip with two creases, or two V-grooves if the stock is folded in these, to fold to a right angle each."""
    t, skin = material.real_thickness, material.groove_skin
    half = groove_width(t, material.folding.hinge * skin, math.pi / 2) / 2 if skin else 0.0
    if not _folds(material):
        return
    left, bottom = MARGIN + BLOCK_DEPTH + 2 * GAP, SIZE[1] - MARGIN - BLOCK_DEPTH
    flap = 20.0 + half
    yield Stroke("CUT_OUTER", _box(left, bottom, FOLD_LENGTH + 2 * flap, BLOCK_DEPTH))
    for fold in (left + flap, left + flap + FOLD_LENGTH):
        for x in dict.fromkeys((fold - half, fold + half)):
            yield Stroke("CREASE", np.array([(x, bottom), (x, bottom + BLOCK_DEPTH)]))
        if text_size("V90", TEXT_HEIGHT)[0] + 1 < 2 * half:
            yield from _words("V90", fold - text_size("V90", TEXT_HEIGHT)[0] / 2, bottom + 8.0)
    yield from _words("FOLD 50", left + flap + half + 3.0, bottom + 8.0)


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
    if machine.process == "hot-wire":
        steps.append(
            "Fence: cut one strip with the fence at 20 mm and one at 50 mm: strip-20=..., strip-50=... After that the "
            "fence is set to the size wanted less c0, the mean of (measured - set)."
        )
    return steps
