"""One feature on its floor: which boxes it is made of, cell by cell, and what can't be made.

Plan coordinates as in `features`: mm, x to the east, y to the south; boxes are (west, north, east, south).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import CellRef, InFile, InputError, KeyRef, Said, as_phrase
from tilegen.geometry import CRUMB_MM2, EQUAL_MM, polygons_of
from tilegen.lengths import show_length, show_number
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features import FEATURE_KEYS
from tilegen.tiles.features.kind import LEAST_MM, Wanted

Box = tuple[float, float, float, float]
Cell = tuple[int, int]
# The least a feature stands off what it does not touch, mm (common practice, no source).
LEAST_GAP_MM = 0.5
# What is nearer than this is meant to touch.
_FLUSH_MM = 1e-4
# So near to a wall's face or a cell's edge, a measure in few digits is meant to lie on it (1/1000 space is 0.03 mm).
_MEANT_MM = 0.05


@dataclass(frozen=True, slots=True)
class Spot:
    """What one cell has of a feature: where, and its blocks about the cell's centre."""

    area: BaseGeometry
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class FreeFloor:
    """What a feature may lie on.

    grid: with the room's own base depth and wall height. whole: the cells' rectangle. clear: what each cell's walls
    leave free; standing: its walls and posts. side: of a cell, from west to east and from north to south. floors: of
    cells off the grid, what of `clear` is free floor.
    """

    grid: Grid
    whole: Box
    clear: Mapping[Cell, Box]
    standing: Mapping[Cell, Sequence[BaseGeometry]]
    side: tuple[float, float]
    floors: Mapping[Cell, BaseGeometry] = field(default_factory=dict)


def blocks_on(wanted: Wanted, ground: FreeFloor, *, rise: float | None = None) -> Iterator[tuple[Cell, Spot]]:
    """What each cell has of a feature. rise: to the floor beyond a stair.

    Raises:
        InputError: without a place: it is off the floor, under a wall, or can't be made.
    """
    check_words(wanted)
    grid, whole, clear, side = ground.grid, ground.whole, ground.clear, ground.side
    if wanted.fills:
        bounds = _union(clear.values())
        limits = clear
    else:
        bounds = _settled(bounds_of(wanted, grid, whole), clear.values(), round_=wanted.round)
        limits = {cell: _cell_box(cell, side) for cell in clear}
    west, north, east, south = bounds
    layers = list(wanted.kind.layers(wanted, (west, -south, east, -north), grid, rise))
    shares = {cell: _common(bounds, limits[cell]) for cell in clear}
    kept = {cell: share for cell, share in shares.items() if share is not None}
    if wanted.kind.one_cell and len(kept) > 1:
        raise InputError(
            f"this {wanted.kind.word} lies over a line between squares, where a seam may run",
            cure="Move it into one square, or make two of it",
        )
    for cell, share in kept.items():
        _check_size(share, cell)
        area: BaseGeometry = box(*share)
        middle = _cell_box(cell, side)
        blocks = [block for layer in layers if (block := _share(layer, share, middle)) is not None]
        if limits is not clear:
            _check_free(area, ground.standing[cell], cell)
        elif cell in ground.floors:
            area = ground.floors[cell]
            parts = (_common(_on_plan(layer), share) for layer in layers)
            _check_wide((area.intersection(box(*part)) for part in parts if part is not None), cell)
        yield cell, Spot(area, tuple(blocks))


def strips_and_posts(whole: Box, wall: float, carried: Sequence[bool], posts: Sequence[bool]) -> list[Polygon]:
    """What stands on a cell: strips along its sides (north, east, south, west), posts in its corners from the NE on."""
    west, north, east, south = whole
    strips = (
        (west, north, east, north + wall),
        (east - wall, north, east, south),
        (west, south - wall, east, south),
        (west, north, west + wall, south),
    )
    corners = ((east - wall, north), (east - wall, south - wall), (west, south - wall), (west, north))
    found = [box(*strip) for strip, stands in zip(strips, carried, strict=True) if stands]
    return found + [box(x, y, x + wall, y + wall) for (x, y), stands in zip(corners, posts, strict=True) if stands]


def check_words(wanted: Wanted) -> None:
    """Refuse keys that do not go with a feature's kind, or with one another.

    Raises:
        InputError: without a place.
    """
    kind = wanted.kind
    for key in wanted.values:
        if key not in kind.takes:
            takes = ", ".join("{}" for _ in kind.takes)
            raise InputError(
                Said("{} does not go with {}", KeyRef(key), kind.one),
                cure=Said(f"Delete it. {kind.one.capitalize()} takes {takes}", *map(KeyRef, kind.takes)),
            )
    for key in kind.needs:
        if key not in wanted.values:
            raise InputError(
                Said("{} needs the key {}", kind.one, KeyRef(key)),
                cure=f"Add it: {as_phrase(FEATURE_KEYS[key].says[:-1])}",
            )
    if wanted.at is not None and wanted.size is None and kind.usual_size is None:
        text = Said("{} is given without {}", KeyRef("at"), KeyRef("size"))
        raise InputError(text, cure="Give both, or neither to fill the floor between the walls")
    if wanted.round and wanted.size is not None and abs(wanted.size[0] - wanted.size[1]) > EQUAL_MM:
        raise InputError(
            f"a round {kind.word} can't be {show_number(wanted.size[0])} x {show_length(wanted.size[1])}",
            cure="Give one size for both ways",
        )


def bounds_of(wanted: Wanted, grid: Grid, whole: Box) -> Box:
    """Where a feature with a size lies. whole: its cells.

    Raises:
        InputError: smaller than can be made, or beyond its cells.
    """
    check_words(wanted)
    usual = wanted.kind.usual_size
    width, depth = wanted.size or (0.0 if usual is None else usual(grid),) * 2
    for size in (width, depth):
        if not LEAST_MM <= size <= 10_000:
            raise InputError(
                f"{wanted.kind.one} can't be {show_length(size)} across",
                cure=f"Use at least {show_length(LEAST_MM)} and at most 10 m",
            )
    west, north, east, south = whole
    x, y = (west + east) / 2, (north + south) / 2
    if wanted.at is not None:
        x, y = west + wanted.at[0] * grid.pitch, north + wanted.at[1] * grid.pitch
    bounds = x - width / 2, y - depth / 2, x + width / 2, y + depth / 2
    bounds = _settled(bounds, [whole], round_=wanted.round)
    _check_inside(bounds, whole)
    return bounds


def _settled(bounds: Box, clear: Iterable[Box], *, round_: bool) -> Box:
    """Edges that nearly lie on a wall's face or a cell's edge moved onto it; what is round keeps its size."""
    moved = list(bounds)
    for edge, faces in enumerate(zip(*clear, strict=True)):
        nearest = min(faces, key=lambda face: abs(face - bounds[edge]))
        if abs(nearest - bounds[edge]) <= _MEANT_MM:
            moved[edge] = nearest
    if round_:
        x, y = (moved[k] - bounds[k] or moved[k + 2] - bounds[k + 2] for k in (0, 1))
        moved = [bounds[0] + x, bounds[1] + y, bounds[2] + x, bounds[3] + y]
    west, north, east, south = moved
    return west, north, east, south


def _check_inside(bounds: Box, whole: Box) -> None:
    west, north, east, south = bounds
    over = max(whole[0] - west, whole[1] - north, east - whole[2], south - whole[3])
    if over > EQUAL_MM:
        raise InputError(
            f"this feature reaches {show_length(over)} beyond its squares",
            cure=Said(
                "Make it smaller, move it, or let it cover more squares{}",
                InFile(": to = [column, row] is its last one"),
            ),
        )


def _check_size(share: Box, cell: Cell) -> None:
    width, depth = share[2] - share[0], share[3] - share[1]
    if min(width, depth) < LEAST_MM - EQUAL_MM:
        raise InputError(
            Said(
                "only {} of this feature lies on {}, too little to make", show_length(min(width, depth)), _called(cell)
            ),
            cure="Move its edge to the line between the squares",
        )


def _check_wide(parts: Iterable[BaseGeometry], cell: Cell) -> None:
    """Refuse what the walls leave of a layer that fills the floor if a part of it is a sliver."""
    for part in (polygon for geometry in parts for polygon in polygons_of(geometry, CRUMB_MM2)):
        if part.buffer(EQUAL_MM - LEAST_MM / 2).is_empty:
            raise InputError(
                Said(
                    "this feature would be less than {} wide beside a wall of {}", show_length(LEAST_MM), _called(cell)
                ),
                cure=Said("Give it {} and {}, so that it lies clear of that wall", KeyRef("at"), KeyRef("size")),
            )


def _check_free(area: BaseGeometry, standing: Sequence[BaseGeometry], cell: Cell) -> None:
    for wall in standing:
        common = area.intersection(wall)
        if common.area > EQUAL_MM:
            x0, y0, x1, y1 = common.bounds
            raise InputError(
                Said(
                    "this feature reaches {} under a wall or post of {}",
                    show_length(min(x1 - x0, y1 - y0)),
                    _called(cell),
                ),
                cure="Make it smaller or move it",
            )


def check_apart(spots: Sequence[tuple[Spot, Wanted]], standing: Sequence[BaseGeometry]) -> None:
    """Refuse features of one cell that lie over one another, or too near to something to be made.

    Raises:
        InputError: with the place of the later one.
    """
    for number, (spot, wanted) in enumerate(spots):
        others = [
            (other.area, Said("the {} of {}", before.kind.word, before.place)) for other, before in spots[:number]
        ]
        for area, words in (*others, *((wall, Said("a wall or post")) for wall in standing)):
            common = spot.area.intersection(area)
            if common.area > EQUAL_MM and words.startswith("the "):
                raise InputError(
                    Said("this {} lies over {}", wanted.kind.word, words),
                    cure="Move one of them, or make it smaller",
                    place=wanted.place,
                )
            gap = spot.area.distance(area)
            shared = spot.area.buffer(_FLUSH_MM, join_style="mitre").intersection(area).area
            if gap <= _FLUSH_MM and shared > 2 * _FLUSH_MM * LEAST_GAP_MM:
                continue
            if gap < LEAST_GAP_MM - EQUAL_MM:
                form = "this {} is only {} from {}" if gap > _FLUSH_MM else "this {0} touches {2} only at a corner"
                raise InputError(
                    Said(form, wanted.kind.word, show_length(gap), words),
                    cure=f"Let them share a side, or leave at least {show_length(LEAST_GAP_MM)} between them",
                    place=wanted.place,
                )


def _share(block: Block, share: Box, cell: Box) -> Block | None:
    """What of a box in map coordinates lies in a share of a cell, about the cell's centre."""
    part = _common(_on_plan(block), share)
    if part is None:
        return None
    west, north, east, south = part
    here = replace(block, west=west, south=-south, east=east, north=-north)
    # A nanometre's grid: what is the same up to a quarter turn must be so bit for bit.
    here = here.moved(-(cell[0] + cell[2]) / 2, (cell[1] + cell[3]) / 2)
    return replace(here, bottom=round(block.bottom, 6), top=round(block.top, 6))


def _on_plan(block: Block) -> Box:
    return block.west, -block.north, block.east, -block.south


def _cell_box(cell: Cell, side: tuple[float, float]) -> Box:
    across, down = side
    return cell[0] * across, cell[1] * down, (cell[0] + 1) * across, (cell[1] + 1) * down


def _union(boxes: Iterable[Box]) -> Box:
    wests, norths, easts, souths = zip(*boxes, strict=True)
    return min(wests), min(norths), max(easts), max(souths)


def _called(cell: Cell) -> CellRef:
    return CellRef(cell[0] + 1, cell[1] + 1)


def _common(one: Box, other: Box) -> Box | None:
    west, north, east, south = (
        max(one[0], other[0]),
        max(one[1], other[1]),
        min(one[2], other[2]),
        min(one[3], other[3]),
    )
    return (west, north, east, south) if east - west > EQUAL_MM and south - north > EQUAL_MM else None
