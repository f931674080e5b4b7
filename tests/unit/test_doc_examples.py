"""The examples of docstrings and of the page of formulas hold."""

import doctest
import importlib
import re

import pytest

import tilegen
from tests.pages import ROOT
from tilegen.making import front

FORMULAS = ROOT / "docs" / "formulas.md"
SHOWING = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in sorted((ROOT / "tilegen").rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", SHOWING)
def test_a_module_does_what_its_docstrings_show(name):
    done = doctest.testmod(importlib.import_module(name))
    assert done.attempted
    assert not done.failed


def test_every_function_of_the_front_door_shows_an_example():
    made = {name: value for name, value in vars(front).items() if name in tilegen.__all__ and name != "Tools"}
    assert set(made) >= {"build", "make_plan", "make_tile", "read_plan", "read_tile", "fit_figures", "make_solid"}
    assert all(">>> " in value.__doc__ for value in made.values() if value.__module__ == front.__name__)


def test_the_formulas_hold():
    """Every example of the page of formulas, against the code that makes the files."""
    done = doctest.testfile(str(FORMULAS), module_relative=False)
    assert done.attempted > 100
    assert done.failed == 0


def test_every_formula_has_an_example_and_a_source():
    sections = FORMULAS.read_text().split("\n## ")[1:]
    for section in sections:
        assert ">>> " in section, section.splitlines()[0]
        said = " ".join(section.split())
        assert re.search(
            r"[Ss]ource|[Dd]erived|common practice|[Ff]rom (memory|the same)|data sheets|Reference", said
        ), section
