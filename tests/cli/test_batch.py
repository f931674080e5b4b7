"""Batches: each type made once, resumed after a kill, equal bytes however they were made, failures told at the end."""

import dataclasses
import hashlib
import json
import operator
import os
import shutil
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from tests.calling import call, files_in
from tilegen.batch import work as here
from tilegen.batch.run import Batch, Source
from tilegen.batch.variants import Variant, choose, read_variants, vary
from tilegen.batch.work import DIED, Outcome, run_here
from tilegen.errors import InputError
from tilegen.files.toml import find
from tilegen.making.asked import Tools
from tilegen.making.workshop import open_workshop

VARY = ("--vary", "pitch=1in,1.25in,30mm", "--vary", "wall=5mm,14mm,1/4 in")


pytestmark = pytest.mark.thorough


def batch(folder, *words, profile="corner", halves=("solids",), rows=None, table=None):
    source = Source(find(profile, "profiles"))
    return Batch(source, profile, vary(words, rows), open_workshop(Tools()), halves, folder, table)


def states(made):
    return {fate.name: fate.state for fate in made.fates()}


def test_names_are_readable_and_differ():
    variation = vary(["pitch=1in,1.25in", "walls=none,north,north+west", "doorway.width=20mm", "floor.lines=no"])
    names = [variant.name("corner") for variant in variation]
    assert names[-1] == "corner_pitch-31.75_walls-north-west_doorway-width-20_floor-lines-no"
    assert len(set(names)) == variation.count == 6
    long = Variant(tuple(choose("pitch", f"{n} mm", "") for n in range(30, 60)))
    other = Variant(tuple(choose("pitch", f"{n} mm", "") for n in range(30, 61)))
    assert len(long.name("a")) <= 100
    assert long.name("a") != other.name("a")


def test_the_same_value_in_other_words_is_one_variant(tmp_path):
    made = batch(tmp_path, "pitch=1in,25.4mm,2.54 cm")
    made.run(run_here)
    assert states(made) == {"corner_pitch-25.4": "made"}


def test_the_same_geometry_is_made_once(tmp_path):
    made = batch(tmp_path, "walls=north,east,north+south", profile="one-wall")
    made.run(run_here)
    assert list(states(made).values()) == ["made", "same", "made"]
    manifest = json.loads((tmp_path / "manifest.json").read_text())
    assert manifest["variants"][1]["same_as"] == "one-wall_walls-north"
    again = batch(tmp_path, "walls=north,east,north+south", profile="one-wall")
    again.run(run_here)
    assert list(states(again).values()) == ["kept", "same", "kept"]


def test_failures_come_last_and_the_rest_is_made(tmp_path):
    done = call("solid", "corner", *VARY, "-o", tmp_path, "--json")
    assert done.returncode == 1
    document = json.loads(done.stdout)
    assert document["totals"] == {"variants": 9, "made": 8, "kept": 0, "same": 0, "failed": 1}
    assert "corner_pitch-25.4_wall-14: [grid] wall_thickness: walls 14 mm thick leave no room" in done.stderr
    assert len(document["files"]) > 8
    for entry in document["files"]:
        assert hashlib.sha256(Path(entry["path"]).read_bytes()).hexdigest() == entry["sha256"]
    assert {s["name"] for s in document["solids"]} == {v["name"] for v in document["variants"] if "folder" in v}


def test_a_killed_batch_goes_on_and_ends_in_equal_bytes(tmp_path):
    words = ("solid", "corner", "--vary", "pitch=26mm,28mm,30mm,32mm", "--vary", "wall=4mm,5mm,6mm")
    whole, broken = tmp_path / "whole", tmp_path / "broken"
    batch(whole / "corner-variants", *words[3::2]).run(run_here)
    process = subprocess.Popen(
        [sys.executable, "-c", "from tilegen.cli import main; main()", *words, "-o", str(broken)],
        start_new_session=True,
    )
    deadline = time.monotonic() + 60
    while len(list(broken.glob("*/*/manifest.json"))) < 3 and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    there = len(list(broken.glob("*/*/manifest.json")))
    assert 3 <= there < 12
    first = sorted(broken.glob("*/*/solids/*.stl"))[0]
    cut = first.read_bytes()[:-1]
    first.write_bytes(cut)
    done = call(*words, "-o", broken, "--json", "--jobs", 2)
    totals = json.loads(done.stdout)["totals"]
    assert done.returncode == 0
    assert totals["kept"] == there - 1
    assert totals["made"] == 12 - totals["kept"]
    found = files_in(broken)
    assert found.pop(first.with_suffix(".kept.stl").relative_to(broken).as_posix()) == cut
    assert files_in(whole) == found


def table(path, *pitches):
    path.write_text("pitch\n" + "\n".join(pitches) + "\n")
    return {"rows": read_variants(path), "table": path}


def test_what_changed_is_made_again_and_what_is_gone_is_removed(tmp_path):
    batch(tmp_path / "out", **table(tmp_path / "rows.csv", "26mm", "28mm")).run(run_here)
    (tmp_path / "out" / "corner_pitch-26" / "notes.txt").write_text("mine")
    shutil.copytree(tmp_path / "out" / "corner_pitch-26", tmp_path / "out" / "my favourite")
    (tmp_path / "out" / "corner_pitch-28" / "solids" / "bed-01.3mf").write_text("sliced again")
    told = []
    made = batch(tmp_path / "out", **table(tmp_path / "rows.csv", "28mm", "30mm"))
    made.store = dataclasses.replace(made.store, tell=told.append)
    made.run(run_here)
    assert states(made) == {"corner_pitch-28": "made", "corner_pitch-30": "made"}
    assert files_in(tmp_path / "out" / "corner_pitch-26") == {"notes.txt": b"mine"}
    assert "manifest.json" in files_in(tmp_path / "out" / "my favourite")
    assert (tmp_path / "out" / "corner_pitch-28" / "solids" / "bed-01.kept.3mf").read_text() == "sliced again"
    assert len(told) == 1


def test_a_second_batch_never_replaces_another(tmp_path):
    batch(tmp_path, "pitch=26mm,28mm").run(run_here)
    before = files_in(tmp_path)
    for other in (
        batch(tmp_path, "pitch=28mm,30mm"),
        batch(tmp_path, "wall=5mm"),
        batch(tmp_path, "pitch=26mm,28mm", halves=("sheets",)),
        batch(tmp_path, "pitch=26mm,28mm", profile="one-wall"),
    ):
        with pytest.raises(InputError, match="-o"):
            other.run(run_here)
        assert files_in(tmp_path) == before
    more = batch(tmp_path, "pitch=26mm,28mm,30mm")
    more.run(run_here)
    assert list(states(more).values()) == ["kept", "kept", "made"]


def test_nothing_that_can_be_made_is_wrong_input(tmp_path):
    done = call("tile", "corner", "--vary", "wall=20mm,30mm", "-o", tmp_path / "out")
    assert done.returncode == 2
    assert "none of 2 variants can be made. The first is" in done.stderr
    assert not (tmp_path / "out").exists()


def test_tables(tmp_path):
    csv = tmp_path / "v.csv"
    csv.write_text("pitch, walls ,doorway.width\n1 in,north+west,\n30 mm,,12 mm\n")
    toml = tmp_path / "v.toml"
    toml.write_text(
        '[[variant]]\npitch = "1 in"\nwalls = ["north", "west"]\n[[variant]]\npitch = 30.0\ndoorway.width = "12 mm"\n'
    )
    for path in (csv, toml):
        assert [v.name("c") for v in read_variants(path)] == [
            "c_pitch-25.4_walls-north-west",
            "c_pitch-30_doorway-width-12",
        ]
    both = vary(["height=1in,2in"], read_variants(csv))
    assert [v.name("c") for v in both][1] == "c_pitch-25.4_walls-north-west_height-50.8"


def test_wrong_words():
    for words, part in [
        (["pitch"], "as in pitch=1in,1.25in"),
        (["pich=1in"], 'Did you mean "pitch"'),
        (["pitch=1in,"], "a value of pitch is empty"),
        (["pitch=1 inc"], "is not a unit of length"),
        (["pitch=1in", "grid.pitch=2in"], "grid.pitch is varied twice"),
        (["walls=nord"], "--vary walls"),
        (["size=2"], "--vary size"),
        (["floor.lines=perhaps"], "--vary floor.lines"),
        (
            [f"pitch={','.join(f'{n}mm' for n in range(20, 60))}"]
            + [f"{k}={','.join(f'{n}mm' for n in range(1, 60))}" for k in ("wall", "height", "depth")],
            "variants",
        ),
    ]:
        with pytest.raises(InputError) as caught:
            vary(words)
        assert part in str(caught.value)


def test_wrong_tables(tmp_path):
    for name, text, part in [
        ("a.csv", "pitch,pitch\n1in,2in\n", "row 1"),
        ("a.csv", "pitch,wall\n1in\n", "row 2"),
        ("a.csv", "pitch\n1in\nx\n", "row 3, pitch"),
        ("a.csv", 'pitch\n"1in\n', "CSV"),
        ("a.csv", "pitch\n", "the table has no variants"),
        ("a.csv", "a b\n1\n", '"a b" can\'t be varied'),
        ("a.toml", "pitch = 1\n", "[[variant]]"),
        ("a.toml", "[[variant]]\npitch = 1979-05-27\n", "[[variant]] 1, pitch"),
    ]:
        path = tmp_path / name
        path.write_text(text)
        with pytest.raises(InputError) as caught:
            read_variants(path)
        assert part in str(caught.value)
        assert name in str(caught.value)


def test_given_and_varied(tmp_path):
    done = call("tile", "corner", "--vary", "pitch=1in", "--pitch", "1in", "-o", tmp_path / "out")
    assert (done.returncode, "pitch is both fixed and varied" in done.stderr) == (2, True)


def test_a_worker_that_dies_takes_one_task_with_it(monkeypatch):
    """The tasks are calls that a worker runs without importing this file, which takes long."""
    monkeypatch.setattr(here, "make", operator.call)
    tasks = [partial(Outcome, 0), partial(Outcome, 1), partial(os._exit, 9)]
    for number, task in enumerate(tasks):
        task.number = number
    outcomes = sorted(run_here(iter(tasks), jobs=2), key=lambda outcome: outcome.number)
    assert [outcome.failure for outcome in outcomes] == ["", "", DIED]
