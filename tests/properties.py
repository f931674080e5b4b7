"""What must hold for any legal example, one function a property: `check_x(example)`.

Each runs the commands a user would, reads the written files with programs that are not ours, and compares with what
the example's own numbers mean (`tests/meant.py`) and with what the JSON says. An example that the tool refuses (exit 2)
raises `Refused` with the tool's message.
"""

from __future__ import annotations

import io
import math
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import shapely
import trimesh
from manifold3d import Manifold, Mesh64
from shapely.geometry import Polygon

from tests import meant, rereading
from tests.examples import Example, toml
from tests.making import Refused, Run, check_again, near, now_and_then, run, written
from tests.oracle import own
from tests.sheet_properties import check_off_grid, check_sheet
from tests.turning import turned_plan, turned_profile
from tilegen.files.plans import read_plan
from tilegen.files.profiles import read_profile
from tilegen.plans.kit import make_kit
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.tiles.tile import Tile

# STL keeps 24 bits of each coordinate (IEEE 754 binary32).
SINGLE = 2.0**-24
# Boxes that overlap by no more than twice this touch: a 3MF has a few decimals only.
TOUCH_MM = 1e-3


def check_solids(made: Run) -> dict[str, rereading.Solid]:
    """Every STL is what the JSON says of it; beds and the kit hold the same bodies. Gives the solids by name."""
    records = {record["name"]: record for record in made.said["solids"]}
    solids = {path.stem: rereading.read_stl(path.read_bytes()) for path in made.files("stl")}
    assert solids.keys() == records.keys()
    for name, solid in solids.items():
        record = records[name]
        assert record["closed"]
        for a, b in zip(solid.size, record["size_mm"], strict=True):
            assert near(a, b, share=2 * SINGLE), f"{name}: {solid.size} for {record['size_mm']}"
        assert near(solid.volume, record["volume_mm3"], slack=_rounding(solid.size)), f"{name}: volume of the STL"
    beds, whole = Counter(), Counter()
    for path in made.files("3mf"):
        packed = rereading.read_3mf(path.read_bytes())
        (whole if path.stem == "kit" else beds).update(packed.copies)
        for name, volume in packed.volumes.items():
            slack = _rounding(solids[name].size)
            assert near(volume, records[name]["volume_mm3"], slack=slack), f"{name}: volume in {path.name}"
        _check_apart(packed, path.name)
    assert beds == whole, "beds and kit hold different parts"
    assert whole.keys() == records.keys()
    return solids


def _rounding(size: tuple[float, float, float]) -> float:
    """What single precision, and the 3MF's decimals, may do to a volume: the box's faces moved by a rounding each."""
    x, y, z = size
    return 30 * (x * y + y * z + z * x) * max(SINGLE * max(size), 1e-6)


def _check_apart(packed: rereading.Packed, name: str) -> None:
    """No two boxes on a bed overlap."""
    boxes = shapely.box(*np.array([[b[0], b[1], b[3], b[4]] for _, b in packed.boxes]).T)
    tree = shapely.STRtree(boxes)
    for i, j in zip(*tree.query(boxes, predicate="intersects"), strict=True):
        assert i >= j or boxes[i].intersection(boxes[j]).buffer(-TOUCH_MM).is_empty, f"{name}: two parts overlap"


def check_grid(example: Example) -> None:
    """Measures mean the same in a grid file, in the file itself and on the command line; a hall is as wide as they say."""
    tables, tile = example.table("grid.toml"), example.table("t.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        made = run(folder, "solid", folder / "t.toml", "--grid", folder / "grid.toml")
        (folder / "in").mkdir()
        (folder / "in" / "t.toml").write_text(toml({**tile, **tables}))
        inside = run(folder, "solid", folder / "in" / "t.toml", out="inside")
        assert _stl(made) == _stl(inside), "grid file and tables differ"
        grid = meant.grid_of(tables)
        words = [
            "--pitch",
            grid["pitch"],
            "--wall",
            grid["wall_thickness"],
            "--height",
            grid["wall_height"],
            "--depth",
            grid["base_depth"],
        ]
        rest = {**tables, "grid": {key: grid[key] for key in ("spaces", "joint_play")}}
        (folder / "rest.toml").write_text(toml(rest))
        told = run(folder, "solid", folder / "t.toml", "--grid", folder / "rest.toml", *words, out="told")
        assert _stl(made) == _stl(told), "the command line differs"
        size = meant.profile_size({**tables, **tile})
        found = rereading.read_stl((made.folder / "t" / "solids" / "t.stl").read_bytes()).size
        assert _sticks_out(tile) or np.allclose(found[:2], size[:2], rtol=4 * SINGLE), (found, size)
        (folder / "four.toml").write_text('name = "four"\ndrawing = "AA\\nAA"\n')
        fit = run(folder, "fit", folder / "four.toml", "--grid", folder / "grid.toml", "--figure", "1 in").said
        inset = next(way for way in fit["placements"] if way["name"] == "inset")
        assert near(inset["hall_clear_mm"], grid["pitch"] * grid["spaces"] - 2 * grid["wall_thickness"]), inset
        assert inset["worst_gap_mm"] == inset["clash_area_mm2"] == 0


def _stl(made: Run) -> list[bytes]:
    return [path.read_bytes() for path in made.files("stl")]


def _sticks_out(tables: dict) -> bool:
    """Whether pegs reach beyond the footprint."""
    return tables.get("connectors", {}).get("kind") == "pegs"


def check_profile(example: Example) -> None:
    """One closed body of exact volume and size; the sum of its plates; the same tile however it is turned."""
    tables = example.table("t.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        made = run(folder, "solid", folder / "t.toml", *example.words)
        solids = check_solids(made)
        if now_and_then(example):
            check_again(made, run(folder, "solid", folder / "t.toml", *example.words, out="again"))
        tile = read_profile(folder / "t.toml")
        record = next(r for r in made.said["solids"] if r["name"] == "t")
        assert near(record["volume_mm3"], tile.volume, share=1e-7, slack=1e-4), (
            f"plates {tile.volume}, {record['volume_mm3']}"
        )
        assert near(solids["t"].volume, tile.volume, slack=_rounding(solids["t"].size) + 1e-7 * tile.volume)
        size = meant.profile_size(tables)
        assert _sticks_out(tables) or np.allclose(solids["t"].size[:2], size[:2], rtol=4 * SINGLE), (
            solids["t"].size,
            size,
        )
        if "feature" not in tables and "surface" not in tables:
            assert math.isclose(solids["t"].size[2], size[2], rel_tol=4 * SINGLE), (solids["t"].size, size)
        if meant.is_plain(tables):
            low, high = meant.profile_volume(tables)
            assert low - 1e-6 * high <= record["volume_mm3"] <= high * (1 + 1e-6), (low, record["volume_mm3"], high)
        # Lines and modules of connectors begin at a corner: where the last is no whole one, a turned tile is another.
        sizes = tables["tile"]["size"]
        even = all(spaces == int(spaces) for spaces in sizes) or not tables.get("floor", {}).get("lines", True)
        module = tables.get("grid", {}).get("spaces", 2) if tables.get("connectors", {}).get("every") == "tile" else 1
        even &= all(spaces < module or spaces % module == 0 for spaces in sizes)
        if "surface" not in tables and even:
            for turns in range(1, 4):
                tables = turned_profile(tables)
                (folder / "t.toml").write_text(toml(tables))
                other = read_profile(folder / "t.toml")
                assert other.id == tile.id, f"another type after {turns} turns"


def check_stone(example: Example) -> None:
    """Closed, one body, and inside the plain tile: by a boolean of the two files and by winding numbers."""
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        check_solids(run(folder, "solid", folder / "t.toml", *example.words))
        run(folder, "solid", folder / "t.toml", "--style", "plain", *example.words, out="plain")
        for path in sorted((folder / "out").rglob("*.stl")):
            carved = trimesh.load(path)
            # Pockets lie lower under the joints of stones.
            lower = path.stem == "t" and "connectors" in example.table("t.toml")
            plain = _uncarved(folder) if lower else trimesh.load(folder / "plain" / path.relative_to(folder / "out"))
            assert carved.is_watertight
            assert carved.body_count == 1, f"{path.stem}: {carved.body_count} bodies"
            if path.stem.endswith("leaf"):
                # The grooves between a plain leaf's planks lie elsewhere than a carved one's grain.
                plain = plain.convex_hull
            slack = _rounding(tuple(plain.extents))
            # Both ways round: the library takes folds of a hair's breadth out of what it reads.
            one, other = _body(carved), _body(plain)
            over = min((one - other).volume(), carved.volume - (one ^ other).volume())
            assert over < slack, f"{path.stem}: {over} mm3 outside"
            assert carved.volume < plain.volume + slack
            # Points a little under the carved faces, but for slivers, whose normals mean little.
            wide = np.flatnonzero(carved.area_faces > 0.01)
            chosen = wide[:: max(len(wide) // 40, 1)]
            under = carved.triangles_center[chosen] - 0.01 * carved.face_normals[chosen]
            inside = np.array([rereading.winding_number(plain.triangles, point) for point in under])
            assert np.abs(inside - 1).max() < 1e-3, f"{path.stem}: {under[np.abs(inside - 1).argmax()]} lies outside"


def _uncarved(folder: Path) -> trimesh.Trimesh:
    """A carved tile's plates without their stones, read from a file."""
    bare = [replace(plate, facing=None) for plate in read_profile(folder / "t.toml").plates]
    return trimesh.load(io.BytesIO(stl_bytes(build_mesh("t", bare))), file_type="stl")


def _body(mesh: trimesh.Trimesh) -> Manifold:
    return Manifold(Mesh64(np.asarray(mesh.vertices), np.asarray(mesh.faces, np.uint64)))


def check_outline(example: Example) -> None:
    """Closed, or refused with its place; as large as its points say; the same tile turned, and drawn as DXF and SVG."""
    tables = example.table("t.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        with _told_where():
            made = run(folder, "solid", folder / "t.toml", *example.words)
        solid = check_solids(made)["t"]
        tile = read_profile(folder / "t.toml")
        assert near(solid.volume, tile.volume, slack=_rounding(solid.size) + 1e-6 * tile.volume + 1e-3)
        pitch, play = (meant.grid_of(tables)[key] for key in ("pitch", "joint_play"))
        rings = [
            [(x * pitch, y * pitch) for x, y in ring]
            for ring in (tables["tile"]["outline"], *tables["tile"].get("holes", []))
        ]
        whole = Polygon(rings[0], rings[1:])
        if "round" not in tables["tile"]:
            least = Polygon(rings[0]).buffer(-play / 2 - 0.002, join_style="mitre", mitre_limit=50)
            least = least.difference(shapely.union_all([Polygon(hole) for hole in rings[1:]]).buffer(play / 2 + 0.002))
            most = whole.area + 0.002 * whole.length
            assert least.area - 1e-6 * whole.area <= solid.underside <= most, (least.area, solid.underside, most)
        _turned_and_drawn(folder, tables, tile, rings)


@contextmanager
def _told_where() -> Iterator[None]:
    """An outline is refused with a place on it."""
    try:
        yield
    except Refused as why:
        if not any(mark in str(why) for mark in ("(", "[", "corner")):
            raise AssertionError(f"no place: {why}") from why
        raise


def _turned_and_drawn(folder: Path, tables: dict, tile: Tile, rings: list) -> None:
    turned = [[[-y, x] for x, y in ring] for ring in (tables["tile"]["outline"], *tables["tile"].get("holes", []))]
    walled = bool(tables["tile"]["walls"])
    again = {**tables["tile"], "outline": turned[0], "holes": turned[1:]}
    (folder / "turned.toml").write_text(toml({**tables, "tile": again}))
    other = read_profile(folder / "turned.toml")
    # Points are whole micrometres: after a turn every upright face may stand a micrometre further on.
    upright = sum(plate.foot.length * plate.height for plate in tile.plates)
    assert near(other.volume, tile.volume, slack=1e-3 * upright), "another volume after a turn"
    if walled or "round" in tables["tile"]:
        return
    # Lines begin at one corner: on a part of a space they are not the same from the other end.
    lined = tables.get("floor", {}).get("lines", True)
    assert lined or other.id == tile.id, "another type after a turn"
    document = ezdxf.new(units=4)
    for ring in rings:
        document.modelspace().add_lwpolyline(ring, close=True)
    document.saveas(folder / "t.dxf")
    paths = "".join(f'<path d="M{" L".join(f"{x!r} {-y!r}" for x, y in ring)}Z"/>' for ring in rings)
    (folder / "t.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">{paths}</svg>'
    )
    for file in ("t.dxf", "t.svg"):
        (folder / "drawn.toml").write_text(toml({**tables, "tile": {"outline_file": file}}))
        assert read_profile(folder / "drawn.toml").id == tile.id, f"another type from {file}"


def check_plan(example: Example) -> None:
    """The kit by the plain rules, the same turned; every type closed; volumes and floors add up; beds hold the kit."""
    tables = example.table("p.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        kit = run(folder, "kit", folder / "p.toml").said
        made = run(folder, "solid", folder / "p.toml", *example.words)
        solids = check_solids(made)
        things = {thing["name"]: thing["count"] for thing in (*kit["tiles"], *kit["pieces"])}
        packed = rereading.read_3mf(next(p for p in made.files("3mf") if p.stem == "kit").read_bytes())
        assert packed.copies == things, "the 3MF holds another kit"
        for type_ in make_kit(read_plan(folder / "p.toml")).types:
            slack = _rounding(solids[type_.tile.name].size) + 1e-6 * type_.tile.volume
            assert near(solids[type_.tile.name].volume, type_.tile.volume, slack=slack), f"{type_.tile.name}: plates"
        _check_counts(tables, kit)
        _check_sums(tables, kit, solids)
        per_cell = meant.grid_of(tables)["spaces"] if tables["scale"] == "10 ft" else 1
        other = tables
        for turns in range(1, 4):
            other = turned_plan(other, per_cell)
            (folder / "p.toml").write_text(toml(other))
            found = run(folder, "kit", folder / "p.toml").said
            assert found["totals"] == kit["totals"], f"after {turns} turns {found['totals']} for {kit['totals']}"
            if tables["scale"] == "10 ft" and "surface" not in tables:
                assert _by_id(found) == _by_id(kit), f"another kit after {turns} turns"


def _by_id(kit: dict) -> dict:
    return {tile["id"]: tile["count"] for tile in kit["tiles"]}


def _check_counts(tables: dict, kit: dict) -> None:
    plain = meant.plain_plan(tables)
    cells = meant.cells_of(plain)
    assert sum(tile["count"] for tile in kit["tiles"]) == kit["totals"]["tiles"]
    if tables["scale"] != "10 ft" or "shape" in tables:
        return
    places = sorted(tuple(place["cell"]) for tile in kit["tiles"] for place in tile["places"])
    assert places == sorted(cells), "not every cell has its tile"
    counts: Counter = Counter()
    for tile in kit["tiles"]:
        counts[own(tuple(tile["edges"]), tuple(tile["posts"]))] += tile["count"]
    assert counts == plain.types(), "the plain rules give another kit"


def _check_sums(tables: dict, kit: dict, solids: dict[str, rereading.Solid]) -> None:
    grid = meant.grid_of(tables)
    counts = {tile["name"]: tile["count"] for tile in kit["tiles"]}
    slack = sum(n * _rounding(solids[name].size) for name, n in counts.items())
    if meant.is_plain(tables) and (tables["scale"] == "10 ft" or grid["joint_play"] == 0):
        low, high = meant.plan_volume(tables)
        total = sum(n * solids[name].volume for name, n in counts.items())
        assert low - slack - 1e-6 * high <= total <= high * (1 + 1e-6) + slack, (low, total, high)
    if "connectors" in tables:
        return
    side = grid["pitch"] * (grid["spaces"] if tables["scale"] == "10 ft" else 1)
    area, arcs = meant.floor_area(tables)
    covered = sum(n * solids[name].underside for name, n in counts.items())
    # Half the play goes off all round; a seam is no longer than all tiles' edges, an arc leaves its chords by 0.02 mm.
    seams = 8 * side * sum(counts.values()) * (grid["joint_play"] / 2 + 2e-3)
    most = area * side**2 * (1 + 1e-6) + arcs * side * 0.022
    assert area * side**2 * (1 - 1e-6) - arcs * side * 0.022 - seams <= covered <= most, (area * side**2, covered)


def check_print(example: Example) -> None:
    """All parts lie on the bed, clear of its margin and of each other; written sizes allow for the shrink."""
    printer = example.table("own.toml")
    plan = "drawing" in example.table("t.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        made = run(folder, "solid", folder / "t.toml", "--printer", folder / "own.toml", *example.words)
        solids = check_solids(made)
        counts: Counter = Counter()
        edge = printer["margin"] + printer["brim"]
        for path in made.files("3mf"):
            if path.stem == "kit":
                continue
            packed = rereading.read_3mf(path.read_bytes())
            counts += packed.copies
            for part, b in packed.boxes:
                on = all(edge - 1e-4 <= b[k] and b[k + 3] <= printer["bed"][k] - edge + 1e-4 for k in (0, 1))
                high = abs(b[2]) < 1e-6 and b[5] <= printer["height"] + 1e-4
                assert all((on, high)), f"{part} leaves the bed: {b}"
            _check_gaps(
                packed,
                max(printer["spacing"], 2 * printer["brim"] + 1) if printer["process"] == "fdm" else printer["spacing"],
            )
        rows = Counter()
        for row in rereading.rows(next(p for p in made.files("csv") if p.stem == "beds")):
            if row["part"] in solids and row["bed"].startswith("bed-"):
                rows[row["part"]] += int(row["count"])
        assert rows == counts, "beds.csv has other counts"
        plainly = run(folder, "solid", folder / "t.toml", out="plainly")
        if plan:
            kit = run(folder, "kit", folder / "t.toml").said
            assert counts == {thing["name"]: thing["count"] for thing in (*kit["tiles"], *kit["pieces"])}
        if not printer["snap_heights"]:
            shrink = printer.get("shrink", {})
            for record in plainly.said["solids"]:
                for k, axis in enumerate("xyz"):
                    wanted = record["size_mm"][k] / (1 - shrink.get(axis, 0.0))
                    assert near(solids[record["name"]].size[k], wanted, share=1e-6, slack=2e-6), (
                        f"{record['name']}: {axis}"
                    )


def _check_gaps(packed: rereading.Packed, gap: float) -> None:
    boxes = shapely.box(*np.array([[b[0], b[1], b[3], b[4]] for _, b in packed.boxes]).T)
    tree = shapely.STRtree(boxes)
    for i, j in zip(*tree.query(boxes, predicate="dwithin", distance=max(gap - 1e-3, 0)), strict=True):
        apart = (
            max(np.array(boxes[i].bounds)[:2] - np.array(boxes[j].bounds)[2:]),
            max(np.array(boxes[j].bounds)[:2] - np.array(boxes[i].bounds)[2:]),
        )
        assert i >= j or max(apart) >= gap - 1e-3, f"two parts {max(apart):.3f} mm apart for {gap}"


PROPERTIES = {
    "grid": check_grid,
    "profile": check_profile,
    "outline": check_outline,
    "stone": check_stone,
    "plan": check_plan,
    "sheet": check_sheet,
    "print": check_print,
    "off_grid": check_off_grid,
}
