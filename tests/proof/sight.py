"""Sight against CGAL's visibility polygons: `python -m tests.proof.sight 300`; needs PySFCGAL (`.[dev]` brings it on Linux).

A wall is a strip of `_HAIR` on either side of its line. Centres of spaces and ends of walls lie on whole half spaces, so
a line of sight either passes a wall's end further off than that or touches it. With strips to the very ends both must
see the same. With strips that end a hair before, only lines that graze an end are free besides: each such pair is shown.

Source: F. Bungiu, M. Hemmer, J. Hershberger, K. Huang, A. Kroeller, Efficient Computation of Visibility Polygons, 2014
(arXiv 1403.3905), on which CGAL's package "2D Visibility Computation" rests; from memory.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

import numpy as np
import shapely

from tests.kits.test_fit_plans import random_plan
from tests.kits.test_sight import meets, slow_wall_lines
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import Layout, lay
from tilegen.plans.views import View

# In half spaces. Of a whole-number point that is off a line between two others at most 60 away, 1/60 is the least distance.
_HAIR = 1e-3


class Found(NamedTuple):
    """What one plan came to: pairs of tiles, those on which both differ, and those that graze an end only."""

    pairs: int
    differ: list[tuple[int, int]]
    graze: list[tuple[int, int]]


def ends_of(lines: np.ndarray) -> set[tuple[int, int]]:
    """Where a wall ends in the open: corners that one wall line alone reaches."""
    met = Counter((int(x), int(y)) for a, b, c, d in lines for x, y in ((a, b), (c, d)))
    return {corner for corner, number in met.items() if number == 1}


def rooms_between(drawing: Drawing, lines: np.ndarray, *, shorter: bool) -> list[shapely.Polygon]:
    """The floor in half spaces, less a strip along every wall line."""
    side = 2 * drawing.cell_spaces
    floor = shapely.union_all(
        [
            shapely.box(c * side, r * side, (c + 1) * side, (r + 1) * side)
            for r, c in np.argwhere(drawing.rooms).tolist()
        ]
    )
    strips = [shapely.box(a - _HAIR, b - _HAIR, c + _HAIR, d + _HAIR) for a, b, c, d in lines.tolist()]
    solid = shapely.union_all(strips)
    if shorter:
        at_ends = [shapely.Point(end).buffer(4 * _HAIR, cap_style="square") for end in ends_of(lines)]
        solid = solid.difference(shapely.union_all(at_ends))
    return list(shapely.get_parts(floor.difference(solid)))


def library_sight(drawing: Drawing, laid: Layout, lines: np.ndarray, *, shorter: bool) -> np.ndarray:
    """(tiles, tiles): whether a centre of the one lies in the visibility polygon of a centre of the other."""
    from pysfcgal.geometry import Point, Polygon

    k = drawing.cell_spaces
    centres = [
        (int(laid.tile_of[r, c]), 2 * (c * k + i) + 1, 2 * (r * k + j) + 1)
        for r, c in np.argwhere(laid.tile_of >= 0).tolist()
        for i, j in product(range(k), repeat=2)
    ]
    tiles, xs, ys = np.array(centres).T
    sees = np.eye(len(laid.type_of), dtype=bool)
    for room in rooms_between(drawing, lines, shorter=shorter):
        turned = shapely.orient_polygons(room)
        here = np.flatnonzero(shapely.contains_xy(room, xs, ys))
        arena = Polygon(list(turned.exterior.coords)[:-1], [list(ring.coords)[:-1] for ring in turned.interiors])
        for n in here.tolist():
            view = shapely.from_wkt(arena.point_visibility(Point(float(xs[n]), float(ys[n]))).to_wkt(decim=12))
            sees[tiles[n], tiles[here[shapely.contains_xy(view, xs[here], ys[here])]]] = True
    return sees


def graze_only(laid: Layout, drawing: Drawing, lines: np.ndarray, one: int, other: int) -> bool:
    """Whether some line between two tiles meets walls at their ends in the open only; in whole numbers."""
    k, ends = drawing.cell_spaces, ends_of(lines)

    def centres(tile: int) -> Iterator[tuple[int, int]]:
        for r, c in np.argwhere(laid.tile_of == tile).tolist():
            yield from ((2 * (c * k + i) + 1, 2 * (r * k + j) + 1) for i, j in product(range(k), repeat=2))

    for p, q in product(centres(one), centres(other)):
        met = [line for line in lines if meets(p, q, line[None])]
        touched = [
            {(x, y) for x, y in ((a, b), (c, d)) if (q[0] - p[0]) * (y - p[1]) == (q[1] - p[1]) * (x - p[0])}
            for a, b, c, d in (tuple(map(int, line)) for line in met)
        ]
        if met and all(len(corners) == 1 and corners <= ends for corners in touched):
            return True
    return False


def compared(seed: int, *, most: int = 7) -> Found:
    """One random plan, at 10 or 5 ft, doors shut or open, against the library."""
    drawing = random_plan(seed, scale=("10 ft", "5 ft")[seed % 2], most=most)
    doors_open = seed % 4 > 1
    laid = lay(drawing, make_kit(drawing))
    view = View(drawing, laid, doors_open=doors_open)
    ours = np.array([view.seen_from(tile) for tile in range(len(laid.type_of))])
    lines = slow_wall_lines(drawing, doors_open)
    closed, freer = (library_sight(drawing, laid, lines, shorter=shorter) for shorter in (False, True))
    differ = [(a, b) for a, b in np.argwhere(ours != closed).tolist() if a < b]
    graze = [(a, b) for a, b in np.argwhere(freer & ~ours).tolist() if a < b]
    for a, b in graze:
        assert graze_only(laid, drawing, lines, a, b), (seed, a, b)
    assert not (ours & ~freer).any(), seed
    return Found(len(ours) * (len(ours) - 1) // 2, differ, graze)


def main() -> None:
    """Compare many plans and print each pair that differs or grazes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plans", type=int, nargs="?", default=300)
    total = Counter[str]()
    for seed in range(parser.parse_args().plans):
        found = compared(seed)
        total.update(pairs=found.pairs, differ=len(found.differ), graze=len(found.graze))
        for name, pairs in (("differ", found.differ), ("graze an end", found.graze)):
            for a, b in pairs:
                print(f"plan {seed}: tiles {a} and {b} {name}")
    print(
        f"{seed + 1} plans, {total['pairs']} pairs of tiles: {total['differ']} differ from CGAL's visibility polygons; "
        f"{total['graze']} see each other only past the end of a wall, and count as out of sight"
    )


if __name__ == "__main__":
    main()
