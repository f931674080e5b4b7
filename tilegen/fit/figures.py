"""Figures on a plan: how large they are, where each stands, and which rooms it gets to.

A figure stands in a block of spaces in which a disc as large as its base has room. It moves by steps of one space, from
a block where it stands to the next one where it stands, across any line on which nothing stands (an open way too).
Through a doorway or a saddle it goes if its base is at most as wide as the opening: from a block that touches the
door's cell side to one on the other side of it. In between it is lifted by hand: the gap between two posts is not
measured. So a base that does not stand beside a wall gets through no doorway either, however wide.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from tilegen.errors import InputError, nearest
from tilegen.fit.discs import known_disc
from tilegen.fit.floor import Bools, LevelFloor, Spaces, blocks_of, level_floor, spaces_covered, spaces_of
from tilegen.geometry import EQUAL_MM
from tilegen.lengths import MM_PER_INCH, counted, parse_length, show_length
from tilegen.model.grid import Grid
from tilegen.plans.drawing import Drawing, borders_of
from tilegen.plans.route import Areas, find_areas
from tilegen.plans.ways import NOTHING, LineKind

# Side of the square a creature takes up in a fight, in feet: System Reference Document 5.1, "Creature Size"
# (Wizards of the Coast, CC-BY-4.0). The largest is that or more.
FEET_OF_SIZE = {"tiny": 2.5, "small": 5.0, "medium": 5.0, "large": 10.0, "huge": 15.0, "gargantuan": 20.0}
# One inch on the table stands for five feet: common practice, no source.
FEET_PER_INCH = 5.0
INCH = float(MM_PER_INCH)
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


def spaces_across(base: float) -> int:
    """The spaces a base of this diameter (mm) covers each way: its inches rounded, halves up, and at least one.

    >>> [spaces_across(d) for d in (12.7, 25.4, 38.0, 38.1, 50.8)]
    [1, 1, 1, 2, 2]
    """
    return max(1, math.floor(base / INCH + 0.5))


def base_of_size(word: str) -> float:
    """The base, in mm, of a figure of a creature size by name.

    >>> base_of_size("Large")
    50.8

    Raises:
        InputError: not a size; offers the nearest.
    """
    feet = FEET_OF_SIZE.get(word.strip().lower())
    if feet is None:
        raise InputError(f'"{word}" is not the size of a creature', cure=nearest(word.lower(), FEET_OF_SIZE))
    return feet / FEET_PER_INCH * INCH


def base_of(word: str | float) -> float:
    """The diameter of a base, in mm, from a length or from a creature size by name.

    >>> base_of("large"), base_of("30 mm"), base_of(25)
    (50.8, 30.0, 25.0)

    Raises:
        InputError: neither.
    """
    if isinstance(word, str) and re.fullmatch(r"\s*[a-z]{4,}\s*", word.lower()):
        return base_of_size(word)
    return parse_length(word)


def check_base(base: float) -> None:
    """Refuse a diameter that no base has.

    Raises:
        InputError: not a finite number of millimetres above 0.
    """
    if not (math.isfinite(base) and base > 0):
        raise InputError(f"a base can't be {show_length(base)} across", cure="Use more than 0 mm", place="--figure")


@dataclass(frozen=True, slots=True)
class Unreached:
    """A connected part of a room that a figure can't get to; first_cell: column and row from 1."""

    room: str
    title: str
    first_cell: tuple[int, int]
    cells: int


@dataclass(frozen=True)
class Figure:
    """Where a figure stands.

    blocks: (rows, columns) whether a block of spaces_across spaces each way starts there; standing: whether the
    figure stands in it; got_to: whether it gets there; least, most: the smallest and largest disc that any block takes,
    0 without a block. unreached: parts of rooms it can't get to; from_ways_in: whether it was let in by the plan's ways
    in (else the largest connected part of where it stands counts as got to).
    """

    base: float
    spaces_across: int
    blocks: Bools
    standing: Bools
    got_to: Bools
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


def figures_on(drawing: Drawing, bases: list[float], spaces: Spaces | None = None) -> tuple[Figure, ...]:
    """Where figures with these bases (diameters in mm) stand on a plan. spaces: the plan's, if they are known.

    Raises:
        InputError: a base that is not above 0, not finite, or larger than the map.
    """
    spaces, areas = spaces or spaces_of(drawing), find_areas(drawing)
    levels = level_floor(spaces)
    found = []
    for base in bases:
        check_base(base)
        if spaces_across(base) > max(spaces.shape):
            raise InputError(
                f"a base {show_length(base)} across covers {spaces_across(base)} spaces, and the map is only "
                f"{counted(max(spaces.shape), 'space')} long",
                cure="Use a smaller base",
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


def _figure(spaces: Spaces, areas: Areas, base: float, levels: LevelFloor | None) -> Figure:
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
    got_to, from_ways_in = _reached(spaces, walked, base, across)
    unreached = _unreached(spaces, areas, got_to, across)
    return Figure(base, across, blocks, standing, got_to, least, most, unreached, from_ways_in)


def largest_discs(spaces: Spaces, across: int) -> Floats:
    """(rows - n + 1, columns - n + 1): the largest disc, mm, in the block of n spaces from there, clear of its walls.

    0 where there is no block. What lies on the floor (daises, pits) is not looked at.
    """
    blocks = blocks_of(spaces, across)
    found = np.zeros(blocks.shape)
    if blocks.any():
        largest, which = _largest_by_block(spaces, blocks, across)
        found[blocks] = largest[which]
    return found


@lru_cache(maxsize=64)
def _known_discs(_: Grid) -> tuple[dict[tuple[bytes, bytes], float], dict[bytes, float]]:
    """The largest discs found on a grid so far, turned and mirrored ones once, and of each block as it lies."""
    return {}, {}


def _largest_by_block(spaces: Spaces, blocks: Bools, across: int) -> tuple[Floats, Ints]:
    """The largest disc of each distinct kind of block, and the kind of every block in reading order."""
    kinds = _kinds(spaces, blocks, across)
    _, first, which = np.unique(kinds, return_index=True, return_inverse=True)
    rows, columns = np.nonzero(blocks)
    known, as_it_lies = _known_discs(spaces.drawing.grid)
    largest = []
    for at in first.tolist():
        here = np.s_[rows[at] : rows[at] + across, columns[at] : columns[at] + across]
        strips, posts = spaces.strips[here], spaces.posts[here]
        key = strips.tobytes() + posts.tobytes()
        if key not in as_it_lies:
            as_it_lies[key] = known_disc(strips, posts, spaces.drawing.grid, known)
        largest.append(as_it_lies[key])
    which = which.astype(np.int64)
    if spaces.off_grid is not None:
        off_grid = np.flatnonzero(spaces.off_grid.touches(rows, columns, across))
        which[off_grid] = len(largest) + np.arange(len(off_grid))
        largest += [spaces.off_grid.largest_disc(int(rows[at]), int(columns[at]), across) for at in off_grid.tolist()]
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


def _reached(spaces: Spaces, standing: Bools, base: float, across: int) -> tuple[Bools, bool]:
    """The positions that are got to, from the ways in or else in the largest connected part."""
    rows, columns = standing.shape
    has_ways_in = any(at.any() for at in _entries(spaces, 0.0))
    if not standing.any():
        return standing, has_ways_in
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[0::2, 0::2] = standing
    raster[1::2, 0::2] = standing[1:] & standing[:-1]
    raster[0::2, 1::2] = standing[:, 1:] & standing[:, :-1]
    if across == 1:
        raster[1::2, 0::2] &= ~spaces.shut_across[1:-1]
        raster[0::2, 1::2] &= ~spaces.shut_down[:, 1:-1]
    labels = ndimage.label(raster)[0][0::2, 0::2].astype(np.int64)
    pairs, ways_in = spaces.off_grid.links(labels, base, across) if spaces.off_grid is not None else ([], [])
    part_of = _joined_through_doors(spaces, labels, base, across, pairs)
    parts = part_of[labels]
    if not has_ways_in:
        sizes = np.bincount(parts.ravel(), weights=standing.ravel())
        return (parts == int(np.argmax(sizes))) & standing, False
    entered = [
        parts[r, c]
        for upright, lines in enumerate(_entries(spaces, base))
        for line in np.argwhere(lines)
        for r, c in _touching(spaces, labels, (int(line[0]), int(line[1])), across, upright=bool(upright))
    ]
    entered += [part_of[label] for label in ways_in]
    return np.isin(parts, np.array(entered, np.int64)) & standing, True


def _entries(spaces: Spaces, base: float) -> tuple[Bools, Bools]:
    """Lines of the drawing between a room and solid ground that let a base through: across, down."""
    drawing = spaces.drawing
    across, down = (widths + EQUAL_MM >= max(base, 2 * EQUAL_MM) for widths in spaces.widths)
    edges = borders_of(drawing.rooms != 0)
    across, down = across & edges[0], down & edges[1]
    if drawing.off_grid is not None:
        # Nothing stands on a line that a slanting wall crosses, but it is no way.
        across &= ~(drawing.off_grid.mixed_across & (drawing.across == NOTHING))
        down &= ~(drawing.off_grid.mixed_down & (drawing.down == NOTHING))
    return across, down


def _is_door(kind: LineKind) -> bool:
    return kind.opening is not None and kind.facts.walked


def _touching(
    spaces: Spaces, labels: Ints, line: tuple[int, int], across: int, *, upright: bool
) -> list[tuple[int, int]]:
    """Standing positions on either side of a line of the drawing whose blocks touch its cell side."""
    k = spaces.drawing.cell_spaces
    at, along = (line[1], line[0]) if upright else line
    found = []
    for beyond in (at * k - across, at * k):
        for step in range(along * k - across + 1, along * k + k):
            r, c = (step, beyond) if upright else (beyond, step)
            if 0 <= r < labels.shape[0] and 0 <= c < labels.shape[1] and labels[r, c]:
                found.append((r, c))
    return found


def _joined_through_doors(
    spaces: Spaces, labels: Ints, base: float, across: int, more: Sequence[tuple[int, int]]
) -> Ints:
    """For each label, the connected part it is in once doorways and saddles wide enough join the labels.

    more: further pairs of labels that are joined.
    """
    drawing, k = spaces.drawing, spaces.drawing.cell_spaces
    count = int(labels.max()) + 1
    door = np.array([_is_door(kind) for kind in drawing.kinds])
    wide = [widths + EQUAL_MM >= base for widths in spaces.widths]
    lets = door[drawing.across] & wide[0], door[drawing.down] & wide[1]
    pairs = [np.array(more, np.int64).reshape(-1, 2)]
    for grid, lines in ((labels, lets[0]), (labels.T, lets[1].T)):
        at, along = np.nonzero(lines)
        pairs += list(_pairs_across(grid, at * k, along * k, across, k))
    edges = np.unique(np.concatenate(pairs), axis=0)
    graph = sparse.coo_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    return csgraph.connected_components(graph, directed=False)[1].astype(np.int64)


def _pairs_across(labels: Ints, at: Ints, along: Ints, across: int, k: int) -> list[Ints]:
    """Pairs of labels right above and right below door lines, for all places of blocks that touch the door's side."""
    padded = np.pad(labels, across)
    steps = range(-across + 1, k)
    limit = labels.shape[1] + 2 * across
    columns = [(along + step + across).clip(0, limit - 1) for step in steps]
    above = [padded[at, column] for column in columns]
    # Beyond the last row of positions the padding answers "none".
    below = [padded[np.minimum(at + across, padded.shape[0] - 1), column] for column in columns]
    pairs = []
    for over in above:
        for under in below:
            both = (over > 0) & (under > 0)
            pairs.append(np.stack([over[both], under[both]], axis=1))
    return pairs


def _unreached(spaces: Spaces, areas: Areas, reached: Bools, across: int) -> tuple[Unreached, ...]:
    """The areas of which no space is covered by a position that is got to."""
    k = spaces.drawing.cell_spaces
    space_area = areas.of.repeat(k, axis=0).repeat(k, axis=1)
    got_to = np.zeros(len(areas.letters), bool)
    got_to[space_area[spaces_covered(reached, across, spaces.shape) & spaces.floor]] = True
    titles = spaces.drawing.titles
    return tuple(
        Unreached(areas.letters[n], titles.get(areas.letters[n], ""), areas.firsts[n], areas.sizes[n])
        for n in np.flatnonzero(~got_to).tolist()
    )
