"""What may cut what, and what a material's file may say."""

from __future__ import annotations

import re

import pytest

from tilegen.errors import InputError
from tilegen.files.stock import check_pair, read_machine, read_material, verdict_of
from tilegen.files.toml import shipped
from tilegen.model.grid import Grid
from tilegen.sheets.make import make_sheets
from tilegen.tiles.shape import WALL, Cell, single_cell
from tilegen.tiles.tile import make_tile

PROCESSES = ("laser", "drag-knife", "hand-knife", "hot-wire")
# Common practice, no source, but for the laser: polystyrene foam, PVC and self-adhesive sheets are forbidden by U. Illinois
# Chicago (fab.cada.uic.edu) and U. Texas Austin (Prohibited Laser Cutter Materials); foam core is forbidden by U. Texas and
# Carnegie Mellon and allowed by Purdue, so it is asked about. Each row: at a thin and at a thick sheet, mm.
MATRIX = {
    "foam": {2: "block ask allow allow", 20: "block block allow allow", 25: "block block ask allow"},
    "eps": {5: "block ask allow allow", 6: "block block allow allow", 30: "block block ask allow"},
    "foam-core": {3: "ask allow allow block", 10: "ask allow allow block"},
    "eva": {2: "ask allow allow ask", 10: "ask allow allow ask"},
    "card": {0.3: "allow allow allow block", 0.5: "allow allow allow block"},
    "thin-card": {0.2: "allow allow allow block", 0.3: "allow allow allow block"},
    "greyboard": {1.5: "allow allow allow block", 2: "allow ask allow block", 3: "allow ask ask block"},
    "mdf": {2: "allow block ask block", 3: "allow block block block"},
    "plywood": {1.5: "allow block ask block", 3: "allow block block block"},
    "cork": {2: "allow allow allow block", 6: "allow allow allow block"},
    "pvc": {2: "block allow allow block", 5: "block allow allow block"},
}


def test_every_shipped_material_is_in_the_matrix():
    assert {path.stem for path in shipped("materials").glob("*.toml")} == set(MATRIX)


def test_matrix():
    for name, rows in MATRIX.items():
        material = read_material(name)
        assert set(material.process) == set(PROCESSES)
        for thickness, row in rows.items():
            stock = material.model_copy(update={"thickness": float(thickness)})
            for process, expected in zip(PROCESSES, row.split(), strict=True):
                machine = read_machine(process)
                verdict = verdict_of(stock, machine)
                assert verdict.verdict == expected, (name, thickness, process)
                if expected == "allow":
                    check_pair(stock, machine)
                    continue
                # The reason and the way out are in words; nothing lifts a block, only its caution's name an ask.
                assert verdict.why
                assert verdict.instead
                with pytest.raises(InputError) as caught:
                    check_pair(stock, machine, None if expected == "ask" else f"{verdict.caution}, {name}")
                assert verdict.why in str(caught.value)
                assert caught.value.exit_code == 2
                if expected == "ask":
                    with pytest.raises(InputError, match=re.escape(f'--accept "{verdict.caution}"')):
                        check_pair(stock, machine, name)
                    check_pair(stock, machine, f"thing, {verdict.caution.upper()}")


# What each list says of a laser, as read on stored copies of the pages: ours may be stricter, never laxer.
LISTS = {
    "U. Texas Austin, Prohibited Laser Cutter Materials": ("never", ["pvc", "foam", "eps", "foam-core"]),
    "U. Illinois Chicago, Approved Materials, what is prohibited": ("never", ["pvc", "foam", "eps"]),
    "Carnegie Mellon, IDeATe laser policy, 2017": ("never", ["pvc", "foam-core"]),
    "U. Illinois Chicago, Approved Materials": ("yes", ["cork", "plywood", "card", "greyboard"]),
    "Purdue BIDC, pre-approved, with others forbidding it": ("asked about", ["foam-core"]),
}


@pytest.mark.parametrize("source", LISTS)
def test_the_laser_keeps_to_the_lists_of_those_who_let_others_use_theirs(source):
    said, names = LISTS[source]
    for name in names:
        verdict = verdict_of(read_material(name), read_machine("laser")).verdict
        assert verdict in {"never": ("block", "ask"), "yes": ("allow",), "asked about": ("ask",)}[said], name


def test_no_file_can_allow_pvc_or_a_sticky_sheet_on_a_laser():
    laser, wire = read_machine("laser"), read_machine("hot-wire")
    card = read_material("card")
    for material, machine in (
        (card.model_copy(update={"family": "pvc"}), laser),
        (read_material("foam").model_copy(update={"family": "pvc"}), wire),
        (read_material("cork").model_copy(update={"adhesive_backed": True}), laser),
    ):
        assert verdict_of(material, machine).verdict == "block"
        with pytest.raises(InputError, match=r"hydrogen chloride|self-adhesive"):
            check_pair(material, machine, "anything")
    tile = make_tile("t", single_cell(Cell((WALL,) * 4), (2, 2)), Grid())
    with pytest.raises(InputError, match="hydrogen chloride"):
        make_sheets([(tile, 1)], read_material("pvc"), laser)


def test_files_hold_no_settings_and_say_where_figures_come_from():
    """Never a power, a speed or a temperature; each line with a length has a comment or names its source elsewhere."""
    for name in MATRIX:
        text = (shipped("materials") / f"{name}.toml").read_text()
        assert not re.search(r"\d+ ?(W|%|mm/s|°|deg C|C)\b", text)
        for line in text.splitlines():
            if re.match(r'^[a-z_]+ *= *(\[?"[\d.]+ mm"|[\d.]+( |$))', line):
                assert "#" in line, line


@pytest.mark.parametrize("name", MATRIX)
def test_every_material_makes_a_kit(name):
    grid = Grid(wall_thickness=12, pitch=60, base_depth=10)
    tile = make_tile("t", single_cell(Cell((WALL,) * 4), (2, 2)), grid)
    material = read_material(name)
    if name == "eps":
        material = material.model_copy(update={"thickness": 10.0})
    made = make_sheets([(tile, 3)], material, read_machine("hand-knife" if name not in ("mdf", "plywood") else "laser"))
    assert made.parts
    assert made.constructions[0].word == {"card": "folded", "thin-card": "folded", "foam-core": "grooved"}.get(
        name, "stacked"
    )


# A reading further off than half of the thickness as sold is taken for a slip of the pen; boards of class T1 may be 2 mm
# off below 50 mm (insulation makers' data sheets), which a sheet of 4 mm or more may be here.
def test_measured_thickness(tmp_path):
    for measured, fine in [
        ("4.1 mm", True),
        ("2 mm", True),
        ("6 mm", True),
        ("1.9 mm", False),
        ("6.1 mm", False),
        ("0 mm", False),
        ("41 mm", False),
    ]:
        path = tmp_path / "mine.toml"
        path.write_text(
            f'name = "mine"\ntitle = "mine"\nthickness = "4 mm"\nmeasured = "{measured}"\nleast_lintel = 6\nleast_strip = 5\n'
            'sheet = { size = ["600 mm", "300 mm"] }\n'
        )
        if fine:
            assert read_material(path).real_thickness == pytest.approx(float(measured.split()[0]))
        else:
            with pytest.raises(InputError, match=r"a sheet sold as 4 mm can't measure .*2 to 6 mm"):
                read_material(path)
