"""Folded card: walls as closed boxes, bases as skins round a core; what has no room for a box is wrapped or rolled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.geometry import Bounds, largest_polygon, one_polygon, polygons_of
from tilegen.lengths import show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.sheets.constructions.curved import bend_allowance, curved_layers
from tilegen.sheets.constructions.kind import Construction, LaidTile
from tilegen.sheets.constructions.nets import NECK_MM, Card, box_net, fold_to_fold, tray_nets
from tilegen.sheets.constructions.stacks import Stack
from tilegen.sheets.flat import Flat, FlatLayers, Pose, Remark, at_origin, scores_on
from tilegen.sheets.footprints import boxable, covered, cuttable, kept_bevels, plain_foot, span_at, without_tails
from tilegen.tiles.features import FEATURES
from tilegen.tiles.plate import Plate
from tilegen.tiles.walls import Band, Joints, printed_band

# The least a panel of a folded box may measure between its folds.
_LEAST_PANEL_MM = 2.0
# Lower things are stacked of card rather than folded from it (common practice, no source).
_LEAST_TRAY_MM = 4.0
# A narrower tongue of a core carries nothing.
_LEAST_CORE_MM = 2.0
_CORE_NOTE = Remark("of foam or board, glue layers if need be")
_CREASES = (
    "How to fold: parts are drawn as seen from outside, and every crease folds away from you. Before you cut, press "
    "the creases along a ruler with a blunt point (in a crease press: a channel {channel} wide, {depth} deep"
    "). Fold everything dry once. Then glue each tab behind the panel that carries its number with a stroke: 1 "
    "behind 1'. Boxes: the long tab first, then the ends. The flaps beside a doorway go in through it, with their tabs "
    "behind the far face; the upper edge of a doorway stays open. Tiles: corner tabs first, then slip in the core and"
    " glue down what turns under."
)


class Folded(Construction):
    """Card, as thick as in print once it is folded."""

    word = "folded"
    takes_pegs = False

    @classmethod
    def stacks_of(cls, grid: Grid, material: MaterialFile) -> tuple[Stack, Stack]:
        """As deep and as thick as in print.

        Raises:
            InputError: the card leaves no panels between the folds.
        """
        t, fold = material.real_thickness, material.folding
        wall = grid.wall_thickness - grid.half_play
        last = fold_to_fold(wall - t, t, fold.hinge) - fold.tuck
        if last < _LEAST_PANEL_MM or fold_to_fold(grid.base_depth, t, fold.hinge) < _LEAST_PANEL_MM:
            raise InputError(
                f"card of {show_length(t)} is too thick to fold into walls of {show_length(grid.wall_thickness)} and "
                f"bases of {show_length(grid.base_depth)}",
                cure="Use thinner card, or --construction stacked",
            )
        return Stack.solid(grid.base_depth), Stack.solid(wall)

    @property
    def band(self) -> Band:
        """Where they stand in print."""
        return printed_band(self.grid)

    @property
    def joints(self) -> Joints:
        """As asked for; boxes have no skin to lap."""
        return Joints("butt") if self.corners == "rabbet" else Joints(self.corners, skin=self.material.skin)

    @property
    def _card(self) -> Card:
        return Card(self.sheet, self.material.folding)

    # Bases

    def lay_base(self, _: LaidTile, base: Plate, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """A skin and its core."""
        yield from self._skin(base, covered(standing))

    def lay_bases(self, laid: LaidTile, bases: Sequence[Plate], sunk: Sequence[str]) -> Iterator[FlatLayers]:
        """Skins; no hollow can be folded into one."""
        if sunk:
            raise InputError(
                f"the {sunk[0]} in {laid.called} can't be folded",
                cure="Use --construction stacked, or thicker stock",
            )
        for plate in bases:
            yield from self._skin(plate, laid.covered(plate))

    def lay_feature(self, laid: LaidTile, plate: Plate) -> Iterator[FlatLayers]:
        """A box, a strip rolled round two discs, a skin; what is low or round a stack of card."""
        if plate.edge is not None:
            foot = box(0.0, 0.0, plate.length, plate.thickness)
            yield self._part(plate, box_net(plate.height, foot, (), self._card), "", "folded box")
        elif FEATURES[plate.role].upright:
            yield from self._rolled(plate)
        elif plate.height >= _LEAST_TRAY_MM and len(plate.foot.exterior.coords) < 12:
            yield from self._skin(plate, ())
        else:
            yield from super().lay_feature(laid, plate)

    def _skin(self, plate: Plate, hidden: Sequence[Bounds]) -> Iterator[FlatLayers]:
        """A skin, strips for its loose edges, and its core: of foam or board, smaller by card and glue."""
        blunt = f"a tip of the floor under {NECK_MM:g} mm wide is left off; fill it with putty"
        skin, strips = tray_nets(plate, self._card, hidden)
        yield self._part(plate, skin, "" if cuttable(plate.foot) is plate.foot else blunt, "folded skin")
        for strip in strips:
            yield self._part(plate, strip, "glue round the core under the floor's edge", "edge strip", "gluing")
        gap = self.material.folding.gap
        depth = round(wrapped_core(plate.height, self.sheet, gap), 3)
        inner = cuttable(plate.foot).buffer(-self.sheet - gap, join_style="mitre")
        for core in polygons_of(inner) if depth > 0 else ():
            if not core.buffer(-_LEAST_CORE_MM / 2).is_empty:
                flat = at_origin(core)
                yield FlatLayers(plate.role, plate.name, flat, depth, remarks=(_CORE_NOTE,), form="core", layer="core")

    def _rolled(self, plate: Plate) -> Iterator[FlatLayers]:
        """A round pillar: a strip rolled round two discs, as long as the middle of the card is round it."""
        card = self.sheet
        corners = shapely.get_coordinates(plate.foot.exterior) - shapely.get_coordinates(plate.foot.centroid)
        around = bend_allowance(2 * math.pi, float(np.hypot(*corners.T).max()) - card, card)
        strip = at_origin(box(0.0, 0.0, around, plate.height))
        yield self._part(plate, strip, "roll round the two discs; the ends meet, tape them inside", "rolled strip")
        disc = at_origin(largest_polygon(plate.foot.buffer(-card)))
        for end in ("foot", "top"):
            yield self._part(plate, disc, f"inside the rolled strip, level with its {end}", "cap")

    def base_words(self, _: int) -> str:
        """Fold it."""
        return "base: fold the skin round its core"

    # Walls

    def lay_wall(self, laid: LaidTile, plate: Plate) -> Iterator[FlatLayers]:
        """A box, or a strip folded round a foot that has no room for one."""
        if boxable(plate, self.sheet, as_it_is=laid.off_grid):
            yield from self._boxes(plate)
        else:
            yield from self._wrapped(plate)

    def _boxes(self, plate: Plate, remark: Remark | None = None) -> Iterator[FlatLayers]:
        """A wall as closed boxes of card, one on each side of a doorway without a lintel."""
        foot = plain_foot(plate)
        west, _, east, _ = foot.bounds
        gaps = sorted((o.centre, o.width) for o in plate.openings if plate.is_open_topped(o))
        starts = [west, *(centre + width / 2 for centre, width in gaps)]
        ends = [*(centre - width / 2 for centre, width in gaps), east]
        remark = remark or (Remark("beside a doorway without a lintel") if gaps else None)
        remarks = (remark,) if remark else ()
        for start, end in zip(starts, ends, strict=True):
            part = one_polygon(foot.intersection(box(start, -1.0, end, plate.thickness + 1.0))) if gaps else foot
            openings = [o for o in plate.openings if not plate.is_open_topped(o) and start < o.centre < end]
            (o0, o1), (i0, i1) = (span_at(part, depth) for depth in (0.0, plate.thickness))
            shifts = kept_bevels((i0 - o0, i1 - o1), (start == west, end == east))
            pose = Pose(plate.at(start), plate.direction, (), shifts)
            scores = scores_on(plate, "inner", box(start, 0.0, end, plate.height))
            net = box_net(plate.height, part, openings, self._card, scores)
            yield FlatLayers(plate.role, plate.name, net, self.sheet, remarks=remarks, form="folded box", pose=pose)

    def _wrapped(self, plate: Plate) -> Iterator[FlatLayers]:
        """A standing plate of any foot: one strip folded round it, with creases at its corners, and a cap."""
        foot = largest_polygon(plate.foot.simplify(self.sheet / 10))
        ring = [(float(x), float(y)) for x, y in foot.exterior.coords]
        lengths = [math.dist(a, b) for a, b in pairwise(ring)]
        creases = [((at, 0.0), (at, plate.height)) for at in list(accumulate(lengths))[:-1]]
        strip = at_origin(box(0.0, 0.0, math.fsum(lengths), plate.height), (), (), creases, shown=True)
        cap = without_tails(foot)
        round_what = "into a tube too thin for a cap" if cap is None else "round the cap"
        yield self._part(plate, strip, f"fold {round_what}, join the ends with tape", "folded strip")
        if cap is not None:
            yield self._part(plate, at_origin(cap, shown=True), "glue on top, inside the folded strip", "cap", "gluing")

    def lay_bent(self, plate: Plate) -> Iterator[FlatLayers]:
        """Two skins and a cap on top."""
        yield from curved_layers(plate, self.material, 2, "bent")
        if (cap := without_tails(plate.foot)) is not None:
            yield self._part(plate, at_origin(cap, shown=True), "glue on top of the two skins", "cap", "gluing")

    def lay_half_door(self, plate: Plate, _: int, remark: Remark) -> Iterator[FlatLayers]:
        """A box."""
        yield from self._boxes(plate, remark)

    def base_notes(self) -> Iterator[Message]:
        """What is under the skin."""
        t, gap, depth = self.sheet, self.material.folding.gap, self.grid.base_depth
        core = f"a core of foam or board, {show_length(wrapped_core(depth, t, gap))} thick"
        yield Message(
            "note",
            f"Base: a tray folded of card, round {core}. Without its core the floor sags. "
            "Its outlines, true to size, are among the templates in cut.pdf.",
        )

    def wall_notes(self) -> Iterator[Message]:
        """How thick they are."""
        yield Message("note", f"Walls: closed card boxes, {show_length(self.wall.thickness)} thick.")

    def joint_notes(self) -> Iterator[Message]:
        """Corners, and how to fold."""
        yield from super().joint_notes()
        channel, depth = crease_channel(self.sheet, self.material.folding.rule)
        yield Message("note", _CREASES.format(channel=show_length(channel), depth=show_length(depth)))

    def _part(
        self, plate: Plate, flat: Flat, words: str, form: str, of: Literal["cutting", "gluing"] = "cutting"
    ) -> FlatLayers:
        remarks = (Remark(words, of),) if words else ()
        return FlatLayers(plate.role, plate.name, flat, self.sheet, remarks=remarks, form=form)


def crease_channel(thickness: float, rule: float) -> tuple[float, float]:
    """Width and depth of the channel pressed into card, mm: 2 t + rule and t (Condat, papermaker, on creasing)."""
    return 2 * thickness + rule, thickness


def wrapped_core(outside: float, card: float, gap: float) -> float:
    """Of a core that card is glued round, for an outside size, mm: X - 2 (t + g) (derived).

    >>> round(wrapped_core(50, 0.3, 0.1), 2)
    49.2
    """
    return outside - 2 * (card + gap)
