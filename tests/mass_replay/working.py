"""Work that takes its worker with it, for the tests of replays in many processes. Not a test itself."""

import os
import signal
from pathlib import Path

from rampwarden.mass_replay import HeatAnswer, Otherwise, Task, answer


def deadly(task: Task, otherwise: Otherwise) -> HeatAnswer:
    """Kill every worker that comes to this heat."""
    if task.heat.startswith("deadly"):
        os.kill(os.getpid(), signal.SIGKILL)
    return answer(task, otherwise)


def deadly_once(task: Task, otherwise: Otherwise) -> HeatAnswer:
    """Kill the worker that comes to this heat first."""
    if task.heat.startswith("once"):
        mark = Path(os.environ["DEADLY_ONCE"])
        try:
            mark.touch(exist_ok=False)
        except FileExistsError:
            return answer(task, otherwise)
        os.kill(os.getpid(), signal.SIGKILL)
    return answer(task, otherwise)
