"""Which lines and branches the tests run: `python -m tests.proof.coverage [words for pytest]`.

Reported, not chased. Workers and every process that a test starts are counted too; forks that are killed are not.
Needs the package coverage (extra dev). Figures go to out/coverage/coverage.json, a page to out/coverage/index.html.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.proof.seeds import ROOT

FOLDER = ROOT / "out" / "coverage"
_SETTINGS = """[run]
branch = true
parallel = true
source = {root}/tilegen
data_file = {folder}/data
patch = subprocess
sigterm = true
[report]
exclude_also =
    if TYPE_CHECKING:
    raise NotImplementedError
"""
Counts = dict[str, int]
_KEYS = ("num_statements", "covered_lines", "num_branches", "covered_branches")


def measure(words: Sequence[str]) -> int:
    """Run the tests under coverage, combine what every process wrote; pytest's exit code."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob("data*"):
        old.unlink()
    settings = FOLDER / "settings"
    settings.write_text(_SETTINGS.format(root=ROOT, folder=FOLDER))
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with_settings = f"--rcfile={settings}"
    tests = [sys.executable, "-m", "coverage", "run", with_settings, "-m", "pytest", *words]
    code = subprocess.run(tests, cwd=ROOT, env=environment, check=False).returncode
    for step in (["combine", "--quiet"], ["json", "--quiet", "-o", FOLDER / "coverage.json"], ["html", "--quiet", "-d", FOLDER]):  # fmt: skip
        subprocess.run([sys.executable, "-m", "coverage", step[0], with_settings, *step[1:]], cwd=ROOT, check=True)
    return code


def by_package(record: Mapping[str, dict[str, dict[str, Counts]]]) -> dict[str, Counts]:
    """Package -> its counts; modules beside the packages count as "tilegen" itself."""
    found: dict[str, Counts] = defaultdict(lambda: dict.fromkeys(_KEYS, 0))
    for name, entry in record["files"].items():
        parts = Path(name).parts
        inside = parts[parts.index("tilegen") :]
        package = ".".join(inside[:2]) if len(inside) > 2 else "tilegen"
        for key in _KEYS:
            found[package][key] += entry["summary"][key]
            found["all"][key] += entry["summary"][key]
    return dict(found)


def rows(counts: Mapping[str, Counts]) -> list[str]:
    """A line for each package, all of them last."""
    lines = [f"{'package':20} {'lines':>7} {'run':>7} {'branches':>9} {'taken':>7}"]
    for name in sorted(counts, key=lambda name: (name == "all", name)):
        lines_of, run, branches, taken = (counts[name][key] for key in _KEYS)
        lines.append(f"{name:20} {lines_of:7} {_share(run, lines_of)} {branches:9} {_share(taken, branches)}")
    return lines


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:6.1f}%" if whole else f"{'-':>7}"


def main() -> None:
    """Run, combine, print; the exit code is that of the tests."""
    code = measure(sys.argv[1:])
    record = json.loads((FOLDER / "coverage.json").read_text())
    print("\n".join(rows(by_package(record))))
    sys.exit(code)


if __name__ == "__main__":
    main()
