"""Tasks on the workers of a Dask cluster that is there already, each with its record in it.

The scheduler gives a killed worker's tasks to another one. Those that no worker survives, and those that the scheduler
took with it when it was lost, are rows that say so.
"""

import contextlib
import socket
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue
from typing import Any
from urllib.parse import urlsplit

from rampwarden.errors import ReplayClusterError
from rampwarden.mass_replay.answers import HeatAnswer
from rampwarden.mass_replay.in_processes import Work
from rampwarden.mass_replay.one_heat import Otherwise, Task, answer

# Tasks sent ahead for each thread of the cluster: records wait there, not here, and none is idle.
_AHEAD = 3
_KNOCK_S = 5.0
_REACHED_WITHIN = "30s"
_LOOK_S = 0.5
# A connection that breaks comes back within a second or two.
_GONE_S = 5.0
_FETCHED_WITHIN_S = 600.0


def run_on_cluster(
    tasks: Sequence[Task], otherwise: Otherwise, address: str, done: Callable[[], None], work: Work = answer
) -> list[HeatAnswer]:
    """Give every task's answer in their order; `done` is called once for each.

    Raises `ReplayClusterError` in one line when there is no such cluster, or the extra is missing.
    """
    try:
        from distributed import Client  # noqa: PLC0415  (of the extra `cluster`)
    except ImportError as error:
        raise ReplayClusterError(f"--dask needs the extra: pip install 'rampwarden[cluster]' ({error})") from error
    _knock(address)
    try:
        client: Any = Client(  # type: ignore[no-untyped-call]
            address, timeout=_REACHED_WITHIN, set_as_default=False
        )
    except (OSError, ValueError, TimeoutError) as error:
        raise ReplayClusterError(f"{address}: no cluster answers there: {error}") from error
    answers: dict[int, HeatAnswer] = {}
    left = iter(enumerate(tasks))
    finished: SimpleQueue[tuple[int, Any]] = SimpleQueue()
    kept: set[Any] = set()
    try:
        shared = client.scatter(otherwise, broadcast=True)

        def send() -> None:
            numbered = next(left, None)
            if numbered is not None:
                number, task = numbered
                future = client.submit(work, task.carried(), shared, pure=False)
                # Whoever lets go of a future takes its task back.
                kept.add(future)
                future.add_done_callback(lambda done, number=number: finished.put((number, done)))

        for _ in range(_AHEAD * max(sum(client.nthreads().values()), 1)):
            send()
        while len(answers) < len(tasks):
            number, future = _next(finished, client)
            answers[number] = _answer(future, tasks[number])
            kept.discard(future)
            done()
            send()
    except Exception as error:  # a scheduler that is lost shows itself in many ways
        lost = f"the cluster was lost before it came to this heat ({type(error).__name__})"
        for number, task in enumerate(tasks):
            if number not in answers:
                answers[number] = HeatAnswer(task.heat, trouble=lost)
                done()
    finally:
        client.close(timeout=2)
    return [answers[number] for number in range(len(tasks))]


def _next(finished: "SimpleQueue[tuple[int, Any]]", client: Any) -> tuple[int, Any]:  # noqa: ANN401  (no types there)
    """Wait for the next task that is over; raises `ConnectionError` when the scheduler has been gone for too long."""
    waited_s = 0.0
    while True:
        with contextlib.suppress(Empty):
            return finished.get(timeout=_LOOK_S)
        # It may be started again by whoever looks after it, and then knows nothing of these tasks.
        waited_s = 0.0 if client.status == "running" else waited_s + _LOOK_S
        if client.status == "closed" or waited_s >= _GONE_S:
            raise ConnectionError(f"the scheduler is gone ({client.status})")


def _knock(address: str) -> None:
    """Look whether anybody listens: a client that finds nobody leaves its thread behind."""
    parts = urlsplit(address)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or not port:
        raise ReplayClusterError(f"{address}: is no address of a cluster, such as tcp://server:8786")
    try:
        socket.create_connection((host, port), _KNOCK_S).close()
    except OSError as error:
        raise ReplayClusterError(f"{address}: no cluster answers there: {error}") from error


def _answer(future: Any, task: Task) -> HeatAnswer:  # noqa: ANN401  (the library has no types)
    from distributed import KilledWorker  # noqa: PLC0415  (of the extra `cluster`)

    if future.status == "finished":
        # A worker that dies with a result that nobody has fetched yet: the scheduler has it made anew.
        result = future.result(timeout=_FETCHED_WITHIN_S)
        return result if isinstance(result, HeatAnswer) else HeatAnswer(task.heat, trouble="gave no answer")
    if future.status == "error":
        error = future.exception()
        if isinstance(error, KilledWorker):
            return HeatAnswer(task.heat, trouble="every worker that took it was killed; is there enough memory?")
        return HeatAnswer(task.heat, trouble=f"its worker failed ({type(error).__name__}: {error})")
    return HeatAnswer(task.heat, trouble=f"the cluster was lost before it came to this heat ({future.status})")
