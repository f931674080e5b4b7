"""What a build is asked to make: sheets or solids alone, sheets of another thickness, stock by another name."""

import json

import pytest

from tests.calling import call

PLAN = 'name = "p"\ndrawing = "AA"\n[[way]]\ncell = [1, 1]\nside = "west"\nkind = "doorway"\n'


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "p.toml").write_text(PLAN)
    return tmp_path / "p.toml"


def made(plan, *words):
    done = call("build", plan, "-o", plan.parent, "--json", *words)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout), (plan.parent / "p/report.html").read_text()


def test_either_half_alone_without_a_word_of_the_other(plan):
    said, page = made(plan, "--make", "cut")
    assert said["sheets"]
    assert not said["solids"]
    assert said["printing"] is None
    assert not list((plan.parent / "p").rglob("*.3mf"))
    assert "Cutting from" in page
    assert "Printing" not in page
    assert "Hot end" not in page
    assert "filament" not in page
    assert not [note for note in said["notes"] if "layer" in note and "slicer" in note]
    said, page = made(plan, "--make", "print")
    assert said["solids"]
    assert not said["sheets"]
    assert "Printing" in page
    assert "Cutting from" not in page
    assert "blade" not in page
    # The other half that was there stays.
    assert list((plan.parent / "p/sheets").glob("*.dxf"))
    rows = (plan.parent / "p/shopping.csv").read_text()
    assert "spool" in rows
    assert "sheets" not in rows


def test_walls_too_thin_to_print_can_be_cut(plan):
    plan.write_text(PLAN + '[grid]\nwall_thickness = "0.6 mm"\n')
    assert call("build", plan, "-o", plan.parent).returncode == 2
    said, _ = made(plan, "--make", "cut", "--material", "greyboard", "--machine", "laser")
    assert said["sheets"]


def test_the_thickness_of_the_sheets_that_there_are(plan):
    said, page = made(plan, "--make", "cut", "--thickness", "1/4 in")
    assert {sheet["thickness_mm"] for sheet in said["sheets"]} == {6.35}
    assert "6.35 mm" in page
    # As thick as the file says it is the same stock.
    usual, _ = made(plan, "--make", "cut", "--thickness", "6 mm")
    again, _ = made(plan, "--make", "cut")
    assert usual["sheets"] == again["sheets"]


def test_a_thickness_is_refused_where_it_says_nothing(plan):
    done = call("build", plan, "-o", plan.parent, "--material", "foam", "--material", "card", "--thickness", "5 mm")
    assert done.returncode == 2
    assert done.stderr.startswith(
        "tilegen: --thickness: one thickness can't be that of several materials (foam, card). "
    )
    done = call("build", plan, "-o", plan.parent, "--thickness", "0 mm")
    assert done.returncode == 2
    assert done.stderr == "tilegen: --thickness: sheets of 0 mm are too thin for foam. Use more than 0 mm\n"


def test_xps_is_the_foam_sheet(plan):
    foam, _ = made(plan, "--make", "cut")
    xps, _ = made(plan, "--make", "cut", "--material", "xps")
    assert xps["sheets"] == foam["sheets"]
