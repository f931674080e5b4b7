"""Features that can't be made are refused: in plans, in profiles, on the command line."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.calling import call
from tests.kits.test_features import feature, furnished, profile
from tilegen.errors import InputError
from tilegen.plans.features import RoomHeights


def test_what_can_not_be_made_is_refused():
    for things, says in [
        ([feature("pillar", (3, 1))], "cell [3, 1] is solid ground"),
        ([feature("pillar", (5, 1))], "this square is outside the drawing, which has 3 columns and 1 row"),
        (
            [feature("pillar", (1, 1), at=(0.2, 1.0))],
            "this feature reaches 6.35 mm under a wall or post of cell [1, 1]",
        ),
        ([feature("pillar", (1, 1), at=(2.0, 1.0), size=(10.0, 10.0))], "reaches 5 mm beyond its squares"),
        ([feature("pillar", (1, 1), (2, 1), at=(2.0, 1.0))], "this pillar lies over a line between squares"),
        (
            [feature("dais", (1, 1), (2, 1), at=(1.4, 1.0), size=(40.0, 20.0))],
            "only 0.95 mm of this feature lies on cell [2, 1]",
        ),
        ([feature("pillar", (1, 1)), feature("dais", (1, 1))], "this dais lies over the pillar of [[feature]] 1"),
        ([feature("pillar", (1, 1), at=(0.41, 1.0))], "is only 0.32 mm from a wall or post"),
        ([feature("pit", (1, 1), height=6.0)], "at most 5.15 mm"),
        ([feature("stair", (1, 1))], "a stair needs the key side"),
        ([feature("stair", (1, 1), side="north")], "a stair needs the key height where no higher floor lies beyond it"),
        ([feature("stair", (1, 1), side="north", height=20.0, steps=30)], "30 steps would be only 1.69 mm deep here"),
        ([feature("dais", (1, 1), at=(1.0, 1.0))], "at is given without size"),
        ([feature("pillar", (1, 1), size=(10.0, 12.0), round=True)], "a round pillar can't be 10 x 12 mm"),
        (
            [feature("dais", (1, 1), round=True)],
            "round does not go with a dais. Delete it. A dais takes at, size, height",
        ),
        ([feature("pillar", (1, 1), height=-3.0)], "-3 mm high"),
        ([feature("pillar", (1, 1), size=(1.0, 5.0))], "a pillar can't be 1 mm across. Use at least 2 mm"),
        ([feature("dais", (2, 1), (1, 1))], "to = [1, 1], lies north or west of its first one, [2, 1]"),
        ([feature("well", (1, 1), (2, 1), at=(2.0, 1.0))], "this well lies over a line between squares"),
        (
            [feature("well", (1, 1), size=(10.0, 10.0))],
            "a rim 6.35 mm wide leaves a hole of less than 2 mm in a well 10 mm across",
        ),
        (
            [feature("well", (1, 1), rim_width=1.0)],
            "the rim of a well can't be 1 mm wide. Use a rim_width of at least 2 mm",
        ),
        ([feature("well", (1, 1), size=(20.0, 21.0))], "a round well can't be 20 x 21 mm"),
        ([feature("well", (1, 1), height=6.0)], "a well can't be 6 mm deep in a base of 6.35 mm. Use at most 5.15 mm"),
        ([feature("well", (1, 1), steps=2)], "steps does not go with a well. Delete it. A well takes at, size, depth"),
    ]:
        named = [replace(t, wanted=replace(t.wanted, place=f"[[feature]] {n}")) for n, t in enumerate(things, 1)]
        with pytest.raises(InputError, match=r"^\[\[feature\]\] \d: .*\. [A-Z]") as caught:
            furnished(["AA."], named)
        assert says in caught.value.message
        assert caught.value.place == f"[[feature]] {len(things)}"


def test_heights_that_can_not_be_are_refused():
    for heights, ways, says in [
        ({"Z": RoomHeights()}, {}, 'room "Z"'),
        ({"A": RoomHeights(0.0)}, {}, "walls can't be 0 mm high. Use more than 0"),
        ({"A": RoomHeights(None, -1.0)}, {}, "a floor can't be at -1 mm. Use 0 for the lowest room"),
        (
            {"B": RoomHeights(None, 6.35)},
            {(1, 1, "east"): "saddle"},
            "a saddle needs floors of the same height on both sides, and these are 6.35 mm apart",
        ),
        (
            {"B": RoomHeights(None, 40.0)},
            {(1, 1, "east"): "doorway"},
            "one floor is 40 mm higher than the other, but the doorway is only 30.48 mm high",
        ),
    ]:
        with pytest.raises(InputError) as caught:
            furnished(["AB"], heights=heights, ways=ways)
        assert says in caught.value.message


def test_a_feature_over_two_floors_is_refused():
    with pytest.raises(InputError, match="they lie at 0 and 5 mm"):
        furnished(
            ["AB"], [feature("dais", (1, 1), (2, 1))], {"B": RoomHeights(None, 5.0)}, ways={(1, 1, "east"): "open"}
        )


def test_the_command_says_file_place_fault_and_cure_and_writes_nothing(tmp_path):
    path = tmp_path / "p.toml"
    path.write_text('name = "p"\ndrawing = """\nA\n"""\n[[feature]]\nkind = "pillar"\ncell = [2, 1]\n')
    done = call("build", path, "-o", tmp_path / "out")
    assert (done.returncode, done.stdout) == (2, "")
    for words in (
        "p.toml, [[feature]] 1 (pillar, cell [2, 1]): this square is outside",
        "1 column and 1 row. Count columns",
    ):
        assert words in done.stderr
    assert not (tmp_path / "out").exists()


def test_words_of_a_profile_that_are_wrong(tmp_path):
    for text, says in [
        ('[[feature]]\nkind = "pilar"', "pillar"),
        ('[[feature]]\nkind = "pit"\nheight = "2 mm"', "height does not go with a pit"),
        ('[[feature]]\nkind = "pillar"\ndepth = "2 mm"', "depth does not go with a pillar"),
        ('[[feature]]\nkind = "dais"\nsides = "north"', "side"),
    ]:
        with pytest.raises(InputError) as caught:
            profile(tmp_path, text)
        assert says in caught.value.message


def test_features_on_an_outline_are_refused(tmp_path):
    with pytest.raises(InputError, match="outline"):
        profile(tmp_path, '[[feature]]\nkind = "pillar"', 'name = "t"\n[tile]\noutline = [[0,0],[3,0],[3,3]]\n')


def test_words_that_do_not_go_together(tmp_path):
    for text, says in [
        ('kind = "pit"\nsteps = 2', "steps"),
        ('kind = "pit"\nside = "north"', "side does not go with a pit"),
        ('kind = "stair"', "a stair needs the key side"),
        ('kind = "dais"\nround = true', "round does not go with a dais"),
        ('kind = "dais"\nat = [1, 1]', "at is given without size"),
    ]:
        with pytest.raises(InputError, match=says):
            profile(tmp_path, "[[feature]]\n" + text)


def test_a_pit_leaves_no_room_for_connectors(tmp_path):
    with pytest.raises(InputError, match="a pit leaves no room in the base for keys"):
        profile(tmp_path, '[[feature]]\nkind = "pit"\n[connectors]\nkind = "keys"\n')
