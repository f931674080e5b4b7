"""What the tool weighs: `python -m proof.weights`.

Peak memory of every command, what a plain install brings into a fresh environment (at most 350 MB), whether the wheel
builds and installs clean, the licences of what comes with it, and known vulnerabilities (pip-audit, if it is there).
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from proof.seeds import ROOT

MOST_MB = 350
_WARN_MB = 2048
_COMMANDS: tuple[tuple[str, ...], ...] = (
    ("--help",), ("start", "begun"), ("schema", "plan"),
    ("kit", "bell-foundry"), ("kit", "bell-foundry", "--in-sight"), ("fit", "bell-foundry"), ("fit", "gull-light"),
    ("tile", "door", "-o", "out"), ("tile", "corner", "--floor", "flagstones", "--walls", "brick", "-o", "out"),
    ("solid", "bell-foundry", "-o", "out"), ("sheet", "bell-foundry", "-o", "out"), ("build", "bell-foundry", "-o", "out"),
    ("build", "gull-light", "-o", "out"), ("build", "hill-shrine", "-o", "out"), ("build", "lamp-cellars", "-o", "out"),
    ("build", "bell-foundry", "--jobs", "2", "-o", "out"),
    ("gauge", "-o", "out"), ("gauge", "--printer", "fdm-220", "-o", "out"),
    ("inspect", "out/bell-foundry/solids/kit.3mf"), ("inspect", "out/bell-foundry/sheets/foam-01.dxf"),
)  # fmt: skip
_AS_INSTALLED = "import sys; from tilegen.cli import main; sys.argv[0] = 'tilegen'; main()"


def peaks(folder: Path) -> bool:
    """Peak resident memory and time of each command in a process of its own; False if one of them fails."""
    fine = True
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for words in _COMMANDS:
        began = time.monotonic()
        process = subprocess.Popen(
            [sys.executable, "-c", _AS_INSTALLED, *words], cwd=folder, env=environment,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        )  # fmt: skip
        assert process.stderr is not None
        told = process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        code, peak = os.waitstatus_to_exitcode(status), usage.ru_maxrss / 1024
        process.returncode = code
        print(f"{' '.join(words):62} {peak:6.0f} MB {time.monotonic() - began:6.1f} s  exit {code}", flush=True)
        usual = {0, 1} if words[0] == "fit" else {0}
        if code not in usual or peak > _WARN_MB:
            print(f"  FAILED: {told.decode(errors='replace').strip()[:300]}")
            fine = False
    return fine


def installed(folder: Path) -> bool:
    """Wheel, fresh environment, size, one build, licences; False if anything is not as it should be."""
    wheels, venv = folder / "wheels", folder / "venv"
    _run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", wheels, _clean_copy(folder)])
    wheel = next(wheels.glob("*.whl"))
    _run([sys.executable, "-m", "venv", venv])
    python = venv / "bin" / "python"
    before = _size(venv)
    words = ["--quiet", "--disable-pip-version-check", "-c", ROOT / "constraints.txt"]
    _run([python, "-m", "pip", "install", *words, wheel])
    _run([python, "-m", "pip", "check"])
    size = _size(venv) - before
    print(
        f"wheel: {wheel.stat().st_size / 1e6:.2f} MB; plain install: {size:.0f} MB (at most {MOST_MB}), pip check clean"
    )
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    (folder / "elsewhere").mkdir()
    made = subprocess.run(
        [venv / "bin" / "tilegen", "build", "bell-foundry", "--quiet"], cwd=folder / "elsewhere", env=environment,
        check=False, capture_output=True, text=True,
    )  # fmt: skip
    print(f"the installed tool builds a shipped plan: exit {made.returncode} {made.stderr.strip()[:200]}")
    licences(python)
    audit(python)
    return size <= MOST_MB and made.returncode == 0


def _clean_copy(folder: Path) -> Path:
    """The files as they are committed or about to be: no caches, nothing that was made."""
    listed = _run(["git", "-C", ROOT, "ls-files", "-z"]).split("\0")
    for name in filter(None, listed):
        target = folder / "copy" / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, target)
    return folder / "copy"


_LICENCES = """
import importlib.metadata as m, json
rows = []
for d in m.distributions():
    t = d.metadata
    named = [c.split(' :: ')[-1] for c in t.get_all('Classifier') or [] if c.startswith('License ::')]
    words = t.get('License-Expression') or ' / '.join(named) or (t.get('License') or '?').splitlines()[0][:60]
    size = sum(f.locate().stat().st_size for f in d.files or [] if f.locate().is_file())
    rows.append([t['Name'], d.version, words, size])
print(json.dumps(sorted(rows, key=lambda r: r[0].lower())))
"""


def licences(python: Path) -> None:
    """Name, version, size and licence of everything that the plain install brings."""
    for name, version, words, size in json.loads(_run([python, "-c", _LICENCES])):
        print(f"  {name:20} {version:12} {size / 1e6:7.1f} MB  {words}")


def audit(python: Path) -> None:
    """Known vulnerabilities of what is installed; says so if the auditor or its database can't be had."""
    if importlib.util.find_spec("pip_audit") is None:
        print("pip-audit: not installed here, not run")
        return
    frozen = _run([python, "-m", "pip", "freeze", "--exclude", "tilegen"])
    with tempfile.NamedTemporaryFile("w", suffix=".txt") as listed:
        listed.write("\n".join(line for line in frozen.splitlines() if "==" in line))
        listed.flush()
        words = [
            sys.executable,
            "-m",
            "pip_audit",
            "--no-deps",
            "--disable-pip",
            "--progress-spinner",
            "off",
            "-r",
            listed.name,
        ]
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=180)
    said = (done.stdout + done.stderr).strip().splitlines()
    print(f"pip-audit: exit {done.returncode}: {said[-1][:200] if said else ''}")
    for line in done.stdout.strip().splitlines():
        print(f"  {line[:150]}")


def _size(folder: Path) -> float:
    """MB on disk."""
    return sum(path.lstat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink()) / 1e6


def _run(words: Sequence[object]) -> str:
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{words[0]} {words[1]} ... failed: {done.stderr.strip()[-500:]}")
    return done.stdout


def main() -> None:
    """Memory, then the install; exit 1 if a limit is passed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--no-install", action="store_true", help="only the memory: no registry is asked")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory(prefix="proof-") as folder:
        fine = peaks(Path(folder))
    if not asked.no_install:
        with tempfile.TemporaryDirectory(prefix="proof-") as folder:
            fine = installed(Path(folder)) and fine
    sys.exit(0 if fine else 1)


if __name__ == "__main__":
    main()
