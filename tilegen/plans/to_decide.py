"""What there is to decide about a plan: ways that lead nowhere, rooms that no way leads to; with lines that mend it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import shapely
from scipy import ndimage, sparse
from scipy.sparse import csgraph
from shapely.geometry import box

from tilegen.errors import InFile, KeyRef, Place, RoomRef, Said, as_sentence
from tilegen.geometry import EQUAL_MM, Point, lines_of, polygons_of
from tilegen.lengths import counted, rounded_up, show_length
from tilegen.messages import Message
from tilegen.plans.drawing import Drawing, beside_lines
from tilegen.plans.loose import Reason, fixed_doorways
from tilegen.plans.off_grid_ways import Locator, WallWay
from tilegen.plans.route import Areas, areas_at, both_sides, find_areas, neighbours
from tilegen.plans.ways import Line, wall_opening
from tilegen.tiles.posts import least_gained, stand_of
from tilegen.tiles.shape import SIDES, STEPS

_NEAR_MM = 1e-2
_POSTS_FIXED = KeyRef("posts", "fixed", "set")


def plan_messages(drawing: Drawing) -> tuple[Message, ...]:
    """What to decide about a plan's ways, in the order of the file; then about its rooms and its loose pieces."""
    lines = drawing.across, drawing.down
    locator = Locator(drawing.rooms, lines, drawing.off_grid, drawing.cell_side, drawing.grid)
    return (*_ways_nowhere(drawing, locator), *_rooms_apart(drawing, locator), *_not_loose(drawing))


# --- what the set wants as pieces ---

_REASONS: dict[Reason, tuple[str, str, tuple[KeyRef, ...]]] = {
    "off the grid": (
        "a wall off the grid carries {it}",
        "Draw {its} room on the grid, or use {{}}.",
        (KeyRef("doorways", "fixed", "set"),),
    ),
    "leaf": (
        "{its} leaf needs a wall or a floor of the tile",
        "Use {{}} or {{}}.",
        (KeyRef("leaf", "sliding"), KeyRef("leaf", "none")),
    ),
    "heights": ("floors or walls beside {it} differ in height", "Give both rooms the same heights.", ()),
    "room": ("a door piece between posts would be narrower, or has no strip above", "Make {it} narrower or lower.", ()),
}


def _not_loose(drawing: Drawing) -> Iterator[Message]:
    """Doorways and posts that stay part of their tiles where the set wants pieces, and posts that stand badly."""
    why = Counter(reason for _, reason in fixed_doorways(drawing))
    for reason, count in sorted(why.items()):
        words, cure, keys = _REASONS[reason]
        what = {"it": "it" if count == 1 else "them", "its": "its" if count == 1 else "their"}
        stay = "stays" if count == 1 else "stay"
        text = f"{counted(count, 'doorway')} {stay} part of the tiles: {words.format(**what)}."
        yield Message("decide", text, cure=Said(cure.format(**what), *keys))
    if drawing.grid.set.posts == "fixed":
        return
    if not drawing.by_tiles:
        words = "Posts stay part of the tiles: a tile of a plan drawn at 5 ft has posts inside."
        yield Message("decide", words, cure=Said("Draw the plan at 10 ft, or use {}.", _POSTS_FIXED))
        return
    if drawing.off_grid is not None:
        letters = ", ".join(f'"{chr(code)}"' for code in sorted(drawing.off_grid.regions))
        yield Message("note", f"Rooms off the grid keep their posts: {letters}. Their tiles are cut for their place.")
    if drawing.grid.set.posts == "none" and least_gained(drawing.grid) < drawing.grid.pitch:
        low, high = show_length(rounded_up(least_gained(drawing.grid))), show_length(drawing.grid.pitch)
        yield Message("note", f"Bases of {low} to {high} stand in more places than with posts.")
    heights = [drawing.grid, *(extra.on(drawing.grid) for extra in drawing.heights.values())]
    worst = max(map(stand_of, heights), key=lambda stand: (not stand.firm, -stand.falls))
    if not worst.firm:
        words = f"Loose posts fall when they lean by {worst.falls:.1f} degrees"
        held = "walls or bases are too thin for a peg" if worst.held is None else "their pegs hold them only later"
        push = f"a push of {worst.push:.1f} mN at the top is enough"
        cure = Said("Use a deeper base, thicker or lower walls, or {}.", _POSTS_FIXED)
        yield Message("decide", f"{words}, and {held}: {push}.", cure=cure)


# --- ways ---


def _ways_nowhere(drawing: Drawing, locator: Locator) -> Iterator[Message]:
    """Ways out of a room that meet a wall at once, or that lead into ground with rooms all round."""
    closed = _ClosedGround(drawing)
    for way in _ways_out(drawing):
        found = locator.ahead(way, drawing.grid.pitch) if drawing.off_grid is not None else None
        at = InFile(f" at ({way.at[0]:z.2f}, {way.at[1]:z.2f})")
        title = Said("a way of {}{}", RoomRef(way.room), at)
        if found is not None and way.spot is not None:
            yield _against(way, title, found, drawing.cell_side)
        elif closed.holds(way):
            yield Message(
                "decide",
                Said(
                    "{} leads nowhere: rooms close in the ground beyond it on all sides. "
                    "Give that ground a letter, or leave the way out.",
                    title,
                ),
                way.place,
            )


def _against(way: WallWay, title: Said, found: tuple[str, Point | None, float], side: float) -> Message:
    """A way against a wall; where that stands straight ahead, with the hall that joins the rooms."""
    other, spot, gap = found
    form = "{} leads against a wall: that of {} stands {} mm beyond it and stays shut.{}"
    things = title, RoomRef(other), f"{gap:.0f}"
    if spot is None or way.spot is None:
        cure = " It is in the way of a part of the opening: move the way along its wall."
        return Message("decide", Said(form, *things, cure), way.place)
    start, end = ([round(x / side, 2), round(-y / side, 2)] for x, y in (way.spot, spot))
    on_line = isinstance(way.place, Place) and way.place.cell is not None
    # A hall of the same room takes the wall off that line.
    words = f' Write the way with room = "{way.room}" and at = {start}, and draw a hall.' if on_line else ""
    text = Said(form, *things, InFile(words))
    hall = f"hall = {{ from = {start}, to = {end}, width = 0.6 }}"
    return Message("decide", text, way.place, f'[[shape]]\nroom = "{way.room}"\n{hall}')


def _ways_out(drawing: Drawing) -> Iterator[WallWay]:
    """The ways between a room and solid ground, each as a way at a point."""
    at_points = {way.place for way in drawing.wall_ways if way.place}
    side = drawing.cell_side
    for way in drawing.ways:
        here, beyond = both_sides(drawing.rooms, way)
        if way.place in at_points or bool(here) == bool(beyond):
            continue
        dx, dy = STEPS[SIDES.index(way.side)]
        x, y = way.cell[0] - 0.5 + dx / 2, way.cell[1] - 0.5 + dy / 2
        opening = wall_opening(way, side, drawing.grid)
        yield WallWay(chr(here or beyond), (x, y), way.kind, opening, False, (x * side, -y * side), way.place)
    yield from (way for way in drawing.wall_ways if way.beyond is None)


class _ClosedGround:
    """Solid ground that rooms close in all round."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        if drawing.off_grid is None:
            labels, _ = ndimage.label(np.pad(drawing.rooms == 0, 1, constant_values=True))
            self.closed = (labels > 0) & (labels != labels[0, 0])
            return
        side, (rows, columns) = drawing.cell_side, drawing.rooms.shape
        cells = np.argwhere((drawing.rooms != 0) & drawing.off_grid.whole).tolist()
        floor = [box(c * side, -(r + 1) * side, (c + 1) * side, -r * side) for r, c in cells]
        whole = shapely.union_all([*floor, *drawing.off_grid.regions.values()], grid_size=EQUAL_MM)
        frame = box(-side, -(rows + 1) * side, (columns + 1) * side, side)
        corner = shapely.Point(-side / 2, side / 2)
        parts = polygons_of(frame.difference(whole))
        self.ground = shapely.union_all([part for part in parts if not part.contains(corner)])

    def holds(self, way: WallWay) -> bool:
        """Whether a way leads into it."""
        if way.spot is None:
            return False
        x, y = way.spot
        if self.drawing.off_grid is not None:
            # Beyond a wall of the room itself there is ground on one side only.
            return bool(self.ground.distance(shapely.Point(x, y)) < _NEAR_MM)
        side = self.drawing.cell_side
        around = [(x + dx * side / 4, y + dy * side / 4) for dx, dy in STEPS]
        return any(bool(self.closed[int(-b // side) + 1, int(a // side) + 1]) for a, b in around)


# --- rooms ---


def _rooms_apart(drawing: Drawing, locator: Locator) -> Iterator[Message]:
    """Groups of rooms that no way joins with the rest, nor with the outside."""
    areas = find_areas(drawing)
    many = len(areas.letters)
    pairs = np.array([(a, b) for a, others in neighbours(drawing, areas).items() for b in others], np.int64)
    pairs = pairs.reshape(-1, 2)
    pairs = np.concatenate([pairs, _same_shape(drawing, areas)])
    graph = sparse.coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(many, many))
    groups, group = csgraph.connected_components(graph, directed=False)
    if groups < 2:
        return
    entered = {int(group[area]) for way in _ways_out(drawing) for area in areas_at(drawing, areas, way)}
    sizes = np.bincount(group, weights=areas.sizes)
    main = entered or {int(sizes.argmax())}
    if not (drawing.ways or drawing.wall_ways):
        words = (
            f"no way joins the plan's {groups} rooms." if groups == many else f"no way joins {groups} groups of rooms."
        )
        yield Message("decide", as_sentence(words), "", _joining(drawing, locator, areas, group != group[0]))
        return
    for number in range(groups):
        if number in main:
            continue
        inside = group == number
        letters = sorted({areas.letters[n] for n in np.flatnonzero(inside)})
        column, row = areas.firsts[int(np.flatnonzero(inside)[0])]
        named = [RoomRef(letter, drawing.titles.get(letter, "")) for letter in letters]
        yield Message(
            "decide",
            Said(
                f"No way leads to {', '.join('{}' for _ in named)}{{}}.", *named, InFile(f", at cell [{column}, {row}]")
            ),
            Place("", cell=(column, row)),
            _joining(drawing, locator, areas, inside),
        )


def _same_shape(drawing: Drawing, areas: Areas) -> npt.NDArray[np.int64]:
    """Pairs of areas that are one floor: a narrow hall's cells need not lie side by side."""
    if drawing.off_grid is None:
        return np.zeros((0, 2), np.int64)
    found = []
    for code, region in drawing.off_grid.regions.items():
        same = [n for n, letter in enumerate(areas.letters) if letter == chr(code)]
        if region.geom_type == "Polygon":
            found += [(same[0], n) for n in same[1:]]
    return np.array(found, np.int64).reshape(-1, 2)


def _joining(drawing: Drawing, locator: Locator, areas: Areas, inside: npt.NDArray[np.bool_]) -> str:
    """A way from a group of areas to any other; else one out into solid ground."""
    of = np.where(areas.of >= 0, inside[areas.of].astype(np.int8), -1)
    out: Line | None = None
    for array, (here, there) in zip(("across", "down"), beside_lines(of, outside=-1), strict=True):
        for wanted in (
            (here >= 0) & (there >= 0) & (here != there),
            (here == 1) & (there < 0),
            (there == 1) & (here < 0),
        ):
            for row, column in np.argwhere(wanted)[:50].tolist():
                line = (array, row, column)
                if not locator.is_plain(line):
                    continue
                if here[row, column] >= 0 and there[row, column] >= 0:
                    return _snippet(line, drawing.rooms)
                out = out or line
    point = _shared_point(drawing, locator, areas, inside)
    if point:
        return point
    return _snippet(out, drawing.rooms) if out else ""


def _shared_point(drawing: Drawing, locator: Locator, areas: Areas, inside: npt.NDArray[np.bool_]) -> str:
    """A way at a point where a wall of a group's rooms stands against one of another room."""
    if drawing.off_grid is None:
        return ""
    mine = {areas.letters[n] for n in np.flatnonzero(inside)}
    best: tuple[float, str] = (0.0, "")
    for room in sorted(mine):
        wall = locator.region(ord(room)).boundary
        for other in sorted(set(areas.letters) - mine):
            near = wall.intersection(locator.region(ord(other)).buffer(drawing.grid.wall_thickness * 0.9))
            for part in lines_of(shapely.line_merge(near)):
                if part.length > max(best[0], drawing.grid.wall_thickness * 4):
                    spot = part.interpolate(0.5, normalized=True)
                    x, y = round(spot.x / drawing.cell_side, 3) + 0.0, round(-spot.y / drawing.cell_side, 3) + 0.0
                    best = part.length, f'[[way]]\nroom = "{room}"\nat = [{x:g}, {y:g}]\nkind = "doorway"'
    return best[1]


def _snippet(line: Line, rooms: npt.NDArray[np.uint32]) -> str:
    """A doorway on a line, by its cell to the north or west if that is floor, else by the other."""
    array, row, column = line
    before, side = ((column, row - 1), "south") if array == "across" else ((column - 1, row), "east")
    if min(before) < 0 or not rooms[before[1], before[0]]:
        before, side = (column, row), ("north" if array == "across" else "west")
    return f'[[way]]\ncell = [{before[0] + 1}, {before[1] + 1}]\nside = "{side}"\nkind = "doorway"'
