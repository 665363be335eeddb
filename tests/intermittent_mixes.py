"""Boards that give a temperature only now and then: drawn mixes of frames, and what a watch makes of them. No test.

A mix is drawn by seed: pace, share and order of the bad frames, what is wrong with them, the course and its limit. The
course is known, and a twin watches it without a bad frame; so it can be told whether a watch was blind (its last belief
is old, or not so), whether anything rang meanwhile, and how much later than its twin it told of a climb.
"""

import math
import random
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import AlarmState, Event, EventName, Fault, Measurement, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import parameters_for_interval
from rampwarden.core.schedule import Schedule

LOUD = frozenset(("ramp-high", "sensor-open", "sensor-short", "sensor-range", "sensor-intermittent", "signal-lost"))
"""What sends somebody to the furnace or to the probe: while one stands the watch is not silent."""
TOLD_WITHIN_S = 15.0
"""s. So long a watch may be blind without a word."""
FEWEST_READINGS = 4
"""No fewer can show which is the bad one: a board that speaks each five seconds has three in a quarter of a minute, and
three that agree are needed to believe anything. So that board has twenty seconds."""
SPIKE_C = 40.0
"""°C. A value nearer to the truth is no spike."""
UNTRUE_C = 25.0
"""°C. A belief that is so far off is none."""
_EASY_TO_C, _EASY_S = 900.0, 2700.0
"""°C and s. The easy part of a long course leads no further in so long, or its schedule would be done too soon."""
_STANDING = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
_LIMITS = (("60 C / min", 60.0, 60.0), ("10 C / min", 10.0, 60.0), ("25 C / 15 min", 25.0, 900.0))
_WRONG = ("open", "short", "range", "converter", "anywhere", "off", "level")
"""What may be wrong with a frame: three faults that the board flags, an EMF that no thermocouple gives, and spikes:
anywhere, some way off the truth, or always at the same value (a plug that touches something)."""
_FLAGS = {"open": Fault.OPEN, "short": Fault.SHORT_GROUND, "converter": Fault.CONVERTER}


def told_within_s(interval_s: float) -> float:
    """Give how long a watch of such a board may be blind without a word, s."""
    return max(TOLD_WITHIN_S, FEWEST_READINGS * interval_s)


class Order(StrEnum):
    """How bad frames follow one another: as it comes, in turns, or for some seconds each."""

    DRAWN = "drawn"
    TURNS = "turns"
    STRETCHES = "stretches"


@dataclass(frozen=True)
class Course:
    """Level or easy until `breaks_s` (s), then steadily up; `noise` is drawn once and shared with the twin."""

    schedule: Schedule
    from_c: float
    easy_c_per_s: float
    hard_c_per_s: float
    breaks_s: float
    white_c: float
    flicker_c: float
    seed: int

    def true_c(self, time_s: float) -> float:
        """Give the temperature at the probe, °C."""
        easy_s = min(time_s, self.breaks_s)
        return self.from_c + self.easy_c_per_s * easy_s + self.hard_c_per_s * (time_s - easy_s)

    def sound(self, interval_s: float, until_s: float) -> Iterator[tuple[float, float]]:
        """Give the readings of a sound probe (s, °C), one each `interval_s`."""
        dice = random.Random(f"noise {self.seed}")
        kept = math.exp(-interval_s / 8.0)
        flicker_c = 0.0
        for number in range(int(until_s / interval_s) + 1):
            time_s = round(number * interval_s, 3)
            flicker_c = kept * flicker_c + dice.gauss(0.0, self.flicker_c * math.sqrt(1.0 - kept * kept))
            yield time_s, self.true_c(time_s) + flicker_c + dice.gauss(0.0, self.white_c)


@dataclass(frozen=True)
class Mix:
    """What a board sends: which frames are bad from `begins_s` on, and in what way."""

    course: Course
    interval_s: float
    begins_s: float
    share: float
    order: Order
    wrong: tuple[str, ...]
    level_c: float
    stretch_s: float
    seed: int

    def readings(self, until_s: float) -> Iterator[Reading]:
        """Give the readings as the board sends them."""
        dice = random.Random(f"mix {self.seed}")
        bad, owed = False, 0.0
        for time_s, temp_c in self.course.sound(self.interval_s, until_s):
            if time_s < self.begins_s:
                yield Reading(time_s, temp_c=temp_c)
                continue
            match self.order:
                case Order.DRAWN:
                    bad = dice.random() < self.share
                case Order.TURNS:
                    owed += self.share
                    bad = owed >= 1.0
                    owed -= 1.0 if bad else 0.0
                case Order.STRETCHES:
                    lasts_s = self.stretch_s * (self.share if bad else 1.0 - self.share)
                    if dice.random() < self.interval_s / max(lasts_s, self.interval_s):
                        bad = not bad
            yield (
                bad_frame(dice.choice(self.wrong), time_s, temp_c, self.level_c, dice)
                if bad
                else Reading(time_s, temp_c=temp_c)
            )


@dataclass(frozen=True)
class Lonely:
    """Single bad frames: either further apart than `apart_s`, or one in each `apart` frames."""

    course: Course
    interval_s: float
    apart_s: float
    apart: int
    wrong: tuple[str, ...]
    level_c: float
    seed: int

    def readings(self, until_s: float) -> Iterator[Reading]:
        """Give the readings as the board sends them."""
        dice = random.Random(f"lonely {self.seed}")
        next_s, since, at = dice.uniform(0.0, 2.0 * self.apart_s), 0, dice.randrange(1, max(self.apart, 2))
        for number, (time_s, temp_c) in enumerate(self.course.sound(self.interval_s, until_s)):
            if self.apart:
                since = number % self.apart
                if since == 0:
                    # Never two together, across the border of two groups either.
                    at = dice.randrange(1, self.apart)
                bad = since == at
            else:
                bad = time_s >= next_s
                if bad:
                    next_s = time_s + self.apart_s + dice.uniform(0.01, self.apart_s)
            yield (
                bad_frame(dice.choice(self.wrong), time_s, temp_c, self.level_c, dice)
                if bad
                else Reading(time_s, temp_c=temp_c)
            )


def bad_frame(wrong: str, time_s: float, temp_c: float, level_c: float, dice: random.Random) -> Reading:
    """Give one bad frame; what the board flags carries a value all the same."""
    if wrong in _FLAGS:
        return Reading(time_s, temp_c=temp_c, faults=(_FLAGS[wrong],))
    if wrong == "range":
        return Reading(time_s, temp_c=2500.0)
    spike_c = dice.uniform(-100.0, 1350.0) if wrong == "anywhere" else level_c + dice.gauss(0.0, 0.3)
    if wrong == "off" or abs(spike_c - temp_c) < SPIKE_C:
        spike_c = temp_c + dice.choice((-1.0, 1.0)) * dice.uniform(SPIKE_C, 300.0)
    return Reading(time_s, temp_c=min(spike_c, 1360.0))


def drawn_course(dice: random.Random, seed: int, breaks_after_s: float) -> Course:
    """Draw a course: of one that breaks its limit, that is some minutes after `breaks_after_s` (s), infinite for never.

    The climb becomes 1.5 to 5 times its limit; of one of a quarter of an hour more, or that would be long.
    """
    text, climb_c, window_s = dice.choice(_LIMITS)
    limit = climb_c / window_s
    factor = dice.uniform(1.5, 5.0) if window_s < 100.0 else dice.uniform(4.0, 12.0)
    keys = f'[[segment]]\nname = "up"\nkind = "ramp"\nto = "1300 C"\nmax_rate = "{text}"\n'
    return Course(
        schedule=parse_schedule(tomllib.loads(keys), "drawn.toml"),
        from_c=dice.uniform(20.0, 500.0),
        easy_c_per_s=dice.uniform(0.0, 0.5) * limit,
        hard_c_per_s=factor * limit,
        breaks_s=breaks_after_s + dice.uniform(60.0, 180.0),
        white_c=dice.uniform(0.05, 0.3),
        flicker_c=dice.uniform(0.1, 0.7),
        seed=seed,
    )


def drawn_mix(stream: str, seed: int) -> Mix:
    """Draw a mix. A value that always recurs has half of the frames at most: else it is the course to all eyes."""
    dice = random.Random(f"{stream} mix {seed}")
    course = drawn_course(dice, seed, 0.0)
    wrong = tuple(dice.sample(_WRONG, dice.choice((1, 1, 2, 3))))
    most = 0.5 if "level" in wrong else 1.0
    return Mix(
        course=course,
        interval_s=1.0 / math.exp(dice.uniform(math.log(0.2), math.log(10.0))),
        begins_s=0.0 if dice.random() < 0.25 else dice.uniform(20.0, course.breaks_s),
        share=dice.choice((dice.uniform(0.05, most), most * dice.choice((0.5, 2 / 3, 0.9, 1.0)))),
        order=dice.choice(tuple(Order)),
        wrong=wrong,
        level_c=dice.choice((20.0, 900.0, dice.uniform(0.0, 1300.0))),
        stretch_s=math.exp(dice.uniform(math.log(1.0), math.log(40.0))),
        seed=seed,
    )


def drawn_lonely(stream: str, seed: int, breaks_after_s: float = math.inf) -> Lonely:
    """Draw single bad frames on a course of its own."""
    dice = random.Random(f"{stream} lonely {seed}")
    course = drawn_course(dice, seed, breaks_after_s)
    return Lonely(
        course=replace(course, easy_c_per_s=min(course.easy_c_per_s, (_EASY_TO_C - course.from_c) / _EASY_S)),
        interval_s=1.0 / math.exp(dice.uniform(math.log(0.2), math.log(10.0))),
        apart_s=10.0,
        apart=dice.choice((0, 20)),
        wrong=tuple(dice.sample(_WRONG, dice.choice((1, 2, 3)))),
        level_c=dice.choice((20.0, 900.0, dice.uniform(0.0, 1300.0))),
        seed=seed,
    )


@dataclass
class Watched:
    """What a watch made of a board: when what rang first, and the longest time it was both silent and blind, s."""

    first_s: dict[str, float]
    stood: list[tuple[float, frozenset[str]]]
    blind_s: float = 0.0
    at_s: float = 0.0

    def loud_by(self, time_s: float, from_s: float) -> bool:
        """Tell whether anything loud stood between these times (s)."""
        now: frozenset[str] = frozenset()
        for since_s, names in self.stood:
            if since_s > time_s:
                break
            if since_s >= from_s and names & LOUD:
                return True
            now = names
        return bool(now & LOUD)


def watch(course: Course, interval_s: float, readings: Iterable[Reading]) -> Watched:
    """Let a watch see it; a belief is true where it stands near the course."""
    monitor = Monitor(course.schedule, parameters_for_interval(interval_s))
    watched = Watched({}, [])
    standing: set[str] = set()
    seen_s = 0.0
    for reading in readings:
        loud = bool(standing & LOUD)
        for event in monitor.feed(reading):
            if _take(event, standing, watched):
                loud = loud or (event.time_s < reading.time_s and bool(standing & LOUD))
        if loud:
            seen_s = reading.time_s
        elif reading.time_s - seen_s > watched.blind_s:
            watched.blind_s, watched.at_s = reading.time_s - seen_s, reading.time_s
        if standing & LOUD or _is_true(monitor.measurement, course):
            seen_s = reading.time_s
    return watched


def _is_true(measured: Measurement | None, course: Course) -> bool:
    if measured is None or measured.temp_c is None or measured.quality is not Quality.GOOD:
        return False
    return abs(measured.temp_c - course.true_c(measured.time_s)) <= UNTRUE_C


def _take(event: Event, standing: set[str], watched: Watched) -> bool:
    if event.event is not EventName.ALARM or event.alarm is None:
        return False
    if event.state in _STANDING:
        standing.add(event.alarm)
        watched.first_s.setdefault(event.alarm, event.time_s)
    else:
        standing.discard(event.alarm)
    watched.stood.append((event.time_s, frozenset(standing)))
    return True


@dataclass(frozen=True)
class Judged:
    """How long a watch of a mix was blind and silent, and how long after its twin it told of the climb, s."""

    blind_s: float
    at_s: float
    told_late_s: float | None
    rang: frozenset[str]


def judge_mix(mix: Mix) -> Judged:
    """Watch a mix and its twin; `told_late_s` is None where nothing told of the climb to the end."""
    course, until_s = mix.course, mix.course.breaks_s + 400.0
    twin = watch(course, mix.interval_s, _clean(course, mix.interval_s, until_s))
    told_s = twin.first_s.get("ramp-high", until_s)
    end_s = max(mix.begins_s, told_s) + 60.0
    seen = watch(course, mix.interval_s, mix.readings(end_s))
    late_s: float | None = None
    for after_s in (0.0, 2.0, 5.0, 10.0, TOLD_WITHIN_S, told_within_s(mix.interval_s), 30.0, 60.0):
        if seen.loud_by(told_s + after_s, told_s):
            late_s = after_s
            break
    return Judged(seen.blind_s, seen.at_s, late_s, frozenset(seen.first_s))


def lonely_delay_s(lonely: Lonely) -> float:
    """How much later than its twin ramp-high comes, s; infinite where it does not come within two minutes."""
    course, until_s = lonely.course, lonely.course.breaks_s + 400.0
    twin = watch(course, lonely.interval_s, _clean(course, lonely.interval_s, until_s)).first_s["ramp-high"]
    seen = watch(course, lonely.interval_s, lonely.readings(twin + 120.0)).first_s.get("ramp-high")
    return math.inf if seen is None else seen - twin


def _clean(course: Course, interval_s: float, until_s: float) -> Iterator[Reading]:
    for time_s, temp_c in course.sound(interval_s, until_s):
        yield Reading(time_s, temp_c=temp_c)
