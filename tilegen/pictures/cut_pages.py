"""`cut.pdf`: the pages that go to the cutting mat. A page to pin up, templates, the list for the tool, gluing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, fsum
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Points, largest_polygon, polygon_rings
from tilegen.lengths import Units, counted, show_length
from tilegen.model.words import Paper
from tilegen.pictures.canvas import (
    Area,
    Canvas,
    Discs,
    Polylines,
    Rings,
    Shape,
    polyline,
    printed_width,
    rectangle,
)
from tilegen.pictures.list_pages import list_pages
from tilegen.pictures.map_page import RoomTitles
from tilegen.pictures.paper import HEADING, INK, LEADING, MARGIN, QUIET, SMALL, TEXT, Booklet, wrapped_text
from tilegen.pictures.template_pages import block_of, number_parts, template_pages
from tilegen.pictures.tile_view import FLOOR, draw_doors, draw_ground, ground_plan
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, hung_pieces, placed, placed_pieces
from tilegen.sheets.assembly import Assembly, PlacedPart
from tilegen.sheets.sheetset import SheetSet
from tilegen.sheets.toolpaths import CUT_PROCESSES
from tilegen.tiles.loose import Piece, Things
from tilegen.tiles.uprights import is_mixed

# A square of the map that a tile's number can be read on, mm; sizes of text on the map; pictures of types.
_LEAST_SQUARE, _MAP_NUMBER, _MAP_ROOM = 9.0, 6.0, 2.85
_ICON, _ICON_STEP = 12.5, 18.6
_GUTTER = 8.0
# A map is drawn at most this large, and takes this share of its page where what stands below it turns the page.
_LARGEST, _MAP_SHARE, _LEAST_MAP, _MAP_FRAME = 0.45, 0.6, 62.0, 15.0


@dataclass(frozen=True)
class CutJob:
    """What the pages are about.

    drawing, kit: of a plan; None for tiles by themselves. numbers: of the types in the layout, by id. needs: what to
    buy, as item and quantity. first: what to do before anything else. cautions: for the machine and the materials.
    limited: which rooms of the plan these are, in sentences.
    """

    name: str
    sets: Sequence[SheetSet]
    things: Things
    numbers: Mapping[str, str]
    needs: Sequence[tuple[str, str]] = ()
    first: Sequence[str] = ()
    cautions: Sequence[str] = ()
    drawing: Drawing | None = None
    kit: Kit | None = None
    paper: Paper = "A4"
    units: Units = "mm"
    limited: Sequence[str] = ()


def cut_pages(job: CutJob) -> Booklet:
    """All pages, in order."""
    rest = Booklet(job.name, job.paper, job.units)
    template_pages(rest, job.sets)
    lists = len(rest.pages)
    list_pages(rest, job.sets)
    gluing = _gluing(rest, job)
    # The first pages name the others by their numbers: how many they are themselves shows when they are written.
    own = 1
    for _ in range(2):
        front = _front(job, _Where(own + 1, own + lists + 1, _pages(own + gluing, own + len(rest.pages))))
        if own == len(front.pages):
            break
        own = len(front.pages)
    rest.pages[:0] = front.pages
    return rest


class _Where(NamedTuple):
    """The pages on which templates and lists begin, and those of gluing, in words."""

    templates: int
    lists: int
    gluing: str


# The page to pin up


def _front(job: CutJob, where: _Where) -> Booklet:
    """What is made, where it goes, what it takes."""
    steps = list(_steps(job, where.templates, where.lists))

    def below(book: Booklet) -> None:
        _types(book, job, where.gluing)
        _columns(book, job, steps)
        book.rule()
        for caution in job.cautions:
            book.keep(TEXT * LEADING)
            _sign(book, MARGIN, book.y + TEXT * LEADING)
            book.paragraph(caution, left=MARGIN + 5.0, width=book.width - 5.0)
            book.y += 0.4

    tried = Booklet(job.name, job.paper, job.units)
    tried.turn()
    below(tried)
    book = Booklet(job.name, job.paper, job.units)
    book.turn()
    book.heading(job.name)
    book.paragraph(_summary(job))
    if job.drawing is not None and job.kit is not None:
        book.y += 2.0
        left = book.bottom - book.y - (tried.y - MARGIN)
        rows = job.drawing.rooms.shape[0] * job.drawing.cell_side / job.kit.grid.tile_side
        fits = len(tried.pages) == 1 and left - _MAP_FRAME >= max(_LEAST_MAP, _LEAST_SQUARE * rows)
        _map(book, job.drawing, job.kit, job.numbers, (left if fits else _MAP_SHARE * book.page.height) - _MAP_FRAME)
    below(book)
    return book


def _pages(first: int, last: int) -> str:
    return f"page {first}" if first >= last else f"pages {first} to {last}"


def _summary(job: CutJob) -> str:
    tiles = [(thing, n) for thing, n in job.things if not isinstance(thing, Piece)]
    loose = sum(n for thing, n in job.things if isinstance(thing, Piece))
    words = counted(sum(n for _, n in tiles), "tile") + (f" of {len(tiles)} types" if len(tiles) > 1 else "")
    words += f" and {counted(loose, 'loose piece')}" if loose else ""
    if job.drawing is not None:
        rows, columns = job.drawing.rooms.shape
        side = job.drawing.cell_side
        across = show_length(columns * side).removesuffix(" mm")
        words += f". On the table {across} x {show_length(rows * side)}. How each tile is turned: layout.png"
    return " ".join([f"{words}.", *job.limited])


def _map(book: Booklet, drawing: Drawing, kit: Kit, numbers: Mapping[str, str], deep: float) -> None:
    """The map with each tile's number; over several pages where its squares would be too small to read.

    deep: the room for it, mm.
    """
    rows, columns = drawing.rooms.shape
    side = drawing.cell_side
    square = kit.grid.tile_side
    beside = 6.0
    scale = min((book.width - beside) / (columns * side), deep / (rows * side), _LARGEST)
    if scale * square >= _LEAST_SQUARE:
        picture, homeless = _map_picture(drawing, kit, numbers, scale)
        left = MARGIN + beside + (book.width - beside - columns * side * scale) / 2
        top = book.y + 4.0
        _coordinates(book, (left, top), side * scale, (0, columns), (0, rows))
        book.place(picture.shapes, left, top, scale)
        book.y = top + rows * side * scale + 3.0
        _other_rooms(book, homeless)
        return
    scale = _LEAST_SQUARE * 1.05 / square
    picture, homeless = _map_picture(drawing, kit, numbers, scale)
    across = max(1, int((book.width - beside) / (side * scale)))
    down = max(1, int((book.bottom - MARGIN - 16.0) / (side * scale)))
    wide, deep = ceil(columns / across), ceil(rows / down)
    # Parts of about the same size, whole squares each; parts with nothing on them are left out.
    across, down = ceil(columns / wide), ceil(rows / deep)
    for n in range(wide * deep):
        west, north = n % wide * across, n // wide * down
        window = west * side, north * side, min(west + across, columns) * side, min(north + down, rows) * side
        shapes = [part for shape in picture.shapes for part in _within(shape, window)]
        if not shapes:
            continue
        if n or book.y > 0.3 * book.page.height:
            book.turn()
        place = f"columns {west + 1} to {min(west + across, columns)}, rows {north + 1} to {min(north + down, rows)}"
        book.paragraph(f"Map, {place}", bold=True)
        left, top = MARGIN + beside, book.y + 6.0
        spans = (west, min(west + across, columns)), (north, min(north + down, rows))
        _coordinates(book, (left, top), side * scale, *spans)
        book.place(shapes, left - west * side * scale, top - north * side * scale, scale)
        book.y = top + min(down, rows - north) * side * scale + 3.0
    book.turn()
    _other_rooms(book, homeless)


def _other_rooms(book: Booklet, homeless: Sequence[str]) -> None:
    """Rooms whose titles had no room on the map, with their letters there."""
    if homeless:
        book.paragraph(f"Rooms: {'; '.join(homeless)}.", size=SMALL)


def _within(shape: Shape, window: tuple[float, float, float, float]) -> Iterator[Shape]:
    """What of a shape has its middle in a window (west, north, east, south)."""
    west, north, east, south = window

    def inside(points: Points) -> bool:
        x, y = (points.min(axis=0) + points.max(axis=0)).tolist()
        return bool(west - 0.1 <= x / 2 <= east + 0.1 and north - 0.1 <= y / 2 <= south + 0.1)

    if isinstance(shape, Area):
        if kept := tuple(rings for rings in shape.polygons if inside(rings[0])):
            yield replace(shape, polygons=kept)
    elif isinstance(shape, Polylines):
        if lines := tuple(line for line in shape.lines if inside(line)):
            yield replace(shape, lines=lines)
    elif isinstance(shape, Discs):
        if len(centres := np.array([c for c in shape.centres if inside(c[None])])):
            yield replace(shape, centres=centres)
    elif inside(np.array([[shape.x, shape.y]])):
        yield shape


def _coordinates(
    book: Booklet, corner: tuple[float, float], step: float, columns: tuple[int, int], rows: tuple[int, int]
) -> None:
    left, top = corner
    for n in range(columns[1] - columns[0]):
        book.page.text(left + (n + 0.5) * step, top - 1.5, str(columns[0] + n + 1), SMALL, "middle", colour=QUIET)
    for n in range(rows[1] - rows[0]):
        book.page.text(left - 1.5, top + (n + 0.5) * step + 1.0, str(rows[0] + n + 1), SMALL, "end", colour=QUIET)


def _map_picture(drawing: Drawing, kit: Kit, numbers: Mapping[str, str], scale: float) -> tuple[Canvas, list[str]]:
    """The map in mm of the table, its texts as large as a page at this scale wants them; titles without room there."""
    rows, columns = drawing.rooms.shape
    canvas = Canvas(columns * drawing.cell_side, rows * drawing.cell_side, drawing.name)
    own = {t.tile.id: ground_plan(t.tile) for t in kit.types}
    plans = [(numbers[t.tile.id], own[t.tile.id].placed(turn)) for t, turn in placed(kit, drawing)]
    draw_ground(canvas, [plan for _, plan in plans], edge=0.2 / scale, line=0.12 / scale)
    doors = {p.piece.id: ground_plan(p.piece) for p in kit.pieces}
    pieces = [(numbers[p.piece.id], doors[p.piece.id].placed(turn)) for p, turn in placed_pieces(kit, drawing)]
    draw_doors(canvas, [plan for _, plan in pieces], line=0.15 / scale)
    boxes = []
    for number, plan in plans:
        x, y = plan.label
        size = min(_MAP_NUMBER / scale, 1.1 * plan.reach)
        half = printed_width(number, size, bold=True) / 2
        canvas.text(x, y + 0.36 * size, number, size, "middle", bold=True, colour=INK)
        boxes.append((x - half, y - 0.4 * size, x + half, y + 0.4 * size))
    for number, plan in pieces:
        x, y = plan.label
        canvas.text(x, y + 0.9 / scale, number, 2.5 / scale, "middle", bold=True, colour=INK)
    for hung, (x, y) in hung_pieces(kit, drawing):
        canvas.discs(np.array([(x, y)]), 1.5 / scale, "#ffffff", stroke=INK, width=0.15 / scale)
        canvas.text(x, y + 0.75 / scale, numbers[hung.piece.id], 2.1 / scale, "middle", bold=True, colour=INK)
    # Titles stay large enough to be read: those that find no room have a letter, and stand under the map.
    homeless = RoomTitles(drawing, boxes, (0.0, 0.0), _MAP_ROOM / scale, shrinks=(1.0,), keys=True).draw(canvas)
    return canvas, homeless


def _types(book: Booklet, job: CutJob, where: str) -> None:
    """A small picture of each type with its number and how many to make."""
    book.keep(30.0)
    book.rule()
    single = len(job.things) == 1
    book.heading("Make this" if single else "Make these", f"How to glue them: {where}.", size=HEADING)
    columns = int((book.width + 1e-6) // _ICON_STEP)
    icons = [(thing, ground_plan(thing), count) for thing, count in job.things]
    step = book.width / columns
    for start in range(0, len(icons), columns):
        book.keep(_ICON + 7.0)
        top = book.y + 1.5
        for n, (thing, plan, count) in enumerate(icons[start : start + columns]):
            x = MARGIN + n * step
            small = plan.small(x + _ICON / 2, top + _ICON / 2, _ICON)
            if isinstance(thing, Piece):
                draw_doors(book.page, [small], line=0.15)
            else:
                draw_ground(book.page, [small], edge=0.2, line=0.12)
            number = job.numbers.get(thing.id, "")
            y = small.label[1] if not isinstance(thing, Piece) else top + _ICON / 2
            if isinstance(thing, Piece):
                book.page.text(x + _ICON / 2, top + _ICON - 1.0, number, 4.0, "middle", bold=True, colour=INK)
            else:
                size = min(4.2, 1.2 * small.reach)
                book.page.text(small.label[0], y + 0.36 * size, number, size, "middle", bold=True, colour=INK)
            book.page.text(x + _ICON / 2, top + _ICON + 3.8, f"make {count}", SMALL, "middle", colour=INK)
        book.y = top + _ICON + 4.5
    book.y += 1.0


def _columns(book: Booklet, job: CutJob, steps: Sequence[str]) -> None:
    """What to buy, the sizes, the order of work, side by side."""
    width = (book.width - 2 * _GUTTER) / 3
    sizes = list(_sizes(job))
    high = max(
        sum(len(wrapped_text(step, TEXT, width - 5.5)) for step in steps) * TEXT * LEADING + len(steps) * 0.4,
        (len(job.needs) + 2) * (TEXT * LEADING + 0.5) + 2 * TEXT * LEADING,
        len(sizes) * (TEXT * LEADING + 0.5),
    )
    book.keep(high + 9.0)
    book.rule()
    top, lowest = book.y, book.y
    heads = ("You need", "Sizes", "Order of work")
    for n, head in enumerate(heads):
        left = MARGIN + n * (width + _GUTTER)
        book.y = top + HEADING
        book.page.text(left, book.y, head, HEADING, bold=True, colour=INK)
        book.y += 0.8
        if n == 2:
            book.items(steps, left=left, width=width)
        else:
            book.pairs(job.needs if n == 0 else sizes, left=left, width=width)
        lowest = max(lowest, book.y)
    book.y = lowest


def _sizes(job: CutJob) -> Iterator[tuple[str, str]]:
    """The measures that all tiles share, where they do."""
    built = [made for one in job.sets for made in one.assemblies if made.floor]
    grids = {thing.grid for thing, _ in job.things if not isinstance(thing, Piece)}
    if not built or len(grids) != 1:
        return
    (grid,) = grids
    side = grid.tile_side - grid.joint_play
    base, wall = built[0].heights[0], max(made.heights[1] for made in built)
    floor = built[0].floor
    of = next(iter(job.sets))
    yield "square tile", f"{show_length(side).removesuffix(' mm')} x {show_length(side)}"
    yield "base, thick", show_length(base)
    if of.constructions and not grid.set.mixed:
        yield "wall, thick", show_length(of.constructions[0].wall.thickness)
    yield "wall, high", show_length(wall)
    yield "tile with wall, high", show_length(base + wall)
    yield "edge to inside of wall", show_length(floor)
    yield "floor between two walls", show_length(side - 2 * floor)


def _steps(job: CutJob, templates: int, lists: int) -> Iterator[str]:
    """The order of work."""
    yield from job.first
    tile = min(
        (made for one in job.sets for made in one.assemblies if len(made.parts) > 1 and made.floor),
        key=lambda made: (abs(len(made.parts) - 2), -made.count),
        default=None,
    )
    if tile is not None and len(job.things) > 1:
        number = job.numbers.get(tile.id, tile.name)
        how = "" if all(one.material.printed for one in job.sets) else f", from the templates (page {templates})"
        yield f"Make one of tile {number} as a test{how}."
    yield f"Cut all parts (page {lists}). Write its number on each."
    by_hand = [one for one in job.sets if CUT_PROCESSES[one.machine.process].straight and not one.material.printed]
    if any(part.flat.scores and part.role == "base" for one in by_hand for part in one.parts):
        yield "Press the floor lines into the bases with a ballpoint pen, not through."
    if any(is_mixed(thing) for thing, _ in job.things):
        yield "Drill or punch the round holes in the bases. Try the pegs of the printed walls in them."
    yield "Glue them and let them dry."
    yield "Seal, let dry, paint. Write its number under each tile."


def _sign(book: Booklet, x: float, y: float) -> None:
    """A small warning triangle."""
    book.page.line([polyline((x, y), (x + 3.4, y), (x + 1.7, y - 3.0), (x, y))], INK, 0.3)
    book.page.text(x + 1.7, y - 0.45, "!", 2.4, "middle", bold=True, colour=INK)


# Gluing

_ROOMY, _DENSE, _MANY = 34.0, 26.0, 24
_STANDING = "#c9c9c9"
# The least free circle that a number has room in, as a share of the way round the tile.
_LEAST_FREE = 0.03
# Where the list for the tool leaves this much of its page, gluing begins there.
_GLUE_ROOM = 95.0


def _gluing(book: Booklet, job: CutJob) -> int:
    """A picture from above of each type, its parts numbered, beside its steps; the page on which that begins."""
    made = [one for each in job.sets for one in each.assemblies]
    if not made:
        return len(book.pages)
    columns, picture, gutter = (2, _ROOMY, _GUTTER) if len(made) <= _MANY else (3, _DENSE, 5.0)
    if book.pages and not book.keep(_GLUE_ROOM):
        book.rule()
    if not book.pages:
        book.turn()
    first = len(book.pages)
    book.heading("Glue", "Each picture is a tile from above; lay the base as it is drawn.")
    walls = [each.walls_step() for one in job.sets for each in one.constructions]
    before = [*(one.before for one in made), *(f"{step[:1].upper()}{step[1:]}." for step in walls if step)]
    # A base that all tiles share is described once.
    bases = [one.base for one in made if one.base]
    shared = bases[0] if len(bases) > 1 and len(set(bases)) == 1 else ""
    if shared:
        before.append(f"The base of every tile is {shared}.")
    _rules(book, made, [step for step in dict.fromkeys(before) if step], block=block_of(job.sets) is not None)
    width = (book.width - (columns - 1) * gutter) / columns
    for start in range(0, len(made), columns):
        row = made[start : start + columns]
        beside = ["" if _free_spot(one) else job.numbers.get(one.id, "") for one in row]
        texts = [
            list(_card_lines(one, number, shared, width - picture - 4.0))
            for one, number in zip(row, beside, strict=True)
        ]
        heights = [
            max(_picture_height(one, picture), fsum(size * LEADING for *_, size in text))
            for one, text in zip(row, texts, strict=True)
        ]
        if book.keep(max(heights) + 3.0):
            book.heading("Glue", "The same rules as on the page before.")
            book.y += 2.0
        for n, (one, text) in enumerate(zip(row, texts, strict=True)):
            _card(book, one, job.numbers.get(one.id, ""), text, x=MARGIN + n * (width + gutter), side=picture)
        book.y += max(heights) + 4.0
    return first


def _rules(book: Booklet, made: Sequence[Assembly], steps: Sequence[str], *, block: bool) -> None:
    """What holds for all tiles, with a view from the side.

    steps: what is done before the first is glued. block: whether a gluing block is among the templates.
    """
    walled = [one for one in made if one.floor and one.heights[1]]
    if not walled:
        book.rule()
        return
    one = max(walled, key=lambda each: each.count)
    floors = {round(each.floor, 3) for each in walled}
    floor = show_length(floors.pop()) if len(floors) == 1 else ""
    width = book.width - 62.0
    top = book.y
    words = []
    if floor:
        words.append(f"The inside of every wall is {floor} from the edge of the base, unless its step says otherwise.")
    if block:
        words.append(
            "The gluing block J sets it: its long side reaches from the opposite edge to the wall; push the wall "
            "against it."
        )
        if any(part.role == "post" for one in made for part in one.parts):
            words.append("For a post in a corner lay J flush with both edges there: the post stands in its notch.")
    words.append("Numbers on parts face outwards or down. A wall ends at the base's edge or against the part named.")
    words += steps
    if any(part.role == "post" for one in made for part in one.parts) and any(not one.floor for one in made):
        words.append("Try a door piece dry between its posts before you glue them.")
    for text in words:
        book.paragraph(text, width=width)
        book.y += 0.8
    _side_view(book, one, MARGIN + book.width - 52.0, top)
    book.y = max(book.y, top + 22.0)
    book.rule()


def _side_view(book: Booklet, one: Assembly, x: float, top: float) -> None:
    """A tile with two walls, cut through, with its heights."""
    page, (base, wall) = book.page, one.heights
    side = one.outline.bounds[2] - one.outline.bounds[0]
    scale = min(30.0 / side, 15.0 / (base + wall))
    w, b, h = side * scale, base * scale, wall * scale
    thick = max(0.6, min(one.floor * scale, 4.0))
    y = top + 3.0 + h
    page.text(x, top + 1.0, "from the side", SMALL, bold=True, colour=INK)
    page.area([rectangle(x, y, x + w, y + b)], FLOOR, stroke=INK, width=0.2)
    for left in (x, x + w - thick):
        page.area([rectangle(left, y - h, left + thick, y)], _STANDING, stroke=INK, width=0.2)
    at = x + w + 3.0
    for low, high, value in ((y, y - h, wall), (y + b, y, base)):
        ends = [polyline((at - 1, end), (at + 1, end)) for end in (low, high)]
        page.line([polyline((at, low), (at, high)), *ends], INK, 0.2)
        page.text(at + 1.6, (low + high) / 2 + 1.0, show_length(value, book.units), SMALL, colour=INK)


def _picture_height(one: Assembly, side: float) -> float:
    west, south, east, north = one.outline.bounds
    return side * min(1.0, (north - south) / max(east - west, north - south))


def _card_lines(one: Assembly, number: str, shared: str, width: float) -> Iterator[tuple[str, bool, float]]:
    """(line, bold, size) beside a picture.

    number: of what has no room for it in its picture. shared: what the bases of all tiles are glued of.
    """
    yield f"{number}{', ' if number else ''}make {one.count}", True, 4.0
    name = one.name.removesuffix(f"-{one.id.lower()}").replace("-", " ")
    for line in wrapped_text(name, SMALL, width):
        yield line, False, SMALL
    steps = one.steps[1:] if shared and one.base and len(one.steps) > 1 else one.steps
    for step_number, step in enumerate(steps, 1):
        for n, line in enumerate(wrapped_text(step, TEXT, width - 5.0)):
            yield (f"{step_number}\t{line}" if n == 0 else f"\t{line}"), False, TEXT


def _card(
    book: Booklet, one: Assembly, number: str, lines: Sequence[tuple[str, bool, float]], *, x: float, side: float
) -> None:
    """A tile from above with its parts' numbers, and its steps on the right."""
    west, south, east, north = one.outline.bounds
    scale = side / max(east - west, north - south)
    top = book.y + 2.0

    def at(points: Points) -> Points:
        found: Points = (points[:, :2] - (west, north)) * (scale, -scale) + (x, top)
        return found

    def drawn(*shapes: BaseGeometry) -> list[Rings]:
        return [tuple(at(ring) for ring in rings) for shape in shapes for rings in polygon_rings(shape)]

    page = book.page
    page.area(drawn(one.outline), FLOOR, stroke=INK, width=0.25)
    for part in one.parts:
        page.area(drawn(part.foot), FLOOR if part.role == "base" else _STANDING, stroke=INK, width=0.2)
    standing = [part for part in one.parts if part.role != "base"]
    page.area(drawn(*(way.intersection(_joined(standing)) for way in one.ways)), "#ffffff", stroke=INK, width=0.15)
    # What stands on either side of the picture.
    taken = [box(x - 40.0, top - 9.0, x - 3.0, top + side), box(x + side + 3.5, top - 9.0, x + side + 40.0, top + side)]
    if number and (spot := _free_spot(one)):
        size = 8.0 if side > 30 else 6.0
        px, py = at(np.array([spot]))[0].tolist()
        page.text(px, py + 0.36 * size, number, size, "middle", bold=True, colour=INK)
        half = printed_width(number, size, bold=True) / 2
        taken.append(box(px - half, py - 0.4 * size, px + half, py + 0.4 * size))
    feet = [(part.number, shapely.transform(part.foot, at)) for part in standing]
    number_parts(page, feet, SMALL, taken)
    y = top - 1.0
    left = x + side + 4.0
    for line, bold, size in lines:
        y += size * LEADING
        head, tab, rest = line.partition("\t")
        if tab:
            page.text(left, y, head, size, bold=True, colour=INK)
            page.text(left + 5.0, y, rest, size, colour=INK)
        else:
            page.text(left, y, line, size, bold=bold, colour=INK if bold else QUIET)


def _joined(parts: Sequence[PlacedPart]) -> BaseGeometry:
    return shapely.union_all([part.foot for part in parts])


def _free_spot(one: Assembly) -> tuple[float, float] | None:
    """The middle of the largest free circle on a tile's floor; None of a loose piece, and where hardly any is free."""
    standing = _joined([part for part in one.parts if part.role != "base"])
    free = largest_polygon(one.outline.difference(standing))
    if not one.floor or free.area < 1.0:
        return None
    middle = one.outline.envelope.centroid
    line = shapely.maximum_inscribed_circle(free, tolerance=0.5)
    if line.length < _LEAST_FREE * one.outline.length:
        return None
    if free.covers(middle) and free.boundary.distance(middle) >= 0.9 * line.length:
        return middle.x, middle.y
    x, y = line.coords[0]
    return x, y
