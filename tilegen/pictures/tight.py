"""The places of a plan on which a figure can't stand anyhow, lettered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from tilegen.fit.discs import largest_disc
from tilegen.fit.figures import Figure
from tilegen.fit.floor import Bools, Spaces, level_floor, spaces_covered

# So many places are lettered and listed; more would fill the page.
MOST_LETTERED = 60
Labels = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tight:
    """Spaces next to each other on which a figure can't stand anyhow.

    letter: on the map. first: (row, column) from 0 of the first space. spaces: how many. largest: the largest
    base, mm, that any block there takes. at: (row, column) of the space that carries the letter.
    """

    letter: str
    first: tuple[int, int]
    spaces: int
    largest: float
    at: tuple[int, int]


def tight_places(spaces: Spaces, figure: Figure) -> tuple[Labels, tuple[Tight, ...]]:
    """Spaces that belong to blocked blocks only: (rows, columns) number of their place, from 1, and the places.

    Spaces of one place are joined across lines on which nothing stands; places are in reading order.
    """
    blocked = figure.blocks & ~figure.standing
    n = figure.spaces_across
    only = spaces_covered(blocked, n, spaces.shape) & ~spaces_covered(figure.standing, n, spaces.shape)
    labels = _joined(spaces, only)
    row, column = np.nonzero(blocked)
    largest = np.zeros(int(labels.max(initial=0)) + 1)
    takes = _largest_of(spaces, row, column, n)
    for dr in range(n):
        for dc in range(n):
            np.maximum.at(largest, labels[row + dr, column + dc], takes)
    flat = labels.ravel()
    where = np.flatnonzero(flat)
    found, first, sizes = np.unique(flat[where], return_index=True, return_counts=True)
    order = np.argsort(first)
    renumbered = np.zeros(len(largest), np.int64)
    renumbered[found[order]] = np.arange(1, len(order) + 1)
    columns = spaces.shape[1]
    places = []
    for index, at in enumerate(order.tolist()):
        place = divmod(int(where[first[at]]), columns)
        carrier = _middle_space(labels, int(found[at]), place) if index < MOST_LETTERED else place
        places.append(Tight(letters(index), place, int(sizes[at]), float(largest[found[at]]), carrier))
    return renumbered[labels], tuple(places)


def letters(index: int) -> str:
    """a, b ... z, aa, ab ... for 0, 1 ...

    >>> [letters(n) for n in (0, 25, 26, 27, 702)]
    ['a', 'z', 'aa', 'ab', 'aaa']
    """
    text = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


def _joined(spaces: Spaces, chosen: Bools) -> Labels:
    rows, columns = chosen.shape
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[0::2, 0::2] = chosen
    raster[1::2, 0::2] = chosen[1:] & chosen[:-1] & ~spaces.shut_across[1:-1]
    raster[0::2, 1::2] = chosen[:, 1:] & chosen[:, :-1] & ~spaces.shut_down[:, 1:-1]
    labels: Labels = ndimage.label(raster)[0][0::2, 0::2].astype(np.int64)
    return labels


def _largest_of(spaces: Spaces, row: Labels, column: Labels, n: int) -> Floats:
    """The largest disc of the blocks of n spaces that start there, each kind of block worked out once."""
    if not len(row):
        return np.zeros(0)
    strips, posts = (
        sliding_window_view(array, (n, n))[row, column].reshape(-1, n * n) for array in (spaces.strips, spaces.posts)
    )
    kinds, which = np.unique(np.concatenate([strips, posts], axis=1), axis=0, return_inverse=True)
    grid = spaces.drawing.grid
    discs = [
        largest_disc(kind[: n * n].reshape(n, n), kind[n * n :].reshape(n, n), grid.pitch, grid.wall_thickness)
        for kind in kinds
    ]
    takes = np.array(discs)[which.ravel()]
    levels = level_floor(spaces)
    if spaces.off_grid is not None:
        for at in np.flatnonzero(spaces.off_grid.touches(row, column, n)).tolist():
            takes[at] = spaces.off_grid.largest_disc(int(row[at]), int(column[at]), n)
    if levels is not None:
        special = {(r, c) for r, c in levels.special(np.ones(_starts(spaces, n), bool), n).tolist()}
        for at, place in enumerate(zip(row.tolist(), column.tolist(), strict=True)):
            if place in special:
                takes[at] = levels.discs(*place, n)[0]
    return takes


def _starts(spaces: Spaces, n: int) -> tuple[int, int]:
    rows, columns = spaces.shape
    return rows - n + 1, columns - n + 1


def _middle_space(labels: Labels, number: int, near: tuple[int, int]) -> tuple[int, int]:
    """The space of a place that is nearest to its middle; the place reaches no further than its first row upwards."""
    rows, columns = np.nonzero(labels[near[0] :] == number)
    off = np.hypot(rows - rows.mean(), columns - columns.mean())
    best = int(np.argmin(np.round(off, 9)))
    return int(rows[best]) + near[0], int(columns[best])
