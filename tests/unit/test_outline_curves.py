"""Curves in outlines by hand: all their chords are one bent wall."""

import math

import pytest
from shapely.geometry import Polygon, box

from tilegen.model.grid import Floor, Grid
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import maker_of
from tilegen.tiles.walls import PRINTED_JOINTS, Joints, printed_band

WALL, HALF, RADIUS, CHORDS = 4.0, 0.15, 50.0, 60
GRID = Grid(wall_thickness=WALL, joint_play=2 * HALF, floor=Floor(lines=False))
STEP = math.pi / CHORDS
ARC = [(RADIUS * math.cos(k * STEP), RADIUS * math.sin(k * STEP)) for k in range(CHORDS + 1)]
CHORD = 2 * RADIUS * math.sin(STEP / 2)


def round_room(depth):
    """All round, moved in by a depth."""
    share = 1 - depth / (RADIUS * math.cos(STEP / 2))
    return Polygon([(x * share, y * share) for x, y in [*ARC, *((-x, -y) for x, y in ARC[1:-1])]])


def plates(points, walls, joints, *, clockwise=False):
    """Plates of an outline given counter-clockwise with walls on some edges, or the other way round."""
    count = len(points)
    if clockwise:
        points, walls = points[::-1], [count - number or count for number in walls]
    shape = OutlineShape(tuple((float(x), float(y)) for x, y in points), tuple(sorted(walls)))
    return list(maker_of(shape, GRID, printed_band(GRID), joints).standing())


@pytest.mark.parametrize("clockwise", [False, True])
def test_half_a_round_is_one_bent_wall_of_sheets(clockwise):
    """60 chords of 3 degrees over a straight side that is open."""
    walls = range(1, CHORDS + 1)
    assert len(plates(ARC, walls, PRINTED_JOINTS, clockwise=clockwise)) == 1
    (bent,) = plates(ARC, walls, Joints(), clockwise=clockwise)
    assert bent.name.startswith("bent wall ")
    assert (bent.role, bent.bottom, bent.top) == ("wall", GRID.base_depth, GRID.base_depth + GRID.wall_height)
    # Both faces are regular polygons about one middle; the play is taken off the open side too.
    outer, inner = (round_room(depth) for depth in (HALF, WALL))
    wanted = outer.difference(inner).intersection(box(-RADIUS, HALF, RADIUS, RADIUS))
    assert bent.foot.symmetric_difference(wanted).area < 1e-3 * wanted.length
    assert bent.edge == (bent.bend.outer[0], bent.bend.outer[-1])
    assert bent.bend.thickness == pytest.approx(WALL - HALF, abs=1e-3)
    # At each of 59 corners the face turns by 3 degrees; the play takes h tan(1.5 degrees) off either chord there.
    assert bent.bend.turn == pytest.approx((CHORDS - 1) * STEP)
    corners = CHORDS * CHORD - 2 * (CHORDS - 1) * HALF * math.tan(STEP / 2)
    # The ends stop half the play short of the open side, which the end chords meet at 88.5 degrees.
    assert bent.bend.length == pytest.approx(corners - 2 * HALF / math.cos(STEP / 2), abs=0.05)


def test_a_curve_that_runs_on_into_straight_walls_turns_by_all_of_its_angle():
    """A hall with a round end: half a chord's turn at either side of it belongs to the curve."""
    points = [(-RADIUS, -40.0), (RADIUS, -40.0), *ARC]
    found = plates(points, range(1, len(points) + 1), Joints())
    names = sorted(plate.name for plate in found)
    assert names == ["bent wall 3", "wall 1", "wall 2", f"wall {len(points)}"]
    bent = next(plate for plate in found if plate.bend)
    assert bent.bend.turn == pytest.approx(math.pi)
    straight = [plate for plate in found if not plate.bend and plate.name != "wall 1"]
    for plate in straight:
        # They end square where the curve begins.
        assert plate.foot.bounds[3] == pytest.approx(0, abs=0.02)
    whole = Polygon(points)
    ring = whole.buffer(-HALF, join_style="mitre").area - whole.buffer(-WALL, join_style="mitre").area
    assert math.fsum(plate.foot.area for plate in found) == pytest.approx(ring, abs=0.5)
