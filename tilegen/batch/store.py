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
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tilegen.errors import InputError, a_few
from tilegen.files.writing import (
    MANIFEST,
    PART,
    Job,
    Tell,
    check_folder,
    clear,
    read_claim,
    write_files,
    write_manifest,
)
from tilegen.version import __version__

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
    told: str
    id: str
    settled: Mapping[str, str]

    @property
    def there(self) -> bool:
        """Whether the variant has a folder of its own."""
        return self.state in ("made", "kept")


@dataclass(frozen=True)
class Store:
    """The folder of one batch. vary: the lists of values, as text. tell: called for each file that is kept."""

    folder: Path
    job: Job
    vary: Sequence[str]
    tell: Tell

    def check(self, names: Callable[[], Iterable[str]]) -> None:
        """Refuse a folder that holds anything of another job, or of this one with other values beside these.

        Raises:
            InputError: names both, and the cure.
        """
        check_folder(self.folder, self.job)
        if not self.folder.is_dir() or read_claim(self.folder / MANIFEST).get("vary") == list(self.vary):
            return
        others = sorted(self._theirs() - set(names()))
        if others:
            raise InputError(
                f"here are variants of another batch: {a_few(others)}",
                cure="Choose another folder with -o, name the values of both batches, or remove this one first",
                file=str(self.folder),
            )

    def _theirs(self) -> set[str]:
        """The folders that a batch has made here: a copy of one under another name is the user's."""
        names = (path.name for path in self.folder.iterdir() if (path / MANIFEST).is_file())
        return {name for name in names if (self.record(name) or {}).get("name") == name}

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
        sizes = [len(content) for content in files.values()]
        job = replace(self.job, name=name)
        write_files(self.folder / name, files, job=job, record={"bytes": sizes, **record}, tell=self.tell)

    def _remove(self, name: str) -> None:
        """Remove what an earlier run made for a variant, but nothing that somebody has changed or added."""
        folder = self.folder / name
        write_files(folder, {}, job=replace(self.job, name=name))
        (folder / MANIFEST).unlink()
        with contextlib.suppress(OSError):
            folder.rmdir()

    def remove_others(self, names: set[str]) -> None:
        """Remove what an earlier run made and this batch does not have."""
        for begun in {path.parent for path in self.folder.glob(f"*/{PART}*")}:
            clear(begun)
        for name in sorted(self._theirs() - names):
            self._remove(name)

    def finish(self, fates: Callable[[], Iterable[Fate]]) -> None:
        """The manifest of the whole batch, written as it is put together: variants in order, then every file's hash.

        Raises:
            InputError: it can't be written.
        """
        write_manifest(self.folder, _manifest(self, fates), self.tell)

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
    head = {"made_by": f"tilegen {__version__}", **store.job.record(store.folder), "vary": list(store.vary)}
    yield f'{json.dumps(head, indent=0)[:-2]},\n"variants": [\n'
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
