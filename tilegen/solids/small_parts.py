"""Which loose parts a small child could swallow."""

from __future__ import annotations

import itertools
import math

# The cylinder of 16 CFR 1501.4 (figure 1): inside diameter, and depth at the shallow and the deep end of its
# slanted bottom, mm.
DIAMETER_MM = 31.7
SHALLOW_MM, DEEP_MM = 25.4, 57.1


def small_part(size: tuple[float, float, float]) -> bool:
    """Whether a part with this box round it, mm, may fit wholly into the small-parts cylinder of 16 CFR 1501.4.

    On the safe side: the box may stand on any face, upright, down to the deepest point of the slanted bottom; a
    part that is much less than its box may be flagged though it does not fit.

    >>> small_part((20.0, 20.0, 20.0)), small_part((50.2, 12.7, 38.1)), small_part((5.0, 5.0, 57.0))
    (True, False, True)
    """
    return any(math.hypot(a, b) <= DIAMETER_MM and c <= DEEP_MM for a, b, c in itertools.permutations(size))
