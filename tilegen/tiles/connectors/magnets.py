"""Magnets: a pair of discs in each module of an edge, in the side or upright from below; north left, south right."""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Polygon, box

from tilegen.errors import InFile, Said, either
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import rounded_up, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import (
    DIGITS,
    ConnectorKind,
    Law,
    Pocket,
    circle_around,
    groove_of,
    module_of,
    refused,
    rounded,
)
from tilegen.tiles.safety import flux_words

# A pocket in a side holds its magnet, a bed of glue and a recess, so that faces meet before magnets (0.1 to 0.2 of
# recess: common practice, no source).
BEHIND_MM = 0.3
# What an upright slot is deeper than its magnet, so that no magnet stands out under the tile.
BELOW_MM = 0.1


def pair_offset(grid: Grid) -> float:
    """How far the pair of a module stands from the module's middle, mm.

    Nearer together than evenly along the edge: then a tile shifted by half a module along its neighbour has no magnet
    within 1.5 diameters of another one, rather than like poles face to face.
    """
    made = grid.connectors
    least = (made.magnet_diameter + made.allowance + made.web) / 2
    return round(max(module_of(grid) / 4 - 0.75 * made.magnet_diameter, least), DIGITS)


def magnet_height(grid: Grid) -> float:
    """Of the middle of a side pocket over the underside: half way up to the floor's grooves, mm."""
    return round((grid.base_depth - groove_of(grid)) / 2, DIGITS)


def _along_edge(grid: Grid) -> tuple[Pocket, ...]:
    make = _side_pocket if grid.connectors.magnet_place == "side" else _slot
    return tuple(make(grid, sign * pair_offset(grid)) for sign in (1, -1))


def _side_pocket(grid: Grid, at: float) -> Pocket:
    made, up = grid.connectors, magnet_height(grid)
    radius = (made.magnet_diameter + made.allowance) / 2
    depth = made.magnet_thickness + BEHIND_MM
    circle = [rounded(x + at, y + up) for x, y in circle_around(radius)]
    return Pocket("rim", depth, Polygon(circle), depth)


def _slot(grid: Grid, at: float) -> Pocket:
    made = grid.connectors
    half = (made.magnet_diameter + made.allowance) / 2
    far = made.skin + made.magnet_thickness + made.allowance
    return Pocket("under", made.magnet_diameter + BELOW_MM, box(at - half, made.skin, at + half, far), far)


def _law(grid: Grid) -> Law:
    d = pair_offset(grid)
    return (-d, 1), (d, -1)


def _check(grid: Grid) -> None:
    """The base must hold the magnet, the groove over it and a skin over each side of it that is closed."""
    made, groove = grid.connectors, groove_of(grid)
    sides = 2 if made.magnet_place == "side" else 1
    taken = groove + sides * made.skin
    pocket = _along_edge(grid)[0]
    low, high = pocket.span if made.magnet_place == "side" else (0.0, pocket.depth)
    tall = high - low
    if tall + taken <= grid.base_depth + ROUNDING_MM:
        return
    over = tall - made.magnet_diameter
    # Magnets are sold in steps of half a millimetre and more.
    would = math.floor(2 * (grid.base_depth - taken - over) + ROUNDING_MM) / 2
    in_file = InFile("")
    cures = [f"Make the base at least {show_length(rounded_up(tall + taken))} deep"]
    if would >= 1:
        cures.append(f"use magnets of {would:g} mm")
    upright = replace(grid, connectors=replace(made, magnet_place="below"))
    if made.magnet_place == "side" and _along_edge(upright)[0].depth + groove + made.skin <= grid.base_depth:
        cures.append("stand them in upright slots")
        in_file = InFile(' (magnet_place = "below")')
    raise refused(
        "magnet_diameter",
        f"magnets of {show_length(made.magnet_diameter)} don't fit in a base {show_length(grid.base_depth)} deep",
        Said("{}{}", either(cures), in_file),
    )


def _cut(grid: Grid) -> float | None:
    made = grid.connectors
    return None if made.magnet_place == "side" else made.magnet_diameter + BELOW_MM


def _seen(grid: Grid) -> tuple[str, ...]:
    place = "in the sides" if grid.connectors.magnet_place == "side" else "upright, from below"
    return f"Magnets {place}", "Seen from outside every side has", "north left and south right."


def magnet_cautions(grid: Grid) -> tuple[str, ...]:
    """What whoever makes or uses tiles with magnets must know."""
    made = grid.connectors
    return (
        "Two swallowed magnets pull together through the gut, which is a surgical emergency. Keep magnets from "
        "children, both loose and in tiles. Glue each one in, behind a skin or a plug, and check the glue before "
        "every use.",
        "Keep magnets away from pacemakers and other implants, cards and disks.",
        flux_words(made.surface_field, made.magnet_diameter),
    )


KIND = ConnectorKind(
    "magnets",
    carried="slots for magnets",
    seen=_seen,
    smaller="thinner magnets",
    steps="Magnets: bore or clear the pockets by the jig, check each pole against the polarity sheet and a "
    "finished tile, then glue; let them set away from other magnets.",
    poles=True,
    rounds_up=True,
    magnetic=True,
    along_edge=_along_edge,
    law=_law,
    check=_check,
    cut=_cut,
    cautions=magnet_cautions,
)
