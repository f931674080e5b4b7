"""Runs of the commands for the property tests: exit codes, what was said, what was written; twice if asked."""

from __future__ import annotations

import gc
import io
import json
import math
import re
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import trimesh
from PIL import Image

from tests.calling import call
from tests.examples import Example
from tilegen.making import dungeon
from tilegen.pictures import canvas, soft_view
from tilegen.sheets.nesting import odd, rectangles
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.plate import Plate

_soft_picture = soft_view.soft_picture
# Prints whatever a grid allows.
LARGE = """name = "large"
title = "large"
bed = [4000, 4000]
height = 2000
[walls]
least = 0.01
sturdy = 0.01
"""


class Refused(Exception):  # noqa: N818 - an answer, not a fault
    """The tool would not make it, and said why."""


@dataclass(frozen=True)
class Run:
    """One call: its exit code, its JSON, the folder it wrote into and the files by suffix."""

    code: int
    said: dict
    folder: Path

    def files(self, suffix: str) -> list[Path]:
        return sorted(self.folder.rglob(f"*.{suffix}"))


def run(folder: Path, *words: object, out: str = "out") -> Run:
    """A command with --json.

    Raises:
        Refused: exit 2, where nothing may lie in the folder; or exit 1 because parts are smaller than their tool allows.
    """
    target = folder / out
    making = words[0] not in ("kit", "fit")
    if words[0] == "solid" and "--printer" not in words:
        (folder / "large.toml").write_text(LARGE)
        words = (*words, "--printer", folder / "large.toml")
    done = call(*words, "--json", *(["-o", target] if making else []))
    assert done.returncode in (0, 1, 2), f"exit {done.returncode}"
    if done.returncode == 2:
        assert not making or not target.exists(), "refused, but the folder is there"
        text = done.stderr.replace(f"{folder}/", "")
        assert "Traceback" not in text, text
        assert ". " in text, f"no cure: {text}"
        raise Refused(text)
    said = json.loads(done.stdout) if done.stdout.strip() else {}
    assert said or done.returncode == 1, "no JSON"
    no = words[0] == "fit" or "enough" in done.stderr or "too little stock" in done.stderr
    findings = re.findall(r"\bfinding (\d+)\b", done.stderr)
    if done.returncode == 1 and findings and set(findings) == {"10"}:
        # The auditor's verdict on a part too small for its tool; the builder decides.
        raise Refused(f"found {done.stderr}")
    if done.returncode == 1 and not no:
        raise AssertionError(f"exit 1: {done.stderr}")
    return Run(done.returncode, said, target)


def seldom_collecting() -> None:
    """What was imported is not looked through for garbage again and again, and the rest seldom: a tenth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(400_000, 10, 10)


def _coarse(bodies: Sequence[soft_view.Body], *, size: tuple[int, int], **how: Any) -> Image.Image:
    """A picture of an eighth of the pixels each way, drawn up to its size, in this thread: others have work to do."""
    drawn = _soft_picture(bodies, size=(size[0] // 8, size[1] // 8), **how | {"workers": 1})
    return drawn.resize((size[0], size[1] or 8 * drawn.height), Image.Resampling.NEAREST)


@contextmanager
def searching_less() -> Iterator[None]:
    """The same code with fewer tries, lights and pixels: what is wrong shows, how full a sheet is and how soft a picture do not."""
    lights = partial(soft_view._lights, quality=soft_view.Quality(sky=3, sun=1))
    with (
        patch.multiple(odd, _QUICK=(5, 0), _THOROUGH=(8, 0), _MOST=8),
        patch.object(rectangles, "_PIECES_TRIED", 1_000),
        patch.object(canvas, "SUPERSAMPLING", 1),
        patch.multiple(soft_view, _SAMPLES=1, _lights=lambda view, quality, aside: lights(view, aside=aside)),
        patch.object(soft_view, "soft_picture", _coarse),
        patch.object(dungeon, "soft_picture", _coarse),
    ):
        yield


def near(found: float, expected: float, *, share: float = 1e-9, slack: float = 0.0) -> bool:
    return abs(found - expected) <= share * abs(expected) + slack


def written(folder: Path, example: Example) -> Path:
    """The example's files in a folder."""
    for name, text in example.files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def now_and_then(example: Example) -> bool:
    """One example in four, the same ones every time."""
    return zlib.crc32("".join(example.files.values()).encode()) % 4 == 0


def check_again(made: Run, again: Run) -> None:
    """The same bytes the second time."""
    first, second = (
        {p.relative_to(r.folder): p.read_bytes() for p in r.folder.rglob("*") if p.is_file()} for r in (made, again)
    )
    assert first.keys() == second.keys(), "other files the second time"
    other = [str(name) for name, content in first.items() if second[name] != content]
    assert not other, f"other bytes the second time: {other}"


def closed_solid(plates: Sequence[Plate], *, slack: float = 1e-6) -> Mesh:
    """The solid of some plates; its STL, as trimesh reads it, is closed and of their volume in mm3 within a slack."""
    mesh = build_mesh("t", plates)
    read = _as_read(mesh)
    assert read.is_watertight
    assert read.is_winding_consistent
    assert near(mesh.volume, math.fsum(plate.volume for plate in plates), share=0.0, slack=slack)
    assert near(read.volume, mesh.volume, share=1e-6, slack=0.02)
    return mesh


def one_body(plates: Sequence[Plate], *, slack: float = 1e-6) -> Mesh:
    """The same in one piece, with nothing hidden in it.

    Euler characteristic 2 - 2 g (Euler-Poincare): a tunnel for each doorway with a lintel, none for pockets.
    """
    mesh = closed_solid(plates, slack=slack)
    read = _as_read(mesh)
    tunnels = sum(opening.height < plate.height for plate in plates for opening in plate.openings)
    assert (read.body_count, read.euler_number) == (1, 2 - 2 * tunnels)
    return mesh


def _as_read(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.load_mesh(io.BytesIO(stl_bytes(mesh)), file_type="stl")
