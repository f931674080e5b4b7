"""The choices of a set side by side: what a plan takes with its posts and doorways fixed, loose or left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import fsum
from typing import Any

from tilegen.errors import InputError
from tilegen.making.collection import printing_hours
from tilegen.making.plan import kits_by_choice
from tilegen.making.things import things_of
from tilegen.making.workshop import Workshop
from tilegen.model.grid import Over
from tilegen.plans.kit import Kit
from tilegen.sheets.make import least_sheets_and_price, quick_sheets
from tilegen.sheets.parts import list_parts


@dataclass(frozen=True, slots=True)
class ChoiceCompared:
    """What one choice takes. types: kinds of tile; shapes: those and kinds of loose piece; pieces: loose pieces.

    print_hours: on beds full of each part. sheets, cost: at least, by area; None where the stock or a price is missing.
    """

    posts: str
    doorways: str
    types: int
    tiles: int
    pieces: int
    shapes: int
    print_hours: float
    sheets: int | None
    cost: float | None

    @property
    def paid(self) -> tuple[str, str]:
        """Sheets and what they cost, in words; nothing where it is not known."""
        cost = "" if self.cost is None else f"{self.cost:.2f}"
        return "" if self.sheets is None else str(self.sheets), cost

    def record(self) -> dict[str, Any]:
        """For the JSON; hours to a tenth."""
        names = ("posts", "doorways", "types", "tiles", "pieces", "shapes", "sheets")
        cost = None if self.cost is None else round(self.cost, 2)
        return {name: getattr(self, name) for name in names} | {
            "print_hours": round(self.print_hours, 1),
            "cost": cost,
        }


def compare_choices(kit_of: Callable[[Over], Kit], over: Over, workshop: Workshop) -> Iterator[ChoiceCompared]:
    """Every choice of posts and doorways for one plan, fixed ones first. kit_of: the plan's kit on a grid."""
    hours: dict[str, float] = {}
    for posts, doorways, kit in kits_by_choice(kit_of, over):
        things = things_of(kit)
        for thing, _ in things:
            if thing.id not in hours:
                hours[thing.id] = printing_hours(thing, workshop.printer)
        sheets, cost = _sheets(kit, workshop)
        yield ChoiceCompared(
            posts,
            doorways,
            len(kit.types),
            kit.tiles,
            sum(piece.count for piece in kit.pieces),
            len(things),
            fsum(hours[thing.id] * count for thing, count in things),
            sheets,
            cost,
        )


def _sheets(kit: Kit, workshop: Workshop) -> tuple[int | None, float | None]:
    """New sheets of the first stock and what they cost, at least; nothing where it can't be made of it."""
    stock, machine = workshop.stocks[0], workshop.machine
    try:
        listed = list_parts(things_of(kit), stock, workshop.ways)
    except InputError:
        return None, None
    sheets, cost = least_sheets_and_price(listed, stock, machine)
    priced = all(covered.price is not None for covered in quick_sheets(listed, stock, machine))
    return sheets, cost if priced else None
