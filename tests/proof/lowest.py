"""Whether the lowest versions that pyproject.toml allows still work: `python -m tests.proof.lowest`.

A virtual environment of its own, every direct dependency at its bound, then the README's build and a short set of tests.
Prints what was installed. `--with NAME==VERSION` tries another version, to find a bound.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from tests.proof.seeds import ROOT

# Tests of every library's part in the work that need no program beside them.
TESTS = ("grid", "kits", "reading", "jobs", "terminal", "printed_commands", "outline_drawings", "sheet_files", "cli")
# What the tests themselves need, at any version.
TOOLS = ("pytest", "hypothesis", "jsonschema", "lib3mf", "lxml", "networkx", "pyogrio", "pypdf")
_BOUND = re.compile(r"([\w.-]+)>=([\w.]+)")


def bounds() -> dict[str, str]:
    """The lowest version of each direct dependency."""
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    return {found[1]: found[2] for found in map(_BOUND.fullmatch, wanted) if found}


def tried(folder: Path, versions: dict[str, str]) -> int:
    """Install, build, test; the exit code of the first that fails."""
    subprocess.run([sys.executable, "-m", "venv", folder], check=True)
    python, clean = folder / "bin" / "python", {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    pinned = [f"{name}=={version}" for name, version in versions.items()]
    files = [path for name in TESTS for path in (ROOT / "tests").rglob(f"test_{name}.py")]
    steps: list[tuple[str, list[str | Path]]] = [
        ("install", [python, "-m", "pip", "install", "-q", ROOT, *pinned, *TOOLS]),
        ("versions", [python, "-m", "pip", "list", "--format=freeze"]),
        ("help", [folder / "bin" / "tilegen", "tile", "--help"]),
        ("build", [folder / "bin" / "tilegen", "build", "bell-foundry", "-o", folder / "out"]),
        ("tests", [python, "-m", "pytest", "-q", "-x", "-o", "addopts=", *files]),
    ]
    for what, words in steps:
        done = subprocess.run(words, cwd=ROOT, env=clean, capture_output=True, text=True, check=False)
        if what == "versions":
            print(done.stdout)
        print(f"{what}: {'passed' if done.returncode == 0 else f'exit {done.returncode}'}", flush=True)
        if done.returncode:
            print(done.stdout[-9000:], done.stderr[-2000:])
            return done.returncode
    return 0


def main() -> None:
    """Try the bounds, or these with some changed; exit 1 if anything failed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--with", dest="others", metavar="NAME==VERSION", action="append", default=[])
    asked = words.parse_args()
    versions = bounds() | dict(other.split("==") for other in asked.others)
    print(" ".join(f"{name}=={version}" for name, version in versions.items()), flush=True)
    with tempfile.TemporaryDirectory(prefix="proof-") as folder:
        sys.exit(1 if tried(Path(folder), versions) else 0)


if __name__ == "__main__":
    main()
