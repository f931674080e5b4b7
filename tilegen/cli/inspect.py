"""`tilegen inspect`: what is in a file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer

from tilegen.cli.common import print_json
from tilegen.cli.telling import say
from tilegen.inspection import inspect_file
from tilegen.lengths import Units, counted, show_length


def run_inspect(files: list[Path], *, units: Units, as_json: bool, quiet: bool) -> None:
    """Inspect each file; exit 1 if one of them is not what it should be."""
    findings = [inspect_file(path) for path in files]
    if as_json:
        print_json({"files": findings})
    elif not quiet:
        for finding in findings:
            say(_line(finding, units))
    if not all(finding["ok"] for finding in findings):
        raise typer.Exit(1)


def _line(finding: dict[str, Any], units: Units) -> str:
    size = " x ".join(show_length(v, units) for v in finding["size_mm"])
    parts = [f"{finding['path']}: {'fine' if finding['ok'] else 'NOT FINE'}", size, f"units: {finding['units']}"]
    parts.append("closed" if finding["closed"] else "not closed")
    if "manifold" in finding:
        parts += ["manifold" if finding["manifold"] else "not manifold", f"volume {finding['volume_mm3']:.3f} mm3"]
        parts.append(counted(len(finding["bodies"]), "body"))
    parts += [f"layer {name}: {count}" for name, count in finding.get("layers", {}).items()]
    parts += [str(text) for text in finding.get("findings", [])]
    parts += [f"undeclared layer {name}" for name in finding.get("undeclared_layers", [])]
    return "; ".join(parts)
