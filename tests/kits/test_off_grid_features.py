"""Features and heights on plans with rooms off the grid: through kit, fit, sight, solids and sheets."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.examples import toml
from tests.making import run
from tilegen.errors import InputError
from tilegen.files.plans import plan_of
from tilegen.fit.figures import figures_on
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, make_kit, placed
from tilegen.plans.sight import in_sight, visible_from
from tilegen.plans.views import spaces_filled
from tilegen.plans.ways import WAYS
from tilegen.solids.build import build_mesh
from tilegen.tiles.plate import Plate

ROUND = {"room": "T", "circle": {"centre": [2.0, 2.0], "radius": 2.0}}
ROWS = [". . . . . .", ". . . . H H", ". . . . H H", ". . . . . ."]


def drawn(features: list | None = None, heights: dict | None = None, **more: object) -> Drawing:
    tables = {"name": "p", "scale": "10 ft", "drawing": "\n".join(ROWS), "shape": [ROUND]}
    tables |= {"feature": features or [], "heights": heights or {}, **more}
    return plan_of(tables, "p.toml")


def ids(kit: Kit) -> dict[str, int]:
    return {kind.tile.id: kind.count for kind in kit.types}


def feature(kind: str, cell: list[int], **more: object) -> dict:
    return {"kind": kind, "cell": cell, **more}


def plates_of(kit: Kit, role: str) -> list[Plate]:
    return [plate for kind in kit.types for plate in kind.tile.plates if plate.role == role for _ in range(kind.count)]


def test_features_on_the_grid_keep_their_types_beside_a_round_room():
    things = [feature("pillar", [5, 2]), feature("stair", [6, 3], side="north", height=12.7)]
    heights = {"H": {"floor": 6.35, "wall": 20.0}}
    alone = {"name": "p", "scale": "10 ft", "drawing": "\n".join(ROWS), "feature": things, "heights": heights}
    on_grid = ids(make_kit(plan_of(alone, "p.toml")))
    assert sum(on_grid.values()) == 4
    assert on_grid.items() <= ids(make_kit(drawn(things, heights))).items()


def test_equal_pieces_with_equal_features_are_one_type_and_with_others_two():
    # The four thirds of a ring that the lattice cuts off the round room lie in these cells, each a quarter turn on.
    at = ([1.5, 1.0], [1.0, 1.5], [0.5, 1.0], [1.0, 0.5])
    cells = ([1, 2], [3, 1], [4, 3], [2, 4])
    plain = make_kit(drawn())
    alike = [feature("pillar", cell, at=spot, size=8.0) for cell, spot in zip(cells, at, strict=True)]
    kit = make_kit(drawn(alike))
    assert kit.tiles == plain.tiles
    assert [kind.count for kind in kit.types if "pillar" in kind.name] == [4]
    other = make_kit(drawn([*alike[:3], {**alike[3], "size": 9.0}]))
    assert sorted(kind.count for kind in other.types if "pillar" in kind.name) == [1, 3]
    assert other.tiles == plain.tiles


def test_solids_are_the_sum_of_their_plates_and_lie_where_the_features_were_drawn():
    things = [
        feature("pillar", [1, 2], at=[1.2, 1.0], size=[10.0, 14.0]),
        feature("pillar", [1, 3], at=[1.2, 1.0], size=12.0, round=True),
        feature("pit", [3, 1], at=[0.8, 1.2], size=12.7),
        feature("dais", [2, 2], to=[3, 3]),
        feature("stair", [4, 3], at=[0.6, 0.8], size=[25.4, 20.0], side="west", height=12.7),
    ]
    drawing = drawn(things, {"T": {"floor": 6.35, "wall": 25.4}})
    kit = make_kit(drawing)
    for kind in kit.types:
        assert build_mesh(kind.name, kind.tile.plates).volume == pytest.approx(kind.tile.volume, rel=1e-7, abs=0.01)
    there = [
        (plate.role, turn.geometry(plate.foot), plate)
        for kind, turn in placed(kit, drawing)
        for plate in kind.tile.plates
    ]
    side = 63.5
    (square,) = (foot for role, foot, plate in there if role == "pillar" and plate.edge is not None)
    assert square.bounds == pytest.approx((0.6 * side - 5, 1.5 * side - 7, 0.6 * side + 5, 1.5 * side + 7), abs=2e-3)
    (drum,) = (foot for role, foot, plate in there if role == "pillar" and plate.edge is None)
    assert drum.centroid.coords[0] == pytest.approx((0.6 * side, 2.5 * side), abs=2e-3)
    dais = shapely.union_all([foot for role, foot, _ in there if role == "dais"])
    assert dais.area == pytest.approx(4 * 63.5**2, rel=0.02)
    assert sum(role == "stair" for role, *_ in there) == 2
    walls = [plate for role, _, plate in there if role == "wall" and plate.bend is not None]
    assert {(plate.bottom, plate.top) for plate in walls} == {(12.7, 12.7 + 25.4)}
    # Every base as thick as the room's floor is high, less the pit.
    bases = [(foot, plate) for role, foot, plate in there if role == "base"]
    volume = math.fsum(foot.area * plate.height for foot, plate in bases)
    footprint = math.fsum(foot.area for foot, plate in bases if plate.bottom == 0)
    low = math.fsum(foot.area for foot, plate in bases if plate.bottom == 0 and foot.centroid.x > 4 * side)
    pit = 12.7**2 * (12.7 - 1.2)
    assert volume == pytest.approx((footprint - low) * 12.7 + low * 6.35 - pit, abs=0.5)


def test_a_dais_without_size_fills_the_floor_to_the_curved_wall():
    kit = make_kit(drawn([feature("dais", [1, 1], to=[4, 4])]))
    area = math.fsum(plate.foot.area for plate in plates_of(kit, "dais"))
    free = math.pi * (127 - 6.35) ** 2
    assert 0.97 * free < area < free


def test_what_lies_off_the_floor_is_refused_with_a_place_that_has_room():
    for thing, words in [
        (feature("pillar", [1, 2], at=[0.2, 0.5]), "under a wall of room"),
        (feature("pillar", [1, 1]), "under a wall of room"),
        (feature("pit", [4, 1], at=[1.2, 1.2], size=20.0), "under a wall of room"),
        (feature("pillar", [5, 4]), r"cell \[5, 4\] is solid ground"),
        (feature("dais", [3, 3], to=[5, 3]), "they lie at 0 and 6.35 mm"),
    ]:
        heights = {"T": {"floor": 6.35}}
        with pytest.raises(InputError, match=words) as refused:
            drawn([thing], heights)
        message = str(refused.value)
        assert "p.toml" in message
        assert "[[feature]] 1" in message
        if "under a wall" in message:
            spot, size = (
                message.rsplit("at = [", maxsplit=1)[-1].split("]", maxsplit=1)[0],
                message.partition("size = [")[2].split("]")[0],
            )
            again = {**thing, "at": [float(v) for v in spot.split(",")]}
            if size:
                again["size"] = [text.strip(' "') for text in size.split(",")]
            assert drawn([again], heights).blocks


def test_the_place_that_has_room_is_the_nearest():
    for thing in (
        feature("pillar", [1, 2], at=[0.2, 0.5], size=12.0),
        feature("pit", [4, 1], at=[1.2, 1.2], size=20.0),
        feature("dais", [1, 1], at=[1.0, 1.0], size=[26.0, 9.0]),
    ):
        with pytest.raises(InputError) as refused:
            drawn([thing])
        x, y = map(float, str(refused.value).rsplit("at = [", maxsplit=1)[-1].split("]", maxsplit=1)[0].split(","))
        assert "size" not in str(refused.value)
        drawn([thing | {"at": [x, y]}])
        found = math.dist((x, y), thing["at"])
        for spot in itertools.product(np.arange(0.1, 2.0, 0.1).tolist(), repeat=2):
            if math.dist(spot, thing["at"]) < found - 0.05:
                with pytest.raises(InputError):
                    drawn([thing | {"at": list(spot)}])


def test_a_door_between_a_round_room_and_a_hall_at_another_height():
    way = [{"room": "T", "at": [4.0, 2.5], "kind": "doorway", "height": 10.0}]
    shapes = [ROUND, {"room": "S", "polygon": [[4, 0], [6, 0], [6, 1], [4, 1]]}]
    with pytest.raises(InputError, match="a saddle needs floors of the same height"):
        drawn(heights={"S": {"floor": 6.35}}, shape=shapes, way=[{"cell": [5, 1], "side": "south", "kind": "saddle"}])
    with pytest.raises(
        InputError, match="one floor is 20 mm higher than the other, but the doorway is only 10 mm high"
    ):
        drawn(heights={"T": {"floor": 20.0}}, way=way)
    way[0]["height"] = 30.0
    assert drawn(heights={"T": {"floor": 20.0}}, way=way).heights[ord("T")].floor == 20.0


def test_a_stair_in_a_round_room_reaches_the_hall_beyond_its_wall():
    stair = feature("stair", [4, 2], at=[0.7, 1.0], size=[25.4, 20.0], side="east")
    kit = make_kit(drawn([stair], {"H": {"floor": 12.7}}))
    assert max(plate.top for plate in plates_of(kit, "stair")) == pytest.approx(6.35 + 12.7)


def test_figures_stand_on_one_level_and_clear_of_pillars_and_pits():
    (plain,) = figures_on(drawn(), [20.0])
    assert plain.stands > 20
    (pillar,) = figures_on(drawn([feature("pillar", [1, 2], at=[1.5, 1.5], size=20.0)]), [20.0])
    assert pillar.positions == plain.positions
    gone = set(map(tuple, pillar.blocked.tolist())) - set(map(tuple, plain.blocked.tolist()))
    assert gone == {(2, 4)}
    (pit,) = figures_on(drawn([feature("pit", [1, 2], at=[1.5, 1.5], size=20.0)]), [20.0])
    assert pit.blocked.tolist() == pillar.blocked.tolist()
    # On a dais of a whole space the figure stands; across its edge the larger one does not.
    on = [feature("dais", [1, 2], at=[1.5, 1.5], size=31.75)]
    assert figures_on(drawn(on), [20.0])[0].blocked.tolist() == plain.blocked.tolist()
    (before,), (after,) = figures_on(drawn(), [50.0]), figures_on(drawn(on), [50.0])
    assert after.stands < before.stands
    # A step between rooms: none stands over it, both floors are stood on.
    (raised,) = figures_on(drawn(heights={"T": {"floor": 12.7}}), [20.0])
    assert raised.blocked.tolist() == plain.blocked.tolist()


def test_in_a_slanting_hall_figures_get_over_a_dais_and_not_over_a_pit():
    hall = {"room": "T", "polygon": [[0, 0], [1.4, 0], [6, 3], [6, 4], [4.6, 4], [0, 1]]}
    reached = []
    for kind in ("dais", "pit"):
        tables = {"name": "p", "scale": "10 ft", "drawing": "\n".join([". . . . . ."] * 4), "shape": [hall]}
        tables["feature"] = [feature(kind, [3, 2], at=[1.0, 1.0], size=20.0)]
        (figure,) = figures_on(plan_of(tables, "p.toml"), [40.0])
        assert figure.stands == 5
        reached.append(int(figure.got_to.sum()))
    assert reached == [5, 3]


def test_sight_stops_at_a_pillar_that_fills_a_space_and_passes_over_low_walls():
    before = in_sight(drawn(), make_kit(drawn()))
    high = drawn([feature("pillar", [2, 2], at=[1.0, 1.0], size=63.5, height=30.0)])
    assert set(spaces_filled(high)) == {(ord("T"), row, column) for row in (2, 3) for column in (2, 3)}
    one = drawn([feature("pillar", [2, 2], at=[1.5, 0.5], size=31.75, height=30.0)])
    assert list(spaces_filled(one)) == [(ord("T"), 2, 3)]
    after = in_sight(high, make_kit(high))
    assert after.mean_tiles < before.mean_tiles
    low = drawn([feature("pillar", [2, 2], at=[1.0, 1.0], size=63.5, height=20.0)])
    assert in_sight(low, make_kit(low)).mean_tiles == before.mean_tiles
    # Two rooms that share a slanting wall: seen over it if it is low.
    halves = [
        {"room": "S", "polygon": [[0, 0], [3, 0], [1, 4], [0, 4]]},
        {"room": "T", "polygon": [[3, 0], [4, 0], [4, 4], [1, 4]]},
    ]
    seen = []
    for wall in (38.1, 20.0):
        drawing = drawn(shape=halves, heights={"S": {"wall": wall}, "T": {"wall": wall}})
        seen.append(in_sight(drawing, make_kit(drawing)).most_tiles)
    assert seen[0] < seen[1]


def test_sight_passes_a_way_in_a_round_wall_when_its_kind_says_so(monkeypatch):
    door = drawn(way=[{"room": "T", "at": [4.0, 2.0], "kind": "doorway"}])

    def seen(*, doors_open: bool) -> int:
        return int(visible_from(door, (2, 2), doors_open=doors_open).sum())

    assert seen(doors_open=True) > seen(doors_open=False)
    monkeypatch.setitem(WAYS, "doorway", replace(WAYS["doorway"], seen="never"))
    assert seen(doors_open=True) == seen(doors_open=False)


@pytest.mark.parametrize(("material", "machine"), [("card", "hand-knife"), ("mdf", "laser")])
def test_sheets_of_a_raised_round_room_with_features_have_no_findings(tmp_path, material, machine):
    things = [
        feature("pillar", [1, 2], at=[1.2, 1.0], size=[10.0, 14.0]),
        # Out to the curved wall.
        feature("dais", [2, 1], to=[2, 2]),
        feature("stair", [4, 3], at=[0.6, 0.8], size=[25.4, 20.0], side="west", height=12.7),
    ]
    if material != "card":
        things.append(feature("pit", [3, 1], at=[0.8, 1.2], size=12.7))
        things.append(feature("pillar", [1, 3], at=[1.2, 1.0], size=12.0, round=True))
    tables = {"name": "p", "scale": "10 ft", "drawing": "\n".join(ROWS), "shape": [ROUND], "feature": things}
    (tmp_path / "p.toml").write_text(toml({**tables, "heights": {"T": {"floor": 6.35}}}))
    made = run(tmp_path, "sheet", tmp_path / "p.toml", "--material", material, "--machine", machine)
    parts = Counter(record["material"] for record in made.said["sheets"])
    assert parts


def test_the_json_tells_where_features_are_from_the_tiles_least_corner(tmp_path):
    thing = feature("pillar", [1, 2], at=[1.2, 1.0], size=[10.0, 14.0])
    tables = {"name": "p", "scale": "10 ft", "drawing": "\n".join(ROWS), "shape": [ROUND], "feature": [thing]}
    (tmp_path / "p.toml").write_text(toml({**tables, "heights": {"T": {"floor": 6.35, "wall": 20.0}}}))
    kit = run(tmp_path, "kit", tmp_path / "p.toml").said
    (tile,) = (tile for tile in kit["tiles"] if tile.get("features"))
    assert tile["heights"] == [{"floor_mm": 6.35, "wall_height_mm": 20.0}]
    (record,) = tile["features"]
    found = next(kind for kind in make_kit(drawn([thing], {"T": {"floor": 6.35, "wall": 20.0}})).types
                 if kind.tile.id == tile["id"]).tile  # fmt: skip
    (pillar,) = (plate for plate in found.plates if plate.role == "pillar")
    west, south, *_ = found.base.foot.bounds
    assert record["box_mm"] == pytest.approx(np.array(pillar.foot.bounds) - [west, south, west, south], abs=2e-3)
    assert (record["from_mm"], record["to_mm"]) == (0.0, 20.0)
