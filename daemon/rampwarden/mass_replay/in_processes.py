"""Tasks in processes of this computer; one whose worker is killed twice while it has no other task is given up.

When a worker dies, the pool does not say whose task it had: all that were under way are tried again, one at a time, so
that one which takes its worker with it costs itself alone.
"""

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import NamedTuple

from rampwarden.mass_replay.answers import HeatAnswer
from rampwarden.mass_replay.one_heat import Otherwise, Task, answer

# Tasks under way for each process: one to work on and one that waits, so that none is idle.
_AHEAD = 2
Work = Callable[[Task, Otherwise], HeatAnswer]


def run_in_processes(
    tasks: Sequence[Task], otherwise: Otherwise, jobs: int, done: Callable[[], None], work: Work = answer
) -> list[HeatAnswer]:
    """Give every task's answer in their order; `done` is called once for each. With one job all is done here."""
    answers: dict[int, HeatAnswer] = {}
    if jobs == 1:
        for number, task in enumerate(tasks):
            answers[number] = work(task, otherwise)
            done()
        return [answers[number] for number in range(len(tasks))]
    left = iter(enumerate(tasks))
    while suspects := _run(left, otherwise, _Width(jobs, _AHEAD), answers, done, work):
        one_by_one = iter(suspects)
        while culprits := _run(one_by_one, otherwise, _Width(1, 1), answers, done, work):
            for number, task in culprits:
                if _run(iter([(number, task)]), otherwise, _Width(1, 1), answers, done, work):
                    answers[number] = HeatAnswer(task.heat, trouble="its workers were killed; is there enough memory?")
                    done()
    return [answers[number] for number in range(len(tasks))]


class _Width(NamedTuple):
    """So many processes, and for each so many tasks under way."""

    jobs: int
    ahead: int


def _run(
    left: Iterator[tuple[int, Task]],
    otherwise: Otherwise,
    width: _Width,
    answers: dict[int, HeatAnswer],
    done: Callable[[], None],
    work: Work,
) -> list[tuple[int, Task]]:
    """Work off what is left; gives those that were under way when a worker died, none when all is done."""
    under_way: dict[Future[HeatAnswer], tuple[int, Task]] = {}
    # Processes that are branched off one which has loaded what they need, and has none of our threads.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([answer.__module__])
    with ProcessPoolExecutor(width.jobs, mp_context=context) as pool:
        try:
            while True:
                while len(under_way) < width.jobs * width.ahead and (task := next(left, None)) is not None:
                    try:
                        under_way[pool.submit(work, task[1], otherwise)] = task
                    except BrokenProcessPool:
                        return [*under_way.values(), task]
                if not under_way:
                    return []
                for future in wait(under_way, return_when=FIRST_COMPLETED).done:
                    answers[under_way[future][0]] = future.result()
                    del under_way[future]
                    done()
        except BrokenProcessPool:
            return list(under_way.values())
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
