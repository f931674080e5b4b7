"""The shelf: what is owned, to make and spare; bad shelves; which plan is nearest."""

from __future__ import annotations

import pytest

from tests.kits.test_fit_plans import make_plan, worked_plan
from tilegen.errors import InputError
from tilegen.files.stock import read_shelf
from tilegen.plans.kit import make_kit
from tilegen.plans.shelf import Shelf, rank_plans, rank_record, take_stock
from tilegen.plans.ways import Way


def shelf_file(folder, text):
    path = folder / "shelf.toml"
    path.write_text(text, encoding="utf-8")
    return read_shelf(path)


def test_own_make_and_spare(tmp_path):
    kit = make_kit(worked_plan())
    corridor = next(t for t in kit.types if t.name == "corridor").tile.id
    shelf = shelf_file(
        tmp_path, f'[tiles]\ncorner = 3\n{corridor} = 2\n"{corridor.lower()}" = 2\n[pieces]\nsaddle-door = 4\n'
    )
    stock = take_stock(kit, shelf)
    by_name = {entry.name: entry for entry in stock.tiles}
    assert (by_name["corner"].own, by_name["corner"].make, by_name["corner"].spare) == (3, 2, 0)
    assert (by_name["corridor"].own, by_name["corridor"].make, by_name["corridor"].spare) == (4, 0, 2)
    assert (by_name["end"].own, by_name["end"].make) == (0, 1)
    assert stock.missing_tiles == 13 - 3 - 2
    assert (stock.pieces[0].make, stock.pieces[0].spare) == (0, 3)
    assert [entry.id for entry in stock.tiles] == [t.tile.id for t in kit.types]


def test_tiles_the_plan_has_no_use_for_stay_on_the_shelf(tmp_path):
    shelf = shelf_file(tmp_path, "[tiles]\nfloor = 6\nHPJDC3A = 1\nhalf-corner = 2\n")
    stock = take_stock(make_kit(worked_plan()), shelf)
    assert stock.unused == (("floor", 6), ("HPJDC3A", 1), ("half-corner", 2))
    assert stock.missing_tiles == 13


def test_unknown_names_are_refused_and_the_nearest_is_offered(tmp_path):
    for text, match in [
        ("[tiles]\ncornr = 1\n", r'shelf.toml, \[tiles\]: no tile is called "cornr"\. Did you mean "corner"'),
        ("[tiles]\nnonsense = 1\n", 'no tile is called "nonsense". Use the names or ids that tilegen kit lists'),
        ("[pieces]\nsadle-door = 1\n", 'no loose piece is called "sadle-door". Did you mean "saddle-door"'),
        ("[tiles]\nsaddle-door = 1\n", 'no tile is called "saddle-door"'),
    ]:
        with pytest.raises(InputError, match=match):
            take_stock(make_kit(worked_plan()), shelf_file(tmp_path, text))


def test_counts_that_are_none_are_refused(tmp_path):
    for value in ["-1", "1.5", "true", '"2"', "2000001"]:
        with pytest.raises(InputError, match=r"shelf.toml, \[tiles\] corner"):
            shelf_file(tmp_path, f"[tiles]\ncorner = {value}\n")


def test_an_unknown_table_is_refused(tmp_path):
    with pytest.raises(InputError, match='Did you mean "tiles"'):
        shelf_file(tmp_path, "[tile]\ncorner = 1\n")


def test_a_name_that_stands_for_two_types_asks_for_one(tmp_path):
    ways = [Way((1, 1), "east", "doorway", width=20.0), Way((1, 2), "east", "doorway", width=15.0)]
    kit = make_kit(make_plan("AB\nCD", ways=ways))
    names = [t.name for t in kit.types]
    shared = next(n for n in names if n.rsplit("-", 1)[0] in [m.rsplit("-", 1)[0] for m in names if m != n])
    with pytest.raises(InputError, match="Several have this name, so write it with its id: "):
        take_stock(kit, Shelf({shared.rsplit("-", 1)[0]: 1}))


def test_plans_are_ranked_by_what_is_missing():
    kits = [
        make_kit(worked_plan()),
        make_kit(make_plan("AA\nAA", name="cell")),
        make_kit(make_plan("AAA", name="hall")),
    ]
    ranked = rank_plans(kits, Shelf({"corner": 4, "end": 1}, {}))
    assert [(r.plan, r.missing_tiles, r.missing_pieces) for r in ranked] == [
        ("cell", 0, 0),
        ("hall", 2, 0),
        ("plan", 8, 1),
    ]
    assert rank_record(ranked)[0] == {"plan": "cell", "tiles": 4, "missing_tiles": 0, "missing_pieces": 0}
    # A name that only another of the plans knows is no error.
    assert rank_plans(kits, Shelf({"corridor": 1}))[0].plan in {"hall", "cell"}
