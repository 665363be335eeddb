"""What the watch says, in words: one sentence for each kind of event.

An alarm's text reads `name · fact · segment · what to do`, so that the first words are the ones that matter from three
metres away.
"""

from rampwarden.core.alarms import AlarmChange
from rampwarden.core.catalogue import CatalogueEntry
from rampwarden.core.model import AlarmState
from rampwarden.core.quantities import Rate, format_duration
from rampwarden.core.schedule import Schedule, Segment, SegmentKind


def alarm_text(change: AlarmChange, entry: CatalogueEntry, segment: str | None) -> str:
    """Word an alarm's change of state."""
    place = f" · {segment}" if segment else ""
    if change.state is AlarmState.UNACKNOWLEDGED:
        return f"{change.alarm} · {change.finding.what}{place} · {entry.action}"
    lasted = format_duration(change.lasted_s)
    sayings = {
        AlarmState.ACKNOWLEDGED: "acknowledged, still present",
        AlarmState.RETURNED_UNACKNOWLEDGED: f"back to normal after {lasted}, not yet acknowledged",
        AlarmState.NORMAL: f"back to normal after {lasted}",
        AlarmState.SHELVED: "shelved",
        AlarmState.SUPPRESSED: "suppressed by design in this segment",
        AlarmState.OUT_OF_SERVICE: "out of service",
    }
    return f"{change.alarm} · {sayings[change.state]}{place}"


def segment_text(schedule: Schedule, index: int) -> str:
    """Word the start of a segment: where it leads, what is allowed, and the schedule's own instruction."""
    segment = schedule.segments[index]
    parts = [segment.name, _aim(segment)]
    limits = schedule.limits_in_force(index)
    if limits:
        parts.append("at most " + " and ".join(_rate(rate) for rate in limits))
    if segment.min_rate is not None:
        parts.append(f"at least {_rate(segment.min_rate)}")
    if segment.say:
        parts.append(segment.say)
    return " · ".join(parts)


def _aim(segment: Segment) -> str:
    if segment.kind is SegmentKind.SOAK:
        lowest, highest = segment.lowest_c, segment.highest_c
        return f"hold {lowest:.0f} to {highest:.0f} °C for {format_duration(segment.hold_s)}"
    if segment.kind is SegmentKind.TRANSFER:
        limit = f" within {format_duration(segment.within_s)}" if segment.within_s else ""
        return f"carry the pot over{limit}; ramp alarms rest until it has arrived"
    verb = "cool" if segment.kind is SegmentKind.COOL else "heat"
    return f"{verb} to {segment.to_c or 0.0:.0f} °C"


def _rate(rate: Rate) -> str:
    return f"{rate.climb_c:g} °C in {format_duration(rate.window_s)}"
