"""Brick: courses of eight on a space."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 8, 0.34, stray=0.08)
