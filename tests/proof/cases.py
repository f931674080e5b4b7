"""A case: the files and the words of one call; written down as text, so that it can be kept and read."""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import dataclass
from pathlib import Path

CORPUS = Path(__file__).resolve().parents[1] / "corpus"
_LONGEST_TEXT = 4000


@dataclass(frozen=True)
class Case:
    """One call: `words` after the program's name, `files` by name; `why` says what is nasty about it."""

    name: str
    why: str
    words: tuple[str, ...]
    files: dict[str, bytes]

    def to_text(self) -> str:
        """JSON: short readable files as text, others as base64 of their deflated bytes."""
        files = {name: _packed(data) for name, data in self.files.items()}
        return json.dumps({"why": self.why, "words": list(self.words), "files": files}, indent=1) + "\n"

    @classmethod
    def from_file(cls, path: Path) -> Case:
        """Read what `to_text` wrote."""
        record = json.loads(path.read_text(encoding="utf-8"))
        files = {name: _unpacked(packed) for name, packed in record["files"].items()}
        return cls(path.stem, record["why"], tuple(record["words"]), files)

    def keep(self, folder: Path = CORPUS) -> Path:
        """Write the case into the corpus."""
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{self.name}.json"
        path.write_text(self.to_text(), encoding="utf-8")
        return path


def _packed(data: bytes) -> dict[str, str]:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = ""
    if text and len(text) <= _LONGEST_TEXT:
        return {"text": text}
    return {"base64 of deflated": base64.b64encode(zlib.compress(data, 9)).decode("ascii")}


def _unpacked(packed: dict[str, str]) -> bytes:
    if "text" in packed:
        return packed["text"].encode("utf-8")
    return zlib.decompress(base64.b64decode(packed["base64 of deflated"]))


def corpus(folder: Path = CORPUS) -> list[Case]:
    """All kept cases, by name."""
    return [Case.from_file(path) for path in sorted(folder.glob("*.json"))]
