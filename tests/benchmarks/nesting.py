"""Sheets of random kits against the area bound and general packers, odd parts against one endless strip, a large map.

Needs the extra `dev` (rectpack, spyrrow). Best known densities: github.com/JeroenGar/sparrow, data/records.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import rectpack
import rectpack.guillotine
import rectpack.maxrects
import rectpack.skyline
import spyrrow
from shapely.geometry import Polygon

from tests.guillotine import best_area
from tests.unit.test_sheets_odd import RECORDS, instance
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.making.things import things_of
from tilegen.plans.kit import make_kit
from tilegen.sheets.make import make_sheets
from tilegen.sheets.nesting.layout import Rectangle, SheetArea, area_bound
from tilegen.sheets.nesting.odd import nest_odd, used_length
from tilegen.sheets.nesting.rectangles import set_out

SEEDS = 30
TESTS = Path(__file__).parents[1]
GUILLOTINE = [
    getattr(rectpack.guillotine, f"Guillotine{fit}{split}")
    for fit in ("Bssf", "Blsf", "Baf")
    for split in ("Sas", "Las", "Slas", "Llas", "Maxas", "Minas")
]
FREE = [getattr(rectpack.maxrects, f"MaxRects{fit}") for fit in ("Bl", "Bssf", "Baf", "Blsf")] + [
    getattr(rectpack.skyline, f"Skyline{fit}") for fit in ("Bl", "BlWm", "Mwf", "MwfWm", "Mwfl", "MwflWm")
]
SORTS = [rectpack.SORT_AREA, rectpack.SORT_PERI, rectpack.SORT_DIFF, rectpack.SORT_SSIDE, rectpack.SORT_LSIDE]
BINS = [rectpack.PackingBin.BFF, rectpack.PackingBin.BBF]


def kit(seed: int, kinds: str) -> list[Rectangle]:
    """50 to 400 parts: of a few sizes as tiles have them ("tiles"), or each of a size of its own ("any")."""
    random = np.random.default_rng(seed)
    number = int(random.integers(50, 401))
    if kinds == "any":
        sides = np.round(random.uniform(10, 140, (number, 2)), 2).tolist()
        return [Rectangle(f"p{n}", w, h, 1) for n, (w, h) in enumerate(sides)]
    long = random.choice(
        [6.05, 12.4, 31.45, 31.75, 38.1, 44.45, 57.15, 63.2, 63.5, 95, 126.7], int(random.integers(4, 13))
    )
    short = random.choice([25.4, 31.45, 38.1, 38.1, 44.15, 63.2, 126.7], len(long))
    sizes = dict.fromkeys((float(max(p)), float(min(p))) for p in zip(long, short, strict=True))
    shares = random.dirichlet(np.ones(len(sizes)))
    return [
        Rectangle(f"p{n}", *s, max(1, round(number * q))) for n, (s, q) in enumerate(zip(sizes, shares, strict=True))
    ]


def packed(items: Sequence[Rectangle], area: SheetArea, packers: Sequence[type]) -> int:
    """The fewest sheets that rectpack needs with any packer, order and choice of sheet."""
    wide, high = (round((side + area.spacing) * 1000) for side in area.usable)
    best = sum(item.number for item in items)
    for algorithm in packers:
        for order in SORTS:
            for bins in BINS:
                packer = rectpack.newPacker(
                    mode=rectpack.PackingMode.Offline, bin_algo=bins, pack_algo=algorithm, sort_algo=order
                )
                for item in items:
                    size = (round((item.width + area.spacing) * 1000), round((item.height + area.spacing) * 1000))
                    for _ in range(item.number):
                        packer.add_rect(*size)
                packer.add_bin(wide, high, count=float("inf"))
                packer.pack()
                if len(packer.rect_list()) == sum(item.number for item in items):
                    best = min(best, len(packer))
    return best


def rectangles(kinds: str, *, edge_to_edge: bool) -> str:
    """One line: how many kits within the area bound and one sheet more, how many worse than rectpack."""
    area = SheetArea(600, 300, 5, 1 if edge_to_edge else 2)
    at_bound = one_more = worse = 0
    seconds, theirs = 0.0, 0.0
    for seed in range(SEEDS):
        items = kit(seed, kinds)
        start = time.perf_counter()
        sheets = len(set_out(items, area, edge_to_edge=edge_to_edge).layouts)
        seconds += time.perf_counter() - start
        at_bound += sheets == area_bound(items, area)
        one_more += sheets <= area_bound(items, area) + 1
        if sheets > area_bound(items, area):
            start = time.perf_counter()
            worse += sheets > packed(items, area, GUILLOTINE if edge_to_edge else [*FREE, *GUILLOTINE])
            theirs += time.perf_counter() - start
    way = "guillotine" if edge_to_edge else "free"
    return (
        f"{kinds:5} {way:10}: {SEEDS} kits, {one_more} within the area bound + 1 (27 wanted), {at_bound} at the bound, "
        f"{worse} on more sheets than rectpack (0 wanted); {seconds:.1f} s, rectpack for those above it {theirs:.1f} s"
    )


def odd(name: str, copies: int, share: float) -> str:
    """Density on sheets as long as `share` of their height, the last counted to its used length, against a strip."""
    shapes, height, may_turn = instance(name)
    shapes = [shape._replace(number=shape.number * copies) for shape in shapes]
    area = SheetArea(share * height, height, 0, 0, may_turn=may_turn)
    start = time.perf_counter()
    layouts, _ = nest_odd(shapes, area)
    seconds = time.perf_counter() - start
    total = sum(Polygon(shape.outer(False, False)).area * shape.number for shape in shapes)
    length = area.width * (len(layouts) - 1) + used_length(shapes, layouts[-1], area)
    turns = [0.0, 90.0, 180.0, 270.0] if may_turn else [0.0, 180.0]
    parts = [spyrrow.Item(s.name, [(x, y) for x, y in s.outer(False, False).tolist()], s.number, turns) for s in shapes]
    config = spyrrow.StripPackingConfig(total_computation_time=max(1, round(seconds)), seed=1, num_workers=1)
    strip = spyrrow.StripPackingInstance(name, height, parts).solve(config).density
    ours = total / (length * height)
    return (
        f"{name} x {copies} on sheets of {share:g} heights: {len(layouts)} sheets, {ours:.1%}; one strip in the "
        f"same {seconds:.0f} s: {strip:.1%}; {100 * (strip - ours):.1f} points behind (at most 8); "
        f"record {RECORDS[name]:.1%}"
    )


def large_map(rooms: int = 100) -> str:
    """Sheets of a map of so many rooms, parts listed, set out and drawn."""
    random = np.random.default_rng(1)
    side = int(np.sqrt(rooms))
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    cells = [["."] * (3 * side) for _ in range(3 * side)]
    for row in range(side):
        for column in range(side):
            wide, high = random.integers(2, 4, 2)
            for y in range(high):
                for x in range(wide):
                    cells[3 * row + y][3 * column + x] = letters[(row * 5 + column) % 26]
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "large-map.toml"
        plan.write_text('name = "large"\ndrawing = """\n' + "\n".join("".join(r) for r in cells) + '\n"""\n')
        made_kit = make_kit(read_plan(plan))
    lines = []
    for material, machine in (("foam", "hot-wire"), ("card", "laser")):
        start = time.perf_counter()
        made = make_sheets(things_of(made_kit), read_material(material), read_machine(machine))
        seconds = time.perf_counter() - start
        parts = sum(part.count for part in made.parts)
        sheets = f"{made.count} sheets, {len(made.sheets)} of them different"
        lines.append(f"{rooms} rooms, {material}, {machine}: {parts} parts on {sheets}, in {seconds:.1f} s")
    return "\n".join([*lines, "(under 10 s)"])


def optima() -> str:
    """The published optima of gcut1 to gcut8 by the exact recursion of the tests."""
    cases = json.loads((TESTS / "data" / "gcut.json").read_text())
    start = time.perf_counter()
    right = sum(
        best_area(case["sheet"], case["rectangles"], turned=turned)
        == case["best_area_rotated" if turned else "best_area_fixed"]
        for case in cases
        for turned in (False, True)
    )
    return f"{right} of {2 * len(cases)} published guillotine optima proven in {time.perf_counter() - start:.1f} s"


def main(which: Sequence[str]) -> None:
    if not which or "optima" in which:
        print(optima(), flush=True)
    if not which or "map" in which:
        print(large_map(), flush=True)
    if not which or "odd" in which:
        for name, copies in (("fu", 3), ("jakobs1", 6), ("shirts", 2)):
            for share in (1.1, 1.6):
                print(odd(name, copies, share), flush=True)
    if not which or "rectangles" in which:
        for kinds in ("tiles", "any"):
            for edge_to_edge in (True, False):
                print(rectangles(kinds, edge_to_edge=edge_to_edge), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
