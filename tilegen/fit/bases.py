"""Which figures stand where: the largest disc in every block of spaces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.fit.discs import known_disc
from tilegen.fit.levels import LevelFloor, level_floor
from tilegen.fit.reach import Unreached, reached, unreached_parts
from tilegen.fit.sizes import check_base, spaces_across
from tilegen.fit.spaces import Bools, Spaces, blocks_of, spaces_of
from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Drawing
from tilegen.plans.route import Areas, find_areas

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Figure:
    """Where a figure stands.

    blocks: (rows, columns) whether a block of spaces_across spaces each way starts there; standing: whether the
    figure stands in it; least, most: the smallest and largest disc that any block takes, 0 without a block.
    unreached: parts of rooms it can't get to; from_ways_in: whether it was let in by the plan's ways in (else the
    largest connected part of where it stands counts as got to).
    """

    base: float
    spaces_across: int
    blocks: Bools
    standing: Bools
    least: float
    most: float
    unreached: tuple[Unreached, ...]
    from_ways_in: bool

    @cached_property
    def positions(self) -> int:
        """Blocks of floor with no wall line inside."""
        return int(self.blocks.sum())

    @cached_property
    def stands(self) -> int:
        """Positions where the figure stands."""
        return int(self.standing.sum())

    @cached_property
    def blocked(self) -> Ints:
        """(n, 2) column and row, from 1, of the first space of each position where it does not stand."""
        row, column = np.nonzero(self.blocks & ~self.standing)
        return np.stack([column + 1, row + 1], axis=1)

    @property
    def rooms_unreached(self) -> tuple[str, ...]:
        """Letters of which some part can't be got to, in alphabetical order."""
        return tuple(sorted({part.room for part in self.unreached}))


def figures_on(drawing: Drawing, bases: list[float]) -> tuple[Figure, ...]:
    """Where figures with these bases (diameters in mm) stand on a plan.

    Raises:
        InputError: a base that is not above 0, not finite, or larger than the map.
    """
    spaces, areas, longest = spaces_of(drawing), find_areas(drawing), max(drawing.rooms.shape) * drawing.cell_side
    levels = level_floor(spaces)
    found = []
    for base in bases:
        check_base(base)
        if spaces_across(base) > max(spaces.shape):
            raise InputError(
                f"a figure with a base of {base:g} mm",
                expected=f"one that is not larger than the map, {max(spaces.shape)} spaces or {longest:g} mm long",
                place="--figure",
            )
        found.append(_figure(spaces, areas, base, levels))
    return tuple(found)


def figures_record(figures: tuple[Figure, ...]) -> list[dict[str, Any]]:
    """`figures` of the fit's JSON."""
    return [
        {
            "base_mm": figure.base,
            "spaces_across": figure.spaces_across,
            "positions": figure.positions,
            "stands": figure.stands,
            "blocked": figure.blocked.tolist(),
        }
        for figure in figures
    ]


def reach_record(figures: tuple[Figure, ...]) -> list[dict[str, Any]]:
    """For each figure, the parts of rooms it can't get to, as JSON."""
    return [
        {
            "base_mm": figure.base,
            "from_ways_in": figure.from_ways_in,
            "unreached": [
                {"room": part.room, "title": part.title, "first_cell": list(part.first_cell), "cells": part.cells}
                for part in figure.unreached
            ],
        }
        for figure in figures
    ]


def _figure(spaces: Spaces, areas: Areas, base: float, levels: LevelFloor | None = None) -> Figure:
    across = spaces_across(base)
    blocks = blocks_of(spaces, across)
    largest, which = _largest_by_block(spaces, blocks, across)
    standing = np.zeros(blocks.shape, bool)
    standing[blocks] = (largest + EQUAL_MM >= base)[which]
    least, most = float(largest.min(initial=np.inf)) if len(largest) else 0.0, float(largest.max(initial=0.0))
    walked = standing
    if levels is not None:
        walked = standing.copy()
        for row, column in levels.special(blocks, across).tolist():
            flat, past = levels.discs(row, column, across)
            standing[row, column], walked[row, column] = (disc + EQUAL_MM >= base for disc in (flat, past))
            least = min(least, flat)
    got_to, from_ways_in = reached(spaces, walked, base, across)
    return Figure(
        base,
        across,
        blocks,
        standing,
        least,
        most,
        unreached_parts(spaces, areas, got_to, across),
        from_ways_in,
    )


def _largest_by_block(spaces: Spaces, blocks: Bools, across: int) -> tuple[Floats, Ints]:
    """The largest disc of each distinct kind of block, and the kind of every block in reading order."""
    kinds = _kinds(spaces, blocks, across)
    _, first, which = np.unique(kinds, return_index=True, return_inverse=True)
    rows, columns = np.nonzero(blocks)
    known: dict[tuple[bytes, bytes], float] = {}
    largest = []
    for at in first.tolist():
        here = np.s_[rows[at] : rows[at] + across, columns[at] : columns[at] + across]
        largest.append(known_disc(spaces.strips[here], spaces.posts[here], spaces.drawing.grid, known))
    which = which.astype(np.int64)
    if spaces.odd is not None:
        odd = np.flatnonzero(spaces.odd.touches(rows, columns, across))
        which[odd] = len(largest) + np.arange(len(odd))
        largest += [spaces.odd.largest_disc(int(rows[at]), int(columns[at]), across) for at in odd.tolist()]
        # Kinds that only blocks off the grid had are none.
        used, which = np.unique(which, return_inverse=True)
        return np.array(largest)[used], which.astype(np.int64)
    return np.array(largest), which


def _kinds(spaces: Spaces, blocks: Bools, across: int) -> Ints:
    """One number for each distinct content of the blocks."""
    codes = spaces.strips.astype(np.int64) * 16 + spaces.posts
    if across == 1:
        return codes[blocks]
    # Only the outermost spaces of a block can hold anything: walls would be inside otherwise.
    row, column = np.nonzero(blocks)
    _, codes = np.unique(codes, return_inverse=True)
    codes = codes.reshape(spaces.shape)
    last = across - 1
    ring = [(0, c) for c in range(across)] + [(last, c) for c in range(across)]
    ring += [(r, c) for r in range(1, last) for c in (0, last)]
    kinds = np.zeros(len(row), np.int64)
    for r, c in ring:
        kinds = kinds * (int(codes.max()) + 1) + codes[row + r, column + c]
        if kinds.max(initial=0) > 2**40:
            _, kinds = np.unique(kinds, return_inverse=True)
    return kinds
