import hashlib
import json
import os
import random
from pathlib import Path

import pytest

from tests.calling import call
from tilegen.cli.common import distinct_stems
from tilegen.errors import InputError
from tilegen.files import writing as jobs
from tilegen.files.writing import PART, Job, file_stem, portable, write_files


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
        claim = {"made_by": "tilegen 1", "files": [{"path": path, "kind": "csv", "sha256": digest}]}
        (inside / "manifest.json").write_text(json.dumps(claim))
        write_files(inside, {"a.csv": b"1"})
        assert outside.exists()


@pytest.mark.parametrize("text", ["", "[]", "{", '{"files": 3}', '{"files": [{}]}', "[" * 100_000])
def test_a_manifest_that_is_not_the_tool_s_is_kept(tmp_path, text):
    (tmp_path / "manifest.json").write_text(text)
    write_files(tmp_path, {"a.csv": b"1"})
    assert listing(tmp_path) == ["a.csv", "manifest.json", "manifest.kept.json"]
    assert (tmp_path / "manifest.kept.json").read_text() == text


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

    monkeypatch.setattr(jobs.os, "fdopen", full)
    with pytest.raises(InputError, match="the disk is full"):
        write_files(tmp_path, {"a.csv": b"2", "b.csv": b"2"})
    monkeypatch.undo()
    assert [(tmp_path / n).read_bytes() for n in ("a.csv", "b.csv")] == [b"1", b"1"]
    assert listing(tmp_path) == ["a.csv", "b.csv", "manifest.json"]


def test_written_files_can_be_read_by_others(tmp_path):
    write_files(tmp_path, {"a.csv": b"1"})
    mask = os.umask(0)
    os.umask(mask)
    assert Path(tmp_path / "a.csv").stat().st_mode & 0o777 == 0o666 & ~mask


def job(tmp_path, command="build", folder="plans", name="Salt works"):
    path = tmp_path / folder / "salt.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("name")
    return Job(command, path, name)


def listed(folder):
    """(path, hash) of each file that a job says is its own."""
    return {(entry["path"], entry["sha256"]) for entry in json.loads((folder / "manifest.json").read_text())["files"]}


def owned(folder):
    """Every file but the manifest, by whether the manifest lists it as it is."""
    hashes = {p: hashlib.sha256((folder / p).read_bytes()).hexdigest() for p in listing(folder) if p != "manifest.json"}
    return {path: (path, digest) in listed(folder) for path, digest in hashes.items()}


def test_a_part_removes_nothing_and_the_manifest_still_lists_everything(tmp_path):
    write_files(tmp_path, {"kit.csv": b"all", "solids/a.stl": b"a", "solids/b.stl": b"b"})
    write_files(tmp_path, {"kit.csv": b"one", "solids/b.stl": b"b2"}, part=True)
    assert owned(tmp_path) == {"kit.csv": True, "solids/a.stl": True, "solids/b.stl": True}
    write_files(tmp_path, {"kit.csv": b"all"})
    assert listing(tmp_path) == ["kit.csv", "manifest.json"]


def test_what_the_user_wrote_or_changed_is_kept_beside_the_new_one(tmp_path):
    (tmp_path / "report.html").write_bytes(b"mine")
    told = []
    write_files(tmp_path, {"report.html": b"1", "kit.csv": b"1"}, tell=told.append)
    (tmp_path / "kit.csv").write_bytes(b"edited")
    write_files(tmp_path, {"report.html": b"2", "kit.csv": b"2"}, tell=told.append)
    (tmp_path / "report.html").write_bytes(b"mine again")
    write_files(tmp_path, {"report.html": b"3", "kit.csv": b"3"}, tell=told.append)
    texts = {p: (tmp_path / p).read_bytes() for p in listing(tmp_path) if p != "manifest.json"}
    assert texts == {
        "report.html": b"3",
        "report.kept.html": b"mine",
        "report.kept-2.html": b"mine again",
        "kit.csv": b"3",
        "kit.kept.csv": b"edited",
    }
    assert [text.rpartition(" ")[2] for text in told] == ["report.kept.html", "kit.kept.csv", "report.kept-2.html"]


def test_nothing_is_kept_that_is_equal_to_the_new_one(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"1")
    write_files(tmp_path, {"a.csv": b"1"}, tell=pytest.fail)
    assert owned(tmp_path) == {"a.csv": True}


def test_a_link_of_the_user_s_is_kept_as_a_link(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.csv").symlink_to(tmp_path / "notes.txt")
    write_files(tmp_path / "out", {"a.csv": b"1"})
    assert (tmp_path / "notes.txt").read_text() == (tmp_path / "out" / "a.kept.csv").read_text() == "mine"
    assert not (tmp_path / "out" / "a.csv").is_symlink()


@pytest.mark.parametrize(
    "other", [{"command": "tile"}, {"folder": "elsewhere"}], ids=["another command", "another plan of that name"]
)
def test_another_job_is_refused_and_both_are_named(tmp_path, other):
    out = tmp_path / "out"
    write_files(out, {"a.csv": b"1"}, job=job(tmp_path))
    with pytest.raises(InputError) as refused:
        write_files(out, {"b.csv": b"1"}, job=job(tmp_path, **other))
    assert str(job(tmp_path, **other)) in str(refused.value)
    assert "tilegen build" in str(refused.value)
    assert os.path.join("plans", "salt.toml") in str(refused.value)  # noqa: PTH118
    assert "-o" in refused.value.cure
    assert listing(out) == ["a.csv", "manifest.json"]


def test_a_job_of_a_subfolder_is_refused_by_the_one_that_owns_its_files(tmp_path):
    out = tmp_path / "out"
    write_files(out, {"sheets/a.dxf": b"1", "kit.csv": b"1"}, job=job(tmp_path))
    with pytest.raises(InputError, match="tilegen build"):
        write_files(out, {"sheets/a.dxf": b"2"}, job=job(tmp_path, "sheet"), manifest="sheets/manifest.json")
    write_files(out, {"fit/a.svg": b"2"}, job=job(tmp_path, "fit"), manifest="fit/manifest.json")
    write_files(
        tmp_path / "halves", {"sheets/a.dxf": b"1"}, job=job(tmp_path, "sheet"), manifest="sheets/manifest.json"
    )
    with pytest.raises(InputError, match="tilegen sheet"):
        write_files(tmp_path / "halves", {"sheets/a.dxf": b"2", "kit.csv": b""}, job=job(tmp_path))


def test_a_project_can_be_moved_whole_and_a_plan_alone(tmp_path):
    project = tmp_path / "project"
    write_files(project / "out", {"a.csv": b"1"}, job=job(project))
    project.rename(tmp_path / "moved")
    write_files(tmp_path / "moved" / "out", {"a.csv": b"2"}, job=job(tmp_path / "moved"))
    (tmp_path / "moved" / "plans" / "salt.toml").unlink()
    write_files(tmp_path / "moved" / "out", {"a.csv": b"3"}, job=job(tmp_path / "moved", folder="maps"))
    with pytest.raises(InputError):
        write_files(tmp_path / "moved" / "out", {"a.csv": b"4"}, job=job(tmp_path / "moved"))


class Stop(BaseException):
    """A kill, at the call of the system that is counted to."""


def test_a_kill_at_any_rename_leaves_no_file_without_an_owner(tmp_path, monkeypatch):
    """Each rename, link and removal in turn is the last; part files are removed by the next run."""
    first = {"a.csv": b"1", "b.csv": b"1", "solids/gone.stl": b"1", "solids/same.stl": b"1"}
    second = {"a.csv": b"2", "b.csv": b"2", "c.csv": b"2", "solids/same.stl": b"1"}
    moments = 0
    for moment in range(100):
        out = tmp_path / str(moment)
        write_files(out, first)
        (out / "b.csv").write_bytes(b"mine")
        left = moment

        def counted(real):
            def call(*args, **kwargs):
                nonlocal left
                if left == 0:
                    raise Stop
                left -= 1
                return real(*args, **kwargs)

            return call

        with monkeypatch.context() as killed:
            for owner, name in ((Path, "replace"), (Path, "unlink"), (Path, "rename"), (os, "link")):
                killed.setattr(owner, name, counted(getattr(owner, name)))
            try:
                write_files(out, second)
                break
            except Stop:
                moments += 1
        own = {path: mine for path, mine in owned(out).items() if PART not in path}
        strays = {path for path, mine in own.items() if not mine}
        assert strays <= {"b.csv", "b.kept.csv"}
        assert b"mine" in {(out / path).read_bytes() for path in strays}
        write_files(out, second)
        assert owned(out) == dict.fromkeys(second, True) | {"b.kept.csv": False}
    assert moments > 8


@pytest.mark.parametrize("seed", range(4))
def test_no_file_of_the_user_s_is_ever_lost(tmp_path, seed):
    """Runs into a used folder, with files written, edited and removed between them (long: `python -m tests.proof.faults`)."""
    reruns(tmp_path, random.Random(seed), 12)


def reruns(folder, chance, times):
    """So many runs of one job; every text that the user ever wrote and did not remove must be there at the end."""
    names = [
        "kit.csv",
        "report.html",
        "solids/a.stl",
        "solids/b.stl",
        "sheets/foam-01.dxf",
        "manifest.json",
        "layout.svg",
    ]
    mine = set()
    for number in range(times):
        for _ in range(chance.randrange(4)):
            path = folder / chance.choice([*names, "notes.txt", "kit.kept.csv", "solids/mine.stl"])
            if path.name == "manifest.json" and path.exists():
                continue
            if path.is_file() and chance.random() < 0.3:
                mine.discard(path.read_bytes())
                path.unlink()
            else:
                path.parent.mkdir(parents=True, exist_ok=True)
                if path.is_file():
                    mine.discard(path.read_bytes())
                text = f"mine {number} {chance.random()}".encode()
                mine.add(text)
                path.write_bytes(text)
        made = {n: f"{chance.randrange(3)}".encode() for n in names if n != "manifest.json" and chance.random() < 0.7}
        write_files(folder, made, part=chance.random() < 0.3)
        there = {path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        assert mine <= there
        assert all((folder / name).read_bytes() == content for name, content in made.items())
        assert not list(folder.rglob(f"{PART}*"))
        assert made.keys() <= {path for path, _ in listed(folder)}


def test_names_that_windows_keeps_get_another():
    for device in ["con", "PRN.stl", "nul.tar.gz", "Com1", "LPT9.dxf", "aux .csv", "com\u00b9"]:
        assert portable(device).partition(".")[0].endswith("_")


def test_other_names_stay():
    for name in ["icon", "console.stl", "com", "com10", "nullen.csv", "corner.stl", "bed-01.3mf"]:
        assert portable(name) == name


def test_ends_signs_and_lengths_that_some_system_refuses():
    for name in ["a. ", "a...", "b<c>:d", "x" * 300, "\u0141" * 200 + ".stl", "...", "a\nb"]:
        safe = portable(name)
        assert len(safe.encode()) <= 110
        assert not set('<>:"|?*\n') & set(safe)
        assert safe == safe.rstrip(". ") != ""
        assert portable(safe) == safe


def test_long_names_that_begin_alike_differ():
    assert len({file_stem("x" * 300), file_stem("x" * 301)}) == 2


def test_a_profile_called_like_a_device(tmp_path):
    profile = tmp_path / "nul.toml"
    profile.write_text('name = "Con"\n[tile]\nsize = [1, 1]\n')
    done = call("solid", profile, "-o", tmp_path / "out")
    assert done.returncode == 0
    assert {"nul_/solids/con_.stl", "nul_/solids/bed-01.3mf"} <= set(listing(tmp_path / "out"))
    with pytest.raises(InputError, match="two of the files are called"):
        distinct_stems([Path("a/nul.toml"), Path("b/NUL_.toml")])
