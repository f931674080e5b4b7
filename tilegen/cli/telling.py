"""What the command line prints, errors included; imports nothing heavy, so that help is quick."""

from __future__ import annotations

import io
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import typer

from tilegen.errors import NO_MEMORY, InputError, TilegenError, as_phrase, bug, nearest, one_line, refused

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


# What the parser says of a value, and how a person would: in old and new versions of the library.
_WRONG_VALUES = (
    (r"valid (?:integer|int)\b", "this is not a whole number", "Write one such as 2"),
    (r"valid (?:number|float)\b", "this is not a number", "Write one such as 1.5"),
    (r"greater than or equal to (\S+)", "this is too small", "Use at least {}"),
    (r"less than or equal to (\S+)", "this is too large", "Use at most {}"),
    (r"range (\S+)<=x<=(\S+)", "this is out of range", "Use {} to {}"),
    (r"range x>=(\S+)", "this is too small", "Use at least {}"),
)


def _wrong_value(said: str, place: str) -> InputError:
    one_of = re.search(r"'([^']*)' is not one of (.*)", said)
    if one_of:
        cure = nearest(one_of[1], re.findall(r"'([^']*)'", one_of[2]))
        return InputError(f'"{one_of[1]}" is not known here', cure=cure, place=place)
    for pattern, text, cure in _WRONG_VALUES:
        found = re.search(pattern, said)
        if found:
            return InputError(text, cure=cure.format(*found.groups()), place=place)
    return InputError(as_phrase(said), place=place)


def _usage_error(error: Any) -> InputError:  # noqa: ANN401, PLR0911 - untyped: the library has moved these classes
    """Words that no command knows, as an error of the input."""
    context, kind, said = error.ctx, type(error).__name__, str(error.message).replace("\n", " ").rstrip(".")
    command = context.command if context else None
    see = f"See {context.command_path if context else 'tilegen'} --help"
    if kind == "NoSuchOption":
        known = [name.strip("-") for one in command.params for name in one.opts] if command else []
        close = re.sub(r'"(.*?)"', r"--\1", nearest(error.option_name.strip("-"), known))
        return InputError(f"there is no option {error.option_name}", cure=close if close.endswith("?") else see)
    if kind == "BadOptionUsage" and "not take" in said:
        return InputError(f"{error.option_name} takes no value", cure=f"Write {error.option_name} alone")
    if kind == "BadOptionUsage":
        several = re.search(r"\d+", said.replace(error.option_name, ""))
        needed = f"{several[0]} values" if several else "a value"
        words = " ".join([error.option_name, *["VALUE"] * (int(several[0]) if several else 1)])
        return InputError(f"{error.option_name} needs {needed}", cure=f"Write {words}")
    if kind == "MissingParameter" and context:
        word = error.param.metavar or error.param.opts[0]
        return InputError(f"{word.rstrip('.')} is missing", cure=f"Write: {context.command_path} {word}")
    if kind == "BadParameter":
        return _wrong_value(said, error.param.opts[0] if error.param else "")
    unknown, extra = (
        re.search(r"No such command '(.*?)'", said),
        re.search(r"extra arguments?(?:\(s\))? \((.*)\)", said),
    )
    if unknown and command:
        close = nearest(unknown[1], command.list_commands(context))
        return InputError(f'there is no command "{unknown[1]}"', cure=close if close.endswith("?") else see)
    if extra:
        return InputError(f"there are more words than this command takes: {extra[1]}", cure=see)
    return InputError(as_phrase(said), cure=see)


def told(error: Exception) -> int:
    """Tell the user of an error on standard error, in one line; the exit code."""
    if type(error).__name__ == "NoArgsIsHelpError":
        error.show()  # type: ignore[attr-defined]
        return 2
    if isinstance(error, _USAGE):
        error = _usage_error(error)
    elif isinstance(error, OSError):
        error = refused(error)
    if isinstance(error, TilegenError):
        say(f"tilegen: {error}", err=True)
        return error.exit_code
    if isinstance(error, MemoryError):
        say(f"tilegen: {NO_MEMORY}", err=True)
        return 2
    if os.environ.get("TILEGEN_TRACE"):
        raise error
    say(f"{bug(error)}. Set TILEGEN_TRACE=1 and run it again for details to report", err=True)
    return 2
