"""A quarter turn clockwise of plans and profiles, as tables of a file; written apart from the tool."""

from __future__ import annotations

TURN = {"north": "east", "east": "south", "south": "west", "west": "north"}
CORNER = {
    "north-east": "south-east",
    "south-east": "south-west",
    "south-west": "north-west",
    "north-west": "north-east",
}


def _pair(size: object) -> object:
    return [size[1], size[0]] if isinstance(size, list) else size


def _at(side: str, at: float, spaces: float) -> float:
    """Measured from the west or north end: what runs down turns into what runs west."""
    return spaces - at if side in ("east", "west") else at


def _thing(thing: dict, deep: float) -> dict:
    """A feature on a floor so many spaces deep."""
    made = dict(thing)
    if "at" in thing:
        made["at"] = [deep - thing["at"][1], thing["at"][0]]
    if "size" in thing:
        made["size"] = _pair(thing["size"])
    if "side" in thing:
        made["side"] = TURN[thing["side"]]
    return made


def turned_profile(tables: dict) -> dict:
    """Of a tile by its size."""
    made, tile = dict(tables), tables["tile"]
    width, deep = tile["size"]
    made["tile"] = {
        **tile,
        "size": [deep, width],
        "walls": [TURN[w] for w in tile["walls"]],
        "posts": [CORNER[p] for p in tile.get("posts", [])],
    }
    if "opening" in tables:
        made["opening"] = []
        for opening in tables["opening"]:
            side = opening["wall"]
            new = {**opening, "wall": TURN[side]}
            if "at" in opening:
                new["at"] = _at(side, opening["at"], width if side in ("north", "south") else deep)
            made["opening"].append(new)
    if "feature" in tables:
        made["feature"] = [_thing(thing, deep) for thing in tables["feature"]]
    return made


def turned_plan(tables: dict, per_cell: float) -> dict:
    """per_cell: spaces along a cell's side."""
    made = dict(tables)
    rows = tables["drawing"].split()
    height = len(rows)

    def cell(place: list) -> list:
        return [height + 1 - place[1], place[0]]

    def point(at: list) -> list:
        return [height - at[1], at[0], *at[2:]]

    made["drawing"] = "\n".join("".join(rows[height - 1 - c][r] for c in range(height)) for r in range(len(rows[0])))
    for key in ("way", "wall"):
        if key in tables:
            made[key] = []
        for line in tables.get(key, []):
            new = {**line, "cell": cell(line["cell"]), "side": TURN[line["side"]]}
            if "at" in line:
                new["at"] = _at(line["side"], line["at"], per_cell)
            made[key].append(new)
    if "feature" in tables:
        made["feature"] = [{**_thing(thing, per_cell), "cell": cell(thing["cell"])} for thing in tables["feature"]]
    if "shape" in tables:
        made["shape"] = [_shape(shape, point) for shape in tables["shape"]]
    return made


def _shape(shape: dict, point) -> dict:
    made = dict(shape)
    if "polygon" in shape:
        made["polygon"] = [point(corner) for corner in shape["polygon"]]
    for kind in ("circle", "arc", "hall"):
        if kind in shape:
            what = dict(shape[kind])
            for key in ("centre", "from", "to"):
                if isinstance(what.get(key), list):
                    what[key] = point(what[key])
            if kind == "arc":
                what |= {"from": what["from"] + 90, "to": what["to"] + 90}
            made[kind] = what
    return made
