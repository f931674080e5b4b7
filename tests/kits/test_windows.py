"""Views in parts: however little is worked on at once, the counts are those of every line tried; helpers by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.kits.test_fit_plans import random_plan
from tests.kits.test_sight import most_by_type, slow_sight
from tilegen.plans import views
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import lay
from tilegen.plans.sight import in_sight
from tilegen.plans.views import View, _contains, _expand, _split


def test_keys_are_parted_where_a_member_ends():
    """Ten keys a member: members 0 (three keys), 1 (one), 2 (two) and 5 (four)."""
    keys = np.array([1, 4, 9, 10, 20, 29, 50, 51, 52, 59])
    for most, parts in (
        (1, [3, 1, 2, 4]),
        (3, [3, 3, 4]),
        (4, [4, 6]),
        (5, [6, 4]),
        (9, [10]),
        (10, [10]),
        (100, [10]),
    ):
        made = list(_split(keys, 10, most))
        assert [len(part) for part in made] == parts, most
        assert np.concatenate(made).tolist() == keys.tolist()
    assert list(_split(np.array([], np.int64), 10)) == []


def test_ranges_are_written_out_with_their_index():
    which, numbers = _expand(np.array([3, 7, 7, 0]), np.array([6, 7, 9, 1]))
    assert which.tolist() == [0, 0, 0, 2, 2, 3]
    assert numbers.tolist() == [3, 4, 5, 7, 8, 0]


def test_what_is_in_a_sorted_list():
    assert _contains(np.array([2, 4, 4, 9]), np.array([1, 2, 3, 4, 9, 10])).tolist() == [
        False, True, False, True, True, False,
    ]  # fmt: skip


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
@pytest.mark.parametrize("doors_open", [False, True])
def test_views_worked_out_a_tile_at_a_time_are_the_same(monkeypatch, scale, doors_open):
    for seed in range(2):
        drawing = random_plan(seed + 7, scale=scale, most=6)
        kit = make_kit(drawing)
        sees, laid = slow_sight(drawing, kit, doors_open)
        expected = most_by_type(sees, laid, len(kit.types))
        for counts, sources, most in ((4_000_000, 6_000, 250_000), (1, 1, 1), (3 * len(kit.types), 6_000, 2)):
            monkeypatch.setattr(views, "_COUNTS_AT_ONCE", counts)
            monkeypatch.setattr(views, "_SOURCES_AT_ONCE", sources)
            monkeypatch.setattr(views, "_split", lambda keys, per, most=most: _split(keys, per, most))
            found = in_sight(drawing, kit, doors_open=doors_open)
            assert list(found.most) == list(expected)
            assert found.mean_tiles == pytest.approx(sees.sum() / len(sees))
            assert found.most_tiles == sees.sum(axis=1).max()


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_parts_of_a_view_add_up_tile_by_tile(scale):
    """A tile's own rectangles, and every pair beyond them once: together all that is in sight."""
    for seed in range(4):
        drawing = random_plan(seed + 31, scale=scale, most=6)
        kit = make_kit(drawing)
        laid = lay(drawing, kit)
        view = View(drawing, laid, doors_open=False)
        sees, _ = slow_sight(drawing, kit, False)
        members = np.arange(len(laid.type_of))
        beyond = [set() for _ in members]
        for seer, seen in view.pairs(members):
            for a, b in zip(seer.tolist(), seen.tolist(), strict=True):
                assert b not in beyond[a]
                beyond[a].add(b)
        for tile in members.tolist():
            assert view.seen_from(tile).tolist() == sees[tile].tolist()
            assert beyond[tile] <= set(np.flatnonzero(sees[tile]).tolist())
        seen = [
            (tile, counts.tolist()) for part in view.counted(len(kit.types)) for tile, counts in zip(*part, strict=True)
        ]
        for tile, counts in seen:
            assert counts == np.bincount(laid.type_of[sees[tile]], minlength=len(kit.types)).tolist()
        assert sorted(tile for tile, _ in seen) == members.tolist()
