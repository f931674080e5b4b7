"""The bodies in a 3MF package, and where each of them is put.

3MF Core Specification 1.3 (3MF Consortium); the package by the Open Packaging Conventions (ECMA-376, part 2).
"""

from __future__ import annotations

import posixpath
import zipfile
from array import array
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError, nearest
from tilegen.files.xmltree import XmlReading, read_tree
from tilegen.lengths import MM_PER_INCH

# Beyond this a volume is no finite number any more.
LARGEST_NUMBER = 1e30
# More objects, components and items than anyone could make or measure.
MOST_PLACED = 100_000
LARGEST_UNFOLDED = 1024**3
UNITS = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": float(MM_PER_INCH),
    "foot": 304.8,
    "meter": 1000.0,
}
_START = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_USUAL_MODEL = "3d/3dmodel.model"
_MOST_LEVELS = 64
_MOST_CORNERS = 10**9
_Key = tuple[str, str]
_SAVE_AGAIN = "Save it again as 3MF from the program that made it"
_RIGHT_FILE = "Check that it is the right file"
_TOO_MANY = f"there are more than {MOST_PLACED:,} objects and copies"
# What a reference stands in: its part, the matrix there, and the objects from the build down.
_Above = tuple[str, npt.NDArray[np.float64], frozenset[_Key]]


@dataclass(frozen=True)
class Package:
    """unit: one of UNITS, for all lengths; objects: all, used or not."""

    unit: str
    objects: tuple[Object, ...]
    places: tuple[ObjectPlace, ...]

    def bounds(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """The least and the greatest x, y, z of all copies.

        Raises:
            InputError: copies turned in too many ways.
        """
        seen: dict[tuple[int, bytes], tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]] = {}
        lows, highs, corners = [], [], 0
        for place in self.places:
            turn = place.matrix[:3, :3]
            key = (id(place.body), turn.tobytes())
            if key not in seen:
                corners += len(place.body.vertices)
                if corners > _MOST_CORNERS:
                    raise InputError("its copies are turned in too many ways to measure them", cure=_RIGHT_FILE)
                turned = turn @ place.body.vertices.T
                seen[key] = (turned.min(axis=1), turned.max(axis=1))
            low, high = seen[key]
            lows.append(low + place.matrix[:3, 3])
            highs.append(high + place.matrix[:3, 3])
        return np.min(lows, axis=0), np.max(highs, axis=0)


def read_3mf(path: Path) -> Package:
    """The bodies of a package and where they are put.

    Raises:
        InputError: no model, something in it that is wrong, or more than anyone could make; zipfile and zlib
            raise errors of their own.
    """
    with zipfile.ZipFile(path) as package:
        unfolded = sum(entry.file_size for entry in package.infolist())
        if unfolded > LARGEST_UNFOLDED:
            raise InputError(
                f"the package unpacks to {unfolded / 2**30:.1f} GiB; the most is {LARGEST_UNFOLDED // 2**30} GiB",
                cure=_RIGHT_FILE,
            )
        first, parts = _parts(package)
    unit = parts[first].unit
    if unit not in UNITS:
        raise InputError(f'"{unit}" is not a unit of 3MF', cure=nearest(unit, UNITS))
    objects = {(name, one.number): one for name, part in parts.items() for one in part.objects.values()}
    places = tuple(_places(objects, first, parts[first].items))
    return Package(unit, tuple(objects.values()), places)


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
class ModelPart:
    """What a model part holds: objects by their number, in the file's order; items: what is to be made."""

    unit: str = "millimeter"
    objects: dict[str, Object] = field(default_factory=dict)
    items: list[Reference] = field(default_factory=list)


def read_part(stream: IO[bytes]) -> ModelPart:
    """Read a model part.

    Raises:
        InputError: not well-formed, or something missing, out of range or no number; with its line.
    """
    reading = _PartReading()
    reading.read(stream)
    if not reading.is_model:
        raise InputError("there is no 3D model in it", cure=_SAVE_AGAIN)
    return reading.part


class _PartReading(XmlReading):
    """Fills a part; coordinates and corners go into flat arrays while they are read."""

    def __init__(self) -> None:
        super().__init__("3MF")
        self.part = ModelPart()
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
            raise _broken_at(self.line, f"<{name}> has no {error.args[0]}") from None
        except (ValueError, OverflowError):
            raise _broken_at(self.line, f"<{name}> has something else where numbers should be") from None

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
            raise _broken_at(self.line, f"there is a second object {number[:60]}")
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
            raise InputError(_TOO_MANY, cure=_RIGHT_FILE, place=f"line {self.line}")

    def _one_kind(self) -> None:
        if self._meshes + bool(self._object.components) > 1:
            raise _broken_at(
                self.line, f"object {self._object.number[:60]} has more than one mesh or set of components"
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
        if not (np.abs(one.vertices) < LARGEST_NUMBER).all():
            raise _broken_at(one.line, f"object {one.number[:60]} has a coordinate that is no length")
        wrong = one.triangles[(one.triangles < 0) | (one.triangles >= len(one.vertices))]
        if len(wrong):
            wrong_text = f"object {one.number[:60]} has a triangle on vertex {wrong[0]}, which it does not have"
            raise _broken_at(one.line, wrong_text)


def _broken_at(line: int, wrong: str) -> InputError:
    """Something in a model part that doesn't fit the rest."""
    return InputError(wrong, cure=_SAVE_AGAIN, place=f"line {line}")


def _matrix(text: str | None) -> npt.NDArray[np.float64]:
    """A transform attribute, twelve numbers for rows times matrix (section 3.3), as a 4 x 4 matrix for columns."""
    matrix = np.eye(4)
    if text is not None:
        numbers = [float(word) for word in text.split()]
        if len(numbers) != 12 or not all(abs(number) < LARGEST_NUMBER for number in numbers):
            raise ValueError
        matrix[:3] = np.array(numbers).reshape(4, 3).T
    return matrix


@dataclass(frozen=True)
class _Descent:
    """An element that counts where it stands: what is done with it, and what counts inside it."""

    begin: Callable[[_PartReading, dict[str, str]], None] = lambda _reading, _attributes: None
    inside: dict[str, _Descent] = field(default_factory=dict)


_IN_OBJECT = {
    "mesh": _Descent(
        _PartReading.mesh,
        {
            "vertices": _Descent(inside={"vertex": _Descent(_PartReading.vertex)}),
            "triangles": _Descent(inside={"triangle": _Descent(_PartReading.triangle)}),
        },
    ),
    "components": _Descent(inside={"component": _Descent(_PartReading.component)}),
}


_STEPS = {
    "model": _Descent(
        _PartReading.model,
        {
            "resources": _Descent(inside={"object": _Descent(_PartReading.object, _IN_OBJECT)}),
            "build": _Descent(inside={"item": _Descent(_PartReading.item)}),
        },
    )
}


@dataclass(frozen=True)
class ObjectPlace:
    """A copy of a body; matrix: 4 x 4, for columns, in the package's unit."""

    body: Object
    matrix: npt.NDArray[np.float64]


def _parts(package: zipfile.ZipFile) -> tuple[str, dict[str, ModelPart]]:
    """The name of the part to start with, and all model parts that can be reached from it."""
    # Part names are equal whatever their case (ECMA-376-2, 6.2.2.3).
    entries = {_plain(entry.filename): entry for entry in package.infolist()}
    first = _first(package, entries)
    parts: dict[str, ModelPart] = {}
    wanted, total = deque([first]), 0
    while wanted:
        name = wanted.popleft()
        if name in parts:
            continue
        if name not in entries:
            raise InputError(f"the package has no part {name[:200]}", cure=_SAVE_AGAIN)
        with package.open(entries[name]) as stream:
            try:
                parts[name] = read_part(stream)
            except InputError as error:
                place = ", ".join(filter(None, (entries[name].filename, error.place)))
                raise error.moved(place=place) from None
        total += len(parts[name].objects)
        references = [*parts[name].items, *(c for one in parts[name].objects.values() for c in one.components)]
        total += len(references)
        if total > MOST_PLACED:
            raise InputError(_TOO_MANY, cure=_RIGHT_FILE)
        wanted.extend({_plain(reference.part): None for reference in references if reference.part})
    return first, parts


def _first(package: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo]) -> str:
    """The part that the package's own relationships call its 3D model; the usual name where they call none."""
    relationships = entries.get("_rels/.rels")
    if relationships is not None:
        with package.open(relationships) as stream:
            root = read_tree(stream, "3MF")
        for element in root.iter("Relationship"):
            if element.get("Type") == _START and element.get("TargetMode", "Internal") == "Internal":
                return _plain(element.get("Target", ""))
    return _USUAL_MODEL


def _plain(name: str) -> str:
    return posixpath.normpath("/" + name).lstrip("/").lower()


def _places(objects: dict[_Key, Object], first: str, items: list[Reference]) -> Iterator[ObjectPlace]:
    """Every copy of every body, the components of components followed down."""
    start: _Above = (first, np.eye(4), frozenset())
    stack = [(item, start) for item in reversed(items)]
    count = len(items)
    while stack:
        reference, (part, matrix, above) = stack.pop()
        key = (_plain(reference.part) if reference.part else part, reference.number)
        if key not in objects:
            raise _broken_at(reference.line, f"there is no object {reference.number[:60]}")
        if key in above or len(above) >= _MOST_LEVELS:
            wrong = "contains itself" if key in above else f"is nested more than {_MOST_LEVELS} deep"
            raise _broken_at(reference.line, f"object {reference.number[:60]} {wrong}")
        one, placed = objects[key], matrix @ reference.matrix
        if not (np.abs(placed) < LARGEST_NUMBER).all():
            raise _broken_at(reference.line, "a copy lies too far away to be measured")
        # A few components in a few more, and so on, soon put together more copies than anyone could make.
        count += len(one.components)
        if count > MOST_PLACED:
            raise InputError(_TOO_MANY, cure=_RIGHT_FILE, place=f"line {one.line}")
        if len(one.triangles):
            yield ObjectPlace(one, placed)
        inside: _Above = (key[0], placed, above | {key})
        stack += [(component, inside) for component in reversed(one.components)]
