"""The file formats of drawings: one file per format, and this table, which imports nothing heavy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Protocol, cast

if TYPE_CHECKING:
    from tilegen.sheets.drawing import SheetDrawing


class DrawingWriter(Protocol):
    """What the module of a format has."""

    def write(self, drawing: SheetDrawing) -> bytes:
        """The file's content."""


@dataclass(frozen=True, slots=True)
class DrawingFormat:
    """One file format. word: in manifests, its module here, and the ending of names. says: what it is for."""

    word: str
    says: str

    def write(self, drawing: SheetDrawing) -> bytes:
        """The file's content; loads what writes it when it is first needed."""
        return cast("DrawingWriter", import_module(f"{__name__}.{self.word}")).write(drawing)


DRAWING_FORMATS: Mapping[str, DrawingFormat] = {
    row.word: row
    for row in (
        DrawingFormat("dxf", "layers and real arcs, for machines"),
        DrawingFormat("svg", "layers and colours, for lasers, plotters and browsers"),
    )
}


def drawing_files(drawing: SheetDrawing, name: str) -> dict[str, bytes]:
    """A drawing in every format, by file name."""
    return {f"{name}.{row.word}": row.write(drawing) for row in DRAWING_FORMATS.values()}
