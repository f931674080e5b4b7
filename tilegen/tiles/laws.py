"""The two laws by which every edge of every tile fits every other, however the tiles are turned.

An edge is walked counter-clockwise round its tile, which is from left to right for someone who looks at it from
outside; s is measured from the middle of the edge. Two tiles that meet walk their common seam in opposite directions:
what stands at s on one faces what stands at -s on the other. So:

- magnets: the pole that shows outwards, N = +1 and S = -1, must be antisymmetric, p(-s) = -p(s): then N faces S
  everywhere. North left, south right.
- pegs: a profile q, +1 out and -1 in, must be antisymmetric too, q(-s) = -q(s): a peg faces a socket everywhere.
- keys: sockets only, the same on both sides, so symmetric, k(-s) = k(s); one in the middle is the least.

With any of them repeated every module m, edges of several modules and edges shifted by whole modules match as well.
All three are derived here from the geometry of a seam; `tests/test_connector_laws.py` tries every case.
"""

from __future__ import annotations

from collections.abc import Iterable

# What stands where along an edge: (s in mm, value).
Law = tuple[tuple[float, int], ...]


def facing(law: Law) -> Law:
    """The law of an edge as its neighbour across the seam meets it."""
    return tuple(sorted((-s, value) for s, value in law))


def repeated(law: Law, module: float, count: int) -> Law:
    """A module's law on an edge of `count` modules, s from the middle of the whole edge."""
    first = -(count - 1) * module / 2
    return tuple(sorted((first + n * module + s, value) for n in range(count) for s, value in law))


def meetings(here: Law, there: Law, shift: float = 0.0, reach: float = 1e-6) -> list[int]:
    """The products of all values that face each other: -1 fits (or attracts), +1 doesn't.

    there: the other edge in its own frame. shift: how far its tile lies to the right along the seam.
    """
    across = [(s + shift, value) for s, value in facing(there)]
    return [a * b for s, a in here for t, b in across if abs(s - t) < reach]


def attracts(here: Law, there: Law, shift: float = 0.0, reach: float = 1e-6) -> bool:
    """Whether two edges face each other somewhere and fit wherever they do."""
    found = meetings(here, there, shift, reach)
    return bool(found) and max(found) < 0


def is_antisymmetric(law: Iterable[tuple[float, int]], tolerance: float = 1e-9) -> bool:
    """Whether p(-s) = -p(s) for all s."""
    plain = sorted(law)
    mirrored = sorted((-s, -value) for s, value in plain)
    return all(abs(s - t) <= tolerance and a == b for (s, a), (t, b) in zip(plain, mirrored, strict=True))
