"""Whole-number programmes by HiGHS: bounded by nodes, not by time, so that equal input gives equal answers."""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint

Values = npt.NDArray[np.float64]

_ONE_AT_A_TIME = threading.Lock()


class Solved(NamedTuple):
    """values: the best found, None if none was. bound: no solution costs less; minus infinity if there is none."""

    values: Values | None
    bound: float


def least_cost(
    cost: Values,
    constraints: LinearConstraint,
    most: npt.ArrayLike,
    *,
    whole: npt.ArrayLike = 1,
    nodes: int,
    near: float = 0.0,
) -> Solved:
    """The values from 0 to `most` of least cost that so many nodes of branch and bound find.

    whole: 1 for each that must be a whole number, else 0. near: the share of the cost that the best may be better.
    """
    from scipy.optimize import Bounds, milp  # noqa: PLC0415 - takes long to load

    options: Any = {"node_limit": nodes, "mip_rel_gap": near}
    with _quiet():
        found = milp(
            cost,
            integrality=np.broadcast_to(np.asarray(whole, np.int64), cost.shape),
            bounds=Bounds(0, np.broadcast_to(np.asarray(most, np.float64), cost.shape)),
            constraints=constraints,
            options=options,
        )
    bound = found.mip_dual_bound
    return Solved(found.x, -np.inf if bound is None or np.isnan(bound) else float(bound))


@contextmanager
def _quiet() -> Iterator[None]:
    """Standard output is the caller's: some versions of the solver print a line of their own there, past Python."""
    with _ONE_AT_A_TIME:
        sys.stdout.flush()
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        try:
            yield
        finally:
            ctypes.CDLL(None if os.name == "posix" else "ucrtbase").fflush(None)
            os.dup2(kept, 1)
            os.close(kept)
            os.close(nowhere)
