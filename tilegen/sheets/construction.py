"""How the tiles of one grid are built from one stock: stacked sheets, folded card or grooved foam core."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.model.materials import MaterialFile
from tilegen.model.words import ConstructionName, CornersName
from tilegen.sheets.folds import fold_to_fold
from tilegen.sheets.stacks import Stack, best_stack, stack_up
from tilegen.tiles.joints import Band, Joints, printed_band, stock_band

# The least a panel of a folded box may measure between its folds.
_LEAST_PANEL_MM = 2.0


@dataclass(frozen=True, slots=True)
class Ways:
    """What the user chose in place of the material's own: the construction, and how walls meet at corners."""

    construction: ConstructionName | None = None
    corners: CornersName | None = None


@dataclass(frozen=True, slots=True)
class Construction:
    """How the tiles of one grid are built from one stock. base, wall: how thick they become."""

    grid: Grid
    base: Stack
    wall: Stack
    material: MaterialFile
    kind: ConstructionName = "stacked"
    corners: CornersName = "pinwheel"

    @classmethod
    def of(cls, grid: Grid, material: MaterialFile, ways: Ways = Ways()) -> Construction:
        """Base to its depth, walls to the thickness they have in print.

        Raises:
            InputError: the stock is too thick, or does not go with the construction asked for.
        """
        kind = ways.construction or material.construction
        corners = ways.corners or material.corners
        sheet, glue = material.real_thickness, material.glue_line
        wall = grid.wall_thickness - grid.half_play
        if kind == "folded":
            _check_foldable(grid, material)
            made = cls(grid, Stack.solid(grid.base_depth), Stack.solid(wall), material, kind, corners)
        else:
            stack = stack_up(wall, sheet, glue)
            if kind == "grooved":
                _check_groovable(material)
                stack = replace(stack, layers=1)
            base = best_stack(grid.base_depth, sheet, material.stack.thicknesses, glue)
            made = cls(grid, base, stack, material, kind, corners)
        if made.band.inner * 2 >= grid.pitch:
            raise InputError(
                f"walls of {made.wall.thickness:g} mm at a pitch of {grid.pitch:g} mm",
                expected=f"a wall that leaves room: less than {grid.pitch / 2 - grid.half_play:g} mm",
                cure=f"choose thinner stock than {sheet:g} mm",
            )
        return made

    @property
    def band(self) -> Band:
        """Where the finished walls' faces stand: of folded card where they stand in print."""
        return printed_band(self.grid) if self.kind == "folded" else stock_band(self.grid, self.wall.thickness)

    @property
    def joints(self) -> Joints:
        """How the walls meet: folds are mitres; card boxes have no skin to lap."""
        if self.kind == "grooved":
            return Joints("mitre")
        if self.corners == "rabbet" and (self.kind == "folded" or not self.material.skin or self.wall.layers > 1):
            return Joints("butt")
        return Joints(self.corners, skin=self.material.skin)

    @property
    def floor_lost(self) -> float:
        """How far a wall's inner face stands inside of where the grid puts it, mm."""
        return max(0.0, self.band.inner - self.grid.wall_thickness)


def _check_foldable(grid: Grid, material: MaterialFile) -> None:
    t, fold = material.real_thickness, material.folding
    last = fold_to_fold(grid.wall_thickness - grid.half_play - t, t, fold.hinge) - fold.tuck
    if last < _LEAST_PANEL_MM or fold_to_fold(grid.base_depth, t, fold.hinge) < _LEAST_PANEL_MM:
        raise InputError(
            f"card of {t:g} mm to fold into walls of {grid.wall_thickness:g} mm and bases of {grid.base_depth:g}",
            expected=f"panels of at least {_LEAST_PANEL_MM:g} mm between the folds",
            cure="choose thinner card or another construction",
        )


def _check_groovable(material: MaterialFile) -> None:
    if not material.skin:
        raise InputError(
            f"grooved walls of {material.name}, which has no skin to fold on",
            expected="stock with skin given, such as foam-core",
            cure="choose construction stacked",
        )
