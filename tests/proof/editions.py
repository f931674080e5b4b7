"""Two editions of one plan, built in processes of their own, and what must hold of a folder after any run into it."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from tests.proof.seeds import ROOT, SMALL_PLAN

Tree = dict[str, str]
Edition = tuple[str, ...]
_RUN = (sys.executable, "-c", "from tilegen.cli import main; main()")


def tree(folder: Path) -> Tree:
    """Path -> digest of every file under a folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def build(edition: Edition, out: Path, *words: str, env: dict[str, str] | None = None, before: Callable[[], None] | None = None) -> subprocess.CompletedProcess[str]:  # fmt: skip
    """The build in a process of its own."""
    return subprocess.run(
        [*_RUN, "build", *edition, "-o", str(out), "--quiet", *words],
        env={**os.environ, "PYTHONPATH": str(ROOT), **(env or {})},
        capture_output=True, text=True, check=False, preexec_fn=before,
    )  # fmt: skip


def forked(edition: Edition, out: Path, env: dict[str, str] | None = None) -> int:
    """The build in a forked child (nothing is imported anew); its process id."""
    child = os.fork()
    if child:
        return child
    os.environ.update(env or {})
    code = 3
    try:
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        sys.argv = ["tilegen", "build", *edition, "-o", str(out), "--quiet"]
        from tilegen.cli import main

        main()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    finally:
        os._exit(code)


class Proof:
    """Two editions of one plan: the earlier run is of the first, the run that fails of the second."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        plan = folder / "rooms.toml"
        plan.write_bytes(SMALL_PLAN)
        self.editions: tuple[Edition, Edition] = (
            (str(plan), "--connectors", "pegs"),
            (str(plan), "--pitch", "1.3 in"),
        )
        self.whole: list[Tree] = []
        for n, edition in enumerate(self.editions):
            done = build(edition, folder / f"whole-{n}")
            if done.returncode:
                raise SystemExit(f"the plan itself does not build: {done.stderr}")
            self.whole.append(tree(folder / f"whole-{n}"))
        self.failures: list[str] = []

    def earlier(self, out: Path) -> None:
        """Put what the first edition makes into a folder, beside a file of the user's own."""
        shutil.rmtree(out, ignore_errors=True)
        shutil.copytree(self.folder / "whole-0", out, dirs_exist_ok=True)
        (out / "rooms" / "mine.txt").write_text("mine\n")

    def check(self, what: str, out: Path, *, exact: int | None = None, parts: bool = False) -> None:
        """Every file is a whole one of either edition, none of the first is lost; or exactly one edition's."""
        found = tree(out)
        if found.pop("rooms/mine.txt", None) is None:
            self.fail(what, "the user's own file is gone")
        if exact is not None:
            for name in sorted(found.keys() ^ self.whole[exact].keys()):
                self.fail(what, f"{'left over' if name in found else 'missing'}: {name}")
        found_manifest = found.get("rooms/manifest.json")
        if exact is None and found_manifest not in {edition["rooms/manifest.json"] for edition in self.whole}:
            found.pop("rooms/manifest.json")
        for name in self.unowned(out) - {"rooms/mine.txt"}:
            if ".part-" not in name:
                self.fail(what, f"in no manifest: {name}")
        for name, digest in found.items():
            if Path(name).name.startswith(".part-"):
                if not parts:
                    self.fail(what, f"left over: {name}")
                continue
            editions = self.whole if exact is None else [self.whole[exact]]
            if digest not in {edition.get(name) for edition in editions}:
                self.fail(what, f"not whole: {name}")
        done = found.items() >= self.whole[1].items()
        for name in self.whole[0].keys() - found.keys():
            if exact is None and not (done or found_manifest != self.whole[0]["rooms/manifest.json"]):
                self.fail(what, f"lost: {name}")

    def unowned(self, out: Path) -> set[str]:
        """Files that the manifest does not list as they are."""
        manifest = out / "rooms" / "manifest.json"
        entries = json.loads(manifest.read_text())["files"] if manifest.is_file() else []
        listed = {(f"rooms/{entry['path']}", entry["sha256"]) for entry in entries}
        return {name for name, digest in tree(out).items() if (name, digest) not in listed} - {"rooms/manifest.json"}

    def fail(self, what: str, why: str) -> None:
        self.failures.append(f"{what}: {why}")
        print(f"FAILED {what}: {why}", flush=True)

    def expect(self, what: str, ok: bool, why: str) -> None:
        if not ok:
            self.fail(what, why)
