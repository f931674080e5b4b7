"""Marks on every face of a plate: sunk and raised, their volume, the closed solid, the same id in every turn."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from tests.making import closed_solid
from tilegen.model.grid import Grid
from tilegen.solids.build import build_mesh
from tilegen.tiles.identity import canonical_ring
from tilegen.tiles.plate import Mark
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
STAR = Polygon([(20, 20), (30, 23), (40, 20), (37, 30), (40, 40), (30, 37), (20, 40), (23, 30)])
RING = Point(30, 20).buffer(6).difference(Point(30, 20).buffer(4))


def mark(region, depth, on, edge=None):
    return Mark((), region, region, depth, on, edge)


def cell_tile(sides):
    return make_tile("t", single_cell(Cell(sides), (2, 2)), GRID)


def dressed(turns, depth):
    """A tile with a wall to the north, turned clockwise, its wall's and base's faces marked."""
    sides = ((WALL, OPEN, OPEN, OPEN) * 2)[4 - turns : 8 - turns]
    base, wall = cell_tile(sides).plates
    low, high = GRID.half_play, GRID.tile_side - GRID.half_play
    corners = [(low, high), (high, high), (high, low), (low, low)]
    rim = corners[(2 + turns) % 4], corners[(3 + turns) % 4]
    wall = replace(wall, marks=(mark(RING, depth, "inner"), mark(RING, depth, "outer")))
    base = replace(base, marks=(*base.marks, mark(box(20, 2, 30, 4), depth, "rim", rim)))
    return base, wall


def test_upright_faces():
    for turns, depth in list(itertools.product(range(4), (0.8, -0.8))):
        plates = dressed(turns, depth)
        mesh = closed_solid(plates)
        bare = closed_solid(cell_tile((WALL, OPEN, OPEN, OPEN)).plates)
        taken = depth * (2 * RING.area + 20)
        assert mesh.volume == pytest.approx(bare.volume - taken, abs=1e-6)
        size = np.array(bare.size)
        if depth < 0:
            size[1] += 2 * 0.8
        got = np.array(mesh.size)[[0, 1, 2] if turns % 2 == 0 else [1, 0, 2]]
        assert got == pytest.approx(size, abs=1e-9)


def test_lying_faces():
    for on in ["top", "under"]:
        for depth in [0.5, -0.5]:
            grid = replace(GRID, floor=replace(GRID.floor, lines=False))
            base = make_tile("t", single_cell(Cell(), (2, 2)), grid).base
            plate = replace(base, marks=(mark(STAR, depth, on),))
            mesh = closed_solid([plate])
            assert mesh.size[2] == pytest.approx(grid.base_depth + max(-depth, 0), abs=1e-12)


def test_a_pocket_under_the_tile_opens_downwards():
    grid = replace(GRID, floor=replace(GRID.floor, lines=False))
    base = make_tile("t", single_cell(Cell(), (2, 2)), grid).base
    mesh = build_mesh("t", [replace(base, marks=(mark(STAR, 2.0, "under"),))])
    # Looked at from below: the pocket's roof stands 2 mm up and no face closes it.
    flat = mesh.vertices[mesh.triangles]
    roof = flat[(flat[:, :, 2] == 2.0).all(axis=1)]
    assert len(roof) >= 6


def test_a_mark_on_an_upright_face_needs_an_edge():
    base = make_tile("t", single_cell(Cell(), (2, 2)), GRID).base
    with pytest.raises(ValueError, match="edge"):
        build_mesh("t", [replace(base, marks=(mark(RING, 0.5, "rim"),))])


def test_a_lying_plate_is_measured_lying():
    base = cell_tile((OPEN,) * 4).base
    assert base.thickness == base.height == GRID.base_depth
    assert base.face().equals(base.foot)
    with pytest.raises(ValueError, match="lies flat and has no edge"):
        base.length  # noqa: B018


def test_the_ring_of_a_face_is_the_same_wherever_it_begins():
    ring = [(5, 5), (0, 0), (9, 0), (9, 9), (0, 9)]
    found = {canonical_ring(ring[n:] + ring[:n]) for n in range(5)}
    assert len(found) == 1
    assert next(iter(found))[0] == (0, 0)
    # Counter-clockwise, whichever way it was walked.
    assert Polygon(next(iter(found))).exterior.is_ccw
    assert canonical_ring(ring[::-1]) in found
    # Corners in the middle of a straight side do not count.
    assert canonical_ring([(0, 0), (4, 0), (9, 0), (9, 9), (0, 9), (5, 5)]) == next(iter(found))
    assert canonical_ring([]) == canonical_ring([(0, 0), (1, 0), (2, 0)]) == ()


def test_a_corner_off_its_line_by_rounding_does_not_count():
    corners = [(0, 0), (9000, 0), (9000, 9000), (0, 9000)]
    assert canonical_ring([*corners[:1], (4000, 1), *corners[1:]]) == tuple(corners)
    assert canonical_ring([*corners[:1], (4000, -1), *corners[1:]]) == tuple(corners)
    # Two micrometres are more than rounding, and a corner that turns back is none of a straight side's.
    assert (4000, 2) in canonical_ring([*corners[:1], (4000, 2), *corners[1:]])
    assert (9100, 1) in canonical_ring([*corners[:1], (9100, 1), *corners[1:]])
    # On a slant the distance counts, not the offset along x or y: 1.2 micrometres here, 1.8 there.
    slant = [(0, 0), (8000, 6000), (0, 6000)]
    assert canonical_ring([slant[0], (4000, 3000 - 1), *slant[1:]]) == tuple(slant)
    assert canonical_ring([slant[0], (4001, 3000 - 1), *slant[1:]]) == tuple(slant)
    assert (4003, 3000) in canonical_ring([slant[0], (4003, 3000), *slant[1:]])
    # Several on one side count as one would.
    several = [(2000, 1), (2001, 1), (4000, 0), (7000, 1)]
    assert canonical_ring([*corners[:1], *several, *corners[1:]]) == tuple(corners)
    assert set(several) < set(canonical_ring([*corners[:1], *several, (7500, 2), *corners[1:]]))


@pytest.mark.parametrize("radius", [2e3, 3000e3])
def test_a_fine_curve_keeps_its_corners(radius):
    # Every corner of such a curve is nearly straight; as one after the other they are not left out.
    angles = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    curve = np.round(np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=1)).astype(int)
    ring = canonical_ring([(x, y) for x, y in curve.tolist()])
    assert len(ring) > 1000
    assert Polygon(ring).exterior.hausdorff_distance(Polygon(curve).exterior) < 2
