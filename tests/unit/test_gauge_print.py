"""Printed test pieces: closed, of the right volume, engraved; what their readings come to; the recorded file in use."""

import io
import json
import shutil
import subprocess
import tomllib

import pytest
import shapely
import trimesh

from tests.calling import call
from tests.rereading import read_stl
from tests.unit.test_solids import boxes, read_3mf
from tilegen.errors import InputError
from tilegen.files.stock import read_printer
from tilegen.files.toml import check, shipped
from tilegen.model.printers import PrinterFile
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.solids.gauge import (
    CLEARANCES,
    CLIP,
    MAGNET,
    NAMES,
    PEG,
    PLAYS,
    POCKETS,
    SLOTS,
    TONGUE,
    gauge_pieces,
    lay_on_bed,
    parse_print_readings,
    print_figures,
    printer_changes,
    remarks,
    sane,
)
from tilegen.solids.processes import gap_of

PRINTERS = sorted(path.stem for path in shipped("printers").glob("*.toml"))
FDM = read_printer("fdm-220")
PIECES = {piece.name: piece for piece in gauge_pieces(FDM)}


def admesh_counts(path):
    """The numbers admesh gives before it repairs anything, by its own words."""
    text = subprocess.run(["admesh", str(path)], capture_output=True, text=True, errors="replace", check=True).stdout
    rows = [row.split(":") for row in text.splitlines() if ":" in row]
    wanted = ("disconnected", "Degenerate", "fixed", "removed", "added", "reversed", "Backwards", "parts")
    found = {}
    for row in rows:
        for at in range(len(row) - 1):
            label = " ".join(w for w in row[at].split() if not w[0].isdigit())
            if any(word in label for word in wanted):
                found[label] = int(row[at + 1].split()[0])
    return found


def test_every_piece_is_one_closed_body_of_the_volume_its_areas_say(tmp_path):
    for name in list(PIECES):
        piece = PIECES[name]
        mesh = build_mesh(name, piece.plates)
        assert mesh.volume == pytest.approx(piece.volume, rel=1e-9)
        content = stl_bytes(mesh)
        assert read_stl(content)
        read = trimesh.load(io.BytesIO(content), file_type="stl", process=False)
        read.merge_vertices()
        assert read.is_watertight
        assert read.is_winding_consistent
        assert read.body_count == 1
        assert read.volume == pytest.approx(piece.volume, rel=1e-5)
        # Through holes of the piece, counted on the plan: chi = 2 - 2 g (Poincare's formula).
        assert read.euler_number == 2 - 2 * len(piece.plates[0].foot.interiors)
        if shutil.which("admesh"):
            path = tmp_path / "piece.stl"
            path.write_bytes(content)
            counts = admesh_counts(path)
            assert counts.pop("Number of parts") == 1
            assert counts
            assert not any(counts.values()), counts


@pytest.mark.parametrize("name", PRINTERS)
def test_the_bed_holds_all_pieces_as_drawn(name):
    printer = read_printer(name)
    pieces = gauge_pieces(printer)
    meshes = [build_mesh(piece.name, piece.plates) for piece in pieces]
    items = lay_on_bed([(m, p.count) for m, p in zip(meshes, pieces, strict=True)], printer)
    assert sorted(item.name for item in items) == sorted(p.name for p in pieces)
    # Turning a piece would swap what it says about x and y.
    assert not any(item.turns for item in items)
    found = [shapely.box(*bounds) for bounds in boxes(meshes, items)]
    bed = shapely.box(0, 0, *printer.bed).buffer(-printer.margin, join_style="mitre")
    for n, piece in enumerate(found):
        assert bed.buffer(1e-6).contains(piece)
        assert all(piece.distance(other) >= gap_of(printer) - 1e-9 for other in found[:n])
    model = read_3mf(threemf_bytes(meshes, items))
    objects = model.GetMeshObjects()
    names = []
    while objects.MoveNext():
        mesh = objects.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented()
        names.append(mesh.GetName())
    assert names == [m.name for m in meshes]


def test_a_bed_without_room_for_the_bars_is_refused():
    small = FDM.model_copy(update={"bed": (150.0, 100.0)})
    copies = [(build_mesh(p.name, p.plates), p.count) for p in PIECES.values()]
    with pytest.raises(InputError, match="the test pieces need"):
        lay_on_bed(copies, small)


def sections(name, height):
    """The polygons of a cut across the STL of a piece, by trimesh."""
    mesh = trimesh.load(io.BytesIO(stl_bytes(build_mesh(name, PIECES[name].plates))), file_type="stl")
    rings = mesh.section(plane_origin=(0, 0, height), plane_normal=(0, 0, 1)).discrete
    shape = shapely.Polygon()
    for ring in sorted((shapely.Polygon(ring[:, :2]) for ring in rings), key=lambda r: -r.area):
        shape = shape.symmetric_difference(ring)
    return list(getattr(shape, "geoms", [shape]))


def test_sizes_in_the_file():
    """Measured on a cut across the written solid, under the letters."""
    (bays,) = sections("edge-bays", 1.0)
    gaps = shapely.box(*bays.bounds).difference(bays)
    # A bay is one play wider than the space, its block one narrower: a tile between two that are pulled back alike.
    widths = sorted(g.bounds[2] - g.bounds[0] for g in gaps.geoms)
    assert widths == pytest.approx([12.0 + play for play in PLAYS], abs=1e-5)
    for play in PLAYS:
        (block,) = sections(f"edge-block-{round(play * 100)}", 1.0)
        assert block.bounds[2] - block.bounds[0] == pytest.approx(12.0 - play, abs=1e-5)
    (comb,) = sections("slot-comb", 1.0)
    slots = shapely.box(*comb.bounds).difference(comb)
    assert sorted(s.bounds[2] - s.bounds[0] for s in slots.geoms) == pytest.approx(
        [TONGUE + f for f in SLOTS], abs=1e-5
    )
    (fits,) = sections("fit-plate", 1.0)
    holes = sorted(
        (shapely.Polygon(ring) for ring in fits.interiors), key=lambda h: (round(h.centroid.y), h.centroid.x)
    )
    for free, square, round_hole in zip(CLEARANCES, holes[:7], holes[7:], strict=True):
        west, south, east, north = square.bounds
        assert (east - west, north - south) == pytest.approx([side + 2 * free for side in CLIP], abs=1e-5)
        inner = 2 * round_hole.centroid.distance(round_hole.exterior)
        assert inner == pytest.approx(PEG + 2 * free + FDM.hole_allowance, abs=1e-3)
    (pockets,) = sections("pocket-comb", 2.5)
    inner = sorted(2 * shapely.Polygon(r).centroid.distance(r) for r in pockets.interiors)
    assert inner == pytest.approx([MAGNET + a for a in POCKETS], abs=1e-3)
    sides = trimesh.load(io.BytesIO(stl_bytes(build_mesh("s", PIECES["side-pocket-comb"].plates))), file_type="stl")
    rings = sides.section(plane_origin=(0, 1.0, 0), plane_normal=(0, 1, 0)).discrete
    flat = sorted((shapely.Polygon(ring[:, [0, 2]]) for ring in rings), key=lambda r: r.centroid.x)
    bored = [2 * r.centroid.distance(r.exterior) for r in flat if r.area < 30]
    assert bored == pytest.approx([MAGNET + a for a in POCKETS], abs=1e-3)
    (bar,) = sections("bar-y", 1.0)
    assert bar.bounds[3] - bar.bounds[1] == pytest.approx(100.0, abs=1e-5)


def test_letters_are_wide_and_deep_enough():
    """At least 4 mm high, grooves at least 0.6 mm wide and 0.4 mm deep (common practice, no source)."""
    for piece in PIECES.values():
        for mark in piece.plates[0].marks:
            if mark.depth == 0.4:
                assert mark.region.buffer(-0.29).area > 0
                assert all(part.buffer(-0.29).area > 0 for part in getattr(mark.region, "geoms", [mark.region]))
                assert piece.plates[0].foot.buffer(-0.3).contains(mark.region), piece.name
    (four,) = PIECES["edge-block-40"].plates[0].marks
    assert max(g.bounds[3] - g.bounds[1] for g in four.region.geoms) == pytest.approx(4.6, abs=0.01)


@pytest.mark.parametrize("scale, over", [(1.0, 0.0), (0.997, 0.15), (1.004, -0.1)])
def test_bars_tell_scale_from_line_width(scale, over):
    """Print a bar in mind: every length comes out scaled and by one line's error longer."""
    figures = print_figures({"bar-x": (100 * scale + over,), "step-x": (20 * scale + over,)}, FDM)
    assert figures.shrink_x == pytest.approx(1 - scale, abs=1e-12)
    assert figures.over_x == pytest.approx(over, abs=1e-12)
    assert figures.shrink_y is None


def test_a_recorded_shrink_makes_the_next_bar_right():
    figures = print_figures({"bar-y": (99.7,)}, FDM)
    shrink = printer_changes(figures, FDM.clearance)["shrink", "y"]
    assert 99.7 / 100 / (1 - shrink) == pytest.approx(1.0, abs=1e-5)


def test_holes():
    assert print_figures({"hole-5": (4.8,), "hole-6": (5.9,)}, FDM).hole_allowance == pytest.approx(0.15)
    assert print_figures({"hole-5": (4.8,), "pocket": (0.3,)}, FDM).hole_allowance == pytest.approx(0.3)
    # The peg's hole of 0.25 a side with an allowance of 0.2 is the one of 0.15 a side with an allowance of 0.4.
    assert print_figures({"peg": (0.25,)}, FDM).hole_allowance == pytest.approx(0.4)
    assert print_figures({"hole-5": (5.1,)}, FDM).hole_allowance == 0.0


def test_readings_tell_what_a_grid_file_may_take_up():
    told = remarks(print_figures({"play": (0.2,), "slip": (0.3,), "pocket": (0.1,)}, FDM))
    assert [line.split(": ")[1] for line in told] == [
        "[grid] joint_play of 0.2 mm or more",
        "[door] and [connectors] clearance of 0.3 mm",
        "[connectors] magnet_allowance of 0.1 mm",
    ]
    (told,) = remarks(print_figures({"pocket": (0.1,), "side-pocket": (0.3,)}, FDM))
    assert told.endswith("[connectors] magnet_allowance of 0.3 mm")
    (told,) = remarks(print_figures({"bar-x": (99.95,), "step-x": (20.15,)}, FDM))
    assert told.startswith("outside sizes along x come out 0.20 mm too large")


def test_fits():
    figures = print_figures({"press": (0.1,), "snug": (0.15, 0.25), "slip": (0.25,), "slot": (0.6,)}, FDM)
    assert (figures.press, figures.snug, figures.slip) == pytest.approx((0.1, 0.2, 0.3))
    changes = printer_changes(print_figures({"slip": (0.45,), "pocket": (0.3,)}, FDM), FDM.clearance)
    assert changes["clearance", "loose"] == "0.6 mm"
    assert changes["clearance", "measured"] == ["hole", "slip"]
    with pytest.raises(InputError, match="must be at least as wide as press"):
        print_figures({"press": (0.3,), "snug": (0.2,)}, FDM)


def test_wild_readings_are_refused_with_what_would_be_sane():
    for name in list(NAMES):
        least, most = sane(name)
        for value in (least - 0.01, most + 0.01):
            with pytest.raises(InputError, match=f"shows, from {least:g} to {most:g} mm"):
                parse_print_readings([f"{name}={value:.3f}"])
        assert parse_print_readings([f"{name}={least}", f"{name}={most}"]) == {name: (least, most)}


def test_words_that_are_no_readings():
    for words in [["bar-x"], ["bar=3"], ["play=x"], ["play=nan"], ["play="]]:
        with pytest.raises(InputError):
            parse_print_readings(words)


def test_a_step_alone_and_a_bar_against_its_step():
    with pytest.raises(InputError, match="bar-x as well"):
        print_figures({"step-x": (20.0,)}, FDM)
    with pytest.raises(InputError, match="don't go together"):
        print_figures({"bar-x": (103.0,), "step-x": (19.0,)}, FDM)


def test_gauge_writes_and_record_keeps(tmp_path):
    made = call("gauge", "--printer", "fdm-220", "-o", tmp_path, "--json")
    assert made.returncode == 0, made.stderr
    record = json.loads(made.stdout)
    assert {s["name"] for s in record["solids"]} == set(PIECES)
    assert all(s["closed"] for s in record["solids"])
    page = (tmp_path / "gauge" / "fdm-220" / "gauge.html").read_text()
    for name in NAMES:
        assert f"<code>{name}</code>" in page
    assert page.count("data:image/png") == len(PIECES) + 1
    words = ["--record", "play=.3", "--record", "snug=.2", "--record", "slip=.3", "--record", "bar-x=99.8"]
    kept = call("gauge", "--printer", "fdm-220", "-o", tmp_path, *words)
    assert kept.returncode == 0, kept.stderr
    path = tmp_path / "printers" / "fdm-220.toml"
    text = path.read_text()
    model = check(tomllib.loads(text), PrinterFile, str(path))
    assert (model.size_error, model.clearance.snug, model.clearance.slip) == (0.3, 0.2, 0.3)
    assert model.shrink.x == pytest.approx(0.002)
    expected = FDM.model_copy(
        update={
            "size_error": 0.3,
            "clearance": FDM.clearance.model_copy(update={"snug": 0.2, "slip": 0.3, "measured": ("slip", "snug")}),
            "shrink": FDM.shrink.model_copy(update={"x": 0.002}),
        }
    )
    assert model == expected
    shipped_text = (shipped("printers") / "fdm-220.toml").read_text()
    assert [line.split("#")[0].split("=")[0] for line in text.splitlines()] == [
        line.split("#")[0].split("=")[0] for line in shipped_text.splitlines()
    ]
    assert "measured; of a printed tile" in text
    used = call("solid", "floor", "--printer", path, "--grid", _grid(tmp_path), "-o", tmp_path / "out", "-v")
    assert used.returncode == 0, used.stderr
    assert "0.3 mm" in used.stdout + used.stderr


def test_pieces_are_chamfered_as_tiles_are_but_never_stretched(tmp_path):
    settings = "fdm-220, bottom_chamfer=0.4, snap_heights=true, shrink.x=0.01"
    made = call("gauge", "--printer", settings, "-o", tmp_path, "--json")
    assert made.returncode == 0, made.stderr
    solids = {s["name"]: s for s in json.loads(made.stdout)["solids"]}
    assert all(s["closed"] for s in solids.values())
    assert solids["bar-x"]["size_mm"][0] == pytest.approx(100.0)
    # The edge at the bed, 0.4 x 0.4 / 2 all round, is gone.
    lost = PIECES["bar-x"].volume - solids["bar-x"]["volume_mm3"]
    assert lost == pytest.approx(0.08 * PIECES["bar-x"].plates[0].foot.length, rel=0.02)
    kept = call("gauge", "--printer", settings, "-o", tmp_path, "--record", "play=.2")
    assert kept.returncode == 0, kept.stderr
    assert 'bottom_chamfer = "0 mm"' in (tmp_path / "printers" / "fdm-220.toml").read_text()


def _grid(folder):
    path = folder / "grid.toml"
    path.write_text('[grid]\njoint_play = "0.25 mm"\n')
    return path


def test_bad_words_leave_nothing_behind(tmp_path):
    for words, told in [
        (["--record", "bar-x=90"], "97 to 103 mm"),
        (["--record", "press=.3"], "snug"),
        (["--material", "foam"], "can't go together"),
        (["--magnet", "20"], "2 to 12 mm"),
        (["--record", "plai=.3"], 'Did you mean "play"'),
    ]:
        done = call("gauge", "--printer", "fdm-220", "-o", tmp_path / "out", *words)
        assert done.returncode == 2
        assert told in done.stderr
        assert not (tmp_path / "out").exists()


def test_a_wild_reading_ends_with_2_and_no_traceback(tmp_path):
    done = call("gauge", "--printer", "fdm-220", "-o", tmp_path / "out", "--record", "bar-x=9")
    assert done.returncode == 2
    assert "97 to 103 mm" in done.stderr
    assert "Traceback" not in done.stderr
