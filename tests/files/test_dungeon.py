"""The dungeon as one 3D file: read by trimesh, checked by the validator of the format's makers; and its picture."""

from __future__ import annotations

import io
import json
import math
import subprocess

import numpy as np
import pytest
import shapely
import trimesh
from PIL import Image

from tilegen import make_plan
from tilegen.files.plans import read_plan
from tilegen.files.toml import find
from tilegen.making.dungeon import dungeon_files, dungeon_scene, vertices_of
from tilegen.plans.kit import make_kit, placed
from tilegen.solids.build import build_mesh
from tilegen.solids.formats import SOLID_FORMATS, Item

_VALIDATE = """
const { validateBytes } = require('gltf-validator');
validateBytes(new Uint8Array(require('fs').readFileSync(0))).then(r => console.log(JSON.stringify(r.issues)));
"""


def meshes_of(kit):
    things = [*(t.tile for t in kit.types), *(p.piece for p in kit.pieces)]
    return {thing.id: build_mesh(thing.name, thing.plates) for thing in things}


def scene_of(name):
    drawing = read_plan(find(name, "plans"))
    kit = make_kit(drawing)
    return drawing, kit, dungeon_scene(kit, drawing, meshes_of(kit))


@pytest.mark.parametrize("name", ["bell-foundry", "gull-light"])
def test_every_tile_stands_where_the_layout_has_it(name):
    """Seen from above the file's solids cover what the layout's tiles cover, round rooms and odd outlines too."""
    drawing, kit, scene = scene_of(name)
    content = SOLID_FORMATS["glb"].writer.write(scene)
    loaded = trimesh.load(io.BytesIO(content), file_type="glb")
    assert len(loaded.graph.nodes_geometry) == len(scene.items)
    areas = [
        turn.geometry(shapely.union_all([p.foot for p in kind.tile.plates])) for kind, turn in placed(kit, drawing)
    ]
    found = []
    for node in loaded.graph.nodes_geometry:
        transform, geometry = loaded.graph[node]
        points = trimesh.transform_points(loaded.geometry[geometry].vertices, transform) * 1000
        # East is x, and with y up south is z.
        west, low, north = points.min(axis=0)
        east, _, south = points.max(axis=0)
        if abs(low) < 0.01:
            found.append((west, north, east, south))
    assert len(found) == len(areas) == kit.tiles
    wanted = np.array([area.bounds for area in areas])
    distance = np.abs(np.array(found)[:, None] - wanted[None]).max(axis=2)
    assert distance.min(axis=0).max() < 0.01
    assert distance.min(axis=1).max() < 0.01


def test_the_file_is_in_metres_with_each_mesh_once_and_repeats_byte_for_byte():
    _, kit, scene = scene_of("bell-foundry")
    content = SOLID_FORMATS["glb"].writer.write(scene)
    assert content == SOLID_FORMATS["glb"].writer.write(scene_of("bell-foundry")[2])
    assert content[:4] == b"glTF"
    assert int.from_bytes(content[8:12], "little") == len(content)
    length = int.from_bytes(content[12:16], "little")
    document = json.loads(content[20 : 20 + length])
    assert len(document["meshes"]) == len(scene.meshes)
    assert len(document["nodes"]) == 1 + len(scene.items) >= 1 + kit.tiles
    loaded = trimesh.load(io.BytesIO(content), file_type="glb")
    assert 0.03 < loaded.extents[1] < 0.06
    assert 0.5 < loaded.extents[0] < 1


@pytest.mark.parametrize("turns", range(4))
def test_a_turned_copy_keeps_its_least_corner(turns):
    kind = build_mesh("t", make_kit(make_plan(name="A", drawing="A")).types[0].tile.plates)
    found = vertices_of(Item("t", 5.0, 7.0, turns, 2.0), kind)
    assert found.min(axis=0) == pytest.approx((5, 7, 2))
    turned = trimesh.Trimesh(found, kind.triangles, process=False)
    assert turned.volume == pytest.approx(kind.volume)


def test_the_validator_of_the_formats_makers_finds_nothing():
    """gltf-validator (Khronos Group), where node finds it."""
    content = SOLID_FORMATS["glb"].writer.write(scene_of("gull-light")[2])
    try:
        done = subprocess.run(["node", "-e", _VALIDATE], input=content, capture_output=True, check=True)
    except (FileNotFoundError, subprocess.CalledProcessError) as error:
        pytest.skip(f"no gltf-validator here: {type(error).__name__}")
    issues = json.loads(done.stdout)
    assert issues["messages"] == []
    assert issues["truncated"] is False


def test_figures_stand_on_the_floor_of_the_picture():
    drawing = make_plan(name="AB", drawing="AB")
    kit = make_kit(drawing)
    meshes = meshes_of(kit)
    plain, peopled = (dungeon_files(kit, drawing, meshes, figures=figures)["dungeon.png"] for figures in (False, True))
    assert plain == dungeon_files(kit, drawing, meshes)["dungeon.png"]
    one, other = (np.asarray(Image.open(io.BytesIO(png)).convert("L"), np.int64) for png in (plain, peopled))
    assert one.shape == other.shape
    assert 0.004 < (other < one - 40).mean() < 0.2
    assert math.isclose(one.shape[1], 480)
