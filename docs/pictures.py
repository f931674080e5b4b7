"""Make the README's pictures from the demonstration plan."""

from pathlib import Path

from tilegen.pictures.layout import layout_png
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.kit import make_kit
from tilegen.reading.files import find
from tilegen.reading.plans import read_plan
from tilegen.solids.build import build_mesh

PLAN = "bell-foundry"
FEATURES = "hill-shrine"
TILE = "corridor-with-doorway"
HERE = Path(__file__).parent


def main() -> None:
    drawing = read_plan(find(PLAN, "plans"))
    kit = make_kit(drawing)
    (HERE / f"{PLAN}.png").write_bytes(layout_png(drawing, kit))
    hill = read_plan(find(FEATURES, "plans"))
    (HERE / f"{FEATURES}.png").write_bytes(layout_png(hill, make_kit(hill)))
    tile = next(t.tile for t in kit.types if t.name == TILE)
    mesh = build_mesh(tile.name, tile.plates)
    (HERE / "tile.png").write_bytes(solid_png(mesh.vertices, mesh.triangles, size=(640, 480)))


if __name__ == "__main__":
    main()
