"""Connectors of whole plans: keys for the seams, what a build writes, the cautions that go with them."""

import csv
import io
import json
import math

import ezdxf
import pytest
from ezdxf.filemanagement import read

from tests.calling import call, files_in
from tests.unit.test_connectors import grid_with
from tilegen.files.grids import make_grid
from tilegen.files.plans import read_plan
from tilegen.files.toml import find
from tilegen.model.grid import Grid, Over
from tilegen.model.tables import Measures
from tilegen.plans.kit import make_kit
from tilegen.plans.layout import count_seams, middles_of
from tilegen.tiles.connectors.keys import key_size
from tilegen.tiles.connectors.kind import kind_of, module_of
from tilegen.tiles.loose import make_key
from tilegen.tiles.safety import flux_index, is_small_part


def plainly_counted(drawing, kit):
    """Seams between tiles, from the drawing's letters and the blocks alone."""
    rooms, block = drawing.rooms, kit.block
    left, top = ((-offset) % 2 if block == 2 else 0 for offset in kit.lattice)
    rows, columns = rooms.shape
    seams = 0
    for r in range(rows):
        for c in range(columns):
            for dr, dc in ((0, 1), (1, 0)):
                if r + dr < rows and c + dc < columns and rooms[r, c] and rooms[r + dr, c + dc]:
                    apart = (c + left) // block != (c + dc + left) // block or (r + top) // block != (
                        r + dr + top
                    ) // block
                    seams += apart
    return seams * round(drawing.cell_side / module_of(drawing.grid))


@pytest.mark.parametrize("plan", ["bell-foundry", "lamp-cellars"])
def test_a_key_for_every_seam(plan):
    drawing = read_plan(find(plan, "plans"), Over(tables={"connectors": {"kind": "keys"}}))
    kit = make_kit(drawing)
    seams = count_seams(kit, drawing)
    assert seams == plainly_counted(drawing, kit)
    assert 0 < 2 * seams < sum(len(middles_of(kind.tile)) * kind.count for kind in kit.types)
    plain = make_kit(read_plan(find(plan, "plans")))
    assert [t.count for t in plain.types] == [t.count for t in kit.types]
    assert not {t.tile.id for t in plain.types} & {t.tile.id for t in kit.types}


def test_one_key_for_each_side_of_a_tile(tmp_path):
    plan, tables = tmp_path / "two.toml", tmp_path / "grid.toml"
    plan.write_text(PLAN)
    tables.write_text('[connectors]\nkind = "keys"\nevery = "tile"\n')
    drawing = read_plan(plan, Over(tables))
    # Two rows of three tiles: four seams level, three upright.
    assert count_seams(make_kit(drawing), drawing) == 7


def test_connectors_by_table_and_by_option():
    measures = Measures.model_validate({"connectors": {"kind": "magnets", "magnet_diameter": "3 mm"}})
    grid = make_grid(measures, "f")
    assert (grid.connectors.kind, grid.connectors.magnet_diameter) == ("magnets", 3.0)
    grid = make_grid(measures, "f", Over(tables={"connectors": {"kind": "keys"}}))
    assert (grid.connectors.kind, grid.connectors.magnet_diameter) == ("keys", 3.0)


PLAN = 'name = "Two rooms"\ndrawing = """\nA A B\nA A B\n"""\n[[way]]\ncell = [2, 1]\nside = "east"\nkind = "open"\n'


def test_build_with_magnets(tmp_path):
    plan = tmp_path / "two.toml"
    plan.write_text(PLAN + "[connectors]\nsurface_field = 3\n")
    done = call("build", plan, "-o", tmp_path / "out", "--connectors", "magnets", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    # Six tiles, four sides, two pairs.
    assert document["connectors"]["magnets"] == 6 * 4 * 4
    assert document["connectors"]["spare"] == math.ceil(0.05 * 96)
    assert document["connectors"]["flux_index_kg2mm2"] == pytest.approx(9 * math.pi * 4)
    assert document["kit"]["totals"]["magnets"] == 96
    found = files_in(tmp_path / "out" / "two")
    assert {
        f"connectors/{n}" for n in ("seam.svg", "jig.svg", "jig.dxf", "jig.pdf", "polarity.svg", "polarity.png")
    } <= set(found)
    rows = list(csv.DictReader(io.StringIO(found["shopping.csv"].decode())))
    bought = next(row for row in rows if row["for"] == "connecting")
    # edges x pairs x 2 x 1.05, rounded up.
    assert bought["quantity"] == "101"
    assert '"disc magnets, 4 x 2 mm",,101' in found["kit.csv"].decode()
    page = found["report.html"].decode()
    assert "surgical emergency" in page
    assert "pacemakers" in page
    assert "113 kG2 mm2" in page


def test_build_with_keys(tmp_path):
    plan = tmp_path / "two.toml"
    plan.write_text(PLAN)
    words = ("--connectors", "keys", "--material", "greyboard", "--machine", "laser", "--json")
    done = call("build", plan, "-o", tmp_path / "out", *words)
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    # Seven seams of two spaces each; one spare in ten.
    assert document["kit"]["totals"]["keys"] == 14
    assert document["connectors"] == {"kind": "keys", "keys": 14, "spare": 2, "small_part": True}
    assert document["kit"]["pieces"] == []
    key = next(solid for solid in document["solids"] if solid["name"] == "seam-key")
    grid = grid_with("keys")
    assert key["closed"]
    assert key["volume_mm3"] == pytest.approx(make_key(grid).plates[0].foot.area * 3.0)
    found = files_in(tmp_path / "out" / "two")
    parts = found["sheets/greyboard-parts.csv"].decode()
    assert "seam key" in parts
    assert "16 CFR 1501" in found["report.html"].decode()
    jig = read(io.StringIO(found["connectors/jig.dxf"].decode()))
    assert jig.units == ezdxf.units.MM


def test_safety_figures():
    # 16 CFR 1501.4: a cylinder 1.25 in (31.7 mm) wide, 1 to 2.25 in (25.4 to 57.1 mm) deep.
    assert is_small_part((25.4, 25.4, 6.0))
    assert is_small_part((31.0, 6.0, 57.0))
    assert is_small_part((57.0, 22.0, 22.0))
    assert not is_small_part((58.0, 5.0, 5.0))
    assert not is_small_part((40.0, 40.0, 3.0))
    # 16 CFR 1262: field in kG squared times the pole's area in mm2.
    assert flux_index(2.0, 4.0) == pytest.approx(50.265, abs=1e-3)


def cautions(grid):
    return kind_of(grid).cautions(grid)


def test_cautions_say_what_the_magnets_reach():
    """16 CFR 1262: under 50 kG2 mm2. 4 mm at 2.0 kG are 50.27, at 1.99 kG 49.77 (worked by hand, formula as above)."""
    plain, _, toys = cautions(grid_with("magnets", magnet_diameter=4.0))
    assert "surgical emergency" in plain
    assert "under 50 kG2 mm2" in toys
    assert "surface_field" in toys
    over = cautions(grid_with("magnets", magnet_diameter=4.0, surface_field=2.0))[-1]
    assert "50 kG2 mm2 (2 kG on 4 mm), at or over the 50" in over
    under = cautions(grid_with("magnets", magnet_diameter=4.0, surface_field=1.9))[-1]
    assert "45 kG2 mm2 (1.9 kG on 4 mm), under the 50" in under
    assert cautions(Grid()) == ()
    assert cautions(grid_with("pegs")) == ()


def test_keys_are_small_parts():
    grid = grid_with("keys")
    (words,) = cautions(grid)
    assert "children under 3" in words
    # The key as made: its plate's own bounds and height.
    (plate,) = make_key(grid).plates
    west, south, east, north = plate.foot.bounds
    assert key_size(grid) == (east - west, north - south, plate.height)
