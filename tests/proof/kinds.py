"""What loose posts and doorways do to many maps: `python -m tests.proof.kinds [--draws 200] [--maps 500]`.

First, one kit that lays any of 40 random 10 ft maps, with everything fixed and with posts and doorways loose. Second,
fit and sight of random maps with fixed, loose and left out posts.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from random import Random
from statistics import fmean

import numpy as np

from tilegen.files.plans import plan_of
from tilegen.fit.figures import figures_on
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, make_kit

LOOSE = {"posts": "loose", "doorways": "loose"}
# The size of a draw, and how many maps there are to draw from.
DRAWN, POOL = 40, 240
_STEPS = (("east", 1, 0), ("south", 0, 1))


def map_tables(seed: int, width: int = 10, height: int = 8) -> dict:
    """A random dungeon on 10 ft squares: rooms, passages one square wide, and a door or two between neighbours."""
    rng = Random(seed)
    cells = [["."] * width for _ in range(height)]
    for letter in "ABCDEFGH"[: rng.randint(4, 8)]:
        passage = rng.random() < 0.4
        wide, high = (rng.randint(2, 4), rng.randint(2, 4)) if not passage else rng.choice([(5, 1), (1, 5), (7, 1)])
        west, north = rng.randrange(width - min(wide, width) + 1), rng.randrange(max(1, height - high + 1))
        for row in range(north, min(height, north + high)):
            for column in range(west, min(width, west + wide)):
                cells[row][column] = letter
    shared: dict[tuple[str, str], list[tuple[int, int, str]]] = {}
    for row in range(height):
        for column in range(width):
            for side, east, south in _STEPS:
                if row + south < height and column + east < width:
                    pair = cells[row][column], cells[row + south][column + east]
                    if pair[0] != pair[1] and "." not in pair:
                        shared.setdefault((min(pair), max(pair)), []).append((column + 1, row + 1, side))
    ways = []
    for lines in shared.values():
        for column, row, side in rng.sample(lines, min(len(lines), rng.choice([1, 1, 1, 2]))):
            kind = rng.choices(["doorway", "open"], [4, 1])[0]
            ways.append({"cell": [column, row], "side": side, "kind": kind})
    return {"name": f"map {seed}", "scale": "10 ft", "drawing": "\n".join(map("".join, cells)), "way": ways}


def drawn(tables: dict, choice: dict | None = None, grid: dict | None = None) -> Drawing:
    """A map with a choice of posts and doorways."""
    return plan_of({**tables, "set": choice or {}, "grid": grid or {}}, "map.toml")


def counted(kit: Kit) -> dict[str, int]:
    """How many of each type of tile."""
    return {kind.tile.id: kind.count for kind in kit.types}


def for_any(kits: list[dict[str, int]]) -> dict[str, int]:
    """The least kit that lays any one of several: of each type the most that one of them takes."""
    found: dict[str, int] = {}
    for kit in kits:
        for key, count in kit.items():
            found[key] = max(found.get(key, 0), count)
    return found


def savings(draws: int, pool: int = POOL, size: int = DRAWN) -> Iterator[tuple[float, int, int]]:
    """By draw: the share of tiles saved, the kinds of tile with everything fixed, and with everything loose."""
    maps = [map_tables(seed) for seed in range(pool)]
    fixed, loose = ([counted(make_kit(drawn(one, choice))) for one in maps] for choice in (None, LOOSE))
    for seed in range(draws):
        chosen = Random(10_000 + seed).sample(range(pool), size)
        one, other = for_any([fixed[n] for n in chosen]), for_any([loose[n] for n in chosen])
        yield 1 - sum(other.values()) / sum(one.values()), len(one), len(other)


def places(drawing: Drawing, base: float) -> tuple[int, object]:
    """Positions of a base, and where it does not stand."""
    (figure,) = figures_on(drawing, [base])
    return figure.positions, figure.blocked


def same_fit_and_sight(seed: int, bases: tuple[float, ...] = (25.4, 50.8)) -> int:
    """Whether a map plays alike whatever is loose or left out: how many positions were compared.

    Raises:
        AssertionError: it does not.
    """
    tables, compared = map_tables(seed), 0
    fixed = drawn(tables)
    for posts in ("fixed", "loose", "none"):
        other = drawn(tables, {"posts": posts, "doorways": "loose"})
        for base in bases:
            (count, blocked), (others, now) = places(fixed, base), places(other, base)
            assert count == others, (seed, posts, base)
            assert np.array_equal(blocked, now), (seed, posts, base)
            compared += count
        for open_ in (False, True):
            here, there = ((d.stands, d.seen_past(doors_open=open_)) for d in (fixed, other))
            for lines in ("across", "down"):
                one, two = getattr(fixed, lines), getattr(other, lines)
                for before, after in zip(here, there, strict=True):
                    assert np.array_equal(before[one], after[two]), (seed, posts)
    return compared


def main() -> None:
    """Run both and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--maps", type=int, default=500)
    asked = parser.parse_args()
    found = list(savings(asked.draws))
    saved = [share for share, _, _ in found]
    print(f"{len(saved)} draws of {DRAWN} maps: {fmean(saved):.1%} fewer tiles, from {min(saved):.1%}")
    low = np.percentile(saved, 5)
    print(f"5th percentile {low:.1%}; kinds {max(k for _, k, _ in found)} fixed, {max(k for _, _, k in found)} loose")
    compared = sum(same_fit_and_sight(seed) for seed in range(asked.maps))
    print(f"{asked.maps} maps: {compared} positions of bases and every line of sight are the same")


if __name__ == "__main__":
    main()
