"""The page of checks: each figure that the program shows has its row, each row says what it is checked against and where."""

import json
import re
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.calling import call
from tilegen.files.toml import find

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "checks.md").read_text(encoding="utf-8")
OUTSIDE = ("standard", "published", "library", "reader", "worked", "theorem")
MARKS = ("by hand", "common practice", "not checked")
PLAN = """name = "Two rooms"
drawing = "A B"
[set]
posts = "loose"
[connectors]
kind = "keys"
[[way]]
cell = [1, 1]
side = "east"
kind = "saddle"
[[feature]]
cell = [1, 1]
kind = "pillar"
"""


class Row(NamedTuple):
    """A promise, the patterns of its figures, the kind of its check, and its tests."""

    promise: str
    figures: list[str]
    kind: str
    tests: list[str]


def rows() -> list[Row]:
    found = []
    for line in PAGE.splitlines():
        cells = line.strip("|").split(" |")
        if line.startswith("| ") and len(cells) == 4 and cells[0] != " promise":
            kind = re.match(r" \*\*([a-z ]+)\*\*", cells[2])
            assert kind, f"what is it checked against? {line}"
            figures, tests = (re.findall(r"`([^`]+)`", cells[n]) for n in (1, 3))
            found.append(Row(cells[0].strip(), figures, kind[1], tests))
    return found


def figures_in(value: object, path: str = "") -> set[str]:
    """The paths of all numbers, answers and blanks in a JSON document."""
    if isinstance(value, dict):
        return {found for key, inner in value.items() for found in figures_in(inner, f"{path}.{key}" if path else key)}
    if isinstance(value, list):
        return {found for inner in value for found in figures_in(inner, path)}
    return set() if isinstance(value, str) else {path.removeprefix("kit.")}


@pytest.fixture(scope="module")
def shown(tmp_path_factory) -> set[str]:
    """Every figure that the commands' JSON, a report and its folder show."""
    folder = tmp_path_factory.mktemp("shown")
    (folder / "plan.toml").write_text(PLAN)
    (folder / "ring.toml").write_text('name = "Ring"\ndrawing = """\nAAA\nA.A\nAAA\n"""\n')
    (folder / "shelf.toml").write_text("[tiles]\n")
    foam = find("foam", "materials").read_text()
    (folder / "foam.toml").write_text(foam.replace("size = [", "price = 3\nsize = [", 1))
    calls = [
        "kit plan.toml --in-sight --own shelf.toml", "kit plan.toml --choices", "kit plan.toml plan.toml --own shelf.toml", "fit ring.toml --figure 55mm",
        "fit plan.toml --figure medium --want 1", "collection plan.toml", "solid corner -o solid --printer resin-190",
        "build plan.toml -o built --material foam.toml", "inspect built/plan/sheets/foam-01.dxf built/plan/solids/seam-key.stl",
        "kit ring.toml --by-room", "kit ring.toml --pieces 2x1", "solid corner --vary wall=6,7 -o many",
        "build ring.toml --make cut --most-tiles 9 -o limited",
        "gauge --record comb-x=98 -o gauge", "gauge --printer fdm-220 --record play=.2 -o gauge",
    ]  # fmt: skip
    found: set[str] = set()
    for words in calls:
        done = call(*words.split(), "--json", cwd=folder)
        assert done.returncode in (0, 1), done.stderr
        found |= figures_in(json.loads(done.stdout))
    report = (folder / "built/plan/report.html").read_text()
    found |= {f"report: {heading}" for heading in re.findall(r"<(?:h2|th)\b[^>]*>([^<]+)<", report)}
    return found | {path.name for path in (folder / "built").rglob("*") if path.suffix in (".csv", ".pdf", ".glb")}


@cache
def functions_in(path: str) -> set[str]:
    return set(re.findall(r"^def (test_\w+)\(", (ROOT / path).read_text(encoding="utf-8"), re.MULTILINE))


def test_every_figure_that_is_shown_has_its_row(shown):
    patterns = [pattern for row in rows() for pattern in row.figures]
    missing = sorted(name for name in shown if not any(fnmatchcase(name, pattern) for pattern in patterns))
    assert missing == []
    assert len(shown) > 100


def test_every_row_names_figures_that_there_are(shown):
    seldom = {"report: Left for next time", "report: Decide first"}
    patterns = {pattern for row in rows() for pattern in row.figures} - seldom
    assert sorted(one for one in patterns if not any(fnmatchcase(name, one) for name in shown)) == []


def test_every_row_has_a_check_or_a_mark_and_its_tests_exist():
    for row in rows():
        assert row.kind in OUTSIDE + MARKS, row.promise
        assert row.tests or row.kind == "not checked", row.promise
        for test in row.tests:
            path, _, name = test.partition("::")
            assert name in functions_in(path), test
    assert len({row.promise for row in rows()}) == len(rows()) > 40
