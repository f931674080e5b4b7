"""What is owned already: what is left to make for a kit, what is spare, and which plan is nearest to hand."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import product
from typing import Any

from tilegen.errors import InputError, a_few, nearest
from tilegen.plans.kit import Kit
from tilegen.tiles.identity import ALPHABET, ID_LENGTH
from tilegen.tiles.names import name_of, without_features
from tilegen.tiles.shape import OPEN, WALL, Cell, Side, single_cell

# A key of TOML that needs no quotes.
_BARE = re.compile("[A-Za-z0-9_-]+")
_ID = re.compile(f"[{ALPHABET}]{{{ID_LENGTH}}}")


@dataclass(frozen=True)
class Shelf:
    """Tiles and loose pieces at hand, by the name or id they are written under; file: where that is."""

    tiles: Mapping[str, int] = field(default_factory=dict)
    pieces: Mapping[str, int] = field(default_factory=dict)
    file: str = ""


@dataclass(frozen=True, slots=True)
class StockEntry:
    """One type: needed by the kit, owned, to make, spare."""

    name: str
    id: str
    need: int
    own: int

    @property
    def make(self) -> int:
        """How many are missing."""
        return max(0, self.need - self.own)

    @property
    def spare(self) -> int:
        """How many the kit leaves on the shelf."""
        return max(0, self.own - self.need)


@dataclass(frozen=True)
class Stocktaking:
    """A kit against a shelf, in the order of the kit; unused: what the kit has no use for, as written."""

    plan: str
    tiles: tuple[StockEntry, ...]
    pieces: tuple[StockEntry, ...]
    unused: tuple[tuple[str, int], ...]

    @property
    def missing_tiles(self) -> int:
        """Tiles to make."""
        return sum(entry.make for entry in self.tiles)

    @property
    def missing_pieces(self) -> int:
        """Loose pieces to make."""
        return sum(entry.make for entry in self.pieces)


def take_stock(kit: Kit, shelf: Shelf, others: Sequence[Kit] = ()) -> Stocktaking:
    """What a kit needs, what of it is owned, what to make and what is spare.

    A type is named by its name in the kit or by its id, in capital or small letters; both add up. Other names
    that tiles go by, names of `others` and words formed like an id may be there too: the kit has no use for them.

    Raises:
        InputError: a name that is unknown, or that stands for more than one type (offers what it may be).
        ValueError: fewer than none owned.
    """
    if any(count < 0 for count in (*shelf.tiles.values(), *shelf.pieces.values())):
        raise ValueError("a shelf with fewer than none of a tile or a piece")
    tiles = {t.tile.id: (t.name, t.count) for t in kit.types}
    pieces = {p.piece.id: (p.name, p.count) for p in kit.pieces}
    known_tiles = {name: key for other in others for t in other.types for name, key in ((t.name, t.tile.id),)}
    known_pieces = {p.name: p.piece.id for other in others for p in other.pieces}
    tile_stock, unused_tiles = _matched(tiles, shelf.tiles, known_tiles, shelf.file, "tiles")
    piece_stock, unused_pieces = _matched(pieces, shelf.pieces, known_pieces, shelf.file, "pieces")
    return Stocktaking(kit.plan, tile_stock, piece_stock, (*unused_tiles, *unused_pieces))


def shelf_toml(counts: Iterable[tuple[str, str, int]], shelf: Shelf, stocks: Sequence[Stocktaking]) -> bytes:
    """A shelf file of (id, name, count), and of what a shelf holds besides.

    stocks: kits against the shelf: what none of them has a use for stays on it as it is written. Loose pieces follow
    tiles.
    """
    pieces = {entry.id for stock in stocks for entry in stock.pieces}
    rows = list(counts)
    named = {word.lower() for key, name, _ in rows for word in (key, name)}
    lines = ["# What you own once all of this is made, for --own of the next run."]
    for table, owned in (("tiles", shelf.tiles), ("pieces", shelf.pieces)):
        lines.append(f"\n[{table}]")
        lines += [f"{key} = {n}  # {name}" for key, name, n in rows if n and (key in pieces) == (table == "pieces")]
        unused = {word: n for word, n in owned.items() if n and all((word, n) in stock.unused for stock in stocks)}
        left = {word: n for word, n in unused.items() if word.lower() not in named}
        lines += [f"{word if _BARE.fullmatch(word) else json.dumps(word)} = {n}" for word, n in left.items()]
    return ("\n".join(lines) + "\n").encode()


def _matched(
    needed: Mapping[str, tuple[str, int]], owned: Mapping[str, int], known: Mapping[str, str], file: str, table: str
) -> tuple[tuple[StockEntry, ...], list[tuple[str, int]]]:
    own = dict.fromkeys(needed, 0)
    unused = []
    for word, count in owned.items():
        key = _id_of(word, needed, known)
        if key in own:
            own[key] += count
            continue
        alike = [name for key, (name, _) in needed.items() if name == f"{word.lower()}-{key.lower()}"]
        if alike or (key is None and not _is_plain(word, table)):
            sort = "tile" if table == "tiles" else "loose piece"
            raise InputError(
                f'no {sort} is called "{word}"',
                cure=_offer(
                    word, alike, [*(name for name, _ in needed.values()), *known, *sorted(_plain_names(table))]
                ),
                file=file,
                place=f"[{table}]",
            )
        unused.append((word, count))
    return tuple(StockEntry(name, key, need, own[key]) for key, (name, need) in needed.items()), unused


def _id_of(word: str, needed: Mapping[str, tuple[str, int]], known: Mapping[str, str]) -> str | None:
    """The id a word on the shelf stands for; None if it is not known."""
    for key, (name, _) in needed.items():
        if word.lower() in (key.lower(), name.lower()):
            return key
    for name, key in known.items():
        if word.lower() in (key.lower(), name.lower()):
            return key
    return word.upper() if _ID.fullmatch(word.upper()) else None


def _offer(word: str, alike: Sequence[str], known: Sequence[str]) -> str:
    if alike:
        return f"Several have this name, so write it with its id: {a_few(alike)}"
    close = nearest(word.lower(), known)
    return close if close.startswith("Did") else "Use the names or ids that tilegen kit lists"


def _is_plain(word: str, table: str) -> bool:
    """Whether some plan's tile could be called so, with or without the id after it."""
    plain, _, key = word.lower().rpartition("-")
    names = _plain_names(table)
    if without_features(word.lower()) in names:
        return True
    return without_features(plain) in names and bool(_ID.fullmatch(key.upper()))


@cache
def _plain_names(table: str) -> frozenset[str]:
    """Every name that tiles of one cell and their parts go by."""
    if table == "pieces":
        return frozenset({"saddle-door"})
    kinds = (OPEN, WALL, Side("doorway"))
    names = set()
    for sides in product(kinds, repeat=4):
        free = [not (sides[k].carries or sides[(k + 1) % 4].carries) for k in range(4)]
        for posts in product(*((False, True) if f else (False,) for f in free)):
            cell = Cell(sides, posts)  # type: ignore[arg-type]
            names.add(name_of(single_cell(cell, (2.0, 2.0)).own_pose()))
    names.add("mixed")
    return frozenset(prefix + name for name in names for prefix in ("", "half-", "quarter-", "three-quarter-"))


@dataclass(frozen=True, slots=True)
class Ranked:
    """A plan and what it takes beyond the shelf."""

    plan: str
    tiles: int
    missing_tiles: int
    missing_pieces: int


def rank_plans(kits: Sequence[Kit], shelf: Shelf) -> tuple[Ranked, ...]:
    """What else could be laid from the shelf: plans by tiles missing, then pieces missing, then as given.

    Raises:
        InputError: the shelf names a tile that none of the plans knows.
    """
    found = []
    for kit in kits:
        stock = take_stock(kit, shelf, others=kits)
        found.append(Ranked(kit.plan, kit.tiles, stock.missing_tiles, stock.missing_pieces))
    return tuple(sorted(found, key=lambda r: (r.missing_tiles, r.missing_pieces)))


def rank_record(ranked: tuple[Ranked, ...]) -> list[dict[str, Any]]:
    """The ranking as JSON, the nearest plan first."""
    return [
        {"plan": r.plan, "tiles": r.tiles, "missing_tiles": r.missing_tiles, "missing_pieces": r.missing_pieces}
        for r in ranked
    ]
