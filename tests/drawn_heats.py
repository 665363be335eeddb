"""Heats drawn by seed as evidence, and what may befall the evidence: taken away, doubted, cut in pieces.

A course is drawn first and is the truth; evidence is what of it was seen. Limits are judged here by a budget of their
own, over the points that were seen, so that what is taken away takes its findings along. No course outruns twice a
limit: that is what the blind time's bound is made for.
"""

from dataclasses import dataclass, replace
from random import Random

from msgspec import structs

from rampwarden.core.pot import (
    Belief,
    Breach,
    BreachKind,
    EvidenceStretch,
    HeatEvidence,
    Limit,
    Place,
    PotFacts,
    SegmentFacts,
    SegmentSort,
    SoakFacts,
)
from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot.oxidation import oxidation_rate

BLIND = (Belief.DOUBTED, Belief.UNSEEN)
SLOW = Limit(25.0, 900.0)
RED = Limit(30.0, 120.0)
COOLING = Limit(120.0, 600.0)
SEGMENTS = (
    SegmentFacts(1, "oven drying", SegmentSort.RAMP, in_furnace=False, limits=(SLOW,)),
    SegmentFacts(2, "dry soak", SegmentSort.SOAK, in_furnace=False, at_c=180.0, hold_s=1800.0, limits=(SLOW,)),
    SegmentFacts(3, "carry", SegmentSort.TRANSFER, in_furnace=False),
    SegmentFacts(4, "to red heat", SegmentSort.RAMP, limits=(RED,)),
    SegmentFacts(5, "working", SegmentSort.SOAK, at_c=1150.0, hold_s=1800.0, limits=(RED,), ceiling_c=1220.0),
    SegmentFacts(6, "closed furnace", SegmentSort.COOL, limits=(COOLING,)),
)
_BAND_C = {2: (165.0, 195.0), 5: (1125.0, 1185.0)}


@dataclass(frozen=True)
class Heat:
    """A course in stretches with the worth of each; evidence is made from it."""

    stretches: tuple[EvidenceStretch, ...]
    segments: tuple[SegmentFacts, ...]
    facts: PotFacts
    closed: bool = True

    def evidence(self, *, dry_before: bool | None = None) -> HeatEvidence:
        return HeatEvidence(
            facts=structs.replace(self.facts, dry_before=dry_before),
            segments=self.segments,
            stretches=_merged(self.stretches),
            breaches=tuple(_breaches(self)),
            soaks=_soaks(self.stretches),
            closed_s=self.stretches[-1].to_s if self.closed else None,
        )

    def reworded(self, first: int, end: int, belief: Belief) -> "Heat":
        """Give the heat with the stretches from `first` up to `end` worth less, or as before where they are already.

        A record begins with a reading, so the first stretch is never unseen.
        """
        first = max(first, 1 if belief is Belief.UNSEEN else 0)
        order = list(Belief)
        changed = [
            structs.replace(each, belief=max(each.belief, belief, key=order.index)) if first <= place < end else each
            for place, each in enumerate(self.stretches)
        ]
        return replace(self, stretches=tuple(changed))

    def piece(self, first: int, end: int, *, closed: bool = True) -> "Heat | None":
        """Give a part of it as a record of its own, which begins with its first reading; None if it has none."""
        while first < end and self.stretches[first].belief is Belief.UNSEEN:
            first += 1
        if first == end:
            return None
        begin_s = self.stretches[first].from_s
        part = [
            structs.replace(each, from_s=each.from_s - begin_s, to_s=each.to_s - begin_s)
            for each in self.stretches[first:end]
        ]
        return replace(self, stretches=tuple(part), closed=closed)


def draw_heat(random: Random) -> Heat:
    """Draw a heat: sound or faulty, whole or broken off, joined cold or warm."""
    segments = [each for each in SEGMENTS if each.number > 3 or random.random() < 0.8]
    if random.random() < 0.2:
        segments = [each for each in segments if each.number <= 2] or segments
    elif random.random() < 0.15:
        segments = [each for each in segments if each.number != 5]
    facts = PotFacts(
        place=random.choice(list(Place)),
        top_c=random.choice([None, 1200.0, 1400.0]),
        weighed_dry=random.random() < 0.05,
        balance_dry=random.random() < 0.05,
    )
    course = _Course(
        random, facts, random.uniform(15.0, 35.0) if random.random() < 0.9 else random.uniform(70.0, 600.0)
    )
    wild = random.random() < 0.5
    for segment in segments:
        _SORTS[segment.sort](course, segment, wild)
        if random.random() < 0.04:
            break
    if not course.stretches:
        return draw_heat(random)
    stretches = course.stretches
    if random.random() < 0.25:
        stretches = stretches[: random.randint(1, len(stretches))]
    return Heat(tuple(stretches), tuple(segments), facts, closed=random.random() < 0.95)


class _Course:
    def __init__(self, random: Random, facts: PotFacts, temp_c: float) -> None:
        self.random, self.facts, self.temp_c = random, facts, temp_c
        self.time_s = 0.0
        self.sealed = False
        self.stretches: list[EvidenceStretch] = []

    def go(self, segment: SegmentFacts, c_per_s: float) -> None:
        seconds = self.random.uniform(61.0, 110.0)
        begin_c, self.temp_c = self.temp_c, max(10.0, self.temp_c + c_per_s * seconds)
        low_c, high_c = min(begin_c, self.temp_c), max(begin_c, self.temp_c)
        mean_c = 0.5 * (low_c + high_c)
        self.sealed = self.sealed or low_c >= 900.0
        self.stretches.append(
            EvidenceStretch(
                from_s=self.time_s,
                to_s=self.time_s + seconds,
                segment=segment.number,
                belief=Belief.BELIEVED,
                begin_c=begin_c,
                end_c=self.temp_c,
                low_c=low_c,
                high_c=high_c,
                fired_s=seconds if low_c >= 650.0 and segment.in_furnace else 0.0,
                drying=seconds * drying_per_s(mean_c) if high_c < 650.0 else 0.0,
                dose_s=0.0 if self.sealed else seconds * oxidation_rate(mean_c),
                over_s=seconds if self.facts.top_c is not None and low_c > self.facts.top_c else 0.0,
            )
        )
        self.time_s += seconds


def _pace(course: _Course, wild: bool) -> float:
    burst = wild and course.random.random() < 0.05
    return course.random.uniform(1.2, 1.95) if burst else course.random.uniform(0.3, 0.9)


def _ramp(course: _Course, segment: SegmentFacts, wild: bool) -> None:
    target_c = 170.0 if segment.number == 1 else 1130.0
    limit = segment.limits[0]
    while course.temp_c < target_c:
        course.go(segment, _pace(course, wild) * limit.climb_c / limit.window_s)


def _soak(course: _Course, segment: SegmentFacts, wild: bool) -> None:
    limit, at_c = segment.limits[0], segment.at_c or 0.0
    until_s = course.time_s + segment.hold_s * course.random.uniform(0.3, 1.8)
    aim_c = at_c + (course.random.uniform(0.0, 140.0) if wild and course.random.random() < 0.3 else 0.0)
    while course.time_s < until_s:
        most = 1.9 * limit.climb_c / limit.window_s
        course.go(segment, max(-most, min(most, (aim_c - course.temp_c) / 120.0 + course.random.gauss(0.0, 0.01))))


def _transfer(course: _Course, segment: SegmentFacts, wild: bool) -> None:
    for _ in range(course.random.randint(1, 4)):
        course.go(segment, -course.random.uniform(0.1, 0.4))
    course.go(segment, course.random.uniform(0.1, 1.2))


def _cool(course: _Course, segment: SegmentFacts, wild: bool) -> None:
    limit = segment.limits[0]
    until_c = course.random.uniform(20.0, 58.0) if course.random.random() < 0.8 else course.random.uniform(60.0, 400.0)
    while course.temp_c > until_c:
        slope = _pace(course, wild) * limit.climb_c / limit.window_s
        course.go(segment, -min(slope, (course.temp_c - 10.0) / 300.0))


_SORTS = {
    SegmentSort.RAMP: _ramp,
    SegmentSort.SOAK: _soak,
    SegmentSort.TRANSFER: _transfer,
    SegmentSort.COOL: _cool,
}


def _breaches(heat: Heat) -> list[Breach]:
    """Judge the limits by what was seen: a climb needs its low point and its high point."""
    found = []
    facts = {segment.number: segment for segment in heat.segments}
    points: list[tuple[float, float, bool]] = []
    number = -1
    for place, each in enumerate(heat.stretches):
        if each.segment != number:
            number, points = each.segment, []
        segment = facts[number]
        before = heat.stretches[place - 1] if place else None
        doubted = each.belief is Belief.DOUBTED
        if not points and (each.belief is not Belief.UNSEEN or (before and before.belief is not Belief.UNSEEN)):
            points.append((each.from_s, each.begin_c, doubted))
        after = heat.stretches[place + 1] if place + 1 < len(heat.stretches) else None
        if each.belief is Belief.UNSEEN and (after is None or after.belief is Belief.UNSEEN):
            continue
        points.append((each.to_s, each.end_c, doubted))
        found += _broken(segment, points)
        if each.belief is not Belief.UNSEEN and segment.ceiling_c is not None and each.high_c > segment.ceiling_c:
            found.append(
                Breach(
                    BreachKind.OVERHEATED, number, each.from_s, each.to_s, each.low_c, each.high_c, each.high_c,
                    segment.ceiling_c, doubted=doubted,
                )
            )  # fmt: skip
    return found


def _broken(segment: SegmentFacts, points: list[tuple[float, float, bool]]) -> list[Breach]:
    falls = segment.sort is SegmentSort.COOL
    to_s, end_c, end_doubted = points[-1]
    found = []
    for limit in segment.limits:
        from_s, begin_c, doubted = points[-1]
        for point in reversed(points):
            if point[0] < to_s - limit.window_s:
                break
            if point[1] > begin_c if falls else point[1] < begin_c:
                from_s, begin_c, doubted = point
        climb_c = begin_c - end_c if falls else end_c - begin_c
        if climb_c > limit.climb_c:
            found.append(
                Breach(
                    BreachKind.COOLED if falls else BreachKind.CLIMBED, segment.number, from_s, to_s,
                    min(begin_c, end_c), max(begin_c, end_c), climb_c, limit.climb_c, limit.window_s,
                    doubted=doubted or end_doubted,
                )
            )  # fmt: skip
    return found


def _soaks(stretches: tuple[EvidenceStretch, ...]) -> tuple[SoakFacts, ...]:
    soaks = []
    for number, (low_c, high_c) in _BAND_C.items():
        inside = [each for each in stretches if each.segment == number and low_c <= each.low_c <= each.high_c <= high_c]
        worth = {belief: sum(each.seconds for each in inside if each.belief is belief) for belief in Belief}
        soaks.append(SoakFacts(number, worth[Belief.BELIEVED], worth[Belief.UNCONFIRMED], worth[Belief.DOUBTED]))
    return tuple(soaks)


def _merged(stretches: tuple[EvidenceStretch, ...]) -> tuple[EvidenceStretch, ...]:
    """Give the stretches as a ledger would: of unseen time nothing but its ends, one a segment."""
    merged: list[EvidenceStretch] = []
    for each in stretches:
        last = merged[-1] if merged else None
        if each.belief is not Belief.UNSEEN:
            merged.append(each)
            continue
        begin_c, from_s = each.begin_c, each.from_s
        if last is not None and last.belief is Belief.UNSEEN and last.segment == each.segment:
            begin_c, from_s = last.begin_c, last.from_s
            merged.pop()
        merged.append(
            EvidenceStretch(
                from_s=from_s,
                to_s=each.to_s,
                segment=each.segment,
                belief=Belief.UNSEEN,
                begin_c=begin_c,
                end_c=each.end_c,
                low_c=min(begin_c, each.end_c),
                high_c=max(begin_c, each.end_c),
            )
        )
    return tuple(merged)
