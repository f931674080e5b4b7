"""Batches: two cluster workers against two local ones, what resuming costs, and memory over the number of variants.

`python -m tests.benchmarks.batches [VARIANTS]`: so many variants for the memory (400; 10000 takes long).
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUN = """
import multiprocessing, resource, sys
from tilegen.cli import main
try:
    main()
finally:
    # What has not ended is not counted yet: the workers, which end by themselves.
    for worker in multiprocessing.active_children():
        worker.join()
    peaks = [resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print(*peaks, file=sys.stderr)
"""
ENV = {**os.environ, "PYTHONPATH": str(ROOT)}


def lengths(first: float, count: int) -> str:
    return ",".join(f"{first + 0.05 * n:g}mm" for n in range(count))


def run(folder: Path, *words: str, command: str = "tile") -> tuple[float, int, int]:
    """Seconds, and peak memory in MB: of the parent and of the largest worker (0 without any)."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", RUN, command, "corner", *words, "-o", str(folder), "--quiet"],
        env=ENV,
        capture_output=True,
        text=True,
        check=True,
    )
    parent, worker = (int(word) // 1024 for word in done.stderr.split()[-2:])
    return time.perf_counter() - start, parent, worker


class Cluster:
    """A scheduler and two workers of one thread on the loopback."""

    def __enter__(self) -> str:
        module = "distributed.cli.dask_"
        self.all = [self.start(f"{module}scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")]
        stream = self.all[0].stderr
        assert stream is not None
        found = None
        while found is None:
            found = re.search(r"Scheduler at:\s+(tcp://127\.0\.0\.1:\d+)", stream.readline())
        for _ in range(2):
            self.all.append(self.start(f"{module}worker", found[1], "--nthreads", "1", "--no-nanny", "--no-dashboard"))
        for process in self.all:
            threading.Thread(target=process.stderr.read, daemon=True).start()  # type: ignore[union-attr]
        time.sleep(6)
        return found[1]

    @staticmethod
    def start(*words: str) -> subprocess.Popen[str]:
        return subprocess.Popen([sys.executable, "-m", *words], stderr=subprocess.PIPE, text=True, env=ENV)

    def __exit__(self, *_: object) -> None:
        for process in self.all:
            process.kill()
            process.wait()


def speeds(folder: Path, count: int = 160, rounds: int = 2) -> None:
    """Taken in turn; each time into a new folder."""
    words = ("--vary", f"pitch={lengths(26, count // 10)}", "--vary", f"wall={lengths(4, 10)}")
    here, there = [], []
    with Cluster() as address:
        run(folder / "warm", "--vary", "pitch=26mm,27mm,28mm,29mm", "--scheduler", address)
        for n in range(rounds):
            here.append(run(folder / f"here{n}", *words, "--jobs", "2")[0])
            there.append(run(folder / f"there{n}", *words, "--scheduler", address)[0])
    again = run(folder / "here0", *words)[0]
    one = run(folder / "one", *words)[0]
    print(f"{count} variants, two local workers {min(here):.1f} s, two Dask workers {min(there):.1f} s")
    print(f"speed of Dask workers over local ones: {min(here) / min(there):.2f} (at least 0.6)")
    print(f"resume {again:.2f} s of {one:.1f} s with one process: {again / one:.3f} (under 0.05)")


def memory(folder: Path, count: int) -> None:
    """Solids alone, so that many variants take little time: a tenth, then all; and what resuming costs."""
    for share in (10, 1):
        number = count // share
        words = ("--vary", f"pitch={lengths(26, max(1, number // 20))}", "--vary", f"wall={lengths(4, 20)}")
        place = folder / f"m{share}"
        seconds, parent, worker = run(place, *words, "--jobs", "2", command="solid")
        made = len(json.loads(next(place.glob("*/manifest.json")).read_text())["variants"])
        again, peak, _ = run(place, *words, command="solid")
        print(f"{made} variants, solids: {seconds:.1f} s, peak memory {parent} MB, the largest worker {worker} MB")
        print(f"  resumed: {again:.2f} s, {peak} MB; of the whole with two workers {again / seconds:.3f} (under 0.05)")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        memory(Path(name), int(sys.argv[1]) if len(sys.argv) > 1 else 400)
        speeds(Path(name))
