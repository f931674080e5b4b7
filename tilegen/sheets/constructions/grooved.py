"""Grooved stock: walls that follow each other round a tile's corners, cut as one strip and folded in V-grooves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM, Segment, polygons_of, segments_of
from tilegen.lengths import show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.sheets.constructions.kind import LaidTile
from tilegen.sheets.constructions.stacked import Stacked
from tilegen.sheets.constructions.stacks import Stack
from tilegen.sheets.flat import Flat, FlatLayers, Pose, Remark, Word, at_origin, fitted_word, run_name, scores_on
from tilegen.sheets.footprints import end_shifts, kept_bevels
from tilegen.tiles.plate import Plate
from tilegen.tiles.walls import Joints

# Outer faces that follow each other share a corner to this many mm (odd outlines lie on a micrometre grid).
_SAME_CORNER_MM = 5e-3
_LEAST_TURN = math.radians(5)
# Sharper folds would leave the groove wider than a panel.
_MOST_TURN = math.radians(130)
_NOTE = (
    "How to fold walls: they are drawn as seen from inside the tile. A V and the angle of the fold stand between "
    "the two lines of each groove. Cut along both lines with the blade leaning towards the middle by half that angle, "
    "down to the far paper ({skin:g} mm, not through it). Lift the wedge out, run glue into the groove and fold until "
    "its sides meet. A half V at an end is bevelled in the same way and closes the ring. Grooves of 90 degrees are "
    "{width} wide on the face."
)


class Grooved(Stacked):
    """Bases of layers; walls of one layer, folded round corners; posts, loose pieces as on stacked stock."""

    word = "grooved"
    takes_skin = False

    @classmethod
    def stacks_of(cls, grid: Grid, material: MaterialFile) -> tuple[Stack, Stack]:
        """Bases as of stacked sheets, walls of one layer.

        Raises:
            InputError: the stock has no skin to fold on.
        """
        base, wall = super().stacks_of(grid, material)
        if not material.skin:
            raise InputError(
                f"{material.name} has no skin to fold on, so its walls can't be grooved",
                cure="Use --construction stacked, or stock with a skin, such as foam-core",
            )
        return base, replace(wall, layers=1)

    @property
    def joints(self) -> Joints:
        """Folds are mitres."""
        return Joints("mitre")

    def lay_straight(self, laid: LaidTile, standing: Sequence[Plate]) -> Iterator[FlatLayers]:
        """Walls as runs; posts as strips."""
        fold, sheet, skin = self.material.folding, self.sheet, self.material.skin
        for run in runs_of([plate for plate in standing if plate.role == "wall"], fold.longest):
            first, last = run.plates[0], run.plates[-1]
            if len(run.plates) == 1 and not run.closed:
                yield from self.strips(first)
                continue
            closing = turn_between(last, first) if run.closed else 0.0
            shifts = end_shifts(first)[0], end_shifts(last)[1]
            pieces = list(run_pieces(run, (closing, closing), sheet, skin, fold.hinge))
            for piece in pieces:
                yield piece.laid(sheet, shifts, beside=len(pieces) > 1)
        posts = [plate for plate in standing if plate.role != "wall"]
        yield from super().lay_straight(laid, posts)

    def joint_notes(self) -> Iterator[Message]:
        """How to fold."""
        skin = self.material.skin
        width = groove_width(self.sheet, skin * self.material.folding.hinge, math.pi / 2)
        yield Message("note", _NOTE.format(skin=skin, width=show_length(width)))


@dataclass(frozen=True)
class GroovedRun:
    """Walls in clockwise order, each starting where the one before ends. closed: the last one meets the first."""

    plates: tuple[Plate, ...]
    closed: bool

    @property
    def turns(self) -> tuple[float, ...]:
        """At the folds between the plates, in radians."""
        return tuple(turn_between(a, b) for a, b in zip(self.plates, self.plates[1:], strict=False))


def turn_between(a: Plate, b: Plate) -> float:
    """How far the second wall turns right from the first, in radians."""
    (ax, ay), (bx, by) = a.direction, b.direction
    return math.atan2(ay * bx - ax * by, ax * bx + ay * by)


def runs_of(walls: Sequence[Plate], longest: float) -> Iterator[GroovedRun]:
    """Walls linked where one's outer face ends in the next one's start and the tile's corner is convex.

    longest: a run is broken before it would grow longer than this, mm.
    """
    following = {i: j for i, a in enumerate(walls) for j, b in enumerate(walls) if i != j and _follows(a, b)}
    started = set(following.values())
    heads = [i for i in range(len(walls)) if i not in started]
    seen: set[int] = set()
    for head in (*heads, *range(len(walls))):
        if head in seen:
            continue
        chain, length = [head], walls[head].length
        seen.add(head)
        while (
            (nxt := following.get(chain[-1])) is not None and nxt not in seen and length + walls[nxt].length <= longest
        ):
            chain.append(nxt)
            seen.add(nxt)
            length += walls[nxt].length
        yield GroovedRun(tuple(walls[i] for i in chain), closed=following.get(chain[-1]) == head)


def _follows(a: Plate, b: Plate) -> bool:
    if a.edge is None or b.edge is None or math.dist(a.edge[1], b.edge[0]) > _SAME_CORNER_MM:
        return False
    return _LEAST_TURN < turn_between(a, b) < _MOST_TURN


@dataclass(frozen=True, slots=True)
class RunPiece:
    """A piece of a run that hangs together.

    folds: how far from its left end, with their turns. plates: those it is made of; along: where on the first one's
    outer face it starts. ends: whether it holds the run's start, and its end.
    """

    flat: Flat
    folds: tuple[tuple[float, float], ...]
    plates: tuple[Plate, ...]
    along: float
    ends: tuple[bool, bool]

    def laid(self, sheet: float, shifts: tuple[float, float], *, beside: bool) -> FlatLayers:
        """As it is cut. shifts: bevels of the run's two ends. beside: it stands beside an open-topped doorway.

        Its pose starts on the wall that it begins on.
        """
        first = self.plates[0]
        pose = Pose(first.at(self.along), first.direction, self.folds, kept_bevels(shifts, self.ends))
        remarks = (Remark("beside an open-topped doorway", "gluing"),) if beside else ()
        form = f"grooved run of {len(self.plates)} walls" if self.folds else ""
        name = run_name([plate.name for plate in self.plates])
        return FlatLayers("wall", name, self.flat, sheet, 1, remarks, form, pose)


@dataclass(frozen=True, slots=True)
class _Panel:
    """One wall of a run on the sheet: from `start` to `end`; shift: from its outer face's start to the sheet's x."""

    plate: Plate
    start: float
    end: float
    shift: float


def run_pieces(
    run: GroovedRun, bevels: tuple[float, float], thickness: float, skin: float, hinge: float
) -> Iterator[RunPiece]:
    """A run laid flat as seen from inside, in as many pieces as its open-topped doorways leave.

    bevels: turns that the run's two ends are bevelled for, in radians; 0 for a square end. hinge: how deep in the skin
    a fold's hinge lies, as a share of the skin. Bevelled ends meet where the skin ends, so they meet like sides of a
    groove whose hinge lies on the skin's inner face.
    """
    turns = [bevels[0], *run.turns, bevels[1]]
    depths = [skin, *(hinge * skin for _ in run.turns), skin]
    panels = list(_panels(run, [fold_loss(depth, turn) for depth, turn in zip(depths, turns, strict=True)]))
    stops = [panels[0].start, *(panel.end for panel in panels)]
    lines = [
        (at, turn, groove_width(thickness, depth, turn) / 2)
        for at, depth, turn in zip(stops, depths, turns, strict=True)
        if turn
    ]
    for part in polygons_of(shapely.union_all([_face(panel) for panel in panels])):
        west, _, east, _ = part.bounds
        mine = [panel for panel in panels if panel.start < east - EQUAL_MM and panel.end > west + EQUAL_MM]
        ends = west < stops[0] + EQUAL_MM, east > stops[-1] - EQUAL_MM
        here = [line for line in lines if west - EQUAL_MM < line[0] < east + EQUAL_MM]
        folds = tuple((at - west, turn) for at, turn, _ in here)
        along = 0.0 if ends[0] else west - mine[0].shift
        yield RunPiece(
            _grooved(part, here, _scores(mine, part)), folds, tuple(panel.plate for panel in mine), along, ends
        )


def _panels(run: GroovedRun, lost: Sequence[float]) -> Iterator[_Panel]:
    """The walls side by side; lost: by what the fold or the bevel at each of their ends shortens them, mm."""
    at = 0.0
    for plate, before, after in zip(run.plates, lost, lost[1:], strict=False):
        end = at + plate.length - (before + after)
        yield _Panel(plate, at, end, at - before)
        at = end


def _face(panel: _Panel) -> BaseGeometry:
    height = panel.plate.height
    face: BaseGeometry = box(panel.start, 0.0, panel.end, height)
    for opening in panel.plate.openings:
        top = height + 1 if panel.plate.is_open_topped(opening) else None
        face = face.difference(translate(opening.region(below=1.0, above=top), panel.shift))
    return face


def _scores(panels: Sequence[_Panel], part: Polygon) -> list[Segment]:
    """The lines on the inner faces of the walls of a piece."""
    return [
        ((a[0] + panel.shift, a[1]), (b[0] + panel.shift, b[1]))
        for panel in panels
        for a, b in scores_on(panel.plate, "inner", translate(part, -panel.shift))
    ]


def _grooved(part: Polygon, folds: Sequence[tuple[float, float, float]], scores: Sequence[Segment]) -> Flat:
    """A piece with the edges of its grooves; folds: where on the run, turn, half the groove's width."""
    west, low, east, high = part.bounds
    creases: list[Segment] = []
    words: list[Word] = []
    for at, turn, half in folds:
        for x in (at - half, at + half):
            if west + EQUAL_MM < x < east - EQUAL_MM:
                creases += segments_of(LineString(((x, low), (x, high))).intersection(part))
        groove = box(max(at - half, west), low, min(at + half, east), high).intersection(part)
        words += fitted_word(f"V{round(math.degrees(turn))}", groove)
    return at_origin(part, scores, (), creases, words, shown=True)


def fold_loss(depth: float, turn: float) -> float:
    """By what a fold shortens the panels on both its sides, mm: d tan(turn / 2) (derived).

    depth: of the hinge under the outer face, mm; turn: of the fold, in radians. The outer faces move out by d.

    >>> round(fold_loss(0.15, math.pi / 2), 3), round(fold_loss(0.15, math.pi / 3), 3)
    (0.15, 0.087)
    """
    return depth * math.tan(turn / 2)


def groove_width(thickness: float, depth: float, turn: float) -> float:
    """Of a V-groove on the face that is cut, mm: 2 (t - d) tan(turn / 2); turn: of the fold, in radians.

    depth: of the hinge under the outer face, mm. Derived: turned about the hinge, the groove's sides just meet.

    >>> round(groove_width(5, 0.3, math.pi / 2), 2), round(groove_width(5, 0.3, math.pi / 3), 2)
    (9.4, 5.43)
    """
    return 2 * (thickness - depth) * math.tan(turn / 2)
