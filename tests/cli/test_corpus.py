"""The kept nasty cases keep to the contract: exit 0, 1 or 2, no traceback, no hang, no file astray."""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.proof.cases import Case, corpus

ROOT = Path(__file__).resolve().parents[2]


def test_the_corpus():
    assert len(corpus()) >= 10
    done = subprocess.run(
        [sys.executable, "-m", "tests.proof.fuzz", "--corpus"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_cases_survive_their_text(tmp_path):
    case = Case("a", "why", ("inspect", "x"), {"x": bytes(range(256)), "y": b"text\r\n", "z": b""})
    path = case.keep(tmp_path)
    assert Case.from_file(path) == case
    assert json.loads(path.read_text())["files"]["y"] == {"text": "text\r\n"}


def test_the_runner_sees_what_breaks_the_contract(tmp_path):
    code = (
        "import pathlib, sys, tilegen.cli as c; from tests.proof import running; from tests.proof.cases import Case\n"
        "def bad(): open(sys.argv[1], 'w').close(); raise ValueError\n"
        "c.main = bad\n"
        f"print(*running.run(Case('a', '', ('../../escaped',), {{}}), pathlib.Path({str(tmp_path / 'case')!r})).faults)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "exit 70" in done.stdout
    assert "traceback" in done.stdout
    assert "outside the folder" in done.stdout
