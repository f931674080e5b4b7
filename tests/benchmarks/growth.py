"""How work grows: seconds and peak memory against tiles (10 to 10,000) and cells (10^3 to 10^6), with a plot.

`python -m tests.benchmarks.growth`: each point is a process of its own; the exponent is the slope of the logarithms over the
two decades that are largest, and over the last alone, where what is paid once weighs least.
Draws out/growth.svg and out/growth.png.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.benchmarks.suite import drawing
from tilegen.pictures.canvas import Canvas

ROOT = Path(__file__).resolve().parents[2]
TILES = (10, 100, 1_000, 10_000)
CELLS = (32, 100, 316, 1_000)
_LONGEST = 600
_LEAST_SECONDS = 0.5
_SOLID, _SHEET = "tiles made and written", "tiles on sheets"
COLOURS = ("#1b6ca8", "#c2571a", "#3d7d3d", "#8a3d8a", "#5b5b5b")
Point = tuple[int, float, float]
Series = dict[str, list[Point]]


def distinct_tiles(number: int) -> list:
    """Tiles of sizes and walls of their own."""
    from tilegen.model.grid import Grid
    from tilegen.tiles.shape import OPEN, WALL, Cell, single_cell
    from tilegen.tiles.tile import make_tile

    grid, walls = Grid(), (Cell(), Cell((WALL, OPEN, OPEN, OPEN)), Cell((WALL, OPEN, OPEN, WALL)))
    return [
        make_tile(f"t{n}", single_cell(walls[n % 3], (1 + (n // 3) % 60 / 60, 1 + (n // 180) / 60)), grid)
        for n in range(number)
    ]


def make_and_write(number: int) -> Callable[[], object]:
    from tilegen.solids.build import build_mesh
    from tilegen.solids.formats.stl import stl_bytes

    def work() -> None:
        with tempfile.TemporaryDirectory() as folder:
            for tile in distinct_tiles(number):
                (Path(folder) / f"{tile.name}.stl").write_bytes(stl_bytes(build_mesh(tile.name, tile.plates)))

    return work


def nest(number: int) -> Callable[[], object]:
    from tilegen.files.stock import read_machine, read_material
    from tilegen.sheets.make import make_sheets

    wanted = [(tile, 1) for tile in distinct_tiles(number)]
    foam, knife = read_material("foam"), read_machine("hand-knife")
    return lambda: make_sheets(wanted, foam, knife)


def _drawn(side: int):
    from tilegen.files.plans import plan_of

    return plan_of({"name": "p", "scale": "10 ft", "drawing": drawing(side)}, "p")


def kit(side: int) -> Callable[[], object]:
    from tilegen.plans.kit import make_kit

    return lambda: make_kit(_drawn(side))


def kit_text(side: int) -> Callable[[], object]:
    from tilegen.plans.kit import make_kit
    from tilegen.plans.record import kit_json

    made = make_kit(_drawn(side))
    return lambda: sum(map(len, kit_json(made)))


def sight(side: int) -> Callable[[], object]:
    from tilegen.plans.kit import make_kit
    from tilegen.plans.sight import in_sight

    drawn = _drawn(side)
    made = make_kit(drawn)
    return lambda: in_sight(drawn, made)


# Name -> the work, its sizes, and what a size stands for in the plot.
KINDS: dict[str, tuple[Callable[[int], Callable[[], object]], tuple[int, ...], Callable[[int], int]]] = {
    _SOLID: (make_and_write, TILES, lambda n: n),
    _SHEET: (nest, TILES, lambda n: n),
    "kit": (kit, CELLS, lambda n: n * n),
    "kit as JSON": (kit_text, CELLS, lambda n: n * n),
    "in sight": (sight, CELLS, lambda n: n * n),
}


def _timed(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def child(name: str, size: int, longest: int) -> None:
    """What a process of its own does: seconds of processor time, MB. It is ended after `longest` of these seconds."""
    resource.setrlimit(resource.RLIMIT_CPU, (longest, resource.RLIM_INFINITY))
    work = KINDS[name][0](size)
    seconds = _timed(work)
    if seconds < _LEAST_SECONDS:
        # The first round only warmed up; short ones are repeated, since the clock of a process may tick slowly.
        taken = [_timed(work)]
        while sum(taken) < _LEAST_SECONDS:
            taken.append(_timed(work))
        seconds = sum(taken) / len(taken)
    print(json.dumps([seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))


def measure(longest: int) -> Series:
    """Points by name; a series ends where a point takes too long."""
    found: Series = defaultdict(list)
    for name, (_, sizes, shown) in KINDS.items():
        for size in sizes:
            words = [
                sys.executable,
                "-m",
                "tests.benchmarks.growth",
                "--child",
                name,
                str(size),
                "--longest",
                str(longest),
            ]
            done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
            if done.returncode == -signal.SIGXCPU:
                print(f"{name}, {shown(size)}: more than {longest} s of processor time, left out", flush=True)
                break
            if done.returncode:
                raise SystemExit(f"{name}, {shown(size)}: {done.stderr.strip()[-600:]}")
            seconds, peak = json.loads(done.stdout)
            found[name].append((shown(size), seconds, peak))
            print(f"{name:24} {shown(size):>9,}  {seconds:8.3f} s  {peak:6.0f} MB", flush=True)
    return found


def exponent(points: list[Point], of: int = 1, last: int = 3) -> float:
    """Slope of log seconds (or MB: of = 2) over log number, fitted to the last three points or so; 1 is linear."""
    logs = np.log10([[point[0], point[of]] for point in points[-last:]])
    return float(np.polyfit(logs[:, 0], logs[:, 1], 1)[0])


def plot(series: Series) -> Canvas:
    """Two fields side by side, seconds and MB, both axes by powers of ten."""
    canvas = Canvas(250, 120, "How work grows", background="#ffffff", scale=1.0)
    for number, (of, title) in enumerate(((1, "seconds of processor time"), (2, "peak memory, MB"))):
        _field(canvas, series, of, title, (18 + 124 * number, 12))
    for n, name in enumerate(series):
        x, y = 18 + 82 * (n % 3), 106 + 7 * (n // 3)
        canvas.discs(np.array([[x, y - 1.0]]), 1.2, COLOURS[n])
        power = f": {exponent(series[name]):.2f}" if len(series[name]) > 2 else ""
        canvas.text(x + 3, y, name + power, 3.0)
    canvas.text(196, 113, "number: exponent of the seconds", 2.4, colour="#5b5b5b")
    return canvas


def _field(canvas: Canvas, series: Series, of: int, title: str, corner: tuple[float, float]) -> None:
    left, top, wide, high = *corner, 98.0, 80.0
    across, up = (1, 6), _decades([point[of] for points in series.values() for point in points])

    def place(number: float, value: float) -> tuple[float, float]:
        x = left + wide * (math.log10(number) - across[0]) / (across[1] - across[0])
        return x, top + high * (1 - (math.log10(value) - up[0]) / (up[1] - up[0]))

    for power in range(across[0], across[1] + 1):
        x, _ = place(10**power, 10.0 ** up[0])
        canvas.line([np.array([[x, top], [x, top + high]])], "#dddddd", 0.2)
        canvas.text(x, top + high + 4, f"{10**power:,}", 2.6, "middle")
    for power in range(up[0], up[1] + 1):
        _, y = place(10, 10.0**power)
        canvas.line([np.array([[left, y], [left + wide, y]])], "#dddddd", 0.2)
        canvas.text(left - 1.5, y + 1, f"{10.0**power:g}", 2.6, "end")
    canvas.text(left, top - 3, title, 3.4, bold=True)
    canvas.text(left + wide, top + high + 8, "tiles or cells", 2.6, "end", colour="#5b5b5b")
    for n, points in enumerate(series.values()):
        line = np.array([place(point[0], point[of]) for point in points])
        canvas.line([line], COLOURS[n], 0.5)
        canvas.discs(line, 0.9, COLOURS[n])


def _decades(values: list[float]) -> tuple[int, int]:
    return math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--child", nargs=2, metavar=("NAME", "SIZE"), help=argparse.SUPPRESS)
    words.add_argument(
        "--longest", type=int, default=_LONGEST, help="processor seconds after which a point is left out"
    )
    asked = words.parse_args()
    if asked.child:
        child(asked.child[0], int(asked.child[1]), asked.longest)
        return
    series = measure(asked.longest)
    for name, points in series.items():
        if len(points) > 2:
            seconds, memory = ((exponent(points, of), exponent(points, of, last=2)) for of in (1, 2))
            print(
                f"{name:24} seconds grow with power {seconds[0]:.2f} (the last decade {seconds[1]:.2f}), "
                f"memory with {memory[0]:.2f} ({memory[1]:.2f})"
            )
    canvas, out = plot(series), ROOT / "out"
    (out / "growth.svg").write_text(canvas.svg())
    (out / "growth.png").write_bytes(canvas.png(6.0))
    print("out/growth.svg, out/growth.png")


if __name__ == "__main__":
    main()
