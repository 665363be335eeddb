"""The core's one door: readings, commands and news of the board in, events out.

Theory of operation. Time is data: every input carries `time_s`, and `advance` says that nothing else came until then.
Everything that ends by itself (silence, alarm delays, a segment's time limit) ends on a grid of whole seconds inside
`advance`, and `feed` advances first. So however the same inputs are cut into calls, the same events come out: a live
heat, its replay and a rehearsal take one path. The clock starts with the first input and never runs back; a reading
dated before it (a board that was late) is measured at its own time and answered at the clock's.

The monitor composes the stages, which do not know each other, and turns what they find into events. It judges nothing.
"""

import math
from functools import partial

from rampwarden.core.alarm_entry import names
from rampwarden.core.alarms import AlarmChange, AlarmDesk, AlarmInput, AnswerBook, alarm_text, segment_text
from rampwarden.core.catalogue import (
    CATALOGUE,
    DOUBTING,
    MEANINGLESS,
    SUPPRESSED_AFTERWARDS,
    SUPPRESSED_IN_DOUBT,
    SUPPRESSED_IN_TRANSFER,
    SUPPRESSED_WHILE_STILL_HOT,
    orders_in_doubt,
)
from rampwarden.core.diagnosis import (
    DIAGNOSES,
    FLAME_OUT,
    HEAT_DIAGNOSES,
    HEAT_FAILING,
    SENSOR_REVERSED,
    Diagnosis,
)
from rampwarden.core.heat import (
    PULLED_WITHIN_S,
    HeatProgress,
    HeatTracker,
    Milestone,
    Phase,
    TimeToGo,
)
from rampwarden.core.instrument import (
    SENSOR_ALARMS,
    InstrumentChain,
    StatedTemperature,
    as_other_types,
    sensor_findings,
)
from rampwarden.core.limits import HEAT_ALARMS, NOT_HEATING, Edges, NoiseMeter, SegmentLimits, SlopeFit, tightest
from rampwarden.core.model import (
    Command,
    CommandName,
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
    Quality,
    Ramp,
    Reading,
)
from rampwarden.core.monitor_alarms import (
    BOARD_RESTARTED,
    BROKER_UNREACHABLE,
    COOLING_UNSEEN,
    OUTPUT_FAILING,
    RECORD_FAILING,
    SEGMENT_OVERDUE,
    SIGNAL_LOST,
)
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import Place, PotAccount, Readiness, readiness_sentence, reason_sentences
from rampwarden.core.pot_keeper import PotKeeper
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.errors import AlarmTransitionError, HeatTransitionError

_HEAT_ALARMS = names(HEAT_ALARMS)
_SENSOR_ALARMS = names(SENSOR_ALARMS)
_DIAGNOSES = names(DIAGNOSES)
# What already says why the temperature falls: the bare fact beside it would be one order too many.
_SAYS_WHY_IT_FALLS = names((FLAME_OUT, HEAT_FAILING, SENSOR_REVERSED))
_SIGNAL_ALARMS = (SIGNAL_LOST.name, COOLING_UNSEEN.name)
_OVERDUE_ALARMS = (SEGMENT_OVERDUE.name,)
_RECORD_ALARMS = (RECORD_FAILING.name,)
_BROKER_ALARMS = (BROKER_UNREACHABLE.name,)
_ENDING_ALARMS = (*_HEAT_ALARMS, *names(HEAT_DIAGNOSES), *_OVERDUE_ALARMS)
"""What is over when the heat is."""


class Monitor:
    """Watches one heat against one schedule."""

    def __init__(self, schedule: Schedule, parameters: MonitorParameters | None = None) -> None:
        self._parameters = parameters or MonitorParameters()
        self.calibration = self._parameters.calibration
        self._instrument = InstrumentChain(
            self._parameters.thermocouple_type,
            self._parameters.tolerance_class,
            self._parameters.calibration,
        )
        self._noise = NoiseMeter()
        self._pot = PotKeeper(schedule, self._parameters)
        self._tracker = HeatTracker(schedule, self._pot.clocks)
        self._to_go = TimeToGo(schedule)
        self.schedule = schedule
        # A record made before an alarm was thought of carries a catalogue without it.
        self._catalogue = {**CATALOGUE, **self._parameters.alarms}
        self._desk = AlarmDesk(self._catalogue, self._parameters.out_of_service)
        self._diagnosis = Diagnosis(schedule, partial(as_other_types, self._parameters.thermocouple_type))
        self._limits: SegmentLimits | None = None
        self._fit: SlopeFit | None = None
        self._fit_window_s = 0.0
        self._ramp: Ramp | None = None
        self._events: list[Event] = []
        self._answers = AnswerBook()
        self.segment_end: StatedTemperature | None = None
        """What was read where the last segment ended, with its uncertainty."""
        self.time_s: float | None = None
        self.highest_c: float | None = None
        self._heard_s = 0.0
        self._signal_due_s = math.inf
        self._overdue_due_s = math.inf
        self._port_trouble = ""
        self._schedule_done = False
        self._resting: frozenset[str] = frozenset()
        self._in_doubt = False
        self._ready: PotReadiness | None = None
        self._pulled_since_s: float | None = None

    def feed(self, item: Input) -> list[Event]:
        """Take one reading, command, notice or clock mark, and give the events it caused, oldest first.

        `item.time_s` is seconds since the heat began; a reading carries µV and the junction's °C, or °C. The clock runs
        up to it first, so events of the time before are among those given; a time in the past moves nothing back. A
        command that cannot be carried out raises nothing: it becomes a `command-refused` event. The list is the
        caller's own, and empty for nearly every reading.
        """
        if self.time_s is None:
            self._start(item.time_s)
        self._run_to(item.time_s)
        if isinstance(item, Reading):
            self._read(item)
        elif isinstance(item, Command):
            self._obey(item)
        elif isinstance(item, Notice):
            self._heed(item)
        elif isinstance(item, EarlierHeat):
            self._to_go.remember(item)
        return self._taken()

    def advance(self, time_s: float) -> list[Event]:
        """Let the clock run to `time_s`, s since the heat began, and give the events it caused, oldest first.

        Call it while nothing comes, so that silence, delays and time limits are noticed. Before the first input, and
        for a time already past, nothing happens. Raises nothing.
        """
        if self.time_s is not None:
            self._run_to(time_s)
        return self._taken()

    def status(self) -> HeatStatus:
        """Give where the heat stands now."""
        tracker, measurement, ramp = self._tracker, self._instrument.last, self._ramp
        segment = tracker.segment
        temp_c = measurement.temp_c if measurement else None
        outlook = self._to_go.look(self._now(), tracker.soaked_s, in_band=tracker.phase is Phase.SOAKING)
        to_next, to_end = outlook.to_next, outlook.to_end
        return HeatStatus(
            time_s=self.time_s or 0.0,
            temp_c=temp_c,
            quality=measurement.quality if measurement else Quality.BAD,
            ramp=ramp,
            segment=segment.name if segment else None,
            segment_number=tracker.index + 1,
            segment_count=len(self.schedule.segments),
            phase=tracker.phase.value,
            target_c=segment.target_c if segment else None,
            allowed_c_per_s=(None, None) if segment is None else self.schedule.allowed_c_per_s(tracker.index),
            soaked_s=tracker.soaked_s,
            hold_s=segment.hold_s if segment and not self._schedule_done else 0.0,
            to_next_s=None if to_next is None else to_next.best_s,
            to_end_s=None if to_end is None else to_end.best_s,
            alarms=self._desk.standing(self._orders_in_doubt()),
            read_s=measurement.time_s if measurement else None,
            unconfirmed_s=self._pot.clocks.unconfirmed_s(tracker.index),
            readiness=self._ready,
            to_next_range_s=None if to_next is None else to_next.range_s,
            to_end_range_s=None if to_end is None else to_end.range_s,
            later_s=tuple(each.best_s for each in outlook.later),
            is_settling=outlook.settling,
            stops_near_c=outlook.stops_near_c,
            place=self._parameters.place,
        )

    @property
    def measurement(self) -> Measurement | None:
        """The last reading, measured and judged; None before the first."""
        return self._instrument.last

    @property
    def limits(self) -> SegmentLimits | None:
        """What the present segment is judged by, for reading only; None before the first temperature and at the end."""
        return None if self._schedule_done else self._limits

    def edges(self) -> Edges:
        """Give where the limits let the temperature be, by the last believed reading."""
        return Edges() if self._limits is None else tightest(self._limits.edges())

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
        return self._pot.account(self._now(), self.expanded_uncertainty_c)

    def readiness(self) -> Readiness:
        """Give what the pot is ready for after what has been seen so far, as the register knew it before."""
        return self._pot.readiness(self.account())

    def close(self) -> None:
        """The record is closed now: what comes after is not of this heat."""
        if self._ready is None:
            self._pot.close(self._now())
            readiness = self.readiness()
            sentence, reasons = readiness_sentence(readiness), reason_sentences(readiness)
            self._ready = PotReadiness(readiness.ready.value, sentence, reasons)

    def stated(self) -> StatedTemperature | None:
        """Give the present temperature and ramp with their standard uncertainty; None while there is no temperature."""
        return self._instrument.stated(self._ramp, self._noise.noise, self._diagnosis.junction_c_per_s)

    def expanded_uncertainty_c(self, temp_c: float) -> float:
        """Give how far a temperature of this heat (°C) may be off, ± °C (k = 2), as everything else states it."""
        return self._instrument.expanded_uncertainty_c(temp_c)

    @property
    def complete(self) -> bool:
        """Whether the heat has run its schedule or was ended."""
        return self._tracker.phase is Phase.COMPLETE

    # Time

    def _start(self, time_s: float) -> None:
        self.time_s = self._heard_s = time_s
        self._signal_due_s = time_s + self._parameters.signal_lost_s
        self._say(EventName.HEAT_STARTED, f"watching: {self.schedule.title}")

    def _run_to(self, time_s: float) -> None:
        """Run the grid up to `time_s`, going straight to the seconds at which something is due."""
        while True:
            due_s = min(self._desk.due_s, self._signal_due_s, self._overdue_due_s)
            if due_s > time_s:
                break
            # The next whole second that has not been yet, if what is due was due before.
            tick_s = max(math.ceil(due_s), math.floor(self._now()) + 1)
            if tick_s > time_s:
                break
            self.time_s = float(tick_s)
            self._tick(self.time_s)
        self.time_s = max(self._now(), time_s)

    def _tick(self, now_s: float) -> None:
        if now_s >= self._signal_due_s:
            self._signal_due_s = math.inf
            silent = format_duration(now_s - self._heard_s)
            cause = f": {self._port_trouble}" if self._port_trouble else ""
            what = f"no reading for {silent}{cause}"
            finding = Finding(round(now_s - self._heard_s, 1), self._parameters.signal_lost_s, "s", what)
            self._judge(_SIGNAL_ALARMS, {(COOLING_UNSEEN if self._schedule_done else SIGNAL_LOST).name: finding})
        if now_s >= self._overdue_due_s:
            self._overdue_due_s = math.inf
            segment = self._tracker.segment
            if segment is not None and segment.within_s is not None:
                what = f"still not done after {format_duration(segment.within_s)}"
                lasted_s = now_s - self._tracker.started_s
                finding = Finding(round(lasted_s, 1), segment.within_s, "s", what)
                self._judge(_OVERDUE_ALARMS, {SEGMENT_OVERDUE.name: finding})
        self._report(self._desk.tick(now_s))

    # Readings

    def _read(self, reading: Reading) -> None:
        self._heard_s = self._now()
        self._signal_due_s = self._heard_s + self._parameters.signal_lost_s
        measurement, range_fault = self._instrument.measure(reading)
        if self._desk.engaged or self._schedule_done:
            self._judge(_SIGNAL_ALARMS, self._unseen(measurement))
        junction_range_c, raised = self._parameters.junction_range_c, self._desk.raised
        self._judge(_SENSOR_ALARMS, sensor_findings(reading, range_fault, junction_range_c, raised))
        if measurement.quality is Quality.GOOD and measurement.temp_c is not None:
            self._take(reading.time_s, measurement.temp_c)
            self._diagnose(reading, measurement.temp_c)
        if self._desk.engaged or self._in_doubt:
            in_doubt = bool(self._desk.present(MEANINGLESS))
            if in_doubt is not self._in_doubt:
                self._in_doubt = in_doubt
                self._rest(self._resting)

    def _unseen(self, measurement: Measurement) -> dict[str, Finding]:
        """Tell whether a pot that is still hot is seen no more: its probe gives no temperature, or the room's."""
        if not self._schedule_done or self.complete:
            return {}
        if measurement.quality is Quality.BAD:
            what = "the probe gives no temperature"
        elif self._tracker.probe_pulled:
            what = "the probe has been pulled"
        else:
            return {}
        return {COOLING_UNSEEN.name: Finding(None, None, None, f"{what}, and the pot was not cold yet")}

    def _take(self, time_s: float, temp_c: float) -> None:
        """Bring one accepted temperature through the stages."""
        if self.highest_c is None or temp_c > self.highest_c:
            self.highest_c = temp_c
        self._noise.feed(time_s, temp_c)
        noise = self._noise.noise
        self._pot.feed(time_s, temp_c)
        self._to_go.feed(time_s, temp_c, None if self._instrument.last is None else self._instrument.last.junction_c)
        self._progress(self._tracker.feed(time_s, temp_c), time_s)
        if self._pot.clocks.changes:
            self._tell_credit()
        if self._fit is not None:
            self._ramp = self._fit.feed(time_s, temp_c, noise)
        if self._limits is not None:
            found = self._limits.feed(
                time_s,
                temp_c,
                noise,
                approaching=self._tracker.phase is Phase.APPROACHING,
                raised=self._desk.raised,
            )
            if self._schedule_done and self._tracker.probe_pulled:
                # A probe out of its place says nothing of the pot, and must order nothing for it.
                found = {}
            if not self._desk.stated.isdisjoint(_SAYS_WHY_IT_FALLS):
                found.pop(NOT_HEATING.name, None)
            if found:
                self._pot.found(time_s, temp_c, found)
            self._judge(_HEAT_ALARMS, found)

    def _diagnose(self, reading: Reading, temp_c: float) -> None:
        raw = temp_c if reading.emf_uv is None else reading.emf_uv
        diagnosed = self._diagnosis.feed(reading.time_s, raw, temp_c, reading.junction_c, self._noise.noise)
        if diagnosed is not None:
            self._judge(_DIAGNOSES, diagnosed.found)
            for text in diagnosed.observed:
                self._answers.note_message(self._now(), text)
                self._say_here(EventName.OBSERVED, text)
            self._pot.worth(reading.time_s, self._doubted_since_s(reading.time_s), self._diagnosis.still_since_s)
            if self._pot.clocks.changes:
                self._tell_credit()

    def _doubted_since_s(self, time_s: float) -> float | None:
        """Give since when readings say nothing of the pot, s: sensor in doubt, or probe out of its place."""
        if not (self._schedule_done and self._tracker.probe_pulled):
            self._pulled_since_s = None
            return self._diagnosis.doubted_since_s
        if self._pulled_since_s is None:
            self._pulled_since_s = time_s - PULLED_WITHIN_S
        return self._pulled_since_s

    def _tell_credit(self) -> None:
        """Say what was taken back of a soak, not confirmed, or confirmed."""
        for index, text in self._pot.news():
            credited = f"{self.schedule.segments[index].name} · {text}"
            self._answers.note_message(self._now(), credited, is_account=True)
            self._say(EventName.OBSERVED, credited, index)

    # Progress of the heat

    def _progress(self, reached: list[HeatProgress], time_s: float) -> None:
        for step in reached:
            segment = self.schedule.segments[step.index]
            if step.milestone is Milestone.SEGMENT_STARTED:
                self._enter(step.index, time_s)
                self._say(EventName.SEGMENT_STARTED, segment_text(self.schedule, step.index), step.index)
            elif step.milestone is Milestone.SOAK_COMPLETE:
                text = f"{segment.name} · soaked for {format_duration(segment.hold_s)} in its band"
                if self._parameters.place == Place.CHAMBER.value:
                    text += " by the chamber, and the pot comes after it"
                unconfirmed_s = self._pot.clocks.unconfirmed_s(step.index)
                if unconfirmed_s > 0.0:
                    text += f", {format_duration(unconfirmed_s)} of it not confirmed"
                self._say(EventName.SOAK_COMPLETE, text, step.index)
            elif step.milestone is Milestone.SCHEDULE_DONE:
                self._cool_down()
                until = f"cooling, still watched until below {self.schedule.cold_c:.0f} °C"
                self._say(EventName.SCHEDULE_DONE, f"the schedule is done · {until}", step.index)
            else:
                self._leave()
                what = "the pot is cold" if self._schedule_done else "the schedule is done"
                self._say(EventName.HEAT_COMPLETE, what, step.index)

    def _enter(self, index: int, time_s: float) -> None:
        self._pot.enter(index, time_s)
        self._to_go.enter(index, time_s)
        slope, top_c = self._slope_before(index), self._parameters.top_c
        self._limits = SegmentLimits(self.schedule, index, time_s, self._limits, slope, top_c)
        window_s = self._limits.display_window_s
        if self._fit is None or window_s != self._fit_window_s:
            self._fit, self._fit_window_s = SlopeFit(window_s), window_s
        overdue_s = self._tracker.overdue_s
        self._overdue_due_s = math.inf if overdue_s is None else overdue_s
        self._judge(_OVERDUE_ALARMS, {})
        self._diagnosis.enter(index)
        self.segment_end = self.stated()
        if index > 0 and self._is_transfer(index - 1):
            # From a quiet oven into a flame: what the oven's readings scattered by would make every flicker a ramp.
            self._noise.begin_anew()
        suppressed = SUPPRESSED_IN_TRANSFER if self._is_transfer(index) else frozenset()
        self._rest(suppressed)

    def _rest(self, names: frozenset[str]) -> None:
        """Let alarms rest that the heat makes pointless now, and those whose order comes from a meaningless reading."""
        self._resting = names
        self._report(self._desk.suppress(self._now(), names | SUPPRESSED_IN_DOUBT if self._in_doubt else names))

    def _orders_in_doubt(self) -> frozenset[str]:
        """Give the alarms whose order would come from a reading that is in doubt now."""
        return orders_in_doubt(self._desk.present(DOUBTING)) if self._desk.engaged else frozenset()

    def _cool_down(self) -> None:
        """Go on watching a pot that is still hot: what cools too fast or grows too hot is told until it is cold."""
        self._schedule_done = True
        self._to_go.enter(None, self._now())
        self._overdue_due_s = math.inf
        self._diagnosis.enter(None)
        self.segment_end = self.stated()
        self._judge((*names(HEAT_DIAGNOSES), *_OVERDUE_ALARMS), {})
        if self._limits is not None:
            self._limits.cool_down()
        self._rest(SUPPRESSED_WHILE_STILL_HOT)

    def _slope_before(self, index: int) -> float:
        """Give the ramp at the corner where segment `index` begins, °C/s; none is taken over from a carried probe."""
        carried = index == 0 or self._is_transfer(index - 1)
        return 0.0 if carried or self._ramp is None else self._ramp.c_per_s

    def _leave(self) -> None:
        self._limits = None
        self._to_go.enter(None, self._now())
        self._overdue_due_s = math.inf
        self._diagnosis.enter(None)
        self.segment_end = self.stated()
        self._judge(_ENDING_ALARMS, {})
        self._rest(SUPPRESSED_AFTERWARDS)
        self.close()

    # Commands and notices

    def _obey(self, command: Command) -> None:
        try:
            self._carry_out(command)
        except (AlarmTransitionError, HeatTransitionError) as error:
            what = f"{command.command} {command.alarm}".strip()
            self._say(EventName.REFUSED, f"{what}: {error}")

    def _carry_out(self, command: Command) -> None:
        now_s, name = self._now(), command.alarm
        if name and not self._desk.knows(name):
            raise AlarmTransitionError(f"there is no alarm {name!r}")
        match command.command:
            case CommandName.ACKNOWLEDGE:
                self._report(self._desk.acknowledge(now_s, name))
            case CommandName.SHELVE:
                if not name or not 1 <= command.minutes <= 24 * 60:
                    raise AlarmTransitionError("shelving needs an alarm and between 1 minute and 24 hours")
                self._report(self._desk.shelve(now_s, name, now_s + 60.0 * command.minutes))
            case CommandName.UNSHELVE:
                if not name:
                    raise AlarmTransitionError("unshelving needs an alarm")
                self._report(self._desk.unshelve(now_s, name))
            case CommandName.NOTE:
                self._say_here(EventName.NOTE, command.text)
            case CommandName.MARK:
                self._mark(command.text)
            case CommandName.SKIP_SEGMENT:
                self._progress(self._tracker.skip(now_s), now_s)
            case CommandName.END_HEAT:
                self._tracker.finish()
                self._leave()
                self._say(EventName.HEAT_ENDED, command.text or "ended by hand")
            case CommandName.WRONG:
                self._take_back(name, command.text)
            case CommandName.UNDO_WRONG:
                self._uphold(name, command.text)

    def _take_back(self, alarm: str, text: str) -> None:
        """Withdraw what a person says to be wrong."""
        said = self._answers.to_withdraw(alarm, text)
        if said.alarm:
            self._report(self._desk.say_wrong(self._now(), said.alarm))
        else:
            # What a soak is credited is worked out from readings: a word changes nothing of it.
            what = (
                "said to be wrong, but the soak clock goes by readings"
                if said.is_account
                else "said to be wrong, withdrawn"
            )
            self._say_here(EventName.OBSERVED, f"{what}: {said.text}", withdraws=said.time_s)
        self._answers.withdraw(said)

    def _uphold(self, alarm: str, text: str) -> None:
        """Take such a word back."""
        said = self._answers.to_uphold(alarm, text)
        if said.alarm:
            self._report(self._desk.uphold(self._now(), said.alarm))
        else:
            self._say_here(EventName.OBSERVED, f"stands after all: {said.text}", upholds=said.time_s)
        self._answers.uphold(said)

    def _mark(self, what: str) -> None:
        self._say_here(EventName.MARK, what)
        self._diagnosis.mark(self._now(), what)
        self._pot.mark(self._now(), what)
        index = self._tracker.index
        if self._tracker.segment is None:
            return
        if (what == "transfer" and self._is_transfer(index + 1)) or (what == "arrived" and self._is_transfer(index)):
            self._progress(self._tracker.skip(self._now()), self._now())

    def _is_transfer(self, index: int) -> bool:
        segments = self.schedule.segments
        return index < len(segments) and segments[index].kind is SegmentKind.TRANSFER

    def _heed(self, notice: Notice) -> None:
        match notice.notice:
            case NoticeName.BOARD_RESTARTED:
                self._judge_passing(BOARD_RESTARTED.name, notice, "the board started again")
            case NoticeName.PORT_LOST:
                self._port_trouble = notice.text
            case NoticeName.PORT_OPENED:
                self._port_trouble = ""
            case NoticeName.RECORD_FAILING:
                finding = _told(notice, "the record cannot be written")
                self._judge(_RECORD_ALARMS, {RECORD_FAILING.name: finding})
            case NoticeName.RECORD_WRITTEN:
                self._judge(_RECORD_ALARMS, {})
            case NoticeName.WATCH_RESUMED:
                self._resume()
            case NoticeName.BROKER_LOST:
                finding = _told(notice, "the broker cannot be reached")
                self._judge(_BROKER_ALARMS, {BROKER_UNREACHABLE.name: finding})
            case NoticeName.BROKER_REACHED:
                self._judge(_BROKER_ALARMS, {})
            case NoticeName.OUTPUT_FAILING:
                self._judge_passing(OUTPUT_FAILING.name, notice, "an output died and was started again")
            case NoticeName.GARBLED | NoticeName.FRAMES_LOST:
                # Counted in the record and the log; alone they are no reason to act while readings come.
                pass

    def _resume(self) -> None:
        """Go on after a blind time: no slope is drawn across it; the levels on both sides bound what was climbed."""
        self._noise.restart()
        self._diagnosis.resume()
        self._to_go.resume(self._now())
        self._ramp = None
        if self._fit is not None:
            self._fit.restart()
        if self._limits is not None:
            self._limits.resume(self._now())

    # Events

    def _judge(self, judged: tuple[str, ...], found: dict[str, Finding]) -> None:
        # Nothing found and nothing engaged is the case of nearly every reading: it must cost nothing.
        if found or self._desk.engaged:
            self._report(self._desk.judge(self._now(), judged, found))

    def _judge_passing(self, alarm: str, notice: Notice, otherwise: str) -> None:
        """Raise what is over by the time it is known: it waits for somebody who acknowledges it."""
        self._judge((alarm,), {alarm: _told(notice, otherwise)})
        self._judge((alarm,), {})

    def _report(self, changes: list[AlarmChange]) -> None:
        doubted = self._orders_in_doubt() if changes else frozenset()
        for change in changes:
            entry = self._catalogue[change.alarm]
            segment, number = self._here()
            if change.happening is AlarmInput.APPEAR:
                self._answers.note_alarm(change.time_s, change.alarm)
            said_s = self._answers.said_of(change.alarm)
            in_doubt = change.alarm in doubted and change.alarm not in self._resting
            self._events.append(
                Event(
                    time_s=change.time_s,
                    event=EventName.ALARM,
                    alarm=change.alarm,
                    state=change.state,
                    priority=change.priority,
                    value=change.finding.value,
                    limit=change.finding.limit,
                    unit=change.finding.unit,
                    segment=segment,
                    segment_number=number,
                    text=alarm_text(change, entry, segment, in_doubt=in_doubt),
                    withdraws=said_s if change.happening is AlarmInput.SAY_WRONG else None,
                    upholds=said_s if change.happening is AlarmInput.UPHOLD else None,
                )
            )

    def _say(
        self,
        event: EventName,
        text: str,
        index: int | None = None,
        withdraws: float | None = None,
        upholds: float | None = None,
    ) -> None:
        """Say something of segment `index`, or of none; perhaps what it withdraws or upholds."""
        name, number = (None, None) if index is None else (self.schedule.segments[index].name, index + 1)
        self._events.append(
            Event(
                time_s=self._now(),
                event=event,
                segment=name,
                segment_number=number,
                text=text,
                withdraws=withdraws,
                upholds=upholds,
            )
        )

    def _say_here(
        self, event: EventName, text: str, withdraws: float | None = None, upholds: float | None = None
    ) -> None:
        """Say something of the present segment."""
        self._say(event, text, None if self._tracker.segment is None else self._tracker.index, withdraws, upholds)

    def _here(self) -> tuple[str | None, int | None]:
        """Give the present segment's name and number; neither before the first and after the last."""
        segment = self._tracker.segment
        return (None, None) if segment is None else (segment.name, self._tracker.index + 1)

    def _now(self) -> float:
        return self.time_s if self.time_s is not None else 0.0

    def _taken(self) -> list[Event]:
        if not self._events:
            return []
        events, self._events = self._events, []
        return events


def _told(notice: Notice, otherwise: str) -> Finding:
    return Finding(None, None, None, notice.text or otherwise)
