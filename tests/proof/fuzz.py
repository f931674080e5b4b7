"""Spoilt files through the command line: `python -m tests.proof.fuzz 10000 --seed 1`.

Every call is a forked process with limits (10 s of processor time, 2 GB, a folder of its own). Whatever breaks the
contract (an exit code other than 0, 1 or 2, a traceback, a fault of the tool itself, a hang, memory, a file outside the
folder, a changed input) is counted and becomes a case in tests/corpus/.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.proof.cases import CORPUS, Case, corpus
from tests.proof.mutations import spoil
from tests.proof.running import Outcome, run, warm
from tests.proof.seeds import BESIDE, CALLS, seeds

_LONGEST_KEPT = 200_000
_STOCK: dict[str, list[bytes]] = {}


def case_of(seed: int, number: int, kinds: tuple[str, ...]) -> Case:
    """The case of a number; the same for the same seed, version and stock of files."""
    chance = random.Random(f"{seed}-{number}")
    kind = kinds[number % len(kinds)]
    name, calls = CALLS[kind]
    data, how = spoil(name.rsplit(".", 1)[1], chance.choice(_STOCK[kind]), chance)
    words = calls[0] if chance.random() < 0.5 else chance.choice(calls)
    label = f"fuzz-{kind.replace(' ', '-')}-{seed}-{number}"
    return Case(label, f"{kind}: {how}", words, {name: data, **BESIDE.get(kind, {})})


@dataclass(frozen=True)
class Job:
    """A case by its number, made where it is run."""

    seed: int
    number: int
    kinds: tuple[str, ...]
    scratch: str


def work(job: Job) -> tuple[int, str, Outcome]:
    """Make the case and run it."""
    case = case_of(job.seed, job.number, job.kinds)
    return job.number, case.why, run(case, Path(job.scratch) / str(job.number))


def outcomes(jobs: list[Job], workers: int) -> Iterator[tuple[int, str, Outcome]]:
    """Run all jobs in forked workers."""
    with ProcessPoolExecutor(workers, initializer=os.nice, initargs=(10,)) as pool:
        yield from pool.map(work, jobs, chunksize=4)


def signature(fault: str) -> str:
    """A fault without its numbers and names, to count the same ones once."""
    return re.sub(r"'[^']*'|\"[^\"]*\"|[-+\d.e]*\d|/\S+", "*", fault)[:90]


def main() -> None:
    """Fuzz, or run the corpus again (`--corpus`); exit 1 if anything broke."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("cases", type=int, nargs="?", default=1000)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--first", type=int, default=0, help="number of the first case")
    words.add_argument("--kinds", default=",".join(CALLS), help="comma-separated")
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--minutes", type=float, default=60.0, help="stop after so long")
    words.add_argument("--corpus", action="store_true", help="run the kept cases instead")
    asked = words.parse_args()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    warm()
    sys.exit(run_corpus() if asked.corpus else fuzz(asked))


def fuzz(asked: argparse.Namespace) -> int:
    """Run the asked cases, keep what fails, print the figures."""
    _STOCK.update(seeds())
    kinds = tuple(asked.kinds.split(","))
    codes: Counter[tuple[str, int]] = Counter()
    faults: Counter[str] = Counter()
    slowest, largest, ends = (0.0, ""), (0.0, ""), time.monotonic() + asked.minutes * 60
    with tempfile.TemporaryDirectory(prefix="proof-") as scratch:
        step = 200
        for first in range(asked.first, asked.first + asked.cases, step):
            jobs = [Job(asked.seed, n, kinds, scratch)
                    for n in range(first, min(first + step, asked.first + asked.cases))]  # fmt: skip
            for number, why, outcome in outcomes(jobs, asked.workers):
                codes[why.split(":")[0], outcome.code] += 1
                slowest = max(slowest, (outcome.seconds, f"{number} {why}"))
                largest = max(largest, (outcome.peak_mb, f"{number} {why}"))
                for fault in outcome.faults:
                    faults[signature(fault)] += 1
                    print(f"{number} {why}: {fault}", flush=True)
                    if faults[signature(fault)] <= 2:
                        keep(case_of(asked.seed, number, kinds))
            if time.monotonic() > ends:
                break
    report(codes, faults, slowest, largest)
    return 1 if faults else 0


def keep(case: Case) -> None:
    """Into the corpus, unless it is too large for a repository."""
    text = case.to_text()
    if len(text) <= _LONGEST_KEPT:
        case.keep()
    else:
        print(f"{case.name}: {len(text)} bytes, not kept; the seed and the number make it again")


def report(
    codes: Counter[tuple[str, int]], faults: Counter[str], slowest: tuple[float, str], largest: tuple[float, str]
) -> None:
    """The figures."""
    print(f"\n{'files of kind':14} {'cases':>6} {'exit 0':>7} {'exit 1':>7} {'exit 2':>7} {'other':>6}")
    for kind in (*sorted({kind for kind, _ in codes}), "all"):
        own = Counter({code: sum(n for (k, c), n in codes.items() if c == code and kind in {k, "all"})
                       for code in {c for _, c in codes}})  # fmt: skip
        usual = [own[code] for code in (0, 1, 2)]
        print(f"{kind:14} {own.total():6} {usual[0]:7} {usual[1]:7} {usual[2]:7} {own.total() - sum(usual):6}")
    print(f"slowest {slowest[0]:.1f} s (wall): {slowest[1]}; largest {largest[0]:.0f} MB: {largest[1]}")
    print(f"faults: {faults.total()} in all, {len(faults)} kinds")
    for fault, times in faults.most_common():
        print(f"  {times:5}  {fault}")


def run_corpus() -> int:
    """Run every kept case; prints what fails."""
    cases = corpus()
    failed = 0
    with tempfile.TemporaryDirectory(prefix="proof-") as scratch:
        for case in cases:
            outcome = run(case, Path(scratch) / case.name)
            failed += bool(outcome.faults)
            for fault in outcome.faults:
                print(f"{case.name} ({case.why}): {fault}")
    print(f"{len(cases)} cases in {CORPUS.name}, {failed} fail")
    return 1 if failed or not cases else 0


if __name__ == "__main__":
    main()
