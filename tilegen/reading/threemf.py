"""The bodies in a 3MF package, and where each of them is put.

3MF Core Specification 1.3 (3MF Consortium); the package by the Open Packaging Conventions (ECMA-376, part 2).
"""

from __future__ import annotations

import posixpath
import zipfile
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.lengths import MM_PER_INCH
from tilegen.reading.threemf_part import LARGEST_NUMBER, MOST_PLACED, Object, Part, Reference, read_part
from tilegen.reading.xmltree import read_tree

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
# What a reference stands in: its part, the matrix there, and the objects from the build down.
_Above = tuple[str, npt.NDArray[np.float64], frozenset[_Key]]


@dataclass(frozen=True)
class Place:
    """A copy of a body; matrix: 4 x 4, for columns, in the package's unit."""

    body: Object
    matrix: npt.NDArray[np.float64]


@dataclass(frozen=True)
class Package:
    """unit: one of UNITS, for all lengths; objects: all, used or not."""

    unit: str
    objects: tuple[Object, ...]
    places: tuple[Place, ...]

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
                    raise InputError("bodies turned in ever more ways", expected=f"at most {_MOST_CORNERS} vertices")
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
            raise InputError(f"a package that unfolds to {unfolded} bytes", expected="at most 1 GiB")
        first, parts = _parts(package)
    unit = parts[first].unit
    if unit not in UNITS:
        raise InputError(f'the unit "{unit}"', expected=", ".join(UNITS))
    objects = {(name, one.number): one for name, part in parts.items() for one in part.objects.values()}
    places = tuple(_places(objects, first, parts[first].items))
    return Package(unit, tuple(objects.values()), places)


def _parts(package: zipfile.ZipFile) -> tuple[str, dict[str, Part]]:
    """The name of the part to start with, and all model parts that can be reached from it."""
    # Part names are equal whatever their case (ECMA-376-2, 6.2.2.3).
    entries = {_plain(entry.filename): entry for entry in package.infolist()}
    first = _first(package, entries)
    parts: dict[str, Part] = {}
    wanted, total = deque([first]), 0
    while wanted:
        name = wanted.popleft()
        if name in parts:
            continue
        if name not in entries:
            raise InputError("no model in the package", expected=f"a part {name[:200]}")
        with package.open(entries[name]) as stream:
            try:
                parts[name] = read_part(stream)
            except InputError as error:
                raise error.located(place=entries[name].filename) from None
        total += len(parts[name].objects)
        references = [*parts[name].items, *(c for one in parts[name].objects.values() for c in one.components)]
        total += len(references)
        if total > MOST_PLACED:
            raise InputError("ever more objects in ever more parts", expected=f"at most {MOST_PLACED}")
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


def _places(objects: dict[_Key, Object], first: str, items: list[Reference]) -> Iterator[Place]:
    """Every copy of every body, the components of components followed down."""
    start: _Above = (first, np.eye(4), frozenset())
    stack = [(item, start) for item in reversed(items)]
    count = len(items)
    while stack:
        reference, (part, matrix, above) = stack.pop()
        key = (_plain(reference.part) if reference.part else part, reference.number)
        if key not in objects:
            raise InputError(f"no object {reference.number[:60]}, named in line {reference.line}", expected="one")
        if key in above or len(above) >= _MOST_LEVELS:
            raise InputError(
                f"object {reference.number[:60]} in itself, or too deep, in line {reference.line}",
                expected=f"at most {_MOST_LEVELS} levels of components",
            )
        one, placed = objects[key], matrix @ reference.matrix
        if not (np.abs(placed) < LARGEST_NUMBER).all():
            raise InputError(f"a transform out of reach in line {reference.line}", expected="lengths")
        # A few components in a few more, and so on, soon put together more copies than anyone could make.
        count += len(one.components)
        if count > MOST_PLACED:
            raise InputError(f"copies in copies, down to line {one.line}", expected=f"at most {MOST_PLACED} in all")
        if len(one.triangles):
            yield Place(one, placed)
        inside: _Above = (key[0], placed, above | {key})
        stack += [(component, inside) for component in reversed(one.components)]
