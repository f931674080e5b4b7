"""Printer files."""

from __future__ import annotations

from tilegen.errors import InputError
from tilegen.reading.files import find, read_model
from tilegen.reading.printer_models import PrinterFile

DEFAULT_PRINTER = "fdm-220"


def read_printer(word: str = DEFAULT_PRINTER) -> PrinterFile:
    """A printer, by the name of a shipped file or by path.

    Raises:
        InputError: not found, or measures that no part fits in.
    """
    path = find(word, "printers")
    printer = read_model(path, PrinterFile)
    if min(printer.room) <= 0 or printer.height <= 0:
        raise InputError(
            f"a bed of {printer.bed[0]:g} x {printer.bed[1]:g} x {printer.height:g} mm with a margin of "
            f"{printer.margin:g} mm and a brim of {printer.brim:g} mm",
            expected="a bed larger than its margins and brims",
            file=str(path),
            place="bed",
        )
    return printer
