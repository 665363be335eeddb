"""What the watch asks, and waits to be answered: what a schedule asks in its course, and marks whose meaning is open.

A question is asked once, on the grid of whole seconds, and stands until it is answered, or until what it asks about is
over: the meaning of a mark ends with its segment, everything with the heat. What a schedule asks late in a segment that
ended sooner is not asked at all. Rings nothing and judges nothing: an alarm must be acted on, a question may wait.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from rampwarden.core.model import EventName, OpenQuestion
from rampwarden.core.schedule import CHECK_ANSWERS, Schedule, TimedQuestion
from rampwarden.core.watching.event_list import EventList
from rampwarden.errors import HeatTransitionError

_MOST_OPEN = 20
"""More that nobody answers are not put on top: the oldest make room. Lines of the checklist stand beside them."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question, and what its answers do by their words: with such answers it ends with its segment."""

    question: OpenQuestion
    meant: dict[str, Callable[[], None]]


class AskedQuestions:
    """Asks and takes answers; `due_s` is when the schedule asks next, s."""

    def __init__(self, schedule: Schedule, events: EventList) -> None:
        self._schedule, self._events = schedule, events
        self._asked: list[_Asked] = []
        self._waiting: list[tuple[float, TimedQuestion]] = []
        self._count = 0
        self.due_s = math.inf

    @property
    def open(self) -> tuple[OpenQuestion, ...]:
        """What was asked and not answered yet, oldest first; the checklist, which stands there anyway, last."""
        return tuple(sorted((each.question for each in self._asked), key=lambda question: question.is_check))

    def begin(self) -> None:
        """The heat begins: ask for each line of the checklist."""
        for line in self._schedule.checklist:
            self.ask(line, CHECK_ANSWERS, is_check=True)

    def enter(self, index: int | None, time_s: float) -> None:
        """Segment `index` has begun at `time_s` (s); None: there is none any more."""
        self._asked = [each for each in self._asked if not each.question.only_these]
        asks = () if index is None else self._schedule.segments[index].asks
        self._waiting = [(time_s + each.after_s, each) for each in asks]
        self._plan()

    def end(self) -> None:
        """The heat is over, after its last segment: nothing waits for an answer any more."""
        self._asked.clear()

    def tick(self, now_s: float) -> None:
        """Ask what is due by `now_s` (s)."""
        while self._waiting and self._waiting[0][0] <= now_s:
            _, due = self._waiting.pop(0)
            self.ask(due.question, due.answers)
        self._plan()

    def ask(
        self,
        text: str,
        answers: tuple[str, ...] = (),
        meant: dict[str, Callable[[], None]] | None = None,
        *,
        is_check: bool = False,
    ) -> None:
        """Ask; `meant` has what each answer does: then it is one of them, and the question ends with its segment."""
        self._count += 1
        place = self._events.place
        offered = answers if meant is None else tuple(meant)
        only_these = meant is not None
        segment = None if place is None else place[0]
        question = OpenQuestion(self._count, text, offered, self._events.now_s, segment, only_these, is_check)
        others = [each for each in self._asked if not each.question.is_check]
        if len(others) >= _MOST_OPEN:
            self._asked.remove(others[0])
        self._asked.append(_Asked(question, meant or {}))
        choice = f" · {' / '.join(offered)}" if offered else ""
        self._events.say_here(EventName.ASKED, f"{text}{choice}", question=self._count)

    def answer(self, number: int, text: str) -> str:
        """Take an answer to a question, by its number or 0, and give it as it was offered.

        With 0 it is the first of `open` that offers this very answer, else the first of all.

        Raises `HeatTransitionError` where none such is open, or the answer is none of those that mean something.
        """
        number = number or self._meant_by(text)
        asked = next((each for each in self._asked if each.question.number == number), None)
        if asked is None:
            raise HeatTransitionError("no question is open" if number == 0 else f"question {number} is not open")
        question = asked.question
        given = next((each for each in question.answers if each.casefold() == text.casefold()), text)
        if not given or (question.only_these and given not in asked.meant):
            raise HeatTransitionError(f"{question.text} answer one of: {' / '.join(question.answers) or 'any words'}")
        self._asked.remove(asked)
        self._events.say_here(EventName.ANSWERED, f"{question.text} · {given}", question=question.number)
        if given in asked.meant:
            asked.meant[given]()
        return given

    def _meant_by(self, text: str) -> int:
        """Give the number of the question that a bare answer is said to; 0 where none is open."""
        questions = self.open
        offering = (each for each in questions if text.casefold() in (answer.casefold() for answer in each.answers))
        meant = next(offering, questions[0] if questions else None)
        return 0 if meant is None else meant.number

    def _plan(self) -> None:
        self.due_s = self._waiting[0][0] if self._waiting else math.inf
