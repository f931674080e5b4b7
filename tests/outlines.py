"""Random outlines: 2 to 200 corners, holes, thin necks; each must come out closed or be refused with its place.

`python -m tests.outlines 10000` tries that many; `python -m tests.outlines 10000 20000` starts at seed 20000.
"""

import io
import re
import sys
from collections import Counter

import numpy as np
import trimesh
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from tilegen.errors import InputError
from tilegen.files.profiles import check_holes, check_outline
from tilegen.model.grid import Floor, Grid
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.identity import ID_LENGTH
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import make_tile


def random_outline(random):
    """A star-shaped ring, sometimes pinched to a thin neck, with round or angular holes and walls on some edges."""
    corners = int(random.choice([2, 3, 4, 5, 6, 8, 13, 20, 30, 50, 80, 120, 200]))
    size = random.uniform(8, 90)
    angles = np.sort(random.uniform(0, 2 * np.pi, corners))
    spread = random.uniform(0, 0.9)
    radii = size * (1 - spread * random.uniform(0, 1, corners))
    points = np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1)
    if random.random() < 0.3:
        # A neck: everything near the middle is squeezed towards the x axis.
        near = np.abs(points[:, 0]) < size * 0.4
        points[near, 1] *= random.uniform(0.001, 0.2)
    if random.random() < 0.5:
        points = np.round(points, int(random.integers(0, 3)))
    points = points - points.min(axis=0)
    holes = []
    for _ in range(int(random.integers(0, 4)) if corners > 2 else 0):
        centre = points[random.integers(corners)] * 0.5 + points.mean(axis=0) * 0.5
        sides = int(random.integers(3, 20))
        ring = Point(*centre).buffer(random.uniform(0.2, size / 6), quad_segs=max(1, sides // 4)).exterior.coords[:-1]
        free = Polygon(points).buffer(0).difference(unary_union([Polygon(hole).buffer(0.5) for hole in holes]))
        if random.random() < 0.1 or Polygon(ring).buffer(0.3).within(free):
            holes.append(tuple((float(x), float(y)) for x, y in ring))
    walls = tuple(sorted({int(n) + 1 for n in random.integers(0, corners, int(random.integers(0, corners + 1)))}))
    if random.random() < 0.2:
        walls = tuple(range(1, corners + 1))
    return OutlineShape(tuple((float(x), float(y)) for x, y in points), walls, (), tuple(holes))


def attempt(shape):
    """The faults of the written file; the reason where the outline is refused."""
    grid = Grid(pitch=31.75, wall_thickness=3.0, floor=Floor(lines=len(shape.points) % 2 == 0))
    try:
        check_outline(shape.points, grid)
        check_holes(shape.points, shape.holes)
        tile = make_tile("t", shape, grid)
    except InputError as error:
        return str(error)
    assert len(tile.id) == ID_LENGTH
    mesh = build_mesh("t", tile.plates)
    read = trimesh.load_mesh(io.BytesIO(stl_bytes(mesh)), file_type="stl")
    read.merge_vertices(digits_vertex=12)
    assert read.is_watertight, "open"
    assert read.is_winding_consistent, "winding"
    assert abs(read.volume - tile.volume) < 1e-3 + 2e-5 * tile.volume, (read.volume, tile.volume)
    assert tile.base.foot.within(Polygon(shape.points).buffer(1e-3))
    return None


def tried(seeds):
    """How many come out closed, and the reasons of the others.

    Raises:
        AssertionError: names the seed whose solid is wrong.
    """
    refused = []
    count = 0
    for seed in seeds:
        count += 1
        try:
            why = attempt(random_outline(np.random.default_rng(seed)))
        except Exception as error:
            raise AssertionError(f"seed {seed}: {type(error).__name__}: {error}") from error
        if why:
            refused.append(why)
    return count - len(refused), refused


def kinds(reasons):
    """How often each reason was given, its figures left out."""
    return Counter(re.sub(r"[-+]?\d[\d.e+-]*", "#", why.split(": ", 1)[-1])[:90] for why in reasons)


if __name__ == "__main__":
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    closed, refused = tried(range(first, first + int(sys.argv[1])))
    print(f"{closed} closed, {len(refused)} refused, each with its place: {all('(' in why for why in refused)}")
    for kind, count in kinds(refused).most_common():
        print(f"{count:6} {kind}")
