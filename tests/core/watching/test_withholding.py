"""A ramp alarm held back: how long, until what, and what rings at once."""

import math

import pytest

from courses import CALM
from rampwarden.core.heat import HeatTracker, parse_schedule
from rampwarden.core.limits import RAMP_FORECAST, RAMP_HIGH, SegmentLimits
from rampwarden.core.model import Event
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.withholding import LONGEST_S, Withholding, had_after_carrying_c

SCHEDULE = parse_schedule(
    {"title": "test", "segment": [{"name": "up", "kind": "ramp", "to": "700 C", "max_rate": "40 C / 2 min"}]}, "test"
)
LIMIT_C_PER_S = 40.0 / 120.0


class Bench:
    """Readings once a second, judged by true limits."""

    def __init__(self) -> None:
        self.events = EventList(SCHEDULE, HeatTracker(SCHEDULE, SoakClocks(15.0)))
        self.noise_anew_s: list[float] = []
        self.withholding = Withholding(self.events, lambda: self.noise_anew_s.append(self.time_s))
        self.limits = SegmentLimits(SCHEDULE, 0, 0.0, None)
        self.time_s, self.temp_c = 0.0, 100.0
        self.raised: set[str] = set()
        self.said: list[Event] = []
        self.rang_s: list[float] = []
        self.cautioned_s: list[float] = []

    def climb(self, c_per_s: float, seconds: int, *, vouched: bool) -> "Bench":
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            found = self.limits.feed(self.time_s, self.temp_c, CALM, approaching=False, raised=self.raised)
            self.events.time_s = self.time_s
            self.withholding.feed(self.time_s, self.temp_c, self.limits, found, self.raised, vouched=vouched)
            self.said += self.events.taken()
            if RAMP_HIGH.name in found:
                self.rang_s.append(self.time_s)
            if RAMP_FORECAST.name in found:
                self.cautioned_s.append(self.time_s)
        return self

    @property
    def texts(self) -> list[str]:
        return [event.text for event in self.said]

    @property
    def of_ramp_high(self) -> list[Event]:
        return [event for event in self.said if event.text.startswith(RAMP_HIGH.name)]


def test_a_probe_on_its_way_back_rings_nothing_and_is_judged_anew() -> None:
    """110 °C in 55 s, then well within the limit: said when it begins and when it is dropped."""
    bench = Bench().climb(2.0, 55, vouched=True).climb(0.2, 60, vouched=True).climb(0.2, 600, vouched=False)
    assert bench.rang_s == []
    began, ended = bench.of_ramp_high
    assert began.text.startswith("ramp-high is held back, for 1 min 30 s at most: ")
    assert ended.text.endswith(
        "and is dropped: the reading keeps to its limit by itself now, and is judged anew from here"
    )


def test_it_ends_after_ninety_seconds_whoever_vouches() -> None:
    """A climb that goes on too fast rings then, though the fit would hold it back for ever."""
    bench = Bench().climb(1.0, 400, vouched=True)
    began, ended = bench.of_ramp_high
    assert bench.rang_s[0] == began.time_s + LONGEST_S
    assert ended.text == "ramp-high was held back for 1 min 30 s and rings now"


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
    assert bench.of_ramp_high == []


def test_a_vouching_is_used_once() -> None:
    """After ninety seconds it takes another one, that began since."""
    bench = Bench().climb(1.0, 200, vouched=True)
    assert sum("is held back" in event.text for event in bench.of_ramp_high) == 1
    bench.climb(0.0, 200, vouched=False).climb(1.0, 60, vouched=True)
    assert sum("is held back" in event.text for event in bench.of_ramp_high) == 2


@pytest.mark.parametrize(("share", "rings"), [(0.9, False), (1.3, True)])
def test_what_was_held_back_is_dropped_only_if_the_reading_itself_keeps_to_its_limit(share: float, rings: bool) -> None:
    bench = Bench().climb(2.0, 40, vouched=True).climb(share * LIMIT_C_PER_S, 120, vouched=True)
    assert bool(bench.rang_s) is rings


def test_a_slope_that_the_readings_hide_vouches_for_nothing() -> None:
    """Within the limit on the average, and nobody can tell by half a minute of it: it rings."""
    bench = Bench().climb(3.0, 60, vouched=True)
    for number in range(40):
        bench.climb(4.0 if number % 2 else -3.8, 6, vouched=True)
    assert bench.rang_s


def test_a_caution_is_held_back_with_it() -> None:
    bench = Bench().climb(2.0, 60, vouched=True)
    assert bench.withholding.withheld is not None
    assert bench.withholding.withheld.alarms == (RAMP_HIGH.name,)
    assert bench.cautioned_s == []
    assert [text.partition(" is held")[0] for text in bench.texts] == [RAMP_FORECAST.name, RAMP_HIGH.name]


def test_a_blind_time_ends_it() -> None:
    bench = Bench().climb(2.0, 60, vouched=True)
    bench.withholding.restart()
    assert bench.withholding.withheld is None


def test_the_climb_that_was_the_probes_is_not_the_segments_worst() -> None:
    """Its record says that the limit was kept."""
    bench = Bench().climb(2.0, 55, vouched=True).climb(0.2, 60, vouched=True).climb(0.2, 200, vouched=False)
    ((rate, worst_c),) = bench.limits.worst_climbs_c
    assert worst_c <= rate.climb_c


def test_a_probe_that_comes_back_to_a_lifted_pot_needs_nobody_to_vouch_for_it() -> None:
    """What the pot had is known; from there on its climb is judged."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(180.0, 0.0, bench.time_s)
    bench.climb(2.0, 75, vouched=False)
    assert bench.rang_s == []
    assert bench.of_ramp_high[-1].text.endswith(
        "and is dropped: the reading has come back to what the pot had, and is judged anew from here"
    )
    bench.climb(0.9 * LIMIT_C_PER_S, 300, vouched=False)
    assert bench.rang_s == []
    bench.climb(1.5 * LIMIT_C_PER_S, 150, vouched=False)
    assert bench.rang_s


def test_a_pot_that_climbs_too_fast_from_there_on_rings_though_its_probe_was_away() -> None:
    """From 180 °C on at twice the limit: told when that is broken, as it would be of any other pot."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(180.0, 0.0, bench.time_s)
    bench.climb(2.0, 75, vouched=False).climb(2.0 * LIMIT_C_PER_S, 120, vouched=False)
    assert 75.0 + 55.0 <= bench.rang_s[0] <= 75.0 + 75.0


def test_a_probe_that_never_comes_back_is_not_waited_for() -> None:
    """The reading stands below what the pot had, and climbs too fast: ninety seconds, no more."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(403.0, 0.0, bench.time_s)
    bench.climb(1.0, 300, vouched=False)
    (began, _) = bench.of_ramp_high
    assert bench.rang_s[0] == began.time_s + LONGEST_S


def test_what_the_pot_had_is_expected_for_its_time_and_until_it_is_taken_back() -> None:
    for forget in (True, False):
        bench = Bench()
        bench.withholding.expect(400.0, 60.0 if forget else 600.0)
        bench.climb(0.2, 70, vouched=False)
        if not forget:
            bench.withholding.expect_no_more()
        bench.climb(1.0, 60, vouched=False)
        assert bench.rang_s
        assert bench.said == []


def test_a_lid_that_costs_no_alarm_forgives_no_climb() -> None:
    """Else whoever lifts it every minute is never judged."""
    bench = Bench().climb(0.3, 110, vouched=False)
    bench.withholding.expect(bench.temp_c - 1.0, 600.0)
    bench.climb(0.5, 40, vouched=False)
    assert bench.rang_s


def test_a_pot_cools_while_it_is_carried() -> None:
    """Half of what it may lose is allowed for."""
    assert had_after_carrying_c(180.0, 0.0) == 177.0
    assert 165.0 < had_after_carrying_c(180.0, 300.0) < 170.0
    assert had_after_carrying_c(15.0, 300.0) == 12.0


def test_once_it_has_regained_what_the_pot_had_nobody_vouches_for_it_any_longer() -> None:
    """Else a pot that climbs too fast from there on would be held back though its probe is in its place."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(180.0, 0.0, bench.time_s)
    bench.climb(2.0, 75, vouched=True).climb(2.0 * LIMIT_C_PER_S, 120, vouched=True)
    assert 75.0 + 55.0 <= bench.rang_s[0] <= 75.0 + 75.0


def set_down(share: float, lag_s: float, seconds: int) -> Bench:
    """Give what rang of a pot that climbs at this share of its limit from its arrival on, seen through such a lag."""

    def probe_c(time_s: float) -> float:
        return 177.0 + share * LIMIT_C_PER_S * time_s - 140.0 * math.exp(-time_s / lag_s)

    bench = Bench()
    bench.temp_c = probe_c(0.0)
    bench.withholding.expect_arrived(180.0, 0.0, 0.0)
    for second in range(1, seconds):
        bench.climb(probe_c(second) - bench.temp_c, 1, vouched=False)
    return bench


def test_what_the_pot_climbed_while_its_probe_lagged_behind_is_judged_from_where_it_was_set_down() -> None:
    """A pot at 0.9 of its limit from its arrival on, and a probe that takes a minute to show it."""
    assert set_down(0.9, 22.0, 500).rang_s == []


def test_a_pot_too_fast_since_it_was_set_down_is_not_cleared_by_what_its_probe_lagged() -> None:
    """At 1.4 times its limit it is over when the probe shows it: the climb stays judged as it was read."""
    assert set_down(1.4, 15.0, 300).rang_s[0] < 120.0 / 1.4 + 40.0


def test_a_probe_that_is_all_but_back_after_ninety_seconds_rings_nothing() -> None:
    """What it climbed was its own, as it still stands below what the pot had; what it lacks no limit forbids."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(180.0, 0.0, 0.0)
    bench.climb(1.2, 110, vouched=False).climb(0.4, 25, vouched=False).climb(0.2, 300, vouched=False)
    assert bench.rang_s == []
    texts = [event.text for event in bench.of_ramp_high]
    assert any(
        text.endswith(
            "was held back for 1 min 30 s and is dropped: the reading stands below what the pot had, and is "
            "judged anew from here"
        )
        for text in texts
    ), texts


def test_the_way_back_is_not_learnt_as_what_readings_scatter_by() -> None:
    """Learnt anew where the reading has regained what the pot had, and where it shows the pot; not of a probe on it."""
    bench = Bench()
    bench.temp_c = 30.0
    bench.withholding.expect_arrived(180.0, 0.0, 0.0)
    bench.climb(2.0, 80, vouched=False).climb(0.2, 300, vouched=False)
    assert bench.noise_anew_s == [74.0, 74.0 + LONGEST_S]
    beside = Bench()
    beside.temp_c = 170.0
    beside.withholding.expect_arrived(180.0, 0.0, 0.0)
    beside.climb(0.2, 400, vouched=False)
    assert beside.noise_anew_s == []
