"""A table of variants: CSV with a parameter a column, or TOML with a `[[variant]]` each."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tilegen.batch.variants import MOST_VARIANTS, Choice, Variant, choose
from tilegen.errors import InputError
from tilegen.reading.files import LARGEST_BYTES, read_toml

Choose = Callable[[str, str, str], Choice]


def read_variants(path: Path) -> list[Variant]:
    """The variants of a table; an empty cell leaves the parameter as the profile has it.

    Raises:
        InputError: not readable, no rows, too many, or a value that is none, with its row and column.
    """
    rows = _toml_rows(path) if path.suffix.lower() == ".toml" else _csv_rows(path)
    seen: dict[tuple[str, str], Choice] = {}

    def once(parameter: str, text: str, place: str) -> Choice:
        if (parameter, text) not in seen:
            seen[parameter, text] = choose(parameter, text, place)
        return seen[parameter, text]

    try:
        found = [_variant(cells, place, once) for place, cells in rows]
    except InputError as error:
        raise error.located(file=str(path)) from None
    if not 1 <= len(found) <= MOST_VARIANTS:
        raise InputError(f"{len(found)} variants", expected=f"1 to {MOST_VARIANTS}", file=str(path))
    return found


def _variant(cells: dict[str, str], place: str, once: Choose) -> Variant:
    choices = tuple(once(name, text, f"{place}, {name}") for name, text in cells.items() if text)
    keys = [(choice.table, choice.key) for choice in choices]
    if len(set(keys)) < len(keys):
        raise InputError("a parameter given twice", expected="each parameter once", place=place)
    return Variant(choices)


def _csv_rows(path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    reader = csv.reader(io.StringIO(_text(path), newline=""), strict=True)
    try:
        header = [name.strip() for name in next(reader, [])]
        if not any(header) or len(set(header)) < len(header):
            raise InputError(
                "no heading, or one with a name twice", expected="the parameters' names", place="row 1", file=str(path)
            )
        for cells in reader:
            place = f"row {reader.line_num}"
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                raise InputError(f"{len(cells)} cells", expected=f"{len(header)}, as in the heading", place=place)
            yield place, {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
    except csv.Error as error:
        raise InputError(f"broken CSV ({error})", expected="a table", place=f"row {reader.line_num}") from None


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise InputError(f"a file of {path.stat().st_size} bytes", expected="at most 64 MiB", file=str(path))
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"a byte that is not UTF-8 at {error.start}", expected="UTF-8 text", file=str(path)) from None
    except OSError as error:
        raise InputError(
            error.strerror or "an unreadable file", expected="a table of variants", file=str(path)
        ) from None


def _toml_rows(path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    tables = read_toml(path)
    rows: Any = tables.pop("variant", None)
    if tables or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        found = f'the key "{next(iter(tables))}"' if tables else "no [[variant]]"
        raise InputError(found, expected="[[variant]] tables and nothing else", file=str(path))
    for number, row in enumerate(rows, 1):
        place = f"[[variant]] {number}"
        yield place, {name: _as_text(value, f"{place}, {name}") for name, value in _flat(row)}


def _flat(row: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """`doorway.width = ...` in TOML is a table in a table."""
    for name, value in row.items():
        if isinstance(value, dict):
            yield from ((f"{name}.{key}", inner) for key, inner in value.items())
        else:
            yield name, value


def _as_text(value: Any, place: str) -> str:  # noqa: ANN401
    if isinstance(value, list) and all(isinstance(part, str | int | float) for part in value):
        numbers = all(isinstance(part, int | float) for part in value)
        return ("x" if numbers and place.endswith("size") else "+").join(map(str, value)) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str | int | float):
        return str(value)
    raise InputError(f"{value!r}"[:60], expected="text, a number, true, false or a list of these", place=place)
