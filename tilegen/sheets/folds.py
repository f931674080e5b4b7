"""The arithmetic of folds: where a crease or a groove goes so that what is folded has its outside size."""

from __future__ import annotations

import math


def fold_to_fold(outside: float, thickness: float, hinge: float, folds: int = 2) -> float:
    """From one fold line to the next, or to a free edge, for an outside size; everything in mm.

    hinge: depth of the hinge under the outer face, as a share of the thickness. folds: how many of the panel's two
    ends are folds: L - 2 a t between two folds of 90 degrees, H - a t for a flap with a free end (derived).

    >>> fold_to_fold(50, 0.5, 0.5), fold_to_fold(8, 0.5, 0.5, folds=1)
    (49.5, 7.75)
    """
    return outside - folds * hinge * thickness


def fold_loss(depth: float, turn: float) -> float:
    """By what a fold shortens the panels on both its sides, mm: d tan(turn / 2) (derived).

    depth: of the hinge under the outer face, mm; turn: of the fold, in radians. The outer faces move out by d.

    >>> round(fold_loss(0.15, math.pi / 2), 3), round(fold_loss(0.15, math.pi / 3), 3)
    (0.15, 0.087)
    """
    return depth * math.tan(turn / 2)


def groove_width(thickness: float, depth: float, turn: float) -> float:
    """Of a V-groove on the face that is cut, mm: 2 (t - d) tan(turn / 2); turn: of the fold, in radians.

    depth: of the hinge under the outer face, mm. Derived: turned about the hinge, the groove's sides just meet.

    >>> round(groove_width(5, 0.3, math.pi / 2), 2), round(groove_width(5, 0.3, math.pi / 3), 2)
    (9.4, 5.43)
    """
    return 2 * (thickness - depth) * math.tan(turn / 2)


def crease_channel(thickness: float, rule: float) -> tuple[float, float]:
    """Width and depth of the channel that card is pressed into, mm: 2 t + rule wide and t deep (condat-pap.com)."""
    return 2 * thickness + rule, thickness


def wrapped_core(outside: float, card: float, gap: float) -> float:
    """Of a core that card is glued round, for an outside size, mm: X - 2 (t + g) (derived).

    >>> round(wrapped_core(50, 0.3, 0.1), 2)
    49.2
    """
    return outside - 2 * (card + gap)


def stable_foot(height: float) -> float:
    """The least depth of a free-standing piece that does not tip at 15 degrees, mm: h tan 15 (derived).

    >>> round(stable_foot(25), 1)
    6.7
    """
    return height * math.tan(math.radians(15))
