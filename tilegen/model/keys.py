"""What a key of a file means and which option of the command line gives it, beside its field; imports nothing heavy."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, Any, get_args, get_origin, get_type_hints


@dataclass(frozen=True, slots=True)
class Key:
    """Metadata of a field, in its `Annotated` type: errors, schemas, the reference and `--help` read it from there.

    means: a sentence that stands alone. option: the word for it on the command line, if it has one (and a short one
    after a blank). takes: what stands behind the option in the help; a field "mm" is a length, which files and options
    write with a unit. least, most: of a number.
    """

    means: str
    option: str = ""
    takes: str = ""
    least: float | None = None
    most: float | None = None

    @property
    def is_length(self) -> bool:
        """Whether the value is a length in mm."""
        return self.takes == "mm"

    def __get_pydantic_json_schema__(self, core: Any, handler: Callable[[Any], dict[str, Any]]) -> dict[str, Any]:  # noqa: ANN401
        """What a schema says of the field."""
        return {**handler(core), "description": self.means}


@dataclass(frozen=True, slots=True)
class Described:
    """A field with a key: its name, its type without the key, and its default."""

    name: str
    kind: Any
    key: Key
    default: Any


@cache
def described(cls: type) -> tuple[Described, ...]:
    """The fields of a dataclass that have a key, in order."""
    return tuple(_described(cls))


def _described(cls: type) -> Iterator[Described]:
    hints = get_type_hints(cls, include_extras=True)
    for field in fields(cls):
        kind = hints[field.name]
        if get_origin(kind) is Annotated:
            bare, *rest = get_args(kind)
            for key in rest:
                if isinstance(key, Key):
                    yield Described(field.name, bare, key, field.default)
