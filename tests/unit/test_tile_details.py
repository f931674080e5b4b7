"""Small laws of a tile's parts by hand: laps, posts, levels at a notch, weak points, identity of marks, lettering, chance."""

from itertools import pairwise

import pytest
import shapely
import shapely.affinity
from shapely.geometry import Polygon, box

from tilegen.model.grid import Floor, Grid
from tilegen.tiles.blocks import Block, Extra
from tilegen.tiles.lettering import GROOVE_WIDTH, engraved, underside_mark, words_size
from tilegen.tiles.pinches import weak_point
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, RegionShape, single_cell
from tilegen.tiles.surfaces.stones import chance, chances
from tilegen.tiles.tile import make_tile

GRID = Grid(floor=Floor(lines=False))
PITCH, WALL_MM, HALF = GRID.pitch, GRID.wall_thickness, GRID.half_play


def standing(shape, grid=GRID):
    return {plate.name: plate for plate in make_tile("t", shape, grid).plates if plate.edge is not None}


def test_a_post_inside_a_block_stands_on_the_cells_own_line():
    """Two cells side by side, a post in each corner of the western one: on outside lines the play is taken off."""
    for corner in range(4):
        posts = tuple(k == corner for k in range(4))
        shape = CellShape((1.0, 1.0), (1.0,), (((0, 0), Cell(posts=posts)), ((1, 0), Cell())))
        (post,) = standing(shape).values()
        line, rim = PITCH, HALF
        xs = (line - WALL_MM, line) if corner in (0, 1) else (rim, WALL_MM)
        ys = (PITCH - WALL_MM, PITCH - rim) if corner in (0, 3) else (rim, WALL_MM)
        assert post.foot.bounds == pytest.approx((xs[0], ys[0], xs[1], ys[1]))
        # Its outer face is the one to the north or south, with the post on its right.
        (x0, y0), (x1, y1) = post.edge
        assert (x0, x1) == pytest.approx(xs if corner in (0, 3) else xs[::-1])
        assert y0 == y1 == pytest.approx(ys[1] if corner in (0, 3) else ys[0])


def test_what_lies_in_a_cell_beside_a_notch_keeps_off_it():
    """Three cells about a corner: the play takes a square off the middle one; a dais over all of it lacks that too."""
    dais = Extra((Block("dais", -PITCH / 2, -PITCH / 2, PITCH / 2, PITCH / 2, 0, 5),))
    cells = (((0, 0), Cell()), ((0, 1), Cell(extra=dais)), ((1, 1), Cell()))
    tile = make_tile("t", CellShape((1.0, 1.0), (1.0, 1.0), cells), GRID)
    plate = next(p for p in tile.plates if p.role == "dais")
    wanted = box(HALF, HALF, PITCH, PITCH).difference(box(PITCH - HALF, PITCH - HALF, PITCH, PITCH))
    assert plate.foot.symmetric_difference(wanted).area < 1e-9
    whole = box(HALF, HALF, PITCH - HALF, 2 * PITCH - HALF).union(box(HALF, HALF, 2 * PITCH - HALF, PITCH - HALF))
    assert tile.base.foot.symmetric_difference(whole).area < 1e-9


def test_the_weak_point_lies_between_the_two_largest_parts():
    nominal = box(0, 0, 100, 20)
    parts = {"small": box(0, 0, 5, 5), "large": box(20, 0, 50, 20), "larger": box(60, 0, 100, 20)}
    for order in (["small", "large", "larger"], ["larger", "small", "large"]):
        inset = shapely.MultiPolygon([parts[name] for name in order])
        assert weak_point(nominal, inset)[0] == pytest.approx(55)
    x, y = weak_point(nominal, Polygon())
    assert nominal.contains(shapely.Point(x, y))


def test_sides_of_a_piece_of_a_room_are_walked_clockwise():
    piece = Polygon([(0, 0), (30, 0), (30, 10), (5, 20), (0, 20)])
    for ring in (piece, piece.reverse()):
        sides = RegionShape(ring, ()).outer_sides(GRID.pitch)
        corners = [start for start, _ in sides]
        assert sorted(corners) == sorted(piece.exterior.coords[:-1])
        for (x0, y0), (x1, y1) in sides:
            # The piece's middle lies to the right of every side.
            assert (x1 - x0) * (8 - y0) - (y1 - y0) * (8 - x0) < 0


def gaps(text, **more):
    """Between the grooves of a line of letters 6 mm high, from left to right, mm."""
    parts = sorted(g.bounds[::2] for g in engraved([text], (0, 0), height=6.0, bar=False, **more).geoms)
    merged = [list(parts[0])]
    for low, high in parts[1:]:
        if low <= merged[-1][1]:
            merged[-1][1] = max(high, merged[-1][1])
        else:
            merged.append([low, high])
    return [b[0] - a[1] for a, b in pairwise(merged)]


def test_hyphens_and_points_stand_as_near_as_letters():
    """One unit of the font is a millimetre here: letters leave two units less a groove, narrow characters about that."""
    (plain,) = gaps("HH")
    assert plain == pytest.approx(2 - GROOVE_WIDTH, abs=0.01)
    for mark in "-.":
        for gap in gaps(f"H{mark}H"):
            assert plain - 0.25 < gap < plain + 0.55
    across, up = words_size(["H-H"], 6.0)
    found = engraved(["H-H"], (7, 9), height=6.0)
    # A letter and its gap, a hyphen and its own, a letter.
    assert across == pytest.approx(6 + 4.6 + 4 + GROOVE_WIDTH)
    assert found.bounds[2] - found.bounds[0] == pytest.approx(across, abs=0.01)
    assert (found.bounds[0] + found.bounds[2]) / 2 == pytest.approx(7, abs=0.01)
    assert found.bounds[3] == pytest.approx(9 + up / 2, abs=0.01)


def test_letters_are_mirrored_and_turned():
    """An L: its foot points to the right; from below to the left; a quarter turn puts its stem to the bottom."""
    plain, below, turned = (engraved(["L"], (0, 0), **more) for more in ({}, {"from_below": True}, {"turn": 90.0}))
    assert plain.centroid.x < -0.1
    assert below.symmetric_difference(shapely.affinity.scale(plain, -1, 1, origin=(0, 0))).area < 1e-2 * plain.area
    assert turned.symmetric_difference(shapely.affinity.rotate(plain, 90, origin=(0, 0))).area < 1e-2 * plain.area


def test_a_name_too_long_for_one_line_is_broken_at_its_hyphens():
    tile = make_tile("cellar-hall-end", single_cell(Cell(), (1.5, 1.5)), GRID)
    for identity in (tile.id, tile.id.lower()):
        mark = underside_mark("cellar-hall-end", identity, tile.plates)
        arrow = max(mark.region.geoms, key=lambda part: part.bounds[3])
        words = mark.region.difference(arrow.buffer(0.1))
        found = []
        for lines in (["CELLAR-HALL-END"], ["CELLAR-HALL", "END"], ["CELLAR", "HALL-END"], ["CELLAR", "HALL", "END"]):
            for height in (4.0, 5.0, 6.0):
                drawn = engraved([*lines, tile.id], (0, 0), height=height, from_below=True)
                shift = [a - b for a, b in zip(words.bounds[:2], drawn.bounds[:2], strict=True)]
                moved = shapely.affinity.translate(drawn, *shift)
                if moved.symmetric_difference(words).area < 0.02 * words.area:
                    found.append((len(lines), height))
        assert len(found) == 1
        assert found[0][0] == 2


SPLITMIX = 0x9E3779B97F4A7C15
# The first outputs of splitmix64 for the seed 1234567, as Rosetta Code's task "Pseudo-random numbers/Splitmix64" has
# them (from memory); for the seed 0 the ones that its Java original gives.
PUBLISHED = {
    1234567: (6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431),
    0: (0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F),
}


@pytest.mark.parametrize("seed", PUBLISHED)
def test_chance_is_splitmix64(seed):
    """One key makes the state (step xor key) + step; the n-th output of a seed comes of the state seed + n steps."""
    for n, wanted in enumerate(PUBLISHED[seed], 1):
        key = SPLITMIX ^ ((seed + (n - 1) * SPLITMIX) % 2**64)
        assert chance(key) == (wanted >> 11) / 2**53


def mixed(state):
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        state = (state ^ (state >> shift)) * factor % 2**64
    return state ^ (state >> 31)


def test_a_table_of_chances_goes_on_from_its_keys():
    first = int(chance(3, 5) * 2**53)
    table = chances((3, 5), (4, 6))
    wanted = [(mixed((first + n + 1) * SPLITMIX % 2**64) >> 11) / 2**53 for n in range(24)]
    assert table.ravel().tolist() == wanted
    assert (
        chance(3, 5) == (mixed(((mixed((SPLITMIX ^ 3) + SPLITMIX & 2**64 - 1) ^ 5) + SPLITMIX) % 2**64) >> 11) / 2**53
    )


@pytest.mark.parametrize("wall", ["north", "east"])
def test_walls_of_one_line_are_one_wall(wall):
    side = {"north": 0, "east": 1}[wall]
    sides = tuple(WALL if k == side else OPEN for k in range(4))
    places = ((0, 0), (1, 0)) if side == 0 else ((0, 0), (0, 1))
    sizes = ((1.0, 1.0), (1.0,)) if side == 0 else ((1.0,), (1.0, 1.0))
    (plate,) = standing(CellShape(*sizes, tuple((place, Cell(sides)) for place in places))).values()
    assert plate.foot.area == pytest.approx((2 * PITCH - 2 * HALF) * (WALL_MM - HALF))
