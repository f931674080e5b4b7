"""Solids as they look on a table: in daylight, with soft shadows, on a warm ground. numpy alone, no display.

Two kinds of light, each from several places: the sky, whose share that reaches a point makes corners and joints dark,
and the sun, as a disc, so that shadows get softer with distance. What reaches a point is read from depth maps
(L. Williams, "Casting curved shadows on curved surfaces", SIGGRAPH 1978).
"""

from __future__ import annotations

import io
import math
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from PIL import Image

from tilegen.pictures.depth import NOTHING, Floats, Ints, draw, faces_of
from tilegen.pictures.solid_view import AZIMUTH, Eye, check_mesh, open_corner
from tilegen.solids.build import Mesh
from tilegen.tiles.leaves.kind import leaf_of
from tilegen.tiles.loose import LooseLeaf, Piece
from tilegen.tiles.tile import Tile

Singles = npt.NDArray[np.float32]

# Colours in sRGB: stone, and the ground where all light reaches it.
STONE, GROUND = (196, 183, 160), (235, 230, 219)
# Of leaves in a styled set; up to how far over the base's height a floor's colour goes.
WOOD, _FLOOR_MM = "#8b6a48", 0.05
# The tone of the darkest stone; how far tones are spread to choose among colours.
_DARKEST_STONE, _APART = 0.8, 97.0
# Shares of the light on open ground that come from the sun; what the light that comes back from the ground adds.
_SUN = np.array((0.66, 0.62, 0.555), np.float32)
_BOUNCE = np.array((0.17, 0.15, 0.12), np.float32)
_COLOURS = (_SUN, 1 - _SUN, _BOUNCE)
# The sun: above the horizon, and how wide its disc is taken, degrees. To the right of straight behind the picture: for
# a tile, whose doorways then let light in, and for many of them, whose walls then show their faces.
_SUN_HIGH, _SUN_WIDE = 46.0, 3.0
SUN_BEHIND, SUN_BEFORE = 72.0, 118.0
# The sky is brighter behind the viewer by this share.
_FILL = 0.6
# What wear adds to the tone of corners, and dirt takes in joints, where the surface bends by a right angle.
_WEAR, _DIRT = 0.16, 0.26
# How long the waves of a surface's tone are, mm, and what they add.
_SPOTS = ((9.0, 0.07), (2.6, 0.06), (0.9, 0.05))
# The viewer's distance, in sizes of what is seen: straight lines to the horizon close in a little.
_DISTANCE = 4.0
_MARGIN = 0.05
_SAMPLES = 2
# Rows of samples worked on at once, which is quick while they are few; how far beside one its corners are looked for.
_ROWS, _REACHES = 24, (1, 2, 4)
# Triangles put into a depth map at once.
_TRIANGLES = 100_000


@dataclass(frozen=True)
class Body:
    """A solid in its place. points: (n, 3) mm, z up; triangles: (m, 3), outward.

    tones: (m,) about 1, or (m, 3) of each colour; None: all 1.
    """

    points: Floats
    triangles: Ints
    tones: Floats | None = None


@dataclass(frozen=True)
class Quality:
    """How finely to draw. sky, sun: how many depth maps. texels: along all of it, per pixel of the picture's width."""

    sky: int = 24
    sun: int = 14
    texels: float = 1.0


@dataclass(frozen=True)
class _Scene:
    points: Floats
    triangles: Ints
    tones: Singles
    normals: Singles


@dataclass(frozen=True)
class _View:
    """A viewer at a finite distance. axes: rows right, up, toward. depth on the picture is distance / way."""

    axes: Floats
    centre: Floats
    distance: float
    scale: float
    shift: tuple[float, float]

    def projected(self, points: Floats) -> Floats:
        """(n, 3): pixels to the right and down, and depth."""
        right, up, toward = _along(points - self.centre, self.axes)
        near = self.distance / (self.distance - toward)
        x, y = right * near * self.scale + self.shift[0], self.shift[1] - up * near * self.scale
        return np.stack([x, y, near], axis=1)

    def seen(self, x: Floats, y: Floats, depth: Floats) -> Floats:
        """(3, height, width): the points of rows of the picture, by their depth; y: (height, 1)."""
        right, up = (x - self.shift[0]) / (depth * self.scale), (self.shift[1] - y) / (depth * self.scale)
        toward = self.distance - self.distance / depth
        a, b, c = self.axes
        return np.stack([self.centre[k] + right * a[k] + up * b[k] + toward * c[k] for k in range(3)])

    def on_ground(self, x: Floats, y: Floats, height: float) -> Floats:
        """The depth of a level ground along rows of the picture."""
        # The way from the viewer through the picture's plane, per unit of distance.
        fall = (self.axes[1, 2] * (self.shift[1] - y) + self.axes[0, 2] * (x - self.shift[0])) / self.scale
        fall = fall / self.distance - self.axes[2, 2]
        start = self.centre[2] + self.axes[2, 2] * self.distance - height
        depth: Floats = self.distance * np.maximum(-fall, 1e-3) / start
        return depth


@dataclass(frozen=True)
class _Light:
    """The sun or the sky in one direction. axes: rows right, up, to the light. weight: its share of sun or sky."""

    axes: Floats
    weight: float
    sun: bool


@dataclass(frozen=True)
class _Map:
    """How near to a light everything is. to_texel: rows column, row, depth from (x, y, z, 1). All else in mm."""

    to_texel: Singles
    depths: Singles
    texel: float

    def lit(self, points: Singles, jitter: Singles) -> npt.NDArray[np.bool_]:
        """(n,) whether the light reaches points (3, n). jitter: (2, n) by how many texels to look beside them."""
        x, y, z = points
        (ax, ay, _, a), (bx, by, bz, b), (cx, cy, cz, c) = self.to_texel
        height, width = self.depths.shape
        u = x * ax
        u += y * ay
        u += jitter[0] + a
        v = x * bx
        v += y * by
        v += z * bz
        v += jitter[1] + b
        # Outside there is nothing in the way: the map's rim is empty.
        np.minimum(np.maximum(u, 0, out=u), width - 1, out=u)
        np.minimum(np.maximum(v, 0, out=v), height - 1, out=v)
        at = v.astype(np.int32)
        at *= width
        at += u.astype(np.int32)
        here = x * cx
        here += y * cy
        here += z * cz
        here += c
        reached: npt.NDArray[np.bool_] = self.depths.reshape(-1)[at] <= here
        return reached


def soft_picture(
    bodies: Sequence[Body],
    *,
    size: tuple[int, int] = (480, 360),
    eye: Eye | None = None,
    high: float = 38.0,
    quality: Quality = Quality(),
    sun: float = SUN_BEHIND,
    workers: int | None = None,
) -> Image.Image:
    """A picture of solids in daylight; the same whatever the number of workers.

    size: pixels; a height of 0 is as high as it takes. eye: the corner it is seen from; None: the one from which what
    stands up is farthest away. high: how far above the horizon the viewer is, degrees. sun: how far
    to the right of straight behind the picture it stands, degrees. workers: threads; None: one per core.

    Raises:
        ValueError: no triangles, arrays of another shape, a coordinate that is not finite, a corner that is not there.
    """
    scene = _scene(bodies)
    view, size = _view(scene, eye or open_corner(scene.points, scene.triangles), high, size)
    lights = _lights(view.axes, quality, sun)
    texel = float(np.sqrt((np.ptp(scene.points, axis=0) ** 2).sum())) / (max(size) * quality.texels)
    workers = workers or os.cpu_count() or 1
    with ThreadPoolExecutor(workers) as pool:
        each = map if workers == 1 else pool.map
        mapped = each(lambda light: _mapped(scene, light.axes, texel), lights)
        front, depth = _looked(scene, view, (size[0] * _SAMPLES, size[1] * _SAMPLES))
        maps = list(mapped)

        def rows(begin: int) -> npt.NDArray[np.uint8]:
            seen = _seen(scene, view, front, depth, begin)
            chosen, owner = _apart(seen, view)
            return _developed(seen, _lit(seen, chosen, lights, maps), owner, scene.tones)

        parts = list(each(rows, range(0, len(front), _ROWS)))
    return Image.fromarray(np.concatenate(parts))


# Small pictures, drawn while somebody waits.
QUICK = Quality(sky=8, sun=5)


def soft_png(
    points: npt.ArrayLike,
    triangles: npt.ArrayLike,
    tones: Floats | None = None,
    *,
    size: tuple[int, int] = (480, 360),
    quality: Quality = Quality(),
    kind: Literal["PNG", "JPEG"] = "PNG",
) -> bytes:
    """The file of a picture of one solid; see `soft_picture` and `Body`."""
    body = Body(np.asarray(points, np.float64), np.asarray(triangles, np.int64), tones)
    return soft_file(soft_picture([body], size=size, quality=quality), kind)


def soft_file(picture: Image.Image, kind: Literal["PNG", "JPEG"] = "PNG") -> bytes:
    """The picture's file: PNG, or JPEG, which takes a quarter of the room."""
    out = io.BytesIO()
    if kind == "JPEG":
        picture.save(out, "JPEG", quality=88, optimize=True)
    else:
        picture.save(out, "PNG", compress_level=6)
    return out.getvalue()


def _along(points: Floats, axes: Floats) -> tuple[Floats, Floats, Floats]:
    """Points along three axes; not by a library for matrices, whose last digit depends on the number of its threads."""
    x, y, z = points.T
    right, up, toward = (x * a + y * b + z * c for a, b, c in axes.tolist())
    return right, up, toward


def _scene(bodies: Sequence[Body]) -> _Scene:
    """All bodies as one."""
    points, triangles, tones, first = [], [], [], 0
    for body in bodies:
        check_mesh(np.asarray(body.points, np.float64), np.asarray(body.triangles, np.int64))
        points.append(np.asarray(body.points, np.float64))
        triangles.append(np.asarray(body.triangles, np.int64) + first)
        tones.append(_by_colour(body.tones, len(body.triangles)))
        first += len(body.points)
    if not points:
        raise ValueError("no solids to draw")
    every, faces = np.concatenate(points), np.concatenate(triangles)
    a, b, c = (every[faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    lengths = np.sqrt((normals**2).sum(axis=1, keepdims=True))
    normals = normals / np.where(lengths > 0, lengths, 1.0)
    return _Scene(every, faces, np.concatenate(tones).astype(np.float32), normals.astype(np.float32))


def _by_colour(tones: Floats | None, number: int) -> Floats:
    """(m, 3) tones, whatever they are given as."""
    found: Floats = np.broadcast_to(np.ones(()) if tones is None else np.asarray(tones, np.float64).T, (3, number)).T
    return found


def tints_of(thing: Tile | Piece, mesh: Mesh) -> Floats | None:
    """The tones of a tile's or piece's triangles in the colours of its style; of floors up to the base's height.

    mesh: of the thing in its own pose. Leaves are of wood where there is a style.
    """
    style = thing.grid.surface.stone
    if style is None:
        return mesh.tones
    walls, floors = (_tints(style.colours_of(floor=floor), mesh.tones) for floor in (False, True))
    if isinstance(thing, Piece):
        if isinstance(thing, LooseLeaf) and not leaf_of(thing.opening.leaf).of_wall:
            walls = _tints((WOOD,), mesh.tones)
        floors = walls
    middles = mesh.vertices[:, 2][mesh.triangles].mean(axis=1)
    tints = np.where((middles < thing.grid.base_depth + _FLOOR_MM)[:, None], floors, walls)
    return tints if mesh.tones is None else tints * mesh.tones[:, None]


def _tints(colours: Sequence[str], tones: Floats | None) -> Floats:
    """The colour of each triangle, (m, 3) or (1, 3): one for all, or one for each stone, which is of one tone."""
    found: Floats = np.array([_tint(colour) for colour in colours])
    if tones is None or len(colours) == 1:
        return found[:1]
    # What is no stone has a tone of 1, or a darker one than stones.
    shares = np.where(tones < _DARKEST_STONE, 0.0, (tones - 1) * _APART % 1.0)
    return found[(shares * len(colours)).astype(np.int64)]


def _tint(colour: str) -> Floats:
    """How much of the light of plain stone a colour gives back, (3,)."""
    shown = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    tint: Floats = _linear(shown) / _linear(np.array(STONE) / 255.0)
    return tint


def _view(scene: _Scene, eye: Eye, high: float, size: tuple[int, int]) -> tuple[_View, tuple[int, int]]:
    """A view in which everything fits, and the picture's size."""
    beside = AZIMUTH if eye in ("south-east", "north-west") else -AZIMUTH
    axes = _axes((-90 if eye.startswith("south") else 90) + beside, high)
    low, top = scene.points.min(axis=0), scene.points.max(axis=0)
    centre = (low + top) / 2
    distance = _DISTANCE * float(np.sqrt(((top - low) ** 2).sum()))
    flat = _View(axes, centre, distance, 1.0, (0.0, 0.0)).projected(scene.points)[:, :2]
    least, most = flat.min(axis=0), flat.max(axis=0)
    if not size[1]:
        across, along = np.maximum(most - least, 1e-9).tolist()
        size = size[0], round(min(max(size[0] * along / across, size[0] / 4), size[0] * 1.25))
    room = np.array(size) * _SAMPLES * (1 - 2 * _MARGIN)
    scale = float((room / np.maximum(most - least, 1e-9)).min())
    x, y = (np.array(size) * _SAMPLES / 2 - (least + most) / 2 * scale).tolist()
    return _View(axes, centre, distance, scale, (x, y)), size


def _axes(azimuth: float, elevation: float) -> Floats:
    """Rows: right, up and toward, for what comes from a direction: counter-clockwise from the east, and up; degrees."""
    turn, rise = math.radians(azimuth), math.radians(elevation)
    level = np.array((math.cos(turn), math.sin(turn), 0.0))
    toward = level * math.cos(rise) + (0.0, 0.0, math.sin(rise))
    up = -level * math.sin(rise) + (0.0, 0.0, math.cos(rise))
    return np.array(((-math.sin(turn), math.cos(turn), 0.0), up, toward))


@dataclass(frozen=True)
class _Seen:
    """What some rows of the picture's samples show. front: (height, width) triangle, or none: the ground.

    first: the number of the first row. points, normals: (3, height, width). tones: what wear and dirt make of each
    sample, on corners and in joints.
    """

    first: int
    front: Ints
    points: Singles
    normals: Singles
    tones: Singles


def _looked(scene: _Scene, view: _View, fine: tuple[int, int]) -> tuple[Ints, Floats]:
    """The triangle that each sample shows, or none, and its depth."""
    faces, kept = faces_of(view.projected(scene.points)[scene.triangles])
    depth = np.full((fine[1], fine[0]), -np.inf)
    front = np.full((fine[1], fine[0]), NOTHING, np.int64)
    draw(faces, depth, front)
    return np.append(np.flatnonzero(kept), NOTHING)[front], depth


def _seen(scene: _Scene, view: _View, front: Ints, depth: Floats, begin: int) -> _Seen:
    """Some rows of samples from a number on."""
    low, high = max(begin - max(_REACHES), 0), min(begin + _ROWS + max(_REACHES), len(front))
    x: Floats = np.arange(front.shape[1], dtype=np.float64) + 0.5
    y: Floats = np.arange(low, high, dtype=np.float64)[:, None] + 0.5
    faces = front[low:high]
    on_ground = view.on_ground(x, y, float(scene.points[:, 2].min()))
    points = view.seen(x, y, np.where(faces == NOTHING, on_ground, depth[low:high])).astype(np.float32)
    every = np.concatenate([scene.normals, np.array([(0, 0, 1)], np.float32)])
    normals = np.stack([every[:, k][faces] for k in range(3)])
    own = slice(begin - low, begin - low + _ROWS)
    tones = _worn(points, normals, faces, 1 / view.scale)[own]
    tones *= np.where(faces[own] == NOTHING, np.float32(1), _mottled(points[:, own]))
    return _Seen(begin, faces[own], points[:, own], normals[:, own], tones)


def _worn(points: Singles, normals: Singles, front: Ints, sample: float) -> Singles:
    """What wear adds to the tone of corners that stand out, and dirt takes from hollow ones; 1 on what is flat.

    From how far the surface beside each sample lies above it or below. sample: mm between samples.
    """
    found = np.zeros(front.shape, np.float32)
    for reach in _REACHES:
        for axis in (1, 2):
            ahead, behind = [slice(None)] * 3, [slice(None)] * 3
            ahead[axis], behind[axis] = slice(reach, None), slice(None, -reach)
            to, at = tuple(ahead), tuple(behind)
            way = points[to] - points[at]
            length = np.sqrt(way[0] ** 2 + way[1] ** 2 + way[2] ** 2) + np.float32(1e-9)
            near = length < 6 * reach * sample
            for here, sign in ((at, 1), (to, -1)):
                n = normals[here]
                rise = (way[0] * n[0] + way[1] * n[1] + way[2] * n[2]) * (np.float32(sign) / length)
                # Where the surface breaks off, only what falls away counts.
                found[here[1:]] -= np.where(near | (rise < 0), np.clip(rise, -0.7, 0.7), 0)
    found[front == NOTHING] *= 0.3
    worn: Singles = np.clip(1 + np.where(found > 0, _WEAR, _DIRT) * found, 0.45, 1.4).astype(np.float32)
    return worn


def _mottled(points: Singles) -> Singles:
    """The tone of what is not quite of one colour, about 1: waves in space that bend each other."""
    found = np.ones(points.shape[1:], np.float32)
    for length, most in _SPOTS:
        x, y, z = points * np.float32(2 * math.pi / length)
        bent = np.sin(x * np.float32(0.47) - y * np.float32(0.31) + z * np.float32(0.62))
        bent += np.sin(y * np.float32(0.53) + z * np.float32(0.41))
        bent *= np.float32(1.6)
        waves = np.sin(x * np.float32(0.83) + y * np.float32(0.39) + bent)
        waves += np.sin(y * np.float32(0.91) - z * np.float32(0.44) - bent)
        waves += np.sin(z * np.float32(0.87) - x * np.float32(0.36) + bent)
        found += waves * np.float32(most / 3)
    return found


def _lights(view: Floats, quality: Quality, aside: float) -> list[_Light]:
    """The sun from several places of its disc, and the sky from all around; view: the viewer's axes."""
    sun, sky = [], []
    toward = math.degrees(math.atan2(view[2, 1], view[2, 0]))
    golden = 180 * (3 - math.sqrt(5))
    for k in range(quality.sun):
        # Evenly over a disc.
        reach, turn = _SUN_WIDE * math.sqrt((k + 0.5) / quality.sun), math.radians(k * golden)
        beside = reach * math.cos(turn) / math.cos(math.radians(_SUN_HIGH))
        axes = _axes(toward + 180 - aside + beside, _SUN_HIGH + reach * math.sin(turn))
        sun.append(_Light(axes, 1 / (quality.sun * math.sin(math.radians(_SUN_HIGH))), sun=True))
    for k in range(quality.sky):
        # Evenly over the upper half of a ball.
        rise = math.asin((k + 0.5) / quality.sky)
        axes = _axes(toward + 20 + k * golden, math.degrees(rise))
        level = float(axes[2, 0] * view[2, 0] + axes[2, 1] * view[2, 1]) / float(np.hypot(view[2, 0], view[2, 1]))
        sky.append((axes, 1 + _FILL * level))
    whole = math.fsum(axes[2, 2] * share for axes, share in sky)
    return [*sun, *(_Light(axes, share / whole, sun=False) for axes, share in sky)]


def _mapped(scene: _Scene, axes: Floats, texel: float) -> _Map:
    """The depth map of one light. texel: mm."""
    right, up, toward = _along(scene.points, axes)
    left, low = float(right.min()) - 2 * texel, float(up.min()) - 2 * texel
    width, height = (
        math.ceil((float(most) - least) / texel) + 3 for most, least in ((right.max(), left), (up.max(), low))
    )
    flat = np.stack([(right - left) / texel, (up - low) / texel, toward], axis=1)
    depths = np.full((height, width), -np.inf)
    x, y, z = axes[2].tolist()
    facing = np.flatnonzero(scene.normals[:, 0] * x + scene.normals[:, 1] * y + scene.normals[:, 2] * z > 1e-4)
    for begin in range(0, len(facing), _TRIANGLES):
        # Walked the other way round, since here y points up.
        corners = flat[scene.triangles[facing[begin : begin + _TRIANGLES], ::-1]]
        draw(faces_of(corners)[0], depths)
    rows = np.concatenate([axes, [[0], [0], [0]]], axis=1)
    rows[:2] /= texel
    rows[:, 3] = -left / texel, -low / texel, 0.3 * texel
    return _Map(rows.astype(np.float32), depths.astype(np.float32), texel)


def _apart(seen: _Seen, view: _View) -> tuple[Ints, Ints]:
    """Samples to be lit, and for each sample which of those gives its light: one for those of a pixel in one plane."""
    height, width = seen.front.shape
    number = np.arange(height * width).reshape(height, width)
    chosen = number.copy()
    head = slice(None, None, _SAMPLES)
    px, py, pz = seen.points[:, head, head]
    nx, ny, nz = seen.normals[:, head, head]
    for row in range(_SAMPLES):
        for column in range(_SAMPLES):
            at = slice(row, None, _SAMPLES), slice(column, None, _SAMPLES)
            (x, y, z), (mx, my, mz) = seen.points[:, *at], seen.normals[:, *at]
            same = nx * mx + ny * my + nz * mz > 0.98
            same &= np.abs((x - px) * nx + (y - py) * ny + (z - pz) * nz) < 0.5 / view.scale
            chosen[at] = np.where(same, number[head, head], number[at])
    lit = np.zeros(height * width, np.bool_)
    lit[chosen.reshape(-1)] = True
    return np.flatnonzero(lit), (np.cumsum(lit) - 1)[chosen]


def _lit(seen: _Seen, chosen: Ints, lights: Sequence[_Light], maps: Sequence[_Map]) -> Singles:
    """(n, 3) the light on the samples chosen."""
    width = seen.front.shape[1]
    up = seen.normals.reshape(3, -1)[:, chosen]
    # Start a little off the surface, or it would shade itself.
    here = seen.points.reshape(3, -1)[:, chosen] + up * np.float32(1.5 * maps[0].texel)
    jitter = _jitter((seen.first + chosen // width) // _SAMPLES, chosen % width // _SAMPLES)
    sun, sky, reached = (np.zeros(len(chosen), np.float32) for _ in range(3))
    for number, (light, depths) in enumerate(zip(lights, maps, strict=True)):
        x, y, z = (light.axes[2] * light.weight).astype(np.float32)
        share = up[0] * x
        share += up[1] * y
        share += up[2] * z
        np.maximum(share, 0, out=share)
        lit = depths.lit(here, jitter[number % len(jitter)] * np.float32(1 if light.sun else 2))
        share *= lit
        if light.sun:
            sun += share
        else:
            sky += share
            reached += lit
    # What comes back from the ground and from the stones around.
    back = (np.float32(1) - np.float32(0.55) * up[2]) * (np.float32(0.3) + np.float32(0.7) * reached / _many(lights))
    return np.stack([sun * a + sky * b + back * c for a, b, c in zip(*_COLOURS, strict=True)], axis=1)


def _many(lights: Sequence[_Light]) -> np.float32:
    return np.float32(max(1, sum(not light.sun for light in lights)))


def _jitter(row: Ints, column: Ints) -> list[Singles]:
    """Ways to look beside a texel, up to half of one, that differ from pixel to pixel: the steps of shadows vanish."""
    # An ordered dither of 4 x 4 (Bayer, 1973).
    steps = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], np.float32)
    order: Singles = ((steps - np.float32(7.5)) / 16).astype(np.float32)
    u, v = order[row % 4, column % 4], order[(column + 1) % 4, (row + 2) % 4]
    return [np.stack(pair) for pair in ((u, v), (-v, u), (-u, -v), (v, -u))]


def _developed(seen: _Seen, light: Singles, owner: Ints, tones: Singles) -> npt.NDArray[np.uint8]:
    """(height, width, 3) in sRGB."""
    high, wide = (samples // _SAMPLES for samples in seen.front.shape)
    ground = seen.front == NOTHING
    stone, paper = (_linear(np.array(colour) / 255.0).astype(np.float32) for colour in (STONE, GROUND))
    # Ground without anything near shows its own colour.
    paper = paper / (1 + _COLOURS[2] * np.float32(0.45))
    steps, curve = len(_CURVE) - 1, _CURVE
    pixels = np.empty((high, wide, 3), np.uint8)
    for k in range(3):
        values = light[:, k][owner]
        values *= seen.tones
        values *= np.where(ground, np.float32(1), tones[:, k][seen.front])
        values *= np.where(ground, paper[k], stone[k])
        whole = values.reshape(high, _SAMPLES, wide, _SAMPLES).mean(axis=(1, 3), dtype=np.float64)
        pixels[:, :, k] = curve[np.round(np.clip(_shouldered(whole), 0, 1) * steps).astype(np.int64)]
    return pixels


def _shouldered(values: Floats) -> Floats:
    """Light with its brightest part pressed together, instead of cut off."""
    knee = 0.75
    over = np.maximum(values - knee, 0)
    return np.where(values > knee, knee + (1 - knee) * over / (over + (1 - knee)), values)


def _linear(values: Floats) -> Floats:
    """Light from sRGB (IEC 61966-2-1)."""
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def _encoded(values: Floats) -> Floats:
    """Light as sRGB (IEC 61966-2-1)."""
    return np.where(values <= 0.0031308, values * 12.92, 1.055 * values ** (1 / 2.4) - 0.055)


_CURVE = np.round(255 * _encoded(np.arange(8193) / 8192)).astype(np.uint8)
