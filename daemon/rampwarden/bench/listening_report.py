"""Everything a listening says of a board: one finding a question, and the figures behind each.

Composes the parts, which do not know each other: format, timing, noise, junction, scaling.
"""

from collections.abc import Sequence

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.bench.judge_speech import judge_faults, judge_format, judge_line, judge_timing
from rampwarden.bench.judge_values import judge_values
from rampwarden.bench.known_beforehand import Asked
from rampwarden.bench.lines import HeardLine, decode_lines
from rampwarden.bench.recognise import Recognised, recognise
from rampwarden.bench.suspicions import suspect_refused
from rampwarden.bench.timing import judge_times
from rampwarden.core.instrument import AdcScaling, Column, ColumnFormat
from rampwarden.errors import SettingsError
from rampwarden.plan import Verdict


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
    findings += judge_line(spoken)
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


def _usable(found: Recognised) -> ColumnFormat | None:
    """Give the guessed columns as a format to read by; an adc's scaling nobody knows, so its codes count as µV."""
    if found.framed or not found.known:
        return None
    scaling = AdcScaling(reference_v=1.0, bits=16, gain=1e6 / 65_536) if Column.ADC in found.columns else None
    try:
        return ColumnFormat(found.columns, scaling=scaling)
    except SettingsError:
        return None
