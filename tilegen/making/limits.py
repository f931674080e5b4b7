"""What a run may take: tiles, hours, sheets, money; and for how many rooms of a map, in order, that is enough."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import fsum
from typing import NamedTuple

from tilegen.errors import AnswerIsNo, InputError
from tilegen.lengths import counted, show_number
from tilegen.making.asked import Limits
from tilegen.making.things import print_meshes
from tilegen.making.workshop import Workshop
from tilegen.model.materials import MaterialFile
from tilegen.sheets.make import least_sheets_and_price, make_sheet_sets
from tilegen.sheets.parts import list_parts
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.beds import make_job
from tilegen.tiles.loose import Things

_SLACK = 1e-6


class Measure(NamedTuple):
    """What a choice costs by. option: what limits it. fine: how many of the solver's whole numbers are one of it.

    says: so much of it about, or what each is called where it is counted. takes: so much, exactly; by: who works, or
    what. places: decimals. of_sheets: whether only what is cut takes any. in_things: whether things are counted.
    """

    word: str
    fine: int
    says: str
    takes: str
    places: int = 2
    of_sheets: bool = False
    in_things: bool = False

    @property
    def option(self) -> str:
        """Its limit on the command line."""
        return f"--most-{self.word}"

    def words(self, cost: float) -> str:
        """So much of it, for people."""
        number = cost / self.fine
        if self.in_things:
            return counted(round(number), self.says) if number % 1 == 0 else f"{show_number(number)} {self.says}s"
        return self.says.format(f"{number:.1f}" if number < 20 else f"{number:.0f}")


MEASURES = {
    measure.word: measure
    for measure in (
        Measure("tiles", 1, "new tile", "{} tiles and loose pieces", in_things=True),
        Measure("hours", 3600, "about {} hours", "{} hours {by}", places=1),
        Measure("sheets", 10_000, "{} sheets by area", "{} sheets", of_sheets=True),
        Measure("cost", 1_000, "about {} for sheets", "{} for sheets", of_sheets=True),
    )
}


def limits_of(asked: Limits, make: str) -> dict[str, float]:
    """What is limited, by its word.

    Raises:
        InputError: hours that may be the printer's or by hand, sheets where none are cut, a number that is none.
    """
    limits = asked.limits
    for word, limit in limits.items():
        if not limit < 1e9:
            raise InputError("this is too large", cure="Use less than 1000000000", place=MEASURES[word].option)
    cut = [word for word in limits if MEASURES[word].of_sheets]
    if cut and make == "print":
        raise InputError(
            "what is printed takes no sheets",
            cure="Use --most-hours, or leave out --make print",
            place=MEASURES[cut[0]].option,
        )
    if "hours" in limits and make == "both" and not cut:
        raise InputError(
            "hours of the printer, or of work by hand?", cure="Add --make print or --make cut", place="--most-hours"
        )
    return limits


def check_one_stock(workshop: Workshop) -> None:
    """Refuse several materials that are alternatives.

    Raises:
        InputError: there are such.
    """
    if len(workshop.stocks) > 1:
        raise InputError("each of the materials has its own sheets", cure="Name one", place="--material")


def no_price(material: MaterialFile) -> InputError:
    """What to do about a sheet whose price is not known."""
    return InputError(
        f"{material.name} has no price",
        cure="Write price = 3.5, or what one sheet costs, under [sheet] in a material file of your own",
        place=MEASURES["cost"].option,
    )


Amounts = Mapping[str, float]


@dataclass(frozen=True)
class Fit:
    """So many rooms keep within limits. bound: no more than so many can.

    takes: what they take, by the limits' words. more: what one more room would make of that, where that is known.
    prints: whether hours are the printer's.
    """

    limits: Amounts
    number: int
    bound: int
    takes: Amounts
    more: Amounts
    prints: bool

    @property
    def proven(self) -> bool:
        """Whether no more rooms keep within the limits."""
        return self.number == self.bound

    @property
    def too_much(self) -> Amounts:
        """Of what one more room would take, that which is over a limit."""
        return {word: amount for word, amount in self.more.items() if amount > self.limits[word] + _SLACK}

    def words(self, amounts: Amounts) -> str:
        """Amounts for people."""
        by = "of printing" if self.prints else "by hand"
        found = [(MEASURES[word], amount) for word, amount in amounts.items()]
        words = [one.takes.format(show_number(amount, one.places), by=by) for one, amount in found]
        words = [re.sub(r"^1 (sheet|hour)s", r"1 \1", one) for one in words]
        return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def most_rooms(count: int, things_of: Callable[[int], Things], limits: Amounts, workshop: Workshop, make: str) -> Fit:
    """The most rooms, from the first on, whose tiles take no more than the limits.

    things_of: what is made for so many rooms; more rooms, more things. Each half of what is left is ruled out by one
    trial, first by what no layout can save, then by layouts.

    Raises:
        InputError: several materials, or one without a price; a part that fits no bed or sheet.
    """
    trial = _Trial(workshop, limits, make)
    if trial.cuts:
        check_one_stock(workshop)

    def within(amounts: Amounts | None) -> bool:
        return amounts is not None and all(amounts[word] <= limits[word] + _SLACK for word in amounts)

    least = cache(lambda number: trial.least(things_of(number)))
    takes = cache(lambda number: trial.takes(things_of(number)))
    bound = _last(count, lambda number: within(least(number)))
    number = _last(bound, lambda number: within(takes(number)))
    if number == count:
        return Fit(limits, number, count, takes(number) or {}, {}, trial.prints)
    more = least(number + 1) if number == bound else takes(number + 1)
    found = Fit(limits, number, bound, takes(number) or {}, more or {}, trial.prints)
    # Hours are those of the layout at hand, and an estimate: with another layout there are hardly fewer.
    return replace(found, bound=number) if "hours" in found.too_much else found


def _last(count: int, holds: Callable[[int], bool]) -> int:
    """The last number up to a count for which something holds, if it holds for none after it; 0 if for none."""
    if holds(count):
        return count
    low, high = 0, count
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


class _Trial:
    """What things take, by the words of limits."""

    def __init__(self, workshop: Workshop, limits: Amounts, make: str) -> None:
        self.workshop, self.limits = workshop, limits
        self.prints = "hours" in limits and make == "print"
        self.cuts = not self.prints and bool({"hours", "sheets", "cost"} & {*limits})

    def least(self, things: Things) -> Amounts:
        """What they take at least, whatever the layout."""
        found: dict[str, float] = {"tiles": sum(count for _, count in things)}
        if things and {"sheets", "cost"} & {*self.limits}:
            stock, machine = self.workshop.stocks[0], self.workshop.machine
            listed = list_parts(things, stock, self.workshop.ways)
            found["sheets"], found["cost"] = least_sheets_and_price(listed, stock, machine)
        return {word: amount for word, amount in found.items() if word in self.limits}

    def takes(self, things: Things) -> Amounts | None:
        """What they take; None where the stock on hand is not enough."""
        found: dict[str, float] = dict.fromkeys(self.limits, 0.0)
        if "tiles" in found:
            found["tiles"] = sum(count for _, count in things)
        if things and self.prints:
            meshes, _ = print_meshes(things, self.workshop.printer, self.workshop.asked.jobs)
            copies = [(mesh, count) for mesh, (_, count) in zip(meshes, things, strict=True)]
            found["hours"] = make_job(copies, self.workshop.printer).whole.hours
        elif things and self.cuts:
            try:
                cut = self._cut(self._sets(things))
            except AnswerIsNo:
                return None
            found |= {word: amount for word, amount in cut.items() if word in found}
        return found

    def _sets(self, things: Things) -> tuple[SheetSet, ...]:
        workshop, stock = self.workshop, self.workshop.stocks[0]
        return make_sheet_sets(things, stock, workshop.machine, workshop.ways, compensate=not workshop.asked.nominal)

    def _cut(self, sets: tuple[SheetSet, ...]) -> Amounts:
        prices = [one.price for one in sets] if "cost" in self.limits else []
        for one, price in zip(sets, prices, strict=False):
            if price is None:
                raise no_price(one.material)
        return {
            "hours": fsum(one.minutes for one in sets) / 60,
            "sheets": sum(count for one in sets for count in one.new_sheets.values()),
            "cost": fsum(price or 0.0 for price in prices),
        }
