"""Courses for the slow rules: buckets of five seconds of a made-up furnace, and what a rule says of them."""

import math
import random
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from rampwarden.core.explanation import Context
from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.slow import LOOKS_BACK, BurnerRule, HalfMinutes
from rampwarden.core.explanation.slow_rules import Candidate, Glance, Rule
from rampwarden.core.schedule import SegmentKind

RAMP = Context(SegmentKind.RAMP, target_c=1150.0)
SOAK = Context(SegmentKind.SOAK, target_c=1000.0, lowest_c=980.0, highest_c=1020.0)
OVEN = Context(SegmentKind.SOAK, target_c=180.0, lowest_c=165.0, highest_c=195.0)
COOL = Context(SegmentKind.COOL, target_c=200.0)

Course = Callable[[float], float]
Said = list[tuple[float, Candidate | None]]


def glances(
    course: Course,
    lasts_s: float,
    context: Context | None,
    *,
    noise_c: float = 0.1,
    seed: int = 1,
    flicker: float | None = None,
    marked_s: float = math.inf,
    undisturbed_s: float | None = None,
    gaps: Sequence[tuple[float, float]] = (),
) -> Iterator[Glance]:
    """Give every bucket of a course of °C over s, with noise."""
    dice = random.Random(seed)
    recent: deque[Slot] = deque(maxlen=180)
    time_s = 2.5
    while time_s < lasts_s:
        if not any(begins_s <= time_s < ends_s for begins_s, ends_s in gaps):
            slot = Slot(time_s, course(time_s) + dice.gauss(0.0, noise_c), 5, 0, 0.01, False)
            recent.append(slot)
            yield Glance(
                slot=slot,
                recent=recent,
                level_c=slot.temp_c,
                flicker=flicker,
                undisturbed_s=time_s if undisturbed_s is None else undisturbed_s,
                undecided=False,
                out=False,
                context=context,
                entered_s=time_s,
                marked_s=marked_s,
            )
        time_s += 5.0


def fed(
    rules: Sequence[Rule], half_minutes: HalfMinutes, every: Iterable[Glance]
) -> Iterator[tuple[Glance, list[Candidate | None]]]:
    """Feed rules as the explanation does, when a half minute has closed; gives each bucket and what each rule holds."""
    said: list[Candidate | None] = [None] * len(rules)
    for glance in every:
        if half_minutes.feed(glance.slot):
            said = [rule.feed(glance) for rule in rules]
        yield glance, said


def heard(
    make: Callable[[HalfMinutes], Rule], course: Course, lasts_s: float, context: Context | None, **how: object
) -> Said:
    """Give when a rule began to say something and when it ended."""
    half_minutes = HalfMinutes(LOOKS_BACK)
    every = glances(course, lasts_s, context, **how)  # type: ignore[arg-type]
    return _changes((glance, now) for glance, (now,) in fed((make(half_minutes),), half_minutes, every))


def heard_of_burner(course: Course, lasts_s: float, context: Context | None, **how: object) -> Said:
    """Give the same of the rule that looks at buckets."""
    rule = BurnerRule()
    every = glances(course, lasts_s, context, **how)  # type: ignore[arg-type]
    return _changes((glance, rule.feed(glance)) for glance in every)


def _changes(judged: Iterable[tuple[Glance, Candidate | None]]) -> Said:
    said: Said = []
    before: Candidate | None = None
    for glance, now in judged:
        if (now is None) is not (before is None):
            said.append((glance.slot.time_s, now))
        before = now
    return said


def climb_with(input_share: Course, c_per_min: float = 30.0, lag_s: float = 90.0, start_c: float = 300.0) -> Course:
    """Give the course of a pot that climbs as its input of heat says, by a lag, and loses nothing."""
    temps_c, slope = [start_c], c_per_min / 60.0
    for second in range(3600):
        slope += (c_per_min / 60.0 * input_share(float(second)) - slope) / lag_s
        temps_c.append(temps_c[-1] + slope)
    return lambda time_s: temps_c[int(time_s)]


def corners(*points: tuple[float, float]) -> Course:
    """Give a course of straight lines between points of s and °C."""

    def course(time_s: float) -> float:
        for (from_s, from_c), (to_s, to_c) in pairwise(points):
            if time_s <= to_s:
                return from_c + (to_c - from_c) * (time_s - from_s) / (to_s - from_s)
        return points[-1][1]

    return course
