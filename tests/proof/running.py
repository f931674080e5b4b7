"""One call in a forked child with limits: what it does wrong is found from outside, or by its audit hook."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from tests.proof.cases import Case

SECONDS = 10
# Waiting for the processor is not the tool's: the wall clock is only the last resort.
_WALL_SECONDS = 60
MEMORY = 2 * 1024**3
_LARGEST_OUTPUT = 512 * 1024**2
_UNCAUGHT = 70
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES = {
    "os.mkdir": (0,), "os.rename": (0, 1), "os.remove": (0,), "os.rmdir": (0,), "os.link": (1,),
    "os.symlink": (1,), "os.truncate": (0,), "os.chmod": (0,), "shutil.rmtree": (0,),
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """How a call ended. `faults` is empty if it kept to the contract."""

    code: int
    seconds: float
    peak_mb: float
    stderr: str
    faults: tuple[str, ...]


def warm() -> None:
    """Import what every command needs, once, before anything is forked."""
    import ezdxf
    import manifold3d  # noqa: F401
    import reportlab.pdfgen.canvas  # noqa: F401
    import svgelements  # noqa: F401
    import trimesh  # noqa: F401

    import tilegen.cli
    import tilegen.cli.build
    import tilegen.cli.fit
    import tilegen.cli.inspect
    import tilegen.cli.kit
    import tilegen.cli.tile  # noqa: F401

    ezdxf.new()


def run(case: Case, folder: Path) -> Outcome:
    """Run the case in a new folder, which is removed afterwards."""
    work = folder / "work"
    (work / "home").mkdir(parents=True)
    for name, data in case.files.items():
        (work / name).write_bytes(data)
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        _child(case, work)
    _, status, usage = os.wait4(child, 0)
    seconds = time.monotonic() - began
    told = (work / "home" / "stderr").read_text(errors="replace") if (work / "home" / "stderr").exists() else ""
    code = os.waitstatus_to_exitcode(status)
    faults = [*_ending(code, told), *_changed(case, work), *_astray(folder)]
    shutil.rmtree(folder)
    return Outcome(code, seconds, usage.ru_maxrss / 1024, told, tuple(faults))


def _child(case: Case, work: Path) -> None:
    """Never returns. Files may be made under `work` only; the audit hook tells of all others."""
    code = _UNCAUGHT
    try:
        os.chdir(work)
        os.environ.update(HOME=str(work / "home"), TMPDIR=str(work / "home"))
        os.environ.pop("TILEGEN_TRACE", None)
        for number, name in ((1, "stdout"), (2, "stderr")):
            os.dup2(os.open(work / "home" / name, os.O_WRONLY | os.O_CREAT, 0o600), number)
        _limits()
        sys.addaudithook(_watch(work.resolve(), work.parent / "astray"))
        sys.argv = ["tilegen", *case.words]
        from tilegen.cli import main

        main()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _limits() -> None:
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (used + MEMORY, used + MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 1))
    resource.setrlimit(resource.RLIMIT_FSIZE, (_LARGEST_OUTPUT, _LARGEST_OUTPUT))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.alarm(_WALL_SECONDS)


def _watch(work: Path, note: Path):  # type: ignore[no-untyped-def]
    """An audit hook that appends every path outside `work` that is written, made or removed to `note`."""
    descriptor = os.open(note, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)

    def hook(event: str, words: tuple[object, ...]) -> None:
        if event == "open":
            flags = words[2] if isinstance(words[2], int) else 0
            paths = [words[0]] if flags & _WRITING else []
        elif event in _CHANGES:
            paths = [words[n] for n in _CHANGES[event]]
        else:
            return
        for path in paths:
            if isinstance(path, str | bytes | os.PathLike):
                full = os.path.realpath(os.fsdecode(path))
                if not full.startswith(f"{work}{os.sep}") and full != os.devnull:
                    os.write(descriptor, f"{event} {full}\n".encode(errors="replace"))

    return hook


def _ending(code: int, told: str) -> list[str]:
    faults = []
    if code == -signal.SIGXCPU or code == -signal.SIGALRM or (code == -signal.SIGKILL):
        faults.append(f"hang: more than {SECONDS} s")
    elif code < 0:
        faults.append(f"killed by signal {-code}")
    elif code not in {0, 1, 2}:
        faults.append(f"exit {code}")
    if "Traceback" in told:
        faults.append("traceback: " + told.strip().splitlines()[-1][:200])
    if "tilegen has a bug here" in told:
        faults.append("fault told: " + told.strip().splitlines()[-1][:300])
    if "not enough memory" in told:
        faults.append("memory: more than 2 GB")
    if code == 2 and not told.strip():
        faults.append("exit 2 without a word")
    return faults


def _changed(case: Case, work: Path) -> list[str]:
    """Input files are as they were, beside them lies only what was asked for."""
    faults = [f"input changed: {name}" for name, data in case.files.items() if (work / name).read_bytes() != data]
    known = {*case.files, "home", "out"}
    faults += [f"file outside the folder: {path.name}" for path in work.iterdir() if path.name not in known]
    faults += [
        f"left half-written: {path.name}"
        for path in work.rglob("*")
        if path.is_file() and path.suffix in {".part", ".tmp", ".partial"}
    ]
    return faults


def _astray(folder: Path) -> list[str]:
    note = folder / "astray"
    lines = note.read_text(errors="replace").splitlines() if note.exists() else []
    others = [path.name for path in folder.iterdir() if path.name not in {"work", "astray"}]
    return [f"file outside the folder: {line}" for line in [*sorted(set(lines))[:3], *others]]
