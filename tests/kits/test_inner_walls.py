"""Walls inside rooms off the grid: their area against plain geometry, solids, fit, sight, and what is refused."""

import json
from itertools import cycle

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.calling import call
from tests.kits.test_shapes import CELL
from tests.unit.test_solids import check_stl
from tilegen.errors import InputError
from tilegen.files.plans import read_drawing
from tilegen.fit.figures import figures_on
from tilegen.model.grid import Grid
from tilegen.plans.drafting import draw
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.record import kit_json
from tilegen.plans.shapes import Arc, Circle, DrawnShape
from tilegen.plans.sight import in_sight
from tilegen.plans.ways import ExtraWall, Way
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes

WALL, PLAY = 6.35, 0.3


def room(shape, walls=(), *, scale="10 ft", ways=(), play=PLAY, size=8):
    return draw(
        name="t",
        scale=scale,
        grid=Grid(joint_play=play),
        rooms=read_drawing("\n".join(["." * size] * size)),
        titles={},
        shapes=[DrawnShape("A", shape, "[[shape]] 1")],
        walls=[ExtraWall((c, r), side) for c, r, side in walls],
        ways=ways,
    )


def standing(kit):
    return sum(kind.count * sum(p.foot.area for p in kind.tile.plates if p.edge is not None) for kind in kit.types)


def band(column, row, side, cell):
    """What a wall covers on the table: its thickness on either side of its line, y down."""
    line = shapely.LineString(
        [(column - 1, row), (column, row)] if side == "south" else [(column, row - 1), (column, row)]
    )
    return shapely.transform(line, lambda p: p * cell).buffer(WALL, cap_style="flat")


CASES = {
    "beside an odd tile": (3.5, [(1, 4, "east")], []),
    "inside a tile that took a sliver": (3.2, [(1, 4, "east")], []),
    "a corner, with its post": (3.5, [(1, 4, "east"), (2, 3, "south")], [(CELL, 3 * CELL, -1, -1)]),
    "across the whole room": (3.5, [(4, r, "east") for r in range(2, 8)], []),
}


@pytest.mark.parametrize(("case", "scale"), [*zip(CASES, cycle(["10 ft", "5 ft"]), strict=False)])
def test_walls_cover_their_bands_and_every_tile_is_a_closed_solid(case, scale):
    """All that stands = the tiles' feet within a wall's thickness of the outline and of the lines, to a millionth."""
    radius, walls, posts = CASES[case]
    cell = CELL if scale == "10 ft" else CELL / 2
    drawing = room(Circle((4, 4), radius), walls, scale=scale)
    kit = make_kit(drawing)
    table = shapely.transform(drawing.off_grid.regions[ord("A")], lambda p: p * (1.0, -1.0))
    squares = []
    for x, y, dx, dy in posts:
        x, y = x / CELL * cell, y / CELL * cell  # noqa: PLW2901
        squares.append(box(min(x, x + dx * WALL), min(y, y + dy * WALL), max(x, x + dx * WALL), max(y, y + dy * WALL)))
    walled = shapely.union_all([table.boundary.buffer(WALL), *squares, *(band(*wall, cell) for wall in walls)])
    feet = [turn.geometry(kind.tile.base.foot) for kind, turn in placed(kit, drawing)]
    wanted = sum(foot.intersection(walled).area for foot in feet)
    assert standing(kit) == pytest.approx(wanted, rel=1e-6)
    assert standing(kit) > standing(make_kit(room(Circle((4, 4), radius), scale=scale))) + 100
    nominal = sum(foot.buffer(PLAY / 2, join_style="mitre").area for foot in feet)
    assert nominal == pytest.approx(table.area, rel=1e-5)
    for kind in kit.types:
        mesh = build_mesh("t", kind.tile.plates)
        assert mesh.volume == pytest.approx(kind.tile.volume, rel=1e-6)
        check_stl(stl_bytes(mesh), kind.tile)
    record = json.loads("".join(kit_json(kit)))
    assert sum(len(tile["places"]) for tile in record["tiles"]) == record["totals"]["tiles"] == kit.tiles


def test_one_wall_adds_two_strips_less_the_seams():
    shape = Circle((4, 4), 3.5)
    more = standing(make_kit(room(shape, [(1, 4, "east")]))) - standing(make_kit(room(shape)))
    assert more == pytest.approx(2 * (CELL - PLAY) * (WALL - PLAY / 2), rel=1e-5)


def test_a_doorway_in_it_is_open_on_both_sides():
    shape, wall = Circle((4, 4), 3.5), (1, 4, "east")
    kits = [
        make_kit(room(shape, [wall], ways=ways)) for ways in ((), [Way((1, 4), "east", "doorway", place="[[way]] 1")])
    ]
    holes = [sum(k.count * sum(len(p.openings) for p in k.tile.plates) for k in kit.types) for kit in kits]
    assert holes == [0, 2]
    with pytest.raises(InputError, match="a saddle can't stand inside room"):
        make_kit(room(shape, [wall], ways=[Way((1, 4), "east", "saddle", place="[[way]] 1")]))


def test_a_doorway_in_it_is_where_it_is_written():
    way = Way((1, 4), "east", "doorway", at=0.9, width=20.0, place="[[way]] 1")
    drawing = room(Circle((4, 4), 3.5), [(1, 4, "east")], ways=[way])
    middles = [
        turn.geometry(plate.opening_foot(opening)).centroid
        for kind, turn in placed(make_kit(drawing), drawing)
        for plate in kind.tile.plates
        for opening in plate.openings
    ]
    assert len(middles) == 2
    for middle, across in zip(sorted(middles, key=lambda m: m.x), (-1, 1), strict=True):
        assert middle.y == pytest.approx(3 * CELL + 0.9 * 31.75, abs=0.01)
        assert middle.x == pytest.approx(CELL + across * (WALL + PLAY / 2) / 2, abs=0.01)


def test_fit_and_sight_see_it():
    shape = Circle((4, 4), 3.5)
    bare, walled = room(shape), room(shape, [(1, 4, "east")])
    (before,), (after,) = figures_on(bare, [28.0]), figures_on(walled, [28.0])
    blocked = set(map(tuple, np.array(after.blocked).tolist())) - set(map(tuple, np.array(before.blocked).tolist()))
    # Both spaces of the whole cell beside it: 31.75 mm less a wall leaves 25.4 mm.
    assert {(3, 7), (3, 8)} <= blocked
    divided = room(shape, [(4, r, "east") for r in range(2, 8)])
    assert in_sight(bare, make_kit(bare)).tiles == make_kit(bare).tiles
    assert in_sight(divided, make_kit(divided)).tiles < 0.8 * make_kit(divided).tiles


def test_a_line_between_cells_of_a_curved_hall_that_is_off_its_floor_is_no_wall():
    """Half a ring turns back over the line between its two middle cells, as in the shipped gull-light."""
    kit = make_kit(room(Arc((4, 4), 2.5, 1.0, 0.0, 180.0)))
    floor = sum(kind.count * kind.tile.base.foot.buffer(PLAY / 2, join_style="mitre").area for kind in kit.types)
    assert floor == pytest.approx(np.pi * 2.5 * CELL**2, rel=1e-4)


def test_a_wall_that_the_outline_crosses_is_refused_with_file_place_and_cure(tmp_path):
    path = tmp_path / "round.toml"
    path.write_text(
        'name = "Round"\nscale = "10 ft"\ndrawing = """\n......\n......\n......\n......\n......\n......\n"""\n'
        '[[shape]]\nroom = "A"\ncircle = { centre = [3, 3], radius = 2.6 }\n[[wall]]\ncell = [1, 2]\nside = "east"\n'
    )
    done = call("kit", path)
    assert done.returncode == 2
    for word in (
        "round.toml",
        'cell = [1, 2], side = "east"',
        "% of this wall lies on the floor of room",
        "Choose a line that lies on the floor",
    ):
        assert word in done.stderr


def test_a_line_that_the_outline_runs_along_in_part_is_no_inner_wall(tmp_path):
    path = tmp_path / "slit.toml"
    path.write_text(
        'name = "Slit"\nscale = "10 ft"\ndrawing = """\n....\n....\n....\n"""\n[[shape]]\nroom = "A"\n'
        "polygon = [[0, 0], [1.5, 0], [1.5, 1], [1, 1], [1, 1.1], [2, 1.1], [2, 2], [0, 2]]\n"
    )
    done = call("kit", path)
    assert done.returncode == 0, done.stderr
