"""What patterns are made of: stones, joints, pits, and chance that is the same on every machine."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.geometry import Point
from tilegen.surface import SPACE_LINE

Polygons = npt.NDArray[np.object_]
_MASK = 2**64 - 1
_STEP, _FIRST, _SECOND = 0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB


@dataclass
class Stones:
    """What a window shows: stones less their joints, the joints' centres (each once) and small pits in the stones."""

    stones: list[Polygons] = field(default_factory=list)
    joints: list[tuple[Point, ...]] = field(default_factory=list)
    pits: list[Polygons] = field(default_factory=list)

    def shifted(self, x: float) -> Stones:
        """The same stones and pits further along by x; the joints stay."""

        def move(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
            moved: npt.NDArray[np.float64] = points + np.array((x, 0.0))
            return moved

        stones, pits = ([shapely.transform(part, move) for part in group] for group in (self.stones, self.pits))
        return Stones(stones, self.joints, pits)


@dataclass(frozen=True, slots=True)
class Cut:
    """How a pattern is cut: side of a space and width of a joint in mm, and what chance hangs on."""

    pitch: float
    joint: float
    keys: tuple[int, ...]

    @property
    def wide(self) -> float:
        """Of the joints on the lines of the spaces, mm."""
        return self.joint * SPACE_LINE

    def keyed(self, *keys: int) -> Cut:
        """The same with more keys."""
        return replace(self, keys=(*self.keys, *keys))


def chance(*keys: int) -> float:
    """A number in [0, 1) from whole numbers: the mixing steps of splitmix64 (Steele, Lea, Flood 2014), from memory."""
    state = _STEP
    for key in keys:
        state = (state ^ (key & _MASK)) + _STEP & _MASK
        state = (state ^ state >> 30) * _FIRST & _MASK
        state = (state ^ state >> 27) * _SECOND & _MASK
        state ^= state >> 31
    return (state >> 11) * 2.0**-53


def chances(keys: tuple[int, ...], shape: tuple[int, int]) -> npt.NDArray[np.float64]:
    """A table of such numbers from the same keys, row by row."""
    state = np.arange(shape[0] * shape[1], dtype=np.uint64) + np.uint64(int(chance(*keys) * 2**53))
    state = (state + np.uint64(1)) * np.uint64(_STEP)
    state = (state ^ state >> np.uint64(30)) * np.uint64(_FIRST)
    state = (state ^ state >> np.uint64(27)) * np.uint64(_SECOND)
    state ^= state >> np.uint64(31)
    return (state >> np.uint64(11)).astype(np.float64).reshape(shape) * 2.0**-53
