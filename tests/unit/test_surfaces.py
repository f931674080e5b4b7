"""Surfaces: closed solids of the volume the plates say, kept off edges and walls, the same for the same seed."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from shapely.geometry import LineString, Point

from tests.calling import call
from tests.kits.test_shapes import shaped
from tests.making import one_body
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.toml import find, read_model
from tilegen.model.grid import DoorwaySize, Floor, Grid, Over
from tilegen.model.materials import MaterialFile
from tilegen.model.surface import FLOOR_PATTERNS, WALL_PATTERNS, Surface
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.shapes import Circle
from tilegen.sheets.constructions import ConstructionChoice
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, Side, single_cell
from tilegen.tiles.surfaces.stones import chance, chances
from tilegen.tiles.tile import make_tile

GRID = Grid()
DOOR = Side("doorway", make_opening(GRID.tile_side, GRID))
LOOKS = list(itertools.zip_longest(FLOOR_PATTERNS[1:], WALL_PATTERNS[1:], fillvalue="brick"))
PROFILES = ("door", "custom-outline")


def surfaced(floor, walls="none", *, lines=True, **more):
    return replace(GRID, floor=Floor(lines=lines), surface=Surface(floor=floor, walls=walls, **more))


def check(tile):
    # The faces of walls at odd angles lie on the micrometre grid: their grooves are as deep as said to a micrometre.
    odd = 0.0 if tile.on_grid else 0.001 * sum(m.region.area for p in tile.plates[1:] for m in p.marks)
    openings = 0.0 if tile.on_grid else 0.001 * sum(o.width * o.height for p in tile.plates[1:] for o in p.openings)
    return one_body(tile.plates, slack=1e-6 + odd + openings)


def random_shape(random):
    """A tile of one cell, a half tile, or a block of four with walls inside, some with doorways and posts."""
    spaces = [(2.0, 2.0), (2.0, 1.0), (1.0, 2.0), (3.0, 2.0)][random.integers(4)]
    sides = [[OPEN, WALL][random.integers(2)] for _ in range(4)]
    if spaces == (2.0, 2.0) and random.integers(2):
        sides[random.integers(4)] = DOOR
    posts = tuple(bool(random.integers(2)) and not (sides[k].carries or sides[(k + 1) % 4].carries) for k in range(4))
    return single_cell(Cell(tuple(sides), posts), spaces)


def block_of_four(random):
    """Four cells of one space; a wall between two of them stands on both."""
    walls = {}
    for column, row in itertools.product(range(2), range(2)):
        for dc, dr in ((0, -1), (1, 0), (0, 1), (-1, 0)):
            key = frozenset(((column, row), (column + dc, row + dr)))
            walls.setdefault(key, [OPEN, WALL][random.integers(2)])
    cells = []
    for row, column in itertools.product(range(2), range(2)):
        sides = tuple(
            walls[frozenset(((column, row), (column + dc, row + dr)))] for dc, dr in ((0, -1), (1, 0), (0, 1), (-1, 0))
        )
        cells.append(((column, row), Cell(sides)))
    return CellShape((1.0, 1.0), (1.0, 1.0), tuple(cells))


def random_outline(random):
    angles = np.sort(random.random(int(random.integers(5, 9)))) * 2 * np.pi
    radii = 40 + 25 * random.random(len(angles))
    points = tuple((60 + r * np.cos(a), 60 + r * np.sin(a)) for a, r in zip(angles, radii, strict=True))
    walls = tuple(int(n) for n in range(1, len(points) + 1) if random.random() < 0.4)
    return OutlineShape(points, walls)


@pytest.mark.parametrize(("floor", "walls"), LOOKS)
@pytest.mark.parametrize("profile", PROFILES)
def test_shipped_profiles(profile, floor, walls):
    tile = read_profile(find(profile, "profiles"), Over(tables={"surface": {"floor": floor, "walls": walls}}))
    assert tile.base.marks
    assert all(plate.marks for plate in tile.plates if plate.role == "wall")
    check(tile)


@pytest.mark.parametrize(("floor", "walls"), LOOKS)
def test_random_tiles(floor, walls):
    random = np.random.Generator(np.random.PCG64(FLOOR_PATTERNS.index(floor)))
    grid = surfaced(floor, walls, lines=floor != "planks")
    for make in (random_shape, block_of_four):
        check(make_tile("t", make(random), replace(grid, surface=replace(grid.surface, seed=int(random.integers(99))))))
    made = 0
    while made < 1:
        try:
            tile = make_tile("t", random_outline(random), grid)
        except InputError:
            continue
        check(tile)
        made += 1


@pytest.mark.parametrize(("floor", "walls"), LOOKS[::3])
def test_quarter_turns_are_one_type(floor, walls):
    grid = surfaced(floor, walls)
    random = np.random.Generator(np.random.PCG64(5))
    for shape in (single_cell(Cell((DOOR, WALL, OPEN, OPEN)), (2, 2)), random_shape(random), block_of_four(random)):
        tiles = [make_tile("t", turn, grid) for turn in shape.turns]
        assert len({tile.id for tile in tiles}) == 1
        assert len({round(tile.volume, 6) for tile in tiles}) == 1
        check(tiles[1])


def test_off_edges_walls_and_openings():
    for lines in [True, False]:
        for floor, walls in LOOKS:
            grid = surfaced(floor, walls, lines=lines)
            tile = make_tile(
                "t", single_cell(Cell((DOOR, OPEN, OPEN, WALL), (False, True, False, False)), (2, 2)), grid
            )
            margin, width = grid.surface.margin, grid.surface.groove_width
            (mark,) = tile.base.marks
            walls_ = shapely.union_all([p.foot for p in tile.plates[1:]])
            assert mark.region.distance(walls_) >= margin - 0.002
            assert mark.region.distance(tile.base.foot.exterior) >= margin - 0.002
            for plate in (p for p in tile.plates if p.role == "wall"):
                (cut,) = plate.marks
                assert cut.on == "inner"
                assert cut.region.distance(plate.face().boundary) >= margin - 0.002
            for plate, found in ((p, m) for p in tile.plates for m in p.marks):
                # Wide enough to print: nothing gets lost when it is drawn in by a little less than half its width.
                narrow = found.region.difference(found.region.buffer(-0.4 * width).buffer(0.5 * width))
                assert narrow.area < 0.01 * found.region.area
                face = plate.face() if plate.edge else plate.foot.difference(walls_)
                rest = face.difference(found.region)
                web = rest.difference(rest.buffer(-0.3).buffer(0.45, join_style="mitre"))
                assert web.area < 0.3


def test_no_wall_pattern_behind_a_butting_wall():
    tile = make_tile("t", single_cell(Cell((WALL, WALL, WALL, WALL)), (2, 2)), surfaced("none", "brick"))
    inside = shapely.box(6.35, 6.35, 63.5 - 6.35, 63.5 - 6.35).buffer(-0.79)
    for plate in tile.plates[1:]:
        (x, y), (dx, dy) = plate.edge[0], plate.direction
        (mark,) = plate.marks
        for s in mark.region.bounds[::2]:
            depth = plate.thickness + 0.8
            assert inside.buffer(0.01).covers(Point(x + dx * s + dy * depth, y + dy * s - dx * depth))


def test_the_same_seed_the_same_bytes():
    def made(seed, floor, walls):
        tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, DOOR)), (2, 2)), surfaced(floor, walls, seed=seed))
        return stl_bytes(build_mesh("t", tile.plates)), tile.id

    for floor, walls in LOOKS:
        assert made(3, floor, walls) == made(3, floor, walls)
        assert made(3, floor, walls)[0] != made(4, floor, walls)[0]
        assert made(3, floor, walls)[1] != made(4, floor, walls)[1]


def test_chance_is_the_same_everywhere():
    # splitmix64's first output for the state 0 (Vigna's reference implementation, prng.di.unimi.it/splitmix64.c,
    # the value from memory): chance() starts from one step on.
    state = 0x9E3779B97F4A7C15
    z = state
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9 & 2**64 - 1
    z = (z ^ z >> 27) * 0x94D049BB133111EB & 2**64 - 1
    assert z ^ z >> 31 == 0xE220A8397B1DCDAF
    table = chances((1, 2), (500, 8))
    assert table.shape == (500, 8)
    assert 0 <= table.min() < 0.01
    assert 0.99 < table.max() < 1
    assert abs(table.mean() - 0.5) < 0.02
    many = np.array([chance(7, n) for n in range(2000)])
    assert abs(many.mean() - 0.5) < 0.02
    assert len(set(many.tolist())) == 2000


def test_figures_can_count_spaces():
    """With lines, every line between spaces is a joint, wider than the others."""
    for floor in FLOOR_PATTERNS[1:]:
        tile = make_tile("t", single_cell(Cell(), (2, 2)), surfaced(floor))
        (mark,) = tile.base.marks
        for line in (LineString([(31.75, 2), (31.75, 61)]), LineString([(2, 31.75), (61, 31.75)])):
            assert mark.region.covers(line.buffer(0.59, cap_style="flat"))
    free = make_tile("t", single_cell(Cell(), (2, 2)), surfaced("rough", lines=False)).base.marks[0]
    assert not free.region.covers(LineString([(31.75, 2), (31.75, 61)]))


PLAN = """
name = "Dye works"
drawing = '''
A A B .
A A B B
. C B B
'''
[floor]
lines = {lines}
[surface]
floor = "{floor}"
walls = "brick"
continuous = {continuous}
{rooms}
"""


def plan_kit(tmp_path, floor="planks", *, continuous=False, lines=False, rooms=""):
    path = tmp_path / "plan.toml"
    words = {"continuous": str(continuous).lower(), "lines": str(lines).lower()}
    path.write_text(PLAN.format(floor=floor, rooms=rooms, **words))
    drawing = read_plan(path)
    return drawing, make_kit(drawing)


@pytest.mark.parametrize("floor", ["flagstones", "planks"])
def test_continuous_patterns_meet_at_seams(tmp_path, floor):
    drawing, kit = plan_kit(tmp_path, floor, continuous=True)
    assert len(kit.types) == kit.tiles == 10
    assert len({t.name for t in kit.types}) == 10
    laid = [(t.tile, turn) for t, turn in placed(kit, drawing)]
    regions = [turn.geometry(tile.base.marks[0].region) for tile, turn in laid]
    seam = 0.15
    met = 0
    for one, two in itertools.combinations(regions, 2):
        # Grooves that reach the seam from either side lie opposite one another.
        near = one.buffer(seam * 2 + 0.01, cap_style="square", join_style="mitre").intersection(two)
        if near.area > 1e-6:
            met += 1
    assert met >= 4
    for tile, _ in laid:
        check(tile)
    cut = [tile.base.marks[0].region.distance(tile.base.foot.exterior) for tile, _ in laid]
    assert min(cut) == 0.0


def test_continuous_grooves_lie_opposite(tmp_path):
    """On the plan the boards' joints run straight on from tile to tile."""
    drawing, kit = plan_kit(tmp_path, "planks", continuous=True)
    whole = shapely.union_all([turn.geometry(t.tile.base.marks[0].region) for t, turn in placed(kit, drawing)])
    seam = LineString([(63.5, 8), (63.5, 120)])
    sides = [shapely.affinity.translate(seam, dx).intersection(whole) for dx in (-0.2, 0.2)]
    spans = [sorted((round(p.bounds[1], 2), round(p.bounds[3], 2)) for p in side.geoms) for side in sides]
    assert spans[0] == spans[1]
    assert len(spans[0]) >= 10


def test_rooms_have_floors_of_their_own(tmp_path):
    rooms = '[surface.rooms]\nB = "cobbles"\nC = "none"'
    drawing, kit = plan_kit(tmp_path, "planks", rooms=rooms)
    plain = plan_kit(tmp_path, "planks")[1]
    assert kit.tiles == plain.tiles
    by_name = {t.name: t for t in kit.types}
    assert {name for name in by_name if name.endswith("-cobbles")}
    closed = next(t for t in kit.types if t.name.startswith("closed"))
    assert not closed.tile.base.marks
    for t in kit.types:
        letters = {chr(drawing.rooms[row - 1, column - 1]) for column, row, _ in t.places.tolist()}
        assert letters <= {"B"} if t.name.endswith("-cobbles") else "B" not in letters
    with pytest.raises(InputError, match="room"):
        plan_kit(tmp_path, rooms='[surface.rooms]\nX = "cobbles"')


def test_rooms_of_one_block_at_5_ft(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(
        'name = "Cells"\nscale = "5 ft"\ndrawing = """\nA B\nA B\n"""\n[surface.rooms]\nA = "planks"\nB = "cobbles"\n'
    )
    (only,) = make_kit(read_plan(path)).types
    marks = only.tile.base.marks
    assert len(marks) == 2
    assert marks[0].region.distance(marks[1].region) > GRID.wall_thickness
    check(only.tile)


@pytest.mark.parametrize(
    ("material", "ways"),
    [
        ("foam", ConstructionChoice()),
        ("card", ConstructionChoice("folded")),
        ("foam-core", ConstructionChoice("grooved")),
    ],
)
def test_sheets_score_the_same_pattern(material, ways):
    grid = surfaced("flagstones", "ashlar")
    tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), grid)
    listed = list_parts([(tile, 1)], read_model(find(material, "materials"), MaterialFile), ways)
    for role in ("base", "wall"):
        scored = [part for part in listed.parts if part.role == role and part.flat.scores]
        assert scored
        printed = sum(m.line.length for p in tile.plates if p.role == role for m in p.marks)
        drawn = sum(_drawn(part, tile.base if role == "base" else None) * part.count for part in scored)
        assert drawn == pytest.approx(printed, rel=0.08)
        for part in scored:
            assert all(part.flat.outline.buffer(0.01).covers(LineString(s)) for s in part.flat.scores)


def _drawn(part, base):
    """How long a part's scores are; of a base, where they show: those between spaces run on under its walls."""
    whole = sum(LineString(s).length for s in part.flat.scores)
    if base is None or abs(part.flat.outline.area - base.foot.area) > 1e-6:
        return whole
    west, south, _, _ = base.foot.bounds
    face = shapely.affinity.translate(shapely.union_all([mark.face for mark in base.marks]), -west, -south)
    turns = [part.flat]
    for _ in range(3):
        turns.append(turns[-1].turned())
    # The part in the pose in which most of its lines show is the base as it lies in the tile.
    return max(shapely.MultiLineString(turn.scores).intersection(face).length for turn in turns)


def test_only_the_layer_that_shows_is_scored():
    tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2)), surfaced("none", "brick"))
    listed = list_parts([(tile, 1)], read_model(find("greyboard", "materials"), MaterialFile))
    walls = [part for part in listed.parts if part.role == "wall"]
    assert sorted((part.count, bool(part.flat.scores)) for part in walls) == [(1, True), (2, False)]


def test_a_line_is_where_its_groove_is():
    for floor, walls in LOOKS:
        tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, OPEN)), (2, 2)), surfaced(floor, walls))
        for plate in tile.plates:
            for mark in plate.marks:
                missed = mark.line.difference(mark.region.buffer(0.05)).length
                assert missed < 0.05 * mark.line.length


def test_no_surface_leaves_tiles_as_they_were():
    shape = single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2))
    plain = make_tile("t", shape, GRID)
    assert make_tile("t", shape, surfaced("none", "none")).id == plain.id
    assert len(plain.base.marks) == 1
    assert not any(plate.marks for plate in plain.plates[1:])


def test_bad_surfaces_are_refused(tmp_path):
    for table, words in [
        ('floor = "flagstone"', ("floor", "flagstones")),
        ('floor = "brick"', ("floor",)),
        ('walls = "planks"', ("walls",)),
        ('depth = "1 mm"', ("depth", "groove_depth")),
        ('floor = "planks"\ngroove_depth = "4 mm"', ("groove_depth", "4 mm", "3.17")),
        ('walls = "brick"\ngroove_depth = "4 mm"', ("groove_depth",)),
        ('walls = "brick"\ngroove_width = "3 mm"', ("groove_width", "3 mm")),
        ('floor = "cobbles"\ngroove_width = "0.1 mm"', ("groove_width",)),
        ('floor = "cobbles"\nmargin = "0.2 mm"', ("margin",)),
        ('floor = "cobbles"\nmargin = "9 mm"', ("margin",)),
        ('floor = "cobbles"\nrelief = "flat"', ("relief", "raised")),
        ('floor = "cobbles"\nrelief = "raised"\ngroove_depth = "3 mm"', ("groove_depth", "3 mm", "2.38")),
        ('floor = "cobbles"\nseed = -1', ("seed",)),
        ('floor = "cobbles"\nseed = 1.5', ("seed",)),
        ('[surface.rooms]\nA = "grass"', ("rooms",)),
    ]:
        path = tmp_path / "bad.toml"
        path.write_text(f'name = "bad"\n[tile]\nsize = [2, 2]\n[surface]\n{table}\n')
        with pytest.raises(InputError) as caught:
            read_profile(path)
        for word in (*words, "bad.toml"):
            assert word in str(caught.value)


def test_the_command_line_chooses_and_refuses(tmp_path):
    words = ["solid", "corner", "-o", tmp_path / "out", "--json"]
    done = call(*words, "--floor", "cobbles", "--walls", "ashlar")
    assert done.returncode == 0
    assert '"closed": true' in done.stdout
    assert call("solid", "corner", "-o", tmp_path / "no", "--floor", "lava").returncode == 2
    done = call("solid", "corner", "-o", tmp_path / "no", "--floor", "cobbles", "--depth", "1 mm")
    assert done.returncode == 2
    assert not (tmp_path / "no").exists()


def test_thin_walls_and_small_grids():
    """The measures of another grid: stones shrink with the pitch, courses fill the wall."""
    grid = Grid(pitch=25.4, wall_thickness=5, wall_height=20, base_depth=3, joint_play=0.2, doorway=DoorwaySize(15, 14))
    for floor, walls in LOOKS:
        surface = Surface(floor=floor, walls=walls, groove_width=0.6, groove_depth=0.4)
        check(make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 3)), replace(grid, surface=surface)))


def test_corners_of_a_narrow_stone_do_not_meet():
    """Seed 457 saws a stone so narrow that two of its corners crossed (found by making a thousand tiles)."""
    grid = Grid(surface=Surface(floor="flagstones", seed=457))
    doorway = Side("doorway", make_opening(grid.tile_side, grid))
    tile = make_tile("t", single_cell(Cell((doorway, OPEN, OPEN, WALL)), (2, 2)), grid)
    assert build_mesh("t", tile.plates).volume == pytest.approx(tile.volume, abs=1e-6)


def test_walls_too_short_for_a_pattern_and_bent_ones_stay_plain():
    """An outline's wall of 9 mm leaves nothing between its margins; a wall along a curve has no pattern."""
    grid = surfaced("none", "brick")
    margin = grid.surface.margin
    points = ((0, 0), (0, 80), (70, 80), (70, 71), (95, 71), (95, 0))
    made = make_tile("t", OutlineShape(points, (1, 3)), grid)
    by_length = {round(plate.length): plate for plate in made.plates if plate.edge is not None}
    assert [bool(by_length[key].marks) for key in sorted(by_length)] == [2 * margin < 9 - 2 * 0.8, True]
    check(made)
    kit = make_kit(shaped(["......"] * 6, [("A", Circle((3, 3), 2))], grid=grid))
    bent = [plate for kind in kit.types for plate in kind.tile.plates if plate.bend]
    assert bent
    assert not any(plate.marks for plate in bent)


def test_a_pattern_stays_off_an_openings_edge():
    """No groove nearer to an opening than the margin, nor to the ends and the top of the wall."""
    grid = surfaced("none", "ashlar")
    margin = grid.surface.margin
    tile = make_tile("t", single_cell(Cell((DOOR, OPEN, OPEN, OPEN)), (2, 2)), grid)
    (plate,) = tile.plates[1:]
    (mark,) = plate.marks
    assert mark.on == "inner"
    (opening,) = plate.openings
    assert mark.region.distance(opening.region()) >= margin - 1e-6
    assert mark.region.bounds[1] >= margin - 1e-6
    assert mark.region.bounds[3] <= plate.height - margin + 1e-6
    # As near as it may: on all four sides some groove reaches the margin.
    assert mark.region.bounds[3] == pytest.approx(plate.height - margin, abs=1e-3)
    assert mark.region.distance(opening.region()) == pytest.approx(margin, abs=1e-3)
