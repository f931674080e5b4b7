"""One kit for several plans."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from tests.kits.test_fit_plans import make_plan, random_plan, worked_plan
from tilegen.errors import InputError
from tilegen.model.grid import DoorwaySize, Floor, Grid
from tilegen.plans.kit import make_kit
from tilegen.plans.several import share_kit, shared_record
from tilegen.plans.ways import Way


def counts(kit):
    return Counter({t.tile.id: t.count for t in kit.types})


def test_any_one_takes_the_most_and_all_together_the_sum():
    for seed in range(10):
        kits = [make_kit(random_plan(seed * 3 + n)) for n in range(3)]
        most, total = Counter(), Counter()
        for kit in kits:
            most |= counts(kit)
            total += counts(kit)
        for together, expected in ((False, most), (True, total)):
            shared = share_kit(kits, together=together)
            assert Counter({t.tile.id: t.count for t in shared.types}) == expected
            assert shared.tiles == expected.total()
            assert len({t.name for t in shared.types}) == len(shared.types), "names are each type's own"
            pieces = [Counter({p.piece.id: p.count for p in kit.pieces}) for kit in kits]
            wanted = sum(pieces, Counter()) if together else pieces[0] | pieces[1] | pieces[2]
            assert Counter({p.piece.id: p.count for p in shared.pieces}) == wanted


def test_a_shared_kit_lays_every_one_of_its_plans():
    kits = [make_kit(random_plan(seed, most=9)) for seed in range(4)]
    shared = Counter({t.tile.id: t.count for t in share_kit(kits).types})
    for kit in kits:
        assert counts(kit) <= shared


def test_the_record_counts_by_plan_and_names_the_plan_of_each_place():
    kits = [make_kit(worked_plan()), make_kit(make_plan("AA\nAA", name="cell"))]
    record = json.loads(json.dumps(shared_record(share_kit(kits))))
    corner = next(tile for tile in record["tiles"] if tile["name"] == "corner")
    assert (corner["counts"], corner["count"]) == ([5, 4], 5)
    assert Counter(place["plan"] for place in corner["places"]) == {"plan": 5, "cell": 4}
    assert record["plans"] == ["plan", "cell"]
    assert record["pieces"][0]["counts"] == [1, 0]
    assert record["totals"] == {"tiles": 13, "types": 6}
    assert shared_record(share_kit(kits, together=True), places=False)["totals"]["tiles"] == 17


def test_types_of_two_plans_that_would_be_called_alike_keep_apart():
    narrow = Way((1, 1), "east", "doorway", width=20.0)
    one = make_kit(make_plan("AB", ways=[Way((1, 1), "east", "doorway")], name="wide"))
    two = make_kit(make_plan("AB", ways=[narrow], name="narrow"))
    assert one.types[0].name == two.types[0].name
    shared = share_kit([one, two])
    assert len(shared.types) == 2
    assert len({t.name for t in shared.types}) == 2


def test_plans_on_different_grids_are_refused_with_what_differs():
    for grid, match in [
        (Grid(pitch=30.0), r'\[grid\] pitch: "plan" has 31.75 mm and "other" has 30 mm, so'),
        (Grid(wall_height=40.0), r'\[grid\] wall_height: "plan" has 38.1 mm and "other" has 40 mm'),
        (Grid(spaces=3), r'\[grid\] spaces: "plan" has 2 and "other" has 3'),
        (Grid(floor=Floor(lines=False)), r'\[floor\] lines: "plan" has true and "other" has false'),
    ]:
        kits = [make_kit(worked_plan()), make_kit(make_plan("AA", grid=grid, name="other"))]
        with pytest.raises(InputError, match=match):
            share_kit(kits)


def test_other_default_doorways_go_together():
    kits = [make_kit(worked_plan()), make_kit(make_plan("AA", grid=Grid(doorway=DoorwaySize(width=20.0))))]
    assert share_kit(kits).tiles == 13 + 1


def test_no_plan_is_refused():
    with pytest.raises(InputError, match="no plan is given"):
        share_kit([])
