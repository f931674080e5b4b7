"""Profile files: one tile each, by its size and sides or by its outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tilegen.errors import InputError, nearest
from tilegen.geometry import Point
from tilegen.grid import Grid, Over
from tilegen.model.tables import Measures
from tilegen.reading.features import furnished_cell
from tilegen.reading.files import check, read_toml
from tilegen.reading.grids import make_grid
from tilegen.reading.models import OpeningTable, ProfileFile
from tilegen.reading.outline_checks import MOST_SPACES, check_holes, check_outline, walled_edges
from tilegen.reading.outlines import Drawn, read_outline
from tilegen.reading.rings import Rings
from tilegen.reading.rounding import radii_of, rounded
from tilegen.tiles.openings import Ends, ends_of, make_opening
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import CORNERS, OPEN, SIDES, WALL, Cell, OutlineShape, Shape, Side, single_cell
from tilegen.tiles.tile import Tile, make_tile


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

    unit: of a drawing that says none.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    return _checked(path, read_toml(path), unit)


def _checked(path: Path, tables: dict[str, Any], unit: str | None = None) -> Profile:
    model = check(tables, ProfileFile, str(path))
    file = model.tile.outline_file
    if file is None:
        if unit is not None:
            raise InputError("a unit and no drawing", expected="outline_file in the profile", place="--unit")
        return Profile(path, tables, model)
    return Profile(path, tables, model, read_outline(path.parent / file, unit))


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


def _shape(profile: Profile, grid: Grid) -> Shape:
    tile = profile.model.tile
    given = [key for key in ("size", "outline", "outline_file") if getattr(tile, key) is not None]
    if len(given) != 1:
        found = " and ".join(given) or "neither size nor outline"
        raise InputError(found, expected="one of size, outline and outline_file", place="[tile]")
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
            raise InputError(f"a size of {spaces:g} spaces", expected=f"0.5 to {MOST_SPACES:g}", place="[tile] size")
        if spaces * grid.pitch <= 2 * grid.wall_thickness:
            raise InputError(f"a size of {spaces:g} spaces", expected="room between two walls", place="[tile] size")
    sides = [OPEN] * 4
    for wall in model.tile.walls:
        if not isinstance(wall, str):
            raise InputError(f"the wall {wall}", expected="north, east, south or west", place="[tile] walls")
        sides[SIDES.index(wall)] = WALL
    lengths = [width * grid.pitch, depth * grid.pitch] * 2
    for number, opening in enumerate(model.opening, 1):
        place = f"[[opening]] {number}"
        side = SIDES.index(opening.wall) if isinstance(opening.wall, str) else -1
        if side < 0 or sides[side] == OPEN:
            raise InputError(f"an opening in {opening.wall}", expected="one of the tile's walls", place=place)
        if sides[side].opening is not None:
            raise InputError(f"a second opening in {opening.wall}", expected="one for each wall", place=place)
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
        raise InputError("posts", expected="none on a tile with an outline", place="[tile] posts")
    if model.feature:
        raise InputError("features", expected="none on a tile with an outline", cure="use size", place="[[feature]] 1")
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
        raise InputError("round beside a drawing", expected="round corners in the drawing", place="[tile] round")
    made = rounded(rings.points, radii_of(model.tile.round or 0.0, len(rings.points)))
    standing = [fine for fine, number in enumerate(made.numbers, 1) if number in walls]
    check_outline(made.points, grid)
    check_holes(made.points, rings.holes)
    openings = []
    for n, table in enumerate(model.opening, 1):
        place = f"[[opening]] {n}"
        fine, arc = made.straights[table.wall - 1] if table.wall in walls and isinstance(table.wall, int) else (0, 0.0)
        if not fine:
            raise InputError(
                f"an opening in {table.wall}", expected="an edge with a wall that is not all arc", place=place
            )
        at = None if table.at is None else table.at - arc / grid.pitch
        moved = table.model_copy(update={"wall": fine, "at": at})
        openings.append(_edge_opening(moved, made.points, standing, grid, place))
    return OutlineShape(made.points, tuple(standing), tuple(openings), rings.holes, made.numbers)


def _edge_opening(
    table: OpeningTable, points: tuple[Point, ...], walls: list[int], grid: Grid, place: str
) -> tuple[int, Opening]:
    edge = table.wall
    if isinstance(edge, str) or edge not in walls:
        known = [str(wall) for wall in walls]
        raise InputError(
            f"an opening in {edge}",
            expected="one of the edges with a wall",
            cure=nearest(str(edge), known),
            place=place,
        )
    length = math.dist(points[edge - 1], points[edge % len(points)])
    # An outline's corners may carry walls at any angle: a wall's thickness is kept free at both ends.
    ends = (grid.wall_thickness, grid.wall_thickness)
    return edge, _opening(table, length, grid, place, backwards=False, ends=ends)
