"""What the command line prints, errors included; imports nothing heavy, so that help is quick."""

from __future__ import annotations

import io
import os
import shlex
import subprocess
import sys
from pathlib import Path

import typer

from tilegen.errors import InputError, TilegenError, one_line

# Wrong words on the command line: the parser's own errors, of which this is one.
_USAGE = typer.BadParameter.__mro__[1]


def say(text: str, *, err: bool = False) -> None:
    """One line for a person, on standard output or error: the only way there for text that may come from a file."""
    typer.echo(one_line(text), err=err)


def options_line(*words: str | Path) -> str:
    """Words of a command as a shell of this system takes them.

    >>> options_line("--grid", Path("a b.toml")).replace(chr(34), chr(39))
    "--grid 'a b.toml'"
    """
    plain = [f"./{word}" if isinstance(word, Path) and str(word).startswith("-") else str(word) for word in words]
    return subprocess.list2cmdline(plain) if os.name == "nt" else shlex.join(plain)


def command_line(*words: str | Path) -> str:
    """A command of the tool as the user can type it: the program by its path where that is how it was run."""
    program = sys.argv[0] if Path(sys.argv[0]).stem == "tilegen" else "tilegen"
    return options_line(program, *words)


def never_fail() -> None:
    """Show what standard output and error can't encode as escapes: no run fails after its work is done."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _usage(error: Exception) -> int:
    """Words that no command knows, reported in one line like every error."""
    if type(error).__name__ == "NoArgsIsHelpError":
        error.show()  # type: ignore[attr-defined]
        return 2
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "tilegen"
    message = str(error.format_message()).replace("\n", " ").replace("Value error, ", "").rstrip(".")  # type: ignore[attr-defined]
    say(f"tilegen: {message[:1].lower()}{message[1:]}. See {command} --help", err=True)
    return 2


def told(error: Exception) -> int:
    """Print an error on standard error, in one line; returns the exit code."""
    if isinstance(error, _USAGE):
        return _usage(error)
    if isinstance(error, TilegenError):
        say(f"tilegen: {error}", err=True)
        return error.exit_code
    if isinstance(error, OSError):
        name = str(error.filename or "")
        wrong = InputError(error.strerror or str(error), expected="what can be read and written here", file=name)
        say(f"tilegen: {wrong}", err=True)
        return wrong.exit_code
    if isinstance(error, MemoryError):
        say("tilegen: not enough memory for this job", err=True)
        return 2
    if os.environ.get("TILEGEN_TRACE"):
        raise error
    words = f"{type(error).__name__}: {error}".splitlines()[0][:300]
    say(f"tilegen: a fault of the tool itself ({words}); with TILEGEN_TRACE=1 set it says where", err=True)
    return 2
