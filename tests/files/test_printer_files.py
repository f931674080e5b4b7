"""Printer files: every number visible and sourced, what is wrong with one, what a user sees of it."""

import json

import pytest

from tests.calling import call
from tests.plans import PLAIN_FLOOR
from tests.unit.test_printers import FDM, RESIN
from tilegen.errors import InputError
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_printer
from tilegen.files.toml import shipped
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Grid
from tilegen.model.printers import PrinterFile
from tilegen.solids.checks import lintel_notes
from tilegen.solids.printing import chamfer_of, snapped
from tilegen.tiles.connectors.kind import clearance_of
from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile


@pytest.mark.parametrize("path", sorted(shipped("printers").glob("*.toml")), ids=lambda p: p.stem)
def test_every_number_of_a_shipped_printer_is_visible_and_says_where_it_is_from(path):
    text = path.read_text()
    printer = read_printer(str(path))
    hidden = {"resin" if printer.process == "fdm" else "filament"} | ({"brim"} if printer.process == "resin" else set())
    for key, value in printer.model_dump().items():
        if key in hidden:
            continue
        assert key in text, key
        for inner in value if isinstance(value, dict) else ():
            assert f"\n{inner} " in text, f"{key}.{inner}"
    # A key whose figure has no words beside it stands in a table whose heading has them.
    table_says = False
    for line in text.splitlines():
        if line.startswith("["):
            table_says = "#" in line
        elif "=" in line and line[0].isalpha() and "[" not in line.split("=")[1][:3]:
            key = line.split("=")[0].strip()
            assert key in ("name", "title", "process") or "#" in line or table_says, line


def test_what_a_file_leaves_out_comes_from_its_process():
    """Resin: half of filament's clearance (common practice, no source)."""
    bare = PrinterFile.model_validate({"name": "r", "title": "r", "process": "resin", "bed": (100, 100), "height": 100})
    assert bare.clearance.slip == FDM.clearance.slip / 2 == RESIN.clearance.slip
    part = {"name": "r", "title": "r", "process": "resin", "bed": (9, 9), "height": 9, "clearance": {"loose": "1 mm"}}
    assert PrinterFile.model_validate(part).clearance.press == RESIN.clearance.press
    assert PrinterFile.model_validate(part).clearance.loose == 1.0


def test_clearances_lie_in_the_published_bands():
    """printparams.com, "Designing for real-world fit", per side: press .1-.15, sliding .2-.3, loose .3-.5."""
    c = FDM.clearance
    assert 0.1 <= c.press <= 0.15
    assert 0.2 <= c.slip <= 0.3
    assert 0.3 <= c.loose <= 0.5
    # What slides in a tile if nothing else is said: a leaf in its groove, a peg in its socket.
    assert 0.2 <= Grid().door.gap <= 0.3
    assert 0.3 <= clearance_of(Grid(connectors=Connectors("pegs"))) <= 0.5
    assert [FDM.clearance_of(f) for f in ("press", "snug", "slip", "loose")] == [c.press, c.snug, c.slip, c.loose]


def test_clearances_are_absolute_in_the_written_file():
    shrinking = read_printer("fdm-220, shrink.x=0.02, shrink.y=0.02")
    assert shrinking.clearance_of("slip") * shrinking.scale[0] == pytest.approx(0.25, abs=1e-12)


def test_settings_after_a_name():
    printer = read_printer("fdm-220, layers.height=0.1, snap_heights=true, bottom_chamfer=0.4 mm")
    assert (printer.layers.height, printer.snap_heights, printer.bottom_chamfer) == (0.1, True, 0.4)
    assert (FDM.snap_heights, FDM.bottom_chamfer, FDM.scale) == (False, 0.0, (1.0, 1.0, 1.0))


def test_wrong_printers_say_what_is_wrong():
    for word, told in [
        ("fdm-221", 'id you mean "fdm-220"'),
        ("fdm-220, snap_hights=true", 'id you mean "snap_heights"'),
        ("fdm-220, snap_heights", '"snap_heights" is not a setting. Write a key and a value'),
        ("fdm-220, layers.height=0 mm", "[layers] height: 0 mm is too small"),
        ("fdm-220, layers.height=0.6", "at most 0.4 mm"),
        ("fdm-220, clearance.press=0.3 mm", "each at least as wide as the one before it"),
        ("fdm-220, margin=110 mm", "leaves nothing of a bed of 220 x 220 mm"),
        ("fdm-220, brim=-1 mm", "brim"),
        ("fdm-220, name.x=1", "name has no keys of its own"),
        ("fdm-220, resin.waste=0.2", "Use the [filament] settings"),
        ("resin-190, filament.line=0.4", "Use the [resin] settings"),
        ("fdm-220, shrink.x=0.5", "shrink"),
        ("fdm-220, filament.line=2 mm", "lines 2 mm wide"),
        ("fdm-220, height=nan", "height"),
    ]:
        with pytest.raises(InputError) as caught:
            read_printer(word)
        assert told in str(caught.value)
        assert caught.value.cure


def test_plain_runs_keep_the_contract_s_volumes_and_ready_ones_do_not(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text('name = "t"\n[floor]\nlines = false\n[tile]\nsize = [2, 2]\nwalls = ["north", "west"]\n')

    def made(*more):
        done = call("solid", path, "-o", tmp_path, "--json", *more)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    for more in ((), ("--printer", "fdm-220"), ("--printer", "resin-190")):
        assert made(*more)["solids"][0]["volume_mm3"] == pytest.approx(53757.068, abs=5e-3)
    assert any("6.35 mm to 6.4 mm" in note for note in made()["notes"])
    solid = made("--printer", "fdm-220, snap_heights=true, bottom_chamfer=0.4 mm")["solids"][0]
    tile = make_tile("t", single_cell(Cell((WALL, OPEN, OPEN, WALL)), (2, 2)), PLAIN_FLOOR)
    expected = sum(p.volume for p in snapped(tile.plates, FDM.layers)) - chamfer_of(tile.base.foot, 0.4).volume
    assert solid["volume_mm3"] == pytest.approx(expected, rel=1e-9)
    assert solid["size_mm"][2] == pytest.approx(44.4)


def test_what_a_printer_cannot_make_is_refused_and_nothing_is_written(tmp_path):
    for words, told in [
        (("corner", "--wall", "0.9 mm"), "corner has a wall 0.75 mm thick"),
        (("corner", "--printer", 'fdm-220, bed=["60 mm", "60 mm"]'), "setting"),
        (("corner", "--height", "300 mm"), "printer fdm-220 has room for 210 x 210 x 250 mm"),
        (("corner", "--printer", "no-such"), 'there is no printer called "no-such"'),
        (("corner", "--printer", "fdm-220, filament.perimeters=3"), "perimeters"),
    ]:
        done = call("solid", *words, "-o", tmp_path / "out")
        assert done.returncode == 2
        assert told in done.stderr
        assert not (tmp_path / "out").exists()


def test_a_part_larger_than_the_bed_as_a_user_sees_it(tmp_path):
    done = call("build", "bell-foundry", "--pitch", "110 mm", "-o", tmp_path / "out")
    assert done.returncode == 2
    assert "part corridor is 219.7 x 219.7 x 44.5 mm, and" in done.stderr
    assert "printer fdm-220 has room for 210 x 210 x 250 mm" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_doorways_as_wide_as_the_default_print_without_support(tmp_path):
    """3D Orchard, "Designing gaps and bridges": 25 to 35 mm sags by 0.1 to 0.5 mm, 36 to 60 mm by 0.5 to 2 mm."""

    def notes(words):
        path = tmp_path / "t.toml"
        path.write_text(
            f'name = "t"\n[tile]\nsize = [2, 2]\nwalls = ["north"]\n[[opening]]\nwall = "north"\nkind = "doorway"\n{words}'
        )
        tile = read_profile(path)
        return lintel_notes([(tile.name, tile.plates)], FDM)

    assert not notes("")
    assert not notes("width = 35")
    assert "support" in notes("width = 36")[0].words
