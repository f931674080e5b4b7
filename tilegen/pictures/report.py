"""The report: one page that stands alone, with what to make, of what, in what order, and the cautions."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

from tilegen import __version__
from tilegen.lengths import Units, in_units, show_length
from tilegen.making import Wanted
from tilegen.pictures.assembly_view import assembly_svg
from tilegen.pictures.plan_view import plan_view_svg
from tilegen.pictures.report_style import STYLE
from tilegen.pictures.solid_view import solid_png
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.route import Stop
from tilegen.reading.printer_models import PrinterFile
from tilegen.reading.stock import LOOSE_PIECES, cautions_of
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.build import Mesh
from tilegen.solids.estimate import Estimate
from tilegen.solids.job import PrintJob

_PICTURE = (240, 180)
_FIRST = (
    "The machine maker's manual, the material's safety data sheet and local rules come before anything written here."
)


@dataclass(frozen=True)
class Report:
    """What a report is made from; files: what else the run made, by path; numbers: of the types in the layout."""

    drawing: Drawing
    kit: Kit
    things: Wanted
    meshes: Sequence[Mesh]
    sheets: Sequence[SheetSet]
    files: Mapping[str, bytes]
    notes: tuple[str, ...]
    printer: PrinterFile
    stops: Sequence[Stop] = ()
    job: PrintJob | None = None
    connecting: Sequence[str] = ()
    numbers: Mapping[str, str] = field(default_factory=dict)


def report_html(report: Report, *, units: Units = "mm") -> str:
    """The page as HTML, pictures inside; no script, nothing fetched."""
    kit = report.kit
    title = escape(kit.plan)
    body = [
        f"<h1>{title}</h1>",
        f"<p class='lead'>{escape(_summary(report, units))}</p>",
        _cautions(report),
        _section("The layout", _figure(report.files["layout.svg"], f"{kit.plan}, every tile in place")),
        _section("The kit", _kit(report, units)),
        _section("Room by room", _rooms(report)),
        *_connectors(report),
        _section("Printing", _printing(report, units)),
        *(_section(f"Cutting from {s.material.title}", _cutting(s, report, units)) for s in report.sheets),
        _section("Order of work", _order(report)),
        f"<footer>Made by tilegen {__version__}.</footer>",
    ]
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<style>{STYLE}</style>\n</head>\n'
        f"<body>\n<main>\n{chr(10).join(body)}\n</main>\n</body>\n</html>\n"
    )


def _summary(report: Report, units: Units) -> str:
    grid, kit = report.kit.grid, report.kit
    loose = sum(p.count for p in kit.pieces)
    return (
        f"{kit.tiles} tiles of {len(kit.types)} types and {loose} loose pieces. A space is "
        f"{show_length(grid.pitch, units)}, a tile {show_length(grid.tile_side, units)}, a wall "
        f"{show_length(grid.wall_thickness, units)} thick and {show_length(grid.wall_height, units)} high, the base "
        f"{show_length(grid.base_depth, units)} deep; a hall one tile wide keeps {show_length(grid.hall_clear, units)} "
        f"between its walls. Seams are {show_length(grid.joint_play, units)} wide."
    )


def _section(heading: str, content: str) -> str:
    return f"<section>\n<h2>{escape(heading)}</h2>\n{content}\n</section>"


def _figure(svg: bytes, words: str) -> str:
    data = base64.b64encode(svg).decode()
    return f'<figure><img class="wide" alt="{escape(words)}" src="data:image/svg+xml;base64,{data}"></figure>'


def _list(items: Iterable[str], kind: str = "ul") -> str:
    return f"<{kind}>" + "".join(f"<li>{escape(item)}</li>" for item in items) + f"</{kind}>"


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Rows of cells that are HTML already."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in headings)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>\n" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>"


def _cautions(report: Report) -> str:
    said = [
        (f"{sheets.material.title}: {sheets.machine.title}", cautions_of(sheets.material, sheets.machine))
        for sheets in report.sheets
    ]
    said.append((report.printer.title, tuple(report.printer.cautions)))
    if report.kit.pieces:
        said.append(("Loose pieces", (LOOSE_PIECES,)))
    said.append(("Connectors", tuple(report.connecting)))
    seen: set[str] = set()
    parts = []
    for name, lines in said:
        fresh = [line for line in lines if line not in seen and not line.startswith(_FIRST[:40])]
        seen.update(fresh)
        parts += [f"<h3>{escape(name)}</h3>{_list(fresh)}"] if fresh else []
    return f"<section class='cautions'><h2>Before you begin</h2><p>{_FIRST}</p>{''.join(parts)}</section>"


def _kit(report: Report, units: Units) -> str:
    counts = {thing.id: count for thing, count in report.things}
    numbers = report.numbers
    rows = []
    for (thing, _), mesh in zip(report.things, report.meshes, strict=True):
        picture = base64.b64encode(solid_png(mesh.vertices, mesh.triangles, size=_PICTURE)).decode()
        name = escape(thing.name)
        rows.append(
            (
                f'<img alt="{name} as a solid" width="{_PICTURE[0]}" height="{_PICTURE[1]}" '
                f'src="data:image/png;base64,{picture}">',
                f'<div class="icon">{_inline(plan_view_svg(thing, units=units), f"{name} from above")}</div>',
                f"<b>{_numbered(numbers, thing.id)}{name}</b><br><code>{thing.id}</code>",
                f"<b>{counts[thing.id]}</b>",
            )
        )
    return _table(("solid", "from above", "tile", "how many"), rows)


def _rooms(report: Report) -> str:
    """The lay-out list for the table."""
    rows = []
    for number, stop in enumerate(report.stops, 1):
        came = (
            "the way in" if stop.steps == 0 else "no way leads here" if stop.came_from is None else str(stop.came_from)
        )
        tiles = ", ".join(
            f"{count} x {report.numbers.get(key, '')} {name}" for name, key, count in (*stop.tiles, *stop.pieces)
        )
        room = f"<b>{escape(stop.room)}</b> {escape(stop.title)}"
        rows.append((str(number), room, came, escape(tiles)))
    text = "<p>In the order the party meets the rooms; a tile that lies in two rooms is laid with the first.</p>"
    return text + _table(("no.", "room", "from", "have ready"), rows)


def _inline(svg: str, words: str) -> str:
    data = base64.b64encode(svg.encode()).decode()
    return f'<img alt="{words}" src="data:image/svg+xml;base64,{data}">'


def _connectors(report: Report) -> list[str]:
    """How two tiles meet, the polarity sheet, where the jig is."""
    files = report.files
    if "connectors/seam.svg" not in files:
        return []
    parts = [_figure(files["connectors/seam.svg"], "two tiles that meet, from above")]
    if "connectors/polarity.svg" in files:
        parts.append(_figure(files["connectors/polarity.svg"], "north left, south right on every side"))
    if "connectors/jig.pdf" in files:
        parts.append(
            "<p>A jig to mark pockets by, true size: <code>connectors/jig.pdf</code>, also as DXF and SVG. Foam and "
            "card need it where their layers can't be cut out.</p>"
        )
    return [_section("Connectors", "".join(parts))]


def _printing(report: Report, units: Units) -> str:
    estimates = report.job.parts if report.job else {}
    rows = [
        (
            f"{_numbered(report.numbers, thing.id)}{escape(mesh.name)}",
            str(count),
            " x ".join(show_length(side, units) for side in mesh.size),
            f"{mesh.volume / 1000:.2f}",
            *_amounts(estimates.get(mesh.name)),
        )
        for mesh, (thing, count) in zip(report.meshes, report.things, strict=True)
    ]
    text = (
        f"<p>Set out for a {escape(report.printer.title)} in <code>solids/bed-01.3mf</code> and so on, floor down; "
        "single types as STL in millimetres. A slicer may say that a file carries no print settings: that is as it "
        "should be.</p>"
    )
    if report.printer.process == "resin":
        text += (
            "<p>A whole tile flat on the plate pulls hard at the film: if yours does not let go, tilt it 10 to 45 "
            "degrees on supports (common practice, no source).</p>"
        )
    of_sheets = {note for sheets in report.sheets for note in sheets.notes}
    told = _list(in_units(note, units) for note in report.notes if note not in of_sheets)
    parts = _table(("part", "copies", "size", "cm3 each, full", *_amount_headings(report)), rows)
    return text + told + parts + _beds(report, units)


def _beds(report: Report, units: Units) -> str:
    """What each bed takes, and all of them, with the formula."""
    job = report.job
    if job is None:
        return ""
    rows = [
        (
            f"<code>{bed.name}.3mf</code>",
            escape(", ".join(f"{count} x {name}" for name, count in bed.counts.items())),
            show_length(bed.height, units),
            *_amounts(bed.estimate),
        )
        for bed in job.beds
    ]
    rows.append(("<b>all</b>", str(sum(len(bed.items) for bed in job.beds)), "", *_amounts(job.whole)))
    return (
        "<h3>Beds</h3>"
        + _table(("bed", "parts", "height", *_amount_headings(report)), rows)
        + f"<p>{escape(job.formula)}</p>{_walls(job)}"
    )


def _walls(job: PrintJob) -> str:
    words = [
        f"{wall['thickness_mm']:g} mm is {wall['lines']:.1f} lines, {wall['whole_lines']:g} whole ones are "
        f"{wall['whole_mm']:.2f} mm"
        for wall in job.walls
    ]
    return f"<p>Walls: {escape('; '.join(words))}.</p>" if words else ""


def _amount_headings(report: Report) -> tuple[str, ...]:
    return ("grams", "m of filament" if report.printer.process == "fdm" else "ml of resin", "hours (about)")


def _amounts(estimate: Estimate | None) -> tuple[str, ...]:
    if estimate is None:
        return "", "", ""
    return f"{estimate.grams:.1f}", f"{estimate.metres or estimate.millilitres:.1f}", f"{estimate.hours:.1f}"


def _cutting(sheets: SheetSet, report: Report, units: Units) -> str:
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
        _figure(report.files[f"sheets/{sheet.name}.svg"], f"sheet {sheet.name}")
        + f"<p>{escape(sheet.name)}, {sheet.used:.0%} used</p>"
        for sheet in sheets.sheets
    )
    steps = _assemblies(sheets, units)
    return (
        text
        + _list(in_units(note, units) for note in sheets.notes)
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
        head = f"<b>{_numbered(sheets.numbers, made.id)}{name}</b> <code>{made.id}</code>"
        picture = _inline(assembly_svg(made), f"{name}, numbered in the order of work")
        steps = _list((in_units(step.words, units) for step in made.steps), "ol")
        cards.append(f'<div class="card"><div class="plan">{picture}</div><div>{head}{steps}</div></div>')
    return f"<h3>How each tile goes together</h3><div class='cards'>{''.join(cards)}</div>"


def _numbered(numbers: Mapping[str, str], key: str) -> str:
    """The layout's number of a type before its name."""
    return f"{escape(numbers[key])}&ensp;" if key in numbers else ""


def _by_tile(sheets: SheetSet, report: Report) -> str:
    """Which parts go into one tile of each type."""
    parts: dict[str, list[str]] = {}
    counts = {thing.id: count for thing, count in report.things}
    for part in sheets.parts:
        per_tile: dict[str, int] = {}
        for use in part.uses:
            per_tile[use.tile] = per_tile.get(use.tile, 0) + use.count
        for tile, number in per_tile.items():
            one = number // counts[tile]
            times = f"{one} x " if one > 1 else ""
            parts.setdefault(tile, []).append(f"{times}{part.id} ({part.name})")
    rows = [
        (
            f"{_numbered(report.numbers, thing.id)}{escape(thing.name)} <code>{thing.id}</code>",
            str(count),
            escape(", ".join(parts.get(thing.id, []))),
        )
        for thing, count in report.things
        if thing.id in parts
    ]
    return "<h3>Parts of one tile</h3>" + _table(("tile", "tiles", "parts of one"), rows)


def _order(report: Report) -> str:
    steps = [
        "Measure the stock with a caliper and put the figure in the material's file; make a test tile before the set.",
        "Printing: print one tile, lay it against a second, and check that the seam closes before you print the beds.",
        "Cutting: engrave and score first, then cut the holes, then the outlines, as the files are ordered.",
        "Glue the layers of each base under a weight, edges flush, and let them dry.",
        "Glue the walls: outer walls first, by their inner faces; then inner walls, the long ones first; posts last.",
        "Glue the two leaves of each door piece back to back; try it dry between its posts.",
        "Seal foam with water-based primer or paint before any spray paint; test on an offcut.",
        "Write the tile's id under it and lay the map by the layout.",
    ]
    holding = {
        "magnets": "Magnets: bore or clear the pockets by the jig, check each pole against the polarity sheet and a "
        "finished tile, then glue; let them set away from other magnets.",
        "pegs": "Pegs: try two tiles against each other; lay rows first, then push row against row.",
        "keys": "Keys: try one in every pocket; it must go in without force. Lay keys out and set the tiles down on "
        "them, or turn two tiles over, lay the keys in and turn them back.",
    }.get(report.kit.grid.connectors.kind)
    if holding:
        steps.insert(4, holding)
    kinds = {p.piece.kind for p in report.kit.pieces}
    if "saddle" not in kinds:
        steps = [step for step in steps if "door piece" not in step]
    if "leaf" in kinds:
        steps.insert(
            -2,
            "Try each leaf in its doorway before you paint: a sliding one drops from above into the grooves, a hinged "
            "one turns on a wire put through the lintel into the floor, a lift-out one stands as a piece of the wall.",
        )
    return _list(steps, "ol")
