"""Planks: boards nailed at both ends."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 4, 2.4, stray=0.5, nails=True, split=(1, 2))
