"""A picture of a solid without a display: a depth buffer in numpy, flat shading and dark lines along sharp edges.

Axonometric (no perspective): seen from above one corner, so that equal lengths along an axis stay equal.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

Eye = Literal["south-east", "south-west", "north-east", "north-west"]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

SUPERSAMPLING = 2
# Above the horizon, and out of the south (or north) towards the east (or west), in degrees.
ELEVATION, AZIMUTH = 40.0, 33.0
SHARP_DEGREES = 30.0
BACKGROUND = (247, 247, 245)
EDGE = np.array((38, 43, 49), np.uint8)
# Faces turned away from the light and towards it, and where the light comes from: right, up, to the viewer.
DARK, BRIGHT = np.array((56, 62, 70), np.float64), np.array((248, 243, 230), np.float64)
LIGHT = np.array((-0.42, 0.74, 0.52)) / math.sqrt(0.42**2 + 0.74**2 + 0.52**2)
_MARGIN = 0.07
# Pixels worked on at once: bounds the memory for large meshes.
_CHUNK = 4_000_000
_NOTHING = -1


@dataclass(frozen=True)
class _Faces:
    """Triangles that face the viewer, on the picture.

    corners: (m, 3, 2) in pixels. plane: (m, 3), depth = a x + b y + c, larger is nearer. normal: (m, 3) unit
    vectors to the right, up and towards the viewer.
    """

    corners: Floats
    plane: Floats
    normal: Floats


def solid_png(
    vertices: npt.ArrayLike,
    triangles: npt.ArrayLike,
    *,
    size: tuple[int, int] = (480, 360),
    eye: Eye | None = None,
    compass: bool = True,
) -> bytes:
    """A PNG of a closed solid.

    vertices: (n, 3) in mm, z up. triangles: (m, 3) indexes, counter-clockwise seen from outside. size: pixels.
    eye: the corner it is seen from; None: the one from which what stands up is farthest away, south-east if none is.
    compass: an arrow to the north.

    Raises:
        ValueError: no triangles, arrays of another shape, a coordinate that is not finite, a corner that is not there.
    """
    points, faces = np.asarray(vertices, np.float64), np.asarray(triangles, np.int64)
    _check_mesh(points, faces)
    axes = _axes(eye or open_corner(points, faces))
    fine = (size[0] * SUPERSAMPLING, size[1] * SUPERSAMPLING)
    seen = _projected(points @ axes.T, faces, fine)
    front, depth = _rasterised(seen, fine)
    pixels = _shaded(seen, front)
    pixels[_edge_pixels(seen, front, depth)] = EDGE
    picture = Image.fromarray(pixels).reduce(SUPERSAMPLING)
    if compass:
        _compass(picture, axes)
    out = io.BytesIO()
    picture.save(out, "PNG", compress_level=3)
    return out.getvalue()


def _check_mesh(points: Floats, faces: Ints) -> None:
    """Refuse arrays that are no triangles over corners in space."""
    if points.ndim != 2 or points.shape[1:] != (3,) or faces.ndim != 2 or faces.shape[1:] != (3,) or not len(faces):
        raise ValueError(f"vertices {points.shape} and triangles {faces.shape}: expected (n, 3) and (m, 3), m > 0")
    if not np.isfinite(points).all():
        raise ValueError("a coordinate that is not finite")
    if faces.min() < 0 or faces.max() >= len(points):
        raise ValueError(f"a triangle with a corner that is none of the {len(points)}")


def open_corner(points: Floats, faces: Ints) -> Eye:
    """The corner opposite to what stands up, so that walls show their inner faces."""
    low, high = points.min(axis=0), points.max(axis=0)
    corners = points[faces]
    up = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, 2]
    raised = np.maximum(up, 0.0) * (corners[:, :, 2].mean(axis=1) > (low[2] + high[2]) / 2)
    if not raised.sum() > 0:
        return "south-east"
    centre = (corners.mean(axis=1)[:, :2] * raised[:, None]).sum(axis=0) / raised.sum()
    east, north = (centre - (low[:2] + high[:2]) / 2) / np.maximum(high[:2] - low[:2], 1e-12)
    slight = 0.01
    if north < -slight:
        return "north-west" if east > slight else "north-east"
    return "south-west" if east > slight else "south-east"


def _axes(eye: Eye) -> Floats:
    """Rows: to the right and up on the picture, and towards the viewer, as unit vectors of the solid's frame."""
    south = 1.0 if eye.startswith("south") else -1.0
    east = 1.0 if eye.endswith("east") else -1.0
    azimuth, elevation = math.radians(AZIMUTH), math.radians(ELEVATION)
    level = np.array((east * math.sin(azimuth), -south * math.cos(azimuth), 0.0))
    toward = level * math.cos(elevation) + (0.0, 0.0, math.sin(elevation))
    up = -level * math.sin(elevation) + (0.0, 0.0, math.cos(elevation))
    return np.array((np.cross(up, toward), up, toward))


def _projected(points: Floats, faces: Ints, size: tuple[int, int]) -> _Faces:
    """The triangles that face the viewer, fitted into the picture (x to the right, y down)."""
    low, high = points.min(axis=0), points.max(axis=0)
    room = np.array(size) * (1 - 2 * _MARGIN)
    scale = float((room / np.maximum(high - low, 1e-9)[:2]).min())
    flat = (points - (low + high) / 2) * (scale, -scale, scale) + (size[0] / 2, size[1] / 2, 0.0)
    a, b, c = flat[faces[:, 0]], flat[faces[:, 1]], flat[faces[:, 2]]
    normal = np.cross(b - a, c - a)
    # y points down on the picture, which mirrors the sense of walking.
    length = np.linalg.norm(normal, axis=1)
    facing = (length > 1e-9) & (normal[:, 2] < -1e-7 * length)
    a, b, c, normal = a[facing], b[facing], c[facing], -normal[facing]
    slope = -normal[:, :2] / normal[:, 2:]
    plane = np.column_stack([slope, a[:, 2] - (slope * a[:, :2]).sum(axis=1)])
    unit = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    return _Faces(np.stack([a, b, c], axis=1)[:, :, :2], plane, unit * (1.0, -1.0, 1.0))


def _rasterised(seen: _Faces, size: tuple[int, int]) -> tuple[Ints, Floats]:
    """For each pixel the number of the nearest face, -1 for none, and its depth; (height, width) each."""
    width, height = size
    depth = np.full(width * height, -np.inf)
    front = np.full(width * height, _NOTHING, np.int64)
    spans = _spans(seen.corners, size)
    ends = np.cumsum(spans.count)
    start = 0
    while start < len(ends):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + _CHUNK, side="right")), start + 1)
        _nearest(seen, spans.part(start, stop), width, depth, front)
        start = stop
    return front.reshape(height, width), depth.reshape(height, width)


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
    by_height = np.take_along_axis(corners, np.argsort(corners[:, :, 1], axis=1, kind="stable")[:, :, None], axis=1)
    top, middle, bottom = by_height[:, 0], by_height[:, 1], by_height[:, 2]
    begin = np.maximum(np.ceil(top[:, 1] - 0.5).astype(np.int64), 0)
    end = np.minimum(np.ceil(bottom[:, 1] - 0.5).astype(np.int64), height)
    rows = np.maximum(end - begin, 0)
    face = np.repeat(np.arange(len(corners)), rows)
    row = _ranges(begin, rows)
    y = row.astype(np.float64) + 0.5
    along = _crossing(top, bottom, face, y)
    upper = y < middle[face, 1]
    other = np.where(upper, _crossing(top, middle, face, y), _crossing(middle, bottom, face, y))
    first = np.maximum(np.ceil(np.minimum(along, other) - 0.5).astype(np.int64), 0)
    last = np.minimum(np.ceil(np.maximum(along, other) - 0.5).astype(np.int64), width)
    filled = last > first
    return _Spans(face[filled], row[filled], first[filled], (last - first)[filled])


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


def _nearest(seen: _Faces, spans: _Spans, width: int, depth: Floats, front: Ints) -> None:
    """Spans into the depth buffer: the nearest face wins, of equally near ones the one with the higher number."""
    slope_x, slope_y, base = seen.plane[spans.face].T
    at_row = slope_y * (spans.row + 0.5) + base
    column = _ranges(spans.first, spans.count)
    span = np.repeat(np.arange(len(spans.face)), spans.count)
    at = (spans.row * width)[span] + column
    z = slope_x[span] * (column + 0.5) + at_row[span]
    np.maximum.at(depth, at, z)
    nearest = z == depth[at]
    front[at[nearest]] = spans.face[span[nearest]]


def _shaded(seen: _Faces, front: Ints) -> npt.NDArray[np.uint8]:
    """(height, width, 3) colours, one tone a face."""
    light = ((1 + seen.normal @ LIGHT) / 2)[:, None]
    colours = (DARK + (BRIGHT - DARK) * light).round().astype(np.uint8)
    # The entry for no face stands last, where the index -1 finds it.
    return np.vstack([colours, np.array([BACKGROUND], np.uint8)])[front]


def _edge_pixels(seen: _Faces, front: Ints, depth: Floats) -> npt.NDArray[np.bool_]:
    """Pixels on either side of an outline, of a sharp edge, or of a step in depth."""
    lines = np.zeros(front.shape, np.bool_)
    for here, there in (
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ):
        rows, columns = np.nonzero(front[here] != front[there])
        beside = (rows, columns + 1) if here[0] == slice(None) else (rows + 1, columns)
        cut = _parts(seen, front, depth, (rows, columns), beside)
        for r, c in ((rows, columns), beside):
            lines[r[cut], c[cut]] = True
    return lines


def _parts(
    seen: _Faces, front: Ints, depth: Floats, here: tuple[Ints, Ints], there: tuple[Ints, Ints]
) -> npt.NDArray[np.bool_]:
    """Whether a line runs between pixels here and there, which show different faces."""
    a, b = front[here], front[there]
    outline = (a == _NOTHING) | (b == _NOTHING)
    sharp = (seen.normal[a] * seen.normal[b]).sum(axis=1) < math.cos(math.radians(SHARP_DEGREES))
    # A step: neither face, carried on by a pixel, reaches the other's depth.
    gap_a = np.abs(_depth_at(seen, a, there) - depth[there])
    gap_b = np.abs(_depth_at(seen, b, here) - depth[here])
    step = np.minimum(gap_a, gap_b) > 2.0
    parted: npt.NDArray[np.bool_] = outline | sharp | step
    return parted


def _depth_at(seen: _Faces, face: Ints, where: tuple[Ints, Ints]) -> Floats:
    plane = seen.plane[face]
    z: Floats = plane[:, 0] * (where[1] + 0.5) + plane[:, 1] * (where[0] + 0.5) + plane[:, 2]
    return z


def _compass(picture: Image.Image, axes: Floats) -> None:
    """A small arrow to the solid's north, as it lies on the ground, in the lower left corner."""
    reach = min(picture.size) * 0.055
    right, up = axes[:2, 1] * reach
    across = axes[:2, 0] * reach * 0.4
    x, y = reach * 1.6, picture.height - reach * 1.5
    tip, tail = (x + right, y - up), (x - right * 0.8, y + up * 0.8)
    wings = [(tail[0] + k * across[0], tail[1] - k * across[1]) for k in (1, -1)]
    pen = ImageDraw.Draw(picture)
    pen.polygon([tip, wings[0], (x - right * 0.35, y + up * 0.35), wings[1]], fill=(120, 124, 128))
    font = ImageFont.load_default(max(round(reach * 0.75), 8))
    pen.text((x + right * 1.75, y - up * 1.75), "N", (90, 95, 100), font, "mm")
