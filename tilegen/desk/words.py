"""What is said of a plan in the words of the page: rooms by their names on the map, squares, nothing of the file."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tilegen.errors import InputError

Letters = Mapping[str, Mapping[str, Any]]
_ROOMS = re.compile(r'\b[Rr]ooms? ("."(?:, ".")*)')
_POINT = r"\[-?[\d.]+, -?[\d.]+\]"
_VALUES = {
    ("kind", "doorway"): "a doorway",
    ("kind", "saddle"): "a saddle",
    ("kind", "open"): "an open side",
    ("kind", "none"): "no connectors",
    ("leaf", "none"): "no leaf",
    ("posts", "fixed"): "posts that are part of the tile",
    ("doorways", "fixed"): "doorways that are part of the wall",
}
_MEASURES = {
    "pitch": "one space",
    "wall_thickness": "wall thickness",
    "wall_height": "wall height",
    "base_depth": "floor thickness",
    "joint_play": "play between tiles",
}


def _value(found: re.Match[str]) -> str:
    key, value = found[1], found[2]
    usual = f"a {value} {key}" if key in ("leaf", "head") else f"{key} {value}"
    return _VALUES.get((key, value), usual)


def _square(found: re.Match[str]) -> str:
    return f"{'S' if found[1] == 'C' else 's'}quare{found[2]}"


def _measure(found: re.Match[str]) -> str:
    return _MEASURES.get(found[0], found[0].replace("_", " "))


# In this order. What lies at a point of the map is shown there, so its coordinates are left out.
_CHANGES: Sequence[tuple[str, str | Callable[[re.Match[str]], str]]] = (
    (r" Write the way with room = .*? draw a hall\.", ""),
    (rf'For (.*?) write room = "." and at = {_POINT} instead of cell and side', r"Use \1"),
    (r"Delete \[surface\.rooms\], \[surface\.styles\], continuous and different", "Give all rooms the same ones"),
    (r" Or write a list in square brackets, as in \[[^\]]*\]", ""),
    (r": to = \[column, row\] is its last one", ""),
    (rf"\bat = {_POINT}, ", ""),
    (rf",? at cell {_POINT}(?=[.,]|$)", ""),
    (r"\bcell \[(-?\d+), (-?\d+)\]", r"the square in column \1, row \2"),
    (rf" from {_POINT} to {_POINT}", ""),
    (rf"(?:,? \b(?:at|near)|^at) {_POINT}", ""),
    (r",? (?:at|near) \(-?[\d.]+, -?[\d.]+\)(?: mm)?", ""),
    (r"\bset (?=(?:posts|doorways) = )", "choose "),
    (r"\bUse (?=(?:posts|doorways) = )", "Choose "),
    (r"\ba \[\[way\]\] with (?=kind = )", ""),
    (r'\b(\w+) = "([^"]*)"(?: (?:under|in) \[\w+\])?', _value),
    (r"\bwidth = ([\d.]+)(?: mm)?", r"a width of \1 mm"),
    (r"\bGive it at and size\b", "Give it a place and a size"),
    (r" \(--[^)]*\)", ""),
    (r" (?:under|in) \[[\w.]+\]", ""),
    (r"\[\[?([\w.]+)\]\]?", r"\1"),
    (r"\b([Cc])ell(s?)\b", _square),
    (r"\b[a-z]+_[a-z]+\b", _measure),
    (r"  +", " "),
    (r" (?=[.,:])", ""),
)
_PATTERNS = [(re.compile(pattern), change) for pattern, change in _CHANGES]


def name_of(letter: str, letters: Letters) -> str:
    """A room's name as the map shows it."""
    return str(letters.get(letter, {}).get("title") or f"Room {letter}")


def on_page(text: str, letters: Letters) -> str:
    """A sentence about a plan as the page says it. letters: its rooms (see `written`).

    >>> on_page('the shape lies over cell [10, 11] of room "W"', {})
    'the shape lies over Room W'
    """
    text = re.sub(rf'\bcell {_POINT} of (?=room ")', "", text)
    for letter, room in letters.items():
        if room["title"]:
            text = text.replace(f'"{letter}" ({room["title"]})', f'"{letter}"')
    # Names are put in last: what a person has called a room stays as it is.
    names: list[str] = []

    def keep(found: re.Match[str]) -> str:
        names.append(", ".join(name_of(letter, letters) for letter in re.findall('"(.)"', found[1])))
        return f"\0{len(names) - 1}\0"

    text = _ROOMS.sub(keep, text)
    for pattern, change in _PATTERNS:
        text = pattern.sub(change, text)
    return re.sub("\0(\\d+)\0", lambda found: names[int(found[1])], text).strip()


def place_on_page(place: str, letters: Letters) -> str:
    """A place in a plan's file as the page names it; nothing if the page shows where it is.

    >>> place_on_page("[grid] joint_play", {}), place_on_page("[heights.A] floor", {}), place_on_page("[[way]] 2", {})
    ('play between tiles', 'Room A', '')
    """
    if room := re.match(r"\[heights\.?(\w)\]|\[heights\] (\w)\b", place):
        return name_of(room[1] or room[2], letters)
    measure = re.match(r"\[(grid|doorway)\] (\w+)", place)
    if measure is None:
        return ""
    return f"doorway {measure[2]}" if measure[1] == "doorway" else _MEASURES.get(measure[2], "")


def error_on_page(error: InputError, letters: Letters) -> InputError:
    """What is wrong with a plan or an edit of it, as the page says it."""
    return InputError(
        on_page(error.text, letters), cure=on_page(error.cure, letters), place=place_on_page(error.place, letters)
    )
