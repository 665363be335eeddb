"""Everything a listening says of a board: one finding a question, and the figures behind each.

Composes the parts, which do not know each other: format, timing, noise, junction, scaling.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.bench.judge_speech import judge_faults, judge_format, judge_line, judge_timing
from rampwarden.bench.judge_values import judge_values
from rampwarden.bench.known_beforehand import Asked
from rampwarden.bench.lines import HeardLine, Spoken, decode_lines
from rampwarden.bench.recognise import Recognised, recognise
from rampwarden.bench.suspicions import suspect_refused
from rampwarden.bench.timing import judge_times
from rampwarden.core.instrument import AdcScaling, Column, ColumnFormat, Frame
from rampwarden.errors import SettingsError
from rampwarden.formats import NamedFormat
from rampwarden.plan import Verdict

# A question in a hundred without an answer says nothing.
_SPOILED_SHARE = 0.01


@dataclass(slots=True)
class AnswersHeard:
    """What came of questions: frames with their times of arrival, s, how many questions, and what spoiled how many.

    `silence` says what was asked in vain, if nothing was answered.
    """

    frames: list[Frame] = field(default_factory=list)
    arrived_s: list[float] = field(default_factory=list)
    rounds: int = 0
    spoiled: Counter[str] = field(default_factory=Counter)
    silence: str = ""


def judge_board(lines: Sequence[HeardLine], asked: Asked) -> list[BoardFinding]:
    """Judge a board by its lines."""
    if not lines:
        words, do = "nothing comes", "is the board powered, does it send, are TX and RX the right way round?"
        return [BoardFinding("format", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do)]
    found = recognise(lines)
    columns = asked.columns if asked.framed is False else _usable(found)
    spoken = decode_lines(lines, columns, asked.channel)
    findings = [judge_format(found, asked, spoken, len(lines))]
    if (refused := suspect_refused(spoken.refused)) is not None:
        findings.append(refused)
    return findings + _judge_frames(spoken, asked)


def judge_answers(answered: AnswersHeard, asked: Asked) -> list[BoardFinding]:
    """Judge a board that was asked, by its answers."""
    spoiled = sum(answered.spoiled.values())
    figures: dict[str, object] = {"rounds": answered.rounds, "read": len(answered.frames), "spoiled": spoiled}
    told = "; ".join(f"{count} × {words}" for words, count in answered.spoiled.most_common(3))
    if not answered.frames:
        do = "is it powered, are baud, parity and address right, are the two wires of the bus the right way round?"
        words = told or answered.silence or "no answer"
        return [BoardFinding("answers", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do, figures)]
    finding = BoardFinding("answers", Verdict.FINE, f"{answered.rounds} questions, every one answered", figures=figures)
    if spoiled > _SPOILED_SHARE * answered.rounds:
        do = "a longer answer_within, a lower baud rate, termination and a common ground of the bus"
        words = f"of {answered.rounds} questions {spoiled} without a usable answer: {told}"
        finding = BoardFinding("answers", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    spoken = Spoken()
    for frame, at_s in zip(answered.frames, answered.arrived_s, strict=True):
        if frame.channel == asked.channel:
            spoken.frames.append(frame)
            spoken.arrived_s.append(at_s)
        else:
            spoken.channels[frame.channel] += 1
    return [finding, *_judge_frames(spoken, asked)]


def _judge_frames(spoken: Spoken, asked: Asked) -> list[BoardFinding]:
    """Judge what the readings tell, however they came."""
    findings = list(judge_line(spoken))
    timing = judge_times(spoken.frames, spoken.arrived_s, one_clock=asked.one_clock)
    if timing is None:
        return findings
    findings += judge_timing(timing, spoken)
    findings += judge_faults(spoken.frames)
    sound = [index for index, frame in enumerate(spoken.frames) if not frame.faults]
    if sound:
        frames, time_s = [spoken.frames[index] for index in sound], timing.time_s[sound]
        findings += judge_values(frames, time_s, timing, asked)
    return findings


def _usable(found: Recognised) -> ColumnFormat | NamedFormat | None:
    """Give the guessed columns as a format to read by; an adc's scaling nobody knows, so its codes count as µV."""
    if found.named is not None:
        return found.named
    if found.framed or not found.known:
        return None
    scaling = AdcScaling(reference_v=1.0, bits=16, gain=1e6 / 65_536) if Column.ADC in found.columns else None
    try:
        return ColumnFormat(found.columns, scaling=scaling)
    except SettingsError:
        return None
