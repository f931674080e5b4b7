"""The one family of errors: what a user can be told and can put right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

# Control characters (C0, C1), line and paragraph separators, and marks that turn the direction of text (UAX #9).
UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
# How many of many an error names.
_MOST_NAMED = 3


def one_line(text: str) -> str:
    r"""Text as a terminal may have it: what would end the line, steer the terminal or turn the text is written out.

    >>> one_line("a\x1b[31mb")
    'a\\x1b[31mb'
    """
    return UNSHOWN.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


class TilegenError(Exception):
    """Base of every error the tool raises on purpose; `exit_code` is what the command returns."""

    exit_code = 2


class InputError(TilegenError):
    """The input is wrong.

    text: what is wrong, one sentence without its full stop. cure: what to do about it, one sentence, or lines to add.
    file, place: where it is wrong (a place is a table or key of the file, a cell, an option, a tile).
    """

    def __init__(self, text: str, *, cure: str = "", file: str = "", place: str = "", expected: str = "") -> None:
        self.text, self.cure, self.file, self.place, self.expected = text, cure, file, place, expected
        super().__init__(self.message)

    @property
    def message(self) -> str:
        """All of it in one line: "file, place: text. Cure"."""
        if self.expected:
            where = ": ".join(part for part in (self.file, self.place) if part)
            text = f"{where}: found {self.text}" if where else f"found {self.text}"
            text += f"; expected {self.expected}"
            return f"{text}. {self.cure[0].upper()}{self.cure[1:]}" if self.cure else text
        where = ", ".join(part for part in (self.file, self.place) if part)
        text = f"{where}: {self.text}" if where else self.text
        return f"{text}. {self.cure}" if self.cure else text

    @property
    def found(self) -> str:
        """What is wrong."""
        return self.text

    def located(self, *, file: str = "", place: str = "") -> InputError:
        """The same error with the file and place where they are not known yet."""
        return InputError(
            self.text,
            cure=self.cure,
            file=self.file or file,
            place=self.place or place,
            expected=self.expected,
        )


class AnswerIsNo(TilegenError):  # noqa: N818 - an answer, not a fault
    """The work was done and the answer is no (a file is not closed, the stock does not suffice)."""

    exit_code = 1


def nearest(word: str, known: Iterable[str]) -> str:
    """A cure that offers the nearest known word, or lists the known ones.

    >>> nearest("wals", ["walls", "posts"])
    'Did you mean "walls"?'
    """
    words = list(known)
    close = difflib.get_close_matches(word, words, n=3, cutoff=0.6)
    if close:
        # Of words that are equally near all are offered: "est" may be east or west.
        ratios = [difflib.SequenceMatcher(None, other, word).ratio() for other in close]
        alike = sorted(other for other, ratio in zip(close, ratios, strict=True) if ratio == ratios[0])
        return f"Did you mean {' or '.join(f'{chr(34)}{other}{chr(34)}' for other in alike)}?"
    return "Choose one of: " + ", ".join(words) if words else ""


def a_few(words: Sequence[str]) -> str:
    """The first three of a list, and how many more there are.

    >>> a_few(["A", "B"]), a_few(["A", "B", "C", "D", "E"])
    ('A and B', 'A, B, C and 2 more')
    """
    shown = [*words[:_MOST_NAMED], *([f"{len(words) - _MOST_NAMED} more"] if len(words) > _MOST_NAMED else [])]
    return " and ".join(filter(None, (", ".join(shown[:-1]), *shown[-1:])))
