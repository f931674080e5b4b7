"""Materials and machines: reading their files, and which of them may meet."""

from __future__ import annotations

from pathlib import Path

from tilegen.errors import InputError
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile, Verdict
from tilegen.reading.files import find, read_model

_NOT_SAID = Verdict(
    verdict="ask", caution="unknown process", why="the material's file does not say whether this process suits it"
)
# Of whatever they are made.
LOOSE_PIECES = "Loose door pieces are small parts: keep them from children under 3."
# What no file can allow.
_NEVER = {
    ("pvc", "laser"): "PVC gives off hydrogen chloride in a laser: it harms you and ruins the machine",
    ("pvc", "hot-wire"): "PVC gives off hydrogen chloride when it is heated",
}


def read_material(word: str | Path) -> MaterialFile:
    """A material by its shipped name or its file.

    Raises:
        InputError: no such file, or something in it is wrong.
    """
    return read_model(find(word, "materials"), MaterialFile)


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
        never = "self-adhesive sheets never go into a laser: nobody knows what their glue gives off"
    if never is not None:
        return Verdict(verdict="block", why=never, instead="use a hand knife")
    said = material.process.get(machine.process, _NOT_SAID)
    if said.up_to is not None and said.beyond is not None and material.real_thickness > said.up_to:
        why = f"more than {said.up_to:g} mm thick; {said.why}"
        return said.model_copy(update={"verdict": said.beyond, "up_to": None, "beyond": None, "why": why})
    return said


def check_pair(material: MaterialFile, machine: MachineFile, accepted: str | None = None) -> None:
    """Refuse a machine that must not, or should not without a word from the user, cut a material.

    accepted: the cautions that the user names and accepts, with commas between them.

    Raises:
        InputError: the pair is blocked (nothing lifts that), or asked about and not accepted.
    """
    verdict = verdict_of(material, machine)
    place = f"[process] {machine.process}"
    found = f"{material.name} ({material.title}) on {machine.name} ({machine.process}): {verdict.why}"
    if verdict.verdict == "block":
        raise InputError(found, expected="a process that suits the material", cure=verdict.instead, place=place)
    named = {word.strip().casefold() for word in (accepted or "").split(",")}
    if verdict.verdict == "ask" and verdict.caution.casefold() not in named:
        other = f", or {verdict.instead}" if verdict.instead else ", or choose another machine"
        raise InputError(
            found,
            expected="your word that your workshop's rules and the machine's manual allow it",
            cure=f'give --accept "{verdict.caution}" if they do{other}',
            place=place,
        )


def cautions_of(material: MaterialFile, machine: MachineFile, *, loose: bool = False) -> tuple[str, ...]:
    """The cautions for one process in one material, each once. loose: there are loose pieces in the set."""
    said = material.process.get(machine.process, _NOT_SAID)
    more = (LOOSE_PIECES,) if loose else ()
    return tuple(dict.fromkeys((*machine.cautions, *said.cautions, *material.cautions, *more)))
