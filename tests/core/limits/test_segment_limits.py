"""Which alarm conditions are present of the heat, by one segment's limits.

The estimates behind them are tested where they are made; here the heats are so clear that no estimate could be wrong.
"""

from collections.abc import Callable

import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.segment_limits import SegmentLimits
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

CALM = Noise(white_c=0.02, flicker_c=0.02, flicker_s=5.0, interval_s=1.0)
QUARTER_HOUR = Rate(25.0, 900.0)
MINUTE = Rate(10.0, 60.0)


def ramp(to_c: float = 900.0, *limits: Rate, min_rate: Rate | None = None, ceiling_c: float | None = None) -> Segment:
    return Segment("up", SegmentKind.RAMP, to_c=to_c, max_rates=limits, min_rate=min_rate, ceiling_c=ceiling_c)


def soak(at_c: float, band_c: tuple[float, float] = (-10.0, 20.0)) -> Segment:
    return Segment("hold", SegmentKind.SOAK, at_c=at_c, band_c=band_c, hold_s=600.0)


def cool(*limits: Rate) -> Segment:
    return Segment("down", SegmentKind.COOL, to_c=60.0, max_rates=limits)


class Furnace:
    """Feeds one segment's conditions a second at a time and keeps what was present when."""

    def __init__(self, *segments: Segment, from_c: float = 100.0) -> None:
        self.schedule = Schedule("test", segments)
        self.time_s = 0.0
        self.temp_c = from_c
        self.conditions = SegmentLimits(self.schedule, 0, 0.0, None)
        self.raised: set[str] = set()

    def enter(self, index: int) -> None:
        self.conditions = SegmentLimits(self.schedule, index, self.time_s, self.conditions)

    def hold(self, temp_c: float, *, approaching: bool = False) -> dict[str, Finding]:
        """Feed one reading of `temp_c`; gives the conditions present."""
        self.time_s += 1.0
        self.temp_c = temp_c
        return self.conditions.feed(self.time_s, temp_c, CALM, approaching=approaching, raised=self.raised)

    def drift(self, c_per_s: float, for_s: int, *, approaching: bool = False) -> list[dict[str, Finding]]:
        """Feed `for_s` readings on a straight line; gives the conditions present at each."""
        return [self.hold(self.temp_c + c_per_s, approaching=approaching) for _ in range(for_s)]


def names(findings: list[dict[str, Finding]]) -> set[str]:
    return {name for found in findings for name in found}


class TestAClimb:
    def test_well_within_its_limit_is_nothing(self) -> None:
        """Half the limit for two windows."""
        assert names(Furnace(ramp(900.0, QUARTER_HOUR)).drift(12.5 / 900, 1800)) == set()

    def test_at_four_times_its_limit_breaks_it_and_first_there_is_a_caution(self) -> None:
        """The caution goes when the limit is broken: it would only take the eye off it."""
        seen = Furnace(ramp(900.0, QUARTER_HOUR)).drift(100.0 / 900, 400)
        first_caution = next(n for n, found in enumerate(seen) if "ramp-forecast" in found)
        first_break = next(n for n, found in enumerate(seen) if "ramp-high" in found)
        assert first_caution < first_break
        assert all(set(found) == {"ramp-high"} for found in seen[first_break:])

    def test_that_breaks_its_limit_says_how_much_in_what_window(self) -> None:
        """Value and limit in the window's unit, the fact in the degrees that were climbed."""
        found = Furnace(ramp(900.0, QUARTER_HOUR)).drift(100.0 / 900, 600)[-1]["ramp-high"]
        assert found.limit == 100.0
        assert found.unit == "°C/h"
        assert found.value is not None
        assert 200.0 < found.value < 267.0  # about 66 °C climbed by then, less the averaging's lag
        assert found.what == f"{found.value * 900 / 3600:.0f} °C within 15 min, limit 25"

    def test_that_will_break_its_limit_says_how_steep_it_is_and_how_sure_that_is(self) -> None:
        """No time is told: it never counted down, and a hand at the valve decides it."""
        seen = Furnace(ramp(900.0, MINUTE)).drift(0.5, 60)
        found = next(found["ramp-forecast"] for found in seen if "ramp-forecast" in found)
        assert (found.limit, found.unit) == (10.0, "°C/min")
        assert found.value is not None
        assert found.value > 10.0
        assert found.what.startswith(f"{found.value:.3g} ± ")
        assert found.what.endswith(" °C/min, may be over the limit of 10")

    def test_under_several_limits_breaks_the_one_it_breaks(self) -> None:
        """9 °C a minute is a burst allowed; for a quarter of an hour it is not."""
        seen = Furnace(ramp(900.0, QUARTER_HOUR, MINUTE)).drift(9.0 / 60, 900)
        broken = [found["ramp-high"].what for found in seen if "ramp-high" in found]
        assert broken
        assert all(what.endswith("within 15 min, limit 25") for what in broken)

    def test_downwards_breaks_nothing(self) -> None:
        """A ramp that sags is slow, not fast."""
        assert names(Furnace(ramp(900.0, QUARTER_HOUR, MINUTE), from_c=800.0).drift(-1.0, 600)) == {"not-heating"}

    def test_without_limits_breaks_nothing(self) -> None:
        """Nothing was planned, nothing is judged."""
        assert names(Furnace(ramp(900.0)).drift(5.0, 100)) == set()


class TestACooling:
    def test_that_falls_too_fast_is_its_own_alarm(self) -> None:
        """A fall is worded as one, and no forecast is made of it."""
        seen = Furnace(cool(MINUTE), from_c=900.0).drift(-0.5, 120)
        assert names(seen) == {"cooling-fast"}
        assert seen[-1]["cooling-fast"].what.endswith("°C within 1 min, limit 10")

    def test_may_climb_as_it_likes(self) -> None:
        """A lid put back on warms the probe."""
        assert names(Furnace(cool(MINUTE), from_c=300.0).drift(0.5, 120)) == set()

    def test_within_its_limit_is_nothing(self) -> None:
        """Half of it."""
        assert names(Furnace(cool(MINUTE), from_c=900.0).drift(-5.0 / 60, 600)) == set()


class TestALeastRate:
    SEGMENT = ramp(900.0, min_rate=Rate(10.0, 60.0))

    def test_is_not_judged_until_its_window_has_been_seen(self) -> None:
        """A segment that has just begun has no rate yet, however cold the furnace."""
        seen = Furnace(self.SEGMENT).drift(0.0, 120)
        first = next(n for n, found in enumerate(seen) if "ramp-low" in found)
        assert 54 <= first <= 60

    def test_that_is_not_kept_says_so_in_its_own_unit(self) -> None:
        """Standing still is 0 °C/min, not 3e-15."""
        found = Furnace(self.SEGMENT).drift(0.0, 120)[-1]["ramp-low"]
        assert (found.limit, found.unit) == (10.0, "°C/min")
        assert found.value == 0.0
        assert found.what == "0 °C/min over 1 min, at least 10 wanted"

    def test_that_is_kept_is_nothing(self) -> None:
        """A tenth above it."""
        assert names(Furnace(self.SEGMENT).drift(11.0 / 60, 600)) == set()

    def test_hardly_missed_is_not_beyond_doubt(self) -> None:
        """Raised only when slow beyond the noise; once raised, kept until the rate itself is met again."""
        furnace = Furnace(self.SEGMENT)
        assert names(furnace.drift(9.99 / 60, 200)) == set()
        furnace.raised.add("ramp-low")
        assert names(furnace.drift(9.99 / 60, 5)) == {"ramp-low"}
        assert furnace.drift(10.5 / 60, 100)[-1] == {}


class TestACeiling:
    SEGMENT = ramp(900.0, ceiling_c=900.0)

    def test_is_passed_above_it_and_not_at_it(self) -> None:
        """Strictly above."""
        furnace = Furnace(self.SEGMENT)
        assert furnace.hold(900.0) == {}
        assert furnace.hold(902.5) == {"temperature-high": Finding(902.5, 900.0, "°C", "902 °C, ceiling 900")}

    def test_once_raised_waits_for_the_deadband(self) -> None:
        """5 °C below; the deadband never helps to raise it."""
        furnace = Furnace(self.SEGMENT)
        assert furnace.hold(897.0) == {}
        furnace.raised.add("temperature-high")
        assert set(furnace.hold(895.1)) == {"temperature-high"}
        assert furnace.hold(895.0) == {}

    def test_is_foretold_from_a_steady_climb_and_gives_way_to_the_alarm_itself(self) -> None:
        """With how hot, how steep and how long still; above it that is no news any more."""
        furnace = Furnace(self.SEGMENT, from_c=800.0)
        seen = furnace.drift(0.5, 240)
        first = next(n for n, found in enumerate(seen) if "ceiling-forecast" in found)
        finding = seen[first]["ceiling-forecast"]
        assert 135 <= first <= 150
        assert (finding.limit, finding.unit) == (900.0, "°C")
        assert " °C and +30.0 °C/min: ceiling 900 passed in about " in finding.what
        assert all(set(found) == {"temperature-high"} for found in seen[205:])

    def test_is_not_foretold_while_the_heat_falls_or_holds_below_it(self) -> None:
        """Two degrees below is below."""
        furnace = Furnace(self.SEGMENT, from_c=898.0)
        assert names(furnace.drift(0.0, 300)) == set()
        assert names(furnace.drift(-0.5, 300)) == set()


class TestASoak:
    def soaked(self, band_c: tuple[float, float] = (-10.0, 20.0)) -> Furnace:
        """Give a soak at 400 °C that has been well inside its band."""
        furnace = Furnace(soak(400.0, band_c))
        assert furnace.hold(400.0) == {}
        return furnace

    def test_has_left_its_band_above_or_below(self) -> None:
        """The edges belong to it; the limit named is the edge passed."""
        furnace = self.soaked()
        for temp_c, limit in [(390.0, None), (420.0, None), (389.4, 390.0), (420.6, 420.0)]:
            found = furnace.hold(temp_c)
            if limit is None:
                assert found == {}
            else:
                what = f"{temp_c:.0f} °C, band 390 to 420"
                assert found == {"soak-deviation": Finding(temp_c, limit, "°C", what)}

    def test_not_yet_reached_has_not_been_left(self) -> None:
        """On the way up it is below its band by nature; above it it is off whatever the phase."""
        furnace = Furnace(soak(400.0))
        assert furnace.hold(200.0, approaching=True) == {}
        assert set(furnace.hold(430.0, approaching=True)) == {"soak-deviation"}

    def test_hardly_reached_is_not_left_by_a_flicker_but_by_a_sag(self) -> None:
        """A slow ramp comes in with the flame's flicker; gas that fails just then must still be an alarm."""
        furnace = Furnace(soak(400.0))
        assert names([furnace.hold(temp_c) for temp_c in (390.5, 389.0, 391.0, 387.0)]) == set()
        assert furnace.hold(386.9)["soak-deviation"].limit == 390.0

    @pytest.mark.parametrize(
        ("temp_c", "present"), [(380.0, True), (392.9, True), (393.0, False), (417.0, False), (417.1, True)]
    )
    def test_once_off_is_back_only_inside_its_deadband(self, temp_c: float, present: bool) -> None:
        """3 °C inside the edge."""
        furnace = self.soaked()
        furnace.raised.add("soak-deviation")
        assert (furnace.hold(temp_c) != {}) is present

    def test_with_a_narrow_band_can_still_come_back(self) -> None:
        """A deadband of more than a quarter of it would leave little or nothing to come back to."""
        furnace = self.soaked((-2.0, 2.0))
        furnace.raised.add("soak-deviation")
        assert set(furnace.hold(398.9)) == {"soak-deviation"}
        assert furnace.hold(399.0) == {}

    def test_alone_has_a_band(self) -> None:
        """A ramp that passes through is off nothing."""
        assert Furnace(ramp()).hold(0.0) == {}


class TestFromSegmentToSegment:
    def test_the_same_limits_remember_what_was_climbed_under_them(self) -> None:
        """8 °C in the ramp and 8 °C in its soak are 16 °C within the minute."""
        furnace = Furnace(ramp(400.0, MINUTE), soak(500.0), from_c=100.0)
        assert names(furnace.drift(0.0, 60) + furnace.drift(0.8, 10)) <= {"ramp-forecast"}
        furnace.enter(1)
        assert "ramp-high" in names(furnace.drift(0.8, 10, approaching=True))

    def test_other_limits_start_from_where_they_begin(self) -> None:
        """What was climbed under the last segment's limit was allowed by it."""
        furnace = Furnace(ramp(400.0, Rate(600.0, 60.0)), ramp(900.0, Rate(60.0, 300.0)), from_c=100.0)
        furnace.drift(5.0, 60)
        furnace.enter(1)
        assert names(furnace.drift(0.05, 300)) == set()
        assert furnace.drift(1.0, 100)[-1]["ramp-high"].what.endswith("within 5 min, limit 60")

    def test_a_fall_and_a_climb_of_one_rate_are_two_limits(self) -> None:
        """A cool after a ramp does not inherit the ramp's climb."""
        furnace = Furnace(ramp(400.0, MINUTE), cool(MINUTE), from_c=300.0)
        furnace.drift(0.12, 300)
        furnace.enter(1)
        assert names(furnace.drift(-0.08, 300)) == set()
        assert names(furnace.drift(-0.8, 60)) == {"cooling-fast"}


@pytest.mark.parametrize(
    ("segment", "window_s"),
    [
        (lambda: ramp(900.0), 120.0),
        (lambda: ramp(900.0, Rate(25.0, 900.0)), 300.0),
        (lambda: ramp(900.0, Rate(20.0, 600.0)), 200.0),
        (lambda: ramp(900.0, Rate(25.0, 900.0), Rate(6.0, 180.0)), 60.0),
        (lambda: ramp(900.0, Rate(1.0, 10.0)), 30.0),
        (lambda: ramp(900.0, Rate(100.0, 36000.0)), 300.0),
        (lambda: cool(Rate(20.0, 600.0)), 200.0),
    ],
)
def test_the_displayed_ramp_looks_back_as_suits_the_fastest_limit(
    segment: Callable[[], Segment], window_s: float
) -> None:
    """A third of its window, but never so short that it jitters or so long that it lags."""
    assert Furnace(segment()).conditions.display_window_s == window_s


def test_every_deadband_is_one_that_is_used() -> None:
    """A deadband in the catalogue that no condition reads would be a promise broken."""
    assert {name for name, entry in CATALOGUE.items() if entry.deadband} == {
        "temperature-high",
        "soak-deviation",
        "junction-range",
        "wall-cooling",
    }


class TestAGuess:
    """Judged with how far it may be off: a finding must hold whatever of that is true."""

    @staticmethod
    def off(level_c: float) -> LevelDoubt:
        return LevelDoubt(level_c, lambda _: level_c)

    def climb(self, doubt: LevelDoubt | None, climb_c: float) -> set[str]:
        """Give what is found of so much climb within half an hour under 25 °C / 15 min."""
        furnace = Furnace(ramp(900.0, QUARTER_HOUR))
        seen: set[str] = set()
        for second in range(1, 1800):
            temp_c = 100.0 + climb_c * second / 900.0
            seen |= set(furnace.conditions.feed(second, temp_c, CALM, approaching=False, raised=set(), doubt=doubt))
        return seen

    def test_breaks_its_limit_by_more_than_its_doubt(self) -> None:
        """Thirty-five degrees where 25 are allowed: told of a reading, not of a guess that may be 15 off."""
        assert "ramp-high" in self.climb(None, 35.0)
        assert "ramp-high" not in self.climb(self.off(15.0), 35.0)
        assert "ramp-high" in self.climb(self.off(15.0), 45.0)

    def test_is_not_judged_by_a_limit_of_less_climb_than_its_doubt(self) -> None:
        """Whatever it shows: nobody knows what of it was a climb. Nor is anything foretold of a guess."""
        assert "ramp-high" in self.climb(self.off(24.0), 200.0)
        assert self.climb(self.off(26.0), 200.0) == set()
        assert self.climb(self.off(15.0), 39.0) == set()

    def test_leaves_its_band_when_it_is_surely_out_of_it(self) -> None:
        furnace = Furnace(soak(600.0, (-20.0, 20.0)), from_c=600.0)
        furnace.hold(600.0)
        found = [
            furnace.conditions.feed(second, 625.0, CALM, approaching=False, raised=set(), doubt=self.off(off_c))
            for second, off_c in ((10.0, 10.0), (11.0, 4.0))
        ]
        assert [set(each) for each in found] == [set(), {"soak-deviation"}]

    def test_has_its_ceiling_where_a_reading_has(self) -> None:
        """Too hot is the one harm that waiting makes worse."""
        furnace = Furnace(ramp(900.0, ceiling_c=700.0), from_c=690.0)
        found = furnace.conditions.feed(1.0, 701.0, CALM, approaching=False, raised=set(), doubt=self.off(50.0))
        assert set(found) == {"temperature-high"}

    def test_that_gives_way_to_a_reading_has_not_climbed_the_step_between_them(self) -> None:
        """Forty degrees from one second to the next ring where nobody says that they are nobody's."""

        def step(*, bridged: bool) -> set[str]:
            furnace = Furnace(ramp(900.0, QUARTER_HOUR), from_c=300.0)
            furnace.drift(0.01, 600)
            if bridged:
                furnace.conditions.bridge(40.0)
            furnace.temp_c += 40.0
            return names(furnace.drift(0.01, 1200))

        assert step(bridged=False) == {"ramp-high", "ramp-forecast"}
        assert step(bridged=True) == set()

    def test_bridged_in_one_segment_is_bridged_in_the_next(self) -> None:
        """The limits that go on compare with what was read before the step."""
        furnace = Furnace(ramp(500.0, QUARTER_HOUR), ramp(900.0, Rate(50.0, 1800.0)), from_c=300.0)
        furnace.drift(0.01, 1000)
        furnace.conditions.bridge(40.0)
        furnace.temp_c += 40.0
        seen = names(furnace.drift(0.01, 200))
        furnace.enter(1)
        assert seen | names(furnace.drift(0.01, 2000)) == set()
