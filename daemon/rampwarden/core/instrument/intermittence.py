"""A sensor that works only now and then: for how long its readings have not been such as can be believed.

Each fault that a board flags has an alarm with a delay, and so has a reading out of range. One good reading among ten
bad ones ends every such delay, and spikes are set aside without any. So all that gives no belief is added up here,
whatever is wrong with it: a bad reading adds the time that it stands for, a believed one takes off half as much. More
than a third of bad readings grows, fewer do not, and single ones are forgotten before the next.

A fault that is always the same and has no other reading between is a plain one: its own alarm tells it, after the delay
that somebody has set for it, and this one leaves it alone.

What the gate set aside and then followed, as a climb too steep for it, was no fault and is taken off again. A leap to
somewhere else is itself suspicious: a furnace cannot, a loose plug does so all the time. One that is further than any
probe gets in that time is told at once: of the two levels one is none, and which is not known.

Knows what became of each reading, and neither limits nor other alarms.
"""

import math
from collections import deque

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.model import Finding, Priority, Quality
from rampwarden.core.short_orders import ShortOrder

SENSOR_INTERMITTENT = AlarmEntry(
    name="sensor-intermittent",
    condition="too few readings can be believed: faults, spikes and leaps of whatever kind, with good ones between",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: six seconds of unbelieved readings, or three of a slow board, are in it already",
    why="each good reading ends the other alarms' delays, and a climb between good ones is seen late or not at all",
    action="check plug, wires and board, hold the heat",
    short_order=ShortOrder.CHECK_WIRES,
    time_to_act="at once",
    rests_in_transfer=True,
    doubts=ReadingDoubt.UNCERTAIN,
    report=ReportMeaning.READING_IN_DOUBT,
    look_at=("plug and wires of the thermocouple: they gave no steady contact",),
)

# How long is too long. Own arithmetic, held to by the benchmark of intermittent sensors.
_RAISED_S = 6.0
"""s, > 0. Bad readings for so long: a burst of interference is shorter, and three of a board that speaks each
five seconds are as much."""
_CLEARED_S = 3.0
"""s, > 0. Once too few, they are enough again from here down."""
_MOST_S = 8.0
"""s. No more is added up: ten seconds of good readings after any fault bring it back to where it clears."""
_LONGEST_STEP_S = 2.0
"""s. One reading stands for no more: of a board that speaks each five seconds three must be bad, and one is no sign."""
_WORTH = 0.5
"""What a believed reading takes off, of the time that it stands for: bad ones may be a third of all."""
_FIRST_S = 15.0
"""s. At first a belief takes nothing off: whoever begins with the wrong one of two levels believes that."""
_RAISED_AT_FIRST_S = 4.0
"""s, > 0. So much is too much then, of readings that are not single: of two levels either may be the believed one, and
of a board that speaks every other second fifteen seconds hold seven readings."""
_SINGLE_S = 10.0
"""s. A bad reading so long after the last is a single one, of which no number is a sign."""
_FEW = 5
"""So many at most come before one is believed, if two of them are bad ten seconds apart: three others that agree."""
_FEW_STEPS = 4.1
"""Their time, and a little: a board that speaks each five seconds has fifteen seconds for three or four, and if two of
the first are bad it needs twenty."""
_SET_ASIDE = 8
"""So many held readings in a row at most can turn out to be true with the next one."""
_LEAP_S = 3.0
"""s. What a leap adds. One may be a probe that was put elsewhere."""
_SILENCE = 2.5
"""Steps, > 1. A longer time without any reading may have brought a probe anywhere."""
_LEAPS_WITHIN_S = 30.0
"""s. The second leap within half a minute is a plug that touches now here, now there, and none knows which was true."""


class Intermittence:
    """Adds up what could not be believed; `seconds` is how much that is now, 0 of a sound sensor.

    `since_s` is when it last began to grow from nothing, s.
    """

    __slots__ = (
        "_bad",
        "_bad_s",
        "_begun_s",
        "_followed",
        "_impossible",
        "_is_plain",
        "_leapt",
        "_leapt_s",
        "_reasons",
        "_seen",
        "_set_aside",
        "_silent_s",
        "_too_many",
        "seconds",
        "since_s",
    )

    def __init__(self) -> None:
        self.seconds = 0.0
        self.since_s = 0.0
        # When the gate held one of late, and what it added.
        self._set_aside: deque[tuple[float, float]] = deque(maxlen=_SET_ASIDE)
        self._followed = self._leapt = self._impossible = 0
        self._begun_s = math.inf
        self._leapt_s = -math.inf
        self._silent_s = 0.0
        self._bad_s = -math.inf
        self._too_many = self._is_plain = False
        self._seen = self._bad = 0
        self._reasons: dict[str, int] = {}

    def note(
        self, time_s: float, step_s: float, quality: Quality, reason: str, turned: tuple[int, int, int, int]
    ) -> None:
        """Take what became of a reading at `time_s` (s), `step_s` after the one before; needless while all are good.

        `reason` says why one could not be believed; `turned` is what the gate has counted of those that came
        to be believed: how many went on from the last belief, how often they had leapt, how often beyond any probe, and
        how many readings before the first belief one stood that is not near it.
        """
        if self._begun_s == math.inf:
            self._begun_s = time_s  # of the first reading nothing is believed yet
        apart_s, step_s = step_s, min(max(step_s, 0.0), _LONGEST_STEP_S)
        if self._is_plain and (quality is not Quality.BAD or reason not in self._reasons):
            self.excuse()
        if self.seconds == 0.0:
            self.since_s = time_s - step_s
            self._seen = self._bad = 0
            self._reasons.clear()
        self._is_plain = quality is Quality.BAD and self._bad == self._seen and self._reasons.keys() <= {reason}
        self._seen += 1
        if quality is Quality.GOOD:
            self._believe(time_s, apart_s, turned)
        else:
            self.seconds += step_s
            self._bad += 1
            self._reasons[reason] = self._reasons.get(reason, 0) + 1
            if quality is Quality.HELD:
                if not self._set_aside:
                    self._silent_s = apart_s
                self._set_aside.append((time_s, step_s))
        self.seconds = min(max(self.seconds, 0.0), _MOST_S)
        enough = self.seconds >= (_CLEARED_S if self._too_many else self._raised_from_s(time_s))
        if quality is Quality.BAD:
            self._bad_s = time_s
        self._too_many = enough and not self._is_plain and not self._may_yet_begin(time_s, apart_s)

    def _raised_from_s(self, time_s: float) -> float:
        is_early = time_s - self._begun_s < _FIRST_S and time_s - self._bad_s < _SINGLE_S
        return _RAISED_AT_FIRST_S if is_early else _RAISED_S

    def _may_yet_begin(self, time_s: float, apart_s: float) -> bool:
        """Whether nothing was believed yet of a few readings, and the next still comes in time: some may be bad."""
        few = self._seen <= _FEW and self._followed == self._leapt == 0
        return few and time_s + apart_s - self._begun_s <= max(_FIRST_S, _FEW_STEPS * apart_s)

    def _believe(self, time_s: float, apart_s: float, turned: tuple[int, int, int, int]) -> None:
        followed, leapt, impossible, odd_one = turned
        held, at_first = list(self._set_aside), not self._followed and not self._leapt
        if time_s - self._begun_s > _FIRST_S and not at_first:
            self.seconds -= _WORTH * min(max(apart_s, 0.0), _LONGEST_STEP_S)
        if followed != self._followed:
            # The last in a row is believed, and so are those before it.
            true = followed - self._followed
            if at_first and 0 < odd_one <= len(held):
                # ... but for one that is not near.
                odd_s, _ = held.pop(-odd_one)
                self._bad_s = max(self._bad_s, odd_s)
            self.seconds -= sum(step_s for _, step_s in held[-true:])
            if at_first and not odd_one:
                # The first belief: others before it may have been as true, and one bad one between hid that.
                self.seconds = min(self.seconds, _CLEARED_S)
        elif leapt != self._leapt and impossible == self._impossible and self._silent_s > _SILENCE * apart_s:
            # Nothing was read for a while: a probe may have got there meanwhile, and no reading was bad.
            self.seconds -= sum(step_s for _, step_s in held)
        elif leapt != self._leapt:
            is_enough = time_s - self._leapt_s <= _LEAPS_WITHIN_S or impossible != self._impossible
            self.seconds = max(self.seconds + _LEAP_S, _RAISED_S if is_enough else 0.0)
            self._leapt_s = time_s
        elif held:
            self._bad_s, _ = held[-1]
        self._followed, self._leapt, self._impossible = followed, leapt, impossible
        self._set_aside.clear()

    def excuse(self) -> None:
        """Another alarm says already that there is no reading: of what is over with it this is not said after it."""
        self.seconds = min(self.seconds, _CLEARED_S)
        self._too_many = False

    @property
    def doubted_since_s(self) -> float | None:
        """Since when readings have been in doubt, s; None while enough of them can be believed."""
        return self.since_s if self._too_many else None

    def finding(self) -> Finding | None:
        """Say that too few can be believed, and what is wrong with most; None while they are enough."""
        if not self._too_many:
            return None
        reason = max(self._reasons, key=self._reasons.__getitem__)
        share = 100.0 * self._bad / self._seen
        what = f"{self._bad} of the last {self._seen} readings cannot be believed, mostly because {reason}"
        return Finding(round(share, 1), None, "%", what)
