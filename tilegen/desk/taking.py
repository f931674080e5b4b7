"""Taking the files: `build` in a process of its own, with progress and a way to stop it."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import multiprocessing
import secrets
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from tilegen.desk.edits import name_in
from tilegen.errors import NO_MEMORY, InputError, TilegenError, nearest, refused
from tilegen.files.toml import shipped
from tilegen.lengths import in_units
from tilegen.messages import decisions
from tilegen.model.words import Paper

if TYPE_CHECKING:
    from tilegen.making.asked import Tools

MOST_AT_ONCE = 2
# Builds that are done and whose files can still be had.
MOST_KEPT = 4
_FIRST_DATE = (1980, 1, 1, 0, 0, 0)
Word = str


class OwnFile(BaseModel):
    """A file of the user's own, as the page read it; its name without the ending is what it goes by."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    kind: Literal["material", "machine", "printer", "shelf"]
    name: Annotated[str, Field(min_length=1, max_length=120)]
    text: Annotated[str, Field(max_length=300_000)]

    @property
    def word(self) -> str:
        """What it goes by: plain letters, so that nothing of the page is ever used as a path."""
        stem = self.name.rpartition(".")[0] or self.name
        return _plain_words(stem) or "own"


class Wish(BaseModel):
    """What to build with: shipped names and files of the user's own, never a path.

    make: which half. owned: tiles and pieces at hand, by id, beside those of a shelf file. pieces: larger ones to cover
    the floor with.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    materials: list[Word] = Field(default=["foam"], min_length=1, max_length=6)
    machine: Word = "hand-knife"
    printer: Word = "fdm-220"
    paper: Paper = "A4"
    units: Literal["mm", "in"] = "mm"
    make: Literal["both", "cut", "print"] = "both"
    accept: list[str] = Field(default=[], max_length=6)
    own: list[OwnFile] = Field(default=[], max_length=12)
    owned: dict[Annotated[str, Field(pattern=r"^[0-9A-Z]{1,12}$")], Annotated[int, Field(ge=0, le=100_000)]] = {}
    pieces: str = Field(default="", max_length=200)

    def own_word(self, kind: str, word: str) -> OwnFile | None:
        """The file of one's own that a word means."""
        return next((one for one in self.own if one.kind == kind and word in (one.word, one.name)), None)


@dataclass
class Taking:
    """One build in progress: the stages it has reported, and its outcome once it is there.

    asked: a name for what it is made of and with; the same wish of the same plan is taken up again. stem: of its files.
    """

    folder: Path
    process: BaseProcess
    pipe: Connection
    asked: str
    stem: str
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
        asked = hashlib.sha256(f"{wish.model_dump_json()}{text}".encode()).hexdigest()
        for name, taking in self.running.items():
            if taking.asked == asked and (taking.process.is_alive() or (taking.outcome or {}).get("done")):
                return name
        if sum(taking.process.is_alive() for taking in self.running.values()) >= MOST_AT_ONCE:
            raise InputError(f"{MOST_AT_ONCE} builds are running already", cure="Wait until one is done, or stop it")
        ended = [name for name, taking in self.running.items() if not taking.process.is_alive()]
        for name in ended[: len(ended) - MOST_KEPT + 1]:
            self.drop(name)
        folder = Path(tempfile.mkdtemp(prefix="tilegen-desk-"))
        here, there = multiprocessing.Pipe(duplex=False)
        process = multiprocessing.get_context("spawn").Process(
            target=work, args=(text, wish.model_dump(), str(folder), there), daemon=True
        )
        process.start()
        there.close()
        name = secrets.token_urlsafe(12)
        self.running[name] = Taking(folder, process, here, asked, plan_file_name(text).stem)
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
    """Refuse a name that is neither that of a shipped file nor of one of the user's own.

    Raises:
        InputError: offers the names there are.
    """
    for kind, words in (("materials", wish.materials), ("machines", [wish.machine]), ("printers", [wish.printer])):
        known = {path.stem for path in shipped(kind).glob("*.toml")}
        for word in words:
            if word not in known and wish.own_word(kind[:-1], word) is None:
                raise InputError(
                    f'there is no {kind[:-1]} called "{word[:40]}"', cure=nearest(word[:40], sorted(known))
                )


@contextlib.contextmanager
def tools_of(wish: Wish) -> Iterator[tuple[Tools, Path | None]]:
    """The tools of a wish, and the file of what is owned if anything is; the user's own files are there meanwhile.

    Raises:
        InputError: a name that there is not, or a file of one's own that is wrong; with its name.
    """
    from tilegen.making.asked import Tools  # noqa: PLC0415 - in the process that builds only

    check_names(wish)
    with tempfile.TemporaryDirectory(prefix="tilegen-own-") as folder:

        def word(kind: str, name: str) -> str:
            own = wish.own_word(kind, name)
            return str(_written(Path(folder), own)) if own else name

        tools = Tools(
            materials=tuple(word("material", name) for name in wish.materials),
            machine=word("machine", wish.machine),
            printer=word("printer", wish.printer),
            accept=", ".join(wish.accept) or None,
            paper=wish.paper,
        )
        try:
            yield tools, _shelf_of(wish, Path(folder))
        except InputError as error:
            # The page knows the file by the name it has there.
            raise (
                error.moved(file=Path(error.file).name, place=error.place) if folder in error.file else error
            ) from None


def _written(folder: Path, own: OwnFile) -> Path:
    place = folder / own.kind
    place.mkdir(exist_ok=True)
    path = place / f"{own.word}.toml"
    path.write_text(own.text, encoding="utf-8")
    return path


def _shelf_of(wish: Wish, folder: Path) -> Path | None:
    """What is owned, as one shelf file."""
    from tilegen.files.stock import read_shelf  # noqa: PLC0415 - in the process that builds only

    shelves = [read_shelf(_written(folder, own)) for own in wish.own if own.kind == "shelf"]
    owned = {key: count for key, count in wish.owned.items() if count}
    if not (shelves or owned):
        return None
    tables: dict[str, dict[str, int]] = {"tiles": {}, "pieces": {}}
    for shelf in shelves:
        for name, found in (("tiles", shelf.tiles), ("pieces", shelf.pieces)):
            for word, count in found.items():
                tables[name][word] = tables[name].get(word, 0) + count
    for word, count in owned.items():
        tables["tiles"][word] = tables["tiles"].get(word, 0) + count
    lines = [f"[{name}]\n" + "".join(f"{json.dumps(w)} = {n}\n" for w, n in t.items()) for name, t in tables.items()]
    path = folder / "owned.toml"
    path.write_text("".join(lines), encoding="utf-8")
    return path


def check_own(wish: Wish) -> dict[str, str]:
    """Refuse a file of one's own that is wrong; what each goes by, by its name.

    Raises:
        InputError: with the file and the place in it.
    """
    from tilegen.files.stock import read_machine, read_material, read_printer, read_shelf  # noqa: PLC0415

    readers: dict[str, Callable[[Any], object]] = {
        "material": read_material,
        "machine": read_machine,
        "printer": lambda path: read_printer(str(path)),
        "shelf": read_shelf,
    }
    with tempfile.TemporaryDirectory(prefix="tilegen-own-") as folder:
        for own in wish.own:
            try:
                readers[own.kind](_written(Path(folder), own))
            except InputError as error:
                raise error.moved(file=own.name, place=error.place) from None
    return {own.name: own.word for own in wish.own}


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
    from tilegen.making.asked import Covering, PlanPart  # noqa: PLC0415
    from tilegen.making.plan import build_plan, open_plan, write_build  # noqa: PLC0415 - in the process that builds only
    from tilegen.making.workshop import open_workshop  # noqa: PLC0415

    source = folder / plan_file_name(text)
    source.write_bytes(text.encode())
    with tools_of(wish) as (tools, own):
        plan = open_plan(source, covering=Covering(pieces=wish.pieces or None), own=own)
        part = PlanPart(own=own, make=wish.make)
        built = build_plan(
            plan, open_workshop(tools), part=part, units=wish.units, tell=lambda stage: pipe.send(("stage", stage))
        )
    pipe.send(("stage", "packing"))
    out = folder / "out" / source.stem
    write_build(out, built)
    # The plan comes with its files, under its own name.
    (out / source.name).write_bytes(text.encode())
    (folder / "files.zip").write_bytes(zipped(source.stem, out))
    # What is to be decided about the plan itself stands beside its map already.
    return " ".join(in_units(message.words, wish.units) for message in decisions(built.made.messages))


def plan_file_name(text: str) -> Path:
    """A file name from the plan's own name, for the folder that the files come in."""
    return Path(f"{_plain_words(name_in(text)) or 'plan'}.toml")


def _plain_words(name: str) -> str:
    """Plain small letters and digits, with hyphens."""
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.lower()).split())[:60]


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
