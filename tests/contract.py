"""The contract as a table: every command with nothing, the smallest, the largest and wrong words; the files they name."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import ezdxf
import trimesh

from tilegen.files.toml import find

CASES = ("empty", "smallest", "largest", "wrong")


@dataclass(frozen=True)
class Call:
    """Words after the program's name, the exit code, and for a refusal what its message must hold."""

    words: tuple[str, ...]
    code: int = 0
    says: tuple[str, ...] = ()

    def __str__(self):
        return " ".join(self.words)[:70]


@dataclass(frozen=True)
class Row:
    """The calls of one command by case. again: the exit code of a second, equal run."""

    empty: list[Call]
    smallest: Call
    largest: list[Call]
    wrong: list[Call]
    again: int = 0


def rooms(side: int) -> str:
    """A drawing of rooms of 5 x 5 cells, and ground between some of them."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ."
    block = [[letters[(7 * r + 11 * c + c**2) % 27] for c in range(side // 5)] for r in range(side // 5)]
    return "\n".join("".join(block[r // 5][c // 5] for c in range(side)) for r in range(side))


def _square(side: int) -> bytes:
    return _plan(rooms(side))


def _plan(drawing: str, more: str = "") -> bytes:
    return f'name = "A"\ndrawing = """\n{drawing}\n"""\n{more}'.encode()


def _tile(size: str, more: str = "") -> bytes:
    return f'name = "t"\n[tile]\nsize = {size}\n{more}'.encode()


def _variants(number: int) -> bytes:
    return "".join(["pitch,wall\n", *(f"{20 + n} mm,{4 + n % 3} mm\n" for n in range(number))]).encode()


def _dxf() -> bytes:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline([(0, 0), (10, 0), (10, 10)], close=True)
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


_SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">{}</svg>'
_RUBBISH = bytes(range(256)) * 4
_UNIT = '[grid]\npitch = "3 parsecs"\n'
_MANY = [f"{n}.toml" for n in range(100, 112)]

FILES: dict[str, Callable[[], bytes]] = {
    "plan.toml": lambda: _plan("A"),
    "tile.toml": lambda: _tile("[1, 1]"),
    "nothing.toml": lambda: b"",
    "rubbish.toml": lambda: _RUBBISH,
    "stock.toml": find("foam", "materials").read_bytes,
    "plan-key.toml": lambda: _plan("A", "frobs = 1\n"),
    "tile-key.toml": lambda: _tile("[1, 1]", "frobs = 1\n"),
    "plan-unit.toml": lambda: _plan("A", _UNIT),
    "tile-unit.toml": lambda: _tile("[1, 1]", _UNIT),
    "200.toml": lambda: _square(200),
    "80.toml": lambda: _square(80),
    "10.toml": lambda: _square(10),
    "wide.toml": lambda: _tile("[6, 6]", 'walls = ["north", "east", "south", "west"]\n'),
    "cube.stl": lambda: trimesh.creation.box().export(file_type="stl"),
    "ball.stl": lambda: trimesh.creation.icosphere(subdivisions=6).export(file_type="stl"),
    "part.dxf": _dxf,
    "part.svg": lambda: _SVG.format('<path d="M 0 0 L 9 0 L 9 9 z"/>').encode(),
    "many.svg": lambda: _SVG.format('<path d="M 0 0 L 9 0 L 9 9 z"/>' * 20_000).encode(),
    "variants.csv": lambda: _variants(60),
    "shelf.toml": lambda: b"[tiles]\n",
    **{f"nothing.{kind}": lambda: b"" for kind in ("stl", "3mf", "dxf", "svg", "csv")},
    **{f"rubbish.{kind}": lambda: _RUBBISH for kind in ("stl", "3mf", "dxf", "svg", "csv")},
    **{name: lambda: _plan("A") for name in _MANY},
}  # fmt: skip


@cache
def content(name: str) -> bytes:
    """What a file of the table holds."""
    return FILES[name]()


def _refused(lead: str, *words: str, says: tuple[str, ...] = ()) -> Call:
    return Call((*lead.split(), *words), 2, says)


def _files_refused(lead: str, kind: str) -> list[Call]:
    """Every kind of file that is none of a command's: kind is "plan" or "tile"."""
    return [
        _refused(lead, "nowhere.toml", says=("nowhere.toml", "no such file")),
        _refused(lead, "folder.toml", says=("folder.toml", "a folder")),
        _refused(lead, "rubbish.toml", says=("rubbish.toml", "not UTF-8")),
        _refused(lead, "stock.toml", says=("stock.toml", "title")),
        _refused(lead, f"{kind}-key.toml", says=(f"{kind}-key.toml", "frobs")),
        _refused(lead, f"{kind}-unit.toml", says=(f"{kind}-unit.toml", "[grid] pitch", "parsecs", "mm")),
        _refused(lead, "--frobnicate", says=("--frobnicate",)),
    ]


def _nothing(lead: str, argument: str) -> list[Call]:
    return [
        _refused(lead, says=(argument,)),
        _refused(lead, "nothing.toml", says=("nothing.toml", '"name"')),
        _refused(lead, "", says=("empty",)),
    ]


_STOCK_FILES = ("material", "machine", "printer")

TABLE: dict[str, Row] = {
    "start": Row(
        empty=[_refused("start", says=("folder",))],
        smallest=Call(("start", "a")),
        largest=[Call(("start", "/".join(["n" * 60] * 8)))],
        wrong=[
            _refused("start plan.toml", says=("plan.toml", "a folder")),
            _refused("start plan.toml/inside", says=("plan.toml", "a folder")),
            _refused("start", "n" * 300, says=("nnn",)),
            _refused("start --frobnicate a", says=("--frobnicate",)),
        ],
        again=2,
    ),
    "build": Row(
        empty=_nothing("build", "PLAN"),
        smallest=Call(("build", "plan.toml")),
        largest=[Call(("build", "10.toml")), Call(("build", *_MANY[:3]))],
        wrong=[*_files_refused("build", "plan"), _refused("build plan.toml --pitch", "3 parsecs", says=("--pitch", "parsecs", "mm")), _refused("build plan.toml nowhere", says=("nowhere",)),
               _refused("build tile.toml", says=("tile.toml", "tilegen tile"))],
    ),
    "kit": Row(
        empty=[*_nothing("kit", "PLAN"), Call(("kit", "plan.toml", "--grid", "nothing.toml")), Call(("kit", "plan.toml", "--own", "nothing.toml"))],
        smallest=Call(("kit", "plan.toml")),
        largest=[Call(("kit", "200.toml")), Call(("kit", "200.toml", "--in-sight")), Call(("kit", *_MANY))],
        wrong=[*_files_refused("kit", "plan"), _refused("kit plan.toml --wall", "3 parsecs", says=("--wall", "parsecs")),
               _refused("kit plan.toml --own", "rubbish.toml", says=("rubbish.toml",)), _refused("kit plan.toml --own stock.toml", says=("stock.toml",)),
               _refused("kit plan.toml --grid folder.toml", says=("folder.toml",)), _refused("kit tile.toml", says=("tile.toml", "tilegen tile"))],
    ),
    "collection": Row(
        empty=[*_nothing("collection", "PLAN"), Call(("collection", "plan.toml", "--own", "nothing.toml"))],
        smallest=Call(("collection", "plan.toml")),
        largest=[Call(("collection", "200.toml", "80.toml", "10.toml", "--maps", "2")), Call(("collection", *_MANY, "-o", "out"))],
        wrong=[*_files_refused("collection", "plan"), _refused("collection plan.toml=many", says=("many", "whole number")),
               _refused("collection plan.toml --maps 2", says=("--maps", "at most 1")), _refused("collection plan.toml --weight 2", says=("--weight", "at most 1")),
               _refused("collection plan.toml --maps 1 --weight 1", says=("--maps", "--weight")), _refused("collection plan.toml --most-tiles 1 --most-cost 1", says=("--most-tiles", "--most-cost")),
               _refused("collection plan.toml --most-hours 1", says=("--most-hours", "--make print")), _refused("collection plan.toml --most-sheets 1 --make print", says=("--most-sheets",)),
               _refused("collection plan.toml --most-cost 1", says=("--most-cost", "foam", "price")), _refused("collection plan.toml --most-tiles nan", says=("--most-tiles",)),
               _refused("collection plan.toml --own rubbish.toml", says=("rubbish.toml",)), _refused("collection tile.toml", says=("tile.toml", "tilegen tile"))],
    ),
    "fit": Row(
        empty=[*_nothing("fit", "--want")[1:], _refused("fit", says=("--want",))],
        smallest=Call(("fit", "plan.toml")),
        largest=[Call(("fit", "200.toml")), Call(("fit", "plan.toml", *[w for n in range(1, 40) for w in ("--figure", f"{n} mm")]), 1)],
        wrong=[*_files_refused("fit", "plan"), _refused("fit plan.toml --figure", "1 parsec", says=("--figure", "parsec")),
               _refused("fit plan.toml --largest-tile", "2 in", says=("--largest-tile", "--want"))],
    ),
    "tile": Row(
        empty=_nothing("tile", "PROFILE"),
        smallest=Call(("tile", "tile.toml")),
        largest=[Call(("tile", "wide.toml")), Call(("tile", "floor", "one-wall", "corner", "corridor", "door"))],
        wrong=[*_files_refused("tile", "tile"), _refused("tile tile.toml --depth", "3 parsecs", says=("--depth", "parsecs")),
               _refused("tile plan.toml", says=("plan.toml", "tilegen build")), _refused("tile tile.toml --variants rubbish.csv", says=("rubbish.csv",)),
               _refused("tile tile.toml --variants nothing.csv", says=("nothing.csv",))],
    ),
    "solid": Row(
        empty=_nothing("solid", "PROFILE|PLAN"),
        smallest=Call(("solid", "tile.toml")),
        largest=[Call(("solid", "wide.toml")), Call(("solid", "80.toml")), Call(("solid", "tile.toml", "--variants", "variants.csv"))],
        wrong=[*_files_refused("solid", "tile"), _refused("solid tile.toml --height", "3 parsecs", says=("--height", "parsecs")),
               *[_refused(f"solid tile.toml --printer {name}", says=(name,)) for name in ("nowhere", "folder.toml", "rubbish.toml", "stock.toml")]],
    ),
    "sheet": Row(
        empty=_nothing("sheet", "PROFILE|PLAN"),
        smallest=Call(("sheet", "tile.toml")),
        largest=[Call(("sheet", "wide.toml"))],
        wrong=[*_files_refused("sheet", "tile"), _refused("sheet tile.toml --pitch", "3 parsecs", says=("--pitch", "parsecs")),
               *[_refused(f"sheet tile.toml --{kind} {name}", says=(name,)) for kind in ("material", "machine") for name in ("nowhere", "folder.toml", "rubbish.toml", "tile.toml")]],
    ),
    "gauge": Row(
        empty=[Call(("gauge",)), *[_refused(f"gauge --{kind} nothing.toml", says=("nothing.toml", '"name"')) for kind in _STOCK_FILES],
               *[_refused(f"gauge --{kind}", "", says=("empty",)) for kind in _STOCK_FILES]],
        smallest=Call(("gauge",)),
        largest=[Call(("gauge", "--material", "greyboard", "--machine", "laser")), Call(("gauge", "--printer", "fdm-220", "--magnet", "8 mm"))],
        wrong=[*[_refused(f"gauge --{kind} {name}", says=(name,)) for kind in _STOCK_FILES for name in ("nowhere", "folder.toml", "rubbish.toml", "plan.toml")],
               _refused("gauge --record", "comb-x=3 parsecs", says=("--record", "parsecs")), _refused("gauge --magnet", "5 mm", says=("--magnet", "--printer")),
               _refused("gauge --printer fdm-220 --magnet", "5 parsecs", says=("--magnet", "parsecs")), _refused("gauge something", says=("something",))],
    ),
    "inspect": Row(
        empty=[_refused("inspect", says=("FILE",)), *[_refused(f"inspect nothing.{kind}", says=(f"nothing.{kind}",)) for kind in ("stl", "3mf", "dxf", "svg")]],
        smallest=Call(("inspect", "cube.stl")),
        largest=[Call(("inspect", "ball.stl")), Call(("inspect", "many.svg")), Call(("inspect", *["part.svg", "part.dxf"] * 20))],
        wrong=[_refused("inspect nowhere.stl", says=("nowhere.stl", "no such file")), _refused("inspect folder.toml", says=("folder.toml", "a folder")),
               *[_refused(f"inspect rubbish.{kind}", says=(f"rubbish.{kind}",)) for kind in ("stl", "3mf", "dxf", "svg")],
               _refused("inspect plan.toml", says=("plan.toml", ".toml", ".stl")), _refused("inspect cube.stl --units parsecs", says=("--units", "parsecs", "mm")),
               _refused("inspect --frobnicate cube.stl", says=("--frobnicate",))],
    ),
    "desk": Row(
        empty=[],  # without words it listens at its usual port, which may be taken on the machine that runs this
        smallest=Call(("desk", "--port", "FREE", "--no-browser")),
        largest=[Call(("desk", "--port", "65535", "--no-browser")), Call(("desk", "plan.toml", "--port", "FREE", "--no-browser"))],
        wrong=[_refused("desk --port 65536", says=("--port", "65535")), _refused("desk --port", "1 parsec", says=("--port",)),
               _refused("desk nowhere.toml", says=("nowhere.toml", "no such file")), _refused("desk folder.toml", says=("folder.toml", "a folder")),
               _refused("desk rubbish.stl", says=("rubbish.stl",)), _refused("desk --frobnicate", says=("--frobnicate",))],
    ),
    "schema": Row(
        empty=[_refused("schema", says=("KIND",)), _refused("schema", "", says=("kind of file", "plan"))],
        smallest=Call(("schema", "shelf")),
        largest=[Call(("schema", "material"))],
        wrong=[_refused("schema plans", says=("plans", '"plan"')), _refused("schema plan.toml", says=("plan.toml",)), _refused("schema folder.toml", says=("folder.toml",)),
               _refused("schema plan profile", says=("profile",)), _refused("schema plan --frobnicate", says=("--frobnicate",))],
    ),
}  # fmt: skip

# What each command needs before an option is tried with a wrong value.
LEAD = {"start": ("start", "a"), "desk": ("desk", "--no-browser"), "schema": ("schema", "plan"), "gauge": ("gauge",), "inspect": ("inspect", "cube.stl"),
        "kit": ("kit", "plan.toml"), "collection": ("collection", "plan.toml"), "build": ("build", "plan.toml"), "fit": ("fit", "plan.toml"), "tile": ("tile", "tile.toml"),
        "solid": ("solid", "tile.toml"), "sheet": ("sheet", "tile.toml")}  # fmt: skip
# An option that only counts beside another.
BESIDE = {("kit", "out"): ("--from", "1,1")}
WITHOUT_JSON = {"desk", "schema"}
WITHOUT_QUIET = {"schema"}
