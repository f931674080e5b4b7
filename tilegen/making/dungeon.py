"""The whole dungeon as it lies on the table: a picture, and a file for 3D viewers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.fit.figures import figures_on
from tilegen.geometry import Points
from tilegen.pictures.soft_view import SUN_BEFORE, Body, Quality, soft_file, soft_picture, tints_of
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, corners, placed_pieces
from tilegen.solids.build import Mesh
from tilegen.solids.formats import Item, Scene, chosen
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Plate
from tilegen.tiles.tile import Tile

# Pixels, at most, and per mm of the plan; how far above the horizon the viewer is, so that walls hide little floor.
_LEAST, _PER_MM, _HIGH = 480, 2.0, 50.0
# The widest picture, and how finely it is drawn: as every build has it, and as is asked for with the large pictures.
_QUICK, _FINE = (900, Quality(sky=9, sun=6, texels=0.5)), (1400, Quality(sky=20, sun=10, texels=0.7))
# Lighter and darker tiles, by their number: so that one sees what is one tile.
_TONES = (1.0, 0.965, 1.02, 0.985, 1.035, 0.95, 1.01)
# A figure of our own: a pawn on its base, as (radius, height) in mm; dark. Its base: common practice.
_PAWN = (
    (12.7, 0.0),
    (12.7, 2.2),
    (11.9, 3.0),
    (6.8, 3.0),
    (5.6, 7.0),
    (3.8, 14.0),
    (3.1, 20.5),
    (4.6, 21.6),
    (3.4, 22.6),
    (4.5, 24.6),
    (4.9, 26.8),
    (4.5, 29.0),
    (3.0, 30.9),
    (0.0, 31.8),
)
_PAWN_TONE, _SIDES = 0.3, 32


def dungeon_files(
    kit: Kit, drawing: Drawing, meshes: Mapping[str, Mesh], *, figures: bool = False, fine: bool = False
) -> dict[str, bytes]:
    """Its picture, and its file in each of the formats that hold a dungeon.

    meshes: by the id of their type. figures: whether some stand in the picture. fine: larger, and slower to draw.
    """
    scene = dungeon_scene(kit, drawing, meshes)
    files = {f"dungeon.{row.word}": row.writer.write(scene) for row in chosen("dungeon")}
    by_name = {mesh.name: mesh for mesh in scene.meshes}
    kinds: list[Tile | Piece] = [*(kind.tile for kind in kit.types), *(kind.piece for kind in kit.pieces)]
    tints = {meshes[thing.id].name: tints_of(thing, meshes[thing.id]) for thing in kinds if thing.id in meshes}
    bodies = []
    for number, item in enumerate(scene.items):
        mesh = by_name[item.name]
        tones, tint = np.full(len(mesh.triangles), _TONES[number % len(_TONES)]), tints[item.name]
        if tint is not None:
            tones = tint * (tones[:, None] if tint.ndim == 2 else tones)
        bodies.append(Body(vertices_of(item, mesh), mesh.triangles.astype(np.int64), tones))
    if figures:
        bodies += _figures(drawing, bodies)
    points = np.concatenate([body.points for body in bodies])
    most, quality = _FINE if fine else _QUICK
    width = round(min(max(float(np.ptp(points[:, :2], axis=0).max()) * _PER_MM, _LEAST), most))
    picture = soft_picture(bodies, size=(width, 0), eye="south-east", high=_HIGH, quality=quality, sun=SUN_BEFORE)
    return {"dungeon.png": soft_file(picture), **files}


def dungeon_scene(kit: Kit, drawing: Drawing, meshes: Mapping[str, Mesh]) -> Scene:
    """Every tile and every piece that stands by itself, x to the east, y to the north, z up from the table."""
    posts = [kind.piece.id for kind in kit.pieces if kind.piece.upside_down]
    meshes = {**meshes, **{key: _upside_down(meshes[key]) for key in posts}}
    items = [*_tiles(kit, drawing, meshes), *_pieces(kit, drawing, meshes)]
    used = {item.name for item in items}
    return Scene([mesh for mesh in meshes.values() if mesh.name in used], items)


def vertices_of(item: Item, mesh: Mesh) -> Points:
    """The vertices of the mesh that an item copies, in its place."""
    (cosine, sine), (x, y, z) = item.placing(mesh.size)
    a, b, c = mesh.vertices.T
    placed: Points = np.stack([cosine * a - sine * b + x, sine * a + cosine * b + y, c + z], axis=1)
    return placed


def _tiles(kit: Kit, drawing: Drawing, meshes: Mapping[str, Mesh]) -> Iterator[Item]:
    for kind, corner in zip(kit.types, corners(kit, drawing), strict=True):
        width, depth = np.ptp(_outline(kind.tile.plates), axis=0).tolist()
        for (west, north), (_, _, turns) in zip(corner.tolist(), kind.places.tolist(), strict=True):
            yield Item(meshes[kind.tile.id].name, west, -north - (width if turns % 2 else depth), -turns % 4)


def _pieces(kit: Kit, drawing: Drawing, meshes: Mapping[str, Mesh]) -> Iterator[Item]:
    for kind, turn in placed_pieces(kit, drawing):
        table = turn.points(_outline(kind.piece.plates))
        west, south = float(table[:, 0].min()), -float(table[:, 1].max())
        foot = 0.0 if kind.piece.on_table else kind.piece.grid.base_depth
        # The peg of a post, which is printed on its head, is in the floor.
        foot -= sum(plate.height for plate in kind.piece.plates if plate.name == "peg")
        yield Item(meshes[kind.piece.id].name, west, south, -turn.quarter_turns % 4, foot)


def _upside_down(mesh: Mesh) -> Mesh:
    """The same turned over about the x axis, in the same box."""
    x, y, z = mesh.vertices.T
    _, depth, height = mesh.size
    return replace(mesh, vertices=np.stack([x, depth - y, height - z], axis=1))


def _outline(plates: Sequence[Plate]) -> Points:
    """(2, 2) the least and the greatest corner of what plates cover."""
    box: Points = shapely.total_bounds([plate.foot for plate in plates]).reshape(2, 2)
    return box


def _figures(drawing: Drawing, tiles: Sequence[Body]) -> Iterator[Body]:
    """A pawn in each room, on the space nearest to its middle where one stands."""
    standing = figures_on(drawing, [2 * _PAWN[0][0]])[0].standing
    cells = drawing.cell_spaces
    points, corners = _pawn()
    for room in np.unique(drawing.rooms[drawing.rooms > 0]).tolist():
        inside = np.repeat(np.repeat(drawing.rooms == room, cells, axis=0), cells, axis=1)
        row, column = np.nonzero(inside[: len(standing), : standing.shape[1]] & standing)
        if not len(row):
            continue
        middle = np.argmin((row - row.mean()) ** 2 + (column - column.mean()) ** 2)
        at = (float(column[middle] + 0.5) * drawing.grid.pitch, -float(row[middle] + 0.5) * drawing.grid.pitch)
        foot = np.array((*at, _floor_at(tiles, at)))
        yield Body(points + foot, corners, np.full(len(corners), _PAWN_TONE))


def _floor_at(tiles: Sequence[Body], at: tuple[float, float]) -> float:
    """How high the floor is at a point of the table that no wall stands on, mm."""
    heights = [0.0]
    for body in tiles:
        if not ((body.points[:, :2].min(axis=0) <= at) & (body.points[:, :2].max(axis=0) >= at)).all():
            continue
        a, b, c = (body.points[body.triangles[:, k]] - (*at, 0.0) for k in range(3))
        areas = np.stack([p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] for p, q in ((b, c), (c, a), (a, b))])
        over = (areas >= 0).all(axis=0) & (areas.sum(axis=0) > 0)
        z = areas[0] * a[:, 2] + areas[1] * b[:, 2] + areas[2] * c[:, 2]
        heights += (z[over] / areas[:, over].sum(axis=0)).tolist()
    return max(heights)


def _pawn() -> tuple[Points, npt.NDArray[np.int64]]:
    """Points and triangles of a pawn, about the z axis."""
    turn = np.arange(_SIDES) * (2 * math.pi / _SIDES)
    rings = [np.stack([r * np.cos(turn), r * np.sin(turn), np.full(_SIDES, z)], axis=1) for r, z in _PAWN]
    here = np.arange(_SIDES)
    after = (here + 1) % _SIDES
    faces = [np.stack([here[0] + 0 * here, after[::-1], here[::-1]], axis=1)]
    for low in range(len(_PAWN) - 1):
        a, b, c, d = (low * _SIDES + here, low * _SIDES + after, (low + 1) * _SIDES + after, (low + 1) * _SIDES + here)
        faces += [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    return np.concatenate(rings), np.concatenate(faces)
