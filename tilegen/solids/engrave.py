"""Words cut into the underside of a finished solid: after its chamfer, which would break the letters' edges."""

from __future__ import annotations

from collections.abc import Sequence

import manifold3d
import numpy as np
from manifold3d import Manifold

from tilegen.geometry import oriented_rings
from tilegen.solids.bands import at
from tilegen.solids.build import prism
from tilegen.tiles.plate import Mark

_REACH_MM = 0.5


def engraved_below(solid: Manifold, marks: Sequence[Mark]) -> Manifold:
    """A solid that stands on z = 0 less marks of its underside, in plan coordinates."""
    if not marks:
        return solid
    return Manifold.batch_boolean([solid, *map(_cutter, marks)], manifold3d.OpType.Subtract)


def _cutter(mark: Mark) -> Manifold:
    rings = oriented_rings(mark.region)
    flat = np.concatenate(rings)
    return prism(rings, at(flat, -_REACH_MM), at(flat, mark.depth))
