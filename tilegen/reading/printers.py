"""Printer files, and settings given with a printer's name."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from tilegen.errors import InputError
from tilegen.model.printers import PrinterFile
from tilegen.reading.files import check, find, read_toml

DEFAULT_PRINTER = "fdm-220"


def read_printer(word: str = DEFAULT_PRINTER) -> PrinterFile:
    """A printer, by the name of a shipped file or by path; settings may follow, as in "fdm-220, layers.height=0.1".

    Raises:
        InputError: not found, a wrong setting, or measures that no part fits in.
    """
    name, settings = _split(word)
    path = find(name, "printers")
    tables = read_toml(path)
    for setting in settings:
        _put(tables, setting)
    printer = check(tables, PrinterFile, str(path) if not settings else f"{path} with {', '.join(settings)}")
    if min(printer.room) <= 0 or printer.height <= 0:
        raise InputError(
            f"a bed of {printer.bed[0]:g} x {printer.bed[1]:g} x {printer.height:g} mm with a margin of "
            f"{printer.margin:g} mm and a brim of {printer.brim:g} mm",
            expected="a bed larger than its margins and brims",
            file=str(path),
            place="bed",
        )
    return printer


def _split(word: str) -> tuple[str, list[str]]:
    """The name or path, and what is set after it."""
    if Path(word).is_file():
        return word, []
    name, *settings = (part.strip() for part in word.split(","))
    return name, [setting for setting in settings if setting]


def _put(tables: dict[str, Any], setting: str) -> None:
    """Set one key of a file's tables, as `key=value` or `table.key=value`."""
    place, found, text = setting.partition("=")
    if not found or not place.strip() or not text.strip():
        raise InputError(
            f'the setting "{setting}"', expected='a key and a value, as in "snap_heights=true"', place="--printer"
        )
    table = tables
    *above, key = (part.strip() for part in place.split("."))
    for part in above:
        table = table.setdefault(part, {})
        if not isinstance(table, dict):
            raise InputError(f'the setting "{setting}"', expected=f'"{part}" to be a table', place="--printer")
    table[key] = _value(text.strip())


def _value(text: str) -> Any:  # noqa: ANN401
    """As TOML has it; what is no TOML value is text, such as 0.4 mm."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text
