"""The voice as an output: what waits to be said, ranked, one thing at a time.

Policy. There is no queue that could overflow. It keeps which alarms are unacknowledged, whether a segment has begun,
and whether somebody has asked how the heat stands; its worker says the most urgent of it, with the figures of that
moment. A more urgent alarm interrupts what is being said, and so does acknowledging what is being said. An alarm is
said again as the bell rings again. A program that hangs or dies costs its words and a notice, never the watch.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from rampwarden.core.model import URGENCY, AlarmState, Event, EventName, HeatStatus, Notice, NoticeName, Priority
from rampwarden.filed import Filed
from rampwarden.outputs.bell import ring_again_after_s
from rampwarden.outputs.speech.spoken_words import alarm_words, segment_words, state_words
from rampwarden.outputs.speech.voice import Voice
from rampwarden.outputs.worker import Worker, tell_nobody


class _Rank(IntEnum):
    """What is said before what; alarms by their priority."""

    HIGH = 0
    MEDIUM = 1
    LOW = 2
    ASKED = 3
    SEGMENT = 4


@dataclass(slots=True)
class _Unsaid:
    """An unacknowledged alarm: since when, and when it is to be said next (s, None: it has been said for good)."""

    priority: Priority
    since_s: float
    due_s: float | None


@dataclass(frozen=True, slots=True)
class _Utterance:
    rank: _Rank
    alarm: str = ""


class Speech:
    """Says with `voice` what the watch tells; `clock` gives real seconds, for repeating."""

    def __init__(self, voice: Voice, *, fahrenheit: bool = False, clock: Callable[[], float] = time.monotonic) -> None:
        self._voice = voice
        self._fahrenheit = fahrenheit
        self._clock = clock
        self._lock = threading.Condition()
        self._unsaid: dict[str, _Unsaid] = {}
        self._status: HeatStatus | None = None
        self._asked = self._closed = False
        self._begun = ""
        self._saying: _Utterance | None = None
        self._hushed = threading.Event()
        self._trouble = ""
        self._hear: Callable[[Notice], None] = tell_nobody
        self._worker: Worker | None = None

    def start(self, hear: Callable[[Notice], None] = tell_nobody) -> None:
        """Speak from now on, of what it was told before too; `hear` is told of a voice that fails."""
        self._hear = hear
        self._worker = Worker("speech", self._work, hear)
        self._worker.start()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event; returns at once."""
        with self._lock:
            if event.event is EventName.SEGMENT_STARTED and event.segment is not None:
                self._begun = segment_words(event.segment_number, event.segment)
            elif event.event is EventName.ASKED and event.segment is not None:
                self._begun = f"{self._begun} {event.text}".strip()
            elif event.event is EventName.ALARM and event.alarm is not None and event.priority is not None:
                self._note(event.alarm, event.priority, rings=event.state is AlarmState.UNACKNOWLEDGED)
            self._lock.notify()

    def show(self, status: HeatStatus) -> None:
        """Keep where the heat stands: what is said is said of the present."""
        with self._lock:
            self._status = status
            self._lock.notify()

    def ask(self) -> None:
        """Say how the heat stands, as soon as no alarm is to be said."""
        with self._lock:
            self._asked = True
            self._lock.notify()

    def close(self) -> None:
        """Stop speaking, in the middle of a word if it must be."""
        with self._lock:
            self._closed = True
            self._hushed.set()
            self._lock.notify()
        if self._worker is not None:
            self._worker.end(within_s=3.0)

    def _note(self, name: str, priority: Priority, *, rings: bool) -> None:
        if rings:
            now_s = self._clock()
            self._unsaid[name] = _Unsaid(priority, now_s, now_s)
            if self._saying is not None and _rank_of(priority) < self._saying.rank:
                self._hushed.set()
            return
        self._unsaid.pop(name, None)
        if self._saying is not None and self._saying.alarm == name:
            # Somebody is there, or it is over: nobody wants to hear the rest.
            self._hushed.set()

    def _work(self) -> None:
        while True:
            with self._lock:
                while (utterance := self._next()) is None and not self._closed:
                    self._lock.wait(self._pause_s())
                if self._closed or utterance is None:
                    return
                self._hushed.clear()
                self._saying = utterance
                text = self._words(utterance)
            trouble = self._voice.speak(text, self._hushed) if text else ""
            with self._lock:
                self._saying = None
                if not self._hushed.is_set():
                    self._settle(utterance)
            self._say_trouble(trouble)

    def _next(self) -> _Utterance | None:
        """Give the most urgent thing to say now; nothing before it is known where the heat stands."""
        if self._status is None:
            return None
        now_s = self._clock()
        due = [
            (_rank_of(each.priority), each.since_s, name)
            for name, each in self._unsaid.items()
            if each.due_s is not None and each.due_s <= now_s
        ]
        if due:
            rank, _, name = min(due)
            return _Utterance(rank, name)
        if self._asked:
            return _Utterance(_Rank.ASKED)
        return _Utterance(_Rank.SEGMENT) if self._begun else None

    def _pause_s(self) -> float | None:
        due = [each.due_s for each in self._unsaid.values() if each.due_s is not None]
        return max(0.0, min(due) - self._clock()) if due and self._status is not None else None

    def _words(self, utterance: _Utterance) -> str:
        status = self._status
        if status is None:
            return ""
        if utterance.rank is _Rank.ASKED:
            return state_words(status, fahrenheit=self._fahrenheit)
        if utterance.rank is _Rank.SEGMENT:
            return self._begun
        alarm = next((each for each in status.alarms if each.alarm == utterance.alarm), None)
        if alarm is None:
            # Told, and not yet shown: its name is known.
            return f"{utterance.alarm.replace('-', ' ').capitalize()}."
        return alarm_words(alarm, fahrenheit=self._fahrenheit)

    def _settle(self, utterance: _Utterance) -> None:
        """Note what has been said, and when it is to be said again."""
        if utterance.rank is _Rank.ASKED:
            self._asked = False
        elif utterance.rank is _Rank.SEGMENT:
            self._begun = ""
        elif (unsaid := self._unsaid.get(utterance.alarm)) is not None:
            now_s = self._clock()
            pause_s = ring_again_after_s(unsaid.priority, now_s - unsaid.since_s)
            unsaid.due_s = None if pause_s is None else now_s + pause_s

    def _say_trouble(self, trouble: str) -> None:
        """Give notice of a voice that fails, once until it has spoken again."""
        if trouble and not self._trouble:
            self._hear(Notice(0.0, NoticeName.OUTPUT_FAILING, text=f"the voice is silent: {trouble}"))
        self._trouble = trouble


def _rank_of(priority: Priority) -> _Rank:
    return _Rank(URGENCY[priority])
