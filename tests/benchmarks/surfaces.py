"""Fully dressed tiles, profile file to STL bytes, against bare manifold3d making the same from ready numbers.

The tile of the figure: flagstones, two walls with a doorway each, eight slots for magnets from below.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, OpType

from tests.benchmarks.tiles import interleaved, numbers, prism, rings, stl_of
from tilegen.files.profiles import read_profile
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.plate import Mark

PROFILE = """
name = "dressed"
[tile]
size = [2, 2]
walls = ["north", "east"]
[[opening]]
wall = "north"
[[opening]]
wall = "east"
[surface]
seed = {seed}
floor = "{floor}"
walls = "{walls}"
"""
SURFACES = (
    ("flagstones", "none"),
    ("planks", "none"),
    ("cobbles", "none"),
    ("rough", "none"),
    ("flagstones", "brick"),
    ("cobbles", "ashlar"),
    ("planks", "timber"),
)
STONES = 25
# Slots of 5 mm discs, 3 mm deep, 32 corners.
SLOT_DEPTH = 3.0


def slots() -> tuple[Mark, ...]:
    """Two round slots along each edge, from below."""
    ring = 2.6 * np.stack([np.cos(np.arange(32) * np.pi / 16), np.sin(np.arange(32) * np.pi / 16)], axis=1)
    at = [(a, b) for a in (15.875, 47.625) for b in (4.0, 59.5)]
    discs = [shapely.Polygon(ring + place) for place in (*at, *((b, a) for a, b in at))]
    return tuple(Mark((), disc, disc, SLOT_DEPTH, "under") for disc in discs)


def bare(tile) -> tuple:
    """What bare manifold3d is given beside the plain tile's numbers: under marks, and wall marks with their poses."""
    under = [rings(mark.region) for mark in tile.base.marks if mark.on == "under"]
    cuts = []
    for plate in tile.plates[1:]:
        (x, y), (dx, dy) = plate.edge[0], plate.direction
        for mark in plate.marks:
            out = plate.thickness - mark.depth
            pose = np.array([[dx, 0, dy, x + dy * out], [dy, 0, -dx, y - dx * out], [0, 1, 0, plate.bottom]])
            cuts.append((rings(mark.region), mark.depth + 0.5, pose))
    return under, cuts


def bare_bytes(plain, more) -> bytes:
    (base, depth, grooves, walls, doors), (under, cuts) = plain, more
    cutters = [prism(*g) for g in grooves] + [prism(u, -0.5, SLOT_DEPTH + 0.5) for u in under]
    solid = Manifold.batch_boolean([prism(base, 0, depth), *cutters], OpType.Subtract)
    wall = Manifold.batch_boolean([prism(*w) for w in walls], OpType.Add)
    cutters = [prism([q], b, h) for q, b, h in doors]
    cutters += [CrossSection(c, FillRule.EvenOdd).extrude(d).transform(pose) for c, d, pose in cuts]
    return stl_of(solid + Manifold.batch_boolean([wall, *cutters], OpType.Subtract))


def stones(tile) -> int:
    """How many pieces the grooves leave of the visible floor."""
    (mark,) = [m for m in tile.base.marks if m.on == "top"]
    return len(shapely.get_parts(mark.face.difference(mark.region)))


def measure() -> list[tuple[str, int, float, float, float]]:
    """(surface, stones, ours from the file on disk in ms, bare in ms, (ours - 0.5 ms) / bare)."""
    rows = []
    sunk = slots()
    with tempfile.TemporaryDirectory() as folder:
        for floor, walls in SURFACES:
            path = Path(folder) / "dressed.toml"
            for seed in range(1, 100):
                path.write_text(PROFILE.format(seed=seed, floor=floor, walls=walls))
                tile = read_profile(path)
                if floor != "flagstones" or stones(tile) == STONES:
                    break

            def ours(path: Path = path) -> bytes:
                base, *standing = read_profile(path).plates
                return stl_bytes(build_mesh("t", [replace(base, marks=(*base.marks, *sunk)), *standing]))

            tile = replace(tile, plates=(replace(tile.base, marks=(*tile.base.marks, *sunk)), *tile.plates[1:]))
            top = replace(tile.base, marks=tuple(m for m in tile.base.marks if m.on == "top"))
            plain, more = numbers(replace(tile, plates=(top, *tile.plates[1:]))), bare(tile)
            taken, least = interleaved(ours, lambda p=plain, m=more: bare_bytes(p, m), 60)
            rows.append((f"{floor}, walls {walls}", stones(tile), taken, least, (taken - 0.5) / least))
    return rows


if __name__ == "__main__":
    for name, count, taken, least, ratio in measure():
        print(
            f"{name:26} {count:3} stones {taken:7.2f} ms   bare {least:7.2f} ms   (ours - 0.5)/bare {ratio:5.2f}"
            "  (at most 1.5)"
        )
