"""Plans of which pictures say what fits, and what is found on such a picture."""

from __future__ import annotations

import io
from functools import cache

import numpy as np
import shapely
from PIL import Image

from tests.plans import WORKED, WORKED_WAYS, plan
from tilegen.files.plans import read_plan
from tilegen.files.toml import find
from tilegen.pictures.canvas import Area, Text
from tilegen.pictures.tile_view import ground_plan
from tilegen.plans.kit import make_kit, placed

PITCH, WALL = 31.75, 6.35


@cache
def demo(name):
    """A shipped plan and its kit."""
    drawing = read_plan(find(name, "plans"))
    return drawing, make_kit(drawing)


def worked():
    drawing = plan(WORKED, WORKED_WAYS)
    return drawing, make_kit(drawing)


def grey_pixels(canvas, per_mm):
    return np.array(Image.open(io.BytesIO(canvas.png(per_mm))).convert("L")).astype(int)


def shapes(canvas, kind):
    return [shape for shape in canvas.shapes if isinstance(shape, kind)]


def words(canvas):
    return [text.words for text in shapes(canvas, Text)]


def region(area):
    return shapely.union_all([shapely.Polygon(rings[0], rings[1:]) for rings in area.polygons])


def hatched(canvas, look):
    """The hatch of this look that lies on the map: the first, since the key comes later."""
    return next((region(a) for a in shapes(canvas, Area) if a.hatch and a.hatch.look == look and not a.fill), None)


def corner_of(canvas, drawing):
    """The drawing's north-west corner on the page: where the first floor starts."""
    seam = next(a for a in shapes(canvas, Area) if a.fill == "#8b8f94")
    west, north, *_ = region(seam).bounds
    row, column = (int(n.min()) for n in np.nonzero(drawing.rooms))
    return np.array([west - column * drawing.cell_side, north - row * drawing.cell_side])


def walls_on_table(drawing, kit):
    found = []
    for tile_type, turn in placed(kit, drawing):
        own = ground_plan(tile_type.tile).placed(turn)
        found += [shapely.Polygon(rings[0], rings[1:]) for rings in (*own.standing, *own.ways)]
    return shapely.union_all(found)
