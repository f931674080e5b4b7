"""What the documentation shows: its fenced blocks and command lines, read from README.md and docs/*.md."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
_FENCE = re.compile(r'^```(\w+)(?: title="([^"]*)")?\n(.*?)^```$', re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block. kind: its language; title: the file that it is, or "part of a ..."."""

    kind: str
    title: str
    text: str

    @property
    def is_file(self) -> bool:
        return bool(self.title) and not self.title.startswith("part of ")


@dataclass(frozen=True)
class Command:
    """One command of a line. words: as the shell splits them; code: how it ends, as its comment says."""

    words: tuple[str, ...]
    code: int

    @property
    def program(self) -> str:
        return self.words[0].rpartition("/")[2]


def blocks_of(page: Path) -> list[Block]:
    return [Block(*found) for found in _FENCE.findall(page.read_text(encoding="utf-8"))]


def commands_of(block: Block) -> Iterator[Command]:
    """The commands of a shell block, also those joined by && in one line."""
    for line in block.text.splitlines():
        code = 1 if re.search(r"#.*\bexit 1\b", line) else 0
        for part in " ".join(shlex.quote(word) for word in shlex.split(line, comments=True)).split("'&&'"):
            words = tuple(shlex.split(part))
            if ">" in words:
                words = words[: words.index(">")]
            if words:
                yield Command(words, code)
