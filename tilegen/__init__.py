"""From a drawn dungeon map to modular tiles: solids to print, sheets to cut.

>>> import tilegen as tg
>>> plan = tg.make_plan(name="Hall", drawing="AAB")
>>> kit = tg.make_kit(plan)
>>> kit.tiles, [kind.name for kind in kit.types]
(3, ['end', 'closed'])

`tg.build(plan, "out")` writes everything; `tilegen.making.front` says what each function does.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from tilegen.version import __version__

if TYPE_CHECKING:
    from tilegen.errors import AnswerIsNo, InputError, TilegenError
    from tilegen.making.asked import Tools
    from tilegen.making.front import build, fit_figures, make_plan, make_solid, make_tile, read_plan, read_tile
    from tilegen.plans.kit import make_kit

__all__ = [
    "AnswerIsNo",
    "InputError",
    "TilegenError",
    "Tools",
    "__version__",
    "build",
    "fit_figures",
    "make_kit",
    "make_plan",
    "make_solid",
    "make_tile",
    "read_plan",
    "read_tile",
]
_HOMES = {
    "AnswerIsNo": "errors",
    "InputError": "errors",
    "TilegenError": "errors",
    "Tools": "making.asked",
    "make_kit": "plans.kit",
}


def __getattr__(name: str) -> Any:  # noqa: ANN401
    """What the front door gives, imported when it is first asked for: the command's help must be quick."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"tilegen.{_HOMES.get(name, 'making.front')}"), name)
