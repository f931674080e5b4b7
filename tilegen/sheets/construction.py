"""How the tiles of one grid are built from one stock: stacked sheets, folded card or grooved foam core."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.reading.models import ConstructionName, CornersName, MaterialFile
from tilegen.sheets.folds import crease_channel, fold_to_fold, groove_width, wrapped_core
from tilegen.sheets.stacks import Stack, mixed_stack, stack_up
from tilegen.tiles.joints import Band, Joints, printed_band, stock_band

# Differences that no builder can measure are not worth a word.
_UNSEEN_MM = 0.005
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
            made = cls(grid, stack_up(grid.base_depth, sheet, glue), stack, material, kind, corners)
        if made.band.inner * 2 >= grid.pitch:
            raise InputError(
                f"walls of {made.wall.thickness:g} mm at a pitch of {grid.pitch:g} mm",
                expected=f"a wall that leaves room: less than {grid.pitch / 2 - grid.half_play:g} mm",
                cure=f"choose thinner stock than {sheet:g} mm",
            )
        return made

    @property
    def base_layers(self) -> tuple[float, ...]:
        """The sheets a base is glued up from, the top one last: of several thicknesses where the material offers them."""
        others = self.material.stack.thicknesses
        if not others:
            return (self.base.sheet,) * self.base.layers
        return mixed_stack(self.grid.base_depth, (self.base.sheet, *others), self.base.glue_line)

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

    @property
    def notes(self) -> tuple[str, ...]:
        """What the builder should know about thicknesses, joints and folds."""
        return tuple((*self._thicknesses(), *self._joint_words(), *self._how_to_fold()))

    def _thicknesses(self) -> Iterator[str]:
        if self.kind == "folded":
            core = wrapped_core(self.grid.base_depth, self.material.real_thickness, self.material.folding.gap)
            inset = self.material.real_thickness + self.material.folding.gap
            yield (
                f"bases: a card skin {self.grid.base_depth:.2f} mm deep; fill it with a core of foam or board, its "
                f"outline {inset:.2f} mm smaller all round than the tile's and {core:.2f} mm thick in all: a floor without "
                "one sags"
            )
            yield f"walls: closed card boxes, {self.wall.thickness:.2f} mm thick, as in print"
            return
        stack = self.material.stack
        yield f"bases: {self.base.words}{self.base.remedy(stack.shim)}"
        yield f"walls: {self.wall.words}"
        step = self.base.layers * stack.spread
        if step > _UNSEEN_MM:
            bearable = "" if step <= stack.step else f", more than the {stack.step:g} mm that nobody minds"
            yield (
                f"floors of tiles from different sheets may differ by {step:.2f} mm ({self.base.layers} x "
                f"{stack.spread:g}){bearable}: cut all layers from one batch"
            )
        if self.grid.wall_height > self.material.slender * self.wall.thickness:
            yield (
                f"walls {self.grid.wall_height:g} mm high and {self.wall.thickness:.2f} mm thick are more than "
                f"{self.material.slender:g} times as high as thick: brace them or build them thicker"
            )
        if self.floor_lost > _UNSEEN_MM:
            kept = self.grid.hall_clear - 2 * self.floor_lost
            yield (
                "floor lost: the stock is thicker than the wall, so each wall's inner face stands "
                f"{self.floor_lost:.2f} mm further in; a hall keeps {kept:.2f} mm"
            )
        elif self.wall.residual < -_UNSEEN_MM:
            yield (
                f"walls stand {-self.wall.residual:.2f} mm back from the base's edge; their inner faces stand where "
                "the grid puts them"
            )

    def _joint_words(self) -> Iterator[str]:
        words = {
            "butt": "corners: butt joints; the longer wall runs through, of two alike the north and south ones",
            "pinwheel": "corners: each wall runs through at one end and butts at the other, all the same way round",
            "mitre": "corners: mitred; cut both ends to 45 degrees at a right angle, the length given is the outer face's",
            "rabbet": (
                "corners: lapped; on the walls that run through cut the scored end strips down to the far paper "
                f"({self.material.skin:g} mm), peel them off and glue the next wall's end in: paper covers the core's edge"
            ),
        }
        if self.kind != "grooved":
            yield words[self.joints.corners]
        if self.corners == "rabbet" and self.joints.corners == "butt" and self.kind != "grooved":
            yield "no lapped corners: they need walls of one layer and stock with a skin"

    def _how_to_fold(self) -> Iterator[str]:
        t, fold = self.material.real_thickness, self.material.folding
        if self.kind == "grooved":
            width = groove_width(t, self.material.skin, math.pi / 2)
            yield (
                "how to fold walls: they are drawn as seen from inside the tile. At each pair of crease lines with a V and "
                "the angle of the fold between them, cut along both lines with the blade leaning towards the middle at half "
                f"that angle, down to the far paper ({self.material.skin:g} mm, not through it); lift the wedge out, run "
                "glue into the groove and fold until its sides meet. Grooves of 90 degrees are "
                f"{width:.2f} mm wide on the face. A half V at an end is bevelled in the same way and closes the ring"
            )
        if self.kind == "folded":
            channel, depth = crease_channel(t, fold.rule)
            yield (
                "how to fold: parts are drawn as seen from outside and every crease folds away from you. Press the creases "
                f"along a ruler with a blunt point before you cut (in a crease press: a channel {channel:.2f} mm wide and "
                f"{depth:.2f} deep); dry-fold everything; then glue each tab with a number behind the panel with the same "
                "number and a stroke: 1 behind 1'. Boxes: the long tab first, then the ends; jamb flaps go in through the "
                "doorway and their tabs behind the far face. Tiles: corner tabs first, then slip in the core and glue down "
                "what turns under. The upper edge inside a doorway stays open"
            )


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
