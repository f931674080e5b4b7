"""A plan's tables as tomlkit keeps them: read, added to and taken from without touching the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array

from tilegen.errors import InputError


def tables(document: tomlkit.TOMLDocument, name: str) -> list[Any]:
    """The `[[name]]` tables of a plan, or those of `name = [{...}]`, in order."""
    found = document.get(name)
    return list(found) if isinstance(found, (AoT, Array)) else []


def keep(document: tomlkit.TOMLDocument, name: str, kept: Sequence[Any]) -> None:
    """Take away all `[[name]]` tables but these."""
    found = document.get(name)
    if not isinstance(found, (AoT, Array)) or len(kept) == len(found):
        return
    if not kept:
        del document[name]
        return
    for index in range(len(found) - 1, -1, -1):
        if not any(found[index] is table for table in kept):
            del found[index]


def remove(document: tomlkit.TOMLDocument, name: str, index: int) -> Any:  # noqa: ANN401 - a table of tomlkit
    """Take away one of the `[[name]]` tables, counted from 0; the table.

    Raises:
        InputError: there are not so many.
    """
    found = tables(document, name)
    if not 0 <= index < len(found):
        raise InputError(f"no [[{name}]] {index + 1}", expected=f"one of {len(found)}", place=f"[[{name}]]")
    keep(document, name, found[:index] + found[index + 1 :])
    return found[index]


def append(document: tomlkit.TOMLDocument, name: str, values: Mapping[str, Any]) -> None:
    """Add one `[[name]]` table behind the others."""
    found = document.get(name)
    table = tomlkit.inline_table() if isinstance(found, Array) else tomlkit.table()
    table.update(values)
    if isinstance(found, (AoT, Array)):
        found.append(table)
    else:
        fresh = tomlkit.aot()
        fresh.append(table)
        document.append(name, fresh)
