"""Connectors on tiles as they are made: volumes, identity, odd outlines, refusals."""

import json
import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Polygon, box

from tests.calling import call
from tests.making import one_body
from tilegen.errors import InputError
from tilegen.files.profiles import read_profile
from tilegen.files.toml import find, shipped
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Floor, Grid, Over
from tilegen.plans.record import grid_record
from tilegen.solids.build import build_mesh
from tilegen.tiles.connectors.kind import circle_around, module_of
from tilegen.tiles.seats import bare_words, check_connectors, flat_region, magnets_of
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, single_cell
from tilegen.tiles.tile import make_tile

CHOICES = {
    "magnets": Connectors(kind="magnets"),
    "slots": Connectors(kind="magnets", magnet_place="below", magnet_diameter=5.0),
    "pegs": Connectors(kind="pegs"),
    "keys": Connectors(kind="keys"),
    "tray": Connectors(kind="tray-magnets"),
}
PLAIN = single_cell(Cell(), (2.0, 2.0))
PROFILES = sorted(path.stem for path in shipped("profiles").glob("*.toml"))


def grid_with(choice, **more):
    return Grid(connectors=replace(CHOICES[choice], **more))


@pytest.mark.parametrize("profile", ["corner", "custom-outline", "door"])
@pytest.mark.parametrize("choice", CHOICES)
def test_profiles_stay_closed(profile, choice, tmp_path):
    tables = tmp_path / "grid.toml"
    made = CHOICES[choice]
    tables.write_text(
        f'[connectors]\nkind = "{made.kind}"\nmagnet_place = "{made.magnet_place}"\n'
        f"magnet_diameter = {made.magnet_diameter}\n"
    )
    tile = read_profile(find(profile, "profiles"), Over(tables))
    assert tile.grid.connectors == made
    one_body(tile.plates)
    plain = read_profile(find(profile, "profiles"))
    assert plain.id != tile.id
    assert plain.volume != tile.volume


def test_volumes_by_hand():
    """What each choice takes from a plain tile of 2 x 2 spaces, by closed formulas."""
    bare = make_tile("t", PLAIN, Grid()).volume

    def taken(choice):
        return bare - make_tile("t", PLAIN, grid_with(choice)).volume

    # Regular 16-gon about a circle of radius r: 16 r^2 tan(pi / 16).
    assert taken("magnets") == pytest.approx(16 * 16 * 2.1**2 * math.tan(math.pi / 16) * 2.3, abs=0.15)
    assert taken("slots") == pytest.approx(16 * 5.2 * 2.2 * 5.1, abs=1e-6)
    # Eight sockets of 4.7 x 3.5 x 4.3, less eight pegs: core 3 x 3.5 x 3, collar 2.5 deep round it.
    collar = 4 * 4 - 0.5 * 0.5 - 3 * 3.5
    assert taken("pegs") == pytest.approx(8 * (4.7 * 3.5 * 4.3 - 3 * 3.5 * 3 - collar * 2.5), abs=1e-6)
    # Eight half keys with a clearance of 0.35 mm (0.15 + 0.2) all round, from the rim inwards, 3.3 deep.
    c, t = 0.35, math.tan(math.pi / 8) * 0.35
    start, wider = 0.15 + 1.2 + t, 2 * c + 0.8
    key = [(2, -9), (2, start), (2 + wider, start + wider), (2 + wider, 6 - wider), (2, 6)]
    whole = Polygon([*key, *((-x, y) for x, y in reversed(key))])
    pocket = whole.buffer(c, join_style="mitre").intersection(box(-9, 0.15, 9, 9))
    assert taken("keys") == pytest.approx(8 * pocket.area * 3.3, rel=1e-3)


def tray_pockets(shape, grid):
    (mark,) = (mark for mark in make_tile("t", shape, grid).base.marks if mark.on == "under")
    assert mark.depth == pytest.approx(grid.connectors.magnet_thickness + 0.1)
    return list(getattr(mark.region, "geoms", [mark.region]))


@pytest.mark.parametrize(
    ("shape", "count"),
    [
        (PLAIN, 4),
        (single_cell(Cell((WALL, OPEN, OPEN, WALL)), (1, 2)), 4),
        (CellShape((1.0, 1.0), (1.0, 1.0), (((0, 0), Cell()), ((1, 0), Cell()), ((0, 1), Cell()))), 4),
    ],
)
def test_tray_magnets_lie_near_the_corners_of_every_tile(shape, count):
    """Blind pockets below, a web from the edge and from each other, the same in every turn, whatever stands above."""
    grid = grid_with("tray")
    foot, pockets = make_tile("t", shape, grid).base.foot, tray_pockets(shape, grid)
    assert magnets_of(shape, grid, foot) == len(pockets) == count
    assert bare_words(shape, grid, foot) == ""
    for number, pocket in enumerate(pockets):
        # A regular 16-gon about a circle of 4.2 mm.
        assert pocket.area == pytest.approx(16 * 2.1**2 * math.tan(math.pi / 16), rel=1e-3)
        assert foot.boundary.distance(pocket) == pytest.approx(1.2, abs=3e-3)
        assert all(pocket.distance(other) >= 1.2 for other in pockets[:number])
    assert len({make_tile("t", turn, grid).id for turn in shape.turns}) == 1
    one_body(make_tile("t", shape, grid).plates)


def test_tray_magnets_on_odd_outlines_and_what_is_too_large():
    grid = grid_with("tray", magnet_diameter=8.0, magnet_thickness=3.0)
    sliver = OutlineShape(((0.0, 0.0), (0.0, 40.0), (11.0, 0.0)), (1,))
    (pocket,) = tray_pockets(OutlineShape(((0.0, 0.0), (0.0, 20.0), (30.0, 0.0)), (1,)), grid)
    assert pocket.bounds[0] > 0
    assert "no room" in bare_words(sliver, grid, make_tile("t", sliver, grid).base.foot)
    # 3.2 mm of magnet and glue, a groove of 0.6 and a skin of 0.6 fit a base of 6.35; 5.1 mm of magnet do not.
    check_connectors(grid)
    for key, value in (("magnet_thickness", 5.1), ("magnet_diameter", 14.0), ("web", 0.0)):
        with pytest.raises(InputError, match=key):
            check_connectors(grid_with("tray", **{key: value}))


def test_tray_magnets_are_bought_and_cut_out_of_the_bottom_layers(tmp_path):
    made = call("tile", "corner", "--connectors", "tray-magnets", "--material", "greyboard", "--json", "-o", tmp_path)
    assert made.returncode == 0, made.stderr
    said = json.loads(made.stdout)
    assert said["connectors"]["magnets"] == 4
    assert "left_from_outside" not in said["connectors"]
    bottom = [part for sheet in said["sheets"] for part in sheet.get("layout", []) if "tray magnets" in str(part)]
    texts = [path.read_text() for path in tmp_path.rglob("*.csv")] + [
        path.read_text() for path in tmp_path.rglob("*.html")
    ]
    assert bottom or any("tray magnets" in text for text in texts)


def test_none_changes_nothing():
    assert Grid().connectors.kind == "none"
    assert "connectors" not in grid_record(Grid())
    # The volume worked through by hand: 63.2^2 x 6.35 less the cross of grooves.
    assert make_tile("t", PLAIN, Grid()).volume == pytest.approx(63.2**2 * 6.35 - 0.6 * (2 * 63.2 - 1), abs=1e-9)
    with pytest.raises(KeyError):
        grid_record(Grid())["connectors"]
    assert grid_record(grid_with("keys"))["connectors"]["key_thickness_mm"] == 3.0


def test_the_same_id_in_every_turn():
    for choice in CHOICES:
        grid = grid_with(choice)
        shapes = [
            single_cell(Cell((WALL, WALL, OPEN, OPEN)), (2.0, 2.0)),
            CellShape((1.0, 1.0), (1.0, 1.0), (((0, 0), Cell()), ((1, 0), Cell()), ((0, 1), Cell()))),
        ]
        for shape in shapes:
            assert len({make_tile("t", turn, grid).id for turn in shape.turns}) == 1


def test_odd_outlines_carry_them_on_grid_lines_only():
    grid = grid_with("magnets")
    pitch = grid.pitch
    # West and south on the grid's lines; the top slopes; the east side stands between two lines.
    shape = OutlineShape(((0, 0), (4.6 * pitch, 0), (4.6 * pitch, 2 * pitch), (0, 4 * pitch)))
    tile = make_tile("t", shape, grid)
    words = bare_words(shape, grid, tile.base.foot)
    assert "edge 2, edge 3" in words
    # Edge 1 is 4.6 spaces long: four whole modules; edge 4 is four.
    assert "edge 1" in words
    assert "edge 4" not in words
    assert magnets_of(shape, grid, tile.base.foot) == 2 * (4 + 4)
    one_body(tile.plates)


def test_sides_that_are_no_whole_modules_stay_bare():
    grid = grid_with("pegs")
    tile = make_tile("t", single_cell(Cell(), (1.5, 2.0)), grid)
    words = bare_words(tile.shape, grid, tile.base.foot)
    assert words.startswith("no pegs, or not all along, on north, south")
    assert words.endswith("a neighbour's pegs would strike north, south")
    one_body(tile.plates)


def test_a_hole_beside_a_pocket_is_refused():
    grid = grid_with("keys")
    side = 2 * grid.pitch

    def tile(x):
        hole = ((x, 14.0), (x + 6.0, 14.0), (x + 6.0, 20.0), (x, 20.0))
        return make_tile("t", OutlineShape(((0, 0), (0, side), (side, side), (side, 0)), holes=(hole,)), grid)

    check_plates = tile(20.0).plates
    assert build_mesh("t", check_plates).volume == pytest.approx(sum(p.volume for p in check_plates), abs=1e-6)
    # A pocket from the west reaches 6.35 mm in.
    with pytest.raises(InputError, match=r"the hole near \(0.15, 15.88\) mm comes within 1.2 mm of a pocket for keys"):
        tile(7.0)


def test_odd_outlines_make_room_for_pegs():
    """Where a grid tile's peg meets a part of a module there is a socket for it, if the edge is long enough."""
    grid = grid_with("pegs")
    pitch = grid.pitch
    shape = OutlineShape(((-0.5 * pitch, 0), (2 * pitch, 0), (2 * pitch, 2 * pitch), (0, 2 * pitch)))
    tile = make_tile("t", shape, grid)
    neighbour = make_tile("n", single_cell(Cell(), (4.0, 2.0)), grid)
    assert "strike" not in bare_words(shape, grid, tile.base.foot)
    marks = [m for m in tile.base.marks if m.on != "top"]
    sockets = shapely.union_all([m.region for m in marks if m.on == "under"])
    pegs = shapely.union_all([flat_region(m) for m in marks if m.depth < 0])
    # Sides of 2, 2 and 2.5 spaces on the grid's lines: six pegs, seven sockets.
    assert (len(pegs.geoms), len(sockets.geoms)) == (6, 7)
    below = shapely.union_all([flat_region(m) for m in neighbour.base.marks if m.depth < 0])
    foreign = shapely.affinity.translate(neighbour.base.foot.union(below), -2 * pitch, -2 * pitch)
    own = tile.base.foot.difference(sockets).union(pegs)
    assert own.intersection(foreign.difference(_sockets(neighbour, -2 * pitch, -2 * pitch))).area == 0
    # Without the room made for it the peg would strike.
    last = min(sockets.geoms, key=lambda socket: socket.centroid.x)
    assert own.union(last).intersection(foreign).area > 1
    one_body(tile.plates)


def _sockets(tile, dx, dy):
    region = shapely.union_all([m.region for m in tile.base.marks if m.on == "under"])
    return shapely.affinity.translate(region, dx, dy)


def test_circles_are_drawn_round():
    ring = Polygon(circle_around(2.1))
    assert shapely.Point(0, 0).buffer(2.1, quad_segs=256).within(ring.buffer(1e-9))
    assert ring.bounds == pytest.approx((-2.1, -2.1, 2.1, 2.1))


def refused(**more):
    measures = {k: v for k, v in more.items() if k in ("base_depth", "spaces", "pitch", "joint_play", "floor")}
    made = Connectors(**{k: v for k, v in more.items() if k not in measures})
    with pytest.raises(InputError) as caught:
        check_connectors(Grid(connectors=made, **measures))
    assert caught.value.place.startswith("[connectors]")
    return str(caught.value)


def test_a_base_too_thin_for_its_magnets():
    text = refused(kind="magnets", magnet_diameter=5.0)
    # d 5 + 0.2 of allowance, groove 0.6, two skins of 0.6: 7.0.
    assert "Make the base at least 7 mm deep" in text
    assert "magnets of 4 mm" in text
    assert "below" in text
    check_connectors(Grid(base_depth=7.0, connectors=Connectors(kind="magnets", magnet_diameter=5.0)))
    check_connectors(grid_with("magnets"))
    check_connectors(grid_with("slots"))
    # Known to break into its grooves: d 5 in the middle of a base of 6 (measured before, see limits of the trade).
    text = refused(kind="magnets", magnet_diameter=5.0, base_depth=6.0, floor=Floor(groove_depth=0.8))
    assert "Make the base at least 7.2 mm deep" in text
    assert "below" not in text.replace("[connectors]", "")


def test_refusals():
    for more, said in [
        ({"kind": "keys", "clearance": 0.1}, "at least 0.35 mm"),
        ({"kind": "pegs", "clearance": -0.1}, "more than 0"),
        ({"kind": "pegs", "position_error": 0.0, "joint_play": 0.0}, "more than 0"),
        ({"kind": "keys", "key_thickness": 5.0}, "at most 4.85 mm"),
        ({"kind": "pegs", "peg_height": 5.0}, "at most 4.85 mm"),
        ({"kind": "keys", "key_length": 7.0}, "at least 9.7 mm"),
        ({"kind": "keys", "key_length": 30.0}, "would run into one another. Use "),
        ({"kind": "keys", "key_neck": 28.0}, "mm of an edge, and only 30.55 mm are free"),
        ({"kind": "keys", "key_neck": 2.0}, "at least 3 mm"),
        ({"kind": "pegs", "peg_width": 20.0}, "mm of an edge, and only 30.55 mm are free"),
        ({"kind": "pegs", "peg_length": 24.0}, "would run into one another. Use "),
        ({"kind": "pegs", "every": "tile"}, '"space"'),
        ({"kind": "pegs", "peg_width": 2.9}, "at least 3 mm"),
        ({"kind": "pegs", "peg_length": 0.9}, "at least 1 mm"),
        ({"kind": "pegs", "peg_height": 0.9}, "at least 1 mm"),
        ({"kind": "magnets", "magnet_thickness": 15.0}, "would run into one another. Use "),
        ({"kind": "magnets", "magnet_thickness": 0.0}, "more than 0"),
        ({"kind": "magnets", "magnet_diameter": 9.0}, "Make the base at least 11 mm deep or use magnets of 4 mm"),
        (
            {"kind": "magnets", "magnet_diameter": 9.0, "magnet_place": "below"},
            "Make the base at least 10.3 mm deep or use magnets of 5 mm",
        ),
        ({"kind": "magnets", "skin": -1.0}, "more than 0"),
        ({"kind": "keys", "position_error": math.inf}, "at most 200"),
        ({"kind": "keys", "spaces": 1}, 'every = "tile"'),
    ]:
        assert said in refused(**more)


def test_half_tiles_of_odd_grids():
    grid = Grid(spaces=3, connectors=Connectors(kind="magnets", magnet_diameter=3.0, web=0.8))
    check_connectors(grid)
    assert module_of(grid) == grid.pitch / 2
    tile = make_tile("t", single_cell(Cell(), (1.5, 3.0)), grid)
    assert bare_words(tile.shape, grid, tile.base.foot) == ""


def test_bad_tables(tmp_path):
    for table, said in [
        ('kind = "glue"', '"glue" is not known here. Choose one of: none, '),
        ('kynd = "keys"', 'Did you mean "kind"?'),
        ('kind = "keys"\nkey_length = "long"', "[connectors] key_length"),
        ('kind = "magnets"\nsurface_field = "much"', "kilogauss"),
        ('kind = "magnets"\nmagnet_diameter = "5 mm"', "Make the base at least 7 mm deep"),
    ]:
        path = tmp_path / "bad.toml"
        path.write_text(f'name = "t"\n[tile]\nsize = [2, 2]\n[connectors]\n{table}\n')
        with pytest.raises(InputError) as caught:
            read_profile(path)
        assert "bad.toml" in str(caught.value)
        assert said in str(caught.value)


def test_a_refusal_writes_nothing(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('name = "t"\n[tile]\nsize = [2, 2]\n[connectors]\nmagnet_diameter = "5 mm"\n')
    done = call("tile", path, "-o", tmp_path / "out", "--connectors", "magnets")
    assert (done.returncode, done.stdout) == (2, "")
    assert "bad.toml, [connectors] magnet_diameter: " in done.stderr
    assert not (tmp_path / "out").exists()
