"""Binary STL: 80 bytes of header, a count, 50 bytes a triangle.

After the StereoLithography Interface Specification, 3D Systems, October 1989.
"""

from __future__ import annotations

import numpy as np

from tilegen.solids.build import Mesh, Vertices
from tilegen.solids.formats import Scene

# Must not start with "solid", or readers take the file for text.
_HEADER = b"binary STL, millimetres, least corner at the origin".ljust(80, b" ")
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def write(scene: Scene) -> bytes:
    """The one mesh of a scene as a binary STL."""
    (mesh,) = scene.meshes
    return stl_bytes(mesh)


def kept(mesh: Mesh) -> Vertices:
    """Vertices in single precision, which may have met."""
    return mesh.vertices.astype(np.float32).astype(np.float64)


def stl_bytes(mesh: Mesh) -> bytes:
    """The mesh as a binary STL; 84 + 50 n bytes for n triangles. Vertices are rounded to float32 once, here.

    Raises:
        ValueError: no triangles, or a coordinate that is not finite.
    """
    if not len(mesh.triangles) or not np.isfinite(mesh.vertices).all():
        raise ValueError(f"{mesh.name}: no triangles, or a coordinate that is not finite")
    corners = mesh.vertices.astype(np.float32)[mesh.triangles]
    records = np.zeros(len(corners), _RECORD)
    records["corners"] = corners
    # Of the triangles as they are written: slivers turn when their corners are rounded.
    exact = corners.astype(np.float64)
    normals = np.cross(exact[:, 1] - exact[:, 0], exact[:, 2] - exact[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    records["normal"] = normals / np.where(lengths > 0, lengths, 1.0)
    return _HEADER + len(corners).to_bytes(4, "little") + records.tobytes()
