"""Many tiles at once, and files that are there whole or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, TypeVar

from tilegen import __version__
from tilegen.errors import InputError

try:
    import fcntl
except ImportError:  # not on Windows: what a killed run leaves stays there
    fcntl = None  # type: ignore[assignment]

Item = TypeVar("Item")
Result = TypeVar("Result")

MANIFEST = "manifest.json"
# How the names of files that are not whole yet begin.
PART = ".part-"
_LOCK = ".lock"
# Starting workers costs more than it saves for fewer items than this.
_POOL_PAYS_FROM = 64
_KINDS = ("stl", "3mf", "dxf", "svg", "pdf", "json", "csv", "png", "html")


@dataclass(frozen=True, slots=True)
class Written:
    """A file this run made; path relative to the folder, with forward slashes."""

    path: str
    kind: str
    sha256: str


def run_many(work: Callable[[Item], Result], items: Sequence[Item], jobs: int = 1) -> list[Result]:
    """The work done on each item, in order; by several processes where that pays."""
    if jobs <= 1 or len(items) < _POOL_PAYS_FROM:
        return [work(item) for item in items]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(work, items, chunksize=max(1, len(items) // (4 * jobs))))


def write_files(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    manifests: Sequence[str] = (MANIFEST,),
    record: Mapping[str, Any] | None = None,
) -> list[Written]:
    """Write a run's files, remove what only an earlier run had made, and leave a manifest of this one.

    files: content by path relative to the folder. manifests: the first is written; what any of them lists and
    this run did not make is removed, unless somebody has changed it since. record: what the manifest says besides.

    Raises:
        InputError: the folder or a file can't be written; nothing is left half-written.
        ValueError: a path that leads out of the folder, or of no known kind.
    """
    for path in map(PurePosixPath, files):
        if path.is_absolute() or ".." in path.parts:
            raise ValueError(f"{path} leads out of the folder")
    written = [Written(path, kind_of(path), hashlib.sha256(content).hexdigest()) for path, content in files.items()]
    earlier = [entry for name in manifests for entry in _entries(folder / name)]
    told = {"made_by": f"tilegen {__version__}", "files": [_entry(w) for w in written], **(record or {})}
    write_bare(folder, {**files, manifests[0]: (json.dumps(told, indent=1) + "\n").encode()})
    stale = [name for name in manifests[1:] if (folder / name).is_file()]
    _remove(folder, earlier, {w.path for w in written}, stale)
    return written


def write_bare(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files, each whole or not at all.

    Raises:
        InputError: the folder or a file can't be written.
    """
    try:
        _write_aside_then_rename(folder, files)
    except OSError as error:
        raise InputError(
            error.strerror or "a folder that can't be written",
            expected="a folder to write into",
            file=str(error.filename2 or error.filename or folder),
        ) from None


def write_text(path: Path, pieces: Iterable[str]) -> None:
    """Write a text of any length piece by piece, whole or not at all.

    Raises:
        InputError: it can't be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        number, aside = tempfile.mkstemp(prefix=PART, dir=path.parent)
        try:
            with os.fdopen(number, "w", encoding="utf-8", newline="\n") as stream:
                stream.writelines(pieces)
            Path(aside).chmod(0o666 & ~_umask())
            Path(aside).replace(path)
        finally:
            Path(aside).unlink(missing_ok=True)
    except OSError as error:
        raise InputError(error.strerror or "a file that can't be written", file=str(error.filename or path)) from None


def _entry(written: Written) -> dict[str, str]:
    return {"path": written.path, "kind": written.kind, "sha256": written.sha256}


def kind_of(path: str) -> str:
    """A file's kind, from the end of its name."""
    kind = PurePosixPath(path).suffix.removeprefix(".")
    if kind not in _KINDS:
        raise ValueError(f"{path} is of no known kind")
    return kind


def file_stem(name: str) -> str:
    """A name in small letters, digits and hyphens; empty if it has none of these."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _write_aside_then_rename(folder: Path, files: Mapping[str, bytes]) -> None:
    pending: list[tuple[Path, Path]] = []
    with contextlib.suppress(OSError):
        _remove_orphans(folder)
    # Made first and removed last: while this run lives its part files are told from those of one that was killed.
    mark = PART + secrets.token_hex(4)
    lock = _lock(folder, mark) if fcntl else None
    try:
        for path, content in files.items():
            target = folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            if target.is_dir():
                raise IsADirectoryError(21, "a folder where a file should go", str(target))
            number, aside = tempfile.mkstemp(prefix=f"{mark}-", dir=target.parent)
            pending.append((Path(aside), target))
            with os.fdopen(number, "wb") as stream:
                stream.write(content)
            Path(aside).chmod(0o666 & ~_umask())
        for aside_path, target in pending:
            aside_path.replace(target)
    finally:
        for aside_path, _ in pending:
            aside_path.unlink(missing_ok=True)
        if lock is not None:
            (folder / f"{mark}{_LOCK}").unlink(missing_ok=True)
            os.close(lock)


def _lock(folder: Path, mark: str) -> int:
    """A locked file that says that a run is alive; the system frees it when the run ends in any way."""
    folder.mkdir(parents=True, exist_ok=True)
    number = os.open(folder / f"{mark}{_LOCK}", os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
    with contextlib.suppress(OSError):  # some network file systems know no locks
        fcntl.flock(number, fcntl.LOCK_EX)
    return number


def _remove_orphans(folder: Path) -> None:
    """Part files of runs that were killed: those whose mark nobody holds locked."""
    for mark in folder.glob(f"{PART}*{_LOCK}") if fcntl else ():
        number = os.open(mark, os.O_RDWR)
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
            for orphan in folder.rglob(f"{mark.name.removesuffix(_LOCK)}-*"):
                orphan.unlink(missing_ok=True)
            mark.unlink(missing_ok=True)
        except OSError:
            continue
        finally:
            os.close(number)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _entries(manifest: Path) -> list[tuple[str, str]]:
    """(path, sha256) of the files an earlier run made; none where its manifest can't be read."""
    try:
        data: Any = json.loads(manifest.read_text(encoding="utf-8"))
        return [(str(entry["path"]), str(entry["sha256"])) for entry in data["files"]]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []


def _remove(folder: Path, earlier: Iterable[tuple[str, str]], kept: set[str], stale: Iterable[str]) -> None:
    for name in stale:
        (folder / name).unlink(missing_ok=True)
    for path, digest in earlier:
        pure = PurePosixPath(path)
        if path in kept or pure.is_absolute() or ".." in pure.parts:
            continue
        target = folder / path
        with contextlib.suppress(OSError):
            if not target.is_symlink() and hashlib.sha256(target.read_bytes()).hexdigest() == digest:
                target.unlink()
                target.parent.rmdir()
