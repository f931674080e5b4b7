"""`tilegen gauge --printer`: printed test pieces, and what their readings come to, kept in the user's own file."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import tomlkit

from tilegen.cli.common import file_records, print_json, warn
from tilegen.cli.gauge import put
from tilegen.cli.telling import command_line, options_line, say
from tilegen.errors import InputError
from tilegen.jobs import Job, write_bare, write_files
from tilegen.lengths import parse_length
from tilegen.making.things import Made
from tilegen.model.printers import PrinterFile, ShrinkTable
from tilegen.pictures.gauge_page import GaugePage, gauge_page
from tilegen.reading.files import check, find
from tilegen.reading.printers import read_printer
from tilegen.solids.beds import estimate_part, together
from tilegen.solids.build import is_closed
from tilegen.solids.formats.stl import kept, stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.solids.gauge import (
    NAMES,
    GaugePiece,
    gauge_pieces,
    lay_on_bed,
    parse_print_readings,
    print_figures,
    printer_changes,
    remarks,
    sane,
)
from tilegen.solids.printing import as_printed

_MEASURED = "measured"


def check_alone(material: str | None, machine: str | None) -> None:
    """Refuse to make printed and cut test pieces in one run: their readings go into different files.

    Raises:
        InputError: a material or a machine named beside the printer.
    """
    if material is not None or machine is not None:
        other = "--material" if material is not None else "--machine"
        raise InputError(
            f"--printer and {other}", expected="one or the other", cure="run gauge once for each", place="gauge"
        )


def run_print_gauge(word: str, record: Sequence[str], out: Path, *, magnet: str, as_json: bool, quiet: bool) -> None:
    """Make the test pieces, or work out and keep readings."""
    printer = read_printer(word)
    if record:
        _keep(record, word, printer, out, as_json=as_json, quiet=quiet)
    else:
        _make(word, printer, out, magnet=_across(magnet), as_json=as_json, quiet=quiet)


def _across(text: str) -> float:
    try:
        return parse_length(text)
    except InputError as error:
        raise error.located(place="--magnet") from None


def _make(word: str, printer: PrinterFile, out: Path, *, magnet: float, as_json: bool, quiet: bool) -> None:
    made, pieces = Made(), gauge_pieces(printer, magnet=magnet)
    # Chamfered as tiles are, but never stretched: the bars tell what a print shrinks by.
    plain = printer.model_copy(update={"shrink": ShrinkTable()})
    meshes = [as_printed(piece.name, piece.plates, plain)[0] for piece in pieces]
    items = lay_on_bed([(mesh, piece.count) for mesh, piece in zip(meshes, pieces, strict=True)], printer)
    for mesh in meshes:
        made.files[f"{mesh.name}.stl"] = stl_bytes(mesh)
        closed = is_closed(kept(mesh), mesh.triangles)
        made.solids.append({"name": mesh.name, "volume_mm3": mesh.volume, "size_mm": list(mesh.size), "closed": closed})
    made.files["bed.3mf"] = threemf_bytes(meshes, items)
    parts = [(estimate_part(mesh, printer), piece.count) for mesh, piece in zip(meshes, pieces, strict=True)]
    takes = together(parts, printer).words()
    steps, command = gauge_print_steps(printer, takes), command_line("gauge", "--printer", word, "-o", out, "--record")
    likely = {name: (words, *sane(name)) for name, words in NAMES.items()}
    example = f"{command} play=.2 --record bar-x=99.87,99.85 --record step-x=20.04"
    page = GaugePage(printer.title, pieces, meshes, items, steps, likely, example, printer.cautions)
    made.files["gauge.html"] = gauge_page(page).encode()
    folder = out / "gauge" / printer.name
    written = write_files(folder, made.files, job=Job("gauge", name=printer.name), tell=warn)
    if as_json:
        print_json({"files": file_records(folder, written), "solids": made.solids, "steps": steps, "readings": NAMES})
    elif not quiet:
        _tell(folder, pieces, steps, command, printer)
    made.check_closed()


def gauge_print_steps(printer: PrinterFile, takes: str) -> list[str]:
    """How to print the pieces so that they tell what tiles will do. takes: material and time, in words."""
    steps = [
        "Print all of bed.3mf in one go, as it lies: do not turn or scale the pieces, x and y are what they measure. "
        f"Layers, temperatures, material and the slicer's own corrections as for your tiles. It takes about {takes}.",
        "Let everything cool to room temperature on the bed before you take it off, then scrape off what the first "
        "layer has pressed out: a burr spoils every reading.",
    ]
    if printer.process == "resin":
        steps[1] = "Wash and cure the pieces as you do your tiles, and let them dry: readings change until then."
    return [*steps, "Try and measure as told below each picture, with the engraved side up."]


def _tell(folder: Path, pieces: Sequence[GaugePiece], steps: Sequence[str], command: str, printer: PrinterFile) -> None:
    say(f"{folder}: {len(pieces)} test pieces; begin with {folder / 'gauge.html'}")
    for number, step in enumerate(steps, 1):
        say(f"  {number}. {step}")
    for piece in pieces:
        if "=" in piece.use or "(" in piece.use:
            say(f"  {piece.name}: {piece.use}")
    say(f"  then: {command} NAME=READING")
    for caution in printer.cautions:
        say(f"  caution: {caution}")


def _remark(document: tomlkit.TOMLDocument, place: tuple[str, ...]) -> None:
    """Say in the value's comment that it was measured; what stood there follows."""
    table: Any = document
    for name in place[:-1]:
        table = table[name]
    item = table.item(place[-1])
    earlier = item.trivia.comment.lstrip("# ").removeprefix(_MEASURED).lstrip("; ")
    item.comment(f"{_MEASURED}; {earlier}" if earlier else _MEASURED)


def _keep(record: Sequence[str], word: str, printer: PrinterFile, out: Path, *, as_json: bool, quiet: bool) -> None:
    """Write the user's own printer file with the figures in it; comments stay."""
    figures = print_figures(parse_print_readings(record), printer)
    # What is set after a printer's name goes for the run, not into the file.
    source = find(word if Path(word).is_file() else word.partition(",")[0].strip(), "printers")
    name = f"printers/{source.name}"
    target = out / name
    base = target if target.is_file() else source
    document = tomlkit.parse(base.read_text(encoding="utf-8"))
    current = check(tomllib.loads(tomlkit.dumps(document)), PrinterFile, str(base))
    changes = printer_changes(figures, current.clearance)
    for place, value in changes.items():
        put(document, place, value)
        if place[-1] != _MEASURED:
            _remark(document, place)
    told = [f"{target}: {' '.join(place)} = {value}" for place, value in changes.items() if place[-1] != _MEASURED]
    told += remarks(figures)
    content = tomlkit.dumps(document)
    try:
        check(tomllib.loads(content), PrinterFile, str(target))
    except InputError as error:
        cure = "record press, snug and slip together" if "clearance" in error.message else error.cure
        raise InputError(error.found, expected=error.expected, cure=cure, file=str(target), place=error.place) from None
    write_bare(out, {name: content.encode()})
    if as_json:
        print_json({"files": [target.as_posix()], "figures": asdict(figures), "told": told})
    elif not quiet:
        for line in told:
            say(line)
        say(f"Name your file from now on: {options_line('--printer', target)}")
