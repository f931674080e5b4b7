"""The fewest rectangles that a floor of squares can be cut into: what no set of rectangular pieces can beat."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse
from scipy.sparse import csgraph

Floor = npt.NDArray[np.bool_]


def fewest_rectangles(floor: Floor) -> int:
    """The fewest rectangles, of any size, that partition a floor.

    floor: (rows, columns), true where there is floor; several separate floors add up.

    N - L - H + C: N reflex corners, L the most chords between two of them on one line that do not meet each other,
    H holes, C floors that hang together by sides (Lipski, Lodi, Luccio, Mugnai, Pagli 1979, "On two-dimensional data
    organization II"; Ohtsuki 1982, "Minimum dissection of rectilinear regions"; for one floor C = 1).
    """
    padded = np.pad(floor, 1)
    quarters = (padded[:-1, :-1], padded[:-1, 1:], padded[1:, :-1], padded[1:, 1:])
    around = sum(quarter.astype(np.int8) for quarter in quarters)
    reflex = np.asarray(around == 3)
    _, floors = ndimage.label(floor)
    # Solid ground that meets at a corner hangs together: the floor does not.
    _, grounds = ndimage.label(~padded, structure=np.ones((3, 3)))
    holes = grounds - 1
    return int(reflex.sum()) - _most_chords(padded, reflex) - holes + floors


def _most_chords(padded: Floor, reflex: Floor) -> int:
    """The largest set of chords of which no two meet: all of them less a largest matching of those that do."""
    level = _chords(padded, reflex)
    upright = [(a[::-1], b[::-1]) for a, b in _chords(padded.T, reflex.T)]
    if not level or not upright:
        return len(level) + len(upright)
    pairs = [
        (i, j)
        for i, ((row, left), (_, right)) in enumerate(level)
        for j, ((top, column), (bottom, _)) in enumerate(upright)
        if left <= column <= right and top <= row <= bottom
    ]
    if not pairs:
        return len(level) + len(upright)
    rows, columns = np.array(pairs).T
    meets = sparse.csr_array((np.ones(len(pairs), np.int8), (rows, columns)), shape=(len(level), len(upright)))
    matched = csgraph.maximum_bipartite_matching(meets, perm_type="column")
    return len(level) + len(upright) - int((matched >= 0).sum())


def _chords(padded: Floor, reflex: Floor) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Level lines from one reflex corner to the next with floor on both sides all the way, by their end corners."""
    found = []
    inside = padded[:-1, 1:-1] & padded[1:, 1:-1]
    for row in np.flatnonzero(reflex.any(axis=1)).tolist():
        corners = np.flatnonzero(reflex[row]).tolist()
        for left, right in pairwise(corners):
            if inside[row, left:right].all():
                found.append(((row, left), (row, right)))
    return found
