"""A small set for comparing two commits, run by path on either: prints seconds of processor time by name as JSON.

It stands on the public functions alone (docs/python.md), so that it runs on older commits too; what a commit does not
have yet is left out. `python tests/benchmarks/suite.py FOLDER [NAME...]`: FOLDER is the tree that is measured.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
import timeit
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from unittest.mock import patch

Work = Callable[[], object]


def drawing(side: int) -> str:
    """Rooms of 5 x 5 cells, one in 27 of them ground."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ."
    block = [[letters[(7 * r + 11 * c + c**2) % 27] for c in range(side // 5 + 1)] for r in range(side // 5 + 1)]
    return "\n".join("".join(block[r // 5][c // 5] for c in range(side)) for r in range(side))


def ways(drawn: str) -> str:
    """A way in the middle of each side that two rooms share: doorways, saddles and open sides in turn."""
    cells, found = drawn.split("\n"), []
    for row in range(2, len(cells), 5):
        for column in range(4, len(cells) - 1, 5):
            for x, y, dx, dy, side in ((column, row, 1, 0, "east"), (row, column, 0, 1, "south")):
                here, there = cells[y][x], cells[y + dy][x + dx]
                if here != there and "." not in here + there:
                    kind = ("doorway", "saddle", "open")[len(found) % 3]
                    found.append(f'[[way]]\ncell = [{x + 1}, {y + 1}]\nside = "{side}"\nkind = "{kind}"\n')
    return "".join(found)


@contextmanager
def files(side: int) -> Iterator[tuple[Path, Path]]:
    """A plan of so many cells a side, and a folder to write into."""
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "plan.toml"
        plan.write_text(f'name = "plan"\nscale = "10 ft"\ndrawing = """\n{drawing(side)}\n"""\n')
        yield plan, Path(folder)


def tile(root: Path, _: Path, __: Path) -> Work:
    """One tile with a doorway, from its file to the bytes of its STL."""
    from tilegen.files.profiles import read_profile
    from tilegen.solids.build import build_mesh
    from tilegen.solids.formats.stl import stl_bytes

    path = root / "profiles" / "door.toml"
    return lambda: stl_bytes(build_mesh("t", read_profile(path).plates))


def types(_: Path, plan: Path, __: Path) -> Work:
    """The solids of every type of a plan, set out on beds."""
    from tilegen.files.plans import read_plan
    from tilegen.files.stock import read_printer
    from tilegen.plans.kit import make_kit
    from tilegen.solids.beds import set_out
    from tilegen.solids.build import build_mesh

    kit, printer = make_kit(read_plan(plan)), read_printer("fdm-220")
    return lambda: set_out([(build_mesh(t.name, t.tile.plates), 20) for t in kit.types], printer)


def plan(_: Path, path: Path, __: Path) -> Work:
    """A plan from its file to the JSON of its kit."""
    from tilegen.files.plans import read_plan
    from tilegen.plans.kit import make_kit
    from tilegen.plans.record import kit_json

    return lambda: "".join(kit_json(make_kit(read_plan(path))))


def sight(_: Path, path: Path, __: Path) -> Work:
    """What is in sight from every tile."""
    from tilegen.files.plans import read_plan
    from tilegen.plans.kit import make_kit
    from tilegen.plans.sight import in_sight

    drawn = read_plan(path)
    kit = make_kit(drawn)
    return lambda: in_sight(drawn, kit)


def nest(_: Path, path: Path, __: Path) -> Work:
    """The parts of a plan's tiles, listed and set out on sheets."""
    return _sheets(path)


def write(_: Path, path: Path, folder: Path) -> Work:
    """Sheets as DXF, SVG, PDF and lists, onto the disk."""
    from tilegen.files.writing import write_files
    from tilegen.sheets.make import sheet_files

    made = _sheets(path)()
    return lambda: write_files(folder / "out", sheet_files(made))


def cut(_: Path, path: Path, folder: Path) -> Work:
    """All that is cut by hand for a large plan, by the command: nested, drawn and on pages."""
    from tilegen.cli import main

    text = path.read_text()
    path.write_text(text + ways(text.split('"""')[1].strip()))

    def work() -> None:
        words = ["tilegen", "sheet", str(path), "-o", str(folder / "cut"), "--quiet"]
        with patch.object(sys, "argv", words), suppress(SystemExit):
            main()

    return work


def read_back(root: Path, path: Path, folder: Path) -> Work:
    """Solids and sheets that were written, read and judged by `inspect`."""
    from tilegen.cli.inspect import inspect_file

    write(root, path, folder)()
    (folder / "door.stl").write_bytes(tile(root, path, folder)())
    found = [folder / "door.stl", folder / "out" / "foam-01.dxf", folder / "out" / "foam-01.svg"]
    return lambda: [inspect_file(one) for one in found]


def _sheets(path: Path) -> Work:
    from tilegen.files.plans import read_plan
    from tilegen.files.stock import read_machine, read_material
    from tilegen.plans.kit import make_kit
    from tilegen.sheets.make import make_sheets

    kit, foam, knife = make_kit(read_plan(path)), read_material("foam"), read_machine("hand-knife")
    wanted = [(t.tile, t.count) for t in kit.types]
    return lambda: make_sheets(wanted, foam, knife)


# Name -> what is timed, and the cells a side of the plan that it works on.
SET: dict[str, tuple[Callable[[Path, Path, Path], Work], int]] = {
    "tile": (tile, 5), "set": (types, 60), "plan": (plan, 200), "sight": (sight, 60),
    "nest": (nest, 8), "write": (write, 8), "read back": (read_back, 8),
    "cut": (cut, 35),
}  # fmt: skip


# Of work that takes longer than this the first round counts.
_LONG_SECONDS = 5.0


def least_seconds(work: Work) -> float:
    """Processor time of one round, the least of three runs of at least 0.2 s each; a first round warms up."""
    start = time.process_time()
    work()
    if (first := time.process_time() - start) > _LONG_SECONDS:
        return first
    timer = timeit.Timer(work, "import gc; gc.enable()", time.process_time)
    number, taken = timer.autorange()
    return min(taken, *timer.repeat(2, number)) / number


def main() -> None:
    """Measure the tree that is asked for, and no other."""
    root, names = Path(sys.argv[1]).resolve(), sys.argv[2:] or list(SET)
    sys.path.insert(0, str(root))
    import tilegen

    if not Path(tilegen.__file__).resolve().is_relative_to(root):
        raise SystemExit(f"{tilegen.__file__} is not in {root}")
    found = {}
    for name in names:
        make, side = SET[name]
        try:
            with files(side) as (path, folder):
                found[name] = least_seconds(make(root, path, folder))
        except (ImportError, AttributeError, TypeError) as error:
            print(f"{name}: not there ({error})", file=sys.stderr)
    print(json.dumps(found))


if __name__ == "__main__":
    main()
