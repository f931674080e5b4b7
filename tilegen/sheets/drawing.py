"""A sheet as strokes in cutting order: what every writer is fed with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from tilegen.sheets.kerf import compensated
from tilegen.sheets.labels import Label, label
from tilegen.sheets.nest import Layout
from tilegen.sheets.parts import Part

Layer = Literal["ENGRAVE", "SCORE", "CREASE", "CUT_INNER", "CUT_OUTER", "WIRE", "GUIDE"]
# In cutting order: what marks the sheet, then what frees things, the deepest nested first; the guides are not cut.
LAYERS: tuple[Layer, ...] = ("ENGRAVE", "SCORE", "CREASE", "CUT_INNER", "CUT_OUTER", "WIRE", "GUIDE")
CHECK_SIDE_MM = 100.0
Points = npt.NDArray[np.float64]
Paths = Mapping[Layer, tuple[Points, ...]]
_CLOSED: frozenset[Layer] = frozenset(("CUT_INNER", "CUT_OUTER", "GUIDE"))


@dataclass(frozen=True, eq=False, slots=True)
class Stroke:
    """A polyline on one layer: (n, 2) in mm, y up, the sheet's least corner at the origin."""

    layer: Layer
    points: Points

    @property
    def closed(self) -> bool:
        """Whether its last point joins its first; that point is not repeated."""
        return self.layer in _CLOSED


@dataclass(frozen=True, slots=True)
class SheetFrame:
    """A sheet before anything is drawn on it: its name, what it is, its size and the kerf of what cuts it, mm."""

    name: str
    title: str
    size: tuple[float, float]
    kerf: float


@dataclass(frozen=True, eq=False)
class SheetDrawing:
    """One sheet, ready to write: its strokes come in cutting order, layer by layer."""

    name: str
    title: str
    size: tuple[float, float]
    kerf: float
    strokes: tuple[Stroke, ...]

    @property
    def kerf_words(self) -> str:
        """Whether the outlines allow for the kerf already, so that nobody does it twice."""
        return f"yes, k = {self.kerf:g} mm" if self.kerf else "no, nominal"

    def length(self, *layers: Layer) -> float:
        """Of all strokes on some layers, mm."""
        return float(sum(_length(s.points, s.closed) for s in self.strokes if s.layer in layers))

    @cached_property
    def bounds(self) -> Points:
        """(n, 4) least and greatest corner of each stroke."""
        return np.array([(*s.points.min(axis=0), *s.points.max(axis=0)) for s in self.strokes]).reshape(-1, 4)


@dataclass(frozen=True, eq=False)
class PartPaths:
    """A part's paths for one kerf; the compensated outline's least corner is the origin. nominal: kerf left out."""

    size: tuple[float, float]
    cut: Paths
    nominal: Paths
    number: Label

    @classmethod
    def of(cls, part: Part, kerf: float) -> PartPaths:
        """Offsets the outline and writes the part's number: the slow part, done once for each kind of part.

        Raises:
            InputError: the kerf closes a hole or a notch.
        """
        outline = compensated(part.outline, kerf, part.id)
        west, south, east, north = outline.bounds
        shift = np.array((-west, -south))
        number = label(part.flat, part.id)
        marks: dict[Layer, tuple[Points, ...]] = {
            "ENGRAVE": tuple(stroke + shift for stroke in number.strokes),
            "SCORE": tuple(np.array(segment) + shift for segment in part.flat.scores),
        }
        cut = {**marks, **_outlines(outline, shift)}
        nominal = {**marks, **_outlines(part.outline, shift)} if kerf else cut
        return cls((east - west, north - south), cut, nominal, number)

    def paths(self, *, nominal: bool, turned: bool, half: bool = False) -> Paths:
        """One of the two sets of paths.

        turned: by 90 degrees, the way that leaves the number readable; half: by 180 degrees more.
        """
        paths = self.nominal if nominal else self.cut
        if turned:
            paths = {layer: tuple(self._turned(p) for p in found) for layer, found in paths.items()}
        if half:
            size = np.array(self.size[::-1] if turned else self.size)
            paths = {layer: tuple(size - p for p in found) for layer, found in paths.items()}
        return paths

    def outer(self, turned: bool, half: bool) -> Points:
        """The outline that is cut, for one way to lie."""
        return self.paths(nominal=False, turned=turned, half=half)["CUT_OUTER"][0]

    def _turned(self, points: Points) -> Points:
        width, height = self.size
        x, y = points[:, 0], points[:, 1]
        return np.stack([y, width - x] if self.number.upright else [height - y, x], axis=1)


def draw_sheet(sheet: SheetFrame, layout: Layout, parts: Sequence[PartPaths], *, nominal: bool) -> SheetDrawing:
    """A set-out sheet as strokes. nominal: the parts as they come out, for cutting by hand along the line."""
    cache: dict[tuple[int, bool, bool], Paths] = {}
    by_layer: dict[Layer, list[Points]] = {layer: [] for layer in LAYERS}
    for item, x, y, turned, half in layout:
        key = (item, turned, half)
        if key not in cache:
            cache[key] = parts[item].paths(nominal=nominal, turned=turned, half=half)
        at = np.array((x, y))
        for layer, found in cache[key].items():
            by_layer[layer].extend(points + at for points in found)
    by_layer["GUIDE"] = list(_guides(sheet.size, by_layer["CUT_OUTER"]))
    strokes = tuple(Stroke(layer, points) for layer in LAYERS for points in by_layer[layer])
    return SheetDrawing(sheet.name, sheet.title, sheet.size, 0.0 if nominal else sheet.kerf, strokes)


def _outlines(outline: Polygon, shift: Points) -> dict[Layer, tuple[Points, ...]]:
    inner = tuple(np.array(ring.coords)[:-1] + shift for ring in outline.interiors)
    return {"CUT_INNER": inner, "CUT_OUTER": (np.array(outline.exterior.coords)[:-1] + shift,)}


def _guides(size: tuple[float, float], outlines: Sequence[Points]) -> Iterator[Points]:
    """The sheet's edge, and a square to check the scale by, in the corner where it covers the fewest parts."""
    width, height = size
    yield _rectangle(0.0, 0.0, width, height)
    side = CHECK_SIDE_MM
    corners = [(0.0, 0.0), (width - side, 0.0), (0.0, height - side), (width - side, height - side)]
    if width < side or height < side:
        corners = corners[:1]
    low = np.array([outline.min(axis=0) for outline in outlines]).reshape(-1, 2)
    high = np.array([outline.max(axis=0) for outline in outlines]).reshape(-1, 2)
    met = [((low < (x + side, y + side)) & (high > (x, y))).all(axis=1).sum() for x, y in corners]
    x, y = corners[met.index(min(met))]
    yield _rectangle(x, y, side, side)


def _rectangle(x: float, y: float, width: float, height: float) -> Points:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _length(points: Points, closed: bool) -> float:
    steps = np.diff(np.vstack([points, points[:1]]) if closed else points, axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())
