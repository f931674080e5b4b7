"""Sight and places off the grid, against the rule tried line by line and place by place with shapely."""

import tomllib
from itertools import product

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import substring

from tilegen.errors import InputError
from tilegen.files.plans import plan_of, read_drawing
from tilegen.fit.figures import figures_on
from tilegen.fit.floor import off_grid_floor
from tilegen.model.grid import Floor, Grid
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.layout import lay
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.route import make_route
from tilegen.plans.shapes import Circle, Corners, DrawnShape
from tilegen.plans.sight import in_sight, visible_from
from tilegen.plans.ways import Way
from tilegen.tiles.plate import Opening

WIDE, TALL = 40.0, 30.0
# Two halls that share a slanting wall from (5, 1) to (3, 5).
SLANTED = {
    "A": Corners(((1, 1), (5, 1), (3, 5), (1, 5)), (0,) * 4),
    "B": Corners(((5, 1), (7, 1), (7, 5), (3, 5)), (0,) * 4),
}


def drawn(shapes, size, ways=(), *, scale="10 ft", line_ways=(), grid=None):
    columns, rows = size
    return draw(
        name="t",
        scale=scale,
        grid=grid or Grid(),
        rooms=read_drawing("\n".join(["." * columns] * rows)),
        titles={},
        shapes=[DrawnShape(room, shape, f"[[shape]] {n}") for n, (room, shape) in enumerate(shapes.items(), 1)],
        wall_ways=[WallWay(room, at, kind, Opening(0.0, WIDE, TALL), fixed=True) for room, at, kind in ways],
        ways=line_ways,
    )


def slow_sight(drawing, kit, *, doors_open):
    """(tiles, tiles): who sees whom: no line between centres meets an outline, but for what open ways free of it."""
    laid, regions = lay(drawing, kit), drawing.off_grid.regions
    gaps = [
        Point(way.spot).buffer(way.opening.width / 2)
        for way in drawing.wall_ways
        if (way.kind == "open" or doors_open) and sum(r.distance(Point(way.spot)) < 0.01 for r in regions.values()) > 1
    ]
    walls = shapely.union_all([r.boundary for r in regions.values()]).difference(shapely.union_all(gaps))
    p = drawing.grid.pitch
    centres = []
    for row, column in np.argwhere(laid.tile_of >= 0).tolist():
        for i, j in product(range(drawing.cell_spaces), repeat=2):
            spot = Point(column * drawing.cell_side + (i + 0.5) * p, -row * drawing.cell_side - (j + 0.5) * p)
            if regions[int(drawing.rooms[row, column])].contains(spot):
                centres.append((int(laid.tile_of[row, column]), spot))
    sees = np.eye(len(laid.type_of), dtype=bool)
    for n, (a, here) in enumerate(centres):
        for b, there in centres[n + 1 :]:
            if not sees[a, b] and not walls.intersects(LineString([here, there])):
                sees[a, b] = sees[b, a] = True
    return sees, laid


@pytest.mark.parametrize("kind", ["doorway"])
@pytest.mark.parametrize("doors_open", [False, True])
def test_sight_through_a_way_in_a_slanting_wall(kind, doors_open):
    drawing = drawn(SLANTED, (8, 6), [("A", (4, 3.02), kind)])
    kit = make_kit(drawing)
    sees, laid = slow_sight(drawing, kit, doors_open=doors_open)
    assert in_sight(drawing, kit, doors_open=doors_open).most_tiles == sees.sum(axis=1).max()
    rooms = [set(laid.tile_of[drawing.rooms == ord(letter)].tolist()) for letter in "AB"]
    through = sees[np.ix_(sorted(rooms[0]), sorted(rooms[1]))]
    # Some see through the way, some don't; nobody through a wall.
    assert through.any() == (kind == "open" or doors_open)
    assert not through.all()
    for cell in ((2, 2), (2, 5), (6, 2), (4, 4), (3, 3)):
        seen = visible_from(drawing, cell, kit, doors_open=doors_open)
        tile = laid.tile_of[cell[1] - 1, cell[0] - 1]
        assert (seen == ((laid.tile_of >= 0) & sees[tile][laid.tile_of])).all(), cell


@pytest.mark.parametrize(
    "ways, steps", [((), None), ([("A", (4, 3.02), "open")], 1), ([("B", (3.5, 4.1), "doorway")], 1)]
)
def test_a_slanting_wall_is_no_way_to_the_next_room(ways, steps):
    drawing = drawn(SLANTED, (8, 6), ways, line_ways=(Way((2, 2), "west", "doorway"),))
    stops = make_route(drawing, make_kit(drawing))
    assert [(stop.room, stop.steps) for stop in stops] == [("A", 0), ("B", steps)]
    (figure,) = figures_on(drawing, [20.0])
    assert figure.rooms_unreached == (() if steps else ("B",))


def test_a_way_out_into_solid_ground_frees_nothing():
    drawing = drawn({"A": SLANTED["A"]}, (8, 6), [("A", (4, 3), "open")])
    kit = make_kit(drawing)
    sees, _ = slow_sight(drawing, kit, doors_open=False)
    assert in_sight(drawing, kit).most_tiles == sees.sum(axis=1).max()


def test_a_tile_without_a_spaces_centre_is_seen_too():
    """A round room of half a cell's radius round a corner of cells at 5 ft: no centre lies on its floor."""
    drawing = drawn({"A": Circle((2, 2), 0.55)}, (4, 4), scale="5 ft")
    kit = make_kit(drawing)
    assert in_sight(drawing, kit).tiles == kit.tiles
    laid = lay(drawing, kit)
    for row, column in np.argwhere(laid.tile_of >= 0).tolist():
        assert (visible_from(drawing, (column + 1, row + 1), kit) == (laid.tile_of >= 0)).all()


@pytest.mark.parametrize("base", [8.0, 25.4])
def test_a_base_stands_clear_of_the_walls_and_as_near_the_middle_as_it_can(base):
    """Of all spots of a fine raster that are half a base clear of every wall none is nearer to the block's middle."""
    drawing = drawn(SLANTED, (8, 6))
    odd = off_grid_floor(drawing)
    pitch, tried = drawing.grid.pitch, 0
    raster = [(x, y) for x in np.arange(0.5, 31.75, 1.0) for y in np.arange(0.5, 31.75, 1.0)]
    for row, column in np.argwhere(odd.whole & odd.spaces).tolist():
        # By the definition, not by the tool's own: what is left of the room a wall's thickness in.
        room = drawing.off_grid.regions[int(odd.rooms[row, column])].buffer(-6.35, join_style="mitre")
        block = shapely.box(column * pitch, -(row + 1) * pitch, (column + 1) * pitch, -row * pitch)
        free = room.intersection(block)
        middle = block.centroid
        fits = [
            spot
            for spot in (Point(column * pitch + x, -(row + 1) * pitch + y) for x, y in raster)
            if free.contains(spot) and free.boundary.distance(spot) >= base / 2
        ]
        x, y = odd.place_of(row, column, 1, base)
        if not fits:
            continue
        tried += 1
        assert free.boundary.distance(Point(x, y)) == pytest.approx(base / 2, abs=1e-5) or Point(x, y).distance(
            middle
        ) == pytest.approx(0, abs=1e-5)
        assert free.contains(Point(x, y))
        assert middle.distance(Point(x, y)) <= min(middle.distance(spot) for spot in fits) + 1e-5
    assert tried > 5


def test_a_base_without_a_place_is_drawn_in_the_middle():
    odd = off_grid_floor(drawn(SLANTED, (8, 6)))
    row, column = np.argwhere(odd.whole & odd.spaces)[0].tolist()
    assert odd.place_of(row, column, 1, 60.0) == ((column + 0.5) * 31.75, -(row + 0.5) * 31.75)


def faces_of_openings(drawing):
    """Every opening of the laid tiles as its stretch of the wall's outer face, in map coordinates."""
    for kind, turn in placed(make_kit(drawing), drawing):
        for plate in kind.tile.plates:
            for opening in plate.openings:
                low, high = opening.centre - opening.width / 2, opening.centre + opening.width / 2
                face = LineString(plate.bend.outer if plate.bend else plate.edge)
                stretch = turn.geometry(substring(face, max(low, 0.0), min(high, face.length)))
                yield shapely.transform(stretch, lambda p: p * (1.0, -1.0))


@pytest.mark.parametrize("at", [(3.0, 0.5), (4.9, 4.7), (0.55, 2.6)])
def test_an_opening_stands_at_its_way(at):
    """Round a circle, over a seam between tiles or not: the way's width on the wall, its middle at the way's point."""
    drawing = drawn({"A": Circle((3, 3), 2.5)}, (6, 6), [("A", at, "doorway")])
    found = list(faces_of_openings(drawing))
    spot = Point(drawing.wall_ways[0].spot)
    assert 1 <= len(found) <= 2
    # A circle 0.15 mm inside the outline, a seam of 0.3 mm, jambs under half a wall that go with the opening.
    assert sum(face.length for face in found) == pytest.approx(WIDE, abs=4.0)
    for face in found:
        assert max(Point(p).distance(spot) for p in face.coords) < WIDE / 2 + 4.0
        assert face.distance(Point(0, 0)) > 1
    assert shapely.union_all(found).hausdorff_distance(
        drawing.off_grid.regions[ord("A")].boundary.intersection(spot.buffer(WIDE / 2))
    ) == pytest.approx(0.15, abs=4.0)


@pytest.mark.parametrize("at", [(4.0, 3.0), (4.55, 1.9), (3.3, 4.4)])
def test_a_shared_slanting_wall_opens_on_both_sides(at):
    drawing = drawn(SLANTED, (8, 6), [("A", at, "doorway")])
    spot = Point(drawing.wall_ways[0].spot)
    (one, other) = (shapely.union_all(list(faces)) for faces in split(faces_of_openings(drawing), drawing))
    for faces in (one, other):
        assert faces.length == pytest.approx(WIDE, abs=4.0)
        assert faces.distance(spot) < 0.5
        assert faces.hausdorff_distance(spot) == pytest.approx(WIDE / 2, abs=4.0)


def split(faces, drawing):
    """By the room on whose side they stand."""
    sides = {ord("A"): [], ord("B"): []}
    for face in faces:
        middle = face.interpolate(0.5, normalized=True)
        sides[next(code for code, region in drawing.off_grid.regions.items() if region.contains(middle))].append(face)
    return sides.values()


@pytest.mark.parametrize("lines", [True, False])
def test_space_lines_are_where_spaces_meet(lines):
    """On what the walls leave of every odd tile: grooves along all multiples of the pitch, and nothing else."""
    grid = Grid(floor=Floor(lines=lines))
    for drawing in (drawn(SLANTED, (8, 6), grid=grid), drawn({"A": Circle((3, 3), 2.3)}, (6, 6), grid=grid)):
        odd = [kind.tile for kind in make_kit(drawing).types if len(kind.lies)]
        assert odd
        for tile in odd:
            foot = tile.base.foot
            standing = shapely.union_all([p.foot for p in tile.plates if p.edge is not None])
            visible = foot.difference(standing)
            grooves = shapely.union_all([mark.region for mark in tile.base.marks])
            wanted = Polygon()
            west, south, east, north = foot.bounds
            for n in range(-1, 6) if lines else ():
                # A line along the tile's own edge is a seam, no groove.
                at, half = n * grid.pitch, grid.floor.groove_width / 2
                if west + 0.32 < at < east - 0.32:
                    wanted = wanted.union(shapely.box(at - half, south, at + half, north))
                if south + 0.32 < at < north - 0.32:
                    wanted = wanted.union(shapely.box(west, at - half, east, at + half))
            assert grooves.symmetric_difference(wanted.intersection(visible)).area < 0.01
            assert all(mark.depth == grid.floor.groove_depth for mark in tile.base.marks)


def test_a_way_near_the_end_of_its_wall():
    """A slanting wall of 4 by 2 cells, 284 mm: jambs of half a wall stay, beside walls a wall's thickness more."""
    for at in ((4.9, 1.2), (3.1, 4.8)):
        with pytest.raises(InputError, match=r"the opening is .* mm wide, but the wall at .* has room for only"):
            make_kit(drawn({"A": SLANTED["A"]}, (8, 6), [("A", at, "doorway")]))
    far = drawn({"A": SLANTED["A"]}, (8, 6), [("A", (4.7, 1.6), "doorway")])
    assert sum(face.length for face in faces_of_openings(far)) == pytest.approx(WIDE, abs=4.0)


def test_a_way_in_a_wall_all_round_may_be_anywhere():
    """A round room's wall has no end: a way over the point where its outline begins is as wide as any."""
    for at in ((5.5, 3.0), (3.0, 0.5), (0.5, 3.0), (3.0, 5.5)):
        made = drawn({"A": Circle((3, 3), 2.5)}, (6, 6), [("A", (at[0] - 0.01, at[1] + 0.01), "doorway")])
        assert sum(face.length for face in faces_of_openings(made)) == pytest.approx(WIDE, abs=4.0)


def test_a_round_head_does_not_go_round_a_curve():
    circle = DrawnShape("A", Circle((3, 3), 2.5), "[[shape]] 1")
    way = WallWay("A", (0.9, 1.6), "doorway", Opening(0.0, WIDE, TALL, "round"))
    with pytest.raises(InputError, match="round head"):
        make_kit(
            draw(
                name="t",
                scale="10 ft",
                grid=Grid(),
                rooms=read_drawing("\n".join(["......"] * 6)),
                titles={},
                shapes=[circle],
                wall_ways=[way],
            )
        )


def test_places_of_odd_tiles_are_in_reading_order():
    kit = make_kit(drawn({"A": Circle((3, 3), 2.5), "B": Circle((8, 4), 2.0)}, (11, 7)))
    for kind in kit.types:
        places = kind.places.tolist()
        assert places == sorted(places, key=lambda p: (p[1], p[0], p[2]))
    lies = {tuple(lie) for kind in kit.types if len(kind.lies) for lie in kind.lies.tolist()}
    assert len(lies) == sum(kind.count for kind in kit.types if len(kind.lies))


def test_a_line_that_a_slanting_wall_crosses_is_no_way_in():
    """A hall at an angle between two rooms, no way out: the larger part is got to, and nothing through the hall's side."""
    text = (
        'name = "s"\ndrawing = """\nAAA......\nAAA......\nAAA......\n.........\n......BBB\n......BBB\n"""\n'
        '[[shape]]\nroom = "C"\npolygon = [[6, 4.75], [6, 4.05], [3, 2.25], [3, 2.95]]\n'
        '[[way]]\nroom = "C"\nat = [3, 2.6]\nkind = "open"\n[[way]]\nroom = "C"\nat = [6, 4.4]\nkind = "open"\n'
    )
    (figure,) = figures_on(plan_of(tomllib.loads(text), "plan.toml"), [25.4])
    assert not figure.from_ways_in
    assert "A" not in figure.rooms_unreached
