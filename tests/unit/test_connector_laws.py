"""The laws of connectors, tried out for every edge against every edge, in every turn and shift."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from tilegen.model.connectors import Connectors
from tilegen.model.grid import Grid
from tilegen.solids.build import build_solid
from tilegen.tiles.connectors.kind import clearance_of, kind_of, module_of
from tilegen.tiles.loose import make_key
from tilegen.tiles.seats import flat_region, seating_of
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, single_cell
from tilegen.tiles.tile import make_tile


def facing(law):
    """The law of an edge as its neighbour across the seam meets it."""
    return tuple(sorted((-s, value) for s, value in law))


def repeated(law, module, count):
    """A module's law on an edge of `count` modules, s from the middle of the whole edge."""
    first = -(count - 1) * module / 2
    return tuple(sorted((first + n * module + s, value) for n in range(count) for s, value in law))


def meetings(here, there, shift=0.0, reach=1e-6):
    """The products of all values that face each other: -1 fits (or attracts), +1 doesn't.

    there: the other edge in its own frame. shift: how far its tile lies to the right along the seam.
    """
    across = [(s + shift, value) for s, value in facing(there)]
    return [a * b for s, a in here for t, b in across if abs(s - t) < reach]


def attracts(here, there, shift=0.0, reach=1e-6):
    """Whether two edges face each other somewhere and fit wherever they do."""
    found = meetings(here, there, shift, reach)
    return bool(found) and max(found) < 0


def is_antisymmetric(law, tolerance=1e-9):
    """Whether p(-s) = -p(s) for all s."""
    plain = sorted(law)
    mirrored = sorted((-s, -value) for s, value in plain)
    return all(abs(s - t) <= tolerance and a == b for (s, a), (t, b) in zip(plain, mirrored, strict=True))


PLAIN = Cell()
SHAPES = {
    "tile": single_cell(PLAIN, (2.0, 2.0)),
    "half": single_cell(PLAIN, (1.0, 2.0)),
    "quarter": single_cell(PLAIN, (1.0, 1.0)),
    "walled": single_cell(Cell((WALL, WALL, OPEN, WALL)), (2.0, 2.0)),
    "large": single_cell(PLAIN, (4.0, 2.0)),
    "three": single_cell(PLAIN, (3.0, 3.0)),
    "half of three": single_cell(PLAIN, (1.5, 3.0)),
    "ell": CellShape((1.0, 1.0), (1.0, 1.0), (((0, 0), PLAIN), ((1, 0), PLAIN), ((0, 1), PLAIN))),
}


def grid_of(kind, **more):
    return Grid(connectors=Connectors(kind=kind, **more))


# Derived by hand in the workshop rules: a neighbour's edge is walked the other way round.
def test_magnet_laws_by_hand():
    north, south = 1, -1
    pair = ((-10.0, north), (10.0, south))
    # All four turns of a square tile show the same edge: one case stands for sixteen.
    assert attracts(pair, pair)
    assert not attracts(((0.0, north),), ((0.0, north),))
    assert meetings(((0.0, north),), ((0.0, north),)) == [1]
    both = ((-10.0, north), (10.0, north))
    assert meetings(both, both) == [1, 1]
    module = repeated(((-5.0, north), (5.0, south)), 25.0, 2)
    for shift in (0.0, 25.0, -25.0):
        assert attracts(module, module, shift)
    # One pair a side with d = P / 4: shifted by half a tile the same poles meet.
    single = ((-12.5, north), (12.5, south))
    assert meetings(single, single, 25.0) == [1]


def test_the_law_against_every_small_law():
    """Of all laws on five places, just the antisymmetric ones attract their own copies wherever they meet."""
    places = (-2.0, -1.0, 0.0, 1.0, 2.0)
    for values in itertools.product((-1, 0, 1), repeat=5):
        law = tuple((s, v) for s, v in zip(places, values, strict=True) if v)
        if law and {s for s, _ in law} == {-s for s, _ in law}:
            assert attracts(law, law) == is_antisymmetric(law), law
    assert facing(((-2.0, 1), (1.0, -1))) == ((-1.0, -1), (2.0, 1))


def test_a_module_fits_spaces_and_half_tiles():
    for spaces in [1, 2, 3, 4]:
        for kind in ["magnets", "pegs"]:
            grid = replace(grid_of(kind), spaces=spaces, pitch=50.0)
            module, half = module_of(grid), grid.tile_side / 2
            for length in (grid.pitch, half):
                assert length / module == round(length / module)
            assert is_antisymmetric(kind_of(grid).law(grid))
            edge = repeated(kind_of(grid).law(grid), module, 6)
            for shift in range(-5, 6):
                assert attracts(edge, edge, shift * module)
            if kind == "magnets":
                # Half a module off nothing is near enough to repel.
                assert meetings(edge, edge, module / 2, reach=1.49 * grid.connectors.magnet_diameter) == []


class Laid:
    """A tile in one turn, on the plan: its body at the height of its connectors, pegs, pockets, poles."""

    def __init__(self, shape, grid, x=0.0, y=0.0):
        self.grid, self.shape = grid, shape
        self.plates = make_tile("t", shape, grid).plates
        base = self.plates[0]
        marks = [mark for mark in base.marks if mark.on != "top"]
        self.pegs = shapely.union_all([flat_region(m) for m in marks if m.depth < 0])
        self.pockets = shapely.union_all([m.region for m in marks if m.on == "under"])
        self.body = base.foot.difference(self.pockets).union(self.pegs)
        self.holes = [m for m in marks if m.on == "rim" and m.depth > 0]
        self.x, self.y = x, y
        self.poles = list(self._poles(base.foot))

    def at(self, geometry):
        return translate(geometry, self.x, self.y)

    def _poles(self, foot):
        """(x, y, outward direction, pole) of each magnet, told from the pockets alone: left of its pair is north."""
        found = []
        for mark in self.holes:
            (x, y), (x1, y1) = mark.edge
            length = math.hypot(x1 - x, y1 - y)
            dx, dy = (x1 - x) / length, (y1 - y) / length
            for part in mark.region.geoms:
                along = part.centroid.x
                found.append(((-dy, dx), mark.edge, along, (x + dx * along, y + dy * along)))
        by_side = itertools.groupby(sorted(found), key=lambda item: item[:2])
        for (outward, _), group in by_side:
            # From outside, what comes later clockwise is further left.
            for n, (_, _, _, place) in enumerate(reversed(list(group))):
                yield (place[0] + self.x, place[1] + self.y), outward, 1 if n % 2 == 0 else -1


def beside(grid, first, second):
    """All ways to lay one tile east of another: each in four turns, shifted by whole modules along the seam."""
    module = module_of(grid)
    for a in dict.fromkeys(SHAPES[first].turns):
        here = Laid(a, grid)
        width, height = sum(a.widths) * grid.pitch, sum(a.heights) * grid.pitch
        for b in dict.fromkeys(SHAPES[second].turns):
            other = sum(b.heights) * grid.pitch
            steps = range(round((module - other) / module), round((height - module) / module) + 1)
            for n in steps:
                there = Laid(b, grid, width, n * module)
                yield here, there


THREES = [("three", "three"), ("three", "half of three"), ("half of three", "half of three")]
PAIRS = [*((name, "tile") for name in ("tile", "half", "large", "ell", "walled")), ("half", "ell"), ("ell", "ell")]


@pytest.mark.parametrize(("first", "second"), [*PAIRS, *THREES])
def test_pegs_mate(first, second):
    grid = grid_of("pegs")
    if (first, second) in THREES:
        # Half tiles of odd grids: their module is half a space.
        grid = replace(grid, spaces=3, pitch=60.0)
    u, c, e = grid.joint_play, clearance_of(grid), grid.connectors.position_error
    assert 2 * c >= u + 2 * e - 1e-9
    met = 0
    for here, there in beside(grid, first, second):
        a, b = here.body, there.at(there.body)
        assert a.intersection(b).area == 0
        # At true pitch nothing is nearer than the play of the seam, and pegs keep their clearance in their sockets.
        assert a.distance(b) == pytest.approx(u, abs=1e-6) or a.distance(b) > u
        for own, other in ((here.pegs, b), (there.at(there.pegs), a)):
            reaching = [p for p in own.geoms if p.intersects(Polygon(other.convex_hull.exterior))]
            for peg in reaching:
                met += 1
                assert peg.distance(other) >= c - 1e-6
        # Pushed together, or apart along the seam by the whole play, they still don't touch.
        for dx, dy in itertools.product((-u, 0.0, 0.3), (-c, 0.0, c)):
            moved = translate(b, dx + 1e-7, dy * (1 - 1e-7))
            assert a.intersection(moved).area < 1e-6
        # A little further and they would.
        if first == second == "tile":
            assert a.intersection(translate(b, -u, c + 0.1)).area > 0 or met == 0
    assert met > 0


@pytest.mark.parametrize(("first", "second"), PAIRS)
def test_magnets_attract(first, second):
    for every in ("space", "tile"):
        grid = grid_of("magnets", every=every)
        met = 0
        for here, there in beside(grid, first, second):
            for (place, outward, pole), (other, towards, facing_pole) in itertools.product(here.poles, there.poles):
                if outward != (1.0, 0.0):
                    continue
                near = math.dist(place, other)
                if towards[0] > -0.5 or near > 1.5 * grid.connectors.magnet_diameter:
                    continue
                met += 1
                # The gap between them is the play of the seam, and they stand opposite each other.
                assert near == pytest.approx(grid.joint_play, abs=1e-6)
                assert pole == -facing_pole
        assert met > 0 or every == "tile"


@pytest.mark.parametrize("place", ["side", "below"])
def test_a_tile_upside_down_repels(place):
    grid = grid_of("magnets", magnet_place=place)
    law = repeated(kind_of(grid).law(grid), module_of(grid), 2)
    upside_down = tuple(sorted((-s, pole) for s, pole in law))
    assert set(meetings(law, upside_down)) == {1}


@pytest.mark.parametrize(("first", "second"), PAIRS)
def test_keys_hold_and_have_play(first, second):
    grid = grid_of("keys")
    u, c, e = grid.joint_play, clearance_of(grid), grid.connectors.position_error
    key = rotate(make_key(grid).plates[0].foot, 90, origin=(0, 0))
    assert key.equals_exact(rotate(key, 180, origin=(0, 0)), 1e-9) or key.symmetric_difference(
        rotate(key, 180, origin=(0, 0))
    ).area == pytest.approx(0, abs=1e-9)
    met = 0
    module = module_of(grid)
    for here, there in beside(grid, first, second):
        a, b = here.body, there.at(there.body)
        # Every module of the seam with a pocket on both sides takes a key.
        middles = {(round(x, 3), round(y, 3)) for x, y in _middles(here)} & {
            (round(x, 3), round(y, 3)) for x, y in _middles(there)
        }
        for x, y in middles:
            met += 1
            own = translate(key, x, y)
            assert (y / module) % 1 == pytest.approx(0.5)
            assert own.distance(shapely.union_all([a, b])) == pytest.approx(c, abs=2e-3)
    assert met > 0
    # Held: pulled apart by more than the play the key is caught wherever it lies; by less it is not.
    a, b = Laid(SHAPES["tile"], grid), Laid(SHAPES["tile"], grid, grid.tile_side)
    middle = translate(key, grid.tile_side, module / 2)
    apart = 2 * c * math.sqrt(2)
    assert apart >= u + 2 * e
    for pull, free in ((-u, True), (0.99 * apart, True), (apart + 0.05, False)):
        # 1e-2: pressed together at the least play the key's ends just touch.
        clear = [
            translate(middle, shift, 0).intersection(shapely.union_all([a.body, translate(b.at(b.body), pull)])).area
            < 1e-2
            for shift in np.linspace(0, pull, 41)
        ]
        assert any(clear) == free
    # The head bears on either side, even when the key lies as far aside as it can.
    aside = translate(middle, apart / 2 + 0.4, c)
    touched = aside.intersection(translate(a.body, 0, 0))
    assert {part.centroid.y > module / 2 for part in getattr(touched, "geoms", [touched])} == {True, False}


def _middles(laid):
    grid = laid.grid
    for seat in seating_of(laid.shape, grid, laid.plates[0].foot).seats:
        (x, y), (x0, y0), (x1, y1) = seat.centre, seat.start, seat.end
        length = math.hypot(x1 - x0, y1 - y0)
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        yield x - dy * grid.half_play + laid.x, y + dx * grid.half_play + laid.y


def test_pegged_solids_do_not_meet():
    """In three dimensions, walls and all: what two tiles side by side share is nothing."""
    for turns in range(4):
        grid = grid_of("pegs")
        here = build_solid("a", make_tile("a", SHAPES["walled"], grid).plates)
        there = build_solid("b", make_tile("b", SHAPES["walled"].turns[turns], grid).plates)
        for dx, dy in ((grid.tile_side, 0.0), (grid.tile_side, grid.pitch), (0.0, -grid.tile_side)):
            assert (here ^ there.translate((dx, dy, 0.0))).volume() == 0
        # Pushed further than the seam's play they would: the check can fail.
        assert (here ^ there.translate((grid.tile_side - 1.0, 0.0, 0.0))).volume() > 0


def test_offsets_follow_the_rules():
    grid = grid_of("magnets")
    module, d = module_of(grid), abs(kind_of(grid).law(grid)[0][0])
    # Shifted by half a module a pair stays 1.5 diameters away from the next one (derived, see laws).
    assert abs(2 * d - module / 2) >= 1.5 * grid.connectors.magnet_diameter - 1e-3


@pytest.mark.parametrize("kind", ["magnets", "pegs"])
def test_where_the_pairs_stand(kind):
    """Pegs evenly all along an edge; magnets so that half a module's shift leaves 1.5 diameters between any two."""
    grid = grid_of(kind)
    module = module_of(grid)
    edge = repeated(kind_of(grid).law(grid), module, 4)
    at = [s for s, _ in edge]
    assert len(at) == 8
    assert sum(at) == pytest.approx(0)
    if kind == "pegs":
        assert np.diff(at) == pytest.approx([module / 2] * 7, abs=2.1e-3)
        return
    apart = [abs(s - t - module / 2) for s in at for t in at]
    assert min(apart) == pytest.approx(1.5 * grid.connectors.magnet_diameter, abs=2.1e-3)


def test_magnets_of_one_pair_keep_a_web_between_their_pockets():
    """Large magnets in a small module: a pocket's width and a web from middle to middle."""
    made = Connectors(kind="magnets", magnet_diameter=8.0, web=2.0)
    grid = Grid(connectors=made)
    offset = abs(kind_of(grid).law(grid)[0][0])
    assert 2 * offset >= 8.0 + made.allowance + made.web - 1e-6


def test_laws_of_another_length_are_no_mirror_images():
    assert not is_antisymmetric([(1.0, 1), (2.0, -1), (3.0, 1)])
    assert not is_antisymmetric([(-1.0, 1), (1.0, 1)])
    assert not is_antisymmetric([(-1.0, 1), (1.001, -1)])
    assert is_antisymmetric([(-1.0, 1), (1.0, -1), (-2.0, -1), (2.0, 1)])
    assert attracts(((1.0, 1),), ((-1.0, -1),))
    assert not attracts(((1.0, 1),), ((-1.0, 1),))
    assert not attracts(((1.0, 1),), ((3.0, -1),))
    # Shifted to the right along the seam by 4, what stands at -1 of the other stands at 5 - which faces 5 here.
    assert meetings(((5.0, 1),), ((-1.0, -1),), shift=4.0) == [-1]
