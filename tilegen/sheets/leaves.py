"""Small loose parts on sheets: leaves between the layers of a wall or hung on a strip of tape, and keys."""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry import MultiPolygon, Polygon, box

from tilegen.grid import Grid
from tilegen.sheets.alike import at_origin
from tilegen.sheets.construction import Construction
from tilegen.sheets.laid import Laid
from tilegen.sheets.pockets import key_layers
from tilegen.tiles.doors import Piece
from tilegen.tiles.keys import Key
from tilegen.tiles.leaves import FLOOR_GAP_MM, sliding_face
from tilegen.tiles.plate import Plate, polygons_of

# A wall of this many layers can hold a leaf between its outer two.
_LAMINATED = 3
# Thinner stock than this is doubled for a leaf that is handled.
_STIFF_MM = 1.0


def slotted_layers(plate: Plate, construction: Construction) -> int:
    """How many layers inside a wall make room for its leaf; 0 where the wall has too few or no such leaf."""
    slides = any(o.leaf in ("sliding", "lift-out") for o in plate.openings)
    layers = construction.wall.layers
    return layers - 2 if slides and construction.kind == "stacked" and layers >= _LAMINATED else 0


def slotted_face(plate: Plate, grid: Grid) -> Polygon | MultiPolygon:
    """The face of such an inner layer: cut out to the top, as far past the jambs as the grooves are deep."""
    face = plate.face()
    for opening in plate.openings:
        if opening.leaf in ("sliding", "lift-out"):
            reach = opening.width / 2 + grid.door.groove_depth
            face = polygons_of(face.difference(box(opening.centre - reach, -1.0, opening.centre + reach, plate.top)))
    return face


def lay_leaf(piece: Piece, construction: Construction) -> Iterator[Laid]:
    """The layers of a leaf, or of a strip beside a saddle door."""
    thickness = construction.material.real_thickness
    grid, opening = piece.grid, piece.opening
    if piece.kind == "shim":
        # Both posts of stock less one: its thickness and the play (derived).
        layers = max(1, round((construction.wall.thickness + grid.joint_play) / thickness))
        strip = box(0.0, 0.0, grid.wall_thickness, grid.wall_height)
        yield Laid("door", "strip", at_origin(strip), thickness, layers, "stands where a post is missing")
        return
    laminated = construction.kind == "stacked" and construction.wall.layers >= _LAMINATED
    inner = construction.wall.layers - 2
    if opening.leaf == "sliding" and laminated:
        foot, marks = sliding_face(opening, grid)
        scores = tuple(segment for mark in marks for segment in mark.centres)
        flat = at_origin(foot, [(a, b) for a, b in scores])
        note = "slides between the wall's outer layers: rub its faces with a candle or sand them a little"
        yield Laid("door", "leaf", flat, thickness, inner, note)
        return
    if opening.leaf == "lift-out":
        plain = box(0.0, 0.0, opening.width - 2 * grid.door.gap, grid.wall_height)
        wide = box(0.0, 0.0, plain.bounds[2] + 2 * grid.door.groove_depth, grid.wall_height)
        outer = 2 if laminated else construction.wall.layers
        yield Laid("door", "leaf", at_origin(plain), thickness, outer, "a piece of wall that lifts out")
        if laminated:
            yield Laid("door", "leaf", at_origin(wide), thickness, inner, "inner layers of a wall that lifts out")
        return
    face = box(0.0, 0.0, opening.width - 2 * grid.door.gap, opening.height - 2 * FLOOR_GAP_MM)
    layers = 1 if thickness >= _STIFF_MM else 2
    note = "hang it by a strip of tape or paper along its left edge, on the inside of the wall"
    yield Laid("door", "leaf", at_origin(face), thickness, layers, note)


def lay_key(key: Key, construction: Construction) -> Iterator[Laid]:
    """A key of as many layers as its pockets go through; none where it must be printed."""
    layers = key_layers(key.grid, construction)
    if layers:
        note = "cut with care: the pockets leave it the play that the seams need"
        note = note if layers == 1 else f"glue in pairs; {note}"
        yield Laid("key", "key", at_origin(key.plates[0].foot), construction.material.real_thickness, layers, note)
