"""Tasks on a Dask cluster: results come back by return, so no disk is shared; a lost worker's tasks go to others.

Whoever can reach a scheduler can run code on its workers and, by what they send back, on this machine: use one in a
network you trust, or over TLS.
"""

from __future__ import annotations

import itertools
import logging
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from tilegen.batch.work import Outcome, Task, make
from tilegen.errors import InputError, TilegenError, install
from tilegen.version import __version__

if TYPE_CHECKING:
    from distributed import Client

_AHEAD = 2
# How long to wait for an answer, and how often; a scheduler that was there is not waited for any longer than once.
_PATIENCE_S = 5.0
_TRIES = 4
_LOOK_AGAIN_EVERY = 32


class ClusterLostError(TilegenError):
    """The scheduler went away while the batch ran: what was done is kept, the rest is not there."""

    exit_code = 1


def run_on_cluster(tasks: Iterator[Task], address: str) -> Iterator[Outcome]:
    """What comes of each task, in the order in which they are done.

    address: of a scheduler, such as tcp://192.168.0.7:8786 or tls://...

    Raises:
        InputError: the extra is not installed, nobody at that address, no worker, or workers of another version.
        ClusterLostError: the scheduler went away.
    """
    try:
        import distributed  # noqa: PLC0415 - an extra
    except ImportError:
        raise InputError(
            "a cluster needs dask.distributed, which is not installed",
            cure=f"Install it: {install('cluster')}",
            place="--scheduler",
        ) from None
    # What the library logs about lost workers is told by what comes of their tasks.
    for name in ("distributed", *logging.root.manager.loggerDict):
        if name.partition(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
    client = _connected(address)
    try:
        yield from _run(client, tasks)
    except (distributed.client.FutureCancelledError, OSError) as error:
        raise _lost(address) from error
    finally:
        client.close(timeout=2)


def _lost(address: str) -> ClusterLostError:
    return ClusterLostError(f"the scheduler at {address} went away; run the same command again to go on from there")


def _connected(address: str) -> Client:
    """A client of a scheduler that has workers with this very version of the tool."""
    client = _reached(address)
    try:
        client.wait_for_workers(1, timeout=_PATIENCE_S * _TRIES)
        versions = client.run(_version, on_error="return")
    except TimeoutError:
        client.close(timeout=2)
        raise InputError(
            "the scheduler has no workers", cure=f"Start one: dask worker {address}", place="--scheduler"
        ) from None
    for worker, found in sorted(versions.items()):
        # One that was lost meanwhile is the scheduler's affair.
        if found != __version__ and not isinstance(found, OSError):
            client.close(timeout=2)
            raise InputError(
                f"the worker {worker} has another version: {found}"[:200],
                cure=f"Install tilegen {__version__} and the same libraries on every worker, as here",
                place="--scheduler",
            )
    return client


def _reached(address: str) -> Client:
    from distributed import Client  # noqa: PLC0415

    for _ in range(_TRIES):
        try:
            return Client(address, timeout=_PATIENCE_S, set_as_default=False)
        except TimeoutError:
            continue
        except (OSError, ValueError, TypeError):
            break
    raise InputError(
        f"no Dask scheduler answers at {address}",
        cure="Check the address, and that it runs: dask scheduler",
        place="--scheduler",
    ) from None


def _version() -> str:
    return __version__


def _run(client: Client, tasks: Iterator[Task]) -> Iterator[Outcome]:
    from distributed import as_completed  # noqa: PLC0415

    done: Any = as_completed(loop=client.loop, with_results=True, raise_errors=False)
    numbers: dict[str, int] = {}
    for finished in itertools.count():
        if finished % _LOOK_AGAIN_EVERY == 0:
            ahead = _AHEAD * max(1, sum(client.nthreads().values())) + 2
        for task in itertools.islice(tasks, ahead - len(numbers)):
            future = client.submit(make, task, pure=False)
            numbers[future.key] = task.number
            done.add(future)
        if not numbers:
            return
        future, result = next(done)
        yield _outcome(numbers.pop(future.key), future.status, result)
        future.release()


def _outcome(number: int, status: str, result: Any) -> Outcome:  # noqa: ANN401
    """A result, or the reason why there is none: an error that is not the task's own, or workers that died of it."""
    if status == "finished" and isinstance(result, Outcome):
        return result
    error = result[1] if isinstance(result, tuple) and len(result) > 1 else result
    if status == "cancelled":
        raise OSError("cancelled")
    return Outcome(number, failure=f"not made on the cluster ({type(error).__name__}: {error})"[:300])
