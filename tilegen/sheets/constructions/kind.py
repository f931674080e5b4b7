"""What every construction does: how thick things become, how they are joined, how a tile's plates are laid flat.

A construction's own file holds what is special about it; all that stands here is the same for every one.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Self

from shapely.geometry import MultiPolygon, Polygon, box

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM, Bounds, Segment, polygonal
from tilegen.lengths import counted, show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.model.words import CornersName
from tilegen.sheets.constructions.stacks import Stack, stack_up
from tilegen.sheets.flat import Flat, FlatLayers, PlateLayer, Remark, at_origin, scores_of, scores_on
from tilegen.sheets.footprints import is_sliver
from tilegen.tiles.connectors.kind import kind_of
from tilegen.tiles.features import FEATURES
from tilegen.tiles.leaves.kind import BAR_MM, LeafFace, hung_face, leaf_of
from tilegen.tiles.loose import (
    LooseLeaf,
    LoosePost,
    Piece,
    PostStrip,
    SaddleDoor,
    SeamKey,
    Sill,
    saddle_feet,
    saddle_plates,
)
from tilegen.tiles.openings import has_thin_lintel
from tilegen.tiles.plate import Plate, Role
from tilegen.tiles.posts import peg_of, post_depth
from tilegen.tiles.tile import Tile, make_plates
from tilegen.tiles.uprights import holed, is_mixed
from tilegen.tiles.walls import Band, Joints

# The form of what is cut from a wall's skin.
SKIN = "skin"
FLOOR_ROLES: tuple[Role, ...] = ("base", *FEATURES)
# A foot that glue holds on a leg (common practice, no source).
_FOOT_HEIGHT_MM = 10.0
# A wall of this many layers can hold a leaf between its outer two.
_LAMINATED = 3
# Thinner stock than this is doubled for a leaf that is handled.
_STIFF_MM = 1.0
_JOINTS = {
    "butt": "Corners: the longer wall covers the shorter one's end; of two equal walls the north or south one does.",
    "pinwheel": "Corners: going round the tile, each wall covers the end of the next one.",
    "mitre": "Corners: mitred. At a right angle cut both ends to 45 degrees; lengths are those of the outer face.",
    "rabbet": (
        "Corners: lapped. On the walls that cover a corner, cut along the scores marked R down to the far paper "
        "({skin:g} mm) and peel the end strips off. Glue the next wall's end in: paper then covers the core's edge."
    ),
}


TOP_LAYER = Remark("top layer", "gluing")


@dataclass(frozen=True, slots=True)
class WallTab:
    """A tab on a wall's lower edge: from where to where along it, which floor takes it, its slot on the plan."""

    start: float
    end: float
    floor: str
    slot: Polygon


@dataclass
class LaidTile:
    """A tile or loose piece laid flat: its plates as built from the stock, their layers, what the builder must know.

    opened: doorways cut through to the top, as (lintel that would be left, where). tabs: by walls' outer
    faces, once known.
    """

    made: Tile | Piece
    plates: tuple[Plate, ...] = ()
    flats: tuple[FlatLayers, ...] = ()
    notes: list[Message] = field(default_factory=list)
    opened: list[tuple[float, str]] = field(default_factory=list)
    tabs: dict[Segment | None, tuple[WallTab, ...]] | None = None

    @property
    def called(self) -> str:
        """Its name and id, for messages."""
        return f"{self.made.name} ({self.made.id})"

    @property
    def off_grid(self) -> bool:
        """Whether it is a piece of a room off the grid: its walls may be slivers, or too thin for a box of card."""
        return isinstance(self.made, Tile) and self.made.shape.cut_out

    def covered(self, plate: Plate) -> list[Bounds]:
        """Boxes on a floor plate's top that something will stand on."""
        return [
            other.foot.bounds
            for other in sorted(self.plates, key=lambda other: other.role in FLOOR_ROLES)
            if other.role != "base" and other.bottom == plate.top
            if other.foot.area >= other.foot.envelope.area * (1 - 1e-3)
        ]


@dataclass(frozen=True)
class Construction(ABC):
    """How the tiles of one grid are built from one stock. base, wall: how thick they become. corners: as asked for.

    under: how bases are built and what is on floors, where these are of another material. skin: what is glued on both
    faces of walls; its two layers count among those of the wall.
    """

    grid: Grid
    base: Stack
    wall: Stack
    material: MaterialFile
    corners: CornersName = "pinwheel"
    under: Construction | None = None
    skin: MaterialFile | None = None

    word: ClassVar[str]
    takes_skin: ClassVar[bool] = False
    # Whether walls and bases go into each other.
    own_base: ClassVar[bool] = False
    # Whether bases have holes for the pegs of printed walls.
    takes_pegs: ClassVar[bool] = True

    @classmethod
    def of(
        cls,
        grid: Grid,
        material: MaterialFile,
        corners: CornersName,
        under: Construction | None = None,
        skin: MaterialFile | None = None,
    ) -> Self:
        """As thick as the stock allows. under, skin: as of the construction.

        Raises:
            InputError: the stock is too thick or thin, or does not go with this construction.
        """
        base, wall = cls.stacks_of(grid, material)
        if under and (cls.own_base or under.own_base):
            raise InputError(
                "walls with tabs need bases of their own board, which has the slots",
                cure="Give base and walls the same material, or use --construction stacked",
                place="walls",
            )
        if skin and not cls.takes_skin:
            raise InputError(
                f"{cls.word} walls can't have a skin",
                cure="Leave out the skin, or use --construction stacked",
                place="skin",
            )
        if skin:
            wall = skinned(wall, skin)
        made = cls(grid, under.base if under else base, wall, material, corners, under, skin)
        if made.band.inner * 2 >= grid.pitch:
            raise InputError(
                f"walls of {show_length(wall.thickness)} leave no room in spaces of {show_length(grid.pitch)}",
                cure=f"Use stock thinner than {show_length(material.real_thickness)}",
            )
        return made

    # What each does in its own way

    @classmethod
    @abstractmethod
    def stacks_of(cls, grid: Grid, material: MaterialFile) -> tuple[Stack, Stack]:
        """The layers of a base, and of a wall.

        Raises:
            InputError: the stock can't be built in this way.
        """

    @property
    @abstractmethod
    def band(self) -> Band:
        """Where the finished walls' faces stand."""

    @property
    @abstractmethod
    def joints(self) -> Joints:
        """How the walls meet."""

    @abstractmethod
    def lay_base(self, laid: LaidTile, base: Plate, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """The base of a tile with a plain floor. standing: what stands on it."""

    @abstractmethod
    def lay_bases(self, laid: LaidTile, bases: Sequence[Plate], sunk: Sequence[str]) -> Iterator[FlatLayers]:
        """What lies under the floor of a tile with features. sunk: the kinds of hollows in it."""

    @abstractmethod
    def lay_wall(self, laid: LaidTile, plate: Plate) -> Iterator[FlatLayers]:
        """A straight wall or a post."""

    @abstractmethod
    def lay_bent(self, plate: Plate) -> Iterator[FlatLayers]:
        """A wall with a bend."""

    @abstractmethod
    def lay_half_door(self, plate: Plate, inside: int, remark: Remark) -> Iterator[FlatLayers]:
        """One of the two leaves of a saddle door. inside: how many of its layers make room for a sliding leaf."""

    @abstractmethod
    def base_notes(self) -> Iterator[Message]:
        """How thick bases become, in words."""

    @abstractmethod
    def wall_notes(self) -> Iterator[Message]:
        """How thick walls become, in words."""

    @abstractmethod
    def base_words(self, layers: int) -> str:
        """How a base of this construction is put together, in words."""

    # What is the same for all, unless a construction says otherwise

    @property
    def floor(self) -> Construction:
        """How bases are built, and what is on floors."""
        return self.under or self

    def base_step(self, layers: int) -> str:
        """How a base is put together, in words."""
        return self.floor.base_words(layers)

    @property
    def sheet(self) -> float:
        """The stock's real thickness, mm."""
        return self.material.real_thickness

    def walls_step(self) -> str:
        """What is done with all walls before the first is glued, in words; nothing where each goes by itself."""
        return ""

    @property
    def floor_lost(self) -> float:
        """How far a wall's inner face stands inside of where the grid puts it, mm."""
        return max(0.0, self.band.inner - self.grid.wall_thickness)

    @property
    def pocket_layers(self) -> int:
        """How many layers of a base, from the bottom, have connectors cut out; 0 where cutting can't make them."""
        return 0

    def pocket_notes(self) -> Iterator[Message]:
        """What cutting alone can't make of connectors, and how to make it."""
        if self.grid.connectors.holds:
            kind = self.grid.connectors.kind
            yield Message(
                "decide",
                f"{self.word.capitalize()} tiles cannot carry {kind}.",
                cure="Choose another construction, print the tiles, or glue them on a printed base.",
            )

    def joint_notes(self) -> Iterator[Message]:
        """How corners are joined, in words."""
        yield Message("note", _JOINTS[self.joints.corners].format(skin=self.material.skin))
        if self.corners == "rabbet" and self.joints.corners != "rabbet":
            yield Message("decide", "Corners are not lapped: that needs walls of one layer, of stock with a skin.")

    def notes(self) -> tuple[Message, ...]:
        """What the builder should know about thicknesses, joints and folds."""
        if self.grid.set.mixed:
            return tuple(self.floor.base_notes())
        return (*self.floor.base_notes(), *self.wall_notes(), *self.joint_notes(), *self._meeting_notes())

    def _meeting_notes(self) -> Iterator[Message]:
        """Which glue joins two materials, in words."""
        if self.under and self.under.material.glue != self.material.glue:
            said = [f"{m.name}: {m.glue}" for m in (self.under.material, self.material) if m.glue]
            yield Message("note", f"Glue walls to bases with a glue that suits both materials. {'. '.join(said)}.")

    def lay(self, made: Tile | Piece) -> LaidTile:
        """Every layer of every plate of a tile or a loose piece.

        Raises:
            InputError: it can't be made of this stock.
        """
        laid = LaidTile(made)
        if isinstance(made, Piece):
            laid.flats = tuple(self._piece(laid, made))
        else:
            laid.flats = tuple(self._tile(laid, made))
        return laid

    def _check_room(self, tile: Tile) -> None:
        """Refuse a square that is narrower than the walls on its opposite sides."""
        shape = tile.shape
        for (column, row), cell in shape.cells:
            for spaces, sides in ((shape.widths[column], (1, 3)), (shape.heights[row], (0, 2))):
                wide, walls = spaces * tile.grid.pitch, sum(cell.sides[side].carries for side in sides)
                if walls * self.band.inner >= wide - EQUAL_MM:
                    thick = show_length(self.wall.thickness)
                    raise InputError(
                        f"walls of {thick} leave no room on a floor {show_length(wide)} wide",
                        cure="Use thinner stock, or a larger tile",
                    )

    def check_pegs(self, grid: Grid) -> None:
        """Refuse bases that can't take the pegs of printed walls."""
        peg = peg_of(grid)
        if peg is not None and (not self.takes_pegs or self.base.thickness < peg.length):
            thick = show_length(self.base.thickness)
            raise InputError(
                f"a {self.word} base of {self.material.name}, {thick} thick, can't take the pegs of printed walls",
                cure='Choose other sheets or --construction stacked, or use base = "full"',
                place="[set] base",
            )

    def _tile(self, laid: LaidTile, tile: Tile) -> Iterator[FlatLayers]:
        shape = tile.shape
        self._check_room(tile)
        if is_mixed(tile):
            self.floor.check_pegs(tile.grid)
            laid.plates = holed(tile)
        else:
            laid.plates = tuple(make_plates(shape, tile.grid, self.band, self.joints, tile.ground))
        base, *standing = laid.plates
        laid.notes += self.floor.pocket_notes()
        if shape.furnished:
            yield from self.floor.lay_bases(laid, [plate for plate in laid.plates if plate.role == "base"], shape.sunk)
            for plate in standing:
                if plate.role in FEATURES:
                    yield from self.floor.lay_feature(laid, plate)
            standing = [plate for plate in standing if plate.role not in FLOOR_ROLES]
        else:
            yield from self.floor.lay_base(laid, base, standing)
        bent = [self._openable(laid, plate) for plate in standing if plate.bend is not None]
        straight = [self._openable(laid, plate) for plate in standing if plate.bend is None]
        yield from self.lay_straight(laid, straight)
        for plate in bent:
            yield from self.lay_bent(plate)

    def _openable(self, laid: LaidTile, plate: Plate) -> Plate:
        """The plate with its doorways cut through to the top where their lintels would be too thin."""
        thin = [o for o in plate.openings if has_thin_lintel(o, plate.height, self.material.least_lintel)]
        if not thin:
            return plate
        lintel = min(plate.height - o.height for o in thin)
        laid.opened.append((round(lintel, 2), f"{plate.name} of {laid.made.name}"))
        opened = (replace(o, height=plate.height) if o in thin else o for o in plate.openings)
        return replace(plate, openings=tuple(opened))

    def lay_straight(self, laid: LaidTile, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """Walls and posts without a bend."""
        for plate in standing:
            if laid.off_grid and is_sliver(plate):
                where = f"{plate.name.capitalize()} of {laid.called}"
                laid.notes.append(
                    Message("note", f"{where} is too narrow to cut and left out: fill the gap with putty.")
                )
            else:
                yield from self.lay_wall(laid, plate)

    def lay_feature(self, laid: LaidTile, plate: Plate) -> Iterator[FlatLayers]:
        """What stands on a floor: layers, or strips side by side where it stands upright and these are fewer."""
        sheet, glue = self.sheet, self.material.glue_line
        lying = Stack(max(1, self.layers_to(plate.top) - self.layers_to(plate.bottom)), sheet, glue, plate.height)
        kind = FEATURES[plate.role]
        if plate.edge is not None:
            upright = stack_up(plate.thickness, sheet, glue)
            if upright.layers <= lying.layers:
                self.tell_stack(laid, f"{kind.several} of strips side by side", upright)
                west, south, east, _ = plate.foot.bounds
                # Its corners in this order: parts that are alike keep their ids.
                strip = Polygon(
                    [(west, south), (east, south), (east, south + plate.height), (west, south + plate.height)]
                )
                flat = at_origin(strip, shown=upright.layers == 1)
                yield self._layers(plate, flat, upright.layers, (Remark("glue side by side, stand upright", "gluing"),))
                return
        self.tell_stack(laid, kind.layered, lying)
        scores = scores_on(plate, "top")
        if lying.layers > 1 and scores:
            yield self._layers(plate, at_origin(plate.foot), lying.layers - 1)
            yield self._layers(plate, at_origin(plate.foot, scores, shown=True), 1, (TOP_LAYER,))
        else:
            yield self._layers(plate, at_origin(plate.foot, scores, shown=True), lying.layers)

    def layers_to(self, z: float) -> int:
        """Layers of sheet from the underside up to a height, so that a stair ends at the floor it leads to."""
        return stack_up(z, self.sheet, self.material.glue_line).layers if z > 0 else 0

    def tell_stack(self, laid: LaidTile, what: str, stack: Stack) -> None:
        """Add a word on how something is stacked, and what makes up for what it lacks."""
        card = self.material.stack.shim
        shims = stack.shims(card)
        shim = f" Level it with {counted(shims, 'layer')} of {card:g} mm card." if shims else ""
        laid.notes.append(Message("note", f"{what.capitalize()}: {stack.words}.{shim}"))

    # Loose pieces

    def _piece(self, laid: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        ways: dict[type[Piece], Callable[[LaidTile, Piece], Iterator[FlatLayers]]] = {
            SaddleDoor: self._door,
            Sill: self._sill,
            LoosePost: self._post,
            LooseLeaf: self._leaf,
            PostStrip: self._strip,
            SeamKey: self.floor._key,
        }
        return ways[type(piece)](laid, piece)

    def _sill(self, laid: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        """As a base is made, as high as the floor beside it."""
        (plate,) = laid.plates = piece.plates
        if plate.top == self.grid.base_depth:
            yield from self.floor.lay_base(laid, plate, ())
        else:
            yield from self.floor.lay_bases(laid, [plate], ())

    def _post(self, laid: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        """As the post of a tile is made; a pin holds it where a printed one has its peg."""
        deep, thick, high = post_depth(piece.grid), self.wall.thickness, piece.grid.wall_height
        plate = Plate("post", "post", box(0.0, 0.0, deep, thick), 0.0, high, ((0.0, thick), (deep, thick)))
        laid.plates = (plate,)
        words = f"{laid.called} has no peg: push a pin halfway into its foot, or stick it on the floor with putty."
        laid.notes.append(Message("note", words))
        yield from self.lay_wall(laid, plate)

    def slotted_layers(self, plate: Plate) -> int:
        """How many layers inside a wall make room for its leaf; 0 where the wall has too few or no such leaf."""
        slides = any(leaf_of(o.leaf).slides for o in plate.openings)
        core = self.wall.layers - self.skins
        return core - 2 if slides and core >= _LAMINATED else 0

    @property
    def skins(self) -> int:
        """How many of a wall's layers are its skin."""
        return 2 if self.skin else 0

    def faced(self, layers: FlatLayers, faces: int) -> Iterator[FlatLayers]:
        """Alike layers of a wall, so many of which are its faces: these are cut from the skin, where there is one."""
        if self.skin is None:
            yield layers
            return
        yield replace(layers, thickness=self.skin.real_thickness, layers=faces, form=SKIN)
        if layers.layers > faces:
            yield replace(layers, layers=layers.layers - faces, layer="between")

    def slotted_face(self, plate: Plate) -> Polygon | MultiPolygon:
        """The face of such an inner layer: cut out to the top, as far past the jambs as the grooves are deep."""
        face = plate.face()
        for opening in plate.openings:
            if leaf_of(opening.leaf).slides:
                reach = opening.width / 2 + self.grid.door.groove_depth
                face = polygonal(face.difference(box(opening.centre - reach, -1.0, opening.centre + reach, plate.top)))
        return face

    def _door(self, laid: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        # The posts beside it are of the same stock: where they are thicker than the wall, the door is shorter.
        grid = replace(piece.grid, wall_thickness=self.band.inner)
        laid.plates = plates = saddle_plates(grid, piece.side, piece.opening, self.wall.thickness)
        thin = has_thin_lintel(piece.opening, piece.grid.wall_height, self.material.least_lintel)
        if thin:
            strip = show_length(grid.wall_height - piece.opening.height)
            words = f"{laid.called} keeps the {strip} strip over its doorway, as its two halves are glued together."
            laid.notes.append(Message("note", f"{words} Hold it by its legs."))
        remark = Remark("glue the leaves back to back" + ("; thin lintel kept" if thin else ""), "gluing")
        for plate in plates:
            # The leaf slides inside the first of the two.
            yield from self.lay_half_door(plate, self.slotted_layers(plate) if plate is plates[0] else 0, remark)
        yield from self._feet(laid)

    def _feet(self, laid: LaidTile) -> Iterator[FlatLayers]:
        """Strips on both faces of a saddle door's legs, where it would tip at less than 15 degrees without."""
        height = laid.plates[0].height
        lacks = (stable_foot(height) - 2 * self.wall.thickness) / 2
        if lacks < EQUAL_MM:
            return
        layers = math.ceil(lacks / self.sheet - EQUAL_MM)
        reach = layers * self.sheet + (layers - 1) * self.material.glue_line
        high = min(height, max(_FOOT_HEIGHT_MM, self.material.least_strip))
        feet = tuple(saddle_feet(laid.plates, reach, high))
        laid.plates += feet
        for foot in feet:
            west, _, east, _ = foot.foot.bounds
            face = at_origin(box(0.0, 0.0, east - west, high))
            about = (Remark("glue to a leg, flush below", "gluing"),)
            yield FlatLayers("door", foot.name, face, self.sheet, layers, about, "foot")

    def _strip(self, _: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        """Both posts of stock less one: its thickness and the play (derived)."""
        grid = piece.grid
        layers = max(1, round((self.wall.thickness + grid.joint_play) / self.sheet))
        strip = at_origin(box(0.0, 0.0, grid.wall_thickness, grid.wall_height), shown=layers == 1)
        yield FlatLayers("door", "strip", strip, self.sheet, layers, (Remark("stands where a post is missing"),))

    def _leaf(self, laid: LaidTile, piece: Piece) -> Iterator[FlatLayers]:
        grid, opening = piece.grid, piece.opening
        inner = self.wall.layers - 2 if self.wall.layers >= _LAMINATED else 0
        kind, bar = leaf_of(opening.leaf), max(BAR_MM, self.material.least_strip)
        if kind.of_wall:
            yield from self._of_wall(kind.face(opening, grid, bar), grid.door.groove_depth, inner)
            return
        if kind.slides and inner:
            foot, marks = kind.face(opening, grid, bar)
            layers = inner
            words = "slides between the wall's outer layers: rub its faces with a candle or sand them a little"
        else:
            foot, marks = hung_face(opening, grid, bar)
            layers = 1 if self.sheet >= _STIFF_MM else 2
            words = "hang it by a strip of tape or paper along its left edge, on the inside of the wall"
            if kind.slides:
                told = (
                    f"{laid.called} hangs on a strip of tape: walls of less than {_LAMINATED} layers have no grooves."
                )
                cure = "Print the doors and their tiles, or choose thinner stock."
                laid.notes.append(Message("decide", told, cure=cure))
        if opening.style in ("bars", "portcullis") and not foot.interiors:
            words = (
                f"{laid.called} is cut plain: {self.material.name} needs bars {bar:g} mm wide, so no holes are left."
            )
            cure = "Draw the bars on, make the doorway wider, or choose thinner stock."
            laid.notes.append(Message("decide", words, cure=cure))
        yield from self._outermost(foot, scores_of(marks), layers, Remark(words, "hanging"))

    def _outermost(self, foot: Polygon, scores: Sequence[Segment], layers: int, remark: Remark) -> Iterator[FlatLayers]:
        """Layers of a leaf, both of whose faces show: those with lines outside, so that the glued faces are plain."""
        sides = min(2, layers) if scores else 0
        if layers > sides:
            plain = at_origin(foot, shown=layers == 1)
            yield self._leaf_layers(plain, layers - sides, remark, "between" if sides else "alike")
        if sides:
            yield self._leaf_layers(at_origin(foot, scores, shown=True), sides, remark, "scored")

    def _of_wall(self, face: LeafFace, reach: float, inner: int) -> Iterator[FlatLayers]:
        """A piece of wall; inner: layers between its outer two that reach into the wall's grooves."""
        words = "a piece of wall that lifts out"
        plain, marks = face
        _, _, width, height = plain.bounds
        outer, scores = self.wall.layers - inner, scores_of(marks)
        faces = 2
        if scores:
            flat = at_origin(plain, scores, shown=True)
            yield from self.faced(
                self._leaf_layers(flat, 1, Remark(f"{words}; scored like the wall beside it"), "scored"), 1
            )
            outer, faces = outer - 1, 1
        if outer:
            flat = at_origin(plain, shown=not scores and outer == 1)
            yield from self.faced(self._leaf_layers(flat, outer, Remark(words), "outer" if scores else "alike"), faces)
        if inner:
            wide = at_origin(box(0.0, 0.0, width + 2 * reach, height))
            yield self._leaf_layers(wide, inner, Remark("inner layers of a wall that lifts out"), "between")

    def _key(self, _: LaidTile, key: Piece) -> Iterator[FlatLayers]:
        """A key of as many layers as its pockets go through; none where it must be printed."""
        layers = self.pocket_layers if kind_of(self.grid).loose else 0
        if layers:
            care = Remark("cut with care: the pockets leave it the play that the seams need")
            remarks = (care,) if layers == 1 else (Remark("glue in pairs", "gluing"), care)
            yield FlatLayers("key", "key", at_origin(key.plates[0].foot), self.sheet, layers, remarks)

    def _layers(self, plate: Plate, flat: Flat, layers: int, remarks: tuple[Remark, ...] = ()) -> FlatLayers:
        return FlatLayers(plate.role, plate.name, flat, self.sheet, layers, remarks)

    def _leaf_layers(self, flat: Flat, layers: int, remark: Remark, layer: PlateLayer) -> FlatLayers:
        return FlatLayers("door", "leaf", flat, self.sheet, layers, (remark,), layer=layer)


def skinned(wall: Stack, skin: MaterialFile) -> Stack:
    """A wall with a skin on both faces and as many layers between as come nearest to what it ought to measure.

    Raises:
        InputError: the skins leave less than half a sheet for what is between.

    >>> from tilegen.files.stock import read_material
    >>> skinned(stack_up(6.2, 2.0, 0.0), read_material("card")).sheets
    (0.5, 2.0, 2.0, 2.0, 0.5)
    """
    thick = skin.real_thickness
    left = wall.target - 2 * (thick + wall.glue_line)
    if left < wall.sheet / 2:
        raise InputError(
            f"skins of {show_length(thick)} leave {show_length(max(0.0, left))} of the wall, and the sheets between "
            f"them are {show_length(wall.sheet)} thick",
            cure="Use a thinner skin, thinner sheets or thicker walls (--wall)",
            place="skin",
        )
    core = stack_up(left, wall.sheet, wall.glue_line)
    return replace(core, layers=core.layers + 2, target=wall.target, mixed=(thick, *core.sheets, thick))


def stable_foot(height: float) -> float:
    """The least depth of a free-standing piece that does not tip at 15 degrees, mm: h tan 15 (derived).

    >>> round(stable_foot(25), 1)
    6.7
    """
    return height * math.tan(math.radians(15))
