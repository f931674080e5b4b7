"""What plans, tiles, figures, sheets and prints are refused for: the whole sentence, one row for each kind of error."""

from __future__ import annotations

import re
import tomllib

import pytest
from shapely.geometry import box

from tilegen.errors import AnswerIsNo, InputError
from tilegen.files.plans import plan_of
from tilegen.files.profiles import profile_of
from tilegen.files.stock import read_machine, read_printer
from tilegen.fit.figures import base_of_size, figures_on
from tilegen.fit.finder import find_grid
from tilegen.fit.loops import check_error, season_change
from tilegen.model.grid import Door, Grid
from tilegen.plans.kit import make_kit
from tilegen.plans.larger import cover_floor, read_kinds
from tilegen.plans.several import share_kit
from tilegen.plans.shelf import Shelf, take_stock
from tilegen.plans.sight import visible_from
from tilegen.sheets.constructions.stacks import stack_up
from tilegen.sheets.gauge import figures_of, hinge_of, kerf_of_comb, parse_readings
from tilegen.sheets.nesting.rectangles import Rectangle, SheetArea, check_sizes
from tilegen.sheets.partpaths import compensated
from tilegen.sheets.toolpaths import check_paths
from tilegen.solids.gauge import parse_print_readings, print_figures
from tilegen.solids.printing import chamfer_of
from tilegen.tiles.lettering import snapped, text_strokes
from tilegen.tiles.openings import make_opening

HEAD = 'name = "t"\ndrawing = """\nA A B\nA . B\n"""\n'


def plan(text, head=HEAD):
    return lambda: make_kit(plan_of(tomllib.loads(head + text), "plan.toml"))


def way(text):
    return plan(f"[[way]]\n{text}")


def feature(text):
    return plan(f"[[feature]]\n{text}")


def shape(text):
    return plan(f'[[shape]]\nroom = "C"\n{text}', 'name = "t"\ndrawing = """\n...\n..B\n"""\n')


def tile(text):
    return lambda: profile_of(tomllib.loads(f'name = "t"\n[tile]\n{text}'))


def opening(**asked):
    grid = asked.pop("grid", Grid())
    return lambda: make_opening(63.5, grid, **asked)


def demo(rows="A A B\nA . B", **more):
    return plan_of({"name": "t", "drawing": rows, **more}, "plan.toml")


DOOR = 'cell = [2, 1]\nside = "east"\nkind = "doorway"\n'
ROWS = [
    (plan('[rooms]\nC = "Nowhere"'), 'plan.toml, [rooms] C: the drawing has no room "C". Choose one of: A, B'),
    (
        way('cell = [4, 1]\nside = "east"\nkind = "open"'),
        "plan.toml, [[way]] 1 (cell [4, 1], east): this square is outside the drawing, which has 3 columns and 2 rows. Count columns from the left and rows from the top, both from 1",
    ),
    (
        way('cell = [1, 1]\nside = "east"\nkind = "open"'),
        "plan.toml, [[way]] 1 (cell [1, 1], east): there is no wall on this side of the square. Move the way to a line between two rooms or at the edge of a room",
    ),
    (
        way('cell = [1, 2]\nside = "east"\nkind = "saddle"'),
        'plan.toml, [[way]] 1 (cell [1, 2], east): a saddle needs a room on both sides, and here one side is solid ground. Use kind = "doorway" or kind = "open" for a way in',
    ),
    (
        plan(f'[[way]]\n{DOOR}[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"'),
        'plan.toml, [[way]] 2 (cell [2, 1], east): [[way]] 1 (cell [2, 1], east) is on the same line, with kind = "doorway". Delete one of the two',
    ),
    (
        plan(f"[[way]]\n{DOOR}width = 20\n[[way]]\n{DOOR}"),
        "plan.toml, [[way]] 2 (cell [2, 1], east): [[way]] 1 (cell [2, 1], east) is on the same line, with other measures. Delete one of the two",
    ),
    (
        plan('[[wall]]\ncell = [2, 1]\nside = "east"'),
        "plan.toml, [[wall]] 1 (cell [2, 1], east): there is a wall on this line already. Delete this wall, or choose another line",
    ),
    (
        plan('[[wall]]\ncell = [2, 2]\nside = "south"', 'name = "t"\ndrawing = """\nA..\n...\n...\n"""\n'),
        "plan.toml, [[wall]] 1 (cell [2, 2], south): there is solid ground on both sides of this wall. Put it inside a room",
    ),
    (
        way(DOOR + 'width = "3 in"'),
        "plan.toml, [[way]] 1 (cell [2, 1], east): the opening is 76.2 mm wide, but the wall has room for only 57.15 mm there. Make it narrower, or move it to the middle of the wall",
    ),
    (
        way(DOOR + 'height = "3 in"'),
        "plan.toml, [[way]] 1 (cell [2, 1], east): the opening is 76.2 mm high, but the wall only 38.1 mm. Make it lower, or the wall higher",
    ),
    (
        way(DOOR + "at = 9"),
        "plan.toml, [[way]] 1 (cell [2, 1], east): the middle of the opening is not on its wall, which is 63.5 mm long. Use a number of spaces from 0 to 2 for at",
    ),
    (
        way(DOOR + 'width = 30\nheight = 10\nhead = "round"'),
        'plan.toml, [[way]] 1 (cell [2, 1], east): a round head 30 mm wide needs an opening at least 15 mm high, and this one is 10 mm. Make it higher or narrower, or use head = "flat"',
    ),
    (
        way('cell = [2, 1]\nside = "east"\nkind = "open"\nleaf = "hinged"'),
        'plan.toml, [[way]] 1 (cell [2, 1], east): an open way can\'t have a leaf. Leave the leaf out, or use kind = "doorway" or kind = "saddle"',
    ),
    (
        way('cell = [2, 1]\nside = "east"\nkind = "saddle"\nleaf = "hinged"'),
        'plan.toml, [[way]] 1 (cell [2, 1], east): a saddle can\'t have leaf = "hinged". Use leaf = "sliding" or leaf = "none", or kind = "doorway"',
    ),
    (
        way('cell = [2, 1]\nside = "east"\nkind = "saddle"\nheight = 38.1'),
        "plan.toml, [[way]] 1 (cell [2, 1], east): the opening of a saddle is as high as the wall, so its door piece would fall apart. Make it lower than 38.1 mm",
    ),
    (
        way('room = "Q"\nat = [1, 1]\nkind = "open"'),
        'plan.toml, [[way]] 1 (room "Q" at [1, 1]): the drawing has no room "Q". Choose one of: A, B',
    ),
    (
        way('room = "A"\nat = [2.9, 1.9]\nkind = "open"'),
        'plan.toml, [[way]] 1 (room "A" at [2.9, 1.9]): there is no wall of room "A" near [2.9, 1.9]. Use at = [2, 1], the nearest point of its walls',
    ),
    (
        way('room = "A"\nat = [1, 0]\nkind = "open"'),
        'plan.toml, [[way]] 1 (room "A" at [1, 0]): the sides of two squares meet at this point. Move it by half a square, to the middle of one of the sides',
    ),
    (
        feature('kind = "pillar"\ncell = [9, 1]'),
        "plan.toml, [[feature]] 1 (pillar, cell [9, 1]): this square is outside the drawing, which has 3 columns and 2 rows. Count columns from the left and rows from the top, both from 1",
    ),
    (
        feature('kind = "pillar"\ncell = [2, 2]'),
        "plan.toml, [[feature]] 1 (pillar, cell [2, 2]): cell [2, 2] is solid ground. Put the feature on the floor of a room",
    ),
    (
        feature('kind = "dais"\ncell = [2, 1]\nto = [1, 1]'),
        "plan.toml, [[feature]] 1 (dais, cell [2, 1]): its last square, to = [1, 1], lies north or west of its first one, [2, 1]. Begin with the square in the north-west",
    ),
    (
        feature('kind = "pillar"\ncell = [1, 1]\nat = [0.2, 1]'),
        "plan.toml, [[feature]] 1 (pillar, cell [1, 1]): this feature reaches 6.35 mm under a wall or post of cell [1, 1]. Make it smaller or move it",
    ),
    (
        feature('kind = "pillar"\ncell = [1, 1]\nat = [0.41, 1]'),
        "plan.toml, [[feature]] 1 (pillar, cell [1, 1]): this pillar is only 0.32 mm from a wall or post. Let them share a side, or leave at least 0.5 mm between them",
    ),
    (
        feature('kind = "pillar"\ncell = [1, 1]\nto = [2, 1]\nat = [2, 1]'),
        "plan.toml, [[feature]] 1 (pillar, cell [1, 1]): this pillar lies over a line between squares, where a seam may run. Move it into one square, or make two of it",
    ),
    (
        feature('kind = "dais"\ncell = [1, 1]\nat = [2, 1]\nsize = 10'),
        "plan.toml, [[feature]] 1 (dais, cell [1, 1]): this feature reaches 5 mm beyond its squares. Make it smaller, move it, or let it cover more squares: to = [column, row] is its last one",
    ),
    (
        feature('kind = "dais"\ncell = [1, 1]\nto = [2, 1]\nat = [1.4, 1]\nsize = [40, 20]'),
        "plan.toml, [[feature]] 1 (dais, cell [1, 1]): only 0.95 mm of this feature lies on cell [2, 1], too little to make. Move its edge to the line between the squares",
    ),
    (
        feature('kind = "dais"\ncell = [1, 1]\nat = [1, 1]'),
        "plan.toml, [[feature]] 1 (dais, cell [1, 1]): at is given without size. Give both, or neither to fill the floor between the walls",
    ),
    (
        feature('kind = "dais"\ncell = [1, 1]\nround = true'),
        "plan.toml, [[feature]] 1 (dais, cell [1, 1]): round does not go with a dais. Delete it. A dais takes at, size, height",
    ),
    (
        feature('kind = "stair"\ncell = [1, 1]'),
        "plan.toml, [[feature]] 1 (stair, cell [1, 1]): a stair needs the key side. Add it: the side that it climbs to",
    ),
    (
        feature('kind = "stair"\ncell = [1, 1]\nside = "north"'),
        "plan.toml, [[feature]] 1 (stair, cell [1, 1]): a stair needs the key height where no higher floor lies beyond it. Add height, or raise the floor of the room that it climbs to",
    ),
    (
        feature('kind = "stair"\ncell = [1, 1]\nside = "north"\nheight = 20\nsteps = 30'),
        "plan.toml, [[feature]] 1 (stair, cell [1, 1]): 30 steps would be only 1.9 mm deep here. Use fewer steps or more room, so that they are at least 3 mm deep",
    ),
    (
        feature('kind = "pit"\ncell = [1, 1]\ndepth = 6'),
        "plan.toml, [[feature]] 1 (pit, cell [1, 1]): a pit can't be 6 mm deep in a base of 6.35 mm. Use at most 5.15 mm, so that a floor of 1.2 mm stays",
    ),
    (
        feature('kind = "well"\ncell = [1, 1]\nsize = 10'),
        "plan.toml, [[feature]] 1 (well, cell [1, 1]): a rim 6.35 mm wide leaves a hole of less than 2 mm in a well 10 mm across. Make the well larger, or rim_width smaller",
    ),
    (
        feature('kind = "well"\ncell = [1, 1]\nrim_width = 1'),
        "plan.toml, [[feature]] 1 (well, cell [1, 1]): the rim of a well can't be 1 mm wide. Use a rim_width of at least 2 mm",
    ),
    (
        feature('kind = "pillar"\ncell = [1, 1]\nsize = 1'),
        "plan.toml, [[feature]] 1 (pillar, cell [1, 1]): a pillar can't be 1 mm across. Use at least 2 mm and at most 10 m",
    ),
    (
        feature('kind = "pillar"\ncell = [1, 1]\nsize = [10, 12]\nround = true'),
        "plan.toml, [[feature]] 1 (pillar, cell [1, 1]): a round pillar can't be 10 x 12 mm. Give one size for both ways",
    ),
    (plan("[heights.Q]\nfloor = 5"), 'plan.toml, [heights.Q]: the drawing has no room "Q". Choose one of: A, B'),
    (
        plan("[heights.A]\nwall = 0"),
        'plan.toml, [heights.A]: walls can\'t be 0 mm high. Use more than 0 and at most 1000 mm. Where no wall should stand, use a [[way]] with kind = "open"',
    ),
    (
        plan("[heights.A]\nfloor = -1"),
        "plan.toml, [heights.A]: a floor can't be at -1 mm. Use 0 for the lowest room, and up to 1000 mm for the others",
    ),
    (
        plan(f"[heights.A]\nfloor = 40\n[[way]]\n{DOOR}"),
        'plan.toml, [[way]] 1 (cell [2, 1], east): one floor is 40 mm higher than the other, but the doorway is only 30.48 mm high. Make the doorway higher, or use kind = "open" and a stair',
    ),
    (
        plan('[heights.A]\nfloor = 6\n[[way]]\ncell = [2, 1]\nside = "east"\nkind = "saddle"'),
        'plan.toml, [[way]] 1 (cell [2, 1], east): a saddle needs floors of the same height on both sides, and these are 6 mm apart. Use kind = "doorway" or kind = "open"',
    ),
    (
        shape("circle = { centre = [1, 1], radius = 0 }"),
        'plan.toml, [[shape]] 1 (room "C"): the radius is 0 squares. Make it more than 0',
    ),
    (
        shape("circle = { centre = [1, 1], radius = 1.5 }"),
        'plan.toml, [[shape]] 1 (room "C"): the shape lies partly outside the drawing: it goes from [-0.5, -0.5] to [2.5, 2.5], and the drawing from [0, 0] to [3, 2]. Move it, or add rows or columns of "." to the drawing',
    ),
    (
        shape("circle = { centre = [2, 1], radius = 1 }"),
        'plan.toml, [[shape]] 1 (room "C"): at [2.43, 1.49] the shape lies over cell [3, 2] of room "B". Make it smaller, or move it',
    ),
    (
        shape("polygon = [[0, 0], [2, 2], [2, 0], [0, 2]]"),
        'plan.toml, [[shape]] 1 (room "C"): the outline crosses or touches itself near [1, 1]. Write its corners in the order in which you would walk round the room',
    ),
    (
        shape("polygon = [[0, 0], [2, 0, 1.2], [2, 2]]"),
        'plan.toml, [[shape]] 1 (room "C"): the side from [2, 0] to [2, 2] bends by 1.2 cells, more than a half circle. Use at most 1, half the side\'s length',
    ),
    (
        shape("polygon = [[0, 0], [2, 0], [2, 0.01], [0, 0.01]]"),
        'plan.toml, [[shape]] 1 (room "C"): the outline at [1, 0.01] covers less than 0.05 squares of floor. Make it larger',
    ),
    (
        shape("hall = { from = [1, 1], to = [1, 1], width = 1 }"),
        'plan.toml, [[shape]] 1 (room "C"): the hall at [1, 1] is only 0 cells long. Make it at least 0.1 cells long',
    ),
    (
        shape("arc = { centre = [1, 1], radius = 0.2, width = 1, from = 0, to = 90 }"),
        'plan.toml, [[shape]] 1 (room "C"): a curved hall 1 wide needs a radius of at least 0.5, and this one has 0.2. Make the radius larger or the hall narrower',
    ),
    (
        shape("arc = { centre = [1, 1], radius = 0.5, width = 1, from = 90, to = 90 }"),
        'plan.toml, [[shape]] 1 (room "C"): a curved hall can\'t go from 90 to 90 degrees. Write a larger number for "to", since it goes clockwise, but by at most 360',
    ),
    (
        plan("", 'name = "t"\ndrawing = """\n...\n"""\n'),
        'drawing: there is no room in the drawing. Draw one with letters; "." is solid ground',
    ),
    (
        plan('[surface]\nfloor = "planks"\n[surface.rooms]\nQ = "cobbles"'),
        '[surface] rooms: the drawing has no room "Q". Choose one of: A, B',
    ),
    (
        plan("[grid]\nwall_thickness = 20"),
        "plan.toml, [grid] wall_thickness: walls 20 mm thick leave no room in spaces of 31.75 mm. Use walls thinner than 15.87 mm, or a larger pitch",
    ),
    (
        plan("[grid]\njoint_play = 7"),
        "plan.toml, [grid] joint_play: a joint play of 7 mm is not possible. Use at least 0 mm, and less than the wall's 6.35 mm",
    ),
    (plan("[grid]\nspaces = 0"), "plan.toml, [grid] spaces: a tile can't have 0 spaces a side. Use 1 to 20"),
    (plan("[grid]\npitch = 0"), "plan.toml, [grid] pitch: 0 mm is too small. Use more than 0 and at most 1000 mm"),
    (
        plan('[surface]\nfloor = "planks"\ngroove_depth = 9'),
        "plan.toml, [surface] groove_depth: 9 mm is too large. Use 0.1 to 3.17 mm, so that enough of the floor or wall is left behind the groove",
    ),
    (
        plan('[connectors]\nkind = "magnets"\nmagnet_diameter = 9'),
        "plan.toml, [connectors] magnet_diameter: magnets of 9 mm don't fit in a base 6.35 mm deep. Make the base at least 11 mm deep or use magnets of 4 mm",
    ),
    (
        plan('[connectors]\nkind = "keys"\nclearance = 0.1'),
        "plan.toml, [connectors] clearance: with a clearance of 0.1 mm tiles would not close: joint_play and position_error take up 0.35 mm. Use at least 0.35 mm",
    ),
    (
        plan('[connectors]\nkind = "keys"\nkey_neck = 2'),
        "plan.toml, [connectors] key_neck: at 2 mm it would break. Use at least 3 mm",
    ),
    (
        plan('[connectors]\nkind = "keys"\nkey_length = 7'),
        "plan.toml, [connectors] key_length: a key 7 mm long has no room for its two heads. Use at least 9.7 mm",
    ),
    (
        plan('[connectors]\nkind = "keys"\nkey_thickness = 5'),
        "plan.toml, [connectors] key_thickness: at 5 mm too little of the base, 6.35 mm deep, is left above it. Use at most 4.85 mm, or make the base at least 6.5 mm deep",
    ),
    (
        plan('[connectors]\nkind = "pegs"\nevery = "tile"'),
        'plan.toml, [connectors] every: with pegs every = "tile" does not work: a peg would strike its neighbour half a tile further on. Use every = "space"',
    ),
    (
        plan('[connectors]\nkind = "tray-magnets"\nmagnet_diameter = 14'),
        "plan.toml, [connectors] magnet_diameter: two magnets of 14 mm don't fit side by side in a space of 31.75 mm. Use at most 13.72 mm",
    ),
    (
        tile('size = [2, 2]\n[[feature]]\nkind = "pit"\n[connectors]\nkind = "keys"'),
        'the tile: a pit leaves no room in the base for keys. Delete the pit, or use kind = "none" under [connectors]',
    ),
    (
        opening(leaf="hinged", head="round", width=20.0),
        'a hinged leaf needs a flat strip of wall above it, which holds its pin. Use leaf = "sliding", or head = "flat" and an opening lower than the wall',
    ),
    (
        opening(leaf="lift-out", head="round"),
        'a lift-out leaf needs a flat head, and this one is round. Use head = "flat"',
    ),
    (
        opening(leaf="sliding", grid=Grid(door=Door(thickness=5.0))),
        "a sliding leaf needs a wall at least 7 mm thick, and here it has 6.2 mm. Make the wall thicker, or thickness under [door] smaller",
    ),
    (
        opening(leaf="hinged", grid=Grid(base_depth=2.0)),
        'a hinged leaf needs a base at least 2.2 mm deep, and here it has 2 mm. Make the base deeper, or use leaf = "sliding"',
    ),
    (opening(width=0.0), "an opening can't be 0 mm wide. Make it more than 0"),
    (lambda: share_kit([]), "no plan is given. Give at least one"),
    (
        lambda: share_kit([make_kit(demo()), make_kit(demo(name="wide", grid={"pitch": 40}))]),
        '[grid] pitch: "t" has 31.75 mm and "wide" has 40 mm, so their tiles would not fit together. Give both plans the same grid, for example with --grid, or count them one at a time',
    ),
    (
        lambda: share_kit([make_kit(demo()), make_kit(demo(name="stony", surface={"floor": "flagstones"}))]),
        '[surface] floor: "t" has "none" and "stony" has "flagstones", so their tiles would not fit together. Give both plans the same grid, for example with --grid, or count them one at a time',
    ),
    (
        lambda: read_kinds(""),
        "--pieces: no piece is named. Choose from sizes such as 2x1, 2x2 or 4x2, run-3 (a corridor 3 squares long), tee and cross",
    ),
    (
        lambda: read_kinds("21x1"),
        '--pieces: there is no piece "21x1" (they are up to 20 squares long). Choose from sizes such as 2x1, 2x2 or 4x2, run-3 (a corridor 3 squares long), tee and cross',
    ),
    (
        lambda: cover_floor(demo(scale="5 ft"), read_kinds("2x1")),
        "--pieces: larger pieces need a plan drawn at 10 ft, and this one is drawn at 5 ft. Leave --pieces out",
    ),
    (
        lambda: take_stock(make_kit(demo()), Shelf({"cornr": 1}, file="shelf.toml")),
        'shelf.toml, [tiles]: no tile is called "cornr". Did you mean "corner"?',
    ),
    (lambda: visible_from(demo(), (2, 2)), "cell [2, 2] is solid ground. Choose a square of a room"),
    (lambda: base_of_size("larg"), '"larg" is not the size of a creature. Did you mean "large"?'),
    (lambda: figures_on(demo(), [0.0]), "--figure: a base can't be 0 mm across. Use more than 0 mm"),
    (
        lambda: figures_on(demo(), [300.0]),
        "--figure: a base 300 mm across covers 12 spaces, and the map is only 6 spaces long. Use a smaller base",
    ),
    (
        lambda: find_grid([], wall=6.0),
        '--want: there is no figure to find a grid for. Give a base, as in --want "1 in"',
    ),
    (lambda: find_grid([25.0]), "--want: nothing limits the size of the tiles. Add --wall or --largest-tile"),
    (lambda: find_grid([25.0], wall=0.0), "--wall: 0 mm is not possible. Use more than 0 mm"),
    (lambda: check_error(-0.1), "--tile-error: an error of -0.1 mm is not possible. Use 0 mm or more"),
    (
        lambda: season_change("stone", 100.0),
        'nothing is known of the seasons of "stone". Choose one of: xps, mdf, card-across, card-along',
    ),
    (
        lambda: parse_readings(["comb"]),
        '--record: "comb" does not give a length. Write NAME=LENGTH, for example thickness=6.1',
    ),
    (lambda: parse_readings(["com-x=3"]), '--record: there is no reading called "com-x". Did you mean "comb-x"?'),
    (lambda: parse_readings(["comb-x=0"]), "--record comb-x: a reading must be more than 0 mm. Measure again"),
    (
        lambda: figures_of({"bar-x": (50.0,)}, 3.0),
        "--record bar: a bar that is drawn 100 mm long can't measure 50 mm. Measure it again, in mm",
    ),
    (
        lambda: kerf_of_comb(101.0),
        "--record comb: the blocks of the comb can't be 101 mm wide together. Push all blocks together and measure them: 50 to 100 mm is possible",
    ),
    (
        lambda: hinge_of(60.0, 0.5),
        "--record fold: the folded strip can't measure 60 mm. Fold it until both corners are square and the sides of its grooves touch, and measure again: 50 to 51 mm is possible",
    ),
    (
        lambda: parse_print_readings(["bar-x=50"]),
        "--record bar-x: 50 mm can't be right for this reading, the bar along x, drawn 100 mm. Type the number that is engraved, or what the caliper shows, from 97 to 103 mm",
    ),
    (
        lambda: print_figures({"step-x": (20.0,)}, read_printer()),
        "--record: step-x needs bar-x as well. Measure both, and record them together",
    ),
    (
        lambda: print_figures({"press": (0.3,), "snug": (0.2,)}, read_printer()),
        "--record: snug (0.2 mm) must be at least as wide as press (0.3 mm). Try the clip again, from the narrow holes to the wide ones",
    ),
    (lambda: stack_up(100.0, 0.3, 0.0), "100 mm would be 333 layers of 0.3 mm, more than 60. Use thicker stock"),
    (
        lambda: compensated(box(0, 0, 50, 50).difference(box(20, 20, 20.5, 60)), 0.6, "P-1"),
        "a cut 0.6 mm wide would close holes or notches of part P-1 at (20.25, 35) mm. Make them wider, or cut with a finer tool",
    ),
    (
        lambda: check_paths(read_machine("laser").model_copy(update={"spacing": 0.5}), (0.2, 0.2)),
        'machine laser, [paths]: with a kerf of 0.2 mm a spacing of 0.5 mm leaves too little between parts. Use spacing = "0.7 mm" or more, or common_lines = true',
    ),
    (
        lambda: chamfer_of(box(0, 0, 0.8, 9), 0.5),
        "bottom_chamfer: something here is less than 1 mm wide at the bed, too narrow for a chamfer of 0.5 mm. Use a smaller bottom_chamfer, or 0",
    ),
    (
        lambda: text_strokes("\u00c9", 4.0),
        'labels have no letter for "É". Use blanks and these characters: ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-/.\'+',
    ),
    (lambda: snapped(box(0, 0, 0.0004, 0.0004)), "the letters are too small to engrave. Use larger letters"),
    (
        lambda: check_sizes([Rectangle("P-1", 600.0, 100.0, 1)], [SheetArea(400.0, 300.0, 5.0, 2.0)]),
        "part P-1, 600 x 100 mm, is larger than the 390 x 290 mm that the margins leave of a sheet. Use larger sheets, or a smaller tile",
    ),
]


@pytest.mark.parametrize("call, sentence", ROWS, ids=[sentence[:70] for _, sentence in ROWS])
def test_what_is_wrong_and_what_helps_in_one_sentence_each(call, sentence):
    with pytest.raises((InputError, AnswerIsNo)) as caught:
        call()
    assert str(caught.value) == sentence


def test_every_sentence_is_for_a_person():
    """No words of the old form, no lists or values as Python writes them, no number of many decimals, and a cure."""
    for _, sentence in ROWS:
        assert not any(words in sentence for words in ("found ", "expected ", "['", "None", "  ", ". ."))
        assert not re.search(r"\d\.\d{3}|\d\.\d*0 |0 mm2", sentence), sentence
        assert re.search(r"\. [A-Z]", sentence), sentence
