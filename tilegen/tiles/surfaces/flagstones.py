"""Flagstones: blocks sawn up at random, corners knocked off."""

from __future__ import annotations

from typing import cast

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.geometry import Bounds
from tilegen.tiles.surfaces.stones import Cut, Polygons, Stones, cells_between, chance, chances

# In spaces: the block a free floor is sawn from, the longest side and the largest stone that stay whole.
BLOCK = 1.6
_LONGEST, _LARGEST = 0.62, 0.24
# Where a stone is sawn, as a share of its side; which corners are knocked off far.
_NEAREST, _SPREAD = 0.4, 0.2
_KNOCKED = 0.2
# Of a stone's narrower side: a corner takes 1.3 times as much of one of its two sides.
_WIDEST = 0.35


def add_flagstones(found: Stones, block: Bounds, cut: Cut, *, border: float) -> None:
    """A block sawn, and sawn again, across its longer side. border: width of the joint round it in mm."""
    stones: list[Bounds] = []
    waiting: list[tuple[Bounds, int]] = [(block, 1)]
    while waiting:
        stone, number = waiting.pop()
        if _stays(stone, cut.pitch):
            stones.append(stone)
            continue
        (west, south, east, north), share = stone, _NEAREST + _SPREAD * chance(*cut.keys, number)
        width, depth = east - west, north - south
        level = width > depth if abs(width - depth) > 1e-6 else chance(*cut.keys, number, 1) < 0.5
        if level:
            x = west + share * width
            waiting += [((west, south, x, north), 2 * number), ((x, south, east, north), 2 * number + 1)]
            found.joints.append(((x, south), (x, north)))
        else:
            y = south + share * depth
            waiting += [((west, south, east, y), 2 * number), ((west, y, east, north), 2 * number + 1)]
            found.joints.append(((west, y), (east, y)))
    inner = cut.joint / 2
    boxes = np.array(stones) + np.array((inner, inner, -inner, -inner))
    low, high = np.array(block[:2]) + border / 2, np.array(block[2:]) - border / 2
    boxes[:, :2], boxes[:, 2:] = np.maximum(boxes[:, :2], low), np.minimum(boxes[:, 2:], high)
    found.stones.append(_chipped(boxes, cut))


def _stays(stone: Bounds, pitch: float) -> bool:
    width, depth = stone[2] - stone[0], stone[3] - stone[1]
    return max(width, depth) <= _LONGEST * pitch and width * depth <= _LARGEST * pitch**2


def _chipped(boxes: npt.NDArray[np.float64], cut: Cut) -> Polygons:
    """Boxes with their corners knocked off, some more than others."""
    luck = chances((*cut.keys, 7), (len(boxes), 8))
    far, near = 0.04 + 0.04 * luck[:, 4:], 0.01 + 0.02 * luck[:, 4:]
    west, south, east, north = boxes.T
    # Two corners of a narrow stone must not meet.
    most = _WIDEST * np.minimum(east - west, north - south)
    a, b, c, d = np.minimum(cut.pitch * np.where(luck[:, :4] < _KNOCKED, far, near), most[:, None]).T
    xs = [west + a, east - b, east, east, east - c * 1.3, west + d, west, west]
    ys = [south, south, south + b * 1.3, north - c, north, north, north - d * 1.3, south + a]
    return cast("Polygons", shapely.polygons(np.stack([np.stack(xs, axis=1), np.stack(ys, axis=1)], axis=2)))


class Flagstones:
    """Blocks sawn up at random."""

    def fill_space(self, found: Stones, block: Bounds, cut: Cut) -> None:
        """Add one space as one block."""
        add_flagstones(found, block, cut, border=cut.wide)

    def fill(self, found: Stones, window: Bounds, cut: Cut, height: float | None) -> None:  # noqa: ARG002 - on floors only
        """Blocks in bond, each sawn up by itself."""
        size = BLOCK * cut.pitch
        for row in cells_between(window[1], window[3], size):
            shift = chance(*cut.keys, 1, row) * size
            for column in cells_between(window[0] - shift, window[2] - shift, size):
                west, south = column * size + shift, row * size
                add_flagstones(
                    found, (west, south, west + size, south + size), cut.keyed(column, row), border=cut.joint
                )
                found.joints.append(((west, south), (west, south + size)))
            found.joints.append(((window[0], row * size), (window[2], row * size)))


PATTERNS = {"flagstones": Flagstones()}
