"""What the terminal's display says: plain sentences from a picture, without knowing where on the screen they stand.

Every text that a person or a board has written is made harmless here, before it can come near a terminal.
"""

from dataclasses import dataclass
from datetime import datetime

from rampwarden.core.model import Priority, Quality
from rampwarden.core.quantities import counted, format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.display.terminal_style import MARKS
from rampwarden.outputs.status_line import (
    done_in_words,
    hold_words,
    learnt_words,
    next_in_words,
    phase_words,
    probes_words,
    ramp_number,
    ramp_unit,
    signed,
    standing_in_words,
    stop_words,
    withheld_words,
)
from rampwarden.picture import AlarmLine, Broker, Mode, Picture
from rampwarden.terminal_text import elapsed, printable

# Real seconds. The watch shows itself each second; a reading as old as this is lost, and an alarm says so too.
_STILL_S = 3.0
_OLD_READING_S = 10.0


def other_probes_words(picture: Picture) -> str:
    """Say what the probes beside the followed one read; empty where there is none."""
    return printable(probes_words(picture.status))


def stand_in_words(picture: Picture) -> str:
    """Say which probe stands in for the followed one, with what uncertainty; empty while none does."""
    return printable(standing_in_words(picture.status))


def question_words(picture: Picture) -> list[str]:
    """Give the question that has waited longest, and how many wait behind it; nothing while none does."""
    questions = picture.status.questions
    if not questions:
        return []
    first = questions[0]
    more = f" · and {counted(len(questions) - 1, 'one more', 'more')}" if len(questions) > 1 else ""
    sign = "[ ]" if first.is_check else "?"
    return [printable(f"{sign} {first.text}{more} · r replies")]


def mode_words(picture: Picture) -> str:
    """Say that this is no furnace, and how fast it plays; empty for a live heat."""
    pace = f"×{picture.pace:g}{' · PAUSED' if picture.paused else ''}"
    if picture.about.mode is Mode.REHEARSAL:
        return f"REHEARSAL {pace} · no furnace"
    if picture.about.mode is Mode.REPLAY:
        return f"REPLAY of {_date(picture.about.started)} {pace}"
    return ""


def title_words(picture: Picture) -> str:
    """Name the heat: its crucible if it has one, its schedule, and who watches it."""
    watched_by = picture.status.watched_by
    who = f"watched by {watched_by}" if watched_by else ""
    return " · ".join(printable(part) for part in (picture.about.crucible, picture.about.title, who) if part)


def no_news(picture: Picture, now_s: float) -> str:
    """Say that the temperature shown is not the present one, and why; empty while it is. `now_s` is real, monotonic."""
    if picture.over:
        return "the end of the record" if picture.about.mode is Mode.REPLAY else "the watch has ended"
    if is_still(picture, now_s):
        return f"no news from the watch for {format_duration(now_s - picture.shown_at_s)}"
    status = picture.status
    if status.quality is Quality.BAD:
        return "no temperature" if status.read_s is not None else "waiting for the first reading"
    age_s = picture.reading_age_by(now_s)
    if age_s is not None and age_s > _OLD_READING_S * max(1.0, picture.pace):
        return f"no reading for {format_duration(age_s)}"
    return ""


def is_still(picture: Picture, now_s: float) -> bool:
    """Tell whether the watch itself has not shown itself for too long: then nothing of the picture is the present."""
    return not (picture.over or picture.paused) and now_s - picture.shown_at_s > _STILL_S


def ramp_words(picture: Picture, degrees: Degrees = CELSIUS) -> tuple[str, str, str]:
    """Give the ramp as a number, its unit, and how fast is allowed in words."""
    status = picture.status
    factor, unit = ramp_unit(status)
    number = ramp_number(status)
    if degrees.fahrenheit:
        factor, unit = degrees.difference(factor), unit.replace("°C", degrees.unit)
        number = signed(status.ramp.c_per_s * factor) if status.ramp is not None else number
    lowest, highest = (None if bound is None else bound * factor for bound in status.allowed_c_per_s)
    if lowest is not None and highest is not None:
        return number, unit, f"allowed {lowest:+.0f} to {highest:+.0f}"
    if highest is not None:
        return number, unit, f"at most {highest:+.0f}"
    if lowest is not None:
        return number, unit, f"at {'least' if lowest > 0 else 'most'} {lowest:+.0f}"
    return number, unit, "no limit here" if status.segment is not None else ""


def allowed_forms(picture: Picture, degrees: Degrees = CELSIUS) -> tuple[str, ...]:
    """Give how fast is allowed in few letters, in forms that grow shorter; none where there is no limit."""
    factor = degrees.difference(ramp_unit(picture.status)[0])
    lowest, highest = (None if bound is None else f"{bound * factor:.0f}" for bound in picture.status.allowed_c_per_s)
    if lowest is not None and highest is not None:
        return f"{lowest} to {highest}", f"{lowest}-{highest}"
    if highest is not None:
        return f"max {highest}", highest
    if lowest is not None:
        return (f"max {lowest}" if lowest.startswith("-") else f"min {lowest}", lowest)
    return ()


def corridor_words(picture: Picture) -> str:
    """Say where the temperature may be now, and how far outside it is if it is."""
    temp_c, low_c, high_c = picture.status.temp_c, picture.low_c, picture.high_c
    if temp_c is not None and high_c is not None and temp_c > high_c:
        return f"{temp_c - high_c:.0f} °C above its corridor"
    if temp_c is not None and low_c is not None and temp_c < low_c:
        return f"{low_c - temp_c:.0f} °C below its corridor"
    if low_c is not None and high_c is not None:
        return f"may be {low_c:.0f} to {high_c:.0f} °C"
    if high_c is not None:
        return f"may be up to {high_c:.0f} °C"
    return f"may be down to {low_c:.0f} °C" if low_c is not None else ""


def segment_words(picture: Picture) -> str:
    """Name the segment and where it leads."""
    present = picture.present
    if present is None:
        return phase_words(picture.status)
    return printable(f"{present.number} of {picture.status.segment_count} · {present.name} · {present.aim}")


def instruction_words(picture: Picture) -> str:
    """Give the schedule's own instruction for now."""
    return "" if picture.present is None else printable(picture.present.say)


def held_back_words(picture: Picture) -> str:
    """Say that a ramp alarm is held back; empty while none is."""
    return printable(withheld_words(picture.status))


def explained_words(picture: Picture) -> str:
    """Say what explains the last minutes; empty where nothing does, or an alarm says it already."""
    statement = picture.status.statement
    return "" if statement is None or statement.alarm is not None else printable(statement.text)


def next_words(picture: Picture) -> str:
    """Say what comes next, and when."""
    status, coming = picture.status, picture.coming
    if picture.present is None:
        return ""
    if stops := stop_words(status):
        return stops
    when = f" in {next_in}" if (next_in := next_in_words(status)) else ""
    if coming is None:
        return "then the schedule is done"
    aim = "" if coming.kind is SegmentKind.TRANSFER else f", {coming.aim}"
    return printable(f"then{when}: {coming.name}{aim}")


def end_words(picture: Picture, wall: datetime) -> str:
    """Say when all is done, by the clock too where it is the furnace's."""
    to_end_s, done_in = picture.status.to_end_s, done_in_words(picture.status)
    if not done_in or picture.present is None:
        return ""
    clock = ""
    if picture.about.mode is Mode.LIVE and to_end_s is not None:
        clock = f", about {datetime.fromtimestamp(wall.timestamp() + to_end_s):%H:%M}"
    learnt = learnt_words(picture.status)
    return f"done in {done_in}{clock}" + (f", {learnt}" if learnt else "")


def readiness_lines(picture: Picture) -> list[str]:
    """Say at the heat's end what the pot is ready for, then why, the gravest reason first; before the end nothing."""
    readiness = picture.status.readiness
    return [] if readiness is None else [printable(each) for each in (readiness.sentence, *readiness.reasons)]


def soak_words(picture: Picture) -> str:
    """Give the soak clock; empty outside a soak."""
    status = picture.status
    if not status.hold_s:
        return ""
    return f"{hold_words(status)} · {phase_words(status)}"


@dataclass(frozen=True, slots=True)
class SaidAlarm:
    """An alarm in words: state and name, what is so now, when and where it rang, and what to do about it."""

    head: str
    fact: str
    where: str
    todo: str


def alarm_words(alarm: AlarmLine, number: int | None = None) -> SaidAlarm:
    """Word an alarm, its state first. `number` is the key that acknowledges it alone."""
    key = "" if number is None else f"{number} "
    worst = f", at worst {alarm.worst}" if alarm.worst and alarm.ended_s is None else ""
    todo = alarm.action or (f"{alarm.yields_to} comes first" if alarm.yields_to else "")
    return SaidAlarm(
        printable(f"{key}{alarm.state_word} {MARKS[alarm.priority]} {alarm.priority.upper()} {alarm.alarm}"),
        printable(f"{alarm.text}{worst}"),
        printable(alarm.where),
        printable(todo),
    )


def health_words(picture: Picture, now_s: float) -> list[tuple[str, bool]]:
    """Give how board, record and broker are, each with whether it is in trouble."""
    if picture.about.mode is Mode.REPLAY:
        lost = _lost(picture)
        return [(f"board: {' · '.join(['as recorded', *lost])}", False), ("nothing is written", False)]
    return [_board_words(picture, now_s), _record_words(picture), *_broker_words(picture)]


def clock_words(picture: Picture) -> str:
    """Give the heat's own clock."""
    return elapsed(picture.status.time_s)


def standing_marks(alarms: tuple[AlarmLine, ...]) -> str:
    """Count alarms by priority: what is left of them where there is no room."""
    counts = {priority: sum(alarm.priority is priority for alarm in alarms) for priority in Priority}
    return ", ".join(f"{count} {priority}" for priority, count in reversed(counts.items()) if count)


def _board_words(picture: Picture, now_s: float) -> tuple[str, bool]:
    health = picture.health
    if health.board_trouble:
        return f"BOARD {printable(health.board_trouble)}", True
    age_s = picture.reading_age_by(now_s)
    if age_s is None:
        return "board: no reading yet", False
    # In real seconds: a rehearsal's own clock runs away between two looks.
    is_old = age_s > _OLD_READING_S * max(1.0, picture.pace)
    age = f"{format_duration(age_s / max(1.0, picture.pace))} ago"
    words = " · ".join([f"{'BOARD silent, last reading' if is_old else 'board OK, read'} {age}", *_lost(picture)])
    return words, is_old


def _lost(picture: Picture) -> list[str]:
    health = picture.health
    counts = ((health.lost_frames, "frames lost"), (health.garbled_lines, "lines garbled"))
    return [f"{count} {what}" for count, what in counts if count]


def _record_words(picture: Picture) -> tuple[str, bool]:
    if picture.health.record_trouble:
        return f"RECORD FAILING {printable(picture.health.record_trouble)}", True
    return "recording", False


def _broker_words(picture: Picture) -> list[tuple[str, bool]]:
    health = picture.health
    match health.broker:
        case Broker.NONE:
            return []
        case Broker.REACHED:
            return [("broker connected", False)]
        case Broker.WAITING:
            return [("broker not connected yet", False)]
        case Broker.LOST:
            return [(f"BROKER LOST {printable(health.broker_trouble)}", True)]


def _date(started: str) -> str:
    """Give the day and hour of a record for people, as it was where it is read; what is no date is shown as it is."""
    try:
        return f"{datetime.fromisoformat(started).astimezone():%Y-%m-%d %H:%M}"
    except ValueError:
        return printable(started)[:20]
