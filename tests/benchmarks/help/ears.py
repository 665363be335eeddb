"""What somebody makes of a watch that speaks: the first order, after a while, if it still stands and is believed."""

from collections import Counter
from collections.abc import Iterable

import numpy as np

from rampwarden.core.model import StandingAlarm

AGAIN_S, AGAIN_IN_OVEN_S = 120, 300
"""After an order was carried out it is given so long to work before it is carried out again; an oven is slow."""
_WRONG_TOO_OFTEN = 2


class Ears:
    """Turns standing alarms into what is done when. `false_errands` counts what was done for nothing; `again_s` is
    how long an order is given to work (s)."""

    def __init__(self, dice: np.random.Generator) -> None:
        self._dice = dice
        self._wrong: Counter[str] = Counter()
        self._due: tuple[int, str, str] | None = None
        self.again_s = AGAIN_S
        self._done: dict[str, int] = {}
        self.heard: list[tuple[int, str, str, bool]] = []
        self.false_errands = 0

    def believes(self, alarm: str) -> bool:
        """Tell whether this voice is still listened to: who was wrong twice is not."""
        return self._wrong[alarm] < _WRONG_TOO_OFTEN

    def listen(self, second: int, alarms: Iterable[StandingAlarm]) -> str | None:
        """Take what stands now; gives the alarm of an order that is newly heard."""
        first = _first(alarms)
        if first is None or self._due is not None or not self.believes(first.alarm):
            return None
        if second < self._done.get(first.alarm + first.order, -self.again_s) + self.again_s:
            return None
        self._due = (second + int(self._dice.uniform(10.0, 60.0)), first.alarm, first.order)
        return first.alarm

    def due(self, second: int, alarms: Iterable[StandingAlarm]) -> tuple[str, str] | None:
        """Give alarm and order to be carried out now: on arrival at the display it must still be the first."""
        if self._due is None or second < self._due[0]:
            return None
        _, alarm, order = self._due
        self._due = None
        first = _first(alarms)
        if first is None or (first.alarm, first.order) != (alarm, order):
            return None
        self._done[alarm + order] = second
        return alarm, order

    def learn(self, second: int, alarm: str, order: str, *, was_so: bool) -> None:
        """Remember what came of an order."""
        self.heard.append((second, alarm, order, was_so))
        if not was_so:
            self._wrong[alarm] += 1
            self.false_errands += 1


def _first(alarms: Iterable[StandingAlarm]) -> StandingAlarm | None:
    return next((each for each in alarms if each.is_first and each.order), None)
