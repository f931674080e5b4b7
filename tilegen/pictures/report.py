"""The report: one page that stands alone, with what to make, of what, in what order, and the cautions."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import get_args

from PIL import Image

from tilegen.files.stock import BEFORE_ALL, LOOSE_PIECES, cautions_of
from tilegen.files.times import NOT_MEASURED, Pace, Times
from tilegen.lengths import Units, counted, in_units, show_length
from tilegen.messages import Message, decisions
from tilegen.model.grid import LEAVES
from tilegen.model.printers import Fit, PrinterFile
from tilegen.pictures.choices_view import Bar, choices_canvas
from tilegen.pictures.soft_view import QUICK, soft_file, soft_png, tints_of
from tilegen.pictures.tile_view import plan_view_svg
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.route import Stop
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.beds import PrintJob
from tilegen.solids.build import Mesh
from tilegen.solids.processes import Estimate, process_of
from tilegen.tiles.connectors.kind import kind_of
from tilegen.tiles.loose import LooseLeaf, LoosePost, SaddleDoor, Things
from tilegen.tiles.uprights import is_mixed
from tilegen.version import __version__

# Small pieces of the report's HTML.


def section(heading: str, content: str) -> str:
    """A heading and what stands under it, HTML already."""
    return f"<section>\n<h2>{escape(heading)}</h2>\n{content}\n</section>"


def folded(heading: str, content: str) -> str:
    """The same closed until it is asked for; on paper it is left out while closed."""
    return f"<section><details>\n<summary><h2>{escape(heading)}</h2></summary>\n{content}\n</details></section>"


def figure(picture: bytes, words: str, kind: str = "svg+xml") -> str:
    """A wide picture inside the page, with words for those who don't see it."""
    data = base64.b64encode(picture).decode()
    return f'<figure><img class="wide" alt="{escape(words)}" src="data:image/{kind};base64,{data}"></figure>'


def listed(items: Iterable[str], kind: str = "ul") -> str:
    """Plain texts as a list; kind "ol" numbers them."""
    return f"<{kind}>" + "".join(f"<li>{escape(item)}</li>" for item in items) + f"</{kind}>"


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Rows of cells that are HTML already."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in headings)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>\n" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>"


def inline_picture(svg: str, words: str) -> str:
    """A small picture inside the page; words: escaped already."""
    data = base64.b64encode(svg.encode()).decode()
    return f'<img alt="{words}" src="data:image/svg+xml;base64,{data}">'


def numbered(numbers: Mapping[str, str], key: str) -> str:
    """The layout's number of a type before its name."""
    return f"{escape(numbers[key])}&ensp;" if key in numbers else ""


def shown_in(markup: str, units: Units) -> str:
    """A part of a page whose text speaks of millimetres, in the reader's unit; attributes stay as they are."""
    return re.sub(r">([^<]+)<", lambda text: f">{in_units(text[1], units)}<", markup)


# What a report is made from.


@dataclass(frozen=True)
class Report:
    """What a report is made from; files: what else the run made, by path; numbers: of the types in the layout.

    messages: all of them; cutting: those that speak of sheets. limited: what limits allow, in sentences; left: the
    rooms for next time. choices: of posts and doorways, to compare. times: the maker's own log.
    """

    drawing: Drawing
    kit: Kit
    things: Things
    meshes: Sequence[Mesh]
    sheets: Sequence[SheetSet]
    files: Mapping[str, bytes]
    messages: Sequence[Message]
    printer: PrinterFile
    stops: Sequence[Stop] = ()
    job: PrintJob | None = None
    connecting: Sequence[str] = ()
    numbers: Mapping[str, str] = field(default_factory=dict)
    cutting: Sequence[Message] = ()
    limited: Sequence[str] = ()
    left: Sequence[Stop] = ()
    choices: Sequence[Bar] = ()
    times: Times = field(default_factory=Times)


# The report on sheets: stock, how each tile goes together, which parts make one.


def cutting(sheets: SheetSet, report: Report, units: Units) -> str:
    """What is cut from one material, with every sheet."""
    material, machine = sheets.material, sheets.machine
    kerf = in_units(sheets.kerf_words, units)
    for_what = f" for {sheets.purpose}" if sheets.purpose else ""
    stock = [
        f"{count} of {' x '.join(show_length(side, units) for side in size)}"
        for size, count in sheets.new_sheets.items()
    ]
    stock += dict.fromkeys(f"offcut {escape(sheet.offcut)}" for sheet in sheets.sheets if sheet.offcut)
    text = (
        f"<p>Sheets{for_what}: {', '.join(stock)}, to cut with the {escape(machine.title)}. {escape(kerf)} "
        f"Sheet thickness taken as {show_length(material.real_thickness, units)}: measure yours first.</p>"
    )
    pictures = "".join(
        figure(report.files[f"sheets/{sheet.name}.svg"], f"sheet {sheet.name}")
        + f"<p>{escape(sheet.words)}, {sheet.used:.0%} used</p>"
        for sheet in sheets.sheets
    )
    of_one = {note for each in report.sheets for note in each.notes}
    of_all = [note for note in report.cutting if note not in of_one]
    return (
        text
        + _notes((*sheets.notes, *of_all), units)
        + "<p>Templates in true size, the list for your tool and how to glue each tile: <code>cut.pdf</code>.</p>"
        + _by_tile(sheets, report)
        + f"<div class='sheets'>{pictures}</div>"
    )


def _notes(messages: Sequence[Message], units: Units) -> str:
    """What is good to know, each once; what needs a decision stands on the first page."""
    return listed(in_units(m.words, units) for m in dict.fromkeys(messages) if m.level == "note")


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
            parts.setdefault(tile, []).append(f"{times}{part.number} ({part.name})")
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


# The report on prints: parts, beds, amounts.


def printing(report: Report, units: Units) -> str:
    """How it is printed: parts, then beds."""
    estimates = report.job.parts if report.job else {}
    rows = [
        (
            f"{numbered(report.numbers, thing.id)}{escape(mesh.name)}",
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
    if on_bed := process_of(report.printer).on_bed:
        text += f"<p>{on_bed}</p>"
    of_sheets = {*report.cutting, *(note for sheets in report.sheets for note in sheets.notes)}
    told = _notes([message for message in report.messages if message not in of_sheets], units)
    parts = table(("part", "copies", "size", "cm3 each, full", *_amount_headings(report)), rows)
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
        + table(("bed", "parts", "height", *_amount_headings(report)), rows)
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
    process = process_of(report.printer)
    return "grams", f"{process.unit} of {process.material}", "hours (about)"


def _amounts(estimate: Estimate | None) -> tuple[str, ...]:
    if estimate is None:
        return "", "", ""
    return f"{estimate.grams:.1f}", f"{estimate.amount:.1f}", f"{estimate.hours:.1f}"


# The report's style sheet: calm, readable in black and white and on paper, light and dark.

STYLE = """
:root { color-scheme: light dark; --ink: #1f2a2e; --paper: #fbfaf6; --line: #b9b4a6; --soft: #efece2; --warn: #7a3b12; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e6e3da; --paper: #1c2224; --line: #59605e; --soft: #262e30; --warn: #f0b48a; }
}
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.5 Georgia, "Times New Roman", serif; }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem; }
h1, h2, h3 { font-family: "Helvetica Neue", Arial, sans-serif; line-height: 1.2; }
h2 { border-bottom: 2px solid var(--line); padding-bottom: .2rem; margin-top: 2.5rem; }
.lead { font-size: 1.1rem; }
.cautions { border: 2px solid var(--warn); padding: 0 1rem .5rem; }
.cautions h2 { border: 0; color: var(--warn); margin-top: .8rem; }
figure { margin: 1rem 0; }
img { background: #fff; max-width: 100%; height: auto; }
img.wide { width: 100%; border: 1px solid var(--line); }
.icon img { width: 9rem; }
.kit { display: grid; grid-template-columns: repeat(auto-fill, minmax(9.5rem, 1fr)); gap: .8rem; }
.kit figure { margin: 0; } .kit img { width: 100%; }
figcaption { font: .9rem/1.35 "Helvetica Neue", Arial, sans-serif; }
summary { cursor: pointer; } summary h2 { display: inline-block; width: calc(100% - 1.5rem); margin-top: 1rem; }
.cards { display: grid; grid-template-columns: repeat(auto-fill, minmax(24rem, 1fr)); gap: 1rem; }
.card { display: flex; gap: .8rem; break-inside: avoid; font: .9rem/1.35 "Helvetica Neue", Arial, sans-serif; }
.card .plan { flex: 0 0 9rem; } .card img { width: 9rem; } .card ol { margin: .3rem 0; padding-left: 1.4rem; }
table { border-collapse: collapse; width: 100%; font-family: "Helvetica Neue", Arial, sans-serif; font-size: .92rem; }
th, td { text-align: left; padding: .4rem .6rem; border-bottom: 1px solid var(--line); vertical-align: middle; }
thead th { background: var(--soft); }
code { font-size: .95em; }
footer { margin-top: 3rem; font-size: .85rem; }
@media print {
  body { background: #fff; color: #000; font-size: 9pt; line-height: 1.3; } main { padding: 0; max-width: none; }
  h2 { margin: .8rem 0 .4rem; } tr, figure { break-inside: avoid; }
  .layout, details:not([open]), footer { display: none; }
  .cautions { columns: 2; padding: .4rem .6rem; } .cautions > * { margin: 0 0 .2rem; }
  .kit { grid-template-columns: repeat(7, 1fr); gap: .3rem; } figcaption { font-size: 7.5pt; }
}
@media (max-width: 40rem) { td, th { padding: .3rem; font-size: .8rem; } }
"""


_PICTURE = (240, 180)
# Pixels of the dungeon's longer side.
_WIDE = 1000


def report_html(report: Report, *, units: Units = "mm") -> str:
    """The page as HTML, pictures inside; no script, nothing fetched."""
    kit = report.kit
    title = escape(kit.plan)
    body = [
        f"<h1>{title}</h1>",
        f"<p class='lead'>{escape(_summary(report, units))}</p>",
        *_decisions(report, units),
        f"<div class='layout'>{figure(report.files['layout.svg'], f'{kit.plan}, every tile in place')}</div>",
        *_dungeon(report),
        section("Order of work", _order(report)),
        shown_in(_cautions(report), units),
        section("Make these", _kit(report)),
        *([shown_in(folded("Printing", printing(report, units)), units)] if report.job else []),
        *(
            shown_in(folded(f"Cutting from {s.material.title}", cutting(s, report, units)), units)
            for s in report.sheets
        ),
        *_connectors(report),
        shown_in(folded("Time, glue and fits: measured or not", _measured(report)), units),
        folded("Lay it out, room by room", _rooms(report)),
        *([folded("Left for next time", _left(report))] if report.left else []),
        folded("Sizes, and what to write on the bags", _types(report, units)),
        f"<footer>Made by tilegen {__version__}.</footer>",
    ]
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<style>{STYLE}</style>\n</head>\n'
        f"<body>\n<main>\n{chr(10).join(body)}\n</main>\n</body>\n</html>\n"
    )


def _dungeon(report: Report) -> list[str]:
    """What it will look like, as a smaller picture."""
    if "dungeon.png" not in report.files:
        return []
    picture = Image.open(io.BytesIO(report.files["dungeon.png"]))
    picture.thumbnail((_WIDE, _WIDE))
    words = f"{report.kit.plan} as it lies on the table"
    return [f"<div class='layout'>{figure(soft_file(picture, 'JPEG'), words, 'jpeg')}</div>"]


def _decisions(report: Report, units: Units) -> list[str]:
    """What to decide before work begins, if anything."""
    found = [in_units(message.words, units) for message in decisions(report.messages)]
    return [section("Decide first", listed(found))] if found else []


def _summary(report: Report, units: Units) -> str:
    grid, kit = report.kit.grid, report.kit
    loose = f" and {counted(sum(p.count for p in kit.pieces), 'loose piece')}" if kit.pieces else ""
    said = [
        *report.limited,
        f"{counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')}{loose}. "
        f"Halls one tile wide keep {show_length(grid.hall_clear, units)} between their walls.",
    ]
    if report.job is not None:
        whole = report.job.whole
        amount = process_of(report.printer).total.format(whole)
        hours = counted(max(1, round(whole.hours)), "hour")
        said.append(f"Printed: {counted(len(report.job.beds), 'bed')}, about {hours}, {amount}.")
    for made in report.sheets:
        parts = counted(sum(part.count for part in made.parts), "part")
        hours = counted(max(1, round(made.minutes / 60)), "hour")
        sheets = counted(made.count, "sheet")
        said.append(f"Cut: {sheets} of {made.material.title}, {parts}, about {hours} by hand.")
    return " ".join(said)


def _cautions(report: Report) -> str:
    said = [
        (f"{sheets.material.title}: {sheets.machine.title}", cautions_of(sheets.material, sheets.machine))
        for sheets in report.sheets
    ]
    if report.job is not None:
        said.append((report.printer.title, tuple(report.printer.cautions)))
    if report.kit.pieces:
        said.append(("Loose pieces", (LOOSE_PIECES,)))
    said.append(("Connectors", tuple(report.connecting)))
    seen: set[str] = set()
    parts = []
    for name, lines in said:
        fresh = [line for line in lines if line not in seen and line != BEFORE_ALL]
        seen.update(fresh)
        parts += [f"<h3>{escape(name)}</h3>{listed(fresh)}"] if fresh else []
    return f"<section class='cautions'><h2>Before you begin</h2><p>{BEFORE_ALL}</p>{''.join(parts)}</section>"


def _kit(report: Report) -> str:
    """A picture of each type with its number in the layout, its name and how many to make."""
    counts = {thing.id: count for thing, count in report.things}
    cards = []
    for (thing, _), mesh in zip(report.things, report.meshes, strict=True):
        tones = tints_of(thing, mesh)
        drawn = soft_png(mesh.vertices, mesh.triangles, tones, size=_PICTURE, quality=QUICK, kind="JPEG")
        picture = base64.b64encode(drawn).decode()
        name = escape(thing.name)
        cards.append(
            f'<figure><img alt="{name} as a solid" width="{_PICTURE[0]}" height="{_PICTURE[1]}" '
            f'src="data:image/jpeg;base64,{picture}"><figcaption>{numbered(report.numbers, thing.id)}{name}, '
            f"<b>{counts[thing.id]}&nbsp;x</b></figcaption></figure>"
        )
    return f"<div class='kit'>{''.join(cards)}</div>"


# Kinds of tile that every map on 10 ft squares is laid from: necklaces of four beads in two colours (OEIS A000031).
FEW = 6


def _types(report: Report, units: Units) -> str:
    """Sizes of the grid; each type from above with its size, its id and its count."""
    grid = report.kit.grid
    text = (
        f"<p>A space is {show_length(grid.pitch, units)}, a tile {show_length(grid.tile_side, units)}, a wall "
        f"{show_length(grid.wall_thickness, units)} thick and {show_length(grid.wall_height, units)} high, the base "
        f"{show_length(grid.base_depth, units)} deep. Seams are {show_length(grid.joint_play, units)} wide. Keep "
        "the tiles of one type in one bag, with its number, name and count on it.</p>"
    )
    rows = []
    for thing, count in report.things:
        name = escape(thing.name)
        picture = inline_picture(plan_view_svg(thing, units=units), f"{name} from above")
        named = f"<b>{numbered(report.numbers, thing.id)}{name}</b><br><code>{thing.id}</code>"
        rows.append((f'<div class="icon">{picture}</div>', named, str(count)))
    return text + _fewer(report) + table(("from above", "tile", "how many"), rows)


def _fewer(report: Report) -> str:
    """How many shapes there are with each choice of posts and doorways, and how to choose."""
    if not report.choices:
        return ""
    picture = choices_canvas(report.choices)
    return (
        "<p>Posts and doorways can be loose pieces: then there are fewer kinds of tile, and more pieces. Choose with "
        "<code>--posts</code> and <code>--doorways</code>; <code>tilegen kit PLAN --choices</code> also compares "
        f"hours and sheets. The map stays the same.</p>{figure(picture.svg().encode(), picture.description)}"
    )


def _measured(report: Report) -> str:
    """What is an estimate until somebody has timed, weighed or tried it on the machine at hand."""
    minutes: dict[tuple[str, str], float] = {}
    grams: dict[str, float] = {}
    for made in report.sheets:
        for key, more in (
            (("cut", made.machine.name), made.cutting_minutes),
            (("glue", made.material.kin), made.gluing_minutes),
        ):
            minutes[key] = minutes.get(key, 0.0) + more
        kin = made.material.kin
        grams[kin] = grams.get(kin, 0.0) + made.gluing.grams(made.material)
    rows = [_expected(*key, found, _time, report.times.pace(*key)) for key, found in minutes.items()]
    rows += [
        _expected("glue", kin, more, _weight, report.times.pace("glue", kin, weighed=True))
        for kin, more in grams.items()
    ]
    if report.job is not None:
        name, spread, hours = report.printer.name, report.printer.spread, report.job.whole.hours
        pace = report.times.pace("print", name)
        pace = pace._replace(low=pace.factor * (1 - spread), high=pace.factor * (1 + spread))
        rows.append(_expected("print", name, hours * 60, _time, pace))
        fits = report.printer.clearance
        each = ", ".join(f"{word} {show_length(getattr(fits, word))}" for word in get_args(Fit))
        tried = f"measured: {', '.join(fits.measured)}" if fits.measured else NOT_MEASURED
        rows.append(("clearances", f"<code>{escape(name)}</code>", "", f"{each} on each side", tried))
    text = (
        "<p>Measure the clearances with <code>tilegen gauge</code>. For time and glue keep a log: write "
        "<code>work</code>, <code>with</code> and <code>said</code> as they stand here into <code>times.csv</code>, "
        "and what it <code>took</code> you. The next build with <code>--times times.csv</code> goes by it.</p>"
    )
    return text + table(("work", "with", "said", "to expect", "from"), [row for row in rows if row])


def _expected(work: str, stock: str, amount: float, show: Callable[[float], str], pace: Pace) -> tuple[str, ...]:
    """A row of what is said without a log, and what to expect with it; nothing where there is nothing to do."""
    said = amount / pace.factor
    between = f"{show(amount)}, from {show(said * pace.low)} to {show(said * pace.high)}"
    return (work, f"<code>{escape(stock)}</code>", show(said), between, pace.words) if amount else ()


def _time(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 100 else f"{minutes / 60:.1f} h"


def _weight(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 10 else f"{grams:.1f} g"


def _rooms(report: Report) -> str:
    """The lay-out list for the table."""
    text = "<p>In the order the party meets the rooms; a tile that lies in two rooms is laid with the first.</p>"
    return text + _stops(report, report.stops, 1)


def _left(report: Report) -> str:
    """What there is no room for within the limits."""
    text = (
        "<p>Once everything above is made, <code>shelf.toml</code> says what you own: give it to the next run with "
        "<code>--own</code>, and it makes these.</p>"
    )
    return text + _stops(report, report.left, len(report.stops) + 1)


def _stops(report: Report, stops: Sequence[Stop], first: int) -> str:
    """A table of rooms, numbered from the first."""
    rows = []
    for number, stop in enumerate(stops, first):
        came = (
            "the way in" if stop.steps == 0 else "no way leads here" if stop.came_from is None else str(stop.came_from)
        )
        tiles = ", ".join(
            f"{count} x {report.numbers.get(key, '')} {name}" for name, key, count in (*stop.tiles, *stop.pieces)
        )
        room = f"<b>{escape(stop.room)}</b> {escape(stop.title)}"
        rows.append((str(number), room, came, escape(tiles)))
    return table(("no.", "room", "from", "have ready"), rows)


def _connectors(report: Report) -> list[str]:
    """How two tiles meet, the polarity sheet, where the jig is."""
    files = report.files
    if "connectors/seam.svg" not in files:
        return []
    parts = [figure(files["connectors/seam.svg"], "two tiles that meet, from above")]
    if "connectors/polarity.svg" in files:
        parts.append(figure(files["connectors/polarity.svg"], "north left, south right on every side"))
    if "connectors/jig.pdf" in files:
        parts.append(
            "<p>A jig to mark pockets by, true size: <code>connectors/jig.pdf</code>, also as DXF and SVG. Foam and "
            "card need it where their layers can't be cut out.</p>"
        )
    return [folded("Connectors", "".join(parts))]


def _order(report: Report) -> str:
    cut, printed = bool(report.sheets), report.job is not None
    foam = any(made.material.family in ("xps", "eps") for made in report.sheets)
    layered = any(how.base.layers > 1 for made in report.sheets for how in made.constructions)
    mixed = any(is_mixed(thing) for thing, _ in report.things)
    pieces = {type(p.piece) for p in report.kit.pieces}
    asked = (
        (cut, "Measure the stock with a caliper and put the figure in the material's file; make a test tile first."),
        (
            printed and not mixed,
            "Printing: print one tile, lay it against a second, and check that the seam closes before the beds.",
        ),
        (cut, "Cutting: marks and scores first, then the holes, then the outlines, as the files are ordered."),
        (layered, "Glue the layers of each base under a weight, edges flush, and let them dry."),
        (cut and mixed, "Drill or punch the round holes in the bases that your machine has not cut."),
        (
            printed and mixed,
            "Printing: print the walls of one tile and press their pegs, dry, into its base before you print the beds.",
        ),
        (mixed, "Glue the printed walls into their bases, the right way up: they are printed upside down."),
        (
            cut and not mixed,
            "Glue the walls: outer walls first, by their inner faces; then inner ones, the longest first; posts last.",
        ),
        (
            cut and not mixed and SaddleDoor in pieces,
            "Glue the two leaves of each door piece back to back; try it dry between its posts.",
        ),
        (foam, "Seal foam with water-based primer or paint before any spray paint; test on an offcut."),
        (True, "Write each tile's number under it, then lay the map by the layout."),
    )
    steps = [words for applies, words in asked if applies]
    holding = kind_of(report.kit.grid).steps
    if holding:
        steps.insert(-1, holding)
    if LoosePost in pieces:
        steps.append("Put the loose posts into their corners, then the door pieces between them.")
    if LooseLeaf in pieces and printed:
        how = ", ".join(f"a {word} one {says}" for word, says in LEAVES.items())
        steps.insert(-1, f"Try each leaf in its doorway before you paint: {how}.")
    return listed(steps, "ol")
