"""Tiles cut and put together from the printed pages of `cut.pdf` alone, as a person does it."""

from __future__ import annotations

import pytest

from tests.proof.pages import SET, STOCKS, replay

# Corners and a corridor, each with a doorway; one off the middle of its wall; a door piece between two rooms.
HALLS = """name = "two halls"
scale = "10 ft"
drawing = '''
A A B
A A B
. . B
'''
[[way]]
cell = [3, 1]
side = "west"
kind = "saddle"
[[way]]
cell = [3, 2]
side = "west"
kind = "doorway"
[[way]]
cell = [1, 2]
side = "west"
kind = "doorway"
at = 0.8
width = "0.8 in"
"""


WIRE = {"wire": ("--material", "foam", "--machine", "hot-wire")}


@pytest.mark.parametrize("stock", STOCKS | WIRE)
def test_corners_a_corridor_and_a_door_piece_come_out_of_their_pages(stock, tmp_path):
    plan = tmp_path / "halls.toml"
    plan.write_text(HALLS)
    made = replay(tmp_path / "out", "build", plan, "--make", "cut", *(STOCKS | WIRE)[stock])
    assert made is not None
    assert not made.off
    assert made.tiles >= 5
    assert made.doors == 1
    assert made.walls <= SET
