"""What is drawn is not lost: kills, full disks, two tabs, files that change, databases of an earlier version."""

import multiprocessing
import os
import random
import signal
import sqlite3
import time

import pytest

pytest.importorskip("starlette")

from tests.desk.test_desk_edits import Page, fits, made, opened
from tilegen.desk import keeping
from tilegen.desk.keeping import PlanOnDisk, Steps, digest
from tilegen.desk.taking import Takings
from tilegen.desk.talk import Asked, Desk, Plans, begin, edit, go, save
from tilegen.errors import InputError

ROOM = 'name = "One"  # mine\ndrawing = "A"\n'


def desk_at(path, disk=None):
    return Desk(Takings(), Steps(path), disk, Plans())


def draw(desk, number):
    """One gesture of a tab, as after any answer that was lost: it asks what was done, and goes on from there."""
    begun = begin(desk, Asked(seat="me"))
    cell = [1 + number % 40, 1 + number // 40]
    gesture = {"gesture": number, "origin": begun["origin"], "edits": [{"do": "paint", "cells": [cell], "room": "A"}]}
    return edit(desk, Asked(seat="me", at=begun["at"], n=number, gestures=[gesture]))


def _drawing(path, first, told):
    desk = desk_at(path)
    for number in range(first, first + 10_000):
        draw(desk, number)
        told.send(number)


def test_no_answered_gesture_is_lost_when_the_program_is_killed(tmp_path):
    choose, path, done = random.Random(1), tmp_path / "desk.sqlite", 0
    for _ in range(6):
        here, there = multiprocessing.Pipe(duplex=False)
        process = multiprocessing.get_context("fork").Process(target=_drawing, args=(path, done + 1, there))
        process.start()
        there.close()
        until = time.monotonic() + 0.3 + choose.random() / 2
        while time.monotonic() < until or not here.poll():
            pass
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        try:
            while here.poll():
                done = here.recv()
        except EOFError:
            pass
        begun = begin(desk := desk_at(path), Asked(seat="me"))
        # One more may have been done than was answered.
        assert begun["done"] in (done, done + 1)
        assert sum(row.count("A") for row in begun["plan"]["rows"]) == begun["done"]
        done = begun["done"]
        desk.steps.close()
    steps = Steps(path)
    count, at = 0, steps.last()
    while at := steps.back(at):
        count += 1
    assert count == done


def test_a_full_disk_loses_nothing_while_the_program_runs(tmp_path):
    path = tmp_path / "desk.sqlite"
    desk = desk_at(path)
    draw(desk, 1)
    steps = desk.steps
    pages = steps._base.execute("PRAGMA page_count").fetchone()[0]
    # SQLite, PRAGMA max_page_count: what does not fit is "database or disk is full".
    steps._base.execute(f"PRAGMA max_page_count = {pages}")
    answers = [draw(desk, number) for number in range(2, 90)]
    assert "full" in answers[-1]["unkept"]
    assert sum(row.count("A") for row in begin(desk, Asked(seat="me"))["plan"]["rows"]) == 89
    at = answers[-1]["at"]
    back = go(desk, Asked(seat="me", at=at, n=90, by=-1))
    assert back["back"]
    assert go(desk, Asked(seat="me", at=back["at"], n=91, by=1))["at"] == at
    steps._base.execute("PRAGMA max_page_count = 100000")
    assert draw(desk, 92)["unkept"] == ""
    steps.close()
    kept = Steps(path)
    count, at = 1, kept.last()
    while at := kept.back(at):
        count += 1
    assert count == 91


def test_two_tabs_have_a_plan_each_and_undo_apart(tmp_path):
    desk = desk_at(tmp_path / "desk.sqlite")
    one, other = Page(desk, "one"), Page(desk, "other")
    for number in range(1, 40):
        page, room = ((one, "A"), (other, "B"))[number % 2]
        made(page, {"do": "paint", "cells": [[number, 1]], "room": room})
    assert set("".join(one.plan["rows"])) == {"A", "."}
    assert set("".join(other.plan["rows"])) == {"B", "."}
    assert one.plan["rows"][0].count("A") == 19
    one.ask(go, by=-1)
    assert one.plan["rows"][0].count("A") == 18
    assert other.plan["rows"][0].count("B") == 20
    # Loaded again, each is where it was.
    assert Page(desk, "one").plan == one.plan
    assert Page(desk, "other").plan == other.plan


def test_a_step_that_two_tabs_show_is_not_changed_under_one_of_them(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(ROOM)
    desk = desk_at(None, PlanOnDisk(path))
    one = Page(desk, "one")
    made(one, {"do": "name", "name": "O"})
    save(desk, Asked(seat="one", at=one.at, base=digest(ROOM)))
    other = Page(desk, "other")
    assert other.at == one.at
    one.ask(edit, gestures=[{"gesture": 1, "edits": [{"do": "name", "name": "Other"}]}], same=True)
    assert (one.plan["name"], desk.plans.of(other.text).written["name"]) == ("Other", "O")
    one.ask(edit, gestures=[{"gesture": 1, "edits": [{"do": "name", "name": "Others"}]}], same=True)
    one.ask(go, by=-1)
    assert one.plan["name"] == "O"


def test_a_file_that_another_program_changed_is_not_written_over(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(ROOM)
    page = Page(desk_at(None, PlanOnDisk(path)), "me")
    assert page.text == ROOM
    made(page, {"do": "paint", "cells": [[2, 1]], "room": "A"})
    base = digest(ROOM)
    answer = save(page.desk, Asked(seat="me", at=page.at, base=base))
    assert (answer["changed"], answer["kept"]) == (False, "")
    assert path.read_text() == page.text
    assert "# mine" in page.text
    path.write_text('name = "Theirs"\ndrawing = "B"\n')
    made(page, {"do": "paint", "cells": [[3, 1]], "room": "A"})
    assert save(page.desk, Asked(seat="me", at=page.at, base=answer["base"]))["changed"]
    assert "Theirs" in path.read_text()
    over = save(page.desk, Asked(seat="me", at=page.at, base=answer["base"], over=True))
    assert path.read_text() == page.text
    assert "Theirs" in (tmp_path / over["kept"]).read_text()


def test_a_plan_that_is_none_replaces_nothing(tmp_path):
    page = opened(ROOM)
    before = page.text
    from tilegen.desk.talk import open_

    for junk in (
        "junk",
        "drawing = 3",
        "drawing = 'A'\nfly = 1",
        "\x00",
        'drawing = "A"\n[[way]]\nside = 3\n',
        "[" * 900,
    ):
        with pytest.raises(InputError):
            page.ask(open_, open=junk)
        assert page.desk.steps.text(page.at) == before


def test_steps_of_an_earlier_version_are_still_there(tmp_path):
    import zlib

    path = tmp_path / "desk.sqlite"
    base = sqlite3.connect(path)
    base.executescript(
        "CREATE TABLE step (id INTEGER PRIMARY KEY AUTOINCREMENT, parent INTEGER NOT NULL, plan INTEGER NOT NULL,"
        " file TEXT NOT NULL, made REAL NOT NULL, text BLOB NOT NULL);"
        "CREATE TABLE seat (name TEXT PRIMARY KEY, at INTEGER NOT NULL, tip INTEGER NOT NULL, done INTEGER NOT NULL,"
        " file TEXT NOT NULL, base TEXT NOT NULL, figures TEXT NOT NULL, used INTEGER NOT NULL);"
    )
    base.execute("INSERT INTO step VALUES (1, 0, 1, '', 1.0, ?)", (zlib.compress(ROOM.encode()),))
    base.execute("INSERT INTO seat VALUES ('me', 1, 1, 5, '', '', '[\"1 in\"]', 1)")
    base.commit()
    base.close()
    begun = begin(desk_at(path), Asked(seat="me"))
    assert (begun["plan"]["name"], begun["done"], begun["figures"]) == ("One", 5, ["1 in"])


def test_what_a_tab_shows_is_kept_however_little_room_there_is(tmp_path, monkeypatch):
    path = tmp_path / "desk.sqlite"
    page = Page(Desk(Takings(), Steps(path), None, Plans()), "me")
    for number in range(1, 30):
        made(page, {"do": "paint", "cells": [[number, 1]], "room": "A"})
    page.ask(go, by=-1)
    made(page, {"do": "name", "name": "Other"})
    page.ask(go, by=-1)
    page.desk.steps.close()
    monkeypatch.setattr(keeping, "MOST_BYTES", 1)
    assert Page(Desk(Takings(), Steps(path), None, Plans()), "me").plan == page.plan


def test_a_figure_larger_than_the_map_is_no_fault():
    assert fits(opened(ROOM), "1 in", "300 in", "junk", "-1 mm")[1]["positions"] == 0
