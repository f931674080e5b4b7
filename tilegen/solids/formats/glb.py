"""glTF 2.0 in one binary file: each mesh once, a node per copy; metres, y up.

After the glTF 2.0 Specification, Khronos Group, 2021 (ISO/IEC 12113:2022): sections 3.4 (metres, y up), 3.5.3 (a node's
rotation and translation), 3.6 (buffers and accessors) and 4 (the binary container). Without normals a viewer shades
flat, as section 3.7.2.1 asks it to.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from tilegen.solids.build import Mesh, Vertices
from tilegen.solids.formats import Scene

_METRES = 0.001
# Stone: linear colour, no metal, rough.
_STONE = {"baseColorFactor": [0.55, 0.47, 0.35, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.95}
_FLOAT, _WHOLE = 5126, 5125
_CORNERS, _INDICES = 34962, 34963
# How z up becomes y up: a quarter turn about x.
_UPRIGHT = [-math.sqrt(0.5), 0.0, 0.0, math.sqrt(0.5)]


def write(scene: Scene) -> bytes:
    """The copies of a scene in their places."""
    data, views, accessors, meshes = bytearray(), [], [], []
    for mesh in scene.meshes:
        points, corners = kept(mesh).astype("<f4") * np.float32(_METRES), mesh.triangles.astype("<u4").reshape(-1)
        for content, target in ((points.tobytes(), _CORNERS), (corners.tobytes(), _INDICES)):
            views.append({"buffer": 0, "byteOffset": len(data), "byteLength": len(content), "target": target})
            data += content
        low, high = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        accessors += [
            _accessor(len(views) - 2, _FLOAT, len(points), "VEC3") | {"min": low, "max": high},
            _accessor(len(views) - 1, _WHOLE, len(corners), "SCALAR"),
        ]
        number = len(accessors)
        primitive = {"attributes": {"POSITION": number - 2}, "indices": number - 1, "material": 0, "mode": 4}
        meshes.append({"name": mesh.name, "primitives": [primitive]})
    return _container(
        {
            "asset": {"version": "2.0", "generator": "tilegen"},
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "nodes": _nodes(scene),
            "meshes": meshes,
            "materials": [{"name": "stone", "pbrMetallicRoughness": _STONE}],
            "accessors": accessors,
            "bufferViews": views,
            "buffers": [{"byteLength": len(data)}],
        },
        bytes(data),
    )


def kept(mesh: Mesh) -> Vertices:
    """Vertices in single precision."""
    return mesh.vertices.astype(np.float32).astype(np.float64)


def _nodes(scene: Scene) -> list[dict[str, Any]]:
    """A node that turns all upright, and below it one per copy."""
    numbers = {mesh.name: number for number, mesh in enumerate(scene.meshes)}
    nodes: list[dict[str, Any]] = [
        {"name": "dungeon", "rotation": _UPRIGHT, "children": list(range(1, len(scene.items) + 1))}
    ]
    for item in scene.items:
        _, moved = item.placing(scene.meshes[numbers[item.name]].size)
        node: dict[str, Any] = {"name": item.name, "mesh": numbers[item.name]}
        node["translation"] = [round(along * _METRES, 9) + 0.0 for along in moved]
        if item.turns % 4:
            half = math.pi / 4 * (item.turns % 4)
            node["rotation"] = [0.0, 0.0, round(math.sin(half), 15), round(math.cos(half), 15) + 0.0]
        nodes.append(node)
    return nodes


def _accessor(view: int, component: int, count: int, kind: str) -> dict[str, Any]:
    return {"bufferView": view, "componentType": component, "count": count, "type": kind}


def _container(document: dict[str, Any], data: bytes) -> bytes:
    """The JSON and the buffer, each padded to four bytes."""
    text = json.dumps(document, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    parts = [b"JSON", text, b"BIN\0", data]
    length = 12 + 8 + len(text) + 8 + len(data)
    found = b"glTF" + (2).to_bytes(4, "little") + length.to_bytes(4, "little")
    for kind, content in zip(parts[::2], parts[1::2], strict=True):
        found += len(content).to_bytes(4, "little") + kind + content
    return found
