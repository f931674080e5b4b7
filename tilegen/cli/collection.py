"""`tilegen collection`: which maps a shelf lays, and which tiles to make next."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tilegen.cli.common import (
    file_records,
    open_word,
    plain_table,
    print_json,
    progress,
    show,
    tell_cautions,
    tell_messages,
    warn,
)
from tilegen.cli.telling import say
from tilegen.errors import AnswerIsNo, InputError, a_few
from tilegen.files.toml import read_toml
from tilegen.files.writing import Job, check_folder, write_files
from tilegen.lengths import Units, counted
from tilegen.making.asked import Collecting, Tools
from tilegen.making.collection import Collected, collect, make_collection
from tilegen.making.connecting import cautions_for
from tilegen.making.plan import FOLDERS
from tilegen.making.workshop import Workshop, cautions, first_cautions, open_workshop
from tilegen.model.grid import Over
from tilegen.plans.collection import Counts
from tilegen.tiles.loose import Piece
from tilegen.tiles.tile import Tile

_HEAVIEST = 1_000_000


def run_collection(
    plans: Sequence[str],
    over: Over,
    asked: Collecting,
    tools: Tools,
    out: Path | None,
    *,
    units: Units,
    as_json: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Say which maps can be laid and what to make next; with a folder, make it."""
    words = [(path, weight) for word, weight in map(_weighted, plans) for path in _plans_in(word)]
    opened = [open_word(word, over) for word, _ in words]
    workshop = open_workshop(tools)
    folder = None if out is None else out / "collection"
    job = Job("collection", None, a_few(list(dict.fromkeys(plan.kit.plan for plan in opened))))
    if folder is not None:
        check_folder(folder, job, within=FOLDERS)

    def tell(words: str) -> None:
        if sys.stderr.isatty() and not quiet:
            say(words, err=True)

    with progress(f"{counted(len(opened), 'map')}: looking for the best tiles to make ...", quiet=quiet):
        found = collect(opened, [weight for _, weight in words], asked, workshop, tell)
    document = found.record()
    made, written = None, []
    if folder is not None:
        with progress("making the new tiles ...", quiet=quiet):
            made = make_collection(opened, found, asked, workshop, units)
        written = write_files(folder, made.files, job=job, tell=warn)
        document["files"] = file_records(folder, written)
    if as_json:
        print_json(document)
    elif not quiet:
        _tell(found, verbose=verbose)
        if made is not None and folder is not None:
            first = next((name for name in ("cut.pdf", "solids/beds.csv") if name in made.files), "make.csv")
            say(f"Start with {folder / first} ({counted(len(written), 'file')} in its folder)")
            say(f"Next time: add --own {folder / 'shelf.toml'} and another folder, -o next")
            tell_messages(made.messages, units, verbose=verbose)
            _tell_cautions(found, asked, workshop, units, verbose=verbose)
    if made is not None:
        made.check_closed()
    if found.over:
        measure = found.measure
        takes = f"{counted(int(found.choice.laid.sum()), 'map')} take {measure.words(found.choice.cost)}"
        raise AnswerIsNo(
            f"{measure.option}: {takes} and you allow {found.limit:g}. Without --maps and --weight you see the most "
            "maps for that"
        )


def _weighted(word: str) -> tuple[str, int]:
    """A plan and its weight, from PLAN or PLAN=WEIGHT.

    Raises:
        InputError: a weight that is not a whole number, or none at all.
    """
    plan, sign, weight = word.rpartition("=")
    if not sign or not plan or Path(word).exists() or weight.endswith(".toml"):
        return word, 1
    if not (weight.isascii() and weight.isdigit() and 1 <= int(weight[:8]) <= _HEAVIEST and len(weight) <= 7):
        raise InputError(
            f'"{weight}" is not a weight', cure=f"Write a whole number from 1 to {_HEAVIEST}, as in {plan}=3", file=plan
        )
    return plan, int(weight)


def _plans_in(word: str) -> list[str]:
    """The plan files in a folder; a word that is no folder as it is.

    Raises:
        InputError: a folder without plans.
    """
    if not word or not Path(word).is_dir():
        return [word]
    plans = [str(path) for path in sorted(Path(word).glob("*.toml")) if "drawing" in read_toml(path)]
    if not plans:
        raise InputError("there is no plan in this folder", cure="Give plan files, or a folder with some", file=word)
    return plans


def _tell(found: Collected, *, verbose: bool) -> None:
    choice, measure = found.choice, found.measure
    weighted = len(set(found.weights)) > 1
    rows = []
    for number, plan in enumerate(found.plans):
        missing = _things(found, found.demand.lacks[number])
        then = "yes" if choice.laid[number] else "no"
        row = [plan, *([str(found.weights[number])] if weighted else []), missing or "nothing", then]
        rows.append(row)
    headings = ("map", *(["weight"] if weighted else []), "missing", "with the new tiles")
    show(plain_table(headings, rows, f"{sum(found.now)} of {counted(len(found.plans), 'map')} can be laid now"))
    made = _things(found, choice.make)
    then = f"{int(choice.laid.sum())} of {counted(len(found.plans), 'map')}, one at a time"
    extra = found.stand_ins_cost
    takes = "" if measure.in_things else f" ({measure.words(choice.cost - extra)})"
    show(f"Make {made}{takes} to lay {then}." if made else f"Nothing to make: the shelf lays {then}.")
    if extra:
        show(f"Stand-ins on these maps count like {measure.words(extra)}.")
    if made or extra or not choice.laid.all():
        show(_proof(found))
    if found.weighs and not choice.laid.all():
        number, cost = found.nearest
        show(f"The next map would be {found.plans[number]}: {measure.words(cost)} more.")
    if made:
        numbers = [(str(kind.make), str(kind.own), kind.name, kind.thing.id) for kind in found.kinds if kind.make]
        show(plain_table(("make", "own", "tile", "id"), numbers, "What to make"))
    names = {kind.thing.id: kind.name for kind in found.kinds}
    for plan, stand_ins, then in zip(found.plans, found.stand_ins, choice.laid, strict=True):
        if stand_ins and then:
            told = ", ".join(f"{count} {names[by]} for {names[key]}" for key, by, count in stand_ins)
            show(f"Stand-ins on {plan}: {told}.")
    _tell_steps(found, verbose=verbose)


def _tell_steps(found: Collected, *, verbose: bool) -> None:
    """What to make first, and then; beside it what so many maps would take at least, if that is known to be less."""
    make, maps, rows = np.zeros_like(found.choice.make), sum(found.now), []
    fewer = any(cheaper is not None for cheaper in found.cheaper)
    for number, (step, cheaper) in enumerate(zip(found.steps, found.cheaper, strict=True), 1):
        make, maps = make + step.make, maps + len(step.maps)
        kinds = ", ".join(f"{count} {kind.name}" for kind, count in found.listed(step.make))
        takes = "" if found.measure.in_things else f", {found.measure.words(found.demand.cost(step.make))}"
        rows.append(
            (
                str(number),
                ((kinds if verbose else _things(found, step.make)) or "stand-ins alone") + takes,
                ", ".join(found.plans[plan] for plan in step.maps),
                str(maps),
                _things(found, make) or "nothing",
                *([""] if fewer and cheaper is None else [_things(found, cheaper)] if cheaper is not None else []),
            )
        )
    if len(rows) > 1:
        heads = ("step", "make", "then you can also lay", "maps", "made so far")
        title = "Step by step, the cheapest next map first"
        show(plain_table((*heads, *(["enough for as many maps"] if fewer else [])), rows, title))
    if fewer:
        show("The last column: if you want no more maps than that, less is enough. See which maps with --maps.")


def _proof(found: Collected) -> str:
    """How good the choice is, in one sentence."""
    choice, measure = found.choice, found.measure
    if found.weighs:
        what = "No other tiles within that limit lay more."
        return what if choice.proven else f"Not proven: maps that weigh {choice.bound} at most might be possible."
    if choice.proven:
        if found.stand_ins_cost:
            return "This is the least possible, stand-ins counted."
        return f"This is the {'fewest' if measure.word == 'tiles' else 'least'} possible."
    gap = (choice.cost - choice.bound) / choice.cost
    return f"Not proven: {measure.words(choice.bound)} at least would be needed ({gap:.1%} less)."


def _things(found: Collected, make: Counts) -> str:
    """So many tiles and loose pieces, in words; empty for none."""
    sums = {Tile: 0, Piece: 0}
    for kind, count in found.listed(make):
        sums[Tile if isinstance(kind.thing, Tile) else Piece] += count
    words = [counted(count, word) for count, word in zip(sums.values(), ("tile", "loose piece"), strict=True) if count]
    return " and ".join(words)


def _tell_cautions(found: Collected, asked: Collecting, workshop: Workshop, units: Units, *, verbose: bool) -> None:
    printing, cutting = asked.make != "cut", asked.make != "print"
    loose = any(isinstance(thing, Piece) for thing, _ in found.things)
    usual = cautions(workshop, printing=printing, cutting=cutting, loose=loose)
    first = first_cautions(workshop, printing=printing, cutting=cutting)
    tell_cautions(usual, first, cautions_for(found.things), units, verbose=verbose, rest="--verbose shows them")
