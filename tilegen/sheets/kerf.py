"""Kerf: the cut runs half its width outside of a part's outline and half its width inside of its holes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, cast

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import polygons_of

# Sharper corners are cut off beyond the part's own corner, so the part stays sharp whatever the limit.
_MITRE_LIMIT = 2.0
# The way back is to lose nothing in the sharpest inner corner, nor where one of two widths is next to nothing.
_NO_LIMIT = 1e9
_LOST_MM2 = 1e-4
# Of the square of half the kerf: what a round tool leaves in a right-angled inner corner anyway, 1 - pi / 4.
_RESIDUE = 0.22
# Stands for a width of 0 along one axis where the other has one: no machine sees a tenth of a micrometre.
_LEAST_WIDTH = 1e-4


class Kerf(NamedTuple):
    """The full width of a cut in mm, as measured along x and along y."""

    x: float
    y: float

    @classmethod
    def of(cls, width: float | tuple[float, float]) -> Kerf:
        """From one width for both ways, or a pair."""
        return cls(*width) if isinstance(width, tuple) else cls(width, width)

    @property
    def turned(self) -> Kerf:
        """As a part sees it that lies turned by 90 degrees."""
        return Kerf(self.y, self.x)

    @property
    def widest(self) -> float:
        """The larger of the two."""
        return max(self)

    @property
    def words(self) -> str:
        """Whether outlines made with it allow for it already, so that nobody does it twice."""
        if not self.widest:
            return "no, nominal"
        return f"yes, k = {self.x:g} mm" if self.x == self.y else f"yes, k = {self.x:g} mm in x, {self.y:g} mm in y"


def compensated(outline: Polygon, width: float | tuple[float, float], name: str) -> Polygon:
    """The path of the cut's centre for a part, so that what comes out measures `outline`.

    width: the full width of the cut, mm, or one along x and one along y; half of it goes to each side. Where the two
    differ the part is stretched until the tool is round, offset, and stretched back. name: of the part, for messages.

    Raises:
        InputError: a hole, a notch or the part itself is narrower than the kerf and would vanish; names each.

    >>> from shapely.geometry import box
    >>> compensated(box(0, 0, 50, 50), 0.2, "W").bounds
    (-0.1, -0.1, 50.1, 50.1)
    >>> [round(v, 9) for v in compensated(box(0, 0, 50, 50), (0.1, 0.2), "W").bounds]
    [-0.05, -0.1, 50.05, 50.1]
    """
    kerf = Kerf.of(width)
    if not kerf.widest:
        return outline
    # What is whole stays whole as it grows.
    path = cast(Polygon, _offset(outline, kerf, +1))
    lost = list(_lost(outline, path, kerf))
    if lost:
        raise InputError(
            f"part {name} with a {'; a '.join(lost)} that a cut {_width(kerf)} mm wide closes",
            expected=f"features wider than {_width(kerf)} mm",
            cure="make the feature wider or cut it with a finer tool",
        )
    return path


def _offset(outline: BaseGeometry, kerf: Kerf, sign: int) -> BaseGeometry:
    limit = _MITRE_LIMIT if sign > 0 else _NO_LIMIT
    if kerf.x == kerf.y:
        return outline.buffer(sign * kerf.x / 2, join_style="mitre", mitre_limit=limit)
    scale = (max(kerf.x, _LEAST_WIDTH), max(kerf.y, _LEAST_WIDTH))
    round_tool = shapely.transform(outline, lambda points: points / scale)
    path = round_tool.buffer(sign * 0.5, join_style="mitre", mitre_limit=limit)
    return shapely.transform(path, lambda points: points * scale)


def _lost(outline: Polygon, path: Polygon, kerf: Kerf) -> Iterator[str]:
    """What an offset swallowed: holes by their size, notches by the place, in mm of the part's own frame."""
    left = [Polygon(ring) for ring in path.interiors]
    closed = []
    for hole in map(Polygon, outline.interiors):
        inside = sum(hole.covers(ring) for ring in left)
        if inside != 1:
            closed.append(hole)
            west, south, east, north = hole.bounds
            yield f"hole or notch near {_place(hole)} mm, {east - west:.2f} x {north - south:.2f} mm,"
    filled = _offset(path, kerf, -1).difference(shapely.union_all([outline, *closed]))
    for gap in polygons_of(filled, max(_LOST_MM2, _RESIDUE * kerf.x * kerf.y / 4)):
        yield f"hole or notch near {_place(gap)} mm"


def _place(shape: BaseGeometry) -> str:
    x, y = shape.representative_point().coords[0]
    return f"({x:.2f}, {y:.2f})"


def _width(kerf: Kerf) -> str:
    return f"{kerf.x:g}" if kerf.x == kerf.y else f"{kerf.x:g} x {kerf.y:g}"
