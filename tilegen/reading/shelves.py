"""Shelf files: what is owned already.

```toml
[tiles]            # by name, or by id, as `tilegen kit` gives them
corner = 4
K7XC3PA = 2
[pieces]
saddle-door = 1
```
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from tilegen.model.keys import Key
from tilegen.model.tables import Table
from tilegen.plans.shelf import Shelf
from tilegen.reading.files import read_model

Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]


class ShelfFile(Table):
    """What is owned, by name or id."""

    tiles: Annotated[dict[str, Count], Key("How many of each type of tile are there, by name or id.")] = Field(
        default_factory=dict
    )
    pieces: Annotated[dict[str, Count], Key("How many of each loose piece are there, by name or id.")] = Field(
        default_factory=dict
    )


def read_shelf(path: Path) -> Shelf:
    """A shelf file; names are checked against a kit when stock is taken.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    model = read_model(path, ShelfFile)
    return Shelf(model.tiles, model.pieces, str(path))
