"""3MF as `inspect` reads it, against trimesh's loader and lib3mf, the 3MF Consortium's own reader."""

import json
import zipfile

import numpy as np
import pytest
import trimesh

from tests.calling import call
from tilegen.cli.inspect import inspect_file
from tilegen.errors import InputError
from tilegen.files import threemf
from tilegen.files.threemf import UNITS

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
START = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
RELATIONSHIPS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
TETRAHEDRON = (np.array([[0, 0, 0], [1, 0, 0], [0, 2, 0], [0, 0, 3]]), [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
BOX = (trimesh.creation.box((4, 5, 6)).vertices, trimesh.creation.box((4, 5, 6)).faces)


def mesh(vertices, triangles):
    corners = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in vertices)
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles)
    return f"<mesh><vertices>{corners}</vertices><triangles>{faces}</triangles></mesh>"


def model(resources, build, attributes='unit="millimeter"'):
    # Who names the production extension must give it its UUIDs: lib3mf holds to that.
    production = f'xmlns:p="{PRODUCTION}"' if "p:" in resources + build + attributes else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><model {attributes} xmlns="{CORE}" {production}>\n'
        f"<!-- no part of it --><resources>{resources}</resources>\n<build>{build}</build></model>"
    )


def links(target, more=""):
    one = f'<Relationship Target="{target}" Id="r" Type="{START}" {more}/>'
    return f'<?xml version="1.0"?><Relationships xmlns="{RELATIONSHIPS}">{one}</Relationships>'


def package(path, text, **more):
    """A package of one model part, and more by their names."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("[Content_Types].xml", TYPES)
        made.writestr("_rels/.rels", links("/3D/3dmodel.model"))
        made.writestr("3D/3dmodel.model", text)
        for name, content in more.items():
            made.writestr(name, content)
    return path


def matrix(rows, moved):
    return " ".join(f"{v!r}" for v in [*np.ravel(rows).tolist(), *map(float, moved)])


def as_trimesh_finds(path, factor):
    """The findings from trimesh's own loader: bodies by name, size and volume of all that is made."""
    scene = trimesh.load_scene(path, process=False)
    copies = [scene.graph[node][1] for node in scene.graph.nodes_geometry]
    bodies = {
        name: (len(one.faces), one.is_watertight, one.volume * factor**3, copies.count(name))
        for name, one in scene.geometry.items()
    }
    made = sum(abs(float(one.volume)) for one in scene.dump())
    return bodies, (scene.bounds[1] - scene.bounds[0]) * factor, made * factor**3


def as_lib3mf_finds(path):
    """Size in the file's unit, and triangles of each mesh."""
    import lib3mf

    read = lib3mf.get_wrapper().CreateModel()
    reader = read.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    box = read.GetOutbox()
    meshes, counts = read.GetMeshObjects(), []
    while meshes.MoveNext():
        counts.append(meshes.GetCurrentMeshObject().GetTriangleCount())
    return np.subtract(list(box.MaxCoordinate), list(box.MinCoordinate)), sorted(counts)


def check(path, unit="millimeter"):
    found, factor = inspect_file(path), UNITS[unit]
    bodies, size, volume = as_trimesh_finds(path, factor)
    assert found["units"] == unit
    assert [one["name"] for one in found["bodies"]] == sorted(bodies)
    for one in found["bodies"]:
        triangles, closed, content, copies = bodies[one["name"]]
        assert (one["triangles"], one["manifold"], one["copies"]) == (triangles, closed, copies)
        assert one["volume_mm3"] == pytest.approx(content)
    assert found["size_mm"] == pytest.approx(size)
    assert found["volume_mm3"] == pytest.approx(volume)
    strict, counts = as_lib3mf_finds(path)
    assert found["size_mm"] == pytest.approx(strict * factor, rel=1e-5)
    assert sorted(one["triangles"] for one in found["bodies"]) == counts
    return found


def test_what_the_tool_writes(tmp_path):
    for plan in ["hill-shrine"]:
        assert call("solid", plan, "-o", tmp_path, "--quiet").returncode == 0
        written = sorted(tmp_path.rglob("*.3mf"))
        assert len(written) >= 2
        for path in written:
            assert check(path)["ok"]


def test_units(tmp_path):
    for unit in UNITS:
        one = f'<object id="7" name="a &amp; b">{mesh(*TETRAHEDRON)}</object>'
        found = check(package(tmp_path / "a.3mf", model(one, '<item objectid="7"/>', f'unit="{unit}"')), unit)
        # A tetrahedron on three axes holds a sixth of the box around it.
        assert found["volume_mm3"] == pytest.approx(UNITS[unit] ** 3)
        assert found["bodies"][0]["name"] == "a & b"


def test_millimetres_unless_said(tmp_path):
    """Core Specification, section 3.4: the default of `unit`."""
    one = f'<object id="7">{mesh(*TETRAHEDRON)}</object>'
    assert check(package(tmp_path / "a.3mf", model(one, '<item objectid="7"/>', "")))["bodies"][0]["name"] == "7"


def test_nested_components(tmp_path):
    """Bodies in assemblies in assemblies, turned, mirrored, stretched and moved."""
    for seed in range(6):
        chance = np.random.default_rng(seed)

        def somewhere(number, chance=chance):
            turn = np.linalg.qr(chance.normal(size=(3, 3)))[0] * chance.uniform(0.5, 2)
            return f'objectid="{number}" transform="{matrix(turn, chance.uniform(-50, 50, 3))}"'

        objects = [
            f'<object id="1" name="box">{mesh(*BOX)}</object>',
            f'<object id="2" name="box">{mesh(*TETRAHEDRON)}</object>',
        ]
        for number in range(3, 3 + chance.integers(1, 4)):
            # Each kind once at least, so that none is without a copy, which trimesh's dump can't show.
            inside = [number - 1, *chance.integers(1, number, chance.integers(1, 3))]
            parts = "".join(f"<component {somewhere(one)}/>" for one in inside)
            objects.append(f'<object id="{number}" name="box"><components>{parts}</components></object>')
        items = "".join(f"<item {somewhere(one)}/>" for one in [number, 1, *chance.integers(1, number + 1, 3)])
        check(package(tmp_path / "a.3mf", model("".join(objects), items, 'unit="inch"')), "inch")


def test_a_body_that_is_not_made(tmp_path):
    both = f'<object id="1">{mesh(*BOX)}</object><object id="2">{mesh(*TETRAHEDRON)}</object>'
    found = check(package(tmp_path / "a.3mf", model(both, '<item objectid="2"/>')))
    assert [one["copies"] for one in found["bodies"]] == [0, 1]


def test_open_bodies_are_told(tmp_path):
    opened = (TETRAHEDRON[0], TETRAHEDRON[1][1:])
    path = package(tmp_path / "a.3mf", model(f'<object id="1">{mesh(*opened)}</object>', '<item objectid="1"/>'))
    assert not check(path)["ok"]
    result = call("inspect", path, "--json")
    assert result.returncode == 1
    assert json.loads(result.stdout)["files"][0]["bodies"][0]["closed"] is False


def test_objects_in_other_parts(tmp_path):
    """The production extension's paths, as lib3mf reads them; trimesh's loader gives such a body twice over."""

    def named(number):
        return f'p:UUID="{number:08d}-0000-0000-0000-000000000000"'

    other = 'p:path="/3D/Boxes/box.model"'
    moved = f'transform="{matrix(np.eye(3), (9, 0, 0))}"'
    both = f'<component objectid="1" {other} {named(2)}/><component objectid="1" {other} {moved} {named(3)}/>'
    text = model(
        f'<object id="1" {named(1)}><components>{both}</components></object>',
        f'<item objectid="1" {named(5)}/><item objectid="2" {other} {named(6)}/>',
        'requiredextensions="p"',
    ).replace("<build>", f"<build {named(4)}>")
    boxes = f'<object id="1" name="box" {named(7)}>{mesh(*BOX)}</object><object id="2" {named(8)}>{mesh(*TETRAHEDRON)}</object>'
    more = {
        "3D/Boxes/box.model": model(boxes, "", 'requiredextensions="p"').replace("<build>", f"<build {named(9)}>"),
        "3D/_rels/3dmodel.model.rels": links("/3D/Boxes/box.model"),
    }
    path = package(tmp_path / "a.3mf", text, **more)
    found = inspect_file(path)
    size, counts = as_lib3mf_finds(path)
    assert found["size_mm"] == pytest.approx(size)
    assert sorted(one["triangles"] for one in found["bodies"]) == counts
    assert {one["name"]: one["copies"] for one in found["bodies"]} == {"box": 2, "2": 1}
    assert found["volume_mm3"] == pytest.approx(2 * 120 + 1)


def test_the_model_is_where_the_package_says(tmp_path):
    one = model(f'<object id="1">{mesh(*BOX)}</object>', '<item objectid="1"/>')
    for target, entry in (("/Made/kit.model", "Made/kit.model"), ("made/../made/KIT.model", "Made/kit.model")):
        with zipfile.ZipFile(tmp_path / "a.3mf", "w") as made:
            made.writestr("_rels/.rels", links(target))
            made.writestr(entry, one)
        assert inspect_file(tmp_path / "a.3mf")["size_mm"] == pytest.approx([4, 5, 6])
    # Packages without relationships are read by the usual name.
    with zipfile.ZipFile(tmp_path / "a.3mf", "w") as made:
        made.writestr("3D/3dmodel.model", one)
    assert inspect_file(tmp_path / "a.3mf")["size_mm"] == pytest.approx([4, 5, 6])


def test_extensions_are_passed_over(tmp_path):
    """Vertices of a slice (3MF Slice Extension) are none of the mesh."""
    slices = '<s:slicestack id="9" xmlns:s="urn:s"><s:slice ztop="1"><s:vertices><s:vertex x="1" y="2"/></s:vertices></s:slice></s:slicestack>'
    one = f'<object id="1">{mesh(*BOX)}</object>'
    path = package(tmp_path / "a.3mf", model(slices + one, '<item objectid="1"/>'))
    assert inspect_file(path)["bodies"][0]["triangles"] == 12


def tetrahedron(vertices=None, triangles=None):
    return f'<object id="1">{mesh(vertices or TETRAHEDRON[0], triangles or TETRAHEDRON[1])}</object>'


def parts(*numbers):
    return "<components>" + "".join(f'<component objectid="{n}"/>' for n in numbers) + "</components>"


ITEM = '<item objectid="1"/>'
DOUBLING = "".join(f'<object id="{n}">{parts(n - 1, n - 1)}</object>' for n in range(2, 60))
CHAIN = "".join(f'<object id="{n}">{parts(n - 1)}</object>' for n in range(2, 2000))


def test_wrong_models(tmp_path):
    for text, part in [
        (model(f'<object id="1">{parts(1)}</object>', ITEM), "object 1 contains itself"),
        (model(f'<object id="1">{parts(2, 2)}</object><object id="2">{parts(1, 1)}</object>', ITEM), "contains itself"),
        (model(tetrahedron() + DOUBLING, '<item objectid="59"/>'), "there are more than 100,000 objects and copies"),
        (
            model(f'<object id="1">{parts()}</object>{DOUBLING}', '<item objectid="59"/>'),
            "there are more than 100,000 objects and copies",
        ),
        (model(tetrahedron() + CHAIN, '<item objectid="1999"/>'), "is nested more than 64 deep"),
        (model(tetrahedron(), '<item objectid="2"/>'), "line 3: there is no object 2"),
        (model(tetrahedron(), ""), "none of its bodies is to be built"),
        (model("", ""), "no triangles"),
        (
            model(tetrahedron(triangles=[[0, 1, 4]]), ITEM),
            "line 2: object 1 has a triangle on vertex 4, which it does not have",
        ),
        (model(tetrahedron(triangles=[[0, 1, -1]]), ITEM), "on vertex -1"),
        (model(tetrahedron(triangles=[[0, 1, 2**70]]), ITEM), "line 2: <triangle> has something else"),
        (model(tetrahedron(triangles=[[0, 1, 1.5]]), ITEM), "line 2: <triangle> has something else"),
        (model(tetrahedron(vertices=[[0, 0, "nan"]]), ITEM), "object 1 has a coordinate that is no length"),
        (model(tetrahedron(vertices=[[0, 0, "inf"]]), ITEM), "a coordinate that is no length"),
        (model(tetrahedron(vertices=[[0, 0, "1e300"]]), ITEM), "a coordinate that is no length"),
        (model(tetrahedron(vertices=[[0, 0, "one"]]), ITEM), "<vertex> has something else where numbers should be"),
        (model(tetrahedron().replace(' z="0"', "", 1), ITEM), "line 2: <vertex> has no z"),
        (model(tetrahedron().replace(' id="1"', "", 1), ITEM), "<object> has no id"),
        (model(tetrahedron() * 2, ITEM), "a second object 1"),
        (
            model(tetrahedron().replace("</mesh>", f"</mesh>{parts(1)}"), ITEM),
            "object 1 has more than one mesh or set of components",
        ),
        (
            model(tetrahedron(), '<item objectid="1" transform="1 0 0"/>'),
            "<item> has something else where numbers should be",
        ),
        (model(tetrahedron(), f'<item objectid="1" transform="{"nan " * 12}"/>'), "<item> has something else"),
        (model(tetrahedron(), '<item objectid="1" p:path="/3D/none.model"/>'), "the package has no part 3d/none.model"),
        (model(tetrahedron(), ITEM, 'unit="parsec"'), '"parsec" is not a unit of 3MF'),
        (model(tetrahedron(), ITEM).replace("<model", '<!DOCTYPE model [<!ENTITY a "b">]><model'), "entities"),
        (model(tetrahedron(), ITEM)[:-20], "the XML is broken"),
        ("<html/>", "there is no 3D model in it"),
        ("", "the XML is broken (no element found)"),
    ]:
        path = package(tmp_path / "a.3mf", text)
        with pytest.raises(InputError) as caught:
            inspect_file(path)
        assert part in str(caught.value)
        assert str(caught.value).startswith(str(path))


def test_nothing_grows_without_bounds(tmp_path, monkeypatch):
    monkeypatch.setattr(threemf, "MOST_PLACED", 1000)
    monkeypatch.setattr(threemf, "_MOST_CORNERS", 10)
    monkeypatch.setattr(threemf, "LARGEST_UNFOLDED", 10_000)
    turned = "".join(f'<item objectid="1" transform="0 {n} 0 1 0 0 0 0 1 0 0 0"/>' for n in range(1, 5))
    with pytest.raises(InputError, match="turned in too many ways"):
        inspect_file(package(tmp_path / "a.3mf", model(tetrahedron(), turned)))
    with pytest.raises(InputError, match="unpacks to"):
        inspect_file(package(tmp_path / "a.3mf", model(tetrahedron(), " " * 10_000)))
    monkeypatch.setattr(threemf, "LARGEST_UNFOLDED", 10**6)
    others = "".join(f'<object id="{n}"/>' for n in range(2, 1002))
    for text in (model(tetrahedron(), ITEM * 1001), model(tetrahedron() + others, ITEM)):
        with pytest.raises(InputError, match="objects and copies"):
            inspect_file(package(tmp_path / "a.3mf", text))
    many = {f"3D/{n}.model": model("".join(f'<object id="{m}"/>' for m in range(400)), "") for n in range(3)}
    items = "".join(f'<item objectid="1" p:path="/3D/{n}.model"/>' for n in range(3))
    with pytest.raises(InputError, match="objects and copies"):
        inspect_file(package(tmp_path / "a.3mf", model("", items), **many))
