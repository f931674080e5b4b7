"""Names for tile types that can be read aloud: what stands on the sides, then doorways and posts in words."""

from __future__ import annotations

from tilegen.tiles.featurewords import feature_words, with_words
from tilegen.tiles.shape import CORNERS, CellShape

_SHAPES = {0: "floor", 1: "one-wall", 2: "corner", 3: "end", 4: "closed"}
_NUMBERS = ("no", "one", "two", "three", "four")


def name_of(shape: CellShape, wall_height: float | None = None, size: str | None = None) -> str:
    """A name from the shape's sides, posts and features; different shapes off the plain ones may share a name.

    wall_height: of the grid, to tell low walls from high ones. size: what stands for the shape's size, with a hyphen
    after it; in parts of a standard tile if absent.
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
