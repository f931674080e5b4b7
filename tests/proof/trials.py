"""One mutant against the tests that reach it, in a forked child.

Where a fault lies inside a function that nothing calls while modules are imported, its code is put into the living
function objects, however many modules have imported its name: the tests are collected once, for all. Otherwise the
child imports the tool and the tests afresh, the mutated module through a finder of its own.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import importlib.util
import os
import resource
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import pytest

from tests.proof.mutating import Mutant
from tests.proof.reach import WORDS, caches, few_examples, living

_MEMORY = 4 * 1024**3
_KILLED, _SURVIVED, _NOT_PUT = 1, 0, 3
Key = tuple[str, str, int]


@dataclass(frozen=True)
class Planned:
    """A test to run, and the seconds after which it counts as failed."""

    test: str
    limit: float


@dataclass(frozen=True)
class Outcome:
    """`how` is 'killed', 'time' (killed by its limit), 'survived' or 'not tried'; `by` is the test that failed."""

    how: str
    by: str


def functions() -> dict[Key, list[FunctionType]]:
    """All functions that are there now, by file, qualified name and first line."""
    found: dict[Key, list[FunctionType]] = {}
    for thing in living():
        if isinstance(thing, FunctionType):
            code = thing.__code__
            found.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(thing)
    return found


def code_of(mutant: Mutant, path: Path) -> CodeType | None:
    """The compiled outermost function; None if there is none, or it can't be told from another."""
    if mutant.outer is None:
        return None
    waiting, found = [compile(mutant.source, str(path), "exec")], []
    while waiting:
        code = waiting.pop()
        if (code.co_qualname, code.co_firstlineno) == mutant.outer:
            found.append(code)
        waiting += [c for c in code.co_consts if isinstance(c, CodeType)]
    return found[0] if len(found) == 1 else None


def put(code: CodeType, known: dict[Key, list[FunctionType]]) -> bool:
    """Whether the code is now in the living functions."""
    there = known.get((code.co_filename, code.co_qualname, code.co_firstlineno), [])
    if not there or any(f.__code__.co_freevars != code.co_freevars for f in there):
        return False
    for function in there:
        function.__code__ = code
    return True


def here(items: dict[str, pytest.Item], plan: list[Planned], change: Callable[[], bool]) -> Outcome:
    """Run the planned tests of this session in a child in which `change` was called."""

    def work(told: int) -> int:
        if not change():
            return _NOT_PUT
        for cache in caches():
            cache.cache_clear()
        return _run([(items[p.test], p.limit) for p in plan], told)

    return _fork(work)


def afresh(mutant: Mutant, path: Path, plan: list[Planned]) -> Outcome:
    """Run them in a child that imports everything anew."""

    def work(told: int) -> int:
        code = compile(mutant.source, str(path), "exec")
        sys.meta_path.insert(0, _Finder(mutant.module, path, code))
        few_examples()
        session = _Session(plan, told)
        # Importing takes its time too.
        signal.setitimer(signal.ITIMER_PROF, 120)
        pytest.main([*WORDS, *sorted({p.test.split("::")[0] for p in plan})], plugins=[session])
        return session.code

    return _fork(work)


def _fork(work: Callable[[int], int]) -> Outcome:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        code = _KILLED
        try:
            os.close(reading)
            nothing = os.open(os.devnull, os.O_RDWR)
            for number in range(3):
                os.dup2(nothing, number)
            resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            for number in (signal.SIGPROF, signal.SIGALRM):
                signal.signal(number, signal.SIG_DFL)
            code = work(writing)
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read().decode().split("\n")
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    last = next((line for line in reversed(told) if line), "importing")
    if code in {-signal.SIGPROF, -signal.SIGALRM}:
        return Outcome("time", last)
    # A fault that could not be put in counts as one that no test has found.
    untold = {_SURVIVED: Outcome("survived", ""), _NOT_PUT: Outcome("not tried", "")}
    return untold.get(code, Outcome("killed", last))


def _run(items: list[tuple[pytest.Item, float]], told: int) -> int:
    """Until one fails. A test over its limit ends the process, wherever it is."""
    from _pytest.runner import runtestprotocol

    for at, (item, limit) in enumerate(items):
        os.write(told, f"{item.nodeid}\n".encode())
        signal.setitimer(signal.ITIMER_PROF, limit)
        signal.setitimer(signal.ITIMER_REAL, 20 * limit)
        following = items[at + 1][0] if at + 1 < len(items) else None
        if any(report.failed for report in runtestprotocol(item, nextitem=following, log=False)):
            return _KILLED
    signal.setitimer(signal.ITIMER_PROF, 0)
    signal.setitimer(signal.ITIMER_REAL, 0)
    return _SURVIVED


class _Session:
    """A pytest plugin that runs the planned tests only, in their order."""

    def __init__(self, plan: list[Planned], told: int) -> None:
        self.plan, self.told, self.code = plan, told, _KILLED

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        if session.testsfailed or any(p.test not in items for p in self.plan):
            return True
        self.code = _run([(items[p.test], p.limit) for p in self.plan], self.told)
        return True


class _Finder(importlib.abc.MetaPathFinder):
    """Finds one module, with the code given."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(
        self, fullname: str, path: object = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        del path, target
        if fullname != self.name:
            return None
        loader = _Loader(fullname, str(self.path))
        loader.code = self.code
        return importlib.util.spec_from_file_location(fullname, self.path, loader=loader)


class _Loader(importlib.machinery.SourceFileLoader):
    code: CodeType

    def get_code(self, fullname: str) -> CodeType:
        del fullname
        return self.code
