"""Small loose parts on sheets: leaves between the layers of a wall or hung on a strip of tape, and keys."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shapely.geometry import MultiPolygon, Polygon, box

from tilegen.geometry import Segment, polygonal
from tilegen.grid import Grid
from tilegen.sheets.alike import at_origin
from tilegen.sheets.construction import Construction
from tilegen.sheets.laid import Laid, Layer
from tilegen.sheets.pockets import key_layers
from tilegen.sheets.scores import scores_of
from tilegen.tiles.doors import Piece
from tilegen.tiles.keys import SeamKey
from tilegen.tiles.leaves import BAR_MM, FLOOR_GAP_MM, lift_out_marks, sliding_face, styled_face
from tilegen.tiles.plate import Plate

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
            face = polygonal(face.difference(box(opening.centre - reach, -1.0, opening.centre + reach, plate.top)))
    return face


def lay_leaf(piece: Piece, construction: Construction, notes: list[str]) -> Iterator[Laid]:
    """The layers of a leaf, or of a strip beside a saddle door. notes: what the builder must be told is added."""
    thickness = construction.material.real_thickness
    grid, opening = piece.grid, piece.opening
    if piece.kind == "shim":
        # Both posts of stock less one: its thickness and the play (derived).
        layers = max(1, round((construction.wall.thickness + grid.joint_play) / thickness))
        strip = box(0.0, 0.0, grid.wall_thickness, grid.wall_height)
        yield Laid(
            "door", "strip", at_origin(strip, shown=layers == 1), thickness, layers, "stands where a post is missing"
        )
        return
    laminated = construction.kind == "stacked" and construction.wall.layers >= _LAMINATED
    inner = construction.wall.layers - 2
    if opening.leaf == "lift-out":
        yield from _lift_out(piece, construction, inner if laminated else 0)
        return
    bar = max(BAR_MM, construction.material.least_strip)
    if opening.leaf == "sliding" and laminated:
        foot, marks = sliding_face(opening, grid, bar)
        layers, note = (
            inner,
            "slides between the wall's outer layers: rub its faces with a candle or sand them a little",
        )
    else:
        width, height = opening.width - 2 * grid.door.gap, opening.height - 2 * FLOOR_GAP_MM
        seen = bar, bar, width - bar, min(height, height - bar)
        foot, marks = styled_face(box(0.0, 0.0, width, height), seen, height, opening, bar)
        layers = 1 if thickness >= _STIFF_MM else 2
        note = "hang it by a strip of tape or paper along its left edge, on the inside of the wall"
    if opening.style in ("bars", "portcullis") and not foot.interiors:
        notes.append(
            f"{piece.name} ({piece.id}) is cut plain: bars and rim of {bar:g} mm, the least that holds in "
            f"{construction.material.name}, leave no hole in it; draw the bars on, make the doorway wider, or choose "
            "thinner stock"
        )
    yield from _outermost(foot, scores_of(marks), thickness, layers, note)


def _outermost(foot: Polygon, scores: Sequence[Segment], thickness: float, layers: int, note: str) -> Iterator[Laid]:
    """Layers of a leaf, both of whose faces show: one with lines on each side, so that the glued faces are plain."""
    sides = min(2, layers) if scores else 0
    if layers > sides:
        plain = at_origin(foot, shown=layers == 1)
        yield Laid("door", "leaf", plain, thickness, layers - sides, note, layer="between" if sides else "alike")
    if sides:
        yield Laid("door", "leaf", at_origin(foot, scores, shown=True), thickness, sides, note, layer="scored")


def _lift_out(piece: Piece, construction: Construction, inner: int) -> Iterator[Laid]:
    """A piece of wall; inner: layers between its outer two that reach into the wall's grooves."""
    grid, opening, thickness = piece.grid, piece.opening, construction.material.real_thickness
    note = "a piece of wall that lifts out"
    plain = box(0.0, 0.0, opening.width - 2 * grid.door.gap, grid.wall_height)
    wide = box(0.0, 0.0, plain.bounds[2] + 2 * grid.door.groove_depth, grid.wall_height)
    outer, scores = 2 if inner else construction.wall.layers, scores_of(lift_out_marks(opening, grid))
    if scores:
        flat = at_origin(plain, scores, shown=True)
        yield Laid("door", "leaf", flat, thickness, 1, f"{note}; scored like the wall beside it", layer="scored")
        outer -= 1
    if outer:
        flat = at_origin(plain, shown=not scores and outer == 1)
        layer: Layer = "outer" if scores else "alike"
        yield Laid("door", "leaf", flat, thickness, outer, note, layer=layer)
    if inner:
        between = "inner layers of a wall that lifts out"
        yield Laid("door", "leaf", at_origin(wide), thickness, inner, between, layer="between")


def lay_key(key: SeamKey, construction: Construction) -> Iterator[Laid]:
    """A key of as many layers as its pockets go through; none where it must be printed."""
    layers = key_layers(key.grid, construction)
    if layers:
        note = "cut with care: the pockets leave it the play that the seams need"
        note = note if layers == 1 else f"glue in pairs; {note}"
        yield Laid("key", "key", at_origin(key.plates[0].foot), construction.material.real_thickness, layers, note)
