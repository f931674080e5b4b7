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

from tilegen.pictures.depth import NOTHING, Faces, Floats, Ints, faces_of, rasterised

Eye = Literal["south-east", "south-west", "north-east", "north-west"]
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


@dataclass(frozen=True)
class _Faces(Faces):
    """Triangles that face the viewer; depth in pixels. normal: (m, 3) unit vectors to the right, up, to the viewer."""

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
    check_mesh(points, faces)
    axes = axes_of(eye or open_corner(points, faces))
    fine = (size[0] * SUPERSAMPLING, size[1] * SUPERSAMPLING)
    seen = _projected(points @ axes.T, faces, fine)
    front, depth = rasterised(seen, fine)
    pixels = _shaded(seen, front)
    pixels[_edge_pixels(seen, front, depth)] = EDGE
    picture = Image.fromarray(pixels).reduce(SUPERSAMPLING)
    if compass:
        _compass(picture, axes)
    out = io.BytesIO()
    picture.save(out, "PNG", compress_level=3)
    return out.getvalue()


def check_mesh(points: Floats, faces: Ints) -> None:
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


def axes_of(eye: Eye) -> Floats:
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
    seen, kept = faces_of(flat[faces])
    a, b, c = (points[faces[kept, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return _Faces(seen.corners, seen.plane, normal / np.linalg.norm(normal, axis=1, keepdims=True))


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
    outline = (a == NOTHING) | (b == NOTHING)
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
