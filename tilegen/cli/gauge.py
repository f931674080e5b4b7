"""`tilegen gauge`: test pieces, and what their readings come to, kept in the user's own files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit

from tilegen.cli.common import file_records, print_json, warn
from tilegen.cli.telling import command_line, options_line, say
from tilegen.errors import InputError
from tilegen.jobs import Job, write_bare, write_files
from tilegen.lengths import show_length
from tilegen.making.asked import Tools
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.reading.files import find
from tilegen.reading.stock import cautions_of, check_pair, read_machine, read_material
from tilegen.sheets.formats import DRAWING_FORMATS, drawing_files
from tilegen.sheets.gauge import NAMES, Figures, figures_of, gauge_drawing, gauge_steps, parse_readings


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
        raise InputError(f'"{magnet}" and no printer', expected="--printer beside it", place="--magnet")


def _draw(tools: Tools, material: MaterialFile, machine: MachineFile, out: Path, *, as_json: bool, quiet: bool) -> None:
    drawing = gauge_drawing(material, machine, machine.kerf_pair(material))
    consent = ("--accept", tools.accept) if tools.accept else ()
    stock = ("--material", tools.materials[0], "--machine", tools.machine)
    steps = gauge_steps(material, machine, command_line("gauge", *stock, *consent, "-o", out, "--record"))
    name = f"{material.name}-{machine.name}-gauge"
    cautions = cautions_of(material, machine)
    page = _page(name, DRAWING_FORMATS["svg"].write(drawing).decode(), steps, cautions)
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


def _page(title: str, svg: str, steps: Sequence[str], cautions: Sequence[str]) -> str:
    import base64
    from html import escape

    from tilegen.pictures.report import STYLE

    data = base64.b64encode(svg.encode()).decode()
    items = "".join(f"<li>{escape(step)}</li>" for step in steps)
    warned = "".join(f"<li>{escape(caution)}</li>" for caution in cautions)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{STYLE}</style></head><body><main><h1>{escape(title)}</h1><section class='cautions'>"
        f"<h2>Before you begin</h2><p>The machine maker's manual, the material's safety data sheet and local rules "
        f"come before anything written here.</p><ul>{warned}</ul></section><section><h2>What to do</h2><ol>{items}</ol>"
        f'</section><figure><img class="wide" alt="test pieces" src="data:image/svg+xml;base64,{data}"></figure>'
        "</main></body></html>\n"
    )


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
    figures = figures_of(parse_readings(record), material.real_thickness, material.groove_skin)
    files: dict[str, bytes] = {}
    told: list[str] = []
    for folder, word, change in (
        ("materials", material_word, _material_changes(figures)),
        ("machines", machine_word, _machine_changes(figures, material.name)),
    ):
        if change:
            source = find(word, folder)
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
            say(f"Name your files from now on: {options_line(*words)}")


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

    from tilegen.reading.files import check

    for name, content in files.items():
        model = MaterialFile if name.startswith("materials/") else MachineFile
        check(tomllib.loads(content.decode()), model, name)
    write_bare(out, files)


def _remarks(figures: Figures) -> list[str]:
    told = []
    if figures.slot_fit is not None:
        told.append(f"slots: {show_length(figures.slot_fit)} wider than the sheet fit as you like them")
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
