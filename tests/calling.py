"""The commands as a user runs them: what they print and how they end, in this process or in one of their own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from io import StringIO
from pathlib import Path
from unittest.mock import patch

import typer.main

from tilegen.cli import main

# Typer puts the commands together anew for each call: once is enough.
typer.main.get_command = cache(typer.main.get_command)


@dataclass(frozen=True)
class Done:
    """What a command printed and how it ended."""

    returncode: int
    stdout: str
    stderr: str


def call(*words, cwd=None) -> Done:
    """Run a command in this process, which is quicker; a fault of the tool itself is raised."""
    out, err = StringIO(), StringIO()
    pipe, hook = signal.getsignal(signal.SIGPIPE), sys.excepthook
    try:
        with (
            patch.object(sys, "argv", ["tilegen", *map(str, words)]),
            patch.dict(os.environ, TILEGEN_TRACE="1"),
            chdir(cwd or Path.cwd()),
            redirect_stdout(out),
            redirect_stderr(err),
        ):
            main()
    except SystemExit as end:
        return Done(int(end.code or 0), out.getvalue(), err.getvalue())
    finally:
        signal.signal(signal.SIGPIPE, pipe)
        sys.excepthook = hook
    raise AssertionError("no exit code")


def start(*words, cwd=None, **env: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own, with these environment variables too."""
    return subprocess.run(
        [sys.executable, "-c", "from tilegen.cli import main; main()", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=120,
        env={**os.environ, **env},
        check=False,
    )


def files_in(folder: Path) -> dict[str, bytes]:
    """What lies in a folder, by path."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
