"""Taking the files: `build` in a process of its own, with progress and a way to stop it."""

from __future__ import annotations

import io
import multiprocessing
import secrets
import shutil
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from tilegen.desk.edits import name_in
from tilegen.errors import NO_MEMORY, InputError, TilegenError, nearest, refused
from tilegen.files.toml import shipped
from tilegen.lengths import in_units
from tilegen.messages import decisions

MOST_AT_ONCE = 2
_FIRST_DATE = (1980, 1, 1, 0, 0, 0)
Word = str


class Wish(BaseModel):
    """What to build with: shipped names only, never a path."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    materials: list[Word] = Field(default=["foam"], min_length=1, max_length=6)
    machine: Word = "hand-knife"
    printer: Word = "fdm-220"
    paper: Literal["A4", "A3", "A2", "A1", "A0", "Letter", "Tabloid"] = "A4"
    units: Literal["mm", "in"] = "mm"
    make: Literal["both", "cut", "print"] = "both"
    accept: list[str] = Field(default=[], max_length=6)


@dataclass
class Taking:
    """One build in progress: the stages it has reported, and its outcome once it is there."""

    folder: Path
    process: BaseProcess
    pipe: Connection
    said: list[str] = field(default_factory=list)
    outcome: dict[str, Any] | None = None

    def look(self) -> None:
        """Read what the process has sent since."""
        try:
            while self.outcome is None and self.pipe.poll():
                kind, word = self.pipe.recv()
                if kind == "stage":
                    self.said.append(word)
                else:
                    self.outcome = {"done": kind == "done", "message": word}
        except (EOFError, OSError):
            pass
        if self.outcome is None and not self.process.is_alive() and not self._more():
            self.outcome = {"done": False, "message": "the build stopped before it was done"}

    def _more(self) -> bool:
        try:
            return self.pipe.poll()
        except (EOFError, OSError):
            return False

    @property
    def archive(self) -> Path:
        """Where the zip lies when it is done."""
        return self.folder / "files.zip"

    @property
    def name(self) -> str:
        """What the zip is called: as the plan's file."""
        return f"{next(self.folder.glob('*.toml')).stem}.zip"

    def end(self) -> None:
        """Stop the process and remove what it made."""
        if self.process.is_alive():
            self.process.kill()
        self.process.join(5)
        self.pipe.close()
        shutil.rmtree(self.folder, ignore_errors=True)


class Takings:
    """All builds of this desk, by a name that can't be guessed."""

    def __init__(self) -> None:
        self.running: dict[str, Taking] = {}

    def start(self, text: str, wish: Wish) -> str:
        """Begin a build; returns its name.

        Raises:
            InputError: a name that is no shipped one, or too many builds at once.
        """
        check_names(wish)
        if sum(taking.process.is_alive() for taking in self.running.values()) >= MOST_AT_ONCE:
            raise InputError(f"{MOST_AT_ONCE} builds are running already", cure="Wait until one is done, or stop it")
        for name in [n for n, t in self.running.items() if not t.process.is_alive()]:
            self.drop(name)
        folder = Path(tempfile.mkdtemp(prefix="tilegen-desk-"))
        here, there = multiprocessing.Pipe(duplex=False)
        process = multiprocessing.get_context("spawn").Process(
            target=work, args=(text, wish.model_dump(), str(folder), there), daemon=True
        )
        process.start()
        there.close()
        name = secrets.token_urlsafe(12)
        self.running[name] = Taking(folder, process, here)
        return name

    def drop(self, name: str) -> bool:
        """Stop a build and forget it."""
        taking = self.running.pop(name, None)
        if taking is not None:
            taking.end()
        return taking is not None

    def close(self) -> None:
        """Stop them all."""
        for name in list(self.running):
            self.drop(name)


def check_names(wish: Wish) -> None:
    """Refuse a name that is not that of a shipped file: nothing from the page is ever used as a path.

    Raises:
        InputError: offers the names there are.
    """
    for kind, words in (("materials", wish.materials), ("machines", [wish.machine]), ("printers", [wish.printer])):
        known = {path.stem for path in shipped(kind).glob("*.toml")}
        for word in words:
            if word not in known:
                raise InputError(
                    f'there is no {kind[:-1]} called "{word[:40]}"', cure=nearest(word[:40], sorted(known))
                )


def work(text: str, wish: dict[str, Any], folder: str, pipe: Connection) -> None:
    """The build itself; sends its stages and its outcome through the pipe."""
    try:
        pipe.send(("stage", "reading the plan"))
        told = _build(text, Wish.model_validate(wish), Path(folder), pipe)
        pipe.send(("done", told))
    except TilegenError as error:
        pipe.send(("failed", str(error)))
    except (MemoryError, OSError) as error:
        pipe.send(("failed", str(refused(error)) if isinstance(error, OSError) else NO_MEMORY))
    finally:
        pipe.close()


def _build(text: str, wish: Wish, folder: Path, pipe: Connection) -> str:
    """Build into the folder; what there is to decide about what was made, in one line."""
    from tilegen.making.asked import PlanPart, Tools  # noqa: PLC0415
    from tilegen.making.plan import build_plan, open_plan, write_build  # noqa: PLC0415 - in the process that builds only
    from tilegen.making.workshop import open_workshop  # noqa: PLC0415

    source = folder / plan_file_name(text)
    source.write_text(text, encoding="utf-8")
    plan = open_plan(source)
    accept = ", ".join(wish.accept) or None
    tools = Tools(
        materials=tuple(wish.materials), machine=wish.machine, printer=wish.printer, accept=accept, paper=wish.paper
    )
    part = PlanPart(make=wish.make)
    built = build_plan(
        plan, open_workshop(tools), part=part, units=wish.units, tell=lambda stage: pipe.send(("stage", stage))
    )
    pipe.send(("stage", "packing"))
    out = folder / "out" / source.stem
    write_build(out, built)
    shutil.copy(source, out)
    (folder / "files.zip").write_bytes(zipped(source.stem, out))
    # What is to be decided about the plan itself stands beside its map already.
    return " ".join(in_units(message.words, wish.units) for message in decisions(built.made.messages))


def plan_file_name(text: str) -> Path:
    """A file name from the plan's own name, for the folder that the files come in."""
    name = name_in(text).lower()
    stem = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name).split())
    return Path(f"{stem[:60] or 'plan'}.toml")


def zipped(name: str, folder: Path) -> bytes:
    """A folder as a zip of fixed dates, its files under `name`/ in alphabetical order."""
    content = io.BytesIO()
    paths: Sequence[Path] = sorted(path for path in folder.rglob("*") if path.is_file())
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in paths:
            inside = zipfile.ZipInfo(f"{name}/{path.relative_to(folder).as_posix()}", _FIRST_DATE)
            inside.compress_type = zipfile.ZIP_DEFLATED
            inside.external_attr = 0o644 << 16
            archive.writestr(inside, path.read_bytes())
    return content.getvalue()
