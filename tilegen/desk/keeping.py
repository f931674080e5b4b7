"""What outlives the page: every step of every plan in one database of the user's, and the plan file that is edited."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import sys
import threading
import time
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

from tilegen.errors import InputError, refused
from tilegen.files.toml import not_utf8, read_toml
from tilegen.files.writing import write_bare

# Older steps than fit into this are given up; the last state of every plan stays.
MOST_BYTES = 200_000_000
_SCHEMA = """
CREATE TABLE IF NOT EXISTS step (id INTEGER PRIMARY KEY AUTOINCREMENT, parent INTEGER NOT NULL, plan INTEGER NOT NULL,
  file TEXT NOT NULL, made REAL NOT NULL, text BLOB NOT NULL, west INTEGER NOT NULL DEFAULT 0,
  north INTEGER NOT NULL DEFAULT 0);
CREATE INDEX IF NOT EXISTS step_plan ON step (plan, id);
CREATE TABLE IF NOT EXISTS seat (name TEXT PRIMARY KEY, at INTEGER NOT NULL, tip INTEGER NOT NULL,
  done INTEGER NOT NULL, file TEXT NOT NULL, base TEXT NOT NULL, figures TEXT NOT NULL, used INTEGER NOT NULL);
"""


def state_folder() -> Path:
    """Where a program keeps its user's state on this system; not made yet.

    Source: XDG Base Directory Specification 0.8 (a relative path in the variable counts as none); the folders of
    Windows and macOS are their makers' recommendation, from memory.
    """
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "tilegen"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "tilegen"
    given = Path(os.environ.get("XDG_STATE_HOME") or ".")
    return (given if given.is_absolute() else home / ".local" / "state") / "tilegen"


@dataclass(frozen=True)
class Standing:
    """Where a seat stands among its steps; back, on: whether there is a step either way."""

    at: int
    text: str
    file: str
    back: bool
    on: bool


@dataclass(frozen=True)
class Tab:
    """A tab of a browser: its step, the last one that can be redone, the last gesture done.

    file, base: the file of its desk, and the name (see digest) of what that held when it was last read or saved.
    """

    name: str
    at: int
    tip: int
    done: int = 0
    file: str = ""
    base: str = ""
    figures: str = ""


@dataclass(frozen=True)
class Step:
    """One step. west, north: cells that its drawing has grown by since its plan began."""

    id: int
    parent: int
    plan: int
    file: str
    made: float
    content: bytes
    west: int = 0
    north: int = 0

    @property
    def text(self) -> str:
        """The plan."""
        return zlib.decompress(self.content).decode()


class Steps:
    """Every step that was drawn, each with the one it follows; a plan's first step follows what was shown before it.

    Several programs may use one database at once. A step that can't be written stays in memory, and is written with
    the next one that can.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Open or make the database; without a path it lives as long as the program.

        Raises:
            OSError, sqlite3.Error: there can't be one.
        """
        self._lock = threading.RLock()
        self._waiting: dict[int, Step] = {}
        self._seats: dict[str, Tab] = {}
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._base = sqlite3.connect(path or ":memory:", timeout=20, check_same_thread=False)
        with self._base:
            self._base.executescript(_SCHEMA)
            if "west" not in [column[1] for column in self._base.execute("PRAGMA table_info (step)")]:
                for name in ("west", "north"):
                    self._base.execute(f"ALTER TABLE step ADD COLUMN {name} INTEGER NOT NULL DEFAULT 0")
            self._base.execute("PRAGMA synchronous = NORMAL")
            self._base.execute(
                "DELETE FROM step WHERE id IN (SELECT id FROM (SELECT id, SUM(LENGTH(text)) OVER (ORDER BY id DESC) AS"
                " sum FROM step) WHERE sum > ?) AND id NOT IN (SELECT MAX(id) FROM step GROUP BY plan)"
                " AND id NOT IN (SELECT at FROM seat)",
                (MOST_BYTES,),
            )

    def close(self) -> None:
        """Let the database go."""
        self._base.close()

    def seat(self, name: str) -> Tab | None:
        """A seat that has drawn before."""
        with self._lock:
            found = self._base.execute(
                "SELECT name, at, tip, done, file, base, figures FROM seat WHERE name = ?", (name,)
            ).fetchone()
            return self._seats.get(name) or (Tab(*found) if found else None)

    def last(self, file: str = "") -> int:
        """The step that was shown last, of one file or of all that was drawn; 0: none."""
        with self._lock:
            found = self._base.execute(
                "SELECT MAX(id) FROM step WHERE file = ?" if file else "SELECT at FROM seat ORDER BY used DESC LIMIT 1",
                (file,) if file else (),
            ).fetchone()
        return int(found[0] or 0) if found else 0

    def step(self, at: int) -> Step | None:
        """A step by its number."""
        with self._lock:
            if at in self._waiting:
                return self._waiting[at]
            found = self._base.execute(
                "SELECT id, parent, plan, file, made, text, west, north FROM step WHERE id = ?", (at,)
            ).fetchone()
        return Step(*found) if found else None

    def text(self, at: int) -> str | None:
        """What the plan is at a step."""
        found = self.step(at)
        return found.text if found else None

    def add(
        self, parent: int, text: str, *, file: str | None = None, instead: bool = False, grown: tuple[int, int] = (0, 0)
    ) -> int:
        """The step after another; its number.

        file: a plan begins here, and this is its file ("": none). instead: the step is changed rather than followed,
        unless something follows it already. grown: cells added to the west and north.
        """
        content, now = zlib.compress(text.encode(), 1), time.time()
        with self._lock:
            before = self.step(parent)
            if before is not None and instead and not self._followed(parent):
                west, north = before.west + grown[0], before.north + grown[1]
                return self._write(replace(before, made=now, content=content, west=west, north=north))
            # Steps that wait and those of another program must not take the same number.
            number = max(int(now * 1e3) * 1000 + os.getpid() % 1000, self._highest() + 1)
            if file is not None or before is None:
                return self._write(Step(number, parent, number, file or "", now, content))
            west, north = before.west + grown[0], before.north + grown[1]
            return self._write(Step(number, parent, before.plan, before.file, now, content, west, north))

    def _highest(self) -> int:
        kept = int(self._base.execute("SELECT IFNULL(MAX(id), 0) FROM step").fetchone()[0])
        return max(kept, *self._waiting, 0)

    def _followed(self, at: int) -> bool:
        """Whether a step has one after it, or is shown by more than one tab."""
        waiting = any(step.parent == at for step in self._waiting.values())
        after = self._base.execute("SELECT 1 FROM step WHERE parent = ?", (at,)).fetchone()
        tabs = self._base.execute("SELECT COUNT(*) FROM seat WHERE at = ?", (at,)).fetchone()[0]
        return bool(waiting or after or tabs > 1)

    def _write(self, step: Step) -> int:
        self._waiting[step.id] = step
        self._flush()
        return step.id

    def _flush(self) -> str:
        """Write what waits; what is wrong if that can't be."""
        try:
            with self._base as base:
                base.executemany(
                    "REPLACE INTO step (id, parent, plan, file, made, text, west, north) VALUES (?,?,?,?,?,?,?,?)",
                    [tuple(getattr(step, name) for name in _COLUMNS) for step in self._waiting.values()],
                )
                base.executemany(
                    "REPLACE INTO seat VALUES (?, ?, ?, ?, ?, ?, ?, (SELECT IFNULL(MAX(used), 0) + 1 FROM seat))",
                    [(s.name, s.at, s.tip, s.done, s.file, s.base, s.figures) for s in self._seats.values()],
                )
        except sqlite3.Error as error:
            return str(error)
        self._waiting.clear()
        self._seats.clear()
        return ""

    def keep(self, seat: Tab) -> str:
        """Remember where a seat stands; what is wrong if that, or a step, can't be written."""
        with self._lock:
            self._seats[seat.name] = seat
            return self._flush()

    def back(self, at: int) -> int:
        """The step before one; 0: none."""
        found = self.step(at)
        return found.parent if found and self.step(found.parent) else 0

    def on(self, at: int, tip: int) -> int:
        """The step after one, on the way to the last; 0: none."""
        while tip > at:
            found = self.step(tip)
            if found is None:
                return 0
            if found.parent == at:
                return tip
            tip = found.parent
        return 0

    def place(self, at: int, tip: int) -> Standing:
        """What a seat is to know of its step."""
        found = self.step(at)
        text, file = (found.text, found.file) if found else ("", "")
        return Standing(at, text, file, bool(self.back(at)), bool(self.on(at, tip)))

    def plans(self, most: int = 60) -> list[tuple[int, float, str]]:
        """(step, seconds since 1970, text) of the last state of each plan, newest first, equal ones once."""
        with self._lock:
            found = self._base.execute(
                "SELECT MAX(id), made, text FROM step WHERE id IN (SELECT MAX(id) FROM step GROUP BY plan)"
                " GROUP BY text ORDER BY 1 DESC LIMIT ?",
                (most,),
            ).fetchall()
        return [(at, made, zlib.decompress(text).decode()) for at, made, text in found]


_COLUMNS = ("id", "parent", "plan", "file", "made", "content", "west", "north")


def steps_at_home() -> tuple[Steps, str]:
    """The user's own steps, and in words what is wrong if they can't be kept beyond the end of the program."""
    path = state_folder() / "desk.sqlite"
    try:
        try:
            return Steps(path), ""
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            path.replace(path.with_suffix(f".kept-{int(time.time())}.sqlite"))
            return Steps(path), ""
    except (OSError, sqlite3.Error) as error:
        return Steps(), f"{path}: plans can't be kept there ({error}). Save yours before you end the desk."


def digest(text: str) -> str:
    """A name for a text."""
    return hashlib.sha256(text.encode()).hexdigest()


class PlanOnDisk:
    """The plan file that is edited: read as it is, and never written over unseen."""

    def __init__(self, path: Path) -> None:
        """One plan file.

        Raises:
            InputError: no such file, or not a TOML file.
        """
        if not path.is_file():
            raise InputError(
                "this is a folder, not a plan" if path.is_dir() else "there is no such file",
                cure="Open a file that tilegen start makes, or begin without one: tilegen desk",
                file=str(path),
            )
        self.path = path.resolve()
        read_toml(path)

    def read(self) -> str:
        """What the file holds now, its line ends as they are; empty if it is gone.

        Raises:
            InputError: it can't be read, or is not UTF-8.
        """
        try:
            return self.path.read_bytes().decode("utf-8-sig")
        except FileNotFoundError:
            return ""
        except UnicodeDecodeError as error:
            raise not_utf8(error, self.path) from None
        except OSError as error:
            raise refused(error, self.path) from None

    def write(self, text: str, base: str, *, over: bool) -> str | None:
        """Save, and say which name the version of another program was kept under; None: it was changed, and stays.

        base: the name (see digest) of what the file held when it was read or saved last. over: save though it changed.

        Raises:
            InputError: it can't be written.
        """
        now = self.read()
        changed = bool(now) and digest(now) not in (base, digest(text))
        if changed and not over:
            return None
        files = {self.path.name: text.encode()}
        if self.path.is_file() and self.path.read_bytes().startswith(b"\xef\xbb\xbf"):
            files[self.path.name] = b"\xef\xbb\xbf" + files[self.path.name]
        kept = ""
        if changed:
            kept = self._free_name()
            files[kept] = self.path.read_bytes()
        write_bare(self.path.parent, files)
        return kept

    def _free_name(self) -> str:
        name, number = f"{self.path.stem}.kept{self.path.suffix}", 1
        while (self.path.parent / name).exists():
            number += 1
            name = f"{self.path.stem}.kept-{number}{self.path.suffix}"
        return name
