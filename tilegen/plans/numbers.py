"""The short numbers by which tiles and loose pieces go in the layout and in every list made with it."""

from __future__ import annotations

from tilegen.plans.kit import Kit


def layout_numbers(kit: Kit) -> dict[str, str]:
    """The number of each type by its id: tiles 1, 2, ... in the kit's order, loose pieces S or S1, S2, ..."""
    tiles = {t.tile.id: str(number) for number, t in enumerate(kit.types, 1)}
    one = len(kit.pieces) == 1
    return tiles | {p.piece.id: "S" if one else f"S{number}" for number, p in enumerate(kit.pieces, 1)}
