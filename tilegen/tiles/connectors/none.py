"""No connectors."""

from __future__ import annotations

from tilegen.tiles.connectors.kind import ConnectorKind

KIND = ConnectorKind("none")
