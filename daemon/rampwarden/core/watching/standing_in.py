"""Another probe standing in for the followed one: when it begins, what it is worth, and when it is over.

Theory of operation. The followed probe has failed when nothing believable has come of it for ten seconds (open, silent,
all of it rejected), when the diagnosis doubts it (stuck, noisy), or when the explanation says that it was moved, or
hangs in the flame, and what the other probe shows says so too. Then the heat goes on by what the other probe lets one
guess (`standing_in`), and it is said at once what is followed and what is no longer guarded. Three rules:

1. Nothing stands in while the pot is carried, nor by what was learnt before: the probes were in different vessels.
2. The guess is judged with its own doubt. A limit of less climb than that is not judged but said to be unguarded, and
   then a soak earns nothing; nor does it where the guess, as far as it may be off, is not surely in the band.
3. The followed probe is followed again when it has been good for a minute and agrees with the guess, or for half an
   hour and does not. The step between them is nobody's climb.
"""

import math
from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING

from rampwarden.core import standing_in
from rampwarden.core.heat import HeatTracker
from rampwarden.core.limits import LevelDoubt, NoiseMeter
from rampwarden.core.model import Finding, Measurement, Quality, StandInState
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import Place
from rampwarden.core.pot_keeper import PotKeeper
from rampwarden.core.quantities import Rate, format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.standing_in import STANDING_IN
from rampwarden.core.watching.alarm_reports import AlarmReports
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.schedule_passage import SchedulePassage

if TYPE_CHECKING:
    from rampwarden.core.standing_in import PartingMeter, StandIn

STANDING_IN_ALARM = (STANDING_IN.name,)
_FAILED_AFTER_S = 10.0
"""s without anything believable: a plug that wiggles is no failure, and five are left for a board to speak."""
_OF_INTERVAL = 3.0
_ARRIVES_S = 240.0
"""s after a transfer in which the probes are still coming to what they hang on. Common practice, no source."""
_GOOD_FOR_S = 60.0
_LATELY_S = 20.0
_GOOD_ANYWAY_S = 1800.0
_AGREES_C = 3.0
"""°C beside the guess's own doubt: what readings scatter by."""
_PARTS_C = 5.0
"""°C beside it, by which a moved probe must have parted from the guess."""
_TELLS_EVERY_S = 60.0
_GUARDED_AGAIN = 0.7
"""Share of its climb that a limit's doubt must have come down to before it is judged again."""
_WEARS_OFF = 1.25
"""In windows: for so long a climb may still begin at a guess, what its averages lag by included."""
_RESUMES_S = 300.0
"""s for which the other probe may have been away and still stands in."""
_KINDS = (Place.POT.value, Place.CHAMBER.value)


class StandingIn:
    """Lets one other probe stand in. Public state is for reading only.

    `probe` is its name, empty where none could; `due_s` when it counts as lost itself, s; `measurement` the guess as a
    reading, None while the followed probe is followed; `worst_off_c` by how much the guesses that count as evidence
    were off at most, ± °C. `noise` is what the guess scatters by.
    """

    def __init__(
        self,
        parameters: MonitorParameters,
        events: EventList,
        alarms: AlarmReports,
        tracker: HeatTracker,
        passage: SchedulePassage,
        pot: PotKeeper,
    ) -> None:
        self._events, self._alarms, self._tracker, self._passage, self._pot = events, alarms, tracker, passage, pot
        candidate = next((each for each in parameters.probes if each.place in _KINDS), None)
        self.probe = "" if candidate is None else candidate.name
        self._place = "" if candidate is None else candidate.place
        if self.probe:
            # Loaded before the heat begins: later the disk may no longer answer.
            self._meter.restart()
        self._guess: StandIn | None = None
        self._spare: StandIn | None = None
        self.due_s = math.inf
        self.measurement: Measurement | None = None
        self.noise = NoiseMeter()
        self.worst_off_c = 0.0
        self._carried_s = -math.inf
        self._good_s: float | None = None
        self._good_since_s = math.inf
        self._doubted_s: float | None = None
        self._own_c = self._differs_c = 0.0
        self._agrees_since_s: float | None = None
        self._began_s = self._ended_s = -math.inf
        self._is_over = True
        self._ended_off_c = 0.0
        self._refused = False
        self._refused_since_s: float | None = None
        self._unguarded: tuple[Rate, ...] = ()
        self._earns = True
        self._unearned_s = 0.0
        self._told: tuple[tuple[Rate, ...], bool] = ((), True)
        self._told_s = -math.inf

    @cached_property
    def _meter(self) -> "PartingMeter":
        """What both probes show of each other; with it numpy is loaded, which a watch over one probe does without."""
        return standing_in.PartingMeter(
            standing_in.AT_ONCE if self._place == Place.POT.value else standing_in.EVERY_LAW
        )

    @property
    def off_c(self) -> float:
        """How far the guess may be off, ± °C, k = 2; 0 while there is none."""
        return 0.0 if self._guess is None else self._guess.off_c

    @property
    def active(self) -> bool:
        """Whether another probe stands in now."""
        return self._guess is not None

    def follow(self, time_s: float, temp_c: float) -> bool:
        """Take a believed reading (s, °C) of the followed probe; tells whether it is the one to go by."""
        if not self.probe:
            return True
        now_s = self._events.now_s
        guess = self._guess
        since_s = math.inf if self._good_s is None else now_s - self._good_s
        if since_s > _FAILED_AFTER_S or self._doubted_s is not None:
            self._good_since_s = now_s
            since_s = math.inf
        self._good_s = now_s
        lately = min(1.0, since_s / _LATELY_S)
        self._own_c += lately * (temp_c - self._own_c)
        if guess is None:
            if not self._is_over:
                self._is_over, self._ended_s = True, now_s
            self._refused = self._refused and self._doubted_s is not None
            if self._doubted_s is None and self._is_settled(time_s):
                self._meter.feed(time_s, temp_c)
            return True
        self._differs_c += lately * (temp_c - guess.temp_c - self._differs_c)
        if abs(self._differs_c) > guess.off_c + _AGREES_C:
            self._agrees_since_s = None
        elif self._agrees_since_s is None:
            self._agrees_since_s = now_s
        if not self._is_good_again(now_s, guess):
            return False
        self._end_well(temp_c)
        return True

    def doubt(self, since_s: float | None) -> None:
        """Take since when the followed probe says nothing of the heat, s, by its own course; None while it does."""
        self._doubted_s = since_s

    def stand_in(self, measurement: Measurement, interval_s: float, moved_s: float | None) -> bool:
        """Take a reading of the other probe; tells whether there is a guess now to go by.

        `interval_s` is how often the followed probe is read, s; `moved_s` since when (s) it is said to have left its
        place, None if it is not.
        """
        if measurement.quality is not Quality.GOOD or measurement.temp_c is None:
            return False
        if self._tracker.segment is None:
            if self._guess is not None:
                self._end("")
            return False
        time_s, temp_c, now_s = measurement.time_s, measurement.temp_c, self._events.now_s
        if not self._is_settled(time_s):
            return False
        self._meter.feed_other(time_s, temp_c)
        guess = self._guess
        if guess is None:
            guess = self._began(now_s, time_s, temp_c, interval_s, moved_s)
            if guess is None:
                return False
        elif time_s <= guess.time_s:
            return False
        guess.feed(time_s, temp_c)
        self.due_s = now_s + max(_FAILED_AFTER_S, _OF_INTERVAL * interval_s)
        self.measurement = Measurement(time_s, guess.temp_c, Quality.GOOD, None)
        self.noise.feed(time_s, guess.temp_c)
        self._judge_worth(time_s, guess)
        return True

    def goes_on(self, time_s: float) -> bool:
        """Tell whether the guess stands in the segment that it has led into at `time_s` (s)."""
        if self._tracker.segment is None:
            self._end("")
        return self._is_settled(time_s) and self._guess is not None

    def bounds_c(self) -> tuple[float, float]:
        """Give the guess, and what may be claimed of the pot by it, °C: no hotter than it must be, or no colder."""
        guess = self._guess
        if guess is None:
            return 0.0, 0.0
        segment = self._tracker.segment
        cools = self._passage.done or (segment is not None and segment.kind is SegmentKind.COOL)
        return guess.temp_c, guess.temp_c + (guess.off_c if cools else -guess.off_c)

    def level_doubt(self, time_s: float) -> LevelDoubt | None:
        """Give how far what is judged at `time_s` (s) may be off; None where it has long been a reading."""
        guess = self._guess
        if guess is not None:
            return LevelDoubt(guess.off_c, guess.off_over)
        if not self._ended_off_c:
            return None
        since_s, off_c = time_s - self._ended_s, self._ended_off_c
        longest_s = _WEARS_OFF * max((rate.window_s for rate in self._limits()), default=0.0)
        if since_s > longest_s:
            self._ended_off_c = 0.0
            return None
        return LevelDoubt(0.0, lambda window_s: off_c if since_s < _WEARS_OFF * window_s else 0.0)

    def tick(self) -> None:
        """The other probe is lost as well."""
        if self._tracker.segment is None:
            self._end("")
            return
        self._spare = self._guess
        self._end(f"the {self.probe} probe says nothing either: nobody sees the heat")

    def resume(self) -> None:
        """Go on after a time nobody watched."""
        if self._good_s is not None:
            self._good_s = self._events.now_s
        if self._guess is not None:
            self.due_s = self._events.now_s + _FAILED_AFTER_S

    def state(self, expanded_c: Callable[[float], float]) -> StandInState | None:
        """Give what stands in; `expanded_c` is how far the followed probe itself may be off at a temperature, ± °C."""
        guess = self._guess
        if guess is None:
            return None
        return StandInState(
            probe=self.probe,
            place=self._place,
            since_s=self._began_s,
            off_c=guess.off_c,
            expanded_c=math.hypot(guess.off_c, expanded_c(guess.temp_c)),
            unguarded=tuple(_rate_words(rate) for rate in self._unguarded),
            earns=self._earns,
        )

    # Beginning and end

    def _is_settled(self, time_s: float) -> bool:
        """Whether both probes hang where they belong; a transfer ends whatever stood in, and what was learnt."""
        segment = self._tracker.segment
        if segment is not None and segment.kind is SegmentKind.TRANSFER:
            if self._guess is not None:
                self._end("nothing stands in while the pot is carried: the probes are in different vessels")
            if self._carried_s < math.inf:
                self._meter.restart()
                self._spare = None
                self._carried_s = math.inf
            return False
        if self._carried_s == math.inf:
            self._carried_s = time_s
        return time_s - self._carried_s >= _ARRIVES_S

    def _began(
        self, now_s: float, time_s: float, other_c: float, interval_s: float, moved_s: float | None
    ) -> "StandIn | None":
        """Begin where the followed probe has failed; None where it has not, or nothing can stand in."""
        failed = self._failed(now_s, interval_s, moved_s)
        if failed is None or self._refused or failed[0] == self._refused_since_s:
            return None
        if self._passage.done and self._spare is None:
            return None
        since_s, why = failed
        guess, from_c = self._guess_since(since_s, time_s)
        if guess is None:
            # Said once for this failure: a probe out of its place goes on reading, and each reading asks anew.
            self._refused, self._refused_since_s = True, since_s
            self._events.observe(
                f"nothing stands in for the followed probe ({why}): "
                f"too little was seen of both, it and the {self.probe} probe"
            )
            return None
        guess.feed(time_s, other_c)
        parted_c = abs(self._own_c - guess.temp_c)
        if moved_s is not None and since_s == moved_s and parted_c <= guess.off_c + _PARTS_C:
            return None
        self._spare = None
        self._guess = guess
        self._begin(guess, now_s, time_s, since_s, from_c, why)
        return guess

    def _guess_since(self, since_s: float, time_s: float) -> "tuple[StandIn | None, float]":
        spare = self._spare
        if spare is not None and time_s - spare.time_s <= _RESUMES_S:
            return spare, spare.temp_c
        learnt = self._meter.learnt(since_s)
        if learnt is None:
            return None, 0.0
        guess = standing_in.StandIn(learnt)
        return guess, guess.temp_c

    def _failed(self, now_s: float, interval_s: float, moved_s: float | None) -> tuple[float, str] | None:
        """Give since when the followed probe is not to be believed (s), and why; None while it is."""
        good_s = self._good_s
        if good_s is None:
            return None
        if now_s - good_s >= max(_FAILED_AFTER_S, _OF_INTERVAL * interval_s):
            return good_s, f"nothing to believe for {format_duration(now_s - good_s)}"
        if self._doubted_s is not None:
            return self._doubted_s, f"in doubt for {format_duration(now_s - self._doubted_s)}"
        if moved_s is not None:
            return moved_s, "out of its place"
        return None

    def _begin(self, guess: "StandIn", now_s: float, time_s: float, since_s: float, from_c: float, why: str) -> None:
        self._began_s = self._good_since_s = now_s
        self._agrees_since_s = None
        self._alarms.stood_in = True
        self._alarms.rest_in_doubt()
        self.noise = NoiseMeter()
        self._passage.resume()
        limits = self._passage.limits
        shortest_s = min((rate.window_s for rate in self._limits()), default=math.inf)
        if limits is not None and time_s - since_s > min(shortest_s, _FAILED_AFTER_S * 2.0):
            # What the failed probe showed meanwhile was no climb, and no stillness either.
            limits.judge_climb_along(since_s, from_c, time_s, guess.temp_c, 0.0)
        if since_s != self._good_s:
            # What was credited by a reading that is doubted now goes back, before the guess is credited anything.
            self._pot.worth(time_s, since_s, None)
            self._pot.clocks.feed(time_s, in_band=False)
            self._passage.tell_credit()
        self._unguarded, self._earns = (), True
        self._judge_guard(guess)
        self._told, self._told_s = (self._unguarded, self._earns), now_s
        what = (
            f"the {self.probe} probe stands in for the followed one ({why}): "
            f"{guess.temp_c:.0f} ± {guess.off_c:.0f} °C; no cautions ahead, {self._guard_words()}"
        )
        self._alarms.judge(STANDING_IN_ALARM, {STANDING_IN.name: Finding(round(guess.off_c, 1), None, "°C", what)})

    def _is_good_again(self, now_s: float, guess: "StandIn") -> bool:
        good_for_s = now_s - self._good_since_s
        if self._doubted_s is not None or good_for_s < _GOOD_FOR_S:
            return False
        # A probe that is just being put back comes by the guess on its way: only where it stays is the step known.
        agrees_s = self._agrees_since_s
        return (agrees_s is not None and now_s - agrees_s >= _GOOD_FOR_S) or good_for_s >= _GOOD_ANYWAY_S

    def _end_well(self, temp_c: float) -> None:
        differs_c = self._differs_c
        self._end("")
        self._is_over, self._ended_s = True, self._events.now_s
        if self._passage.limits is not None:
            self._passage.limits.bridge(differs_c)
        self._events.observe(
            f"the followed probe is followed again: it reads {temp_c:.0f} °C, "
            f"{differs_c:+.0f} from what was guessed by the {self.probe} probe"
        )

    def _end(self, why: str) -> None:
        self._is_over, self._ended_off_c = False, self.off_c
        self._guess = self.measurement = None
        self.due_s = math.inf
        self._alarms.stood_in = False
        self._alarms.judge(STANDING_IN_ALARM, {})
        self._alarms.rest_in_doubt()
        self._passage.resume()
        if why:
            self._refused = self._spare is None
            self._events.observe(why)

    # What it is worth

    def _limits(self) -> tuple[Rate, ...]:
        return self._tracker.schedule.limits_in_force(self._tracker.index) if self._tracker.segment else ()

    def _judge_guard(self, guess: "StandIn") -> None:
        """See which limits the guess is too uncertain for, and whether a soak earns by it."""
        self._unguarded = tuple(
            rate
            for rate in self._limits()
            if guess.off_over(rate.window_s) > rate.climb_c * (_GUARDED_AGAIN if rate in self._unguarded else 1.0)
        )
        segment = self._tracker.segment
        self._earns = not self._unguarded
        if segment is not None and segment.kind is SegmentKind.SOAK:
            low_c, high_c = guess.temp_c - guess.off_c, guess.temp_c + guess.off_c
            self._earns = self._earns and segment.lowest_c <= low_c and high_c <= segment.highest_c

    def _judge_worth(self, time_s: float, guess: "StandIn") -> None:
        earned = self._earns
        self._judge_guard(guess)
        if self._earns:
            self.worst_off_c = max(self.worst_off_c, guess.off_c)
        elif earned:
            self._unearned_s = time_s
        self._pot.worth(time_s, None if self._earns else max(self._unearned_s, self._began_s), None)
        now_s = self._events.now_s
        state = self._unguarded, self._earns
        if state != self._told and now_s - self._told_s >= _TELLS_EVERY_S:
            self._told, self._told_s = state, now_s
            self._events.observe(f"the {self.probe} probe stands in, ± {guess.off_c:.0f} °C now: {self._guard_words()}")

    def _guard_words(self) -> str:
        segment = self._tracker.segment
        soaks = segment is not None and segment.kind is SegmentKind.SOAK
        open_ = ", ".join(_rate_words(rate) for rate in self._unguarded)
        guarded = f"not guarded: {open_}" if open_ else "limits are judged with that much to spare"
        earns = "the soak clock runs on" if self._earns else "the soak clock stands still"
        return f"{guarded}; {earns}" if soaks else guarded


def _rate_words(rate: Rate) -> str:
    return f"{rate.climb_c:g} °C / {format_duration(rate.window_s)}"
