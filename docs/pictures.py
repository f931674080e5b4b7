"""Make the README's pictures from the demonstration plan."""

import io
from pathlib import Path

from PIL import Image

from tilegen.connectors import Connectors
from tilegen.grid import Grid
from tilegen.pictures.layout import layout_png
from tilegen.pictures.seam_view import seam_canvas
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.kit import make_kit
from tilegen.reading.files import find
from tilegen.reading.plans import read_plan
from tilegen.solids.build import build_mesh

PLAN = "bell-foundry"
TILE = "corridor-with-doorway"
HERE = Path(__file__).parent


def main() -> None:
    drawing = read_plan(find(PLAN, "plans"))
    kit = make_kit(drawing)
    (HERE / f"{PLAN}.png").write_bytes(layout_png(drawing, kit))
    tile = next(t.tile for t in kit.types if t.name == TILE)
    mesh = build_mesh(tile.name, tile.plates)
    (HERE / "tile.png").write_bytes(solid_png(mesh.vertices, mesh.triangles, size=(640, 480)))
    (HERE / "connectors.png").write_bytes(seams())


def seams() -> bytes:
    """Two tiles that meet, for each choice of connectors, side by side."""
    choices = Connectors("magnets"), Connectors("pegs"), Connectors("keys")
    pictures = [Image.open(io.BytesIO(seam_canvas(Grid(connectors=c)).png(4.0))) for c in choices]
    width, height = pictures[0].size
    whole = Image.new("RGB", (width * len(pictures), height), "white")
    for n, picture in enumerate(pictures):
        whole.paste(picture, (n * width, 0))
    out = io.BytesIO()
    whole.save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    main()
