"""What a canvas draws, by the files' own readers and by pixels."""

from __future__ import annotations

import io
import math
from collections import Counter

import numpy as np
import pytest
from lxml import etree
from PIL import Image

from tests.fitviews import grey_pixels
from tests.laidout import SVG, pixels
from tilegen.pictures.canvas import Canvas, Hatch, polyline, rectangle
from tilegen.pictures.map_page import circle

pytestmark = pytest.mark.thorough


def test_svg_is_in_millimetres_with_real_and_escaped_text():
    canvas = Canvas(120.0, 80.5, 'Kiln & "yard" <1>', "A \x07bell\x00 & more")
    canvas.text(10, 20, "Salt & <b>brine</b>\n\x01 hall", 5, "middle", 90, bold=True, halo="#ffffff")
    root = etree.fromstring(canvas.svg().encode())
    assert root.get("width") == "120mm"
    assert root.get("height") == "80.5mm"
    assert root.get("viewBox") == "0 0 120 80.5"
    assert root.find(f"{SVG}title").text == 'Kiln & "yard" <1>'
    assert root.find(f"{SVG}desc").text == "A \ufffdbell\ufffd & more"
    assert [t.text for t in root.iter(f"{SVG}text")] == ["Salt & <b>brine</b> \ufffd hall"]
    assert root.get("font-family") == "sans-serif"


def test_an_area_keeps_its_hole_in_both_files():
    outer, hole = rectangle(10, 10, 50, 50)[0], rectangle(20, 20, 40, 40)[0]
    canvas = Canvas(60, 60, "ring")
    canvas.area([(outer, hole)], "#aa0000")
    found = pixels(canvas.png(2.0))
    assert found.shape == (120, 120, 3)
    assert found[30, 30].tolist() == [170, 0, 0]
    assert found[60, 60].tolist() == [255, 255, 255]
    # 40 x 40 less 20 x 20 mm, at 4 pixels a mm2; the edges take up to half a pixel.
    assert (found[:, :, 1] < 128).sum() == pytest.approx(4 * 1200, rel=0.03)
    path = etree.fromstring(canvas.svg().encode()).find(f"{SVG}path")
    assert path.get("d").count("Z") == 2
    assert path.get("fill-rule") == "evenodd"


def test_a_hatch_shows_in_grey():
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(5, 5, 35, 35)], "#ffffff", hatch=Hatch("#000000", 4.0, 1.0))
    inside = pixels(canvas.png(4.0))[40:120, 40:120].mean()
    assert inside == pytest.approx(255 * (1 - 0.25), abs=12)  # lines 1 mm wide every 4 mm
    root = etree.fromstring(canvas.svg().encode())
    assert root.find(f"{SVG}defs/{SVG}pattern").get("id") in root.findall(f"{SVG}path")[-1].get("fill")


def test_lines_dashes_and_turned_text_land_where_they_should():
    canvas = Canvas(60, 60, "lines")
    canvas.line([polyline((10, 10), (50, 10))], "#000000", 1.0)
    canvas.line([polyline((10, 20), (50, 20))], "#000000", 1.0, dash=4.0)
    canvas.text(30, 45, "TURNED", 6, "middle", -90)
    dark = pixels(canvas.png(4.0)).sum(axis=2) < 380
    assert dark[38:42, 45:195].any(axis=0).all()
    assert 0.4 < dark[78:82, 40:200].any(axis=0).mean() < 0.6
    rows, columns = np.nonzero(dark[100:])
    assert np.ptp(rows) > 3 * np.ptp(columns)  # the words run upwards
    assert abs(columns.max() - 120) <= 2  # on a baseline at x = 30 mm


def test_png_knows_its_true_size_and_repeats_byte_for_byte():
    canvas = Canvas(100, 50, "size")
    canvas.text(5, 20, "Źródło – 10°", 8)
    first = canvas.png(3.0)
    assert first == canvas.png(3.0)
    image = Image.open(io.BytesIO(first))
    assert image.size == (300, 150)
    # PNG (ISO/IEC 15948), 11.3.5.3: pHYs counts pixels per metre.
    assert image.info["dpi"][0] == pytest.approx(3 * 25.4, abs=0.02)
    plain = Canvas(100, 50, "size")
    plain.text(5, 20, "Zrodlo - 10°", 8)
    assert first == plain.png(3.0)  # the bundled font has no such letters: accents are dropped, not boxed


def test_discs_have_their_outline_inside_their_radius():
    canvas = Canvas(40, 40, "discs")
    canvas.discs(np.array([[20.0, 20.0]]), 10.0, "#ffffff", stroke="#000000", width=2.0)
    found = grey_pixels(canvas, 4.0)
    ink = (found < 128).sum() / 16
    assert ink == pytest.approx(math.pi * (10**2 - 8**2), rel=0.05)
    assert found[80, 80] == 255
    root = etree.fromstring(canvas.svg().encode())
    widths = [float(p.get("stroke-width")) for p in root.iter("{http://www.w3.org/2000/svg}path")]
    assert widths == [20.0, 16.0]


def test_a_disc_too_small_for_a_pixel_is_drawn_all_the_same():
    canvas = Canvas(40, 40, "speck")
    canvas.discs(np.array([[20.0, 20.0]]), 0.1, "#000000")
    assert pixels(canvas.png(1.0)).min() < 255


@pytest.mark.parametrize("look, step", [("rising", (1, -1)), ("falling", (1, 1))])
def test_a_hatch_runs_the_way_it_says(look, step):
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 1.0, look))
    found = grey_pixels(canvas, 4.0)[20:140, 20:140]
    dx, dy = step
    along = np.abs(found - np.roll(found, (dy * 8, dx * 8), (0, 1)))[10:-10, 10:-10].mean()
    across = np.abs(found - np.roll(found, (-dy * 8, dx * 8), (0, 1)))[10:-10, 10:-10].mean()
    assert along < 3 < 30 < across


def test_crossed_and_dotted_hatches_cover_what_they_should():
    canvas = Canvas(90, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 1.0, "crossed"))
    canvas.area([rectangle(50, 0, 90, 40)], "#ffffff", hatch=Hatch("#000000", 5.0, 2.0, "dotted"))
    found = 1 - grey_pixels(canvas, 4.0) / 255
    assert found[10:150, 10:150].mean() == pytest.approx(1 - 0.8**2, abs=0.03)
    assert found[10:150, 210:350].mean() == pytest.approx(math.pi / 25, abs=0.02)


def test_a_hatch_without_a_fill_leaves_what_is_below():
    canvas = Canvas(40, 40, "hatch")
    canvas.area([rectangle(0, 0, 40, 40)], "#808080")
    canvas.area([rectangle(0, 0, 40, 40)], "", hatch=Hatch("#000000", 10.0, 1.0))
    found = grey_pixels(canvas, 4.0)
    assert Counter(found.ravel().tolist()).most_common(1)[0][0] == 128
    assert (found < 30).any()


def test_dashes_go_on_around_a_circle():
    ink = []
    for dash in (0.0, 4.0):
        canvas = Canvas(60, 60, "dashes")
        canvas.line([circle(30, 30, 20)], "#000000", 1.0, dash=dash)
        ink.append((grey_pixels(canvas, 4.0) < 128).sum())
    # Each stroke of 4 mm takes in several of the circle's short sides: dashed side by side they would be full.
    assert ink[1] / ink[0] == pytest.approx(0.5, abs=0.04)
