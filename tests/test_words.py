"""The list of words that users meet is complete: a new command, option, layer or tool is asked about first."""

import re
from pathlib import Path
from typing import get_args

import typer

from tilegen.cli import app
from tilegen.sheets.drawing import Layer

ROOT = Path(__file__).parents[1]
LISTED = set(re.findall(r"`([^`]+)`", (ROOT / "docs/words.md").read_text()))
COMMANDS = typer.main.get_command(app).commands
OPTIONS = sorted(
    {
        word
        for command in COMMANDS.values()
        for parameter in command.params
        for word in (*parameter.opts, *parameter.secondary_opts)
        if word.startswith("--") and word != "--help"
    }
)


def test_every_word_is_listed():
    assert not {*COMMANDS, *OPTIONS, *get_args(Layer)} - LISTED


def test_nothing_is_listed_that_is_gone():
    assert {word for word in LISTED if word.startswith("--")} == set(OPTIONS)


def test_the_tools_of_the_page_are_listed():
    page = (ROOT / "tilegen/desk/page/desk.html").read_text()
    tools = set(re.findall(r'data-tool="([^"]+)"', page))
    said = (ROOT / "docs/words.md").read_text()
    assert tools
    assert all(re.search(rf"\b{tool}\b", said) for tool in tools)
