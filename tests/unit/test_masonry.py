"""Tiles carved as stone: nothing outside the plain tile, one closed body, bond, quoins, seams."""

import io
import math
from dataclasses import replace
from functools import reduce
from itertools import pairwise

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.rereading import winding_number
from tests.strategies import outline_tables, profile_tables
from tilegen.errors import InputError
from tilegen.files.plans import plan_of, read_plan
from tilegen.files.profiles import profile_of
from tilegen.files.styles import read_style
from tilegen.files.toml import find, shipped
from tilegen.geometry import segments_of
from tilegen.model.grid import HEADS, Grid, Over
from tilegen.model.printers import LayersTable
from tilegen.model.surface import Surface
from tilegen.pictures.soft_view import tints_of
from tilegen.plans.kit import make_kit
from tilegen.solids.build import build_mesh, build_solid
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.printing import snapped
from tilegen.tiles.coursing import Coursing, courses_of
from tilegen.tiles.features import FEATURES
from tilegen.tiles.loose import make_leaf, make_post, make_sill
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Plate
from tilegen.tiles.uprights import uprights_of

STYLES = sorted(path.stem for path in shipped("styles").glob("*.toml"))
DOORWAY = {"wall": "north", "kind": "doorway", "head": "round"}


def tile(style, walls=("north", "west"), openings=(), **tables):
    surface = {"style": style} | tables.pop("surface", {})
    return profile_of(
        {"name": "t", "tile": {"size": [2, 2], "walls": list(walls)}, "opening": list(openings), "surface": surface}
        | tables
    )


def read_again(made):
    """The mesh as trimesh reads the file that is written of it."""
    return trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", made.plates))), file_type="stl")


def bare(made):
    """The same tile without stones, lines and patterns."""
    plain = [replace(p, facing=None, marks=tuple(m for m in p.marks if not m.centres)) for p in made.plates]
    return build_solid("t", plain)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("openings", [(), *(((DOORWAY | {"head": head}),) for head in HEADS)])
def test_stone_only_takes_away(style, openings):
    made = tile(style, openings=openings)
    solid, plain = build_solid("t", made.plates), bare(made)
    assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
    # As much as a brief of the trial found: joints and faces together.
    assert 0.75 < solid.volume() / plain.volume() < 0.97
    assert len(solid.decompose()) == 1


@pytest.mark.parametrize("style", ["dressed", "cave"])
def test_finer_tiles_have_more_triangles_and_stay_inside(style):
    counts = []
    for detail in ("low", "middle", "high"):
        made = tile(style, openings=(DOORWAY,), surface={"detail": detail})
        solid = build_solid("t", made.plates)
        assert (solid - bare(made)).volume() == pytest.approx(0, abs=1e-6)
        assert read_again(made).is_watertight
        counts.append(solid.num_tri())
    assert counts[0] < 0.6 * counts[1] < 0.4 * counts[2]
    # No more than a slicer takes with ease (found by trying, no source).
    assert counts[2] < 32_000


@pytest.mark.parametrize("style", ["dressed", "timber"])
def test_no_stone_lies_in_another(style):
    """Along the rim, where stones lie under the floor's, every point is in one of them or in none."""
    mesh = build_mesh("t", tile(style, ("north",)).plates)
    corners, side = mesh.vertices[mesh.triangles], mesh.vertices[:, 0].max()
    points = [(x, y, z) for x in (0.3, 0.5) for y in np.linspace(2, side - 8, 7) for z in np.linspace(4.83, 5.63, 9)]
    found = {round(winding_number(corners, np.array(point))) for point in points}
    assert found == {0, 1}


@pytest.mark.parametrize("layers", [{"height": 0.2, "first": 0.3}, {"height": 0.28, "first": 0.28}])
def test_stone_has_all_its_courses_at_snapped_heights(layers):
    made = tile("dressed", openings=(DOORWAY,))
    moved = snapped(made.plates, LayersTable(**layers))
    solid, plain = build_solid("t", moved), bare(replace(made, plates=moved))
    assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
    assert solid.volume() / plain.volume() > 0.85


def test_walls_that_are_printed_by_themselves_have_all_their_courses():
    for piece, _ in uprights_of(tile("dressed", openings=(DOORWAY,), set={"base": "sheet"})):
        bare_piece = [replace(plate, facing=None) for plate in piece.plates]
        solid, plain = build_solid("t", piece.plates), build_solid("t", bare_piece)
        assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
        assert solid.volume() / plain.volume() > 0.8


# Each feature in two styles, each style with two features or more; all with all: `tests.proof.properties --only stone`.
@pytest.mark.parametrize(
    ("kind", "style"), [(kind, STYLES[(n + m) % len(STYLES)]) for n, kind in enumerate(FEATURES) for m in (0, 2)]
)
def test_features_are_carved_or_stay_as_they_are(kind, style):
    words = {"kind": kind, "cell": [1, 1]} | ({"side": "north", "height": "1/2 in"} if kind == "stair" else {})
    made = make_kit(plan_of({"name": "p", "drawing": "AA\nAA\n", "surface": {"style": style}, "feature": [words]}, "p"))
    for one in (t.tile for t in made.types):
        solid, plain = build_solid("t", one.plates), bare(one)
        assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
        assert len(solid.decompose()) == 1
        assert 0.75 < solid.volume() / plain.volume() < 0.99
        assert read_again(one).is_watertight


@pytest.mark.parametrize("style", ["dressed", "cave"])
@pytest.mark.parametrize("leaf", ["hinged", "sliding", "lift-out"])
def test_leaves_are_carved_with_iron_on_wood_or_as_the_wall(style, leaf):
    grids = [Grid(surface=Surface(style=word, stone=read_style(word))) for word in (style, "plain")]
    carved, plain = (
        make_leaf("leaf", grid, grid.tile_side, make_opening(grid.tile_side, grid, leaf=leaf)) for grid in grids
    )
    solid, whole = (build_solid("leaf", one.plates) for one in (carved, plain))
    blank = build_solid("leaf", [replace(plate, marks=()) for plate in plain.plates])
    assert (solid - blank).volume() == pytest.approx(0, abs=1e-6)
    assert 0.8 < solid.volume() / whole.volume() < 0.995
    assert len(solid.decompose()) == 1
    assert read_again(carved).is_watertight


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("make", [make_post, lambda grid: make_sill(grid, grid.tile_side)])
def test_loose_posts_and_sills_are_carved_too(style, make):
    grid = Grid(surface=Surface(style=style, stone=read_style(style)))
    piece = make(grid)
    assert any(plate.facing for plate in piece.plates)
    solid, plain = build_solid("t", piece.plates), bare(piece)
    assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
    assert 0.7 < solid.volume() / plain.volume() < 0.995
    assert len(solid.decompose()) == 1
    assert read_again(piece).is_watertight


@pytest.mark.parametrize("style", STYLES)
def test_the_file_is_closed_for_another_reader(style):
    mesh = read_again(tile(style, ("north", "west", "east"), (DOORWAY,)))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    # No triangle is flat: a corner on the longest side of another one.
    assert mesh.area_faces.min() > 0
    assert mesh.extents == pytest.approx((63.2, 63.2, 44.45), abs=0.5)


def section_of(mesh, axis, at):
    """What a plane across an axis cuts of a mesh: its loops, holes taken out."""
    normal = np.eye(3)[axis]
    loops = mesh.section(plane_origin=normal * at, plane_normal=normal).discrete
    kept = [k for k in range(3) if k != axis]
    return reduce(shapely.symmetric_difference, [shapely.Polygon(loop[:, kept]).buffer(0) for loop in loops])


def faces_of(mesh, z):
    """The outlines of the stones and the core at a height."""
    return section_of(mesh, 2, z)


def joints_at(mesh, z, y):
    """Where the outer face of the north wall is cut at a height, so far from the south: the middles of its joints."""
    line = shapely.LineString([(8, y), (60, y)])
    solid = shapely.get_parts(line.intersection(faces_of(mesh, z)))
    spans = sorted(part.bounds[::2] for part in solid)
    return [(a[1] + b[0]) / 2 for a, b in pairwise(spans)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_joint_stands_over_another(seed):
    """Rule of the trade (common practice, no source): no straight joint through two courses."""
    style = read_style("dressed")
    mesh = read_again(tile("dressed", ("north",), surface={"seed": seed}))
    high, rows = 44.45, []
    for height in courses_of(38.1, style.courses):
        rows.append(joints_at(mesh, high - height / 2, 63.2 - style.face[1] - style.sunk - 0.1))
        high -= height
    assert sum(map(len, rows)) > 15
    laps = [abs(a - b) for above, below in pairwise(rows) for a in above for b in below]
    assert min(laps) > style.joint


@pytest.mark.parametrize("style", ["dressed", "rubble", "brick"])
@pytest.mark.parametrize("walls", [("north",), ("north", "west"), ("north", "west", "east")])
@pytest.mark.parametrize("openings", [(), (DOORWAY,)])
def test_stones_lap_those_below_by_a_quarter_of_a_stone(style, walls, openings):
    """Least overlap of a bond: 25 % of a brick's length ("Construction for Landscape Architecture",
    in the excerpt of its bookseller)."""
    for seed in range(1, 9):
        made = tile(style, walls, openings, surface={"seed": seed})
        facing = made.plates[0].facing
        rows = {}
        for plate, _, pieces in Coursing(made.plates, facing).courses():
            zero = np.dot(plate.direction, plate.edge[0])
            cuts = [zero + b.span[0] for a, b in pairwise(pieces) if math.isclose(a.span[1], b.span[0])]
            rows.setdefault(plate.name, []).append(cuts)
        laps = [abs(a - b) for row in rows.values() for one, two in pairwise(row) for a in one for b in two]
        assert len(laps) > 50
        assert min(laps) > 0.25 * facing.style.length[0] - 1e-9


def test_corners_are_turned_by_stones_of_either_wall():
    """At the outer corner a stone reaches round in every course: further along one wall, then along the other."""
    mesh = read_again(tile("dressed"))
    high, longer = 44.45, []
    for height in courses_of(38.1, read_style("dressed").courses):
        region, z = faces_of(mesh, high - height / 2), high - height / 2
        high -= height
        # Just under both outer faces, from the corner to the first joint.
        east = shapely.get_parts(shapely.LineString([(1.0, 62.7), (60, 62.7)]).intersection(region))
        south = shapely.get_parts(shapely.LineString([(0.5, 62.2), (0.5, 2)]).intersection(region))
        first = min(east, key=lambda part: part.bounds[0]), max(south, key=lambda part: part.bounds[3])
        assert all(part.length > 3.5 for part in first), z
        longer.append(first[0].length > first[1].length)
        assert max(part.length for part in first) > 6.35 + 1, z
    assert set(longer) == {True, False}


def test_a_seam_has_the_same_section_on_every_tile():
    """Stones that run over a seam meet their neighbours' there, whatever the tiles."""
    sections = []
    for walls, seed in ((("north",), 1), (("north", "south"), 2), (("north", "west"), 3)):
        mesh = read_again(tile("dressed", walls, surface={"seed": seed}))
        region = section_of(mesh, 0, mesh.bounds[1][0] - 0.05)
        # Of the north wall, above the floor and under the top course.
        sections.append(region.intersection(shapely.box(56, 7.5, 64, 36)))
    assert sections[0].area > 60
    for other in sections[1:]:
        assert sections[0].symmetric_difference(other).area < 0.5


def test_rooms_have_styles_of_their_own():
    words = {"name": "p", "drawing": "AAB\nAAB\n", "surface": {"style": "dressed", "styles": {"B": "cave"}}}
    kit = make_kit(plan_of(words, "p"))
    rooms = {"A": 4, "B": 2}
    for letter, style in (("A", "dressed"), ("B", "cave")):
        mine = [t for t in kit.types if t.tile.grid.surface.stone == read_style(style)]
        assert sum(t.count for t in mine) == rooms[letter]
        assert all(("cave" in t.tile.name) == (letter == "B") for t in mine)
    with pytest.raises(InputError, match='no room "C"'):
        make_kit(plan_of(words | {"surface": {"styles": {"C": "cave"}}}, "p"))
    with pytest.raises(InputError, match="no style called"):
        plan_of(words | {"surface": {"styles": {"B": "slate"}}}, "p")


def test_floors_are_worn_from_doorways_and_nowhere_else(tmp_path):
    """With the same numbers drawn, floors differ near the doorway alone, and are lower there."""
    path = tmp_path / "new.toml"
    path.write_text("wear = 0\n")
    for openings, most in (((), 0.0), ((DOORWAY,), 1.0)):
        new, worn = (build_solid("t", tile(style, ("north",), openings).plates) for style in (str(path), "dressed"))
        lost = new.volume() - worn.volume()
        assert (lost > 100) if most else lost == 0
    # Towards the seam to the south nothing has changed.
    edge = build_solid("e", bare_box(0.0, 63.5, 0.0, 3.0))
    assert (new ^ edge).volume() == pytest.approx((worn ^ edge).volume(), abs=1e-6)


@pytest.mark.parametrize(
    ("figure", "at", "axis"), [("top = 2", 44.0, 2), ("tilt = 0.6", 62.9, 1), ("chips = 1", 44.0, 2)]
)
def test_stones_differ_as_their_style_says(tmp_path, figure, at, axis):
    """Of a wall's top and its outer face less is left under the plain face."""
    areas = []
    for words in ("tilt = 0\nchips = 0\ntop = 0\nwander = 0\n", figure + "\n"):
        path = tmp_path / "new.toml"
        others = [line for line in ("tilt = 0", "chips = 0", "top = 0", "wander = 0") if line[:4] not in words]
        path.write_text("\n".join([words, *others]))
        areas.append(section_of(read_again(tile(str(path), ("north",))), axis, at).area)
    assert 0.2 * areas[0] < areas[1] < 0.97 * areas[0]


def test_edges_may_be_sharp(tmp_path):
    path = tmp_path / "new.toml"
    path.write_text("radius = [0, 0]\nfloor_radius = [0, 0]\n")
    made = tile(str(path), openings=(DOORWAY,))
    assert 0.75 < build_solid("t", made.plates).volume() / bare(made).volume() < 0.97
    assert read_again(made).is_watertight


def test_beds_wander_amid_a_wall_and_not_at_its_ends(tmp_path):
    middles = []
    for wander in (0, 1):
        path = tmp_path / "new.toml"
        path.write_text(f"wander = {wander}\ntilt = 0\nchips = 0\n")
        mesh = read_again(tile(str(path), ("north",)))
        found = []
        for x in (1.0, 20.0, 31.0, 42.0, 62.0):
            # The wall's outer face, between the beds.
            line = shapely.LineString([(62.4, 7.0), (62.4, 44.0)])
            solid = shapely.get_parts(line.intersection(section_of(mesh, 0, x)))
            spans = sorted(part.bounds[1::2] for part in solid)
            found.append([(a[1] + b[0]) / 2 for a, b in pairwise(spans)])
        middles.append(found)
    straight, wavy = middles
    assert (
        max(abs(a - b) for row, level in zip(wavy, straight, strict=True) for a, b in zip(row, level, strict=False))
        > 0.4
    )
    for end in (0, -1):
        assert wavy[end] == pytest.approx(straight[end], abs=0.3)


def test_pictures_show_every_colour_of_a_style_and_dark_joints():
    made = tile("dressed", openings=(DOORWAY,))
    mesh = build_mesh("t", made.plates)
    tints = tints_of(made, mesh) / mesh.tones[:, None]
    assert len(np.unique(tints.round(6), axis=0)) == 1 + len(read_style("dressed").colours) == 4
    area = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False).area_faces
    joints = mesh.tones < 0.8
    # Joints are a tenth to a half of what is seen.
    assert 0.1 < area[joints].sum() / area.sum() < 0.5
    assert np.ptp(mesh.tones[~joints]) > 0.2


def bare_box(west, east, south, north):
    return [Plate("b", "base", shapely.box(west, south, east, north), 0.0, 6.35)]


def test_variants_are_dealt_in_turn_and_differ_in_stones_alone():
    words = {"name": "p", "drawing": "AAAA\nAAAA\nAAAA\n", "surface": {"style": "dressed"}}
    whole = make_kit(plan_of(words, "p"))
    varied = make_kit(plan_of(words | {"surface": {"style": "dressed", "different": 3}}, "p"))
    assert sum(t.count for t in varied.types) == sum(t.count for t in whole.types) == 12
    for kind in whole.types:
        mine = [t for t in varied.types if t.tile.shape == kind.tile.shape]
        assert len(mine) == min(3, kind.count)
        assert sum(t.count for t in mine) == kind.count
        assert max(t.count for t in mine) - min(t.count for t in mine) <= 1
        # One of them is the type as it is without others.
        assert kind.tile.id in {t.tile.id for t in mine}
        assert len({build_solid("t", t.tile.plates).volume() for t in mine}) == len(mine)
    for wrong in (0, 10):
        with pytest.raises(InputError, match="different"):
            plan_of(words | {"surface": {"different": wrong}}, "p")


def test_magnets_meet_from_room_to_room():
    """They lie as deep on every tile as the style with the deepest floor asks."""
    surface = {"style": "dressed", "styles": {"B": "timber", "C": "plain"}}
    words = {"name": "p", "drawing": "AAB\nAAC\n", "connectors": {"kind": "magnets"}, "surface": surface}
    kit = make_kit(plan_of(words, "p"))
    marks = [mark for kind in kit.types for plate in kind.tile.plates for mark in plate.marks if mark.on == "rim"]
    assert len(marks) > 4
    assert len({round(mark.region.bounds[3], 6) for mark in marks}) == 1


def test_rock_meets_at_seams_whatever_the_tiles():
    """Floors to a few hundredths of a millimetre, the ends of walls to a tenth or two on average."""
    sections = []
    for walls, seed in ((("north",), 1), (("north", "south"), 2), (("north", "west"), 3)):
        mesh = read_again(tile("cave", walls, surface={"seed": seed}))
        sections.append(section_of(mesh, 0, mesh.bounds[1][0] - 0.3))
    for box, most in ((shapely.box(8, 3, 50, 6.3), 1.5), (shapely.box(56, 7.5, 64, 36), 10.0)):
        first, *others = [section.intersection(box) for section in sections]
        assert first.area > 100
        assert max(first.symmetric_difference(other).area for other in others) < most


def test_lines_in_rock_are_cracks_that_meet_at_seams():
    """Under the floor: amid a space they stray and are narrow and wide, at corners of spaces they are as drawn."""
    made = tile("cave", ("north",))
    lines, widths = [], []
    for seed in (1, 2):
        mesh = read_again(tile("cave", ("north",), surface={"seed": seed}))
        # The least that floors lie above the bottom of cracks.
        section = section_of(mesh, 2, made.grid.base_depth - 1.1)
        for axis in (0, 1):
            for at in np.arange(0.4, 55.0, 0.5):
                ends = [(29.0, at), (34.2, at)]
                cross = shapely.LineString(ends if axis == 0 else [end[::-1] for end in ends])
                gap = max(shapely.get_parts(cross.difference(section)), key=shapely.length)
                lines.append((at, (gap.bounds[axis] + gap.bounds[axis + 2]) / 2 - 31.6))
                widths.append((at, gap.length))
    strays = {at: max(abs(off) for a, off in lines if a == at) for at, _ in lines}
    assert strays[0.4] < 0.15
    assert 0.8 < max(strays.values()) < 2.7
    width = made.grid.floor.groove_width
    assert [w for a, w in widths if a == 0.4] == pytest.approx([width] * 4, abs=0.1)
    assert min(w for _, w in widths) < 0.8 * width < 1.1 * width < max(w for _, w in widths)


def test_a_round_head_in_timber_is_two_bent_beams():
    made = tile("timber", ("north",), (DOORWAY,))
    (plate,) = [plate for plate in made.plates if plate.openings]
    coursing, (opening,) = Coursing(made.plates, plate.facing), plate.openings
    blocks = [shapely.Polygon(block) for block in coursing.head(plate, opening)]
    assert len(blocks) == 2
    assert all(block.is_valid for block in blocks)
    radius, ring = opening.width / 2, coursing.ring(plate, opening)
    # A quarter of a ring each, less what chords cut off.
    for block in blocks:
        assert block.area == pytest.approx(math.pi / 4 * ((radius + ring) ** 2 - radius**2), rel=5e-3)
    assert blocks[0].intersection(blocks[1]).area == pytest.approx(0)
    # As fine as the opening that is cut: nothing of a beam is in it.
    assert max(block.intersection(opening.region()).area for block in blocks) < 1e-6


def test_the_rim_of_a_floor_is_stones_on_a_foot_as_large_as_the_tile():
    made = tile("dressed", ())
    mesh = read_again(made)
    side = 2 * 31.75 - 0.3
    assert mesh.extents[:2] == pytest.approx([side, side], abs=1e-4)
    foot, rim = (section_of(mesh, 2, z) for z in (0.4, 3.0))
    assert foot.area == pytest.approx(side**2, rel=1e-5)
    # Joints all the way round, none at a corner of the tile.
    middle = shapely.box(0, 0, side, side).buffer(-0.5).exterior
    joints = shapely.get_parts(middle.difference(rim))
    assert 12 <= len(joints) <= 30
    corners = shapely.MultiPoint([(0, 0), (0, side), (side, 0), (side, side)])
    # But for what is taken off the corners of stones.
    assert not [joint for joint in joints if 1 < corners.distance(joint) < 2]


def test_courses_are_counted_from_the_top_and_fill_the_wall():
    table = read_style("dressed").courses
    assert courses_of(38.1, table) == pytest.approx(table[::-1])
    for height in (3.0, 12.7, 25.4, 50.0, 76.2, 300.0):
        found = courses_of(height, table)
        assert math.fsum(found) == pytest.approx(height)
        assert max(found) < 1.5 * max(table)


def test_sheets_score_the_joints_of_the_style():
    """Lines between courses lie where the style has them; the floor's are those between its flagstones."""
    made = tile("dressed", ("north",), surface={"floor": "style", "walls": "style"})
    (wall,) = (plate for plate in made.plates if plate.role == "wall")
    (mark,) = (mark for mark in wall.marks if mark.on == "inner")
    level = {round(y0, 3) for (_, y0), (_, y1) in segments_of(mark.line) if abs(y0 - y1) < 1e-6}
    heights = np.cumsum(courses_of(38.1, read_style("dressed").courses)[::-1])[:-1]
    assert sorted(level) == pytest.approx(heights.tolist(), abs=1e-3)
    (floor,) = (mark for mark in made.base.marks if mark.on == "top")
    # Spaces are parted by themselves: no line crosses those between them.
    assert all(
        not (a[k] < 31.75 - 1e-6 and b[k] > 31.75 + 1e-6) or abs(a[1 - k] - b[1 - k]) > 1e-6 or a[1 - k] == 31.75
        for a, b in map(sorted, segments_of(floor.line))
        for k in (0, 1)
    )
    assert floor.line.length > 300


def test_equal_input_gives_equal_bytes_and_another_seed_other_stones():
    first, again = (stl_bytes(build_mesh("t", tile("rubble").plates)) for _ in range(2))
    assert first == again
    assert first != stl_bytes(build_mesh("t", tile("rubble", surface={"seed": 2}).plates))


def test_stone_has_ids_of_its_own_and_plain_tiles_keep_theirs():
    assert tile("dressed").id != tile("plain").id
    assert tile("dressed").id == tile("dressed").id
    turned = profile_of(
        {"name": "t", "tile": {"size": [2, 2], "walls": ["north", "east"]}, "surface": {"style": "dressed"}}
    )
    assert turned.id == tile("dressed").id


def test_pockets_keep_their_walls():
    """No joint comes near a magnet's pocket: what is left round it is closed."""
    connectors = {"kind": "magnets", "magnet_diameter": "3 mm", "magnet_thickness": "2 mm"}
    made = tile("dressed", ("north", "west"), (DOORWAY,), connectors=connectors)
    solid, plain = build_solid("t", made.plates), bare(made)
    assert (solid - plain).volume() == pytest.approx(0, abs=1e-6)
    assert read_again(made).is_watertight


@pytest.mark.parametrize(("tables", "number"), [(profile_tables(), 8), (outline_tables(), 4)])
def test_whatever_a_tile_is_stone_stays_within_it(tables, number):
    @settings(max_examples=number, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tables, st.sampled_from(STYLES))
    def one(tables, style):
        try:
            made = profile_of({**tables, "surface": {**tables.get("surface", {}), "style": style}})
        except InputError:
            return
        solid = build_solid("t", made.plates)
        assert len(solid.decompose()) == 1
        assert (solid - bare(made)).volume() < 1e-3
        assert read_again(made).is_watertight

    one()


@pytest.mark.parametrize("style", ["rubble", "timber"])
def test_doorways_in_round_walls_are_carved(style):
    """Beside an arch that reaches the tile's end no stone has room: what is left of it goes."""
    kit = make_kit(read_plan(find("gull-light", "plans"), Over(tables={"surface": {"style": style}})))
    made = [t.tile for t in kit.types if any(p.bend and p.openings for p in t.tile.plates)]
    assert len(made) > 1
    for one in made:
        assert build_mesh("t", one.plates).tones is not None, one.name
        assert build_solid("t", one.plates).volume() < 0.97 * bare(one).volume()


@pytest.mark.parametrize("name", ["bell-foundry", "gull-light"])
def test_stone_takes_as_many_types_as_plain_tiles(name):
    plan = find(name, "plans")
    stone = make_kit(read_plan(plan, Over(tables={"surface": {"style": "dressed"}})))
    assert len(stone.types) == len(make_kit(read_plan(plan)).types)
