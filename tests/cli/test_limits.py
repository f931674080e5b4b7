"""The command build with limits: the first rooms that one sheet or an afternoon is enough for, and the rest later."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from random import Random

import ezdxf
import pytest
from pypdf import PdfReader

from tests.calling import call
from tests.dungeons import dungeon
from tests.examples import toml
from tilegen.files.toml import find

# A hall with a way in, a passage behind it, then a chamber; a vault that no way leads to stands first in the drawing.
PLAN = """
name = "Salt store"
drawing = '''
V . A A .
. . A A .
. . . P .
. . . P .
. B B B .
. B B B .
'''
[rooms]
A = "Weighing hall"
P = "Passage"
B = "Drying loft"
[[way]]
cell = [3, 1]
side = "north"
kind = "doorway"
[[way]]
cell = [4, 2]
side = "south"
kind = "open"
[[way]]
cell = [4, 4]
side = "south"
kind = "saddle"
"""
ROOMS = ["A", "P", "B", "V"]
# Tiles laid with each, and the saddle door with the passage.
TILES = [4, 2, 6, 1]


@pytest.fixture
def plan(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("salt.toml").write_text(PLAN)
    board = find("foam", "materials").read_text()
    Path("board.toml").write_text(board.replace("[sheet]", "[sheet]\nprice = 3", 1))
    return tmp_path


def built(*words, code=0, of="salt.toml"):
    done = call("build", of, *words, "--json")
    assert done.returncode == code, done.stderr
    return json.loads(done.stdout) if code == 0 else done.stderr


def rooms(found):
    return [stop["room"] for stop in found["first_rooms"]["made"]]


def counts(kit):
    return Counter({one["id"]: one["count"] for one in (*kit["tiles"], *kit["pieces"])})


@pytest.mark.parametrize(("most", "number"), [(6, 1), (7, 2), (99, 4)])
def test_as_many_rooms_as_so_many_tiles_are_enough_for(plan, most, number):
    found = built("--most-tiles", most, "--make", "cut", "-o", "out")
    assert rooms(found) == ROOMS[:number]
    assert [stop["room"] for stop in found["first_rooms"]["left"]] == ROOMS[number:]
    assert (found["first_rooms"]["bound"], found["first_rooms"]["proven"]) == (number, True)
    assert found["kit"]["totals"]["tiles"] == sum(TILES[:number])
    assert sum(counts(found["kit"]).values()) == sum(TILES[:number]) + (number > 1)
    # Places are those of the whole map.
    whole = json.loads(call("kit", "salt.toml", "--json").stdout)
    there = {(t["id"], *p["cell"], p["west_mm"]) for t in whole["tiles"] for p in t["places"]}
    here = {(t["id"], *p["cell"], p["west_mm"]) for t in found["kit"]["tiles"] for p in t["places"]}
    assert here <= there
    assert len(here) == sum(TILES[:number])


def test_the_next_run_makes_the_next_rooms_until_all_are_there(plan):
    whole = counts(json.loads(call("kit", "salt.toml", "--json").stdout))
    Path("shelf.toml").write_text('[tiles]\ncorner = 1\nUPR7F8A = 5\n[pieces]\n"saddle-door" = 0\n')
    shelf, met = "shelf.toml", []
    for step in range(4):
        found = built("--most-tiles", 7, "--make", "cut", "--own", shelf, "-o", f"step{step}")
        made = sum(tile["make"] for tile in found["kit"]["tiles"])
        assert made <= 7
        met.append(len(rooms(found)))
        shelf = f"step{step}/salt/shelf.toml"
        if not found["first_rooms"]["left"]:
            break
    assert met == sorted(set(met))
    stock = json.loads(call("kit", "salt.toml", "--own", shelf, "--json").stdout)
    assert all(tile["make"] == 0 for tile in stock["tiles"])
    text = Path(shelf).read_text()
    assert "UPR7F8A = 5" in text, "what the map has no use for stays on the shelf"
    owned = Counter(
        {key: int(n) for key, _, n in (line.partition("  #")[0].partition(" = ") for line in text.splitlines()) if n}
    )
    assert owned - Counter({"UPR7F8A": 5}) == whole
    over = call("build", "salt.toml", "--most-tiles", 7, "--own", shelf, "-o", Path(shelf).parents[1])
    assert over.returncode == 2
    assert "would be written over" in over.stderr


def test_sheets_that_are_bought_keep_within_the_limit_and_one_more_room_does_not(plan):
    """Small sheets: read again from the DXF files, the parts are those of the rooms."""
    words = ("--material", "board.toml", "--make", "cut")
    text = Path("board.toml").read_text()
    size = next(line for line in text.splitlines() if line.startswith("size"))
    Path("board.toml").write_text(text.replace(size, "size = [200, 200]", 1))
    sheets = {}
    for tiles in (7, 13):
        found = built(*words, "--most-tiles", tiles, "-o", f"of{tiles}")
        sheets[tiles] = sum(sheet["copies"] for sheet in found["sheets"])
    assert sheets[7] < sheets[13]
    for limit, number in ((sheets[7] - 1, 1), (sheets[13], 3)):
        found = built(*words, "--most-sheets", limit, "-o", "s")
        assert len(rooms(found)) >= number
        taken = sum(sheet["copies"] for sheet in found["sheets"])
        assert taken == found["first_rooms"]["takes"]["sheets"] <= limit
        assert len(rooms(found)) <= found["first_rooms"]["bound"]
        drawn = sum(sheet["parts"] * sheet["copies"] for sheet in found["sheets"])
        files = {path.stem: ezdxf.readfile(path) for path in Path("s/salt/sheets").glob("*.dxf")}
        cut = {name: len(file.modelspace().query('LWPOLYLINE[layer=="CUT_OUTER"]')) for name, file in files.items()}
        assert sum(cut[sheet["name"]] * sheet["copies"] for sheet in found["sheets"]) == drawn
    money = built(*words, "--most-cost", 3 * limit, "-o", "c")
    assert rooms(money) == rooms(found)
    assert money["first_rooms"]["takes"]["cost"] == pytest.approx(3 * taken)


def test_hours_are_those_that_the_lists_tell(plan):
    printed = built("--most-hours", 14, "--make", "print", "-o", "p")
    assert printed["first_rooms"]["takes"]["hours"] == pytest.approx(printed["printing"]["hours"], abs=0.01)
    assert printed["printing"]["hours"] <= 14
    assert 0 < len(rooms(printed)) < 4
    by_hand = built("--most-hours", 0.5, "--make", "cut", "-o", "h")
    row = next(line for line in Path("h/salt/shopping.csv").read_text().splitlines() if "work by hand" in line)
    assert float(row.split(",")[-3]) == pytest.approx(by_hand["first_rooms"]["takes"]["hours"], abs=0.06)
    assert by_hand["first_rooms"]["takes"]["hours"] <= 0.5
    assert 0 < len(rooms(by_hand)) < 4


def test_words_report_and_files_speak_of_these_rooms(plan):
    done = call("build", "salt.toml", "--most-tiles", 7, "--make", "cut", "-o", "out")
    assert "This is 2 of 4 rooms, in the order the party meets them." in done.stdout
    assert "With the next room, Drying loft, it would be 13 tiles and loose pieces." in done.stdout
    assert "Left for next time: 7 tiles and loose pieces." in done.stdout
    assert "--own out/salt/shelf.toml" in done.stdout.replace("\\", "/")
    report = Path("out/salt/report.html").read_text()
    pages = " ".join(PdfReader("out/salt/cut.pdf").pages[0].extract_text().split())
    for text in (report, pages):
        assert "This is 2 of 4 rooms, in the order the party meets them. They are: Weighing hall, Passage." in text
    assert "Left for next time" in report
    # A chart compares posts and doorways, for the whole map.
    for posts, doorways, words in (("fixed", "fixed", "fixed"), ("loose", "loose", "loose")):
        kit = json.loads(call("kit", "salt.toml", "--posts", posts, "--doorways", doorways, "--json").stdout)
        kinds, pieces = len(kit["tiles"]), sum(piece["count"] for piece in kit["pieces"])
        assert f"posts {words}, doorways {words}: {kinds} kinds of tile and " in report
        assert f"{kit['totals']['tiles']} tiles, {pieces} loose piece" in report
    assert "Drying loft" not in Path("out/salt/layout.svg").read_text()
    assert "Drying loft" not in Path("out/salt/rooms.csv").read_text()
    before = {path: path.read_bytes() for path in Path("out").rglob("*") if path.is_file()}
    call("build", "salt.toml", "--most-tiles", 7, "--make", "cut", "-o", "out")
    assert before == {path: path.read_bytes() for path in Path("out").rglob("*") if path.is_file()}
    sheet = call("build", "salt.toml", "--most-sheets", 1, "-o", "one")
    assert sheet.returncode == 0
    assert not list(Path("one").rglob("*.stl")), "a limit on sheets is for who cuts"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--most-hours", "4"], 2, "hours of the printer, or of work by hand?"),
        (["--most-sheets", "1", "--make", "print"], 2, "what is printed takes no sheets"),
        (["--most-sheets", "1", "--only", "corner"], 2, "two ways to make less"),
        (["--most-tiles", "1", "--in-sight"], 2, "two ways to make less"),
        (["--most-tiles", "1e300"], 2, "too large"),
        (["--most-tiles", "-1"], 2, "most-tiles"),
        (["--most-cost", "1"], 2, "has no price"),
        (["--most-sheets", "1", "--material", "foam", "--material", "card"], 2, "Name one"),
        (["--most-tiles", "3"], 1, "the first room, Weighing hall, takes 4 tiles and loose pieces"),
        (["--most-sheets", "0"], 1, "the first room, Weighing hall, takes 1 sheet"),
    ],
)
def test_limits_that_mean_nothing_or_are_too_small(plan, words, code, said):
    done = call("build", "salt.toml", *words, "-o", "out")
    assert done.returncode == code
    assert said in done.stderr
    assert not Path("out").exists()


def test_stock_on_hand_is_a_limit_too(plan):
    text = Path("board.toml").read_text().replace("[sheet]", "[sheet]\ncount = 1", 1)
    size = next(line for line in text.splitlines() if line.startswith("size"))
    Path("board.toml").write_text(text.replace(size, "size = [300, 300]", 1))
    words = ("--material", "board.toml", "--make", "cut")
    none = call("build", "salt.toml", *words, "-o", "out")
    assert none.returncode == 1
    assert "or add --most-sheets 1 to make the rooms that it is enough for" in none.stderr
    found = built(*words, "--most-sheets", 1, "-o", "out")
    assert 0 < len(rooms(found)) < 4
    assert sum(sheet["copies"] for sheet in found["sheets"]) == 1


def test_random_dungeons_within_random_limits(tmp_path, monkeypatch):
    """Rooms off the grid, levels and connectors too: what is made keeps within the limit, one more room would not."""
    monkeypatch.chdir(tmp_path)
    done = 0
    for seed in range(5):
        rng = Random(seed)
        Path("d.toml").write_text(toml(dungeon(rng, small=True)))
        listed = call("kit", "d.toml", "--by-room", "--json")
        if listed.returncode:
            continue
        stops = json.loads(listed.stdout)["rooms"]
        each = [sum(one["count"] for one in (*stop["tiles"], *stop["pieces"])) for stop in stops]
        most = rng.randint(each[0], sum(each))
        made = call("build", "d.toml", "--most-tiles", most, "--make", "print", "--json", "-o", f"o{seed}")
        if made.returncode == 2 and "--most" not in made.stderr:
            continue
        found = json.loads(made.stdout)
        number = max(n for n in range(len(each) + 1) if sum(each[:n]) <= most)
        keys = found["first_rooms"]["takes"]["tiles"] - sum(each[: found["first_rooms"]["built"]])
        assert keys >= 0
        assert found["first_rooms"]["built"] == number or keys, seed
        assert found["first_rooms"]["takes"]["tiles"] <= most
        done += 1
    assert done > 3
