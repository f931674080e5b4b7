"""What a run tells its user: how much of it is shown where."""

import json

import pytest

from tests.calling import call
from tilegen.cli.common import MOST_MESSAGES, tell_messages
from tilegen.messages import Message, decisions, messages_record

DECIDE = [
    Message("decide", f"Number {n} works, but perhaps not as you want.", cure="Do it otherwise.") for n in range(5)
]
NOTE = Message("note", "It is 25.4 mm wide.")


def test_words():
    assert Message("note", "Glue it.").words == "Glue it."
    assert Message("decide", "It wobbles.", place="wall 2", cure="Make it lower.").words == (
        "wall 2: It wobbles. Make it lower."
    )
    lines = '[[way]]\ncell = [1, 2]\nkind = "doorway"'
    assert Message("decide", "No way leads there.", cure=lines).words == (
        'No way leads there. To mend it, add: [[way]]; cell = [1, 2]; kind = "doorway"'
    )


def test_each_decision_once_notes_left_out():
    assert decisions([NOTE, DECIDE[0], DECIDE[1], DECIDE[0]]) == DECIDE[:2]
    assert messages_record([NOTE]) == [{"level": "note", "text": "It is 25.4 mm wide.", "place": "", "cure": ""}]


def shown(capsys, *messages, **how):
    """What there is to decide goes to standard error, the rest to standard output."""
    tell_messages(messages, **how)
    told = capsys.readouterr()
    return [*told.err.splitlines(), *told.out.splitlines()]


def test_three_decisions_are_shown_and_where_the_rest_is(capsys):
    lines = shown(capsys, NOTE, *DECIDE, rest="in the report")
    assert lines[:-1] == [f"  decide: {message.words}" for message in DECIDE[:MOST_MESSAGES]]
    assert lines[-1] == "  2 more to decide: in the report"
    assert shown(capsys, NOTE, DECIDE[0], rest="in the report")[1:] == ["  1 note: in the report"]
    assert shown(capsys, NOTE) == []


def test_verbose_shows_all_in_the_reader_s_unit(capsys):
    lines = shown(capsys, NOTE, *DECIDE, units="in", verbose=True)
    assert lines == [*(f"  decide: {message.words}" for message in DECIDE), "  note: It is 1 in wide."]


@pytest.fixture(scope="module")
def wobbly(tmp_path_factory):
    """A plan with a way that leads nowhere, built with walls that are too thin."""
    folder = tmp_path_factory.mktemp("wobbly")
    (folder / "p.toml").write_text(
        'name = "p"\ndrawing = "AA"\n[grid]\nwall_thickness = "1.5 mm"\nwall_height = "20 mm"\n'
        '[[way]]\ncell = [1, 1]\nside = "west"\nkind = "doorway"\nheight = "15 mm"\n'
    )
    return folder, call("build", folder / "p.toml", "-o", folder, "--json")


def test_what_to_decide_stands_first_in_the_report_and_in_the_json(wobbly):
    folder, done = wobbly
    said = json.loads(done.stdout)
    found = [message["text"] for message in said["messages"] if message["level"] == "decide"]
    assert any("wobble" in text or "break" in text for text in found)
    assert said["notes"] == [Message(**message).words for message in said["messages"]]
    page = (folder / "p/report.html").read_text()
    assert page.index("Decide first") < page.index("Order of work")
    assert page.count(found[0]) == 1


def test_the_first_map_takes_few_lines(tmp_path):
    """What was made, where to start, at most three decisions; then one line of cautions for each process."""
    done = call("build", "hill-shrine", "-o", tmp_path)
    assert done.returncode == 0
    cautions = [line for line in done.stdout.splitlines() if line.startswith("  caution: ")]
    assert len(cautions) == 2
    lines = (done.stdout + done.stderr).splitlines()
    assert len(lines) - len(cautions) <= 12
    assert "report.html" in lines[1]
