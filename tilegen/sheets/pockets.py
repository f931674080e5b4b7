"""Connectors in a base made of layers: which layers are cut out, and what a knife or a drill must do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from tilegen.connectors import Connectors
from tilegen.geometry import ROUNDING_MM
from tilegen.grid import Grid
from tilegen.sheets.construction import Construction
from tilegen.sheets.stacks import stack_up
from tilegen.tiles.connectors import connector_marks, flat_region
from tilegen.tiles.doors import Piece
from tilegen.tiles.plate import Plate
from tilegen.tiles.pockets import BELOW_MM, pockets_of
from tilegen.tiles.tile import Tile

# How the layers that carry pockets are named.
BOTTOM = "bottom, "


@dataclass(frozen=True, slots=True)
class Hollow:
    """The bottom layers of a base that are cut out for connectors: how many, their outline, what to write on them."""

    layers: int
    foot: Polygon
    words: str = ""


def hollow_of(tile: Tile | Piece, base: Plate, construction: Construction) -> Hollow:
    """What the connectors of a tile make of the bottom layers of its base."""
    layers = cut_layers(tile.grid, construction)
    if not layers or not isinstance(tile, Tile):
        return Hollow(0, base.foot)
    marks = connector_marks(tile.shape, tile.grid, base.foot)
    sunk = [mark.region for mark in marks if mark.on == "under"]
    # The slimmer tip of a printed peg is a chamfer on a cut one.
    pegs = shapely.union_all([flat_region(mark) for mark in marks if mark.depth < 0])
    raised = shapely.convex_hull(shapely.get_parts(pegs)).tolist()
    foot = shapely.union_all([base.foot, *raised]).difference(shapely.union_all(sunk))
    if not marks or not isinstance(foot, Polygon):
        return Hollow(0, base.foot)
    kind = {"pegs": "with pegs and sockets", "keys": "with pockets for keys"}
    return Hollow(layers, foot, f"{BOTTOM}{kind.get(tile.grid.connectors.kind, 'with slots for magnets')}")


def cut_layers(grid: Grid, construction: Construction) -> int:
    """How many layers, from the bottom, have connectors cut out; 0 where cutting can't make them.

    The top layer is the floor: only pegs go through it, where it is the only one.
    """
    made, total = grid.connectors, construction.base.layers
    if made.kind == "none" or construction.kind == "folded":
        return 0
    sheet, glue = construction.material.real_thickness, construction.material.glue_line
    if made.kind == "pegs":
        return max(1, min(stack_up(made.peg_height, sheet, glue).layers, total - 1))
    if made.kind == "keys":
        return min(stack_up(made.key_thickness, sheet, glue).layers, total - 1)
    if made.magnet_place == "side":
        return 0
    needed = math.ceil((made.magnet_diameter + BELOW_MM + glue) / (sheet + glue) - ROUNDING_MM)
    return needed if needed < total else 0


def key_layers(grid: Grid, construction: Construction) -> int:
    """Of how many layers a key is made: as many as its pockets go through."""
    return cut_layers(grid, construction) if grid.connectors.kind == "keys" else 0


def hollow_notes(grid: Grid, construction: Construction) -> Iterator[str]:
    """What cutting alone can't make, and how to make it."""
    made, layers = grid.connectors, cut_layers(grid, construction)
    if made.kind == "none":
        return
    if construction.kind == "folded":
        yield f"folded tiles carry no {made.kind}: cut or print them, or glue them on a printed base"
        return
    name, thick = construction.material.name, construction.material.real_thickness
    if layers:
        yield from _cut_out_notes(made, construction, layers)
    elif made.kind == "magnets" and made.magnet_place == "side":
        pocket = pockets_of(grid)[0]
        bore = made.magnet_diameter + made.allowance
        yield (
            f"magnets: bore {bore:g} mm wide and {pocket.depth:g} deep into the sides of every base after gluing, with "
            "the jig (connectors/jig.pdf of build and tile); mark N and S first"
        )
    else:
        depth = pockets_of(grid)[0].depth
        yield (
            f"{made.kind}: the base is too few layers of {thick:g} mm {name} to cut pockets out of those below the "
            f"floor; hollow them out {depth:g} mm deep from below along the jig (connectors/jig.pdf of build and "
            "tile), or choose thinner sheets"
        )
        if made.kind == "keys":
            yield f"keys: {made.key_thickness:g} mm thick; print them, or cut them from sheets of that thickness"


def _cut_out_notes(made: Connectors, construction: Construction, layers: int) -> Iterator[str]:
    """Which layers carry the connectors, and what is weak of them."""
    total, material = construction.base.layers, construction.material
    where = f"the bottom {layers} of {total} layers" if layers < total else "the whole thickness"
    yield f"{made.kind}: cut out of {where} of every base" + (", and show in the floor" if layers == total else "")
    if made.kind == "pegs" and made.peg_width < material.least_strip:
        yield (
            f"pegs {made.peg_width:g} mm wide are weak in {material.name}, which wants strips of "
            f"{material.least_strip:g} mm: handle with care or choose other connectors"
        )
