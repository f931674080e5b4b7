"""A saw list followed cut by cut: each fault in a list is found, and is found for what it is. Reckoned by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tilegen.sheets.nesting.guillotine import Leaf, Slab, Slice
from tilegen.sheets.replay import Replay, replay
from tilegen.sheets.saw import Fence, Offcut, SawLine, SawList, Start, saw_list

# A board of 100 x 60, 5 mm off two edges, kerf 1: two rips of 20 mm, 55 long, and from each a piece of 40 mm.
BOARD = Slab(
    0, (Slice(20.0, Slab(1, (Slice(40.0, Leaf(0, False)),))), Slice(20.0, Slab(1, (Slice(40.0, Leaf(0, False)),))))
)
WANTED = {"a": ((20.0, 40.0), 2)}
FENCE = Fence(1.0, 5.0, 0.0, 0.0, (10.0, 10.0))


def listed(fence: Fence = FENCE) -> SawList:
    return saw_list([Start("s-01", (100.0, 60.0), BOARD)], {0: ("a", (20.0, 40.0))}, fence)


NOTHING = SawLine("C9", 3, 9.0, 9.0, (), 0.0, 9.0)


def with_line(number: int, **changes: object) -> SawList:
    saw = listed()
    lines = list(saw.lines)
    lines[number] = replace(lines[number], **changes)  # type: ignore[arg-type]
    return replace(saw, lines=tuple(lines))


def with_step(number: int, **changes: object) -> SawList:
    (step,) = listed().lines[number].steps
    return with_line(number, steps=(step._replace(**changes),))  # type: ignore[arg-type]


def test_the_board_and_what_is_left_of_it() -> None:
    saw = listed()
    done = replay(saw, WANTED)
    assert [(line.setting, line.passes) for line in saw.lines] == [("R20", 2), ("C40", 2)]
    assert done.parts == {"a": [(20.0, 40.0)] * 2}
    # 95 - 2 x 21 beside the strips; 55 - 41 of each.
    assert done.rests == {"s-01": [(53.0, 55.0)], "S1": [(20.0, 14.0)] * 2}
    assert (done.stock, done.trims, done.kerf, done.passes) == (6000.0, 775.0, 150.0, 6)
    assert done.metres == pytest.approx((60 + 95 + 2 * 55 + 2 * 20) / 1000)
    assert done.balance == 0
    assert saw.offcuts == (Offcut("O1", "s-01", (53.0, 55.0), 1), Offcut("O2", "S1", (20.0, 14.0), 2))


def test_without_a_word_strips_are_cut_one_by_one() -> None:
    assert listed().at_one_go == listed().passes == 6
    assert listed(FENCE._replace(together=2)).at_one_go == 5


def test_stock_of_just_the_size_is_not_cut() -> None:
    """A board of 20 x 81 gives two pieces of 40 with the one cut between them: the second is what is left."""
    tree = Slab(1, (Slice(40.0, Leaf(0, False)), Slice(40.0, Leaf(0, False))))
    saw = saw_list([Start("b", (20.0, 81.0), tree)], {0: ("a", (20.0, 40.0))}, Fence(1.0, 0.0))
    done = replay(saw, WANTED)
    assert (done.passes, done.kerf, done.rests, done.trims) == (1, 20.0, {"b": []}, 0.0)
    # A scale without an error shows what is cut.
    assert [(line.size, line.fence) for line in saw.lines] == [(40.0, 40.0)]
    # A rest narrower than the cut goes into dust.
    saw = saw_list([Start("b", (20.0, 81.4), tree)], {0: ("a", (20.0, 40.0))}, Fence(1.0, 0.0))
    done = replay(saw, WANTED)
    assert (done.passes, done.rests) == (2, {"b": []})
    assert done.kerf == pytest.approx(20 * 1.4)


def test_what_a_cut_leaves_is_cut_the_other_way() -> None:
    """Of 95 x 55: a strip of 20 with its piece of 40; of the 74 x 55 beside it one of 25, the other way."""
    tree = Slab(0, (Slice(20.0, Slab(1, (Slice(40.0, Leaf(0, False)),))),), Slab(1, (Slice(25.0, Leaf(1, False)),)))
    sizes = {"a": (20.0, 40.0), "b": (74.0, 25.0)}
    saw = saw_list([Start("s-01", (100.0, 60.0), tree)], dict(enumerate(sizes.items())), FENCE)
    done = replay(saw, {name: (size, 1) for name, size in sizes.items()})
    assert done.parts == {name: [size] for name, size in sizes.items()}
    assert done.rests == {"s-01": [(74.0, 29.0)], "S1": [(20.0, 14.0)]}
    assert [(line.setting, line.metres) for line in saw.lines] == [
        ("R20", pytest.approx(0.055)),
        ("C40", pytest.approx(0.02)),
        ("C25", pytest.approx(0.074)),
    ]
    assert done.balance == 0


def test_what_a_fault_in_a_list_is_called() -> None:
    for saw, words in [
        (with_line(0, setting=""), "setting  cuts nothing or is set wrong"),
        (with_line(0, fence=20.1), "setting R20 cuts nothing or is set wrong"),
        (with_line(0, fence=19.9), "setting R20 cuts nothing or is set wrong"),
        (with_step(0, source="s-02"), "0 pieces of s-02, 1 listed"),
        (with_step(0, pieces=2), "1 pieces of s-01, 2 listed"),
        (with_step(0, passes=3), "setting R20: 2 passes, 3 listed"),
        (with_step(0, passes=1), "setting R20: 2 passes, 1 listed"),
        (with_step(0, outs=(("S1", 5),)), "s-01 is too small for 20.0 mm"),
        (with_line(1, size=55.5, fence=55.5), "S1 is too small for 55.5 mm"),
        (with_step(1, outs=(("b", 1),)), "0 pieces of a, 2 wanted"),
        (replace(listed(), sizes={"a": (20.0, 39.9)}), r"a comes out as \(20.0, 40.0\), the list says \(20.0, 39.9\)"),
        (replace(listed(), offcuts=(Offcut("O1", "s-01", (53.0, 55.0), 2),)), "offcut O1 is not there"),
        (replace(listed(), offcuts=(Offcut("O1", "s-01", (53.0, 54.0), 1),)), "offcut O1 is not there"),
        (replace(listed(), offcuts=(Offcut("O1", "nowhere", (53.0, 55.0), 1),)), "offcut O1 is not there"),
        (with_line(1, metres=0.05), "^metres of the whole list don't add up"),
        (replace(listed(), lines=(*listed().lines, NOTHING)), "setting C9 cuts nothing or is set wrong"),
    ]:
        with pytest.raises(ValueError, match=words):
            replay(saw, WANTED)


def test_stock_that_the_reference_cuts_use_up_can_not_be_cut() -> None:
    saw = replace(listed(), starts=(Start("s-01", (100.0, 5.0), BOARD),))
    with pytest.raises(ValueError, match=r"s-01 is too small for 20.0 mm"):
        replay(saw, WANTED)


def test_a_part_may_differ_by_the_tolerance_and_no_more() -> None:
    saw = listed()
    near = replace(saw, fence=saw.fence._replace(tolerance=0.3))
    for nominal, fits in (((20.3, 40.0), True), ((20.0, 39.7), True), ((40.3, 19.7), True), ((20.31, 40.0), False)):
        if fits:
            assert isinstance(replay(near, {"a": (nominal, 2)}), Replay)
        else:
            with pytest.raises(ValueError, match="wanted"):
                replay(near, {"a": (nominal, 2)})
    with pytest.raises(ValueError, match=r"comes out as \(20.0, 40.0\), wanted \(20.01, 40.0\)"):
        replay(saw, {"a": ((20.01, 40.0), 2)})


def test_the_scale_of_a_fence_that_is_off() -> None:
    """A fence that gives 0.4 mm less than its scale says is set 0.4 mm wider."""
    saw = listed(FENCE._replace(zero=-0.4))
    assert [round(line.fence, 9) for line in saw.lines] == [20.4, 40.4]
    assert replay(saw, WANTED).parts == {"a": [(20.0, 40.0)] * 2}
