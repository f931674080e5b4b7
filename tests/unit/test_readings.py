"""Test pieces: what the readings mean. Derived formulas and common practice, no source, unless said."""

import pytest

from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material
from tilegen.sheets.gauge import COMB_BLOCKS, COMB_WIDTH, figures_of, gauge_drawing, kerf_of_comb, parse_readings


def test_a_comb_gives_back_its_kerf():
    """Cut a comb in mind: each of the blocks loses half a kerf on each side."""
    for kerf in [0.0, 0.08, 0.15, 0.25, 1.0]:
        block = COMB_WIDTH / COMB_BLOCKS - kerf
        assert kerf_of_comb(COMB_BLOCKS * block) == pytest.approx(kerf, abs=1e-12)


def test_fence_zero():
    """Wanted 20.0; the test pieces measured 19.6 at 20 and 49.6 at 50: c0 = -0.4, so set 20.4 and 50.4."""
    figures = figures_of(parse_readings(["strip-20=19.6", "strip-50 = 49.6 mm"]), 6.0)
    assert figures.fence_zero == pytest.approx(-0.4)
    assert 20.0 - figures.fence_zero == pytest.approx(20.4)


@pytest.mark.parametrize("outside, hinge", [(50.0, 0.0), (50.5, 0.5), (51.0, 1.0)])
def test_the_hinge_of_a_fold(outside, hinge):
    """t = 0.5: outside size L between two folds is h + 2 a t."""
    assert figures_of({"fold": (outside,)}, 0.5).hinge == pytest.approx(hinge)


def test_the_strip_gives_back_the_hinge_of_its_grooves():
    """The strip as drawn, turned in mind by 90 degrees about a line in the skin beneath the middle of each groove."""
    for thickness in [3.0, 5.0, 10.0]:
        for hinge in [0.0, 0.3, 0.5, 1.0]:
            core = read_material("foam-core").model_copy(update={"thickness": thickness})
            drawing = gauge_drawing(core, read_machine("hand-knife"), (0.0, 0.0))
            xs = sorted(
                {float(x) for stroke in drawing.strokes if stroke.layer == "CREASE" for x in stroke.points[:, 0]}
            )
            assert len(xs) == 4
            first, second = (xs[0] + xs[1]) / 2, (xs[2] + xs[3]) / 2
            # The flaps' outer faces stand up a hinge's depth beyond the lines that they turn about.
            outside = second - first + 2 * hinge * core.skin
            figures = figures_of({"fold": (outside,)}, thickness, core.groove_skin)
            assert figures.hinge == pytest.approx(hinge)
            # The sides of each groove are free to meet, and the panel between the two has room left.
            assert xs[1] - xs[0] == pytest.approx(2 * (thickness - 0.15))
            assert xs[2] - xs[1] > 20


def test_a_fold_that_was_not_shut_is_refused():
    with pytest.raises(InputError, match=r"50 to 50\.6 mm"):
        figures_of({"fold": (51.2,)}, 5.0, 0.3)


def test_thickness_is_the_mean_and_serves_the_others():
    figures = figures_of(parse_readings(["thickness=2.0,2.1", "thickness=2.2", "slot=2.2"]), 3.0)
    assert figures.thickness == pytest.approx(2.1)
    assert figures.slot_fit == pytest.approx(0.1)


def test_kerf_along_both_axes():
    assert figures_of({"comb-x": (99.0,), "comb-y": (98.0,)}, 3.0).kerf == pytest.approx((0.1, 0.2))
    assert figures_of({"comb-x": (99.0,)}, 3.0).kerf == pytest.approx((0.1, 0.1))
    assert figures_of({}, 3.0).kerf is None


def test_readings_that_can_not_be_right():
    for words in [
        ["comb"],
        ["combx=3"],
        ["thickness=0"],
        ["thickness=-1"],
        ["thickness=x"],
        ["comb-x=101"],
        ["comb-x=1"],
        ["fold=70"],
        ["fold=40"],
        ["slot=320"],
        ["thickness=3", "slot=2.2"],
    ]:
        with pytest.raises(InputError):
            figures_of(parse_readings(words), 2.0)
