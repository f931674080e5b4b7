"""Which grid suits the figures one has: the smallest pitch, the thickest wall, and what no such grid can do.

A block of n spaces stands against the walls of halls and rooms that are whole 10 ft squares of `spaces` spaces.
Where n is a multiple of `spaces` it may fill a hall, between two walls; else it touches one wall each way at most.
So it keeps n pitch - 2 walls, or n pitch - 1 wall; a post in a corner leaves more than a wall does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tilegen.errors import InputError
from tilegen.fit.figures import INCH, check_base, spaces_across
from tilegen.fit.placements import ConventionalGrid, cost_of
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import counted, show_length
from tilegen.model.grid import Grid

# A wall takes less than half of a space: what is left between two walls, at least (our own choice).
LEAST_FLOOR_MM = 1.0
SIXTEENTH_MM = INCH / 16
# The largest pitch of the trade-off, if nothing else asks for more.
_LAST_PITCH_MM = 2 * INCH


@dataclass(frozen=True, slots=True)
class FigureOnGrid:
    """One figure on a grid: what the tightest block of its size keeps, and what it needs in a one-space hall.

    clear: of the tightest block of a 10 ft map, mm. one_space_pitch: the pitch from which it also stands in a
    hall one space wide; None for a figure of more than one space, which never does.
    """

    base: float
    spaces_across: int
    clear: float
    stands: bool
    in_one_space_hall: bool
    one_space_pitch: float | None


@dataclass(frozen=True, slots=True)
class FoundGrid:
    """The answer to what was wanted; done: whether every figure stands and the tile is not too large.

    pitch: the smallest that will do (with a largest tile only: the one it gives). wall: mm, 0 if none will do.
    cannot: in plain words, what no grid of this kind can do for these figures.
    """

    done: bool
    pitch: float
    wall: float
    spaces: int
    figures: tuple[FigureOnGrid, ...]
    cannot: tuple[str, ...]

    @property
    def tile_side(self) -> float:
        """Side of a standard tile, mm."""
        return self.spaces * self.pitch


@dataclass(frozen=True, slots=True)
class TradeOff:
    """One pitch against the largest base, mm, in a one-space hall, a two-space hall, a corner, beside a post.

    length_lost, area_lost: shares of the table against the conventional grid. stand: how many of the wanted stand.
    """

    pitch: float
    one_space_hall: float
    two_space_hall: float
    corner: float
    beside_post: float
    length_lost: float
    area_lost: float
    stand: int


def walls_beside(across: int, spaces: int) -> int:
    """The walls that a block of this many spaces has beside it each way, at most."""
    return 2 if across % spaces == 0 else 1


def clear_of(across: int, pitch: float, wall: float, spaces: int) -> float:
    """What the tightest block of `across` spaces keeps each way, mm."""
    return across * pitch - walls_beside(across, spaces) * wall


def smallest_pitch(bases: Sequence[float], wall: float, spaces: int = 2) -> float:
    """The smallest pitch on which all these bases stand on every block of a 10 ft map, mm."""
    needed = [(d + walls_beside(n, spaces) * wall) / n for d in bases for n in [spaces_across(d)]]
    return max([*needed, 2 * wall + LEAST_FLOOR_MM])


def thickest_wall(bases: Sequence[float], pitch: float, spaces: int = 2) -> float:
    """The thickest wall at which all these bases stand on every block of a 10 ft map, mm; 0 or less if none does."""
    room = [(n * pitch - d) / walls_beside(n, spaces) for d in bases for n in [spaces_across(d)]]
    return min([*room, (pitch - LEAST_FLOOR_MM) / 2])


def find_grid(
    bases: Sequence[float], *, wall: float | None = None, largest_tile: float | None = None, spaces: int = 2
) -> FoundGrid:
    """The grid for some figures (diameters in mm), from a wall thickness, a largest tile side, or both.

    Raises:
        InputError: no figure, a measure that is not above 0, or neither wall nor largest tile.
    """
    _check(bases, wall, largest_tile, spaces)
    if wall is not None:
        pitch, thickness = smallest_pitch(bases, wall, spaces), wall
        done = largest_tile is None or pitch * spaces <= largest_tile + ROUNDING_MM
    elif largest_tile is not None:
        pitch = largest_tile / spaces
        thickness = thickest_wall(bases, pitch, spaces)
        done, thickness = thickness > ROUNDING_MM, max(0.0, thickness)
    else:
        raise InputError("nothing limits the size of the tiles", cure="Add --wall or --largest-tile", place="--want")
    figures = tuple(_wanted(base, pitch, thickness, spaces) for base in bases)
    cannot = _cannot(figures, pitch, thickness, pitch * spaces, largest_tile)
    return FoundGrid(done, pitch, thickness, spaces, figures, tuple(cannot))


def trade_off(bases: Sequence[float], wall: float, *, spaces: int = 2) -> tuple[TradeOff, ...]:
    """Pitch against the largest base, for a table and a plot: from 1 in, by sixteenths, as far as all figures stand.

    Raises:
        InputError: a measure that is not above 0.
    """
    _check(bases or [INCH], wall, None, spaces)
    last = max([_LAST_PITCH_MM, smallest_pitch(bases, wall, spaces) if bases else 0.0])
    steps = math.ceil((last - INCH) / SIXTEENTH_MM - ROUNDING_MM)
    pitches = (INCH + n * SIXTEENTH_MM for n in range(steps + 1))
    return tuple(_trade(p, wall, bases, spaces) for p in pitches if p > 2 * wall)


def _trade(pitch: float, wall: float, bases: Sequence[float], spaces: int) -> TradeOff:
    cost = cost_of(Grid(pitch=pitch), ConventionalGrid())
    corner = pitch - wall
    return TradeOff(
        pitch,
        pitch - 2 * wall,
        2 * pitch - 2 * wall,
        corner,
        min(pitch, corner * (4 - 2 * math.sqrt(2))),
        cost.length_lost,
        cost.area_lost,
        sum(_wanted(base, pitch, wall, spaces).stands for base in bases),
    )


def _wanted(base: float, pitch: float, wall: float, spaces: int) -> FigureOnGrid:
    across = spaces_across(base)
    clear = clear_of(across, pitch, wall, spaces)
    single = across == 1
    return FigureOnGrid(
        base,
        across,
        clear,
        base <= clear + ROUNDING_MM,
        single and base <= pitch - 2 * wall + ROUNDING_MM,
        base + 2 * wall if single else None,
    )


def _cannot(
    figures: Sequence[FigureOnGrid], pitch: float, wall: float, side: float, largest_tile: float | None
) -> list[str]:
    keeps = show_length(max(0.0, pitch - 2 * wall))
    said = [f"A hall one space wide keeps a space less two walls on any grid of this kind: {keeps} on this one."]
    for figure in figures:
        base = show_length(figure.base)
        if figure.one_space_pitch is None:
            said.append(f"A base of {base} takes {figure.spaces_across} spaces: it never stands in a one-space hall.")
        elif not figure.in_one_space_hall:
            needed = show_length(figure.one_space_pitch)
            said.append(f"A base of {base} stands in a one-space hall only from spaces of {needed}.")
        if not figure.stands:
            clear = show_length(max(0.0, figure.clear))
            said.append(f"A base of {base} does not stand: the tightest block of its size keeps {clear}.")
    if wall <= 0:
        said.append(f"No wall, however thin, leaves these figures room in spaces of {show_length(pitch)}.")
    elif largest_tile is not None and side > largest_tile + ROUNDING_MM:
        said.append(f"It takes tiles of {show_length(side)}: more than the largest, {show_length(largest_tile)}.")
    return said


def _check(bases: Sequence[float], wall: float | None, largest_tile: float | None, spaces: int) -> None:
    if not bases:
        raise InputError(
            "there is no figure to find a grid for", cure='Give a base, as in --want "1 in"', place="--want"
        )
    for base in bases:
        check_base(base)
    for name, value in (("--wall", wall), ("--largest-tile", largest_tile)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise InputError(f"{show_length(value)} is not possible", cure="Use more than 0 mm", place=name)
    if spaces < 1:
        raise InputError(f"a tile can't have {counted(spaces, 'space')}", cure="Use at least 1", place="[grid] spaces")


def found_record(found: FoundGrid) -> dict[str, Any]:
    """The found grid as JSON."""
    return {
        "done": found.done,
        "pitch_mm": found.pitch,
        "wall_thickness_mm": found.wall,
        "spaces": found.spaces,
        "tile_side_mm": found.tile_side,
        "figures": [
            {
                "base_mm": figure.base,
                "spaces_across": figure.spaces_across,
                "clear_mm": figure.clear,
                "stands": figure.stands,
                "in_one_space_hall": figure.in_one_space_hall,
                "one_space_pitch_mm": figure.one_space_pitch,
            }
            for figure in found.figures
        ],
        "cannot": list(found.cannot),
    }


def trade_off_record(rows: tuple[TradeOff, ...]) -> list[dict[str, Any]]:
    """The trade-off as JSON, one entry a pitch."""
    return [
        {
            "pitch_mm": row.pitch,
            "one_space_hall_mm": row.one_space_hall,
            "two_space_hall_mm": row.two_space_hall,
            "corner_mm": row.corner,
            "beside_post_mm": row.beside_post,
            "length_lost": row.length_lost,
            "area_lost": row.area_lost,
            "stand": row.stand,
        }
        for row in rows
    ]
