"""What a kind of feature defines; all that is not in a kind's own file is the same for every kind."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from tilegen.errors import InputError
from tilegen.lengths import show_length
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block

# West, south, east, north in mm.
Bounds = tuple[float, float, float, float]
# The least a part may measure, the usual height of a step, mm (common practice, no source).
LEAST_MM = 2.0
USUAL_STEP_MM = 6.35
# The least of a base that a hollow leaves as its floor, mm (six layers of 0.2: common practice, no source).
LEAST_FLOOR_MM = 1.2
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class FeatureKey:
    """A key of a `[[feature]]` table: what sort of value it takes, and its meaning."""

    takes: Literal["spot", "size", "length", "count", "side", "yes"]
    says: str


AT = FeatureKey("spot", "Its centre, in spaces east and south of the north-west corner of its cell or tile.")
SIZE = FeatureKey("size", "West to east, north to south, or one length for both; what is usual for its kind if absent.")
HEIGHT = FeatureKey("length", "Above its floor.")
DEPTH = FeatureKey("length", f"Below its floor; all but {LEAST_FLOOR_MM:g} mm of the base if absent.")


@dataclass(frozen=True, slots=True)
class FeatureKind:
    """One kind of feature: its words, the keys it takes, what it means at the table, and how it is made.

    word, several: one of it, which is the role of its plates too, and more. says: what it is, in words.
    letter: what the numbers of its parts begin with. layered: its layers of sheet, in words. drawn: what stands of it,
    for the legend. takes: keys; needs: those that must be there. usual_size: across, in mm; None if one without at and
    size fills the floor between the walls. round: whether it always is. one_cell: whether it must lie in one cell: a
    seam may run between two. walked: whether figures stand on it and get past it. stops_sight: where it covers a
    space and is higher than a low wall. upright: whether a square one stands as a wall does, of strips side by side.
    layers: its boxes about the floor's height, from what was written, its bounds, the room's measures, and the
    rise to the floor beyond its side, if there is one.
    """

    word: str
    several: str
    says: str
    letter: str
    layered: str
    drawn: str
    takes: Mapping[str, FeatureKey]
    needs: tuple[str, ...]
    usual_size: Callable[[Grid], float] | None
    round: bool
    one_cell: bool
    walked: bool
    stops_sight: bool
    upright: bool
    layers: Callable[[Wanted, Bounds, Grid, float | None], Iterator[Block]]

    @property
    def one(self) -> str:
        """Its word with an article, for messages."""
        return f"{'an' if self.word[0] in 'aeiou' else 'a'} {self.word}"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A feature as written.

    at: its centre, in spaces from the north-west corner of its cell or tile. size: from west to east and from north to
    south, mm. values: its other keys. place: for messages.
    """

    kind: FeatureKind
    at: tuple[float, float] | None
    size: tuple[float, float] | None
    values: Mapping[str, Any]
    place: str

    @property
    def fills(self) -> bool:
        """Whether it covers the whole floor between the walls."""
        return self.size is None and self.at is None and self.kind.usual_size is None

    @property
    def round(self) -> bool:
        """Whether its boxes are drums."""
        return self.kind.round or bool(self.values.get("round"))

    def height(self, usual: float | None, key: str = "height") -> float:
        """How high it is, mm.

        Raises:
            InputError: nothing that can be made, or no value where there is no default.
        """
        height: float | None = self.values.get(key, usual)
        if height is None:
            raise InputError(
                f"{self.kind.one} needs the key {key} where no higher floor lies beyond it",
                cure=f"Add {key}, or raise the floor of the room that it climbs to",
            )
        if not 0 < height <= 1000:
            raise InputError(
                f"{self.kind.one} can't be {show_length(height)} high", cure="Use more than 0 and at most 1000 mm"
            )
        return height

    def depth(self, grid: Grid) -> float:
        """How deep its hollow is, mm.

        Raises:
            InputError: one that leaves no floor.
        """
        most = grid.base_depth - LEAST_FLOOR_MM
        depth: float = self.values.get("depth", most)
        if most < _ROUNDING:
            raise InputError(
                f"a base of {show_length(grid.base_depth)} is too thin for {self.kind.one}",
                cure="Make the base deeper, or raise the floor of the room",
            )
        if not 0 < depth <= most + _ROUNDING:
            raise InputError(
                f"{self.kind.one} can't be {show_length(depth)} deep in a base of {show_length(grid.base_depth)}",
                cure=f"Use at most {show_length(most)}, so that a floor of {show_length(LEAST_FLOOR_MM)} stays",
            )
        return depth
