"""What the builder is told about thicknesses, corners and folds."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tilegen.sheets.construction import Construction
from tilegen.sheets.folds import crease_channel, groove_width, wrapped_core

# Differences that no builder can measure are not worth a word.
_UNSEEN_MM = 0.005
_JOINTS = {
    "butt": "corners: butt joints; the longer wall runs through, of two alike the north and south ones",
    "pinwheel": "corners: each wall runs through at one end and butts at the other, all the same way round",
    "mitre": "corners: mitred; cut both ends to 45 degrees at a right angle, the length given is the outer face's",
    "rabbet": (
        "corners: lapped; on the walls that run through cut along the scores marked R down to the far paper "
        "({skin:g} mm), peel the end strips off and glue the next wall's end in: paper covers the core's edge"
    ),
}
_GROOVES = (
    "how to fold walls: they are drawn as seen from inside the tile. Between each pair of crease lines stands a V and "
    "the angle of the fold. Cut along both lines with the blade leaning towards the middle by half that angle, down to "
    "the far paper ({skin:g} mm, not through it). Lift the wedge out, run glue into the groove and fold until its "
    "sides meet; a half V at an end is bevelled in the same way and closes the ring. Grooves of 90 degrees are "
    "{width:.2f} mm wide on the face"
)
_CREASES = (
    "how to fold: parts are drawn as seen from outside and every crease folds away from you. Before you cut, press "
    "the creases along a ruler with a blunt point (in a crease press: a channel {channel:.2f} mm wide, {depth:.2f} mm"
    " deep). Fold everything dry once, then glue each tab behind the panel that carries its number with a stroke: 1 "
    "behind 1'. Boxes: the long tab first, then the ends; the flaps beside a doorway go in through it, their tabs "
    "behind the far face; the upper edge of a doorway stays open. Tiles: corner tabs first, then slip in the core and"
    " glue down what turns under"
)


def construction_notes(made: Construction) -> tuple[str, ...]:
    """What the builder should know about thicknesses, joints and folds."""
    thicknesses = _skins(made) if made.kind == "folded" else _stacks(made)
    return (*thicknesses, *_joints(made), *_folds(made))


def _skins(made: Construction) -> Iterator[str]:
    t, gap, depth = made.material.real_thickness, made.material.folding.gap, made.grid.base_depth
    yield (
        f"bases: a card skin {depth:.2f} mm deep round a core of foam or board {wrapped_core(depth, t, gap):.2f} mm "
        f"thick in all, or the floor sags; the outlines, {t + gap:.2f} mm smaller all round than the tile's, are true "
        f"to size in {made.material.name}-cores.pdf"
    )
    yield f"walls: closed card boxes, {made.wall.thickness:.2f} mm thick, as in print"


def _stacks(made: Construction) -> Iterator[str]:
    grid, base, wall, stack = made.grid, made.base, made.wall, made.material.stack
    yield f"bases: {base.words}{base.remedy(stack.shim)}"
    if stack.thicknesses and not base.mixed:
        others = ", ".join(f"{t:g}" for t in stack.thicknesses)
        yield f"sheets of {others} mm come no nearer to a base of {base.target:g} mm: none are used"
    yield f"walls: {wall.words}"
    step = base.layers * stack.spread
    if step > _UNSEEN_MM:
        bearable = "" if step <= stack.step + _UNSEEN_MM else f", more than the {stack.step:g} mm that nobody minds"
        each = f" ({stack.spread:g} mm in each of {base.layers} layers)" if base.layers > 1 else ""
        yield (
            f"floors of tiles from different sheets may differ by {step:.2f} mm{each}{bearable}: "
            "cut all layers from one batch"
        )
    if grid.wall_height > made.material.slender * wall.thickness:
        yield (
            f"walls {grid.wall_height:g} mm high and {wall.thickness:.2f} mm thick are more than "
            f"{made.material.slender:g} times as high as thick: brace them or build them thicker"
        )
    if made.floor_lost > _UNSEEN_MM:
        yield (
            "floor lost: the stock is thicker than the wall, so each wall's inner face stands "
            f"{made.floor_lost:.2f} mm further in; a hall keeps {grid.hall_clear - 2 * made.floor_lost:.2f} mm"
        )
    elif wall.residual < -_UNSEEN_MM:
        yield (
            f"walls stand {-wall.residual:.2f} mm back from the base's edge; their inner faces stand where the grid "
            "puts them"
        )


def _joints(made: Construction) -> Iterator[str]:
    if made.kind == "grooved":
        return
    yield _JOINTS[made.joints.corners].format(skin=made.material.skin)
    if made.corners == "rabbet" and made.joints.corners != "rabbet":
        yield "no lapped corners: they need walls of one layer and stock with a skin"


def _folds(made: Construction) -> Iterator[str]:
    t, skin = made.material.real_thickness, made.material.skin
    if made.kind == "grooved":
        yield _GROOVES.format(skin=skin, width=groove_width(t, skin * made.material.folding.hinge, math.pi / 2))
    if made.kind == "folded":
        channel, depth = crease_channel(t, made.material.folding.rule)
        yield _CREASES.format(channel=channel, depth=depth)
