"""The core's one door: readings, commands and news of the board in, events out.

Theory of operation. Time is data: every input carries `time_s`, and `advance` says that nothing else came until then.
Everything that ends by itself (silence, alarm delays, a segment's time limit) ends on a grid of whole seconds inside
`advance`, and `feed` advances first. So however the same inputs are cut into calls, the same events come out: a live
heat, its replay and a rehearsal take one path. The clock starts with the first input and never runs back; a reading
dated before it (a board that was late) is measured at its own time and answered at the clock's.

The monitor composes the stages, which do not know each other, and brings each reading through them; what happens on the
way to alarms, segments, commands and silence stands in `watching`. It judges nothing.
"""

import math
from functools import partial

from rampwarden.core.alarm_entry import names
from rampwarden.core.diagnosis import DIAGNOSES, SENSOR_NOISY, SENSOR_REVERSED, SENSOR_STUCK, Diagnosis
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.heat import PULLED_WITHIN_S, HeatTracker, Phase, TimeToGo
from rampwarden.core.instrument import (
    SENSOR_ALARMS,
    SENSOR_INTERMITTENT,
    InstrumentChain,
    StatedTemperature,
    as_other_types,
    sensor_findings,
)
from rampwarden.core.limits import HEAT_ALARMS, NOT_HEATING, Edges, NoiseMeter, SegmentLimits, mark_eased, tightest
from rampwarden.core.model import (
    Command,
    EarlierHeat,
    Event,
    EventName,
    Finding,
    HeatStatus,
    Input,
    Measurement,
    Notice,
    NoticeName,
    PotReadiness,
    ProbeReading,
    ProbeStatus,
    Quality,
    Reading,
    StandInState,
)
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import PotAccount, Readiness, readiness_sentence, reason_sentences
from rampwarden.core.pot_keeper import PotKeeper
from rampwarden.core.schedule import Schedule
from rampwarden.core.watching import (
    SIGNAL_ALARMS,
    AlarmReports,
    AskedQuestions,
    EventList,
    Explaining,
    Orders,
    OtherProbes,
    PotPhysics,
    ProbesTogether,
    SchedulePassage,
    SilenceWatch,
    StandingIn,
    Withholding,
    heat_status,
    probe_alarms,
    unseen,
)

_HEAT_ALARMS = names(HEAT_ALARMS)
_SENSOR_ALARMS = names(SENSOR_ALARMS)
_DIAGNOSES = names((*DIAGNOSES, *TOLD_ALARMS))
# What already says why the temperature falls: the bare fact beside it would be one order too many.
_SAYS_WHY_IT_FALLS = names((*TOLD_ALARMS, SENSOR_REVERSED))
# Asked at every reading, and so looked up once (see `SegmentKind.heats`).
_GOOD = Quality.GOOD
_EXPLAINS_NOTHING = names((SENSOR_STUCK, SENSOR_REVERSED))


class Monitor:
    """Watches one heat against one schedule."""

    def __init__(self, schedule: Schedule, parameters: MonitorParameters | None = None) -> None:
        self._parameters = parameters = parameters or MonitorParameters()
        self.calibration = parameters.calibration
        self.schedule = schedule
        self._instrument = InstrumentChain(
            parameters.thermocouple_type, parameters.tolerance_class, parameters.calibration
        )
        self._noise = NoiseMeter()
        self._pot = PotKeeper(schedule, parameters)
        self._tracker = HeatTracker(schedule, self._pot.clocks)
        self._diagnosis = Diagnosis(schedule, partial(as_other_types, parameters.thermocouple_type))
        self._to_go = TimeToGo(schedule)
        self._events = EventList(schedule, self._tracker)
        alarms = {**parameters.alarms, **probe_alarms(parameters)} if parameters.probes else parameters.alarms
        self._alarms = AlarmReports(alarms, parameters.out_of_service, self._events)
        self._others = OtherProbes(parameters, self._alarms)
        self._silence = SilenceWatch(parameters.signal_lost_s)
        self._withholding = Withholding(self._events, self._noise.begin_anew)
        odd = self._diagnosis.stillness_is_odd
        self._explaining = Explaining(schedule, self._events, self._withholding, odd, self._scatters, self._intermits)
        self._diagnosed: dict[str, Finding] = {}
        self._questions = AskedQuestions(schedule, self._events)
        self._passage = SchedulePassage(
            self._tracker,
            self._events,
            self._alarms,
            self._explaining,
            self._withholding,
            self._diagnosis,
            self._pot,
            self._noise,
            self._to_go,
            self._questions,
            parameters.top_c,
            parameters.place,
            self.stated,
            self.close,
        )
        self.physics = PotPhysics(
            parameters,
            self._events,
            self._tracker,
            self._passage,
            self._alarms,
            self._explaining,
            self._pot.shown_dry,
        )
        self._together = ProbesTogether(
            parameters, self._events, self._tracker, self._passage, self._alarms, self.physics.take_pair
        )
        self._standing_in = StandingIn(parameters, self._events, self._alarms, self._tracker, self._passage, self._pot)
        self._orders = Orders(
            self._events,
            self._alarms,
            self._passage,
            self._silence,
            self._explaining,
            self._diagnosis,
            self._noise,
            self._pot,
            self.physics,
            self._questions,
        )
        self.highest_c: float | None = None
        self._ready: PotReadiness | None = None
        self._pulled_since_s: float | None = None

    def feed(self, item: Input) -> list[Event]:
        """Take one reading, command, notice or clock mark, and give the events it caused, oldest first.

        `item.time_s` is seconds since the heat began; a reading carries µV and the junction's °C, or °C. The clock runs
        up to it first, so events of the time before are among those given; a time in the past moves nothing back. A
        command that cannot be carried out raises nothing: it becomes a `command-refused` event. The list is the
        caller's own, and empty for nearly every reading.
        """
        if self._events.time_s is None:
            self._start(item.time_s)
        self._run_to(item.time_s)
        if isinstance(item, Reading):
            self._read(item)
        elif isinstance(item, Command):
            self._orders.obey(item)
        elif isinstance(item, Notice):
            (self._others if item.board else self._orders).heed(item)
            if item.notice is NoticeName.WATCH_RESUMED:
                self._together.resume()
                self._standing_in.resume()
        elif isinstance(item, ProbeReading):
            self._read_other(item)
        elif isinstance(item, EarlierHeat):
            self._to_go.remember(item)
        return self._events.taken()

    def advance(self, time_s: float) -> list[Event]:
        """Let the clock run to `time_s`, s since the heat began, and give the events it caused, oldest first.

        Call it while nothing comes, so that silence, delays and time limits are noticed. Before the first input, and
        for a time already past, nothing happens. Raises nothing.
        """
        if self._events.time_s is not None:
            self._run_to(time_s)
        return self._events.taken()

    def status(self) -> HeatStatus:
        """Give where the heat stands now."""
        return heat_status(
            self._events.now_s,
            self._standing_in.measurement or self._instrument.shown,
            self._tracker,
            self._passage,
            self._pot.clocks,
            self._alarms.standing(self._so_far()),
            self._ready,
            self._explaining.standing,
            self._withholding.withheld,
            self._parameters.place,
            self._to_go,
            self.physics,
            self._others.statuses(),
            self.standing_in,
            self._questions.open,
            self._orders.watched_by,
        )

    def _so_far(self) -> dict[str, Finding]:
        """Give what time alone goes on making worse of alarms that were judged once."""
        now_s, alarms = self._events.now_s, self._alarms
        if not alarms.raised:
            return {}
        silence = self._silence.so_far(now_s, schedule_done=self._passage.done)
        return {**silence, **self._passage.overdue_so_far(now_s)}

    @property
    def time_s(self) -> float | None:
        """The clock, s since the heat began; None before the first input."""
        return self._events.time_s

    @property
    def segment_end(self) -> StatedTemperature | None:
        """What was read where the last segment ended, with its uncertainty."""
        return self._passage.segment_end

    @property
    def measurement(self) -> Measurement | None:
        """The last reading, measured and judged; None before the first."""
        return self._instrument.last

    @property
    def followed(self) -> Measurement | None:
        """What the heat is followed by: the last reading, or what is guessed while another probe stands in."""
        return self._standing_in.measurement or self._instrument.last

    @property
    def standing_in(self) -> StandInState | None:
        """Which probe stands in for the followed one, and what its guess is worth; None while none does."""
        return self._standing_in.state(self._instrument.expanded_uncertainty_c)

    def probe(self, name: str) -> ProbeStatus | None:
        """Give where another probe stands; None where none is called so."""
        return self._others.status(name)

    @property
    def limits(self) -> SegmentLimits | None:
        """What the present segment is judged by, for reading only; None before the first temperature and at the end."""
        return None if self._passage.done else self._passage.limits

    def edges(self) -> Edges:
        """Give where the limits let the temperature be, by the last believed reading."""
        limits = self._passage.limits
        return Edges() if limits is None else tightest(limits.edges())

    @property
    def earlier_heats(self) -> tuple[str, ...]:
        """The ids of the earlier heats it has been told of."""
        return self._to_go.earlier_heats

    @property
    def soaked_s(self) -> float:
        """The soak clock of the present segment, s."""
        return self._tracker.soaked_s

    def account(self) -> PotAccount:
        """Give what this heat has shown of its pot so far; to ask changes nothing."""
        return self._pot.account(self._events.now_s, self.expanded_uncertainty_c)

    def readiness(self) -> Readiness:
        """Give what the pot is ready for after what has been seen so far, as the register knew it before."""
        return self._pot.readiness(self.account())

    def close(self) -> None:
        """The record is closed now: what comes after is not of this heat."""
        if self._ready is None:
            self._pot.close(self._events.now_s)
            readiness = self.readiness()
            sentence, reasons = readiness_sentence(readiness), reason_sentences(readiness)
            self._ready = PotReadiness(readiness.ready.value, sentence, reasons)

    def stated(self) -> StatedTemperature | None:
        """Give the present temperature and ramp with their standard uncertainty; None while there is no temperature."""
        standing_in = self._standing_in
        guess, off_c = standing_in.measurement, standing_in.off_c
        noise = self._noise.noise if guess is None else standing_in.noise.noise
        return self._instrument.stated(self._passage.ramp, noise, self._diagnosis.junction_c_per_s, guess, off_c)

    def expanded_uncertainty_c(self, temp_c: float) -> float:
        """Give how far a temperature of this heat (°C) may be off, ± °C (k = 2), as everything else states it."""
        return math.hypot(self._instrument.expanded_uncertainty_c(temp_c), self._standing_in.worst_off_c)

    @property
    def complete(self) -> bool:
        """Whether the heat has run its schedule or was ended."""
        return self._tracker.phase is Phase.COMPLETE

    # Time

    def _start(self, time_s: float) -> None:
        self._events.time_s = time_s
        self._silence.heard(time_s)
        self._others.begin(time_s)
        self._events.say(EventName.HEAT_STARTED, f"watching: {self.schedule.title}")
        self._questions.begin()

    def _run_to(self, time_s: float) -> None:
        """Run the grid up to `time_s`, going straight to the seconds at which something is due."""
        events = self._events
        while True:
            due_s = min(
                self._alarms.due_s,
                self._silence.due_s,
                self._passage.overdue_due_s,
                self._others.due_s,
                self._standing_in.due_s,
                self._questions.due_s,
            )
            if due_s > time_s:
                break
            # The next whole second that has not been yet, if what is due was due before.
            tick_s = max(math.ceil(due_s), math.floor(events.now_s) + 1)
            if tick_s > time_s:
                break
            events.time_s = float(tick_s)
            self._tick(events.time_s)
        if time_s > events.now_s:
            events.time_s = time_s

    def _tick(self, now_s: float) -> None:
        if now_s >= self._silence.due_s:
            self._alarms.judge(SIGNAL_ALARMS, self._silence.judge(now_s, schedule_done=self._passage.done))
        if now_s >= self._passage.overdue_due_s:
            self._passage.tick(now_s)
        if now_s >= self._others.due_s:
            self._others.tick(now_s)
        if now_s >= self._standing_in.due_s:
            self._standing_in.tick()
        if now_s >= self._questions.due_s:
            self._questions.tick(now_s)
        self._alarms.tick(now_s)

    # Readings

    def _read(self, reading: Reading) -> None:
        self._silence.heard(self._events.now_s)
        measurement, range_fault = self._instrument.measure(reading)
        alarms = self._alarms
        if alarms.engaged or self._passage.done:
            alarms.judge(SIGNAL_ALARMS, self._unseen(measurement))
        found = sensor_findings(reading, range_fault, self._parameters.junction_range_c, alarms.raised)
        intermittence = self._instrument.intermittence
        if intermittence.seconds > 0.0:
            if alarms.is_meaningless:
                intermittence.excuse()
            elif (too_few := intermittence.finding()) is not None:
                found[SENSOR_INTERMITTENT.name] = too_few
        alarms.judge(_SENSOR_ALARMS, found)
        temp_c = measurement.temp_c
        if measurement.quality is _GOOD and temp_c is not None:
            if self._standing_in.follow(reading.time_s, temp_c):
                self._take(reading.time_s, temp_c)
            elif self._explaining.feed(reading.time_s, temp_c, held=False):
                self._judge_course()
            self._diagnose(reading, temp_c)
        elif temp_c is not None and self._explaining.feed(reading.time_s, temp_c, held=True):
            self._judge_course()
        self.physics.burn(reading.time_s)
        alarms.rest_in_doubt()

    def _read_other(self, reading: ProbeReading) -> None:
        measurement = self._others.take(reading, self._events.now_s)
        if measurement is None:
            return
        if measurement.quality is Quality.GOOD and measurement.temp_c is not None:
            self._together.feed_beside(measurement.time_s, reading.probe, measurement.temp_c)
            self.physics.feed_beside(reading.probe, measurement.temp_c)
        standing_in = self._standing_in
        if reading.probe != standing_in.probe:
            return
        moved_s = self._explaining.left_place_s(self._events.now_s)
        if standing_in.stand_in(measurement, self._noise.noise.interval_s, moved_s):
            self._take_guess(measurement.time_s)

    def _take_guess(self, time_s: float) -> None:
        """Bring what is guessed of the followed probe's temperature through the stages that judge it."""
        standing_in, passage, alarms = self._standing_in, self._passage, self._alarms
        temp_c, claimed_c = standing_in.bounds_c()
        noise = standing_in.noise.noise
        self._pot.feed(time_s, claimed_c)
        self.physics.worth(time_s)
        self._to_go.feed(time_s, temp_c, None)
        passage.feed(time_s, temp_c)
        if not standing_in.goes_on(time_s):
            return
        passage.draw(time_s, temp_c, noise)
        limits = passage.limits
        if limits is not None:
            doubt = standing_in.level_doubt(time_s)
            found = limits.feed(
                time_s, temp_c, noise, approaching=passage.approaching, raised=alarms.raised, doubt=doubt
            )
            if found:
                self._pot.found(time_s, temp_c, found)
            alarms.judge(_HEAT_ALARMS, found)

    def _unseen(self, measurement: Measurement) -> dict[str, Finding]:
        if not self._passage.done or self.complete:
            return {}
        too_few = self._instrument.intermittence.doubted_since_s is not None
        return unseen(measurement, probe_pulled=self._tracker.probe_pulled, too_few=too_few)

    def _take(self, time_s: float, temp_c: float) -> None:
        """Bring one accepted temperature through the stages."""
        if self.highest_c is None or temp_c > self.highest_c:
            self.highest_c = temp_c
        self._noise.feed(time_s, temp_c)
        noise, passage, alarms = self._noise.noise, self._passage, self._alarms
        self._pot.feed(time_s, temp_c)
        self._to_go.feed(time_s, temp_c, None if self._instrument.last is None else self._instrument.last.junction_c)
        passage.feed(time_s, temp_c)
        passage.draw(time_s, temp_c, noise)
        self.physics.feed(time_s, temp_c)
        self._together.feed(time_s, temp_c)
        if self._explaining.feed(time_s, temp_c, held=False):
            self._judge_course()
        limits = passage.limits
        if limits is not None:
            doubt = self._standing_in.level_doubt(time_s)
            found = limits.feed(
                time_s, temp_c, noise, approaching=passage.approaching, raised=alarms.raised, doubt=doubt
            )
            if passage.probe_pulled:
                # A probe out of its place says nothing of the pot, and must order nothing for it.
                found = {}
            if NOT_HEATING.name in found and any(name in alarms.stated for name in _SAYS_WHY_IT_FALLS):
                del found[NOT_HEATING.name]
            vouched = self._explaining.vouches_for_pot(time_s)
            self._withholding.feed(time_s, temp_c, limits, found, alarms.raised, vouched=vouched)
            if found:
                mark_eased(found, passage.ramp, limits.climb_limits)
                self._explaining.add_reason(found)
                self.physics.add_reason(time_s, found)
                self._pot.found(time_s, temp_c, found)
            alarms.judge(_HEAT_ALARMS, found)

    def _diagnose(self, reading: Reading, temp_c: float) -> None:
        raw = temp_c if reading.emf_uv is None else reading.emf_uv
        lids = (self._explaining.lid_s, self._explaining.otherwise_s)
        diagnosed = self._diagnosis.feed(reading.time_s, raw, temp_c, reading.junction_c, self._noise.noise, lids)
        if diagnosed is not None:
            if not diagnosed.keys().isdisjoint(_EXPLAINS_NOTHING):
                # Seen upside down or not at all, a furnace is not explained; and what lets go leaps.
                self._explaining.resume(reading.time_s)
            self._diagnosed = diagnosed
            self._judge_course()
            doubted_since_s = self._doubted_since_s(reading.time_s)
            self._standing_in.doubt(doubted_since_s)
            if not self._standing_in.active:
                self._pot.worth(reading.time_s, doubted_since_s, self._diagnosis.still_since_s)
            self.physics.worth(doubted_since_s)
            if self._pot.clocks.changes:
                self._passage.tell_credit()

    def _scatters(self) -> bool:
        return SENSOR_NOISY.name in self._diagnosed

    def _intermits(self) -> bool:
        return SENSOR_INTERMITTENT.name in self._alarms.raised

    def _judge_course(self) -> None:
        """Judge what the course says of the sensor, and what explains it."""
        explained = self._explaining.findings
        self._alarms.judge(_DIAGNOSES, {**self._diagnosed, **explained} if explained else self._diagnosed)

    def _doubted_since_s(self, time_s: float) -> float | None:
        """Give since when readings say nothing of the pot, s: sensor in doubt, or probe out of its place."""
        if not self._passage.probe_pulled:
            self._pulled_since_s = None
            doubts_s = [
                self._diagnosis.doubted_since_s,
                self._together.doubted_since_s,
                self._instrument.intermittence.doubted_since_s,
            ]
            if self._explaining.says_stuck:
                doubts_s.append(self._diagnosis.stands_since_s)
            return min((since_s for since_s in doubts_s if since_s is not None), default=None)
        if self._pulled_since_s is None:
            self._pulled_since_s = time_s - PULLED_WITHIN_S
        return self._pulled_since_s


def _earlier(first_s: float | None, second_s: float | None) -> float | None:
    """Give the earlier of two times, s; None where neither is known."""
    if first_s is None or second_s is None:
        return second_s if first_s is None else first_s
    return min(first_s, second_s)
