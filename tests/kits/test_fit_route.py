"""The lay-out list: every tile once, rooms in the order they are met, and which tile lies where."""

from __future__ import annotations

from collections import Counter

import networkx as nx
import numpy as np
import pytest

from tests.kits.test_fit_plans import make_plan, random_plan, worked_plan
from tilegen.errors import InputError
from tilegen.plans.kit import make_kit, placed
from tilegen.plans.layout import lay
from tilegen.plans.route import Route, find_areas, make_route, route_record, ways_in
from tilegen.plans.ways import ExtraWall, Way


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_every_tile_and_piece_is_on_the_list_once(scale):
    for seed in range(15):
        drawing = random_plan(seed, scale=scale, most=9)
        kit = make_kit(drawing)
        tiles, pieces = Counter(), Counter()
        stops = make_route(drawing, kit)
        for stop in stops:
            tiles.update({key: count for _, key, count in stop.tiles})
            pieces.update({key: count for _, key, count in stop.pieces})
        assert tiles == {t.tile.id: t.count for t in kit.types}
        assert pieces == {p.piece.id: p.count for p in kit.pieces}
        assert sum(stop.cells for stop in stops) == int((drawing.rooms != 0).sum())
        assert len(stops) == len(find_areas(drawing).letters)


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_laid_tiles_are_the_kits(scale):
    for seed in range(20):
        drawing = random_plan(seed, scale=scale, most=9)
        kit = make_kit(drawing)
        laid = lay(drawing, kit)
        assert Counter(laid.type_of.tolist()) == {n: t.count for n, t in enumerate(kit.types)}
        assert ((laid.tile_of >= 0) == (drawing.rooms != 0)).all()
        cells = Counter(laid.tile_of[laid.tile_of >= 0].tolist())
        for tile, count in cells.items():
            assert count == len(kit.types[laid.type_of[tile]].tile.shape.cells)
        if scale == "10 ft":
            for n, kind in enumerate(kit.types):
                for column, row, _ in kind.places.tolist():
                    assert laid.type_of[laid.tile_of[row - 1, column - 1]] == n


def test_both_halves_of_a_diagonal_block_are_told_apart():
    plan = make_plan("A.\n.B", scale="5 ft", walls=[], ways=[Way((1, 1), "north", "open")])
    kit = make_kit(plan, lattice=(0, 0))
    laid = lay(plan, kit)
    assert laid.tile_of.tolist() == [[0, -1], [-1, 1]]
    opened, closed = (kit.types[laid.type_of[n]].tile.shape.edges for n in (0, 1))
    assert Counter(opened)["open"] == 1
    assert Counter(closed)["open"] == 0


def test_a_kit_of_another_drawing_is_refused():
    with pytest.raises(ValueError, match="not of this drawing"):
        lay(make_plan("AAA\nAAA"), make_kit(make_plan("AA\nAA")))


def test_rooms_in_the_order_they_are_met():
    ways = [
        Way((1, 1), "west", "doorway"),
        Way((2, 1), "east", "doorway"),
        Way((3, 1), "east", "saddle"),
        Way((1, 1), "south", "open"),
        Way((4, 2), "east", "open"),
    ]
    plan = make_plan("AABCC\nDDDDE\nFFFFE", ways=ways, titles={"A": "Brine hall"}, name="salt works")
    stops = make_route(plan, make_kit(plan))
    assert [(s.room, s.steps, s.came_from) for s in stops] == [
        ("A", 0, None), ("B", 1, 1), ("D", 1, 1), ("C", 2, 2), ("E", 2, 3), ("F", None, None),
    ]  # fmt: skip
    assert stops[0].title == "Brine hall"
    assert [stop.room for stop in stops if stop.pieces] == ["B"]
    record = route_record(stops)
    assert record[3]["came_from"] == 2
    assert sum(tile["count"] for tile in record[0]["tiles"]) == 2


def test_from_a_way_in_of_ones_own():
    ways = [Way((1, 1), "west", "open"), Way((4, 1), "east", "open"), Way((2, 1), "east", "open")]
    plan = make_plan("AABB", ways=ways)
    kit = make_kit(plan)
    assert [way.cell for way in ways_in(plan)] == [(1, 1), (4, 1)]
    assert [stop.room for stop in make_route(plan, kit)] == ["A", "B"]
    assert [stop.room for stop in make_route(plan, kit, start=((4, 1), "east"))] == ["B", "A"]
    with pytest.raises(InputError, match=r"Start at \[1, 1\] west and \[4, 1\] east"):
        make_route(plan, kit, start=((2, 1), "east"))


def test_without_a_way_in_the_largest_room_comes_first():
    stops = make_route(worked_plan(), make_kit(worked_plan()))
    assert [stop.room for stop in stops] == ["A", "B", "C"]
    with pytest.raises(InputError, match="Leave the start out, since this plan has no way in"):
        make_route(worked_plan(), make_kit(worked_plan()), start=((1, 1), "west"))


def test_one_letter_may_be_several_areas_and_a_wall_may_part_a_room():
    apart = find_areas(make_plan("AABAA"))
    assert (apart.letters, apart.sizes, apart.firsts) == (("A", "B", "A"), (2, 1, 2), ((1, 1), (3, 1), (4, 1)))
    parted = find_areas(make_plan("AAAA", walls=[ExtraWall((2, 1), "east")]))
    assert parted.sizes == (2, 2)
    touching = find_areas(make_plan("A.\n.A"))
    assert touching.sizes == (1, 1)
    around = find_areas(make_plan("AAA\nAAA", walls=[ExtraWall((1, 1), "east")]))
    assert around.sizes == (6,)
    assert (np.unique(around.of) == [0]).all()


def test_a_tile_in_two_rooms_is_laid_with_the_one_met_first():
    shared = 0
    for seed in range(12):
        drawing = random_plan(seed + 50, scale="5 ft", most=9)
        kit = make_kit(drawing)
        laid, areas, stops = lay(drawing, kit), find_areas(drawing), make_route(drawing, kit)
        order = {areas.firsts.index(stop.first_cell): number for number, stop in enumerate(stops)}
        wanted = [Counter() for _ in stops]
        for tile in range(len(laid.type_of)):
            met = {order[area] for area in areas.of[laid.tile_of == tile].tolist()}
            shared += len(met) > 1
            wanted[min(met)][kit.types[laid.type_of[tile]].tile.id] += 1
        assert [Counter({key: count for _, key, count in stop.tiles}) for stop in stops] == wanted
    assert shared


def test_steps_are_the_shortest_way_through_the_rooms():
    """Against networkx: rooms joined by the ways between them, from the way in."""
    met = 0
    for seed in range(20):
        drawing = random_plan(seed + 90, most=8)
        if not ways_in(drawing):
            continue
        areas, graph = find_areas(drawing), nx.Graph()
        graph.add_nodes_from(range(len(areas.letters)))
        rows, columns = drawing.rooms.shape
        for way in drawing.ways:
            c, r = way.cell[0] - 1, way.cell[1] - 1
            dc, dr = {"north": (0, -1), "east": (1, 0), "south": (0, 1), "west": (-1, 0)}[way.side]
            if 0 <= r + dr < rows and 0 <= c + dc < columns and drawing.rooms[r + dr, c + dc]:
                graph.add_edge(int(areas.of[r, c]), int(areas.of[r + dr, c + dc]))
        first = ways_in(drawing)[0]
        start = int(areas.of[first.cell[1] - 1, first.cell[0] - 1])
        away = nx.single_source_shortest_path_length(graph, start)
        stops = make_route(drawing, make_kit(drawing))
        numbers = [areas.firsts.index(stop.first_cell) for stop in stops]
        assert [stop.steps for stop in stops] == [away.get(number) for number in numbers], seed
        for stop, number in zip(stops, numbers, strict=True):
            if stop.came_from is not None:
                assert graph.has_edge(number, numbers[stop.came_from - 1])
                assert stops[stop.came_from - 1].steps == stop.steps - 1
                met += 1
        assert [stop.cells for stop in stops] == [areas.sizes[number] for number in numbers]
    assert met


@pytest.mark.parametrize("scale", ["10 ft", "5 ft"])
def test_the_first_rooms_alone_are_laid_as_in_the_whole_map(scale):
    """Types and places of each prefix: what the stops list, and where the whole kit has it."""
    for seed in range(12):
        drawing = random_plan(seed, scale=scale, most=9)
        kit = make_kit(drawing)
        route = Route.of(drawing, kit)
        whole = Counter((kind.tile.id, turn) for kind, turn in placed(kit, drawing))
        before = Counter()
        for number in range(len(route.stops) + 1):
            part, some = route.first(number)
            tiles, pieces = Counter(), Counter()
            for stop in route.stops[:number]:
                tiles.update({key: count for _, key, count in stop.tiles})
                pieces.update({key: count for _, key, count in stop.pieces})
            assert tiles == Counter({t.tile.id: t.count for t in some.types})
            assert pieces == Counter({p.piece.id: p.count for p in some.pieces})
            here = Counter((kind.tile.id, turn) for kind, turn in placed(some, part))
            assert before <= here <= whole
            assert set(part.titles) <= {stop.room for stop in route.stops} & set(drawing.titles)
            # Every tile of a room that is met is there with the room's floor.
            met = {stop.room for stop in route.stops[:number]}
            for letter in met - {stop.room for stop in route.stops[number:]}:
                assert ((part.rooms == ord(letter)) == (drawing.rooms == ord(letter))).all()
            before = here
        assert before == whole
