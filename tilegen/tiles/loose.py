"""Loose pieces: saddle doors over seams, leaves of doorways, strips beside saddles; keys: see `connectors/keys.py`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import fsum
from typing import ClassVar

from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.lengths import show_length
from tilegen.model.grid import LEAVES, Grid
from tilegen.tiles.connectors.keys import key_shape
from tilegen.tiles.dressing import faced
from tilegen.tiles.identity import parts_of_plates, poses_of, short_id
from tilegen.tiles.leaves.kind import leaf_of, leaf_plates
from tilegen.tiles.plate import Opening, Plate
from tilegen.tiles.posts import post_plates
from tilegen.tiles.safety import is_small_part
from tilegen.tiles.tile import Tile

# Free space at each end between the door piece and the posts beside it, mm (0.3 to 0.5: common practice, no source).
END_CLEARANCE_MM = 0.3
# A piece this much deeper than high, as a share, stands at a tilt of 15 degrees: tan 15 (derived).
_STABLE = 0.268
_FOOT_MM = 2.0
_NO_OPENING = Opening(0.0, 0.0, 0.0)
# A plan has the same few pieces in many places; of each its id is worked out once.
_KEPT = 256


@dataclass(frozen=True)
class Piece:
    """A loose piece: its plates as printed, standing on z = 0. Each kind is a class.

    side: nominal length of the side it stands in. kind: its word. over_seam: whether it is two halves back to back,
    which stand on two tiles. laid: whether a plan shows it in its place. hung: whether it belongs into a doorway.
    on_table: whether it stands on the table, beside the tiles, not on a floor. upside_down: whether it is printed so.
    try_it: where to try it dry.
    """

    kind: ClassVar[str] = ""
    over_seam: ClassVar[bool] = False
    laid: ClassVar[bool] = False
    hung: ClassVar[bool] = False
    on_table: ClassVar[bool] = False
    upside_down: ClassVar[bool] = False
    try_it: ClassVar[str] = "in its place"

    name: str
    grid: Grid
    plates: tuple[Plate, ...]
    side: float
    opening: Opening

    @cached_property
    def id(self) -> str:
        """Short, from the geometry alone."""
        return short_id(poses_of(parts_of_plates(self.plates)))

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - what a kind may ask for
        """Its plates on a grid with other clearances or heights, for its opening at another height."""
        return self.plates

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return fsum(plate.volume for plate in self.plates)


# What is to be made: tiles and loose pieces, and how many of each.
Things = Sequence[tuple[Tile | Piece, int]]


class SaddleDoor(Piece):
    """A door over a seam."""

    kind, over_seam, laid, try_it = "saddle", True, True, "over a seam, between its posts"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:
        """The same door on another grid."""
        return make_saddle_door(self.name, grid, self.side, opening).plates


@lru_cache(maxsize=_KEPT)
def make_saddle_door(name: str, grid: Grid, side: float, opening: Opening) -> SaddleDoor:
    """The door piece between the posts of a saddle side of `side` mm: one wall plate for each of the two tiles."""
    plates = saddle_plates(grid, side, opening, grid.wall_thickness)
    mark = leaf_of(opening.leaf).seam_mark
    if mark:
        plates = tuple(replace(p, marks=(mark(p, p.openings[0], grid),)) for p in plates)
    reach = (_STABLE * grid.wall_height - 2 * grid.wall_thickness) / 2
    feet = saddle_feet(plates, reach, _FOOT_MM) if reach > 0 else ()
    return SaddleDoor(name, grid, (*feet, *faced(plates, grid)), side, opening)


def saddle_feet(plates: tuple[Plate, ...], reach: float, height: float) -> Iterator[Plate]:
    """A foot on both sides of each leg of a saddle door, so far out of its face and so high, mm."""
    _, north = plates
    (opening,), deep = north.openings, max(y for _, y in north.edge or ())
    legs = ("west", 0.0, opening.centre - opening.width / 2), ("east", opening.centre + opening.width / 2, north.length)
    for leg, west, east in legs:
        for side, south_edge, north_edge in (("south", -reach, 0.0), ("north", deep, deep + reach)):
            yield Plate(f"foot {leg} {side}", "door", box(west, south_edge, east, north_edge), 0.0, height)


def is_foot(plate: Plate) -> bool:
    """Whether it is one of `saddle_feet`."""
    return plate.name.startswith("foot ")


def leaf_name(opening: Opening) -> str:
    """How a leaf is called: its kind, after its look where that makes another leaf of it."""
    plain = leaf_of(opening.leaf).of_wall or opening.style == "planks"
    return f"{opening.leaf}-leaf" if plain else f"{opening.style}-{opening.leaf}-leaf"


class LooseLeaf(Piece):
    """The leaf of an opening."""

    kind, hung, try_it = "leaf", True, "in its doorway"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:
        """The same leaf on another grid."""
        return leaf_plates(opening, grid)


@lru_cache(maxsize=_KEPT)
def make_leaf(name: str, grid: Grid, side: float, opening: Opening) -> LooseLeaf:
    """The leaf of an opening, as a loose piece."""
    return LooseLeaf(name, grid, leaf_plates(opening, grid), side, opening)


def leaves_of(tile: Tile) -> list[tuple[Piece, int]]:
    """The leaves of one tile's doorways, with how many of each."""
    found: dict[str, tuple[Piece, int]] = {}
    for plate in tile.plates:
        for opening in plate.openings:
            if opening.leaf in LEAVES:
                leaf = make_leaf(leaf_name(opening), tile.grid, plate.length, opening)
                found[leaf.id] = (leaf, found.get(leaf.id, (leaf, 0))[1] + 1)
    several = len(found) > 1
    return [(replace(p, name=f"{p.name}-{p.id.lower()}") if several else p, n) for p, n in found.values()]


class PostStrip(Piece):
    """What stands in for a post beside a saddle door."""

    kind = "shim"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:
        """The same strip on another grid."""
        return make_shim(self.name, grid, self.side, opening).plates


def make_shim(name: str, grid: Grid, side: float, opening: Opening) -> PostStrip:
    """The strip that stands in for a missing post beside a saddle door.

    As thick as both posts less one: w + u / 2 in print (derived from the play being taken off each outer face).
    """
    foot = box(0.0, 0.0, grid.wall_thickness, grid.wall_thickness + grid.half_play)
    plate = Plate("shim", "door", foot, 0.0, grid.wall_height)
    return PostStrip(name, grid, (plate,), side, replace(opening, leaf="none"))


def saddle_plates(grid: Grid, side: float, opening: Opening, thickness: float) -> tuple[Plate, ...]:
    """Two plates back to back, each `thickness` thick, both with the opening; the south one first."""
    length = side - 2 * (grid.wall_thickness + END_CLEARANCE_MM)
    shift = grid.wall_thickness + END_CLEARANCE_MM
    if opening.width >= length:
        raise InputError(
            f"an opening {show_length(opening.width)} wide leaves no legs on a door piece {show_length(length)} wide",
            cure="Make the opening narrower",
        )
    here = replace(opening, centre=opening.centre - shift)
    there = replace(opening, centre=length - (opening.centre - shift))
    height = grid.wall_height
    south = Plate("leaf south", "door", box(0, 0, length, thickness), 0, height, ((length, 0), (0, 0)), (there,))
    top = 2 * thickness
    north = Plate("leaf north", "door", box(0, thickness, length, top), 0, height, ((0, top), (length, top)), (here,))
    return south, north


SILL_NAME = "door-sill"
POST_NAME = "loose-post"


class Sill(Piece):
    """A bar as high as a tile's floor, beside the tile: a door piece at the edge of the map stands on both."""

    kind, laid, on_table, try_it = "sill", True, True, "in front of a tile's edge, under a door piece"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - it has no opening
        """The sill of a grid with other heights."""
        return make_sill(grid, self.side).plates


@lru_cache(maxsize=_KEPT)
def make_sill(grid: Grid, side: float) -> Sill:
    """A sill, as long as a door piece of that side and as deep as it; its north-west corner meets the seam."""
    length, deep = side - 2 * (grid.wall_thickness + END_CLEARANCE_MM), 2 * grid.wall_thickness
    plate = Plate("sill", "base", box(0.0, 0.0, length, deep - grid.half_play), 0.0, grid.base_depth)
    return Sill(SILL_NAME, grid, faced((plate,), grid), side, _NO_OPENING)


class LoosePost(Piece):
    """A post for the corner of a tile."""

    kind, laid, upside_down, try_it = "post", True, True, "in the corner of a tile"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - it has no opening
        """The post of a grid with other heights."""
        return post_plates(grid)


@lru_cache(maxsize=_KEPT)
def make_post(grid: Grid) -> LoosePost:
    """The loose post of a grid."""
    return LoosePost(POST_NAME, grid, faced(post_plates(grid), grid), grid.wall_thickness, _NO_OPENING)


KEY_NAME = "seam-key"


class SeamKey(Piece):
    """A key: one lying plate, alike from both sides and either way round."""

    kind, try_it = "key", "in a pocket of two tiles"

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - it stands in no opening
        """The key of a grid with other clearances."""
        return make_key(grid).plates


def make_key(grid: Grid) -> SeamKey:
    """The key of a grid whose connectors are keys; the middle of its seam is its origin."""
    made = grid.connectors
    plate = Plate("key", "key", key_shape(grid), 0.0, made.key_thickness)
    return SeamKey(KEY_NAME, grid, (plate,), made.key_length, _NO_OPENING)


# Those of plans, in the order of lists.
PIECES: tuple[type[Piece], ...] = (SaddleDoor, Sill, LoosePost, LooseLeaf, PostStrip)


def piece_cautions(pieces: Sequence[Piece]) -> tuple[str, ...]:
    """Which loose pieces are small parts, by the box of what they cover and their height."""
    small = []
    for piece in pieces:
        bounds = [plate.foot.bounds for plate in piece.plates]
        wide = max(b[2] for b in bounds) - min(b[0] for b in bounds)
        deep = max(b[3] for b in bounds) - min(b[1] for b in bounds)
        if is_small_part((wide, deep, max(plate.top for plate in piece.plates))):
            small.append(piece.name)
    if not small:
        return ()
    names = ", ".join(dict.fromkeys(small))
    return (f"Small enough to choke on (small parts by 16 CFR 1501): {names}. Store them out of children's reach.",)
