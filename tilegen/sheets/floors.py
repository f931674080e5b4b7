"""What lies under and on the floor of a tile with features, laid flat: layers of the base, what stands on them.

Heights are reckoned from the tile's underside in whole layers, so that a stair of sheets ends at the floor it leads to.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from tilegen.errors import InputError
from tilegen.geometry import Bounds
from tilegen.lengths import counted
from tilegen.sheets.alike import Flat, at_origin
from tilegen.sheets.bends import rolled_parts
from tilegen.sheets.construction import Construction
from tilegen.sheets.nets import Card, box_net
from tilegen.sheets.scores import scores_on
from tilegen.sheets.stacks import Stack, stack_up
from tilegen.sheets.trays import tray_parts
from tilegen.tiles.features import FEATURES
from tilegen.tiles.plate import Plate, Role

FLOOR_ROLES: tuple[Role, ...] = ("base", *FEATURES)
# Lower things are stacked of card rather than folded from it (common practice, no source).
_LEAST_TRAY_MM = 4.0
_UNSEEN_MM = 0.005


@dataclass(frozen=True, slots=True)
class FloorPart:
    """So many alike layers of one plate, flat; form: how it is made, if not cut and glued."""

    plate: Plate
    flat: Flat
    layers: int = 1
    note: str = ""
    form: str = ""


class FloorLaying:
    """Lays the floor of one tile flat. sunk: the kinds of hollows in it. notes: what the builder must be told of it."""

    def __init__(self, name: str, plates: Sequence[Plate], construction: Construction, sunk: Sequence[str]) -> None:
        self.name, self.sunk = name, sunk
        self.construction, self.material = construction, construction.material
        self.sheet, self.glue = self.material.real_thickness, self.material.glue_line
        self.bases = [plate for plate in plates if plate.role == "base"]
        self.on_floor = [plate for plate in plates if plate.role in FLOOR_ROLES and plate.role != "base"]
        self.standing = [plate for plate in plates if plate.role not in FLOOR_ROLES]
        self.notes: list[str] = []

    def parts(self) -> Iterator[FloorPart]:
        """Every layer of every plate, from below."""
        folded = self.construction.kind == "folded"
        yield from self._trays() if folded else self._base_layers()
        for plate in self.on_floor:
            if plate.edge is not None and folded:
                foot = _upright_foot(plate)
                card = Card(self.sheet, self.material.folding)
                yield FloorPart(plate, box_net(plate.height, foot, (), card), form="folded box")
            elif folded and FEATURES[plate.role].upright:
                for part in rolled_parts(plate, self.sheet):
                    yield FloorPart(plate, part.flat, note=part.note, form=part.form)
            elif folded and plate.height >= _LEAST_TRAY_MM and len(plate.foot.exterior.coords) < 12:
                yield from self._tray(plate, ())
            else:
                yield from self._stacked(plate)

    def layers_to(self, z: float) -> int:
        """Layers of sheet from the underside up to a height."""
        return stack_up(z, self.sheet, self.glue).layers if z > 0 else 0

    def _base_layers(self) -> Iterator[FloorPart]:
        bands: dict[tuple[float, float], list[Plate]] = defaultdict(list)
        for plate in self.bases:
            bands[plate.bottom, plate.top].append(plate)
        order = sorted(bands)
        counts = [self.layers_to(top) - self.layers_to(bottom) for bottom, top in order]
        for upper in range(1, len(counts)):
            if not counts[upper] and counts[upper - 1]:
                counts[upper - 1], counts[upper] = counts[upper - 1] - 1, 1
        self._base_notes(order, counts)
        for band, count in zip(order, counts, strict=True):
            for plate in bands[band] if count else []:
                if count > 1:
                    yield FloorPart(plate, at_origin(plate.foot), count - 1)
                scores = scores_on(plate, "top")
                note = "top layer" if count > 1 and scores else ""
                yield FloorPart(plate, at_origin(plate.foot, scores, self._covered(plate), shown=True), 1, note)

    def _base_notes(self, order: Sequence[tuple[float, float]], counts: Sequence[int]) -> None:
        usual, top = self.construction.grid.base_depth, order[-1][1]
        if top != usual or len(order) > 1:
            stack = Stack(sum(counts), self.sheet, self.glue, top)
            self._tell(f"bases in layers around a {self.sunk[0]}" if self.sunk else "raised bases", stack)
        if len(order) > 1 and not counts[0]:
            what = self.sunk[0] if self.sunk else "low floor"
            self.notes.append(
                f"{what}s: of {counted(counts[-1], 'layer')} none is left below a {what}, so it goes right "
                "through: let a piece of card into the underside, or lay the tile on a dark cloth"
            )

    def _trays(self) -> Iterator[FloorPart]:
        """Skins of card; no hollow can be folded into one."""
        if self.sunk:
            raise InputError(
                f"a {self.sunk[0]} in {self.name}, made of folded {self.material.name}",
                expected="a base of layers, or none",
                cure="choose --construction stacked or thicker stock",
            )
        for plate in self.bases:
            yield from self._tray(plate, self._covered(plate))

    def _tray(self, plate: Plate, covered: Sequence[Bounds]) -> Iterator[FloorPart]:
        for part in tray_parts(plate, Card(self.sheet, self.material.folding), covered):
            yield FloorPart(plate, part.flat, note=part.note, form=part.form)

    def _stacked(self, plate: Plate) -> Iterator[FloorPart]:
        """Layers one above the other, or the strips of what stands upright side by side if these are fewer."""
        lying = Stack(
            max(1, self.layers_to(plate.top) - self.layers_to(plate.bottom)), self.sheet, self.glue, plate.height
        )
        kind = FEATURES[plate.role]
        if plate.edge is not None:
            upright = stack_up(plate.thickness, self.sheet, self.glue)
            if upright.layers <= lying.layers:
                self._tell(f"{kind.several} of strips side by side", upright)
                west, south, east, _ = plate.foot.bounds
                strip = Polygon(
                    [(west, south), (east, south), (east, south + plate.height), (west, south + plate.height)]
                )
                yield FloorPart(
                    plate,
                    at_origin(strip, shown=upright.layers == 1),
                    upright.layers,
                    "glue side by side, stand upright",
                )
                return
        self._tell(kind.layered, lying)
        scores = scores_on(plate, "top")
        if lying.layers > 1 and scores:
            yield FloorPart(plate, at_origin(plate.foot), lying.layers - 1)
            yield FloorPart(plate, at_origin(plate.foot, scores, shown=True), 1, "top layer")
        else:
            yield FloorPart(plate, at_origin(plate.foot, scores, shown=True), lying.layers)

    def _tell(self, what: str, stack: Stack) -> None:
        shims = stack.shims(self.material.stack.shim)
        shim = (
            f"; make it up with {shims} x {self.material.stack.shim:g} mm card" if stack.residual < -_UNSEEN_MM else ""
        )
        self.notes.append(f"{what}: {stack.words}{shim}")

    def _covered(self, plate: Plate) -> list[Bounds]:
        """Boxes on a plate's top that something will stand on."""
        return [
            other.foot.bounds
            for other in (*self.standing, *self.on_floor)
            if other.bottom == plate.top and other.foot.area >= other.foot.envelope.area * (1 - 1e-3)
        ]


def _upright_foot(plate: Plate) -> Polygon:
    """A standing box's foot with x along its outer face and y into it."""
    length, depth = plate.length, plate.thickness
    return Polygon([(0.0, 0.0), (length, 0.0), (length, depth), (0.0, depth)])
