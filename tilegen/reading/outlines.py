"""An outline drawn elsewhere: DXF or SVG to rings in millimetres, with what was read said in words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tilegen.errors import InputError, nearest
from tilegen.geometry import CHORD_MM
from tilegen.lengths import MM_PER_INCH
from tilegen.reading.outline_dxf import read_dxf
from tilegen.reading.outline_svg import read_svg
from tilegen.reading.rings import Rings, rings_of

LARGEST_DRAWING = 8 * 1024 * 1024
_UNITS = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": float(MM_PER_INCH),
    "ft": 12 * float(MM_PER_INCH),
}


@dataclass(frozen=True)
class Drawn:
    """An outline from a drawing; said: file, unit, corners and chord error in one sentence."""

    rings: Rings
    said: str


def read_outline(path: Path, unit: str | None = None) -> Drawn:
    """The outline in a drawing, moved so that its south-west corner is the origin.

    unit: of a drawing that does not say which (for SVG: of one user unit).

    Raises:
        InputError: not readable, too large, without units, or no single closed outline; with coordinates.
    """
    if unit is not None and unit not in _UNITS:
        raise InputError(
            f'the unit "{unit}"', expected="mm, cm, m, in or ft", cure=nearest(unit, _UNITS), place="--unit"
        )
    readers = {".dxf": read_dxf, ".svg": read_svg}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise InputError(f'a name ending in "{path.suffix}"', expected=".dxf or .svg", file=str(path))
    if not path.is_file():
        raise InputError("no such file", expected="a drawing beside the profile", file=str(path))
    if path.stat().st_size > LARGEST_DRAWING:
        raise InputError(f"a drawing of {path.stat().st_size} bytes", expected="at most 8 MiB", file=str(path))
    try:
        pieces, read_in = reader(path, None if unit is None else (unit, _UNITS[unit]))
        rings = rings_of(pieces)
    except InputError as error:
        raise error.located(file=str(path)) from None
    holes = f", {len(rings.holes)} holes" if len(rings.holes) > 1 else ", 1 hole" if rings.holes else ""
    said = (
        f"{path.name}: an outline of {len(rings.points)} edges{holes}, read in {read_in}; curves are chords within "
        f"{CHORD_MM:g} mm; edge 1 begins at the southernmost corner, counter-clockwise"
    )
    return Drawn(rings, said)
