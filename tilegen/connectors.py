"""What holds the tiles of a set together: one choice for a whole grid, so that all its tiles match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ConnectorKind = Literal["none", "magnets", "pegs", "keys"]
Every = Literal["space", "tile"]
MagnetPlace = Literal["side", "below"]


@dataclass(frozen=True, slots=True)
class Connectors:
    """The choice and its measures, mm. Every number is a default to override.

    every: a set of connectors on each space of an edge (half tiles match too), or on each tile's side. clearance: on
    each side of a peg or key; None: what the play asks for. position_error: of a pocket, each way (0.2 printed, 0.3 in
    a stack cut by laser, 0.5 in foam: common practice, no source). skin: left between a pocket and a face that shows.
    web: left between pockets and to a tile's corner. magnet_place: bored into the sides, or upright slots from below.
    magnet_allowance: what a pocket is wider than its magnet; None: `allowance`, or in print what the printer's own test
    pieces have told. surface_field:
    of the magnet's pole, in kilogauss, if the seller says so. key_neck: width of a key where it crosses the seam.
    """

    kind: ConnectorKind = "none"
    every: Every = "space"
    clearance: float | None = None
    position_error: float = 0.2
    skin: float = 0.6
    web: float = 1.2
    magnet_diameter: float = 4.0
    magnet_thickness: float = 2.0
    magnet_place: MagnetPlace = "side"
    magnet_allowance: float | None = None
    surface_field: float | None = None
    peg_width: float = 4.0
    peg_length: float = 3.0
    peg_height: float = 4.0
    key_length: float = 12.0
    key_neck: float = 4.0
    key_thickness: float = 3.0

    @property
    def allowance(self) -> float:
        """What a pocket is wider than its magnet, mm (0.1 to 0.2: common practice, no source)."""
        return 0.2 if self.magnet_allowance is None else self.magnet_allowance
