"""Make the pictures of the README and the pages: some drawn here, some as the commands in gallery.md write them."""

import io
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

from tilegen.files.plans import read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.stock import read_material
from tilegen.files.styles import read_style
from tilegen.files.toml import find
from tilegen.making.dungeon import dungeon_files
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Grid, Over
from tilegen.model.surface import Surface
from tilegen.pictures.connector_view import seam_canvas
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.skins import papers
from tilegen.pictures.soft_view import soft_file, soft_png, tints_of
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, make_kit
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh
from tilegen.tiles.loose import make_leaf, make_saddle_door
from tilegen.tiles.openings import make_opening
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell
from tilegen.tiles.tile import make_tile

PLAN = "bell-foundry"
LAYOUTS = (PLAN, "hill-shrine", "gull-light")
TILE = "corridor-with-doorway"
SURFACES = (("flagstones", "brick"), ("planks", "timber"), ("cobbles", "ashlar"), ("rough", "none"))
STONE = (
    ("corner", "dressed", "flat"), ("door", "rubble", "pointed"), ("corridor", "brick", "flat"),
    ("corner", "timber", "flat"), ("door", "timber", "round"), ("corner", "cave", "flat"),
)  # fmt: skip
STYLES = {
    "style": "dressed",
    "styles": {"C": "timber", "G": "timber", "M": "cave", "H": "cave", "J": "brick", "E": "brick"},
}
HERE = Path(__file__).parent


# A picture in gallery.md, the file that it is, and the command under it that writes that file.
_COMMANDED = re.compile(
    r"!\[[^]]*\]\((gallery/[^)]+)\)\n\n`(out/[^`]+)`, as this writes it:\n\n"
    r"```sh\n(tilegen [^#\n]+?)(?: +#[^\n]*)?\n```"
)


def main() -> None:
    (HERE / "gallery").mkdir(exist_ok=True)
    for name, content in pictures().items():
        (HERE / name).write_bytes(content)
    if shutil.which("chromium"):
        subprocess.run([sys.executable, HERE / "desk_picture.py"], check=True)


def pictures() -> dict[str, bytes]:
    """All but the desk's, by name."""
    drawings = {name: read_plan(find(name, "plans")) for name in LAYOUTS}
    kits = {name: make_kit(drawing) for name, drawing in drawings.items()}
    found = {f"{name}.png": small(layout_canvas(drawings[name], kits[name]).png()) for name in LAYOUTS}
    tile = next(t.tile for t in kits[PLAN].types if t.name == TILE)
    mesh = build_mesh(tile.name, tile.plates)
    found["tile.png"] = soft_png(mesh.vertices, mesh.triangles, size=(640, 480))
    stone = read_plan(find(PLAN, "plans"), Over(tables={"surface": STYLES}))
    found["dungeon.jpg"] = dungeon_jpeg(make_kit(stone), stone)
    found["stone.jpg"] = stone_jpeg()
    found["doors.jpg"] = doors_jpeg()
    found["papers.png"] = papers_png()
    found["connectors.png"] = seams()
    found["surfaces.jpg"] = surfaces_jpeg()
    return {**found, **commanded()}


def commanded() -> dict[str, bytes]:
    """The pictures that commands of the gallery write, as they come out."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, path, words in _COMMANDED.findall((HERE / "gallery.md").read_text(encoding="utf-8")):
            command = [sys.executable, "-c", "from tilegen.cli import main; main()", *shlex.split(words)[1:], "--quiet"]
            done = subprocess.run(command, cwd=folder, check=False)
            if done.returncode not in (0, 1):
                raise SystemExit(f"gallery.md: {words} ended with {done.returncode}")
            found[name] = (Path(folder) / path).read_bytes()
    return found


def dungeon_jpeg(kit: Kit, drawing: Drawing) -> bytes:
    """The whole dungeon in daylight, with figures."""
    things = [*(t.tile for t in kit.types), *(p.piece for p in kit.pieces)]
    meshes = {thing.id: build_mesh(thing.name, thing.plates) for thing in things}
    picture = Image.open(io.BytesIO(dungeon_files(kit, drawing, meshes, figures=True, fine=True)["dungeon.png"]))
    picture.thumbnail((1000, 1000))
    return soft_file(picture, "JPEG")


def small(png: bytes, colours: int = 64) -> bytes:
    """A drawing with few colours, in few bytes."""
    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(colours, dither=Image.Dither.NONE).save(
        out, "PNG", optimize=True
    )
    return out.getvalue()


def surfaces_jpeg(size: tuple[int, int] = (520, 430)) -> bytes:
    """The corner tile with every surface, four in a square."""
    whole = Image.new("RGB", (2 * size[0], 2 * size[1]))
    for number, (floor, walls) in enumerate(SURFACES):
        words = {"surface": {"floor": floor, "walls": walls}}
        mesh = build_mesh("corner", read_profile(find("corner", "profiles"), Over(tables=words)).plates)
        picture = Image.open(io.BytesIO(soft_png(mesh.vertices, mesh.triangles, size=size)))
        whole.paste(picture, (number % 2 * size[0], number // 2 * size[1]))
    return soft_file(whole, "JPEG")


def stone_jpeg(size: tuple[int, int] = (520, 420)) -> bytes:
    """Shipped tiles in each style of stone, three in a row."""
    whole = Image.new("RGB", (3 * size[0], len(STONE) // 3 * size[1]))
    for number, (name, style, head) in enumerate(STONE):
        tables = {"surface": {"style": style}, "doorway": {"head": head}}
        tile = read_profile(find(name, "profiles"), Over(tables=tables))
        mesh = build_mesh(name, tile.plates)
        picture = soft_png(mesh.vertices, mesh.triangles, tints_of(tile, mesh), size=size)
        whole.paste(Image.open(io.BytesIO(picture)), (number % 3 * size[0], number // 3 * size[1]))
    return soft_file(whole, "JPEG")


def seams() -> bytes:
    """Two tiles that meet, for each choice of connectors, side by side."""
    choices = Connectors("magnets"), Connectors("pegs"), Connectors("keys")
    return _row([Image.open(io.BytesIO(seam_canvas(Grid(connectors=c)).png(4.0))) for c in choices])


def doors_jpeg() -> bytes:
    """A tile with a sliding leaf's grooves, a portcullis, and a saddle door, side by side."""
    grid = Grid(surface=Surface(style="dressed", stone=read_style("dressed")))
    side = grid.tile_side
    opening = make_opening(side, grid, leaf="sliding", style="portcullis")
    shape = single_cell(Cell((Side("doorway", opening), OPEN, OPEN, WALL)), (2, 2))
    things = [
        make_tile("wall", shape, grid),
        make_leaf("leaf", grid, side, opening),
        make_saddle_door("saddle", grid, side, opening),
    ]
    meshes = [(thing, build_mesh(thing.name, thing.plates)) for thing in things]
    drawn = [soft_png(m.vertices, m.triangles, tints_of(thing, m), size=(420, 400)) for thing, m in meshes]
    return soft_file(Image.open(io.BytesIO(_row([Image.open(io.BytesIO(picture)) for picture in drawn]))), "JPEG")


def papers_png() -> bytes:
    """The first page of papers of a tile with a doorway, its upper part."""
    grid = Grid(surface=Surface(style="dressed", stone=read_style("dressed")))
    way = Side("doorway", make_opening(grid.tile_side, grid))
    tile = make_tile("gate", single_cell(Cell((way, OPEN, OPEN, WALL)), (2, 2)), grid)
    book = papers("gate", list_parts([(tile, 1)], read_material("foam")).built, {})
    picture = Image.open(io.BytesIO(book.pages[0].png(4.0)))
    out = io.BytesIO()
    picture.crop((30, 146, 740, 946)).save(out, "PNG")
    return small(out.getvalue())


def _row(pictures: list[Image.Image]) -> bytes:
    width, height = pictures[0].size
    row = Image.new("RGB", (width * len(pictures), height), "white")
    for number, picture in enumerate(pictures):
        row.paste(picture.convert("RGB"), (number * width, 0))
    content = io.BytesIO()
    row.save(content, "PNG", optimize=True)
    return content.getvalue()


if __name__ == "__main__":
    main()
