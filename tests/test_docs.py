"""What the documentation shows runs, and is what is there."""

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
