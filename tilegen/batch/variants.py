"""Which variants a batch has: lists of values on the command line, or a table with a variant a row."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tilegen.errors import InputError, as_written, nearest
from tilegen.files.csv_rows import read_rows
from tilegen.files.tables import TileTable
from tilegen.files.toml import check, read_toml
from tilegen.model.tables import Measures, Table

MOST_VARIANTS = 1_000_000
LONGEST_NAME = 100
# Short words for what is varied most; everything else is TABLE.KEY as in a file.
SHORT = {
    "pitch": ("grid", "pitch"),
    "spaces": ("grid", "spaces"),
    "wall": ("grid", "wall_thickness"),
    "height": ("grid", "wall_height"),
    "depth": ("grid", "base_depth"),
    "play": ("grid", "joint_play"),
    "size": ("tile", "size"),
    "walls": ("tile", "walls"),
}


@dataclass(frozen=True, slots=True)
class Setting:
    """One value of one parameter: where it goes in a profile's tables, and how a name shows it.

    label: its part of a variant's name. stamp: all that it changes, as text.
    """

    parameter: str
    table: str
    key: str
    value: Any
    shown: str
    label: str
    stamp: str


@dataclass(frozen=True, slots=True)
class Variant:
    """One combination of values; no choice at all is the profile as it stands."""

    choices: tuple[Setting, ...]

    def name(self, stem: str) -> str:
        """A name for files: the profile's, then each parameter with its value; lengths in millimetres.

        >>> Variant((choose("pitch", "1 1/4 in", ""), choose("wall", "0.25 in", ""))).name("corner")
        'corner_pitch-31.75_wall-6.35'
        """
        name = "_".join((stem, *(choice.label for choice in self.choices)))
        if len(name) <= LONGEST_NAME:
            return name
        return f"{name[: LONGEST_NAME - 13]}-{hashlib.sha256(name.encode()).hexdigest()[:12]}"

    @property
    def parameters(self) -> dict[str, str]:
        """The values by parameter, as the name shows them."""
        return {choice.parameter: choice.shown for choice in self.choices}

    @property
    def stamp(self) -> str:
        """All that the values change, as text."""
        return "\n".join(choice.stamp for choice in self.choices)

    def measures(self) -> Measures:
        """The tables of measures that go over all others."""
        return Measures.model_validate(self._tables(Measures.model_fields))

    def changes(self) -> dict[str, dict[str, Any]]:
        """What changes in a profile's own tables."""
        return self._tables(("tile", "opening"))

    def _tables(self, names: Mapping[str, Any] | Sequence[str]) -> dict[str, dict[str, Any]]:
        tables: dict[str, dict[str, Any]] = {}
        for choice in self.choices:
            if choice.table in names:
                tables.setdefault(choice.table, {})[choice.key] = choice.value
        return tables


@dataclass(frozen=True)
class Variation:
    """All variants of a batch: each row of a table with each combination of the lists."""

    lists: tuple[tuple[Setting, ...], ...]
    rows: tuple[Variant, ...] = field(default=(Variant(()),))

    @property
    def words(self) -> list[str]:
        """The lists as text, a line each."""
        return [f"{choices[0].parameter}={','.join(choice.shown for choice in choices)}" for choices in self.lists]

    @property
    def varied(self) -> list[Setting]:
        """A value of each parameter that is varied."""
        return [choice for choices in (*self.lists, self.rows[0].choices) for choice in choices]

    @property
    def count(self) -> int:
        """How many combinations there are, equal ones included."""
        return len(self.rows) * math.prod(map(len, self.lists))

    def __getitem__(self, number: int) -> Variant:
        """The variant at a place, from 0; the last list varies fastest."""
        chosen: list[Setting] = []
        for choices in reversed(self.lists):
            number, place = divmod(number, len(choices))
            chosen.insert(0, choices[place])
        return Variant((*self.rows[number].choices, *chosen))

    def __iter__(self) -> Iterator[Variant]:
        return map(self.__getitem__, range(self.count))


def vary(words: Sequence[str], rows: Sequence[Variant] | None = None) -> Variation:
    """The variants of words such as `pitch=1in,1.25in`, with each row of a table if there is one.

    Raises:
        InputError: a word that is not NAME=VALUE,VALUE, an unknown name, a value that is none, a name given twice.
    """
    lists: list[tuple[Setting, ...]] = []
    for word in words:
        name, equals, values = word.partition("=")
        place = f"--vary {name}"
        if not equals:
            raise InputError(
                f'"{word}" has no values', cure="Write a name and its values, as in pitch=1in,1.25in", place="--vary"
            )
        choices = {choice.shown: choice for choice in (choose(name, text, place) for text in values.split(","))}
        lists.append(tuple(choices.values()))
    taken = [(choices[0].table, choices[0].key) for choices in lists]
    in_rows = {(choice.table, choice.key) for row in rows or () for choice in row.choices}
    for number, key in enumerate(taken):
        if key in taken[:number] or key in in_rows:
            raise _twice(lists[number][0].parameter, "--vary")
    variation = Variation(tuple(lists)) if rows is None else Variation(tuple(lists), tuple(rows))
    if not 1 <= variation.count <= MOST_VARIANTS:
        raise _wrong_number(variation.count).located(place="--vary")
    return variation


def _twice(parameter: str, place: str) -> InputError:
    return InputError(f"{parameter} is varied twice", cure="Name each parameter once, with all its values", place=place)


def _wrong_number(count: int) -> InputError:
    if not count:
        return InputError("the table has no variants", cure="Write one row per variant below the heading")
    return InputError(f"this makes {count:,} variants", cure=f"Use at most {MOST_VARIANTS:,}")


def choose(parameter: str, text: str, place: str) -> Setting:
    """A parameter's value from text.

    Raises:
        InputError: an unknown parameter, or a value that it can't have.
    """
    parameter, text = parameter.strip(), text.strip()
    table, key = _where(parameter, place)
    if not text:
        raise InputError(f"a value of {parameter} is empty", cure="Give a value, or remove the comma", place=place)
    value = _checked(table, key, _written(table, key, text), place)
    shown = _shown(value)
    label = f"{parameter.replace('.', '-').replace('_', '-')}-{shown}"
    return Setting(parameter, table, key, value, shown, label, repr((table, key, value)))


def _where(parameter: str, place: str) -> tuple[str, str]:
    if parameter in SHORT:
        return SHORT[parameter]
    known = [*SHORT, *(f"{table}.{key}" for table, model in _tables().items() for key in model.model_fields)]
    if parameter not in known:
        raise InputError(
            f'"{parameter}" can\'t be varied',
            cure=nearest(parameter, known),
            place=place,
        )
    table, _, key = parameter.partition(".")
    return table, key


def _tables() -> dict[str, type[Table]]:
    """The tables whose keys can be varied, by name."""
    from tilegen.files.tables import OpeningTable  # noqa: PLC0415

    measures = {name: info.annotation for name, info in Measures.model_fields.items()}
    found = {**measures, "tile": TileTable, "opening": OpeningTable}
    return {name: model for name, model in found.items() if isinstance(model, type)}


def _written(table: str, key: str, text: str) -> Any:  # noqa: ANN401
    """The value that a TOML file would hold for this text."""
    if (table, key) == ("tile", "size"):
        return [_number(part) for part in text.lower().split("x")]
    if (table, key) in (("tile", "walls"), ("tile", "posts")):
        return [] if text == "none" else sorted({_number(part) for part in text.split("+")}, key=str)
    if text in ("true", "false", "yes", "no"):
        return text in ("true", "yes")
    return _number(text)


def _number(text: str) -> int | float | str:
    """A number where the text is one."""
    text = text.strip()
    if re.fullmatch(r"[+-]?\d{1,9}", text):
        return int(text)
    return float(text) if re.fullmatch(r"[+-]?(\d{1,9}\.\d*|\.\d+)", text) else text


def _checked(table: str, key: str, value: Any, place: str) -> Any:  # noqa: ANN401
    """A value as its model understands it."""
    model = _tables()[table]
    required = {"wall": 1} if table == "opening" and key != "wall" else {}
    try:
        checked = check({**required, key: value}, model, "")
    except InputError as error:
        raise error.moved(place=place) from None
    return getattr(checked, key)


def _shown(value: Any) -> str:  # noqa: ANN401
    """A value in letters, digits, full stops and hyphens; different values differ."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    if isinstance(value, tuple):
        return "x".join(_shown(float(part)) for part in value)
    if isinstance(value, list):
        return "-".join(_shown(part) for part in value) or "none"
    plain = re.sub(r"[^a-z0-9]+", "-", str(value).lower()).strip("-")
    return plain if plain == str(value) else f"{plain[:40]}-{hashlib.sha256(str(value).encode()).hexdigest()[:8]}"


Choose = Callable[[str, str, str], Setting]


def read_variants(path: Path) -> list[Variant]:
    """The variants of a table; an empty cell leaves the parameter as the profile has it.

    Raises:
        InputError: not readable, no rows, too many, or a value that is none, with its row and column.
    """
    rows = _toml_rows(path) if path.suffix.lower() == ".toml" else read_rows(path)
    seen: dict[tuple[str, str], Setting] = {}

    def once(parameter: str, text: str, place: str) -> Setting:
        if (parameter, text) not in seen:
            seen[parameter, text] = choose(parameter, text, place)
        return seen[parameter, text]

    try:
        found = [_variant(cells, place, once) for place, cells in rows]
    except InputError as error:
        raise error.located(file=str(path)) from None
    if not 1 <= len(found) <= MOST_VARIANTS:
        raise _wrong_number(len(found)).located(file=str(path))
    return found


def _variant(cells: dict[str, str], place: str, once: Choose) -> Variant:
    choices = tuple(once(name, text, f"{place}, {name}") for name, text in cells.items() if text)
    keys = [(choice.table, choice.key) for choice in choices]
    if len(set(keys)) < len(keys):
        doubled = next(choice for choice, key in zip(choices, keys, strict=True) if keys.count(key) > 1)
        raise _twice(doubled.parameter, place)
    return Variant(choices)


def _toml_rows(path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    tables = read_toml(path)
    rows: Any = tables.pop("variant", None)
    if tables or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        wrong = f'the key "{next(iter(tables))}" is not known here' if tables else "the table has no [[variant]]"
        raise InputError(wrong, cure="Write one [[variant]] per variant, and nothing else", file=str(path))
    for number, row in enumerate(rows, 1):
        place = f"[[variant]] {number}"
        yield place, {name: _as_text(value, f"{place}, {name}") for name, value in _flat(row)}


def _flat(row: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """`doorway.width = ...` in TOML is a table in a table."""
    for name, value in row.items():
        if isinstance(value, dict):
            yield from ((f"{name}.{key}", inner) for key, inner in value.items())
        else:
            yield name, value


def _as_text(value: Any, place: str) -> str:  # noqa: ANN401
    if isinstance(value, list) and all(isinstance(part, str | int | float) for part in value):
        numbers = all(isinstance(part, int | float) for part in value)
        return ("x" if numbers and place.endswith("size") else "+").join(map(str, value)) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str | int | float):
        return str(value)
    raise InputError(
        f"{as_written(value)} can't be a value here", cure="Use text, a number, true, false or a list", place=place
    )
