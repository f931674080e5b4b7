"""Wavefront OBJ: vertices, then faces that count them from 1; text.

After "Appendix B1. Object Files (.obj)", Advanced Visualizer Manual, Wavefront Technologies (from memory). The format
knows no unit: a comment says millimetres.
"""

from __future__ import annotations

from tilegen.solids.build import Mesh, Vertices, nine_digits
from tilegen.solids.formats import Scene


def write(scene: Scene) -> bytes:
    """Each mesh of a scene as an object of its own."""
    lines, first = ["# millimetres, z up, least corner at the origin"], 1
    for mesh in scene.meshes:
        lines.append(f"o {mesh.name}")
        lines += [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in mesh.vertices.tolist()]
        lines += [f"f {a} {b} {c}" for a, b, c in (mesh.triangles.astype(int) + first).tolist()]
        first += len(mesh.vertices)
    return "\n".join([*lines, ""]).encode()


def kept(mesh: Mesh) -> Vertices:
    """Vertices in the nine digits that are written."""
    return nine_digits(mesh.vertices)
