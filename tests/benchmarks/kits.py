"""The kit of large plans, each in a process of its own: seconds and peak memory, with and without the JSON."""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

SIZES = (250, 500, 1000)


def write_plan(path: Path, size: int, scale: str, seed: int = 1) -> None:
    """A plan of rooms 4 cells across, a few of their cells given to other rooms, one in 26 rooms solid ground."""
    rng = np.random.default_rng(seed)
    rooms = np.kron(rng.integers(0, 26, (size // 4 + 1, size // 4 + 1)), np.ones((4, 4), int))[:size, :size]
    stray = rng.random((size, size)) < 0.03
    rooms[stray] = rng.integers(0, 26, int(stray.sum()))
    rows = ("".join(chr(65 + n) if n < 25 else "." for n in row) for row in rooms.tolist())
    path.write_text(f'name = "large"\nscale = "{scale}"\ndrawing = """\n' + "\n".join(rows) + '\n"""\n')


def child(path: str, with_json: str) -> None:
    """What a process of its own does: read, count, perhaps write the JSON; prints seconds, MB, tiles, types."""
    start = time.perf_counter()
    from tilegen.files.plans import read_plan
    from tilegen.plans.kit import make_kit
    from tilegen.plans.record import kit_json

    kit = make_kit(read_plan(Path(path)))
    if with_json == "json":
        with Path("/dev/null").open("w") as sink:
            for text in kit_json(kit):
                sink.write(text)
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{seconds:.3f} {peak:.0f} {kit.tiles} {len(kit.types)}")


def measure() -> list[tuple[str, int, str, float, float, int, int]]:
    """(scale, cells a side, json or plain, seconds, MB, tiles, types)."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for scale in ("10 ft", "5 ft"):
            for size in SIZES:
                path = Path(folder) / "plan.toml"
                write_plan(path, size, scale)
                for kind in ("plain", "json"):
                    runs = [
                        subprocess.run(
                            [sys.executable, "-m", "tests.benchmarks.kits", str(path), kind],
                            capture_output=True,
                            text=True,
                            check=True,
                        ).stdout.split()
                        for _ in range(3)
                    ]
                    best = min(runs, key=lambda run: float(run[0]))
                    rows.append((scale, size, kind, float(best[0]), float(best[1]), int(best[2]), int(best[3])))
    return rows


def exponent(rows: list[tuple[str, int, str, float, float, int, int]], scale: str, kind: str) -> float:
    """Of the growth with the number of cells, from the smallest to the largest plan; 1 is linear."""
    found = {row[1]: row[3] for row in rows if row[0] == scale and row[2] == kind}
    first, last = min(found), max(found)
    return math.log(found[last] / found[first]) / math.log((last / first) ** 2)


if __name__ == "__main__":
    if len(sys.argv) == 3:
        child(*sys.argv[1:])
    else:
        results = measure()
        for scale, size, kind, seconds, peak, tiles, types in results:
            where = f"{scale:>5}, {size} x {size} cells, {kind:5}"
            print(f"{where}: {seconds:5.2f} s, {peak:4.0f} MB, {tiles} tiles of {types} types")
        for scale in ("10 ft", "5 ft"):
            for kind in ("plain", "json"):
                print(f"{scale} {kind}: grows with cells to the power {exponent(results, scale, kind):.2f}")
