"""The order in which a tile's parts are put together, step by step, with the places of the steps on the plan."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon, box

from tilegen.geometry import Point, polygons_of
from tilegen.sheets.constructions.kind import Construction
from tilegen.sheets.flat import PlateLayer, plate_names, run_name
from tilegen.sheets.parts import BuiltTile, Part
from tilegen.tiles.loose import Piece, SeamKey, is_foot
from tilegen.tiles.plate import Plate

# By plate: how many pieces of which part, as which of its layers.
Used = Mapping[str, Mapping[tuple[str, PlateLayer], int]]
# What is said of a layer after its part's number, in the order of the layers from outside or from the top.
_LAYERS: dict[PlateLayer, str] = {
    "top": " on top",
    "below": " below",
    "": "",
    "alike": " (outside and inside alike)",
    "outer": " outside",
    "between": " between",
    "inner": " inside",
    "scored": " inside, its lines to the room",
    "core": " as its core",
}


@dataclass(frozen=True, slots=True)
class AssemblyStep:
    """One step: its number in the tile's order, what to do, and where on the plan its number goes, mm."""

    number: int
    words: str
    spots: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Assembly:
    """How one type of tile or loose piece is built. outline: its base on the plan (y to the north); of a piece, all
    that it covers. feet: what stands on it. ways: where a doorway goes through.
    """

    id: str
    name: str
    outline: Polygon
    feet: tuple[Polygon, ...]
    ways: tuple[Polygon, ...]
    steps: tuple[AssemblyStep, ...]


def assembly(built: BuiltTile, parts: Sequence[Part], *, doors: bool, number: str = "") -> Assembly:
    """The steps for one tile or piece. parts: of the whole set. doors: whether there are door pieces in it. number:
    what it is called in the layout.

    First the base, from below; the outer walls, clockwise from the north-west; inner walls, the longest first; posts;
    doors dry; then paint and label (common practice, no source).
    """
    made = built.made
    plates = built.plates or made.plates
    used = _parts_by_plate(made.id, parts, built.count)
    if isinstance(made, Piece):
        outline = box(*shapely.union_all([plate.foot for plate in plates]).bounds)
        standing = list(plates)
        words = _piece_words(made, used, plates)
    else:
        base, *standing = plates
        outline = base.foot
        words = list(_base_steps(built.construction, base, standing, used))
        for plate_group in _groups(standing, used):
            names = [plate.name for plate in plate_group]
            words.append((f"{run_name(names)}: {_said(used, names)}", _spots(plate_group)))
        if doors and any(plate.role == "post" for plate in standing):
            words.append(("where a door piece goes: try it dry between the posts", ()))
    words += [("seal, let dry, paint", ()), (f"write {f'{number} and ' if number else ''}{made.id} under it", ())]
    steps = tuple(AssemblyStep(number, text, spots) for number, (text, spots) in enumerate(words, 1))
    feet = tuple(plate.foot for plate in standing)
    ways = tuple(plate.opening_foot(opening) for plate in standing for opening in plate.openings)
    return Assembly(made.id, made.name, outline, feet, ways, steps)


def _base_steps(
    construction: Construction, base: Plate, standing: Sequence[Plate], used: Used
) -> Iterator[tuple[str, tuple[Point, ...]]]:
    """The step of the base's whole layers; those round pits and low floors come in steps of their own."""
    upper = any(plate.role == "base" for plate in standing)
    whole = sum(used.get(base.name, {}).values())
    if whole or not upper:
        words = construction.base_step(whole if upper else construction.base.layers)
        yield f"{words}: {_said(used, [base.name])}", (_floor_spot(base, standing),)


def _piece_words(piece: Piece, used: Used, plates: Sequence[Plate]) -> list[tuple[str, tuple[Point, ...]]]:
    """How a loose piece is put together and tried."""
    if piece.kind == "saddle" and not isinstance(piece, SeamKey):
        leaves, feet = [p for p in plates if not is_foot(p)], [p for p in plates if is_foot(p)]
        said = _said(used, [plate.name for plate in leaves])
        words = [(f"glue the leaves back to back, their numbers between them: {said}", _spots(leaves))]
        if feet:
            said = _said(used, [plate.name for plate in feet])
            words.append((f"glue a foot to both faces of each leg, flush below: {said}", _spots(feet)))
        return [
            *words,
            ("try it dry over a seam, between its posts", ()),
        ]
    every = _said(used, [name for use in used for name in plate_names(use)])
    where = "a pocket of two tiles" if isinstance(piece, SeamKey) else "its place"
    return [(f"glue its layers, edges flush: {every}", _spots(plates)), (f"try it dry in {where}", ())]


def _spots(plates: Sequence[Plate]) -> tuple[Point, ...]:
    return tuple((plate.foot.centroid.x, plate.foot.centroid.y) for plate in plates)


def _floor_spot(base: Plate, standing: Sequence[Plate]) -> Point:
    """The middle of the largest circle on the floor."""
    free = polygons_of(base.foot.difference(shapely.union_all([plate.foot for plate in standing])))
    largest = max(free, key=lambda part: float(part.area), default=base.foot)
    x, y = shapely.maximum_inscribed_circle(largest, tolerance=0.5).coords[0]
    return x, y


def _parts_by_plate(tile: str, parts: Sequence[Part], count: int) -> Used:
    """Of one tile: how many pieces of which part, as which layer, go into which plate."""
    found: dict[str, dict[tuple[str, PlateLayer], int]] = {}
    for part in parts:
        for use in part.uses:
            if use.tile == tile:
                found.setdefault(use.plate, {})[part.id, use.layer] = use.count // count
    return found


def _said(used: Used, plates: Sequence[str]) -> str:
    """The parts of some plates, alike ones counted together, from outside or from the top."""
    numbers: dict[tuple[str, PlateLayer], int] = {}
    for use, ids in used.items():
        if any(name in plates for name in plate_names(use)):
            for key, number in ids.items():
                numbers[key] = numbers.get(key, 0) + number
    order = sorted(numbers.items(), key=lambda item: list(_LAYERS).index(item[0][1]))
    return ", ".join(f"{f'{number} x ' if number > 1 else ''}{part}{_LAYERS[layer]}" for (part, layer), number in order)


def _groups(standing: Sequence[Plate], used: Used) -> Iterator[list[Plate]]:
    """What is set at one go, in order: single walls and posts, or the walls of a run that is folded."""
    runs = [set(plate_names(use)) for use in used]
    order = _in_order(standing)
    done: set[str] = set()
    for plate in order:
        if plate.name in done:
            continue
        # Doorways without a lintel part a run into pieces that may share a wall: all of them go in together.
        names, before = {plate.name}, 0
        while len(names) > before:
            before = len(names)
            names = names.union(*(run for run in runs if run & names))
        done |= names
        yield [other for other in order if other.name in names]


def _in_order(standing: Sequence[Plate]) -> list[Plate]:
    bases = [plate for plate in standing if plate.role == "base"]
    walls = [plate for plate in standing if plate.role == "wall"]
    outer, inner = [p for p in walls if not p.backed], [p for p in walls if p.backed]
    posts = [plate for plate in standing if plate.role not in ("base", "wall")]
    middle = shapely.union_all([p.foot for p in standing]).envelope.centroid if standing else None

    def clockwise(plate: Plate) -> float:
        at = plate.foot.centroid
        # From the north-west corner round by way of the north.
        return (math.radians(135) - math.atan2(at.y - middle.y, at.x - middle.x)) % math.tau if middle else 0.0

    # Walls stand on the upper layers of the base round a pit or a low floor.
    return [*bases, *sorted(outer, key=clockwise), *sorted(inner, key=lambda p: (-round(p.length, 3), p.name)), *posts]
