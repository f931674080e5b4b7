"""One browser for all tests of a file."""

import pytest

from tests.browsing import chromium


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found
