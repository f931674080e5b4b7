"""Plans made in tests to be laid out, their tiles in place as shapes, and the pixels of their pictures."""

from __future__ import annotations

import io

import numpy as np
import shapely
from PIL import Image

from tilegen.files.plans import read_drawing
from tilegen.model.grid import Floor, Grid
from tilegen.pictures.tile_view import ground_plan
from tilegen.plans.drafting import draw
from tilegen.plans.kit import placed, placed_pieces
from tilegen.plans.ways import Way

SVG = "{http://www.w3.org/2000/svg}"
PLAIN = Grid(floor=Floor(lines=False))
LOOP = """
A A A . .
A A A B B
C C C B B
"""
LOOP_WAYS = (Way((3, 2), "east", "doorway"), Way((3, 3), "east", "saddle"))
# Half tiles, a diagonal block, blocks of two rooms, and a room off every lattice.
CELLARS = """
. A A A . . B
A A A A . B .
A A C C C . B
. D C . C C .
D . C C C . E
"""


def plan(text, scale="10 ft", ways=(), walls=(), titles=None, grid=PLAIN, name="Kiln yard"):
    return draw(
        name=name, scale=scale, grid=grid, rooms=read_drawing(text), titles=titles or {}, ways=ways, walls=walls
    )


class OnTheTable:
    """All geometry of a kit, in place."""

    def __init__(self, drawing, kit):
        self.turns = list(placed(kit, drawing))
        self.floors, standing, ways = [], [], []
        for tile_type, turn in self.turns:
            own = ground_plan(tile_type.tile)
            self.floors.append(turn.geometry(tile_type.tile.base.foot))
            standing += [shapely.Polygon(rings[0], rings[1:]) for rings in own.placed(turn).standing]
            ways += [shapely.Polygon(rings[0], rings[1:]) for rings in own.placed(turn).ways]
        self.standing, self.ways = shapely.union_all(standing), shapely.union_all(ways)
        pieces = [(p, t) for p, t in placed_pieces(kit, drawing)]
        self.doors = [t.geometry(shapely.union_all([x.foot for x in p.piece.plates])) for p, t in pieces]
        door_ways = [shapely.Polygon(r[0]) for p, t in pieces for r in ground_plan(p.piece).placed(t).ways]
        self.door_ways = shapely.union_all(door_ways)


def pixels(png):
    return np.array(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)
