"""Which rooms a figure gets to.

A figure moves by steps of one space, from a block where it stands to the next one where it stands, across any
line on which nothing stands (an open way too). Through a doorway or a saddle it goes if its base is at most as
wide as the opening: from a block that touches the door's cell side to one on the other side of it. In between it
is lifted by hand: the gap between two posts is not measured. So a base that does not stand beside a wall gets
through no doorway either, however wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from tilegen.fit.spaces import Bools, Spaces, box_sums
from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Drawing, ends_beside
from tilegen.plans.route import Areas
from tilegen.tiles.leaves import clear_width
from tilegen.tiles.openings import shrunk

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Unreached:
    """A connected part of a room that a figure can't get to; first_cell: column and row from 1."""

    room: str
    title: str
    first_cell: tuple[int, int]
    cells: int


def reached(spaces: Spaces, standing: Bools, base: float, across: int) -> tuple[Bools, bool]:
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
    pairs, ways_in = spaces.odd.links(labels, base, across) if spaces.odd is not None else ([], [])
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
    across, down = (widths + EQUAL_MM >= max(base, 2 * EQUAL_MM) for widths in way_widths(drawing))
    floor = np.pad(drawing.rooms != 0, 1)
    return (
        across & (floor[:-1, 1:-1] != floor[1:, 1:-1]),
        down & (floor[1:-1, :-1] != floor[1:-1, 1:]),
    )


def way_widths(drawing: Drawing) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How wide a base goes through each line (across, down), mm: any where nothing stands, none through a wall.

    A doorway is as wide as the narrower of its openings in the two cells beside it; a hinged leaf stands in its way.
    """
    by_kind = np.array([clear_width(k.opening, drawing.grid) if k.opening else 0.0 for k in drawing.kinds])
    by_kind[~drawing.stands] = np.inf
    doorway = np.array([kind.facts.carried and kind.opening is not None for kind in drawing.kinds])
    found = []
    for array, lines in (("across", drawing.across), ("down", drawing.down)):
        widths = by_kind[lines]
        for row, column in np.argwhere(doorway[lines]).tolist():
            opening = drawing.kinds[lines[row, column]].opening
            if opening is not None:
                fitted = (
                    clear_width(shrunk(opening, drawing.cell_side, drawing.grid, ends), drawing.grid)
                    for _, ends in ends_beside(drawing, (array, row, column))
                )
                widths[row, column] = min(fitted, default=0.0)
        found.append(widths)
    return found[0], found[1]


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
    spaces: Spaces, labels: Ints, base: float, across: int, more: Sequence[tuple[int, int]] = ()
) -> Ints:
    """For each label, the connected part it is in once doorways and saddles wide enough join the labels.

    more: further pairs of labels that are joined.
    """
    drawing, k = spaces.drawing, spaces.drawing.cell_spaces
    count = int(labels.max()) + 1
    door = np.array([kind.opening is not None for kind in drawing.kinds])
    wide = [widths + EQUAL_MM >= base for widths in way_widths(drawing)]
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


def unreached_parts(spaces: Spaces, areas: Areas, reached: Bools, across: int) -> tuple[Unreached, ...]:
    """The areas of which no space is covered by a position that is got to."""
    rows, columns = spaces.shape
    padded = np.zeros((rows + across - 1, columns + across - 1), bool)
    if reached.size:
        padded[across - 1 : across - 1 + reached.shape[0], across - 1 : across - 1 + reached.shape[1]] = reached
    covered = box_sums(padded, across, across) > 0
    k = spaces.drawing.cell_spaces
    space_area = areas.of.repeat(k, axis=0).repeat(k, axis=1)
    got_to = np.zeros(len(areas.letters), bool)
    got_to[space_area[covered & spaces.floor]] = True
    titles = spaces.drawing.titles
    return tuple(
        Unreached(areas.letters[n], titles.get(areas.letters[n], ""), areas.firsts[n], areas.sizes[n])
        for n in np.flatnonzero(~got_to).tolist()
    )
