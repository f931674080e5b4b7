"""Make the README's pictures from the demonstration plan."""

import io
from pathlib import Path

from PIL import Image

from tilegen.pictures.layout import layout_png
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.kit import make_kit
from tilegen.reading.files import find
from tilegen.reading.plans import read_plan
from tilegen.reading.profiles import read_profile
from tilegen.solids.build import build_mesh

PLAN = "bell-foundry"
TILE = "corridor-with-doorway"
SURFACES = (("flagstones", "brick"), ("planks", "timber"), ("cobbles", "ashlar"), ("rough", "none"))
HERE = Path(__file__).parent


def main() -> None:
    drawing = read_plan(find(PLAN, "plans"))
    kit = make_kit(drawing)
    (HERE / f"{PLAN}.png").write_bytes(layout_png(drawing, kit))
    tile = next(t.tile for t in kit.types if t.name == TILE)
    mesh = build_mesh(tile.name, tile.plates)
    (HERE / "tile.png").write_bytes(solid_png(mesh.vertices, mesh.triangles, size=(640, 480)))
    (HERE / "surfaces.png").write_bytes(surfaces_png())


def surfaces_png(size: tuple[int, int] = (520, 430)) -> bytes:
    """The corner tile with every surface, four in a square."""
    whole = Image.new("RGB", (2 * size[0], 2 * size[1]))
    for number, (floor, walls) in enumerate(SURFACES):
        words = {"surface": {"floor": floor, "walls": walls}}
        mesh = build_mesh("corner", read_profile(find("corner", "profiles"), overrides=words).plates)
        picture = Image.open(io.BytesIO(solid_png(mesh.vertices, mesh.triangles, size=size)))
        whole.paste(picture, (number % 2 * size[0], number // 2 * size[1]))
    out = io.BytesIO()
    whole.save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    main()
