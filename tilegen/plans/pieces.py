"""Fewer, larger tiles: the floor of a plan covered by pieces of several squares, never across a wall."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from tilegen.errors import InputError
from tilegen.plans.covering import choose
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.piecekinds import PieceKind
from tilegen.plans.pieceplaces import Places
from tilegen.plans.rectangles import fewest_rectangles
from tilegen.plans.ways import NOTHING


@dataclass(frozen=True)
class Cover:
    """A plan's floor covered by pieces.

    pieces: how many. least: what no choice of these pieces can go below. rectangles: the fewest rectangles of any
    size that the same floors can be cut into. proven: whether `pieces` is the least.
    """

    kit: Kit
    squares: int
    pieces: int
    least: int
    rectangles: int

    @property
    def proven(self) -> bool:
        """Whether no choice of these pieces takes fewer."""
        return self.pieces == self.least

    @property
    def gap(self) -> float:
        """How much more than the bound, as a share of it."""
        return self.pieces / self.least - 1 if self.least else 0.0


def cover_floor(
    drawing: Drawing, kinds: Sequence[PieceKind], *, owned: dict[str, int] | None = None, least: str = "pieces"
) -> Cover:
    """Cover a 10 ft plan with as few pieces as can be, or with as little new material.

    owned: how many there are of each type, by id. least: "pieces", or "material": what is not owned, by volume.

    Raises:
        InputError: a 5 ft plan, or a floor of no squares.
    """
    if drawing.scale != "10 ft":
        raise InputError("--pieces on a 5 ft plan", expected='a plan of scale "10 ft"', place="--pieces")
    places = Places(drawing, kinds)
    if not places.squares:
        raise InputError("a drawing without a room", expected="at least one letter or digit", place="drawing")
    stock = places.stock(owned or {}) if least == "material" else None
    chosen, bound = choose(places, stock)
    kit = places.kit(chosen)
    pieces = sum(t.count for t in kit.types)
    rectangles = sum(fewest_rectangles(floor) for floor in _floors(drawing))
    return Cover(kit, places.squares, pieces, min(bound, pieces), rectangles)


def _floors(drawing: Drawing) -> Iterator[npt.NDArray[np.bool_]]:
    """Each floor that can be crossed without a wall, cut out of the drawing."""
    rows, columns = drawing.rooms.shape
    number = np.arange(rows * columns).reshape(rows, columns)
    floor = drawing.rooms != 0
    pairs = []
    for first, second, lines in (
        (np.s_[:-1], np.s_[1:], drawing.across[1:-1]),
        (np.s_[:, :-1], np.s_[:, 1:], drawing.down[:, 1:-1]),
    ):
        through = floor[first] & floor[second] & (lines == NOTHING)
        pairs.append(np.stack([number[first][through], number[second][through]]))
    ends = np.concatenate(pairs, axis=1)
    graph = sparse.csr_array((np.ones(ends.shape[1], np.int8), (ends[0], ends[1])), shape=(rows * columns,) * 2)
    _, of = csgraph.connected_components(graph, directed=False)
    areas = np.where(floor, of.reshape(rows, columns) + 1, 0)
    for index, where in enumerate(ndimage.find_objects(areas), 1):
        if where is not None:
            yield areas[where] == index
