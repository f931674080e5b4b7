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


PITCH, WALL, DEPTH, HIGH, PLAY = 31.75, 6.35, 6.35, 38.1, 0.3


class Thing:
    """A feature as written: at in spaces from its cell's north-west corner, size in mm; both None: the clear floor."""

    def __init__(self, kind, column, row, at=None, size=None, side=None, height=None) -> None:
        self.kind, self.column, self.row, self.at, self.size, self.side = kind, column, row, at, size, side
        self.height = height


class Furnished(Plain):
    """A plan with features and heights of rooms, on the default grid; measures from the words of README.md."""

    def __init__(self, rows, ways=None, walls=None) -> None:
        super().__init__(rows, ways, walls)
        self.written, self.written_walls = dict(ways or {}), set(walls or set())

    def clear(self, c, r, spaces):
        """West, north, east, south of what a cell's walls leave free, from the plan's top left."""
        side = spaces * PITCH
        kinds = {s: self.kind(self.line(c, r, s)) != "nothing" for s in SIDES}
        x, y = (c - 1) * side, (r - 1) * side
        return (
            x + WALL * kinds["west"],
            y + WALL * kinds["north"],
            x + side - WALL * kinds["east"],
            y + side - WALL * kinds["south"],
        )

    def box_of(self, thing, spaces):
        if thing.at is None and thing.kind != "pillar":
            return self.clear(thing.column, thing.row, spaces)
        side = spaces * PITCH
        x = (thing.column - 1) * side + thing.at[0] * PITCH
        y = (thing.row - 1) * side + thing.at[1] * PITCH
        return x - thing.size[0] / 2, y - thing.size[1] / 2, x + thing.size[0] / 2, y + thing.size[1] / 2

    def standing(self, c, r, spaces):
        """Strips and posts of a cell as boxes with y to the south, play left out."""
        side = spaces * PITCH
        x, y = (c - 1) * side, (r - 1) * side
        edges, posts = self.cell(c, r)
        strips = {
            "north": (x, y, x + side, y + WALL),
            "east": (x + side - WALL, y, x + side, y + side),
            "south": (x, y + side - WALL, x + side, y + side),
            "west": (x, y, x + WALL, y + side),
        }
        found = [strips[s] for s, kind in zip(SIDES, edges, strict=True) if kind != "open"]
        for post in posts:
            px = x + side - WALL if "east" in post else x
            py = y + side - WALL if "south" in post else y
            found.append((px, py, px + WALL, py + WALL))
        return found

    def area_of(self, thing, spaces):
        """What a feature covers once posts and the play at the tile's edge (10 ft) have taken theirs."""
        import shapely

        area = shapely.box(*self.box_of(thing, spaces))
        return area.difference(
            shapely.union_all([shapely.box(*b) for b in self.standing(thing.column, thing.row, spaces)])
        )

    def raised_area(self, things, spaces):
        import shapely

        return shapely.union_all([self.area_of(t, spaces) for t in things if t.kind != "pit"])

    def layers(self, thing, spaces):
        """(area, bottom, top) above the floor of the blocks a feature is made of, cut by the play at the cell's edge."""
        import shapely

        side = spaces * PITCH
        x, y = (thing.column - 1) * side, (thing.row - 1) * side
        foot = shapely.box(x + PLAY / 2, y + PLAY / 2, x + side - PLAY / 2, y + side - PLAY / 2)
        free = self.area_of(thing, spaces).intersection(foot)
        h = thing.height
        if thing.kind == "pit":
            return [(free, -h, 0.0)]
        if thing.kind != "stair":
            return [(free, 0.0, h)]
        west, north, east, south = self.box_of(thing, spaces)
        middle = {
            "north": (west, north, east, (north + south) / 2),
            "south": (west, (north + south) / 2, east, south),
            "east": ((west + east) / 2, north, east, south),
            "west": (west, north, (west + east) / 2, south),
        }[thing.side]
        return [(free, 0.0, h / 2), (free.intersection(shapely.box(*middle)), h / 2, h)]

    def volume(self, things, floors, lows):
        """Of the whole kit at 10 ft, mm3: bases, walls less doorways, posts, features."""
        import shapely

        total = sum(
            area.area * (top - bottom) * (-1 if t.kind == "pit" else 1)
            for t in things
            for area, bottom, top in self.layers(t, 2)
        )
        for c in range(1, self.width + 1):
            for r in range(1, self.height + 1):
                room = self.room(c, r)
                if room == ".":
                    continue
                x, y, side = (c - 1) * 2 * PITCH, (r - 1) * 2 * PITCH, 2 * PITCH
                foot = shapely.box(x + PLAY / 2, y + PLAY / 2, x + side - PLAY / 2, y + side - PLAY / 2)
                high = HIGH if lows[room] is None else lows[room]
                walls = shapely.union_all([shapely.box(*b) for b in self.standing(c, r, 2)]).intersection(foot)
                total += foot.area * (DEPTH + floors[room]) + walls.area * high
                edges, _ = self.cell(c, r)
                for n, kind in enumerate(edges):
                    if kind == "doorway":
                        ends = sum(edges[(n + k) % 4] != "open" for k in (1, 3))
                        # The default doorway, or what leaves half a wall of jamb; its centre is the side's.
                        width = min(27.94, 2 * PITCH - WALL - 2 * WALL * (ends > 0))
                        total -= width * min(30.48, high) * (WALL - PLAY / 2)
        return total

    def types_with(self, things, floors, lows):
        """Counts by what a cell carries in the least of its four turns."""
        found = Counter()
        for c in range(1, self.width + 1):
            for r in range(1, self.height + 1):
                room = self.room(c, r)
                if room == ".":
                    continue
                edges, posts = self.cell(c, r)
                blocks = []
                for t in things:
                    if (t.column, t.row) != (c, r):
                        continue
                    west, north, east, south = self.box_of(t, 2)
                    mx, my = (c - 0.5) * 2 * PITCH, (r - 0.5) * 2 * PITCH
                    blocks.append((t.kind, t.side or "", t.height, (west - mx, my - south, east - mx, my - north)))
                walled = any(e != "open" for e in edges) or bool(posts)
                high = (HIGH if lows[room] is None else lows[room]) if walled else None
                poses = []
                for _ in range(4):
                    flat = tuple(sorted((k, s, h, tuple(round(v, 4) + 0.0 for v in b)) for k, s, h, b in blocks))
                    poses.append((edges, posts, flat))
                    edges, posts = turned(edges, posts)
                    blocks = [
                        (k, SIDES[(SIDES.index(s) + 1) % 4] if s else "", h, (b[1], -b[2], b[3], -b[0]))
                        for k, s, h, b in blocks
                    ]
                found[min(poses), floors[room], high] += 1
        return found
