"""Pictures and lists for the page: the layout, sheets and beds as the commands draw them; tools and their cautions."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from tilegen.desk.taking import Wish, check_names
from tilegen.desk.view import open_text
from tilegen.errors import InputError, TilegenError
from tilegen.making.asked import Tools
from tilegen.making.things import things_of
from tilegen.making.workshop import Workshop, cautions, open_workshop
from tilegen.pictures.layout import bed_canvas, layout_canvas
from tilegen.plans.ways import WAYS
from tilegen.reading.files import shipped
from tilegen.reading.printers import read_printer
from tilegen.reading.starting import STARTING_PLAN
from tilegen.reading.stock import read_machine, read_material
from tilegen.sheets.make import make_sheets, sheet_files
from tilegen.solids.beds import set_out
from tilegen.solids.build import build_mesh
from tilegen.tiles.features import FEATURES

_MOST_PICTURES = 24


def draw(text: str, what: str, wish: Wish) -> list[dict[str, str]]:
    """Pictures by name, as SVG: "layout", "sheets" or "beds".

    Raises:
        InputError: a plan that is wrong, tools that do not go together, or another word.
    """
    opened = open_text(text)
    if what == "layout":
        return [{"name": "layout", "svg": layout_canvas(opened.drawing, opened.kit, units=wish.units).svg()}]
    workshop = workshop_of(wish)
    if what == "sheets":
        found = []
        for material in workshop.materials:
            sheets = make_sheets(things_of(opened.kit), material, workshop.machine, workshop.ways)
            files = sheet_files(sheets, paper=wish.paper)
            found += [{"name": n, "svg": c.decode()} for n, c in sorted(files.items()) if n.endswith(".svg")]
        return found[:_MOST_PICTURES]
    if what == "beds":
        things = things_of(opened.kit)
        meshes = [(build_mesh(thing.name, thing.plates), count) for thing, count in things]
        sizes = {mesh.name: (mesh.size[0], mesh.size[1]) for mesh, _ in meshes}
        beds = set_out(meshes, workshop.printer)
        return [
            {"name": f"bed {number}", "svg": bed_canvas(number, items, sizes, workshop.printer).svg()}
            for number, items in enumerate(beds[:_MOST_PICTURES], 1)
        ]
    raise InputError(f'the picture "{what}"', expected="layout, sheets or beds")


def workshop_of(wish: Wish) -> Workshop:
    """The tools of a wish, read and checked.

    Raises:
        InputError: a name that is not shipped, or a pair that must not be.
    """
    check_names(wish)
    accept = ", ".join(wish.accept) or None
    return open_workshop(
        Tools(
            materials=tuple(wish.materials), machine=wish.machine, printer=wish.printer, accept=accept, paper=wish.paper
        )
    )


def example_plans() -> list[dict[str, str]]:
    """The plan to begin with and the shipped ones, with their text."""
    found = [{"name": "A first plan", "text": STARTING_PLAN}]
    for path in sorted(shipped("plans").glob("*.toml")):
        found.append({"name": path.stem, "text": path.read_text(encoding="utf-8")})
    return found


def tools() -> dict[str, Any]:
    """Materials, machines, printers by name, with their titles, the cautions of each pair; what each feature takes."""
    materials = {path.stem: read_material(path.stem) for path in sorted(shipped("materials").glob("*.toml"))}
    machines = {path.stem: read_machine(path.stem) for path in sorted(shipped("machines").glob("*.toml"))}
    printers = {path.stem: read_printer(path.stem) for path in sorted(shipped("printers").glob("*.toml"))}
    pairs: dict[str, dict[str, Any]] = {}
    for machine in machines:
        for material in materials:
            pairs[f"{material}/{machine}"] = _pair(material, machine)
    return {
        "materials": {name: m.title for name, m in materials.items()},
        "machines": {name: m.title for name, m in machines.items()},
        "printers": {name: p.title for name, p in printers.items()},
        "printer_cautions": {name: list(p.cautions) for name, p in printers.items()},
        "pairs": pairs,
        "ways": {word: f"{word}: {kind.says}" for word, kind in WAYS.items()},
        "features": {
            word: {key: asdict(sort) for key, sort in kind.takes.items() if key not in ("at", "size")}
            for word, kind in FEATURES.items()
        },
    }


def _pair(material: str, machine: str) -> dict[str, Any]:
    """Whether a machine may cut a material; "ask": the caution that must be taken on first."""
    verdict = read_material(material).process.get(read_machine(machine).process)
    ask = verdict.caution if verdict is not None and verdict.verdict == "ask" else ""
    wish = Wish(materials=[material], machine=machine, accept=[ask] if ask else [])
    try:
        workshop = workshop_of(wish)
    except TilegenError as error:
        return {"ok": False, "why": str(error), "ask": "", "cautions": []}
    why = verdict.why if ask and verdict is not None else ""
    return {"ok": not ask, "why": why, "ask": ask, "cautions": cautions(workshop, printing=False, cutting=True)}
