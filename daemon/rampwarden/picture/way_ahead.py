"""The way ahead: where the temperature is expected to go, leg by leg, and the edges it may not cross there.

The way is the guess of `time_to_go`, and the edges go with it. Draws nothing.
"""

from msgspec import Struct

from rampwarden.core.heat import Leg
from rampwarden.core.limits import Edges, higher, lower
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# Straight pieces a segment ahead is drawn with: its edges bend once or twice.
_PIECES_OF_LEG = 8
_OPEN = Edges()


class WayPoint(Struct, frozen=True, gc=False, array_like=True):
    """A moment on the way ahead: heat time (s), where the temperature is expected, and the edges there, all °C."""

    time_s: float
    way_c: float
    low_c: float | None
    high_c: float | None


def way_ahead(schedule: Schedule, legs: list[Leg], now_s: float, edges: Edges) -> list[WayPoint]:
    """Draw the legs of the outlook with their edges, from heat time `now_s`; `edges` are those of the present."""
    points: list[WayPoint] = []
    for leg in legs:
        if leg.from_c is None or leg.to_c is None:
            break
        from_c, length_s = leg.from_c, leg.ends_s - leg.begins_s
        pieces = _PIECES_OF_LEG if length_s > 0 else 1
        for piece in range(pieces + 1):
            gone_s = length_s * piece / pieces
            way_c = _way_c(schedule.segments[leg.index], leg, gone_s)
            now = edges if leg is legs[0] else _OPEN
            ahead = _edges_ahead(schedule, leg, from_c, gone_s, way_c, now)
            time_s = round(now_s + leg.begins_s + gone_s, 1)
            points.append(WayPoint(time_s, round(way_c, 1), _rounded(ahead.low_c), _rounded(ahead.high_c)))
    return points


def _way_c(segment: Segment, leg: Leg, gone_s: float) -> float:
    """Where the temperature is expected `gone_s` into a leg, °C."""
    from_c, to_c, length_s = leg.from_c or 0.0, leg.to_c or 0.0, leg.ends_s - leg.begins_s
    share = gone_s / length_s if length_s > 0 else 1.0
    if segment.kind is not SegmentKind.SOAK:
        return from_c + (to_c - from_c) * share
    climbing_s = max(0.0, length_s - segment.hold_s)
    if from_c < segment.lowest_c and gone_s < climbing_s:
        return from_c + (segment.lowest_c - from_c) * gone_s / climbing_s
    return to_c


def _edges_ahead(schedule: Schedule, leg: Leg, from_c: float, gone_s: float, way_c: float, now: Edges) -> Edges:
    """The edges `gone_s` into a leg: what may be climbed from where it begins, within what the segment ends at."""
    segment = schedule.segments[leg.index]
    low_c = high_c = None
    sign = -1.0 if segment.kind is SegmentKind.COOL else 1.0
    for rate in schedule.limits_in_force(leg.index):
        present_c = now.low_c if sign < 0 else now.high_c
        edge_c = _reached_c(rate, from_c, gone_s, present_c, sign)
        if sign < 0:
            low_c = higher(low_c, max(edge_c, min(way_c, segment.to_c or edge_c)))
        else:
            high_c = lower(high_c, edge_c)
    if segment.min_rate is not None:
        slowest_c = _reached_c(segment.min_rate, from_c, gone_s, now.low_c if now.low_c is not None else from_c, sign)
        low_c = min(slowest_c, max(way_c, segment.to_c or slowest_c))
    if segment.kind is SegmentKind.RAMP and high_c is not None:
        high_c = min(high_c, max(way_c, segment.to_c or high_c))
    if segment.kind is SegmentKind.SOAK:
        low_c = segment.lowest_c if way_c >= segment.lowest_c else None
        high_c = lower(high_c, segment.highest_c)
    if segment.ceiling_c is not None:
        high_c = lower(high_c, segment.ceiling_c)
    return Edges(low_c, high_c)


def _reached_c(rate: Rate, from_c: float, gone_s: float, present_c: float | None, sign: float) -> float:
    """The edge of one limit ahead: from the present one to a whole climb a window later, then as fast as is allowed."""
    whole_c = from_c + sign * rate.climb_c
    if gone_s >= rate.window_s:
        return from_c + sign * rate.c_per_s * gone_s
    return whole_c if present_c is None else present_c + (whole_c - present_c) * gone_s / rate.window_s


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
