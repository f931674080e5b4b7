"""Kerf: the cut runs half its width outside of a part's outline and half its width inside of its holes."""

from __future__ import annotations

from shapely.geometry import Polygon

from tilegen.errors import InputError

# Sharper corners are cut off beyond the part's own corner, so the part stays sharp whatever the limit.
_MITRE_LIMIT = 2.0
_LOST_MM2 = 1e-4


def compensated(outline: Polygon, kerf: float, name: str) -> Polygon:
    """The path of the cut's centre for a part, so that what comes out measures `outline`.

    kerf: the full width of the cut, mm; half of it goes to each side. name: of the part, for messages.

    Raises:
        InputError: a hole, a notch or the part itself is narrower than the kerf and would vanish.

    >>> from shapely.geometry import box
    >>> compensated(box(0, 0, 50, 50), 0.2, "W").bounds
    (-0.1, -0.1, 50.1, 50.1)
    """
    if kerf == 0:
        return outline
    path = outline.buffer(kerf / 2, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    back = path.buffer(-kerf / 2, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    lost = back.difference(outline)
    if not isinstance(path, Polygon) or len(path.interiors) != len(outline.interiors) or lost.area > _LOST_MM2:
        x, y = lost.representative_point().coords[0] if not lost.is_empty else outline.centroid.coords[0]
        raise InputError(
            f"part {name} with a hole or notch near ({x:.2f}, {y:.2f}) mm that a cut {kerf:g} mm wide closes",
            expected=f"features wider than {kerf:g} mm",
            cure="make the feature wider or cut it with a finer tool",
        )
    return path
