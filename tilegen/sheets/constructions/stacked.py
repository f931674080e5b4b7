"""Sheets glued face to face: bases and walls of as many layers as they need, connectors cut out of the lowest ones."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Polygon, box

from tilegen.geometry import EQUAL_MM, NEAR_MM, ROUNDING_MM, Bounds, Segment, polygons_of, reflected, segments_of
from tilegen.lengths import counted, show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.sheets.constructions.curved import curved_layer, curved_layers, way_of
from tilegen.sheets.constructions.kind import SKIN, TOP_LAYER, Construction, LaidTile
from tilegen.sheets.constructions.stacks import UNSEEN_MM, Stack, best_stack, hidden_foot, stack_up
from tilegen.sheets.flat import (
    Flat,
    FlatLayers,
    PlateLayer,
    Pose,
    Remark,
    at_origin,
    fitted_word,
    floor_scores,
    scores_on,
)
from tilegen.sheets.footprints import covered, end_shifts, kept_bevels, local_foot, to_longer_face
from tilegen.tiles.connectors.kind import kind_of, pockets_of
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Plate
from tilegen.tiles.seats import connector_marks, flat_region
from tilegen.tiles.tile import Tile
from tilegen.tiles.walls import Band, Joints, stock_band

SCORED = Remark("scored on its inner face, drawn as seen from inside")
_BESIDE_LEAF = "inner layers, beside the leaf"
# An end that is off square by less than this can't be told from a square one by eye or hand.
_SQUARE_DEGREES = 0.1
# The least width at a wall's end that holds the part's number.
_NUMBER_MM = 4.0


class Stacked(Construction):
    """Layers of sheet, glued."""

    word = "stacked"
    takes_skin = True

    @classmethod
    def stacks_of(cls, grid: Grid, material: MaterialFile) -> tuple[Stack, Stack]:
        """As many layers as come nearest to what they measure in print; a base perhaps of several thicknesses."""
        sheet, glue = material.real_thickness, material.glue_line
        wall = stack_up(grid.wall_thickness - grid.half_play, sheet, glue)
        return best_stack(grid.base_depth, sheet, material.stack.thicknesses, glue), wall

    @property
    def band(self) -> Band:
        """The inner face where the grid puts it."""
        return stock_band(self.grid, self.wall.thickness)

    @property
    def joints(self) -> Joints:
        """As asked for; only a wall of one layer with a skin can be lapped."""
        skin = self.material.skin
        if self.corners == "rabbet" and (not skin or self.wall.layers > 1):
            return Joints("butt")
        return Joints(self.corners, skin=skin)

    # Bases

    def lay_base(self, laid: LaidTile, base: Plate, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """Its layers: those with connectors cut out, those that nobody sees, the floor."""
        top_sheet, *below = self.base.sheets
        nominal = base.foot
        pockets, foot, words = self._cut_out(laid.made, base)
        if pockets == len(below) + 1:
            base = replace(base, foot=foot)
        elif pockets:
            below, lowest = below[:-pockets], below[-pockets:]
            yield from self._below(base, foot, lowest, words, "bottom")
        hidden = hidden_foot(base.foot, self.material.stack, len(below) + 1) if below and not pockets else base.foot
        yield from self._below(base, hidden, below)
        # Lines stop where a socket is cut out, and don't run out onto a peg.
        floor = self.floor_of(laid, base)
        scores = floor_scores(base, nominal.intersection(floor) if pockets else floor)
        top = at_origin(floor, scores, covered(standing), shown=True)
        mixed = below and set(below) != {top_sheet}
        known = below and (scores or mixed or floor is not base.foot)
        remarks = (TOP_LAYER,) if known else ()
        which: PlateLayer = "top" if self.base.layers > 1 else ""
        yield FlatLayers(base.role, base.name, top, top_sheet, remarks=remarks, layer=which)

    def floor_of(self, _: LaidTile, base: Plate) -> Polygon:
        """What is cut of a floor's top layer."""
        return base.foot

    def _below(
        self, base: Plate, foot: Polygon, sheets: Sequence[float], words: str = "", layer: PlateLayer = "below"
    ) -> Iterator[FlatLayers]:
        for sheet in dict.fromkeys(sheets):
            count, remarks = sheets.count(sheet), (Remark(words),) if words else ()
            yield FlatLayers(base.role, base.name, at_origin(foot), sheet, count, remarks, layer=layer)

    def lay_bases(self, laid: LaidTile, bases: Sequence[Plate], sunk: Sequence[str]) -> Iterator[FlatLayers]:
        """Layers from the underside up to each floor, one at least where the floor below can spare it."""
        bands: dict[tuple[float, float], list[Plate]] = defaultdict(list)
        for plate in bases:
            bands[plate.bottom, plate.top].append(plate)
        order = sorted(bands)
        counts = [self.layers_to(top) - self.layers_to(bottom) for bottom, top in order]
        for upper in range(1, len(counts)):
            if not counts[upper] and counts[upper - 1]:
                counts[upper - 1], counts[upper] = counts[upper - 1] - 1, 1
        top = order[-1][1]
        if top != self.grid.base_depth or len(order) > 1:
            stack = Stack(sum(counts), self.sheet, self.material.glue_line, top)
            self.tell_stack(laid, f"bases in layers around a {sunk[0]}" if sunk else "raised bases", stack)
        if len(order) > 1 and not counts[0]:
            what = sunk[0] if sunk else "low floor"
            words = f"A {what} goes right through the base, which has only {counted(counts[-1], 'layer')}."
            laid.notes.append(Message("note", f"{words} Glue card under it, or lay the tile on a dark cloth."))
        for band, count in zip(order, counts, strict=True):
            for plate in bands[band] if count else []:
                if count > 1:
                    yield replace(self._layers(plate, at_origin(plate.foot), count - 1), layer="below")
                floor = self.floor_of(laid, plate)
                scores = floor_scores(plate, floor)
                flat = at_origin(floor, scores, laid.covered(plate), shown=True)
                special = scores or floor is not plate.foot
                top_layer = self._layers(plate, flat, 1, (TOP_LAYER,) if count > 1 and special else ())
                yield replace(top_layer, layer="top" if count > 1 else "")

    def base_words(self, layers: int) -> str:
        """Glue them."""
        if layers == 1:
            return "base"
        from_top = " + ".join(f"{t:g}" for t in self.base.mixed)
        mixed = f" ({from_top} mm from the top)" if from_top and layers == self.base.layers else ""
        return f"base: glue {layers} layers{mixed}, edges flush, under a weight"

    # Walls

    def lay_wall(self, _: LaidTile, plate: Plate) -> Iterator[FlatLayers]:
        """Strips."""
        yield from self.strips(plate)

    def strips(self, plate: Plate) -> Iterator[FlatLayers]:
        """A wall or post as alike layers, apart on both sides of a doorway without a lintel."""
        beside = beside_doorway(plate)
        skin = self.material.skin
        laps = _lapped_ends(plate, skin) if self.joints.corners == "rabbet" and plate.role == "wall" else (False, False)
        start, end = end_shifts(plate)
        ends = 0.0 if laps[0] else start, 0.0 if laps[1] else end
        inside = self.slotted_layers(plate)
        for region in polygons_of(plate.face()):
            scores = scores_on(plate, "inner", region)
            whole = region.bounds[0] < EQUAL_MM, region.bounds[2] > plate.length - EQUAL_MM
            shifts, lapped = kept_bevels(ends, whole), (laps[0] and whole[0], laps[1] and whole[1])
            longer = to_longer_face(region, plate, shifts)
            flat = self._lapped(region, laps, plate, scores) if any(laps) else at_origin(reflected(longer))
            pose = Pose(plate.at(longer.bounds[0]), plate.direction, (), shifts, lapped)
            about = (*beside, *bevels_said(shifts, plate.thickness), *_laps_said(lapped, skin))
            layers = self.wall.layers - inside
            if scores and not any(laps):
                # The innermost layer alone shows, drawn as it is seen from inside.
                if layers > 1:
                    outer = replace(self._layers(plate, flat, layers - 1, about), pose=pose, layer="outer")
                    yield from self.faced(outer, 1)
                flat = at_origin(longer, scores, hidden_ends(plate, region), shown=True)
                about = SCORED, *about
                yield from self.faced(replace(self._layers(plate, flat, 1, about), pose=pose, layer="scored"), 1)
            else:
                alike = replace(
                    self._layers(plate, flat, layers, about), pose=pose, layer="alike" if layers > 1 else ""
                )
                yield from self.faced(alike, 2)
        # What the wall's leaf slides between.
        for region in polygons_of(self.slotted_face(plate)) if inside else ():
            pose = Pose(plate.at(region.bounds[0]), plate.direction)
            flat = at_origin(reflected(region))
            yield replace(self._layers(plate, flat, inside, (Remark(_BESIDE_LEAF),)), pose=pose, layer="between")

    def _lapped(self, region: Polygon, laps: tuple[bool, bool], plate: Plate, marks: Sequence[Segment]) -> Flat:
        """A wall whose ends are cut down to the skin, as seen from inside, where the cuts are made."""
        west, low, east, high = region.bounds
        scores = list(marks)
        words = []
        for lap, edge, end, sign in ((laps[0], west, 0.0, 1), (laps[1], east, plate.length, -1)):
            if lap and abs(edge - end) < EQUAL_MM:
                x = edge + sign * self.wall.thickness
                # A doorway may begin within the lap.
                inside = region.intersection(LineString([(x, low), (x, high)]))
                scores += segments_of(inside, EQUAL_MM)
                words += fitted_word("R", region.intersection(box(min(edge, x), low, max(edge, x), high)))
        return at_origin(region, scores, (), (), words, shown=True)

    def lay_bent(self, plate: Plate) -> Iterator[FlatLayers]:
        """As the material goes round a curve."""
        over = self.skin.real_thickness if self.skin else 0.0
        if self.skin:
            sides: dict[PlateLayer, float] = {"outer": 0.0, "inner": plate.thickness - over}
            for side, deep in sides.items():
                for part in curved_layer(plate, deep, self.skin, way_of(self.skin)):
                    flat = replace(part.flat, shown=part.flat.shown and side == "inner")
                    yield replace(part, flat=flat, form=SKIN, layer=side)
        yield from curved_layers(plate, self.material, self.wall.layers - self.skins, way_of(self.material), over)

    def lay_half_door(self, plate: Plate, inside: int, remark: Remark) -> Iterator[FlatLayers]:
        """Its faces, as many as a wall has layers."""
        for region in polygons_of(plate.face()):
            yield from self.faced(self._layers(plate, at_origin(region), self.wall.layers - inside, (remark,)), 2)
        for region in polygons_of(self.slotted_face(plate)) if inside else ():
            both = Remark(f"{remark.words}; {_BESIDE_LEAF}", remark.of)
            yield self._layers(plate, at_origin(region), inside, (both,))

    def base_notes(self) -> Iterator[Message]:
        """Layers of the stack, and where it differs from the plan."""
        base, stack = self.base, self.material.stack
        yield Message("note", f"Base: {base.words}.{base.remedy(stack.shim)}")
        if stack.thicknesses and not base.mixed:
            others = ", ".join(f"{t:g}" for t in stack.thicknesses)
            nearer = f"sheets of {others} mm would come no nearer to a base of {show_length(base.target)}"
            yield Message("note", f"One thickness of sheet is enough: {nearer}.")
        step = base.layers * stack.spread
        if step > UNSEEN_MM:
            words = f"Floors from different batches of sheets may differ by {show_length(step)} in height."
            yield Message("note", f"{words} Cut all bases from one batch.")

    def wall_notes(self) -> Iterator[Message]:
        """Layers of the stack, and where it differs from the plan."""
        grid, wall = self.grid, self.wall
        # Where they are thinner they stand back from the base's edge, as the floor's width is kept.
        back = show_length(-wall.residual) if wall.residual < -UNSEEN_MM and self.floor_lost <= UNSEEN_MM else ""
        glue = f" Glue them {back} in from the base's edge, so that the room keeps its size." if back else ""
        words = (
            wall.words.replace("from the top down", f"with {self.skin.name} on both faces") if self.skin else wall.words
        )
        yield Message("note", f"Walls: {words}.{glue}")
        if grid.wall_height > self.material.slender * wall.thickness:
            sizes = f"{show_length(grid.wall_height)} high and {show_length(wall.thickness)} thick"
            slender = f"more than {self.material.slender:g} times as high as thick"
            yield Message(
                "decide",
                f"Walls {sizes} may bend: they are {slender}.",
                cure="Brace them, or make them lower (--height) or thicker (--wall).",
            )
        if self.floor_lost > UNSEEN_MM:
            lost, kept = show_length(self.floor_lost), show_length(grid.hall_clear - 2 * self.floor_lost)
            yield Message(
                "decide",
                f"The stock is thicker than the wall, so each wall stands {lost} further in and a hall is {kept} wide.",
                cure="Choose thinner stock, or a thicker wall (--wall).",
            )

    # Connectors

    @property
    def pocket_layers(self) -> int:
        """As many as a connector is high; the top layer, which is the floor, only for pegs where it is the only one."""
        kind, total = kind_of(self.grid), self.base.layers
        deep, sheet, glue = kind.cut(self.grid), self.sheet, self.material.glue_line
        if deep is None:
            return 0
        if kind.rounds_up:
            needed = math.ceil((deep + glue) / (sheet + glue) - ROUNDING_MM)
            return needed if needed < total else 0
        layers = min(stack_up(deep, sheet, glue).layers, total - 1)
        return max(layers, 1) if kind.through else layers

    def _cut_out(self, tile: Tile | Piece, base: Plate) -> tuple[int, Polygon, str]:
        """How many of a base's lowest layers connectors are cut out of, the outline of these, what to write on them."""
        layers = self.pocket_layers
        marks = connector_marks(tile.shape, tile.grid, base.foot) if layers and isinstance(tile, Tile) else []
        # The slimmer tip of a printed peg is a chamfer on a cut one.
        pegs = shapely.union_all([flat_region(mark) for mark in marks if mark.depth < 0])
        raised = shapely.convex_hull(shapely.get_parts(pegs)).tolist()
        sunk = shapely.union_all([mark.region for mark in marks if mark.on == "under"])
        foot = shapely.union_all([base.foot, *raised]).difference(sunk)
        if not marks or not isinstance(foot, Polygon):
            return 0, base.foot, ""
        return layers, foot, f"bottom, with {kind_of(self.grid).carried}"

    def pocket_notes(self) -> Iterator[Message]:
        """Which layers carry the connectors and what is weak of them; or how to make what can't be cut."""
        made, layers, total, material = self.grid.connectors, self.pocket_layers, self.base.layers, self.material
        kind, edge = kind_of(self.grid), pockets_of(self.grid)
        if not made.holds:
            return
        if layers:
            where = f"the bottom {layers} of {total} layers" if layers < total else "the whole thickness"
            seen = ", so they show in the floor" if layers == total else ""
            yield Message("note", f"{made.kind.capitalize()}: their pockets go through {where} of every base{seen}.")
            if kind.stands_out and made.peg_width < material.least_strip:
                needs = f"{material.name}, which needs {material.least_strip:g} mm"
                yield Message(
                    "decide",
                    f"Pegs {made.peg_width:g} mm wide are weak in {needs}.",
                    cure="Handle them with care, or choose other connectors.",
                )
            return
        depth = edge[0].depth if edge else kind.cut(self.grid)
        if kind.cut(self.grid) is None:
            bore = made.magnet_diameter + made.allowance
            hole = f"a hole {show_length(bore)} wide and {show_length(depth or 0.0)} deep"
            yield Message(
                "note",
                f"Magnets: after gluing, bore {hole} into the sides of every base, along the jig (connectors/jig.pdf). "
                "Mark N and S first.",
            )
            return
        along = " along the jig (connectors/jig.pdf)" if edge else ""
        base = f"a base of {counted(total, 'layer')} of {show_length(self.sheet)}"
        yield Message(
            "decide",
            f"{made.kind.capitalize()}: {base} has no layer to cut their pockets from.",
            cure=f"Hollow them out {show_length(depth or 0.0)} deep from below{along}, or choose thinner sheets.",
        )
        if kind.loose:
            words = f"Keys are {show_length(made.key_thickness)} thick: print them, or cut them from sheets that thick."
            yield Message("note", words)


def _lapped_ends(plate: Plate, skin: float) -> tuple[bool, bool]:
    """At which ends a wall's foot is only as deep as the skin."""
    under = [x for x, y in local_foot(plate).exterior.coords if abs(y - skin) < NEAR_MM]
    return any(abs(x) < NEAR_MM for x in under), any(abs(x - plate.length) < NEAR_MM for x in under)


def beside_doorway(plate: Plate) -> tuple[Remark, ...]:
    """A word on the parts of a wall that a doorway without a lintel leaves."""
    beside = any(plate.is_open_topped(opening) for opening in plate.openings)
    return (Remark("beside an open-topped doorway", "gluing"),) if beside else ()


def _laps_said(laps: tuple[bool, bool], skin: float) -> tuple[Remark, ...]:
    """Which ends of a wall only their outer skin reaches."""
    ends = [end for end, lap in zip(("left", "right"), laps, strict=True) if lap]
    where = f"seen from inside; {' and '.join(ends)} end"
    return (Remark(f"{where}: cut at the score down to the far paper ({skin:g} mm), peel off"),) if ends else ()


def bevels_said(shifts: tuple[float, float], thickness: float) -> tuple[Remark, ...]:
    """How the ends of a wall are bevelled; nothing if they are square."""
    ends = []
    # Seen from outside, as the part is drawn, the start of the edge is on the right.
    for name, shift in (("left", -shifts[1]), ("right", shifts[0])):
        angle = math.degrees(math.atan2(shift, thickness))
        if abs(angle) >= _SQUARE_DEGREES:
            ends.append(f"{name} end {abs(angle):.1f} deg, the {'outer' if angle > 0 else 'inner'} face longer")
    return (Remark(f"bevel after gluing, seen on the outer face: {'; '.join(ends)}", "bevels"),) if ends else ()


def hidden_ends(plate: Plate, region: Polygon) -> list[Bounds]:
    """The ends of a wall's inner face that other walls stand against, as boxes of the piece."""
    west, low, east, high = region.bounds
    near, _, far, _ = shapely.union_all([mark.face for mark in plate.marks if mark.on == "inner"]).bounds
    return [(x0, low, x1, high) for x0, x1 in ((west, min(near, east)), (max(far, west), east)) if x1 - x0 > _NUMBER_MM]
