"""What is on a tile's floor, in words that can be read aloud and as JSON."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

import shapely

from tilegen.tiles.blocks import Block, Extra
from tilegen.tiles.plate import Point
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.shape import CellShape

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_PLURALS = {"pillar": "pillars", "dais": "daises", "stair": "stairs", "pit": "pits"}

_HEIGHTS = ("raised-floor", "two-floors", "low-walls", "high-walls", "walls-of-own-height")
_WORDS = [*_PLURALS, *(rf"(?:{'|'.join(_NUMBERS)}|\d+)-{several}" for several in _PLURALS.values()), *_HEIGHTS]
_FEATURES = re.compile(rf"(?:-(?:with|and)-(?:{'|'.join(_WORDS)}))+$")


def feature_words(shape: CellShape | RegionShape, wall_height: float | None = None) -> list[str]:
    """Such as "pillar", "two-pillars", "stair", "raised-floor", "low-walls"; nothing for a plain tile."""
    words = []
    for kind, several in _PLURALS.items():
        count = _count(shape, kind)
        if count:
            number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
            words.append(kind if count == 1 else f"{number}-{several}")
    extras = _extras(shape)
    if any(extra.floor for extra in extras):
        words.append("raised-floor" if len({extra.floor for extra in extras}) == 1 else "two-floors")
    heights = {extra.wall_height for extra in extras if extra.wall_height is not None}
    if heights and wall_height is not None:
        words += ["low-walls"] * (min(heights) < wall_height) + ["high-walls"] * (max(heights) > wall_height)
    elif heights:
        words.append("walls-of-own-height")
    return words


def with_words(name: str, words: Sequence[str]) -> str:
    """A name with the words for what is on the tile."""
    if not words or "-with-" in name:
        return "-and-".join([name, *words])
    return f"{name}-with-{'-and-'.join(words)}"


def without_features(name: str) -> str:
    """A tile's name less the words for its features.

    >>> without_features("one-wall-with-right-post-and-two-pillars-and-low-walls")
    'one-wall-with-right-post'
    """
    return _FEATURES.sub("", name)


def _extras(shape: CellShape | RegionShape) -> list[Extra]:
    return [shape.extra] if isinstance(shape, RegionShape) else [cell.extra for _, cell in shape.cells]


def _count(shape: CellShape | RegionShape, kind: str) -> int:
    """How many of a kind a tile has; only pillars are counted over several cells, since all else may run on there."""
    blocks = [[b for b in extra.blocks if b.kind == kind and b.bottom <= 0] for extra in _extras(shape)]
    if isinstance(shape, RegionShape) and kind != "pillar":
        # The cells of a tile off the grid are not told apart: what touches is one.
        return len(
            shapely.get_parts(shapely.union_all([shapely.box(b.west, b.south, b.east, b.north) for b in blocks[0]]))
        )
    each = [len(here) for here in blocks]
    return sum(each) if kind == "pillar" or len(each) == 1 else int(any(each))


def features_record(shape: CellShape | RegionShape, corner: Point = (0.0, 0.0)) -> dict[str, Any]:
    """Extra keys for the JSON of a tile that has features or heights of its own; none for a plain one.

    Blocks are given in the type's own pose: west, south, east, north from the centre of their cell, heights from the
    cell's floor; off the grid from the tile's least corner, which is in `corner`, as in its STL.
    """
    features, heights = [], []
    for place, (x, y), extra in _parts(shape, corner):
        features += [{**place, **_block_record(block, x, y)} for block in _merged(extra.blocks)]
        if extra.floor or extra.wall_height is not None:
            walls = {} if extra.wall_height is None else {"wall_height_mm": extra.wall_height}
            heights.append({**place, "floor_mm": extra.floor, **walls})
    return {**({"features": features} if features else {}), **({"heights": heights} if heights else {})}


def _parts(shape: CellShape | RegionShape, corner: Point) -> Iterator[tuple[dict[str, Any], Point, Extra]]:
    """Where each extra is in the tile, what to add to its boxes, and itself."""
    if isinstance(shape, RegionShape):
        yield {}, (shape.middle - corner[0], shape.middle - corner[1]), shape.extra
    else:
        for (column, row), cell in shape.cells:
            yield {"cell_in_tile": [column + 1, row + 1]}, (0.0, 0.0), cell.extra


def _block_record(layers: list[Block], x: float, y: float) -> dict[str, Any]:
    first = layers[0]
    record = {
        "kind": first.kind,
        "box_mm": [round(v, 6) + 0.0 for v in (first.west + x, first.south + y, first.east + x, first.north + y)],
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
