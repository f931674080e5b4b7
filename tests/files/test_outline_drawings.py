"""Outlines from drawings: read right, or refused with the place of the fault.

Published figure: the bulge of a DXF polyline, tan(theta / 4) (Autodesk, GetBulge method).
"""

import math
from itertools import pairwise

import ezdxf
import pytest
from shapely.geometry import Polygon

from tilegen.errors import InputError
from tilegen.files.outlines import read_outline
from tilegen.geometry import CHORD_MM

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="50mm" viewBox="0 0 120 100">{}</svg>'


def dxf(path, draw, units=4):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    draw(document.modelspace())
    document.saveas(path)
    return path


def polygon(drawn):
    return Polygon(drawn.rings.points, drawn.rings.holes)


def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(tmp_path):
    path = dxf(
        tmp_path / "a.dxf",
        lambda m: m.add_lwpolyline([(0, 0), (25.4, 0, 0, 0, 1), (25.4, 25.4), (0, 25.4)], close=True),
    )
    drawn = polygon(read_outline(path))
    half = math.pi * 12.7
    # Chords lie inside: at most two thirds of the chord error times the arc.
    assert 898.5137 - CHORD_MM * half < drawn.area < 898.5137
    assert drawn.length == pytest.approx(116.0982, rel=1e-3)
    assert drawn.bounds[2] == pytest.approx(38.1, abs=CHORD_MM)


@pytest.mark.parametrize("bulge, sign", [(-1, -1), (0.414214, 1)])
def test_clockwise_and_quarter_bulges(tmp_path, bulge, sign):
    path = dxf(
        tmp_path / "a.dxf", lambda m: m.add_lwpolyline([(0, 0), (20, 0, 0, 0, bulge), (20, 20), (0, 20)], close=True)
    )
    radius = 10 if bulge == -1 else 10 * math.sqrt(2)
    angle = 4 * math.atan(abs(bulge))
    segment = radius**2 / 2 * (angle - math.sin(angle))
    assert polygon(read_outline(path)).area == pytest.approx(400 + sign * segment, abs=CHORD_MM * radius * angle)


def test_loose_lines_arcs_and_holes_are_joined(tmp_path):
    def draw(m):
        m.add_line((0, 0), (50, 0))
        m.add_arc((50, 20), 20, 270, 90)
        m.add_line((0, 40), (50, 40))
        m.add_line((0, 40), (0, 0))
        m.add_circle((30, 20), 8)
        m.add_ellipse((55, 20), (6, 0), 0.5)
        m.add_text("not a line")

    drawn = read_outline(dxf(tmp_path / "a.dxf", draw))
    exact = 2000 + math.pi * (200 - 64 - 18)
    assert polygon(drawn).area == pytest.approx(exact, abs=CHORD_MM * math.pi * 60)
    assert len(drawn.rings.holes) == 2
    assert drawn.rings.points[0] == (0, 0)


def test_units_are_read_and_said(tmp_path):
    square = lambda m: m.add_lwpolyline([(0, 0), (2, 0), (2, 2), (0, 2)], close=True)  # noqa: E731
    for number, word, area in ((1, "in", 2580.64), (5, "cm", 400.0)):
        drawn = read_outline(dxf(tmp_path / "a.dxf", square, number))
        assert polygon(drawn).area == pytest.approx(area)
        assert f"read in {word};" in drawn.said
    bare = dxf(tmp_path / "b.dxf", square, 0)
    with pytest.raises(InputError, match="--unit mm"):
        read_outline(bare)
    assert polygon(read_outline(bare, "in")).area == pytest.approx(2580.64)
    with pytest.raises(InputError, match="the drawing itself says that it is in cm, not in mm"):
        read_outline(tmp_path / "a.dxf", "mm")


def test_svg(tmp_path):
    path = tmp_path / "a.svg"
    path.write_text(
        SVG.format(
            '<g transform="translate(10,10)"><path d="M0 0h80a20 20 0 0 1 20 20v60h-100z"/><circle cx="30" cy="30" r="10"/>'
            '<path style="display:none" d="M0 0h5"/><text>words</text></g>'
        )
    )
    drawn = read_outline(path)
    exact = (8000 - 400 * (1 - math.pi / 4) - 100 * math.pi) / 4
    assert polygon(drawn).area == pytest.approx(exact, abs=CHORD_MM * 60)
    # The round corner is at the top right in the drawing, so to the north-east.
    assert Polygon(drawn.rings.points).covers(Polygon([(0, 0), (50, 0), (50, 29), (0, 29)]))
    path.write_text(SVG.format('<path d="M0 0 C 40 0 40 60 0 60 Q -20 30 0 0"/>'))

    # Bezier curves by de Casteljau's construction, in 10,000 steps, apart from the library that reads the file.
    def curve(points, t):
        while len(points) > 1:
            points = [tuple((1 - t) * a + t * b for a, b in zip(p, q, strict=True)) for p, q in pairwise(points)]
        return points[0]

    steps = [n / 10_000 for n in range(10_001)]
    ring = [curve([(0, 0), (40, 0), (40, 60), (0, 60)], t) for t in steps]
    ring += [curve([(0, 60), (-20, 30), (0, 0)], t) for t in steps]
    assert polygon(read_outline(path)).area == pytest.approx(Polygon(ring).area / 4, rel=2e-3)


def test_wrong_svg(tmp_path):
    for text, part in [
        (SVG.format('<path d="M0 0h20v20"/>'), "a gap of"),
        (SVG.format("<text>no lines</text>"), "the drawing has no lines"),
        (SVG.format('<use href="#a"/>'), "Unlink"),
        (SVG.format('<rect width="40" height="40"/><rect x="50" width="40" height="40"/>'), "second outline"),
        (SVG.format('<rect width="40" height="40"/><rect x="10" width="60" height="20"/>'), "cross or touch at ("),
        (SVG.format('<path d="M0 0L40 40V0L0 40z"/>'), "crosses or touches itself"),
        (SVG.replace("60mm", "60").format('<rect width="40" height="40"/>'), "--unit mm"),
        (SVG.replace("60mm", "90mm").format('<rect width="40" height="40"/>'), "stretched"),
        ("<svg", "line 1: the XML is broken (unclosed token)"),
        ("<html/>", "this is no SVG: it begins with <html>"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]>' + SVG.format("<text>&a;</text>"), "entities"),
        (
            "<!DOCTYPE svg ["
            + "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(12))
            + "]>"
            + SVG.format('<path d="&l;"/>'),
            "entities of its own",
        ),
        (SVG.format('<path d="M0 0h1e300v1e300z"/>'), "further than 1 km"),
        (SVG.format('<path d="M0 0h2x"/>'), "gap"),
    ]:
        path = tmp_path / "a.svg"
        path.write_text(text)
        with pytest.raises(InputError) as caught:
            read_outline(path)
        assert part in str(caught.value)
        assert "a.svg" in str(caught.value)


WRONG_DXF = {
    "open": (lambda m: (m.add_line((0, 0), (50, 0)), m.add_line((50, 0), (50, 50)), m.add_line((50, 50), (0.6, 0.8))),
             "a gap of 1 mm between (0, 0) mm and (0.6, 0.8) mm"),
    "branch": (lambda m: (m.add_lwpolyline([(0, 0), (50, 0), (50, 50)]), m.add_line((50, 50), (0, 0)), m.add_line((0, 0), (9, 9))),
               "3 lines meet at (0, 0) mm"),
    "twice": (lambda m: (m.add_circle((0, 0), 20), m.add_circle((0, 0), 20)), "cross or touch"),
    "island": (lambda m: [m.add_circle((0, 0), r) for r in (30, 20, 10)], "there is an island in a hole"),
    "outside": (lambda m: (m.add_circle((0, 0), 20), m.add_circle((50, 0), 5)), "a second outline at (50"),
    "block": (lambda m: (m.doc.blocks.new("B"), m.add_blockref("B", (0, 0))), "INSERT"),
    "empty": (lambda m: None, "the drawing has no lines"),
    "far": (lambda m: m.add_circle((0, 0), 1e9), "further than 1 km"),
}  # fmt: skip


def test_wrong_dxf(tmp_path):
    for draw, part in WRONG_DXF.values():
        path = dxf(tmp_path / "a.dxf", draw)
        with pytest.raises(InputError) as caught:
            read_outline(path)
        assert part in str(caught.value)
