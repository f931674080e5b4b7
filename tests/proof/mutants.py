"""Mutation score of the core: does a test fail for each small fault? `python -m tests.proof.mutants 700 --seed 1`.

Lines of the core that can carry a fault are drawn at random, each with the same chance, and of each line one of its
faults (`mutating.py`: comparisons, arithmetic, constants, and/or/not, statements removed, returns emptied, arguments
swapped, min/max, any/all, floor/ceil, break/continue). The quick tests that reach it are run until one fails. Faults
that can't change anything anybody could see are in `survivors.txt`, with the reason, and are counted apart.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import math
import os
import random
import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from tests.proof.core import core, group
from tests.proof.mutating import Mutant, mutants
from tests.proof.reach import ROOT, STORE, WORDS, File, Reach, few_examples, key, load, measure, test_files
from tests.proof.trials import Outcome, Planned, afresh, code_of, functions, here, put

_SETTLED = {"PYTHONHASHSEED": "0", "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}
_HEAVY = (
    "numpy", "scipy.ndimage", "scipy.optimize", "scipy.spatial", "shapely", "networkx", "manifold3d", "pydantic",
    "ezdxf", "trimesh", "lxml.etree", "reportlab.pdfgen.canvas", "PIL.Image", "svgelements", "typer", "hypothesis",
)  # fmt: skip
_EXCUSES = Path(__file__).with_name("survivors.txt")
_PER_FILE = 1.0


@dataclass(frozen=True)
class Result:
    """`how`: killed, time, survived, not tried or not reached; `reason` if it is listed as equivalent."""

    name: str
    how: str
    by: str
    reason: str = ""

    @property
    def killed(self) -> bool:
        return self.how in {"killed", "time"}


class Tests:
    """The quick tests, which of them reach a mutant, and which have killed before."""

    def __init__(self, files: dict[str, File], budget: float) -> None:
        self.budget = budget
        self.reach: dict[str, Reach] = {}
        self.importing: set[tuple[str, int]] = set()
        self.by_line: dict[tuple[str, int], set[str]] = {}
        self.kills: Counter[tuple[str, str]] = Counter()
        for file in files.values():
            self.importing |= {(module, line) for module, lines in file.importing.items() for line in lines}
            self.reach |= file.tests
        for test, reach in self.reach.items():
            for module, lines in reach.lines.items():
                for line in lines:
                    self.by_line.setdefault((module, line), set()).add(test)

    def forget(self, gone: set[str]) -> None:
        """Tests that were measured once and are not there any more."""
        for test in gone:
            del self.reach[test]
        self.by_line = {at: tests - gone for at, tests in self.by_line.items()}

    def of(self, mutant: Mutant) -> set[str]:
        if mutant.outer is None:
            used = set().union(*(self.by_line.get(at, set()) for at in used_on(mutant)))
            return used or {test for test, reach in self.reach.items() if reach.lines.get(mutant.module)}
        return set().union(*(self.by_line.get((mutant.module, line), set()) for line in mutant.lines))

    def imported(self, mutant: Mutant) -> bool:
        return mutant.outer is None or any((mutant.module, line) in self.importing for line in mutant.lines)

    def plan(self, mutant: Mutant) -> list[Planned]:
        """Files that have killed faults of this module first, then quick ones; at most `budget` seconds."""
        by_file: dict[str, list[str]] = {}
        for test in sorted(self.of(mutant), key=lambda t: (-self.kills[mutant.module, t], self.reach[t].seconds, t)):
            by_file.setdefault(test.split("::")[0], []).append(test)
        kills = {f: sum(self.kills[mutant.module, t] for t in tests) for f, tests in by_file.items()}
        order = sorted(by_file, key=lambda f: (-kills[f], self._sum(by_file[f]), f))
        first: list[str] = []
        later: list[str] = []
        for file in order:
            spent = 0.0
            for test in by_file[file]:
                spent += self.reach[test].seconds
                (first if spent <= _PER_FILE else later).append(test)
        chosen: list[str] = []
        spent = 0.0
        for test in [*first, *later]:
            spent += self.reach[test].seconds
            if chosen and spent > self.budget:
                break
            chosen.append(test)
        return [
            Planned(test, 5 + 10 * max(self.reach[t].seconds for t in by_file[test.split("::")[0]])) for test in chosen
        ]

    def _sum(self, tests: Iterable[str]) -> float:
        return sum(self.reach[t].seconds for t in tests)


def used_on(mutant: Mutant) -> set[tuple[str, int]]:
    """The lines of the core on which what a statement outside of functions names is used."""
    tree = ast.parse(core()[mutant.module].read_text(encoding="utf-8"))
    names: set[str] = set()
    for node in ast.walk(tree):
        if getattr(node, "lineno", None) != mutant.lines[0]:
            continue
        if isinstance(node, ast.FunctionDef):
            names.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names |= {n.id for target in targets for n in ast.walk(target) if isinstance(n, ast.Name)}
    return set().union(*(_uses().get(name, set()) for name in names))


@cache
def _uses() -> dict[str, set[tuple[str, int]]]:
    """The lines of the core on which each name is read, by itself or of something."""
    found: dict[str, set[tuple[str, int]]] = {}
    for module, path in core().items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
                name = node.id if isinstance(node, ast.Name) else node.attr
                found.setdefault(name, set()).add((module, node.lineno))
    return found


def drawn(found: list[Mutant], many: int, seed: int) -> list[Mutant]:
    """One mutant of each of so many lines."""
    chance = random.Random(seed)
    lines: dict[tuple[str, int], list[Mutant]] = {}
    for mutant in found:
        lines.setdefault((mutant.module, mutant.line), []).append(mutant)
    keys = sorted(lines)
    return [chance.choice(lines[at]) for at in chance.sample(keys, min(many, len(keys)))]


def excuses(path: Path = _EXCUSES) -> list[tuple[re.Pattern[str], str]]:
    """Mutants that can't change anything anybody could see: a line each, `module | function | text | reason`."""
    found = []
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else []:
        if line.strip() and not line.startswith("#"):
            name, _, reason = line.rpartition(" | ")
            found.append((re.compile(re.escape(name.strip()).replace(re.escape("..."), ".*")), reason.strip()))
    return found


def interval(killed: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share, in per cent (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927)."""
    if not of:
        return 0.0, 100.0
    z, share = 1.96, killed / of
    middle = share + z * z / (2 * of)
    half = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return tuple(100 * (middle + sign * half) / (1 + z * z / of) for sign in (-1, 1))  # type: ignore[return-value]


def table(results: list[Result]) -> str:
    """Scores by group, with and without the faults that are listed as equivalent."""
    rows = [
        f"{'group':8} {'faults':>6} {'killed':>6} {'alive':>6} {'no test':>7} {'equal':>6}   score (95 %)          without equal ones"
    ]
    groups = sorted({group(r.name) for r in results})
    for name in [*groups, "all"]:
        some = [r for r in results if name in {"all", group(r.name)}]
        equal = sum(1 for r in some if r.reason and not r.killed)
        killed = sum(r.killed for r in some)
        not_reached = sum(r.how == "not reached" for r in some)
        scores = []
        for of in (len(some), len(some) - equal):
            low, high = interval(killed, of)
            scores.append(f"{100 * killed / max(of, 1):5.1f} % ({low:.1f} to {high:.1f})")
        alive = len(some) - killed
        rows.append(
            f"{name:8} {len(some):6} {killed:6} {alive:6} {not_reached:7} {equal:6}   {scores[0]:21} {scores[1]}"
        )
    return "\n".join(rows)


class _Driver:
    """Tries all that the session's living functions can take."""

    def __init__(self, chosen: list[Mutant], tests: Tests, keep: Callable[[Mutant, Outcome], None]) -> None:
        self.chosen, self.tests, self.keep = chosen, tests, keep
        self.sound = 0

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        self.tests.forget(set(self.tests.reach) - set(items))
        known = functions()
        paths = core()
        for mutant in self.chosen[:6]:
            plan = self.tests.plan(mutant)
            outcome = here(items, plan, lambda: True)
            if outcome.how != "survived":
                raise RuntimeError(f"{outcome.by} fails without any fault")
            self.sound += 1
        for mutant in self.chosen:
            code = code_of(mutant, paths[mutant.module])
            plan = self.tests.plan(mutant)
            if code is None or not plan:
                self.keep(mutant, Outcome("not reached", ""))
                continue
            self.keep(mutant, here(items, plan, lambda code=code: put(code, known)))  # type: ignore[misc]
        return True


def _ready(seconds: float, stale: bool) -> Tests:
    """Measure what is not measured yet."""
    paths = core()

    def wanting(path: Path) -> bool:
        stored = load(path)
        return stored is None or (stored.key != key(path, paths) and not stale)

    measure([path for path in test_files() if wanting(path)], paths)
    return Tests({path.stem: stored for path in test_files() if (stored := load(path))}, seconds)


def _all(only: str) -> list[Mutant]:
    return [m for name, path in core().items() if re.search(only, name) for m in mutants(name, path)]


def run(chosen: list[Mutant], tests: Tests) -> list[Result]:
    """Try them all: what shows while modules are imported first, since the session of the others has imported them."""
    known = excuses()
    results: list[Result] = []
    began = time.monotonic()

    def keep(mutant: Mutant, outcome: Outcome) -> None:
        reason = next((why for pattern, why in known if pattern.fullmatch(mutant.name)), "")
        results.append(Result(mutant.name, outcome.how, outcome.by, reason))
        if outcome.how in {"killed", "time"} and outcome.by in tests.reach:
            tests.kills[mutant.module, outcome.by] += 1
        dead = sum(r.killed for r in results)
        line = (
            f"{len(results)}/{len(chosen)} killed {dead} {time.monotonic() - began:.0f} s: {outcome.how} {mutant.name}"
        )
        print(line, file=sys.stderr, flush=True)

    paths = core()
    later = []
    for mutant in chosen:
        if not tests.of(mutant):
            keep(mutant, Outcome("not reached", ""))
        elif tests.imported(mutant) or code_of(mutant, paths[mutant.module]) is None:
            keep(mutant, afresh(mutant, paths[mutant.module], tests.plan(mutant)))
        else:
            later.append(mutant)
    few_examples()
    driver = _Driver(later, tests, keep)
    if later:
        pytest.main([*WORDS, *map(str, test_files())], plugins=[driver])
    print(f"{driver.sound} runs without a fault passed", file=sys.stderr)
    return results


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.proof.mutants", description="mutation score of the core")
    parser.add_argument("many", type=int, nargs="?", default=700, help="how many faults")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="modules whose name has this (a regular expression)")
    parser.add_argument("--again", action="store_true", help="only those that survived last time")
    parser.add_argument("--seconds", type=float, default=30.0, help="at most so many seconds of tests for a fault")
    parser.add_argument("--stale", action="store_true", help="which test reaches what may be older than the tests")
    words = parser.parse_args()
    if any(os.environ.get(name) != value for name, value in _SETTLED.items()):
        os.chdir(ROOT)
        os.execve(
            sys.executable, [sys.executable, "-m", "tests.proof.mutants", *sys.argv[1:]], {**os.environ, **_SETTLED}
        )
    for name in _HEAVY:
        importlib.import_module(name)
    tests = _ready(words.seconds, words.stale)
    found = _all(words.only)
    last = STORE / "last.json"
    if words.again:
        alive = {r["name"] for r in json.loads(last.read_text()) if not Result(**r).killed}
        chosen = [m for m in found if m.name in alive]
    else:
        chosen = drawn(found, words.many, words.seed)
    results = run(chosen, tests)
    STORE.mkdir(parents=True, exist_ok=True)
    (STORE / ("again.json" if words.again else "last.json")).write_text(
        json.dumps([vars(r) for r in results], indent=0)
    )
    print(f"{len(results)} of {len(found)} faults, one a line; seed {words.seed}")
    print(table(results))
    print("\nalive:")
    for result in sorted(results, key=lambda r: r.name):
        if not result.killed:
            print(f"{result.how}: {result.name}" + (f" | {result.reason}" if result.reason else ""))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
