"""Sheets glued face to face: how thick they become, and the layers that nobody sees."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

from shapely.geometry import Point, Polygon

from tilegen.errors import InputError
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import counted, show_length
from tilegen.model.materials import StackTable

_MOST_LAYERS = 60
# Differences that no builder can measure are not worth a word.
UNSEEN_MM = 0.005
# More layers than this of several thicknesses are not worth searching.
_MOST_MIXED = 6
# The next number of layers is offered too where it is no further off than this share of the target.
_WORTH_SAYING = 0.25
# What a dowel's hole is wider than the dowel, and how many layers are worth lining up (common practice, no source).
DOWEL_PLAY_MM = 0.1
LEAST_LAYERS = 3
_ROUND = 32
# A hole keeps this many of its own widths from every edge.
_CLEAR = 2.0


@dataclass(frozen=True, slots=True)
class Stack:
    """Layers glued face to face; all in mm. target: what the stack ought to measure.

    mixed: the layers from the top down, where they are not all of one sheet; sheet is then the top one's.
    """

    layers: int
    sheet: float
    glue_line: float
    target: float
    mixed: tuple[float, ...] = ()

    @classmethod
    def solid(cls, thickness: float) -> Stack:
        """Something that measures what it ought to without being stacked."""
        return cls(1, thickness, 0.0, thickness)

    @property
    def sheets(self) -> tuple[float, ...]:
        """The thickness of each layer, from the top down."""
        return self.mixed or (self.sheet,) * self.layers

    @property
    def thickness(self) -> float:
        """Of the finished stack, its glue lines included."""
        return math.fsum(self.sheets) + (self.layers - 1) * self.glue_line

    @property
    def residual(self) -> float:
        """What it measures more (+) or less (-) than its target."""
        return self.thickness - self.target

    @property
    def words(self) -> str:
        """The recipe in one phrase."""
        made = f"{counted(self.layers, 'layer')} of {show_length(self.sheet)}"
        if self.mixed:
            made = f"{self.layers} layers, {' + '.join(f'{t:g}' for t in self.mixed)} mm from the top down"
        if self.layers > 1:
            made += f", glued to {show_length(self.thickness)}"
        off, less = abs(self.residual), "less" if self.residual < 0 else "more"
        return made if off <= UNSEEN_MM else f"{made}, {show_length(off)} {less} than planned"

    def shims(self, card: float) -> int:
        """Layers of card that come nearest to what the stack lacks: |r| / t, rounded; none if it lacks nothing."""
        return max(0, math.floor(-self.residual / card + 0.5 + ROUNDING_MM))

    def remedy(self, card: float) -> str:
        """What to do about the residual, as a sentence that follows the recipe; nothing where there is none to see."""
        if abs(self.residual) <= UNSEEN_MM:
            return ""
        other = Stack(self.layers + (1 if self.residual < 0 else -1), self.sheet, self.glue_line, self.target)
        near = other.layers and not self.mixed and abs(other.residual) <= _WORTH_SAYING * self.target
        shims = self.shims(card)
        gap = f"glue {counted(shims, 'layer')} of {card:g} mm card under each cut one" if shims else "it makes a step"
        words = f" That is fine if all tiles are cut. Beside printed tiles {gap}."
        return words + (f" The other choice is {other.words}." if near else "")


def stack_up(target: float, sheet: float, glue_line: float) -> Stack:
    """The number of layers that comes nearest to a target; of two equally near ones the smaller.

    Raises:
        InputError: the sheet is so thin that the stack would have more than 60 layers.

    >>> stack_up(7.0, 2.0, 0.05).words
    '3 layers of 2 mm, glued to 6.1 mm, 0.9 mm less than planned'
    """
    layers = max(1, math.ceil((target + glue_line) / (sheet + glue_line) - 0.5))
    if layers > _MOST_LAYERS:
        raise InputError(
            f"{show_length(target)} would be {layers} layers of {show_length(sheet)}, more than {_MOST_LAYERS}",
            cure="Use thicker stock",
        )
    return Stack(layers, sheet, glue_line, target)


def best_stack(target: float, sheet: float, others: Sequence[float], glue_line: float) -> Stack:
    """Layers of one sheet or, where that comes nearer to the target, of several; the sheet itself on top if used.

    Raises:
        InputError: as `stack_up`.

    >>> best_stack(9.0, 6.0, (3.0,), 0.0).sheets
    (6.0, 3.0)
    """
    plain = stack_up(target, sheet, glue_line)
    if not others:
        return plain
    chosen = mixed_stack(target, (sheet, *others), glue_line)
    layers = tuple(sorted(chosen, key=lambda t: (t != sheet, -t)))
    stack = Stack(len(layers), layers[0], glue_line, target, layers)
    return stack if abs(stack.residual) < abs(plain.residual) - UNSEEN_MM else plain


def mixed_stack(target: float, sheets: Sequence[float], glue_line: float) -> tuple[float, ...]:
    """The sheets of several thicknesses, at most six, that come nearest to a target, thickest first.

    Of equally near ones the fewest, then the fewest kinds.

    >>> mixed_stack(8.0, (3.0, 5.0), 0.05)
    (5.0, 3.0)
    """
    kinds = sorted(set(sheets), reverse=True)
    stacks = (chosen for layers in range(1, _MOST_MIXED + 1) for chosen in combinations_with_replacement(kinds, layers))
    return min(
        stacks,
        key=lambda chosen: (
            round(abs(math.fsum(chosen) + (len(chosen) - 1) * glue_line - target), 6),
            len(chosen),
            len(set(chosen)),
        ),
    )


def hidden_foot(foot: Polygon, stack: StackTable, layers: int) -> Polygon:
    """The outline of a layer below the top one: inset all round, with two holes for dowels in stacks of three or more.

    So neither glue that is squeezed out nor a sheet that slips makes the edge that meets the next tile.
    layers: of the whole stack.
    """
    drawn = foot.buffer(-stack.inset, join_style="mitre") if stack.inset else foot
    if not isinstance(drawn, Polygon) or drawn.is_empty:
        drawn = foot
    if not stack.dowel or layers < LEAST_LAYERS:
        return drawn
    radius = (stack.dowel + DOWEL_PLAY_MM) / 2 / math.cos(math.pi / _ROUND)
    west, south, east, north = drawn.bounds
    turns = [2 * math.pi * n / _ROUND for n in range(_ROUND)]
    places = [Point(west + share * (east - west), south + share * (north - south)) for share in (0.3, 0.7)]
    room = drawn.buffer(-_CLEAR * stack.dowel)
    holes = [
        [(place.x + radius * math.cos(turn), place.y + radius * math.sin(turn)) for turn in turns]
        for place in places
        if room.covers(place)
    ]
    return Polygon(drawn.exterior, [*drawn.interiors, *holes]) if len(holes) == len(places) else drawn
