"""The list for the tool in use: marks for a ruler, settings for a fence, or what lies on each sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np

from tilegen.lengths import counted, show_length
from tilegen.pictures.canvas import Canvas, polyline, printed_width, rectangle
from tilegen.pictures.paper import HEADING, INK, LEADING, MARGIN, QUIET, SMALL, TEXT, Booklet, wrapped_text
from tilegen.sheets.drawing import LAYERS
from tilegen.sheets.nesting.guillotine import Leaf, Size, Slab, Tree, finished
from tilegen.sheets.saw import HEADER, SawList, saw_head, saw_rows
from tilegen.sheets.sheetset import Sheet, SheetSet

_PICTURE = 88.0
# The column that a mark takes, mm.
_MARK = 12.4


def list_pages(book: Booklet, sets: Sequence[SheetSet]) -> None:
    """One list for each thickness of stock."""
    for one in sets:
        if not one.sheets:
            continue
        book.turn()
        if one.material.printed is not None:
            _printed(book, one)
        elif one.machine.guide == "ruler" and one.machine.cuts == "edge to edge" and one.saw:
            _ruler(book, one, one.saw)
        elif one.saw and one.saw.starts:
            _fence(book, one, one.saw)
        else:
            _sheets(book, one)


def _stock(one: SheetSet) -> str:
    return f"{one.material.title}, {show_length(one.material.real_thickness)} thick: {one.stock_words or 'no sheets'}"


def _printed(book: Booklet, one: SheetSet) -> None:
    """Sheets that come out of a printer with the parts on them."""
    pages = sum(sheet.copies for sheet in one.sheets)
    book.heading(f"Print on {one.material.title}", f"{counted(pages, 'page')} of {one.material.printed}.")
    book.paragraph(
        f"Print sheets/{one.material.name}.pdf at 100 %, one page on each sheet of {one.material.title}, by the paper "
        "feed that takes card. Cut along the full lines; press the dashed ones. Let the ink dry before you fold."
    )
    book.y += 2.0
    _pictures(book, one)


# Marks for a ruler


def _ruler(book: Booklet, one: SheetSet, saw: SawList) -> None:
    """Which marks to make on each sheet, and what is cut between them."""
    trim = saw.fence.trim
    book.heading("Cut with knife and ruler", f"{_stock(one)}.")
    start = "Edge A is a long side of the sheet, edge B a short side square to it."
    if trim:
        start = f"Take {show_length(trim)} off one long side of each sheet: this is edge A. Take as much off one short "
        start += "side, square to A: this is edge B."
    book.paragraph(
        f"Draw round the templates, or measure as below: you need only one of the two. {start} Make all marks of "
        "a sheet before you cut, the ruler's zero always on A or on B. The marks are in mm. Write its number on each "
        "part as you cut it."
    )
    first = 1
    for sheet, begun in zip(one.sheets, saw.starts, strict=False):
        region = begun.size[0] - trim, begun.size[1] - trim
        ids = [part.number for part in one.parts]
        sizes = {n: saw.sizes[number] for n, number in enumerate(ids) if number in saw.sizes}

        def size_of(leaf: Leaf, sizes: dict[int, Size] = sizes) -> Size:
            width, height = sizes[leaf.item]
            return (height, width) if leaf.turned else (width, height)

        tree = finished(begun.tree, region, saw.fence.kerf, size_of)
        _ruler_sheet(book, sheet, tree, ids, region=region, first=first)
        first += sheet.copies
    after = [part for part, what in saw.after if what.startswith("cut out")]
    if after:
        book.paragraph(f"Cut the outlines of {', '.join(after)} out of their rectangles along the templates.")
    if any(not what.startswith("cut out") for _, what in saw.after):
        book.paragraph("Bevel ends after gluing, where the templates say so.")


def _ruler_sheet(book: Booklet, sheet: Sheet, tree: Tree, ids: Sequence[str], *, region: Size, first: int) -> None:
    width, height = region
    scale = min(_PICTURE / width, 46.0 / height)
    strips = list(_strips(tree, region))
    title = f"Sheet {first}" if sheet.copies == 1 else f"Sheets {first} to {first + sheet.copies - 1}, all alike"
    left = MARGIN + _PICTURE + 12.0
    wide = book.width - _PICTURE - 12.0
    text = [
        (_mark_rows(words, wide) if bold else wrapped_text(words, TEXT, wide), bold)
        for words, bold in _sheet_words(strips, ids, region)
    ]
    high = max(height * scale + 9.0, HEADING + 3.0 + sum(len(found) for found, _ in text) * TEXT * LEADING)
    book.keep(min(high, book.bottom - MARGIN - 30.0))
    top = book.y + 3.0
    _tree_picture(book.page, strips, ids, region=region, corner=(MARGIN + 5.0, top), scale=scale)
    page, y = book.page, top + HEADING * 0.7
    page.text(left, y, title, HEADING, bold=True, colour=INK)
    y += 1.0
    for found, bold in text:
        for line in found:
            if y + TEXT * LEADING > book.bottom:
                page = book.turn()
                y = book.y
            y += TEXT * LEADING
            if not bold:
                page.text(left, y, line, TEXT, colour=INK)
            for n, mark in enumerate(line.split() if bold else ()):
                page.text(left + (n + 1) * _MARK, y, mark, TEXT, "end", bold=True, colour=INK)
    book.y = max(y, top + height * scale + 7.0 if page is book.page and y > top else y) + 3.0


def _mark_rows(marks: str, width: float) -> list[str]:
    """Marks in rows of as many columns as there is room for."""
    found, columns = marks.split(), int(width // _MARK)
    return [" ".join(found[n : n + columns]) for n in range(0, len(found), columns)]


class _Strip:
    """One strip right across the sheet: its width, and the runs of parts in it from B on."""

    def __init__(self, size: float, content: Tree, length: float) -> None:
        self.size, self.content, self.length = size, content, length

    def pieces(self) -> list[tuple[float, Tree]]:
        """What its cross-cuts give, from B on."""
        if isinstance(self.content, Slab) and self.content.axis == 0:
            found = [(size, content) for size, content in self.content.slices]
            if self.content.rest is not None:
                found.append((self.length - sum(size for size, _ in found), self.content.rest))
            return found
        return [(self.length, self.content)]


def _strips(tree: Tree, region: Size) -> Iterator[_Strip]:
    """The strips from A on; a sheet that is cut across first is one strip."""
    if not isinstance(tree, Slab) or tree.axis == 0:
        yield _Strip(region[1], tree, region[0])
        return
    left = region[1]
    for size, content in tree.slices:
        yield _Strip(size, content, region[0])
        left -= size
    if tree.rest is not None:
        yield _Strip(left, tree.rest, region[0])


def _sheet_words(strips: Sequence[_Strip], ids: Sequence[str], region: Size) -> Iterator[tuple[str, bool]]:
    """What to mark and cut, each as words and whether they are bold."""
    marks = _marks([strip.size for strip in strips], region[1])
    if marks:
        yield "On both short sides, from A:", False
        yield marks, True
    cross = [tuple(size for size, _ in strip.pieces()) for strip in strips]
    number = 1
    groups = [(sizes, len(list(found))) for sizes, found in groupby(cross)]
    if len(groups) == 1 and len(strips) > 1:
        yield "On both long sides, from B:", False
        yield _marks(list(cross[0]), region[0]), True
        yield "Cut the long way from mark to mark. Leave the strips lying and cut across all of them.", False
    else:
        if marks:
            yield "Cut the long way from mark to mark. Then mark each strip from B:", False
        for sizes, count in groups:
            strip = strips[number - 1]
            where = f"Strip {number}" if count == 1 else f"Strips {number} to {number + count - 1}, lying side by side"
            yield f"{where}: {_runs(strip, ids)}", False
            yield _marks(list(sizes), region[0]), True
            number += count
    for words in dict.fromkeys(_deeper(strips, ids)):
        yield words, False
    total: dict[str, int] = {}
    for strip in strips:
        for leaf in _leaves(strip.content):
            total[ids[leaf.item]] = total.get(ids[leaf.item], 0) + 1
    yield f"Gives {', '.join(f'{n} {part}' for part, n in total.items())}.", False


def _runs(strip: _Strip, ids: Sequence[str]) -> str:
    """How many of which parts lie in a strip, from B on."""
    words = []
    for name, found in groupby(_piece_name(content, ids) for _, content in strip.pieces()):
        words.append(f"{len(list(found))} {name}")
    return ", ".join(words)


def _piece_name(content: Tree, ids: Sequence[str]) -> str:
    if isinstance(content, Leaf):
        return ids[content.item]
    found = dict.fromkeys(ids[leaf.item] for leaf in _leaves(content))
    return f"for {' and '.join(found)}"


def _deeper(strips: Sequence[_Strip], ids: Sequence[str]) -> Iterator[str]:
    """What is cut a third time."""
    for strip in strips:
        for size, content in strip.pieces():
            if isinstance(content, Slab):
                sizes = [part.size for part in content.slices]
                region = strip.size if content.axis == 1 else size
                along = "A" if content.axis == 1 else "B"
                name = _piece_name(content, ids)
                yield f"Pieces {name}, {_mm(size)} long: mark them from {along} at {_marks(sizes, region)} and cut."


def _leaves(tree: Tree) -> Iterator[Leaf]:
    if isinstance(tree, Leaf):
        yield tree
        return
    for part in tree.slices:
        yield from _leaves(part.content)
    if tree.rest is not None:
        yield from _leaves(tree.rest)


def _marks(sizes: Sequence[float], length: float) -> str:
    """Where the cuts lie, from the edge on: sums of the exact sizes, then rounded."""
    at, found = 0.0, []
    for size in sizes:
        at += size
        if at < length - 0.05:
            found.append(f"{at:.1f}")
    return "  ".join(found)


def _mm(value: float) -> str:
    return f"{value:.1f} mm"


def _tree_picture(
    page: Canvas,
    strips: Sequence[_Strip],
    ids: Sequence[str],
    *,
    region: Size,
    corner: tuple[float, float],
    scale: float,
) -> None:
    """The sheet from above, A below and B on the left."""
    x, top = corner
    width, height = region[0] * scale, region[1] * scale
    page.line([polyline((x, top), (x + width, top), (x + width, top + height))], INK, 0.2)
    page.line([polyline((x, top), (x, top + height), (x + width, top + height))], INK, 0.6)
    page.text(x + width / 2, top + height + TEXT + 0.6, "edge A", SMALL, "middle", bold=True, colour=INK)
    page.text(x - 1.6, top + height / 2, "edge B", SMALL, "middle", -90.0, bold=True, colour=INK)
    y = top + height
    for number, strip in enumerate(strips, 1):
        deep = strip.size * scale
        page.line([polyline((x, y - deep), (x + width, y - deep))], INK, 0.15)
        at = x
        for name, found in groupby(strip.pieces(), key=lambda piece: _piece_name(piece[1], ids)):
            pieces = list(found)
            start = at
            for size, content in pieces:
                at += size * scale
                page.line([polyline((at, y - deep), (at, y))], INK, 0.1)
                if isinstance(content, Slab) and content.axis == 1:
                    down = y
                    for part in content.slices:
                        down -= part.size * scale
                        page.line([polyline((at - size * scale, down), (at, down))], INK, 0.1)
            words = f"{len(pieces)} {name.removeprefix('for ')}"
            size = min(SMALL, 0.8 * deep)
            if printed_width(words, size, bold=True) < at - start + 6.0 and size > 1.2:
                middle = (start + at) / 2
                down = y - deep / 2 + 0.36 * size
                page.text(middle, down, words, size, "middle", bold=True, colour=INK, halo="#ffffff")
        page.text(x + width + 1.2, y - deep / 2 + 1.0, str(number), min(SMALL, deep), colour=QUIET)
        y -= deep


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
        rows.append(["; ".join(cells[key] for key in keys if cells[key]) for _, keys, _ in _COLUMNS])
    book.y += 1.5
    book.table([title for title, *_ in _COLUMNS], rows, [share for *_, share in _COLUMNS])


# What lies on each sheet


def _sheets(book: Booklet, one: SheetSet) -> None:
    """A picture of each distinct sheet with what it gives."""
    book.heading(f"Cut with the {one.machine.title}", f"{_stock(one)}.")
    book.paragraph(one.kerf_words)
    book.y += 2.0
    _pictures(book, one)


def _pictures(book: Booklet, one: SheetSet) -> None:
    """A picture of each distinct sheet, two beside each other."""
    columns = 2
    width = (book.width - 8.0) / columns
    for start in range(0, len(one.sheets), columns):
        row = one.sheets[start : start + columns]
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
