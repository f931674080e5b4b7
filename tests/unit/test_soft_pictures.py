"""Pictures in daylight: shadows against their closed form, light and tones, the same bytes whatever the workers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image

from tests.unit.test_solid_pictures import cuboid, mesh_of
from tilegen.pictures import soft_view
from tilegen.pictures.soft_view import GROUND, Body, Quality, soft_file, soft_picture

pytestmark = pytest.mark.thorough

COARSE = Quality(sky=12, sun=5)
SIZE = (160, 120)


def drawn(*solids, tones=None, **choices):
    points, faces = mesh_of(*solids)
    made = Body(points, faces.astype(np.int64), None if tones is None else np.full(len(faces), tones))
    return soft_picture([made], size=SIZE, quality=COARSE, **choices)


def grey(picture: Image.Image) -> np.ndarray:
    return np.asarray(picture.convert("L"), np.float64)


def test_the_same_bytes_with_one_worker_and_with_three():
    walls = cuboid(0, 0, 0, 60, 60, 6), cuboid(0, 54, 6, 60, 60, 40)
    assert soft_file(drawn(*walls, workers=1)) == soft_file(drawn(*walls, workers=3))


def test_open_ground_shows_its_own_colour_and_what_stands_on_it_is_inside():
    found = np.asarray(drawn(cuboid(0, 0, 0, 60, 60, 6)), np.int64)
    assert np.abs(found[:3] - GROUND).max() <= 6
    assert np.abs(found - GROUND).max(axis=2).mean() > 5


def test_a_shadow_is_as_long_as_the_sun_is_high():
    """Length = height / tan(elevation); measured on the ground from straight above, along the sun's way."""
    height, way = 30.0, math.radians(soft_view._SUN_HIGH)
    points, faces = mesh_of(cuboid(-1, -60, 0, 1, 60, height))
    scene = soft_view._scene([Body(points, faces.astype(np.int64))])
    # A sun over the east, across the wall.
    sun = soft_view._Light(soft_view._axes(0.0, soft_view._SUN_HIGH), 1.0, sun=True)
    depths = soft_view._mapped(scene, sun.axes, 0.25)
    x = np.linspace(-80, 20, 2001)
    ground = np.stack([x, 0 * x, 0 * x]).astype(np.float32)
    lit = depths.lit(ground, np.zeros((2, len(x)), np.float32))
    shaded = x[~lit]
    assert -shaded.min() - 1 == pytest.approx(height / math.tan(way), abs=0.6)
    assert lit[x > 1.5].all()


def test_the_sky_above_open_ground_is_whole_and_half_at_the_foot_of_a_long_wall():
    """A wall without end takes the half of the sky that lies behind it: the form factor is 1/2 (by symmetry)."""
    points, faces = mesh_of(cuboid(-4000, 0, 0, 4000, 10, 4000))
    scene = soft_view._scene([Body(points, faces.astype(np.int64))])
    view = np.array(((1.0, 0, 0), (0, 0.6, 0.8), (0, -0.8, 0.6)))
    for south, share in ((-30.0, 0.5), (-90_000.0, 1.0)):
        found = 0.0
        for light in soft_view._lights(view, Quality(sky=400, sun=0), 0.0):
            depths = soft_view._mapped(scene, light.axes, 20.0)
            at = np.array([[0.0], [south], [0.0]], np.float32)
            even = 2 * light.axes[2, 2] / 400  # the sky as bright all around
            found += even * float(depths.lit(at, np.zeros((2, 1), np.float32))[0])
        assert found == pytest.approx(share, abs=0.02)


def test_a_darker_tone_is_darker_and_no_line_is_black():
    plate = cuboid(0, 0, 0, 60, 60, 6)
    usual, dark = grey(drawn(plate)), grey(drawn(plate, tones=0.6))
    middle = slice(50, 70), slice(70, 90)
    assert dark[middle].mean() < usual[middle].mean() - 20
    assert usual.min() > 40


def test_a_doorway_lets_the_sun_in():
    """What lies before a wall is brighter where the wall has a doorway."""
    floor, wall = cuboid(0, 0, 0, 60, 60, 4), cuboid(0, 54, 4, 60, 60, 40)
    whole, opened = grey(drawn(floor, wall)), grey(drawn(floor, wall - cuboid(15, 50, 4, 45, 62, 34)))
    assert (opened > whole + 15).sum() > 100


def test_what_is_no_mesh_is_refused():
    points, faces = mesh_of(cuboid(0, 0, 0, 1, 1, 1))
    for bad in ([], [Body(points, np.zeros((0, 3), np.int64))], [Body(points * math.nan, faces.astype(np.int64))]):
        with pytest.raises(ValueError, match=r"solids|triangles|finite"):
            soft_picture(bad, size=SIZE)


def test_a_speck_and_a_mile_are_drawn():
    for size in (1e-3, 1e6):
        found = np.asarray(drawn(cuboid(0, 0, 0, size, size, size)), np.int64)
        assert np.abs(found - GROUND).max() > 60
