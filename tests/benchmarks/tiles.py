"""Profile to STL bytes, against bare manifold3d making the same solid and the same bytes from ready numbers."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType

from tilegen.files.profiles import read_profile
from tilegen.files.toml import find
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes

PROFILES = ("floor", "one-wall", "corner", "corridor", "door", "custom-outline")


def rings(region):
    polygons = getattr(region, "geoms", [region])
    return [np.asarray(r.coords)[:-1] for p in polygons for r in (p.exterior, *p.interiors)]


def numbers(tile):
    """What bare manifold3d is given: rings, heights and openings, worked out beforehand."""
    walls = [(rings(p.foot), p.bottom, p.height) for p in tile.plates[1:]]
    doors = []
    for plate in tile.plates[1:]:
        (x, y), (dx, dy) = plate.edge[0], plate.direction
        for o in plate.openings:
            quad = [
                (x + dx * s + dy * d, y + dy * s - dx * d)
                for s, d in (
                    (o.centre - o.width / 2, -0.5),
                    (o.centre + o.width / 2, -0.5),
                    (o.centre + o.width / 2, plate.thickness + 0.5),
                    (o.centre - o.width / 2, plate.thickness + 0.5),
                )
            ]
            doors.append((np.array(quad), plate.bottom - 0.5, o.height + 0.5))
    grooves = [(rings(m.region), tile.base.top - m.depth, m.depth + 0.5) for m in tile.base.marks]
    return rings(tile.base.foot), tile.base.height, grooves, walls, doors


def prism(contours, bottom, height):
    return CrossSection(contours, FillRule.EvenOdd).extrude(height).translate((0, 0, bottom))


def bare(base, depth, grooves, walls, doors) -> bytes:
    solid = prism(base, 0, depth)
    if grooves:
        solid = Manifold.batch_boolean([solid, *(prism(*g) for g in grooves)], OpType.Subtract)
    if walls:
        wall = Manifold.batch_boolean([prism(*w) for w in walls], OpType.Add)
        if doors:
            wall = Manifold.batch_boolean([wall, *(prism([q], b, h) for q, b, h in doors)], OpType.Subtract)
        solid = solid + wall
    return stl_of(solid)


def stl_of(solid) -> bytes:
    mesh = solid.to_mesh64()
    vertices = np.asarray(mesh.vert_properties)[:, :3]
    corners = (vertices - vertices.min(axis=0))[np.asarray(mesh.tri_verts)].astype("<f4")
    records = np.zeros(len(corners), [("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = corners
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    records["n"] = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return bytes(80) + len(records).to_bytes(4, "little") + records.tobytes()


def interleaved(first: Callable[[], object], second: Callable[[], object], rounds: int = 120) -> tuple[float, float]:
    """Least time of each in ms, taken in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for work, taken in zip((first, second), times, strict=True):
            start = time.perf_counter()
            work()
            taken.append(time.perf_counter() - start)
    return min(times[0]) * 1e3, min(times[1]) * 1e3


def measure() -> list[tuple[str, float, float, float]]:
    """(profile, ours from the file on disk in ms, bare in ms, (ours - 0.5 ms) / bare)."""
    rows = []
    for name in PROFILES:
        path = find(name, "profiles")
        given = numbers(read_profile(path))
        ours, plain = interleaved(
            lambda p=path: stl_bytes(build_mesh("t", read_profile(p).plates)), lambda g=given: bare(*g)
        )
        rows.append((name, ours, plain, (ours - 0.5) / plain))
    return rows


if __name__ == "__main__":
    for name, ours, plain, ratio in measure():
        print(f"{name:16} {ours:7.3f} ms   bare {plain:7.3f} ms   (ours - 0.5)/bare {ratio:5.2f}  (at most 1.5)")
