"""Kerf in x and y: what paths stand off by, what vanishes in it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from tests.unit.test_sheets_audit import kit
from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.sheets.drawing import Kerf
from tilegen.sheets.make import make_sheets
from tilegen.sheets.partpaths import compensated


# Derived by geometry: stretch until the tool is round, offset by half, stretch back.
def test_a_kerf_that_differs_in_x_and_y() -> None:
    part = Polygon(box(0, 0, 50, 50).exterior, [box(10, 10, 20, 20).exterior.coords])
    path = compensated(part, (0.1, 0.2), "P")
    assert path.bounds == pytest.approx((-0.05, -0.1, 50.05, 50.1))
    assert Polygon(path.interiors[0]).bounds == pytest.approx((10.05, 10.1, 19.95, 19.9))
    assert compensated(part, (0.2, 0.2), "P").equals(compensated(part, 0.2, "P"))
    assert compensated(part, (0.0, 0.2), "P").bounds == pytest.approx((0, -0.1, 50, 50.1), abs=1e-3)


# A slot is as wide as the stock it takes plus its fit; its path is narrower by the kerf: 3.05 + 0 - 0.15 = 2.90.
def test_a_slots_path_is_narrower_by_the_kerf_both_ways() -> None:
    thickness, fit, kerf = 3.05, 0.0, 0.15
    slot = box(10, 10, 10 + thickness + fit, 30)
    path = compensated(Polygon(box(0, 0, 50, 50).exterior, [slot.exterior.coords]), kerf, "P")
    west, south, east, north = Polygon(path.interiors[0]).bounds
    assert east - west == pytest.approx(2.90)
    assert north - south == pytest.approx(20 - 0.15)


def test_every_vanished_feature_is_named() -> None:
    holes = [box(5, 5, 5.4, 10), box(20, 20, 20.5, 30), box(30, 30, 40, 40)]
    part = Polygon(box(0, 0, 50, 50).exterior, [h.exterior.coords for h in holes]).difference(box(45, -1, 45.3, 10))
    with pytest.raises(InputError) as caught:
        compensated(part, 0.6, "X-1")
    text = caught.value.message
    assert text.count(") mm") == 3
    assert "(0.4 x 5 mm)" in text
    assert "(0.5 x 10 mm)" in text


def spike(degrees: float, length: float = 30.0) -> list[tuple[float, float]]:
    half = math.radians(degrees / 2)
    return [(0.0, 0.0), (length, length * math.tan(half)), (length, -length * math.tan(half))]


# A mitre of limit 2 reaches twice the offset beyond a corner; a sharper one is cut off there, outside of the part.
def test_sharp_corners_are_cut_off_beyond_the_part() -> None:
    for degrees in [8.0, 20.0, 59.0, 61.0, 90.0]:
        part, kerf = Polygon(spike(degrees)), 1.0
        path = compensated(part, kerf, "P")
        assert path.covers(part)
        # The whole cut stays outside of the part, and half a kerf from it except near corners.
        assert path.exterior.distance(part) == pytest.approx(kerf / 2)
        assert max(shapely.Point(p).distance(part) for p in path.exterior.coords) <= 1.2 * kerf
        tip = -min(x for x, _ in path.exterior.coords)
        sharp = kerf / 2 / math.sin(math.radians(degrees / 2))
        assert tip == pytest.approx(sharp if sharp <= kerf else tip)
        assert kerf / 2 < tip <= kerf + 1e-6


# A sharp notch stays open, whatever is lost in its very end; so is a right-angled one that a round tool leaves full.
def test_a_notch_that_is_wide_enough_is_not_refused() -> None:
    for degrees in [30.0, 90.0, 150.0]:
        for kerf in [0.2, (0.2, 0.3), (0.0, 0.2)]:
            notch = Polygon([(25 + x, y) for x, y in spike(degrees, 40.0)])
            part = box(0, -30, 50, 30).difference(notch)
            path = compensated(part, kerf, "P")
            assert path.area > part.area


@pytest.mark.parametrize("width, refused", [(0.59, True), (0.61, False)])
def test_a_slit_is_refused_where_the_cut_is_wider(width: float, refused: bool) -> None:
    part = box(0, 0, 50, 50).difference(box(20, 20, 20 + width, 60))
    if not refused:
        assert compensated(part, 0.6, "P").area > part.area
        return
    with pytest.raises(InputError, match=r"a cut 0\.6 mm wide would close") as caught:
        compensated(part, 0.6, "P")
    assert "Make them wider" in str(caught.value)
    with pytest.raises(InputError, match=r"a cut 0\.6 x 0\.7 mm wide would close"):
        compensated(part, (0.6, 0.7), "P")


# A small slit counts as well: of half the kerf squared only what a round tool leaves in a corner is forgiven (1 - pi / 4).
def test_a_short_slit_is_named_too() -> None:
    part = box(0, 0, 50, 50).difference(box(20, 49.0, 20.5, 60))
    with pytest.raises(InputError, match=r"at \(20\.2\d?, 49\.\d+\) mm"):
        compensated(part, 1.0, "P")


def test_what_is_said_of_a_kerf() -> None:
    assert Kerf.of(0.0).words == "no, nominal"
    assert Kerf.of(0.2).words == "yes, k = 0.2 mm"
    assert Kerf.of((0.1, 0.2)).words == "yes, k = 0.1 mm in x, 0.2 mm in y"
    assert (Kerf.of((0.1, 0.2)).turned, Kerf.of((0.1, 0.2)).widest) == (Kerf(0.2, 0.1), 0.2)


def test_kerf_of_a_machine_file(tmp_path: Path) -> None:
    text = find("laser", "machines").read_text()
    file = tmp_path / "mine.toml"
    file.write_text(
        text.replace('kerf = "0.15 mm"', 'kerf = "0.15 mm"\nkerf_y = "0.17 mm"').replace(
            'greyboard = "0.15 mm" ', 'greyboard = ["0.1 mm", "0.2 mm"] '
        )
    )
    machine = read_machine(file)
    assert machine.kerf_pair(read_material("greyboard")) == (0.1, 0.2)
    assert machine.kerf_pair(read_material("foam")) == (0.15, 0.17)
    assert machine.kerf_in(read_material("greyboard")) == 0.2
    for bad in ('["0.1 mm"]', '["0.1 mm", "20 mm"]', '"-1 mm"', '["a", "b"]'):
        file.write_text(text.replace('greyboard = "0.15 mm" ', f"greyboard = {bad} "))
        with pytest.raises(InputError):
            read_machine(file)


def test_a_turned_part_gets_its_kerf_turned() -> None:
    machine = read_machine("laser").model_copy(update={"kerf_by_material": {"greyboard": (0.1, 0.4)}})
    many = [(thing, 7 * count) for thing, count in kit()]  # type: ignore[attr-defined]
    sheets = make_sheets(many, read_material("greyboard"), machine)
    assert sheets.sheets[0].drawing.kerf.words == "yes, k = 0.1 mm in x, 0.4 mm in y"
    assert {sheet.nominal.kerf for sheet in sheets.sheets} == {Kerf(0.0, 0.0)}
    assert {placed.turned for sheet in sheets.sheets for placed in sheet.layout} == {False, True}
    for sheet in sheets.sheets:
        cut = {s.part: s.points for s in sheet.drawing.strokes if s.layer == "CUT_OUTER"}
        nominal = {s.part: s.points for s in sheet.nominal.strokes if s.layer == "CUT_OUTER"}
        for part, points in cut.items():
            if len(points) == 4:
                assert np.ptp(points, axis=0) - np.ptp(nominal[part], axis=0) == pytest.approx([0.1, 0.4])
