"""Tabs, slots and fingers: parts read back from their drawings close to the tile in 3D, without force.

Nothing here asks the maker how a joint is made: outlines come from the written DXF, less the kerf, and are put where
the tile has its walls; each becomes a solid as thick as the sheet measures.
"""

from __future__ import annotations

import io
import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
import shapely.affinity
from ezdxf.filemanagement import read
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, FillRule, Manifold, OpType
from shapely.geometry import Polygon

from tests.strategies import outline_tables, profile_tables
from tilegen.errors import InputError
from tilegen.files.profiles import profile_of, read_profile
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.model.grid import Grid
from tilegen.model.materials import Stock
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.parts import list_parts
from tilegen.tiles.shape import OPEN, WALL, Cell, CellShape, OutlineShape, single_cell
from tilegen.tiles.tile import make_plates, make_tile
from tilegen.tiles.walls import printed_band

GRID = Grid()
SLOTTED = ConstructionChoice("slotted")
# What floats leave in a volume of contact.
TOUCHING_MM3 = 1e-3


@pytest.fixture(autouse=True)
def plain_nests(monkeypatch):
    """How close odd outlines can be packed is tested elsewhere, and takes long."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)


def room(grid=GRID):
    return make_tile("room", single_cell(Cell((WALL,) * 4), (2, 2)), grid)


def tee(grid=GRID):
    """Two squares of one space beside each other below a wall that runs over both; a wall of each stands between."""
    west, east = Cell((WALL, WALL, OPEN, OPEN)), Cell((WALL, OPEN, OPEN, WALL))
    return make_tile("tee", CellShape((1, 1), (2,), (((0, 0), west), ((1, 0), east))), grid)


TILES = {
    "corner": lambda: read_profile(find("corner", "profiles")),
    "corridor with a doorway": lambda: make_tile("corridor", _corridor(), GRID),
    "door": lambda: read_profile(find("door", "profiles")),
    "tee": tee,
    "room": room,
}


def _corridor():
    door = read_profile(find("door", "profiles")).shape.cells[0][1].sides[0]
    return single_cell(Cell((OPEN, door, OPEN, WALL)), (2, 2))


def drawn_outlines(made, kerf):
    """Every part that the written DXF cuts out, less what the cut takes: a multiset of regions."""
    files, found = sheet_files(made), []
    for sheet in made.sheets:
        space = read(io.StringIO(files[f"{sheet.name}.dxf"].decode())).modelspace()
        lines = {layer: [] for layer in ("CUT_OUTER", "CUT_INNER")}
        for line in space.query("LWPOLYLINE"):
            if line.dxf.layer in lines:
                assert line.closed
                lines[line.dxf.layer].append(Polygon([(x, y) for x, y, *_ in line.get_points()]))
        for outer in lines["CUT_OUTER"]:
            holes = [hole.exterior.coords for hole in lines["CUT_INNER"] if outer.contains(hole)]
            found.append(Polygon(outer.exterior.coords, holes).buffer(-kerf / 2, join_style="mitre", mitre_limit=9))
        assert sum(len(region.interiors) for region in found) >= len(lines["CUT_INNER"])
    return found


def taken(outlines, flat):
    """The drawn outline that a flat part is, turned the way the part lies; it is used up."""
    for number, outline in enumerate(outlines):
        for turn in range(4):
            turned = shapely.affinity.rotate(outline, 90 * turn, origin=(0, 0))
            west, south, *_ = turned.bounds
            lying = shapely.affinity.translate(turned, -west, -south)
            if lying.symmetric_difference(flat.outline).area < 1e-2:
                del outlines[number]
                return lying
    raise AssertionError("a part that no sheet has")


def solid(region, thickness, columns, origin):
    """A region extruded. columns: where its x, its y and its thickness point to."""
    rings = [np.array(ring.coords)[:-1] for ring in (region.exterior, *region.interiors)]
    made = Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), thickness)
    (xx, xy, xz), (yx, yy, yz), (zx, zy, zz) = columns
    return made.transform(np.array([[xx, yx, zx, origin[0]], [xy, yy, zy, origin[1]], [xz, yz, zz, origin[2]]]))


def closed_up(tile, material, machine, sheet=None):
    """The solids of a tile put together from its drawings, the floor's face at z = 0; sheets as thick as they measure."""
    made = make_sheets([(tile, 1)], material, machine, SLOTTED)
    outlines = drawn_outlines(made, made.kerf)
    laid = construction_of(tile.grid, material, SLOTTED).lay(tile)
    solids = list(posed(laid, material, sheet or material.real_thickness, lambda flat: taken(outlines, flat)))
    assert not outlines
    return solids


def posed(laid, material, sheet, outline_of):
    """Every layer of a tile's base and straight walls as a solid in its place, from its outline and its pose alone."""
    glue, plates = material.glue_line, {plate.name: plate for plate in laid.plates}
    top = max(plate.top for plate in laid.plates if plate.role == "base")
    depth: dict[str, float] = {}
    # A floor's top layer lies first, as it is listed last.
    for flat in [each for each in laid.flats if each.role == "base"][::-1]:
        plate = plates[flat.plate]
        for _ in range(flat.layers):
            region, under = outline_of(flat.flat), depth.get(plate.name, 0.0)
            if plate.top == top:
                west, south, *_ = plate.foot.bounds
                yield flat, solid(region, sheet, np.eye(3), (west, south, -under - sheet))
            depth[plate.name] = under + sheet + glue
    outer: dict[tuple, float] = {}
    for flat in laid.flats:
        if flat.role not in ("wall", "post") or flat.pose is None or plates[flat.plate].bend is not None:
            continue
        plate, (dx, dy) = plates[flat.plate], flat.pose.direction
        along, inward = np.array([dx, dy]), np.array([dy, -dx])
        start = np.array(flat.pose.start)
        # Layers that are alike lie on each other; plain board gives all of a wall the pose of its outer face.
        key = (flat.plate, *np.round(start, 4))
        more = sheet - material.real_thickness
        for _ in range(flat.layers):
            region, deep = outline_of(flat.flat), outer.get(key, 0.0)
            _, _, width, high = region.bounds
            at = start + inward * (deep - more / 2)
            if not flat.flat.shown:
                # Drawn from outside.
                region = shapely.affinity.translate(shapely.affinity.scale(region, -1, 1, origin=(0, 0)), width, 0)
            columns = (np.array([*along, 0.0]), np.array([0.0, 0.0, 1.0]), np.array([*inward, 0.0]))
            made = solid(region, flat.thickness + more, columns, (*at, plate.top - top - high))
            if flat.form != "with tabs" and (
                any(flat.pose.bevels) or plate.foot.area < 0.999 * plate.length * plate.thickness
            ):
                # A bevelled end is cut after gluing, along the tile's own foot.
                made ^= solid(plate.foot, 2 * plate.height, np.eye(3), (0, 0, -plate.height / 2))
            yield flat, made
            outer[key] = deep + flat.thickness + more + glue


def interference(one, other):
    return (one ^ other).volume()


# Stock, machine, by how much a sheet measures more than it is sold as.
STOCK = [
    ("mdf", "laser", 0.1),
    ("plywood", "laser", -0.1),
    ("greyboard", "laser", 0.0),
    ("greyboard", "hand-knife", -0.1),
    ("greyboard", "drag-knife", 0.1),
    ("foam-core", "hand-knife", -0.1),
    ("foam", "hot-wire", 0.1),
]


@pytest.mark.parametrize(("stock", "machine", "measured"), STOCK)
def test_joints_close_without_force(stock, machine, measured):
    material = read_material(stock)
    # All doorways with their lintels, as the walls that are compared with have.
    material = material.model_copy(update={"measured": material.thickness + measured, "least_lintel": 0.0})
    for name, make in TILES.items():
        if name == "tee" and material.thickness > GRID.wall_thickness / 2:
            continue  # Walls of one layer, back to back, leave nothing between two slots.
        tile = make()
        solids = closed_up(tile, material, read_machine(machine))
        for (_, one), (_, other) in combinations(solids, 2):
            assert interference(one, other) < TOUCHING_MM3, name
        cores = [flat for flat, _ in solids if flat.form == "with tabs"]
        assert len({flat.plate for flat in cores}) == sum(plate.role == "wall" for plate in tile.plates), name
        # Board that is thicker than the wall stands further in, as a note says.
        layers = round(tile.grid.wall_thickness / material.thickness)
        thick = layers * material.real_thickness + (layers - 1) * material.glue_line
        lost = max(0.0, thick - tile.grid.wall_thickness + tile.grid.half_play)
        notes = " ".join(note.text for note in list_parts([(tile, 1)], material, SLOTTED).notes)
        assert ("each wall stands" in notes) == (lost > 0.005), notes
        _check_faces(tile, solids, lost)
        _check_play(solids, material, name)


def _check_faces(tile, solids, lost):
    """Seen from above, the walls leave the room that the printed tile leaves, but for what thick board takes of it."""
    base, *standing = make_plates(tile.shape, tile.grid, printed_band(tile.grid))
    high = tile.grid.wall_height - 1.0
    feet = []
    for flat, made in solids:
        if flat.role != "base":
            rings = made.slice(high).to_polygons()
            feet += [Polygon(ring) for ring in rings]
    built = shapely.union_all(feet).buffer(0.06, join_style="mitre").buffer(-0.06, join_style="mitre")
    rooms = [base.foot.difference(cover) for cover in (built, shapely.union_all([p.foot for p in standing]))]
    # Behind the walls there is a gap where the stock is thinner; a room is wider than 5 mm.
    made, wanted = (room.buffer(-2.5).buffer(2.5, join_style="mitre").intersection(room) for room in rooms)
    inside = wanted.buffer(-0.5)
    parts = [part for part in getattr(made, "geoms", [made]) if part.intersects(inside)]
    made = shapely.union_all(parts)
    assert made.buffer(0.01, join_style="mitre").covers(wanted.buffer(-lost, join_style="mitre"))
    assert wanted.buffer(0.01, join_style="mitre").covers(made)


def _check_play(solids, material, name):
    """Every core moves in the floor as far as the fit says and no further, across the wall and along it."""
    flat_floor, floor = next(each for each in solids if each[0].role == "base" and each[0].flat.shown)
    for flat, core in solids:
        if flat.form == "with tabs" and flat.role == "wall":
            dx, dy = flat.pose.direction
            # Of stock as thick as the wall, slots are notches in the floor's edge: nothing holds outwards.
            outward = [(-dy, dx)] if flat_floor.flat.outline.interiors else []
            for way in ((dx, dy), (-dx, -dy), (dy, -dx), *outward):
                free, stuck = (np.array([*way, 0.0]) * share * material.slot_fit / 2 for share in (0.98, 1.4))
                assert interference(core.translate(free), floor) < TOUCHING_MM3, name
                assert interference(core.translate(stuck), floor) > TOUCHING_MM3, name


def test_a_sheet_that_is_thicker_than_it_was_measured_by_the_fit_still_goes_in():
    material, machine = read_material("mdf"), read_machine("laser")
    for sheet in (material.thickness - 0.1, material.thickness + material.slot_fit):
        solids = closed_up(room(), material, machine, sheet)
        (floor,) = [made for flat, made in solids if flat.role == "base" and flat.flat.shown]
        for flat, core in solids:
            if flat.form == "with tabs":
                assert interference(core, floor) < TOUCHING_MM3


def test_walls_of_a_room_hold_each_other():
    """Joined cores can be pushed on from outside one by one, and move no other way."""
    solids = closed_up(room(), read_material("mdf"), read_machine("laser"))
    cores = [(flat, made) for flat, made in solids if flat.form == "with tabs"]
    assert len(cores) == 4
    for flat, core in cores:
        others = Manifold.batch_boolean([made for one, made in cores if one is not flat], OpType.Add)
        dx, dy = flat.pose.direction
        for way in ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (dx, dy, 0.0), (-dx, -dy, 0.0), (dy, -dx, 0.0)):
            assert interference(core.translate(way), others) > 1.0
        for far in np.arange(0.0, 8.0, 0.5):
            assert interference(core.translate((-dy * far, dx * far, 0.0)), others) < TOUCHING_MM3


def _closes(tables, stock, corners):
    """A tile builds, or is refused with place and cure; what is built goes together without force. How many cores."""
    tile = profile_of(tables)
    choice, refused = ConstructionChoice("slotted", corners), None
    try:
        listed = list_parts([(tile, 1)], stock, choice)
    except InputError as error:
        refused = error
    if refused:
        assert refused.cure
        return 0
    laid = listed.constructions[0].lay(tile)
    if len({plate.name for plate in laid.plates}) < len(laid.plates):
        return 0
    solids = [
        (flat, made)
        for flat, made in posed(laid, stock.walls, stock.walls.real_thickness, lambda flat: flat.outline)
        if flat.role != "base" or flat.flat.shown
    ]
    # Odd outlines lie on a grid of a micrometre: faces that touch may overlap by that.
    allowed = TOUCHING_MM3 if tile.on_grid else 2e-3 * tile.grid.wall_height * 60
    for (a, one), (b, other) in combinations(solids, 2):
        assert interference(one, other) < allowed, (a.plate, a.layer, b.plate, b.layer)
    return sum(flat.form == "with tabs" for flat, _ in solids)


@pytest.mark.parametrize(("tables", "number", "least"), [(profile_tables(), 25, 1), (outline_tables(), 12, 0)])
def test_whatever_a_tile_is_its_parts_go_together(tables, number, least):
    cores = 0

    @settings(max_examples=number, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tables, st.sampled_from(["mdf", "plywood", "greyboard", "foam", "eva"]), st.sampled_from([2.0, 3.0, 4.0, 6.0]),
           st.sampled_from([0.0, 0.1, 0.3]), st.sampled_from(["butt", "pinwheel", "mitre"]),
           st.sampled_from([None, None, "card"]))  # fmt: skip
    def one(tables, name, thickness, fit, corners, skin):
        nonlocal cores
        given = {"thickness": thickness, "slot_fit": fit}
        try:
            profile_of(tables)
        except InputError:
            return
        board = read_material(name).model_copy(update=given)
        cores += _closes(tables, Stock(board, board, read_material(skin) if skin else None), corners)

    one()
    # Which tiles are drawn depends on the modules that are loaded: hypothesis takes numbers from them.
    assert cores >= least


def test_thin_board_is_refused_with_a_cure():
    thin = read_material("greyboard").model_copy(update={"thickness": 1.5})
    with pytest.raises(InputError, match=r"2 mm or more.*Use thicker board, or --construction stacked"):
        list_parts([(room(), 1)], thin, SLOTTED)
    # Sold as 2 mm, it may measure less.
    list_parts([(room(), 1)], thin.model_copy(update={"thickness": 2.0, "measured": 1.9}), SLOTTED)


def test_what_can_not_interlock_is_glued():
    """A hexagon's walls meet at 120 degrees: tabs, but no fingers. A post is too short for a tab."""
    points = tuple(
        (100 + 90 * math.cos(math.radians(-60 * k)), 100 + 90 * math.sin(math.radians(-60 * k))) for k in range(6)
    )
    hexagon = make_tile("hexagon", OutlineShape(points, (1, 2, 3, 4)), GRID)
    laid = construction_of(GRID, read_material("mdf"), SLOTTED).lay(hexagon)
    cores = [flat for flat in laid.flats if flat.form == "with tabs"]
    lengths = {plate.name: plate.length for plate in laid.plates if plate.role == "wall"}
    assert len(cores) == 4
    assert all(flat.flat.outline.bounds[2] <= lengths[flat.plate] + 1e-6 for flat in cores)
    post = make_tile("post", single_cell(Cell((OPEN,) * 4, (True, False, False, False)), (2, 2)), GRID)
    assert not any(flat.form for flat in construction_of(GRID, read_material("mdf"), SLOTTED).lay(post).flats)


def test_a_narrow_tile_of_thick_walls_is_refused():
    narrow = make_tile(
        "narrow", single_cell(Cell((WALL, OPEN, WALL, OPEN)), (2, 0.5)), replace(GRID, wall_thickness=6.0)
    )
    for way in ("stacked", "slotted"):
        thick = read_material("mdf").model_copy(update={"thickness": 9.0})
        with pytest.raises(InputError, match="leave no room"):
            list_parts([(narrow, 1)], thick, ConstructionChoice(way))


def test_slots_are_drawn_closed_and_before_outlines():
    """In the written DXF: as wide as the sheet and the fit, less the kerf on both sides; the kerf counts once."""
    material, machine = read_material("mdf"), read_machine("laser")
    made = make_sheets([(room(), 1)], material, machine, SLOTTED)
    files = sheet_files(made)
    lines = list(read(io.StringIO(files["mdf-01.dxf"].decode())).modelspace().query("LWPOLYLINE"))
    order = [line.dxf.layer for line in lines if line.dxf.layer in ("CUT_INNER", "CUT_OUTER")]
    slots = [line for line in lines if line.dxf.layer == "CUT_INNER"]
    assert order.index("CUT_OUTER") > order.index("CUT_INNER")
    assert len(slots) == 8
    for line in slots:
        xs, ys = zip(*[(x, y) for x, y, *_ in line.get_points()], strict=True)
        sides = sorted((max(xs) - min(xs), max(ys) - min(ys)))
        # A tab is four sheets long.
        assert line.closed
        assert sides == pytest.approx([3.0 + 0.1 - 0.15, 12.0 + 0.1 - 0.15])
