"""Which loose pieces are told as small parts (16 CFR 1501.4), by the box of all that they consist of."""

from shapely.geometry import box

from tilegen.model.grid import Grid
from tilegen.tiles.loose import Piece, piece_cautions
from tilegen.tiles.plate import Opening, Plate


def piece(*feet, high=5.0, name="bar"):
    plates = tuple(Plate(f"p{n}", "door", foot, 0.0, high) for n, foot in enumerate(feet))
    return Piece(name, Grid(), plates, 20.0, Opening(10.0, 8.0, 5.0))


# The cylinder is 31.7 mm wide and 57.1 mm deep at most: what is longer than that does not go in.
def test_a_piece_is_as_large_as_all_its_plates_together():
    for feet, small in [
        ((box(100, 50, 140, 60),), True),
        ((box(50, 100, 60, 140),), True),
        ((box(0, 0, 58, 10),), False),
        # Two plates a little apart, short each, are one long piece, wherever it lies.
        ((box(0, 0, 10, 10), box(48, 0, 58, 10)), False),
        ((box(0, 0, 10, 10), box(0, 48, 10, 58)), False),
        ((box(48, 0, 58, 10), box(0, 0, 10, 10)), False),
        ((box(0, 48, 10, 58), box(0, 0, 10, 10)), False),
        ((box(100, 50, 110, 60), box(130, 50, 140, 60)), True),
        ((box(50, 100, 60, 110), box(50, 130, 60, 140)), True),
        # 30 by 30 by 5: across a corner 42 mm, but it stands upright in the cylinder with 30 and 5 across.
        ((box(0, 0, 30, 30),), True),
        # 40 by 40: 40 and 5 across are 40.3 mm.
        ((box(0, 0, 40, 40),), False),
    ]:
        assert bool(piece_cautions([piece(*feet)])) is small


def test_the_height_of_a_piece_counts():
    assert piece_cautions([piece(box(0, 0, 10, 10), high=57.0)])
    assert not piece_cautions([piece(box(0, 0, 10, 10), high=57.2)])


def test_each_small_piece_is_named_once():
    pieces = [piece(box(0, 0, 9, 9), name=name) for name in ("key", "pin", "key")]
    large = piece(box(0, 0, 90, 90), name="door")
    (words,) = piece_cautions([*pieces, large])
    assert ": key, pin. " in words
    assert "16 CFR 1501" in words
    assert piece_cautions([large]) == piece_cautions([]) == ()
