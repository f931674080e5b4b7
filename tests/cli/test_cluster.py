"""A batch on a real scheduler with two worker processes on the loopback; either is killed on the way."""

import json
import os
import re
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.calling import call, files_in
from tests.cli.test_batch import batch
from tilegen.batch.work import run_here

pytest.importorskip("distributed")
pytestmark = pytest.mark.thorough
ROOT = Path(__file__).resolve().parents[2]
WORDS = ("tile", "corner", "--vary", "pitch=26mm,28mm,30mm", "--vary", "wall=4mm,5mm,6mm,7mm")


def started(*words):
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-m", *words], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, env=env
    )


@pytest.fixture(scope="module")
def cluster():
    processes = [started("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")]
    try:
        found = None
        while found is None:
            line = processes[0].stderr.readline()
            assert line, "the scheduler ended"
            found = re.search(r"Scheduler at:\s+(tcp://127\.0\.0\.1:\d+)", line)
        for _ in range(2):
            processes.append(
                started(
                    "distributed.cli.dask_worker",
                    found[1],
                    "--host",
                    "127.0.0.1",
                    "--nthreads",
                    "1",
                    "--no-nanny",
                    "--no-dashboard",
                )
            )
        for process in processes:
            threading.Thread(target=process.stderr.read, daemon=True).start()
        yield found[1], processes[1:], processes[0]
    finally:
        for process in processes:
            process.kill()
            process.wait()


@contextmanager
def killed_on_the_way(process, folder):
    """Kill a process as soon as a batch that goes into a folder has kept three variants."""

    def kill():
        deadline = time.monotonic() + 60
        while len(list(folder.glob("*/*/manifest.json"))) < 3 and time.monotonic() < deadline:
            time.sleep(0.01)
        process.kill()

    killer = threading.Thread(target=kill)
    killer.start()
    yield
    killer.join()


def test_a_lost_worker_costs_nothing_but_time(cluster, tmp_path):
    address, workers, _ = cluster
    here, there = tmp_path / "here", tmp_path / "there"
    batch(here / "corner-variants", WORDS[3], WORDS[5], halves=("solids", "sheets")).run(run_here)

    with killed_on_the_way(workers[0], there):
        done = call(*WORDS, "-o", there, "--json", "--scheduler", address)
    assert (done.returncode, done.stderr) == (0, "")
    assert workers[0].wait() != 0
    assert json.loads(done.stdout)["totals"]["made"] == 12
    assert files_in(here) == files_in(there)


def test_a_lost_scheduler_ends_the_batch_and_a_rerun_goes_on(cluster, tmp_path):
    """Solids alone, so many that no cluster is through with them before it is gone; one worker is enough."""
    address, _, scheduler = cluster
    here, there = tmp_path / "here", tmp_path / "there"
    heights = f"height={','.join(f'{20 + n}mm' for n in range(50))}"
    words = ("solid", "corner", "--vary", heights)
    with killed_on_the_way(scheduler, there):
        done = call(*words, "-o", there, "--scheduler", address)
    kept = len(list(there.glob("*/*/manifest.json")))
    assert (done.returncode, done.stdout) == (1, "")
    assert f"the scheduler at {address} went away" in done.stderr
    assert "run the same command again" in done.stderr
    assert "Traceback" not in done.stderr
    assert 3 <= kept < 50
    assert not list(there.glob("*/manifest.json"))
    # What is still to be made is made here.
    again = call(*words, "-o", there, "--json", "--jobs", 2)
    assert again.returncode == 0
    assert json.loads(again.stdout)["totals"]["kept"] == kept
    batch(here / "corner-variants", heights).run(run_here)
    assert files_in(here) == files_in(there)


def test_nobody_there(tmp_path, monkeypatch):
    from tilegen.batch import cluster as module
    from tilegen.errors import InputError

    monkeypatch.setattr(module, "_PATIENCE_S", 0.3)
    with pytest.raises(InputError, match="no Dask scheduler answers at"):
        list(module.run_on_cluster(iter([]), "tcp://127.0.0.1:9"))
