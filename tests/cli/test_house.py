"""The house: one direction, no circles, quick help, a README that is true."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import networkx

ROOT = Path(__file__).resolve().parents[2]
MODULES = sorted((ROOT / "tilegen").rglob("*.py"))

# From left to right; what stands on one level may not import what stands further right.
LEVELS = [
    ("errors", "lengths", "model", "version"),
    ("tiles",),
    ("plans",),
    ("fit",),
    ("solids.build", "solids.masonry", "solids.rock", "solids.stones", "solids.prisms", "solids.formats", "files"),
    ("solids", "sheets"),
    ("pictures",),
    ("making",),
    ("batch", "desk"),
    ("cli", "__main__"),
    ("front door",),
]


def level(module):
    name = module.removeprefix("tilegen").removeprefix(".") or "front door"
    found = [
        (len(start), n)
        for n, starts in enumerate(LEVELS)
        for start in starts
        if name == start or name.startswith(f"{start}.")
    ]
    return max(found)[1] if found else 0


@cache
def imports(path):
    nodes = ast.walk(ast.parse(path.read_text()))
    return [n.module for n in nodes if isinstance(n, ast.ImportFrom) and (n.module or "").startswith("tilegen")]


def dotted(path):
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def test_one_direction():
    against = [
        (dotted(path), found) for path in MODULES for found in imports(path) if level(found) > level(dotted(path))
    ]
    assert not against, "; ".join(f"{one} imports {other}" for one, other in against)


def test_the_direction_check_can_fail():
    assert (
        level("tilegen.tiles.plate") < level("tilegen.plans.kit") < level("tilegen.sheets.make") < level("tilegen.cli")
    )


def test_no_circles():
    """No modules import each other, wherever in the file."""
    graph = networkx.DiGraph((dotted(path), found) for path in MODULES for found in imports(path))
    assert not [found for found in networkx.strongly_connected_components(graph) if len(found) > 1]


def test_help_imports_no_geometry():
    code = "import sys; sys.argv = ['tilegen', '--help']\nfrom tilegen.cli import main\ntry:\n    main()\nexcept SystemExit:\n    pass\nprint([m for m in ('numpy', 'shapely', 'manifold3d', 'ezdxf', 'trimesh', 'pydantic', 'reportlab', 'PIL') if m in sys.modules])"
    text = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert text.strip().endswith("[]")


def readme_commands():
    return re.findall(r"^python3 -m venv .*$", (ROOT / "README.md").read_text(), re.MULTILINE)


def test_the_readme_has_two_commands_of_one_line():
    build, tests = readme_commands()
    assert "tilegen build bell-foundry -o out" in build
    assert tests.endswith("-m pytest")
    assert all("pip install" in command for command in (build, tests))


def test_the_readme_opens_with_the_job():
    first = (ROOT / "README.md").read_text().split("\n\n")[1]
    assert "map" in first
    assert len(first.split()) > 60


def test_readme_links_exist():
    for target in re.findall(r"\]\((?!https:)([^)#]+)\)", (ROOT / "README.md").read_text()):
        assert (ROOT / target).exists(), target


def test_out_is_ignored():
    assert (ROOT / "out" / ".gitignore").read_text().split() == ["*", "!.gitignore"]
