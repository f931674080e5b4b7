"""How much of a kit to make: all of it, what can be in sight at once, less what is owned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tilegen.commands.common import OpenPlan
from tilegen.plans.kit import Kit
from tilegen.plans.shelf import Stocktaking, take_stock
from tilegen.plans.sight import InSight, in_sight
from tilegen.reading.shelves import read_shelf


@dataclass(frozen=True)
class Needs:
    """How many of each type to make, by id, and how that came about."""

    sight: InSight | None
    stock: Stocktaking | None
    tiles: dict[str, int]
    pieces: dict[str, int]

    def more(self, kit: Kit) -> dict[str, dict[str, Any]]:
        """What is added to each tile of the kit's JSON: `in_sight`, `own`, `make`."""
        found: dict[str, dict[str, Any]] = {t.tile.id: {} for t in kit.types}
        if self.sight is not None:
            for kind, most in zip(kit.types, self.sight.most, strict=True):
                found[kind.tile.id]["in_sight"] = most
        if self.stock is not None:
            for entry in self.stock.tiles:
                found[entry.id] |= {"own": entry.own, "make": self.tiles[entry.id]}
        return found

    def totals(self) -> dict[str, int]:
        """What is added to the totals."""
        return {} if self.sight is None else {"in_sight_tiles": self.sight.tiles}


def work_out_needs(
    plan: OpenPlan, *, sight: bool, doors_open: bool, own: Path | None, others: Sequence[Kit] = ()
) -> Needs:
    """What to make of a plan's kit: all of it, or what can be in sight at once, less what is owned.

    Raises:
        InputError: a shelf that can't be read or names an unknown tile.
    """
    kit = plan.kit
    seen = in_sight(plan.drawing, kit, doors_open=doors_open) if sight else None
    stock = take_stock(kit, read_shelf(own), others) if own is not None else None
    wanted = {t.tile.id: t.count if seen is None else seen.most[i] for i, t in enumerate(kit.types)}
    pieces = {p.piece.id: p.count for p in kit.pieces}
    owned = {} if stock is None else {entry.id: entry.own for entry in (*stock.tiles, *stock.pieces)}
    return Needs(
        seen,
        stock,
        {key: max(0, count - owned.get(key, 0)) for key, count in wanted.items()},
        {key: max(0, count - owned.get(key, 0)) for key, count in pieces.items()},
    )
