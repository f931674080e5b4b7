"""An outline of 100 corners with holes and a ring of walls, against bare manifold3d from ready numbers.

The bare program extrudes the base, takes the extruded grooves from it, extrudes the walls (one by one and joined, or as
their union worked out beforehand), takes the opening from them, adds them to the base and writes the bytes.
"""

from __future__ import annotations

import numpy as np
import shapely

from tests.benchmarks.tiles import bare, interleaved, numbers, rings
from tilegen.model.grid import Grid
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import make_tile

CORNERS = 100


def ring(centre: float, radius: float, corners: int, wave: float) -> tuple[tuple[float, float], ...]:
    angles = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    radii = radius * (1 + wave * np.sin(5 * angles))
    return tuple(
        (float(centre + r * np.cos(a)), float(centre + r * np.sin(a))) for r, a in zip(radii, angles, strict=True)
    )


def shape() -> OutlineShape:
    """A wavy ring with three round holes, a wall on every edge, a small way through one."""
    holes = tuple(ring(60 + dx, 6, 16, 0) for dx in (-20, 0, 20))
    return OutlineShape(
        ring(60, 55, CORNERS, 0.08), tuple(range(1, CORNERS + 1)), ((1, Opening(1.7, 1.5, 20.0)),), holes
    )


def measure(rounds: int = 30) -> tuple[float, float, float, float]:
    """ms from points to STL, from plates to STL, bare from 100 walls, bare from walls joined beforehand."""
    grid = Grid(wall_thickness=4.0)
    tile = make_tile("t", shape(), grid)
    given = numbers(tile)
    joined = shapely.union_all([plate.foot for plate in tile.plates[1:]])
    wall = tile.plates[1]
    ring_given = (*given[:3], [(rings(joined), wall.bottom, wall.height)], given[4])
    whole, many = interleaved(
        lambda: stl_bytes(build_mesh("t", make_tile("t", shape(), grid).plates)), lambda: bare(*given), rounds
    )
    solid, one = interleaved(lambda: stl_bytes(build_mesh("t", tile.plates)), lambda: bare(*ring_given), rounds)
    return whole, solid, many, one


if __name__ == "__main__":
    whole, solid, many, one = measure()
    print(f"{CORNERS} corners, 3 holes, {CORNERS} walls: points to STL {whole:.1f} ms, plates to STL {solid:.1f} ms")
    print(f"bare manifold3d {many:.1f} ms from {CORNERS} walls, {one:.1f} ms from their union")
    print(f"plates/walls {solid / many:.2f}, plates/union {solid / one:.2f} (at most 1.3)")
    print(f"points/walls {whole / many:.2f}, points/union {whole / one:.2f}")
