"""The arithmetic of the proofs and benchmarks, on figures that are known; and one comparison of a commit with itself."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks.compare import rows as compared
from tests.benchmarks.growth import exponent, plot
from tests.benchmarks.suite import SET, drawing, files
from tests.proof.coverage import by_package
from tests.proof.coverage import rows as covered
from tests.proof.licences import Terms, _in_text
from tests.proof.licences import rows as licensed
from tests.proof.pythons import Made, chosen, differing, least
from tests.proof.weights import audited

ROOT = Path(__file__).resolve().parents[2]


def summary(*counts):
    return {
        "summary": dict(
            zip(("num_statements", "covered_lines", "num_branches", "covered_branches"), counts, strict=True)
        )
    }


def test_coverage_adds_up_by_package():
    record = {
        "files": {
            "tilegen/model/grid.py": summary(10, 5, 4, 1),
            "tilegen/fit/a.py": summary(30, 30, 0, 0),
            "x/tilegen/fit/b.py": summary(10, 0, 2, 2),
        }
    }
    counts = by_package(record)
    assert set(counts) == {"tilegen.model", "tilegen.fit", "all"}
    assert list(counts["all"].values()) == [50, 35, 6, 3]
    lines = covered(counts)
    assert lines[-1].split() == ["all", "50", "70.0%", "6", "50.0%"]
    assert any("75.0%" in line for line in lines if "tilegen.fit" in line)


def test_ratios_are_taken_within_a_round():
    pairs = [
        ({"tile": 1.0, "plan": 1.0}, {"tile": 2.0, "plan": 1.1}),
        ({"tile": 4.0, "plan": 1.0}, {"tile": 8.8, "plan": 0.9}),
        ({"tile": 1.0}, {"tile": 2.1}),
    ]
    tile, plan, gone = compared(pairs, ["tile", "plan", "sight"])[1:]
    assert tile.split() == ["tile", "1000.00", "2000.00", "2.10", "2.00", "to", "2.20", "slower"]
    assert plan.endswith("0.90 to 1.10")
    assert gone.endswith("not in both")


@pytest.mark.parametrize("power", [0.5, 1, 2])
def test_the_exponent_is_that_of_the_largest(power):
    points = [(10, 99.0, 1.0), *((n, 3e-4 * n**power, 50.0) for n in (100, 1000, 10_000))]
    assert exponent(points) == pytest.approx(power)
    assert exponent(points, 2) == pytest.approx(0)
    canvas = plot({"one": points})
    assert f"one: {power:.2f}" in canvas.svg()


def test_copyleft_is_flagged():
    assert _in_text("Licensed under the GNU Lesser General Public License, version 2.1") == {"LGPL in its texts"}
    assert _in_text("MIT License. Permission is hereby granted; no gpl-like terms") == set()
    assert _in_text("GPL-3.0 with GCC-exception-3.1") == {"GPL in its texts, with the GCC runtime exception"}
    lines = licensed(
        [Terms("b", "1", "MIT", (), (), 0), Terms("a", "1", "MIT", ("LGPL in its texts",), ("libgeos",), 10**6)]
    )
    assert [line.split()[0] for line in lines] == ["a", "COPYLEFT:", "brings:", "b"]


def test_an_audit_that_looked_nothing_up_is_not_called_clean():
    skipped = {"name": "a", "skip_reason": "not found"}
    clean, bad = ({"name": n, "version": "1", "vulns": v} for n, v in (("b", []), ("c", [{"id": "PYSEC-0"}])))

    def told(*packages):
        return audited(json.dumps({"dependencies": packages, "fixes": []}))

    assert told(skipped) == (["none of 1 packages could be looked up, nothing is known: not found"], False)
    assert told(skipped, clean) == (["1 of 2 packages looked up, 0 with known vulnerabilities"], False)
    assert told(clean, bad) == (["2 of 2 packages looked up, 1 with known vulnerabilities", "c 1: PYSEC-0"], True)


def test_differing_files_are_named():
    assert differing(Made("x", {"a": "1", "b": "2"}), Made("y", {"a": "1", "b": "3", "c": "4"})) == ["b", "c"]
    assert differing(Made("x", {"a": "1"}), Made("y", {"a": "1"})) == []
    assert least() == (3, 11)
    version = ".".join(map(str, sys.version_info[:3]))
    assert chosen([Path(sys.executable), Path(sys.executable)]) == {version: Path(sys.executable)}


def test_the_suite_measures_the_tree_that_it_is_given(tmp_path):
    words = [sys.executable, "-P", ROOT / "tests" / "benchmarks" / "suite.py"]
    done = subprocess.run([*words, ROOT, "tile"], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout)["tile"] > 0
    assert subprocess.run([*words, tmp_path, "tile"], capture_output=True, check=False).returncode
    assert {"tile", "set", "plan", "sight", "nest", "write", "read back", "cut"} == set(SET)


def test_the_suite_draws_rooms_and_ground():
    rows = drawing(60).split("\n")
    assert {len(row) for row in rows} == {60} == {len(rows)}
    assert "." in drawing(60)
    with files(5) as (plan, folder):
        assert plan.is_relative_to(folder)
