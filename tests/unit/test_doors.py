"""Leaves of doorways and saddles: closed solids, exact volumes, and that each leaf goes where it must with its play."""

import math
from dataclasses import replace

import pytest
import trimesh
from manifold3d import Manifold
from shapely.geometry import Point

from tests.making import closed_solid
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.files.stock import read_material
from tilegen.making.lists import wires_of
from tilegen.model.grid import Door, Grid
from tilegen.plans.drafting import draw
from tilegen.plans.features import RoomHeights, furnish
from tilegen.plans.kit import make_kit
from tilegen.plans.ways import Way
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh, build_solid
from tilegen.tiles.leaves.hinged import hinge_thickness, leaf_length, round_hole
from tilegen.tiles.leaves.kind import clear_width
from tilegen.tiles.loose import make_leaf, make_saddle_door, make_shim
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_plates, make_tile
from tilegen.tiles.walls import Joints, printed_band

GRID = Grid()
SIDE = GRID.tile_side
DOOR = GRID.door
LEAVES = ("sliding", "hinged", "lift-out")
STYLES = ("planks", "plain", "bars", "portcullis")


def tile_with(leaf, *, turns=0, head="flat", grid=GRID):
    opening = make_opening(SIDE, grid, leaf=leaf, head=head)
    shape = single_cell(Cell((Side("doorway", opening), OPEN, OPEN, WALL)), (2, 2))
    return make_tile("t", shape.turns[turns], grid), opening


def overlap(a, b):
    return (a ^ b).volume()


def clearance(a, b, reach=3.0):
    return a.min_gap(b, reach)


def test_tiles_with_leaves_are_closed_and_keep_their_id():
    for leaf, head in [
        ("sliding", "flat"),
        ("sliding", "round"),
        ("sliding", "pointed"),
        ("hinged", "flat"),
        ("lift-out", "flat"),
    ]:
        for turns in range(4):
            tile, _ = tile_with(leaf, turns=turns, head=head)
            closed_solid(tile.plates)
            assert tile.id == tile_with(leaf, head=head)[0].id
            bare = make_tile(
                "t",
                single_cell(Cell((Side("doorway", make_opening(SIDE, GRID, head=head)), OPEN, OPEN, WALL)), (2, 2)),
                GRID,
            )
            assert tile.id != bare.id


def test_leaves_are_closed():
    for leaf in LEAVES:
        for style in STYLES:
            opening = make_opening(SIDE, GRID, leaf=leaf, style=style)
            mesh = closed_solid(make_leaf("leaf", GRID, SIDE, opening).plates)
            holes = 1 - trimesh.Trimesh(mesh.vertices, mesh.triangles).euler_number // 2
            # Euler characteristic 2 - 2 g (general topology): bars and gratings are as many handles, a pin's hole is one.
            # Over 25.5 mm of leaf, bars of 3 mm and gaps of about 4: 4 gaps across, and 4 up for a grating 24.5 mm high.
            expected = (
                {"bars": 4, "portcullis": 16}.get(style, 0) if leaf == "sliding" else 1 if leaf == "hinged" else 0
            )
            assert holes == expected


def test_a_sliding_leaf_drops_into_its_groove_with_the_play_on_every_side():
    tile, opening = tile_with("sliding")
    wall = build_solid("t", tile.plates)
    leaf = build_solid("l", make_leaf("l", GRID, SIDE, opening).plates)
    width = opening.width + 2 * DOOR.groove_depth - 2 * DOOR.gap
    # Upright, its back to the north, in the middle of a wall between 0.15 and 6.35 mm from the seam.
    middle = SIDE - (GRID.half_play + GRID.wall_thickness) / 2
    stood = leaf.rotate((90, 0, 0)).translate(
        (SIDE / 2 - width / 2, middle + DOOR.thickness / 2, GRID.base_depth + 0.01)
    )
    assert overlap(wall, stood) < 1e-6
    lifted = stood.translate((0, 0, 20.0))
    assert clearance(wall, lifted) == pytest.approx(DOOR.gap, abs=1e-6)
    for step in ((DOOR.gap + 0.05, 0, 0), (0, DOOR.gap + 0.05, 0)):
        assert overlap(wall, lifted.translate(step)) > 0.1
    # Pushed to one side it still stands in the other groove.
    assert DOOR.groove_depth - 2 * DOOR.gap > 0.5


def test_a_lifted_out_wall_is_flush_and_has_its_play():
    tile, opening = tile_with("lift-out")
    wall = build_solid("t", tile.plates)
    plug = build_solid("l", make_leaf("l", GRID, SIDE, opening).plates)
    middle = SIDE - (GRID.half_play + GRID.wall_thickness) / 2
    stood = plug.translate((SIDE / 2, middle, GRID.base_depth))
    assert overlap(wall, stood) < 1e-6
    assert clearance(wall, stood.translate((0, 0, 0.5))) == pytest.approx(DOOR.gap, abs=1e-6)
    bare = build_solid("t", make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), GRID).plates)
    assert (stood - bare).volume() < 1e-6, "it stands out of the wall"


def test_a_hinged_leaf_turns_inwards_clear_of_its_wall():
    for angle in [0, 30, 60, 90]:
        tile, opening = tile_with("hinged")
        wall = build_solid("t", tile.plates)
        leaf = build_solid("l", make_leaf("l", GRID, SIDE, opening).plates)
        half = hinge_thickness(GRID) / 2
        x = SIDE / 2 - opening.width / 2 + half + DOOR.gap
        y = SIDE - (GRID.half_play + GRID.wall_thickness) / 2
        turned = leaf.rotate((0, 0, -angle)).translate((x, y, GRID.base_depth + 0.4))
        assert overlap(wall, turned) < 1e-6
        pin = Manifold.cylinder(60, DOOR.pin / 2, DOOR.pin / 2, 64).translate((x, y, GRID.base_depth - 3.0))
        assert overlap(wall, pin) < 1e-6, "the wire does not go through lintel and floor"
        assert overlap(turned, pin) < 1e-6


def test_the_wire_on_the_list_reaches_from_the_bottom_of_its_hole_to_the_top_of_the_wall():
    tile, opening = tile_with("hinged")
    wall, top = build_solid("t", tile.plates), GRID.base_depth + GRID.wall_height
    x = SIDE / 2 - opening.width / 2 + hinge_thickness(GRID) / 2 + DOOR.gap
    y = SIDE - (GRID.half_play + GRID.wall_thickness) / 2
    ((pin, length, count),) = wires_of([(tile, 3), (make_leaf("l", GRID, SIDE, opening), 3)])
    assert (pin, count) == (DOOR.pin, 3)
    for more, touches in ((0.0, False), (0.2, True)):
        wire = Manifold.cylinder(length + more, pin / 2, pin / 2, 64).translate((x, y, top - length - more))
        assert (overlap(wall, wire) > 1e-6) == touches


@pytest.mark.parametrize("centre", [1.8, 4 - 1.8])
def test_an_opening_without_any_room_is_refused_from_either_end(centre):
    """Twice 1.8 less a wall of 1.2 beside it and half a wall of jamb on each side is nothing, give or take a rounding."""
    grid = Grid(pitch=4.0, wall_thickness=1.2)
    with pytest.raises(InputError, match="the wall has room for only 0 mm there"):
        make_opening(4.0, grid, centre=centre, ends=(1.2, 1.2))


def test_the_swing_of_a_hinged_leaf():
    opening = make_opening(SIDE, GRID, leaf="hinged")
    half, length = hinge_thickness(GRID) / 2, leaf_length(opening, GRID)
    assert math.hypot(length, half) < opening.width - half - DOOR.gap
    # The doorway is wider by what the open leaf takes: as much stays open as without a leaf.
    assert opening.width == pytest.approx(27.94 + 3.95 + 0.4)
    assert clear_width(opening, GRID) == pytest.approx(27.94)


def test_the_round_hole_lets_its_rod_through():
    # A polygon round a circle: r / cos(pi / n) (plane geometry); an inscribed one would lose d (1 - cos(pi / n)).
    hole = round_hole((0, 0), 6.2)
    assert hole.exterior.distance(Point(0, 0)) == pytest.approx(3.1, abs=1e-12)
    assert 6.2 * (1 - math.cos(math.pi / 16)) == pytest.approx(0.12, abs=0.005)


@pytest.mark.parametrize("leaf", ["sliding", "lift-out"])
def test_a_groove_in_one_of_many_walls_leaves_the_base_alone(leaf):
    """Twelve walls in a ring are put on their base before they are cut."""
    ring = [(100 * math.cos(-math.pi * k / 6), 100 * math.sin(-math.pi * k / 6)) for k in range(12)]
    opening = make_opening(math.dist(*ring[:2]), GRID, leaf=leaf)
    tile = make_tile("t", OutlineShape(tuple(ring), tuple(range(1, 13)), ((1, opening),)), GRID)
    assert build_mesh("t", tile.plates).volume == pytest.approx(tile.volume, rel=1e-5)


def test_saddle_doors_with_a_leaf():
    opening = make_opening(SIDE, GRID, leaf="sliding", ends=(6.35, 6.35), centre=30.0)
    door = make_saddle_door("s", GRID, SIDE, opening)
    closed_solid(door.plates)
    leaf = build_solid("l", make_leaf("l", GRID, SIDE, opening).plates)
    width = opening.width + 2 * DOOR.groove_depth - 2 * DOOR.gap
    centre = 30.0 - 6.35 - 0.3
    stood = leaf.rotate((90, 0, 0)).translate((centre - width / 2, 6.35 + DOOR.thickness / 2, 0.01))
    solid = build_solid("s", door.plates)
    assert overlap(solid, stood) < 1e-6
    assert clearance(solid, stood.translate((0, 0, 30))) == pytest.approx(DOOR.gap, abs=1e-6)


def test_feet_where_a_saddle_door_would_tip():
    # b >= 0.27 h for 15 degrees: tan(15) (derived): 38.1 high wants 10.2.
    thin = replace(GRID, wall_thickness=3.0)
    opening = make_opening(SIDE, thin, ends=(3.0, 3.0))
    door = make_saddle_door("s", thin, SIDE, opening)
    mesh = closed_solid(door.plates)
    assert mesh.size[1] == pytest.approx(0.268 * 38.1, abs=1e-9)
    assert mesh.size[1] >= 38.1 * math.tan(math.radians(15)) - 0.01
    assert closed_solid(make_saddle_door("s", GRID, SIDE, make_opening(SIDE, GRID)).plates).size[1] == 12.7


def test_the_strip_beside_a_saddle_door():
    # w = 6, u = 0.3: printed both 12.0, one 5.85, shim 6.15 (workshop arithmetic, derived).
    grid = replace(GRID, wall_thickness=6.0)
    size = closed_solid(make_shim("s", grid, SIDE, make_opening(SIDE, grid, width=20.0)).plates).size
    assert size == pytest.approx((6.0, 6.15, 38.1))


def test_an_outline_carries_leaves_too():
    opening = make_opening(80.0, GRID, leaf="sliding")
    points = ((0, 0), (0, 80), (70, 90), (80, 0))
    closed_solid(make_tile("o", OutlineShape(points, (1, 2), ((1, opening),)), GRID).plates)


LEAVED = (
    Way((2, 1), "east", "doorway", leaf="sliding", style="portcullis"),
    Way((1, 2), "south", "doorway", leaf="lift-out"),
    Way((4, 2), "south", "saddle", leaf="sliding", style="bars"),
    Way((1, 1), "north", "doorway", leaf="hinged"),
)


def leaved(ways=LEAVED, rows=("AABB", "AABB", "CCBD")):
    return draw(name="t", scale="10 ft", grid=GRID, rooms=read_drawing("\n".join(rows)), titles={}, ways=ways)


def test_leaves_in_a_kit():
    kit = make_kit(leaved())
    counts = {p.name.rsplit("-leaf")[0] if "leaf" in p.name else p.name: p.count for p in kit.pieces}
    assert sum(p.count for p in kit.pieces) == 6
    assert counts["lift-out"] == 2
    assert counts["saddle-door"] == 1
    where = next(p for p in kit.pieces if p.name == "lift-out-leaf").places
    assert [(w.cell, w.side) for w in where] == [((1, 2), "south"), ((1, 3), "north")]
    for kind in kit.types:
        closed_solid(kind.tile.plates)


def low_room(leaf):
    ways = [Way((1, 1), "east", "doorway", leaf=leaf, place="[[way]] 1")]
    return furnish(leaved(ways, rows=("AB",)), (), {"A": RoomHeights(20.0, 6.35)})


def test_a_leaf_is_as_high_as_the_walls_of_its_room():
    leaves = make_kit(low_room("lift-out")).pieces
    assert sorted(leaf.piece.plates[0].height for leaf in leaves) == [20.0, GRID.wall_height]
    with pytest.raises(InputError, match=r"\[\[way\]\] 1.*needs a flat strip of wall above it"):
        make_kit(low_room("hinged"))


def test_the_look_of_a_leaf_makes_no_new_tiles():
    plain = make_kit(leaved())
    again = make_kit(leaved([replace(way, style="plain") for way in LEAVED]))
    assert [t.tile.id for t in plain.types] == [t.tile.id for t in again.types]
    assert {p.piece.id for p in plain.pieces} != {p.piece.id for p in again.pieces}


def test_no_leaf_changes_nothing():
    opening = make_opening(SIDE, replace(GRID, door=Door(style="bars")))
    assert opening == make_opening(SIDE, GRID)


def test_leaves_that_cannot_be():
    for grid, asked, word in [
        (replace(GRID, door=Door(thickness=5.0)), {"leaf": "sliding"}, "needs a wall at least "),
        (replace(GRID, door=Door(groove_depth=2.6)), {"leaf": "sliding"}, "of wall beside it, and here it has "),
        (GRID, {"leaf": "hinged", "head": "round"}, "flat strip of wall above it"),
        (GRID, {"leaf": "hinged", "height": 38.1}, "flat strip of wall above it"),
        (GRID, {"leaf": "lift-out", "head": "pointed", "width": 20.0}, "flat head, and this one is pointed"),
        (replace(GRID, base_depth=2.0), {"leaf": "hinged"}, "needs a base at least "),
        (GRID, {"leaf": "hinged", "width": 6.0}, "needs an opening at least "),
    ]:
        with pytest.raises(InputError) as error:
            make_opening(SIDE, grid, **{"width": 57.0, **asked})
        assert word in str(error.value)


def test_a_saddle_has_no_hinge():
    with pytest.raises(InputError, match="saddle"):
        leaved([Way((1, 1), "east", "saddle", leaf="hinged")], ("AB",))


@pytest.mark.parametrize("leaf", LEAVES)
@pytest.mark.parametrize(
    "word",
    [
        "greyboard",
        "foam",
    ],
)
def test_leaves_on_sheets(word, leaf):
    """A wall of three layers holds its leaf between the outer two; of others the leaf hangs on tape."""
    tile, opening = tile_with(leaf)
    piece = make_leaf("leaf", GRID, SIDE, opening)
    listed = list_parts([(tile, 1), (piece, 1)], read_material(word)).parts
    assert [part for part in listed if any(use.tile == piece.id for use in part.uses)]
    inner = [part for part in listed if any("inner layers" in note for note in part.notes)]
    if word != "greyboard" or leaf == "hinged":
        assert not inner
        return
    # 6.2 mm of wall: three layers of 2 mm; the middle one is cut out 1.2 mm past each jamb, up to the top.
    walls = [part for part in inner if part.role == "wall"]
    assert sum(part.count for part in walls) == 2
    whole = next(p for p in make_plates(tile.shape, GRID, printed_band(GRID), Joints()) if p.openings).length
    slot = opening.width + 2 * DOOR.groove_depth
    assert sum(part.outline.area for part in walls) == pytest.approx((whole - slot) * 38.1, abs=5.0)


def test_leaves_have_their_height_and_lines():
    """A hinged leaf hangs 0.4 mm clear of floor and lintel (common practice, no source); planks meet at the quarters."""
    opening = make_opening(SIDE, GRID, leaf="hinged")
    hinged = make_leaf("l", GRID, SIDE, opening)
    assert closed_solid(hinged.plates).size[2] == pytest.approx(opening.height - 2 * 0.4)
    for leaf in ("sliding", "hinged"):
        piece = make_leaf("l", GRID, SIDE, make_opening(SIDE, GRID, leaf=leaf, style="planks"))
        (plate,) = piece.plates
        long = plate.foot.bounds[2] if leaf == "sliding" else leaf_length(opening, GRID)
        high = GRID.wall_height if leaf == "sliding" else plate.height
        for mark in plate.marks:
            strips = sorted(part.bounds for part in mark.region.geoms)
            assert [(w + e) / 2 for w, _, e, _ in strips] == pytest.approx([long / 4, long / 2, long * 3 / 4])
            assert all(
                south == pytest.approx(3.0) and north == pytest.approx(high - 3.0) for _, south, _, north in strips
            )
            for line, (west, south, east, north) in zip(mark.centres, strips, strict=bool(mark.centres)):
                assert line == (((west + east) / 2, pytest.approx(south)), ((west + east) / 2, pytest.approx(north)))


def test_strips_for_every_saddle_if_asked_for():
    def kit(**more):
        grid = replace(GRID, door=Door(**more))
        ways = [Way((1, 1), "east", "saddle"), Way((2, 1), "east", "saddle")]
        rooms = read_drawing("ABC")
        return make_kit(draw(name="t", scale="10 ft", grid=grid, rooms=rooms, titles={}, ways=ways))

    assert [(p.name, p.count) for p in kit().pieces] == [("saddle-door", 2)]
    # One for each side of the wall.
    found = {p.name: p for p in kit(shims=True).pieces}
    assert {name: p.count for name, p in found.items()} == {"saddle-door": 2, "saddle-strip": 4}
    assert [way.cell for way in found["saddle-strip"].places] == [(1, 1), (1, 1), (2, 1), (2, 1)]


def test_a_saddle_door_needs_legs_and_an_open_way_no_leaf():
    # 63.5 less two walls of 6.35 and 0.3 mm of play at each end: 50.2 between the posts.
    with pytest.raises(InputError, match=r"50\.2 mm wide"):
        make_saddle_door("s", GRID, SIDE, Opening(SIDE / 2, 50.2, 20.0, "flat"))
    make_saddle_door("s", GRID, SIDE, Opening(SIDE / 2, 50.1, 20.0, "flat"))
    with pytest.raises(InputError, match="an open way can't have a leaf"):
        leaved([Way((1, 1), "east", "open", leaf="sliding")], ("AB",))


def test_openings_that_do_not_fit():
    """A side of 63.5 mm leaves 57.15 between jambs of half a wall; 20 mm from its start 2 x 20 - 6.35 = 33.65."""
    for more, says in [
        ({"centre": 0.0}, "the middle of the opening is not on its wall"),
        (
            {"centre": SIDE},
            "the middle of the opening is not on its wall, which is 63.5 mm long. Use a number of spaces from 0 to 2 for at",
        ),
        ({"width": 57.2}, "is 57.2 mm wide, but the wall has room for only 57.15 mm"),
        ({"centre": 20.0, "width": 33.7}, "is 33.7 mm wide, but the wall has room for only 33.65 mm"),
        ({"width": 0.0}, "an opening can't be 0 mm wide"),
        ({"height": 38.2}, "is 38.2 mm high, but the wall only 38.1 mm"),
        ({"height": 0.0}, "an opening can't be 0 mm high"),
        (
            {"width": 30.0, "height": 14.9, "head": "round"},
            "needs an opening at least 15 mm high, and this one is 14.9 mm",
        ),
    ]:
        with pytest.raises(InputError, match=says):
            make_opening(SIDE, GRID, **more)


def test_openings_that_just_fit():
    for more in (
        {"width": 57.15},
        {"centre": 20.0, "width": 33.65},
        {"height": 38.1},
        {"width": 30.0, "height": 15.0, "head": "round"},
    ):
        made = make_opening(SIDE, GRID, **more)
        assert {name: getattr(made, name) for name in more} == more
    # What is not asked for shrinks to fit.
    assert make_opening(SIDE, GRID, centre=12.0).width == pytest.approx(2 * 12.0 - 6.35)
    assert make_opening(31.75, GRID, ends=(6.35, 6.35)).width == pytest.approx(31.75 - 3 * 6.35)
