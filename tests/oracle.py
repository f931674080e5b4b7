"""The contract's rules for plans, written a second time and as plainly as possible, to check the fast code against."""

from __future__ import annotations

from collections import Counter

SIDES = ("north", "east", "south", "west")
STEP = {"north": (0, -1), "east": (1, 0), "south": (0, 1), "west": (-1, 0)}
CORNERS = {
    "north-east": ("north", "east"),
    "south-east": ("south", "east"),
    "south-west": ("south", "west"),
    "north-west": ("north", "west"),
}


class Plain:
    """A 10 ft plan as dictionaries. ways: {(column, row, side): kind}; walls: {(column, row, side)}; all from 1."""

    def __init__(self, rows: list[str], ways: dict | None = None, walls: set | None = None) -> None:
        self.rows = [row.replace(" ", "") for row in rows]
        self.height, self.width = len(self.rows), len(self.rows[0])
        self.given = {}
        for (c, r, s), kind in (ways or {}).items():
            self.given[self.line(c, r, s)] = kind
        self.extra = {self.line(c, r, s) for c, r, s in walls or set()}

    def room(self, c: int, r: int) -> str:
        return self.rows[r - 1][c - 1] if 1 <= c <= self.width and 1 <= r <= self.height else "."

    @staticmethod
    def line(c: int, r: int, side: str) -> tuple:
        """Lines by the cell to their south or east."""
        return {"north": ("h", c, r), "south": ("h", c, r + 1), "west": ("v", c, r), "east": ("v", c + 1, r)}[side]

    def kind(self, line: tuple) -> str:
        axis, c, r = line
        a, b = (self.room(c, r), self.room(c, r - 1)) if axis == "h" else (self.room(c, r), self.room(c - 1, r))
        standing = "wall" if a != b or line in self.extra else "nothing"
        if standing == "wall" and line in self.given:
            return {"open": "nothing"}.get(self.given[line], self.given[line])
        return standing

    def cell(self, c: int, r: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """(edges, posts) of a cell as it lies."""
        kinds = {side: self.kind(self.line(c, r, side)) for side in SIDES}
        edges = tuple({"nothing": "open", "saddle": "open"}.get(kinds[side], kinds[side]) for side in SIDES)
        posts = []
        for corner, (ns, ew) in CORNERS.items():
            if kinds[ns] in ("wall", "doorway") or kinds[ew] in ("wall", "doorway"):
                continue
            beside = self.line(c + STEP[ew][0], r, ns)
            beyond = self.line(c, r + STEP[ns][1], ew)
            both = self.kind(beside) != "nothing" and self.kind(beyond) != "nothing"
            if both or "saddle" in (kinds[ns], kinds[ew]):
                posts.append(corner)
        return edges, tuple(sorted(posts))

    def types(self) -> Counter:
        """Counts by own pose."""
        return Counter(
            own(*self.cell(c, r))
            for c in range(1, self.width + 1)
            for r in range(1, self.height + 1)
            if self.room(c, r) != "."
        )


CLOCKWISE = ("north-east", "south-east", "south-west", "north-west")


def turned(edges: tuple, posts: tuple) -> tuple[tuple, tuple]:
    """A quarter turn clockwise."""
    moved = tuple(sorted(CLOCKWISE[(CLOCKWISE.index(p) + 1) % 4] for p in posts))
    return (edges[3], *edges[:3]), moved


def own(edges: tuple, posts: tuple) -> tuple[tuple, tuple]:
    """The turn that comes first in alphabetical order."""
    poses = [(edges, posts)]
    for _ in range(3):
        poses.append(turned(*poses[-1]))
    return min(poses)


def mirrored(edges: tuple, posts: tuple) -> tuple[tuple, tuple]:
    """Left and right swapped, in its own pose."""
    swap = {
        "north-east": "north-west",
        "north-west": "north-east",
        "south-east": "south-west",
        "south-west": "south-east",
    }
    return own((edges[0], edges[3], edges[2], edges[1]), tuple(sorted(swap[p] for p in posts)))
