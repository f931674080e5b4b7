"""Random gestures over random plans: each gives a plan that can be built or a refusal in words, and undo gives back
every step to the byte."""

import json
import random
import tomllib

import pytest

pytest.importorskip("starlette")
pytest.importorskip("httpx")

from starlette.testclient import TestClient

from tilegen.desk.app import make_app
from tilegen.desk.view import open_text
from tilegen.tiles.features import FEATURES

PORT = 8317
ORIGIN = f"http://127.0.0.1:{PORT}"
SIDES = ("north", "east", "south", "west")
LENGTHS = ("", "", "1 in", "20 mm", "9 in", "-1 mm", "junk")


@pytest.fixture(scope="module")
def client():
    with TestClient(make_app(PORT), base_url=ORIGIN) as found:
        found.headers["origin"] = ORIGIN
        yield found


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


def gesture(choose, view):
    """What somebody might do next, sensible or not."""
    columns, count = len(view["rows"][0]), len(view["rows"])
    c, r = choose.randint(-1, columns + 2), choose.randint(-1, count + 2)
    cell = [c, r] if choose.random() < 0.2 else [choose.randint(1, columns), choose.randint(1, count)]
    spot = [choose.randint(-2, 2 * columns + 2) / 2, choose.randint(-2, 2 * count + 2) / 2]
    block = [[x, y] for x in range(c, c + choose.randint(1, 3)) for y in range(r, r + choose.randint(1, 3))]
    paint = {"do": "paint", "cells": block, "room": choose.choice("ABC.")}
    size = [choose.choice(["0.4 in", "9 in", "junk"])] if choose.random() < 0.3 else []
    stand = {"kind": choose.choice(list(FEATURES)), "cell": cell}
    said = choose.sample([("side", choose.choice(SIDES)), ("height", "0.2 in"), ("depth", "junk"), ("steps", 2)], 2)
    way = {"cell": cell, "side": choose.choice(SIDES), "kind": choose.choice(["open", "doorway", "saddle", None])}
    shapes = [
        {"circle": {"centre": spot, "radius": choose.choice([0.5, 1.0])}},
        {"hall": {"start": spot, "end": [spot[0] + 1, spot[1] + 1], "width": 0.5}},
    ]
    return choose.choice(
        [
            [paint],
            [paint, {"do": "paint", "cells": [[c - 1, r], [c, r + 1]], "room": "A"}],
            [{"do": "way", **way, "width": choose.choice(LENGTHS), "leaf": choose.choice([None, "sliding", "hinged"])}],
            [{"do": "way", **way}],
            [{"do": "wall", "cell": cell, "side": choose.choice(SIDES), "stands": choose.random() < 0.7}],
            [{"do": "title", "room": choose.choice("ABZ"), "title": choose.choice(["", 'The "hall"', "Été ☃"])}],
            [{"do": "name", "name": choose.choice(["Other", "\\", "x" * 200])}],
            [{"do": "scale", "scale": choose.choice(["5 ft", "10 ft"])}],
            [{"do": "choice", "key": "posts", "value": choose.choice(["fixed", "loose", "none"])}],
            [{"do": "choice", "key": "doorways", "value": choose.choice(["fixed", "loose"])}],
            [{"do": "measure", "key": choose.choice(["pitch", "wall_height"]), "value": choose.choice(LENGTHS)}],
            [{"do": "shape", "room": choose.choice("TA"), **choose.choice(shapes)}]
            if choose.random() < 0.15
            else [paint],
            [{"do": choose.choice(["shape-away", "way-away", "feature-away"]), "index": choose.choice([0, 0, 1, 7])}],
            [{"do": "feature", **stand, "size": size, "values": dict(said)}],
        ]
    )


def letters(text):
    return ["".join(row.split()) for row in tomllib.loads(text)["drawing"].splitlines() if row.strip()]


@pytest.mark.parametrize("seed", range(0, 10, 5))
def test_random_gestures(client, seed):
    for number in range(seed, seed + 5):
        session(client, random.Random(number), f"seat {number}")


def session(client, choose, seat):
    text, n = random_plan(choose), 1
    asked = {"seat": seat, "figures": []}
    answer = client.post("/open", json={**asked, "text": 'name = "e"\ndrawing = "."\n', "open": text, "n": 1})
    assert answer.status_code == 200, answer.text
    state, steps = answer.json(), [text]
    assert state["text"] == text
    for _ in range(6):
        edits, n = gesture(choose, state["view"]), n + 1
        now = {**asked, "text": state["text"], "at": state["at"], "n": n}
        answer = client.post("/edit", json={**now, "edits": edits, "marks": [n] * len(edits)})
        if answer.status_code != 200:
            assert answer.status_code == 422, answer.text
            assert answer.json()["error"]["text"]
            continue
        before, state = state, answer.json()
        seen = state["view"]
        right = before["view"]["ok"] or before["view"]["empty"]
        assert seen["ok"] or seen["empty"] or not right, (before["text"], edits)
        if seen["ok"]:
            assert open_text(state["text"]).kit.tiles == seen["kit"]["totals"]["tiles"]
        if edits[0]["do"] == "paint":
            painted(edits, state)
        if state["text"] != before["text"]:
            steps.append(state["text"])
    for by, wanted in ((-1, steps[-2::-1]), (1, steps[1:])):
        for text in wanted:
            n += 1
            now = {**asked, "text": state["text"], "at": state["at"], "n": n}
            state = client.post("/go", json={**now, "by": by}).json()
            assert state["text"] == text


def painted(edits, state):
    """Every square is what it was made, wherever it lies: none is lost at the sheet's edge."""
    (west, north), rows = state["grown"], letters(state["text"])
    last = {tuple(cell): edit["room"] for edit in edits for cell in edit["cells"]}
    for (c, r), room in last.items():
        x, y = c + west - 1, r + north - 1
        if room != "." or (0 <= x < len(rows[0]) and 0 <= y < len(rows)):
            assert rows[y][x] == room
