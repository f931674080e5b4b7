"""`[connectors]`: what holds the tiles of a set together, in any file that may carry measures."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict

from tilegen.connectors import ConnectorKind, Every, MagnetPlace
from tilegen.reading.fields import Length


def _kilogauss(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"found {value!r}; expected a number of kilogauss")
    return float(value)


class ConnectorsTable(BaseModel):
    """`[connectors]`: only what differs from the defaults; `tilegen.connectors.Connectors` says what each means."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: ConnectorKind | None = None
    every: Every | None = None
    clearance: Length | None = None
    position_error: Length | None = None
    skin: Length | None = None
    web: Length | None = None
    magnet_diameter: Length | None = None
    magnet_thickness: Length | None = None
    magnet_place: MagnetPlace | None = None
    magnet_allowance: Length | None = None
    surface_field: Annotated[float, BeforeValidator(_kilogauss)] | None = None
    peg_width: Length | None = None
    peg_length: Length | None = None
    peg_height: Length | None = None
    key_length: Length | None = None
    key_neck: Length | None = None
    key_thickness: Length | None = None
