"""Finding a file, reading its TOML and checking it against a model."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from tilegen.errors import InFile, InputError, Place, Said, as_phrase, as_written, nearest, refused
from tilegen.lengths import counted
from tilegen.model.keys import Key
from tilegen.model.tables import Table, read_length

Model = TypeVar("Model", bound=Table)
LARGEST_BYTES = 64 * 1024 * 1024


def shipped(kind: str) -> Path:
    """The folder of files of one kind (profiles, plans, ...) that come with the tool."""
    packed = Path(str(resources.files("tilegen"))) / "profiles"
    folder = packed if packed.is_dir() else Path(__file__).resolve().parents[2] / "profiles"
    return folder if kind == "profiles" else folder / kind


def find(word: str | Path, kind: str) -> Path:
    """The file a user means: a path, or the name of a shipped file.

    Raises:
        InputError: neither; offers the nearest name, of a shipped file or of one beside it.
    """
    path = Path(word)
    if path.is_file():
        return path
    named = shipped(kind) / f"{word}.toml"
    is_name = bool(re.fullmatch(r"[\w-]+", str(word)))
    if is_name and named.is_file():
        return named
    one, offer = kind[:-1], f"Shipped {kind}"
    names = sorted(p.stem for p in shipped(kind).glob("*.toml"))
    if not str(word):
        raise InputError(f"the name of a {one} is empty", cure=nearest("", names, offer))
    if path.is_dir():
        raise InputError(f"this is a folder, not a {one}", cure=f"Give the path of a {one} file", file=str(word))
    if is_name:
        raise InputError(f'there is no {one} called "{word}"', cure=nearest(str(word), names, offer))
    beside = [str(path.with_name(p.name)) for p in path.parent.glob("*.toml")] if _is_folder(path.parent) else []
    cure = nearest(str(word), sorted(beside), "") if beside else ""
    offer = f"Give the path of a {one} file, or the name of a shipped {one}"
    raise InputError(
        "there is no such file", cure=cure if cure.endswith("?") else nearest("", names, offer), file=str(word)
    )


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:
        return False


def read_text(path: Path) -> str:
    """The text of a file.

    Raises:
        InputError: not readable, too large or not UTF-8.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise InputError(
                f"the file has {size / 2**20:.0f} MiB; the most that is read here is {LARGEST_BYTES // 2**20} MiB",
                cure="Check that it is the right file",
                file=str(path),
            )
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise not_utf8(error, path) from None
    except OSError as error:
        raise refused(error, path) from None


def not_utf8(error: UnicodeDecodeError, path: Path) -> InputError:
    """Text that an editor saved in another encoding."""
    line = error.object[: error.start].count(b"\n") + 1
    return InputError(
        "this is not UTF-8 text", cure="Save the file as UTF-8 in your editor", file=str(path), place=f"line {line}"
    )


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises:
        InputError: not readable, too large, not UTF-8 or not TOML.
    """
    return parse_toml(read_text(path), str(path))


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Raises:
        InputError: not TOML; with the line.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, file) from None
    except ValueError:
        # Python refuses whole numbers of thousands of digits.
        raise InputError("a number has too many digits", cure="Write a shorter one", file=file) from None
    except RecursionError:
        raise InputError(
            "tables or lists are nested too deeply", cure="Write tables as the examples do", file=file
        ) from None


_QUOTES = 'Put text and lengths in quotes, as in pitch = "1.25 in"'
# What Python's TOML reader says, by how it begins: in plain words, with the usual cause as the cure.
_NOT_TOML = {
    "Expected '='": ("there is no = after the key", 'Write a key, = and a value, as in pitch = "1.25 in"'),
    "Cannot overwrite a value": ("this key is there a second time", "Remove one of the two"),
    "Cannot declare": (
        "this table is there a second time",
        "Put the keys of both under one. Only tables in double brackets, such as [[way]], may come several times",
    ),
    "Cannot mutate": ("this table is there a second time", "Put the keys of both under one"),
    "Duplicate inline": ("a key is there a second time", "Remove one of the two"),
    "Invalid value": ("the value after the = is missing or has no quotes", _QUOTES),
    "Expected newline": ("the value is followed by something else", _QUOTES),
    "Invalid initial character": ("this line does not begin with a key", "Begin a remark with #"),
    "Invalid statement": ("this line does not begin with a key", "Begin a remark with #"),
    "Expected ']": ("a closing bracket is missing", "Write [table], or [[table]] where there may be several"),
    "Unclosed array": ("a list is not closed, or a comma is missing", "Write lists as in [1, 2]"),
    "Unclosed inline": ("a closing } or a comma is missing", "Write { key = value, key = value } in one line"),
    "Unterminated string": ("a text does not end", 'Close it with the same quotes it begins with, " or """'),
    "Illegal character": ("a text or a remark has a character that is not possible there", "Close texts with quotes"),
    "Unescaped": ("a text has a single \\", "Write / in paths, or \\\\ for each \\"),
    "Invalid date": ("this is not a date", _QUOTES),
}


def _not_toml(said: str, text: str, file: str) -> InputError:
    line = re.search(r"at line (\d+)", said)
    number = int(line[1]) if line else text.count("\n") + (not text.endswith("\n"))
    plain = (said.partition(" (at ")[0], "See the pages on file formats for how TOML is written")
    wrong, cure = next((words for start, words in _NOT_TOML.items() if said.startswith(start)), plain)
    return InputError(wrong, cure=cure, file=file, place=f"line {number}")


def read_model(path: Path, model: type[Model]) -> Model:
    """A file checked against its model.

    Raises:
        InputError: with the file and the place in it.
    """
    return check(read_toml(path), model, str(path))


def check(data: dict[str, Any], model: type[Model], file: str) -> Model:
    """Tables checked against a model.

    Raises:
        InputError: for the first fault, with the nearest known word where a key is not known.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise _explained(error, model, file) from None


def _explained(error: ValidationError, model: type[BaseModel], file: str) -> InputError:
    faults = error.errors(include_url=False)
    # An unknown key often hides behind a missing one: tell it first.
    fault = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
    loc = _loc(fault)
    if fault["type"] == "extra_forbidden":
        # The key is the user's: it may look like anything.
        key, loc = str(fault["loc"][-1]), _loc({"loc": fault["loc"][:-1]})
        place = _place(model, loc) or "top of the file"
        cure = nearest(key, _fields_at(model, loc))
        return InputError(f'the key "{key}" is not known here', cure=cure, file=file, place=place)
    if fault["type"] == "missing":
        wrong, cure = _missing(model, loc)
        return InputError(wrong, cure=cure, file=file, place=_place(model, loc[:-1]))
    # A value that may be of several kinds fails as each of them; the one that got furthest is meant.
    alike = [f for f in faults if _loc(f)[: len(loc)] == loc]
    fault = max(alike, key=lambda f: len(_loc(f)))
    loc = _loc(fault)
    if fault["type"] == "missing":
        wrong, cure = _missing(model, loc)
        return InputError(wrong, cure=cure, file=file, place=_place(model, loc[:-1]))
    if len(loc) == 1 and _model_at(model, loc) is not None and fault["type"].partition("_")[0] in _TABLES:
        header = _place(model, loc)
        return InputError(
            f"{as_written(fault['input'])} is not a table",
            cure=f"Write {header}, and its keys below",
            file=file,
            place=header,
        )
    unit = " mm" if _is_length(model, loc) else ""
    wrong, cure = _refusal(fault, unit)
    # Who writes a word where words may stand does not mean a number.
    word = fault["type"] == "literal_error" and isinstance(fault["input"], str)
    meant = [f for f in alike if not (word and f["type"].startswith(("int", "float")))]
    others = [_refusal(f, unit)[1] for f in meant if _loc(f) == loc and f is not fault]
    if not cure.endswith("?") and len(alike) > 1:
        cure = Said("{}{}", cure, InFile("".join(f". Or {as_phrase(other)}" for other in dict.fromkeys(others))))
    return InputError(wrong, cure=cure, file=file, place=_place(model, loc))


def _missing(model: type[BaseModel], loc: list[int | str]) -> tuple[str, str]:
    """What is wrong where something has to be given, and the cure."""
    if isinstance(loc[-1], int):
        names = [part for part in loc if isinstance(part, str)]
        meaning = _meaning(model, [*loc[: loc.index(names[-1]) + 1]])
        return "the list is too short", f"It holds {meaning}" if meaning else "Add the values that are missing"
    meaning = _meaning(model, loc)
    return f'"{loc[-1]}" is missing', f"Add it ({meaning})" if meaning else "Add it"


_TABLES = ("model", "dict", "list")
# What is wrong with a value, by the type of pydantic's fault, and the cure.
_WRONG_KINDS = {
    "int": ("is not a whole number", "Write a whole number without quotes, as in 2"),
    "float": ("is not a number", "Write a number without quotes, as in 1.5"),
    "finite": ("is not a number", "Write a number without quotes, as in 1.5"),
    "bool": ("is neither true nor false", "Write true or false, without quotes"),
    "string": ("is not text", "Put it in quotes"),
    "list": ("is not a list", "Write a list in square brackets, as in [1, 2]"),
    "tuple": ("is not a list", "Write a list in square brackets, as in [1, 2]"),
    "dict": ("is not a table", "Write a table with keys of its own, as in { key = value }"),
    "model": ("is not a table", "Write a table with keys of its own, as in { key = value }"),
}
_BOUNDS = {
    "greater_than": ("is too small", "more than", "gt"),
    "greater_than_equal": ("is too small", "at least", "ge"),
    "less_than": ("is too large", "less than", "lt"),
    "less_than_equal": ("is too large", "at most", "le"),
}
_PATTERNS = {
    "[a-z0-9-]": ("can't be used as a name here", "Use small letters, digits and hyphens only"),
    "[^,]": ("has a comma in it", "Leave out the comma"),
    "[0-9]{1,4}-": ("is not known here", 'Write a run of edges as in "3-7"'),
    "[A-Za-z0-9]": ("can't be used as a name here", "Use letters, digits, blanks, full stops, hyphens and _ only"),
}


def _refusal(fault: Any, unit: str) -> tuple[str, str]:  # noqa: ANN401, PLR0911 - a case for each type of fault
    """What is wrong with a value, and the cure."""
    kind, value, context = fault["type"], as_written(fault["input"]), fault.get("ctx", {})
    if kind == "value_error":
        inner = context["error"].args[0]
        return (inner.text, inner.cure) if isinstance(inner, InputError) else (str(inner), "")
    if kind == "literal_error":
        return f"{value} is not known here", nearest(str(fault["input"]), re.findall(r"'([^']*)'", context["expected"]))
    if kind in _BOUNDS:
        wrong, bound, key = _BOUNDS[kind]
        return f"{value.strip(chr(34))} {wrong}", f"Use {bound} {context[key]:g}{unit}"
    if kind.endswith("too_short"):
        return (
            ("this text is empty", "Write something between the quotes")
            if isinstance(fault["input"], str)
            else (
                "the list is too short",
                f"Use at least {counted(context['min_length'], 'value')}",
            )
        )
    if kind.endswith("too_long"):
        what, parts = ("text", "character") if isinstance(fault["input"], str) else ("list", "value")
        return f"this {what} is too long", f"Use at most {counted(context['max_length'], parts)}"
    if kind == "string_pattern_mismatch":
        wrong, cure = next(words for start, words in _PATTERNS.items() if start in context["pattern"])
        return f"{value} {wrong}", cure
    if kind == "list_type" and isinstance(fault["input"], str):
        return f"{value} is not a list", f"Put it in square brackets: [{value}]"
    wrong, cure = _WRONG_KINDS.get(kind.partition("_")[0], ("can't be used here", "See the documentation of this key"))
    return f"{value} {wrong}", cure


def _loc(fault: Any) -> list[int | str]:  # noqa: ANN401
    return [part for part in fault["loc"] if not _is_branch(part)]


def _is_branch(part: int | str) -> bool:
    """Pydantic names the branches of a union in the place; users don't know them."""
    return isinstance(part, str) and ("[" in part or part in ("int", "str", "constrained-int", "constrained-str"))


def _place(model: type[BaseModel], loc: Sequence[int | str]) -> str:
    """A place in a file as a person would say it, such as "[[way]] 2, kind" or "[grid] pitch"."""
    if not loc:
        return ""
    top, rest, number = str(loc[0]), loc[1:], 0
    room = str(rest[0]) if top == "heights" and rest else ""
    if rest and isinstance(rest[0], int) and _model_at(model, loc[:1]) is not None:
        number = rest[0] + 1
        head, rest = f"[[{top}]] {number}", rest[1:]
        joint = ", "
    elif (rest and isinstance(rest[0], str)) or _model_at(model, loc[:1]) is not None:
        several = not rest and _is_list(model, top)
        head, joint = f"[[{top}]]" if several else f"[{top}]", " "
    else:
        head, joint = top, ", "
    inner = ", ".join(f"value {part + 1}" if isinstance(part, int) else str(part) for part in rest)
    key = str(rest[-1]) if rest else ""
    return Place(joint.join(filter(None, (head, inner))), table=top, number=number, key=key, room=room)


def _is_list(model: type[BaseModel], key: str) -> bool:
    return getattr(_fields_at(model, [])[key].annotation, "__origin__", None) is list


def _field_at(model: type[BaseModel], loc: Sequence[int | str]) -> FieldInfo | None:
    """The field that a place lies in: its own, or that of the list or table of free keys around it."""
    keys = [part for part in loc if isinstance(part, str)]
    while keys:
        found = _fields_at(model, keys[:-1]).get(keys[-1])
        if found is not None:
            return found
        keys.pop()
    return None


def _is_length(model: type[BaseModel], loc: Sequence[int | str]) -> bool:
    """Whether the value at a place is a length."""

    def holds(annotation: Any) -> bool:  # noqa: ANN401
        marks = (*getattr(annotation, "__metadata__", ()), *getattr(annotation, "metadata", ()))
        inner = (getattr(annotation, "annotation", None), *getattr(annotation, "__args__", ()))
        return any(getattr(mark, "func", None) is read_length for mark in marks) or any(
            holds(one) for one in inner if one is not None
        )

    field = _field_at(model, loc)
    return field is not None and holds(field)


def _fields_at(model: type[BaseModel], loc: Sequence[int | str]) -> dict[str, FieldInfo]:
    """The keys known at a place of a model."""
    inner = _model_at(model, loc)
    return {field.alias or name: field for name, field in inner.model_fields.items()} if inner is not None else {}


def _model_at(model: type[BaseModel], loc: Sequence[int | str]) -> type[BaseModel] | None:
    """The model of the table, or of the list of tables, at a place."""
    current: type[BaseModel] | None = model
    for part in loc:
        if current is None or isinstance(part, int):
            continue
        named = _fields_at(current, [])
        current = _model_in(named[part].annotation) if part in named else None
    return current


def _meaning(model: type[BaseModel], loc: list[int | str]) -> str:
    """What the key at a place of a model means."""
    field = _field_at(model, loc)
    said = next((key.means.rstrip(".") for key in field.metadata if isinstance(key, Key)), "") if field else ""
    return as_phrase(said)


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found is not None:
            return found
    return None
