"""Setting out a kit of 300 tiles on beds, and writing the beds; and how near the beds come to what their area needs."""

from __future__ import annotations

import math
import random
import time

from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_printer
from tilegen.files.toml import find
from tilegen.solids.beds import lattice, pack, set_out
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.solids.processes import gap_of

PROFILES = ("floor", "one-wall", "corner", "corridor", "door", "custom-outline")
# Grid tiles of 1 to 4 half tiles and a door piece, mm.
SIZES = [(63.2, 63.2), (63.2, 31.45), (31.45, 31.45), (94.95, 63.2), (94.95, 94.95), (126.7, 63.2), (50.2, 12.7)]


def kit_of_300() -> list[tuple[Mesh, int]]:
    tiles = [read_profile(find(name, "profiles")) for name in PROFILES]
    return [(build_mesh(t.name, t.plates), 50) for t in tiles]


def main() -> None:
    printer = read_printer()
    copies = kit_of_300()
    start = time.perf_counter()
    beds = set_out(copies, printer)
    middle = time.perf_counter()
    by_name = {mesh.name: mesh for mesh, _ in copies}
    size = sum(len(threemf_bytes([by_name[n] for n in {i.name: 0 for i in bed}], bed)) for bed in beds)
    end = time.perf_counter()
    print(
        f"300 tiles of {len(copies)} types: {len(beds)} beds set out in {middle - start:.3f} s, written "
        f"({size / 1e6:.1f} MB of 3MF) in {end - middle:.2f} s (under 5 s)"
    )
    gap = gap_of(printer)
    room = (printer.room[0] + gap, printer.room[1] + gap)
    chance, over = random.Random(1), []
    for _ in range(60):
        kit = [((w + gap, d + gap), chance.randint(1, 80)) for w, d in chance.sample(SIZES, chance.randint(2, 6))]
        made = len(pack([s for s, _ in kit], [n for _, n in kit], room))
        over.append(made - math.ceil(sum(n / lattice(s, room) for s, n in kit) - 1e-9))
    print(f"60 mixed kits of grid tiles: {max(over):+d} beds at worst against their lattices by area (+1 allowed)")
    far, slowest = [], 0.0
    for _ in range(10):
        sizes = [(chance.uniform(20, 80), chance.uniform(20, 80)) for _ in range(300)]
        start = time.perf_counter()
        made = len(pack(sizes, [1] * 300, room))
        slowest = max(slowest, time.perf_counter() - start)
        far.append(made - math.ceil(sum(w * d for w, d in sizes) / (room[0] * room[1])))
    print(
        f"10 kits of 300 parts all different: {max(far):+d} beds at worst against area alone, {slowest:.2f} s at most"
    )


if __name__ == "__main__":
    main()
