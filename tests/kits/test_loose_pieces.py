"""Posts and doorways as pieces of their own: few kinds of tile, the same map, the same fit and sight."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import product
from statistics import fmean

import numpy as np
import pytest
import shapely

from tests.calling import call
from tests.proof.kinds import LOOSE, drawn, map_tables, places, same_fit_and_sight, savings
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_printer
from tilegen.files.toml import find
from tilegen.model.grid import Grid, Over, SetChoices
from tilegen.plans.kit import make_kit, placed, placed_pieces
from tilegen.plans.loose import standing_posts
from tilegen.plans.route import make_route
from tilegen.plans.to_decide import plan_messages
from tilegen.solids.printing import as_printed, plates_to_print
from tilegen.tiles.loose import END_CLEARANCE_MM, make_post
from tilegen.tiles.posts import least_gained, peg_of, sockets_of, stand_of
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import Tile, make_tile

CHOICES = [{"posts": p, "doorways": d} for p, d in product(("fixed", "loose", "none"), ("fixed", "loose"))]


def foundry(**choice):
    return read_plan(find("bell-foundry", "plans"), Over(tables={"set": choice}))


def test_the_foundry_takes_four_kinds_and_eight_shapes():
    kit = make_kit(foundry(**LOOSE))
    assert (kit.tiles, len(kit.types), len(kit.types) + len(kit.pieces)) == (69, 4, 8)
    by_kind = {}
    for piece in kit.pieces:
        by_kind[piece.piece.kind] = by_kind.get(piece.piece.kind, 0) + piece.count
    assert by_kind == {"saddle": 12, "sill": 1, "post": 42}


def test_every_pattern_of_open_sides_is_one_of_six_kinds():
    """Necklaces of four beads in two colours: OEIS A000031, a(4) = 6; by Burnside (16 + 2 + 4 + 2) / 4."""
    grid = Grid(set=SetChoices("loose", "loose"))
    ids = {}
    for sides in product((OPEN, WALL), repeat=4):
        tile = make_tile("tile", single_cell(Cell(sides), (2.0, 2.0)), grid)
        ids[sides] = tile.id
        assert ids[sides] == ids.get(tuple(reversed(sides)), ids[sides])
    assert len(set(ids.values())) == 6 == (16 + 2 + 4 + 2) // 4
    necklaces = {min(sides[n:] + sides[:n] for n in range(4)) for sides in product((0, 1), repeat=4)}
    assert len(necklaces) == 6


@pytest.mark.parametrize("seed", range(900, 912))
def test_a_random_map_takes_no_other_kinds(seed):
    kit = make_kit(drawn(map_tables(seed), LOOSE))
    known = {
        make_tile("tile", single_cell(Cell(sides), (2.0, 2.0)), kit.grid).id
        for sides in product((OPEN, WALL), repeat=4)
    }
    assert {kind.tile.id for kind in kit.types} <= known
    assert kit.tiles == make_kit(drawn(map_tables(seed))).tiles


@pytest.mark.parametrize("seed", range(920, 926))
def test_pieces_stand_where_tiles_leave_room(seed):
    for choice in CHOICES:
        drawing = drawn(map_tables(seed), choice)
        kit = make_kit(drawing)
        walls = shapely.union_all(
            [
                turn.geometry(shapely.union_all([p.foot for p in kind.tile.plates if p.role in ("wall", "post")]))
                for kind, turn in placed(kit, drawing)
            ]
        )
        feet = [
            turn.geometry(shapely.union_all([plate.foot for plate in kind.piece.plates]))
            for kind, turn in placed_pieces(kit, drawing)
            if kind.piece.kind != "sill"
        ]
        whole = shapely.union_all([walls, *feet])
        assert math.isclose(whole.area, walls.area + sum(foot.area for foot in feet), abs_tol=1e-6)
        counted = sum(kind.count for kind in kit.pieces)
        stops = make_route(drawing, kit)
        stops = stops.stops if hasattr(stops, "stops") else stops
        assert counted == sum(n for stop in stops for _, _, n in stop.pieces)


@pytest.mark.parametrize("posts", ["loose", "none"])
@pytest.mark.parametrize("seed", range(930, 936))
def test_nobody_sees_past_the_frame_of_a_door(posts, seed):
    """On one of the two tiles, at each end of a door piece, a wall or a post closes what the piece leaves open."""
    drawing = drawn(map_tables(seed), {"posts": posts, "doorways": "loose"})
    bits, wall = standing_posts(drawing), drawing.grid.wall_thickness
    carried = drawing.carried
    for array, lines in (("across", drawing.across), ("down", drawing.down)):
        for row, column in np.argwhere(np.array([kind.facts.loose for kind in drawing.kinds])[lines]).tolist():
            cells = ((row - 1, column), (row, column)) if array == "across" else ((row, column - 1), (row, column))
            for end in (0, 1):
                closed = False
                for first, (r, c) in enumerate(cells):
                    if not (
                        0 <= r < drawing.rooms.shape[0] and 0 <= c < drawing.rooms.shape[1] and drawing.rooms[r, c]
                    ):
                        continue
                    if array == "across":
                        beside = drawing.down[r, c + end]
                        corner = ((2, 3), (1, 0))[end][first]
                    else:
                        beside = drawing.across[r + end, c]
                        corner = ((0, 3), (1, 2))[end][first]
                    closed |= bool(carried[beside]) or bool(bits[r, c] >> corner & 1)
                assert closed, (array, row, column, end)
    assert wall > END_CLEARANCE_MM


@pytest.mark.parametrize("seed", range(3))
def test_figures_stand_and_see_as_with_fixed_posts(seed):
    assert same_fit_and_sight(seed) > 0


def test_bases_gain_places_from_a_size_that_a_formula_gives():
    """A single space beside the corner of a hall: the disc that fits with the post, and one that needs the notch."""
    least = least_gained(Grid())
    assert math.isclose(least, 29.7589, abs_tol=1e-3)
    gained = 0
    for seed in range(6):
        fixed, left = (drawn(map_tables(seed), {"posts": posts, "doorways": "loose"}) for posts in ("fixed", "none"))
        assert np.array_equal(places(fixed, least - 0.01)[1], places(left, least - 0.01)[1])
        gained += len(places(fixed, least + 0.5)[1]) - len(places(left, least + 0.5)[1])
    assert gained > 0


def test_one_kit_for_any_of_several_maps_is_smaller():
    """Small size of `python -m tests.proof.kinds`: 3 draws of 10 out of 24 maps."""
    found = list(savings(3, pool=24, size=10))
    assert fmean(share for share, _, _ in found) > 0.2
    assert max(kinds for _, _, kinds in found) <= 6


def test_a_post_stands_by_its_peg():
    """Statics of a rigid body: a square prism falls at tan = side / height."""
    stand = stand_of(Grid())
    assert math.isclose(math.tan(math.radians(stand.falls)), 6.2 / 38.1)
    assert stand.firm
    assert stand.held is not None
    assert stand.held < stand.falls
    assert not stand_of(Grid(wall_height=76.2)).firm
    thin = Grid(base_depth=3.0)
    assert peg_of(thin) is None
    assert len(make_post(thin).plates) == 1
    (post, pin), peg = make_post(Grid()).plates, peg_of(Grid())
    assert peg is not None
    assert (pin.bottom, pin.top) == (post.top, post.top + peg.length)
    # Half as thick as its post.
    slight = peg_of(Grid(wall_thickness=5.0))
    assert slight is not None
    assert slight.diameter == pytest.approx((5.0 - Grid().half_play) / 2)


def test_posts_that_do_not_stand_firm_are_said_with_a_cure():
    tables = {"name": "p", "scale": "10 ft", "drawing": "A A\nA A"}
    (message,) = plan_messages(drawn(tables, LOOSE, {"wall_height": 76.2}))
    stand = stand_of(Grid(wall_height=76.2))
    assert message.level == "decide"
    assert message.text.startswith(f"Loose posts fall when they lean by {stand.falls:.1f} degrees, and ")
    assert message.cure == 'Use a deeper base, thicker or lower walls, or posts = "fixed" under [set].'


def test_a_socket_keeps_clear_of_what_stands_or_is_sunk_in_its_corner():
    floor = {"name": "p", "scale": "10 ft", "drawing": "A A A\nA A A\nA A A"}

    def sockets(**feature: object) -> tuple[set[tuple[float, float]], Tile]:
        given = [{"cell": [2, 2], **feature}] if feature else []
        kit = make_kit(drawn(floor | {"feature": given}, LOOSE))
        (tile,) = (kind.tile for kind in kit.types if [2, 2] in kind.places[:, :2].tolist())
        return {at for at, _ in sockets_of(tile.shape, kit.grid)}, tile

    free, _ = sockets()
    assert len(free) == 4
    # A dais over one corner; one as large in the middle is in no corner's way.
    left, tile = sockets(kind="dais", at=[1.8, 0.2], size=12.0)
    (gone,) = free - left
    (dais,) = (plate.foot for plate in tile.plates if plate.role == "dais")
    assert gone == min(free, key=lambda at: dais.distance(shapely.Point(at)))
    assert sockets(kind="dais", at=[1.0, 1.0], size=12.0)[0] == free
    # A pit that is shallower than a peg is long: none.
    assert sockets(kind="pit", at=[1.0, 1.0], size=12.0, depth=1.0)[0] == set()


def test_a_peg_goes_into_the_sockets_of_every_kind():
    printer = read_printer("fdm-220")
    kit = make_kit(foundry(**LOOSE))
    peg = peg_of(kit.grid)
    assert peg is not None
    for thing in (*(kind.tile for kind in kit.types), *(piece.piece for piece in kit.pieces)):
        mesh, _ = as_printed(thing.name, plates_to_print(thing, printer), printer)
        assert mesh.volume > 0
    for kind in kit.types:
        holes = [m for m in kind.tile.base.marks if m.on == "top" and not m.centres]
        open_corners = sum(not a.carries and not b.carries for a, b in _corners(kind.tile.shape.cells[0][1].sides))
        assert sum(len(shapely.get_parts(hole.region)) for hole in holes) == open_corners
        for hole in holes:
            assert hole.depth > peg.length
            for part in shapely.get_parts(hole.region):
                assert part.contains(part.centroid.buffer(peg.diameter / 2))


def _corners(sides):
    return [(sides[n], sides[(n + 1) % 4]) for n in range(4)]


def test_what_stays_part_of_a_tile_is_said_with_a_cure():
    tables = {
        "name": "doors",
        "scale": "10 ft",
        "drawing": "A A B B\nA A B B\nC C D D",
        "way": [
            {"cell": [2, 1], "side": "east", "kind": "doorway", "leaf": "hinged"},
            {"cell": [2, 2], "side": "east", "kind": "doorway", "leaf": "sliding"},
            {"cell": [1, 2], "side": "south", "kind": "doorway", "height": "38.1 mm"},
            {"cell": [3, 2], "side": "south", "kind": "doorway"},
            {"cell": [2, 3], "side": "east", "kind": "doorway"},
            {"cell": [1, 1], "side": "west", "kind": "doorway"},
        ],
        "heights": {"D": {"floor": "5 mm"}},
    }
    drawing = drawn(tables, LOOSE)
    told = " ".join(message.words for message in plan_messages(drawing))
    for word in ("leaf", "between posts", "differ in height"):
        assert word in told
    kit = make_kit(drawing)
    # One with grooves for its leaf, one without, which stands on a sill.
    assert [(p.piece.kind, p.count) for p in kit.pieces][:3] == [("saddle", 1), ("saddle", 1), ("sill", 1)]
    # Laid first is what others stand on.
    assert [kind.piece.kind for kind, _ in placed_pieces(kit, drawing)][:2] == ["sill", "saddle"]
    assert not any(m.level == "decide" and "tiles" in m.text for m in plan_messages(drawn(tables)))


def test_fixed_posts_and_doorways_are_what_a_set_has_by_default():
    plain, said = foundry(), foundry(posts="fixed", doorways="fixed")
    assert [k.tile.id for k in make_kit(plain).types] == [k.tile.id for k in make_kit(said).types]
    assert replace(plain.grid, set=SetChoices("loose")) != plain.grid


def test_choices_are_compared():
    found = json.loads(call("kit", "bell-foundry", "--choices", "--json").stdout)["choices"]
    assert len(found) == 6
    first, last = found[0], found[4]
    assert (first["posts"], first["doorways"], first["types"], first["tiles"]) == ("fixed", "fixed", 19, 69)
    assert (last["posts"], last["doorways"], last["types"], last["pieces"], last["shapes"]) == (
        "loose",
        "loose",
        4,
        55,
        8,
    )
    assert all(choice["print_hours"] > 0 for choice in found)
