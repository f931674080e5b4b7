"""Sheets are set out with fewer tries than a user's, but where a test is about how full they are."""

from collections.abc import Generator
from contextlib import nullcontext

import pytest

from tests.making import searching_less


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Fixtures of a module search as its first test does: so such a module is marked as a whole."""
    with nullcontext() if item.get_closest_marker("thorough") else searching_less():
        return (yield)
