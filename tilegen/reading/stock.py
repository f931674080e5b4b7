"""Materials and machines: reading their files, and which of them may meet."""

from __future__ import annotations

from pathlib import Path

from tilegen.errors import InputError
from tilegen.reading.files import find, read_model
from tilegen.reading.models import MachineFile, MaterialFile

_NOT_SAID = "ask: the material's file does not say whether this process suits it"


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


def check_pair(material: MaterialFile, machine: MachineFile, accepted: str | None = None) -> None:
    """Refuse a machine that must not, or should not without a word from the user, cut a material.

    accepted: the name of a material for which the user has answered the question that its file asks.

    Raises:
        InputError: the pair is blocked (nothing lifts that), or asked about and not accepted.
    """
    word, _, reason = material.process.get(machine.process, _NOT_SAID).partition(":")
    place = f"[process] {machine.process}"
    found = f"{material.name} ({material.title}) on {machine.name} ({machine.process})"
    if word == "block":
        why, _, instead = reason.strip().partition("; ")
        raise InputError(f"{found}: {why}", expected="a process that suits the material", cure=instead, place=place)
    if word == "ask" and accepted != material.name:
        raise InputError(
            f"{found}: {reason.strip()}",
            expected="your word that your workshop's rules and the machine's manual allow it",
            cure=f"give --accept {material.name} if they do, or choose another machine",
            place=place,
        )
