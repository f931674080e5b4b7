"""Fewer, larger pieces: exact covers against trying all, the bound of fewest rectangles, walls never crossed."""

import itertools
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.calling import call
from tests.plans import drawings, furnished, plan
from tilegen.errors import InputError
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.larger import Cover, cover_floor, fewest_rectangles, read_kinds
from tilegen.plans.layout import lay
from tilegen.solids.build import build_mesh


def floor_of(text):
    return np.array([[character == "#" for character in row] for row in text.split()])


def fewest_by_trying(floor, sizes):
    """The fewest rectangles of some sizes that cover a small floor, by trying all."""
    best = [int(floor.sum())]
    sizes = sorted({pair for a, b in sizes for pair in ((a, b), (b, a))} | {(1, 1)}, key=lambda s: -s[0] * s[1])

    def lay_next(free, used):
        if used >= best[0]:
            return
        spots = np.argwhere(free)
        if not len(spots):
            best[0] = used
            return
        row, column = spots[0]
        for width, depth in sizes:
            part = free[row : row + depth, column : column + width]
            if part.shape == (depth, width) and part.all():
                rest = free.copy()
                rest[row : row + depth, column : column + width] = False
                lay_next(rest, used + 1)

    lay_next(floor, 0)
    return best[0]


# Worked by brute force in the survey of shapes that goes with the formula N - L - H + 1.
SHAPES = {
    "#. ##": 2,
    "### .#.": 2,
    ".#. ### .#.": 3,
    "### #.# ###": 4,
    "#.. ##. ###": 3,
    "##. .##": 2,
    "#.# ###": 3,
    "#.#.# #####": 4,
    "##### #.#.# #####": 5,
}


def test_fewest_rectangles_of_small_shapes():
    for text, fewest in SHAPES.items():
        assert fewest_rectangles(floor_of(text)) == fewest


def test_the_published_example():
    # README of mikolalysenko/rectangle-decomposition (MIT): a hole in [[0,0],[4,0],[4,4],[1,4],[1,3],[0,3]]: 4.
    floor = np.ones((4, 4), bool)
    floor[3, 0] = floor[1, 1] = False
    assert fewest_rectangles(floor) == 4


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 4), st.integers(1, 4), st.data())
def test_fewest_rectangles_against_trying_all(rows, columns, data):
    floor = np.array(data.draw(st.lists(st.booleans(), min_size=rows * columns, max_size=rows * columns)))
    floor = floor.reshape(rows, columns)
    sizes = list(itertools.combinations_with_replacement(range(1, 5), 2))
    assert fewest_rectangles(floor) == (fewest_by_trying(floor, sizes) if floor.any() else 0)


@settings(max_examples=15, deadline=None)
@given(drawings(5), st.sampled_from(["2x1", "2x1,2x2", "3x1,2x2", "2x2,3x2"]))
def test_the_fewest_pieces_against_trying_all(rows, words):
    drawing = plan(rows)
    cover = cover_floor(drawing, read_kinds(words))
    sizes = [tuple(map(int, word.split("x"))) for word in words.split(",")]
    least = sum(fewest_by_trying(drawing.rooms == code, sizes) for code in np.unique(drawing.rooms) if code)
    assert cover.pieces == cover.least == least
    assert cover.proven
    assert cover.rectangles <= cover.pieces
    rooms = [drawing.rooms == code for code in np.unique(drawing.rooms) if code]
    assert cover.rectangles == sum(fewest_rectangles(floor) for floor in rooms)
    assert cover.gap == 0.0


@settings(max_examples=20, deadline=None)
@given(furnished())
def test_every_square_is_covered_once_and_no_wall_is_crossed(made):
    drawing = plan(*made)
    cover = cover_floor(drawing, read_kinds("2x1, 2x2, 4x2, run-3, tee, cross"))
    laid = lay(drawing, cover.kit)
    for kind in cover.kit.types:
        # Row by row, from the north-west.
        assert kind.places.tolist() == sorted(kind.places.tolist(), key=lambda p: (p[1], p[0], p[2]))
    assert ((laid.tile_of >= 0) == (drawing.rooms != 0)).all()
    area = sum(turn.geometry(kind.tile.base.foot).area for kind, turn in placed(cover.kit, drawing))
    assert len(laid.type_of) == cover.pieces
    # The play is taken off the outside of each piece only.
    singles = sum(t.count * t.tile.base.foot.area for t in make_kit(drawing).types)
    assert area >= singles - 1e-6
    same_across = laid.tile_of[:-1] == laid.tile_of[1:]
    same_down = laid.tile_of[:, :-1] == laid.tile_of[:, 1:]
    floor = drawing.rooms != 0
    assert not (drawing.across[1:-1][same_across & floor[1:]]).any()
    assert not (drawing.down[:, 1:-1][same_down & floor[:, 1:]]).any()
    walls = sum(
        k.tile.shape.by_place[p].sides[s].carries * k.count
        for k in cover.kit.types
        for p in k.tile.shape.by_place
        for s in range(4)
    )
    single = sum(
        c.sides[s].carries * k.count for k in make_kit(drawing).types for _, c in k.tile.shape.cells for s in range(4)
    )
    assert walls == single


def test_pieces_are_closed_solids():
    rows = ["AAAABB", "AAAAB.", "..C...", "..CCC."]
    ways = {(3, 2, "south"): "open", (4, 1, "east"): "doorway"}
    cover = cover_floor(plan(rows, ways), read_kinds("2x1 2x2 4x2 run-2 tee"))
    assert cover.pieces < 16
    for kind in cover.kit.types:
        assert build_mesh(kind.name, kind.tile.plates).volume == pytest.approx(kind.tile.volume, abs=1e-6)


def test_junctions_are_corridors_only():
    # Four corridors that meet: a cross. The same square in an open room is none.
    corridors = [".A.", "AAA", ".A."]
    assert cover_floor(plan(corridors), read_kinds("cross")).pieces == 1
    assert cover_floor(plan(["AAA", "AAA", "AAA"]), read_kinds("cross")).pieces == 9
    assert cover_floor(plan(["AAA", ".A."]), read_kinds("tee")).pieces == 1
    assert cover_floor(plan(["AAAA"]), read_kinds("run-2")).pieces == 2
    assert cover_floor(plan(["AA", "AA"]), read_kinds("run-2")).pieces == 4


def test_what_is_owned_is_laid_first():
    drawing = plan(["AAAA", "AAAA"])
    plain = cover_floor(drawing, read_kinds("4x2,2x1"))
    assert plain.pieces == 1
    pairs = cover_floor(drawing, read_kinds("2x1"))
    owned = {t.tile.id: t.count for t in pairs.kit.types}
    cover = cover_floor(drawing, read_kinds("4x2,2x1"), owned=owned, least="material")
    assert {t.tile.id: t.count for t in cover.kit.types} == owned
    fewer = {key: count - 1 for key, count in owned.items()}
    again = cover_floor(drawing, read_kinds("2x1"), owned=fewer, least="material")
    assert again.pieces == 4


def test_wrong_lists():
    for words in ["", "2x", "0x2", "21x1", "run-1", "star", "2x1;2x2"]:
        with pytest.raises(InputError, match="piece"):
            read_kinds(words)


def test_only_at_ten_feet():
    with pytest.raises(InputError, match="10 ft"):
        cover_floor(plan(["AA", "AA"], scale="5 ft"), read_kinds("2x1"))


def test_on_the_command_line():
    answer = call("kit", "bell-foundry", "--pieces", "2x1,2x2,4x2,run-3,tee", "--json")
    totals = json.loads(answer.stdout)["totals"]
    assert totals["squares"] == 69
    assert totals["tiles"] == totals["least_pieces"] == 28
    assert totals["least_rectangles"] < 28
    forced = call("kit", "lamp-cellars", "--lattice", "1,1", "--json")
    best = call("kit", "lamp-cellars", "--json")
    assert json.loads(forced.stdout)["totals"]["tiles"] >= json.loads(best.stdout)["totals"]["tiles"]
    for words in (
        ["bell-foundry", "--lattice", "0,1"],
        ["lamp-cellars", "--lattice", "2,0"],
        ["lamp-cellars", "--pieces", "2x1"],
    ):
        assert call("kit", *words).returncode == 2


def test_a_wall_parts_a_floor_and_its_rectangles():
    """Two rows of three: one rectangle; with a wall down the middle of both rows, two, and no piece over it."""
    kinds = read_kinds("3x2, 2x2")
    whole = cover_floor(plan(["AAA", "AAA"]), kinds)
    assert (whole.pieces, whole.rectangles, whole.squares) == (1, 1, 6)
    parted = cover_floor(plan(["AAA", "AAA"], walls={(1, 1, "east"), (1, 2, "east")}), kinds)
    assert (parted.pieces, parted.rectangles) == (3, 2)
    assert Cover(whole.kit, 6, 3, 2, 1).gap == pytest.approx(0.5)
    assert not Cover(whole.kit, 6, 3, 2, 1).proven


def test_tees_and_crosses_are_called_so():
    (tee,) = cover_floor(plan(["AAA", ".A."]), read_kinds("tee")).kit.types
    (cross,) = cover_floor(plan([".A.", "AAA", ".A."]), read_kinds("cross")).kit.types
    assert (tee.name, cross.name) == ("tee", "cross")
