"""A batch: each type made once, what is there and whole kept, failures told at the end."""

from __future__ import annotations

import copy
import dataclasses
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path

from tilegen import __version__
from tilegen.batch.store import Fate, Record, Store
from tilegen.batch.variants import Variant, Variation
from tilegen.batch.work import Outcome, Task
from tilegen.commands.halves import Workshop
from tilegen.errors import InputError
from tilegen.grid import DoorwaySize, Grid
from tilegen.reading.profiles import Profile, profile_grid, profile_tile
from tilegen.tiles.identity import canonical
from tilegen.tiles.tile import Tile

Runner = Callable[[Iterator[Task]], Iterator[Outcome]]
# What equal bytes depend on besides the tool itself.
_LIBRARIES = ("ezdxf", "manifold3d", "numpy", "pillow", "reportlab", "scipy", "shapely")


@dataclass
class Batch:
    """All variants of one profile.

    grid_file, overrides: as for a single tile; a variant's own values go over both. halves: "solids", "sheets" or both.
    """

    profile: Profile
    stem: str
    variation: Variation
    workshop: Workshop
    halves: tuple[str, ...]
    folder: Path
    grid_file: Path | None = None
    overrides: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.workshop = dataclasses.replace(self.workshop, jobs=1)
        self.store = Store(self.folder)
        self._common = repr((__version__, _versions(), self.halves, self.workshop))
        self._states: dict[int, str] = {}
        self._told: dict[int, str] = {}
        self._types: dict[bytes, str] = {}
        self._begun: dict[int, Record] = {}

    def run(self, runner: Runner, step: Callable[[], None] = lambda: None) -> None:
        """Make what is not there yet, then the manifest; step is called for each variant that is done with.

        Raises:
            InputError: nothing can be made, or the folder can't be written.
        """
        self._step = step
        for outcome in runner(self._tasks()):
            begun = self._begun.pop(outcome.number)
            if outcome.failure:
                self._settle(outcome.number, "failed", outcome.failure)
            else:
                self.store.write(self._name(outcome.number), outcome.files, {**begun, **outcome.record})
                self._settle(outcome.number, "made", outcome.record["answer"])
        self._finish()

    def fates(self) -> Iterator[Fate]:
        """What became of each variant, in order; equal combinations once."""
        failed = {self._name(number) for number, state in self._states.items() if state == "failed"}
        for number, state in sorted(self._states.items()):
            variant, told = self.variation[number], self._told.get(number, "")
            if state == "same" and told in failed:
                state, told = "failed", f"the same type as {told}, which failed"  # noqa: PLW2901
            yield Fate(variant.name(self.stem), variant.parameters, state, told)

    def _name(self, number: int) -> str:
        return self.variation[number].name(self.stem)

    def _tasks(self) -> Iterator[Task]:
        """What is to be made, in order; what needs no making is settled on the way."""
        names: set[str] = set()
        for number, variant in enumerate(self.variation):
            name = variant.name(self.stem)
            if name in names:
                continue
            names.add(name)
            try:
                task = self._task(number, name, variant)
            except InputError as error:
                # Every message of a batch is about its own profile: the manifest must not depend on where that lies.
                told = InputError(error.found, expected=error.expected, cure=error.cure, place=error.place)
                self._settle(number, "failed", str(told))
                continue
            if task is not None:
                yield task

    def _task(self, number: int, name: str, variant: Variant) -> Task | None:
        """The task of a variant; None where it is there already or the same as an earlier one.

        Raises:
            InputError: the variant can't be made.
        """
        profile, grid = self._described(variant)
        recipe = hashlib.sha256(repr((self._common, name, profile.model, profile.drawn, grid)).encode()).hexdigest()
        found = self.store.whole(name, recipe)
        if found and self._types.setdefault(bytes.fromhex(found["type"]), name) == name:
            self._settle(number, "kept", found.get("answer", ""))
            return None
        tile = dataclasses.replace(profile_tile(profile, grid), name=name)
        key = _type_of(tile)
        if self._types.setdefault(key, name) != name:
            self._settle(number, "same", self._types[key])
            return None
        self.store.clear(name)
        parameters = variant.parameters
        self._begun[number] = {"recipe": recipe, "type": key.hex(), "id": tile.id, "parameters": parameters}
        return Task(number, tile, self.workshop, self.halves)

    def _described(self, variant: Variant) -> tuple[Profile, Grid]:
        profile, changes = self.profile, variant.changes()
        if changes:
            tables = copy.deepcopy(profile.tables)
            tables["tile"].update(changes.get("tile", {}))
            for opening in tables.get("opening", []):
                opening.update(changes.get("opening", {}))
            profile = profile.changed(tables)
        overrides, last = self.overrides, variant.measures()
        return profile, profile_grid(profile, grid_file=self.grid_file, overrides=overrides, last=last)

    def _finish(self) -> None:
        there = {fate.name for fate in self.fates() if fate.there}
        if not there:
            first = next(self.fates())
            raise InputError(
                f"{len(self._states)} variants that can't be made (the first, {first.name}: {first.told})",
                expected="at least one that can",
            )
        self.store.remove_others(there)
        self.store.finish(self.fates)

    def _settle(self, number: int, state: str, told: str = "") -> None:
        self._states[number] = state
        if told:
            self._told[number] = told
        self._step()


def _versions() -> tuple[str, ...]:
    return tuple(f"{name} {metadata.version(name)}" for name in _LIBRARIES)


def _type_of(tile: Tile) -> bytes:
    """What makes two variants the same thing: geometry up to quarter turns, and every measure that still counts."""
    grid = dataclasses.replace(tile.grid, doorway=DoorwaySize(), spaces=1)
    return hashlib.sha256(repr((canonical(tile.plates), grid)).encode()).digest()[:16]
