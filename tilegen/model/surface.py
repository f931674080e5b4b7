"""The surface of floors and walls: which pattern, how its joints are cut. Lengths are millimetres.

The table of patterns and the measures; files and commands take their words from here. What draws them is in
`tiles/surfaces/`, which is loaded when a tile is dressed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal, get_args

from tilegen.errors import InputError
from tilegen.lengths import rounded_down, show_length
from tilegen.model.keys import Key
from tilegen.model.stonework import Stonework


@dataclass(frozen=True, slots=True)
class PatternRow:
    """A pattern. on: what it is for. file: which in `tiles/surfaces/` draws it.

    least_stone: the least side of a stone, in spaces, whatever the seed, every joint and line as far astray as it may
    be (of walls: in courses of a wall of a space's height or more).
    """

    word: str
    on: Literal["floor", "wall"]
    least_stone: float
    file: str


PATTERNS: Mapping[str, PatternRow] = {
    row.word: row
    for row in (
        # 0.4 of the least that is sawn.
        PatternRow("flagstones", "floor", 0.19, "flagstones"),
        PatternRow("planks", "floor", 0.25, "courses"),
        PatternRow("cobbles", "floor", 0.15, "courses"),
        PatternRow("rough", "floor", 0.14, "courses"),
        PatternRow("brick", "wall", 0.11, "courses"),
        PatternRow("ashlar", "wall", 0.13, "courses"),
        PatternRow("timber", "wall", 0.17, "courses"),
    )
}
# The stones of the style, whose least side is about this, in spaces.
OF_STYLE, _LEAST_OF_STYLE = "style", 0.11
FLOOR_PATTERNS = ("none", *(row.word for row in PATTERNS.values() if row.on == "floor"), OF_STYLE)
WALL_PATTERNS = ("none", *(row.word for row in PATTERNS.values() if row.on == "wall"), OF_STYLE)
if TYPE_CHECKING:
    FloorPattern = str
    WallPattern = str
else:
    FloorPattern = Literal[FLOOR_PATTERNS]
    WallPattern = Literal[WALL_PATTERNS]
Relief = Literal["sunk", "raised"]
Detail = Literal["low", "middle", "high"]
DETAILS: tuple[Detail, ...] = get_args(Detail)
# Tiles of a type that differ; more would be types nobody finds again in the box (common practice, no source).
MOST_DIFFERENT = 9
# Joints on the spaces' lines are wider by this than the others, so that figures can count spaces.
SPACE_LINE = 1.5
# What a printer of 0.4 mm nozzle still draws (common practice, no source).
_LEAST_GROOVE_MM, _LEAST_WEB_MM = 0.4, 0.8
_LEAST_DEPTH_MM, _LEAST_SKIN_MM = 0.1, 0.8


def least_stone(pattern: str) -> float:
    """The least side of a pattern's stones, in spaces."""
    return _LEAST_OF_STYLE if pattern == OF_STYLE else PATTERNS[pattern].least_stone


@dataclass(frozen=True, slots=True)
class Surface:
    """Patterns on the visible floor and on the inner faces of walls.

    rooms: (letter, floor) of each. relief: walls are always sunk, so that no hall gets narrower. stone: the figures of
    the style; None: plain. stones: of each of `styles`, and of
    the other rooms under "".
    """

    style: Annotated[
        str,
        Key(
            "What printed floors and walls are carved as, on both faces: plain, dressed, rubble, brick, timber, cave, "
            "or a file; sheets keep their patterns.",
            "--style",
        ),
    ] = "plain"
    detail: Annotated[
        Detail,
        Key("How finely it is carved: edges sharp, with a chamfer, or round; with ever more triangles.", "--detail"),
    ] = "middle"
    floor: Annotated[FloorPattern, Key("What floors look like; style: the stones of the style.", "--floor")] = "none"
    walls: Annotated[WallPattern, Key("What the inner faces of walls look like; style: as for floors.", "--walls")] = (
        "none"
    )
    seed: Annotated[int, Key("Another number gives another pattern; the same number gives the same bytes.")] = 1
    groove_width: Annotated[float, Key("The width of the joints between stones.", takes="mm")] = 0.8
    groove_depth: Annotated[float, Key("The depth of the joints between stones.", takes="mm")] = 0.6
    margin: Annotated[
        float, Key("The strip that stays plain along a tile's edges, walls and openings.", takes="mm")
    ] = 0.8
    continuous: Annotated[
        bool, Key("Whether the pattern belongs to the plan and runs on over the seams, else to the type of tile.")
    ] = False
    rooms: Annotated[
        tuple[tuple[str, FloorPattern], ...], Key("The rooms of a plan whose floor is another one, by letter.")
    ] = ()
    relief: Annotated[
        Relief, Key("Joints sunk into the floor, or its stones standing out from it by groove_depth.")
    ] = "sunk"
    styles: Annotated[
        tuple[tuple[str, str], ...], Key("The rooms of a plan that are carved in another style, by letter.")
    ] = ()
    different: Annotated[
        int,
        Key(
            "How many tiles of a type differ in their stones, in turn over a plan.",
            "--different",
            "N",
            least=1,
            most=MOST_DIFFERENT,
        ),
    ] = 1
    stone: Stonework | None = None
    stones: tuple[tuple[str, Stonework | None], ...] = ()

    @property
    def floors(self) -> tuple[FloorPattern, ...]:
        """Every floor asked for."""
        return (self.floor, *(floor for _, floor in self.rooms))

    @property
    def patterned(self) -> bool:
        """Whether any floor has a pattern."""
        return set(self.floors) != {"none"}

    @property
    def raised(self) -> bool:
        """Whether stones stand out from any floor."""
        return self.relief == "raised" and self.patterned

    @property
    def plain(self) -> bool:
        """Whether nothing is asked for."""
        return self.walls == "none" and not self.patterned

    def check(self, pitch: float, base_depth: float, wall_thickness: float) -> None:
        """Refuse what can't be printed or would weaken the tile.

        Raises:
            InputError: names the key, what it is and what it may be.
        """
        if not 1 <= self.different <= MOST_DIFFERENT:
            raise InputError(
                f"there can't be {self.different} different tiles of a type",
                cure=f"Use a whole number from 1 to {MOST_DIFFERENT}",
                place="[surface] different",
            )
        if self.plain:
            return
        if not 0 <= self.seed < 2**32:
            raise InputError(
                f"{self.seed} can't be a seed", cure="Use a whole number from 0 to 4294967295", place="[surface] seed"
            )
        patterns = [p for p in (*self.floors, self.walls) if p != "none"]
        widest = min(
            (least_stone(p) * pitch - _LEAST_WEB_MM) / (SPACE_LINE if p in FLOOR_PATTERNS else 1) for p in patterns
        )
        self._within(
            "groove_width",
            self.groove_width,
            _LEAST_GROOVE_MM,
            widest,
            "so that stones are left between the joints",
        )
        sunk = [base_depth] if self.patterned and not self.raised else []
        sunk += [wall_thickness] if self.walls != "none" else []
        if sunk:
            deepest = min(min(depth / 2, depth - _LEAST_SKIN_MM) for depth in sunk)
            why = "so that enough of the floor or wall is left behind the groove"
            self._within("groove_depth", self.groove_depth, _LEAST_DEPTH_MM, deepest, why)
        if self.raised:
            highest = min(least_stone(p) for p in self.floors if p != "none") * pitch / 2
            why = "so that no stone is higher than half its width"
            self._within("groove_depth", self.groove_depth, _LEAST_DEPTH_MM, highest, why)
        why = "so that the strip along the edge does not break, and the pattern has room"
        self._within("margin", self.margin, _LEAST_WEB_MM, pitch / 8, why)

    def _within(self, name: str, value: float, least: float, most: float, why: str) -> None:
        if not least - 1e-9 <= value <= most + 1e-9:
            wrong = f"{value:g} mm is too {'small' if value < least else 'large'}"
            cure = f"Use {least:g} to {show_length(rounded_down(most))}, {why}"
            if most < least:
                wrong, cure = "no groove fits", "Use a larger pitch, a thicker base and wall, or no pattern"
            raise InputError(wrong, cure=cure, place=f"[surface] {name}")
