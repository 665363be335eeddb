"""Questions in text, answered by a line: bench instruments that speak SCPI, and sketches that wait for a letter."""

import re
from collections.abc import Sequence

from rampwarden.core.instrument import ColumnFormat, Frame
from rampwarden.formats import AnswerReader, NamedFormat, QuestionRound
from rampwarden.sources.asking.asker import Asker

# IEEE 488.2 ends a response by a newline (8.8); many boards send a return as well, some that alone.
_END = re.compile(rb"[\r\n]")


class TextAsker(Asker):
    """Asks in text, and reads answers as `answers` says."""

    def __init__(self, asking: QuestionRound, answers: ColumnFormat | NamedFormat, interval_s: float) -> None:
        ending = asking.ending.bytes
        questions = [question.encode("ascii") + ending for question in asking.questions]
        super().__init__(questions, interval_s, asking.answer_within_s)
        self._reader = AnswerReader(answers, len(questions))

    def look_at(self, came: bytes, question: bytes) -> list[Frame]:
        """Take the first line that is neither blank nor an echo; what stands behind it nobody asked for."""
        echo = question.strip()
        *lines, tail = _END.split(came)
        for number, line in enumerate(lines):
            answer = line.strip()
            if not answer or answer == echo:
                continue
            frames = self._close(answer, came)
            rest = b"\n".join([*lines[number + 1 :], tail])
            if rest.strip():
                self._spoil(rest, "more than one line of an answer")
            return frames
        return []

    def read_round(self, answers: Sequence[bytes | None]) -> tuple[list[Frame], str]:
        """Read the round by the board's format."""
        frames = self._reader.read(answers)
        came = any(answer is not None for answer in answers)
        self.unwanted = "" if frames else self._reader.words or self.unwanted
        return frames, self._reader.words if came else ""
