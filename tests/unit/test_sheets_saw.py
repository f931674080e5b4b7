"""Edge-to-edge cutting: trees of cuts, saw lists, their replay, fences."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.guillotine import best_area
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.making.things import things_of
from tilegen.model.materials import OffcutStock, SheetStock
from tilegen.pictures.cut_pages import CutJob, cut_pages
from tilegen.plans.kit import make_kit
from tilegen.sheets.gauge import fence_zero_of
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.sheets.nesting.guillotine import Leaf, Recipe, Rect, Slab, Slice, cuts, fill, finished, laid, resized
from tilegen.sheets.nesting.layout import Placed, Rectangle, SheetArea, area_bound
from tilegen.sheets.nesting.rectangles import set_out
from tilegen.sheets.nesting.stocking import blanks_of
from tilegen.sheets.replay import Replay, replay
from tilegen.sheets.saw import (
    HEADER,
    Fence,
    Offcut,
    SawLine,
    SawList,
    SawStep,
    Start,
    fence_settings,
    saw_csv,
    saw_list,
)
from tilegen.sheets.sheetset import SheetSet

FOAM, WIRE, KNIFE = read_material("foam"), read_machine("hot-wire"), read_machine("hand-knife")
DATA = Path(__file__).parents[1] / "data" / "gcut.json"


# Optimal areas: G. Cintra, University of Sao Paulo, "Unconstrained two-dimensional guillotine cutting"; instances:
# J. E. Beasley, "Algorithms for unconstrained two-dimensional guillotine cutting", J. Oper. Res. Soc. 36 (1985).
def test_published_guillotine_optima() -> None:  # type: ignore[no-untyped-def]
    for turned in [False, True]:
        for case in json.loads(DATA.read_text())[:3]:
            found = best_area(case["sheet"], case["rectangles"], turned=turned)
            assert found == case["best_area_rotated" if turned else "best_area_fixed"]


# With as many of each rectangle as there can be, one sheet never holds more than the published optimum; and a tree is
# a guillotine pattern, so a better one would be a fault of the tree.
def test_one_sheet_stays_under_the_optimum() -> None:  # type: ignore[no-untyped-def]
    for turned, case in zip([False, True], json.loads(DATA.read_text()), strict=False):
        width, height = case["sheet"]
        items = [Rectangle(str(n), w, h, width * height // (w * h)) for n, (w, h) in enumerate(case["rectangles"])]
        outcome = set_out(items, SheetArea(width, height, 0, 0, may_turn=turned), 1, edge_to_edge=True)
        filled = sum(items[p.item].width * items[p.item].height for layout in outcome.layouts for p in layout)
        optimum = case["best_area_rotated" if turned else "best_area_fixed"]
        assert 0.8 * optimum < filled <= optimum + 1e-6


# Common practice, no source: worked with the formula n = floor((B - trims + k) / (b + k)).
def test_squares_of_a_board() -> None:
    # 11 x 24 squares of 50 on a board of 600 x 1250, and not one more.
    area = SheetArea(600, 1250, 5, 1)
    assert not any(set_out([Rectangle("square", 50, 50, 264)], area, 1, edge_to_edge=True).left)
    assert set_out([Rectangle("square", 50, 50, 265)], area, 1, edge_to_edge=True).left == (1,)


@pytest.fixture(autouse=True)
def plain_nests(monkeypatch):
    """How close odd outlines can be packed is tested elsewhere, and takes long."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)


def test_fence_zero_from_a_test_cut() -> None:
    zero = fence_zero_of([(20.0, 19.6), (50.0, 49.6)])
    assert zero == pytest.approx(-0.4)
    saw = sawn([Rectangle("a", 50, 20, 3)], Fence(1.0, 5.0, zero))
    assert {line.size: round(line.fence, 9) for line in saw.lines} == {50.0: 50.4, 20.0: 20.4}


def sawn(items: list[Rectangle], fence: Fence, size: tuple[float, float] = (600.0, 300.0)) -> SawList:
    area = SheetArea(*size, fence.trim, fence.kerf)
    outcome = set_out(items, area, edge_to_edge=True)
    starts = [Start(f"s-{n:02d}", size, tree) for n, tree in enumerate(outcome.trees, 1)]
    return saw_list(starts, {n: (i.name, (i.width, i.height)) for n, i in enumerate(items)}, fence)


def followed(saw: SawList, items: list[Rectangle]) -> Replay:
    return replay(saw, {i.name: ((i.width, i.height), i.number) for i in items})


def random_kit(seed: int) -> list[Rectangle]:
    random = np.random.default_rng(seed)
    sizes = random.choice([6.05, 12.4, 31.45, 38.1, 57.15, 63.0, 63.2, 95.0, 126.7], size=(random.integers(2, 12), 2))
    unique = list(dict.fromkeys((float(w), float(h)) for w, h in sizes))
    return [Rectangle(f"p{n}", w, h, int(random.integers(1, 60))) for n, (w, h) in enumerate(unique)]


@pytest.mark.parametrize("seed", range(2))
def test_every_saw_list_can_be_followed(seed: int) -> None:
    items = random_kit(seed)
    for kerf, trim, tolerance in ((1.0, 5.0, 0.0), (1.0, 5.0, 0.3), (0.0, 5.0, 0.0), (0.7, 0.0, 0.3)):
        fence = Fence(kerf, trim, -0.4, tolerance)
        saw = sawn(items, fence)
        done = followed(saw, items)
        assert abs(done.balance) < 1e-4
        # As many lines that set the fence as there are sizes to a stage, once near ones are cut on one setting.
        settings = {(line.stage, line.size) for line in saw.lines if line.setting}
        assert saw.settings == len(settings) == sum(bool(line.setting) for line in saw.lines)
        assert len({line.setting for line in saw.lines if line.setting}) == saw.settings
        near = sorted({line.size for line in saw.lines})
        assert all(b - a >= tolerance - 1e-9 for a, b in pairwise(near))
        assert saw.settings <= saw.without
        # Rips first, then cross-cuts; within each the widest first.
        order = [(line.stage, -line.size) for line in saw.lines]
        assert order == sorted(order)


def test_a_replay_worked_by_hand() -> None:
    """A board of 100 x 60, 5 mm trimmed off two edges, kerf 1: three rips of 55 mm, three cross-cuts of 20 mm."""
    items = [Rectangle("a", 50, 20, 2), Rectangle("b", 30, 20, 1)]
    saw = sawn(items, Fence(1.0, 5.0), (100.0, 60.0))
    done = followed(saw, items)
    assert (done.stock, done.trims) == (6000.0, 6000.0 - 95 * 55)
    assert done.kerf == pytest.approx(3 * 55 + 3 * 20)
    assert (done.passes, saw.passes) == (8, 8)
    assert done.metres == pytest.approx((60 + 95 + 3 * 55 + 3 * 20) / 1000) == saw.metres
    assert done.parts == {"a": [(20, 50), (20, 50)], "b": [(20, 30)]}
    # What is left: 95 - 3 x 21 beside the strips, 55 - 51 and 55 - 31 at their ends.
    assert done.rests == {"s-01": [(32, 55)], "S1": [(20, 4), (20, 4)], "S2": [(20, 24)]}
    assert done.balance == pytest.approx(0)
    assert [(line.setting, line.passes, line.pieces, line.shortest) for line in saw.lines] == [
        ("R20", 3, 3, 55.0), ("C50", 2, 2, 20.0), ("C30", 1, 1, 20.0),
    ]  # fmt: skip
    assert [line.metres for line in saw.lines] == pytest.approx([0.165, 0.04, 0.02])


def test_time_at_the_saw() -> None:
    """Ten seconds a pass and five a metre: rips one by one, cross-cuts on three strips at a time."""
    fence = Fence(1.0, 5.0, together=3, seconds=(10.0, 5.0))
    saw = sawn([Rectangle("a", 50, 20, 4)], fence, (100.0, 60.0))
    rips, crosses = saw.lines
    assert (rips.passes, rips.at_one_go(3), crosses.passes, crosses.at_one_go(3)) == (4, 4, 4, 2)
    assert rips.minutes(fence) == pytest.approx((4 * 10 + 4 * 0.055 * 5) / 60)
    assert crosses.minutes(fence) == pytest.approx((4 * 10 + 4 * 0.02 * 5) / 60 / 2)


# Common practice, no source: a sled under 80 mm or one and a half times the size, a push block under 10 mm.
def test_what_tips_or_bends_at_the_fence_is_said() -> None:
    for size, shortest, sled, block in [
        (20.0, 79.0, True, False),
        (20.0, 81.0, False, False),
        (100.0, 149.0, True, False),
        (100.0, 151.0, False, False),
        (9.9, 81.0, False, True),
        (10.0, 81.0, False, False),
    ]:
        notes = SawLine("R1", 1, size, size, (), 1.0, shortest).notes
        assert any("use a sled" in note and f"{shortest:.0f} mm" in note for note in notes) == sled
        assert any("push block" in note for note in notes) == block
        assert len(notes) == sled + block


def test_what_is_left_is_kept_from_the_least_size_on() -> None:
    """A part of 138 x 199 from a sheet of 199 x 199 and a cut of 1 leave 60 x 199."""
    for least, kept in [((60.0, 199.0), 1), ((60.5, 199.0), 0), ((60.0, 200.0), 0), ((199.0, 60.0), 1)]:
        saw = sawn([Rectangle("a", 138, 199, 1)], Fence(1.0, 0.0, least_offcut=least), (199.0, 199.0))
        assert [offcut.size for offcut in saw.offcuts] == [(60.0, 199.0)] * kept


def test_a_replay_finds_planted_faults() -> None:
    items = [Rectangle("a", 63.0, 38.1, 20), Rectangle("b", 6.0, 38.1, 7)]
    saw = sawn(items, Fence(1.0, 5.0))
    followed(saw, items)

    def planted(change: object) -> None:
        with pytest.raises(ValueError, match=r"piece|part|passes|small|areas|set|comes out|offcut"):
            followed(change, items)  # type: ignore[arg-type]

    first, *others = saw.lines
    step, *more = first.steps

    def with_first(line: SawLine) -> SawList:
        return replace(saw, lines=(line, *others))

    def with_step(changed: SawStep) -> SawList:
        return with_first(replace(first, steps=(changed, *more)))

    planted(replace(saw, lines=saw.lines[1:]))
    planted(replace(saw, lines=saw.lines[::-1]))
    planted(with_first(replace(first, size=first.size + 1.0, fence=first.fence + 1.0)))
    planted(with_first(replace(first, fence=first.fence + 0.1)))
    planted(with_step(step._replace(passes=step.passes + 1)))
    planted(with_step(step._replace(outs=tuple((name, n + 1) for name, n in step.outs))))
    planted(with_step(step._replace(axis=1 - step.axis)))
    planted(with_step(step._replace(source="nowhere")))
    planted(replace(saw, fence=saw.fence._replace(kerf=30.0)))
    planted(replace(saw, sizes={**saw.sizes, "a": (63.0, 38.0)}))
    planted(replace(saw, starts=tuple(s._replace(size=(s.size[0] + 1, s.size[1])) for s in saw.starts)))
    planted(replace(saw, offcuts=(*saw.offcuts, Offcut("gone", "s-01", (500.0, 200.0), 1))))
    with pytest.raises(ValueError, match="20 pieces of a, 21 wanted"):
        replay(saw, {"a": ((63.0, 38.1), 21), "b": ((6.0, 38.1), 7)})
    with pytest.raises(ValueError, match="comes out"):
        replay(saw, {"a": ((63.0, 38.2), 20), "b": ((6.0, 38.1), 7)})


# Common practice, no source: sizes less than 0.3 mm apart go on one setting.
def test_near_sizes_share_a_setting() -> None:
    assert fence_settings([63.2, 63.0, 62.8, 50.0], 0.3) == {50.0: 50.0, 62.8: 62.8, 63.0: 62.8, 63.2: 63.2}
    assert fence_settings([63.2, 63.0], 0.0) == {63.0: 63.0, 63.2: 63.2}
    items = [Rectangle("a", 63.2, 38.1, 8), Rectangle("b", 63.0, 38.1, 8)]
    plain, merged = sawn(items, Fence(1.0, 5.0)), sawn(items, Fence(1.0, 5.0, 0.0, 0.3))
    assert merged.settings == plain.settings - 1 == merged.without - 1
    assert merged.sizes == {"a": (63.0, 38.1), "b": (63.0, 38.1)}
    followed(merged, items)


@pytest.fixture(scope="module", params=["hot-wire", "hand-knife"])
def made(request: pytest.FixtureRequest) -> SheetSet:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    return make_sheets(things_of(kit), FOAM, read_machine(request.param))


def test_the_list_in_the_file_gives_every_part(made: SheetSet) -> None:
    saw = made.saw
    assert saw is not None
    rows = list(csv.DictReader(io.StringIO(sheet_files(made)["foam-saw.csv"].decode())))
    assert tuple(rows[0]) == HEADER
    out: Counter[str] = Counter()
    cuts = [row for row in rows if row["passes"] and row["setting"] != "reference"]
    for row in cuts:
        for words in row["out"].split(", "):
            number, _, name = words.rpartition(" x ")
            out[name] += int(number or 1)
    assert {p.number: out[p.number] for p in made.parts} == {p.number: p.count for p in made.parts}
    # Settings printed = distinct sizes of each stage; each is size - c0.
    assert len({row["setting"] for row in cuts}) == len(cuts) == saw.settings
    zero = made.machine.fence_zero
    assert all(float(row["fence_mm"]) == pytest.approx(float(row["expect_mm"]) - zero) for row in cuts)
    head = {row["setting"]: row["out"] for row in rows if not row["step"]}
    assert head["fence settings"] == str(saw.settings)
    assert int(head["passes"]) == sum(int(row["passes"] or 0) for row in rows if row["step"])
    # Doorways are no fence's work.
    assert [row["in"] for row in rows if row["setting"] == "by hand"] == [after.part for after in saw.after]


def test_the_list_is_printed(made: SheetSet) -> None:
    """A fence gets its settings, a knife and ruler the marks on each edge, from the edge on."""
    things = things_of(make_kit(read_plan(find("bell-foundry", "plans"))))
    job = CutJob("foundry", [made], things, {})
    texts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(cut_pages(job).pdf())).pages]
    fenced = made.machine.guide == "fence"
    head = "Saw list" if fenced else "Cut with knife and ruler"
    first = next(n for n, text in enumerate(texts) if head in text)
    last = next(n for n, text in enumerate(texts) if text.startswith("Glue"))
    words = " ".join(texts[first:last]).split()
    assert made.saw is not None
    if fenced:
        rows = {row["setting"]: row["fence_mm"] for row in csv.DictReader(io.StringIO(saw_csv(made.saw).decode()))}
        for line in made.saw.lines:
            assert f"{float(rows[line.setting]):g}" in words[words.index(line.setting) :][:2]
    else:
        # Every width of a strip, and every length of a part along it, is the first mark of some row.
        sizes = {part.number: made.saw.sizes[part.number] for part in made.parts}
        assert all(any(f"{side:.1f}" in words for side in size) for size in sizes.values())


def test_machines_that_follow_any_line_need_no_saw_list() -> None:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    made = make_sheets(things_of(kit)[:2], read_material("mdf"), read_machine("laser"))
    assert made.saw is None
    assert "mdf-saw.csv" not in sheet_files(made)


def test_parts_lie_one_kerf_apart_where_the_fence_cuts(made: SheetSet) -> None:
    # Not one sheet more than the area and one: the gaps are kerfs.
    items = [Rectangle(p.id, *p.size, p.count) for p in made.parts]
    area = SheetArea(600, 300, made.machine.margin, made.kerf)
    assert made.count <= area_bound(items, area) + 1


def test_offcuts_go_first_the_smallest_that_serves() -> None:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    offcuts = [
        OffcutStock(name="large", size=(400.0, 250.0)),
        OffcutStock(name="K2", size=(220.0, 90.0)),
        OffcutStock(name="scrap", size=(12.0, 12.0)),
    ]
    stock = FOAM.model_copy(update={"offcut": offcuts})
    made = make_sheets(things_of(kit), stock, KNIFE)
    assert [sheet.offcut for sheet in made.sheets][:2] == ["K2", "large"]
    assert made.sheets[0].drawing.size == (220.0, 90.0)
    assert "scrap" not in made.stock_words
    assert made.count <= 2 + make_sheets(things_of(kit), FOAM, KNIFE).count
    assert any("K2 as foam-01" in note.words for note in made.notes)


def test_the_cheaper_size_is_bought() -> None:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    sizes = {"sheet": SheetStock(size=(600.0, 300.0), price=9.0), "stock": [SheetStock(size=(300.0, 300.0), price=2.0)]}
    made = make_sheets(things_of(kit), FOAM.model_copy(update=sizes), KNIFE)
    assert {sheet.drawing.size for sheet in made.sheets} == {(300.0, 300.0)}
    dear = {**sizes, "stock": [SheetStock(size=(300.0, 300.0), price=8.0)]}
    made = make_sheets(things_of(kit), FOAM.model_copy(update=dear), KNIFE)
    assert made.sheets[0].drawing.size == (600.0, 300.0)


def test_when_one_size_runs_out_the_next_is_used() -> None:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    sizes = {"sheet": SheetStock(size=(600.0, 300.0), count=1), "stock": [SheetStock(size=(300.0, 300.0))]}
    made = make_sheets(things_of(kit), FOAM.model_copy(update=sizes), KNIFE)
    used = Counter(made.new_sheets)
    assert used[600.0, 300.0] <= 1
    assert used[300.0, 300.0] >= 1


# Derived: the pieces lie within the work area and within the sheet, and a part that the machine takes fits one of them.
@given(
    sheet=st.tuples(st.integers(20, 3000), st.integers(20, 3000)),
    area=st.tuples(st.integers(10, 1500), st.integers(10, 1500)),
    part=st.tuples(st.floats(0.01, 1), st.floats(0.01, 1)),
    grain=st.booleans(),
)
def test_a_sheet_is_cut_down_to_what_the_machine_takes(
    sheet: tuple[int, int], area: tuple[int, int], part: tuple[float, float], grain: bool
) -> None:
    stock = FOAM.model_copy(update={"sheet": SheetStock(size=sheet, count=2, price=6.0), "grain": grain})
    machine = KNIFE.model_copy(update={"work_area": area, "margin": 0.0})
    most = (min(area[0], sheet[0]), min(area[1], sheet[1]))
    wanted = (part[0] * most[0], part[1] * most[1])
    (piece,) = blanks_of(stock, machine, [wanted])
    ways = [area] if grain else [area, area[::-1]]
    assert any(piece.width <= w + 1e-6 and piece.height <= h + 1e-6 for w, h in ways)
    assert wanted[0] <= piece.width + 1e-6 or wanted[0] <= piece.height + 1e-6
    assert piece.width * piece.height * piece.pieces <= sheet[0] * sheet[1] * (1 + 1e-9)
    assert piece.bought == sheet
    assert piece.count == 2 * piece.pieces
    assert piece.price == pytest.approx(6.0 / piece.pieces)


def test_pieces_of_one_sheet_are_bought_as_one() -> None:
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    stock = FOAM.model_copy(update={"sheet": SheetStock(size=(600.0, 300.0), price=8.0)})
    made = make_sheets(things_of(kit), stock, WIRE.model_copy(update={"work_area": (310.0, 160.0)}))
    assert {sheet.drawing.size for sheet in made.sheets} == {(300.0, 150.0)}
    assert made.new_sheets == {(600.0, 300.0): -(-made.count // 4)}
    assert made.price == 8.0 * made.new_sheets[600.0, 300.0]
    assert made.stock_words.endswith("of 600 x 300 mm (each cut first into 4 pieces of 300 x 150 mm)")
    (said,) = [note.words for note in made.notes if "takes at most" in note.words]
    assert said.endswith("310 x 160 mm: first cut each sheet of 600 x 300 mm into 4 pieces of 300 x 150 mm.")


def test_a_tree_by_hand() -> None:
    """100 x 60, kerf 1: strips of 30 and 20 along x; from the first two parts of 30 x 25, from the second 20 x 58."""
    sizes = {0: (30.0, 25.0), 1: (20.0, 58.0)}
    part, tall = Leaf(0, turned=False), Leaf(1, turned=False)
    loose = Slab(0, (Slice(20.0, tall), Slice(30.0, Slab(1, (Slice(25.0, part), Slice(25.0, part))))))
    tree = finished(loose, (100.0, 60.0), 1.0, lambda leaf: sizes[leaf.item])
    # Wide strips first; a cut more where a strip is longer than its part.
    assert tree == Slab(
        0,
        (
            Slice(30.0, Slab(1, (Slice(25.0, part), Slice(25.0, part)))),
            Slice(20.0, Slab(1, (Slice(58.0, tall),))),
        ),
    )
    assert list(cuts(tree, (100.0, 60.0), 1.0)) == [
        (1, 30.0, 60.0), (2, 25.0, 30.0), (2, 25.0, 30.0), (1, 20.0, 60.0), (2, 58.0, 20.0),
    ]  # fmt: skip
    lying = list(laid(tree, Rect(0.0, 0.0, 100.0, 60.0), 1.0))
    assert [p for p in lying if isinstance(p, Placed)] == [
        Placed(0, 0.0, 0.0, False), Placed(0, 0.0, 26.0, False), Placed(1, 31.0, 0.0, False),
    ]  # fmt: skip
    # Left over: 60 - 52 at the end of the first strip, 60 - 59 at the second's, 100 - 52 beside both.
    rests = [p for p in lying if isinstance(p, Rect)]
    assert rests == [Rect(0.0, 52.0, 30.0, 8.0), Rect(31.0, 59.0, 20.0, 1.0), Rect(52.0, 0.0, 48.0, 60.0)]
    assert resized(tree, lambda size: size + 1) == Slab(
        0,
        (
            Slice(31.0, Slab(1, (Slice(26.0, part), Slice(26.0, part)))),
            Slice(21.0, Slab(1, (Slice(59.0, tall),))),
        ),
    )


def test_a_part_that_is_its_whole_strip_needs_no_cut() -> None:
    part = Leaf(0, turned=False)
    alone = Slab(1, (Slice(50.0, part),))
    assert finished(alone, (30.0, 50.0), 1.0, lambda _: (30.0, 50.0)) == part
    # Two cuts where it is smaller both ways, the one across y first.
    assert finished(part, (40.0, 60.0), 1.0, lambda _: (30.0, 50.0)) == Slab(
        1, (Slice(50.0, Slab(0, (Slice(30.0, part),))),)
    )
    with pytest.raises(ValueError, match="does not fit"):
        finished(part, (29.0, 60.0), 1.0, lambda _: (30.0, 50.0))
    kept = Slab(0, (Slice(30.0, part),), rest=part)
    tree = finished(kept, (61.0, 50.0), 1.0, lambda _: (30.0, 50.0))
    # What is left over is a part that comes out of the same cut.
    assert tree == Slab(0, (Slice(30.0, part), Slice(30.0, part)))
    assert list(laid(tree, Rect(0.0, 0.0, 61.0, 50.0), 1.0)) == [
        Placed(0, 0.0, 0.0, False),
        Placed(0, 31.0, 0.0, False),
    ]
    assert list(laid(None, Rect(0.0, 0.0, 61.0, 1e-9), 1.0)) == []
    # Two cuts of 1 mm take 2: what is left behind both is just the part, so nothing more is cut.
    two = Slab(0, (Slice(30.0, part), Slice(30.0, part)), rest=part)
    assert finished(two, (92.0, 50.0), 1.0, lambda _: (30.0, 50.0)) == Slab(0, (Slice(30.0, part),) * 3)
    assert finished(two, (93.0, 50.0), 1.0, lambda _: (30.0, 50.0)).rest == Slab(0, (Slice(30.0, part),))


def test_how_a_part_is_cut_off_and_which_rest_the_next_one_takes() -> None:
    """On 30 x 30 a part of 16 x 10: 14 are left beside it and 20 above; whole stays what its split says."""
    area = SheetArea(30.0, 30.0, 0.0, 0.0)
    upright, lying = Rect(16.0, 0.0, 14.0, 30.0), Rect(0.0, 10.0, 30.0, 20.0)
    for split, whole in {
        "short": lying, "long": upright, "more": lying, "less": upright, "rows": lying, "columns": upright,
    }.items():  # fmt: skip
        part = Rectangle("a", 16.0, 10.0, 1)
        (tree,), left = fill([part], area, Recipe(((0, 1),), ((False,),), "area", split))
        assert left == [0]
        rests = [rest for rest in laid(tree, Rect(0.0, 0.0, 30.0, 30.0), 0.0) if isinstance(rest, Rect)]
        assert max(rests, key=lambda rest: rest.width * rest.height) == whole, split
    # A square of 16 leaves 30 x 14 above and 14 x 16 beside: 13 x 14 fits the first with no rest in height.
    parts = [Rectangle("a", 16.0, 16.0, 1), Rectangle("b", 13.0, 14.0, 1)]
    for fit, place in {"short": (0.0, 16.0), "long": (16.0, 0.0), "area": (16.0, 0.0), "first": (16.0, 0.0)}.items():
        (tree,), _ = fill(parts, area, Recipe(((0, 1), (1, 1)), ((False,), (False,)), fit, "short"))
        (found,) = (p for p in laid(tree, Rect(0.0, 0.0, 30.0, 30.0), 0.0) if isinstance(p, Placed) and p.item == 1)
        assert (found.x, found.y) == place, fit
    # Parts that find no place on the sheets are counted.
    many = Rectangle("a", 16.0, 16.0, 3)
    trees, left = fill([many], area, Recipe(((0, 3),), ((False,),), "area", "short"), 2)
    assert (len(trees), left) == (2, [1])
