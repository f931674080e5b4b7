"""How much work by hand a kit is, said before any of it is made, and what would make it less."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_stock, verdict_of
from tilegen.lengths import counted, show_length
from tilegen.making.things import things_of
from tilegen.making.workshop import Workshop
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.materials import Stock, of_thickness
from tilegen.plans.drawing import Drawing
from tilegen.plans.larger import cover_floor, read_kinds
from tilegen.sheets.make import quick_minutes
from tilegen.sheets.parts import PartsList, list_parts
from tilegen.tiles.loose import Things

# Two half days of a weekend: more than that nobody should begin unawares.
LONG_HOURS = 8.0
# What saves less than this share of the work is not worth another material or machine; more choices than these confuse.
_WORTH, _MOST = 0.3, 3
# What is tried in place of the material at hand: shipped sheets as thick as a usual wall.
_OTHERS = ("foam", "foam-core")
_PIECES = "2x1, 2x2"
# Larger floors take longer to cover than a person likes to wait for a hint.
_MOST_SQUARES = 150


class _Choice(NamedTuple):
    minutes: float
    words: str


def work_messages(
    things: Things, workshop: Workshop, listed: Sequence[PartsList], drawing: Drawing | None
) -> Iterator[Message]:
    """For each stock whose work by hand takes long: how many parts and hours, and what would take less.

    listed: the parts, by the workshop's stocks. drawing: what larger pieces may cover, if anything.
    """
    for stock, parts in zip(workshop.stocks, listed, strict=True):
        minutes = quick_minutes(parts, stock, workshop.machine)
        if minutes < LONG_HOURS * 60:
            continue
        found = sorted(_choices(things, workshop, stock, parts, drawing))
        better = [choice for choice in found if choice.minutes <= (1 - _WORTH) * minutes][:_MOST]
        less = "; ".join(f"{_hours(choice.minutes)} {choice.words}" for choice in better)
        cure = (
            f"Less work: {less}."
            if less
            else "Make it bit by bit: --only TILE, or what is in sight at once (--in-sight)."
        )
        count = counted(sum(part.count for part in parts.parts), "part")
        of = f" of {stock.word}" if len(workshop.stocks) > 1 else ""
        yield Message("decide", f"{count}{of}, {_hours(minutes)} of work by hand.", cure=cure)


def _hours(minutes: float) -> str:
    return f"about {counted(max(1, round(minutes / 60)), 'hour')}"


def _choices(
    things: Things, workshop: Workshop, stock: Stock, parts: PartsList, drawing: Drawing | None
) -> Iterator[_Choice]:
    """What else the kit could be made of or with, each with its time."""
    machine = workshop.machine
    laser = read_machine("laser")
    if machine.process != laser.process and _may_cut(stock, laser):
        yield _Choice(quick_minutes(parts, stock, laser), "on a laser (--machine laser)")
    walls = max((how.wall for how in parts.constructions), key=lambda wall: wall.layers)
    for layers in range(1, walls.layers) if stock.plain else ():
        thick = round(2 * walls.target / layers) / 2
        other = Stock.of(of_thickness(stock.base, thick))
        if thick > stock.base.real_thickness and _may_cut(other, machine):
            words = f'from sheets of {show_length(thick)} (--thickness "{show_length(thick)}")'
            yield from _made_of(things, other, workshop, words)
            break
    for word in _OTHERS:
        other = read_stock(word)
        if not (stock.plain and word == stock.base.kin) and _may_cut(other, machine):
            yield from _made_of(things, other, workshop, f"from {word} (--material {word})")
    if drawing is not None and drawing.by_tiles and (drawing.rooms != 0).sum() <= _MOST_SQUARES:
        larger = things_of(cover_floor(drawing, read_kinds(_PIECES)).kit)
        yield from _made_of(larger, stock, workshop, f'in larger tiles (--pieces "{_PIECES}")')


def _may_cut(stock: Stock, machine: MachineFile) -> bool:
    return all(verdict_of(material, machine).verdict == "allow" for material in stock.materials)


def _made_of(things: Things, stock: Stock, workshop: Workshop, words: str) -> Iterator[_Choice]:
    """The time it takes from another stock, built in that stock's own way; nothing where it can't be."""
    try:
        listed = list_parts(things, stock, replace(workshop.ways, construction=None))
    except InputError:
        return
    yield _Choice(quick_minutes(listed, stock, workshop.machine), words)
