"""Ways: written by a cell's side or by a room and a point, they open every wall that stands there, equally wide."""

import io
import json
import math
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from tests.plans import plan
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.toml import find
from tilegen.fit.figures import figures_on
from tilegen.fit.floor import way_widths
from tilegen.fit.placements import placements_on
from tilegen.plans.kit import make_kit
from tilegen.plans.record import kit_json
from tilegen.plans.route import make_route
from tilegen.plans.sight import visible_from
from tilegen.plans.to_decide import plan_messages
from tilegen.plans.ways import LINES, WAYS
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes

CASES = Path(__file__).parents[1] / "data" / "ways"


def plan_text(rows, *tables, scale="10 ft"):
    return f'name = "t"\nscale = "{scale}"\ndrawing = """\n' + "\n".join(rows) + '\n"""\n' + "\n".join(tables)


def written(tmp_path, *args, **more):
    path = tmp_path / "t.toml"
    path.write_text(plan_text(*args, **more))
    return read_plan(path)


def dungeon(kit):
    """All tiles as written, laid by the kit's own numbers: (tile, mesh); x to the east, y to the north."""
    record, found = json.loads("".join(kit_json(kit))), []
    for kind, tile in zip(kit.types, record["tiles"], strict=True):
        stl = trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", kind.tile.plates))), file_type="stl")
        for place in tile["places"]:
            mesh = stl.copy()
            x, y, z = mesh.vertices.T
            for _ in range(place["quarter_turns"]):
                x, y = y, -x
            # The least corner of the box goes to the west, its largest y to the north.
            x, y = x - x.min() + place["west_mm"], y - y.max() - place["north_mm"]
            mesh.vertices = np.column_stack([x, y, z])
            found.append((kind.tile, mesh))
    return found


def level(mesh, height):
    """The solid's cross section at a height."""
    lines = shapely.multilinestrings(list(trimesh.intersections.mesh_plane(mesh, [0, 0, 1], [0, 0, height])[:, :, :2]))
    rings = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(shapely.set_precision(lines, 1e-4)))))
    section = shapely.Polygon()
    for ring in rings:
        section = section.symmetric_difference(shapely.Polygon(ring.exterior))
    return section


def doorways(drawing):
    """Every way of a plan: the middle of its wall, the unit step through it, and its width; map coordinates."""
    side = drawing.cell_side
    for array, lines, widths in zip(
        ("across", "down"), (drawing.across, drawing.down), way_widths(drawing), strict=True
    ):
        for row, column in np.argwhere(lines > 1).tolist():
            kind = drawing.kinds[lines[row, column]]
            if kind.name == "doorway" and not _stands_in(drawing, array, row, column):
                centre = kind.opening.centre
                spot = (
                    (column * side + centre, -row * side)
                    if array == "across"
                    else (column * side, -row * side - centre)
                )
                opening = replace(kind.opening, width=min(kind.opening.width, widths[row, column]))
                yield spot, (0, 1) if array == "across" else (1, 0), opening
    for way in drawing.wall_ways:
        region = drawing.off_grid.regions.get(ord(way.room))
        if region is None:
            cells = np.argwhere(drawing.rooms == ord(way.room)).tolist()
            region = shapely.union_all(
                [shapely.box(c * side, -(r + 1) * side, (c + 1) * side, -r * side) for r, c in cells]
            )
        inside = region.intersection(shapely.Point(way.spot).buffer(side / 50)).centroid
        dx, dy = way.spot[0] - inside.x, way.spot[1] - inside.y
        yield way.spot, (dx / math.hypot(dx, dy), dy / math.hypot(dx, dy)), way.opening


def _stands_in(drawing, array, row, column):
    """Whether the line only stands for a way at a point where cells alone are looked at."""
    places = {way.place for way in drawing.wall_ways}
    for way in drawing.ways:
        c, r = way.cell
        line = {"north": ("across", r - 1, c - 1), "south": ("across", r, c - 1)}.get(way.side) or (
            ("down", r - 1, c - 1) if way.side == "west" else ("down", r - 1, c)
        )
        if line == (array, row, column) and way.place in places:
            return True
    return False


def blocked(drawing, kit):
    """The ways through which a ray at their mid-height meets a solid in the walls on either side."""
    solid = trimesh.util.concatenate([mesh for _, mesh in dungeon(kit)])
    wall, floor = drawing.grid.wall_thickness, drawing.grid.base_depth
    found = []
    for (x, y), (dx, dy), opening in doorways(drawing):
        cut = trimesh.intersections.mesh_plane(solid, [0, 0, 1], [0, 0, floor + opening.height / 2])
        faces = shapely.multilinestrings(list(cut[:, :, :2]))
        for share in (-0.3, 0.0, 0.3):
            a, b = x - dy * share * opening.width, y + dx * share * opening.width
            ray = shapely.LineString([(a + dx * far, b + dy * far) for far in (-1.2 * wall, 1.2 * wall)])
            if ray.intersects(faces):
                found.append((round(x, 2), round(y, 2), share))
    return found


def test_no_wall_stands_in_a_way():
    for case in sorted(CASES.glob("*.toml")):
        drawing = read_plan(case)
        kit = make_kit(drawing)
        assert list(doorways(drawing))
        assert blocked(drawing, kit) == []


# --- one width, either way of writing ---


def openings_of(drawing):
    return sorted((round(o.width, 3), tuple(round(v, 2) for v in spot)) for spot, _, o in doorways(drawing))


def test_a_way_on_a_line_is_the_same_by_its_cell_and_by_a_point(tmp_path):
    for kind in ["open", "doorway", "saddle"]:
        for scale in ["10 ft", "5 ft"]:
            rows, side = ["AAB", "AAB", ".CC"], f'kind = "{kind}"'
            made = []
            for where in (
                'cell = [2, 2]\nside = "east"',
                'cell = [3, 2]\nside = "west"',
                'room = "A"\nat = [2, 1.5]',
                'room = "B"\nat = [2.1, 1.5]',
            ):
                made.append(written(tmp_path, rows, f"[[way]]\n{where}\n{side}", scale=scale))
            assert len({drawing.down.tobytes() + drawing.across.tobytes() for drawing in made}) == 1
            assert (
                len({"".join(kit_json(make_kit(drawing))).replace('"side": "west"', "") for drawing in made[:1]}) == 1
            )


def test_a_leaf_hangs_in_a_way_by_a_point_too(tmp_path):
    way = '[[way]]\nroom = "A"\nat = [2, 0.5]\nkind = "doorway"\nleaf = "sliding"'
    kit = make_kit(written(tmp_path, ["AAB"], way))
    assert [(p.piece.kind, p.count) for p in kit.pieces] == [("leaf", 1)]


ROUND_ROOM = ["AAA...", "AAA...", "AAA..."], '[[shape]]\nroom = "T"\ncircle = {centre = [4.5, 1.5], radius = 1.5}'
AT_ROUND = '[[way]]\nroom = "T"\nat = [3, 1.5]\nkind = "doorway"\nleaf = "{}"'
OF_CELLS = ["AAAB", "AAAB", "AAAB"], '[[way]]\ncell = [3, 2]\nside = "east"\nkind = "doorway"\nleaf = "{}"'


@pytest.mark.parametrize("leaf", ["sliding", "hinged"])
def test_a_leaf_hangs_in_the_straight_wall_beside_a_round_room(tmp_path, leaf):
    rows, circle = ROUND_ROOM
    drawing = written(tmp_path, rows, circle, AT_ROUND.format(leaf))
    kit, ((way,), (piece,)) = make_kit(drawing), (drawing.wall_ways, make_kit(drawing).pieces)
    assert list(way.hung) == ["A"]
    assert [(place.cell, place.side) for place in piece.places] == [((3, 2), "east")]
    # Its tile is what it is between two rooms of whole squares; the round one's opening is as wide, with nothing in it.
    plain = make_kit(written(tmp_path, OF_CELLS[0], OF_CELLS[1].format(leaf)))
    assert {t.tile.id for t in kit.types if any(p.openings for p in t.tile.plates) and t.tile.on_grid} <= {
        t.tile.id for t in plain.types
    }
    assert piece.piece.id == plain.pieces[0].piece.id
    for kind in (*kit.types, *kit.pieces):
        made = kind.tile if hasattr(kind, "tile") else kind.piece
        mesh = trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", made.plates))), file_type="stl")
        assert mesh.is_watertight
    widths = {round(o.width, 6): o.leaf for t in kit.types for p in t.tile.plates for o in p.openings}
    assert len(widths) == 1


def test_a_leaf_at_a_round_room_says_what_it_needs(tmp_path):
    rows, circle = ROUND_ROOM
    for leaf, at in (("lift-out", "[3, 1.5]"), ("hinged", "[6, 1.5]"), ("sliding", "[4.5, 0]")):
        with pytest.raises(InputError, match=f'leaf = "{leaf}" needs a straight wall') as caught:
            written(tmp_path, rows, circle, AT_ROUND.format(leaf).replace("[3, 1.5]", at))
        assert 'Use leaf = "none"' in str(caught.value)
        assert str(caught.value.place)


def test_a_leaf_hangs_in_a_slanting_wall_where_its_doorway_is_in_one_tile(tmp_path):
    hall = '[[shape]]\nroom = "T"\nhall = {from = [1, 1], to = [5, 4], width = 1.2}'
    way = '[[way]]\nroom = "T"\nat = [%s, %s]\nkind = "doorway"\nleaf = "sliding"\nwidth = "20 mm"'
    # 0.6 squares beside the hall's middle line, 2.25 along it, in the middle of a square; then on a line between two.
    drawing = written(tmp_path, ["......"] * 5, hall, way % (2.44, 2.83))
    (piece,) = make_kit(drawing).pieces
    assert piece.count == 1
    with pytest.raises(InputError, match="all of the doorway in one tile"):
        written(tmp_path, ["......"] * 5, hall, way % (3.04, 3.28))


def test_both_sides_of_a_doorway_are_as_wide_as_the_narrower():
    """A 5 ft side of 31.75 with walls at both ends: 31.75 - 2 x 6.35 - 2 x 3.175 = 12.7; the hall's side had 25.4."""
    kit = make_kit(read_plan(CASES / "corridor-at-5-ft.toml"))
    widths = [o.width for t in kit.types for plate in t.tile.plates for o in plate.openings]
    assert widths == [pytest.approx(12.7)] * 2


def test_tiles_laid_by_the_kits_numbers_cover_the_floor_once():
    """Union of what is laid = the drawn floor less the play (contract: 0.3 mm, half off each edge); no overlap."""
    for case in ("circle-tangent-to-a-wall", "slanting-hall-by-cell", "narrow-hall-by-point", "corridor-at-5-ft"):
        drawing = read_plan(CASES / f"{case}.toml")
        laid = [level(mesh, drawing.grid.base_depth / 2) for _, mesh in dungeon(make_kit(drawing))]
        whole = shapely.union_all(laid)
        assert sum(part.area for part in laid) - whole.area < 0.05
        side = drawing.cell_side
        cells = drawing.rooms != 0 if drawing.off_grid is None else (drawing.rooms != 0) & drawing.off_grid.whole
        floor = [
            shapely.box(c * side, -(r + 1) * side, (c + 1) * side, -r * side) for r, c in np.argwhere(cells).tolist()
        ]
        floor = shapely.union_all(
            [*floor, *(drawing.off_grid.regions.values() if drawing.off_grid else ())], grid_size=1e-6
        )
        assert whole.difference(floor.buffer(2e-3)).area == pytest.approx(0, abs=1e-3)
        assert floor.buffer(-0.16).difference(whole.buffer(0.2, join_style="mitre")).area == pytest.approx(0, abs=0.05)


# --- what there is to decide ---


def test_shipped_plans_leave_nothing_to_decide():
    for name in ["gull-light", "bell-foundry", "hill-shrine", "lamp-cellars"]:
        assert plan_messages(read_plan(find(name, "plans"))) == ()


def test_what_there_is_to_decide_is_told_with_lines_that_mend_it(tmp_path):
    for rows, tables, words in [
        (["AAB", "C.B"], ['[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"'], 'No way leads to room "C"'),
        (["AAB", "C.B"], [], "No way joins the plan's 3 rooms"),
        (["A.B"], ['[[way]]\ncell = [1, 1]\nside = "west"\nkind = "doorway"'], 'No way leads to room "B"'),
        (
            ["....", "....", "...."],
            [
                '[[shape]]\nroom = "T"\ncircle = { centre = [1, 1], radius = 1 }',
                '[[shape]]\nroom = "U"\npolygon = [[2, 0], [4, 0], [4, 2], [2, 2]]',
            ],
            "No way joins",
        ),
        (
            ["....", "....", "...."],
            [
                '[[shape]]\nroom = "T"\ncircle = { centre = [1, 1], radius = 0.75 }',
                '[[shape]]\nroom = "U"\npolygon = [[2, 0], [4, 0], [4, 2], [2, 2]]',
                '[[way]]\nroom = "T"\nat = [1.75, 1]\nkind = "open"',
                '[[way]]\ncell = [4, 1]\nside = "east"\nkind = "open"',
            ],
            'leads against a wall: that of room "U" stands 16 mm beyond',
        ),
    ]:
        lines = list(tables)
        for turn in range(4):
            messages = plan_messages(written(tmp_path, rows, *lines))
            assert turn or words in messages[0].text
            if not messages:
                break
            assert messages[0].cure
            lines.append(messages[0].cure)
        assert messages == ()


def test_a_wall_before_a_doorway_of_a_room_that_a_cell_counts_as(tmp_path):
    """The cell beyond the doorway is mostly the other room's, whose wall stands 12.7 mm further off."""
    for way, points, words in [
        ('room = "A"\nat = [2, 0.5]', "[2.2, 0], [4, 0], [4, 3], [2.2, 3]", "stays shut"),
        ('cell = [2, 1]\nside = "east"', "[2.2, 0], [4, 0], [4, 3], [2.2, 3]", 'Write the way with room = "A"'),
        # The corner of a room before one half of the doorway, and just beside it.
        ('room = "A"\nat = [2, 0.5]', "[2.2, 0.6], [4, 0.6], [4, 3], [2.2, 3]", "a part of the opening"),
        ('room = "A"\nat = [2, 0.5]', "[2.2, 0.75], [4, 0.75], [4, 3], [2.2, 3]", ""),
    ]:
        tables = [f'[[way]]\n{way}\nkind = "doorway"', f'[[shape]]\nroom = "U"\npolygon = [{points}]']
        messages = plan_messages(written(tmp_path, ["AA..", "AA..", "...."], *tables))
        against = [message for message in messages if "leads against a wall" in message.text]
        assert [words in message.text for message in against] == [True] * bool(words)
        assert any('No way leads to room "U"' in message.text for message in messages)


def test_a_way_into_closed_ground_leads_nowhere(tmp_path):
    ring = ["AAA", "A.A", "AAA"]
    (message,) = plan_messages(written(tmp_path, ring, '[[way]]\ncell = [1, 2]\nside = "east"\nkind = "doorway"'))
    assert "leads nowhere" in message.text
    assert plan_messages(written(tmp_path, ring, '[[way]]\ncell = [1, 2]\nside = "west"\nkind = "doorway"')) == ()
    assert plan_messages(written(tmp_path, ring)) == ()


def test_a_way_near_a_cell_s_corner_opens_its_wall_once(tmp_path):
    """Where only cells are looked at a whole side stands for it; the wall has one opening, at the point as written."""
    hall = '[[shape]]\nroom = "U"\n[shape.hall]\nfrom = [1.0, 0.25]\nto = [2.5, 0.25]\nwidth = 0.5\n'
    way = '[[way]]\nroom = "U"\nat = [1.75, 0.0]\nkind = "doorway"'
    made = make_kit(written(tmp_path, ["...."] * 3, hall, way))
    walls = [plate for kind in made.types for plate in kind.tile.plates if plate.openings]
    (opening,) = [opening for plate in walls for opening in plate.openings]
    assert opening.centre == pytest.approx(0.75 * 63.5 - 0.15)


def test_a_way_that_begins_where_another_wall_s_inner_face_stands_leaves_no_crack():
    kit = make_kit(read_plan(CASES / "way-from-corner-to-corner.toml"))
    for _, mesh in dungeon(kit):
        assert mesh.is_watertight


def test_rooms_close_together_off_the_grid_have_a_worst_gap():
    """A slanting hall beside a circle: tiles that reach over several squares once contradicted each other."""
    drawing = read_plan(CASES.parent / "hall-beside-a-circle.toml")
    assert placements_on(drawing, make_kit(drawing))[2].worst_gap >= 0


# --- random plans ---


def random_plan(dice):
    """Up to two rooms of cells and two shapes, some of them against the cells, and ways written both ways."""
    scale, wide, high = dice.choice(["10 ft", "5 ft"]), dice.randint(6, 9), dice.randint(5, 8)
    grid = [["."] * wide for _ in range(high)]
    for letter in "AB"[: dice.randint(1, 2)]:
        w, h = dice.randint(1, 3), dice.randint(1, 4)
        x, y = dice.randint(0, wide - w), dice.randint(0, high - h)
        for r in range(y, y + h):
            grid[r][x : x + w] = [letter if old == "." else old for old in grid[r][x : x + w]]

    def at(low, high):
        return round(dice.uniform(low, high) * 4) / 4

    shapes = []
    for letter in "TH"[: dice.randint(0, 2)]:
        kind, radius = dice.choice(["circle", "hall", "polygon"]), dice.choice([0.75, 1, 1.5, 2])
        x, y = at(0, wide - 2), at(0, high - 3)
        if kind == "circle":
            centre = [dice.randint(0, wide - 2 * math.ceil(radius)) + radius, at(radius, high - radius)]
            form = f"circle = {{ centre = {centre}, radius = {radius} }}"
        elif kind == "hall":
            ends = f"from = [{at(0, wide)}, {at(0, high)}], to = [{at(0, wide)}, {at(0, high)}]"
            form = f"hall = {{ {ends}, width = {dice.choice([0.5, 0.75, 1])} }}"
        else:
            form = f"polygon = [[{x}, {y}], [{x + 2}, {y + 1}], [{x + 2}, {y + 2.5}], [{x}, {y + 1.25}]]"
        shapes.append(f'[[shape]]\nroom = "{letter}"\n{form}')
    ways = []
    for _ in range(6):
        where = (
            f"cell = [{dice.randint(1, wide)}, {dice.randint(1, high)}]\n"
            f'side = "{dice.choice(["north", "east", "south", "west"])}"'
            if dice.random() < 0.5
            else f'room = "{dice.choice("ABTH")}"\nat = [{at(0, wide)}, {at(0, high)}]'
        )
        leaf = dice.choice(["", "", "", '\nleaf = "sliding"'])
        kind = "open" if not leaf and dice.random() < 0.3 else "doorway"
        ways.append(f'[[way]]\n{where}\nkind = "{kind}"{leaf}')
    return ["".join(row) for row in grid], shapes, ways, scale


def taken_plan(dice, tmp_path):
    """A random plan with those of its ways that are taken; what is refused says its place. None if no way is."""
    rows, shapes, ways, scale = random_plan(dice)
    kept, places = [], []
    for way in ways:
        try:
            make_kit(written(tmp_path, rows, *shapes, *kept, way, scale=scale))
            kept.append(way)
        except InputError as error:
            places.append(error.place)
    assert all(places)
    return written(tmp_path, rows, *shapes, *kept, scale=scale) if kept else None


def test_ways_of_random_plans_lead_through(tmp_path):
    for seed in range(5):
        generator = random.Random(seed)
        drawing = next(filter(None, (taken_plan(generator, tmp_path) for _ in range(50))))
        assert blocked(drawing, make_kit(drawing)) == []
        plan_messages(drawing)


def test_a_kind_of_way_means_what_its_row_says(monkeypatch):
    """A window takes one row of the table: it is a wall's opening, sight passes it, figures and the route do not."""
    window = replace(WAYS["doorway"], word="window", walked=False, seen="always")
    for table in (WAYS, LINES):
        monkeypatch.setitem(table, "window", window)
    ways = {(1, 1, "west"): "doorway", (2, 1, "east"): "window"}
    drawing = plan(["AABB", "AABB"], ways)
    kit = make_kit(drawing)
    as_a_door = make_kit(plan(["AABB", "AABB"], ways | {(2, 1, "east"): "doorway"}))
    assert [(t.tile.id, t.count) for t in kit.types] == [(t.tile.id, t.count) for t in as_a_door.types]
    assert visible_from(drawing, (1, 1)).all()
    assert [part.room for part in figures_on(drawing, [25.4])[0].unreached] == ["B"]
    assert [stop.steps for stop in make_route(drawing, kit)] == [0, None]
    assert "No way leads to room" in plan_messages(drawing)[0].text
