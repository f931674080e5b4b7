"""Refusing connectors that no tile of a grid can carry, before anything is made."""

from __future__ import annotations

import math
from dataclasses import fields, replace

from shapely.geometry import box

from tilegen.connectors import Connectors
from tilegen.errors import InputError
from tilegen.geometry import ROUNDING_MM
from tilegen.grid import Grid
from tilegen.tiles.connectors import seating_of
from tilegen.tiles.pockets import (
    LEAD_MM,
    OVER_MM,
    clearance_of,
    groove_of,
    head_wider,
    key_shape,
    least_clearance,
    module_of,
    pockets_of,
    shoulder_start,
)
from tilegen.tiles.shape import Cell, single_cell

_MOST_MM = 200.0
# A part of a key, peg or head that is narrower than this breaks (pegs of 3 mm and more: common practice, no source).
_LEAST_PEG_MM = 3.0
_MAY_BE_ZERO = ("position_error", "magnet_allowance", "web")


def check_connectors(grid: Grid) -> None:
    """Refuse what can't be made.

    Raises:
        InputError: a measure out of range, a base too thin, pockets that meet, a play that no seam closes with; names
            what would do.
    """
    made = grid.connectors
    if made.kind == "none":
        return
    _check_measures(made)
    _check_play(grid)
    {"magnets": _check_magnets, "pegs": _check_pegs, "keys": _check_keys}[made.kind](grid)
    _check_room(grid)


def _refuse(key: str, found: str, expected: str, cure: str = "") -> InputError:
    return InputError(found, expected=expected, cure=cure, place=f"[connectors] {key}")


def _check_measures(made: Connectors) -> None:
    for entry in fields(made):
        value = getattr(made, entry.name)
        if isinstance(value, str) or value is None or entry.name == "clearance":
            continue
        low_enough = value >= 0 if entry.name in _MAY_BE_ZERO else value > 0
        if not low_enough or value > _MOST_MM:
            unit = " kG" if entry.name == "surface_field" else " mm"
            least = "0 or more" if entry.name in _MAY_BE_ZERO else "more than 0"
            raise _refuse(entry.name, f"{value:g}{unit}", f"{least} and at most {_MOST_MM:g}{unit}")


def _check_play(grid: Grid) -> None:
    if grid.connectors.kind == "magnets":
        return
    given, least = clearance_of(grid), least_clearance(grid)
    if given <= 0:
        raise _refuse("clearance", f"a clearance of {given:g} mm", "more than 0, or nothing goes in")
    if given < least - ROUNDING_MM:
        raise _refuse(
            "clearance",
            f"a clearance of {given:g} mm",
            f"at least {least:g} mm (half the joint play of {grid.joint_play:g} and the position error of "
            f"{grid.connectors.position_error:g}), or the pockets close before the seam does",
        )


def _check_magnets(grid: Grid) -> None:
    """The base must hold the magnet, the groove over it and a skin over each side of it that is closed."""
    made, groove = grid.connectors, groove_of(grid)
    sides = 2 if made.magnet_place == "side" else 1
    taken = groove + sides * made.skin
    pocket = pockets_of(grid)[0]
    low, high = pocket.span if made.magnet_place == "side" else (0.0, pocket.depth)
    tall = high - low
    if tall + taken <= grid.base_depth + ROUNDING_MM:
        return
    over = tall - made.magnet_diameter
    # Magnets are sold in steps of half a millimetre and more.
    would = math.floor(2 * (grid.base_depth - taken - over) + ROUNDING_MM) / 2
    cures = [f"make the base {tall + taken:.2f} mm deep"]
    if would >= 1:
        cures.append(f"take magnets of {would:g} mm")
    upright = replace(grid, connectors=replace(made, magnet_place="below"))
    if made.magnet_place == "side" and pockets_of(upright)[0].depth + groove + made.skin <= grid.base_depth:
        cures.append('stand them in upright slots (magnet_place = "below")')
    skins = "two skins" if sides == 2 else "a skin"
    raise _refuse(
        "magnet_diameter",
        f"a pocket {tall:.2f} mm high for a magnet of {made.magnet_diameter:g} mm, a groove of {groove:g} and {skins} "
        f"of {made.skin:g} in a base of {grid.base_depth:g} mm",
        f"a base of at least {tall + taken:.2f} mm",
        ", or ".join(cures),
    )


def _check_pegs(grid: Grid) -> None:
    made = grid.connectors
    if made.every == "tile":
        raise _refuse("every", '"tile" with pegs', '"space"', "half a tile further on a peg would strike its neighbour")
    if made.peg_width < _LEAST_PEG_MM:
        raise _refuse("peg_width", f"a peg {made.peg_width:g} mm wide", f"at least {_LEAST_PEG_MM:g} mm")
    for key in ("peg_length", "peg_height"):
        value = getattr(made, key)
        if value < 2 * LEAD_MM:
            raise _refuse(key, f"{value:g} mm", f"at least {2 * LEAD_MM:g} mm")
    _check_roof(grid, "peg_height", made.peg_height)


def _check_keys(grid: Grid) -> None:
    made = grid.connectors
    if made.key_neck < _LEAST_PEG_MM:
        raise _refuse("key_neck", f"a neck {made.key_neck:g} mm wide", f"at least {_LEAST_PEG_MM:g} mm")
    if key_shape(grid).is_empty:
        least = 2 * (shoulder_start(grid) + 2 * head_wider(grid) + clearance_of(grid))
        raise _refuse(
            "key_length",
            f"a key {made.key_length:g} mm long with a clearance of {clearance_of(grid):g}",
            f"at least {math.ceil(least * 10) / 10:g} mm, so that a head stands behind each rim",
        )
    _check_roof(grid, "key_thickness", made.key_thickness)


def _check_roof(grid: Grid, key: str, height: float) -> None:
    """What is left of the base over a pocket from below, under the grooves."""
    needed = height + OVER_MM + groove_of(grid) + grid.connectors.skin
    if needed > grid.base_depth + ROUNDING_MM:
        most = grid.base_depth - OVER_MM - groove_of(grid) - grid.connectors.skin
        raise _refuse(
            key,
            f"{height:g} mm, with {OVER_MM:g} of room, a groove of {groove_of(grid):g} and a skin of "
            f"{grid.connectors.skin:g} in a base of {grid.base_depth:g} mm",
            f"at most {max(most, 0.0):.2f} mm",
            f"or make the base {needed:.2f} mm deep",
        )


def _check_room(grid: Grid) -> None:
    """Every side of a plain tile, and of the smallest one, must hold its pockets with a web between them."""
    made, module = grid.connectors, module_of(grid)
    pockets = pockets_of(grid)
    spans = sorted(pocket.span for pocket in pockets if pocket.depth > 0 or made.kind == "pegs")
    low, high = spans[0][0], max(span[1] for span in spans)
    if high - low + made.web > module + ROUNDING_MM:
        raise _refuse(
            "kind",
            f"{made.kind} that take {high - low:.2f} mm of every {module:g} mm of an edge",
            f"at most {module - made.web:.2f} mm",
            "choose smaller ones" + ("" if made.every == "tile" else ' or every = "tile"'),
        )
    for spaces in sorted({module / grid.pitch, float(grid.spaces)}):
        half, side = grid.half_play, spaces * grid.pitch
        foot = box(half, half, side - half, side - half)
        if seating_of(single_cell(Cell(), (spaces, spaces)), grid, foot).bare:
            reach = max(pocket.reach for pocket in pockets)
            smaller = {"magnets": "thinner magnets", "pegs": "shorter pegs", "keys": "shorter keys"}[made.kind]
            raise _refuse(
                "kind",
                f"pockets {reach:.2f} mm deep that meet each other on a tile of {side:g} mm",
                f"a web of {made.web:g} mm between them",
                f"choose {smaller}, a larger pitch" + ("" if made.every == "tile" else ' or every = "tile"'),
            )
