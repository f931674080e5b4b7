"""The report on sheets: stock, how each tile goes together, which parts make one."""

from __future__ import annotations

from html import escape

from tilegen.lengths import Units, in_units, show_length
from tilegen.pictures.assembly_view import assembly_svg
from tilegen.pictures.markup import figure, inline_picture, listed, numbered, table
from tilegen.pictures.reported import Report
from tilegen.sheets.sheetset import SheetSet


def cutting(sheets: SheetSet, report: Report, units: Units) -> str:
    """What is cut from one material, with every sheet."""
    material, machine = sheets.material, sheets.machine
    kerf = in_units(sheets.kerf_words, units)
    stock = [
        f"{count} of {' x '.join(show_length(side, units) for side in size)}"
        for size, count in sheets.new_sheets.items()
    ]
    stock += [f"offcut {escape(sheet.offcut)}" for sheet in sheets.sheets if sheet.offcut]
    text = (
        f"<p>Sheets: {', '.join(stock)}; {escape(machine.title)}; kerf compensated: {kerf}. "
        f"Thickness reckoned with: {show_length(material.real_thickness, units)}; measure yours first.</p>"
    )
    pictures = "".join(
        figure(report.files[f"sheets/{sheet.name}.svg"], f"sheet {sheet.name}")
        + f"<p>{escape(sheet.name)}, {sheet.used:.0%} used</p>"
        for sheet in sheets.sheets
    )
    steps = _assemblies(sheets, units)
    of_one = {note for each in report.sheets for note in each.notes}
    of_all = [note for note in dict.fromkeys(report.cutting) if note not in of_one]
    return (
        text
        + listed(in_units(note, units) for note in (*sheets.notes, *of_all))
        + _by_tile(sheets, report)
        + steps
        + f"<div class='sheets'>{pictures}</div>"
    )


def _assemblies(sheets: SheetSet, units: Units) -> str:
    """A numbered picture of each type with its steps."""
    if not sheets.assemblies:
        return ""
    cards = []
    for made in sheets.assemblies:
        name = escape(made.name)
        head = f"<b>{numbered(sheets.numbers, made.id)}{name}</b> <code>{made.id}</code>"
        picture = inline_picture(assembly_svg(made), f"{name}, numbered in the order of work")
        steps = listed((in_units(step.words, units) for step in made.steps), "ol")
        cards.append(f'<div class="card"><div class="plan">{picture}</div><div>{head}{steps}</div></div>')
    return f"<h3>How each tile goes together</h3><div class='cards'>{''.join(cards)}</div>"


def _by_tile(sheets: SheetSet, report: Report) -> str:
    """Which parts go into one tile of each type."""
    parts: dict[str, list[str]] = {}
    counts = {thing.id: count for thing, count in report.things}
    for part in (*sheets.parts, *sheets.cores):
        per_tile: dict[str, int] = {}
        for use in part.uses:
            per_tile[use.tile] = per_tile.get(use.tile, 0) + use.count
        for tile, number in per_tile.items():
            one = number // counts[tile]
            times = f"{one} x " if one > 1 else ""
            parts.setdefault(tile, []).append(f"{times}{part.id} ({part.name})")
    rows = [
        (
            f"{numbered(report.numbers, thing.id)}{escape(thing.name)} <code>{thing.id}</code>",
            str(count),
            escape(", ".join(parts.get(thing.id, []))),
        )
        for thing, count in report.things
        if thing.id in parts
    ]
    return "<h3>Parts of one tile</h3>" + table(("tile", "tiles", "parts of one"), rows)
