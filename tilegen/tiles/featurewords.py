"""What is on a tile's floor, in words that can be read aloud and as JSON."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import Any

from tilegen.tiles.blocks import Block
from tilegen.tiles.shape import CellShape

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_PLURALS = {"pillar": "pillars", "dais": "daises", "stair": "stairs", "pit": "pits"}

_HEIGHTS = ("raised-floor", "two-floors", "low-walls", "high-walls", "walls-of-own-height")
_WORDS = [*_PLURALS, *(rf"(?:{'|'.join(_NUMBERS)}|\d+)-{several}" for several in _PLURALS.values()), *_HEIGHTS]
_FEATURES = re.compile(rf"(?:-(?:with|and)-(?:{'|'.join(_WORDS)}))+$")


def feature_words(shape: CellShape, wall_height: float | None = None) -> list[str]:
    """Such as "pillar", "two-pillars", "stair", "raised-floor", "low-walls"; nothing for a plain tile."""
    words = []
    for kind, several in _PLURALS.items():
        count = _count(shape, kind)
        if count:
            number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
            words.append(kind if count == 1 else f"{number}-{several}")
    extras = [cell.extra for _, cell in shape.cells]
    if any(extra.floor for extra in extras):
        words.append("raised-floor" if len({extra.floor for extra in extras}) == 1 else "two-floors")
    heights = {extra.wall_height for extra in extras if extra.wall_height is not None}
    if heights and wall_height is not None:
        words += ["low-walls"] * (min(heights) < wall_height) + ["high-walls"] * (max(heights) > wall_height)
    elif heights:
        words.append("walls-of-own-height")
    return words


def without_features(name: str) -> str:
    """A tile's name less the words for its features.

    >>> without_features("one-wall-with-right-post-and-two-pillars-and-low-walls")
    'one-wall-with-right-post'
    """
    return _FEATURES.sub("", name)


def _count(shape: CellShape, kind: str) -> int:
    """How many of a kind a tile has; only pillars are counted over several cells, since all else may run on there."""
    each = [sum(block.kind == kind and block.bottom <= 0 for block in cell.extra.blocks) for _, cell in shape.cells]
    return sum(each) if kind == "pillar" or len(each) == 1 else int(any(each))


def features_record(shape: CellShape) -> dict[str, Any]:
    """Extra keys for the JSON of a tile that has features or heights of its own; none for a plain one.

    Blocks are given in the type's own pose: west, south, east, north from the centre of their cell, heights from the
    cell's floor.
    """
    features, heights = [], []
    for (column, row), cell in shape.cells:
        extra, place = cell.extra, [column + 1, row + 1]
        features += [{"cell_in_tile": place, **_block_record(block)} for block in _merged(extra.blocks)]
        if extra.floor or extra.wall_height is not None:
            walls = {} if extra.wall_height is None else {"wall_height_mm": extra.wall_height}
            heights.append({"cell_in_tile": place, "floor_mm": extra.floor, **walls})
    return {**({"features": features} if features else {}), **({"heights": heights} if heights else {})}


def _block_record(layers: list[Block]) -> dict[str, Any]:
    first = layers[0]
    record = {
        "kind": first.kind,
        "box_mm": [first.west + 0.0, first.south + 0.0, first.east + 0.0, first.north + 0.0],
        "from_mm": first.bottom,
        "to_mm": layers[-1].top,
    }
    return {
        **record,
        **({"steps": len(layers)} if first.kind == "stair" else {}),
        **({"round": True} if first.round else {}),
    }


def _merged(blocks: tuple[Block, ...]) -> list[list[Block]]:
    """The layers of each stair together, from below; every other block alone."""
    stacks: dict[object, list[Block]] = defaultdict(list)
    alone = [[block] for block in blocks if block.kind != "stair"]
    for block in sorted((b for b in blocks if b.kind == "stair"), key=lambda b: b.bottom):
        under = next((key for key, stack in stacks.items() if _holds(stack[-1], block)), block.key)
        stacks[under].append(block)
    return [*alone, *stacks.values()]


def _holds(lower: Block, upper: Block) -> bool:
    return (
        lower.top == upper.bottom
        and lower.west <= upper.west
        and lower.south <= upper.south
        and lower.east >= upper.east
        and lower.north >= upper.north
    )
