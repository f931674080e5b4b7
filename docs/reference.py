"""Pages of all commands and of the file formats, made from the command line and the JSON Schemas themselves."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict
from enum import Enum
from typing import Any, get_args

import typer

from tilegen.cli import app
from tilegen.files.schemas import MODELS, schema_of
from tilegen.files.starting import STARTING_GRID
from tilegen.model.connectors import Connectors

_EXITS = """
Exit codes: **0** finished. **1** finished, but something needs your attention (a figure does not fit, a file is not
closed, too little stock). **2** the input is wrong; the message names the file, the place and the cure, and nothing is
left half-written. `--json` prints one JSON document, in millimetres, and nothing else on standard output.
"""
_KINDS = {
    "plan": "A whole map, as drawn: rooms as letters or shapes, ways through walls, features: [Build a map](map.md).",
    "profile": "One tile. See [One odd tile tonight](odd-tile.md).",
    "grid": "The measures that all tiles of a set share; its tables may also stand in a plan or a profile.",
    "material": "Sheets to cut: thickness, sizes on hand, how they join, which process may cut them.",
    "machine": "What cuts: kerf, spacing, margins, paths. No file has a power, a speed or a temperature.",
    "printer": "What prints: bed, layers, clearances, shrink, filament or resin. See [Print](print.md).",
    "shelf": "What you own, by name or id. See [What I own](own.md).",
    "style": "What printed floors and walls are carved as. See [Surfaces](surfaces.md#stone-in-print).",
}

Table = dict[str, Any]
# The defaults of the tables that all files share: what `tilegen start` writes, and what it leaves out.
_MEASURES: dict[str, Table] = tomllib.loads(STARTING_GRID)
_MEASURES["connectors"] = {**asdict(Connectors()), **_MEASURES["connectors"]}


def commands_page() -> str:
    """All commands, arguments and options, as Markdown."""
    group: Any = typer.main.get_command(app)
    lines = ["# All commands", "", "Made from the program itself; `tilegen COMMAND --help` prints the same.", _EXITS]
    lines += ["## Before a command", "", *_table(group), ""]
    for name, command in group.commands.items():
        words = " ".join(_usage(command))
        lines += [
            f"## {name}",
            "",
            _prose(command.help or ""),
            "",
            f"`tilegen {name} {words}`",
            "",
            *_table(command),
            "",
        ]
    return "\n".join(lines)


def _usage(command: Any) -> Iterator[str]:
    for parameter in command.params:
        if parameter.param_type_name == "argument":
            yield parameter.metavar or (parameter.name or "").upper()
    yield "[OPTIONS]"


def _table(command: Any) -> Iterator[str]:
    kinds = getattr(command.callback, "__annotations__", {})
    yield "| option | meaning |"
    yield "|---|---|"
    for parameter in command.params:
        if not getattr(parameter, "hidden", False):
            yield f"| {_words(parameter, kinds.get(parameter.name))} | {_cell(_said(parameter))} |"
    yield "| `--help` | Show the command's help and stop. |"


def _words(parameter: Any, kind: Any) -> str:
    if parameter.param_type_name == "argument":
        return f"`{parameter.metavar or (parameter.name or '').upper()}`"
    words = ", ".join(f"`{word}`" for word in (*parameter.opts, *parameter.secondary_opts))
    choices = _choices(kind)
    if choices:
        return f"{words} " + ", ".join(f"`{choice}`" for choice in choices)
    if getattr(parameter, "is_flag", False):
        return words
    return f"{words} `{parameter.metavar or 'NUMBER'}`"


def _choices(kind: Any) -> list[str]:
    """The words of an option whose annotation holds an enumeration."""
    if isinstance(kind, type) and issubclass(kind, Enum):
        return [str(choice.value) for choice in kind]
    return next((found for part in get_args(kind) if (found := _choices(part))), [])


def _said(parameter: Any) -> str:
    text = getattr(parameter, "help", None) or ""
    default = parameter.default
    if default is None or default is False or callable(default) or parameter.required:
        return text
    if default is True:
        return f"{text} On unless turned off."
    many = isinstance(default, list | tuple)
    shown = ", ".join(map(_plain, default)) if many else _plain(default)
    return f"{text} Default: `{shown}`." if shown else text


def _plain(value: object) -> str:
    return str(value.value) if isinstance(value, Enum) else str(value)


def _prose(text: str) -> str:
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|").replace("<", "&lt;")


def formats_page() -> str:
    """Every kind of file with its tables and keys, as Markdown."""
    lines = [
        "# File formats",
        "",
        "Made from the JSON Schemas that `tilegen schema KIND` prints for editors which complete and check files. All",
        'files are TOML. A *length* is text with a unit (`"1.25 in"`, `"31.75 mm"`, `"1/4 in"`) or a bare number of',
        "millimetres. A key that is not marked as needed may be left out.",
        "",
    ]
    for kind in MODELS:
        schema = schema_of(kind)
        lines += [f"## {kind}", "", _KINDS[kind], ""]
        shown = [(place, table) for place, table in _tables(schema) if not _shared(kind, place)]
        anchors = {_anchor(kind, place) for place, _ in shown}
        for place, table in shown:
            lines += [f"### {kind}: {place}", "", "| key | takes | meaning |", "|---|---|---|"]
            lines += [*_keys(kind, place, table, schema, anchors), ""]
    return "\n".join(lines)


def _keys(kind: str, place: str, table: Table, schema: Table, anchors: set[str]) -> Iterator[str]:
    """The rows of a table: what is needed comes first, other tables last."""
    needed = table.get("required", [])
    given = _MEASURES.get(place.strip("`[]"), {})
    keys = table.get("properties", {}).items()
    for key, value in sorted(keys, key=lambda k: (k[0] not in needed, any(_named(k[1])))):
        words = _one_line(value.get("description", ""))
        said = [words.rstrip(".") + "."] if words else []
        said += ["**Needed.**"] if key in needed else []
        default = value.get("default", given.get(key))
        said += [f"Default: `{_shown(default)}`."] if _worth(default) else []
        takes = (
            _cell(_kind(value, schema))
            .replace("table of table by name", "tables by name")
            .replace("of table", "of tables")
        )
        for _, brackets in _named(value):
            inner = brackets.format(f"{_path(place)}{key}")
            anchor = _anchor("grid" if _shared(kind, inner) else kind, inner)
            if anchor in anchors or _shared(kind, inner):
                takes = f"[{takes}](#{anchor})"
        yield f"| `{key}` | {takes} | {_cell(' '.join(said))} |"


def _shared(kind: str, place: str) -> bool:
    """Whether a table of a plan or profile is one of the grid file's, and is shown there."""
    return kind in ("plan", "profile") and place.strip("`[]") in _MEASURES


def _anchor(kind: str, place: str) -> str:
    """What the heading of a table is linked by."""
    return re.sub(r"\s+", "-", re.sub(r"[^\w\s-]", "", f"{kind}: {place}").strip().lower())


def _tables(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The file's own keys and then its tables, each once, by where they stand."""
    seen: set[str] = set()
    waiting = [("at the top of the file", schema)]
    while waiting:
        place, table = waiting.pop(0)
        yield place, table
        for key, value in table.get("properties", {}).items():
            for name, brackets in _named(value):
                inner = schema["$defs"].get(name, {})
                if name in seen or "properties" not in inner:
                    continue
                seen.add(name)
                waiting.append((brackets.format(f"{_path(place)}{key}"), inner))


def _path(place: str) -> str:
    """A table's name with a full stop, or nothing for the keys at the top of a file."""
    return "" if place.startswith("at the top") else place.strip("`[]") + "."


def _named(value: dict[str, Any], brackets: str = "`[{}]`") -> Iterator[tuple[str, str]]:
    """The tables that a value may be, with how they are written."""
    if "$ref" in value:
        yield value["$ref"].rpartition("/")[2], brackets
    for branch in (*value.get("anyOf", ()), *value.get("oneOf", ()), *value.get("allOf", ())):
        yield from _named(branch, brackets)
    items = value.get("items")
    if isinstance(items, dict):
        yield from _named(items, "`[[{}]]`")
    more = value.get("additionalProperties")
    if isinstance(more, dict):
        yield from _named(more, "`[{}.NAME]`")


def _kind(value: dict[str, Any], schema: dict[str, Any]) -> str:
    """What a value is, in words."""
    if "const" in value or "enum" in value:
        return ", ".join(f"`{json.dumps(word)}`" for word in value.get("enum", [value.get("const")]))
    if "$ref" in value:
        name = value["$ref"].rpartition("/")[2]
        inner = schema["$defs"].get(name, {})
        return "length" if name.endswith("length") else "table" if "properties" in inner else _kind(inner, schema)
    branches = value.get("anyOf") or value.get("oneOf")
    return _either(branches, schema) if branches else _plain_kind(value, schema)


def _either(branches: list[dict[str, Any]], schema: dict[str, Any]) -> str:
    words = list(dict.fromkeys(_kind(branch, schema) for branch in branches))
    if "length" in words:
        # The number among the branches is the same length in millimetres.
        others = [word for word in words if word != "length" and not word.startswith("number")]
        words = [f"length{_bounds(branches[0])}", *others]
    return " or ".join(words)


def _plain_kind(value: dict[str, Any], schema: dict[str, Any]) -> str:
    kind = value.get("type", "")
    if kind == "array":
        return _array(value, schema)
    if kind == "object":
        more = value.get("additionalProperties")
        return f"table of {_kind(more, schema)} by name" if isinstance(more, dict) else "table"
    names = {"string": "text", "number": "number", "integer": "whole number", "boolean": "`true` or `false`"}
    return names.get(kind, "anything") + (_bounds(value) if kind in ("number", "integer") else "")


def _array(value: dict[str, Any], schema: dict[str, Any]) -> str:
    parts = value.get("prefixItems")
    if parts:
        return "[" + ", ".join(_kind(part, schema) for part in parts) + "]"
    items = value.get("items")
    return f"list of {_kind(items, schema)}" if isinstance(items, dict) else "list"


def _bounds(value: dict[str, Any]) -> str:
    words = {"exclusiveMinimum": "more than", "minimum": "from", "exclusiveMaximum": "less than", "maximum": "to"}
    # Bounds that only say that a length is no nonsense are left out.
    found = [f"{words[key]} {value[key]:g}" for key in words if key in value and abs(value[key]) < 100_000]
    return f" ({' '.join(found)})" if found else ""


def _worth(default: Any) -> bool:
    """Whether a default says something: a table's keys say their own."""
    return default not in (None, "", []) and not isinstance(default, dict)


def _shown(default: Any) -> str:
    return json.dumps(default).replace("|", "\\|") if not isinstance(default, float) else f"{default:g}"


def _one_line(text: str) -> str:
    return "" if text.startswith("A length: text with a unit") else " ".join(text.split())
