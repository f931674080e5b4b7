"""`cut.pdf` as a person has it: read from the printed pages alone, and followed word by word.

Shares no code with what makes the pages. Lengths in mm, y down on a page; a tile's picture is turned so that its
left lower corner is the origin and y runs up.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

import numpy as np
import shapely
from pypdf import PdfReader
from pypdf.generic import ContentStream
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, Polygon, box

_MM = 72 / 25.4
TITLE, HEADING, NUMBER, TEXT, SMALL = 7.0, 4.4, 4.4, 3.35, 2.85
# A mark is rounded to 0.1 mm: a part between two of them is this near its size.
MARKED = 0.1 + 1e-6


class Unclear(Exception):  # noqa: N818 - what a person would say
    """The pages don't say what to do."""


@dataclass(frozen=True)
class Words:
    """One text on a page."""

    text: str
    x: float
    y: float
    size: float
    bold: bool
    along: tuple[float, float] = (1.0, 0.0)

    @property
    def half(self) -> float:
        """Half of its length, by the widths of Helvetica Bold (Adobe's metrics, from memory)."""
        return self.size * sum({"W": 0.944}.get(c, 0.556 if c.isdigit() else 0.7) for c in self.text) / 2

    @property
    def middle(self) -> tuple[float, float]:
        (dx, dy), up = self.along, 0.36 * self.size
        return self.x + self.half * dx + up * dy, self.y + self.half * dy - up * dx


@dataclass(frozen=True)
class Stroke:
    """A line or an area's edge. closed: drawn as an area."""

    points: np.ndarray
    width: float
    dashed: bool
    black: bool
    closed: bool
    fill: str = ""
    # Rings that are drawn at one go have the same.
    group: int = 0


@dataclass
class Page:
    height: float
    words: list[Words] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)

    @property
    def title(self) -> str:
        return next((w.text for w in self.words if w.size == TITLE), "")


def pages_of(path: Path) -> list[Page]:
    """All pages of a PDF: its texts and its lines."""
    reader = PdfReader(path)
    return [part for page in reader.pages for part in _parts(_page(page, reader))]


def _parts(page: Page) -> Iterator[Page]:
    """A page in the parts that begin with a title, from the top down; what stands above the first goes on from before."""
    starts = [w.y - TITLE for w in sorted(page.words, key=lambda w: w.y) if w.size == TITLE]
    for start, end in zip([-math.inf, *starts], [*starts, math.inf], strict=True):
        words = [w for w in page.words if start <= w.y < end]
        if words:
            yield Page(page.height, words, [s for s in page.strokes if start <= s.points[:, 1].mean() < end])


def _page(page, reader) -> Page:
    found = Page(float(page.mediabox.height) / _MM)
    matrix, stack = np.eye(3), []
    look = {"w": 1.0, "d": False, "RG": (0, 0, 0), "rg": (0, 0, 0), "font": ("", 0.0), "clip": False}
    fonts = {name: str(font.get_object()["/BaseFont"]) for name, font in page["/Resources"]["/Font"].items()}
    rings, text = [], np.eye(3)

    def at(x: float, y: float) -> tuple[float, float]:
        px, py, _ = np.array([x, y, 1.0]) @ matrix
        return px / _MM, found.height - py / _MM

    def done(stroke: bool, fill: bool) -> None:
        scale = math.sqrt(abs(np.linalg.det(matrix[:2, :2]))) / _MM
        group = len(found.strokes)
        for points, closed in rings:
            if len(points) > 1 and not look["clip"]:
                width = look["w"] * scale if stroke else 0.0
                colour = "".join(f"{round(float(c) * 255):02x}" for c in look["rg"]) if fill else ""
                black = max(map(float, look["RG"])) < 0.2
                found.strokes.append(Stroke(np.array(points), round(width, 4), look["d"], black, closed, colour, group))
        rings.clear()

    for operands, operator in ContentStream(page.get_contents(), reader).operations:
        op = operator.decode()
        if op == "q":
            stack.append((matrix, dict(look)))
        elif op == "Q":
            matrix, look = stack.pop()
        elif op == "cm":
            a, b, c, d, e, f = map(float, operands)
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif op == "w":
            look["w"] = float(operands[0])
        elif op == "d":
            look["d"] = bool(operands[0])
        elif op in ("RG", "rg"):
            look[op] = tuple(operands)
        elif op == "m":
            rings.append(([at(*map(float, operands))], False))
        elif op == "l":
            rings[-1][0].append(at(*map(float, operands)))
        elif op == "h":
            points, _ = rings[-1]
            rings[-1] = ([*points, points[0]], True)
        elif op in ("S", "s"):
            done(True, False)
        elif op in ("f", "f*", "F"):
            done(False, True)
        elif op in ("B", "B*", "b", "b*"):
            done(True, True)
        elif op in ("W", "W*"):
            look["clip"] = True
        elif op == "n":
            rings.clear()
        elif op == "Tf":
            look["font"] = fonts[operands[0]], float(operands[1])
        elif op == "Tm":
            a, b, c, d, e, f = map(float, operands)
            text = np.array([[a, b, 0], [c, d, 0], [e, f, 1]])
        elif op == "Tj" and look["font"][1]:
            whole = text @ matrix
            x, y = whole[2, 0] / _MM, found.height - whole[2, 1] / _MM
            name, size = look["font"]
            size *= math.hypot(*whole[0, :2]) / _MM
            said = operands[0]
            said = said if isinstance(said, str) else bytes(said).decode("cp1252")
            dx, dy = (whole[0, :2] * (1.0, -1.0) / np.hypot(*whole[0, :2])).tolist()
            new = Words(said, round(x, 3), round(y, 3), round(size, 2), "Bold" in name, (dx, dy))
            if not found.words or found.words[-1] != new:
                found.words.append(new)
    return found


def section(pages: Sequence[Page], *titles: str) -> list[Page]:
    """The pages under a title, those that go on without one too."""
    found, inside = [], False
    for page in pages:
        if page.title:
            inside = page.title.startswith(titles)
        if inside:
            found.append(page)
    return found


# Templates


@dataclass
class Template:
    """A template: its outline as printed, y up, least corner at the origin; None: only measures are given."""

    number: str
    count: int
    size: tuple[float, float]
    outline: Polygon | None
    words: list[str]
    folds: list[LineString] = field(default_factory=list)
    presses: list[LineString] = field(default_factory=list)

    @property
    def counts(self) -> dict[str, int]:
        """Of each part number that has this outline."""
        found = dict(re.findall(r"^(\w+): (\d+), ", "\n".join(self.words), re.MULTILINE))
        return {name: int(n) for name, n in found.items()} or {self.number: self.count}


def templates(pages: Sequence[Page]) -> dict[str, Template]:
    """All templates by number.

    Raises:
        Unclear: a number that no outline goes with, or two templates of one number.
    """
    found: dict[str, Template] = {}
    spread: dict[str, dict[tuple[int, int], Page]] = {}
    for page in section(pages, "Templates in true size"):
        for words in page.words:
            place = re.fullmatch(r"(\w+), cut (\d+): row (\d+) of \d+, column (\d+) of \d+", words.text)
            if place:
                spread.setdefault(f"{place[1]} {place[2]}", {})[int(place[3]), int(place[4])] = page
                continue
            count = re.fullmatch(r"cut (\d+)(; not in true size: measure it)?", words.text)
            if not count:
                continue
            numbers = [w for w in page.words if w.size == NUMBER and w.bold and w.x < words.x and w.y <= words.y + 0.01]
            number = min(numbers, key=lambda w: (abs(w.y - words.y) > 6, words.x - w.x))
            if number.text in found:
                raise Unclear(f"two templates {number.text}")
            below = _below(page, number if not count[2] else words)
            one = Template(number.text, int(count[1]), _measures(below), None, below)
            if not count[2]:
                _draw(one, page, number)
            found[number.text] = one
    for about, parts in spread.items():
        number, count = about.split()
        rings = _joined(parts)
        outline = _region(rings)
        west, south, east, north = outline.bounds
        found[number] = Template(number, int(count), (east - west, north - south), outline, [])
    return found


def _below(page: Page, head: Words) -> list[str]:
    """The lines of small print under a number; what belongs together as one."""
    lines, y = [], head.y
    for words in sorted(page.words, key=lambda w: w.y):
        if abs(words.x - head.x) < 0.01 and words.size == SMALL and 0 < words.y - y < SMALL * 2.2:
            lines.append(words.text)
            y = words.y
    return lines


def _measures(lines: Sequence[str]) -> tuple[float, float]:
    said = re.search(r"([\d.]+) x ([\d.]+) mm", " ".join(lines))
    if not said:
        raise Unclear(f"no measures: {lines}")
    return float(said[1]), float(said[2])


def _is_cut(stroke: Stroke) -> bool:
    whole = np.allclose(stroke.points[0], stroke.points[-1], atol=1e-3)
    return stroke.black and not stroke.dashed and not stroke.closed and whole and abs(stroke.width - 0.25) < 0.01


def _draw(one: Template, page: Page, number: Words) -> None:
    """The outline right above a number."""
    rings = [Polygon(s.points) for s in page.strokes if _is_cut(s) and len(s.points) > 3]
    above = []
    for ring in rings:
        west, _, _, bottom = ring.bounds
        if -0.01 < west - number.x < 5.0 and -0.01 < number.y - NUMBER - bottom < 5.0:
            above.append(ring)
    if not above:
        raise Unclear(f"no outline above {number.text}")
    outer = max(above, key=lambda r: r.area)
    holes = [r for r in rings if r is not outer and outer.contains(r.representative_point()) and r.within(outer)]
    west, top, _, bottom = outer.bounds

    def own(shape):
        return shapely.transform(shape, lambda p: np.column_stack([p[:, 0] - west, bottom - p[:, 1]]))

    one.outline = own(Polygon(outer.exterior.coords, [h.exterior.coords for h in holes]))
    inside = outer.buffer(1e-3)
    for stroke in page.strokes:
        if stroke.dashed and stroke.black and inside.covers(line := LineString(stroke.points)):
            (one.folds if abs(stroke.width - 0.3) < 0.01 else one.presses).append(own(line))


def _joined(parts: dict[tuple[int, int], Page]) -> list[LineString]:
    """The lines of a template over several pages, laid together at their crosses."""
    crosses = {place: _crosses(page) for place, page in parts.items()}
    shift = {(1, 1): np.zeros(2)}
    for row, column in sorted(parts):
        for other, axis in (((row, column - 1), 0), ((row - 1, column), 1)):
            if (row, column) not in shift and other in shift:
                # The two last crosses of the one page along the axis lie on the two first of the next.
                last = sorted(crosses[other], key=lambda p: -p[axis])[:2]
                first = sorted(crosses[row, column], key=lambda p: p[axis])[:2]
                by = np.mean(last, axis=0) - np.mean(first, axis=0)
                shift[row, column] = shift[other] + by
    return [
        LineString(s.points + shift[place])
        for place, page in parts.items()
        for s in page.strokes
        if s.black and not s.dashed and not s.closed and abs(s.width - 0.25) < 0.01
    ]


def _crosses(page: Page) -> list[np.ndarray]:
    short = [s.points for s in page.strokes if len(s.points) == 2 and abs(s.width - 0.15) < 0.01 and s.black]
    level = [p for p in short if abs(p[0, 1] - p[1, 1]) < 1e-6 and abs(np.ptp(p[:, 0]) - 6) < 1e-3]
    upright = [p.mean(axis=0) for p in short if abs(p[0, 0] - p[1, 0]) < 1e-6 and abs(np.ptp(p[:, 1]) - 6) < 1e-3]
    return [p.mean(axis=0) for p in level if any(math.dist(p.mean(axis=0), u) < 1e-3 for u in upright)]


def _region(lines: Sequence[LineString]) -> Polygon:
    """What lines enclose: the largest face, less the holes in it."""
    faces = list(shapely.polygonize([shapely.union_all(lines, grid_size=2e-3)]).geoms)
    if not faces:
        raise Unclear("the pages of a template don't join")
    whole = max(faces, key=lambda f: Polygon(f.exterior).area)
    west, top, _, bottom = whole.bounds
    return shapely.transform(whole, lambda p: np.column_stack([p[:, 0] - west, bottom - p[:, 1]]))


# The list for a ruler


@dataclass(frozen=True)
class Rectangle:
    """A piece that was cut. name: what the page calls it; nothing where it leaves that to the measures."""

    name: str
    width: float
    height: float


@dataclass
class RulerSheet:
    title: str
    copies: int
    pieces: list[Rectangle]
    gives: Counter


def ruler_sheets(pages: Sequence[Page], sizes: dict[str, tuple[float, float]]) -> list[RulerSheet]:
    """Every sheet of every ruler list, cut as its words say. sizes: of the parts, to tell pieces without a name.

    Raises:
        Unclear: words that can't be followed, or pieces that are none of the parts named.
    """
    found = []
    for page_title, page_group in _groups(section(pages, "Cut with knife and ruler")):
        assert page_title
        head = " ".join(w.text for w in page_group[0].words if w.size == TEXT and w.x < 105)
        intro = " ".join(w.text for w in page_group[0].words if w.size == TEXT and w.y < 60)
        trim = re.search(r"Take ([\d.]+) mm off one long side", head)
        stock = re.findall(r"(\d+) (?:sheets?|offcuts?|pieces?)? ?of ([\d.]+) x ([\d.]+) mm", intro)
        if not stock:
            raise Unclear(f"no size of sheets: {intro}")
        for said in _sheets_said(page_group):
            title = said.title
            own = re.search(r"([\d.]+) x ([\d.]+) mm", title)
            several = {(w, h) for _, w, h in stock}
            if not own and len(several) > 1:
                raise Unclear(f"{title}: which of the sheets {several}?")
            long, short = map(float, own.groups() if own else stock[0][1:])
            cut = float(trim[1]) if trim else 0.0
            span = re.match(r"Sheets (\d+) to (\d+), all alike|Sheet (\d+)", title)
            if not span:
                raise Unclear(title)
            copies = 1 if span[3] else int(span[2]) - int(span[1]) + 1
            pieces, gives = _followed(said, long - cut, short - cut)
            _named(pieces, gives, sizes, title)
            found.append(RulerSheet(title, copies, pieces, gives))
    return found


def _groups(pages: Sequence[Page]) -> Iterator[tuple[str, list[Page]]]:
    """Pages by the heading that they stand under."""
    group: list[Page] = []
    for page in pages:
        if page.title and group:
            yield group[0].title, group
            group = []
        group.append(page)
    if group:
        yield group[0].title, group


@dataclass
class _Said:
    """What stands about one sheet. words: beside its picture; strips: (label, runs of (words, marks)); then: the rest."""

    title: str
    words: str = ""
    marks: list[float] = field(default_factory=list)
    strips: list[tuple[str, list[tuple[str, list[float]]]]] = field(default_factory=list)
    then: str = ""


def _sheets_said(pages: Sequence[Page]) -> list[_Said]:
    """What stands beside and below the pictures, in order."""
    sheets: list[_Said] = []
    for page in pages:
        # A picture's own texts are small.
        for words in sorted((w for w in page.words if w.size in (TEXT, HEADING)), key=lambda w: (w.y, w.x)):
            if words.size == HEADING and words.text.startswith("Sheet"):
                sheets.append(_Said(words.text))
                continue
            if not sheets:
                continue
            one = sheets[-1]
            mark = words.bold and re.fullmatch(r"[\d.]+", words.text)
            if one.strips and words.x > 44 and not one.then:
                runs = one.strips[-1][1]
                if mark:
                    runs[-1][1].append(float(mark[0]))
                else:
                    runs.append((words.text, []))
            elif re.match(r"Strips? \d+( to \d+)?, from [AB]$", words.text) and words.x < 12:
                one.strips.append((words.text, []))
            elif mark:
                one.marks.append(float(mark[0]))
            elif words.x > 100:
                one.words += f"{words.text} "
            else:
                one.then += f"{words.text} "
    return sheets


def _cells(marks: Sequence[float], length: float) -> list[float]:
    """What lies between marks, from the edge to the other end."""
    if sorted(marks) != list(marks) or (marks and marks[-1] > length + MARKED):
        raise Unclear(f"marks {marks} on {length}")
    return [b - a for a, b in zip([0.0, *marks], [*marks, length], strict=True)]


def _followed(said: _Said, long: float, short: float) -> tuple[list[Rectangle], Counter]:
    """The pieces that a sheet falls into, and what it should give."""
    start = re.match(
        r"On both (long|short) sides, from ([AB]): Cut the (long|short) way from mark to mark\.", said.words
    )
    if bool(said.marks) != bool(start) or (
        start
        and start[0]
        not in (
            "On both short sides, from A: Cut the long way from mark to mark.",
            "On both long sides, from B: Cut the short way from mark to mark.",
        )
    ):
        raise Unclear(f"{said.title}: {said.words}")
    standing = bool(start and start[2] == "B")
    if not start and said.strips:
        standing = said.strips[0][0].endswith("A")
    length, across = (short, long) if standing else (long, short)
    strips = _cells(said.marks, across)
    gives = Counter({name: int(n) for n, name in re.findall(r"(\d+) (\w+)", said.words.partition("Gives ")[2])})
    crossed: dict[int, list[Rectangle]] = {n: [Rectangle("", length, deep)] for n, deep in enumerate(strips, 1)}
    for label, runs in said.strips:
        about = re.match(r"Strips? (\d+)(?: to (\d+))?, from ([AB])", label)
        if not about or (about[3] == "A") != standing:
            raise Unclear(f"{said.title}: {label}")
        names = [name for words, _ in runs for n, name in [_run(words)] for _ in range(n)]
        wide = _cells([mark for _, marks in runs for mark in marks], length)
        if len(wide) not in (len(names), len(names) + 1):
            raise Unclear(f"{said.title}, {label}: {len(names)} parts in {len(wide)} pieces")
        named = [*names, *[""] * (len(wide) - len(names))]
        for number in range(int(about[1]), int(about[2] or about[1]) + 1):
            crossed[number] = [Rectangle(n, w, strips[number - 1]) for n, w in zip(named, wide, strict=True)]
    again = r"Strip (\d+), (pieces|piece \d+) (with .+?): mark from ([AB]): (.+?); cut\."
    for strip, which, path, edge, runs in re.findall(again, said.then):
        # A mark from A measures across strips that lie, along those that stand.
        along = (edge == "A") == standing
        crossed[int(strip)] = _cut_again(crossed[int(strip)], which, path, runs.split(", "), along=along)
    return [piece for found in crossed.values() for piece in found], gives


def _run(words: str) -> tuple[int, str]:
    found = re.fullmatch(r"(\d+) ((?:with )?\w+(?: and \w+)*)", words)
    if not found:
        raise Unclear(words)
    return int(found[1]), found[2]


def _cut_again(
    strip: Sequence[Rectangle], which: str, path: str, runs: Sequence[str], *, along: bool
) -> list[Rectangle]:
    """The third cuts and more: all pieces of that name in a strip, or the next of them. runs: each with its marks."""
    # Those with a number come one after another, each with what is cut of it.
    numbered = [bool(re.search(r"\d", which)), *(" number " in words for words in path.split(", of these")[1:])]
    path = re.sub(r"of these number \d+", "of these the ones", path)
    if all(piece.name != path for piece in strip):
        raise Unclear(f"no pieces {path}")
    names, marks = [], []
    for run in runs:
        words, *at = re.split(r" (?=[\d.]+(?: |$))", run)
        number, name = _run(words)
        names += [f"{path}, of these the ones {name}" if name.startswith("with ") else name] * number
        marks += map(float, at)
    found: list[Rectangle] = []
    done = False
    for piece in strip:
        if piece.name != path or (done and numbered[path.count(", of these")]):
            found.append(piece)
            continue
        done = True
        cells = _cells(marks, piece.width if along else piece.height)
        if len(cells) not in (len(names), len(names) + 1):
            raise Unclear(f"{path}: {len(names)} parts in {len(cells)} pieces")
        for name, cell in zip([*names, ""], cells, strict=False):
            found.append(Rectangle(name, cell, piece.height) if along else Rectangle(name, piece.width, cell))
    return found


def _named(pieces: list[Rectangle], gives: Counter, sizes: dict[str, tuple[float, float]], where: str) -> None:
    """Names for pieces without one, by their measures; all that the sheet gives must be there."""
    left = Counter(gives)
    for piece in pieces:
        if piece.name and not piece.name.startswith("with "):
            left[piece.name] -= 1
    for n, piece in enumerate(pieces):
        if piece.name.startswith("with "):
            raise Unclear(f"{where}: nothing says how to cut the piece {piece.name}")
        if not piece.name:
            fits = [name for name, count in left.items() if count > 0 and _fits(piece, sizes[name])]
            if fits:
                pieces[n] = Rectangle(fits[0], piece.width, piece.height)
                left[fits[0]] -= 1
    if any(left.values()):
        raise Unclear(f"{where}: it should give {dict(gives)}, left over {dict(+left)}, too many {dict(-left)}")


def _fits(piece: Rectangle, size: tuple[float, float]) -> bool:
    a, b = piece.width, piece.height
    return any(abs(a - x) <= MARKED and abs(b - y) <= MARKED for x, y in (size, size[::-1]))


def off_by(piece: Rectangle, size: tuple[float, float]) -> float:
    """How far a piece is off its part's size, in the better turn."""
    a, b = piece.width, piece.height
    return min(max(abs(a - x), abs(b - y)) for x, y in (size, size[::-1]))


# The list for a fence


def fenced(pages: Sequence[Page]) -> dict[str, list[tuple[float, float]]]:
    """All pieces on the bench after the last row of every saw list, by name: the parts, and what is left of the rest.

    Raises:
        Unclear: rows that can't be followed, or that don't come out with the passes and pieces they name.
    """
    bench: dict[str, list[list[float]]] = {}
    for _, group in _groups(section(pages, "Saw list")):
        head = " ".join(w.text for w in sorted(group[0].words, key=lambda w: (w.y, w.x)) if w.size == TEXT)
        stock = re.findall(r"(?:\d+) of ([\d.]+) x ([\d.]+) mm", head.partition("sheets: ")[2])
        kerf, zero = (re.search(rf"{what}: (-?[\d.]+) mm", head) for what in ("kerf k", "fence zero c0"))
        if len(set(stock)) != 1 or not kerf or not zero:
            raise Unclear(f"sheets {stock}: {head}")
        for row in _rows(group):
            names = dict(reversed(_counted(name)) for name in row["pieces that go in"].split(", "))
            for name, count in names.items():
                # A sheet, the first time that it is named.
                bench.setdefault(name, [list(map(float, stock[0])) for _ in range(count)])
            if row["setting"] == "reference":
                taken = re.search(r"take ([\d.]+) mm off the (lower|left) edge", row["what comes"])
                for piece in itertools.chain.from_iterable(bench[name] for name in names):
                    piece[taken[2] == "lower"] -= float(taken[1])
            elif row["setting"] != "by hand":
                if row["setting"] and abs(float(row["set"]) + float(zero[1]) - float(row["expect,"])) > 0.011:
                    raise Unclear(f"{row['setting']} is set to {row['set']}")
                _set(bench, row, names, float(kerf[1]))
    return {name: [(w, h) for w, h in pieces] for name, pieces in bench.items()}


def _set(bench: dict[str, list[list[float]]], row: dict[str, str], names: dict[str, int], kerf: float) -> None:
    """All cuts of one row."""
    size, passes, pieces = float(row["expect,"]), 0, 0
    said = [entry.strip() for entry in row["what comes"].split(";")]
    named = [found for entry in said if (found := re.fullmatch(r"(\S+?)(?: on ([AB]))?: (.+)", entry))]
    each = [(found[1], found[2] or row["edge"], found[3]) for found in named if found[1] in names]
    each = each or [(name, row["edge"], said[0]) for name in names]
    if sorted(name for name, *_ in each) != sorted(names):
        raise Unclear(f"step {row['step']}: what comes out of {sorted(names)}? {each}")
    for name, edge, outs in each:
        if edge not in ("A", "B") or names[name] != len(bench[name]):
            raise Unclear(f"step {row['step']}: {names[name]} of {len(bench[name])} pieces {name}, edge {edge}")
        axis = int(edge == "A")
        for source in bench[name]:
            for count, out in map(_counted, outs.split(", ")):
                for _ in range(count):
                    if source[axis] < size - 0.02:
                        raise Unclear(f"step {row['step']}: {source} of {name} is too small for {size}")
                    piece = list(source)
                    piece[axis] = size
                    bench.setdefault(out, []).append(piece)
                    passes += source[axis] > size + 0.02
                    pieces += 1
                    source[axis] = max(0.0, source[axis] - size - kerf)
        bench[name] = [source for source in bench[name] if min(source) > 0.02]
    if (passes, pieces) != (int(row["passes"]), int(row["pieces"])):
        raise Unclear(f"step {row['step']}: {passes} passes and {pieces} pieces")


def _counted(words: str) -> tuple[int, str]:
    found = re.fullmatch(r"(?:(\d+) x )?([A-Za-z][\w-]*)", words.strip())
    if not found:
        raise Unclear(words)
    return int(found[1] or 1), found[2]


def _rows(pages: Sequence[Page]) -> Iterator[dict[str, str]]:
    """The rows of a table, by the first line of each column's head."""
    for page in pages:
        cells = sorted((w for w in page.words if w.size == SMALL), key=lambda w: (w.y, w.x))
        top = min((w.y for w in cells if w.bold and w.text == "step"), default=math.inf)
        heads = [(w.x, w.text) for w in cells if w.bold and abs(w.y - top) < 0.01]
        row: dict[str, str] = {}
        for words in cells:
            if words.bold or words.y < top or all(abs(words.x - x) > 0.01 for x, _ in heads):
                continue
            head = min(heads, key=lambda each: abs(words.x - each[0]))[1].partition(" out")[0]
            if head == "step" and words.text.isdigit():
                if row:
                    yield row
                row = dict.fromkeys((text.partition(" out")[0] for _, text in heads), "")
            if row:
                row[head] = f"{row[head]} {words.text}".strip()
        if row:
            yield row


# Gluing


@dataclass
class Standing:
    """A wall or post where the words put it. foot: on the tile; drawn: that the words leave its place to the picture."""

    number: str
    foot: Polygon
    height: float
    drawn: bool
    words: str


@dataclass
class Card:
    """One tile or loose piece. number: on the picture; base: its outline as it lies in the picture, in true size."""

    number: str
    count: int
    name: str
    steps: list[str]
    base: Polygon
    scale: float
    feet: list[tuple[str, Polygon]] = field(default_factory=list)
    ways: list[Polygon] = field(default_factory=list)

    @property
    def gaps(self) -> float:
        """How wide the gaps are that the steps leave to filler, mm."""
        return max([float(w) for s in self.steps for w in re.findall(r"^Fill .* up to ([\d.]+) mm", s)], default=0.0)

    def doorways(self) -> shapely.Geometry:
        """What is drawn white of walls, in true size."""
        return shapely.transform(
            shapely.union_all([shapely.make_valid(way) for way in self.ways]), lambda p: p / self.scale
        )


@dataclass
class Rules:
    """What holds for all tiles. floor: from the edge to a wall's inside; thick, high: of walls; base: how thick."""

    floor: float
    thick: float
    high: float
    base: float
    shared: str


def rules_of(pages: Sequence[Page]) -> Rules:
    """What the pages say once."""
    glue = section(pages, "Glue")
    if not glue:
        raise Unclear("nothing says how to glue")
    text = " ".join(w.text for w in sorted(glue[0].words, key=lambda w: (w.y, w.x)) if w.size == TEXT)
    floor = re.search(r"inside of every wall is ([\d.]+) mm from the edge of the base", text)
    # On the first page names stand on the left of their values; a long name may run over.
    sizes = {}
    for page in pages[:3]:
        for words in page.words:
            beside = [
                w for w in page.words if w.bold and w.x > words.x and abs(w.y - words.y) < 0.01 and w is not words
            ]
            if not words.bold and beside and (value := re.match(r"([\d.]+)", min(beside, key=lambda w: w.x).text)):
                sizes[words.text] = float(value[1])
    shared = re.search(r"The base of every tile is ([^.]*)\.", text)
    return Rules(
        float(floor[1]) if floor else math.nan,
        sizes.get("wall, thick", math.nan),
        sizes.get("wall, high", math.nan),
        sizes.get("base, thick", math.nan),
        shared[1] if shared else "",
    )


def cards_of(pages: Sequence[Page]) -> list[Card]:
    """All cards, in order."""
    found = []
    for page in section(pages, "Glue"):
        heads = [w for w in page.words if abs(w.size - 4.0) < 0.01 and w.bold and re.search(r"make \d+$", w.text)]
        for head in sorted(heads, key=lambda w: (round(w.y, 1), w.x)):
            found.append(_card(page, head, heads))
    return found


def _card(page: Page, head: Words, heads: Sequence[Words]) -> Card:
    below = [w.y for w in heads if abs(w.x - head.x) < 0.01 and w.y > head.y + 0.01]
    end = min(below, default=page.height) - 0.01
    number, _, count = head.text.rpartition("make ")
    lines = sorted((w for w in page.words if head.y < w.y < end), key=lambda w: w.y)
    name = [w.text for w in lines if abs(w.x - head.x) < 0.01 and w.size == SMALL]
    steps: list[str] = []
    for words in lines:
        if abs(words.x - head.x) < 0.01 and words.bold and words.size == TEXT:
            steps.append("")
        elif abs(words.x - head.x - 5.0) < 0.01 and words.size == TEXT:
            steps[-1] = f"{steps[-1]} {words.text}".strip()
    top = head.y - 4.0 * 1.32 + 1.0
    areas = [s for s in page.strokes if s.closed and s.fill and s.width > 0]
    bases = [s for s in areas if abs(s.width - 0.25) < 0.01 and _left_of(s, head, top)]
    if not bases:
        raise Unclear(f"no picture beside {head.text}")
    ring = max(bases, key=lambda s: Polygon(s.points).area)
    west, north = ring.points.min(axis=0)
    east, south = ring.points.max(axis=0)

    def own(points: np.ndarray) -> np.ndarray:
        return np.column_stack([points[:, 0] - west, south - points[:, 1]])

    base = Polygon(own(ring.points))
    card = Card(number.strip(", "), int(count), " ".join(name), steps, base, 1.0)
    near = Polygon(ring.points).envelope.buffer(12.0)
    inside = [w for w in page.words if w.bold and w.size < 3 and near.contains(shapely.Point(w.middle))]
    for words in page.words:
        if words.size in (8.0, 6.0) and near.contains(shapely.Point(words.middle)):
            card.number = words.text
    # A number beside its part has a line to it.
    lines = [s.points for s in page.strokes if len(s.points) == 2 and abs(s.width - 0.15) < 0.01 and not s.closed]
    places = [(w.text, shapely.Point(own(np.array([_meant(w, lines)]))[0])) for w in inside]
    for _, rings in groupby(areas, key=lambda s: s.group):
        area, *holes = rings
        shape = Polygon(own(area.points), [own(hole.points) for hole in holes])
        if not shape.within(base.buffer(0.2)):
            continue
        if abs(area.width - 0.2) < 0.01 and area.fill != "ffffff":
            at = [text for text, place in places if shape.buffer(0.05).contains(place)]
            card.feet.append((at[0] if len(at) == 1 else "", shape))
        elif abs(area.width - 0.15) < 0.01 and area.fill == "ffffff":
            card.ways.append(shape)
    return card


def _left_of(stroke: Stroke, head: Words, top: float) -> bool:
    west, north = stroke.points.min(axis=0)
    east, _ = stroke.points.max(axis=0)
    return east - head.x < -3.9 and west - head.x > -40.0 and abs(north - top) < 0.5


def _meant(words: Words, lines: Sequence[np.ndarray]) -> tuple[float, float]:
    """The place on a part that a number belongs to: under it, or at the other end of the line that ends at it."""
    x, y = words.middle
    for start, end in lines:
        if abs(end[0] - x) < words.half + 0.4 and abs(end[1] - y) < 0.4 * words.size + 0.2:
            return tuple(start.tolist())
    return x, y


_PART = (
    r"(?:(\d+) x )?([A-Z]\d*[A-Z]*)( on top| below| outside| between| as its core| inside(?:, its lines to the room)?)?"
)
_SIDE = r"top|bottom|left|right"
_CORE = "as its core"
_OFF = rf"(?:at the|([\d.]+) mm from the) ({_SIDE}) edge"


def parts_in(words: str) -> tuple[list[tuple[int, str, str]], str]:
    """The parts that a step begins with, (how many, which, as what), and the words after them."""
    found, rest = [], words
    while match := re.match(rf"{_PART}(, |: | |$)", rest):
        found.append((int(match[1] or 1), match[2], (match[3] or "").strip()))
        rest = rest[match.end() :]
        if match[4] != ", ":
            break
    if not found:
        raise Unclear(words)
    return found, rest


class Builder:
    """Puts tiles together by their cards. folds: how far a fold's outside reaches beyond its line."""

    def __init__(self, pages: Sequence[Page]) -> None:
        self.templates = templates(pages)
        self.rules = rules_of(pages)
        self.by_part = {name: one for one in self.templates.values() for name in one.counts}

    def base(self, card: Card) -> Polygon:
        """The base's outline, in the turn that the picture shows; the least corner of what is drawn at the origin."""
        words = next((s.removeprefix("Base: ") for s in card.steps if s.startswith("Base: ")), self.rules.shared)
        if not words:
            raise Unclear(f"{card.name}: which base?")
        parts, _ = parts_in(words)
        # Layers with slots lie on one without: the base is what they cover together.
        return shapely.union_all(
            [self._layer(card, part, first=n == 0) for n, (_, part, layer) in enumerate(parts) if layer != _CORE]
        )

    def _layer(self, card: Card, part: str, *, first: bool) -> Polygon:
        """A layer of the base, turned as the picture shows it: by its outline, and by slots, which lie under walls."""
        one = self.by_part[part]
        outline = face_of(one)
        _, _, east, north = card.base.bounds
        ways = []
        # Pegs and sockets are not drawn in the picture.
        pegged = len(outline.exterior.coords) > len(card.base.exterior.coords)
        for plain, turn in itertools.product((False, True) if pegged else (False,), range(4)):
            turned = rotate(body(outline) if plain else outline, 90 * turn, origin=(0, 0))
            turned = translate(turned, -turned.bounds[0], -turned.bounds[1])
            scale = east / turned.bounds[2] if first else card.scale
            # What is hidden may be smaller.
            turned = translate(turned, (east / scale - turned.bounds[2]) / 2, (north / scale - turned.bounds[3]) / 2)
            drawn, *feet = (
                shapely.transform(shape, lambda p, scale=scale: p / scale)
                for shape in (card.base, *(foot for _, foot in card.feet))
            )
            covered = shapely.union_all([turned, *feet])
            differs = covered.symmetric_difference(drawn).area / drawn.area
            ways.append((round(differs, 2), plain, differs, turn, scale, turned))
        differs, _, _, _, card.scale, turned = min(ways, key=lambda way: way[:4])
        if differs > 0.1 and first:
            raise Unclear(f"{card.name}: base {part} is not the one that is drawn")
        # What goes round an edge is none of its layers.
        return turned if differs <= 0.1 else Polygon()

    def standing(self, card: Card) -> Iterator[Standing]:
        """Every wall and post, by the words of the steps, in order."""
        base, done = self.base(card), []
        for step in card.steps:
            if step.startswith(("Base: ", "Fill ")):
                continue
            parts, where = parts_in(step)
            one = self._one(card, base, parts, where, done)
            done.append(one)
            yield one

    def _one(self, card: Card, base: Polygon, parts, where: str, done: list[Standing]) -> Standing:
        number = parts[0][1]
        feet = [shapely.transform(foot, lambda p: p / card.scale) for _, foot in card.feet]
        high = self.rules.high
        if where == "as drawn":
            names = [name for name, _ in card.feet]
            mine = [f for f, name in zip(feet, names, strict=True) if name in {p for _, p, _ in parts}]
            if not mine:
                raise Unclear(f"{card.name}: {number} as drawn, but it is not in the picture")
            return Standing(number, shapely.union_all(mine), high, True, where)
        corner = re.fullmatch(rf"in the ({_SIDE}) ({_SIDE}) corner", where)
        left, bottom, right, top = base.bounds
        floor, thick = self.rules.floor, self.rules.thick
        if corner:
            wide = self._cross(parts)
            y = bottom + floor - thick if corner[1] == "bottom" else top - floor
            x = left + floor - wide if corner[2] == "left" else right - floor
            return Standing(number, box(x, y, x + wide, y + thick), high, False, where)
        sides = re.fullmatch(rf"{_OFF}, {_OFF}, its ([\d.]+) mm side from left to right", where)
        if sides:
            wide, (across, level) = float(sides[5]), (float(sides[1] or 0.0), float(sides[3] or 0.0))
            broad = max((size for size in self._sizes(number) if abs(size - high) > 0.6), default=thick)
            deep = max(broad, self._thick(number), key=lambda size: abs(size - wide))
            x = left + across if sides[2] == "left" else right - across - wide
            y = bottom + level if sides[4] == "bottom" else top - level - deep
            return Standing(number, box(x, y, x + wide, y + deep), high, False, where)
        return self._wall(card, base, parts, where, done, feet)

    def _cross(self, parts) -> float:
        """How wide a post is: its side that is not its height."""
        sides = self._sizes(parts[0][1])
        return min(sides, key=lambda s: abs(s - self.rules.thick)) if len(sides) > 1 else sides[0]

    def _sizes(self, number: str) -> tuple[float, float]:
        west, south, east, north = face_of(self.by_part[number]).bounds
        return east - west, north - south

    def _thick(self, number: str) -> float:
        """How thick a part stands: of a net what lies between its two high panels, and half the card beyond each."""
        one = self.by_part[number]
        for axis, size in enumerate(one.size):
            lines = (np.array(fold.coords)[:, axis] for fold in one.folds)
            levels = sorted({0.0, size, *(round(float(line[0]), 2) for line in lines if abs(np.ptp(line)) < 1e-3)})
            gaps = [b - a for a, b in itertools.pairwise(levels)]
            for before, gap, after in zip(gaps, gaps[1:], gaps[2:], strict=False):
                if min(before, after) > self.rules.high - 2.0 * _sheet_of(one) and max(before, after) < self.rules.high:
                    return gap + _sheet_of(one)
        return self.rules.thick

    def _wall(self, card: Card, base: Polygon, parts, where: str, done: list[Standing], feet) -> Standing:
        number = parts[0][1]
        left, bottom, right, top = base.bounds
        side = re.match(rf"(?:({_SIDE})|{_OFF})(?:, |$)", where)
        if not side:
            raise Unclear(f"{card.name}: {number} {where}")
        rest = where[side.end() :]
        floor, thick = self.rules.floor, self._thick(number)
        cored = any(layer == _CORE for *_, layer in parts)
        which = side[1] or side[3]
        level = which in ("top", "bottom")
        near = floor - thick if side[1] else float(side[2] or 0.0)
        low = {"top": top - near - thick, "bottom": bottom + near, "left": left + near, "right": right - near - thick}
        at = low[which]
        length = self._length(card, parts, feet, level, at)
        start, end = (left, right) if level else (bottom, top)
        names = ("left", "right") if level else ("bottom", "top")

        def stop(name: str, towards: int) -> float:
            """Where a part stands in the way, going on from this wall towards an end (0: left or bottom)."""
            found = []
            for other in done:
                west, south, east, north = other.foot.bounds
                across = (south, north) if level else (west, east)
                along = (west, east) if level else (south, north)
                if other.number == name and across[0] < at + thick - 0.05 and across[1] > at + 0.05:
                    found.append(along[1] if towards == 0 else along[0])
            if not found:
                raise Unclear(f"{card.name}: {number} {where}: no {name} there yet")
            if len(set(np.round(found, 3))) > 1:
                found = sorted(found, reverse=towards == 0)
            return found[0]

        if rest == "edge to edge":
            middle = (start + end) / 2
            low_end = middle - length / 2
        elif match := re.fullmatch(r"between (\w+) and (\w+)|between the two (\w+)", rest):
            a, b = (match[1], match[2]) if match[1] else (match[3], match[3])
            ends = stop(a, 0), stop(b, 1)
            if a == b:
                spots = sorted(self._spans(done, a, level, at, thick))
                if len(spots) < 2:
                    raise Unclear(f"{card.name}: {number} {where}")
                ends = spots[0][1], spots[-1][0]
            low_end = sum(ends) / 2 - length / 2
        elif match := re.fullmatch(rf"from the ({_SIDE}) edge(?: to (\w+))?", rest):
            if match[1] not in names:
                raise Unclear(f"{card.name}: {number} {where}")
            first = match[1] == names[0]
            # Cores are set by their slots and fingers, and the skins on them by the cores: flush with a wall across.
            if cored:
                walls = [step for step in card.steps if not step.startswith(("Base: ", "Fill "))]
                across = {where.split(",")[0] for _, where in map(parts_in, walls)}
                start += floor - thick if names[0] in across else 0.0
                end -= floor - thick if names[1] in across else 0.0
            if match[2] and not cored:
                spans = self._spans(done, match[2], level, at, thick)
                # The one that it meets, coming from that edge.
                ends = [s[0] if first else s[1] for s in spans]
                # Where all stand against one another, the first goes by its edge.
                edge = start if first else end
                meets = min(
                    ends, key=lambda e: abs(abs(e - edge) - length), default=edge + (length if first else -length)
                )
                low_end = meets - length if first else meets
            else:
                low_end = start if first else end - length
        elif match := re.fullmatch(rf"its ({_SIDE}) end against (\w+)", rest):
            low = match[1] == names[0]
            ends = [s[1] if low else s[0] - length for s in self._spans(done, match[2], level, at, thick)]
            if cored:
                # Its outside layers against the other's.
                layers = sum(n for n, *_ in parts)
                beyond = thick - thick / layers * sum(n for n, _, layer in parts if layer == "outside")
                ends = [end - beyond if low else end + beyond for end in ends]
            # Of two with that number the one that leaves it on the base.
            ends = [e for e in ends if e > start - 0.5 and e + length < end + 0.5]
            if match[1] not in names or not ends:
                raise Unclear(f"{card.name}: {number} {where}: no {match[2]} there yet")
            low_end = max(ends) if low else min(ends)
        elif match := re.fullmatch(_OFF, rest):
            gap = float(match[1] or 0.0)
            low_end = start + gap if match[2] == names[0] else end - gap - length
        else:
            raise Unclear(f"{card.name}: {number} {where}")
        foot = (
            box(low_end, at, low_end + length, at + thick) if level else box(at, low_end, at + thick, low_end + length)
        )
        return Standing(number, foot, self.rules.high, False, where)

    @staticmethod
    def _spans(done: Sequence[Standing], name: str, level: bool, at: float, thick: float) -> list[tuple[float, float]]:
        found = []
        for other in done:
            west, south, east, north = other.foot.bounds
            across, along = ((south, north), (west, east)) if level else ((west, east), (south, north))
            if other.number == name and across[0] < at + thick + 0.05 and across[1] > at - 0.05:
                found.append(along)
        return found

    def _length(self, card: Card, parts, feet: Sequence[Polygon], level: bool, at: float) -> float:
        """The longest of the parts, lying along the side that the picture shows."""
        both = [self._sizes(number) for _, number, _ in parts]
        drawn = []
        for foot in feet:
            west, south, east, north = foot.bounds
            if (east - west > north - south) == level or len(feet) == 1:
                drawn.append(max(east - west, north - south))
        found = []
        for sizes in both:
            high = [abs(size - self.rules.high) < 0.6 for size in sizes]
            if high.count(True) == 1:
                found.append(sizes[1 - high.index(True)])
            else:
                found.append(min(sizes, key=lambda s: min((abs(s - d) for d in drawn), default=0.0)))
        return max(found)


def body(outline: Polygon) -> Polygon:
    """A base's outline less the pegs that stand out of it and the sockets cut into it."""
    for away in (_PEG, -2 * _PEG, _PEG):
        whole = Polygon(outline.exterior).buffer(away, join_style="mitre", mitre_limit=20)
        outline = max(getattr(whole, "geoms", [whole]), key=lambda part: part.area)
    return outline


# More than half as wide as a peg or a socket, mm.
_PEG = 4.0


def face_of(one: Template) -> Polygon:
    """What a part shows once it is cut, or folded."""
    if one.outline is None:
        return box(0, 0, *one.size)
    return _outside(one) if one.folds else one.outline


def _sheet_of(one: Template) -> float:
    """How thick the sheet of a folded part is."""
    said = re.search(r"([\d.]+) mm card|, ([\d.]+) mm", " ".join(one.words))
    return float(said[1] or said[2]) if said else 0.0


def _outside(one: Template) -> Polygon:
    """The outside of what a net's largest panel becomes: half the card reaches beyond each fold's line."""
    card = _sheet_of(one)
    lines = [one.outline.boundary, *one.folds]
    faces = list(shapely.polygonize([shapely.union_all(lines, grid_size=1e-3)]).geoms)
    panel = max((f for f in faces if one.outline.buffer(1e-3).covers(f)), key=lambda f: f.area)
    west, south, east, north = panel.bounds
    half = card / 2

    def reach(side: LineString) -> float:
        return (
            half if any(fold.intersection(side.buffer(1e-3)).length > 0.2 * side.length for fold in one.folds) else 0.0
        )

    corners = [(west, south), (east, south), (east, north), (west, north)]
    below, right, above, left = (
        reach(LineString(pair)) for pair in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    edge = panel.boundary.buffer(1e-3)
    along = shapely.line_merge(shapely.union_all([fold for fold in one.folds if edge.covers(fold)]))
    sides = along.buffer(half, cap_style="square", join_style="mitre", mitre_limit=20)
    grown = shapely.union_all([panel, sides], grid_size=1e-4)
    grown = grown.intersection(box(west - left, south - below, east + right, north + above))
    # Nicks at the ends of folds, less than a card wide, close as it is folded.
    for away in (card, -card):
        grown = grown.buffer(away, join_style="mitre", mitre_limit=20)
    return translate(grown, -grown.bounds[0], -grown.bounds[1])
