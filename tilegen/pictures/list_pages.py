"""The list for the tool in use: marks for a ruler, settings for a fence, or what lies on each sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, groupby
from math import fsum
from typing import NamedTuple

import numpy as np

from tilegen.lengths import counted, show_length
from tilegen.pictures.canvas import Canvas, polyline, printed_width, rectangle
from tilegen.pictures.paper import HEADING, INK, LEADING, MARGIN, QUIET, SMALL, TEXT, Booklet, wrapped_text
from tilegen.sheets.drawing import LAYERS
from tilegen.sheets.nesting.guillotine import Leaf, Size, Slab, Tree, finished, with_side
from tilegen.sheets.saw import HEADER, SawList, saw_head, saw_rows
from tilegen.sheets.sheetset import Sheet, SheetSet

_PICTURE = 88.0
# The column that a mark takes beside the picture and under it, mm; a cut so near the end of a strip is none.
_MARK, _STEP, _LAST = 12.4, 11.2, 0.05


def list_pages(book: Booklet, sets: Sequence[SheetSet]) -> None:
    """One list for each thickness of stock."""
    for one in sets:
        if not one.sheets:
            continue
        book.turn()
        if one.material.printed is not None:
            _printed(book, one)
        elif one.machine.guide == "ruler" and one.machine.edge_to_edge and one.saw:
            _ruler(book, one, one.saw)
        elif one.saw and one.saw.starts:
            _fence(book, one, one.saw)
        else:
            _sheets(book, one)


def _stock(one: SheetSet) -> str:
    return f"{one.material.called}, {show_length(one.material.real_thickness)} thick: {one.stock_words or 'no sheets'}"


def _printed(book: Booklet, one: SheetSet) -> None:
    """Sheets that come out of a printer with the parts on them."""
    pages = sum(sheet.copies for sheet in one.sheets)
    book.heading(f"Print on {one.material.title}", f"{counted(pages, 'page')} of {one.material.printed}.")
    book.paragraph(
        f"Print sheets/{one.material.name}.pdf at 100 %, one page on each sheet of {one.material.title}, by the paper "
        "feed that takes card. Cut along the full lines; press the dashed ones. Let the ink dry before you fold."
    )
    book.y += 2.0
    _pictures(book, one, one.sheets)


# Marks for a ruler


def _ruler(book: Booklet, one: SheetSet, saw: SawList) -> None:
    """Which marks to make on each sheet, and what is cut between them."""
    trim = saw.fence.trim
    book.heading("Cut with knife and ruler", f"{_stock(one)}.")
    sizes_of = {sheet.drawing.size for sheet in one.sheets}
    lower, left = ("long", "short") if all(wide >= high for wide, high in sizes_of) else ("short", "long")
    start = f"Edge A is a {lower} side of the sheet, edge B a {left} side square to it."
    if trim:
        start = (
            f"Take {show_length(trim)} off one {lower} side of each sheet: this is edge A. Take as much off one {left} "
        )
        start += "side, square to A: this is edge B."
    book.paragraph(
        f"Draw round the templates, or measure as below: you need only one of the two. {start} Make all marks of "
        "a sheet before you cut, the ruler's zero always on A or on B. The marks are in mm. Write its number on each "
        "part as you cut it: on the face that lies up as drawn; on bases, and where lines are pressed, on the back."
    )
    ids = [part.number for part in one.parts]
    starts = {begun.name: begun for begun in saw.starts}
    first = 1
    for sheet in (sheet for sheet in one.sheets if sheet.name in starts):
        begun = starts[sheet.name]
        region = begun.size[0] - trim, begun.size[1] - trim
        sizes = {n: saw.sizes[number] for n, number in enumerate(ids) if number in saw.sizes}

        def size_of(leaf: Leaf, sizes: dict[int, Size] = sizes) -> Size:
            width, height = sizes[leaf.item]
            return (height, width) if leaf.turned else (width, height)

        tree = finished(begun.tree, region, saw.fence.kerf, size_of)
        title = f"Sheet {first}" if sheet.copies == 1 else f"Sheets {first} to {first + sheet.copies - 1}, all alike"
        if len(sizes_of) > 1:
            title += f", {sheet.drawing.size[0]:g} x {show_length(sheet.drawing.size[1])}"
        _ruler_sheet(book, title, tree, ids, region=region)
        first += sheet.copies
    cut_out = [after.part for after in saw.after if after.along_drawing]
    if cut_out:
        book.paragraph(f"Cut the outlines of {', '.join(cut_out)} out of their rectangles along the templates.")
    if len(cut_out) < len(saw.after):
        book.paragraph("Bevel ends after gluing, where the templates say so.")
    if free := [sheet for sheet in one.sheets if sheet.name not in starts]:
        book.y += 2.0
        book.paragraph("On these sheets lay the templates as drawn and draw round them.")
        _pictures(book, one, free)


# Where the ruler's zero lies for sizes along the lower edge (0) and up the left one (1).
_FROM = ("B", "A")


class _Strip(NamedTuple):
    """One strip right across the sheet: its width, and what its cross-cuts give, in order: sizes and contents."""

    size: float
    pieces: tuple[tuple[float, Tree], ...]


def _strips(tree: Tree, region: Size) -> tuple[int, list[_Strip]]:
    """Along which side the strips' widths are measured (0: the long one), and the strips."""
    axis = tree.axis if isinstance(tree, Slab) else 1
    slices = list(_sliced(tree, axis, region[axis]))
    strips = []
    for size, content in slices:
        pieces = _sliced(content, 1 - axis, region[1 - axis])
        deep = [(wide, _uncut(piece, (wide, size) if axis == 1 else (size, wide))) for wide, piece in pieces]
        strips.append(_Strip(size, tuple(deep)))
    return axis, strips


def _uncut(tree: Tree, region: Size) -> Tree:
    """A rectangle as the only slice in it, where that leaves nothing to cut off."""
    while isinstance(tree, Slab) and len(tree.slices) == 1 and tree.slices[0].size >= region[tree.axis] - _LAST:
        tree = tree.slices[0].content
    return tree


def _sliced(tree: Tree, axis: int, length: float) -> Iterator[tuple[float, Tree]]:
    """The slices of a rectangle along an axis; one that is not cut that way is one slice."""
    if not isinstance(tree, Slab) or tree.axis != axis:
        yield length, tree
        return
    left = length
    for size, content in tree.slices:
        yield size, content
        left -= size
    if tree.rest is not None:
        yield left, tree.rest


def _ruler_sheet(book: Booklet, title: str, tree: Tree, ids: Sequence[str], *, region: Size) -> None:
    """A picture of the sheet, the marks for its strips beside it, those across the strips below."""
    width, height = region
    scale = min(_PICTURE / width, 46.0 / height)
    axis, strips = _strips(tree, region)
    left, wide = MARGIN + _PICTURE + 12.0, book.width - _PICTURE - 12.0
    below = list(_strip_lines(strips, ids, region[1 - axis]))
    rows = fsum(_runs_height(runs, book.width - _LABEL) for _, runs in below)
    book.keep(min(height * scale + 9.0 + rows, book.bottom - MARGIN - 30.0))
    # Above strips that stand are their numbers.
    top = book.y + (3.0 if axis == 1 else 6.0)
    _tree_picture(book.page, strips, ids, axis, region=region, corner=(MARGIN + 5.0, top), scale=scale)
    page, y = book.page, top + HEADING * 0.7
    page.text(left, y, title, HEADING, bold=True, colour=INK)
    y += 1.0
    marks = _marks([strip.size for strip in strips], region[axis])
    # Marks for strips go on the two sides that the strips end at.
    marked, cut_way = ("long", "short") if (axis == 0) == (width >= height) else ("short", "long")
    words = [f"On both {marked} sides, from {_FROM[axis]}:"] if marks else []
    for line in words:
        y += TEXT * LEADING
        page.text(left, y, line, TEXT, colour=INK)
    columns = int(wide // _MARK)
    for n, mark in enumerate(marks):
        y += TEXT * LEADING if n % columns == 0 else 0.0
        page.text(left + (n % columns + 1) * _MARK, y, mark, TEXT, "end", bold=True, colour=INK)
    total: dict[str, int] = {}
    for strip in strips:
        for _, content in strip.pieces:
            for leaf in _leaves(content):
                total[ids[leaf.item]] = total.get(ids[leaf.item], 0) + 1
    cut = f"Cut the {cut_way} way from mark to mark. " if marks else ""
    alike = "Leave strips that are alike lying side by side and cut across them together. "
    how = f"{cut}{alike if any(' to ' in label for label, _ in below) else ''}Gives "
    for line in wrapped_text(how + ", ".join(f"{n} {part}" for part, n in total.items()) + ".", TEXT, wide):
        y += TEXT * LEADING
        page.text(left, y, line, TEXT, colour=INK)
    book.y = max(y, top + height * scale + TEXT + 1.5)
    for label, runs in below:
        _strip_line(book, f"{label}, from {_FROM[1 - axis]}", runs)
    for line in dict.fromkeys(_deeper(strips, ids, axis)):
        book.paragraph(line)
    book.y += 2.0


_LABEL = 34.0


# Parts in a row: (how many of which, the marks at their ends).
_Runs = list[tuple[str, list[str]]]


def _marked(pieces: Sequence[tuple[float, Tree]], ids: Sequence[str], length: float) -> _Runs:
    """What pieces are cut off one after the other, and where: sums of the exact sizes, then rounded."""
    at, runs = 0.0, []
    for name, found in groupby(pieces, key=lambda piece: _piece_name(piece[1], ids)):
        ends = [at := at + size for size, _ in found]
        runs.append((f"{len(ends)} {name}", [f"{end:.1f}" for end in ends if end < length - _LAST]))
    return runs


def _strip_lines(strips: Sequence[_Strip], ids: Sequence[str], length: float) -> Iterator[tuple[str, _Runs]]:
    """Strips that are alike by their numbers, with the runs of their parts: (how many of which, marks)."""
    number = 1
    for _, group in groupby(strips, key=lambda strip: strip.pieces):
        alike = list(group)
        label = f"Strip {number}" if len(alike) == 1 else f"Strips {number} to {number + len(alike) - 1}"
        number += len(alike)
        yield label, _marked(alike[0].pieces, ids, length)


def _runs_height(runs: _Runs, width: float) -> float:
    across = fsum(printed_width(name, TEXT) + 2.0 + len(marks) * _STEP + 2.0 for name, marks in runs)
    return TEXT * LEADING * (across // width + 1)


def _strip_line(book: Booklet, label: str, runs: _Runs) -> None:
    """One strip: its name on the left, then each run of parts with its marks."""
    book.keep(2 * TEXT * LEADING)
    book.y += TEXT * LEADING
    book.page.text(MARGIN, book.y, label, TEXT, colour=INK)
    x, right = MARGIN + _LABEL, MARGIN + book.width

    def room(wide: float) -> None:
        nonlocal x
        if x + wide > right:
            book.keep(TEXT * LEADING)
            book.y += TEXT * LEADING
            x = MARGIN + _LABEL

    for name, marks in runs:
        wide = printed_width(name, TEXT) + 2.0
        room(wide + (_STEP if marks else 0.0))
        book.page.text(x, book.y, name, TEXT, colour=INK)
        x += wide
        for mark in marks:
            room(_STEP)
            book.page.text(x + _STEP - 2.0, book.y, mark, TEXT, "end", bold=True, colour=INK)
            x += _STEP
        x += 2.0


def _piece_name(content: Tree, ids: Sequence[str]) -> str:
    if isinstance(content, Leaf):
        return ids[content.item]
    found = dict.fromkeys(ids[leaf.item] for leaf in _leaves(content))
    return f"with {' and '.join(found)}"


def _deeper(strips: Sequence[_Strip], ids: Sequence[str], axis: int) -> Iterator[str]:
    """What is cut a third time and more."""
    for number, strip in enumerate(strips, 1):
        regions = [(size, strip.size) if axis == 1 else (strip.size, size) for size, _ in strip.pieces]
        pieces = [(content, region) for (_, content), region in zip(strip.pieces, regions, strict=True)]
        yield from _cut_all(f"Strip {number}, ", ("pieces", "piece"), pieces, ids)


def _cut_all(
    where: str, words: tuple[str, str], pieces: Sequence[tuple[Tree, Size]], ids: Sequence[str]
) -> Iterator[str]:
    """The cuts of some pieces: those of one name at once, or by their number where they are cut differently.

    words: for all of a name, and before the number of one.
    """
    for name in dict.fromkeys(_piece_name(content, ids) for content, _ in pieces):
        cuts = [tuple(_cut_again("", *piece, ids)) for piece in pieces if _piece_name(piece[0], ids) == name]
        alike = len(set(cuts)) == 1
        for number, lines in enumerate(cuts[: 1 if alike else None], 1):
            which = f"{where}{words[0] if alike else f'{words[1]} {number}'} {name}"
            yield from (f"{which}{line}" for line in lines)


def _cut_again(where: str, content: Tree, region: Size, ids: Sequence[str]) -> Iterator[str]:
    """The cuts of a piece that is not a part yet, then those of what they give."""
    if not isinstance(content, Slab):
        return
    axis = content.axis
    pieces = [
        (size, _uncut(inner, with_side(region, axis, size))) for size, inner in _sliced(content, axis, region[axis])
    ]
    runs = ", ".join(" ".join([name, *marks]) for name, marks in _marked(pieces, ids, region[axis]))
    yield f"{where}: mark from {_FROM[axis]}: {runs}; cut."
    inner_ones = [(inner, with_side(region, axis, size)) for size, inner in pieces]
    yield from _cut_all(f"{where}, of these ", ("the ones", "number"), inner_ones, ids)


def _leaves(tree: Tree) -> Iterator[Leaf]:
    if isinstance(tree, Leaf):
        yield tree
        return
    for part in tree.slices:
        yield from _leaves(part.content)
    if tree.rest is not None:
        yield from _leaves(tree.rest)


def _marks(sizes: Sequence[float], length: float) -> list[str]:
    """Where the cuts lie, from the edge on: sums of the exact sizes, then rounded."""
    return [f"{at:.1f}" for at in accumulate(sizes) if at < length - _LAST]


def _tree_picture(
    page: Canvas,
    strips: Sequence[_Strip],
    ids: Sequence[str],
    axis: int,
    *,
    region: Size,
    corner: tuple[float, float],
    scale: float,
) -> None:
    """The sheet from above, A below and B on the left."""
    x, top = corner
    width, height = region[0] * scale, region[1] * scale
    foot = top + height
    page.line([polyline((x, top), (x + width, top), (x + width, foot))], INK, 0.2)
    page.line([polyline((x, top), (x, foot), (x + width, foot))], INK, 0.6)
    page.text(x + width / 2, foot + SMALL + 1.0, "edge A", SMALL, "middle", bold=True, colour=INK)
    page.text(x - 1.6, top + height / 2, "edge B", SMALL, "middle", -90.0, bold=True, colour=INK)

    def at(along: float, across: float) -> tuple[float, float]:
        """A place so far along the strips from their datum, and so far across them."""
        dx, dy = (along, across) if axis == 1 else (across, along)
        return x + dx * scale, foot - dy * scale

    low = 0.0
    for number, strip in enumerate(strips, 1):
        high, length = low + strip.size, region[1 - axis]
        page.line([polyline(at(0.0, high), at(length, high))], INK, 0.15)
        start = 0.0
        for name, found in groupby(strip.pieces, key=lambda piece: _piece_name(piece[1], ids)):
            pieces, end = list(found), start
            for size, content in pieces:
                end += size
                page.line([polyline(at(end, low), at(end, high))], INK, 0.1)
                if isinstance(content, Slab) and content.axis == axis:
                    for across in accumulate(part.size for part in content.slices):
                        page.line([polyline(at(end - size, low + across), at(end, low + across))], INK, 0.1)
            words = f"{len(pieces)} {name.removeprefix('with ')}"
            deep, long = strip.size * scale, (end - start) * scale
            size_of = min(SMALL, 0.8 * deep)
            if printed_width(words, size_of, bold=True) < long + 1.0 and size_of > 1.2:
                px, py = at((start + end) / 2, (low + high) / 2)
                turn, dx, dy = (0.0, 0.0, 0.36 * size_of) if axis == 1 else (-90.0, 0.36 * size_of, 0.0)
                page.text(px + dx, py + dy, words, size_of, "middle", turn, bold=True, colour=INK, halo="#ffffff")
            start = end
        px, py = at(region[1 - axis], (low + high) / 2)
        size_of = min(SMALL, strip.size * scale)
        if axis == 1:
            page.text(px + 1.2, py + 0.36 * size_of, str(number), size_of, colour=QUIET)
        else:
            page.text(px, py - 1.0, str(number), size_of, "middle", colour=QUIET)
        low = high


# Settings for a fence

_COLUMNS = (
    ("step", ("step",), 0.045),
    ("setting", ("setting",), 0.09),
    ("set fence, mm", ("fence_mm",), 0.075),
    ("expect, mm", ("expect_mm",), 0.075),
    ("edge on fence", ("edge_on_fence",), 0.065),
    ("pieces that go in", ("in",), 0.135),
    ("passes", ("passes",), 0.07),
    ("pieces", ("pieces",), 0.065),
    ("min", ("minutes",), 0.05),
    ("what comes out of each; offcuts; notes", ("from_each", "offcuts", "note"), 0.275),
    ("done", ("done",), 0.055),
)


def _fence(book: Booklet, one: SheetSet, saw: SawList) -> None:
    """The saw list as a table."""
    book.heading("Saw list", f"{_stock(one)}.")
    guide = "with the wire switched off" if one.machine.process == "hot-wire" else "with the blade away"
    book.paragraph(
        "Cut by this list, or draw round the templates: you need only one of the two. One setting of the fence serves "
        "all sheets: make every cut of a line before you move the fence. Edge A is the lower edge of each sheet and "
        f"piece as drawn, edge B the left one. Lay the named edge on the fence, and set the fence {guide}. Measure the "
        "first piece of each setting against 'expect'. R: a rip, C: a cross-cut."
    )
    book.paragraph("; ".join(f"{name}: {value}" for name, value in saw_head(saw)) + ".")
    rows = []
    for row in saw_rows(saw):
        cells = dict.fromkeys(HEADER, "") | row
        cells["from_each"] = cells["from_each"] or cells["out"]
        for key in ("fence_mm", "expect_mm"):
            cells[key] = cells[key] and show_length(float(cells[key]), book.units).removesuffix(f" {book.units}")
        rows.append(["; ".join(cells[key] for key in keys if cells[key]) for _, keys, _ in _COLUMNS])
    book.y += 1.5
    titles = [title.replace(", mm", f", {book.units}") for title, *_ in _COLUMNS]
    book.table(titles, rows, [share for *_, share in _COLUMNS])


# What lies on each sheet


def _sheets(book: Booklet, one: SheetSet) -> None:
    """A picture of each distinct sheet with what it gives."""
    book.heading(f"Cut with the {one.machine.title}", f"{_stock(one)}.")
    book.paragraph(one.kerf_words)
    book.y += 2.0
    _pictures(book, one, one.sheets)


def _pictures(book: Booklet, one: SheetSet, sheets: Sequence[Sheet]) -> None:
    """A picture of each distinct sheet, two beside each other."""
    columns = 2
    width = (book.width - 8.0) / columns
    for start in range(0, len(sheets), columns):
        row = sheets[start : start + columns]
        texts = [wrapped_text(_contents(sheet, one), SMALL, width) for sheet in row]
        scale = min(min(width / s.drawing.size[0], 70.0 / s.drawing.size[1]) for s in row)
        high = max(s.drawing.size[1] for s in row) * scale
        book.keep(high + 8.0 + max(map(len, texts)) * SMALL * LEADING)
        for n, (sheet, text) in enumerate(zip(row, texts, strict=True)):
            x, y = MARGIN + n * (width + 8.0), book.y + TEXT * LEADING
            words = f"{sheet.name}" + (f", cut {sheet.copies} of it" if sheet.copies > 1 else "")
            book.page.text(x, y, words, TEXT, bold=True, colour=INK)
            _sheet_picture(book.page, sheet, (x, y + 1.5), scale)
            for number, line in enumerate(text, 1):
                book.page.text(x, y + 2.0 + high + number * SMALL * LEADING, line, SMALL, colour=INK)
        book.y += high + 10.0 + max(map(len, texts)) * SMALL * LEADING


def _contents(sheet: Sheet, one: SheetSet) -> str:
    total: dict[str, int] = {}
    for placed in sheet.layout:
        number = one.parts[placed.item].number
        total[number] = total.get(number, 0) + 1
    return ", ".join(f"{n} {part}" for part, n in sorted(total.items()))


def _sheet_picture(page: Canvas, sheet: Sheet, corner: tuple[float, float], scale: float) -> None:
    x, y = corner
    width, height = sheet.nominal.size
    page.area([rectangle(x, y, x + width * scale, y + height * scale)], "#ffffff", stroke=QUIET, width=0.2)
    for cut, colour in ((False, "#9a9a9a"), (True, INK)):
        lines = []
        for stroke in sheet.nominal.strokes:
            if LAYERS[stroke.layer].cut == cut and LAYERS[stroke.layer].made:
                points = np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points
                lines.append(points * (scale, -scale) + (x, y + height * scale))
        page.line(lines, colour, 0.12)
