"""Every edit that the page can send, at random: what comes back is right, equals what a fresh page would be told, keeps
all comments, and undo gives back every step to the byte."""

import random
import tomllib

import pytest

pytest.importorskip("starlette")

from tests.desk.test_desk_random import random_plan
from tilegen.desk.keeping import Steps
from tilegen.desk.taking import Takings
from tilegen.desk.talk import Asked, Desk, Plans, begin, edit, go, look, open_
from tilegen.errors import InputError
from tilegen.tiles.features import FEATURES

SIDES = ("north", "east", "south", "west")
LENGTHS = ("", "1 in", "20 mm", "9 in", "-1 mm", "junk")
ROOMS = ("A", "B", "C", "T", "A", "B")


def put(old, change):
    """What the page does with a change (see its link.js)."""
    if change is None:
        return old
    if "=" in change:
        return change["="]
    if "put" in change:
        rest = (old or [])[change["from"] + change["drop"] :]
        return [*(old or [])[: change["from"]], *change["put"], *rest]
    found = {key: value for key, value in (old or {}).items() if key not in change["-"]}
    return found | {key: put(found.get(key), one) for key, one in change["+"].items()}


class Page:
    """A page that draws, knows only what it is told, and never asks for the whole again."""

    def __init__(self, desk, seat):
        self.desk, self.seat, self.n, self.at, self.plan, self.tiles, self.have = desk, seat, 0, 0, {}, None, 0
        self.origin = (0, 0)
        self.take(begin(desk, Asked(seat=seat)))

    def ask(self, work, **more):
        self.n += 1
        answer = work(self.desk, Asked(seat=self.seat, at=self.at, n=self.n, **more))
        self.take(answer)
        return answer

    def take(self, answer):
        self.plan = answer["plan"] if answer["whole"] else put(self.plan, answer["plan"])
        self.at, self.origin = answer["at"], answer["origin"]
        self.fault = answer["fault"]
        if answer["fresh"]:
            self.tiles, self.have = None, 0

    def look(self):
        found = look(self.desk, Asked(seat=self.seat, at=self.at, have=self.have, figures=["1 in"]))
        if "tiles" in found:
            self.tiles = found["tiles"] if found["whole"] else put(self.tiles, found["tiles"])
            self.have = self.at
        return found

    @property
    def text(self):
        return self.desk.steps.text(self.at)


def form(choose, spot):
    size = choose.choice([0.5, 1.0, 1.5])
    x, y = spot
    return choose.choice(
        [
            {"circle": {"centre": [x, y], "radius": size}},
            {"hall": {"from": [x, y], "to": [x + 2, y + 1], "width": 0.5}},
            {"arc": {"centre": [x, y], "radius": 1.5, "width": 1.0, "from": choose.choice([0, 45]), "to": 180}},
            {"polygon": [[x, y], [x + 2, y], [x + size, y + 2, 0.2]]},
        ]
    )


def gesture(choose, plan):
    """What somebody might do next, sensible or not."""
    columns, count = len(plan["rows"][0]), len(plan["rows"])
    cell = [choose.randint(-1, columns + 2), choose.randint(-1, count + 2)]
    spot = [choose.randint(-2, 2 * columns + 4) / 2, choose.randint(-2, 2 * count + 4) / 2]
    other = [choose.randint(-2, 2 * columns + 4) / 2, choose.randint(-2, 2 * count + 4) / 2]
    by = [choose.randint(-3, 4), choose.randint(-3, 4)]
    side, room, index = choose.choice(SIDES), choose.choice(ROOMS), choose.randint(0, 3)
    block = [[x, y] for x in range(cell[0], cell[0] + choose.randint(1, 3)) for y in range(cell[1], cell[1] + 2)]
    kind = choose.choice(["open", "doorway", "saddle"])
    leaf, head = choose.choice([None, "sliding", "hinged", "lift-out"]), choose.choice([None, "flat", "round"])
    values = dict(choose.sample([("side", side), ("height", "0.2 in"), ("depth", "junk"), ("steps", 2)], 2))
    size = [choose.choice(["0.4 in", "9 in", "junk"])] if choose.random() < 0.3 else []
    stand = {"kind": choose.choice(list(FEATURES)), "cell": cell, "size": size, "values": values}
    length = choose.choice(LENGTHS)
    return choose.choice(
        [
            [{"do": "paint", "cells": block, "room": choose.choice("ABC.")}],
            [{"do": "paint", "cells": block, "room": "C"}, {"do": "paint", "cells": [[0, 0]], "room": "A"}],
            [{"do": "move", "room": room, "by": by}],
            [{"do": "move", "room": room, "by": [0.5, 0.25]}],
            [{"do": "copy", "room": room, "to": choose.choice("DEA"), "by": by}],
            [{"do": "turn", "room": room, "quarters": choose.choice([1, 2, 3, -1])}],
            [{"do": "mirror", "room": room, "axis": choose.choice("xy")}],
            [{"do": "resize", "room": room, "box": [*spot, choose.randint(1, 4), choose.randint(1, 4)]}],
            [{"do": "delete", "room": room}],
            [{"do": "title", "room": room, "title": choose.choice(["", 'The "hall"', "Été ☃"])}],
            [{"do": "height", "room": room, "value": length, "key": choose.choice(["floor", "wall"])}],
            [{"do": "room-style", "room": room, "style": choose.choice(["", "brick", "cave", "junk"])}],
            [{"do": "room-style", "room": room, "floor": choose.choice(["", "planks", "junk"])}],
            [{"do": "way", "cell": cell, "side": side, "kind": kind, "leaf": leaf, "head": head}],
            [{"do": "way", "cell": cell, "side": side, "kind": choose.choice([kind, None]), "width": length}],
            [{"do": "point-way", "room": room, "at": spot, "kind": "doorway"}],
            [{"do": "way-change", "index": index, "kind": kind, "leaf": leaf or "", "width": length}],
            [{"do": "way-slide", "index": index, "cell": cell, "side": side}],
            [{"do": "way-slide", "index": index, "at": spot}],
            [{"do": choose.choice(["way-away", "shape-away", "feature-away"]), "index": index}],
            [{"do": "wall", "cell": cell, "side": side, "stands": choose.random() < 0.7}],
            [{"do": "shape", "room": choose.choice("TA"), **form(choose, spot)}],
            [{"do": "shape-change", "index": index % 2, **form(choose, spot)}],
            [{"do": "feature", **stand}],
            [{"do": "feature", "kind": "pillar", "cell": cell, "at": [1, 1]}],
            [{"do": "feature-change", "index": index, "size": size, "values": {"height": length}}],
            [{"do": "feature-move", "index": index, "cell": cell}],
            [{"do": "feature-turn", "index": index}],
            [{"do": "name", "name": choose.choice(["Other", "\\", "x" * 200])}],
            [{"do": "scale", "scale": choose.choice(["5 ft", "10 ft"])}],
            [{"do": "measure", "key": choose.choice(["pitch", "wall_height", "doorway_width"]), "value": length}],
            [{"do": "choice", "key": "posts", "value": choose.choice(["fixed", "loose", "none"])}],
            [{"do": "surface", "key": "style", "value": choose.choice(["", "plain", "brick", "junk"])}],
            [{"do": "surface", "key": "floor", "value": choose.choice(["", "planks", "none"])}],
            [{"do": "connector", "kind": choose.choice([None, "pegs", "magnets"]), "values": {}}],
            [{"do": "hall", "from": spot, "to": other, "width": choose.choice([0.5, 1.0, 2.0])}],
        ]
    )


def session(seed, most):
    choose = random.Random(seed)
    page = Page(Desk(Takings(), Steps(), None, Plans()), "seat")
    text = random_plan(choose)
    page.ask(open_, open=text)
    assert page.text == text
    steps = [text]
    done = {}
    for number in range(1, most + 1):
        edits = gesture(choose, page.plan)
        before, right = page.text, page.fault is None
        answer = page.ask(edit, gestures=[{"gesture": number, "origin": page.origin, "edits": edits}])
        word = edits[0]["do"]
        if answer["refused"]:
            assert answer["refused"][0]["text"], edits
            assert page.text == before
            continue
        done[word] = done.get(word, 0) + 1
        assert page.fault is None or not right, (before, edits)
        told(page, before, edits)
        if page.text != before:
            steps.append(page.text)
    back_and_forth(page, steps)
    return done


def told(page, before, edits):
    """What the page has been told is what a fresh one would be told, and the file says it."""
    plan = page.desk.plans.of(page.text)
    assert page.plan == plan.written
    assert tomllib.loads(page.text) == plan.document.data, (before, edits)
    assert "# a comment" in page.text
    found = page.look()
    if plan.good:
        assert page.tiles == plan.tiles
        assert found["answers"]["totals"]["tiles"] == plan.kit.tiles
        assert sum(len(places) for places in plan.tiles["lie"].values()) % 3 == 0


def back_and_forth(page, steps):
    """Undo and redo, to the byte."""
    for text in steps[-2::-1]:
        page.ask(go, by=-1)
        assert page.text == text
    for text in steps[1:]:
        page.ask(go, by=1)
        assert page.text == text
        assert page.plan == page.desk.plans.of(text).written


@pytest.mark.parametrize("seed", range(3))
def test_random_edits(seed):
    assert session(seed, 20)


def test_an_edit_that_is_none_is_refused():
    page = Page(Desk(Takings(), Steps(), None, Plans()), "seat")
    for edits in (
        [{"do": "fly"}],
        [{"do": "way-slide", "index": 0}],
        [{"do": "paint", "cells": [[1.5, 1]], "room": "A"}],
    ):
        answer = page.ask(edit, gestures=[{"gesture": 1, "edits": edits}])
        assert "not known" in answer["refused"][0]["text"]
    with pytest.raises(InputError):
        page.ask(go, by=1)
