"""What a bad day does to a run: `python -m tests.proof.faults --kills 200`.

Killed at random moments, no room on the disk, a folder that can't be written, two runs into one folder, another clock,
locale and time zone, no folder for temporary files. After each: no half file, nothing of an earlier run lost, no file
that the manifest does not list, a rerun completes and gives the same bytes. Equal bytes also across runs, --jobs and hash
seeds. 200 reruns (`--reruns`) into a used folder, with files of the user's written, edited and removed between.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.proof.editions import Proof, Tree, build, forked, tree
from tests.proof.running import warm
from tests.proof.seeds import ROOT
from tilegen.files.writing import MANIFEST, PART

_PR_CAPBSET_DROP = 24


def kills(proof: Proof, times: int, chance: random.Random, ends: float) -> str:
    """Half of the kills anywhere in the run, half in its last part, where files are written and renamed."""
    out = proof.folder / "killed"
    began = time.monotonic()
    os.waitpid(forked(proof.editions[1], proof.folder / "timed"), 0)
    length = time.monotonic() - began
    done, before_end, with_parts = 0, 0, 0
    for n in range(times):
        if time.monotonic() > ends:
            break
        proof.earlier(out)
        # The moment of writing: when the first part file or changed file is seen, then a few ms more.
        child = forked(proof.editions[1], out)
        if n % 2:
            time.sleep(chance.uniform(0, length))
        else:
            _until_writing(child, out, ends)
            time.sleep(chance.uniform(0, 0.03))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        before_end += os.WIFSIGNALED(status)
        with_parts += any(out.rglob(".part-*"))
        proof.check(f"kill {n}", out, parts=True)
        done += 1
        if n % 5 == 0:
            os.waitpid(forked(proof.editions[1], out), 0)
            proof.check(f"rerun after kill {n}", out, exact=1)
    return f"{done} kills, {before_end} before the run's end, {with_parts} while files were written; {-(-done // 5)} reruns"


def _until_writing(child: int, out: Path, ends: float) -> None:
    while time.monotonic() < ends:
        if any(out.rglob(".part-*")) or _ended(child):
            return
        time.sleep(0.001)


def _ended(child: int) -> bool:
    return Path(f"/proc/{child}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"


def disk_full(proof: Proof) -> str:
    """A file system of a few hundred kB, if one can be mounted; and a limit on the size of each file."""
    out = proof.folder / "full"
    return ", ".join((*_on_small_disks(proof, out), *_with_small_files(proof, out)))


def _on_small_disks(proof: Proof, out: Path) -> list[str]:
    tried: list[str] = []
    pages = sum(-(-path.stat().st_size // 4096) for path in (proof.folder / "whole-0").rglob("*") if path.is_file())
    for room in (20, 100, 300):
        kilobytes = 4 * pages + room
        out.mkdir(exist_ok=True)
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", out], check=False, capture_output=True)  # fmt: skip
        if mounted.returncode:
            break
        try:
            proof.earlier(out)
            done = build(proof.editions[1], out)
            what = f"disk with room for {room} kB"
            proof.expect(
                what, done.returncode == 2 and "pace" in done.stderr, f"exit {done.returncode} {done.stderr!r}"
            )
            proof.check(what, out)
            tried.append(what)
        finally:
            subprocess.run(["umount", out], check=True)
    return tried


def _with_small_files(proof: Proof, out: Path) -> list[str]:
    tried: list[str] = []
    for limit in (500, 20_000, 100_000):
        proof.earlier(out)

        def small(limit: int = limit) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        done = build(proof.editions[1], out, before=small)
        what = f"files of at most {limit} bytes"
        proof.expect(what, done.returncode == 2 and "arge" in done.stderr, f"exit {done.returncode} {done.stderr!r}")
        proof.check(what, out)
        done = build(proof.editions[1], out)
        proof.check(f"rerun after {what}", out, exact=1)
        tried.append(what)
    return tried


def read_only(proof: Proof) -> str:
    """As a user who may not write: the whole folder, then one subfolder."""
    for part in ("rooms", "rooms/solids"):
        out = proof.folder / "read-only"
        proof.earlier(out)
        before = tree(out)
        (out / part).chmod(0o555)
        done = build(proof.editions[1], out, before=_bound_by_permissions)
        (out / part).chmod(0o755)
        what = f"{part} read-only"
        proof.expect(
            what, done.returncode == 2 and "ermission" in done.stderr, f"exit {done.returncode} {done.stderr!r}"
        )
        proof.expect(what, tree(out) == before, "something changed")
    return "the plan's folder, one subfolder"


def _bound_by_permissions() -> None:
    """Root may write everywhere: give that up for what is run next (capabilities(7): 1 and 2 override permissions)."""
    if os.geteuid() == 0:
        libc = ctypes.CDLL(None, use_errno=True)
        for capability in (1, 2):
            if libc.prctl(_PR_CAPBSET_DROP, capability, 0, 0, 0):
                raise OSError(ctypes.get_errno(), "prctl")


def together(proof: Proof, times: int) -> str:
    """Two runs into one folder at once: of the same plan, then of both editions."""
    out = proof.folder / "together"
    for n in range(times):
        proof.earlier(out)
        pair = (1, 1) if n % 2 else (0, 1)
        children = [forked(proof.editions[k], out) for k in pair]
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        what = f"two at once {n} {pair}"
        proof.expect(what, codes == [0, 0], f"exit {codes}")
        proof.check(what, out, exact=1 if pair == (1, 1) else None)
        os.waitpid(forked(proof.editions[1], out), 0)
        proof.check(f"rerun after {what}", out, exact=1)
    return f"{times} pairs"


def used(proof: Proof, times: int, chance: random.Random) -> str:
    """Reruns of one job, whole or in part, while somebody works in the folder; some runs are killed."""
    out, mine, killed = proof.folder / "used", set[bytes](), 0
    for n in range(times):
        # What a killed run had begun to write is nobody's: nobody works on it.
        there = [path for path in out.rglob("*") if path.is_file() and path.name != MANIFEST]
        files = [path for path in there if not path.name.startswith(PART)]
        for _ in range(chance.randrange(4)):
            path = chance.choice([*files, out / "rooms" / "mine.txt", out / "rooms" / "report.kept.html"])
            text = path.read_bytes() if path.is_file() else b""
            mine.discard(text)
            if text and chance.random() < 0.3:
                path.unlink()
            else:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(f"mine {n} {chance.random()}".encode())
                mine.add(path.read_bytes())
        part = ("--only", "corner") if chance.random() < 0.3 else ()
        child = forked((*chance.choice(proof.editions), *part), out)
        if chance.random() < 0.3:
            _until_writing(child, out, time.monotonic() + 60)
            time.sleep(chance.uniform(0, 0.03))
            os.kill(child, signal.SIGKILL)
            killed += 1
        os.waitpid(child, 0)
        found = {path.read_bytes() for path in out.rglob("*") if path.is_file()}
        proof.expect(f"rerun {n}", mine <= found, f"lost: {sorted(mine - found)}")
        strays = {path for path in proof.unowned(out) if (out / path).read_bytes() not in mine and ".part-" not in path}
        proof.expect(f"rerun {n}", not strays, f"in no manifest: {sorted(strays)}")
    return f"{times} reruns, {killed} of them killed; {len(mine)} files of the user's, none lost"


def surroundings(proof: Proof) -> str:
    """Clock, time zone, locale, umask, TMPDIR, HOME, hash seed, workers: the bytes stay the same."""
    tried: dict[str, tuple[dict[str, str], tuple[str, ...]]] = {
        "again": ({}, ()),
        "TMPDIR missing": ({"TMPDIR": "/nonexistent/tmp", "TMP": "", "TEMP": ""}, ()),
        "HOME missing": ({"HOME": "/nonexistent"}, ()),
        "locale C": ({"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, ()),
        "locale POSIX, ASCII out": ({"LC_ALL": "POSIX", "PYTHONIOENCODING": "ascii"}, ()),
        "locale tr_TR, if there": ({"LC_ALL": "tr_TR.UTF-8"}, ()),
        "zone": ({"TZ": "Pacific/Kiritimati"}, ()),
        "hash seed 1": ({"PYTHONHASHSEED": "1"}, ()),
        "hash seed 4711": ({"PYTHONHASHSEED": "4711"}, ()),
        "jobs 2": ({}, ("--jobs", "2")),
        "no colours, narrow": ({"NO_COLOR": "1", "COLUMNS": "20", "TERM": "dumb"}, ()),
    }
    for what, (env, words) in tried.items():
        out = proof.folder / "around"
        shutil.rmtree(out, ignore_errors=True)
        done = build(proof.editions[1], out, *words, env=env)
        proof.expect(what, done.returncode == 0, f"exit {done.returncode} {done.stderr!r}")
        _same(proof, what, tree(out))
    _other_clock(proof)
    return ", ".join([*tried, "clock of 2001, clock of 2040"])


def _other_clock(proof: Proof) -> None:
    """The clock as Python has it: `time.time` and `datetime.now` are shifted before anything is imported."""
    for year, shift in (("2001", -25 * 31_557_600), ("2040", 14 * 31_557_600)):
        out = proof.folder / "around"
        shutil.rmtree(out, ignore_errors=True)
        shifted = (
            f"import time; a=time.time; l=time.localtime; g=time.gmtime; time.time=lambda: a()+{shift}; "
            f"time.localtime=lambda s=None: l(time.time() if s is None else s); "
            f"time.gmtime=lambda s=None: g(time.time() if s is None else s)\n"
            "import datetime as d\n"
            "class D(d.datetime):\n"
            " @classmethod\n"
            " def now(c, tz=None): return c.fromtimestamp(time.time(), tz)\n"
            "d.datetime=D\nfrom tilegen.cli import main; main()"
        )
        done = subprocess.run(
            [sys.executable, "-c", shifted, "build", *proof.editions[1], "-o", str(out), "--quiet"],
            env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False,
        )  # fmt: skip
        proof.expect(f"clock of {year}", done.returncode == 0, done.stderr)
        _same(proof, f"clock of {year}", tree(out))


def _same(proof: Proof, what: str, found: Tree) -> None:
    other = sorted(name for name in found.keys() | proof.whole[1].keys() if found.get(name) != proof.whole[1].get(name))
    proof.expect(what, not other, f"other bytes: {', '.join(other[:3])} ({len(other)} files)")


def main() -> None:
    """Everything in turn; exit 1 if anything failed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--kills", type=int, default=200)
    words.add_argument("--reruns", type=int, default=200)
    words.add_argument("--minutes", type=float, default=30.0, help="no more kills after so long")
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    ends = time.monotonic() + 60 * asked.minutes
    warm()
    with tempfile.TemporaryDirectory(prefix="proof-") as folder:
        proof = Proof(Path(folder))
        print(f"one build: {len(proof.whole[1])} files", flush=True)
        steps: dict[str, Callable[[], str]] = {
            "surroundings": lambda: surroundings(proof),
            "disk full": lambda: disk_full(proof),
            "read-only": lambda: read_only(proof),
            "used": lambda: used(proof, asked.reruns, random.Random(asked.seed)),
            "two at once": lambda: together(proof, 10),
            "killed": lambda: kills(proof, asked.kills, random.Random(asked.seed), ends),
        }
        for name, step in steps.items():
            print(f"{name}: {step()}", flush=True)
        print(f"failures: {len(proof.failures)}")
    sys.exit(1 if proof.failures else 0)


if __name__ == "__main__":
    main()
