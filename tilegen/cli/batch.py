"""`--vary` and `--variants`: a batch of variants of one or more profiles."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from tilegen.batch.cluster import run_on_cluster
from tilegen.batch.run import Batch, Runner, Source
from tilegen.batch.store import Fate, Record, listed
from tilegen.batch.variants import Variation, read_variants, vary
from tilegen.batch.work import run_here
from tilegen.cli.common import distinct_stems, warn
from tilegen.cli.options import VaryWords
from tilegen.cli.telling import say
from tilegen.errors import AnswerIsNo, InputError
from tilegen.files.toml import find
from tilegen.files.writing import file_stem
from tilegen.lengths import counted
from tilegen.making.asked import Tools
from tilegen.making.workshop import cautions, open_workshop
from tilegen.model.grid import Over, option_for

_STATES = {
    "made": "made",
    "kept": "there already",
    "same": "the same type as another",
    "failed": "failed",
}


def run_batch(
    words: Sequence[str],
    out: Path,
    over: Over,
    tools: Tools,
    batch_words: VaryWords,
    *,
    halves: tuple[str, ...],
    as_json: bool,
    quiet: bool,
) -> None:
    """Make all variants of each profile, each profile's into a folder of its own.

    Raises:
        InputError: something is wrong with the words, or nothing can be made.
        AnswerIsNo: some variants failed; they are listed, the others are made.
    """
    rows = None if batch_words.variants is None else read_variants(batch_words.variants)
    variation = vary(batch_words.vary, rows)
    _check_twice(variation, over)
    paths = [find(word, "profiles") for word in words]
    workshop = open_workshop(tools)
    batches = [
        Batch(
            Source(path, batch_words.unit, over),
            file_stem(stem),
            variation,
            workshop,
            halves,
            out / f"{stem}-variants",
            batch_words.variants,
            warn,
        )
        for path, stem in zip(paths, distinct_stems(paths), strict=True)
    ]
    _run_all(batches, batch_words.scheduler, tools.jobs, quiet=quiet)
    if as_json:
        sys.stdout.writelines(_document(batches))
    elif not quiet:
        for batch in batches:
            say(_summary(batch))
        for caution in cautions(workshop, printing="solids" in halves, cutting="sheets" in halves):
            say(f"  caution: {caution}")
    _tell_failures(batches)


def _run_all(batches: Sequence[Batch], scheduler: str | None, jobs: int, *, quiet: bool) -> None:
    """Make every variant, here or on the scheduler's cluster."""
    # Faults of the last one are reported before the first one is begun.
    for batch in batches:
        batch.check()
        if len(batches) > 1:
            _ = batch.source.profile
    runner: Runner = partial(run_here, jobs=jobs)
    if scheduler is not None:
        runner = partial(run_on_cluster, address=scheduler)
    for batch in batches:
        with _progress(batch, quiet=quiet) as step:
            batch.run(runner, step)


def _check_twice(variation: Variation, over: Over) -> None:
    """Refuse a measure that is both given and varied."""
    varied = {(choice.table, choice.key): choice.parameter for choice in variation.varied}
    for table, keys in over.tables.items():
        for key in keys:
            if (table, key) in varied:
                name = varied[table, key]
                option = option_for(table, key)
                raise InputError(
                    f"{name} is both fixed and varied", cure=f"Leave out {option} or --vary {name}", place=option
                )


@contextmanager
def _progress(batch: Batch, *, quiet: bool) -> Iterator[Callable[[], None]]:
    """On a terminal a bar on standard error; elsewhere nothing."""
    if quiet or not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(batch.stem, total=batch.variation.count)
        yield lambda: bar.advance(task)


def _summary(batch: Batch) -> str:
    count = Counter(fate.state for fate in batch.fates())
    states = ", ".join(f"{count[state]} {words}" for state, words in _STATES.items() if count[state])
    return f"{batch.folder}: {counted(count.total(), 'variant')}: {states}"


def _document(batches: Sequence[Batch]) -> Iterator[str]:
    """The JSON of all batches, put together as it is printed."""
    count = Counter(fate.state for batch in batches for fate in batch.fates())
    yield '{"variants": [\n'
    yield from listed(_variant(batch, fate) for batch in batches for fate in batch.fates())
    yield '],\n"files": [\n'
    yield from listed(_rooted(batch, entry) for batch in batches for entry in batch.store.files(batch.fates()))
    for half in ("solids", "sheets"):
        if any(half in batch.halves for batch in batches):
            yield f'],\n"{half}": [\n'
            yield from listed(_records(batches, half))
    totals = ", ".join(f'"{state}": {count[state]}' for state in _STATES)
    yield f'],\n"totals": {{"variants": {count.total()}, {totals}}}}}\n'


def _variant(batch: Batch, fate: Fate) -> Record:
    record: Record = {"name": fate.name, "parameters": dict(fate.parameters), "state": fate.state}
    if fate.there:
        return {**record, "folder": (batch.folder / fate.name).as_posix(), "answer": fate.told}
    return {**record, "same_as" if fate.state == "same" else "why": fate.told}


def _rooted(batch: Batch, entry: Record) -> Record:
    return {**entry, "path": (batch.folder / entry["path"]).as_posix()}


def _records(batches: Iterable[Batch], half: str) -> Iterator[Record]:
    for batch in batches:
        for fate in batch.fates():
            if fate.there:
                yield from (batch.store.record(fate.name) or {}).get(half, [])


def _tell_failures(batches: Sequence[Batch]) -> None:
    """Every variant that failed or whose files are not as they should be, then exit 1."""
    count = 0
    for batch in batches:
        for fate in batch.fates():
            if fate.told and fate.state != "same":
                count += 1
                say(f"  {fate.name}: {fate.told}", err=True)
    if count:
        raise AnswerIsNo(f"{counted(count, 'variant')} failed, listed above; the others are there")
