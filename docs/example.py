"""A tower room and a short hall from Python: two tiles, a plan, its kit, who fits, and all files."""

import tilegen as tg

OUT = "out/example"
GRID = {"pitch": "1.25 in", "wall_thickness": "0.25 in", "wall_height": "1.5 in"}
DOOR = {"wall": "north", "width": "1 in", "leaf": "sliding"}
OUTLINE = [[0, 0], [0, 2], [1.4, 2], [2, 1], [2, 0]]
ROOMS = """
A A B
A A B
. . B
"""
WAYS = [{"cell": [2, 1], "side": "east", "kind": "doorway"}, {"cell": [3, 3], "side": "south", "kind": "open"}]


def main() -> None:
    """Make two tiles of our own, then everything for a plan, with thinner walls of board to cut."""
    corner = tg.make_tile(
        name="corner with a door", grid=GRID, tile={"walls": ["north", "west"], "size": [2, 2]}, opening=[DOOR]
    )
    odd = tg.make_tile(name="odd corner", grid=GRID, tile={"outline": OUTLINE, "walls": [3]})
    for tile in (corner, odd):
        x, y, z = tg.make_solid(tile).size
        print(f"{tile.name} ({tile.id}): {x:.1f} x {y:.1f} x {z:.1f} mm")
        tg.build(tile, f"{OUT}/{tile.id}")
    plan = tg.make_plan(name="Hall", drawing=ROOMS, rooms={"A": "Hall"}, way=WAYS, grid=GRID)
    for figure in tg.fit_figures(plan, "1 in", "large"):
        print(f"a base of {figure.base:g} mm stands in {figure.stands} of {figure.positions} places")
    kit = tg.make_kit(plan)
    print(f"{kit.tiles} tiles of {len(kit.types)} types: {', '.join(f'{t.count} {t.name}' for t in kit.types)}")
    made = tg.build(plan, f"{OUT}/hall", tg.Tools(materials=("greyboard",), machine="laser"))
    print(f"{len(made.solids)} solids, {len(made.sheets)} sheets of {made.sheets[0]['material']}")


if __name__ == "__main__":
    main()
