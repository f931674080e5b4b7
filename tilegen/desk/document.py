"""A plan's text in parts that edits replace one by one: the drawing, the tables, and all that is before them.

What no edit touches stays as it was written, to the byte; comments above a table belong to it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import tomlkit
from pydantic import ValidationError
from shapely.affinity import scale
from shapely.geometry import Polygon

from tilegen.errors import InputError, TilegenError
from tilegen.files.plans import drawn_shapes
from tilegen.files.tables import ShapeTable
from tilegen.files.toml import parse_toml
from tilegen.model.grid import Door, DoorwaySize
from tilegen.plans.shapes import polygon_of

# Outlines are made at this size of a cell in mm, then told in cells.
_CELL = 100.0
# Texts, comments, brackets and line ends of TOML 1.0: all that decides where a table begins.
_TOKENS = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' + r"'''.*?'{3,5}" + r'|"(?:\\.|[^"\\\n])*"|' + r"'[^'\n]*'|#[^\n]*|[\[\]{}\n]", re.S
)
_DRAWING = re.compile(r"""^[ \t]*(?:drawing|"drawing"|'drawing')[ \t]*=[ \t]*$""")
_CELL_LINE = re.compile(r"^([ \t]*(?:cell|to)[ \t]*=[ \t]*\[[ \t]*)(-?\d+)([ \t]*,[ \t]*)(-?\d+)(?=[ \t]*\])", re.M)
_HOLE = '"\\u0000"'
# The tables of which a plan may have several.
SEVERAL = ("way", "wall", "shape", "feature")
Value = Any


@dataclass(frozen=True, slots=True)
class TableText:
    """One table with its header, the comments above it and the blank lines after it."""

    path: tuple[str, ...]
    text: str

    @property
    def several(self) -> bool:
        """Whether there may be more of it."""
        return self.path[0] in SEVERAL

    @property
    def data(self) -> dict[str, Value]:
        """Its keys and values; not to be changed."""
        return _data_of(self.path, self.text)


@lru_cache(maxsize=60_000)
def _data_of(path: tuple[str, ...], text: str) -> dict[str, Value]:
    found: Any = tomllib.loads(text)
    for key in path:
        found = found[key]
        if isinstance(found, list):
            found = found[0]
    return dict(found)


@dataclass(frozen=True)
class Document:
    """A plan's text. before, after: what stands before and after the text of the drawing, above all tables."""

    before: str
    drawing: str
    after: str
    blocks: tuple[TableText, ...]

    @cached_property
    def text(self) -> str:
        """All of it."""
        return "".join([self.before, self.drawing, self.after, *(block.text for block in self.blocks)])

    @cached_property
    def data(self) -> dict[str, Value]:
        """All tables, as TOML reads them; not to be changed."""
        found = tomllib.loads(f'{self.before}""{self.after}')
        found["drawing"] = _text_of(self.drawing)
        for block in self.blocks:
            if block.several:
                found.setdefault(block.path[0], []).append(block.data)
                continue
            table = found
            for key in block.path:
                table = table.setdefault(key, {})
            table.update(block.data)
        return found

    @cached_property
    def rows(self) -> list[str]:
        """The drawing's rows, blanks between cells left out, all of one length."""
        return rows_of(self.data)

    def tables(self, name: str) -> list[dict[str, Value]]:
        """The tables of one name, of those that there may be several of."""
        return [block.data for block in self.blocks if block.path[0] == name]

    def with_rows(self, rows: Sequence[str]) -> Document:
        """Another drawing."""
        if list(rows) == self.rows:
            return self
        line = "\r\n" if "\r\n" in self.drawing else "\n"
        apart = " " if " " in self.data["drawing"].strip() or len(self.rows[0]) == 1 else ""
        body = "".join(f"{apart.join(row)}{line}" for row in rows)
        return replace(self, drawing=f'"""{line}{body}"""')

    def without(self, name: str, gone: Iterable[int]) -> Document:
        """Some tables of a name less, by their numbers from 0."""
        numbers = set(gone)
        if not numbers:
            return self
        places = [place for number, place in enumerate(self._places(name)) if number in numbers]
        return replace(self, blocks=tuple(b for place, b in enumerate(self.blocks) if place not in places))

    def plus(self, name: str, values: Mapping[str, Value]) -> Document:
        """One more table of a name, behind the others."""
        line = self._line_end
        places = self._places(name)
        at = places[-1] + 1 if places else len(self.blocks)
        body = "".join(f"{key} = {toml(value)}{line}" for key, value in values.items())
        block = TableText((name,), f"[[{name}]]{line}{body}")
        return self._joined(at, block)

    def changed(self, name: str, number: int, values: Mapping[str, Value]) -> Document:
        """Other values in one table; None takes a key away."""
        place = self._places(name)[number]
        block = self.blocks[place]
        wanted = {k: v for k, v in values.items() if block.data.get(k) != v}
        if not wanted:
            return self

        def write(table: Any) -> None:  # noqa: ANN401 - a table of tomlkit
            for key, value in wanted.items():
                _put(table, key, value)

        text = _edited(block.text, block.path, write)
        return replace(self, blocks=(*self.blocks[:place], replace(block, text=text), *self.blocks[place + 1 :]))

    def put(self, path: Sequence[str], value: Value) -> Document:
        """A key of a table of which there is one; None takes it away, and its table if that is empty then."""
        *tables, key = path
        place = self._place_of(tables)
        if place is not None:
            block = self.blocks[place]
            rest = path[len(block.path) :]
            fresh = replace(block, text=_edited(block.text, block.path, lambda table: _put_in(table, rest, value)))
            kept = () if value is None and not fresh.data and "#" not in fresh.text else (fresh,)
            return replace(self, blocks=(*self.blocks[:place], *kept, *self.blocks[place + 1 :]))
        head = tomllib.loads(f'{self.before}""{self.after}')
        if not tables or tables[0] in head:
            text = _edited(f"{self.before}{_HOLE}{self.after}", (), lambda table: _put_in(table, path, value))
            before, _, after = text.partition(_HOLE)
            return replace(self, before=before, after=after)
        if value is None:
            return self
        line = self._line_end
        header = ".".join(_key(one) for one in tables)
        block = TableText(tuple(tables), f"[{header}]{line}{_key(key)} = {toml(value)}{line}")
        last = max((n for n, b in enumerate(self.blocks) if b.path[0] == tables[0]), default=len(self.blocks) - 1)
        return self._joined(last + 1, block)

    def shifted(self, west: int, north: int) -> Document:
        """All that has a place, moved by so many cells; the drawing is left as it is."""
        if not (west or north):
            return self
        return replace(self, blocks=tuple(_shifted(block, west, north) for block in self.blocks))

    def _place_of(self, tables: Sequence[str]) -> int | None:
        """The block that has a table: its own, or one that holds it in one of its keys."""
        for length in range(len(tables), 0, -1):
            for place, block in enumerate(self.blocks):
                own = block.path == tuple(tables[:length])
                if own and (length == len(tables) or tables[length] in block.data):
                    return place
        return None

    @property
    def _line_end(self) -> str:
        return "\r\n" if "\r\n" in f"{self.before}{self.drawing}{self.after}" else "\n"

    def _places(self, name: str) -> list[int]:
        return [place for place, block in enumerate(self.blocks) if block.path[0] == name]

    def _joined(self, at: int, block: TableText) -> Document:
        """One more block, with a blank line before it, and after it if it is not the last."""
        line = self._line_end
        before, after, blocks = self.before, self.after, list(self.blocks)
        if at:
            blocks[at - 1] = replace(blocks[at - 1], text=_ended(blocks[at - 1].text, line))
        else:
            after = _ended(after, line)
        if at < len(blocks):
            block = replace(block, text=block.text + line)
        return Document(before, self.drawing, after, (*blocks[:at], block, *blocks[at:]))


def _text_of(quoted: str) -> str:
    """What a text of TOML says; a large drawing is seldom written with escapes."""
    if quoted.startswith('"""') and "\\" not in quoted:
        return quoted[3:-3].replace("\r\n", "\n").removeprefix("\n")
    found: str = tomllib.loads(f"d = {quoted}")["d"]
    return found


def document_of(text: str) -> Document:
    """A text in its parts.

    Raises:
        InputError: it is no TOML, or has no drawing.
    """
    parse_toml(text, "")
    starts: list[int] = []
    drawing: tuple[int, int] | None = None
    depth, line = 0, 0
    for token in _TOKENS.finditer(text):
        sign = token[0]
        if sign == "\n":
            line = token.end()
        elif sign in "[{":
            if depth == 0 and sign == "[" and not text[line : token.start()].strip():
                starts.append(line)
            depth += 1
        elif sign in "]}":
            depth -= 1
        elif depth == 0 and sign[0] in "\"'" and not starts and _DRAWING.match(text[line : token.start()]):
            drawing = token.span()
        if sign[0] in "\"'" and "\n" in sign:
            line = token.start() + sign.rindex("\n") + 1
    if drawing is None:
        raise InputError(
            '"drawing" is missing',
            cure='Add drawing = """ with the rows of the map below it, and a line with """ after them',
        )
    starts = [_above(text, start, drawing[1]) for start in starts]
    ends = [*starts[1:], len(text)][: len(starts)]
    head = starts[0] if starts else len(text)
    found = Document(text[: drawing[0]], text[slice(*drawing)], text[drawing[1] : head], ())
    return _settled(found, [text[start:end] for start, end in zip(starts, ends, strict=True)])


def _above(text: str, start: int, least: int) -> int:
    """Where the comments begin that stand right above a header."""
    while start > least:
        line = text.rfind("\n", least, start - 1) + 1
        if line <= least or not text[line:start].lstrip().startswith("#"):
            break
        start = line
    return start


def _settled(head: Document, texts: Sequence[str]) -> Document:
    """The blocks: tables within one of several belong to it, and a list of several in one key becomes tables."""
    blocks: list[TableText] = []
    for text in texts:
        path = _path_of(text)
        if len(path) > 1 and path[0] in SEVERAL:
            last = max(n for n, block in enumerate(blocks) if block.path[0] == path[0])
            blocks[last] = replace(blocks[last], text=blocks[last].text + text)
        else:
            blocks.append(TableText(path, text))
    found = replace(head, blocks=tuple(blocks))
    listed = tomllib.loads(f'{head.before}""{head.after}')
    for name in SEVERAL:
        for table in listed.get(name, []):
            found = found.plus(name, table)
        if name in listed:
            found = found.put([name], None)
    return found


def _path_of(block: str) -> tuple[str, ...]:
    """The path of a block's header."""
    header = next(line for line in block.splitlines() if line.lstrip().startswith("["))
    found: Any = tomllib.loads(header)
    path = []
    while found:
        ((key, found),) = found.items()
        path.append(key)
        if isinstance(found, list):
            found = found[0]
    return tuple(path)


def _edited(text: str, path: Sequence[str], write: Callable[[Any], None]) -> str:
    """A part of a text with something written into its table, and the rest of it as it was."""
    document = tomlkit.parse(text)
    table: Any = document
    for key in path:
        table = table[key]
        if isinstance(table, list):
            table = table[0]
    write(table)
    return tomlkit.dumps(document)


def _put(table: Any, key: str, value: Value) -> None:  # noqa: ANN401 - a table of tomlkit
    if value is None:
        table.pop(key, None)
    else:
        table[key] = _item(value)


def _put_in(table: Any, path: Sequence[str], value: Value) -> None:  # noqa: ANN401 - a table of tomlkit
    *tables, key = path
    for name in tables:
        if name not in table:
            if value is None:
                return
            table[name] = tomlkit.inline_table()
        table = table[name]
    _put(table, key, value)


def _item(value: Value) -> Any:  # noqa: ANN401 - an item of tomlkit
    if not isinstance(value, Mapping):
        return value
    table = tomlkit.inline_table()
    table.update({key: _item(one) for key, one in value.items()})
    return table


def _ended(text: str, line: str) -> str:
    """A text that ends with a blank line."""
    text = text if text.endswith("\n") else text + line
    return text if text.endswith("\n" + line) else text + line


def toml(value: Value) -> str:
    """A plain value as TOML in one line."""
    return str(tomlkit.item(_item(value)).as_string())


def _key(word: str) -> str:
    return word if re.fullmatch(r"[A-Za-z0-9_-]+", word) else toml(word)


def _shifted(block: TableText, west: int, north: int) -> TableText:
    """A block whose cells and points lie further east and south."""
    wanted: dict[str, Value]
    if block.path[0] in ("way", "wall", "feature") and "cell" in block.data:
        text = _CELL_LINE.sub(lambda m: f"{m[1]}{int(m[2]) + west}{m[3]}{int(m[4]) + north}", block.text)
        wanted = {k: [block.data[k][0] + west, block.data[k][1] + north] for k in ("cell", "to") if k in block.data}
        if all(_data_of(block.path, text).get(key) == value for key, value in wanted.items()):
            return replace(block, text=text)
    elif block.path[0] == "way" and is_spot(block.data.get("at")):
        wanted = {"at": spot_moved(block.data["at"], west, north)}
    elif block.path[0] == "shape":
        wanted = form_moved(block.data, west, north)
    else:
        return block
    return replace(block, text=_edited(block.text, block.path, lambda table: _put_all(table, wanted)))


def _put_all(table: Any, values: Mapping[str, Value]) -> None:  # noqa: ANN401 - a table of tomlkit
    for key, value in values.items():
        if isinstance(value, Mapping):
            _put_all(table[key], value)
        else:
            table[key] = value


def form_moved(table: Mapping[str, Value], dx: float, dy: float) -> dict[str, Value]:
    """The form of a `[[shape]]` table with its places elsewhere."""
    found: dict[str, Value] = {}
    for form, keys in (("circle", ["centre"]), ("arc", ["centre"]), ("hall", ["from", "to"])):
        if form in table:
            places = {key: spot_moved(table[form][key], dx, dy) for key in keys if is_spot(table[form].get(key))}
            found[form] = {**table[form], **places}
    if "polygon" in table:
        found["polygon"] = [[*spot_moved(corner[:2], dx, dy), *corner[2:]] for corner in table["polygon"]]
    return found


def is_spot(value: object) -> bool:
    """Whether a value is a point rather than a number along a side."""
    return isinstance(value, list) and len(value) >= len(("x", "y"))


def spot_moved(spot: Sequence[Any], dx: float, dy: float) -> list[float]:
    """A point elsewhere, as it is written."""
    return [number(spot[0] + dx), number(spot[1] + dy)]


def number(value: float) -> float:
    """Rounded, and whole numbers as such."""
    found = round(float(value), 4)
    return int(found) if found == int(found) else found


def outline_of(table: Mapping[str, Any], cell: float = _CELL) -> Polygon | None:
    """The outline of a `[[shape]]` table in cells, y down; None if it is none that can be drawn.

    cell: the side of a cell, mm, by which its arcs are divided.
    """
    try:
        (drawn,) = drawn_shapes([ShapeTable.model_validate(dict(table))])
        found: Polygon = polygon_of(drawn, cell)
        return scale(found, 1 / cell, 1 / cell, origin=(0, 0))
    except (TilegenError, ValidationError, ValueError):
        return None


def rows_of(document: Mapping[str, Any]) -> list[str]:
    """The drawing's rows, blanks between cells left out, all of one length."""
    rows = [row for row in ("".join(raw.split()) for raw in str(document["drawing"]).splitlines()) if row]
    width = max(map(len, rows), default=1)
    return [row.ljust(width, ".") for row in rows] or ["."]


def usual_looks(data: Mapping[str, Any]) -> dict[str, str]:
    """What closes a way of a plan that says nothing itself, and how it ends at the top."""
    leaf, head = data.get("door", {}).get("leaf"), data.get("doorway", {}).get("head")
    return {"leaf": str(leaf or Door().leaf), "head": str(head or DoorwaySize().head)}
