"""The commands in this process: quicker than starting the program, for tests that need no process of their own."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from typer import testing

from tilegen.cli import app
from tilegen.errors import TilegenError

# Typer's runner puts the commands together anew for each call: once is enough.
testing._get_command = cache(testing._get_command)


@dataclass(frozen=True)
class Done:
    """What a command printed and how it ended."""

    returncode: int
    stdout: str
    stderr: str


def call(*words) -> Done:
    """Run a command; a fault of the tool itself is raised."""
    result = testing.CliRunner().invoke(app, [str(word) for word in words])
    if isinstance(result.exception, TilegenError):
        return Done(result.exception.exit_code, result.stdout, str(result.exception))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Done(result.exit_code, result.stdout, result.stderr)
