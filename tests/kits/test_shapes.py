"""Rooms off the grid: their outlines, the pieces they are cut into, walls, ways, kits, figures and sight."""

import json
import math
import random
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from tests.plans import plan
from tests.unit.test_solids import check_stl
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing, read_plan
from tilegen.files.toml import find
from tilegen.fit.discs import largest_disc_in
from tilegen.fit.figures import figures_on
from tilegen.geometry import CHORD_MM
from tilegen.model.grid import Grid
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.layout import lay
from tilegen.plans.record import kit_json
from tilegen.plans.route import make_route
from tilegen.plans.shapes import Arc, Circle, Corners, DrawnShape, Hall, polygon_of
from tilegen.plans.sight import in_sight
from tilegen.plans.ways import Way
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.shape import RegionShape

CELL = 63.5


def shaped(rows, shapes, *, grid=None, scale="10 ft", ways=()):
    return draw(
        name="t",
        scale=scale,
        grid=grid or Grid(),
        rooms=read_drawing("\n".join(rows)),
        titles={},
        shapes=[DrawnShape(room, outline, f"[[shape]] {n}") for n, (room, outline) in enumerate(shapes, 1)],
        ways=ways,
    )


def outline(shape, cell=CELL):
    return polygon_of(DrawnShape("A", shape), cell)


# --- outlines ---


def test_a_circle_keeps_its_area_to_the_chord_error():
    """Area pi r^2, length 2 pi r (Euclidean geometry); chords lie inside by at most the stated error."""
    for radius in [0.5, 1.0, 2.0, 3.7]:
        made, r = outline(Circle((4, 4), radius)), radius * CELL
        assert 0 < math.pi * r**2 - made.area < 2 * math.pi * r * CHORD_MM
        assert made.length == pytest.approx(2 * math.pi * r, rel=1e-3)
        middles = [shapely.Point((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(made.exterior.coords)]
        away = [r - m.distance(shapely.Point(4 * CELL, 4 * CELL)) for m in middles]
        assert max(away) <= CHORD_MM + 1e-9


def test_a_curved_hall_is_a_ring_sector():
    """Area of a ring sector: half the angle times (R^2 - r^2)."""
    made = outline(Arc((4, 4), 2.5, 1.0, 30.0, 150.0))
    exact = math.radians(120) / 2 * ((3 * CELL) ** 2 - (2 * CELL) ** 2)
    assert made.area == pytest.approx(exact, abs=math.radians(120) * 5 * CELL * 1.3 * CHORD_MM)
    assert outline(Arc((4, 4), 2.5, 1.0, 0.0, 360.0)).interiors


def test_bows_are_bulges():
    """DXF bulge = tan(theta / 4) = 2 bow / chord: a square of 25.4 with one half-circle side, 898.5137 mm2, 116.0982 mm."""
    made = outline(Corners(((0, 0), (1, 0), (1, 1), (0, 1)), (0.0, 0.5, 0.0, 0.0)), 25.4)
    assert made.area == pytest.approx(898.5137, abs=12.7 * math.pi * CHORD_MM)
    assert made.length == pytest.approx(116.0982, abs=0.1)
    assert made.bounds[2] == pytest.approx(38.1, abs=CHORD_MM)
    inwards = outline(Corners(((0, 0), (1, 0), (1, 1), (0, 1)), (0.0, -0.5, 0.0, 0.0)), 25.4)
    assert made.area + inwards.area == pytest.approx(2 * 25.4**2, abs=1e-9)
    other_way = outline(Corners(((0, 1), (1, 1), (1, 0), (0, 0)), (0.0, 0.5, 0.0, 0.0)), 25.4)
    assert other_way.area == pytest.approx(made.area, abs=1e-9)


def test_shoelace_and_pick():
    """Shoelace formula's published polygon: 16.5; Pick's theorem I + B / 2 - 1 with I = 15, B = 5."""
    corners = ((1, 6), (3, 1), (7, 2), (4, 4), (8, 5))
    made = outline(Corners(corners, (0.0,) * 5), 1.0)
    assert made.area == pytest.approx(16.5)
    points = [shapely.Point(x, y) for x in range(9) for y in range(9)]
    inside = sum(made.contains(p) for p in points)
    border = sum(made.boundary.distance(p) < 1e-9 for p in points)
    assert (inside, border) == (15, 5)
    assert inside + border / 2 - 1 == pytest.approx(made.area)


def test_outlines_that_are_none():
    for shape, words in [
        (Circle((2, 2), 0.0), "the radius is 0 squares. Make it more than 0"),
        (Circle((2, 2), 0.1), "the outline at [2, 2.01] covers less than 0.05 squares"),
        (Circle((1, 2), 1.5), "from [-0.5, 0.5] to [2.5, 3.5], and the drawing from [0, 0] to [5, 3]"),
        (Corners(((0, 0), (2, 0)), (0, 0)), "2 corners"),
        (
            Corners(((0, 0), (2, 2), (2, 0), (0, 2)), (0, 0, 0, 0)),
            "crosses or touches itself near [1, 1]. Write its corners",
        ),
        (Corners(((0, 0), (2, 0), (2, 0), (2, 2)), (0, 0, 0, 0)), "corners 2 and 3 are the same point, [2, 0]"),
        (Corners(((0, 0), (3, 0), (3, 0.01), (0, 0.01)), (0, 0, 0, 0)), "covers less than 0.05 squares of floor"),
        (Corners(((0, 0), (3, 0), (3, 0.05), (0, 0.05)), (0, 0, 0, 0)), "narrower"),
        (
            Corners(((0, 0), (2, 0), (2, 2)), (1.2, 0, 0)),
            "the side from [0, 0] to [2, 0] bends by 1.2 cells, more than a half circle. Use at most 1,",
        ),
        (Hall((1, 1), (1, 1), 1), "the hall at [1, 1] is only 0 cells long"),
        (Arc((2, 2), 0.2, 1.0, 0, 90), "a curved hall 1 wide needs a radius of at least 0.5"),
    ]:
        with pytest.raises(InputError) as caught:
            shaped([".....", "AA...", "....."], [("A", shape)])
        assert words in caught.value.message
        assert "[[shape]] 1" in caught.value.message


def test_a_shape_over_another_room_is_refused_with_the_place():
    with pytest.raises(InputError, match=r"at \[1\.\d+, 1\.\d+\] the shape lies over cell \[2, 2\] of room"):
        shaped(["....", ".B..", "...."], [("A", Circle((1.5, 1.5), 0.5))])
    with pytest.raises(InputError, match='the shape of room "A"'):
        shaped(["....", "....", "...."], [("A", Circle((1, 1), 1)), ("B", Circle((2, 1), 1))])
    with pytest.raises(InputError, match=r"from \[2.5, 0\] to \[4.5, 2\], and the drawing from \[0, 0\] to \[4, 3\]"):
        shaped(["....", "....", "...."], [("A", Circle((3.5, 1), 1))])


# --- pieces ---


def random_shape(seed):
    rnd = random.Random(seed)
    m = rnd.randint(3, 9)
    spots = [
        (4 + r * math.cos(2 * math.pi * i / m), 4 + r * math.sin(2 * math.pi * i / m))
        for i in range(m)
        for r in [rnd.uniform(1.2, 3.9)]
    ]
    cave = Corners(tuple(spots), tuple(rnd.choice([0.0, rnd.uniform(-0.3, 0.4)]) for _ in spots))
    radius = rnd.uniform(0.5, 3)
    circle = Circle((rnd.uniform(radius, 8 - radius), rnd.uniform(radius, 8 - radius)), radius)
    hall = Hall(
        (rnd.uniform(1, 3), rnd.uniform(1, 7)), (rnd.uniform(5, 7), rnd.uniform(1, 7)), rnd.choice([0.7, 1, 1.41])
    )
    return rnd.choice([cave, circle, hall]), rnd.choice(["10 ft", "5 ft"]), rnd.choice([0.0, 0.3])


@pytest.mark.parametrize("seed", range(5))
def test_pieces_make_up_the_floor_and_every_one_is_a_closed_solid(seed):
    """Sum of tile areas = area of the drawn floor less the seams, to a millionth; solids judged by trimesh."""
    shape, scale, play = random_shape(seed)
    drawing = shaped(
        ["A......." if r == 0 else "........" for r in range(8)],
        [("A", shape)],
        grid=Grid(joint_play=play),
        scale=scale,
    )
    kit = make_kit(drawing)
    floor = shapely.union_all(list(drawing.off_grid.regions.values()))
    nominal = feet = offset = 0.0
    tiles = list(placed(kit, drawing))
    for kind, _ in tiles:
        tile = kind.tile
        piece = (
            tile.shape.piece
            if isinstance(tile.shape, RegionShape)
            else tile.base.foot.buffer(play / 2, join_style="mitre")
        )
        nominal, feet = nominal + piece.area, feet + tile.base.foot.area
        offset += piece.buffer(-play / 2, join_style="mitre").area
    assert nominal == pytest.approx(floor.area, rel=1e-6)
    assert feet == pytest.approx(offset, rel=1e-6)
    lying = [turn.geometry(kind.tile.base.foot) for kind, turn in tiles]
    table = shapely.transform(floor, lambda p: p * (1.0, -1.0))
    # Nothing overlaps (to the micrometre that alike pieces may differ by), nothing leaves the floor.
    assert sum(p.area for p in lying) - shapely.union_all(lying).area < 0.05
    assert shapely.union_all(lying).difference(table.buffer(2e-3)).area == 0
    for kind in kit.types:
        mesh = build_mesh("t", kind.tile.plates)
        assert mesh.volume == pytest.approx(kind.tile.volume, rel=1e-6)
        check_stl(stl_bytes(mesh), kind.tile)


def test_a_round_room_of_radius_two_needs_two_odd_types():
    kit = make_kit(shaped(["......"] * 6, [("A", Circle((3, 3), 2))]))
    assert {kind.count for kind in kit.types} == {4}
    assert len(kit.types) == 3
    assert [not len(kind.lies) for kind in kit.types].count(True) == 1
    # Whole squares are the same floor tile as anywhere.
    assert make_kit(plan(["AAA"] * 3, grid=Grid())).types[-1].tile.id in {kind.tile.id for kind in kit.types}


def test_halves_of_squares_repeat():
    """A diamond: four triangles that are half a square each, whole squares in the middle."""
    kit = make_kit(shaped(["......"] * 6, [("A", Corners(((3, 1), (5, 3), (3, 5), (1, 3)), (0,) * 4))]))
    triangles = next(kind for kind in kit.types if kind.tile.name.startswith("triangle"))
    # In one pose or turned: four corners of two triangles each.
    assert triangles.count == 8
    assert triangles.tile.shape.piece.area == pytest.approx(CELL**2 / 2)


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_a_shape_of_whole_cells_is_the_same_as_letters(scale):
    rows = ["AA.BB", "AAABB", ".CCC."]
    ways = (Way((3, 2), "east", "doorway"), Way((3, 2), "south", "open"))
    letters = draw(name="t", scale=scale, grid=Grid(), rooms=read_drawing("\n".join(rows)), titles={}, ways=ways)
    drawn = shaped(
        ["...BB", "...BB", ".CCC."],
        [("A", Corners(((0, 0), (2, 0), (2, 1), (3, 1), (3, 2), (0, 2)), (0,) * 6))],
        scale=scale,
        ways=ways,
    )
    one, other = make_kit(letters), make_kit(drawn)
    assert "".join(kit_json(one)) == "".join(kit_json(other))
    sights = [in_sight(d, k, doors_open=o) for d, k in ((letters, one), (drawn, other)) for o in (False, True)]
    assert sights[0] == sights[2]
    assert sights[1] == sights[3]
    for base in (25.4, 30.0, 50.8):
        here, there = figures_on(letters, [base])[0], figures_on(drawn, [base])[0]
        assert (here.blocks == there.blocks).all()
        assert (here.standing == there.standing).all()
        assert here.unreached == there.unreached


def test_walls_are_the_floor_less_itself_moved_in():
    """Erosion by a disc or a mitred square: what walls leave of the tower is a circle a wall's thickness smaller."""
    drawing = shaped(["......"] * 6, [("A", Circle((3, 3), 2))])
    standing = []
    for kind, turn in placed(make_kit(drawing), drawing):
        standing += [turn.geometry(plate.foot) for plate in kind.tile.plates if plate.edge is not None]
    wall = shapely.union_all(standing).buffer(0.2).buffer(-0.2)
    outer, inner = 2 * CELL - 0.15, 2 * CELL - 6.35
    assert wall.area == pytest.approx(math.pi * (outer**2 - inner**2), rel=2e-3)
    hollow = Polygon(wall.interiors[0])
    assert 2 * math.sqrt(hollow.area / math.pi) == pytest.approx(2 * inner, abs=0.05)


def test_offsets_follow_steiner():
    """Steiner: convex A + P r + pi r^2; the L of area 18 for r = 0.5 exactly 29.731748, not 29.785398 (one reflex corner).

    The room's walls are the same offset inwards: what is left, grown again by a disc, is the room less its corners.
    """
    ell = Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)])
    assert ell.buffer(0.5, quad_segs=512).area == pytest.approx(29.731748, abs=1e-5)
    square = Polygon([(0, 0), (25.4, 0), (25.4, 25.4), (0, 25.4)])
    assert square.buffer(0.5, quad_segs=512).area == pytest.approx(696.745398, abs=1e-5)
    drawing = shaped(
        ["........"] * 7,
        [("A", Corners(((0.5, 0.5), (6.5, 0.5), (6.5, 2.5), (2.5, 2.5), (2.5, 5.5), (0.5, 5.5)), (0,) * 6))],
    )
    walls = sum(plate.foot.area for kind, _ in placed(make_kit(drawing), drawing) for plate in kind.tile.plates[1:])
    t, side = 6.35, CELL
    # Inwards with mitres an L loses P t - (5 - 1) t^2; half the play comes off each outside edge and seam.
    perimeter = 22 * side
    assert walls == pytest.approx(perimeter * t - 4 * t**2, rel=0.03)
    assert walls < perimeter * t - 4 * t**2


def test_a_way_through_a_curve_over_a_seam(tmp_path):
    path = tmp_path / "tower.toml"
    head = 'name = "t"\ndrawing = """\n......\n......\n......\n......\n"""\n[[shape]]\nroom = "T"\ncircle = { centre = [3, 2], radius = 2 }\n'
    path.write_text(head + '[[way]]\nroom = "T"\nat = [3, 0]\nkind = "doorway"\n')
    drawing = read_plan(path)
    kit = make_kit(drawing)
    opened = [kind for kind in kit.types if any(plate.openings for plate in kind.tile.plates)]
    assert sum(kind.count for kind in opened) == 2
    for kind in opened:
        check_stl(stl_bytes(build_mesh("t", kind.tile.plates)), kind.tile)
    stops = make_route(drawing, kit)
    assert stops[0].steps == 0
    figure = figures_on(drawing, [25.4])[0]
    assert figure.from_ways_in
    assert not figure.unreached
    for words, text in (
        (
            "a saddle needs a wall that runs along one whole side of a square",
            'room = "T"\nat = [3, 0]\nkind = "saddle"',
        ),
        (
            'there is no wall of room "T" near [3, 2]. Use at = [',
            'room = "T"\nat = [3, 2]\nkind = "open"',
        ),
        ('the drawing has no room "X". ', 'room = "X"\nat = [3, 0]\nkind = "open"'),
        ("head", 'room = "T"\nat = [3, 0]\nkind = "doorway"\nhead = "round"'),
        ("a way at a point needs a room", 'at = [3, 0]\nkind = "open"'),
        ("it is not clear where this way is", 'kind = "open"'),
        (
            'no wall on this side of the square. Use the nearest wall of the room, with room = "T" and at = [4.11, 0.34]',
            'cell = [4, 1]\nside = "east"\nkind = "open"',
        ),
    ):
        path.write_text(head + "[[way]]\n" + text + "\n")
        with pytest.raises(InputError) as caught:
            make_kit(read_plan(path))
        assert words in caught.value.message, words


# --- what takes a plan ---


@pytest.fixture(scope="module")
def light():
    drawing = read_plan(find("gull-light", "plans"))
    return drawing, make_kit(drawing)


def test_the_demonstration_is_whole(light):
    drawing, kit = light
    record = json.loads("".join(kit_json(kit)))
    odd = [tile for tile in record["tiles"] if tile["edges"] == [None] * 4]
    assert len(odd) > 10
    assert sum(tile["count"] for tile in record["tiles"]) == record["totals"]["tiles"]
    laid = lay(drawing, kit)
    assert np.bincount(laid.type_of, minlength=len(kit.types)).tolist() == [kind.count for kind in kit.types]
    assert sum(n for stop in make_route(drawing, kit) for _, _, n in stop.tiles) == kit.tiles
    for kind in kit.types:
        if len(kind.lies):
            check_stl(stl_bytes(build_mesh("t", kind.tile.plates)), kind.tile)


def test_sight_in_a_round_room_sees_all_of_it(light):
    """A convex room sees all of itself; sight is mutual (both general properties of visibility)."""
    drawing = shaped(["......"] * 6, [("A", Circle((3, 3), 2.4))])
    kit = make_kit(drawing)
    assert in_sight(drawing, kit).tiles == kit.tiles


def test_the_largest_disc_in_polygons_of_known_size():
    """A square's inscribed circle is its side; of a 3-4-5 triangle it has r = 1; of a circle's polygon its apothem."""
    assert largest_disc_in(shapely.box(0, 0, 25.4, 80)) == pytest.approx(25.4, abs=1e-8)
    assert largest_disc_in(Polygon([(0, 0), (4, 0), (0, 3)])) == pytest.approx(2.0, abs=1e-8)
    gon = Polygon([(30 * math.cos(2 * math.pi * k / 60), 30 * math.sin(2 * math.pi * k / 60)) for k in range(60)])
    assert largest_disc_in(gon) == pytest.approx(60 * math.cos(math.pi / 60), abs=1e-8)
    # A square less a corner post: (p - w)(4 - 2 sqrt 2), as in closed form.
    post = shapely.box(0, 0, 31.75, 31.75).difference(shapely.box(0, 0, 6.35, 6.35))
    assert largest_disc_in(post) == pytest.approx(25.4 * (4 - 2 * math.sqrt(2)), abs=1e-8)


def test_equal_input_gives_equal_bytes(light):
    drawing, kit = light
    again = make_kit(read_plan(find("gull-light", "plans")))
    assert "".join(kit_json(kit)) == "".join(kit_json(again))
    for one, other in zip(kit.types[:8], again.types, strict=False):
        assert stl_bytes(build_mesh("t", one.tile.plates)) == stl_bytes(build_mesh("t", other.tile.plates))


def test_a_room_of_letters_beside_a_round_one_in_one_block():
    """5 ft: blocks of four cells hold both. Tiles cover both floors once, and nothing else."""
    rows = ["BB......", "BB......", "BB......", "BBB.....", "BBB.....", "........", "........", "........"]
    drawing = shaped(rows, [("A", Circle((5.2, 2.6), 2.1))], scale="5 ft", ways=(Way((1, 1), "west", "doorway"),))
    kit = make_kit(drawing)
    letters = shapely.union_all(
        [
            shapely.box(c * CELL / 2, -(r + 1) * CELL / 2, (c + 1) * CELL / 2, -r * CELL / 2)
            for r, c in np.argwhere(drawing.rooms == ord("B")).tolist()
        ]
    )
    floor = shapely.union_all([*drawing.off_grid.regions.values(), letters])
    play = drawing.grid.joint_play
    lying = [turn.geometry(kind.tile.base.foot) for kind, turn in placed(kit, drawing)]
    table = shapely.transform(floor, lambda p: p * (1.0, -1.0))
    assert sum(p.area for p in lying) - shapely.union_all(lying).area < 0.05
    assert shapely.union_all(lying).difference(table.buffer(2e-3)).area == 0
    assert shapely.union_all([p.buffer(play / 2 + 1e-3, join_style="mitre") for p in lying]).area == pytest.approx(
        floor.area, rel=1e-3
    )
    for kind in kit.types:
        check_stl(stl_bytes(build_mesh("t", kind.tile.plates)), kind.tile)
    laid = lay(drawing, kit)
    assert ((laid.tile_of >= 0) == (drawing.rooms != 0)).all()


def test_a_plan_off_the_grid_has_the_same_totals_mirrored():
    """Two slanting halls, one cut by the lattice into pieces that are half turns of each other: 17 types either way."""
    rows = ["AA.......", "AA.......", ".........", "......BBB", "......BBB", "......BBB"]
    width = len(rows[0])

    def totals(mirrored):
        def at(x, y):
            return (width - x if mirrored else x, y)

        corners = [at(2, 0), at(6, 3), at(6, 5), at(2, 2)]
        sides = ("west", "east") if mirrored else ("east", "west")
        columns = [width + 1 - c if mirrored else c for c in (2, 7)]
        drawing = shaped(
            [row[::-1] if mirrored else row for row in rows],
            [
                ("H", Corners(tuple(corners[:: -1 if mirrored else 1]), (0.0,) * 4)),
                ("A", Hall(at(0.9, 1.5), at(2.6, 5.4), 0.8)),
            ],
            ways=[Way((columns[0], 1), sides[0], "open"), Way((columns[1], 4), sides[1], "doorway")],
        )
        kit = make_kit(drawing)
        return kit.tiles, len(kit.types)

    assert totals(mirrored=False) == totals(mirrored=True) == (27, 17)


@pytest.mark.parametrize("seed", range(3))
def test_random_plans_off_the_grid_have_the_same_totals_turned_and_mirrored(seed):
    """A hall, a round room or a room of four corners: as drawn, turned a quarter, half way round, mirrored, both."""
    rng, size = random.Random(seed), 8
    points = [(rng.randint(8, 24) / 4, rng.randint(5, 9) / 4), (rng.randint(8, 24) / 4, rng.randint(20, 26) / 4)]
    points += [(1 + rng.randint(0, 3) / 4, 5.25), (1.25, 1 + rng.randint(0, 3) / 4)]

    def totals(a, b, c, d):
        half = size / 2
        moved = [(a * (x - half) + b * (y - half) + half, c * (x - half) + d * (y - half) + half) for x, y in points]
        shape = (
            Hall(*moved[:2], 1.3),
            Circle((moved[0][0], moved[0][1]), 0.85),
            Corners(tuple(moved[:: int(a * d - b * c)]), (0.0,) * 4),
        )[seed % 3]
        kit = make_kit(shaped(["." * size] * size, [("A", shape)]))
        return sum(kind.count for kind in kit.types), len(kit.types)

    drawn = totals(1, 0, 0, 1)
    for matrix in ((0, -1, 1, 0), (-1, 0, 0, -1), (-1, 0, 0, 1), (0, 1, 1, 0)):
        assert totals(*matrix) == drawn
