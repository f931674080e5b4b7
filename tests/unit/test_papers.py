"""Printed papers: as large as the parts they go on, colour over every cut, the carver's stones, one's own image."""

import io
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pypdf
import pytest
import shapely
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image

from tests.strategies import outline_tables, profile_tables
from tilegen.errors import InputError
from tilegen.files.plans import plan_of
from tilegen.files.profiles import profile_of
from tilegen.files.stock import read_material
from tilegen.files.styles import read_style
from tilegen.files.toml import shipped
from tilegen.pictures.canvas import Area, Photo
from tilegen.pictures.skins import _BLEED_MM, _grit, _of_tile, _sheets, papers
from tilegen.plans.kit import make_kit
from tilegen.sheets.parts import list_parts
from tilegen.tiles.coursing import Coursing
from tilegen.tiles.dressing import stone_of

STYLES = sorted(path.stem for path in shipped("styles").glob("*.toml"))


def tile(style="dressed", walls=("north",), openings=()):
    surface = {"style": str(style)}
    words = {"name": "t", "tile": {"size": [2, 2], "walls": list(walls)}, "opening": list(openings)}
    return profile_of(words | {"surface": surface})


def built(made, count=1, material="foam"):
    return list_parts([(made, count)], read_material(material)).built


def sheets_of(made):
    """The papers of one tile by their plates' names."""
    (one,) = built(made)
    stone = stone_of(made.grid)
    plates = tuple(replace(plate, facing=stone) for plate in one.plates)
    found = _sheets(plates, Coursing(plates, stone), stone.style, loose=False)
    return {plate.name: (plate, sheet) for plate, sheet in found}


def test_a_wall_s_paper_is_its_two_faces_its_top_and_a_flap_round_each_end():
    """By hand: 2 L h + L t + 2 t h."""
    plate, sheet = sheets_of(tile())["wall north"]
    long, high, thick = plate.length, plate.height, plate.thickness
    assert sheet.cut.area == pytest.approx(2 * long * high + long * thick + 2 * thick * high)
    west, south, east, north = sheet.cut.bounds
    assert (east - west, north - south) == pytest.approx((long + 2 * thick, 2 * high + thick))


def test_a_doorway_keeps_flaps_for_its_jambs_and_its_head():
    """By hand: each face loses the doorway less its flaps, of the jambs on one face, of the head on the other."""
    opening = {"wall": "north", "kind": "doorway", "width": 25.0, "height": 30.0}
    plate, sheet = sheets_of(tile(openings=[opening]))["wall north"]
    _, whole = sheets_of(tile())["wall north"]
    thick = plate.thickness
    lost = (25.0 * 30.0 - 2 * thick * 30.0) + (25.0 * 30.0 - 25.0 * thick)
    assert whole.cut.area - sheet.cut.area == pytest.approx(lost)


def test_a_floor_s_paper_has_a_flap_down_each_side_of_its_base():
    plate, sheet = sheets_of(tile())["base"]
    west, _, east, _ = plate.foot.bounds
    side = east - west
    assert sheet.cut.area == pytest.approx(side**2 + 4 * side * plate.top, rel=1e-4)


@pytest.mark.parametrize("style", STYLES)
def test_colour_runs_over_every_cut(style):
    openings = [{"wall": "north", "kind": "doorway", "head": "round"}]
    made = tile(style, ("north", "west"), openings)
    for paper in papers_of(made):
        areas = [shape for shape in paper if isinstance(shape, Area)]
        coloured = shapely.union_all([shapely.Polygon(r[0], r[1:]).buffer(0) for r in areas[0].polygons])
        assert coloured.area > 1000
        # The ground lies under all stones, none of which reaches past it.
        stones = [shapely.Polygon(r[0], r[1:]).buffer(0) for area in areas[1:] for r in area.polygons]
        assert shapely.union_all(stones).difference(coloured.buffer(0.01)).area < 0.1
    for _, sheet in sheets_of(made).values():
        outline = sheet.cut.buffer(_BLEED_MM, join_style="mitre").difference(sheet.bare)
        assert outline.boundary.distance(sheet.cut.exterior) > 0 or sheet.bare.area > 0


def papers_of(made):
    return [one.shapes for each in built(made) for one in _of_tile(each, {}, "mm")]


def test_the_stones_are_those_that_are_carved():
    """One drawing for both: the wall of a printed tile with the same plates has its joints where the paper has them."""
    plate, sheet = sheets_of(tile())["wall north"]
    stone = stone_of(tile().grid)
    rows = [(course, pieces) for of, course, pieces in Coursing((plate,), stone).courses() if of.name == plate.name]
    number = sum(len(pieces) for _, pieces in rows)
    inner = [s for s in sheet.stones if s.region.bounds[3] < plate.height]
    assert len(inner) == number
    heights = {round(s.region.centroid.y, 1) for s in inner}
    assert len(heights) >= len(rows)


def test_joints_have_grit_and_stones_have_none_of_it():
    """Its grains lie in the joints of the paper and are of shades of these; there is none between boards."""
    for style, some in (("dressed", True), ("timber", False)):
        plate, sheet = sheets_of(tile(style))["base"]
        grains = list(_grit(sheet, sheet.cut, np.random.default_rng(1)))
        assert (len(grains) > 2) == some
        west, _, _, north = sheet.cut.bounds
        stones = shapely.union_all([stone.region for stone in sheet.stones])
        for grain in grains:
            spots = shapely.points(grain.centres * (1.0, -1.0) + (west, north))
            assert shapely.distance(stones, spots).min() > grain.radius - 1e-9
            assert shapely.covers(sheet.cut, spots).all()
        assert (sum(len(grain.centres) for grain in grains) > 200) == some


def test_lines_on_a_paper_of_rock_are_cracks():
    """Where spaces meet they cross, amid a space they stray."""
    plate, sheet = sheets_of(tile("cave"))["base"]
    gaps = plate.foot.difference(shapely.union_all([stone.region for stone in sheet.stones]).buffer(1e-6))
    assert shapely.distance(gaps, shapely.Point(31.75, 31.75)) < 1e-6
    south = gaps.intersection(shapely.box(20, 8, 44, 26))
    west, _, east, _ = south.bounds
    assert 0.4 < max(31.75 - west, east - 31.75) < 2.5


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_pages_are_of_true_size_for_another_reader(paper):
    book = papers("t", built(tile(walls=("north", "west")), 3), {}, "mm", paper)
    read = pypdf.PdfReader(io.BytesIO(book.pdf()))
    width, height = (float(side) / 72 * 25.4 for side in read.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx({"A4": (210, 297), "Letter": (215.9, 279.4)}[paper], abs=0.01)
    words = "".join(page.extract_text() for page in read.pages)
    assert words.count("floor of t") == 3
    assert words.count("wall of t") == 6


@pytest.mark.skipif(not shutil.which("pdftoppm"), reason="poppler is missing")
def test_a_paper_measures_what_it_says(tmp_path):
    """Poppler draws the page; the floor's colour is as wide as the base, its two flaps and the bleed."""
    made = tile(walls=())
    path = tmp_path / "p.pdf"
    path.write_bytes(papers("t", built(made), {}).pdf())
    assert path.read_bytes() == papers("t", built(made), {}).pdf()
    subprocess.run(["pdftoppm", "-r", "254", path, tmp_path / "p"], check=True, capture_output=True)
    pixels = np.asarray(Image.open(next(tmp_path.glob("p*.ppm"))).convert("RGB"), int)
    # Coloured: neither grey nor white.
    coloured = np.ptp(pixels, axis=2) > 15
    columns = np.flatnonzero(coloured.sum(axis=0) > 100)
    base = made.plates[0]
    assert (columns[-1] - columns[0] + 1) / 10 == pytest.approx(63.2 + 2 * base.top + 2 * _BLEED_MM, abs=0.3)


def test_an_image_of_one_s_own_fills_papers_the_outer_face_upside_down(tmp_path):
    Image.fromarray(np.full((40, 60, 3), 90, np.uint8)).save(tmp_path / "moss.png")
    style = tmp_path / "moss.toml"
    style.write_text('title = "moss"\nwall_image = "moss.png"\nimage_width = "30 mm"\n')
    made = tile(style)
    wall = [shape for shapes in papers_of(made) for shape in shapes if isinstance(shape, Photo)]
    assert [photo.upside_down for photo in wall] == [False, True]
    assert wall[0].size == pytest.approx((30.0, 20.0))
    read = pypdf.PdfReader(io.BytesIO(papers("t", built(made), {}).pdf()))
    assert any(page.images for page in read.pages)
    # Not the figures but the looks tell it from dressed stone.
    assert made.id != tile("dressed").id


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ('wall_image = "none.png"', "not an image that can be read"),
        ('floor_image = "bad.png"', "not an image that can be read"),
        ('wall_image = "."', "not an image that can be read"),
        ('colour = "red"', "not a colour"),
        ('floor_colour = "#12345"', "not a colour"),
    ],
)
def test_looks_that_can_t_be_printed_are_refused(tmp_path, words, wrong):
    (tmp_path / "bad.png").write_bytes(b"\x89PNG nothing")
    path = tmp_path / "own.toml"
    path.write_text(f"{words}\n")
    with pytest.raises(InputError, match=wrong):
        read_style(str(path))


@pytest.mark.parametrize("material", ["foam", "greyboard"])
def test_whatever_a_plan_has_its_papers_are_drawn(material):
    words = {
        "name": "p",
        "drawing": "AAAA\nAA.B\nCCCB\n",
        "way": [
            {"cell": [1, 2], "side": "south", "kind": "doorway", "leaf": "hinged"},
            {"cell": [4, 1], "side": "south", "kind": "saddle"},
        ],
        "feature": [{"kind": "pit", "cell": [1, 1]}, {"kind": "pillar", "cell": [2, 1]}],
        "surface": {"style": "rubble"},
    }
    kit = make_kit(plan_of(words, "p"))
    things = [(one.tile, one.count) for one in kit.types] + [(one.piece, one.count) for one in kit.pieces]
    book = papers("p", list_parts(things, read_material(material)).built, {})
    assert len(pypdf.PdfReader(io.BytesIO(book.pdf())).pages) == len(book.pages) > 1


@pytest.mark.parametrize("tables", [profile_tables(), outline_tables()])
def test_whatever_a_tile_is_its_papers_are_drawn(tables):
    """Walls cut off at odd angles too, which may end in a point on one face."""

    @settings(max_examples=8, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(tables, st.sampled_from(STYLES))
    def one(tables, style):
        try:
            made = profile_of({**tables, "surface": {"style": style}})
            parts = built(made)
        except InputError:
            return
        for each in parts:
            for paper in _of_tile(each, {}, "mm"):
                assert min(paper.size) > 0
                assert paper.shapes

    one()
