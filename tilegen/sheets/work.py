"""What there is to glue in a set, and how much glue that takes by the figures in the material's file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from tilegen.model.materials import MaterialFile
from tilegen.sheets.parts import Built
from tilegen.tiles.doors import Piece, is_foot
from tilegen.tiles.plate import Plate

_MM2_PER_M2, _MM_PER_M = 1e6, 1e3


@dataclass(frozen=True, slots=True)
class Gluing:
    """What is glued in a set.

    faces: m2 glued face to face; beads: m of glue lines; joints: how often glue is put on.
    """

    faces: float = 0.0
    beads: float = 0.0
    joints: int = 0

    def grams(self, material: MaterialFile) -> float:
        """Of glue: m2 times grams to the m2, and m times grams to the m."""
        return self.faces * material.gluing.face + self.beads * material.gluing.bead


def gluing(built: Sequence[Built]) -> Gluing:
    """What there is to glue in all tiles and pieces.

    Layers face to face; standing plates by a bead along their foot and one up an end; a loose piece's leaves back to
    back.
    """
    faces = beads = 0.0
    joints = 0
    for each in built:
        more = _of_one(each)
        faces, beads, joints = (
            faces + each.count * more.faces,
            beads + each.count * more.beads,
            joints + each.count * more.joints,
        )
    return Gluing(faces, beads, joints)


def _of_one(built: Built) -> Gluing:
    layers = built.construction.wall.layers - 1
    if isinstance(built.made, Piece):
        leaves, feet = [p for p in built.plates if not is_foot(p)], [p for p in built.plates if is_foot(p)]
        area = fsum(_face(plate) for plate in leaves) * (0.5 + layers)
        # A foot's layers are glued to the leg's face and to each other.
        sheet = built.construction.material.real_thickness
        bounds = [foot.foot.bounds for foot in feet]
        stuck = [max(1, round((north - south) / sheet)) for _, south, _, north in bounds]
        area += fsum((b[2] - b[0]) * foot.height * n for b, foot, n in zip(bounds, feet, stuck, strict=True))
        joints = 1 + layers * len(leaves) + sum(stuck)
        return Gluing(area / _MM2_PER_M2, 0.0, joints)
    base, *others = built.plates
    standing = [plate for plate in others if plate.edge is not None]
    lying = [plate for plate in others if plate.edge is None]
    below = built.construction.base.layers - 1
    faces = below * base.foot.area + layers * fsum(_face(plate) for plate in standing)
    # What lies on the floor is stacked of layers as thick as the base's, the lowest glued to what it lies on.
    sheet = built.construction.base.sheets[0]
    stacked = [(plate.foot.area, max(1, round(plate.height / sheet))) for plate in lying]
    faces += fsum(area * count for area, count in stacked)
    beads = fsum(plate.length + plate.height for plate in standing)
    joints = below + len(standing) * (1 + layers) + sum(count for _, count in stacked)
    return Gluing(faces / _MM2_PER_M2, beads / _MM_PER_M, joints)


def _face(plate: Plate) -> float:
    return float(plate.face().area)
