"""Styles of stone that printed tiles are carved as: a table of their figures, mm (found by trying, no source)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stonework:
    """The figures of a style of stone, mm.

    courses: heights from the floor up on a wall of the usual height; elsewhere they are counted from the top and start
    again. joint, depth: width and depth of the joints. radius, face, length: from, to. face: how far stones lie under
    the plain face; sunk: how much deeper those of the field do than quoins, jambs and arches.
    floor_stone: the least and the largest side; floor_depth: of the floor's joints; floor_face: how far tops lie down.
    """

    word: str
    courses: tuple[float, ...]
    joint: float
    depth: float
    radius: tuple[float, float]
    face: tuple[float, float]
    sunk: float
    length: tuple[float, float]
    floor_stone: tuple[float, float] = (7.0, 17.0)
    floor_joint: float = 0.85
    floor_depth: float = 0.85
    floor_radius: tuple[float, float] = (0.35, 0.75)
    floor_face: tuple[float, float] = (0.03, 0.43)


STYLES: Mapping[str, Stonework] = {
    style.word: style
    for style in (
        Stonework("dressed", (6.9, 5.3, 6.4, 5.6, 6.28, 7.62), 0.8, 1.0, (0.35, 0.8), (0.03, 0.45), 0.25, (8.0, 15.0)),
        Stonework("rubble", (5.9, 4.4, 6.3, 4.9, 5.2, 3.78, 7.62), 0.7, 1.3, (0.6, 1.3), (0.03, 0.5), 0.2, (6.0, 13.0)),
        Stonework("brick", (3.81,) * 10, 0.6, 0.8, (0.2, 0.35), (0.03, 0.2), 0.15, (9.8, 10.2)),
    )
}
