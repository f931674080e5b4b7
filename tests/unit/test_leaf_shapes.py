"""Shapes of leaves and of what their walls carry for them, measured against sums by hand."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from tilegen.errors import InputError
from tilegen.model.grid import HEADS, Door, Grid
from tilegen.tiles.leaves.hinged import hinge_thickness, leaf_length
from tilegen.tiles.leaves.kind import check_leaf, clear_width, leaf_plates
from tilegen.tiles.leaves.sliding import groove_width, sliding_face
from tilegen.tiles.loose import leaves_of, make_leaf, make_saddle_door, make_shim, saddle_plates
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

GRID = Grid()
STYLES = ("planks", "plain", "bars", "portcullis")


def opening(leaf, *, width=20.0, height=30.0, style="planks", head="flat", centre=31.75):
    return Opening(centre, width, height, head, leaf, style)


def walled(way, grid=GRID):
    """The wall of a tile to the north with that way through it, and the base under it."""
    tile = make_tile("t", single_cell(Cell((Side("doorway", way), OPEN, OPEN, OPEN)), (2, 2)), grid)
    return tile.plates[1], tile.base


# --- sliding ---


def test_the_face_of_a_sliding_leaf():
    """20 mm of opening and two grooves of 1.2 less 0.2 of play: 22 wide, 38.1 high, a grip of 4 on its middle half."""
    for style in STYLES:
        face, lines = sliding_face(opening("sliding", style=style), GRID)
        outside = Polygon(face.exterior)
        assert outside.equals_exact(Polygon(outside.exterior), 0.0)
        expected = box(0, 0, 22, 38.1).union(box(5.5, 38.1, 16.5, 42.1))
        assert outside.symmetric_difference(expected).area < 1e-9
        assert bool(lines) == (style == "planks")
        # Openings between bars of 3 mm: two to 13.6 mm, each (13.6 - 3) / 2 wide; 3 mm of rim over the floor and under 30 mm.
        holes = sorted(Polygon(ring).bounds for ring in face.interiors)
        across = [(4.2, 9.5), (12.5, 17.8)]
        gap = (24 - 3 * 3) / 4
        up = {
            "bars": [(3.0, 27.0)],
            "portcullis": [(3 + n * (gap + 3), 3 + n * (gap + 3) + gap) for n in range(4)],
        }.get(style, [])
        assert holes == [pytest.approx((w, s, e, n)) for w, e in across for s, n in up]


def test_bars_of_a_leaf_as_high_as_its_wall_keep_a_rim():
    face, _ = sliding_face(opening("sliding", height=38.1, style="bars"), GRID)
    # 3 mm under the wall's top and 3 mm of rim under that.
    assert [ring.bounds[3] for ring in face.interiors] == pytest.approx([38.1 - 6.0] * 2)


def test_a_leaf_hardly_larger_than_its_rims_is_whole():
    """Rims of 3 mm on both sides of 6.4 mm (of which 0.2 are play on each), over the floor and under the head."""
    for more in [{"width": 6.3}, {"width": 4.0}, {"height": 5.9}, {"height": 3.0}]:
        for style in STYLES:
            face, _ = sliding_face(opening("sliding", **{**more, "style": style}), GRID)
            assert not face.interiors


def test_a_hole_between_bars_is_a_millimetre_wide_or_none():
    """Less could be neither cut nor printed. 3 mm of rim and 0.2 of play on each side leave 1.1 and 0.9 mm."""
    face, _ = sliding_face(opening("sliding", width=7.5, style="portcullis"), GRID)
    across = {(round(p.bounds[0], 6), round(p.bounds[2], 6)) for p in map(Polygon, face.interiors)}
    assert across == {(4.2, 5.3)}
    assert not sliding_face(opening("sliding", width=7.3, style="portcullis"), GRID)[0].interiors


def test_planks_are_lines_from_rim_to_rim():
    face, (lines,) = sliding_face(opening("sliding"), GRID)
    assert lines.depth == 0.5
    assert lines.region.area == pytest.approx(3 * 0.8 * (38.1 - 6.0))
    assert lines.line.length == pytest.approx(3 * (38.1 - 6.0))
    assert face.covers(lines.region)


@pytest.mark.parametrize(("height", "top"), [(30.0, 30.0), (38.1, 38.1), (38.0, 38.0)])
def test_a_groove_is_all_round_its_opening(height, top):
    """Reaches 1.2 mm into either jamb, up to the wall's top; what of it lies in the opening is open anyway."""
    wall, _ = walled(opening("sliding", height=height))
    (mark,) = wall.marks
    middle = wall.openings[0].centre
    expected = box(middle - 11.2, 0, middle + 11.2, 38.1).difference(box(middle - 10, 0, middle + 10, top))
    assert mark.region.symmetric_difference(expected).area < 1e-9
    assert len(shapely.get_parts(mark.region)) == (2 if height == 38.1 else 1)
    # The tool runs out 1 mm past foot and top.
    assert mark.cutter.equals(box(middle - 11.2, -1, middle + 11.2, 39.1))
    # 3 mm and 0.2 of play on either face, in the middle of a wall of 6.2.
    assert (mark.depth, mark.start) == pytest.approx((3.4, 1.4))
    assert mark.line.is_empty
    assert mark.on == "outer"


@pytest.mark.parametrize("head", HEADS)
def test_a_groove_beside_a_way_without_a_lintel_is_two_slots(head):
    """A way as high as its wall is open to the top, whatever its head would be."""
    wall, _ = walled(opening("sliding", height=38.1, head=head))
    (mark,) = wall.marks
    assert sorted(p.area for p in shapely.get_parts(mark.region)) == pytest.approx([1.2 * 38.1] * 2)


def test_the_groove_of_a_saddle_is_half_in_each_of_its_plates():
    door = make_saddle_door("s", GRID, 63.5, opening("sliding"))
    plates = [p for p in door.plates if p.edge is not None]
    assert [m.depth for p in plates for m in p.marks] == [pytest.approx(1.7)] * 2
    assert {(m.on, m.start) for p in plates for m in p.marks} == {("inner", 0.0)}


# --- hinged ---


def test_a_hinged_leafs_far_corner_swings_clear():
    """3, 4, 5: with half a leaf of 3 mm and 5 mm to the circle the corner stands at 4 mm, less a quarter of the play."""
    grid = replace(GRID, wall_thickness=8.0, door=Door(thickness=6.0, clearance=0.2))
    assert hinge_thickness(grid) == 6.0
    assert leaf_length(opening("hinged", width=5.0 + 3.0 + 0.2), grid) == pytest.approx(4.0 - 0.05)
    # A long leaf of the usual kind: the far jamb, less the play, is nearer than the circle.
    half = (2.0 + 0.35 + 1.6) / 2
    assert leaf_length(opening("hinged"), GRID) == pytest.approx(20.0 - half - 0.2 - 0.2)
    # No room for the corner at all.
    assert leaf_length(opening("hinged", width=6.1), grid) == 0.0


@pytest.mark.parametrize("style", STYLES)
def test_the_shape_of_a_hinged_leaf(style):
    """A rectangle from the pin to its free edge and a half disc round the pin, less the pin's hole of 2.35 mm."""
    way = opening("hinged", style=style)
    (plate,) = leaf_plates(way, GRID)
    half, long = 3.95 / 2, 20.0 - 3.95 / 2 - 0.4
    assert plate.foot.bounds == pytest.approx((-half, -half, long, half))
    hole = 16 * (2.35 / 2) ** 2 * math.tan(math.pi / 16)
    knuckle = 6 * half**2 * math.sin(math.pi / 12)
    assert plate.foot.area == pytest.approx(long * 3.95 + knuckle - hole)
    (ring,) = plate.foot.interiors
    assert Polygon(ring).centroid.distance(Point(0, 0)) < 1e-9
    if style != "planks":
        assert plate.marks == ()
        return
    # Three lines on both faces, as deep as a quarter of what is beside the pin, 0.5 at most.
    front, back = plate.marks
    assert front.edge == ((long, -half), (0.0, -half))
    assert back.edge == ((0.0, half), (long, half))
    for mark in plate.marks:
        assert mark.on == "rim"
        assert mark.depth == pytest.approx(min(0.5, (3.95 - 2.35) / 4))
        assert mark.region.area == pytest.approx(3 * 0.8 * (30.0 - 0.8 - 6.0))


def test_a_pins_hole_leaves_a_skin_of_the_base():
    """3 mm deep, with 1.2 mm of the base under it; half a leaf and the play from the jamb, in the wall's middle."""
    for base, deep in [(6.35, 3.0), (4.2, 3.0), (3.0, 1.8), (2.2, 1.0)]:
        wall, floor = walled(opening("hinged"), replace(GRID, base_depth=base))
        (hole,) = [m for m in floor.marks if m.region.area < 10 and m.region.geom_type == "Polygon"]
        assert hole.depth == pytest.approx(deep)
        x, y = 31.75 - 10 + 3.95 / 2 + 0.2, 63.5 - 0.15 - 3.1
        assert hole.region.centroid.distance(Point(x, y)) < 1e-6
        (through,) = wall.marks
        # Through the lintel, from its top down.
        assert through.depth == pytest.approx(38.1 - 30.0)
        assert through.region.centroid.distance(Point(x, y)) < 1e-6


def test_bases_and_walls_that_hold_no_pin():
    way = opening("hinged")
    check_leaf(way, replace(GRID, base_depth=2.2), 10.0)
    with pytest.raises(InputError, match=r"at least 2\.2 mm"):
        check_leaf(way, replace(GRID, base_depth=2.19), 10.0)
    # Twice its thickness is the shortest leaf, 7.9: its corner turns on a circle of sqrt(7.95^2 + 1.975^2) = 8.192.
    check_leaf(opening("hinged", width=8.193 + 1.975 + 0.2), GRID, 10.0)
    with pytest.raises(InputError, match=r"at least 11\.85 mm"):
        check_leaf(opening("hinged", width=8.191 + 1.975 + 0.2), GRID, 10.0)
    for lintel in (38.1, 40.0):
        with pytest.raises(InputError, match="needs a flat strip of wall above it"):
            check_leaf(replace(way, height=lintel), GRID, 10.0)


@pytest.mark.parametrize(
    ("leaf", "need"),
    [("sliding", 3.4 + 1.6), ("lift-out", 3.4 + 1.6), ("hinged", 3.95)],
)
def test_walls_that_just_carry_a_leaf(leaf, need):
    """A groove of 3.4 with 0.8 mm on either side; a pin's hole of 2.35 with as much. Half the play is off the wall."""
    check_leaf(opening(leaf), replace(GRID, wall_thickness=need + 0.15), 10.0)
    with pytest.raises(InputError, match=f"at least {need:g} mm"):
        check_leaf(opening(leaf), replace(GRID, wall_thickness=need + 0.14), 10.0)
    check_leaf(opening("none"), replace(GRID, wall_thickness=1.0), 0.1)


def test_jambs_that_just_carry_a_groove():
    """A groove of 1.2 mm and 0.8 mm beside it."""
    check_leaf(opening("sliding"), GRID, 2.0)
    with pytest.raises(InputError, match="at least 2 mm"):
        check_leaf(opening("sliding"), GRID, 1.99)
    # A hinged leaf stands in no groove.
    check_leaf(opening("hinged"), GRID, 1.0)


def test_what_an_open_leaf_leaves():
    assert clear_width(opening("sliding"), GRID) == 20.0
    assert clear_width(opening("hinged"), GRID) == pytest.approx(20.0 - 3.95 - 0.4)
    assert groove_width(GRID) == pytest.approx(3.4)


# --- lift-out ---


def test_the_shape_of_a_piece_of_wall():
    """As thick as its wall, 0.2 of play from the jambs, a tongue of 3 mm into each groove; a nick under its top."""
    (plate,) = leaf_plates(opening("lift-out"), GRID)
    expected = box(-9.8, -3.1, 9.8, 3.1).union(box(-11.0, -1.5, 11.0, 1.5))
    assert plate.foot.symmetric_difference(expected).area < 1e-9
    assert (plate.bottom, plate.top) == (0.0, 38.1)
    (nick,) = plate.marks
    # In the middle of the long face, wide and high enough for a nail: 8 by 2.5 mm.
    assert nick.region.bounds == pytest.approx((9.8 - 4.0, 38.1 - 5.0, 9.8 + 4.0, 38.1 - 2.5))
    assert nick.edge == (pytest.approx((9.8, -3.1)), pytest.approx((-9.8, -3.1)))
    assert nick.depth == 1.0
    thin = replace(GRID, wall_thickness=5.25)
    assert leaf_plates(opening("lift-out"), thin)[0].marks[0].depth == pytest.approx(5.1 / 6)


# --- saddles ---


def test_the_two_plates_of_a_saddle_look_through_the_same_opening():
    """63.5 less two walls of 6.35 and two gaps of 0.3: 50.2 long, the way where it is on the side."""
    way = Opening(25.0, 20.0, 30.0)
    south, north = saddle_plates(GRID, 63.5, way, 6.35)
    assert south.foot.bounds == pytest.approx((0, 0, 50.2, 6.35))
    assert north.foot.bounds == pytest.approx((0, 6.35, 50.2, 12.7))
    # To the north the side runs eastwards, to the south back again.
    assert north.edge == ((0, 12.7), (pytest.approx(50.2), 12.7))
    assert south.edge == ((pytest.approx(50.2), 0), (0, 0))
    assert north.openings[0].centre == pytest.approx(25.0 - 6.65)
    assert south.openings[0].centre == pytest.approx(50.2 - (25.0 - 6.65))


def test_feet_beside_the_legs_of_a_saddle_that_would_tip():
    """tan 15 degrees = 0.268 of 38.1 mm: 10.21 mm deep; two walls of 4 mm lack 2.21, half of it on each side."""
    grid = replace(GRID, wall_thickness=4.0)
    door = make_saddle_door("s", grid, 63.5, Opening(25.0, 20.0, 30.0))
    feet = {p.name: p for p in door.plates if p.name.startswith("foot")}
    reach, long = (0.268 * 38.1 - 8.0) / 2, 63.5 - 8.6
    west, east = 25.0 - 4.3 - 10.0, 25.0 - 4.3 + 10.0
    expected = {
        "foot west south": (0, -reach, west, 0),
        "foot west north": (0, 8.0, west, 8.0 + reach),
        "foot east south": (east, -reach, long, 0),
        "foot east north": (east, 8.0, long, 8.0 + reach),
    }
    assert {name: plate.foot.bounds for name, plate in feet.items()} == {
        name: pytest.approx(bounds) for name, bounds in expected.items()
    }
    assert {(p.bottom, p.top) for p in feet.values()} == {(0.0, 2.0)}
    assert not [p for p in make_saddle_door("s", GRID, 63.5, Opening(25.0, 20.0, 30.0)).plates if "foot" in p.name]


def test_a_strip_fills_the_place_of_a_post():
    """Two posts are 2 x 6.2 mm and the seam 0.3: the strip stands in for one, 6.35 by 6.5."""
    strip = make_shim("strip", GRID, 63.5, opening("sliding"))
    assert strip.plates[0].foot.bounds == pytest.approx((0, 0, 6.35, 6.5))
    assert strip.volume == pytest.approx(6.35 * 6.5 * 38.1)
    assert (strip.kind, strip.opening.leaf) == ("shim", "none")


def test_a_leaf_knows_its_side():
    leaf = make_leaf("l", GRID, 63.5, opening("lift-out"))
    assert (leaf.kind, leaf.side) == ("leaf", 63.5)
    assert leaf.volume == pytest.approx((19.6 * 6.2 + 2 * 1.2 * 3.0) * 38.1 - 8.0 * 2.5 * 1.0)
    assert WALL.carries


def test_leaves_of_one_tile_are_told_apart_by_their_ids():
    """Two doorways of one width have one leaf, two of it; of two widths, two leaves, each with its id in its name."""
    for second, several in ((20.0, False), (18.0, True)):
        sides = [Side("doorway", opening("sliding", width=w)) for w in (20.0, second)]
        tile = make_tile("t", single_cell(Cell((sides[0], OPEN, sides[1], OPEN)), (2, 2)), GRID)
        found = leaves_of(tile)
        assert [count for _, count in found] == ([1, 1] if several else [2])
        names = [f"sliding-leaf-{leaf.id.lower()}" if several else "sliding-leaf" for leaf, _ in found]
        assert [leaf.name for leaf, _ in found] == names


def test_a_hinged_leaf_needs_more_height_than_its_gaps_and_rims() -> None:
    # 0.4 mm free over the floor and under the lintel, 3 mm of rim at both ends of its planks: 6.8 mm.
    with pytest.raises(InputError, match=r"an opening at least 6\.8 mm high, and here it has 6\.7 mm"):
        make_opening(63.5, Grid(), height=6.7, leaf="hinged")
    assert make_opening(63.5, Grid(), height=6.8, leaf="hinged").height == 6.8
