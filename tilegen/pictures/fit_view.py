"""Who stands where: one figure on the plan, the spaces it can't stand on lettered, the rooms it can't get to named."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from tilegen.fit.discs import largest_disc
from tilegen.fit.figures import Figure
from tilegen.fit.floor import Bools, Spaces, level_floor, spaces_covered, spaces_of
from tilegen.geometry import Points, polygon_rings
from tilegen.lengths import Units, counted, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, rectangle, text_width
from tilegen.pictures.map_page import (
    NOTE_MM,
    QUIET,
    WHITE,
    Box,
    KeyEntry,
    MapPage,
    RoomTitles,
    circle,
    clear_region,
    cross,
    cross_mark,
    dashed_circle_mark,
    disc_mark,
    draw_key,
    free_floor,
    place_disc,
    swatch,
)
from tilegen.pictures.tile_view import FLOOR, INK
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.route import find_areas

# The places of a plan on which a figure can't stand anyhow, lettered.

# So many places are lettered and listed; more would fill the page.
MOST_LETTERED = 60
Labels = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tight:
    """Spaces next to each other on which a figure can't stand anyhow.

    letter: on the map. first: (row, column) from 0 of the first space. spaces: how many. largest: the largest
    base, mm, that any block there takes. at: (row, column) of the space that carries the letter.
    """

    letter: str
    first: tuple[int, int]
    spaces: int
    largest: float
    at: tuple[int, int]


def tight_places(spaces: Spaces, figure: Figure) -> tuple[Labels, tuple[Tight, ...]]:
    """Spaces that belong to blocked blocks only: (rows, columns) number of their place, from 1, and the places.

    Spaces of one place are joined across lines on which nothing stands; places are in reading order.
    """
    blocked = figure.blocks & ~figure.standing
    n = figure.spaces_across
    only = spaces_covered(blocked, n, spaces.shape) & ~spaces_covered(figure.standing, n, spaces.shape)
    labels = _joined(spaces, only)
    row, column = np.nonzero(blocked)
    largest = np.zeros(int(labels.max(initial=0)) + 1)
    takes = _largest_of(spaces, row, column, n)
    for dr in range(n):
        for dc in range(n):
            np.maximum.at(largest, labels[row + dr, column + dc], takes)
    flat = labels.ravel()
    where = np.flatnonzero(flat)
    found, first, sizes = np.unique(flat[where], return_index=True, return_counts=True)
    order = np.argsort(first)
    renumbered = np.zeros(len(largest), np.int64)
    renumbered[found[order]] = np.arange(1, len(order) + 1)
    columns = spaces.shape[1]
    places = []
    for index, at in enumerate(order.tolist()):
        place = divmod(int(where[first[at]]), columns)
        carrier = _middle_space(labels, int(found[at]), place) if index < MOST_LETTERED else place
        places.append(Tight(letters(index), place, int(sizes[at]), float(largest[found[at]]), carrier))
    return renumbered[labels], tuple(places)


def letters(index: int) -> str:
    """a, b ... z, aa, ab ... for 0, 1 ...

    >>> [letters(n) for n in (0, 25, 26, 27, 702)]
    ['a', 'z', 'aa', 'ab', 'aaa']
    """
    text = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


def _joined(spaces: Spaces, chosen: Bools) -> Labels:
    rows, columns = chosen.shape
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[0::2, 0::2] = chosen
    raster[1::2, 0::2] = chosen[1:] & chosen[:-1] & ~spaces.shut_across[1:-1]
    raster[0::2, 1::2] = chosen[:, 1:] & chosen[:, :-1] & ~spaces.shut_down[:, 1:-1]
    labels: Labels = ndimage.label(raster)[0][0::2, 0::2].astype(np.int64)
    return labels


def _largest_of(spaces: Spaces, row: Labels, column: Labels, n: int) -> Floats:
    """The largest disc of the blocks of n spaces that start there, each kind of block worked out once."""
    if not len(row):
        return np.zeros(0)
    strips, posts = (
        sliding_window_view(array, (n, n))[row, column].reshape(-1, n * n) for array in (spaces.strips, spaces.posts)
    )
    kinds, which = np.unique(np.concatenate([strips, posts], axis=1), axis=0, return_inverse=True)
    grid = spaces.drawing.grid
    discs = [
        largest_disc(kind[: n * n].reshape(n, n), kind[n * n :].reshape(n, n), grid.pitch, grid.wall_thickness)
        for kind in kinds
    ]
    takes = np.array(discs)[which.ravel()]
    levels = level_floor(spaces)
    if spaces.off_grid is not None:
        for at in np.flatnonzero(spaces.off_grid.touches(row, column, n)).tolist():
            takes[at] = spaces.off_grid.largest_disc(int(row[at]), int(column[at]), n)
    if levels is not None:
        special = {(r, c) for r, c in levels.special(np.ones(_starts(spaces, n), bool), n).tolist()}
        for at, place in enumerate(zip(row.tolist(), column.tolist(), strict=True)):
            if place in special:
                takes[at] = levels.discs(*place, n)[0]
    return takes


def _starts(spaces: Spaces, n: int) -> tuple[int, int]:
    rows, columns = spaces.shape
    return rows - n + 1, columns - n + 1


def _middle_space(labels: Labels, number: int, near: tuple[int, int]) -> tuple[int, int]:
    """The space of a place that is nearest to its middle; the place reaches no further than its first row upwards."""
    rows, columns = np.nonzero(labels[near[0] :] == number)
    off = np.hypot(rows - rows.mean(), columns - columns.mean())
    best = int(np.argmin(np.round(off, 9)))
    return int(rows[best]) + near[0], int(columns[best])


TITLE_MM = 7.0
# Titles keep clear of so many marks at most: beyond, they are too small to matter.
_MARKS_KEPT_CLEAR = 4000


def fit_canvas(drawing: Drawing, kit: Kit, figure: Figure, *, units: Units = "mm") -> Canvas:
    """The plan with walls to scale, and where a figure stands on it.

    A base of one space is drawn to scale wherever it stands; for a larger one the middle of every block is marked.

    Raises:
        ValueError: the kit or the figure is not of this drawing.
    """
    return _FitMap(drawing, kit, figure, units).canvas


class _FitMap:
    """Draws one picture, from the ground up."""

    def __init__(self, drawing: Drawing, kit: Kit, figure: Figure, units: Units) -> None:
        self.drawing, self.figure, self.units = drawing, figure, units
        self.spaces = spaces_of(drawing)
        self.n, self.pitch = figure.spaces_across, drawing.grid.pitch
        expected = tuple(max(0, size - self.n + 1) for size in self.spaces.shape)
        if figure.blocks.shape != expected:
            raise ValueError("the figure is not of this drawing")
        self.base = show_length(figure.base, units)
        self.page = page = MapPage(drawing, units, f"where a base of {self.base} stands", least_width=240.0)
        self.canvas, self.unit, self.corner = page.canvas, page.unit, (page.left, page.top)
        # Lines of a hatch lie close enough to be seen in one space, and never closer than lettering is thick.
        self.spacing = min(max(3.2 * self.unit, self.pitch / 9), self.pitch / 3.5)
        self.levels = level_floor(self.spaces)
        special = [] if self.levels is None else self.levels.special(figure.blocks, self.n).tolist()
        self.special = {(row, column) for row, column in special}
        self.labels, self.places = tight_places(self.spaces, figure)
        self.areas = find_areas(drawing)
        page.heading(self._summary())
        self.canvas.description = f"{self._summary()} Walls are to scale."
        page.coordinates()
        page.ground(hatched=False)
        page.tiles(kit, self.spaces)
        self.homeless: list[str] = []
        self.boxes: list[Box] = []
        self._hatches()
        self._marks()
        self._letters()
        self._titles()
        below = self._key(page.scale_bar(page.below_map))
        below = page.notes(below, self._notes())
        page.finish(self._list(below))

    def _summary(self) -> str:
        figure, size = self.figure, f"{self.n} x {self.n} spaces" if self.n > 1 else "one space"
        if not figure.positions:
            stands = "there are no such spaces together on this map"
        elif figure.stands == figure.positions:
            stands = "stands in its only position" if figure.stands == 1 else f"stands in all {figure.stands} positions"
        else:
            stands = f"stands in {figure.stands} of {counted(figure.positions, 'position')}"
        parts = len(figure.unreached)
        lost = f"; it can't get to {'a room or a part of one' if parts == 1 else f'{parts} rooms or parts of rooms'}"
        if parts == len(self.areas.letters):
            lost = "; it can't get into any of the rooms"
        lost = lost if parts else ""
        return f"Base {self.base}, {size}: {stands}{lost}."

    # --- what is drawn on the map ---

    def _hatches(self) -> None:
        spacing, width = self.spacing, 0.22 * self.spacing
        self.narrow = self.spaces.floor & ~spaces_covered(self.figure.blocks, self.n, self.spaces.shape)
        self.out_of_reach = self._unreached()
        for chosen, look in (
            (self.out_of_reach, Hatch(QUIET, 1.6 * spacing, 0.8 * width, "falling")),
            (self.narrow, Hatch(INK, 0.9 * spacing, 1.6 * width, "dotted")),
            (self.labels > 0, Hatch(INK, spacing, width, "rising")),
        ):
            if chosen.any():
                region = clear_region(self.spaces, chosen, self.corner)
                self.canvas.area(polygon_rings(region), "", hatch=look)

    def _unreached(self) -> Bools:
        """(rows, columns) of the spaces: parts of rooms that the figure can't get to."""
        areas, k = self.areas, self.drawing.cell_spaces
        numbers = [int(areas.of[row - 1, column - 1]) for column, row in (p.first_cell for p in self.figure.unreached)]
        self.unreached_cells: Bools = np.isin(areas.of, np.array(numbers, np.int64)) & (areas.of >= 0)
        spaces: Bools = self.unreached_cells.repeat(k, axis=0).repeat(k, axis=1)
        # Where it gets nowhere, a hatch over the whole map would say less than the heading does.
        return spaces if (self.spaces.floor & ~spaces).any() else np.zeros_like(spaces)

    def _marks(self) -> None:
        figure, blocked = self.figure, self.figure.blocks & ~self.figure.standing
        line = 0.018 * self.pitch
        if self.n == 1:
            self.canvas.discs(self._where_it_stands(), figure.base / 2, WHITE, stroke=INK, width=1.4 * line)
            return
        radius = 0.15 * self.pitch
        self._base_to_scale()
        if figure.positions <= _MARKS_KEPT_CLEAR:
            ends = self._middles(figure.blocks)
            self.boxes += [(x - radius, y - radius, x + radius, y + radius) for x, y in ends.tolist()]
        self.canvas.discs(self._middles(figure.standing), radius, WHITE, stroke=INK, width=2.2 * line)
        arms = [line for x, y in self._middles(blocked).tolist() for line in cross(x, y, radius)]
        self.canvas.line(arms, FLOOR, 8.5 * line)
        self.canvas.line(arms, INK, 4.0 * line)

    def _middles(self, blocks: Bools) -> Points:
        row, column = np.nonzero(blocks)
        half = self.n / 2
        middles: Points = np.stack([(column + half) * self.pitch, (row + half) * self.pitch], axis=1) + self.corner
        return middles

    def _where_it_stands(self) -> Points:
        """The centre of a one-space base in every space where it stands, beside walls and posts."""
        centres = self._middles(self.figure.standing)
        row, column = np.nonzero(self.figure.standing)
        kinds = self.spaces.strips[row, column].astype(np.int64) * 16 + self.spaces.posts[row, column]
        for kind in np.unique(kinds).tolist():
            x, y = self._place(np.array([[kind // 16]], np.uint8), np.array([[kind % 16]], np.uint8))
            centres[kinds == kind] += (x - self.pitch / 2, y - self.pitch / 2)
        for at, place in enumerate(zip(row.tolist(), column.tolist(), strict=True)):
            left, top = self.corner
            if place in self.special:
                x, y = self._place_flat(*place)
                centres[at] = left + place[1] * self.pitch + x, top + place[0] * self.pitch + y
            elif self.spaces.off_grid is not None and self.spaces.off_grid.spaces[place]:
                x, y = self.spaces.off_grid.place_of(*place, 1, self.figure.base)
                centres[at] = left + x, top - y
        return centres

    def _place_flat(self, row: int, column: int) -> tuple[float, float]:
        """A place for the base on one level of a block that has several, or features."""
        if self.levels is None:
            raise ValueError("the floor has one level only")
        wall, middle = self.drawing.grid.wall_thickness, self.n * self.pitch / 2
        return place_disc(self.levels.flat_floor(row, column, self.n), (middle, middle), self.figure.base, wall)

    def _place(self, strips: npt.NDArray[np.uint8], posts: npt.NDArray[np.uint8]) -> tuple[float, float]:
        wall, middle = self.drawing.grid.wall_thickness, self.n * self.pitch / 2
        return place_disc(free_floor(strips, posts, self.pitch, wall), (middle, middle), self.figure.base, wall)

    def _base_to_scale(self) -> None:
        """One base as large as it is, in the first block where it stands."""
        if not self.figure.stands:
            return
        row, column = np.argwhere(self.figure.standing)[0].tolist()
        here = np.s_[row : row + self.n, column : column + self.n]
        special = (row, column) in self.special
        x, y = (
            self._place_flat(row, column) if special else self._place(self.spaces.strips[here], self.spaces.posts[here])
        )
        x, y = self.corner[0] + column * self.pitch + x, self.corner[1] + row * self.pitch + y
        line = 0.03 * self.pitch
        self.canvas.line([circle(x, y, self.figure.base / 2 - line / 2)], INK, line, dash=0.16 * self.pitch)

    def _letters(self) -> None:
        size = min(9.0 * self.unit, 0.46 * self.pitch)
        # Blocks of an odd number of spaces have their mark where a space has its middle.
        off = 0.22 * self.pitch if self.n % 2 and self.n > 1 else 0.0
        for place in self.places[:MOST_LETTERED]:
            row, column = place.at
            x = self.corner[0] + (column + 0.5) * self.pitch - off
            y = self.corner[1] + (row + 0.5) * self.pitch - off
            half = max(text_width(place.letter, size) / 2, 0.36 * size) + 0.16 * size
            high = CAP_HEIGHT * size / 2 + 0.2 * size
            box = (x - half, y - high, x + half, y + high)
            self.boxes.append(box)
            self.canvas.area([rectangle(*box)], WHITE, stroke=INK, width=0.04 * size)
            self.canvas.text(x, y + CAP_HEIGHT * size / 2, place.letter, size, "middle", bold=True)

    def _titles(self) -> None:
        """The names of the rooms it can't get to, on their floors."""
        if not self.out_of_reach.any():
            return
        rooms = np.where(self.unreached_cells, self.drawing.rooms, 0).astype(np.uint32)
        named = {part.room: part.title or f"Room {part.room}" for part in self.figure.unreached}
        only = replace(self.drawing, rooms=rooms, titles=named)
        writer = RoomTitles(only, self.boxes, self.corner, TITLE_MM * min(self.unit, 2.0))
        self.homeless = writer.draw(self.canvas)

    # --- what stands below ---

    def _key(self, top: float) -> float:
        """What each mark means, as far as the picture has it; returns the y below."""
        figure, unit, entries = self.figure, self.unit, []
        if figure.stands and self.n == 1:
            entries.append(KeyEntry(disc_mark, "stands here (base to scale on the map)"))
        elif figure.stands:
            entries.append(KeyEntry(disc_mark, f"stands with its middle here, on {self.n} x {self.n} spaces"))
        if self.n > 1 and figure.stands < figure.positions:
            entries.append(KeyEntry(cross_mark, "does not stand with its middle here"))
        if self.n > 1 and figure.stands:
            entries.append(KeyEntry(dashed_circle_mark, "one base, to scale"))
        for chosen, hatch, words in (
            (self.labels > 0, Hatch(INK, 2.2 * unit, 0.5 * unit), "no room for it on these spaces: see the list"),
            (self.narrow, Hatch(INK, 2.0 * unit, 0.8 * unit, "dotted"), f"no {self.n} x {self.n} spaces together"),
            (self.out_of_reach, Hatch(QUIET, 3.4 * unit, 0.4 * unit, "falling"), "it can't get here"),
        ):
            if chosen.any():
                entries.append(KeyEntry(swatch(hatch), words))
        size = NOTE_MM * unit
        return draw_key(self.canvas, entries, (self.page.band, top + 5.0 * unit), width=self.page.inner, size=size)

    def _notes(self) -> list[str]:
        notes = []
        if len(self.figure.unreached) == len(self.areas.letters) and self.figure.from_ways_in:
            notes.append(
                "The ways in are too narrow, or have no room behind them. Lifted in by hand, it stands as drawn."
            )
        elif self.figure.unreached:
            start = "the plan's ways in" if self.figure.from_ways_in else "the largest part of the map where it stands"
            notes.append(f"Reach is counted from {start}, space by space, through doors at least as wide as the base.")
        if self.homeless:
            notes.append(f"Out of its reach too: {'; '.join(self.homeless)}.")
        more = len(self.places) - MOST_LETTERED
        if more > 0:
            notes.append(f"The first {MOST_LETTERED} places are lettered; {more} more are hatched only.")
        return notes

    def _list(self, top: float) -> float:
        """Letter, place, size and largest base of every lettered place, in columns; returns the y below."""
        size = 1.1 * NOTE_MM * self.unit
        lines = [(place.letter, self._said(place)) for place in self.places[:MOST_LETTERED]]
        if not lines:
            return top
        gap = max(text_width(letter, size) for letter, _ in lines) * 1.2 + 0.8 * size
        wide = gap + max(text_width(words, size) for _, words in lines) + 2 * size
        columns = max(1, min(int((self.page.inner + 2 * size) / wide), len(lines)))
        rows = -(-len(lines) // columns)
        for number, (letter, words) in enumerate(lines):
            x = self.page.band + number // rows * (self.page.inner / columns if columns > 1 else 0.0)
            y = top + (1.2 + number % rows) * 1.5 * size
            self.canvas.text(x, y, letter, size, bold=True)
            self.canvas.text(x + gap, y, words, size)
        return top + (rows + 0.4) * 1.5 * size

    def _said(self, place: Tight) -> str:
        k = self.drawing.cell_spaces
        (row, column), takes = place.first, show_length(place.largest, self.units)
        cell = f"column {column // k + 1}, row {row // k + 1}"
        space = f" (space {column + 1}, {row + 1})" if k > 1 else ""
        return f"{cell}{space}: {counted(place.spaces, 'space')}, takes bases up to {takes}"
