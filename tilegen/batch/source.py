"""What the variants of a batch are made from: told from one another by what was written, before anything is worked out.

Nothing here imports geometry until a variant has to be made: looking through a batch that is there costs little else.
"""

from __future__ import annotations

import copy
import dataclasses
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tilegen.batch.variants import Variant
from tilegen.grid import Over
from tilegen.reading.files import read_toml
from tilegen.version import __version__

if TYPE_CHECKING:
    from tilegen.grid import Grid
    from tilegen.reading.profiles import Profile
    from tilegen.tiles.tile import Tile

# What equal bytes depend on besides the tool itself.
_LIBRARIES = ("ezdxf", "manifold3d", "numpy", "pillow", "reportlab", "scipy", "shapely")


@dataclass(frozen=True)
class Source:
    """A profile and what goes over it.

    unit: of a drawing that says none. over: as for a single tile; a variant's own values go over it.
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
        from tilegen.reading.profiles import open_profile  # noqa: PLC0415

        return open_profile(self.path, self.unit)

    def tile(self, variant: Variant, name: str) -> Tile:
        """A variant as a tile of this name.

        Raises:
            InputError: it can't be made.
        """
        from tilegen.reading.profiles import profile_tile  # noqa: PLC0415

        return dataclasses.replace(profile_tile(*self._described(variant)), name=name)

    def _described(self, variant: Variant) -> tuple[Profile, Grid]:
        from tilegen.reading.profiles import profile_grid  # noqa: PLC0415

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
    from tilegen.grid import DoorwaySize  # noqa: PLC0415

    grid = dataclasses.replace(tile.grid, doorway=DoorwaySize(), spaces=1)
    return hashlib.sha256(repr((min(tile.poses), grid)).encode()).digest()[:16]


def _versions() -> tuple[str, ...]:
    return tuple(f"{name} {metadata.version(name)}" for name in _LIBRARIES)
