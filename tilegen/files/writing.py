"""Files that are there whole or not at all.

A job owns the files that its manifest lists by path and hash. This holds at every moment, after a kill too:
**a file that a job wrote stands with its hash in that job's manifest; whatever else lies there is the user's.**
So a run first writes everything beside its place, under names that begin with `PART`. Then come a manifest that lists
both what was there and what is to come, the renames, the removal of what the job makes no more, and the last manifest.
Part files belong to nobody: the next run removes them. One run at a time does this in a folder, under a lock.

A file of the user's where one of the job's must go is linked to a free name, `<name>.kept<ext>`, before it is replaced.
Two jobs never write into one folder.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import itertools
import json
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from tilegen.errors import InputError, refused
from tilegen.files.toml import shipped
from tilegen.version import __version__

try:
    import fcntl
except ImportError:  # not on Windows: what a killed run leaves stays there
    fcntl = None  # type: ignore[assignment]

Tell = Callable[[str], None]

MANIFEST = "manifest.json"
# How the names of files that are not whole yet begin.
PART = ".part-"
_LOCK = f"{PART}lock"
# Windows keeps these for devices, whatever ending follows (Microsoft, "Naming Files, Paths, and Namespaces").
_DEVICE = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3])\s*(\.|$)", re.IGNORECASE)
_LONGEST_STEM = 100
# The head of a batch's manifest ends here; there may be a million variants.
_VARIANTS, _HEAD = b'"variants": [', 4096


@dataclass(frozen=True, slots=True)
class Written:
    """A file this run made; path relative to the folder, with forward slashes."""

    path: str
    kind: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Job:
    """Who writes into a folder: a command, and the file that it works on; name: what that file calls itself.

    kind: "plan" or "profile". shipped: the file comes with the tool, so it is known by its name.
    """

    command: str = ""
    file: Path | None = None
    name: str = ""
    kind: str = "plan"
    shipped: bool = False

    def __str__(self) -> str:
        if not self.command:
            return "a program in Python"
        of = self.name if self.file is None else self.file.stem if self.shipped else self.file
        return f"tilegen {self.command} {of}".strip()

    def record(self, folder: Path) -> dict[str, str]:
        """What a manifest in this folder says of the job."""
        record = {"command": self.command, "name": self.name}
        if self.file is not None:
            record[self.kind] = f"shipped {self.file.stem}" if self.shipped else _path_from(folder, self.file)
        return {key: text for key, text in record.items() if text}

    def owns(self, folder: Path, record: Mapping[str, Any]) -> bool:
        """Whether a manifest in this folder is this job's; one that names no command is anybody's.

        The file is known by its path from the folder, so both can be moved or renamed together. Where that path leads
        to nothing, a file of the same name that calls itself the same is the same file, moved.
        """
        mine, command = self.record(folder), record.get("command")
        file, own = record.get(self.kind), mine.get(self.kind)
        if command is None or command != self.command:
            return command is None
        if file is None or own is None:
            return file == own and record.get("name", "") == self.name
        alike = PurePosixPath(file).name == PurePosixPath(own).name and record.get("name", "") == self.name
        return file == own or (alike and not (folder.resolve() / file).is_file())


def job_of(command: str, path: Path | None, name: str, kind: str = "plan") -> Job:
    """What a command makes of a plan or profile, for the manifest."""
    is_shipped = path is not None and path.resolve().parent == shipped(f"{kind}s").resolve()
    return Job(command, path, name, kind, is_shipped)


def _path_from(folder: Path, file: Path) -> str:
    """A file's path from a folder, with forward slashes; on another drive the whole path."""
    try:
        return Path(os.path.relpath(file.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return file.resolve().as_posix()


def _shown(folder: Path, record: Mapping[str, Any]) -> Job:
    """The job of a manifest, its file as seen from where the command was run."""
    kind = "profile" if "profile" in record else "plan"
    file = str(record.get(kind, ""))
    shipped = file.startswith("shipped ")
    path = None
    if file:
        path = Path(file.removeprefix("shipped "))
        if not shipped:
            path = min(
                Path(_path_from(Path(), folder.resolve() / path)), (folder / path).resolve(), key=lambda p: len(str(p))
            )
    return Job(str(record.get("command", "")), path, str(record.get("name", "")), kind, shipped)


def check_folder(folder: Path, job: Job, *, manifest: str = MANIFEST, within: Iterable[str] = (".",)) -> None:
    """Refuse a folder where another job's files lie: a look ahead of long work; `write_files` looks again.

    manifest: where this job's own goes. within: the folders that it writes into, from `folder`.

    Raises:
        InputError: names both jobs and the cure.
    """
    places = {str(PurePosixPath(place)) for place in within}
    for path in sorted({manifest, MANIFEST, *(str(PurePosixPath(place) / MANIFEST) for place in places)}):
        claim = read_claim(folder / path)
        theirs = {str(PurePosixPath(name).parent) for name, _ in _entries(claim)}
        if (path == manifest or theirs & places) and not job.owns(folder, claim):
            raise InputError(
                f'here are the files of "{_shown(folder, claim)}", so those of "{job}" can\'t be written here',
                cure="Choose another folder with -o, or remove this one first",
                file=str(folder),
            )


def write_files(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    job: Job | None = None,
    manifest: str = MANIFEST,
    part: bool = False,
    record: Mapping[str, Any] | None = None,
    tell: Tell = lambda _: None,
) -> list[Written]:
    """Write a job's files and its manifest; remove what it made before and makes no more, unless somebody changed it.

    files: content by path relative to the folder; a name that some system can't have is changed (`portable`).
    part: this run makes only some of the job's files: it removes nothing, and the manifest lists the others too.
    record: the rest of the manifest. tell: called with a sentence on each file of the user's that is kept.

    Raises:
        InputError: another job's folder, or one that can't be written.
        ValueError: a path that leads out of the folder.
    """
    job = job or Job()
    for name in map(PurePosixPath, files):
        if name.is_absolute() or ".." in name.parts:
            raise ValueError(f"{name} leads out of the folder")
    files = {"/".join(map(portable, PurePosixPath(path).parts)): content for path, content in files.items()}
    written = [Written(path, _kind(path), hashlib.sha256(content).hexdigest()) for path, content in files.items()]
    places = {str(PurePosixPath(path).parent) for path in (*files, manifest)}
    check_folder(folder, job, manifest=manifest, within=places)
    with _alone(folder, places) as aside:
        check_folder(folder, job, manifest=manifest, within=places)
        claim = read_claim(folder / manifest)
        earlier, made = _entries(claim), [(w.path, w.sha256) for w in written]
        others = [(path, digest) for path, digest in earlier if path not in files]
        left = [(path, digest) for path, digest in others if _digest(folder / path) == digest]
        head = {"made_by": f"tilegen {__version__}", **job.record(folder)}
        ours = dict.fromkeys((*made, *earlier))
        first = aside(manifest, _manifest(head, ours))
        last = aside(manifest, _manifest(head, (*made, *left) if part else made, record))
        pending = {path: aside(path, content) for path, content in files.items()}
        if not claim:
            _keep(folder / manifest, tell)
        first.replace(folder / manifest)
        for path, digest in made:
            found = _digest(folder / path)
            if found == digest:
                pending[path].unlink()
                continue
            if (path, found) not in ours:
                _keep(folder / path, tell)
            pending[path].replace(folder / path)
        for path, digest in () if part else left:
            _remove(folder, path, digest)
        last.replace(folder / manifest)
    return written


def write_bare(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files that no job owns, each whole or not at all.

    Raises:
        InputError: the folder or a file can't be written.
    """
    with _alone(folder, {str(PurePosixPath(path).parent) for path in files}) as aside:
        for path, part_file in {path: aside(path, content) for path, content in files.items()}.items():
            part_file.replace(folder / path)


def write_manifest(folder: Path, pieces: Iterable[str], tell: Tell) -> None:
    """Write a manifest of any length piece by piece, whole or not at all.

    Raises:
        InputError: it can't be written.
    """
    with _alone(folder, ["."]) as aside:
        whole = aside(MANIFEST, b"")
        with whole.open("w", encoding="utf-8", newline="\n") as stream:
            stream.writelines(pieces)
        if not read_claim(folder / MANIFEST):
            _keep(folder / MANIFEST, tell)
        whole.replace(folder / MANIFEST)


def file_stem(name: str) -> str:
    """A name in small letters, digits and hyphens that any system takes; empty if nothing of it is left."""
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return portable(stem) if stem else ""


def portable(name: str) -> str:
    """A file's or folder's name as any system takes it: no device of Windows, no end in a dot or blank, not too long.

    >>> portable("corner.stl"), portable("nul.stl"), portable("The end. ")
    ('corner.stl', 'nul_.stl', 'The end')
    """
    name = re.sub(r'[\x00-\x1f<>:"/\\|?*]', "-", name).rstrip(". ") or "_"
    if device := _DEVICE.match(name):
        name = f"{device[1]}_{name[len(device[1]) :].lstrip()}"
    stem, dot, ending = name.rpartition(".") if len(name) - name.rfind(".") <= 6 else (name, "", "")
    if len(stem.encode()) > _LONGEST_STEM:
        digest = hashlib.sha256(stem.encode()).hexdigest()[:12]
        stem = f"{stem.encode()[: _LONGEST_STEM - 13].decode(errors='ignore')}-{digest}"
    return f"{stem}{dot}{ending}"


def clear(folder: Path) -> None:
    """Remove what runs that were killed had begun to write in a folder and all below it."""
    if folder.is_dir():
        with _alone(folder, [path.relative_to(folder).as_posix() for path in (folder, *folder.rglob("*/"))]):
            pass


@contextlib.contextmanager
def _alone(folder: Path, places: Iterable[str]) -> Iterator[Callable[[str, bytes], Path]]:
    """Nobody else writes into a folder meanwhile; what is written aside and not renamed is removed at the end.

    places: the folders within it whose part files of killed runs are removed. Gives: a function that writes a file
    aside, ready to be renamed.

    Raises:
        InputError: in place of any OSError.
    """
    asides: list[Path] = []

    def aside(path: str, content: bytes) -> Path:
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.is_dir():
            raise IsADirectoryError(21, "a folder where a file should go", str(target))
        number, name = tempfile.mkstemp(prefix=PART, dir=target.parent)
        asides.append(Path(name))
        with os.fdopen(number, "wb") as stream:
            stream.write(content)
        asides[-1].chmod(0o666 & ~_umask())
        return asides[-1]

    lock: int | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = _lock(folder)
        if lock is not None:
            for orphan in [path for place in places for path in (folder / place).glob(f"{PART}*")]:
                if orphan.name != _LOCK:
                    orphan.unlink(missing_ok=True)
        yield aside
    except OSError as error:
        raise refused(error, folder) from None
    finally:
        try:
            for path in (*asides, *([] if lock is None else [folder / _LOCK])):
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)
        finally:
            if lock is not None:
                os.close(lock)


def _lock(folder: Path) -> int | None:
    """Wait for the folder's lock, which the system frees however a run ends; None where there are no locks."""
    while fcntl is not None:
        number = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            fcntl.flock(number, fcntl.LOCK_EX)
            if (folder / _LOCK).stat().st_ino == os.fstat(number).st_ino:
                return number
        except FileNotFoundError:  # whoever held it has removed it: it locks nothing any more
            pass
        except OSError:  # some network file systems know no locks
            os.close(number)
            return None
        os.close(number)
    return None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def read_claim(manifest: Path) -> dict[str, Any]:
    """What a manifest says; of a batch's its head only. Empty where there is none, or one that is not the tool's."""
    try:
        with manifest.open("rb") as stream:
            head, variants, _ = stream.read(_HEAD).partition(_VARIANTS)
            data: Any = json.loads(head + b'"files": []}' if variants else head + stream.read())
        return data if str(data["made_by"]).startswith("tilegen") and isinstance(data["files"], list) else {}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def _entries(claim: Mapping[str, Any]) -> list[tuple[str, str]]:
    """(path, sha256) of what a manifest lists, less what leads out of its folder."""
    found = []
    for entry in claim.get("files", ()):
        with contextlib.suppress(KeyError, TypeError):
            path, digest = str(entry["path"]), str(entry["sha256"])
            pure = PurePosixPath(path)
            if not pure.is_absolute() and ".." not in pure.parts and not re.search(r"[\\:]", path):
                found.append((path, digest))
    return found


def _kind(path: str) -> str:
    """A file's kind, the end of its name."""
    return path.rpartition(".")[2]


def _manifest(
    head: Mapping[str, Any], files: Iterable[tuple[str, str]], record: Mapping[str, Any] | None = None
) -> bytes:
    entries = [{"path": path, "kind": _kind(path), "sha256": digest} for path, digest in files]
    return (json.dumps({**head, "files": entries, **(record or {})}, indent=1) + "\n").encode()


def _digest(path: Path) -> str:
    """A file's hash; empty where there is none that can be read, or a link."""
    try:
        if path.is_symlink() or not path.is_file():
            return ""
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def _keep(path: Path, tell: Tell) -> None:
    """Give what lies at a path a second name, if anything does; it is there under one of the two at every moment."""
    if not os.path.lexists(path):
        return
    for number in itertools.count(1):
        kept = path.with_name(f"{path.stem}.kept{f'-{number}' if number > 1 else ''}{path.suffix}")
        if os.path.lexists(kept):
            if _digest(kept) != _digest(path) or not _digest(path):
                continue
        else:
            try:
                os.link(path, kept, follow_symlinks=os.link not in os.supports_follow_symlinks)
            except FileExistsError:
                continue
            except OSError:  # a disk without links
                path.rename(kept)
        tell(f"{path} was changed since, or is not from this job; it is kept as {kept.name}")
        return


def _remove(folder: Path, path: str, digest: str) -> None:
    """Remove a file that is still as it was made, and the folders that this leaves empty."""
    with contextlib.suppress(OSError):
        if _digest(folder / path) == digest:
            (folder / path).unlink()
            for parent in PurePosixPath(path).parents[:-1]:
                (folder / parent).rmdir()


def csv_bytes(rows: Iterable[Sequence[object]]) -> bytes:
    """Rows as CSV with the line ends of RFC 4180."""
    buffer = io.StringIO()
    csv.writer(buffer).writerows([_safe(value) for value in row] for row in rows)
    return buffer.getvalue().encode()


def _safe(value: object) -> object:
    """A text that a spreadsheet won't take for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
