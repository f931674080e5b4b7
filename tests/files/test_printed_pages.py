"""Tiles cut and put together from the printed pages of `cut.pdf` alone, as a person does it."""

from __future__ import annotations

import pytest

from tests.proof.pages import SET, replay

OFF_CENTRE = """name = "side door"
[tile]
size = [2, 2]
walls = ["north", "west"]
[[opening]]
wall = "north"
kind = "doorway"
at = 0.8
width = "0.8 in"
"""


@pytest.mark.parametrize(
    "stock",
    [
        ("foam",),
        ("foam-core",),
        ("greyboard",),
        ("card",),
        ("mdf", "--machine", "laser"),
        ("mdf", "--machine", "laser", "--construction", "slotted"),
    ],
    ids=" ".join,
)
def test_a_corner_with_a_doorway_comes_out_of_its_pages(stock, tmp_path):
    profile = tmp_path / "side-door.toml"
    profile.write_text(OFF_CENTRE)
    made = replay(tmp_path / "out", "tile", profile, "--material", *stock)
    assert made is not None
    assert not made.off
    assert made.tiles == 1
    assert made.walls <= SET
