"""The report: one page that stands alone, with what to make, of what, in what order, and the cautions."""

from __future__ import annotations

import base64
from html import escape

from tilegen import __version__
from tilegen.lengths import Units, counted, show_length
from tilegen.pictures.markup import figure, inline_picture, listed, numbered, section, shown_in, table
from tilegen.pictures.plan_view import plan_view_svg
from tilegen.pictures.report_cut import cutting
from tilegen.pictures.report_print import printing
from tilegen.pictures.report_style import STYLE
from tilegen.pictures.reported import Report
from tilegen.pictures.solid_view import solid_png
from tilegen.reading.stock import LOOSE_PIECES, cautions_of

_PICTURE = (240, 180)
_FIRST = (
    "The machine maker's manual, the material's safety data sheet and local rules come before anything written here."
)


def report_html(report: Report, *, units: Units = "mm") -> str:
    """The page as HTML, pictures inside; no script, nothing fetched."""
    kit = report.kit
    title = escape(kit.plan)
    body = [
        f"<h1>{title}</h1>",
        f"<p class='lead'>{escape(_summary(report, units))}</p>",
        shown_in(_cautions(report), units),
        section("The layout", figure(report.files["layout.svg"], f"{kit.plan}, every tile in place")),
        section("The kit", _kit(report, units)),
        section("Room by room", _rooms(report)),
        *_connectors(report),
        shown_in(section("Printing", printing(report, units)), units),
        *(
            shown_in(section(f"Cutting from {s.material.title}", cutting(s, report, units)), units)
            for s in report.sheets
        ),
        section("Order of work", _order(report)),
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
        f"{counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')} and {counted(loose, 'loose piece')}. A "
        f"space is {show_length(grid.pitch, units)}, a tile {show_length(grid.tile_side, units)}, a wall "
        f"{show_length(grid.wall_thickness, units)} thick and {show_length(grid.wall_height, units)} high, the base "
        f"{show_length(grid.base_depth, units)} deep; a hall one tile wide keeps {show_length(grid.hall_clear, units)} "
        f"between its walls. Seams are {show_length(grid.joint_play, units)} wide."
    )


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
        parts += [f"<h3>{escape(name)}</h3>{listed(fresh)}"] if fresh else []
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
                f'<div class="icon">{inline_picture(plan_view_svg(thing, units=units), f"{name} from above")}</div>',
                f"<b>{numbered(numbers, thing.id)}{name}</b><br><code>{thing.id}</code>",
                f"<b>{counts[thing.id]}</b>",
            )
        )
    return table(("solid", "from above", "tile", "how many"), rows)


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
    return text + table(("no.", "room", "from", "have ready"), rows)


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
    return [section("Connectors", "".join(parts))]


def _order(report: Report) -> str:
    cut, printed = bool(report.sheets), bool(report.meshes)
    foam = any(made.material.family in ("xps", "eps") for made in report.sheets)
    layered = any(how.kind != "folded" and how.base.layers > 1 for made in report.sheets for how in made.constructions)
    asked = (
        (cut, "Measure the stock with a caliper and put the figure in the material's file; make a test tile first."),
        (printed, "Printing: print one tile, lay it against a second, and check that the seam closes before the beds."),
        (cut, "Cutting: marks and scores first, then the holes, then the outlines, as the files are ordered."),
        (layered, "Glue the layers of each base under a weight, edges flush, and let them dry."),
        (
            cut,
            "Glue the walls: outer walls first, by their inner faces; then inner ones, the longest first; posts last.",
        ),
        (cut, "Glue the two leaves of each door piece back to back; try it dry between its posts."),
        (foam, "Seal foam with water-based primer or paint before any spray paint; test on an offcut."),
        (True, "Write the tile's id under it and lay the map by the layout."),
    )
    steps = [words for applies, words in asked if applies]
    holding = {
        "magnets": "Magnets: bore or clear the pockets by the jig, check each pole against the polarity sheet and a "
        "finished tile, then glue; let them set away from other magnets.",
        "pegs": "Pegs: try two tiles against each other; lay rows first, then push row against row.",
        "keys": "Keys: try one in every pocket; it must go in without force. Lay keys out and set the tiles down on "
        "them, or turn two tiles over, lay the keys in and turn them back.",
    }.get(report.kit.grid.connectors.kind)
    if holding:
        steps.insert(-1, holding)
    kinds = {p.piece.kind for p in report.kit.pieces}
    if "saddle" not in kinds:
        steps = [step for step in steps if "door piece" not in step]
    if "leaf" in kinds and printed:
        steps.insert(
            -1,
            "Try each leaf in its doorway before you paint: a sliding one drops from above into the grooves, a hinged "
            "one turns on a wire put through the lintel into the floor, a lift-out one stands as a piece of the wall.",
        )
    return listed(steps, "ol")
