"""How each type goes together: numbered steps, their parts and pictures."""

import io
import re
import xml.etree.ElementTree as ET

import pytest
from pypdf import PdfReader
from shapely.geometry import Point

from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_material
from tilegen.files.toml import find
from tilegen.pictures.report import assembly_svg
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import layout_numbers
from tilegen.sheets.constructions import ConstructionChoice
from tilegen.sheets.make import make_sheet_sets, make_sheets, sheet_files

KIT = make_kit(read_plan(find("lamp-cellars", "plans")))
THINGS = [(t.tile, t.count) for t in KIT.types] + [(p.piece, p.count) for p in KIT.pieces]
WAYS = {"foam": ConstructionChoice(), "foam-core": ConstructionChoice("grooved"), "card": ConstructionChoice("folded")}


@pytest.fixture(scope="module", params=list(WAYS))
def made(request):
    return make_sheets(THINGS, read_material(request.param), read_machine("hand-knife"), WAYS[request.param])


def counted(made, parts):
    """How many pieces of each part the steps of all tiles name."""
    counts = dict.fromkeys((part.id for part in parts), 0)
    numbers = {thing.id: n for thing, n in THINGS}
    for one in made.assemblies:
        for step in one.steps:
            for word in step.words.rpartition(": ")[2].split(", "):
                times, _, key = word.removesuffix(" as its core").rpartition(" x ")
                if key in counts:
                    counts[key] += int(times or 1) * numbers[one.id]
    return counts


def test_the_steps_use_up_every_part(made):
    every = (*made.parts, *made.cores)
    assert counted(made, every) == {part.id: part.count for part in every}


def test_every_type_has_its_steps_in_order(made):
    assert [one.id for one in made.assemblies] == [thing.id for thing, _ in THINGS]
    for one in made.assemblies:
        assert [step.number for step in one.steps] == list(range(1, len(one.steps) + 1))
        words = [step.words for step in one.steps]
        assert words[-2:] == ["seal, let dry, paint", f"write {one.id} under it"]
        assert words[0].startswith(("base", "glue the leaves"))
        walls = [n for n, text in enumerate(words) if text.startswith("wall")]
        posts = [n for n, text in enumerate(words) if text.startswith("post")]
        assert max(walls, default=0) <= min(posts, default=99)


def test_outer_walls_come_round_the_tile_and_inner_ones_long_to_short():
    made = make_sheets(THINGS, read_material("foam"), read_machine("hand-knife"))
    by_name = {one.name: one for one in made.assemblies}
    middle = by_name["end"]
    assert [s.words.split(" ")[1] for s in middle.steps if s.words.startswith("wall")] == ["east", "south", "west"]
    inner = next(one for one in made.assemblies if one.id == "JEU83LD")
    kinds = [step.words.split(":")[0] for step in inner.steps]
    assert kinds[1] == "wall west 1,2"
    assert {k.split(" ")[1] for k in kinds[2:4]} == {"north", "south"}


def test_numbers_stand_on_what_they_number(made):
    for one in made.assemblies:
        spots = [(step, spot) for step in one.steps for spot in step.spots]
        assert len({spot for _, spot in spots}) == len(spots)
        for step, spot in spots:
            on_wall = any(foot.distance(Point(spot)) < 1e-6 for foot in one.feet)
            assert on_wall == step.words.startswith(("wall", "post", "glue the leaves", "glue a foot"))
            assert one.outline.distance(Point(spot)) < 3


def test_pictures_carry_the_numbers(made):
    for one in made.assemblies[:4]:
        root = ET.fromstring(assembly_svg(one))
        texts = [element.text for element in root.iter() if element.tag.endswith("text")]
        assert sorted(texts) == sorted(str(step.number) for step in one.steps for _ in step.spots)


@pytest.fixture(scope="module")
def numbered():
    (made,) = make_sheet_sets(THINGS, read_material("foam"), read_machine("hand-knife"), numbers=layout_numbers(KIT))
    return made


def test_pages_of_the_pdf(numbered):
    for paper in ["A3"]:
        numbers, made = layout_numbers(KIT), numbered
        pages = PdfReader(io.BytesIO(sheet_files(made, paper=paper)["foam.pdf"])).pages
        text = " ".join(page.extract_text() for page in pages).replace("\n", " ")
        assert "How each tile goes together" in text
        for one in made.assemblies:
            assert f"write {numbers[one.id]} and {one.id} under it" in " ".join(text.split())
            assert one.id in text
        long = next(one for one in made.assemblies if one.name.startswith("three-quarter-mixed"))
        assert f"{numbers[long.id]} {long.name}" in " ".join(text.split())


def test_the_report_shows_them(demonstration):
    page = (demonstration.folder / "report.html").read_text()
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    assert page.count('<div class="card">') == len(kit.types) + len(kit.pieces)
    assert "How each tile goes together" in page


def test_the_open_part_of_the_report_is_short(demonstration):
    """Enough to begin with: picture, totals, order of work, cautions, what to make; all else is folded away."""
    page = re.sub(r"<(style|details).*?</\1>", "", (demonstration.folder / "report.html").read_text(), flags=re.DOTALL)
    words = re.sub(r"<[^>]+>", " ", page)
    assert len(words.split()) <= 1325
    assert words.index("Order of work") < words.index("Before you begin") < words.index("Make these")
    kit = make_kit(read_plan(find("bell-foundry", "plans")))
    assert all(thing.tile.id not in words and thing.tile.name in words for thing in kit.types)
