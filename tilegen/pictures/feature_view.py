"""What is on and in a tile's floor, from above: what is walked on in outline, hollows hatched, all else dark."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Points, polygon_rings, polygons_of
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Rings, rectangle, text_width
from tilegen.plans.drawing import Drawing
from tilegen.tiles.features import FEATURES
from tilegen.tiles.joints import printed_band
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import Tile, maker_of

INK = "#23272d"
RAISED = "#fbf9f4"
SUNK = "#c3bfb4"
DARK = "#333a42"
# Lettering of features on a layout, mm.
NAME_MM = 4.2


@dataclass(frozen=True)
class FeatureView:
    """In the tile's own frame (y to the north): raised parts from the lowest up, hollows, what else stands; names.

    names: (word, centre, width it may take, height it may take). standing, hollow:
    the kinds on the tile.
    """

    raised: tuple[Rings, ...] = ()
    sunk: tuple[Rings, ...] = ()
    dark: tuple[Rings, ...] = ()
    names: tuple[tuple[str, tuple[float, float], float, float], ...] = ()
    standing: frozenset[str] = frozenset()
    hollow: frozenset[str] = frozenset()

    def mapped(self, move: Callable[[Points], Points]) -> FeatureView:
        """The same with all its points moved; what names may take is measured again."""
        raised, sunk, dark = (
            tuple(tuple(move(ring) for ring in rings) for rings in group)
            for group in (self.raised, self.sunk, self.dark)
        )
        names = []
        for word, (x, y), width, height in self.names:
            corners = move(np.array([(x - width / 2, y - height / 2), (x + width / 2, y + height / 2)]))
            low, high = corners.min(axis=0), corners.max(axis=0)
            cx, cy = ((low + high) / 2).tolist()
            names.append((word, (cx, cy), float(high[0] - low[0]), float(high[1] - low[1])))
        return FeatureView(raised, sunk, dark, tuple(names), self.standing, self.hollow)


PLAIN_VIEW = FeatureView()


def feature_view(tile: Tile) -> FeatureView:
    """A tile's features as they are drawn."""
    if isinstance(tile.shape, OutlineShape) or not tile.shape.furnished:
        return PLAIN_VIEW
    bases = [p for p in tile.plates if p.role == "base"]
    placed = [p for p in tile.plates if p.role in FEATURES]
    raised = [p for p in bases[1:] if p.bottom >= tile.grid.base_depth - EQUAL_MM]
    raised += [p for p in placed if FEATURES[p.role].walked]
    hollows = maker_of(tile.shape, tile.grid, printed_band(tile.grid)).hollows()
    # The lowest layer of what has several.
    named = [(p.role, p.foot) for p in raised if p.role in FEATURES and p.bottom in {base.top for base in bases}]
    named += [(word, part) for word, region in hollows.items() for part in polygons_of(region)]
    return FeatureView(
        tuple(rings for p in sorted(raised, key=lambda p: p.bottom) for rings in polygon_rings(p.foot)),
        tuple(rings for region in hollows.values() for rings in polygon_rings(region)),
        tuple(rings for p in placed if not FEATURES[p.role].walked for rings in polygon_rings(p.foot)),
        tuple((word, *_room(area)) for word, area in named),
        frozenset(p.role for p in placed),
        frozenset(hollows),
    )


def draw_features(canvas: Canvas, views: Sequence[FeatureView], *, line: float, pitch: float) -> None:
    """Features on a canvas, above the floor; line: width in mm; pitch: between the lines of a hollow's hatch."""
    canvas.area([rings for v in views for rings in v.sunk], SUNK, hatch=Hatch(INK, pitch, line), stroke=INK, width=line)
    depth = max((len(v.raised) for v in views), default=0)
    for level in range(depth):
        layer = [v.raised[level] for v in views if len(v.raised) > level]
        canvas.area(layer, RAISED, stroke=INK, width=line)
    canvas.area([rings for v in views for rings in v.dark], DARK)


def write_names(
    canvas: Canvas, views: Sequence[FeatureView], taken: Sequence[tuple[float, float, float, float]]
) -> None:
    """The word for each feature on it, where there is room beside what is written already (boxes)."""
    boxes = [shapely.box(*box) for box in taken]
    tree = shapely.STRtree(boxes)
    for view in views:
        for word, (x, y), width, height in view.names:
            half = text_width(word, NAME_MM) / 2 + 0.8
            for dy in (0.0, -0.3 * height, 0.3 * height):
                box = shapely.box(x - half, y + dy - 0.7 * NAME_MM, x + half, y + dy + 0.7 * NAME_MM)
                if (
                    2 * half <= width
                    and 1.4 * NAME_MM + 2 * abs(dy) <= height
                    and not len(tree.query(box, "intersects"))
                ):
                    if word in view.hollow:
                        canvas.area([rectangle(*box.bounds)], RAISED)
                    canvas.text(x, y + dy + CAP_HEIGHT * NAME_MM / 2, word, NAME_MM, "middle", halo=RAISED)
                    break


def heights_note(drawing: Drawing, units: Units) -> list[str]:
    """A line on rooms whose floor or walls have a height of their own; nothing if there are none."""
    said: dict[str, str] = {}
    for room, extra in drawing.heights.items():
        words = []
        if extra.floor:
            words.append(f"floor {show_length(extra.floor, units)} up")
        if extra.wall_height is not None:
            words.append(f"walls {show_length(extra.wall_height, units)} high")
        if words:
            said[chr(room)] = ", ".join(words)
    rooms = (f"{drawing.titles.get(letter) or f'room {letter}'}: {words}" for letter, words in sorted(said.items()))
    return [f"Heights. {'; '.join(rooms)}."] if said else []


def signs_note(views: Sequence[FeatureView]) -> list[str]:
    """How features are drawn, as far as there are any."""
    standing = [kind for word, kind in FEATURES.items() if any(word in v.standing for v in views)]
    signs = {
        "dark blocks inside a tile": [kind.drawn for kind in standing if not kind.walked],
        "light outlined areas": [kind.drawn for kind in standing if kind.walked],
        "hatched areas": [kind.several for word, kind in FEATURES.items() if any(word in v.hollow for v in views)],
    }
    words = [f"{sign}: {', '.join(what)}" for sign, what in signs.items() if what]
    return [f"Features: {'; '.join(words)}."] if words else []


def _room(area: BaseGeometry) -> tuple[tuple[float, float], float, float]:
    west, south, east, north = area.bounds
    return ((west + east) / 2, (south + north) / 2), east - west, north - south
