"""Materials, machines, printers and shelves: their files, and which machine may cut which material."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from tilegen.errors import InputError, as_sentence, nearest
from tilegen.files.toml import check, find, read_model, read_toml
from tilegen.model.keys import Key
from tilegen.model.machines import MachineFile
from tilegen.model.materials import ROLES, MaterialFile, Stock, Verdict
from tilegen.model.printers import PrinterFile
from tilegen.model.tables import Table
from tilegen.plans.shelf import Shelf

_NOT_SAID = Verdict(
    verdict="ask", caution="unknown process", why="the material's file does not say whether this process suits it"
)
BEFORE_ALL = (
    "The machine maker's manual, the material's safety data sheet and local rules come before anything written here."
)
# Of whatever they are made.
LOOSE_PIECES = "Loose door pieces are small parts: keep them from children under 3."
# What no file can allow.
_NEVER = {
    ("pvc", "laser"): "PVC gives off hydrogen chloride in a laser, which harms you and ruins the machine",
    ("pvc", "hot-wire"): "PVC gives off hydrogen chloride when it is heated",
}


# Other names of shipped materials.
_ALSO_CALLED = {"xps": "foam"}


def read_material(word: str | Path) -> MaterialFile:
    """A material by its shipped name or its file.

    Raises:
        InputError: no such file, or something in it is wrong.
    """
    return read_model(material_path(word), MaterialFile)


def material_path(word: str | Path) -> Path:
    """Where a material's file is, by its shipped name or its path.

    Raises:
        InputError: there is none.
    """
    return find(_ALSO_CALLED.get(str(word), word), "materials")


_HOW_ROLES = 'Write a role and a material, as in "base = foam, walls = greyboard"'


def read_stock(word: str | Path) -> Stock:
    """A material by its shipped name or its file, or one for each role: "base = foam, walls = greyboard, skin = card".

    Raises:
        InputError: no such file, something in it is wrong; a role that is not known, twice or missing.
    """
    if "=" not in str(word) or Path(word).is_file():
        return Stock.of(read_material(word))
    found: dict[str, MaterialFile] = {}
    for part in filter(None, (part.strip() for part in str(word).split(","))):
        role, _, name = (side.strip() for side in part.partition("="))
        if not (role and name):
            text = f'"{part}" does not say which material is for what'
            raise InputError(text, cure=_HOW_ROLES, place="--material")
        if role not in ROLES:
            text = f'"{role}" is not something that a material can be for'
            raise InputError(text, cure=nearest(role, ROLES), place="--material")
        if role in found:
            text = f'"{role}" has two materials'
            raise InputError(text, cure="Name one for each role", place="--material")
        found[role] = read_material(name)
    for role in ("base", "walls"):
        if role not in found:
            raise InputError(f'"{role}" has no material', cure=_HOW_ROLES, place="--material")
    return Stock(**found)


def read_machine(word: str | Path) -> MachineFile:
    """A machine by its shipped name or its file.

    Raises:
        InputError: no such file, or something in it is wrong.
    """
    return read_model(find(word, "machines"), MachineFile)


def verdict_of(material: MaterialFile, machine: MachineFile) -> Verdict:
    """Whether a machine may cut a material at its thickness: the file's word, unless nothing can allow it."""
    never = _NEVER.get((material.family, machine.process))
    if never is None and material.adhesive_backed and machine.process == "laser":
        never = "nobody knows what the glue of a self-adhesive sheet gives off"
    if never is not None:
        return Verdict(verdict="block", why=never, instead="use a hand knife")
    said = material.process.get(machine.process, _NOT_SAID)
    if said.up_to is not None and said.beyond is not None and material.real_thickness > said.up_to:
        why = f"it is over {said.up_to:g} mm thick ({said.why})"
        return said.model_copy(update={"verdict": said.beyond, "up_to": None, "beyond": None, "why": why})
    return said


def check_pair(material: MaterialFile, machine: MachineFile, accepted: str | None = None) -> None:
    """Refuse a machine that must not, or should not without a word from the user, cut a material.

    accepted: the cautions that the user names and accepts, with commas between them.

    Raises:
        InputError: the pair is blocked (nothing lifts that), or asked about and not accepted.
    """
    verdict = verdict_of(material, machine)
    place = f"material {material.name}, machine {machine.name}"
    name = re.sub(r",\s*[\d.]+ mm$", "", material.title)
    stock, tool = f"{material.real_thickness:g} mm {name}", f"a {machine.process.replace('-', ' ')}"
    instead = verdict.instead or "choose another machine"
    if verdict.verdict == "block":
        raise InputError(
            f"{stock} can't be cut with {tool}: {verdict.why}",
            cure=as_sentence(instead),
            place=place,
        )
    named = {word.strip().casefold() for word in (accepted or "").split(",")}
    if verdict.verdict == "ask" and verdict.caution.casefold() not in named:
        raise InputError(
            f"cutting {stock} with {tool} needs your consent: {verdict.why}",
            cure="If your workshop's rules and the machine's manual allow it, add "
            f'--accept "{verdict.caution}"; otherwise {instead}',
            place=place,
        )


def cautions_of(material: MaterialFile, machine: MachineFile, *, loose: bool = False) -> tuple[str, ...]:
    """The cautions for one process in one material, each once. loose: there are loose pieces in the set."""
    said = material.process.get(machine.process, _NOT_SAID)
    more = (LOOSE_PIECES,) if loose else ()
    return tuple(dict.fromkeys((*machine.cautions, *said.cautions, *material.cautions, *more)))


DEFAULT_PRINTER = "fdm-220"


def read_printer(word: str = DEFAULT_PRINTER) -> PrinterFile:
    """A printer, by the name of a shipped file or by path; settings may follow, as in "fdm-220, layers.height=0.1".

    Raises:
        InputError: not found, a wrong setting, or measures that no part fits in.
    """
    name, settings = _split(word)
    path = find(name, "printers")
    tables = read_toml(path)
    for setting in settings:
        _put(tables, setting)
    source = f'--printer "{word}"' if settings else str(path)
    printer = check(tables, PrinterFile, source)
    if printer.height <= 0:
        raise InputError(
            f"a printer can't be {printer.height:g} mm high", cure="Check its height", file=source, place="height"
        )
    if min(printer.room) <= 0:
        raise InputError(
            f"margin and brim take {printer.margin + printer.brim:g} mm on each side, which leaves nothing of a bed of "
            f"{printer.bed[0]:g} x {printer.bed[1]:g} mm",
            cure="Check the size of the bed, or use a smaller margin and brim",
            file=source,
            place="bed",
        )
    return printer


def _split(word: str) -> tuple[str, list[str]]:
    """The name or path, and what is set after it."""
    if Path(word).is_file():
        return word, []
    name, *settings = (part.strip() for part in word.split(","))
    return name, [setting for setting in settings if setting]


def _put(tables: dict[str, Any], setting: str) -> None:
    """Set one key of a file's tables, as `key=value` or `table.key=value`."""
    place, found, text = setting.partition("=")
    if not found or not place.strip() or not text.strip():
        raise InputError(
            f'"{setting}" is not a setting', cure="Write a key and a value, as in layers.height=0.1", place="--printer"
        )
    table = tables
    *above, key = (part.strip() for part in place.split("."))
    for part in above:
        table = table.setdefault(part, {})
        if not isinstance(table, dict):
            raise InputError(
                f'"{setting}" can\'t be set: {part} has no keys of its own',
                cure=f"Set {part} itself, as in {part}=VALUE",
                place="--printer",
            )
    table[key] = _value(text.strip())


def _value(text: str) -> Any:  # noqa: ANN401
    """As TOML has it; what is no TOML value is text, such as 0.4 mm."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]


class ShelfFile(Table):
    """What is owned, by name or by id, as `tilegen kit` gives them."""

    tiles: Annotated[dict[str, Count], Key("How many of each type of tile are there, by name or id.")] = Field(
        default_factory=dict
    )
    pieces: Annotated[dict[str, Count], Key("How many of each loose piece are there, by name or id.")] = Field(
        default_factory=dict
    )


def read_shelf(path: Path) -> Shelf:
    """A shelf file; names are checked against a kit when stock is taken.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    model = read_model(path, ShelfFile)
    return Shelf(model.tiles, model.pieces, str(path))
