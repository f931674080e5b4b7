import json
import os
from pathlib import Path

import pytest

from tilegen.errors import InputError
from tilegen.jobs import run_many, write_files


def listing(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_a_rerun_removes_what_only_an_earlier_run_had_made(tmp_path):
    write_files(tmp_path, {"a.csv": b"1", "solids/b.stl": b"2", "solids/c.stl": b"3"})
    (tmp_path / "mine.txt").write_text("kept")
    (tmp_path / "solids/c.stl").write_bytes(b"changed by hand")
    write_files(tmp_path, {"a.csv": b"1"})
    assert listing(tmp_path) == ["a.csv", "manifest.json", "mine.txt", "solids/c.stl"]


def test_an_empty_folder_goes_with_its_last_file(tmp_path):
    write_files(tmp_path, {"a.csv": b"1", "solids/b.stl": b"2"})
    write_files(tmp_path, {"a.csv": b"1"})
    assert not (tmp_path / "solids").exists()


def test_a_manifest_can_not_reach_out_of_its_folder(tmp_path):
    outside = tmp_path / "outside.txt"
    outside.write_bytes(b"x")
    inside = tmp_path / "in"
    inside.mkdir()
    digest = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"
    for path in ("../outside.txt", str(outside)):
        (inside / "manifest.json").write_text(json.dumps({"files": [{"path": path, "kind": "csv", "sha256": digest}]}))
        write_files(inside, {"a.csv": b"1"})
        assert outside.exists()


@pytest.mark.parametrize("text", ["", "[]", "{", '{"files": 3}', '{"files": [{}]}', "[" * 100_000])
def test_a_broken_manifest_is_no_obstacle(tmp_path, text):
    (tmp_path / "manifest.json").write_text(text)
    write_files(tmp_path, {"a.csv": b"1"})
    assert listing(tmp_path) == ["a.csv", "manifest.json"]


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(InputError, match="out"):
        write_files(tmp_path / "out", {"a.csv": b"1"})
    assert (tmp_path / "out").read_text() == "a file"


def test_a_folder_where_a_file_should_be_leaves_nothing_half_written(tmp_path):
    (tmp_path / "b.csv").mkdir()
    with pytest.raises(InputError):
        write_files(tmp_path, {"a.csv": b"1", "b.csv": b"2"})
    assert listing(tmp_path) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_can_not_be_written(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError):
        write_files(tmp_path / "out", {"a.csv": b"1"})


def test_a_disk_that_fails_keeps_the_earlier_files(tmp_path, monkeypatch):
    write_files(tmp_path, {"a.csv": b"1", "b.csv": b"1"})

    def full(*_args, **_kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fdopen", full)
    with pytest.raises(InputError, match="No space left"):
        write_files(tmp_path, {"a.csv": b"2", "b.csv": b"2"})
    monkeypatch.undo()
    assert [(tmp_path / n).read_bytes() for n in ("a.csv", "b.csv")] == [b"1", b"1"]
    assert listing(tmp_path) == ["a.csv", "b.csv", "manifest.json"]


def test_workers_give_the_same_in_the_same_order():
    items = list(range(200))
    assert run_many(abs, items, jobs=2) == run_many(abs, items) == items


def test_written_files_can_be_read_by_others(tmp_path):
    write_files(tmp_path, {"a.csv": b"1"})
    mask = os.umask(0)
    os.umask(mask)
    assert Path(tmp_path / "a.csv").stat().st_mode & 0o777 == 0o666 & ~mask
