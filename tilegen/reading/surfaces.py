"""The `[surface]` table that any file may carry."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from tilegen.reading.fields import Length
from tilegen.surface import FloorPattern, Surface, WallPattern


class SurfaceTable(BaseModel):
    """`[surface]`: only what differs from the defaults; rooms: the floor of a plan's room, by its letter."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    floor: FloorPattern | None = None
    walls: WallPattern | None = None
    seed: Annotated[int, Field(strict=True)] | None = None
    groove_width: Length | None = None
    groove_depth: Length | None = None
    margin: Length | None = None
    continuous: Annotated[bool, Field(strict=True)] | None = None
    rooms: dict[str, FloorPattern] = {}

    def given(self) -> dict[str, Any]:
        """What the table sets, by the names of `Surface`."""
        found = {key: value for key, value in self.model_dump().items() if value is not None and key != "rooms"}
        return found | ({"rooms": tuple(sorted(self.rooms.items()))} if self.rooms else {})


def laid_over(surface: Surface, table: SurfaceTable) -> Surface:
    """A surface with a file's table laid over it."""
    # Checked against the fields by the model.
    return Surface(**({name: getattr(surface, name) for name in Surface.__slots__} | table.given()))
