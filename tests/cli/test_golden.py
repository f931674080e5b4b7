"""What ships, made anew, against its golden values; see `tests/golden.py`."""

from __future__ import annotations

import pytest

from tests.golden import cases, differences, kept

CASES, KEPT = cases(), kept()


@pytest.fixture(autouse=True)
def plain_nests(monkeypatch):
    """How close odd outlines can be packed is tested elsewhere, and takes long."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)


def test_every_case_has_golden_values():
    assert CASES.keys() == KEPT.keys(), "python -m tests.golden makes them anew and prints what differs"


@pytest.mark.parametrize("name", CASES)
def test_what_is_made_is_as_it_was(name):
    found = differences(KEPT[name], CASES[name](), name)
    assert not found, "\n".join(found)
