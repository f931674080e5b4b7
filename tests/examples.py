"""Examples of the property tests: files as text with the words of a call; kept in a corpus that people can read.

A kept example is a TOML file of its own: which property it is of, why it is kept, and the files as they stand.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import tomlkit

FOLDER = Path(__file__).resolve().parent / "corpus" / "properties"


@dataclass(frozen=True)
class Example:
    """files: text by name; words: further words of the call, beside those that the property itself says."""

    property: str
    files: dict[str, str] = field(hash=False)
    words: tuple[str, ...] = ()

    def table(self, name: str) -> dict:
        """A file as any TOML reader has it."""
        return tomllib.loads(self.files[name])

    def to_text(self, why: str) -> str:
        document = tomlkit.document()
        document["property"], document["why"], document["words"] = self.property, why, list(self.words)
        files = tomlkit.table()
        for name, text in self.files.items():
            files[name] = tomlkit.string("\n" + text, literal=True, multiline=True)
        document["files"] = files
        return _dumped(document)

    def keep(self, name: str, why: str, folder: Path = FOLDER) -> Path:
        """Write it into the corpus."""
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{name}.toml"
        path.write_text(self.to_text(why), encoding="utf-8", newline="\n")
        return path


def read_example(path: Path) -> tuple[Example, str]:
    """A kept example and why it was kept."""
    record = tomllib.loads(path.read_text(encoding="utf-8"))
    return Example(record["property"], dict(record["files"]), tuple(record["words"])), record["why"]


def kept(folder: Path = FOLDER) -> dict[str, Example]:
    """All kept examples, by name.

    Raises:
        AssertionError: there is none.
    """
    found = {path.stem: read_example(path)[0] for path in sorted(folder.glob("*.toml"))}
    assert found, f"no examples in {folder.name}"
    return found


def toml(tables: dict) -> str:
    """Tables as TOML; a drawing stands as it looks, lines below each other."""
    document = tomlkit.document()
    for key, value in tables.items():
        if key == "drawing":
            document[key] = tomlkit.string("\n" + value + "\n", literal=False, multiline=True)
        else:
            document[key] = value
    return _dumped(document)


def _dumped(document: tomlkit.TOMLDocument) -> str:
    """TOML drops a line's end right after the quotes; tomlkit, from some version on, writes one more to keep it."""
    text = tomlkit.dumps(document)
    for quotes in ("'''", '"""'):
        text = text.replace(f"{quotes}\n\n", f"{quotes}\n")
    return text
