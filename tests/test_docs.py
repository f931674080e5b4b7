"""What the documentation shows runs, and is what is there."""

import doctest
import importlib
import os
import re
import subprocess
import sys
from pathlib import Path

import trimesh

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "docs" / "python.md").read_text()


def test_the_example_runs(tmp_path):
    done = subprocess.run(
        [sys.executable, ROOT / "docs" / "example.py"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert "7 tiles of 4 types, or 3 larger pieces" in done.stdout
    solids = sorted((tmp_path / "out" / "example").rglob("*.stl"))
    assert len(solids) == 6
    assert all(trimesh.load(path).is_watertight for path in solids)
    assert list((tmp_path / "out" / "example" / "sheets").glob("*.dxf"))


def test_the_page_shows_the_example_as_it_is():
    assert (ROOT / "docs" / "example.py").read_text() in PAGE


def test_the_page_names_what_there_is():
    for module, name in re.findall(r"`((?:[a-z_]+\.)+)([A-Za-z_]+)\(", PAGE.split("```python")[0]):
        assert hasattr(importlib.import_module(f"tilegen.{module.rstrip('.')}"), name), f"{module}{name}"


def test_the_formulas_hold():
    """Every example of the page of formulas, against the code that makes the files."""
    done = doctest.testfile(str(ROOT / "docs" / "formulas.md"), module_relative=False)
    assert done.attempted > 100
    assert done.failed == 0


def test_every_formula_has_an_example_and_a_source():
    sections = (ROOT / "docs" / "formulas.md").read_text().split("\n## ")[1:]
    for section in sections:
        assert ">>> " in section, section.splitlines()[0]
        said = " ".join(section.split())
        assert re.search(
            r"[Ss]ource|[Dd]erived|common practice|[Ff]rom (memory|the same)|data sheets|Reference", said
        ), section


def test_the_pictures_are_made_by_the_commands_under_them():
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        import pictures
    finally:
        sys.path.pop(0)
    page = (ROOT / "docs" / "gallery.md").read_text()
    commanded = {found[0]: found for found in pictures._COMMANDED.findall(page)}
    assert {path.name for path in (ROOT / "docs" / "gallery").iterdir()} == {Path(name).name for name in commanded}
    for name in re.findall(r"\]\((gallery/[^)]+)\)", page):
        assert name in commanded, name
    drawn = pictures.surfaces_png(), pictures.doors_png(), pictures.seams()
    assert all(content.startswith(b"\x89PNG") for content in drawn)
