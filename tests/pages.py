"""What the documentation shows: its fenced blocks and command lines, read from README.md and docs/*.md."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
_NAV = (ROOT / "mkdocs.yml").read_text(encoding="utf-8").split("\nnav:\n")[1]
MADE = ("commands.md", "formats.md")  # made from the program while the pages are built
# In the order in which they are read.
PAGES = [
    ROOT / "README.md",
    *(ROOT / "docs" / name for name in re.findall(r"\S+\.md$", _NAV, re.M) if name not in MADE),
]
_FENCE = re.compile(r'^```(\w+)(?: title="([^"]*)")?\n(.*?)^```$', re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block. kind: its language; title: the file that it is, "part of a ..." or other words."""

    kind: str
    title: str
    text: str

    @property
    def is_file(self) -> bool:
        return "." in self.title


@dataclass(frozen=True)
class Command:
    """One command of a line. words: as the shell splits them; code: how it ends; into: the file that takes its output."""

    words: tuple[str, ...]
    code: int
    into: str = ""

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
            words, into = (words[:-2], words[-1]) if ">" in words else (words, "")
            if words:
                yield Command(words, code, into)
