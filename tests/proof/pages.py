"""`python -m tests.proof.pages N`: N random kits cut and put together from their printed pages alone; `shipped`: all plans.

Each is a random dungeon of `tests.dungeons` in the next of six stocks, or a plan that ships in all of them and by the
wire. What is compared: templates with the parts list, what the list for the tool gives with the parts list, where the
gluing steps put walls and posts with where the tile has them, the halves of door pieces.
"""

from __future__ import annotations

import csv
import itertools
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

import shapely
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Polygon

from tests import printed
from tests.calling import call
from tests.dungeons import example
from tests.making import searching_less
from tilegen.making import things
from tilegen.tiles.openings import has_thin_lintel
from tilegen.tiles.tile import Tile

STOCKS = {
    "foam": ("--material", "foam"),
    "foam-core": ("--material", "foam-core"),
    "greyboard": ("--material", "greyboard"),
    "card": ("--material", "card"),
    "mdf": ("--material", "mdf", "--machine", "laser"),
    "slotted": ("--material", "mdf", "--machine", "laser", "--construction", "slotted"),
}
# A template is printed to a micrometre; what is set by marks or as drawn is this near, mm.
PRINTED, SET = 0.05, 0.1 + 2e-3
# Sizes that are no more than this apart are cut at one setting of a fence.
FENCE = 0.3
# A net has nicks of this area where its folds end, mm2.
NICK = 0.2


@dataclass
class Replay:
    """What came out. templates, cut: the largest error of a size, mm; tiles: how many; off: words about what is not right."""

    templates: float = 0.0
    cut: float = 0.0
    fence: float = 0.0
    tiles: int = 0
    walls: float = 0.0
    doors: int = 0
    drawn: int = 0
    off: list[str] = field(default_factory=list)


def replay(folder: Path, *words: object) -> Replay | None:
    """Make a kit, then follow its pages; None: the tool refused to make it."""
    listed: list = []
    real = things.list_parts

    def kept(*given, **named):
        listed.append(real(*given, **named))
        return listed[-1]

    with patch.object(things, "list_parts", kept):
        done = call(*words, "-o", folder, "--quiet")
    found = sorted(folder.rglob("cut.pdf"))
    if done.returncode == 2 or not found:
        return None
    made, pages = Replay(), printed.pages_of(found[0])
    try:
        builder = printed.Builder(pages)
        _compare_parts(made, found[0].parent / "sheets", pages, builder)
    except printed.Unclear as unclear:
        made.off.append(str(unclear))
        return made
    _compare_tiles(made, pages, builder, [tile for one in listed for tile in one.built])
    return made


def _compare_parts(made: Replay, sheets: Path, pages: list, builder: printed.Builder) -> None:
    rows = [row for path in sorted(sheets.glob("*-parts.csv")) for row in csv.DictReader(path.open())]
    sizes = {row["part"]: (float(row["length_mm"]), float(row["width_mm"])) for row in rows}
    wanted: Counter = Counter()
    for row in rows:
        wanted[row["part"]] += int(row["quantity"])
    given: Counter = Counter()
    for one in builder.templates.values():
        given.update(one.counts)
        for name in one.counts:
            if name in sizes:
                # Where a template is too large for a page its measures, to 0.1 mm, stand in its place.
                west, south, east, north = one.outline.bounds if one.outline else (0, 0, *one.size)
                off = printed.off_by(printed.Rectangle(name, east - west, north - south), sizes[name])
                made.templates = max(made.templates, off if one.outline else max(0.0, off - 0.05))
    given.pop("J", None)
    if given != wanted:
        made.off.append(f"templates: {_differences(given, wanted)}")
    if made.templates > PRINTED:
        made.off.append(f"a template is {made.templates:.3f} mm off")
    cut: Counter = Counter()
    for sheet in printed.ruler_sheets(pages, sizes):
        for name, count in sheet.gives.items():
            cut[name] += count * sheet.copies
        offs = [printed.off_by(piece, sizes[piece.name]) for piece in sheet.pieces if piece.name]
        made.cut = max([made.cut, *offs])
    if made.cut > printed.MARKED:
        made.off.append(f"marks are {made.cut:.3f} mm off")
    for name, pieces in printed.fenced(pages).items():
        if name in wanted:
            cut[name] += len(pieces)
            offs = [printed.off_by(printed.Rectangle(name, *piece), sizes[name]) for piece in pieces]
            made.fence = max([made.fence, *offs])
    if made.fence > FENCE:
        made.off.append(f"at the fence parts are {made.fence:.3f} mm off")
    cores = {name for name in wanted if name.startswith("F")}
    expected = Counter({name: n for name, n in wanted.items() if name not in cores})
    if cut and cut != expected:
        made.off.append(f"the list for the tool gives {_differences(cut, expected)}")


def _differences(found: Counter, wanted: Counter) -> dict:
    return {name: (found[name], wanted[name]) for name in found | wanted if found[name] != wanted[name]}


def _compare_tiles(made: Replay, pages: list, builder: printed.Builder, built: list) -> None:
    cards = printed.cards_of(pages)
    if len(cards) != len(built):
        made.off.append(f"{len(cards)} cards for {len(built)} tiles and pieces")
        return
    for card, one in zip(cards, built, strict=True):
        if not isinstance(one.made, Tile):
            if one.made.kind == "saddle":
                _compare_door(made, card, one, builder)
            continue
        base, *standing = one.plates
        if any(plate.role not in ("wall", "post") for plate in standing):
            continue
        made.tiles += 1
        west, south, *_ = base.foot.bounds
        lintel = one.construction.material.least_lintel
        try:
            outline = builder.base(card)
            put = list(builder.standing(card))
        except printed.Unclear as unclear:
            made.off.append(f"{one.made.name}: {unclear}")
            continue
        made.drawn += sum(part.drawn for part in put)
        there = shapely.union_all([_standing(plate, lintel) for plate in standing])
        here = shapely.union_all([part.foot for part in put])
        by_eye = any(part.drawn for part in put)
        if by_eye:
            # A picture shows all doorways white, whatever is over them.
            ways = [plate.opening_foot(opening) for plate in standing for opening in plate.openings]
            there, here = _less(there, shapely.union_all(ways)), _less(here, card.doorways())
        off = widest(translate(there, -west, -south), here)
        made.walls = max(made.walls, off - card.gaps)
        if off > SET + card.gaps:
            made.off.append(f"{one.made.name}: walls {off:.2f} mm off: {card.steps}")
        # A base may be open under its walls, where their tabs are.
        walls = here.buffer(0.25, join_style="mitre")
        off = widest(_less(translate(base.foot, -west, -south), walls), _less(outline, walls))
        if off > SET:
            made.off.append(f"{one.made.name}: base {off:.2f} mm off")


def _compare_door(made: Replay, card: printed.Card, one, builder: printed.Builder) -> None:
    """Whether the two halves of a door piece are among the parts that its steps name."""
    said = [words for step in card.steps if ": " in step for words in printed.parts_in(step.rpartition(": ")[2])[0]]
    faces = [printed.face_of(builder.by_part[number]) for _, number, _ in said]
    made.doors += 1
    for plate in one.plates:
        if plate.edge is None:
            continue
        # Where a lintel would break there is none.
        off = min(
            max(
                min((widest(way, _at_origin(face)) for outline in faces for way in _laid(outline)), default=99.0)
                for face in shapely.get_parts(plate.face(open_topped=opened))
            )
            for opened in (False, True)
        )
        made.walls = max(made.walls, off)
        if off > SET:
            made.off.append(f"{one.made.name}: {plate.name} {off:.2f} mm off: {card.steps}")


def _laid(outline: Polygon) -> Iterator[Polygon]:
    """An outline in its four turns, on either face."""
    for turn, way in itertools.product(range(4), (1.0, -1.0)):
        yield _at_origin(rotate(scale(outline, way, 1.0, origin=(0, 0)), 90.0 * turn, origin=(0, 0)))


def _at_origin(shape: Polygon) -> Polygon:
    return translate(shape, -shape.bounds[0], -shape.bounds[1])


def _standing(plate, lintel: float) -> Polygon:
    """What a wall covers on the plan, less doorways that are cut through to its top."""
    ways = [
        plate.opening_foot(o).buffer(1e-6)
        for o in plate.openings
        if plate.is_open_topped(o) or has_thin_lintel(o, plate.height, lintel)
    ]
    return plate.foot.difference(shapely.union_all(ways))


def widest(a: Polygon, b: Polygon) -> float:
    """How wide the widest strip is by which two regions differ, mm."""
    parts = shapely.get_parts(_less(a, b).union(_less(b, a)))
    rest, low, high = shapely.union_all(parts[shapely.area(parts) > NICK]), 0.0, 20.0
    for _ in range(14):
        middle = (low + high) / 2
        low, high = (low, middle) if rest.buffer(-middle / 2).is_empty else (middle, high)
    return high


def _less(a, b):
    """What is left of a region, both of them on a fine grid first: edges that all but meet confuse the overlay."""
    return shapely.set_precision(a, 1e-5).difference(shapely.set_precision(b, 1e-5))


def main(what: str) -> int:
    """Random kits, so many, or all plans that ship; what was wrong with them."""
    total, refused = Replay(), 0
    jobs = list(_shipped() if what == "shipped" else _random(int(what)))
    for name, files, stock in jobs:
        with tempfile.TemporaryDirectory() as folder, searching_less():
            for file, text in files.items():
                (Path(folder) / file).write_text(text, encoding="utf-8")
            made = replay(Path(folder) / "out", "build", Path(folder) / "p.toml", "--make", "cut", *stock)
        if made is None:
            refused += 1
            continue
        for key in ("tiles", "doors", "drawn", "off"):
            setattr(total, key, getattr(total, key) + getattr(made, key))
        for key in ("templates", "cut", "fence", "walls"):
            setattr(total, key, max(getattr(total, key), getattr(made, key)))
        for words in made.off:
            print(f"{name}, {' '.join(stock[1:])}: {words}", flush=True)
    print(
        f"{len(jobs)} kits, {refused} refused, {total.tiles} tiles, {total.doors} door pieces: templates within "
        f"{total.templates:.4f} mm, marks within {total.cut:.3f}, at the fence {total.fence:.2f}, walls within "
        f"{total.walls:.3f}; {total.drawn} parts as drawn; {len(total.off)} findings"
    )
    return 1 if total.off else 0


_Job = tuple[str, dict[str, str], tuple[str, ...]]


def _random(count: int) -> Iterator[_Job]:
    for number in range(count):
        yield f"kit {number}", example(71_000 + number).files, list(STOCKS.values())[number % len(STOCKS)]


def _shipped() -> Iterator[_Job]:
    for path in sorted(Path("profiles/plans").glob("*.toml")):
        for stock in (*STOCKS.values(), ("--material", "foam", "--machine", "hot-wire")):
            yield path.stem, {"p.toml": path.read_text()}, stock


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1] if len(sys.argv) > 1 else "60"))
