"""`tilegen gauge`: test pieces to cut or to print, and their readings, kept in the user's own files."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import tomlkit

from tilegen.cli.common import file_records, print_json, warn
from tilegen.cli.telling import command_line, options_line, say
from tilegen.errors import InputError
from tilegen.files.stock import (
    cautions_of,
    check_pair,
    material_path,
    read_machine,
    read_material,
    read_printer,
)
from tilegen.files.toml import check, find
from tilegen.files.writing import Job, write_bare, write_files
from tilegen.lengths import parse_length
from tilegen.making.asked import Tools
from tilegen.making.things import Made
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.model.printers import PrinterFile, ShrinkTable
from tilegen.pictures.gauge_page import GaugePage, cut_gauge_page, gauge_page
from tilegen.sheets.formats import DRAWING_FORMATS, drawing_files
from tilegen.sheets.gauge import NAMES, Figures, figures_of, gauge_drawing, gauge_steps, parse_readings
from tilegen.solids.build import is_closed
from tilegen.solids.formats.stl import kept, stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes
from tilegen.solids.gauge import NAMES as PRINT_NAMES
from tilegen.solids.gauge import (
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
from tilegen.solids.processes import estimate_part, process_of, together


def run_gauge(tools: Tools, record: Sequence[str], out: Path, *, as_json: bool, quiet: bool) -> None:
    """Draw the test pieces, or work out and keep readings."""
    word = tools.materials[0]
    material, machine = read_material(word), read_machine(tools.machine)
    check_pair(material, machine, tools.accept)
    if record:
        _keep(record, word, tools.machine, material, out, as_json=as_json, quiet=quiet)
    else:
        _draw(tools, material, machine, out, as_json=as_json, quiet=quiet)


def check_no_magnet(magnet: str, usual: str) -> None:
    """Refuse a magnet for test pieces that are cut: none of them has a pocket.

    Raises:
        InputError: another magnet than the usual one.
    """
    if magnet != usual:
        raise InputError(
            "only printed test pieces have a pocket for a magnet",
            cure="Leave out --magnet, or add --printer",
            place="--magnet",
        )


def _draw(tools: Tools, material: MaterialFile, machine: MachineFile, out: Path, *, as_json: bool, quiet: bool) -> None:
    drawing = gauge_drawing(material, machine, machine.kerf_pair(material))
    consent = ("--accept", tools.accept) if tools.accept else ()
    stock = ("--material", tools.materials[0], "--machine", tools.machine)
    steps = gauge_steps(material, machine, command_line("gauge", *stock, *consent, "-o", out, "--record"))
    name = f"{material.name}-{machine.name}-gauge"
    cautions = cautions_of(material, machine)
    page = cut_gauge_page(name, DRAWING_FORMATS["svg"].write(drawing), steps, cautions)
    files = {**drawing_files(drawing, name), f"{name}.html": page.encode()}
    written = write_files(out / "gauge", files, job=Job("gauge", name=name), manifest=f"{name}.json", tell=warn)
    if as_json:
        print_json({"files": file_records(out / "gauge", written), "steps": steps, "readings": NAMES})
    elif not quiet:
        say(f"{out / 'gauge'}: {name}.dxf, {name}.svg, {name}.html")
        for number, step in enumerate(steps, 1):
            say(f"  {number}. {step}")
        for caution in cautions:
            say(f"  caution: {caution}")


def _keep(
    record: Sequence[str],
    material_word: str,
    machine_word: str,
    material: MaterialFile,
    out: Path,
    *,
    as_json: bool,
    quiet: bool,
) -> None:
    """Write the user's own material and machine file with the figures in them; comments stay."""
    # A slot and a fold are read against the sheet as it was measured, perhaps in an earlier run.
    stock, tool = material_path(material_word), find(machine_word, "machines")
    kept = out / "materials" / stock.name
    own = read_material(kept.as_posix()) if kept.is_file() else material
    figures = figures_of(parse_readings(record), own.real_thickness, own.groove_skin)
    files: dict[str, bytes] = {}
    told: list[str] = []
    for folder, source, change in (
        ("materials", stock, _material_changes(figures)),
        ("machines", tool, _machine_changes(figures, material.name)),
    ):
        if change:
            target = out / folder / source.name
            files[f"{folder}/{source.name}"] = _changed(target if target.is_file() else source, change)
            told += [f"{target}: {' '.join(path)} = {value}" for path, value in change.items()]
    _check(out, files)
    told += _remarks(figures)
    if as_json:
        print_json({"files": [(out / name).as_posix() for name in files], "figures": _record(figures), "told": told})
    elif not quiet:
        for line in told:
            say(line)
        if files:
            options = {"materials": "--material", "machines": "--machine"}
            words = [word for name in files for word in (options[name.split("/")[0]], out / name)]
            say(f"From now on, use your own files: {options_line(*words)}")


def _changed(file: Path, change: Mapping[tuple[str, ...], Any]) -> bytes:
    """The file's text with the values put in; comments stay."""
    document = tomlkit.parse(file.read_text(encoding="utf-8"))
    for path, value in change.items():
        put(document, path, value)
    return tomlkit.dumps(document).encode()


def _material_changes(figures: Figures) -> dict[tuple[str, ...], Any]:
    changes: dict[tuple[str, ...], Any] = {}
    if figures.thickness is not None:
        changes["measured",] = f"{figures.thickness:.3f} mm"
    if figures.slot_fit is not None:
        changes["slot_fit",] = f"{figures.slot_fit:.3f} mm"
    if figures.hinge is not None:
        changes["folding", "hinge"] = round(figures.hinge, 3)
    return changes


def _machine_changes(figures: Figures, material: str) -> dict[tuple[str, ...], Any]:
    changes: dict[tuple[str, ...], Any] = {}
    if figures.kerf is not None:
        changes["kerf_by_material", material] = [f"{value:.3f} mm" for value in figures.kerf]
    if figures.fence_zero is not None:
        changes["fence_zero",] = f"{figures.fence_zero:.3f} mm"
    return changes


def put(document: tomlkit.TOMLDocument, path: tuple[str, ...], value: Any) -> None:  # noqa: ANN401
    """Set a value in a TOML document, in a table of a table if need be; comments stay."""
    table: Any = document
    for name in path[:-1]:
        if name not in table:
            table[name] = tomlkit.table()
        table = table[name]
    table[path[-1]] = value


def _check(out: Path, files: dict[str, bytes]) -> None:
    """Write the files only if they can be read back as what they are."""
    import tomllib

    from tilegen.files.toml import check

    for name, content in files.items():
        model = MaterialFile if name.startswith("materials/") else MachineFile
        check(tomllib.loads(content.decode()), model, name)
    write_bare(out, files)


def _remarks(figures: Figures) -> list[str]:
    told = []
    if figures.scale is not None:
        x, y = ((value - 1) * 100 for value in figures.scale)
        told.append(f"scale: {x:+.2f} % along x, {y:+.2f} % along y; set it in the machine's own program")
    return told


def _record(figures: Figures) -> dict[str, Any]:
    return {
        "thickness_mm": figures.thickness,
        "kerf_mm": list(figures.kerf) if figures.kerf else None,
        "slot_fit_mm": figures.slot_fit,
        "fence_zero_mm": figures.fence_zero,
        "hinge": figures.hinge,
        "scale": list(figures.scale) if figures.scale else None,
    }


# Printed test pieces.

_MEASURED = "measured"


def check_alone(material: str | None, machine: str | None) -> None:
    """Refuse to make printed and cut test pieces in one run: their readings go into different files.

    Raises:
        InputError: a material or a machine named beside the printer.
    """
    if material is not None or machine is not None:
        other = "--material" if material is not None else "--machine"
        raise InputError(f"--printer and {other} can't go together", cure="Run gauge once with each of them")


def run_print_gauge(word: str, record: Sequence[str], out: Path, *, magnet: str, as_json: bool, quiet: bool) -> None:
    """Make the test pieces, or work out and keep readings."""
    printer = read_printer(word)
    if record:
        _keep_print(record, word, printer, out, as_json=as_json, quiet=quiet)
    else:
        _make_print(word, printer, out, magnet=_across(magnet), as_json=as_json, quiet=quiet)


def _across(text: str) -> float:
    try:
        return parse_length(text)
    except InputError as error:
        raise error.located(place="--magnet") from None


def _make_print(word: str, printer: PrinterFile, out: Path, *, magnet: float, as_json: bool, quiet: bool) -> None:
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
    likely = {name: (words, *sane(name)) for name, words in PRINT_NAMES.items()}
    example = f"{command} play=.2 --record bar-x=99.87,99.85 --record step-x=20.04"
    page = GaugePage(printer.title, pieces, meshes, items, steps, likely, example, printer.cautions)
    made.files["gauge.html"] = gauge_page(page).encode()
    folder = out / "gauge" / printer.name
    written = write_files(folder, made.files, job=Job("gauge", name=printer.name), tell=warn)
    if as_json:
        print_json(
            {"files": file_records(folder, written), "solids": made.solids, "steps": steps, "readings": PRINT_NAMES}
        )
    elif not quiet:
        _tell_print(folder, pieces, steps, command, printer)
    made.check_closed()


def gauge_print_steps(printer: PrinterFile, takes: str) -> list[str]:
    """How to print the pieces so that they come out as tiles will. takes: material and time, in words."""
    return [
        "Print all of bed.3mf in one go, as it lies: do not turn or scale the pieces, x and y are what they measure. "
        f"Layers, temperatures, material and the slicer's own corrections as for your tiles. It takes about {takes}.",
        process_of(printer).finish,
        "Try and measure as told below each picture, with the engraved side up.",
    ]


def _tell_print(
    folder: Path, pieces: Sequence[GaugePiece], steps: Sequence[str], command: str, printer: PrinterFile
) -> None:
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
    item = table[place[-1]]
    earlier = item.trivia.comment.lstrip("# ").removeprefix(_MEASURED).lstrip("; ")
    item.comment(f"{_MEASURED}; {earlier}" if earlier else _MEASURED)


def _keep_print(
    record: Sequence[str], word: str, printer: PrinterFile, out: Path, *, as_json: bool, quiet: bool
) -> None:
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
        cure = "Record press, snug and slip together" if "clearance" in error.message else error.cure
        raise InputError(error.text, cure=cure, file=str(target), place=error.place) from None
    write_bare(out, {name: content.encode()})
    if as_json:
        print_json({"files": [target.as_posix()], "figures": asdict(figures), "told": told})
    elif not quiet:
        for line in told:
            say(line)
        say(f"From now on, use your own file: {options_line('--printer', target)}")
