"""One feature on its floor: which boxes it is made of, cell by cell, and what can't be made.

Plan coordinates as in `features`: mm, x to the east, y to the south; boxes are (west, north, east, south).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.lengths import show_length
from tilegen.tiles.blocks import PIT_FLOOR_MM, Block, FeatureKind

Box = tuple[float, float, float, float]
Cell = tuple[int, int]
# The least a part may measure, and the least it stands off what it does not touch, mm (common practice, no source).
LEAST_MM = 2.0
LEAST_GAP_MM = 0.5
# The least depth of a tread, and the usual height of a step, mm (common practice, no source).
LEAST_TREAD_MM = 3.0
USUAL_STEP_MM = 6.35
MOST_STEPS = 40
_ROUNDING = 1e-6
# What is nearer than this is meant to touch.
_FLUSH_MM = 1e-4
# So near to a wall's face or a cell's edge, a measure in few digits is meant to lie on it (1/1000 space is 0.03 mm).
_MEANT_MM = 0.05
# Less than this is none.
_CRUMB_MM2 = 0.05


@dataclass(frozen=True, slots=True)
class Wanted:
    """A feature as written; None where nothing was said.

    at: its centre, in spaces from the north-west corner of its cell or tile. size: from west to east and from north to
    south, mm. height: of a pit its depth. side: towards which a stair climbs. place: for messages.
    """

    kind: FeatureKind
    at: tuple[float, float] | None = None
    size: tuple[float, float] | None = None
    height: float | None = None
    side: str | None = None
    steps: int | None = None
    round: bool = False
    place: str = ""

    @property
    def fills(self) -> bool:
        """Whether it covers the whole floor between the walls."""
        return self.size is None and self.at is None and self.kind != "pillar"


@dataclass(frozen=True, slots=True)
class Spot:
    """What one cell has of a feature: where, and its blocks about the cell's centre."""

    area: BaseGeometry
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Ground:
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


def blocks_on(wanted: Wanted, ground: Ground, *, rise: float | None = None) -> Iterator[tuple[Cell, Spot]]:
    """What each cell has of a feature. rise: to the floor beyond a stair.

    Raises:
        InputError: without a place: it is off the floor, under a wall, or can't be made.
    """
    _check_words(wanted)
    grid, whole, clear, side = ground.grid, ground.whole, ground.clear, ground.side
    if wanted.fills:
        bounds = _union(clear.values())
        limits = clear
    else:
        bounds = _settled(bounds_of(wanted, grid, whole), clear.values(), round_=wanted.round)
        limits = {cell: _cell_box(cell, side) for cell in clear}
    layers = list(_layers(wanted, grid, bounds, rise))
    shares = {cell: _common(bounds, limits[cell]) for cell in clear}
    kept = {cell: share for cell, share in shares.items() if share is not None}
    if wanted.kind == "pillar" and len(kept) > 1:
        raise InputError(
            f"a pillar over the line between {len(kept)} cells",
            expected="one that stands inside one cell, since a seam may run there",
            cure="move it, or make two of it",
        )
    for cell, share in kept.items():
        _check_size(share, cell)
        area: BaseGeometry = box(*share)
        cut = [(bottom, top, _common(layer, share)) for bottom, top, layer in layers]
        if limits is not clear:
            _check_free(area, ground.standing[cell], cell)
        elif cell in ground.floors:
            area = ground.floors[cell]
            _check_wide((area.intersection(box(*part)) for _, _, part in cut if part is not None), cell)
        middle = _cell_box(cell, side)
        blocks = [_block(wanted, part, middle, bottom, top) for bottom, top, part in cut if part is not None]
        yield cell, Spot(area, tuple(blocks))


def _check_words(wanted: Wanted) -> None:
    kind = wanted.kind
    if (kind == "stair") != (wanted.side is not None):
        raise InputError(
            "a stair without side" if kind == "stair" else f"side on a {kind}",
            expected="the side towards which a stair climbs, on stairs only",
        )
    if wanted.steps is not None and kind != "stair":
        raise InputError(f"steps on a {kind}", expected="steps on stairs only")
    if wanted.round and kind != "pillar":
        raise InputError(f"a round {kind}", expected="a square one", cure="only pillars can be round")
    if wanted.at is not None and wanted.size is None and kind != "pillar":
        raise InputError("at without size", expected="both, or neither for the whole floor between the walls")
    if wanted.round and wanted.size is not None and abs(wanted.size[0] - wanted.size[1]) > _ROUNDING:
        raise InputError(
            f"a round pillar of {wanted.size[0]:g} x {wanted.size[1]:g} mm", expected="one size for both ways"
        )


def bounds_of(wanted: Wanted, grid: Grid, whole: Box) -> Box:
    """Where a feature with a size lies. whole: its cells.

    Raises:
        InputError: smaller than can be made, or beyond its cells.
    """
    usual = 2 * grid.wall_thickness
    width, depth = wanted.size or (usual, usual)
    for size in (width, depth):
        if not LEAST_MM <= size <= 10_000:
            raise InputError(f"a {wanted.kind} {size:g} mm across", expected=f"at least {LEAST_MM:g} mm")
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
    if over > _ROUNDING:
        raise InputError(
            f"a feature that reaches {show_length(over)} beyond its cells",
            expected="one that lies on the floor it belongs to",
            cure="make it smaller, move it, or give its last cell with to",
        )


def _layers(wanted: Wanted, grid: Grid, bounds: Box, rise: float | None) -> Iterator[tuple[float, float, Box]]:
    """(bottom, top, box) of each block above the floor; of a stair one layer a step, each less deep than the last."""
    if wanted.kind == "pit":
        yield -_pit_depth(wanted, grid), 0.0, bounds
    elif wanted.kind == "stair":
        yield from _steps(wanted, bounds, _height(wanted, rise))
    else:
        yield 0.0, _height(wanted, {"pillar": grid.wall_height, "dais": USUAL_STEP_MM}[wanted.kind]), bounds


def _pit_depth(wanted: Wanted, grid: Grid) -> float:
    most = grid.base_depth - PIT_FLOOR_MM
    depth = most if wanted.height is None else wanted.height
    if not 0 < depth <= most + _ROUNDING:
        raise InputError(
            f"a pit {show_length(depth)} deep in a base of {show_length(grid.base_depth)}",
            expected=f"at most {show_length(max(most, 0.0))}, so that a floor of {PIT_FLOOR_MM:g} mm stays",
            cure="make it shallower, the base deeper, or raise the room's floor",
        )
    return depth


def _height(wanted: Wanted, usual: float | None) -> float:
    height = usual if wanted.height is None else wanted.height
    if height is None:
        raise InputError(
            "a stair without height, and no higher floor beyond it",
            expected="height, or a room with a higher floor on the side it climbs to",
        )
    if not 0 < height <= 1000:
        raise InputError(f"a {wanted.kind} {height:g} mm high", expected="more than 0 and at most 1000 mm")
    return height


def _steps(wanted: Wanted, bounds: Box, height: float) -> Iterator[tuple[float, float, Box]]:
    steps = wanted.steps if wanted.steps is not None else max(1, round(height / USUAL_STEP_MM))
    west, north, east, south = bounds
    run = (south - north if wanted.side in ("north", "south") else east - west) / max(steps, 1)
    if not 1 <= steps <= MOST_STEPS or run < LEAST_TREAD_MM - _ROUNDING:
        raise InputError(
            f"a stair of {steps} steps with treads {run:.2f} mm deep",
            expected=f"1 to {MOST_STEPS} steps with treads of at least {LEAST_TREAD_MM:g} mm",
            cure="fewer steps or more room",
        )
    for step in range(steps):
        gone = step * run
        layer = {
            "north": (west, north, east, south - gone),
            "south": (west, north + gone, east, south),
            "east": (west + gone, north, east, south),
            "west": (west, north, east - gone, south),
        }[str(wanted.side)]
        yield height * step / steps, height * (step + 1) / steps, layer


def _check_size(share: Box, cell: Cell) -> None:
    width, depth = share[2] - share[0], share[3] - share[1]
    if min(width, depth) < LEAST_MM - _ROUNDING:
        raise InputError(
            f"{min(width, depth):.2f} mm of it on cell [{cell[0] + 1}, {cell[1] + 1}]",
            expected=f"at least {LEAST_MM:g} mm on each tile it lies on, or none",
            cure="move its edge to the line between the cells",
        )


def _check_wide(parts: Iterable[BaseGeometry], cell: Cell) -> None:
    """Refuse what the walls leave of a layer that fills the floor if a part of it is a sliver."""
    for part in shapely.get_parts(list(parts)).tolist():
        if part.area > _CRUMB_MM2 and part.buffer(_ROUNDING - LEAST_MM / 2).is_empty:
            raise InputError(
                f"less than {LEAST_MM:g} mm between its edge and a wall on cell [{cell[0] + 1}, {cell[1] + 1}]",
                expected=f"at least {LEAST_MM:g} mm everywhere",
                cure="give it at and size",
            )


def _check_free(area: BaseGeometry, standing: Sequence[BaseGeometry], cell: Cell) -> None:
    for wall in standing:
        common = area.intersection(wall)
        if common.area > _ROUNDING:
            x0, y0, x1, y1 = common.bounds
            raise InputError(
                f"a feature that reaches {min(x1 - x0, y1 - y0):.2f} mm under a wall or post of cell "
                f"[{cell[0] + 1}, {cell[1] + 1}]",
                expected="one that lies on the free floor",
                cure="make it smaller or move it; without size it fills the floor between the walls",
            )


def check_apart(spots: Sequence[tuple[Spot, Wanted]], standing: Sequence[BaseGeometry]) -> None:
    """Refuse features of one cell that lie over one another, or too near to something to be made.

    Raises:
        InputError: with the place of the later one.
    """
    for number, (spot, wanted) in enumerate(spots):
        others = [(other.area, f"the {before.kind} of {before.place}") for other, before in spots[:number]]
        for area, words in (*others, *((wall, "a wall or post") for wall in standing)):
            common = spot.area.intersection(area)
            if common.area > _ROUNDING and words.startswith("the "):
                raise InputError(
                    f"a {wanted.kind} over {words}",
                    expected="features beside one another",
                    cure="move one of them, or make it smaller",
                    place=wanted.place,
                )
            gap = spot.area.distance(area)
            shared = spot.area.buffer(_FLUSH_MM, join_style="mitre").intersection(area).area
            if gap <= _FLUSH_MM and shared > 2 * _FLUSH_MM * LEAST_GAP_MM:
                continue
            if gap < LEAST_GAP_MM - _ROUNDING:
                found = f"{gap:.2f} mm from {words}" if gap > _FLUSH_MM else f"that touches {words} only at a corner"
                raise InputError(
                    f"a {wanted.kind} {found}",
                    expected=f"one that shares a side with it or stands at least {LEAST_GAP_MM:g} mm off",
                    place=wanted.place,
                )


def _block(wanted: Wanted, part: Box, cell: Box, bottom: float, top: float) -> Block:
    x, y = (cell[0] + cell[2]) / 2, (cell[1] + cell[3]) / 2
    west, north, east, south = part
    # A nanometre's grid: what is the same up to a quarter turn must be so bit for bit.
    places = (round(west - x, 6), round(y - south, 6), round(east - x, 6), round(y - north, 6))
    return Block(wanted.kind, *places, round(bottom, 6), round(top, 6), wanted.round)


def _cell_box(cell: Cell, side: tuple[float, float]) -> Box:
    across, down = side
    return cell[0] * across, cell[1] * down, (cell[0] + 1) * across, (cell[1] + 1) * down


def _union(boxes: Iterable[Box]) -> Box:
    wests, norths, easts, souths = zip(*boxes, strict=True)
    return min(wests), min(norths), max(easts), max(souths)


def _common(one: Box, other: Box) -> Box | None:
    west, north, east, south = (
        max(one[0], other[0]),
        max(one[1], other[1]),
        min(one[2], other[2]),
        min(one[3], other[3]),
    )
    return (west, north, east, south) if east - west > _ROUNDING and south - north > _ROUNDING else None
