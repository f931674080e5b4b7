"""What a kind of way defines; all that is not in a kind's own file is the same for every kind."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from tilegen.errors import InputError
from tilegen.geometry import Point
from tilegen.model.grid import Grid, Head, Leaf, Style
from tilegen.tiles.loose import Piece
from tilegen.tiles.openings import make_opening, usual_width
from tilegen.tiles.plate import Opening

Seen = Literal["never", "doors open", "always"]


@dataclass(frozen=True, slots=True)
class Way:
    """A way through a wall, as written: cell (column, row from 1), side, kind and what differs from the grid.

    spot: its middle on its wall in map coordinates, mm, once known.
    """

    cell: tuple[int, int]
    side: str
    kind: str
    width: float | None = None
    height: float | None = None
    head: Head | None = None
    at: float | None = None
    place: str = ""
    leaf: Leaf | None = None
    style: Style | None = None
    spot: Point | None = None


# An opening as one of the tiles beside it has it, the way as seen from there, and the grid with its room's heights.
HungOpening = tuple[Opening, Way, Grid]


class WayMeasures(Protocol):
    """What a way has of its opening, read from a file or worked out; None is left to the grid."""

    @property
    def kind(self) -> str: ...
    @property
    def width(self) -> float | None: ...
    @property
    def height(self) -> float | None: ...
    @property
    def head(self) -> Head | None: ...
    @property
    def leaf(self) -> Leaf | None: ...


@dataclass(frozen=True, slots=True)
class WayKind:
    """One kind of way, or the plain wall: its word, what it means to all that reads a plan, and what it is made of.

    says: what it is, for somebody who writes a plan. takes: the keys of its table that it uses, besides its place.
    stands: whether there is anything. carried: whether it is a wall of the tiles beside it. loose: whether it is a
    piece of its own, over the seam. walked: whether figures get through. seen: when sight passes it.

    on_line: its opening on a line between two cells, of this length, that is one wall from end to end; None if it has
    none. at_point: its measures in walls that follow no such line. pieces: the loose pieces that it needs, each with
    the way as seen from where it belongs; from its opening in each of the tiles that carry it, the way's own first
    (over a seam there is one), and the length of its line.
    """

    word: str
    says: str
    takes: tuple[str, ...]
    stands: bool
    carried: bool
    loose: bool
    walked: bool
    seen: Seen
    on_line: Callable[[Way, float, Grid], Opening | None]
    at_point: Callable[[WayMeasures, float, Grid], Opening]
    pieces: Callable[[Sequence[HungOpening], float], Iterator[tuple[Piece, Way]]]

    def seen_past(self, *, doors_open: bool) -> bool:
        """Whether sight passes it."""
        return self.seen == "always" or (doors_open and self.seen == "doors open")


def framed(way: Way, length: float, grid: Grid, *, end: float, leaf: Leaf) -> Opening:
    """An opening with a frame round it, in a line of this length; end: what stands at both ends of the line, mm.

    Raises:
        InputError: it does not fit, with the way's place.
    """
    centre = None if way.at is None else way.at * grid.pitch
    try:
        return make_opening(
            length,
            grid,
            width=way.width,
            height=way.height,
            head=way.head,
            centre=centre,
            ends=(end, end),
            leaf=leaf,
            style=way.style,
        )
    except InputError as error:
        raise error.located(place=way.place) from None


def as_measured(way: WayMeasures, _length: float, grid: Grid, leaf: Leaf = "none") -> Opening:
    """An opening with the measures of its way, else those of the grid; where it is not known yet."""
    doorway, width = grid.doorway, way.width
    if width is None:
        width = usual_width(grid, leaf)
    height = min(doorway.height, grid.wall_height) if way.height is None else way.height
    return Opening(0.0, width, height, way.head or doorway.head)
