"""Asks a board a round of questions each interval; the same face as a decoder, with `question` beside it.

Opens no port and reads no clock: it is told the time and what came, and gives what is to be sent.

Policy
- One question is open at a time. What comes while none is, is an answer nobody waits for any more: it is thrown away
  and counted. After a question that was not answered in time, nothing is asked for as long again, so that its answer
  cannot be taken for that of the next one.
- A spoiled answer (late, another's, an exception, a broken checksum, no number) costs its reading, and is counted in
  `garbled`, with `words` for a person.
- What a board or adapter echoes of a question is no answer.
- A board that restarts at the opening of its port answers nothing at first: until its first answer, and for BOOT_S at
  most, a question without one is not counted.
- Rounds begin on a grid of the interval; one that took longer makes the next begin at once.
"""

from abc import ABC, abstractmethod
from collections.abc import Sequence

from rampwarden.core.instrument import Frame

BOOT_S = 3.0
# No answer is longer; a flood of bytes between questions costs no memory either.
LONGEST_ANSWER = 4096
_SAMPLE_LENGTH = 64


class Asker(ABC):
    """The round, its questions and their answers."""

    def __init__(self, questions: Sequence[bytes], interval_s: float, answer_within_s: float) -> None:
        self.garbled = 0
        self.sample = b""
        self.words = ""
        self.unwanted = ""
        self._questions = tuple(questions)
        self._interval_s = interval_s
        self._within_s = answer_within_s
        self._buffer = b""
        self._answers: list[bytes | None] = []
        self._next = len(self._questions)
        self._open: int | None = None
        self._asked_s = 0.0
        self._due_s = self._quiet_until_s = self._opened_s = float("-inf")
        self._is_answered = False
        self._now_s = self._answered_s = 0.0
        self._ready: list[Frame] = []

    def resynchronise(self) -> None:
        """Forget everything that was under way: the port was opened again."""
        self._buffer = b""
        self._answers = []
        self._next = len(self._questions)
        self._open = None
        self._due_s = self._quiet_until_s = self._opened_s = float("-inf")
        self._is_answered = False

    def question(self, now_s: float) -> bytes:
        """Give what is to be sent at `now_s`, s on a clock that only runs on; empty for nothing."""
        self._now_s = now_s
        if self._opened_s == float("-inf"):
            self._opened_s = self._due_s = now_s
        if self._open is not None:
            if now_s - self._asked_s < self._within_s:
                return b""
            self._unanswered(now_s)
        if now_s < self._quiet_until_s:
            return b""
        if self._next >= len(self._questions):
            if now_s < self._due_s:
                return b""
            self._due_s = max(self._due_s + self._interval_s, now_s)
            self._next, self._answers = 0, []
        self._open, self._asked_s, self._buffer = self._next, now_s, b""
        self._next += 1
        return self._questions[self._open]

    def feed(self, data: bytes) -> list[Frame]:
        """Take what came, and give the frames of a round that it completes. Raises nothing."""
        if not data:
            return []
        if self._open is None:
            if data.strip(b"\r\n\0"):
                self._spoil(data, "an answer that came too late, or that nobody asked for")
            return []
        self._buffer += data
        if len(self._buffer) > LONGEST_ANSWER:
            return self._close(None, self._buffer, f"an answer of more than {LONGEST_ANSWER} bytes")
        return self.look_at(self._buffer, self._questions[self._open])

    def late_round(self) -> tuple[list[Frame], float]:
        """Give the frames of a round whose last question was not answered, and how long ago its last answer came, s."""
        frames, self._ready = self._ready, []
        return frames, self._now_s - self._answered_s

    @abstractmethod
    def look_at(self, came: bytes, question: bytes) -> list[Frame]:
        """Look whether what came since the question is an answer, and close the question with it if so."""

    @abstractmethod
    def read_round(self, answers: Sequence[bytes | None]) -> tuple[list[Frame], str]:
        """Give the frames of a round's answers, and in words what was wrong with any that came."""

    def _close(self, answer: bytes | None, came: bytes, words: str = "") -> list[Frame]:
        """Close the open question, by its `answer` or for a reason, and give the round's frames if it was the last."""
        self._open, self._buffer = None, b""
        if words:
            self._spoil(came, words)
        else:
            self._is_answered = True
            self._answered_s = self._now_s
        self._answers.append(answer)
        return self._round(answer or b"")

    def _round(self, came: bytes) -> list[Frame]:
        """Give the frames of the round if it is over."""
        if self._next < len(self._questions):
            return []
        frames, trouble = self.read_round(self._answers)
        if trouble:
            self._spoil(came, trouble)
        return frames

    def _unanswered(self, now_s: float) -> None:
        came, self._open, self._buffer = self._buffer, None, b""
        self._quiet_until_s = now_s + self._within_s
        self._answers.append(None)
        within = f"within {self._within_s:g} s"
        words = f"only {len(came)} bytes of an answer came {within}" if came.strip() else f"no answer {within}"
        self.unwanted = f"{words} to {self.shown_question}"
        if self._is_answered or now_s - self._opened_s > BOOT_S:
            self._spoil(came, words)
        self._ready = self._round(came)

    @property
    def shown_question(self) -> str:
        """The question that was asked last, for a person."""
        return ascii(self._questions[max(self._next - 1, 0)].decode("ascii", "replace").strip()[:40])

    def _spoil(self, came: bytes, words: str) -> None:
        self.garbled += 1
        self.sample = came[:_SAMPLE_LENGTH]
        self.words = self.unwanted = words
