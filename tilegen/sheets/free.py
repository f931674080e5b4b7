"""Setting out rectangles anywhere on a sheet, for machines that follow any line: greatest free rectangles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from tilegen.geometry import ROUNDING_MM
from tilegen.sheets.rects import Area, Item, Layout, Order, Placement, Ways

Fit = Literal["short", "long", "area", "low"]
# Rows of least x, least y, greatest x, greatest y.
Boxes = npt.NDArray[np.float64]


class FreeRecipe(NamedTuple):
    """One way to fill sheets: the order of the items, how they may lie, and which free rectangle they take.

    short, long: where the shorter, longer rest beside the part is least; area: the smallest rectangle; low: where the
    part's top comes to lie lowest.
    """

    order: Order
    ways: Ways
    fit: Fit
    everywhere: bool = False


class FreeFilled(NamedTuple):
    """A layout for each sheet, and how many of each item found no place."""

    layouts: list[Layout]
    left: list[int]


class _Sheet:
    """The greatest free rectangles of one sheet: every free place lies in one of them."""

    def __init__(self, width: float, height: float, least: float) -> None:
        self.boxes: Boxes = np.array([[0.0, 0.0, width, height]])
        # Nothing wider or higher than this fits: a quick look before the long one.
        self.widest, self.highest = width, height
        self.placed: list[Placement] = []
        self.least = least

    def best(self, width: float, height: float, fit: Fit) -> tuple[float, float, int] | None:
        """The two scores and the number of the free rectangle that suits best; less is better."""
        if width > self.widest + ROUNDING_MM or height > self.highest + ROUNDING_MM:
            return None
        wide = self.boxes[:, 2] - self.boxes[:, 0] - width
        high = self.boxes[:, 3] - self.boxes[:, 1] - height
        fits = np.flatnonzero((wide >= -ROUNDING_MM) & (high >= -ROUNDING_MM))
        if not len(fits):
            return None
        first, second = _scores(self.boxes[fits], wide[fits], high[fits], height, fit)
        at = int(np.lexsort((second, first))[0])
        return float(first[at]), float(second[at]), int(fits[at])

    def take(self, x: float, y: float, width: float, height: float) -> None:
        """Cut a placed rectangle out of all free ones that it meets."""
        boxes = self.boxes
        right, top = x + width, y + height
        met = (
            (boxes[:, 0] < right - ROUNDING_MM)
            & (boxes[:, 2] > x + ROUNDING_MM)
            & (boxes[:, 1] < top - ROUNDING_MM)
            & (boxes[:, 3] > y + ROUNDING_MM)
        )
        hit = boxes[met]
        pieces = []
        for column, limit, keep in (
            (2, x, hit[:, 0] < x - ROUNDING_MM),
            (0, right, hit[:, 2] > right + ROUNDING_MM),
            (3, y, hit[:, 1] < y - ROUNDING_MM),
            (1, top, hit[:, 3] > top + ROUNDING_MM),
        ):
            piece = hit[keep].copy()
            piece[:, column] = limit
            pieces.append(piece)
        new = np.concatenate(pieces)
        # Slivers that nothing fits into only cost time.
        new = new[((new[:, 2:] - new[:, :2]) >= self.least - ROUNDING_MM).all(axis=1)]
        self.boxes = _greatest(boxes[~met], new)
        sides = self.boxes[:, 2:] - self.boxes[:, :2]
        self.widest, self.highest = sides.max(axis=0, initial=0.0).tolist()


def _scores(boxes: Boxes, wide: Boxes, high: Boxes, height: float, fit: Fit) -> tuple[Boxes, Boxes]:
    if fit == "short":
        return np.minimum(wide, high), np.maximum(wide, high)
    if fit == "long":
        return np.maximum(wide, high), np.minimum(wide, high)
    if fit == "area":
        area: Boxes = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
        return area, np.minimum(wide, high)
    return boxes[:, 1] + height, boxes[:, 0]


def _greatest(old: Boxes, new: Boxes) -> Boxes:
    """Old and new rectangles without those that lie inside another; the old ones are none of each other's."""
    everything = np.concatenate([old, new])
    if not len(new):
        return everything
    inside = (
        (new[:, None, 0] >= everything[None, :, 0] - ROUNDING_MM)
        & (new[:, None, 1] >= everything[None, :, 1] - ROUNDING_MM)
        & (new[:, None, 2] <= everything[None, :, 2] + ROUNDING_MM)
        & (new[:, None, 3] <= everything[None, :, 3] + ROUNDING_MM)
    )
    # Of two that are the same the first stays.
    rows = np.arange(len(new))
    same = inside[:, len(old) :] & inside[:, len(old) :].T
    inside[:, len(old) :] &= ~(same & (rows[None, :] >= rows[:, None]))
    return np.concatenate([old, new[~inside.any(axis=1)]])


def fill_freely(items: Sequence[Item], area: Area, recipe: FreeRecipe, most: int | None = None) -> FreeFilled:
    """Sheets filled by a recipe, at most so many; each rectangle takes the spacing along at its right and top."""
    width, height = (side + area.spacing for side in area.usable)
    least = min((min(i.width, i.height) for i in items if i.number), default=0.0) + area.spacing
    sheets: list[_Sheet] = []
    left = [0] * len(items)
    for index, number in recipe.order:
        item, ways = items[index], recipe.ways[index]
        sizes = [(turned, *((item.height, item.width) if turned else (item.width, item.height))) for turned in ways]
        # Nothing of this size fits there any more.
        full: set[int] = set()
        for placed in range(number):
            found = _find(sheets, full, sizes, area.spacing, recipe)
            if found is None:
                if not ways or len(sheets) == most:
                    left[index] += number - placed
                    break
                sheets.append(_Sheet(width, height, least))
                found = _find(sheets, full, sizes, area.spacing, recipe)
            if found is None:
                raise ValueError("a part that fits no empty sheet")
            on, at, turned, w, h = found
            x, y = (float(v) for v in sheets[on].boxes[at, :2])
            sheets[on].take(x, y, w + area.spacing, h + area.spacing)
            sheets[on].placed.append(Placement(index, x + area.margin, y + area.margin, turned))
    return FreeFilled([tuple(sheet.placed) for sheet in sheets], left)


def _find(
    sheets: Sequence[_Sheet],
    full: set[int],
    sizes: Sequence[tuple[bool, float, float]],
    spacing: float,
    recipe: FreeRecipe,
) -> tuple[int, int, bool, float, float] | None:
    """Sheet, free rectangle and way to lie that suit best: on the first sheet with room, or on any."""
    best = None
    for number, sheet in enumerate(sheets):
        if number in full:
            continue
        room = False
        for turned, w, h in sizes:
            score = sheet.best(w + spacing, h + spacing, recipe.fit)
            if score is not None:
                room = True
                candidate = (score[0], score[1], number, score[2], turned, w, h)
                if best is None or candidate < best:
                    best = candidate
        if not room:
            full.add(number)
        elif not recipe.everywhere:
            break
    return best[2:] if best else None
