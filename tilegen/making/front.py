"""The front door: what `import tilegen` gives a program. Everything else may change from version to version.

Plans and tiles come from files, or from the same tables in Python. Lengths in tables are as in files (text with a unit,
or millimetres); all that comes back is in millimetres. What is wrong raises `InputError`: its message says file, place,
what is wrong and the cure.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tilegen.files.plans import plan_of
from tilegen.files.plans import read_plan as read_plan_file
from tilegen.files.profiles import profile_of, read_profile
from tilegen.files.toml import find
from tilegen.files.writing import Job, write_files
from tilegen.fit.figures import Figure, base_of, figures_on
from tilegen.making.asked import Tools
from tilegen.making.connecting import cautions_for
from tilegen.making.plan import OpenPlan, build_plan, write_build
from tilegen.making.things import Made, make_things, tile_things
from tilegen.making.workshop import cautions, open_workshop
from tilegen.model.grid import Over
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import make_kit
from tilegen.solids.build import Mesh, build_mesh
from tilegen.tiles.loose import Piece
from tilegen.tiles.tile import Tile


def read_plan(file: str | Path, *, grid_file: str | Path | None = None) -> Drawing:
    """Read a plan from its file, or a shipped one by its name; the tables of a grid file go over its own.

    >>> import tilegen as tg
    >>> plan = tg.read_plan("bell-foundry")
    >>> plan.name, plan.grid.pitch
    ('The sunken bell foundry', 31.75)

    Raises:
        InputError: no such file, or something in it is wrong.
    """
    return read_plan_file(find(file, "plans"), _over(grid_file))


def make_plan(**tables: Any) -> Drawing:  # noqa: ANN401 - as in a file
    r"""A plan from the tables and keys of a plan file (see "File formats": plan).

    >>> import tilegen as tg
    >>> way = {"cell": [2, 1], "side": "east", "kind": "doorway"}
    >>> plan = tg.make_plan(name="Hall", drawing="AAB\nAAB", way=[way], grid={"pitch": "1.25 in"})
    >>> plan.rooms.shape
    (2, 3)

    Raises:
        InputError: something in the tables is wrong.
    """
    return plan_of(tables, "the plan")


def read_tile(file: str | Path, *, grid_file: str | Path | None = None) -> Tile:
    """Read a tile from its profile's file, or a shipped one by its name; a grid file's tables go over its own.

    >>> import tilegen as tg
    >>> tg.read_tile("corner").name
    'corner'

    Raises:
        InputError: no such file, or something in it is wrong.
    """
    return read_profile(find(file, "profiles"), _over(grid_file))


def make_tile(**tables: Any) -> Tile:  # noqa: ANN401 - as in a file
    """A tile from the tables and keys of a profile (see "File formats": profile).

    >>> import tilegen as tg
    >>> tile = tg.make_tile(name="corner", tile={"size": [2, 2], "walls": ["north", "west"]})
    >>> len(tile.plates)
    3

    Raises:
        InputError: something in the tables is wrong.
    """
    return profile_of(tables)


def fit_figures(plan: Drawing, *bases: str | float) -> tuple[Figure, ...]:
    """Where figures stand on a plan, one result per base: a length, or a creature size by name.

    >>> import tilegen as tg
    >>> plan = tg.make_plan(name="Hall", drawing="AA")
    >>> [(figure.base, figure.stands, figure.positions) for figure in tg.fit_figures(plan, "1 in", "large")]
    [(25.4, 8, 8), (50.8, 3, 3)]

    Raises:
        InputError: not a base, or one larger than the map.
    """
    return figures_on(plan, [base_of(base) for base in bases])


def make_solid(thing: Tile | Piece) -> Mesh:
    """The closed mesh of a tile or a loose piece as it is described, before any printer's corrections.

    >>> import tilegen as tg
    >>> solid = tg.make_solid(tg.read_tile("corner"))
    >>> [round(side, 2) for side in solid.size]
    [63.2, 63.2, 44.45]

    Raises:
        SolidError: it does not come out as one closed body.
    """
    return build_mesh(thing.name, thing.plates)


def build(
    made_of: Drawing | Tile,
    folder: str | Path,
    tools: Tools = Tools(),  # noqa: B008 - it is frozen
    *,
    tell: Callable[[str], None] = lambda _: None,
) -> Made:
    """Make everything of a plan, or of one tile, and write it into a folder: whole, or nothing at all.

    tell: called with a sentence on each file of yours that is in the way and kept beside the new one. What comes back
    holds the records of all solids and sheets, notes, and the cautions for the tools: show these to whoever works.

    >>> import tempfile
    >>> import tilegen as tg
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = tg.build(tg.read_tile("floor"), folder, tg.Tools(materials=("greyboard",)))
    >>> [solid["name"] for solid in made.solids], made.sheets[0]["material"]
    (['floor'], 'greyboard')

    Raises:
        InputError: a tool that is wrong, a part that fits no bed or sheet, another job's folder.
        AnswerIsNo: not enough stock, or a written file that is not as it should be; the files are there to look at.
    """
    workshop = open_workshop(tools)
    if isinstance(made_of, Tile):
        things = tile_things(made_of)
        made, about, loose = make_things(things, workshop), cautions_for(things), len(things) > 1
        write_files(Path(folder), made.files, job=Job("tile", None, made_of.name, "profile"), tell=tell)
    else:
        built = build_plan(OpenPlan(made_of, make_kit(made_of)), workshop)
        made, about, loose = built.made, built.cautions, bool(built.kit.pieces)
        write_build(Path(folder), built, tell)
    made.cautions = [*cautions(workshop, printing=True, cutting=True, loose=loose), *about]
    made.check_closed()
    return made


def _over(grid_file: str | Path | None) -> Over:
    return Over(None if grid_file is None else Path(grid_file))
