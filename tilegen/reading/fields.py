"""What several models read alike: lengths as text."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator

from tilegen.errors import InputError
from tilegen.lengths import parse_length


def read_length(value: object) -> float:
    """A length as files give it, in mm; for models."""
    try:
        return parse_length(value)
    except InputError as error:
        raise ValueError(f"found {error.found}; expected {error.expected}") from None


Length = Annotated[float, BeforeValidator(read_length)]
