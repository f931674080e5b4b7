"""Every command that a run prints is run as a shell would take it, and does what it says."""

import html
import json
import os
import re
import shlex
import shutil
from pathlib import Path

import pytest

from tests.calling import call
from tilegen.files.toml import shipped

pytestmark = pytest.mark.skipif(os.name == "nt", reason="read back by the rules of a POSIX shell")
NAMES = {kind: sorted(p.stem for p in shipped(kind).glob("*.toml")) for kind in ("materials", "machines", "printers")}


def printed(text):
    """The words of every command in a text, up to what can't be a word of one."""
    for found in re.findall(
        r"\btilegen ((?:build|tile|gauge|solid|sheet|kit|fit) .*?)(?=\s{2,}|$|</code>)", text, re.MULTILINE
    ):
        yield shlex.split(html.unescape(found))


@pytest.mark.parametrize("machine", ["hand-knife", "laser"])
def test_readings_of_the_sheet_are_kept_for_every_material(machine, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    drawn = 0
    for material in NAMES["materials"]:
        words = ["gauge", "--material", material, "--machine", machine, "-o", "my out"]
        done = call(*words, "--json")
        consent = re.search(r'give (--accept ".*?")', done.stderr, re.IGNORECASE)
        if consent:
            words += shlex.split(consent[1])
            done = call(*words, "--json")
        if done.returncode:
            continue
        drawn += 1
        (command,) = [words for step in json.loads(done.stdout)["steps"] for words in printed(step)]
        kept = call(*command)
        assert kept.returncode == 0, (command, kept.stderr)
        own = shlex.split(kept.stdout.rpartition("use your own files: ")[2])
        again = call("gauge", *own, "--machine", machine, *words[7:], "-o", "again")
        assert again.returncode == 0, again.stderr
    assert drawn


@pytest.mark.parametrize("printer", ["resin-190", "a file"])
def test_readings_of_printed_pieces_are_kept_for_every_printer(printer, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    if printer == "a file":
        printer = "my printers/own one.toml"
        Path(printer).parent.mkdir()
        shutil.copy(shipped("printers") / "fdm-220.toml", printer)
    done = call("gauge", "--printer", printer, "-o", "my out")
    assert done.returncode == 0
    folder = re.match(r"(.*?): \d+ test pieces", done.stdout)[1]
    (shown,) = [words for words in printed(done.stdout) if words[-1] == "NAME=READING"]
    assert call(*shown[:-1], "play=.2").returncode == 0
    (example,) = printed((Path(folder) / "gauge.html").read_text(encoding="utf-8"))
    kept = call(*example)
    assert kept.returncode == 0, kept.stderr
    own = shlex.split(kept.stdout.rpartition("use your own file: ")[2])
    assert call("solid", "floor", *own).returncode == 0


@pytest.mark.parametrize("folder", ["a b/x", "a 'quoted' one", "-dash", "$HOME & co", "b/.."])
def test_what_start_says_is_done(folder, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = call("start", "--", folder)
    build, tile = printed(done.stdout)
    assert (build[0], tile[0]) == ("build", "tile")
    assert call("kit", *build[1:]).returncode == 0
    assert call("solid", *tile[1:]).returncode == 0


@pytest.mark.parametrize("words", [("build", "a b/door.toml"), ("tile", "a b/hall.toml"), ("build", "corner")])
def test_the_cure_for_the_other_kind_of_file(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("a b").mkdir()
    shutil.copy(shipped("profiles") / "door.toml", "a b/door.toml")
    Path("a b/hall.toml").write_text('name = "Hall"\ndrawing = "A A"\n')
    done = call(*words)
    assert done.returncode == 2
    (cure,) = printed(done.stderr)
    assert cure[0] != words[0]
    assert call(*cure).returncode == 0
