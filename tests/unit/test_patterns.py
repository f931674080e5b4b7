"""Patterns measured as they come out, on windows of the plane: a partition, its joints' centres, sizes, nails."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, MultiLineString, box

from tilegen.model.surface import PATTERNS
from tilegen.tiles.surfaces.courses import Courses
from tilegen.tiles.surfaces.flagstones import add_flagstones
from tilegen.tiles.surfaces.stones import Cut, Stones, floor_stones, pattern_of, wall_stones

PITCH, JOINT = 31.75, 0.8
COURSES = {word: pattern_of(word) for word in PATTERNS if isinstance(pattern_of(word), Courses)}
WIDE = 1.5 * JOINT
KINDS = [
    *((row.word, lines) for row in PATTERNS.values() if row.on == "floor" for lines in (True, False)),
    *((row.word, None) for row in PATTERNS.values() if row.on == "wall"),
]
# Corners that are rounded (a share of the course) or knocked off (at most 0.08 of a space, 1.3 times that one way).
BLUNT = {"cobbles": 0.22 / 4 * PITCH, "flagstones": 0.8 * 0.08 * PITCH + (WIDE - JOINT) / 2}


def pattern(name, lines, *, seed=1, window=(0.0, 0.0, 4 * PITCH, 3 * PITCH)):
    cut = Cut(PITCH, JOINT, (seed,))
    if lines is None:
        return wall_stones(name, window, 38.1, cut)
    return floor_stones(name, window, cut, lines=lines)


def stones_of(found):
    """The stones, those that a wide joint has left nothing of left out."""
    parts = shapely.get_parts(np.concatenate(found.stones))
    return parts[~shapely.is_empty(parts)]


def free(courses, *, seed=1, columns=60, rows=40):
    """A course pattern on a long window, and the stones whole in its middle."""
    found, window = Stones(), (0.0, 0.0, columns * PITCH, rows * courses.height * PITCH)
    courses.fill(found, window, Cut(PITCH, JOINT, (seed,)), None)
    return found


def test_stones_and_joints_cover_the_window():
    for name, lines in KINDS:
        window = box(0, 0, 4 * PITCH, 3 * PITCH)
        found = pattern(name, lines)
        stones = stones_of(found)
        near = shapely.STRtree(stones).query(stones, predicate="dwithin", distance=JOINT - 1e-6)
        assert len(near[0]) == len(stones), "two stones with less than a joint between them"
        centres = [LineString(line) for line in found.joints]
        half = (WIDE if lines else JOINT) / 2 + BLUNT.get(name, 0.0) + 1e-6
        gaps = window.buffer(-3.0).difference(shapely.union_all(stones))
        assert gaps.difference(shapely.union_all(centres).buffer(half, cap_style="square")).area < 1e-6


def test_centres_of_joints_run_between_stones():
    for name, lines in KINDS:
        inside = box(0, 0, 4 * PITCH, 3 * PITCH)
        found = pattern(name, lines)
        stones = shapely.union_all(stones_of(found))
        centres = [LineString(line).intersection(inside) for line in found.joints]
        assert min(stones.distance(c) for c in centres if not c.is_empty) == pytest.approx(JOINT / 2, abs=1e-6)
        # Each line once: together they are as long as each by itself.
        once = shapely.union_all(centres)
        assert once.length == pytest.approx(math.fsum(c.length for c in centres), rel=1e-6)


def test_no_stone_is_narrower_than_said():
    """The widest joint hangs on the narrowest stone: never less than the table says, nor much more."""
    for name, lines in KINDS:
        least = math.inf
        for seed in range(12):
            stones = stones_of(pattern(name, lines, seed=seed))
            bounds = shapely.bounds(stones)
            least = min(least, (bounds[:, 2:] - bounds[:, :2]).min())
        # A stone has lost half a joint on each side; half a wide one where it lies on a space's line.
        lost = WIDE if lines else JOINT
        assert least + lost >= PATTERNS[name].least_stone * PITCH - 1e-6
        if not lines:
            assert least < 1.7 * PATTERNS[name].least_stone * PITCH


def test_courses_are_as_high_and_stones_as_long_as_meant():
    """In spaces; and by how much of that, at most, one is larger or smaller (taste, no source)."""
    for name, height, length, stray, uneven in [
        ("planks", 1 / 4, 2.4, 0.5, 0.0),
        ("timber", 1 / 5, 1.7, 0.5, 0.0),
        ("brick", 1 / 8, 0.34, 0.08, 0.0),
        ("ashlar", 1 / 4, 0.62, 0.4, 0.4),
    ]:
        window = (0.0, 0.0, 60 * PITCH, 40 * height * PITCH)
        bounds = shapely.bounds(stones_of(wall_stones(name, window, window[3], Cut(PITCH, JOINT, (1,)))))
        high, long = (bounds[:, 3] - bounds[:, 1] + JOINT) / PITCH, (bounds[:, 2] - bounds[:, 0] + JOINT) / PITCH
        # Two lines stray by at most half of `uneven` each, two joints by half of `stray` each.
        for sizes, size, share in ((high, height, uneven), (long, length, stray)):
            assert sizes.min() >= size * (1 - share) - 1e-9
            assert sizes.max() <= size * (1 + share) + 1e-9
            assert sizes.mean() == pytest.approx(size, rel=0.03)
            assert sizes.max() - sizes.min() >= 1.1 * share * size
        # The window is filled, and a row beyond it on either side.
        assert bounds[:, 1].min() < -0.5 * height * PITCH
        assert bounds[:, 3].max() > 40.5 * height * PITCH


def test_joints_of_a_course_stand_over_the_middles_of_the_next():
    """Half a stone aside, give or take what two courses and two joints stray: 2 x 0.08 of a stone for bricks."""
    brick = COURSES["brick"]
    bounds = shapely.bounds(stones_of(free(brick)))
    length = brick.length * PITCH
    rows = {round(south, 3) for south in bounds[:, 1]}
    lines = [np.sort(bounds[np.abs(bounds[:, 1] - row) < 0.01, 0]) for row in sorted(rows)]
    for under, over in pairwise(lines):
        for x in over[3:-3]:
            aside = (x - under[under <= x].max()) / length
            assert 0.5 - 2 * brick.stray <= aside <= 0.5 + 2 * brick.stray


def test_bricks_lap_by_a_quarter_of_their_length():
    """Construction for Landscape Architecture (an excerpt): a bond laps by at least 25 % of a brick's length."""
    courses = COURSES["brick"]
    bounds = shapely.bounds(stones_of(free(courses)))
    lines = [
        np.sort(bounds[np.abs(bounds[:, 1] - row) < 0.01, 0]) for row in sorted({round(s, 3) for s in bounds[:, 1]})
    ]
    assert len(lines) > 20
    laps = [np.abs(over - x).min() for under, over in pairwise(lines) for x in under[3:-3]]
    assert min(laps) >= 0.25 * courses.length * PITCH


def test_stones_of_a_space_keep_to_it():
    for seed in range(2):
        for name in ["planks", "cobbles", "rough"]:
            courses, found = COURSES[name], Stones()
            block = (PITCH, -PITCH, 2 * PITCH, 0.0)
            courses.fill_space(found, block, Cut(PITCH, JOINT, (seed,)))
            stones = stones_of(found)
            inner = box(*block).buffer(-WIDE / 2, join_style="mitre")
            assert all(inner.buffer(1e-9, join_style="mitre").covers(stone) for stone in stones)
            assert shapely.union_all(stones).bounds == pytest.approx(inner.bounds)
            # Courses of the one and of the other number of stones, in turn.
            rows = round(1 / courses.height)
            a, b = courses.split
            counts = {sum((a, b)[(n + first) % 2] for n in range(rows)) for first in (0, 1)}
            assert len(stones) in counts
            # A line between each two courses, and a joint between each two stones of one course.
            assert len(found.joints) == rows - 1 + len(stones) - rows
            for line in found.joints:
                assert box(*block).buffer(1e-9).covers(LineString(line))


@pytest.mark.parametrize("name", ["cobbles", "rough"])
def test_wavy_lines_stray_no_further_than_said(name):
    """Corners are off their line by at most half of `wave`, in heights of a course; and they use most of it."""
    courses = COURSES[name]
    height = courses.height * PITCH
    found = free(courses, columns=12, rows=12)
    points = np.array([p for line in found.joints for p in line])
    off = np.abs(points[:, 1] / height - np.round(points[:, 1] / height))
    assert off.max() <= courses.wave / 2 + 1e-9
    assert off.max() > 0.9 * courses.wave / 2
    # Along the course: half of `stray` of a stone, of the joint and of its course, and a quarter of the wave.
    across = [line for line in found.joints if len(line) == 2]
    leaning = max(abs(a[0] - b[0]) for a, b in across) / height
    assert 0.4 * courses.wave < leaning <= courses.wave * (0.5 + 0.35) + 1e-9


def test_corners_of_wavy_courses_that_nearly_meet_are_one():
    """Two corners on a line are as far apart as 0.35 of the wave, or the same: no slivers between them."""
    courses = COURSES["rough"]
    near = 0.35 * courses.wave * courses.height * PITCH
    for seed in range(3):
        found = free(courses, seed=seed, columns=15, rows=9)
        ways = {}
        for line in found.joints:
            if len(line) > 2:
                for a, b in pairwise(line):
                    ways[a, b] = b[0] - a[0]
        # Corners of one course are a stone apart; of two, near ones have become one, but for those in a row.
        assert min(ways.values()) > 0
        assert sum(step < near for step in ways.values()) < 0.02 * len(ways)


def test_rounded_corners_have_their_radius():
    """A convex stone less its rounding is the stone drawn in and out again: what a corner loses (plane geometry).

    A square loses (4 - pi) r^2; with two chords to a quarter circle the octagon-like rest 4 r^2 - 2 sqrt(2) r^2.
    """
    radius = 0.3
    courses = Courses(1 / 4, 0.5, wave=1e-12, rounded=radius)
    stones = stones_of(free(courses, columns=8, rows=8))
    high, long = PITCH / 4 - JOINT, PITCH / 2 - JOINT
    corner = (4 - 2 * math.sqrt(2)) * (radius * PITCH / 4) ** 2
    assert shapely.area(stones) == pytest.approx(high * long - corner, rel=1e-6)


@pytest.mark.parametrize("name", ["planks", "timber"])
def test_boards_have_two_nails_at_each_end(name):
    """Pits of 0.07 of a board's width, 0.28 from its sides, 0.32 from its ends: eight corners, two flat to the sides."""
    courses = COURSES[name]
    found = free(courses, columns=12, rows=4)
    stones, nails = stones_of(found), np.concatenate(found.pits)
    width = courses.height * PITCH
    assert len(nails) == 4 * len(stones)
    tree = shapely.STRtree(stones)
    boards, own = tree.query(nails, predicate="within")[1], tree.query(nails, predicate="within")[0]
    assert len(own) == len(nails)
    for board in np.unique(boards):
        west, south, east, north = stones[board].buffer(JOINT / 2, join_style="mitre").bounds
        centres = sorted((round(n.centroid.x, 6), n.centroid.y) for n in nails[own[boards == board]])
        xs, ys = (west + 0.32 * width, east - 0.32 * width), (south + 0.28 * width, north - 0.28 * width)
        assert centres == [pytest.approx((x, y)) for x in xs for y in ys]
    radius = 0.07 * width
    assert shapely.area(nails) == pytest.approx(2 * math.sqrt(2) * radius**2)
    first = shapely.bounds(nails[0])
    assert first[2] - first[0] == pytest.approx(2 * radius * math.cos(math.pi / 8))


@pytest.mark.parametrize(("pitch", "has"), [(31.75, True), (24.0, True), (22.0, False)])
def test_boards_too_narrow_have_no_nails(pitch, has):
    """0.21 of a board from its side to the pit's rim less half a joint: 0.8 mm at a width of 1.2 / 0.21 = 5.71 mm."""
    courses, found = COURSES["planks"], Stones()
    courses.fill(found, (0.0, 0.0, 100.0, 50.0), Cut(pitch, JOINT, (1,)), None)
    assert bool(len(np.concatenate(found.pits))) == has


def test_blocks_of_a_free_floor_are_in_bond():
    """Blocks of 1.6 spaces: whole lines between their rows, and in each row one joint a block, shifted by chance."""
    size = 1.6 * PITCH
    found = pattern("flagstones", False, window=(0.0, 0.0, 10 * size, 6 * size))
    whole = [line[0][1] / size for line in found.joints if line[0][0] == 0.0 and line[1][0] == 10 * size]
    assert whole == pytest.approx(range(6))
    upright = [line for line in found.joints if abs(line[0][0] - line[1][0]) < 1e-9]
    blocks = [line for line in upright if abs(line[1][1] - line[0][1] - size) < 1e-6 and line[0][1] / size % 1 < 1e-6]
    assert len(blocks) >= 6 * 11
    assert len({round(line[0][0] / size % 1, 3) for line in blocks}) >= 6


def test_flagstones_are_sawn_until_they_are_small_enough():
    """No side over 0.62 of a space, no stone over 0.24 of a space's area: and none sawn that was small enough."""
    longest, largest, count = 0.0, 0.0, 0
    for seed in range(80):
        found = Stones()
        add_flagstones(found, (0.0, 0.0, PITCH, PITCH), Cut(PITCH, JOINT, (seed,)), border=JOINT)
        bounds = shapely.bounds(stones_of(found))
        sides = (bounds[:, 2:] - bounds[:, :2] + JOINT) / PITCH
        longest, largest = max(longest, sides.max()), max(largest, sides.prod(axis=1).max())
        count += len(sides)
        # Each is sawn in two between 0.4 and 0.6 of its longer side: four are the fewest of a space that are small enough.
        assert len(sides) >= 5
        assert len(found.joints) == len(sides) - 1
        assert sides.prod(axis=1).sum() == pytest.approx(1.0)
        first = LineString(found.joints[0])
        at = first.centroid.x if first.bounds[0] == first.bounds[2] else first.centroid.y
        assert 0.4 <= at / PITCH <= 0.6
    assert 0.58 < longest <= 0.62
    assert 0.235 < largest <= 0.24
    assert count / 200 < 2 / 0.24


def test_corners_are_knocked_off_by_little_mostly():
    """A fifth of corners by 0.04 to 0.08 of a space, the others by 0.01 to 0.03; 1.3 times that along one side."""
    cuts = []
    for seed in range(30):
        found = Stones()
        add_flagstones(found, (0.0, 0.0, 4 * PITCH, 4 * PITCH), Cut(PITCH, JOINT, (seed,)), border=JOINT)
        for stone in stones_of(found):
            (west, south, east, north), (*ring, _) = stone.bounds, stone.exterior.coords
            assert len(ring) == 8
            legs = [math.hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
            lost = (east - west) * (north - south) - stone.area
            slanting = sorted(legs)[:4] if max(legs) > 0 else []
            cuts += [s / math.hypot(1, 1.3) / PITCH for s in slanting if s > 0]
            assert lost <= 4 * 1.3 * (0.08 * PITCH) ** 2 / 2
    sizes = np.array(cuts)
    assert sizes.max() <= 0.08 + 1e-9
    assert sizes.min() >= 0.005
    assert np.mean(sizes > 0.035) == pytest.approx(0.2, abs=0.06)


def test_the_joints_of_a_saw_are_each_a_line_of_two_points():
    found = pattern("flagstones", True)
    assert {len(line) for line in found.joints} == {2}
    assert MultiLineString(found.joints).is_valid


@pytest.mark.parametrize(("name", "lines"), KINDS)
def test_any_window_shows_the_same_stones(name, lines):
    """A window cut out of a larger one, its corner off the lines of the spaces, shows what it shows by itself."""
    for seed, (x, y) in enumerate(((0.3, 0.7), (-2.6, -1.3))):
        window = (x * PITCH, y * PITCH, (x + 2) * PITCH, (y + 1.2) * PITCH)
        larger = ((x - 2) * PITCH, (y - 1) * PITCH, (x + 4) * PITCH, (y + 2) * PITCH)
        here, there = (
            shapely.union_all(stones_of(pattern(name, lines, seed=seed, window=w))).intersection(box(*window))
            for w in (window, larger)
        )
        assert here.symmetric_difference(there).area < 1e-6
        assert 0.5 < here.area / box(*window).area < 0.95
