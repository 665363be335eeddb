"""What a watch has said since somebody last asked, each thing with its time and its place in the schedule.

It holds the watch's clock, so whatever is said is dated by the one time there is, and the book of what a person may
answer with "that was wrong". Judges nothing and words nothing.
"""

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms import RAISING, AlarmChange, AlarmInput, AnswerBook, alarm_text
from rampwarden.core.heat import HeatTracker
from rampwarden.core.model import Event, EventName
from rampwarden.core.schedule import Schedule


class EventList:
    """Collects events; `time_s` is the watch's clock, s since the heat began, None before the first input.

    `answers` keeps what can be said to be wrong.
    """

    def __init__(self, schedule: Schedule, tracker: HeatTracker) -> None:
        self._schedule = schedule
        self._tracker = tracker
        self._events: list[Event] = []
        self.answers = AnswerBook()
        self.time_s: float | None = None

    @property
    def now_s(self) -> float:
        """The clock, s; 0 before the first input."""
        return self.time_s if self.time_s is not None else 0.0

    @property
    def place(self) -> tuple[str, int] | None:
        """The present segment by name and number; None before the first and after the last."""
        segment = self._tracker.segment
        return None if segment is None else (segment.name, self._tracker.index + 1)

    def say(
        self,
        event: EventName,
        text: str,
        index: int | None = None,
        withdraws: float | None = None,
        upholds: float | None = None,
        question: int | None = None,
    ) -> None:
        """Say something of segment `index`, or of none; perhaps what it withdraws or upholds (s, when it was said).

        `question` is the number of the one that is asked or answered.
        """
        name, number = (None, None) if index is None else (self._schedule.segments[index].name, index + 1)
        self._events.append(
            Event(
                time_s=self.now_s,
                event=event,
                segment=name,
                segment_number=number,
                text=text,
                withdraws=withdraws,
                upholds=upholds,
                question=question,
            )
        )

    def say_here(
        self,
        event: EventName,
        text: str,
        withdraws: float | None = None,
        upholds: float | None = None,
        question: int | None = None,
    ) -> None:
        """Say something of the present segment; of none before the first and after the last."""
        index = None if self._tracker.segment is None else self._tracker.index
        self.say(event, text, index, withdraws, upholds, question)

    def observe(self, text: str) -> None:
        """Say what happens in the present segment: a message that can be answered."""
        self.answers.note_message(self.now_s, text)
        self.say_here(EventName.OBSERVED, text)

    def tell_alarm(self, change: AlarmChange, entry: AlarmEntry, *, in_doubt: bool, yields_to: str = "") -> None:
        """Tell what happened to an alarm; `in_doubt`: its order comes from a reading in doubt.

        `yields_to`: the alarm whose order its own would contradict.
        """
        if change.happening in RAISING:
            self.answers.note_alarm(change.time_s, change.alarm)
        said_s = self.answers.said_of(change.alarm)
        name, number = self.place or (None, None)
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
                segment=name,
                segment_number=number,
                text=alarm_text(change, entry, name, in_doubt=in_doubt, yields_to=yields_to),
                withdraws=said_s if change.happening is AlarmInput.SAY_WRONG else None,
                upholds=said_s if change.happening is AlarmInput.UPHOLD else None,
                worst=change.worst_value,
                pressing=change.happening is AlarmInput.PRESS,
            )
        )

    def taken(self) -> list[Event]:
        """Give what was said since the last call, oldest first; the list is the caller's own."""
        if not self._events:
            return []
        events, self._events = self._events, []
        return events
