"""Styles that printed tiles are carved as: a shipped one by its name, or a file of one's own."""

from __future__ import annotations

from pathlib import Path

from tilegen.errors import InputError
from tilegen.files.toml import find, read_model
from tilegen.lengths import show_length
from tilegen.model.stonework import Stonework
from tilegen.model.tables import StyleFile, given

# What the carver can do with a figure (common practice, no source: a nozzle of 0.4 mm draws no finer).
_BOUNDS = {
    "courses": (2.0, 50.0),
    "joint": (0.2, 3.0),
    "depth": (0.2, 3.0),
    "radius": (0.0, 4.0),
    "face": (0.03, 2.0),
    "sunk": (0.0, 2.0),
    "length": (4.0, 200.0),
    "floor_stone": (4.0, 60.0),
    "floor_joint": (0.2, 3.0),
    "floor_depth": (0.2, 3.0),
    "floor_radius": (0.0, 3.0),
    "floor_face": (0.03, 2.0),
}


def read_style(word: str, folder: Path = Path()) -> Stonework | None:
    """A style by its shipped name or its file, whose path starts in a folder; None: plain.

    Raises:
        InputError: no such file, or a figure that nothing can be carved with.
    """
    if word == "plain":
        return None
    path = find(folder / word if (folder / word).is_file() else word, "styles")
    style = Stonework(**given(read_model(path, StyleFile)))
    for name, (least, most) in _BOUNDS.items():
        value = getattr(style, name)
        numbers = value if isinstance(value, tuple) else (value,)
        wrong = next((number for number in numbers if not least <= number <= most), None)
        if wrong is not None:
            raise InputError(
                f"{show_length(wrong)} is too {'small' if wrong < least else 'large'}",
                cure=f"Use {show_length(least)} to {show_length(most)}",
                file=str(path),
                place=name,
            )
        if name != "courses" and list(numbers) != sorted(numbers):
            raise InputError(
                f"{show_length(numbers[0])} to {show_length(numbers[1])} goes down",
                cure="Write the smaller one first",
                file=str(path),
                place=name,
            )
    if not style.courses:
        raise InputError("there are no courses", cure="Give one height at least", file=str(path), place="courses")
    return style
