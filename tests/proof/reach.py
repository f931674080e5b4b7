"""Which tests reach which lines of the core: measured once, by coverage, in a process of its own."""

from __future__ import annotations

import functools
import gc
import hashlib
import json
import os
import signal
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

import pytest

from tests.proof.seeds import ROOT

if TYPE_CHECKING:
    import coverage

STORE = ROOT / "out" / "mutants"
SLOW = 5.0
# Of no use here: pages in a browser, worker processes, whole documents, the house's own rules.
LEFT_OUT = (
    "test_desk_page",
    "test_cli",
    "test_batch",
    "test_outside",
    "test_cluster",
    "test_corpus",
    "test_docs",
    "test_docs_commands",
    "test_docs_site",
    "test_house",
)
_LIMIT = 12.0
WORDS = ("-o", "addopts=", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--capture=sys", "--no-header", "--tb=no")


@dataclass
class Reach:
    """Of one test: seconds of processor time, and lines by module. Only tests that passed, quick and in this process."""

    seconds: float
    lines: dict[str, list[int]]


@dataclass
class File:
    """One test file: its hash and the core's when measured, its tests, lines reached while it is imported."""

    key: str
    tests: dict[str, Reach] = field(default_factory=dict)
    importing: dict[str, list[int]] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)


class TooSlow(BaseException):
    """A test took longer than anybody would wait for, a mutant at a time."""


def test_files() -> list[Path]:
    return [p for p in sorted((ROOT / "tests").rglob("test_*.py")) if p.stem not in LEFT_OUT]


def key(path: Path, core: dict[str, Path]) -> str:
    digest = hashlib.sha256(path.read_bytes())
    for name in sorted(core):
        digest.update(core[name].read_bytes())
    return digest.hexdigest()


def few_examples() -> None:
    """Hypothesis: the same few examples every time, nothing stored, and no smaller example looked for."""
    from hypothesis import HealthCheck, Phase, settings

    settings.register_profile(
        "few",
        derandomize=True,
        max_examples=15,
        database=None,
        deadline=None,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    settings.load_profile("few")


def living() -> list[Any]:
    """All objects that there are, those too that are left out when garbage is looked for."""
    gc.unfreeze()
    return gc.get_objects()


def caches() -> list[Any]:
    """All caches of the tool: what one test has cached must not hide what another reaches."""
    found = [thing for thing in living() if isinstance(thing, functools._lru_cache_wrapper)]
    return [thing for thing in found if str(thing.__module__).startswith("tilegen")]


def load(path: Path) -> File | None:
    """What is stored of a test file, if anything."""
    stored = STORE / "reach" / f"{path.stem}.json"
    if not stored.exists():
        return None
    data = json.loads(stored.read_text())
    return File(data["key"], {k: Reach(**v) for k, v in data["tests"].items()}, data["importing"], data["left_out"])


def measure(paths: Iterable[Path], core: dict[str, Path]) -> None:
    """Run each test file in a forked child, as many at once as there are cores, and store what its tests reach."""
    waiting = list(paths)
    children: dict[int, Path] = {}
    while waiting or children:
        while waiting and len(children) < (os.cpu_count() or 1):
            path = waiting.pop(0)
            print(f"measuring {path.name}", file=sys.stderr, flush=True)
            children[_start(path, core)] = path
        child, status = os.wait()
        path = children.pop(child)
        if os.waitstatus_to_exitcode(status):
            print(f"{path.name}: not measured", file=sys.stderr)


def _start(path: Path, core: dict[str, Path]) -> int:
    child = os.fork()
    if child == 0:
        code = 1
        try:
            _measure(path, core)
            code = 0
        finally:
            os._exit(code)
    return child


def _measure(path: Path, core: dict[str, Path]) -> None:
    import coverage

    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    cover = coverage.Coverage(data_file=None, include=[str(p) for p in core.values()], config_file=False)
    file = File(key(path, core))
    watch = _Watch(cover, file)
    cover.start()
    cover.switch_context("importing")
    few_examples()
    pytest.main([*WORDS, str(path)], plugins=[watch])
    cover.stop()
    _sort(cover.get_data(), watch, file, {str(p): name for name, p in core.items()})
    folder = STORE / "reach"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{path.stem}.json").write_text(json.dumps(asdict(file)))


def _sort(data: coverage.CoverageData, watch: _Watch, file: File, names: dict[str, str]) -> None:
    by_context: dict[str, dict[str, set[int]]] = {}
    for path in data.measured_files():
        for line, contexts in data.contexts_by_lineno(path).items():
            for context in contexts:
                by_context.setdefault(context, {}).setdefault(names[path], set()).add(line)
    file.importing = {name: sorted(lines) for name, lines in by_context.get("importing", {}).items()}
    for test, reach in file.tests.items():
        lines: dict[str, set[int]] = {}
        for context in (test, *watch.shared[test]):
            for name, some in by_context.get(context, {}).items():
                lines.setdefault(name, set()).update(some)
        reach.lines = {name: sorted(some) for name, some in lines.items()}


class _Watch:
    """A pytest plugin: one context for each test and for each fixture that several tests share."""

    def __init__(self, cover: coverage.Coverage, file: File) -> None:
        self.cover, self.file = cover, file
        self.shared: dict[str, list[str]] = {}
        self.caches: list[Any] = []
        self.process, self.now = False, "between"
        sys.addaudithook(self._audit)

    def _audit(self, event: str, words: tuple[Any, ...]) -> None:
        if event == "subprocess.Popen":
            self.process = self.process or any(
                "python" in str(w) or "tilegen" in str(w) for w in (words[0], *words[1][:1])
            )

    def pytest_collection_finish(self) -> None:
        self.caches = caches()

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Iterator[None]:
        shared = fixturedef.scope != "function"
        if shared:
            self.cover.switch_context(f"fixture {fixturedef.argname}")
        try:
            return (yield)
        finally:
            if shared:
                self.cover.switch_context(self.now)

    def pytest_runtest_protocol(self, item: pytest.Item, nextitem: pytest.Item | None) -> bool:
        from _pytest.runner import runtestprotocol

        self.now, self.process = item.nodeid, False
        names = item.fixturenames if isinstance(item, pytest.Function) else []
        self.shared[item.nodeid] = [f"fixture {name}" for name in names]
        for cache in self.caches:
            cache.cache_clear()
        began = time.process_time()
        signal.signal(signal.SIGPROF, too_slow)
        signal.setitimer(signal.ITIMER_PROF, _LIMIT)
        self.cover.switch_context(item.nodeid)
        reports = runtestprotocol(item, nextitem=nextitem, log=False)
        self.cover.switch_context("between")
        signal.setitimer(signal.ITIMER_PROF, 0)
        seconds = time.process_time() - began
        if any(report.failed for report in reports):
            self.file.left_out[item.nodeid] = "slow" if seconds > SLOW else "failed"
        elif any(report.skipped for report in reports):
            self.file.left_out[item.nodeid] = "skipped"
        elif self.process:
            self.file.left_out[item.nodeid] = "starts a process"
        elif seconds > SLOW:
            self.file.left_out[item.nodeid] = "slow"
        else:
            self.file.tests[item.nodeid] = Reach(seconds, {})
        return True


def too_slow(_number: int, frame: FrameType | None) -> None:
    """End a test, but not while coverage holds its lock: it would wait for itself from then on."""
    while frame is not None:
        if f"{os.sep}coverage{os.sep}" in frame.f_code.co_filename:
            signal.setitimer(signal.ITIMER_PROF, 0.01)
            return
        frame = frame.f_back
    raise TooSlow
