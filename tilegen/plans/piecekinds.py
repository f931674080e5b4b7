"""The larger pieces that may be used, read from their words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tilegen.errors import InputError

LONGEST = 20
_WORDS = "2x1, 2x2, 4x2 (any width by any depth), run-3 (a straight corridor), tee, cross"
Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class PieceKind:
    """A larger piece that may be used: the squares it covers, and whether it is a piece of corridor.

    cells: (column, row) from its first square. corridor: walls must stand along it wherever it does not end.
    """

    word: str
    cells: tuple[Cell, ...]
    corridor: bool = False


def read_kinds(text: str) -> tuple[PieceKind, ...]:
    """The pieces of a list such as "2x1, 4x2, run-3, tee", in every turn.

    Raises:
        InputError: a word that is none of them.
    """
    kinds: dict[tuple[tuple[Cell, ...], bool], PieceKind] = {}
    for word in filter(None, re.split(r"[,\s]+", text.lower())):
        for kind in _kinds_of(word):
            kinds.setdefault((kind.cells, kind.corridor), kind)
    if not kinds:
        raise InputError("no piece", expected=_WORDS, place="--pieces")
    return tuple(kinds.values())


def _kinds_of(word: str) -> Iterator[PieceKind]:
    if match := re.fullmatch(r"(\d{1,3})x(\d{1,3})", word):
        width, depth = int(match[1]), int(match[2])
        if 1 <= width <= LONGEST and 1 <= depth <= LONGEST:
            for w, d in ((width, depth), (depth, width)):
                yield PieceKind(word, tuple((c, r) for r in range(d) for c in range(w)))
            return
    elif match := re.fullmatch(r"run-(\d{1,3})", word):
        length = int(match[1])
        if 2 <= length <= LONGEST:
            yield PieceKind(word, tuple((c, 0) for c in range(length)), corridor=True)
            yield PieceKind(word, tuple((0, r) for r in range(length)), corridor=True)
            return
    elif word in ("tee", "cross"):
        arms = ((1, 0), (2, 1), (1, 2), (0, 1))
        for left_out in range(4) if word == "tee" else (None,):
            cells = [(1, 1), *(arm for k, arm in enumerate(arms) if k != left_out)]
            column, row = min(c for c, _ in cells), min(r for _, r in cells)
            moved = sorted(((c - column, r - row) for c, r in cells), key=lambda cell: (cell[1], cell[0]))
            yield PieceKind(word, tuple(moved), corridor=True)
        return
    raise InputError(f'the piece "{word}"', expected=f"{_WORDS}, up to {LONGEST} squares long", place="--pieces")
