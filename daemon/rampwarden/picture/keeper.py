"""Keeps the picture of a heat up to date for whoever draws it.

The keeper is an output of the watch like any other, and looks on at every input besides. It draws nothing and knows no
display. Policy: calls from the watch take a lock that is never held for long, return at once and never raise. Memory is
flat.
"""

import math
import threading
import time
from collections import deque

from msgspec.structs import replace

from rampwarden.core.alarms import segment_aim, segment_limits, segment_rules
from rampwarden.core.catalogue import entry_of
from rampwarden.core.heat import legs_ahead
from rampwarden.core.limits import Edges
from rampwarden.core.model import (
    URGENCY,
    WAITING,
    AlarmState,
    Event,
    EventName,
    HeatStatus,
    Input,
    Measurement,
    Notice,
    NoticeName,
    ProbeReading,
    ProbeStatus,
    Quality,
    Reading,
    StandingAlarm,
)
from rampwarden.core.schedule import Schedule
from rampwarden.filed import NOT_ON_DISK, Filed
from rampwarden.outputs.alarm_lines import place_and_time, state_words
from rampwarden.outputs.status_line import (
    done_in_words,
    hold_words,
    is_still_hot,
    learnt_words,
    next_in_words,
    phase_words,
    physics_lines,
    place_words,
    stop_words,
)
from rampwarden.picture.picture import (
    AboutHeat,
    AlarmLine,
    BesideCourse,
    Broker,
    Happening,
    Health,
    Mode,
    Picture,
    SegmentLine,
    Withdrawn,
)
from rampwarden.picture.thinned_course import ThinnedCourse
from rampwarden.picture.unfiled import Unfiled
from rampwarden.picture.way_ahead import WayPoint, way_ahead

# More than fit on any screen; the record has them all.
_MOST_HAPPENINGS = 200
# Nothing is foretold from a temperature that is older.
_OLDEST_TO_GO_ON_FROM_S = 60.0
_STATE_RANK = {
    AlarmState.UNACKNOWLEDGED: 0,
    AlarmState.RETURNED_UNACKNOWLEDGED: 1,
    AlarmState.ACKNOWLEDGED: 2,
    AlarmState.SHELVED: 3,
    AlarmState.SAID_WRONG: 4,
}


def about_heat(
    schedule: Schedule, mode: Mode, started: str, record: str = "", crucible: str = "", metal: str = ""
) -> AboutHeat:
    """Put a schedule and the header of its heat into words."""
    segments = tuple(
        SegmentLine(
            index + 1,
            each.name,
            each.kind,
            segment_aim(each),
            segment_limits(schedule, index),
            each.say.strip(),
            segment_rules(schedule, index),
        )
        for index, each in enumerate(schedule.segments)
    )
    return AboutHeat(schedule.title, schedule.basis, mode, started, record, crucible, metal, segments)


def _nothing_yet(schedule: Schedule) -> HeatStatus:
    """Give where a heat stands before anything has come."""
    return HeatStatus(
        time_s=0.0,
        temp_c=None,
        quality=Quality.BAD,
        ramp=None,
        segment=None,
        segment_number=1,
        segment_count=len(schedule.segments),
        phase="starting",
        target_c=None,
        allowed_c_per_s=(None, None),
        soaked_s=0.0,
        hold_s=0.0,
        to_next_s=None,
        to_end_s=None,
        alarms=(),
    )


class _Beside:
    """The course of a probe beside the followed one, as it was shown."""

    def __init__(self, place: str) -> None:
        self._place = place
        self._course = ThinnedCourse()
        self._last_s = -math.inf

    def feed(self, probe: ProbeStatus) -> None:
        """Take what it reads; what is held, old or missing is no part of its course."""
        if probe.quality is Quality.GOOD and probe.temp_c is not None and (probe.read_s or 0.0) > self._last_s:
            self._last_s = probe.read_s or 0.0
            self._course.feed(self._last_s, probe.temp_c, Edges())

    def course_of(self, probe: str, until_s: float) -> BesideCourse:
        """Give its course up to `until_s` (s), under the probe's name."""
        return BesideCourse(probe, self._place, self._course.points(until_s))


class PictureKeeper:
    """Keeps the picture of one heat. `tell`, `show` and `follow` are the watch's; the rest is for displays.

    Every method may be called from any thread, returns at once (but for `wait`) and raises nothing. A picture, once
    given, never changes.
    """

    def __init__(self, schedule: Schedule, about: AboutHeat, *, has_broker: bool = False, pace: float = 1.0) -> None:
        self._schedule = schedule
        self._about = about
        self._changed = threading.Condition()
        self._number = 0
        self._status = _nothing_yet(schedule)
        self._shown_at_s = time.monotonic()
        self._health = Health(broker=Broker.WAITING if has_broker else Broker.NONE)
        self._course = ThinnedCourse()
        self._beside: dict[str, _Beside] = {}
        self._followed_s = -math.inf
        self.believed_readings = 0
        """How many readings of this watch were believed."""
        self._edges = self._shown_edges = Edges()
        self._index: int | None = None
        self._happenings: deque[Happening] = deque(maxlen=_MOST_HAPPENINGS)
        self._unfiled = Unfiled()
        self._withdrawn: tuple[Withdrawn, ...] = ()
        self._pace = pace
        self._paused = self._over = False
        self._drawn: Picture | None = None

    # For the watch

    def note_record(self, record: str) -> None:
        """Take note that the heat goes on in another record."""
        with self._changed:
            self._about = replace(self._about, record=record)
            self._note_change()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event, as `Output.tell` does: it moves the segment on and is listed among the latest."""
        with self._changed:
            if event.event is EventName.SEGMENT_STARTED:
                self._enter(self._index if event.segment_number is None else event.segment_number - 1)
            elif event.event in (EventName.HEAT_COMPLETE, EventName.HEAT_ENDED):
                self._enter(None)
            answers = event.withdraws is not None or event.upholds is not None
            if answers:
                self._heed_answer(event)
            is_statement = event.event in (EventName.ALARM, EventName.OBSERVED) and not answers
            is_listed = event.event is not EventName.ALARM or event.state is AlarmState.UNACKNOWLEDGED or answers
            self._unfiled.note(event, filed, is_listed=is_listed)
            if is_listed:
                # What is taken back is no alarm any more, and looks like none.
                priority = event.priority if event.withdraws is None else None
                self._happenings.append(
                    Happening(event.time_s, event.event, event.text, priority, event.alarm or "", is_statement)
                )
            self._note_change()

    def show(self, status: HeatStatus) -> None:
        """Take note of where the heat stands, as `Output.show` does; from now on the picture's age counts anew."""
        with self._changed:
            self._status = status
            self._shown_at_s = time.monotonic()
            for probe in status.probes:
                self._beside.setdefault(probe.probe, _Beside(probe.place)).feed(probe)
            index = None if status.segment is None else status.segment_number - 1
            if index != self._index:
                # A heat taken up again stands in a segment whose start was told to somebody else.
                self._enter(index)
            # The course goes on between two looks; number, corridor and strip must be of one moment.
            self._shown_edges = self._edges
            self._note_change()

    def follow(self, item: Input, measurement: Measurement | None, edges: Edges) -> None:
        """Look on at an input, as `Follower.follow` does: each believed reading (°C) joins the course with its edges.

        Readings that are held, rejected or missing leave the course as it was; notices change what is known of health.
        """
        with self._changed:
            if isinstance(item, Notice):
                self._heed(item)
                self._note_change()
            elif isinstance(item, Reading | ProbeReading) and measurement is not None:
                # While another probe stands in what is followed is a guess, and comes with that probe's readings.
                temp_c = measurement.temp_c
                is_new = measurement.time_s > self._followed_s
                if is_new and measurement.quality is Quality.GOOD and temp_c is not None:
                    self._followed_s = measurement.time_s
                    self._edges = Edges() if self._index is None else edges
                    self._course.feed(measurement.time_s, temp_c, self._edges)
                    self.believed_readings += 1

    def note_on_disk(self, number: int) -> None:
        """Take note that the disk has every line up to this number at last."""
        with self._changed:
            self._unfiled.note_on_disk(number)
            self._note_change()

    def note_reach(self, reached: bool) -> None:
        """Take note of whether anybody is reached over MQTT: sooner known than it is an alarm."""
        with self._changed:
            broker = Broker.REACHED if reached else Broker.LOST if self._health.broker_trouble else Broker.WAITING
            self._health = replace(self._health, broker=broker)
            self._note_change()

    def close(self) -> None:
        """Say that nothing more will come; whoever waits gets the last picture."""
        with self._changed:
            self._over = True
            self._note_change()

    # For a replay

    def set_pace(self, pace: float, *, paused: bool) -> None:
        """Say how fast the heat is being played."""
        with self._changed:
            self._pace, self._paused = pace, paused
            self._note_change()

    def begin_again(self) -> None:
        """Forget the course: a replay has gone back, and comes here again from the beginning."""
        with self._changed:
            self._status = _nothing_yet(self._schedule)
            self._course = ThinnedCourse()
            self._beside.clear()
            self._followed_s = -math.inf
            self._edges = self._shown_edges = Edges()
            self._index = None
            self._happenings.clear()
            self._unfiled.clear()
            self._withdrawn = ()
            self._health = Health(broker=self._health.broker)
            self._over = False
            self._note_change()

    # For displays, from any thread

    def picture(self) -> Picture:
        """Give the heat as it is now."""
        with self._changed:
            return self._draw()

    def wait(self, after: int, timeout_s: float) -> Picture:
        """Give the first picture with a number above `after`, or the present one after `timeout_s` real seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._number > after, timeout_s)
            return self._draw()

    def _note_change(self) -> None:
        self._number += 1
        self._drawn = None
        self._changed.notify_all()

    def _draw(self) -> Picture:
        if self._drawn is not None:
            return self._drawn
        status, segments, edges = self._status, self._about.segments, self._shown_edges
        # Once the schedule is done the last segment leads nowhere any more, though its limits still hold.
        number = None if status.segment is None or is_still_hot(status) else status.segment_number
        self._drawn = Picture(
            number=self._number,
            about=self._about,
            status=status,
            shown_at_s=self._shown_at_s,
            doing=phase_words(status),
            kept=hold_words(status) if status.hold_s else "",
            next_in=next_in_words(status),
            done_in=done_in_words(status),
            stops=stop_words(status),
            learnt=learnt_words(status),
            watched=place_words(status.place),
            physics=physics_lines(status),
            present=None if number is None else segments[number - 1],
            coming=None if number is None or number >= len(segments) else segments[number],
            low_c=edges.low_c,
            high_c=edges.high_c,
            alarms=_alarm_lines(status.alarms, self._unfiled.alarms),
            health=self._health,
            course=self._course.points(self._status.time_s),
            ahead=self._ahead(),
            happenings=tuple(self._happenings),
            withdrawn=self._withdrawn,
            unfiled=min(self._unfiled.happenings, len(self._happenings)),
            pace=self._pace,
            paused=self._paused,
            over=self._over,
            beside=tuple(each.course_of(name, status.time_s) for name, each in self._beside.items()),
        )
        return self._drawn

    def _ahead(self) -> tuple[WayPoint, ...]:
        status = self._status
        if is_still_hot(status):
            return ()
        if status.segment is None or status.temp_c is None or status.quality is not Quality.GOOD:
            return ()
        if status.read_s is None or status.time_s - status.read_s > _OLDEST_TO_GO_ON_FROM_S:
            return ()
        legs = legs_ahead(self._schedule, status.segment_number - 1, status.temp_c, status.to_next_s, status.later_s)
        return tuple(way_ahead(self._schedule, legs, status.time_s, self._shown_edges))

    def _enter(self, index: int | None) -> None:
        self._index = index
        if index is None:
            self._edges = Edges()

    def _heed_answer(self, event: Event) -> None:
        """Take note that a happening was said to be wrong, or that it was right after all."""
        said_s = event.upholds if event.withdraws is None else event.withdraws
        for each in reversed(self._happenings):
            is_same = each.alarm == event.alarm if event.alarm else not each.alarm and event.text.endswith(each.text)
            if each.is_statement and each.time_s == said_s and is_same:
                named = Withdrawn(each.time_s, each.alarm, each.text)
                others = tuple(other for other in self._withdrawn if other != named)
                self._withdrawn = others if event.withdraws is None else (*others, named)[-_MOST_HAPPENINGS:]
                return

    def _heed(self, notice: Notice) -> None:
        if notice.board:
            # A further board: its probes say themselves when they are lost.
            return
        health = self._health
        match notice.notice:
            case NoticeName.PORT_LOST:
                health = replace(health, board_trouble=notice.text or "the port is lost")
            case NoticeName.PORT_OPENED:
                health = replace(health, board_trouble="")
            case NoticeName.FRAMES_LOST:
                health = replace(health, lost_frames=health.lost_frames + max(1, notice.count))
            case NoticeName.GARBLED:
                health = replace(health, garbled_lines=health.garbled_lines + max(1, notice.count))
            case NoticeName.RECORD_FAILING:
                health = replace(health, record_trouble=notice.text or "the record cannot be written")
            case NoticeName.RECORD_WRITTEN:
                health = replace(health, record_trouble="")
            case NoticeName.BROKER_LOST:
                health = replace(health, broker=Broker.LOST, broker_trouble=notice.text or "nobody is reached")
            case NoticeName.BROKER_REACHED:
                health = replace(health, broker=Broker.REACHED, broker_trouble="")
            case _:
                return
        self._health = health


def _alarm_lines(alarms: tuple[StandingAlarm, ...], unfiled: frozenset[str]) -> tuple[AlarmLine, ...]:
    """Put alarms in the order a person should take them: what waits for somebody first, then by urgency and age."""

    def rank(alarm: StandingAlarm) -> tuple[int, int, float]:
        return _STATE_RANK.get(alarm.state, 9), URGENCY[alarm.priority], alarm.since_s

    lines = []
    for alarm in sorted(alarms, key=rank):
        entry = entry_of(alarm.alarm)
        lines.append(
            AlarmLine(
                alarm=alarm.alarm,
                state=alarm.state,
                priority=alarm.priority,
                text=f"{alarm.text} · {NOT_ON_DISK}" if alarm.alarm in unfiled else alarm.text,
                action=alarm.action,
                why=entry.why,
                time_to_act=entry.time_to_act if alarm.action else "",
                since_s=alarm.since_s,
                waits=alarm.state in WAITING,
                order=alarm.order,
                is_first=alarm.is_first,
                yields_to=alarm.yields_to,
                state_word=state_words(alarm),
                where=place_and_time(alarm),
                fact=alarm.fact,
                worst=alarm.worst,
                raised_s=alarm.raised_s,
                ended_s=alarm.ended_s,
                segment=alarm.segment,
            )
        )
    return tuple(lines)
