"""Board that registers: tabs of the walls go through slots in the floor, walls interlock where they meet.

Every wall is cut and stacked as on stacked board. One of its layers, the core, has tabs: on its lower edge for the
floor, on an end for the wall that it meets. What receives a tab is cut out by the same rule everywhere: as long and
wide as the tab, and the fit of the material's file more. The other layers, the skins, stand on the floor beside it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import (
    EQUAL_MM,
    NEAR_MM,
    Segment,
    polygonal,
    polygons_of,
    reflected,
    without_collinear,
)
from tilegen.lengths import show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.sheets.constructions.kind import LaidTile, WallTab
from tilegen.sheets.constructions.stacked import SCORED, Stacked, beside_doorway, bevels_said, hidden_ends
from tilegen.sheets.constructions.stacks import Stack
from tilegen.sheets.flat import FlatLayers, PlateLayer, Pose, at_origin, scores_on
from tilegen.sheets.footprints import end_shifts, is_sliver, kept_bevels, local_foot, to_longer_face
from tilegen.tiles.plate import Plate
from tilegen.tiles.walls import Joints

# The form of a core.
TABBED = "with tabs"
# Sold as 2 mm, a board may measure a little less. All shares below are of the sheet's thickness; common practice, no
# source.
_LEAST_SHEET_MM = 1.85
# A tab's usual length, the least one, what of a wall there is to one tab, and what has two.
_TAB, _LEAST_TAB, _TO_ONE_TAB, _TWO_TABS = 4.0, 1.5, 10.0, 6.0
# What is left beside a slot, and beside a tab at a wall's end or a doorway; where less is left, a slot is a notch.
_WEB = 0.5
# A finger's usual height, and the least one.
_FINGER, _LEAST_FINGER = 3.0, 1.0
# So much a tab is shorter than the layer it goes into: sheets differ, and the wall's foot must touch the floor.
_SHORT_MM = 0.2
# How far a notch is drawn past the edge that it is cut into.
_PAST_MM = 1.0


@dataclass(frozen=True, slots=True)
class _Meeting:
    """A wall's square end on the inner face of another one.

    start: whether the wall that ends there starts there. span: what its core covers of the other wall, along that.
    covers: which end of the other wall goes past it (its start: True); None in a T.
    """

    through: Plate
    stem: Plate
    start: bool
    span: tuple[float, float]
    covers: bool | None


@dataclass(slots=True)
class _Joined:
    """How a wall's layers differ from its plain face.

    past: at which ends it goes past another wall's core. onto: at which ends it closes a corner. fingers: its own at an
    end, as heights. slots: what other walls' fingers need, as boxes of its face.
    """

    past: set[bool] = field(default_factory=set)
    onto: set[bool] = field(default_factory=set)
    fingers: dict[bool, list[tuple[float, float]]] = field(default_factory=dict)
    slots: list[Polygon] = field(default_factory=list)


class Slotted(Stacked):
    """Layers of sheet, glued; the walls' cores interlock with the floor and with each other."""

    word = "slotted"
    own_base = True

    @classmethod
    def stacks_of(cls, grid: Grid, material: MaterialFile) -> tuple[Stack, Stack]:
        """As of stacked sheets.

        Raises:
            InputError: board too thin to carry tabs.
        """
        if max(material.thickness, material.real_thickness) < _LEAST_SHEET_MM:
            raise InputError(
                f"tabs of {material.name} {show_length(material.real_thickness)} thick would bend: slotted walls need "
                "board of 2 mm or more",
                cure="Use thicker board, or --construction stacked",
            )
        return super().stacks_of(grid, material)

    @property
    def joints(self) -> Joints:
        """Which wall covers the other's end; nothing else is asked of corners whose fingers interlock."""
        return Joints("butt" if self.corners == "butt" else "pinwheel")

    # Where the core is

    @property
    def _core(self) -> int:
        """Which layer of a wall carries the tabs, from outside: the middle one, the inner one of two."""
        return self.wall.layers // 2

    @property
    def _core_faces(self) -> tuple[float, float]:
        """How deep under a wall's outer face those of its core are, mm."""
        outer = self._depth(self._core)
        return outer, outer + self.sheet

    def _depth(self, layer: int) -> float:
        """How deep under a wall's outer face that of a layer is, mm."""
        return math.fsum(self.wall.sheets[:layer]) + layer * self.material.glue_line

    @property
    def _deep(self) -> float:
        """How far tabs reach into the floor, mm."""
        return max(min(self.sheet, self.base.sheets[0]) - _SHORT_MM, self.sheet / 2)

    @property
    def _web(self) -> float:
        return _WEB * self.sheet

    def _whole(self, plate: Plate) -> bool:
        """Whether a standing plate is a straight one of all layers."""
        return plate.edge is not None and plate.bend is None and abs(plate.thickness - self.wall.thickness) < NEAR_MM

    # The floor

    def floor_of(self, laid: LaidTile, base: Plate) -> Polygon:
        """A floor's top layer with the slots for the tabs of what stands on it."""
        slots = [tab.slot for tabs in self._tabs(laid).values() for tab in tabs if tab.floor == base.name]
        cut = base.foot.difference(shapely.union_all(slots)) if slots else base.foot
        return cut if isinstance(cut, Polygon) else base.foot

    def _tabs(self, laid: LaidTile) -> Mapping[Segment | None, Sequence[WallTab]]:
        """The tabs on the lower edge of every wall and post, by its outer face; worked out once for a tile."""
        if laid.tabs is None:
            bases = [plate for plate in laid.plates if plate.role == "base"]
            # Of a base of one layer, connectors are cut out of the floor too.
            through = self.pocket_layers >= self.base.layers
            floors: dict[str, BaseGeometry] = {}
            floors |= {p.name: self._cut_out(laid.made, p)[1] if through else p.foot for p in bases}
            standing = [p for p in laid.plates if p.role in ("wall", "post") and self._whole(p)]
            past: dict[Segment | None, set[bool]] = defaultdict(set)
            for met in self._meetings(standing):
                if met.covers is not None:
                    past[met.through.edge].add(met.covers)
            laid.tabs = {}
            for plate in standing:
                found = []
                for place in self._places(plate, past[plate.edge]):
                    tab = self._slotted(plate, place, bases, floors)
                    if tab is not None:
                        floors[tab.floor] = floors[tab.floor].difference(tab.slot)
                        found.append(tab)
                laid.tabs[plate.edge] = tuple(found)
        return laid.tabs

    def _places(self, plate: Plate, past: set[bool]) -> Iterator[tuple[float, float]]:
        """Where along a plate's lower edge there is room for tabs."""
        outer, inner = self._core_faces
        foot, sheet, beside = local_foot(plate), self.sheet, self._web + abs(self.material.slot_fit) / 2
        lines = [
            foot.intersection(LineString([(-1.0, y), (plate.length + 1.0, y)]))
            for y in (outer + NEAR_MM, inner - NEAR_MM)
        ]
        if any(line.is_empty or not isinstance(line, LineString) for line in lines):
            return
        low, high = max(line.bounds[0] for line in lines), min(line.bounds[2] for line in lines)
        low, high = max(low, outer * (True in past)), min(high, plate.length - outer * (False in past))
        gaps = sorted((o.centre - o.width / 2, o.centre + o.width / 2) for o in plate.openings)
        starts, ends = [low, *(end for _, end in gaps)], [*(start for start, _ in gaps), high]
        for from_gap, to_gap in zip(starts, ends, strict=True):
            start, end = max(from_gap, low) + beside, min(to_gap, high) - beside
            if end - start < _LEAST_TAB * sheet:
                continue
            number = max(math.ceil((end - start) / (_TO_ONE_TAB * sheet)), 2 if end - start > _TWO_TABS * sheet else 1)
            each = (end - start) / number
            half = min(_TAB * sheet, each / (1 if number == 1 else 2)) / 2
            for n in range(number):
                west, east = start + (n + 0.5) * each - half, start + (n + 0.5) * each + half
                if foot.covers(box(west, outer + NEAR_MM, east, inner - NEAR_MM)):
                    yield west, east

    def _slotted(
        self, plate: Plate, place: tuple[float, float], bases: Sequence[Plate], floors: Mapping[str, BaseGeometry]
    ) -> WallTab | None:
        """A tab with the slot that takes it; None where no floor has room for that.

        Where hardly anything would be left between the slot and the floor's edge it is a notch in that edge.
        """
        (outer, inner), loose, web = self._core_faces, self.material.slot_fit / 2, self._web
        west, east, low, high = place[0] - loose, place[1] + loose, outer - loose, inner + loose
        room = box(west - web, low - web, east + web, high + web)
        for base in bases:
            if abs(base.top - plate.bottom) > EQUAL_MM:
                continue
            on_plan = _placed(plate, room)
            found = floors[base.name].intersection(on_plan)
            lacks = room.area - found.area
            edge = lacks / (room.bounds[2] - room.bounds[0])
            if lacks < EQUAL_MM:
                return WallTab(*place, base.name, _placed(plate, box(west, low, east, high)))
            # What is missing must be a strip along the outer side, and no wider than to the core.
            inside = box(west - web, low - web + edge, east + web, high + web)
            if edge <= web + loose + NEAR_MM and found.symmetric_difference(_placed(plate, inside)).area < EQUAL_MM:
                notch = box(west, low - web + edge - _PAST_MM, east, high)
                return WallTab(*place, base.name, _placed(plate, notch))
        return None

    # Walls that meet

    def _meetings(self, standing: Sequence[Plate]) -> Iterator[_Meeting]:
        """Every place where a wall ends on the inner face of another at a right angle."""
        walls = [plate for plate in standing if plate.role == "wall" and self._whole(plate)]
        for stem in walls:
            shifts = end_shifts(stem)
            for start in (True, False):
                if abs(shifts[0 if start else 1]) > EQUAL_MM:
                    continue
                for through in walls:
                    met = None if through is stem else self._met(through, stem, start=start)
                    if met is not None:
                        yield met
                        break

    def _met(self, through: Plate, stem: Plate, *, start: bool) -> _Meeting | None:
        """How one wall ends on another; None where it does not, or not squarely."""
        (dx, dy), (ex, ey) = through.direction, stem.direction
        if abs(dx * ex + dy * ey) > EQUAL_MM or (through.bottom, through.top) != (stem.bottom, stem.top):
            return None

        def local(point: tuple[float, float]) -> tuple[float, float]:
            x, y = point[0] - through.at(0.0)[0], point[1] - through.at(0.0)[1]
            return dx * x + dy * y, dy * x - dx * y

        end, length = 0.0 if start else stem.length, through.length
        (near, deep), (far, _), (_, beyond) = (
            local(stem.at(*at)) for at in ((end, 0.0), (end, stem.thickness), (stem.length / 2, 0.0))
        )
        if abs(deep - through.thickness) > NEAR_MM or beyond < deep:
            return None
        if min(near, far) < -NEAR_MM or max(near, far) > length + NEAR_MM:
            return None
        if not local_foot(through).buffer(NEAR_MM).covers(box(min(near, far), 0.0, max(near, far), deep)):
            return None
        sign = 1.0 if far > near else -1.0
        one, other = (near + sign * face for face in self._core_faces)
        covers = None
        if sign < 0 and abs(near - length) < NEAR_MM and abs(end_shifts(through)[1]) < EQUAL_MM:
            covers, one, other = False, *(length - face for face in self._core_faces)
        elif sign > 0 and abs(near) < NEAR_MM and abs(end_shifts(through)[0]) < EQUAL_MM:
            covers, one, other = True, *self._core_faces
        return _Meeting(through, stem, start, (min(one, other), max(one, other)), covers)

    def _joined(self, standing: Sequence[Plate]) -> Mapping[Segment | None, _Joined]:
        """How walls interlock, by their outer faces."""
        found: dict[Segment | None, _Joined] = defaultdict(_Joined)
        for met in self._meetings(standing):
            heights, slots = self._fingers(met, found[met.through.edge].slots)
            if not heights:
                continue
            found[met.stem.edge].fingers[met.start] = heights
            found[met.through.edge].slots += slots
            if met.covers is not None:
                found[met.through.edge].past.add(met.covers)
                found[met.stem.edge].onto.add(met.start)
        return found

    def _fingers(self, met: _Meeting, taken: Sequence[Polygon]) -> tuple[list[tuple[float, float]], list[Polygon]]:
        """The heights of a wall's fingers and what the other wall's core loses for them; none where they don't fit."""
        height, sheet, loose, web = met.stem.height, self.sheet, self.material.slot_fit / 2, self._web
        number = max(3, 2 * math.floor(height / (2 * _FINGER * sheet)) + 1)
        each = height / number
        through, stem = self._solid(met.through), self._solid(met.stem)
        start, stop = met.span[0] - loose, met.span[1] + loose
        if met.covers is not None:
            # The core ends where the other wall's core does: its slots are the gaps of a comb.
            past = met.through.length + _PAST_MM
            start, stop = (-_PAST_MM, stop) if met.covers else (start, past)
            whole = box(max(start - web, 0.0), 0.0, min(stop + web, met.through.length), height)
            if not (through.covers(whole) and stem.covers(_at_end(met.stem, met.start, -web, (0.0, height)))):
                return [], []
        heights: list[tuple[float, float]] = []
        slots: list[Polygon] = []
        for n in range(1, number, 2) if each >= _LEAST_FINGER * sheet else ():
            low, high = n * each, (n + 1) * each
            slot = box(start, low - loose, stop, high + loose)
            room = slot.buffer(web, join_style="mitre")
            fits = met.covers is not None or through.covers(room)
            fits = fits and stem.covers(_at_end(met.stem, met.start, -web, (low, high)))
            if fits and not any(room.intersects(other) for other in taken):
                heights.append((low, high))
                slots.append(slot)
        return heights, slots

    def _solid(self, plate: Plate) -> BaseGeometry:
        """What every layer of a wall has."""
        return plate.face().intersection(self.slotted_face(plate)) if self.slotted_layers(plate) else plate.face()

    # Walls

    def lay_straight(self, laid: LaidTile, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """Walls and posts with their tabs and fingers; those that have none as on stacked board."""
        whole = [p for p in standing if self._whole(p) and not (laid.off_grid and is_sliver(p))]
        joined = self._joined(whole)
        for plate in standing:
            tabs, how = self._tabs(laid).get(plate.edge, ()), joined.get(plate.edge, _Joined())
            if plate in whole and (tabs or how != _Joined()):
                yield from self._interlocked(plate, tabs, how)
            else:
                yield from super().lay_straight(laid, [plate])

    def _interlocked(self, plate: Plate, tabs: Sequence[WallTab], how: _Joined) -> Iterator[FlatLayers]:
        """The layers of a wall, alike ones together, in pieces where a doorway has no lintel."""
        count, core = self.wall.layers, self._core
        beside = beside_doorway(plate)
        ends = end_shifts(plate)
        made = [(self._label(plate, layer), self._layer(plate, tabs, how, layer)) for layer in range(count)]
        sheets, first = self.wall.sheets, 0
        for _, group in groupby(range(count), key=lambda n: (made[n][0], made[n][1].wkb, sheets[n])):
            number = len(list(group))
            (label, region), depth = made[first], self._depth(first)
            first += number
            for piece in map(without_collinear, polygons_of(region, EQUAL_MM)):
                west, _, east, _ = piece.bounds
                shifts = kept_bevels(ends, (west < EQUAL_MM, east > plate.length - EQUAL_MM))
                longer = to_longer_face(piece, plate, shifts)
                pose = Pose(plate.at(longer.bounds[0], depth), plate.direction, (), shifts)
                scores = scores_on(plate, "inner", piece) if label == "scored" else ()
                if scores:
                    flat = at_origin(longer, scores, hidden_ends(plate, piece), shown=True)
                else:
                    flat = at_origin(reflected(longer))
                scored = (SCORED,) if scores else ()
                remarks = (*scored, *beside, *bevels_said(shifts, plate.thickness))
                layers = replace(self._layers(plate, flat, number, remarks), pose=pose, layer=label)
                if first - 1 == core:
                    yield replace(layers, form=TABBED) if len(piece.exterior.coords) > 5 else layers
                elif self.skin and first in (1, count):
                    yield from self.faced(layers, number)
                else:
                    yield layers

    def _label(self, plate: Plate, layer: int) -> PlateLayer:
        """What a layer is called, from outside."""
        count, core = self.wall.layers, self._core
        if layer == count - 1 and scores_on(plate, "inner"):
            return "scored"
        if layer == core:
            return "core" if count > 1 else ""
        if self._grooved(plate, layer):
            return "between"
        return "outer" if layer < core else "inner"

    def _grooved(self, plate: Plate, layer: int) -> bool:
        """Whether a layer makes room for the wall's leaf."""
        edge = self.skins // 2
        return bool(self.slotted_layers(plate)) and edge < layer < self.wall.layers - 1 - edge

    def _layer(self, plate: Plate, tabs: Sequence[WallTab], how: _Joined, layer: int) -> Polygon | MultiPolygon:
        """What is cut of one layer of a wall, along its outer face and up from its foot."""
        height, core = plate.height, self._core
        outer, inner = self._core_faces
        region: BaseGeometry = self.slotted_face(plate) if self._grooved(plate, layer) else plate.face()

        whole = (0.0, height)
        for end in how.past:
            # A corner's layers lie in rings: the core ends with the other wall's core, skins inside before it.
            back = 0.0 if layer < core else outer if layer == core else inner
            region = region.difference(_at_end(plate, end, -back, whole)) if back else region
        for end in how.onto if layer <= core else ():
            reach = self.wall.thickness - (outer if layer < core else inner)
            region = region.union(_at_end(plate, end, reach, whole)) if reach > EQUAL_MM else region
        if layer >= core and how.slots:
            region = region.difference(shapely.union_all(how.slots))
        if layer == core:
            reach = self.wall.thickness - outer
            fingers = [_at_end(plate, end, reach, high) for end, heights in how.fingers.items() for high in heights]
            below = [box(tab.start, -self._deep, tab.end, 0.0) for tab in tabs]
            region = shapely.union_all([region, *fingers, *below])
        return polygonal(region)

    # In words

    def joint_notes(self) -> Iterator[Message]:
        """How walls interlock, and how to try them."""
        fit = self.material.slot_fit
        play = (
            f"{show_length(abs(fit))} {'tighter' if fit < 0 else 'wider'} than the tabs"
            if fit
            else "as wide as the tabs"
        )
        yield Message(
            "note",
            f"Slots are {play} (slot_fit in the material's file; the slots of tilegen gauge show yours). Tabs are "
            f"{show_length(self._deep)} long and end in the floor's top layer: what is below stays flat.",
        )
        yield Message("note", "Corners: fingers of the walls' cores interlock; skins cover them.")
        if self.corners not in ("butt", "pinwheel"):
            yield Message("note", f"Corners of slotted walls are not cut as {self.corners}: their fingers interlock.")
        yield Message(
            "note",
            "Bent walls, walls that meet at other angles, and what has no room for a tab are glued without.",
        )

    def walls_step(self) -> str:
        """Everything is tried before it is glued."""
        return (
            "try each tile dry: join the cores of its walls where fingers meet, then lower them together into the "
            "floor's slots. Take it apart and glue it in that order, the other layers of each wall beside its core: "
            "at a corner outside layers end against outside layers, inside ones against inside ones"
        )


def _at_end(plate: Plate, start: bool, reach: float, heights: tuple[float, float]) -> Polygon:
    """A strip of a wall's face at one of its ends: so far past it, or so far back, mm."""
    stops = (0.0, -reach) if start else (plate.length, plate.length + reach)
    return box(min(stops), heights[0], max(stops), heights[1])


def _placed(plate: Plate, region: Polygon) -> Polygon:
    """A region along a standing plate's edge and into it, on the plan."""
    return Polygon([plate.at(x, y) for x, y in region.exterior.coords])
