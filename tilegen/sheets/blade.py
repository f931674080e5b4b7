"""A trailing blade: where its pivot must go so that the tip cuts the outline."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tilegen.geometry import Points, chord_angle
from tilegen.model.machines import PathRules
from tilegen.sheets.drawing import CUTS, SheetDrawing, Stroke

_CHORD_MM = 0.01


def for_a_blade(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with its cuts as paths of the pivot; arcs become segments, closed cuts lines that meet themselves."""
    strokes = tuple(
        replace(s, points=pivot_path(_started(s), rules, closed=s.closed), arcs=(), opened=True)
        if s.layer in CUTS
        else s
        for s in drawing.strokes
    )
    said = f"pivot of a blade that trails {rules.blade_offset:g} mm, overcut {rules.overcut:g} mm"
    return replace(drawing, strokes=strokes, remarks=(*drawing.remarks, ("blade path", said)))


def _started(stroke: Stroke) -> Points:
    """A closed stroke from where its longest edge begins: there the overcut has room."""
    if not stroke.closed:
        return stroke.points
    lengths = np.hypot(*(np.roll(stroke.points, -1, axis=0) - stroke.points).T)
    return np.roll(stroke.points, -int(np.argmax(np.round(lengths, 6))), axis=0)


def pivot_path(points: Points, rules: PathRules, *, closed: bool) -> Points:
    """The way of the pivot for a cut along (n, 2) points in mm.

    At a turn of swivel_from degrees or more the pivot runs past the corner by the blade's offset, swivels on an arc
    of that radius about the corner until the blade points along the next edge, and goes on (gis-tec.com, "offset"
    and "overcut"). A smaller turn is left to the blade. A closed cut starts at its first corner, with the blade along
    the first edge: prick it there, or lead it in waste; it ends past that corner by the overcut.
    """
    offset = rules.blade_offset
    corners = np.vstack([points, points[:2]]) if closed else points
    ways = np.diff(corners, axis=0)
    headings = ways / np.hypot(*ways.T)[:, None]
    path: list[Points] = [corners[:1] + headings[0] * offset]
    for corner, came, goes in zip(corners[1:-1], headings[:-1], headings[1:], strict=True):
        path.append(_swivel(corner, came, goes, offset, math.radians(rules.swivel_from)))
    if closed:
        # The last corner was the first one again: from here over the start by the overcut.
        end = path[-1][-1:] + headings[-1] * rules.overcut
        path += [end] if rules.overcut else []
    else:
        path.append(corners[-1:] + headings[-1] * offset)
    return np.vstack(path)


def _swivel(corner: Points, came: Points, goes: Points, offset: float, least: float) -> Points:
    turn = math.atan2(came[0] * goes[1] - came[1] * goes[0], float(came @ goes))
    if abs(turn) < least:
        return corner[None, :] + goes[None, :] * offset
    number = max(1, math.ceil(abs(turn) / chord_angle(offset, _CHORD_MM)))
    angles = math.atan2(came[1], came[0]) + turn * np.arange(number + 1) / number
    arc: Points = corner + offset * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return arc
