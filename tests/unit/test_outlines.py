"""Outlines of any shape made into tiles: closed, both ways alike, or refused with the place of the fault.

Published figures: the shoelace example (1, 6), (3, 1), (7, 2), (4, 4), (8, 5), area 16.5 (Wikipedia, "Shoelace
formula"); Minkowski-Steiner formula A + P r + pi r^2 for convex outlines (Wikipedia, "Minkowski-Steiner formula").
"""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from tests.calling import call
from tests.files.test_outline_drawings import dxf
from tests.outlines import attempt, random_outline, tried
from tilegen.errors import InputError
from tilegen.files.profiles import open_profile, profile_grid, profile_tile, read_profile
from tilegen.model.grid import Floor, Grid
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import make_plates
from tilegen.tiles.walls import Joints, stock_band

L = [(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)]


def profile(path, points, **tile):
    words = "\n".join(f"{key} = {value!r}" for key, value in tile.items())
    pairs = ", ".join(f"[{x!r}, {y!r}]" for x, y in points)
    path.write_text(
        f'name = "a"\n[grid]\npitch = "10 mm"\nwall_thickness = "1 mm"\n[tile]\noutline = [{pairs}]\n{words}\n'
    )
    return path


def test_wrong_outlines_say_where(tmp_path):
    for points, extra, part in [
        ([(0, 0), (4, 4), (4, 0), (0, 4)], {}, "crosses or touches itself at (20, 20) mm"),
        ([(0, 0), (4, 0), (4, 0), (4, 4)], {}, "corners 2 and 3 are at the same place, (40, 0) mm"),
        ([(0, 0), (4, 0), (8, 0)], {}, "crosses or touches itself"),
        ([(0, 0), (0.01, 0), (0.01, 0.01)], {}, "hardly any area"),
        ([(0, 0), (400, 0), (400, 400)], {}, "4000 x 4000 mm, and the most is 40 spaces (400 mm)"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": [4]}, "there is no edge 4. Use numbers from 1 to 3"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": ["2-5"]}, "there is no edge 2-5"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": ["3-2"]}, "there is no edge 3-2"),
        (
            [(0, 0), (4, 0), (4, 4), (0, 4)],
            {"holes": [[[1, 1], [2, 1], [2, 9]]]},
            "the hole lies outside of the outline at (",
        ),
        ([(0, 0), (4, 0), (4, 4), (0, 4)], {"holes": [[[1, 1], [2, 1]]]}, "2 corners"),
        (
            [(0, 0), (4, 0), (4, 4), (0, 4)],
            {"holes": [[[1, 1], [2, 1], [2, 2]], [[1, 1], [2, 1], [2, 2]]]},
            "a hole touches the outline or another hole at (",
        ),
        (
            [(0, 0), (3, 0), (3, 1.99), (3.02, 1.99), (3.02, 0), (6, 0), (6, 4), (3.01, 2), (0, 4)],
            {},
            "near (30.1, 19.99) mm an outline is narrower than the gap between tiles, 0.3 mm",
        ),
        ([(0, 0), (3, 0), (3, 3), (0, 3)], {"outline_file": "a.dxf"}, "there is no such drawing"),
    ]:
        with pytest.raises(InputError) as caught:
            read_profile(profile(tmp_path / "p.toml", points, **extra))
        assert part in str(caught.value)


def test_a_coordinate_that_is_no_number_is_refused():
    for bad in (math.nan, math.inf):
        shape = OutlineShape(((0.0, 0.0), (40.0, bad), (40.0, 0.0)))
        with pytest.raises(InputError, match="a coordinate is not a number"):
            shape.check()


def test_shoelace_and_pick(tmp_path):
    """Area by the tool = shoelace = Pick's theorem (I + B / 2 - 1) for the published polygon and for an L."""
    for points, inside, border, area in (([(1, 6), (3, 1), (7, 2), (4, 4), (8, 5)], 15, 5, 16.5), (L, 8, 22, 18.0)):
        path = profile(tmp_path / "p.toml", points)
        path.write_text(path.read_text().replace("[grid]", "[floor]\nlines = false\n[grid]\njoint_play = 0"))
        assert inside + border / 2 - 1 == area
        assert read_profile(path).base.foot.area / 100 == pytest.approx(area, abs=1e-6)


@pytest.mark.parametrize(
    "points, exact",
    [
        ([(0, 0), (25.4, 0), (25.4, 25.4), (0, 25.4)], 696.745398),
        ([(0, 0), (4, 0), (4, 3)], 12.785398),
        # One reflex corner: A + P r + 5/4 pi r^2 - r^2; the formula for convex outlines would give 29.785398.
        (L, 29.731748),
    ],
)
def test_steiner(points, exact):
    """The library's round offsets, on which clearances rest, against closed formulas."""
    assert Polygon(points).buffer(0.5, quad_segs=512).area == pytest.approx(exact, abs=2e-6)


def test_play_is_a_mitred_offset(tmp_path):
    """A - P p + p^2 sum of cot(angle / 2) over the corners, for the inset by half the play."""
    tile = read_profile(profile(tmp_path / "p.toml", L))
    grown = Polygon([(x * 10, y * 10) for x, y in L])
    half = 0.15
    corners = 5 * 1 - 1
    assert tile.base.foot.area == pytest.approx(grown.area - grown.length * half + corners * half**2, abs=1e-3)


def test_drawing_and_points_make_the_same_tile(tmp_path):
    points = [(x * 10, y * 10) for x, y in L]
    dxf(tmp_path / "l.dxf", lambda m: m.add_lwpolyline(points, close=True))
    drawn = tmp_path / "d.toml"
    drawn.write_text(
        'name = "a"\n[grid]\npitch = "10 mm"\nwall_thickness = "1 mm"\n[tile]\noutline_file = "l.dxf"\nwalls = ["1-2", 6]\n'
    )
    assert read_profile(drawn).id == read_profile(profile(tmp_path / "p.toml", L, walls=["1-2", 6])).id


def test_a_drawn_tile_both_ways(tmp_path):
    dxf(
        tmp_path / "cave.dxf",
        lambda m: (
            m.add_lwpolyline(
                [(0, 0), (70, 0, 0, 0, 0.4), (90, 40), (60, 60, 0, 0, -0.5), (30, 70), (0, 60)], close=True
            ),
            m.add_circle((45, 30), 8),
        ),
        units=0,
    )
    path = tmp_path / "cave.toml"
    path.write_text('name = "cave"\n[tile]\noutline_file = "cave.dxf"\nwalls = ["1-24", 46, 47]\n')
    assert call("tile", path, "-o", tmp_path / "out").returncode == 2
    done = call("tile", path, "-o", tmp_path / "out", "--unit", "mm", "--verbose")
    assert (done.returncode, "read in mm" in done.stdout) == (0, True)
    picture = (tmp_path / "out" / "cave" / "cave.svg").read_text()
    assert ">46<" in picture
    assert "-24<" in picture or ">24<" in picture


def test_random_outlines_are_closed_or_refused_with_the_place():
    closed, refused = tried(range(30))
    assert closed > 10
    assert all("(" in why and ")" in why for why in refused), refused[:3]


def test_a_random_outline_is_what_it_says():
    shapes = [random_outline(np.random.default_rng(seed)) for seed in range(20)]
    corners = [len(shape.points) for shape in shapes]
    assert min(corners) < 6
    assert max(corners) > 150
    assert any(shape.holes for shape in shapes)


@pytest.mark.parametrize("seed", [26247, 28599])
def test_outlines_whose_walls_cover_the_whole_base(seed):
    """They once ended the program."""
    assert attempt(random_outline(np.random.default_rng(seed))) is None


@pytest.mark.parametrize("seed", [2819, 21652])
def test_outlines_that_once_came_out_open(seed):
    """Walls that touch in a point are refused there; grooves that walls leave touching in a point stop short of it."""
    why = attempt(random_outline(np.random.default_rng(seed)))
    assert why is None if seed == 21652 else "touch only in one point, (" in why


@pytest.mark.parametrize("stock", [6.0, 3.0])
def test_a_curve_is_one_bent_wall_on_sheets(tmp_path, stock):
    tile = read_profile(profile(tmp_path / "p.toml", [(x * 2, y * 2) for x, y in L], walls=["1-6"], round="12 mm"))
    plates = make_plates(tile.shape, tile.grid, stock_band(tile.grid, stock), Joints())
    bent = [plate for plate in plates if plate.bend]
    straight = [plate for plate in plates[1:] if not plate.bend]
    assert (len(bent), len(straight)) == (6, 6)
    depth = stock_band(tile.grid, stock).outer
    for plate in bent:
        side = 1 if plate.bend.turn > 0 else -1
        # A quarter of a circle: its outer face, and the ring's share between both faces.
        outer = 12 - side * depth
        assert abs(plate.bend.turn) == pytest.approx(math.pi / 2, abs=1e-6)
        assert plate.length == pytest.approx(math.pi / 2 * outer, abs=0.06)
        inner = outer - side * plate.thickness
        assert plate.foot.area == pytest.approx(math.pi / 4 * abs(outer**2 - inner**2), rel=0.01)
    # Straight ones end square where the curves begin.
    for plate in straight:
        assert plate.foot.area == pytest.approx(plate.length * plate.thickness, rel=1e-4)
    assert shapely.union_all([p.foot for p in plates[1:]]).area == pytest.approx(
        sum(p.foot.area for p in plates[1:]), abs=1e-6
    )


def test_a_curve_too_tight_for_a_wall_says_where(tmp_path):
    tile = read_profile(profile(tmp_path / "p.toml", L, walls=["1-6"], round="3 mm"))
    with pytest.raises(InputError, match=r"the curve near \(.*too tight for a wall"):
        make_plates(tile.shape, tile.grid, stock_band(tile.grid, 5.0), Joints())


def test_lines_off_and_deep_walls_stay_closed(tmp_path):
    opened = open_profile(profile(tmp_path / "p.toml", L, walls=["1-6"]))
    assert profile_grid(opened).floor.lines
    assert profile_tile(opened, Grid(pitch=10.0, wall_thickness=4.0, floor=Floor(lines=False))).volume > 0
