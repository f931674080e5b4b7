"""A thousand distinct tiles by one process and by two, side by side."""

import time

from tilegen.making.things import run_many
from tilegen.model.grid import Grid
from tilegen.model.surface import Surface
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

COUNT = 1000


def work(seed: int) -> int:
    """One tile, from its description to its file's bytes: flagstones of its own, two walls and a doorway."""
    grid = Grid(surface=Surface(floor="flagstones", seed=seed))
    doorway = Side("doorway", make_opening(grid.tile_side, grid))
    tile = make_tile(f"tile-{seed}", single_cell(Cell((doorway, OPEN, OPEN, WALL)), (2, 2)), grid)
    return len(stl_bytes(build_mesh(tile.name, tile.plates)))


def main() -> None:
    """Print the ratio, the best of two rounds."""
    items = range(1, COUNT + 1)
    one, two = [], []
    for _ in range(2):
        for jobs, took in ((1, one), (2, two)):
            began = time.perf_counter()
            run_many(work, items, jobs)
            took.append(time.perf_counter() - began)
    print(
        f"{COUNT} distinct tiles: one process {min(one):.2f} s, two {min(two):.2f} s, "
        f"ratio {min(one) / min(two):.2f} (at least 1.3)"
    )


if __name__ == "__main__":
    main()
