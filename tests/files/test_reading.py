"""Bad input: a clear message with file, place, what was found, what was expected; never anything else."""

import pytest

from tilegen.errors import InputError, TilegenError
from tilegen.files.plans import read_drawing, read_plan
from tilegen.files.profiles import read_profile
from tilegen.files.toml import find, shipped
from tilegen.model.grid import Over

HEAD = 'name = "t"\ndrawing = """\nA A B\nA . B\n"""\n'

WRONG_PLANS = {
    "broken TOML": ('name = "t', "line 1: a text does not end"),
    "no drawing": ('name = "t"', '"drawing" is missing'),
    "unknown key": (HEAD + "scael = 1", 'Did you mean "scale"'),
    "unknown key in a table": (HEAD + "[grid]\npich = 3", 'Did you mean "pitch"'),
    "unknown key in a way": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"\nwidht = 3',
        'Did you mean "width"',
    ),
    "unknown kind": (HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorwy"', 'Did you mean "doorway"'),
    "unknown side": (HEAD + '[[way]]\ncell = [2, 1]\nside = "est"\nkind = "open"', "side"),
    "unknown scale": (HEAD.replace("drawing", 'scale = "7 ft"\ndrawing'), "scale"),
    "unknown unit": (HEAD + '[grid]\npitch = "1 furlong"', "furlong"),
    "not a length": (HEAD + "[grid]\npitch = true", "[grid] pitch"),
    "not a number": (HEAD + "[grid]\npitch = nan", "[grid] pitch"),
    "far too long": (HEAD + '[grid]\npitch = "1000000000 m"', "100 m"),
    "wall over half the pitch": (HEAD + '[grid]\nwall_thickness = "0.7 in"', "Use walls thinner than 15.87 mm"),
    "play over the wall": (HEAD + '[grid]\njoint_play = "0.3 in"', "joint_play"),
    "ragged": ('name = "t"\ndrawing = """\nA A B\nA .\n"""', "row 2"),
    "odd character": ('name = "t"\ndrawing = """\nA # B\n"""', "row 1, column 2"),
    "empty drawing": ('name = "t"\ndrawing = "\\n"', "the drawing is empty"),
    "title without a room": (HEAD + '[rooms]\nC = "Nowhere"', 'room "C"'),
    "cell outside": (
        HEAD + '[[way]]\ncell = [4, 1]\nside = "east"\nkind = "open"',
        "is outside the drawing, which has 3 columns and 2 rows",
    ),
    "cell below 1": (
        HEAD + '[[way]]\ncell = [0, 1]\nside = "east"\nkind = "open"',
        "is outside the drawing, which has 3 columns and 2 rows",
    ),
    "cell of text": (HEAD + '[[way]]\ncell = ["1", 1]\nside = "east"\nkind = "open"', "[[way]] 1, cell"),
    "way where no wall is": (
        HEAD + '[[way]]\ncell = [1, 1]\nside = "east"\nkind = "open"',
        "there is no wall on this side",
    ),
    "way between ground": (
        HEAD.replace("A . B", ". . B") + '[[way]]\ncell = [1, 2]\nside = "east"\nkind = "open"',
        "there is no wall on this side",
    ),
    "saddle to ground": (
        HEAD + '[[way]]\ncell = [1, 2]\nside = "east"\nkind = "saddle"',
        "a saddle needs a room on both sides",
    ),
    "two kinds": (
        HEAD
        + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"\n[[way]]\ncell = [3, 1]\nside = "west"\nkind = "doorway"',
        "is on the same line, with kind = ",
    ),
    "two widths": (
        HEAD
        + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorway"\n[[way]]\ncell = [3, 1]\nside = "west"\nkind = "doorway"\nwidth = 20',
        "is on the same line, with other measures",
    ),
    "wall twice": (HEAD + '[[wall]]\ncell = [2, 1]\nside = "east"', "there is a wall on this line already"),
    "extra wall twice": (
        HEAD + '[[wall]]\ncell = [1, 1]\nside = "east"\n[[wall]]\ncell = [2, 1]\nside = "west"',
        "[[wall]] 2",
    ),
    "wall in ground": (HEAD.replace("A . B", ". . B") + '[[wall]]\ncell = [1, 2]\nside = "east"', "solid ground"),
    "door too wide": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorway"\nwidth = "3 in"',
        "has room for only 57.15 mm",
    ),
    "door too high": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorway"\nheight = "3 in"',
        "is 76.2 mm high, but the wall only 38.1 mm",
    ),
    "door off its side": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorway"\nat = 9',
        "the middle of the opening is not on its wall",
    ),
    "door at infinity": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "doorway"\nat = inf',
        "inf is not a number",
    ),
    "saddle without a lintel": (
        HEAD + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "saddle"\nheight = "1.5 in"',
        "the opening of a saddle is as high as the wall",
    ),
    "no room": ('name = "t"\ndrawing = """\n. .\n"""', "there is no room in the drawing"),
    "shapes": (HEAD + '[[shape]]\nroom = "A"\ncircle = { centre = [1, 1], radius = 0 }', "radius"),
    "text for a table": (HEAD + 'grid = "x"', "grid"),
    "number for a name": (HEAD.replace('"t"', "3"), "name"),
}


def test_wrong_plans(tmp_path):
    from tilegen.plans.kit import make_kit

    for text, part in WRONG_PLANS.values():
        path = tmp_path / "wrong.toml"
        path.write_text(text)
        with pytest.raises(InputError) as caught:
            try:
                make_kit(read_plan(path))
            except InputError as error:
                raise error.located(file=str(path)) from None
        message = str(caught.value)
        assert "wrong.toml" in message
        assert part in message
        assert caught.value.cure
        assert caught.value.exit_code == 2


PROFILE = 'name = "t"\n[tile]\nsize = [2, 2]\nwalls = ["north"]\n'
WRONG_PROFILES = {
    "no tile": ('name = "t"', '"tile" is missing'),
    "neither": ('name = "t"\n[tile]\nwalls = []', "the tile has neither a size nor an outline"),
    "both": (
        'name = "t"\n[tile]\nsize = [1, 1]\noutline = [[0, 0], [1, 0], [1, 1]]',
        "size and outline can't go together",
    ),
    "unknown wall": (PROFILE.replace("north", "nort"), "north"),
    "number for a side": (PROFILE.replace('"north"', "1"), "Use north, east, south or west"),
    "size 0": (PROFILE.replace("[2, 2]", "[0, 2]"), "0.5 to 40"),
    "size nan": (PROFILE.replace("[2, 2]", "[nan, 2]"), "nan is not a number"),
    "size huge": (PROFILE.replace("[2, 2]", "[1e9, 2]"), "0.5 to 40"),
    "no room between walls": (
        PROFILE.replace("[2, 2]", "[0.5, 2]") + '[grid]\nwall_thickness = "0.5 in"',
        "room between two walls",
    ),
    "opening in no wall": (PROFILE + '[[opening]]\nwall = "south"', "there is no wall on the south side"),
    "two openings": (
        PROFILE + '[[opening]]\nwall = "north"\n[[opening]]\nwall = "north"',
        "the north wall has an opening already",
    ),
    "opening too wide": (PROFILE + '[[opening]]\nwall = "north"\nwidth = "2.4 in"', "has room for only 57.15 mm"),
    "two corners": ('name = "t"\n[tile]\noutline = [[0, 0], [1, 0]]', "2 corners"),
    "crossed": ('name = "t"\n[tile]\noutline = [[0, 0], [2, 2], [2, 0], [0, 2]]', "crosses or touches itself at ("),
    "the same corner twice": ('name = "t"\n[tile]\noutline = [[0, 0], [2, 0], [2, 0], [0, 2]]', "corners 2 and 3"),
    "tiny": ('name = "t"\n[tile]\noutline = [[0, 0], [0.02, 0], [0.02, 0.02]]', "mm"),
    "flat": ('name = "t"\n[tile]\noutline = [[0, 0], [1, 0], [2, 0]]', "crosses or touches itself"),
    "huge": ('name = "t"\n[tile]\noutline = [[0, 0], [100, 0], [100, 100]]', "3175 x 3175 mm"),
    "wall on no edge": (
        'name = "t"\n[tile]\noutline = [[0, 0], [2, 0], [2, 2]]\nwalls = [4]',
        "Use numbers from 1 to 3",
    ),
    "side on an outline": (
        'name = "t"\n[tile]\noutline = [[0, 0], [2, 0], [2, 2]]\nwalls = ["north"]',
        "Use numbers from 1 to 3",
    ),
    "opening on a bare edge": (
        'name = "t"\n[tile]\noutline = [[0, 0], [2, 0], [2, 2]]\nwalls = [1]\n[[opening]]\nwall = 2',
        "there is no wall on edge 2",
    ),
}


def test_wrong_profiles(tmp_path):
    for text, part in WRONG_PROFILES.values():
        path = tmp_path / "wrong.toml"
        path.write_text(text)
        with pytest.raises(InputError) as caught:
            read_profile(path)
        assert "wrong.toml" in str(caught.value)
        assert part in str(caught.value)


def test_paths_that_are_no_files(tmp_path):
    with pytest.raises(InputError, match="this is a folder, not a plan"):
        find(tmp_path, "plans")
    with pytest.raises(InputError, match='Did you mean "bell-foundry"'):
        find("bel-foundry", "plans")
    with pytest.raises(InputError, match="no such file"):
        find(tmp_path / "nothing.toml", "plans")
    (tmp_path / "latin.toml").write_bytes(b'name = "\xe9"')
    with pytest.raises(InputError, match="UTF-8"):
        read_plan(tmp_path / "latin.toml")


def test_a_deeply_nested_file_is_refused(tmp_path):
    path = tmp_path / "deep.toml"
    path.write_text("a = " + "[" * 100_000)
    with pytest.raises(TilegenError):
        read_plan(path)


def test_blanks_between_cells_are_ignored():
    assert read_drawing("A A .\nB.B").tolist() == [[65, 65, 0], [66, 0, 66]]
    assert read_drawing("\n\n A\tb \n").tolist() == [[65, 98]]


def test_the_same_way_written_from_both_sides_is_one(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(
        HEAD
        + '[[way]]\ncell = [2, 1]\nside = "east"\nkind = "saddle"\n[[way]]\ncell = [3, 1]\nside = "west"\nkind = "saddle"'
    )
    assert [way.kind for way in read_plan(path).ways] == ["saddle"]


def test_shipped_profiles_read():
    for name in sorted(p.stem for p in shipped("profiles").glob("*.toml")):
        assert read_profile(find(name, "profiles")).name == name


def test_shipped_kinds_are_there():
    for kind, least in (("profiles", 6), ("plans", 2), ("materials", 2), ("machines", 3), ("printers", 1)):
        assert len(list(shipped(kind).glob("*.toml"))) >= least


def test_the_grid_comes_from_defaults_file_grid_file_and_command_line(tmp_path):
    (tmp_path / "plan.toml").write_text(HEAD + '[grid]\npitch = "40 mm"\nwall_height = "20 mm"\nbase_depth = "5 mm"')
    (tmp_path / "grid.toml").write_text('[grid]\nwall_height = "25 mm"\nbase_depth = "6 mm"\n[floor]\nlines = false')
    grid = read_plan(tmp_path / "plan.toml", Over(tmp_path / "grid.toml", {"grid": {"base_depth": 7.0}})).grid
    assert (grid.pitch, grid.wall_height, grid.base_depth, grid.wall_thickness) == (40.0, 25.0, 7.0, 6.35)
    assert grid.floor.lines is False
