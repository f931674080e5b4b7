"""The commands as a user runs them: what they write, what they print, how they exit."""

import csv
import hashlib
import json
import re
from pathlib import Path

import pytest

from tests.calling import call, files_in, start


def test_build_makes_everything(small, tmp_path):
    done = call("build", small, "-o", tmp_path / "out", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    assert set(document) >= {"kit", "files", "solids", "sheets"}
    folder = tmp_path / "out" / "small"
    found = files_in(folder)
    assert {"kit.json", "kit.csv", "shopping.csv", "manifest.json", "layout.svg", "layout.png", "report.html"} <= set(
        found
    )
    assert {
        "solids/bed-01.3mf",
        "solids/kit.3mf",
        "sheets/foam-01.dxf",
        "sheets/foam-01.svg",
        "cut.pdf",
    } <= set(found)
    for record in document["files"]:
        assert hashlib.sha256(Path(record["path"]).read_bytes()).hexdigest() == record["sha256"]
        assert Path(record["path"]).suffix == f".{record['kind']}"
    kit = json.loads(found["kit.json"])
    assert kit == document["kit"]
    assert {s["name"] for s in document["solids"]} == {t["name"] for t in kit["tiles"]} | {"saddle-door"}
    assert all(s["closed"] is True and f"solids/{s['name']}.stl" in found for s in document["solids"])
    for sheet in document["sheets"]:
        assert set(sheet) >= {"name", "material", "size_mm", "kerf_mm", "parts", "used", "cut_mm", "score_mm"}
        assert 0 < sheet["used"] < 1
    rows = list(csv.DictReader(found["kit.csv"].decode().splitlines()))
    assert sum(int(row["count"]) for row in rows) == 13 + 1
    assert (
        call(
            "inspect", *folder.rglob("*.stl"), *folder.rglob("*.3mf"), *folder.rglob("*.dxf"), *folder.rglob("*.svg")
        ).returncode
        == 0
    )


def test_equal_input_gives_equal_bytes(small, tmp_path):
    """Whatever the number of workers and the order in which this Python keeps its sets."""
    for name, jobs, seed in (("a", "1", "3"), ("b", "2", "4")):
        assert start("build", small, "-o", tmp_path / name, "-q", "--jobs", jobs, PYTHONHASHSEED=seed).returncode == 0
    assert files_in(tmp_path / "a") == files_in(tmp_path / "b")


def test_only_makes_just_that_tile_and_removes_nothing(small, tmp_path):
    assert call("build", small, "-o", tmp_path, "-q").returncode == 0
    (tmp_path / "small" / "notes.txt").write_text("mine")
    (tmp_path / "small" / "kit.csv").write_text("mine too")
    before = files_in(tmp_path / "small")
    done = call("build", small, "-o", tmp_path, "--only", "corner", "--json")
    assert done.returncode == 0
    assert [t["name"] for t in json.loads(done.stdout)["kit"]["tiles"]] == ["corner"]
    left = files_in(tmp_path / "small")
    assert left.keys() == before.keys() | {"kit.kept.csv"}
    assert left["kit.kept.csv"] == b"mine too"
    assert "kit.kept.csv" in done.stderr
    manifest = json.loads(left["manifest.json"])
    assert (manifest["command"], manifest["plan"]) == ("build", "../small.toml")
    listed = {entry["path"] for entry in manifest["files"]}
    assert listed == before.keys() - {"notes.txt", "manifest.json"}


def test_only_by_id_and_an_unknown_tile(small, tmp_path):
    counted = json.loads(call("kit", small, "--json").stdout)["tiles"]
    (key,) = [tile["id"] for tile in counted if tile["name"] == "corner"]
    done = call("build", small, "-o", tmp_path, "--only", key.lower(), "--json")
    assert [t["name"] for t in json.loads(done.stdout)["kit"]["tiles"]] == ["corner"]
    done = call("build", small, "-o", tmp_path / "x", "--only", "cornr")
    assert done.returncode == 2
    assert 'Did you mean "corner"' in done.stderr
    assert not (tmp_path / "x").exists()


def test_halves_keep_out_of_each_others_way(small, tmp_path):
    solid = call("solid", small, "-o", tmp_path, "--json")
    sheet = call("sheet", small, "-o", tmp_path, "--json")
    assert set(json.loads(solid.stdout)) >= {"files", "solids"}
    assert "sheets" not in json.loads(solid.stdout)
    assert set(json.loads(sheet.stdout)) >= {"files", "sheets"}
    found = files_in(tmp_path / "small")
    assert any(n.endswith(".stl") for n in found)
    assert any(n.endswith(".dxf") for n in found)
    whole = call("build", small, "-o", tmp_path, "-q")
    assert (whole.returncode, whole.stdout) == (2, "")
    for words in ("tilegen build", "tilegen sheet", "-o"):
        assert words in whole.stderr
    assert files_in(tmp_path / "small") == found


def test_tile_takes_measures_from_the_command_line(tmp_path):
    done = call(
        "tile",
        "corner",
        "-o",
        tmp_path,
        "--json",
        "--pitch",
        "1 in",
        "--wall",
        "1/8 in",
        "--height",
        "1 in",
        "--depth",
        "5 mm",
    )
    (solid,) = json.loads(done.stdout)["solids"]
    assert solid["size_mm"] == pytest.approx([50.5, 50.5, 30.4])


def test_grid_file(tmp_path):
    assert call("start", tmp_path / "new").returncode == 0
    grid = tmp_path / "new" / "grid.toml"
    grid.write_text(grid.read_text().replace('"1.25 in"', '"30 mm"'))
    done = call("kit", tmp_path / "new" / "new.toml", "--grid", grid, "--json")
    assert json.loads(done.stdout)["grid"]["pitch_mm"] == 30.0


def test_what_start_writes_can_be_built(tmp_path):
    assert call("start", tmp_path / "new").returncode == 0
    assert call("build", "new/new.toml", "-q", cwd=tmp_path).returncode == 0
    assert call("tile", "new/alcove.toml", "-q", cwd=tmp_path).returncode == 0
    assert (tmp_path / "out" / "new" / "report.html").is_file()
    again = call("start", tmp_path / "new")
    assert again.returncode == 2
    assert "there already" in again.stderr


def test_kit_for_people_in_either_unit(small):
    assert "63.5 mm" in call("kit", small).stdout
    assert "2.5 in" in call("kit", small, "--units", "in").stdout


def test_the_report_is_one_safe_page(demonstration):
    page = (demonstration.folder / "report.html").read_text()
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="(?!data:)', page)
    assert "safety data sheet" in page
    assert "manual" in page


WRONG = [
    ("kit", "nosuch"),
    ("kit", "."),
    ("kit", "bell-foundry", "--pitch", "nan"),
    ("kit", "bell-foundry", "--pitch", "1 in", "--wall", "0.6 in"),
    ("kit", "bell-foundry", "--pitch", "1000000000 m"),
    ("kit", "bell-foundry", "--grid", "nosuch.toml"),
    ("tile", "nosuch"),
    ("tile", "corner", "--material", "marble"),
    ("tile", "corner", "--machine", "chisel"),
    ("tile", "corner", "--printer", "letterpress"),
    ("tile", "corner", "--machine", "laser"),
    ("tile", "corner", "corner"),
    ("tile", "corner", "--jobs", "0"),
    ("build", "bell-foundry", "--unknown"),
    ("build", "bell-foundry", "--depth", "1 mm", "--height", "-3 mm"),
    ("inspect", "nosuch.stl"),
    ("inspect", "."),
    ("tile", "custom-outline", "--pitch", "4 in"),
]


def test_wrong_words_exit_2_with_a_message_and_write_nothing(tmp_path):
    for words in WRONG:
        done = call(*words, cwd=tmp_path)
        assert done.returncode == 2, done.stdout
        assert done.stdout == ""
        assert done.stderr.strip()
        assert "Traceback" not in done.stderr
        assert list(tmp_path.iterdir()) == []


def test_foam_on_the_laser_is_blocked_with_its_reason():
    done = call("sheet", "corner", "--machine", "laser")
    assert "fire" in done.stderr
    assert "hand knife" in done.stderr


def test_a_folder_that_is_a_file(tmp_path):
    (tmp_path / "out").write_text("x")
    done = call("tile", "corner", cwd=tmp_path)
    assert done.returncode == 2
    assert "out" in done.stderr


def test_inspect_tells_open_from_closed(tmp_path):
    assert call("tile", "floor", "-o", tmp_path, "-q").returncode == 0
    good = tmp_path / "floor" / "solids" / "floor.stl"
    content = good.read_bytes()
    count = int.from_bytes(content[80:84], "little")
    bad = tmp_path / "hole.stl"
    bad.write_bytes(content[:80] + (count - 1).to_bytes(4, "little") + content[84:-50])
    assert call("inspect", good).returncode == 0
    done = call("inspect", good, bad, "--json")
    assert done.returncode == 1
    first, second = json.loads(done.stdout)["files"]
    assert (first["closed"], second["closed"]) == (True, False)
    assert first["size_mm"] == pytest.approx([63.2, 63.2, 6.35], abs=1e-5)
    assert first["volume_mm3"] == pytest.approx(63.2 * 63.2 * 6.35 - (63.2 * 2 - 1) * 0.6, rel=1e-6)


@pytest.mark.parametrize("name", ["a.stl", "a.3mf", "a.dxf", "a.svg", "a.txt"])
def test_inspect_of_rubbish(name, tmp_path):
    for content in (b"", b"solid x", b"PK\x03\x04junk", b"\x00" * 500, b"<svg", b"<html/>", b"0\nSECTION\n"):
        (tmp_path / name).write_bytes(content)
        done = call("inspect", tmp_path / name)
        assert done.returncode in (1, 2), content
        assert "Traceback" not in done.stderr


def test_version():
    assert re.fullmatch(r"tilegen \d+\.\d+\.\d+\n", call("--version").stdout)


def test_every_command_has_help():
    for command in ["start", "build", "kit", "tile", "solid", "sheet", "inspect"]:
        done = call(command, "--help")
        assert done.returncode == 0
        assert command in done.stdout
