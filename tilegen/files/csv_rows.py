"""Rows of CSV files as spreadsheets and people write them: with commas, semicolons or tabs, each with its place."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from tilegen.errors import InputError
from tilegen.files.toml import read_text
from tilegen.lengths import counted

_HOW_HEADING = "Write each column's name once in the first row"


def read_rows(path: Path, columns: Sequence[str] = ()) -> Iterator[tuple[str, dict[str, str]]]:
    """The place of each row and its cells by the names of the heading; blank rows are left out.

    The heading decides what parts cells: commas, or else semicolons or tabs, as spreadsheets in many countries write.
    columns: those that there must be, in any order and in small or capital letters; without them any will do.

    Raises:
        InputError: not readable, a heading that is none, a row of another length; with the row.
    """
    text = read_text(path)
    head = text.partition("\n")[0]
    parts = next((sign for sign in ",;\t" if sign in head), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parts, strict=True)
    try:
        header = [name.strip() for name in next(reader, [])]
        if not any(header) or len(set(header)) < len(header):
            wrong = "a name is there twice in the heading" if any(header) else "the table has no heading"
            cure = f"The first row is: {','.join(columns)}" if columns else _HOW_HEADING
            raise InputError(wrong, cure=cure, place="row 1", file=str(path))
        if columns:
            header = _named(header, columns, path)
        for cells in reader:
            place = f"row {reader.line_num}"
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                raise InputError(
                    f"this row has {counted(len(cells), 'cell')}, and the heading has {len(header)}",
                    cure="Put text that has a comma in quotes",
                    place=place,
                    file=str(path),
                )
            yield place, {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
    except csv.Error:
        raise InputError(
            "this row can't be read as CSV", cure="Check its quotes", place=f"row {reader.line_num}", file=str(path)
        ) from None


def _named(header: Sequence[str], columns: Sequence[str], path: Path) -> list[str]:
    """A heading in small letters, if it has these columns and no others."""
    names = [name.lower() for name in header]
    missing = [name for name in columns if name not in names]
    unknown = [name for name in names if name not in columns]
    if missing or unknown:
        text = f'there is no column "{missing[0]}"' if missing else f'"{unknown[0]}" is not a column of this file'
        raise InputError(text, cure=f"The first row is: {','.join(columns)}", place="row 1", file=str(path))
    return names
