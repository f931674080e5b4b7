"""Laying a tile or a loose piece flat: its plates as layers, grooved runs or folded nets."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from shapely.geometry import LineString, Polygon, box

from tilegen.geometry import EQUAL_MM, Segment, one_polygon, polygons_of, reflected, segments_of
from tilegen.sheets.alike import Flat, at_origin
from tilegen.sheets.bends import curved_parts, wrapped_parts
from tilegen.sheets.construction import Construction
from tilegen.sheets.feet import (
    bevel_words,
    boxable,
    covered,
    end_shifts,
    hidden_ends,
    is_sliver,
    kept_bevels,
    lap_words,
    lapped_ends,
    plain_foot,
    span_at,
)
from tilegen.sheets.floors import FLOOR_ROLES, FloorLaying
from tilegen.sheets.folds import stable_foot, wrapped_core
from tilegen.sheets.hidden import hidden_foot
from tilegen.sheets.labels import fitted_word
from tilegen.sheets.laid import Laid, Layer, Pose
from tilegen.sheets.leaves import lay_key, lay_leaf, slotted_face, slotted_layers
from tilegen.sheets.nets import Card, box_net
from tilegen.sheets.pockets import hollow_notes, hollow_of
from tilegen.sheets.runs import Piece as RunPiece
from tilegen.sheets.runs import run_name, run_pieces, runs_of, turn_between
from tilegen.sheets.scores import scores_on
from tilegen.sheets.trays import CORE_NOTE, core_outlines, tray_parts
from tilegen.tiles.doors import Piece, saddle_feet, saddle_plates
from tilegen.tiles.keys import SeamKey
from tilegen.tiles.openings import has_thin_lintel
from tilegen.tiles.plate import Plate
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.shape import OutlineShape, Shape
from tilegen.tiles.tile import Tile, make_plates

# A foot that glue holds on a leg (common practice, no source).
_FOOT_HEIGHT_MM = 10.0
_SCORED = "scored on its inner face, drawn as seen from inside"


class Laying:
    """Lays one tile or piece flat. opened: doorways cut through to the top, as (lintel that would be left, where)."""

    def __init__(self, made: Tile | Piece, construction: Construction) -> None:
        self.made, self.construction, self.material = made, construction, construction.material
        self.thickness = self.material.real_thickness
        self.notes: list[str] = []
        # As built from this stock, once they are laid flat.
        self.plates: tuple[Plate, ...] = ()
        self.opened: list[tuple[str, str]] = []

    def flats(self) -> Iterator[Laid]:
        """Every layer of every plate."""
        made = self.made
        if isinstance(made, SeamKey):
            yield from lay_key(made, self.construction)
        elif isinstance(made, Piece):
            yield from self._door(made) if made.kind == "saddle" else lay_leaf(made, self.construction, self.notes)
        else:
            yield from self._tile(made, made.shape)

    def _tile(self, tile: Tile, shape: Shape) -> Iterator[Laid]:
        how = self.construction
        plates = make_plates(shape, tile.grid, how.band, how.joints, tile.ground)
        self.plates = tuple(plates)
        base, *standing = plates
        self.notes += hollow_notes(tile.grid, how)
        if not isinstance(shape, OutlineShape) and shape.furnished:
            yield from self._floor(plates, shape.sunk)
            standing = [plate for plate in plates if plate.role not in FLOOR_ROLES]
        else:
            yield from self._tray(base, standing) if how.kind == "folded" else self._base(base, standing)
        bent = [self._openable(plate) for plate in standing if plate.bend is not None]
        straight = [self._openable(plate) for plate in standing if plate.bend is None]
        yield from self._straight(straight, by_regions=isinstance(shape, RegionShape))
        for plate in bent:
            for part in curved_parts(plate, how):
                yield Laid(
                    plate.role, plate.name, part.flat, self.thickness, note=part.note, form=part.form, layer=part.layer
                )

    def _straight(self, standing: Sequence[Plate], *, by_regions: bool) -> Iterator[Laid]:
        """Walls and posts without a bend. by_regions: of a shape whose walls may be slivers or too thin for a box."""
        how = self.construction.kind
        if how == "grooved":
            yield from self._grooved([plate for plate in standing if plate.role == "wall"])
            standing = [plate for plate in standing if plate.role != "wall"]
        for plate in standing:
            if by_regions and is_sliver(plate):
                where = f"{plate.name} of {self.made.name} ({self.made.id})"
                self.notes.append(f"{where}: a sliver of wall is too narrow to cut and left out; fill it with putty")
            elif how == "folded" and not boxable(plate, self.thickness, as_it_is=by_regions):
                for part in wrapped_parts(plate, self.thickness):
                    yield Laid(plate.role, plate.name, part.flat, self.thickness, note=part.note, form=part.form)
            else:
                yield from self._boxes(plate) if how == "folded" else self._strips(plate)

    def _floor(self, plates: Sequence[Plate], sunk: Sequence[str]) -> Iterator[Laid]:
        floor = FloorLaying(f"{self.made.name} ({self.made.id})", plates, self.construction, sunk)
        for part in floor.parts():
            plate = part.plate
            yield Laid(plate.role, plate.name, part.flat, self.thickness, part.layers, part.note, part.form)
            if part.form == "folded skin":
                yield from self._cores(plate)
        self.notes += floor.notes

    def _base(self, base: Plate, standing: Sequence[Plate]) -> Iterator[Laid]:
        top_sheet, *below = self.construction.base.sheets
        nominal = base.foot
        hollow = hollow_of(self.made, base, self.construction)
        if hollow.layers == len(below) + 1:
            base = replace(base, foot=hollow.foot)
        elif hollow.layers:
            below, lowest = below[: -hollow.layers], below[-hollow.layers :]
            for sheet in dict.fromkeys(lowest):
                yield Laid(
                    base.role,
                    base.name,
                    at_origin(hollow.foot),
                    sheet,
                    lowest.count(sheet),
                    hollow.words,
                    layer="below",
                )
        stack, plain = self.material.stack, hollow.layers == 0
        foot = hidden_foot(base.foot, stack, len(below) + 1) if plain and below else base.foot
        for sheet in dict.fromkeys(below):
            yield Laid(base.role, base.name, at_origin(foot), sheet, below.count(sheet), layer="below")
        # Lines stop where a socket is cut out, and don't run out onto a peg.
        scores = scores_on(base, "top", nominal.intersection(base.foot) if hollow.layers else None)
        top = at_origin(base.foot, scores, covered(standing), shown=True)
        mixed = below and set(below) != {top_sheet}
        note = "top layer" if below and (scores or mixed) else ""
        which: Layer = "top" if len(self.construction.base.sheets) > 1 else ""
        yield Laid(base.role, base.name, top, top_sheet, note=note, layer=which)

    def _tray(self, base: Plate, standing: Sequence[Plate]) -> Iterator[Laid]:
        for part in tray_parts(base, Card(self.thickness, self.material.folding), covered(standing)):
            yield Laid(base.role, base.name, part.flat, self.thickness, note=part.note, form=part.form)
        yield from self._cores(base)

    def _cores(self, plate: Plate) -> Iterator[Laid]:
        """What a skin is folded round: of foam or board, smaller by card and glue."""
        gap = self.material.folding.gap
        depth = round(wrapped_core(plate.height, self.thickness, gap), 3)
        for outline in core_outlines(plate.foot, self.thickness + gap) if depth > 0 else ():
            yield Laid(plate.role, plate.name, at_origin(outline), depth, note=CORE_NOTE, form="core", layer="core")

    def _openable(self, plate: Plate) -> Plate:
        """The plate with its doorways cut through to the top where their lintels would be too thin."""
        thin = [o for o in plate.openings if has_thin_lintel(o, plate.height, self.material.least_lintel)]
        if not thin:
            return plate
        lintel = min(plate.height - o.height for o in thin)
        self.opened.append((f"{lintel:.2f}", f"{plate.name} of {self.made.name} ({self.made.id})"))
        return replace(
            plate, openings=tuple(replace(o, height=plate.height) if o in thin else o for o in plate.openings)
        )

    def _strips(self, plate: Plate) -> Iterator[Laid]:
        beside = "beside an open-topped doorway" if any(plate.is_open_topped(o) for o in plate.openings) else ""
        laps = self._laps(plate)
        start, end = end_shifts(plate)
        ends = 0.0 if laps[0] else start, 0.0 if laps[1] else end
        for region in polygons_of(plate.face()):
            scores = scores_on(plate, "inner", region)
            flat = self._lapped(region, laps, plate, scores) if any(laps) else at_origin(reflected(region))
            whole = region.bounds[0] < EQUAL_MM, region.bounds[2] > plate.length - EQUAL_MM
            shifts, lapped = kept_bevels(ends, whole), (laps[0] and whole[0], laps[1] and whole[1])
            pose = Pose(plate.at(region.bounds[0]), plate.direction, (), shifts, lapped)
            about = bevel_words(shifts, plate.thickness), lap_words(lapped, self.material.skin)
            note = "; ".join(filter(None, (beside, *about)))
            inside = slotted_layers(plate, self.construction)
            layers = self.construction.wall.layers - inside
            if scores and not any(laps):
                # The innermost layer alone shows, drawn as it is seen from inside.
                if layers > 1:
                    yield Laid(plate.role, plate.name, flat, self.thickness, layers - 1, note, pose=pose, layer="outer")
                flat, layers = at_origin(region, scores, hidden_ends(plate, region), shown=True), 1
                note = "; ".join(filter(None, (_SCORED, note)))
                yield Laid(plate.role, plate.name, flat, self.thickness, layers, note, pose=pose, layer="scored")
            else:
                which: Layer = "alike" if layers > 1 else ""
                yield Laid(plate.role, plate.name, flat, self.thickness, layers, note, pose=pose, layer=which)
        if inside := slotted_layers(plate, self.construction):
            yield from self._slotted(plate, inside)

    def _slotted(self, plate: Plate, layers: int) -> Iterator[Laid]:
        """The layers inside a wall of several that its leaf slides between."""
        for region in polygons_of(slotted_face(plate, self.made.grid)):
            pose = Pose(plate.at(region.bounds[0]), plate.direction)
            flat = at_origin(reflected(region))
            note = "inner layers, beside the leaf"
            yield Laid(plate.role, plate.name, flat, self.thickness, layers, note, pose=pose, layer="between")

    def _laps(self, plate: Plate) -> tuple[bool, bool]:
        """Which ends of a wall are cut down to the skin."""
        if self.construction.joints.corners != "rabbet" or plate.role != "wall":
            return False, False
        return lapped_ends(plate, self.material.skin)

    def _lapped(self, region: Polygon, laps: tuple[bool, bool], plate: Plate, marks: Sequence[Segment]) -> Flat:
        """A wall whose ends are cut down to the skin, as seen from inside, where the cuts are made."""
        west, low, east, high = region.bounds
        scores = list(marks)
        words = []
        for lap, edge, end, sign in ((laps[0], west, 0.0, 1), (laps[1], east, plate.length, -1)):
            if lap and abs(edge - end) < EQUAL_MM:
                x = edge + sign * self.construction.wall.thickness
                # A doorway may begin within the lap.
                inside = region.intersection(LineString([(x, low), (x, high)]))
                scores += segments_of(inside, EQUAL_MM)
                words += fitted_word("R", region.intersection(box(min(edge, x), low, max(edge, x), high)))
        return at_origin(region, scores, (), (), words, shown=True)

    def _boxes(self, plate: Plate) -> Iterator[Laid]:
        """A wall as closed boxes of card, one on each side of a doorway without a lintel."""
        card = Card(self.thickness, self.material.folding)
        foot = plain_foot(plate)
        west, _, east, _ = foot.bounds
        gaps = sorted((o.centre, o.width) for o in plate.openings if plate.is_open_topped(o))
        starts = [west, *(centre + width / 2 for centre, width in gaps)]
        ends = [*(centre - width / 2 for centre, width in gaps), east]
        for start, end in zip(starts, ends, strict=True):
            part = one_polygon(foot.intersection(box(start, -1.0, end, plate.thickness + 1.0))) if gaps else foot
            openings = [o for o in plate.openings if not plate.is_open_topped(o) and start < o.centre < end]
            note = "beside a doorway without a lintel" if gaps else ""
            (o0, o1), (i0, i1) = (span_at(part, depth) for depth in (0.0, plate.thickness))
            shifts = kept_bevels((i0 - o0, i1 - o1), (start == west, end == east))
            pose = Pose(plate.at(start), plate.direction, (), shifts)
            net = box_net(
                plate.height, part, openings, card, scores_on(plate, "inner", box(start, 0.0, end, plate.height))
            )
            yield Laid(plate.role, plate.name, net, self.thickness, note=note, form="folded box", pose=pose)

    def _grooved(self, walls: Sequence[Plate]) -> Iterator[Laid]:
        fold = self.material.folding
        for run in runs_of(walls, fold.longest):
            first, last = run.plates[0], run.plates[-1]
            if len(run.plates) == 1 and not run.closed:
                yield from self._strips(first)
                continue
            closing = turn_between(last, first) if run.closed else 0.0
            shifts = end_shifts(first)[0], end_shifts(last)[1]
            pieces = list(run_pieces(run, (closing, closing), self.thickness, self.material.skin, fold.hinge))
            for piece in pieces:
                yield self._run_part(piece, shifts, len(pieces) > 1)

    def _run_part(self, piece: RunPiece, shifts: tuple[float, float], beside: bool) -> Laid:
        """One piece of a run; its pose starts on the wall that it begins on."""
        first, *others = piece.plates
        kept = kept_bevels(shifts, piece.ends)
        pose = Pose(first.at(piece.along), first.direction, piece.folds, kept)
        name = run_name([first.name, *(plate.name for plate in others)])
        note = "beside an open-topped doorway" if beside else ""
        form = f"grooved run of {len(piece.plates)} walls" if piece.folds else ""
        return Laid("wall", name, piece.flat, self.thickness, 1, note, form, pose)

    def _door(self, piece: Piece) -> Iterator[Laid]:
        # The posts beside it are of the same stock: where they are thicker than the wall, the door is shorter.
        grid = replace(piece.grid, wall_thickness=self.construction.band.inner)
        depth = self.construction.wall.thickness
        plates = saddle_plates(grid, piece.side, piece.opening, depth)
        self.plates = plates
        thin = has_thin_lintel(piece.opening, piece.grid.wall_height, self.material.least_lintel)
        if thin:
            lintel = grid.wall_height - piece.opening.height
            self.notes.append(
                f"{piece.name} ({piece.id}) keeps its lintel, {lintel:.2f} mm high: its leaves are "
                "glued back to back over their whole faces; handle it by the legs"
            )
        note = "glue the leaves back to back" + ("; thin lintel kept" if thin else "")
        for plate in plates:
            if self.construction.kind == "folded":
                for laid in self._boxes(plate):
                    yield replace(laid, note=note)
                continue
            # The leaf slides inside the first of the two.
            inside = slotted_layers(plate, self.construction) if plate is plates[0] else 0
            for region in polygons_of(plate.face()):
                outside = self.construction.wall.layers - inside
                yield Laid(plate.role, plate.name, at_origin(region), self.thickness, outside, note)
            if inside:
                for region in polygons_of(slotted_face(plate, grid)):
                    inner = f"{note}; inner layers, beside the leaf"
                    yield Laid(plate.role, plate.name, at_origin(region), self.thickness, inside, inner)
        yield from self._feet(plates)

    def _feet(self, plates: tuple[Plate, ...]) -> Iterator[Laid]:
        """Strips on both faces of a saddle door's legs, where it would tip at less than 15 degrees without."""
        height = plates[0].height
        lacks = (stable_foot(height) - 2 * self.construction.wall.thickness) / 2
        if lacks < EQUAL_MM:
            return
        layers = math.ceil(lacks / self.thickness - EQUAL_MM)
        reach = layers * self.thickness + (layers - 1) * self.material.glue_line
        high = min(height, max(_FOOT_HEIGHT_MM, self.material.least_strip))
        feet = tuple(saddle_feet(plates, reach, high))
        self.plates += feet
        for foot in feet:
            west, _, east, _ = foot.foot.bounds
            face = at_origin(box(0.0, 0.0, east - west, high))
            yield Laid("door", foot.name, face, self.thickness, layers, "glue to a leg, flush below", "foot")
