"""Tiles not made of cells, to plates: any piece of floor with the walls, posts and features that stand on it.

What touches shares its points: base, walls, grooves and features are put together from the faces of one arrangement of
all their lines, on one grid.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import count, pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import CRUMB_MM2, faces_of, largest_polygon, polygons_of, without_collinear
from tilegen.grid import Grid
from tilegen.tiles.description import Description
from tilegen.tiles.floor import FloorPlan, Sort, block_shapes, hollows_of, layered_floor
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints
from tilegen.tiles.marks import lattice_strips, marks_of
from tilegen.tiles.pinches import apart, check_pinches, weak_point
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.walls import inset, walls_of


class PieceTile:
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
        self.whole = largest_polygon(shapely.coverage_union_all(self.faces))
        check_pinches(self.whole, "parts of the outline")
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
            floor = f"{self.described.what} of {whole.area:.3g} mm2"
            raise InputError(
                f"{floor} that vanishes or falls apart near ({x:.2f}, {y:.2f}) mm",
                expected=f"more than the play of {self.grid.joint_play:g} mm everywhere",
                place=self.described.place,
            )
        return parts[0]

    def _take(self, region: Polygon) -> Polygon:
        """What nobody has taken yet of the faces in a region."""
        mine = self.free & shapely.contains(region, self.points)
        self.free &= ~mine
        return without_collinear(largest_polygon(shapely.coverage_union_all(self.faces[mine])))

    def footprint(self) -> Polygon:
        """The base on the plan."""
        return self.whole

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what the walls leave visible."""
        if not self.grid.floor.lines:
            return ()
        visible = shapely.coverage_union_all(self.faces[self.seen])
        return marks_of(apart(self.whole, shapely.coverage_union_all(self.faces[self.grooved])), visible, self.grid)

    def floor(self) -> tuple[Plate, ...]:
        """The base, in layers where it must be, then what is on it."""

        def lines(face: BaseGeometry) -> tuple[Mark, ...]:
            cut = self.grooved & shapely.contains(face, self.points)
            return marks_of(shapely.coverage_union_all(self.faces[cut]), face, self.grid)

        floors = [(self.whole, self.described.parts[0].extra.floor)]
        return layered_floor(FloorPlan(self.whole, floors, self.blocks, tuple(self.standing())), self.grid, lines)

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
            for ring in (part.exterior, *part.interiors):
                for a, b in pairwise(ring.coords):
                    for axis in (0, 1):
                        if a[axis] == b[axis]:
                            found[axis].add(a[axis])
    return sorted(found[0]), sorted(found[1])


def _pieces(foot: BaseGeometry) -> list[Polygon]:
    """The parts of a foot, crumbs left by snapping dropped."""
    return [without_collinear(part) for part in polygons_of(foot, CRUMB_MM2)]
