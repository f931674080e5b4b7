"""What many tests share: a small plan, the demonstration built once, and a quicker search.

Sheets are set out with fewer tries and pictures lit by fewer lights than a user's, but where a test is about that.
"""

import json
from collections.abc import Generator
from contextlib import nullcontext
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.calling import call
from tests.making import searching_less, seldom_collecting
from tests.plans import WORKED

# Long runs, with commands of their own.
collect_ignore = ["proof", "benchmarks"]


def pytest_collection_finish() -> None:
    seldom_collecting()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item: pytest.Item) -> Generator[None, object, object]:
    """Fixtures of a module search as its first test does: so such a module is marked as a whole."""
    with nullcontext() if item.get_closest_marker("thorough") else searching_less():
        return (yield)


pytest_runtest_call = pytest_runtest_setup


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A plan of 13 tiles with a doorway and a saddle, in a file."""
    path = tmp_path / "small.toml"
    path.write_text(
        'name = "Small plan"\ndrawing = """\n' + "\n".join(WORKED) + '\n"""\n'
        '[rooms]\nA = "Hall <&> of \\"signs\\""\n'
        '[[way]]\ncell = [3, 2]\nside = "east"\nkind = "doorway"\n[[way]]\ncell = [3, 3]\nside = "east"\nkind = "saddle"\n'
    )
    return path


class Built(NamedTuple):
    """What a build wrote, and said with --json."""

    folder: Path
    said: dict


@pytest.fixture(scope="session")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The shipped demonstration as anybody builds it; to be read only."""
    folder = tmp_path_factory.mktemp("demonstration")
    done = call("build", "bell-foundry", "-o", folder, "--json")
    assert done.returncode == 0, done.stderr
    return Built(folder / "bell-foundry", json.loads(done.stdout))
