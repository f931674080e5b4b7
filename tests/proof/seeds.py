"""What is spoilt: shipped files, and files that the tool makes; with the calls that read each kind."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tilegen.files.toml import shipped

ROOT = Path(__file__).resolve().parents[2]

SMALL_PLAN = b"""name  = "Two rooms"
scale = "10 ft"
drawing = \"\"\"
A A B
. C B
\"\"\"
[rooms]
A = "Hall"
[heights.B]
floor = "0.5 in"
[[way]]
cell = [2, 1]
side = "east"
kind = "doorway"
width = "1 in"
[[way]]
cell = [2, 1]
side = "south"
kind = "saddle"
leaf = "sliding"
[[feature]]
kind = "pillar"
cell = [1, 1]
at = [1.0, 0.6]
"""
ODD_PLAN = b"""name  = "Round and square"
scale = "10 ft"
drawing = \"\"\"
A A . . .
. A . . .
. . . . .
\"\"\"
[[shape]]
room = "T"
circle = { centre = [3.5, 1.5], radius = 1.0 }
[[shape]]
room = "H"
hall = { from = [0.4, 2.4], to = [2.2, 2.5], width = 0.5 }
"""
_GRID = b"""[grid]
pitch = "1.25 in"
spaces = 2
wall_thickness = "0.25 in"
wall_height = "1.5 in"
base_depth = "0.25 in"
joint_play = "0.3 mm"
[floor]
lines = true
groove_width = "1 mm"
groove_depth = "0.6 mm"
[doorway]
width = "1.1 in"
height = "1.2 in"
head = "round"
[surface]
floor = "planks"
walls = "brick"
seed = 1
[connectors]
kind = "pegs"
"""
_SHELF = b"""[tiles]
corner = 12
[pieces]
saddle-door = 2
"""
_CAVE = b"""name = "cave"
[tile]
outline_file = "cave.%s"
"""
_VARIANTS = b"pitch,wall,walls\n1 in,5 mm,north+west\n1.25 in,,north\n"

# Kind of file -> (its name in the call, calls that read it); the first words stand for most of the cases.
CALLS: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
    "plan": ("x.toml", (
        ("kit", "x.toml", "--json"), ("kit", "x.toml", "--in-sight", "--by-room"), ("fit", "x.toml", "--json", "--figure", "1 in"),
        ("kit", "x.toml", "--pieces", "2x1, run-3"), ("solid", "x.toml", "-o", "out"),
    )),
    "small plan": ("x.toml", (
        ("kit", "x.toml", "--json"), ("solid", "x.toml", "-o", "out"), ("sheet", "x.toml", "-o", "out"), ("build", "x.toml", "-o", "out"),
    )),
    "profile": ("x.toml", (("solid", "x.toml", "-o", "out"), ("sheet", "x.toml", "-o", "out"), ("tile", "x.toml", "-o", "out"))),
    "grid": ("x.toml", (
        ("kit", "lamp-cellars", "--grid", "x.toml", "--json"), ("solid", "corner", "--grid", "x.toml", "-o", "out"),
        ("fit", "lamp-cellars", "--grid", "x.toml"), ("sheet", "door", "--grid", "x.toml", "-o", "out"),
    )),
    "material": ("x.toml", (
        ("sheet", "corner", "--material", "x.toml", "-o", "out"), ("gauge", "--material", "x.toml", "-o", "out"),
        ("sheet", "one-wall", "--material", "x.toml", "--machine", "laser", "-o", "out"),
        ("sheet", "one-wall", "--material", "x.toml", "--machine", "hot-wire", "-o", "out"),
    )),
    "machine": ("x.toml", (
        ("sheet", "door", "--machine", "x.toml", "-o", "out"), ("sheet", "corner", "--machine", "x.toml", "--material", "greyboard", "-o", "out"),
        ("sheet", "corner", "--machine", "x.toml", "--material", "card", "-o", "out"),
        ("gauge", "--machine", "x.toml", "--material", "card", "-o", "out"),
    )),
    "printer": ("x.toml", (("solid", "door", "--printer", "x.toml", "-o", "out"), ("gauge", "--printer", "x.toml", "-o", "out"))),
    "shelf": ("x.toml", (("kit", "lamp-cellars", "--own", "x.toml", "--json"),)),
    "variants": ("x.csv", (("solid", "corner", "--variants", "x.csv", "-o", "out"),)),
    "outline dxf": ("cave.dxf", (("solid", "cave.toml", "-o", "out"), ("sheet", "cave.toml", "-o", "out"))),
    "outline svg": ("cave.svg", (("solid", "cave.toml", "-o", "out"), ("sheet", "cave.toml", "-o", "out"))),
    "dxf": ("x.dxf", (("inspect", "x.dxf"), ("inspect", "x.dxf", "--json"))),
    "svg": ("x.svg", (("inspect", "x.svg"), ("inspect", "x.svg", "--json"))),
    "stl": ("x.stl", (("inspect", "x.stl"), ("inspect", "x.stl", "--json"))),
    "3mf": ("x.3mf", (("inspect", "x.3mf"), ("inspect", "x.3mf", "--json"))),
}  # fmt: skip

# Files that stand beside the spoilt one.
BESIDE = {"outline dxf": {"cave.toml": _CAVE % b"dxf"}, "outline svg": {"cave.toml": _CAVE % b"svg"}}


def seeds() -> dict[str, list[bytes]]:
    """Kind -> whole files of it. Runs the tool once for those that it makes."""
    found = {kind: [p.read_bytes() for p in sorted(shipped(f"{kind}s").glob("*.toml"))]
             for kind in ("plan", "profile", "material", "machine", "printer")}  # fmt: skip
    found |= {"small plan": [SMALL_PLAN, ODD_PLAN], "grid": [_GRID], "shelf": [_SHELF], "variants": [_VARIANTS]}
    with tempfile.TemporaryDirectory() as folder:
        words = [
            sys.executable,
            "-c",
            "from tilegen.cli import main; main()",
            "tile",
            "corner",
            "door",
            "-o",
            folder,
            "--quiet",
        ]
        subprocess.run(words, check=True, cwd=ROOT)
        for kind in ("dxf", "svg", "stl", "3mf"):
            made = sorted(Path(folder).rglob(f"*.{kind}"), key=lambda path: (path.stat().st_size, path.name))
            found[kind] = [path.read_bytes() for path in made[:3]]
    found["dxf"].append(outline_dxf())
    found["outline dxf"] = [outline_dxf()]
    found["outline svg"] = [_OUTLINE_SVG]
    return found


_OUTLINE_SVG = b"""<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="70mm" viewBox="0 0 80 70">
<g transform="translate(2 1) rotate(3)"><path d="M 5 5 L 70 5 C 75 20 75 40 70 60 A 20 20 0 0 1 40 60 L 5 60 Z"/></g>
<circle cx="30" cy="30" r="8"/>
</svg>
"""


def outline_dxf() -> bytes:
    """A cave's outline: lines, an arc, a bulge and a hole."""
    import io

    import ezdxf

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0), (60, 0, 0.3), (60, 50, 0), (0, 50, -0.1)], format="xyb", close=True)
    space.add_circle((30, 25), 8)
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()
