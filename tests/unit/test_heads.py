"""Heads of openings against the closed forms of their arcs."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.affinity import scale

from tilegen.model.grid import HEADS
from tilegen.tiles import heads
from tilegen.tiles.plate import Opening

ARCHES = [head for head in HEADS if not Opening(0.0, 10.0, 20.0, head).level]
# Of an opening 2 wide: how high it rises, and the area over its springing line. The pointed one is the part that two
# discs of radius 3/2, their centres 1 apart, have in common (the lens of two circles: Weisstein, Circle-circle
# intersection, MathWorld), its upper half.
RISE = {"flat": 0.0, "round": 1.0, "pointed": math.sqrt(2)}
AREA = {
    "flat": 0.0,
    "round": math.pi / 2,
    "pointed": 1.5**2 * math.acos(1 / 3) - 0.25 * math.sqrt(4 * 1.5**2 - 1),
}


@pytest.mark.parametrize("head", HEADS)
def test_a_head_rises_and_covers_as_its_arcs_say(head):
    opening = Opening(20.0, 24.0, 30.0, head)
    assert opening.spring == pytest.approx(30.0 - 12 * RISE[head])
    over = opening.region().area - 24.0 * opening.spring
    # Chords lie inside their arc: of 7.5 degrees at most, so 0.3 % less.
    assert 0.995 * 144 * AREA[head] <= over <= 144 * AREA[head] + 1e-9
    assert opening.region().bounds == pytest.approx((8.0, 0.0, 32.0, 30.0))
    mirrored = scale(opening.region(), -1, 1, origin=(20.0, 0.0))
    assert opening.region().symmetric_difference(mirrored).area < 1e-9


@pytest.mark.parametrize("head", ARCHES)
@pytest.mark.parametrize("ring", [2.4, 5.3])
def test_the_stones_of_an_arch_fill_the_ring_and_no_more(head, ring):
    opening = Opening(0.0, 24.0, 30.0, head)
    stones = [shapely.Polygon(s) for arc in opening.arcs for s in arc.stones(ring, 12.0)]
    assert all(stone.is_valid and stone.exterior.is_ccw for stone in stones)
    whole = shapely.union_all(stones)
    assert math.fsum(s.area for s in stones) == pytest.approx(whole.area)
    room = heads.room(opening.arcs, ring).intersection(shapely.box(-99, 0, 99, 99))
    inside = shapely.Polygon([(12, 0), *heads.underside(opening.arcs), (-12, 0)])
    assert whole.symmetric_difference(room.difference(inside)).area < 0.025 * whole.area
    # Its crown is where the ring was told to end.
    assert whole.bounds[3] == pytest.approx(heads.rise(opening.arcs) + _crown(opening, ring), abs=1e-6)
    top = heads.rise(opening.arcs) + 4.0
    widest = min(arc.ring_to(top) for arc in opening.arcs)
    assert max(y for arc in opening.arcs for s in arc.stones(widest, 12.0) for _, y in s) == pytest.approx(top)


def _crown(opening, ring):
    """How far the outer side of the ring is over the point of the head, from Pythagoras."""
    arc = opening.arcs[0]
    return math.sqrt((arc.radius + ring) ** 2 - arc.centre[0] ** 2) - heads.rise(opening.arcs)


def test_a_round_arch_is_of_equal_stones_between_two_circles():
    """Its geometry in closed form: corners at the radius and at the ring's height over it, an equal angle each."""
    (arc,) = Opening(0.0, 24.0, 30.0, "round").arcs
    blocks = [shapely.Polygon(block) for block in arc.stones(5.3, 12.0)]
    assert len(blocks) == 9
    assert max(block.area for block in blocks) - min(block.area for block in blocks) < 1e-9
    for block in blocks:
        away = {round(shapely.Point(0, 0).distance(shapely.Point(p)), 6) for p in block.exterior.coords}
        assert away == {12.0, 17.3}
    # Two chords of 10 degrees each, inside and outside.
    exact = (17.3**2 - 12.0**2) * math.sin(math.pi / 18)
    assert blocks[0].area == pytest.approx(exact)
