"""Limits in law and usual cautions for small parts and magnets. Local rules come first."""

from __future__ import annotations

import math
from collections.abc import Sequence

# 16 CFR 1501.4: a cylinder of 1.25 in (31.7 mm) with a slanting bottom, 1 to 2.25 in (25.4 to 57.1 mm) deep; the
# inches govern.
CYLINDER_MM, MOST_DEPTH_MM = 31.75, 57.15
# 16 CFR 1262.1-1262.3: a magnet is hazardous if it is a small part with a flux index of 50 kG2 mm2 or more.
MOST_FLUX_INDEX = 50.0


def is_small_part(size: Sequence[float]) -> bool:
    """Whether a part may lie wholly in the small parts cylinder of 16 CFR 1501.4. size: of its box, mm.

    On the safe side: it is taken for a small part where its box fits a straight cylinder of the greatest depth, the
    longest side upright.

    >>> is_small_part((7.0, 12.0, 3.0)), is_small_part((63.2, 6.0, 38.1))
    (True, False)
    """
    short, middle, long = sorted(size)
    return math.hypot(short, middle) <= CYLINDER_MM and long <= MOST_DEPTH_MM


def flux_index(surface_field: float, diameter: float) -> float:
    """Of a disc magnet in kG2 mm2: the square of the field at its pole (kG) times the pole's area (mm2).

    The formula is that of ASTM F963, to which 16 CFR 1262 refers (from memory).

    >>> round(flux_index(3.0, 4.0), 1)
    113.1
    """
    return surface_field**2 * math.pi * diameter**2 / 4


def flux_words(field: float | None, diameter: float) -> str:
    """What to say of disc magnets of a field at their pole, kG, if it is known, and of a diameter, mm."""
    tiles = "Home-made tiles with magnets are not toys."
    if field is None:
        return (
            f"{tiles} Rules for magnets that can come loose ask for a flux index under {MOST_FLUX_INDEX:g} kG2 mm2 "
            "(16 CFR 1262); strong small magnets are above it. To see the flux index of yours, give the field at their "
            "pole in kilogauss as surface_field under [connectors]."
        )
    index = flux_index(field, diameter)
    verdict = "at or over" if index >= MOST_FLUX_INDEX else "under"
    return (
        f"{tiles} Flux index of these magnets: {index:.0f} kG2 mm2 ({field:g} kG on {diameter:g} mm), {verdict} the "
        f"{MOST_FLUX_INDEX:g} from which 16 CFR 1262 calls a loose small magnet hazardous."
    )
