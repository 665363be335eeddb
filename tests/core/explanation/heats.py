"""Short made-up heats for the explanations: a course, flicker and noise on it, one reading a second."""

from collections.abc import Callable

import numpy as np

from rampwarden.core.explanation import Context, Ended, Explanation, Saying
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.model import Quality
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import SegmentKind

Shape = Callable[[float], float]
CLIMB = Context(SegmentKind.RAMP, target_c=1100.0, limit=Rate(150.0, 180.0))
HOLD = Context(SegmentKind.SOAK, target_c=1000.0, lowest_c=985.0, highest_c=1015.0, limit=Rate(150.0, 180.0))
ALWAYS: Shape = lambda _: 1.0  # noqa: E731


def lagged(course: Shape, seconds: int, lag_s: float) -> list[float]:
    """Give what a probe shows of a course, a value a second."""
    shown, out = course(0.0), []
    for second in range(seconds):
        shown += (course(float(second)) - shown) / lag_s
        out.append(shown)
    return out


def readings(
    course: Shape, seconds: int, *, lag_s: float = 6.0, flicker: Shape = ALWAYS, flicker_c: float = 0.5, seed: int = 1
) -> list[tuple[float, float]]:
    """Give times and temperatures: the lagged course, flicker of 8 s (times its share) and white noise of 0.08 °C."""
    dice = np.random.default_rng(seed)
    keep = float(np.exp(-1.0 / 8.0))
    wanders, out = 0.0, []
    for second, shown_c in enumerate(lagged(course, seconds, lag_s)):
        wanders = keep * wanders + float(np.sqrt(1.0 - keep * keep) * dice.standard_normal())
        rough_c = flicker_c * flicker(float(second)) * wanders
        out.append((float(second), shown_c + rough_c + 0.08 * float(dice.standard_normal())))
    return out


def explained(
    course: list[tuple[float, float]], context: Context, explanation: Explanation | None = None
) -> list[tuple[float, Saying]]:
    """Run readings through the gate and the explanation; gives what was said, and when."""
    explanation = explanation or Explanation()
    explanation.enter(context, course[0][0])
    gate, said = OutlierGate(), []
    for time_s, temp_c in course:
        held = gate.feed(time_s, temp_c) is not Quality.GOOD
        saying = explanation.feed(time_s, temp_c, held=held)
        if saying is not None:
            said.append((time_s, saying))
    return said


def told(said: list[tuple[float, Saying]]) -> list[tuple[float, str]]:
    """Give times and causes of what was told."""
    return [(time_s, saying.told.cause.value) for time_s, saying in said if saying.told is not None]


def ended(said: list[tuple[float, Saying]]) -> list[tuple[float, str, Ended | None]]:
    """Give times, causes and reasons of what was withdrawn."""
    return [(at_s, one.withdrawn.cause.value, one.why) for at_s, one in said if one.withdrawn is not None]
