"""The files to begin with, as `tilegen start` writes them; the grid file has every measure and its default."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from tilegen.model.connectors import CONNECTORS
from tilegen.model.grid import HEADS, LEAVES, Style


def _others(words: Iterable[str], usual: str = "") -> str:
    """The other words of a table, for a comment."""
    return "or " + ", ".join(f'"{word}"' for word in words if word != usual)


STARTING_PLAN = '''# A first plan. One letter a square of 10 ft; a full stop is solid ground.
# A wall stands wherever two neighbouring letters differ: nothing else needs drawing.
name  = "A first plan"
scale = "10 ft"               # or "5 ft": one letter a space, a tile is a block of 2 x 2 letters
drawing = """
A A A . B B
A A A C B B
. D . C . .
. D C C . .
"""

[rooms]                       # titles, if you like
A = "Guard room"
B = "Store"

# Ways through walls. cell = [column, row]; 1, 1 is the top left letter.
# kind = "open":    no wall on either tile
#        "doorway": both tiles keep their wall, with an opening in it
#        "saddle":  no wall; a free-standing door piece straddles the seam
# Fewer kinds of tile: tilegen kit PLAN --choices compares doorways and posts as pieces of their own.
[[way]]
cell = [3, 2]
side = "east"
kind = "doorway"

[[way]]
cell = [4, 2]
side = "east"
kind = "saddle"

[[way]]
cell = [2, 2]
side = "south"
kind = "open"

[[way]]
cell = [2, 4]
side = "east"
kind = "open"

[[way]]                       # the way in, from solid ground
cell = [1, 1]
side = "west"
kind = "doorway"
'''
STARTING_GRID = f"""# The measures that all tiles of your set share. Give this file with --grid grid.toml.
# Lengths are text with a unit ("1.25 in", "31.75 mm", "1/4 in"); a bare number is millimetres.
[grid]
pitch          = "1.25 in"    # one space: the square in which one medium figure stands
spaces         = 2            # spaces along one side of a tile
wall_thickness = "0.25 in"    # a wall stands on its own tile, inside the footprint
wall_height    = "1.5 in"     # above the floor
base_depth     = "0.25 in"    # underside to floor
joint_play     = "0.3 mm"     # the gap left at each seam so that rows and loops still close

[floor]
lines        = true           # the spaces' lines: grooves in print, scores on sheets
groove_width = "1 mm"
groove_depth = "0.6 mm"

[doorway]
width  = "1.1 in"
height = "1.2 in"
head   = "flat"               # {_others(HEADS, "flat")}

[door]
leaf         = "none"         # {_others(LEAVES)}; a way may say its own
style        = "planks"       # {_others(get_args(Style), "planks")}
thickness    = "3 mm"         # of a leaf
# clearance  = "0.2 mm"       # on each side of what moves; left out, prints take what gauge --record found
groove_depth = "1.2 mm"
pin          = "2 mm"         # the wire that a hinged leaf turns on
shims        = false          # strips that stand in for a missing post beside a saddle

[connectors]                  # one choice for the whole set, so that all its tiles match
kind  = "none"                # {_others(CONNECTORS, "none")}
every = "space"               # on each space of a side, so that half tiles match; or "tile"
magnet_diameter  = "4 mm"     # a disc, measured by you
magnet_thickness = "2 mm"
magnet_place     = "side"     # bored into the sides; or "below": upright slots open from below
# surface_field = 3.0         # of the magnet's pole in kilogauss, if the seller says so: for the caution
position_error   = "0.2 mm"   # how far a pocket may be off: 0.2 printed, 0.3 cut by laser, 0.5 foam

[surface]                     # what floors and walls look like
floor        = "none"         # flagstones, planks, cobbles or rough
walls        = "none"         # brick, ashlar or timber
seed         = 1              # another number, another pattern
groove_width = "0.8 mm"
groove_depth = "0.6 mm"
margin       = "0.8 mm"       # kept plain along edges, walls and openings
relief       = "sunk"         # "raised": the floor's stones stand out by groove_depth instead
continuous   = false          # true: the pattern belongs to the plan and runs on over the seams

[set]                         # what belongs to the tiles, and what is a piece of its own
posts    = "fixed"            # "loose", or "none": left out, but beside door pieces
doorways = "fixed"            # "loose": door pieces over open sides
"""
STARTING_PROFILE = """# One tile of your own: tilegen tile alcove.toml
name = "alcove"

[tile]
size  = [2, 2]                # in spaces
walls = ["north", "east", "west"]

[[opening]]                   # a way through one of its walls
wall = "east"
kind = "doorway"
width = "1 in"
"""
