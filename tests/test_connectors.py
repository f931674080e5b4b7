"""Connectors as they are made: volumes, files, lists, refusals."""

import csv
import io
import json
import math
from dataclasses import replace

import ezdxf
import pytest
import shapely
import trimesh
from ezdxf.filemanagement import read
from shapely.geometry import Polygon, box

from tests.test_cli import files_in, run
from tilegen.connectors import Connectors
from tilegen.errors import InputError
from tilegen.grid import Floor, Grid
from tilegen.making import position_notes
from tilegen.plans.kit import make_kit
from tilegen.plans.record import grid_record
from tilegen.plans.seams import count_seams, count_seats
from tilegen.reading.files import find, shipped
from tilegen.reading.grids import make_grid
from tilegen.reading.models import Measures
from tilegen.reading.plans import read_plan
from tilegen.reading.profiles import read_profile
from tilegen.reading.stock import read_machine, read_material
from tilegen.sheets.jig import jig_drawing
from tilegen.sheets.make import audit_sheets, make_sheets, sheet_files
from tilegen.solids.build import build_mesh
from tilegen.solids.stl import stl_bytes
from tilegen.tiles.connector_checks import check_connectors
from tilegen.tiles.connectors import bare_words, flat_region, magnets_of
from tilegen.tiles.keys import key_size, make_key
from tilegen.tiles.pockets import circle_around, module_of
from tilegen.tiles.safety import connector_cautions, flux_index, is_small_part
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, four_turns, single_cell
from tilegen.tiles.tile import make_tile

CHOICES = {
    "magnets": Connectors(kind="magnets"),
    "slots": Connectors(kind="magnets", magnet_place="below", magnet_diameter=5.0),
    "pegs": Connectors(kind="pegs"),
    "keys": Connectors(kind="keys"),
}
PLAIN = single_cell(Cell(), (2.0, 2.0))
PROFILES = sorted(path.stem for path in shipped("profiles").glob("*.toml"))


def grid_with(choice, **more):
    return Grid(connectors=replace(CHOICES[choice], **more))


def check(plates):
    mesh = build_mesh("t", plates)
    solid = trimesh.load(io.BytesIO(stl_bytes(mesh)), file_type="stl")
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert mesh.volume == pytest.approx(sum(plate.volume for plate in plates), abs=1e-6)
    assert solid.volume == pytest.approx(mesh.volume, rel=1e-6)
    # One body; Euler characteristic 2 - 2 g (Euler-Poincare), a tunnel for each doorway with a lintel, none for pockets.
    tunnels = sum(o.height < plate.height for plate in plates for o in plate.openings)
    assert (solid.body_count, solid.euler_number) == (1, 2 - 2 * tunnels)
    return mesh


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("choice", CHOICES)
def test_profiles_stay_closed(profile, choice, tmp_path):
    tables = tmp_path / "grid.toml"
    made = CHOICES[choice]
    tables.write_text(
        f'[connectors]\nkind = "{made.kind}"\nmagnet_place = "{made.magnet_place}"\n'
        f"magnet_diameter = {made.magnet_diameter}\n"
    )
    tile = read_profile(find(profile, "profiles"), grid_file=tables)
    assert tile.grid.connectors == made
    check(tile.plates)
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


def test_none_changes_nothing():
    assert Grid().connectors.kind == "none"
    assert "connectors" not in grid_record(Grid())
    # The volume worked through by hand: 63.2^2 x 6.35 less the cross of grooves.
    assert make_tile("t", PLAIN, Grid()).volume == pytest.approx(63.2**2 * 6.35 - 0.6 * (2 * 63.2 - 1), abs=1e-9)
    with pytest.raises(KeyError):
        grid_record(Grid())["connectors"]
    assert grid_record(grid_with("keys"))["connectors"]["key_thickness_mm"] == 3.0


@pytest.mark.parametrize("choice", CHOICES)
def test_the_same_id_in_every_turn(choice):
    grid = grid_with(choice)
    shapes = [
        single_cell(Cell((WALL, WALL, OPEN, OPEN)), (2.0, 2.0)),
        CellShape((1.0, 1.0), (1.0, 1.0), (((0, 0), Cell()), ((1, 0), Cell()), ((0, 1), Cell()))),
    ]
    for shape in shapes:
        assert len({make_tile("t", turn, grid).id for turn in four_turns(shape)}) == 1


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
    check(tile.plates)


def test_sides_that_are_no_whole_modules_stay_bare():
    grid = grid_with("pegs")
    tile = make_tile("t", single_cell(Cell(), (1.5, 2.0)), grid)
    words = bare_words(tile.shape, grid, tile.base.foot)
    assert words.startswith("no pegs, or not all along, on north, south")
    assert words.endswith("a neighbour's pegs would strike north, south")
    check(tile.plates)


def test_a_hole_beside_a_pocket_is_refused():
    grid = grid_with("keys")
    side = 2 * grid.pitch

    def tile(x):
        hole = ((x, 14.0), (x + 6.0, 14.0), (x + 6.0, 20.0), (x, 20.0))
        return make_tile("t", OutlineShape(((0, 0), (0, side), (side, side), (side, 0)), holes=(hole,)), grid)

    check_plates = tile(20.0).plates
    assert build_mesh("t", check_plates).volume == pytest.approx(sum(p.volume for p in check_plates), abs=1e-6)
    # A pocket from the west reaches 6.35 mm in.
    with pytest.raises(InputError, match=r"a hole less than 1.2 mm from a pocket for keys near \(0.15, 15.88\) mm"):
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
    check(tile.plates)


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
    assert "at least 7.00 mm" in text
    assert "magnets of 4 mm" in text
    assert "below" in text
    check_connectors(Grid(base_depth=7.0, connectors=Connectors(kind="magnets", magnet_diameter=5.0)))
    check_connectors(grid_with("magnets"))
    check_connectors(grid_with("slots"))
    # Known to break into its grooves: d 5 in the middle of a base of 6 (measured before, see limits of the trade).
    text = refused(kind="magnets", magnet_diameter=5.0, base_depth=6.0, floor=Floor(groove_depth=0.8))
    assert "expected a base of at least 7.20 mm" in text
    assert "below" not in text.replace("[connectors]", "")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"kind": "keys", "clearance": 0.1}, "at least 0.35 mm"),
        ({"kind": "pegs", "clearance": -0.1}, "more than 0"),
        ({"kind": "pegs", "position_error": 0.0, "joint_play": 0.0}, "more than 0"),
        ({"kind": "keys", "key_thickness": 5.0}, "at most 4.85 mm"),
        ({"kind": "pegs", "peg_height": 5.0}, "at most 4.85 mm"),
        ({"kind": "keys", "key_length": 7.0}, "at least 9.7 mm"),
        ({"kind": "keys", "key_length": 30.0}, "meet each other"),
        ({"kind": "keys", "key_neck": 28.0}, "of every 31.75 mm"),
        ({"kind": "keys", "key_neck": 2.0}, "at least 3 mm"),
        ({"kind": "pegs", "peg_width": 20.0}, "of every 31.75 mm"),
        ({"kind": "pegs", "peg_length": 24.0}, "meet each other"),
        ({"kind": "pegs", "every": "tile"}, '"space"'),
        ({"kind": "pegs", "peg_width": 2.9}, "at least 3 mm"),
        ({"kind": "pegs", "peg_length": 0.9}, "at least 1 mm"),
        ({"kind": "pegs", "peg_height": 0.9}, "at least 1 mm"),
        ({"kind": "magnets", "magnet_thickness": 15.0}, "meet each other"),
        ({"kind": "magnets", "magnet_thickness": 0.0}, "more than 0"),
        ({"kind": "magnets", "skin": -1.0}, "more than 0"),
        ({"kind": "keys", "position_error": math.inf}, "at most 200"),
        ({"kind": "keys", "spaces": 1}, 'every = "tile"'),
    ],
)
def test_refusals(more, said):
    assert said in refused(**more)


def test_half_tiles_of_odd_grids():
    grid = Grid(spaces=3, connectors=Connectors(kind="magnets", magnet_diameter=3.0, web=0.8))
    check_connectors(grid)
    assert module_of(grid) == grid.pitch / 2
    tile = make_tile("t", single_cell(Cell(), (1.5, 3.0)), grid)
    assert bare_words(tile.shape, grid, tile.base.foot) == ""


def plainly_counted(drawing, kit):
    """Seams between tiles, from the drawing's letters and the blocks alone."""
    rooms, block = drawing.rooms, kit.block
    left, top = ((-offset) % 2 if block == 2 else 0 for offset in kit.lattice)
    rows, columns = rooms.shape
    seams = 0
    for r in range(rows):
        for c in range(columns):
            for dr, dc in ((0, 1), (1, 0)):
                if r + dr < rows and c + dc < columns and rooms[r, c] and rooms[r + dr, c + dc]:
                    apart = (c + left) // block != (c + dc + left) // block or (r + top) // block != (
                        r + dr + top
                    ) // block
                    seams += apart
    return seams * round(drawing.cell_side / module_of(drawing.grid))


@pytest.mark.parametrize("plan", ["bell-foundry", "lamp-cellars"])
def test_a_key_for_every_seam(plan):
    drawing = read_plan(find(plan, "plans"), overrides={"connectors": "keys"})
    kit = make_kit(drawing)
    seams = count_seams(kit, drawing)
    assert seams == plainly_counted(drawing, kit)
    assert 0 < 2 * seams < count_seats(kit)
    plain = make_kit(read_plan(find(plan, "plans")))
    assert [t.count for t in plain.types] == [t.count for t in kit.types]
    assert not {t.tile.id for t in plain.types} & {t.tile.id for t in kit.types}


def test_one_key_for_each_side_of_a_tile(tmp_path):
    plan, tables = tmp_path / "two.toml", tmp_path / "grid.toml"
    plan.write_text(PLAN)
    tables.write_text('[connectors]\nkind = "keys"\nevery = "tile"\n')
    drawing = read_plan(plan, grid_file=tables)
    # Two rows of three tiles: four seams level, three upright.
    assert count_seams(make_kit(drawing), drawing) == 7


def test_slots_for_magnets_are_cut_out_of_board():
    grid = grid_with("slots", magnet_diameter=3.0)
    made = make_sheets([(make_tile("t", PLAIN, grid), 1)], read_material("greyboard"), read_machine("laser"))
    assert audit_sheets(made, sheet_files(made)) == []
    slotted = [part for part in made.parts if part.outline.interiors]
    # 3.1 mm deep: two layers of 2 mm, sixteen slots of 3.2 x 2.2 each.
    assert [(part.count, len(part.outline.interiors)) for part in slotted] == [(2, 16)]
    assert Polygon(slotted[0].outline.interiors[0]).area == pytest.approx(3.2 * 2.2)


def test_connectors_by_table_and_by_option():
    measures = Measures.model_validate({"connectors": {"kind": "magnets", "magnet_diameter": "3 mm"}})
    grid = make_grid(measures, "f")
    assert (grid.connectors.kind, grid.connectors.magnet_diameter) == ("magnets", 3.0)
    grid = make_grid(measures, "f", overrides={"connectors": "keys"})
    assert (grid.connectors.kind, grid.connectors.magnet_diameter) == ("keys", 3.0)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('kind = "glue"', "'none'"),
        ('kynd = "keys"', 'Did you mean "kind"?'),
        ('kind = "keys"\nkey_length = "long"', "connectors, key_length"),
        ('kind = "magnets"\nsurface_field = "much"', "kilogauss"),
        ('kind = "magnets"\nmagnet_diameter = "5 mm"', "7.00 mm"),
    ],
)
def test_bad_tables(table, said, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(f'name = "t"\n[tile]\nsize = [2, 2]\n[connectors]\n{table}\n')
    with pytest.raises(InputError) as caught:
        read_profile(path)
    assert "bad.toml" in str(caught.value)
    assert said in str(caught.value)


def test_a_refusal_writes_nothing(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('name = "t"\n[tile]\nsize = [2, 2]\n[connectors]\nmagnet_diameter = "5 mm"\n')
    done = run("tile", path, "-o", tmp_path / "out", "--connectors", "magnets")
    assert (done.returncode, done.stdout) == (2, "")
    assert "bad.toml: [connectors] magnet_diameter: found a pocket 5.20 mm high" in done.stderr
    assert not (tmp_path / "out").exists()


PLAN = 'name = "Two rooms"\ndrawing = """\nA A B\nA A B\n"""\n[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"\n'


def test_build_with_magnets(tmp_path):
    plan = tmp_path / "two.toml"
    plan.write_text(PLAN + "[connectors]\nsurface_field = 3\n")
    done = run("build", plan, "-o", tmp_path / "out", "--connectors", "magnets", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    # Six tiles, four sides, two pairs.
    assert document["connectors"]["magnets"] == 6 * 4 * 4
    assert document["connectors"]["spare"] == math.ceil(0.05 * 96)
    assert document["connectors"]["flux_index_kg2mm2"] == pytest.approx(9 * math.pi * 4)
    assert document["kit"]["totals"]["magnets"] == 96
    found = files_in(tmp_path / "out" / "two")
    assert {
        f"connectors/{n}" for n in ("seam.svg", "jig.svg", "jig.dxf", "jig.pdf", "polarity.svg", "polarity.png")
    } <= set(found)
    rows = list(csv.DictReader(io.StringIO(found["shopping.csv"].decode())))
    bought = next(row for row in rows if row["for"] == "connecting")
    # edges x pairs x 2 x 1.05, rounded up.
    assert bought["quantity"] == "101"
    assert '"disc magnets, 4 x 2 mm",,101' in found["kit.csv"].decode()
    page = found["report.html"].decode()
    assert "surgical emergency" in page
    assert "pacemakers" in page
    assert "113 kG2 mm2" in page


def test_build_with_keys(tmp_path):
    plan = tmp_path / "two.toml"
    plan.write_text(PLAN)
    words = ("--connectors", "keys", "--material", "greyboard", "--machine", "laser", "--json")
    done = run("build", plan, "-o", tmp_path / "out", *words)
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    # Seven seams of two spaces each; one spare in ten.
    assert document["kit"]["totals"]["keys"] == 14
    assert document["connectors"] == {"kind": "keys", "keys": 14, "spare": 2, "small_part": True}
    assert document["kit"]["pieces"] == []
    key = next(solid for solid in document["solids"] if solid["name"] == "seam-key")
    grid = grid_with("keys")
    assert key["closed"]
    assert key["volume_mm3"] == pytest.approx(make_key(grid).plates[0].foot.area * 3.0)
    found = files_in(tmp_path / "out" / "two")
    parts = found["sheets/greyboard-parts.csv"].decode()
    assert "seam key" in parts
    assert "16 CFR 1501" in found["report.html"].decode()
    jig = read(io.StringIO(found["connectors/jig.dxf"].decode()))
    assert jig.units == ezdxf.units.MM


@pytest.mark.parametrize("kind", ["keys", "pegs"])
def test_layers_are_cut_out(kind):
    """Bases of three layers of board: those below the floor carry the connectors, the floor is plain."""
    grid = grid_with(kind)
    tile = make_tile("t", PLAIN, grid)
    things = [(tile, 1)] if kind == "pegs" else [(tile, 1), (make_key(grid), 3)]
    made = make_sheets(things, read_material("greyboard"), read_machine("laser"))
    assert audit_sheets(made, sheet_files(made)) == []
    bases = [part for part in made.parts if part.role == "base"]
    plain = [part for part in bases if part.outline.equals(box(*part.outline.bounds))]
    cut = [part for part in bases if part not in plain]
    assert sum(part.count for part in bases) == 3
    assert sum(part.count for part in cut) == (1 if kind == "keys" else 2)
    region = shapely.union_all([m.region for m in tile.base.marks if m.on == "under"])
    area = tile.base.foot.area - region.area
    if kind == "pegs":
        area += 8 * (4 * 3 - 0.5 * 0.5)
    assert cut[0].outline.area == pytest.approx(area, abs=1e-6)
    if kind == "keys":
        assert sum(part.count for part in made.parts if part.role == "key") == 3


def test_foam_of_one_layer_says_what_to_do():
    made = make_sheets(
        [(make_tile("t", PLAIN, grid_with("keys")), 1)], read_material("foam"), read_machine("hand-knife")
    )
    assert any("hollow them out 3.3 mm deep" in note for note in made.notes)
    made = make_sheets(
        [(make_tile("t", PLAIN, grid_with("magnets")), 1)], read_material("foam"), read_machine("hand-knife")
    )
    assert any("bore 4.2 mm wide and 2.3 deep" in note for note in made.notes)


def test_a_machine_less_exact_than_the_pockets_is_told():
    tile = make_tile("t", PLAIN, grid_with("keys"))
    assert position_notes([(tile, 1)], "knife", 0.3)[0].endswith("position_error = 0.3 would do.")
    assert position_notes([(tile, 1)], "printer", 0.2) == []


@pytest.mark.parametrize("choice", ["magnets", "slots", "keys"])
def test_the_jig_lies_on_the_tile(choice):
    """Folded back along its crease the jig's holes are the pockets of every side."""
    grid = grid_with(choice)
    drawing = jig_drawing(grid)
    crease = next(s for s in drawing.strokes if s.layer == "CREASE").points
    (x0, fold), (x1, _) = crease
    assert x1 - x0 == pytest.approx(grid.tile_side - grid.joint_play)
    holes = [Polygon(s.points) for s in drawing.strokes if s.layer == "CUT_INNER"]
    base = make_tile("t", PLAIN, grid).base
    half = grid.half_play
    if choice == "magnets":
        # The north side, seen from outside: left is east.
        mark = next(m for m in base.marks if m.on == "rim" and m.edge[0][1] == m.edge[1][1] > 10)
        wanted = {
            (round(grid.tile_side - half - (mark.edge[0][0] + g.centroid.x), 3), round(g.centroid.y, 3))
            for g in mark.region.geoms
        }
        found = {(round(h.centroid.x - x0, 3), round(h.centroid.y - fold, 3)) for h in holes}
        assert found == wanted
    else:
        mark = next(m for m in base.marks if m.on == "under")
        north = [g for g in mark.region.geoms if g.centroid.y > grid.tile_side - 8]
        wanted = shapely.union_all(
            [
                Polygon([(grid.tile_side - half - x, -(grid.tile_side - half - y)) for x, y in g.exterior.coords])
                for g in north
            ]
        )
        found = shapely.union_all([shapely.affinity.translate(h, -x0, -fold) for h in holes])
        # Pockets that open towards the rim stop half a millimetre short of the crease.
        assert found.symmetric_difference(wanted).area <= 0.5 * sum(g.bounds[2] - g.bounds[0] for g in north)
        assert wanted.covers(found.buffer(-1e-6))


def test_safety_figures():
    # 16 CFR 1501.4: a cylinder 1.25 in (31.7 mm) wide, 1 to 2.25 in (25.4 to 57.1 mm) deep.
    assert is_small_part((25.4, 25.4, 6.0))
    assert is_small_part((31.0, 6.0, 57.0))
    assert is_small_part((57.0, 22.0, 22.0))
    assert not is_small_part((58.0, 5.0, 5.0))
    assert not is_small_part((40.0, 40.0, 3.0))
    # 16 CFR 1262: field in kG squared times the pole's area in mm2.
    assert flux_index(2.0, 4.0) == pytest.approx(50.265, abs=1e-3)


def test_cautions_say_what_the_magnets_reach():
    """16 CFR 1262: under 50 kG2 mm2. 4 mm at 2.0 kG are 50.27, at 1.99 kG 49.77 (worked by hand, formula as above)."""
    plain, _, toys = connector_cautions(grid_with("magnets", magnet_diameter=4.0))
    assert "surgical emergency" in plain
    assert "under 50 kG2 mm2" in toys
    assert "surface_field" in toys
    over = connector_cautions(grid_with("magnets", magnet_diameter=4.0, surface_field=2.0))[-1]
    assert "50 kG2 mm2 (2 kG on 4 mm), at or over the 50" in over
    under = connector_cautions(grid_with("magnets", magnet_diameter=4.0, surface_field=1.9))[-1]
    assert "45 kG2 mm2 (1.9 kG on 4 mm), under the 50" in under
    assert connector_cautions(Grid()) == ()
    assert connector_cautions(grid_with("pegs")) == ()


def test_keys_are_small_parts():
    grid = grid_with("keys")
    (words,) = connector_cautions(grid)
    assert "children under 3" in words
    # The key as made: its plate's own bounds and height.
    (plate,) = make_key(grid).plates
    west, south, east, north = plate.foot.bounds
    assert key_size(grid) == (east - west, north - south, plate.height)
