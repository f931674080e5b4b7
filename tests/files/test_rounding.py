"""Rounded corners: areas against (1 - pi / 4) r^2 for each right corner (elementary geometry), closed, refused."""

import io
import math

import pytest
import trimesh
from shapely.geometry import Polygon

from tests.calling import call
from tests.unit.test_outlines import L, profile
from tilegen.errors import InputError
from tilegen.files.profiles import read_profile, rounded
from tilegen.geometry import CHORD_MM
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes

LARGE = [(x * 10.0, y * 10.0) for x, y in L]


@pytest.mark.parametrize("points", [LARGE, LARGE[::-1]])
def test_area_of_right_corners(points):
    radius = 6.0
    made = rounded(points, [radius] * 6)
    # Five corners lose, the concave one gains; a chord leaves at most two thirds of its error times the arc.
    exact = 1800 - 4 * (1 - math.pi / 4) * radius**2
    assert Polygon(made.points).area == pytest.approx(exact, abs=6 * CHORD_MM * radius * math.pi / 2)
    assert Polygon(made.points).area != pytest.approx(1800, abs=5)
    assert Polygon(made.points).is_valid
    assert made.numbers == tuple(sorted(made.numbers))
    counts = [made.numbers.count(n) for n in range(1, 7)]
    assert len(set(counts)) == 1


def test_no_radius_changes_nothing():
    made = rounded(LARGE, [0.0] * 6)
    assert (made.points, made.numbers) == (tuple(LARGE), (1, 2, 3, 4, 5, 6))


def test_closed_with_walls_on_chosen_edges(tmp_path):
    tile = read_profile(profile(tmp_path / "p.toml", L, walls=[1, 2, 5], round="6 mm"))
    read = trimesh.load_mesh(io.BytesIO(stl_bytes(build_mesh("t", tile.plates))), file_type="stl")
    read.merge_vertices(digits_vertex=12)
    assert read.is_watertight
    assert read.volume == pytest.approx(tile.volume, rel=1e-4)


def test_what_does_not_fit_is_refused(tmp_path):
    for radius, part in [
        ("11 mm", "edge 2 is 20 mm long, but its two rounded corners take 22 mm"),
        ([[7, "2 mm"]], "there is no corner 7"),
        ([[1, "2 mm"], [1, "3 mm"]], "corner 1 is given twice"),
        ("-1 mm", "-1"),
    ]:
        path = profile(tmp_path / "p.toml", L, round=radius)
        with pytest.raises(InputError) as caught:
            read_profile(path)
        assert part in str(caught.value)


def test_the_command_refuses_with_2(tmp_path):
    assert call("tile", profile(tmp_path / "p.toml", L, round="30 mm"), "-o", tmp_path / "out").returncode == 2
