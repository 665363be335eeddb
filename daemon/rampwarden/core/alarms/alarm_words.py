"""What the watch says, in words: one sentence for each kind of event.

An alarm's text reads `name · fact · segment · what to do`, so that the first words are the ones that matter from three
metres away.
"""

from collections.abc import Mapping
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms.desk import RAISING, AlarmChange, AlarmInput
from rampwarden.core.alarms.one_alarm import FACT_RESTS_S, bare_fact
from rampwarden.core.model import AlarmState
from rampwarden.core.quantities import Rate, format_duration
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# An alarm that is set aside says nothing of its condition, and coming back it says nothing of it yet.
_STANDING_ASIDE: Mapping[AlarmInput, str] = MappingProxyType(
    {
        AlarmInput.SHELVE: "shelved",
        AlarmInput.UNSHELVE: "no longer shelved",
        AlarmInput.SUPPRESS: "suppressed by design in this segment",
        AlarmInput.UNSUPPRESS: "no longer suppressed",
        AlarmInput.REMOVE_FROM_SERVICE: "out of service",
        AlarmInput.RETURN_TO_SERVICE: "in service again",
    }
)

_RESTS_IN_DOUBT = "rests: the reading is in doubt"


def alarm_text(
    change: AlarmChange, entry: AlarmEntry, segment: str | None, *, in_doubt: bool = False, yields_to: str = ""
) -> str:
    """Word what happened to an alarm.

    `in_doubt`: what it would have one do comes from a reading in doubt; if it is made to rest, that is why.
    `yields_to`: the alarm whose order stands in place of its own, which would contradict it.
    """
    rests_in_doubt = in_doubt and change.happening is AlarmInput.SUPPRESS
    parts = [change.alarm, _RESTS_IN_DOUBT if rests_in_doubt else _news(change, entry), segment]
    if change.happening in RAISING:
        parts.append(f"{yields_to} comes first" if yields_to else entry.order(change.finding, in_doubt=in_doubt))
    return " · ".join(part for part in parts if part)


def segment_text(schedule: Schedule, index: int) -> str:
    """Word the start of a segment: where it leads, what is allowed, and the schedule's own instruction."""
    segment = schedule.segments[index]
    parts = [segment.name, segment_aim(segment), segment_limits(schedule, index), segment.say]
    return " · ".join(part for part in parts if part)


def segment_aim(segment: Segment) -> str:
    """Word where a segment leads: one short imperative."""
    if segment.kind is SegmentKind.SOAK:
        lowest, highest = segment.lowest_c, segment.highest_c
        return f"hold {lowest:.0f} to {highest:.0f} °C for {format_duration(segment.hold_s)}"
    if segment.kind is SegmentKind.TRANSFER:
        limit = f" within {format_duration(segment.within_s)}" if segment.within_s else ""
        return f"carry the pot over{limit}; ramp alarms rest until it has arrived"
    verb = "cool" if segment.kind is SegmentKind.COOL else "heat"
    shut = f", shut for at least {format_duration(segment.hold_s)}" if segment.hold_s else ""
    return f"{verb} to {segment.to_c or 0.0:.0f} °C{shut}"


def segment_limits(schedule: Schedule, index: int) -> str:
    """Word how fast and how slowly a segment may go; empty where it may go as it likes."""
    segment, limits = schedule.segments[index], schedule.limits_in_force(index)
    parts = ["at most " + " and ".join(_rate(rate) for rate in limits)] if limits else []
    if segment.min_rate is not None:
        parts.append(f"at least {_rate(segment.min_rate)}")
    return " · ".join(parts)


def segment_rules(schedule: Schedule, index: int) -> tuple[str, ...]:
    """Word the one rule to keep in a segment in few letters, in forms that grow shorter: the widest that fits is shown.

    Of several limits it is the slowest; they all stand in `segment_limits`.
    """
    segment, limits = schedule.segments[index], schedule.limits_in_force(index)
    if segment.kind is SegmentKind.SOAK:
        band = f"{segment.lowest_c:.0f}-{segment.highest_c:.0f}"
        hold = format_duration(segment.hold_s)
        return f"{band} °C for {hold}", f"{band} °C {hold}", f"{band} {hold}", f"{band} °C", band
    if segment.kind is SegmentKind.TRANSFER:
        return (f"within {format_duration(segment.within_s)}",) if segment.within_s else ("carry the pot",)
    rate = min(limits, key=lambda each: each.c_per_s, default=None) or segment.min_rate
    if rate is None:
        return (f"to {segment.to_c or 0.0:.0f} °C",)
    climb, window = f"{rate.climb_c:g}", format_duration(rate.window_s)
    at = "" if limits else "least "
    return f"{at}{climb} °C in {window}", f"{at}{climb} °C/{window}", f"{at}{climb}/{window}"


def _news(change: AlarmChange, entry: AlarmEntry) -> str:
    match change.happening:
        case AlarmInput.APPEAR | AlarmInput.PRESS:
            return change.finding.what
        case AlarmInput.CLEAR:
            waits = ", not yet acknowledged" if change.state is AlarmState.RETURNED_UNACKNOWLEDGED else ""
            lasted = format_duration(change.lasted_s)
            if entry.ends_when_seen and not waits:
                return f"seen after {lasted}"
            if change.overtaken_by:
                return f"overtaken by {change.overtaken_by} after {lasted}{waits}"
            grew = change.worst and change.worst != bare_fact(change.finding)
            worst = f"; at worst {change.worst}" if grew else ""
            return f"back to normal after {lasted}{waits}{worst}"
        case AlarmInput.ACKNOWLEDGE if entry.ends_when_seen:
            return "acknowledged"
        case AlarmInput.ACKNOWLEDGE:
            return f"acknowledged, {'back to normal' if change.state is AlarmState.NORMAL else 'still present'}"
        case AlarmInput.SAY_WRONG if change.state is not AlarmState.SAID_WRONG:
            return "said to have been wrong"
        case AlarmInput.SAY_WRONG if entry.is_opinion:
            return "withdrawn: said to be wrong; silent until it has ended once"
        case AlarmInput.SAY_WRONG:
            rest = format_duration(FACT_RESTS_S)
            return f"said to be wrong: withdrawn; it rings again if it grows worse, or if it is still so in {rest}"
        case AlarmInput.UPHOLD if change.state is AlarmState.UNACKNOWLEDGED:
            return f"stands after all: {change.finding.what}"
        case AlarmInput.UPHOLD:
            return "was right after all"
        case _:
            return _STANDING_ASIDE[change.happening]


def _rate(rate: Rate) -> str:
    return f"{rate.climb_c:g} °C in {format_duration(rate.window_s)}"
