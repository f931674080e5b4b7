"""What a person is told of each kind of mistake: the whole sentence, with file and place first and the cure last.

A row is a command's words, the files it finds where it runs, and what it says. The sentences of plans, tiles, fit and
sheets stand in test_errors_plans.py.
"""

import re

from tests.calling import call

HEAD = 'name = "p"\ndrawing = """\nA A B\nA . B\n"""\n'
WAY = HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"\n'
TILE = 'name = "t"\n[tile]\nsize = [2, 2]\nwalls = ["north"]\n'
LINE = 'name = "t"\n[tile]\noutline = [[0, 0], [2, 0], [2, 2]]\n'
DRAWN = 'name = "t"\n[tile]\noutline_file = "a.svg"\n'
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 160 120">{}</svg>'
MATERIAL = 'name = "mine"\ntitle = "mine"\nthickness = "4 mm"\nleast_lintel = 6\nleast_strip = 5\nsheet = { size = ["600 mm", "300 mm"] }\n'
MACHINE = 'name = "mine"\ntitle = "mine"\nprocess = "laser"\nkerf = "0.2 mm"\n'
SMALL = 'spacing = 1\nmargin = 2\nsize_error = "0.3 mm"\nwork_area = ["60 mm", "50 mm"]\n'
PRINTER = 'name = "mine"\ntitle = "Mine"\nprocess = "fdm"\nbed = ["200 mm", "200 mm"]\nheight = "200 mm"\n'


def plan(text):
    """A plan as `kit` reads it."""
    return ["kit", "p.toml"], {"p.toml": text}


def tile(text, *more, **files):
    """A profile as `tile` reads it, with more words and files."""
    return ["tile", "t.toml", *more], {"t.toml": text, **files}


def drawn(svg, *more):
    """A profile whose outline is in a drawing."""
    return tile(DRAWN, *more, **{"a.svg": svg})


ROWS = [
    # the command line
    (["bild", "p.toml"], {}, 'there is no command "bild". Did you mean "build"?'),
    (["frob"], {}, 'there is no command "frob". See tilegen --help'),
    (["build"], {}, 'PLAN is missing. Write: tilegen build PLAN...'),
    (["schema"], {}, 'KIND is missing. Write: tilegen schema KIND'),
    (["build", "p", "--papr", "A4"], {}, 'there is no option --papr. Did you mean --paper?'),
    (["build", "p", "--zzzz"], {}, 'there is no option --zzzz. See tilegen build --help'),
    (["tile", "corner", "--pitch"], {}, '--pitch needs a value. Write --pitch VALUE'),
    (["fit", "--reference", "1 in"], {}, '--reference needs 2 values. Write --reference VALUE VALUE'),
    (["tile", "corner", "--quiet=3"], {}, '--quiet takes no value. Write --quiet alone'),
    (["schema", "plan", "b"], {}, 'there are more words than this command takes: b. See tilegen schema --help'),
    (["build", "p", "--paper", "A9"], {}, '--paper: "A9" is not known here. Choose one of: A4, A3, A2, A1, A0, Letter, Tabloid'),
    (["build", "p", "--jobs", "x"], {}, '--jobs: this is not a whole number. Write one such as 2'),
    (["build", "p", "--jobs", "0"], {}, '--jobs: this is too small. Use at least 1'),
    (["desk", "--port", "99999"], {}, '--port: this is too large. Use at most 65535'),
    # files by name
    (["build", "bel-foundry"], {}, 'there is no plan called "bel-foundry". Did you mean "bell-foundry"?'),
    (["build", "salt"], {}, 'there is no plan called "salt". Shipped plans: bell-foundry, gull-light, hill-shrine, lamp-cellars'),
    (["build", "p.toml"], {"plan.toml": ""}, 'p.toml: there is no such file. Did you mean "plan.toml"?'),
    (["build", "maps/p.toml"], {}, 'maps/p.toml: there is no such file. Give the path of a plan file, or the name of a shipped plan: bell-foundry, gull-light, hill-shrine, lamp-cellars'),
    (["build", "."], {}, '.: this is a folder, not a plan. Give the path of a plan file'),
    (["build", ""], {}, 'the name of a plan is empty. Shipped plans: bell-foundry, gull-light, hill-shrine, lamp-cellars'),
    (["build", "corner"], {}, 'corner: this is a profile of one tile, not a plan. Use: tilegen tile corner'),
    (["tile", "bell-foundry"], {}, 'bell-foundry: this is a plan of a whole map, not a profile. Use: tilegen build bell-foundry'),
    (["tile", "corner", "--printer", "fdm"], {}, 'there is no printer called "fdm". Did you mean "fdm-220"?'),
    (["sheet", "corner", "--material", "foamm"], {}, 'there is no material called "foamm". Did you mean "foam"?'),
    (["build", "a/p.toml", "b/p.toml"], {"a/p.toml": HEAD, "b/p.toml": HEAD}, 'two of the files are called "p", so their folders would be the same. Rename one of them'),
    (["schema", "plann"], {}, 'there is no kind of file called "plann". Did you mean "plan"?'),
    (["start", "s"], {"s/s.toml": ""}, 's/s.toml: this file is there already, and is never replaced. Choose another folder'),
    (["start", "s"], {"s": ""}, 's: a file of this name stands where a folder should be. Choose another folder'),
    # TOML
    (*plan('name = "p'), 'p.toml, line 1: a text does not end. Close it with the same quotes it begins with, " or """'),
    (*plan("name"), 'p.toml, line 1: there is no = after the key. Write a key, = and a value, as in pitch = "1.25 in"'),
    (*plan('name = "p"\nname = "q"\n'), 'p.toml, line 2: this key is there a second time. Remove one of the two'),
    (*plan(HEAD + "[grid]\npitch = 1.25 in\n"), 'p.toml, line 7: the value is followed by something else. Put text and lengths in quotes, as in pitch = "1.25 in"'),
    (*plan(HEAD + "[grid]\n[grid]\n"), "p.toml, line 7: this table is there a second time. Put the keys of both under one. Only tables in double brackets, such as [[way]], may come several times"),
    (*plan(HEAD + "[grid\n"), 'p.toml, line 6: a closing bracket is missing. Write [table], or [[table]] where there may be several'),
    (*plan(HEAD + "[grid]\npitch =\n"), 'p.toml, line 7: the value after the = is missing or has no quotes. Put text and lengths in quotes, as in pitch = "1.25 in"'),
    (*plan(HEAD + "!\n"), 'p.toml, line 6: this line does not begin with a key. Begin a remark with #'),
    (*plan(HEAD + "rooms = { A = \"x\"\n"), 'p.toml, line 6: a closing } or a comma is missing. Write { key = value, key = value } in one line'),
    (*plan(HEAD + "x = [1, 2\n"), 'p.toml, line 6: a list is not closed, or a comma is missing. Write lists as in [1, 2]'),
    (*plan(HEAD + "x = " + "1" * 5000), 'p.toml: a number has too many digits. Write a shorter one'),
    (*plan(HEAD + "x = 1979-13-01"), 'p.toml, line 6: the value is followed by something else. Put text and lengths in quotes, as in pitch = "1.25 in"'),
    (*plan(HEAD + "x = " + "[" * 5000), 'p.toml: tables or lists are nested too deeply. Write tables as the examples do'),
    (*plan(HEAD + 'x = "a\\q"\n'), 'p.toml, line 6: a text has a single \\. Write / in paths, or \\\\ for each \\'),
    (["kit", "p.toml"], {"p.toml": b'name = "\xe9"\n'}, 'p.toml, line 1: this is not UTF-8 text. Save the file as UTF-8 in your editor'),
    # keys and values
    (*plan("drawing = \"A\"\n"), 'p.toml: "name" is missing. Add it (the name of the plan in words, as the report gives it)'),
    (*plan(HEAD + "scael = 1\n"), 'p.toml, top of the file: the key "scael" is not known here. Did you mean "scale"?'),
    (*plan(HEAD + "[grid]\npich = 3\n"), 'p.toml, [grid]: the key "pich" is not known here. Did you mean "pitch"?'),
    (*plan(WAY + "widht = 3\n"), 'p.toml, [[way]] 1: the key "widht" is not known here. Did you mean "width"?'),
    (*plan(HEAD + "[grid]\nxyz = 3\n"), 'p.toml, [grid]: the key "xyz" is not known here. Choose one of: pitch, spaces, wall_thickness, wall_height, base_depth, joint_play'),
    (*plan(WAY.replace('"open"', '"opne"')), 'p.toml, [[way]] 1, kind: "opne" is not known here. Did you mean "open"?'),
    (*plan(WAY.replace('"east"', '"est"')), 'p.toml, [[way]] 1, side: "est" is not known here. Did you mean "east" or "west"?'),
    (*plan(WAY.replace('"open"', '"gate"')), 'p.toml, [[way]] 1, kind: "gate" is not known here. Choose one of: open, doorway, saddle'),
    (*plan(HEAD + "[grid]\npitch = true\n"), 'p.toml, [grid] pitch: true is not a length. Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'),
    (*plan(HEAD + '[grid]\npitch = "1.2 inn"\n'), 'p.toml, [grid] pitch: "inn" in "1.2 inn" is not a unit of length. Did you mean "in"?'),
    (*plan(HEAD + '[grid]\npitch = "1.2 furlong"\n'), 'p.toml, [grid] pitch: "furlong" in "1.2 furlong" is not a unit of length. Use mm, cm, m, in or ft'),
    (*plan(HEAD + '[grid]\npitch = "1/0 in"\n'), 'p.toml, [grid] pitch: "1/0 in" divides by 0. Write one such as "1/4 in"'),
    (*plan(HEAD + '[grid]\npitch = "wide"\n'), 'p.toml, [grid] pitch: "wide" is not a length. Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'),
    (*plan(HEAD + '[grid]\npitch = "200 m"\n'), 'p.toml, [grid] pitch: 200 m is too long. Check its unit; at most 100 m is possible'),
    (*plan(HEAD + '[grid]\npitch = nan\n'), 'p.toml, [grid] pitch: nan is not a length. Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'),
    (*plan(HEAD + "[grid]\nspaces = 1.5\n"), 'p.toml, [grid] spaces: 1.5 is not a whole number. Write a whole number without quotes, as in 2'),
    (*plan(HEAD + '[floor]\nlines = "yes"\n'), 'p.toml, [floor] lines: "yes" is neither true nor false. Write true or false, without quotes'),
    (*plan(HEAD.replace('"p"', "3")), 'p.toml, name: 3 is not text. Put it in quotes'),
    (*plan(HEAD.replace('"p"', '""')), 'p.toml, name: this text is empty. Write something between the quotes'),
    (*plan(HEAD.replace('"p"', f'"{"x" * 300}"')), 'p.toml, name: this text is too long. Use at most 200 characters'),
    (*plan(HEAD.replace('"p"', '"a\\nb"')), 'p.toml, name: "a\\nb" has a line break or a control character. Write it in one line'),
    (*plan(HEAD + 'grid = 5\n'), 'p.toml, [grid]: 5 is not a table. Write [grid], and its keys below'),
    (*plan(HEAD + 'way = 5\n'), 'p.toml, [[way]]: 5 is not a table. Write [[way]], and its keys below'),
    (*plan(WAY.replace("[2, 1]", "[2]")), "p.toml, [[way]] 1, cell: the list is too short. It holds the column and the row of the cell, counted from 1 at the drawing's top left"),
    (*plan(WAY.replace("[2, 1]", "[2, 1, 3]")), 'p.toml, [[way]] 1, cell: this list is too long. Use at most 2 values'),
    (*plan(WAY.replace("[2, 1]", '["2", 1]')), 'p.toml, [[way]] 1, cell, value 1: "2" is not a whole number. Write a whole number without quotes, as in 2'),
    (*plan(WAY + "at = inf\n"), "p.toml, [[way]] 1, at: inf is not a number. Write a number without quotes, as in 1.5. Or write a list in square brackets, as in [1, 2]"),
    (*plan(WAY + 'at = "x"\n'), 'p.toml, [[way]] 1, at: "x" is not a number. Write a number without quotes, as in 1.5. Or write a list in square brackets, as in [1, 2]'),
    (*plan(WAY.replace("side", "room").replace('"east"', '"A"')), 'p.toml, [[way]] 1: it is not clear where this way is. Write either cell = [column, row] and side = "east", or room = "A" and at = [x, y]'),
    (*plan(WAY.replace('cell = [2, 1]\n', "at = [1, 1]\n")), 'p.toml, [[way]] 1: a way at a point needs a room, and neither cell nor side. Write either cell = [column, row] and side = "east", or room = "A" and at = [x, y]'),
    (*plan(HEAD + '[[shape]]\nroom = "A"\n'), 'p.toml, [[shape]] 1: the shape has no outline. Give one of circle, polygon, hall or arc'),
    (*plan(HEAD + '[[shape]]\nroom = "AB"\ncircle = { centre = [1, 1], radius = 1 }\n'), 'p.toml, [[shape]] 1: "AB" can\'t be a room. Use one letter or digit'),
    (*plan(HEAD + '[[shape]]\nroom = "C"\ncircle = { centre = [1, 1] }\n'), 'p.toml, [[shape]] 1, circle: "radius" is missing. Add it (the radius in cells)'),
    (*plan(HEAD + '[[shape]]\nroom = "C"\ncircle = { centre = [1, 1], radius = 1 }\nhall = { from = [1, 1], to = [2, 2], width = 1 }\n'), 'p.toml, [[shape]] 1: circle and hall are given for one shape. Give one of circle, polygon, hall or arc'),
    (*plan(HEAD + '[[shape]]\nroom = "C"\ncircle = { centre = [1, 1e9], radius = 1 }\n'), 'p.toml, [[shape]] 1, circle, centre, value 2: 1000000000 is too large. Use at most 100000'),
    # measures
    (*plan(HEAD + '[grid]\npitch = 0\n'), 'p.toml, [grid] pitch: 0 mm is too small. Use more than 0 and at most 1000 mm'),
    (*plan(HEAD + '[grid]\npitch = "2 m"\n'), 'p.toml, [grid] pitch: 2000 mm is too large. Use more than 0 and at most 1000 mm'),
    (*plan(HEAD + '[grid]\nspaces = 0\n'), "p.toml, [grid] spaces: a tile can't have 0 spaces a side. Use 1 to 20"),
    (*plan(HEAD + '[grid]\nwall_thickness = "0.7 in"\n'), 'p.toml, [grid] wall_thickness: walls 17.78 mm thick leave no room in spaces of 31.75 mm. Use walls thinner than 15.87 mm, or a larger pitch'),
    (*plan(HEAD + '[grid]\njoint_play = "0.3 in"\n'), "p.toml, [grid] joint_play: a joint play of 7.62 mm is not possible. Use at least 0 mm, and less than the wall's 6.35 mm"),
    (["kit", "bell-foundry", "--wall", "3 in"], {}, '--wall: walls 76.2 mm thick leave no room in spaces of 31.75 mm. Use walls thinner than 15.87 mm, or a larger pitch'),
    (["kit", "bell-foundry", "--pitch", "wide"], {}, '--pitch: "wide" is not a length. Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'),
    (*plan(HEAD + '[surface]\nfloor = "planks"\ngroove_depth = "4 mm"\n'), "p.toml, [surface] groove_depth: 4 mm is too large. Use 0.1 to 3.17 mm, so that enough of the floor or wall is left behind the groove"),
    (*plan(HEAD + '[surface]\nfloor = "planks"\nseed = -1\n'), "p.toml, [surface] seed: -1 can't be a seed. Use a whole number from 0 to 4294967295"),
    (*plan(HEAD + '[surface]\nfloor = "cobbles"\nmargin = "9 mm"\n'), "p.toml, [surface] margin: 9 mm is too large. Use 0.8 to 3.96 mm, so that the strip along the edge does not break, and the pattern has room"),
    (*plan(HEAD + '[surface]\nwalls = "brick"\ngroove_width = "3 mm"\n'), 'p.toml, [surface] groove_width: 3 mm is too large. Use 0.4 to 2.69 mm, so that stones are left between the joints'),
    (*plan(HEAD + '[grid]\npitch = "4 mm"\nwall_thickness = "1 mm"\n[surface]\nfloor = "planks"\n'), 'p.toml, [surface] groove_width: no groove fits. Use a larger pitch, a thicker base and wall, or no pattern'),
    (*plan(HEAD + '[connectors]\nsurface_field = "x"\n'), 'p.toml, [connectors] surface_field: "x" is not a number. Write a number of kilogauss, as in 3.0'),
    # drawings of plans
    (*plan('name = "p"\ndrawing = ""\n'), 'p.toml, drawing: the drawing is empty. Draw rooms with letters, and solid ground with "."'),
    (*plan('name = "p"\ndrawing = """\nA A B\nA .\n"""\n'), 'p.toml, drawing, row 2: this row has 2 cells, and the first one has 3. Make all rows equally long: fill up with "." for solid ground'),
    (*plan('name = "p"\ndrawing = """\nA # B\n"""\n'), 'p.toml, drawing, row 1, column 2: "#" is no room. Use letters and digits for rooms, and "." for solid ground'),
    (*plan(WAY.replace('"open"', '"doorway"').replace("cell = [2, 1]\nside = \"east\"", 'room = "A"\nat = [2, 0.5]') + 'width = 0\n'), 'p.toml, [[way]] 1 (room "A" at [2, 0.5]): an opening can\'t be 0 mm wide. Make it more than 0'),
    (*plan(WAY.replace('"open"', '"doorway"').replace("cell = [2, 1]\nside = \"east\"", 'room = "A"\nat = [2, 0.5]') + 'head = "round"\nwidth = "40 mm"\nheight = "10 mm"\n'), 'p.toml, [[way]] 1 (room "A" at [2, 0.5]): a round head 40 mm wide needs an opening at least 20 mm high, and this one is 10 mm. Make it higher or narrower, or use head = "flat"'),
    # profiles
    (*tile(TILE.replace("size = [2, 2]\n", "")), 't.toml, [tile]: the tile has neither a size nor an outline. Give one of size, outline and outline_file'),
    (*tile(TILE + "outline = [[0, 0], [1, 0], [1, 1]]\n"), "t.toml, [tile]: size and outline can't go together. Give one of size, outline and outline_file"),
    (*tile(TILE.replace("[2, 2]", "[0, 2]")), "t.toml, [tile] size: a side can't be 0 spaces long. Use 0.5 to 40"),
    (*tile(TILE.replace("[2, 2]", "[0.5, 2]") + '[grid]\nwall_thickness = "0.5 in"\n'), 't.toml, [tile] size: a side 0.5 spaces long has no room between two walls 12.7 mm thick. Use more than 0.8 spaces, or thinner walls'),
    (*tile(TILE.replace('["north"]', '["nort"]')), 't.toml, [tile] walls, value 1: "nort" is not known here. Did you mean "north"?'),
    (*tile(TILE.replace('["north"]', '"north"')), 't.toml, [tile] walls: "north" is not a list. Put it in square brackets: ["north"]'),
    (*tile(TILE.replace('"north"', "1")), "t.toml, [tile] walls: walls have numbers, such as 1, only on a tile with an outline. Use north, east, south or west"),
    (*tile(TILE.replace('"north"', '"x-1"')), 't.toml, [tile] walls, value 1: "x-1" is not known here. Choose one of: north, east, south, west. Or write a run of edges as in "3-7"'),
    (*tile(TILE + '[[opening]]\nwall = "south"\n'), 't.toml, [[opening]] 1: there is no wall on the south side for an opening. Use wall = "north", or add "south" to walls'),
    (*tile(TILE.replace('["north"]', "[]") + '[[opening]]\nwall = "south"\n'), 't.toml, [[opening]] 1: there is no wall on the south side for an opening. Add "south" to walls'),
    (*tile(TILE + '[[opening]]\nwall = "north"\n' * 2), 't.toml, [[opening]] 2: the north wall has an opening already. Use one opening per wall'),
    (*tile(LINE + "walls = [1]\n[[opening]]\nwall = 2\n"), 't.toml, [[opening]] 1: there is no wall on edge 2 for an opening. Use wall = 1, or add 2 to walls'),
    (*tile(LINE + "posts = [\"north-east\"]\n"), "t.toml, [tile] posts: a tile with an outline can't have posts. Remove posts"),
    (*tile(LINE + '[[feature]]\nkind = "pit"\n'), "t.toml, [[feature]] 1: a tile with an outline can't have features. Give the tile a size, or remove its features"),
    (*tile(LINE.replace(", [2, 2]", "")), "t.toml, [tile] outline: the outline that begins at (0, 0) mm has 2 corners. Use 3 to 2000"),
    (*tile(LINE.replace("[2, 2]]", "[2, 2], [2, 2]]")), 't.toml, [tile] outline: corners 3 and 4 are at the same place, (63.5, 63.5) mm. Remove one of them'),
    (*tile(LINE.replace("[2, 2]]", "[0, 2], [2, 2]]")), 't.toml, [tile] outline: the outline crosses or touches itself at (31.75, 31.75) mm. Check the order of the corners'),
    (*tile(LINE.replace("2", "200")), 't.toml, [tile] outline: the outline is 6350 x 6350 mm, and the most is 40 spaces (1270 mm) across. Points are in spaces, not in mm: divide mm by 31.75'),
    (*tile(LINE.replace("2", "0.02")), "t.toml, [tile] outline: the outline at (0, 0) mm has hardly any area. Move the corners further apart"),
    (*tile(LINE + "walls = [4]\n"), 't.toml, [tile] walls: there is no edge 4. Use numbers from 1 to 3'),
    (*tile(LINE + 'walls = ["north"]\n'), 't.toml, [tile] walls: "north" is no edge of an outline. Use numbers from 1 to 3'),
    (*tile(LINE + "holes = [[[1, 0.5], [1.5, 0.5]]]\n"), "t.toml, [tile] holes 1: the hole that begins at (31.75, 15.88) mm has 2 corners. Use 3 to 2000"),
    (*tile(LINE + "holes = [[[1, 0.5], [1.5, 0.5], [1.5, 9]]]\n"), "t.toml, [tile] holes 1: the hole lies outside of the outline at (44.12, 166.69) mm. Move it inside, or draw the outline round it"),
    (*tile(LINE + "holes = [[[1, 0.5], [1.2, 0.7], [1.2, 0.5], [1, 0.7]]]\n"), "t.toml, [tile] holes 1: the hole that begins at (31.75, 15.88) mm crosses or touches itself, or has no area. Check the order of its corners"),
    (*tile(LINE + "holes = [[[1, 0], [1.5, 0.5], [1.5, 0]]]\n"), "t.toml, [tile] holes: a hole touches the outline or another hole at (47.62, 0) mm. Leave some floor between them"),
    (*tile(LINE + 'round = "60 mm"\n'), "t.toml, [tile] round: edge 1 is 63.5 mm long, but its two rounded corners take 204.85 mm. Use a smaller radius at one or both of them"),
    (*tile(LINE + 'round = -1\n'), 't.toml, [tile] round: the radius at corner 1 is -1 mm. Use 0 mm or more'),
    (*tile(LINE + 'round = [[9, 2]]\n'), 't.toml, [tile] round: there is no corner 9. Give each of the corners 1 to 3 at most once'),
    (*tile(LINE + 'round = [[1, 2], [1, 3]]\n'), 't.toml, [tile] round: corner 1 is given twice. Give each of the corners 1 to 3 at most once'),
    (*tile(TILE, "--unit", "mm"), 't.toml, --unit: the profile names no drawing that could have a unit. Leave out --unit, or add outline_file to [tile]'),
    # outlines drawn elsewhere
    (*tile(DRAWN), 'a.svg: there is no such drawing. Put it in the same folder as the profile'),
    (*tile(DRAWN.replace("a.svg", "a.png"), **{"a.png": ""}), 'a.png: this is not a drawing that can be read. Use a file that ends in .dxf or .svg'),
    (*drawn(SVG.format('<path d="M0 0h20v20"/>')), 'a.svg: the outline is open: there is a gap of 14.142 mm between (0, 0) mm and (10, -10) mm. Join the two ends in the drawing'),
    (*drawn(SVG.format("<text>no lines</text>")), 'a.svg: the drawing has no lines. Draw the outline as one closed line'),
    (*drawn(SVG.format('<use href="#a"/>')), "a.svg, line 1: <use> can't be part of an outline. Unlink copies and turn all shapes into plain paths"),
    (*drawn(SVG.format('<rect width="40" height="40"/><rect x="50" width="40" height="40"/>')), 'a.svg: there is a second outline at (35, -10) mm. Keep one outline with its holes per drawing'),
    (*drawn(SVG.format('<rect width="40" height="40"/><rect x="10" width="60" height="20"/>')), 'a.svg: two lines cross or touch at (20, 0) mm. Move them apart in the drawing'),
    (*drawn(SVG.format('<path d="M0 0L40 40V0L0 40z"/>')), 'a.svg: a line crosses or touches itself at (10, -10) mm. Mend it in the drawing'),
    (*drawn(SVG.replace("60mm", "60").format("")), "a.svg: the drawing does not state its width and height in mm, cm, in or pt. Add the unit that you drew in, as in --unit mm"),
    (*drawn(SVG.replace("60mm", "90mm").format("")), "a.svg: the drawing is stretched: one unit is 0.5 mm wide but 0.75 mm high. Set the page to its real size in your drawing program, or make width, height and viewBox agree at the top of the file"),
    (*drawn(SVG.replace("60mm", "0mm").format("")), 'a.svg: the drawing is 80 mm wide and 0 mm high. Set its page to a real size'),
    (*drawn("<svg"), 'a.svg, line 1: the XML is broken (unclosed token). Save it again as SVG'),
    (*drawn("<html/>"), 'a.svg: this is no SVG: it begins with <html>. Save the drawing as plain SVG'),
    (*drawn('<!DOCTYPE svg [<!ENTITY a "b">]>' + SVG.format("")), 'a.svg: the file defines entities of its own, which are not read here. Save it again as plain SVG'),
    (*drawn(SVG.format('<path d="M0 0h1e300v1e300z"/>')), 'a.svg: a line reaches further than 1 km. Check the unit of the drawing'),
    (*drawn(SVG.format(""), "--unit", "furlong"), '--unit: "furlong" is not a unit that drawings have. Choose one of: mm, cm, m, in, ft'),
    (*drawn(SVG.format('<rect width="40" height="40"/>'), "--unit", "mm"), 'a.svg, --unit: the drawing itself says that one unit is 0.5 mm, not 1 mm. Leave out --unit'),
    (*drawn(SVG.format('<path d="M0 0h20v20z"/><path d="M0 0h-20"/>')), 'a.svg: the outline is open: there is a gap of 10 mm between (0, 0) mm and (-10, 0) mm. Join the two ends in the drawing'),
    (*tile(DRAWN.replace("svg", "dxf"), **{"a.dxf": "x"}), "a.dxf: the DXF can't be read. Save it again as DXF from your drawing program"),
    # stock and machines
    (["sheet", "corner", "--material", "pvc", "--machine", "laser"], {}, "material pvc, machine laser: 3 mm PVC foam board can't be cut with a laser: PVC gives off hydrogen chloride in a laser, which harms you and ruins the machine. Use a hand knife"),
    (["sheet", "corner", "--material", "mdf", "--machine", "hand-knife"], {}, "material mdf, machine hand-knife: 3 mm MDF can't be cut with a hand knife: it is over 2 mm thick (the blade may slip or break in the many strokes that this takes). Use a laser or a saw"),
    (["sheet", "corner", "--material", "eva", "--machine", "laser"], {}, 'material eva, machine laser: cutting 3 mm EVA foam sheet with a laser needs your consent: EVA smoulders, and its smoke depends on what else is in the sheet; read its safety data sheet. If your workshop\'s rules and the machine\'s manual allow it, add --accept "EVA data sheet"; otherwise use a hand knife'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": "name = \"My Foam\"\n"}, 'm.toml, name: "My Foam" can\'t be used as a name here. Use small letters, digits and hyphens only'),
    (["solid", "corner", "--printer", "fdm-220, snap_heights"], {}, '--printer: "snap_heights" is not a setting. Write a key and a value, as in layers.height=0.1'),
    (["solid", "corner", "--printer", "fdm-220, name.x=1"], {}, '--printer: "name.x=1" can\'t be set: name has no keys of its own. Set name itself, as in name=VALUE'),
    (["solid", "corner", "--printer", "fdm-220, layers.height=0 mm"], {}, '--printer "fdm-220, layers.height=0 mm", [layers] height: 0 mm is too small. Use more than 0 mm'),
    (["solid", "corner", "--printer", "fdm-220, layers.height=0.6 mm"], {}, '--printer "fdm-220, layers.height=0.6 mm": a nozzle of 0.4 mm can\'t print layers 0.6 mm high. Use a layer height of at most 0.4 mm'),
    (["solid", "corner", "--printer", "fdm-220, margin=110 mm"], {}, '--printer "fdm-220, margin=110 mm", bed: margin and brim take 110 mm on each side, which leaves nothing of a bed of 220 x 220 mm. Check the size of the bed, or use a smaller margin and brim'),
    (["solid", "corner", "--printer", "fdm-220, filament.line=2 mm"], {}, '--printer "fdm-220, filament.line=2 mm", [filament]: a nozzle of 0.4 mm can\'t print lines 2 mm wide. Use 0.24 to 1 mm for line'),
    (["solid", "corner", "--printer", "fdm-220, clearance.press=0.3 mm"], {}, '--printer "fdm-220, clearance.press=0.3 mm", [clearance]: clearances get wider from press to loose, and these are press 0.3, snug 0.15, slip 0.25, loose 0.4 mm. Make each at least as wide as the one before it'),
    (["solid", "corner", "--printer", "fdm-220, resin.waste=0.2"], {}, '--printer "fdm-220, resin.waste=0.2": the [resin] settings are for resin printers, and this is a filament printer. Use the [filament] settings, or set process = "resin"'),
    (["solid", "corner", "--printer", "resin-190, filament.line=0.4"], {}, '--printer "resin-190, filament.line=0.4": the [filament] settings are for filament printers, and this is a resin printer. Use the [resin] settings, or set process = "fdm"'),
    (["solid", "corner", "--printer", "fdm-220, walls.sturdy=0.1 mm"], {}, '--printer "fdm-220, walls.sturdy=0.1 mm", [walls]: sturdy (0.1 mm) is less than least (0.8 mm). Use at least 0.8 mm'),
    (["solid", "corner", "--printer", "p.toml"], {"p.toml": PRINTER.replace("Mine", "Mi\\tne")}, 'p.toml, title: "Mi\\tne" has a line break or a control character. Write it in one line'),
    (["kit", "bell-foundry", "--own", "o.toml"], {"o.toml": "[tiles]\ncorner = -1\n"}, 'o.toml, [tiles] corner: -1 is too small. Use at least 0'),
    (*plan(HEAD + 'feature = "x"\n'), 'p.toml, [[feature]]: "x" is not a table. Write [[feature]], and its keys below'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'measured = "9 mm"\n'}, "m.toml: a sheet sold as 4 mm can't measure 9 mm. Measure again (2 to 6 mm is possible), or correct thickness"),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'skin = "4 mm"\n'}, 'm.toml: the sheet is too thin for a skin of 4 mm under a groove. Use a skin of less than 4 mm'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL.replace("sheet", "#")}, 'm.toml: the material has no sheet of its own thickness. Add a [sheet] or a [[stock]] with a size'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'process = { laser = { verdict = "ask" } }\n'}, 'm.toml, [process] laser: "ask" needs a reason, and words by which you accept it. Add why = "..." (the reason) and caution = "..." (the words for --accept)'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'process = { laser = { verdict = "block" } }\n'}, 'm.toml, [process] laser: "block" needs a reason. Add why = "..." (the reason) and instead = "..." (what to use in its place)'),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'process = { laser = { verdict = "allow", up_to = 2 } }\n'}, "m.toml, [process] laser: only one of up_to and beyond is given. Give neither, or both: up_to is the thickest sheet for verdict, and beyond is the verdict for thicker ones"),
    (["sheet", "corner", "--material", "m.toml"], {"m.toml": MATERIAL + 'offcut = [{ name = "a", size = [9, 9] }, { name = "a", size = [9, 9] }]\n'}, 'm.toml: there are two offcuts called "a". Give each a name of its own'),
    (["sheet", "corner", "--machine", "k.toml"], {"k.toml": MACHINE + "kerf_by_material = { foam = [0.1, 0.1, 0.1] }\n"}, 'k.toml, [kerf_by_material] foam: a kerf is one width or two, not 3. Give one, or two: along x and along y'),
    # card on a home printer
    (["sheet", "corner", "--material", "card", "--print-on", "A4"], {}, "--print-on: card is 0.5 mm thick, and home printers take card up to about 0.3 mm. Use --material thin-card, or leave out --print-on"),
    (["sheet", "corner", "--material", "thin-card", "--print-on", "A5"], {}, '--print-on: "A5" is not known here. Choose one of: A4, A3, A2, A1, A0, Letter, Tabloid'),
    (["sheet", "corner", "--material", "thin-card", "--print-on", "A4", "--pitch", "4 in"], {}, "material thin-card: part B, 234.85 x 234.85 mm, is larger than the 200 x 287 mm that the margins leave of a page. Use larger paper, such as --print-on A3, or a smaller tile"),
    # one kit from several materials
    (["sheet", "corner", "--material", "base = foam, wals = greyboard"], {}, '--material: "wals" is not something that a material can be for. Did you mean "walls"?'),
    (["sheet", "corner", "--material", "base = foam, walls = greyboard, base = eps"], {}, '--material: "base" has two materials. Name one for each role'),
    (["sheet", "corner", "--material", "base = foam"], {}, '--material: "walls" has no material. Write a role and a material, as in "base = foam, walls = greyboard"'),
    (["sheet", "corner", "--material", "base = foam, greyboard"], {}, '--material: "greyboard" does not say which material is for what. Write a role and a material, as in "base = foam, walls = greyboard"'),
    (["sheet", "corner", "--material", "base = foam, walls ="], {}, '--material: "walls =" does not say which material is for what. Write a role and a material, as in "base = foam, walls = greyboard"'),
    (["sheet", "corner", "--material", "base = foam, walls = grayboard"], {}, 'there is no material called "grayboard". Did you mean "greyboard"?'),
    (["sheet", "corner", "--material", "base = foam, walls = greyboard", "--material", "card"], {}, '--material: "base = foam, walls = greyboard" is one kit from several materials, and several --material are one kit of each. Give only the one --material with roles, or only names without roles'),
    (["sheet", "corner", "--material", "base = foam, walls = m.toml"], {"m.toml": MATERIAL.replace('name = "mine"', 'name = "foam"')}, '--material: two different materials are called "foam". Change name in one of the files'),
    (["sheet", "corner", "--material", "base = foam, walls = greyboard", "--thickness", "5 mm"], {}, "--thickness: one thickness can't be that of several materials (foam, greyboard). Give one --material, or write the thickness into each material's file"),
    (["sheet", "corner", "--material", "base = foam, walls = mdf"], {}, "material mdf, machine hand-knife: 3 mm MDF can't be cut with a hand knife: it is over 2 mm thick (the blade may slip or break in the many strokes that this takes). Use a laser or a saw"),
    (["sheet", "corner", "--material", "base = foam, walls = foam, skin = greyboard"], {}, 'material base = foam, walls = foam, skin = greyboard, skin: skins of 2 mm leave 2.2 mm of the wall, and the sheets between them are 6 mm thick. Use a thinner skin, thinner sheets or thicker walls (--wall)'),
    (["sheet", "corner", "--material", "base = foam, walls = greyboard", "--construction", "slotted"], {}, "material base = foam, walls = greyboard, walls: walls with tabs need bases of their own board, which has the slots. Give base and walls the same material, or use --construction stacked"),
    (["sheet", "corner", "--material", "base = foam, walls = card, skin = card"], {}, "material base = foam, walls = card, skin = card, skin: folded walls can't have a skin. Leave out the skin, or use --construction stacked"),
    (["sheet", "corner", "--machine", "k.toml"], {"k.toml": MACHINE.replace("laser", "hot-wire") + SMALL}, "material foam: part B, 63.4 x 63.4 mm, is larger than the 56 x 46 mm that the margins leave of a piece that the machine takes. Use a machine with a larger work_area, or a smaller tile"),
    (["sheet", "corner", "--machine", "k.toml"], {"k.toml": MACHINE + "kerf_by_material = { foam = [20, 20] }\n"}, 'k.toml, [kerf_by_material] foam: this kerf is out of range. Use 0 to 10 mm'),
    # asked of a command
    (["fit"], {}, "there is no plan and no size of a base. Give a plan, or the size of a base, as in: tilegen fit --want '2 in'"),
    (["fit", "bell-foundry", "--largest-tile", "3 in"], {}, '--largest-tile: a largest tile is only used to look for a grid. Add --want with a base'),
    (["fit", "--want", "1 in", "--reference", "1 in", "2 in"], {}, "--reference: walls of 50.8 mm can't go with spaces of 25.4 mm. Give the space first, and a wall that is thinner"),
    (["gauge", "--magnet", "5"], {}, '--magnet: only printed test pieces have a pocket for a magnet. Leave out --magnet, or add --printer'),
    (["gauge", "--printer", "fdm-220", "--material", "foam"], {}, "--printer and --material can't go together. Run gauge once with each of them"),
    (["kit", "bell-foundry", "gull-light", "--in-sight"], {}, '--in-sight: this works on one plan, not on 2. Name one plan'),
    (["kit", "bell-foundry", "--from", "3;2"], {}, '--from: "3;2" is not a cell. Write column,row counted from the top left, as in 3,2'),
    (["kit", "bell-foundry", "--by-room", "--way-in", "1,1"], {}, '--way-in: "1,1" is not a way in. Write column,row,side, as in 1,1,west'),
    (["kit", "bell-foundry", "--lattice", "2,0"], {}, '--lattice: "2,0" is not a place to begin. Use 0,0 or 0,1 or 1,0 or 1,1'),
    (["kit", "bell-foundry", "--lattice", "1,0"], {}, '--lattice: on a plan of 10 ft every cell is a tile: there is nothing to choose. Leave out --lattice, or draw the plan at scale = "5 ft"'),
    (["build", "bell-foundry", "--only", "cornr"], {}, '--only: this kit has no tile or piece "cornr". Did you mean "corner"?'),
    (["build", "bell-foundry", "--only", "xyz"], {}, '--only: this kit has no tile or piece "xyz". Choose one of: corridor, corner, one-wall, one-wall-with-two-posts, corridor-with-doorway, one-wall-with-doorway, end-with-back-doorway, floor, floor-with-two-posts, floor-with-three-posts, one-wall-with-right-post, corner-with-right-doorway, and 8 more'),
    # batches
    (["tile", "corner", "--vary", "pitch"], {}, '--vary: "pitch" has no values. Write a name and its values, as in pitch=1in,1.25in'),
    (["tile", "corner", "--vary", "pich=1in"], {}, '--vary pich: "pich" can\'t be varied. Did you mean "pitch"?'),
    (["tile", "corner", "--vary", "pitch=1in,"], {}, '--vary pitch: a value of pitch is empty. Give a value, or remove the comma'),
    (["tile", "corner", "--vary", "pitch=1in", "--vary", "grid.pitch=2in"], {}, '--vary: grid.pitch is varied twice. Name each parameter once, with all its values'),
    (["tile", "corner", "--vary", "pitch=1in", "--pitch", "1in"], {}, '--pitch: pitch is both fixed and varied. Leave out --pitch or --vary pitch'),
    (["tile", "corner", "--vary", "pitch=1 inc"], {}, '--vary pitch: "inc" in "1 inc" is not a unit of length. Did you mean "inch"?'),
    (["tile", "corner", "--vary", "walls=nord"], {}, '--vary walls: "nord" is not known here. Did you mean "north"?'),
    (["tile", "corner", "--scheduler", "x"], {}, '--scheduler: a cluster makes variants, and nothing is varied. Add --vary or --variants, or leave out --scheduler'),
    (["tile", "corner", "--vary", "wall=20mm,30mm"], {}, 'none of 2 variants can be made. The first is corner_wall-20: [grid] wall_thickness: walls 20 mm thick leave no room in spaces of 31.75 mm. Use walls thinner than 15.87 mm, or a larger pitch'),
    (["tile", "corner", "--vary", ",".join(["pitch=1mm", *(f"{n}mm" for n in range(2, 1200))]), "--vary", ",".join(["wall=1mm", *(f"{n}mm" for n in range(2, 1200))])], {}, '--vary: this makes 1,437,601 variants. Use at most 1,000,000'),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": "pitch,pitch\n1in,2in\n"}, "v.csv, row 1: a name is there twice in the heading. Write each column's name once in the first row"),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": ""}, "v.csv, row 1: the table has no heading. Write each column's name once in the first row"),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": "pitch,wall\n1in\n"}, 'v.csv, row 2: this row has 1 cell, and the heading has 2. Put text that has a comma in quotes'),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": 'pitch\n"1in\n'}, "v.csv, row 2: this row can't be read as CSV. Check its quotes"),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": "pitch\n"}, 'v.csv: the table has no variants. Write one row per variant below the heading'),
    (["tile", "corner", "--variants", "v.csv"], {"v.csv": "pitch\nwide\n"}, 'v.csv, row 2, pitch: "wide" is not a length. Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'),
    (["tile", "corner", "--variants", "v.toml"], {"v.toml": "pitch = 1\n"}, 'v.toml: the key "pitch" is not known here. Write one [[variant]] per variant, and nothing else'),
    (["tile", "corner", "--variants", "v.toml"], {"v.toml": "[[variant]]\npitch = 1979-05-27\n"}, "v.toml, [[variant]] 1, pitch: 1979-05-27 can't be a value here. Use text, a number, true, false or a list"),
    (["tile", "corner", "--variants", "v.csv"], {}, 'v.csv: there is no such file or folder. Check the path'),
    # inspect and desk
    (["inspect", "a.stl"], {}, 'a.stl: there is no such file or folder. Check the path'),
    (["inspect", "."], {}, '.: it is a folder, not a file. Give the path of a file'),
    (["inspect", "a.txt"], {"a.txt": ""}, "a.txt: this kind of file can't be inspected. Use a file that ends in .stl, .obj, .3mf, .dxf or .svg"),
    (["inspect", "a.3mf"], {"a.3mf": "x"}, 'a.3mf: the file is broken, or not 3MF. Save it again as 3MF'),
    (["inspect", "a.svg"], {"a.svg": "<html/>"}, 'a.svg: this is no SVG: it begins with <html>. Save the drawing as plain SVG'),
    (["inspect", "a.stl"], {"a.stl": "x"}, 'a.stl: there are no triangles in it. Check that a solid was saved, not a drawing or a cloud of points'),
    (["inspect", "a.dxf"], {"a.dxf": "x"}, 'a.dxf: the file is broken, or not DXF. Save it again as DXF'),
    (["desk", "p.toml"], {}, 'p.toml: there is no such file. Open a file that tilegen start makes, or begin without one: tilegen desk'),
    (["desk", "."], {}, '.: this is a folder, not a plan. Open a file that tilegen start makes, or begin without one: tilegen desk'),
    (["desk", "p.toml"], {"p.toml": 'name = "p"\n'}, 'p.toml: "drawing" is missing. Add drawing = """ with the rows of the map below it, and a line with """ after them'),
]  # fmt: skip
# Words of libraries, of Python and of an older form of the messages.
FOREIGN = (
    "found ",
    "expected ",
    "['",
    "None",
    "True",
    "False",
    "Value error",
    "Input should",
    "  ",
    "..",
    ". .",
    " ,",
    ";;",
)


def told(words, files, folder):
    """The one line that a command says of what is wrong."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    out = ["-o", "out"] if words[0] in ("tile", "sheet", "solid", "build", "gauge") else []
    done = call(words[0], *out, *words[1:], cwd=folder)
    assert (done.returncode, done.stdout) == (2, ""), done
    assert not (folder / "out").exists()
    lead, line, rest = done.stderr.partition("tilegen: ")
    assert (lead, line, rest[-1:], rest.count("\n")) == ("", "tilegen: ", "\n", 1)
    return rest[:-1]


def test_each_kind_of_mistake_is_told_in_one_sentence_with_its_cure(tmp_path):
    wrong = []
    for number, (words, files, sentence) in enumerate(ROWS):
        folder = tmp_path / str(number)
        folder.mkdir()
        said = told(words, files, folder)
        if said != sentence:
            wrong.append(f"{' '.join(words)}\n  says {said}\n  not  {sentence}")
    assert not wrong, "\n".join(wrong)


def test_sentences_are_for_a_person():
    for _, _, sentence in ROWS:
        assert not [word for word in FOREIGN if word in sentence.replace("...", "")], sentence
        # What is wrong, then what helps: two sentences, the second without its full stop.
        assert re.search(r"[\w\])\"'>%?!\\:]\. [A-Z]\w", sentence), sentence
        assert re.search(r"[\w\])\"'?}*#\\]$|\.\.\.$", sentence), sentence
