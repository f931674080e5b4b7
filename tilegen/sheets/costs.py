"""What a set costs, from the prices in the stock files: in the currency they are written in."""

from __future__ import annotations

from collections.abc import Mapping
from math import fsum

from tilegen.sheets.sheetset import SheetSet


def price_of_sheets(sheets: SheetSet) -> float | None:
    """Of all new sheets; None where the price of one of them is not known. Offcuts cost nothing."""
    material = sheets.material
    prices = {stock.size: stock.price for stock in reversed(material.sizes)}
    total = 0.0
    for size, count in sheets.new_sheets.items():
        price = prices.get(size)
        if price is None:
            return None
        total += price * count
    return total


def cost_of_each(sheets: SheetSet, counts: Mapping[str, int]) -> dict[str, float] | None:
    """What one tile of each type costs, by id: its share of the price by the area of its parts, waste included.

    counts: tiles of each type. None where a price is not known.
    """
    total = price_of_sheets(sheets)
    if total is None:
        return None
    areas: dict[str, float] = {}
    for part in sheets.parts:
        for use in part.uses:
            areas[use.tile] = areas.get(use.tile, 0.0) + part.outline.area * use.count
    whole = fsum(areas.values())
    return {tile: total * area / whole / counts[tile] for tile, area in areas.items()} if whole else {}
