"""A record played at a human pace: its lines go through a real monitor when they are due, into the displays.

The same inputs in the same order as in any replay, so the same events; only when they come is ours. Between two lines
the clock runs on, so that a silence looks like one. To go back is to begin again and run up to there without a pause.
Owns the pace and the place; orders come from any thread and are carried out in the loop's own.
"""

import queue
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from enum import Enum

from rampwarden.core.catalogue import alarm_names
from rampwarden.core.model import AlarmState, Event, EventName, Notice, Priority, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.outputs.status_line import event_sentence
from rampwarden.picture import PictureKeeper
from rampwarden.plain_logs import structlog
from rampwarden.records import Header, Line, Replay
from rampwarden.service import Output

# As often as a display draws.
_LOOK_EVERY_S = 0.25
_PACES = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 3600.0)
_JUMP_SHARE = 0.1


class Order(Enum):
    """What a person may ask of a playback."""

    PAUSE = "pause or go on"
    FASTER = "faster"
    SLOWER = "slower"
    FORWARD = "a tenth forward"
    BACK = "a tenth back"
    BEGINNING = "from the beginning"


class Playback:
    """Plays `lines`, which can be had again from the beginning, at `pace` seconds of the heat in a real one.

    `outputs` hear what is played, but nothing of what a jump passes over; the keeper hears all of it. With `stays` the
    end is shown until somebody ends it.
    """

    def __init__(
        self,
        lines: Callable[[], Iterator[Line]],
        new_monitor: Callable[[], Monitor],
        keeper: PictureKeeper,
        outputs: Sequence[Output],
        pace: float,
        *,
        stays: bool,
    ) -> None:
        self._open = lines
        self._new_monitor = new_monitor
        self._keeper = keeper
        self._outputs = outputs
        self._pace = pace
        self._stays = stays
        self._paused = False
        self._stop = threading.Event()
        self._orders: queue.SimpleQueue[Order] = queue.SimpleQueue()
        self._log = structlog.get_logger()
        self._ends_s = 0.0
        self._begin()
        self.alarms_raised = 0

    def order(self, order: Order) -> None:
        """Ask for something, from any thread."""
        self._orders.put(order)

    def run(self, stop: threading.Event) -> None:
        """Play until the end, or until `stop` is set."""
        self._stop = stop
        self._ends_s = max((_time_s(line) for line in self._open()), default=0.0)
        self._go_from(_time_s(self._next) if self._next is not None else 0.0)
        while not stop.is_set():
            self._play_up_to(self._now_s())
            self._show()
            if self._next is None and not self._stays:
                break
            self._await_order()

    # The place

    def _begin(self) -> None:
        self._replay = Replay(self._new_monitor())
        self._lines = self._open()
        self._next: Line | None = next(self._lines, None)

    def _play_up_to(self, time_s: float, *, quietly: bool = False) -> None:
        """Take every line that is due, and let the clock run on between them."""
        monitor = self._replay.monitor
        while self._next is not None and _time_s(self._next) <= time_s:
            line, self._next = self._next, next(self._lines, None)
            self._tell(self._replay.take(line), quietly=quietly)
            if isinstance(line, Reading | ProbeReading | Notice):
                self._keeper.follow(line, monitor.followed, monitor.edges())
            if self._stop.is_set():
                return
        if self._next is None:
            self._keeper.close()
        else:
            # The line to come is later than this: what it brings is not known yet.
            self._tell(monitor.advance(time_s), quietly=quietly)

    def _jump_to(self, time_s: float) -> None:
        if time_s < (self._replay.monitor.time_s or 0.0):
            self._begin()
            self._keeper.begin_again()
        self._play_up_to(time_s, quietly=True)
        self._go_from(time_s)
        self._tell_what_stands()

    # The pace

    def _go_from(self, time_s: float) -> None:
        """Let the heat's clock go on from here, at the present pace."""
        self._from_s, self._since_s = time_s, time.monotonic()
        self._keeper.set_pace(self._pace, paused=self._paused)

    def _now_s(self) -> float:
        gone_s = 0.0 if self._paused else (time.monotonic() - self._since_s) * self._pace
        return min(self._from_s + gone_s, self._ends_s)

    def _await_order(self) -> None:
        """Wait until the next line or the next look, whichever is sooner, and carry out what is asked meanwhile."""
        wait_s = _LOOK_EVERY_S
        if self._next is not None and not self._paused:
            wait_s = min(wait_s, max(0.01, (_time_s(self._next) - self._now_s()) / self._pace))
        try:
            self._carry_out(self._orders.get(timeout=wait_s))
        except queue.Empty:
            return

    def _carry_out(self, order: Order) -> None:
        now_s, step_s = self._now_s(), _JUMP_SHARE * self._ends_s
        match order:
            case Order.PAUSE:
                self._paused = not self._paused
                self._go_from(now_s)
            case Order.FASTER:
                self._pace = next((pace for pace in _PACES if pace > self._pace), self._pace)
                self._go_from(now_s)
            case Order.SLOWER:
                self._pace = next((pace for pace in reversed(_PACES) if pace < self._pace), self._pace)
                self._go_from(now_s)
            case Order.FORWARD:
                self._jump_to(min(self._ends_s, now_s + step_s))
            case Order.BACK:
                self._jump_to(max(0.0, now_s - step_s))
            case Order.BEGINNING:
                self._jump_to(0.0)

    # What is told

    def _show(self) -> None:
        status = self._replay.monitor.status()
        for output in (self._keeper, *self._outputs):
            output.show(status)

    def _tell(self, events: Sequence[Event], *, quietly: bool) -> None:
        for event in events:
            self._keeper.tell(event)
            if quietly:
                continue
            fields = {"priority": event.priority} if event.priority else {}
            self._log.info(event_sentence(event), time_s=event.time_s, kind=str(event.event), **fields)
            if event.raises_alarm:
                self.alarms_raised += 1
            for output in self._outputs:
                output.tell(event)

    def _tell_what_stands(self) -> None:
        """Tell the outputs which alarms stand where a jump has led: it passed over how they came and went."""
        status = self._replay.monitor.status()
        standing = {alarm.alarm: alarm for alarm in status.alarms}
        for name in alarm_names(probe.probe for probe in status.probes):
            alarm = standing.get(name)
            state, priority = (alarm.state, alarm.priority) if alarm else (AlarmState.NORMAL, Priority.LOW)
            for output in self._outputs:
                output.tell(Event(self._now_s(), EventName.ALARM, alarm=name, state=state, priority=priority))


def _time_s(line: Line) -> float:
    """Give when a line is due; a header in the middle of a record has no time, and nothing to say."""
    return 0.0 if isinstance(line, Header) else line.time_s
