"""One kit for several plans: enough to lay any one of them, or all of them at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from tilegen.errors import InputError
from tilegen.lengths import show_number
from tilegen.model.grid import TABLES, Grid
from tilegen.plans.kit import Kit, TileType
from tilegen.plans.record import grid_record, tile_record
from tilegen.tiles.loose import Piece
from tilegen.tiles.tile import Tile


@dataclass(frozen=True)
class SharedTile:
    """One type of tile. counts: how many each plan needs; count: how many the shared kit has."""

    name: str
    tile: Tile
    counts: tuple[int, ...]
    count: int
    by_plan: tuple[TileType | None, ...]


@dataclass(frozen=True)
class SharedPiece:
    """One type of loose piece, in the same way."""

    name: str
    piece: Piece
    counts: tuple[int, ...]
    count: int


@dataclass(frozen=True)
class SharedKit:
    """Everything several plans are laid from; together: all at once, else any one of them."""

    plans: tuple[str, ...]
    grid: Grid
    together: bool
    types: tuple[SharedTile, ...]
    pieces: tuple[SharedPiece, ...]

    @property
    def tiles(self) -> int:
        """All tiles of all types."""
        return sum(t.count for t in self.types)


def share_kit(kits: Sequence[Kit], *, together: bool = False) -> SharedKit:
    """One kit for several: of each type the most that any plan needs, or together the sum. Equal ids are one type.

    Raises:
        InputError: no kit, or kits on different grids (says what differs).
    """
    if not kits:
        raise InputError("no plan is given", cure="Give at least one")
    for kit in kits[1:]:
        check_same_grid(kits[0], kit)
    types = _shared_tiles(kits, together=together)
    pieces = _shared_pieces(kits, together=together)
    return SharedKit(tuple(kit.plan for kit in kits), kits[0].grid, together, types, pieces)


def check_same_grid(first: Kit, other: Kit) -> None:
    """Refuse two kits whose tiles don't go together.

    `[doorway]` and the floors of single rooms may differ: they are only what ways and rooms default to. So may how a
    set is built.

    Raises:
        InputError: names the first measure that differs, in both plans.
    """
    here, there = asdict(first.grid), asdict(other.grid)
    tables = [(table, here.pop(table), there.pop(table)) for table in TABLES if table != "grid"]
    alike = [("grid", here, there), *(table for table in tables if table[0] not in ("doorway", "set"))]
    for table, one, two in alike:
        for name, value in one.items():
            if name != "rooms" and value != two[name]:
                raise InputError(
                    f'"{first.plan}" has {_shown(name, value)} and "{other.plan}" has {_shown(name, two[name])}, so '
                    "their tiles would not fit together",
                    cure="Give both plans the same grid, for example with --grid, or count them one at a time",
                    place=f"[{table}] {name}",
                )


def _shown(name: str, value: str | float | None) -> str:
    if value is None or isinstance(value, str):
        return "none" if value is None else f'"{value}"'
    return str(value).lower() if isinstance(value, bool) else show_number(value) + ("" if name == "spaces" else " mm")


def _together(counts: Sequence[int], *, together: bool) -> int:
    return sum(counts) if together else max(counts)


def _shared_tiles(kits: Sequence[Kit], *, together: bool) -> tuple[SharedTile, ...]:
    by_id: dict[str, list[TileType | None]] = {}
    for number, kit in enumerate(kits):
        for kind in kit.types:
            by_id.setdefault(kind.tile.id, [None] * len(kits))[number] = kind
    names = _names({key: [kind.name for kind in kinds if kind] for key, kinds in by_id.items()})
    found = []
    for key, kinds in by_id.items():
        counts = tuple(kind.count if kind else 0 for kind in kinds)
        tile = next(kind.tile for kind in kinds if kind)
        found.append(SharedTile(names[key], tile, counts, _together(counts, together=together), tuple(kinds)))
    return tuple(sorted(found, key=lambda t: -t.count))


def _shared_pieces(kits: Sequence[Kit], *, together: bool) -> tuple[SharedPiece, ...]:
    by_id: dict[str, Counter[int]] = {}
    pieces: dict[str, Piece] = {}
    given: dict[str, list[str]] = {}
    for number, kit in enumerate(kits):
        for kind in kit.pieces:
            key = kind.piece.id
            by_id.setdefault(key, Counter())[number] += kind.count
            pieces.setdefault(key, kind.piece)
            given.setdefault(key, []).append(kind.name)
    names = _names(given)
    found = []
    for key, counter in by_id.items():
        counts = tuple(counter[number] for number in range(len(kits)))
        found.append(SharedPiece(names[key], pieces[key], counts, _together(counts, together=together)))
    return tuple(sorted(found, key=lambda p: (-p.count, p.piece.id)))


def _names(given: dict[str, list[str]]) -> dict[str, str]:
    """One name for each id: its shortest in any kit, with the id added where two would be called alike."""
    names = {key: min(words, key=len) for key, words in given.items()}
    seen = Counter(names.values())
    return {
        key: name if seen[name] == 1 or name.endswith(key.lower()) else f"{name}-{key.lower()}"
        for key, name in names.items()
    }


def shared_record(shared: SharedKit, *, places: bool = True) -> dict[str, Any]:
    """The shared kit as JSON: a kit's keys, with `plans`, `together`, and `counts` of each type by plan.

    A place names its plan too; places: whether to list them (a large plan has very many).
    """
    tiles = []
    for kind in shared.types:
        first = next(t for t in kind.by_plan if t)
        record = tile_record(first, {"counts": list(kind.counts)})
        record |= {"name": kind.name, "count": kind.count, "places": _places(shared, kind) if places else []}
        tiles.append(record)
    return {
        "plan": " + ".join(shared.plans),
        "plans": list(shared.plans),
        "together": shared.together,
        "grid": grid_record(shared.grid),
        "tiles": tiles,
        "pieces": [
            {"name": p.name, "id": p.piece.id, "count": p.count, "counts": list(p.counts)} for p in shared.pieces
        ],
        "totals": {"tiles": shared.tiles, "types": len(shared.types)},
    }


def _places(shared: SharedKit, kind: SharedTile) -> list[dict[str, Any]]:
    return [
        {"plan": plan, "cell": [column, row], "quarter_turns": turns}
        for plan, there in zip(shared.plans, kind.by_plan, strict=True)
        if there is not None
        for column, row, turns in there.places.tolist()
    ]
