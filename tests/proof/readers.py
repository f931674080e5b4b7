"""Three readers that are not ours on every kind of file: `python -m tests.proof.readers`.

Builds the shipped plans and tiles in many ways, then reads every written file with trimesh, lib3mf and admesh (solids),
ezdxf's auditor and GDAL (drawings), rsvg and poppler (pictures, pages), and counts what they find.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.proof.foreign import READERS
from tests.proof.seeds import ROOT
from tilegen.files.toml import shipped

# Each shipped plan in ways that make different kinds of file.
_BUILDS: tuple[str, ...] = (
    "",
    "--material greyboard --machine laser --connectors magnets",
)
# Its pits leave no depth for magnets.
_REFUSED = ("build hill-shrine --material greyboard --machine laser --connectors magnets",)
# One plan cut by every machine and in every construction; the commands that make files of other kinds.
_MORE: tuple[str, ...] = (
    *(f"build {plan} --material card --connectors keys" for plan in ("bell-foundry", "gull-light", "lamp-cellars")),
    *(
        f"build lamp-cellars {words}"
        for words in (
            "--material foam --machine hot-wire",
            "--material foam --machine cnc-hot-wire",
            "--material foam-core --machine hand-knife --construction grooved --corners mitre",
            "--material card --machine drag-knife --construction folded",
            "--material plywood --machine laser --corners pinwheel --nominal",
            "--material mdf --machine laser --corners rabbet --units in --paper Letter",
            "--printer resin-190 --connectors pegs --underside",
            "--floor flagstones --walls brick --in-sight",
        )
    ),
    "build bell-foundry --pieces 2x1,2x2",
    *(f"tile {name}" for name in ("corner", "corridor", "custom-outline", "door", "floor", "one-wall")),
    "sheet custom-outline --material cork --machine drag-knife",
    "sheet corner --material pvc --machine hand-knife",
    "solid corner --underside",
    "kit lamp-cellars",
    "fit lamp-cellars",
    "gauge",
    "gauge --material greyboard --machine laser",
    "gauge --printer fdm-220",
    "start",
)


@dataclass
class Tally:
    """Files read and findings by (kind, reader)."""

    read: Counter[tuple[str, str]] = field(default_factory=Counter)
    found: Counter[tuple[str, str]] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)


def read_all(folder: Path, tally: Tally) -> None:
    """Every file with every reader of its kind that is installed."""
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        for name, reader in READERS.get(path.suffix[1:], {"nobody": lambda _: ["a kind that nobody reads"]}).items():
            try:
                found = reader(path)
            except Exception as error:  # a reader that gives up is a finding
                found = [f"{type(error).__name__}: {error}"[:200]]
            tally.read[path.suffix[1:], name] += 1
            tally.found[path.suffix[1:], name] += len(found)
            tally.told += [f"{path.relative_to(folder)}: {name}: {text}" for text in found]


def commands(plans: list[str]) -> list[list[str]]:
    """The words of every call."""
    builds = [f"build {plan} {way}" for plan in plans for way in _BUILDS]
    return [line.split() for line in (*builds, *_MORE) if line not in _REFUSED]


def main() -> None:
    """Build, read, count; exit 1 if anything was found or a command failed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--plans", default=",".join(sorted(p.stem for p in shipped("plans").glob("*.toml"))))
    asked = words.parse_args()
    missing = [
        name for name in ("admesh", "rsvg-convert", "pdfinfo", "pdftoppm", "gdalinfo") if shutil.which(name) is None
    ]
    if missing:
        raise SystemExit(f"these readers are missing: {', '.join(missing)}")
    tally, failed = Tally(), 0
    for call in commands(asked.plans.split(",")):
        with tempfile.TemporaryDirectory(prefix="proof-") as folder:
            out = [f"{folder}/own"] if call == ["start"] else ["-o", folder]
            program = [sys.executable, "-c", "from tilegen.cli import main; main()"]
            done = subprocess.run([*program, *call, *out], cwd=ROOT, capture_output=True, text=True, check=False)
            # The answer "no" (1) leaves its files too.
            if done.returncode not in {0, 1}:
                failed += 1
                print(f"{' '.join(call)}: exit {done.returncode}: {done.stderr.strip()[:200]}", flush=True)
            read_all(Path(folder), tally)
            print(f"{' '.join(call)}: {sum(tally.read.values())} readings so far", flush=True)
    for text in tally.told[:100]:
        print(text)
    print(f"\n{'kind':5} {'reader':14} {'files':>6} {'findings':>9}")
    for kind, name in sorted(tally.read):
        print(f"{kind:5} {name:14} {tally.read[kind, name]:6} {tally.found[kind, name]:9}")
    print(f"{'all':20} {sum(tally.read.values()):6} {sum(tally.found.values()):9}")
    print(f"{failed} commands failed")
    sys.exit(1 if tally.told or failed else 0)


if __name__ == "__main__":
    main()
