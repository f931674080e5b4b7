"""Which larger pieces may be used and which are laid: words, places and the quick choice, by hand and by trying all."""

from __future__ import annotations

from collections import Counter
from types import SimpleNamespace

import numpy as np
import pytest

from tests.plans import plan
from tilegen.errors import InputError
from tilegen.plans import larger
from tilegen.plans.kit import make_kit
from tilegen.plans.larger import LITTLE, LONGEST, Places, choose, read_kinds
from tilegen.plans.several import _names, share_kit


def places(rows: list[str], words: str) -> Places:
    return Places(plan(rows), read_kinds(words))


def test_words_that_are_no_piece_are_refused_among_others_that_are():
    for word in ["21x1", "1x21", "0x2", "2x0", "run-1", "run-21", "run-", "tees", "2x", "x2", "2x1x1"]:
        with pytest.raises(InputError, match=rf'there is no piece "{word}" \(they are up to 20 squares long\)'):
            read_kinds(f"2x1, {word}")


@pytest.mark.parametrize("text", ["", " , ", ","])
def test_no_word_is_no_piece(text):
    with pytest.raises(InputError, match="no piece"):
        read_kinds(text)


def test_the_squares_of_every_kind():
    """In every turn, each once; of a rectangle columns by rows."""
    assert LONGEST == 20
    assert len(read_kinds("20x20")[0].cells) == 400
    assert {kind.cells for kind in read_kinds("1x2")} == {((0, 0), (1, 0)), ((0, 0), (0, 1))}
    assert [len(read_kinds(word)) for word in ("1x1", "3x3", "3x2", "run-2", "run-20", "tee", "cross")] == [
        1, 1, 2, 2, 2, 4, 1,
    ]  # fmt: skip
    assert [len(k.cells) for k in read_kinds("run-2, run-20")] == [2, 2, 20, 20]
    (cross,) = read_kinds("CROSS")
    assert set(cross.cells) == {(1, 0), (0, 1), (1, 1), (2, 1), (1, 2)}
    tees = {frozenset(kind.cells) for kind in read_kinds("tee")}
    assert tees == {
        frozenset({(0, 0), (1, 0), (2, 0), (1, 1)}),
        frozenset({(0, 1), (1, 0), (2, 1), (1, 1)}),
        frozenset({(0, 0), (0, 1), (0, 2), (1, 1)}),
        frozenset({(1, 0), (1, 1), (1, 2), (0, 1)}),
    }
    assert [kind.corridor for kind in read_kinds("2x1 run-2 tee cross")] == [False] * 2 + [True] * 7
    # The same squares twice are one kind, under the first of its words; a run is another thing than a rectangle.
    assert [kind.word for kind in read_kinds("2x1 1x2 run-2")] == ["2x1", "2x1", "run-2", "run-2"]


def test_the_quick_choice_is_the_largest_first_in_reading_order(monkeypatch):
    """Five by three: a square of four, then the next beside it; what is left takes twos, and a single."""
    monkeypatch.setattr(larger, "MOST_PLACES", 0)
    found = places(["AAAAA", "AAAAA", "AAAAA"], "2x1, 2x2")
    chosen, bound = choose(found, None)
    laid = [(found.found[p][0].word, len(found.cells(p)), *found.found[p][1:]) for p in chosen]
    assert Counter(size for _, size, *_ in laid) == {4: 2, 2: 3, 1: 1}
    assert {(column, row) for _, size, column, row in laid if size == 4} == {(0, 0), (2, 0)}
    # Of places that start on one row the one further west goes first, of kinds at one place the first in the list.
    assert {(column, row) for _, size, column, row in laid if size == 2} == {(4, 0), (0, 2), (2, 2)}
    assert [(column, row) for _, size, column, row in laid if size == 1] == [(4, 2)]
    covered = Counter(cell for p in chosen for cell in found.cells(p))
    assert set(covered.values()) == {1}
    assert len(covered) == 15
    # Fifteen squares, of which no piece covers more than four.
    assert bound == 4


def test_the_quick_choice_stands_where_the_solver_finds_none(monkeypatch):
    found = places(["AAAA", "AAAA"], "2x2")
    quick = larger._greedy(found)
    none = SimpleNamespace(x=None, mip_dual_bound=None)
    monkeypatch.setattr(larger.optimize, "milp", lambda *_, **__: none)
    assert choose(found, None) == (quick, 2)
    assert choose(found, found.stock({})) == (quick, 2)
    monkeypatch.setattr(larger.optimize, "milp", lambda *_, **__: SimpleNamespace(x=None, mip_dual_bound=2.4))
    assert choose(found, None) == (quick, 3)
    monkeypatch.setattr(larger.optimize, "milp", lambda *_, **__: SimpleNamespace(x=None, mip_dual_bound=-np.inf))
    assert choose(found, None) == (quick, 2)


def test_the_solver_is_asked_as_long_as_the_places_are_few_enough(monkeypatch):
    """Five squares in a row take two pieces, 3 + 2, however they are chosen."""
    found = places(["AAAAA"], "3x1, 2x1")
    assert len(choose(found, None)[0]) == 2
    asked = []
    solve = larger.optimize.milp
    monkeypatch.setattr(larger.optimize, "milp", lambda *a, **k: asked.append(1) or solve(*a, **k))
    for most, times in ((len(found.found), 1), (len(found.found) - 1, 0)):
        asked.clear()
        monkeypatch.setattr(larger, "MOST_PLACES", most)
        choose(found, None)
        assert len(asked) == times


def test_what_is_new_counts_and_a_little_for_every_piece():
    """Two squares of 8 cm3: of two owned singles and a new double, the singles."""
    found = places(["AA"], "2x1")
    kinds = {len(found.cells(p)): p for p in range(len(found.found))}
    assert set(kinds) == {1, 2}
    singles = [p for p in range(len(found.found)) if len(found.cells(p)) == 1]
    plain = found.stock({})
    two, one = plain.volumes[plain.type_of[kinds[2]]], plain.volumes[plain.type_of[kinds[1]]]
    assert two == pytest.approx(2 * one)
    assert plain.owned.tolist() == [0] * len(plain.volumes)
    assert plain.new_material([kinds[2]]) == pytest.approx(two + LITTLE)
    assert plain.new_material(singles) == pytest.approx(two + 2 * LITTLE)
    owned = found.stock({make_kit(plan(["AA"])).types[0].tile.id: 1})
    assert owned.new_material(singles) == pytest.approx(one + 2 * LITTLE)
    assert choose(found, owned)[0] == singles
    assert choose(found, plain)[0] == [kinds[2]]


def test_a_kit_lists_the_largest_pieces_first_and_of_these_the_most_used():
    found = places(["AAAA.B", "AAAA.B", "......", "CC.DD.", "......", "EEE..."], "2x2, 2x1")
    chosen, _ = choose(found, None)
    kit = found.kit(chosen)
    keys = [(-len(t.tile.shape.cells), -t.count) for t in kit.types]
    assert keys == sorted(keys)
    assert [(len(t.tile.shape.cells), t.count) for t in kit.types] == [(4, 2), (2, 3), (2, 1), (1, 1)]


def test_a_kit_for_two_plans_uses_the_shorter_name_and_tells_like_names_apart():
    assert _names({"AB12": ["wall-ab12", "wall"], "CD34": ["corner"]}) == {"AB12": "wall", "CD34": "corner"}
    assert _names({"AB12": ["wall"], "CD34": ["wall"], "EF56": ["post"]}) == {
        "AB12": "wall-ab12", "CD34": "wall-cd34", "EF56": "post",
    }  # fmt: skip
    assert _names({"AB12": ["wall-ab12"], "CD34": ["wall"]}) == {"AB12": "wall-ab12", "CD34": "wall"}
    kits = [make_kit(plan(["AAA", "AAA", "AAA"])), make_kit(plan(["AB"]))]
    counts = [t.count for t in share_kit(kits, together=True).types]
    assert counts == sorted(counts, reverse=True)
