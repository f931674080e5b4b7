"""What the commands share: measures from options, tools, output for people and for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tilegen.errors import InputError
from tilegen.jobs import Job, Written, portable
from tilegen.lengths import counted, parse_length
from tilegen.reading.files import find, read_toml, shipped
from tilegen.reading.material_models import ConstructionName, CornersName
from tilegen.sheets.papers import Paper
from tilegen.telling import command_line, say

if TYPE_CHECKING:
    from tilegen.plans.drawing import Drawing
    from tilegen.plans.kit import Kit
    from tilegen.plans.messages import Message
    from tilegen.plans.pieces import Cover


@dataclass(frozen=True, slots=True)
class Measures:
    """The grid as given on the command line: a grid file and measures that go over it."""

    grid: Path | None = None
    pitch: str | None = None
    wall: str | None = None
    height: str | None = None
    depth: str | None = None
    connectors: str | None = None
    floor: str | None = None
    walls: str | None = None

    def overrides(self) -> dict[str, Any]:
        """The measures given, in mm, by their names in the grid; "connectors": their kind; "surface": its table.

        Raises:
            InputError: not a length.
        """
        given = {
            "pitch": ("--pitch", self.pitch),
            "wall_thickness": ("--wall", self.wall),
            "wall_height": ("--height", self.height),
            "base_depth": ("--depth", self.depth),
        }
        found: dict[str, Any] = {} if self.connectors is None else {"connectors": self.connectors}
        words = {name: text for name, text in (("floor", self.floor), ("walls", self.walls)) if text is not None}
        if words:
            found["surface"] = words
        for name, (option, text) in given.items():
            if text is not None:
                try:
                    found[name] = parse_length(text)
                except InputError as error:
                    raise error.located(place=option) from None
        return found


@dataclass(frozen=True, slots=True)
class Tools:
    """Materials, machine and printer by name, and how the work is done."""

    materials: tuple[str, ...] = ("foam",)
    machine: str = "hand-knife"
    printer: str = "fdm-220"
    accept: str | None = None
    paper: Paper = "A4"
    jobs: int = 1
    construction: ConstructionName | None = None
    corners: CornersName | None = None
    nominal: bool = False
    underside: bool = False
    formats: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Covering:
    """How a plan's cells become tiles, as given on the command line; own: a shelf file."""

    pieces: str | None = None
    least: str = "pieces"
    lattice: str | None = None
    own: Path | None = None

    def first_block(self) -> tuple[int, int] | None:
        """Where the first block of a 5 ft plan starts, if that is given.

        Raises:
            InputError: not one of the four.
        """
        if self.lattice is None:
            return None
        found = tuple(part.strip() for part in self.lattice.split(","))
        if len(found) != 2 or not set(found) <= {"0", "1"}:
            raise InputError(f'"{self.lattice}"', expected="0,0 or 0,1 or 1,0 or 1,1", place="--lattice")
        return int(found[0]), int(found[1])


@dataclass(frozen=True)
class OpenPlan:
    """A plan read, worked out and counted; cover: how larger pieces cover it."""

    path: Path
    drawing: Drawing
    kit: Kit
    cover: Cover | None = None


_OTHER: dict[str, tuple[str, str, str]] = {
    "plans": ("profiles", "tile", "a profile of one tile"),
    "profiles": ("plans", "drawing", "a plan of a whole map"),
}
_COMMAND = {"plans": "build", "profiles": "tile"}


def find_as(word: str | Path, kind: str) -> Path:
    """The plan or profile that a user means; one that is the other of the two is told from it.

    Raises:
        InputError: no such file; or a profile for a plan, or the other way round, with the command for it.
    """
    other, key, words = _OTHER[kind]
    try:
        path = find(word, kind)
    except InputError as error:
        try:
            find(word, other)
        except InputError:
            raise error from None
        found = True
    else:
        tables = read_toml(path) if path.suffix == ".toml" else {}
        found = key in tables and _OTHER[other][1] not in tables
    if found:
        right = command_line(_COMMAND[other], word)
        raise InputError(words, expected=f"a {kind[:-1]}", cure=f"use: {right}", file=str(word))
    return path


def open_plan(word: str, measures: Measures, covering: Covering = Covering()) -> OpenPlan:
    """A plan by path or shipped name.

    Raises:
        InputError: not found, or something in it is wrong.
    """
    # What counts a plan takes longer to import than a batch that is there already takes to look through.
    from tilegen.plans.kit import make_kit  # noqa: PLC0415
    from tilegen.plans.piecekinds import read_kinds  # noqa: PLC0415
    from tilegen.plans.pieces import cover_floor  # noqa: PLC0415
    from tilegen.reading.plans import read_plan  # noqa: PLC0415
    from tilegen.reading.shelves import read_shelf  # noqa: PLC0415

    path = find_as(word, "plans")
    drawing = read_plan(path, grid_file=measures.grid, overrides=measures.overrides())
    lattice = covering.first_block()
    if lattice is not None and drawing.scale != "5 ft":
        raise InputError("--lattice on a 10 ft plan", expected='a plan of scale "5 ft"', place="--lattice")
    try:
        if covering.pieces is None:
            return OpenPlan(path, drawing, make_kit(drawing, lattice))
        owned = owned_by_id(make_kit(drawing), read_shelf(covering.own).tiles) if covering.own else {}
        cover = cover_floor(drawing, read_kinds(covering.pieces), owned=owned, least=covering.least)
        return OpenPlan(path, drawing, cover.kit, cover)
    except InputError as error:
        raise error.located(file=str(path)) from None


def owned_by_id(kit: Kit, shelf: Mapping[str, int]) -> dict[str, int]:
    """What a shelf holds, by id: single squares may stand there by name, larger pieces by their id."""
    ids = {t.name: t.tile.id for t in kit.types}
    found: dict[str, int] = {}
    for word, count in shelf.items():
        key = ids.get(word, word.rsplit("-", 1)[-1].upper())
        found[key] = found.get(key, 0) + count
    return found


def cover_words(cover: Cover) -> str:
    """How good a cover is, in one line."""
    proven = "no choice of these takes fewer" if cover.proven else f"at least {cover.least} would be needed"
    return (
        f"{counted(cover.squares, 'square')} covered by {counted(cover.pieces, 'piece')}; {proven}; "
        f"rectangles of any size: at least {cover.rectangles}."
    )


def distinct_stems(paths: Iterable[Path]) -> list[str]:
    """A folder name for each file.

    Raises:
        InputError: two files would share a folder.
    """
    stems = [portable(path.stem) for path in paths]
    folded = [stem.casefold() for stem in stems]
    for stem in stems:
        if folded.count(stem.casefold()) > 1:
            raise InputError(f'two files called "{stem}"', expected="files whose names differ", cure="rename one")
    return stems


BOTH = ("solids", "sheets")


def command_of(halves: tuple[str, ...]) -> str:
    """The command that makes these halves."""
    return "tile" if halves == BOTH else halves[0].removesuffix("s")


def job_of(command: str, path: Path, name: str, kind: str = "plan") -> Job:
    """What a command makes of a plan or profile, for the manifest."""
    return Job(command, path, name, kind, path.resolve().parent == shipped(f"{kind}s").resolve())


def warn(text: str) -> None:
    """Say on standard error what the user should know, however little else is said."""
    say(f"tilegen: {text}", err=True)


# Of what is to be decided the terminal shows so many; the report and the JSON have all of it.
MOST_MESSAGES = 3


def tell_messages(messages: Sequence[Message], *, quiet: bool = False) -> None:
    """Show on standard error what there is to decide about a plan, each with the lines that would mend it."""
    if quiet:
        return
    for message in messages[:MOST_MESSAGES]:
        say(f"  {message.level}: {message.words}", err=True)
    if len(messages) > MOST_MESSAGES:
        say(f"  {len(messages) - MOST_MESSAGES} more to decide: --json lists them all", err=True)


def file_records(folder: Path, written: Iterable[Written]) -> list[dict[str, str]]:
    """The files made, for the JSON; paths as seen from where the command was run."""
    return [{"path": (folder / w.path).as_posix(), "kind": w.kind, "sha256": w.sha256} for w in written]


def print_json(document: Any) -> None:  # noqa: ANN401
    """One JSON document on standard output."""
    sys.stdout.write(json.dumps(document, indent=1) + "\n")


@contextmanager
def progress(text: str, *, quiet: bool) -> Iterator[None]:
    """Say on a terminal's standard error what is going on; elsewhere nothing."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415 - slow to import, needed on a terminal only

    with Console(stderr=True).status(text):
        yield
