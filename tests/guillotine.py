"""The greatest area that edge-to-edge cuts can make of one sheet, by the plain two-way recursion: a yardstick.

F(w, h) is the best single rectangle that fits w x h, or the best of all cuts F(x, h) + F(w - x, h) and
F(w, y) + F(w, h - y) (P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more dimensions",
Operations Research 13, 1965). Only sums of sides matter as places to cut.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def best_area(sheet: Sequence[int], rectangles: Sequence[Sequence[int]], *, turned: bool) -> int:
    """Of whole-number rectangles, as many of each as wanted."""
    sizes = {(w, h) for w, h in rectangles} | ({(h, w) for w, h in rectangles} if turned else set())
    columns, rows = places(sheet[0], [w for w, _ in sizes]), places(sheet[1], [h for _, h in sizes])
    value = np.zeros((len(columns), len(rows)), dtype=np.int64)
    for w, h in sizes:
        value[np.ix_(columns >= w, rows >= h)] = np.maximum(value[np.ix_(columns >= w, rows >= h)], w * h)
    # The rest of a cut is as good as the largest sum of sides that it holds.
    for i, width in enumerate(columns):
        near = np.arange(1, i + 1)
        far = np.searchsorted(columns, width - columns[near], side="right") - 1
        useful = far >= 0
        if useful.any():
            value[i] = np.maximum(value[i], (value[near[useful]] + value[far[useful]]).max(axis=0))
        for j, height in enumerate(rows):
            low = np.arange(1, j + 1)
            high = np.searchsorted(rows, height - rows[low], side="right") - 1
            if len(low):
                value[i, j] = max(value[i, j], (value[i, low] + value[i, high]).max())
    return int(value[-1, -1])


def places(length: int, sides: Sequence[int]) -> np.ndarray:
    """Every sum of sides up to a length, from 0."""
    reached = np.zeros(length + 1, dtype=bool)
    reached[0] = True
    for at in range(length + 1):
        if reached[at]:
            for side in set(sides):
                if at + side <= length:
                    reached[at + side] = True
    return np.flatnonzero(reached)
