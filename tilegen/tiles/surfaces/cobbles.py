"""Cobbles: small round stones in wavy courses."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 4, 0.27, stray=0.25, wave=0.24, rounded=0.22, split=(4, 3))
