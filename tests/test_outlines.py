"""Outlines of any shape, from points and from drawings: read right, solid, refused with the place of the fault.

Published figures: the shoelace example (1, 6), (3, 1), (7, 2), (4, 4), (8, 5), area 16.5 (Wikipedia, "Shoelace
formula"); the bulge of a DXF polyline, tan(theta / 4) (Autodesk, GetBulge method); Minkowski-Steiner formula
A + P r + pi r^2 for convex outlines (Wikipedia, "Minkowski-Steiner formula").
"""

import io
import math
from dataclasses import replace
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import shapely
import trimesh
from shapely.geometry import Polygon

from tests.outlines import attempt, random_outline, tried
from tests.test_cli import run
from tilegen.errors import InputError
from tilegen.grid import Floor, Grid
from tilegen.reading.outline_checks import check_holes, check_outline
from tilegen.reading.outlines import read_outline
from tilegen.reading.profiles import open_profile, profile_grid, profile_tile, read_profile
from tilegen.reading.rings import CHORD_ERROR_MM
from tilegen.solids.build import build_mesh
from tilegen.solids.stl import stl_bytes
from tilegen.tiles.joints import Joints, printed_band, stock_band
from tilegen.tiles.outline import OutlineTile
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import make_plates, make_tile

L = [(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)]
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="50mm" viewBox="0 0 120 100">{}</svg>'


def dxf(path, draw, units=4):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    draw(document.modelspace())
    document.saveas(path)
    return path


def polygon(drawn):
    return Polygon(drawn.rings.points, drawn.rings.holes)


def profile(path, points, **tile):
    words = "\n".join(f"{key} = {value!r}" for key, value in tile.items())
    pairs = ", ".join(f"[{x!r}, {y!r}]" for x, y in points)
    path.write_text(
        f'name = "a"\n[grid]\npitch = "10 mm"\nwall_thickness = "1 mm"\n[tile]\noutline = [{pairs}]\n{words}\n'
    )
    return path


def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(tmp_path):
    path = dxf(
        tmp_path / "a.dxf",
        lambda m: m.add_lwpolyline([(0, 0), (25.4, 0, 0, 0, 1), (25.4, 25.4), (0, 25.4)], close=True),
    )
    drawn = polygon(read_outline(path))
    half = math.pi * 12.7
    # Chords lie inside: at most two thirds of the chord error times the arc.
    assert 898.5137 - CHORD_ERROR_MM * half < drawn.area < 898.5137
    assert drawn.length == pytest.approx(116.0982, rel=1e-3)
    assert drawn.bounds[2] == pytest.approx(38.1, abs=CHORD_ERROR_MM)


@pytest.mark.parametrize("bulge, sign", [(-1, -1), (0.414214, 1)])
def test_clockwise_and_quarter_bulges(tmp_path, bulge, sign):
    path = dxf(
        tmp_path / "a.dxf", lambda m: m.add_lwpolyline([(0, 0), (20, 0, 0, 0, bulge), (20, 20), (0, 20)], close=True)
    )
    radius = 10 if bulge == -1 else 10 * math.sqrt(2)
    angle = 4 * math.atan(abs(bulge))
    segment = radius**2 / 2 * (angle - math.sin(angle))
    assert polygon(read_outline(path)).area == pytest.approx(400 + sign * segment, abs=CHORD_ERROR_MM * radius * angle)


def test_loose_lines_arcs_and_holes_are_joined(tmp_path):
    def draw(m):
        m.add_line((0, 0), (50, 0))
        m.add_arc((50, 20), 20, 270, 90)
        m.add_line((0, 40), (50, 40))
        m.add_line((0, 40), (0, 0))
        m.add_circle((30, 20), 8)
        m.add_ellipse((55, 20), (6, 0), 0.5)
        m.add_text("not a line")

    drawn = read_outline(dxf(tmp_path / "a.dxf", draw))
    exact = 2000 + math.pi * (200 - 64 - 18)
    assert polygon(drawn).area == pytest.approx(exact, abs=CHORD_ERROR_MM * math.pi * 60)
    assert len(drawn.rings.holes) == 2
    assert drawn.rings.points[0] == (0, 0)


def test_units_are_read_and_said(tmp_path):
    square = lambda m: m.add_lwpolyline([(0, 0), (2, 0), (2, 2), (0, 2)], close=True)  # noqa: E731
    for number, word, area in ((1, "in", 2580.64), (5, "cm", 400.0)):
        drawn = read_outline(dxf(tmp_path / "a.dxf", square, number))
        assert polygon(drawn).area == pytest.approx(area)
        assert f"read in {word};" in drawn.said
    bare = dxf(tmp_path / "b.dxf", square, 0)
    with pytest.raises(InputError, match="--unit mm"):
        read_outline(bare)
    assert polygon(read_outline(bare, "in")).area == pytest.approx(2580.64)
    with pytest.raises(InputError, match="a drawing in cm"):
        read_outline(tmp_path / "a.dxf", "mm")


def test_svg(tmp_path):
    path = tmp_path / "a.svg"
    path.write_text(
        SVG.format(
            '<g transform="translate(10,10)"><path d="M0 0h80a20 20 0 0 1 20 20v60h-100z"/><circle cx="30" cy="30" r="10"/>'
            '<path style="display:none" d="M0 0h5"/><text>words</text></g>'
        )
    )
    drawn = read_outline(path)
    exact = (8000 - 400 * (1 - math.pi / 4) - 100 * math.pi) / 4
    assert polygon(drawn).area == pytest.approx(exact, abs=CHORD_ERROR_MM * 60)
    # The round corner is at the top right in the drawing, so to the north-east.
    assert Polygon(drawn.rings.points).covers(Polygon([(0, 0), (50, 0), (50, 29), (0, 29)]))
    path.write_text(SVG.format('<path d="M0 0 C 40 0 40 60 0 60 Q -20 30 0 0"/>'))

    # Bezier curves by de Casteljau's construction, in 10,000 steps, apart from the library that reads the file.
    def curve(points, t):
        while len(points) > 1:
            points = [tuple((1 - t) * a + t * b for a, b in zip(p, q, strict=True)) for p, q in pairwise(points)]
        return points[0]

    steps = [n / 10_000 for n in range(10_001)]
    ring = [curve([(0, 0), (40, 0), (40, 60), (0, 60)], t) for t in steps]
    ring += [curve([(0, 60), (-20, 30), (0, 0)], t) for t in steps]
    assert polygon(read_outline(path)).area == pytest.approx(Polygon(ring).area / 4, rel=2e-3)


@pytest.mark.parametrize(
    "text, part",
    [
        (SVG.format('<path d="M0 0h20v20"/>'), "a gap of"),
        (SVG.format("<text>no lines</text>"), "0 lines"),
        (SVG.format('<use href="#a"/>'), "unlink"),
        (SVG.format('<rect width="40" height="40"/><rect x="50" width="40" height="40"/>'), "second outline"),
        (SVG.format('<rect width="40" height="40"/><rect x="10" width="60" height="20"/>'), "cross or touch at ("),
        (SVG.format('<path d="M0 0L40 40V0L0 40z"/>'), "crosses or touches itself"),
        (SVG.replace("60mm", "60").format('<rect width="40" height="40"/>'), "--unit mm"),
        (SVG.replace("60mm", "90mm").format('<rect width="40" height="40"/>'), "stretched"),
        ("<svg", "not readable"),
        ("<html/>", "root element"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]>' + SVG.format("<text>&a;</text>"), "entities"),
        (
            "<!DOCTYPE svg ["
            + "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(12))
            + "]>"
            + SVG.format('<path d="&l;"/>'),
            "not readable",
        ),
        (SVG.format('<path d="M0 0h1e300v1e300z"/>'), "coordinate"),
        (SVG.format('<path d="M0 0h2x"/>'), "gap"),
    ],
)
def test_wrong_svg(tmp_path, text, part):
    path = tmp_path / "a.svg"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_outline(path)
    assert part in str(caught.value)
    assert "a.svg" in str(caught.value)


WRONG_DXF = {
    "open": (lambda m: (m.add_line((0, 0), (50, 0)), m.add_line((50, 0), (50, 50)), m.add_line((50, 50), (0.6, 0.8))),
             "a gap of 1.000 mm between (0.000, 0.000) mm and (0.600, 0.800) mm"),
    "branch": (lambda m: (m.add_lwpolyline([(0, 0), (50, 0), (50, 50)]), m.add_line((50, 50), (0, 0)), m.add_line((0, 0), (9, 9))),
               "3 lines that meet at (0.000, 0.000)"),
    "twice": (lambda m: (m.add_circle((0, 0), 20), m.add_circle((0, 0), 20)), "cross or touch"),
    "island": (lambda m: [m.add_circle((0, 0), r) for r in (30, 20, 10)], "an island in a hole"),
    "outside": (lambda m: (m.add_circle((0, 0), 20), m.add_circle((50, 0), 5)), "outside, at (50.000"),
    "block": (lambda m: (m.doc.blocks.new("B"), m.add_blockref("B", (0, 0))), "INSERT"),
    "empty": (lambda m: None, "0 lines"),
    "far": (lambda m: m.add_circle((0, 0), 1e9), "over 1 km"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG_DXF)
def test_wrong_dxf(tmp_path, case):
    draw, part = WRONG_DXF[case]
    path = dxf(tmp_path / "a.dxf", draw)
    with pytest.raises(InputError) as caught:
        read_outline(path)
    assert part in str(caught.value)


@pytest.mark.parametrize(
    "points, extra, part",
    [
        ([(0, 0), (4, 4), (4, 0), (0, 4)], {}, "[20 20]"),
        ([(0, 0), (4, 0), (4, 0), (4, 4)], {}, "corners 2 and 3 at (40.000, 0.000) mm 0.000 mm apart"),
        ([(0, 0), (4, 0), (8, 0)], {}, "crosses itself"),
        ([(0, 0), (0.01, 0), (0.01, 0.01)], {}, "at least 1 mm2"),
        ([(0, 0), (400, 0), (400, 400)], {}, "very large outline"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": [4]}, "the wall 4"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": ["2-5"]}, "the wall 2-5"),
        ([(0, 0), (4, 0), (4, 4)], {"walls": ["3-2"]}, "the wall 3-2"),
        (
            [(0, 0), (4, 0), (4, 4), (0, 4)],
            {"holes": [[[1, 1], [2, 1], [2, 9]]]},
            "a hole outside of the outline, at (",
        ),
        ([(0, 0), (4, 0), (4, 4), (0, 4)], {"holes": [[[1, 1], [2, 1]]]}, "2 corners"),
        (
            [(0, 0), (4, 0), (4, 4), (0, 4)],
            {"holes": [[[1, 1], [2, 1], [2, 2]], [[1, 1], [2, 1], [2, 2]]]},
            "holes that meet",
        ),
        ([(0, 0), (3, 0), (3, 1.99), (3.02, 1.99), (3.02, 0), (6, 0), (6, 4), (3.01, 2), (0, 4)], {}, "near (30."),
        ([(0, 0), (3, 0), (3, 3), (0, 3)], {"outline_file": "a.dxf"}, "no such file"),
    ],
)
def test_wrong_outlines_say_where(tmp_path, points, extra, part):
    with pytest.raises(InputError) as caught:
        read_profile(profile(tmp_path / "p.toml", points, **extra))
    assert part in str(caught.value)


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
    assert run("tile", path, "-o", tmp_path / "out").returncode == 2
    done = run("tile", path, "-o", tmp_path / "out", "--unit", "mm")
    assert (done.returncode, "read in mm" in done.stdout) == (0, True)
    picture = (tmp_path / "out" / "cave" / "cave.svg").read_text()
    assert ">46<" in picture
    assert "-24<" in picture or ">24<" in picture


def test_random_outlines_are_closed_or_refused_with_the_place():
    closed, refused = tried(range(120))
    assert closed > 40
    assert all("(" in why and ")" in why for why in refused), refused[:3]


def test_a_random_outline_is_what_it_says():
    shapes = [random_outline(np.random.default_rng(seed)) for seed in range(40)]
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
    assert why is None if seed == 21652 else "touch only in a point, at (" in why


def ringed(seed):
    """A random outline, or an L turned by some angle, with a wall on every edge."""
    random = np.random.default_rng(seed)
    shape = random_outline(random)
    if seed % 3 == 0:
        angle, size = random.uniform(0, 7), random.uniform(5, 20)
        turned = [
            (size * (x * math.cos(angle) - y * math.sin(angle)), size * (x * math.sin(angle) + y * math.cos(angle)))
            for x, y in ([(0, 0), (6, 0), (6, 4), (0, 4)] if seed % 2 else [(0, 4), (6, 4), (6, 0), (0, 0)])
        ]
        shape = OutlineShape(tuple(turned))
    return replace(shape, walls=tuple(range(1, len(shape.points) + 1)))


def test_a_ring_of_walls_is_what_the_strips_give(monkeypatch):
    """The quick way beside the careful one: every region alike within 1 um of its outline's length."""
    quick = 0
    for seed in range(100):
        shape, grid = ringed(seed), Grid(wall_thickness=2.0, floor=Floor(lines=seed % 2 == 0))
        try:
            check_outline(shape.points, grid)
            check_holes(shape.points, shape.holes)
            ring = OutlineTile(shape, grid, printed_band(grid))
        except InputError:
            continue
        with monkeypatch.context() as patch:
            patch.setattr("tilegen.tiles.outline.walled_ring", lambda *_: None)
            strips = OutlineTile(shape, grid, printed_band(grid))
        one, other = ring.divided, strips.divided
        if set(one.feet) == set(other.feet) and one.whole.equals(other.whole) and one.feet == other.feet:
            continue
        quick += 1
        assert set(one.feet) == set(other.feet)
        pairs = [(one.whole, other.whole), (one.grooved, other.grooved), (one.visible, other.visible)]
        for a, b in pairs + [(one.feet[n], other.feet[n]) for n in one.feet]:
            assert a.symmetric_difference(b).area <= 1e-3 * max(a.length, 1.0), seed
    assert quick > 15


def test_many_walls_stand_on_their_base_with_their_openings(monkeypatch):
    shape = ringed_circle(60)
    ways = ((1, Opening(1.7, 1.5, 20.0)), (20, Opening(1.7, 1.5, 99.0)), (40, Opening(1.7, 2.0, 15.0, "round")))
    tile = make_tile("t", replace(shape, openings=ways), Grid(wall_thickness=4.0))
    mesh = build_mesh("t", tile.plates)
    # Feet on the micrometre grid are not quite as thick everywhere.
    assert mesh.volume == pytest.approx(tile.volume, rel=2e-6)
    with monkeypatch.context() as patch:
        patch.setattr("tilegen.solids.build._MANY_WALLS", 1000)
        assert mesh.volume == pytest.approx(build_mesh("t", tile.plates).volume, rel=1e-9)
    assert trimesh.Trimesh(mesh.vertices, mesh.triangles).is_watertight
    # Above the floor there is nothing in a way's middle.
    (x, y), (dx, dy) = tile.plates[1].edge[0], tile.plates[1].direction
    west, south, *_ = tile.base.foot.bounds
    o = tile.plates[1].openings[0]
    middle = (x + dx * o.centre + dy * 2 - west, y + dy * o.centre - dx * 2 - south)
    heights = [tile.base.top - 0.1, tile.base.top + 0.1, tile.base.top + 21]
    assert [round(turns_about(mesh, (*middle, z)), 6) for z in heights] == [1, 0, 1]


def turns_about(mesh, point):
    """How often a mesh goes round a point: solid angles of its triangles (van Oosterom and Strackee 1983) over 4 pi."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles] - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    dots = [(v * w).sum(axis=1) for v, w in ((a, b), (b, c), (c, a))]
    above = (a * np.cross(b, c)).sum(axis=1)
    below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return float(2 * np.arctan2(above, below).sum() / (4 * math.pi))


def ringed_circle(corners):
    angles = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    points = tuple((float(40 + 38 * math.cos(a)), float(40 + 38 * math.sin(a))) for a in angles)
    return OutlineShape(points, tuple(range(1, corners + 1)))


def test_a_groove_keeps_off_a_corner_that_it_would_cut_free():
    # The floor's line lies below a notch whose tip touches the groove's upper side.
    grid = Grid(pitch=20.0, joint_play=0.0, floor=Floor(lines=True))
    tip = 20 + grid.floor.groove_width / 2
    shape = OutlineShape(((0, 0), (40, 0), (40, 38), (25, 38), (23, tip), (21, 38), (0, 38)))
    tile = make_tile("t", shape, grid)
    read = trimesh.load_mesh(io.BytesIO(stl_bytes(build_mesh("t", tile.plates))), file_type="stl")
    assert read.is_watertight
    assert read.volume == pytest.approx(tile.volume, rel=1e-5)


def test_short_walls_go_to_their_neighbours_in_print():
    shape = OutlineShape(((0, 0), (40, 0), (40, 30), (39.9, 30.1), (0, 30.1)), (1, 2, 3, 4, 5))
    grid = Grid(wall_thickness=4.0, floor=Floor(lines=False))
    tile = make_tile("t", shape, grid)
    assert [plate.name for plate in tile.plates[1:]] == ["wall 1", "wall 2", "wall 4", "wall 5"]
    clear = Polygon(shape.points).buffer(-4, join_style="mitre")
    standing = sum(plate.foot.area for plate in tile.plates[1:])
    assert standing == pytest.approx(tile.base.foot.area - clear.area, abs=0.01)


def test_a_wall_beside_a_notch_stays_on_its_edge():
    shape = OutlineShape(((0, 0), (60, 0), (60, 40), (31, 40), (31, 10), (30, 10), (30, 40), (0, 40)), (4,))
    wall = make_tile("t", shape, Grid(wall_thickness=4.0)).plates[1]
    assert wall.foot.bounds[0] > 30.9


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
    with pytest.raises(InputError, match=r"too tight for a wall along it, at \("):
        make_plates(tile.shape, tile.grid, stock_band(tile.grid, 5.0), Joints())


def test_lines_off_and_deep_walls_stay_closed(tmp_path):
    opened = open_profile(profile(tmp_path / "p.toml", L, walls=["1-6"]))
    assert profile_grid(opened).floor.lines
    assert profile_tile(opened, Grid(pitch=10.0, wall_thickness=4.0, floor=Floor(lines=False))).volume > 0
