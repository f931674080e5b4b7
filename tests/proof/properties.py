"""Properties over random files: `python -m tests.proof.properties 10000 --seed 1`.

So many random grids, profiles, outlines, plans, sheets and prints go through the commands; every written file is read
again by other programs and compared with what was meant (`tests/properties.py`). `kit` and `chain` are whole dungeons
that mix what users mix, drawn from a number each (`tests/dungeons.py`); `--jobs` tries several of these at once.
Prints how many of each were tried, what was refused and why, what failed. What fails is made smaller and kept in
tests/corpus/properties/, where the tests run it.
"""

from __future__ import annotations

import argparse
import os
import re
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field

from hypothesis import HealthCheck, Phase, Verbosity, given, settings
from hypothesis import seed as seeded

from tests import dungeons, strategies
from tests.dungeons import ALL
from tests.examples import Example, kept
from tests.making import Refused, seldom_collecting

# Of ten thousand examples: dear and cheap ones.
SHARES = {
    "grid": 0.11,
    "profile": 0.26,
    "outline": 0.2,
    "stone": 0.03,
    "plan": 0.15,
    "sheet": 0.1,
    "print": 0.06,
    "kit": 0.06,
    "chain": 0.03,
}
NUMBERED = ("kit", "chain")
_CHUNK = 250
_SECONDS = 60
# A chain runs six commands.
_SECONDS_NUMBERED = 240
_MOST_SMALLER = 80


class Hang(Exception):  # noqa: N818 - a fault of what is tried, not of this program
    """An example took too long."""


@dataclass
class Figures:
    """Of one property."""

    held: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)
    seconds: float = 0.0

    @property
    def tried(self) -> int:
        return self.held + self.refused.total() + self.failed.total()


@dataclass
class Trial:
    """Runs examples of one property; a failure whose like is known already is counted and passes."""

    name: str
    figures: Figures
    known: set[str] = field(default_factory=set)
    failing: tuple[Example, str, str] | None = None

    def __call__(self, example: Example) -> None:
        counted = self.failing is None
        try:
            with at_most(_SECONDS):
                ALL[self.name](example)
            self.figures.held += counted
        except Refused as why:
            if counted:
                self.figures.refused[reason(str(why))] += 1
        except Exception as fault:
            like = signature(fault)
            if counted:
                self.figures.failed[like] += 1
            if like in self.known:
                return
            # While one failure is shrunk, others on the way are no news.
            if self.failing is None or self.failing[1] == like:
                self.failing = (example, like, str(fault)[:300])
                raise


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Raises Hang where something takes more processor time, or ten times as long; other work on the machine is no hang."""
    ticks, begun = 0, sum(os.times()[:4])

    def tick(*_: object) -> None:
        nonlocal ticks
        ticks += 1
        if ticks >= 10 * seconds or sum(os.times()[:4]) - begun >= seconds:
            raise Hang(f"more than {seconds} s")

    before = signal.signal(signal.SIGALRM, tick)
    signal.setitimer(signal.ITIMER_REAL, 1, 1)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def reason(message: str) -> str:
    """What a refusal says is wrong, without file, place, numbers and cure, to count the same ones once."""
    found = re.sub(r"^tilegen: (?:\S+\.\w+[^:]*: )?|[.?;] (?=[A-Z]|expected).*", "", message)
    return re.sub(r"\([^)]*\)|\"[^\"]*\"|[-+]?\d[\d.e+-]*|\b(?:[A-Z]-[A-Z0-9]{4})\b", "#", found)[:70]


def signature(fault: Exception) -> str:
    """A fault by its kind and the check it failed in."""
    frames = traceback.extract_tb(fault.__traceback__)
    own = [frame for frame in frames if "tests" in frame.filename or "tilegen" in frame.filename]
    words = re.sub(r"[-+]?\d[\d.e+-]*", "#", str(fault).splitlines()[0] if str(fault) else "")[:40]
    return f"{type(fault).__name__} in {own[-1].name if own else '?'}: {words}"


def explore(trial: Trial, examples: int, seed: int) -> None:
    """One chunk; the first new failure is shrunk and kept."""
    trial.failing = None
    usual = settings(
        max_examples=examples, deadline=None, database=None, verbosity=Verbosity.quiet, report_multiple_bugs=False,
        phases=[Phase.generate, Phase.shrink], suppress_health_check=list(HealthCheck), print_blob=False,
    )  # fmt: skip
    strategy = getattr(strategies, f"{trial.name}_examples")()

    def one(example: Example) -> None:
        trial(example)

    run: Callable[[], None] = seeded(seed)(usual(given(strategy)(one)))
    try:
        run()
    except Exception:
        if trial.failing is None:
            raise
    if trial.failing is not None:
        example, like, why = trial.failing
        trial.known.add(like)
        path = example.keep(f"{trial.name}-{seed}", f"{like}: {why}")
        print(f"FAILED {trial.name}: {why}\n  kept as {path.name}", flush=True)


def outcome(example: Example) -> tuple[str, str]:
    """How an example ends: ("held", ""), ("refused", the message) or (what its failure is like, the fault)."""
    try:
        with at_most(_SECONDS_NUMBERED):
            ALL[example.property](example)
    except Refused as why:
        return "refused", str(why)
    except Exception as fault:
        return signature(fault), str(fault)[:300]
    return "held", ""


def _numbered(task: tuple[str, int]) -> tuple[str, str]:
    return outcome(dungeons.example(task[1], whole=task[0] == "chain"))


def try_numbers(name: str, own: Figures, goal: int, seed: int, jobs: int) -> None:
    """Dungeons by number; the first failure of each kind is made smaller and kept."""
    first = seed * 1_000_000
    known: set[str] = set()
    with ProcessPoolExecutor(jobs) as pool:
        tasks = [(name, first + k) for k in range(goal)]
        for (_, number), (like, why) in zip(tasks, pool.map(_numbered, tasks), strict=True):
            if like == "held":
                own.held += 1
            elif like == "refused":
                own.refused[reason(why)] += 1
            else:
                own.failed[like] += 1
                if like not in known:
                    known.add(like)
                    small = made_smaller(dungeons.example(number, whole=name == "chain"), like)
                    path = small.keep(f"{name}-{number}", f"{like}: {why}")
                    print(f"FAILED {name} {number}: {like}: {why}\n  kept as {path.name}", flush=True)
            if own.tried % 100 == 0:
                print(
                    f"{name}: {own.tried} tried, {own.refused.total()} refused, {own.failed.total()} failed", flush=True
                )


def made_smaller(example: Example, like: str) -> Example:
    """A smaller example that fails alike: one table, room or stock less at a time, while it does."""
    tries = 0
    while tries < _MOST_SMALLER:
        for other in dungeons.smaller(example):
            tries += 1
            if tries > _MOST_SMALLER or outcome(other)[0] == like:
                break
        else:
            break
        if tries > _MOST_SMALLER:
            break
        example = other
    return example


def report(all_figures: dict[str, Figures]) -> None:
    """The figures."""
    print(f"\n{'property':9} {'tried':>6} {'held':>6} {'refused':>8} {'failed':>7} {'seconds':>8}")
    for name, own in all_figures.items():
        print(f"{name:9} {own.tried:6} {own.held:6} {own.refused.total():8} {own.failed.total():7} {own.seconds:8.0f}")
    whole = list(all_figures.values())
    sums = (sum(f.tried for f in whole), sum(f.held for f in whole), sum(f.refused.total() for f in whole))
    failed = sum(f.failed.total() for f in whole)
    print(f"{'all':9} {sums[0]:6} {sums[1]:6} {sums[2]:8} {failed:7} {sum(f.seconds for f in whole):8.0f}")
    for title, counters in (("refused", [f.refused for f in whole]), ("failed", [f.failed for f in whole])):
        found = sum(counters, Counter[str]())
        print(f"\n{title}: {found.total()} of {len(found)} kinds")
        for why, times in found.most_common(40):
            print(f"  {times:5}  {why}")


def main() -> None:
    """Try so many examples, or the kept ones again; exit 1 if anything failed."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("examples", type=int, nargs="?", default=1000)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--only", choices=list(SHARES), help="one property")
    words.add_argument("--style", choices=strategies.STYLES, help="of carved tiles, one style")
    words.add_argument("--jobs", type=int, default=1, help="processes for dungeons")
    words.add_argument("--kept", action="store_true", help="run the kept examples instead")
    asked = words.parse_args()
    seldom_collecting()
    if asked.kept:
        sys.exit(again())
    if asked.style:
        strategies.STYLES[:] = [asked.style]
    names = [asked.only] if asked.only else list(SHARES)
    all_figures = {name: Figures() for name in names}
    for name, own in all_figures.items():
        goal = max(1, round(asked.examples * (1.0 if asked.only else SHARES[name])))
        trial, chunk, began = Trial(name, own), 0, time.monotonic()
        if name in NUMBERED:
            try_numbers(name, own, goal, asked.seed, asked.jobs)
        while own.tried < goal:
            # A new start now and then: examples near each other are left behind.
            explore(trial, min(_CHUNK, goal - own.tried), asked.seed * 1000 + chunk)
            chunk += 1
        own.seconds = time.monotonic() - began
        print(f"{name}: {own.tried} tried, {own.held} held, {own.failed.total()} failed", flush=True)
    report(all_figures)
    sys.exit(1 if any(f.failed for f in all_figures.values()) else 0)


def again() -> int:
    """Run every kept example; prints what fails."""
    failed = 0
    examples = kept()
    for name, example in examples.items():
        try:
            ALL[example.property](example)
        except Refused as why:
            print(f"{name}: refused: {why}")
        except Exception as fault:
            failed += 1
            print(f"FAILED {name}: {signature(fault)}: {fault}")
    print(f"{len(examples)} kept examples, {failed} fail")
    return 1 if failed else 0


if __name__ == "__main__":
    main()
