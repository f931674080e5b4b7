import math

import pytest

from tilegen.errors import InputError
from tilegen.lengths import parse_length, show_length


def test_lengths_are_exact():
    for text, mm in [
        # The inch is 25.4 mm exactly: National Bureau of Standards Circular 572, addendum of 1960.
        ("1 in", 25.4),
        ("1.25 in", 31.75),
        ("1/4 in", 6.35),
        ("1 1/4 in", 31.75),
        ('2 1/2"', 63.5),
        ("3/16 in", 4.7625),
        ("1 ft", 304.8),
        ("31.75 mm", 31.75),
        ("3.175cm", 31.75),
        ("0.03175 m", 31.75),
        (6, 6.0),
        (6.35, 6.35),
        ("6.35", 6.35),
        ("-1/4 in", -6.35),
    ]:
        assert parse_length(text) == mm


def test_what_is_no_length_is_refused():
    for text in [
        "",
        "in",
        "1.25 inn",
        "1,25 in",
        "1/0 in",
        "nan",
        "inf mm",
        math.nan,
        math.inf,
        "1e9 m",
        "1000000 m",
        True,
        None,
        [1],
        "1 1 in",
        "9" * 400,
        10**400,
        "1 " * 999,
    ]:
        with pytest.raises(InputError) as caught:
            parse_length(text)
        assert caught.value.cure
        assert len(str(caught.value)) < 700


def test_an_unknown_unit_offers_the_nearest():
    with pytest.raises(InputError, match='Did you mean "inch"'):
        parse_length("1 inc")


def test_lengths_are_shown_without_trailing_zeros():
    for mm, units, text in [
        (31.75, "in", "1.25 in"),
        (63.5, "mm", "63.5 mm"),
        (0.0, "mm", "0 mm"),
        (100, "mm", "100 mm"),
        (-0.001, "mm", "0 mm"),
    ]:
        assert show_length(mm, units) == text
