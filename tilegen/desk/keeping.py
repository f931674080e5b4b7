"""What outlives the page: every step of every plan in one database of the user's, and the plan file that is edited."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import sys
import threading
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

from tilegen.errors import InputError, refused
from tilegen.files.toml import not_utf8, read_toml
from tilegen.files.writing import write_bare

# Older steps than fit into this are given up; the last state of every plan stays.
MOST_BYTES = 200_000_000
_SCHEMA = """
CREATE TABLE IF NOT EXISTS step (id INTEGER PRIMARY KEY AUTOINCREMENT, parent INTEGER NOT NULL, plan INTEGER NOT NULL,
  file TEXT NOT NULL, made REAL NOT NULL, text BLOB NOT NULL);
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


class Steps:
    """Every step that was drawn, each with the one it follows; a plan's first step follows what was shown before it.

    Several programs may use one database at once.
    """

    def __init__(self, path: Path | None = None) -> None:
        """Open or make the database; without a path it lives as long as the program.

        Raises:
            OSError, sqlite3.Error: there can't be one.
        """
        self._lock = threading.Lock()
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._base = sqlite3.connect(path or ":memory:", timeout=20, check_same_thread=False)
        with self._base:
            self._base.executescript(_SCHEMA)
            self._base.execute("PRAGMA synchronous = NORMAL")
            self._base.execute(
                "DELETE FROM step WHERE id IN (SELECT id FROM (SELECT id, SUM(LENGTH(text)) OVER (ORDER BY id DESC) AS"
                " sum FROM step) WHERE sum > ?) AND id NOT IN (SELECT MAX(id) FROM step GROUP BY plan)",
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
        return Tab(*found) if found else None

    def last(self, file: str = "") -> int:
        """The step that was shown last, of one file or of all that was drawn; 0: none."""
        with self._lock:
            found = self._base.execute(
                "SELECT MAX(id) FROM step WHERE file = ?" if file else "SELECT at FROM seat ORDER BY used DESC LIMIT 1",
                (file,) if file else (),
            ).fetchone()
        return int(found[0] or 0) if found else 0

    def text(self, at: int) -> str | None:
        """What the plan is at a step."""
        with self._lock:
            found = self._base.execute("SELECT text FROM step WHERE id = ?", (at,)).fetchone()
        return zlib.decompress(found[0]).decode() if found else None

    def add(self, parent: int, text: str, *, file: str | None = None, instead: bool = False) -> int:
        """The step after another; its number.

        file: a plan begins here, and this is its file ("": none). instead: the step is changed rather than followed,
        unless something follows it already.
        """
        content, now = zlib.compress(text.encode()), time.time()
        with self._lock, self._base as base:
            if instead and not base.execute("SELECT 1 FROM step WHERE parent = ?", (parent,)).fetchone():
                base.execute("UPDATE step SET text = ?, made = ? WHERE id = ?", (content, now, parent))
                return parent
            before = base.execute("SELECT plan, file FROM step WHERE id = ?", (parent,)).fetchone()
            begins = file is not None or before is None
            values = (parent, *((0, file or "") if begins else before), now, content)
            number = base.execute("INSERT INTO step (parent, plan, file, made, text) VALUES (?, ?, ?, ?, ?)", values)
            if begins:
                base.execute("UPDATE step SET plan = id WHERE id = ?", (number.lastrowid,))
            return int(number.lastrowid or 0)

    def keep(self, seat: Tab) -> None:
        """Remember where a seat stands."""
        with self._lock, self._base as base:
            base.execute(
                "REPLACE INTO seat VALUES (?, ?, ?, ?, ?, ?, ?, (SELECT IFNULL(MAX(used), 0) + 1 FROM seat))",
                (seat.name, seat.at, seat.tip, seat.done, seat.file, seat.base, seat.figures),
            )

    def back(self, at: int) -> int:
        """The step before one; 0: none."""
        with self._lock:
            found = self._base.execute(
                "SELECT p.id FROM step s JOIN step p ON p.id = s.parent WHERE s.id = ?", (at,)
            ).fetchone()
        return int(found[0]) if found else 0

    def on(self, at: int, tip: int) -> int:
        """The step after one, on the way to the last; 0: none."""
        with self._lock:
            found = self._base.execute(
                "WITH RECURSIVE up (id, parent) AS (SELECT id, parent FROM step WHERE id = ? UNION ALL SELECT s.id,"
                " s.parent FROM step s JOIN up ON s.id = up.parent WHERE up.id > ?) SELECT id FROM up WHERE parent = ?",
                (tip, at, at),
            ).fetchone()
        return int(found[0]) if found else 0

    def place(self, at: int, tip: int) -> Standing:
        """What a seat is to know of its step."""
        with self._lock:
            file = self._base.execute("SELECT file FROM step WHERE id = ?", (at,)).fetchone()
        return Standing(at, self.text(at) or "", file[0] if file else "", bool(self.back(at)), bool(self.on(at, tip)))

    def plans(self, most: int = 60) -> list[tuple[int, float, str]]:
        """(step, seconds since 1970, text) of the last state of each plan, newest first, equal ones once."""
        with self._lock:
            found = self._base.execute(
                "SELECT MAX(id), made, text FROM step WHERE id IN (SELECT MAX(id) FROM step GROUP BY plan)"
                " GROUP BY text ORDER BY 1 DESC LIMIT ?",
                (most,),
            ).fetchall()
        return [(at, made, zlib.decompress(text).decode()) for at, made, text in found]


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
