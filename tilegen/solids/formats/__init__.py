"""The file formats of solids: one file per format, and this table, which imports nothing heavy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Literal, Protocol, cast

if TYPE_CHECKING:
    from tilegen.solids.build import Mesh, Vertices


@dataclass(frozen=True, slots=True)
class Item:
    """A copy of a mesh: a quarter turn about z or none, then moved to (x, y), in mm."""

    name: str
    x: float
    y: float
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Scene:
    """What one file holds: each mesh once, and copies of them by name, if it holds beds. ids: part numbers by name."""

    meshes: Sequence[Mesh]
    items: Sequence[Item] = ()
    ids: Mapping[str, str] = field(default_factory=dict)


class SolidWriter(Protocol):
    """What the module of a format has."""

    def write(self, scene: Scene) -> bytes:
        """The file's content."""

    def kept(self, mesh: Mesh) -> Vertices:
        """A mesh's vertices as the file rounds them: it must be closed with these."""


@dataclass(frozen=True, slots=True)
class SolidFormat:
    """One file format. word: on the command line, in manifests, and the ending of names. says: what it is for.

    module: what writes it, in this folder. holds: one tile or a whole bed. usual: written without being asked for.
    """

    word: str
    says: str
    module: str
    holds: Literal["tile", "bed"]
    usual: bool

    @property
    def writer(self) -> SolidWriter:
        """Its module, loaded when it is first needed."""
        return cast("SolidWriter", import_module(f"{__name__}.{self.module}"))


SOLID_FORMATS: Mapping[str, SolidFormat] = {
    row.word: row
    for row in (
        SolidFormat("stl", "triangles, for slicers", "stl", "tile", usual=True),
        SolidFormat("3mf", "beds with copies and names, for slicers", "threemf", "bed", usual=True),
        SolidFormat("obj", "vertices and faces, for modelling programs", "obj", "tile", usual=False),
    )
}


def chosen(holds: str, more: Sequence[str] = ()) -> list[SolidFormat]:
    """The formats that are written for tiles, or for beds: the usual ones, and more by their words."""
    return [row for row in SOLID_FORMATS.values() if row.holds == holds and (row.usual or row.word in more)]
