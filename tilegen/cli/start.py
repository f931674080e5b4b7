"""`tilegen start`: a folder to begin in."""

from __future__ import annotations

import hashlib
from pathlib import Path

from tilegen.cli.common import print_json
from tilegen.cli.telling import command_line, say
from tilegen.errors import InputError
from tilegen.files.starting import STARTING_GRID, STARTING_PLAN, STARTING_PROFILE
from tilegen.files.writing import portable, write_bare

# The other two files of the folder.
_TAKEN = ("grid", "alcove")


def run_start(folder: Path, *, as_json: bool, quiet: bool) -> None:
    """Write the three files, unless one of them is there already; the plan is named like the folder.

    Raises:
        InputError: a file would be overwritten, or the folder can't be written.
    """
    plan = f"{_plan_name(folder)}.toml"
    files = {
        plan: STARTING_PLAN.encode(),
        "grid.toml": STARTING_GRID.encode(),
        "alcove.toml": STARTING_PROFILE.encode(),
    }
    for name in files:
        if (folder / name).exists():
            raise InputError(
                "this file is there already, and is never replaced",
                cure="Choose another folder",
                file=str(folder / name),
            )
    write_bare(folder, files)
    if as_json:
        print_json(
            {
                "plan": (folder / plan).as_posix(),
                "files": [
                    {"path": (folder / name).as_posix(), "kind": "toml", "sha256": hashlib.sha256(content).hexdigest()}
                    for name, content in files.items()
                ],
            }
        )
    elif not quiet:
        say(f"{folder}: {', '.join(files)}")
        build, tile = command_line("build", folder / plan), command_line("tile", folder / "alcove.toml")
        say(f"Next: {build}    or: {tile}")


def _plan_name(folder: Path) -> str:
    """Each plan gets a folder of its own in `out`, named like its file: two plans must not share a name."""
    name = portable(folder.resolve().name) if folder.resolve().name else "plan"
    return f"{name}-plan" if name.casefold() in _TAKEN else name
