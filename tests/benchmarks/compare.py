"""Two commits side by side: `python -m tests.benchmarks.compare BASE [HEAD] [--rounds 5]`; without HEAD the last commit.

Each commit gets a git worktree in a temporary folder; `suite.py` as it is here runs on both in turn, in
processes of their own, in the order base head, head base, ... with the packages of this environment. What counts is
the ratio head/base within a round: its median, and its least and most.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.benchmarks.suite import SET

ROOT = Path(__file__).resolve().parents[2]
SUITE = Path(__file__).with_name("suite.py")
Times = dict[str, float]


def git(*words: object) -> str:
    done = subprocess.run(["git", "-C", str(ROOT), *map(str, words)], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"git {words[0]}: {done.stderr.strip()}")
    return done.stdout.strip()


@contextmanager
def worktree(commit: str, folder: Path) -> Iterator[Path]:
    """The commit's files, gone afterwards."""
    git("worktree", "add", "--detach", "--quiet", folder, commit)
    try:
        yield folder
    finally:
        git("worktree", "remove", "--force", folder)


def measured(tree: Path, names: list[str]) -> Times:
    """Seconds by name; the suite of today on the files of that commit."""
    done = subprocess.run(
        [sys.executable, "-P", str(SUITE), str(tree), *names], capture_output=True, text=True, check=False, cwd=tree
    )
    if done.returncode:
        raise SystemExit(f"{tree.name}: {done.stderr.strip()[-600:]}")
    if done.stderr:
        print(f"{tree.name}: {done.stderr.strip()[-300:]}", file=sys.stderr)
    return json.loads(done.stdout)


def in_turn(base: Path, head: Path, names: list[str], rounds: int) -> list[tuple[Times, Times]]:
    """(base, head) of each round; which of them goes first changes from round to round."""
    found = []
    for number in range(rounds):
        if number % 2:
            second = measured(head, names)
            found.append((measured(base, names), second))
        else:
            found.append((measured(base, names), measured(head, names)))
        print(f"round {number + 1} of {rounds}", file=sys.stderr, flush=True)
    return found


def rows(pairs: list[tuple[Times, Times]], names: list[str]) -> list[str]:
    """A line for each benchmark that both commits have."""
    lines = [f"{'':10} {'base ms':>9} {'head ms':>9} {'head/base':>10}  least to most"]
    for name in names:
        both = [(base[name], head[name]) for base, head in pairs if name in base and name in head]
        if not both:
            lines.append(f"{name:10} not in both")
            continue
        ratios = sorted(head / base for base, head in both)
        least = [1e3 * min(side) for side in zip(*both, strict=True)]
        told = "" if ratios[0] <= 1 <= ratios[-1] else "  slower" if ratios[0] > 1 else "  quicker"
        lines.append(
            f"{name:10} {least[0]:9.2f} {least[1]:9.2f} {statistics.median(ratios):10.2f}  "
            f"{ratios[0]:.2f} to {ratios[-1]:.2f}{told}"
        )
    return lines


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("base")
    words.add_argument("head", nargs="?", default="HEAD")
    words.add_argument("--rounds", type=int, default=5)
    words.add_argument("--only", action="append", choices=list(SET), help="one benchmark; may be given more than once")
    asked = words.parse_args()
    names = asked.only or list(SET)
    commits = [git("rev-parse", "--verify", "--short", f"{name}^{{commit}}") for name in (asked.base, asked.head)]
    with tempfile.TemporaryDirectory() as folder:
        trees = Path(folder) / "base", Path(folder) / "head"
        with worktree(commits[0], trees[0]) as base, worktree(commits[1], trees[1]) as head:
            pairs = in_turn(base, head, names, asked.rounds)
    print(f"{commits[0]} against {commits[1]}, {asked.rounds} rounds, processor time")
    print("\n".join(rows(pairs, names)))


if __name__ == "__main__":
    main()
