"""From a description to plates: the tile that both the printer and the knife are fed from."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from math import fsum

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InFile, InputError, KeyRef, Said
from tilegen.geometry import (
    CRUMB_MM2,
    corners_of,
    faces_of,
    largest_polygon,
    polygons_of,
    rings_of,
    sides_of,
    without_collinear,
)
from tilegen.lengths import show_length, show_spot
from tilegen.model.grid import Grid
from tilegen.tiles.description import EAST, WEST, CellLines, Description, check_curves, describe
from tilegen.tiles.dressing import Ground, dressed, faced, own_ground
from tilegen.tiles.floor import (
    FloorPart,
    FloorPlan,
    Sort,
    block_shapes,
    floor_plates,
    hollows_of,
    hollows_on,
    lattice_strips,
    layered_floor,
    lines_on_face,
    marks_of,
)
from tilegen.tiles.identity import Pose, parts_of_tile, poses_of, short_id
from tilegen.tiles.leaves.kind import fitted
from tilegen.tiles.pinches import apart, check_pinches, weak_point
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.posts import with_sockets
from tilegen.tiles.seats import connector_marks
from tilegen.tiles.shape import CellShape, Shape
from tilegen.tiles.walls import PRINTED_JOINTS, Band, Joints, inset, printed_band, walls_of


class CellMaker:
    """Works out the plates of a shape made of cells; one instance for one shape, grid, wall band and way to join."""

    def __init__(self, shape: CellShape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.shape, self.grid, self.band, self.joints = shape, grid, band, joints
        self.lines, self.cells = CellLines(shape, grid), shape.by_place

    @cached_property
    def footprint(self) -> Polygon:
        """The base on the plan: the cells, less half the play along every outside edge, mitred."""
        boxes = [self.lines.box(place, self.grid.half_play) for place in self.cells]
        if len(boxes) == 1:
            return boxes[0]
        notches = [notch for place in self.cells for notch in self._notches(place)]
        whole = shapely.union_all(boxes)
        if notches:
            whole = whole.difference(shapely.union_all(notches))
        return without_collinear(whole)

    def standing(self) -> Iterator[Plate]:
        """Walls, then posts; butt-jointed, so that they touch and never overlap."""
        clip = self.footprint if self._has_notch() else None
        how = self.band, self.joints
        return walls_of(list(self.lines.runs()), list(self.lines.posts()), clip, how, self.grid.half_play)

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what walls and posts leave visible."""
        if not self.grid.floor.lines:
            return ()
        columns, rows = self.shape.widths[0], self.shape.heights[0]
        if len(self.cells) == 1 and columns == int(columns) and rows == int(rows):
            return lines_on_face(box(*self.clear_box()), self.grid)
        feet = [plate.foot for plate in self.standing()]
        return lines_on_face(self.footprint.difference(shapely.union_all(feet)), self.grid)

    def floor(self) -> tuple[Plate, ...]:
        """The base, in layers where it must be, then what is on it."""
        floors = [self._cell_floor(place) for place in self.cells]
        return floor_plates(self.footprint, floors, tuple(self.standing()), self.grid)

    def hollows(self) -> dict[str, BaseGeometry]:
        """What the hollows of each kind cover on the plan."""
        return hollows_on(self.footprint, [self._cell_floor(place) for place in self.cells], tuple(self.standing()))

    def _cell_floor(self, place: tuple[int, int]) -> FloorPart:
        region = self.lines.box(place, self.grid.half_play)
        if self._has_notch():
            region = without_collinear(region.intersection(self.footprint))
        return FloorPart(region, self.lines.centre(place), self.cells[place].extra)

    def clear_box(self) -> tuple[float, float, float, float]:
        """Of a single cell: what its walls leave free (posts not deducted): west, south, east, north."""
        ((place, cell),) = self.shape.cells
        reach = [self.band.inner if side.carries else self.grid.half_play for side in cell.sides]
        north, east, south, west = (self.lines.inside(place, side, reach[side]) for side in range(4))
        return west, south, east, north

    def _is_notch(self, place: tuple[int, int], corner: int) -> bool:
        first, second = corner, (corner + 1) % 4
        return (
            not self.lines.outside(place, first)
            and not self.lines.outside(place, second)
            and self.lines.neighbour(place, first, second) not in self.cells
        )

    def _has_notch(self) -> bool:
        return len(self.cells) > 1 and any(self._is_notch(place, k) for place in self.cells for k in range(4))

    def _notches(self, place: tuple[int, int]) -> Iterator[Polygon]:
        """The squares a mitred inset takes out of a cell at the tile's reflex corners."""
        half = self.grid.half_play
        for corner in range(4):
            if half and self._is_notch(place, corner):
                yield self._corner_box(place, corner, (0.0, half), (0.0, half))

    def _corner_box(
        self, place: tuple[int, int], corner: int, first: tuple[float, float], second: tuple[float, float]
    ) -> Polygon:
        """A box in a cell's corner, by its distances from the corner's two sides."""
        spans: dict[bool, tuple[float, float]] = {}
        for side, span in ((corner, first), ((corner + 1) % 4, second)):
            spans[side in (EAST, WEST)] = (
                self.lines.inside(place, side, span[0]),
                self.lines.inside(place, side, span[1]),
            )
        (x0, x1), (y0, y1) = spans[True], spans[False]
        return box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


class OutlineMaker:
    """Works out the plates of a description; one instance for one grid, wall band and way to join."""

    def __init__(self, described: Description, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.described, self.grid = described, grid
        base = self._inset()
        walls = self._walls(base, band, joints)
        # Behind a wall that is set back nothing of the floor is seen.
        deep = replace(band, outer=grid.half_play, within_outer=0.0)
        covered = walls if deep == band else self._walls(base, deep, PRINTED_JOINTS)
        grooves = shapely.union_all(lattice_strips(base.bounds, grid)) if grid.floor.lines else Polygon()
        (part,) = described.parts
        feet = [plate.foot for plate in covered]
        blocks = list(block_shapes(part, _axis_lines([base, *feet])))
        regions = [*(plate.foot for plate in walls), *(feet if covered is not walls else ())]
        lines = [region.boundary for region in (*regions, grooves, *(block for _, block in blocks))]
        self.faces, self.points = faces_of(base, lines, described.grid)
        self.free = np.ones(len(self.faces), bool)
        self.footprint = largest_polygon(shapely.coverage_union_all(self.faces))
        check_pinches(self.footprint, "parts of the outline")
        noded = [replace(plate, foot=self._take(plate.foot)) for plate in walls]
        self.plates = [plate for plate in noded if not plate.foot.is_empty]
        check_pinches(shapely.union_all([plate.foot for plate in self.plates], grid_size=described.grid), "walls")
        hidden = shapely.union_all(feet, grid_size=described.grid)
        self.seen = self.free & ~shapely.contains(hidden, self.points) if covered is not walls else self.free
        self.grooved = self.seen & shapely.contains(grooves, self.points)
        self.blocks = self._blocks(blocks)

    def _walls(self, base: Polygon, band: Band, joints: Joints) -> list[Plate]:
        """What stands on the floor, each with a name of its own."""
        how, half_play = (band, joints), self.grid.half_play
        plates = list(
            walls_of(self.described.runs, self.described.posts, base, how, half_play, jamb=self.described.jamb)
        )
        numbers, names = count(1), Counter(plate.name for plate in plates)
        return [
            plate if plate.name and names[plate.name] == 1 else replace(plate, name=f"{_word(plate)} {next(numbers)}")
            for plate in plates
        ]

    def _inset(self) -> Polygon:
        """The floor less half the play all round, mitred."""
        whole = self.described.floor
        moved = inset(whole, self.grid.half_play)
        parts = polygons_of(moved, CRUMB_MM2)
        if len(parts) != 1:
            x, y = weak_point(whole, moved)
            raise InputError(
                Said(
                    "{}{} is narrower than the gap between tiles, {}",
                    InFile(f"near {show_spot(x, y)} "),
                    self.described.what,
                    show_length(self.grid.joint_play),
                ),
                cure=Said("Make it wider there, or {} smaller", KeyRef("joint_play")),
                place=self.described.place,
            )
        return parts[0]

    def _take(self, region: Polygon) -> Polygon:
        """What nobody has taken yet of the faces in a region."""
        mine = self.free & shapely.contains(region, self.points)
        self.free &= ~mine
        return without_collinear(largest_polygon(shapely.coverage_union_all(self.faces[mine])))

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what the walls leave visible."""
        if not self.grid.floor.lines:
            return ()
        visible = shapely.coverage_union_all(self.faces[self.seen])
        return marks_of(apart(self.footprint, shapely.coverage_union_all(self.faces[self.grooved])), visible, self.grid)

    def floor(self) -> tuple[Plate, ...]:
        """The base, in layers where it must be, then what is on it."""

        def lines(face: BaseGeometry) -> tuple[Mark, ...]:
            cut = self.grooved & shapely.contains(face, self.points)
            return marks_of(shapely.coverage_union_all(self.faces[cut]), face, self.grid)

        floors = [(self.footprint, self.described.parts[0].extra.floor)]
        return layered_floor(FloorPlan(self.footprint, floors, self.blocks, tuple(self.standing())), self.grid, lines)

    def hollows(self) -> dict[str, BaseGeometry]:
        """What the hollows of each kind cover on the plan."""
        return hollows_of(self.blocks)

    def _blocks(self, blocks: Sequence[tuple[Sort, Polygon]]) -> dict[Sort, BaseGeometry]:
        """What each sort of block covers of what walls leave, not behind them where their stock is thinner."""
        found: dict[Sort, npt.NDArray[np.bool_]] = defaultdict(lambda: np.zeros(len(self.faces), bool))
        for sort, block in blocks:
            found[sort] |= self.seen & shapely.contains(block, self.points)
        return {
            sort: shapely.union_all(_pieces(shapely.coverage_union_all(self.faces[mine])))
            for sort, mine in sorted(found.items(), key=lambda item: item[0])
        }

    def standing(self) -> Iterator[Plate]:
        """Walls in the order of their runs, then posts."""
        return iter(self.plates)


def _word(plate: Plate) -> str:
    return "bent wall" if plate.bend is not None and len(plate.bend.outer) > 2 else plate.role


def _axis_lines(regions: Sequence[BaseGeometry]) -> tuple[list[float], list[float]]:
    """The x and y of the sides of regions that run along the axes."""
    found: tuple[set[float], set[float]] = set(), set()
    for region in regions:
        for part in shapely.get_parts(region).tolist():
            for a, b in (side for ring in rings_of(part) for side in sides_of(corners_of(ring))):
                for axis in (0, 1):
                    if a[axis] == b[axis]:
                        found[axis].add(a[axis])
    return sorted(found[0]), sorted(found[1])


def _pieces(foot: BaseGeometry) -> list[Polygon]:
    """The parts of a foot, crumbs left by snapping dropped."""
    return [without_collinear(part) for part in polygons_of(foot, CRUMB_MM2)]


@dataclass(frozen=True)
class Tile:
    """One tile type: its description, its measures and its plates as printed; the base comes first.

    ground: where its surface's pattern lies on it, if that is not the type's own.
    """

    name: str
    shape: Shape
    grid: Grid
    plates: tuple[Plate, ...]
    ground: Ground | None = None

    @property
    def base(self) -> Plate:
        """The plate that lies under all others."""
        return self.plates[0]

    @cached_property
    def poses(self) -> list[Pose]:
        """What it is made from, normalised, in its four quarter turns."""
        return poses_of(parts_of_tile(self.shape, self.grid, self.ground))

    @cached_property
    def id(self) -> str:
        """Short, from what it is made from, whatever its name: the same for every turn and in every plan."""
        return short_id(self.poses)

    def named(self, name: str) -> Tile:
        """The same tile under another name; keeps the id that was already calculated."""
        other = copy(self)
        object.__setattr__(other, "name", name)
        return other

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return fsum(plate.volume for plate in self.plates)

    @property
    def on_grid(self) -> bool:
        """Whether the tile is made of the grid's cells."""
        return self.shape.on_grid


def make_tile(name: str, shape: Shape, grid: Grid, ground: Ground | None = None) -> Tile:
    """A tile from its description. ground: of a tile whose surface is its place's, not its type's.

    Raises:
        InputError: the description can't be made (it has no inside, a wall or the outline vanishes).
    """
    shape.check()
    return Tile(name, shape, grid, make_plates(shape, grid, printed_band(grid), ground=ground), ground)


def make_plates(
    shape: Shape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS, ground: Ground | None = None
) -> tuple[Plate, ...]:
    """The plates of a description: base, walls, posts.

    band: where the walls' faces stand. joints: how they meet. ground: see `make_tile`.
    """
    surface = grid.surface
    floors = (ground.floors if ground else ()) or (surface.floor,)
    # Joints of a patterned floor follow the spaces' lines and take their place.
    patterned = set(floors) != {"none"}
    bare = replace(grid, floor=replace(grid.floor, lines=False)) if patterned else grid
    maker = maker_of(shape, bare, band, joints)
    foot = maker.footprint
    if shape.furnished:
        floor = _connected(maker.floor(), connector_marks(shape, grid, foot), grid, shape.sunk)
    else:
        marks = (*maker.marks(), *connector_marks(shape, grid, foot))
        floor = (Plate("base", "base", foot, 0.0, grid.base_depth, marks=marks),)
    plates = (*with_sockets(floor, shape, grid), *maker.standing())
    if patterned or surface.walls != "none":
        plates = dressed(plates, shape, grid, ground)
    plates = fitted(plates, grid)
    if surface.stone is not None and joints == PRINTED_JOINTS:
        turned = maker_of(shape, bare, band, replace(joints, turned=True)).standing()
        plates = faced(plates, grid, own_ground(shape, grid).salt, {plate.name: plate for plate in turned})
    return plates


def maker_of(shape: Shape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> CellMaker | OutlineMaker:
    """Whoever works out the plates of a shape."""
    if isinstance(shape, CellShape):
        return CellMaker(shape, grid, band, joints)
    described = describe(shape, grid)
    if joints.longest and not shape.cut_out:
        check_curves(described, band.inner)
    return OutlineMaker(described, grid, band, joints)


def _connected(floor: tuple[Plate, ...], marks: tuple[Mark, ...], grid: Grid, sunk: Sequence[str]) -> tuple[Plate, ...]:
    """A base in layers, with the pockets and pegs of its edges in the lowest one.

    Raises:
        InputError: a hollow leaves too little of the base to hold them.
    """
    lowest, *others = floor
    if not marks:
        return floor
    if lowest.top < grid.base_depth:
        raise InputError(
            f"a {sunk[0]} leaves no room in the base for {grid.connectors.kind}",
            cure=Said("Delete the {}, or use {}", sunk[0], KeyRef("kind", "none", "connectors")),
        )
    return (replace(lowest, marks=(*lowest.marks, *marks)), *others)
