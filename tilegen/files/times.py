"""A maker's own log of what took how long, and how much glue: how far the program's estimates were off, on the mean.

Each entry has what the report said and what it took. The estimate is multiplied by the mean of took / said; the range
is the 95 % interval of that mean, m +- t s / sqrt n with n - 1 degrees of freedom (NIST/SEMATECH e-Handbook of
Statistical Methods, 1.3.5.2, Confidence Limits for the Mean), and never wider than without a log.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from tilegen.errors import InputError, as_written, either, nearest
from tilegen.files.csv_rows import read_rows
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.model.printers import PrinterFile

NOT_MEASURED = "not measured on your machine"
_COLUMNS = ("work", "with", "said", "took")
# What is logged, what it is done with, and whether it is weighed too.
WORKS = {"cut": "machine", "glue": "material", "print": "printer"}
_SECONDS = {"s": 1, "sec": 1, "min": 60, "minute": 60, "minutes": 60, "h": 3600, "hour": 3600, "hours": 3600}
_GRAMS = {"g": 1, "gram": 1, "grams": 1, "kg": 1000}
_NUMBER = r"(?<![\d.,])[0-9]{1,9}(?:[.,][0-9]{1,9})?(?![\d.,])"
_HOW = 'Write it as in "90 min", "1.5 h" or "1 h 30 min"'
# What work and glue may come to before anything is logged (common practice, no source).
_UNKNOWN = 0.5, 2.0
# What is off by more than this is a slip of the pen or of the unit.
_MOST_OFF = 20.0


class Pace(NamedTuple):
    """What estimates are multiplied by, least and most, from how many entries of a log."""

    factor: float = 1.0
    low: float = _UNKNOWN[0]
    high: float = _UNKNOWN[1]
    entries: int = 0

    @property
    def words(self) -> str:
        """Where it is from."""
        plural = "entry" if self.entries == 1 else "entries"
        return f"your log, {self.entries} {plural}" if self.entries else NOT_MEASURED


def pace_of(ratios: Sequence[float], usual: tuple[float, float] = _UNKNOWN) -> Pace:
    """The pace by a log's ratios of took to said; usual: least and most where nothing is known.

    >>> pace_of([1.1, 1.3, 1.2, 1.2]).factor
    1.2
    """
    if not ratios:
        return Pace(1.0, *usual)
    count = len(ratios)
    mean = math.fsum(ratios) / count
    low, high = (mean * bound for bound in usual)
    if count > 1:
        from scipy.special import stdtrit  # noqa: PLC0415 - loaded by those who keep a log

        error = math.sqrt(math.fsum((ratio - mean) ** 2 for ratio in ratios) / (count - 1) / count)
        within = float(stdtrit(count - 1, 0.975)) * error
        low, high = max(low, mean - within), min(high, mean + within)
    return Pace(round(mean, 9), round(low, 9), round(high, 9), count)


@dataclass(frozen=True)
class Times:
    """The ratios of a log by work, what it was done with, and whether it was weighed; file: where that is."""

    ratios: Mapping[tuple[str, str, bool], tuple[float, ...]] = field(default_factory=dict)
    file: str = field(default="", repr=False, compare=False)

    def pace(self, work: str, stock: str, *, weighed: bool = False, usual: tuple[float, float] = _UNKNOWN) -> Pace:
        """The pace of a work done with a material, machine or printer, by its name; usual: as of `pace_of`."""
        return pace_of(self.ratios.get((work, stock, weighed), ()), usual)

    def unused(self, names: Mapping[str, Sequence[str]]) -> list[str]:
        """Works and names of the log that a run has nothing of; names: what it has, by work."""
        return sorted({f"{work} {stock}" for work, stock, _ in self.ratios if stock not in names.get(work, ())})

    def of_material(self, material: MaterialFile) -> MaterialFile:
        """A material with the time and weight that its glue takes here."""
        time, weight = (self.pace("glue", material.kin, weighed=weighed).factor for weighed in (False, True))
        glue = material.gluing
        update = {"joint": glue.joint * time, "face": glue.face * weight, "bead": glue.bead * weight}
        return material.model_copy(update={"gluing": glue.model_copy(update=update)}) if self.ratios else material

    def of_machine(self, machine: MachineFile) -> MachineFile:
        """A machine with the time that its cuts take here."""
        factor, work = self.pace("cut", machine.name).factor, machine.work
        update = {key: getattr(work, key) * factor for key in ("cut", "metre", "sheet")}
        return machine.model_copy(update={"work": work.model_copy(update=update)}) if self.ratios else machine

    def of_printer(self, printer: PrinterFile) -> PrinterFile:
        """A printer with the time that its prints take here."""
        pace = self.pace("print", printer.name, usual=(1 - printer.spread, 1 + printer.spread))
        update = {"pace": printer.pace * pace.factor, "spread": pace.high / pace.factor - 1}
        return printer.model_copy(update=update) if pace.entries else printer


def read_times(path: Path) -> Times:
    """A log of times: CSV with the columns work, with, said and took.

    Raises:
        InputError: not readable, a column that is missing or unknown, a row that can't be; with the row and column.
    """
    found: dict[tuple[str, str, bool], list[float]] = {}
    try:
        for place, cells in read_rows(path, _COLUMNS):
            key, ratio = _entry(place, cells)
            found.setdefault(key, []).append(ratio)
    except InputError as error:
        raise error.located(file=str(path)) from None
    return Times({key: tuple(ratios) for key, ratios in found.items()}, str(path))


def _entry(place: str, cells: Mapping[str, str]) -> tuple[tuple[str, str, bool], float]:
    """What one row is about, and how many times what was said it took."""
    work, stock = cells["work"].lower(), cells["with"].lower()
    if work not in WORKS:
        wrong = f"{as_written(work)} is not a kind of work" if work else "this is empty"
        raise InputError(wrong, cure=nearest(work, WORKS), place=f"{place}, work")
    if not stock:
        wrong, cure = f"it does not say which {WORKS[work]} it was", "Write its name as the report has it"
        raise InputError(wrong, cure=cure, place=f"{place}, with")
    (said, weighed), (took, other) = (_amount(cells[key], f"{place}, {key}") for key in ("said", "took"))
    if weighed != other or (weighed and work != "glue"):
        wrong = "one of these is a time and one a weight" if weighed != other else f'"{work}" is timed, not weighed'
        raise InputError(wrong, cure="Write two times, or for glue two weights", place=place)
    if not 1 / _MOST_OFF <= took / said <= _MOST_OFF:
        wrong = f"it took {took / said:.3g} times what was said"
        raise InputError(wrong, cure="Check both numbers and their units", place=place)
    return (work, stock, weighed), took / said


def _amount(text: str, place: str) -> tuple[float, bool]:
    """Seconds or grams, and whether it is grams; a bare number is minutes."""
    parts = re.findall(rf"({_NUMBER}) *([a-z]*)\.?", text.lower())
    plain = re.fullmatch(rf"(?: *{_NUMBER} *[a-z]*\.? *)+", text.lower())
    units = [unit or "min" for _, unit in parts]
    for units_of, weighed in ((_SECONDS, False), (_GRAMS, True)):
        if plain and all(unit in units_of for unit in units) and len({units_of[unit] for unit in units}) == len(parts):
            amount = math.fsum(
                float(number.replace(",", ".")) * units_of[u] for (number, _), u in zip(parts, units, strict=True)
            )
            if amount > 0:
                return amount, weighed
            raise InputError(f"{as_written(text)} is no time at all", cure=_HOW, place=place)
    odd = next((unit for unit in units if unit not in {**_SECONDS, **_GRAMS}), "")
    wrong = f'"{odd}" is not a unit of time or weight' if odd else f"{as_written(text)} is neither a time nor a weight"
    cure = f"Use {either(['min', 'h', 'g', 'kg'])}" if odd else _HOW
    raise InputError("this is empty" if not text else wrong, cure=cure, place=place)
