"""Every edit that the page can send, at random: what comes back is right, equals what a fresh page would be told, keeps
all comments, and undo gives back every step to the byte."""

import copy
import json
import math
import pickle
import random
import re
import sys
import tomllib
from collections import Counter

import pytest
import shapely

pytest.importorskip("starlette")

from tilegen.desk.document import document_of
from tilegen.desk.edits import apply_edits, read_edits
from tilegen.desk.keeping import Steps
from tilegen.desk.taking import Takings
from tilegen.desk.talk import Asked, Desk, Plans, begin, edit, go, look, open_
from tilegen.desk.view import _floor_in, grid_record
from tilegen.desk.words import on_page, place_on_page
from tilegen.errors import CellRef, InFile, InputError, KeyRef, Place, RoomRef, Said
from tilegen.files.tables import PlanFile
from tilegen.files.toml import check
from tilegen.tiles.features import FEATURES

SIDES = ("north", "east", "south", "west")
LENGTHS = ("", "1 in", "20 mm", "9 in", "-1 mm", "junk")
ROOMS = ("A", "B", "C", "T", "A", "B")


def toml(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value)


def random_plan(choose):
    """A plan that can be built, in one of the many ways in which people write TOML."""
    columns, count = choose.randint(1, 5), choose.randint(1, 4)
    rows = [[choose.choice("AB.") for _ in range(columns)] for _ in range(count)]
    rows[0][0] = "A"
    ways, walls, features = [], [], []
    for y in range(count):
        for x in range(columns):
            here, east = rows[y][x], rows[y][x + 1] if x + 1 < columns else "."
            if here != east and here != "." and choose.random() < 0.2:
                kinds = ["open", "doorway"] + ["saddle"] * (east != ".")
                ways.append({"cell": [x + 1, y + 1], "side": "east", "kind": choose.choice(kinds)})
            elif here == east != "." and choose.random() < 0.2:
                walls.append({"cell": [x + 1, y + 1], "side": "east"})
            if here != "." and choose.random() < 0.1:
                features.append({"kind": choose.choice(["pillar", "pit"]), "cell": [x + 1, y + 1]})
    head = ["# a comment", 'name = "Random"  # mine', 'drawing = """', *map("".join, rows), '"""']
    tables = []
    for name, found in (("way", ways), ("wall", walls), ("feature", features)):
        if found and choose.random() < 0.3:
            head.append(f"{name} = [\n  " + ",\n  ".join(map(toml, found)) + ",\n]")
        elif found:
            tables += [f"[[{name}]]\n" + "".join(f"{k} = {toml(v)}\n" for k, v in one.items()) for one in found]
    style = choose.randrange(4)
    if style == 1:
        head.append('rooms.A = "Hall"')
    else:
        tables += [[], [], ['[rooms]\nA = "Hall"\n'], ['[heights]\nA = { floor = "0.25 in" }\n']][style]
    if choose.random() < 0.3:
        tables.append('[grid]\npitch = "32 mm"  # of the table\n')
    choose.shuffle(tables)
    text = "\n".join([*head, *tables]) + choose.choice(["", "\n"])
    return text.replace("\n", "\r\n") if choose.random() < 0.2 else text


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
        self.desk, self.seat, self.n, self.at, self.plan = desk, seat, 0, 0, {}
        self.answers, self.tiles, self.known, self.have = {}, None, None, 0
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
            self.tiles, self.known, self.have = None, None, 0

    def look(self):
        found = look(self.desk, Asked(seat=self.seat, at=self.at, have=self.have, figures=["1 in"]))
        self.answers = found["answers"] if found["whole"] else put(self.answers, found["answers"])
        self.tiles = None
        if "tiles" in found:
            self.tiles = found["tiles"] if found["whole"] else put(self.known, found["tiles"])
        self.known, self.have = self.tiles, self.at if self.tiles else 0

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
    leaf, head = (
        choose.choice([None, "sliding", "hinged", "lift-out"]),
        choose.choice([None, "flat", "round", "pointed"]),
    )
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
            [
                {
                    "do": "way-change",
                    "index": index,
                    "kind": kind,
                    "leaf": leaf or "",
                    "head": head or "",
                    "width": length,
                }
            ],
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


def session(seed, most, each=100):
    """So many random edits in one tab, on another random plan after each so many; how many of each kind were done."""
    choose = random.Random(seed)
    page = Page(Desk(Takings(), Steps(), None, Plans()), "seat")
    steps, done = [], Counter()
    for number in range(1, most + 1):
        if number % each == 1:
            steps.append(random_plan(choose))
            page.ask(open_, open=steps[-1])
            assert page.text == steps[-1]
        edits = gesture(choose, page.plan)
        before, right = page.text, page.fault is None
        answer = page.ask(edit, gestures=[{"gesture": number, "origin": page.origin, "edits": edits}])
        word = edits[0]["do"]
        if answer["refused"]:
            assert answer["refused"][0]["text"], edits
            plain(answer["refused"][0])
            assert page.text == before
            continue
        done[word] += 1
        assert page.fault is None or not right, (before, edits)
        told(page, before, edits)
        if word == "paint":
            painted(edits, answer, page.text)
        if page.text != before:
            steps.append(page.text)
    back_and_forth(page, steps)
    return done


def told(page, before, edits):
    """What the page has been told is what a fresh one would be told, and the file says it."""
    plan = page.desk.plans.of(page.text)
    assert page.plan == plan.written
    assert tomllib.loads(page.text) == plan.document.data, (before, edits)
    untouched(before, page.text, edits)
    page.look()
    assert page.answers == plan.answers(["1 in"])
    for pin in page.answers["pins"]:
        plain(pin)
    if plan.good:
        assert page.tiles == plan.tiles
        assert page.answers["totals"]["tiles"] == plan.kit.tiles
        assert sum(len(places) for places in plan.tiles["lie"].values()) % 3 == 0


# Which parts of a plan an edit may change: those of rooms, all that is drawn and what is said of rooms.
OF_ROOMS = {"drawing", "way", "wall", "feature", "shape", "rooms", "heights", "surface"}
MAY_CHANGE = {
    **{do: {"way"} for do in ("way", "point-way", "way-change", "way-slide", "way-away")},
    **{do: {"feature"} for do in ("feature", "feature-change", "feature-move", "feature-turn", "feature-away")},
    "title": {"rooms"},
    "height": {"heights"},
    "room-style": {"surface"},
    "surface": {"surface"},
    "name": {"name"},
    "scale": {"scale"},
    "measure": {"grid", "doorway"},
    "choice": {"set"},
    "connector": {"connectors"},
}


def untouched(before, after, edits):
    """Nothing else of the file has changed: other keys say what they said, equal tables are written as they were."""
    old, new = document_of(before), document_of(after)
    may = set().union(*(MAY_CHANGE.get(edit["do"], OF_ROOMS) for edit in edits))
    assert [k for k in old.data.keys() | new.data.keys() if k not in may and old.data.get(k) != new.data.get(k)] == []
    comments = [re.findall("#.*", document.before + document.after) for document in (old, new)]
    assert comments[0] == comments[1]
    said = [Counter((block.path, json.dumps(block.data)) for block in document.blocks) for document in (old, new)]
    written = [
        Counter((block.path, json.dumps(block.data), block.text.strip()) for block in document.blocks)
        for document in (old, new)
    ]
    for (path, data, text), count in written[0].items():
        assert said[0][path, data] != said[1][path, data] or written[1][path, data, text] == count, text


# Brackets, quoted letters, keys with their values, keys of two words, options of commands, squares by another name.
OF_FILES = re.compile(r'\[|\]|[Rr]ooms? "| = |[a-z]_[a-z]|--[a-z]|\bcells?\b')


def plain(said):
    """What the page shows says nothing of the file."""
    words = " ".join(said[key] for key in ("text", "cure", "place") if key in said)
    assert not OF_FILES.search(words), words


def letters(text):
    return ["".join(row.split()) for row in tomllib.loads(text)["drawing"].splitlines() if row.strip()]


def painted(edits, answer, text):
    """Every square is what it was made, wherever it lies: none is lost at the sheet's edge."""
    (west, north), rows = answer["grown"], letters(text)
    last = {tuple(cell): edit["room"] for edit in edits for cell in edit["cells"]}
    for (c, r), room in last.items():
        x, y = c + west - 1, r + north - 1
        if room != "." or (0 <= x < len(rows[0]) and 0 <= y < len(rows)):
            assert rows[y][x] == room


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


THREE = """name = "Three"
drawing = \"\"\"
A A B B
A A B B
C C C C
\"\"\"
[[way]]
cell = [2, 1]
side = "east"
kind = "doorway"
[[way]]
cell = [1, 2]
side = "south"
kind = "doorway"
[[way]]
cell = [1, 1]
side = "north"
kind = "doorway"
"""


def opened(text):
    page = Page(Desk(Takings(), Steps(), None, Plans()), "seat")
    page.ask(open_, open=text)
    return page


def made(page, *edits):
    page.n += 1
    answer = page.ask(edit, gestures=[{"gesture": page.n, "origin": page.origin, "edits": list(edits)}])
    assert not answer["refused"], answer["refused"]
    return answer["said"]


def fits(page, *words):
    return look(page.desk, Asked(seat=page.seat, at=page.at, figures=list(words)))["answers"]["fit"]


@pytest.mark.parametrize("base", ["1 in", "1.5 in", "2 in"])
def test_ways_that_stop_a_figure_are_widened_in_one_click(base):
    page = opened(THREE)
    (before,) = fits(page, base)
    wide = base != "1 in"
    assert [stop["index"] for stop in before["stops"]] == ([0, 1, 2] if wide else [])
    assert (before["rooms"], before["rooms_reached"]) == (3, 0 if wide else 3)
    made(page, *({"do": "way-change", "index": stop["index"], **stop["widen"]} for stop in before["stops"]))
    (after,) = fits(page, base)
    assert (after["rooms_reached"], after["stops"]) == (3, [])


def test_what_is_to_be_decided_is_mended_in_one_click():
    page = opened('name = "Two"\ndrawing = "AB"\n')
    (pin,) = look(page.desk, Asked(seat="seat", at=page.at))["answers"]["pins"]
    assert (pin["x"], pin["y"], pin["level"]) == (1.0, 0.5, "decide")
    made(page, *pin["edits"])
    assert not look(page.desk, Asked(seat="seat", at=page.at))["answers"]["pins"]


def test_what_can_not_be_built_is_named_where_it_is_and_taken_away_in_one_click():
    wrong = '[[feature]]\nkind = "stair"\ncell = [2, 1]\nside = "north"\n'
    page = opened(f'name = "One"\ndrawing = "AA"\n{wrong}')
    found = look(page.desk, Asked(seat="seat", at=page.at))
    (pin,) = found["answers"]["pins"]
    assert "tiles" not in found
    assert (pin["x"], pin["y"], pin["level"]) == (1.5, 0.5, "stop")
    assert "height" in pin["cure"]
    made(page, *pin["edits"])
    assert page.fault is None


def test_a_room_moves_with_its_doors_and_leaves_none_that_lead_nowhere():
    page = opened(THREE)
    assert made(page, {"do": "move", "room": "C", "by": [0, 1]}) == ["1 way removed."]
    assert [(way["cell"], way["side"]) for way in page.plan["ways"]] == [([2, 1], "east"), ([1, 1], "north")]
    made(page, {"do": "move", "room": "B", "by": [0, -2]})
    assert page.plan["rows"] == ["..BB", "..BB", "AA..", "AA..", "....", "CCCC"]
    assert [(way["cell"], way["side"]) for way in page.plan["ways"]] == [([1, 3], "north")]
    answer = page.ask(edit, gestures=[{"gesture": 9, "origin": page.origin, "edits": [MOVE_ONTO]}])
    assert answer["refused"][0]["text"] == "Room A is there"


MOVE_ONTO = {"do": "move", "room": "C", "by": [0, -2]}


def test_a_room_that_is_deleted_takes_its_doors_with_it_and_says_how_many():
    page = opened(THREE)
    assert made(page, {"do": "delete", "room": "A"}) == ["Room A deleted with 3 doors."]
    assert page.plan["rows"] == ["..BB", "..BB", "CCCC"]
    assert not page.plan["ways"]


def test_a_door_between_two_rooms_goes_with_the_last_square_beside_it():
    page = opened(THREE)
    assert made(page, {"do": "paint", "cells": [[3, 1], [3, 2]], "room": "."}) == ["1 way removed."]
    assert [(way["cell"], way["side"]) for way in page.plan["ways"]] == [([1, 2], "south"), ([1, 1], "north")]


def test_a_hall_is_cut_off_at_the_walls_and_opened():
    page = opened('name = "Two"\ndrawing = """\nAA..BB\nAA..BB\n"""\n')
    made(page, {"do": "hall", "from": [1.4, 0.6], "to": [4.8, 0.5], "width": 1.0})
    assert page.plan["rows"] == ["AACCBB", "AA..BB"]
    assert [(way["cell"], way["side"], way["kind"]) for way in page.plan["ways"]] == [
        ([3, 1], "west", "open"),
        ([4, 1], "east", "open"),
    ]


@pytest.mark.parametrize("back", [False, True])
def test_a_slanting_hall_leads_into_a_round_room(back):
    page = opened('name = "Round"\ndrawing = """\nAAAA......\nAAAA......\nAAAA......\n' + "..........\n" * 4 + '"""\n')
    made(page, {"do": "shape", "room": "E", "circle": {"centre": [8, 4.5], "radius": 1.5}})
    ends = [[2.5, 1], [8, 4.5]]
    made(page, {"do": "hall", "from": ends[back], "to": ends[not back], "width": 1.0})
    assert [shape["room"] for shape in page.plan["shapes"]] == ["E", "E"]
    assert [way["kind"] for way in page.plan["ways"]] == ["open"]


def test_what_all_doorways_of_a_plan_are_is_not_written_again_and_the_rest_is():
    plan = 'name = "T"\ndrawing = """\nAB\n"""\n[door]\nleaf = "sliding"\n[doorway]\nhead = "pointed"\n'
    way = {"do": "way", "cell": [1, 1], "side": "east", "kind": "doorway"}

    def written(**keys):
        return tomllib.loads(apply_edits(plan, read_edits([way, {"do": "way-change", "index": 0, **keys}])).text)[
            "way"
        ][0]

    assert written(leaf="sliding", head="pointed").keys() == {"cell", "side", "kind"}
    assert written(leaf="none")["leaf"] == "none"
    assert written(head="flat")["head"] == "flat"
    assert (
        tomllib.loads(apply_edits(plan, read_edits([way | {"head": "flat", "leaf": "none"}])).text)["way"][0]["head"]
        == "flat"
    )


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


@pytest.mark.parametrize("end", [[7.5, 5.5], [2, 7.5], [7, 2.1]])
def test_a_straight_hall_from_a_round_room_is_a_part_of_it(end):
    rows = "\n".join(["." * 10] * 4 + ["......BBB."] * 3 + [".BBB......"])
    circle = '[[shape]]\nroom = "T"\ncircle = { centre = [2, 2], radius = 1.5 }\n'
    page = opened(f'name = "Tower"\ndrawing = """\n{rows}\n"""\n{circle}')
    made(page, {"do": "hall", "from": [2, 2], "to": end, "width": 1.0, "room": "H"})
    assert [shape["room"] for shape in page.plan["shapes"]] == ["T", "T"]
    assert page.plan["ways"] or end == [7, 2.1]


def test_a_way_written_from_solid_ground_slides_to_a_point_of_its_room():
    ground = '[[way]]\ncell = [2, 1]\nside = "west"\nkind = "doorway"\n'
    page = opened(f'name = "One"\ndrawing = """\nA.\nA.\n"""\n{ground}')
    made(page, {"do": "way-slide", "index": 0, "at": [1, 1.5]})
    assert [(way["room"], way["at"]) for way in page.plan["ways"]] == [("A", [1, 1.5])]


TITLED = {"W": {"title": ""}, "A": {"title": "The [old] {hall}"}}


@pytest.mark.parametrize(
    ("said", "in_file", "on_map"),
    [
        (
            Said("{}the shape lies over {}", InFile("at [9.5, 10] "), Said("the shape of {}", RoomRef("A"))),
            'at [9.5, 10] the shape lies over the shape of room "A"',
            "the shape lies over the shape of The [old] {hall}",
        ),
        (
            Said("No way leads to {}, {}{}.", RoomRef("A", "{x}"), RoomRef("W"), InFile(", at cell [1, 2]")),
            'No way leads to room "A" ({x}), room "W", at cell [1, 2].',
            "No way leads to The [old] {hall}, Room W.",
        ),
        (
            Said("{} is solid ground", CellRef(3, 4)),
            "cell [3, 4] is solid ground",
            "the square in column 3, row 4 is solid ground",
        ),
        (
            Said("Use {} or {}, or {}", KeyRef("kind", "doorway"), KeyRef("leaf", "none"), KeyRef("leaf", "sliding")),
            'Use kind = "doorway" or leaf = "none", or leaf = "sliding"',
            "Use a doorway or no leaf, or a sliding leaf",
        ),
        (
            Said("Use a deeper base, or {}", KeyRef("posts", "fixed", "set")),
            'Use a deeper base, or posts = "fixed" under [set]',
            "Use a deeper base, or posts that are part of the tile",
        ),
        (
            Said("{} is on the same line", Place("[[way]] 2 (cell [1, 1], east)", table="way", number=2)),
            "[[way]] 2 (cell [1, 1], east) is on the same line",
            "another way is on the same line",
        ),
    ],
)
def test_what_is_said_of_a_plan_names_things_as_the_map_does(said, in_file, on_map):
    assert str(said) == in_file
    assert on_page(said, TITLED) == on_map
    assert on_page(pickle.loads(pickle.dumps(said)), TITLED) == on_map
    assert on_page(copy.deepcopy(InputError(said)).text, TITLED) == on_map


def test_places_in_a_file_are_named_as_the_page_names_them():
    found = []
    wrong = [("heights", {"A": {"floor": "junk"}}), ("grid", {"pitch": "junk"}), ("doorway", {"width": "junk"})]
    for table, values in wrong:
        with pytest.raises(InputError) as caught:
            check({"name": "-", "drawing": "A", table: values}, PlanFile, "")
        found.append(place_on_page(caught.value.place, TITLED))
    assert found == ["The [old] {hall}", "one space", "doorway width"]
    assert place_on_page("line 3", TITLED) == ""


def test_a_pin_of_a_room_without_squares_stands_on_its_floor():
    ground = "\n".join(["." * 8] * 8)
    shapes = "circle = { centre = [2.5, 2.5], radius = 1.9 }", "polygon = [[5, 1], [8, 8], [5.5, 7.5]]"
    tables = [f'[[shape]]\nroom = "{letter}"\n{form}\n' for letter, form in zip("TU", shapes, strict=True)]
    way = '[[way]]\nroom = "T"\nat = [2.5, 0.6]\nkind = "doorway"\n'
    page = opened(f'name = "Two"\ndrawing = """\n{ground}\n"""\n{"".join(tables)}{way}')
    plan = page.desk.plans.of(page.text)
    (pin,) = [pin for pin in plan.answers([])["pins"] if "No way leads" in pin["text"]]
    assert pin["text"] == "No way leads to Room U."
    shape = shapely.Polygon([(5, 1), (8, 8), (5.5, 7.5)])
    assert pin["ghost"] or shape.contains(shapely.Point(pin["x"], pin["y"]))
    for column, row in ((6, 2), (5, 2), (8, 8), (1, 1), (2, 1)):
        spot = _floor_in(column, row, plan.written)
        circle = shapely.Point(2.5, 2.5).buffer(1.9)
        cell = shapely.box(column - 1, row - 1, column, row)
        if (shape | circle).intersection(cell).area > 0.01:
            assert (shape | circle).contains(shapely.Point(spot["x"], spot["y"])), (column, row)


@pytest.mark.parametrize("seed", range(2))
def test_a_slanting_hall_that_meets_a_wall_near_a_corner_opens_where_there_is_room_or_says_what_to_do(seed):
    choose = random.Random(seed)
    rows = "\n".join(["AAA" + "." * 9] * 3 + ["." * 12] * 6 + ["." * 8 + "BBBB"] * 3)
    drawn = 0
    for _ in range(12):
        page = opened(f'name = "Two"\ndrawing = """\n{rows}\n"""\n')
        near = [choose.choice([2.9, 2.97, 2.5]), choose.choice([2.95, 1.2, 2.6])]
        far = [choose.choice([8.1, 8.03, 9.7]), choose.choice([9.1, 9.5, 10.8])]
        hall = {"do": "hall", "from": near, "to": far, "width": choose.choice([0.5, 1.0, 1.5])}
        answer = page.ask(edit, gestures=[{"gesture": 1, "origin": page.origin, "edits": [hall]}])
        for refused in answer["refused"]:
            assert "at a corner" in refused["text"], (hall, refused)
            assert refused["cure"] == "End the hall further along the wall"
        drawn += not answer["refused"]
    assert drawn


def test_a_grid_for_some_figures_is_found_and_taken_with_one_click():
    page = opened(THREE)
    assert page.desk.plans.of(page.text).drawing.grid.pitch == 31.75
    wanted = ["1 in", "1.4 in", "a cat"]
    found = grid_record(page.desk.plans.of(page.text).drawing, wanted, "in")
    # A base of 1.4 in is one space wide, and one wall of 1/4 in may stand beside it.
    assert (found["pitch"], found["tile"], found["larger"], found["same"]) == ("1.65 in", "3.3 in", True, False)
    assert not [words for words in found["cannot"] if "pitch" in words or " mm" in words]
    made(page, *found["edits"])
    assert math.isclose(page.desk.plans.of(page.text).drawing.grid.pitch, 1.65 * 25.4)
    again = grid_record(page.desk.plans.of(page.text).drawing, wanted, "in")
    assert (again["larger"], again["same"]) == (False, True)
    metric = grid_record(page.desk.plans.of(page.text).drawing, ["33.333 mm"], "mm")
    assert (metric["pitch"], metric["larger"]) == ("39.69 mm", False)
    with pytest.raises(InputError, match="no figure"):
        grid_record(page.desk.plans.of(page.text).drawing, ["a cat"], "mm")


def test_rooms_that_are_too_narrow_for_a_figure_are_named():
    rows = "\n".join(["AAAA.BBBB", "AAAACBBBB", "AAAA.BBBB", "AAAA.BBBB"])
    ways = [([5, 2], "west", "open"), ([5, 2], "east", "open"), ([1, 1], "north", "open")]
    tables = "".join(f'[[way]]\ncell = {cell}\nside = "{side}"\nkind = "{kind}"\n' for cell, side, kind in ways)
    page = opened(f'name = "Neck"\nscale = "5 ft"\ndrawing = """\n{rows}\n"""\n{tables}')
    small, large = fits(page, "0.7 in", "1.2 in")
    assert (small["rooms_reached"], small["stops"]) == (3, [])
    (stop,) = [stop for stop in large["stops"] if stop["what"] == "room"]
    # One space of 1.25 in less two walls of 1/4 in.
    assert (stop["between"], stop["width_mm"], stop["x"], stop["y"]) == (["C"], 19.05, 4.5, 1.5)
    assert stop["index"] is None
    assert stop["widen"] is None


NECK = "\n".join(["AAAA...AAAA", "AAAAAAAAAAA", "AAAA...AAAA", "AAAA...AAAA"])


@pytest.mark.parametrize(
    ("scale", "fitting", "stopped", "clear"), [("5 ft", "0.7 in", "1 in", 19.05), ("10 ft", "2 in", "2.2 in", 50.8)]
)
def test_a_narrow_place_within_a_room_is_named_where_it_is(scale, fitting, stopped, clear):
    page = opened(f'name = "Neck"\nscale = "{scale}"\ndrawing = """\n{NECK}\n"""\n')
    small, large = fits(page, fitting, stopped)
    assert small["stops"] == []
    # One square less a wall of 1/4 in on both sides.
    (stop,) = large["stops"]
    assert (stop["what"], stop["between"], stop["width_mm"], stop["y"]) == ("neck", ["A"], clear, 1.5)
    assert 4 < stop["x"] < 7
    assert (large["rooms_reached"], large["from"]) == (1, "A")
    # In a room that it does not get into too.
    rows = "\n".join([NECK, "BBBBBBBBBBB", "BBBBBBBBBBB", "BBBBBBBBBBB"])
    page = opened(f'name = "Neck"\nscale = "{scale}"\ndrawing = """\n{rows}\n"""\n')
    (large,) = fits(page, stopped)
    assert [stop["what"] for stop in large["stops"]] == ["neck"]
    assert (large["rooms_reached"], large["from"]) == (1, "B")


def test_each_narrow_place_on_the_way_through_a_room_is_named():
    rows = "\n".join(["AAA.AAA.AAA", "AAAAAAAAAAA", "AAA.AAA.AAA"])
    page = opened(f'name = "Necks"\nscale = "10 ft"\ndrawing = """\n{rows}\n"""\n')
    (found,) = fits(page, "3 in")
    assert sorted((stop["what"], stop["x"], stop["y"]) for stop in found["stops"]) == [
        ("neck", 3.5, 1.5),
        ("neck", 7.5, 1.5),
    ]


if __name__ == "__main__":
    made = session(int(sys.argv[2]) if sys.argv[2:] else 0, int(sys.argv[1]))
    print(f"{sys.argv[1]} edits, {made.total()} done: {dict(made)}")
