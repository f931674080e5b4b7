"""Styles that printed tiles are carved as: a shipped one by its name, or a file of one's own."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from PIL import Image

from tilegen.errors import InputError
from tilegen.files.toml import find, read_model
from tilegen.lengths import show_length, show_number
from tilegen.model.keys import described
from tilegen.model.stonework import Stonework
from tilegen.model.tables import StyleFile, given


def read_style(word: str, folder: Path = Path()) -> Stonework | None:
    """A style by its shipped name or its file, whose path starts in a folder; None: plain.

    Raises:
        InputError: no such file, or a figure that nothing can be carved with.
    """
    if word == "plain":
        return None
    path = find(folder / word if (folder / word).is_file() else word, "styles")
    style = _with_images(Stonework(**given(read_model(path, StyleFile))), path)
    for figure in described(Stonework):
        name, key = figure.name, figure.key
        if key.least is None or key.most is None:
            continue
        least, most, value = key.least, key.most, getattr(style, name)
        numbers = value if isinstance(value, tuple) else (value,)
        show = show_length if key.is_length else show_number
        wrong = next((number for number in numbers if not least <= number <= most), None)
        if wrong is not None:
            raise InputError(
                f"{show(wrong)} is too {'small' if wrong < least else 'large'}",
                cure=f"Use {show(least)} to {show(most)}",
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


def _with_images(style: Stonework, path: Path) -> Stonework:
    """A style with the paths of its images in full.

    Raises:
        InputError: a colour that is none, an image that is not there or that can't be read.
    """
    named = [("colour", style.colour), ("floor_colour", style.floor_colour), *(("colours", c) for c in style.colours)]
    for name, colour in named:
        if colour and not re.fullmatch("#[0-9a-fA-F]{6}", colour):
            raise InputError(
                f'"{colour}" is not a colour', cure="Write # and six digits, as in #c4b7a0", file=str(path), place=name
            )
    for name in ("wall_image", "floor_image"):
        word = getattr(style, name)
        if not word:
            continue
        image = path.parent / word
        try:
            with Image.open(image) as opened:
                opened.load()
                kind = opened.format
        except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
            kind = None
        if kind not in {"PNG", "JPEG"}:
            raise InputError(
                f'"{word}" is not an image that can be read',
                cure="Give the path of a PNG or JPEG file from this file's folder",
                file=str(path),
                place=name,
            )
        style = (
            replace(style, wall_image=str(image)) if name == "wall_image" else replace(style, floor_image=str(image))
        )
    return style
