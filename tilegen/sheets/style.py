"""How each layer looks: a plain colour and a dash, so that a drawing reads in black and white too."""

from __future__ import annotations

from typing import NamedTuple

from tilegen.sheets.drawing import Layer


class Style(NamedTuple):
    """colour: #rrggbb. aci: the index a DXF layer is declared with. dash: mm on and off. width: of the line, mm."""

    colour: str
    aci: int
    dash: tuple[float, ...]
    width: float
    meaning: str


STYLES: dict[Layer, Style] = {
    "ENGRAVE": Style("#4f6d8f", 5, (), 0.12, "engrave or write: part numbers"),
    "SCORE": Style("#1e7d72", 94, (3.0, 1.2), 0.18, "score: press or cut in, not through"),
    "CREASE": Style(
        "#7b5391", 6, (4.0, 1.0, 0.6, 1.0), 0.18, "crease: press for a fold; on foam core the two edges of a V-groove"
    ),
    "CUT_INNER": Style("#a8551b", 30, (), 0.3, "cut through: holes, before the outlines"),
    "CUT_OUTER": Style("#151515", 7, (), 0.2, "cut through: outlines"),
    "WIRE": Style("#96264f", 1, (6.0, 0.8), 0.25, "path of a hot wire in one go"),
    "GUIDE": Style("#8c8c8c", 9, (0.4, 1.2), 0.15, "guide, not cut: sheet edge, 100 mm check square"),
}
