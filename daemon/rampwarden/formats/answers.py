"""Boards that speak when they are spoken to: the questions of a round, and what their answers mean.

An answer is one line, read by the same formats as lines that come by themselves; plain columns beside that as bench
instruments print numbers (SCPI-99 volume 1, 7.2: with exponents, 9.9E37 for more than can be measured, 9.91E37 for no
number). Where each column has its question, one that is not answered costs its own channel alone.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from rampwarden.core.instrument import Column, ColumnDecoder, ColumnFormat, Frame, LineDecoder
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError
from rampwarden.formats.decoding import named_decoder
from rampwarden.formats.named import NamedFormat, Naming
from rampwarden.formats.units import NUMBER, fault_word

_MOST_QUESTIONS = 32
_LONGEST_QUESTION = 120
_NUMBER = re.compile(NUMBER)
# SCPI-99 volume 1, 7.2: positive and negative infinity, and not a number.
_OVERLOAD, _NO_NUMBER = 9.9e37, 9.91e37
_MEASURED = (Column.EMF_UV, Column.EMF_MV, Column.ADC, Column.TEMP_C, Column.TEMP_F)


class Ending(StrEnum):
    """What ends a question."""

    LF = "lf"
    CR = "cr"
    CRLF = "crlf"

    @property
    def bytes(self) -> bytes:
        """Give it as it is sent."""
        return {Ending.LF: b"\n", Ending.CR: b"\r", Ending.CRLF: b"\r\n"}[self]


@dataclass(frozen=True, slots=True)
class QuestionRound:
    """The questions of one round, in their order, and how long an answer is waited for, s."""

    questions: tuple[str, ...]
    ending: Ending = Ending.LF
    answer_within_s: float = 1.0

    def __post_init__(self) -> None:
        if not 1 <= len(self.questions) <= _MOST_QUESTIONS:
            raise SettingsError(f"board ask: {len(self.questions)} questions; a round has 1 to {_MOST_QUESTIONS}")
        for question in self.questions:
            if not (1 <= len(question) <= _LONGEST_QUESTION and question.isascii() and question.isprintable()):
                raise SettingsError(
                    f"board ask: {question[:40]!r} is no question: 1 to {_LONGEST_QUESTION} printable ASCII letters; "
                    "what ends it is set by ask_end"
                )

    @property
    def longest_round_s(self) -> float:
        """How long a round takes in which nothing is answered, and each late answer is waited out."""
        return 2.0 * self.answer_within_s * len(self.questions)


class AnswerReader:
    """Reads the answers of one round; `words` says what was wrong with those of the latest that could not be read."""

    def __init__(self, answers: ColumnFormat | NamedFormat, questions: int) -> None:
        self.words = ""
        self._answers = answers
        self._decoder: LineDecoder
        if isinstance(answers, NamedFormat):
            if answers.naming is Naming.JSON and questions > 1:
                raise SettingsError('board ask: with format "json" a round has one question, and its answer one object')
            self._decoder = named_decoder(answers)
            return
        if questions not in (1, len(answers.columns)):
            raise SettingsError(
                f"board ask: {questions} questions for {len(answers.columns)} columns; ask one, or one for each column"
            )
        beside = [(index, column) for index, column in enumerate(answers.columns) if column in _BESIDE]
        measured = [(index, column) for index, column in enumerate(answers.columns) if column in _MEASURED]
        self._places = [[place, *beside] for place in measured]
        one = replace(answers, columns=tuple(column for _, column in self._places[0]))
        self._decoder = ColumnDecoder(one)

    @property
    def unwanted(self) -> str:
        """Why answers that can be read have nothing for us."""
        return self._decoder.unwanted

    def read(self, answers: Sequence[bytes | None]) -> list[Frame]:
        """Give the frames that a round's answers make, None for one that did not come; never raises."""
        self.words = ""
        if isinstance(self._answers, NamedFormat):
            joined = b"  ".join(answer for answer in answers if answer is not None)
            frames = self._decoder.feed(joined + b"\n") if joined else []
            if not frames:
                self.words = self._decoder.words or self._decoder.unwanted
            return frames
        return self._columns(answers, len(self._answers.columns))

    def _columns(self, answers: Sequence[bytes | None], count: int) -> list[Frame]:
        fields: list[bytes | None] = list(answers)
        if len(answers) == 1 and answers[0] is not None:
            fields = list(re.split(rb"[ \t]*[,;][ \t]*|[ \t]+", answers[0].strip()))
            if len(fields) != count:
                self.words = f"{len(fields)} values in an answer that should have {count}"
                return []
        if len(fields) != count:
            return []
        frames = []
        for channel, places in enumerate(self._places):
            frame = self._channel(channel, [fields[index] for index, _ in places])
            if frame is not None:
                frames.append(frame)
        return frames

    def _channel(self, channel: int, fields: Sequence[bytes | None]) -> Frame | None:
        plain = []
        for place, field in enumerate(fields):
            if field is None:
                return None
            read = _plain(field)
            if isinstance(read, Fault):
                # The first is the measurement, what stands beside it belongs to the junction or the clock.
                return Frame(channel, faults=(read if place == 0 else Fault.JUNCTION,))
            if not read:
                self.words = f"{field.decode('ascii', 'replace')[:30]!a} is no number"
                return None
            plain.append(read)
        for frame in self._decoder.feed(b",".join(plain) + b"\n"):
            return Frame(channel, None, frame.board_ms, frame.emf_uv, frame.temp_c, frame.junction_c)
        self.words = f"{plain[0].decode()} is outside what its column may hold"
        return None


_BESIDE = (Column.JUNCTION_C, Column.MS)


def _plain(field: bytes) -> bytes | Fault:
    """Give a number without exponent, the fault it stands for, or nothing where it is none."""
    text = field.decode("ascii", "replace").strip().strip('"')
    if _NUMBER.fullmatch(text) is None:
        return fault_word(text) or b""
    value = float(text)
    if abs(value) >= _OVERLOAD:
        return Fault.CONVERTER if value == _NO_NUMBER else Fault.OPEN
    return (f"{value:.9f}" if abs(value) < 1e10 and value % 1 else f"{value:.0f}").encode()
