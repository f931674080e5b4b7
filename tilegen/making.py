"""The main job: from a kit to all its files, in memory; `jobs` writes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tilegen.errors import AnswerIsNo, InputError, nearest
from tilegen.jobs import run_many
from tilegen.plans.kit import Kit
from tilegen.solids.beds import Printer, set_out, set_out_all
from tilegen.solids.build import Mesh, build_mesh
from tilegen.solids.stl import is_closed, stl_bytes
from tilegen.solids.threemf import threemf_bytes
from tilegen.tiles.doors import Piece
from tilegen.tiles.plate import Plate
from tilegen.tiles.tile import Tile

Wanted = Sequence[tuple[Tile | Piece, int]]


@dataclass
class Made:
    """Files by path, and the records about them that the JSON gives."""

    files: dict[str, bytes] = field(default_factory=dict)
    solids: list[dict[str, Any]] = field(default_factory=list)
    sheets: list[dict[str, Any]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    findings: list[str] = field(default_factory=list)

    def check_closed(self) -> None:
        """Say so if a solid that was written is not closed, or the auditor found something on a sheet.

        Raises:
            AnswerIsNo: names the solids, or the findings.
        """
        if self.findings:
            raise AnswerIsNo(f"{'; '.join(self.findings)}; the files are there to look at")
        leaking = [record["name"] for record in self.solids if not record["closed"]]
        if leaking:
            raise AnswerIsNo(f"not closed: {', '.join(leaking)}; the files are there to look at")


def wanted(kit: Kit, counts: Mapping[str, int] | None = None, only: Sequence[str] = ()) -> Wanted:
    """What a kit needs, or just the tiles and pieces named (by name or id).

    counts: how many to make by id, if not all of the kit; types of which none is to be made are left out.

    Raises:
        InputError: a name that is not in the kit, with the nearest that is.
    """
    everything: list[tuple[Tile | Piece, int]] = [(t.tile, t.count) for t in kit.types]
    everything += [(p.piece, p.count) for p in kit.pieces]
    if counts is not None:
        everything = [(thing, counts[thing.id]) for thing, _ in everything]
    if only:
        everything = _named(everything, only)
    return [(thing, count) for thing, count in everything if count]


def _named(everything: list[tuple[Tile | Piece, int]], only: Sequence[str]) -> list[tuple[Tile | Piece, int]]:
    known = {key: thing for thing in everything for key in (thing[0].name, thing[0].id)}
    for name in only:
        if name not in known and name.upper() not in known:
            names = [thing.name for thing, _ in everything]
            raise InputError(
                f'the tile "{name}"', expected="one of this kit", cure=nearest(name, names), place="--only"
            )
    chosen = [known.get(name) or known[name.upper()] for name in only]
    return list({thing.id: (thing, count) for thing, count in chosen}.values())


def build_meshes(things: Wanted, jobs: int = 1) -> list[Mesh]:
    """One mesh a type.

    Raises:
        SolidError: a type that does not come out as one closed body.
    """
    return run_many(_mesh, [(thing.name, thing.plates) for thing, _ in things], jobs)


def _mesh(item: tuple[str, tuple[Plate, ...]]) -> Mesh:
    return build_mesh(*item)


def add_solids(made: Made, things: Wanted, meshes: Sequence[Mesh], printer: Printer, folder: str = "solids/") -> None:
    """STL of each type, the beds, and the whole kit in one 3MF."""
    copies = [(mesh, count) for mesh, (_, count) in zip(meshes, things, strict=True)]
    by_name = {mesh.name: mesh for mesh in meshes}
    for mesh in meshes:
        content = made.files[f"{folder}{mesh.name}.stl"] = stl_bytes(mesh)
        made.solids.append(
            {"name": mesh.name, "volume_mm3": mesh.volume, "size_mm": list(mesh.size), "closed": is_closed(content)}
        )
    for number, items in enumerate(set_out(copies, printer), 1):
        used = [by_name[name] for name in dict.fromkeys(item.name for item in items)]
        made.files[f"{folder}bed-{number:02d}.3mf"] = threemf_bytes(used, items)
    if meshes:
        made.files[f"{folder}kit.3mf"] = threemf_bytes(meshes, set_out_all(copies, printer.spacing))
    made.notes += lintel_notes(things, printer)


def lintel_notes(things: Wanted, printer: Printer) -> list[str]:
    """What the printer's thinnest strip means for the doorways of these tiles."""
    thin = [
        thing.name
        for thing, _ in things
        for plate in thing.plates
        for opening in plate.openings
        if 0 < plate.height - opening.height < printer.least_lintel
    ]
    if not thin:
        return []
    names = ", ".join(dict.fromkeys(thin))
    return [f"The strip over the doorway is under {printer.least_lintel:g} mm on {names}: it may not print."]


def play_notes(things: Wanted, process: str, error: float) -> list[str]:
    """A warning where the play is less than the process's own size error, in mm."""
    plays = {thing.grid.joint_play for thing, _ in things if thing.grid.joint_play < error}
    return [
        f"A joint play of {play:g} mm is less than the size error of the {process} ({error:g} mm): "
        f"rows may not close. A play of {error:g} mm would do."
        for play in sorted(plays)
    ]


def position_notes(things: Wanted, process: str, error: float) -> list[str]:
    """A warning where pegs or keys allow for less than the process's own error, in mm."""
    grids = dict.fromkeys(thing.grid for thing, _ in things if thing.grid.connectors.kind in ("pegs", "keys"))
    return [
        f"{grid.connectors.kind.capitalize()} allow for pockets that are off by {grid.connectors.position_error:g} mm; "
        f"the {process} may be off by {error:g}. In [connectors], position_error = {error:g} would do."
        for grid in grids
        if grid.connectors.position_error < error
    ]
