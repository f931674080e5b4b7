"""Pegs: each module of an edge has a peg that stands out on the left and a socket on the right."""

from __future__ import annotations

from shapely.geometry import Polygon, box

from tilegen.errors import KeyRef, Said
from tilegen.geometry import Point
from tilegen.lengths import show_length
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import (
    BEYOND_MM,
    DIGITS,
    LEAD_MM,
    LEAST_PEG_MM,
    OVER_MM,
    ConnectorKind,
    Law,
    Pocket,
    check_clearance,
    check_roof,
    clearance_of,
    module_of,
    refused,
    rounded,
    too_thin,
)


def _offset(grid: Grid) -> float:
    """How far peg and socket stand from the module's middle, mm: evenly along the edge."""
    return round(module_of(grid) / 4, DIGITS)


def _along_edge(grid: Grid) -> tuple[Pocket, ...]:
    # To the left from outside is where a grows.
    return (*_peg(grid, _offset(grid)), _socket(grid, -_offset(grid)))


def _peg(grid: Grid, at: float) -> tuple[Pocket, Pocket]:
    """A peg that stands on the printer's bed: a core, and a collar that ends sooner and is slimmer at its foot."""
    made = grid.connectors
    half, top = made.peg_width / 2, made.peg_height
    inner, roof = half - LEAD_MM, top - LEAD_MM
    core = [(-inner, 0.0), (inner, 0.0), (inner, roof), (-inner, roof)]
    outside = [(inner, 0.0), (half, LEAD_MM), (half, top), (-half, top), (-half, LEAD_MM), (-inner, 0.0)]
    collar = [*outside, (-inner, roof), (inner, roof)]
    return (
        Pocket("rim", -made.peg_length, _moved(core, at), 0.0),
        Pocket("rim", LEAD_MM - made.peg_length, _moved(collar, at), 0.0),
    )


def _moved(points: list[Point], at: float) -> Polygon:
    return Polygon([rounded(x + at, y) for x, y in points])


def _socket(grid: Grid, at: float) -> Pocket:
    made = grid.connectors
    half, far = made.peg_width / 2 + clearance_of(grid), made.peg_length + BEYOND_MM
    return Pocket("under", made.peg_height + OVER_MM, box(at - half, 0.0, at + half, far), far)


def _law(grid: Grid) -> Law:
    d = _offset(grid)
    return (-d, 1), (d, -1)


def _check(grid: Grid) -> None:
    made = grid.connectors
    check_clearance(grid)
    if made.every == "tile":
        raise refused(
            "every",
            Said(
                "with pegs {} does not work: a peg would strike its neighbour half a tile further on",
                KeyRef("every", "tile"),
            ),
            Said("Use {}", KeyRef("every", "space")),
        )
    if made.peg_width < LEAST_PEG_MM:
        raise too_thin("peg_width", made.peg_width)
    for key in ("peg_length", "peg_height"):
        value = getattr(made, key)
        if value < 2 * LEAD_MM:
            raise refused(key, f"{show_length(value)} is too little", f"Use at least {show_length(2 * LEAD_MM)}")
    check_roof(grid, "peg_height", made.peg_height)


KIND = ConnectorKind(
    "pegs",
    carried="pegs and sockets",
    seen=lambda _: ("Pegs", "Seen from outside every side has", "its pegs left, its sockets right."),
    smaller="shorter pegs",
    steps="Pegs: try two tiles against each other; lay rows first, then push row against row.",
    slides=True,
    stands_out=True,
    through=True,
    along_edge=_along_edge,
    law=_law,
    check=_check,
    cut=lambda grid: grid.connectors.peg_height,
)
