"""The narrowest strip or neck that a process makes in a material, and the parts that have a narrower one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.files.stock import verdict_of
from tilegen.geometry import SNAP_MM, lines_of, polygons_of
from tilegen.model.machines import LeastFeature, MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.sheets.pockets import BOTTOM

if TYPE_CHECKING:
    from tilegen.sheets.parts import Part

# Sharp corners are no narrow features: growing back must reach their tips.
_MITRE_LIMIT = 100.0
# Thinner shreds than this are rounding.
_SHRED_MM = 0.02
_CLEARLY = 0.95
_MOST_NAMED = 12


class Narrow(NamedTuple):
    """A place of a part that is narrower than it may be: its width and where it is, mm in the part's own frame."""

    width: float
    x: float
    y: float


def least_feature(material: MaterialFile, machine: MachineFile) -> float:
    """The narrowest strip or neck, mm: the material's own figure for the process, else the machine's.

    >>> from tilegen.files.stock import read_machine, read_material
    >>> least_feature(read_material("foam"), read_machine("hot-wire"))
    2.5
    """
    own = verdict_of(material, machine).least_feature
    return _reckoned(machine.least_feature, material, machine) if own is None else own


def _reckoned(rule: LeastFeature, material: MaterialFile, machine: MachineFile) -> float:
    return max(rule.width, rule.kerfs * machine.kerf_in(material), rule.thicknesses * material.real_thickness)


def narrow_places(outline: Polygon, least: float) -> Iterator[Narrow]:
    """Where a part is narrower than `least` mm: what is lost when it is shrunk by half of that and grown again."""
    reach = least / 2 - SNAP_MM
    if reach <= 0:
        return
    core = outline.buffer(-reach, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    # A hair too wide, so that nothing is left along straight edges.
    kept = core.buffer(reach + 2 * SNAP_MM)
    sharp = core.buffer(reach + 2 * SNAP_MM, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    for piece in polygons_of(outline.difference(kept)):
        if piece.buffer(-_SHRED_MM).is_empty:
            continue
        sides = _sides(piece, kept)
        if len(sides) > 1:
            yield _across(shapely.shortest_line(sides[0], shapely.union_all(sides[1:])))
        elif core.is_empty or (_length(piece) >= least and not piece.difference(sharp).buffer(-_SHRED_MM).is_empty):
            circle = shapely.maximum_inscribed_circle(piece, tolerance=SNAP_MM)
            (x, y), _ = circle.coords
            width = 2 * circle.length
            # Where all of a part is too narrow, some of it may be narrower still; the circle may be a hair too wide.
            narrower = list(narrow_places(outline, min(width, least) * _CLEARLY)) if core.is_empty else []
            yield from narrower or [Narrow(width, x, y)]


def _sides(piece: Polygon, kept: BaseGeometry) -> list[LineString]:
    """The sides of a piece that are the part's own; a neck, which joins what is wide enough, has two or more."""
    if kept.is_empty:
        return []
    own = shapely.line_merge(shapely.boundary(piece).difference(kept.buffer(SNAP_MM)))
    return lines_of(own, _SHRED_MM)


def _across(line: LineString) -> Narrow:
    (x0, y0), (x1, y1) = line.coords
    return Narrow(line.length, (x0 + x1) / 2, (y0 + y1) / 2)


def _length(piece: Polygon) -> float:
    """Of a strip that sticks out: a nub that is no longer than it may be wide breaks nowhere."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(piece))
    return max(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])) if len(corners) > 2 else 0.0


def slender_notes(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> Iterator[str]:
    """A word on what the process makes, but not well."""
    good = _reckoned(machine.good_feature, material, machine)
    widths = {p.id: [n.width for n in narrow_places(p.outline, good)] for p in parts if p.count}
    found = {key: min(places) for key, places in widths.items() if places}
    if found:
        yield (
            f"strips or necks narrower than {good:g} mm, the least that {machine.name} cuts well in {material.name}: "
            f"{', '.join(f'{key} ({width:.1f} mm)' for key, width in found.items())}; cut and handle them with care"
        )


def check_features(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> None:
    """Refuse parts that the process can't make.

    Raises:
        InputError: a part with a strip or neck under the least feature; names each with its width and place.
    """
    least = least_feature(material, machine)
    # The webs beside pockets are glued to a whole layer all over: they are told, not refused.
    cut = [part for part in parts if part.count and not any(note.startswith(BOTTOM) for note in part.notes)]
    found = [(part, narrow) for part in cut for narrow in narrow_places(part.outline, least)]
    if not found:
        return
    named = [
        f"{part.id} ({part.name} of {part.uses[0].tile_name if part.uses else 'the set'}) {narrow.width:.2f} mm near "
        f"({narrow.x:.1f}, {narrow.y:.1f})"
        for part, narrow in found[:_MOST_NAMED]
    ]
    more = f"; and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
    raise InputError(
        f"parts too narrow to cut from {material.name} with {machine.name}: {'; '.join(named)}{more}",
        expected=f"strips and necks of at least {least:g} mm",
        cure="make doorways narrower so that more is left beside them, or choose another machine or material; if yours "
        f"does better, say so: [process.{machine.process}] least_feature in the material's file, or [least_feature] "
        "in the machine's",
        place=f"machine {machine.name}: least_feature",
    )
