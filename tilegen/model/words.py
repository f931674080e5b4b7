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
