"""The floor of rooms off the grid, as features lie on it: what walls leave, where there is room, what lies beyond.

Plan coordinates: mm from the drawing's top left corner, x to the east, y to the south.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from tilegen.lengths import show_length
from tilegen.plans.borders import Border
from tilegen.plans.drawing import Drawing
from tilegen.plans.furnishing import LEAST_GAP_MM, Box
from tilegen.plans.innerwalls import inner_walls, less_inner_walls
from tilegen.tiles.features.kind import LEAST_MM

# How finely a place for a feature is looked for, and the floor beyond a stair.
_STEPS_PER_SPACE, _STEPS_PER_CELL = 20, 64


class ShapedFloor:
    """The rooms of a drawing that have shapes. regions: the floor of each, by code point."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing, self.side = drawing, drawing.cell_side
        regions = drawing.off_grid.regions if drawing.off_grid is not None else {}
        self.regions = {code: flipped(region) for code, region in regions.items()}
        self._known: dict[int, BaseGeometry] = {}

    def free(self, room: int) -> BaseGeometry:
        """What walls leave of a room with shapes, open lines of its border crossed, on the plan."""
        if room not in self._known and self.drawing.off_grid is not None:
            off_grid, wall = self.drawing.off_grid, self.drawing.grid.wall_thickness
            region = off_grid.regions[room]
            filled = Border(self.drawing, region, chr(room)).filled
            within = filled.buffer(-wall, join_style="mitre", mitre_limit=2.0)
            inner = inner_walls(self.drawing, region, room, off_grid.whole)
            self._known[room] = flipped(less_inner_walls(within, inner, wall))
        return self._known[room]

    def elsewhere(self, room: int, bounds: Box, whole: Box, *, in_one_cell: bool) -> str:
        """Where on its cells, nearest to where it is, a feature has room; smaller if need be."""
        clear = self.free(room).intersection(self.regions[room]).buffer(-LEAST_GAP_MM)
        shapely.prepare(clear)
        pitch = self.drawing.grid.pitch
        x, y = (bounds[0] + bounds[2]) / 2 - whole[0], (bounds[1] + bounds[3]) / 2 - whole[1]
        step = pitch / _STEPS_PER_SPACE
        xs, ys = (np.arange(round((whole[k + 2] - whole[k]) / step) + 1) * step for k in (0, 1))
        at = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        at = at[np.argsort(np.hypot(at[:, 0] - x, at[:, 1] - y), kind="stable")]
        for share in (1.0, 0.8, 0.6, 0.4, 0.2):
            size = np.array([bounds[2] - bounds[0], bounds[3] - bounds[1]]) * share
            size = size if share == 1 else np.floor(size)
            if size.min() < LEAST_MM:
                break
            west, south = at[:, 0] - size[0] / 2, at[:, 1] - size[1] / 2
            boxes = np.stack([west, south, west + size[0], south + size[1]], axis=1) + [*whole[:2]] * 2
            fits = shapely.covers(clear, shapely.box(*boxes.T))
            fits &= (boxes[:, :2] >= whole[:2]).all(axis=1) & (boxes[:, 2:] <= whole[2:]).all(axis=1)
            if in_one_cell:
                first, last = (np.floor(boxes[:, k : k + 2] / self.side + s) for k, s in ((0, 1e-9), (2, -1e-9)))
                fits &= (first == last).all(axis=1)
            if fits.any():
                across, down = (at[int(fits.argmax())] / pitch).tolist()
                width, depth = (show_length(float(v)) for v in size)
                smaller = "" if share == 1 else f' and size = ["{width}", "{depth}"]'
                return f"write at = [{across:.2f}, {down:.2f}]{smaller}, where there is room"
        return "choose another cell; no place on this one has room"

    def beyond(self, room: int, start: tuple[float, float], step: tuple[int, int]) -> int:
        """The first other room that is met walking out of a room, from a point in it, within a cell and a half."""
        count = round(1.5 * _STEPS_PER_CELL)
        spots = np.array(start) + np.outer(np.arange(count), step) * self.side / _STEPS_PER_CELL
        rooms = [self.room_at(x, y) for x, y in spots.tolist()]
        return next((other for other in rooms if other not in (0, room)), 0)

    def room_at(self, x: float, y: float) -> int:
        """The room at a point of the plan, 0 for solid ground."""
        spot = Point(x, y)
        for code, region in self.regions.items():
            if region.contains(spot):
                return code
        rows, columns = self.drawing.rooms.shape
        column, row = int(x // self.side), int(y // self.side)
        room = int(self.drawing.rooms[row, column]) if 0 <= column < columns and 0 <= row < rows else 0
        return 0 if room in self.regions else room


def flipped(region: BaseGeometry) -> BaseGeometry:
    """From map coordinates to those of the plan, or back."""
    return shapely.transform(region, lambda points: points * (1.0, -1.0))
