"""Tables for people, on standard output."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rich.console import Console
from rich.table import Table

from tilegen.errors import one_line
from tilegen.lengths import Units, counted, show_length
from tilegen.plans.kit import Kit
from tilegen.plans.layout import layout_numbers
from tilegen.tiles.shape import SIDES, CellShape


def show(*things: object) -> None:
    """Print tables or lines; wide enough for a file when standard output is none of a terminal's."""
    console = Console(soft_wrap=True, markup=False, emoji=False, highlight=False)
    if not console.is_terminal:
        console.width = 140
    for thing in things:
        console.print(one_line(thing) if isinstance(thing, str) else thing)


def kit_table(kit: Kit, units: Units, columns: Mapping[str, Mapping[str, str]] | None = None) -> Table:
    """The kit: count, name, id, sides and posts of each type; columns: further ones by heading, values by id."""
    more = columns or {}
    grid, numbers = kit.grid, layout_numbers(kit)
    title = (
        f"{kit.plan}: {counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')}, "
        f"each {show_length(grid.tile_side, units)} with walls of {show_length(grid.wall_thickness, units)}"
    )
    rows: list[tuple[str, ...]] = []
    for t in kit.types:
        shape = t.tile.shape
        edges = [edge or "mixed" for edge in shape.edges] if isinstance(shape, CellShape) else [""] * 4
        posts = ", ".join(shape.posts) if isinstance(shape, CellShape) else ""
        extra = [values.get(t.tile.id, "") for values in more.values()]
        rows.append((numbers[t.tile.id], str(t.count), *extra, t.name, t.tile.id, *edges, posts))
    for p in kit.pieces:
        extra = [values.get(p.piece.id, "") for values in more.values()]
        rows.append((numbers[p.piece.id], str(p.count), *extra, p.name, p.piece.id, "", "", "", "", ""))
    return plain_table(("no.", "count", *more, "tile", "id", *SIDES, "posts"), rows, title)


def plain_table(headings: Iterable[str], rows: Iterable[Iterable[str]], title: str = "") -> Table:
    """A table of texts."""
    table = Table(*map(one_line, headings), title=one_line(title) or None, title_justify="left")
    for row in rows:
        table.add_row(*map(one_line, row))
    return table
