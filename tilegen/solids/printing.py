"""From plates to the mesh that is written: heights, chamfer, vents and shrink as the printer's file says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tilegen.errors import InputError
from tilegen.geometry import ROUNDING_MM
from tilegen.grid import Grid
from tilegen.reading.printer_models import PrinterFile
from tilegen.solids.build import Mesh, build_solid, to_mesh
from tilegen.solids.chamfer import chamfered
from tilegen.solids.engrave import engraved_below
from tilegen.solids.hollows import hollow_notes, hollows_of, vented
from tilegen.solids.layers import snap, snap_down, snapped
from tilegen.tiles.connector_checks import check_connectors
from tilegen.tiles.doors import Piece
from tilegen.tiles.leaves import check_leaf
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.pockets import least_clearance
from tilegen.tiles.tile import Tile, make_tile


def plates_to_print(thing: Tile | Piece, printer: PrinterFile) -> tuple[Plate, ...]:
    """The plates of a tile or piece with the fits and heights of this printer; its id stays that of its description.

    What the printer's test pieces have told rules where the grid says nothing of its own. With heights on whole layers
    a piece that stands on a tile's floor is as high as the wall beside it comes out, or a little lower.

    Raises:
        InputError: the tile can't carry what the printer asks for.
    """
    try:
        return _to_print(thing, fitted_grid(thing.grid, printer), printer)
    except InputError as error:
        raise _named(error, thing.name).located(file=f"printer {printer.name}") from None


def _to_print(thing: Tile | Piece, grid: Grid, printer: PrinterFile) -> tuple[Plate, ...]:
    if isinstance(thing, Tile):
        if grid == thing.grid:
            return thing.plates
        for plate in thing.plates:
            for opening in plate.openings:
                check_leaf(opening, grid, math.inf)
        return make_tile(thing.name, thing.shape, grid, thing.ground).plates
    opening = thing.opening
    if printer.snap_heights:
        floor = snap(grid.base_depth, printer.layers)
        wall, head = (snap(grid.base_depth + h, printer.layers) - floor for h in (grid.wall_height, opening.height))
        opening = replace(opening, height=head)
        thickness = snap_down(grid.door.thickness, printer.layers) if opening.leaf == "sliding" else grid.door.thickness
        grid = replace(grid, wall_height=snap_down(wall, printer.layers), door=replace(grid.door, thickness=thickness))
    return thing.plates if (grid, opening) == (thing.grid, thing.opening) else thing.plates_on(grid, opening)


def fitted_grid(grid: Grid, printer: PrinterFile) -> Grid:
    """A grid with the clearances that the printer's test pieces have told, where it says nothing of its own.

    Leaves and keys slide, pegs go in by hand; a peg or key keeps at least what the play asks for.
    """
    told, door, connectors = printer.clearance.measured, grid.door, grid.connectors
    if "slip" in told and door.clearance is None:
        door = replace(door, clearance=printer.clearance_of("slip"))
    if "slip" in told and connectors.clearance is None and connectors.kind in ("pegs", "keys"):
        connectors = replace(connectors, clearance=max(least_clearance(grid), printer.clearance_of("slip")))
    if "hole" in told and connectors.magnet_allowance is None and connectors.kind == "magnets":
        connectors = replace(connectors, magnet_allowance=printer.hole_allowance)
    fitted = replace(grid, door=door, connectors=connectors)
    check_connectors(fitted)
    return fitted


def as_printed(
    name: str, plates: Sequence[Plate], printer: PrinterFile, below: Sequence[Mark] = ()
) -> tuple[Mesh, list[str]]:
    """The closed mesh of a tile or piece as it is written, and what to know about it.

    below: words for the underside, which the chamfer leaves alone. With a printer's defaults (heights as drawn, no
    chamfer, no shrink) this is the plain solid of the plates.

    Raises:
        SolidError: the plates do not make one body.
        InputError: too thin or too narrow for what the printer's file asks for; names the part.
    """
    try:
        return _as_printed(name, plates, printer, below)
    except InputError as error:
        raise _named(error, name) from None


def _as_printed(
    name: str, plates: Sequence[Plate], printer: PrinterFile, below: Sequence[Mark]
) -> tuple[Mesh, list[str]]:
    solid = build_solid(name, snapped(plates, printer.layers) if printer.snap_heights else plates)
    low = solid.bounding_box()[2]
    if abs(low) > ROUNDING_MM:
        solid = solid.translate((0.0, 0.0, -low))
    if printer.bottom_chamfer:
        _check_depth(plates, printer.bottom_chamfer)
        solid = chamfered(solid, printer.bottom_chamfer, printer.walls.least)
    solid = engraved_below(solid, below)
    notes: list[str] = []
    if printer.process == "resin":
        hollows = hollows_of(solid)
        if hollows and printer.resin.vents:
            solid = vented(solid, hollows, printer, name)
            notes.append(f"{name}: side holes let the resin out of {len(hollows)} hollow{'s' * (len(hollows) > 1)}.")
        else:
            notes += hollow_notes(name, hollows, printer)
    return scaled(to_mesh(name, solid), printer.scale), notes


def _check_depth(plates: Sequence[Plate], chamfer: float) -> None:
    lowest = min(plate.bottom for plate in plates)
    thinnest = min(plate.height for plate in plates if plate.bottom == lowest)
    if thinnest <= chamfer:
        raise InputError(
            f"a chamfer of {chamfer:g} mm under something {thinnest:g} mm high",
            expected="less than its height",
            place="bottom_chamfer",
        )


def scaled(mesh: Mesh, scale: tuple[float, float, float]) -> Mesh:
    """A mesh stretched along x, y and z, to make up for what a print shrinks by."""
    if scale == (1.0, 1.0, 1.0):
        return mesh
    x, y, z = scale
    return replace(mesh, vertices=mesh.vertices * np.asarray(scale), volume=mesh.volume * x * y * z)


def _named(error: InputError, name: str) -> InputError:
    """The same error, with the part's name before what was found."""
    return InputError(
        f"{name}: {error.found}", expected=error.expected, cure=error.cure, file=error.file, place=error.place
    )
