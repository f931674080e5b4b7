"""The contract: every command crossed with nothing, the smallest, the largest and wrong words, and every option."""

from __future__ import annotations

import contextlib
import importlib.util
import json
import re
import socket
import sys

import pytest
import typer.main

from tests.contract import BESIDE, CASES, FILES, LEAD, TABLE, WITHOUT_JSON, WITHOUT_QUIET, Row, content
from tilegen import cli

COMMANDS = typer.main.get_command(cli.app).commands
NONSENSE = "nonsense!"
# An option whose value may be anything, and why.
FREE_VALUES = {"accept": "names a caution; one that nothing asks for lifts nothing"}


def _no_number(word):
    raise ValueError(f"{word} is not JSON")


class Place:
    """A folder in which commands are run as from a shell, less the start of a process."""

    def __init__(self, folder, capture):
        self.folder, self.capture = folder, capture
        (folder / "folder.toml").mkdir()
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = str(free.getsockname()[1])

    def run(self, *words):
        """(exit code, standard output, standard error)."""
        words = [self.port if word == "FREE" else word for word in words]
        for name in {word.split("/")[0] for word in words} & {*FILES}:
            (self.folder / name).write_bytes(content(name))
        sys.argv[:] = ["tilegen", *words]
        self.capture.readouterr()
        with pytest.raises(SystemExit) as end:
            cli.main()
        return end.value.code, *self.capture.readouterr()

    def tree(self):
        """What was made: path -> bytes, folders too."""
        return {
            path.relative_to(self.folder).as_posix(): path.read_bytes() if path.is_file() else None
            for path in self.folder.rglob("*")
            if path.name not in FILES and path.name != "folder.toml"
        }


@pytest.fixture
def place(tmp_path_factory, capfd, monkeypatch):
    def made():
        folder = tmp_path_factory.mktemp("place")
        monkeypatch.chdir(folder)
        return Place(folder, capfd)

    monkeypatch.setattr(sys, "argv", [])
    monkeypatch.setattr("signal.signal", lambda *_: None)
    monkeypatch.setattr("threading.Timer.start", lambda _: None)
    state = tmp_path_factory.mktemp("state")
    monkeypatch.setattr("tilegen.desk.keeping.state_folder", lambda: state)
    # The desk comes as far as serving; without its extra its rows are skipped.
    with contextlib.suppress(ImportError):
        monkeypatch.setattr("uvicorn.Server.run", lambda *_, sockets: [s.close() for s in sockets])
    return made


NO_DESK = pytest.mark.skipif(importlib.util.find_spec("uvicorn") is None, reason="needs the extra desk")


def listed(found):
    return found if isinstance(found, list) else [found]


every_command = pytest.mark.parametrize(
    "command", [pytest.param(name, marks=[NO_DESK] if name == "desk" else []) for name in TABLE]
)


def calls(command, *cases):
    """The calls of a command."""
    return [call for case in cases for call in listed(getattr(TABLE[command], case))]


def test_every_command_has_a_row():
    assert set(TABLE) == set(COMMANDS) == set(LEAD)
    for row in TABLE.values():
        assert isinstance(row, Row)
        assert set(CASES) <= set(vars(row))
        assert row.largest
        assert len(row.wrong) >= 4


def test_all_but_a_few_can_be_told_to_be_quiet_and_to_give_json():
    offered = {name: {o for p in command.params for o in p.opts} for name, command in COMMANDS.items()}
    assert {name for name, options in offered.items() if "--json" not in options} == WITHOUT_JSON
    assert {name for name, options in offered.items() if "--quiet" not in options} == WITHOUT_QUIET


def refused(place, call):
    """Exit 2, one line that holds what it must, nothing on standard output, nothing written."""
    before = place.tree()
    code, out, err = place.run(*call.words)
    assert (code, out) == (2, ""), (call, err)
    assert err.startswith("tilegen: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert "has a bug" not in err
    assert all(word in err for word in call.says), err
    # What is wrong, and then what helps.
    assert re.search(r"\S\. [A-Z]", err), err
    assert place.tree() == before


@every_command
def test_what_is_wrong_or_empty_is_refused_or_done(command, place):
    for call in calls(command, "wrong", "empty"):
        here = place()
        if call.code == 2:
            refused(here, call)
            continue
        code, out, err = here.run(*call.words)
        assert (code, err) == (call.code, ""), call
        assert out


def one_document(text):
    assert text.endswith("\n")
    return json.loads(text, parse_constant=_no_number)


def whole(tree):
    return not [name for name in tree if ".part" in name or name.endswith((".tmp", "~"))]


@every_command
def test_the_smallest_that_works(command, place):
    (call,) = calls(command, "smallest")
    first = place()
    code, out, err = first.run(*call.words)
    assert (code, err) == (0, "")
    assert out
    made = first.tree()
    assert whole(made)
    code, again, err = first.run(*call.words)
    assert code == TABLE[command].again
    assert first.tree() == made
    if code == 0:
        assert (again, err) == (out, "")
    if command not in WITHOUT_QUIET:
        quiet = place()
        assert quiet.run(*call.words, "--quiet") == (0, "", "")
        assert quiet.tree() == made
    if command not in WITHOUT_JSON:
        machine = place()
        code, out, err = machine.run(*call.words, "--json")
        assert (code, err) == (0, "")
        assert one_document(out)
        assert machine.tree() == made
    elif command == "schema":
        assert one_document(out)


@every_command
def test_the_largest_that_is_sensible(command, place):
    for call in calls(command, "largest"):
        here = place()
        words = call.words if command in WITHOUT_JSON else (*call.words, "--json")
        code, out, err = here.run(*words)
        assert (code, err) == (call.code, ""), call
        assert whole(here.tree())
        if command != "desk":
            document = one_document(out)
        if command == "kit" and call.words[1] == "200.toml":
            assert document["totals"]["tiles"] == sum(len(kind["places"]) for kind in document["tiles"]) > 30_000


def valued(command):
    """The options of a command that take a value."""
    return [
        option
        for option in COMMANDS[command].params
        if option.param_type_name == "option" and not option.is_flag and option.name not in FREE_VALUES
    ]


@pytest.mark.parametrize("command", COMMANDS)
def test_no_option_takes_nonsense(command, place):
    here = place()
    here.run("inspect", "cube.stl")
    before = here.tree()
    for option in valued(command):
        # Any name will do for a folder, but not that of a file.
        value = "cube.stl" if option.name == "out" else NONSENSE
        code, out, err = here.run(
            *LEAD[command], *BESIDE.get((command, option.name), ()), option.opts[0], *[value] * option.nargs
        )
        assert (code, out) == (2, ""), (option.name, err)
        assert re.match(r"tilegen: .*\n\Z", err)
        assert option.opts[0] in err or value in err
        assert here.tree() == before


def test_the_only_free_values_are_those_named():
    names = {p.name for command in COMMANDS.values() for p in command.params}
    assert set(FREE_VALUES) <= names
