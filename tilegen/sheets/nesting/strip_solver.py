"""A process of its own that packs one strip with spyrrow and stops after so many rounds; JSON in, JSON out.

The library can only be given a time. Its reports, though, come in an order that depends on the seed alone, one for each
step of its search: to stop after a number of them gives the same answer on a slow machine and a fast one. The solver
can't be stopped from outside, so the process ends instead.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any

# The library may use this long; a run that gets there is stopped by its rounds or by itself well before.
_SECONDS = 3600
_POLL_S = 0.002


def solve(job: dict[str, Any]) -> dict[str, Any] | None:
    """The narrowest strip found within job["rounds"] reports, or the first one narrower than job["enough"].

    job: height, items (id, shape, demand, turns in degrees), gap, seed, rounds, enough; mm.
    """
    import spyrrow  # noqa: PLC0415 - the extra; only this process needs it

    items = [spyrrow.Item(str(i["id"]), [(x, y) for x, y in i["shape"]], i["demand"], i["turns"]) for i in job["items"]]
    strip = spyrrow.StripPackingInstance("strip", job["height"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        total_computation_time=_SECONDS,
        num_workers=1,
        seed=job["seed"],
        min_items_separation=job["gap"] or None,
    )
    queue = spyrrow.ProgressQueue()
    thread = threading.Thread(target=strip.solve, args=(config, queue), daemon=True)
    thread.start()
    best, rounds = None, 0
    while True:
        alive = thread.is_alive()
        for kind, found in queue.drain():
            rounds += 1
            if kind in (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final):
                best = found
            if best is not None and (rounds >= job["rounds"] or best.width <= job["enough"]):
                return _answer(best)
        if not alive:
            return _answer(best) if best is not None else None
        time.sleep(_POLL_S)


def _answer(found: Any) -> dict[str, Any]:  # noqa: ANN401
    placed = [[p.id, p.rotation, *p.translation] for p in found.placed_items]
    return {"width": found.width, "placed": placed}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(solve(json.load(sys.stdin))))
    sys.stdout.flush()
    # Not to wait for a solver that goes on.
    os._exit(0)
