"""Profile files: one tile each, by its size and sides or by its outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon

from tilegen.errors import InputError, as_written, either
from tilegen.files.features import furnished_cell
from tilegen.files.grids import make_grid
from tilegen.files.outlines import Drawn, Rings, crossing, read_outline
from tilegen.files.tables import OpeningTable, ProfileFile
from tilegen.files.toml import check, read_toml
from tilegen.geometry import Point, chord_angle, turn_right, unit_vector
from tilegen.lengths import counted, show_number, show_spot
from tilegen.model.grid import Grid, Over
from tilegen.model.tables import Measures
from tilegen.tiles.openings import Ends, ends_of, make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import CORNERS, OPEN, SIDES, WALL, Cell, OutlineShape, Shape, Side, single_cell
from tilegen.tiles.tile import Tile, make_tile

OUTLINE = "[tile] outline"
MOST_SPACES = 40.0
MOST_CORNERS = 2000
_LEAST_MM = 0.01
_PLACE = "[tile] round"


@dataclass(frozen=True)
class Profile:
    """A profile file, read and checked but not made: its tables as they stand, and as a model."""

    path: Path
    tables: dict[str, Any]
    model: ProfileFile
    drawn: Drawn | None = None

    def changed(self, tables: dict[str, Any]) -> Profile:
        """The same with other tables.

        Raises:
            InputError: tables that are not a profile's.
        """
        return Profile(self.path, tables, check(tables, ProfileFile, str(self.path)), self.drawn)


def open_profile(path: Path, unit: str | None = None) -> Profile:
    """A profile file, read and checked, with the drawing that it names.

    unit: of a drawing that has none.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    return _checked(path, read_toml(path), unit)


def profile_grid(profile: Profile, over: Over = Over(), last: Measures | None = None) -> Grid:  # noqa: B008
    """The grid that a profile is made on; over: what goes over its own measures; last: tables that go over all others.

    Raises:
        InputError: measures that no tile can be made with.
    """
    return make_grid(profile.model, str(profile.path), over, last)


def profile_tile(profile: Profile, grid: Grid) -> Tile:
    """A profile made into a tile.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    try:
        return make_tile(profile.model.name, _shape(profile, grid), grid)
    except InputError as error:
        raise error.located(file=str(profile.path)) from None


def read_profile(path: Path, over: Over = Over()) -> Tile:  # noqa: B008 - it is frozen
    """A profile file, made into a tile.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    profile = open_profile(path)
    return profile_tile(profile, profile_grid(profile, over))


def profile_of(tables: dict[str, Any]) -> Tile:
    """A profile's tables, made into a tile; a drawing that they name is sought where the program runs.

    Raises:
        InputError: with the place in the tables and the cure.
    """
    profile = _checked(Path("the tile"), tables)
    return profile_tile(profile, profile_grid(profile))


def _checked(path: Path, tables: dict[str, Any], unit: str | None = None) -> Profile:
    model = check(tables, ProfileFile, str(path))
    file = model.tile.outline_file
    if file is None:
        if unit is not None:
            raise InputError(
                "the profile names no drawing that could have a unit",
                cure="Leave out --unit, or add outline_file to [tile]",
                file=str(path),
                place="--unit",
            )
        return Profile(path, tables, model)
    return Profile(path, tables, model, read_outline(path.parent / file, unit))


def _shape(profile: Profile, grid: Grid) -> Shape:
    tile = profile.model.tile
    given = [key for key in ("size", "outline", "outline_file") if getattr(tile, key) is not None]
    if len(given) != 1:
        wrong = f"{' and '.join(given)} can't go together" if given else "the tile has neither a size nor an outline"
        raise InputError(wrong, cure="Give one of size, outline and outline_file", place="[tile]")
    if tile.size is not None:
        return _sized(profile.model, grid)
    if profile.drawn is not None:
        return _outlined(profile.model, profile.drawn.rings, grid)
    rings = [_scaled(ring, grid) for ring in (tile.outline or [], *tile.holes)]
    return _outlined(profile.model, Rings(rings[0], tuple(rings[1:])), grid)


def _scaled(ring: Sequence[Point], grid: Grid) -> tuple[Point, ...]:
    """A ring's points from spaces to mm, a repeated first point left out."""
    points = tuple((x * grid.pitch, y * grid.pitch) for x, y in ring)
    return points[:-1] if len(points) > 1 and points[0] == points[-1] else points


def _sized(model: ProfileFile, grid: Grid) -> Shape:
    width, depth = model.tile.size or (0.0, 0.0)
    for spaces in (width, depth):
        if not 0.5 <= spaces <= MOST_SPACES:
            raise InputError(
                f"a side can't be {spaces:g} spaces long", cure=f"Use 0.5 to {MOST_SPACES:g}", place="[tile] size"
            )
        if spaces * grid.pitch <= 2 * grid.wall_thickness:
            raise InputError(
                f"a side {spaces:g} spaces long has no room between two walls {grid.wall_thickness:g} mm thick",
                cure=f"Use more than {2 * grid.wall_thickness / grid.pitch:.4g} spaces, or thinner walls",
                place="[tile] size",
            )
    sides = [OPEN] * 4
    for wall in model.tile.walls:
        if not isinstance(wall, str):
            raise InputError(
                f"walls have numbers, such as {wall}, only on a tile with an outline",
                cure=f"Use {either(SIDES)}",
                place="[tile] walls",
            )
        sides[SIDES.index(wall)] = WALL
    lengths = [width * grid.pitch, depth * grid.pitch] * 2
    for number, opening in enumerate(model.opening, 1):
        place = f"[[opening]] {number}"
        side = SIDES.index(opening.wall) if isinstance(opening.wall, str) else -1
        if side < 0 or sides[side] == OPEN:
            raise _no_wall(opening.wall, [name for name, s in zip(SIDES, sides, strict=True) if s != OPEN], place)
        if sides[side].opening is not None:
            raise InputError(
                f"the {opening.wall} wall has an opening already", cure="Use one opening per wall", place=place
            )
        # Written from the west or north end; kept clockwise, which for south and west is from the other end.
        ends = ends_of(Cell(tuple(sides)), side, grid)  # type: ignore[arg-type]
        made = _opening(opening, lengths[side], grid, place, backwards=side in (2, 3), ends=ends)
        sides[side] = Side("doorway", made)
    posts = tuple(
        corner in model.tile.posts and not (sides[k].carries or sides[(k + 1) % 4].carries)
        for k, corner in enumerate(CORNERS)
    )
    cell = furnished_cell(Cell(tuple(sides), posts), (width, depth), grid, model.feature)  # type: ignore[arg-type]
    return single_cell(cell, (width, depth))


def _opening(table: OpeningTable, length: float, grid: Grid, place: str, *, backwards: bool, ends: Ends) -> Opening:
    centre = None if table.at is None else table.at * grid.pitch
    if centre is not None and backwards:
        centre = length - centre
    try:
        return make_opening(
            length,
            grid,
            width=table.width,
            height=table.height,
            head=table.head,
            centre=centre,
            ends=ends,
            leaf=table.leaf or grid.door.leaf,
            style=table.style,
        )
    except InputError as error:
        raise error.located(place=place) from None


def _outlined(model: ProfileFile, rings: Rings, grid: Grid) -> Shape:
    points = rings.points
    if model.tile.posts:
        raise InputError("a tile with an outline can't have posts", cure="Remove posts", place="[tile] posts")
    if model.feature:
        raise InputError(
            "a tile with an outline can't have features",
            cure="Give the tile a size, or remove its features",
            place="[[feature]] 1",
        )
    walls = walled_edges(model.tile.walls, len(points))
    check_outline(points, grid)
    if model.tile.round is not None:
        return _rounded(model, rings, walls, grid)
    check_holes(points, rings.holes)
    openings = tuple(
        _edge_opening(table, points, walls, grid, f"[[opening]] {n}") for n, table in enumerate(model.opening, 1)
    )
    return OutlineShape(points, tuple(walls), openings, rings.holes)


def _rounded(model: ProfileFile, rings: Rings, walls: list[int], grid: Grid) -> Shape:
    """An outline with rounded corners; walls and openings are by the edges before, openings in their straight parts."""
    if model.tile.outline_file is not None:
        raise InputError(
            "the corners of a drawing can't be rounded here", cure="Round them in the drawing", place="[tile] round"
        )
    made = rounded(rings.points, radii_of(model.tile.round or 0.0, len(rings.points)))
    standing = [fine for fine, number in enumerate(made.numbers, 1) if number in walls]
    check_outline(made.points, grid)
    check_holes(made.points, rings.holes)
    openings = []
    for n, table in enumerate(model.opening, 1):
        place = f"[[opening]] {n}"
        fine, arc = made.straights[table.wall - 1] if table.wall in walls and isinstance(table.wall, int) else (0, 0.0)
        if not fine and table.wall in walls:
            raise InputError(
                f"rounded corners take up all of edge {table.wall}: there is no straight part for an opening",
                cure="Use another edge, or a smaller radius",
                place=place,
            )
        if not fine:
            raise _no_wall(table.wall, walls, place)
        at = None if table.at is None else table.at - arc / grid.pitch
        moved = table.model_copy(update={"wall": fine, "at": at})
        openings.append(_edge_opening(moved, made.points, standing, grid, place))
    return OutlineShape(made.points, tuple(standing), tuple(openings), rings.holes, made.numbers)


def _edge_opening(
    table: OpeningTable, points: tuple[Point, ...], walls: list[int], grid: Grid, place: str
) -> tuple[int, Opening]:
    edge = table.wall
    if isinstance(edge, str) or edge not in walls:
        raise _no_wall(edge, walls, place)
    length = math.dist(points[edge - 1], points[edge % len(points)])
    # An outline's corners may carry walls at any angle: a wall's thickness is kept free at both ends.
    ends = (grid.wall_thickness, grid.wall_thickness)
    return edge, _opening(table, length, grid, place, backwards=False, ends=ends)


def _no_wall(wall: str | int, walls: Sequence[str | int], place: str) -> InputError:
    """An opening where no wall is."""
    name = f"edge {wall}" if isinstance(wall, int) else f"the {wall} side"
    other = f"Use wall = {either([*map(as_written, walls)])}, or add" if walls else "Add"
    cure = f"{other} {as_written(wall)} to walls"
    return InputError(f"there is no wall on {name} for an opening", cure=cure, place=place)


def check_outline(points: tuple[Point, ...], grid: Grid) -> None:
    """Refuse an outline that no tile can be cut along.

    points: corners in mm.

    Raises:
        InputError: with the coordinates of the fault.
    """
    _check_corners(points)
    outline = Polygon(points)
    if not outline.is_valid:
        raise InputError(
            f"the outline crosses or touches itself at {crossing(outline)}",
            cure="Check the order of the corners",
            place=OUTLINE,
        )
    west, south, east, north = outline.bounds
    if max(east - west, north - south) > MOST_SPACES * grid.pitch:
        raise InputError(
            f"the outline is {east - west:.0f} x {north - south:.0f} mm, and the most is {MOST_SPACES:g} spaces "
            f"({MOST_SPACES * grid.pitch:g} mm) across",
            cure=f"Points are in spaces, not in mm: divide mm by {grid.pitch:g}",
            place=OUTLINE,
        )
    if outline.area < 1.0:
        raise InputError(
            f"the outline at {show_spot(*points[0])} has hardly any area",
            cure="Move the corners further apart",
            place=OUTLINE,
        )


def _check_corners(points: tuple[Point, ...]) -> None:
    """How many there are, and that each is apart from the next."""
    if not 3 <= len(points) <= MOST_CORNERS:
        raise _wrong_number(points, "outline", OUTLINE)
    for number, (here, following) in enumerate(zip(points, points[1:] + points[:1], strict=True), 1):
        apart = math.dist(here, following)
        if apart < _LEAST_MM:
            raise InputError(
                f"corners {number} and {number % len(points) + 1} are at the same place, {show_spot(*here)}",
                cure="Remove one of them",
                place=OUTLINE,
            )


def check_holes(points: tuple[Point, ...], holes: tuple[tuple[Point, ...], ...]) -> None:
    """Refuse holes that are none.

    Raises:
        InputError: with the coordinates of the fault.
    """
    outer = Polygon(points)
    for number, hole in enumerate(holes, 1):
        _check_hole(hole, outer, f"[tile] holes {number}")
    whole = Polygon(points, holes)
    if holes and not whole.is_valid:
        raise InputError(
            f"a hole touches the outline or another hole at {crossing(whole)}",
            cure="Leave some floor between them",
            place="[tile] holes",
        )


def _check_hole(hole: tuple[Point, ...], outer: Polygon, place: str) -> None:
    """One hole by itself: a simple ring inside the outline."""
    if not 3 <= len(hole) <= MOST_CORNERS:
        raise _wrong_number(hole, "hole", place)
    ring = Polygon(hole)
    if not ring.is_valid or ring.area == 0:
        raise InputError(
            f"the hole that begins at {show_spot(*hole[0])} crosses or touches itself, or has no area",
            cure="Check the order of its corners",
            place=place,
        )
    outside = ring.difference(outer)
    if not outside.is_empty:
        raise InputError(
            f"the hole lies outside of the outline at {show_spot(*outside.representative_point().coords[0])}",
            cure="Move it inside, or draw the outline round it",
            place=place,
        )


def _wrong_number(points: Sequence[Point], what: str, place: str) -> InputError:
    where = f" that begins at {show_spot(*points[0])}" if points else ""
    wrong = f"the {what}{where} has {counted(len(points), 'corner')}"
    return InputError(wrong, cure=f"Use 3 to {MOST_CORNERS}", place=place)


def walled_edges(walls: Sequence[int | str], edges: int) -> list[int]:
    """Numbers of the edges with a wall, from numbers and runs such as "3-7".

    Raises:
        InputError: an edge that is not there, or the side of a square tile.
    """
    found: set[int] = set()
    for wall in walls:
        first, dash, last = str(wall).partition("-")
        ends = (first, last if dash else first)
        numbers = [int(end) if end.isdecimal() and len(end) < 6 else 0 for end in ends]
        if not 1 <= numbers[0] <= numbers[1] <= edges:
            wrong = f"there is no edge {wall}" if str(wall)[:1].isdecimal() else f'"{wall}" is no edge of an outline'
            raise InputError(wrong, cure=f"Use numbers from 1 to {edges}", place="[tile] walls")
        found.update(range(numbers[0], numbers[1] + 1))
    return sorted(found)


@dataclass(frozen=True)
class Rounded:
    """points: corners in mm, from the middle of the arc at corner 1; numbers: for each new edge that of the given one.

    straights: for each given edge, from 1, the number of its straight part (0: arcs take all of it) and the length in
    mm that the arc at its first point takes.
    """

    points: tuple[Point, ...]
    numbers: tuple[int, ...]
    straights: tuple[tuple[int, float], ...]


def radii_of(given: float | Sequence[tuple[int, float]], corners: int) -> list[float]:
    """The radius of each corner in mm, from one for all or from (corner number, radius) pairs; 0 keeps it sharp.

    Raises:
        InputError: a corner that is not there or comes twice, a radius under 0.
    """
    pairs = list(given) if isinstance(given, Sequence) else [(n, given) for n in range(1, corners + 1)]
    radii: dict[int, float] = {}
    for corner, radius in pairs:
        if not 1 <= corner <= corners or corner in radii:
            wrong = f"corner {corner} is given twice" if corner in radii else f"there is no corner {corner}"
            raise InputError(wrong, cure=f"Give each of the corners 1 to {corners} at most once", place=_PLACE)
        if radius < 0:
            raise InputError(f"the radius at corner {corner} is {radius:g} mm", cure="Use 0 mm or more", place=_PLACE)
        radii[corner] = radius
    return [radii.get(n, 0.0) for n in range(1, corners + 1)]


def rounded(points: Sequence[Point], radii: Sequence[float]) -> Rounded:
    """A simple outline with its corners rounded, convex and concave ones; half of each arc goes to either edge.

    An arc touches both edges r tan(turn / 2) from the corner and is cut into an even number of equal chords whose ends
    lie on it, no further from it than CHORD_ERROR_MM.

    Raises:
        InputError: arcs that do not fit on an edge; with its corners.
    """
    count = len(points)
    turns = [-turn_right(points[n - 1], points[n], points[(n + 1) % count]) for n in range(count)]
    taken = [r * math.tan(abs(turn) / 2) for r, turn in zip(radii, turns, strict=True)]
    _check_room(points, taken)
    arcs = [_arc(points[n - 1], points[n], radii[n], turns[n], taken[n]) for n in range(count)]
    made: list[Point] = []
    numbers: list[int] = []
    straights: list[tuple[int, float]] = []
    for n in range(count):
        here, there = arcs[n], arcs[(n + 1) % count]
        after, before = here[len(here) // 2 :], there[: len(there) // 2 + 1]
        touching = math.dist(after[-1], before[0]) < _LEAST_MM
        straights.append((0 if touching else len(made) + len(after), taken[n]))
        line = after[:-1] + before if touching else after + before
        made += line[:-1]
        numbers += [n + 1] * (len(line) - 1)
    return Rounded(tuple(made), tuple(numbers), tuple(straights))


def _check_room(points: Sequence[Point], taken: Sequence[float]) -> None:
    """Refuse arcs that meet on an edge. taken: what the arc at each corner takes of either edge, mm."""
    count = len(points)
    for n in range(count):
        first, second = points[n], points[(n + 1) % count]
        needed, length = taken[n] + taken[(n + 1) % count], math.dist(first, second)
        if needed > length + 1e-9:
            raise InputError(
                f"edge {n + 1} is {show_number(length)} mm long, but its two rounded corners take "
                f"{show_number(needed)} mm",
                cure="Use a smaller radius at one or both of them",
                place=_PLACE,
            )


def _arc(before: Point, corner: Point, radius: float, turn: float, taken: float) -> list[Point]:
    """The points of the arc at a corner, an odd number; the corner alone where it stays sharp."""
    if taken < _LEAST_MM:
        return [corner]
    ux, uy = unit_vector(before, corner)
    half = max(1, math.ceil(abs(turn) / chord_angle(radius) / 2 - 1e-9))
    left = math.copysign(radius, turn)
    x, y = corner[0] - ux * taken, corner[1] - uy * taken
    angles = [turn * k / (2 * half) for k in range(2 * half + 1)]
    # From the touching point: radius times (sin along the edge, 1 - cos across it).
    along = [(radius * math.sin(abs(angle)), left * (1 - math.cos(angle))) for angle in angles]
    return [(x + ux * s - uy * c, y + uy * s + ux * c) for s, c in along]
