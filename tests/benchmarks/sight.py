"""Sight for every tile of a walled plan, against a library's symmetric field of view over the same cells.

Run: python -m tests.benchmarks.sight [SIDE]   (needs `pip install tcod`, which the tool itself does not)

The library sees cells, not lines: it is given a raster of 2 n + 1 cells a side, on which wall lines are cells of
their own, and is asked for the view from every tile's cell. Both run in this one process, one after the other.
"""

from __future__ import annotations

import argparse
import resource
import time

import numpy as np

from tilegen.model.grid import Grid
from tilegen.plans.drafting import draw
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import make_kit
from tilegen.plans.sight import in_sight
from tilegen.plans.views import wall_lines
from tilegen.plans.ways import Way

ROOM_MOST, ROOM_LEAST = 8, 3
OPEN_SHARE = 0.12


def plan_of_rooms(side: int, seed: int = 1) -> Drawing:
    """Rectangular rooms wall to wall, three in a hundred of them solid ground, some of the walls with a way through."""
    rng = np.random.default_rng(seed)
    rooms = np.zeros((side, side), np.uint32)
    number = _split(rooms, rng, (0, 0, side, side), 0)
    letters = np.array([ord(c) for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"], np.uint32)
    # Greedy colours, so that neighbouring rooms have different letters.
    colour = _colours(rooms, number)
    ground = rng.random(number) < 0.03
    cells = np.where(ground[rooms], 0, letters[colour[rooms]])
    ways = []
    for row, column in np.argwhere((rooms[:, :-1] != rooms[:, 1:]) & (cells[:, :-1] > 0) & (cells[:, 1:] > 0)):
        if rng.random() < OPEN_SHARE:
            ways.append(Way((int(column) + 1, int(row) + 1), "east", str(rng.choice(["open", "doorway", "saddle"]))))
    for row, column in np.argwhere((rooms[:-1] != rooms[1:]) & (cells[:-1] > 0) & (cells[1:] > 0)):
        if rng.random() < OPEN_SHARE:
            ways.append(Way((int(column) + 1, int(row) + 1), "south", str(rng.choice(["open", "doorway", "saddle"]))))
    return draw(name="rooms", scale="10 ft", grid=Grid(), rooms=cells, titles={}, ways=ways)


def _split(rooms: np.ndarray, rng: np.random.Generator, box: tuple[int, int, int, int], n: int) -> int:
    """Number the rooms that a box (top, left, bottom, right) is cut into from n on; returns the next number."""
    top, left, bottom, right = box
    height, width = bottom - top, right - left
    if max(height, width) <= ROOM_MOST:
        rooms[top:bottom, left:right] = n
        return n + 1
    if height > width:
        at = int(rng.integers(top + ROOM_LEAST, bottom - ROOM_LEAST + 1))
        return _split(rooms, rng, (at, left, bottom, right), _split(rooms, rng, (top, left, at, right), n))
    at = int(rng.integers(left + ROOM_LEAST, right - ROOM_LEAST + 1))
    return _split(rooms, rng, (top, at, bottom, right), _split(rooms, rng, (top, left, bottom, at), n))


def _colours(rooms: np.ndarray, count: int) -> np.ndarray:
    beside: list[set[int]] = [set() for _ in range(count)]
    for a, b in ((rooms[:-1], rooms[1:]), (rooms[:, :-1], rooms[:, 1:])):
        for one, other in zip(a.ravel().tolist(), b.ravel().tolist(), strict=True):
            if one != other:
                beside[one].add(other)
                beside[other].add(one)
    colour = np.full(count, -1)
    for n in range(count):
        taken = {int(colour[other]) for other in beside[n]}
        colour[n] = next(c for c in range(count) if c not in taken)
    return colour


def library_views(drawing: Drawing, *, doors_open: bool) -> tuple[float, float]:
    """(seconds, mean cells of tiles in view) of the library's symmetric field of view from every tile's cell."""
    import tcod.constants
    import tcod.map

    rows, columns = drawing.rooms.shape
    across, down = wall_lines(drawing, doors_open=doors_open)
    clear = np.zeros((2 * rows + 1, 2 * columns + 1), bool)
    clear[1::2, 1::2] = drawing.rooms != 0
    clear[0::2, 1::2] = ~across
    clear[1::2, 0::2] = ~down
    corners = np.zeros((rows + 1, columns + 1), bool)
    corners[:, :-1] |= across
    corners[:, 1:] |= across
    corners[:-1] |= down
    corners[1:] |= down
    clear[0::2, 0::2] = ~corners
    places = np.argwhere(drawing.rooms != 0) * 2 + 1
    seen = 0
    began = time.perf_counter()
    for row, column in places.tolist():
        view = tcod.map.compute_fov(
            clear, (row, column), radius=0, light_walls=False, algorithm=tcod.constants.FOV_SYMMETRIC_SHADOWCAST
        )
        if row % 16 == 1:
            seen += int(view[1::2, 1::2].sum())
    spent = time.perf_counter() - began
    return spent, seen / max(1, int((places[:, 0] % 16 == 1).sum()))


def timed(drawing: Drawing, *, doors_open: bool) -> tuple[float, float]:
    """(seconds, mean tiles in sight) of our own, the best of two."""
    kit = make_kit(drawing)
    spent = []
    for _ in range(2):
        began = time.perf_counter()
        result = in_sight(drawing, kit, doors_open=doors_open)
        spent.append(time.perf_counter() - began)
    return min(spent), result.mean_tiles


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("side", type=int, nargs="?", default=200)
    parser.add_argument("--without-library", action="store_true")
    chosen = parser.parse_args()
    print(f"{'plan':>11} {'doors':>6} {'tiles':>7} {'in sight':>9} {'s':>7} {'us a pair':>10}")
    for side in (chosen.side // 4, chosen.side // 2, chosen.side):
        drawing = plan_of_rooms(side)
        tiles = int((drawing.rooms != 0).sum())
        for doors_open in (False, True):
            spent, mean = timed(drawing, doors_open=doors_open)
            doors = "open" if doors_open else "shut"
            each = spent / (tiles * mean) * 1e6
            print(f"{side:>4} x {side:<4} {doors:>6} {tiles:>7} {mean:>9.1f} {spent:>7.2f} {each:>10.3f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the process so far: {peak:.0f} MB")
    if not chosen.without_library:
        for doors_open in (False, True):
            theirs, cells = library_views(drawing, doors_open=doors_open)
            ours, _ = timed(drawing, doors_open=doors_open)
            print(
                f"doors {'open' if doors_open else 'shut'}: ours {ours:.2f} s, library {theirs:.2f} s "
                f"(its mean view {cells:.1f} tiles): ratio {ours / theirs:.2f}"
            )


if __name__ == "__main__":
    main()
