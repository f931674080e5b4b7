"""The core, by group: what the mutation score is about."""

from __future__ import annotations

from pathlib import Path

from tests.proof.reach import ROOT

_SHEETS = ("partpaths", "saw", "replay", "toolpaths/order", "nesting/guillotine")


def core() -> dict[str, Path]:
    """Modules of the core by dotted name."""
    paths = [p for room in ("tiles", "plans", "fit") for p in sorted((ROOT / "tilegen" / room).glob("*.py"))]
    paths += [ROOT / "tilegen" / "sheets" / f"{name}.py" for name in _SHEETS]
    return {".".join(p.relative_to(ROOT).with_suffix("").parts): p for p in paths if p.stem != "__init__"}


def group(module: str) -> str:
    return module.split(".")[1]
