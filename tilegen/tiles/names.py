"""Names for tile types that can be read aloud: what stands on the sides, doorways, posts, and what is on the floor."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

import shapely

from tilegen.geometry import Point, polygons_of
from tilegen.tiles.blocks import Block
from tilegen.tiles.features import FEATURES
from tilegen.tiles.features.kind import FeatureKind
from tilegen.tiles.shape import CORNERS, CellShape, Shape

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_HEIGHTS = ("raised-floor", "two-floors", "low-walls", "high-walls", "walls-of-own-height")
_COUNTED = [rf"(?:{'|'.join(_NUMBERS)}|\d+)-{kind.several}" for kind in FEATURES.values()]
_WORDS = [*FEATURES, *_COUNTED, *_HEIGHTS]
_FEATURES = re.compile(rf"(?:-(?:with|and)-(?:{'|'.join(_WORDS)}))+$")


def feature_words(shape: Shape, wall_height: float | None = None) -> list[str]:
    """Such as "pillar", "two-pillars", "stair", "raised-floor", "low-walls"; nothing for a plain tile."""
    words = []
    for kind in FEATURES.values():
        count = _count(shape, kind)
        if count:
            number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
            words.append(kind.word if count == 1 else f"{number}-{kind.several}")
    extras = shape.extras
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


def _count(shape: Shape, kind: FeatureKind) -> int:
    """How many of a kind a tile has; counted over several cells only if each lies in one, since others may run on."""
    stacks = [[s for s in _stacks(extra.blocks) if s[0].kind == kind.word] for extra in shape.extras]
    each = [[stack[0] for stack in here if stack[0].bottom <= 0] for here in stacks]
    if not shape.cells and not kind.one_cell:
        # The cells of a tile off the grid are not told apart: what touches is one.
        return len(polygons_of(shapely.union_all([shapely.box(b.west, b.south, b.east, b.north) for b in each[0]])))
    counts = [len(here) for here in each]
    return sum(counts) if kind.one_cell or len(counts) == 1 else int(any(counts))


def features_record(shape: Shape, corner: Point = (0.0, 0.0)) -> dict[str, Any]:
    """Extra keys for the JSON of a tile that has features or heights of its own; none for a plain one.

    Blocks are given in the type's own pose: west, south, east, north from the centre of their cell, heights from the
    cell's floor; off the grid from the tile's least corner, which is in `corner`, as in its STL.
    """
    features, heights = [], []
    for place, (x, y), extra in shape.placed_extras(corner):
        features += [{**place, **_stack_record(stack, x, y)} for stack in _stacks(extra.blocks)]
        if extra.floor or extra.wall_height is not None:
            walls = {} if extra.wall_height is None else {"wall_height_mm": extra.wall_height}
            heights.append({**place, "floor_mm": extra.floor, **walls})
    return {**({"features": features} if features else {}), **({"heights": heights} if heights else {})}


def _stack_record(layers: list[Block], x: float, y: float) -> dict[str, Any]:
    first, kind = layers[0], FEATURES[layers[0].kind]
    bounds = [(b.west, b.south, b.east, b.north) for b in layers]
    west, south, east, north = zip(*bounds, strict=True)
    return {
        "kind": first.kind,
        "box_mm": [round(v, 6) + 0.0 for v in (min(west) + x, min(south) + y, max(east) + x, max(north) + y)],
        "from_mm": first.bottom,
        "to_mm": layers[-1].top,
        **({"steps": len(layers)} if "steps" in kind.takes else {}),
        **({"round": True} if first.round else {}),
        **({"bore_mm": 2 * layers[-1].bore} if layers[-1].bore else {}),
    }


def _stacks(blocks: Iterable[Block]) -> list[list[Block]]:
    """The layers of each feature together, from below; of two that touch, one is within the other."""
    stacks: list[list[Block]] = []
    for block in sorted(blocks, key=lambda b: b.bottom):
        under = next((stack for stack in stacks if _rests(block, stack[-1])), None)
        if under is None:
            stacks.append([block])
        else:
            under.append(block)
    return sorted(stacks, key=lambda stack: stack[0].key)


def _rests(upper: Block, lower: Block) -> bool:
    return lower.kind == upper.kind and lower.top == upper.bottom and (_holds(lower, upper) or _holds(upper, lower))


def _holds(outer: Block, inner: Block) -> bool:
    return (
        outer.west <= inner.west
        and outer.south <= inner.south
        and outer.east >= inner.east
        and outer.north >= inner.north
    )


_SHAPES = {0: "floor", 1: "one-wall", 2: "corner", 3: "end", 4: "closed"}


def name_of(shape: CellShape, wall_height: float | None = None, size: str | None = None) -> str:
    """A name from the shape's sides, posts and features; different shapes off the plain ones may share a name.

    wall_height: of the grid, to know low walls from high ones. size: what stands for the size, with a hyphen after
    it; in parts of a standard tile if absent.
    """
    name = _name_of_sides(shape, _size_word(shape) if size is None else size)
    return with_words(name, feature_words(shape, wall_height))


def _name_of_sides(shape: CellShape, prefix: str) -> str:
    if None in shape.edges or _has_inner_walls(shape):
        return f"{prefix}mixed"
    return prefix + _plain_name([str(edge) for edge in shape.edges], shape.posts)


def _size_word(shape: CellShape) -> str:
    cells = len(shape.cells)
    if len(shape.widths) == len(shape.heights) == 1 and shape.widths[0] == shape.heights[0] == 1:
        return "quarter-"
    if cells == 3:
        return "three-quarter-"
    return "half-" if cells == 2 else ""


def _has_inner_walls(shape: CellShape) -> bool:
    last_column, last_row = len(shape.widths) - 1, len(shape.heights) - 1
    for (column, row), cell in shape.cells:
        beside = (row > 0, column < last_column, row < last_row, column > 0)
        if any(inside and side.carries for inside, side in zip(beside, cell.sides, strict=True)):
            return True
    return False


def _plain_name(edges: list[str], posts: tuple[str, ...]) -> str:
    walls = [k for k in range(4) if edges[k] != "open"]
    facing = len(walls) == 2 and walls[1] - walls[0] == 2
    word = "corridor" if facing else _SHAPES[len(walls)]
    # Walk clockwise from the wall that follows an open side: left, (back,) right as seen from the open side.
    first = next((k for k in walls if edges[k - 1] == "open"), 0)
    order = [k % 4 for k in range(first, first + 4) if edges[k % 4] != "open"]
    extras = [_doorway_words(word, [edges[k] == "doorway" for k in order]), _post_words(word, first, posts)]
    extras = [text for text in extras if text]
    return f"{word}-with-{'-and-'.join(extras)}" if extras else word


def _doorway_words(word: str, doors: list[bool]) -> str:
    count = sum(doors)
    if count == 0:
        return ""
    plain = "doorway" if count == 1 else f"{_NUMBERS[count]}-doorways"
    if word == "corner" and count == 1:
        return "left-doorway" if doors[0] else "right-doorway"
    if word == "end" and count < 3:
        places = [place for place, door in zip(("left", "back", "right"), doors, strict=True) if door]
        return "-and-".join(places) + ("-doorway" if count == 1 else "-doorways")
    if word == "closed" and count == 2:
        return "facing-doorways" if doors[0] == doors[2] else "two-doorways"
    return plain


def _post_words(word: str, first: int, posts: tuple[str, ...]) -> str:
    count = len(posts)
    if count == 0:
        return ""
    plain = "post" if count == 1 else f"{_NUMBERS[count]}-posts"
    corners = [CORNERS.index(post) for post in posts]
    if word == "one-wall" and count == 1:
        # Facing the wall, the post is behind on the right or on the left.
        return "right-post" if corners[0] == (first + 1) % 4 else "left-post"
    if word == "floor" and count == 2 and abs(corners[0] - corners[1]) == 2:
        return "facing-posts"
    return plain
