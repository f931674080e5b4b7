"""Constructions, test pieces, prices and papers on the command line."""

import csv
import json
import tomllib
from pathlib import Path

import ezdxf
import pytest
from pypdf import PdfReader

from tests.calling import call, files_in
from tilegen.files.toml import find
from tilegen.making.lists import boxes_for
from tilegen.model.words import PAPERS


@pytest.mark.parametrize(
    ("construction", "corners"),
    [("stacked", "butt"), ("stacked", "rabbet"), ("folded", "mitre"), ("grooved", "pinwheel")],
)
def test_every_construction_can_be_asked_for(construction, corners, tmp_path):
    material = {"stacked": "foam", "folded": "card", "grooved": "foam-core"}[construction]
    done = call(
        "tile",
        "corner",
        "--material",
        material,
        "--construction",
        construction,
        "--corners",
        corners,
        "-o",
        tmp_path,
        "--json",
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["sheets"]


def test_nominal_sheets_say_so(tmp_path):
    for name, more in (("with", ()), ("without", ("--nominal",))):
        assert (
            call(
                "sheet", "floor", "--material", "greyboard", "--machine", "laser", *more, "-o", tmp_path / name, "-q"
            ).returncode
            == 0
        )
    texts = {name: (tmp_path / name / "floor/sheets/greyboard-01.svg").read_text() for name in ("with", "without")}
    assert "kerf compensated: yes, k = 0.15 mm" in texts["with"]
    assert "kerf compensated: no, nominal" in texts["without"]


def test_paper_sizes(tmp_path):
    """ISO 216 (A4 210 x 297 ... A0 841 x 1189) and ANSI/ASME Y14.1 (Letter 8.5 x 11, Tabloid 11 x 17 in), by pypdf."""
    for paper, (width, height) in PAPERS.items():
        assert call("sheet", "floor", "--paper", paper, "--sheet-pages", "-o", tmp_path / paper, "-q").returncode == 0
        for file in ("cut.pdf", "sheets/foam.pdf"):
            for page in PdfReader(tmp_path / paper / "floor" / file).pages:
                size = float(page.mediabox.width) / 72 * 25.4, float(page.mediabox.height) / 72 * 25.4
                assert size == pytest.approx((width, height), abs=0.1)


def test_asked_and_blocked_pairs(tmp_path):
    done = call("sheet", "corner", "--material", "foam-core", "--machine", "laser", "-o", tmp_path)
    assert done.returncode == 2
    assert "--accept" in done.stderr
    caution = done.stderr.split('--accept "')[1].split('"')[0]
    again = call(
        "sheet", "corner", "--material", "foam-core", "--machine", "laser", "--accept", caution, "-o", tmp_path, "-q"
    )
    assert again.returncode == 0, again.stderr
    blocked = call("sheet", "corner", "--material", "pvc", "--machine", "laser", "--accept", caution, "-o", tmp_path)
    assert blocked.returncode == 2
    assert "chlor" in blocked.stderr.lower()


def test_stock_that_runs_out_is_exit_1(tmp_path):
    text = find("foam", "materials").read_text()
    path = tmp_path / "few.toml"
    path.write_text(text.replace('size = ["600 mm", "300 mm"]', 'count = 1\nsize = ["600 mm", "300 mm"]'))
    done = call("build", "bell-foundry", "--material", path, "-o", tmp_path / "out")
    assert done.returncode == 1
    assert "too little stock, 1 of 600 x 300 mm: no room for" in done.stderr
    assert not (tmp_path / "out").exists()


def test_measured_thickness_that_can_not_be(tmp_path):
    text = find("foam", "materials").read_text()
    for wrong in ("0 mm", "60 mm"):
        path = tmp_path / "off.toml"
        path.write_text(text.replace('thickness = "6 mm"', f'thickness = "6 mm"\nmeasured = "{wrong}"'))
        done = call("sheet", "corner", "--material", path, "-o", tmp_path / "out")
        assert done.returncode == 2
        assert "measured" in done.stderr


def test_prices_give_costs(small, tmp_path):
    path = tmp_path / "dear.toml"
    path.write_text(
        find("foam", "materials")
        .read_text()
        .replace('size = ["600 mm", "300 mm"]', 'price = 3.0\nsize = ["600 mm", "300 mm"]')
    )
    done = call("build", small, "--material", path, "-o", tmp_path / "out", "--json")
    sheets = len(json.loads(done.stdout)["sheets"])
    rows = list(csv.DictReader((tmp_path / "out/small/costs.csv").read_text().splitlines()))
    assert float(rows[-1]["cost_all"]) == pytest.approx(3.0 * sheets)
    assert call("build", small, "-o", tmp_path / "free", "-q").returncode == 0
    assert not (tmp_path / "free/small/costs.csv").exists()


def test_storage_boxes():
    """A box of 300 x 200 x 100 takes two layers of fifteen 50 mm tiles 33 mm high: 64 need three (derived)."""
    assert boxes_for([((50.0, 50.0, 33.0), 64)]) == (3, 0)
    assert boxes_for([((50.0, 50.0, 33.0), 30)]) == (1, 0)
    assert boxes_for([((400.0, 50.0, 33.0), 2)]) == (0, 2)


def test_test_pieces_are_sound(tmp_path):
    for material, machine in (
        ("greyboard", "laser"),
        ("foam", "hot-wire"),
        ("card", "hand-knife"),
        ("foam-core", "hand-knife"),
    ):
        done = call("gauge", "--material", material, "--machine", machine, "-o", tmp_path, "--json")
        assert done.returncode == 0, done.stderr
        names = [Path(record["path"]) for record in json.loads(done.stdout)["files"]]
        (drawing,) = (name for name in names if name.suffix == ".dxf")
        assert call("inspect", drawing).returncode == 0
        document = ezdxf.readfile(drawing)
        combs = [e for e in document.modelspace().query("LWPOLYLINE[layer=='CUT_OUTER']") if len(e) == 4]
        assert sum(abs(e.get_points()[1][0] - e.get_points()[0][0]) == pytest.approx(10.0) for e in combs) >= 10


def test_readings_are_kept_in_the_users_own_files(tmp_path):
    words = ("gauge", "--material", "greyboard", "--machine", "laser", "-o", tmp_path)
    assert (
        call(*words, "--record", "comb-x=98.6", "--record", "comb-y=98.2", "--record", "thickness=2.0,2.1").returncode
        == 0
    )
    machine = tmp_path / "machines/laser.toml"
    material = tmp_path / "materials/greyboard.toml"
    assert tomllib.loads(machine.read_text())["kerf_by_material"]["greyboard"] == ["0.140 mm", "0.180 mm"]
    assert tomllib.loads(material.read_text())["measured"] == "2.050 mm"
    assert "# " in machine.read_text(), "comments stay"
    # A second reading goes on top of the first.
    assert call(*words, "--record", "fold=52.05", "--record", "slot=2.2").returncode == 0
    kept = tomllib.loads(material.read_text())
    assert kept["slot_fit"] == "0.150 mm"
    assert kept["measured"] == "2.050 mm"
    assert kept["folding"]["hinge"] == pytest.approx(0.5)
    done = call("sheet", "corner", "--material", material, "--machine", machine, "-o", tmp_path / "out", "--json")
    assert done.returncode == 0, done.stderr


def test_readings_of_a_material_by_another_name(tmp_path):
    words = ("gauge", "--material", "xps", "--machine", "hot-wire", "-o", tmp_path)
    assert call(*words, "--record", "thickness=6.1").returncode == 0
    assert tomllib.loads((tmp_path / "materials/foam.toml").read_text())["measured"] == "6.100 mm"


def test_a_strip_folded_in_grooves_tells_where_foam_core_hinges(tmp_path):
    """Paper of 0.3 mm: 50.45 outside over two folds 50 apart is 0.75 of it at each."""
    words = ("gauge", "--material", "foam-core", "--machine", "hand-knife", "-o", tmp_path)
    assert call(*words, "--record", "fold=50.4,50.5").returncode == 0
    material = tmp_path / "materials/foam-core.toml"
    assert tomllib.loads(material.read_text())["folding"]["hinge"] == pytest.approx(0.75)
    done = call("sheet", "corner", "--material", material, "-o", tmp_path / "out", "--machine", "hand-knife", "--json")
    assert done.returncode == 0, done.stderr


def test_readings_that_can_not_be_right_change_nothing(tmp_path):
    for reading in ["comb-x=120", "comb=98", "thickness=0", "thickness=40", "fold=90", "bar-x=20", "nonsense"]:
        done = call("gauge", "--material", "greyboard", "--machine", "laser", "-o", tmp_path, "--record", reading)
        assert done.returncode == 2, done.stdout
        assert files_in(tmp_path) == {}
