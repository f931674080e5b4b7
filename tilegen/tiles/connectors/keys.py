"""Keys: the same pocket in each module of every edge, open from below; loose keys lie in two of them at once."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import Polygon, box

from tilegen.lengths import rounded_up, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import (
    LEAST_PEG_MM,
    OVER_MM,
    ConnectorKind,
    Pocket,
    check_clearance,
    check_roof,
    clearance_of,
    refused,
    rounded,
    too_thin,
)
from tilegen.tiles.safety import is_small_part

# What a key's head must bear on, on either side, when it has slid as far as the play lets it: two printed lines.
BEARING_MM = 0.8


def key_shape(grid: Grid) -> Polygon:
    """A key from above, about the middle of its seam: x along the seam, y across it.

    Derived from what it has to do:
    - Whatever lies half on each of two equal edges must look the same from both tiles and either way up: it is
      symmetric about the seam and about its own axis. The least of that kind is a plain bar across the seam.
    - A plain bar in a plain slot keeps two tiles from sliding along each other, not from drifting apart. So its ends
      must be wider than what lies between them, by no more than the play asks. Pushed to one side by the clearance c
      while the slot's throat is c too wide on either side, a head that is wider by h on each side still bears on
      h - 2 c there: h = 2 c + b, with b the bearing.
    - The shoulders slope by 45 degrees, which draws two pulled tiles back into line and leaves no sharp inner corner
      in foam or print; across the seam a clearance c then gives c x sqrt 2 before they bear. The far corners are
      chamfered by as much.
    - Between rim and shoulder the tile keeps one web: the shoulders begin at half the play, a web, and what the pocket
      is offset by, c x tan 22.5 degrees, from the middle of the seam.
    """
    made, c = grid.connectors, clearance_of(grid)
    neck, end, wider = made.key_neck / 2, made.key_length / 2, head_wider(grid)
    start = shoulder_start(grid)
    quarter = [(neck, start), (neck + wider, start + wider), (neck + wider, end - wider), (neck, end)]
    right = [*((x, -y) for x, y in reversed(quarter)), *quarter]
    ring = [*right, *((-x, y) for x, y in reversed(right))]
    if start + 2 * wider + c > end:
        ring = []
    return Polygon([rounded(x, y) for x, y in ring])


def head_wider(grid: Grid) -> float:
    """How much wider a key's head is than its neck, on each side: 2 c + b."""
    return 2 * clearance_of(grid) + BEARING_MM


def shoulder_start(grid: Grid) -> float:
    """How far from the middle of the seam a key's shoulders begin, mm."""
    return grid.half_play + grid.connectors.web + clearance_of(grid) * math.tan(math.pi / 8)


def _pocket(grid: Grid) -> Pocket:
    """Half of a key and its clearance all round, mitred, from the rim inwards."""
    key, c, rim = key_shape(grid), clearance_of(grid), grid.half_play
    if key.is_empty:
        return Pocket("under", 0.0, key, 0.0)
    grown = key.buffer(c, join_style="mitre", mitre_limit=5.0)
    west, _, east, far = grown.bounds
    half = grown.intersection(box(west, rim, east, far))
    points = [rounded(x, y - rim) for x, y in shapely.get_coordinates(half).tolist()]
    return Pocket("under", grid.connectors.key_thickness + OVER_MM, Polygon(points), far - rim)


def key_size(grid: Grid) -> tuple[float, float, float]:
    """Of a key's box: along the seam, across it, and its thickness, mm."""
    west, south, east, north = key_shape(grid).bounds
    return east - west, north - south, grid.connectors.key_thickness


def _check(grid: Grid) -> None:
    made = grid.connectors
    check_clearance(grid)
    if made.key_neck < LEAST_PEG_MM:
        raise too_thin("key_neck", made.key_neck)
    if key_shape(grid).is_empty:
        least = 2 * (shoulder_start(grid) + 2 * head_wider(grid) + clearance_of(grid))
        raise refused(
            "key_length",
            f"a key {show_length(made.key_length)} long has no room for its two heads",
            f"Use at least {show_length(rounded_up(least, 1))}",
        )
    check_roof(grid, "key_thickness", made.key_thickness)


def _cautions(grid: Grid) -> tuple[str, ...]:
    words = (
        "Keys are small parts in the sense of 16 CFR 1501 (they fit a cylinder of 31.7 mm): a choking hazard; keep "
        "them from children under 3."
    )
    return (words,) if is_small_part(key_size(grid)) else ()


KIND = ConnectorKind(
    "keys",
    carried="pockets for keys",
    seen=lambda _: ("Keys", "The same pockets in every side, open", "from below; loose keys lie in them."),
    smaller="shorter keys",
    steps="Keys: try one in every pocket; it must go in without force. Lay keys out and set the tiles down on "
    "them, or turn two tiles over, lay the keys in and turn them back.",
    loose=True,
    slides=True,
    along_edge=lambda grid: (_pocket(grid),),
    law=lambda _: ((0.0, -1),),
    check=_check,
    cut=lambda grid: grid.connectors.key_thickness,
    cautions=_cautions,
)
