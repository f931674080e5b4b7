"""One material in several thicknesses: each has its own sheets and its own name."""

from __future__ import annotations

import re

from tilegen.reading.material_models import MaterialFile, SheetStock

_SAME_MM = 1e-9


def of_thickness(material: MaterialFile, thickness: float) -> MaterialFile:
    """The material with the sheets and offcuts of one thickness only, in mm.

    Of another thickness than its own it is named and titled by that. Its sizes are then those of the stock with that
    thickness or, if none is listed, the usual one without limit or price.
    """
    sizes = [s for s in material.sizes if _same(s.thickness, thickness, material)]
    offcuts = [o for o in material.offcut if _same(o.thickness, thickness, material)]
    stock: dict[str, object] = {"sheet": None, "stock": sizes, "offcut": offcuts}
    if _same(None, thickness, material):
        return material.model_copy(update=stock)
    if not sizes:
        stock["stock"] = [SheetStock(size=material.sizes[0].size)]
    words = re.sub(r",?\s*[\d.]+ ?mm$", "", material.title)
    named = {
        "name": f"{material.name}-{thickness:g}mm".replace(".", "-"),
        "title": f"{words}, {thickness:g} mm",
        "thickness": thickness,
        "measured": None,
    }
    other = material.model_copy(update={**stock, **named})
    other._kin = material.name
    return other


def _same(said: float | None, thickness: float, material: MaterialFile) -> bool:
    """Whether stock of the thickness said, or of the usual one, is as thick as that."""
    return abs((material.real_thickness if said is None else said) - thickness) < _SAME_MM
