"""The command collection: what it says of maps and tiles, and the files of what it makes."""

from __future__ import annotations

import csv
import json
from collections import Counter
from pathlib import Path
from random import Random

import pytest
import trimesh

from tests.calling import call
from tests.dungeons import dungeon
from tests.examples import toml
from tilegen.files.toml import find

# Small takes two ends, Long two ends and a corridor, Pillar one end and one with a pillar.
PLANS = {
    "small": 'name = "Small"\ndrawing = "AA"\n',
    "long": 'name = "Long"\ndrawing = "AAA"\n',
    "pillar": 'name = "Pillar"\ndrawing = "AA"\n[[feature]]\nkind = "pillar"\ncell = [1, 1]\n',
}
# Tables in which random dungeons differ, so that their tiles would not go together.
MEASURES = ("grid", "doorway", "floor", "surface", "connectors", "door")
ALL = [f"{name}.toml" for name in PLANS]


@pytest.fixture
def maps(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in PLANS.items():
        Path(f"{name}.toml").write_text(text)
    Path("shelf.toml").write_text("[tiles]\nend = 2\n")
    return tmp_path


def asked(*words, code=0):
    done = call("collection", *words, "--json")
    assert done.returncode == code, done.stderr
    return json.loads(done.stdout)


def made(found):
    return {tile["name"]: tile["make"] for tile in found["tiles"] if tile["make"]}


def test_maps_laid_now_what_the_others_lack_and_the_tiles_for_all(maps):
    found = asked(*ALL, "--own", "shelf.toml")
    assert {"maps", "tiles", "totals", "bound", "proven"} <= set(found)
    assert [(m["plan"], m["laid"], sum(t["count"] for t in m["missing"])) for m in found["maps"]] == [
        ("Small", True, 0),
        ("Long", False, 1),
        ("Pillar", False, 1),
    ]
    assert made(found) == {"corridor": 1, "end-with-pillar": 1}
    assert {tile["name"]: tile["own"] for tile in found["tiles"]} == {"end": 2, "corridor": 0, "end-with-pillar": 0}
    ids = {tile["name"]: tile["id"] for tile in found["tiles"]}
    assert found["maps"][1]["missing"] == [{"id": ids["corridor"], "count": 1}]
    assert (
        found["totals"]["tiles"],
        found["totals"]["laid"],
        found["totals"]["then"],
        found["bound"],
        found["proven"],
    ) == (2, 1, 3, 2, True)
    assert [step["plans"] for step in found["steps"]] == [["Long"], ["Pillar"]]


def test_so_many_maps_and_the_most_for_a_limit(maps):
    assert sum(made(asked(*ALL)).values()) == 4
    assert sum(made(asked(*ALL, "--maps", "2")).values()) == 3
    few = asked(*ALL, "--most-tiles", "2")
    assert (made(few), few["bound"], few["proven"]) == ({"end": 2}, 1, True)
    heavy = asked("small.toml", "long.toml", "pillar.toml=3", "--most-tiles", "2")
    assert (made(heavy), heavy["bound"]) == ({"end": 1, "end-with-pillar": 1}, 3)
    assert made(asked("small.toml", "long.toml", "pillar.toml=3", "--weight", "3")) == {"end": 1, "end-with-pillar": 1}
    over = call("collection", *ALL, "--maps", "2", "--most-tiles", "2")
    assert over.returncode == 1
    assert "2 maps take 3 new tiles and you allow 2" in over.stderr


def test_a_plain_tile_stands_in_for_one_with_a_feature_and_those_owned_are_used(maps):
    found = asked(*ALL, "--stand-ins", "0")
    assert made(found) == {"end": 2, "corridor": 1}
    (used,) = found["maps"][2]["stand_ins"]
    ids = {tile["name"]: tile["id"] for tile in found["tiles"]}
    assert used == {"id": ids["end-with-pillar"], "by": ids["end"], "count": 1}
    Path("shelf.toml").write_text("[tiles]\nend-with-pillar = 1\n")
    owned = asked("pillar.toml", "--stand-ins", "0", "--own", "shelf.toml")
    assert made(owned) == {"end": 1}
    assert "stand_ins" not in owned["maps"][0]
    # A shelf may hold plain tiles that no map has.
    Path("lone.toml").write_text('name = "Lone"\ndrawing = "A"\n[[feature]]\nkind = "pillar"\ncell = [1, 1]\n')
    Path("shelf.toml").write_text("[tiles]\nclosed = 1\n")
    (lone,) = asked("lone.toml", "--stand-ins", "0", "--own", "shelf.toml")["maps"]
    assert (lone["laid"], lone["stand_ins"][0]["count"]) == (True, 1)


def test_a_tile_with_a_feature_is_made_where_its_stand_ins_would_cost_more(maps):
    """A map takes two plain ends; two more have a pillar in one of them: two places, or one tile more."""
    Path("again.toml").write_text(Path("pillar.toml").read_text().replace("name =", "name = 'Again' #", 1))
    for price, count, extra in (("0.4", 0, 0.8), ("0.6", 1, None), ("0", 0, None)):
        found = asked("pillar.toml", "again.toml", "small.toml", "--stand-ins", price)
        assert made(found).get("end-with-pillar", 0) == count
        assert found["totals"].get("stand_ins") == extra
        assert ("stand_ins" in found["maps"][0]) == (not count)
        assert found["proven"]
    done = call("collection", "pillar.toml", "again.toml", "small.toml", "--stand-ins", "0.4").stdout
    assert "Stand-ins on these maps count like 0.8 new tiles." in done
    assert "This is the least possible, stand-ins counted." in done
    for price in ("-1", "nan", "1e300"):
        assert call("collection", "pillar.toml", "--stand-ins", price).returncode == 2


def test_hours_sheets_and_money_are_what_the_tiles_take(maps):
    """Four tiles of one area; sheets by area, money by sheets."""
    hours = asked(*ALL, "--most-hours", "1000", "--make", "print")["totals"]
    assert hours["measure"] == "hours"
    assert 1 < hours["cost"] < 12, "a tile is one or two hours of a usual printer (common practice, no source)"
    by_hand = asked(*ALL, "--most-hours", "1000", "--make", "cut")["totals"]["cost"]
    assert 0.2 < by_hand < 8
    sheets = asked(*ALL, "--most-sheets", "10", "--material", "greyboard")["totals"]["cost"]
    Path("board.toml").write_text(
        find("greyboard", "materials").read_text().replace("[sheet]", "[sheet]\nprice = 10", 1)
    )
    money = asked(*ALL, "--most-cost", "100", "--material", "board.toml")["totals"]["cost"]
    assert money == pytest.approx(10 * sheets, rel=0.01)


def test_hours_are_those_of_what_is_printed(maps):
    """Less with hollow bases, and of the walls alone where bases are cut; `kit --choices` has the same hours."""
    words, found = ("--most-hours", "1000", "--make", "print", "--base"), []
    for base in ("full", "hollow", "sheet"):
        found.append(asked("small.toml", *words, base)["totals"]["cost"])
        choices = json.loads(call("kit", "small.toml", "--choices", "--base", base, "--json").stdout)["choices"]
        assert choices[0]["print_hours"] == pytest.approx(found[-1], abs=0.06)
    assert found == sorted(set(found), reverse=True)


def test_the_new_tiles_are_made_and_the_new_shelf_lays_the_maps(maps):
    words = [*ALL, "--own", "shelf.toml", "--maps", "3"]
    done = call("collection", *words, "-o", "out")
    assert done.returncode == 0, done.stderr
    folder = Path("out/collection")
    with (folder / "make.csv").open() as file:
        assert {row["name"]: row["count"] for row in csv.DictReader(file)} == {"corridor": "1", "end-with-pillar": "1"}
    solids = sorted(folder.glob("solids/*.stl"))
    assert [path.stem for path in solids] == ["corridor", "end-with-pillar"]
    assert all(trimesh.load(path).is_watertight for path in solids)
    assert (folder / "cut.pdf").is_file()
    assert json.loads((folder / "collection.json").read_text())["totals"]["tiles"] == 2
    assert "caution" in done.stdout
    again = asked(*ALL, "--own", folder / "shelf.toml", "-o", "next")
    assert all(one["laid"] for one in again["maps"])
    assert not made(again)
    assert not list(Path("next/collection").glob("solids/*.stl"))
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert call("collection", *words, "-o", "out").returncode == 0
    assert before == {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_new_shelf_keeps_what_no_map_has_a_use_for(maps):
    Path("shelf.toml").write_text("[tiles]\nend = 1\nUPR7F8A = 5\n")
    words = ("--own", "shelf.toml", "--make", "print", "-o", "out")
    assert call("collection", "small.toml", *words).returncode == 0
    rows = Path("out/collection/shelf.toml").read_text().splitlines()
    assert "UPR7F8A = 5" in rows
    assert [row.partition(" = ")[2] for row in rows if row.endswith("# end")] == ["2  # end"]


def test_sheets_beyond_the_limit_are_told_once_the_parts_are_set_out(maps):
    """Three tiles of foam cover a tenth of a sheet, and no sheet is bought in parts."""
    done = call("collection", "long.toml", "--most-sheets", "0.5", "--make", "cut", "-o", "out")
    assert done.returncode == 0
    assert "Set out, the parts take 1 sheet; you allow 0.5." in done.stderr
    assert "Set out" not in call("collection", "long.toml", "--most-sheets", "1", "--make", "cut", "-o", "out").stderr


def test_only_what_one_way_of_making_takes_is_written(maps):
    assert call("collection", "small.toml", "--make", "print", "-o", "p").returncode == 0
    assert not list(Path("p").rglob("*.dxf"))
    assert call("collection", "small.toml", "--make", "cut", "-o", "c").returncode == 0
    assert not list(Path("c").rglob("*.stl"))
    assert list(Path("c").rglob("*.dxf"))


def test_words_say_what_is_missing_what_comes_next_and_how_good_that_is(maps):
    done = call("collection", *ALL, "--own", "shelf.toml").stdout
    assert "1 of 3 maps can be laid now" in done
    assert "Make 2 tiles to lay 3 of 3 maps, one at a time." in done
    assert "fewest possible" in done
    rows = [[cell.strip() for cell in row.split("│")[1:-1]] for row in done.splitlines()]
    assert ["1", "1 tile", "Long", "2", "1 tile"] in rows
    assert ["2", "1 tile", "Pillar", "3", "2 tiles"] in rows
    near = call("collection", *ALL, "--most-tiles", "1").stdout
    assert "Nothing to make: the shelf lays 0 of 3 maps" in near
    assert "The next map would be Small: 2 new tiles more." in near
    assert call("collection", *ALL, "--quiet").stdout == ""


def test_a_folder_stands_for_the_plans_in_it(maps):
    Path("plans").mkdir()
    for name in PLANS:
        Path(f"{name}.toml").rename(f"plans/{name}.toml")
    Path("shelf.toml").rename("plans/shelf.toml")
    found = asked("plans=2", "--own", "plans/shelf.toml")
    assert [(m["plan"], m["weight"]) for m in found["maps"]] == [("Long", 2), ("Pillar", 2), ("Small", 2)]
    Path("none").mkdir()
    none = call("collection", "none")
    assert none.returncode == 2
    assert "none: there is no plan in this folder. Give plan files" in none.stderr


def test_a_file_may_have_an_equals_sign_in_its_name(maps):
    Path("a=2.toml").write_text(PLANS["small"])
    assert asked("a=2.toml")["maps"][0]["weight"] == 1
    assert asked("a=2.toml=4")["maps"][0]["weight"] == 4


def test_random_dungeons_are_laid_from_what_is_made_for_them(tmp_path, monkeypatch):
    """Kits counted again by `kit`: the maps said to be laid are, from what is owned and made, and no others."""
    monkeypatch.chdir(tmp_path)
    for seed in range(4):
        rng = Random(seed)
        names = []
        for number in range(3):
            tables = {k: v for k, v in dungeon(rng, small=True).items() if k not in MEASURES}
            Path(f"{number}.toml").write_text(toml(tables))
            if call("kit", f"{number}.toml", "--json").returncode == 0:
                names.append(f"{number}.toml")
        kits = [json.loads(call("kit", name, "--json").stdout) for name in names]
        if not kits:
            continue
        needs = [Counter({t["id"]: t["count"] for t in (*kit["tiles"], *kit["pieces"])}) for kit in kits]
        owned = [t for t in kits[0]["tiles"] if rng.random() < 0.5]
        Path("own.toml").write_text("[tiles]\n" + "".join(f"{t['id']} = {rng.randint(0, 4)}\n" for t in owned))
        found = asked(*names, "--own", "own.toml", "--maps", str(rng.randint(1, len(names))))
        kinds = (*found["tiles"], *found["pieces"])
        own = Counter({kind["id"]: kind["own"] for kind in kinds})
        then = Counter({kind["id"]: kind["own"] + kind["make"] for kind in kinds})
        for need, said in zip(needs, found["maps"], strict=True):
            assert said["laid"] == (need <= own)
            assert said["then"] == (need <= then)
            assert Counter({t["id"]: t["count"] for t in said["missing"]}) == need - own
        plain = asked(*names, "--stand-ins", "0")["totals"]["tiles"]
        assert plain <= asked(*names)["totals"]["tiles"]
