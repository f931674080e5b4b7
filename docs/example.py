"""A tower room and a short hall from Python: tiles, a plan, its kit, solids and sheets."""

from pathlib import Path

from tilegen.fit.figures import figures_on
from tilegen.grid import Grid
from tilegen.plans.drawing import Way, draw
from tilegen.plans.kit import make_kit
from tilegen.plans.piecekinds import read_kinds
from tilegen.plans.pieces import cover_floor
from tilegen.reading.plans import read_drawing
from tilegen.reading.stock import read_machine, read_material
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, OutlineShape, Side, single_cell
from tilegen.tiles.tile import make_tile

OUT = Path("out/example")
GRID = Grid(pitch=31.75, wall_thickness=6.35, wall_height=38.1)
DOOR_WIDTH = 25.4
OUTLINE = ((0.0, 0.0), (0.0, 63.5), (44.45, 63.5), (63.5, 31.75), (63.5, 0.0))
ROOMS = """
A A B
A A B
. . B
"""
WAYS = (Way((2, 1), "east", "doorway"), Way((3, 3), "south", "open"))
BASES = (25.4, 50.8)


def corner_with_a_door():
    """One square with a wall and a doorway."""
    door = make_opening(GRID.tile_side, GRID, width=DOOR_WIDTH, leaf="sliding")
    return make_tile("corner-with-a-door", single_cell(Cell((Side("doorway", door), OPEN, OPEN, WALL)), (2, 2)), GRID)


def odd_corner():
    """A tile of five edges with a wall along the slanted one."""
    return make_tile("odd-corner", OutlineShape(OUTLINE, walls=(3,)), GRID)


def write(name: str, content: bytes) -> None:
    """A file under OUT."""
    path = OUT / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def main() -> None:
    """Write the solids of two tiles and of a plan's kit, and the kit's sheets."""
    for tile in (corner_with_a_door(), odd_corner()):
        write(f"{tile.name}.stl", stl_bytes(build_mesh(tile.name, tile.plates)))
    drawing = draw(name="Hall", scale="10 ft", grid=GRID, rooms=read_drawing(ROOMS), titles={"A": "Hall"}, ways=WAYS)
    for figure in figures_on(drawing, list(BASES)):
        print(f"a base of {figure.base:g} mm stands in {figure.stands} of {figure.positions} places")
    kit = make_kit(drawing)
    cover = cover_floor(drawing, read_kinds("2x1, 2x2"))
    print(f"{kit.tiles} tiles of {len(kit.types)} types, or {cover.pieces} larger pieces")
    for kind in kit.types:
        write(f"solids/{kind.name}.stl", stl_bytes(build_mesh(kind.name, kind.tile.plates)))
    wanted = [(kind.tile, kind.count) for kind in kit.types]
    sheets = make_sheets(wanted, read_material("foam"), read_machine("hand-knife"))
    for name, content in sheet_files(sheets).items():
        write(f"sheets/{name}", content)
    print(f"{len(sheets.sheets)} sheets of {sheets.material.title}")


if __name__ == "__main__":
    main()
