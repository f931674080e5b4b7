"""Text from files on its way to the terminal: nothing fails there, nothing steers it, brackets stay brackets."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.calling import call
from tilegen.errors import UNSHOWN, InputError, one_line
from tilegen.files.tables import PlanFile
from tilegen.files.toml import check

ROOT = Path(__file__).resolve().parents[2]
PLAN = 'name = "{name}"\ndrawing = """\nA A\n"""\n[rooms]\nA = "{title}"\n'


def python_m(*words, **env):
    return subprocess.run(
        [sys.executable, "-m", "tilegen", *map(str, words)],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, **env},
        check=False,
        timeout=120,
    )


def test_what_the_console_can_not_show_is_no_fault(tmp_path):
    plan = tmp_path / "Łaźnia.toml"
    plan.write_text(PLAN.format(name="Łaźnia", title="ᚠ 城"), encoding="utf-8")
    done = python_m("kit", plan, PYTHONIOENCODING="cp1252")
    assert (done.returncode, done.stderr) == (0, b"")
    assert "\\u0141a\\u017ania" in done.stdout.decode("cp1252")
    assert "Łaźnia" in call("kit", plan).stdout


@settings(max_examples=30)
# With all that steers a terminal or a line; plain `st.text()` reads the whole of Unicode first.
@given(st.text(st.sampled_from("ab \n\r\t\x00\x07\x1b\x7f\x85\x9b\u200e\u2028\u202e\u2066\ufeff\u57ce")))
def test_one_line_is_one_line_and_says_the_same(text):
    shown = one_line(text)
    assert not UNSHOWN.search(shown)
    assert len(shown.splitlines()) <= 1
    if not UNSHOWN.search(text):
        assert shown == text


def test_names_that_would_steer_a_terminal_are_refused_in_one_line(tmp_path):
    for sign in ["\n", "\x1b[2J", "\x9b31m", "\u202e", "\u2028", "\x00"]:
        for tables in (
            {"name": f"a{sign}b"},
            {"name": "a", "rooms": {"A": f"a{sign}b"}},
            {"name": "a", f"k[{sign}": 1},
        ):
            with pytest.raises(InputError) as refused:
                check({"drawing": "A A", **tables}, PlanFile, "plan.toml")
            assert "plan.toml" in refused.value.message
        done = call("kit", tmp_path / f"a{sign.replace(chr(0), '')}b.toml")
        assert done.returncode == 2


def test_a_file_s_name_can_not_steer_the_terminal(tmp_path):
    done = python_m("kit", tmp_path / "Ł\x1b[31m\nb\u202e.toml", PYTHONIOENCODING="cp1252")
    assert done.returncode == 2
    assert b"no such file" in done.stderr
    assert b"\\x1b[31m\\nb\\u202e.toml" in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_names_are_no_markup(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(name="[red]x[/red] :smile:", title="[b]"))
    done = call("kit", plan, "--by-room")
    assert "[red]x[/red] :smile:" in done.stdout
    assert "[b]" in done.stdout


@pytest.mark.parametrize("command", ["tile", "fit", "build"])
def test_help_keeps_its_brackets(command):
    text = " ".join(call(command, "--help").stdout.split())
    assert "[[variant]] tables" in text if command == "tile" else "[OPTIONS]" in text


def test_text_goes_to_the_terminal_one_way():
    """`say` alone echoes; what prints JSON writes ASCII."""
    for path in (ROOT / "tilegen").rglob("*.py"):
        if path.name != "telling.py":
            assert not re.search(r"typer\.echo|[^.\w]print\(", path.read_text(encoding="utf-8")), path


def test_what_is_said_of_sheets_stands_under_cutting_and_in_the_reader_s_unit(small, tmp_path):
    done = call("build", small, "--units", "in", "-o", tmp_path)
    assert done.returncode == 0
    assert not re.search(r"\d mm\b", done.stdout)
    page = (tmp_path / "small" / "report.html").read_text(encoding="utf-8")
    sections = re.split(r"<h2>", page)
    printing = next(text for text in sections if text.startswith("Printing"))
    cutting = next(text for text in sections if text.startswith("Cutting from"))
    assert "knife" not in printing
    assert "from the knife and steel ruler" in cutting
    assert not [text for text in (printing, cutting) if re.search(r"\d mm\b", re.sub(r"<[^>]*>", "", text))]
