"""Ashlar: squared blocks in courses of uneven height."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 4, 0.62, stray=0.4, uneven=0.4)
