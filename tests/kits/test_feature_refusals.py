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
        ([feature("pillar", (3, 1))], "solid ground"),
        ([feature("pillar", (5, 1))], "a column from 1 to 3"),
        ([feature("pillar", (1, 1), at=(0.2, 1.0))], "under a wall"),
        ([feature("pillar", (1, 1), at=(2.0, 1.0), size=(10.0, 10.0))], "beyond its cells"),
        ([feature("pillar", (1, 1), (2, 1), at=(2.0, 1.0))], "over the line between"),
        ([feature("dais", (1, 1), (2, 1), at=(1.4, 1.0), size=(40.0, 20.0))], "0.95 mm of it"),
        ([feature("pillar", (1, 1)), feature("dais", (1, 1))], "over the pillar"),
        ([feature("pillar", (1, 1), at=(0.41, 1.0))], "mm from a wall"),
        ([feature("pit", (1, 1), height=6.0)], "at most 5.15 mm"),
        ([feature("stair", (1, 1))], "without side"),
        ([feature("stair", (1, 1), side="north")], "without height"),
        ([feature("stair", (1, 1), side="north", height=20.0, steps=30)], "treads"),
        ([feature("dais", (1, 1), at=(1.0, 1.0))], "at without size"),
        ([feature("pillar", (1, 1), size=(10.0, 12.0), round=True)], "round pillar"),
        ([feature("dais", (1, 1), round=True)], "round only on pillar"),
        ([feature("pillar", (1, 1), height=-3.0)], "-3 mm high"),
        ([feature("pillar", (1, 1), size=(1.0, 5.0))], "at least 2 mm"),
        ([feature("dais", (2, 1), (1, 1))], "to the south and east"),
        ([feature("well", (1, 1), (2, 1), at=(2.0, 1.0))], "a well over the line between"),
        ([feature("well", (1, 1), size=(10.0, 10.0))], "a well 10 mm across with a rim 6.35 mm wide"),
        ([feature("well", (1, 1), rim_width=1.0)], "a rim and a hole of at least 2 mm each"),
        ([feature("well", (1, 1), size=(20.0, 21.0))], "a round well"),
        ([feature("well", (1, 1), height=6.0)], "a well 6 mm deep in a base"),
        ([feature("well", (1, 1), steps=2)], "steps only on stair. A well takes at, size, depth"),
    ]:
        named = [replace(t, wanted=replace(t.wanted, place=f"[[feature]] {n}")) for n, t in enumerate(things, 1)]
        with pytest.raises(InputError, match=r"found .* expected ") as caught:
            furnished(["AA."], named)
        assert says in caught.value.message
        assert caught.value.place == f"[[feature]] {len(things)}"


def test_heights_that_can_not_be_are_refused():
    for heights, ways, says in [
        ({"Z": RoomHeights()}, {}, 'room "Z"'),
        ({"A": RoomHeights(0.0)}, {}, "walls 0 mm high"),
        ({"A": RoomHeights(None, -1.0)}, {}, "above the lowest"),
        ({"B": RoomHeights(None, 6.35)}, {(1, 1, "east"): "saddle"}, "one floor on both sides"),
        ({"B": RoomHeights(None, 40.0)}, {(1, 1, "east"): "doorway"}, "no way would be left"),
    ]:
        with pytest.raises(InputError) as caught:
            furnished(["AB"], heights=heights, ways=ways)
        assert says in caught.value.message


def test_a_feature_over_two_floors_is_refused():
    with pytest.raises(InputError, match="0 and 5 mm under it"):
        furnished(
            ["AB"], [feature("dais", (1, 1), (2, 1))], {"B": RoomHeights(None, 5.0)}, ways={(1, 1, "east"): "open"}
        )


def test_the_command_says_file_place_found_expected_and_writes_nothing(tmp_path):
    path = tmp_path / "p.toml"
    path.write_text('name = "p"\ndrawing = """\nA\n"""\n[[feature]]\nkind = "pillar"\ncell = [2, 1]\n')
    done = call("build", path, "-o", tmp_path / "out")
    assert (done.returncode, done.stdout) == (2, "")
    for words in ("p.toml: [[feature]] 1 (pillar, cell [2, 1])", "found cell [2, 1]", "expected a column from 1 to 1"):
        assert words in done.stderr
    assert not (tmp_path / "out").exists()


def test_words_of_a_profile_that_are_wrong(tmp_path):
    for text, says in [
        ('[[feature]]\nkind = "pilar"', "pillar"),
        ('[[feature]]\nkind = "pit"\nheight = "2 mm"', "height on a pit"),
        ('[[feature]]\nkind = "pillar"\ndepth = "2 mm"', "depth on a pillar"),
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
        ('kind = "pit"\nside = "north"', "side on a pit"),
        ('kind = "stair"', "without side"),
        ('kind = "dais"\nround = true', "round on a dais"),
        ('kind = "dais"\nat = [1, 1]', "at without size"),
    ]:
        with pytest.raises(InputError, match=says):
            profile(tmp_path, "[[feature]]\n" + text)


def test_a_pit_leaves_no_room_for_connectors(tmp_path):
    with pytest.raises(InputError, match="a pit over a floor"):
        profile(tmp_path, '[[feature]]\nkind = "pit"\n[connectors]\nkind = "keys"\n')
