"""Making one variant: the same function here, in another process and on a machine of a cluster."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tilegen.errors import AnswerIsNo, TilegenError
from tilegen.version import __version__

if TYPE_CHECKING:
    from tilegen.making.workshop import Workshop
    from tilegen.tiles.doors import Things
    from tilegen.tiles.tile import Tile


@dataclass(frozen=True)
class Task:
    """One variant to make; number: its place in the batch. version: of the tool that asks for it."""

    number: int
    tile: Tile
    workshop: Workshop
    halves: tuple[str, ...]
    version: str = __version__


@dataclass(frozen=True)
class Outcome:
    """What came of a task: files by path and what its manifest says besides, or the reason why there are none."""

    number: int
    files: dict[str, bytes] = field(default_factory=dict)
    record: dict[str, Any] = field(default_factory=dict)
    failure: str = ""


def make(task: Task) -> Outcome:
    """Make a variant; whatever goes wrong is told, never raised, so that the others go on."""
    if task.version != __version__:
        return Outcome(task.number, failure=f"made by tilegen {__version__}, asked for by {task.version}")
    # What makes tiles takes long to import: only where one has to be made.
    from tilegen.making.things import make_things  # noqa: PLC0415
    from tilegen.tiles.doors import leaves_of  # noqa: PLC0415

    things: Things = [(task.tile, 1), *leaves_of(task.tile)]
    try:
        made = make_things(things, task.workshop, task.halves)
    except TilegenError as error:
        return Outcome(task.number, failure=str(error))
    except Exception as error:
        told = f"{type(error).__name__}: {error}".splitlines()[0][:300]
        return Outcome(task.number, failure=f"a fault of the tool itself ({told})")
    record = {"solids": made.solids, "sheets": made.sheets, "notes": made.notes, "answer": ""}
    try:
        made.check_closed()
    except AnswerIsNo as answer:
        record["answer"] = str(answer)
    return Outcome(task.number, made.files, record)
