"""Pictures of solids: what hides what, edges and faces, against plain loops over all pixels."""

from __future__ import annotations

import math
from collections import Counter

import manifold3d
import numpy as np
import pytest

from tests.laidout import PLAIN, pixels
from tilegen.pictures import solid_view
from tilegen.pictures.depth import rasterised
from tilegen.pictures.solid_view import open_corner, solid_png
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile


def cuboid(x0, y0, z0, x1, y1, z1):
    return manifold3d.Manifold.cube((x1 - x0, y1 - y0, z1 - z0)).translate((x0, y0, z0))


def mesh_of(*solids):
    mesh = sum(solids, manifold3d.Manifold()).to_mesh64()
    return np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts)


def tile_solid(tile):
    """A tile's plates as blocks: good for those whose feet are upright rectangles."""
    blocks = []
    for plate in tile.plates:
        west, south, east, north = plate.foot.bounds
        blocks.append(cuboid(west, south, plate.bottom - 0.001, east, north, plate.top))
    return mesh_of(*blocks)


def test_a_tile_is_seen_and_repeats_byte_for_byte():
    tile = make_tile("corner", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), PLAIN)
    points, faces = tile_solid(tile)
    png = solid_png(points, faces, size=(320, 240))
    found = pixels(png)
    assert found.shape == (240, 320, 3)
    drawn = (found != solid_view.BACKGROUND).any(axis=2)
    assert 0.25 < drawn.mean() < 0.7
    assert not drawn[:8].any()
    assert not drawn[:, -8:].any()
    assert png == solid_png(points.astype(np.float32), faces.astype(np.uint32), size=(320, 240))
    tones = Counter(map(tuple, found[drawn].tolist())).most_common(3)
    assert len({sum(tone) // 60 for tone, _ in tones}) == 3  # floor and the two inner faces differ in grey too


GROUND_PLATE = cuboid(0, 0, 0, 80, 80, 4)
SCREEN = cuboid(10, 30, 4, 70, 34, 50)


def test_a_nearer_face_hides_a_farther_one():
    alone = solid_png(*mesh_of(GROUND_PLATE, SCREEN), eye="south-east")
    behind = solid_png(*mesh_of(GROUND_PLATE, SCREEN, cuboid(30, 40, 4, 38, 48, 12)), eye="south-east")
    before = solid_png(*mesh_of(GROUND_PLATE, SCREEN, cuboid(30, 10, 4, 38, 18, 12)), eye="south-east")
    assert alone == behind
    assert (pixels(before) != pixels(alone)).any(axis=2).sum() > 300
    from_behind = [
        solid_png(*mesh_of(GROUND_PLATE, SCREEN, *more), eye="north-west")
        for more in ([], [cuboid(30, 40, 4, 38, 48, 12)])
    ]
    assert from_behind[0] != from_behind[1]


def test_the_depth_buffer_agrees_with_plain_loops():
    rng = np.random.default_rng(7)
    points = rng.uniform(0, 40, (60, 3))
    faces = np.arange(60).reshape(20, 3)
    size = (64, 48)
    seen = solid_view._projected(points, faces, size)
    front, _ = rasterised(seen, size)
    assert 5 < len(seen.corners) < 20
    wrong = 0
    for row in range(size[1]):
        for column in range(size[0]):
            p, best, nearest = np.array((column + 0.5, row + 0.5)), -1, -math.inf
            for number, (a, b, c) in enumerate(seen.corners):
                weights = np.linalg.solve(np.array([[*a, 1], [*b, 1], [*c, 1]]).T, np.array([*p, 1.0]))
                if (weights > 0).all():
                    depth = seen.plane[number] @ (*p, 1.0)
                    if depth > nearest:
                        best, nearest = number, depth
            wrong += best != front[row, column]
    assert wrong == 0


def test_depth_is_that_of_the_corners():
    points = np.array([(0, 0, 5), (9, 1, 0), (3, 8, 2.0)])
    seen = solid_view._projected(points, np.array([(0, 1, 2)]), (90, 80))
    scale = np.linalg.norm(seen.corners[0, 1] - seen.corners[0, 0]) / math.hypot(9, 1)
    depths = [float(seen.plane[0] @ (*corner, 1.0)) / scale for corner in seen.corners[0]]
    assert np.array(depths) - depths[0] == pytest.approx([0, -5, -3])


def test_sharp_edges_are_lines_and_smooth_ones_are_not():
    dark = solid_view.EDGE.astype(int) + 25
    ball = mesh_of(manifold3d.Manifold.sphere(20, 120))
    found = pixels(solid_png(*ball, size=(300, 300)))
    assert not (found[80:220, 80:220] < dark).all(axis=2).any()
    cube = pixels(solid_png(*mesh_of(cuboid(0, 0, 0, 20, 20, 20)), size=(300, 300)))
    assert (cube[80:220, 80:220] < 95).all(axis=2).sum() > 150  # the darkest of its faces is 114


def test_a_step_between_level_faces_is_a_line():
    # From above one corner the top of the low block is seen beside the top of the high one: same tone, so a line.
    steps = mesh_of(cuboid(0, 0, 0, 40, 40, 10), cuboid(0, 39.9, 0, 40, 80, 14))
    seen = solid_view._projected(steps[0] @ solid_view.axes_of("north-west").T, steps[1], (600, 600))
    front, depth = rasterised(seen, (600, 600))
    lines = solid_view._edge_pixels(seen, front, depth)
    level = seen.normal @ solid_view.axes_of("north-west")[:, 2] > 0.99
    shown = np.where(front >= 0, level[front], False)
    above, below = shown[:-1] & shown[1:], front[:-1] != front[1:]
    depth = np.where(front >= 0, depth, 0.0)
    jump = above & below & (np.abs(depth[:-1] - depth[1:]) > 10)
    assert jump.sum() > 50
    assert (lines[:-1] & jump).sum() == jump.sum()


def test_walls_show_their_inner_faces():
    for walls, corner in [
        ("NW", "south-east"),
        ("NE", "south-west"),
        ("SW", "north-east"),
        ("SE", "north-west"),
        ("N", "south-east"),
        ("W", "south-east"),
        ("E", "south-west"),
        ("S", "north-east"),
        ("", "south-east"),
        ("NESW", "south-east"),
    ]:
        sides = tuple(WALL if letter in walls else OPEN for letter in "NESW")
        assert open_corner(*tile_solid(make_tile("t", single_cell(Cell(sides), (2, 2)), PLAIN))) == corner


def test_a_mesh_of_many_triangles_and_nonsense():
    ball = manifold3d.Manifold.sphere(20, 450).to_mesh64()
    points, faces = np.array(ball.vert_properties)[:, :3], np.array(ball.tri_verts)
    assert len(faces) > 100_000
    found = pixels(solid_png(points, faces, size=(200, 200)))
    drawn = (found != solid_view.BACKGROUND).any(axis=2)
    radius = 100 * (1 - 2 * 0.07)
    assert drawn[20:180, 20:180].sum() == pytest.approx(math.pi * radius**2, rel=0.08)
    with pytest.raises(ValueError, match="expected"):
        solid_png(points, np.zeros((0, 3), int))
    with pytest.raises(ValueError, match="finite"):
        solid_png(points * math.nan, faces)
