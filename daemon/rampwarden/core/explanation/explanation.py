"""The room's one door: readings in, at most one standing statement out.

Composes; judges nothing itself. In this order: what is none of the heat's (a converter that stands still,
interference); a step of the reading and what becomes of it; the flame; the slow rules. While an event is undecided
nothing else is said, and after a step or a flame lost nothing slow for some minutes.
"""

import math
from collections import deque

from msgspec.structs import replace

from rampwarden.core.explanation.arrival import ProbeRise
from rampwarden.core.explanation.fading_course import FadingCourse
from rampwarden.core.explanation.flicker import Flicker
from rampwarden.core.explanation.known_marks import KnownMarks
from rampwarden.core.explanation.lost_flame import CLIMB_TELLS, SOAK_TELLS, LostFlame
from rampwarden.core.explanation.sensor_doubts import InterferenceSum, StillnessSum
from rampwarden.core.explanation.slots import LENGTH_S, Slot, SlotMeter
from rampwarden.core.explanation.slow import LOOKS_BACK, BurnerRule, HalfMinutes, half_minute_rules
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Context, Ended, Figures, Saying, Statement
from rampwarden.core.explanation.step_story import Stage, StepStory, StoryTurn
from rampwarden.core.schedule import SegmentKind

_BLIND_S = 60.0
"""s without a believed reading, after which no course is drawn on."""
_RECENT = 180
_FASTEST = 1.0 / 180.0
_ARRIVES_S = 300.0
"""s after a transfer in which contact and flame are being settled: nothing is said."""
_QUIET_AFTER_S = 240.0
"""s after a step or a lost flame in which no slow rule is heard."""
_WAVERS_NATS, _STOPPED_NATS = 0.5, 4.0
"""By so much one of the last buckets may lie below, unless the flicker alone says so much that it has stopped."""
_BURNS_NATS = -6.0
"""With the newest flicker speaking so loudly for a flame, none is said to be out whatever the course does."""
_LIT_BELOW_C = 200.0
"""°C. Below it a sudden rise is a burner that is lit. Common practice, no source."""
_OUT_AGAIN_S = 1200.0
_LEARNS_S = 270.0
"""s of a course before its flame can be said to be lost: what burns must have been seen burning."""
_STEPS_FORGOTTEN_S = 900.0
"""s after a step in which no cycle is read from the course: as long as rules look back."""
_HALF, _UNLIT_NATS = 1, 4.0
"""The flicker's sum against half a flame's, and from when on it says that there is none."""
_YOUNG_SAG_S = 200.0
"""s. A sag that has only just been told may have been the lost flame."""
_INSTEAD_NATS = 2.5
"""Nats more that it takes to say a lost flame in the place of another statement."""
_SLOW = frozenset((Cause.FADING, Cause.SAG, Cause.CYCLING, Cause.HEAT_OFF, Cause.LEFT_ON, Cause.PLATEAU))
_LESS_HEAT = frozenset((Cause.FLAME_OUT, Cause.FADING, Cause.SAG, Cause.PLATEAU, Cause.HEAT_OFF))
_RELIGHTS_S = 240.0
_FULL_ON_C_PER_S = 1.3
"""°C/s by which a burner that is lit or turned full on bends the course at most. Own arithmetic."""
_STEPS = frozenset((Cause.LID_OR_PROBE, Cause.CHARGE, Cause.PROBE_MOVED, Cause.IN_FLAME))
# Asked at every bucket, and so looked up once (see `SegmentKind.heats`).
_QUIET, _STUCK, _FLAME_OUT = Stage.QUIET, Cause.STUCK, Cause.FLAME_OUT
_SENSOR = frozenset((Cause.INTERFERENCE, Cause.STUCK))


class Explanation:
    """Explains the last minutes of one heat."""

    def __init__(self) -> None:
        self.statement: Statement | None = None
        """What is said now; at most one thing."""
        self._meter = SlotMeter()
        self._course = FadingCourse()
        self._flicker = Flicker()
        self._flame = LostFlame()
        self._story = StepStory()
        self._interference = InterferenceSum()
        self._stillness = StillnessSum()
        self._rise = ProbeRise()
        self._half_minutes = HalfMinutes(LOOKS_BACK)
        self._rules, self._burner = half_minute_rules(self._half_minutes), BurnerRule()
        self._slow: list[Candidate | None] = [None] * (len(self._rules) + 1)
        """What each rule would say now, the burner's last."""
        self._recent: deque[Slot] = deque(maxlen=_RECENT)
        self._context: Context | None = None
        self._entered_s = -math.inf
        self._marks = KnownMarks()
        self._last_s = -math.inf
        self._fastest_c_per_s = 0.0
        self._quiet_until_s = -math.inf
        self._odds: deque[float] = deque(maxlen=4)
        self._back_s = self._stepped_s = -math.inf
        self._lowest_c_per_s = 0.0
        self._less_heat_s = -math.inf
        self._broken_s = -math.inf
        self._before_c_per_s = 0.0

    def enter(self, context: Context | None, time_s: float) -> None:
        """Take note that a segment begins at `time_s`; None when the heat is over."""
        before, self._context = self._context, context
        self._entered_s = time_s
        if context is not None and (context.after_transfer or context.kind is SegmentKind.TRANSFER):
            self._break(time_s)
            self._rise.arrive(time_s, context.limit)
        elif before is not None and context is not None and context.kind is SegmentKind.COOL:
            self._story.restart()

    def resume(self, time_s: float) -> None:
        """Go on after a time that nobody watched: no course is drawn across it."""
        self._break(time_s)
        self._meter.restart()

    def mark(self, time_s: float, name: str) -> None:
        """Take note of a person's mark (`lid-open`, `charged` …): what is known need not be said."""
        self._marks.take(time_s, name)

    def feed(self, time_s: float, temp_c: float, *, held: bool = False) -> Saying | None:
        """Take a reading (s, °C), believed or `held` by the outlier gate; gives what changes in what is said."""
        slot = self._meter.feed(time_s, temp_c, held)
        return None if slot is None else self.judge(slot)

    def withholds_ramp(self, time_s: float) -> bool:
        """Whether the fit says that the pot itself climbs within its limit though the reading does not: ≤ 90 s."""
        return self._rise.vouches(time_s) and self._context is not None and self._context.kind.heats

    def judge(self, raw: Slot) -> Saying | None:
        """Take a bucket, its mean where its readings' middle lies; gives what changes in what is said."""
        course, story = self._course, self._story
        was_still = self._stillness.told
        self._interference.feed(raw)
        self._stillness.feed(raw)
        if was_still and not self._stillness.told:
            # What stood still says nothing of the course, and the jump after it neither.
            self._break(raw.time_s)
        middle_s = (raw.time_s // LENGTH_S + 0.5) * LENGTH_S
        temp_c = raw.temp_c + course.c_per_s * (middle_s - raw.time_s)
        slot = Slot(middle_s, temp_c, raw.count, raw.held, raw.white_c2, raw.flat)
        gap_s = middle_s - self._last_s
        self._last_s = middle_s
        if gap_s > _BLIND_S:
            self._break(middle_s)
        elif gap_s > 1.6 * LENGTH_S:
            self._flicker.restart()
            self._flame.bridge(round(gap_s / LENGTH_S) - 1, temp_c)
        context = self._context
        sensor_silent = not (self._interference.told or self._stillness.told)
        calm = story.stage is _QUIET and sensor_silent
        off_c = course.feed(middle_s, temp_c, learn=calm)
        sigma_c = math.sqrt(course.scatter_c2)
        self._recent.append(slot)
        self._fastest_c_per_s += _FASTEST * (0.0 - self._fastest_c_per_s)
        if calm and course.c_per_s > self._fastest_c_per_s:
            self._fastest_c_per_s += 0.2 * (course.c_per_s - self._fastest_c_per_s)
        is_heated = context is not None and context.kind.heats
        arriving = self._is_arriving(middle_s)
        turn: StoryTurn | None = None
        self._rise.feed(slot)
        if is_heated and not arriving and course.is_known and sensor_silent:
            fastest = self._fastest_c_per_s
            climbs = context is not None and context.kind is SegmentKind.RAMP
            if self._may_relight(middle_s) or (climbs and course.c_per_s < 0.3 * fastest):
                fastest = max(fastest, course.c_per_s + _FULL_ON_C_PER_S)
            turn = story.feed(slot, raw.time_s, off_c, sigma_c, fastest, climbs=climbs)
        is_out = self.statement is not None and self.statement.cause is Cause.FLAME_OUT
        learns = calm and is_heated and not arriving and not is_out
        self._flicker.feed(temp_c, raw.white_c2 / raw.count, learn=learns)
        odds = self._flame.feed(
            temp_c, context, middle_s - self._entered_s, self._flicker.sums, self._flicker.lean, sigma_c
        )
        self._feed_rules(slot, is_out=is_out)
        if self._stillness.run > 1:
            odds = None
        return self._compose(middle_s, turn, odds, arriving=arriving)

    def _is_arriving(self, time_s: float) -> bool:
        context = self._context
        if context is None:
            return False
        if context.kind is SegmentKind.TRANSFER:
            return True
        return context.after_transfer and time_s - self._entered_s < _ARRIVES_S

    def _may_relight(self, time_s: float) -> bool:
        """Whether the heat is, or was just now, less than it should be: whoever mends that turns it full on."""
        if self.statement is not None and self.statement.cause in _LESS_HEAT:
            self._less_heat_s = time_s
        return time_s - self._less_heat_s < _RELIGHTS_S

    def _feed_rules(self, slot: Slot, *, is_out: bool) -> None:
        closed = self._half_minutes.feed(slot)
        if not closed and self._burner.rests(self._context, slot.time_s):
            return
        glance = Glance(
            slot=slot,
            recent=self._recent,
            level_c=self._course.level_c,
            flicker=self._flicker.share,
            undisturbed_s=self._story.undisturbed_s(slot.time_s),
            undecided=self._story.undecided,
            out=is_out,
            context=self._context,
            entered_s=slot.time_s - self._entered_s,
            marked_s=slot.time_s - self._marks.marked_s,
        )
        if closed:
            self._slow[:-1] = [rule.feed(glance) for rule in self._rules]
        self._slow[-1] = self._burner.feed(glance)

    def _break(self, time_s: float) -> None:
        """Nothing from before counts."""
        self._course.restart()
        self._flicker.restart()
        self._flame.restart()
        self._story.restart()
        self._half_minutes.restart()
        for rule in (*self._rules, self._burner):
            rule.restart()
        self._slow = [None] * len(self._slow)
        self._recent.clear()
        self._quiet_until_s = self._broken_s = time_s

    # What is said

    def _compose(
        self, time_s: float, turn: StoryTurn | None, flame_odds: float | None, *, arriving: bool
    ) -> Saying | None:
        standing = self.statement
        cause = standing.cause if standing is not None else None
        if self._stillness.told or self._interference.told:
            return self._doubt(time_s, standing)
        if cause is _STUCK:
            # What hung leaps when it lets go: that is no step of the heat.
            self._break(time_s)
        if cause in _SENSOR or (cause is not None and arriving):
            return self._withdraw(Ended.OVER)
        if cause in _STEPS and self._story.stage is _QUIET and turn is None:
            return self._withdraw(Ended.OVER)
        if turn is not None:
            return self._step(time_s, turn, standing)
        if cause is _FLAME_OUT:
            return self._follow_flame(time_s, flame_odds)
        if self._story.stage is _QUIET and not arriving and not self._marks.explain(time_s):
            said = self._maybe_flame(time_s, flame_odds, standing)
            if said is not None:
                return said
        return self._hear_rules(time_s, standing, arriving=arriving)

    def _doubt(self, time_s: float, standing: Statement | None) -> Saying | None:
        cause = Cause.STUCK if self._stillness.told else Cause.INTERFERENCE
        if standing is not None and standing.cause is cause:
            return None
        since_s = self._stillness.since_s if self._stillness.told else self._interference.since_s
        odds = self._stillness.log_odds if self._stillness.told else self._interference.log_odds
        figures = self._stillness.figures if self._stillness.told else self._interference.figures
        self._story.restart()
        return self._tell(cause, since_s, time_s, odds, figures)

    def _step(self, time_s: float, turn: StoryTurn, standing: Statement | None) -> Saying | None:
        self._quiet_until_s = time_s + _QUIET_AFTER_S
        self._stepped_s = time_s
        cause = standing.cause if standing is not None else None
        if turn.cause is None:
            if self._story.stage is Stage.RETURNED and cause is not Cause.IN_FLAME:
                limit = None if self._context is None else self._context.limit
                self._rise.regain(time_s, limit, list(self._recent)[-4:])
            return self._withdraw(turn.ended or Ended.OVER) if cause in _STEPS else None
        oven = self._context is not None and not self._context.wants_flame
        # In an oven there is no flame, and under a cold pot it is a burner that is lit.
        flameless = oven or self._recent[-1].temp_c < _LIT_BELOW_C
        if self._marks.explain(time_s) or cause is Cause.FLAME_OUT or (flameless and turn.cause is Cause.IN_FLAME):
            return None
        return self._tell(turn.cause, turn.since_s, time_s, turn.log_odds, turn.figures)

    def _maybe_flame(self, time_s: float, odds: float | None, standing: Statement | None) -> Saying | None:
        context = self._context
        self._odds.append(-math.inf if odds is None else odds)
        learning = time_s < self._broken_s + _LEARNS_S
        if learning and odds is not None and odds > CLIMB_TELLS:
            # What goes out before it has been seen burning for long may be a burner that cycles.
            self._back_s = time_s
        if odds is None or context is None or learning or time_s < self._quiet_until_s - 90.0:
            return None
        least = SOAK_TELLS if context.kind is SegmentKind.SOAK else CLIMB_TELLS
        if standing is not None:
            if standing.cause is Cause.CYCLING:
                return None
            old_sag = standing.cause is Cause.SAG and time_s - standing.told_s > _YOUNG_SAG_S
            falls = standing.cause is Cause.PLATEAU and self._flame.unlikely == 0.0
            least += _INSTEAD_NATS * (3.0 if old_sag else 0.0 if falls else 0.6)
        least += self._flame.unlikely
        # Who has gone out and come back of late may be a burner that cycles.
        least += 4.0 if time_s - self._back_s < _OUT_AGAIN_S else 0.0
        # A flame that is gone stays so: what leaps up and falls back is the noise of a slope.
        leaps = min(self._odds) < least - _WAVERS_NATS and self._flicker.sums[0] < _STOPPED_NATS
        if odds < least or leaps or self._flicker.lean < _BURNS_NATS:
            return None
        self._lowest_c_per_s, self._before_c_per_s = self._flame.now_c_per_s, self._flame.before_c_per_s
        figures = Figures(
            temp_c=self._recent[-1].temp_c,
            before_c_per_s=self._flame.before_c_per_s,
            now_c_per_s=self._flame.now_c_per_s,
        )
        return self._tell(Cause.FLAME_OUT, time_s - 45.0, time_s, odds, figures)

    def _follow_flame(self, time_s: float, odds: float | None) -> Saying | None:
        now = self._flame.now_c_per_s
        self._lowest_c_per_s = min(self._lowest_c_per_s, now)
        before = max(self._before_c_per_s, 0.0)
        back = now - self._lowest_c_per_s > 0.08 + 0.35 * (before - self._lowest_c_per_s) and now > -0.05
        if back or odds is None:
            self._back_s = time_s
            self._quiet_until_s = time_s + _QUIET_AFTER_S
            fell = self._lowest_c_per_s < 0.0 or min(self._flicker.sums) > 3.0
            return self._withdraw(Ended.OVER if fell else Ended.WRONG)
        return None

    def _hear_rules(self, time_s: float, standing: Statement | None, *, arriving: bool) -> Saying | None:
        best: Candidate | None = None
        for candidate in self._slow:
            if candidate is not None and (best is None or candidate.log_odds > best.log_odds):
                best = candidate
        if standing is not None and standing.cause in _SLOW:
            mine = next((one for one in self._slow if one is not None and one.cause is standing.cause), None)
            if mine is None:
                return self._withdraw(Ended.OVER)
            if mine.log_odds < 0.0:
                return self._withdraw(Ended.WRONG)
            self.statement = replace(standing, sure=_sure(mine.log_odds), figures=mine.figures)
            return None
        unlit = self._flicker.sums[_HALF] > _UNLIT_NATS
        if best is not None and best.cause is Cause.PLATEAU and unlit:
            # What stands still without a flame is no metal that melts.
            return None
        if best is not None and best.cause is Cause.CYCLING and time_s - self._stepped_s < _STEPS_FORGOTTEN_S:
            # A lid and what came of it swing too.
            return None
        silent = standing is not None or arriving or self._story.stage is not Stage.QUIET
        # Flames that go out and come back are what a cycle is made of.
        hushed = time_s < self._quiet_until_s and (best is None or best.cause is not Cause.CYCLING)
        if best is None or best.log_odds < LEAST_LOG_ODDS or silent or hushed:
            return None
        return self._tell(best.cause, best.since_s, time_s, best.log_odds, best.figures)

    def _tell(self, cause: Cause, since_s: float, time_s: float, log_odds: float, figures: Figures) -> Saying:
        before = self.statement
        self.statement = Statement(cause, since_s, time_s, _sure(log_odds), figures)
        return Saying(told=self.statement, withdrawn=before, why=Ended.OVER if before is not None else None)

    def _withdraw(self, why: Ended) -> Saying | None:
        before, self.statement = self.statement, None
        return None if before is None else Saying(withdrawn=before, why=why)


def _sure(log_odds: float) -> float:
    """Give a probability from log odds; nothing one probe sees is surer than 0.99."""
    return min(1.0 / (1.0 + math.exp(-min(log_odds, 30.0))), 0.99)
