"""Hollows on a resin printer: found, told, drained."""

import pytest
from manifold3d import Manifold

from tests.calling import call
from tests.rereading import read_stl
from tests.unit.test_solids import TILES
from tilegen.errors import InputError
from tilegen.files.stock import read_printer
from tilegen.model.grid import Grid
from tilegen.solids.build import build_solid, to_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.printing import as_printed, hollow_notes, hollows_of, vent, vented
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

RESIN = read_printer("resin-190")
DOORWAY = Side("doorway", make_opening(63.5, Grid()))


def block_less(*cubes):
    solid = Manifold.cube((40, 40, 20))
    for size, place in cubes:
        solid -= Manifold.cube(size).translate(place)
    return solid


VOID = ((30, 30, 10), (5, 5, 5))
BELL = ((30, 30, 11), (5, 5, -1))
CUP = ((30, 30, 11), (5, 5, 10))
NOTCH = ((30, 60, 10), (5, 20, 5))
SHALLOW = ((30, 30, 1), (5, 5, 19.4))
PINHOLE = ((1, 1, 7), (20, 20, -1))


def test_hollows_by_how_they_are_shut():
    for cubes, kinds, volumes in [
        ((), [], []),
        ((VOID,), ["void"], [9000]),
        ((BELL,), ["bell"], [9000]),
        ((CUP,), ["cup"], [9000]),
        ((NOTCH,), [], []),
        ((SHALLOW,), [], []),
        ((((8, 8, 6), (5, 5, -1)), ((8, 8, 8), (25, 25, 13))), ["bell", "cup"], [320, 448]),
        ((VOID, PINHOLE), ["bell"], [9000]),
    ]:
        found = hollows_of(block_less(*cubes))
        assert [h.kind for h in found] == kinds
        assert [h.volume for h in found] == pytest.approx(volumes, rel=2e-2)


def test_vents_drain_them():
    """At least two holes to a hollow, 3 mm wide (common practice, no source)."""
    for cube in [VOID, BELL, CUP, ((8, 8, 6), (16, 16, -1)), ((6, 6, 8), (30, 30, 13))]:
        solid = block_less(cube)
        (hollow,) = hollows_of(solid)
        made = vented(solid, [hollow], RESIN)
        assert hollows_of(made) == []
        assert len(made.decompose()) == 1
        # A void in a block is a second shell; a hole into it joins the two, and each further one is a handle.
        assert made.genus() == (1 if hollow.kind == "void" else 2)
        assert read_stl(stl_bytes(to_mesh("t", made)))


def test_a_hollow_too_low_for_a_hole():
    solid = block_less(((30, 30, 1.4), (5, 5, 5)))
    with pytest.raises(InputError, match=r"^t: a hollow 1\.4 mm high"):
        vented(solid, hollows_of(solid), RESIN, "t")


def test_a_vent_is_nowhere_narrower_than_its_width():
    solid = vent((0, 0), (10, 0), 5.0, 3.0)
    (west, south, low, east, north, high) = solid.bounding_box()
    assert (west, east) == pytest.approx((0, 10))
    assert min(north - south, high - low) >= 3.0
    assert (low + high) / 2 == pytest.approx(5.0)
    turned = vent((0, 0), (0, -10), 5.0, 3.0).bounding_box()
    assert (turned[1], turned[4]) == pytest.approx((-10, 0), abs=1e-9)


def test_a_tile_walled_all_round_is_a_cup():
    for sides, kinds in [
        ((WALL,) * 4, ["cup"]),
        ((WALL, WALL, WALL, OPEN), []),
        ((DOORWAY, WALL, WALL, WALL), []),
        ((OPEN,) * 4, []),
    ]:
        tile = make_tile("t", single_cell(Cell(sides), (2, 2)), Grid())
        assert [h.kind for h in hollows_of(build_solid("t", tile.plates))] == kinds


def test_shipped_tiles_are_told_of_only_if_they_are_closed():
    for name in [n for n in TILES if n.startswith("bell-foundry/")]:
        mesh, notes = as_printed(name, TILES[name].plates, RESIN)
        assert mesh.volume == pytest.approx(TILES[name].volume, rel=1e-9)
        assert notes == []


def test_the_note_says_what_to_do_and_the_file_can_do_it(tmp_path):
    shut = tmp_path / "shut.toml"
    shut.write_text('name = "shut"\n[tile]\nsize = [2, 2]\nwalls = ["north", "east", "south", "west"]\n')
    told = call("solid", shut, "-o", tmp_path, "--printer", "resin-190").stderr
    assert "shut has a cup while it prints" in told
    assert "2 holes of 3 mm" in told
    done = call("solid", shut, "-o", tmp_path, "--printer", "resin-190, resin.vents=true", "--verbose")
    assert "side holes let the resin out of 1 hollow" in done.stdout
    assert "closed" in done.stdout
    assert hollow_notes("t", [], RESIN) == []
    done = call("solid", shut, "-o", tmp_path)
    assert "cup" not in done.stdout + done.stderr
