"""What the cores of card tiles take, and the true-size jig for connectors."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from tilegen.model.grid import Grid
from tilegen.sheets.drawing import CHECK_SIDE_MM, Kerf, SheetDrawing, Stroke, layered, rectangle, written
from tilegen.sheets.parts import Part
from tilegen.tiles.connectors.kind import Pocket, circle_around, kind_of, module_of, pockets_of
from tilegen.tiles.connectors.magnets import magnet_height

_GAP_MM, _WORDS_MM = 6.0, 3.0
MARGIN_MM = 10.0
# The flap that lies under the tile, and letters on the jig.
_FLAP_MM, _LETTER_MM = 22.0, 2.5
# A hole for an awl or a pencil, and the arms of a cross about it.
_PRICK_MM, _ARM_MM = 1.5, 1.5


def core_rows(cores: Sequence[Part]) -> Iterator[list[object]]:
    """Rows of the shopping list, one for each thickness."""
    for thickness in sorted({core.thickness for core in cores}, reverse=True):
        alike = [core for core in cores if core.thickness == thickness]
        area = math.fsum(core.outline.area * core.count for core in alike) / 1e6
        note = f"{area:.2f} m2 without waste; outlines in cut.pdf; thinner sheets in layers do"
        yield ["cutting", f"core: foam or board, {thickness:g} mm", sum(c.count for c in alike), "pieces", note]


def jig_drawing(grid: Grid) -> SheetDrawing:
    """The jig for one side of a standard tile, flat, seen from outside the tile with its top up; the same for all four.

    The upper strip stands against the side, the lower one lies under the tile; both ends are flush with the tile's
    corners. Drawn without allowance for a kerf: card is cut along the line.
    """
    length, depth = grid.tile_side - grid.joint_play, grid.base_depth
    fold = MARGIN_MM + _FLAP_MM
    outline = rectangle(MARGIN_MM, MARGIN_MM, length, _FLAP_MM + depth)
    strokes = [
        Stroke("CUT_OUTER", outline),
        Stroke("CREASE", np.array([(MARGIN_MM, fold), (MARGIN_MM + length, fold)])),
        *_pockets(grid, length, fold),
        *written("UNDER THE TILE", MARGIN_MM + 2, MARGIN_MM + 2, _WORDS_MM),
    ]
    square = MARGIN_MM + _FLAP_MM + depth + MARGIN_MM
    size = max(length, CHECK_SIDE_MM) + 2 * MARGIN_MM, square + CHECK_SIDE_MM + MARGIN_MM
    strokes += written("SIDE - TOP UP", MARGIN_MM + 2, square - MARGIN_MM + 2, _WORDS_MM)
    check = rectangle(MARGIN_MM, square, CHECK_SIDE_MM, CHECK_SIDE_MM)
    guides = [Stroke("GUIDE", points) for points in (rectangle(0, 0, *size), check)]
    title = f"jig for {grid.connectors.kind}, one side of a tile of {grid.tile_side:g} mm, seen from outside"
    return SheetDrawing("jig", title, size, Kerf.of(0.0), layered((*strokes, *guides)))


def jig_steps(grid: Grid) -> list[str]:
    """What to do with it."""
    made, pocket = grid.connectors, pockets_of(grid)[0]
    steps = [
        "Print at 100 %, measure the check square (100 mm), glue it on card and cut it out.",
        "Fold it back along the crease: the upper strip stands against a side of the tile, the flap lies under it, "
        "both ends flush with the tile's corners. It is the same for every side of every tile.",
    ]
    if pocket.on == "rim":
        bore = made.magnet_diameter + made.allowance
        steps.append(f"Prick the middles, bore {bore:g} mm wide and {pocket.depth:g} mm deep, square to the side.")
    else:
        steps.append(f"Draw the pockets through the flap and hollow them out {pocket.depth:g} mm deep from below.")
    if grid.tile_side > module_of(grid):
        steps.append(f"For a half tile cut it across: the pattern repeats every {module_of(grid):g} mm.")
    if kind_of(grid).poles:
        steps.append(
            "Mark one end of the stick of magnets: it shows outwards at N. Looked at from outside, top up, every side "
            "has N on the left and S on the right of each pair. Try each tile against a finished one before the glue."
        )
    return steps


def _pockets(grid: Grid, length: float, fold: float) -> Iterator[Stroke]:
    module = module_of(grid)
    count = round(grid.tile_side / module)
    for n in range(count):
        # From the left as seen from outside: what grows clockwise along a side comes from the right.
        middle = MARGIN_MM + length / 2 + ((count - 1) / 2 - n) * module
        for pocket in pockets_of(grid):
            if pocket.depth > 0:
                yield from _under(pocket, middle, fold) if pocket.on == "under" else _side(grid, pocket, middle, fold)
        if kind_of(grid).poles:
            far = max((p.reach for p in pockets_of(grid) if p.on == "under"), default=0.0)
            up = fold - far - _LETTER_MM - 2.0
            for s, pole in kind_of(grid).law(grid):
                yield from written("N" if pole > 0 else "S", middle + s - _LETTER_MM / 3, up, _LETTER_MM)


def _under(pocket: Pocket, middle: float, fold: float) -> Iterator[Stroke]:
    points = np.array(pocket.outline.exterior.coords[:-1])
    # What opens towards the rim stops short of the crease, or the flap would fall off.
    points[:, 1] = np.maximum(points[:, 1], 0.5)
    yield Stroke("CUT_INNER", np.stack([middle - points[:, 0], fold - points[:, 1]], axis=1))


def _side(grid: Grid, pocket: Pocket, middle: float, fold: float) -> Iterator[Stroke]:
    low, high = pocket.span
    centre = np.array((middle - (low + high) / 2, fold + magnet_height(grid)))
    radius = (grid.connectors.magnet_diameter + grid.connectors.allowance) / 2
    ring = np.array(circle_around(radius, 48)) + centre
    yield Stroke("ENGRAVE", np.vstack([ring, ring[:1]]))
    for arm in ((radius - _ARM_MM, 0.0), (0.0, radius - _ARM_MM)):
        step = np.array(arm)
        for sign in (1, -1):
            yield Stroke(
                "ENGRAVE", np.stack([centre + sign * step, centre + sign * step * radius / (radius - _ARM_MM)])
            )
    yield Stroke("CUT_INNER", np.array(circle_around(_PRICK_MM / 2, 24)) + centre)
