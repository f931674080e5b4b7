"""What a batch keeps on disk: a folder for each variant with a manifest of its own, and one for all of them.

A variant's manifest is renamed into place after its files, so what it lists is there; on a rerun a variant whose
manifest was made from the same input, and whose files are unchanged, is not made again. A file is unchanged if it has
the size that the manifest says and the system has seen no change of it since the manifest was written; where a time is
later, its hash decides. So what is not seen is a change that keeps the size and is dated before the manifest.
"""

# ruff: noqa: PTH116, PTH123 - a path object takes as long as the look at a file itself

from __future__ import annotations

import contextlib
import hashlib
import json
import os
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
    id: of a variant that is there. settled: by what the next run knows one that was not made again.
    """

    name: str
    parameters: Mapping[str, str]
    state: str
    told: str = ""
    id: str = ""
    settled: Mapping[str, str] = field(default_factory=dict)

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
            with open(f"{self.folder}/{name}/{MANIFEST}", "rb") as stream:
                found = json.loads(stream.read())
        except (OSError, ValueError, RecursionError):
            return None
        return found if isinstance(found, dict) and isinstance(found.get("files"), list) else None

    def whole(self, name: str, recipe: str) -> Record | None:
        """A variant's manifest, if it was made from this input and all its files are there unchanged."""
        found = self.record(name)
        if found is None or found.get("recipe") != recipe:
            return None
        folder = f"{self.folder}/{name}"
        try:
            bytes.fromhex(found["type"])
            seen = _last_change(os.stat(f"{folder}/{MANIFEST}"))
            sizes = found.get("bytes") or [-1] * len(found["files"])
            fits = all(
                _unchanged(f"{folder}/{f['path']}", size, f["sha256"], seen)
                for f, size in zip(found["files"], sizes, strict=True)
            )
        except (OSError, KeyError, TypeError, ValueError):
            return None
        return found if fits else None

    def settled(self) -> dict[str, Record]:
        """What an earlier run did not make, by name: what can't be made, and what is the same as another."""
        found: dict[str, Record] = {}
        with (
            contextlib.suppress(OSError, ValueError, KeyError, TypeError),
            (self.folder / MANIFEST).open(encoding="utf-8") as lines,
        ):
            for line in lines:
                if line.startswith("]"):
                    break
                if '"recipe": ' in line:
                    entry = json.loads(line.rstrip(",\n"))
                    found[entry["name"]] = entry
        return found

    def write(self, name: str, files: Mapping[str, bytes], record: Record) -> None:
        """A variant's files and its manifest.

        Raises:
            InputError: the folder can't be written.
        """
        write_files(self.folder / name, files, record={"bytes": [len(content) for content in files.values()], **record})

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
        if not self.folder.is_dir():
            return
        for name in sorted({path.name for path in self.folder.iterdir()} - names):
            if (self.folder / name / MANIFEST).is_file():
                self.remove(name)

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


def _last_change(status: os.stat_result) -> int:
    """When a file was last written, renamed or given another date, as far as the system tells; ns."""
    return max(status.st_mtime_ns, status.st_ctime_ns)


def _unchanged(path: str, size: int, digest: str, seen: int) -> bool:
    """Whether a file is as it was at a moment, by size and times; by its hash where these don't tell."""
    status = os.stat(path)
    if status.st_size == size and _last_change(status) <= seen:
        return True
    return _digest(Path(path)) == digest


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _manifest(store: Store, fates: Callable[[], Iterable[Fate]]) -> Iterator[str]:
    yield f'{{\n"made_by": "tilegen {__version__}",\n"variants": [\n'
    yield from listed(_variant(fate) for fate in fates())
    yield '],\n"files": [\n'
    yield from listed(store.files(fates()))
    yield "]\n}\n"


def _variant(fate: Fate) -> Record:
    told: Record = {"name": fate.name, "parameters": dict(fate.parameters)}
    if fate.there:
        return {**told, "id": fate.id, "answer": fate.told}
    return {**told, "same_as" if fate.state == "same" else "failed": fate.told, **fate.settled}


def listed(items: Iterable[Record]) -> Iterator[str]:
    """The items of a JSON list, one a line."""
    comma = ""
    for item in items:
        yield f"{comma}{json.dumps(item)}"
        comma = ",\n"
    yield "\n"
