"""What is nearest: triangles on a picture into a depth buffer, in numpy alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NOTHING = -1
# Pixels, and triangles, worked on at once: bounds the memory for large meshes.
_CHUNK = 2_000_000
_TRIANGLES = 100_000


@dataclass(frozen=True)
class Faces:
    """Triangles on a picture. corners: (m, 3, 2) in pixels. plane: (m, 3), depth = a x + b y + c, larger is nearer."""

    corners: Floats
    plane: Floats


def faces_of(corners: Floats) -> tuple[Faces, npt.NDArray[np.bool_]]:
    """Triangles from corners (m, 3, 3): x to the right and y down in pixels, depth; and which of them were kept.

    Those seen from behind, or edge on, are left out: y points down, which mirrors the sense of walking.
    """
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = (corners[:, k].T for k in range(3))
    ux, uy, uz, vx, vy, vz = bx - ax, by - ay, bz - az, cx - ax, cy - ay, cz - az
    normal = np.stack([uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx], axis=1)
    length = np.sqrt(normal[:, 0] ** 2 + normal[:, 1] ** 2 + normal[:, 2] ** 2)
    kept = (length > 1e-12) & (normal[:, 2] < -1e-7 * length)
    normal, first = normal[kept], corners[kept, 0]
    slope = -normal[:, :2] / normal[:, 2:]
    base = first[:, 2] - (slope[:, 0] * first[:, 0] + slope[:, 1] * first[:, 1])
    return Faces(corners[kept, :, :2], np.column_stack([slope, base])), kept


def rasterised(seen: Faces, size: tuple[int, int]) -> tuple[Ints, Floats]:
    """For each pixel the number of the nearest face, -1 for none, and its depth; (height, width) each."""
    depth = np.full((size[1], size[0]), -np.inf)
    front = np.full((size[1], size[0]), NOTHING, np.int64)
    draw(seen, depth, front)
    return front, depth


def draw(seen: Faces, depth: Floats, front: Ints | None = None, first: int = 0) -> None:
    """Draw faces into a depth buffer (height, width) that may hold some already.

    front: the number of the nearest face, if that is wanted. first: the number of the first of these faces. Of equally
    near faces the one with the higher number wins.
    """
    height, width = depth.shape
    flat, numbers = depth.reshape(-1), None if front is None else front.reshape(-1)
    for begin in range(0, len(seen.corners), _TRIANGLES):
        part = slice(begin, begin + _TRIANGLES)
        spans = _spans(seen.corners[part], (width, height))
        ends = np.cumsum(spans.count)
        start = 0
        while start < len(ends):
            done = ends[start - 1] if start else 0
            stop = max(int(np.searchsorted(ends, done + _CHUNK, side="right")), start + 1)
            _nearest(seen.plane[part], spans.part(start, stop), width, (flat, numbers), first + begin)
            start = stop


@dataclass(frozen=True)
class _Spans:
    """Which pixels the faces cover: (n,) each, face, row, first column and number of columns."""

    face: Ints
    row: Ints
    first: Ints
    count: Ints

    def part(self, start: int, stop: int) -> _Spans:
        cut = slice(start, stop)
        return _Spans(self.face[cut], self.row[cut], self.first[cut], self.count[cut])


def _spans(corners: Floats, size: tuple[int, int]) -> _Spans:
    """The pixels whose centre lies in each triangle, row by row.

    An edge is calculated alike for both its triangles, so that neighbours leave no gap.
    """
    width, height = size
    # Small triangles mostly lie between two rows or columns of pixels.
    low, high = np.ceil(corners.min(axis=1) - 0.5), np.ceil(corners.max(axis=1) - 0.5)
    hit = np.flatnonzero((high > low).all(axis=1) & (high > 0).all(axis=1) & (low < (width, height)).all(axis=1))
    corners = corners[hit]
    by_height = np.take_along_axis(corners, np.argsort(corners[:, :, 1], axis=1, kind="stable")[:, :, None], axis=1)
    top, middle, bottom = by_height[:, 0], by_height[:, 1], by_height[:, 2]
    begin = np.maximum(low[hit, 1].astype(np.int64), 0)
    rows = np.minimum(high[hit, 1].astype(np.int64), height) - begin
    face = np.repeat(np.arange(len(corners)), rows)
    row = _ranges(begin, rows)
    y = row.astype(np.float64) + 0.5
    along = _crossing(top, bottom, face, y)
    upper = y < middle[face, 1]
    other = np.where(upper, _crossing(top, middle, face, y), _crossing(middle, bottom, face, y))
    first = np.maximum(np.ceil(np.minimum(along, other) - 0.5).astype(np.int64), 0)
    last = np.minimum(np.ceil(np.maximum(along, other) - 0.5).astype(np.int64), width)
    filled = last > first
    return _Spans(hit[face[filled]], row[filled], first[filled], (last - first)[filled])


def _ranges(begin: Ints, count: Ints) -> Ints:
    """begin, begin + 1 ... of each entry, one after another."""
    total = int(count.sum())
    ranges: Ints = np.arange(total) + np.repeat(begin - (np.cumsum(count) - count), count)
    return ranges


def _crossing(start: Floats, end: Floats, face: Ints, y: Floats) -> Floats:
    """Where the edges from start to end (m, 2) cross the heights y, for the faces given."""
    rise = end[:, 1] - start[:, 1]
    run = np.divide(end[:, 0] - start[:, 0], rise, out=np.zeros(len(rise)), where=rise > 0)
    x: Floats = start[face, 0] + (y - start[face, 1]) * run[face]
    return x


def _nearest(plane: Floats, spans: _Spans, width: int, buffers: tuple[Floats, Ints | None], first: int) -> None:
    """Spans into the depth buffer and, if that is wanted, into that of the nearest faces."""
    depth, front = buffers
    slope_x, slope_y, base = plane[spans.face].T
    at_row = slope_y * (spans.row + 0.5) + base
    column = _ranges(spans.first, spans.count)
    span = np.repeat(np.arange(len(spans.face)), spans.count)
    at = (spans.row * width)[span] + column
    z = slope_x[span] * (column + 0.5) + at_row[span]
    np.maximum.at(depth, at, z)
    if front is not None:
        nearest = z == depth[at]
        front[at[nearest]] = spans.face[span[nearest]] + first
