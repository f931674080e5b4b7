"""Making one variant: the same function here, in another process and on a machine of a cluster."""

from __future__ import annotations

import itertools
import multiprocessing
import multiprocessing.connection
import os
import threading
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tilegen.errors import AnswerIsNo, TilegenError, bug
from tilegen.version import __version__

if TYPE_CHECKING:
    from tilegen.making.workshop import Workshop
    from tilegen.tiles.loose import Things
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
    """The result of a task: files by path and the rest of its manifest, or the reason why there are none."""

    number: int
    files: dict[str, bytes] = field(default_factory=dict)
    record: dict[str, Any] = field(default_factory=dict)
    failure: str = ""


def make(task: Task) -> Outcome:
    """Make a variant; whatever goes wrong is reported, never raised, so that the others go on."""
    if task.version != __version__:
        return Outcome(task.number, failure=f"made by tilegen {__version__}, asked for by {task.version}")
    # What makes tiles takes long to import: only where one has to be made.
    from tilegen.making.things import make_things  # noqa: PLC0415
    from tilegen.tiles.loose import leaves_of  # noqa: PLC0415

    things: Things = [(task.tile, 1), *leaves_of(task.tile)]
    try:
        made = make_things(things, task.workshop, task.halves, quick=True)
    except TilegenError as error:
        return Outcome(task.number, failure=str(error))
    except Exception as error:
        return Outcome(task.number, failure=bug(error))
    record = {
        "solids": made.solids,
        "sheets": made.sheets,
        "notes": [message.words for message in made.messages],
        "answer": "",
    }
    try:
        made.check_closed()
    except AnswerIsNo as answer:
        record["answer"] = str(answer)
    return Outcome(task.number, made.files, record)


# Tasks on their way for each process: enough to keep it busy, few enough to keep memory constant.
_AHEAD = 2
DIED = "the process that made it died (a crash, or no memory left)"


def run_here(tasks: Iterator[Task], jobs: int = 1) -> Iterator[Outcome]:
    """What comes of each task, in the order in which they are done."""
    if jobs <= 1:
        yield from map(make, tasks)
        return
    pool = _pool(jobs)
    waiting: dict[Future[Outcome], Task] = {}
    try:
        while True:
            lost = _submit(pool, waiting, itertools.islice(tasks, _AHEAD * jobs - len(waiting)))
            if not waiting and not lost:
                return
            done = wait(waiting, return_when=FIRST_COMPLETED).done if waiting else set()
            for future in done:
                task = waiting.pop(future)
                try:
                    outcome = future.result()
                except BrokenProcessPool:
                    lost.append(task)
                else:
                    yield outcome
            if lost:
                # Nobody knows whose fault it was: each of them once more, in a process of its own.
                lost += waiting.values()
                waiting.clear()
                pool.shutdown(cancel_futures=True)
                yield from map(_alone, sorted(lost, key=lambda task: task.number))
                pool = _pool(jobs)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _submit(pool: ProcessPoolExecutor, waiting: dict[Future[Outcome], Task], tasks: Iterator[Task]) -> list[Task]:
    """Hand tasks to a pool; those that a broken one does not take any more come back."""
    lost = []
    for task in tasks:
        try:
            waiting[pool.submit(make, task)] = task
        except BrokenProcessPool:
            lost.append(task)
    return lost


def _alone(task: Task) -> Outcome:
    with _pool(1) as pool:
        try:
            return pool.submit(make, task).result()
        except BrokenProcessPool:
            return Outcome(task.number, failure=DIED)


def _pool(jobs: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn"), initializer=_end_with_parent)


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for ever: it ends itself."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return
    sentinel = parent.sentinel

    def watch() -> None:
        multiprocessing.connection.wait([sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
