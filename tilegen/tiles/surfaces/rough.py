"""Rough stone: wavy courses of uneven blocks."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 3, 0.45, stray=0.35, wave=0.44, split=(2, 3))
