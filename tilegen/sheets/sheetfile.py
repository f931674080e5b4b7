"""What the auditor looks at: a sheet's DXF as plain lines, read by ezdxf and by nothing that wrote it."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tilegen.geometry import ROUNDING_MM, Points, arc_points

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.dxfgfx import DXFGraphic


FINDINGS: dict[int, str] = {
    1: "the header does not say millimetres ($INSUNITS 4)",
    2: "an entity lies on a layer that the file does not declare",
    3: "a layer name that sheets do not use",
    4: "a text object: machines need strokes",
    5: "an entity that many machines can't follow: only polylines, lines, arcs and circles",
    6: "an open cut: an end that joins no other cut",
    7: "a line of zero length",
    8: "a cut that crosses itself or another",
    9: "a line cut, or cut and scored, twice",
    10: "two cuts closer together than this machine allows (least_web), or a part narrower than that",
    11: "a path that leaves the sheet",
    12: "a cut that enters a part, a part inside a part or a hole in no part",
    13: "cutting this sheet gives a different number of pieces from the number of outlines",
    14: "a part that does not come out as it should",
    15: "a mark that leaves its part",
    16: "entities that are not in cutting order",
    17: "a hot wire's path that is not one line from outside of the sheet to outside of it",
    18: "the file does not say whether its kerf is compensated",
}


class Finding(NamedTuple):
    """One thing wrong with a sheet. number: a key of FINDINGS. detail: what and where, in mm of the sheet."""

    number: int
    detail: str

    def __str__(self) -> str:
        return f"finding {self.number}: {FINDINGS[self.number]}: {self.detail}"


MARKS = ("ENGRAVE", "SCORE", "CREASE")
CUTS = ("CUT_INNER", "CUT_OUTER")
KNOWN = (*MARKS, *CUTS, "WIRE", "GUIDE")
_TEXTS = ("TEXT", "MTEXT", "ATTDEF", "ATTRIB", "ARCALIGNEDTEXT", "RTEXT")
_CHORD_MM = 0.005
_MILLIMETRES = 4
# How much wider than said the gap of a tab may be.
_TAB_MM = 0.05
_LOOP_MM = 1e-5


@dataclass(frozen=True, eq=False)
class Path:
    """One path: (n, 2) in mm, its first point not repeated where it is closed; steps: the shortest one, mm."""

    layer: str
    points: Points
    closed: bool
    shortest: float

    @property
    def walked(self) -> Points:
        """Its points, the first once more at the end where it is closed."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points

    @property
    def place(self) -> str:
        """Its first point, for messages."""
        return f"({self.points[0][0]:.2f}, {self.points[0][1]:.2f})"


@dataclass(frozen=True, eq=False)
class SheetFile:
    """What a sheet's file holds. size: of the sheet, None if the file does not show it; kerf: (x, y) in mm.

    leads: the lead-ins of outlines, which are closed paths without them.
    """

    paths: list[Path]
    in_millimetres: bool
    undeclared: tuple[str, ...]
    strange_layers: tuple[str, ...]
    texts: tuple[str, ...]
    strange: tuple[str, ...]
    size: tuple[float, float, float, float] | None
    kerf: tuple[float, float] | None
    said: dict[str, str]
    leads: list[Path]

    def on(self, *layers: str) -> list[Path]:
        """The paths of some layers, in file order."""
        return [path for path in self.paths if path.layer in layers]


def is_sheet(document: Drawing) -> bool:
    """Whether a drawing has anything on the layers of a sheet that a tool works on."""
    return any(entity.dxf.layer in KNOWN[:-1] for entity in document.modelspace())


def read_sheet(document: Drawing) -> SheetFile:
    """The content of a sheet's DXF."""
    paths: list[Path] = []
    texts, strange, layers = [], [], []
    for entity in document.modelspace():
        layer, kind = str(entity.dxf.layer), entity.dxftype()
        layers.append(layer)
        if kind in _TEXTS:
            texts.append(f"{kind} on {layer}")
        elif (path := _path(entity)) is not None:
            paths.append(path)
        else:
            strange.append(f"{kind} on {layer}")
    said = {str(k).lower(): str(v) for k, v in document.header.custom_vars.properties}
    declared = {str(layer.dxf.name) for layer in document.layers}
    if "tabs" in said:
        paths = _without_tabs(paths, float(said["tabs"].split()[0]) + _TAB_MM)
    leads: list[Path] = []
    if "lead-ins" in said:
        paths, leads = _without_leads(paths)
    edge = max(
        (p for p in paths if p.layer == "GUIDE" and p.closed),
        key=lambda p: float(np.prod(np.ptp(p.points, axis=0))),
        default=None,
    )
    return SheetFile(
        paths,
        document.header.get("$INSUNITS", 0) == _MILLIMETRES,
        tuple(sorted(set(layers) - declared)),
        tuple(sorted(set(layers) - set(KNOWN))),
        tuple(texts),
        tuple(strange),
        None if edge is None else (*edge.points.min(axis=0).tolist(), *edge.points.max(axis=0).tolist()),
        _kerf(said.get("kerf compensated")),
        said,
        leads,
    )


def _without_leads(paths: list[Path]) -> tuple[list[Path], list[Path]]:
    """Open cuts that come back to a point of theirs as closed ones, and what leads to these."""
    made, leads = [], []
    for path in paths:
        first, last = _loop(path) if path.layer in CUTS and not path.closed else (0, 0)
        if last > first:
            made.append(Path(path.layer, path.points[first:last], closed=True, shortest=path.shortest))
            leads.append(Path(path.layer, path.points[: first + 1], closed=False, shortest=path.shortest))
        else:
            made.append(path)
    return made, leads


def _loop(path: Path) -> tuple[int, int]:
    """From where to where a path runs in a ring: it ends there, or a little past its start."""
    for last in range(len(path.points) - 1, max(len(path.points) - 3, 1), -1):
        near = np.flatnonzero(np.hypot(*(path.points[: last - 1] - path.points[last]).T) <= _LOOP_MM)
        if len(near):
            return int(near[0]), last
    return 0, 0


def _without_tabs(paths: list[Path], reach: float) -> list[Path]:
    """Open outlines whose ends face each other over the gap of a tab as the closed ones that they become."""
    pieces = [path for path in paths if path.layer == "CUT_OUTER" and not path.closed and len(path.points)]
    starts = np.array([path.points[0] for path in pieces]).reshape(-1, 2)
    following: dict[int, int] = {}
    for number, path in enumerate(pieces):
        gaps = np.hypot(*(starts - path.points[-1]).T)
        near = int(np.argmin(gaps))
        if gaps[near] <= reach:
            following[number] = near
    joined: dict[int, Path] = {}
    left = dict.fromkeys(range(len(pieces)))
    for first in range(len(pieces)):
        chain, at = [], first
        while at in left and at in following:
            del left[at]
            chain.append(at)
            at = following[at]
        if chain and at == first:
            found = [pieces[i] for i in chain]
            shortest = min(path.shortest for path in found)
            ring = Path("CUT_OUTER", np.vstack([p.points for p in found]), closed=True, shortest=shortest)
            joined |= {id(path): ring for path in found}
    made: dict[int, Path] = {}
    for path in paths:
        result = joined.get(id(path), path)
        made.setdefault(id(result), result)
    return list(made.values())


def _kerf(words: str | None) -> tuple[float, float] | None:
    """From the words of a file: `no, nominal`, `yes, k = 0.15 mm` or `yes, k = 0.1 mm in x, 0.2 mm in y`."""
    if words is None:
        return None
    if words.startswith("no"):
        return 0.0, 0.0
    numbers = [float(n) for n in re.findall(r"(\d+(?:\.\d+)?(?:e-?\d+)?) mm", words)]
    return (numbers[0], numbers[-1]) if words.startswith("yes") and numbers else None


def _path(entity: DXFGraphic) -> Path | None:
    kind, layer = entity.dxftype(), str(entity.dxf.layer)
    if kind == "LWPOLYLINE":
        closed = bool(entity.closed)  # type: ignore[attr-defined]
        corners = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]  # type: ignore[attr-defined]
        return _polyline(layer, np.array(corners, dtype=np.float64).reshape(-1, 3), closed)
    if kind == "LINE":
        return _polyline(layer, np.array([(*entity.dxf.start[:2], 0.0), (*entity.dxf.end[:2], 0.0)]), closed=False)
    if kind == "CIRCLE":
        x, y = entity.dxf.center[:2]
        r = entity.dxf.radius
        return _polyline(layer, np.array([(x - r, y, 1.0), (x + r, y, 1.0)]), closed=True)
    if kind == "ARC":
        return Path(layer, np.array([p[:2] for p in entity.flattening(_CHORD_MM)]), closed=False, shortest=math.inf)  # type: ignore[attr-defined]
    if kind == "POLYLINE" and entity.is_2d_polyline:  # type: ignore[attr-defined]
        rows = [(*v.dxf.location[:2], v.dxf.get("bulge", 0.0)) for v in entity.vertices]  # type: ignore[attr-defined]
        return _polyline(layer, np.array(rows, dtype=float).reshape(-1, 3), bool(entity.is_closed))  # type: ignore[attr-defined]
    return None


def _polyline(layer: str, rows: Points, closed: bool) -> Path:
    """From corners with bulges; arcs become chords no further from them than the tolerance."""
    corners = np.vstack([rows, rows[:1]]) if closed else rows
    steps = np.hypot(*np.diff(corners[:, :2], axis=0).T)
    shortest = float(steps.min()) if len(steps) else 0.0
    if not rows[:, 2].any():
        return Path(layer, rows[:, :2], closed, shortest)
    points: list[Points] = []
    for (x0, y0, bulge), (x1, y1, _) in itertools.pairwise(corners):
        chord = math.hypot(x1 - x0, y1 - y0)
        bow = bulge * chord / 2 if chord > ROUNDING_MM else 0.0
        points.append(np.array(arc_points((x0, y0), (x1, y1), bow, _CHORD_MM)[:-1]))
    if not closed:
        points.append(corners[-1:, :2])
    return Path(layer, np.vstack(points), closed, shortest)
