"""What to look at again in a schedule that can be watched: values no thermocouple reads, and limits that nobody set.

A fault makes a schedule unusable and is the parser's; a doubt leaves it to the person, since a sheet may say so.
"""

from dataclasses import dataclass

from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# A window this long lets the whole climb pass in a minute; nobody who writes "100 C / h" means that.
_LOOSE_WINDOW_S = 1800.0
# Above a soak's band, as an example of a ceiling only.
_ABOVE_BAND_C = 20.0


@dataclass(frozen=True, slots=True)
class ScheduleDoubt:
    """One doubt of the segment at `index` in its words; `impossible` where it cannot be watched as it stands."""

    index: int
    words: str
    impossible: bool = False


def schedule_doubts(schedule: Schedule, couple: str, couple_range_c: tuple[float, float]) -> tuple[ScheduleDoubt, ...]:
    """Give every doubt, segment by segment, for a thermocouple of type `couple` that reads `couple_range_c`, °C."""
    doubts: list[ScheduleDoubt] = []
    for index, segment in enumerate(schedule.segments):
        beyond = _beyond(segment, couple, couple_range_c)
        doubts += [ScheduleDoubt(index, words, impossible=True) for words in beyond]
        doubts += [ScheduleDoubt(index, words) for words in _unlimited(schedule, index)]
        doubts += [
            ScheduleDoubt(index, _loose(rate.climb_c, rate.window_s))
            for rate in segment.max_rates
            if rate.window_s > _LOOSE_WINDOW_S
        ]
        if {"\t", "\n"} & {*segment.name}:
            # A name is typed again to bind a power to it, and a tab cannot be told from blanks.
            words = f"its name {segment.name!r} holds a {'tab' if chr(9) in segment.name else 'line break'}; use blanks"
            doubts.append(ScheduleDoubt(index, words))
    return tuple(doubts)


def _beyond(segment: Segment, couple: str, range_c: tuple[float, float]) -> list[str]:
    """Say which of a segment's temperatures this thermocouple cannot read."""
    named = [
        ("to", segment.to_c),
        ("at", segment.at_c),
        ("ceiling", segment.ceiling_c),
        ("arrive_above", segment.arrive_above_c),
    ]
    lowest_c, highest_c = range_c
    found = []
    for key, temp_c in named:
        if temp_c is not None and temp_c > highest_c:
            found.append(f"{key} = {temp_c:g} °C, but a type {couple} thermocouple ends at {highest_c:g} °C")
        elif temp_c is not None and temp_c < lowest_c:
            found.append(f"{key} = {temp_c:g} °C, but a type {couple} thermocouple begins at {lowest_c:g} °C")
    return found


def _unlimited(schedule: Schedule, index: int) -> list[str]:
    """Say what nothing limits in a segment."""
    segment = schedule.segments[index]
    found = []
    if segment.kind is SegmentKind.RAMP and not segment.max_rates:
        found.append('nothing limits how fast it climbs; set max_rate, as in max_rate = "25 C / 15 min"')
    if segment.kind is SegmentKind.COOL and not segment.max_rates:
        found.append('nothing limits how fast it cools; set max_rate, as in max_rate = "100 C / 10 min"')
    if segment.kind is SegmentKind.SOAK and segment.ceiling_c is None:
        example = f'ceiling = "{segment.highest_c + _ABOVE_BAND_C:g} C"'
        found.append(f"it has no ceiling, so no alarm of high priority if it runs away; set one, as in {example}")
    if (
        segment.kind is SegmentKind.SOAK
        and not schedule.limits_in_force(index)
        and not _has_ramp_before(schedule, index)
    ):
        found.append("nothing limits the climb to it: no max_rate of its own, and no ramp before it")
    return found


def _has_ramp_before(schedule: Schedule, index: int) -> bool:
    return index > 0 and schedule.segments[index - 1].kind is not SegmentKind.TRANSFER


def _loose(climb_c: float, window_s: float) -> str:
    quarter = f"{climb_c / 4:g} C / {format_duration(window_s / 4)}"
    return (
        f"{climb_c:g} °C may pass at once inside {format_duration(window_s)}; '{quarter}' holds the same slope closer"
    )
