"""Equal bytes on every Python: 3.12 adds floats up otherwise than 3.11, so what is a length is added by math.fsum."""

import builtins
import sys

import pytest

from tilegen import cli

_SUM = builtins.sum
# A round room beside a square one, with a doorway, a feature and a surface.
SMALL = """name = "Small"
drawing = \"\"\"
A A . . . .
B B . . . .
. . . . . .
. . . . . .
\"\"\"
[[way]]
cell = [1, 1]
side = "south"
kind = "doorway"
[[shape]]
room = "T"
circle = { centre = [4, 2], radius = 2 }
[[feature]]
kind = "pillar"
cell = [2, 2]
[surface]
floor = "flagstones"
"""
RUNS = (
    "build small.toml --units in",
    "sheet corridor door --material cork --machine hand-knife",
    "fit hill-shrine --figure 25mm",
    "sheet corner --material foam --machine hot-wire",
    "sheet corner door --material greyboard --machine laser",
)


def whole(things, *start):
    """The built-in sum; from the tool's own modules of whole numbers and the like only."""
    total = _SUM(things, *start)
    caller = sys._getframe(1)
    if caller.f_globals.get("__name__", "").startswith("tilegen"):
        assert not isinstance(total, float), f"{caller.f_code.co_filename}:{caller.f_lineno}: a float, use math.fsum"
    return total


@pytest.mark.parametrize("words", RUNS)
def test_no_float_is_added_by_the_built_in_sum(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("signal.signal", lambda *_: None)
    (tmp_path / "small.toml").write_text(SMALL)
    monkeypatch.setattr(sys, "argv", ["tilegen", *words.split()])
    monkeypatch.setattr(builtins, "sum", whole)
    with pytest.raises(SystemExit) as end:
        cli.main()
    assert end.value.code in (0, 1), capsys.readouterr().err
