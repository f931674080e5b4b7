"""How one tile goes together, from above: base and walls with the numbers of their steps."""

from __future__ import annotations

import numpy as np

from tilegen.geometry import Points, polygon_rings
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Rings
from tilegen.pictures.plan_view import FLOOR, INK, THRESHOLD
from tilegen.sheets.assembly import Assembly

_WALL = "#b9bfc4"
_SHOWN_MM = 46.0
_DISC = 0.048


def assembly_svg(made: Assembly) -> str:
    """The picture, its own north at the top; the numbers are those of the steps."""
    west, south, east, north = made.outline.bounds
    side = max(east - west, north - south)
    edge = 0.01 * side
    canvas = Canvas(
        east - west + 2 * edge,
        north - south + 2 * edge,
        f"How {made.name} goes together",
        "; ".join(f"{step.number}: {step.words}" for step in made.steps),
    )
    canvas.scale = _SHOWN_MM / side

    def moved(points: Points) -> Points:
        on_page: Points = np.stack([points[:, 0] - west + edge, north - points[:, 1] + edge], axis=1)
        return on_page

    def rings(polygons: tuple[Rings, ...]) -> list[Rings]:
        return [tuple(moved(ring) for ring in polygon) for polygon in polygons]

    line = 0.006 * side
    canvas.area(rings(polygon_rings(made.outline)), FLOOR, stroke=INK, width=line)
    for foot in made.feet:
        canvas.area(rings(polygon_rings(foot)), _WALL, stroke=INK, width=line)
    for way in made.ways:
        canvas.area(rings(polygon_rings(way)), THRESHOLD, stroke=INK, width=line)
    size = 1.15 * _DISC * side
    for step in made.steps:
        if step.spots:
            spots = moved(np.array(step.spots))
            canvas.discs(spots, _DISC * side, "#ffffff", stroke=INK, width=line)
            for x, y in spots.tolist():
                canvas.text(x, y + CAP_HEIGHT * size / 2, str(step.number), size, "middle", bold=True)
    return canvas.svg()
