"""What the documentation shows runs, and is what is there."""

import os
import re
import subprocess
import sys
from pathlib import Path

import trimesh

import tilegen

ROOT = Path(__file__).resolve().parents[2]
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
    assert "7 tiles of 4 types" in done.stdout
    solids = sorted((tmp_path / "out" / "example").rglob("*.stl"))
    assert len(solids) == 7
    assert all(trimesh.load(path).is_watertight for path in solids)
    assert list((tmp_path / "out" / "example" / "hall" / "sheets").glob("*.dxf"))


def test_the_page_shows_the_example_as_it_is():
    assert (ROOT / "docs" / "example.py").read_text() in PAGE


def test_the_page_names_the_whole_front_door():
    assert set(re.findall(r"\btg\.(\w+)", PAGE)) == set(tilegen.__all__) - {"__version__"}
    assert all(getattr(tilegen, name).__doc__ for name in tilegen.__all__)


def test_the_front_door_opens_without_geometry():
    code = (
        "import sys, tilegen; print(sorted({'numpy', 'shapely', 'pydantic', 'typer', 'manifold3d'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_main_job_knows_no_command_line():
    code = "import sys, tilegen.making.front; print('typer' in sys.modules or 'tilegen.cli' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


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
    drawn = pictures.surfaces_jpeg(), pictures.doors_jpeg(), pictures.papers_png(), pictures.seams()
    assert all(content.startswith((b"\x89PNG", b"\xff\xd8")) for content in drawn)
