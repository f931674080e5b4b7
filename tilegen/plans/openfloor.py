"""Open floor in rectangles, and the gaps between them through which one sees into the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Rectangles:
    """The floor in rectangles: cell columns [west, east) and rows [north, south) of each; of: (rows, columns)."""

    of: Ints
    west: Ints
    east: Ints
    north: Ints
    south: Ints


@dataclass(frozen=True)
class Gaps:
    """Gaps on one side of the rectangles, those of rectangle r from start[r] to start[r + 1].

    west, east: cell columns of the ends; line: the row's line; into: the rectangle beyond.
    """

    start: Ints
    west: Ints
    east: Ints
    line: Ints
    into: Ints


def rectangles(floor: Bools, across: Bools, down: Bools) -> Rectangles:
    """Runs of cells along the rows between two wall lines, joined with the run below where it is as wide and open."""
    rows, columns = floor.shape
    starts = floor & down[:, :-1]
    run_of = np.cumsum(starts).reshape(floor.shape) - 1
    row, west = np.nonzero(starts)
    cells = np.flatnonzero(floor.ravel())
    size = np.bincount(run_of.ravel()[cells], minlength=len(west))
    shut_above = np.bincount(run_of.ravel()[cells], weights=across[:-1].ravel()[cells], minlength=len(west))
    order = np.lexsort((row, size, west))
    r, w, s = row[order], west[order], size[order]
    joined = np.zeros(len(order), bool)
    joined[1:] = (w[1:] == w[:-1]) & (s[1:] == s[:-1]) & (r[1:] == r[:-1] + 1) & (shut_above[order][1:] == 0)
    number = np.empty(len(order), np.int64)
    number[order] = np.cumsum(~joined) - 1
    firsts = np.flatnonzero(~joined)
    heights = np.diff(firsts, append=len(order))
    of = np.full(rows * columns, -1, np.int64)
    of[cells] = number[run_of.ravel()[cells]]
    west_of, north_of = w[firsts], r[firsts]
    return Rectangles(of.reshape(rows, columns), west_of, west_of + s[firsts], north_of, north_of + heights)


def gaps(rectangles: Rectangles, across: Bools) -> tuple[Gaps, Gaps]:
    """The gaps on the north and on the south side of every rectangle."""
    above, below = rectangles.of[:-1], rectangles.of[1:]
    line, column = np.nonzero(~across[1:-1] & (above >= 0) & (below >= 0) & (above != below))
    over, under = above[line, column], below[line, column]
    new = np.ones(len(line), bool)
    new[1:] = (
        (line[1:] != line[:-1]) | (column[1:] != column[:-1] + 1) | (over[1:] != over[:-1]) | (under[1:] != under[:-1])
    )
    firsts = np.flatnonzero(new)
    west, line, over, under = column[firsts], line[firsts] + 1, over[firsts], under[firsts]
    east = west + np.diff(firsts, append=len(new))
    ends = west, east, line
    return _sorted_gaps(rectangles, under, ends, over), _sorted_gaps(rectangles, over, ends, under)


def _sorted_gaps(rectangles: Rectangles, owner: Ints, ends: tuple[Ints, Ints, Ints], into: Ints) -> Gaps:
    west, east, line = ends
    order = np.lexsort((west, owner))
    return Gaps(starts(owner, len(rectangles.west)), west[order], east[order], line[order], into[order])


def starts(sorted_or_not: Ints, count: int) -> Ints:
    """Where each number's entries start once sorted, and one end more."""
    return np.concatenate([[0], np.cumsum(np.bincount(sorted_or_not, minlength=count))]).astype(np.int64)
