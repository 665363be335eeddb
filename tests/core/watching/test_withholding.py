"""A ramp alarm held back: how long, until what, and what rings at once."""

import pytest

from courses import CALM, ROUGH
from rampwarden.core.heat import HeatTracker, parse_schedule
from rampwarden.core.limits import RAMP_FORECAST, RAMP_HIGH, SegmentLimits
from rampwarden.core.model import Event, Noise
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.withholding import LONGEST_S, Withholding

SCHEDULE = parse_schedule(
    {"title": "test", "segment": [{"name": "up", "kind": "ramp", "to": "700 C", "max_rate": "40 C / 2 min"}]}, "test"
)
LIMIT_C_PER_S = 40.0 / 120.0


class Bench:
    """Readings once a second, judged by true limits."""

    def __init__(self, noise: Noise = CALM) -> None:
        self.events = EventList(SCHEDULE, HeatTracker(SCHEDULE, SoakClocks(15.0)))
        self.withholding = Withholding(self.events)
        self.limits = SegmentLimits(SCHEDULE, 0, 0.0, None)
        self.noise = noise
        self.time_s, self.temp_c = 0.0, 100.0
        self.raised: set[str] = set()
        self.said: list[Event] = []
        self.rang_s: list[float] = []

    def climb(self, c_per_s: float, seconds: int, *, vouched: bool) -> "Bench":
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            found = self.limits.feed(self.time_s, self.temp_c, self.noise, approaching=False, raised=self.raised)
            self.events.time_s = self.time_s
            self.withholding.feed(
                self.time_s, self.temp_c, self.noise, self.limits, found, self.raised, vouched=vouched
            )
            self.said += self.events.taken()
            if RAMP_HIGH.name in found:
                self.rang_s.append(self.time_s)
        return self

    @property
    def texts(self) -> list[str]:
        return [event.text for event in self.said]


def test_a_probe_on_its_way_back_rings_nothing_and_is_judged_anew() -> None:
    """110 °C in 55 s, then well within the limit: said when it begins and when it is dropped."""
    bench = Bench().climb(2.0, 55, vouched=True).climb(0.2, 60, vouched=True).climb(0.2, 600, vouched=False)
    assert bench.rang_s == []
    assert bench.texts[0].startswith("ramp-high is held back, for 1 min 30 s at most: ")
    assert bench.texts[1].endswith(
        "and is dropped: the reading keeps to its limit by itself now, and is judged anew from here"
    )
    assert len(bench.texts) == 2


def test_it_ends_after_ninety_seconds_whoever_vouches() -> None:
    """A climb that goes on too fast rings then, though the fit would hold it back for ever."""
    bench = Bench().climb(1.0, 400, vouched=True)
    began_s = bench.said[0].time_s
    assert bench.rang_s[0] == began_s + LONGEST_S
    assert bench.texts[1:] == ["ramp-high was held back for 1 min 30 s and rings now"]


def test_it_rings_at_once_when_nobody_vouches_any_longer() -> None:
    bench = Bench().climb(1.0, 60, vouched=True).climb(1.0, 1, vouched=False)
    assert bench.rang_s == [61.0]
    assert bench.withholding.withheld is None


def test_without_somebody_who_vouches_nothing_is_held_back() -> None:
    bench = Bench().climb(1.0, 60, vouched=False)
    assert bench.rang_s
    assert bench.said == []


def test_an_alarm_that_stands_is_never_taken_back() -> None:
    bench = Bench()
    bench.raised.add(RAMP_HIGH.name)
    bench.climb(1.0, 60, vouched=True)
    assert bench.rang_s
    assert bench.withholding.withheld is None


def test_a_vouching_is_used_once() -> None:
    """After ninety seconds it takes another one, that began since."""
    bench = Bench().climb(1.0, 200, vouched=True)
    assert sum("is held back" in text for text in bench.texts) == 1
    bench.climb(0.0, 200, vouched=False).climb(1.0, 60, vouched=True)
    assert sum("is held back" in text for text in bench.texts) == 2


@pytest.mark.parametrize(("share", "rings"), [(0.9, False), (1.3, True)])
def test_what_was_held_back_is_dropped_only_if_the_reading_itself_keeps_to_its_limit(share: float, rings: bool) -> None:
    bench = Bench().climb(2.0, 40, vouched=True).climb(share * LIMIT_C_PER_S, 120, vouched=True)
    assert bool(bench.rang_s) is rings


def test_a_slope_that_noise_hides_vouches_for_nothing() -> None:
    """In the slow limits of an oven half a minute tells nothing: it rings."""
    bench = Bench(Noise(ROUGH.white_c, 12.0, ROUGH.flicker_s, 1.0))
    bench.climb(3.0, 60, vouched=True).climb(0.1, 120, vouched=True)
    assert bench.rang_s


def test_a_caution_is_held_back_with_it() -> None:
    bench = Bench().climb(2.0, 60, vouched=True)
    assert bench.withholding.withheld is not None
    assert bench.withholding.withheld.alarms == (RAMP_HIGH.name, RAMP_FORECAST.name)


def test_a_blind_time_ends_it() -> None:
    bench = Bench().climb(2.0, 60, vouched=True)
    bench.withholding.restart()
    assert bench.withholding.withheld is None


def test_the_climb_that_was_the_probes_is_not_the_segments_worst() -> None:
    """Its record says that the limit was kept."""
    bench = Bench().climb(2.0, 55, vouched=True).climb(0.2, 60, vouched=True).climb(0.2, 200, vouched=False)
    ((rate, worst_c),) = bench.limits.worst_climbs_c
    assert worst_c <= rate.climb_c
