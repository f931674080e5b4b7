"""Properties over random files: a short run, the same every time; the kept examples; faults put into written files.

`python -m tests.proof.properties 10000` is the long run.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

import ezdxf.filemanagement
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from tests import dungeons, making, strategies
from tests.calling import Done
from tests.dungeons import ALL
from tests.examples import Example, kept, read_example, toml
from tests.making import Refused

KEPT = kept()
# How many of each, and how many of them a run must find legal: strategies that only make rubbish prove nothing.
SHORT = {
    "grid": (5, 2),
    "profile": (12, 7),
    "outline": (8, 3),
    "stone": (3, 1),
    "plan": (4, 2),
    "sheet": (3, 1),
    "off_grid": (2, 1),
    "print": (3, 1),
}
# Dungeons in the suite.
NUMBERS = 3


@pytest.mark.parametrize("name", SHORT)
def test_what_holds_for_any_file(name: str) -> None:
    held = 0
    number, least = SHORT[name]

    @settings(max_examples=number, derandomize=True, database=None, deadline=None, phases=[Phase.generate, Phase.shrink],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(getattr(strategies, f"{name}_examples")())
    def one(example: Example) -> None:
        nonlocal held
        try:
            ALL[name](example)
        except Refused:
            return
        held += 1

    one()
    assert held >= least


@pytest.mark.parametrize("number", range(NUMBERS))
def test_dungeons_that_mix_everything(number: int) -> None:
    """The first through the whole chain, the others up to their solids. Few are refused: see the next test."""
    whole = number == 0
    with contextlib.suppress(Refused):
        ALL["chain" if whole else "kit"](dungeons.example(number, whole=whole))


def test_few_dungeons_are_refused(tmp_path: Path) -> None:
    refused = 0
    for number in range(12):
        plan = making.written(tmp_path, dungeons.example(number, whole=False)) / "p.toml"
        refused += making.call("kit", plan, "--json").returncode != 0
    assert refused < 2


@pytest.mark.parametrize("name", KEPT)
def test_kept_examples(name: str) -> None:
    """Each failed once. What is refused by now says so."""
    example = KEPT[name]
    if name.startswith("refused-"):
        with pytest.raises(Refused):
            ALL[example.property](example)
    else:
        ALL[example.property](example)


TILE = {"name": "t", "floor": {"lines": False}, "tile": {"size": [2, 2], "walls": ["north", "west"]}}
STOCK = {
    "name": "stock",
    "title": "stock",
    "thickness": 3.0,
    "process": {"laser": {"verdict": "allow"}},
    "sheet": {"size": [300, 200]},
}
CUTTER = {"name": "cutter", "title": "cutter", "process": "laser", "kerf": 0.2, "spacing": 3.0, "margin": 5.0,
          "cuts": "free", "size_error": 0.1, "paths": {"arcs": False}}  # fmt: skip
STOCK |= {"corners": "butt", "construction": "stacked", "glue_line": 0.0, "least_lintel": 0.0, "least_strip": 0.0}
PLAIN = {
    "profile": Example("profile", {"t.toml": toml(TILE)}),
    "plan": Example("plan", {"p.toml": toml({"name": "p", "scale": "10 ft", "drawing": "AB\nAA"})}),
    "sheet": Example("sheet", {"t.toml": toml(TILE), "stock.toml": toml(STOCK), "cutter.toml": toml(CUTTER)}),
}


def without_a_facet(folder: Path) -> None:
    path = next(folder.rglob("*.stl"))
    data = bytearray(path.read_bytes()[:-50])
    data[80:84] = (int.from_bytes(data[80:84], "little") - 1).to_bytes(4, "little")
    path.write_bytes(data)


def moved(layer: str, by: float):  # type: ignore[no-untyped-def]
    def spoil(folder: Path) -> None:
        path = next(folder.rglob("*.dxf"))
        document = ezdxf.filemanagement.readfile(path)
        outline = next(iter(document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')))
        with outline.points() as points:
            points[0] = (points[0][0] + by, *points[0][1:])
        document.saveas(path)

    return spoil


def without_a_part(folder: Path) -> None:
    path = next(folder.rglob("*-parts.csv"))
    head, *rows = path.read_text().splitlines()
    path.write_text("\n".join([head, *rows[:-1]]) + "\n")


def one_more(folder: Path) -> None:
    path = next(path for path in folder.rglob("*.stl"))
    path.with_name("another.stl").write_bytes(path.read_bytes())


SPOILT = [("profile", without_a_facet), ("plan", without_a_facet), ("plan", one_more), ("sheet", moved("CUT_OUTER", 0.5)),
          ("sheet", moved("CUT_OUTER", -9.0)), ("sheet", without_a_part)]  # fmt: skip


@pytest.mark.parametrize("name", PLAIN)
def test_plain_examples_hold(name: str) -> None:
    ALL[name](PLAIN[name])


@pytest.mark.parametrize("name, spoil", SPOILT, ids=[f"{name}-{n}" for n, (name, _) in enumerate(SPOILT)])
def test_faults_in_written_files_are_found(name: str, spoil, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    honest = making.call

    def call(*words: object) -> Done:
        done = honest(*words)
        if "-o" in words:
            spoil(words[words.index("-o") + 1])
        return done

    monkeypatch.setattr(making, "call", call)
    with pytest.raises(AssertionError):
        ALL[name](PLAIN[name])


def test_an_example_survives_its_text(tmp_path: Path) -> None:
    path = PLAIN["sheet"].keep("a", "why", tmp_path)
    assert read_example(path) == (PLAIN["sheet"], "why")
    assert read_example(path)[0].files == PLAIN["sheet"].files


def test_an_empty_corpus_fails(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="no examples"):
        kept(tmp_path)
