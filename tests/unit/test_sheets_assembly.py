"""How each type goes together: its parts where they stand, and the steps of gluing them in words."""

import re
from collections import Counter

import pytest
from pypdf import PdfReader

from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import layout_numbers
from tilegen.sheets.constructions import ConstructionChoice
from tilegen.sheets.make import make_sheets

KIT = make_kit(read_plan(find("lamp-cellars", "plans")))
THINGS = [(t.tile, t.count) for t in KIT.types] + [(p.piece, p.count) for p in KIT.pieces]
WAYS = {
    "foam": ConstructionChoice(),
    "greyboard": ConstructionChoice(),
    "foam-core": ConstructionChoice("grooved"),
    "card": ConstructionChoice("folded"),
}


@pytest.fixture(scope="module", params=list(WAYS))
def made(request):
    return make_sheets(THINGS, read_material(request.param), read_machine("hand-knife"), WAYS[request.param])


def named(words):
    """The numbers of parts, and how many of each: of "2 x W1 outside, W2A inside" or "B1, F as its core"."""
    for one in words.split(", "):
        times, number = re.match(r"(?:(\d+) x )?([A-Z]+\d*[A-Z]*)\b", one).groups()
        yield number, int(times or 1)


def test_the_steps_use_up_every_part(made):
    counts = Counter()
    for one in made.assemblies:
        # What a base or a loose piece is glued from stands behind a colon; what stands on a base begins its step.
        glued = [step.rpartition(": ")[2] for step in (one.steps[:1] if one.floor else one.steps) if ": " in step]
        for words in (*glued, *(part.words for part in one.parts if one.floor)):
            for number, times in named(words):
                counts[number] += times * one.count
    assert counts == {part.number: part.count for part in (*made.parts, *made.cores)}


def test_every_type_has_its_steps_in_order(made):
    """The base, then walls, then posts; and a step for each part that stands on the base, in the same order."""
    assert [(one.id, one.count) for one in made.assemblies] == [(thing.id, n) for thing, n in THINGS]
    for one in made.assemblies:
        if one.floor:
            assert one.steps[0].startswith("Base: ")
            steps = [step for step in one.steps[1:] if not step.startswith("Fill the gaps")]
            assert steps == list(one.steps[1 : 1 + len(one.parts)])
            assert all(step.startswith(part.words) for step, part in zip(steps, one.parts, strict=True))
            late = 0
            for number, part in enumerate(one.parts):
                named_there = set(re.findall(r"\b[WP]\d*[A-Z]?\b", one.steps[number + 1].removeprefix(part.words)))
                late += not named_there <= {other.number for other in one.parts[:number]}
                # A post comes before a wall only where that wall, or one before it, stands against a post.
                if part.role == "post" and any(other.role == "wall" for other in one.parts[number:]):
                    assert any(re.search(r"(to|against|and|between) P", step) for step in one.steps[number + 2 :])
            # Where walls stand against one another all round the tile, one has to be the first.
            assert late <= 1
        else:
            assert one.steps[0].startswith("Glue the two halves back to back")
            assert one.steps[-1].startswith("Try it dry")


def test_walls_that_others_stand_against_come_first_and_clockwise():
    made = make_sheets(THINGS, read_material("foam"), read_machine("hand-knife"))
    by_id = {one.id: one for one in made.assemblies}
    (end,) = (one for one in made.assemblies if one.name == "end")
    assert [step.partition(" ")[2] for step in end.steps[1:]] == [
        "left, edge to edge",
        "bottom, from the right edge to W2",
        "right, from the top edge to W4",
    ]
    # A wall along the edge, two in the floor that end against it, then posts.
    inner = by_id["JEU83LD"]
    assert [step.partition(" ")[2] for step in inner.steps[1:4]] == [
        "left, edge to edge",
        "25.25 mm from the bottom edge, its left end against W1",
        "25.25 mm from the top edge, its left end against W1",
    ]
    assert [part.role for part in inner.parts[3:]] == ["post"] * 4


def test_numbers_stand_on_what_they_number(made):
    """Each part's number is written in its foot, so feet lie on the base and apart from each other."""
    for one in made.assemblies:
        for part in one.parts:
            assert part.number in dict(named(part.words))
            assert one.outline.buffer(0.01).covers(part.foot)
        if one.floor:
            feet = [part.foot for part in one.parts]
            shared = [a.intersection(b).area for n, a in enumerate(feet) for b in feet[:n]]
            assert max(shared, default=0.0) < 0.01 * min((foot.area for foot in feet), default=1.0)


def test_the_pages_for_gluing_show_every_type(demonstration):
    """Its number in the layout, how many to make, its steps word for word."""
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    things = [(t.tile, t.count) for t in kit.types] + [(p.piece, p.count) for p in kit.pieces]
    made = make_sheets(things, read_material("foam"), read_machine("hand-knife"))
    pages = [page.extract_text() for page in PdfReader(demonstration.folder / "cut.pdf").pages]
    text = re.sub(r"\s+", "", "".join(pages).partition("Each picture is a tile from above")[2])
    numbers = layout_numbers(kit)
    for one in made.assemblies:
        assert numbers[one.id] in text
        assert f"make{one.count}" in text
        words = [step for step in one.steps if step != "Base: B" or len(one.steps) == 1]
        assert re.sub(r"\s+", "", "".join(f"{n}{step}" for n, step in enumerate(words, 1))) in text


def test_the_open_part_of_the_report_is_short(demonstration):
    """Enough to begin with: picture, totals, order of work, cautions, what to make; all else is folded away."""
    page = re.sub(r"<(style|details).*?</\1>", "", (demonstration.folder / "report.html").read_text(), flags=re.DOTALL)
    words = re.sub(r"<[^>]+>", " ", page)
    assert len(words.split()) <= 1325
    assert words.index("Order of work") < words.index("Before you begin") < words.index("Make these")
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    assert all(thing.tile.id not in words and thing.tile.name in words for thing in kit.types)
