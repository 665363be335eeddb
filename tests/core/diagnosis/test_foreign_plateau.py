"""A level course at no metal's point: melted metal under the wrong type of probe, or a person who held the heat."""

import math
from functools import partial

import pytest

from courses import CALM, FLAME, Course, corners, trends
from rampwarden.core.diagnosis.foreign_plateau import ForeignPlateauWatch
from rampwarden.core.instrument import as_other_types
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Noise

TYPE_K = thermocouple("K")
AS_N_C = TYPE_K.temp_c(thermocouple("N").emf_uv(660.323))
"""What a board set for type K shows of aluminium that melts round a probe of type N: 558 °C."""


def melting(level_c: float, c_per_min: float = 10.0, stands_s: float = 600.0) -> Course:
    """Give a climb that stands at a level and goes on as it came."""
    begins_s = 60.0 * (level_c - 300.0) / c_per_min
    return corners(
        (0.0, 300.0),
        (begins_s, level_c),
        (begins_s + stands_s, level_c),
        (begins_s + stands_s + 1200.0, level_c + 20.0 * c_per_min),
    )


def held(level_c: float, follows_s: float, c_per_min: float = 10.0, stands_s: float = 600.0) -> Course:
    """Give a climb that is stopped by hand at a level and let go on: a furnace follows its valve in its own time."""
    turned_s = 60.0 * (level_c - 300.0) / c_per_min
    slope = c_per_min / 60.0

    def risen_c(since_s: float) -> float:
        """What a climb gains that begins at zero."""
        return slope * (since_s + follows_s * math.expm1(-since_s / follows_s)) if since_s > 0.0 else 0.0

    def course(time_s: float) -> float:
        off_c = slope * time_s if time_s < turned_s else slope * turned_s
        # A heat that a hand stops sharply, by closing the damper too: the hardest to tell.
        return 300.0 + off_c + risen_c(time_s - turned_s - stands_s)

    return course


def seen(course: Course, noise: Noise = FLAME, seconds: float = 4200.0, seed: int = 1) -> ForeignPlateauWatch:
    watch = ForeignPlateauWatch(partial(as_other_types, "K"))
    for trend in trends(course, seconds, noise, seed):
        watch.feed(trend, noise, falling=False)
    return watch


@pytest.mark.parametrize("noise", [CALM, FLAME])
def test_metal_under_another_type_of_probe_casts_doubt_on_the_type(noise: Noise) -> None:
    finding = seen(melting(AS_N_C), noise).finding
    assert finding is not None
    assert finding.what.startswith("a plateau at 55")
    assert finding.what.endswith(
        " °C, where no pure metal has one; as type J it would be zinc's, as type N it would be aluminium's: "
        "possibly the probe is of type J or N"
    )


@pytest.mark.parametrize("follows_s", [85.0, 120.0, 160.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_heat_that_a_person_held_there_does_not(follows_s: float, seed: int) -> None:
    """560 °C for ten minutes, as somebody does who waits."""
    assert seen(held(AS_N_C, follows_s), seed=seed).finding is None


def test_nothing_is_said_before_the_level_has_ended() -> None:
    """Until then it may be a person's doing."""
    begins_s = 60.0 * (AS_N_C - 300.0) / 10.0
    assert seen(melting(AS_N_C), seconds=begins_s + 590.0).finding is None


@pytest.mark.parametrize("level_c", [655.0, 760.0])
def test_at_a_metals_own_point_and_at_no_types_the_type_is_right(level_c: float) -> None:
    """Aluminium, and an alloy."""
    assert seen(melting(level_c)).finding is None


def test_a_gap_and_a_segment_of_another_kind_begin_anew() -> None:
    """No level is drawn across what nobody saw."""
    watch = ForeignPlateauWatch(partial(as_other_types, "K"))
    begins_s = 60.0 * (AS_N_C - 300.0) / 10.0
    for trend in trends(melting(AS_N_C), 4200.0, FLAME):
        if begins_s + 60.0 < trend.time_s < begins_s + 300.0:
            continue
        watch.feed(trend, FLAME, falling=False)
    assert watch.finding is None
