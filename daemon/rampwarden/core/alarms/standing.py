"""One alarm that is not normal, as it is told now: a sentence in the tense it needs, and what it orders."""

from rampwarden.core.alarms.one_alarm import OneAlarm, bare_fact
from rampwarden.core.model import AlarmState, Finding, StandingAlarm
from rampwarden.core.quantities import heat_clock


def standing_alarm(alarm: OneAlarm, found: Finding, *, in_doubt: bool) -> StandingAlarm:
    """Give an alarm as it stands, with what is `found` of its condition now, or was found last.

    `in_doubt`: its order would come from a reading in doubt.
    """
    entry, stands = alarm.entry, alarm.standing
    now = found if stands else alarm.now
    worst = alarm.worst_words
    ended_s = alarm.since_s if alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED else None
    segment, number = (None, None) if alarm.segment is None else alarm.segment
    return StandingAlarm(
        alarm.name,
        alarm.state,
        entry.priority,
        _sentence(alarm, now, ended_s),
        alarm.since_s,
        entry.order(now, in_doubt=in_doubt) if stands else "",
        str(entry.order_in_short(now, in_doubt=in_doubt)) if stands else "",
        fact=now.what,
        value=now.value,
        limit=now.limit,
        unit=now.unit,
        worst="" if worst == bare_fact(now) else worst,
        raised_s=alarm.raised_s,
        gone_s=alarm.cleared_s if stands else None,
        ended_s=ended_s,
        segment=segment,
        segment_number=number,
    )


def _sentence(alarm: OneAlarm, now: Finding, ended_s: float | None) -> str:
    """Say what is so now; of what is over, that it is, and what it was."""
    was = alarm.worst_words or bare_fact(now)
    if ended_s is not None and alarm.overtaken_by:
        return f"overtaken by {alarm.overtaken_by} at {heat_clock(ended_s)}; it was: {was}"
    if ended_s is not None:
        return f"ended at {heat_clock(ended_s)}; it was: {was}"
    if alarm.standing and alarm.cleared_s is not None:
        return f"not so since {heat_clock(alarm.cleared_s)}; it was: {bare_fact(now)}"
    return now.what
