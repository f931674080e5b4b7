"""`fit` and the further words of `kit` and `build`, as a user runs them and against the contract's worked example."""

import csv
import json
from pathlib import Path

import pytest

from tests.calling import call, files_in

PLAN = """name = "worked"
drawing = \"\"\"
A A A . .
A A A B B
C C C B B
\"\"\"
[[way]]
cell = [3, 2]
side = "east"
kind = "doorway"
[[way]]
cell = [3, 3]
side = "east"
kind = "saddle"
"""


@pytest.fixture
def worked(tmp_path):
    path = tmp_path / "worked.toml"
    path.write_text(PLAN)
    return path


@pytest.fixture
def shelf(tmp_path):
    path = tmp_path / "shelf.toml"
    path.write_text("[tiles]\ncorner = 2\none-wall = 5\nfloor = 1\n[pieces]\nsaddle-door = 1\n")
    return path


def test_fit_of_the_worked_plan(worked):
    """The tables of the contract's worked example."""
    done = call("fit", worked, "--figure", "1 in", "--figure", "2 in", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    one, two = document["figures"]
    assert one == {"base_mm": 25.4, "spaces_across": 1, "positions": 52, "stands": 52, "blocked": []}
    assert (two["base_mm"], two["spaces_across"], two["blocked"]) == (50.8, 2, [])
    by_name = {p["name"]: p for p in document["placements"]}
    assert list(by_name) == ["inset", "on-square", "outboard", "outboard-half-step"]
    for key, values in {
        "hall_clear_mm": (50.8, 25.4, 50.8, 50.8),
        "largest_aligned_mm": (50.8, 12.7, 50.8, 25.4),
        "clash_area_mm2": (0, 0, 6451.6, 6451.6),
        "worst_gap_mm": (0, 0, 25.4, 25.4),
    }.items():
        assert [p[key] for p in by_name.values()] == pytest.approx(values), key
    assert document["rows"] == {
        "longest_tiles": 5,
        "tile_error_mm": 0.3,
        "worst_case_mm": pytest.approx(1.5),
        "rss_mm": pytest.approx(0.3 * 5**0.5),
    }


def test_a_figure_that_does_not_fit_is_exit_1(worked):
    done = call("fit", worked, "--figure", "30 mm", "--json")
    assert done.returncode == 1
    (figure,) = json.loads(done.stdout)["figures"]
    assert figure["stands"] < figure["positions"]
    assert len(figure["blocked"]) == figure["positions"] - figure["stands"]


def test_sizes_by_name_and_errors_of_tiles(worked):
    done = call("fit", worked, "--figure", "large", "--tile-error", "0.2 mm", "--json")
    document = json.loads(done.stdout)
    assert document["figures"][0]["base_mm"] == 50.8
    assert document["rows"]["worst_case_mm"] == pytest.approx(1.0)


def test_a_grid_is_found():
    done = call("fit", "--want", "2 in", "--json")
    assert done.returncode == 0
    found = json.loads(done.stdout)["grid_found"]
    # Common practice, no source: 1.25 in less a 0.25 in wall leaves 1 in, so a 2-space hall keeps 2 in.
    assert found["pitch_mm"] == pytest.approx(31.75)
    assert any("one space wide" in text for text in found["cannot"])
    done = call("fit", "--want", "30 mm", "--pitch", "1.25 in", "--json")
    assert json.loads(done.stdout)["grid_found"]["wall_thickness_mm"] == pytest.approx(1.75)
    done = call("fit", "--want", "2 in", "--largest-tile", "2 in", "--json")
    assert done.returncode == 1


def test_the_reference_grid_can_be_changed(worked):
    done = call("fit", worked, "--reference", "30 mm", "5 mm", "--json")
    placements = json.loads(done.stdout)["placements"]
    assert [p["pitch_mm"] for p in placements] == [31.75, 30, 30, 30]
    assert placements[2]["clash_area_mm2"] == pytest.approx(10 * 60 * 5)


def test_pictures_of_the_numbers(worked, tmp_path):
    done = call("fit", worked, "--figure", "30 mm", "--want", "30 mm", "-o", tmp_path / "out", "--json")
    records = json.loads(done.stdout)["files"]
    names = {Path(r["path"]).name for r in records}
    assert {"fit-30.00-mm.svg", "fit-30.00-mm.png", "placements.svg", "trade-off.svg"} <= names
    assert all(Path(r["path"]).is_file() for r in records)


def test_kit_in_sight(worked):
    document = json.loads(call("kit", worked, "--in-sight", "--json").stdout)
    found = {tuple(t["edges"]): t["in_sight"] for t in document["tiles"] if not t["posts"]}
    assert found[("open", "open", "wall", "wall")] == 3
    assert found[("doorway", "wall", "open", "open")] == 1
    assert document["totals"]["in_sight_tiles"] == 10
    opened = json.loads(call("kit", worked, "--in-sight", "--doors-open", "--json").stdout)
    assert opened["totals"]["in_sight_tiles"] > 10


def test_kit_with_a_shelf(worked, shelf):
    document = json.loads(call("kit", worked, "--own", shelf, "--json").stdout)
    found = {t["name"]: (t["count"], t["own"], t["make"]) for t in document["tiles"]}
    assert found["corner"] == (5, 2, 3)
    assert found["one-wall"] == (2, 5, 0)
    assert found["end"] == (1, 0, 1)
    assert "does not use them: 1 x floor" in call("kit", worked, "--own", shelf).stdout


def test_build_makes_just_what_is_missing(worked, shelf, tmp_path):
    done = call("build", worked, "--own", shelf, "-o", tmp_path / "out", "--json")
    assert done.returncode == 0
    document = json.loads(done.stdout)
    made = {s["name"] for s in document["solids"]}
    assert "one-wall" not in made
    assert "saddle-door" not in made
    assert {"corner", "end"} <= made
    assert {t["name"]: t["make"] for t in document["kit"]["tiles"]}["corner"] == 3
    parts = list(csv.DictReader((tmp_path / "out/worked/sheets/foam-parts.csv").read_text().splitlines()))
    bases = sum(int(p["quantity"]) for p in parts if p["name"].startswith("base"))
    assert bases == sum(t["make"] for t in document["kit"]["tiles"])


def test_build_of_what_is_in_sight(worked, tmp_path):
    done = call("build", worked, "--in-sight", "-o", tmp_path / "out", "--json")
    document = json.loads(done.stdout)
    parts = list(csv.DictReader((tmp_path / "out/worked/sheets/foam-parts.csv").read_text().splitlines()))
    assert sum(int(p["quantity"]) for p in parts if p["name"].startswith("base")) == 10
    assert document["kit"]["totals"]["in_sight_tiles"] == 10


def test_build_when_all_is_owned(worked, tmp_path):
    document = json.loads(call("kit", worked, "--json").stdout)
    path = tmp_path / "all.toml"
    lines = [f"{t['id']} = {t['count']}" for t in document["tiles"]]
    path.write_text("[tiles]\n" + "\n".join(lines) + "\n[pieces]\nsaddle-door = 1\n")
    done = call("build", worked, "--own", path, "-o", tmp_path / "out", "--json")
    assert done.returncode == 0, done.stderr
    made = json.loads(done.stdout)
    assert (made["solids"], made["sheets"]) == ([], [])
    assert "worked/layout.svg" in files_in(tmp_path / "out")


def test_several_plans(worked, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text('name = "other"\ndrawing = """\nA A A A\n"""\n')
    first, second = (json.loads(call("kit", p, "--json").stdout) for p in (worked, other))
    any_of = json.loads(call("kit", worked, other, "--json").stdout)
    both = json.loads(call("kit", worked, other, "--together", "--json").stdout)
    counts = [{t["id"]: t["count"] for t in d["tiles"]} for d in (first, second)]
    keys = set(counts[0]) | set(counts[1])
    assert {t["id"]: t["count"] for t in any_of["tiles"]} == {k: max(c.get(k, 0) for c in counts) for k in keys}
    assert {t["id"]: t["count"] for t in both["tiles"]} == {k: sum(c.get(k, 0) for c in counts) for k in keys}


def test_rooms_in_the_order_they_are_met(worked, tmp_path):
    plan = worked.read_text() + '[[way]]\ncell = [5, 2]\nside = "east"\nkind = "doorway"\n'
    worked.write_text(plan)
    document = json.loads(call("kit", worked, "--by-room", "--json").stdout)
    assert [stop["room"] for stop in document["rooms"]] == ["B", "A", "C"]
    laid = sum(tile["count"] for stop in document["rooms"] for tile in stop["tiles"])
    assert laid == document["totals"]["tiles"]
    assert call("build", worked, "-o", tmp_path / "out", "-q").returncode == 0
    rows = list(csv.DictReader((tmp_path / "out/worked/rooms.csv").read_text().splitlines()))
    assert sum(int(r["count"]) for r in rows) == document["totals"]["tiles"] + 1


def test_a_picture_of_sight(worked, tmp_path):
    done = call("kit", worked, "--from", "1,1", "-o", tmp_path / "out", "--json")
    records = json.loads(done.stdout)["files"]
    assert [Path(r["path"]).name for r in records] == ["from-1-1.svg", "from-1-1.png"]


WRONG = [
    ("fit",),
    ("fit", "PLAN", "--figure", "0 mm"),
    ("fit", "PLAN", "--figure", "nan"),
    ("fit", "PLAN", "--figure", "3 m"),
    ("fit", "PLAN", "--figure", "huuge"),
    ("fit", "PLAN", "--tile-error", "-1 mm"),
    ("fit", "PLAN", "--reference", "1 in", "2 in"),
    ("fit", "--want", "2 in", "--largest-tile", "0 mm"),
    ("fit", "--want", "-2 in"),
    ("kit", "PLAN", "--own", "nosuch.toml"),
    ("kit", "PLAN", "--own", "PLAN"),
    ("kit", "PLAN", "--from", "9,9"),
    ("kit", "PLAN", "--from", "here"),
    ("kit", "PLAN", "--way-in", "1,1"),
    ("kit", "PLAN", "--way-in", "2,2,north"),
    ("kit", "PLAN", "bell-foundry", "--in-sight"),
    ("kit", "PLAN", "OTHERGRID"),
    ("kit", "PLAN", "--own", "UNKNOWN"),
]


def test_wrong_words(worked, tmp_path):
    for words in WRONG:
        other, unknown = tmp_path / "other.toml", tmp_path / "unknown.toml"
        other.write_text(PLAN + '[grid]\npitch = "1.5 in"\n')
        unknown.write_text("[tiles]\ncornre = 1\n")
        files = {"PLAN": worked, "OTHERGRID": other, "UNKNOWN": unknown}
        before = set(tmp_path.iterdir())
        done = call(*(files.get(word, word) for word in words), cwd=tmp_path)
        assert done.returncode == 2, done.stdout
        assert done.stdout == ""
        assert done.stderr.startswith("tilegen: ")
        assert set(tmp_path.iterdir()) == before
        if "UNKNOWN" in words:
            assert 'Did you mean "corner"' in done.stderr
        if "OTHERGRID" in words:
            assert "pitch" in done.stderr
