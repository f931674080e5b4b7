"""The command line: `commands` holds the words of all commands, one module each what a command does and prints."""

from tilegen.cli.commands import app, main

__all__ = ["app", "main"]
