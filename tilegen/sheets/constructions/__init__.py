"""The ways to build tiles from sheets: one file per construction, and this table, which imports nothing heavy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from tilegen.model.grid import Grid
    from tilegen.model.materials import MaterialFile, Stock
    from tilegen.model.words import ConstructionName, CornersName
    from tilegen.sheets.constructions.kind import Construction


@dataclass(frozen=True, slots=True)
class ConstructionRow:
    """One construction. word: on the command line, in materials, and its module. says: what it is. name: its class."""

    word: str
    says: str
    name: str

    def load(self) -> type[Construction]:
        """Its class; loads the geometry when it is first needed."""
        return cast("type[Construction]", getattr(import_module(f"{__name__}.{self.word}"), self.name))


@dataclass(frozen=True, slots=True)
class ConstructionChoice:
    """What the user chose in place of the material's own: the construction, and how walls meet at corners."""

    construction: ConstructionName | None = None
    corners: CornersName | None = None


CONSTRUCTIONS: Mapping[str, ConstructionRow] = {
    row.word: row
    for row in (
        ConstructionRow("stacked", "sheets glued face to face, walls of as many layers as they need", "Stacked"),
        ConstructionRow(
            "slotted", "stacked board whose walls have tabs, for slots in the floor and for each other", "Slotted"
        ),
        ConstructionRow("folded", "card folded into closed boxes, and into skins over a core", "Folded"),
        ConstructionRow("grooved", "stock with a skin, its walls folded round corners in V-grooves", "Grooved"),
    )
}


def construction_of(
    grid: Grid,
    material: MaterialFile | Stock,
    choice: ConstructionChoice = ConstructionChoice(),
) -> Construction:
    """How the tiles of a grid are built from a stock: base to its depth, walls to the thickness they have in print.

    Where bases are of another material than walls, each is built in its own material's way.

    Raises:
        InputError: the stock is too thick, or does not go with the construction asked for.
    """
    # The table above is read where nothing of the models is.
    from tilegen.model.materials import Stock  # noqa: PLC0415

    stock = Stock.of(material)

    def made(
        material: MaterialFile, under: Construction | None = None, skin: MaterialFile | None = None
    ) -> Construction:
        row = CONSTRUCTIONS[choice.construction or material.construction]
        return row.load().of(grid, material, choice.corners or material.corners, under, skin)

    return made(stock.walls, None if stock.base.name == stock.walls.name else made(stock.base), stock.skin)
