"""Did the input of heat die away, or was it turned by a hand? Log odds from half minutes in which the slope fell.

A bottle that freezes lets the flame die over minutes; a hand turns it down in one moment, or in a few. Both leave the
same slope in the end, and the pot follows either with lags of its own, so only the shape of the way there tells them
apart, and only after some three lags (six minutes). The course is laid against what a furnace shows of each: an input
that steps once, that steps three times, that dies away exponentially or evenly, each through lags of a third of a
minute to one and a half, and with losses that grow on or do not. When it began is not known and is summed over; before
it the course may be bent as it likes.

Own arithmetic: the marginal likelihood of a parabola's start and a template of unknown size, in first-order noise.
Lags and lengths are assumptions about furnaces, no source.
"""

import math
from collections.abc import Callable, Sequence
from functools import cache, partial
from itertools import pairwise

from msgspec import Struct

from rampwarden.core.explanation.slow.half_minutes import LENGTH_S
from rampwarden.core.explanation.slow.projection import beside, dot, orthonormal

WINDOW, LEAST_WINDOW = 30, 19
"""Half minutes that are looked at, and so many at least: a fast heat is young when its bottle freezes."""
_BEFORE = 5
"""Half minutes of the window that lie before any beginning."""
_AGES = range(8, 25)
"""Half minutes ago that it may have begun."""
_CORRELATION = 0.35
"""Of neighbouring half minutes' noise: flicker outlasts them in part."""
_MODEL_ERROR = 0.003
"""Of the span of the window, for no furnace is a first-order lag."""
_LAGS_S = (20.0, 50.0, 90.0)
_STEPS_S = (75.0, 110.0)
_DIES_S = (140.0, 200.0)
_EVENLY_S = (360.0, 540.0)
_SLOWS_S = (300.0, 450.0, 700.0)
"""s. Time constants with which a furnace at a steady flame comes to its greatest heat."""
_GROWING_LOSS = (0.0, 0.3)
"""Share of the slope that losses take besides within `_GROWS_IN_S`, as the furnace relaxes."""
_GROWS_IN_S = 600.0
_SPREAD = 0.5
"""Standard deviation of the fall as a share of the slope before; 0.9 of it is expected of a hand, 1.1 of a bottle."""
_EXPECTED = (0.9, 0.9, 1.1)


class Weighed(Struct, frozen=True, gc=False):
    """What the window says: log odds of dying away against a hand, since when (half minutes ago), and how well it fits.

    `fit` is the best log likelihood of any template: about −1 per two half minutes of chance, far less where the course
    is something else altogether. `slows` is the same of a furnace that only slows down as it gets hot.
    """

    log_odds: float
    age: int
    fit: float
    slows: float


def weigh(temps_c: Sequence[float], error_c: float, before_c_per_s: float) -> Weighed:
    """Weigh half minutes (°C) that scatter by `error_c` and climbed by `before_c_per_s` before they slowed.

    `temps_c` are `WINDOW` of them, or fewer while the heat is young, `LEAST_WINDOW` at least.
    """
    first_c = temps_c[0]
    course = _whitened([temp_c - first_c for temp_c in temps_c])
    size_c2 = dot(course, course)
    scatter_c = math.hypot(error_c, _MODEL_ERROR * (max(temps_c) - min(temps_c)))
    precision = 1.0 / (scatter_c * scatter_c)
    likely: tuple[list[float], ...] = ([], [], [])
    best, age = -math.inf, _AGES[0]
    families = _templates()
    starts = _starts(len(temps_c))
    for start in starts:
        rest, left_c2 = beside(course, start.basis, size_c2)
        tail = [before_c_per_s * value for value in rest[len(temps_c) - start.age :]]
        weighing = _Weighing(left_c2, precision, before_c_per_s * before_c_per_s)
        for logs, family, powers, expected in zip(likely, families, start.powers, _EXPECTED, strict=True):
            for template, power in zip(family, powers, strict=True):
                log = weighing.log_likelihood(dot(tail, template), power, expected)
                logs.append(log)
                if log > best:
                    best, age = log, start.age
    once, steps, dying = map(_mean, likely)
    hand = max(once, steps) + math.log1p(math.exp(-abs(once - steps)))
    return Weighed(dying - hand, age, best, _slows(course, precision, before_c_per_s))


class _Weighing(Struct, frozen=True, gc=False):
    """What is left beside the course's own shapes (°C², whitened), 1 / noise (1/°C²), and the slope before, squared."""

    left_c2: float
    precision: float
    scale: float

    def log_likelihood(self, along: float, power: float, expected: float) -> float:
        """Give it of a template that lies so far `along` what is left, has such a power, and is `expected` so large."""
        size = power * self.scale
        known = size * self.precision + 1.0 / (_SPREAD * _SPREAD)
        pulled = (along + expected * size) * self.precision
        left = (self.left_c2 + 2.0 * expected * along + expected * expected * size) * self.precision
        return -0.5 * (left - pulled * pulled / known + math.log(known))


def _slows(course: Sequence[float], precision: float, before_c_per_s: float) -> float:
    """Give the log likelihood of a climb that only slows as the furnace gets hot: no beginning, a time constant."""
    basis, templates, powers = _slowing(len(course))
    rest, left_c2 = beside(course, basis, dot(course, course))
    weighing = _Weighing(left_c2, precision, before_c_per_s * before_c_per_s)
    return _mean(
        [
            weighing.log_likelihood(before_c_per_s * dot(rest, template), power, _EXPECTED[0])
            for template, power in zip(templates, powers, strict=True)
        ]
    )


class _Start(Struct, frozen=True):
    """A beginning so many half minutes ago: the course's own shapes, orthonormal, and each template's power."""

    age: int
    basis: tuple[list[float], ...]
    powers: tuple[tuple[float, ...], ...]


_Templates = tuple[list[float], ...]


@cache
def _templates() -> tuple[_Templates, ...]:
    """Give what one step, three steps and dying away take from a climb of 1 °C/s, whitened."""
    once: list[list[float]] = []
    steps: list[list[float]] = []
    dying: list[list[float]] = []
    for lag_s in _LAGS_S:
        for growing in _GROWING_LOSS:
            once.append(_course(growing, partial(_after_step, lag_s)))
            steps.extend(_course(growing, partial(_after_steps, lag_s, apart_s)) for apart_s in _STEPS_S)
            dying.extend(_course(growing, partial(_after_dying, lag_s, dies_s)) for dies_s in _DIES_S)
            dying.extend(_course(growing, partial(_after_even_fall, lag_s, lasts_s)) for lasts_s in _EVENLY_S)
    return tuple(once), tuple(steps), tuple(dying)


def _course(growing: float, missing: Callable[[float], float]) -> list[float]:
    """Give what is missing at the half minutes since the beginning, whitened."""
    times_s = [(number + 0.5) * LENGTH_S for number in range(_AGES[-1])]
    course = [missing(time_s) + growing * 0.5 * time_s * time_s / _GROWS_IN_S for time_s in times_s]
    # Before the beginning nothing is missing.
    return _whitened([0.0, *course])[1:]


def _after_step(lag_s: float, time_s: float) -> float:
    """What is missing so long after the input stopped, °C."""
    return 0.0 if time_s <= 0.0 else time_s + lag_s * math.expm1(-time_s / lag_s)


def _after_steps(lag_s: float, apart_s: float, time_s: float) -> float:
    return sum(_after_step(lag_s, time_s - number * apart_s) for number in range(3)) / 3.0


def _after_dying(lag_s: float, dies_s: float, time_s: float) -> float:
    """An exponential seen through a lag: both at once, so the two times may not be equal."""
    faded = dies_s * dies_s * math.expm1(-time_s / dies_s) - lag_s * lag_s * math.expm1(-time_s / lag_s)
    return time_s + faded / (dies_s - lag_s)


def _after_even_fall(lag_s: float, lasts_s: float, time_s: float) -> float:
    return (_summed(lag_s, time_s) - _summed(lag_s, time_s - lasts_s)) / lasts_s


def _summed(lag_s: float, time_s: float) -> float:
    """The integral of `_after_step`."""
    if time_s <= 0.0:
        return 0.0
    return 0.5 * time_s * time_s - lag_s * time_s - lag_s * lag_s * math.expm1(-time_s / lag_s)


@cache
def _slowing(window: int) -> tuple[tuple[list[float], ...], _Templates, tuple[float, ...]]:
    """Give a parabola's shapes, orthonormal, what each time constant takes, and its power beside them."""
    numbers = [float(number) for number in range(window)]
    basis = orthonormal(map(_whitened, ([1.0] * window, numbers, [number * number for number in numbers])))
    templates = tuple(
        _whitened([_after_step(slows_s, (number + 0.5) * LENGTH_S) for number in numbers]) for slows_s in _SLOWS_S
    )
    powers = tuple(dot(template, template) - sum(dot(template, line) ** 2 for line in basis) for template in templates)
    return basis, templates, powers


@cache
def _starts(window: int) -> tuple[_Start, ...]:
    """Give the beginnings that a window of so many half minutes can have."""
    return tuple(_start(window, age) for age in _AGES if age <= window - _BEFORE)


def _start(window: int, age: int) -> _Start:
    begin = window - age
    shapes = (
        [1.0] * window,
        [float(number) for number in range(window)],
        [min(number + 0.5 - begin, 0.0) ** 2 for number in range(window)],
    )
    basis = orthonormal(map(_whitened, shapes))
    tails = [line[begin:] for line in basis]
    powers = tuple(
        tuple(
            dot(template[:age], template[:age]) - sum(dot(template[:age], tail) ** 2 for tail in tails)
            for template in family
        )
        for family in _templates()
    )
    return _Start(age, basis, powers)


def _whitened(values: Sequence[float]) -> list[float]:
    """Take first-order noise's memory out of a course."""
    scale = 1.0 / math.sqrt(1.0 - _CORRELATION * _CORRELATION)
    return [values[0], *((now - _CORRELATION * last) * scale for last, now in pairwise(values))]


def _mean(logs: Sequence[float]) -> float:
    """Give the logarithm of the mean of what these are the logarithms of."""
    most = max(logs)
    return most + math.log(sum(math.exp(value - most) for value in logs) / len(logs))
