"""Timber: long boards nailed at both ends."""

from __future__ import annotations

from tilegen.tiles.surfaces.courses import Courses

PATTERN = Courses(1 / 5, 1.7, stray=0.5, nails=True)
