"""Equal bytes from every Python: `python -m tests.proof.pythons [PYTHON...]`.

Each Python named, else every python3.x on the path that the tool supports, gets a fresh virtual environment with the
versions of constraints.txt, imports every module (a warning about our own code fails), and builds every shipped plan; all must
give the same bytes. With one Python only, it builds twice and says so.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.proof.faults import Tree, tree
from tests.proof.seeds import ROOT
from tilegen.files.toml import shipped

_FAMILY = re.compile(r"python3(\.\d+)?")
_ASKED = "import ensurepip, json, platform, sys; print(json.dumps([list(sys.version_info[:3]), platform.python_implementation()]))"
# Errors for what the tool itself does; a library's own deprecations are told but are not its fault.
_IMPORTS = """
import importlib, pkgutil, sys, warnings
ours, others = [], []
def shown(message, category, filename, lineno, file=None, line=None):
    (ours if "tilegen" in filename else others).append(f"{category.__name__}: {message} ({filename}:{lineno})")
warnings.showwarning = shown
warnings.simplefilter("always")
import tilegen
for found in pkgutil.walk_packages(tilegen.__path__, "tilegen."):
    try:
        importlib.import_module(found.name)
    except ModuleNotFoundError as missing:
        if missing.name.split(".")[0] not in ("starlette", "uvicorn", "distributed", "spyrrow"):
            raise
print(len(ours), "of ours,", len(others), "of libraries")
print("\\n".join([*ours, *sorted(set(others))[:5]]))
sys.exit(bool(ours))
"""


@dataclass(frozen=True)
class Made:
    """What one Python made: digests of every file, and of what it printed."""

    name: str
    files: Tree


def on_path() -> list[Path]:
    """Every python3.x of the path in its order, one for each file it really is."""
    folders = [Path(folder) for folder in os.environ.get("PATH", "").split(os.pathsep) if folder]
    named = [
        path
        for folder in folders
        if folder.is_dir()
        for path in sorted(folder.iterdir())
        if _FAMILY.fullmatch(path.name)
    ]
    first: dict[Path, Path] = {}
    for path in named:
        first.setdefault(path.resolve(), path)
    return list(first.values())


def version_of(python: Path) -> tuple[int, ...] | None:
    """Its version if it is a CPython that runs and can make virtual environments, else None."""
    done = subprocess.run([python, "-c", _ASKED], capture_output=True, text=True, check=False)
    if done.returncode:
        return None
    version, kind = json.loads(done.stdout)
    return tuple(version) if kind == "CPython" else None


def least() -> tuple[int, ...]:
    """The first version that pyproject.toml supports."""
    said = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"]
    return tuple(map(int, said.removeprefix(">=").split(".")))


def chosen(asked: Sequence[Path]) -> dict[str, Path]:
    """Version -> a Python of it, one for each minor version, the oldest first."""
    found: dict[tuple[int, ...], tuple[tuple[int, ...], Path]] = {}
    for python in asked or [Path(sys.executable), *on_path()]:
        version = version_of(python)
        if version is None:
            print(f"{python}: no CPython that runs and makes virtual environments")
        elif version < least():
            print(f"{python.name}: {'.'.join(map(str, version))} is older than is supported")
        else:
            found.setdefault(version[:2], (version, python))
    return {".".join(map(str, version)): python for version, python in (found[key] for key in sorted(found))}


def environment(python: Path, folder: Path, source: Path) -> Path:
    """A fresh virtual environment with the tool; its Python."""
    run([python, "-m", "venv", folder])
    inside = folder / "bin" / "python"
    words = ["--quiet", "--disable-pip-version-check", "-c", ROOT / "constraints.txt", source]
    run([inside, "-m", "pip", "install", *words])
    return inside


def made(name: str, inside: Path, folder: Path) -> Made:
    """Build every shipped plan; the kit's JSON of each is a file too."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    folder.mkdir()
    plans = sorted(path.stem for path in shipped("plans").glob("*.toml"))
    program = inside.parent / "tilegen"
    for plan in plans:
        run([program, "build", plan, "--quiet", "-o", "out"], cwd=folder, env=clean, codes=(0, 1))
        told = run([program, "fit", plan, "--figure", "1 in", "--json"], cwd=folder, env=clean, codes=(0, 1))
        (folder / f"{plan}-fit.json").write_text(told)
    return Made(name, tree(folder))


def differing(first: Made, other: Made) -> list[str]:
    """The files that are not the same in both."""
    return sorted(
        name for name in first.files.keys() | other.files.keys() if first.files.get(name) != other.files.get(name)
    )


def run(words: Sequence[object], *, codes: tuple[int, ...] = (0,), **more: object) -> str:
    """What a command prints; ends this program where it ends otherwise than it may."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload]
    if done.returncode not in codes:
        raise SystemExit(f"{' '.join(map(str, words[:4]))} ... exit {done.returncode}: {done.stderr.strip()[-800:]}")
    return str(done.stdout)


def clean_copy(folder: Path) -> Path:
    """The files as they are committed or about to be: no caches, nothing that was made."""
    for name in filter(None, run(["git", "-C", ROOT, "ls-files", "-z"]).split("\0")):
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, target)
    return folder


def main() -> None:
    """Build with each, compare with the first; exit 1 where bytes differ or a module warns."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("pythons", nargs="*", type=Path, metavar="PYTHON")
    asked = words.parse_args()
    pythons = chosen(asked.pythons)
    if not pythons:
        raise SystemExit("no Python that the tool supports")
    every, fine = [], True
    with tempfile.TemporaryDirectory(prefix="proof-") as text:
        folder = Path(text)
        source = clean_copy(folder / "source")
        for version, python in pythons.items():
            began = time.monotonic()
            inside = environment(python, folder / f"venv-{version}", source)
            told = subprocess.run([inside, "-c", _IMPORTS], capture_output=True, text=True, check=False)
            fine = fine and not told.returncode
            every.append(made(version, inside, folder / version))
            if len(pythons) == 1:
                every.append(made(f"{version} again", inside, folder / "again"))
            digest = hashlib.sha256(json.dumps(every[-1].files, sort_keys=True).encode()).hexdigest()[:12]
            print(f"{version}: {len(every[-1].files)} files, {digest}, {time.monotonic() - began:.0f} s", flush=True)
            print(f"  warnings on import: {(told.stdout + told.stderr[-400:]).strip()}", flush=True)
    for other in every[1:]:
        found = differing(every[0], other)
        fine = fine and not found
        print(
            f"{every[0].name} and {other.name}: {len(found)} files differ{': ' if found else ''}{', '.join(found[:5])}"
        )
    if len(pythons) == 1:
        print("only one Python here: nothing is proven about others")
    sys.exit(0 if fine else 1)


if __name__ == "__main__":
    main()
