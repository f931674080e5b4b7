"""What the tool weighs: `python -m tests.proof.weights`.

Peak memory of every command, what a plain install brings into a fresh environment (at most 350 MB), whether the wheel
builds and installs clean, the licences of what comes with it, and known vulnerabilities (pip-audit, if it is there).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.proof.pythons import clean_copy, run
from tests.proof.seeds import ROOT

MOST_MB = 350
_WARN_MB = 2048
_COMMANDS: tuple[tuple[str, ...], ...] = (
    ("--help",), ("start", "begun"), ("schema", "plan"),
    ("kit", "bell-foundry"), ("kit", "bell-foundry", "--in-sight"), ("fit", "bell-foundry"), ("fit", "gull-light"),
    ("tile", "door", "-o", "out"), ("tile", "corner", "--floor", "flagstones", "--walls", "brick", "-o", "out"),
    ("solid", "bell-foundry", "-o", "half"), ("sheet", "bell-foundry", "-o", "half"), ("build", "bell-foundry", "-o", "out"),
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
    run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", wheels, clean_copy(folder / "copy")])
    wheel = next(wheels.glob("*.whl"))
    run([sys.executable, "-m", "venv", venv])
    python = venv / "bin" / "python"
    before = _size(venv)
    words = ["--quiet", "--disable-pip-version-check", "-c", ROOT / "constraints.txt"]
    run([python, "-m", "pip", "install", *words, wheel])
    run([python, "-m", "pip", "check"])
    size = _size(venv) - before
    heaviest(venv)
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
    print(run([python, "-m", "tests.proof.licences", "--all"], cwd=ROOT), end="")
    return audit(python, folder) and size <= MOST_MB and made.returncode == 0


def audit(python: Path, folder: Path) -> bool:
    """Known vulnerabilities of what is installed, by an auditor in an environment of its own; True if none is known.

    Says so where the auditor or its database can't be had; that is no failure.
    """
    frozen = run([python, "-m", "pip", "freeze", "--exclude", "tilegen"])
    listed = folder / "frozen.txt"
    listed.write_text("\n".join(line for line in frozen.splitlines() if "==" in line))
    own = folder / "auditor"
    inside = own / "bin" / "python"
    for words in ([sys.executable, "-m", "venv", own], [inside, "-m", "pip", "install", "--quiet", "pip-audit"]):
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        if done.returncode:
            print(f"pip-audit: can't be installed here, not run ({done.stderr.strip()[-120:]})")
            return True
    fine = True
    for service in ("pypi", "osv"):
        fine = _audited(inside, listed, service) and fine
    return fine


def _audited(auditor: Path, listed: Path, service: str) -> bool:
    """Ask one database about the list; False if it knows of a vulnerability."""
    words = [auditor, "-m", "pip_audit", "--no-deps", "--disable-pip", "--progress-spinner", "off", "--timeout", "20"]
    words += ["-f", "json", "-s", service, "-r", listed]
    try:
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=300)
    except subprocess.TimeoutExpired:
        print(f"pip-audit, {service}: no answer in 300 s, nothing is known")
        return True
    lines, vulnerable = audited(done.stdout)
    if not done.stdout.strip():
        lines = [f"its database was not reached: {(done.stderr.strip().splitlines() or [''])[-1][:120]}"]
    print("\n".join(f"pip-audit, {service}: {line}" for line in lines))
    return not vulnerable


def audited(told: str) -> tuple[list[str], bool]:
    """What the auditor's JSON says, in lines, and whether a vulnerability is known.

    The auditor calls a list clean of which it could look up nothing, so those it did look up are counted.
    """
    every = json.loads(told)["dependencies"] if told.strip() else []
    known = [package for package in every if "skip_reason" not in package]
    bad = [package for package in known if package["vulns"]]
    lines = [f"{len(known)} of {len(every)} packages looked up, {len(bad)} with known vulnerabilities"]
    if every and not known:
        lines = [f"none of {len(every)} packages could be looked up, nothing is known: {every[0]['skip_reason']}"]
    for package in bad:
        names = ", ".join(found["id"] for found in package["vulns"])
        lines.append(f"{package['name']} {package['version']}: {names}")
    return lines, bool(bad)


def heaviest(venv: Path, number: int = 8) -> None:
    """The folders that weigh most, and how much of all is bytecode that the installer makes."""
    (packages,) = venv.glob("lib/python3*/site-packages")
    sizes = sorted(((_size(path), path.name) for path in packages.iterdir() if path.is_dir()), reverse=True)
    bytecode = sum(path.stat().st_size for path in packages.rglob("*.pyc")) / 1e6
    print(
        f"heaviest: {', '.join(f'{name} {size:.0f}' for size, name in sizes[:number])}; bytecode {bytecode:.0f} MB of it"
    )


def _size(folder: Path) -> float:
    """MB on disk."""
    return sum(path.lstat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink()) / 1e6


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
