"""The desk without a browser: edits keep a plan's text, answers are the commands' own, and only this page is served."""

import io
import json
import time
import tomllib
import zipfile
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("httpx")

from starlette.testclient import TestClient

from tilegen.desk.app import make_app
from tilegen.desk.document import document_of
from tilegen.desk.edits import apply_edits, read_edits
from tilegen.desk.guard import MOST_BYTES
from tilegen.desk.taking import Takings, Wish
from tilegen.desk.talk import Plan
from tilegen.errors import InputError
from tilegen.files.plans import read_plan
from tilegen.files.toml import find
from tilegen.fit.figures import figures_on, figures_record
from tilegen.making.asked import Tools
from tilegen.making.plan import build_plan, open_plan, write_build
from tilegen.making.workshop import open_workshop
from tilegen.plans.kit import make_kit
from tilegen.plans.record import kit_head

PORT = 8317
ORIGIN = f"http://127.0.0.1:{PORT}"
DEMO = find("bell-foundry", "plans").read_text()
SMALL = 'name = "Small"  # a comment\ndrawing = """\nA A B\nA A B\n"""\n'


@pytest.fixture
def client():
    with TestClient(make_app(PORT), base_url=ORIGIN) as found:
        found.headers["origin"] = ORIGIN
        yield found


def edited(text, *edits):
    return apply_edits(text, read_edits(list(edits)))


def plan(text):
    return Plan(document_of(text))


def good(text):
    found = plan(text)
    assert found.good, found.fault
    return found


def test_no_edit_changes_no_byte():
    for name in ("bell-foundry", "lamp-cellars"):
        text = find(name, "plans").read_text()
        assert edited(text).text == text


def test_edits_keep_comments_and_order():
    out = edited(SMALL, {"do": "paint", "cells": [[3, 1]], "room": "A"}, {"do": "name", "name": "Other"}).text
    assert "# a comment" in out
    assert out.index("name") < out.index("drawing")
    assert tomllib.loads(out)["drawing"].split() == ["A", "A", "A", "A", "A", "B"]


def test_a_drawing_grows_and_its_ways_go_with_it():
    text = edited(SMALL, {"do": "way", "cell": [2, 1], "side": "east", "kind": "doorway"}).text
    grown = edited(text, {"do": "paint", "cells": [[0, -1], [5, 3]], "room": "C"})
    assert grown.grown == (1, 2)
    data = tomllib.loads(grown.text)
    assert data["way"][0]["cell"] == [3, 3]
    rows = ["".join(row.split()) for row in data["drawing"].split("\n") if row]
    assert rows == ["C.....", "......", ".AAB..", ".AAB..", ".....C"]


def test_what_has_lost_its_wall_goes():
    text = edited(
        SMALL,
        {"do": "way", "cell": [2, 1], "side": "east", "kind": "saddle"},
        {"do": "wall", "cell": [1, 1], "side": "east", "stands": True},
        {"do": "title", "room": "B", "title": "Back room"},
    ).text
    good(text)
    out = edited(
        text,
        {"do": "paint", "cells": [[3, 1], [3, 2], [1, 1]], "room": "A"},
        {"do": "paint", "cells": [[1, 1]], "room": "."},
    )
    assert out.said == ("1 way removed", "1 title removed", "1 wall removed")
    assert "way" not in tomllib.loads(out.text)
    good(out.text)


def test_a_way_is_one_whichever_side_it_is_seen_from():
    one = edited(SMALL, {"do": "way", "cell": [2, 1], "side": "east", "kind": "doorway"}).text
    other = edited(one, {"do": "way", "cell": [3, 1], "side": "west", "kind": "saddle"}).text
    assert len(tomllib.loads(other)["way"]) == 1
    assert "way" not in tomllib.loads(edited(other, {"do": "way", "cell": [2, 1], "side": "east", "kind": None}).text)
    # From solid ground it is written down from the room's side.
    outside = edited(SMALL, {"do": "way", "cell": [1, 0], "side": "south", "kind": "doorway", "leaf": "sliding"}).text
    assert tomllib.loads(outside)["way"][0] == {"cell": [1, 1], "side": "north", "kind": "doorway", "leaf": "sliding"}


def test_posts_and_doorways_are_chosen_and_the_default_leaves_no_trace():
    text = edited(
        SMALL,
        {"do": "choice", "key": "posts", "value": "none"},
        {"do": "choice", "key": "doorways", "value": "loose"},
        {"do": "way", "cell": [2, 1], "side": "east", "kind": "doorway"},
    ).text
    seen = good(text)
    assert seen.written["choices"] == {"posts": "none", "doorways": "loose"}
    assert [row["name"] for row in seen.answers([])["kit"] if row["loose"]] == [p.name for p in seen.kit.pieces] != []
    back = edited(text, *({"do": "choice", "key": key, "value": "fixed"} for key in ("posts", "doorways"))).text
    assert "set" not in tomllib.loads(back)
    wrong = edited(SMALL, {"do": "choice", "key": "doorways", "value": "none"}).text
    with pytest.raises(InputError):
        plan(wrong)


def test_edits_that_are_none():
    for wrong in [
        {"do": "paint", "cells": [[1, 1]], "room": "AB"},
        {"do": "paint", "cells": [[1, 1]], "room": "/"},
        {"do": "paint", "cells": [[1, 900]], "room": "A"},
        {"do": "paint", "cells": [[1.5, 1]], "room": "A"},
        {"do": "open", "path": "/etc/passwd"},
        {"do": "way", "cell": [1, 1], "side": "up", "kind": "open"},
        "paint",
    ]:
        with pytest.raises(InputError):
            edited(SMALL, wrong)


def test_the_view_is_the_commands_own():
    drawing = read_plan(find("bell-foundry", "plans"))
    kit = make_kit(drawing)
    seen, tiles = good(DEMO).answers(["1 in", "2 in"]), good(DEMO).tiles
    head = kit_head(kit)
    assert [(t["name"], t["id"], t["count"]) for t in seen["kit"] if not t["loose"]] == [
        (t["name"], t["id"], t["count"]) for t in head["tiles"]
    ]
    assert {key: seen["totals"][key] for key in head["totals"]} == head["totals"]
    for mine, record in zip(seen["fit"], figures_record(figures_on(drawing, [25.4, 50.8])), strict=True):
        signs = [(c, r, sign) for r, row in enumerate(mine["blocks"], 1) for c, sign in enumerate(row, 1)]
        assert [[c, r] for c, r, sign in signs if sign == "b"] == record.pop("blocked")
        assert sum(sign == "s" for *_, sign in signs) == record["stands"]
        assert {key: mine[key] for key in record} == record
    assert sum(len(places) for places in tiles["lie"].values()) == 3 * (kit.tiles + sum(p.count for p in kit.pieces))


def test_a_fault_is_told_and_the_rest_still_shown():
    text = edited(SMALL, {"do": "measure", "key": "wall_thickness", "value": "40 mm"}).text
    seen = plan(text)
    assert "wall_thickness" in seen.fault.place
    assert seen.written["rows"] == ["AAB", "AAB"]
    assert seen.answers(["1 in"])["pins"][0]["level"] == "stop"


def post(client, path, **body):
    return client.post(path, json=body)


def opened(client, text):
    """The step of a plan that is open on the page."""
    begun = post(client, "/begin", seat="me").json()
    return post(client, "/open", seat="me", at=begun["at"], n=begun["done"] + 1, open=text).json()["at"]


def gestures(*edits):
    return [{"gesture": 1, "edits": list(edits)}]


def test_an_edit_over_the_wire(client):
    at = opened(client, SMALL)
    paint = {"do": "paint", "cells": [[1, 1]], "room": "B"}
    answer = post(client, "/edit", seat="me", at=at, n=7, gestures=gestures(paint))
    assert answer.status_code == 200
    assert answer.json()["plan"]["+"]["rows"] == {"from": 0, "drop": 1, "put": ["BAB"]}
    assert "tiles" not in answer.json()
    seen = post(client, "/look", seat="me", at=answer.json()["at"], figures=["1 in"]).json()
    assert seen["answers"]["totals"]["tiles"] == 6
    counts = answer.json()["counts"]
    assert counts == {key: seen["answers"]["totals"][key] for key in counts}
    wrong = post(client, "/open", seat="me", at=at, n=8, open="drawing = 3")
    assert wrong.status_code == 422
    assert "drawing" in wrong.json()["error"]["text"]


def test_pictures_and_solids(client):
    at = opened(client, SMALL)
    for what, least in (("layout", 1), ("sheets", 1), ("beds", 1)):
        answer = post(client, "/picture", at=at, picture=what)
        assert answer.status_code == 200, answer.text
        assert len(answer.json()["pictures"]) >= least
        assert all(picture["svg"].lstrip().startswith("<") for picture in answer.json()["pictures"])
    tile = good(SMALL).kit.types[0].tile.id
    solid = post(client, "/solid", at=at, tile=tile)
    assert solid.headers["x-least"] == "0.15,0.15"
    assert len(solid.content) == 84 + 50 * int.from_bytes(solid.content[80:84], "little")
    assert post(client, "/solid", at=at, tile="../../etc").status_code == 422
    sight = post(client, "/sight", at=at, cell=[1, 1]).json()
    assert sight["rows"] == ["110", "110"]


def test_refused_pairs_are_told(client):
    found = client.get("/tools").json()
    assert not found["pairs"]["pvc/laser"]["ok"]
    assert found["pairs"]["foam-core/laser"]["ask"]
    assert found["pairs"]["foam/hand-knife"]["cautions"]
    wish = {"materials": ["pvc"], "machine": "laser"}
    assert post(client, "/picture", at=opened(client, SMALL), picture="sheets", wish=wish).status_code == 422


# ---- only this machine, only this page


def test_another_host_name_is_refused(client):
    for host in ["evil.example", f"evil.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", ""]:
        assert client.get("/", headers={"host": host}).status_code == 421
        assert client.post("/edit", headers={"host": host}, json={"text": SMALL}).status_code == 421


def test_writes_from_another_page_are_refused(client):
    for origin in [
        "http://evil.example",
        "null",
        "",
        f"https://127.0.0.1:{PORT}",
        f"http://127.0.0.1:{PORT}.evil.example",
    ]:
        assert client.post("/edit", headers={"origin": origin}, json={"text": SMALL}).status_code == 403
        assert client.post("/take", headers={"origin": origin}, json={"text": SMALL}).status_code == 403


def test_a_foreign_form_can_not_write(client):
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        answer = client.post("/edit", content=json.dumps({"text": SMALL}), headers={"content-type": kind})
        assert answer.status_code == 415
    assert client.get("/tools", headers={"sec-fetch-site": "cross-site"}).status_code == 403


def test_bodies_are_bounded(client):
    large = "#" * (MOST_BYTES + 10)
    assert client.post("/edit", json={"text": large}).status_code == 413

    def chunks():
        for _ in range(MOST_BYTES // 100_000 + 5):
            yield b"x" * 100_000

    headers = {"content-type": "application/json"}
    assert client.post("/edit", content=chunks(), headers=headers).status_code == 413
    assert client.post("/edit", content=b"{" * 100_000, headers=headers).status_code == 400
    assert client.post("/edit", content=b"[" * 1_000_000, headers=headers).status_code == 400


def test_no_path_of_the_client_is_used(client):
    for path in ("/../pyproject.toml", "/page/desk.html", "/%2e%2e/%2e%2e/etc/passwd", "/desk.js/../../view.py"):
        assert client.get(path).status_code in (404, 405)
    at = opened(client, SMALL)
    for wish in ({"materials": ["../foam"]}, {"machine": "/etc/passwd"}, {"printer": "fdm-220.toml"}, {"paper": "B9"}):
        assert post(client, "/take", at=at, wish=wish).status_code in (400, 422)


def test_headers_keep_the_page_to_itself(client):
    page = client.get("/")
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert page.headers["x-content-type-options"] == "nosniff"
    assert "http" not in page.text.replace("http-equiv", "").replace(ORIGIN, "")


def outcome(client, name):
    for _ in range(400):
        taking = client.app.state.takings.running[name]
        taking.look()
        if taking.outcome:
            return taking.outcome
        time.sleep(0.1)
    raise AssertionError("no outcome")


def test_what_there_is_to_decide_comes_with_the_files(client):
    thin = 'name = "thin"\ndrawing = "A"\n[grid]\nwall_thickness = "1.5 mm"\n'
    told = outcome(client, post(client, "/take", at=opened(client, thin)).json()["name"])
    assert told["done"]
    assert "break when they are handled" in told["message"]


@pytest.mark.thorough
def test_the_zip_has_the_bytes_of_the_command(client, tmp_path):
    name = post(client, "/take", at=opened(client, SMALL)).json()["name"]
    assert client.get(f"/take/{name}/files.zip").status_code == 404
    assert outcome(client, name) == {"done": True, "message": ""}
    events = client.get(f"/take/{name}").text
    assert "event: stage" in events
    assert "event: outcome" in events
    archive = zipfile.ZipFile(io.BytesIO(client.get(f"/take/{name}/files.zip").content))
    plan = tmp_path / "small.toml"
    plan.write_text(SMALL)
    built = build_plan(open_plan(plan), open_workshop(Tools()))
    write_build(tmp_path / "out" / "small", built)
    files = {
        p.relative_to(tmp_path / "out").as_posix(): p.read_bytes() for p in (tmp_path / "out").rglob("*") if p.is_file()
    }
    assert {entry: archive.read(entry) for entry in archive.namelist()} == files | {"small/small.toml": SMALL.encode()}
    assert all(not entry.startswith("/") and ".." not in Path(entry).parts for entry in archive.namelist())


OWN_SHEET = find("greyboard", "materials").read_text()


def test_files_of_ones_own_are_used_and_wrong_ones_named(client):
    at = opened(client, SMALL)
    sheet = {"kind": "material", "name": "My Board!.toml", "text": OWN_SHEET}
    names = post(client, "/own", wish={"own": [sheet]}).json()["names"]
    assert names == {"My Board!.toml": "my-board"}
    wish = {"own": [sheet], "materials": ["my-board"], "machine": "laser"}
    assert post(client, "/picture", at=at, picture="sheets", wish=wish).json()["pictures"]
    wrong = {**sheet, "name": "../../wrong.toml", "text": OWN_SHEET.replace("[", "[x", 1)}
    error = post(client, "/own", wish={"own": [sheet, wrong]})
    assert error.status_code == 422
    assert "wrong.toml" in error.json()["error"]["file"]
    assert post(client, "/picture", at=at, picture="sheets", wish={"materials": ["my-board"]}).status_code == 422


def test_totals_are_for_what_stands_in_the_workshop_less_what_is_owned(client):
    at = opened(client, SMALL)
    kit = good(SMALL).kit
    both = post(client, "/totals", at=at).json()["totals"]
    assert both["sheets"] >= 1
    assert both["beds"] >= 1
    assert both["hours"] > 0
    assert both["print_hours"] > 0
    cut = post(client, "/totals", at=at, wish={"make": "cut"}).json()["totals"]
    assert (cut["beds"], cut["print_hours"], cut["hours"]) == (None, None, both["hours"])
    first = kit.types[0]
    some = post(client, "/totals", at=at, wish={"owned": {first.tile.id: 1}}).json()
    assert some["rows"][first.tile.id] == [1, first.count - 1]
    assert (some["totals"]["own"], some["totals"]["make"]) == (1, kit.tiles - 1)
    assert some["totals"]["print_hours"] < both["print_hours"]
    owned = {kind.tile.id: kind.count for kind in kit.types}
    none = post(client, "/totals", at=at, wish={"owned": owned}).json()["totals"]
    assert (none["make"], none["sheets"]) == (0, None)
    shelf = {"kind": "shelf", "name": "shelf.toml", "text": f"[tiles]\n{first.name} = 2\n"}
    listed = post(client, "/totals", at=at, wish={"own": [shelf], "owned": {first.tile.id: 1}}).json()
    assert listed["rows"][first.tile.id][0] == 3


def test_the_same_wish_is_taken_up_again(client):
    at = opened(client, SMALL)
    first = post(client, "/take", at=at, wish={"make": "cut"}).json()["name"]
    assert post(client, "/take", at=at, wish={"make": "cut"}).json()["name"] == first
    other = post(client, "/take", at=at, wish={"make": "print"}).json()["name"]
    assert other != first
    assert client.post(f"/take/{other}/stop", json={}).json() == {"stopped": True}
    assert outcome(client, first)["done"]
    # Loaded again, the page is told all stages from the first one on, and has the files under the plan's name.
    assert client.get(f"/take/{first}").text.count("event: stage") > 3
    files = client.get(f"/take/{first}/files.zip")
    assert 'filename="small.zip"' in files.headers["content-disposition"]
    names = zipfile.ZipFile(io.BytesIO(files.content)).namelist()
    assert "small/small.toml" in names
    assert not any(name.endswith(".stl") for name in names)
    assert post(client, "/take", at=at, wish={"make": "cut"}).json()["name"] == first


def test_a_build_can_be_stopped_and_leaves_nothing():
    takings = Takings()
    name = takings.start(DEMO, Wish(materials=["card"], machine="laser"))
    taking = takings.running[name]
    assert takings.drop(name)
    assert not taking.process.is_alive()
    assert not taking.folder.exists()
    assert not takings.drop(name)


def test_a_build_that_fails_says_why():
    takings = Takings()
    name = takings.start(edited(SMALL, {"do": "measure", "key": "pitch", "value": "300 mm"}).text, Wish())
    for _ in range(300):
        takings.running[name].look()
        if takings.running[name].outcome:
            break
        time.sleep(0.1)
    assert takings.running[name].outcome["done"] is False
    assert "599.7 x 599.7" in takings.running[name].outcome["message"]
    takings.close()
    assert not takings.running


def test_the_command_says_where_the_port_is_taken():
    import socket

    from tilegen.cli.desk import run_desk

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="port"):
            run_desk(taken.getsockname()[1], browser=False, quiet=True)


# ---- off the grid

DOTS = 'name = "Dots"\ndrawing = """\n. . . .\n. . . .\n"""\n'
SHIPPED = ("bell-foundry", "lamp-cellars", "hill-shrine", "gull-light")


@pytest.mark.parametrize("name", ["gull-light", "hill-shrine"])
def test_a_shipped_plan_loses_nothing(name):
    text = find(name, "plans").read_text()
    assert edited(text).text == text
    before = good(text)
    grown = edited(text, {"do": "paint", "cells": [[-1, -1]], "room": "X"})
    assert grown.said == ()
    after = good(grown.text)
    assert after.kit.tiles == before.kit.tiles + 1
    assert {t.tile.id for t in before.kit.types} <= {t.tile.id for t in after.kit.types}
    for key in ("way", "wall", "shape", "feature"):
        assert len(tomllib.loads(grown.text).get(key, [])) == len(tomllib.loads(text).get(key, []))


def test_a_circle_makes_its_drawing_grow_and_goes_again():
    made = edited(
        DOTS,
        {"do": "shape", "room": "T", "circle": {"centre": [1, 1], "radius": 2}},
        {"do": "title", "room": "T", "title": "Tower"},
        {"do": "point-way", "room": "T", "at": [1, -1], "kind": "doorway"},
    )
    assert made.grown == (1, 1)
    data = tomllib.loads(made.text)
    assert data["shape"] == [{"room": "T", "circle": {"centre": [2, 2], "radius": 2}}]
    # A round room of two squares: four floors and two odd types, four of each; the way changes two of those.
    assert good(made.text).kit.tiles == 12
    moved = tomllib.loads(edited(made.text, {"do": "paint", "cells": [[0, 1]], "room": "Q"}).text)
    assert moved["shape"][0]["circle"]["centre"] == [3, 2]
    assert moved["way"][0]["at"] == [3, 0]
    gone = edited(made.text, {"do": "shape-away", "index": 0})
    assert gone.said == ("1 way removed", "1 title removed")
    assert "shape" not in tomllib.loads(gone.text)


def test_halls_and_corners():
    out = edited(
        DOTS,
        {"do": "shape", "room": "H", "hall": {"start": [0.5, 0.5], "end": [2.5, 2.5], "width": 1}},
        {"do": "shape", "room": "P", "polygon": [[4, 0], [6, 0], [6, 2]]},
    )
    shapes = good(out.text).written["shapes"]
    assert [(s["room"], s["form"]) for s in shapes] == [("H", "hall"), ("P", "polygon")]
    assert all(s["path"].startswith("M") for s in shapes)


def test_features_are_written_and_go_with_their_floor():
    text = edited(
        SMALL,
        {"do": "feature", "kind": "pillar", "cell": [1, 1], "size": ["0.4 in"], "values": {"round": True}},
        {"do": "feature", "kind": "pit", "cell": [2, 2], "values": {"depth": "0.1 in"}},
    ).text
    assert tomllib.loads(text)["feature"] == [
        {"kind": "pillar", "cell": [1, 1], "size": "0.4 in", "round": True},
        {"kind": "pit", "cell": [2, 2], "depth": "0.1 in"},
    ]
    shapes = good(text).tiles["shapes"].values()
    assert any(s["dark"] for s in shapes)
    assert any(s["sunk"] for s in shapes)
    assert tomllib.loads(edited(text, {"do": "feature-away", "index": 0}).text)["feature"][0]["kind"] == "pit"
    assert edited(text, {"do": "paint", "cells": [[2, 2]], "room": "."}).said == ("1 feature removed",)
    with pytest.raises(InputError, match="feature"):
        edited(text, {"do": "feature-away", "index": 2})


def test_the_state_folder_is_the_systems(monkeypatch, tmp_path):
    from tilegen.desk.keeping import state_folder

    monkeypatch.setattr("pathlib.Path.home", lambda: tmp_path)
    for variable in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(variable, raising=False)
    # XDG Base Directory Specification 0.8: $HOME/.local/state by default; a relative path is to be ignored.
    monkeypatch.setattr("sys.platform", "linux")
    assert state_folder() == tmp_path / ".local" / "state" / "tilegen"
    monkeypatch.setenv("XDG_STATE_HOME", "somewhere")
    assert state_folder() == tmp_path / ".local" / "state" / "tilegen"
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "x"))
    assert state_folder() == tmp_path / "x" / "tilegen"
    # Windows and macOS: from memory.
    monkeypatch.setattr("sys.platform", "darwin")
    assert state_folder() == tmp_path / "Library" / "Application Support" / "tilegen"
    monkeypatch.setattr("sys.platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert state_folder() == tmp_path / "local" / "tilegen"


def test_steps_that_can_not_be_kept_are_told(monkeypatch, tmp_path):
    from tilegen.desk.keeping import steps_at_home

    monkeypatch.setattr("tilegen.desk.keeping.state_folder", lambda: tmp_path / "file" / "tilegen")
    (tmp_path / "file").write_text("in the way")
    steps, said = steps_at_home()
    assert "can't be kept" in said
    assert steps.text(steps.add(0, "text")) == "text"
    # A database that is none is kept aside.
    monkeypatch.setattr("tilegen.desk.keeping.state_folder", lambda: tmp_path)
    (tmp_path / "desk.sqlite").write_bytes(b"no database at all, " * 1000)
    steps, said = steps_at_home()
    assert said == ""
    assert steps.text(steps.add(0, "text")) == "text"
    assert [p.read_bytes()[:11] for p in tmp_path.glob("desk.kept-*.sqlite")] == [b"no database"]


def test_only_the_oldest_steps_are_given_up(monkeypatch, tmp_path):
    from tilegen.desk import keeping

    path = tmp_path / "desk.sqlite"
    steps = keeping.Steps(path)
    first = at = steps.add(0, "plan one", file="")
    for number in range(200):
        at = steps.add(at, f"plan one, step {number}")
    for number in range(5):
        at = steps.add(at, f"plan two, step {number}", file="" if not number else None)
    steps.close()
    monkeypatch.setattr(keeping, "MOST_BYTES", 200)
    steps = keeping.Steps(path)
    assert steps.text(first) is None
    assert [text for _, _, text in steps.plans()] == ["plan two, step 4", "plan one, step 199"]
    assert steps.text(at) == "plan two, step 4"
    assert steps.back(at)


def text_at(client, answer):
    return client.get("/text", params={"at": answer["at"]}).json()["text"]


def test_a_lost_answer_does_nothing_twice(client):
    """The page asks again where the program did what it was asked and the answer was lost."""
    circle = {"do": "shape", "room": "T", "circle": {"centre": [1, 1], "radius": 2}}
    asked = {"seat": "me", "at": opened(client, DOTS), "n": 2, "gestures": gestures(circle)}
    first = post(client, "/edit", **asked).json()
    again = post(client, "/edit", **asked).json()
    assert (again["at"], again["plan"]) == (first["at"], first["plan"])
    assert text_at(client, first).count("[[shape]]") == 1
    back = {"seat": "me", "at": first["at"], "n": 3, "by": -1}
    assert text_at(client, post(client, "/go", **back).json()) == DOTS
    assert text_at(client, post(client, "/go", **back).json()) == DOTS


def test_a_change_that_would_spoil_a_plan_is_refused(client):
    for spoils in (
        {"do": "measure", "key": "wall_thickness", "value": "40 mm"},
        {"do": "measure", "key": "pitch", "value": "wide"},
        {"do": "feature", "kind": "stair", "cell": [90, 90], "values": {"side": "north"}},
    ):
        answer = post(client, "/edit", at=opened(client, SMALL), gestures=gestures(spoils)).json()
        assert answer["refused"][0]["text"]
        assert text_at(client, answer) == SMALL
    # A plan that is wrong already may be changed, or it could not be mended.
    wrong = edited(SMALL, {"do": "measure", "key": "wall_thickness", "value": "40 mm"}).text
    rename = {"do": "name", "name": "Still wrong"}
    assert not post(client, "/edit", at=opened(client, wrong), gestures=gestures(rename)).json()["refused"]
    # So may the last square be cleared.
    cells = [[c, r] for c in (1, 2, 3) for r in (1, 2)]
    clear = {"do": "paint", "cells": cells, "room": "."}
    assert not post(client, "/edit", at=opened(client, SMALL), gestures=gestures(clear)).json()["refused"]


def test_a_base_that_is_none_is_told_beside_it():
    fit = good(SMALL).answers(["1 in", "enormously", "40 in"])["fit"]
    assert fit[0]["positions"]
    assert "enormously" in fit[1]["wrong"]
    assert (fit[2]["positions"], fit[2]["stands"]) == (0, 0)


def test_edits_drawn_before_the_sheet_grew_move_along(client):
    edits = [
        {"do": "paint", "cells": [[0, 1]], "room": "C"},
        {"do": "paint", "cells": [[-1, 0]], "room": "D"},
        {"do": "way", "cell": [2, 1], "side": "east", "kind": "doorway"},
        {"do": "shape", "room": "T", "circle": {"centre": [5, 1], "radius": 1}},
        {"do": "point-way", "room": "T", "at": [5, 0], "kind": "doorway"},
        {"do": "feature", "kind": "pillar", "cell": [1, 2]},
    ]
    for marks in ([1] * 6, [1, 2, 3, 3, 3, 4]):
        numbers = dict.fromkeys(marks[:5])
        drawn = [
            {"gesture": k, "edits": [e for e, m in zip(edits[:5], marks, strict=False) if m == k]} for k in numbers
        ]
        answer = post(client, "/edit", at=opened(client, SMALL), gestures=drawn).json()
        assert answer["grown"] == [2, 1]
        found = tomllib.loads(text_at(client, answer))
        assert [row.replace(" ", "") for row in found["drawing"].split("\n")[:-1]] == [
            "D.......",
            ".CAAB...",
            "..AAB...",
        ]
        assert found["way"][0]["cell"] == [4, 2]
        assert found["way"][1]["at"] == [7, 1]
        assert found["shape"][0]["circle"]["centre"] == [7, 2]
    answer = post(client, "/edit", at=opened(client, SMALL), gestures=gestures(edits[0], edits[5])).json()
    assert tomllib.loads(text_at(client, answer))["feature"][0]["cell"] == [2, 2]
