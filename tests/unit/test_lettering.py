"""Engraved words: which way round, where each character stands, how lines break, where the box is put."""

import itertools

import pytest
import shapely
import shapely.affinity
from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.tiles.lettering import GROOVE_WIDTH, engraved, free_underside, snapped, underside_mark, words_size
from tilegen.tiles.plate import Plate

WIDTH = GROOVE_WIDTH


def spans(shape, axis=0):
    """From where to where each part of a line of writing goes, in order."""
    return sorted((part.bounds[axis], part.bounds[axis + 2]) for part in shapely.get_parts(shape))


def gaps(shape):
    found = spans(shape)
    return [b[0] - a[1] for a, b in itertools.pairwise(found)]


def test_a_letter_is_the_right_way_round():
    """The stem of an L is on its left, its foot at the bottom; from below the other way round, as in a mirror."""
    letter = engraved(["L"], (10.0, 20.0), height=6.0)
    assert letter.covers(box(7.9, 20.0, 8.1, 22.0))
    assert not letter.intersects(box(11.0, 20.0, 13.0, 22.0))
    below = engraved(["L"], (10.0, 20.0), height=6.0, from_below=True)
    assert below.covers(box(11.9, 20.0, 12.1, 22.0))
    assert not below.intersects(box(7.0, 20.0, 9.0, 22.0))
    # A quarter turn counter-clockwise: the stem lies below, the foot to the right.
    turned = engraved(["L"], (10.0, 20.0), height=6.0, turn=90)
    assert turned.covers(box(8.0, 17.9, 10.0, 18.1))
    assert not turned.intersects(box(8.0, 21.0, 10.0, 23.0))


def test_letters_are_as_high_and_grooves_as_wide_as_said():
    """Strokes of an H: 6 high, 4 wide of 6 units; a groove's width is added all round, its ends are round."""
    for height, width in ((6.0, 0.6), (4.0, 0.6), (12.0, 1.0)):
        west, south, east, north = engraved(["H"], (0, 0), height=height, width=width, bar=False).bounds
        assert (north - south, east - west) == pytest.approx((height + width, height * 4 / 6 + width), abs=2e-3)
        # Over the room for a bar, which is 1.2 units.
        assert north == pytest.approx((height * 7.2 / 6) / 2 + width / 2, abs=2e-3)
        assert east == pytest.approx(-west)


def test_narrow_characters_stand_as_close_as_letters():
    """Between letters are 2 of 6 units, less a groove; beside hyphens and points about as much (taste, no source)."""
    for text in ("AHA", "H-H", "A-A", "H--H", "H.H", "A-A.A-H"):
        shape = engraved([text], (0, 0), height=6.0, bar=False)
        off = {"A": 0.01, "-": 0.21, ".": 0.51}[max(text, key="A-.".find)]
        assert gaps(shape) == pytest.approx([2.0 - WIDTH] * (len(text) - 1), abs=off)
        west, _, east, _ = shape.bounds
        assert (west, east) == pytest.approx(
            (-words_size([text], 6.0)[0] / 2, words_size([text], 6.0)[0] / 2), abs=0.01
        )


def test_lines_are_one_under_the_other():
    """1.6 heights from line to line; the longest rules the width; each line is centred."""
    lines = ["HA", "HAHA"]
    shape = engraved(lines, (0, 0), height=5.0, bar=False)
    rows = sorted({(round(p.bounds[1], 1), round(p.bounds[3], 1)) for p in shapely.get_parts(shape)})
    assert rows[1][0] - rows[0][0] == pytest.approx(8.0)
    assert len(rows) == 2
    upper = [p for p in shapely.get_parts(shape) if p.bounds[3] > rows[1][1] - 0.01]
    assert len(upper) == 2
    west, _, east, _ = shapely.union_all(upper).bounds
    assert west == pytest.approx(-east, abs=0.01)
    across, up = words_size(lines, 5.0)
    assert across == pytest.approx(22 * 5 / 6 + WIDTH)
    assert up == pytest.approx(5.0 + 8.0 + 1.2 * 5 / 6 + WIDTH)
    assert shape.bounds == pytest.approx((-across / 2, -up / 2 + 1.0, across / 2, up / 2), abs=0.01)


def test_a_bar_is_as_long_as_its_line_and_lies_in_the_room_under_it():
    bare, barred = (engraved(["NH"], (0, 0), height=6.0, bar=bar) for bar in (False, True))
    # From the first letter to the last, where 6 and 9 have theirs: 1.2 units under the letters' feet.
    west, south, east, _ = bare.bounds
    middle = south + WIDTH / 2 - 1.2
    assert barred.covers(box(west + 0.3, middle - 0.2, east - 0.3, middle + 0.2))
    assert barred.bounds[1] == pytest.approx(middle - WIDTH / 2, abs=2e-3)
    assert engraved(["AH"], (0, 0), height=6.0).equals(engraved(["AH"], (0, 0), height=6.0, bar=False))


def test_letters_too_small_for_a_micrometre():
    with pytest.raises(InputError, match="too small to engrave"):
        snapped(box(0, 0, 0.0004, 5))
    assert snapped(box(0, 0, 1, 1)).area == 1.0


# --- the underside ---


def ground(west, south, east, north, **more):
    return Plate("base", "base", box(west, south, east, north), 0.0, 6.35, **more)


def words_of(mark):
    """The words' grooves: all but the arrow, which is the part furthest to the north."""
    parts = list(shapely.get_parts(mark.region))
    arrow = max(parts, key=lambda p: p.bounds[3])
    return shapely.union_all([p for p in parts if p is not arrow]), arrow


def test_words_do_not_hang_on_where_the_tile_lies():
    for x, y in [(0.0, 0.0), (-31.75, -31.75), (-500.0, 300.0), (200.0, -700.0)]:
        here = underside_mark("corner", "ACDEFHJ", [ground(0, 0, 63.2, 63.2)])
        there = underside_mark("corner", "ACDEFHJ", [ground(x, y, x + 63.2, y + 63.2)])
        moved = shapely.affinity.translate(here.region, x, y)
        assert moved.symmetric_difference(there.region).area < 0.01 * moved.area


def test_what_just_fits_goes():
    """7 letters of 4 mm: 42 less 2 units of 2/3 mm, a groove's width more; with margins of 1.2 all round."""
    across, up = words_size(["ACDEFHJ"], 4.0)
    assert across == pytest.approx(40 * 4 / 6 + 0.6)
    # The arrow beside it takes 5.6 by 4.6 and keeps 1.6 free: over it is room.
    high = up + 2.4 + 5.6 + 1.6 + 2.0
    mark = underside_mark("x" * 90, "ACDEFHJ", [ground(0, 0, across + 2.4 + 1e-6, high)])
    words, _ = words_of(mark)
    assert words.bounds[2] - words.bounds[0] == pytest.approx(across, abs=0.01)
    with pytest.raises(InputError, match="has no room for its id"):
        underside_mark("x" * 90, "ACDEFHJ", [ground(0, 0, across + 2.3, high)])


def test_words_are_turned_where_only_that_fits():
    across, up = words_size(["ACDEFHJ"], 4.0)
    mark = underside_mark("x" * 90, "ACDEFHJ", [ground(0, 0, up + 2.5, across + 2.4 + 5.6 + 1.6 + 2.0)])
    words, _ = words_of(mark)
    west, south, east, north = words.bounds
    assert north - south == pytest.approx(across, abs=0.01)
    assert east - west < up + 0.01


def test_names_break_at_their_hyphens():
    """As few lines as 63.2 mm allow, then as large letters; the id below, and not twice.

    23 letters on one line would take 4 mm x (23 x 6 - 2) / 6 or so, 88 mm; 13 of them 49 mm.
    """
    for name, lines in [
        ("corner", ["CORNER", "ACDEFHJ"]),
        ("corner-acdefhj", ["CORNER", "ACDEFHJ"]),
        ("one-wall-with-left-post", ["ONE-WALL-WITH", "LEFT-POST", "ACDEFHJ"]),
        ("one-wall-with-two-pillars", ["ONE-WALL-WITH", "TWO-PILLARS", "ACDEFHJ"]),
    ]:
        plates = [ground(0, 0, 63.2, 63.2)]
        words, _ = words_of(underside_mark(name, "ACDEFHJ", plates))
        found = min(
            (engraved(lines, (0, 0), height=h, from_below=True) for h in (6.0, 5.0, 4.0)),
            key=lambda shape: abs(shape.area - words.area),
        )
        there = words.envelope.centroid
        here = found.envelope.centroid
        moved = shapely.affinity.translate(found, there.x - here.x, there.y - here.y)
        assert moved.symmetric_difference(words).area < 0.02 * words.area


def test_free_room_is_a_margin_from_everything():
    """1.2 mm inside the outline, a chamfer's width more; nothing under a plate too thin for 0.4 of groove and 0.8."""
    assert free_underside([ground(0, 0, 50, 40)]).bounds == pytest.approx((1.2, 1.2, 48.8, 38.8))
    assert free_underside([ground(0, 0, 50, 40)], margin=0.5).bounds == pytest.approx((1.7, 1.7, 48.3, 38.3))
    thin = Plate("base", "base", box(50, 0, 80, 40), 0.0, 1.19)
    thick = Plate("base", "base", box(50, 0, 80, 40), 0.0, 1.21)
    assert free_underside([ground(0, 0, 50, 40), thin]).bounds[2] == pytest.approx(48.8)
    assert free_underside([ground(0, 0, 50, 40), thick]).bounds[2] == pytest.approx(78.8)


def test_the_arrow_is_in_the_middle_of_the_northern_side():
    _, arrow = words_of(underside_mark("corner", "ACDEFHJ", [ground(0, 0, 63.2, 63.2)]))
    west, south, east, north = arrow.bounds
    # 4 by 5 mm and a groove's width; its mitred tip is a little further north.
    assert (west + east) / 2 == pytest.approx(31.6, abs=0.01)
    assert north == pytest.approx(63.2 - 1.2, abs=0.01)
    assert 5.0 < north - south < 6.0
    assert 4.0 < east - west < 5.5
