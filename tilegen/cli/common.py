"""What the commands share: plans and profiles by their words, output for people and for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tilegen.cli.telling import command_line, say
from tilegen.errors import InputError, one_line
from tilegen.files.toml import find, read_toml
from tilegen.files.writing import Written, portable
from tilegen.lengths import Units, counted, in_units
from tilegen.messages import Message, decisions

if TYPE_CHECKING:
    from rich.table import Table

    from tilegen.making.asked import Covering
    from tilegen.making.plan import OpenPlan
    from tilegen.model.grid import Over


_OTHER: dict[str, tuple[str, str, str]] = {
    "plans": ("profiles", "tile", "a profile of one tile, not a plan"),
    "profiles": ("plans", "drawing", "a plan of a whole map, not a profile"),
}
_COMMAND = {"plans": "build", "profiles": "tile"}


def find_as(word: str | Path, kind: str) -> Path:
    """The plan or profile that a user means; the file itself shows which of the two it is.

    Raises:
        InputError: no such file; or a profile for a plan, or the other way round, with the command for it.
    """
    other, key, words = _OTHER[kind]
    try:
        path = find(word, kind)
    except InputError as error:
        try:
            find(word, other)
        except InputError:
            raise error from None
        found = True
    else:
        tables = read_toml(path) if path.suffix == ".toml" else {}
        found = key in tables and _OTHER[other][1] not in tables
    if found:
        right = command_line(_COMMAND[other], word)
        raise InputError(f"this is {words}", cure=f"Use: {right}", file=str(word))
    return path


def open_word(word: str, over: Over, covering: Covering | None = None, own: Path | None = None) -> OpenPlan:
    """A plan by path or shipped name.

    Raises:
        InputError: not found, or something in it is wrong.
    """
    # What counts a plan takes longer to import than a batch that is there already takes to look through.
    from tilegen.making.asked import Covering
    from tilegen.making.plan import open_plan

    return open_plan(find_as(word, "plans"), over, covering or Covering(), own)


def distinct_stems(paths: Iterable[Path | None]) -> list[str]:
    """A folder name for each file.

    Raises:
        InputError: two files would share a folder.
    """
    stems = [portable(path.stem) for path in paths if path]
    folded = [stem.casefold() for stem in stems]
    for stem in stems:
        if folded.count(stem.casefold()) > 1:
            raise InputError(
                f'two of the files are called "{stem}", so their folders would be the same', cure="Rename one of them"
            )
    return stems


def warn(text: str) -> None:
    """Print a warning on standard error, even with --quiet."""
    say(f"tilegen: {text}", err=True)


# The terminal shows so many messages that need a decision.
MOST_MESSAGES = 3


def tell_messages(messages: Sequence[Message], units: Units = "mm", *, verbose: bool = False, rest: str = "") -> None:
    """Show on standard error what there is to decide, with what would mend it; and, if verbose, all notes.

    rest: where to find what is not shown.
    """
    known = list(dict.fromkeys(messages))
    shown = known if verbose else decisions(known)[:MOST_MESSAGES]
    for message in shown:
        say(f"  {message.level}: {in_units(message.words, units)}", err=message.level != "note")
    left = len(decisions(known)) - len(decisions(shown))
    if left or (rest and len(shown) < len(known)):
        more = f"{left} more to decide" if left else counted(len(known) - len(shown), "note")
        say(f"  {more}: {rest or '--verbose shows all'}", err=bool(left))


def tell_cautions(
    usual: Sequence[str], first: Sequence[str], about: Sequence[str], units: Units, *, verbose: bool, rest: str
) -> None:
    """Show one line of cautions for each process and one for what the pieces carry, or every caution if verbose.

    usual, first: all of the processes, and one line for each. about: of the pieces. rest: where to find all of them.
    """
    for line in dict.fromkeys((*usual, *about) if verbose else (*first, *about[:1])):
        say(f"  caution: {in_units(line, units)}")
    if not verbose:
        say(f"  all cautions: {rest}")


def file_records(folder: Path, written: Iterable[Written]) -> list[dict[str, str]]:
    """The files made, for the JSON; paths as seen from where the command was run."""
    return [{"path": (folder / w.path).as_posix(), "kind": w.kind, "sha256": w.sha256} for w in written]


def print_json(document: Any) -> None:  # noqa: ANN401
    """One JSON document on standard output."""
    sys.stdout.write(json.dumps(document, indent=1) + "\n")


@contextmanager
def progress(text: str, *, quiet: bool) -> Iterator[None]:
    """Say on a terminal's standard error what is going on; elsewhere nothing."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(text):
        yield


def show(*things: object) -> None:
    """Print tables or lines; wide enough for a file when standard output is not a terminal."""
    from rich.console import Console  # slow to import

    console = Console(soft_wrap=True, markup=False, emoji=False, highlight=False)
    if not console.is_terminal:
        console.width = 140
    for thing in things:
        console.print(one_line(thing) if isinstance(thing, str) else thing)


def plain_table(headings: Iterable[str], rows: Iterable[Iterable[str]], title: str) -> Table:
    """A table of texts."""
    from rich.table import Table

    table = Table(*map(one_line, headings), title=one_line(title) or None, title_justify="left")
    for row in rows:
        table.add_row(*map(one_line, row))
    return table
