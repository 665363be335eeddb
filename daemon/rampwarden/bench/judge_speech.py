"""Judges how a board speaks: its format, what cannot be read, its rate and clock, what got lost, what it flags."""

from collections.abc import Iterator, Sequence

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.bench.known_beforehand import Asked
from rampwarden.bench.lines import Spoken
from rampwarden.bench.recognise import Recognised
from rampwarden.bench.timing import Timing
from rampwarden.core.instrument import Column, ColumnFormat, Frame
from rampwarden.core.model import Fault
from rampwarden.formats import NamedFormat, Naming
from rampwarden.plan import Verdict

# A reading in a thousand lost says nothing; more says cable, supply or speed.
_LOST_SHARE = 0.002
_BAD_SHARE = 0.002
# A resonator is half a percent off at worst (common practice, no source); a clock further off counts something else.
_CLOCK_OFF = 0.02
_FAULT_WORDS = {
    Fault.OPEN: ("the board reports an open thermocouple", "check plug and probe"),
    Fault.SHORT_GROUND: ("the board reports a short to ground", "check the wires"),
    Fault.SHORT_SUPPLY: ("the board reports a short to its supply", "check the wires"),
    Fault.CONVERTER: ("the board reports that its converter fails", "check its supply and its wires"),
    Fault.JUNCTION: ("the board reports that its junction sensor fails", "check that sensor's wires"),
}


def judge_format(found: Recognised, asked: Asked, spoken: Spoken, count: int) -> BoardFinding:
    """Judge which format was found, against the one that is set; `count` lines came."""
    figures: dict[str, object] = {"lines": count, "read": len(spoken.frames), "unreadable": spoken.unreadable}
    if spoken.channels and not spoken.frames:
        seen = ", ".join(str(channel) for channel in sorted(spoken.channels))
        words = f"frames come, but none of channel {asked.channel} (seen: {seen})"
        return BoardFinding("format", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, "set [board] channel", figures)
    if spoken.unwanted and not spoken.frames:
        do = "write the name as the board does"
        return BoardFinding("format", Verdict.WILL_NOT_WORK, spoken.unwanted, Sureness.CERTAIN, do, figures)
    if isinstance(asked.columns, NamedFormat) and spoken.frames:
        listed = ", ".join(ascii(name) for name in asked.columns.names)
        words = f"{'JSON lines' if asked.columns.naming is Naming.JSON else 'labelled text'} as it is set: {listed}"
        return BoardFinding("format", Verdict.FINE, f"{words}; no checksum guards them", figures=figures)
    if found.named is not None:
        return _judge_names(found, found.named, figures)
    if not found.known:
        words, do = _unknown(spoken)
        return BoardFinding("format", Verdict.WILL_NOT_WORK, words, Sureness.LIKELY, do, figures)
    if found.framed:
        words = "our frames: sequence number, board clock, checksum"
        if asked.framed is False:
            do = 'set format = "frames"'
            return BoardFinding("format", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do, figures)
        return BoardFinding("format", Verdict.FINE, words, figures=figures)
    return _judge_columns(found, asked, figures)


def _judge_columns(found: Recognised, asked: Asked, figures: dict[str, object]) -> BoardFinding:
    listed = ", ".join(f'"{column}"' for column in found.columns)
    setting = f'format = "columns", columns = [{listed}]'
    if asked.framed:
        words = f"plain columns of numbers, {len(found.columns)} a line"
        return BoardFinding("format", Verdict.WILL_NOT_WORK, words, found.sureness, f"set {setting}", figures)
    if not isinstance(asked.columns, ColumnFormat):
        words = f"plain columns of numbers, likely [{listed}]"
        return BoardFinding(
            "format", Verdict.LOOK_AGAIN, words, found.sureness, f"set {setting} if that is so", figures
        )
    if _tells(found.columns) and _tells(asked.columns.columns) and _differ(found.columns, asked.columns.columns):
        as_set = ", ".join(f'"{column}"' for column in asked.columns.columns)
        words = f"columns are set as [{as_set}] and look like [{listed}]: exchanged?"
        return BoardFinding(
            "format", Verdict.WILL_NOT_WORK, words, found.sureness, f"set columns = [{listed}]", figures
        )
    return BoardFinding(
        "format", Verdict.FINE, "plain columns as they are set; no checksum guards them", figures=figures
    )


def _judge_names(found: Recognised, named: NamedFormat, figures: dict[str, object]) -> BoardFinding:
    what = "JSON lines" if named.naming is Naming.JSON else "labelled text"
    words = f"{what}, likely {_listed(named.values)} measured"
    if named.junction:
        words += f", {_listed(named.junction)} the reference junction"
    if named.ms:
        words += f", {named.ms!a} the board's clock"
    return BoardFinding(
        "format", Verdict.LOOK_AGAIN, words, found.sureness, "set the block below if that is so", figures
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(ascii(name) for name in names)


def _tells(columns: Sequence[Column]) -> bool:
    return Column.JUNCTION_C in columns


def _differ(found: Sequence[Column], as_set: Sequence[Column]) -> bool:
    """Tell whether the terminals' column is another one than is set: what the measurement is called may be guessed."""
    return len(found) != len(as_set) or found.index(Column.JUNCTION_C) != as_set.index(Column.JUNCTION_C)


def _unknown(spoken: Spoken) -> tuple[str, str]:
    sample = spoken.sample
    strange = sum(not (32 <= byte < 127 or byte in b"\t\r\n") for byte in sample)
    shown = ascii(sample.decode("ascii", "replace").replace("\ufffd", "?").strip()[:40])
    if strange > 0.05 * len(sample):
        return f"no text: {shown}", "try another baud rate: 9600, 19200, 57600, 115200"
    return (
        f"lines that are neither frames nor plain numbers: {shown}",
        "print numbers alone, labels or JSON, or frames; or must it be asked (--try-questions)?",
    )


def judge_line(spoken: Spoken) -> Iterator[BoardFinding]:
    """Judge what could not be read."""
    good, bad = len(spoken.frames), spoken.crc_failed + spoken.unreadable
    if not good or bad <= _BAD_SHARE * (good + bad):
        return
    words = f"{spoken.crc_failed} checksums failed, {spoken.unreadable} other lines could not be read, of {good + bad}"
    figures = {"crc_failed": spoken.crc_failed, "unreadable": spoken.unreadable}
    do = "noise on the serial line: a shorter cable, a ferrite, a lower baud rate, a common ground"
    yield BoardFinding("line", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)


def judge_timing(timing: Timing, spoken: Spoken) -> Iterator[BoardFinding]:
    """Judge rate, clock, restarts and lost frames."""
    rate = 1.0 / timing.interval_s if timing.interval_s > 0 else 0.0
    figures: dict[str, object] = {
        "rate_per_s": round(rate, 3),
        "interval_s": round(timing.interval_s, 4),
        "board_jitter_s": None if timing.board_jitter_s is None else round(timing.board_jitter_s, 5),
        "late_s": round(timing.late_s, 5),
        "clock_off_ppm": None if timing.clock_off is None else round(timing.clock_off * 1e6),
        "clock_off_by_ppm": None if timing.clock_off_by is None else round(timing.clock_off_by * 1e6),
    }
    words = f"{rate:.3g} readings a second; "
    if timing.board_jitter_s is None:
        words += f"no board clock, so dated by arrival, which scatters by {1e3 * timing.late_s:.1f} ms"
    else:
        words += f"the board's clock scatters by {1e3 * timing.board_jitter_s:.1f} ms, "
        words += f"arrival by {1e3 * timing.late_s:.1f} ms"
    yield _judge_rate(rate, words, figures, timing)
    if timing.restarts:
        do = "look at its supply; did the igniter or a reset line do it?"
        yield BoardFinding("restarts", Verdict.LOOK_AGAIN, f"the board restarted {timing.restarts} times", do=do)
    total = len(spoken.frames) + timing.lost
    share = timing.lost / total
    if spoken.frames[0].seq is None:
        return
    lost = {"lost": timing.lost, "lost_share": round(share, 5)}
    if share > _LOST_SHARE:
        words = f"{timing.lost} of {total} never came ({share:.1%})"
        do = "cable, hub or supply; or the board sends faster than the line carries"
        yield BoardFinding("lost frames", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, lost)
    else:
        yield BoardFinding("lost frames", Verdict.FINE, f"{timing.lost or 'none'} of {total}", figures=lost)


def _judge_rate(rate: float, words: str, figures: dict[str, object], timing: Timing) -> BoardFinding:
    off, off_by = timing.clock_off, timing.clock_off_by
    if off is not None and off_by is not None:
        if abs(off) > _CLOCK_OFF + 3.0 * off_by:
            words += f"; it runs {abs(off):.0%} too {'fast' if off > 0 else 'slow'}"
            do = "send milliseconds, counted by a timer and not by the loop"
            return BoardFinding("timing", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
        if abs(off) > off_by:
            words += f"; it runs {abs(off) * 1e6:.0f} ppm {'fast' if off > 0 else 'slow'}, which is followed"
    if not 0.45 <= rate <= 50.0:
        do = "one to ten conversions a second: slower misses a flame-out, faster only averages"
        return BoardFinding("timing", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    if timing.board_jitter_s is not None and timing.board_jitter_s > 0.25 * timing.interval_s:
        do = "take ms when the conversion is done, and convert on a timer"
        return BoardFinding("timing", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    return BoardFinding("timing", Verdict.FINE, words, figures=figures)


def judge_faults(frames: Sequence[Frame]) -> Iterator[BoardFinding]:
    """Give what the board itself says is wrong."""
    for fault in Fault:
        count = sum(fault in frame.faults for frame in frames)
        if count:
            words, do = _FAULT_WORDS[fault]
            verdict = Verdict.WILL_NOT_WORK if count * 2 > len(frames) else Verdict.LOOK_AGAIN
            yield BoardFinding(
                "flags", verdict, f"{words} in {count} of {len(frames)} readings", do=do, figures={"flag": str(fault)}
            )
