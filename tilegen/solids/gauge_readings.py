"""What the readings of printed test pieces mean: from what was measured to the figures of a printer file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from tilegen.errors import InputError
from tilegen.reading.printer_models import ClearanceTable, PrinterFile
from tilegen.sheets.readings import parse_readings
from tilegen.solids.gauge import BAR, HOLES, SHORT

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
    """What readings come to; None where nothing was read.

    size_error: the least play that works, mm. hole_allowance: on a hole's diameter, mm. press, snug, slip: clearance
    per side, mm. shrink_x, shrink_y: what a print is short of its drawing, as a share. over_x, over_y: what outside
    sizes come out too large by the lines' width, mm. pocket: what a magnet's pocket is wider than the magnet, mm.
    """

    size_error: float | None = None
    hole_allowance: float | None = None
    press: float | None = None
    snug: float | None = None
    slip: float | None = None
    shrink_x: float | None = None
    shrink_y: float | None = None
    over_x: float | None = None
    over_y: float | None = None
    pocket: float | None = None


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
                    f"a reading of {value:g} mm",
                    expected=f"{least:g} to {most:g} mm for {NAMES[name]}",
                    cure="type the number that is engraved, or what the caliper says, in mm",
                    place=f"--record {name}",
                )
    return found


def print_figures(readings: Mapping[str, tuple[float, ...]], printer: PrinterFile) -> PrintFigures:
    """The figures that readings come to; several readings of one piece count by their mean.

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
                f"step-{axis} alone", expected=f"bar-{axis} as well", cure="measure both", place="--record"
            )
        return None, None
    if step is None:
        return 1.0 - whole / BAR, None
    scale = (whole - step) / (BAR - SHORT)
    if abs(1.0 - scale) > _WIDEST_SHRINK:
        least, most = ((BAR - SHORT) * (1 + sign * _WIDEST_SHRINK) for sign in (-1, 1))
        raise InputError(
            f"a bar of {whole:g} mm with a step of {step:g} mm",
            expected=f"{least:g} to {most:g} mm from one to the other",
            cure="measure both again",
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
                f"{tight} = {a:g} mm and {wide} = {b:g} mm",
                expected=f"{wide} at least as wide as {tight}",
                cure="try the clip again, from the narrow holes to the wide ones",
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
