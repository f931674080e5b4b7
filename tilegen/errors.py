"""The one family of errors: what a user can understand and put right."""

from __future__ import annotations

import difflib
import errno
import os
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

# Control characters (C0, C1), line and paragraph separators, and marks that turn the direction of text (UAX #9).
UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
# How many of many an error names.
_MOST_NAMED = 3
# How many words a person is offered to choose from.
_MOST_LISTED = 12


def one_line(text: str) -> str:
    r"""Text as a terminal may have it: what would end the line, steer the terminal or turn the text is written out.

    >>> one_line("a\x1b[31mb")
    'a\\x1b[31mb'
    """
    return UNSHOWN.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


@dataclass(frozen=True, slots=True)
class RoomRef:
    """A room of a plan that a sentence names."""

    letter: str
    title: str = ""

    def __str__(self) -> str:
        return f'room "{self.letter}"' + (f" ({self.title})" if self.title else "")


@dataclass(frozen=True, slots=True)
class CellRef:
    """A cell of a plan (column, row from 1) that a sentence names."""

    column: int
    row: int

    def __str__(self) -> str:
        return f"cell [{self.column}, {self.row}]"


@dataclass(frozen=True, slots=True)
class KeyRef:
    """A key that a sentence names, with the value that it has or is to have, and its table."""

    key: str
    value: str = ""
    table: str = ""

    def __str__(self) -> str:
        said = f'{self.key} = "{self.value}"' if self.value else self.key
        return f"{said} under [{self.table}]" if self.table else said


@dataclass(frozen=True, slots=True)
class InFile:
    """What only somebody who reads the file needs to be told."""

    words: str

    def __str__(self) -> str:
        return self.words


class Place(str):
    """A place in a plan's file, as text; and which table that is (several: its number from 1), key, room or cell."""

    table: str
    number: int
    key: str
    room: str
    cell: tuple[int, int] | None

    def __new__(
        cls,
        text: str,
        *,
        table: str = "",
        number: int = 0,
        key: str = "",
        room: str = "",
        cell: tuple[int, int] | None = None,
    ) -> Place:
        """See the class."""
        self = super().__new__(cls, text)
        self.table, self.number, self.key, self.room, self.cell = table, number, key, room, cell
        return self


class Said(str):
    """A sentence that names things; as text it names them as the plan's file does.

    >>> Said("{} is solid ground", CellRef(3, 4))
    'cell [3, 4] is solid ground'
    """

    form: str
    things: tuple[object, ...]

    def __new__(cls, form: str, *things: object) -> Said:
        """form: with {} for each of the things; those that are sentences may name things too."""
        self = super().__new__(cls, form.format(*things))
        self.form, self.things = form, things
        return self

    def __getnewargs__(self) -> tuple[object, ...]:  # type: ignore[override]
        return self.form, *self.things

    def named(self, name: Callable[[object], str]) -> str:
        """The sentence with other names of what it names."""
        return self.form.format(*(one.named(name) if isinstance(one, Said) else name(one) for one in self.things))


class TilegenError(Exception):
    """Base of every error the tool raises on purpose; `exit_code` is what the command returns."""

    exit_code = 2


class InputError(TilegenError):
    """The input is wrong.

    text: what is wrong, one sentence without its full stop. cure: what to do about it, one sentence, or lines to add.
    file, place: where it is wrong (a place is a table or key of the file, a cell, an option, a tile).
    """

    def __init__(self, text: str, *, cure: str = "", file: str = "", place: str = "") -> None:
        self.text, self.cure, self.file, self.place = text, cure, file, place
        super().__init__(self.message)

    @property
    def message(self) -> str:
        """All of it in one line: "file, place: text. Cure"."""
        where = ", ".join(part for part in (self.file, self.place) if part)
        text = f"{where}: {self.text}" if where else self.text
        return f"{text}. {self.cure}" if self.cure else text

    def located(self, *, file: str = "", place: str = "") -> InputError:
        """The same error with the file and place where they are not known yet."""
        return self.moved(file=self.file or file, place=self.place or place)

    def moved(self, *, file: str = "", place: str = "") -> InputError:
        """The same error in another file and place, or in none."""
        return InputError(self.text, cure=self.cure, file=file, place=place)


class AnswerIsNo(TilegenError):  # noqa: N818 - an answer, not a fault
    """The work is done, but something needs attention (a file is not closed, there is not enough stock)."""

    exit_code = 1


def nearest(word: str, known: Iterable[str], offer: str = "Choose one of") -> str:
    """A cure for a word that is not known: the nearest known word, or all of them.

    >>> nearest("wals", ["walls", "posts"]), nearest("x", ["walls", "posts"])
    ('Did you mean "walls"?', 'Choose one of: walls, posts')
    """
    words = list(known)
    close = difflib.get_close_matches(word, words, n=3, cutoff=0.6)
    if close:
        # Of words that are equally near all are offered: "est" may be east or west.
        ratios = [difflib.SequenceMatcher(None, other, word).ratio() for other in close]
        alike = sorted(other for other, ratio in zip(close, ratios, strict=True) if ratio == ratios[0])
        return f"Did you mean {either([f'{chr(34)}{other}{chr(34)}' for other in alike])}?"
    if len(words) > _MOST_LISTED:
        words[_MOST_LISTED:] = [f"and {len(words) - _MOST_LISTED} more"]
    return f"{offer}: {', '.join(words)}" if words else ""


def a_few(words: Sequence[str]) -> str:
    """The first three of a list, and how many more there are.

    >>> a_few(["A", "B"]), a_few(["A", "B", "C", "D", "E"])
    ('A and B', 'A, B, C and 2 more')
    """
    shown = [*words[:_MOST_NAMED], *([f"{len(words) - _MOST_NAMED} more"] if len(words) > _MOST_NAMED else [])]
    return " and ".join(filter(None, (", ".join(shown[:-1]), *shown[-1:])))


def either(words: Sequence[str]) -> str:
    """Words as a choice.

    >>> either(["mm", "cm", "in"])
    'mm, cm or in'
    """
    return " or ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def as_written(value: object, most: int = 60) -> str:
    """A value as a person would write it in a file, cut off if it is long.

    >>> as_written(True), as_written([1, "a"]), as_written("1 inn"), as_written({})
    ('true', '[1, "a"]', '"1 inn"', 'a table')
    """
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, list | tuple):
        text = f"[{', '.join(as_written(part, most) for part in value[:most])}]"
    elif isinstance(value, str):
        return f'"{value}"' if len(value) <= most else f'"{value[: most - 3]}..."'
    else:
        text = "a table" if isinstance(value, dict) else "nothing" if value is None else str(value).removesuffix(".0")
    return text if len(text) <= most else f"{text[: most - 3]}..."


def as_phrase(text: str) -> str:
    """A sentence as it stands inside another: only its first letter changes, commands and names stay."""
    return f"{text[:1].lower()}{text[1:]}"


def as_sentence(text: str) -> str:
    """A phrase as it begins a sentence."""
    return f"{text[:1].upper()}{text[1:]}"


def install(extra: str) -> str:
    """The command that installs an extra, for the Python that runs; quoted so that any shell takes it."""
    python = "py" if os.name == "nt" else "python3"
    return f'{python} -m pip install "tilegen[{extra}]"'


# What the system says when a file can't be used, and what helps.
_REFUSALS = {
    errno.ENOENT: ("there is no such file or folder", "Check the path"),
    errno.EACCES: ("you have no permission to use it", "Change its permissions, or choose another place"),
    errno.EPERM: ("you have no permission to use it", "Change its permissions, or choose another place"),
    errno.EISDIR: ("it is a folder, not a file", "Give the path of a file"),
    errno.ENOTDIR: ("part of this path is a file, not a folder", "Choose another folder"),
    errno.EEXIST: ("a file of this name stands where a folder should be", "Choose another folder"),
    errno.ENOSPC: ("the disk is full", "Free some space, or choose another disk"),
    errno.EROFS: ("nothing can be written here", "Choose another place"),
    errno.ENAMETOOLONG: ("the name is too long for this system", "Use a shorter one"),
}


def bug(error: Exception) -> str:
    """What is said of a fault of the program itself."""
    words = f"{type(error).__name__}: {error}".splitlines()[0][:300]
    return f"tilegen has a bug here ({words})"


NO_MEMORY = "there is not enough memory for this job. Close other programs, or make fewer tiles at once"


def refused(error: OSError, file: str | Path = "") -> InputError:
    """What the system says of a file or folder, as an error of the input; file: if the system names none."""
    said = error.strerror or str(error) or type(error).__name__
    text, cure = _REFUSALS.get(error.errno or 0, (as_phrase(said), ""))
    return InputError(text, cure=cure, file=str(error.filename2 or error.filename or file))
