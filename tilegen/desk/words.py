"""What is said of a plan in the words of the page: rooms by their names on the map, squares, nothing of the file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tilegen.errors import CellRef, InFile, InputError, KeyRef, Place, RoomRef, Said

Letters = Mapping[str, Mapping[str, Any]]
_VALUES = {
    ("kind", "doorway"): "a doorway",
    ("kind", "saddle"): "a saddle",
    ("kind", "open"): "an open side",
    ("kind", "none"): "no connectors",
    ("leaf", "none"): "no leaf",
    ("posts", "fixed"): "posts that are part of the tile",
    ("doorways", "fixed"): "doorways that are part of the wall",
}
_KEYS = {
    "pitch": "one space",
    "base_depth": "floor thickness",
    "joint_play": "play between tiles",
    "thickness": "the leaf",
    "at": "a place",
    "size": "a size",
}


def name_of(letter: str, letters: Letters) -> str:
    """A room's name as the map shows it."""
    return str(letters.get(letter, {}).get("title") or f"Room {letter}")


def on_page(text: str, letters: Letters) -> str:
    """A sentence about a plan as the page says it. letters: its rooms (see `written`).

    What lies at a point of the map is shown there, so its coordinates are left out.

    >>> on_page(Said("{}the shape lies over {}", InFile("at [9.5, 10] "), RoomRef("W")), {})
    'the shape lies over Room W'
    """

    def named(thing: object) -> str:
        if isinstance(thing, RoomRef):
            return name_of(thing.letter, letters)
        if isinstance(thing, CellRef):
            return f"the square in column {thing.column}, row {thing.row}"
        if isinstance(thing, Place):
            return named(CellRef(*thing.cell)) if thing.cell else f"another {thing.table}"
        if isinstance(thing, KeyRef):
            key, value = thing.key, thing.value
            usual = f"{key} {value}" if key in ("kind", "every") else f"a {value} {key}"
            return _VALUES.get((key, value), usual) if value else _KEYS.get(key, key.replace("_", " "))
        return "" if isinstance(thing, InFile) else str(thing)

    return text.named(named) if isinstance(text, Said) else text


def place_on_page(place: str, letters: Letters) -> str:
    """A place in a plan's file as the page names it; nothing if the page shows where it is.

    >>> place_on_page(Place("[grid] joint_play", table="grid", key="joint_play"), {})
    'play between tiles'
    """
    if not isinstance(place, Place):
        return ""
    if place.room and not place.number:
        return name_of(place.room, letters)
    key = _KEYS.get(place.key, place.key.replace("_", " "))
    return {"grid": key, "doorway": f"doorway {key}"}.get(place.table, "")


def error_on_page(error: InputError, letters: Letters) -> InputError:
    """What is wrong with a plan or an edit of it, as the page says it."""
    return InputError(
        on_page(error.text, letters), cure=on_page(error.cure, letters), place=place_on_page(error.place, letters)
    )
