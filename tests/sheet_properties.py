"""What must hold for sheets: drawings, lists and pages agree, and what is cut out of a sheet is exactly its parts."""

from __future__ import annotations

import math
import re
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.affinity import scale
from shapely.geometry import LineString, Polygon, box
from shapely.ops import polygonize

from tests import meant, rereading
from tests.examples import Example
from tests.making import Run, check_again, near, now_and_then, run, written


@dataclass(frozen=True)
class Cutting:
    """How a sheet example is cut, by its own files."""

    kerf: tuple[float, float]
    paths: dict
    edge_to_edge: bool
    margin: float
    spacing: float
    ruler: bool

    @classmethod
    def of(cls, example: Example) -> Cutting:
        machine = example.table("cutter.toml")
        kerf = (machine["kerf"], machine.get("kerf_y", machine["kerf"]))
        kerf = (0.0, 0.0) if "--nominal" in example.words else kerf
        edge_to_edge = machine["cuts"] == "edge to edge"
        ruler = edge_to_edge and machine.get("guide") == "ruler"
        return cls(kerf, machine["paths"], edge_to_edge, machine["margin"], machine["spacing"], ruler)

    @property
    def bare(self) -> bool:
        """Whether cuts are the outlines and nothing else."""
        return not {"tab_width", "lead_in", "perforate", "common_lines", "swivel", "shape"} & set(self.paths)


def check_sheet(example: Example) -> None:
    """DXF, SVG, PDF and lists say what the JSON says; the sheet, less what the tool takes, is exactly the parts."""
    cutting = Cutting.of(example)
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        words = ["--material", folder / "stock.toml", "--machine", folder / "cutter.toml", *example.words]
        made = run(folder, "sheet", folder / "t.toml", *words)
        if not made.said:
            return
        parts = rereading.rows(made.files("csv")[[p.stem for p in made.files("csv")].index("stock-parts")])
        # Cores are cut from another stock.
        parts = [part for part in parts if not part["name"].endswith(", core")]
        count = sum(sheet["copies"] * sheet["parts"] for sheet in made.said["sheets"])
        assert count == sum(int(part["quantity"]) for part in parts), "the list of parts has another number"
        sizes: list[tuple[float, float]] = []
        for sheet in made.said["sheets"]:
            dxf = _check_drawings(made, sheet)
            if cutting.bare:
                _check_sweep(dxf, sheet, cutting.kerf, 0.06 if cutting.paths["arcs"] else 0.0)
                _check_room(dxf, sheet, cutting)
                sizes += sheet["copies"] * _boxes(dxf, cutting.kerf)
        if cutting.bare:
            _check_sizes(sizes, parts, 0.01 + 1.1 * max(cutting.kerf))
        (pages,) = made.files("pdf")
        words_in = rereading.page_words(pages.read_bytes())
        for width, height in rereading.page_sizes(pages.read_bytes()):
            assert sorted((round(width), round(height))) == [210, 297], f"a page of {width} x {height} mm"
        for path in made.files("csv"):
            if path.stem.endswith("-saw"):
                _check_saw(rereading.rows(path), made.said["sheets"], parts)
        # Parts of one outline share a template, which says how many of them to cut.
        wanted: Counter[str] = Counter()
        for part in parts:
            wanted[re.sub(r"(?<=\d)[A-Z]+$", "", part["part"])] += int(part["quantity"])
        missing = [f"{number} cut {count}" for number, count in wanted.items() if f"{number}cut{count}" not in words_in]
        assert not missing, f"not in the PDF: {missing}"
        _check_both_ways(folder, example, made)
        if now_and_then(example):
            check_again(made, run(folder, "sheet", folder / "t.toml", *words, out="again"))


def check_off_grid(example: Example) -> None:
    """A room off the grid comes out of shipped stock on a shipped machine: the sheets are all in order, or refused."""
    with tempfile.TemporaryDirectory() as name:
        folder = written(Path(name), example)
        made = run(folder, "sheet", folder / "p.toml", *example.words)
        outlines = [rereading.read_dxf(path.read_bytes()).closed("CUT_OUTER") for path in made.files("dxf")]
        # Where an arc becomes chords its ends come twice, rounding apart: that is no crack.
        parts = [shapely.remove_repeated_points(Polygon(ring), 1e-9) for rings in outlines for ring in rings]
        assert len(parts) == sum(sheet["parts"] for sheet in made.said["sheets"])
        assert all(part.is_valid and shapely.minimum_clearance(part) > 1e-5 for part in parts), "a crack in a part"


def _check_drawings(made: Run, sheet: dict) -> rereading.Lines:
    """DXF and SVG have the same lines, as long as the JSON says."""
    dxf = rereading.read_dxf((made.files("dxf")[0].parent / f"{sheet['name']}.dxf").read_bytes())
    svg = rereading.read_svg((made.files("dxf")[0].parent / f"{sheet['name']}.svg").read_bytes())
    # The guides begin with the sheet's edge; the check square may be larger than an offcut.
    edge = dxf.paths["GUIDE"][0]
    assert np.allclose([edge.min(axis=0), edge.max(axis=0)], [(0, 0), sheet["size_mm"]], atol=1e-6), (
        f"the sheet's edge {edge.min(axis=0)} {edge.max(axis=0)}"
    )
    assert np.allclose(svg.size, sheet["size_mm"], atol=1e-3)
    for key, layers in (("cut_mm", ("CUT_INNER", "CUT_OUTER", "WIRE")), ("score_mm", ("SCORE",))):
        steps = sum(len(p) for layer in layers for p in dxf.paths.get(layer, []))
        for kind, lines in (("DXF", dxf), ("SVG", svg)):
            found = lines.length(*layers)
            # Chords are shorter than their arcs; the SVG has four decimals.
            assert near(found, sheet[key], share=3e-4, slack=2e-4 * steps), f"{kind}: {key} {found} for {sheet[key]}"
    for layer in dxf.paths.keys() | svg.paths.keys():
        a, b = dxf.paths.get(layer, []), svg.paths.get(layer, [])
        assert len(a) == len(b), f"{layer}: {len(a)} lines in the DXF, {len(b)} in the SVG"
        for one, other in zip(a, b, strict=True):
            bounds = [(*p.min(axis=0), *p.max(axis=0)) for p in (one, other)]
            assert np.allclose(*bounds, atol=5e-3), f"{layer}: {bounds}"
    return dxf


def _unreached(ring: np.ndarray) -> float:
    """What a cut of width 1 can't reach in the corners of a ring: (tan(t / 2) - t / 2) / 4 where it turns by t."""
    steps = np.diff(np.vstack([ring, ring[:1]]), axis=0)
    steps = steps[np.hypot(*steps.T) > 1e-9]
    before = np.roll(steps, 1, axis=0)
    turns = np.abs(np.arctan2(before[:, 0] * steps[:, 1] - before[:, 1] * steps[:, 0], (before * steps).sum(axis=1)))
    half = np.minimum(turns, math.radians(179)) / 2
    return float((np.tan(half) - half).sum()) / 4


def _check_sweep(lines: rereading.Lines, sheet: dict, kerf: tuple[float, float], bow: float) -> None:
    """The sheet less the width of the cut falls into as many parts as there are, as large as they are.

    bow: how far arcs may stand out from the chords that they are drawn for, mm; a segment is two thirds of its box.
    """
    outer, inner = lines.closed("CUT_OUTER"), lines.closed("CUT_INNER")
    assert len(outer) == len(lines.paths.get("CUT_OUTER", [])) == sheet["parts"], f"{len(outer)} closed outlines"
    wide = tuple(max(k, 1e-6) for k in kerf)
    stretch = (1 / wide[0], 1 / wide[1]) if max(kerf) else (1.0, 1.0)
    whole = scale(box(0, 0, *sheet["size_mm"]), *stretch, origin=(0, 0))
    cuts = [LineString(p * stretch) for p in (*outer, *inner)]
    if max(kerf):
        rest = whole.difference(shapely.union_all(shapely.buffer(cuts, 0.5, quad_segs=16)))
        pieces = list(getattr(rest, "geoms", [rest]))
    else:
        pieces = list(polygonize(shapely.union_all([*cuts, whole.exterior], grid_size=1e-7)))
    solid = shapely.union_all([Polygon(p * stretch) for p in outer])
    holes = shapely.union_all([Polygon(p * stretch) for p in inner])
    area = stretch[0] * stretch[1]
    parts = []
    for piece in pieces:
        inside = piece.representative_point()
        # A crumb is what rounding leaves beside a cut.
        if piece.area / area > 1e-3 and solid.contains(inside) and not holes.contains(inside):
            parts.append(piece)
    assert len(parts) == sheet["parts"], f"the sheet falls into {len(parts)} parts for {sheet['parts']}"
    found, expected = sum(p.area for p in parts) / area, sheet["used"] * math.prod(sheet["size_mm"])
    corners = sum(len(p) for p in (*outer, *inner))
    unreached = math.fsum(_unreached(p * stretch) for p in (*outer, *inner)) * kerf[0] * kerf[1]
    steps = np.concatenate([np.hypot(*np.diff(p, axis=0).T) for p in (*outer, *inner)])
    bowed = 2 / 3 * bow * float(steps[steps < 1.0].sum())
    slack = unreached + bowed + corners * 1e-3 + 1e-4 * sheet["cut_mm"]
    assert near(found, expected, slack=slack), f"parts of {found:.3f} mm2 for {expected:.3f}"


def _check_room(lines: rereading.Lines, sheet: dict, cutting: Cutting) -> None:
    """No part is nearer to the sheet's edge, or to another, than margin and spacing say."""
    parts = _inside(lines.closed("CUT_OUTER"), cutting.kerf)
    corners = np.vstack([shapely.get_coordinates(part) for part in parts])
    kerf = max(cutting.kerf)
    # A cut goes round a sharp corner short of its point: up to half a kerf stays on there.
    # Arcs stand for chords that lie within them.
    bow = 0.06 if cutting.paths["arcs"] else 0.0
    least = cutting.margin - 0.6 * kerf - bow - 2e-3
    # A ruler measures from two edges; at the other two 3 mm are left.
    far = min(3.0, cutting.margin) - cutting.margin if cutting.ruler else 0.0
    most = np.array(sheet["size_mm"]) - least - far
    assert ((corners >= least) & (corners <= most)).all(), f"{sheet['name']}: a part over the margin"
    if cutting.edge_to_edge:
        return
    gap = cutting.spacing - 1.2 * kerf - 2 * bow - 4e-3
    for i, j in zip(*shapely.STRtree(parts).query(parts, predicate="dwithin", distance=max(gap, 0.0)), strict=True):
        assert i >= j, f"{sheet['name']}: parts {parts[i].distance(parts[j]):.3f} mm apart for {gap:.3f}"


def _inside(outlines: list[np.ndarray], kerf: tuple[float, float]) -> list[Polygon]:
    """What comes out of each outline, corners as sharp as they are meant."""
    if not max(kerf):
        return [Polygon(p) for p in outlines]
    wide = [max(k, 1e-6) for k in kerf]
    parts = [
        scale(Polygon(p), 1 / wide[0], 1 / wide[1], origin=(0, 0)).buffer(-0.5, join_style="mitre") for p in outlines
    ]
    return [scale(part, *wide, origin=(0, 0)) for part in parts]


def _check_saw(rows: list[dict[str, str]], sheets: list[dict], parts: list[dict[str, str]]) -> None:
    """Whoever follows the list always has what a step takes, and ends with every part."""
    ids = {part["part"]: int(part["quantity"]) for part in parts}
    there = Counter({sheet["name"]: sheet["copies"] for sheet in sheets})
    for row in rows:
        if not row["step"]:
            continue
        taken = _counted(row["in"])
        short = [name for name, number in taken.items() if number > there[name]]
        assert not short, f"step {row['step']} takes {short}, which nobody has cut"
        # What is left of a sheet or a strip keeps its name for further steps.
        there.subtract({name: number for name, number in taken.items() if name in ids})
        there.update(_counted(row["out"]))
    left = {name: number for name, number in there.items() if name in ids and number}
    # Odd outlines may lie free, on sheets that nobody saws.
    listed = {name for row in rows if row["step"] for name in _counted(row["in"])}
    whole = listed >= {sheet["name"] for sheet in sheets}
    right = left == ids if whole else all(number <= ids[name] for name, number in left.items())
    assert right, f"the saw list ends with {left} for {ids}"


def _counted(text: str) -> Counter:
    """Of "2 x A, B"."""
    found: Counter = Counter()
    for word in filter(None, text.split(", ")):
        number, times, name = word.partition(" x ")
        found[name if times else word] += int(number) if times else 1
    return found


def _boxes(lines: rereading.Lines, kerf: tuple[float, float]) -> list[tuple[float, float]]:
    """Of what comes out of each outline, mm."""
    return [tuple(np.ptp(p, axis=0) - kerf) for p in lines.closed("CUT_OUTER")]


def _check_sizes(found: list[tuple[float, float]], parts: list[dict[str, str]], slack: float) -> None:
    """Each outline, less the kerf, has the size of a part of the list, as often as there are such parts.

    slack: the cut goes round a sharp corner short of its point, which stays on the part.
    """
    expected = [
        tuple(sorted((float(part["length_mm"]), float(part["width_mm"]))))
        for part in parts for _ in range(int(part["quantity"]))
    ]  # fmt: skip
    left = np.array(expected)
    for size in found:
        off = np.abs(left - sorted(size)).max(axis=1)
        best = int(off.argmin())
        assert off[best] < slack, f"an outline of {size[0]:.3f} x {size[1]:.3f} mm is no part's"
        left = np.delete(left, best, axis=0)


def _check_both_ways(folder: Path, example: Example, made: Run) -> None:
    """Where the plates are whole layers of the stock, the sheets hold exactly the stuff of the printed solid."""
    tables, stock = example.table("t.toml"), example.table("stock.toml")
    grid, thickness = meant.grid_of(tables), stock["thickness"]
    layers = [grid["base_depth"] / thickness, (grid["wall_thickness"] - grid["joint_play"] / 2) / thickness]
    exact = all(abs(n - round(n)) < 1e-9 and n > 0.5 for n in layers)
    plain = "size" in tables.get("tile", {}) and meant.is_plain(tables) and stock["construction"] == "stacked"
    if (
        not (
            exact
            and plain
            and stock["corners"] in ("butt", "pinwheel")
            and not stock["glue_line"]
            and not stock["least_lintel"]
        )
        or "stack" in stock
    ):
        return
    solid = run(folder, "solid", folder / "t.toml", out="solid").said["solids"][0]["volume_mm3"]
    used = [sheet["copies"] * sheet["used"] * math.prod(sheet["size_mm"]) for sheet in made.said["sheets"]]
    cut = math.fsum(used) * thickness
    assert near(cut, solid, share=1e-6, slack=1e-3), f"sheets hold {cut:.3f} mm3 for a solid of {solid:.3f}"
