"""Error along rows and around loops of tiles, the play that lets them close, and the crack that play leaves.

Errors add up in the worst case, T = sum T_i. Where they are independent their variances add: T = sqrt(sum T_i^2)
(derived).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from tilegen.errors import InputError, nearest
from tilegen.lengths import show_length
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.layout import Layout, lay

TILE_ERROR_MM = 0.3
_EIGHT_WAYS = np.ones((3, 3), bool)


@dataclass(frozen=True, slots=True)
class Rows:
    """The longest straight run of tiles and the sum of a size error of each along it, mm."""

    longest_tiles: int
    tile_error: float

    @property
    def worst_case(self) -> float:
        """Every tile wrong the same way: n e."""
        return self.longest_tiles * self.tile_error

    @property
    def rss(self) -> float:
        """Errors independent of each other: sqrt(n) e."""
        return math.sqrt(self.longest_tiles) * self.tile_error


@dataclass(frozen=True, slots=True)
class Loop:
    """The ring of tiles around one hole in the laid floor.

    tiles: those that touch the hole with a side or a corner; side by side they form a closed ring. across, down:
    tiles along its northern and its western side, from end to end. first_cell: column and row, from 1, of the
    hole's first cell in reading order.
    """

    tiles: int
    across: int
    down: int
    first_cell: tuple[int, int]


@dataclass(frozen=True, slots=True)
class LoopError:
    """How far two opposite sides of a loop, n tiles each, end apart, mm.

    worst_case: 2 n e. rss: sqrt(2 n) e. bias: what an error common to all tiles adds: nothing if one process
    made them all, n times the difference of their mean errors if the two sides come from two.
    """

    worst_case: float
    rss: float
    bias: float


@dataclass(frozen=True, slots=True)
class Play:
    """What a joint play does for a row and a loop of tiles with a size error; mm.

    least: the play that lets any row and loop always close: a tile that is e too large still stays in its own
    square. likely: the play that does if errors are independent (e / sqrt(n) for each of n seams). closes:
    whether the play at hand is at least the least. seam: a seam between two tiles of the right size. widest_seam:
    between two that are e too small, each in the middle of its square. pushed_together: the gap at the end of the
    longest row if all its tiles are e too small and pushed to one end.
    """

    play: float
    least: float
    likely: float
    closes: bool
    seam: float
    widest_seam: float
    pushed_together: float


@dataclass(frozen=True, slots=True)
class Season:
    """How much a material grows with the season: share of its length per step of what changes, and the source."""

    name: str
    share: float
    step: str
    usual_steps: float
    source: str


SEASONS = (
    Season("xps", 0.07e-3, "kelvin", 20.0, "0.07 mm/(m K): makers' XPS data sheets; 20 K: common practice, no source"),
    Season("mdf", 0.05e-2, "percent of moisture", 5.0, "0.05 % per 1 %, 0.25 % from 35 to 85 % humidity: makers' page"),
    Season("card-across", 0.4e-2, "season", 1.0, "paper across its grain, 0.2 to 0.4 %: common practice, no source"),
    Season("card-along", 0.2e-2, "season", 1.0, "paper along its grain, 0.05 to 0.2 %: common practice, no source"),
)


def check_error(error: float) -> None:
    """Refuse a size error that is none.

    Raises:
        InputError: negative or not finite.
    """
    if not (math.isfinite(error) and error >= 0):
        raise InputError(
            f"an error of {show_length(error)} is not possible", cure="Use 0 mm or more", place="--tile-error"
        )


def rows_of(drawing: Drawing, kit: Kit, tile_error: float = TILE_ERROR_MM) -> Rows:
    """The longest row of a plan under a size error.

    Raises:
        InputError: an error that is negative or not finite.
    """
    check_error(tile_error)
    return Rows(longest_run(lay(drawing, kit)), tile_error)


def rows_record(rows: Rows) -> dict[str, Any]:
    """`rows` of the fit's JSON."""
    return {
        "longest_tiles": rows.longest_tiles,
        "tile_error_mm": rows.tile_error,
        "worst_case_mm": rows.worst_case,
        "rss_mm": rows.rss,
    }


def longest_run(laid: Layout) -> int:
    """The most tiles that lie side by side in a straight line, west to east or north to south, walls or not."""
    return max(_longest_along(laid.tile_of), _longest_along(laid.tile_of.T))


def _longest_along(tile_of: npt.NDArray[np.int32]) -> int:
    """Column by column: the longest run that ends in each tile is one more than that of its neighbours before it."""
    run = np.ones(int(tile_of.max()) + 1, np.int64)
    for first, second in zip(tile_of.T[:-1], tile_of.T[1:], strict=True):
        beside = (first >= 0) & (second >= 0) & (first != second)
        np.maximum.at(run, second[beside], run[first[beside]] + 1)
    return int(run.max())


def largest_loop(drawing: Drawing, kit: Kit) -> Loop | None:
    """The loop with most tiles, the first in reading order of equals; None where the laid floor has no hole.

    A hole is solid ground, joined by sides or corners, that floor closes in. The cells of that floor which touch
    it form one closed ring of cells side by side.
    """
    laid = lay(drawing, kit)
    floor = np.pad(laid.tile_of >= 0, 1)
    tile_of = np.pad(laid.tile_of, 1, constant_values=-1)
    holes, _ = ndimage.label(~floor, _EIGHT_WAYS)
    parts, _ = ndimage.label(floor)
    outside = holes[0, 0]
    best: Loop | None = None
    for number, where in enumerate(ndimage.find_objects(holes), 1):
        if number == outside or where is None:
            continue
        loop = _loop_around(holes, parts, tile_of, number, where)
        if best is None or (-loop.tiles, loop.first_cell[::-1]) < (-best.tiles, best.first_cell[::-1]):
            best = loop
    return best


def _loop_around(
    holes: npt.NDArray[np.signedinteger[Any]],
    parts: npt.NDArray[np.signedinteger[Any]],
    tile_of: npt.NDArray[np.int32],
    number: int,
    where: tuple[slice, ...],
) -> Loop:
    rows, columns = (slice(s.start - 1, s.stop + 1) for s in where)
    hole = holes[rows, columns] == number
    first = int(np.argmax(hole[1]))
    # Right above the hole's first cell lies the floor that closes it in, not an island inside it.
    around = parts[rows, columns] == parts[rows, columns][0, first]
    ring = ndimage.binary_dilation(hole, _EIGHT_WAYS) & around
    tiles = tile_of[rows, columns]
    return Loop(
        len(np.unique(tiles[ring])),
        _tiles_across(tiles, ring),
        _tiles_across(tiles.T, ring.T),
        (first + columns.start, rows.start + 1),
    )


def _tiles_across(tiles: npt.NDArray[np.int32], ring: npt.NDArray[np.bool_]) -> int:
    """Tiles along a ring from its first to its last column: each step to another tile in the next column counts."""
    count = 1
    for before, after in zip(range(tiles.shape[1] - 1), range(1, tiles.shape[1]), strict=True):
        both = ring[:, before] & ring[:, after]
        count += bool(both.any() and (tiles[both, before] != tiles[both, after]).any())
    return count


def loop_error(side: int, tile_error: float, *, bias: float = 0.0, other_bias: float | None = None) -> LoopError:
    """The closing error of a loop with `side` tiles along each of two opposite sides.

    bias: the mean size error of the process; other_bias: that of the other side's process, if it is another one.
    """
    check_error(tile_error)
    apart = 0.0 if other_bias is None else abs(bias - other_bias)
    return LoopError(2 * side * tile_error, math.sqrt(2 * side) * tile_error, side * apart)


def play_for(longest_tiles: int, tile_error: float, play: float) -> Play:
    """What the play at hand does, and what it would have to be, for rows of up to `longest_tiles` tiles."""
    check_error(tile_error)
    return Play(
        play,
        tile_error,
        tile_error / math.sqrt(longest_tiles),
        play >= tile_error,
        play,
        play + tile_error,
        longest_tiles * (play + tile_error),
    )


def squareness_error(side: float, degrees: float) -> float:
    """How far the far end of a side is off if the corner is off by this angle: P tan(alpha), mm; add it to e."""
    return side * math.tan(math.radians(degrees))


def season_change(material: str, length: float) -> float:
    """How much a length of a material changes with the season, mm.

    Raises:
        InputError: a material without a figure; offers the nearest.
    """
    known = {season.name: season for season in SEASONS}
    if material not in known:
        raise InputError(f'nothing is known of the seasons of "{material}"', cure=nearest(material, known))
    season = known[material]
    return length * season.share * season.usual_steps


def loops_record(rows: Rows, loop: Loop | None, play: Play, tile_side: float) -> dict[str, Any]:
    """Loop, play, squareness and season as JSON, beside `rows`."""
    around = None
    if loop is not None:
        error = loop_error(max(loop.across, loop.down), rows.tile_error)
        around = {
            "tiles": loop.tiles,
            "across": loop.across,
            "down": loop.down,
            "first_cell": list(loop.first_cell),
            "worst_case_mm": error.worst_case,
            "rss_mm": error.rss,
        }
    return {
        "largest_loop": around,
        "play": {
            "play_mm": play.play,
            "least_mm": play.least,
            "likely_mm": play.likely,
            "closes": play.closes,
            "seam_mm": play.seam,
            "widest_seam_mm": play.widest_seam,
            "pushed_together_mm": play.pushed_together,
        },
        "half_degree_off_square_mm": squareness_error(tile_side, 0.5),
        "season": [
            {"material": s.name, "tile_mm": season_change(s.name, tile_side), "source": s.source} for s in SEASONS
        ],
    }
