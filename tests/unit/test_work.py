"""How much work a kit is, before any of it is made: near to what the sheets say, and said with what takes less."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from math import fsum
from pathlib import Path
from random import Random

import pytest

from tests.calling import call
from tests.dungeons import STOCKS, dungeon
from tests.examples import toml
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_machine, read_stock
from tilegen.files.toml import find
from tilegen.making import work
from tilegen.making.asked import PlanPart, Tools
from tilegen.making.plan import build_plan, open_plan
from tilegen.making.things import list_stocks, things_of
from tilegen.making.work import work_messages
from tilegen.making.workshop import open_workshop
from tilegen.messages import Message
from tilegen.plans.kit import make_kit
from tilegen.sheets.make import make_sheet_sets, quick_minutes
from tilegen.sheets.parts import list_parts
from tilegen.tiles.loose import Things


@pytest.fixture(autouse=True)
def plain_nests(monkeypatch):
    """How close odd outlines can be packed is tested elsewhere, and takes long."""
    monkeypatch.setattr("tilegen.sheets.nesting.odd.can_nest_odd", lambda: False)


def shipped(plan: str) -> Things:
    return things_of(make_kit(read_plan(find(plan, "plans"))))


def ratio(things: Things, word: str, tool: str) -> float:
    """The estimate in parts of what the nested sheets say."""
    stock, machine = read_stock(word), read_machine(tool)
    quick = quick_minutes(list_parts(things, stock), stock, machine)
    return quick / fsum(made.minutes for made in make_sheet_sets(things, stock, machine))


@pytest.mark.parametrize(
    ("plan", "stock"),
    [
        ("bell-foundry", "foam"),
        ("bell-foundry", "greyboard"),
        ("lamp-cellars", "base = foam, walls = greyboard"),
        ("hill-shrine", "greyboard"),
    ],
)
def test_the_estimate_is_near_on_shipped_plans(plan, stock):
    assert 0.75 < ratio(shipped(plan), stock, "hand-knife") < 1.25


@pytest.mark.parametrize(("stock", "tool"), [("foam", "hot-wire"), ("mdf", "laser"), ("thin-card", "hand-knife")])
def test_the_estimate_is_near_with_other_tools(stock, tool):
    assert 0.75 < ratio(shipped("bell-foundry"), stock, tool) < 1.25


def test_the_estimate_is_near_on_random_plans(tmp_path):
    made = 0
    for seed in range(0, len(STOCKS), 2):
        path = tmp_path / "p.toml"
        path.write_text(toml(dungeon(Random(seed), small=True)))
        try:
            found = ratio(things_of(make_kit(read_plan(path))), *STOCKS[seed % len(STOCKS)])
        except InputError:
            continue
        made += 1
        assert 0.75 < found < 1.25, (seed, found)
    assert made > len(STOCKS) / 3


def said(plan: str, *materials: str, machine: str = "hand-knife") -> list[Message]:
    workshop = open_workshop(Tools(materials=materials, machine=machine))
    things, drawing = shipped(plan), read_plan(find(plan, "plans"))
    return list(work_messages(things, workshop, list_stocks(things, workshop), drawing))


def test_much_work_is_said_with_what_takes_less():
    (message,) = said("bell-foundry", "greyboard")
    parts, hours = map(int, re.match(r"(\d+) parts, about (\d+) hours of work by hand", message.text).groups())
    # The lists of the sheets: 654 strips and layers, 15 hours.
    assert (message.level, parts, hours) == ("decide", 654, 15)
    # What is offered takes what it says: measured once more, by nesting.
    offered = re.findall(r"about (\d+) hours? ([^;]*) \(--(material|machine) ([a-z-]+)\)", message.cure)
    assert ("material", "foam") in {(option, word) for _, _, option, word in offered}
    assert ("machine", "laser") in {(option, word) for _, _, option, word in offered}
    for about, _, option, word in offered:
        stock, tool = (word, "hand-knife") if option == "material" else ("greyboard", word)
        sets = make_sheet_sets(shipped("bell-foundry"), read_stock(stock), read_machine(tool))
        assert fsum(made.minutes for made in sets) / 60 == pytest.approx(int(about), rel=0.25)
        assert int(about) <= 0.7 * hours + 0.5


def test_little_work_is_not_worth_a_word():
    assert not said("lamp-cellars", "foam")
    assert not said("bell-foundry", "foam")


def test_thinner_stacks_are_offered_where_they_can_be_cut(monkeypatch):
    monkeypatch.setattr(work, "LONG_HOURS", 0.1)
    (message,) = said("lamp-cellars", "mdf", machine="laser")
    assert '(--thickness "6 mm")' in message.cure


def test_each_of_several_stocks_has_its_own(monkeypatch):
    monkeypatch.setattr(work, "LONG_HOURS", 0.1)
    found = said("lamp-cellars", "foam", "greyboard")
    assert [re.search(r"parts of (\w+),", message.text)[1] for message in found] == ["foam", "greyboard"]


def test_a_kit_from_several_materials_may_be_less_work_from_one(monkeypatch):
    monkeypatch.setattr(work, "LONG_HOURS", 0.1)
    (message,) = said("lamp-cellars", "base = foam, walls = greyboard, skin = thin-card")
    assert "(--material foam)" in message.cure


class _HeardError(Exception):
    """The build has said what this is about."""


def test_it_is_said_before_anything_is_made(monkeypatch):
    def heard(message: Message) -> None:
        raise _HeardError(message.words)

    def refused(*_: object, **__: object) -> None:
        raise AssertionError("made before it was said")

    monkeypatch.setattr("tilegen.making.plan.make_printed", refused)
    monkeypatch.setattr("tilegen.making.plan.make_cut", refused)
    workshop = open_workshop(Tools(materials=("greyboard",)))
    with pytest.raises(_HeardError, match="654 parts"):
        build_plan(open_plan(find("bell-foundry", "plans")), workshop, warn=heard)
    # Who prints cuts nothing.
    with pytest.raises(AssertionError, match="made before"):
        build_plan(
            open_plan(find("bell-foundry", "plans")), workshop, part=replace(PlanPart(), make="print"), warn=heard
        )


def test_a_person_reads_it_once_and_programs_in_the_messages(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(work, "LONG_HOURS", 0.001)
    words = ["build", "bell-foundry", "--make", "cut", "--only", "corner"]
    told = call(*words, "-o", tmp_path / "a").stderr
    assert told.count("of work by hand") == 1
    assert "of work by hand" not in call(*words, "-o", tmp_path / "b", "--quiet").stderr
    document = json.loads(call(*words, "-o", tmp_path / "c", "--json").stdout)
    (message,) = [m for m in document["messages"] if "of work by hand" in m["text"]]
    assert message["level"] == "decide"
    assert message["cure"]
    assert "of work by hand" in (tmp_path / "a" / "bell-foundry" / "report.html").read_text()
