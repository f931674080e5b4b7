"""What the plain install is licensed under: `python -m tests.proof.licences` (`--all`: all that is installed, not what it needs).

From each package's own metadata, and from the licence texts and shared libraries that its wheel brings: a package
under a free licence may carry a library under another one. Copyleft is flagged. This is a list, not legal advice.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.metadata import Distribution, distribution, distributions
from pathlib import Path

import tilegen

_TOOLS = {"pip", "setuptools", "wheel"}
# In SPDX identifiers, in classifiers, and in the first lines of the licences' own texts.
_COPYLEFT = re.compile(
    r"\b(?:A|L)?GPL\w*|\bMPL\b|\bEPL\b|\bEUPL\b|\bCDDL\b|\bCeCILL\w*|\bOSL\b|\bSSPL\b|CC-BY-SA|"
    r"(?:Affero |Lesser |Library )?General Public License|Mozilla Public License|Eclipse Public License",
    re.IGNORECASE,
)
_PERMITTED = re.compile(r"GCC[- ]exception|GCC Runtime Library Exception", re.IGNORECASE)
# The one library whose file stands in the package itself.
_SHIPPED = Path(tilegen.__file__).parent / "desk/page/three/three.js"
_TEXT = re.compile(r"(?:licen[cs]e|copying|notice)", re.IGNORECASE)


@dataclass(frozen=True)
class Terms:
    """One package: its licence in words, what in it is copyleft, and the shared libraries beside it."""

    name: str
    version: str
    words: str
    copyleft: tuple[str, ...]
    bundled: tuple[str, ...]
    bytes: int


def terms_of(found: Distribution) -> Terms:
    """Read one package's metadata, licence texts and shared libraries."""
    said = found.metadata
    named = [line.split(" :: ")[-1] for line in said.get_all("Classifier") or [] if line.startswith("License ::")]
    words = said.get("License-Expression") or " / ".join(named) or (said.get("License") or "?").splitlines()[0][:60]
    files = [(str(file), Path(str(file.locate()))) for file in found.files or []]
    texts = [path for name, path in files if ".dist-info" in name and _TEXT.search(Path(name).name) and path.is_file()]
    told = {match.group(0) for match in _COPYLEFT.finditer(words)}
    for path in texts:
        told |= _in_text(path.read_text(errors="replace"))
    bundled = sorted({_library(Path(name).name) for name, _ in files if ".libs/" in name})
    size = sum(path.stat().st_size for _, path in files if path.is_file())
    return Terms(said["Name"], found.version, words, tuple(sorted(told)), tuple(bundled), size)


def _in_text(text: str) -> set[str]:
    found = {" ".join(match.group(0).split()) for match in _COPYLEFT.finditer(text)}
    names = {_short(word) for word in found if word.isupper() or " " in word}
    # The GPL's own text speaks of the Affero licence.
    names -= {"AGPL"} if "GPL" in names else set()
    exception = ", with the GCC runtime exception" if _PERMITTED.search(text) else ""
    return {f"{name} in its texts{exception}" for name in names}


def _short(words: str) -> str:
    """A licence's name as its letters."""
    for part, letters in (("affero", "AGPL"), ("lesser", "LGPL"), ("library", "LGPL"), ("general public", "GPL")):
        if part in words.lower():
            return letters
    return re.sub(r"(?i)v?\d.*", "", words)


def _library(name: str) -> str:
    """A shared library's name less its version and the mark that the wheel gave it."""
    return re.split(r"[-.]", name)[0]


def plain_install() -> list[Distribution]:
    """The tool's requirements and theirs, without extras."""
    from packaging.requirements import Requirement

    found: dict[str, Distribution] = {}
    waiting = ["tilegen"]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        found[name] = distribution(name)
        for line in found[name].requires or []:
            wanted = Requirement(line)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                waiting.append(wanted.name.lower().replace("_", "-"))
    return list(found.values())


def rows(found: Iterable[Terms]) -> list[str]:
    """A line for each package, what is flagged below it."""
    lines = []
    for terms in sorted(found, key=lambda terms: terms.name.lower()):
        lines.append(f"  {terms.name:20} {terms.version:12} {terms.bytes / 1e6:7.1f} MB  {terms.words}")
        if terms.copyleft:
            lines.append(f"      COPYLEFT: {', '.join(terms.copyleft)}")
        if terms.bundled:
            lines.append(f"      brings: {', '.join(terms.bundled)}")
    return lines


def _licence_of(path: Path) -> str:
    """The first line of the licence beside a file."""
    return (path.parent / "LICENSE").read_text(encoding="utf-8").splitlines()[0]


def main() -> None:
    """Print the list and how many are flagged."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--all", action="store_true", help="all that is installed here")
    asked = words.parse_args()
    every = [d for d in distributions() if d.metadata["Name"].lower() not in _TOOLS] if asked.all else plain_install()
    found = [terms_of(d) for d in every]
    print("\n".join(rows(found)))
    print(f"  {'three.js (in the desk)':33} {_SHIPPED.stat().st_size / 1e6:7.1f} MB  {_licence_of(_SHIPPED)}")
    own = [terms.name for terms in found if _COPYLEFT.search(terms.words)]
    print(f"{len(found)} packages; copyleft by their own licence: {', '.join(own) or 'none'}; ", end="")
    print(f"copyleft somewhere in their texts: {', '.join(t.name for t in found if t.copyleft) or 'none'}")


if __name__ == "__main__":
    main()
