"""What a sudden step of the reading turns out to be: lid or probe, lid shut, probe moved, cold metal, in the flame.

A bucket that leaves the course opens an event, and nothing is said. It is a step when the reading has gone farther than
the pot could with all its heat lost (or its burner full on), and by more than a fiftieth of what it stands above the
room; else it is dropped, as a turn of the heat or a flicker, and the course goes on. What was told is then followed: a
sudden return ends it; a pot that stays behind had cold metal put in; a step that stands and lets the pot's pace be was
the probe.
"""

from collections import deque
from enum import Enum

from msgspec import Struct

from rampwarden.core.explanation.slots import LENGTH_S, Slot
from rampwarden.core.explanation.statements import Cause, Ended, Figures
from rampwarden.core.explanation.step_fit import Course2, Fitted, charge_odds, course_before, fit_step, turn_misfit
from rampwarden.core.explanation.usual_furnace import NEAR_C, beyond_point_c, falls_c_per_s

_BEFORE = 13
"""Buckets of the course before a step."""
_DEVIATIONS = 5.0
_LEAST_C = 0.5
_DECIDED_S = 45.0
"""s. What has not shown itself a step by then is dropped."""
_SHAPED_S = 22.0
_STEP_NATS = 6.0
_UNSEEN = 1.4
"""Times the usual time between buckets: with so much between two of them nobody saw by what course it went."""
_BACK = 0.1
"""Share of the farthest by which what might be a step by its shape alone may have come back."""
_UNDONE_S = 300.0
_SHARE = 0.02
_OVEN_C = 300.0
"""°C. Below, an oven that is switched on and off bends the course by a quarter of a degree a second."""
_FLOOR_C = 4.0
_UP = 1.5
"""Times the share that a step up must come to: a pot that was held back (a plateau, a cold furnace) runs on brisk."""
_AMBIENT_C = 20.0
_RETURNS = 0.3
"""Share of the step that must come back within half a minute to be its end."""
_RETURN_BUCKETS = 6
_JUDGED_S = (60.0, 70.0, 80.0, 95.0, 110.0, 170.0)
"""s after the onset at which cold metal is weighed."""
_CHARGE_NATS = (7.0, 4.5, 4.5, 4.5, 4.5, -2.5)
"""What is asked for then: at first the lag is not known well; after three minutes nobody holds a lid up."""
_USUAL_DEPTH, _DEPTH_NATS, _LEAST_DEPTH = 0.15, 25.0, 0.08
_DEEP = 0.26
"""Share of what the reading stood above the room, which no lid takes. Own arithmetic, two simulated furnaces."""
_MISSED_S = (40.0, 60.0)
"""s after a return at which what is missing is weighed."""
_MOVED_S = 230.0
"""s after which nobody holds a lid up: a step that has stood is the probe's."""
_SETTLED_BUCKET, _STANDS = 18, 0.12
"""The bucket, 90 s on, after which a step of the probe's stands; and the share by which it may not."""
_LONGEST_S = 600.0


class Stage(Enum):
    """Where a story stands."""

    QUIET = "nothing"
    WEIGHED = "an event that nobody knows"
    TOLD = "a step"
    RETURNED = "a step that has come back"


class StoryTurn(Struct, frozen=True):
    """What a bucket changed: a `cause` that is now the likeliest, or the end of the one before."""

    cause: Cause | None
    ended: Ended | None
    since_s: float
    log_odds: float
    figures: Figures


class StepStory:
    """Follows one event after the other. Public state is for reading only."""

    def __init__(self) -> None:
        self._temps_c: deque[float] = deque(maxlen=_BEFORE + 2)
        self._times_s: deque[float] = deque(maxlen=_BEFORE + 2)
        self.restart()

    def restart(self) -> None:
        """Forget the course and any step: what comes now does not go on from it."""
        self._temps_c.clear()
        self._times_s.clear()
        self.stage = Stage.QUIET
        self.ended_s = -1e9
        self.fitted: Fitted | None = None
        self.before: Course2 | None = None
        self.cause: Cause | None = None
        self._opened_s = self._left_s = self._seen_s = self._returned_s = self._dropped_c = 0.0
        self._dropped_s = -1e9
        self._saw_onset = True
        self._event_s: list[float] = []
        self._event_c: list[float] = []
        self._judged = 0
        self._stands_judged = False

    @property
    def undecided(self) -> bool:
        """Whether an event is being weighed."""
        return self.stage is Stage.WEIGHED

    def undisturbed_s(self, time_s: float) -> float:
        """Give for how long no event has broken the course, s."""
        return 0.0 if self.stage is not Stage.QUIET else time_s - self.ended_s

    def feed(
        self, slot: Slot, seen_s: float, off_c: float, sigma_c: float, fastest_c_per_s: float, *, climbs: bool
    ) -> StoryTurn | None:
        """Take a bucket that is `off_c` beside a course that scatters by `sigma_c`; `climbs` in a ramp.

        Its readings came at `seen_s` in the mean, s: of a bucket that a gap cut that is not its middle.
        `fastest_c_per_s` is the fastest climb of late: a burner full on can do no more.
        """
        turn = None
        if self.stage is Stage.QUIET:
            self._watch(slot, seen_s, off_c, sigma_c)
        else:
            self._event_s.append(slot.time_s)
            self._event_c.append(slot.temp_c - self.before.at(slot.time_s) if self.before else 0.0)
            if self.stage is Stage.WEIGHED:
                turn = self._weigh(slot, seen_s, sigma_c, fastest_c_per_s, climbs=climbs)
            else:
                turn = self._follow(slot, sigma_c)
        self._temps_c.append(slot.temp_c)
        self._times_s.append(slot.time_s)
        self._seen_s = seen_s
        return turn

    def _watch(self, slot: Slot, seen_s: float, off_c: float, sigma_c: float) -> None:
        if abs(off_c) <= _DEVIATIONS * sigma_c + _LEAST_C or len(self._temps_c) < _BEFORE + 1:
            return
        if slot.time_s - self.ended_s < 20.0:
            return
        # The step may have begun in the bucket before: the course is drawn without it.
        times_s, temps_c = list(self._times_s)[:-1][-_BEFORE + 1 :], list(self._temps_c)[:-1][-_BEFORE + 1 :]
        self.before = course_before(times_s, temps_c, times_s[-1])
        self.stage = Stage.WEIGHED
        self._opened_s = slot.time_s
        usual_s = (self._times_s[-1] - self._times_s[0]) / (len(self._times_s) - 1)
        self._saw_onset = seen_s - self._seen_s < _UNSEEN * usual_s
        # What happened while no reading came had all that time.
        self._left_s = min(self._times_s[-1], self._seen_s) - 0.5 * LENGTH_S
        self._event_s = [self._times_s[-1], slot.time_s]
        self._event_c = [
            self._temps_c[-1] - self.before.at(self._times_s[-1]),
            slot.temp_c - self.before.at(slot.time_s),
        ]

    def _weigh(
        self, slot: Slot, seen_s: float, sigma_c: float, fastest_c_per_s: float, *, climbs: bool
    ) -> StoryTurn | None:
        before, off_c = self.before, self._event_c[-1]
        if before is None:
            return None
        lasted_s = max(slot.time_s, seen_s) - self._left_s
        above_c = max(before.level_c - _AMBIENT_C, 0.0)
        cooling = falls_c_per_s(before.level_c)
        if off_c < 0.0:
            could_c = 1.2 * (max(before.c_per_s, 0.0 if before.level_c > _OVEN_C else 0.25) + cooling) * lasted_s
        else:
            could_c = 1.3 * max(fastest_c_per_s - before.c_per_s, 0.3 * fastest_c_per_s + 0.1) * lasted_s
        least_c = max(_SHARE * above_c, _FLOOR_C + 4.0 * sigma_c)
        goes_on = abs(off_c) > least_c and off_c * self._event_c[-2] > 0.0
        at_once = abs(off_c) > could_c and (off_c < 0.0 or off_c > _UP * least_c)
        may_show = lasted_s > _SHAPED_S and self._saw_onset and not self._turns_back(off_c, sigma_c)
        if goes_on and (at_once or (may_show and self._is_shaped(least_c, sigma_c))):
            return self._tell_step(slot, before, lasted_s, sigma_c, fastest_c_per_s, climbs=climbs)
        back = abs(off_c) < 2.0 * sigma_c + _LEAST_C
        if lasted_s > _DECIDED_S or (back and lasted_s > 3.0 * LENGTH_S):
            self.stage = Stage.QUIET
            if not back:
                self.ended_s = self._dropped_s = slot.time_s
                self._dropped_c = off_c
        return None

    def _turns_back(self, off_c: float, sigma_c: float) -> bool:
        """Whether it comes back already: a pot that is heated more does so too, and no turn of the heat fits that."""
        farthest_c = max(abs(value) for value in self._event_c)
        return farthest_c - abs(off_c) > max(_BACK * farthest_c, 2.0 * sigma_c)

    def _is_shaped(self, least_c: float, sigma_c: float) -> bool:
        """Whether what the pot could have done by itself is a step by its shape: at once, and then less and less."""
        fitted = fit_step(self._event_s, self._event_c, self._opened_s, sigma_c)
        odds = turn_misfit(self._event_s, self._event_c, self._opened_s, sigma_c) - fitted.misfit
        return abs(fitted.step_c) > least_c and fitted.step_c * self._event_c[-1] > 0.0 and odds > _STEP_NATS

    def _tell_step(
        self, slot: Slot, before: Course2, lasted_s: float, sigma_c: float, fastest_c_per_s: float, *, climbs: bool
    ) -> StoryTurn | None:
        off_c = self._event_c[-1]
        self.fitted = fit_step(self._event_s, self._event_c, self._opened_s, sigma_c)
        self._judged, self._stands_judged = 0, False
        melts = climbs and abs(beyond_point_c(before.level_c)) < NEAR_C
        held_back = melts and before.c_per_s < 0.3 * fastest_c_per_s
        undone = -self._dropped_c > 0.4 * off_c and slot.time_s - self._dropped_s < _UNDONE_S
        if off_c > 0.0 and (held_back or undone):
            # A plateau's end, or the end of what nobody knew: it explains itself, and is no flame.
            self.stage, self._returned_s, self.cause = Stage.RETURNED, slot.time_s, None
            return None
        self.stage = Stage.TOLD
        self.cause = Cause.LID_OR_PROBE if off_c < 0.0 else Cause.IN_FLAME
        figures = Figures(temp_c=slot.temp_c, change_c=off_c, before_c_per_s=before.c_per_s, lasted_s=lasted_s)
        return StoryTurn(self.cause, None, self._opened_s - LENGTH_S, 5.0, figures)

    def _follow(self, slot: Slot, sigma_c: float) -> StoryTurn | None:
        fitted, before = self.fitted, self.before
        if fitted is None or before is None:
            return None
        lasted_s = slot.time_s - self._opened_s
        off_c = self._event_c[-1]
        falls = self.cause is not Cause.IN_FLAME
        if self.stage is Stage.TOLD:
            if lasted_s <= 60.0:
                self.fitted = fitted = fit_step(self._event_s[:16], self._event_c[:16], self._opened_s, sigma_c)
            if self._has_returned(off_c, falls=falls):
                self.stage = Stage.RETURNED
                self._returned_s = slot.time_s
                self._judged = 0
                if self.cause is not Cause.CHARGE:
                    return StoryTurn(None, Ended.OVER, self._opened_s, 0.0, Figures())
                return None
            if falls and self.cause is Cause.LID_OR_PROBE:
                turn = self._charged(slot, fitted, before, sigma_c, lasted_s)
                if turn is not None:
                    return turn
            if falls and self.cause is Cause.LID_OR_PROBE and lasted_s >= _MOVED_S and not self._stands_judged:
                self._stands_judged = True
                if self._stands(before):
                    self.cause = Cause.PROBE_MOVED
                    figures = Figures(temp_c=slot.temp_c, change_c=off_c, before_c_per_s=before.c_per_s)
                    return StoryTurn(Cause.PROBE_MOVED, None, self._opened_s - LENGTH_S, 3.0, figures)
            if lasted_s > _LONGEST_S:
                self._end(slot.time_s)
                return StoryTurn(None, Ended.OVER, self._opened_s, 0.0, Figures())
            return None
        return self._after_return(slot, before, off_c, falls=falls)

    def _stands(self, before: Course2) -> bool:
        """Whether the step has stood since the lag was over: the pot goes its way, and the probe shows less of it."""
        then_c, now_c = self._event_c[_SETTLED_BUCKET], self._event_c[-1]
        depth = -then_c / max(before.level_c - _AMBIENT_C, 1.0)
        return abs(now_c - then_c) < _STANDS * abs(then_c) and depth < _USUAL_DEPTH

    def _has_returned(self, off_c: float, *, falls: bool) -> bool:
        recent = self._event_c[-1 - _RETURN_BUCKETS :]
        span_c = abs(self.fitted.step_c) if self.fitted else 0.0
        sign = 1.0 if falls else -1.0
        farthest_c = max((-sign * value for value in self._event_c), default=0.0)
        step_c = min(max(span_c, 0.3 * farthest_c), farthest_c)
        lowest_c = min(sign * value for value in recent)
        return sign * off_c - lowest_c > max(_RETURNS * step_c, 3.0) and len(self._event_c) > 3

    def _charged(
        self, slot: Slot, fitted: Fitted, before: Course2, sigma_c: float, lasted_s: float
    ) -> StoryTurn | None:
        if self._judged >= len(_JUDGED_S) or lasted_s < _JUDGED_S[self._judged]:
            return None
        least = _CHARGE_NATS[self._judged]
        self._judged += 1
        lost_c = max(before.c_per_s, 0.0) * lasted_s
        above_c = max(before.level_c - _AMBIENT_C, 1.0)
        depth = (-self._event_c[-1] - 0.5 * lost_c) / above_c
        if depth < _LEAST_DEPTH:
            return None
        if depth - 0.5 * lost_c / above_c > _DEEP:
            return self._tell_charge(slot, before, 5.0)
        times_s, offs_c = self._event_s[:24], self._event_c[:24]
        refitted = fit_step(times_s, offs_c, self._opened_s, sigma_c)
        odds = charge_odds(times_s, offs_c, refitted, sigma_c)
        odds += min(max(_DEPTH_NATS * (depth - _USUAL_DEPTH), -3.0), 3.0)
        return self._tell_charge(slot, before, max(odds, 3.0)) if odds > least else None

    def _tell_charge(self, slot: Slot, before: Course2, log_odds: float) -> StoryTurn:
        self.cause = Cause.CHARGE
        figures = Figures(temp_c=slot.temp_c, change_c=self._event_c[-1], before_c_per_s=before.c_per_s)
        return StoryTurn(Cause.CHARGE, None, self._opened_s - LENGTH_S, log_odds, figures)

    def _after_return(self, slot: Slot, before: Course2, off_c: float, *, falls: bool) -> StoryTurn | None:
        since_s = slot.time_s - self._returned_s
        if self.cause is Cause.LID_OR_PROBE and self._judged < len(_MISSED_S) and since_s >= _MISSED_S[self._judged]:
            self._judged += 1
            open_s = self._returned_s - self._opened_s
            lost_c = 15.0 + (0.9 + 0.7 * max(before.c_per_s, 0.0)) * open_s + max(before.c_per_s, 0.0) * since_s
            if -off_c > lost_c:
                return self._tell_charge(slot, before, 4.0)
        if since_s > (_LONGEST_S if self.cause is Cause.CHARGE else 90.0):
            was = self.cause
            self._end(slot.time_s)
            if was is Cause.CHARGE:
                return StoryTurn(None, Ended.OVER, self._opened_s, 0.0, Figures())
        return None

    def _end(self, time_s: float) -> None:
        self.stage = Stage.QUIET
        self.ended_s = time_s
        self.cause = None
        self._temps_c.clear()
        self._times_s.clear()
