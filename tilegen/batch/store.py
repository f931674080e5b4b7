"""What a batch keeps on disk: a folder for each variant with a manifest of its own, and one for all of them.

A variant's manifest is renamed into place after its files, so what it lists is there; on a rerun a variant whose
manifest was made from the same input, and whose files still have their hashes, is not made again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from tilegen import __version__
from tilegen.jobs import MANIFEST, PART, write_files, write_text

Record = dict[str, Any]


@dataclass(frozen=True)
class Fate:
    """What became of a variant.

    state: made, kept, same, failed. told: the variant it is the same as, why it failed, what is wrong with its files.
    """

    name: str
    parameters: Mapping[str, str]
    state: str
    told: str = ""

    @property
    def there(self) -> bool:
        """Whether the variant has a folder of its own."""
        return self.state in ("made", "kept")


@dataclass(frozen=True)
class Store:
    """The folder of one batch."""

    folder: Path
    names: set[str] = field(default_factory=set)

    def record(self, name: str) -> Record | None:
        """A variant's manifest; None where there is none that can be read."""
        try:
            found = json.loads((self.folder / name / MANIFEST).read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return None
        return found if isinstance(found, dict) and isinstance(found.get("files"), list) else None

    def whole(self, name: str, recipe: str) -> Record | None:
        """A variant's manifest, if it was made from this input and all its files are there unchanged."""
        found = self.record(name)
        if found is None or found.get("recipe") != recipe:
            return None
        try:
            fits = all(_digest(self.folder / name / f["path"]) == f["sha256"] for f in found["files"])
        except (OSError, KeyError, TypeError):
            return None
        return found if fits else None

    def write(self, name: str, files: Mapping[str, bytes], record: Record) -> None:
        """A variant's files and its manifest.

        Raises:
            InputError: the folder can't be written.
        """
        write_files(self.folder / name, files, record=record)

    def clear(self, name: str) -> None:
        """Remove what a run that was killed had begun to write for a variant."""
        for stray in (self.folder / name).rglob(f"{PART}*"):
            stray.unlink(missing_ok=True)

    def remove(self, name: str) -> None:
        """Remove what an earlier run made for a variant, but nothing that somebody has changed or added."""
        found, folder = self.record(name), self.folder / name
        if found is None or "recipe" not in found:
            return
        self.clear(name)
        for entry in found["files"]:
            path = PurePosixPath(str(entry.get("path", "..")))
            with contextlib.suppress(OSError):
                if ".." not in path.parts and not path.is_absolute() and _digest(folder / path) == entry["sha256"]:
                    (folder / path).unlink()
        (folder / MANIFEST).unlink()
        for inner in sorted(folder.rglob("*"), reverse=True):
            with contextlib.suppress(OSError):
                inner.rmdir()
        with contextlib.suppress(OSError):
            folder.rmdir()

    def remove_others(self, names: set[str]) -> None:
        """Remove what an earlier run made and this batch does not have."""
        for stray in self.folder.glob(f"{PART}*"):
            stray.unlink(missing_ok=True)
        for path in sorted(self.folder.glob(f"*/{MANIFEST}")):
            if path.parent.name not in names:
                self.remove(path.parent.name)

    def finish(self, fates: Callable[[], Iterable[Fate]]) -> None:
        """The manifest of the whole batch, written as it is put together: variants in order, then every file's hash.

        Raises:
            InputError: it can't be written.
        """
        write_text(self.folder / MANIFEST, _manifest(self, fates))

    def files(self, fates: Iterable[Fate]) -> Iterator[Record]:
        """Every file of the variants, path, kind and hash, paths from the batch's folder."""
        for fate in fates:
            if fate.there:
                for entry in (self.record(fate.name) or {"files": []})["files"]:
                    yield {**entry, "path": f"{fate.name}/{entry['path']}"}


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _manifest(store: Store, fates: Callable[[], Iterable[Fate]]) -> Iterator[str]:
    yield f'{{\n"made_by": "tilegen {__version__}",\n"variants": [\n'
    yield from listed(_variant(store, fate) for fate in fates())
    yield '],\n"files": [\n'
    yield from listed(store.files(fates()))
    yield "]\n}\n"


def _variant(store: Store, fate: Fate) -> Record:
    told: Record = {"name": fate.name, "parameters": dict(fate.parameters)}
    if fate.there:
        return {**told, "id": (store.record(fate.name) or {}).get("id", ""), "answer": fate.told}
    return {**told, "same_as" if fate.state == "same" else "failed": fate.told}


def listed(items: Iterable[Record]) -> Iterator[str]:
    """The items of a JSON list, one a line."""
    comma = ""
    for item in items:
        yield f"{comma}{json.dumps(item)}"
        comma = ",\n"
    yield "\n"
