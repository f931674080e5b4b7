"""What holds the tiles of a set together: one choice for a whole grid, so that all its tiles match.

The table of kinds and the measures; files and commands take their words from here. Each kind is a file in
`tiles/connectors/`, which is loaded when tiles are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from tilegen.model.keys import Key

Every = Literal["space", "tile"]
MagnetPlace = Literal["side", "below"]
# Each kind, and what it is.
CONNECTORS: Mapping[str, str] = {
    "none": "nothing holds tiles together",
    "magnets": "pairs of discs in every edge",
    "pegs": "a peg and a socket in every edge",
    "keys": "pockets in every edge, and loose keys that lie in two of them",
    "tray-magnets": "discs below the tile's corners, for a steel tray",
}
if TYPE_CHECKING:
    ConnectorWord = str
else:
    ConnectorWord = Literal[tuple(CONNECTORS)]


@dataclass(frozen=True, slots=True)
class Connectors:
    """The choice and its measures, mm. Every number is a default to override.

    position_error: 0.2 printed, 0.3 in a stack cut by laser, 0.5 in foam (common practice, no source).
    """

    kind: Annotated[
        ConnectorWord,
        Key("What holds tiles together: one choice for a whole set, so that all its tiles match.", "--connectors"),
    ] = "none"
    every: Annotated[
        Every, Key("Connectors on each space of a side, so that half tiles match too, or one set per side of a tile.")
    ] = "space"
    clearance: Annotated[
        float | None,
        Key("The gap on each side of a peg or key; half the joint play and position_error if absent.", takes="mm"),
    ] = None
    position_error: Annotated[
        float,
        Key("How far a pocket may be off, each way: 0.2 mm printed, 0.3 cut by laser, 0.5 in foam.", takes="mm"),
    ] = 0.2
    skin: Annotated[float, Key("What is left between a pocket and a face that shows.", takes="mm")] = 0.6
    web: Annotated[
        float, Key("What is left between two pockets, and from a pocket to a tile's corner.", takes="mm")
    ] = 1.2
    magnet_diameter: Annotated[float, Key("The diameter of a disc magnet. Measure yours.", takes="mm")] = 4.0
    magnet_thickness: Annotated[float, Key("The thickness of a disc magnet. Measure yours.", takes="mm")] = 2.0
    magnet_place: Annotated[
        MagnetPlace, Key("Where magnets go: bored into the sides, or in upright slots that are open from below.")
    ] = "side"
    magnet_allowance: Annotated[
        float | None,
        Key("How much wider a pocket is than its magnet; 0.2 mm, or what gauge --record found, if absent.", takes="mm"),
    ] = None
    surface_field: Annotated[
        float | None,
        Key("The field of the magnet's pole in kilogauss, if the seller gives it: the caution depends on it."),
    ] = None
    peg_width: Annotated[float, Key("The width of a peg along the side of the tile.", takes="mm")] = 4.0
    peg_length: Annotated[float, Key("How far a peg stands out of the side of the tile.", takes="mm")] = 3.0
    peg_height: Annotated[float, Key("The height of a peg.", takes="mm")] = 4.0
    key_length: Annotated[float, Key("The length of a loose key across the seam.", takes="mm")] = 12.0
    key_neck: Annotated[float, Key("The width of a loose key where it crosses the seam.", takes="mm")] = 4.0
    key_thickness: Annotated[float, Key("The thickness of a loose key.", takes="mm")] = 3.0

    @property
    def holds(self) -> bool:
        """Whether anything holds tiles together."""
        return self.kind != "none"

    @property
    def allowance(self) -> float:
        """What a pocket is wider than its magnet, mm (0.1 to 0.2: common practice, no source)."""
        return 0.2 if self.magnet_allowance is None else self.magnet_allowance
