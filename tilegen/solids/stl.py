"""Binary STL: 80 bytes of header, a count, 50 bytes a triangle.

After the StereoLithography Interface Specification, 3D Systems, October 1989.
"""

from __future__ import annotations

import numpy as np

from tilegen.solids.build import Mesh

# Must not start with "solid", or readers take the file for text.
_HEADER = b"binary STL, millimetres, least corner at the origin".ljust(80, b" ")
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


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
    exact = mesh.vertices[mesh.triangles]
    normals = np.cross(exact[:, 1] - exact[:, 0], exact[:, 2] - exact[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    records["normal"] = normals / np.where(lengths > 0, lengths, 1.0)
    return _HEADER + len(corners).to_bytes(4, "little") + records.tobytes()


def is_closed(content: bytes) -> bool:
    """Whether the triangles of a binary STL, welded by position, use every edge twice, once each way, round a volume.

    Judged on the bytes that are written: rounding to float32 may have met what was apart.
    """
    records = np.frombuffer(content, _RECORD, offset=84)
    corners = np.ascontiguousarray(records["corners"].reshape(-1, 3)) + np.float32(0)
    _, index = np.unique(corners.view("V12"), return_inverse=True)
    first, second, third = index.reshape(-1, 3).T.astype(np.int64)
    start, end = np.concatenate([first, second, third]), np.concatenate([second, third, first])
    many = np.int64(index.max() + 1) if len(index) else np.int64(1)
    forward, backward = np.sort(start * many + end), np.sort(end * many + start)
    once = bool((np.diff(forward) > 0).all()) and bool((start != end).all())
    exact = records["corners"].astype(np.float64)
    volume = float(np.einsum("ij,ij->", exact[:, 0], np.cross(exact[:, 1], exact[:, 2]))) / 6
    return once and np.array_equal(forward, backward) and volume > 0
