"""Curved walls: one plate in print, bent strips, scores, slots or facets on sheets."""

import math

import pytest

from tests.kits.test_shapes import CELL, shaped
from tilegen.files.plans import read_drawing
from tilegen.files.toml import find, read_model
from tilegen.model.grid import Grid
from tilegen.model.materials import CurveTable, MaterialFile
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import Circle, DrawnShape
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.constructions.curved import (
    bend_allowance,
    curved_layer,
    layer_depths,
    score_spacing,
    slots_for,
    way_of,
)
from tilegen.sheets.parts import list_parts
from tilegen.tiles.description import curves
from tilegen.tiles.plate import Bend, Opening, Plate
from tilegen.tiles.tile import make_plates

RADIUS = 120.0


def quarter(radius=RADIUS, thickness=6.0, facets=200):
    """A wall round a quarter circle, walked clockwise: the inside is on the right, towards the centre."""
    angles = [math.pi / 2 * (1 - k / facets) for k in range(facets + 1)]
    return Bend(tuple((radius * math.cos(a), radius * math.sin(a)) for a in angles), thickness)


def wall(bend, openings=()):
    foot = bend.foot(0.0, bend.length)
    return Plate("bent wall 1", "wall", foot, 6.0, 44.0, (bend.outer[0], bend.outer[-1]), openings, bend=bend)


def test_a_bend_measures_what_an_arc_does():
    """Arc length r A; ring sector A (R^2 - r^2) / 2. Its ends are square to the end facets, not to the arc."""
    bend = quarter()
    assert bend.length == pytest.approx(RADIUS * math.pi / 2, rel=1e-5)
    assert bend.turn == pytest.approx(math.pi / 2 * 199 / 200)
    assert bend.foot(0.0, bend.length).area == pytest.approx(math.pi / 4 * (RADIUS**2 - (RADIUS - 6) ** 2), rel=1e-3)
    # The line so deep under the outer face has the length of a smaller arc: BA = A (r + K t) with K from the inside.
    for share in (0.0, 0.5, 1.0):
        exact = bend_allowance(math.pi / 2, RADIUS - 6.0, 6.0, 1 - share)
        assert bend.length_at(share * 6.0) == pytest.approx(exact, rel=1e-3)


def test_bend_allowance_worked_example():
    """Bend allowance (pi / 180) A (r + K T): 0.125 in, 0.125 in, K 0.44, 90 degrees: 0.2827 in (a published worked example; derived)."""
    assert bend_allowance(math.pi / 2, 0.125, 0.125, 0.44) == pytest.approx(0.2827, abs=5e-5)


def test_an_opening_takes_its_sector():
    bend = quarter()
    shut, opened = wall(bend), wall(bend, (Opening(bend.length / 2, 30.0, 25.0, "flat"),))
    sector = 30.0 / RADIUS / 2 * (RADIUS**2 - (RADIUS - 6) ** 2)
    assert shut.volume - opened.volume == pytest.approx(sector * 25.0, rel=1e-3)
    assert opened.face().area == pytest.approx(bend.length * 38.0 - 30.0 * 25.0)
    # One that runs off the end takes only what is there.
    ragged = wall(bend, (Opening(0.0, 30.0, 25.0, "flat"),))
    assert shut.volume - ragged.volume == pytest.approx(sector / 2 * 25.0, rel=5e-3)


def test_flats_between_scores_stay_near_the_curve():
    """The height of a chord's segment: r - sqrt(r^2 - s^2 / 4)."""
    spacing = score_spacing(80.0, 0.25)
    assert 80.0 - math.sqrt(80.0**2 - spacing**2 / 4) == pytest.approx(0.25)


def test_slots_close_over_the_turn():
    count = slots_for(math.pi / 2, 1.0, 2.2)
    assert count * 2 * math.atan(1.0 / 4.4) >= math.pi / 2 > (count - 1) * 2 * math.atan(1.0 / 4.4)


@pytest.mark.parametrize("inward", [True, False])
def test_slots_are_as_many_and_strips_as_long_as_a_published_calculator_says(inward):
    """machinecalcs.com, "Kerf bending": 3/4 in thick, 90 degrees, inside radius 6 in, kerf and web 1/8 in.

    Layout angle (R + t - web / 2) = 10.5 in; at least (layout - angle R) / kerf = 8.6 cuts, each 0.625 in deep.
    """
    bend = quarter(171.45, 19.05)
    if not inward:
        bend = Bend(tuple(reversed(bend.outer)), 19.05)
        middle = [(x * 152.4 / 171.45, y * 152.4 / 171.45) for x, y in bend.outer]
        bend = Bend(tuple(middle), 19.05)
    board = material("mdf").model_copy(update={"thickness": 19.05, "curve": CurveTable(slot=3.175, skin=3.175)})
    (part,) = curved_layer(wall(bend), 0.0, board, "slotted")
    assert part.flat.outline.bounds[2] / 25.4 == pytest.approx(10.505, rel=6e-3)
    assert "saw 9 slots 3.175 mm wide and 15.88 deep" in part.note
    assert len(part.flat.scores) == 9


def material(name, **curve):
    made = read_model(find(name, "materials"), MaterialFile)
    return made.model_copy(update={"curve": CurveTable(**curve)}) if curve else made


def test_usual_ways():
    for name, way in [
        ("card", "bent"),
        ("eva", "bent"),
        ("greyboard", "scored"),
        ("foam", "scored"),
        ("mdf", "slotted"),
        ("pvc", "facets"),
    ]:
        assert way_of(material(name)) == way
        assert way_of(material(name, way="facets")) == "facets"


@pytest.mark.parametrize("way", ["bent", "scored", "facets"])
def test_layers_of_a_curved_wall(way):
    """Each layer's strip has the length of its own middle; facets come to the same length together."""
    stock = material("mdf", way=way)
    drawing = shaped(["......"] * 6, [("A", Circle((3, 3), 2))])
    kit = make_kit(drawing)
    construction = construction_of(drawing.grid, stock, ConstructionChoice())
    tile = next(kind.tile for kind in kit.types if any(plate.bend for plate in kind.tile.plates))
    plate = next(plate for plate in tile.plates if plate.bend)
    depths = layer_depths(plate, construction.sheet, construction.wall.layers)
    parts = {deep: list(curved_layer(plate, deep, stock, way)) for deep in depths}
    assert len(set(depths)) == construction.wall.layers == 2
    assert [p.flat.outline for found in parts.values() for p in found] == [
        p.flat.outline for p in construction.lay_bent(plate)
    ]
    for deep in depths:
        lengths = [part.flat.outline.bounds[2] for part in parts[deep]]
        exact = plate.bend.length * (2 * CELL - 0.15 - deep - 1.5) / (2 * CELL - 0.15)
        assert sum(lengths) == pytest.approx(exact, rel=2e-3)
        assert len(lengths) == 1 or way == "facets"
    scored = [len(part.flat.scores) for found in parts.values() for part in found]
    assert any(scored) == (way in ("scored", "slotted"))


def test_parts_of_a_round_room_and_its_ring_floor_is_one_part():
    drawing = shaped(["......"] * 6, [("A", Circle((3, 3), 2))])
    kit = make_kit(drawing)
    for name in ("foam", "card", "mdf", "foam-core", "pvc"):
        listed = list_parts([(kind.tile, kind.count) for kind in kit.types], material(name))
        odd = [part for part in listed.parts if part.role == "base" and len(part.outline.exterior.coords) > 12]
        assert odd
        walls = sum(part.count for part in listed.parts if part.role == "wall")
        assert walls >= 8


STOCKS = [
    (name, thickness, construction)
    for name, construction, thicknesses in (
        ("foam", "stacked", (4.2, 6.0)),
        ("foam-core", "grooved", (5.0,)),
        ("foam-core", "stacked", (5.0,)),
        ("card", "folded", (0.3,)),
        ("greyboard", "stacked", (1.5,)),
        ("mdf", "stacked", (3.0,)),
    )
    for thickness in thicknesses
]


@pytest.mark.parametrize("stock", STOCKS, ids=str)
def test_a_round_room_within_one_tile_is_two_half_rings(stock):
    """Each layer of a half is half a circle long on its neutral line, pi r; a doorway stays whole in one half."""
    name, thickness, kind = stock
    # As wide as a tile too.
    radius = 0.5 if name == "mdf" else 0.85
    sheet = material(name).model_copy(update={"thickness": thickness})
    drawing = draw(
        name="turret",
        scale="10 ft",
        grid=Grid(),
        rooms=read_drawing("\n".join(["....."] * 5)),
        titles={},
        shapes=[DrawnShape("A", Circle((2.5, 2.5), radius))],
        wall_ways=[WallWay("A", (2.5 + radius, 2.5), "doorway", Opening(0.0, 25.0, 28.0))],
    )
    (found,) = make_kit(drawing).types
    tile, construction = found.tile, construction_of(Grid(), sheet, ConstructionChoice(kind))
    walls = [plate for plate in tile.plates if plate.role == "wall"]
    assert [len(plate.openings) for plate in walls] in ([0, 1], [1, 0])
    ring = math.pi * ((radius * CELL - 0.15) ** 2 - (radius * CELL - 6.35) ** 2)
    assert sum(plate.foot.area for plate in walls) == pytest.approx(ring, rel=2e-3)
    laid = list(construction.lay(tile).flats)
    assert {part.role for part in laid} == {"base", "wall"}
    built = list(make_plates(tile.shape, tile.grid, construction.band, construction.joints))[1:]
    assert len(built) == 2
    for plate in built:
        deep = construction.band.outer if kind != "folded" else 0.15
        layers = 2 if kind == "folded" else construction.wall.layers
        bent = iter([part.flat.outline for part in construction.lay_bent(plate) if part.form != "cap"])
        found = {}
        for at in layer_depths(plate, construction.sheet, layers):
            way = "bent" if kind == "folded" else way_of(sheet)
            found[at] = [next(bent) for _ in curved_layer(plate, at, sheet, way)]
        for at, outlines in found.items():
            # A slotted strip bends about the middle of the 0.8 mm that slots leave under its outer face.
            line = 0.4 if way == "slotted" else sheet.curve.neutral * sheet.real_thickness
            middle = radius * CELL - deep - at - line
            # A doorway's sides point at the centre: it is as much narrower as the strip is shorter.
            through = sum(o.width * o.height for o in plate.openings) / (radius * CELL - deep)
            exact = middle * (math.pi * plate.height - through)
            assert sum(outline.area for outline in outlines) == pytest.approx(exact, rel=3e-3)
        assert len(found) == (2 if kind == "folded" else construction.wall.layers)


def test_the_ring_of_a_tower_closes():
    """Straight chords of the outer faces of all tiles' walls, seams added, go once round the circle."""
    drawing = shaped(["......"] * 6, [("A", Circle((3, 3), 2))])
    total = sum(
        kind.count * plate.bend.length
        for kind in make_kit(drawing).types
        for plate in kind.tile.plates
        if plate.bend is not None
    )
    seams = sum(kind.count for kind in make_kit(drawing).types if len(kind.lies)) * drawing.grid.joint_play
    around = 2 * math.pi * (2 * CELL - drawing.grid.half_play)
    assert total + seams == pytest.approx(around, abs=2.0)


def ring_of(points):
    """The edges of a closed outline by number from 1, and their order; walked clockwise."""
    order = list(range(1, len(points) + 1))
    return order, lambda number: (points[number - 1], points[number % len(points)])


def arc(centre, radius, start, end, count):
    """Points round an arc, clockwise from one angle to another, in degrees."""
    angles = [math.radians(start + (end - start) * k / count) for k in range(count + 1)]
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def test_a_half_round_side_is_one_curve_and_its_straight_sides_are_none():
    """A stadium's half: straight sides of 100, a half circle of 60 chords on the north."""
    round_side = arc((50, 60), 50, 180, 0, 60)
    order, edge = ring_of([(0, 0), *round_side, (100, 0)])
    # Edge 1 goes up from (0, 0), 2 to 61 are chords, 62 goes down.
    assert curves(order, edge, order) == [list(range(2, 62))]
    # A chord that carries no wall parts the curve; a single one is no curve.
    assert curves(order, edge, [n for n in order if n != 10]) == [list(range(2, 10)), list(range(11, 62))]
    assert curves(order, edge, [2, 4, 6]) == []
    # Where the walk begins does not matter, but for where a run begins.
    turned = order[12:] + order[:12]
    assert [sorted(run) for run in curves(turned, edge, order)] == [list(range(2, 62))]


def test_a_curve_ends_where_it_turns_the_other_way():
    """An S of two quarter circles: radius 40 to the right, then 40 to the left."""
    first, second = arc((40, 100), 40, 180, 90, 30), arc((40, 180), 40, 270, 360, 30)
    order, edge = ring_of([(0, 0), *first, *second[1:], (120, 180), (120, 0)])
    assert curves(order, edge, order) == [list(range(2, 32)), list(range(32, 62))]


def test_a_round_tile_is_two_half_rings():
    order, edge = ring_of(arc((0, 0), 60, 360, 0, 120)[:-1])
    assert curves(order, edge, order) == [list(range(1, 61)), list(range(61, 121))]


def test_sharp_corners_and_coarse_chords_are_no_curve():
    """A chord s and turn a leave s a / 8 between them: 0.03 mm and less is round, an octagon of 60 mm is none."""
    order, edge = ring_of(arc((0, 0), 60, 360, 0, 8)[:-1])
    assert curves(order, edge, order) == []
