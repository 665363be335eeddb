"""How long the rest of a heat still burns gas, by its schedule and by how it climbs now.

Worked out from readings alone, never from what a display has asked before: an alarm rests on it, and a replay must
find the same. So it does not ask the time to go, which is kept for whoever asks.
"""

from rampwarden.core.physics import Burning
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# Of a limit, what people hold; a present climb slower than a quarter of that is a lid or a pause, and no pace. The
# plan's own share; common practice, no source.
_PACE_SHARE = 0.8
_LEAST_PACE = 0.25
# A soak's own clock begins some minutes after its segment does. Own arithmetic.
_COMES_INTO_BAND_S = 300.0


def burning_ahead(
    schedule: Schedule, powers_kw: tuple[float, ...], index: int, temp_c: float, slope_c_per_s: float, soaked_s: float
) -> list[Burning]:
    """Give what burns from here to the end, segment by segment.

    Segment `index` stands at `temp_c` (°C), climbs with `slope_c_per_s` (°C/s, 0 where it is not known) and has soaked
    for `soaked_s` (s); `powers_kw` are those of all segments.
    """
    ahead = [Burning(_present_s(schedule, index, temp_c, slope_c_per_s, soaked_s), powers_kw[index])]
    from_c = temp_c
    for number in range(index, len(schedule.segments)):
        segment = schedule.segments[number]
        if number > index:
            seconds = _climb_s(schedule, number, from_c) if segment.kind is SegmentKind.RAMP else _held_s(segment)
            ahead.append(Burning(seconds, powers_kw[number]))
        from_c = max(from_c, segment.target_c or from_c) if segment.kind.heats else from_c
    return ahead


def _present_s(schedule: Schedule, index: int, temp_c: float, slope_c_per_s: float, soaked_s: float) -> float | None:
    segment = schedule.segments[index]
    if segment.kind is not SegmentKind.RAMP:
        return max(0.0, segment.hold_s - soaked_s)
    left_c = max(0.0, schedule.end_of_ramp_c(index) - temp_c)
    usual = _usual_pace(schedule, index)
    if slope_c_per_s > (0.0 if usual is None else _LEAST_PACE * usual):
        return left_c / slope_c_per_s
    return None if usual is None else left_c / usual


def _climb_s(schedule: Schedule, index: int, from_c: float) -> float | None:
    left_c, usual = max(0.0, schedule.end_of_ramp_c(index) - from_c), _usual_pace(schedule, index)
    return 0.0 if left_c == 0.0 else None if usual is None else left_c / usual


def _held_s(segment: Segment) -> float:
    return segment.hold_s + (_COMES_INTO_BAND_S if segment.kind is SegmentKind.SOAK else 0.0)


def _usual_pace(schedule: Schedule, index: int) -> float | None:
    limit, least = schedule.fastest_c_per_s(index), schedule.segments[index].min_rate
    if limit is not None:
        return _PACE_SHARE * limit
    return None if least is None else least.c_per_s
