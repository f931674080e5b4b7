"""Puts flat parts back together on the plan, from their outlines, creases and scores and from where they go.

Written apart from what makes the parts: a strip is as long as it was cut and as deep as its layers; a grooved run
is walked from fold to fold and given its thickness; a box is taken from the panels that its creases mark off.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.ops import polygonize, unary_union


def foot_of(laid, material):
    """What a standing part covers on the plan."""
    if laid.form == "folded box":
        return _box(laid, material)[0]
    if laid.pose.folds:
        return _run(laid, material)
    return _strip(laid, material)


def _local(pose, points):
    """Points (along, in) of a wall on the plan: inside is on the right."""
    (x, y), (dx, dy) = pose.start, pose.direction
    return [(x + dx * s + dy * d, y + dy * s - dx * d) for s, d in points]


def _strip(laid, material):
    west, _, east, _ = laid.flat.outline.bounds
    length = east - west
    depth = laid.layers * laid.thickness + (laid.layers - 1) * material.glue_line
    start, end = laid.pose.bevels
    foot = Polygon(_local(laid.pose, _ends(0.0, length, depth, (start, end))))
    for (x, _), (x1, _) in laid.flat.scores:
        assert x == x1
        # What is peeled off beyond a lap's score: all but the skin.
        a, b = (0, x) if x < length / 2 else (x, length)
        foot = foot.difference(
            Polygon(_local(laid.pose, [(a, material.skin), (b, material.skin), (b, depth), (a, depth)]))
        )
    return foot


def _ends(low, high, depth, bevels):
    """A strip's four corners: the longer face of each end is the one that was cut."""
    start, end = bevels
    outer = low + max(0.0, -start), high - max(0.0, end)
    return [(outer[0], 0), (outer[1], 0), (outer[1] + end, depth), (outer[0] + start, depth)]


def _run(laid, material):
    _, _, length, height = laid.flat.outline.bounds
    t = laid.thickness
    upright = sorted({round(x, 9) for (x, _), (x1, _) in laid.flat.creases if abs(x - x1) < 1e-9})
    inner = [(at, turn) for at, turn in laid.pose.folds if 1e-6 < at < length - 1e-6]
    for at, turn in laid.pose.folds:
        half = (t - _depth(at, inner, material)) * math.tan(turn / 2)
        for x in (at - half, at + half):
            if 1e-6 < x < length - 1e-6:
                assert min(abs(x - u) for u in upright) < 1e-6
    at, angle = np.array(laid.pose.start), math.atan2(laid.pose.direction[1], laid.pose.direction[0])
    stops = [0.0, *(at for at, _ in inner), length]
    panels = []
    for a, b in pairwise(stops):
        bends = [next((turn for x, turn in laid.pose.folds if abs(x - stop) < 1e-6), 0.0) for stop in (a, b)]
        grown = [_depth(x, inner, material) * math.tan(turn / 2) for x, turn in zip((a, b), bends, strict=True)]
        along, inward = np.array((math.cos(angle), math.sin(angle))), np.array((math.sin(angle), -math.cos(angle)))
        end = at + (b - a + sum(grown)) * along
        # A fold's two sides meet halfway; a free end is square or bevelled.
        bevels = (
            t * math.tan(bends[0] / 2) if bends[0] else laid.pose.bevels[0] * (a < 1e-6),
            -t * math.tan(bends[1] / 2) if bends[1] else laid.pose.bevels[1] * (b > length - 1e-6),
        )
        corners = _ends(0.0, math.dist(at, end), t, bevels)
        panels.append(Polygon([at + s * along + d * inward for s, d in corners]))
        at, angle = end, angle - bends[1]
    return unary_union(panels)


def _depth(at, inner, material):
    """Of the line about which a run turns: in the skin at a fold, on the skin's inner face at a bevelled end."""
    return material.skin * (material.folding.hinge if any(abs(at - x) < 1e-6 for x, _ in inner) else 1.0)


def fold_up(laid, hinge):
    """The panels of a grooved run once it is folded, each a function from (along the sheet, depth) to the plan.

    Points of the plan are complex numbers, the run starts at 0 and along x. hinge: depth of the lines it turns about.
    """
    length = laid.flat.outline.bounds[2]
    panels = [(0j, 1 + 0j)]
    for at, turn in laid.pose.folds:
        if 1e-6 < at < length - 1e-6:
            start, along = panels[-1]
            pivot, turned = start + along * (at - 1j * hinge), complex(math.cos(turn), -math.sin(turn))
            panels.append((pivot + (start - pivot) * turned, along * turned))
    return [lambda x, depth=0.0, a=a, b=b: a + b * (x - 1j * depth) for a, b in panels]


def _box(laid, material):
    """The foot of a folded box and its outside height, from the panels in its net."""
    net, hinge = laid.flat, material.folding.hinge * laid.thickness
    levels = _levels(net)
    top_fold, inner_fold, under_fold = levels[:3]
    wall, height = inner_fold - top_fold + 2 * hinge, top_fold + hinge
    assert abs(under_fold - inner_fold + 2 * hinge - height) < 1e-6
    bottom = [x for x, y in net.outline.exterior.coords if abs(y) < 1e-9]
    right = max(bottom)
    cut = net.outline.intersection(box(-1e3, top_fold, 1e3, inner_fold))
    top = max(getattr(cut, "geoms", [cut]), key=lambda piece: piece.area)
    corners = {round(y, 6): sorted(right - x for x, v in top.exterior.coords if abs(v - y) < 1e-6) for y in levels[:2]}
    near, far = (corners[round(y, 6)] for y in (top_fold, inner_fold))
    shift = max(0.0, -laid.pose.bevels[0])
    along = [(near[i] + shift, far[i] + shift) for i in (0, -1)]
    (a0, a1), (b0, b1) = [
        (n - (f - n) * hinge / (wall - 2 * hinge), f + (f - n) * hinge / (wall - 2 * hinge)) for n, f in along
    ]
    return Polygon(_local(laid.pose, [(a0, 0), (b0, 0), (b1, wall), (a1, wall)])), height


def box_height(laid, material):
    return _box(laid, material)[1]


def _levels(net):
    """Heights of the creases that run across the net, from the foot of the outer face up."""
    return sorted({round(a[1], 7) for a, b in net.creases if abs(a[1] - b[1]) < 1e-7})


def panels_of(net):
    """The pieces that creases and edges divide a net into."""
    lines = [net.outline.boundary, *(LineString(crease) for crease in net.creases)]
    faces = polygonize(shapely.union_all(lines, grid_size=1e-6))
    return [face for face in faces if net.outline.covers(face.representative_point())]


def outside_of_skin(laid, material):
    """The outside of a folded skin: its floor, the largest panel, grown by the hinge's depth; least corner at 0."""
    floor = max(panels_of(laid.flat), key=lambda p: p.area)
    grown = floor.buffer(material.folding.hinge * laid.thickness, join_style="mitre", mitre_limit=20)
    west, south, _, _ = grown.bounds
    return shapely.transform(grown, lambda p: p - (west, south))


def same(a, b, tolerance):
    """Whether two regions differ nowhere by a strip wider than the tolerance."""
    rest = a.symmetric_difference(b)
    pieces = [g for g in getattr(rest, "geoms", [rest]) if isinstance(g, Polygon)]
    return MultiPolygon(pieces).buffer(-tolerance / 2).is_empty
