"""Random plans for the other tests, their turns and mirror images; and tests that these helpers do what they say."""

from __future__ import annotations

import numpy as np

from tilegen.files.plans import read_drawing
from tilegen.model.grid import Grid
from tilegen.plans.drafting import draw
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import make_kit
from tilegen.plans.ways import ExtraWall, Way
from tilegen.tiles.shape import SIDES

WORKED = """
A A A . .
A A A B B
C C C B B
"""
WORKED_WAYS = (Way((3, 2), "east", "doorway"), Way((3, 3), "east", "saddle"))


def make_plan(text, *, scale="10 ft", ways=(), walls=(), grid=None, titles=None, name="plan") -> Drawing:
    return draw(
        name=name,
        scale=scale,
        grid=grid or Grid(),
        rooms=read_drawing(text),
        titles=titles or {},
        ways=ways,
        walls=walls,
    )


def worked_plan() -> Drawing:
    return make_plan(WORKED, ways=WORKED_WAYS)


def random_rooms(rng, rows, columns):
    """Letters in patches with some noise and some solid ground."""
    rooms = np.full((rows, columns), ord("A"), np.uint32)
    for _ in range(int(rng.integers(0, 6))):
        r, c = sorted(rng.integers(0, rows + 1, 2)), sorted(rng.integers(0, columns + 1, 2))
        rooms[r[0] : r[1], c[0] : c[1]] = rng.choice([0, ord("A"), ord("B"), ord("C")])
    noise = rng.random(rooms.shape) < rng.choice([0, 0.1, 0.3])
    rooms[noise] = rng.choice([0, ord("A"), ord("B")], size=rooms.shape)[noise]
    if not rooms.any():
        rooms[0, 0] = ord("A")
    return rooms


def random_parts(rng, *, most=7):
    """(rooms, ways, walls) of a random plan."""
    rooms = random_rooms(rng, int(rng.integers(1, most + 1)), int(rng.integers(1, most + 1)))
    rows, columns = rooms.shape
    ways, walls = [], []
    share, bare = rng.choice([0.1, 0.4, 0.8]), rng.choice([0, 0.1])
    for row in range(rows):
        for column in range(columns):
            for side, (dc, dr) in zip(SIDES, ((0, -1), (1, 0), (0, 1), (-1, 0)), strict=True):
                c, r = column + dc, row + dr
                inside = 0 <= c < columns and 0 <= r < rows
                beyond = int(rooms[r, c]) if inside else 0
                here = int(rooms[row, column])
                if not here or (beyond and side in ("north", "west")):
                    continue
                if here != beyond:
                    if rng.random() < (share if beyond else 0.1):
                        kinds = ["open", "doorway"] + (["saddle"] if beyond else [])
                        ways.append(Way((column + 1, row + 1), side, str(rng.choice(kinds))))
                elif rng.random() < bare:
                    walls.append(ExtraWall((column + 1, row + 1), side))
    return rooms, tuple(ways), tuple(walls)


def random_plan(seed, *, scale="10 ft", most=7, grid=None) -> Drawing:
    rooms, ways, walls = random_parts(np.random.default_rng(seed), most=most)
    return draw(name="random", scale=scale, grid=grid or Grid(), rooms=rooms, titles={}, ways=ways, walls=walls)


def turned(rooms, ways, walls):
    """The parts of a plan after a quarter turn clockwise."""
    rows = rooms.shape[0]

    def move(item):
        side = SIDES[(SIDES.index(item.side) + 1) % 4]
        cell = (rows - item.cell[1] + 1, item.cell[0])
        return Way(cell, side, item.kind) if isinstance(item, Way) else ExtraWall(cell, side)

    return np.rot90(rooms, -1).copy(), tuple(map(move, ways)), tuple(map(move, walls))


def mirrored(rooms, ways, walls):
    """The parts of a plan seen in a mirror: west becomes east."""
    columns = rooms.shape[1]

    def move(item):
        side = {"east": "west", "west": "east"}.get(item.side, item.side)
        cell = (columns - item.cell[0] + 1, item.cell[1])
        return Way(cell, side, item.kind) if isinstance(item, Way) else ExtraWall(cell, side)

    return rooms[:, ::-1].copy(), tuple(map(move, ways)), tuple(map(move, walls))


def drawn(parts, *, scale="10 ft", grid=None) -> Drawing:
    rooms, ways, walls = parts
    return draw(name="parts", scale=scale, grid=grid or Grid(), rooms=rooms, titles={}, ways=ways, walls=walls)


def test_four_turns_and_two_mirrors_bring_a_plan_back():
    parts = random_parts(np.random.default_rng(5))
    again = parts
    for _ in range(4):
        again = turned(*again)
    assert (drawn(again).rooms == drawn(parts).rooms).all()
    assert (drawn(again).across == drawn(parts).across).all()
    assert (drawn(mirrored(*mirrored(*parts))).down == drawn(parts).down).all()


def test_random_plans_have_ways_walls_and_ground():
    plans = [random_plan(seed) for seed in range(20)]
    kinds = {kind.name for plan in plans for kind in plan.kinds}
    assert kinds == {"open", "wall", "doorway", "saddle"}
    assert any((plan.rooms == 0).any() for plan in plans)
    assert all(make_kit(plan).tiles == int((plan.rooms != 0).sum()) for plan in plans)
