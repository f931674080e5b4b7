"""What several models read alike: lengths as text, titles."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator

from tilegen.errors import UNSHOWN, InputError, one_line
from tilegen.lengths import parse_length


def read_length(value: object) -> float:
    """A length as files give it, in mm; for models."""
    try:
        return parse_length(value)
    except InputError as error:
        raise ValueError(f"found {error.found}; expected {error.expected}") from None


Length = Annotated[float, BeforeValidator(read_length)]


def _shown(text: str) -> str:
    if UNSHOWN.search(text):
        raise ValueError(f"{one_line(text)[:60]!r}; expected one line without control characters")
    return text


# What a person reads: names and titles stand in lists, on sheets and on terminals.
Title = Annotated[str, AfterValidator(_shown)]
