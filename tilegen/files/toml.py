"""Finding a file, reading its TOML and checking it against a model."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from tilegen.errors import InputError, nearest
from tilegen.model.keys import Key
from tilegen.model.tables import Table

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
        InputError: neither; offers the nearest shipped name.
    """
    path = Path(word)
    if path.is_file():
        return path
    named = shipped(kind) / f"{word}.toml"
    if re.fullmatch(r"[\w-]+", str(word)) and named.is_file():
        return named
    names = sorted(p.stem for p in shipped(kind).glob("*.toml"))
    found = ("a folder" if path.is_dir() else "no such file") if str(word) else "an empty name"
    expected = f"a {kind[:-1]} file or a shipped name"
    raise InputError(found, expected=expected, cure=nearest(str(word), names), file=str(word))


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises:
        InputError: not readable, too large, not UTF-8 or not TOML.
    """
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise InputError(f"a file of {path.stat().st_size} bytes", expected="at most 64 MiB", file=str(path))
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"broken TOML ({error})", expected="a TOML file", file=str(path)) from None
    except UnicodeDecodeError as error:
        raise InputError(f"a byte that is not UTF-8 at {error.start}", expected="UTF-8 text", file=str(path)) from None
    except ValueError as error:
        # Python refuses whole numbers of thousands of digits.
        raise InputError(
            f"a number that can't be read ({error})"[:120], expected="a TOML file", file=str(path)
        ) from None
    except RecursionError:
        raise InputError("tables nested too deeply", expected="a TOML file", file=str(path)) from None
    except OSError as error:
        raise InputError(error.strerror or "an unreadable file", expected="a file to read", file=str(path)) from None


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
    loc = [part for part in fault["loc"] if not _is_branch(part)]
    place = _place(loc)
    if fault["type"] == "extra_forbidden":
        # The key is the user's: it may look like anything.
        key, loc = str(fault["loc"][-1]), [part for part in fault["loc"][:-1] if not _is_branch(part)]
        return InputError(
            f'the key "{key}"',
            expected="a key that is known here",
            cure=nearest(key, _fields_at(model, loc)),
            file=file,
            place=_place(loc) or "top of the file",
        )
    if fault["type"] == "missing":
        meaning = _meaning(model, loc)
        return InputError(f'no "{loc[-1]}"', expected="it to be given", cure=meaning, file=file, place=_place(loc[:-1]))
    if fault["type"] == "value_error":
        text = fault["msg"].removeprefix("Value error, ")
        found, _, expected = text.removeprefix("found ").partition("; expected ")
        return InputError(found, expected=expected, file=file, place=place)
    wanted = fault["msg"].removeprefix("Input should be ")
    cure = _offer(fault)
    return InputError(_plain(fault["input"]), expected=wanted, cure=cure, file=file, place=place)


def _offer(fault: Any) -> str:  # noqa: ANN401
    if fault["type"] != "literal_error" or not isinstance(fault["input"], str):
        return ""
    return nearest(fault["input"], re.findall(r"'([^']*)'", fault["ctx"]["expected"]))


def _is_branch(part: int | str) -> bool:
    """Pydantic names the branches of a union in the place; users don't know them."""
    return isinstance(part, str) and ("[" in part or part in ("int", "str", "constrained-int"))


def _place(loc: Iterable[int | str]) -> str:
    """A place in a file as a person would say it.

    >>> _place(["way", 1, "kind"])
    '[[way]] 2, kind'
    """
    parts: list[str] = []
    for part in loc:
        if isinstance(part, int) and len(parts) == 1:
            parts[0] = f"[[{parts[0]}]] {part + 1}"
        else:
            parts.append(str(part + 1) if isinstance(part, int) else part)
    return ", ".join(parts)


def _fields_at(model: type[BaseModel], loc: list[int | str]) -> dict[str, FieldInfo]:
    """The keys known at a place of a model."""
    current: type[BaseModel] = model
    for part in loc:
        if isinstance(part, int):
            continue
        inner = _model_in(current.model_fields[part].annotation) if part in current.model_fields else None
        if inner is None:
            return {}
        current = inner
    return current.model_fields


def _meaning(model: type[BaseModel], loc: list[int | str]) -> str:
    """What the key at a place of a model means."""
    field = _fields_at(model, loc[:-1]).get(str(loc[-1]))
    return next((key.means.rstrip(".") for key in field.metadata if isinstance(key, Key)), "") if field else ""


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def _plain(value: object) -> Any:  # noqa: ANN401
    """A short text of a value found in a file."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
