"""Small slips on the command line: each is told in one line that names the cure."""

import pytest
import typer

from tests.calling import call, start
from tilegen.cli import app
from tilegen.errors import nearest
from tilegen.files.toml import find
from tilegen.model.grid import TABLES
from tilegen.model.keys import described

SLIPS = [
    (("build", "bell-foundry", "--paper", "A9"), ("--paper", "A9", "A4", "Letter")),
    (("build", "bell-foundry", "--jobs", "0"), ("--jobs", "Use at least 1")),
    (("build", "bell-foundry", "--nope"), ("--nope",)),
    (("build",), ("PLAN",)),
    (("frob",), ("frob",)),
    (("tile", "bell-foundry"), ("a plan of a whole map", "tilegen build bell-foundry")),
    (("tile", find("bell-foundry", "plans")), ("a plan of a whole map", "tilegen build")),
    (("build", "corner"), ("a profile of one tile", "tilegen tile corner")),
    (("kit", find("corner", "profiles")), ("a profile of one tile", "tilegen tile")),
    (("build", "nosuch"), ('there is no plan called "nosuch"', "bell-foundry")),
]


def test_slips_are_told_in_one_line(tmp_path):
    for words, said in SLIPS:
        done = call(*words, cwd=tmp_path)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith("tilegen: ")
        assert done.stderr.count("\n") == 1
        assert all(word in done.stderr for word in said), done.stderr
        assert not list(tmp_path.iterdir())


def test_no_words_at_all_show_the_help():
    done = call()
    assert done.returncode == 2
    assert "build" in done.stdout + done.stderr
    assert call("--help").returncode == 0


def test_equally_near_words_are_all_offered():
    assert nearest("est", ["north", "east", "south", "west"]) == 'Did you mean "east" or "west"?'
    assert nearest("wals", ["walls", "posts"]) == 'Did you mean "walls"?'
    assert nearest("xyz", ["walls", "posts"]) == "Choose one of: walls, posts"


@pytest.mark.parametrize("kind", ["plan", "profile"])
def test_a_side_that_is_nearly_right(kind, tmp_path):
    path = tmp_path / f"{kind}.toml"
    if kind == "plan":
        path.write_text('name = "p"\ndrawing = """\nA B\n"""\n[[way]]\ncell = [1, 1]\nside = "est"\nkind = "open"\n')
        done = call("kit", path)
    else:
        path.write_text('name = "p"\n[tile]\nsize = [2, 2]\nwalls = ["est"]\n')
        done = call("tile", path, "-o", tmp_path)
    assert done.returncode == 2
    assert 'did you mean "east" or "west"?' in done.stderr.lower()


def test_a_home_that_can_not_be_written_is_no_matter(tmp_path):
    home = tmp_path / "file"
    home.write_text("")
    folders = {"XDG_CACHE_HOME": str(home / "cache"), "XDG_CONFIG_HOME": str(home / "config")}
    done = start("sheet", "floor", "-o", tmp_path, "-q", **folders)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_two_start_folders_do_not_share_a_plan(tmp_path):
    for name in ("first", "second", "grid"):
        assert call("start", name, "-q", cwd=tmp_path).returncode == 0
    assert (tmp_path / "first/first.toml").is_file()
    assert (tmp_path / "grid/grid-plan.toml").is_file()
    assert call("start", ".", cwd=tmp_path / "first").returncode == 2
    done = call("kit", "first/first.toml", "second/second.toml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("words", "blamed"),
    [
        (["--wall", "3in"], "--wall: walls 76.2 mm thick leave no room"),
        (["--pitch", "1cm", "--wall", "2in"], "--pitch, --wall: walls 50.8 mm thick leave no room"),
        (["--grid", "narrow.toml"], "narrow.toml, [grid] wall_thickness: walls 6.35 mm thick"),
    ],
)
def test_a_measure_is_blamed_on_what_gave_it(tmp_path, words, blamed):
    (tmp_path / "narrow.toml").write_text('[grid]\npitch = "1 cm"\n')
    done = call("kit", "bell-foundry", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert blamed in done.stderr
    assert "bell-foundry" not in done.stderr


def test_every_key_with_an_option_is_an_option():
    """An option is declared once, beside its field: the parser, the help and the blame have it from there."""
    for command in ["build", "kit", "fit", "tile", "solid", "sheet"]:
        options = {
            word: option for option in typer.main.get_command(app).commands[command].params for word in option.opts
        }
        declared = [field.key for kind in TABLES.values() for field in described(kind) if field.key.option]
        assert len(declared) >= 7
        assert all(options[key.option].help == key.means for key in declared)


def test_of_several_options_those_are_blamed_that_the_fault_hangs_on():
    for words, blamed in [
        (("--pitch", "4 mm", "--height", "2 in"), "--pitch: "),
        (("--height", "2 in", "--pitch", "1 in", "--wall", "200"), "--wall: "),
        (("--depth", "4 mm", "--connectors", "keys", "--floor", "planks"), "--depth, --connectors: "),
        (("--pitch", "4 mm", "--wall", "-1"), "--pitch, --wall: "),
    ]:
        assert call("kit", "bell-foundry", *words).stderr.startswith(f"tilegen: {blamed}")


def test_what_is_given_can_not_be_varied_too():
    done = call("tile", "corner", "--floor", "planks", "--vary", "surface.floor=none,cobbles")
    assert done.returncode == 2
    assert "--floor: surface.floor is both fixed and varied. Leave out --floor or --vary surface.floor" in done.stderr
