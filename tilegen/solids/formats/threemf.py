"""3MF packages: one object a type, one build item a copy (3MF Core Specification, sections 3 and 4)."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from xml.sax.saxutils import quoteattr

from tilegen.solids.build import Mesh, Vertices, nine_digits
from tilegen.solids.formats import Item, Scene

_CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONSHIPS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_MODEL = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en-US" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">\n'
)
# Zip's own epoch: equal input gives equal bytes.
_DATE = (1980, 1, 1, 0, 0, 0)


def write(scene: Scene) -> bytes:
    """A package of a scene's meshes and their copies."""
    return threemf_bytes(scene.meshes, scene.items, scene.ids)


def kept(mesh: Mesh) -> Vertices:
    """Vertices in the nine digits that are written."""
    return nine_digits(mesh.vertices)


def threemf_bytes(meshes: Sequence[Mesh], items: Iterable[Item], ids: Mapping[str, str] | None = None) -> bytes:
    """A package with each mesh once, by its name, and each item as a copy of one of them.

    ids: part numbers by name, if there are any.

    Raises:
        ValueError: an item names a mesh that is not there.
    """
    items = tuple(items)
    unknown = sorted({item.name for item in items} - {mesh.name for mesh in meshes})
    if unknown:
        raise ValueError(f"copies of {unknown[0]!r}, of which there is no mesh")
    numbers = {mesh.name: number for number, mesh in enumerate(meshes, 1)}
    by_name = {mesh.name: mesh for mesh in meshes}
    parts = [_MODEL, " <resources>\n"]
    for mesh in meshes:
        parts.append(_object(numbers[mesh.name], mesh, (ids or {}).get(mesh.name)))
    parts.append(" </resources>\n <build>\n")
    for item in items:
        turn = _transform(item, by_name[item.name])
        parts.append(f'  <item objectid="{numbers[item.name]}" transform="{turn}"/>\n')
    parts.append(" </build>\n</model>\n")
    return _package("".join(parts))


def _object(number: int, mesh: Mesh, part: str | None = None) -> str:
    vertices = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in mesh.vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.triangles.tolist())
    names = f"name={quoteattr(mesh.name)}" + (f" partnumber={quoteattr(part)}" if part else "")
    return (
        f'  <object id="{number}" type="model" {names}><mesh>\n   <vertices>{vertices}</vertices>\n'
        f"   <triangles>{triangles}</triangles>\n  </mesh></object>\n"
    )


def _transform(item: Item, mesh: Mesh) -> str:
    """Row-major 4 x 3, for rows of coordinates: the turn's matrix stands there transposed."""
    (cosine, sine), (x, y, z) = item.placing(mesh.size)
    return f"{cosine} {sine} 0 {-sine} {cosine} 0 0 0 1 {x:.9g} {y:.9g} {z:.9g}"


def _package(model: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for path, text in (
            ("[Content_Types].xml", _CONTENT_TYPES),
            ("_rels/.rels", _RELATIONSHIPS),
            ("3D/3dmodel.model", model),
        ):
            entry = zipfile.ZipInfo(path, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            package.writestr(entry, text.encode())
    return buffer.getvalue()
