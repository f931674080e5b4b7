"""Printer files."""

from __future__ import annotations

from tilegen.errors import InputError
from tilegen.reading.files import find, read_model
from tilegen.reading.models import PrinterFile
from tilegen.solids.beds import Printer

DEFAULT_PRINTER = "fdm-220"


def read_printer(word: str = DEFAULT_PRINTER) -> Printer:
    """A printer, by the name of a shipped file or by path.

    Raises:
        InputError: not found, or measures that no part fits in.
    """
    path = find(word, "printers")
    model = read_model(path, PrinterFile)
    width, depth = model.bed
    free = min(width, depth) - 2 * model.margin
    if free <= 0 or model.height <= 0 or model.spacing < 0 or model.margin < 0:
        raise InputError("a bed without room", expected="a bed larger than its margins", file=str(path), place="bed")
    return Printer(
        name=model.name,
        title=model.title,
        bed=model.bed,
        height=model.height,
        margin=model.margin,
        spacing=model.spacing,
        least_lintel=model.least_lintel,
        size_error=model.size_error,
        cautions=tuple(model.cautions),
    )
