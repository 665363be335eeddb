"""The heat's passage through its schedule: what begins and ends with a segment, and is said of it.

With each segment the limits, the displayed slope and the time limit change, and some alarms begin or cease to rest. All
of that happens here and nowhere else, whether the temperature or a person moved the heat on.
"""

import math
from collections.abc import Callable
from functools import partial

from rampwarden.core.alarm_entry import names
from rampwarden.core.alarms import segment_text
from rampwarden.core.catalogue import SUPPRESSED_AFTERWARDS, SUPPRESSED_IN_TRANSFER, SUPPRESSED_WHILE_STILL_HOT
from rampwarden.core.diagnosis import Diagnosis
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.heat import HeatProgress, HeatTracker, Milestone, Phase, TimeToGo
from rampwarden.core.instrument import StatedTemperature
from rampwarden.core.limits import HEAT_ALARMS, DisplayedRamp, NoiseMeter, SegmentLimits
from rampwarden.core.model import EventName, Finding, Noise, Ramp
from rampwarden.core.monitor_alarms import SEGMENT_OVERDUE
from rampwarden.core.physics import PHYSICS_ALARMS
from rampwarden.core.pot import Place
from rampwarden.core.pot_keeper import PotKeeper
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.two_probes import TWO_PROBE_ALARMS
from rampwarden.core.usual_marks import ARRIVED, LEAVE_AS_IT_IS, TRANSFER, go_on_with, usual_name
from rampwarden.core.watching.alarm_reports import AlarmReports
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.explaining import Explaining
from rampwarden.core.watching.questions import AskedQuestions
from rampwarden.core.watching.withholding import Withholding

# Asked at every reading, and so looked up once (see `SegmentKind.heats`).
_APPROACHING = Phase.APPROACHING
_OVERDUE_ALARMS = (SEGMENT_OVERDUE.name,)
_ENDING_ALARMS = (
    *names(HEAT_ALARMS),
    *names(TOLD_ALARMS),
    *names(PHYSICS_ALARMS),
    *names(TWO_PROBE_ALARMS),
    *_OVERDUE_ALARMS,
)
"""What is over when the heat is."""


class SchedulePassage:
    """Brings one heat through its schedule. Its public state is for reading only.

    `limits` judges the present segment, None before the first temperature and after the last; `overdue_due_s` is when
    the present segment's time limit passes, s; `done` says that the schedule is, with the pot perhaps still hot;
    `segment_end` is what was read where the last segment ended. `top_c` is the highest temperature that the crucible's
    maker allows, °C; `place` is where the probe hangs, if anybody has said; `stated` gives the present temperature with
    its uncertainty; `close` is called when the heat is over.
    """

    def __init__(
        self,
        tracker: HeatTracker,
        events: EventList,
        alarms: AlarmReports,
        explaining: Explaining,
        withholding: Withholding,
        diagnosis: Diagnosis,
        pot: PotKeeper,
        noise: NoiseMeter,
        to_go: TimeToGo,
        questions: AskedQuestions,
        top_c: float | None,
        place: str,
        stated: Callable[[], StatedTemperature | None],
        close: Callable[[], None],
    ) -> None:
        self._tracker, self._schedule = tracker, tracker.schedule
        self._events, self._alarms = events, alarms
        self._explaining, self._withholding = explaining, withholding
        self._diagnosis, self._pot, self._noise, self._to_go = diagnosis, pot, noise, to_go
        self._questions = questions
        self._top_c, self._place = top_c, place
        self._stated, self._close = stated, close
        self._drawn: DisplayedRamp | None = None
        self._lifted_c: float | None = None
        self._lifted_s = 0.0
        self.limits: SegmentLimits | None = None
        self.overdue_due_s = math.inf
        self.done = False
        self.segment_end: StatedTemperature | None = None

    @property
    def ramp(self) -> Ramp | None:
        """The displayed slope; None in the first minute of anything, when it is not known yet."""
        return None if self._drawn is None else self._drawn.known

    @property
    def approaching(self) -> bool:
        """Whether a soak has never been in its band yet."""
        return self._tracker.phase is _APPROACHING

    @property
    def probe_pulled(self) -> bool:
        """Whether the schedule is done and the probe was pulled from a pot that cools."""
        return self.done and self._tracker.probe_pulled

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a believed temperature (°C) at `time_s` (s)."""
        reached = self._tracker.feed(time_s, temp_c)
        if reached:
            self._go_on(reached, time_s)
        if self._pot.clocks.changes:
            self.tell_credit()

    def draw(self, time_s: float, temp_c: float, noise: Noise) -> None:
        """Let the displayed slope go through a believed temperature (°C) at `time_s` (s)."""
        if self._drawn is not None:
            self._drawn.feed(time_s, temp_c, noise)

    def skip(self) -> None:
        """End the present segment on a person's word; raises `HeatTransitionError` where there is none."""
        now_s = self._events.now_s
        self._go_on(self._tracker.skip(now_s), now_s)

    def mark(self, what: str) -> None:
        """Take a person's mark: one that says what the schedule waits for moves it on.

        Given where the schedule waits for something else, it asks what is meant: a heat is never moved by a guess, and
        a mark that does nothing is not passed over in silence.
        """
        name, index = usual_name(what), self._tracker.index
        if name not in (TRANSFER, ARRIVED) or self._tracker.segment is None or self.done:
            return
        if self._is_transfer(index + 1 if name == TRANSFER else index):
            self.skip()
        elif not self._is_known_already(name, index):
            self._ask_what_is_meant(name, index)

    def _is_known_already(self, name: str, index: int) -> bool:
        """Whether a mark only says what the watch has seen by itself: the pot is on its way, or has just arrived."""
        return self._is_transfer(index) if name == TRANSFER else index > 0 and self._is_transfer(index - 1)

    def _ask_what_is_meant(self, name: str, index: int) -> None:
        segments = self._schedule.segments
        ahead = next((each for each in range(index + 1, len(segments)) if self._is_transfer(each)), None)
        leads = len(segments) if ahead is None else ahead if name == TRANSFER else ahead + 1
        meant: dict[str, Callable[[], None]] = {}
        if ahead is not None and leads < len(segments):
            meant[go_on_with(segments[leads].name)] = partial(self._go_on_to, leads)
        elif index + 1 < len(segments):
            meant[go_on_with(segments[index + 1].name)] = self.skip
        meant[LEAVE_AS_IT_IS] = _do_nothing
        self._questions.ask(f"{name!r} was marked in {segments[index].name!r}. What is meant?", meant=meant)

    def _go_on_to(self, index: int) -> None:
        while self._tracker.index < index:
            self.skip()

    def finish(self) -> None:
        """End the heat on a person's word."""
        self._tracker.finish()
        self._leave()

    def resume(self) -> None:
        """Go on after a blind time: no slope is drawn across it; the levels on both sides bound what was climbed."""
        self._withholding.restart()
        self._to_go.resume(self._events.now_s)
        if self._drawn is not None:
            self._drawn.restart()
        if self.limits is not None:
            self.limits.resume(self._events.now_s)

    def tick(self, now_s: float) -> None:
        """The present segment's time limit has passed at `now_s` (s)."""
        self.overdue_due_s = math.inf
        segment = self._tracker.segment
        if segment is not None and segment.within_s is not None:
            what = f"{segment.name!r} has run past its {format_duration(segment.within_s)}"
            lasted_s = now_s - self._tracker.started_s
            finding = Finding(round(lasted_s, 1), segment.within_s, "s", what)
            self._alarms.judge(_OVERDUE_ALARMS, {SEGMENT_OVERDUE.name: finding})

    def overdue_so_far(self, now_s: float) -> dict[str, Finding]:
        """Give by how much the present segment is overdue at `now_s` (s); nothing while it is not."""
        overdue_s, segment = self._tracker.overdue_s, self._tracker.segment
        if overdue_s is None or now_s < overdue_s or segment is None or segment.within_s is None:
            return {}
        lasted_s = now_s - self._tracker.started_s
        what = f"{segment.name!r} has run for {format_duration(lasted_s)}, past its {format_duration(segment.within_s)}"
        return {SEGMENT_OVERDUE.name: Finding(round(lasted_s, 1), segment.within_s, "s", what)}

    def tell_credit(self) -> None:
        """Say what was taken back of a soak, not confirmed, or confirmed."""
        for index, text in self._pot.news():
            credited = f"{self._schedule.segments[index].name} · {text}"
            self._events.answers.note_message(self._events.now_s, credited, is_account=True)
            self._events.say(EventName.OBSERVED, credited, index)

    def _go_on(self, reached: list[HeatProgress], time_s: float) -> None:
        for step in reached:
            segment = self._schedule.segments[step.index]
            if step.milestone is Milestone.SEGMENT_STARTED:
                self._enter(step.index, time_s)
                self._events.say(EventName.SEGMENT_STARTED, segment_text(self._schedule, step.index), step.index)
            elif step.milestone is Milestone.SOAK_COMPLETE:
                text = f"{segment.name} · soaked for {format_duration(segment.hold_s)} in its band"
                if self._place == Place.CHAMBER.value:
                    text += " by the chamber, and the pot comes after it"
                unconfirmed_s = self._pot.clocks.unconfirmed_s(step.index)
                if unconfirmed_s > 0.0:
                    text += f", {format_duration(unconfirmed_s)} of it not confirmed"
                self._events.say(EventName.SOAK_COMPLETE, text, step.index)
            elif step.milestone is Milestone.SCHEDULE_DONE:
                self._cool_down()
                until = f"cooling, still watched until below {self._schedule.cold_c:.0f} °C"
                self._events.say(EventName.SCHEDULE_DONE, f"the schedule is done · {until}", step.index)
            else:
                self._leave()
                what = "the pot is cold" if self.done else "the schedule is done"
                self._events.say(EventName.HEAT_COMPLETE, what, step.index)

    def _enter(self, index: int, time_s: float) -> None:
        # With the slope up to here: the next one is drawn afresh.
        self.segment_end = self._stated()
        self._pot.enter(index, time_s)
        self._questions.enter(index, time_s)
        self._to_go.enter(index, time_s)
        self.limits = SegmentLimits(self._schedule, index, time_s, self.limits, self._slope_before(index), self._top_c)
        window_s = self.limits.display_window_s
        arrives = index > 0 and self._is_transfer(index - 1)
        if self._drawn is None or window_s != self._drawn.window_s or arrives:
            self._drawn = DisplayedRamp(window_s)
        overdue_s = self._tracker.overdue_s
        self.overdue_due_s = math.inf if overdue_s is None else overdue_s
        self._alarms.judge(_OVERDUE_ALARMS, {})
        self._diagnosis.enter(index)
        self._explaining.enter(index, time_s)
        if self._is_transfer(index):
            self._lifted_c = None if self.segment_end is None else self.segment_end.temp_c
            self._lifted_s = time_s
        if arrives:
            if self._lifted_c is not None:
                self._withholding.expect_arrived(self._lifted_c, time_s - self._lifted_s, time_s)
            # From a quiet oven into a flame: what the oven's readings scattered by would make every flicker a ramp.
            self._noise.begin_anew()
        self._alarms.rest(SUPPRESSED_IN_TRANSFER if self._is_transfer(index) else frozenset())

    def _cool_down(self) -> None:
        """Go on watching a pot that is still hot: what cools too fast or grows too hot is told until it is cold."""
        self.done = True
        self._end_segments()
        self._alarms.judge((*names(TOLD_ALARMS), *_OVERDUE_ALARMS), {})
        if self.limits is not None:
            self.limits.cool_down()
        self._alarms.rest(SUPPRESSED_WHILE_STILL_HOT, schedule_done=True)

    def _leave(self) -> None:
        self.limits = None
        self._end_segments()
        self._questions.end()
        self._alarms.judge(_ENDING_ALARMS, {})
        self._alarms.rest(SUPPRESSED_AFTERWARDS, schedule_done=True)
        self._close()

    def _end_segments(self) -> None:
        """No segment asks for anything any more."""
        self._questions.enter(None, self._events.now_s)
        self._to_go.enter(None, self._events.now_s)
        self.overdue_due_s = math.inf
        self._diagnosis.enter(None)
        self._explaining.enter(None, self._events.now_s)
        self._withholding.restart()
        self.segment_end = self._stated()

    def _slope_before(self, index: int) -> float:
        """Give the ramp at the corner where segment `index` begins, °C/s; none is taken over from a carried probe."""
        carried = index == 0 or self._is_transfer(index - 1)
        drawn = None if self._drawn is None else self._drawn.drawn
        return 0.0 if carried or drawn is None else drawn.c_per_s

    def _is_transfer(self, index: int) -> bool:
        segments = self._schedule.segments
        return index < len(segments) and segments[index].kind is SegmentKind.TRANSFER


def _do_nothing() -> None:
    """A mark that only was to stand in the record."""
