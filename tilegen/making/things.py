"""Tiles and loose pieces to their files, in memory: solids, sheets or both, with notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, TypeVar

from tilegen.errors import AnswerIsNo, InputError, as_sentence, nearest
from tilegen.files.writing import file_stem
from tilegen.lengths import Units, counted, rounded_down, show_length
from tilegen.making.connecting import connector_files, connector_notes, with_keys
from tilegen.making.lists import beds_csv, cut_needs
from tilegen.making.workshop import BOTH, Workshop, cautions
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.machines import MachineFile
from tilegen.model.materials import Stock
from tilegen.model.printers import PrinterFile
from tilegen.pictures.cut_pages import CutJob, cut_pages
from tilegen.pictures.skins import PAPER_MM, papers
from tilegen.pictures.soft_view import soft_png, tints_of
from tilegen.pictures.solid_view import solid_png
from tilegen.pictures.tile_view import plan_view_svg
from tilegen.plans.kit import Kit
from tilegen.sheets.make import audit_sheets, make_sheet_sets, sheet_files, sheet_records
from tilegen.sheets.parts import PartsList, list_parts
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.beds import PrintJob, make_job, set_out_all
from tilegen.solids.build import Mesh, build_mesh, is_closed
from tilegen.solids.checks import check_walls, lintel_notes, wall_records
from tilegen.solids.formats import Scene, chosen
from tilegen.solids.hollow import Pockets, hollow_base_notes, pockets_below
from tilegen.solids.printing import as_printed, layer_notes, plates_to_print
from tilegen.solids.processes import gap_of
from tilegen.tiles.connectors.kind import kind_of
from tilegen.tiles.leaves.kind import clear_width
from tilegen.tiles.lettering import NoRoomBelowError, underside_mark
from tilegen.tiles.loose import Piece, Things, leaves_of
from tilegen.tiles.plate import Plate
from tilegen.tiles.safety import is_small_part
from tilegen.tiles.tile import Tile
from tilegen.tiles.uprights import is_mixed, printed_things

One = TypeVar("One")
Result = TypeVar("Result")

# Pixels of a tile's picture.
USUAL, LARGE = (480, 360), (1200, 900)
# Starting workers costs more than it saves for fewer items than this.
_POOL_PAYS_FROM = 64
# What a base wants beside its own diameter to go through a doorway (common practice, no source).
SPARE_MM = 2.0


@dataclass
class Made:
    """Files by path, the records about them that the JSON gives, and notes.

    pages: of the files for the cutting mat. findings: faults that the auditor found on sheets. cautions: for the
    processes and materials; filled by `build`.
    """

    files: dict[str, bytes] = field(default_factory=dict)
    solids: list[dict[str, Any]] = field(default_factory=list)
    sheets: list[dict[str, Any]] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)
    pages: dict[str, int] = field(default_factory=dict)
    findings: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    job: PrintJob | None = None

    def check_closed(self) -> None:
        """Say so if a solid that was written is not closed, or the auditor found something on a sheet.

        Raises:
            AnswerIsNo: names the solids, or the findings.
        """
        if self.findings:
            raise AnswerIsNo(f"{'; '.join(self.findings)}; the files are there to look at")
        leaking = [record["name"] for record in self.solids if not record["closed"]]
        if leaking:
            raise AnswerIsNo(f"not closed: {', '.join(leaking)}; the files are there to look at")


def things_of(kit: Kit, counts: Mapping[str, int] | None = None, only: Sequence[str] = ()) -> Things:
    """What a kit needs, or just the tiles and pieces named (by name or id).

    counts: how many to make by id, if not all of the kit; types of which none is to be made are left out.

    Raises:
        InputError: a name that is not in the kit, with the nearest that is.
    """
    everything: list[tuple[Tile | Piece, int]] = [(t.tile, t.count) for t in kit.types]
    everything += [(p.piece, p.count) for p in kit.pieces]
    if counts is not None:
        everything = [(thing, counts[thing.id]) for thing, _ in everything]
    if only:
        everything = _named(everything, only)
    return [(thing, count) for thing, count in everything if count]


def _named(everything: list[tuple[Tile | Piece, int]], only: Sequence[str]) -> list[tuple[Tile | Piece, int]]:
    known = {key: thing for thing in everything for key in (thing[0].name, thing[0].id)}
    for name in only:
        if name not in known and name.upper() not in known:
            names = [thing.name for thing, _ in everything]
            raise InputError(f'this kit has no tile or piece "{name}"', cure=nearest(name, names), place="--only")
    chosen = [known.get(name) or known[name.upper()] for name in only]
    return list({thing.id: (thing, count) for thing, count in chosen}.values())


def tile_things(tile: Tile) -> Things:
    """A tile of its own, with its leaves and a key for a seam; its name becomes one that a file can have."""
    named = tile.named(file_stem(tile.name) or tile.id.lower())
    return with_keys([(named, 1), *leaves_of(tile)], 1)


def make_things(
    things: Things,
    workshop: Workshop,
    halves: tuple[str, ...] = BOTH,
    numbers: Mapping[str, str] | None = None,
    units: Units = "mm",
    *,
    quick: bool = False,
) -> Made:
    """Either half, or both with a picture of each thing from above and as a solid.

    numbers: of the types in a layout, by id. units: of the PDF. quick: solids as drawings with lines.
    """
    made = Made()
    meshes = make_printed(made, things, workshop) if "solids" in halves else []
    if "sheets" in halves:
        sets = make_cut(made, things, workshop, numbers or {}, units=units)
        names = [thing.name for thing, _ in things if isinstance(thing, Tile)]
        title = names[0] if len(names) == 1 else f"{len(names)} tiles"
        add_cut_pages(made, sets, workshop, CutJob(title, sets, things, numbers or {}, units=units))
    if halves == BOTH:
        for (thing, _), mesh in zip(things, meshes, strict=True):
            made.files[f"{thing.name}.svg"] = plan_view_svg(thing).encode()
            size = LARGE if workshop.asked.pictures else USUAL
            drawn = solid_png if quick else partial(soft_png, tones=tints_of(thing, mesh), size=size)
            made.files[f"{thing.name}.png"] = drawn(mesh.vertices, mesh.triangles)
        made.files |= connector_files(things, workshop.asked.pages)
    printed, cut = "solids" in halves, "sheets" in halves
    words = mixed_messages(things, printed=printed, cut=cut, other=f"tilegen {'sheet' if printed else 'solid'}")
    made.messages += [*connector_notes(things), *words]
    return made


def make_printed(made: Made, things: Things, workshop: Workshop) -> list[Mesh]:
    """Solids, beds and notes; the meshes for the pictures, which show tiles put together."""
    printed = printed_things(things)
    meshes, notes = print_meshes(printed, workshop.printer, workshop.asked.jobs, underside=workshop.asked.underside)
    add_solids(made, printed, meshes, workshop.printer, formats=workshop.asked.formats)
    made.messages += [*notes, *meeting_notes(things, workshop.printer)]
    return [build_mesh(thing.name, thing.plates) for thing, _ in things] if _mixed(things) else meshes


def _mixed(things: Things) -> bool:
    return any(is_mixed(thing) for thing, _ in things)


def mixed_messages(things: Things, *, printed: bool, cut: bool, other: str = "") -> Iterator[Message]:
    """Which half of a mixed kit is made. other: what makes the other half, if not an option."""
    words, other = "walls, posts and loose pieces are printed", other or ("--make cut" if printed else "--make print")
    if not _mixed(things) or not printed_things(things):
        return
    if printed and cut:
        yield Message("note", f"Bases are cut from sheets; {words}. Pegs go into the holes of the bases.")
    else:
        half = "bases are cut from sheets" if printed else words
        yield Message("decide", f"This is half of the kit: its {half}.", cure=f"Make them with {other}.")


def list_stocks(things: Things, workshop: Workshop) -> list[PartsList]:
    """The parts of a kit from each of the stocks.

    Raises:
        InputError: something can't be made of one of them.
    """
    found = []
    for stock in workshop.stocks:
        with _blaming(stock):
            found.append(list_parts(things, stock, workshop.ways))
    return found


@contextmanager
def _blaming(stock: Stock) -> Iterator[None]:
    """Errors in what is made from a stock name that."""
    try:
        yield
    except InputError as error:
        raise error.located(file=f"material {stock.word}") from None


def make_cut(
    made: Made,
    things: Things,
    workshop: Workshop,
    numbers: Mapping[str, str],
    *,
    units: Units,
    listed: Sequence[PartsList] | None = None,
) -> list[SheetSet]:
    """Sheets of each stock, their lists and notes.

    numbers: of the types in the layout, by id. units: of the PDF. listed: the parts by stock, if these are known.
    """
    if not things:
        return []
    sets: list[SheetSet] = []
    listed = listed or list_stocks(things, workshop)
    if workshop.asked.papers:
        add_papers(made, things, workshop, listed, (numbers or {}, units))
    for stock, parts in zip(workshop.stocks, listed, strict=True):
        with _blaming(stock):
            sets += make_sheet_sets(
                things,
                stock,
                workshop.machine,
                workshop.ways,
                compensate=not workshop.asked.nominal,
                accept=workshop.asked.accept or "",
                numbers=numbers,
                listed=parts,
            )
    # The writer's library takes a third of a second to load: only those who cut need it.
    from tilegen.pictures.sheet_pages import page_files  # noqa: PLC0415

    for sheet_set in sets:
        pages = page_files(sheet_set, paper=workshop.asked.pages, units=units, whole=workshop.asked.sheet_pages)
        files = sheet_files(sheet_set, pages)
        made.findings += audit_sheets(sheet_set, files)
        made.files |= {f"sheets/{name}": content for name, content in files.items()}
        made.sheets += [dict(record) for record in sheet_records(sheet_set)]
        made.messages += sheet_set.notes
    made.messages += meeting_notes(things, workshop.machine)
    return sets


def add_papers(
    made: Made, things: Things, workshop: Workshop, listed: Sequence[PartsList], words: tuple[Mapping[str, str], Units]
) -> None:
    """The printed papers that are glued on the parts of each stock, and what they add to its tiles.

    words: what the types are called in the layout, by id, and the units of the pages.
    """
    title = things[0][0].name if len(things) == 1 else "Papers"
    for stock, parts in zip(workshop.stocks, listed, strict=True):
        name = "papers.pdf" if len(listed) == 1 else f"papers-{stock.walls.kin}.pdf"
        book = papers(title, parts.built, *words, workshop.asked.pages)
        made.files[name] = book.pdf()
        pages = f"{name} has {counted(len(book.pages), 'page')}"
        made.messages.append(Message("note", f"{pages}. Print them on paper or label stock at 100 %."))
    play = min(thing.grid.joint_play for thing, _ in things)
    if play < 2 * PAPER_MM:
        told = (
            f"Papers make tiles about {2 * PAPER_MM:g} mm wider and deeper, and the gap between tiles is {play:g} mm."
        )
        cure = f"Add joint_play = {play + 2 * PAPER_MM:g} under [grid], or leave outer faces bare."
        made.messages.append(Message("decide", told, cure=cure))


def add_cut_pages(made: Made, sets: Sequence[SheetSet], workshop: Workshop, about: CutJob) -> None:
    """The pages for the cutting mat; materials that are alternatives have pages of their own. about: what all share."""
    kits: dict[str, list[SheetSet]] = {}
    for sheet_set in sets:
        kits.setdefault("" if sheet_set.purpose else sheet_set.material.kin, []).append(sheet_set)
    for kin, alike in kits.items():
        name = "cut.pdf" if len(kits) == 1 else f"cut-{kin}.pdf"
        loose = any(isinstance(thing, Piece) for thing, _ in about.things)
        told = cautions(workshop, printing=False, cutting=True, loose=loose)
        stock, thick = alike[0].material.called, show_length(alike[0].material.real_thickness)
        measure = [f"Measure the {stock}. If it is not {thick} thick, build again with --thickness."]
        job = replace(about, sets=alike, needs=cut_needs(alike, workshop.machine), first=measure, cautions=told)
        book = cut_pages(replace(job, paper=workshop.asked.pages))
        made.files[name], made.pages[name] = book.pdf(), len(book.pages)


def run_many(work: Callable[[One], Result], items: Sequence[One], jobs: int) -> list[Result]:
    """The work done on each item, in order; by several processes where that pays."""
    if jobs <= 1 or len(items) < _POOL_PAYS_FROM:
        return [work(item) for item in items]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(work, items, chunksize=max(1, len(items) // (4 * jobs))))


def print_meshes(
    things: Things, printer: PrinterFile, jobs: int = 1, *, underside: bool = False
) -> tuple[list[Mesh], list[Message]]:
    """One mesh a type as the printer is to have it, and what to know about them.

    underside: with name, id and an arrow below.

    Raises:
        SolidError: a type that does not come out as one closed body.
        InputError: a wall too thin for the printer, something too narrow for its chamfer.
    """
    notes = check_walls([(thing.name, thing.plates) for thing, _ in things], printer)
    items = [
        (
            thing.name,
            plates_to_print(thing, printer),
            thing.grid,
            printer,
            thing.id if underside and isinstance(thing, Tile) else "",
        )
        for thing, _ in things
    ]
    made = run_many(_printed, items, jobs)
    notes += [note for _, found in made for note in found]
    wanted = [mesh for (thing, _), (mesh, _) in zip(things, made, strict=True) if _is_hollow(thing)]
    if wanted:
        full = [mesh.name for mesh in wanted if not mesh.shared]
        notes += hollow_base_notes(things[0][0].grid, printer, full, len(wanted))
    return [mesh for mesh, _ in made], notes


def _is_hollow(thing: Tile | Piece) -> bool:
    """Whether its base is to be hollow from below."""
    return isinstance(thing, Tile) and thing.grid.set.base == "hollow"


def _printed(item: tuple[str, tuple[Plate, ...], Grid, PrinterFile, str]) -> tuple[Mesh, list[Message]]:
    name, plates, grid, printer, identity = item
    blank: list[Message] = []
    mark = None
    try:
        mark = underside_mark(name, identity, plates, margin=printer.bottom_chamfer) if identity else None
    except NoRoomBelowError as error:
        blank = [Message("note", f"{as_sentence(error.text)}. Write {identity} there by hand.")]
    below = [mark] if mark else []
    pockets = pockets_below(plates, grid, printer, below) if grid.set.base == "hollow" else Pockets()
    mesh, notes = as_printed(name, plates, printer, [*below, *pockets.marks])
    return replace(mesh, shared=pockets.shared), [*blank, *notes]


def add_solids(
    made: Made,
    things: Things,
    meshes: Sequence[Mesh],
    printer: PrinterFile,
    *,
    formats: Sequence[str],
) -> None:
    """A file of each type, the beds with what they take, and the whole kit as one bed.

    formats: those to write besides the usual ones.

    Raises:
        InputError: a part larger than the bed.
    """
    copies = [(mesh, count) for mesh, (_, count) in zip(meshes, things, strict=True)]
    by_name = {mesh.name: mesh for mesh in meshes}
    ids = {thing.name: thing.id for thing, _ in things}
    walls = wall_records([plate for thing, _ in things for plate in thing.plates], printer)
    job = made.job = make_job(copies, printer, walls)
    singly, beds = chosen("tile", formats), chosen("bed", formats)
    for mesh in meshes:
        made.files |= {f"solids/{mesh.name}.{row.word}": row.writer.write(Scene([mesh])) for row in singly}
        made.solids.append(
            {
                "name": mesh.name,
                "volume_mm3": mesh.volume,
                "size_mm": list(mesh.size),
                "closed": all(is_closed(row.writer.kept(mesh), mesh.triangles) for row in singly),
                "estimate": job.parts[mesh.name].record(),
            }
        )
    scenes = {bed.name: Scene([by_name[name] for name in bed.counts], bed.items, ids) for bed in job.beds}
    if meshes:
        scenes["kit"] = Scene(meshes, set_out_all(copies, gap_of(printer)), ids)
    for row in beds:
        made.files |= {f"solids/{name}.{row.word}": row.writer.write(scene) for name, scene in scenes.items()}
    if meshes:
        made.files["solids/beds.csv"] = beds_csv(job)
    made.messages += print_notes(things, meshes, printer)


def print_notes(things: Things, meshes: Sequence[Mesh], printer: PrinterFile) -> list[Message]:
    """What the printer makes of these tiles: heights and layers, doorways, small parts, shrink."""
    # Pieces follow the heights of tiles.
    every = [thing for thing, _ in things]
    tiles = [thing for thing in every if isinstance(thing, Tile)]
    notes = layer_notes([plate for thing in tiles or every for plate in thing.plates], printer)
    notes += relief_notes(things)
    notes += lintel_notes([(thing.name, thing.plates) for thing in every], printer)
    # Loose pieces have a caution of their own.
    loose = {thing.name for thing in every if not isinstance(thing, Tile)}
    small = [mesh.name for mesh in meshes if is_small_part(mesh.size) and mesh.name not in loose]
    if small:
        words = f"Keep {', '.join(small)} from children under 3: small enough to choke on."
        notes.append(Message("note", words))
    if printer.scale != (1.0, 1.0, 1.0):
        grown = ", ".join(f"{(s - 1) * 100:.2f} % along {axis}" for axis, s in zip("xyz", printer.scale, strict=True))
        words = f"Solids are drawn larger by {grown}, since prints shrink. Sizes and volumes are those of the files."
        notes.append(Message("note", words))
    return notes


def relief_notes(things: Things) -> list[Message]:
    """How far raised stones stand out from floors, and what that takes."""
    tiles = (thing for thing, _ in things if isinstance(thing, Tile) and thing.grid.surface.raised)
    heights = {
        tile.grid.surface.groove_depth for tile in tiles if any(m.depth < 0 and m.on == "top" for m in tile.base.marks)
    }
    if not heights:
        return []
    stones = f"The floor's stones stand {max(heights):g} mm above the base, so doorways are that much lower."
    return [Message("note", f"{stones} Saddles and other loose pieces stand on the stones.")]


def meeting_notes(things: Things, tool: PrinterFile | MachineFile) -> list[Message]:
    """How tiles of one tool meet: along rows, in doorways, at connectors."""
    name, error = tool.title.partition(",")[0], tool.size_error
    return [note for notes in (play_notes, doorway_notes, position_notes) for note in notes(things, name, error)]


def doorway_notes(things: Things, process: str, error: float) -> list[Message]:
    """Which bases go through the doorways, with 2 mm to spare, where two tiles meet that are each off by `error` mm.

    Clear width = opening less what the two may be out of line: both errors and the play (derived).
    """
    shift = {t.grid: 2 * error + t.grid.joint_play for t, _ in things}
    found = {
        round(clear_width(o, thing.grid) - shift[thing.grid], 3): (o.width, clear_width(o, thing.grid) < o.width)
        for thing, _ in things
        for plate in thing.plates
        for o in plate.openings
    }
    notes = []
    for clear, (width, narrowed) in sorted(found.items()):
        leaf = ", with its leaf standing open," if narrowed else ""
        words = f"Tiles from the {process} may meet a little off. Then a doorway {show_length(width)} wide{leaf} "
        if clear > SPARE_MM:
            most, easy = (show_length(rounded_down(size, 1)) for size in (clear, clear - SPARE_MM))
            passing = f"lets bases up to {easy} pass easily, and bases up to {most} only just."
            notes.append(Message("note", f"{words}{passing}"))
        else:
            notes.append(Message("decide", f"{words}lets no base pass.", cure="Make it wider, or leave the leaf out."))
    return notes


def play_notes(things: Things, process: str, error: float) -> list[Message]:
    """A warning where the play is less than the process's own size error, in mm."""
    plays = {thing.grid.joint_play for thing, _ in things if thing.grid.joint_play < error}
    return [
        Message(
            "decide",
            f"Tiles may not fit side by side: the gap between them (joint play) is {play:g} mm, and tiles from the "
            f"{process} may be {error:g} mm off.",
            cure=f"Add joint_play = {error:g} under [grid].",
        )
        for play in sorted(plays)
    ]


def position_notes(things: Things, process: str, error: float) -> list[Message]:
    """A warning where pegs or keys allow for less than the process's own error, in mm."""
    grids = dict.fromkeys(thing.grid for thing, _ in things if kind_of(thing.grid).slides)
    return [
        Message(
            "decide",
            f"{grid.connectors.kind.capitalize()} may not meet their pockets: they allow for pockets "
            f"{grid.connectors.position_error:g} mm off, and the {process} may be "
            f"{error:g} mm off.",
            cure=f"Set position_error = {error:g} under [connectors].",
        )
        for grid in grids
        if grid.connectors.position_error < error
    ]
