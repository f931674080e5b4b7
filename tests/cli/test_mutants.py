"""The mutation runner: what it changes, what it leaves alone, and the interval of its score."""

import ast
import signal
import sys

import pytest

from tests.making import seldom_collecting
from tests.proof.core import core
from tests.proof.mutants import excuses, interval, used_on
from tests.proof.mutating import mutants
from tests.proof.reach import TooSlow, caches, too_slow
from tests.proof.trials import functions
from tilegen.plans import kit

TEXT = '''"""A module of 3 lines."""
from __future__ import annotations
STEP = 2
def least(values: list[int], limit: int = 7) -> int:
    """At least 1."""
    for value in values:
        if value < limit and not value:
            raise ValueError(f"{value + 1} is too small")
        values.remove(value)
        continue
    return min(dist(values, limit), 1.5)
'''


@pytest.fixture
def texts(tmp_path):
    path = tmp_path / "sample.py"
    path.write_text(TEXT)
    found = mutants("sample", path)
    for mutant in found:
        compile(mutant.source, "sample", "exec")
        assert ast.unparse(mutant.source) != ast.unparse(ast.parse(TEXT))
    assert len({m.name for m in found}) == len(found)
    return {m.name.removeprefix("sample | "): m for m in found}


def test_every_kind_of_fault_is_made(texts):
    assert {
        " | STEP = 2 -> STEP = 3",
        "least | value < limit and (not value) -> value < limit or not value",
        "least | value < limit and (not value) -> value <= limit and (not value)",
        "least | value < limit and (not value) -> value >= limit and (not value)",
        "least | value < limit and (not value) -> value < limit and value",
        "least | continue -> break",
        "least | values.remove(value) -> removed",
        "least | return min(dist(values, limit), 1.5) -> return max(dist(values, limit), 1.5)",
        "least | return min(dist(values, limit), 1.5) -> return min(dist(limit, values), 1.5)",
        "least | return min(dist(values, limit), 1.5) -> return min(dist(values, limit), 2.5)",
        "least | return min(dist(values, limit), 1.5) -> return None",
        "least | 7 -> 8",
    } <= set(texts)


def test_messages_docstrings_and_annotations_are_left_alone(texts):
    assert not [name for name in texts if "value - 1" in name or "value + 2" in name or "At least" in name]
    assert not [name for name in texts if "list[" in name]


def test_what_shows_while_importing_is_told_apart(texts):
    assert texts[" | STEP = 2 -> STEP = 3"].outer is None
    assert texts["least | 7 -> 8"].outer is None
    assert texts["least | continue -> break"].outer == ("least", 4)


def test_of_what_shows_while_importing_the_lines_that_use_it_are_found():
    paths = core()
    for module, names in (
        ("tilegen.tiles.posts", ("_MOST_PEG_MM", "_MOST_LONG_MM")),
        ("tilegen.plans.off_grid_tiles", ("SLIVER_WALLS",)),
    ):
        (fault, *_) = (m for m in mutants(module, paths[module]) if m.outer is None and names[0] in m.text)
        lines = [paths[where].read_text().splitlines()[line - 1] for where, line in used_on(fault)]
        assert all(any(name in line for line in lines) for name in names)
        assert all(any(name in line for name in names) for line in lines)


def test_the_interval_of_a_share():
    # Wilson's interval of 81 in 263: a worked example in R. G. Newcombe, Statistics in Medicine 17, 1998, table I, method 3 (from memory).
    low, high = interval(81, 263)
    assert (round(low / 100, 4), round(high / 100, 4)) == (0.2553, 0.3662)


def test_the_list_of_equal_faults_is_well_formed(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("# a remark\ntiles.a | f | x < 1 -> x ... 1 | the same for whole numbers\n")
    ((pattern, reason),) = excuses(path)
    assert pattern.fullmatch("tiles.a | f | x < 1 -> x <= 1")
    assert not pattern.fullmatch("tiles.a | f | x < 2 -> x <= 2")
    assert reason == "the same for whole numbers"
    assert all(why for _, why in excuses())


def test_a_slow_test_is_ended_but_not_within_coverage(monkeypatch):
    armed = []
    monkeypatch.setattr(signal, "setitimer", lambda *words: armed.append(words))
    with pytest.raises(TooSlow):
        too_slow(signal.SIGPROF, sys._getframe())
    within = {"too_slow": too_slow, "sys": sys, "signal": signal}
    text = "def locked():\n    return called()\ndef called():\n    too_slow(signal.SIGPROF, sys._getframe())\n    return 3\n"
    exec(compile(text, "/packages/coverage/collector.py", "exec"), within)
    assert within["locked"]() == 3
    # It asks again.
    [(timer, _)] = armed
    assert timer == signal.ITIMER_PROF


def test_functions_and_caches_are_found_though_garbage_is_seldom_looked_for():
    try:
        names = {name for file, name, _ in functions() if file == kit.__file__}
        assert {"make_kit", "Kit.tiles"} <= names
        assert caches()
    finally:
        seldom_collecting()
