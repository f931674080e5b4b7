"""What the auditor of sheets can find, by number, in one table."""

from __future__ import annotations

from typing import NamedTuple

FINDINGS: dict[str, str] = {
    "S01": "the header does not say millimetres ($INSUNITS 4)",
    "S02": "an entity lies on a layer that the file does not declare",
    "S03": "a layer that is none of a sheet's",
    "S04": "a text object: machines need strokes",
    "S05": "an entity that many machines can't follow: only polylines, lines, arcs and circles",
    "S06": "an open cut: an end that joins no other cut",
    "S07": "a path or a step of no length",
    "S08": "a cut that crosses itself or another",
    "S09": "a line cut, or cut and scored, twice",
    "S10": "less than the least web between two cuts, or a part narrower than that",
    "S11": "a path that leaves the sheet",
    "S12": "a cut that enters a part, a part inside a part or a hole in no part",
    "S13": "the cut sheet falls into another number of pieces than its outlines say",
    "S14": "a part that does not come out as it should",
    "S15": "a mark that leaves its part",
    "S16": "entities that are not in cutting order",
    "S17": "a hot wire's path that is not one line from outside of the sheet to outside of it",
    "S18": "the file does not say whether its kerf is compensated",
}


class Finding(NamedTuple):
    """One thing wrong with a sheet. code: a key of FINDINGS. detail: what and where, in mm of the sheet."""

    code: str
    detail: str

    def __str__(self) -> str:
        return f"{self.code} {FINDINGS[self.code]}: {self.detail}"
