"""`cut.pdf` as a person has it: read from the printed pages alone, and followed word by word.

Shares no code with what makes the pages. Lengths in mm, y down on a page; a tile's picture is turned so that its
left lower corner is the origin and y runs up.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
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
    upright: bool


@dataclass(frozen=True)
class Stroke:
    """A line or an area's edge. closed: drawn as an area."""

    points: np.ndarray
    width: float
    dashed: bool
    black: bool
    closed: bool
    fill: str = ""


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
    return [_page(page, reader) for page in reader.pages]


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
        for points, closed in rings:
            if len(points) > 1 and not look["clip"]:
                width = look["w"] * scale if stroke else 0.0
                colour = "".join(f"{round(float(c) * 255):02x}" for c in look["rg"]) if fill else ""
                black = max(map(float, look["RG"])) < 0.2
                found.strokes.append(Stroke(np.array(points), round(width, 4), look["d"], black, closed, colour))
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
            upright = abs(whole[0, 1]) > abs(whole[0, 0])
            new = Words(said, round(x, 3), round(y, 3), round(size, 2), "Bold" in name, upright)
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
        said = _column(page_group)
        intro = " ".join(w.text for w in page_group[0].words if w.size == TEXT and w.y < 60)
        trim = re.search(r"Take ([\d.]+) mm off one long side", head)
        stock = re.findall(r"(\d+) (?:sheets?|offcuts?|pieces?)? ?of ([\d.]+) x ([\d.]+) mm", intro)
        if not stock:
            raise Unclear(f"no size of sheets: {intro}")
        for title, rows in said:
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
            pieces, gives = _followed(rows, long - cut, short - cut)
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


_Rows = list[tuple[str, list[float]]]


def _column(pages: Sequence[Page]) -> list[tuple[str, _Rows]]:
    """What stands beside the pictures: of each sheet its words and marks, in order."""
    sheets: list[tuple[str, _Rows]] = []
    for page in pages:
        beside = sorted((w for w in page.words if w.x > 109 and w.size in (TEXT, HEADING)), key=lambda w: (w.y, w.x))
        for words in beside:
            if words.size == HEADING:
                sheets.append((words.text, []))
            elif sheets and words.bold and re.fullmatch(r"[\d.]+", words.text):
                rows = sheets[-1][1]
                if not rows or rows[-1][0]:
                    rows.append(("", []))
                rows[-1][1].append(float(words.text))
            elif sheets:
                rows = sheets[-1][1]
                if rows and rows[-1][0]:
                    rows[-1] = (f"{rows[-1][0]} {words.text}", [])
                else:
                    rows.append((words.text, []))
    return sheets


def _cells(marks: Sequence[float], length: float) -> list[float]:
    """What lies between marks, from the edge to the other end."""
    if sorted(marks) != list(marks) or (marks and marks[-1] > length + MARKED):
        raise Unclear(f"marks {marks} on {length}")
    return [b - a for a, b in zip([0.0, *marks], [*marks, length], strict=True)]


def _followed(rows: _Rows, long: float, short: float) -> tuple[list[Rectangle], Counter]:
    """The pieces that a sheet falls into."""
    text = "\n".join(words or " ".join(map(str, marks)) for words, marks in rows)
    text = re.sub(r" (?=(?:Strips? \d|Pieces for|Gives|Cut the long way))", "\n", text)
    strips, pieces, gives = [short], [], Counter()
    crossed: dict[int, list[Rectangle]] = {}
    lines = iter(text.split("\n"))
    for line in lines:
        if line.startswith("On both short sides, from A:"):
            strips = _cells([float(m) for m in next(lines).split()], short)
        elif line.startswith("On both long sides, from B:"):
            wide = _cells([float(m) for m in next(lines).split()], long)
            for number, deep in enumerate(strips, 1):
                crossed[number] = [Rectangle("", w, deep) for w in wide]
        elif line.startswith("Cut the long way from mark to mark."):
            pass
        elif strip := re.match(r"Strips? (\d+)(?: to (\d+), lying side by side)?: (.*)", line):
            runs = [(int(n), name) for n, name in re.findall(r"(\d+) ((?:for )?\w+(?: and \w+)*)", strip[3])]
            names = [name for n, name in runs for _ in range(n)]
            for number in range(int(strip[1]), int(strip[2] or strip[1]) + 1):
                crossed[number] = [Rectangle(name, 0.0, strips[number - 1]) for name in names]
            pending = range(int(strip[1]), int(strip[2] or strip[1]) + 1)
            marks = next(lines)
            if not re.match(r"[\d. ]+$", marks):
                raise Unclear(f"{line}: no marks, but {marks}")
            wide = _cells([float(m) for m in marks.split()], long)
            if len(wide) not in (len(names), len(names) + 1):
                raise Unclear(f"{line}: {len(names)} parts in {len(wide)} pieces")
            for number in pending:
                named = [*names, *[""] * (len(wide) - len(names))]
                crossed[number] = [Rectangle(n, w, strips[number - 1]) for n, w in zip(named, wide, strict=True)]
        elif more := re.match(r"Pieces (for [\w ]+?), ([\d.]+) mm long: mark them from (A|B) at ([\d. ]+) and cut", line):
            _cut_again(crossed, more[1], float(more[2]), more[3], [float(m) for m in more[4].split()])
        elif line.startswith("Gives "):
            for n, name in re.findall(r"(\d+) (\w+)", line):
                gives[name] += int(n)
        elif line.strip():
            raise Unclear(line)
    if not crossed:
        raise Unclear(f"nothing is cut: {text}")
    for found in crossed.values():
        pieces += found
    return pieces, gives


def _cut_again(
    crossed: dict[int, list[Rectangle]], name: str, length: float, edge: str, marks: Sequence[float]
) -> None:
    """The third cuts: all pieces of that name and length."""
    done = False
    for number, found in crossed.items():
        new: list[Rectangle] = []
        for piece in found:
            if piece.name != name or abs(piece.width - length) > MARKED:
                new.append(piece)
                continue
            done = True
            if edge == "A":
                new += [Rectangle("", piece.width, h) for h in _cells(marks, piece.height)]
            else:
                new += [Rectangle("", w, piece.height) for w in _cells(marks, piece.width)]
        crossed[number] = new
    if not done:
        raise Unclear(f"no pieces {name}, {length} mm long")


def _named(pieces: list[Rectangle], gives: Counter, sizes: dict[str, tuple[float, float]], where: str) -> None:
    """Names for pieces without one, by their measures; all that the sheet gives must be there."""
    left = Counter(gives)
    for n, piece in enumerate(pieces):
        if piece.name and not piece.name.startswith("for "):
            left[piece.name] -= 1
    for n, piece in enumerate(pieces):
        if piece.name.startswith("for "):
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
