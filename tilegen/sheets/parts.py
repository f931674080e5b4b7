"""From plates to flat parts: every layer of every base and wall of a set of tiles, alike ones counted together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from tilegen.errors import InputError, a_few
from tilegen.files.stock import verdict_of
from tilegen.geometry import EQUAL_MM
from tilegen.lengths import rounded_down, show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.machines import LeastFeature, MachineFile
from tilegen.model.materials import MaterialFile, Stock
from tilegen.model.words import StockRole
from tilegen.sheets.constructions import ConstructionChoice, construction_of
from tilegen.sheets.constructions.kind import FLOOR_ROLES, SKIN, Construction
from tilegen.sheets.flat import Flat, FlatLayers, PlateLayer, Remark, own_pose, remarks_said
from tilegen.sheets.footprints import narrow_places
from tilegen.tiles.features import FEATURES
from tilegen.tiles.identity import encode
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Plate, Role
from tilegen.tiles.tile import Tile
from tilegen.tiles.uprights import cut_things

_LETTER: dict[Role, str] = {
    "base": "B",
    "wall": "W",
    "post": "P",
    "door": "D",
    "key": "K",
    **{word: kind.letter for word, kind in FEATURES.items()},
}
_ID_LENGTH = 4


@dataclass(frozen=True, slots=True)
class Use:
    """Where a part goes: pieces of it in one plate of one tile type, over all tiles of that type; as which layer."""

    tile: str
    tile_name: str
    plate: str
    layer: PlateLayer
    count: int


@dataclass(frozen=True, slots=True)
class Part:
    """A flat part, as it comes out of the cut; lengths in mm, least corner at the origin.

    id: from its role and geometry alone. count: pieces of it in the whole set. form: how it is made, if not cut and
    glued. number: what people call it, the same for all parts of one outline but for a letter behind it.
    """

    id: str
    role: Role
    flat: Flat
    thickness: float
    count: int
    uses: tuple[Use, ...]
    remarks: tuple[tuple[Remark, ...], ...] = ()
    form: str = ""
    number: str = ""

    @property
    def notes(self) -> tuple[str, ...]:
        """What is to be known of it, each a line."""
        return tuple(map(remarks_said, self.remarks))

    @property
    def outline(self) -> Polygon:
        """Of the finished part, exact."""
        return self.flat.outline

    @property
    def size(self) -> tuple[float, float]:
        """Of its bounding box, the longer side first."""
        west, south, east, north = self.outline.bounds
        return max(east - west, north - south), min(east - west, north - south)

    @property
    def name(self) -> str:
        """What it is, in words."""
        scored = ", scored" if self.flat.scores else ""
        words = {"base": "base layer", "wall": "wall strip", "post": "post strip", "door": "door leaf"}
        words |= {"key": "seam key", **{word: f"{word} layer" for word in FEATURES}}
        if self.form == "foot":
            return "door foot"
        if self.form == SKIN:
            return f"skin of a {'door leaf' if self.role == 'door' else self.role}" + scored
        if self.form:
            return f"{'door leaf' if self.role == 'door' else self.role}, {self.form}" + scored
        corners = len(self.outline.exterior.coords) - 1
        shape = " with an opening" if self.role in ("wall", "door") and corners > 4 else ""
        return words[self.role] + shape + scored


@dataclass(frozen=True, slots=True)
class BuiltTile:
    """A tile or piece as built from the stock: its plates, how many of it there are, and how.

    layers: its layers as they lie in it, each with its part's number.
    """

    made: Tile | Piece
    plates: tuple[Plate, ...]
    count: int
    construction: Construction
    layers: tuple[tuple[FlatLayers, str], ...] = ()


@dataclass(frozen=True)
class PartsList:
    """All parts of a set of tiles, with notes for the builder. cores: parts of another stock."""

    parts: tuple[Part, ...]
    constructions: tuple[Construction, ...]
    notes: tuple[Message, ...]
    built: tuple[BuiltTile, ...] = ()
    cores: tuple[Part, ...] = ()


@dataclass(slots=True)
class _Found:
    """A part while it is being counted."""

    role: Role
    flat: Flat
    thickness: float
    form: str
    description: tuple[object, ...]
    uses: dict[tuple[str, str, str, PlateLayer], int]
    remarks: dict[tuple[Remark, ...], None]


# What parts are told apart by: role, which material, thickness, and the outline with its marks.
_Kind = tuple[Role, StockRole, float, tuple[object, ...]]


def list_parts(
    counts: Sequence[tuple[Tile | Piece, int]],
    material: MaterialFile | Stock,
    choice: ConstructionChoice = ConstructionChoice(),  # noqa: B008 - it is frozen
) -> PartsList:
    """The flat parts of so many tiles and pieces of each type.

    choice: what the user chose in place of the material's own.

    Raises:
        InputError: the stock is far too thin or too thick for the grid, or a tile can't be made with it.
    """
    stock = Stock.of(material)
    constructions: dict[Grid, Construction] = {}
    found: dict[_Kind, _Found] = {}
    notes: dict[Message, None] = {}
    opened: dict[float, list[str]] = {}
    standing: list[tuple[BuiltTile, list[tuple[FlatLayers, _Found]]]] = []
    for made, count in cut_things(counts):
        if count < 1:
            continue
        if made.grid not in constructions:
            constructions[made.grid] = construction_of(made.grid, stock, choice)
        try:
            laid = constructions[made.grid].lay(made)
        except InputError as error:
            raise error.located(place=f"{made.name} ({made.id})") from None
        layers = [(flat, _entry_of(found, flat)) for flat in laid.flats]
        for flat, entry in layers:
            use = (made.id, made.name, flat.plate, flat.layer)
            entry.uses[use] = entry.uses.get(use, 0) + count * flat.layers
            entry.remarks.update(dict.fromkeys([flat.remarks] if flat.remarks else []))
        standing.append((BuiltTile(made, laid.plates, count, constructions[made.grid]), layers))
        notes.update(dict.fromkeys(laid.notes))
        for lintel, place in laid.opened:
            opened.setdefault(lintel, []).append(place)
    ids = dict(zip(map(id, found.values()), _ids(list(found.values()), stock), strict=True))
    numbered = _with_numbers([_part_of(entry, ids[id(entry)], stock) for entry in found.values()])
    numbers = {part.id: part.number for part in numbered}
    parts = tuple(part for part in numbered if part.form != "core")
    cores = tuple(part for part in numbered if part.form == "core")
    built = tuple(constructions.values())
    about = dict.fromkeys(note for construction in built for note in construction.notes())
    slight = [note for m in stock.materials for note in _slight(of_material(parts, m, stock), m)]
    said = (*about, *_open_topped(opened, stock.walls), *notes, *slight)
    tiles = (
        replace(tile, layers=tuple((flat, numbers[ids[id(entry)]]) for flat, entry in layers))
        for tile, layers in standing
    )
    return PartsList(parts, built, said, tuple(tiles), cores)


def stock_role(role: Role, form: str) -> StockRole:
    """Which of a kit's materials a part is cut from: what is on floors is of the bases' material."""
    if form == SKIN:
        return "skin"
    return "base" if role in FLOOR_ROLES or role == "key" else "walls"


def of_material(parts: Sequence[Part], material: MaterialFile, stock: Stock) -> tuple[Part, ...]:
    """The parts that are cut from one material of a stock."""
    roles = stock.roles_of(material)
    return tuple(part for part in parts if stock_role(part.role, part.form) in roles)


def _entry_of(found: dict[_Kind, _Found], laid: FlatLayers) -> _Found:
    """The part that a flat is one of, a new one if there is none; of what covers it only what covers all of them."""
    pose, description = own_pose(laid.flat)
    key = (laid.role, stock_role(laid.role, laid.form), laid.thickness, description)
    entry = found.setdefault(key, _Found(laid.role, pose, laid.thickness, laid.form, description, {}, {}))
    # Where it is hidden all of it is covered.
    if pose.shown and not entry.flat.shown:
        entry.flat = pose
    elif pose.shown and entry.flat.covered != pose.covered:
        common = tuple(box for box in entry.flat.covered if box in pose.covered)
        entry.flat = replace(entry.flat, covered=common)
    return entry


def _open_topped(opened: dict[float, list[str]], material: MaterialFile) -> Iterator[Message]:
    """A word on doorways whose lintel would be too thin."""
    for lintel, places in opened.items():
        needs = f"{show_length(lintel)} high, and {material.name} needs {show_length(material.least_lintel)}"
        words = f"These doorways are cut open at the top, because the strip above would be only {needs}"
        yield Message("note", f"{words}: {', '.join(dict.fromkeys(places))}.")


def _slight(parts: Sequence[Part], material: MaterialFile) -> Iterator[Message]:
    """A word on parts that are narrower than the material likes."""
    slight = [part.number for part in parts if part.size[1] < material.least_strip - EQUAL_MM]
    if slight:
        thin = f"{material.name.capitalize()} narrower than {show_length(material.least_strip)} breaks easily"
        yield Message("note", f"{thin}: handle {', '.join(slight)} with care.")


def _content(found: _Found, stock: Stock) -> tuple[object, ...]:
    """What a part's id is made from: its role and geometry, and its thickness where that is not the stock's own."""
    role = stock_role(found.role, found.form)
    own = found.thickness == stock.by_role[role].real_thickness
    more = (*(() if own else (found.thickness,)), *((role,) if role == "skin" else ()))
    return (_LETTER[found.role], found.description, *more)


def _ids(found: Sequence[_Found], stock: Stock) -> list[str]:
    """An id for each part; they grow where two would be the same."""
    contents = [repr(_content(f, stock)).encode() for f in found]
    length = _ID_LENGTH
    while True:
        ids = [f"{_LETTER[f.role]}-{encode(content, length)}" for f, content in zip(found, contents, strict=True)]
        if len(set(ids)) == len(ids):
            return ids
        length += 1


def _part_of(found: _Found, part_id: str, stock: Stock) -> Part:
    uses = tuple(Use(*use, count) for use, count in sorted(found.uses.items()))
    count, remarks = sum(found.uses.values()), tuple(sorted(found.remarks, key=remarks_said))
    flat, grain = found.flat, stock.by_role[stock_role(found.role, found.form)].grain
    west, south, east, north = flat.outline.bounds
    if grain and north - south > east - west + EQUAL_MM:
        # A strip is stiffer along the grain (common practice, no source).
        flat = flat.turned()
    return Part(part_id, found.role, flat, found.thickness, count, uses, remarks, found.form)


def _with_numbers(parts: Sequence[Part]) -> tuple[Part, ...]:
    """Parts in order, bases first, then the largest, with their numbers.

    B for a base, W1 for the longest wall; A, B, ... behind it where parts of one outline differ.
    """
    order = list(_LETTER)
    ordered = sorted(parts, key=lambda p: (order.index(p.role), -round(p.size[0], 3), -round(p.size[1], 3), p.id))
    groups: dict[str, dict[tuple[object, ...], list[str]]] = {}
    for part in ordered:
        letter = "F" if part.form == "core" else _LETTER[part.role]
        outline = own_pose(Flat(part.outline))[1]
        groups.setdefault(letter, {}).setdefault((part.thickness, outline), []).append(part.id)
    numbers: dict[str, str] = {}
    for letter, alike in groups.items():
        for count, ids in enumerate(alike.values(), 1):
            only = len(alike) == 1 and len(ids) == 1
            for variant, key in enumerate(ids):
                numbers[key] = letter if only else f"{letter}{count}{_letters(variant) if len(ids) > 1 else ''}"
    return tuple(replace(part, number=numbers[part.id]) for part in ordered)


def _letters(count: int) -> str:
    """A, B, ..., Z, AA, AB, ..."""
    more, last = divmod(count, 26)
    return (_letters(more - 1) if more else "") + chr(ord("A") + last)


def least_feature(material: MaterialFile, machine: MachineFile) -> float:
    """The narrowest strip or neck, mm: the material's own figure for the process, else the machine's.

    >>> from tilegen.files.stock import read_machine, read_material
    >>> least_feature(read_material("foam"), read_machine("hot-wire"))
    2.5
    """
    own = verdict_of(material, machine).least_feature
    return _width_of(machine.least_feature, material, machine) if own is None else own


def _width_of(rule: LeastFeature, material: MaterialFile, machine: MachineFile) -> float:
    return max(rule.width, rule.kerfs * machine.kerf_in(material), rule.thicknesses * material.real_thickness)


def slender_notes(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> Iterator[Message]:
    """A word on what the process makes, but not well."""
    good = _width_of(machine.good_feature, material, machine)
    widths = {p.number: [n.width for n in narrow_places(p.outline, good)] for p in parts if p.count}
    found = {key: min(places) for key, places in widths.items() if places}
    if found:
        places = ", ".join(f"{key} ({show_length(rounded_down(width, 1))})" for key, width in found.items())
        hard = f"{material.name.capitalize()} narrower than {show_length(good)} is hard to cut well"
        which = "part" if len(found) == 1 else "parts"
        yield Message("note", f"{hard} with a {machine.title}: take care with {which} {places}.")


def _wider(parts: Sequence[Part]) -> str:
    """How more is left of parts that are too narrow."""
    if all(part.role == "base" and part.outline.interiors for part in parts):
        return 'Make walls thicker or holes fewer, such as with posts = "fixed" or base = "full"'
    return "Make doorways narrower so that more is left beside them"


def check_features(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> None:
    """Refuse parts that the process can't make.

    Raises:
        InputError: a part with a strip or neck under the least feature; names each with its width and place.
    """
    least = least_feature(material, machine)
    # The webs beside pockets are glued to a whole layer all over: they are told, not refused.
    cut = [part for part in parts if part.count and all(use.layer != "bottom" for use in part.uses)]
    found = [(part, narrow) for part in cut for narrow in narrow_places(part.outline, least)]
    if not found:
        return
    narrowest: dict[str, float] = {}
    for part, narrow in found:
        called = f"{part.number} of {part.uses[0].tile_name}" if part.uses else part.number
        narrowest[called] = min(narrow.width, narrowest.get(called, narrow.width))
    raise InputError(
        f"the least that {machine.name} cuts from {material.name} is {show_length(least)} wide, and these parts are "
        f"narrower: {a_few([f'{part} ({show_length(width)})' for part, width in narrowest.items()])}",
        cure=f"{_wider([part for part, _ in found])}, or use another machine or material. If yours cuts finer, change "
        "least_feature in the machine's file",
        place=f"machine {machine.name}",
    )
