"""A batch: each type made once, complete ones kept, failures listed at the end."""

from __future__ import annotations

import copy
import dataclasses
import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tilegen.batch.store import Fate, Record, Store
from tilegen.batch.variants import Variant, Variation
from tilegen.batch.work import Outcome, Task
from tilegen.errors import InputError
from tilegen.files.toml import read_toml
from tilegen.files.writing import Tell, job_of
from tilegen.lengths import counted
from tilegen.making.workshop import Workshop, command_of
from tilegen.model.grid import Over
from tilegen.version import __version__

if TYPE_CHECKING:
    from tilegen.files.profiles import Profile
    from tilegen.model.grid import Grid
    from tilegen.tiles.tile import Tile


# What equal bytes depend on besides the tool itself.
_LIBRARIES = ("ezdxf", "manifold3d", "numpy", "pillow", "reportlab", "scipy", "shapely")


@dataclass(frozen=True)
class Source:
    """A profile and what goes over it.

    unit: of a drawing that has none. over: as for a single tile; a variant's own values go over it.
    """

    path: Path
    unit: str | None = None
    over: Over = Over()  # noqa: RUF009 - it is frozen

    def stamp(self) -> str:
        """All that the variants have in common, as text: what the files say (not where they lie), tool and libraries.

        Raises:
            InputError: a file that can't be read.
        """
        tables = read_toml(self.path)
        grid = None if self.over.file is None else read_toml(self.over.file)
        said = (tables, self._drawing(tables), self.unit, grid, self.over.tables)
        return repr((__version__, _versions(), said))

    def _drawing(self, tables: Mapping[str, Any]) -> str:
        """The hash of the drawing that a profile names; empty where there is none."""
        tile = tables.get("tile")
        name = tile.get("outline_file") if isinstance(tile, dict) else None
        if not isinstance(name, str) or not (self.path.parent / name).is_file():
            return ""
        return hashlib.sha256((self.path.parent / name).read_bytes()).hexdigest()

    @cached_property
    def profile(self) -> Profile:
        """The profile, read and checked when it is first asked for.

        Raises:
            InputError: something in it is wrong.
        """
        from tilegen.files.profiles import open_profile  # noqa: PLC0415

        return open_profile(self.path, self.unit)

    def tile(self, variant: Variant, name: str) -> Tile:
        """A variant as a tile of this name.

        Raises:
            InputError: it can't be made.
        """
        from tilegen.files.profiles import profile_tile  # noqa: PLC0415

        return profile_tile(*self._described(variant)).named(name)

    def _described(self, variant: Variant) -> tuple[Profile, Grid]:
        from tilegen.files.profiles import profile_grid  # noqa: PLC0415

        profile, changes = self.profile, variant.changes()
        if changes:
            tables = copy.deepcopy(profile.tables)
            tables["tile"].update(changes.get("tile", {}))
            for opening in tables.get("opening", []):
                opening.update(changes.get("opening", {}))
            profile = profile.changed(tables)
        last = variant.measures()
        return profile, profile_grid(profile, self.over, last)


def type_of(tile: Tile) -> bytes:
    """What makes two variants the same thing: what they are made from, in any turn, and every measure that counts."""
    from tilegen.model.grid import DoorwaySize  # noqa: PLC0415

    grid = dataclasses.replace(tile.grid, doorway=DoorwaySize(), spaces=1)
    return hashlib.sha256(repr((min(tile.poses), grid)).encode()).digest()[:16]


def _versions() -> tuple[str, ...]:
    return tuple(f"{name} {metadata.version(name)}" for name in _LIBRARIES)


Runner = Callable[[Iterator[Task]], Iterator[Outcome]]


@dataclass
class Batch:
    """All variants of one profile. halves: "solids", "sheets" or both. table: the file that lists variants.

    tell: called with a sentence about each file of the user's that is kept.
    """

    source: Source
    stem: str
    variation: Variation
    workshop: Workshop
    halves: tuple[str, ...]
    folder: Path
    table: Path | None
    tell: Tell = lambda _: None

    def __post_init__(self) -> None:
        alone = dataclasses.replace(self.workshop.asked, jobs=1)
        self.workshop = dataclasses.replace(self.workshop, asked=alone)
        command = f"{command_of(self.halves)} {f'--variants {self.table.name}' if self.table else '--vary'}"
        job = job_of(command, self.source.path, "", "profile")
        self.store = Store(self.folder, job, self.variation.words, self.tell)
        self._common = hashlib.sha256(repr((self.source.stamp(), self.halves, self.workshop)).encode())
        self._states: dict[int, str] = {}
        self._told: dict[int, str] = {}
        # By what the next run knows again what can't be made or is another's twin, without working it out.
        self._settled: dict[int, Record] = {}
        self._types: dict[bytes, str] = {}
        self._ids: dict[int, str] = {}
        self._begun: dict[int, Record] = {}

    def check(self) -> None:
        """Refuse a folder that holds anything of another job.

        Raises:
            InputError: names both, and the cure.
        """
        self.store.check(lambda: (variant.name(self.stem) for variant in self.variation))

    def run(self, runner: Runner, step: Callable[[], None] = lambda: None) -> None:
        """Make what is not there yet, then the manifest; step is called for each variant that is done with.

        Raises:
            InputError: nothing can be made, or the folder can't be written or is another job's.
        """
        self.check()
        self._step = step
        for outcome in runner(self._tasks()):
            begun = self._begun.pop(outcome.number)
            if outcome.failure:
                self._settle(outcome.number, "failed", outcome.failure)
            else:
                self.store.write(self._name(outcome.number), outcome.files, {**begun, **outcome.record})
                self._ids[outcome.number] = begun["id"]
                self._settle(outcome.number, "made", outcome.record["answer"])
        self._finish()

    def fates(self) -> Iterator[Fate]:
        """What became of each variant, in order; equal combinations once."""
        failed = {self._name(number) for number, state in self._states.items() if state == "failed"}
        for number, state in sorted(self._states.items()):
            variant, told, settled = self.variation[number], self._told.get(number, ""), self._settled.get(number)
            if state == "same" and told in failed:
                state, told, settled = "failed", f"the same type as {told}, which failed", None  # noqa: PLW2901
            id_ = self._ids.get(number, "")
            yield Fate(variant.name(self.stem), variant.parameters, state, told, id_, settled or {})

    def _name(self, number: int) -> str:
        return self.variation[number].name(self.stem)

    def _tasks(self) -> Iterator[Task]:
        """What is to be made, in order; what needs no making is settled on the way."""
        names: set[str] = set()
        settled = self.store.settled()
        for number, variant in enumerate(self.variation):
            name = variant.name(self.stem)
            if name in names:
                continue
            names.add(name)
            recipe = self._recipe(name, variant)
            if self._known(number, name, recipe, settled.pop(name, None)):
                continue
            # What is wrong with the profile itself is no variant's failure: it ends the run.
            _ = self.source.profile
            try:
                task = self._task(number, name, variant, recipe)
            except InputError as error:
                # Every message of a batch is about its own profile: the manifest must not depend on where that lies.
                told = error.moved(place=error.place)
                self._settle(number, "failed", str(told), {"recipe": recipe})
                continue
            if task is not None:
                yield task

    def _recipe(self, name: str, variant: Variant) -> str:
        """A hash of all that a variant is made from."""
        digest = self._common.copy()
        digest.update(f"{name}\n{variant.stamp}".encode())
        return digest.hexdigest()

    def _known(self, number: int, name: str, recipe: str, earlier: Record | None) -> bool:
        """Whether an earlier run's answer still holds: the variant is there, or was settled without being made."""
        found = self.store.whole(name, recipe)
        if found is not None:
            if self._types.setdefault(bytes.fromhex(found["type"]), name) != name:
                return False
            self._ids[number] = str(found.get("id", ""))
            self._settle(number, "kept", found.get("answer", ""))
            return True
        if earlier is None or earlier["recipe"] != recipe:
            return False
        if "failed" in earlier:
            self._settle(number, "failed", earlier["failed"], {"recipe": recipe})
            return True
        twin = self._types.get(bytes.fromhex(earlier["type"]))
        if twin is None:
            return False
        self._settle(number, "same", twin, {"recipe": recipe, "type": earlier["type"]})
        return True

    def _task(self, number: int, name: str, variant: Variant, recipe: str) -> Task | None:
        """The task of a variant; None where it is the same as an earlier one.

        Raises:
            InputError: the variant can't be made.
        """
        tile = self.source.tile(variant, name)
        key = type_of(tile)
        if self._types.setdefault(key, name) != name:
            self._settle(number, "same", self._types[key], {"recipe": recipe, "type": key.hex()})
            return None
        parameters = variant.parameters
        self._begun[number] = {"recipe": recipe, "type": key.hex(), "id": tile.id, "parameters": parameters}
        return Task(number, tile, self.workshop, self.halves)

    def _finish(self) -> None:
        there = {fate.name for fate in self.fates() if fate.there}
        if not there:
            first = next(self.fates())
            raise InputError(
                f"none of {counted(len(self._states), 'variant')} can be made. The first is {first.name}: {first.told}"
            )
        self.store.remove_others(there)
        self.store.finish(self.fates)

    def _settle(self, number: int, state: str, told: str, settled: Record | None = None) -> None:
        self._states[number] = state
        if told:
            self._told[number] = told
        if settled:
            self._settled[number] = settled
        self._step()
