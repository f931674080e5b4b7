"""The grid finder: the smallest pitch and the thickest wall, tried on maps with the figures themselves."""

from __future__ import annotations

import pytest

from tests.kits.test_fit_plans import make_plan, random_plan
from tilegen.errors import InputError
from tilegen.fit.figures import figures_on
from tilegen.fit.finder import find_grid, found_record, smallest_pitch, thickest_wall, trade_off, trade_off_record
from tilegen.model.grid import Grid


def test_the_default_grid_is_the_smallest_for_one_and_two_inches():
    assert smallest_pitch([25.4, 50.8], 6.35) == pytest.approx(31.75)
    assert thickest_wall([25.4, 50.8], 31.75) == pytest.approx(6.35)
    found = find_grid([25.4, 50.8], wall=6.35)
    assert found.done
    assert found.tile_side == pytest.approx(63.5)


def test_on_the_found_grid_every_figure_stands_everywhere_and_on_a_smaller_one_not():
    # A hall, a wide room and a closed cell: the tightest blocks there are.
    plans = ("AAAAAA", "AAA\nAAA\nAAA", "AAAA\nAAAA")

    def misses(grid, bases):
        figures = [figure for text in plans for figure in figures_on(make_plan(text, grid=grid), bases)]
        return sum(figure.positions - figure.stands for figure in figures)

    for wall in (3.0, 6.35):
        for bases in [[30.0], [50.8, 30.0], [32.0, 40.0, 60.0], [101.6, 25.4]]:
            pitch = smallest_pitch(bases, wall)
            assert misses(Grid(pitch=pitch, wall_thickness=wall), bases) == 0
            assert misses(Grid(pitch=pitch - 0.01, wall_thickness=wall), bases) > 0


def test_on_any_map_the_wanted_figures_stand():
    grid = Grid(pitch=smallest_pitch([30.0, 50.8], 5.0), wall_thickness=5.0)
    for seed in range(10):
        drawing = random_plan(seed + 40, grid=grid, most=6)
        if max(drawing.rooms.shape) < 2:
            continue
        for figure in figures_on(drawing, [30.0, 50.8]):
            assert figure.stands == figure.positions, seed


def test_a_largest_tile_alone_gives_the_thickest_wall():
    found = find_grid([50.8, 30.0], largest_tile=76.2)
    assert found.done
    assert (found.pitch, found.wall) == (38.1, pytest.approx(8.1))
    refused = find_grid([60.0], largest_tile=58.0)
    assert not refused.done
    assert any("No wall, however thin" in text for text in refused.cannot)


def test_wall_and_largest_tile_may_not_go_together():
    assert find_grid([50.8], wall=6.35, largest_tile=63.5).done
    found = find_grid([50.8], wall=6.35, largest_tile=60.0)
    assert not found.done
    assert any("63.5 mm: more than the largest, 60 mm" in text for text in found.cannot)


def test_what_no_grid_of_this_kind_can_do_is_said():
    found = find_grid([25.4, 50.8], wall=6.35)
    assert "keeps a space less two walls" in found.cannot[0]
    assert "19.05 mm" in found.cannot[0]
    assert any("25.4 mm stands in a one-space hall only from spaces of 38.1 mm" in text for text in found.cannot)
    assert any("50.8 mm takes 2 spaces" in text for text in found.cannot)
    record = found_record(found)
    assert record["figures"][0]["in_one_space_hall"] is False
    assert record["figures"][0]["one_space_pitch_mm"] == pytest.approx(38.1)
    assert find_grid([12.7], wall=6.35).figures[0].one_space_pitch == pytest.approx(25.4)


def test_the_trade_off_holds_on_real_maps():
    rows = trade_off([25.4, 30.0, 50.8], 6.35)
    default = next(row for row in rows if row.pitch == pytest.approx(31.75))
    assert default.one_space_hall == pytest.approx(19.05)
    assert default.two_space_hall == pytest.approx(50.8)
    assert default.corner == pytest.approx(25.4)
    assert default.beside_post == pytest.approx(29.758, abs=1e-3)
    assert default.length_lost == pytest.approx(0.2)
    assert default.stand == 2
    for row in rows[::4]:
        grid = Grid(pitch=row.pitch, wall_thickness=6.35)
        (single,) = figures_on(make_plan("AAA", scale="5 ft", grid=grid), [min(row.one_space_hall, 38.0)])
        assert single.stands == single.positions
        (corner,) = figures_on(make_plan("AA\nAA", grid=grid), [min(row.corner, 38.0)])
        assert corner.stands == corner.positions
    assert rows[-1].stand == 3
    assert len(trade_off_record(rows)) == len(rows)


def test_bad_wishes_are_refused():
    for bases, given, match in [
        ([], {"wall": 5.0}, "no figure"),
        ([0.0], {"wall": 5.0}, "more than 0"),
        ([float("nan")], {"wall": 5.0}, "more than 0"),
        ([25.4], {}, "Add --wall or --largest-tile"),
        ([25.4], {"wall": 0.0}, "--wall: 0 mm is not possible"),
        ([25.4], {"largest_tile": float("inf")}, "--largest-tile"),
    ]:
        with pytest.raises(InputError, match=match):
            find_grid(bases, **given)


def test_what_a_grid_can_not_be_found_for():
    for bases, more, says in [
        ([], {"wall": 6.0}, "no figure"),
        ([0.0], {"wall": 6.0}, "above 0|more than 0"),
        ([25.4], {"wall": 0.0}, "more than 0"),
        ([25.4], {"wall": 6.0, "largest_tile": -1.0}, "more than 0"),
        ([25.4], {"wall": float("nan")}, "more than 0"),
        ([25.4], {"wall": 6.0, "spaces": 0}, "at least 1"),
        ([25.4], {}, "."),
    ]:
        with pytest.raises(InputError, match=says):
            find_grid(bases, **more)


def test_a_tile_as_large_as_allowed_is_done():
    """25.4 mm figures with walls of 6.35 mm: 31.75 mm a space of two, 38.1 mm one between two walls."""
    assert find_grid([25.4], wall=6.35, largest_tile=63.5).done
    assert not find_grid([25.4], wall=6.35, largest_tile=63.4).done
    assert find_grid([25.4], wall=6.35, largest_tile=38.1, spaces=1).done
    assert not find_grid([25.4], wall=6.35, largest_tile=38.0, spaces=1).done
