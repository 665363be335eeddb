"""What a time that nobody saw proves, and what it may hide: bounded by the levels before and after it.

Three rules.

1. Proven: who stands higher afterwards than a limit allows within so long has broken it, whatever the course was. Over
   a gap longer than the limit's window the climb is shared out over as many windows as it takes; one of them must hold
   its share or more.
2. Hidden: what is not proven may still have happened, if a furnace at twice a limit's rate could have done it within
   the gap. Faster than that shows in the level afterwards, for no pot falls back as fast (own judgement, no source).
3. A gap of a minute hides nothing that the levels around it do not show: a pot's own time constant is minutes.

Knows gaps, levels and limits; nothing of claims.
"""

from collections.abc import Sequence

from msgspec import Struct

from rampwarden.core.pot.evidence import BLIND, HOT_C, Belief, EvidenceStretch, HeatEvidence, Limit, SegmentFacts

BLINK_S = 60.0
"""s, see rule 3."""
_FASTER = 2.0
# Where a segment has no limit of its own: about the fastest that is usual in a fuel-fired furnace, 100 °C a minute.
# Common practice, no source.
_FASTEST_C_PER_S = 100.0 / 60.0


class BlindSpan(Struct, frozen=True):
    """A time of which only the levels around it are known; °C and s.

    A level nobody has seen is None: the heat began or ended blind. `used_c` is what had been climbed just before it or
    was climbed just after it, `fallen_c` what was fallen, each within the longest window. `segments` are those in which
    it lies, with the one that follows; `lies_in` is the one, if it lies in no other. `doubted_c` is the highest of the
    readings in doubt.
    """

    from_s: float
    to_s: float
    before_c: float | None
    after_c: float | None
    segments: tuple[SegmentFacts, ...]
    lies_in: SegmentFacts | None
    used_c: float
    fallen_c: float
    doubted_s: float
    doubted_c: float

    @property
    def seconds(self) -> float:
        """How long nothing was seen, s."""
        return self.to_s - self.from_s

    @property
    def highest_level_c(self) -> float:
        """The highest that was read about it, °C: a reading in doubt may have been a true one."""
        return max(self.before_c or 0.0, self.after_c or 0.0, self.doubted_c)

    @property
    def may_reach_c(self) -> float:
        """What temperature may have been reached within it, °C."""
        if self.seconds <= BLINK_S:
            return self.highest_level_c
        return self.highest_level_c + self.seconds * max(map(_fastest_c_per_s, self.segments), default=_FASTEST_C_PER_S)


def blind_spans(evidence: HeatEvidence) -> list[BlindSpan]:
    """Give the times that nobody saw, in order, each as long as it lasted."""
    spans, stretches = [], evidence.stretches
    facts = {segment.number: segment for segment in evidence.segments}
    longest_s = max((limit.window_s for segment in evidence.segments for limit in segment.limits), default=0.0)
    first = 0
    while first < len(stretches):
        if stretches[first].belief not in BLIND:
            first += 1
            continue
        end = first
        while end < len(stretches) and stretches[end].belief in BLIND:
            end += 1
        spans.append(_span(stretches, first, end, facts, longest_s))
        first = end
    return spans


def proven_climb_c(span: BlindSpan, limit: Limit, *, falling: bool = False, margin_c: float = 0.0) -> float | None:
    """Give the climb (or fall) within the limit's window that the levels prove, °C; None if they prove no breach.

    `margin_c` is what noise alone may part two levels by, °C.
    """
    if span.before_c is None or span.after_c is None:
        return None
    climb_c = span.before_c - span.after_c if falling else span.after_c - span.before_c
    windows = max(1, -int(-span.seconds // limit.window_s))
    share_c = (climb_c - margin_c) / windows
    return share_c if share_c > limit.climb_c else None


def may_hide_breach(span: BlindSpan, limit: Limit, *, falling: bool = False) -> bool:
    """Tell whether this limit may have been broken within the span, or by what it hides of the windows around it."""
    if span.seconds <= BLINK_S:
        return False
    used_c = span.fallen_c if falling else span.used_c
    return used_c + _FASTER * limit.climb_c / limit.window_s * span.seconds > limit.climb_c


def may_be_hot(span: BlindSpan) -> bool:
    """Tell whether a pot may have gone past drying within the span."""
    return span.may_reach_c > HOT_C


def _fastest_c_per_s(segment: SegmentFacts) -> float:
    slopes = (_FASTER * limit.climb_c / limit.window_s for limit in segment.limits)
    return min(slopes, default=_FASTEST_C_PER_S)


def _span(
    stretches: Sequence[EvidenceStretch], first: int, end: int, facts: dict[int, SegmentFacts], longest_s: float
) -> BlindSpan:
    part = stretches[first:end]
    before_c = stretches[first - 1].end_c if first else None
    after_c = stretches[end].begin_c if end < len(stretches) else None
    lowest_before, highest_before = _extremes(stretches[:first], part[0].from_s - longest_s, before_c)
    lowest_after, highest_after = _extremes(stretches[end:], -1.0, after_c, until_s=part[-1].to_s + longest_s)
    numbers = dict.fromkeys(stretch.segment for stretch in stretches[first : end + 1])
    return BlindSpan(
        from_s=part[0].from_s,
        to_s=part[-1].to_s,
        before_c=before_c,
        after_c=after_c,
        segments=tuple(facts[number] for number in numbers),
        lies_in=facts[part[0].segment] if part[0].segment == part[-1].segment else None,
        used_c=max((before_c or 0.0) - lowest_before, highest_after - (after_c or 0.0)),
        fallen_c=max(highest_before - (before_c or 0.0), (after_c or 0.0) - lowest_after),
        doubted_s=sum(stretch.seconds for stretch in part if stretch.belief is Belief.DOUBTED),
        doubted_c=max((stretch.high_c for stretch in part if stretch.belief is Belief.DOUBTED), default=0.0),
    )


def _extremes(
    stretches: Sequence[EvidenceStretch], since_s: float, level_c: float | None, until_s: float = float("inf")
) -> tuple[float, float]:
    """Give the lowest and highest of what was seen between two times, °C, the level at the gap's edge included."""
    seen = [
        stretch
        for stretch in stretches
        if stretch.to_s >= since_s and stretch.from_s <= until_s and stretch.belief not in BLIND
    ]
    level_c = level_c or 0.0
    lowest = min((stretch.low_c for stretch in seen), default=level_c)
    highest = max((stretch.high_c for stretch in seen), default=level_c)
    return min(lowest, level_c), max(highest, level_c)
