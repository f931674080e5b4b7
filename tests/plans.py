"""Plans made in tests, without files."""

from __future__ import annotations

from hypothesis import strategies as st

from tilegen.files.plans import read_drawing
from tilegen.model.grid import Floor, Grid
from tilegen.plans.drafting import draw
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.ways import ExtraWall, Way
from tilegen.tiles.features import FEATURES
from tilegen.tiles.features.kind import Wanted

PLAIN_FLOOR = Grid(floor=Floor(lines=False))
WORKED = ["A A A . .", "A A A B B", "C C C B B"]
WORKED_WAYS = {(3, 2, "east"): "doorway", (3, 3, "east"): "saddle"}


def plan(
    rows: list[str], ways: dict | None = None, walls: set | None = None, scale: str = "10 ft", grid: Grid = PLAIN_FLOOR
) -> Drawing:
    return draw(
        name="test",
        scale=scale,
        grid=grid,
        rooms=read_drawing("\n".join(rows)),
        titles={},
        ways=[Way((c, r), side, kind) for (c, r, side), kind in (ways or {}).items()],
        walls=[ExtraWall((c, r), side) for c, r, side in sorted(walls or set())],
    )


def wanted(
    kind: str, at: tuple | None = None, size: tuple | None = None, height: float | None = None, **more
) -> Wanted:
    """A feature as written; height: of a hollow its depth."""
    place = more.pop("place", "")
    more["depth" if "depth" in FEATURES[kind].takes and "height" not in FEATURES[kind].takes else "height"] = height
    values = {key: value for key, value in more.items() if value is not None}
    return Wanted(FEATURES[kind], at, size, values, place)


def counts(kit: Kit) -> dict:
    """Counts by (edges, posts)."""
    return {(t.tile.shape.edges, t.tile.shape.posts): t.count for t in kit.types}


def by_id(kit: Kit) -> dict[str, int]:
    return {t.tile.id: t.count for t in kit.types}


@st.composite
def drawings(draw_from: st.DrawFn, most: int = 7) -> list[str]:
    """Rows of a small plan with at least one room."""
    width, height = draw_from(st.integers(1, most)), draw_from(st.integers(1, most))
    letters = draw_from(st.sampled_from(["A.", "AB", "AB.", "ABC..", "A..."]))
    rows = [draw_from(st.text(letters, min_size=width, max_size=width)) for _ in range(height)]
    return rows if any(c != "." for row in rows for c in row) else ["A" * width, *rows[1:]]


@st.composite
def furnished(draw_from: st.DrawFn) -> tuple[list[str], dict, set]:
    """A small plan with ways on some of its walls, and extra walls where none stands."""
    from tests.oracle import STEP, Plain

    rows = draw_from(drawings())
    plain = Plain(rows)
    ways, walls, used = {}, set(), set()
    for c in range(1, plain.width + 1):
        for r in range(1, plain.height + 1):
            for side in ("east", "south", "north", "west"):
                line = plain.line(c, r, side)
                other = plain.room(c + STEP[side][0], r + STEP[side][1])
                if line in used or (plain.room(c, r) == "." and other == "."):
                    continue
                used.add(line)
                if plain.kind(line) == "wall":
                    kinds = ["wall", "wall", "open", "doorway"]
                    if plain.room(c, r) != "." and other != ".":
                        kinds.append("saddle")
                    kind = draw_from(st.sampled_from(kinds))
                    if kind != "wall":
                        ways[c, r, side] = kind
                elif draw_from(st.integers(0, 9)) == 0:
                    walls.add((c, r, side))
    return rows, ways, walls
