"""One model part of a 3MF package: its unit, objects and build items.

3MF Core Specification 1.3 (3MF Consortium), sections 3 and 4; `path`, an object in another part, is of the 3MF
Production Extension 1.1.2, section 2. Elements of other extensions are passed over.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import IO

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.reading.xmltree import XmlReading

# Beyond this a volume is no finite number any more.
LARGEST_NUMBER = 1e30
# More objects, components and items than anyone could make or measure.
MOST_PLACED = 100_000


@dataclass(frozen=True)
class Reference:
    """An object put somewhere; matrix: 4 x 4, for columns; part: the model part it is in, empty for the same one."""

    number: str
    part: str
    matrix: npt.NDArray[np.float64]
    line: int


@dataclass
class Object:
    """A mesh, or an assembly of other objects; vertices: n x 3, triangles: m x 3."""

    number: str
    name: str
    line: int
    vertices: npt.NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 3)))
    triangles: npt.NDArray[np.int64] = field(default_factory=lambda: np.empty((0, 3), np.int64))
    components: list[Reference] = field(default_factory=list)


@dataclass
class Part:
    """What a model part holds: objects by their number, in the file's order; items: what is to be made."""

    unit: str = "millimeter"
    objects: dict[str, Object] = field(default_factory=dict)
    items: list[Reference] = field(default_factory=list)


def read_part(stream: IO[bytes]) -> Part:
    """Read a model part.

    Raises:
        InputError: not well-formed, or something missing, out of range or no number; with its line.
    """
    reading = _PartReading()
    reading.read(stream)
    if not reading.is_model:
        raise InputError("no root element <model>", expected="a 3D model")
    return reading.part


class _PartReading(XmlReading):
    """Fills a part; coordinates and corners go into flat arrays while they are read."""

    def __init__(self) -> None:
        super().__init__("3MF")
        self.part = Part()
        self.is_model = False
        self._inside = [_STEPS]
        self._object = Object("", "", 0)
        self._placed = self._meshes = 0
        self._xyz = array("d")
        self._corners = array("q")

    def start(self, name: str, attributes: dict[str, str]) -> None:
        step = self._inside[-1].get(name)
        if step is None:
            self._inside.append({})
            return
        self._inside.append(step.inside)
        try:
            step.begin(self, attributes)
        except KeyError as error:
            raise InputError(f"a <{name}> without {error} in line {self.line}", expected="its value") from None
        except (ValueError, OverflowError) as error:
            raise InputError(f"a <{name}> in line {self.line}: {error}"[:200], expected="numbers") from None

    def end(self) -> None:
        step = self._inside.pop()
        if step is _IN_OBJECT:
            self._finish()

    def model(self, attributes: dict[str, str]) -> None:
        self.is_model = True
        self.part.unit = attributes.get("unit", self.part.unit)

    def object(self, attributes: dict[str, str]) -> None:
        number = attributes["id"]
        self._one_more()
        if number in self.part.objects:
            raise InputError(f"a second object {number} in line {self.line}", expected="an id for each")
        self._object = Object(number, attributes.get("name", ""), self.line)
        self.part.objects[number] = self._object
        self._meshes, self._xyz, self._corners = 0, array("d"), array("q")

    def mesh(self, _: dict[str, str]) -> None:
        self._meshes += 1
        self._one_kind()

    def vertex(self, attributes: dict[str, str]) -> None:
        self._xyz.extend((float(attributes["x"]), float(attributes["y"]), float(attributes["z"])))

    def triangle(self, attributes: dict[str, str]) -> None:
        self._corners.extend((int(attributes["v1"]), int(attributes["v2"]), int(attributes["v3"])))

    def component(self, attributes: dict[str, str]) -> None:
        self._object.components.append(self._reference(attributes))
        self._one_kind()

    def item(self, attributes: dict[str, str]) -> None:
        self.part.items.append(self._reference(attributes))

    def _one_more(self) -> None:
        self._placed += 1
        if self._placed > MOST_PLACED:
            raise InputError(f"ever more objects, up to line {self.line}", expected=f"at most {MOST_PLACED}")

    def _one_kind(self) -> None:
        if self._meshes + bool(self._object.components) > 1:
            raise InputError(
                f"more than one content of object {self._object.number} in line {self.line}",
                expected="a mesh or components",
            )

    def _reference(self, attributes: Mapping[str, str]) -> Reference:
        self._one_more()
        part = next((value for key, value in attributes.items() if key.rpartition(":")[2] == "path"), "")
        return Reference(attributes["objectid"], part, _matrix(attributes.get("transform")), self.line)

    def _finish(self) -> None:
        """The object's mesh is whole."""
        one = self._object
        one.vertices = np.array(self._xyz, np.float64).reshape(-1, 3)
        one.triangles = np.array(self._corners, np.int64).reshape(-1, 3)
        what = f"in object {one.number}, which begins in line {one.line}"
        if not (np.abs(one.vertices) < LARGEST_NUMBER).all():
            raise InputError(f"a coordinate that is no number, or none in reach, {what}", expected="lengths")
        wrong = one.triangles[(one.triangles < 0) | (one.triangles >= len(one.vertices))]
        if len(wrong):
            raise InputError(f"a triangle on vertex {wrong[0]} {what}", expected=f"0 to {len(one.vertices) - 1}")


def _matrix(text: str | None) -> npt.NDArray[np.float64]:
    """A transform attribute, twelve numbers for rows times matrix (section 3.3), as a 4 x 4 matrix for columns."""
    matrix = np.eye(4)
    if text is not None:
        numbers = [float(word) for word in text.split()]
        if len(numbers) != 12 or not all(abs(number) < LARGEST_NUMBER for number in numbers):
            raise ValueError(f'the transform "{text[:60]}"')
        matrix[:3] = np.array(numbers).reshape(4, 3).T
    return matrix


@dataclass(frozen=True)
class _Step:
    """An element that counts where it stands: what is done with it, and what counts inside it."""

    begin: Callable[[_PartReading, dict[str, str]], None] = lambda _reading, _attributes: None
    inside: dict[str, _Step] = field(default_factory=dict)


_IN_OBJECT = {
    "mesh": _Step(
        _PartReading.mesh,
        {
            "vertices": _Step(inside={"vertex": _Step(_PartReading.vertex)}),
            "triangles": _Step(inside={"triangle": _Step(_PartReading.triangle)}),
        },
    ),
    "components": _Step(inside={"component": _Step(_PartReading.component)}),
}
_STEPS = {
    "model": _Step(
        _PartReading.model,
        {
            "resources": _Step(inside={"object": _Step(_PartReading.object, _IN_OBJECT)}),
            "build": _Step(inside={"item": _Step(_PartReading.item)}),
        },
    )
}
