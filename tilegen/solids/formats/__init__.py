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
    """A copy of a mesh: quarter turns about z, counter-clockwise; then its least corner lies at (x, y, z), in mm."""

    name: str
    x: float
    y: float
    turns: int = 0
    z: float = 0.0

    def placing(self, size: tuple[float, float, float]) -> tuple[tuple[int, int], tuple[float, float, float]]:
        """Cosine and sine of its turn, and how it is moved after that; size: of the mesh that it copies."""
        width, depth, _ = size
        back = ((0.0, 0.0), (depth, 0.0), (width, depth), (0.0, width))[self.turns % 4]
        turn = ((1, 0), (0, 1), (-1, 0), (0, -1))[self.turns % 4]
        return turn, (self.x + back[0], self.y + back[1], self.z)


@dataclass(frozen=True, slots=True)
class Scene:
    """What one file holds: each mesh once, and copies of them, if it holds several. ids: part numbers by name."""

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

    module: what writes it, in this folder. holds: one tile, a bed, or the dungeon as it lies. usual: written without
    being asked for.
    """

    word: str
    says: str
    module: str
    holds: Literal["tile", "bed", "dungeon"]
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
        SolidFormat("glb", "the whole dungeon as it lies, for 3D viewers", "glb", "dungeon", usual=True),
        SolidFormat("obj", "vertices and faces, for modelling programs", "obj", "tile", usual=False),
    )
}


def chosen(holds: str, more: Sequence[str] = ()) -> list[SolidFormat]:
    """The formats that are written for tiles, or for beds: the usual ones, and more by their words."""
    return [row for row in SOLID_FORMATS.values() if row.holds == holds and (row.usual or row.word in more)]
