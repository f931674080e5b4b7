"""Words that files and the command line share; imports nothing."""

from typing import Literal

Process = Literal["laser", "hot-wire", "drag-knife", "hand-knife"]
Family = Literal[
    "xps", "eps", "foam-core", "eva", "card", "greyboard", "mdf", "plywood", "cork", "pvc", "other"
]  # fmt: skip
ConstructionName = Literal["stacked", "slotted", "folded", "grooved"]
StockRole = Literal["base", "walls", "skin"]
CornersName = Literal["butt", "pinwheel", "mitre", "rabbet"]
Paper = Literal["A4", "A3", "A2", "A1", "A0", "Letter", "Tabloid"]
_INCH = 25.4
# Width and height in mm, upright: ISO 216 for A; ANSI/ASME Y14.1 sizes A (Letter) and B (Tabloid).
PAPERS: dict[Paper, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (8.5 * _INCH, 11.0 * _INCH),
    "Tabloid": (11.0 * _INCH, 17.0 * _INCH),
}
