"""Rows as CSV: the one way in which all lists are written."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence


def csv_bytes(rows: Iterable[Sequence[object]]) -> bytes:
    """Rows as CSV with the line ends of RFC 4180."""
    buffer = io.StringIO()
    csv.writer(buffer).writerows([_safe(value) for value in row] for row in rows)
    return buffer.getvalue().encode()


def _safe(value: object) -> object:
    """A text that a spreadsheet won't take for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
