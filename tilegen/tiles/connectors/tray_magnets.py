"""Tray magnets: discs in blind pockets below a base, near its corners, for tiles on a steel tray; any pole does."""

from __future__ import annotations

from shapely.geometry import Polygon

from tilegen.geometry import ROUNDING_MM, Point, polygons_of, rings_of
from tilegen.lengths import rounded_down, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import (
    ConnectorKind,
    Pocket,
    circle_around,
    groove_of,
    less_or_deeper,
    refused,
    rounded,
)
from tilegen.tiles.connectors.magnets import BELOW_MM, magnet_cautions

# One line of a 0.4 mm nozzle: the least that stays between a pocket and the tile's edge (common practice, no source).
LEAST_WEB_MM = 0.4
# Towards the tile's corners, clockwise; each with the way that decides between corners as far out.
_TOWARDS: tuple[tuple[Point, Point], ...] = (
    ((1.0, 1.0), (1.0, -1.0)),
    ((1.0, -1.0), (-1.0, -1.0)),
    ((-1.0, -1.0), (-1.0, 1.0)),
    ((-1.0, 1.0), (1.0, 1.0)),
)


def _under(foot: Polygon, grid: Grid) -> tuple[Pocket, ...]:
    """A pocket as far out towards each corner as a web all round leaves room for, apart by a web too."""
    made = grid.connectors
    radius = (made.magnet_diameter + made.allowance) / 2
    circle, depth = circle_around(radius), made.magnet_thickness + BELOW_MM
    # The polygon's corners reach out a little further than the circle.
    room = foot.buffer(-made.web - max(x for x, _ in circle), join_style="mitre")
    corners = [p for part in polygons_of(room) for ring in rings_of(part) for p in ring.coords[:-1]]
    found: list[Pocket] = []
    for towards, then in _TOWARDS if corners else ():
        x, y = max(corners, key=lambda p: tuple(round(p[0] * dx + p[1] * dy, 3) for dx, dy in (towards, then)))
        outline = Polygon([rounded(x + a, y + b) for a, b in circle])
        if all(outline.distance(other.outline) >= made.web for other in found):
            found.append(Pocket("under", depth, outline, 0.0))
    return tuple(found)


def _check(grid: Grid) -> None:
    """The base must hold a magnet lying flat, the groove over it and a skin between them."""
    made, groove = grid.connectors, groove_of(grid)
    if made.web < LEAST_WEB_MM:
        raise refused(
            "web",
            f"{show_length(made.web)} between tray magnets is too little",
            f"Use at least {show_length(LEAST_WEB_MM)}",
        )
    needed = made.magnet_thickness + BELOW_MM + groove + made.skin
    if needed > grid.base_depth + ROUNDING_MM:
        most = grid.base_depth - BELOW_MM - groove - made.skin
        raise refused(
            "magnet_thickness",
            f"magnets {show_length(made.magnet_thickness)} thick don't fit under the floor of a base "
            f"{show_length(grid.base_depth)} deep",
            less_or_deeper(most, needed),
        )
    wide = 2 * (made.magnet_diameter + made.allowance) + 3 * made.web + grid.joint_play
    if wide > grid.pitch:
        most = (grid.pitch - grid.joint_play - 3 * made.web) / 2 - made.allowance
        raise refused(
            "magnet_diameter",
            f"two magnets of {show_length(made.magnet_diameter)} don't fit side by side in a space of "
            f"{show_length(grid.pitch)}",
            f"Use at most {show_length(rounded_down(most))}",
        )


def _cautions(grid: Grid) -> tuple[str, ...]:
    return (
        *magnet_cautions(grid),
        "Glue tray magnets flush with the underside and let the glue set on a sheet of baking paper; two tiles laid "
        "face to face below snap together: keep fingers away.",
    )


KIND = ConnectorKind(
    "tray-magnets",
    carried="pockets for tray magnets",
    steps="Tray magnets: clear the pockets, glue a disc into each, flush with the underside, either pole down; let "
    "them set away from other magnets, then try the tile on the tray.",
    rounds_up=True,
    magnetic=True,
    under=_under,
    check=_check,
    cut=lambda grid: grid.connectors.magnet_thickness + BELOW_MM,
    cautions=_cautions,
)
